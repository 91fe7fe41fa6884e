//! What an entry or a run says of a joint, in a line; and what it leaves unknown.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use serde_json::Value;

use crate::model::{
    AmendBody, Body, Class, DAY_MS, End, EntryKind, FieldChange, GapBody, InspectionBody, RunGrade,
    Scope, Stated, TorqueVerdict, Vocabulary,
};
use crate::projection::exposure::flag_names;
use crate::schema::{FailureRow, GapRow, InspectionRow, JointRunRow, MakeupRow, RepairRow, RunRow};
use crate::units::{Measure as M, UnitSystem};

use super::super::PLACES;

/// What is told, and what was unknown.
#[derive(Debug, Default)]
pub(super) struct Detail {
    pub detail: String,
    /// What nobody knew at this point.
    pub unknown: Vec<String>,
}

impl Detail {
    /// With the entries that amended what is told.
    pub(super) fn amended(mut self, by: &[String]) -> Self {
        if !by.is_empty() {
            let lead = if self.detail.is_empty() { "" } else { ", " };
            let _ = write!(self.detail, "{lead}as amended by {}", by.join(", "));
        }
        self
    }

    /// With what the entry was, where it was set aside and taken in again.
    pub(super) fn again(mut self, was: Option<&str>) -> Self {
        if let Some(was) = was {
            let lead = if self.detail.is_empty() { "" } else { ", " };
            let _ = write!(self.detail, "{lead}{was}");
        }
        self
    }
}

/// What an amendment changes, field by field.
pub fn changes(body: &AmendBody) -> String {
    let text = |value: &Option<Value>| match value {
        None => "not known".to_owned(),
        Some(Value::Array(list)) => list.iter().map(told).collect::<Vec<_>>().join(", "),
        Some(value) => told(value),
    };
    let of = |c: &FieldChange| {
        // A part of a list is called by what it is of.
        let name = c.field.strip_prefix("readings:").unwrap_or(&c.field).replace(':', " ");
        format!("{} {} → {}", plain(&name), text(&c.was), text(&c.is))
    };
    body.changes.iter().map(of).collect::<Vec<_>>().join("; ")
}

/// A value as people say it: of a reading what was read, of a finding its word and size.
fn told(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Object(members) => {
            let text = |name: &str| members.get(name).and_then(Value::as_str);
            let (size, at) = (text("size").or_else(|| text("share")), text("at"));
            let what = text("value").map(str::to_owned);
            let what = what.or_else(|| text("what").map(plain)).unwrap_or_default();
            let size = size.map_or_else(String::new, |size| format!(" {size}"));
            let at = at.map_or_else(String::new, |at| format!(" at {at}"));
            format!("{what}{size}{at}")
        }
        other => other.to_string(),
    }
}

fn plain(word: &str) -> String {
    word.replace('_', " ")
}

/// What a joint went through in a run, between which neighbours.
pub(super) fn of_run(
    run: &RunRow,
    r: &JointRunRow,
    neighbours: (Option<&str>, Option<&str>),
    units: UnitSystem,
) -> Detail {
    let mut parts = vec![format!("{} in {}", run.name, run.well)];
    if let (Some(top), Some(bottom)) = (r.top_depth, r.bottom_depth) {
        let (top, bottom) = (M::Depth.number_text(top, units), M::Depth.text(bottom, units));
        parts.push(format!("{top} to {bottom}"));
    }
    parts.push(match neighbours {
        (Some(below), Some(above)) => format!("place {} between {below} and {above}", r.position),
        (Some(below), None) => format!("place {} above {below}", r.position),
        (None, Some(above)) => format!("place {} below {above}", r.position),
        (None, None) => format!("place {}", r.position),
    });
    parts.extend(r.figures.hours.map(|h| M::Hours.text(h, units)));
    parts
        .extend(r.figures.revolutions.map(|t| format!("{} turns", M::Turns.number_text(t, units))));
    parts.extend(r.figures.max_dogleg.map(|d| format!("bend {}", M::Dogleg.text(d, units))));
    parts.extend(r.figures.max_tension.map(|t| format!("pull {}", M::Force.text(t, units))));
    match r.figures.worst_damage() {
        Some(d) => parts.push(format!("damage +{}", M::Damage.number_text(d, units))),
        None => parts.push("damage unknown".to_owned()),
    }
    for (what, at) in
        [("in compression", r.figures.compression()), ("tube on the wall", r.figures.contact())]
    {
        parts.extend(hours_at(what, at, units));
    }
    let buckled = r.figures.buckled_hours.filter(|h| *h > 0);
    parts.extend(buckled.map(|h| format!("buckled {}", M::Hours.text(h, units))));
    if r.conflicting {
        parts.push("IN CONFLICT, not counted".to_owned());
    }
    if r.restriction_broken == Some(true) {
        parts.push("a restriction that it carried was not kept".to_owned());
    }
    Detail { detail: parts.join(", "), unknown: unknown_of_run(run, r) }
}

