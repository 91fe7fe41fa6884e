//! Torque of a rotary shouldered connection by the screw-jack formula, with every intermediate.
//!
//! `T = S A [ p/(2π) + R_t f / cos θ + R_s f ]`
//!
//! Source: Farr 1957; API RP 7G Appendix A (16th edition A.8, A.9 by the 2003 addendum). The form
//! and f = 0.08 were read in the abstract of SPE Drilling Engineering 8:3 (1993) and on a one-page
//! DS-1 formula sheet (published). The formula gives the stress of the weaker member at its critical
//! section; which member that is stands in the result.
//!
//! Limits: single-shoulder API connections with clean, doped threads; nominal thread geometry (worn
//! or stretched threads are not in it); steel. The torque at yield is no operating torque, and
//! make-up preload is the design stress of the table, not a measured one.

use std::f64::consts::PI;

use super::catalogue::{ConnectionType, Style};
use super::error::ConnectionError;
use super::geometry::Connection;
use crate::mechanics::tube::input::{MAX_STRESS, Quantity, positive};
use crate::mechanics::tube::us::{INCH, KSI};

/// Minimum yield of tool joints, Pa: 120 ksi (published: API Spec 5D reprint).
pub const TOOL_JOINT_YIELD: f64 = 120.0 * KSI;
/// Make-up stress of tool joints, Pa: 72 ksi, 60 % of yield (published: a drilling manual page).
pub const TOOL_JOINT_MAKEUP: f64 = 72.0 * KSI;
/// Make-up stress of drill-collar connections, Pa: 62.5 ksi (memory: RP 7G Table 14; it fits a
/// published table of that family).
pub const COLLAR_MAKEUP: f64 = 62.5 * KSI;
/// Make-up stress of H-90 collar connections, Pa: 56.2 ksi (memory: RP 7G Table 14; a published
/// row of 3 1/2 H-90 fits it).
pub const COLLAR_MAKEUP_H90: f64 = 56.2 * KSI;
/// Minimum yield of heavy-weight drill-pipe tool joints, Pa: 110 ksi (memory; a recalled table of
/// such joints reproduces with it, and not with 120 ksi).
pub const HEAVY_WEIGHT_YIELD: f64 = 110.0 * KSI;

/// Returns the minimum yield of drill-collar steel for an outside diameter (m), Pa.
///
/// 110 ksi up to 6 7/8 in, 100 ksi from 7 in up. Source: API Spec 7, in a collar catalogue of 2003
/// (published). A bar between the two sizes gets the lower value.
pub fn collar_yield(od: f64) -> f64 {
    // Half a thousandth for diameters that come from millimetres.
    if od <= 6.875 * INCH + 1.0e-5 { 110.0 * KSI } else { 100.0 * KSI }
}

/// How the shoulder's friction radius takes the outside diameter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum RsRule {
    /// `R_s` from the outside diameter as listed: RP 7G Table 9 as printed in 1998.
    ListedOd,
    /// `R_s` from the outside diameter, but not more than the one at which box and pin areas are
    /// equal: the text of the standard and the tables after the May 2000 errata.
    #[default]
    Capped,
}

/// What limited the outer diameter in `R_s`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RsLimit {
    /// The outside diameter itself.
    OutsideDiameter,
    /// The bevel or a smaller pin shoulder.
    Contact,
    /// The diameter of equal areas.
    EqualAreas,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Member {
    Pin,
    Box,
}

impl std::fmt::Display for Member {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Pin => "pin",
            Self::Box => "box",
        })
    }
}

/// Friction of threads and shoulder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Friction {
    /// Coefficient with the reference compound: 0.08.
    pub base: f64,
    /// Friction factor of the compound by API RP 7A1, printed on the drum; 1 is the reference.
    pub compound_factor: f64,
}

impl Default for Friction {
    fn default() -> Self {
        Self { base: 0.08, compound_factor: 1.0 }
    }
}

impl Friction {
    /// Returns the friction of a compound with this factor.
    pub fn with_compound(compound_factor: f64) -> Self {
        Self { compound_factor, ..Self::default() }
    }

    /// Returns the coefficient in the formula, base × factor.
    pub fn coefficient(self) -> Result<f64, ConnectionError> {
        let base = positive(Quantity::Friction, self.base, 1.0)?;
        let factor = positive(Quantity::CompoundFactor, self.compound_factor, 10.0)?;
        Ok(base * factor)
    }
}

/// The stress, friction and rule that a torque stands on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorqueBasis {
    /// Stress in the weaker member, Pa.
    pub stress: f64,
    pub friction: Friction,
    /// Rule for the shoulder radius.
    pub rs_rule: RsRule,
}

