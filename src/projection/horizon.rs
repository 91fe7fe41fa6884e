//! What can be seen from a date, by what is known now.
//!
//! Facts count when they had happened by then. What tells about the past counts whenever it was
//! learnt: a strike, an amendment, a settlement, a survey, a check of an instrument, an opening balance, that two
//! joints are one or one is two, the method by which damage is worked out. A run that was under way
//! is seen as far as it had come.

use crate::model::{
    Activity, Adopted, AdoptionBody, Body, Clock, DecisionBody, Entry, EntryId, IdentityBody,
    Instant, Moment, RulingKind, RunBody, Segment,
};

use super::facts::Placed;
use super::kinds::{Seen, role};

/// From which dates an entry is seen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SeenFrom {
    /// From every date.
    Always,
    /// From dates after this instant.
    After(Instant),
    /// From dates from which one of these is seen.
    WithAny(Vec<EntryId>),
    /// From dates from which all of these are seen.
    WithAll(Vec<EntryId>),
}

/// From which dates an entry is seen.
pub fn seen_from(entry: &Entry, clock: Clock) -> SeenFrom {
    match role(entry.body.kind()).seen {
        Seen::Always => SeenFrom::Always,
        Seen::ByTime => by_time(entry, clock),
        Seen::BySaying(told) | Seen::WithOthers(told) => told(entry, clock),
    }
}

/// The words in which an entry is seen from a date, where they are not its own: a run that was under
/// way, as far as it had come; a settlement of later, of which is known that it was made, and which
/// had not been recorded on the joints.
pub fn words_at(placed: &Placed, horizon: Instant) -> Option<Entry> {
    let entry = &*placed.entry;
    if let Body::Run(b) = &entry.body {
        let under_way = placed.began() < horizon && placed.at() > horizon;
        return under_way.then(|| run_until(placed, b, horizon));
    }
    let Body::Decision(b) = &entry.body else { return None };
    let late = b.ruling.kind() == RulingKind::Settle && placed.at() >= horizon;
    (late && !b.joints.is_empty()).then(|| {
        let bare = DecisionBody { joints: Vec::new(), ..b.clone() };
        Entry { body: Body::Decision(bare), ..entry.clone() }
    })
}

fn by_time(entry: &Entry, clock: Clock) -> SeenFrom {
    SeenFrom::After(entry.starts(clock))
}

/// Damage is worked out under one method, whenever it came; what founds a book reaches back.
pub(super) fn of_adoption(entry: &Entry, clock: Clock) -> SeenFrom {
    let reaches = |b: &AdoptionBody| b.founding || b.what == Adopted::Fatigue;
    let always = matches!(&entry.body, Body::Adoption(b) if reaches(b));
    if always { SeenFrom::Always } else { by_time(entry, clock) }
}

pub(super) fn of_strike(entry: &Entry, clock: Clock) -> SeenFrom {
    let Body::Strike(b) = &entry.body else { return by_time(entry, clock) };
    SeenFrom::WithAny(vec![b.entry.clone()])
}

pub(super) fn of_amendment(entry: &Entry, clock: Clock) -> SeenFrom {
    let Body::Amend(b) = &entry.body else { return by_time(entry, clock) };
    SeenFrom::WithAny(vec![b.entry.clone()])
}

pub(super) fn of_decision(entry: &Entry, clock: Clock) -> SeenFrom {
    let Body::Decision(b) = &entry.body else { return by_time(entry, clock) };
    if b.ruling.kind() != RulingKind::Settle {
        return by_time(entry, clock);
    }
    SeenFrom::WithAny(b.ruling.entries().into_iter().cloned().collect())
}

pub(super) fn of_identity(entry: &Entry, clock: Clock) -> SeenFrom {
    if matches!(&entry.body, Body::Identity(IdentityBody::Remark { .. })) {
        return by_time(entry, clock);
    }
    with_joints(entry, clock)
}

/// When all joints that it names are seen.
pub(super) fn with_joints(entry: &Entry, _clock: Clock) -> SeenFrom {
    SeenFrom::WithAll(entry.body.joints().into_iter().map(|j| j.joint.clone()).collect())
}

pub(super) fn of_run(entry: &Entry, clock: Clock) -> SeenFrom {
    let Body::Run(b) = &entry.body else { return by_time(entry, clock) };
    SeenFrom::After(b.start.start(clock).min(entry.ends(clock)))
}

/// A run as far as it had come. What a summary tells of the whole of it lies anywhere in it.
fn run_until(placed: &Placed, body: &RunBody, horizon: Instant) -> Entry {
    let clock = placed.clock;
    let mut seen = body.clone();
    seen.swaps.retain(|s| s.at.start(clock) < horizon);
    let all = &body.segments;
    let until = horizon.0 - placed.began().0;
    seen.segments = all.iter().filter_map(|s| segment_until(s, until)).collect();
    if let (true, Some(first)) = (seen.segments.is_empty(), all.first()) {
        // Nothing had been done yet, which is not the same as not knowing what was done.
        seen.segments.push(Segment {
            activity: Activity::NotRotating,
            start_ms: 0,
            duration_ms: until,
            bit_to_mm: first.bit_from_mm,
            milli_turns: 0,
            wob_n: None,
            torque_nm: None,
            hookload_n: None,
            ..first.clone()
        });
    }
    (seen.hours, seen.rotary_speed, seen.depth_in, seen.depth_out) = (None, None, None, None);
    Entry {
        effective: Moment::Clock(horizon.at(clock)),
        body: Body::Run(Box::new(seen)),
        ..Entry::clone(&placed.entry)
    }
}

/// The part of a segment before an instant of the run, evenly divided.
fn segment_until(s: &Segment, until: i64) -> Option<Segment> {
    if s.start_ms + s.duration_ms <= until {
        return Some(s.clone());
    }
    if s.start_ms >= until {
        return None;
    }
    let passed = until - s.start_ms;
    let share = |whole: i64| {
        let (n, d) = (i128::from(whole) * i128::from(passed), i128::from(s.duration_ms));
        i64::try_from((2 * n + d).div_euclid(2 * d)).unwrap_or(whole)
    };
    Some(Segment {
        duration_ms: passed,
        bit_to_mm: s.bit_from_mm + share(s.bit_to_mm - s.bit_from_mm),
        milli_turns: share(s.milli_turns),
        ..s.clone()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn segment(start_ms: i64, duration_ms: i64) -> Segment {
        Segment {
            activity: Activity::RotatingOnBottom,
            start_ms,
            duration_ms,
            bit_from_mm: 1_000,
            bit_to_mm: 2_001,
            milli_turns: 10_000,
            wob_n: Some(5),
            torque_nm: None,
            hookload_n: None,
        }
    }

    #[test]
    fn a_segment_is_cut_evenly_and_to_the_millisecond() {
        let s = segment(100, 400);
        assert_eq!(segment_until(&s, 100), None);
        assert_eq!(segment_until(&s, 500), Some(s.clone()));
        let part = segment_until(&s, 200).unwrap();
        assert_eq!((part.start_ms, part.duration_ms), (100, 100));
        assert_eq!((part.bit_to_mm, part.milli_turns, part.wob_n), (1_250, 2_500, Some(5)));
    }
}
