//! What an entry says, apart from when and by whom it was written: two files that state the same
//! fact state one fact.

use sha2::{Digest, Sha256};

use super::book::Book;
use super::error::{InFile, Result};
use crate::ledger::{RawEntry, canonical_json};
use crate::model::{Body, Draft, Moment};

fn digest(effective: &Moment, body: &Body) -> Option<i64> {
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

impl Book {
    /// For each draft, the entry from a file that already says the same and still stands.
    pub fn already_said(&self, drafts: &[Draft]) -> Result<Vec<Option<i64>>> {
        let mut statement = self
            .conn
            .prepare_cached(
                "SELECT entry FROM content WHERE digest = ?1
                 AND entry NOT IN (SELECT entry FROM struck) ORDER BY entry LIMIT 1",
            )
            .in_file(&self.path)?;
        drafts
            .iter()
            .map(|d| {
                let Some(digest) = digest(&d.effective, &d.body) else { return Ok(None) };
                let mut rows = statement.query([digest]).in_file(&self.path)?;
                rows.next().in_file(&self.path)?.map(|r| r.get(0).in_file(&self.path)).transpose()
            })
            .collect()
    }

    /// Entries taken from a file with this digest: first and last position, and how many.
    pub fn file_taken(&self, sha256: &str) -> Result<Option<(i64, i64, i64)>> {
        let (first, last, count): (Option<i64>, Option<i64>, i64) = self
            .conn
            .query_row(
                "SELECT min(first_entry), max(last_entry), count(*) FROM file_taken
                 WHERE sha256 = ?1 AND first_entry NOT IN (SELECT entry FROM struck)",
                [sha256],
                |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)),
            )
            .in_file(&self.path)?;
        Ok(first.zip(last).map(|(f, l)| (f, l, count)))
    }
}
