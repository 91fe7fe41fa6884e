//! What the arguments mean on this machine: book, units, clock, width, author.

use std::io::{IsTerminal, Write};
use std::path::PathBuf;
use std::sync::LazyLock;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use chrono::{DateTime, Local};
use clap::Parser;

use super::command::Commands;
use super::failure::{Failure, Kind};
use super::past;
use crate::app::{Caller, Session};
use crate::model::{Clock, Instant, Moment};
use crate::store::Access;
use crate::units::UnitSystem;

/// The version, with the commit that a release was built from where that is known.
static VERSION: LazyLock<String> = LazyLock::new(|| {
    let version = env!("CARGO_PKG_VERSION");
    option_env!("PIPELORE_COMMIT")
        .map_or_else(|| version.to_owned(), |commit| format!("{version} (commit {commit})"))
});

/// Stands above the options that every command has, below its own.
const EVERY: &str = "Every command";

/// The life of every drill-string joint in one book
#[derive(Debug, Parser)]
#[command(version = VERSION.as_str(), about, propagate_version = true, max_term_width = 100)]
pub(super) struct Global {
    /// Book to use [default: ./book.pipelore]
    #[arg(long, global = true, env = "PIPELORE_BOOK", value_name = "FILE", help_heading = EVERY)]
    book: Option<PathBuf>,
    /// Units to show, us or metric, in place of the book's own
    #[arg(long, global = true, value_name = "SYSTEM", value_parser = ["us", "metric"], help_heading = EVERY)]
    units: Option<String>,
    /// Answer in JSON
    #[arg(long, global = true, conflicts_with = "csv", help_heading = EVERY)]
    json: bool,
    /// Answer in JSON, a row a line (answers that are a table)
    #[arg(long, global = true, conflicts_with_all = ["csv", "json"], help_heading = EVERY)]
    json_lines: bool,
    /// Answer in CSV (answers that are a table)
    #[arg(long, global = true, help_heading = EVERY)]
    csv: bool,
    /// Write the answer to a new workbook (answers that are tables)
    #[arg(long, global = true, value_name = "FILE", conflicts_with_all = ["json", "json_lines", "csv"], help_heading = EVERY)]
    xlsx: Option<PathBuf>,
    /// Name to write into entries [default: the user of this machine]
    #[arg(long, global = true, env = "PIPELORE_AUTHOR", value_name = "NAME", help_heading = EVERY)]
    author: Option<String>,
    /// Seconds that a question may take
    #[arg(long, global = true, value_name = "SECONDS", default_value = "60", help_heading = EVERY)]
    time_limit: f64,
    /// Tables whole: every column, and a line for each row, however wide; as in a pipe
    #[arg(long, global = true, help_heading = EVERY)]
    wide: bool,
    /// Say beside an answer what else there is to it: the head of the book after a write
    #[arg(long, global = true, help_heading = EVERY)]
    verbose: bool,
    /// Show a long answer as it is; at a terminal it goes through PAGER, or less
    #[arg(long, global = true, help_heading = EVERY)]
    no_pager: bool,
    /// Ask what was true on a date, by what the book knows now
    #[arg(long, global = true, value_name = "DATE", help_heading = "Looking back")]
    as_of: Option<String>,
    /// Ask what the book said on a date, or when it held an entry
    #[arg(long, global = true, value_name = "DATE|ENTRY", help_heading = "Looking back")]
    known_on: Option<String>,
    /// The present time, for tests
    #[arg(long, global = true, env = "PIPELORE_NOW", hide = true, value_name = "TIME")]
    now: Option<String>,
}

impl Global {
    /// Whether answers and errors are wanted in JSON.
    pub(super) const fn json(&self) -> bool {
        self.json || self.json_lines
    }
}

/// Resolved arguments.
#[derive(Clone, Debug)]
pub(super) struct Context {
    pub book: PathBuf,
    pub json: bool,
    /// In JSON a row a line, in place of one document.
    pub lines: bool,
    pub csv: bool,
    /// What is left to machines is told to people, too.
    pub verbose: bool,
    /// The schema of the answer in JSON in place of the answer.
    pub schema: bool,
    /// A long answer goes through a pager.
    pub pager: bool,
    /// Workbook to write the answer to.
    pub xlsx: Option<PathBuf>,
    /// Who asks, and the clock of this machine.
    pub caller: Caller,
    /// Width of the screen; `None` in a pipe, or where tables are wanted whole.
    pub width: Option<usize>,
    /// All commands, for those that speak of commands.
    pub commands: Commands,
    /// From where the book is looked at; `None` for the present.
    past: Option<past::Words>,
}

