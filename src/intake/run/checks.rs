//! What is held against what the book knows before a run is taken in: the length of its string, its
//! survey, other runs over the same rows, and how much of it its log covers.

use super::parts::Cut;
use crate::intake::diagnostic::{Diagnostic, Diagnostics, Severity};
use crate::intake::log::metres;
use crate::intake::lookup::Lookup;
use crate::intake::options::Options;
use crate::intake::when::clock_time;
use crate::model::{Clock, Moment, Qty, RunBody, TallyLine, fold, nearest_word, same_name};
use crate::units::Measure as M;

/// How far the bit may be deeper than the string is long, m: what a strapped length is good for.
const STRAPPED: f64 = 1.0;

/// Length of a line of a tally, m: as strapped, else by the certificate.
fn length(line: &TallyLine, lookup: &dyn Lookup) -> Option<f64> {
    let own = line.length.as_ref().and_then(|q| q.base(M::JointLength));
    let one = own.or_else(|| {
        let made = lookup.made(&line.joint.as_ref()?.joint)?;
        made.length.as_ref()?.base(M::JointLength)
    });
    Some(one? * f64::from(line.count.unwrap_or(1)))
}

/// Says when the string is shorter than the depth of the bit, or how much of it has no length.
pub(super) fn reaches(
    name: &str,
    body: &RunBody,
    lookup: &dyn Lookup,
    diagnostics: &mut Diagnostics,
) {
    let tallies = || std::iter::once(&body.tally).chain(body.swaps.iter().map(|s| &s.tally));
    let lengths: Vec<Vec<Option<f64>>> =
        tallies().map(|t| t.iter().map(|line| length(line, lookup)).collect()).collect();
    let unknown = lengths.iter().flatten().filter(|l| l.is_none()).count();
    let longest = lengths.iter().map(|t| t.iter().flatten().sum::<f64>()).fold(0.0, f64::max);
    let stated = body.depth_out.as_ref().and_then(|q| q.base(M::Depth)).unwrap_or(0.0);
    let logged = body.segments.iter().map(|s| s.bit_from_mm.max(s.bit_to_mm)).max().unwrap_or(0);
    let deepest = (logged as f64 / 1000.0).max(stated);
    if unknown > 0 {
        diagnostics.push(
            Diagnostic::warning(name, format!("{unknown} parts of the string have no length"))
                .help("whether the string reaches the bit's depth cannot be told: strap them"),
        );
    } else if deepest > longest + STRAPPED {
        diagnostics.push(
            Diagnostic::warning(
                name,
                format!(
                    "the bit goes to {deepest:.1} m and the string is {longest:.1} m long: {:.1} m \
                     of it are missing",
                    deepest - longest
                ),
            )
            .help("joints are missing from the tally, or a depth or its unit is wrong"),
        );
    }
}

/// Says when nobody surveyed the hole of the run, and which survey may be meant.
pub(super) fn surveyed(
    name: &str,
    body: &RunBody,
    lookup: &dyn Lookup,
    diagnostics: &mut Diagnostics,
) {
    let Some(wells) = lookup.surveyed() else { return };
    let same = |w: &String| same_name(w, &body.well);
    if body.survey.is_some() || wells.iter().any(same) {
        return;
    }
    let message =
        format!("the book has no survey of '{}': bends and damage are unknown", body.well);
    let d = Diagnostic::warning(name, message);
    diagnostics.push(match like(&body.well, &wells) {
        Some(near) => {
            d.help(format!("it has one of '{near}'; if that is the hole, write well = \"{near}\""))
        }
        None => d.help("take the survey in: its well is named as the run names it"),
    });
}

/// The well whose name holds, or is held by, another one's, or is nearly the same.
fn like<'a>(well: &str, wells: &'a [String]) -> Option<&'a str> {
    let bare = |name: &str| fold(name).replace('_', "");
    let own = bare(well);
    let within = wells.iter().find(|w| {
        let other = bare(w);
        !other.is_empty() && !own.is_empty() && (own.ends_with(&other) || other.ends_with(&own))
    });
    let near = || {
        let near = nearest_word(well, wells.iter().map(String::as_str))?;
        wells.iter().find(|w| **w == near)
    };
    within.or_else(near).map(String::as_str)
}

