//! Counters of the joint in SQL: the joint's own row, the row since an inspection, or its runs and
//! make-ups in a window.

use crate::model::{End, Histogram, Scope as InspectionScope, Vocabulary};
use crate::schema::Value;
use crate::units::{Measure, Rational};

use super::super::ast::Cmp;
use super::super::registry::{self, Above, Field, Kind, Over, Part as Cut, Record, Stored};
use super::super::sql::{Cond, Part, Sql, sql};
use super::super::typed::{Limit, Portion, Read, Records, Total, Window, limit};
use super::figure::above;
use super::fold::when;
use super::number::{Span, beside};
use super::window::{Edges, NEVER_BEGAN};
use super::{Lower, Scope, Truth};

impl Lower {
    /// A counter of the whole life, or since the last inspection of a scope, as the book keeps it.
    pub(super) fn total(&self, total: &Total) -> Span {
        let Some(scope) = total.kept_since() else {
            // One rule with windows: what each run did.
            return match total.portion {
                Some(_) => self.in_window(total, &Edges::default()),
                None => counted(total, &sql!["j"]),
            };
        };
        if let Some(alias) = self.joined_since(scope) {
            return counted(total, &sql![alias]);
        }
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
        Span { lo: of(&row.lo), hi: of(&row.hi), quanta: row.quanta }
    }

    /// A counter in a window whose limits are known: what its runs or make-ups say, and what the joint
    /// brought with it as far as the window reaches back; no more than the joint has in all.
    pub(super) fn in_window(&self, total: &Total, edges: &Edges) -> Span {
        let quanta = total.field.measure().map(Measure::quanta_per_base);
        let (least, most) = self.counted_in(total, edges);
        let (brought_least, brought_most) = brought(total, edges);
        let add = |a: &Sql, b: Sql| sql!["(", a, " + ", b, ")"];
        let larger = |a: &Sql, b: Sql| sql!["max(", a, ", ", b, ")"];
        let largest = is_largest(over(total.field));
        // Nobody knows at which place stands what it brought.
        let lo = if largest || matches!(over(total.field), Over::WorstPlace(_)) {
            larger(&least, brought_least)
        } else {
            add(&least, brought_least)
        };
        let lo = if total.counts_hours() { add(&lo, told(edges)) } else { lo };
        let hi = if largest { larger(&most, brought_most) } else { add(&most, brought_most) };
        let hi = when(&Self::complete_since_entry(edges), hi);
        let whole = counted(total, &sql!["j"]).hi;
        let hi = sql!["coalesce(", hi, ", max(", whole, ", ", &lo, "))"];
        Span { lo, hi, quanta }
    }

    /// A counter over the joint's runs or make-ups in a window.
    fn counted_in(&self, total: &Total, edges: &Edges) -> (Sql, Sql) {
        let of = |record| Records { record, condition: None, window: Window::default() };
        match over(total.field) {
            Over::Makeups(end) => {
                let opened = self.open(&of(Record::Makeup), edges);
                let generation = generation_of(end);
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
                (sum(opened.surely().and(own.clone())), sum(opened.maybe().and(own)))
            }
            Over::WorstPlace(places) => {
                let places = places.map(|place| {
                    let opened = self.open(&of(Record::Run), edges);
                    let value = self.run_field(place, None, &opened.scope());
                    self.sum_up(&opened, &value, &Cond::Always)
                });
                let worst = |list: [Sql; 3]| sql!["max(", Sql::list(list.map(Part::from)), ")"];
                let [a, b, c] = places;
                (worst([a.0, b.0, c.0]), worst([a.1, b.1, c.1]))
            }
            over @ (Over::Place(column, _) | Over::Runs(column, _)) => {
                let opened = self.open(&of(Record::Run), edges);
                let value = self.run_field(column, total.portion, &opened.scope());
                if is_largest(over) {
                    self.max_up(&opened, &value, &Cond::Always)
                } else {
                    self.sum_up(&opened, &value, &Cond::Always)
                }
            }
        }
    }

