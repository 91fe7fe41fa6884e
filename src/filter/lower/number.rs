//! Numbers in SQL: a lower and an upper bound each, and comparisons that are decided only when the
//! bounds decide them.

use crate::schema::Value;
use crate::units::Rational;

use super::super::ast::{Cmp, Step};
use super::super::sql::{Cond, Sql, sql};
use super::super::typed::{Limit, Near, Num, Window, limit};
use super::window::Edges;
use super::{Lower, Scope, Truth};

/// Between which bounds a number lies. A bound that is NULL is none.
#[derive(Clone, Debug)]
pub(in super::super) struct Span {
    pub(in super::super) lo: Sql,
    pub(in super::super) hi: Sql,
    /// Quanta of a base unit, for whole numbers of quanta; `None` for floats of base units.
    pub(super) quanta: Option<i64>,
}

impl Span {
    pub(super) fn exact(value: Sql, quanta: Option<i64>) -> Self {
        Self { hi: value.clone(), lo: value, quanta }
    }

    /// True when both bounds are one column: then the number is exact or unknown.
    pub(in super::super) fn is_exact(&self) -> bool {
        self.lo.same(&self.hi)
    }

    /// As floats of base units.
    fn base(self) -> Self {
        let Some(quanta) = self.quanta else { return self };
        let scale = |x: &Sql| sql!["(", x, " / ", Value::Real(quanta as f64), ")"];
        let lo = scale(&self.lo);
        let hi = if self.is_exact() { lo.clone() } else { scale(&self.hi) };
        Self { lo, hi, quanta: None }
    }
}

impl Lower {
    /// Between which bounds a number lies.
    pub(in super::super) fn number(&self, num: &Num, scope: &Scope) -> Span {
        self.number_of(num, scope, &mut std::iter::empty())
    }

    /// The same, where the parts that records tell are given from left to right.
    fn number_of(&self, num: &Num, scope: &Scope, told: &mut dyn Iterator<Item = Span>) -> Span {
        if num.is_of_records()
            && let Some(span) = told.next()
        {
            return span;
        }
        match num {
            Num::Const(r) => Span::exact(sql![Value::Real(r.to_f64())], None),
            Num::Given(lo, hi) => given(*lo, *hi),
            Num::Read(read) => self.read(read, scope),
            Num::Total(total) if !num.is_of_records() => self.total(total),
            Num::Total(_) | Num::Count(_) | Num::Fold { .. } => match self.within(num) {
                Some((edges, span)) => edges.span(span),
                // Not reached.
                None => Span::exact(sql!["NULL"], None),
            },
            Num::Pick(pick) => self.pick_number(pick),
            Num::Negative(inner) => {
                let inner = self.number_of(inner, scope, told).base();
                let turned = |x: &Sql| sql!["(-", x, ")"];
                let lo = turned(&inner.hi);
                let hi = if inner.is_exact() { lo.clone() } else { turned(&inner.lo) };
                Span { lo, hi, quanta: None }
            }
            Num::Sum(terms) => {
                let terms: Vec<Span> =
                    terms.iter().map(|t| self.number_of(t, scope, told).base()).collect();
                let exact = terms.iter().all(Span::is_exact);
                let lo = sum(&terms.iter().map(|t| t.lo.clone()).collect::<Vec<_>>());
                let hi = if exact {
                    lo.clone()
                } else {
                    sum(&terms.iter().map(|t| t.hi.clone()).collect::<Vec<_>>())
                };
                Span { lo, hi, quanta: None }
            }
            Num::Product(factors) => {
                let mut factors = factors.iter();
                let Some((_, first)) = factors.next() else {
                    return Span::exact(sql![Value::Real(1.0)], None);
                };
                let mut sign = Sign::of(first);
                let mut product = self.number_of(first, scope, told).base();
                for (step, factor) in factors {
                    let next_sign = Sign::of(factor);
                    let next = self.number_of(factor, scope, told).base();
                    product = match step {
                        Step::Divide => divide(&product, sign, &next, next_sign),
                        _ => multiply(&product, sign, &next, next_sign),
                    };
                    sign = sign.times(next_sign);
                }
                product
            }
        }
    }

