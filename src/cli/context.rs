//! What the arguments mean on this machine: book, units, clock, width, author.

use std::cell::OnceCell;
use std::io::IsTerminal;
use std::path::PathBuf;
use std::time::Duration;

use chrono::{DateTime, Local};
use clap::Parser;

use super::PROGRAM;
use super::failure::{Failure, Kind};
use super::past::{self, Made, Past};
use crate::model::{Instant, Moment, Recorded};
use crate::report::{Block, Present};
use crate::store::{Access, Book, Stamp};
use crate::units::UnitSystem;

/// The life of every drill-string joint in one book
#[derive(Debug, Parser)]
#[command(version, about, propagate_version = true, max_term_width = 100)]
pub(super) struct Global {
    /// Book to use [default: ./book.pipelore]
    #[arg(long, global = true, env = "PIPELORE_BOOK", value_name = "FILE")]
    book: Option<PathBuf>,
    /// Units to show, us or metric, in place of the book's own
    #[arg(long, global = true, value_name = "SYSTEM", value_parser = ["us", "metric"])]
    units: Option<String>,
    /// Answer in JSON
    #[arg(long, global = true, conflicts_with = "csv")]
    json: bool,
    /// Answer in CSV (answers that are a table)
    #[arg(long, global = true)]
    csv: bool,
    /// Write the answer to a new workbook (answers that are tables)
    #[arg(long, global = true, value_name = "FILE", conflicts_with_all = ["json", "csv"])]
    xlsx: Option<PathBuf>,
    /// Name to write into entries [default: the user of this machine]
    #[arg(long, global = true, env = "PIPELORE_AUTHOR", value_name = "NAME")]
    author: Option<String>,
    /// Seconds that a question may take
    #[arg(long, global = true, value_name = "SECONDS", default_value = "60")]
    time_limit: f64,
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

/// Resolved arguments.
#[derive(Clone, Debug)]
pub(super) struct Context {
    pub book: PathBuf,
    units: Option<UnitSystem>,
    pub json: bool,
    pub csv: bool,
    /// Workbook to write the answer to.
    pub xlsx: Option<PathBuf>,
    author: String,
    now: Recorded,
    /// Width of the screen; `None` in a pipe.
    pub width: Option<usize>,
    limit: Duration,
    /// From where the book is looked at; `None` for the present.
    past: Option<Past>,
    /// The view, once it is made.
    made: OnceCell<Made>,
}

impl Context {
    pub(super) fn resolve(global: &Global) -> Result<Self, Failure> {
        let now = match &global.now {
            Some(text) => fixed_now(text)?,
            None => {
                let now: DateTime<Local> = Local::now();
                Recorded {
                    at: Instant(now.timestamp_millis()),
                    offset_minutes: now.offset().local_minus_utc() / 60,
                }
            }
        };
        if !(global.time_limit > 0.0 && global.time_limit <= 86_400.0) {
            return Err(Failure::new(Kind::Usage, "--time-limit lies between 0 and 86400 seconds"));
        }
        let past =
            Past::read(global.as_of.as_deref(), global.known_on.as_deref(), now.offset_minutes)?;
        let author = global
            .author
            .clone()
            .or_else(|| std::env::var("USER").ok())
            .or_else(|| std::env::var("USERNAME").ok())
            .map(|a| a.trim().to_owned())
            .filter(|a| !a.is_empty())
            .unwrap_or_else(|| "unknown".to_owned());
        Ok(Self {
            book: global.book.clone().unwrap_or_else(|| PathBuf::from("book.pipelore")),
            units: global.units.as_deref().and_then(UnitSystem::parse),
            json: global.json,
            csv: global.csv,
            xlsx: global.xlsx.clone(),
            author,
            now,
            width: width(),
            limit: Duration::from_secs_f64(global.time_limit),
            past,
            made: OnceCell::new(),
        })
    }

    /// The stamp of entries written now.
    pub(super) fn stamp(&self) -> Stamp {
        Stamp { now: self.now, author: self.author.clone(), program: PROGRAM.to_owned() }
    }

    /// Clock offset of this machine.
    pub(super) const fn offset_minutes(&self) -> i32 {
        self.now.offset_minutes
    }

    /// Now and here, for questions to a book.
    pub(super) fn present_of(&self, book: &Book) -> Present {
        Present {
            now: self.clock().at,
            offset_minutes: self.clock().offset_minutes,
            units: self.units(book),
            limit: self.limit,
        }
    }

    /// The present as a moment.
    pub(super) fn present(&self) -> Moment {
        let now = self.clock();
        Moment::Clock(now.at.at(now.offset_minutes))
    }

    /// The time at which the clock stands: now, or that of the view that was opened.
    fn clock(&self) -> Recorded {
        self.made.get().map_or(self.now, |made| made.now)
    }

    /// Opens the book; for questions, as it was at the time that the user asks about.
    pub(super) fn open(&self, access: Access) -> Result<Book, Failure> {
        let Some(past) = &self.past else { return Ok(Book::open(&self.book, access)?) };
        if access == Access::Write {
            return Err(past::refused("writing"));
        }
        let (book, made) = past.of(&Book::open(&self.book, access)?, self.now)?;
        let _ = self.made.set(made);
        Ok(book)
    }

    /// Whether the book is to be looked at as it was.
    pub(super) const fn looks_back(&self) -> bool {
        self.past.is_some()
    }

    /// What the view is that was opened; nothing for the present.
    pub(super) fn view(&self) -> &[Block] {
        self.made.get().map_or(&[], |made| &made.blocks)
    }

    /// Units to show: as asked, else the book's.
    pub(super) fn units(&self, book: &Book) -> UnitSystem {
        self.units.unwrap_or(book.identity().units)
    }

    /// The same for another book.
    pub(super) fn with_book(&self, book: PathBuf) -> Self {
        Self { book, made: OnceCell::new(), ..self.clone() }
    }

    /// The same with another name in the entries.
    pub(super) fn written_by(&self, author: &str) -> Self {
        Self { author: author.to_owned(), ..self.clone() }
    }

    /// Units asked for on the command line.
    pub(super) const fn asked_units(&self) -> Option<UnitSystem> {
        self.units
    }
}

fn fixed_now(text: &str) -> Result<Recorded, Failure> {
    match text.parse::<Moment>() {
        Ok(Moment::Clock(t)) => Ok(Recorded {
            at: Instant(t.timestamp_millis()),
            offset_minutes: t.offset().local_minus_utc() / 60,
        }),
        Ok(day @ Moment::Day(_)) => Ok(Recorded { at: day.start(0), offset_minutes: 0 }),
        Err(e) => Err(Failure::new(Kind::Usage, format!("--now: {e}"))),
    }
}

/// Columns of the screen: `COLUMNS` where it is set, the terminal's own, none in a pipe.
fn width() -> Option<usize> {
    if let Some(columns) = std::env::var("COLUMNS").ok().and_then(|c| c.parse::<usize>().ok()) {
        return Some(columns.max(40));
    }
    if !std::io::stdout().is_terminal() {
        return None;
    }
    terminal_size::terminal_size().map(|(w, _)| usize::from(w.0).max(40))
}
