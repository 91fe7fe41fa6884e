//! What a verdict says: where each part stands, on which limit, what was not measured, what
//! follows, who may act, and which caution goes with it.

use std::collections::BTreeSet;

use crate::model::{
    Class, Component, End, Method, Provenance, ReadingKind, Scope, Vocabulary, Work, fold,
};
use crate::units::Measure;

use super::caution::{Caution, DEFERENCE};
use super::criterion::{Criterion, Take};
use super::limit::Limit;
use super::needs::Wanted;
use super::restriction::Restriction;
use super::subject::{Amount, Found};
use super::words::{Blocks, Colour, Disposition, Part, Person};

/// Where a part, or the joint, stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Standing {
    /// In this class, and everything that the class needs is known. Scrap needs nothing more.
    Class(Class),
    /// A part without classes: everything it needs is known and no limit is broken.
    Accepted,
    /// Something that must be known is not: no class is given and nothing is passed.
    NotEstablished {
        /// The best class that could be passed once it is known; `None` for parts without classes.
        at_best: Option<Class>,
    },
    /// A limit that holds in every class is broken: no class until it is repaired.
    Rejected,
}

impl Standing {
    /// The class, where one is established.
    pub const fn class(self) -> Option<Class> {
        match self {
            Self::Class(c) => Some(c),
            Self::Accepted | Self::NotEstablished { .. } | Self::Rejected => None,
        }
    }

    /// Whether everything is known and good enough to run in some class.
    pub const fn passes(self) -> bool {
        !matches!(self, Self::Class(Class::Scrap) | Self::NotEstablished { .. } | Self::Rejected)
    }

    /// How bad it can be said to be so far, 0 the best. What is not known counts as good here, so
    /// that more knowledge can only make it worse.
    pub fn severity(self) -> i64 {
        match self {
            Self::Accepted | Self::NotEstablished { at_best: None } => 0,
            Self::NotEstablished { at_best: Some(Class::Scrap) } | Self::Class(Class::Scrap) => 5,
            Self::Class(c) | Self::NotEstablished { at_best: Some(c) } => c.rank(),
            Self::Rejected => 4,
        }
    }

    /// The standing of two parts together: the worse one, and not established unless both are or
    /// one is known to be bad.
    #[must_use]
    pub fn with(self, other: Self) -> Self {
        match (self, other) {
            (Self::Class(Class::Scrap), _) | (_, Self::Class(Class::Scrap)) => {
                Self::Class(Class::Scrap)
            }
            (Self::Rejected, _) | (_, Self::Rejected) => Self::Rejected,
            (Self::Accepted, s) | (s, Self::Accepted) => s,
            (Self::Class(a), Self::Class(b)) => Self::Class(a.max(b)),
            (a, b) => {
                let open = |s| match s {
                    Self::Class(c) => Some(c),
                    Self::NotEstablished { at_best } => at_best,
                    Self::Accepted | Self::Rejected => None,
                };
                Self::NotEstablished { at_best: open(a).max(open(b)) }
            }
        }
    }
}

/// What one criterion says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// The best class whose limit is kept.
    Class(Class),
    /// Within the limit that holds in every class.
    Passes,
    Fails,
}

impl Outcome {
    /// How bad, 0 the best.
    pub fn severity(self) -> i64 {
        match self {
            Self::Class(Class::Scrap) => 5,
            Self::Class(c) => c.rank(),
            Self::Passes => 0,
            Self::Fails => 4,
        }
    }
}

/// A value that was judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Judged {
    /// A length or a share of the nominal that was read.
    Read(Amount),
    /// A wall that was worked out: that beside a finding less its depth, nanometres.
    WallLeft(i64),
    /// A share, quanta of `Measure::Ratio`.
    Share(i64),
    /// A factor, quanta of `Measure::Factor`.
    Factor(i64),
    Seen,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Judgement {
    pub criterion: Criterion,
    /// The part that it judges.
    pub part: Part,
    pub value: Judged,
    /// How the value and the margin are shown.
    pub measure: Measure,
    /// The value as a share of what the limit is a part of, quanta of `Measure::Ratio`, for
    /// showing.
    pub share: Option<i64>,
    pub outcome: Outcome,
    /// The limit that decided: the one kept, or where none is, the one broken.
    pub limit: Limit,
    /// How far the value is from that limit, in quanta of `measure`; negative when broken.
    /// `None` where a distance says nothing.
    pub margin: Option<i64>,
    /// What it would say with the margin used up.
    pub next: Option<Outcome>,
    /// Age of the reading, quanta of `Measure::Days`; `None` when it is of this inspection.
    pub age: Option<i64>,
    /// The word of the finding that brought the value.
    pub finding: Option<String>,
    /// Whether a breach leaves the part without a class.
    pub blocks: Blocks,
    /// Remark on how the value was had.
    pub remark: Option<&'static str>,
}

impl Judgement {
    /// Whether the joint does not run by it, or under a restriction alone.
    pub fn stops(&self) -> bool {
        match self.outcome {
            Outcome::Class(class) => class >= Class::Class3,
            Outcome::Fails => self.criterion.spec().disposition != Disposition::Run,
            Outcome::Passes => false,
        }
    }
}

