//! What lies ahead: a fact of a day that is to come is a slip of the pen, or a clock that stands wrong.

use super::resolve::Made;
use super::when::Times;
use crate::model::{Body, Clock, DAY_MS, Instant, Moment};
use crate::projection::kinds::role;

/// A site of which a file tells may be a day ahead of this one.
const GRACE_MS: i64 = DAY_MS;

/// The date of a fact that lies ahead of the present, and may not.
pub(super) fn ahead(made: &Made, times: Times) -> Option<Moment> {
    let now = times.now?;
    if role(made.body.kind()).plans() {
        return None;
    }
    let begins = if let Body::Run(b) = &made.body { b.start } else { made.effective };
    let late = |moment: Moment| is_ahead(moment, now, times.clock);
    [begins, made.effective].into_iter().find(|m| late(*m))
}

/// What is wrong with a date at which a fact lies ahead, and what would be right.
pub(crate) fn wrong(date: Moment, times: Times) -> Option<String> {
    let late = times.now.is_some_and(|now| is_ahead(date, now, times.clock));
    late.then(|| words(date, times)).map(|(message, help)| format!("{message}; {help}"))
}

fn is_ahead(moment: Moment, now: Instant, clock: Clock) -> bool {
    moment.start(clock).0 > now.0.saturating_add(GRACE_MS)
}

/// What is wrong with it, and what would be right.
pub(super) fn words(date: Moment, times: Times) -> (String, String) {
    let now = times.now.map_or_else(String::new, |now| now.day(times.clock).to_string());
    (
        format!("{date} lies ahead: today is {now}"),
        "a fact is dated to the day on which it happened; only a hire, an adoption and a note may be \
         dated ahead"
            .to_owned(),
    )
}