    /// A number that records in a window tell, with the limits of the window: its bounds stand where the
    /// instants of the window are known.
    fn within(&self, num: &Num) -> Option<(Edges, Span)> {
        let with = |window: &Window, of: &dyn Fn(&Edges) -> Span| {
            let edges = self.edges(window);
            let span = of(&edges);
            Some((edges, span))
        };
        match num {
            Num::Total(total) if num.is_of_records() => {
                with(&total.window, &|edges| self.in_window(total, edges))
            }
            Num::Count(of) => with(&of.window, &|edges| self.count(of, edges)),
            Num::Fold { fold, read, of } => {
                with(&of.window, &|edges| self.fold(*fold, read, of, edges))
            }
            _ => None,
        }
    }

    /// What is said of some numbers: it must be so wherever the windows in them begin, and whichever
    /// records are the ones picked.
    fn said<const N: usize>(
        &self,
        numbers: [&Num; N],
        scope: &Scope,
        say: &dyn Fn([Span; N]) -> Truth,
    ) -> Truth {
        let parts = Num::told_apart(&numbers).unwrap_or_default();
        self.each(&parts, &[], &|told| {
            let mut told = told.iter().cloned();
            say(numbers.map(|n| self.number_of(n, scope, &mut told)))
        })
    }

    /// The same of the parts of numbers that records tell, one within the other.
    fn each(&self, parts: &[&Num], told: &[Span], say: &dyn Fn(&[Span]) -> Truth) -> Truth {
        let Some((first, rest)) = parts.split_first() else { return say(told) };
        let with = |span: Span| self.each(rest, &[told, &[span]].concat(), say);
        if let Num::Pick(pick) = first {
            return self.pick_truth(pick, &|inner| with(self.read(&pick.read, inner)));
        }
        // Every other part has a window.
        let Some((edges, span)) = self.within(first) else { return say(told) };
        let truth = with(span);
        Truth { yes: edges.hold(truth.yes), no: edges.hold(truth.no) }
    }

    pub(super) fn compare(&self, op: Cmp, left: &Num, right: &Num, scope: &Scope) -> Truth {
        match (left, right) {
            (Num::Const(a), Num::Const(b)) => Truth::of(holds(op, *a, *b)),
            (Num::Const(a), _) => self.compare_const(op.flipped(), right, *a, scope),
            (_, Num::Const(b)) => self.compare_const(op, left, *b, scope),
            _ => self.said([left, right], scope, &|[a, b]| against(op, &a, right, b)),
        }
    }

    fn compare_const(&self, op: Cmp, num: &Num, bound: Rational, scope: &Scope) -> Truth {
        if let Num::Total(total) = num
            && let Some(truth) = self.since_truth(op, total, bound, scope)
        {
            return truth;
        }
        let truth = self.said([num], scope, &|[span]| beside(op, &span, bound));
        match num {
            Num::Total(total) => self.guard_above(op, total, bound, truth, scope),
            _ => truth,
        }
    }

    /// A number that rounds to one that is written out.
    pub(super) fn near(&self, value: &Num, near: &Near, scope: &Scope) -> Truth {
        if Num::told_apart(&[value]).is_none() {
            return self.compare_const(Cmp::Ge, value, near.low, scope).and(self.compare_const(
                Cmp::Le,
                value,
                near.high,
                scope,
            ));
        }
        self.said([value], scope, &|[span]| {
            beside(Cmp::Ge, &span, near.low).and(beside(Cmp::Le, &span, near.high))
        })
    }

    pub(super) fn between(&self, value: &Num, low: &Num, high: &Num, scope: &Scope) -> Truth {
        if Num::told_apart(&[value, low, high]).is_none() {
            return self.compare(Cmp::Ge, value, low, scope).and(self.compare(
                Cmp::Le,
                value,
                high,
                scope,
            ));
        }
        self.said([value, low, high], scope, &|[span, least, most]| {
            against(Cmp::Ge, &span, low, least).and(against(Cmp::Le, &span, high, most))
        })
    }