/// Hours of a state at the places of the joint, where it was in it at all.
fn hours_at(what: &str, hours: [Option<i64>; 3], units: UnitSystem) -> Option<String> {
    let most = hours.into_iter().flatten().max().filter(|h| *h > 0)?;
    if hours == [Some(most); 3] {
        return Some(format!("{what} {}", M::Hours.text(most, units)));
    }
    let at = |(place, hours): (&str, Option<i64>)| match hours {
        Some(h) => format!("{} at the {place}", M::Hours.text(h, units)),
        None => format!("nobody knows how long at the {place}"),
    };
    let each: Vec<String> = PLACES.into_iter().zip(hours).map(at).collect();
    Some(format!("{what} {}", each.join(", ")))
}

/// What the record of a run leaves open for a joint.
pub(in crate::report) fn unknown_of_run(run: &RunRow, r: &JointRunRow) -> Vec<String> {
    let mut out = Vec::new();
    let mut say = |holds: bool, what: &str| {
        if holds {
            out.push(what.to_owned());
        }
    };
    say(run.survey.is_none(), "the hole: no survey");
    say(run.mud_weight.is_none(), "mud weight, so tension");
    say(run.environment.is_none(), "what the mud does to fatigue: the curve for air was used");
    say(run.casing_depth.is_none(), "casing depth");
    say(run.grade != RunGrade::Logged, &format!("the log: the run is {}", plain(run.grade.word())));
    say(run.equipment_doubtful, "whether slips and bushing were sound: a check failed");
    for (bit, name) in flag_names().filter(|(bit, name)| r.flags & bit != 0 && *name != "estimated")
    {
        let _ = bit;
        out.push(name.to_owned());
    }
    out
}

/// Readings with those of the inspection before, class before and after, findings.
pub(super) fn of_inspection(
    b: &InspectionBody,
    covers: &BTreeSet<Scope>,
    row: Option<&InspectionRow>,
    before: Option<&InspectionRow>,
    units: UnitSystem,
) -> Detail {
    let mut parts = Vec::new();
    if !b.methods.is_empty() {
        let methods: Vec<String> = b.methods.iter().map(|m| plain(m.word())).collect();
        parts.push(methods.join(" + "));
    }
    let mut unknown = Vec::new();
    if let Some(r) = row {
        parts.extend(readings(r, before, units));
        // The row has the worst of its day so far; what this one read stands beside it.
        if before.is_some_and(|before| r.date - before.date < DAY_MS) && !b.readings.is_empty() {
            let own = b.readings.iter().map(|own| {
                let end = own.end.map_or_else(String::new, |end| format!("{end} "));
                format!("{end}{} {}", plain(own.what.word()), own.value)
            });
            parts.push(format!("(this one read {})", own.collect::<Vec<_>>().join(", ")));
        }
        let class = |c: Option<Class>| c.map_or_else(|| "no class".to_owned(), |c| plain(c.word()));
        parts.push(format!("{} → {}", class(r.class_before), class(r.class)));
        parts.extend(r.criterion.as_ref().map(|c| format!("by {}", plain(c))));
        if r.instrument_doubtful {
            parts.push("instrument in doubt".to_owned());
            unknown.push("how far its instrument was off".to_owned());
        }
        unknown.extend(r.not_measured.as_ref().map(|n| format!("not measured: {}", plain(n))));
    }
    for f in &b.findings {
        let end = f.end.map_or_else(String::new, |e| format!("{e} "));
        let place = f.place.map_or_else(String::new, |p| format!(" in {}", p.word()));
        let size = f.size.as_ref().map_or_else(String::new, |s| format!(" {s}"));
        parts.push(plain(&format!("found {end}{}{place}{size}", f.what)));
    }
    parts.extend(b.remark.clone());
    let crack: Vec<String> =
        CRACKS.iter().filter(|s| !covers.contains(s)).map(|s| plain(s.word())).collect();
    if !crack.is_empty() {
        unknown.push(format!("not looked for: {}", crack.join(", ")));
    }
    Detail { detail: parts.join(", "), unknown }
}

