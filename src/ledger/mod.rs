//! Canonical bytes, hash chain, strikes, bundles, checks. Works over iterators of entries; knows
//! no SQL.
//!
//! What is hashed is what is stored: every column of an entry, each with its length before it, so
//! that a book can be checked by any program that reads the table and knows SHA-256. Quantities are
//! text as written; a float in a body is refused.

mod canonical;
mod chain;
mod raw;
mod strikes;

pub use canonical::{CanonicalError, canonical_json};
pub use chain::{ChainFault, Chains, HASH_LENGTH, Hash, HashTextError, digest, hex};
pub use raw::{ENCODING, RawEntry, RawError};
pub use strikes::standing_strikes;
