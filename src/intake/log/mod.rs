//! Operating logs into segments: a million rows stream by, some hundred segments stay.
//!
//! A row speaks for the time (or the step of depth) since the row before. Turns and rotating
//! hours over the segments equal the log's own sums exactly, in thousandths of a turn and in
//! milliseconds; the segments follow each other without a gap in time or depth. What condensing
//! costs is where the bit is within a segment; the bound on that is stated with the cut.

mod channels;
mod counts;
mod depth;
mod piece;
mod rules;
mod source;
mod time;

pub(super) use channels::fields;
pub use rules::{CutError, CutRules};
pub(super) use source::hex;

use std::ops::RangeInclusive;

use super::diagnostic::{Diagnostic, Diagnostics};
use super::lookup::{World, base_name};
use super::number::{Decimal, DecimalVerdict, DecimalVote, is_null, is_null_nano, nano};
use super::table::{Columns, Delimiter, Field, Layout, Where, read_layout, titles};
use super::when::{Clock, StampReader};
use crate::model::{Activity, LogSource, Segment};
use channels::{Channel, Channels, Index};
use counts::{Why, hours, metres};
use depth::ByDepth;
use piece::{Piece, State};
use source::{Cells, Open, OpenError};
use time::{ByTime, Sample, gap_of};

