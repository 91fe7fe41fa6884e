//! One value against the limits of one criterion, exactly.

use std::borrow::Cow;

use crate::model::{Class, NominalKind, ReadingKind, Vocabulary};
use crate::units::{Measure, Rational};

use crate::condition::criterion::{Criterion, Take};
use crate::condition::limit::{Basis, Comparison, ForClass, Limit, Reference};
use crate::condition::subject::Amount;
use crate::condition::verdict::{Judged, Judgement, Lack, Outcome};
use crate::condition::words::{Blocks, Part};

use super::Assessment;

/// A value to be judged, and what is known around it.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    pub(super) criterion: Criterion,
    pub(super) part: Part,
    pub(super) value: Judged,
    /// Mean wall beside a cut, nanometres.
    pub(super) beside: Option<i64>,
    pub(super) age: Option<i64>,
    pub(super) finding: Option<String>,
    pub(super) remark: Option<&'static str>,
}

impl Candidate {
    pub(super) fn new(criterion: Criterion, part: Part, value: Judged) -> Self {
        Self { criterion, part, value, beside: None, age: None, finding: None, remark: None }
    }
}

/// A value and a limit made comparable.
struct Pair {
    value: Rational,
    limit: Rational,
    measure: Measure,
    /// Quanta of `measure` in one unit of the pair.
    quanta: i64,
    share: Option<Rational>,
}

struct Checked<'l> {
    limit: &'l Limit,
    pair: Pair,
    holds: bool,
}

impl Checked<'_> {
    /// Distance on the safe side, in the units of the pair.
    fn margin(&self) -> Option<Rational> {
        let (v, l) = (self.pair.value, self.pair.limit);
        match self.limit.comparison {
            Comparison::AtLeast | Comparison::Above => v.checked_add(l.negated()),
            Comparison::AtMost | Comparison::Below => l.checked_add(v.negated()),
            Comparison::Absent | Comparison::Equal => None,
        }
    }
}

