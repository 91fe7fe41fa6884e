//! The arithmetic of many pieces at once: straight loops over columns, no branches, one
//! exponential, one root and one division per point.
//!
//! Every operation is an IEEE add, subtract, multiply, divide, root or bit shift in an order that
//! is written here, so a vector unit of any width gives the bits that the scalar loop gives. No
//! multiplication is fused with an addition.

#![expect(
    clippy::inline_always,
    reason = "a function compiled for wider vectors only passes that on to what is inlined into it"
)]

use super::response::Life;

/// Pieces worked on together.
pub(super) const WIDTH: usize = 128;

pub(super) type Column = [f64; WIDTH];

const LOG2_E: f64 = core::f64::consts::LOG2_E;
/// ln 2 in two parts; products of the first with small integers are exact.
const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
/// The rest of ln 2.
const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
/// 1.5·2⁵²: adding it leaves the nearest integer in the low bits.
pub(super) const ROUNDER: f64 = 6_755_399_441_055_744.0;
/// Arguments below this count as this: e^−690 is nothing against 1.
const LOWEST: f64 = -690.0;

/// e^x for x from −690 to 0, to within 1e-14: x = n·ln 2 + r, |r| ≤ ½ ln 2, the Taylor polynomial of
/// degree 11 in r (its next term is below 7e-15), and n added to the exponent. The polynomial is
/// added up in pairs, which keeps its chain of dependent operations short.
#[inline(always)]
pub(super) fn exp_of_negative(x: f64) -> f64 {
    let x = if x < LOWEST { LOWEST } else { x };
    let shifted = x * LOG2_E + ROUNDER;
    let n = shifted - ROUNDER;
    let r = (x - n * LN2_HIGH) - n * LN2_LOW;
    let r2 = r * r;
    let r4 = r2 * r2;
    let p01 = 1.0 + r;
    let p23 = 0.5 + r * (1.0 / 6.0);
    let p45 = 1.0 / 24.0 + r * (1.0 / 120.0);
    let p67 = 1.0 / 720.0 + r * (1.0 / 5_040.0);
    let p89 = 1.0 / 40_320.0 + r * (1.0 / 362_880.0);
    let pab = 1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0);
    let low = p01 + r2 * p23;
    let middle = p45 + r2 * p67;
    let high = p89 + r2 * pab;
    let p = low + r4 * (middle + r4 * high);
    let scale = f64::from_bits(shifted.to_bits().wrapping_add(1023) << 52);
    p * scale
}

/// Largest of a column; the order of comparison doesn't matter.
#[inline(always)]
pub(super) fn highest(column: &[f64]) -> f64 {
    let mut lanes = [f64::NEG_INFINITY; 8];
    let (whole, rest) = column.as_chunks::<8>();
    for x in whole {
        for i in 0..8 {
            lanes[i] = if x[i] > lanes[i] { x[i] } else { lanes[i] };
        }
    }
    rest.iter().chain(&lanes).copied().fold(f64::NEG_INFINITY, f64::max)
}

/// Smallest of a column.
#[inline(always)]
pub(super) fn lowest(column: &[f64]) -> f64 {
    let mut lanes = [f64::INFINITY; 8];
    let (whole, rest) = column.as_chunks::<8>();
    for x in whole {
        for i in 0..8 {
            lanes[i] = if x[i] < lanes[i] { x[i] } else { lanes[i] };
        }
    }
    rest.iter().chain(&lanes).copied().fold(f64::INFINITY, f64::min)
}

/// Magnification at the tool joint (`END`) or at mid-span, as numerator and denominator, from
/// u = TL²/EI. Below u = 1e-6 the series.
#[inline(always)]
pub(super) fn magnification<const END: bool>(u: f64) -> (f64, f64) {
    let kl = u.sqrt();
    let small = u < 1e-6;
    if END {
        let e = exp_of_negative(-2.0 * kl);
        let top = if small { 1.0 + u * (1.0 / 3.0) } else { kl * (1.0 + e) };
        let bottom = if small { 1.0 } else { 1.0 - e };
        (top, bottom)
    } else {
        let e = exp_of_negative(-kl);
        let top = if small { 1.0 - u * (1.0 / 6.0) } else { (2.0 * kl) * e };
        let bottom = if small { 1.0 } else { 1.0 - e * e };
        (top, bottom)
    }
}

/// F·L²/EI up to which the series of [`magnification_either`] hold, in compression: kL = 3.
const MOST_COMPRESSED: f64 = -9.0;

