//! One pass over the rows of a log.

use super::LogOptions;
use super::channels::{Channel, Channels, Index};
use super::counts::{Counts, Why};
use super::depth::{self, ByDepth};
use super::source::{Cells, Open};
use super::time::{ByTime, Sample};
use crate::intake::lookup::World;
use crate::intake::number::{Decimal, is_null_nano, nano};
use crate::intake::when::StampReader;

/// Speeds above this are no rotary speed of a rig, thousandths of a revolution a minute.
const FASTEST_MRPM: f64 = 500_000.0;
/// The value at which a 16-bit register sticks.
const CEILING: [i64; 2] = [32_767_000_000_000, -32_768_000_000_000];
/// Rows between two reports to the watcher.
const REPORT: u64 = 1 << 16;

/// Reads values of a row.
pub(super) struct Reader<'a> {
    pub options: &'a LogOptions,
    pub channels: &'a Channels,
    pub decimal: Decimal,
    /// Stated values that mean none, in billionths.
    pub nulls: Vec<i64>,
    pub stamps: StampReader,
}

impl Reader<'_> {
    /// Billionths of a cell's number; `None` for every kind of no value.
    fn nano(&self, cells: &Cells, at: usize) -> Option<i64> {
        let bytes = cells.get(at)?;
        let value = nano(bytes, self.decimal)?;
        if is_null_nano(value) {
            return None;
        }
        if self.nulls.contains(&value) {
            return None;
        }
        Some(value)
    }

    pub(super) fn time(&mut self, cells: &Cells) -> Option<i64> {
        match &self.channels.index {
            Index::Stamp { date: None, time } => self.stamps.read(cells.get(*time)?),
            Index::Stamp { date: Some(date), time } => {
                let (day, time) = (cells.get(*date)?, cells.get(*time)?);
                if time.len() > 14 {
                    return self.stamps.read(time); // it has its day with it
                }
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

    /// The time of a row as written.
    fn time_text(&self, cells: &Cells) -> Option<String> {
        let text = |at: usize| Some(crate::intake::text::cell(cells.get(at)?).trim().to_owned());
        match &self.channels.index {
            Index::Stamp { date: Some(date), time } => {
                Some(format!("{} {}", text(*date)?, text(*time)?))
            }
            Index::Stamp { date: None, time } => text(*time),
            Index::Elapsed(c) => text(c.at),
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

pub(super) enum Sink {
    Time(Box<ByTime>),
    Depth(Box<ByDepth>),
}

/// Which optional channels ever had a value other than 0.
#[derive(Clone, Copy, Debug, Default)]
#[expect(clippy::struct_excessive_bools, reason = "one for each channel")]
pub(super) struct Used {
    pub speed: bool,
    pub wob: bool,
    pub torque: bool,
    pub hole: bool,
}

/// A pass under way.
pub(super) struct Pass<'a> {
    pub reader: Reader<'a>,
    pub sink: Sink,
    /// Which of the columns of rotary speed that are not used ever turned.
    pub other_speed: Vec<bool>,
    pub used: Used,
    /// The first time that cannot be read.
    pub bad_time: Option<String>,
}

/// Why a pass ended early.
#[derive(Debug, thiserror::Error)]
pub(super) enum PassError {
    #[error("the file cannot be read further: {0}")]
    Io(#[from] std::io::Error),
    #[error("reading was stopped")]
    Stopped,
    #[error("the log runs from its end to its beginning")]
    Reversed,
}

impl Pass<'_> {
    fn counts(&mut self) -> &mut Counts {
        match &mut self.sink {
            Sink::Time(t) => &mut t.counts,
            Sink::Depth(d) => &mut d.counts,
        }
    }

    /// Reads every row; the number of rows read.
    pub(super) fn run(
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
            if self.bad_time.is_none() {
                self.bad_time = self.reader.time_text(cells);
            }
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
