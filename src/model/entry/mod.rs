//! Entries: the kinds of fact that the book keeps, as serde types.
//!
//! A body holds what was written: quantities with their unit, words of the vocabularies, names of
//! joints. An absent value is absent; the canonical form drops empty members.

mod care;
mod custody;
mod identity;
mod keeping;
mod run;
mod survey;

pub use care::{
    CheckBody, EventBody, FailureBody, FindingLine, InspectionBody, InstrumentBody, MakeupBody,
    MakeupPattern, Reading, RepairBody,
};
pub use custody::{GapBody, HireInBody, HireOutBody, MoveBody};
pub use identity::{IdentityBody, JointBody, OpeningBody, Stated};
pub use keeping::{
    AdoptionBody, ArrivalBody, Arrived, DecisionBody, EpochBody, Head, NoteBody, Ruling, StrikeBody,
};
pub use run::{LogSource, PartLine, RunBody, Segment, Swap, TallyLine};
pub use survey::{StationLine, SurveyBody};

use serde::{Deserialize, Serialize};

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
    /// When it happened.
    pub effective: Moment,
    /// When it was written down.
    pub recorded: Recorded,
    /// Who wrote it.
    pub author: String,
    /// Program and version that wrote it.
    pub program: String,
    /// What it rests on.
    pub evidence: Option<Evidence>,
    /// The fact.
    pub body: Body,
}

impl Entry {
    /// First instant of the effective time at the clock of the site that wrote it.
    pub fn starts(&self) -> Instant {
        self.effective.start(self.recorded.offset_minutes)
    }

    /// Instant at which the effective time is over.
    pub fn ends(&self) -> Instant {
        self.effective.end(self.recorded.offset_minutes)
    }
}

/// A fact that is to become an entry: all but what the ledger adds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Draft {
    /// When it happened.
    pub effective: Moment,
    /// What it rests on.
    pub evidence: Option<Evidence>,
    /// The fact.
    pub body: Body,
}

/// The kinds of fact.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Body {
    /// A joint enters the book: certificate data.
    Joint(Box<JointBody>),
    /// What a joint had been through before it entered the book.
    Opening(OpeningBody),
    /// A joint is re-marked, two joints prove to be one, or one proves to be two.
    Identity(IdentityBody),
    /// Joints move to a place, a string, a status.
    Move(MoveBody),
    /// A stretch of a joint's life about which nothing is known.
    Gap(GapBody),
    /// Joints go out on hire.
    HireOut(HireOutBody),
    /// Joints come back.
    HireIn(HireInBody),
    /// A survey of a well, or a newer version of one.
    Survey(SurveyBody),
    /// A run of a string.
    Run(Box<RunBody>),
    /// Connections made up.
    Makeup(Box<MakeupBody>),
    /// A joint inspected.
    Inspection(Box<InspectionBody>),
    /// A joint repaired.
    Repair(Box<RepairBody>),
    /// Something happened to joints.
    Event(EventBody),
    /// A joint failed.
    Failure(Box<FailureBody>),
    /// An instrument or a piece of rig equipment is known by a tag.
    Instrument(InstrumentBody),
    /// An instrument or a piece of rig equipment was checked.
    Check(CheckBody),
    /// A person decided.
    Decision(DecisionBody),
    /// A set of limits, a method or a rules file was adopted.
    Adoption(AdoptionBody),
    /// A bundle of another site's entries was taken in.
    Arrival(ArrivalBody),
    /// A chain begins.
    Epoch(EpochBody),
    /// A remark.
    Note(NoteBody),
    /// An entry is struck out.
    Strike(StrikeBody),
}

macro_rules! kinds {
    ($($variant:ident = $word:literal),* $(,)?) => {
        impl Body {
            /// The word for this kind.
            pub const fn kind(&self) -> &'static str {
                match self { $(Self::$variant(_) => $word),* }
            }

            /// The body as JSON, without its kind.
            pub fn to_json(&self) -> Result<serde_json::Value, serde_json::Error> {
                match self { $(Self::$variant(b) => serde_json::to_value(b)),* }
            }

            /// Reads a body of a kind from JSON text.
            pub fn from_json(kind: &str, text: &str) -> Result<Self, BodyError> {
                match kind {
                    $($word => serde_json::from_str(text).map(Self::$variant).map_err(|source| {
                        BodyError::Content { kind: kind.to_owned(), source }
                    }),)*
                    _ => Err(BodyError::Kind(kind.to_owned())),
                }
            }
        }
    };
}

kinds! {
    Joint = "joint",
    Opening = "opening",
    Identity = "identity",
    Move = "move",
    Gap = "gap",
    HireOut = "hire_out",
    HireIn = "hire_in",
    Survey = "survey",
    Run = "run",
    Makeup = "makeup",
    Inspection = "inspection",
    Repair = "repair",
    Event = "event",
    Failure = "failure",
    Instrument = "instrument",
    Check = "check",
    Decision = "decision",
    Adoption = "adoption",
    Arrival = "arrival",
    Epoch = "epoch",
    Note = "note",
    Strike = "strike",
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
        /// The kind.
        kind: String,
        /// What the decoder said.
        source: serde_json::Error,
    },
}

impl Body {
    /// Joints that the entry names directly (a run's tally included).
    pub fn joints(&self) -> Vec<&JointRef> {
        match self {
            Self::Opening(b) => vec![&b.joint],
            Self::Identity(b) => b.joints(),
            Self::Move(b) => b.joints.iter().collect(),
            Self::Gap(b) => b.joints.iter().collect(),
            Self::HireOut(b) => b.joints.iter().collect(),
            Self::HireIn(b) => b.joints.iter().collect(),
            Self::Run(b) => b.joints(),
            Self::Makeup(b) => b.joints(),
            Self::Inspection(b) => vec![&b.joint],
            Self::Repair(b) => vec![&b.joint],
            Self::Event(b) => b.joints.iter().collect(),
            Self::Failure(b) => vec![&b.joint],
            Self::Decision(b) => b.joints.iter().collect(),
            Self::Note(b) => b.joints.iter().collect(),
            Self::Joint(_)
            | Self::Survey(_)
            | Self::Instrument(_)
            | Self::Check(_)
            | Self::Adoption(_)
            | Self::Arrival(_)
            | Self::Epoch(_)
            | Self::Strike(_) => Vec::new(),
        }
    }

    /// Other entries that the entry names, joints apart.
    pub fn entries(&self) -> Vec<&EntryId> {
        match self {
            Self::Strike(b) => std::iter::once(&b.entry).chain(&b.instead).collect(),
            Self::Decision(b) => b.ruling.entries(),
            Self::Makeup(b) => b.run.iter().collect(),
            Self::Run(b) => b.survey.iter().collect(),
            Self::Event(b) => b.run.iter().collect(),
            Self::Failure(b) => b.run.iter().collect(),
            Self::Note(b) => b.about.iter().collect(),
            _ => Vec::new(),
        }
    }
}
