//! Records counted and folded, picked fields, and counters of the joint.

use crate::model::{End, Vocabulary};
use crate::projection::joint::told_between;
use crate::schema::Value;

use super::super::ast::{Fold, Step, Which};
use super::super::facts::{Line, cell, int};
use super::super::registry::{self, Kind, Over, Part as Cut, Record, Stored, Table};
use super::super::typed::{MS_PER_SECOND, Num, Portion, Read, Records, Total, Window, counts_up};
use super::window::{Member, one_of};
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
        self.number_of(num, row, &mut std::iter::empty())
    }

    /// The same, where the parts that records tell are given from left to right.
    pub(super) fn number_of(
        &self,
        num: &Num,
        row: Option<Row<'_>>,
        told: &mut dyn Iterator<Item = Bounds>,
    ) -> Bounds {
        if num.is_of_records()
            && let Some(bounds) = told.next()
        {
            return bounds;
        }
        match num {
            Num::Const(r) => Bounds::Written(*r),
            Num::Given(lo, hi) => Bounds::Float { lo: *lo, hi: *hi },
            Num::Read(read) => self.read(read, row),
            Num::Total(total) if !num.is_of_records() => self.total(total),
            Num::Total(_) | Num::Count(_) | Num::Fold { .. } | Num::Pick(_) => {
                Bounds::around(&self.alternatives(num, row))
            }
            Num::Negative(inner) => self.number_of(inner, row, told).negated(),
            Num::Sum(terms) => {
                let terms: Vec<Bounds> =
                    terms.iter().map(|t| self.number_of(t, row, told)).collect();
                Bounds::sum(&terms)
            }
            Num::Product(factors) => {
                let mut product = None;
                let mut up = true;
                for (step, factor) in factors {
                    let next = self.number_of(factor, row, told);
                    let both = (up, factor.at_least_zero());
                    product = Some(match (product, step) {
                        (None, _) => {
                            let (lo, hi) = next.base();
                            Bounds::Float { lo, hi }
                        }
                        (Some(p), Step::Divide) => Bounds::over(p, next, both),
                        (Some(p), _) => Bounds::times(p, next, both),
                    });
                    up = both.0 && both.1;
                }
                product.unwrap_or(Bounds::Float { lo: Some(1.0), hi: Some(1.0) })
            }
        }
    }

    /// What a number that records tell may be: for each place at which its window may begin,
    /// and for each record that may be the one picked.
    pub(super) fn alternatives(&self, num: &Num, row: Option<Row<'_>>) -> Vec<Bounds> {
        let each = |window: &Window, of: &dyn Fn(&Edges) -> Bounds| {
            self.beginnings(window).iter().map(of).collect()
        };
        match num {
            Num::Total(total) if num.is_of_records() => {
                each(&total.window, &|edges| self.in_window(total, edges))
            }
            Num::Count(of) => each(&of.window, &|edges| self.count(of, edges)),
            Num::Fold { fold, read, of } => {
                each(&of.window, &|edges| self.fold(*fold, read, of, edges))
            }
            Num::Pick(pick) => {
                let none = Bounds::exact(None, quanta_of(&pick.read));
                let values = self.each_pick(pick, &|row| self.read(&pick.read, Some(row)));
                values.into_iter().map(|value| value.unwrap_or(none)).collect()
            }
            _ => vec![self.number(num, row)],
        }
    }

    fn count(&self, of: &Records, edges: &Edges) -> Bounds {
        let (mut lo, mut hi) = (0, 0);
        for member in self.members(of, edges) {
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
        let hi = self.is_complete(edges).then_some(hi);
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
                let row = Row { record: of.record, line: member.line, edges };
                let Bounds::Whole { lo, hi, .. } = self.read(read, Some(row)) else { return None };
                Some(Term { sure: verdict == Verdict::True, lo, hi })
            })
            .collect()
    }

    fn fold(&self, fold: Fold, read: &Read, of: &Records, edges: &Edges) -> Bounds {
        let terms = self.terms(read, of, edges);
        let complete = self.is_complete(edges);
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
            Fold::Mean => return mean(&terms, complete, quanta, counts_up(read.field)),
        };
        Bounds::Whole { lo, hi, quanta }
    }

    /// The records that may be the latest (or first) that counts, the utmost first; `None` when an
    /// unseen one may be it, or when no seen one is for certain.
    pub(in super::super) fn candidates(
        &self,
        of: &Records,
        edges: &Edges,
        which: Which,
    ) -> Option<Vec<Member<'f>>> {
        let counts = |member: &Member<'_>| member.inside.and(member.passes);
        let (found, sure) = one_of(self.members(of, edges), which, counts);
        let after = which.from_the_end();
        let known = self.nothing_beyond(edges, sure?.edge(of.record, after), after);
        known.then_some(found)
    }

    /// A counter of the whole life, or since the last inspection of a scope, as the book keeps it.
    fn total(&self, total: &Total) -> Bounds {
        let (lo, hi) = match total.kept_since() {
            // One rule with windows: what each run did.
            None if total.portion.is_some() => return self.in_window(total, &Edges::default()),
            None => self.in_all(total),
            Some(scope) => {
                let word = Value::Text(scope.word().to_owned());
                let lines = self.facts.lines(Table::Since);
                let line = lines.iter().find(|l| *cell(Table::Since, l, "scope") == word);
                line.map_or((None, None), |line| counted(total, Table::Since, line))
            }
        };
        Bounds::Whole { lo, hi, quanta: quanta_of_total(total) }
    }

    /// A counter of the whole life.
    fn in_all(&self, total: &Total) -> Pair {
        let line = self.facts.lines(Table::Joint).first();
        line.map_or((None, None), |line| counted(total, Table::Joint, line))
    }

    /// A counter in a window: what its runs or make-ups say, and what the joint brought with it as far
    /// as the window reaches back; no more than the joint has in all.
    fn in_window(&self, total: &Total, edges: &Edges) -> Bounds {
        let (runs, brought) = (self.counted_in(total, edges), self.brought(total, edges));
        let known = self.is_complete_since_entry(edges);
        let largest = matches!(
            total.field.stored,
            Stored::Counter { over: Over::Runs(_, Cut::Largest(_)), .. }
        );
        let worst = matches!(total.field.stored, Stored::Counter { over: Over::WorstPlace(_), .. });
        let both = |a: Option<i64>, b: Option<i64>, largest: bool| {
            let (a, b) = (a?, b?);
            Some(if largest { a.max(b) } else { a + b })
        };
        // Nobody knows at which place stands what it brought.
        let lo = both(runs.0, brought.0, largest || worst);
        let lo = lo.map(|lo| lo + if total.counts_hours() { self.told(edges) } else { 0 });
        let hi = both(runs.1.filter(|_| known), brought.1, largest);
        let hi = hi.or_else(|| Some(self.in_all(total).1?.max(lo?)));
        Bounds::Whole { lo, hi, quanta: quanta_of_total(total) }
    }

    /// The least of the hours that are told of stretches of which no more is known.
    fn told(&self, edges: &Edges) -> i64 {
        let from = edges.start().map_or(i64::MIN, |(_, latest)| latest);
        let to = edges.ends().map_or(i64::MAX, |(first, _)| first);
        let stretches = self.facts.lines(Table::Gap).iter().filter_map(|g| {
            let at = |column| int(cell(Table::Gap, g, column));
            let begun = at("since").filter(|_| at("begun") == Some(1));
            Some(told_between((begun, at("until")?), at("hours")?, from, to))
        });
        stretches.sum()
    }

    /// What the joint had of a counter before it came into the book, as far as a window reaches there.
    fn brought(&self, total: &Total, edges: &Edges) -> Pair {
        let nothing = (Some(0), Some(0));
        let Stored::Counter { lo, hi, over } = total.field.stored else { return nothing };
        if int(self.facts.joint("entered_new")).is_some_and(|new| new != 0) {
            return nothing;
        }
        if let Over::Makeups(end) = over
            && int(self.facts.joint(generation_of(end))).is_some_and(|g| g > 1)
        {
            return nothing;
        }
        let entered = int(self.facts.joint("entered")).unwrap_or(0);
        let start = edges.start();
        if start.is_some_and(|(earliest, _)| earliest >= entered) {
            return nothing;
        }
        let stated = |column| {
            let line = self.facts.lines(Table::Opening).first();
            line.and_then(|l| int(cell(Table::Opening, l, column)))
        };
        let all = start.is_none_or(|(_, latest)| latest == i64::MIN)
            && edges.ends().is_none_or(|(first, _)| first >= entered)
            && total.portion.is_none();
        if let Over::Place(_, most) = over {
            return (Some(0), stated(most));
        }
        let lo = if all { stated(lo).unwrap_or(0) } else { 0 };
        (Some(lo), stated(hi))
    }

    /// A counter over the joint's runs or make-ups in a window.
    fn counted_in(&self, total: &Total, edges: &Edges) -> Pair {
        let Stored::Counter { over, .. } = total.field.stored else { return (None, None) };
        let of = |record| Records { record, condition: None, window: Window::default() };
        let run_terms = |name: &'static str| {
            let Some(field) = registry::field(Some(Record::Run), name) else { return Vec::new() };
            let read = Read { field, portion: total.portion, past: None, label: name.into() };
            self.terms(&read, &of(Record::Run), edges)
        };
        match over {
            Over::Makeups(end) => {
                let generation = self.facts.joint(generation_of(end));
                let (mut lo, mut hi) = (0, 0);
                for member in self.members(&of(Record::Makeup), edges) {
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
                (Some(lo), Some(hi))
            }
            Over::WorstPlace(places) => {
                let places = places.map(|p| sum_up(&run_terms(p), true));
                let worst = |of: fn(&Pair) -> Option<i64>| {
                    places.iter().map(of).collect::<Option<Vec<i64>>>()?.into_iter().max()
                };
                (worst(|p| p.0), worst(|p| p.1))
            }
            Over::Place(name, _) | Over::Runs(name, Cut::Sums) => sum_up(&run_terms(name), true),
            Over::Runs(name, Cut::Largest(_)) => {
                let terms = run_terms(name);
                let lo = terms.iter().filter(|t| t.sure).filter_map(|t| t.lo).max().unwrap_or(0);
                let his: Option<Vec<i64>> = terms.iter().map(|t| t.hi).collect();
                let hi = his.map(|h| h.into_iter().max().unwrap_or(0));
                (Some(lo), hi)
            }
        }
    }
}

