//! Wear of tool joints and hardband: work of the side force, sliding distance, fitted wear factor.
//!
//! The linear model (worn volume = factor × work) is approximate, and published factors differ by
//! an order of magnitude; so the book keeps work and measured loss of diameter, and the factor is
//! fitted per hardband and mud.

use core::f64::consts::PI;

/// Sliding distance of a tool joint's surface (m): π·D per turn.
pub fn sliding_distance(diameter: f64, revolutions: f64) -> f64 {
    PI * diameter * revolutions
}

/// Work of the side force on one joint (J): force on the joint (N) times sliding distance.
pub fn side_force_work(force: f64, diameter: f64, revolutions: f64) -> f64 {
    force * sliding_distance(diameter, revolutions)
}

/// Volume (m³) worn off a tool joint of this length (m) between two diameters (m).
pub fn worn_volume(diameter_before: f64, diameter_after: f64, length: f64) -> f64 {
    PI / 4.0 * (diameter_before * diameter_before - diameter_after * diameter_after) * length
}

/// A fitted wear factor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WearFactor {
    /// Worn volume per work, 1/Pa.
    pub factor: f64,
    /// Standard error of the factor; none from fewer than two samples.
    pub standard_error: Option<f64>,
    /// Samples used.
    pub samples: usize,
}

/// Fits worn volume (m³) = factor × work (J) through zero by least squares over (work, volume)
/// pairs. None without a sample of positive work.
pub fn fit_wear_factor(samples: &[(f64, f64)]) -> Option<WearFactor> {
    let used: Vec<_> =
        samples.iter().filter(|(w, v)| *w > 0.0 && w.is_finite() && v.is_finite()).collect();
    let square: f64 = used.iter().map(|(w, _)| w * w).sum();
    if used.is_empty() {
        return None;
    }
    let factor = used.iter().map(|(w, v)| w * v).sum::<f64>() / square;
    let standard_error = (used.len() > 1).then(|| {
        let left: f64 = used.iter().map(|(w, v)| (v - factor * w) * (v - factor * w)).sum();
        (left / (used.len() - 1) as f64 / square).sqrt()
    });
    Some(WearFactor { factor, standard_error, samples: used.len() })
}

#[cfg(test)]
mod tests {
    use super::*;

    const INCH: f64 = 0.0254;
    const FOOT: f64 = 0.3048;
    const POUND: f64 = 4.448_221_615_260_5;

    /// 2,000 lb on a 6 5/8 in tool joint, 120 rpm for 50 h: 624,392 ft and 1.249e9 ft·lb, by hand.
    #[test]
    fn a_worked_example() {
        let turns = 120.0 * 60.0 * 50.0;
        let distance = sliding_distance(6.625 * INCH, turns);
        assert!((distance / FOOT - 624_392.0).abs() < 1.0);
        let work = side_force_work(2_000.0 * POUND, 6.625 * INCH, turns);
        assert!((work / (POUND * FOOT) / 1.249e9 - 1.0).abs() < 5e-4);
    }

    #[test]
    fn an_exact_line_is_found_without_error() {
        let samples: Vec<_> = (1..6).map(|i| (f64::from(i) * 1e8, f64::from(i) * 3e-6)).collect();
        let fit = fit_wear_factor(&samples).unwrap();
        assert!((fit.factor / 3e-14 - 1.0).abs() < 1e-12);
        assert!(fit.standard_error.unwrap() < 1e-20);
        assert!(fit_wear_factor(&[(0.0, 1e-6)]).is_none());
        assert!(fit_wear_factor(&[(1e8, 2e-6)]).unwrap().standard_error.is_none());
    }

    #[test]
    fn volume_of_a_ring() {
        let v = worn_volume(0.168, 0.165, 0.25);
        assert!((v - PI / 4.0 * (0.168 * 0.168 - 0.165 * 0.165) * 0.25).abs() < 1e-18);
    }
}
