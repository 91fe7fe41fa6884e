//! Exact numbers: what a person writes (`6 3/32`, `19.50`) and what a unit is worth (`0.3048`) are
//! fractions of integers, and stay so until a formula needs a float.

use std::cmp::Ordering;
use std::fmt;

/// A reduced fraction of two integers; the denominator is positive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Rational {
    num: i128,
    den: i128,
}

const fn gcd(mut a: u128, mut b: u128) -> u128 {
    while b != 0 {
        let t = a % b;
        a = b;
        b = t;
    }
    a
}

impl Rational {
    /// Zero.
    pub const ZERO: Self = Self { num: 0, den: 1 };
    pub const ONE: Self = Self { num: 1, den: 1 };

    /// Returns `num / den` reduced; `None` for a zero denominator or a fraction too wide to hold.
    pub fn new(num: i128, den: i128) -> Option<Self> {
        if den == 0 || num == i128::MIN || den == i128::MIN {
            return None;
        }
        let (num, den) = if den < 0 { (-num, -den) } else { (num, den) };
        let g = i128::try_from(gcd(num.unsigned_abs(), den.unsigned_abs())).ok()?.max(1);
        Some(Self { num: num / g, den: den / g })
    }

    /// Returns an integer as a fraction.
    pub const fn integer(n: i64) -> Self {
        Self { num: n as i128, den: 1 }
    }

    /// Returns `num / den` for constants known to be sound; a zero denominator reads as one.
    pub(crate) const fn constant(num: i64, den: i64) -> Self {
        let (n, d) = (num as i128, if den == 0 { 1 } else { den as i128 });
        let g = gcd(n.unsigned_abs(), d.unsigned_abs()).cast_signed();
        let g = if g == 0 { 1 } else { g };
        Self { num: n / g, den: d / g }
    }

    /// Numerator of the reduced fraction.
    pub const fn numerator(self) -> i128 {
        self.num
    }

    /// Denominator of the reduced fraction, positive.
    pub const fn denominator(self) -> i128 {
        self.den
    }

    /// Sum, or `None` when it is too wide to hold.
    pub fn checked_add(self, other: Self) -> Option<Self> {
        let a = self.num.checked_mul(other.den)?;
        let b = other.num.checked_mul(self.den)?;
        Self::new(a.checked_add(b)?, self.den.checked_mul(other.den)?)
    }

    /// Product, or `None` when it is too wide to hold.
    pub fn checked_mul(self, other: Self) -> Option<Self> {
        // Cross-reduce first so that long factors cancel before they can overflow.
        let a = Self::new(self.num, other.den)?;
        let b = Self::new(other.num, self.den)?;
        Self::new(a.num.checked_mul(b.num)?, a.den.checked_mul(b.den)?)
    }

    /// Quotient, or `None` for a zero divisor or a fraction too wide to hold.
    pub fn checked_div(self, other: Self) -> Option<Self> {
        if other.num == 0 {
            return None;
        }
        self.checked_mul(Self::new(other.den, other.num)?)
    }

    /// The number with its sign turned.
    #[must_use]
    pub const fn negated(self) -> Self {
        Self { num: -self.num, den: self.den }
    }

    pub const fn is_negative(self) -> bool {
        self.num < 0
    }

    /// Nearest float, ties to even.
    pub fn to_f64(self) -> f64 {
        if self.num == 0 {
            return 0.0;
        }
        // A quotient of at least 65 significant bits with a sticky last bit rounds as the exact
        // number does. One bit at a time is slow and plain; no loop over data comes here.
        let (n, d) = (self.num.unsigned_abs(), self.den.unsigned_abs());
        let (mut q, mut rem, mut exponent) = (n / d, n % d, 0);
        while q < 1 << 65 && rem != 0 {
            rem <<= 1; // below 2^128: the denominator is below 2^127
            q = (q << 1) | u128::from(rem >= d);
            if rem >= d {
                rem -= d;
            }
            exponent -= 1;
        }
        q |= u128::from(rem != 0);
        let magnitude = q as f64 * 2f64.powi(exponent);
        if self.num < 0 { -magnitude } else { magnitude }
    }