impl Context {
    pub(super) fn resolve(global: &Global, commands: Commands) -> Result<Self, Failure> {
        let now = match &global.now {
            Some(text) => text
                .parse::<Moment>()
                .map_err(|e| Failure::new(Kind::Usage, format!("--now: {e}")))?,
            None => Moment::Clock(machine_now().fixed_offset()),
        };
        // A present that is given stands in for the machine's clock, zone and all.
        let clock = if global.now.is_none() { machine_clock() } else { None };
        if !(global.time_limit > 0.0 && global.time_limit <= 86_400.0) {
            return Err(Failure::new(Kind::Usage, "--time-limit lies between 0 and 86400 seconds"));
        }
        let author = global
            .author
            .clone()
            .or_else(|| std::env::var("USER").ok())
            .or_else(|| std::env::var("USERNAME").ok())
            .map(|a| a.trim().to_owned())
            .filter(|a| !a.is_empty())
            .unwrap_or_else(|| "unknown".to_owned());
        let caller = Caller {
            units: global.units.as_deref().and_then(UnitSystem::parse),
            limit: Duration::from_secs_f64(global.time_limit),
            ..Caller::new(now, &author)
        };
        let caller = match clock {
            Some(clock) => caller.at_clock(clock),
            None => caller,
        };
        let asked = global.as_of.is_some() || global.known_on.is_some();
        let words = past::Words { as_of: global.as_of.clone(), known_on: global.known_on.clone() };
        // What cannot be read is refused before anything is done.
        past::read(&words, caller.clock)?;
        Ok(Self {
            book: global.book.clone().unwrap_or_else(|| PathBuf::from("book.pipelore")),
            json: global.json(),
            lines: global.json_lines,
            pager: !global.no_pager && std::io::stdout().is_terminal(),
            csv: global.csv,
            verbose: global.verbose,
            schema: false,
            xlsx: global.xlsx.clone(),
            past: asked.then_some(words),
            caller,
            width: if global.wide { None } else { width() },
            commands,
        })
    }

    /// Whether the answer is for somebody who reads it at a screen.
    pub(super) const fn is_for_a_screen(&self) -> bool {
        self.width.is_some() && !self.json && !self.csv && self.xlsx.is_none()
    }

    /// Opens the book; for questions, as it was at the time that the user asks about.
    pub(super) fn open(&self, access: Access) -> Result<Session, Failure> {
        match &self.past {
            None => Ok(Session::open(&self.book, access, &self.caller)?),
            Some(_) if access == Access::Write => Err(past::refused("writing")),
            Some(words) => {
                Session::open_past_by(&self.book, |clock| past::read(words, clock), &self.caller)
            }
        }
    }

    /// Opens the whole book, with what lies ahead, to copy it or to look at what it is made of.
    pub(super) fn open_whole(&self) -> Result<Session, Failure> {
        Ok(Session::open_whole(&self.book, &self.caller)?)
    }

    /// Opens the book to write in it, or to try what would be written. A book of before there were
    /// editions, or clocks, is given its first one as an entry, by the program, before anyone writes.
    pub(super) fn open_to_write(&self, dry_run: bool) -> Result<Session, Failure> {
        let mut session = self.open(Access::Write)?;
        if !dry_run {
            for line in session.found()? {
                say_beside(&format!("{line}\n"));
            }
            // What the command itself writes is told from that.
            session.forget_written();
        }
        if let Some(line) = session.clock_behind()? {
            say_beside(&format!("{line}\n"));
        }
        Ok(session)
    }

    /// Opens the book to derive its rows again, whatever they are, before anything else is written.
    pub(super) fn open_to_derive(&self) -> Result<Session, Failure> {
        let mut session = Session::open_to_derive(&self.book, &self.caller)?;
        for line in session.found()? {
            say_beside(&format!("{line}\n"));
        }
        Ok(session)
    }

    /// Opens the book to adopt something, or to try that on a copy.
    pub(super) fn open_to_adopt(&self, dry_run: bool) -> Result<Session, Failure> {
        if dry_run { self.open_whole() } else { self.open_to_write(false) }
    }

