//! What a pass amounts to: segments, what was left out, and what a reader should know.

use super::super::loads::doubts;
use super::counts::{Why, hours, metres};
use super::depth::ByDepth;
use super::pass::{Gathered, Sink, Used};
use super::piece::{Piece, State, rpm_in_nano};
use super::time::ByTime;
use super::{LogOptions, LogRead};
use crate::intake::ask::Question;
use crate::intake::diagnostic::{Diagnostic, Diagnostics};
use crate::intake::lookup::base_name;
use crate::intake::when::{WhenError, clock_time};
use crate::model::{Activity, LayoutBody, LogSource, Segment};

/// Which channels a log has, as its sections name them.
#[derive(Clone, Debug, Default)]
#[expect(clippy::struct_excessive_bools, reason = "one for each thing that is told")]
pub(super) struct Told {
    /// Title of the rotation of the pipe.
    pub rpm: String,
    pub wob: bool,
    pub torque: bool,
    /// Times are counted from the start of the run.
    pub elapsed: bool,
    /// The speed is the mean of the run.
    pub estimated: bool,
    /// What tells how deep the bit is: its field, its title, and millimetres in one of its unit.
    pub depth: Option<(&'static str, String, f64)>,
}

/// Deeper than this is no hole, mm.
const DEEPEST_MM: i64 = 15_000_000;
/// Units in which a depth is written, and millimetres in each.
const DEPTH_UNITS: [(&str, f64); 5] =
    [("m", 1000.0), ("ft", 304.8), ("in", 25.4), ("cm", 10.0), ("mm", 1.0)];

/// What is needed to tell the result of a log.
pub(super) struct Finish<'a> {
    pub name: &'a str,
    pub sha256: String,
    pub options: &'a LogOptions,
    pub told: Told,
    pub notes: Vec<String>,
    pub learned: Vec<LayoutBody>,
    /// The file ends before its header says that it does.
    pub cut_off: bool,
}

