//! One pass over the rows of a log.

use super::LogOptions;
use super::channels::{Channel, Channels, Index};
use super::counts::{Counts, Why};
use super::depth::{self, ByDepth};
use super::doubled::Doubled;
use super::piece::rpm_in_nano;
use super::source::{Cells, Open};
use super::time::{ByTime, Sample};
use crate::intake::lookup::World;
use crate::intake::number::{Decimal, is_null_nano, nano};
use crate::intake::when::StampReader;

/// Speeds above this are no rotary speed of a rig, revolutions a minute.
const FASTEST_RPM: f64 = 500.0;
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

/// A row that was read, of a log by time or by depth.
#[derive(Clone, Copy, Debug)]
pub(super) enum Sampled {
    Time(Sample),
    Depth(depth::Sample),
}

impl Sampled {
    /// Where it stands: ms or mm.
    const fn at(&self) -> i64 {
        match self {
            Self::Time(s) => s.ms,
            Self::Depth(s) => s.depth_mm,
        }
    }

    const fn row(&self) -> u64 {
        match self {
            Self::Time(s) => s.row,
            Self::Depth(s) => s.row,
        }
    }
}

/// What the sections of a log (its files, its parts, its headers) come to.
pub(super) struct Gathered {
    pub sink: Sink,
    /// Revolutions a second in one unit of the speed of the first section.
    pub unit: (i128, i128),
    /// Columns of rotary speed that are not used, and whether they ever turned.
    pub other_speed: Vec<(String, bool)>,
    pub used: Used,
    /// The first time that cannot be read.
    pub bad_time: Option<String>,
    pub rows: u64,
    /// Rows held back, section by section, where they must be put in order first.
    held: Option<Vec<Vec<Sampled>>>,
    /// How many they are.
    held_rows: usize,
    /// What the sections before this one tell.
    told: Covered,
    /// What this section tells.
    section: Covered,
    /// What parts tell of one time, where the log has several.
    pub doubled: Option<Doubled>,
}

/// Rows that are held in memory at most, to be put in order.
const MOST_HELD: usize = 4_000_000;
/// Stretches without a gap that are kept at most; of a log with more only the last is known, and a part
/// that reaches before it is put in order with the rest.
const MOST_STRETCHES: usize = 100_000;

/// Where rows stand, as stretches without a gap.
#[derive(Clone, Debug, Default)]
struct Covered {
    /// First and last place of each, one after the other.
    stretches: Vec<(i64, i64)>,
}

impl Covered {
    /// Adds the place of a row; rows further apart than a gap are two stretches. A row that goes back
    /// adds nothing.
    fn add(&mut self, at: i64, gap: i64) {
        match self.stretches.last_mut() {
            Some((_, to)) if at <= *to => {}
            Some((_, to)) if at - *to <= gap => *to = at,
            _ => self.stretches.push((at, at)),
        }
    }

    /// Adds the stretches of another list; those no further apart than a gap are one.
    fn join(&mut self, other: Self, gap: i64) {
        let mut all = std::mem::take(&mut self.stretches);
        all.extend(other.stretches);
        all.sort_unstable();
        for (from, to) in all {
            match self.stretches.last_mut() {
                Some((_, end)) if from - *end <= gap => *end = to.max(*end),
                _ => self.stretches.push((from, to)),
            }
        }
    }

    /// Whether a place lies in a stretch.
    fn holds(&self, at: i64) -> bool {
        let next = self.stretches.partition_point(|(_, to)| *to < at);
        self.stretches.get(next).is_some_and(|(from, _)| *from <= at)
    }

    /// The last place.
    fn reach(&self) -> Option<i64> {
        self.stretches.last().map(|s| s.1)
    }
}

impl Gathered {
    pub(super) fn new(sink: Sink, unit: (i128, i128), in_order: bool, several: bool) -> Self {
        Self {
            sink,
            unit,
            other_speed: Vec::new(),
            used: Used::default(),
            bad_time: None,
            rows: 0,
            held: (!in_order).then(Vec::new),
            held_rows: 0,
            told: Covered::default(),
            section: Covered::default(),
            doubled: several.then(Doubled::default),
        }
    }

    pub(super) fn counts(&mut self) -> &mut Counts {
        match &mut self.sink {
            Sink::Time(t) => &mut t.counts,
            Sink::Depth(d) => &mut d.counts,
        }
    }

