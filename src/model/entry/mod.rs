//! Entries: the kinds of fact that the book keeps, as serde types.
//!
//! A body holds what was written: quantities with their unit, words of the vocabularies, names of
//! joints. An absent value is absent; the canonical form drops empty members.

mod care;
mod custody;
mod identity;
mod keeping;
mod layout;
mod run;
mod survey;

pub use care::*;
pub use custody::*;
pub use identity::*;
pub use keeping::*;
pub use layout::*;
pub use run::*;
pub use survey::*;

use serde::{Deserialize, Serialize};

use super::clock::Clock;
use super::id::{EntryId, JointRef};
use super::time::{Instant, Moment, Recorded};

/// Where a fact came from: the file, its digest and the place in it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    /// Name of the file, without its folder.
    pub file: String,
    /// SHA-256 of the whole file, lower-case hex.
    pub sha256: String,
    /// Sheet, row or element in it.
    pub place: Option<String>,
}

/// One entry of a book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Its name, the same in every book.
    pub id: EntryId,
    pub effective: Moment,
    /// When it was written down.
    pub recorded: Recorded,
    pub author: String,
    /// Program and version that wrote it.
    pub program: String,
    /// What it rests on.
    pub evidence: Option<Evidence>,
    pub body: Body,
}

impl Entry {
    /// First instant of the effective time by a clock.
    pub fn starts(&self, clock: Clock) -> Instant {
        self.effective.start(clock)
    }

    /// Instant at which the effective time is over.
    pub fn ends(&self, clock: Clock) -> Instant {
        self.effective.end(clock)
    }
}

/// A fact that is to become an entry: all but what the ledger adds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Draft {
    pub effective: Moment,
    /// What it rests on.
    pub evidence: Option<Evidence>,
    pub body: Body,
}

