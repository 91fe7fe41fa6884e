//! Windows over one joint's rows: where they may begin, what lies in them, what is missing.

use super::super::facts::{Line, cell, int};
use super::super::registry::{Record, Table};
use super::super::typed::{Anchor, Records, Window};
use super::super::walk::is_of_the_book;
use super::{Eval, Row, Verdict};

/// Limits of a window.
#[derive(Clone, Debug, Default)]
pub(in super::super) struct Edges {
    /// The date that it begins at.
    pub(in super::super) from: Option<i64>,
    /// The instant before which it ends.
    pub(in super::super) until: Option<i64>,
    /// Each record that it begins at.
    pub(in super::super) anchors: Vec<Begin>,
}

/// The record that a window begins at.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Begin {
    /// The earliest and the latest instant at which it may be.
    first: i64,
    last: i64,
    /// Its turn among the joint's facts of that instant; before them all where no record is there.
    first_turn: i64,
    last_turn: i64,
}

impl Edges {
    /// Earliest and latest instant at which it may begin.
    pub(super) fn start(&self) -> Option<(i64, i64)> {
        let firsts = self.anchors.iter().map(|a| a.first).chain(self.from);
        let lasts = self.anchors.iter().map(|a| a.last).chain(self.from);
        Some((firsts.max()?, lasts.max()?))
    }

    /// Where parts of runs before the start are kept.
    pub(super) const fn start_tables(&self) -> &'static [Table] {
        match (self.anchors.is_empty(), self.from) {
            (true, _) => &[Table::WindowPart],
            (false, None) => &[Table::RunPart],
            (false, Some(_)) => &[Table::RunPart, Table::WindowPart],
        }
    }
}

/// A record that may be the one that a window begins at.
struct Found {
    at: i64,
    turn: i64,
    /// It is one for certain.
    sure: bool,
}

/// A record and whether it counts.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Member<'f> {
    pub(in super::super) line: &'f Line,
    /// Whether it lies in the window and stands.
    pub(in super::super) inside: Verdict,
    /// Whether it meets the condition.
    pub(in super::super) passes: Verdict,
}

impl Member<'_> {
    pub(in super::super) fn instant(&self, record: Record) -> i64 {
        instant(record, self.line)
    }
}

/// When a record was; a run when it ended.
pub(in super::super) fn instant(record: Record, line: &Line) -> i64 {
    let column = if record == Record::Run { "finish" } else { "date" };
    int(cell(record.table(), line, column)).unwrap_or(0)
}

impl<'f> Eval<'f> {
    pub(in super::super) fn edges(&self, window: &Window) -> Edges {
        Edges {
            from: window.from,
            until: window.until,
            anchors: window.anchors.iter().map(|a| self.begin(a, window.until)).collect(),
        }
    }

    /// Gaps that begin before an instant, as (since, until), cut off there.
    fn gaps_before(&self, until: Option<i64>) -> Vec<(i64, i64)> {
        self.gaps()
            .into_iter()
            .filter(|(since, _)| until.is_none_or(|u| *since < u))
            .map(|(since, end)| (since, until.map_or(end, |u| end.min(u))))
            .collect()
    }

    /// Gaps as (since, until); one without a beginning has always been.
    fn gaps(&self) -> Vec<(i64, i64)> {
        self.facts
            .lines(Table::Gap)
            .iter()
            .map(|g| {
                let at = |c| int(cell(Table::Gap, g, c));
                (at("since").unwrap_or(i64::MIN), at("until").unwrap_or(i64::MAX))
            })
            .collect()
    }

    /// Where a window may begin at a record, with the turns of the records there.
    fn begin(&self, anchor: &Anchor, until: Option<i64>) -> Begin {
        let found = self.anchor_records(anchor, until);
        let (first, last) = self.anchor(anchor, until, &found);
        let turns = |at: i64, certain: bool| {
            let there = found.iter().filter(move |f| f.at == at && (f.sure || !certain));
            there.map(|f| f.turn)
        };
        let entered = int(self.facts.joint("entered")).unwrap_or(0);
        let (first_turn, last_turn) = if anchor.latest {
            (turns(first, true).max(), turns(last, false).max())
        } else if found.iter().any(|f| f.sure) {
            (turns(first, false).min(), turns(last, true).min())
        } else {
            let first_turn = turns(first, false).min().filter(|_| first != entered);
            (first_turn, turns(last, false).max())
        };
        Begin {
            first,
            last,
            first_turn: first_turn.unwrap_or(-1),
            last_turn: last_turn.unwrap_or(-1),
        }
    }

