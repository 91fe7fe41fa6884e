//! Operating logs into segments: a million rows stream by, some hundred segments stay.
//!
//! A row speaks for the time (or the step of depth) since the row before. Turns and rotating
//! hours over the segments equal the log's own sums exactly, in thousandths of a turn and in
//! milliseconds; the segments follow each other without a gap in time or depth. What condensing
//! costs is where the bit is within a segment; the bound on that is stated with the cut.

mod channels;
mod counts;
mod depth;
mod doubled;
mod finish;
mod las;
mod las3;
mod pass;
mod piece;
mod rules;
mod source;
mod time;

pub(super) use channels::fields;
pub(super) use counts::metres;
pub(super) use las::{is_las, survey_rows};
pub use rules::{CutError, CutRules};

use std::ops::RangeInclusive;

use super::ask::Question;
use super::content::digest;
use super::diagnostic::{Diagnostic, Diagnostics};
use super::kinds::Kind;
use super::layouts;
use super::lookup::{World, base_name};
use super::number::{Decimal, DecimalVerdict, DecimalVote, is_null, nano};
use super::options::{ByLayout, Hidden, Options};
use super::table::{Columns, Delimiter, Fields, Layout, RawRow, Where, read_layout, titles};
use super::when::{Epoch, StampReader, Times, clock_time};
use crate::model::{Clock, LayoutBody, LogSource, Segment, ToldLayout, fold};
use channels::{Channels, Index};
use depth::ByDepth;
use finish::{Finish, Told};
use pass::{End, Gathered, Pass, PassError, Reader, Sink};
use source::{Cells, Open, OpenError};
use time::{ByTime, gap_of};

/// How a log is read.
#[derive(Clone, Debug, Default)]
pub struct LogOptions {
    pub columns: Option<Columns>,
    /// Delimiter.
    pub delimiter: Option<Delimiter>,
    /// What becomes of hidden rows of a sheet.
    pub hidden: Option<Hidden>,
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
    /// Mean rotary speed of the run, billionths of a revolution a minute: it stands for that of a log by
    /// depth that has none.
    pub mean_speed: Option<i64>,
    /// Its columns are stated by the file that names it.
    pub is_own: bool,
    /// The layout of the book by which it is read.
    pub layout: Option<Box<ToldLayout>>,
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
    /// It goes by time since the run began.
    pub elapsed: bool,
    pub rows_used: u64,
    /// Turns of the whole log, thousandths.
    pub milli_turns: i64,
    /// Time with rotation of the whole log, ms.
    pub rotating_ms: i64,
    /// At every turn the bit is this close to where the log has it, mm.
    pub error_mm: i64,
    /// Every instant is this close to the log's, ms.
    pub shift_ms: i64,
    /// Not all of what the rig did then is in it: the sums are no less than these.
    pub incomplete: bool,
    /// The speed is a mean of the run's: the turns are an estimate.
    pub estimated: bool,
    /// What a reader should know.
    pub notes: Vec<String>,
    /// What a person said of how its files are read, and the book does not know.
    pub learned: Vec<LayoutBody>,
}