/// Refuses a run over rows of a log that another run of the well was cut from.
pub(super) fn alone(
    name: &str,
    body: &RunBody,
    lookup: &dyn Lookup,
    options: &Options,
    diagnostics: &mut Diagnostics,
) {
    let log = body.log.as_ref();
    let Some((from, to)) = log.and_then(|l| l.rows_from.zip(l.rows_to)) else { return };
    let clock = options.times.clock;
    let (from, to) = (from.start(clock).0, to.start(clock).0);
    for other in lookup.logged(&body.well) {
        let (first, last) = (from.max(other.from), to.min(other.to));
        if first >= last {
            continue;
        }
        let time = |ms| clock_time(ms, clock).to_string();
        let message = format!(
            "its log from {} to {} is in run '{}' too ({}): it would count twice",
            time(first),
            time(last),
            other.name,
            other.entry
        );
        let d = Diagnostic::error(name, message);
        let help = format!(
            "a day as start or end takes all rows of that day: state the times, as in start = {}; \
             where the other run is the one that is too long: pipelore strike {} --reason '…' \
             --instead FILE",
            time(last),
            other.entry
        );
        if options.keep_conflicts {
            let d = Diagnostic { severity: Severity::Warning, ..d };
            diagnostics.push(d.help("both are kept, in conflict"));
        } else {
            diagnostics.push(d.help(help));
        }
    }
}

/// Whether a log covers its run; says when it begins long after the run did, ends long before, or
/// lacks some of its depths.
pub(super) fn covers(
    name: &str,
    body: &RunBody,
    end: Option<Moment>,
    cut: &Cut,
    clock: Clock,
    diagnostics: &mut Diagnostics,
) -> bool {
    let mut whole = true;
    let mut lacks = |message: String| {
        whole = false;
        diagnostics.push(
            Diagnostic::warning(name, message)
                .help("what is outside the log counts for nothing: is a part of the log missing?"),
        );
    };
    // Six hours of rigging up and laying down; a day without a clock time may be any hour of it.
    let spare = |m: Moment| if matches!(m, Moment::Day(_)) { 30 } else { 6 } * 3_600_000;
    if let (Some(first), Some(last)) = (cut.first_ms, cut.last_ms) {
        let late = first - body.start.start(clock).0 > spare(body.start);
        let early = end.is_some_and(|e| e.end(clock).0 - last > spare(e));
        if late || early {
            let time = |ms| clock_time(ms, clock).to_string();
            lacks(format!("the log covers {} to {}, less than the run", time(first), time(last)));
        }
    }
    if let (true, Some(end), Some(last)) = (cut.elapsed, end, cut.segments.last()) {
        let lasted = end.end(clock).0 - body.start.start(clock).0;
        let told = last.start_ms + last.duration_ms;
        if lasted - told > spare(end) {
            let hours = |ms: i64| format!("{:.1} h", ms as f64 / 3.6e6);
            lacks(format!(
                "the log ends {} after the run began, and the run lasts {}",
                hours(told),
                hours(lasted)
            ));
        }
    }
    let depths = || cut.segments.iter().filter(|s| s.activity.drills());
    let shallowest = depths().map(|s| s.bit_from_mm.min(s.bit_to_mm)).min();
    let deepest = depths().map(|s| s.bit_from_mm.max(s.bit_to_mm)).max();
    let stated = |q: Option<&Qty>| {
        #[expect(clippy::cast_possible_truncation, reason = "a depth of a hole in millimetres")]
        q.and_then(|q| q.base(M::Depth)).map(|m| (m * 1000.0).round() as i64)
    };
    let (from, to) = (stated(body.depth_in.as_ref()), stated(body.depth_out.as_ref()));
    if let (Some(from), Some(to)) = (from, to) {
        let (first, last) = (shallowest.unwrap_or(to).max(from), deepest.unwrap_or(from).min(to));
        let missing = (to - from) - (last - first).max(0);
        if missing > 10_000 {
            lacks(format!(
                "the log drills {} to {}; {} of the {} of the run are not in it",
                metres(first),
                metres(last),
                metres(missing),
                metres(to - from)
            ));
        }
    }
    whole
}
