//! What each kind of entry is to the projections, whatever it says: the one place that asks all of it
//! of a new kind.

use crate::model::{
    Body, Clock, DecisionBody, Entry, EntryId, EntryKind, Ruling, Vocabulary, fold, vocabulary,
};

use super::horizon::{
    SeenFrom, of_adoption, of_amendment, of_decision, of_identity, of_run, of_strike, with_joints,
};

/// How entries of a kind are seen from an earlier date.
#[derive(Clone, Copy, Debug)]
pub enum Seen {
    /// Whatever their date.
    Always,
    /// When they began before it.
    ByTime,
    /// That is told by what they say.
    BySaying(fn(&Entry, Clock) -> SeenFrom),
    /// The same, and it may be together with entries that they name.
    WithOthers(fn(&Entry, Clock) -> SeenFrom),
}

/// What an entry changes, and changes by standing no more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Changes {
    /// What is said of the joints that it touches.
    Joints,
    /// Who joints are.
    Identity,
    /// A run, and with it what its joints went through.
    Run,
    /// The runs in a well.
    Survey,
    /// What was done with an instrument.
    Check,
    /// The words of another entry, and all that they change.
    Words,
    /// What the book judges by, which is compared as a whole.
    Sets,
    /// The clock by which days are days, which is compared as a whole.
    Clock,
}

/// It divides the runs of the joints that it touches: what it says is asked of what was before it
/// and of what came after.
const DIVIDES: u8 = 1;
/// It brings dimensions of a joint.
const SIZES: u8 = 2;
/// It may decide which entries count, or needs a decision to count itself.
const STRIKES: u8 = 4;
/// The fold of a joint asks where the entries that it names stand.
const NAMES: u8 = 8;
/// It names entries, and stands under no topic of theirs.
const REFERS: u8 = 16;
/// It may tell what is planned, and be dated to a day that is to come.
const PLANS: u8 = 32;
/// It comes into force on its day by itself, or changes nothing: what lies ahead of it may be seen.
const WAITS: u8 = 64;

/// The book of its site is kept by it: no other site strikes it or sets it aside.
const KEEPS: u8 = 128;

/// What a kind of entry is to the projections.
#[derive(Clone, Copy, Debug)]
pub struct Role {
    /// Its place in the order of facts at one instant (for facts of a day: at its beginning): what
    /// came in, what took a joint out of service, what was seen, decided, mended, moved, run.
    pub rank: u8,
    /// How it is seen from an earlier date.
    pub seen: Seen,
    /// What it changes.
    pub changes: Changes,
    does: u8,
}

impl Role {
    /// Whether it divides the runs of the joints that it touches.
    pub const fn divides(self) -> bool {
        self.does & DIVIDES != 0
    }

    /// Whether it brings dimensions of a joint.
    pub const fn sizes(self) -> bool {
        self.does & SIZES != 0
    }

    /// Whether it may decide which entries count, or needs a decision to count itself.
    pub const fn strikes(self) -> bool {
        self.does & STRIKES != 0
    }

    /// Whether the fold of a joint asks where the entries that it names stand.
    pub const fn names(self) -> bool {
        self.does & NAMES != 0
    }

    /// Whether it names entries and stands under no topic of theirs.
    pub const fn refers(self) -> bool {
        self.does & REFERS != 0
    }

    /// Whether it may tell what is planned: what a person may write of a day that is to come. A
    /// hire is agreed and a set is adopted ahead, and a note says what it likes; everything else has
    /// happened or has not.
    pub const fn plans(self) -> bool {
        self.does & PLANS != 0
    }

    /// Whether the book of its site is kept by it, so that no other site strikes it or sets it aside.
    pub const fn keeps(self) -> bool {
        self.does & KEEPS != 0
    }

    /// Whether it may be seen before its day: it comes into force by itself, or changes nothing.
    pub const fn waits(self) -> bool {
        self.does & WAITS != 0
    }
}

/// Place of runs in the order of facts at one instant.
pub const RANK_OF_RUNS: u8 = 14;
/// Place of inspections in it.
pub const RANK_OF_INSPECTIONS: u8 = 7;