    /// Nearest integer, ties to even; `None` when it does not fit.
    pub fn round(self) -> Option<i64> {
        let floor = self.num.div_euclid(self.den);
        let twice = self.num.rem_euclid(self.den).checked_mul(2)?;
        let up = match twice.cmp(&self.den) {
            Ordering::Less => false,
            Ordering::Greater => true,
            Ordering::Equal => floor % 2 != 0,
        };
        i64::try_from(floor + i128::from(up)).ok()
    }

    /// The integer that this is, if it is one and fits.
    pub fn as_integer(self) -> Option<i64> {
        if self.den == 1 { i64::try_from(self.num).ok() } else { None }
    }

    /// Reads a number as written: `12`, `-0.5`, `19.50`, `3/32`, `6 3/32`, `1.2e6`.
    ///
    /// The decimal sign is a point. `None` for anything else, and for more digits than can be
    /// held exactly.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let (negative, body) = match text.strip_prefix('-') {
            Some(rest) => (true, rest.trim_start()),
            None => (false, text.strip_prefix('+').unwrap_or(text)),
        };
        let value = match body.split_once('/') {
            Some((left, right)) => Self::parse_fraction(left, right)?,
            None => Self::parse_decimal(body)?,
        };
        Some(if negative { value.negated() } else { value })
    }

    fn parse_fraction(left: &str, right: &str) -> Option<Self> {
        let digits = |s: &str| -> Option<i128> {
            let s = s.trim();
            (!s.is_empty() && s.len() <= 38 && s.bytes().all(|b| b.is_ascii_digit()))
                .then(|| s.parse().ok())
                .flatten()
        };
        let den = digits(right)?;
        let mut words = left.split_whitespace();
        let (whole, num) = match (words.next()?, words.next(), words.next()) {
            (num, None, None) => (0, digits(num)?),
            (whole, Some(num), None) => (digits(whole)?, digits(num)?),
            _ => return None,
        };
        Self::new(whole.checked_mul(den)?.checked_add(num)?, den)
    }

    fn parse_decimal(body: &str) -> Option<Self> {
        let (mantissa, exponent) = match body.find(['e', 'E']) {
            Some(at) => (&body[..at], body[at + 1..].parse::<i32>().ok()?),
            None => (body, 0),
        };
        let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
        if whole.is_empty() && fraction.is_empty() {
            return None;
        }
        if !whole.bytes().chain(fraction.bytes()).all(|b| b.is_ascii_digit()) {
            return None;
        }
        let fraction = fraction.trim_end_matches('0');
        let mut num: i128 = 0;
        for b in whole.bytes().chain(fraction.bytes()) {
            num = num.checked_mul(10)?.checked_add(i128::from(b - b'0'))?;
        }
        let power = exponent.checked_sub(i32::try_from(fraction.len()).ok()?)?;
        let scale = 10i128.checked_pow(power.unsigned_abs())?;
        if power >= 0 { Self::new(num.checked_mul(scale)?, 1) } else { Self::new(num, scale) }
    }
}