/// How a log is read.
#[derive(Clone, Debug, Default)]
pub struct LogOptions {
    /// Stated columns.
    pub columns: Option<Columns>,
    /// Delimiter.
    pub delimiter: Option<Delimiter>,
    /// Decimal sign.
    pub decimal: Option<Decimal>,
    /// Texts that mean "no value", besides the usual ones.
    pub nulls: Vec<String>,
    /// Clock of times without an offset.
    pub clock: Clock,
    /// The cut.
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
    /// Rows that count.
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

/// Speeds above this are no rotary speed of a rig, thousandths of a revolution a minute.
const FASTEST_MRPM: f64 = 500_000.0;
/// The value at which a 16-bit register sticks.
const CEILING: [i64; 2] = [32_767_000_000_000, -32_768_000_000_000];
/// Rows between two reports to the watcher.
const REPORT: u64 = 1 << 16;

/// Reads a log. `None` when it cannot be read; the reasons are diagnostics then.
pub fn read(
    name: &str,
    options: &LogOptions,
    world: &World<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<LogRead> {
    let fields = fields();
    let known = |cells: &[String]| titles(cells, &fields, options.columns.as_ref()).len();
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
    let at = Where { file: name, sheet: None, stated: options.columns.as_ref() };
    let layout = read_layout(&open.head, &fields, at, diagnostics)?;
    let channels = channels::find(&layout, &fields, at, &mut notes, diagnostics)?;
    let decimal = decimal(&open, &layout, &fields, &channels, options, at, diagnostics)?;
    let first_line = data_from(&open, &layout);
    let mut reader =
        Reader { options, channels: &channels, decimal, stamps: StampReader::new(options.clock) };
    let sink = match &channels.index {
        Index::Depth { .. } => {
            Sink::Depth(Box::new(ByDepth::new(&options.rules, channels.rpm_unit)))
        }
        _ => {
            let stamps = head_times(&open, first_line, &mut reader);
            let gap = gap_of(&options.rules, &stamps);
            notes.push(format!("a step longer than {} s is a gap", gap / 1000));
            let zero = match (&channels.index, &options.run) {
                (Index::Elapsed(_), Some(run)) => *run.start(),
                _ => 0,
            };
            let breaks = options.breaks.iter().map(|b| b - zero).collect();
            Sink::Time(Box::new(ByTime::new(&options.rules, gap, channels.rpm_unit, breaks)))
        }
    };
    let mut pass = Pass {
        reader,
        sink,
        other_speed: vec![false; channels.rpm_others.len()],
        used: Used::default(),
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
    let sha256 = open.digest();
    let read = Finish { name, rows, sha256, options, channels: &channels, notes };
    read.finish(pass, diagnostics)
}

fn unopened(name: &str, e: &OpenError) -> Diagnostic {
    match e {
        OpenError::Io(io) => super::unreadable(name, io),
        OpenError::NotText(t) => Diagnostic::error(name, t.to_string()).help(t.help()),
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
    fields: &[Field],
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

/// Reads values of a row.
struct Reader<'a> {
    options: &'a LogOptions,
    channels: &'a Channels,
    decimal: Decimal,
    stamps: StampReader,
}

impl Reader<'_> {
    /// Billionths of a cell's number; `None` for every kind of no value.
    fn nano(&self, cells: &Cells, at: usize) -> Option<i64> {
        let bytes = cells.get(at)?;
        let value = nano(bytes, self.decimal)?;
        if is_null_nano(value) {
            return None;
        }
        let stated = &self.options.nulls;
        if !stated.is_empty() && stated.iter().any(|n| n.as_bytes() == bytes.trim_ascii()) {
            return None;
        }
        Some(value)
    }

    fn time(&mut self, cells: &Cells) -> Option<i64> {
        match &self.channels.index {
            Index::Stamp { date: None, time } => self.stamps.read(cells.get(*time)?),
            Index::Stamp { date: Some(date), time } => {
                let (day, time) = (cells.get(*date)?, cells.get(*time)?);
                let mut both = Vec::with_capacity(32);
                both.extend_from_slice(day.trim_ascii());
                both.push(b' ');
                both.extend_from_slice(time.trim_ascii());
                self.stamps.read(&both)
            }
            Index::Elapsed(c) => Some(round(self.nano(cells, c.at)? as f64 * c.scale)),
            Index::Depth { .. } => None,
        }
    }

    /// The first of some columns with a value, in whole quanta.
    fn first(&self, cells: &Cells, list: &[Channel], zero_is_none: bool) -> Option<i64> {
        list.iter().find_map(|c| {
            let value = self.nano(cells, c.at)?;
            (value != 0 || !zero_is_none).then(|| round(value as f64 * c.scale))
        })
    }
}

#[expect(clippy::cast_possible_truncation, reason = "floats saturate; checks of range follow")]
fn round(value: f64) -> i64 {
    value.round_ties_even() as i64
}

/// Where samples go.
enum Sink {
    Time(Box<ByTime>),
    Depth(Box<ByDepth>),
}

/// Which optional channels ever had a value other than 0.
#[derive(Clone, Copy, Debug, Default)]
struct Used {
    speed: bool,
    wob: bool,
    torque: bool,
    hole: bool,
}

struct Pass<'a> {
    reader: Reader<'a>,
    sink: Sink,
    other_speed: Vec<bool>,
    used: Used,
}

#[derive(Debug, thiserror::Error)]
enum PassError {
    #[error("the file cannot be read further: {0}")]
    Io(#[from] std::io::Error),
    #[error("reading was stopped")]
    Stopped,
    #[error("the log runs from its end to its beginning")]
    Reversed,
}

impl Pass<'_> {
    fn counts(&mut self) -> &mut counts::Counts {
        match &mut self.sink {
            Sink::Time(t) => &mut t.counts,
            Sink::Depth(d) => &mut d.counts,
        }
    }

    fn run(
        &mut self,
        open: &mut Open<'_>,
        first_line: u64,
        world: &World<'_>,
    ) -> Result<u64, PassError> {
        let c = self.reader.channels;
        let needed = 1 + [c.rpm_at]
            .into_iter()
            .chain(c.bit.iter().chain(&c.hole).chain(&c.wob).map(|c| c.at))
            .max()
            .unwrap_or(0);
        let mut cells = Cells::default();
        let mut rows = 0u64;
        while let Some(line) = open.next(&mut cells)? {
            if line < first_line {
                continue;
            }
            rows += 1;
            if rows.is_multiple_of(REPORT) && open.report(rows, world) {
                return Err(PassError::Stopped);
            }
            if cells.len() < needed {
                self.counts().add(Why::Short, line);
                continue;
            }
            match &self.reader.channels.index {
                Index::Depth { .. } => self.depth_row(&cells, line),
                _ => self.time_row(&cells, line),
            }
            if rows == 200 && self.reversed() {
                return Err(PassError::Reversed);
            }
        }
        if self.reversed() {
            return Err(PassError::Reversed);
        }
        if open.report(rows, world) {
            return Err(PassError::Stopped);
        }
        Ok(rows)
    }

    fn reversed(&self) -> bool {
        match &self.sink {
            Sink::Time(t) => t.reversed(),
            Sink::Depth(d) => d.reversed(),
        }
    }

    /// The surface speed: `None` when the row has none that can be.
    fn speed(&mut self, cells: &Cells, line: u64) -> Option<i64> {
        let c = self.reader.channels;
        let Some(speed) = self.reader.nano(cells, c.rpm_at) else {
            self.counts().add(Why::NoRpm, line);
            return None;
        };
        let (num, den) = c.rpm_unit;
        if speed as f64 * (num as f64 / den as f64) * 60_000.0 / 1e9 > FASTEST_MRPM {
            self.counts().add(Why::Fast, line);
            return None;
        }
        self.used.speed |= speed != 0;
        for (i, (at, _)) in c.rpm_others.iter().enumerate() {
            if !self.other_speed[i] {
                self.other_speed[i] = self.reader.nano(cells, *at).is_some_and(|v| v > 0);
            }
        }
        // Some tops drives log the direction as a sign.
        Some(speed.abs())
    }

    fn optional(&mut self, cells: &Cells, channel: Option<&Channel>, line: u64) -> Option<i64> {
        let channel = channel?;
        let value = self.reader.nano(cells, channel.at)?;
        if CEILING.contains(&value) {
            self.counts().add(Why::Ceiling, line);
            return None;
        }
        Some(round(value as f64 * channel.scale))
    }

    fn loads(&mut self, cells: &Cells, line: u64) -> (Option<i64>, Option<i64>, Option<i64>) {
        let c = self.reader.channels;
        let wob = self.optional(cells, c.wob.as_ref(), line);
        let torque = self.optional(cells, c.torque.as_ref(), line);
        // The block alone weighs more than nothing: 0 is no value.
        let hookload = self.optional(cells, c.hookload.as_ref(), line).filter(|h| *h > 0);
        self.used.wob |= wob.is_some_and(|w| w != 0);
        self.used.torque |= torque.is_some_and(|t| t != 0);
        (wob, torque, hookload)
    }

    fn time_row(&mut self, cells: &Cells, line: u64) {
        let c = self.reader.channels;
        let Some(ms) = self.reader.time(cells) else {
            self.counts().add(Why::NoTime, line);
            return;
        };
        if self
            .reader
            .options
            .run
            .as_ref()
            .is_some_and(|r| !matches!(c.index, Index::Elapsed(_)) && !r.contains(&ms))
        {
            self.counts().add(Why::Outside, line);
            return;
        }
        let Some(bit_mm) = self.reader.first(cells, &c.bit, false) else {
            self.counts().add(Why::NoBit, line);
            return;
        };
        let Some(nano_speed) = self.speed(cells, line) else { return };
        let hole_mm = self.reader.first(cells, &c.hole, true);
        self.used.hole |= hole_mm.is_some();
        let (wob, torque, hookload) = self.loads(cells, line);
        if let Sink::Time(t) = &mut self.sink {
            t.push(&Sample { row: line, ms, bit_mm, hole_mm, nano_speed, wob, torque, hookload });
        }
    }

    fn depth_row(&mut self, cells: &Cells, line: u64) {
        let c = self.reader.channels;
        let Index::Depth { rop } = &c.index else { return };
        let fine =
            c.hole.iter().find_map(|h| Some(self.reader.nano(cells, h.at)? as f64 * h.scale));
        let Some(fine_mm) = fine else {
            self.counts().add(Why::NoTime, line);
            return;
        };
        let depth_mm = round(fine_mm);
        if self.reader.options.depths.as_ref().is_some_and(|d| !d.contains(&depth_mm)) {
            self.counts().add(Why::Outside, line);
            return;
        }
        let Some(nano_speed) = self.speed(cells, line) else { return };
        let rate = self.reader.nano(cells, rop.at).map(|v| v as f64 * rop.scale).and_then(|v| {
            let rate = if rop.inverse { 1.0 / v } else { v };
            rate.is_finite().then_some(rate)
        });
        let (wob, torque, hookload) = self.loads(cells, line);
        if let Sink::Depth(d) = &mut self.sink {
            d.push(&depth::Sample {
                row: line,
                depth_mm,
                fine_mm,
                rate,
                nano_speed,
                wob,
                torque,
                hookload,
            });
        }
    }
}

/// What is needed to tell the result of a pass.
struct Finish<'a> {
    name: &'a str,
    rows: u64,
    sha256: String,
    options: &'a LogOptions,
    channels: &'a Channels,
    notes: Vec<String>,
}

impl Finish<'_> {
    fn warn(&self, diagnostics: &mut Diagnostics, message: String, help: &str) {
        let d = Diagnostic::warning(self.name, message);
        diagnostics.push(if help.is_empty() { d } else { d.help(help) });
    }