    /// The slot of a column of rotary speed that is not used.
    pub(super) fn other(&mut self, title: &str) -> usize {
        let known = self.other_speed.iter().position(|o| o.0 == title);
        known.unwrap_or_else(|| {
            self.other_speed.push((title.to_owned(), false));
            self.other_speed.len() - 1
        })
    }

    /// Another section begins.
    pub(super) fn begin(&mut self) {
        self.told.stretches.append(&mut self.section.stretches);
        if let Some(held) = &mut self.held {
            held.push(Vec::new());
        }
    }

    fn reversed(&self) -> bool {
        match &self.sink {
            Sink::Time(t) => t.reversed(),
            Sink::Depth(d) => d.reversed(),
        }
    }

    /// A step longer than this is a gap, ms or mm.
    const fn gap(&self) -> i64 {
        match &self.sink {
            Sink::Time(t) => t.gap_ms(),
            Sink::Depth(d) => d.gap_mm(),
        }
    }

    fn take(&mut self, sampled: Sampled) -> Result<(), PassError> {
        if let Some(held) = &mut self.held {
            if let Some(section) = held.last_mut() {
                section.push(sampled);
                self.held_rows += 1;
                if self.held_rows > MOST_HELD {
                    return Err(PassError::Large);
                }
            }
            return Ok(());
        }
        let at = sampled.at();
        if self.told.reach().is_some_and(|reach| at <= reach) {
            // What a part before lacks is told by this one: the two are put in order.
            if !self.told.holds(at) {
                return Err(PassError::Disordered);
            }
            self.told_before(&sampled);
            return Ok(());
        }
        let gap = self.gap();
        self.section.add(at, gap);
        let stretches = &mut self.section.stretches;
        if stretches.len() > MOST_STRETCHES {
            stretches.drain(..stretches.len() - 1);
        }
        self.give(&sampled);
        Ok(())
    }

    /// A row of which an earlier part tells the time.
    fn told_before(&mut self, sampled: &Sampled) {
        self.counts().add(Why::Told, sampled.row());
        if let (Some(doubled), Sampled::Time(s)) = (&mut self.doubled, sampled) {
            doubled.told_before(s);
        }
    }

    fn give(&mut self, sampled: &Sampled) {
        if let (Some(doubled), Sampled::Time(s)) = (&mut self.doubled, sampled) {
            doubled.counts(s);
        }
        match (&mut self.sink, sampled) {
            (Sink::Time(t), Sampled::Time(s)) => t.push(s),
            (Sink::Depth(d), Sampled::Depth(s)) => d.push(s),
            // A section of the other kind was refused before its rows.
            (Sink::Time(_), Sampled::Depth(_)) | (Sink::Depth(_), Sampled::Time(_)) => {}
        }
    }

    /// Everything was read: gives the rows that were held back, each section from its beginning, put
    /// together by their places. Where two tell one stretch, the one that begins earlier counts.
    pub(super) fn end(&mut self) -> Result<(), PassError> {
        let mut sections = self.held.take().unwrap_or_default();
        sections.retain(|s| !s.is_empty());
        for rows in &mut sections {
            let back = rows.windows(2).filter(|w| w[1].at() < w[0].at()).count();
            let forth = rows.windows(2).filter(|w| w[1].at() > w[0].at()).count();
            if back > forth {
                rows.reverse();
            }
        }
        sections.sort_by_key(|rows| rows.first().map(Sampled::at));
        let gap = self.gap();
        let (mut told, mut all) = (Covered::default(), Vec::new());
        for rows in sections {
            // Each section keeps its own order: a row that goes back stays behind those before it.
            let (mut own, mut reach) = (Covered::default(), i64::MIN);
            for sampled in rows {
                let at = sampled.at();
                if told.holds(at) {
                    self.told_before(&sampled);
                    continue;
                }
                reach = reach.max(at);
                own.add(at, gap);
                all.push((reach, sampled));
            }
            told.join(own, gap);
        }
        // Of two at one place the earlier section comes first.
        all.sort_by_key(|(reach, _)| *reach);
        all.iter().for_each(|(_, sampled)| self.give(sampled));
        if self.reversed() { Err(PassError::Disordered) } else { Ok(()) }
    }
}