/// Why something is not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lack {
    /// It was not measured, or not looked at.
    NotMeasured,
    /// It was read with an instrument that failed its next check.
    Doubtful,
    /// It is said to be free of cracks, and no method of the inspection can see them.
    CannotSee,
    /// The nominal dimension that the limit is a part of is not known.
    NoNominal,
    /// The set has no limit for it.
    NoLimit,
    /// The finding has no size.
    NoSize,
    /// The wall beside the finding was not read.
    NoAdjacentWall,
    /// The diameter is smaller than wear explains, and nobody says what it is.
    Unexplained,
    /// The catalogue does not know the word.
    StrangeWord,
}

/// Something that is not known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missing {
    pub part: Part,
    /// What it is, in words: `wall`, `slip cracks`, `depth of cut transverse`.
    pub what: String,
    /// What it is, where it is something that parts need.
    pub wanted: Option<Wanted>,
    /// Why it is not known.
    pub lack: Lack,
    /// Whether the joint is not passed without it in the class that its measurements give.
    pub critical: bool,
    /// Whether what may be there would stop the joint, or restrict it, by a limit in force: its class may
    /// be given without it, but nobody can say that it is fit.
    pub could_stop: bool,
    /// The class from which on it is needed; `None` for every class.
    pub from_class: Option<Class>,
    /// Methods by which it could be known.
    pub by: Vec<Method>,
    /// Why it is needed.
    pub why: String,
}

/// Where the search for cracks in a scope stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Search {
    Found,
    /// Looked for in this inspection; none was found.
    NoneFound,
    /// Looked for in an earlier inspection, this long ago (quanta of `Measure::Days`).
    NoneFoundEarlier(i64),
    NotSearched,
}

/// The standing of a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PartVerdict {
    pub standing: Standing,
    /// The class that its measurements alone give, whatever was or was not looked for; `None` for
    /// parts without classes.
    pub measured: Option<Class>,
}

impl PartVerdict {
    /// The class of the part from now on, by what it was before. Where it is not established, it
    /// stays or falls to what was measured.
    pub fn class_after(&self, before: Option<Class>) -> Option<Class> {
        match self.standing {
            Standing::Class(c) => Some(c),
            Standing::Rejected => None,
            Standing::Accepted => before,
            Standing::NotEstablished { .. } => before.max(before.and(self.measured)),
        }
    }

    /// Whether the part was measured into a better class than could be passed, because cracks were
    /// not looked for as that class needs.
    pub fn held_down(&self) -> bool {
        matches!((self.standing, self.measured), (Standing::Class(c), Some(m)) if c > m && c != Class::Scrap)
    }
}

/// What follows from one finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FindingVerdict {
    /// The finding that was judged.
    pub found: Found,
    /// Word of the catalogue, or the strange word as written.
    pub word: String,
    /// What it is called in print; the word itself for a strange one.
    pub name: String,
    /// Parts that it touches.
    pub parts: Vec<Part>,
    pub disposition: Disposition,
    pub blocks: Blocks,
    /// Work that can make it good.
    pub works: Vec<Work>,
    pub who: Vec<Person>,
    /// Where the rule comes from.
    pub source: String,
    /// What stands behind it.
    pub provenance: Provenance,
    /// For a strange word: words of the catalogue that look like it.
    pub nearest: Vec<String>,
}

/// What calls for an action.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Because {
    /// A limit.
    Criterion(Criterion),
    /// A finding, by its word.
    Finding(String),
    /// Something that is not known.
    Missing(String),
    /// The class that came out.
    Class(Class),
}

/// Something to do before the joint runs, or as it runs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Action {
    pub disposition: Disposition,
    pub part: Part,
    /// What calls for it.
    pub because: Because,
    /// Work that can make it good.
    pub works: Vec<Work>,
    /// Who may do it.
    pub who: Vec<Person>,
}

/// Paint to put on, with the standard's meaning. Never derived from paint that is seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Band {
    pub colour: Colour,
    pub count: u8,
    /// The tube, or the tool joint of that end.
    pub on: Part,
    /// Where the rule comes from.
    pub source: &'static str,
    /// What stands behind it.
    pub provenance: Provenance,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Governing {
    /// A criterion; its place in `Verdict::judgements`.
    Judgement(usize),
    /// A finding that no limit judges; its place in `Verdict::findings`.
    Finding(usize),
    /// Something that is not known; its place in `Verdict::missing`.
    Missing(usize),
}

