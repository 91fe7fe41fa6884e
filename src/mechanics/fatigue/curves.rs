//! S–N curves as data.
//!
//! log₁₀ N = log₁₀ a − m·log₁₀ Δσ, Δσ the stress range in MPa, with a second branch beyond the knee
//! where the curve has one. `curves.csv` holds the shipped set; each row names standard, edition,
//! environment, class, basis, scatter, source and provenance, and the same reader takes a user's
//! own table. The classic drill-pipe curves (Hansford & Lubinski 1966, Morgan & Roblin 1969,
//! Grondin & Kulak 1994) aren't shipped: their figures could not be read in full.

use std::io::Read;
use std::sync::OnceLock;

use thiserror::Error;

use super::stress::StressRange;

/// What surrounds the steel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Medium {
    /// Air: dry steel, or mud that doesn't corrode it.
    Air,
    /// Seawater with cathodic protection.
    Protected,
    Corrosive,
}

/// What a curve stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Basis {
    /// Mean of the tests.
    Mean,
    /// Mean less two standard deviations of log N (97.7 % survival).
    Design,
}

/// The branch at long lives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knee {
    /// Cycles at the knee.
    pub cycles: f64,
    pub m: f64,
    /// log₁₀ a beyond it.
    pub log_a: f64,
    /// log₁₀ a as the source lists it, where that differs from the one used.
    pub listed_log_a: Option<f64>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    pub standard: String,
    pub edition: String,
    pub medium: Medium,
    /// Class of the detail.
    pub class: String,
    /// Slope of the first branch.
    pub m: f64,
    /// log₁₀ a of the first branch.
    pub log_a: f64,
    /// Second branch, if any.
    pub knee: Option<Knee>,
    /// Whether mean stress is in the curve already, as in those of welded details.
    pub contains_mean_stress: bool,
    pub basis: Basis,
    /// Standard deviation of log₁₀ N, where known.
    pub scatter: Option<f64>,
    /// Where the numbers were read.
    pub source: String,
    /// `published`, `memory`, `computed` or `common practice`.
    pub provenance: String,
    /// Provenance of the scatter; empty where there is none.
    pub scatter_provenance: String,
    /// Remarks on the row.
    pub note: String,
}

/// What is wrong with a table of curves.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CurveError {
    /// The text is not a table with the expected columns.
    #[error("S–N curves: {0}")]
    Format(String),
    /// A cell that can't be.
    #[error("S–N curves, row {row}, column {column}: {what}")]
    Cell {
        /// Row, counted from 1 below the header.
        row: usize,
        column: &'static str,
        /// What would be right.
        what: String,
    },
    /// Two branches that don't meet.
    #[error(
        "S–N curves, row {row}: the branches differ by {gap:+.3} in log N at the knee; \
         continuity asks for log a = {continuous:.3}"
    )]
    Knee {
        /// Row, counted from 1 below the header.
        row: usize,
        /// log N of the second branch less that of the first.
        gap: f64,
        /// log a that would meet.
        continuous: f64,
    },
    #[error(
        "there is no S–N curve {0:?}; a curve is named by standard, edition, environment, class"
    )]
    Unknown(String),
}

/// Largest jump in log N at a knee that rounding to three decimals explains.
const KNEE_TOLERANCE: f64 = 0.0025;

const SHIPPED: &str = include_str!("curves.csv");

impl Curve {
    /// Name: standard, edition, environment and class, as `curves.csv` spells them.
    pub fn name(&self) -> String {
        let medium = match self.medium {
            Medium::Air => "air",
            Medium::Protected => "protected",
            Medium::Corrosive => "corrosive",
        };
        format!("{} {} {medium} {}", self.standard, self.edition, self.class)
    }

    /// Cycles to crack initiation at a stress range.
    pub fn cycles(&self, range: StressRange) -> f64 {
        let log_s = libm::log10(range.megapascals());
        let first = self.log_a - self.m * log_s;
        let log_n = match self.knee {
            Some(knee) if first > libm::log10(knee.cycles) => knee.log_a - knee.m * log_s,
            _ => first,
        };
        libm::exp10(log_n)
    }

    /// Stress range at the knee by the first branch; none for a curve without one.
    pub fn knee_range(&self) -> Option<StressRange> {
        let knee = self.knee?;
        let log_s = (self.log_a - libm::log10(knee.cycles)) / self.m;
        Some(StressRange::from_megapascals(libm::exp10(log_s)))
    }

    /// log a of the second branch that meets the first: log Nk + (m₂/m₁)(log a₁ − log Nk).
    pub fn continuous_log_a(&self) -> Option<f64> {
        let knee = self.knee?;
        let log_n = libm::log10(knee.cycles);
        Some(log_n + knee.m / self.m * (self.log_a - log_n))
    }
}