impl Finish<'_> {
    fn warn(&self, diagnostics: &mut Diagnostics, message: String, help: &str) {
        let d = Diagnostic::warning(self.name, message);
        diagnostics.push(if help.is_empty() { d } else { d.help(help) });
    }

    fn error(&self, diagnostics: &mut Diagnostics, message: String, help: &str) {
        diagnostics.push(Diagnostic::error(self.name, message).help(help));
    }

    /// The result, or diagnostics that say why there is none.
    pub(super) fn finish(
        mut self,
        gathered: Gathered,
        diagnostics: &mut Diagnostics,
    ) -> Option<LogRead> {
        let before = diagnostics.errors();
        let Gathered { sink, other_speed, used, rows, .. } = &gathered;
        let (used, rows) = (*used, *rows);
        if !used.speed {
            for (title, seen) in other_speed {
                if *seen {
                    let message =
                        format!("'{}' is 0 throughout, while '{title}' is not", self.told.rpm);
                    self.error(diagnostics, message, "state which column is the rotation of the pipe: --columns '\"its title\" = rpm [rpm]'");
                }
            }
        }
        self.tell_doubled(&gathered, diagnostics);
        let (counts, used_rows, fastest) = match sink {
            Sink::Time(t) => (&t.counts, t.rows_used, t.fastest_mrpm),
            Sink::Depth(d) => (&d.counts, d.rows_used, d.fastest_mrpm),
        };
        let mut left_out = counts.words();
        if let (Some(text), true) = (&gathered.bad_time, counts.of(Why::NoTime) * 2 > rows) {
            let why = crate::intake::when::moment(text, self.options.times);
            let (what, help) = match why {
                Err(e) => (e.message(), e.help()),
                Ok(_) => ("has no clock time", "a log needs the time of day of every row"),
            };
            let d = Diagnostic::error(self.name, format!("'{text}' {what}")).help(help);
            diagnostics.push(match why {
                Err(WhenError::Order) => d.asks(Question::date_order()),
                Err(_) | Ok(_) => d,
            });
            return None;
        }
        if used_rows < 2 {
            let why = if left_out.is_empty() {
                String::new()
            } else {
                format!(": {}", left_out.join("; "))
            };
            self.error(diagnostics, format!("of {rows} rows {used_rows} can be used{why}"), "a log needs two rows or more with time, bit depth and rotary speed, inside the run");
            return None;
        }
        let back = counts.of(Why::Backward);
        if back * 10 > rows {
            self.error(
                diagnostics,
                format!("{back} of {rows} rows go back in time"),
                "sort the log by time, or take in its parts in order",
            );
        }
        let fast = counts.of(Why::Fast);
        if fast >= 20 && fast * 100 > rows {
            self.error(
                diagnostics,
                format!("{fast} of {rows} rows turn faster than 500 rpm"),
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
            (self.told.wob && !used.wob, "weight on bit"),
            (self.told.torque && !used.torque, "torque"),
        ] {
            if missing {
                self.notes.push(format!("the {title} is 0 throughout: taken as not recorded"));
            }
        }
        // A log by depth says nothing of what turned off bottom.
        let mut incomplete = counts.lose() || self.cut_off || matches!(sink, Sink::Depth(_));
        let (pieces, start_mm, milli_turns, rotating_us, first, absolute) = match gathered.sink {
            Sink::Time(t) => {
                self.tell_time(&t, used, rows, &mut left_out, diagnostics);
                incomplete |= t.gaps.count > 0;
                let absolute = !self.told.elapsed;
                let (first, start) = t.first.unwrap_or_default();
                let (milli, us) = (t.pieces.total_milli(), t.pieces.rotating_us());
                (t.pieces.finish(), start, milli, us, first, absolute)
            }
            Sink::Depth(d) => {
                self.tell_depth(&d, &mut left_out, diagnostics);
                left_out.push("what turned off bottom: a log by depth does not tell it".to_owned());
                let start = d.first_mm.unwrap_or_default();
                let (milli, us) = (d.pieces.total_milli(), d.pieces.rotating_us());
                (d.pieces.finish(), start, milli, us, 0, false)
            }
        };
        if diagnostics.errors() > before {
            return None;
        }
        let mut at_mm = start_mm;
        let places = pieces.iter().map(|p| {
            at_mm += p.down_mm;
            at_mm
        });
        let deepest = places.max().unwrap_or(start_mm).max(start_mm);
        if deepest > DEEPEST_MM {
            self.tell_deepest(deepest, diagnostics);
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
        let (mut segments, error_mm, shift_ms) =
            segments(&pieces, start_mm, origin, used, self.options.rules.depth_error_mm);
        for doubt in doubts(&mut segments) {
            self.warn(diagnostics, doubt.what, doubt.help);
        }
        let cut = format!(
            "{}; bit within {} of the log at every turn, instants within {:.1} min",
            self.options.rules,
            metres(error_mm),
            shift_ms as f64 / 60_000.0
        );
        let source = LogSource {
            file: base_name(self.name).to_owned(),
            sha256: self.sha256,
            rows,
            left_out,
            cut,
            rows_from: first_ms.map(|ms| clock_time(ms, self.options.times.clock)),
            rows_to: last_ms.map(|ms| clock_time(ms, self.options.times.clock)),
        };
        Some(LogRead {
            segments,
            source,
            first_ms,
            last_ms,
            elapsed: self.told.elapsed,
            rows_used: used_rows,
            milli_turns,
            rotating_ms: i64::try_from((rotating_us + 500) / 1000).unwrap_or(i64::MAX),
            error_mm,
            shift_ms,
            incomplete,
            estimated: self.told.estimated,
            notes: self.notes,
            learned: self.learned,
        })
    }

    /// That parts of the log tell one time in two ways.
    fn tell_doubled(&self, gathered: &Gathered, diagnostics: &mut Diagnostics) {
        let Some(doubled) = &gathered.doubled else { return };
        let time = |ms: i64| {
            if self.told.elapsed {
                format!("{} after its start", hours(ms))
            } else {
                clock_time(ms, self.options.times.clock).to_string()
            }
        };
        if let Some(what) = doubled.difference(rpm_in_nano(gathered.unit), time) {
            self.warn(
                diagnostics,
                what,
                "the part that begins earlier counts: leave out the file that is wrong, or state the unit \
                 or the clock of its columns",
            );
        }
    }

    /// That the log is deeper than any hole, and what its column was in another unit.
    fn tell_deepest(&self, deepest: i64, diagnostics: &mut Diagnostics) {
        let message = format!("the log goes down to {}: no hole is so deep", metres(deepest));
        let Some((key, title, scale)) = &self.told.depth else {
            self.error(diagnostics, message, "check the unit of its depths");
            return;
        };
        let written = deepest as f64 / scale;
        let said: Vec<String> = DEPTH_UNITS
            .iter()
            .map(|(unit, mm)| (unit, written * mm / 1000.0))
            .filter(|(_, m)| (30.0..DEEPEST_MM as f64 / 1000.0).contains(m))
            .map(|(unit, m)| format!("'\"{title}\" = {key} [{unit}]' for {m:.0} m"))
            .collect();
        let help = format!(
            "state the unit of '{title}', whichever it is: --columns (in the file of the run: \
             log_columns =) {}",
            said.join(" or ")
        );
        self.error(diagnostics, message, &help);
    }

    fn tell_time(
        &mut self,
        t: &ByTime,
        used: Used,
        rows: u64,
        left_out: &mut Vec<String>,
        diagnostics: &mut Diagnostics,
    ) {
        if t.above_table > 0 {
            left_out
                .push(format!("{} rows rotate with the bit above the rotary table", t.above_table));
        }
        if t.slow_turns() >= 1.0 {
            left_out.push(format!(
                "{:.0} turns slower than {} rpm",
                t.slow_turns(),
                self.options.rules.rotating_mrpm as f64 / 1000.0
            ));
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
        let (below, most) = t.below_hole;
        if below * 2 > t.rows_used {
            self.warn(
                diagnostics,
                format!(
                    "the bit stands up to {} below the bottom of the hole, in {below} of {rows} rows",
                    metres(most)
                ),
                "are the depths of bit and hole in each other's columns, or in two units? state them: \
                 log_columns = '\"its title\" = bit_depth [m]'",
            );
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
            if n * 20 > rows {
                self.warn(
                    diagnostics,
                    format!("{n} of {rows} rows have no {what}"),
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
            let whole = d.deepest_mm - d.shallowest_mm;
            left_out.push(format!(
                "{} gaps of {} in all, of {}",
                d.gaps,
                metres(d.gaps_mm),
                metres(whole)
            ));
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
