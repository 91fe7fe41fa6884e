//! A consistent copy while the book is open.

use std::path::Path;

use super::book::Book;
use super::error::{InFile, Result, StoreError};
use super::head::{self, HeadMark};
use super::whole;

impl Book {
    /// Copies the book to a path where nothing stands, proves the copy's chains, and only then gives
    /// it its name. Returns the head that the copy ends at: where the book ended when the copy began,
    /// however much is written to it meanwhile.
    pub fn backup(&self, to: &Path) -> Result<Option<HeadMark>> {
        let head = whole::in_new_file(to, |draft| {
            self.copy_into(draft, to)?;
            let copy = Self::open_to_examine(draft)?;
            copy.prove_chains()?;
            let head = copy.head()?;
            copy.close()?;
            Ok(head)
        })?;
        if let Some(head) = &head {
            head::write(to, head)?;
        }
        Ok(head)
    }

    /// Copies the book into an empty file; errors name it `to`.
    pub(super) fn copy_into(&self, draft: &Path, to: &Path) -> Result<()> {
        let Some(name) = draft.to_str() else {
            let what = "the name of the copy is not valid Unicode";
            return Err(StoreError::io(to, std::io::Error::other(what)));
        };
        // A reader's connection refuses every write, that of a copy too.
        self.conn.pragma_update(None, "query_only", false).in_file(&self.path)?;
        let copied = self.conn.execute("VACUUM INTO ?1", [name]).in_file(to);
        self.conn.pragma_update(None, "query_only", self.is_reader()).in_file(&self.path)?;
        copied.map(drop)
    }

    /// Throws the projections away and derives them again, from chains that hold: a reading that
    /// was altered behind the book's back must not become a derived row.
    ///
    /// # Errors
    /// `Damaged` with the first thing wrong in a chain.
    pub fn rebuild(&mut self) -> Result<()> {
        self.prove_chains()?;
        let path = self.path.clone();
        let tx = self.begin()?;
        super::project::rebuild(&tx, &path)?;
        tx.commit().in_file(&path)?;
        self.wrote = true;
        Ok(())
    }

    /// Has SQLite gather statistics of the tables, by which it plans. Plans of questions hold with
    /// them and without; gathered by this program they are of its own SQLite, which samples values
    /// too. Those of a build that does not would have it pass indexes by.
    pub fn gather_statistics(&mut self) -> Result<()> {
        self.conn.execute_batch("ANALYZE").in_file(&self.path)
    }
}
