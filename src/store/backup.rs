//! A consistent copy while the book is open.

use std::fs;
use std::path::{Path, PathBuf};

use super::book::{Access, Book};
use super::error::{InFile, Result, StoreError};
use super::head::{self, HeadMark};

impl Book {
    /// Copies the book to a path where nothing stands, proves the copy's chain end, and only then
    /// gives it its name. Returns the head that the copy ends at.
    pub fn backup(&self, to: &Path) -> Result<Option<HeadMark>> {
        if to.exists() {
            return Err(StoreError::Exists { path: to.to_path_buf() });
        }
        let mut fresh = to.as_os_str().to_owned();
        fresh.push(".new");
        let fresh = PathBuf::from(fresh);
        let _ = fs::remove_file(&fresh);
        let Some(name) = fresh.to_str() else {
            return Err(StoreError::io(
                &fresh,
                std::io::Error::other("the name of the copy is not valid Unicode"),
            ));
        };
        // A reader's connection refuses every write, that of a copy too.
        self.conn.pragma_update(None, "query_only", false).in_file(&self.path)?;
        let copied = self
            .conn
            .execute("VACUUM INTO ?1", [name])
            .in_file(to)
            .and_then(|_| Self::prove_copy(&fresh, self.head()?));
        self.conn.pragma_update(None, "query_only", self.is_reader()).in_file(&self.path)?;
        match copied {
            Ok(head) => {
                fs::File::open(&fresh)
                    .and_then(|f| f.sync_all())
                    .and_then(|()| fs::rename(&fresh, to))
                    .map_err(|e| StoreError::io(to, e))?;
                if let Some(head) = &head {
                    head::write(to, head)?;
                }
                Ok(head)
            }
            Err(e) => {
                let _ = fs::remove_file(&fresh);
                Err(e)
            }
        }
    }

    fn prove_copy(copy: &Path, head: Option<HeadMark>) -> Result<Option<HeadMark>> {
        let book = Self::open(copy, Access::Read)?;
        if book.head()? != head {
            return Err(StoreError::Damaged {
                path: copy.to_path_buf(),
                what: "the copy does not end where the book does".to_owned(),
            });
        }
        book.close()?;
        for suffix in ["-wal", "-shm"] {
            let mut part = copy.as_os_str().to_owned();
            part.push(suffix);
            let _ = fs::remove_file(PathBuf::from(part));
        }
        Ok(head)
    }

    /// Throws the projections away and derives them again.
    pub fn rebuild(&mut self) -> Result<()> {
        let path = self.path.clone();
        let tx = self.begin()?;
        super::project::rebuild(&tx, &path)?;
        tx.commit().in_file(&path)
    }

    /// Has SQLite gather statistics of the tables, by which it plans. Plans of questions hold with
    /// them and without; gathered by this program they are of its own SQLite, which samples values
    /// too. Those of a build that does not would have it pass indexes by.
    pub fn gather_statistics(&mut self) -> Result<()> {
        self.conn.execute_batch("ANALYZE").in_file(&self.path)
    }
}
