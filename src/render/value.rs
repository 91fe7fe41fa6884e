//! Cells as text.

use crate::report::Cell;
use crate::units::{Measure, UnitSystem};

use super::safe::for_screen;

/// What stands for a value that was not recorded.
pub(super) const MISSING: &str = "·";

/// A cell as a person reads it, without a unit (the heading has it).
pub fn show(cell: &Cell, measure: Option<Measure>, system: UnitSystem) -> String {
    let number = |n: i64| {
        measure.map_or_else(|| Measure::Count.number_text(n, system), |m| m.number_text(n, system))
    };
    match cell {
        Cell::Missing => MISSING.to_owned(),
        Cell::Text(t) => for_screen(t).into_owned(),
        Cell::Number(n) => number(*n),
        Cell::Bound { lo, hi: None } => format!("≥ {}", number(*lo)),
        Cell::Bound { lo, hi: Some(hi) } => format!("{} to {}", number(*lo), number(*hi)),
        Cell::Truth(true) => "yes".to_owned(),
        Cell::Truth(false) => "no".to_owned(),
        Cell::Day(d) => d.format("%Y-%m-%d").to_string(),
        Cell::Time(t) => t.format("%Y-%m-%d %H:%M").to_string(),
        Cell::Real(x) => match measure.and_then(|m| m.store_f64(*x).map(|n| (m, n))) {
            // A chance below the quantum is small, not none.
            Some((Measure::Damage, 0)) if *x > 0.0 => "< 1e-15".to_owned(),
            Some((m, n)) => m.number_text(n, system),
            // Too large for the measure's quanta (an endless life), or no measure at all.
            None if x.abs() >= 1e9 => format!("{x:.1e}"),
            None => significant(*x),
        },
        Cell::Json(v) => for_screen(&v.to_string()).into_owned(),
        Cell::Of(m, inner) => show_with_unit(inner, Some(*m), system),
    }
}

/// A number that arithmetic has made, to five significant digits: more were never measured.
fn significant(x: f64) -> String {
    let rounded = format!("{x:.4e}").parse::<f64>().unwrap_or(x);
    format!("{rounded}")
}

/// A cell with its unit.
pub fn show_with_unit(cell: &Cell, measure: Option<Measure>, system: UnitSystem) -> String {
    let text = show(cell, measure, system);
    match measure.map(|m| m.unit_symbol(system)) {
        Some(unit) if !unit.is_empty() && *cell != Cell::Missing => format!("{text} {unit}"),
        _ => text,
    }
}

/// Whether a cell stands at the right of its column.
pub(super) const fn is_numeric(cell: &Cell) -> bool {
    matches!(cell, Cell::Number(_) | Cell::Bound { .. } | Cell::Real(_) | Cell::Of(..))
}
