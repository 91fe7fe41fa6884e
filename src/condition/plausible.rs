//! Readings outside physics: named with their place before they are believed. The bounds are wide
//! on purpose (common practice); a limit of wear is no bound here.

use crate::model::ReadingKind;

use super::subject::{Amount, Subject};

/// A reading or finding that cannot be.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{what}: {why}")]
pub struct Implausible {
    /// Which reading, in words: `wall`, `pin tj_od`.
    pub what: String,
    /// What is wrong with it, and what would be right.
    pub why: String,
}

/// What cannot be among the readings and findings of a subject.
pub fn implausible(subject: &Subject) -> Vec<Implausible> {
    let mut out = Vec::new();
    for m in &subject.readings {
        let what = match m.end {
            Some(end) => format!("{end} {}", m.what),
            None => m.what.to_string(),
        };
        let mut say = |why: &str| {
            out.push(Implausible { what: what.clone(), why: why.to_owned() });
        };
        let nominal = m.what.nominal().and_then(|k| subject.nominal.value(k));
        let per_mille = match (m.amount, nominal) {
            (Amount::OfNominal(q), _) => Some(q / 1_000_000),
            (Amount::Length(q), Some(n)) if n > 0 => q.checked_mul(1_000).map(|p| p / n),
            _ => None,
        };
        let may_be_nothing = matches!(
            m.what,
            ReadingKind::Stretch
                | ReadingKind::Bow
                | ReadingKind::HardbandHeight
                | ReadingKind::ProfileGap
                | ReadingKind::FlawDepth
        );
        if let Amount::Length(q) | Amount::OfNominal(q) = m.amount
            && q <= 0
            && !may_be_nothing
        {
            say("must be more than nothing");
            continue;
        }
        let plausible = m.what.spec().share.and_then(|share| share.plausible);
        let (least, most) = plausible.unwrap_or((0, i64::MAX));
        match per_mille {
            Some(p) if p < least => say("is far below nominal; check the unit and the column"),
            Some(p) if p > most => say("is far above nominal; check the unit and the column"),
            _ => {}
        }
        if let Amount::Length(q) = m.amount {
            if m.what == ReadingKind::Stretch && q.abs() > 2_540_000 {
                say("is the growth over 2 in, not the length of 2 in itself");
            }
            if m.what == ReadingKind::FlawDepth && subject.nominal.wall.is_some_and(|w| q > w) {
                say("is deeper than the wall: a hole is a washout");
            }
        }
    }
    for end in &subject.ends {
        let of = |what: ReadingKind| {
            subject.readings.iter().find_map(|m| match m.amount {
                Amount::Length(q) if m.what == what && m.end == Some(*end) => Some(q),
                _ => None,
            })
        };
        let mut say = |what: &str, why: &str| {
            out.push(Implausible { what: format!("{end} {what}"), why: why.to_owned() });
        };
        if let (Some(outside), Some(inside)) = (of(ReadingKind::JointOd), of(ReadingKind::JointId))
            && inside >= outside
        {
            say("tj_id", "is not smaller than the outside diameter");
        }
        if let (Some(outside), Some(bore)) =
            (of(ReadingKind::JointOd), of(ReadingKind::Counterbore))
            && bore >= outside
        {
            say("counterbore", "is not smaller than the outside diameter");
        }
        if let (Some(outside), Some(width)) = (of(ReadingKind::JointOd), of(ReadingKind::Shoulder))
            && width >= outside / 2
        {
            say("shoulder", "is wider than half of the outside diameter");
        }
    }
    for f in &subject.findings {
        if f.size.is_some_and(|q| q < 0) {
            out.push(Implausible {
                what: f.what.clone(),
                why: "has a size below nothing".to_owned(),
            });
        }
        if f.share.is_some_and(|q| !(0..=1_000_000_000).contains(&q)) {
            out.push(Implausible {
                what: f.what.clone(),
                why: "has a share outside 0 to 100 %".to_owned(),
            });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::subject::{Found, Measured};
    use crate::model::{Component, End};

    fn reading(what: ReadingKind, end: Option<End>, q: i64) -> Measured {
        Measured { what, end, amount: Amount::Length(q), at: None, doubtful: false }
    }

    #[test]
    fn what_cannot_be_is_named() {
        let mut s = Subject::new(Component::DrillPipe);
        s.nominal.wall = Some(9_194_800);
        s.nominal.od = Some(127_000_000);
        s.readings = vec![
            reading(ReadingKind::Wall, None, 9_194_800 * 14 / 10),
            reading(ReadingKind::BodyOd, None, 0),
            reading(ReadingKind::Stretch, Some(End::Pin), 50_952_400),
            reading(ReadingKind::JointOd, Some(End::Box), 160_000_000),
            reading(ReadingKind::JointId, Some(End::Box), 170_000_000),
            reading(ReadingKind::HardbandHeight, Some(End::Box), 0),
        ];
        s.findings = vec![Found { share: Some(2_000_000_000), ..Found::new("nick") }];
        let said: Vec<String> = implausible(&s).iter().map(ToString::to_string).collect();
        assert_eq!(
            said,
            [
                "wall: is far above nominal; check the unit and the column",
                "body_od: must be more than nothing",
                "pin stretch: is the growth over 2 in, not the length of 2 in itself",
                "box tj_id: is not smaller than the outside diameter",
                "nick: has a share outside 0 to 100 %",
            ]
        );
    }
}