const fn generation_of(end: End) -> &'static str {
    match end {
        End::Pin => "pin_generation",
        End::Box => "box_generation",
    }
}

const fn quanta_of(read: &Read) -> i64 {
    match read.field.kind {
        Kind::Measure(m) => m.quanta_per_base(),
        _ => MS_PER_SECOND,
    }
}

const fn quanta_of_total(total: &Total) -> i64 {
    match total.field.kind {
        Kind::Measure(m) => m.quanta_per_base(),
        _ => 1,
    }
}

/// A counter as a row keeps it.
fn counted(total: &Total, table: Table, line: &Line) -> Pair {
    let Stored::Counter { lo, hi, .. } = total.field.stored else { return (None, None) };
    let get = |c| int(cell(table, line, c));
    let (lo, hi) = (get(lo), get(hi));
    let (dogleg, what) = match (total.portion, total.field.above) {
        (Some(Portion::Above(dogleg)), Some(what)) => (dogleg, what),
        // At which depths, or in which bends between two, the runs tell alone.
        (Some(Portion::Depths(..) | Portion::Band(..)), _) => return (Some(0), hi),
        (Some(Portion::Above(_)) | None, _) => return (lo, hi),
    };
    let histogram = cell(table, line, "histogram");
    let beyond = field::ask(histogram, what, dogleg);
    let least = if get("max_dogleg_lo").is_some_and(|d| d > dogleg) { beyond } else { Some(0) };
    let most = match get("max_dogleg_hi") {
        Some(sharpest) if sharpest <= dogleg => Some(0),
        Some(_) if lo.is_some() && lo == hi => least,
        _ => {
            // What the histogram shows below the dogleg was not above it; all else may have been.
            // With the runs that may not count, where there are any.
            let most = match cell(table, line, "histogram_most") {
                Value::Null => histogram,
                most => most,
            };
            let asked = |dogleg| field::ask(most, what, dogleg);
            let below = asked(0).zip(asked(dogleg)).map(|(all, b)| all - b);
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

/// The mean. What only may count is taken in where it pushes the bound: the smallest first for the
/// lower one, as long as each is below the mean so far. `up` for what cannot be below zero.
fn mean(terms: &[Term], complete: bool, quanta: i64, up: bool) -> Bounds {
    if !complete || !terms.iter().any(|t| t.sure) {
        return Bounds::Float { lo: None, hi: None };
    }
    let side = |of: &dyn Fn(&Term) -> Option<i64>, low: bool| {
        let (mut sum, mut count, mut open) = (0, 0, Vec::new());
        for term in terms {
            let value = of(term)?;
            if term.sure {
                (sum, count) = (sum + value, count + 1);
            } else {
                open.push(value);
            }
        }
        open.sort_unstable();
        if !low {
            open.reverse();
        }
        let mut best = sum as f64 / f64::from(count);
        for value in open {
            (sum, count) = (sum + value, count + 1);
            let mean = sum as f64 / f64::from(count);
            best = if low { best.min(mean) } else { best.max(mean) };
        }
        Some(best / quanta as f64)
    };
    let least = |t: &Term| t.lo.or(if up { Some(0) } else { None });
    Bounds::Float { lo: side(&least, true), hi: side(&|t| t.hi, false) }
}