/// Reads a log of one file. `None` when it cannot be read; the reasons are diagnostics then.
pub fn read(
    name: &str,
    options: &LogOptions,
    world: &World<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<LogRead> {
    read_parts(&[name.to_owned()], options, world, diagnostics)
}

/// Reads a log that came in parts, in any order: where two tell the same time or depth, the earlier
/// counts.
pub(super) fn read_parts(
    names: &[String],
    options: &LogOptions,
    world: &World<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<LogRead> {
    for in_order in [true, false] {
        let mut reading = Reading::new(options, world, in_order, names.len() > 1);
        let mut unsaid = Diagnostics::default();
        match reading.files(names, &mut unsaid) {
            Ok(()) => {
                diagnostics.append(unsaid);
                return reading.finish(names, diagnostics);
            }
            Err(Stop::Disordered) if in_order => {}
            Err(Stop::Disordered) => {
                diagnostics.append(unsaid);
                diagnostics.push(
                    Diagnostic::error(&names[0], "the rows of the log do not stand in order")
                        .help("sort it, oldest row first"),
                );
                return None;
            }
            Err(Stop::Told) => {
                diagnostics.append(unsaid);
                return None;
            }
        }
    }
    None
}

/// Why a log is read no further.
enum Stop {
    /// It is to be put in order first.
    Disordered,
    /// For a reason that was said.
    Told,
}

/// A log that is being read, section by section.
struct Reading<'a> {
    options: &'a LogOptions,
    world: &'a World<'a>,
    /// The rows are taken as they stand.
    in_order: bool,
    /// It came in several files.
    several: bool,
    gathered: Option<Gathered>,
    told: Told,
    notes: Vec<String>,
    learned: Vec<LayoutBody>,
    cut_off: bool,
    /// Digest of each file.
    digests: Vec<String>,
}

impl<'a> Reading<'a> {
    fn new(options: &'a LogOptions, world: &'a World<'a>, in_order: bool, several: bool) -> Self {
        Self {
            options,
            world,
            in_order,
            several,
            gathered: None,
            told: Told::default(),
            notes: Vec::new(),
            learned: Vec::new(),
            cut_off: false,
            digests: Vec::new(),
        }
    }

    fn files(&mut self, names: &[String], diagnostics: &mut Diagnostics) -> Result<(), Stop> {
        for name in names {
            self.file(name, diagnostics)?;
        }
        let Some(gathered) = &mut self.gathered else { return Err(Stop::Told) };
        gathered.end().map_err(|e| stopped(&names[0], &e, diagnostics))?;
        if !self.in_order {
            self.notes.push("its rows were put in order of time or depth".to_owned());
        }
        Ok(())
    }

    fn file(&mut self, name: &str, diagnostics: &mut Diagnostics) -> Result<(), Stop> {
        let fields = Kind::Log.fields();
        let by_layout = if self.options.is_own {
            None
        } else {
            layouts::of_log(name, self.options, self.world)
        };
        let options = by_layout.as_ref().unwrap_or(self.options);
        let stated = options.columns.as_ref();
        let mut open = opened(name, options, self.world).map_err(|e| {
            diagnostics.push(unopened(name, &e));
            Stop::Told
        })?;
        self.notes.append(&mut open.notes);
        self.notes.extend(options.layout.as_deref().map(layouts::note));
        if !options.is_own {
            let read = said_of(options);
            let learned = layouts::learned(name, &open.head, Kind::Log, &read, open.units_below);
            self.learned.extend(learned.filter(|body| !self.learned.contains(body)));
        }
        if open.encoding == super::text::Encoding::Latin1 {
            self.notes.push("the file is not UTF-8 and was read as Latin-1".to_owned());
        }
        let at = Where { units_below: open.units_below, ..Where::new(name, stated) };
        let layout = read_layout(&open.head, fields, at, diagnostics).ok_or(Stop::Told)?;
        let mut next = Some((layout, std::mem::take(&mut open.head)));
        while let Some((layout, head)) = next.take() {
            let first_line = data_from(&head, &layout);
            let from = (&layout, &head[..], first_line);
            let end = self.section(&mut open, options, from, at, diagnostics)?;
            if let End::Header(line, titles) = end {
                let below = open.look_ahead(100);
                let below = below.map_err(|e| stopped(name, &e.into(), diagnostics))?;
                let mut head = vec![RawRow::new(line, titles)];
                head.extend(below);
                let at = Where::new(name, stated);
                let layout = read_layout(&head, fields, at, diagnostics).ok_or(Stop::Told)?;
                self.notes.push(format!("from line {line} on it has columns of another header"));
                next = Some((layout, head));
            } else if let Some(head) = open.next_log().map_err(|e| {
                diagnostics.push(unopened(name, &e));
                Stop::Told
            })? {
                self.notes.push("the document holds another log, which was read too".to_owned());
                let layout = read_layout(&head, fields, at, diagnostics).ok_or(Stop::Told)?;
                next = Some((layout, head));
            }
        }
        if let Some(at) = open.nul_at() {
            let no_text = super::text::NotText::Nul { at };
            diagnostics.push(Diagnostic::error(name, no_text.to_string()).help(no_text.help()));
            return Err(Stop::Told);
        }
        self.digests.push(open.digest());
        Ok(())
    }

    fn section(
        &mut self,
        open: &mut Open<'_>,
        options: &LogOptions,
        (layout, head, first_line): (&Layout, &[RawRow], u64),
        at: Where<'_>,
        diagnostics: &mut Diagnostics,
    ) -> Result<End, Stop> {
        let fields = Kind::Log.fields();
        let has_mean = options.mean_speed.is_some();
        let found = channels::find(layout, (fields, has_mean), at, &mut self.notes, diagnostics);
        let mut channels = found.ok_or(Stop::Told)?;
        let epoch = self.epoch(&mut channels, head, first_line);
        let clock = match layout.offset {
            Some(minutes) => Clock::Offset(minutes),
            None => options.times.clock,
        };
        if layout.offset.is_some() {
            self.notes.push(format!("times are of {clock}, as the title of their column states"));
        }
        let order = options.times.order.or(open.order);
        let times = Times { clock, order, ..options.times };
        if let Some(wrong) = same_figures(&channels, head, first_line, at) {
            diagnostics.push(wrong);
            return Err(Stop::Told);
        }
        if let (None, Some(order)) = (options.times.order, open.order) {
            self.notes.push(format!(
                "day and month are in the order that the file states, {}",
                order.word()
            ));
        }
        let decimal = decimal(head, layout, fields, &channels, options, at, diagnostics);
        let decimal = decimal.ok_or(Stop::Told)?;
        let stated = options.nulls.iter().chain(&open.nulls);
        let nulls = stated.filter_map(|n| nano(n.as_bytes(), decimal)).collect();
        let mut reader = Reader {
            options,
            channels: &channels,
            decimal,
            nulls,
            stamps: StampReader::counting(times, epoch),
        };
        let elapsed = matches!(channels.index, Index::Elapsed(_));
        let by_depth = matches!(channels.index, Index::Depth { .. });
        if let Some(before) = &self.gathered {
            let was_by_depth = matches!(before.sink, Sink::Depth(_));
            if (was_by_depth, self.told.elapsed) != (by_depth, elapsed) {
                let kind = |depth, elapsed| match (depth, elapsed) {
                    (true, _) => "by depth",
                    (false, true) => "by time since a start",
                    (false, false) => "by date and time",
                };
                let message = format!(
                    "this part of the log goes {}, those before it go {}",
                    kind(by_depth, elapsed),
                    kind(was_by_depth, self.told.elapsed)
                );
                let help = "the parts of one log have one index";
                diagnostics.push(Diagnostic::error(at.file, message).help(help));
                return Err(Stop::Told);
            }
        }
        self.told.rpm.clone_from(&channels.rpm_title);
        self.told.wob |= channels.wob.is_some();
        self.told.torque |= channels.torque.is_some();
        self.told.elapsed = elapsed;
        if self.told.depth.is_none() {
            let by_bit = channels.bit.first().filter(|_| !by_depth).map(|c| ("bit_depth", c));
            self.told.depth = by_bit
                .or_else(|| channels.hole.first().map(|c| ("depth", c)))
                .map(|(key, c)| (key, c.title.clone(), c.scale * 1e9));
        }
        self.told.estimated |= channels.rpm_at.is_none();
        if self.gathered.is_none() {
            let sink = self.sink(&mut reader, head, first_line);
            reader.stamps = StampReader::counting(times, epoch);
            let unit = channels.rpm_unit;
            self.gathered = Some(Gathered::new(sink, unit, self.in_order, self.several));
        }
        let Some(gathered) = &mut self.gathered else { return Err(Stop::Told) };
        gathered.begin();
        let others = channels.rpm_others.iter().map(|(at, title)| (*at, gathered.other(title)));
        let others = others.collect();
        let (unit, first) = (channels.rpm_unit, gathered.unit);
        let is_header =
            |cells: &[String]| titles(cells, fields, options.columns.as_ref()).len() >= 2;
        let header = layout.header.as_ref().map(|h| h.cells.as_slice()).unwrap_or_default();
        let mut pass = Pass {
            reader,
            gathered,
            header,
            is_header: &is_header,
            ends: open.ends.is_some().then_some((i64::MIN, i64::MIN)),
            speed: (unit.0 * first.1, unit.1 * first.0),
            others,
            well_at: well_column(layout),
        };
        let end = pass.run(open, first_line, self.world);
        let end = end.map_err(|e| stopped(at.file, &e, diagnostics))?;
        if pass.reader.stamps.twice {
            self.notes.push(format!(
                "the clock of {} is put back in this log: of times that it shows twice the first is \
                 taken, and the second where the log has come past that",
                options.times.clock
            ));
        }
        let index = match &channels.index {
            Index::Elapsed(channel) => Some(channel),
            Index::Depth { .. } => channels.hole.first(),
            Index::Stamp { .. } => None,
        };
        // Columns that the user stated in order are not those of the header.
        let stated = options.columns.as_ref().is_some_and(Columns::in_order);
        if let (Some(found), Some(ends), Some(index), false) =
            (pass.ends, &open.ends, index, stated)
        {
            self.cut_off |= !ends.hold(found, index, at.file, diagnostics);
        }
        Ok(end)
    }

    /// Whether the time of a section is a count since 1970, which then is what indexes it.
    fn epoch(
        &mut self,
        channels: &mut Channels,
        head: &[RawRow],
        first_line: u64,
    ) -> Option<Epoch> {
        let at = match &channels.index {
            Index::Stamp { date: None, time } => *time,
            Index::Elapsed(channel) => channel.at,
            Index::Stamp { date: Some(_), .. } | Index::Depth { .. } => return None,
        };
        let data = head.iter().filter(|r| r.number >= first_line);
        let texts: Vec<&str> = data
            .filter_map(|r| r.cells.get(at))
            .map(String::as_str)
            .filter(|cell| !is_null(cell, &self.options.nulls))
            .collect();
        let epoch = Epoch::of(&texts)?;
        if let Index::Elapsed(channel) = &channels.index {
            // A unit that says otherwise is not overruled.
            let ms = if epoch == Epoch::Seconds { 1000.0 } else { 1.0 };
            if (channel.scale * 1e9 - ms).abs() > 1e-6 {
                return None;
            }
        }
        channels.index = Index::Stamp { date: None, time: at };
        let first = texts.first().and_then(|t| epoch.instant(t)).unwrap_or_default();
        self.notes.push(format!(
            "its time counts {epoch}, for as anything else it would be decades: it begins {}",
            clock_time(first, Clock::UTC)
        ));
        Some(epoch)
    }

    /// Where the rows of the first section go.
    fn sink(&mut self, reader: &mut Reader<'_>, head: &[RawRow], first_line: u64) -> Sink {
        let options = self.options;
        let unit = reader.channels.rpm_unit;
        if let Index::Depth { .. } = &reader.channels.index {
            return Sink::Depth(Box::new(ByDepth::new(&options.rules, unit)));
        }
        let stamps = head_times(head, first_line, reader);
        let gap = gap_of(&options.rules, &stamps);
        self.notes.push(format!("a step longer than {} s is a gap", gap / 1000));
        let zero = match (&reader.channels.index, &options.run) {
            (Index::Elapsed(_), Some(run)) => *run.start(),
            _ => 0,
        };
        let breaks = options.breaks.iter().map(|b| b - zero).collect();
        Sink::Time(Box::new(ByTime::new(&options.rules, gap, unit, breaks)))
    }

    fn finish(self, names: &[String], diagnostics: &mut Diagnostics) -> Option<LogRead> {
        let Self { options, gathered, told, notes, learned, cut_off, digests, .. } = self;
        let name = names.iter().map(|n| base_name(n)).collect::<Vec<_>>().join("; ");
        let sha256 = match digests.as_slice() {
            [one] => one.clone(),
            several => digest(several.join("\n").as_bytes()),
        };
        let finish = Finish { name: &name, sha256, options, told, notes, learned, cut_off };
        finish.finish(gathered?, diagnostics)
    }
}

/// Opens a log; the titles that it may have are those of a log, and those that are stated.
fn opened<'a>(name: &str, options: &LogOptions, world: &World<'a>) -> Result<Open<'a>, OpenError> {
    let known =
        |cells: &[String]| titles(cells, Kind::Log.fields(), options.columns.as_ref()).len();
    Open::new(name, world.files, (options.delimiter, options.hidden), known)
}