impl PartialOrd for Rational {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Rational {
    fn cmp(&self, other: &Self) -> Ordering {
        let wide = (self.num.checked_mul(other.den), other.num.checked_mul(self.den));
        if let (Some(a), Some(b)) = wide {
            return a.cmp(&b);
        }
        // Too wide to cross-multiply: compare whole parts, then the remainders' reciprocals.
        let (a, b) = (self.num.div_euclid(self.den), other.num.div_euclid(other.den));
        let (ra, rb) = (self.num.rem_euclid(self.den), other.num.rem_euclid(other.den));
        a.cmp(&b).then_with(|| match (ra == 0, rb == 0) {
            (true, true) => Ordering::Equal,
            (true, false) => Ordering::Less,
            (false, true) => Ordering::Greater,
            (false, false) => {
                Self { num: other.den, den: rb }.cmp(&Self { num: self.den, den: ra })
            }
        })
    }
}

impl fmt::Display for Rational {
    /// Writes the shortest exact spelling: an integer, a decimal where it ends, else a fraction.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (mut rest, mut twos, mut fives) = (self.den, 0u32, 0u32);
        while rest % 2 == 0 {
            rest /= 2;
            twos += 1;
        }
        while rest % 5 == 0 {
            rest /= 5;
            fives += 1;
        }
        let places = twos.max(fives);
        let scaled = (rest == 1)
            .then(|| 10i128.checked_pow(places)?.checked_div(self.den)?.checked_mul(self.num))
            .flatten();
        let Some(scaled) = scaled else { return write!(f, "{}/{}", self.num, self.den) };
        let sign = if scaled < 0 { "-" } else { "" };
        let places = places as usize;
        let digits = format!("{:0>width$}", scaled.unsigned_abs(), width = places + 1);
        let (whole, fraction) = digits.split_at(digits.len() - places);
        write!(f, "{sign}{whole}{}{fraction}", if places == 0 { "" } else { "." })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn r(text: &str) -> Rational {
        Rational::parse(text).unwrap()
    }

    #[test]
    fn reads_what_people_write() {
        assert_eq!(r("6 3/32"), Rational::new(195, 32).unwrap());
        assert_eq!(r("3/32"), Rational::new(3, 32).unwrap());
        assert_eq!(r("19.50"), Rational::new(39, 2).unwrap());
        assert_eq!(r("-.5"), Rational::new(-1, 2).unwrap());
        assert_eq!(r("1.2e3"), Rational::integer(1200));
        assert_eq!(r("-2 1/2"), Rational::new(-5, 2).unwrap());
        for bad in
            ["", " ", "-", ".", "1/0", "1 2", "1 2 3/4", "0x10", "nan", "1,5", "--1", "1e999"]
        {
            assert_eq!(Rational::parse(bad), None, "{bad:?}");
        }
    }

    #[test]
    fn writes_shortest_exact_spelling() {
        for (text, shown) in
            [("6 3/32", "6.09375"), ("1/3", "1/3"), ("-0.5", "-0.5"), ("100", "100"), ("0", "0")]
        {
            assert_eq!(r(text).to_string(), shown);
        }
    }

    #[test]
    fn rounds_ties_to_even() {
        assert_eq!(r("2.5").round(), Some(2));
        assert_eq!(r("3.5").round(), Some(4));
        assert_eq!(r("-2.5").round(), Some(-2));
        assert_eq!(r("-0.6").round(), Some(-1));
    }

    proptest! {
        #[test]
        fn float_is_the_nearest(num in -1_000_000_000_000_000i64..1_000_000_000_000_000, den in 1i64..1_000_000_000_000) {
            // both fit in 53 bits, so the hardware division is correctly rounded
            let exact = Rational::new(i128::from(num), i128::from(den)).unwrap();
            prop_assert_eq!(exact.to_f64().to_bits(), (num as f64 / den as f64 + 0.0).to_bits());
        }

        #[test]
        fn display_reads_back(num in any::<i64>(), den in 1i64..10_000_000) {
            let x = Rational::new(i128::from(num), i128::from(den)).unwrap();
            prop_assert_eq!(Rational::parse(&x.to_string()), Some(x));
        }

        #[test]
        fn wide_numbers_still_compare(a in any::<i64>(), b in any::<i64>(), p in 1i64..i64::MAX, q in 1i64..i64::MAX) {
            let wide = |n: i64, d: i64| Rational::new(i128::from(n) * 1_000_000_007, i128::from(d) * 998_244_353).unwrap();
            let (x, y) = (wide(a, p), wide(b, q));
            let exact = (i128::from(a) * i128::from(q)).cmp(&(i128::from(b) * i128::from(p)));
            prop_assert_eq!(x.cmp(&y), exact);
        }
    }
}
