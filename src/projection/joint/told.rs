//! Stretches of a joint's life of which nothing is known, but perhaps its hours: those that a sheet
//! tells of a run that somebody else made. Where the book has that run itself, it has the hours by it,
//! and they must not count twice, whichever came first.

use crate::model::{GapBody, Moment, Qty, same_name};
use crate::schema::{GapRow, JointRunRow, RunRow};
use crate::units::Measure;

use super::super::facts::Placed;
use super::flags::{AT_LEAST, under_way};
use super::fold::Fold;

/// What a run of the book says of hours that are told of a stretch.
enum Known {
    /// They are hours of that run.
    Same,
    /// They may be, in so many milliseconds; nobody says.
    Perhaps(i64),
    /// The run is another.
    Other,
}

/// Hours that a joint turned in a stretch of which no more is told.
fn told_hours(gap: &GapBody) -> Option<i64> {
    gap.hours.as_ref().and_then(|h: &Qty| h.stored(Measure::Hours))
}

/// When the stretch began of which a gap says that nothing is known, and when it ended, if it did. One
/// of which only the end is told began no later than its hours before it.
pub(super) fn stretch(gap: &GapBody, placed: &Placed) -> (i64, Option<i64>) {
    let end = |m: Moment| m.end(placed.clock).0;
    match gap.since {
        Some(since) => {
            let until = end(placed.entry.effective);
            let (since, told) = (since.start(placed.clock).0, told_hours(gap).unwrap_or(0));
            (since.min(until.saturating_sub(told)), Some(until))
        }
        None => (placed.at().0, gap.until.map(end)),
    }
}

/// The least of the hours told of a stretch that a joint turned between two instants: those for which
/// the stretch has no room outside them. Where it is not told when it began, or where it is shorter
/// than its hours, nobody knows when the first of them were.
pub fn told_between((begun, until): (Option<i64>, i64), hours: i64, from: i64, to: i64) -> i64 {
    let Some(since) = begun.filter(|since| hours <= until.saturating_sub(*since)) else {
        return if from == i64::MIN && until <= to { hours } else { 0 };
    };
    let (before, after) = (from.clamp(since, until) - since, until - to.clamp(since, until));
    (hours - before - after).max(0)
}

impl Fold<'_> {
    /// A stretch as a row, with the hours that no run of the book tells; none where the book has the
    /// very run of which the hours are told, for then all of it is known.
    pub(super) fn stretch_row(&self, gap: &GapBody, placed: &Placed) -> Option<GapRow> {
        let (since, until) = stretch(gap, placed);
        let mut row = GapRow {
            joint: self.input.joint,
            until: until.unwrap_or(i64::MAX),
            since: Some(since),
            entry: placed.position,
            hours: told_hours(gap),
            begun: gap.since != Some(placed.entry.effective),
        };
        let Some(told) = row.hours else { return Some(row) };
        let mut left = told;
        for run in self.input.runs {
            match known_by(run, self.input.run_rows.get(&run.run), gap, &row, since) {
                Known::Same => return None,
                Known::Perhaps(ms) => left = left.saturating_sub(ms).max(0),
                Known::Other => {}
            }
        }
        row.hours = Some(left);
        Some(row)
    }
}

/// What a run says of hours told of a stretch. Of the same name and about the same time it is that run;
/// where its own hours are at least so many, what is told beyond them counts.
/// A joint is in one run at a time: of another name, or where nobody says when the stretch began, the
/// two may be one.
fn known_by(
    run: &JointRunRow,
    named: Option<&RunRow>,
    gap: &GapBody,
    row: &GapRow,
    since: i64,
) -> Known {
    let is_named = gap.run.as_ref().zip(named).is_some_and(|(a, b)| same_name(a, &b.name));
    if is_named && run.start < row.until && run.finish > since {
        return match run.figures.hours {
            // It tells less than the sheet.
            None => Known::Other,
            Some(hours) if run.flags & AT_LEAST != 0 => Known::Perhaps(hours),
            Some(_) => Known::Same,
        };
    }
    let (from, to) = under_way(run, named);
    let overlap = to.min(row.until) - from.max(since);
    if row.begun && overlap > 0 {
        Known::Perhaps(overlap)
    } else if !row.begun && (overlap > 0 || is_named && run.finish <= since) {
        Known::Perhaps(i64::MAX)
    } else {
        Known::Other
    }
}
