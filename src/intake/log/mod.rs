//! Operating logs into segments: a million rows stream by, some hundred segments stay.
//!
//! A row speaks for the time (or the step of depth) since the row before. Turns and rotating
//! hours over the segments equal the log's own sums exactly, in thousandths of a turn and in
//! milliseconds; the segments follow each other without a gap in time or depth. What condensing
//! costs is where the bit is within a segment; the bound on that is stated with the cut.

mod channels;
mod counts;
mod depth;
mod finish;
mod las;
mod pass;
mod piece;
mod rules;
mod source;
mod time;

pub(super) use channels::fields;
pub(super) use las::is_las;
pub use rules::{CutError, CutRules};

use std::ops::RangeInclusive;

use super::diagnostic::{Diagnostic, Diagnostics};
use super::kinds::Kind;
use super::lookup::World;
use super::number::{Decimal, DecimalVerdict, DecimalVote, is_null, nano};
use super::table::{Columns, Delimiter, Fields, Layout, Where, read_layout, titles};
use super::when::{StampReader, Times};
use crate::model::{LogSource, Segment};
use channels::{Channels, Index};
use depth::ByDepth;
use finish::Finish;
use pass::{Pass, PassError, Reader, Sink, Used};
use source::{Cells, Open, OpenError};
use time::{ByTime, gap_of};

/// How a log is read.
#[derive(Clone, Debug, Default)]
pub struct LogOptions {
    pub columns: Option<Columns>,
    /// Delimiter.
    pub delimiter: Option<Delimiter>,
    pub decimal: Option<Decimal>,
    /// Texts that mean "no value", besides the usual ones.
    pub nulls: Vec<String>,
    /// Clock of times without an offset.
    pub times: Times,
    pub rules: CutRules,
    /// First and last instant of the run, ms of UTC; rows outside belong to other runs.
    pub run: Option<RangeInclusive<i64>>,
    /// Depths of the run, mm, for a log by depth.
    pub depths: Option<RangeInclusive<i64>>,
    /// Instants at which the tally changes; no segment reaches across one.
    pub breaks: Vec<i64>,
}

/// A log that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LogRead {
    /// The segments, each after the other.
    pub segments: Vec<Segment>,
    /// The file, what was left out, and how it was cut.
    pub source: LogSource,
    /// First instant, ms of UTC; `None` for a log by depth or by elapsed time.
    pub first_ms: Option<i64>,
    /// Last instant, ms of UTC.
    pub last_ms: Option<i64>,
    pub rows_used: u64,
    /// Turns of the whole log, thousandths.
    pub milli_turns: i64,
    /// Time with rotation of the whole log, ms.
    pub rotating_ms: i64,
    /// At every turn the bit is this close to where the log has it, mm.
    pub error_mm: i64,
    /// Every instant is this close to the log's, ms.
    pub shift_ms: i64,
    /// What a reader should know.
    pub notes: Vec<String>,
}