/// Scopes in which cracks of pipe are looked for.
pub(in crate::report) const CRACKS: [Scope; 5] =
    [Scope::BodyCracks, Scope::SlipCracks, Scope::UpsetCracks, Scope::PinCracks, Scope::BoxCracks];

/// Readings of an inspection, each with what it was before where it moved.
fn readings(r: &InspectionRow, before: Option<&InspectionRow>, units: UnitSystem) -> Vec<String> {
    type Get = fn(&InspectionRow) -> Option<i64>;
    let kinds: [(&str, M, Get); 12] = [
        ("wall", M::Ratio, |r| r.wall),
        ("body OD", M::Diameter, |r| r.body_od),
        ("slip area OD", M::Diameter, |r| r.slip_od),
        ("box OD", M::Diameter, |r| r.box_od),
        ("pin OD", M::Diameter, |r| r.pin_od),
        ("box shoulder", M::Diameter, |r| r.box_shoulder),
        ("pin shoulder", M::Diameter, |r| r.pin_shoulder),
        ("counterbore", M::Diameter, |r| r.box_counterbore),
        ("pin stretch", M::Wall, |r| r.pin_stretch),
        ("box tong space", M::Diameter, |r| r.box_tong),
        ("pin tong space", M::Diameter, |r| r.pin_tong),
        ("hardband height", M::Diameter, |r| r.hardband_height),
    ];
    let show = |m: M, v: i64| {
        // Beside each other a change shows in decimals, not in fractions.
        if m == M::Diameter { M::Wall.text(v, units) } else { m.text(v, units) }
    };
    let mut out = Vec::new();
    for (name, measure, get) in kinds {
        let Some(now) = get(r) else { continue };
        match before.and_then(get) {
            Some(then) if then != now => {
                out.push(format!("{name} {} (was {})", show(measure, now), show(measure, then)));
            }
            _ if matches!(name, "wall" | "box OD" | "pin OD") => {
                out.push(format!("{name} {}", show(measure, now)));
            }
            _ => {}
        }
    }
    out
}

/// Ends made up, with what was off.
pub(super) fn of_makeup(rows: &[&MakeupRow], units: UnitSystem) -> Detail {
    let mut unknown = Vec::new();
    let end = |m: &MakeupRow| {
        let mut parts = vec![format!("{} made up {}×", m.end, m.times)];
        match (m.torque, m.target_torque) {
            (Some(t), Some(target)) if is_off(m) => parts.push(format!(
                "{} {} TARGET of {}",
                M::Torque.text(t, units),
                if m.verdict == Some(TorqueVerdict::Under) { "UNDER" } else { "OVER" },
                M::Torque.text(target, units)
            )),
            (Some(t), Some(target)) => parts.push(format!(
                "{} of {}, {}",
                M::Torque.text(t, units),
                M::Torque.text(target, units),
                plain(m.verdict.map_or("not judged", Vocabulary::word))
            )),
            (Some(t), None) => parts.push(M::Torque.text(t, units)),
            _ => {}
        }
        parts.extend(m.gauge.as_ref().map(|i| format!("gauge {i}")));
        if m.instrument_doubtful {
            parts.push("gauge in doubt".to_owned());
        }
        parts.join(", ")
    };
    if rows.iter().any(|m| m.torque.is_none()) {
        unknown.push("torque".to_owned());
    }
    if rows.iter().any(|m| m.torque.is_some() && m.target_torque.is_none()) {
        unknown.push("target torque".to_owned());
    }
    if rows.iter().any(|m| m.instrument_doubtful) {
        unknown.push("true torque: the gauge failed its next check".to_owned());
    }
    let detail = rows.iter().map(|m| end(m)).collect::<Vec<_>>().join("; ");
    Detail { detail, unknown }
}

/// Whether a make-up missed its target.
pub(in crate::report) fn is_off(m: &MakeupRow) -> bool {
    matches!(m.verdict, Some(TorqueVerdict::Under | TorqueVerdict::Over))
}

