//! When a call is made: now, on a day, or not to be foreseen.

use chrono::{Days, NaiveDate};

use crate::policy::Outlook;
use crate::report::Cell;

use super::super::question::Present;
use super::line::Standing;

/// A day so many days from now.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "days from 0 to a hundred years"
)]
fn day(present: &Present, days: f64) -> Option<NaiveDate> {
    let today = present.now.at(present.clock).date_naive();
    // Beyond a hundred years is never.
    (days < 36_525.0)
        .then(|| today.checked_add_days(Days::new(days.max(0.0).round() as u64)))
        .flatten()
}

/// Why no day is foreseen.
pub(super) const fn undated(outlook: &Outlook) -> &'static str {
    match outlook {
        Outlook::Days { .. } => "",
        Outlook::Idle => "not used of late",
        Outlook::UseUnknown => "recent use unknown",
        Outlook::RateUnknown => "wear unknown",
        Outlook::NoWear => "readings show no wear",
    }
}

/// What stands under `due on`, and the days around it.
pub(super) fn when(standing: &Standing, present: &Present) -> [Cell; 3] {
    let none = |text: &str| [Cell::Text(text.to_owned()), Cell::Missing, Cell::Missing];
    match standing {
        Standing::Due => none("now"),
        Standing::Soon(Outlook::Days { earliest, likely, latest }) => {
            let cell =
                |d: Option<f64>| d.and_then(|d| day(present, d)).map_or(Cell::Missing, Cell::Day);
            [cell(Some(*likely)), cell(Some(*earliest)), cell(*latest)]
        }
        Standing::Soon(outlook) => none(undated(outlook)),
    }
}
