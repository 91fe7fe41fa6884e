//! The source that stands beside each tube figure, for reports.

use super::collapse::{CollapseRegime, CollapseUnderTension};
use super::evidence::{Evidence, Source};

/// A figure of a tube that a report can print.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TubeFigure {
    Section,
    /// Axial load at yield.
    Tension,
    Torsion,
    /// Internal pressure at yield.
    InternalYield,
    /// Collapse pressure in a regime.
    Collapse(CollapseRegime),
    /// Collapse pressure under tension.
    CollapseUnderTension(CollapseUnderTension),
    /// Torque under axial load, and the other way round.
    Combined,
    SlipCrushing,
    HookLoadMargin,
    /// Stretch, twist, free length.
    Elastic,
}

impl TubeFigure {
    /// Returns the source of the figure.
    pub const fn source(self) -> Source {
        match self {
            Self::Section => Source {
                document: "Strength of materials, as used by API RP 7G Appendix A",
                place: "ring of worn outside diameter and nominal bore",
                formula: "A = π/4 (D² − d²), I = π/64 (D⁴ − d⁴), J = 2 I",
                evidence: Evidence::Published,
                limits: "uniform wear; eccentric wear uses the smallest wall all round",
            },
            Self::Tension => Source {
                document: "API RP 7G 16th edition",
                place: "Appendix A, tension; Tables 2, 4, 6",
                formula: "P = Y A",
                evidence: Evidence::Published,
                limits: "pull alone, at minimum yield; no bending, torque or pressure",
            },
            Self::Torsion => Source {
                document: "API RP 7G 16th edition",
                place: "Appendix A, torsion; Tables 2, 4, 6",
                formula: "Q = 0.096167 J Y / D (ft-lb, in, psi)",
                evidence: Evidence::Published,
                limits: "torque alone, at minimum yield",
            },
            Self::InternalYield => Source {
                document: "API RP 7G 16th edition",
                place: "Appendix A, internal pressure; Tables 3, 5, 7",
                formula: "p = 2 Y k t / D, k 0.875 for new pipe, else the wall that remains",
                evidence: Evidence::Published,
                limits: "thin-wall formula; the body only, not the connection's seal",
            },
            Self::Collapse(regime) => Source {
                document: "API Bulletin 5C3",
                place: match regime {
                    CollapseRegime::Yield => "section 2, yield-strength collapse",
                    CollapseRegime::Plastic => "section 2, plastic collapse",
                    CollapseRegime::Transition => "section 2, transition collapse",
                    CollapseRegime::Elastic => "section 2, elastic collapse",
                },
                formula: match regime {
                    CollapseRegime::Yield => "p = 2 Y (D/t − 1) / (D/t)²",
                    CollapseRegime::Plastic => "p = Y (A/(D/t) − B) − C",
                    CollapseRegime::Transition => "p = Y (F/(D/t) − G)",
                    CollapseRegime::Elastic => "p = 46.95e6 / [(D/t)(D/t − 1)²]",
                },
                evidence: Evidence::Published,
                limits: "round pipe without tension or bending, room temperature",
            },
            Self::CollapseUnderTension(CollapseUnderTension::EffectiveYield) => Source {
                document: "API Bulletin 5C3",
                place: "section 2.1.5, effective yield under axial stress",
                formula: "Y′ = Y [√(1 − 0.75 s²) − 0.5 s], s = σ/Y, then the collapse formulas",
                evidence: Evidence::Memory,
                limits: "tension only; effective yield of at least 24 ksi",
            },
            Self::CollapseUnderTension(CollapseUnderTension::AverageYieldScaling { .. }) => {
                Source {
                    document: "API RP 7G 16th edition",
                    place: "section 12.9 to 12.11, scaling by average yield",
                    formula: "p × [√(4 − 3 z²) − z]/2, z = σ / average yield",
                    evidence: Evidence::Memory,
                    limits: "tension only; average yields of the grades are recalled",
                }
            }
            Self::Combined => Source {
                document: "API RP 7G 16th edition",
                place: "Appendix A, torsional yield under tension",
                formula: "(Q/Qy)² + (P/Py)² = 1",
                evidence: Evidence::Memory,
                limits: "no bending and no pressure",
            },
            Self::SlipCrushing => Source {
                document: "Reinhold & Spiri, World Oil 1959",
                place: "axial load in slips",
                formula: "P = Py / √(1 + DK/(2L) + (DK/(2L))²), K = 1/tan(α + atan μ)",
                evidence: Evidence::Published,
                limits: "even grip; later tests found it about 20 % on the unsafe side; \
                         no table value to check it against was found",
            },
            Self::HookLoadMargin => Source {
                document: "API RP 7G 16th edition",
                place: "section 7, 0.9 of the tensile rating",
                formula: "Pa = 0.9 Py, margin = Pa − load",
                evidence: Evidence::Memory,
                limits: "static load; shock, drag, bending and torque come on top",
            },
            Self::Elastic => Source {
                document: "Hooke's law with the moduli of API RP 7G",
                place: "stretch and twist of the plain body",
                formula: "e = P L/(E A), twist = Q L/(G J)",
                evidence: Evidence::Published,
                limits: "elastic; tool joints make a string a little stiffer",
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_source_reads_as_one_line() {
        assert_eq!(
            TubeFigure::Collapse(CollapseRegime::Elastic).source().to_string(),
            "API Bulletin 5C3, section 2, elastic collapse (published)"
        );
    }
}
