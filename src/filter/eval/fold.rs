//! Records counted and folded, picked fields, and counters of the joint.

use crate::model::{End, Vocabulary};
use crate::schema::Value;

use super::super::ast::{Fold, Step};
use super::super::facts::{Line, cell, int};
use super::super::registry::{self, Kind, Over, PLACES, Part as Cut, Record, Stored, Table};
use super::super::typed::{Num, Pick, Read, Records, Total, Window, counts_up};
use super::window::Member;
use super::{Bounds, Edges, Eval, Row, Verdict, field};

type Pair = (Option<i64>, Option<i64>);

/// A record that counts or may count, with its value.
struct Term {
    sure: bool,
    lo: Option<i64>,
    hi: Option<i64>,
}

impl<'f> Eval<'f> {
    pub(in super::super) fn number(&self, num: &Num, row: Option<Row<'_>>) -> Bounds {
        match num {
            Num::Const(r) => Bounds::Written(*r),
            Num::Read(read) => self.read(read, row),
            Num::Total(total) => self.total(total),
            Num::Count(of) => self.count(of),
            Num::Fold { fold, read, of } => self.fold(*fold, read, of),
            Num::Pick(pick) => self.picked(pick),
            Num::Negative(inner) => self.number(inner, row).negated(),
            Num::Sum(terms) => {
                let terms: Vec<Bounds> = terms.iter().map(|t| self.number(t, row)).collect();
                Bounds::sum(&terms)
            }
            Num::Product(factors) => {
                let mut product = None;
                let mut up = true;
                for (step, factor) in factors {
                    let next = self.number(factor, row);
                    let both_up = up && factor.at_least_zero();
                    product = Some(match (product, step) {
                        (None, _) => {
                            let (lo, hi) = next.base();
                            Bounds::Float { lo, hi }
                        }
                        (Some(p), Step::Divide) => Bounds::over(p, next, both_up),
                        (Some(p), _) => Bounds::times(p, next, both_up),
                    });
                    up = both_up;
                }
                product.unwrap_or(Bounds::Float { lo: Some(1.0), hi: Some(1.0) })
            }
        }
    }

    fn count(&self, of: &Records) -> Bounds {
        let edges = self.edges(&of.window);
        let (mut lo, mut hi) = (0, 0);
        for member in self.members(of, &edges) {
            let times = match of.record {
                Record::Makeup => int(cell(Table::Makeup, member.line, "times")).unwrap_or(0),
                _ => 1,
            };
            match member.inside.and(member.passes) {
                Verdict::True => {
                    lo += times;
                    hi += times;
                }
                Verdict::Unknown => hi += times,
                Verdict::False => {}
            }
        }
        let hi = self.is_complete(&edges).then_some(hi);
        Bounds::Whole { lo: Some(lo), hi, quanta: 1 }
    }

    /// Values of a field in the records that count or may count.
    fn terms(&self, read: &Read, of: &Records, edges: &Edges) -> Vec<Term> {
        self.members(of, edges)
            .into_iter()
            .filter_map(|member| {
                let verdict = member.inside.and(member.passes);
                if verdict == Verdict::False {
                    return None;
                }
                let row = Row { line: member.line, edges };
                let Bounds::Whole { lo, hi, .. } = self.read(read, Some(row)) else { return None };
                Some(Term { sure: verdict == Verdict::True, lo, hi })
            })
            .collect()
    }

    fn fold(&self, fold: Fold, read: &Read, of: &Records) -> Bounds {
        let edges = self.edges(&of.window);
        let terms = self.terms(read, of, &edges);
        let complete = self.is_complete(&edges);
        let quanta = match read.field.kind {
            Kind::Measure(m) => m.quanta_per_base(),
            _ => 1,
        };
        let (lo, hi) = match fold {
            Fold::Sum if counts_up(read.field) => sum_up(&terms, complete),
            Fold::Sum => {
                // What only may count adds to the bound that it pushes.
                let side = |of: fn(&Term) -> Option<i64>, push: fn(i64, i64) -> i64| {
                    let each = terms.iter().map(|t| {
                        let x = of(t)?;
                        Some(if t.sure { x } else { push(0, x) })
                    });
                    each.collect::<Option<Vec<i64>>>()
                        .filter(|_| complete)
                        .map(|all| all.into_iter().sum())
                };
                (side(|t| t.lo, i64::min), side(|t| t.hi, i64::max))
            }
            Fold::Max => (
                terms.iter().filter(|t| t.sure).filter_map(|t| t.lo).max(),
                outer(&terms, complete, |t| t.hi, Iterator::max),
            ),
            Fold::Min => (
                outer(&terms, complete, |t| t.lo, Iterator::min),
                terms.iter().filter(|t| t.sure).filter_map(|t| t.hi).min(),
            ),
            Fold::Mean => return mean(&terms, complete, quanta),
        };
        Bounds::Whole { lo, hi, quanta }
    }

