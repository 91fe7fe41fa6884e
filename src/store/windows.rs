//! Parts of runs at dates that a question names: a run across the edge of a window counts as its
//! part inside.

use super::book::Book;
use super::error::{InFile, Result};
use super::project;
use crate::schema::{Table, layout};

impl Book {
    /// Works out the parts of all runs that were under way at these instants.
    pub fn prepare_windows(&self, cuts: &[i64]) -> Result<()> {
        let path = self.path.clone();
        // The file itself stays read-only; this is a table of the connection.
        self.conn.pragma_update(None, "query_only", false).in_file(&path)?;
        // Made anew for each question; not part of the file.
        let (table, _) = layout::of_connection(Table::WindowPart);
        let made = self
            .conn
            .execute_batch(&format!("DROP TABLE IF EXISTS temp.window_part; {table}"))
            .in_file(&path)
            .and_then(|()| self.fill_windows(cuts));
        self.conn.pragma_update(None, "query_only", self.is_reader()).in_file(&path)?;
        made
    }

    fn fill_windows(&self, cuts: &[i64]) -> Result<()> {
        if cuts.is_empty() {
            return Ok(());
        }
        project::fill_windows(&self.conn, self.pass()?, cuts)
    }
}
