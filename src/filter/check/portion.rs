//! The part of hours and turns that counts: above a dogleg, between two of them, between two depths.

use crate::units::{Measure, Rational, Unit};

use super::super::ast::{Quantity, Source};
use super::super::error::ErrorKind;
use super::super::registry::Field;
use super::super::typed::{Dim, Num, Number, Portion};
use super::Checker;

/// Where the stored histogram ends, as a dogleg in stored quanta: 30 deg/30m.
const HISTOGRAM_END: i64 = 1_000_000_000;

/// Whether a limit is a depth of hole, which its unit tells.
fn is_depth(limit: &Quantity) -> bool {
    let meanings = limit.unit.as_ref().and_then(|unit| Unit::meanings(&unit.text).ok());
    meanings.unwrap_or_default().iter().any(|m| m.dimension() == Measure::Depth.dimension())
}

impl Checker<'_, '_, '_> {
    /// The part of a field that a dogleg or two depths behind it leave.
    #[expect(clippy::option_option, reason = "a mistake, all of it, a part of it")]
    pub(super) fn portion(&mut self, source: &Source, field: &Field) -> Option<Option<Portion>> {
        let Some(first) = &source.above else { return Some(None) };
        if field.above.is_none() {
            let (message, hint) = if source.up_to.as_ref().is_some_and(is_depth) {
                (
                    "is not kept by depth",
                    "hours and revolutions are: hours between 1000 and 1500 ft",
                )
            } else {
                (
                    "has no dogleg to count above",
                    "hours and revolutions have: hours above 8 deg/100ft",
                )
            };
            let message = format!("{} {message}", field.name);
            return self.fail(ErrorKind::Type, first.span, message, hint.to_owned());
        }
        let Some(second) = &source.up_to else {
            if is_depth(first) {
                let said = self.label(first.span);
                let message = format!("above is said of a bend, and {said} is a depth");
                let hint = format!("depths are two: {} between 0 ft and {said}", field.name);
                return self.fail(ErrorKind::Dimension, first.span, message, hint);
            }
            return Some(Some(Portion::Above(self.dogleg(first)?)));
        };
        if is_depth(first) != is_depth(second) {
            let (one, other) = (self.label(first.span), self.label(second.span));
            let kind = |q| if is_depth(q) { "depth" } else { "dogleg" };
            let message = format!("{one} is a {}, {other} is a {}", kind(first), kind(second));
            let hint = "write two depths, or two doglegs".to_owned();
            return self.fail(ErrorKind::Dimension, first.span, message, hint);
        }
        if !is_depth(second) {
            let (least, most) = (self.dogleg(first), self.dogleg(second));
            let (least, most) = (least?, most?);
            if least >= most {
                let message = "the upper dogleg does not lie above the lower one";
                return self.fail(ErrorKind::Window, second.span, message, None);
            }
            return Some(Some(Portion::Band(least, most)));
        }
        let depth = |c: &mut Self, q| c.limit_of(q, Measure::Depth, "the depth");
        let (least, most) = (depth(self, first)?, depth(self, second)?);
        match (least, most) {
            (Some(least), Some(most)) if 0 <= least && least < most => {
                Some(Some(Portion::Depths(least, most)))
            }
            _ => {
                let message = "the second depth does not lie below the first one";
                self.fail(ErrorKind::Window, second.span, message, None)
            }
        }
    }

    /// A limit behind a field in stored quanta of its measure; none where it is too large for them.
    #[expect(clippy::option_option, reason = "a mistake, too large, a limit")]
    fn limit_of(&mut self, q: &Quantity, measure: Measure, label: &str) -> Option<Option<i64>> {
        let beside = Number {
            num: Num::Const(Rational::ZERO),
            dim: Dim::Of(measure.dimension()),
            measure: Some(measure),
            label: label.into(),
        };
        let number = self.quantity(q, Some(&beside))?;
        if number.dim != beside.dim {
            return self.mismatch(&beside, &number, q.span);
        }
        let Num::Const(base) = number.num else { return None };
        let quanta = base.checked_mul(Rational::integer(measure.quanta_per_base()));
        Some(quanta.and_then(Rational::round))
    }

    /// The dogleg behind `above`, in stored quanta.
    fn dogleg(&mut self, q: &Quantity) -> Option<i64> {
        let quanta = self.limit_of(q, Measure::Dogleg, "the dogleg")?;
        match quanta {
            Some(quanta) if (0..=HISTOGRAM_END).contains(&quanta) => Some(quanta),
            _ => {
                let said = self.label(q.span);
                let message =
                    format!("hours and turns are kept by dogleg up to 30 deg/30m, not {said}");
                self.fail(ErrorKind::Limit, q.span, message, None)
            }
        }
    }
}
