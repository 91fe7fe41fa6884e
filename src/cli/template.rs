//! `template`: a workbook of a kind of file to fill in, and what its columns hold.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind as Failed};
use super::output;
use crate::intake::{Explained, Kind, explain};
use crate::render::template::workbook;
use crate::report::{Block, Cell, Column, Report, Table};

/// Write a workbook of a kind of file to fill in; without one, list the columns of the kind
///
/// Example: pipelore template inspection -o inspection.xlsx
#[derive(Debug, Args)]
pub(super) struct TemplateArgs {
    /// Kind of file: joint, survey, run, tally, log, inspection, repair …
    #[arg(value_name = "KIND")]
    kind: String,
    /// Workbook to write; nothing may stand there
    #[arg(long, short, value_name = "FILE")]
    output: Option<PathBuf>,
}

impl Command for TemplateArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let kind = super::load::kind(&self.kind)?;
        let columns = explain(kind);
        let mut report = columns_of(kind, &columns);
        if let Some(path) = &self.output {
            let bytes = workbook(kind.word(), &columns)
                .map_err(|e| Failure::from_error(Failed::Usage, &e))?;
            output::write_new(path, &bytes)?;
            report.push(Block::Text(format!(
                "fill it in, take the example row out, and take it in: pipelore load {}",
                path.display()
            )));
        }
        output::print(&report, context, context.units())
    }
}

/// The columns of a kind of file, as a report.
pub(super) fn columns_of(kind: Kind, columns: &[Explained]) -> Report {
    let rows = columns.iter().map(|c| {
        vec![
            Cell::Text(c.title.clone()),
            Cell::Text(if c.needed { "yes".to_owned() } else { String::new() }),
            Cell::Text(c.holds.clone()),
            Cell::Text(c.words.join(", ")),
            Cell::Text(c.also.join(", ")),
        ]
    });
    let mut report = Report::new("template");
    report.push(Block::Text(format!("columns of a file of kind {kind}")));
    report.push(Block::Table(Table {
        name: "columns",
        columns: vec![
            Column::plain("column", "column"),
            Column::plain("needed", "it or another needed"),
            Column::plain("holds", "holds"),
            Column::plain("words", "words").dispensable(1),
            Column::plain("also", "other titles").dispensable(2),
        ],
        rows: rows.collect(),
        empty: "no columns".to_owned(),
        below: None,
    }));
    report
}
