//! Fields in SQL: columns of the joint and of records, figures of runs that a window cuts.

use crate::projection::joint::{AT_LEAST, UNTIMED};

use super::super::registry::{Above, Field, Kind, Part as Cut, Stored, figures_at};
use super::super::sql::{Part, Sql, sql};
use super::super::typed::{MS_PER_SECOND, Portion, Read};
use super::number::Span;
use super::window::Parts;
use super::{Lower, Row, Scope};

/// The whole of a ratio, in quanta.
const WHOLE: i64 = 1_000_000_000;

/// A figure of a run that adds up: a column, or what a histogram tells above a dogleg.
#[derive(Clone, Copy, Debug)]
enum Sums {
    Column(&'static str),
    /// In bends above a dogleg, and not above another, where there is one.
    Above(Above, Bend),
}

/// Doglegs between which bends count; without an upper one all above the lower.
#[derive(Clone, Copy, Debug)]
struct Bend {
    above: i64,
    upto: Option<i64>,
}

impl Sums {
    /// The figure of a row of the joint's runs, or of their parts. Above the sharpest bend of the run
    /// is nothing.
    fn of(self, alias: &Sql, run: &Row) -> Sql {
        let (what, bend) = match self {
            Self::Column(name) => return sql![alias, ".", name],
            Self::Above(what, bend) => (what, bend),
        };
        let over = |dogleg| above(what, &sql![alias, ".histogram"], dogleg);
        let all = over(bend.above);
        let Some(upto) = bend.upto else { return all };
        let sharpest = run.own("max_dogleg");
        sql!["(", all, " - CASE WHEN ", sharpest, " > ", upto, " THEN ", over(upto), " ELSE 0 END)"]
    }
}

pub(super) fn above(what: Above, histogram: &Sql, dogleg: i64) -> Sql {
    let function = match what {
        Above::Turns => "turns_above(",
        Above::Hours => "hours_above(",
    };
    sql![function, histogram, ", ", dogleg, ")"]
}

impl Lower {
    /// A field that is a number.
    pub(super) fn read(&self, read: &Read, scope: &Scope) -> Span {
        let field = read.field;
        let quanta = match field.kind {
            Kind::Measure(m) => Some(m.quanta_per_base()),
            _ => Some(MS_PER_SECOND),
        };
        if let Stored::Between(lo, hi) = field.stored {
            return Span { lo: sql!["j.", lo], hi: sql!["j.", hi], quanta };
        }
        if read.past.is_some() || field.record.is_none() {
            return Span::exact(self.place_read(read, scope), quanta);
        }
        let Some(row) = &scope.row else {
            // Not reached: the checker puts a record in scope for its fields.
            return Span::exact(sql!["NULL"], quanta);
        };
        let estimates = |lo: Sql, hi: Sql| Span {
            lo,
            hi: sql!["CASE WHEN (", row.own("flags"), " & ", AT_LEAST, ") = 0 THEN ", hi, " END"],
            quanta,
        };
        match (field.stored, read.portion) {
            (Stored::Figure(name, _), Some(Portion::Above(above))) => {
                let (lo, hi) = self.run_above(row, name, Bend { above, upto: None });
                estimates(lo, hi)
            }
            (Stored::Figure(name, _), Some(Portion::Band(above, upto))) => {
                let (lo, hi) = self.run_above(row, name, Bend { above, upto: Some(upto) });
                estimates(lo, hi)
            }
            (Stored::Figure(name, cut), Some(Portion::Depths(least, most))) => {
                let (lo, hi) = between_depths(row, (least, most), self.run_figure(row, name, cut));
                estimates(lo, hi)
            }
            (Stored::Figure(name, cut), None) => {
                let (lo, hi) = self.run_figure(row, name, cut);
                estimates(lo, hi)
            }
            (Stored::Worst(places), _) => {
                let places = figures_at(places).map(|(name, cut)| self.run_figure(row, name, cut));
                let worst =
                    |list: Vec<Sql>| sql!["max(", Sql::list(list.into_iter().map(Part::from)), ")"];
                let lo = worst(places.iter().map(|p| p.0.clone()).collect());
                let hi = worst(places.iter().map(|p| p.1.clone()).collect());
                estimates(lo, hi)
            }
            (Stored::Top | Stored::Bottom, _) => {
                let (top, bottom) = (row.own("top_depth"), row.own("bottom_depth"));
                let deep = field.stored == Stored::Bottom;
                let own = if deep { &bottom } else { &top };
                let Some(cut) = cuts_run(row) else { return Span::exact(own.clone(), quanta) };
                let either =
                    |whole: &Sql| sql!["CASE WHEN ", &cut, " THEN ", whole, " ELSE ", own, " END"];
                if deep {
                    Span { lo: either(&top), hi: bottom, quanta }
                } else {
                    Span { lo: top.clone(), hi: either(&bottom), quanta }
                }
            }
            _ => Span::exact(self.plain(field, &|table, name| row.col(table, name)), quanta),
        }
    }