/// A failure in a line.
pub(super) fn of_failure(f: &FailureRow, units: UnitSystem) -> Detail {
    let mut parts = vec![plain(f.what.word())];
    parts.extend(f.place.map(|p| format!("in {}", plain(p.word()))));
    parts.extend(f.end.map(|e| format!("{e} end")));
    parts.extend(f.well.clone());
    parts.extend(f.depth.map(|d| format!("at {}", M::Depth.text(d, units))));
    parts.extend(f.operation.clone());
    parts.extend(f.torque.map(|t| format!("torque {}", M::Torque.text(t, units))));
    parts.extend(f.pull.map(|p| format!("pull {}", M::Force.text(p, units))));
    Detail { detail: parts.join(", "), unknown: Vec::new() }
}

/// What a repair left behind.
pub(super) fn of_repair(body: &Body, row: Option<&RepairRow>, units: UnitSystem) -> Detail {
    let mut detail = of_body(body);
    if let Some(r) = row {
        if let Some(length) = r.length_after {
            let _ = write!(detail, ", length now {}", M::JointLength.text(length, units));
        }
        if let (Some(n), Some(end)) = (r.generation.filter(|g| *g > 1), r.end) {
            let end = if end == End::Pin { "pin" } else { "box" };
            let _ = write!(detail, ", {end} cut no. {n} from here on");
        }
    }
    Detail { detail, unknown: Vec::new() }
}

/// Words for `only` and the kinds of entry that each stands for.
pub(super) const KINDS: [(&str, &[EntryKind]); 13] = [
    ("runs", &[EntryKind::Run]),
    ("inspections", &[EntryKind::Inspection]),
    ("findings", &[EntryKind::Inspection]),
    ("repairs", &[EntryKind::Repair]),
    ("makeups", &[EntryKind::Makeup]),
    ("events", &[EntryKind::Event]),
    ("failures", &[EntryKind::Failure]),
    ("moves", &[EntryKind::Move]),
    ("hires", &[EntryKind::HireOut, EntryKind::HireIn]),
    ("decisions", &[EntryKind::Decision]),
    ("notes", &[EntryKind::Note]),
    ("amendments", &[EntryKind::Amend]),
    ("identity", &[EntryKind::Joint, EntryKind::Opening, EntryKind::Identity, EntryKind::Gap]),
];

/// What of the hours that are told of a stretch does not count beside the runs of the book.
pub(super) fn counted_of(gap: &GapBody, row: Option<&GapRow>, units: UnitSystem) -> Option<String> {
    let told = gap.hours.as_ref()?.stored(M::Hours)?;
    match row {
        None => Some("counted by the run itself, which the book has".to_owned()),
        Some(row) => row.hours.filter(|left| *left < told).map(|left| {
            format!(
                "at least {} of them counted: they may be hours of a run that the book has",
                M::Hours.text(left, units)
            )
        }),
    }
}

