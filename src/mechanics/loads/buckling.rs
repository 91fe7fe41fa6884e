//! Critical compression of a string in a hole.
//!
//! Dawson & Paslay 1984 (SPE 11167): the low side of an inclined hole holds pipe straight up to
//! 2√(EI·q/r), with q the force per metre that presses it against the hole, here w sin I, or in a
//! curved hole √[(w sin I + F dI/ds)² + (F sin I dA/ds)²] (form recalled, not read). Helical
//! buckling starts at √2 to 2√2 − 1 times as much; 2√2 − 1 = 1.83 belongs to a slowly loaded
//! string, √2 is the earlier, cautious figure and the one used here. In a vertical hole the
//! low side is gone; there Lubinski's first order 1.94·(EI·w²)^⅓ (1950, recalled) applies.

/// A string of one size at one place of the hole. Compression is positive here.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Bending stiffness EI, N·m².
    pub stiffness: f64,
    pub weight: f64,
    /// Radial clearance, m: half of hole diameter less contact diameter.
    pub clearance: f64,
    pub inc: f64,
    pub build: f64,
    /// Turn rate, rad/m (0 where the hole is vertical).
    pub turn: f64,
}

/// Sinusoidal to helical, the cautious factor.
const HELICAL: f64 = core::f64::consts::SQRT_2;

impl Column {
    /// Force per metre that holds the string against the hole under a compression, N/m.
    fn hold(&self, compression: f64) -> f64 {
        let sin = libm::sin(self.inc);
        libm::hypot(self.weight * sin + compression * self.build, compression * sin * self.turn)
    }

    /// 4EI/r, whose product with the hold is the square of the critical compression, and the
    /// critical compression of a vertical hole; both infinite without clearance.
    pub fn limits(&self) -> (f64, f64) {
        if self.clearance <= 0.0 {
            return (f64::INFINITY, f64::INFINITY);
        }
        let vertical = 1.94 * libm::cbrt(self.stiffness * self.weight * self.weight);
        (4.0 * self.stiffness / self.clearance, vertical)
    }

    /// Lowest compression at which it buckles into a sinusoid, N; infinite without clearance.
    pub fn sinusoidal(&self) -> f64 {
        let (scale, vertical) = self.limits();
        if vertical.is_infinite() {
            return vertical;
        }
        self.held(scale).max(vertical)
    }

    /// Lowest compression at which it buckles into a helix, N (√2 times the load of the same
    /// contact).
    pub fn helical(&self) -> f64 {
        let (scale, vertical) = self.limits();
        if vertical.is_infinite() {
            return vertical;
        }
        self.held(HELICAL * HELICAL * scale).max(HELICAL * vertical)
    }

    /// Smallest root of F² = scale·hold(F): walks up until the string is no longer held, then
    /// bisects.
    fn held(&self, scale: f64) -> f64 {
        let free = |f: f64| f * f > scale * self.hold(f);
        let straight = (scale * self.hold(0.0)).sqrt();
        let curved = scale * libm::hypot(self.build, libm::sin(self.inc) * self.turn);
        let highest = straight + curved;
        if highest <= 0.0 {
            return 0.0;
        }
        let steps = 256;
        let mut low = 0.0;
        for i in 1..=steps {
            let high = highest * f64::from(i) / f64::from(steps);
            if free(high) {
                let (mut low, mut high) = (low, high);
                for _ in 0..200 {
                    let middle = 0.5 * (low + high);
                    if middle <= low || middle >= high {
                        break;
                    }
                    if free(middle) { high = middle } else { low = middle }
                }
                return high;
            }
            low = high;
        }
        highest
    }
}
