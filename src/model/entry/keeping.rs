//! Entries about the book itself: decisions, adoptions, strikes, chains.

use serde::{Deserialize, Serialize};

use crate::model::id::{Chain, EntryId, JointRef};
use crate::model::time::Moment;
use crate::model::vocab::{Adopted, Class, End, RulingKind};

/// What a person decided.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "ruling", rename_all = "snake_case")]
pub enum Ruling {
    /// The joints (or an end of them) are of this class.
    Class {
        class: Class,
        end: Option<End>,
    },
    Quarantine,
    Release,
    /// Out of service for good.
    Retire,
    /// Of two facts that exclude each other, these stand and the others do not. It also decides on a
    /// strike or an amendment of another site's entry: in force where it stands, not where it falls.
    Settle {
        #[serde(default)]
        stands: Vec<EntryId>,
        /// Entries that are set aside.
        #[serde(default)]
        falls: Vec<EntryId>,
    },
    /// A limit or a due date is overridden.
    Waive {
        /// What is waived: name of a rule or criterion.
        what: String,
    },
}

impl Ruling {
    pub const fn kind(&self) -> RulingKind {
        match self {
            Self::Class { .. } => RulingKind::Class,
            Self::Quarantine => RulingKind::Quarantine,
            Self::Release => RulingKind::Release,
            Self::Retire => RulingKind::Retire,
            Self::Settle { .. } => RulingKind::Settle,
            Self::Waive { .. } => RulingKind::Waive,
        }
    }

    pub fn entries(&self) -> Vec<&EntryId> {
        match self {
            Self::Settle { stands, falls } => stands.iter().chain(falls).collect(),
            Self::Class { .. }
            | Self::Quarantine
            | Self::Release
            | Self::Retire
            | Self::Waive { .. } => Vec::new(),
        }
    }
}

/// A person decided about joints.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct DecisionBody {
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub joints: Vec<JointRef>,
    #[serde(flatten)]
    pub ruling: Ruling,
    pub reason: String,
    pub authority: Option<String>,
    pub until: Option<Moment>,
}

/// Sets by which the book judges are in force from the effective time on.
///
/// Of each kind of set the adoption that stands last by effective time, then by name, is in force.
/// A founding one brings every kind, reaches back before its own date, to the beginning, and yields
/// to every other adoption; of several, those of other sites, the first by effective time, then by
/// name, founds and the others change nothing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AdoptionBody {
    pub what: Adopted,
    pub name: String,
    /// The sets themselves, as text. Absent in adoptions of before there were editions, for one of
    /// the first edition.
    pub text: Option<String>,
    /// SHA-256 of the text, lower-case hex.
    pub sha256: String,
    /// The book, or what its site wrote before it, is founded on it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub founding: bool,
    pub remark: Option<String>,
}

/// A bundle of other chains' entries was taken in. What it brought stands directly before this
/// entry in the receiving book.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ArrivalBody {
    /// The stretches of chains that were new, in the order of their names.
    pub chains: Vec<Arrived>,
    /// SHA-256 of the bundle as its footer states it, lower-case hex.
    pub bundle: String,
}

/// A stretch of a chain that arrived.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Arrived {
    pub chain: Chain,
    /// First number taken in.
    pub from: u64,
    /// Last number taken in.
    pub to: u64,
    /// Hash of the last, lower-case hex.
    pub head: String,
    /// Public key that sealed the stretch, lower-case hex; absent when it came without a seal.
    pub sealed_by: Option<String>,
    /// True when the receiving book knew that key as one of the site's.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub seal_known: bool,
    /// Signature of the seal, so that it can be passed on with the stretch, lower-case hex.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signature: Option<String>,
    /// When the seal says that it was made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sealed_at: Option<String>,
}

/// A chain begins: the first book of a site, or the continuation of a restored one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EpochBody {
    /// Name of the site as written.
    pub site: String,
    /// Unit system in which the book is read, `us` or `metric`.
    pub units: String,
    /// Civil clock of the site, as [`ClockBody`] has it; absent in books of before there were clocks.
    pub clock: Option<String>,
    /// Head of the chain that this one continues: its chain, number and hash.
    pub parent: Option<Head>,
    /// Why the chain was begun.
    pub reason: Option<String>,
    /// The book was put together from a damaged one: of what had arrived in it, parts may be
    /// missing.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub salvaged: bool,
    /// What the damaged book had lost in the middle of its chains.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lost: Vec<LostStretch>,
    /// Entries that were set aside, and taken in again as new ones of this chain.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub again: Vec<TakenAgain>,
}

/// An entry that was set aside, since another came in under its name, and whose fact was taken in
/// again by decision.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TakenAgain {
    /// Its number in the chain of the epoch that says so.
    pub number: u64,
    /// The name that it had.
    pub entry: EntryId,
    /// Hash that it had, lower-case hex.
    pub hash: String,
    /// Who wrote it.
    pub author: String,
    /// When it was written.
    pub recorded: String,
}

/// Entries in the middle of a chain that a book has lost. What follows them was kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LostStretch {
    pub chain: Chain,
    /// First number that is lost.
    pub from: u64,
    /// Last number that is lost.
    pub to: u64,
    /// Hash of the last, lower-case hex: the entry that follows links to it.
    pub head: String,
    /// No end that was trusted links back to what follows: it was kept by decision.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub unproven: bool,
}

/// The book goes by this civil clock: a day is a day of it in all that the book is told and asks,
/// whenever the entry was written. The one written last in the chain of the site stands; clocks of
/// other sites tell nothing here.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClockBody {
    /// Name of an IANA time zone, an offset like `+02:00`, or `UTC`.
    pub clock: String,
    pub reason: Option<String>,
}

/// A public key is one with which a site seals the heads of its chain, or is so no longer. From then
/// on what comes of that site needs such a seal. Counts when it is said by the site that keeps the
/// book, or by the site itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeyBody {
    /// Name of the site.
    pub site: String,
    /// Ed25519 public key, lower-case hex.
    pub key: String,
    /// Who holds the secret half, in words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub holder: String,
    /// The key is the site's no longer.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub withdrawn: bool,
    pub reason: Option<String>,
}

/// The last entry of a chain.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Head {
    pub entry: EntryId,
    /// Its hash, lower-case hex.
    pub hash: String,
}

/// A remark about joints, an entry, or the book.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoteBody {
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub joints: Vec<JointRef>,
    pub about: Option<EntryId>,
    pub text: String,
}

/// A field of an entry as it should have been written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FieldChange {
    /// Its name in the body, or `effective` for the effective time.
    pub field: String,
    /// What it said when this was written; absent where it said nothing.
    pub was: Option<serde_json::Value>,
    /// What it says from now on; absent where nothing is known.
    pub is: Option<serde_json::Value>,
}

/// Fields of an entry are amended: it counts as if it had been written so, and all that rests on it
/// stays. The entry itself is readable as it was. Of several amendments of a field the last by
/// effective time, then by name, holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AmendBody {
    pub entry: EntryId,
    pub changes: Vec<FieldChange>,
    pub reason: String,
    /// Why this site amends what another site wrote: without a decision an amendment of another
    /// site's entry is not in force.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decision: Option<String>,
}

/// An entry is struck out: it stays readable and counts no more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StrikeBody {
    pub entry: EntryId,
    pub reason: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub instead: Vec<EntryId>,
    /// Why this site strikes what another site wrote: without a decision a strike of another site's
    /// entry is not in force.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decision: Option<String>,
}
