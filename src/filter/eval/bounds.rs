//! Numbers that may not be known exactly, and arithmetic and comparisons of them.

use crate::units::Rational;

use super::super::ast::Cmp;
use super::super::typed::{Limit, Near, limit};
use super::Verdict;

/// Between which bounds a number lies; a missing bound is none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bounds {
    /// Whole numbers of quanta.
    Whole {
        /// Lower bound.
        lo: Option<i64>,
        /// Upper bound.
        hi: Option<i64>,
        /// Quanta of a base unit.
        quanta: i64,
    },
    /// Floats of base units.
    Float {
        /// Lower bound.
        lo: Option<f64>,
        /// Upper bound.
        hi: Option<f64>,
    },
    /// A number that is written out, in base units.
    Written(Rational),
}

impl Bounds {
    pub(super) const fn exact(value: Option<i64>, quanta: i64) -> Self {
        Self::Whole { lo: value, hi: value, quanta }
    }

    /// What holds whichever of some numbers it is.
    pub(super) fn around(all: &[Self]) -> Self {
        fn side<T: Copy>(each: impl Iterator<Item = Option<T>>, of: fn(T, T) -> T) -> Option<T> {
            each.collect::<Option<Vec<T>>>()?.into_iter().reduce(of)
        }
        match all {
            [one] => *one,
            [Self::Whole { quanta, .. }, ..] => {
                let ends = |n: &Self| match *n {
                    Self::Whole { lo, hi, .. } => (lo, hi),
                    _ => (None, None),
                };
                Self::Whole {
                    lo: side(all.iter().map(|n| ends(n).0), i64::min),
                    hi: side(all.iter().map(|n| ends(n).1), i64::max),
                    quanta: *quanta,
                }
            }
            _ => Self::Float {
                lo: side(all.iter().map(|n| n.base().0), f64::min),
                hi: side(all.iter().map(|n| n.base().1), f64::max),
            },
        }
    }

    /// Bounds as floats of base units.
    pub fn base(self) -> (Option<f64>, Option<f64>) {
        match self {
            Self::Whole { lo, hi, quanta } => {
                let scale = |n: i64| n as f64 / quanta as f64;
                (lo.map(scale), hi.map(scale))
            }
            Self::Float { lo, hi } => (lo, hi),
            Self::Written(r) => (Some(r.to_f64()), Some(r.to_f64())),
        }
    }

    /// True when the number is known exactly.
    #[expect(
        clippy::float_cmp,
        reason = "0 and -0 are one number, and nothing else is near enough"
    )]
    pub fn is_pinned(self) -> bool {
        match self {
            Self::Whole { lo, hi, .. } => lo.is_some() && lo == hi,
            Self::Float { lo, hi } => {
                matches!((lo, hi), (Some(a), Some(b)) if a.total_cmp(&b).is_eq() || a == b)
            }
            Self::Written(_) => true,
        }
    }

    pub(super) fn negated(self) -> Self {
        let (lo, hi) = self.base();
        Self::Float { lo: hi.map(|x| -x), hi: lo.map(|x| -x) }
    }

    /// Sum with the halves added first.
    pub(super) fn sum(terms: &[Self]) -> Self {
        match terms {
            [] => Self::Float { lo: Some(0.0), hi: Some(0.0) },
            [one] => {
                let (lo, hi) = one.base();
                Self::Float { lo, hi }
            }
            many => {
                let (left, right) = many.split_at(many.len() / 2);
                let ((a, b), (c, d)) = (Self::sum(left).base(), Self::sum(right).base());
                Self::Float { lo: both(a, c, |x, y| x + y), hi: both(b, d, |x, y| x + y) }
            }
        }
    }

    /// Product; `up` says of each whether it cannot be below zero.
    pub(super) fn times(self, other: Self, up: (bool, bool)) -> Self {
        let ((a, b), (c, d)) = (self.base(), other.base());
        let by = |x, y| both(x, y, |x, y| x * y);
        match up {
            (true, true) => return Self::Float { lo: by(a, c), hi: by(b, d) },
            // Each bound of what may be below zero makes that of the product: one may be missing.
            (false, true) => {
                return Self::Float {
                    lo: both(by(a, c), by(a, d), f64::min),
                    hi: both(by(b, c), by(b, d), f64::max),
                };
            }
            (true, false) => return other.times(self, (false, true)),
            (false, false) => {}
        }
        Self::corners([by(a, c), by(a, d), by(b, c), by(b, d)])
    }

    /// Quotient; `up` says of each whether it cannot be below zero.
    pub(super) fn over(self, other: Self, up: (bool, bool)) -> Self {
        let ((a, b), (c, d)) = (self.base(), other.base());
        let by = |x: Option<f64>, y: Option<f64>| {
            // A zero divisor leaves no bound, of either sign.
            both(x, y.filter(|y| *y != 0.0), |x, y| x / y)
        };
        if up == (true, true) || (self.is_pinned() && other.is_pinned()) {
            return Self::Float { lo: by(a, d), hi: by(b, c) };
        }
        if up.1 {
            let above = c.is_some_and(|c| c > 0.0);
            let side = |x, of: fn(f64, f64) -> f64| both(by(x, c), by(x, d), of).filter(|_| above);
            return Self::Float { lo: side(a, f64::min), hi: side(b, f64::max) };
        }
        if c.is_some_and(|c| c > 0.0) || d.is_some_and(|d| d < 0.0) {
            return Self::corners([by(a, c), by(a, d), by(b, c), by(b, d)]);
        }
        Self::Float { lo: None, hi: None }
    }

    fn corners(corners: [Option<f64>; 4]) -> Self {
        let all: Option<Vec<f64>> = corners.into_iter().collect();
        let pick =
            |of: fn(f64, f64) -> f64| all.as_ref().and_then(|c| c.iter().copied().reduce(of));
        Self::Float { lo: pick(f64::min), hi: pick(f64::max) }
    }
}

