//! `demo`: the invented book, and three questions to it.

use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::app::{Session, build_demo, is_demo, last_day};
use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::store::Access;
use crate::units::UnitSystem;

/// Name of the book's file.
const FILE: &str = "demo.pipelore";

/// The questions, as they are typed after `pipelore --book …`.
const QUESTIONS: [&[&str]; 3] = [
    &["due"],
    &[
        "find",
        "hours above 8 deg/100ft > 4 h",
        "--show",
        "serial,hours above 8 deg/100ft,damage at pin end,damage at box end,wall,string",
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
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let path = self.dir.join(FILE);
        if path.exists() {
            let session = Session::open(&path, Access::Read, &context.caller)?;
            if !is_demo(&session) {
                return Err(usage(format!("{} is not the demo book", path.display()))
                    .hint("name another folder: pipelore demo DIR"));
            }
        } else {
            std::fs::create_dir_all(&self.dir).map_err(|e| {
                usage(format!("the folder {} cannot be made: {e}", self.dir.display()))
            })?;
            build_demo(&path, &context.caller)?;
        }
        // Its days lie in the past: asked of today it would call every joint overdue.
        // The book is made by now: where it cannot be read, the questions say so.
        let session = Session::open(&path, Access::Read, &context.caller).ok();
        let day = session.as_ref().and_then(|session| last_day(session).ok().flatten());
        let day = day.map(|day| day.to_string());
        drop(session);
        let dated = |words: &[&'static str]| {
            let mut words: Vec<String> = words.iter().map(|w| (*w).to_owned()).collect();
            words.extend(day.iter().flat_map(|day| ["--as-of".to_owned(), day.clone()]));
            words
        };
        let typed = |words: &[&'static str]| {
            let quoted: Vec<String> = dated(words).iter().map(|w| quoted(w)).collect();
            format!("pipelore --book {} {}", quoted_path(&path), quoted.join(" "))
        };
        if context.json || context.csv {
            return output::print(&made(&path, &QUESTIONS.map(typed)), context, UnitSystem::Us);
        }
        output::write(&format!(
            "{} holds the invented life of two strings: yard, rigs, wells and people do not exist.\n",
            path.display()
        ))?;
        if let Some(day) = &day {
            output::write(&format!(
                "It is asked as of {day}, its last day; without --as-of a question is asked of today.\n"
            ))?;
        }
        let then = context.with_book(path.clone()).looking_back_from(day.clone()).without_pager();
        for words in QUESTIONS {
            output::write(&format!("\n$ {}\n\n", typed(words)))?;
            let line: Vec<_> = ["pipelore"].iter().chain(words).map(OsString::from).collect();
            let read = context.commands.read(&line).map_err(|e| usage(e.to_string()))?;
            read.run(&then)?;
        }
        output::write(&format!(
            "\nAsk on: {}\n",
            typed(&[
                "find",
                "class = premium and hours since last inspection (covers = wall) > 100 h"
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

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./=:,%+@".contains(c);
    if word.chars().all(plain) { word.to_owned() } else { format!("'{word}'") }
}

fn quoted_path(path: &Path) -> String {
    let shown = path.strip_prefix("./").unwrap_or(path);
    quoted(&shown.display().to_string())
}