impl TorqueBasis {
    /// A basis with this stress (Pa), 0.08 friction and the capped shoulder radius.
    pub fn at_stress(stress: f64) -> Self {
        Self { stress, friction: Friction::default(), rs_rule: RsRule::default() }
    }

    /// Make-up of a tool joint, 72 ksi.
    pub fn tool_joint_makeup() -> Self {
        Self::at_stress(TOOL_JOINT_MAKEUP)
    }

    /// Make-up of a drill-collar connection: 62.5 ksi, H-90 56.2 ksi. The tables give it as a
    /// minimum.
    pub fn collar_makeup(connection: ConnectionType) -> Self {
        Self::at_stress(match connection.spec().style {
            Style::H90 => COLLAR_MAKEUP_H90,
            Style::Nc | Style::FullHole | Style::Regular => COLLAR_MAKEUP,
        })
    }

    /// The same basis under another shoulder-radius rule.
    #[must_use]
    pub fn with_rule(self, rs_rule: RsRule) -> Self {
        Self { rs_rule, ..self }
    }

    /// The same basis with another compound.
    #[must_use]
    pub fn with_friction(self, friction: Friction) -> Self {
        Self { friction, ..self }
    }
}

/// A torque with all that led to it. SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorqueRating {
    /// What it stands on.
    pub basis: TorqueBasis,
    pub friction: f64,
    /// Pin area `A_p`, m².
    pub pin_area: f64,
    /// Box area `A_b`, m².
    pub box_area: f64,
    /// Mean thread radius `R_t`, m.
    pub thread_radius: f64,
    /// Mean shoulder radius `R_s`, m.
    pub shoulder_radius: f64,
    /// What limited `R_s`.
    pub rs_limit: RsLimit,
    /// The bracket of the formula: torque per axial force, m.
    pub lever: f64,
    /// Torque at that stress in the pin, N·m.
    pub pin_torque: f64,
    /// Torque at that stress in the box, N·m.
    pub box_torque: f64,
    /// The smaller of the two, N·m.
    pub torque: f64,
    /// The member that it comes from.
    pub member: Member,
}

impl Connection {
    /// Returns the torque on a basis, with every intermediate.
    pub fn torque(&self, basis: TorqueBasis) -> Result<TorqueRating, ConnectionError> {
        let stress = positive(Quantity::Stress, basis.stress, MAX_STRESS)?;
        let f = basis.friction.coefficient()?;
        let (shoulder_radius, rs_limit) = self.shoulder_radius(basis.rs_rule);
        let form = self.spec().form;
        let lever = form.lead() / (2.0 * PI)
            + self.thread_radius * f / libm::cos(form.half_angle())
            + shoulder_radius * f;
        let (pin_torque, box_torque) =
            (stress * self.pin_area * lever, stress * self.box_area * lever);
        let (torque, member) = if pin_torque <= box_torque {
            (pin_torque, Member::Pin)
        } else {
            (box_torque, Member::Box)
        };
        Ok(TorqueRating {
            basis,
            friction: f,
            pin_area: self.pin_area,
            box_area: self.box_area,
            thread_radius: self.thread_radius,
            shoulder_radius,
            rs_limit,
            lever,
            pin_torque,
            box_torque,
            torque,
            member,
        })
    }

    /// Returns the mean shoulder radius `R_s = (OD + Q_c)/4`, m, and what limited it.
    pub fn shoulder_radius(&self, rule: RsRule) -> (f64, RsLimit) {
        let outer = self.contact_od;
        let (outer, limit) = if rule == RsRule::Capped && self.equal_area_od < outer {
            // A pin so thin that the cap falls inside the counterbore leaves a line of contact.
            (self.equal_area_od.max(self.friction_id), RsLimit::EqualAreas)
        } else if outer < self.dimensions.od {
            (outer, RsLimit::Contact)
        } else {
            (outer, RsLimit::OutsideDiameter)
        };
        ((outer + self.friction_id) / 4.0, limit)
    }
}

/// Returns a make-up torque for a compound by the rule of API RP 7A1: table torque × factor, N·m.
///
/// Source: a compound maker's page (published): 21,914 × 1.1 = 24,105. This is a little more than
/// the formula with f × factor gives for factors above 1 (and less below), since the lead term has
/// no friction in it.
pub fn scaled_by_compound(table_torque: f64, factor: f64) -> Result<f64, ConnectionError> {
    let torque = positive(Quantity::Torque, table_torque, 1.0e10)?;
    Ok(torque * positive(Quantity::CompoundFactor, factor, 10.0)?)
}

/// Returns the torsional ratio of a connection to its tube, connection ÷ tube.
///
/// Common practice (and the tables' rule for worn joints) wants at least 0.80; a ratio below it
/// means the connection, not the tube, is the torsional limit of the joint by a margin.
pub fn torsional_ratio(
    connection: &TorqueRating,
    tube_torsion: f64,
) -> Result<f64, ConnectionError> {
    Ok(connection.torque / positive(Quantity::Torque, tube_torsion, 1.0e10)?)
}