/// A set of curves.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveTable {
    curves: Vec<Curve>,
}

impl CurveTable {
    pub fn shipped() -> Result<&'static Self, CurveError> {
        static TABLE: OnceLock<Result<CurveTable, CurveError>> = OnceLock::new();
        TABLE.get_or_init(|| CurveTable::read(SHIPPED.as_bytes())).as_ref().map_err(Clone::clone)
    }

    /// Reads a table in the shipped format, and refuses branches that don't meet at their knee.
    pub fn read(text: impl Read) -> Result<Self, CurveError> {
        let mut reader = csv::Reader::from_reader(text);
        let header = reader.headers().map_err(|e| CurveError::Format(e.to_string()))?.clone();
        let mut curves = Vec::new();
        for (index, record) in reader.records().enumerate() {
            let record = record.map_err(|e| CurveError::Format(e.to_string()))?;
            curves.push(Cells { header: &header, record: &record, row: index + 1 }.curve()?);
        }
        Ok(Self { curves })
    }

    pub fn curves(&self) -> &[Curve] {
        &self.curves
    }

    /// The curve of a name.
    pub fn get(&self, name: &str) -> Result<&Curve, CurveError> {
        let found = self.curves.iter().find(|c| c.name() == name);
        found.ok_or_else(|| CurveError::Unknown(name.to_owned()))
    }
}

/// One row while it is read.
struct Cells<'a> {
    header: &'a csv::StringRecord,
    record: &'a csv::StringRecord,
    row: usize,
}

impl Cells<'_> {
    fn text(&self, column: &'static str) -> Result<&str, CurveError> {
        let at = self.header.iter().position(|h| h == column);
        let at = at.ok_or_else(|| CurveError::Format(format!("no column {column}")))?;
        Ok(self.record.get(at).unwrap_or("").trim())
    }

    fn wrong(&self, column: &'static str, what: impl Into<String>) -> CurveError {
        CurveError::Cell { row: self.row, column, what: what.into() }
    }

    fn number(&self, column: &'static str) -> Result<Option<f64>, CurveError> {
        let text = self.text(column)?;
        if text.is_empty() {
            return Ok(None);
        }
        match text.parse::<f64>() {
            Ok(value) if value > 0.0 && value.is_finite() => Ok(Some(value)),
            _ => Err(self.wrong(column, format!("{text:?} is not a number above 0"))),
        }
    }

    fn given(&self, column: &'static str) -> Result<f64, CurveError> {
        self.number(column)?.ok_or_else(|| self.wrong(column, "a number is needed"))
    }

    fn curve(&self) -> Result<Curve, CurveError> {
        let knee = match self.number("knee_cycles")? {
            None => None,
            Some(cycles) => {
                let log_a = self.given("log10_a2")?;
                let listed = self.number("log10_a2_listed")?;
                let listed_log_a = listed.filter(|l| (l - log_a).abs() > 1e-9);
                Some(Knee { cycles, m: self.given("m2")?, log_a, listed_log_a })
            }
        };
        let curve = Curve {
            standard: self.text("standard")?.to_owned(),
            edition: self.text("edition")?.to_owned(),
            medium: match self.text("environment")? {
                "air" => Medium::Air,
                "protected" => Medium::Protected,
                "corrosive" => Medium::Corrosive,
                other => {
                    let what = format!("{other:?} is not air, protected or corrosive");
                    return Err(self.wrong("environment", what));
                }
            },
            class: self.text("class")?.to_owned(),
            m: self.given("m1")?,
            log_a: self.given("log10_a1")?,
            knee,
            contains_mean_stress: match self.text("mean_stress")? {
                "contained" => true,
                "none" => false,
                other => {
                    let what = format!("{other:?} is not contained or none");
                    return Err(self.wrong("mean_stress", what));
                }
            },
            basis: match self.text("basis")? {
                "mean" => Basis::Mean,
                "design" => Basis::Design,
                other => {
                    return Err(self.wrong("basis", format!("{other:?} is not mean or design")));
                }
            },
            scatter: self.number("standard_deviation")?,
            source: self.text("source")?.to_owned(),
            provenance: self.text("provenance")?.to_owned(),
            scatter_provenance: self.text("standard_deviation_provenance")?.to_owned(),
            note: self.text("note")?.to_owned(),
        };
        if let (Some(knee), Some(continuous)) = (curve.knee, curve.continuous_log_a()) {
            let gap = knee.log_a - continuous;
            if gap.abs() > KNEE_TOLERANCE {
                return Err(CurveError::Knee { row: self.row, gap, continuous });
            }
        }
        Ok(curve)
    }
}
