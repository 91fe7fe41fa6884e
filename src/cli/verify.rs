//! `verify`: proves the book.

use std::process::ExitCode;

use super::args::VerifyArgs;
use super::context::Context;
use super::failure::Failure;
use super::output;
use crate::report::{Block, Cell, Column, Report, Table};
use crate::store::Access;

pub(super) fn run(args: &VerifyArgs, context: &Context) -> Result<ExitCode, Failure> {
    let book = context.open(Access::Read)?;
    let verified = book.verify(args.head.as_deref())?;
    let mut report = Report::new("verify");
    report.push(Block::Table(Table {
        name: "checks",
        columns: vec![
            Column::plain("check", "check"),
            Column::plain("looked_at", "looked at"),
            Column::plain("sound", "sound"),
            Column::plain("first_fault", "first thing wrong"),
        ],
        rows: verified
            .checks
            .iter()
            .map(|c| {
                vec![
                    Cell::Text(c.name.to_owned()),
                    Cell::Number(i64::try_from(c.looked_at).unwrap_or(i64::MAX)),
                    Cell::Truth(c.faults.is_empty()),
                    c.faults.first().map_or(Cell::Missing, |f| Cell::Text(f.clone())),
                ]
            })
            .collect(),
        empty: String::new(),
        below: None,
    }));
    for fault in verified.checks.iter().flat_map(|c| c.faults.iter().skip(1)) {
        report.push(Block::Note(fault.clone()));
    }
    if let Some(head) = &verified.head {
        report.push(Block::Text(format!("head {head}")));
    }
    output::print(&report, context, context.units(&book))?;
    Ok(if verified.sound() { ExitCode::SUCCESS } else { ExitCode::from(1) })
}
