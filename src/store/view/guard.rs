//! What a question reads, told by SQLite itself while it compiles the statement, and what it may
//! read: a table that is not made yet cannot be read, so it cannot be read wrongly.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

use rusqlite::Connection;
use rusqlite::hooks::{AuthAction, AuthContext, Authorization};

use super::tables::is_seen_otherwise;

/// Columns by table.
pub(super) type Columns = BTreeMap<String, BTreeSet<String>>;

/// What a table holds of what it should.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Made {
    /// All columns.
    Whole,
    /// These.
    Columns(BTreeSet<String>),
}

/// Who may read what.
#[derive(Debug, Default)]
struct Watch {
    /// The view itself is at work.
    at_work: bool,
    /// What a statement reads is noted, and all is allowed: the statement is not run.
    noting: bool,
    noted: Columns,
    made: BTreeMap<String, Made>,
}

/// Watches over a connection.
#[derive(Clone, Debug, Default)]
pub(super) struct Guard(Arc<Mutex<Watch>>);

impl Guard {
    /// Sets a guard before a connection.
    pub(super) fn before(conn: &mut Connection) -> rusqlite::Result<Self> {
        let guard = Self::default();
        let watch = guard.clone();
        conn.authorizer(Some(move |asked: AuthContext<'_>| watch.judge(&asked)))?;
        Ok(guard)
    }

    fn with<T>(&self, work: impl FnOnce(&mut Watch) -> T) -> T {
        work(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }

    fn judge(&self, asked: &AuthContext<'_>) -> Authorization {
        let AuthAction::Read { table_name: table, column_name: column } = asked.action else {
            return Authorization::Allow;
        };
        // What stands in the place of a table may read the table.
        if !is_seen_otherwise(table) || asked.accessor == Some(table) {
            return Authorization::Allow;
        }
        self.with(|watch| {
            if watch.at_work {
                return Authorization::Allow;
            }
            if watch.noting {
                let columns = watch.noted.entry(table.to_owned()).or_default();
                if !column.is_empty() {
                    columns.insert(column.to_owned());
                }
                return Authorization::Allow;
            }
            // Of a table of which no column is read, only the name is told; ours comes first.
            let own = asked.database_name.is_none_or(|name| name == "temp");
            let made = match watch.made.get(table) {
                Some(Made::Whole) => true,
                Some(Made::Columns(columns)) => column.is_empty() || columns.contains(column),
                None => false,
            };
            if own && made { Authorization::Allow } else { Authorization::Deny }
        })
    }

    /// What a statement reads that is not made yet.
    pub(super) fn lacks(&self, conn: &Connection, sql: &str) -> rusqlite::Result<Columns> {
        self.with(|w| w.noting = true);
        let prepared = conn.prepare(sql).map(drop);
        self.with(|w| {
            w.noting = false;
            let noted = std::mem::take(&mut w.noted);
            prepared.map(|()| noted.into_iter().filter(|(t, c)| w.lacks(t, c)).collect())
        })
    }

    /// Lets the view itself read and write what it likes.
    pub(super) fn at_work<T>(&self, work: impl FnOnce() -> T) -> T {
        self.with(|w| w.at_work = true);
        let done = work();
        self.with(|w| w.at_work = false);
        done
    }

    /// A table may be read from now on.
    pub(super) fn allow(&self, table: &str, made: Made) {
        self.with(|w| w.made.insert(table.to_owned(), made));
    }

    /// What a table holds.
    pub(super) fn made(&self, table: &str) -> Option<Made> {
        self.with(|w| w.made.get(table).cloned())
    }

    /// A table may be read no more.
    pub(super) fn forbid(&self, table: &str) {
        self.with(|w| w.made.remove(table));
    }
}

impl Watch {
    fn lacks(&self, table: &str, columns: &BTreeSet<String>) -> bool {
        match self.made.get(table) {
            Some(Made::Whole) => false,
            Some(Made::Columns(made)) => !columns.is_subset(made),
            None => true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_made_cannot_be_read() {
        let mut conn = Connection::open_in_memory().unwrap();
        conn.execute_batch(
            "CREATE TABLE joint (joint INTEGER PRIMARY KEY, wall INTEGER, class TEXT);
             CREATE TABLE gap (joint INTEGER);
             INSERT INTO joint VALUES (1, 2, 'premium');",
        )
        .unwrap();
        let guard = Guard::before(&mut conn).unwrap();
        let read = |sql: &str| conn.query_row(sql, [], |r| r.get::<_, i64>(0));
        let (wall, class) = ("SELECT wall FROM joint", "SELECT wall FROM joint WHERE class = 'x'");
        assert!(read(wall).is_err() && read("SELECT count(*) FROM joint").is_err());
        let lacks = guard.lacks(&conn, class).unwrap();
        assert_eq!(lacks["joint"], ["class", "wall"].map(str::to_owned).into());
        guard.at_work(|| {
            conn.execute_batch(
                "CREATE TEMP TABLE joint AS SELECT joint, 7 AS wall, class FROM main.joint",
            )
            .unwrap();
        });
        // A table of that name is not enough, nor is one column of it.
        assert!(read(wall).is_err());
        guard.allow("joint", Made::Columns(["wall".to_owned()].into()));
        assert_eq!(read(wall).unwrap(), 7);
        assert_eq!(read("SELECT count(*) FROM joint").unwrap(), 1);
        assert!(read(class).is_err() && read("SELECT wall FROM main.joint").is_err());
        assert!(read("SELECT j.wall FROM joint j JOIN gap USING (joint)").is_err());
        assert!(guard.lacks(&conn, wall).unwrap().is_empty());
        guard.forbid("joint");
        assert!(read(wall).is_err());
    }
}
