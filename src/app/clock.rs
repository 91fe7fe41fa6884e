//! The clock of the book: what it is, and another one for it.

use super::enter::written;
use super::error::words;
use super::{Error, Session};
use crate::model::{Body, Clock, ClockBody, Draft, Instant};
use crate::report::{Block, Cell, Fact, Report};
use crate::store::AppendOptions;

/// The clock of this machine may be behind by so much unsaid, ms.
const SPARE_MS: i64 = 60_000;

impl Session {
    /// The clock by which the book goes.
    pub(crate) fn clock_report(&self) -> Report {
        let mut report = Report::new("clock");
        let now = self.caller.now.at.at(self.clock());
        report.push(Block::Facts {
            name: "clock",
            facts: vec![
                Fact::plain("clock", "clock", Cell::Text(self.clock().to_string())),
                Fact::plain("now", "now", Cell::Time(now)),
            ],
        });
        report
    }

    /// Has the book go by another clock: days of all entries, early and late, are days of it.
    pub(crate) fn set_clock(
        &mut self,
        clock: Clock,
        reason: &str,
        dry_run: bool,
    ) -> Result<Report, Error> {
        let (reason, before) = (reason.trim(), self.clock());
        if reason.is_empty() {
            return Err(words("another clock needs its reason"));
        }
        if clock == before {
            return Err(words(format!("the book goes by {clock} already")));
        }
        let body = ClockBody { clock: clock.to_string(), reason: Some(reason.to_owned()) };
        let draft =
            Draft { effective: self.caller.present(), evidence: None, body: Body::Clock(body) };
        let options = AppendOptions { keep_conflicts: true, dry_run };
        let done = self.book.append(&[draft], &self.caller.stamp(), &options)?;
        let mut facts = vec![
            Fact::plain("clock", "clock", Cell::Text(clock.to_string())),
            Fact::plain("before", "before", Cell::Text(before.to_string())),
        ];
        if dry_run {
            facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
        } else {
            self.caller = self.caller.clone().at_clock(clock);
            facts.extend(written(&done));
        }
        let mut report = Report::new("clock");
        report.push(Block::Facts { name: "clock", facts });
        report.push(Block::Note(
            "what is dated to a day is now of that day by this clock, whenever it was written"
                .to_owned(),
        ));
        Ok(report)
    }

    /// Says that the clock of this machine stands before the time at which the book was written last.
    pub(crate) fn clock_behind(&self) -> Result<Option<String>, Error> {
        let Some(head) = self.book.head()? else { return Ok(None) };
        let last = Instant(self.book.entry(&head.entry)?.raw.recorded_ms);
        if last.0 <= self.caller.now.at.0.saturating_add(SPARE_MS) {
            return Ok(None);
        }
        Ok(Some(format!(
            "by the clock of this machine it is {}, and {} was written at {}: one of the two clocks \
             stood wrong; what is written now carries the time of this one",
            self.caller.present(),
            head.entry,
            last.at(self.clock()).to_rfc3339()
        )))
    }
}
