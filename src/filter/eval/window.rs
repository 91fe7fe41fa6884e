//! Windows over one joint's rows: where they may begin, what lies in them, what is missing.

use super::super::facts::{Line, cell, int};
use super::super::registry::{Record, Table};
use super::super::typed::{Anchor, Records, Window};
use super::{Eval, Row, Verdict};

/// Where a window begins that begins with the joint: whatever is told of it lies in it.
const NEVER_BEGAN: i64 = i64::MIN;
const NEVER_ENDS: i64 = i64::MAX;

/// Limits of a window.
#[derive(Clone, Debug, Default)]
pub(in super::super) struct Edges {
    /// The date that it begins at.
    pub(in super::super) from: Option<i64>,
    /// The instant before which it ends.
    pub(in super::super) until: Option<i64>,
    /// For each record that it begins at: the kind, the earliest and the latest instant.
    pub(in super::super) anchors: Vec<(Record, i64, i64)>,
}

impl Edges {
    /// Earliest and latest instant at which it may begin.
    pub(super) fn start(&self) -> Option<(i64, i64)> {
        let firsts = self.anchors.iter().map(|a| a.1).chain(self.from);
        let lasts = self.anchors.iter().map(|a| a.2).chain(self.from);
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

    /// Before which, or after which, another record would be an earlier or a later one: no run can
    /// have been before another that had begun.
    pub(super) fn edge(&self, record: Record, latest: bool) -> i64 {
        match record {
            Record::Run if !latest => int(cell(Table::JointRun, self.line, "start")).unwrap_or(0),
            _ => self.instant(record),
        }
    }
}

/// When a record was; a run when it ended.
pub(in super::super) fn instant(record: Record, line: &Line) -> i64 {
    let column = if record == Record::Run { "finish" } else { "date" };
    int(cell(record.table(), line, column)).unwrap_or(0)
}

impl<'f> Eval<'f> {
    /// Between which limits a window lies, wherever it may begin.
    pub(in super::super) fn edges(&self, window: &Window) -> Edges {
        let anchors = window.anchors.iter().filter_map(|a| {
            let begins = self.begins(a, window.as_of);
            let first = begins.iter().map(|b| b.0).min()?;
            let last = begins.iter().map(|b| b.1).max()?;
            Some((a.record, first, last))
        });
        Edges { from: window.from, until: window.until, anchors: anchors.collect() }
    }

    /// The window for each of the records that it may begin at. One that nobody saw may have been
    /// anywhere in a gap: there, the limits of its beginning differ.
    pub(in super::super) fn beginnings(&self, window: &Window) -> Vec<Edges> {
        let mut all = vec![Edges { from: window.from, until: window.until, anchors: Vec::new() }];
        for anchor in &window.anchors {
            let begins = self.begins(anchor, window.as_of);
            let with = |edges: &Edges, (first, last): (i64, i64)| {
                let mut edges = edges.clone();
                edges.anchors.push((anchor.record, first, last));
                edges
            };
            all = all.iter().flat_map(|e| begins.iter().map(|b| with(e, *b))).collect();
        }
        all
    }

    /// Whether there never was a record at which the window begins, for certain: then it began with
    /// the joint.
    pub(in super::super) fn never_was(&self, anchor: &Anchor, before: Option<i64>) -> bool {
        self.begins(anchor, before) == [(NEVER_BEGAN, NEVER_BEGAN)]
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

    /// Instants at which a window that begins at a record may begin, as (earliest, latest): at each
    /// record that may be the one, or in a gap. Where there may be none, it begins with the joint.
    fn begins(&self, anchor: &Anchor, before: Option<i64>) -> Vec<(i64, i64)> {
        let everything = Edges::default();
        let column = if anchor.record == Record::Run { "finish" } else { "date" };
        let (mut sure, mut perhaps) = (Vec::new(), Vec::new());
        for line in self.facts.lines(anchor.record.table()) {
            let Some(at) = int(cell(anchor.record.table(), line, column)) else { continue };
            if before.is_some_and(|b| at >= b) {
                continue;
            }
            let row = Row { line, edges: &everything };
            let passes =
                anchor.condition.as_ref().map_or(Verdict::True, |c| self.truth(c, Some(row)));
            match passes.and(self.stands(anchor.record, line)) {
                Verdict::True => sure.push(at),
                Verdict::Unknown => perhaps.push(at),
                Verdict::False => {}
            }
        }
        let gaps = self
            .gaps()
            .into_iter()
            .filter(|(since, _)| before.is_none_or(|b| *since < b))
            .map(|(since, end)| (since, before.map_or(end, |b| end.min(b))));
        let point = |at: i64| (at, at);
        let mut out = Vec::new();
        if anchor.latest {
            let known = sure.into_iter().max().unwrap_or(NEVER_BEGAN);
            out.push(point(known));
            out.extend(perhaps.into_iter().filter(|at| *at > known).map(point));
            let later = gaps.filter(|(_, end)| *end > known);
            out.extend(later.map(|(since, end)| (since.max(known), end - 1)));
        } else {
            let known = sure.into_iter().min();
            let end = known.unwrap_or(NEVER_ENDS);
            out.push(point(known.unwrap_or(NEVER_BEGAN)));
            out.extend(perhaps.into_iter().filter(|at| *at < end).map(point));
            let sooner = gaps.filter(|(since, _)| *since < end);
            out.extend(sooner.map(|(since, until)| (since, end.min(until - 1))));
        }
        out
    }

    /// Whether a record stands: a run in conflict may or may not.
    fn stands(&self, record: Record, line: &Line) -> Verdict {
        let conflict = record == Record::Run
            && int(cell(Table::JointRun, line, "conflicting")).is_some_and(|c| c != 0);
        if conflict { Verdict::Unknown } else { Verdict::True }
    }

    /// The joint's records of a kind, oldest first, with what is known of each.
    pub(in super::super) fn members(&self, of: &Records, edges: &Edges) -> Vec<Member<'f>> {
        let mut members: Vec<Member<'f>> = self
            .facts
            .lines(of.record.table())
            .iter()
            .map(|line| {
                let inside = self.lies(of.record, line, edges).and(self.stands(of.record, line));
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
            for (_, first, last) in &edges.anchors {
                let fits =
                    |begin: i64| ends_after(begin) && edges.until.is_none_or(|until| begin < until);
                verdict = verdict.and(between(fits(*first), fits(*last)));
            }
        } else {
            let at = at("date");
            if let Some(from) = edges.from {
                verdict = verdict.and(Verdict::of(at >= from));
            }
            if let Some(until) = edges.until {
                verdict = verdict.and(Verdict::of(at < until));
            }
            for (kind, first, last) in &edges.anchors {
                let after = |begin: i64| {
                    if record.rank() > kind.rank() { at >= begin } else { at > begin }
                };
                verdict = verdict.and(between(after(*first), after(*last)));
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

    /// Whether nothing that could lie in a window is unknown, but for what was before the joint came into
    /// the book.
    pub(super) fn is_complete_since_entry(&self, edges: &Edges) -> bool {
        let gaps = self.gaps().into_iter().filter(|gap| gap.0 != i64::MIN);
        !gaps.into_iter().any(|gap| self.gap_inside(edges, gap))
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
