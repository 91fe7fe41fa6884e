//! What makes an entry wrong by itself, whatever else the book holds. Such a fact is refused when
//! it is written and when it arrives; everything else can always be worked in, and where facts do
//! not go together they are flagged.
//!
//! Bounds are those of the arithmetic of the folds, far beyond anything that is drilled.

use std::collections::BTreeSet;

use crate::ledger::{PublicKey, digest};
use crate::model::{
    Body, Clock, Entry, EntryId, HoleSection, IdentityBody, LayoutBody, MakeupPattern, Moment, Qty,
    Reading, RunBody, Stated, SurveyBody, TallyLine,
};
use crate::units::Measure;

use super::{adoptions, amend, exposure};

/// Largest count of quanta of any quantity: sums of thousands of them still fit.
const MOST_QUANTA: i64 = 100_000_000_000_000_000;
/// Longest run and farthest time in one, ms: ten years.
const MOST_MS: i64 = 316_000_000_000;
/// Deepest bit, mm: a hundred kilometres.
const MOST_MM: i64 = 100_000_000;
/// Most turns in one segment, thousandths.
const MOST_MILLI_TURNS: i64 = 1_000_000_000_000;
/// Most parts of a string.
const MOST_PARTS: u64 = 20_000;
/// Most columns of a layout.
const MOST_COLUMNS: usize = 20_000;
/// Most round trips, cycles, joints in a stand.
const MOST_TIMES: u32 = 10_000;

/// Says what is wrong with an entry by itself.
pub fn wrong_by_itself(entry: &Entry) -> Result<(), String> {
    let named = entry.body.joints().into_iter().map(|j| &j.joint);
    for id in named.chain(entry.body.entries()) {
        if id.number == 0 || (id.chain == entry.id.chain && id.number >= entry.id.number) {
            return Err(format!("it names {id}, which cannot have been written before it"));
        }
    }
    match &entry.body {
        Body::Key(b) => {
            PublicKey::parse(&b.site, &b.key, &b.holder).map(|_| ()).map_err(|e| e.to_string())
        }
        Body::Layout(b) => layout(b),
        Body::Survey(b) => survey(b),
        Body::Run(b) => run(b, entry.effective),
        Body::Joint(b) => {
            let length = b.length.iter().map(|q| ("length", q, Measure::JointLength));
            let others = [("od", &b.od), ("wall", &b.wall), ("id", &b.id), ("tj_od", &b.tj_od)];
            let others =
                others.into_iter().filter_map(|(n, q)| Some((n, q.as_ref()?, Measure::Diameter)));
            positive(length.chain(others))
        }
        Body::Opening(b) => {
            let all = [
                ("hours", &b.hours, Measure::Hours),
                ("revolutions", &b.revolutions, Measure::Turns),
                ("footage", &b.footage, Measure::Depth),
                ("damage", &b.damage, Measure::Damage),
                ("pin_makeups", &b.pin_makeups, Measure::Count),
                ("box_makeups", &b.box_makeups, Measure::Count),
            ];
            all.into_iter().try_for_each(|(name, stated, measure)| match stated {
                Some(Stated::Known(q) | Stated::Estimated(q)) => not_negative(name, q, measure),
                None => Ok(()),
            })
        }
        Body::Gap(b) => {
            let backwards = |from, to| begins_after(from, to);
            if b.until.is_some_and(|until| backwards(entry.effective, until))
                || b.since.is_some_and(|since| backwards(since, entry.effective))
            {
                return Err("the gap ends before it begins".to_owned());
            }
            if b.until.is_some() && b.since.is_some() {
                return Err("the gap has two ends".to_owned());
            }
            b.hours.as_ref().map_or(Ok(()), |h| not_negative("hours", h, Measure::Hours))
        }
        Body::Inspection(b) => readings(&b.readings),
        Body::Repair(b) => {
            if let Some(removed) = &b.removed {
                not_negative("removed", removed, Measure::JointLength)?;
            }
            readings(&b.results)
        }
        Body::Makeup(b) => {
            if b.times.is_some_and(|t| t > MOST_TIMES) {
                return Err(format!("a connection is made up {MOST_TIMES} times at most"));
            }
            b.pattern.as_ref().map_or(Ok(()), pattern)
        }
        Body::Identity(IdentityBody::Split { joint, other, entries, .. }) => {
            if joint.joint == other.joint {
                return Err(format!("{joint} and {other} are one joint"));
            }
            match entries.iter().find(|e| [&joint.joint, &other.joint].contains(e)) {
                Some(e) => Err(format!("{e} introduced one of the joints, and stays with it")),
                None => Ok(()),
            }
        }
        Body::Adoption(b) => {
            if b.text.as_ref().is_some_and(|t| digest(t.as_bytes()) != b.sha256) {
                return Err("its text does not give its digest".to_owned());
            }
            adoptions::wrong(b)
        }
        Body::Amend(b) => amend::wrong(b),
        Body::Identity(
            IdentityBody::Remark { .. } | IdentityBody::Alias { .. } | IdentityBody::Merge { .. },
        )
        | Body::Move(_)
        | Body::HireOut(_)
        | Body::HireIn(_)
        | Body::Event(_)
        | Body::Failure(_)
        | Body::Instrument(_)
        | Body::Check(_)
        | Body::Decision(_)
        | Body::Arrival(_)
        | Body::Epoch(_)
        | Body::Clock(_)
        | Body::Note(_)
        | Body::Strike(_) => Ok(()),
    }
}