/// The first rows of a log, and whether the second of them is certainly one of units.
pub(super) fn head_of(
    name: &str,
    options: &LogOptions,
    world: &World<'_>,
) -> Option<(Vec<RawRow>, bool)> {
    let open = opened(name, options, world).ok()?;
    Some((open.head, open.units_below))
}

/// What is said of how a log is read, as of a file by itself.
fn said_of(options: &LogOptions) -> Options {
    Options {
        columns: options.columns.clone(),
        delimiter: options.delimiter,
        decimal: options.decimal,
        nulls: options.nulls.clone(),
        times: options.times,
        by: options
            .layout
            .clone()
            .map(|told| Box::new(ByLayout { told: *told, stated: Options::default() })),
        ..Options::default()
    }
}

fn stopped(name: &str, e: &PassError, diagnostics: &mut Diagnostics) -> Stop {
    match e {
        PassError::Disordered => return Stop::Disordered,
        PassError::Io(_) | PassError::Stopped | PassError::Large | PassError::Wells { .. } => {}
    }
    let d = Diagnostic::error(name, e.to_string());
    diagnostics.push(match e {
        PassError::Large => d.help("sort it, oldest row first"),
        PassError::Wells { .. } => d.help("take the rows of each well into a file of its own"),
        _ => d,
    });
    Stop::Told
}