/// What divides one term of sin √w/√w and of cos √w by the one before, from the last to the first.
const SERIES: [(f64, f64); 11] = {
    let mut series = [(0.0, 0.0); 11];
    let (mut i, mut k) = (0, 22.0);
    while i < 11 {
        series[i] = (1.0 / (k * (k + 1.0)), 1.0 / (k * (k - 1.0)));
        i += 1;
        k -= 2.0;
    }
    series
};

/// Magnification at the tool joint (`END`) or at mid-span for tension and compression, from
/// v = FL²/EI. With w = −v/4, S = sin √w/√w and C = cos √w compression gives
/// u/tan u = (C² − wS²)/SC, at the ends without its sign, and u/sin u = 1/SC; both by their series.
#[inline(always)]
fn magnification_either<const END: bool>(v: f64) -> (f64, f64) {
    let (tension_top, tension_bottom) = magnification::<END>(if v > 0.0 { v } else { 0.0 });
    let within = if v > MOST_COMPRESSED { v } else { MOST_COMPRESSED };
    let w = if within < 0.0 { -0.25 * within } else { 0.0 };
    let mut s = 1.0;
    let mut c = 1.0;
    for (of_s, of_c) in SERIES {
        s = 1.0 - s * (w * of_s);
        c = 1.0 - c * (w * of_c);
    }
    let top = if END { (c * c - w * (s * s)).abs() } else { 1.0 };
    let compressed = v < 0.0;
    (if compressed { top } else { tension_top }, if compressed { s * c } else { tension_bottom })
}

/// Constants of a place, as in `Response`, for the loops.
#[derive(Debug, Clone, Copy)]
pub(super) struct Constants {
    /// L²/EI, 1/N.
    pub slenderness: f64,
    /// 1/A.
    pub per_area: f64,
    /// Mean-stress factor, linear, 1/Pa.
    pub linear: f64,
    /// Mean-stress factor, square, 1/Pa².
    pub square: f64,
    pub least: f64,
    /// From curvature (rad/m) to unmagnified stress range, MPa.
    pub scale: f64,
    /// L²/Δ, m: from curvature to how far the tube is from touching a wall; 0 where nobody knows.
    pub reach: f64,
}

impl Constants {
    /// Stress range (MPa) and, for the largest bending stress, the range without mean-stress
    /// correction, at a tension (or, where it is to hold on `EITHER` side of zero, at a compression)
    /// and curvature, the tube free of the wall.
    #[inline(always)]
    pub(super) fn range<const END: bool, const EITHER: bool>(
        &self,
        tension: f64,
        curvature: f64,
    ) -> (f64, f64) {
        let t = if tension > 0.0 { tension } else { 0.0 };
        let (top, bottom) = if EITHER {
            magnification_either::<END>(tension * self.slenderness)
        } else {
            magnification::<END>(t * self.slenderness)
        };
        let reserve = self.reserve(t);
        let range = self.scale * curvature * top / (bottom * reserve);
        (range, range * reserve)
    }

    /// 1 less what the mean stress of a tension, not below 0, takes of the strength.
    #[inline(always)]
    pub(super) fn reserve(&self, tension: f64) -> f64 {
        let mean = tension * self.per_area;
        let left = 1.0 - mean * (self.linear + self.square * mean);
        if left > self.least { left } else { self.least }
    }

    /// Above 1 wherever the tube may touch a wall at tensions between these and this curvature: by
    /// tanh h ≥ h/(1 + h²/3), and by tan h ≤ h/(1 − 4h²/π²) in compression (Becker & Stark 1978,
    /// recalled).
    #[inline(always)]
    pub(super) fn touch(&self, low: f64, high: f64, curvature: f64) -> f64 {
        const POLE: f64 = core::f64::consts::PI * core::f64::consts::PI;
        let pulled = if high > 0.0 { high * self.slenderness } else { 0.0 };
        let pressed = if low < 0.0 { -low * self.slenderness } else { 0.0 };
        let room = if POLE - pressed > 1e-3 { POLE - pressed } else { 1e-3 };
        let (pulled, pressed) = (pulled / (12.0 + pulled), pressed / room);
        let sag = if pulled > pressed { pulled } else { pressed };
        0.5 * curvature * self.reach * sag
    }
}

/// S to the power of `HALVES`/2, for the slopes of the published curves: 3, 3.5, 4, 5.
#[inline(always)]
fn power<const HALVES: u8>(s: f64) -> f64 {
    let square = s * s;
    match HALVES {
        6 => square * s,
        7 => square * s * s.sqrt(),
        8 => square * square,
        _ => square * square * s,
    }
}

/// Which powers a curve needs.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Powers {
    /// Twice the slope above and below the knee.
    Halves(u8, u8),
    /// Some other slope: a general power, one at a time.
    General,
}

/// An S–N curve for the loops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cycles {
    life: Life,
    powers: Powers,
}