fn quanta(name: &str, q: &Qty, measure: Measure) -> Result<Option<i64>, String> {
    match q.stored(measure) {
        Some(n) if n.abs() > MOST_QUANTA => Err(format!("{name} {q} is beyond any measure")),
        n => Ok(n),
    }
}

fn not_negative(name: &str, q: &Qty, measure: Measure) -> Result<(), String> {
    match quanta(name, q, measure)? {
        Some(n) if n < 0 => Err(format!("{name} {q} is less than nothing")),
        _ => Ok(()),
    }
}

fn positive<'a>(
    all: impl IntoIterator<Item = (&'static str, &'a Qty, Measure)>,
) -> Result<(), String> {
    all.into_iter().try_for_each(|(name, q, measure)| match quanta(name, q, measure)? {
        Some(n) if n <= 0 => Err(format!("{name} {q} is nothing")),
        _ => Ok(()),
    })
}

fn readings(all: &[Reading]) -> Result<(), String> {
    all.iter().try_for_each(|r| {
        quanta("a reading", &r.value, Measure::Diameter)?;
        quanta("a reading", &r.value, Measure::Ratio).map(|_| ())
    })
}

fn pattern(p: &MakeupPattern) -> Result<(), String> {
    let most = [
        ("trips", Some(p.trips)),
        ("stand", Some(p.stand)),
        ("offset", p.offset),
        ("rotate", p.rotate),
        ("saver", p.saver),
    ];
    let over = most.into_iter().find(|(_, n)| n.is_some_and(|n| n > MOST_TIMES));
    over.map_or(Ok(()), |(name, _)| Err(format!("{name} is {MOST_TIMES} at most")))
}

/// A layout is of a header, and tells how some column of it is read.
fn layout(b: &LayoutBody) -> Result<(), String> {
    if b.columns.len() > MOST_COLUMNS {
        return Err(format!("the layout has more than {MOST_COLUMNS} columns"));
    }
    if b.columns.iter().all(|c| c.field.is_none()) {
        return Err("the layout reads no column".to_owned());
    }
    Ok(())
}

fn survey(body: &SurveyBody) -> Result<(), String> {
    exposure::path_of(Some(body)).map(|_| ())
}

/// Whether a moment begins when another is over, by whatever clock days are days.
fn begins_after(one: Moment, other: Moment) -> bool {
    match (one, other) {
        (Moment::Day(one), Moment::Day(other)) => one > other,
        // Of all clocks the first comes to a day 14 hours before UTC, the last leaves it 12 after.
        _ => one.start(Clock::Offset(14 * 60)) > other.end(Clock::Offset(-12 * 60)),
    }
}