fn unopened(name: &str, e: &OpenError) -> Diagnostic {
    match e {
        OpenError::Io(io) => super::content::unreadable(name, io),
        OpenError::NotText(t) => Diagnostic::error(name, t.to_string()).help(t.help()),
        OpenError::Large => {
            Diagnostic::error(name, e.to_string()).help("export the log as CSV, which streams")
        }
        OpenError::LargeBook => {
            Diagnostic::error(name, e.to_string()).help("save its sheet as CSV, which streams")
        }
        OpenError::Document(e) => *e.told(name),
        OpenError::Workbook(d) => (**d).clone(),
        OpenError::Las(l) => Diagnostic::error(name, l.to_string()).help(l.help()),
    }
}

/// Place of the column that names the well of each row.
fn well_column(layout: &Layout) -> Option<usize> {
    let is_well = |title: &str| {
        matches!(fold(title).as_str(), "well" | "well_name" | "wellbore" | "well_id" | "hole_name")
    };
    layout.unused.iter().find(|(_, title)| is_well(title)).map(|(number, _)| number - 1)
}

/// The unit of a depth by its scale, millimetres in a billionth of it.
fn unit_of(scale: f64) -> &'static str {
    if (scale * 1e9 - 304.8).abs() < 0.1 { "ft" } else { "m" }
}