    fn error(&self, diagnostics: &mut Diagnostics, message: String, help: &str) {
        diagnostics.push(Diagnostic::error(self.name, message).help(help));
    }

    fn finish(mut self, pass: Pass<'_>, diagnostics: &mut Diagnostics) -> Option<LogRead> {
        let before = diagnostics.errors();
        let Pass { sink, other_speed, used, .. } = pass;
        if !used.speed {
            for ((_, title), seen) in self.channels.rpm_others.iter().zip(&other_speed) {
                if *seen {
                    let message = format!(
                        "'{}' is 0 throughout, while '{title}' is not",
                        self.channels.rpm_title
                    );
                    self.error(diagnostics, message, "state which column is the rotation of the pipe: --columns '\"its title\" = rpm [rpm]'");
                }
            }
        }
        let (counts, used_rows, fastest) = match &sink {
            Sink::Time(t) => (&t.counts, t.rows_used, t.fastest_mrpm),
            Sink::Depth(d) => (&d.counts, d.rows_used, d.fastest_mrpm),
        };
        let mut left_out = counts.words();
        if used_rows < 2 {
            let why = if left_out.is_empty() {
                String::new()
            } else {
                format!(": {}", left_out.join("; "))
            };
            self.error(diagnostics, format!("of {} rows {used_rows} can be used{why}", self.rows), "a log needs two rows or more with time, bit depth and rotary speed, inside the run");
            return None;
        }
        let back = counts.of(Why::Backward);
        if back * 10 > self.rows {
            self.error(
                diagnostics,
                format!("{back} of {} rows go back in time", self.rows),
                "sort the log by time, or take in its parts in order",
            );
        }
        let fast = counts.of(Why::Fast);
        if fast >= 20 && fast * 100 > self.rows {
            self.error(
                diagnostics,
                format!("{fast} of {} rows turn faster than 500 rpm", self.rows),
                "check the unit of the rotary speed: --columns '\"its title\" = rpm [rpm]'",
            );
        }
        if used.speed && (1.0..8_000.0).contains(&fastest) {
            self.warn(
                diagnostics,
                format!("the fastest rotation of the whole log is {:.2} rpm", fastest / 1000.0),
                "if the column is in revolutions a second, say so: [c/s]",
            );
        }
        if !used.speed {
            self.warn(diagnostics, "nothing rotates in this log".to_owned(), "");
        }
        for (missing, title) in [
            (self.channels.wob.is_some() && !used.wob, "weight on bit"),
            (self.channels.torque.is_some() && !used.torque, "torque"),
        ] {
            if missing {
                self.notes.push(format!("the {title} is 0 throughout: taken as not recorded"));
            }
        }
        let (pieces, start_mm, milli_turns, rotating_us, first, absolute) = match sink {
            Sink::Time(t) => {
                self.tell_time(&t, used, &mut left_out, diagnostics);
                let absolute = !matches!(self.channels.index, Index::Elapsed(_));
                let (first, start) = t.first.unwrap_or_default();
                let (milli, us) = (t.pieces.total_milli(), t.pieces.rotating_us());
                (t.pieces.finish(), start, milli, us, first, absolute)
            }
            Sink::Depth(d) => {
                self.tell_depth(&d, &mut left_out, diagnostics);
                let start = d.first_mm.unwrap_or_default();
                let (milli, us) = (d.pieces.total_milli(), d.pieces.rotating_us());
                (d.pieces.finish(), start, milli, us, 0, false)
            }
        };
        if diagnostics.errors() > before {
            return None;
        }
        let total: i64 = pieces.iter().map(|p| p.duration_ms).sum();
        let first_ms = absolute.then_some(first);
        let last_ms = first_ms.map(|f| f + total);
        // Segments count from the start of the run; elapsed time does so by itself.
        let origin = match (absolute, &self.options.run) {
            (true, Some(run)) => first - run.start(),
            (true, None) => 0,
            (false, _) => first,
        };
        let (segments, error_mm, shift_ms) =
            segments(&pieces, start_mm, origin, used, self.options.rules.depth_error_mm);
        let cut = format!(
            "{}; bit within {} of the log at every turn, instants within {:.1} min",
            self.options.rules,
            metres(error_mm),
            shift_ms as f64 / 60_000.0
        );
        let source = LogSource {
            file: base_name(self.name).to_owned(),
            sha256: self.sha256,
            rows: self.rows,
            left_out,
            cut,
        };
        Some(LogRead {
            segments,
            source,
            first_ms,
            last_ms,
            rows_used: used_rows,
            milli_turns,
            rotating_ms: i64::try_from((rotating_us + 500) / 1000).unwrap_or(i64::MAX),
            error_mm,
            shift_ms,
            notes: self.notes,
        })
    }