    pub(super) fn number_unknown(&self, num: &Num, scope: &Scope) -> Truth {
        let span = self.number(num, scope);
        if span.is_exact() {
            let x = span.lo;
            return Truth::new(sql!["(", &x, " IS NULL)"], sql!["(", &x, " IS NOT NULL)"]);
        }
        let known = Cond::When(sql!["(", span.lo, " = ", span.hi, ")"]);
        Truth { yes: known.fails(), no: known }
    }
}

fn given(lo: Option<f64>, hi: Option<f64>) -> Span {
    let bound = |x: Option<f64>| sql![x.map_or(Value::Null, Value::Real)];
    let lo_sql = bound(lo);
    let exact = lo.is_some() && lo.map(f64::to_bits) == hi.map(f64::to_bits);
    let hi = if exact { lo_sql.clone() } else { bound(hi) };
    Span { lo: lo_sql, hi, quanta: None }
}

fn holds(op: Cmp, a: Rational, b: Rational) -> bool {
    match op {
        Cmp::Eq => a == b,
        Cmp::Ne => a != b,
        Cmp::Lt => a < b,
        Cmp::Le => a <= b,
        Cmp::Gt => a > b,
        Cmp::Ge => a >= b,
    }
}

/// A number compared with one that is written out.
pub(super) fn beside(op: Cmp, span: &Span, bound: Rational) -> Truth {
    let Some(quanta) = span.quanta else {
        let b = Span::exact(sql![Value::Real(bound.to_f64())], None);
        return ordered(op, span, &b);
    };
    let at = match limit(bound, quanta) {
        Limit::At(n) => return ordered(op, span, &Span::exact(sql![n], Some(quanta))),
        Limit::After(n) => n,
    };
    // The bound lies between two whole quanta, and nothing is ever equal to it.
    let (lo, hi) = (&span.lo, &span.hi);
    let beyond = || sql!["(", lo, " > ", at, ")"];
    let below = || sql!["(", hi, " <= ", at, ")"];
    match op {
        Cmp::Gt | Cmp::Ge => Truth::new(beyond(), below()),
        Cmp::Lt | Cmp::Le => Truth::new(below(), beyond()),
        Cmp::Eq | Cmp::Ne => {
            let differs = Cond::When(beyond()).or(Cond::When(below()));
            let equal = Truth { yes: Cond::Never, no: differs };
            if op == Cmp::Eq { equal } else { equal.not() }
        }
    }
}

/// A number compared with another; one that is written out is put on the scale of the first.
fn against(op: Cmp, a: &Span, other: &Num, b: Span) -> Truth {
    match other {
        Num::Const(bound) => beside(op, a, *bound),
        _ if a.quanta.is_some() && a.quanta == b.quanta => ordered(op, a, &b),
        _ => ordered(op, &a.clone().base(), &b.base()),
    }
}

/// Two numbers of the same scale compared.
fn ordered(op: Cmp, a: &Span, b: &Span) -> Truth {
    let put = |x: &Sql, sign: &'static str, y: &Sql| sql!["(", x, sign, y, ")"];
    match op {
        Cmp::Gt => Truth::new(put(&a.lo, " > ", &b.hi), put(&a.hi, " <= ", &b.lo)),
        Cmp::Ge => Truth::new(put(&a.lo, " >= ", &b.hi), put(&a.hi, " < ", &b.lo)),
        Cmp::Lt => Truth::new(put(&a.hi, " < ", &b.lo), put(&a.lo, " >= ", &b.hi)),
        Cmp::Le => Truth::new(put(&a.hi, " <= ", &b.lo), put(&a.lo, " > ", &b.hi)),
        Cmp::Eq | Cmp::Ne => {
            let equal = if a.is_exact() && b.is_exact() {
                Truth::new(put(&a.lo, " = ", &b.lo), put(&a.lo, " <> ", &b.lo))
            } else {
                let pinned = [put(&a.lo, " >= ", &b.hi), put(&a.hi, " <= ", &b.lo)];
                let apart = [put(&a.hi, " < ", &b.lo), put(&a.lo, " > ", &b.hi)];
                Truth {
                    yes: Cond::all(pinned.map(Cond::When)),
                    no: Cond::any(apart.map(Cond::When)),
                }
            };
            if op == Cmp::Eq { equal } else { equal.not() }
        }
    }
}

