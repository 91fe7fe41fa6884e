//! From what is known to what follows: standings, what governs, dispositions, paint, cautions.

use std::cmp::Reverse;

use crate::model::{Class, Provenance, Vocabulary};
use crate::units::Rational;

use crate::condition::caution::Caution;
use crate::condition::verdict::{
    Action, Band, Because, Governing, Judgement, Lack, Outcome, PartVerdict, Search, Standing,
    Verdict,
};
use crate::condition::words::{Blocks, Colour, Disposition, Part, Person};

use super::{Assessment, PartOutcome, State};

const TABLE_B19: &str = "ISO 10407-2 / API RP 7G-2, read as GOST 33006.2-2014 Table B.19";
const RED: &str = "trade pages (red: scrap); API RP 7G-2 from memory";
const TOOL_JOINT: &str = "API RP 7G colour code, RP 7G-2 8.5, from memory";

impl Assessment<'_> {
    pub(super) fn conclude(mut self) -> Verdict {
        let parts = self.parts();
        let verdicts: Vec<(Part, PartVerdict)> = self
            .states
            .iter()
            .filter(|s| parts.contains(&s.part) && (s.judged || s.part != Part::Tube))
            .map(|s| (s.part, self.part_verdict(*s)))
            .collect();
        let overall = self.overall(&verdicts);
        let of = |part| verdicts.iter().find(|(p, _)| *p == part).map(|(_, v)| *v);
        let (tube, pin, box_) = (of(Part::Tube), of(Part::Pin), of(Part::Box));

        // What a better class than the measured one would need holds nothing back.
        for m in &mut self.missing {
            if let (Some(from), Some(measured)) = (m.from_class, overall.measured) {
                m.critical &= measured <= from;
            }
        }
        self.act_on_limits();
        let downgrade_to = self.act_on_class(&verdicts, overall);
        self.put_in_order();
        let disposition =
            self.actions.iter().map(|a| a.disposition).max().unwrap_or(Disposition::Run);
        let bands = self.bands(tube);
        self.cautions_for(overall.standing, disposition);
        let governing = self.governing(overall);

        Verdict {
            component: self.subject.component,
            limits: self.standards.limits.title(),
            tube,
            pin,
            box_,
            overall,
            governing,
            judgements: self.judgements,
            findings: self.findings,
            missing: self.missing,
            covered: self.covered,
            cracks: self.cracks,
            carried: self.carried,
            unplaced: self.unplaced,
            disposition,
            downgrade_to,
            actions: self.actions,
            bands,
            restrictions: self.restrictions,
            cautions: self.cautions,
        }
    }

    fn part_verdict(&self, s: State) -> PartVerdict {
        let measured = self.classed().then_some(s.measured);
        let outcome = if self.all_open { s.outcome.max(PartOutcome::Open) } else { s.outcome };
        let standing = match outcome {
            PartOutcome::Scrap => Standing::Class(Class::Scrap),
            PartOutcome::Rejected => Standing::Rejected,
            PartOutcome::Open => {
                Standing::NotEstablished { at_best: measured.map(|m| m.max(s.cap)) }
            }
            PartOutcome::Class if self.classed() => Standing::Class(s.measured.max(s.cap)),
            PartOutcome::Class => Standing::Accepted,
        };
        PartVerdict { standing, measured }
    }

    fn overall(&self, verdicts: &[(Part, PartVerdict)]) -> PartVerdict {
        let nothing =
            Standing::NotEstablished { at_best: self.classed().then_some(Class::Critical) };
        let standing =
            verdicts.iter().map(|(_, v)| v.standing).reduce(Standing::with).unwrap_or(nothing);
        let measured = verdicts.iter().filter_map(|(_, v)| v.measured).max();
        PartVerdict { standing, measured }
    }

    /// Actions for limits that readings broke; what findings call for is there already.
    fn act_on_limits(&mut self) {
        let broken: Vec<Judgement> = self
            .judgements
            .iter()
            .filter(|j| j.finding.is_none() && j.outcome == Outcome::Fails)
            .cloned()
            .collect();
        for j in broken {
            let spec = j.criterion.spec();
            if spec.disposition == Disposition::Run {
                continue; // advice, such as a bending strength ratio outside its best range
            }
            self.cautions.extend(spec.caution);
            self.actions.push(Action {
                disposition: spec.disposition,
                part: j.part,
                because: Because::Criterion(j.criterion),
                works: spec.works.to_vec(),
                who: spec.who.to_vec(),
            });
        }
    }

    /// Actions that follow from the class, or from there being none.
    fn act_on_class(
        &mut self,
        verdicts: &[(Part, PartVerdict)],
        overall: PartVerdict,
    ) -> Option<Class> {
        let mut push = |disposition, part, because, who: &[Person]| {
            self.actions.push(Action {
                disposition,
                part,
                because,
                works: Vec::new(),
                who: who.to_vec(),
            });
        };
        for (part, v) in verdicts {
            if v.standing == Standing::Class(Class::Scrap) {
                let who = [Person::Inspector, Person::Owner];
                push(Disposition::Scrap, *part, Because::Class(Class::Scrap), &who);
            }
        }
        let critical: Vec<(Part, String)> = self
            .missing
            .iter()
            .filter(|m| m.critical && m.from_class.is_none())
            .map(|m| (m.part, m.what.clone()))
            .collect();
        for (part, what) in critical {
            push(Disposition::Hold, part, Because::Missing(what), &[Person::Inspector]);
        }
        if overall.standing.passes() && overall.standing.class().is_none() {
            return None;
        }
        let class = overall.standing.class().filter(|c| *c != Class::Scrap)?;
        let below = |wanted: Option<Class>| wanted.is_some_and(|w| class > w);
        // Pipe is held and sent out as Premium. Critical service is a matter of the acceptance
        // that was ordered, so that pipe which no longer reaches it, unasked, is not downgraded.
        let before = self.subject.class_before.map(|c| c.max(Class::Premium));
        let down = below(before) || below(self.subject.acceptance);
        // Nobody runs Class 3 without its owner's word.
        let first_time = class == Class::Class3 && self.subject.class_before.is_none();
        if down || first_time {
            let who = [Person::Inspector, Person::Owner];
            push(Disposition::Downgrade, Part::Joint, Because::Class(class), &who);
            return Some(class);
        }
        None
    }

    fn put_in_order(&mut self) {
        self.judgements.sort_by(|a, b| {
            (a.part, a.criterion, a.value, a.age, &a.finding).cmp(&(
                b.part,
                b.criterion,
                b.value,
                b.age,
                &b.finding,
            ))
        });
        self.missing.sort_by(|a, b| {
            let key = |m: &super::Missing| {
                (
                    !m.critical,
                    !m.could_stop,
                    m.from_class.is_some(),
                    Reverse(m.from_class),
                    m.part,
                    m.lack,
                )
            };
            key(a).cmp(&key(b)).then_with(|| (&a.what, &a.why).cmp(&(&b.what, &b.why)))
        });
        self.actions.sort_by(|a, b| {
            b.disposition
                .cmp(&a.disposition)
                .then_with(|| (a.part, &a.because).cmp(&(b.part, &b.because)))
        });
        self.actions.dedup();
        self.carried.sort_by_key(|(part, wanted, age)| (*part, wanted.text(), *age));
        self.restrictions.sort_unstable();
        self.restrictions.dedup();
    }

    /// Paint by the standard's meaning: the tube's class on the tube, the state of a tool joint on
    /// the tool joint. Parts without classes have no bands of the standard.
    fn bands(&self, tube: Option<PartVerdict>) -> Vec<Band> {
        let mut bands = Vec::new();
        if !self.classed() {
            return bands;
        }
        if let Some(Standing::Class(class)) = tube.map(|t| t.standing) {
            let (colour, count, source, provenance) = match class {
                Class::Critical => (Colour::White, 1, TABLE_B19, Provenance::Published),
                Class::Premium => (Colour::White, 2, TABLE_B19, Provenance::Published),
                Class::Class2 => (Colour::Yellow, 1, TABLE_B19, Provenance::Published),
                Class::Class3 => (Colour::Orange, 1, TABLE_B19, Provenance::Published),
                Class::Scrap => (Colour::Red, 1, RED, Provenance::Published),
            };
            bands.push(Band { colour, count, on: Part::Tube, source, provenance });
        }
        for part in [Part::Pin, Part::Box] {
            let worst = self.actions.iter().filter(|a| a.part == part).map(|a| a.disposition).max();
            let colour = match worst {
                Some(Disposition::Scrap | Disposition::Out | Disposition::Shop) => Colour::Red,
                Some(Disposition::Dress | Disposition::Reface) => Colour::Green,
                _ => continue,
            };
            bands.push(Band {
                colour,
                count: 1,
                on: part,
                source: TOOL_JOINT,
                provenance: Provenance::Memory,
            });
        }
        bands
    }

    fn cautions_for(&mut self, standing: Standing, disposition: Disposition) {
        if standing == Standing::Class(Class::Scrap)
            || matches!(disposition, Disposition::Scrap | Disposition::Out)
        {
            self.cautions.push(Caution::MarkedOut);
        }
        let unseen = self.cracks.iter().any(|(_, s)| *s == Search::NotSearched);
        let cannot = self.missing.iter().any(|m| m.lack == Lack::CannotSee);
        if standing.passes() && (unseen || cannot) {
            self.cautions.push(Caution::Proof);
        }
        self.cautions.sort_unstable();
        self.cautions.dedup();
    }

    /// What decided: the worst judgement, finding or gap, the closest call among equals.
    fn governing(&self, overall: PartVerdict) -> Option<Governing> {
        let severity = overall.standing.severity();
        let open = matches!(overall.standing, Standing::NotEstablished { .. });
        if open || (overall.held_down() && self.held_by_a_gap(overall)) {
            let at = self.missing.iter().position(|m| m.critical)?;
            return Some(Governing::Missing(at));
        }
        // What merely keeps its limit decides nothing.
        let stops = |j: &Judgement| match j.outcome {
            Outcome::Fails => matches!(j.blocks, Blocks::Part | Blocks::Scrap),
            Outcome::Passes => false,
            Outcome::Class(_) => true,
        };
        let candidates = self.judgements.iter().enumerate().filter(|(_, j)| stops(j));
        let worst = candidates.max_by(|(i, a), (k, b)| {
            let slack = |j: &Judgement| relative(j);
            weight(a)
                .cmp(&weight(b))
                // A smaller margin is the closer call, and so the greater here.
                .then_with(|| slack(b).cmp(&slack(a)))
                .then_with(|| k.cmp(i))
        });
        if let Some((at, j)) = worst
            && weight(j) >= severity
        {
            return Some(Governing::Judgement(at));
        }
        let decisive = |b: Blocks| matches!(b, Blocks::Part | Blocks::Scrap);
        if let Some(at) = self.findings.iter().position(|f| decisive(f.blocks)) {
            return Some(Governing::Finding(at));
        }
        None
    }

    /// Whether the class is held down by what was not looked for, and not by a measurement.
    fn held_by_a_gap(&self, overall: PartVerdict) -> bool {
        match overall.standing {
            Standing::Class(c) => !self.judgements.iter().any(|j| j.outcome.severity() >= c.rank()),
            _ => false,
        }
    }
}

fn weight(j: &Judgement) -> i64 {
    if j.outcome == Outcome::Fails && j.blocks == Blocks::Scrap { 5 } else { j.outcome.severity() }
}

/// Margin as a part of the limit, so that a close call on a wall and one on a diameter compare.
fn relative(j: &Judgement) -> Rational {
    let whole = match j.value {
        crate::condition::verdict::Judged::Read(
            crate::condition::subject::Amount::Length(q)
            | crate::condition::subject::Amount::OfNominal(q),
        )
        | crate::condition::verdict::Judged::WallLeft(q)
        | crate::condition::verdict::Judged::Share(q)
        | crate::condition::verdict::Judged::Factor(q) => q.max(1),
        crate::condition::verdict::Judged::Seen => 1,
    };
    j.margin
        .and_then(|m| Rational::new(i128::from(m), i128::from(whole)))
        .unwrap_or(Rational::integer(1_000_000))
}

#[cfg(test)]
mod tests {
    use crate::model::{Component, Vocabulary};

    #[test]
    fn only_drill_pipe_has_classes() {
        for c in Component::ALL {
            let classed = matches!(c, Component::DrillPipe | Component::Pup);
            assert_eq!(super::super::has_classes(*c), classed);
        }
    }
}
