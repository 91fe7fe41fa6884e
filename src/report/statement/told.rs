//! Stretches of a joint's life of which the book has no run: what of them a hire answers for. Somebody
//! else ran the joint, and tells its hours at most.

use crate::model::{Body, DAY_MS, Qty};
use crate::projection::joint::told_between;
use crate::report::ReportError;
use crate::schema::GapRow;
use crate::store::Book;
use crate::units::Measure;

use super::gather::HiredJoint;

/// A stretch of which no run is told.
pub(super) struct Stretch {
    row: GapRow,
    since: i64,
    /// Hours that are told of it, and of which run.
    told: Option<(Qty, Option<String>)>,
}

/// The stretches of a joint since it came into the book.
pub(super) fn stretches(book: &Book, joint: i64) -> Result<Vec<Stretch>, ReportError> {
    let mut out = Vec::new();
    for row in book.rows_of::<GapRow>(joint)? {
        let Some(since) = row.since else { continue };
        let told = if let Body::Gap(b) = book.counted(row.entry)?.body {
            b.hours.map(|hours| (hours, b.run))
        } else {
            None
        };
        out.push(Stretch { row, since, told });
    }
    Ok(out)
}

impl Stretch {
    /// From when to when the joint was run by others.
    pub(super) fn used(&self) -> Option<(i64, i64)> {
        self.told.is_some().then_some((self.since, self.row.until))
    }

    /// Adds what it tells of a hire, from going out to coming back.
    pub(super) fn add_to(&self, it: &mut HiredJoint, (out, back): (i64, i64)) {
        if self.row.until <= out || self.since >= back {
            return;
        }
        // A day on which a joint went out or came back is one on which it ran before or after that.
        let from = if (0..DAY_MS).contains(&(out - self.since)) { self.since } else { out };
        let to =
            if (0..=DAY_MS).contains(&(self.row.until - back)) { self.row.until } else { back };
        it.revolutions.add(None);
        it.footage.add(None);
        it.damage.add(None);
        let Some((told, run)) = &self.told else {
            it.hours.add(None);
            it.rests_on.push("of a part of the hire nothing is known".to_owned());
            return;
        };
        let run = run.as_ref().map_or_else(String::new, |r| format!(" in run {r}"));
        let hours = self.row.hours.unwrap_or(0);
        let begun = self.row.begun.then_some(self.since);
        // One of which only the end is told is taken to have begun on the hire, if it could.
        let is_taken = begun.is_none() && self.row.until <= to && self.row.until - hours >= from;
        let least =
            if is_taken { hours } else { told_between((begun, self.row.until), hours, from, to) };
        it.hours.add(Some(least));
        it.hours.open = true;
        it.runs += 1;
        it.in_runs.push((self.since.max(out), self.row.until.min(back)));
        let mut said = format!("{told} told{run}, and no more than the hours");
        if is_taken {
            said.push_str("; nobody says when it began, it is taken to be of this hire");
        }
        let all = told.stored(Measure::Hours).unwrap_or(hours);
        if hours < all {
            said.push_str("; they may be hours of a run that counts by itself");
        }
        if least < all {
            let least = Measure::Hours.text(least, crate::units::UnitSystem::Metric);
            said.push_str(&format!("; at least {least} of them are counted"));
        }
        it.rests_on.push(said);
    }
}
