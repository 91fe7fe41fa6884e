//! The SQLite file: open, header, migrate, append, query, back up.
//!
//! The only room that knows SQLite. A book is never deleted, recreated or overwritten here; a
//! damaged one is refused and left as it is.

mod adopt;
mod ahead;
mod amended;
mod anew;
mod as_of;
mod backup;
mod book;
mod bundle_in;
mod bundle_out;
mod carve;
mod clock;
mod connect;
mod content;
mod copy;
mod effect;
mod entries;
mod epoch;
mod error;
mod functions;
mod head;
mod header;
mod identity;
mod keys;
mod ledger;
mod log;
mod look_back;
mod migrate;
mod project;
mod query;
mod recent;
mod restore;
mod rows;
mod salvage;
mod select;
mod struck_freely;
mod taken;
mod trust;
mod unseen;
mod verify;
mod whole;
mod windows;

pub use ahead::{Ahead, LyingAhead};
pub use anew::{DerivedAnew, Earlier};
pub use book::{Access, Book, Founding};
pub use bundle_in::{BundleIn, TakenIn, TakenStretch};
pub use bundle_out::{BundleOut, BundleWritten, Since, Sites};
pub use effect::{Change, Effects, RunChange};
pub use entries::StoredEntry;
pub use epoch::Resumed;
pub use error::{Clash, Result, StoreError};
pub use head::{HeadMark, side_file};
pub use identity::{Identity, Stamp};
pub use keys::{known_keys_file, make_key, public_file, read_known, read_secret};
pub use ledger::{AppendOptions, Appended, RunHead};
pub use look_back::{LookBack, LookedBack};
pub use project::Appraiser;
pub use recent::{RecentRun, WearReading};
pub use restore::Restored;
pub use salvage::{SalvageDecision, Salvaged, SalvagedChain};
pub use struck_freely::OfAnother;
pub use trust::TrustedKey;
pub use verify::{Check, Hanging, Verified};
pub use whole::{open_plain, text_of};
