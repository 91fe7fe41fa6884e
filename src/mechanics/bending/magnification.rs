//! Bending between tool joints, the tube free of the wall.
//!
//! Lubinski 1961 (SPE 1543-G): in a hole of curvature c the pipe is held tangent to the hole at its
//! tool joints. With L half the distance between them and F the axial force, the tube obeys
//! y'''' = (F/EI) y'', and its curvature at a distance x from mid-span is
//! c·KL·cosh(Kx)/sinh(KL) in tension and c·kL·cos(kx)/sin(kL) in compression, K² = |F|/EI.
//! Everything is written in u = F·L²/EI, tension positive.

/// Curvature at the tool joint over curvature of the hole: KL/tanh KL, or kL/tan kL in compression.
/// None at and beyond kL = π, where the free span has no solution.
pub fn at_tool_joint(u: f64) -> Option<f64> {
    at_position(u, 1.0)
}

/// Curvature at mid-span over curvature of the hole: KL/sinh KL, or kL/sin kL in compression.
pub fn at_mid_span(u: f64) -> Option<f64> {
    at_position(u, 0.0)
}

/// Curvature at a place over curvature of the hole; `place` is 0 at mid-span, 1 at the tool joint.
pub fn at_position(u: f64, place: f64) -> Option<f64> {
    if !u.is_finite() {
        return None;
    }
    if u.abs() < 1e-6 {
        // both forms meet in 1 + u(3·place² − 1)/6
        return Some(1.0 + u * (3.0 * place * place - 1.0) / 6.0);
    }
    let kl = u.abs().sqrt();
    if u > 0.0 {
        // exponentials that can't overflow
        let near = libm::exp(-kl * (1.0 - place));
        let far = libm::exp(-kl * (1.0 + place));
        return Some(kl * (near + far) / -libm::expm1(-2.0 * kl));
    }
    if kl >= core::f64::consts::PI {
        return None;
    }
    Some(kl * libm::cos(kl * place) / libm::sin(kl))
}