/// That two depths have the same figures in two units throughout, which cannot be.
fn same_figures(
    channels: &Channels,
    head: &[RawRow],
    first_line: u64,
    at: Where<'_>,
) -> Option<Diagnostic> {
    let (bit, hole) = (channels.bit.first()?, channels.hole.first()?);
    let data = head.iter().filter(|r| r.number >= first_line);
    let figures =
        data.filter_map(|r| Some((r.cells.get(bit.at)?.trim(), r.cells.get(hole.at)?.trim())));
    let rows: Vec<_> =
        figures.filter(|(bit, _)| bit.parse::<f64>().is_ok_and(|depth| depth > 1.0)).collect();
    let alike = rows.len() >= 10 && rows.iter().all(|(bit, hole)| bit == hole);
    (alike && (bit.scale - hole.scale).abs() > 1e-12).then(|| {
        Diagnostic::error(
            at.file,
            format!("'{}' and '{}' have the same figures and two units", bit.title, hole.title),
        )
        .help(format!(
            "state the unit of the one that is wrong: --columns (in the file of the run: log_columns =) \
             '\"{}\" = depth [{}]' or '\"{}\" = bit_depth [{}]'",
            hole.title,
            unit_of(bit.scale),
            bit.title,
            unit_of(hole.scale)
        ))
    })
}

/// The line at which the data begin.
fn data_from(head: &[RawRow], layout: &Layout) -> u64 {
    match head.get(layout.first_data) {
        Some(row) => row.number,
        None => head.last().map_or(0, |r| r.number) + 1,
    }
}

fn decimal(
    head: &[RawRow],
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
    for row in head.iter().skip(layout.first_data) {
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
                .asks(Question::decimal())
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

fn head_times(head: &[RawRow], first_line: u64, reader: &mut Reader<'_>) -> Vec<i64> {
    let mut cells = Cells::default();
    head.iter()
        .filter(|r| r.number >= first_line)
        .filter_map(|r| {
            cells.clear();
            r.cells.iter().for_each(|c| cells.push(c.as_bytes()));
            reader.time(&cells)
        })
        .collect()
}