/// Reads a log. `None` when it cannot be read; the reasons are diagnostics then.
pub fn read(
    name: &str,
    options: &LogOptions,
    world: &World<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<LogRead> {
    let fields = Kind::Log.fields();
    let known = |cells: &[String]| titles(cells, fields, options.columns.as_ref()).len();
    let mut open = match Open::new(name, world.files, options.delimiter, known) {
        Ok(open) => open,
        Err(e) => {
            diagnostics.push(unopened(name, &e));
            return None;
        }
    };
    let mut notes = Vec::new();
    if open.encoding == super::text::Encoding::Latin1 {
        notes.push("the file is not UTF-8 and was read as Latin-1".to_owned());
    }
    let at = Where { units_below: open.units_below, ..Where::new(name, options.columns.as_ref()) };
    let layout = read_layout(&open.head, fields, at, diagnostics)?;
    let channels = channels::find(&layout, fields, at, &mut notes, diagnostics)?;
    let decimal = decimal(&open, &layout, fields, &channels, options, at, diagnostics)?;
    let first_line = data_from(&open, &layout);
    let stated = options.nulls.iter().chain(&open.nulls);
    let nulls = stated.filter_map(|n| nano(n.as_bytes(), decimal)).collect();
    let mut reader = Reader {
        options,
        channels: &channels,
        decimal,
        nulls,
        stamps: StampReader::new(options.times),
    };
    let sink = if let Index::Depth { .. } = &channels.index {
        Sink::Depth(Box::new(ByDepth::new(&options.rules, channels.rpm_unit)))
    } else {
        let stamps = head_times(&open, first_line, &mut reader);
        reader.stamps = StampReader::new(options.times);
        let gap = gap_of(&options.rules, &stamps);
        notes.push(format!("a step longer than {} s is a gap", gap / 1000));
        let zero = match (&channels.index, &options.run) {
            (Index::Elapsed(_), Some(run)) => *run.start(),
            _ => 0,
        };
        let breaks = options.breaks.iter().map(|b| b - zero).collect();
        Sink::Time(Box::new(ByTime::new(&options.rules, gap, channels.rpm_unit, breaks)))
    };
    let mut pass = Pass {
        reader,
        sink,
        other_speed: vec![false; channels.rpm_others.len()],
        used: Used::default(),
        bad_time: None,
    };
    let rows = match pass.run(&mut open, first_line, world) {
        Ok(rows) => rows,
        Err(e) => {
            let d = Diagnostic::error(name, e.to_string());
            diagnostics.push(match e {
                PassError::Reversed => {
                    d.help("sort it, oldest row first: it is not read backwards")
                }
                _ => d,
            });
            return None;
        }
    };
    if let Some(at) = open.nul_at() {
        let no_text = super::text::NotText::Nul { at };
        diagnostics.push(Diagnostic::error(name, no_text.to_string()).help(no_text.help()));
        return None;
    }
    if pass.reader.stamps.twice {
        notes.push(format!(
            "the clock of {} is put back in this log: of times that it shows twice the first is \
             taken, and the second where the log has come past that",
            options.times.clock
        ));
    }
    let sha256 = open.digest();
    let read = Finish { name, rows, sha256, options, channels: &channels, notes };
    read.finish(pass, diagnostics)
}

fn unopened(name: &str, e: &OpenError) -> Diagnostic {
    match e {
        OpenError::Io(io) => super::content::unreadable(name, io),
        OpenError::NotText(t) => Diagnostic::error(name, t.to_string()).help(t.help()),
        OpenError::Large => {
            Diagnostic::error(name, e.to_string()).help("export the log as CSV, which streams")
        }
        OpenError::Document(d) => (**d).clone(),
        OpenError::Las(l) => Diagnostic::error(name, l.to_string()).help(l.help()),
    }
}

/// The line at which the data begin.
fn data_from(open: &Open<'_>, layout: &Layout) -> u64 {
    match open.head.get(layout.first_data) {
        Some(row) => row.number,
        None => open.head.last().map_or(0, |r| r.number) + 1,
    }
}

fn decimal(
    open: &Open<'_>,
    layout: &Layout,
    fields: &Fields,
    channels: &Channels,
    options: &LogOptions,
    at: Where<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<Decimal> {
    if let Some(decimal) = options.decimal {
        return Some(decimal);
    }
    let stamped = matches!(channels.index, Index::Stamp { .. });
    let mut vote = DecimalVote::default();
    for row in open.head.iter().skip(layout.first_data) {
        for c in &layout.columns {
            let field = &fields[c.field];
            if field.holds.numeric()
                && !(field.key == "time" && stamped)
                && let Some(cell) = row.cells.get(c.number - 1)
                && !is_null(cell, &options.nulls)
            {
                vote.see(cell);
            }
        }
    }
    match vote.verdict() {
        DecimalVerdict::Sign(sign) => Some(sign),
        DecimalVerdict::Unclear(cell) => {
            diagnostics.push(
                Diagnostic::error(
                    at.file,
                    format!("'{cell}' may be a decimal number or have a comma between thousands"),
                )
                .help("state the decimal sign: --decimal comma or --decimal point"),
            );
            None
        }
        DecimalVerdict::Mixed(point, comma) => {
            diagnostics.push(
                Diagnostic::error(
                    at.file,
                    format!("'{point}' has a decimal point and '{comma}' a decimal comma"),
                )
                .help("write all numbers of a file with one decimal sign"),
            );
            None
        }
    }
}

fn head_times(open: &Open<'_>, first_line: u64, reader: &mut Reader<'_>) -> Vec<i64> {
    let mut cells = Cells::default();
    open.head
        .iter()
        .filter(|r| r.number >= first_line)
        .filter_map(|r| {
            cells.clear();
            r.cells.iter().for_each(|c| cells.push(c.as_bytes()));
            reader.time(&cells)
        })
        .collect()
}