    /// The records that may be the latest (or first) that counts, the utmost first; `None` when an
    /// unseen one may be it, or when no seen one is for certain.
    pub(in super::super) fn candidates(
        &self,
        of: &Records,
        edges: &Edges,
        latest: bool,
    ) -> Option<Vec<Member<'f>>> {
        let mut members = self.members(of, edges);
        if latest {
            members.reverse();
        }
        let mut found = Vec::new();
        for member in members {
            match member.inside.and(member.passes) {
                Verdict::False => {}
                Verdict::Unknown => found.push(member),
                Verdict::True => {
                    found.push(member);
                    let at = member.instant(of.record);
                    return self.nothing_beyond(edges, at, latest).then_some(found);
                }
            }
        }
        None
    }

    fn picked(&self, pick: &Pick) -> Bounds {
        let edges = self.edges(&pick.of.window);
        let quanta = match pick.read.field.kind {
            Kind::Measure(m) => m.quanta_per_base(),
            _ => super::super::typed::MS_PER_SECOND,
        };
        let Some(found) = self.candidates(&pick.of, &edges, pick.latest) else {
            return Bounds::exact(None, quanta);
        };
        let values: Vec<Pair> = found
            .iter()
            .map(|m| {
                let row = Row { line: m.line, edges: &edges };
                match self.read(&pick.read, Some(row)) {
                    Bounds::Whole { lo, hi, .. } => (lo, hi),
                    _ => (None, None),
                }
            })
            .collect();
        let all =
            |of: fn(&Pair) -> Option<i64>| values.iter().map(of).collect::<Option<Vec<i64>>>();
        Bounds::Whole {
            lo: all(|p| p.0).and_then(|v| v.into_iter().min()),
            hi: all(|p| p.1).and_then(|v| v.into_iter().max()),
            quanta,
        }
    }

    fn total(&self, total: &Total) -> Bounds {
        let quanta = match total.field.kind {
            Kind::Measure(m) => m.quanta_per_base(),
            _ => 1,
        };
        let (lo, hi) = if total.window.is_all() {
            let line = self.facts.lines(Table::Joint).first();
            let kept = line.map_or((None, None), |line| counted(total, Table::Joint, line));
            if total.above.is_some() {
                // A histogram of many runs does not tell how far each of them went into its last
                // band.
                let runs = self.in_window(total, &total.window);
                (runs.0, runs.1.or(kept.1))
            } else {
                kept
            }
        } else if let Some(scope) = total.window.since_scope() {
            self.facts
                .lines(Table::Since)
                .iter()
                .find(|l| *cell(Table::Since, l, "scope") == Value::Text(scope.word().to_owned()))
                .map_or((None, None), |line| counted(total, Table::Since, line))
        } else if total.so_far {
            self.so_far(total)
        } else {
            self.in_window(total, &total.window)
        };
        Bounds::Whole { lo, hi, quanta }
    }

    fn in_window(&self, total: &Total, window: &Window) -> Pair {
        let Stored::Counter { over, .. } = total.field.stored else { return (None, None) };
        let edges = self.edges(window);
        let complete = self.is_complete(&edges);
        let of = |record| Records { record, condition: None, window: window.clone() };
        let run_terms = |name: &'static str| {
            let Some(field) = registry::field(Some(Record::Run), name) else { return Vec::new() };
            let read = Read { field, above: total.above, past: None, label: name.into() };
            self.terms(&read, &of(Record::Run), &edges)
        };
        match over {
            Over::Makeups(end) => {
                let column = match end {
                    End::Pin => "pin_generation",
                    End::Box => "box_generation",
                };
                let generation = self.facts.joint(column);
                let (mut lo, mut hi) = (0, 0);
                for member in self.members(&of(Record::Makeup), &edges) {
                    let get = |c| cell(Table::Makeup, member.line, c);
                    if *get("end") != Value::Text(end.word().to_owned())
                        || get("generation") != generation
                    {
                        continue;
                    }
                    let times = int(get("times")).unwrap_or(0);
                    if member.inside == Verdict::True {
                        lo += times;
                    }
                    if member.inside != Verdict::False {
                        hi += times;
                    }
                }
                (Some(lo), complete.then_some(hi))
            }
            Over::WorstPlace => {
                let places = PLACES.map(|p| sum_up(&run_terms(p), complete));
                let worst = |of: fn(&Pair) -> Option<i64>| {
                    places.iter().map(of).collect::<Option<Vec<i64>>>()?.into_iter().max()
                };
                (worst(|p| p.0), worst(|p| p.1))
            }
            Over::Runs(name, Cut::Sums) => sum_up(&run_terms(name), complete),
            Over::Runs(name, Cut::Largest(_)) => {
                let terms = run_terms(name);
                let lo = terms.iter().filter(|t| t.sure).filter_map(|t| t.lo).max().unwrap_or(0);
                let his: Option<Vec<i64>> = terms.iter().map(|t| t.hi).collect();
                let hi = his.filter(|_| complete).map(|h| h.into_iter().max().unwrap_or(0));
                (Some(lo), hi)
            }
        }
    }

    fn so_far(&self, total: &Total) -> Pair {
        let line = self.facts.lines(Table::Joint).first();
        let whole = line.map_or((None, None), |line| counted(total, Table::Joint, line));
        let before = self.in_window(total, &total.window);
        let after =
            self.in_window(total, &Window { from: total.window.until, ..Window::default() });
        let less = |a: Option<i64>, b: Option<i64>| Some(a? - b?);
        let (lo, hi) = (less(whole.0, after.1), less(whole.1, after.0));
        let tighter = |a: Option<i64>, b: Option<i64>, pick: fn(i64, i64) -> i64| match (a, b) {
            (Some(a), Some(b)) => Some(pick(a, b)),
            (one, other) => one.or(other),
        };
        // The runs before always say at least something.
        (before.0.and_then(|b| tighter(Some(b), lo, i64::max)), tighter(before.1, hi, i64::min))
    }
}

