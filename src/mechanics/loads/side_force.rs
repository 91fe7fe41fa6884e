//! Contact force per metre of a string lying in a hole.
//!
//! Equilibrium across the string: the tension pulls to the inside of the bend with Tκ, the weight
//! presses down with its part across the hole. In components (tangent t, normal n, binormal b,
//! down k): |F| = √[(Tκ + w n·k)² + (w b·k)²]. In a plane build that is |w sin I − T dI/ds|, in a
//! straight piece w sin I; in general the form of Johancsik et al. 1984,
//! √[(T sin I dA/ds)² + (w sin I − T dI/ds)²], with depth counted downwards.
#![expect(
    clippy::inline_always,
    reason = "a function compiled for wider vectors only passes that on to what is inlined into it"
)]

/// Side force per metre towards the centre of the bend, N/m: effective tension (N), curvature
/// (rad/m), buoyed weight (N/m) and the downward component of the normal.
#[inline(always)]
pub(in crate::mechanics) fn inward(tension: f64, curvature: f64, weight: f64, normal: f64) -> f64 {
    tension * curvature + weight * normal
}

/// Square of the side force per metre, from its parts in the plane of the bend and across it, N/m.
#[inline(always)]
pub(in crate::mechanics) fn side_force_squared(inward: f64, across: f64) -> f64 {
    inward * inward + across * across
}