    fn tell_time(
        &mut self,
        t: &ByTime,
        used: Used,
        left_out: &mut Vec<String>,
        diagnostics: &mut Diagnostics,
    ) {
        if t.above_table > 0 {
            left_out
                .push(format!("{} rows rotate with the bit above the rotary table", t.above_table));
        }
        let g = t.gaps;
        if g.count > 0 {
            left_out.push(format!("{} gaps of {} in all", g.count, hours(g.ms)));
            if g.deepened_mm > 0 {
                self.warn(
                    diagnostics,
                    format!(
                        "the hole is {} deeper after gaps of {} (first: row {})",
                        metres(g.deepened_mm),
                        hours(g.ms),
                        g.first_row
                    ),
                    "rotation in a gap is not in the log and counts for nothing",
                );
            }
        }
        if !used.hole {
            self.warn(
                diagnostics,
                "the log has no depth of the hole: the deepest bit depth so far stands for it"
                    .to_owned(),
                "a log that begins above the bottom of the hole shows its way down as drilling",
            );
        } else if !t.whole_hole {
            self.notes.push("rows without a depth of the hole keep the one before".to_owned());
        }
        for (why, what) in [(Why::NoRpm, "rotary speed"), (Why::NoBit, "bit depth")] {
            let n = t.counts.of(why);
            if n * 20 > self.rows {
                self.warn(
                    diagnostics,
                    format!("{n} of {} rows have no {what}", self.rows),
                    "the next whole row speaks for them, unless a gap results",
                );
            }
        }
    }

