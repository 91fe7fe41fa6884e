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
    pub(super) fn count(&self, of: &Records) -> Span {
        let edges = self.edges(&of.window);
        let opened = self.open(of, &edges);
        let complete = self.complete(&edges);
        // A record of make-ups may stand for several.
        let many = match of.record {
            Record::Makeup => sql!["coalesce(sum(", opened.row.own("times"), "), 0)"],
            _ => sql!["count(*)"],
        };
        let counted = |cond: Cond| sql!["(SELECT ", &many, opened.rows(&cond), ")"];
        Span {
            lo: edges.value(counted(opened.surely())),
            hi: edges.value(when(&complete, counted(opened.maybe()))),
            quanta: Some(1),
        }
    }

    pub(super) fn fold(&self, fold: Fold, read: &Read, of: &Records) -> Span {
        let edges = self.edges(&of.window);
        let opened = self.open(of, &edges);
        let value = self.read(read, &opened.scope());
        let complete = self.complete(&edges);
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
            Fold::Mean => return mean(&opened, &value, &complete, &edges),
        };
        Span { lo: edges.value(lo), hi: edges.value(hi), quanta }
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

/// The mean: exact when it is certain what counts, else between the smallest and the largest.
fn mean(opened: &Opened, value: &Span, complete: &Cond, edges: &Edges) -> Span {
    let quanta = value.quanta.unwrap_or(1);
    let scale = Value::Real(quanta as f64);
    let surely = opened.surely();
    let sure = sql!["(SELECT count(*)", opened.rows(&surely), ")"];
    let all = sql!["(SELECT count(*)", opened.rows(&opened.maybe()), ")"];
    let side = |x: &Sql, pick: &'static str| {
        let mean = sql![
            "(SELECT CASE WHEN count(*) = count(",
            x,
            ") THEN sum(",
            x,
            ") * 1.0 / count(*) END",
            opened.rows(&surely),
            ")",
        ];
        let outer = sql![
            "(SELECT CASE WHEN count(*) = count(",
            x,
            ") THEN ",
            pick,
            "(",
            x,
            ") END",
            opened.rows(&opened.maybe()),
            ")",
        ];
        let value = sql![
            "(CASE WHEN ",
            &sure,
            " = 0 THEN NULL WHEN ",
            &sure,
            " = ",
            &all,
            " THEN ",
            mean,
            " ELSE ",
            outer,
            " END / ",
            scale.clone(),
            ")",
        ];
        edges.value(when(complete, value))
    };
    Span { lo: side(&value.lo, "min"), hi: side(&value.hi, "max"), quanta: None }
}
