//! Canonical bytes, hash chain, strikes, bundles, checks. Works over iterators of entries; knows
//! no SQL.
//!
//! What is hashed is what is stored: every column of an entry, each with its length before it, so
//! that a book can be checked by any program that reads the table and knows SHA-256. Quantities are
//! text as written; a float in a body is refused.

mod bundle;
mod canonical;
mod chain;
mod raw;
mod seal;
mod strikes;

pub use bundle::{
    BUNDLE_FORMAT, BUNDLE_FORMAT_WITH_LOST, BundleEnd, BundleError, BundleHeader, BundleItem,
    BundleLimits, BundleReader, BundleWriter, Linked, Stretch,
};
pub use canonical::{CanonicalError, canonical_json};
pub use chain::{ChainFault, Chains, HASH_LENGTH, Hash, HashTextError, digest, hex};
pub use raw::{BODY_LIMIT, ENCODING, RawEntry, RawError, chain_label};
pub use seal::{KEY_LENGTH, KnownKeys, PublicKey, Seal, SealError, Sealer, SecretKey};
pub use strikes::standing_strikes;