    /// The records that may be the one that a window begins at.
    fn anchor_records(&self, anchor: &Anchor, until: Option<i64>) -> Vec<Found> {
        let (record, table) = (anchor.record, anchor.record.table());
        let everything = Edges::default();
        let book = is_of_the_book(anchor.condition.as_deref());
        let mut found = Vec::new();
        for line in self.facts.lines(table) {
            let column = match (record, anchor.latest) {
                (Record::Run, true) => "finish",
                (Record::Run, false) => "start",
                _ => "date",
            };
            let Some(at) = int(cell(table, line, column)) else { continue };
            if until.is_some_and(|u| at >= u) {
                continue;
            }
            let row = Row { line, edges: &everything };
            let passes =
                anchor.condition.as_ref().map_or(Verdict::True, |c| self.truth(c, Some(row)));
            let verdict = passes.and(self.stands(record, line, book));
            // Runs are the last of an instant.
            let turn = match record {
                Record::Run => i64::MAX,
                _ => int(cell(table, line, "turn")).unwrap_or(0),
            };
            if verdict != Verdict::False {
                found.push(Found { at, turn, sure: verdict == Verdict::True });
            }
        }
        found
    }

    /// Earliest and latest instant of the record that a window begins at.
    fn anchor(&self, anchor: &Anchor, until: Option<i64>, found: &[Found]) -> (i64, i64) {
        let entered = int(self.facts.joint("entered")).unwrap_or(0);
        let used = self.gaps().iter().any(|(since, _)| *since == i64::MIN);
        let gaps = self.gaps_before(until);
        let instants =
            |certain: bool| found.iter().filter(move |f| f.sure || !certain).map(|f| f.at);
        let (sure, perhaps): (Vec<i64>, Vec<i64>) =
            (instants(true).collect(), instants(false).collect());
        if anchor.latest {
            // The last for certain is the earliest that the window can begin; what may be such a
            // record later on, seen or not, can only move it on.
            let earliest = match sure.iter().max() {
                Some(at) => *at,
                None if used => i64::MIN,
                None => entered,
            };
            let seen = perhaps.iter().copied().max().unwrap_or(entered);
            let unseen = gaps.iter().map(|(_, end)| *end).max().unwrap_or(i64::MIN);
            (earliest, seen.max(unseen))
        } else {
            let first = sure.iter().copied().min();
            let earliest = first
                .unwrap_or(entered)
                .min(perhaps.iter().copied().min().unwrap_or(i64::MAX))
                .min(gaps.iter().map(|(since, _)| *since).min().unwrap_or(i64::MAX));
            let latest = first.unwrap_or_else(|| {
                let seen = perhaps.iter().copied().max().unwrap_or(i64::MIN);
                let unseen = gaps.iter().map(|(_, end)| *end).max().unwrap_or(i64::MIN);
                entered.max(seen).max(unseen)
            });
            (earliest, latest)
        }
    }

    /// Whether a record stands: one that excludes another fact may or may not. A question to the
    /// book is asked of what is written.
    fn stands(&self, record: Record, line: &Line, book: bool) -> Verdict {
        let get = |column| int(cell(record.table(), line, column));
        let in_doubt = match record {
            _ if book || !record.may_conflict() => false,
            Record::Run => get("conflicting") == Some(1),
            // Those of a pattern fall with their run.
            Record::Makeup => get("pattern_run").is_some_and(|run| {
                let runs = self.facts.lines(Table::JointRun).iter();
                let at = |l, c| int(cell(Table::JointRun, l, c));
                runs.filter(|l| at(l, "run") == Some(run)).any(|l| at(l, "conflicting") == Some(1))
            }),
            _ => {
                let back = if record == Record::Hire { get("back_entry") } else { None };
                let own = [get("entry"), back];
                self.facts.lines(Table::Conflict).iter().any(|c| {
                    ["first_entry", "second_entry"].into_iter().any(|side| {
                        let side = int(cell(Table::Conflict, c, side));
                        side.is_some() && own.contains(&side)
                    })
                })
            }
        };
        if in_doubt { Verdict::Unknown } else { Verdict::True }
    }