/// A pass over one section.
pub(super) struct Pass<'a> {
    pub reader: Reader<'a>,
    pub gathered: &'a mut Gathered,
    /// The header of the section, which may come again.
    pub header: &'a [String],
    /// Whether the cells of a row name columns.
    pub is_header: &'a dyn Fn(&[String]) -> bool,
    /// First and last value of the index as written, in billionths, where the file states its ends.
    pub ends: Option<(i64, i64)>,
    /// What a speed of this section is in the unit of the first.
    pub speed: (i128, i128),
    /// Columns of rotary speed that are not used, and their slots in what is gathered.
    pub others: Vec<(usize, usize)>,
    /// The column that names the well of each row, where there is one.
    pub well_at: Option<usize>,
}

/// Why a section came to its end.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum End {
    File,
    /// Another header stands in the file, at this line.
    Header(u64, Vec<String>),
}

/// Why a pass ended early.
#[derive(Debug, thiserror::Error)]
pub(super) enum PassError {
    #[error("the file cannot be read further: {0}")]
    Io(#[from] std::io::Error),
    #[error("reading was stopped")]
    Stopped,
    #[error("its rows do not stand in order")]
    Disordered,
    #[error("the log does not stand in order and is too long to be put in order")]
    Large,
    #[error("the log is of two wells: '{one}', and from line {line} on '{other}'")]
    Wells { one: String, other: String, line: u64 },
}

/// Holds the well of a row against that of the rows before it.
fn same_well(known: &mut Option<Vec<u8>>, own: &[u8], line: u64) -> Result<(), PassError> {
    if own.is_empty() {
        return Ok(());
    }
    match known {
        Some(one) if one != own => {
            let text = |bytes: &[u8]| crate::intake::text::cell(bytes).into_owned();
            Err(PassError::Wells { one: text(one), other: text(own), line })
        }
        Some(_) => Ok(()),
        None => {
            *known = Some(own.to_vec());
            Ok(())
        }
    }
}

impl Pass<'_> {
    fn counts(&mut self) -> &mut Counts {
        self.gathered.counts()
    }

    /// Reads the rows of a section.
    pub(super) fn run(
        &mut self,
        open: &mut Open<'_>,
        first_line: u64,
        world: &World<'_>,
    ) -> Result<End, PassError> {
        let c = self.reader.channels;
        let needed = 1 + c
            .rpm_at
            .into_iter()
            .chain(c.bit.iter().chain(&c.hole).chain(&c.wob).map(|c| c.at))
            .max()
            .unwrap_or(0);
        let mut cells = Cells::default();
        let mut well: Option<Vec<u8>> = None;
        while let Some(line) = open.next(&mut cells)? {
            if line < first_line {
                continue;
            }
            if let Some(at) = self.well_at {
                same_well(&mut well, cells.get(at).unwrap_or_default().trim_ascii(), line)?;
            }
            self.gathered.rows += 1;
            let rows = self.gathered.rows;
            if rows.is_multiple_of(REPORT) && open.report(rows, world) {
                return Err(PassError::Stopped);
            }
            let readable = cells.len() >= needed && self.row(&cells, line)?;
            if !readable {
                if let Some(header) = self.header_in(&cells) {
                    if header != self.header {
                        self.gathered.rows -= 1;
                        return Ok(End::Header(line, header));
                    }
                    self.counts().add(Why::Header, line);
                } else {
                    self.unread(&cells, needed, line);
                }
            }
            if rows == 200 && self.gathered.reversed() {
                return Err(PassError::Disordered);
            }
        }
        if open.report(self.gathered.rows, world) {
            return Err(PassError::Stopped);
        }
        Ok(End::File)
    }

    /// The titles of a row that is a header.
    fn header_in(&self, cells: &Cells) -> Option<Vec<String>> {
        let rpm_at = self.reader.channels.rpm_at.unwrap_or_default();
        let rpm = cells.get(rpm_at.min(cells.len().saturating_sub(1)))?;
        let words = |c: &[u8]| c.trim_ascii().first().is_some_and(u8::is_ascii_alphabetic);
        if !words(rpm) {
            return None;
        }
        let text = |at: usize| {
            crate::intake::text::cell(cells.get(at).unwrap_or_default()).trim().to_owned()
        };
        let titles: Vec<String> = (0..cells.len()).map(text).collect();
        (self.is_header)(&titles).then_some(titles)
    }

    /// Counts a row whose place cannot be read.
    fn unread(&mut self, cells: &Cells, needed: usize, line: u64) {
        if cells.len() < needed {
            self.counts().add(Why::Short, line);
            return;
        }
        self.counts().add(Why::NoTime, line);
        if self.gathered.bad_time.is_none() {
            self.gathered.bad_time = self.reader.time_text(cells);
        }
    }

