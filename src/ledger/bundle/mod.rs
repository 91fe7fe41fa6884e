//! Bundles: entries of chains on their way to another book, as text that people can read.
//!
//! One JSON object a line. A header says which stretches of which chains follow; then one line for
//! each entry with every column that its hash covers; then seals, if any; a footer closes with the
//! count and the SHA-256 of all bytes above it. Each kind of line has one spelling of its
//! beginning, so that there is one way to read a file.
//!
//! Here a bundle is only lines: opening, packing and limits on time are the store's.

mod error;
mod read;
mod write;

pub use error::BundleError;
pub use read::{BundleEnd, BundleItem, BundleReader};
pub use write::BundleWriter;

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

use super::chain::Hash;
use super::raw::RawEntry;
use super::seal::Seal;
use crate::model::{Chain, EntryId, LostStretch};

/// Version of the layout, and that of a bundle of chains with lost stretches, which programs of
/// before do not know.
pub const BUNDLE_FORMAT: u32 = 1;
pub const BUNDLE_FORMAT_WITH_LOST: u32 = 2;

/// How much a bundle may hold. What lies beyond is refused before it fills memory or disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BundleLimits {
    /// Bytes of one line.
    pub line: usize,
    pub entries: u64,
    /// Bytes in all, unpacked.
    pub bytes: u64,
}

impl Default for BundleLimits {
    fn default() -> Self {
        Self { line: 16 << 20, entries: 10_000_000, bytes: 8 << 30 }
    }
}

/// A stretch of one chain.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stretch {
    pub chain: Chain,
    /// First number.
    pub from: u64,
    pub to: u64,
    /// Hash that the first entry links to.
    pub before: Hash,
    /// Hash of the last entry.
    pub head: Hash,
}

/// First line of a bundle.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BundleHeader {
    /// Version of the layout.
    pub pipelore_bundle: u32,
    /// When it was made.
    pub made: String,
    pub author: String,
    /// Program and version that made it.
    pub program: String,
    /// What it holds, by name of the chain, then by number: a chain of which the sender has lost
    /// something comes in several stretches.
    pub chains: Vec<Stretch>,
    /// What the sender knows to be lost.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lost: Vec<LostStretch>,
}

/// An entry with its link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Linked {
    pub raw: RawEntry,
    /// Hash of the entry before it.
    pub prev: Hash,
    pub hash: Hash,
}

/// One entry as a line.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct EntryLine<'a> {
    entry: EntryId,
    kind: String,
    effective: String,
    recorded_ms: i64,
    recorded_offset: i32,
    author: String,
    program: String,
    #[serde(borrow, skip_serializing_if = "Option::is_none")]
    evidence: Option<&'a RawValue>,
    #[serde(borrow)]
    body: &'a RawValue,
    encoding: u8,
    prev: Hash,
    hash: Hash,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SealLine {
    seal: Seal,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Footer {
    entries: u64,
    sha256: String,
}

/// The first bytes of each kind of line.
const ENTRY: &[u8] = b"{\"entry\":";
const SEAL: &[u8] = b"{\"seal\":";
const FOOTER: &[u8] = b"{\"entries\":";
const HEADER: &[u8] = b"{\"pipelore_bundle\":";

#[cfg(test)]
mod tests;
