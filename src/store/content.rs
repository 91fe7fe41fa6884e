//! What an entry says, apart from when and by whom it was written: two files that state the same
//! fact state one fact.

use sha2::{Digest, Sha256};

use crate::ledger::{RawEntry, canonical_json};
use crate::model::{Body, Moment};

/// Digest of what a draft says.
pub(super) fn digest(effective: &Moment, body: &Body) -> Option<i64> {
    let text = canonical_json(&body.to_json().ok()?).ok()?;
    Some(digest_of(body.kind().word(), &effective.to_string(), &text))
}

fn digest_of(kind: &str, effective: &str, body: &str) -> i64 {
    let mut hash = Sha256::new();
    for part in [kind, effective, body] {
        hash.update((part.len() as u64).to_be_bytes());
        hash.update(part.as_bytes());
    }
    let bytes: [u8; 32] = hash.finalize().into();
    let mut first = [0; 8];
    first.copy_from_slice(&bytes[..8]);
    i64::from_be_bytes(first)
}

/// Digest of what an entry says. Its columns are in canonical form as they stand.
pub(super) fn digest_of_entry(raw: &RawEntry) -> i64 {
    digest_of(&raw.kind, &raw.effective, &raw.body)
}
