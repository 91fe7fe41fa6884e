//! `find`: joints or records that match a filter.

use std::io::{BufRead, IsTerminal};
use std::process::ExitCode;

use clap::Args;
use serde_json::json;

use super::command::Command;
use super::context::{Context, say_beside};
use super::failure::{Failure, usage};
use super::{output, prompt};
use crate::app::Session;
use crate::filter::{Dialect, Record, Source};
use crate::report::find;
use crate::store::Access;

/// Joints that match a filter, or records with --list
///
/// Example: pipelore find 'class = premium and hours since last inspection > 300 h'
#[derive(Debug, Args)]
pub(super) struct FindArgs {
    /// A filter; `pipelore help language` explains it. Without one, at a terminal: a prompt. `-`
    /// answers the filters of standard input, one on a line
    #[arg(value_name = "FILTER")]
    filter: Option<String>,
    /// Columns to show: fields or any value of the language, with commas between; 'revolutions / hours
    /// as "mean speed"' gives one a title of its own
    #[arg(long, value_name = "COLUMNS")]
    show: Vec<String>,
    /// Column to sort by; -COLUMN puts the largest first
    #[arg(long, value_name = "COLUMN", allow_hyphen_values = true)]
    sort: Option<String>,
    /// Count, and sum lengths, by columns, with commas between; what --show adds is summed where a
    /// sum means something, else shown from least to most
    #[arg(long, value_name = "COLUMNS")]
    by: Option<String>,
    /// At most so many rows
    #[arg(long, value_name = "N")]
    limit: Option<u32>,
    /// List the joints that cannot be decided
    #[arg(long)]
    undecided: bool,
    /// List records in place of joints: runs, inspections, makeups, findings, repairs, events,
    /// failures, moves, hires, decisions
    #[arg(long, value_name = "RECORDS")]
    list: Option<String>,
    /// List the fields of joints, or of a kind of record
    #[arg(long, value_name = "RECORD", num_args = 0..=1, default_missing_value = "")]
    fields: Option<String>,
    /// Print the statement by which an engine answers the filter on a publication (`pipelore publish`):
    /// site, joint, serial, and whether it certainly holds, of joints that match or are undecided
    #[arg(long, value_name = "ENGINE", value_enum, conflicts_with_all = ["show", "sort", "by", "limit", "undecided", "list"])]
    sql: Option<Engine>,
    /// With --sql: the folder of the publication's state, or what the names of its tables begin with
    /// [default: the bare names]
    #[arg(long, value_name = "DIR|PREFIX", requires = "sql")]
    from: Option<String>,
}

/// What is said of statements for Spark.
const ON_TRIAL: &str = "statements for spark are on trial: few were held against the answers of a book, and \
                        long ones take minutes; hold what one says against `pipelore find` before anything \
                        rests on it";

/// Engines that statements can be written for.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum Engine {
    #[value(name = "duckdb")]
    DuckDb,
    Spark,
}

impl Command for FindArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if let Some(record) = &self.fields {
            let record = fields_of(record)?;
            let units = context.units();
            return output::print(&find::fields(record, units), context, units);
        }
        let how = find::Options {
            show: self.show.iter().flat_map(|s| crate::filter::columns_of(s)).collect(),
            sort: self.sort.clone(),
            by: self.by.clone(),
            limit: self.limit,
            undecided: self.undecided,
            list: self.list.as_deref().map(record_of).transpose()?,
        };
        let mut session = context.open(Access::Read)?;
        if let Some(engine) = self.sql {
            return self.statements(engine, &session, context);
        }
        let Some(text) = &self.filter else {
            if std::io::stdin().is_terminal() {
                return prompt::run(&mut session, &how, context);
            }
            return Err(usage("a filter is wanted").hint("pipelore find 'class = premium'"));
        };
        if text == "-" {
            return many(&mut session, &how, context);
        }
        let report = session.find(text, &how)?;
        output::answer(&report, context, &session)
    }
}

impl FindArgs {
    /// Writes the statement of the filter, or of each of standard input, one a line.
    fn statements(
        &self,
        engine: Engine,
        session: &Session,
        context: &Context,
    ) -> Result<ExitCode, Failure> {
        let dialect = match engine {
            Engine::DuckDb => Dialect::DuckDb,
            Engine::Spark => Dialect::Spark,
        };
        let on_trial = (dialect == Dialect::Spark).then_some(ON_TRIAL);
        let from = Source::told(self.from.as_deref().unwrap_or_default());
        let rules = session.rules_in_force()?;
        let show = |text: &str| -> Result<(), Failure> {
            let sql = session.statement_for(text, &rules, (dialect, &from))?;
            output::write(&if context.json {
                format!(
                    "{}\n",
                    json!({ "engine": dialect.word(), "sql": sql, "warning": on_trial })
                )
            } else {
                format!("{sql}\n")
            })
            .map(|_| ())
        };
        let done = match self.filter.as_deref() {
            None => Err(usage("a filter is wanted").hint("pipelore find 'out' --sql duckdb")),
            Some("-") => each_line(context, show),
            Some(text) => show(text).map(|()| ExitCode::SUCCESS),
        }?;
        if let Some(warning) = on_trial.filter(|_| !context.json) {
            say_beside(&format!("warning: {warning}\n"));
        }
        Ok(done)
    }
}

/// Answers the filters of standard input in turn. A wrong one ends nothing: in JSON its error stands
/// in the place of its answer, and the exit status is that of the last wrong one.
fn many(
    session: &mut Session,
    how: &find::Options,
    context: &Context,
) -> Result<ExitCode, Failure> {
    let context = &context.without_pager();
    let rules = session.rules_in_force()?;
    each_line(context, |line| {
        let report = session.find_by(line, &rules, how)?;
        output::answer(&report, context, session).map(|_| ())
    })
}

/// Takes the lines of standard input in turn.
fn each_line(
    context: &Context,
    mut answer: impl FnMut(&str) -> Result<(), Failure>,
) -> Result<ExitCode, Failure> {
    let mut status = ExitCode::SUCCESS;
    for line in std::io::stdin().lock().lines() {
        let line = line.map_err(|e| usage(format!("standard input cannot be read: {e}")))?;
        if line.trim().is_empty() {
            continue;
        }
        if let Err(failure) = answer(&line) {
            if context.json {
                output::write(&format!("{}\n", failure.json()))?;
                status = failure.code();
            } else {
                status = failure.report(false);
            }
        }
    }
    Ok(status)
}

/// The record whose fields are asked for; `None` for those of joints.
pub(super) fn fields_of(word: &str) -> Result<Option<Record>, Failure> {
    match word {
        "" | "joint" | "joints" => Ok(None),
        word => record_of(word).map(Some),
    }
}

fn record_of(word: &str) -> Result<Record, Failure> {
    Record::parse(word).ok_or_else(|| {
        let known: Vec<&str> = Record::ALL.iter().map(|r| r.word()).collect();
        usage(format!("'{word}' is no kind of record; known: {}", known.join(", ")))
            .hint("wells, strings, hires, places and other names: pipelore list")
    })
}
