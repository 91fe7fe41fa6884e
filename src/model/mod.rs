//! The vocabulary: serials, components, entry kinds, dates, where a fact came from.
//!
//! Owns what can be said in an entry, and how it is spelled. No I/O, no SQL, no clock.

mod clock;
mod entry;
mod histogram;
mod id;
mod name;
mod qty;
mod reading;
mod time;
mod vocab;

pub use clock::{Clock, ClockError, Shown};
pub use entry::*;
pub use histogram::{BAND_WIDTH, BANDS, Histogram, HistogramError, read_number, write_number};
pub use id::{Chain, EntryId, JointRef, NameError, Serial, Site};
pub use name::{Name, compare_names, is_unseen, name_key, same_name, unseen_kind, unseen_sign};
pub use qty::Qty;
pub use reading::{NominalKind, ReadingSpec, Share, Worse};
pub use time::{DAY_MS, Instant, Moment, Recorded, TimeError};
pub(crate) use vocab::vocabulary;
pub use vocab::{
    Activity, Adopted, Assumption, Call, CheckKind, Class, Component, End, Environment, EventKind,
    FailureKind, InstrumentKind, Method, Place, Provenance, ReadingKind, RulingKind, RunGrade,
    Scope, SetKind, Status, TorqueVerdict, Vocabulary, WordError, Work, article, fold, join_blanks,
    nearest_word, plural,
};
