//! Counters of the joint in SQL: the joint's own row, the row since an inspection, or its runs and
//! make-ups in a window.

use crate::model::{End, Scope as InspectionScope, Vocabulary};
use crate::schema::Value;
use crate::units::{Measure, Rational};

use super::super::ast::Cmp;
use super::super::registry::{self, Above, Field, Kind, Over, PLACES, Part as Cut, Record, Stored};
use super::super::sql::{Cond, Part, Sql, sql};
use super::super::typed::{Limit, Read, Records, Total, Window, limit};
use super::figure::above;
use super::number::{Span, beside};
use super::{Lower, Scope, Truth};

impl Lower {
    pub(super) fn total(&self, total: &Total, _scope: &Scope) -> Span {
        if total.window.is_all() {
            let kept = counted(total, &sql!["j"]);
            if total.above.is_none() {
                return kept;
            }
            // A histogram of many runs does not tell how far each of them went into its last band.
            let runs = self.in_window(total, &total.window);
            return Span { hi: sql!["coalesce(", runs.hi, ", ", kept.hi, ")"], ..runs };
        }
        let joined = total.window.since_scope().and_then(|scope| self.joined_since(scope));
        if let Some(alias) = joined {
            return counted(total, &sql![alias]);
        }
        if let Some(scope) = total.window.since_scope() {
            let row = counted(total, &sql!["s"]);
            let of = |x: &Sql| {
                sql![
                    "(SELECT ",
                    x,
                    " FROM since s WHERE s.scope = ",
                    Value::Text(scope.word().to_owned()),
                    " AND s.joint = j.joint)",
                ]
            };
            return Span { lo: of(&row.lo), hi: of(&row.hi), quanta: row.quanta };
        }
        if total.so_far {
            return self.so_far(total);
        }
        self.in_window(total, &total.window)
    }

    /// A counter over the joint's runs or make-ups in a window.
    fn in_window(&self, total: &Total, window: &Window) -> Span {
        let quanta = total.field.measure().map(Measure::quanta_per_base);
        let edges = self.edges(window);
        let complete = self.complete(&edges);
        let of = |record| Records { record, condition: None, window: window.clone() };
        let (lo, hi) = match over(total.field) {
            Over::Makeups(end) => {
                let opened = self.open(&of(Record::Makeup), &edges);
                let generation = match end {
                    End::Pin => "j.pin_generation",
                    End::Box => "j.box_generation",
                };
                let own = Cond::When(sql![
                    "(",
                    opened.row.own("end"),
                    " = ",
                    Value::Text(end.word().to_owned()),
                    " AND ",
                    opened.row.own("generation"),
                    " = ",
                    generation,
                    ")",
                ]);
                let sum = |cond: Cond| {
                    sql![
                        "(SELECT coalesce(sum(",
                        opened.row.own("times"),
                        "), 0)",
                        opened.rows(&cond),
                        ")",
                    ]
                };
                let lo = sum(opened.surely().and(own.clone()));
                (lo, super::fold::when(&complete, sum(opened.maybe().and(own))))
            }
            Over::WorstPlace => {
                let places = PLACES.map(|place| {
                    let opened = self.open(&of(Record::Run), &edges);
                    let value = self.run_field(place, None, &opened.scope());
                    self.sum_up(&opened, &value, &complete)
                });
                let worst = |list: [Sql; 3]| sql!["max(", Sql::list(list.map(Part::from)), ")"];
                let [a, b, c] = places;
                (worst([a.0, b.0, c.0]), worst([a.1, b.1, c.1]))
            }
            Over::Runs(column, cut) => {
                let opened = self.open(&of(Record::Run), &edges);
                let value = self.run_field(column, total.above, &opened.scope());
                match cut {
                    Cut::Sums => self.sum_up(&opened, &value, &complete),
                    Cut::Largest(_) => self.max_up(&opened, &value, &complete),
                }
            }
        };
        Span { lo: edges.value(lo), hi: edges.value(hi), quanta }
    }

    fn run_field(&self, name: &'static str, above: Option<i64>, scope: &Scope) -> Span {
        match registry::field(Some(Record::Run), name) {
            Some(field) => {
                let read = Read { field, above, past: None, label: name.into() };
                self.read(&read, scope)
            }
            // Not reached: a test compares counters with the fields of runs.
            None => Span::exact(sql!["NULL"], None),
        }
    }

