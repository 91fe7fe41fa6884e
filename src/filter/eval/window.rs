//! Windows over one joint's rows: where they may begin, what lies in them, what is missing.

use super::super::ast::Which;
use super::super::facts::{Line, cell, int};
use super::super::registry::{Record, Table};
use super::super::typed::{Anchor, Records, Window};
use super::super::walk::is_of_the_book;
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
    /// The record before which it ends.
    end: Option<Begin>,
    /// Each record that it begins at.
    pub(in super::super) anchors: Vec<Begin>,
}

/// A place in the joint's life: an instant, and a turn among the facts of it.
type Place = (i64, i64);

/// The record that a window begins at, or ends before: the earliest and the latest instant at which it may be, each
/// with its turn among the joint's facts there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in super::super) struct Begin {
    first: (i64, i64),
    last: (i64, i64),
}

impl Begin {
    const fn point(at: (i64, i64)) -> Self {
        Self { first: at, last: at }
    }
}

/// Turns before and after those of all facts of an instant.
const FIRST_TURN: i64 = -1;
const LAST_TURN: i64 = i64::MAX;

impl Edges {
    /// Earliest and latest instant at which it may begin.
    pub(super) fn start(&self) -> Option<(i64, i64)> {
        let firsts = self.anchors.iter().map(|a| a.first.0).chain(self.from);
        let lasts = self.anchors.iter().map(|a| a.last.0).chain(self.from);
        Some((firsts.max()?, lasts.max()?))
    }

    /// Earliest and latest instant before which it may end.
    pub(super) fn ends(&self) -> Option<(i64, i64)> {
        let at_record = self.end.map(|end| (end.first.0, end.last.0));
        self.until.map(|until| (until, until)).or(at_record)
    }

    /// Where parts of runs before the end are kept.
    pub(super) const fn end_tables(&self) -> &'static [Table] {
        if self.end.is_some() { &[Table::RunPart] } else { &[Table::WindowPart] }
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

    /// When it began and ended.
    pub(super) fn times(&self, record: Record) -> (i64, i64) {
        let at = |column| int(cell(record.table(), self.line, column)).unwrap_or(0);
        let (start, end) = record.span();
        (at(start), at(end))
    }

    /// Before which, or after which, another record would be an earlier or a later one: no run can
    /// have been before another that had begun.
    pub(super) fn edge(&self, record: Record, latest: bool) -> i64 {
        let (start, end) = self.times(record);
        if latest { end } else { start }
    }
}

/// When a record was; a run when it ended.
pub(in super::super) fn instant(record: Record, line: &Line) -> i64 {
    int(cell(record.table(), line, record.span().1)).unwrap_or(0)
}

impl<'f> Eval<'f> {
    /// Between which limits a window lies, wherever it may begin.
    pub(in super::super) fn edges(&self, window: &Window) -> Edges {
        let anchors = window.anchors.iter().filter_map(|a| {
            let begins = self.begins(a, window.as_of);
            let first = begins.iter().map(|b| b.first).min()?;
            let last = begins.iter().map(|b| b.last).max()?;
            Some(Begin { first, last })
        });
        let ends = window.before.iter().flat_map(|a| self.ends(a)).collect::<Vec<_>>();
        let end = ends.iter().map(|e| e.first).min().zip(ends.iter().map(|e| e.last).max());
        Edges {
            from: window.from,
            until: window.until,
            end: end.map(|(first, last)| Begin { first, last }),
            anchors: anchors.collect(),
        }
    }

    /// The window for each of the records that it may begin at. One that nobody saw may have been
    /// anywhere in a gap: there, the limits of its beginning differ.
    pub(in super::super) fn beginnings(&self, window: &Window) -> Vec<Edges> {
        if let Some(before) = &window.before {
            let with = |end| Edges { end: Some(end), ..Edges::default() };
            return self.ends(before).into_iter().map(with).collect();
        }
        let start = Edges { from: window.from, until: window.until, ..Edges::default() };
        let mut all = vec![start];
        for anchor in &window.anchors {
            let begins = self.begins(anchor, window.as_of);
            let with = |edges: &Edges, begin: Begin| {
                let mut edges = edges.clone();
                edges.anchors.push(begin);
                edges
            };
            all = all.iter().flat_map(|e| begins.iter().map(|b| with(e, *b))).collect();
        }
        all
    }

