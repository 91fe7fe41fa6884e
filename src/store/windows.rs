//! Parts of runs at dates that a question names: a run across the edge of a window counts as its
//! part inside.

use super::book::Book;
use super::error::{InFile, Result};
use super::project;

/// The table that holds them, made anew for each question; not part of the file.
const TABLE: &str = "
    DROP TABLE IF EXISTS temp.window_part;
    CREATE TEMP TABLE window_part (
        joint INTEGER NOT NULL, run INTEGER NOT NULL, cut INTEGER NOT NULL,
        input_key INTEGER NOT NULL, hours INTEGER, revolutions INTEGER, footage INTEGER,
        max_dogleg INTEGER, max_tension INTEGER, max_bending INTEGER, damage_pin INTEGER,
        damage_middle INTEGER, damage_box INTEGER, over_limit INTEGER, cased_hours INTEGER,
        open_turns INTEGER, side_work INTEGER, after_dogleg INTEGER, after_tension INTEGER,
        after_bending INTEGER, histogram BLOB NOT NULL,
        PRIMARY KEY (joint, run, cut)
    ) STRICT, WITHOUT ROWID";

impl Book {
    /// Works out the parts of all runs that were under way at these instants.
    pub fn prepare_windows(&mut self, cuts: &[i64]) -> Result<()> {
        let path = self.path.clone();
        // The file itself stays read-only; this is a table of the connection.
        self.conn.pragma_update(None, "query_only", false).in_file(&path)?;
        let made =
            self.conn.execute_batch(TABLE).in_file(&path).and_then(|()| self.fill_windows(cuts));
        self.conn.pragma_update(None, "query_only", self.is_reader()).in_file(&path)?;
        made
    }
    fn fill_windows(&self, cuts: &[i64]) -> Result<()> {
        if cuts.is_empty() {
            return Ok(());
        }
        self.ready("SELECT run, start, finish FROM run")?;
        project::fill_windows(&self.conn, self.pass()?, cuts)
    }
}
