//! What a book took in already, of files and of facts.

use super::book::Book;
use super::content::digest;
use super::error::{InFile, Result};
use crate::model::Draft;

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
