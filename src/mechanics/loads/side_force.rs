//! Contact force per metre of a string lying in a hole.

use crate::mechanics::path::Path;

/// Side force per metre, N/m, at a depth, for an effective tension (N) and a buoyed weight (N/m).
///
/// Equilibrium across the string: the tension pulls to the inside of the bend with Tκ, the weight
/// presses down with its part across the hole. In components (tangent t, normal n, binormal b,
/// down k): |F| = √[(Tκ + w n·k)² + (w b·k)²]. In a plane build that is |w sin I − T dI/ds|, in a
/// straight piece w sin I; in general the form of Johancsik et al. 1984,
/// √[(T sin I dA/ds)² + (w sin I − T dI/ds)²], with depth counted downwards.
pub fn side_force(path: &Path, md: f64, tension: f64, weight: f64) -> f64 {
    if md < 0.0 {
        return 0.0;
    }
    let arc = &path.arcs()[path.arc_index(md)];
    let s = md - arc.md;
    if arc.curvature == 0.0 {
        let t = arc.tangent_at(s);
        return weight * libm::hypot(t.north, t.east);
    }
    let in_plane = tension * arc.curvature + weight * arc.normal_at(s).down;
    let across = weight * arc.binormal_down();
    (in_plane * in_plane + across * across).sqrt()
}
