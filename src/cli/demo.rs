//! `demo`: the invented book, and three questions to it.
//!
//! The files are those of `samples/`, embedded; they go through `load` like any others.

use clap::Args;
use std::ffi::OsString;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::command::{Command, CommandLine};
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use super::take_in::take_in;
use crate::intake::{Files, Options};
use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::store::{Access, AppendOptions, Book};
use crate::units::UnitSystem;

/// Site that keeps the demo book.
const SITE: &str = "yard";

/// Name of the book's file.
const FILE: &str = "demo.pipelore";

/// The embedded files.
struct Embedded;

impl Files for Embedded {
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>> {
        let text = SAMPLES.iter().find(|(n, _)| *n == name).map(|(_, text)| *text);
        text.map(|t| Box::new(t.as_bytes()) as Box<dyn Read>)
            .ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))
    }
}

macro_rules! samples {
    ($($name:literal),+ $(,)?) => {
        /// Name and text of each file of `samples/`.
        const SAMPLES: &[(&str, &str)] =
            &[$(($name, include_str!(concat!("../../samples/", $name)))),+];
    };
}

samples!(
    "checks.csv",
    "decisions.csv",
    "events.csv",
    "failure.csv",
    "hire-31-in.csv",
    "hire-31-out.csv",
    "hire-33-in.csv",
    "hire-33-out.csv",
    "hire-36-in.csv",
    "hire-36-out.csv",
    "hire-38-in.csv",
    "hire-38-out.csv",
    "hire-40-in.csv",
    "hire-40-out.csv",
    "inspection-2024-12.csv",
    "inspection-2025-04.csv",
    "inspection-2025-10.csv",
    "inspection-2026-03.csv",
    "inspection-2026-05.csv",
    "instruments.csv",
    "joints-bha.csv",
    "joints-k1.csv",
    "joints-k2.csv",
    "k1-r01-operations.csv",
    "k1-r01-tally.csv",
    "k1-r01.toml",
    "k1-r02-operations.csv",
    "k1-r02-tally.csv",
    "k1-r02.toml",
    "k1-r03-operations.csv",
    "k1-r03-tally.csv",
    "k1-r03.toml",
    "k1-r04-operations.csv",
    "k1-r04-tally.csv",
    "k1-r04.toml",
    "k1-r05-operations.csv",
    "k1-r05-tally.csv",
    "k1-r05.toml",
    "k1-r06-operations.csv",
    "k1-r06-tally.csv",
    "k1-r06.toml",
    "k1-r07-operations.csv",
    "k1-r07-tally.csv",
    "k1-r07.toml",
    "k1-r08-operations.csv",
    "k1-r08-tally.csv",
    "k1-r08.toml",
    "makeups-trips.csv",
    "makeups.csv",
    "notes.csv",
    "repairs-2025-04.csv",
    "repairs-2025-11.csv",
    "survey-larkfield-1h.csv",
    "survey-larkfield-2h.csv",
    "survey-tern-moor-3.csv",
);

/// The order in which the yard wrote things down.
const ORDER: &[&str] = &[
    "joints-k1.csv",
    "joints-k2.csv",
    "joints-bha.csv",
    "instruments.csv",
    "hire-31-out.csv",
    "survey-larkfield-1h.csv",
    "k1-r01.toml",
    "k1-r02.toml",
    "hire-31-in.csv",
    "inspection-2024-12.csv",
    "hire-33-out.csv",
    "survey-tern-moor-3.csv",
    "k1-r03.toml",
    "k1-r04.toml",
    "hire-33-in.csv",
    "inspection-2025-04.csv",
    "repairs-2025-04.csv",
    "decisions.csv",
    "hire-36-out.csv",
    "survey-larkfield-2h.csv",
    "k1-r05.toml",
    "k1-r06.toml",
    "hire-36-in.csv",
    "inspection-2025-10.csv",
    "repairs-2025-11.csv",
    "hire-38-out.csv",
    "k1-r07.toml",
    "hire-38-in.csv",
    "inspection-2026-03.csv",
    "hire-40-out.csv",
    "k1-r08.toml",
    "events.csv",
    "failure.csv",
    "inspection-2026-05.csv",
    "hire-40-in.csv",
    "makeups-trips.csv",
    "makeups.csv",
    "checks.csv",
    "notes.csv",
];