    /// Whether there never was a record at which the window begins, for certain: then it began with
    /// the joint.
    pub(in super::super) fn never_was(&self, anchor: &Anchor, before: Option<i64>) -> bool {
        self.begins(anchor, before) == [Begin::point((NEVER_BEGAN, FIRST_TURN))]
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

    /// Where a window that ends before a record may end: before each record that may be the one, or in
    /// a gap. Where there may be none, anywhere. A run is what is before when it begins.
    fn ends(&self, anchor: &Anchor) -> Vec<Begin> {
        let (sure, perhaps) = self.places_of(anchor, None, anchor.record.span().0);
        let Some(known) = utmost(anchor, sure) else {
            return vec![Begin { first: (NEVER_BEGAN, FIRST_TURN), last: (NEVER_ENDS, LAST_TURN) }];
        };
        let mut out = vec![Begin::point(known)];
        out.extend(beyond(anchor, (known, known.0), perhaps, self.gaps()));
        out
    }

    /// When the records of an anchor that ended at an instant had begun.
    fn begun(&self, anchor: &Anchor, end: i64) -> i64 {
        let (start, finish) = anchor.record.span();
        let table = anchor.record.table();
        let lines = self.facts.lines(table).iter();
        let ended = lines.filter(|line| int(cell(table, line, finish)) == Some(end));
        ended.filter_map(|line| int(cell(table, line, start))).max().unwrap_or(end)
    }

    /// The places in the joint's life of records that are an anchor, and of those that may be one;
    /// `column` tells when one was.
    fn places_of(
        &self,
        anchor: &Anchor,
        before: Option<i64>,
        column: &'static str,
    ) -> (Vec<Place>, Vec<Place>) {
        let everything = Edges::default();
        let book = is_of_the_book(anchor.condition.as_deref());
        let (mut sure, mut perhaps) = (Vec::new(), Vec::new());
        for line in self.facts.lines(anchor.record.table()) {
            let Some(at) = int(cell(anchor.record.table(), line, column)) else { continue };
            if before.is_some_and(|b| at >= b) {
                continue;
            }
            let row = Row { record: anchor.record, line, edges: &everything };
            let passes =
                anchor.condition.as_ref().map_or(Verdict::True, |c| self.truth(c, Some(row)));
            // Runs are the last of an instant.
            let turn = match anchor.record {
                Record::Run => LAST_TURN,
                record => int(cell(record.table(), line, "turn")).unwrap_or(0),
            };
            match passes.and(self.stands(anchor.record, line, book)) {
                Verdict::True => sure.push((at, turn)),
                Verdict::Unknown => perhaps.push((at, turn)),
                Verdict::False => {}
            }
        }
        (sure, perhaps)
    }

    /// Where a window that begins at a record may begin: at each record that may be the one, or in a
    /// gap. Where there may be none, it begins with the joint.
    fn begins(&self, anchor: &Anchor, before: Option<i64>) -> Vec<Begin> {
        let (sure, perhaps) = self.places_of(anchor, before, anchor.record.span().1);
        let gaps = self.gaps().into_iter();
        let gaps = gaps
            .filter(|(since, _)| before.is_none_or(|b| *since < b))
            .map(|(since, end)| (since, before.map_or(end, |b| end.min(b))));
        let known = utmost(anchor, sure);
        let none = if anchor.latest { NEVER_BEGAN } else { NEVER_ENDS };
        let mut out = vec![Begin::point(known.unwrap_or((NEVER_BEGAN, FIRST_TURN)))];
        let since = known.map_or(none, |known| self.begun(anchor, known.0));
        let known = known.unwrap_or((none, FIRST_TURN));
        out.extend(beyond(anchor, (known, since), perhaps, gaps.collect()));
        out
    }

    /// Whether a record stands: one that excludes another fact may or may not. A question to the
    /// book is asked of what is written.
    pub(super) fn stands(&self, record: Record, line: &Line, book: bool) -> Verdict {
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
                self.excludes_another(&[get("entry"), back])
            }
        };
        if in_doubt { Verdict::Unknown } else { Verdict::True }
    }

    /// Whether one of some entries says something of the joint that excludes another fact.
    pub(super) fn excludes_another(&self, entries: &[Option<i64>]) -> bool {
        self.facts.lines(Table::Conflict).iter().any(|c| {
            ["first_entry", "second_entry"].into_iter().any(|side| {
                let side = int(cell(Table::Conflict, c, side));
                side.is_some() && entries.contains(&side)
            })
        })
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
                let row = Row { record: of.record, line, edges };
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
            if let Some((first, last)) = edges.ends() {
                verdict = verdict.and(between(start < first, start < last));
            }
            for begin in &edges.anchors {
                let (first, (last, turn)) = (begin.first.0, begin.last);
                // What lies in a stretch that nobody saw was before the end of it.
                let before = turn == FIRST_TURN;
                let ends_after_last = ends_after(last) || before && finish == last;
                let until = edges.until.unwrap_or(NEVER_ENDS);
                let ends_later = last < until || before && last == until;
                verdict = verdict.and(between(
                    ends_after(first) && first < until,
                    ends_after_last && ends_later,
                ));
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
            if let Some(end) = &edges.end {
                verdict = verdict.and(between(place < end.first, place < end.last));
            }
            for begin in &edges.anchors {
                verdict = verdict.and(between(place > begin.first, place > begin.last));
            }
        }
        verdict
    }

    fn gap_inside(&self, edges: &Edges, (since, until): (i64, i64)) -> bool {
        let begins = edges.start().is_none_or(|(first, _)| until > first);
        let ends = edges.ends().is_none_or(|(_, last)| since < last);
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

    /// Whether something unseen may lie between two instants.
    pub(super) fn gap_between(&self, before: i64, after: i64) -> bool {
        self.gaps().into_iter().any(|(since, until)| until > before && since < after)
    }

    /// Whether nothing unknown lies after (or before) an instant of a window.
    pub(super) fn nothing_beyond(&self, edges: &Edges, at: i64, after: bool) -> bool {
        // A run that reaches over the limit of the window leaves nothing of it beyond.
        let some_left = if after {
            edges.until.is_none_or(|until| at < until)
                && edges.end.is_none_or(|end| at <= end.last.0)
        } else {
            edges.start().is_none_or(|(first, _)| first <= at)
        };
        !self.gaps().into_iter().any(|gap| {
            let beyond = if after { gap.1 > at } else { gap.0 < at };
            some_left && beyond && self.gap_inside(edges, gap)
        })
    }
}