fn both(x: Option<f64>, y: Option<f64>, f: impl Fn(f64, f64) -> f64) -> Option<f64> {
    let z = f(x?, y?);
    (!z.is_nan()).then_some(z)
}

/// Compares two numbers: decided when every value within the bounds gives one answer.
pub(super) fn compare(op: Cmp, a: &Bounds, b: &Bounds) -> Verdict {
    match (*a, *b) {
        (Bounds::Written(x), Bounds::Written(y)) => Verdict::of(match op {
            Cmp::Eq => x == y,
            Cmp::Ne => x != y,
            Cmp::Lt => x < y,
            Cmp::Le => x <= y,
            Cmp::Gt => x > y,
            Cmp::Ge => x >= y,
        }),
        (Bounds::Written(_), _) => compare(op.flipped(), b, a),
        (Bounds::Whole { lo, hi, quanta }, Bounds::Written(r)) => {
            // Twice the scale, so that what lies between two quanta has a place.
            let double = |n: Option<i64>| n.map(|n| i128::from(n) * 2);
            let at = match limit(r, quanta) {
                Limit::At(n) => i128::from(n) * 2,
                Limit::After(n) => i128::from(n) * 2 + 1,
            };
            decide(op, (double(lo), double(hi)), (Some(at), Some(at)))
        }
        (Bounds::Whole { lo: a, hi: b, quanta: p }, Bounds::Whole { lo: c, hi: d, quanta: q })
            if p == q =>
        {
            decide(op, (a, b), (c, d))
        }
        _ => decide(op, a.base(), b.base()),
    }
}

/// Whether a number rounds to one that is written out.
pub(super) fn near(value: &Bounds, near: &Near) -> Verdict {
    let from = compare(Cmp::Ge, value, &Bounds::Written(near.low));
    from.and(compare(Cmp::Le, value, &Bounds::Written(near.high)))
}

type Pair<T> = (Option<T>, Option<T>);

fn decide<T: PartialOrd + Copy>(op: Cmp, a: Pair<T>, b: Pair<T>) -> Verdict {
    // The largest of the left and the smallest of the right, and the other way round.
    let below = matches!((a.1, b.0), (Some(x), Some(y)) if x < y);
    let not_above = matches!((a.1, b.0), (Some(x), Some(y)) if x <= y);
    let above = matches!((a.0, b.1), (Some(x), Some(y)) if x > y);
    let not_below = matches!((a.0, b.1), (Some(x), Some(y)) if x >= y);
    let (yes, no) = match op {
        Cmp::Lt => (below, not_below),
        Cmp::Le => (not_above, above),
        Cmp::Gt => (above, not_above),
        Cmp::Ge => (not_below, below),
        Cmp::Eq => (not_below && not_above, below || above),
        Cmp::Ne => (below || above, not_below && not_above),
    };
    match (yes, no) {
        (true, _) => Verdict::True,
        (_, true) => Verdict::False,
        _ => Verdict::Unknown,
    }
}