/// The questions, as they are typed after `pipelore --book …`.
const QUESTIONS: [&[&str]; 3] = [
    &["due", "--limit", "14"],
    &[
        "find",
        "any run (max_dogleg > 8 deg/100ft and rotating_hours > 20 h)",
        "--show",
        "serial,hours above 8 deg/100ft,max_dogleg,damage,wall,string",
        "--sort",
        "-hours above 8 deg/100ft",
        "--limit",
        "12",
    ],
    &["trace", "K1-0417"],
];

/// Write the invented demo book and ask it three questions
///
/// Example: pipelore demo
#[derive(Debug, Args)]
pub(super) struct DemoArgs {
    /// Folder for the book demo.pipelore; one that stands there is asked again
    #[arg(value_name = "DIR", default_value = ".")]
    dir: PathBuf,
}

impl Command for DemoArgs {
    fn only_now(&self) -> Option<&'static str> {
        Some("demo")
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let path = self.dir.join(FILE);
        if path.exists() {
            let book = Book::open(&path, Access::Read)?;
            if book.identity().chain.site.to_string() != SITE {
                return Err(usage(format!("{} is not the demo book", path.display()))
                    .hint("name another folder: pipelore demo DIR"));
            }
        } else {
            std::fs::create_dir_all(&self.dir).map_err(|e| {
                usage(format!("the folder {} cannot be made: {e}", self.dir.display()))
            })?;
            build(&path, context)?;
        }
        let typed = |words: &[&str]| {
            let quoted: Vec<String> = words.iter().map(|w| quoted(w)).collect();
            format!("pipelore --book {} {}", quoted_path(&path), quoted.join(" "))
        };
        if context.json || context.csv {
            return output::print(&made(&path, &QUESTIONS.map(typed)), context, UnitSystem::Us);
        }
        output::write(&format!(
            "{} holds the invented life of two strings: yard, rigs, wells and people do not exist.\n",
            path.display()
        ))?;
        for words in QUESTIONS {
            output::write(&format!("\n$ {}\n\n", typed(words)))?;
            let line: Vec<_> = ["pipelore"].iter().chain(words).map(OsString::from).collect();
            let read = CommandLine::read(&line).map_err(|e| usage(e.to_string()))?;
            super::run(&*read.command, &context.with_book(path.clone()))?;
        }
        output::write(&format!(
            "\nAsk on: {}\n",
            typed(&[
                "find",
                "class = premium and hours since last inspection (covers = wall) > 300 h"
            ])
        ))
    }
}

/// What machines get.
fn made(path: &Path, commands: &[String]) -> Report {
    let mut report = Report::new("demo");
    report.push(Block::Facts {
        name: "book",
        facts: vec![Fact::plain("file", "book", Cell::Text(path.display().to_string()))],
    });
    report.push(Block::Table(Table {
        name: "commands",
        columns: vec![Column::plain("command", "command")],
        rows: commands.iter().map(|c| vec![Cell::Text(c.clone())]).collect(),
        empty: String::new(),
        below: None,
    }));
    report
}

/// Makes the book ; a book that did not become whole does not stay.
fn build(path: &Path, context: &Context) -> Result<(), Failure> {
    let context = &context.written_by("Harrow Yard desk");
    let mut book = Book::create(path, SITE, UnitSystem::Us, &context.stamp())?;
    let options = Options::default();
    let append = AppendOptions::default();
    for name in ORDER {
        let taken = take_in(&mut book, name, &Embedded, &options, append, false, context);
        if let Err(failure) = taken {
            drop(book);
            remove(path);
            return Err(failure);
        }
    }
    book.close()?;
    Ok(())
}

/// Takes back a book that was made a moment ago and did not become whole.
fn remove(path: &Path) {
    for suffix in ["", "-wal", "-shm", ".head"] {
        let mut part = path.as_os_str().to_owned();
        part.push(suffix);
        let _ = std::fs::remove_file(PathBuf::from(part));
    }
}

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./=:,%+@".contains(c);
    if word.chars().all(plain) { word.to_owned() } else { format!("'{word}'") }
}

fn quoted_path(path: &Path) -> String {
    let shown = path.strip_prefix("./").unwrap_or(path);
    quoted(&shown.display().to_string())
}