/// The last of some places, or the first.
fn utmost(anchor: &Anchor, places: Vec<Place>) -> Option<Place> {
    let places = places.into_iter();
    if anchor.latest { places.max() } else { places.min() }
}

/// Where else than at a place an anchor may be: at each record beyond it that may be one, or in a gap.
/// A joint is in one run at a time: an unseen one was over before the one of that place began.
fn beyond(
    anchor: &Anchor,
    (known, begun): (Place, i64),
    perhaps: Vec<Place>,
    gaps: Vec<(i64, i64)>,
) -> impl Iterator<Item = Begin> {
    let latest = anchor.latest;
    let records = perhaps.into_iter();
    let records = records.filter(move |at| if latest { *at > known } else { *at < known });
    let in_gaps = gaps.into_iter().filter_map(move |(since, until)| {
        // In a stretch is before all facts of its end.
        let (overlaps, first, last) = if latest {
            (until > known.0, since.max(known.0), (until, FIRST_TURN))
        } else {
            (since < begun, since, (until, FIRST_TURN).min((begun, LAST_TURN)))
        };
        overlaps.then_some(Begin { first: (first, FIRST_TURN), last })
    });
    records.map(Begin::point).chain(in_gaps)
}

/// The records that may be the one that is meant, from the utmost inwards, up to the one that it
/// certainly is or lies beyond; that one, where there is one.
pub(in super::super) fn one_of<'f>(
    mut members: Vec<Member<'f>>,
    which: Which,
    counts: impl Fn(&Member<'f>) -> Verdict,
) -> (Vec<Member<'f>>, Option<Member<'f>>) {
    if which.from_the_end() {
        members.reverse();
    }
    // Of the one before the latest, some record must come later, and no more than one certainly does.
    let skipped = usize::from(which == Which::Previous);
    let (mut found, mut seen, mut sure) = (Vec::new(), 0, 0);
    for member in members {
        let verdict = counts(&member);
        if verdict == Verdict::False {
            continue;
        }
        if seen >= skipped {
            found.push(member);
        }
        seen += 1;
        if verdict == Verdict::True {
            sure += 1;
            if sure > skipped {
                return (found, Some(member));
            }
        }
    }
    (found, None)
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
