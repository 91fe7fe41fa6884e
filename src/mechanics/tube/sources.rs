//! The source that stands beside each tube figure, for reports.

use super::collapse::{CollapseRegime, CollapseUnderTension};
use super::evidence::{Evidence, Source};

/// A figure of a tube that a report can print.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TubeFigure {
    /// Area, moments, moduli.
    Section,
    /// Axial load at yield.
    Tension,
    /// Torque at yield.
    Torsion,
    /// Internal pressure at yield.
    InternalYield,
    /// Collapse pressure in a regime.
    Collapse(CollapseRegime),
    /// Collapse pressure under tension.
    CollapseUnderTension(CollapseUnderTension),
    /// Torque under axial load, and the other way round.
    Combined,
    /// Slip-crushing load.
    SlipCrushing,
    /// Margin of overpull.
    HookLoadMargin,
    /// Stretch, twist, free length.
    Elastic,
}

impl TubeFigure {
    /// Returns the source of the figure.
    pub const fn source(self) -> Source {
        match self {
            Self::Section => Source {
                document: "strength of materials, as used by API RP 7G Appendix A",
                place: "ring of worn outside diameter and nominal bore",
                evidence: Evidence::Published,
                limits: "uniform wear; eccentric wear uses the smallest wall all round",
            },
            Self::Tension => Source {
                document: "API RP 7G 16th edition",
                place: "Appendix A, tension; Tables 2, 4, 6",
                evidence: Evidence::Published,
                limits: "pull alone, at minimum yield; no bending, torque or pressure",
            },
            Self::Torsion => Source {
                document: "API RP 7G 16th edition",
                place: "Appendix A, torsion, 0.096167 J Y / D; Tables 2, 4, 6",
                evidence: Evidence::Published,
                limits: "torque alone, at minimum yield",
            },
            Self::InternalYield => Source {
                document: "API RP 7G 16th edition",
                place: "Appendix A, internal pressure, 2 Y k t / D; Tables 3, 5, 7",
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
                evidence: Evidence::Published,
                limits: "round pipe without tension or bending, room temperature",
            },
            Self::CollapseUnderTension(CollapseUnderTension::EffectiveYield) => Source {
                document: "API Bulletin 5C3",
                place: "section 2.1.5, effective yield under axial stress",
                evidence: Evidence::Memory,
                limits: "tension only; effective yield of at least 24 ksi",
            },
            Self::CollapseUnderTension(CollapseUnderTension::AverageYieldScaling { .. }) => {
                Source {
                    document: "API RP 7G 16th edition",
                    place: "section 12.9 to 12.11, scaling by average yield",
                    evidence: Evidence::Memory,
                    limits: "tension only; average yields of the grades are recalled",
                }
            }
            Self::Combined => Source {
                document: "API RP 7G 16th edition",
                place: "Appendix A, torsional yield under tension",
                evidence: Evidence::Memory,
                limits: "no bending and no pressure",
            },
            Self::SlipCrushing => Source {
                document: "Reinhold & Spiri, World Oil 1959",
                place: "axial load in slips",
                evidence: Evidence::Published,
                limits: "even grip; later tests found it about 20 % on the unsafe side; \
                         no table value to check it against was found",
            },
            Self::HookLoadMargin => Source {
                document: "API RP 7G 16th edition",
                place: "section 7, 0.9 of the tensile rating",
                evidence: Evidence::Memory,
                limits: "static load; shock, drag, bending and torque come on top",
            },
            Self::Elastic => Source {
                document: "Hooke's law with the moduli of API RP 7G",
                place: "stretch and twist of the plain body",
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