    /// Opens the book where one is there, for questions that a book only adds to.
    pub(super) fn open_if_there(&self) -> Result<Option<Session>, Failure> {
        if self.book.exists() { self.open(Access::Read).map(Some) } else { Ok(None) }
    }

    /// Refuses what cannot be asked of the past, by its name.
    pub(super) fn only_now(&self, name: &str) -> Result<(), Failure> {
        if self.past.is_some() { Err(past::refused(name)) } else { Ok(()) }
    }

    /// The same for another book.
    pub(super) fn with_book(&self, book: PathBuf) -> Self {
        Self { book, ..self.clone() }
    }

    /// The same, looking back from a day where nobody said otherwise.
    pub(super) fn looking_back_from(self, day: Option<String>) -> Self {
        let told = day.map(|day| past::Words { as_of: Some(day), known_on: None });
        Self { past: self.past.or(told), ..self }
    }

    /// The same, its answers shown as they are.
    pub(super) fn without_pager(&self) -> Self {
        Self { pager: false, ..self.clone() }
    }

    /// That of a command whose answer is to be described: of the book of this one where it names none.
    pub(super) fn for_schema(&self, asked: &Global) -> Result<Self, Failure> {
        let own = Self::resolve(asked, self.commands)?;
        Ok(Self {
            book: if asked.book.is_none() { self.book.clone() } else { own.book },
            json: true,
            schema: true,
            lines: false,
            csv: false,
            xlsx: None,
            pager: false,
            past: own.past.or_else(|| self.past.clone()),
            ..own
        })
    }

    /// Units asked for on the command line, else those that hold where there is no book.
    pub(super) fn units(&self) -> UnitSystem {
        self.caller.units.unwrap_or_default()
    }
}

/// What this machine's clock says, which may have been set to before 1970.
fn machine_now() -> DateTime<Local> {
    let ms = milliseconds(SystemTime::now());
    DateTime::from_timestamp_millis(ms).unwrap_or(DateTime::UNIX_EPOCH).with_timezone(&Local)
}

/// Milliseconds of UTC since the beginning of 1970.
fn milliseconds(time: SystemTime) -> i64 {
    let whole = |d: Duration| i64::try_from(d.as_millis()).unwrap_or(i64::MAX);
    time.duration_since(UNIX_EPOCH).map_or_else(|before| -whole(before.duration()), whole)
}

/// The civil clock of this machine: its zone where that can be told, else nothing.
fn machine_clock() -> Option<Clock> {
    let name = match std::env::var("TZ") {
        Ok(name) => name.trim_start_matches(':').to_owned(),
        Err(_) => iana_time_zone::get_timezone().ok()?,
    };
    let clock: Clock = name.parse().ok()?;
    // A name that is not what the machine goes by would be worse than none.
    let now = machine_now();
    let shown = Instant(now.timestamp_millis()).at(clock);
    (shown.naive_local().and_utc().timestamp_millis()
        == now.naive_local().and_utc().timestamp_millis())
    .then_some(clock)
}

/// Says something beside the answer. Who does not hear it has the answer all the same.
pub(super) fn say_beside(text: &str) {
    let _ = anstream::stderr().lock().write_all(text.as_bytes());
}

/// Columns of the screen: `COLUMNS` where it is set, the terminal's own, none in a pipe.
fn width() -> Option<usize> {
    width_of(std::io::stdout().is_terminal())
}

/// The same of the screen on which questions are asked, which is that of errors.
pub(super) fn width_of_questions() -> Option<usize> {
    width_of(std::io::stderr().is_terminal())
}

fn width_of(is_terminal: bool) -> Option<usize> {
    if let Some(columns) = std::env::var("COLUMNS").ok().and_then(|c| c.parse::<usize>().ok()) {
        return Some(columns.max(40));
    }
    if !is_terminal {
        return None;
    }
    terminal_size::terminal_size().map(|(w, _)| usize::from(w.0).max(40))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_set_before_1970_is_read() {
        assert_eq!(milliseconds(UNIX_EPOCH - Duration::from_millis(1_500)), -1_500);
        assert_eq!(milliseconds(UNIX_EPOCH + Duration::from_millis(1_500)), 1_500);
    }
}
