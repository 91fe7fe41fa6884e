//! The source that stands beside each fatigue figure, for reports.

use super::curves::{Basis, Curve};
use super::mean_stress::MeanStress;
use crate::mechanics::tube::{Evidence, Source};

/// A figure of fatigue that a report can print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FatigueFigure {
    Damage,
    /// Probability that a crack has started.
    Initiation,
    /// Stress concentration of a notch.
    Notch,
    MeanStress,
}

impl FatigueFigure {
    /// Returns the source of the figure.
    pub const fn source(self) -> Source {
        match self {
            Self::Damage => Source {
                document: "Palmgren–Miner",
                place: "sum of turns over turns to initiation",
                formula: "D = Σ n/N",
                evidence: Evidence::CommonPractice,
                limits: "a ranking index; field studies found such models several times off in life",
            },
            Self::Initiation => Source {
                document: "JCSS Probabilistic Model Code (Miner sum lognormal, CoV 0.3)",
                place: "with the scatter of the S–N curve",
                formula: "p = Φ{[log D − 2 SD − μ]/√(SD² + s²)} on a design curve",
                evidence: Evidence::Published,
                limits: "scatter of tests and of the sum alone; stress is taken as known",
            },
            Self::Notch => Source {
                document: "Inglis 1913; Peterson",
                place: "ellipse of depth a and root radius ρ, fatigue notch factor",
                formula: "Kf = 1 + 2√(a/ρ)/(1 + α/ρ)",
                evidence: Evidence::Memory,
                limits: "an aid; a measured or analysed factor comes first",
            },
            Self::MeanStress => Source {
                document: "Textbook mean-stress rules",
                place: "Goodman, Gerber, Soderberg, Morrow",
                formula: "σa/(1 − σm/Su), σa/(1 − (σm/Su)²), σa/(1 − σm/Sy), σa/(1 − σm/σf)",
                evidence: Evidence::Memory,
                limits: "no benefit from compression",
            },
        }
    }
}

impl Curve {
    /// The source of the curve as one line: name, basis, scatter, where it was read.
    pub fn source_line(&self) -> String {
        let basis = match self.basis {
            Basis::Mean => "mean of tests",
            Basis::Design => "mean less two deviations",
        };
        let scatter = self.scatter.map_or_else(String::new, |sd| {
            format!(", scatter {sd} of log N ({})", self.scatter_provenance)
        });
        format!(
            "log N = {} − {} log Δσ (MPa). {}, {basis}{scatter}; {} ({})",
            self.log_a,
            self.m,
            self.name(),
            self.source,
            self.provenance
        )
    }
}

impl MeanStress {
    /// The formula of the rule.
    pub const fn formula(self) -> &'static str {
        match self {
            Self::None => "no mean-stress correction",
            Self::Goodman => "Goodman, σa/(1 − σm/Su)",
            Self::Gerber => "Gerber, σa/(1 − (σm/Su)²)",
            Self::Soderberg => "Soderberg, σa/(1 − σm/Sy)",
            Self::Morrow { .. } => "Morrow, σa/(1 − σm/σf)",
        }
    }
}
