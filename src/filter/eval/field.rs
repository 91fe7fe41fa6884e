//! Fields of one joint's rows, and figures of runs that a window cuts.

use crate::model::Histogram;
use crate::projection::joint::{AT_LEAST, UNTIMED};
use crate::schema::{Value, taken_over_from};

use super::super::facts::{Line, cell, int};
use super::super::registry::{Above, Field, Kind, Part as Cut, Record, Stored, Table, figures_at};
use super::super::typed::{MS_PER_SECOND, Past, Portion, Read};
use super::{Bounds, Eval, Row, Verdict};

/// The whole of a ratio, in quanta.
const WHOLE: i64 = 1_000_000_000;

type Pair = (Option<i64>, Option<i64>);

impl Eval<'_> {
    /// A column of the row that a field belongs to.
    pub(super) fn column<'l>(
        &'l self,
        table: Table,
        name: &'static str,
        row: Option<Row<'l>>,
    ) -> &'l Value {
        match (table, row) {
            (Table::Joint, _) => self.facts.joint(name),
            (table, Some(row)) if self.came_from_doubt(table, name, row) => &Value::Null,
            (table, Some(row)) => cell(table, row.line, name),
            (_, None) => &Value::Null,
        }
    }

    /// Whether a row took a value over from an entry that excludes another fact.
    fn came_from_doubt(&self, table: Table, name: &str, row: Row<'_>) -> bool {
        let by = taken_over_from(table, name).map(|by| int(cell(table, row.line, by)));
        by.is_some_and(|by| self.excludes_another(&[by]))
    }

    /// The same of a field that is one column.
    pub(in super::super) fn is_taken_over_in_doubt(
        &self,
        read: &Read,
        row: Option<Row<'_>>,
    ) -> bool {
        let Stored::Column(c) = read.field.stored else { return false };
        row.is_some_and(|row| self.came_from_doubt(c.table, c.name, row))
    }

    pub(super) fn read(&self, read: &Read, row: Option<Row<'_>>) -> Bounds {
        let field = read.field;
        let quanta = match field.kind {
            Kind::Measure(m) => m.quanta_per_base(),
            _ => MS_PER_SECOND,
        };
        if read.past.is_some() {
            return Bounds::exact(self.plain_of(read, row), quanta);
        }
        let row = row.filter(|_| field.record.is_some());
        let (lo, hi) = match (field.stored, row) {
            (Stored::Between(lo, hi), _) => (int(self.facts.joint(lo)), int(self.facts.joint(hi))),
            (Stored::Figure(name, cut), Some(row)) => {
                let pair = match read.portion {
                    Some(Portion::Above(dogleg)) => self.run_above(row, name, dogleg, None),
                    Some(Portion::Band(least, most)) => {
                        self.run_above(row, name, least, Some(most))
                    }
                    Some(Portion::Depths(least, most)) => {
                        between_depths(row, (least, most), self.figure(row, name, cut))
                    }
                    None => self.figure(row, name, cut),
                };
                estimate(row, pair)
            }
            (Stored::Worst(places), Some(row)) => {
                let places = figures_at(places).map(|(name, cut)| self.figure(row, name, cut));
                let worst = |of: fn(&Pair) -> Option<i64>| {
                    places.iter().map(of).collect::<Option<Vec<i64>>>()?.into_iter().max()
                };
                estimate(row, (worst(|p| p.0), worst(|p| p.1)))
            }
            (Stored::Top | Stored::Bottom, Some(row)) => depth(row, field.stored == Stored::Top),
            _ => {
                let value = self.plain(field, row);
                (value, value)
            }
        };
        Bounds::Whole { lo, hi, quanta }
    }

    /// What is read as one number, flag or set, of today or of the past.
    pub(super) fn plain_of(&self, read: &Read, row: Option<Row<'_>>) -> Option<i64> {
        let field = read.field;
        let Some((states, past)) = field.past.zip(read.past) else {
            return self.plain(field, row.filter(|_| field.record.is_some()));
        };
        let state = self.state(states, past, row)?;
        self.plain_in(field, &|_, name| cell(states, state, name))
    }

    /// The state of the joint that was in force in the past.
    pub(super) fn state(&self, states: Table, past: Past, row: Option<Row<'_>>) -> Option<&Line> {
        let at = |l: &Line| int(cell(states, l, "at"));
        let until = match past {
            Past::Before(end) => end,
            // What a fact in conflict set is not known, and a state does not say which fact set it.
            Past::ThatTime if states == Table::Custody && self.custody_clashes() => return None,
            Past::ThatTime => {
                let row = row?;
                let (start, _) = row.record.span();
                int(cell(row.record.table(), row.line, start))?.saturating_add(1)
            }
        };
        let begun = self.facts.lines(states).iter().filter(|l| at(l).is_some_and(|at| at < until));
        begun.max_by_key(|l| at(l))
    }

    /// Whether a move or hire of the joint excludes another fact.
    fn custody_clashes(&self) -> bool {
        [Record::Move, Record::Hire].into_iter().any(|record| {
            let mut lines = self.facts.lines(record.table()).iter();
            lines.any(|line| self.stands(record, line, false) != Verdict::True)
        })
    }

    /// A field that is one number, flag or set of a row.
    pub(super) fn plain(&self, field: &Field, row: Option<Row<'_>>) -> Option<i64> {
        self.plain_in(field, &|table, name| self.column(table, name, row))
    }

    fn plain_in<'l>(
        &self,
        field: &Field,
        column: &dyn Fn(Table, &'static str) -> &'l Value,
    ) -> Option<i64> {
        let get = |table, name| int(column(table, name));
        match field.stored {
            Stored::Column(c) => get(c.table, c.name),
            Stored::Present(c) => Some(i64::from(*column(c.table, c.name) != Value::Null)),
            Stored::Missing(c) => Some(i64::from(*column(c.table, c.name) == Value::Null)),
            Stored::Rest(c) => get(c.table, c.name).map(|n| WHOLE - n),
            Stored::Age(c) => get(c.table, c.name).map(|at| self.now - at),
            Stored::Ratio(a, b) => {
                let (a, b) = (get(a.table, a.name)?, get(b.table, b.name)?);
                (b != 0).then(|| half_up(a as f64 * 1e9 / b as f64))
            }
            Stored::Counter { .. }
            | Stored::Between(..)
            | Stored::Figure(..)
            | Stored::Worst(_)
            | Stored::Top
            | Stored::Bottom => None,
        }
    }

    /// The part of a run before a cut, when it was worked out: for cuts at records with the book,
    /// for cuts at dates before the question.
    fn part(&self, row: Row<'_>, cut: i64, table: Table) -> Option<&Line> {
        let run = cell(Table::JointRun, row.line, "run");
        self.facts
            .lines(table)
            .iter()
            .find(|p| cell(table, p, "run") == run && *cell(table, p, "cut") == Value::Int(cut))
    }

    fn figure(&self, row: Row<'_>, name: &'static str, cut: Cut) -> Pair {
        let of = |table: Table, line: &Line| int(cell(table, line, name));
        match cut {
            Cut::Sums => self.sum_inside(row, room_of(name), &of),
            Cut::Largest(after) => self.largest_inside(row, name, after),
        }
    }

    /// What adds up over a run, for the part of it inside the window: what lies before the end
    /// less what lies before the start.
    fn sum_inside(
        &self,
        row: Row<'_>,
        room: Room,
        of: &dyn Fn(Table, &Line) -> Option<i64>,
    ) -> Pair {
        let whole = of(Table::JointRun, row.line);
        let (begin, finish) = times(row.line);
        if int(cell(Table::JointRun, row.line, "flags")).unwrap_or(0) & UNTIMED != 0 {
            return untimed(row, room, whole);
        }
        // Least and most that lies before an instant.
        let before = |cut: i64, tables: &[Table]| -> Pair {
            if cut <= begin {
                (Some(0), Some(0))
            } else if cut >= finish {
                (whole, whole)
            } else {
                let part = tables.iter().find_map(|table| of(*table, self.part(row, cut, *table)?));
                (part.or(Some(0)), part.or(whole))
            }
        };
        let until = row.edges.ends().map_or((whole, whole), |(first, last)| {
            let tables = row.edges.end_tables();
            (before(first, tables).0, before(last, tables).1)
        });
        let Some((earliest, latest)) = row.edges.start() else { return until };
        let less = |a: Option<i64>, b: Option<i64>| Some((a? - b?).max(0));
        let tables = row.edges.start_tables();
        (less(until.0, before(latest, tables).1), less(until.1, before(earliest, tables).0))
    }

    fn largest_inside(&self, row: Row<'_>, name: &'static str, after: &'static str) -> Pair {
        let whole = int(cell(Table::JointRun, row.line, name));
        let (begin, finish) = times(row.line);
        let bound = |start: Option<i64>, end: Option<i64>, otherwise: Option<i64>| {
            let ended = end.is_none_or(|end| end >= finish);
            let begun = start.is_none_or(|s| s <= begin);
            let of = |cut: Option<i64>, tables: &[Table], column| {
                tables
                    .iter()
                    .find_map(|table| int(cell(*table, self.part(row, cut?, *table)?, column)))
            };
            match (begun, ended) {
                (true, true) => whole,
                (true, false) => of(end, row.edges.end_tables(), name).or(otherwise),
                (false, true) => of(start, row.edges.start_tables(), after).or(otherwise),
                (false, false) => otherwise,
            }
        };
        let (start, end) = (row.edges.start(), row.edges.ends());
        (
            bound(start.map(|s| s.1), end.map(|e| e.0), Some(0)),
            bound(start.map(|s| s.0), end.map(|e| e.1), whole),
        )
    }

    /// What a run's histogram tells above a dogleg, and not above another, where there is one.
    fn run_above(&self, row: Row<'_>, name: &'static str, dogleg: i64, upto: Option<i64>) -> Pair {
        let what = if name == "hours" { Above::Hours } else { Above::Turns };
        let all = self.figure(row, name, Cut::Sums);
        let Some(sharpest) = int(cell(Table::JointRun, row.line, "max_dogleg")) else {
            return (Some(0), all.1);
        };
        if sharpest <= dogleg {
            return (Some(0), Some(0));
        }
        let room = if what == Above::Hours { Room::Clock } else { Room::None };
        // Above the sharpest bend of the run is nothing.
        let upto = upto.filter(|upto| sharpest > *upto);
        self.sum_inside(row, room, &|table, line| {
            let above = |dogleg| ask(cell(table, line, "histogram"), what, dogleg);
            Some(above(dogleg)? - upto.map_or(Some(0), above)?)
        })
    }
}