/// What a kind of entry is to the projections.
pub const fn role(kind: EntryKind) -> Role {
    use Changes::{Check, Clock, Identity, Joints, Run, Sets, Survey, Words};
    use EntryKind as K;
    use Seen::{Always, BySaying, ByTime, WithOthers};
    let (rank, seen, changes, does) = match kind {
        K::Epoch => (0, Always, Clock, KEEPS),
        K::Clock => (0, Always, Clock, KEEPS),
        K::Arrival | K::Key => (0, Always, Joints, KEEPS),
        K::Layout => (0, Always, Joints, 0),
        K::Strike => (0, WithOthers(of_strike), Joints, STRIKES | REFERS),
        K::Amend => (0, WithOthers(of_amendment), Words, STRIKES | REFERS),
        K::Adoption => (0, BySaying(of_adoption), Sets, PLANS | WAITS),
        K::Joint => (1, ByTime, Joints, 0),
        K::Opening => (2, WithOthers(with_joints), Joints, 0),
        K::Identity => (3, WithOthers(of_identity), Identity, REFERS),
        K::Gap => (4, ByTime, Joints, 0),
        K::Survey => (5, Always, Survey, 0),
        K::Instrument => (5, Always, Joints, 0),
        K::Check => (5, Always, Check, 0),
        K::Event => (6, ByTime, Joints, DIVIDES | NAMES),
        K::Failure => (6, ByTime, Joints, DIVIDES | NAMES | REFERS),
        K::Inspection => (RANK_OF_INSPECTIONS, ByTime, Joints, DIVIDES | SIZES),
        K::Decision => (8, WithOthers(of_decision), Joints, DIVIDES | STRIKES | REFERS),
        K::Repair => (9, ByTime, Joints, DIVIDES | SIZES),
        K::Makeup => (10, ByTime, Joints, DIVIDES | NAMES),
        K::HireIn => (11, ByTime, Joints, DIVIDES),
        K::Move => (12, ByTime, Joints, DIVIDES),
        K::HireOut => (13, ByTime, Joints, DIVIDES | PLANS),
        K::Run => (RANK_OF_RUNS, BySaying(of_run), Run, 0),
        K::Note => (15, ByTime, Joints, REFERS | PLANS | WAITS),
    };
    Role { rank, seen, changes, does }
}

/// Kinds of which something holds.
pub fn kinds(which: impl Fn(Role) -> bool) -> impl Iterator<Item = EntryKind> {
    EntryKind::ALL.iter().copied().filter(move |kind| which(role(*kind)))
}

/// Whether an entry decides which entries count, or needs a decision to count itself: a decision does
/// when it settles.
pub fn strikes(body: &Body) -> bool {
    let settles = |b: &DecisionBody| matches!(b.ruling, Ruling::Settle { .. });
    role(body.kind()).strikes() && !matches!(body, Body::Decision(b) if !settles(b))
}

vocabulary!(
    /// What an entry is noted under, beside the joints that it touches.
    Topic, "topic", {
        /// An instrument or a piece of equipment was used, by its tag.
        Tag = "tag" [],
        /// One was checked.
        Check = "check" [],
        /// One is described.
        Instrument = "instrument" [],
        /// Something was adopted.
        Adoption = "adoption" [],
        /// A run that names the survey of its well.
        WithSurvey = "with_survey" [],
        /// It is about a run.
        AboutRun = "about_run" [],
        /// It amends an entry.
        Amends = "amends" [],
        /// It names an entry that has not arrived.
        Awaits = "awaits" [],
    }
);

/// Topics and subjects that an entry is noted under.
pub fn topics(body: &Body) -> Vec<(Topic, String)> {
    let tags = |tags: &mut dyn Iterator<Item = &String>| -> Vec<(Topic, String)> {
        let mut out: Vec<String> = tags.map(|t| fold(t)).collect();
        out.sort_unstable();
        out.dedup();
        out.into_iter().map(|tag| (Topic::Tag, tag)).collect()
    };
    match body {
        Body::Makeup(b) => {
            let mut out = tags(&mut b.instrument.iter());
            out.extend(b.run.iter().map(|r| (Topic::AboutRun, r.to_string())));
            out
        }
        Body::Inspection(b) => {
            let readings = b.readings.iter().filter_map(|r| r.instrument.as_ref());
            tags(&mut b.instrument.iter().chain(readings))
        }
        Body::Run(b) => {
            let mut out = tags(&mut b.equipment.iter());
            out.extend(b.survey.iter().map(|s| (Topic::WithSurvey, s.to_string())));
            out
        }
        Body::Event(b) => b.run.iter().map(|r| (Topic::AboutRun, r.to_string())).collect(),
        Body::Amend(b) => vec![(Topic::Amends, b.entry.to_string())],
        Body::Check(b) => vec![(Topic::Check, fold(&b.tag))],
        Body::Instrument(b) => vec![(Topic::Instrument, fold(&b.tag))],
        Body::Adoption(b) => vec![(Topic::Adoption, b.what.word().to_owned())],
        Body::Joint(_)
        | Body::Opening(_)
        | Body::Identity(_)
        | Body::Move(_)
        | Body::Gap(_)
        | Body::HireOut(_)
        | Body::HireIn(_)
        | Body::Survey(_)
        | Body::Repair(_)
        | Body::Failure(_)
        | Body::Decision(_)
        | Body::Arrival(_)
        | Body::Epoch(_)
        | Body::Clock(_)
        | Body::Key(_)
        | Body::Layout(_)
        | Body::Note(_)
        | Body::Strike(_) => Vec::new(),
    }
}

/// The run whose whole tally an entry touches.
pub const fn whole_tally(body: &Body) -> Option<&EntryId> {
    if let Body::Makeup(b) = body
        && b.pattern.is_some()
    {
        return b.run.as_ref();
    }
    if let Body::Event(b) = body { b.run.as_ref() } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_that_go_by_time_alone_take_no_part_in_who_counts() {
        for kind in kinds(|role| matches!(role.seen, Seen::ByTime)) {
            assert!(!role(kind).strikes(), "{}", kind.word());
        }
    }
}
