//! Records counted and folded in SQL. What may or may not count, what is not known and what is
//! missing widen the bounds.

use crate::schema::Value;

use super::super::ast::Fold;
use super::super::registry::Record;
use super::super::sql::{Cond, Sql, sql};
use super::super::typed::{Read, Records, counts_up};
use super::Lower;
use super::number::Span;
use super::records::Opened;
use super::window::Edges;

impl Lower {
    /// How many records there are, where the instants of the window are known.
    pub(super) fn count(&self, of: &Records, edges: &Edges) -> Span {
        let opened = self.open(of, edges);
        let complete = self.complete(edges);
        // A record of make-ups may stand for several.
        let many = match of.record {
            Record::Makeup => sql!["coalesce(sum(", opened.row.own("times"), "), 0)"],
            _ => sql!["count(*)"],
        };
        let counted = |cond: Cond| sql!["(SELECT ", &many, opened.rows(&cond), ")"];
        Span {
            lo: counted(opened.surely()),
            hi: when(&complete, counted(opened.maybe())),
            quanta: Some(1),
        }
    }

    /// A field folded over records, where the instants of the window are known.
    pub(super) fn fold(&self, fold: Fold, read: &Read, of: &Records, edges: &Edges) -> Span {
        let opened = self.open(of, edges);
        let value = self.read(read, &opened.scope());
        let complete = self.complete(edges);
        let quanta = value.quanta;
        let (lo, hi) = match fold {
            Fold::Sum if counts_up(read.field) => self.sum_up(&opened, &value, &complete),
            Fold::Sum => sum_signed(&opened, &value, &complete),
            Fold::Max => {
                (utmost(&opened, &value.lo, "max"), bound(&opened, &value.hi, "max", &complete))
            }
            Fold::Min => {
                (bound(&opened, &value.lo, "min", &complete), utmost(&opened, &value.hi, "min"))
            }
            Fold::Mean => return mean(&opened, &value, &complete, counts_up(read.field)),
        };
        Span { lo, hi, quanta }
    }

    /// A sum of what cannot be below zero.
    pub(super) fn sum_up(&self, opened: &Opened, value: &Span, complete: &Cond) -> (Sql, Sql) {
        let lo =
            sql!["(SELECT coalesce(sum(", &value.lo, "), 0)", opened.rows(&opened.surely()), ")",];
        let hi = sql![
            "(SELECT CASE WHEN count(*) = count(",
            &value.hi,
            ") THEN coalesce(sum(",
            &value.hi,
            "), 0) END",
            opened.rows(&opened.maybe()),
            ")",
        ];
        (lo, when(complete, hi))
    }

    /// The largest of what cannot be below zero, zero where there is nothing.
    pub(super) fn max_up(&self, opened: &Opened, value: &Span, complete: &Cond) -> (Sql, Sql) {
        let lo =
            sql!["(SELECT coalesce(max(", &value.lo, "), 0)", opened.rows(&opened.surely()), ")",];
        let hi = sql![
            "(SELECT CASE WHEN count(*) = count(",
            &value.hi,
            ") THEN coalesce(max(",
            &value.hi,
            "), 0) END",
            opened.rows(&opened.maybe()),
            ")",
        ];
        (lo, when(complete, hi))
    }
}

pub(super) fn when(cond: &Cond, value: Sql) -> Sql {
    match cond {
        Cond::Always => value,
        cond => sql!["CASE WHEN ", cond.sql(), " THEN ", value, " END"],
    }
}

/// A sum of what may be below zero: what only may count adds to the bound that it pushes.
fn sum_signed(opened: &Opened, value: &Span, complete: &Cond) -> (Sql, Sql) {
    let sure = opened.surely().sql();
    let side = |x: &Sql, pick: &'static str| {
        let term = sql!["CASE WHEN ", &sure, " THEN ", x, " ELSE ", pick, "(0, ", x, ") END"];
        when(
            complete,
            sql![
                "(SELECT CASE WHEN count(*) = count(",
                &term,
                ") THEN coalesce(sum(",
                &term,
                "), 0) END",
                opened.rows(&opened.maybe()),
                ")",
            ],
        )
    };
    (side(&value.lo, "min"), side(&value.hi, "max"))
}

/// The bound that records which count for certain set.
fn utmost(opened: &Opened, value: &Sql, pick: &'static str) -> Sql {
    sql!["(SELECT ", pick, "(", value, ")", opened.rows(&opened.surely()), ")"]
}

/// The bound that all records which may count set together; none where nothing counts for certain.
fn bound(opened: &Opened, value: &Sql, pick: &'static str, complete: &Cond) -> Sql {
    let some = opened.exists(&opened.surely());
    when(
        &complete.clone().and(some),
        sql![
            "(SELECT CASE WHEN count(*) = count(",
            value,
            ") THEN ",
            pick,
            "(",
            value,
            ") END",
            opened.rows(&opened.maybe()),
            ")",
        ],
    )
}

/// The mean. What only may count is taken in where it pushes the bound: the smallest first for the
/// lower one. `up` for what cannot be below zero.
fn mean(opened: &Opened, value: &Span, complete: &Cond, up: bool) -> Span {
    let quanta = value.quanta.unwrap_or(1);
    let surely = opened.surely();
    let perhaps = opened.maybe().and(surely.fails());
    let side = |x: &Sql, pick: &'static str, order: &'static str| {
        // Of the first records that may count, one more each time.
        let with_some = sql![
            "(SELECT ",
            pick,
            "((q.s + p) * 1.0 / (q.n + k)) FROM (SELECT sum(v) OVER o AS p, row_number() OVER o AS k              FROM (SELECT ",
            x,
            " AS v",
            opened.rows(&perhaps),
            ") WINDOW o AS (ORDER BY v",
            order,
            " ROWS UNBOUNDED PRECEDING)))",
        ];
        let alone = sql!["q.s * 1.0 / q.n"];
        let all_known = opened.none(&opened.maybe().and(Cond::When(sql![x, " IS NULL"])));
        let mean = sql![
            "(SELECT ",
            pick,
            "(",
            &alone,
            ", coalesce(",
            with_some,
            ", ",
            &alone,
            ")) / ",
            Value::Real(quanta as f64),
            " FROM (SELECT sum(",
            x,
            ") AS s, count(*) AS n",
            opened.rows(&surely),
            ") q WHERE q.n > 0)",
        ];
        when(&complete.clone().and(all_known), mean)
    };
    let least = if up { sql!["coalesce(", &value.lo, ", 0)"] } else { value.lo.clone() };
    Span { lo: side(&least, "min", ""), hi: side(&value.hi, "max", " DESC"), quanta: None }
}