/// What a joint did between two depths, of what it did in all: all of it where it turned nowhere else,
/// nothing where it never was there.
fn between_depths(row: Row<'_>, (least, most): (i64, i64), (lo, hi): Pair) -> Pair {
    let at = |column| int(cell(Table::JointRun, row.line, column));
    let Some((top, bottom)) = at("top_depth").zip(at("bottom_depth")) else {
        return (Some(0), hi);
    };
    let inside = least <= top && bottom <= most;
    let apart = bottom < least || most < top;
    (if inside { lo } else { Some(0) }, if apart { Some(0) } else { hi })
}

/// How the clock limits what a part of a run can hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Room {
    /// It is time: no more than the part is long.
    Clock,
    /// It went with the hours: a summary tells one speed.
    WithHours,
    None,
}

fn room_of(figure: &str) -> Room {
    match figure {
        "hours" | "cased_hours" => Room::Clock,
        "revolutions" => Room::WithHours,
        _ => Room::None,
    }
}

/// What a part of a run holds of a figure of which nobody knows when in the run it was.
fn untimed(row: Row<'_>, room: Room, whole: Option<i64>) -> Pair {
    let Some(whole) = whole else { return (None, None) };
    let (begin, finish) = times(row.line);
    let long = finish - begin;
    let (least_end, most_end) = row
        .edges
        .ends()
        .map_or((finish, finish), |(a, b)| (a.clamp(begin, finish), b.clamp(begin, finish)));
    let between = |start: i64, end: i64| (end - start.max(begin)).max(0);
    let (earliest, latest) = row.edges.start().unwrap_or((begin, begin));
    let (most_time, least_time) = (between(earliest, most_end), between(latest, least_end));
    let all = least_time == long;
    let none = most_time == 0 && long > 0;
    let plain = (if all { whole } else { 0 }, if none { 0 } else { whole });
    // Least and most hours; none where the run says more of them than it is long.
    let hours = |h: i64| (h <= long).then(|| ((h - long + least_time).max(0), h.min(most_time)));
    let (lo, hi) = match room {
        Room::Clock => hours(whole).unwrap_or(plain),
        Room::WithHours => {
            let own = int(cell(Table::JointRun, row.line, "hours")).filter(|h| *h > 0);
            match own.and_then(|h| Some((h, hours(h)?))) {
                Some((h, (least, most))) if !all && !none => {
                    let exact = |part: i64| whole as f64 * part as f64 / h as f64;
                    #[expect(clippy::cast_possible_truncation, reason = "a part of a whole number")]
                    let share = |part: i64| exact(part) as i64;
                    let up = |part: i64| share(part) + i64::from(exact(part) > share(part) as f64);
                    (share(least), whole.min(up(most)))
                }
                _ => plain,
            }
        }
        Room::None => plain,
    };
    (Some(lo), Some(hi))
}