    /// Takes a row; false where its time or depth cannot be read.
    fn row(&mut self, cells: &Cells, line: u64) -> Result<bool, PassError> {
        match &self.reader.channels.index {
            Index::Depth { .. } => self.depth_row(cells, line),
            _ => self.time_row(cells, line),
        }
    }

    /// The surface speed: `None` when the row has none that can be.
    fn speed(&mut self, cells: &Cells, line: u64) -> Option<i64> {
        let c = self.reader.channels;
        let speed = match c.rpm_at {
            Some(at) => self.reader.nano(cells, at),
            None => self.reader.options.mean_speed,
        };
        let Some(speed) = speed else {
            self.counts().add(Why::NoRpm, line);
            return None;
        };
        if speed as f64 * rpm_in_nano(c.rpm_unit) > FASTEST_RPM {
            self.counts().add(Why::Fast, line);
            return None;
        }
        self.gathered.used.speed |= speed != 0;
        for (at, slot) in &self.others {
            let (_, seen) = &mut self.gathered.other_speed[*slot];
            *seen = *seen || self.reader.nano(cells, *at).is_some_and(|v| v > 0);
        }
        // Some tops drives log the direction as a sign.
        let speed = speed.abs();
        let (num, den) = self.speed;
        Some(if num == den {
            speed
        } else {
            i64::try_from(i128::from(speed) * num / den).unwrap_or(i64::MAX)
        })
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
        let used = &mut self.gathered.used;
        used.wob |= wob.is_some_and(|w| w != 0);
        used.torque |= torque.is_some_and(|t| t != 0);
        (wob, torque, hookload)
    }

    /// Notes the ends of the index as written.
    fn see_end(&mut self, cells: &Cells, at: usize) {
        if let Some(ends) = &mut self.ends
            && let Some(value) = self.reader.nano(cells, at)
        {
            *ends = (if ends.0 == i64::MIN { value } else { ends.0 }, value);
        }
    }

    fn time_row(&mut self, cells: &Cells, line: u64) -> Result<bool, PassError> {
        let c = self.reader.channels;
        let Some(ms) = self.reader.time(cells) else { return Ok(false) };
        if let Index::Elapsed(elapsed) = &c.index {
            self.see_end(cells, elapsed.at);
        }
        if self
            .reader
            .options
            .run
            .as_ref()
            .is_some_and(|r| !matches!(c.index, Index::Elapsed(_)) && !r.contains(&ms))
        {
            self.counts().add(Why::Outside, line);
            return Ok(true);
        }
        let Some(bit_mm) = self.reader.first(cells, &c.bit, false) else {
            self.counts().add(Why::NoBit, line);
            return Ok(true);
        };
        let Some(nano_speed) = self.speed(cells, line) else { return Ok(true) };
        let hole_mm = self.reader.first(cells, &c.hole, true);
        self.gathered.used.hole |= hole_mm.is_some();
        let (wob, torque, hookload) = self.loads(cells, line);
        let sample = Sample { row: line, ms, bit_mm, hole_mm, nano_speed, wob, torque, hookload };
        self.gathered.take(Sampled::Time(sample))?;
        Ok(true)
    }

    fn depth_row(&mut self, cells: &Cells, line: u64) -> Result<bool, PassError> {
        let c = self.reader.channels;
        let Index::Depth { rop } = &c.index else { return Ok(false) };
        let fine =
            c.hole.iter().find_map(|h| Some(self.reader.nano(cells, h.at)? as f64 * h.scale));
        let Some(fine_mm) = fine else { return Ok(false) };
        if let Some(hole) = c.hole.first() {
            self.see_end(cells, hole.at);
        }
        let depth_mm = round(fine_mm);
        if self.reader.options.depths.as_ref().is_some_and(|d| !d.contains(&depth_mm)) {
            self.counts().add(Why::Outside, line);
            return Ok(true);
        }
        let Some(nano_speed) = self.speed(cells, line) else { return Ok(true) };
        let rate = self.reader.nano(cells, rop.at).map(|v| v as f64 * rop.scale).and_then(|v| {
            let rate = if rop.inverse { 1.0 / v } else { v };
            rate.is_finite().then_some(rate)
        });
        let (wob, torque, hookload) = self.loads(cells, line);
        self.gathered.take(Sampled::Depth(depth::Sample {
            row: line,
            depth_mm,
            fine_mm,
            rate,
            nano_speed,
            wob,
            torque,
            hookload,
        }))?;
        Ok(true)
    }
}