/// The verdict on a joint. It computes and recommends; a qualified person decides.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Verdict {
    /// What the joint is.
    pub component: Component,
    /// Name and edition of the set of limits that judged.
    pub limits: String,
    /// The tube, where it was judged.
    pub tube: Option<PartVerdict>,
    /// The pin end, where there is one.
    pub pin: Option<PartVerdict>,
    /// The box end, where there is one.
    pub box_: Option<PartVerdict>,
    /// The joint: the worst of its parts.
    pub overall: PartVerdict,
    pub governing: Option<Governing>,
    /// Every criterion that was evaluated, tube first.
    pub judgements: Vec<Judgement>,
    /// What follows from each finding.
    pub findings: Vec<FindingVerdict>,
    /// What is not known, what matters most first.
    pub missing: Vec<Missing>,
    /// Scopes that this inspection covers.
    pub covered: BTreeSet<Scope>,
    /// Where the search for cracks stands, scope by scope.
    pub cracks: Vec<(Scope, Search)>,
    /// What stands in from earlier inspections, with its age in quanta of `Measure::Days`.
    pub carried: Vec<(Part, Wanted, i64)>,
    /// Readings that belong to an end and name none: they judge nothing.
    pub unplaced: Vec<ReadingKind>,
    /// What follows for the joint: the worst of `actions`.
    pub disposition: Disposition,
    /// The class to which it goes down, where it does.
    pub downgrade_to: Option<Class>,
    /// What is to be done, the worst first.
    pub actions: Vec<Action>,
    /// Paint to put on.
    pub bands: Vec<Band>,
    /// Restrictions that the joint carries.
    pub restrictions: Vec<Restriction>,
    pub cautions: Vec<Caution>,
}

impl Verdict {
    /// The class of the joint, where it is established.
    pub const fn class(&self) -> Option<Class> {
        self.overall.standing.class()
    }

    /// The verdict on a part.
    pub const fn part(&self, part: Part) -> Option<PartVerdict> {
        match part {
            Part::Tube => self.tube,
            Part::Pin => self.pin,
            Part::Box => self.box_,
            Part::Joint => Some(self.overall),
        }
    }

    /// What follows from a finding that was judged; `None` where nothing does.
    pub fn on(&self, found: &Found) -> Option<&FindingVerdict> {
        self.findings.iter().find(|f| f.found == *found)
    }

    /// Whether the joint may go into a string as it is.
    pub fn may_run(&self) -> bool {
        self.overall.standing.passes() && self.disposition.may_run()
    }

    /// Whether a reading of this kind stops the joint by its limit, or restricts it.
    pub fn is_stopped_by(&self, what: ReadingKind, end: Option<End>) -> bool {
        let part = end.map_or(Part::Tube, Part::from);
        self.judgements.iter().any(|j| {
            let of = j.criterion.spec().take == Take::Reading(what);
            of && j.part == part && j.finding.is_none() && j.stops()
        })
    }

    /// The judgement that decided, if one did.
    pub fn governing_judgement(&self) -> Option<&Judgement> {
        match self.governing {
            Some(Governing::Judgement(at)) => self.judgements.get(at),
            _ => None,
        }
    }

    /// What decided, as one word: a criterion, a finding, or what is not known.
    pub fn criterion_word(&self) -> Option<String> {
        match self.governing.as_ref()? {
            Governing::Judgement(at) => {
                self.judgements.get(*at).map(|j| j.criterion.word().to_owned())
            }
            Governing::Finding(at) => self.findings.get(*at).map(|f| f.word.clone()),
            Governing::Missing(at) => self
                .missing
                .get(*at)
                .map(|m| m.wanted.map_or_else(|| fold(&m.what), |w| w.word().to_owned())),
        }
    }

    /// What must be known before the joint can be passed, in words.
    pub fn not_measured(&self) -> Vec<String> {
        self.missing.iter().filter(|m| m.critical).map(Missing::name).collect()
    }

    /// Who may act on what is worst, without repeats.
    pub fn who(&self) -> Vec<Person> {
        let worst = self.disposition;
        let mut out = Vec::new();
        for p in self.actions.iter().filter(|a| a.disposition == worst).flat_map(|a| &a.who) {
            if !out.contains(p) {
                out.push(*p);
            }
        }
        out
    }

    /// The cautions of this verdict and whom to defer to, once.
    pub fn caution_text(&self) -> String {
        let mut out = String::new();
        for c in &self.cautions {
            out.push_str(c.text());
            out.push(' ');
        }
        out + DEFERENCE
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const OPEN: Standing = Standing::NotEstablished { at_best: Some(Class::Premium) };

    #[test]
    fn the_worse_part_speaks_for_the_joint() {
        use Standing::{Accepted, Rejected};
        let class = Standing::Class;
        for (a, b, both) in [
            (class(Class::Premium), class(Class::Class2), class(Class::Class2)),
            (class(Class::Scrap), OPEN, class(Class::Scrap)),
            (Rejected, OPEN, Rejected),
            (Rejected, class(Class::Scrap), class(Class::Scrap)),
            (Accepted, OPEN, OPEN),
            (class(Class::Class3), OPEN, Standing::NotEstablished { at_best: Some(Class::Class3) }),
        ] {
            assert_eq!(a.with(b), both);
            assert_eq!(b.with(a), both);
            assert!(both.severity() >= a.severity().max(b.severity()));
        }
    }

    #[test]
    fn what_is_not_established_never_passes() {
        assert!(!OPEN.passes());
        assert!(!Standing::Rejected.passes());
        assert!(!Standing::Class(Class::Scrap).passes());
        assert!(Standing::Class(Class::Class3).passes());
        assert_eq!(OPEN.class(), None);
    }
}