/// What a histogram tells above a dogleg.
pub(super) fn ask(histogram: &Value, what: Above, dogleg: i64) -> Option<i64> {
    let Value::Blob(bytes) = histogram else { return None };
    let histogram = Histogram::decode(bytes).ok()?;
    Some(match what {
        Above::Turns => histogram.turns_above(dogleg),
        Above::Hours => histogram.hours_above(dogleg),
    })
}

fn times(line: &Line) -> (i64, i64) {
    let at = |c| int(cell(Table::JointRun, line, c)).unwrap_or(0);
    (at("start"), at("finish"))
}

/// An estimate says how much there was at least.
fn estimate(row: Row<'_>, (lo, hi): Pair) -> Pair {
    let flags = int(cell(Table::JointRun, row.line, "flags")).unwrap_or(0);
    (lo, hi.filter(|_| flags & AT_LEAST == 0))
}

/// Depths that a joint turned between are known only for whole runs.
fn depth(row: Row<'_>, top: bool) -> Pair {
    let at = |c| int(cell(Table::JointRun, row.line, c));
    let (upper, lower) = (at("top_depth"), at("bottom_depth"));
    let (begin, finish) = times(row.line);
    let cut = row.edges.start().is_some_and(|(_, latest)| latest > begin)
        || row.edges.ends().is_some_and(|(first, _)| first < finish);
    match (cut, top) {
        (true, _) => (upper, lower),
        (false, true) => (upper, upper),
        (false, false) => (lower, lower),
    }
}

/// Rounds as SQLite's `round()` and cast do: halves away from zero.
fn half_up(x: f64) -> i64 {
    const EXACT: f64 = 4_503_599_627_370_496.0;
    let rounded = if x.abs() >= EXACT {
        x
    } else if x < 0.0 {
        (x - 0.5).trunc()
    } else {
        (x + 0.5).trunc()
    };
    #[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
    let whole = rounded as i64;
    whole
}