#[cfg(test)]
mod tests {
    use super::super::geometry::Dimensions;
    use super::*;
    use crate::mechanics::tube::us::FT_LBF;

    fn nc50(od: f64, id: f64) -> Connection {
        Connection::new(ConnectionType::Nc50, Dimensions::new(od * INCH, id * INCH)).unwrap()
    }

    fn ft_lb(c: &Connection, basis: TorqueBasis) -> f64 {
        c.torque(basis).unwrap().torque / FT_LBF
    }

    #[test]
    fn both_generations_of_the_table_are_there() {
        let c = nc50(6.625, 2.75);
        let capped = TorqueBasis::at_stress(TOOL_JOINT_YIELD);
        let listed = capped.with_rule(RsRule::ListedOd);
        assert!((ft_lb(&c, listed) - 63_406.0).abs() < 1.0);
        assert!((ft_lb(&c, TorqueBasis::tool_joint_makeup()) - 38_036.0).abs() < 1.0);
        assert_eq!(c.torque(capped).unwrap().rs_limit, RsLimit::EqualAreas);
        assert_eq!(c.torque(listed).unwrap().rs_limit, RsLimit::OutsideDiameter);
        assert_eq!(c.torque(listed).unwrap().member, Member::Pin);
        assert_eq!(RsRule::default(), RsRule::Capped);
    }

    #[test]
    fn make_up_is_six_tenths_of_yield() {
        let c = nc50(6.0, 3.25);
        let ratio = ft_lb(&c, TorqueBasis::tool_joint_makeup())
            / ft_lb(&c, TorqueBasis::at_stress(TOOL_JOINT_YIELD));
        assert!((ratio - 0.6).abs() < 1e-12);
        assert_eq!(c.torque(TorqueBasis::at_stress(TOOL_JOINT_YIELD)).unwrap().member, Member::Box);
    }

    #[test]
    fn friction_scales_all_but_the_lead_term() {
        let c = nc50(6.625, 3.25);
        let listed = TorqueBasis::at_stress(TOOL_JOINT_YIELD).with_rule(RsRule::ListedOd);
        for (factor, table) in [(1.125, 57_653.0), (1.25, 63_598.0)] {
            let basis = listed.with_friction(Friction::with_compound(factor));
            assert!((ft_lb(&c, basis) - table).abs() < 1.0);
        }
        let by_drum = scaled_by_compound(51_708.0, 1.25).unwrap();
        assert!(by_drum > 63_598.0);
    }

    #[test]
    fn a_bevel_lowers_the_shoulder_radius_and_says_so() {
        let mut d = Dimensions::new(6.625 * INCH, 3.25 * INCH);
        d.bevel = Some(6.0625 * INCH);
        let bevelled = Connection::new(ConnectionType::Nc50, d).unwrap();
        let rating = bevelled.torque(TorqueBasis::at_stress(TOOL_JOINT_YIELD)).unwrap();
        assert_eq!(rating.rs_limit, RsLimit::Contact);
        let whole = nc50(6.625, 3.25).torque(TorqueBasis::at_stress(TOOL_JOINT_YIELD)).unwrap();
        let left = rating.torque / whole.torque;
        assert!(left < 1.0 && left > 0.95 && rating.member == whole.member);
    }

    #[test]
    fn collars_take_the_stress_of_their_family() {
        let h90 = TorqueBasis::collar_makeup(ConnectionType::H90_5);
        assert!((h90.stress / KSI - 56.2).abs() < 1e-9);
        let nc = TorqueBasis::collar_makeup(ConnectionType::Nc46);
        assert!((nc.stress / KSI - 62.5).abs() < 1e-9);
        assert!((collar_yield(6.875 * INCH) / KSI - 110.0).abs() < 1e-9);
        assert!((collar_yield(7.0 * INCH) / KSI - 100.0).abs() < 1e-9);
    }

    #[test]
    fn impossible_bases_are_refused() {
        let c = nc50(6.625, 3.25);
        assert!(c.torque(TorqueBasis::at_stress(f64::NAN)).is_err());
        let frictionless = TorqueBasis::at_stress(TOOL_JOINT_YIELD)
            .with_friction(Friction { base: 0.0, compound_factor: 1.0 });
        assert!(c.torque(frictionless).is_err());
        assert!(scaled_by_compound(1.0, 0.0).is_err());
        let r = c.torque(TorqueBasis::at_stress(TOOL_JOINT_YIELD)).unwrap();
        assert!(torsional_ratio(&r, 0.0).is_err());
    }
}