    /// A counter as it stood at the end of a day: what the joint has now less what came after, or
    /// what the runs before say, whichever tells more.
    fn so_far(&self, total: &Total) -> Span {
        let whole = counted(total, &sql!["j"]);
        let after = Window { from: total.window.until, ..Window::default() };
        let before = self.in_window(total, &total.window);
        let after = self.in_window(total, &after);
        let lo = sql!["(", &whole.lo, " - ", after.hi, ")"];
        let hi = sql!["(", &whole.hi, " - ", after.lo, ")"];
        Span {
            lo: sql!["max(", &before.lo, ", coalesce(", lo, ", ", &before.lo, "))"],
            hi: sql![
                "min(coalesce(",
                &before.hi,
                ", ",
                &hi,
                "), coalesce(",
                &hi,
                ", ",
                &before.hi,
                "))",
            ],
            quanta: before.quanta,
        }
    }

    /// A counter since the last inspection of one scope, compared with a number: one pass over the
    /// counters of the scope, unless few joints are asked about anyway.
    pub(super) fn since_truth(
        &self,
        op: Cmp,
        total: &Total,
        bound: Rational,
        scope: &Scope,
    ) -> Option<Truth> {
        let inspection: InspectionScope = total.window.since_scope()?;
        if scope.few || self.joined.is_some() {
            return None;
        }
        let truth = beside(op, &counted(total, &sql!["s"]), bound);
        let among = |cond: Cond| match cond {
            Cond::When(sql) => Cond::When(sql![
                "j.joint IN (SELECT s.joint FROM since s WHERE s.scope = ",
                Value::Text(inspection.word().to_owned()),
                " AND ",
                sql,
                ")",
            ]),
            // Whoever has a counter.
            cond => cond,
        };
        Some(Truth { yes: among(truth.yes), no: among(truth.no) })
    }

    /// Hours or turns above a dogleg can exceed a number only where the joint turned that sharp.
    pub(super) fn guard_above(
        &self,
        op: Cmp,
        total: &Total,
        bound: Rational,
        truth: Truth,
    ) -> Truth {
        let (Some(dogleg), true) = (total.above, total.window.is_all()) else { return truth };
        let quanta = total.field.measure().map_or(1, Measure::quanta_per_base);
        let beyond_zero = match (op, limit(bound, quanta)) {
            (Cmp::Gt, Limit::At(n) | Limit::After(n)) | (Cmp::Ge, Limit::After(n)) => n >= 0,
            (Cmp::Ge, Limit::At(n)) => n > 0,
            _ => false,
        };
        if !beyond_zero {
            return truth;
        }
        let sharp = Cond::When(sql!["j.max_dogleg_lo > ", dogleg]);
        Truth { yes: sharp.and(truth.yes), no: truth.no }
    }
}

fn over(field: &Field) -> Over {
    match field.stored {
        Stored::Counter { over, .. } => over,
        // Not reached: only counters make a total.
        _ => Over::WorstPlace,
    }
}

/// A counter as a row of `joint` or `since` keeps it.
fn counted(total: &Total, alias: &Sql) -> Span {
    let quanta = match total.field.kind {
        Kind::Measure(m) => Some(m.quanta_per_base()),
        _ => None,
    };
    let Stored::Counter { lo, hi, .. } = total.field.stored else {
        return Span::exact(sql!["NULL"], quanta);
    };
    let col = |name: &'static str| sql![alias, ".", name];
    let (lo, hi) = (col(lo), col(hi));
    let Some((dogleg, what)) = total.above.zip(total.field.above) else {
        return Span { lo, hi, quanta };
    };
    let (lo, hi) = above_of_row(alias, what, dogleg, &lo, &hi);
    Span { lo, hi, quanta }
}

/// Hours or turns above a dogleg of a row that keeps a histogram. What the histogram does not
/// tell of may all have been that sharp.
fn above_of_row(alias: &Sql, what: Above, dogleg: i64, lo: &Sql, hi: &Sql) -> (Sql, Sql) {
    let col = |name: &'static str| sql![alias, ".", name];
    let histogram = col("histogram");
    let beyond = above(what, &histogram, dogleg);
    let below = sql!["(", above(what, &histogram, 0), " - ", &beyond, ")"];
    let (least, most) = (col("max_dogleg_lo"), col("max_dogleg_hi"));
    let at_least = sql!["CASE WHEN ", least, " > ", dogleg, " THEN ", beyond, " ELSE 0 END"];
    let at_most = sql![
        "CASE WHEN ",
        &most,
        " <= ",
        dogleg,
        " THEN 0 WHEN ",
        &most,
        " IS NOT NULL AND ",
        lo,
        " = ",
        hi,
        " THEN ",
        &at_least,
        " ELSE max(",
        &at_least,
        ", ",
        hi,
        " - ",
        below,
        ") END",
    ];
    (at_least, at_most)
}
