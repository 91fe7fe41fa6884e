//! Load channels of a log that cannot be what they say: a load cell that was not tared, a torque or a
//! hook load that rests at one value.

use std::collections::BTreeMap;

use crate::model::Segment;

/// Share of the turning time at one value from which a channel rests there.
const MOST: f64 = 0.8;
/// Turning segments that it takes to say so: fewer may be alike by chance.
const ENOUGH: usize = 10;
/// How far the bit must have gone for the hook load to have had to change, mm.
const FAR: i64 = 100_000;
/// Reading of a load cell off bottom below which it is as well tared as they are, N.
const TARED: i64 = 5_000;

/// What is wrong with a channel, and what follows.
#[derive(Debug)]
pub(super) struct Doubt {
    pub what: String,
    pub help: &'static str,
}

/// A value at which a channel rests.
struct Rest {
    value: i64,
    /// Turning segments that have it, and those that have any.
    segments: (usize, usize),
}

/// Looks at the load channels of a log. What rests at one value is taken out of the segments; weight
/// on bit off bottom stays as it was read, for it counts on bottom only.
pub(super) fn doubts(segments: &mut [Segment]) -> Vec<Doubt> {
    let mut found = Vec::new();
    let highest = |of: fn(&Segment) -> Option<i64>| segments.iter().filter_map(of).max();
    let lowest = |of: fn(&Segment) -> Option<i64>| segments.iter().filter_map(of).min();
    let torque = resting(segments, |s| s.torque_nm)
        .filter(|rest| rest.value > 0 && Some(rest.value) == highest(|s| s.torque_nm));
    let depths = || segments.iter().flat_map(|s| [s.bit_from_mm, s.bit_to_mm]);
    let moved = depths().max().unwrap_or(0) - depths().min().unwrap_or(0);
    let hookload = resting(segments, |s| s.hookload_n)
        .filter(|rest| moved >= FAR && Some(rest.value) == lowest(|s| s.hookload_n));
    found.extend(off_bottom(segments));
    if let Some(Rest { value, segments: (at, of) }) = torque {
        found.push(Doubt {
            what: format!(
                "torque rests at its highest value, {} kN.m, in {at} of {of} turning segments: the \
                 ceiling of its sensor; it is left out",
                kilo(value)
            ),
            help: "load the log again with a channel that was not cut off",
        });
        segments.iter_mut().for_each(|s| s.torque_nm = None);
    }
    if let Some(Rest { value, segments: (at, of) }) = hookload {
        found.push(Doubt {
            what: format!(
                "hook load rests at its lowest value, {} kN, in {at} of {of} turning segments, while \
                 the string grew: the weight of the block alone; it is left out",
                kilo(value)
            ),
            help: "load the log again with the load of the string",
        });
        segments.iter_mut().for_each(|s| s.hookload_n = None);
    }
    found
}

fn kilo(value: i64) -> String {
    format!("{:.1}", value as f64 / 1_000.0)
}

fn turning(segments: &[Segment]) -> impl Iterator<Item = &Segment> {
    segments.iter().filter(|s| s.activity.rotates() && s.milli_turns > 0 && s.duration_ms > 0)
}

/// The value at which a channel rests while the string turns.
fn resting(segments: &[Segment], of: fn(&Segment) -> Option<i64>) -> Option<Rest> {
    let mut at: BTreeMap<i64, (i64, usize)> = BTreeMap::new();
    for segment in turning(segments) {
        if let Some(value) = of(segment) {
            let seen = at.entry(value).or_default();
            *seen = (seen.0 + segment.duration_ms, seen.1 + 1);
        }
    }
    let time: i64 = at.values().map(|seen| seen.0).sum();
    let count = at.values().map(|seen| seen.1).sum();
    let (value, (long, times)) = at.into_iter().max_by_key(|(_, seen)| *seen)?;
    let rests = times >= ENOUGH && long as f64 >= MOST * time as f64;
    rests.then_some(Rest { value, segments: (times, count) })
}

/// Weight that a load cell reads while the bit is off bottom: its middle value by time.
fn off_bottom(segments: &[Segment]) -> Option<Doubt> {
    let mut read: Vec<(i64, i64)> = turning(segments)
        .filter(|s| !s.activity.drills())
        .filter_map(|s| Some((s.wob_n?, s.duration_ms)))
        .collect();
    read.sort_unstable();
    let half = read.iter().map(|r| r.1).sum::<i64>() / 2;
    let mut passed = 0;
    let middle = read.iter().find(|r| {
        passed += r.1;
        passed > half
    })?;
    (middle.0.abs() > TARED).then(|| Doubt {
        what: format!(
            "weight on bit reads {} kN while the bit is off bottom: the load cell was not tared; off \
             bottom it counts as none, on bottom as logged",
            kilo(middle.0)
        ),
        help: "where the log's weight on bit was not tared, take that much off the column and load it \
               again",
    })
}
