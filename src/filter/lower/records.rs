//! Records of a joint in SQL: which of them count for certain, which perhaps.

use super::super::ast::Which;
use super::super::registry::Record;
use super::super::sql::{Alias, Cond, Part, Sql, sql};
use super::super::typed::{Node, Records};
use super::super::walk::is_of_the_book;
use super::window::{Edges, of_joint};
use super::{Lower, Row, Scope, Truth};

/// Records opened for a question: a row source, and what belongs to it.
pub(super) struct Opened {
    pub(super) row: Row,
    /// The condition of the records.
    pub(super) truth: Truth,
    /// In the window for certain, and not in conflict.
    pub(super) certain: Cond,
    /// In the window perhaps.
    pub(super) possible: Cond,
}

impl Opened {
    /// Rows that count for certain.
    pub(super) fn surely(&self) -> Cond {
        self.certain.clone().and(self.truth.yes.clone())
    }

    /// Rows that may count.
    pub(super) fn maybe(&self) -> Cond {
        self.possible.clone().and(self.truth.no.fails())
    }

    pub(super) fn scope(&self) -> Scope {
        Scope { row: Some(self.row.clone()), few: true }
    }

    /// `FROM … WHERE …` of the joint's rows that meet a condition.
    pub(super) fn rows(&self, cond: &Cond) -> Sql {
        match cond {
            Cond::Always => sql![" FROM ", self.row.from(), " WHERE ", of_joint(&self.row)],
            cond => {
                sql![" FROM ", self.row.from(), " WHERE ", of_joint(&self.row), " AND ", cond.sql()]
            }
        }
    }

    pub(super) fn exists(&self, cond: &Cond) -> Cond {
        match cond {
            Cond::Never => Cond::Never,
            cond => Cond::When(sql!["EXISTS (SELECT 1", self.rows(cond), ")"]),
        }
    }

    pub(super) fn none(&self, cond: &Cond) -> Cond {
        match cond {
            Cond::Never => Cond::Always,
            cond => Cond::When(sql!["NOT EXISTS (SELECT 1", self.rows(cond), ")"]),
        }
    }

    /// The columns that order the rows in time, as a row value.
    fn key(&self) -> Sql {
        sql!["(", self.order(), ")"]
    }

    /// Rows as late (or as early) as the kept one.
    pub(super) fn as_far_as(&self, kept: &Keeper, which: Which) -> Cond {
        let sign = if which.from_the_end() { " >= " } else { " <= " };
        Cond::When(sql!["(", self.key(), sign, kept.key(), ")"])
    }

    /// The columns that order the rows in time.
    pub(super) fn order(&self) -> Sql {
        Sql::list(self.row.record.key().iter().map(|c| Part::from(self.row.own(c))))
    }
}

/// Names under which a row source keeps the key of one row.
const KEYS: [&str; 3] = ["x", "y", "z"];

/// The key of the latest (or first) row that counts for certain: a row source of one row at most.
pub(super) struct Keeper {
    alias: Alias,
    pub(super) source: Sql,
    columns: usize,
}

impl Keeper {
    /// The key as a row value.
    fn key(&self) -> Sql {
        let columns = KEYS.iter().take(self.columns).map(|k| Part::from(sql![self.alias, ".", *k]));
        sql!["(", Sql::list(columns), ")"]
    }

    /// The instant before which, or after which, another row would be an earlier or a later one.
    pub(super) fn edge(&self) -> Sql {
        sql![self.alias, ".at"]
    }
}

impl Row {
    /// Whether the record counts for certain: one that excludes another fact may not. A question to
    /// the book is asked of what is written.
    pub(super) fn counts(&self, condition: Option<&Node>) -> Cond {
        if is_of_the_book(condition) || !self.record.may_conflict() {
            return Cond::Always;
        }
        match self.record {
            Record::Run => Cond::When(sql![self.own("conflicting"), " = 0"]),
            // Those of a pattern fall with their run.
            Record::Makeup => Cond::When(sql![
                "(j.conflicted = 0 OR NOT EXISTS (SELECT 1 FROM joint_run o WHERE o.joint = j.joint \
                 AND o.run = ",
                self.own("pattern_run"),
                " AND o.conflicting = 1))",
            ]),
            _ => {
                let entry = self.own("entry");
                let own = match self.record {
                    Record::Hire => sql![entry, ", ", self.own("back_entry")],
                    _ => entry,
                };
                Cond::When(sql![
                    "(j.conflicted = 0 OR NOT EXISTS (SELECT 1 FROM conflict o WHERE o.joint = j.joint \
                     AND (o.first_entry IN (",
                    &own,
                    ") OR o.second_entry IN (",
                    &own,
                    "))))",
                ])
            }
        }
    }
}

impl Lower {
    /// Opens records in a window whose limits are known.
    pub(super) fn open(&self, of: &Records, edges: &Edges) -> Opened {
        let mut row = self.row(of.record);
        row.edges = edges.clone();
        let scope = Scope { row: Some(row.clone()), few: true };
        let truth = match &of.condition {
            None => Truth::of(true),
            Some(node) => self.truth(node, &scope),
        };
        let certain = row.inside(true).and(row.counts(of.condition.as_deref()));
        let possible = row.inside(false);
        Opened { row, truth, certain, possible }
    }

    /// The latest or first row that counts for certain; `with_condition` when only rows that meet
    /// the condition do.
    pub(super) fn keeper(
        &self,
        of: &Records,
        edges: &Edges,
        which: Which,
        with_condition: bool,
    ) -> Keeper {
        let latest = which.from_the_end();
        let opened = self.open(of, edges);
        let alias = self.alias('k');
        let key = of.record.key();
        let columns = key
            .iter()
            .zip(KEYS)
            .map(|(column, name)| Part::from(sql![opened.row.own(column), " AS ", name]));
        // No run can have been before another that had begun.
        let (start, end) = of.record.span();
        let edge = if latest { end } else { start };
        let columns = columns.chain([Part::from(sql![opened.row.own(edge), " AS at"])]);
        let order = key.iter().map(|column| {
            let direction = if latest { " DESC" } else { "" };
            Part::from(sql![opened.row.own(column), direction])
        });
        let counts = if with_condition { opened.surely() } else { opened.certain.clone() };
        let source = sql![
            "(SELECT ",
            Sql::list(columns),
            opened.rows(&counts),
            " ORDER BY ",
            Sql::list(order),
            if which == Which::Previous { " LIMIT 1 OFFSET 1) " } else { " LIMIT 1) " },
            alias,
        ];
        Keeper { alias, source, columns: key.len() }
    }

    /// Rows that meet the condition and may be the one that is meant, from the kept row on.
    pub(super) fn may_be_it(
        &self,
        of: (&Records, &Edges),
        opened: &Opened,
        (kept, which): (&Keeper, Which),
    ) -> Cond {
        let counts = self.counts_as(of, opened, which, Opened::maybe);
        opened.as_far_as(kept, which).and(counts)
    }

    /// Rows that may count, and are not the last where the one before that is meant.
    pub(super) fn counts_as(
        &self,
        (of, edges): (&Records, &Edges),
        opened: &Opened,
        which: Which,
        counts: fn(&Opened) -> Cond,
    ) -> Cond {
        let own = counts(opened);
        if which != Which::Previous {
            return own;
        }
        let later = self.open(of, edges);
        let after = Cond::When(sql!["(", later.key(), " > ", opened.key(), ")"]);
        own.and(later.exists(&after.and(counts(&later))))
    }
}