macro_rules! kinds {
    ($($(#[$doc:meta])* $variant:ident($body:ty) = $word:literal),* $(,)?) => {
        /// A fact of one of the kinds.
        #[derive(Clone, Debug, PartialEq, Eq)]
        pub enum Body { $($(#[$doc])* $variant($body)),* }

        /// The kinds of fact.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum EntryKind { $($(#[$doc])* $variant),* }

        impl EntryKind {
            /// All kinds, in the order of the enum.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The word for it in the ledger.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),* }
            }

            /// The kind that goes by a word; it has one spelling.
            pub fn named(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|kind| kind.word() == word)
            }
        }

        impl Body {
            pub const fn kind(&self) -> EntryKind {
                match self { $(Self::$variant(_) => EntryKind::$variant),* }
            }

            /// The body as JSON, without its kind.
            pub fn to_json(&self) -> Result<serde_json::Value, serde_json::Error> {
                match self { $(Self::$variant(b) => serde_json::to_value(b)),* }
            }

            /// Reads a body of a kind from JSON text.
            pub fn from_json(kind: &str, text: &str) -> Result<Self, BodyError> {
                let kind =
                    EntryKind::named(kind).ok_or_else(|| BodyError::Kind(kind.to_owned()))?;
                let read = match kind {
                    $(EntryKind::$variant => serde_json::from_str(text).map(Self::$variant)),*
                };
                read.map_err(|source| BodyError::Content { kind: kind.word(), source })
            }
        }
    };
}

kinds! {
    /// A joint enters the book: certificate data.
    Joint(Box<JointBody>) = "joint",
    /// What a joint had been through before it entered the book.
    Opening(OpeningBody) = "opening",
    /// A joint is re-marked, two joints prove to be one, or one proves to be two.
    Identity(IdentityBody) = "identity",
    /// Joints move to a place, a string, a status.
    Move(MoveBody) = "move",
    /// A stretch of a joint's life about which nothing is known.
    Gap(GapBody) = "gap",
    /// Joints go out on hire.
    HireOut(HireOutBody) = "hire_out",
    HireIn(HireInBody) = "hire_in",
    /// A survey of a well, or a newer version of one.
    Survey(SurveyBody) = "survey",
    /// A run of a string.
    Run(Box<RunBody>) = "run",
    Makeup(Box<MakeupBody>) = "makeup",
    Inspection(Box<InspectionBody>) = "inspection",
    Repair(Box<RepairBody>) = "repair",
    /// Something happened to joints.
    Event(EventBody) = "event",
    Failure(Box<FailureBody>) = "failure",
    /// An instrument or a piece of rig equipment is known by a tag.
    Instrument(InstrumentBody) = "instrument",
    /// An instrument or a piece of rig equipment was checked.
    Check(CheckBody) = "check",
    Decision(DecisionBody) = "decision",
    /// Sets of limits and others, a method or rules were adopted.
    Adoption(AdoptionBody) = "adoption",
    /// A bundle of another site's entries was taken in.
    Arrival(ArrivalBody) = "arrival",
    Epoch(EpochBody) = "epoch",
    /// From now on days are those of this clock.
    Clock(ClockBody) = "clock",
    /// A site seals with this key, or does no longer.
    Key(KeyBody) = "key",
    /// Files under a header are read so.
    Layout(LayoutBody) = "layout",
    Note(NoteBody) = "note",
    /// An entry is struck out.
    Strike(StrikeBody) = "strike",
    /// Fields of an entry are corrected, and what rests on it stays.
    Amend(AmendBody) = "amend",
}

/// Why the body of an entry could not be read.
#[derive(Debug, thiserror::Error)]
pub enum BodyError {
    /// A kind that this version does not know.
    #[error("entry kind '{0}' is not known to this version; a newer one may have written it")]
    Kind(String),
    /// A known kind with content that does not fit it.
    #[error("the body of this {kind} entry cannot be read")]
    Content {
        kind: &'static str,
        /// What the decoder said.
        source: serde_json::Error,
    },
}

/// The joints that a body names, to read or to change.
macro_rules! named_joints {
    ($body:expr $(, $change:tt)?) => {
        match $body {
            Self::Opening(b) => vec![&$($change)? b.joint],
            Self::Identity(
                IdentityBody::Remark { joint, .. } | IdentityBody::Alias { joint, .. },
            ) => vec![joint],
            Self::Identity(
                IdentityBody::Merge { joint, same: other, .. }
                | IdentityBody::Split { joint, other, .. },
            ) => vec![joint, other],
            Self::Move(b) => (&$($change)? b.joints).into_iter().collect(),
            Self::Gap(b) => (&$($change)? b.joints).into_iter().collect(),
            Self::HireOut(b) => (&$($change)? b.joints).into_iter().collect(),
            Self::HireIn(b) => (&$($change)? b.joints).into_iter().collect(),
            Self::Run(b) => {
                let swaps = (&$($change)? b.swaps).into_iter();
                let lines = (&$($change)? b.tally).into_iter();
                lines
                    .chain(swaps.flat_map(|s| &$($change)? s.tally))
                    .flat_map(|line| &$($change)? line.joint)
                    .collect()
            }
            Self::Makeup(b) => {
                let pin = (&$($change)? b.pin).into_iter();
                pin.chain(&$($change)? b.box_).collect()
            }
            Self::Inspection(b) => vec![&$($change)? b.joint],
            Self::Repair(b) => vec![&$($change)? b.joint],
            Self::Event(b) => (&$($change)? b.joints).into_iter().collect(),
            Self::Failure(b) => vec![&$($change)? b.joint],
            Self::Decision(b) => (&$($change)? b.joints).into_iter().collect(),
            Self::Note(b) => (&$($change)? b.joints).into_iter().collect(),
            Self::Joint(_)
            | Self::Survey(_)
            | Self::Instrument(_)
            | Self::Check(_)
            | Self::Adoption(_)
            | Self::Arrival(_)
            | Self::Epoch(_)
            | Self::Clock(_)
            | Self::Key(_)
            | Self::Layout(_)
            | Self::Strike(_)
            | Self::Amend(_) => Vec::new(),
        }
    };
}

/// The other entries that a body names, to read or to change.
macro_rules! named_entries {
    ($body:expr $(, $change:tt)?) => {
        match $body {
            Self::Strike(b) => {
                let first = std::iter::once(&$($change)? b.entry);
                first.chain(&$($change)? b.instead).collect()
            }
            Self::Amend(b) => vec![&$($change)? b.entry],
            Self::Decision(b) => match &$($change)? b.ruling {
                Ruling::Settle { stands, falls } => stands.into_iter().chain(falls).collect(),
                Ruling::Class { .. }
                | Ruling::Quarantine
                | Ruling::Release
                | Ruling::Retire
                | Ruling::Waive { .. } => Vec::new(),
            },
            Self::Makeup(b) => (&$($change)? b.run).into_iter().collect(),
            Self::Run(b) => (&$($change)? b.survey).into_iter().collect(),
            Self::Event(b) => (&$($change)? b.run).into_iter().collect(),
            Self::Failure(b) => (&$($change)? b.run).into_iter().collect(),
            Self::Note(b) => (&$($change)? b.about).into_iter().collect(),
            Self::Identity(IdentityBody::Split { entries, .. }) => entries.into_iter().collect(),
            Self::Identity(
                IdentityBody::Remark { .. }
                | IdentityBody::Alias { .. }
                | IdentityBody::Merge { .. },
            )
            | Self::Joint(_)
            | Self::Opening(_)
            | Self::Move(_)
            | Self::Gap(_)
            | Self::HireOut(_)
            | Self::HireIn(_)
            | Self::Survey(_)
            | Self::Inspection(_)
            | Self::Repair(_)
            | Self::Instrument(_)
            | Self::Check(_)
            | Self::Adoption(_)
            | Self::Arrival(_)
            | Self::Epoch(_)
            | Self::Clock(_)
            | Self::Key(_)
            | Self::Layout(_) => Vec::new(),
        }
    };
}

impl Body {
    /// Joints that the entry names directly (a run's tally included).
    pub fn joints(&self) -> Vec<&JointRef> {
        named_joints!(self)
    }

    /// The same, to put others in their place.
    pub fn joints_mut(&mut self) -> Vec<&mut JointRef> {
        named_joints!(self, mut)
    }

    /// The joints of which the entry says one thing, where it may be of several.
    pub const fn joint_list(&mut self) -> Option<&mut Vec<JointRef>> {
        match self {
            Self::Move(b) => Some(&mut b.joints),
            Self::Gap(b) => Some(&mut b.joints),
            Self::HireOut(b) => Some(&mut b.joints),
            Self::HireIn(b) => Some(&mut b.joints),
            Self::Event(b) => Some(&mut b.joints),
            Self::Decision(b) => Some(&mut b.joints),
            Self::Note(b) => Some(&mut b.joints),
            Self::Joint(_)
            | Self::Opening(_)
            | Self::Identity(_)
            | Self::Survey(_)
            | Self::Run(_)
            | Self::Makeup(_)
            | Self::Inspection(_)
            | Self::Repair(_)
            | Self::Failure(_)
            | Self::Instrument(_)
            | Self::Check(_)
            | Self::Adoption(_)
            | Self::Arrival(_)
            | Self::Epoch(_)
            | Self::Clock(_)
            | Self::Key(_)
            | Self::Layout(_)
            | Self::Strike(_)
            | Self::Amend(_) => None,
        }
    }

    /// Other entries that the entry names, joints apart.
    pub fn entries(&self) -> Vec<&EntryId> {
        named_entries!(self)
    }

    /// The same, to put others in their place.
    pub fn entries_mut(&mut self) -> Vec<&mut EntryId> {
        named_entries!(self, mut)
    }
}