/// A counter as a row keeps it.
fn counted(total: &Total, table: Table, line: &Line) -> Pair {
    let Stored::Counter { lo, hi, .. } = total.field.stored else { return (None, None) };
    let get = |c| int(cell(table, line, c));
    let (lo, hi) = (get(lo), get(hi));
    let Some((dogleg, what)) = total.above.zip(total.field.above) else { return (lo, hi) };
    let histogram = cell(table, line, "histogram");
    let beyond = field::ask(histogram, what, dogleg);
    let least = if get("max_dogleg_lo").is_some_and(|d| d > dogleg) { beyond } else { Some(0) };
    let most = match get("max_dogleg_hi") {
        Some(sharpest) if sharpest <= dogleg => Some(0),
        Some(_) if lo.is_some() && lo == hi => least,
        _ => {
            // What the histogram shows below the dogleg was not above it; all else may have been.
            let below = field::ask(histogram, what, 0).zip(beyond).map(|(all, b)| all - b);
            hi.zip(below).zip(least).map(|((hi, below), least)| least.max(hi - below))
        }
    };
    (least, most)
}

fn sum_up(terms: &[Term], complete: bool) -> Pair {
    let lo = terms.iter().filter(|t| t.sure).filter_map(|t| t.lo).sum();
    let his: Option<Vec<i64>> = terms.iter().map(|t| t.hi).collect();
    (Some(lo), his.filter(|_| complete).map(|h| h.into_iter().sum()))
}

/// The bound that all terms set together; none where nothing counts for certain.
fn outer(
    terms: &[Term],
    complete: bool,
    of: fn(&Term) -> Option<i64>,
    pick: fn(std::vec::IntoIter<i64>) -> Option<i64>,
) -> Option<i64> {
    if !complete || !terms.iter().any(|t| t.sure) {
        return None;
    }
    pick(terms.iter().map(of).collect::<Option<Vec<i64>>>()?.into_iter())
}

fn mean(terms: &[Term], complete: bool, quanta: i64) -> Bounds {
    let sure = terms.iter().filter(|t| t.sure).count();
    if !complete || sure == 0 {
        return Bounds::Float { lo: None, hi: None };
    }
    let side = |of: fn(&Term) -> Option<i64>, pick: fn(std::vec::IntoIter<i64>) -> Option<i64>| {
        let all = terms.iter().map(of).collect::<Option<Vec<i64>>>()?;
        let value = if sure == terms.len() {
            let sum: i64 = all.iter().sum();
            sum as f64 / all.len() as f64
        } else {
            pick(all.into_iter())? as f64
        };
        Some(value / quanta as f64)
    };
    Bounds::Float { lo: side(|t| t.lo, Iterator::min), hi: side(|t| t.hi, Iterator::max) }
}
