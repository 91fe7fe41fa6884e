//! `find` without a filter at a terminal: one filter after another, with history and completion.

use std::path::PathBuf;
use std::process::ExitCode;

use rustyline::completion::Completer;
use rustyline::error::ReadlineError;
use rustyline::{CompletionType, Config, Editor, Helper, Highlighter, Hinter, Validator};

use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::app::Session;
use crate::filter::Record;
use crate::policy::RuleSet;
use crate::report::find;
use crate::units::UnitSystem;

/// What a person may type besides a filter.
const HELP: &str = "\
A line is a filter; the answer follows, and the prompt says how many matched.
  fields [RECORD]   what may be asked, of joints or of a kind of record
  language          the filter language, with examples
  Tab completes; the up arrow brings back what was asked; quit or Ctrl-D ends.
";

/// Completes from the language, the fields of the record in scope and the rules in force.
#[derive(Helper, Hinter, Highlighter, Validator)]
struct Words {
    rules: Vec<String>,
}

impl Completer for Words {
    type Candidate = String;

    fn complete(
        &self,
        line: &str,
        at: usize,
        _: &rustyline::Context<'_>,
    ) -> rustyline::Result<(usize, Vec<String>)> {
        Ok(crate::filter::complete(line, at, self.rules.iter().map(String::as_str)))
    }
}

/// Asks until the input ends.
pub(super) fn run(
    session: &mut Session,
    options: &find::Options,
    context: &Context,
) -> Result<ExitCode, Failure> {
    // One answer after another: each stays on the screen.
    let context = &context.without_pager();
    let rules = session.rules_in_force()?;
    let fault = |e: ReadlineError| usage(format!("the terminal cannot be read: {e}"));
    let config =
        Config::builder().completion_type(CompletionType::List).auto_add_history(true).build();
    let mut editor = Editor::with_config(config).map_err(fault)?;
    editor.set_helper(Some(Words {
        rules: rules.for_filters().into_iter().map(|r| r.name).collect(),
    }));
    let history = history_file();
    if let Some(file) = &history {
        // A first session has none.
        let _ = editor.load_history(file);
    }
    let what = options.list.map_or("joints", Record::plural);
    output::write(&format!("Ask for {what}; ? says what may be typed, quit or Ctrl-D ends.\n"))?;
    let mut prompt = format!("{what}> ");
    loop {
        let line = match editor.readline(&prompt) {
            Ok(line) => line,
            // What was begun is dropped; the next line starts afresh.
            Err(ReadlineError::Interrupted) => continue,
            Err(ReadlineError::Eof) => break,
            Err(e) => return Err(fault(e)),
        };
        let mut words = line.split_whitespace();
        let answer = match (words.next(), words.next(), words.next()) {
            (None, ..) => continue,
            (Some("quit" | "exit" | "stop"), None, _) => break,
            (Some("?" | "help"), None, _) => output::write(HELP).map(|_| None),
            (Some("language"), None, _) => output::write(&super::language::page()).map(|_| None),
            (Some("fields"), record, None) => {
                fields(record, context, session.units()).map(|()| None)
            }
            _ => answer(session, &line, &rules, options, context).map(Some),
        };
        match answer {
            Ok(Some(count)) => prompt = format!("[{count}] {what}> "),
            Ok(None) => {}
            // A filter that is wrong ends nothing: the caret shows where.
            Err(failure) => {
                failure.report(false);
            }
        }
    }
    if let Some(file) = &history {
        if let Some(folder) = file.parent() {
            let _ = std::fs::create_dir_all(folder);
        }
        // The history is a convenience; a home that cannot be written to is no fault.
        let _ = editor.save_history(file);
    }
    Ok(ExitCode::SUCCESS)
}

fn answer(
    session: &mut Session,
    line: &str,
    rules: &RuleSet,
    options: &find::Options,
    context: &Context,
) -> Result<usize, Failure> {
    let report = session.find_by(line, rules, options)?;
    output::answer(&report, context, session)?;
    Ok(report.tables().next().map_or(0, |t| t.rows.len()))
}

fn fields(record: Option<&str>, context: &Context, units: UnitSystem) -> Result<(), Failure> {
    let record = super::find::fields_of(record.unwrap_or_default())?;
    output::print(&find::fields(record, units), context, units).map(|_| ())
}

/// Where what was asked is kept between sessions: the user's state folder.
fn history_file() -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    let folder = set("XDG_STATE_HOME")
        .or_else(|| set("LOCALAPPDATA"))
        .or_else(|| set("HOME").map(|home| home.join(".local").join("state")))?;
    Some(folder.join("pipelore").join("asked"))
}