    fn run_field(&self, name: &'static str, portion: Option<Portion>, scope: &Scope) -> Span {
        match registry::field(Some(Record::Run), name) {
            Some(field) => {
                let read = Read { field, portion, past: None, label: name.into() };
                self.read(&read, scope)
            }
            // Not reached: a test compares counters with the fields of runs.
            None => Span::exact(sql!["NULL"], None),
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
        let inspection: InspectionScope = total.kept_since()?;
        if scope.few || self.joined.is_some() {
            return None;
        }
        let truth = beside(op, &counted(total, &sql!["s"]), bound);
        let among = |cond: Cond| match cond {
            Cond::When(sql) => Cond::When(of_scope(inspection, &sql)),
            // Whoever has a counter.
            cond => cond,
        };
        Some(Truth { yes: among(truth.yes), no: among(truth.no) })
    }

    /// What the row of the joint since the last inspection of a scope must tell, for a window that
    /// begins there.
    fn since_tells(
        &self,
        inspection: InspectionScope,
        scope: &Scope,
        tells: &dyn Fn(&Sql) -> Sql,
    ) -> Cond {
        Cond::When(if let Some(alias) = self.joined_since(inspection) {
            tells(&sql![alias])
        } else if scope.few {
            sql![
                "EXISTS (SELECT 1 FROM since s WHERE s.scope = ",
                Value::Text(inspection.word().to_owned()),
                " AND s.joint = j.joint AND ",
                tells(&sql!["s"]),
                ")",
            ]
        } else {
            of_scope(inspection, &tells(&sql!["s"]))
        })
    }

    /// Hours or turns above a dogleg, more than a number: what the joint's own histogram holds in bands
    /// above and below the dogleg's own decides most joints, and that since an inspection where the
    /// window begins at it; the runs of the others are asked.
    pub(super) fn guard_above(
        &self,
        op: Cmp,
        total: &Total,
        bound: Rational,
        truth: Truth,
        scope: &Scope,
    ) -> Truth {
        let portion = total.portion.and_then(Portion::dogleg).zip(total.field.above);
        let Some((dogleg, what)) = portion else { return truth };
        let Stored::Counter { lo, hi, .. } = total.field.stored else { return truth };
        let quanta = total.field.measure().map_or(1, Measure::quanta_per_base);
        let (sign, n) = match (op, limit(bound, quanta)) {
            (Cmp::Gt, Limit::At(n) | Limit::After(n)) | (Cmp::Ge, Limit::After(n)) if n >= 0 => {
                (" > ", n)
            }
            (Cmp::Ge, Limit::At(n)) if n > 0 => (" >= ", n),
            _ => return truth,
        };
        let not = if sign == " > " { " <= " } else { " < " };
        let (below, beyond) = Histogram::edges_about(dogleg);
        let held = |from: i64| above(what, &sql!["j.histogram"], from);
        let enough = |row: &Sql| {
            let turned = above(what, &sql![row, ".histogram"], below);
            sql!["(", row, ".max_dogleg_lo > ", dogleg, " AND ", turned, sign, n, ")"]
        };
        let may = match total.window.since_scope() {
            Some(inspection) => self.since_tells(inspection, scope, &enough),
            None => Cond::When(enough(&sql!["j"])),
        };
        // In a window is no more than in the whole life.
        let sure = if total.window.is_all() {
            Cond::When(sql!["(j.max_dogleg_lo > ", beyond, " AND ", held(beyond), sign, n, ")"])
        } else {
            Cond::Never
        };
        // All that the joint did is known, and its histogram holds all of it.
        let gentle = Cond::When(sql![
            "(j.max_dogleg_hi <= ",
            dogleg,
            " OR (j.max_dogleg_hi IS NOT NULL AND j.",
            lo,
            " = j.",
            hi,
            " AND ",
            held(below),
            not,
            n,
            "))",
        ]);
        Truth {
            yes: sure.clone().or(may.and(truth.yes)),
            no: gentle.or(sure.fails().and(truth.no)),
        }
    }
}

/// The joints whose row since the last inspection of a scope, `s`, tells something.
fn of_scope(inspection: InspectionScope, tells: &Sql) -> Sql {
    sql![
        "j.joint IN (SELECT s.joint FROM since s WHERE s.scope = ",
        Value::Text(inspection.word().to_owned()),
        " AND ",
        tells,
        ")",
    ]
}

const fn generation_of(end: End) -> &'static str {
    match end {
        End::Pin => "j.pin_generation",
        End::Box => "j.box_generation",
    }
}