    fn tell_depth(
        &mut self,
        d: &ByDepth,
        left_out: &mut Vec<String>,
        diagnostics: &mut Diagnostics,
    ) {
        if d.gaps > 0 {
            left_out.push(format!("{} gaps of {} in all", d.gaps, metres(d.gap_mm)));
        }
        if d.back > 0 {
            left_out.push(format!("{} steps back", d.back));
        }
        if d.again_mm > 0 {
            self.notes.push(format!(
                "{} passed again after steps back count as reaming",
                metres(d.again_mm)
            ));
        }
        let spikes = d.counts.of(Why::RateSpike);
        if spikes > 0 {
            self.warn(
                diagnostics,
                format!(
                    "{spikes} steps have a rate of penetration above {} m/h and count for nothing",
                    self.options.rules.rop_max_mmh.unwrap_or(0) / 1000
                ),
                "if the rock is that soft, raise the setting rop_max_mmh",
            );
        }
        if !self.options.breaks.is_empty() {
            self.error(
                diagnostics,
                "a log by depth has no clock, and the tally changes at an instant".to_owned(),
                "divide the run where the tally changes",
            );
        }
    }
}

/// Pieces as segments: each begins where and when the one before ends.
fn segments(
    pieces: &[Piece],
    start_mm: i64,
    origin_ms: i64,
    used: Used,
    depth_error_mm: i64,
) -> (Vec<Segment>, i64, i64) {
    let (mut at_ms, mut at_mm) = (origin_ms, start_mm);
    let (mut error, mut shift) = (0, 0);
    let segments = pieces
        .iter()
        .map(|p| {
            if p.state != State::Idle {
                error = error.max(p.error_mm);
                shift = shift.max(p.shift_ms);
            }
            let activity = match p.state {
                State::Drilling => Activity::RotatingOnBottom,
                State::Sliding => Activity::Sliding,
                State::Idle => Activity::NotRotating,
                State::Reaming if p.down_mm > depth_error_mm => Activity::ReamingDown,
                State::Reaming if p.down_mm < -depth_error_mm => Activity::ReamingUp,
                State::Reaming => Activity::RotatingOffBottom,
            };
            let segment = Segment {
                activity,
                start_ms: at_ms,
                duration_ms: p.duration_ms,
                bit_from_mm: at_mm,
                bit_to_mm: at_mm + p.down_mm,
                milli_turns: p.milli_turns,
                wob_n: p.means.wob.value().filter(|_| used.wob),
                torque_nm: p.means.torque.value().filter(|_| used.torque),
                hookload_n: p.means.hookload.value(),
            };
            at_ms += p.duration_ms;
            at_mm += p.down_mm;
            segment
        })
        .collect();
    (segments, error, shift)
}