    /// The joint's records of a kind, oldest first, with what is known of each.
    pub(in super::super) fn members(&self, of: &Records, edges: &Edges) -> Vec<Member<'f>> {
        let book = is_of_the_book(of.condition.as_deref());
        let mut members: Vec<Member<'f>> = self
            .facts
            .lines(of.record.table())
            .iter()
            .map(|line| {
                let inside =
                    self.lies(of.record, line, edges).and(self.stands(of.record, line, book));
                let row = Row { line, edges };
                let passes = match &of.condition {
                    Some(condition) if inside != Verdict::False => self.truth(condition, Some(row)),
                    Some(_) => Verdict::Unknown,
                    None => Verdict::True,
                };
                Member { line, inside, passes }
            })
            .collect();
        members.sort_by(|a, b| order(of.record, a.line, b.line));
        members
    }

    /// Whether a record lies in a window.
    fn lies(&self, record: Record, line: &Line, edges: &Edges) -> Verdict {
        let at = |c| int(cell(record.table(), line, c)).unwrap_or(0);
        // Whether the record follows a beginning, and precedes the end.
        let mut verdict = Verdict::True;
        if record == Record::Run {
            let (start, finish) = (at("start"), at("finish"));
            // A run that ends where the window begins lies before it, unless it took no time.
            let ends_after = |begin: i64| finish > begin || start == finish && start >= begin;
            if let Some(from) = edges.from {
                verdict = verdict.and(Verdict::of(ends_after(from)));
            }
            if let Some(until) = edges.until {
                verdict = verdict.and(Verdict::of(start < until));
            }
            for begin in &edges.anchors {
                let fits =
                    |begin: i64| ends_after(begin) && edges.until.is_none_or(|until| begin < until);
                verdict = verdict.and(between(fits(begin.first), fits(begin.last)));
            }
        } else {
            let (at, turn) = (at("date"), at("turn"));
            if let Some(from) = edges.from {
                verdict = verdict.and(Verdict::of(at >= from));
            }
            if let Some(until) = edges.until {
                verdict = verdict.and(Verdict::of(at < until));
            }
            // At one instant, what comes later in the order of facts is since.
            let place = (at, turn);
            for begin in &edges.anchors {
                verdict = verdict.and(between(
                    place > (begin.first, begin.first_turn),
                    place > (begin.last, begin.last_turn),
                ));
            }
        }
        verdict
    }

    fn gap_inside(&self, edges: &Edges, (since, until): (i64, i64)) -> bool {
        let begins = edges.start().is_none_or(|(first, _)| until > first);
        let ends = edges.until.is_none_or(|end| since < end);
        let sense = edges.anchors.is_empty()
            || match (edges.start(), edges.until) {
                (Some((first, _)), Some(end)) => first < end,
                _ => true,
            };
        begins && ends && sense
    }

    /// The gaps of a window, as (since, until).
    pub(in super::super) fn gaps_in(&self, edges: &Edges) -> Vec<(i64, i64)> {
        self.gaps().into_iter().filter(|gap| self.gap_inside(edges, *gap)).collect()
    }

    /// Whether nothing that could lie in a window is unknown.
    pub(in super::super) fn is_complete(&self, edges: &Edges) -> bool {
        !self.gaps().into_iter().any(|gap| self.gap_inside(edges, gap))
    }

    /// Whether nothing unknown lies after (or before) an instant of a window.
    pub(super) fn nothing_beyond(&self, edges: &Edges, at: i64, after: bool) -> bool {
        !self.gaps().into_iter().any(|gap| {
            let beyond = if after { gap.1 > at } else { gap.0 < at };
            beyond && self.gap_inside(edges, gap)
        })
    }
}

/// True wherever the beginning is, false wherever it is, or neither.
fn between(at_first: bool, at_last: bool) -> Verdict {
    match (at_first, at_last) {
        (true, true) => Verdict::True,
        (false, false) => Verdict::False,
        _ => Verdict::Unknown,
    }
}

/// Order of two records of a kind in a joint's life.
fn order(record: Record, a: &Line, b: &Line) -> std::cmp::Ordering {
    use crate::schema::Value;
    for column in record.key() {
        let pair = (cell(record.table(), a, column), cell(record.table(), b, column));
        let step = match pair {
            (Value::Int(x), Value::Int(y)) => x.cmp(y),
            (Value::Text(x), Value::Text(y)) => x.cmp(y),
            _ => std::cmp::Ordering::Equal,
        };
        if step.is_ne() {
            return step;
        }
    }
    std::cmp::Ordering::Equal
}