/// What the joint had of a counter before it came into the book, as far as a window reaches there: the
/// least and the most.
fn brought(total: &Total, edges: &Edges) -> (Sql, Sql) {
    let nothing = || sql!["0"];
    let Stored::Counter { lo, hi, over } = total.field.stored else {
        return (nothing(), nothing());
    };
    let mut not_there = vec![Cond::When(sql!["j.entered_new = 1"])];
    let mut all_there = Vec::new();
    if let Some((earliest, latest)) = &edges.start {
        not_there.push(Cond::When(sql![earliest, " >= j.entered"]));
        all_there.push(Cond::When(sql![latest, " = ", NEVER_BEGAN]));
    }
    if let Some(end) = &edges.end {
        all_there.push(Cond::When(sql![&end.first, " >= j.entered"]));
    }
    if let Over::Makeups(end) = over {
        not_there.push(Cond::When(sql![generation_of(end), " > 1"]));
    }
    let not_there = Cond::any(not_there);
    let stated = |column| sql!["(SELECT o.", column, " FROM opening o WHERE o.joint = j.joint)"];
    let or_nothing =
        |cond: &Cond, value: Sql| sql!["CASE WHEN ", cond.sql(), " THEN 0 ELSE ", value, " END"];
    let hi = if let Over::Place(_, most) = over { most } else { hi };
    let least = if total.portion.is_some() || matches!(over, Over::Place(..)) {
        nothing()
    } else {
        let not_all = not_there.clone().or(Cond::all(all_there).fails());
        or_nothing(&not_all, sql!["coalesce(", stated(lo), ", 0)"])
    };
    (least, or_nothing(&not_there, stated(hi)))
}

/// The least of the hours that are told of stretches of which no more is known, in a window
/// ([`told_between`](crate::projection::joint::told_between)).
fn told(edges: &Edges) -> Sql {
    let within = |at: &Sql| sql!["min(max(", at, ", g.since), g.until)"];
    let (before, begun_before) = match &edges.start {
        Some((_, latest)) => {
            (sql!["(", within(latest), " - g.since)"], sql!["(", latest, " = ", NEVER_BEGAN, ")"])
        }
        None => (sql!["0"], sql!["1"]),
    };
    let (after, ended) = match &edges.end {
        Some(end) => {
            (sql!["(g.until - ", within(&end.first), ")"], sql!["(g.until <= ", &end.first, ")"])
        }
        None => (sql!["0"], sql!["1"]),
    };
    sql![
        "CASE WHEN j.life_complete = 1 THEN 0 ELSE (SELECT coalesce(sum(CASE \
         WHEN g.begun AND g.hours <= g.until - g.since THEN max(0, g.hours - ",
        before,
        " - ",
        after,
        ") WHEN ",
        begun_before,
        " AND ",
        ended,
        " THEN g.hours ELSE 0 END), 0) FROM gap g WHERE g.joint = j.joint AND g.hours IS NOT NULL) END",
    ]
}

/// Whether the largest of the runs is meant, not their sum.
const fn is_largest(over: Over) -> bool {
    matches!(over, Over::Runs(_, Cut::Largest(_)))
}

fn over(field: &Field) -> Over {
    match field.stored {
        Stored::Counter { over, .. } => over,
        // Not reached: only counters make a total.
        _ => Over::WorstPlace(&crate::schema::DAMAGE),
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
    match (total.portion, total.field.above) {
        (Some(Portion::Above(dogleg)), Some(what)) => {
            let (lo, hi) = above_of_row(alias, what, dogleg, &lo, &hi);
            Span { lo, hi, quanta }
        }
        // At which depths, or in which bends between two, the runs tell alone.
        (Some(Portion::Depths(..) | Portion::Band(..)), _) => Span { lo: sql!["0"], hi, quanta },
        (Some(Portion::Above(_)) | None, _) => Span { lo, hi, quanta },
    }
}

/// Hours or turns above a dogleg of a row that keeps a histogram. What the histogram does not
/// tell of may all have been that sharp.
fn above_of_row(alias: &Sql, what: Above, dogleg: i64, lo: &Sql, hi: &Sql) -> (Sql, Sql) {
    let col = |name: &'static str| sql![alias, ".", name];
    let histogram = col("histogram");
    let beyond = above(what, &histogram, dogleg);
    // With the runs that may not count, where there are any.
    let most_of = sql!["ifnull(", col("histogram_most"), ", ", &histogram, ")"];
    let below = sql!["(", above(what, &most_of, 0), " - ", above(what, &most_of, dogleg), ")"];
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
