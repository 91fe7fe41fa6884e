//! The source that stands beside each connection figure, for reports.

use super::torque::RsRule;
use crate::mechanics::tube::{Evidence, Source};

/// A figure of a connection that a report can print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ConnectionFigure {
    /// Pin and box areas.
    Areas,
    /// Torsional yield under a shoulder-radius rule.
    TorsionalYield(RsRule),
    /// Make-up torque of a tool joint under a shoulder-radius rule.
    MakeupTorque(RsRule),
    /// Make-up torque of heavy-weight drill pipe.
    HeavyWeightMakeup,
    /// Make-up torque of a collar.
    CollarMakeup,
    /// Tensile yield of the pin.
    TensileYield,
    /// Tension capacity after make-up.
    TensionAtMakeup,
    /// Minimum outside diameter of a class.
    MinimumOd,
    BendingStrengthRatio,
    /// Verdict on a recorded make-up.
    MakeupVerdict,
}

impl ConnectionFigure {
    /// Returns the source of the figure.
    pub const fn source(self) -> Source {
        match self {
            Self::Areas => Source {
                document: "API RP 7G 16th edition",
                place: "Appendix A: pin at 3/4 in, box at 3/8 in from the shoulder",
                formula: "Ap = π/4 (d² − ID²), Ab = π/4 (OD² − (Qc − E)²)",
                evidence: Evidence::Published,
                limits: "nominal thread geometry of API Spec 7-2",
            },
            Self::TorsionalYield(RsRule::ListedOd) | Self::MakeupTorque(RsRule::ListedOd) => {
                Source {
                    document: "API RP 7G 16th edition as printed in 1998",
                    place: "Appendix A and Table 9, shoulder radius from the listed OD",
                    formula: "T = S A (p/2π + Rt f/cos θ + Rs f), Rs = (OD + Qc)/4",
                    evidence: Evidence::Published,
                    limits: "weaker member only; superseded by the errata of May 2000",
                }
            }
            Self::TorsionalYield(RsRule::Capped) | Self::MakeupTorque(RsRule::Capped) => Source {
                document: "API RP 7G 16th edition with errata of May 2000",
                place: "Appendix A, shoulder radius capped where pin and box areas are equal",
                formula: "T = S A (p/2π + Rt f/cos θ + Rs f), S 120 ksi at yield, 72 ksi at make-up",
                evidence: Evidence::Published,
                limits: "weaker member only; single-shoulder API connections",
            },
            Self::HeavyWeightMakeup => Source {
                document: "Maker's heavy-weight tables",
                place: "two recalled rows lie within 1 % of 62.5 ksi, the collars' stress",
                formula: "T = S A (p/2π + Rt f/cos θ + Rs f), S 62.5 ksi",
                evidence: Evidence::Memory,
                limits: "the maker's sheet goes first",
            },
            Self::CollarMakeup => Source {
                document: "API RP 7G 16th edition",
                place: "Table 14, 62.5 ksi (H-90: 56.2 ksi)",
                formula: "T = S A (p/2π + Rt f/cos θ + Rs f), S 62.5 ksi",
                evidence: Evidence::Memory,
                limits: "a minimum; the stress basis is recalled and fits a published table",
            },
            Self::TensileYield => Source {
                document: "API RP 7G 16th edition",
                place: "Tables 8 and 9, pin section 5/8 in from the shoulder",
                formula: "P = Y Ap",
                evidence: Evidence::Published,
                limits: "pull without make-up",
            },
            Self::TensionAtMakeup => Source {
                document: "API RP 7G 16th edition",
                place: "Appendix A, combined torsion and tension of a connection",
                formula: "parts at F0 (Ap + Ab)/Ab, pin yields at (Y Ap − F0)(Ap + Ab)/Ap, F0 = T / lever",
                evidence: Evidence::Memory,
                limits: "no bending, no torque beyond make-up, no pressure",
            },
            Self::MinimumOd => Source {
                document: "API RP 7G 16th edition",
                place: "rule of Table 10: box at least 0.80 of the tube in its class, up to 1/32 in",
                formula: "",
                evidence: Evidence::Computed,
                limits: "torsion only; the table in force decides",
            },
            Self::BendingStrengthRatio => Source {
                document: "API RP 7G 16th edition",
                place: "section A.10, box at the end of the pin to pin at 3/4 in",
                formula: "[(D⁴ − b⁴)/D] / [(R⁴ − d⁴)/R]",
                evidence: Evidence::Memory,
                limits: "a guide, no fatigue life",
            },
            Self::MakeupVerdict => Source {
                document: "5 % under to 10 % over the target",
                place: "an owner's own figures go first",
                formula: "",
                evidence: Evidence::CommonPractice,
                limits: "the torque instrument has to be right first",
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_generation_names_its_own_document() {
        let old = ConnectionFigure::TorsionalYield(RsRule::ListedOd).source();
        let new = ConnectionFigure::TorsionalYield(RsRule::Capped).source();
        assert!(old.document.contains("1998") && new.document.contains("errata"));
    }
}
