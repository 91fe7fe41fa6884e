//! What can be seen from a date, by what is known now.
//!
//! Facts count when they had happened by then. What tells about the past counts whenever it was
//! learnt: a strike, a settlement, a survey, a check of an instrument, an opening balance, that two
//! joints are one or one is two, the method by which damage is worked out. A run that was under way
//! is seen as far as it had come.

use crate::model::{
    Activity, Adopted, AdoptionBody, Body, DecisionBody, Entry, EntryId, IdentityBody, Instant,
    Moment, RulingKind, RunBody, Segment,
};

use super::exposure::segments;
use super::kinds::{Seen, role};

/// How an entry is seen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sight {
    /// As it stands.
    Whole,
    /// As far as it had come.
    Part(Box<Entry>),
    /// Not yet.
    Hidden,
    /// When one of these is seen; in these words, where they differ from its own.
    WithAny(Vec<EntryId>, Option<Box<Entry>>),
    /// When all of these are seen.
    WithAll(Vec<EntryId>),
}

/// How an entry is seen from an instant; what begins at the instant itself is not yet.
pub fn sight(entry: &Entry, horizon: Instant) -> Sight {
    match role(entry.body.kind()).seen {
        Seen::Always => Sight::Whole,
        Seen::ByTime => by_time(entry, horizon),
        Seen::BySaying(told) => told(entry, horizon),
    }
}

fn by_time(entry: &Entry, horizon: Instant) -> Sight {
    if entry.starts() < horizon { Sight::Whole } else { Sight::Hidden }
}

/// Damage is worked out under one method, whenever it came; what founds a book reaches back.
pub(super) fn of_adoption(entry: &Entry, horizon: Instant) -> Sight {
    let reaches = |b: &AdoptionBody| b.founding || b.what == Adopted::Fatigue;
    let always = matches!(&entry.body, Body::Adoption(b) if reaches(b));
    if always { Sight::Whole } else { by_time(entry, horizon) }
}

pub(super) fn of_strike(entry: &Entry, horizon: Instant) -> Sight {
    let Body::Strike(b) = &entry.body else { return by_time(entry, horizon) };
    Sight::WithAny(vec![b.entry.clone()], None)
}

/// That something was settled is known; on the joints it was not yet recorded.
pub(super) fn of_decision(entry: &Entry, horizon: Instant) -> Sight {
    let Body::Decision(b) = &entry.body else { return by_time(entry, horizon) };
    if b.ruling.kind() != RulingKind::Settle {
        return by_time(entry, horizon);
    }
    let named = b.ruling.entries().into_iter().cloned().collect();
    let late = entry.starts() >= horizon && !b.joints.is_empty();
    let bare = DecisionBody { joints: Vec::new(), ..b.clone() };
    let bare = Entry { body: Body::Decision(bare), ..entry.clone() };
    Sight::WithAny(named, late.then(|| Box::new(bare)))
}

pub(super) fn of_identity(entry: &Entry, horizon: Instant) -> Sight {
    if matches!(&entry.body, Body::Identity(IdentityBody::Remark { .. })) {
        return by_time(entry, horizon);
    }
    with_joints(entry, horizon)
}

/// When all joints that it names are seen.
pub(super) fn with_joints(entry: &Entry, _: Instant) -> Sight {
    Sight::WithAll(entry.body.joints().into_iter().map(|j| j.joint.clone()).collect())
}

pub(super) fn of_run(entry: &Entry, horizon: Instant) -> Sight {
    let Body::Run(b) = &entry.body else { return by_time(entry, horizon) };
    let start = b.start.start(entry.recorded.offset_minutes);
    if start >= horizon {
        Sight::Hidden
    } else if entry.ends() <= horizon {
        Sight::Whole
    } else {
        Sight::Part(Box::new(run_until(entry, b, start, horizon)))
    }
}

/// A run as far as it had come. Of a run told by a summary, time passed evenly.
fn run_until(entry: &Entry, body: &RunBody, start: Instant, horizon: Instant) -> Entry {
    let offset = entry.recorded.offset_minutes;
    let mut seen = body.clone();
    seen.swaps.retain(|s| s.at.start(offset) < horizon);
    let all = segments(body);
    let until = horizon.0 - start.0;
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
    if !all.is_empty() {
        (seen.hours, seen.rotary_speed, seen.depth_in, seen.depth_out) = (None, None, None, None);
    }
    Entry {
        effective: Moment::Clock(horizon.at(offset)),
        body: Body::Run(Box::new(seen)),
        ..entry.clone()
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