/// The remaining kinds in a few words.
pub(super) fn of_body(body: &Body) -> String {
    let mut parts: Vec<String> = Vec::new();
    match body {
        Body::Joint(b) => {
            parts.push(if b.new { "enters new".to_owned() } else { "enters used".to_owned() });
            parts.extend(b.certificate.as_ref().map(|c| format!("certificate {c}")));
            parts.extend(b.heat.as_ref().map(|h| format!("heat {h}")));
            parts.extend(b.maker.clone());
        }
        Body::Opening(b) => {
            let stated = |name: &str, s: &Option<Stated>| {
                s.as_ref().map(|s| match s {
                    Stated::Known(q) => format!("{name} {q}"),
                    Stated::Estimated(q) => format!("{name} about {q}"),
                })
            };
            parts.extend(stated("hours", &b.hours));
            parts.extend(stated("turns", &b.revolutions));
            parts.extend(stated("damage", &b.damage));
            parts.extend(b.stated_by.as_ref().map(|s| format!("stated by {s}")));
        }
        Body::Identity(b) => match b {
            crate::model::IdentityBody::Remark { serial, .. } => {
                parts.push(format!("marked {serial} from now on"));
            }
            crate::model::IdentityBody::Alias { serial, .. } => {
                parts.push(format!("also read as {serial}"));
            }
            crate::model::IdentityBody::Merge { same, .. } => {
                parts.push(format!("proved to be the same joint as {same}"));
            }
            crate::model::IdentityBody::Split { joint, other, entries, .. } => {
                parts.push(format!("{joint} and {other} are two joints"));
                let list: Vec<String> = entries.iter().map(ToString::to_string).collect();
                if !list.is_empty() {
                    parts.push(format!("{} tell of {other}", list.join(", ")));
                }
            }
        },
        Body::Gap(b) => {
            let run = b.run.as_ref().map_or_else(String::new, |r| format!(" in run {r}"));
            parts.push(match &b.hours {
                Some(hours) => format!("{hours} turned{run}, no more is known"),
                None => "nothing is known".to_owned(),
            });
            parts.extend(b.since.map(|s| format!("since {s}")));
            parts.extend(b.until.map(|u| format!("until {u}")));
            parts.extend(b.reason.clone());
        }
        Body::Move(b) => {
            parts.extend(b.location.as_ref().map(|l| format!("to {l}")));
            parts.extend(b.string.as_ref().map(|s| {
                if s == "-" { "out of its string".to_owned() } else { format!("string {s}") }
            }));
            parts.extend(b.status.map(|s| s.to_string().replace('_', " ")));
            parts.extend(b.remark.clone());
        }
        Body::HireOut(b) => {
            parts.push(format!("out on {} to {}", b.hire, b.party));
            parts.extend(b.condition.clone());
        }
        Body::HireIn(b) => parts.push(format!("back from {}", b.hire)),
        Body::Repair(b) => {
            let end = b.end.map_or_else(String::new, |e| format!("{e} "));
            parts.push(format!("{end}{}", b.work).replace('_', " "));
            parts.extend(b.removed.as_ref().map(|r| format!("{r} removed")));
            parts.extend(b.ticket.as_ref().map(|t| format!("ticket {t}")));
            parts.extend(b.shop.clone());
            parts.extend(b.remark.clone());
        }
        Body::Event(b) => {
            parts.push(b.what.to_string().replace('_', " "));
            parts.extend(b.pull.as_ref().map(|p| format!("pull {p}")));
            parts.extend(b.depth.as_ref().map(|d| format!("at {d}")));
            parts.extend(b.remark.clone());
        }
        Body::Decision(b) => {
            use crate::model::Ruling;
            parts.push(match &b.ruling {
                Ruling::Class { class, end } => {
                    let end = end.map_or_else(String::new, |e| format!(" {e}"));
                    format!("class{end} {}", class.word().replace('_', " "))
                }
                Ruling::Quarantine => "quarantine".to_owned(),
                Ruling::Release => "released".to_owned(),
                Ruling::Retire => "retired".to_owned(),
                Ruling::Settle { .. } => "conflict settled".to_owned(),
                Ruling::Waive { what } => format!("{what} waived"),
            });
            parts.push(b.reason.clone());
        }
        Body::Note(b) => parts.push(b.text.clone()),
        Body::Amend(b) => {
            let decided = b.decision.as_ref().map(|why| format!("; by decision: {why}"));
            let decided = decided.unwrap_or_default();
            parts.push(format!("{}: {} ({}{decided})", b.entry, changes(b), b.reason));
        }
        // Runs, make-ups, inspections and failures are told by their rows; the others name no joint.
        Body::Survey(_)
        | Body::Run(_)
        | Body::Makeup(_)
        | Body::Inspection(_)
        | Body::Failure(_)
        | Body::Instrument(_)
        | Body::Check(_)
        | Body::Adoption(_)
        | Body::Arrival(_)
        | Body::Epoch(_)
        | Body::Clock(_)
        | Body::Key(_)
        | Body::Layout(_)
        | Body::Strike(_) => {}
    }
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_that_tells_of_a_joint_can_be_asked_for() {
        use EntryKind::{
            Adoption, Arrival, Check, Clock, Epoch, Instrument, Key, Layout, Strike, Survey,
        };
        let asked = |kind: &EntryKind| KINDS.iter().any(|(_, kinds)| kinds.contains(kind));
        let others: Vec<EntryKind> =
            EntryKind::ALL.iter().copied().filter(|kind| !asked(kind)).collect();
        let expected =
            [Survey, Instrument, Check, Adoption, Arrival, Epoch, Clock, Key, Layout, Strike];
        assert_eq!(others, expected);
    }
}
