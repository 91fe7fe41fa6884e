//! The limits and the catalogue in force, and adopting other limits.

use super::adoption::{in_force, of_shipped};
use super::{AdoptHow, Caller, Error, Session};
use crate::condition::{DEFERENCE, Edition, LimitSet, TableError};
use crate::model::{Adopted, AdoptionBody, Moment, Place, SetKind};
use crate::projection::adoptions;
use crate::report::adopted::newer;
use crate::report::limits::{Wanted, adoption_table, finding_table, limit_table};
use crate::report::{Block, Cell, Fact, Report};

/// What else an edition says of findings, beside the catalogue.
const OF_FINDINGS: [SetKind; 4] =
    [SetKind::Findings, SetKind::Methods, SetKind::Needs, SetKind::Works];

/// A set to be adopted.
#[derive(Debug)]
pub(crate) struct OwnLimits {
    /// `None` for the one that ships.
    text: Option<String>,
    set: LimitSet,
}

impl OwnLimits {
    /// The set that ships, as text.
    pub(crate) fn shipped_text() -> &'static str {
        Edition::shipped().set(SetKind::Limits).unwrap_or_default()
    }

    /// The set that ships.
    pub(crate) fn shipped() -> Result<Self, Vec<TableError>> {
        Ok(Self { text: None, set: LimitSet::parse(Self::shipped_text())? })
    }

    /// A set of the user's.
    pub(crate) fn parse(text: String) -> Result<Self, Vec<TableError>> {
        let set = LimitSet::parse(&text)?;
        Ok(Self { text: Some(text), set })
    }

    fn adoption(&self, remark: Option<&str>) -> AdoptionBody {
        match &self.text {
            None => of_shipped(SetKind::Limits, remark),
            Some(text) => adoptions::body(Adopted::Limits, &self.set.title(), text, remark),
        }
    }

    fn table(&self) -> Report {
        let mut report = Report::new("limits");
        report.push(Block::Table(limit_table(&self.set, &Wanted::default())));
        report.push(Block::Caution(DEFERENCE.to_owned()));
        report
    }
}

/// The limits in force on a day. Without a book the set that ships is in force.
pub(crate) fn limits(
    book: Option<&Session>,
    wanted: &Wanted,
    on: Moment,
    caller: &Caller,
) -> Result<Report, Error> {
    let caller = book.map_or(caller, |session| &session.caller);
    let at = on.end(caller.clock);
    let adoptions = in_force(book)?;
    let set = &adoptions.standards_at(at).limits;
    let mut report = Report::new("limits");
    report.push(Block::Facts {
        name: "set",
        facts: vec![
            Fact::plain("set", "in force", Cell::Text(set.title())),
            Fact::plain(
                "on",
                "on",
                match on {
                    Moment::Day(day) => Cell::Day(day),
                    Moment::Clock(at) => Cell::Time(at),
                },
            ),
        ],
    });
    report.push(Block::Table(adoption_table(&adoptions, caller.clock)));
    report.push(Block::Table(limit_table(set, wanted)));
    report.blocks.extend(newer(&adoptions, at, &[SetKind::Limits], Edition::shipped()));
    report.push(Block::Caution(DEFERENCE.to_owned()));
    Ok(report)
}

/// The catalogue in force, or the part of it that is asked for.
pub(crate) fn findings(
    book: Option<&Session>,
    word: Option<&str>,
    place: Option<Place>,
    caller: &Caller,
) -> Result<Report, Error> {
    let caller = book.map_or(caller, |session| &session.caller);
    let now = caller.present().end(caller.clock);
    let adoptions = in_force(book)?;
    let catalogue = &adoptions.standards_at(now).findings;
    let mut report = Report::new("findings");
    report.push(Block::Table(finding_table(catalogue, word, place)?));
    report.blocks.extend(newer(&adoptions, now, &OF_FINDINGS, Edition::shipped()));
    report.push(Block::Caution(DEFERENCE.to_owned()));
    Ok(report)
}

/// What a set says, where there is no book that it could change.
pub(crate) fn check_limits_alone(own: &OwnLimits) -> Report {
    let mut report = own.table();
    report.push(Block::Note("checked: nothing was written".to_owned()));
    report
}

impl Session {
    /// What a set says, and what adopting it from a day would change.
    pub(crate) fn check_limits(
        &mut self,
        own: &OwnLimits,
        from: Option<Moment>,
    ) -> Result<Report, Error> {
        self.adopt(own.table(), own.adoption(None), AdoptHow { from, dry_run: true })
    }

    pub(crate) fn adopt_limits(
        &mut self,
        own: &OwnLimits,
        remark: Option<&str>,
        how: AdoptHow,
    ) -> Result<Report, Error> {
        self.adopt(Report::new("limits"), own.adoption(remark), how)
    }
}