    /// A field that is one column, or is made of columns of one row.
    pub(super) fn plain(
        &self,
        field: &Field,
        col: &dyn Fn(super::super::registry::Table, &'static str) -> Sql,
    ) -> Sql {
        match field.stored {
            Stored::Column(c) => col(c.table, c.name),
            Stored::Present(c) => sql!["(", col(c.table, c.name), " IS NOT NULL)"],
            Stored::Missing(c) => sql!["(", col(c.table, c.name), " IS NULL)"],
            Stored::Rest(c) => sql!["(", WHOLE, " - ", col(c.table, c.name), ")"],
            Stored::Age(c) => sql!["(", self.now, " - ", col(c.table, c.name), ")"],
            Stored::Ratio(a, b) => sql![
                "CAST(round(",
                col(a.table, a.name),
                " * 1e9 / ",
                col(b.table, b.name),
                ") AS INTEGER)",
            ],
            // Counters and figures have bounds of their own.
            Stored::Counter { .. }
            | Stored::Between(..)
            | Stored::Figure(..)
            | Stored::Worst(_)
            | Stored::Top
            | Stored::Bottom => sql!["NULL"],
        }
    }

    /// A figure of a run, or of the part of it that lies in the window.
    fn run_figure(&self, row: &Row, name: &'static str, cut: Cut) -> (Sql, Sql) {
        if row.edges.start.is_none() && row.edges.end.is_none() {
            return (row.own(name), row.own(name));
        }
        match cut {
            Cut::Sums => self.part_sum(row, Sums::Column(name)),
            Cut::Largest(after) => self.part_largest(row, name, after),
        }
    }

    /// What a run's histogram tells above a dogleg. Without a known path of the hole there is no
    /// histogram, and all of the run may have been that sharp.
    fn run_above(&self, row: &Row, name: &'static str, bend: Bend) -> (Sql, Sql) {
        let what = if name == "hours" { Above::Hours } else { Above::Turns };
        let (sharpest, dogleg) = (row.own("max_dogleg"), bend.above);
        let (_, all) = self.run_figure(row, name, Cut::Sums);
        let (lo, hi) = if row.edges.start.is_none() && row.edges.end.is_none() {
            let whole = Sums::Above(what, bend).of(&sql![row.alias], row);
            (whole.clone(), whole)
        } else {
            self.part_sum(row, Sums::Above(what, bend))
        };
        (
            sql!["CASE WHEN ", &sharpest, " > ", dogleg, " THEN ", lo, " ELSE 0 END"],
            sql![
                "CASE WHEN ",
                &sharpest,
                " <= ",
                dogleg,
                " THEN 0 WHEN ",
                &sharpest,
                " > ",
                dogleg,
                " THEN ",
                hi,
                " ELSE ",
                all,
                " END",
            ],
        )
    }

    /// A figure that adds up, in the part of a run that lies in the window.
    fn part_sum(&self, row: &Row, figure: Sums) -> (Sql, Sql) {
        let whole = figure.of(&sql![row.alias], row);
        // What lies before a cut, when the part was not worked out: none of the run, or all.
        let before = |cut: &Sql, parts: Parts, otherwise: &Sql| {
            sql![
                "CASE WHEN ",
                cut,
                " <= ",
                row.own("start"),
                " THEN 0 WHEN ",
                cut,
                " >= ",
                row.own("finish"),
                " THEN ",
                &whole,
                " ELSE coalesce(",
                part(row, cut, parts, &|p| figure.of(p, row)),
                ", ",
                otherwise,
                ") END",
            ]
        };
        let none = sql!["0"];
        let inside = |end: Sql, start: Option<Sql>| match start {
            Some(start) => sql!["max(0, ", end, " - ", start, ")"],
            None => end,
        };
        let start = row.edges.start.as_ref().zip(row.edges.parts);
        let end = row.edges.end.as_ref();
        let (end_lo, end_hi) = match end {
            Some(end) => {
                (before(&end.first, end.parts, &none), before(&end.last, end.parts, &whole))
            }
            None => (whole.clone(), whole.clone()),
        };
        let lo = inside(end_lo, start.map(|((_, latest), parts)| before(latest, parts, &whole)));
        let hi = inside(end_hi, start.map(|((earliest, _), parts)| before(earliest, parts, &none)));
        let (somewhere_lo, somewhere_hi) = untimed(row, figure, &whole);
        let either = |somewhere: Sql, timed: Sql| {
            sql![
                "CASE WHEN (",
                row.own("flags"),
                " & ",
                UNTIMED,
                ") <> 0 THEN ",
                somewhere,
                " ELSE ",
                timed,
                " END",
            ]
        };
        (either(somewhere_lo, lo), either(somewhere_hi, hi))
    }

    /// The largest value, in the part of a run that lies in the window.
    fn part_largest(&self, row: &Row, name: &'static str, after: &'static str) -> (Sql, Sql) {
        let whole = row.own(name);
        let (begin, finish) = (row.own("start"), row.own("finish"));
        let bound = |start: Option<&Sql>, end: Option<(&Sql, Parts)>, otherwise: &Sql| {
            // Whether the window leaves the beginning and the end of the run alone.
            let begun = start.map(|s| sql![s, " <= ", &begin]);
            let ended = end.map(|(e, _)| sql![e, " >= ", &finish]);
            let before_end = end.map(|(e, parts)| {
                sql![
                    "coalesce(",
                    part(row, e, parts, &|p| sql![p, ".", name]),
                    ", ",
                    otherwise,
                    ")"
                ]
            });
            let after_start = start.zip(row.edges.parts).map(|(s, parts)| {
                sql![
                    "coalesce(",
                    part(row, s, parts, &|p| sql![p, ".", after]),
                    ", ",
                    otherwise,
                    ")"
                ]
            });
            match (begun, ended, before_end, after_start) {
                (Some(begun), Some(ended), Some(before_end), Some(after_start)) => sql![
                    "CASE WHEN ",
                    &begun,
                    " AND ",
                    &ended,
                    " THEN ",
                    &whole,
                    " WHEN ",
                    &begun,
                    " THEN ",
                    before_end,
                    " WHEN ",
                    &ended,
                    " THEN ",
                    after_start,
                    " ELSE ",
                    otherwise,
                    " END",
                ],
                (Some(begun), _, _, Some(after_start)) => {
                    sql!["CASE WHEN ", begun, " THEN ", &whole, " ELSE ", after_start, " END"]
                }
                (_, Some(ended), Some(before_end), _) => {
                    sql!["CASE WHEN ", ended, " THEN ", &whole, " ELSE ", before_end, " END"]
                }
                _ => whole.clone(),
            }
        };
        let (start, end) = (row.edges.start.as_ref(), row.edges.end.as_ref());
        (
            bound(start.map(|s| &s.1), end.map(|e| (&e.first, e.parts)), &sql!["0"]),
            bound(start.map(|s| &s.0), end.map(|e| (&e.last, e.parts)), &whole),
        )
    }
}

/// What a joint did between two depths, of what it did in all: all of it where it turned only there,
/// nothing where it never did. When it was at which depth is not kept.
fn between_depths(row: &Row, (least, most): (i64, i64), (lo, hi): (Sql, Sql)) -> (Sql, Sql) {
    let (top, bottom) = (row.own("top_depth"), row.own("bottom_depth"));
    let only_there = sql![&top, " >= ", least, " AND ", &bottom, " <= ", most];
    let never_there = sql![bottom, " < ", least, " OR ", top, " > ", most];
    (
        sql!["CASE WHEN ", only_there, " THEN ", lo, " ELSE 0 END"],
        sql!["CASE WHEN ", never_there, " THEN 0 ELSE ", hi, " END"],
    )
}

/// What a part of a run holds of a figure of which nobody knows when in the run it was: what the clock
/// leaves room for.
fn untimed(row: &Row, figure: Sums, whole: &Sql) -> (Sql, Sql) {
    let (begin, finish) = (row.own("start"), row.own("finish"));
    let long = sql!["(", &finish, " - ", &begin, ")"];
    let cut = |end: &Sql| sql!["min(", end, ", ", &finish, ")"];
    let (least_end, most_end) = match &row.edges.end {
        Some(end) => (cut(&end.first), cut(&end.last)),
        None => (finish.clone(), finish.clone()),
    };
    let between =
        |start: &Sql, end: &Sql| sql!["max(0, ", end, " - max(", start, ", ", &begin, "))"];
    let (earliest, latest) =
        row.edges.start.clone().unwrap_or_else(|| (begin.clone(), begin.clone()));
    let (most_time, least_time) = (between(&earliest, &most_end), between(&latest, &least_end));
    let all = sql![&least_time, " = ", &long];
    let none = sql!["(", &most_time, " = 0 AND ", &long, " > 0)"];
    let plain = (
        sql!["CASE WHEN ", &all, " THEN ", whole, " ELSE 0 END"],
        sql!["CASE WHEN ", &none, " THEN 0 ELSE ", whole, " END"],
    );
    let hours = |h: &Sql| {
        (
            sql!["max(0, ", h, " - ", &long, " + ", &least_time, ")"],
            sql!["min(", h, ", ", &most_time, ")"],
        )
    };
    let if_so = |cond: Sql, value: Sql, otherwise: Sql| {
        sql![
            "CASE WHEN ",
            whole,
            " IS NULL THEN NULL WHEN ",
            cond,
            " THEN ",
            value,
            " ELSE ",
            otherwise,
            " END"
        ]
    };
    match figure {
        Sums::Column("hours" | "cased_hours") | Sums::Above(Above::Hours, _) => {
            let (lo, hi) = hours(whole);
            // Else the run says more hours than it is long.
            let fits = sql![whole, " <= ", long];
            (if_so(fits.clone(), lo, plain.0), if_so(fits, hi, plain.1))
        }
        // A summary tells one speed.
        Sums::Column("revolutions") => {
            let own = row.own("hours");
            let (lo, hi) = hours(&own);
            let exact = |part: Sql| sql!["((", whole, " * 1.0) * ", part, " / ", &own, ")"];
            let share = |part: Sql| sql!["CAST(", exact(part), " AS INTEGER)"];
            let up = |part: Sql| {
                let down = share(part.clone());
                sql!["(", &down, " + (", exact(part), " > ", down, "))"]
            };
            let cut =
                sql![&own, " > 0 AND ", &own, " <= ", long, " AND NOT (", all, ") AND NOT ", none];
            (
                if_so(cut.clone(), share(lo), plain.0),
                if_so(cut, sql!["min(", whole, ", ", up(hi), ")"], plain.1),
            )
        }
        Sums::Column(_) | Sums::Above(Above::Turns, _) => {
            let known = sql!["0"];
            (if_so(known.clone(), sql!["0"], plain.0), if_so(known, sql!["0"], plain.1))
        }
    }
}

/// A value of the part of a run before a cut, NULL when it was not worked out.
fn part(row: &Row, cut: &Sql, parts: Parts, value: &dyn Fn(&Sql) -> Sql) -> Sql {
    let from = |table: &'static str| {
        sql![
            "(SELECT ",
            value(&sql!["p"]),
            " FROM ",
            table,
            " p WHERE p.joint = ",
            row.own("joint"),
            " AND p.run = ",
            row.own("run"),
            " AND p.cut = ",
            cut,
            ")",
        ]
    };
    match parts {
        Parts::Run => from("run_part"),
        Parts::Window => from("window_part"),
        Parts::Both => sql!["coalesce(", from("run_part"), ", ", from("window_part"), ")"],
    }
}

/// Whether the window may cut the run.
fn cuts_run(row: &Row) -> Option<Sql> {
    let start = row.edges.start.as_ref().map(|(_, latest)| sql![latest, " > ", row.own("start")]);
    let end = row.edges.end.as_ref().map(|e| sql![&e.first, " < ", row.own("finish")]);
    match (start, end) {
        (Some(s), Some(e)) => Some(sql!["(", s, " OR ", e, ")"]),
        (Some(one), None) | (None, Some(one)) => Some(one),
        (None, None) => None,
    }
}