fn run(body: &RunBody, effective: Moment) -> Result<(), String> {
    if begins_after(body.start, effective) {
        return Err("the run ends before it begins".to_owned());
    }
    if effective.end(Clock::UTC).0 - body.start.start(Clock::UTC).0 > MOST_MS {
        return Err("the run takes more than ten years".to_owned());
    }
    tally(&body.tally)?;
    for swap in &body.swaps {
        if begins_after(body.start, swap.at) || begins_after(swap.at, effective) {
            return Err(format!("the tally changes on {}, outside the run", swap.at));
        }
        tally(&swap.tally)?;
    }
    for (s, n) in body.segments.iter().zip(1u32..) {
        let times = [s.start_ms, s.duration_ms].into_iter().all(|t| (0..=MOST_MS).contains(&t));
        let depths =
            [s.bit_from_mm, s.bit_to_mm].into_iter().all(|d| (-MOST_MM..=MOST_MM).contains(&d));
        if !times || !depths || !(0..=MOST_MILLI_TURNS).contains(&s.milli_turns) {
            return Err(format!("segment {n} has a time, depth or turns that cannot be"));
        }
    }
    let sums = [
        ("hours", &body.hours, Measure::Hours),
        ("rotary_speed", &body.rotary_speed, Measure::RotarySpeed),
        ("depth_in", &body.depth_in, Measure::Depth),
        ("depth_out", &body.depth_out, Measure::Depth),
        ("mud_weight", &body.mud_weight, Measure::Density),
        ("mud_weight_inside", &body.mud_weight_inside, Measure::Density),
        ("casing_depth", &body.casing_depth, Measure::Depth),
        ("riser_depth", &body.riser_depth, Measure::Depth),
        ("hole_diameter", &body.hole_diameter, Measure::Diameter),
    ];
    sums.into_iter().try_for_each(|(name, q, measure)| {
        q.as_ref().map_or(Ok(()), |q| not_negative(name, q, measure))
    })?;
    body.hole.iter().try_for_each(hole_section)?;
    if let Some(ms) = body.hours.as_ref().and_then(|q| q.stored(Measure::Hours))
        && ms > MOST_MS
    {
        return Err("the run rotates for more than ten years".to_owned());
    }
    let deepest = MOST_MM * 1_000_000;
    for depth in [&body.depth_in, &body.depth_out] {
        if depth.as_ref().and_then(|q| q.stored(Measure::Depth)).is_some_and(|d| d > deepest) {
            return Err("the run is deeper than any hole".to_owned());
        }
    }
    Ok(())
}

fn hole_section(section: &HoleSection) -> Result<(), String> {
    not_negative("from", &section.from, Measure::Depth)?;
    positive([("diameter", &section.diameter, Measure::Diameter)])?;
    match section.from.stored(Measure::Depth).zip(section.to.stored(Measure::Depth)) {
        Some((from, to)) if from < to => Ok(()),
        _ => Err(format!("the section of hole from {} ends above its beginning", section.from)),
    }
}

fn tally(lines: &[TallyLine]) -> Result<(), String> {
    let mut seen: BTreeSet<&EntryId> = BTreeSet::new();
    let mut parts = 0u64;
    for line in lines {
        parts = parts.saturating_add(u64::from(line.count.unwrap_or(1).max(1)));
        if let Some(joint) = &line.joint
            && (!seen.insert(&joint.joint) || line.count.is_some_and(|c| c > 1))
        {
            return Err(format!("{} stands twice in the tally", joint.serial));
        }
        if let Some(q) = &line.length {
            positive([("a length of the tally", q, Measure::JointLength)])?;
        }
    }
    if parts > MOST_PARTS {
        return Err(format!("a string has {MOST_PARTS} parts at most"));
    }
    Ok(())
}