impl Assessment<'_> {
    /// Limits of a criterion for a part: those of the set, else those that the caller computed.
    pub(super) fn limits_for(&self, criterion: Criterion, part: Part) -> Vec<Cow<'_, Limit>> {
        let mine =
            self.standards.limits.in_force(criterion, self.subject.component, self.fit(part));
        if mine.is_empty()
            && let Some(computed) =
                self.subject.nominal.connection(part).and_then(|c| c.limits.as_ref())
        {
            return computed.limits(criterion).into_iter().map(Cow::Owned).collect();
        }
        mine.into_iter().map(Cow::Borrowed).collect()
    }

    /// Judges a value by the limits in force.
    pub(super) fn judge(&self, candidate: Candidate) -> Result<Judgement, Lack> {
        let limits = self.limits_for(candidate.criterion, candidate.part);
        self.judge_by(candidate, &limits)
    }

    /// Judges a value by these limits.
    pub(super) fn judge_by(
        &self,
        candidate: Candidate,
        limits: &[Cow<'_, Limit>],
    ) -> Result<Judgement, Lack> {
        if limits.is_empty() {
            return Err(Lack::NoLimit);
        }
        let mut checked = Vec::with_capacity(limits.len());
        for limit in limits {
            let pair = self.pair(&candidate, limit)?;
            let holds = limit.comparison.holds(pair.value, pair.limit);
            checked.push(Checked { limit, pair, holds });
        }
        let of = |class: ForClass| checked.iter().filter(move |c| c.limit.class == class);
        let tightest = |class: ForClass| {
            of(class).min_by(|a, b| match (a.margin(), b.margin()) {
                (Some(x), Some(y)) => x.cmp(&y),
                (x, y) => x.is_none().cmp(&y.is_none()),
            })
        };
        let classes: Vec<Class> = Class::ALL
            .iter()
            .copied()
            .filter(|c| of(ForClass::Class(*c)).next().is_some())
            .collect();
        let kept = |c: Class| of(ForClass::Class(c)).all(|l| l.holds);
        let broken_in_all = of(ForClass::Any).any(|c| !c.holds);

        let (outcome, decided, next) = if broken_in_all || classes.is_empty() {
            let outcome = if broken_in_all { Outcome::Fails } else { Outcome::Passes };
            let next = (!broken_in_all).then_some(Outcome::Fails);
            (outcome, tightest(ForClass::Any), next)
        } else {
            let last = classes.last().copied().unwrap_or(Class::Class3);
            let none_at_all =
                of(ForClass::Class(last)).any(|c| c.limit.comparison == Comparison::Absent);
            // What no limit allows is Class 3, unless the table limits Class 3 as well, or allows
            // none at all.
            let rest = if last < Class::Class3 && !none_at_all {
                Outcome::Class(Class::Class3)
            } else {
                Outcome::Class(Class::Scrap)
            };
            if let Some(c) = classes.iter().copied().find(|c| kept(*c)) {
                let worse = classes.iter().copied().find(|w| *w > c);
                let next = worse.map_or(rest, Outcome::Class);
                (Outcome::Class(c), tightest(ForClass::Class(c)), Some(next))
            } else {
                (rest, tightest(ForClass::Class(last)), None)
            }
        };
        let decided = decided.or_else(|| checked.first()).ok_or(Lack::NoLimit)?;
        let scale = |r: Rational| r.checked_mul(Rational::integer(decided.pair.quanta));
        // A limit such as `< 70` for Class 3 says what a class is not: no distance to it.
        let says_a_distance =
            !(matches!(outcome, Outcome::Class(Class::Class3)) && opposes(decided.limit, &checked));
        let margin =
            if says_a_distance { decided.margin().and_then(scale).and_then(floor) } else { None };
        let spec = candidate.criterion.spec();
        Ok(Judgement {
            criterion: candidate.criterion,
            part: candidate.part,
            value: candidate.value,
            measure: decided.pair.measure,
            share: decided.pair.share.and_then(|s| {
                s.checked_mul(Rational::integer(Measure::Ratio.quanta_per_base()))?.round()
            }),
            outcome,
            limit: decided.limit.clone(),
            margin,
            next: if margin.is_some() { next } else { None },
            age: candidate.age,
            finding: candidate.finding,
            blocks: if outcome == Outcome::Fails { spec.blocks } else { Blocks::Nothing },
            remark: candidate.remark,
        })
    }

    /// A limit as a length, nanometres.
    pub(super) fn limit_as_length(
        &self,
        candidate: &Candidate,
        limit: &Limit,
    ) -> Result<Rational, Lack> {
        self.pair(candidate, limit).map(|p| p.limit)
    }

    fn pair(&self, candidate: &Candidate, limit: &Limit) -> Result<Pair, Lack> {
        let one = |value, limit, measure: Measure, share| Pair {
            value,
            limit,
            measure,
            quanta: 1,
            share,
        };
        let shares = |q: i64| {
            let value = Rational::new(i128::from(q), i128::from(Measure::Ratio.quanta_per_base()))
                .ok_or(Lack::NoNominal)?;
            Ok(Pair {
                value,
                limit: limit.number,
                measure: Measure::Ratio,
                quanta: Measure::Ratio.quanta_per_base(),
                share: Some(value),
            })
        };
        match (candidate.value, limit.basis) {
            (Judged::Seen, _) => Ok(one(Rational::ONE, limit.number, Measure::Count, None)),
            (Judged::Factor(q), _) => {
                let value =
                    Rational::new(i128::from(q), i128::from(Measure::Factor.quanta_per_base()))
                        .ok_or(Lack::NoNominal)?;
                Ok(Pair {
                    value,
                    limit: limit.number,
                    measure: Measure::Factor,
                    quanta: Measure::Factor.quanta_per_base(),
                    share: None,
                })
            }
            (Judged::Share(q), Basis::ShareOf(_)) => shares(q),
            (Judged::Share(_), _) | (_, Basis::Ratio | Basis::Count) => Err(Lack::NoNominal),
            (Judged::Read(Amount::OfNominal(q)), Basis::ShareOf(r))
                if own_nominal(candidate.criterion) == Some(r) =>
            {
                shares(q)
            }
            (value, basis) => {
                let length = self.length(candidate.criterion, value)?;
                let measure =
                    if uses_wall(candidate.criterion) { Measure::Wall } else { Measure::Diameter };
                let reference = |r| self.reference(r, candidate);
                match basis {
                    Basis::ShareOf(r) => {
                        let whole = reference(r)?;
                        let limit_value = whole.checked_mul(limit.number).ok_or(Lack::NoNominal)?;
                        Ok(one(length, limit_value, measure, length.checked_div(whole)))
                    }
                    Basis::Over(r) => {
                        let limit_value =
                            reference(r)?.checked_add(limit.number).ok_or(Lack::NoNominal)?;
                        Ok(one(length, limit_value, measure, None))
                    }
                    _ => Ok(one(length, limit.number, measure, None)),
                }
            }
        }
    }

    fn length(&self, criterion: Criterion, value: Judged) -> Result<Rational, Lack> {
        match value {
            Judged::Read(Amount::Length(q)) | Judged::WallLeft(q) => Ok(Rational::integer(q)),
            Judged::Read(Amount::OfNominal(q)) => {
                let kind = match criterion.spec().take {
                    Take::Reading(kind) => kind.nominal(),
                    _ => None,
                };
                let whole =
                    kind.and_then(|k| self.subject.nominal.value(k)).ok_or(Lack::NoNominal)?;
                Rational::new(i128::from(q), i128::from(Measure::Ratio.quanta_per_base()))
                    .and_then(|share| share.checked_mul(Rational::integer(whole)))
                    .ok_or(Lack::NoNominal)
            }
            Judged::Share(_) | Judged::Factor(_) | Judged::Seen => Err(Lack::NoNominal),
        }
    }

    /// What a limit is a part of, nanometres.
    fn reference(&self, reference: Reference, candidate: &Candidate) -> Result<Rational, Lack> {
        let nominal = &self.subject.nominal;
        let known = match reference {
            Reference::NominalWall => nominal.wall,
            Reference::NominalOd => nominal.od,
            Reference::AdjacentWall => {
                return candidate.beside.map(Rational::integer).ok_or(Lack::NoAdjacentWall);
            }
            Reference::JointOd => {
                nominal.joint_od.or_else(|| self.largest_joint_od(candidate.part))
            }
            Reference::Nominal => {
                return self.nominal_dimension(candidate.criterion, candidate.part);
            }
            Reference::BoxDepth => {
                return self.nominal_dimension(Criterion::BoxDepth, candidate.part);
            }
            Reference::SealWidth | Reference::Turn => None,
        };
        known.filter(|k| *k > 0).map(Rational::integer).ok_or(Lack::NoNominal)
    }

    fn nominal_dimension(&self, criterion: Criterion, part: Part) -> Result<Rational, Lack> {
        let own = self
            .subject
            .nominal
            .connection(part)
            .and_then(|c| c.nominal.iter().find(|(k, _)| *k == criterion))
            .map(|(_, n)| Rational::integer(*n));
        own.or_else(|| {
            self.standards
                .limits
                .nominal(criterion, self.subject.component, self.fit(part))
                .map(|l| l.number)
        })
        .ok_or(Lack::NoNominal)
    }

    fn largest_joint_od(&self, part: Part) -> Option<i64> {
        self.subject
            .readings
            .iter()
            .filter(|m| m.what == ReadingKind::JointOd && m.end == part.end())
            .filter_map(|m| match m.amount {
                Amount::Length(q) => Some(q),
                Amount::OfNominal(_) => None,
            })
            .max()
    }
}

/// Whether a limit only says what is left when the next better class is not reached.
fn opposes(limit: &Limit, all: &[Checked<'_>]) -> bool {
    all.iter().any(|c| {
        c.limit.class != limit.class
            && c.limit.comparison.wants_more() != limit.comparison.wants_more()
    })
}

/// What a share that was read of this criterion is a share of.
fn own_nominal(criterion: Criterion) -> Option<Reference> {
    match criterion.spec().take {
        Take::Reading(kind) => kind.nominal().and_then(|k| match k {
            NominalKind::Wall => Some(Reference::NominalWall),
            NominalKind::Od => Some(Reference::NominalOd),
            NominalKind::JointOd => Some(Reference::JointOd),
            NominalKind::JointId => None,
        }),
        _ => None,
    }
}

/// Whether values of this criterion are shown like walls, in decimals.
fn uses_wall(criterion: Criterion) -> bool {
    match criterion.spec().take {
        Take::WallLeft => true,
        Take::Reading(kind) => kind.spec().measure == Measure::Wall,
        _ => criterion == Criterion::SlipCutDepth,
    }
}

/// Whole quanta not above a number.
fn floor(r: Rational) -> Option<i64> {
    i64::try_from(r.numerator().div_euclid(r.denominator())).ok()
}
