//! The source that stands beside each load figure, for reports.

use crate::mechanics::tube::{Evidence, Source};

/// A figure of loads along the string that a report can print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LoadFigure {
    /// Tension of a turning string.
    RotatingTension,
    /// Tension with friction, and torque.
    Drag,
    SideForce,
    Buckling,
    /// Hook load computed and logged.
    HookLoad,
}

impl LoadFigure {
    /// Returns the source of the figure.
    pub const fn source(self) -> Source {
        match self {
            Self::RotatingTension => Source {
                document: "Johancsik, Friesen & Dawson 1984 (SPE 11380)",
                place: "rotating string, in closed form",
                formula: "T = −WOB + Σ w Δ(true vertical depth)",
                evidence: Evidence::Published,
                limits: "effective tension, soft string, steady motion",
            },
            Self::Drag => Source {
                document: "Johancsik, Friesen & Dawson 1984 (SPE 11380)",
                place: "sliding friction, integrated along the arcs",
                formula: "dT/ds = w cos I ± μ F, dM/ds = μ F r",
                evidence: Evidence::Memory,
                limits: "no stiffness; past buckling the real drag is larger",
            },
            Self::SideForce => Source {
                document: "Equilibrium of a string in an arc",
                place: "after Johancsik et al. 1984",
                formula: "F = √[(T κ + w n)² + (w b)²]",
                evidence: Evidence::Computed,
                limits: "force per length, as if spread evenly between tool joints",
            },
            Self::Buckling => Source {
                document: "Dawson & Paslay 1984 (SPE 11167); Lubinski 1950 where vertical",
                place: "sinusoidal load, helical at √2 of it",
                formula: "F = 2 √(E I w sin I / r), in a curved hole with the bend's own force",
                evidence: Evidence::Memory,
                limits: "clearance of the tool joint in the given hole diameter",
            },
            Self::HookLoad => Source {
                document: "Comparison of this computation with the log",
                place: "mean of the segments of each kind",
                formula: "",
                evidence: Evidence::Computed,
                limits: "sensor, sheave friction and block weight are the log's",
            },
        }
    }
}
