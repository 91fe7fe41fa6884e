//! Gauss–Legendre nodes and weights.

/// Nodes and weights on 0 to 1 for `n` points: Newton on the Legendre polynomial, from Chebyshev
/// starting values.
pub(super) fn gauss_legendre(n: usize) -> Vec<(f64, f64)> {
    let n = n.clamp(1, 16);
    let mut rule = Vec::with_capacity(n);
    for i in 0..n {
        let mut x = libm::cos(core::f64::consts::PI * (i as f64 + 0.75) / (n as f64 + 0.5));
        let mut slope = 1.0;
        for _ in 0..100 {
            let (value, derivative) = legendre(n, x);
            slope = derivative;
            let step = value / derivative;
            x -= step;
            if step.abs() < 1e-16 {
                break;
            }
        }
        let weight = 2.0 / ((1.0 - x * x) * slope * slope);
        rule.push((0.5 * (1.0 - x), 0.5 * weight));
    }
    rule
}

/// Legendre polynomial of degree `n` and its derivative.
fn legendre(n: usize, x: f64) -> (f64, f64) {
    let (mut before, mut value) = (1.0, x);
    for k in 2..=n {
        let k = k as f64;
        let next = ((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k;
        before = value;
        value = next;
    }
    let degree = n as f64;
    (value, degree * (x * value - before) / (x * x - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_integrate_their_polynomials() {
        for n in 1..=16 {
            let rule = gauss_legendre(n);
            for power in 0..i32::try_from(2 * n).unwrap() {
                let sum: f64 = rule.iter().map(|(x, w)| w * x.powi(power)).sum();
                let exact = 1.0 / f64::from(power + 1);
                assert!((sum - exact).abs() < 1e-14, "{n} points, power {power}: {sum}");
            }
        }
    }
}
