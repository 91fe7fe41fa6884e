//! `sheet`: a workbook to fill in at the rack.

use std::path::PathBuf;
use std::process::ExitCode;

use chrono::Datelike;
use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, Kind, usage};
use super::output;
use crate::model::{Method, Vocabulary};
use crate::render::sheet::workbook;
use crate::report::sheet::{Head, Which};
use crate::report::{Block, Cell, Fact, Report};
use crate::store::Access;

/// Write a workbook to fill in at the rack; `load` reads it back
///
/// Example: pipelore sheet inspection --string K1 -o k1-inspection.xlsx
#[derive(Debug, Args)]
pub(super) struct SheetArgs {
    /// Kind of sheet
    #[arg(value_name = "KIND", value_parser = ["inspection"])]
    kind: String,
    /// Joints of this string
    #[arg(long, value_name = "STRING")]
    string: Option<String>,
    /// Joints of these serials, with commas between
    #[arg(long, value_name = "SERIALS", value_delimiter = ',')]
    serials: Vec<String>,
    /// Joints that match a filter; with --string, those of them
    #[arg(long = "where", value_name = "FILTER")]
    filter: Option<String>,
    /// Workbook to write; nothing may stand there
    #[arg(long, short, value_name = "FILE")]
    output: PathBuf,
    /// How the joints are to be looked at, with commas between: it decides which readings are asked
    /// for. What was done is stated on the sheet [default: the usual methods of each]
    #[arg(long, value_name = "METHODS", value_delimiter = ',')]
    methods: Vec<String>,
    /// Day of the inspection [default: today]
    #[arg(long, value_name = "DATE")]
    date: Option<String>,
    /// Inspector
    #[arg(long, value_name = "NAME")]
    inspector: Option<String>,
    /// Firm
    #[arg(long, value_name = "NAME")]
    firm: Option<String>,
    /// Report number
    #[arg(long, value_name = "TEXT")]
    report: Option<String>,
    /// Standard and category inspected to
    #[arg(long, value_name = "TEXT")]
    standard: Option<String>,
    /// Tag of the instrument
    #[arg(long, value_name = "TAG")]
    instrument: Option<String>,
}

impl Command for SheetArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        if self.string.is_none() && self.serials.is_empty() && self.filter.is_none() {
            return Err(usage("say which joints: --string, --serials or --where")
                .hint("pipelore sheet inspection --string K1 -o k1.xlsx"));
        }
        let mut methods: Vec<Method> = Vec::new();
        for word in &self.methods {
            methods.push(Method::from_word(word).map_err(usage)?);
        }
        let which = Which {
            string: self.string.clone(),
            serials: self.serials.clone(),
            filter: self.filter.clone(),
        };
        let word = |w: &Option<String>| w.clone().unwrap_or_default();
        let head = Head {
            date: String::new(),
            inspector: word(&self.inspector),
            firm: word(&self.firm),
            report: word(&self.report),
            standard: word(&self.standard),
            instrument: word(&self.instrument),
        };
        let mut session = context.open(Access::Read)?;
        let (sheet, notes) = session.inspection_sheet(&which, &methods, self.date.clone(), head)?;
        let made = session.caller.now.at.day(session.clock());
        let number = |n: u32| u8::try_from(n).unwrap_or(1);
        let made =
            (u16::try_from(made.year()).unwrap_or(2000), number(made.month()), number(made.day()));
        let bytes = workbook(&sheet, made).map_err(|e| Failure::from_error(Kind::Usage, &e))?;
        output::write_new(&self.output, &bytes)?;

        let mut report = Report::new("sheet");
        let number = |n: usize| Cell::Number(i64::try_from(n).unwrap_or(i64::MAX));
        let readings: Vec<String> = sheet.columns.iter().map(|c| c.name()).collect();
        report.push(Block::Facts {
            name: "sheet",
            facts: vec![
                Fact::plain("file", "workbook", Cell::Text(self.output.display().to_string())),
                Fact::plain("joints", "joints", number(sheet.rows.len())),
                Fact::plain("sizes", "sizes", number(sheet.groups.len())),
                Fact::plain("readings", "readings", Cell::Text(readings.join(", "))),
                Fact::plain("limits", "limits", Cell::Text(sheet.limits.clone())),
            ],
        });
        notes.into_iter().for_each(|n| report.push(Block::Note(n)));
        report.push(Block::Text(format!(
            "fill it in, save it as .xlsx, and take it back: pipelore load {}",
            self.output.display()
        )));
        output::answer(&report, context, &session)
    }
}
