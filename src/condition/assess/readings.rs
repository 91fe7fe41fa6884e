//! Readings: each held against the criteria that it serves.

use std::borrow::Cow;

use crate::model::{Class, Provenance, ReadingKind, Vocabulary};
use crate::units::{Measure, Rational, UnitSystem};

use crate::condition::criterion::{Criterion, Take};
use crate::condition::limit::{Basis, Comparison, ForClass, Limit, Reference};
use crate::condition::needs::Wanted;
use crate::condition::subject::{Amount, Measured};
use crate::condition::verdict::{Judged, Judgement, Lack, Missing, Outcome};
use crate::condition::words::{Blocks, Part};

use super::evaluate::Candidate;
use super::{Assessment, PartOutcome};

/// New pipe may be this much under its nominal diameter (API Spec 5D, 2nd ed. 1991, as reprinted:
/// 0.75 %), so that this much of a loss is nobody's doing.
const OD_TOLERANCE: (i64, i64) = (75, 10_000);

impl Assessment<'_> {
    /// Readings of a kind on a part: those of this inspection, else the latest one before.
    ///
    /// Where an instrument in doubt was the only one, there is none.
    pub(super) fn values(&self, what: ReadingKind, part: Part) -> Vec<(Measured, Option<i64>)> {
        let here = |m: &Measured| m.what == what && self.part_of(m) == Some(part);
        let now: Vec<Measured> =
            self.subject.readings.iter().copied().filter(|m| here(m)).collect();
        if now.is_empty() {
            return self
                .subject
                .earlier
                .readings
                .iter()
                .filter(|(m, _)| here(m) && !m.doubtful)
                .map(|(m, age)| (*m, Some(*age)))
                .collect();
        }
        let mut sound: Vec<_> =
            now.into_iter().filter(|m| !m.doubtful).map(|m| (m, None)).collect();
        sound.sort_unstable();
        sound.dedup();
        sound
    }

    /// Whether a kind was read on a part, but only with instruments in doubt.
    pub(super) fn only_doubtful(&self, what: ReadingKind, part: Part) -> bool {
        let mut of = self
            .subject
            .readings
            .iter()
            .filter(|m| m.what == what && self.part_of(m) == Some(part))
            .peekable();
        of.peek().is_some() && of.all(|m| m.doubtful)
    }

    /// The part to which a reading belongs; `None` for one of an end that names none.
    fn part_of(&self, m: &Measured) -> Option<Part> {
        let ends = m.what.spec().ends;
        match (ends, m.end) {
            ([], _) => Some(Part::Tube),
            (ends, Some(end)) if ends.contains(&end) => Some(Part::from(end)),
            // The band that a joint always has is the one at its box.
            (_, None) if m.what == ReadingKind::HardbandHeight => Some(Part::Box),
            ([one], None) => Some(Part::from(*one)),
            _ => None,
        }
        .filter(|p| p.end().is_none_or(|e| self.subject.ends.contains(&e)))
    }

    /// Judges every reading by every criterion that it serves.
    pub(super) fn read_values(&mut self) {
        for m in &self.subject.readings {
            if self.part_of(m).is_none() && !self.unplaced.contains(&m.what) {
                self.unplaced.push(m.what);
            }
        }
        self.unplaced.sort_unstable();
        let parts = self.parts();
        for criterion in Criterion::ALL.iter().copied() {
            let Take::Reading(what) = criterion.spec().take else { continue };
            // Wear inside is judged by the same wall, but only where someone saw it.
            if criterion == Criterion::ErosionWall {
                continue;
            }
            for part in parts.iter().copied().filter(|p| criterion.judges(*p)) {
                // The wall beside a cut is wall as well.
                let beside = match what {
                    ReadingKind::Wall => self.values(ReadingKind::AdjacentWall, part),
                    _ => Vec::new(),
                };
                for (m, age) in self.values(what, part).into_iter().chain(beside) {
                    if criterion == Criterion::StretchOd {
                        self.judge_body_diameter(m, age);
                    } else {
                        let mut c = Candidate::new(criterion, part, Judged::Read(m.amount));
                        c.age = age;
                        self.take(c);
                    }
                }
            }
        }
        if let Some(bsr) = self.subject.bsr {
            for criterion in [Criterion::Bsr, Criterion::BsrGood] {
                self.take(Candidate::new(criterion, Part::Tube, Judged::Factor(bsr)));
            }
        }
    }

    /// Judges a candidate and keeps what comes out.
    pub(super) fn take(&mut self, candidate: Candidate) {
        let (criterion, part) = (candidate.criterion, candidate.part);
        match self.judge(candidate) {
            Ok(j) => self.keep(j),
            Err(lack) => self.cannot_judge(criterion, part, lack),
        }
    }

    pub(super) fn keep(&mut self, j: Judgement) {
        let spec = j.criterion.spec();
        for state in self.states(j.part) {
            state.judged = true;
            match j.outcome {
                Outcome::Class(c) => state.measured = state.measured.max(c),
                Outcome::Fails if j.blocks == Blocks::Part => state.come_to(PartOutcome::Rejected),
                Outcome::Fails if j.blocks == Blocks::Scrap => state.come_to(PartOutcome::Scrap),
                Outcome::Fails | Outcome::Passes => {}
            }
            if j.outcome == Outcome::Class(Class::Scrap) {
                state.come_to(PartOutcome::Scrap);
            }
        }
        if j.outcome == Outcome::Fails && j.finding.is_none() {
            self.restrictions.extend(spec.restriction);
        }
        if !self.judgements.contains(&j) {
            self.judgements.push(j);
        }
    }

    /// A reading that is there and cannot be judged: critical when the class rests on it.
    fn cannot_judge(&mut self, criterion: Criterion, part: Part, lack: Lack) {
        let spec = criterion.spec();
        let Take::Reading(what) = spec.take else { return };
        let rests_on_it =
            self.classed() && matches!(criterion, Criterion::WearWall | Criterion::JointOd);
        // A criterion for which the set has no limit on this component judges nothing here.
        let of_the_end = matches!(criterion, Criterion::JointOd | Criterion::Shoulder);
        if lack == Lack::NoLimit && !of_the_end && !rests_on_it {
            return;
        }
        let why = match lack {
            Lack::NoLimit => "the set has no limit for this pipe and connection",
            _ => "the limit is a part of a nominal dimension that is not known",
        };
        self.note_missing(Missing {
            part,
            what: format!("limit of {}", spec.name),
            wanted: Some(Wanted::Reading(what)),
            lack,
            critical: rests_on_it,
            could_stop: false,
            from_class: None,
            by: Vec::new(),
            why: why.to_owned(),
        });
    }

    /// The smallest diameter of the body.
    ///
    /// The table limits diameters of stretched pipe, not of worn pipe, whose wall is limited
    /// instead; and a diameter does not say which of the two it is. So a diameter that wear within
    /// a class could leave is judged by that, and one that is smaller than the measured wall
    /// explains holds the tube until somebody says what it is (common practice).
    fn judge_body_diameter(&mut self, m: Measured, age: Option<i64>) {
        let mut c = Candidate::new(Criterion::StretchOd, Part::Tube, Judged::Read(m.amount));
        c.age = age;
        let strict = match self.judge(c.clone()) {
            Ok(j) => j,
            Err(lack) => return self.cannot_judge(Criterion::StretchOd, Part::Tube, lack),
        };
        let by_wear = self.diameters_left_by_wear();
        let wear = self.judge_by(c, &by_wear).unwrap_or_else(|_| strict.clone());
        let stricter = strict.outcome.severity() > wear.outcome.severity();
        if !stricter {
            return self.keep(strict);
        }
        if self.smaller_than_wear_explains(m.amount) {
            self.note_missing(Missing {
                part: Part::Tube,
                what: "cause of the loss of diameter".to_owned(),
                wanted: Some(Wanted::Reading(ReadingKind::BodyOd)),
                lack: Lack::Unexplained,
                critical: true,
                could_stop: false,
                from_class: None,
                by: self.methods_for_reading(ReadingKind::Wall),
                why: "smaller than the wall that was read explains: stretched, crushed or dented, \
                      or the wall was not read there"
                    .to_owned(),
            });
        }
        self.keep(wear);
    }

    /// For each class, the smallest diameter that is either allowed to stretched pipe or left by
    /// even wear down to the wall of that class.
    pub(super) fn diameters_left_by_wear(&self) -> Vec<Cow<'_, Limit>> {
        let nominal = &self.subject.nominal;
        let (Some(od), Some(wall)) = (nominal.od, nominal.wall) else { return Vec::new() };
        let walls = self.limits_for(Criterion::WearWall, Part::Tube);
        let share = |class: ForClass| {
            walls
                .iter()
                .find(|l| {
                    l.class == class
                        && l.comparison == Comparison::AtLeast
                        && l.basis == Basis::ShareOf(Reference::NominalWall)
                })
                .map(|l| l.number)
        };
        let worn = |class: ForClass| -> Option<Rational> {
            let gone = Rational::ONE.checked_add(share(class)?.negated())?;
            let both_sides = gone.checked_mul(Rational::integer(wall.checked_mul(2)?))?;
            Rational::integer(od).checked_add(both_sides.negated())
        };
        let mut limits: Vec<Cow<'_, Limit>> = Vec::new();
        for l in self.limits_for(Criterion::StretchOd, Part::Tube) {
            let stretched = match (l.basis, l.comparison) {
                (Basis::ShareOf(Reference::NominalOd), Comparison::AtLeast) => {
                    l.number.checked_mul(Rational::integer(od))
                }
                _ => None,
            };
            let Some(stretched) = stretched else { continue };
            match worn(l.class) {
                Some(worn) if worn < stretched => limits.push(Cow::Owned(Limit {
                    number: worn,
                    basis: Basis::Length,
                    written: format!(
                        "{}, what even wear within the class leaves",
                        worn.round()
                            .map(|q| Measure::Wall.text(q, UnitSystem::Us))
                            .unwrap_or_default()
                    ),
                    standard: "geometry".to_owned(),
                    edition: String::new(),
                    source: "nominal diameter less twice the wall that the class may lose"
                        .to_owned(),
                    provenance: Provenance::Computed,
                    line: 0,
                    ..l.into_owned()
                })),
                _ => limits.push(l),
            }
        }
        // Below the last class there is Class 3, as in the table of the walls.
        if walls.iter().any(|l| l.class == ForClass::Class(Class::Class3))
            && let Some(last) = limits.iter().max_by_key(|l| l.class).cloned()
        {
            limits.push(Cow::Owned(Limit {
                class: ForClass::Class(Class::Class3),
                comparison: Comparison::Below,
                ..last.into_owned()
            }));
        }
        limits
    }

    fn smaller_than_wear_explains(&self, amount: Amount) -> bool {
        let nominal = &self.subject.nominal;
        let (Some(od), Some(wall)) = (nominal.od, nominal.wall) else { return false };
        let (Some(lowest), Some(read)) =
            (self.lowest_wall(), self.in_length(ReadingKind::BodyOd, amount))
        else {
            return false;
        };
        // Somebody says what it is, and gives a diameter at least as small.
        let said = self.found.iter().any(|(f, entry)| {
            f.size.is_some_and(|size| size <= read)
                && entry.is_some_and(|e| e.judged_by.iter().any(|c| limits_a_diameter(*c)))
        });
        if said {
            return false;
        }
        let tolerance = od / OD_TOLERANCE.1 * OD_TOLERANCE.0;
        let explained = od - tolerance - 2 * (wall - lowest).max(0);
        read < explained
    }
}

const fn limits_a_diameter(criterion: Criterion) -> bool {
    matches!(criterion, Criterion::StretchOd | Criterion::SlipOd | Criterion::DentOd)
}
