//! Ratings: what a tube, a connection, a bend, a joint of the book and a run's string carry.
//!
//! Each module turns one question into a report: figures from `mechanics` with the source of each,
//! what limits them, and the caution once. Nothing here computes what `mechanics` could.

pub mod connection;
pub mod crack;
pub mod crack_in_joint;
pub mod dogleg;
pub mod joint;
pub mod run;
mod spec;
pub mod stretch;
pub mod tube;
mod validity;

pub use spec::TubeSpec;
pub use validity::Surroundings;

use crate::condition::DEFERENCE;
use crate::mechanics::tube::{Applied, TubeClass, TubeError};

use super::{Block, Cell, Report, ReportError};

/// Classes by their word, one or several with commas; none named means all.
pub fn classes(text: Option<&str>) -> Result<Vec<TubeClass>, ReportError> {
    let Some(text) = text else { return Ok(TubeClass::ALL.to_vec()) };
    text.split(',')
        .map(|word| {
            let key = crate::model::fold(word);
            TubeClass::ALL
                .into_iter()
                .find(|c| {
                    let name: String =
                        c.name().chars().filter(char::is_ascii_alphanumeric).collect();
                    key.chars().filter(char::is_ascii_alphanumeric).eq(name.to_lowercase().chars())
                })
                .ok_or_else(|| {
                    ReportError::Words(format!(
                        "'{}' is no class that tubes are rated in; known: new, premium, class 2",
                        word.trim()
                    ))
                })
        })
        .collect()
}

/// A computed value as a cell; what could not be computed is missing.
fn real<E>(value: Result<f64, E>) -> Cell {
    value.map_or(Cell::Missing, Cell::Real)
}

/// A value that may not be known.
fn maybe(value: Option<f64>) -> Cell {
    value.map_or(Cell::Missing, Cell::Real)
}

/// A curvature, rad/m, as the base unit of doglegs has it.
fn dogleg_cell(curvature: f64) -> Cell {
    Cell::Real(curvature.to_degrees())
}

/// An error of mechanics as words.
fn words(error: impl std::fmt::Display) -> ReportError {
    ReportError::Words(error.to_string())
}

/// Why a figure of a state could not be computed, in words without SI numbers.
fn why_not(state: &str, error: &TubeError) -> String {
    match error {
        TubeError::BeyondYield { what: Applied::AxialLoad, .. } => {
            format!("{state}: that pull is beyond its yield")
        }
        TubeError::BeyondYield { what: Applied::Torque, .. } => {
            format!("{state}: that torque is beyond its yield")
        }
        other => format!("{state}: {other}"),
    }
}

/// What is outside validity, before any figure.
fn flag(report: &mut Report, around: &Surroundings, notes: Vec<String>) {
    let what = around.outside();
    if what.is_empty() {
        return;
    }
    report.push(Block::Facts {
        name: "validity",
        facts: vec![super::Fact::plain(
            "outside_validity",
            "outside validity",
            Cell::Text(what.join(", ")),
        )],
    });
    notes.into_iter().for_each(|n| report.push(Block::Note(n)));
}

/// Notes, then the caution that closes every rating.
fn close(report: &mut Report, notes: Vec<String>, about: &str) {
    for note in notes {
        report.push(Block::Note(note));
    }
    report.push(Block::Caution(format!("{about} {DEFERENCE}")));
}
