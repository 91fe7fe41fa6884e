//! Stress concentration at slip cuts and pits.
//!
//! Inglis 1913: an elliptical notch of depth a and root radius ρ raises the stress by 1 + 2√(a/ρ).
//! Fatigue feels less of it in soft steel and at sharp roots: Peterson (recalled)
//! Kf = 1 + (Kt − 1)/(1 + α/ρ), α = 0.0254 mm·(2070 MPa/Su)^1.8. An aid to choose the concentration
//! factor of a place from an inspection's reading; a measured or analysed factor comes first.

/// Concentration factor of a notch (depth and root radius in m) by Inglis.
pub fn notch_factor(depth: f64, root_radius: f64) -> f64 {
    if depth <= 0.0 || root_radius <= 0.0 {
        return 1.0;
    }
    1.0 + 2.0 * (depth / root_radius).sqrt()
}

/// Fatigue notch factor by Peterson for a steel of this ultimate strength (Pa).
pub fn fatigue_notch_factor(depth: f64, root_radius: f64, ultimate_strength: f64) -> f64 {
    if depth <= 0.0 || root_radius <= 0.0 {
        return 1.0;
    }
    let length = 0.0254e-3 * libm::pow(2070.0e6 / ultimate_strength, 1.8);
    1.0 + (notch_factor(depth, root_radius) - 1.0) / (1.0 + length / root_radius)
}
