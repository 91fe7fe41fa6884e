//! Where a figure or a formula comes from, and whether anyone looked.

use std::fmt;

/// How a value or a formula is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Evidence {
    /// The figure stood in a text that was read.
    Published,
    /// Recalled from the named document and not looked up: a question until a licensed copy
    /// answers it.
    Memory,
    /// A rule of the trade without a source.
    CommonPractice,
    /// Derived or calculated from other rows; the source says how.
    Computed,
}

impl Evidence {
    /// The word that reports and reference files use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::Memory => "memory",
            Self::CommonPractice => "common practice",
            Self::Computed => "computed",
        }
    }
}

impl fmt::Display for Evidence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// The source that stands beside a printed figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Source {
    pub document: &'static str,
    /// Section, table or equation in it.
    pub place: &'static str,
    /// The formula, in the letters of the trade; empty where there is none to write.
    pub formula: &'static str,
    /// Whether it was read.
    pub evidence: Evidence,
    /// Where the figure stops being valid, in plain words.
    pub limits: &'static str,
}

impl Source {
    /// Formula, document, place, evidence and limits as one sentence, for a list of sources.
    pub fn sentence(&self) -> String {
        let formula =
            if self.formula.is_empty() { String::new() } else { format!("{}. ", self.formula) };
        let limits = if self.limits.is_empty() {
            String::new()
        } else {
            format!(". Limits: {}", self.limits)
        };
        format!("{formula}{self}{limits}")
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {} ({})", self.document, self.place, self.evidence)
    }
}
