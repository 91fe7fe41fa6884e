//! The SQLite file: open, gate, migrate, append, query, back up.
//!
//! The only room that knows SQLite. A book is never deleted, recreated or overwritten here; a
//! damaged one is refused and left as it is.

mod backup;
mod book;
mod carry;
mod content;
mod error;
mod functions;
mod gate;
mod head;
mod ledger;
mod migrate;
mod project;
mod query;
mod verify;
mod windows;

pub use book::{Access, Book, Identity, Stamp};
pub use error::{Clash, Result, StoreError};
pub use head::{HeadMark, side_file};
pub use ledger::{AppendOptions, Appended, StoredEntry};
pub use project::Appraiser;
pub use query::Datum;
pub use verify::{Check, Verified};