/// A sum, halves first; the evaluator adds in the same order.
fn sum(terms: &[Sql]) -> Sql {
    Sql::joined(terms, " + ")
}

/// What is known of a number's sign without looking at a joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sign {
    /// Zero or above.
    Up,
    Any,
}

impl Sign {
    fn of(num: &Num) -> Self {
        if num.at_least_zero() { Self::Up } else { Self::Any }
    }

    fn times(self, other: Self) -> Self {
        if self == Self::Up && other == Self::Up { Self::Up } else { Self::Any }
    }
}

fn product(x: &Sql, y: &Sql) -> Sql {
    sql!["(", x, " * ", y, ")"]
}

fn quotient(x: &Sql, y: &Sql) -> Sql {
    sql!["(", x, " / ", y, ")"]
}

fn extreme<const N: usize>(name: &'static str, parts: [Sql; N]) -> Sql {
    sql![name, "(", Sql::list(parts.map(super::super::sql::Part::from)), ")"]
}

fn multiply(a: &Span, sign_a: Sign, b: &Span, sign_b: Sign) -> Span {
    if a.is_exact() && b.is_exact() {
        return Span::exact(product(&a.lo, &b.lo), None);
    }
    if sign_a == Sign::Up && sign_b == Sign::Up {
        return Span { lo: product(&a.lo, &b.lo), hi: product(&a.hi, &b.hi), quanta: None };
    }
    if sign_a == Sign::Up || sign_b == Sign::Up {
        // Each bound of what may be below zero makes that of the product: one may be missing.
        let (any, up) = if sign_b == Sign::Up { (a, b) } else { (b, a) };
        return Span {
            lo: extreme("min", [product(&any.lo, &up.lo), product(&any.lo, &up.hi)]),
            hi: extreme("max", [product(&any.hi, &up.lo), product(&any.hi, &up.hi)]),
            quanta: None,
        };
    }
    let corners = || {
        [product(&a.lo, &b.lo), product(&a.lo, &b.hi), product(&a.hi, &b.lo), product(&a.hi, &b.hi)]
    };
    Span { lo: extreme("min", corners()), hi: extreme("max", corners()), quanta: None }
}

fn divide(a: &Span, sign_a: Sign, b: &Span, sign_b: Sign) -> Span {
    if a.is_exact() && b.is_exact() {
        return Span::exact(quotient(&a.lo, &b.lo), None);
    }
    if sign_a == Sign::Up && sign_b == Sign::Up {
        // Division by zero is NULL, which is no bound.
        return Span { lo: quotient(&a.lo, &b.hi), hi: quotient(&a.hi, &b.lo), quanta: None };
    }
    if sign_b == Sign::Up {
        let above = |x: Sql| sql!["CASE WHEN ", &b.lo, " > 0 THEN ", x, " END"];
        return Span {
            lo: above(extreme("min", [quotient(&a.lo, &b.lo), quotient(&a.lo, &b.hi)])),
            hi: above(extreme("max", [quotient(&a.hi, &b.lo), quotient(&a.hi, &b.hi)])),
            quanta: None,
        };
    }
    let corners = || {
        [
            quotient(&a.lo, &b.lo),
            quotient(&a.lo, &b.hi),
            quotient(&a.hi, &b.lo),
            quotient(&a.hi, &b.hi),
        ]
    };
    let apart = |x: Sql| sql!["CASE WHEN ", &b.lo, " > 0 OR ", &b.hi, " < 0 THEN ", x, " END"];
    Span {
        lo: apart(extreme("min", corners())),
        hi: apart(extreme("max", corners())),
        quanta: None,
    }
}
