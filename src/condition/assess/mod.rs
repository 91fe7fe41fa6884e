//! The engine: a subject and the standards in, a verdict out.
//!
//! What the verdict may be relied on for (and tests hold it to):
//! - comparisons are exact: a value is never rounded before it is held against a limit;
//! - what is not known never passes, and never counts as zero;
//! - less wall, more depth or one more finding never make a verdict better;
//! - the order of readings and findings changes nothing.

mod conclude;
mod evaluate;
mod findings;
mod knowledge;
mod readings;
mod thresholds;
mod unread;

use knowledge::Known;

pub use knowledge::crack_scopes;
pub use thresholds::{Threshold, thresholds};

use std::collections::BTreeSet;

use crate::model::{Class, Component, End, Method, Scope};

use super::catalogue::Finding;
use super::limits::Fit;
use super::methods::Capabilities;
use super::restriction::Restriction;
use super::standards::Standards;
use super::subject::{Found, Subject};
use super::verdict::{Action, FindingVerdict, Judgement, Missing, Search, Verdict};
use super::words::Part;

pub fn assess(subject: &Subject, standards: &Standards) -> Verdict {
    let mut bench = Assessment::new(subject, standards);
    bench.read_values();
    bench.read_findings();
    bench.search_for_cracks();
    bench.ask_for_the_rest();
    bench.ask_for_what_could_stop();
    bench.conclude()
}

/// Whether parts of this component have the classes of used drill pipe. The others are accepted or
/// not.
pub const fn has_classes(component: Component) -> bool {
    matches!(component, Component::DrillPipe | Component::Pup)
}

/// What may become of a part, the worse the later.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum PartOutcome {
    Class,
    /// A critical thing is not known, in every class.
    Open,
    /// No class until it is repaired.
    Rejected,
    Scrap,
}

/// What is known of a part so far.
#[derive(Clone, Copy, Debug)]
struct State {
    part: Part,
    /// Worst class that a criterion gave.
    measured: Class,
    /// Something was asked of it or found on it.
    judged: bool,
    outcome: PartOutcome,
    /// Best class that what was looked for allows.
    cap: Class,
}

impl State {
    const fn new(part: Part) -> Self {
        Self {
            part,
            measured: Class::Critical,
            judged: false,
            outcome: PartOutcome::Class,
            cap: Class::Critical,
        }
    }

    fn come_to(&mut self, outcome: PartOutcome) {
        self.outcome = self.outcome.max(outcome);
    }
}

/// Where the verdict is put together.
struct Assessment<'a> {
    subject: &'a Subject,
    standards: &'a Standards,
    /// Findings in a fixed order, with their entries; none for a strange word.
    found: Vec<(&'a Found, Option<&'a Finding>)>,
    /// What limits must fit: the tube, the pin, the box.
    fits: [Fit; 3],
    covered: BTreeSet<Scope>,
    states: [State; 3],
    judgements: Vec<Judgement>,
    findings: Vec<FindingVerdict>,
    missing: Vec<Missing>,
    actions: Vec<Action>,
    restrictions: Vec<Restriction>,
    cautions: Vec<super::caution::Caution>,
    carried: Vec<(Part, super::needs::Wanted, i64)>,
    unplaced: Vec<crate::model::ReadingKind>,
    cracked: BTreeSet<Scope>,
    cracks: Vec<(Scope, Search)>,
    /// Something about the joint as a whole is not known: no part can be passed.
    all_open: bool,
}

impl<'a> Assessment<'a> {
    fn new(subject: &'a Subject, standards: &'a Standards) -> Self {
        let mut found: Vec<_> = subject
            .findings
            .iter()
            .map(|f| (f, standards.findings.at(&f.what, f.place, f.end).ok()))
            .collect();
        found.sort_by_key(|(f, _)| *f);
        found.dedup_by_key(|(f, _)| *f);
        Self {
            subject,
            standards,
            found,
            fits: [Part::Tube, Part::Pin, Part::Box].map(|p| subject.nominal.fit(p)),
            covered: looks(subject, &standards.capabilities)
                .flat_map(|(_, covered)| covered)
                .collect(),
            states: [Part::Tube, Part::Pin, Part::Box].map(State::new),
            judgements: Vec::new(),
            findings: Vec::new(),
            missing: Vec::new(),
            actions: Vec::new(),
            restrictions: Vec::new(),
            cautions: Vec::new(),
            carried: Vec::new(),
            unplaced: Vec::new(),
            cracked: BTreeSet::new(),
            cracks: Vec::new(),
            all_open: false,
        }
    }

    const fn fit(&self, part: Part) -> &Fit {
        match part {
            Part::Tube | Part::Joint => &self.fits[0],
            Part::Pin => &self.fits[1],
            Part::Box => &self.fits[2],
        }
    }

    fn classed(&self) -> bool {
        has_classes(self.subject.component)
    }

    /// Parts that the joint has: the tube, and its ends.
    fn parts(&self) -> Vec<Part> {
        let ends = &self.subject.ends;
        let mut parts = vec![Part::Tube];
        parts.extend(ends.contains(&End::Pin).then_some(Part::Pin));
        parts.extend(ends.contains(&End::Box).then_some(Part::Box));
        parts
    }

    /// The states that a part stands for; all of them for the joint as a whole.
    fn states(&mut self, part: Part) -> impl Iterator<Item = &mut State> {
        self.states.iter_mut().filter(move |s| s.part == part || part == Part::Joint)
    }

    fn note_missing(&mut self, missing: Missing) {
        if missing.critical {
            for state in self.states(missing.part) {
                match missing.from_class {
                    None => state.come_to(PartOutcome::Open),
                    Some(c) => state.cap = state.cap.max(next_worse(c)),
                }
            }
        }
        if !self.missing.contains(&missing) {
            self.missing.push(missing);
        }
    }
}

/// How the joint was looked at that day: by each inspection, with what it covers.
fn looks<'a>(
    subject: &'a Subject,
    capabilities: &'a Capabilities,
) -> impl Iterator<Item = (&'a [Method], BTreeSet<Scope>)> {
    let own = std::iter::once((&subject.methods, &subject.stated));
    let beside = subject.beside.iter().map(|l| (&l.methods, &l.stated));
    own.chain(beside).map(|(methods, stated)| {
        (&**methods, capabilities.covers(subject.component, methods, stated))
    })
}

/// The class below one; Class 3 has none in which a joint runs.
fn next_worse(class: Class) -> Class {
    match class {
        Class::Critical => Class::Premium,
        Class::Premium => Class::Class2,
        Class::Class2 | Class::Class3 => Class::Class3,
        Class::Scrap => Class::Scrap,
    }
}