impl Cycles {
    pub(super) fn new(life: Life) -> Self {
        let same = |a: f64, b: f64| a.to_bits() == b.to_bits();
        let halves = |m: f64| [6_u8, 7, 8, 10].into_iter().find(|h| same(2.0 * m, f64::from(*h)));
        let powers = match (halves(life.first.0), halves(life.second.0)) {
            (Some(a), Some(b)) if b == a || b == 10 => Powers::Halves(a, b),
            _ => Powers::General,
        };
        Self { life, powers }
    }

    /// Stress range at the knee, MPa; 0 without one.
    pub(super) fn knee(&self) -> f64 {
        self.life.knee
    }

    #[inline(always)]
    fn loop_over<const A: u8, const B: u8>(
        &self,
        range: &[f64],
        rate: &mut [f64],
        add: impl Fn(f64, f64) -> f64,
    ) {
        let (above, below, knee) = (self.life.first.1, self.life.second.1, self.life.knee);
        for (r, s) in rate.iter_mut().zip(range) {
            let high = power::<A>(*s) * above;
            let low = power::<B>(*s) * below;
            *r = add(*r, if *s >= knee { high } else { low });
        }
    }

    /// Sets each rate to `add` of it and the damage per turn at each stress range.
    #[inline(always)]
    pub(super) fn rate(&self, range: &[f64], rate: &mut [f64], add: impl Fn(f64, f64) -> f64) {
        match self.powers {
            Powers::Halves(6, 10) => self.loop_over::<6, 10>(range, rate, add),
            Powers::Halves(7, 10) => self.loop_over::<7, 10>(range, rate, add),
            Powers::Halves(8, 10) => self.loop_over::<8, 10>(range, rate, add),
            Powers::Halves(6, 6) => self.loop_over::<6, 6>(range, rate, add),
            Powers::Halves(7, 7) => self.loop_over::<7, 7>(range, rate, add),
            Powers::Halves(8, 8) => self.loop_over::<8, 8>(range, rate, add),
            Powers::Halves(..) => self.loop_over::<10, 10>(range, rate, add),
            Powers::General => {
                for (r, s) in rate.iter_mut().zip(range) {
                    *r = add(*r, self.life.damage(*s));
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanics::bending::magnification::{at_mid_span, at_tool_joint};

    #[test]
    fn the_exponential_is_one() {
        let mut worst = 0.0_f64;
        for i in 0..200_000 {
            let x = -f64::from(i) * 3.44e-3;
            let exact = libm::exp(x);
            worst = worst.max((exp_of_negative(x) / exact - 1.0).abs());
        }
        assert!(worst < 1e-14, "{worst}");
        assert!(exp_of_negative(0.0).to_bits() == 1.0_f64.to_bits());
        assert!(exp_of_negative(-1e9) < 1e-299);
    }

    #[test]
    fn magnification_is_that_of_the_bending_room() {
        for i in 0..4_000 {
            let u = libm::exp(-20.0 + 0.007 * f64::from(i));
            let (top, bottom) = magnification::<true>(u);
            assert!((top / bottom / at_tool_joint(u).unwrap() - 1.0).abs() < 1e-9, "{u}");
            let (top, bottom) = magnification::<false>(u);
            assert!((top / bottom / at_mid_span(u).unwrap() - 1.0).abs() < 1e-9, "{u}");
        }
        assert!((magnification::<true>(0.0).0 - 1.0).abs() < 1e-15);
        for i in 0..9_000 {
            let v = -1e-3 * f64::from(i);
            let (top, bottom) = magnification_either::<true>(v);
            let exact = at_tool_joint(v).unwrap().abs();
            assert!((top / bottom - exact).abs() < 1e-13 * exact.max(1.0), "{v}");
            let (top, bottom) = magnification_either::<false>(v);
            assert!((top / bottom / at_mid_span(v).unwrap() - 1.0).abs() < 1e-12, "{v}");
        }
    }

    #[test]
    fn powers_are_powers() {
        let s = 87.3_f64;
        for (got, m) in [
            (power::<6>(s), 3.0),
            (power::<7>(s), 3.5),
            (power::<8>(s), 4.0),
            (power::<10>(s), 5.0),
        ] {
            assert!((got / libm::pow(s, m) - 1.0).abs() < 1e-14);
        }
    }

    #[test]
    fn extremes_of_a_column() {
        let column: Vec<f64> = (0..29).map(|i| f64::from((i * 7) % 29) - 9.0).collect();
        assert!((highest(&column) - 19.0).abs() < 1e-15);
        assert!((lowest(&column) + 9.0).abs() < 1e-15);
    }
}
