//! A run as a page: the hole, where its joints were, what it took of them, and the log behind it.

use crate::model::{Body, Clock};
use crate::store::Book;
use crate::units::{Measure as M, UnitSystem};

use super::life::Reader;
use super::lookup::find_run;
use super::{Block, Cell, Fact, Report, ReportError, exposure, graphs, instant};

/// The page of a run.
pub fn report(
    book: &Book,
    name: &str,
    clock: Clock,
    units: UnitSystem,
) -> Result<Report, ReportError> {
    let row = find_run(book, name)?;
    let reader = Reader::new(book);
    let Some(run) = reader.run(row.run)? else {
        return Err(ReportError::Words(format!("{name} stands no more")));
    };
    let told = exposure::of_run(book, name, clock)?;
    let mut report = Report::new("run");
    let (mut tables, mut rest) = (Vec::new(), Vec::new());
    for block in told.blocks {
        match block {
            Block::Facts { .. } => {
                report.push(Block::Heading("The run".to_owned()));
                report.push(block);
            }
            Block::Table(_) => tables.push(block),
            Block::Note(_) | Block::Caution(_) => rest.push(block),
            _ => {}
        }
    }
    report.push(Block::Heading("The hole".to_owned()));
    let model = book.appraiser()?.run_model(row.run)?;
    let deepest = row.depth_out.map(|d| d as f64 * 1e-9);
    match (model.path(), deepest) {
        (Some(path), Some(to)) if to > 0.0 => {
            report.push(Block::Chart(graphs::section(path, to, units)));
            report.push(Block::Chart(graphs::dogleg(path, to, units)));
        }
        _ => report.push(Block::Note(
            "no survey of the hole or no depth of the run is in the book".to_owned(),
        )),
    }
    report.push(Block::Heading("The string".to_owned()));
    for chart in [
        graphs::along(&run, None, units),
        graphs::tension(&run, units),
        graphs::places(&run, units),
    ] {
        if !chart.is_empty() {
            report.push(Block::Chart(chart));
        }
    }
    rest.into_iter().for_each(|b| report.push(b));
    report.push(Block::Heading("Where it comes from".to_owned()));
    report.push(source(&reader, &run, clock)?);
    report.push(Block::Heading("Joints from the bit up".to_owned()));
    tables.into_iter().for_each(|b| report.push(b));
    report.push(Block::Caution(crate::condition::DEFERENCE.to_owned()));
    Ok(report)
}

/// The entry, its files, its log and its survey.
fn source(
    reader: &Reader<'_>,
    run: &super::life::SeenRun,
    clock: Clock,
) -> Result<Block, ReportError> {
    let seen = reader.entry(run.row.run)?;
    let entry = &seen.entry;
    let mut facts = vec![
        Fact::plain("entry", "entry", Cell::Text(seen.name())),
        Fact::plain("hash", "its hash", Cell::Text(seen.hash.to_string())),
        Fact::plain("recorded", "recorded", instant(entry.recorded.at.0, clock)),
        Fact::plain("author", "by", Cell::Text(entry.author.clone())),
    ];
    if let Some(e) = &entry.evidence {
        facts.push(Fact::plain("file", "file", Cell::Text(e.file.clone())));
        facts.push(Fact::plain("sha256", "its SHA-256", Cell::Text(e.sha256.clone())));
    }
    if let Body::Run(body) = &entry.body {
        match &body.log {
            Some(log) => {
                facts.push(Fact::plain("log", "log", Cell::Text(log.file.clone())));
                facts.push(Fact::plain(
                    "log_sha256",
                    "SHA-256 of the log",
                    Cell::Text(log.sha256.clone()),
                ));
                let rows = i64::try_from(log.rows).unwrap_or(i64::MAX);
                facts.push(Fact::of("rows", "rows read", Cell::Number(rows), M::Count));
                facts.push(Fact::plain("cut", "how it was cut", Cell::Text(log.cut.clone())));
                if !log.left_out.is_empty() {
                    let text = log.left_out.join("; ");
                    facts.push(Fact::plain("left_out", "left out", Cell::Text(text)));
                }
            }
            None => facts.push(Fact::plain(
                "log",
                "log",
                Cell::Text("none: figures from a summary".to_owned()),
            )),
        }
        let segments = i64::try_from(body.segments.len()).unwrap_or(i64::MAX);
        facts.push(Fact::of("segments", "segments", Cell::Number(segments), M::Count));
        facts.push(Fact::plain("equipment", "equipment", Cell::text(run.row.equipment.as_deref())));
        facts.push(Fact::plain("remark", "remark", Cell::text(body.remark.as_deref())));
    }
    if let Some(survey) = run.row.survey {
        let seen = reader.entry(survey)?;
        facts.push(Fact::plain("survey", "survey", Cell::Text(seen.name())));
        if let Some(e) = &seen.entry.evidence {
            facts.push(Fact::plain(
                "survey_file",
                "file of the survey",
                Cell::Text(e.file.clone()),
            ));
            facts.push(Fact::plain(
                "survey_sha256",
                "SHA-256 of the survey",
                Cell::Text(e.sha256.clone()),
            ));
        }
    }
    facts.retain(|f| f.value != Cell::Missing);
    Ok(Block::Facts { name: "source", facts })
}
