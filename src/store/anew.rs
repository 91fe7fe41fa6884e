//! A book derived anew in a copy, beside what its rows said before: which version made them, and the
//! figures by which joints are ranked.

use std::collections::BTreeMap;

use super::book::Book;
use super::error::{InFile, Result};
use super::{migrate, project};
use crate::schema::Totals;

/// What the rows of a joint said before.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Earlier {
    /// Its serial.
    pub serial: String,
    /// Damage, the lower bound where it was one; none where the rows had no such figure.
    pub damage: Option<i64>,
    /// That was all of it, not a lower bound.
    pub is_exact: bool,
    /// Sharpest bend, as damage is.
    pub max_dogleg: Option<i64>,
}

/// A book beside its copy that is derived anew.
#[derive(Debug)]
pub struct DerivedAnew {
    /// Version of the projections of the rows before; 0 without any.
    pub version: i64,
    /// The rows before, by joint.
    pub before: BTreeMap<i64, Earlier>,
    /// The copy.
    pub copy: Book,
}

impl Book {
    /// Derives a copy anew that nobody else sees; the book stays as it is, whichever version made its
    /// rows. One that was opened to be examined will do.
    ///
    /// # Errors
    /// When the chains do not hold: an altered entry must not become a derived row.
    pub fn derived_anew(&self) -> Result<DerivedAnew> {
        self.prove_chains()?;
        let path = &self.path;
        let version = migrate::projection_version(&self.conn).in_file(path)?;
        let mut copy = self.copy()?;
        copy.execute_batch("COMMIT").in_file(path)?;
        let before = self.rows_before()?;
        let now = super::book::clock_of_sqlite(&copy).in_file(path)?;
        {
            let tx = copy.transaction().in_file(path)?;
            migrate::apply(&tx, now).in_file(path)?;
            project::rebuild(&tx, path)?;
            tx.commit().in_file(path)?;
        }
        copy.pragma_update(None, "query_only", true).in_file(path)?;
        let copy = Self::of_parts(copy, path.clone(), self.identity().clone(), None);
        Ok(DerivedAnew { version, before, copy })
    }

    /// Columns of a table as it stands in the file.
    fn columns_there(&self, table: &str) -> Result<Vec<String>> {
        let path = &self.path;
        let mut ask = self.conn.prepare("SELECT name FROM pragma_table_info(?1)").in_file(path)?;
        let names = ask.query_map([table], |r| r.get(0)).in_file(path)?;
        names.collect::<rusqlite::Result<_>>().in_file(path)
    }

    fn rows_before(&self) -> Result<BTreeMap<i64, Earlier>> {
        let there = self.columns_there("joint")?;
        let column = |name: &str, bound: &str| {
            let column = format!("{name}_{bound}");
            if there.contains(&column) { column } else { "NULL".to_owned() }
        };
        if !there.iter().any(|c| c == "serial") {
            return Ok(BTreeMap::new());
        }
        let damage = Totals::damage().name();
        let (damage, most) = (column(damage, "lo"), column(damage, "hi"));
        let dogleg = column(Totals::max_dogleg().name(), "lo");
        let sql =
            format!("SELECT joint, serial, {damage}, {dogleg}, {most} FROM joint WHERE runs > 0");
        let path = &self.path;
        let mut ask = self.conn.prepare(&sql).in_file(path)?;
        let rows = ask
            .query_map([], |r| {
                let earlier = Earlier {
                    serial: r.get(1)?,
                    damage: r.get(2)?,
                    max_dogleg: r.get(3)?,
                    is_exact: r.get::<_, Option<i64>>(4)?.is_some(),
                };
                Ok((r.get(0)?, earlier))
            })
            .in_file(path)?;
        rows.collect::<rusqlite::Result<_>>().in_file(path)
    }
}
