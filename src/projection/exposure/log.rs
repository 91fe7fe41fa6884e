//! What the rig did, segment by segment, for `mechanics`.

use crate::mechanics::path::Drilled;
use crate::mechanics::string as mech;
use crate::model::{Activity, Qty, RunBody, Segment};
use crate::units::Measure;

/// What the rig did; for a run of which only a summary is known, one stretch of drilling.
pub(super) fn segments(body: &RunBody) -> Vec<Segment> {
    if !body.segments.is_empty() {
        return body.segments.clone();
    }
    let stored = |q: Option<&Qty>, m: Measure| q.and_then(|q| q.stored(m));
    let (Some(hours), Some(from), Some(to)) = (
        stored(body.hours.as_ref(), Measure::Hours),
        stored(body.depth_in.as_ref(), Measure::Depth),
        stored(body.depth_out.as_ref(), Measure::Depth),
    ) else {
        return Vec::new();
    };
    let speed = body.rotary_speed.as_ref().and_then(|q| q.base(Measure::RotarySpeed));
    let speed = speed.unwrap_or(0.0);
    let turns = Measure::Turns.store_f64(speed * hours as f64 * 1e-3).unwrap_or(0);
    vec![Segment {
        activity: Activity::RotatingOnBottom,
        start_ms: 0,
        duration_ms: hours,
        bit_from_mm: from / 1_000_000,
        bit_to_mm: to / 1_000_000,
        milli_turns: turns,
        wob_n: None,
        torque_nm: None,
        hookload_n: None,
    }]
}

/// The part of a segment between two times after the start of the run.
pub(super) fn between(s: &Segment, from: i64, until: i64) -> Option<(i64, i64, mech::Segment)> {
    let (mut start, mut end) = (s.start_ms, s.start_ms + s.duration_ms);
    if end <= from && s.duration_ms > 0 || start >= until {
        return None;
    }
    let mut segment = mechanical(s);
    if end > until {
        let f = (until - start) as f64 / (end - start) as f64;
        segment = segment.split_at_fraction(f).0;
        end = until;
    }
    if start < from {
        let f = (from - start) as f64 / (end - start) as f64;
        segment = segment.split_at_fraction(f).1;
        start = from;
    }
    Some((start, end - start, segment))
}

/// Adds what the log of a run tells of how its hole was drilled.
pub fn note_drilled(body: &RunBody, drilled: &mut Drilled) {
    for s in body.segments.iter().filter(|s| s.bit_to_mm > s.bit_from_mm) {
        let reach = s.bit_from_mm as f64 * 1e-3..s.bit_to_mm as f64 * 1e-3;
        match s.activity {
            Activity::Sliding => drilled.slid.push(reach),
            Activity::RotatingOnBottom => drilled.rotated.push(reach),
            Activity::ReamingUp
            | Activity::ReamingDown
            | Activity::RotatingOffBottom
            | Activity::NotRotating => {}
        }
    }
}

fn mechanical(s: &Segment) -> mech::Segment {
    let metres = |mm: i64| mm.max(0) as f64 * 1e-3;
    mech::Segment {
        activity: s.activity,
        bit_from: metres(s.bit_from_mm),
        bit_to: metres(s.bit_to_mm),
        hours: s.duration_ms.max(0) as f64 / 3_600_000.0,
        revolutions: s.milli_turns.max(0) as f64 * 1e-3,
        wob: s.wob_n.unwrap_or(0) as f64,
        torque: s.torque_nm.map(|t| t as f64),
        hookload: s.hookload_n.map(|h| h as f64),
    }
}
