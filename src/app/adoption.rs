//! Sets go into force as an entry of the book, or it is said what they would change.

use super::enter::written;
use super::{Caller, Error, Session};
use crate::condition::Edition;
use crate::model::{Adopted, AdoptionBody, Body, Draft, Moment, SetKind};
use crate::policy::RuleSet;
use crate::projection::adoptions::{self, Adoptions};
use crate::report::adopted::{effect, judged, sets_in_force};
use crate::report::consequences::in_words;
use crate::report::{Block, Cell, Fact, Report};
use crate::store::{AppendOptions, Stamp, StoreError};

/// When and how an adoption is made.
#[derive(Clone, Copy, Debug)]
pub(crate) struct AdoptHow {
    /// In force from; now when absent.
    pub from: Option<Moment>,
    /// Only say what it would change.
    pub dry_run: bool,
}

/// What is in force: in the book, or where there is none what ships.
pub(super) fn in_force(book: Option<&Session>) -> Result<Adoptions, Error> {
    match book {
        Some(session) => Ok(session.book.adoptions()?),
        None => Ok(Adoptions::of_edition(Edition::shipped()).map_err(StoreError::from)?),
    }
}

/// The sets in force, and whether the program ships others.
pub(crate) fn editions(book: Option<&Session>, caller: &Caller) -> Result<Report, Error> {
    let caller = book.map_or(caller, |session| &session.caller);
    let (clock, now) = (caller.clock, caller.now.at);
    let mut report = Report::new("edition");
    report.blocks.extend(sets_in_force(&in_force(book)?, now, Edition::shipped(), clock));
    Ok(report)
}

/// The adoption of sets of an edition.
fn of_edition(edition: &Edition, remark: Option<&str>) -> AdoptionBody {
    adoptions::body(Adopted::Edition, edition.name(), edition.text(), remark)
}

/// The adoption of one set of the edition that ships.
pub(super) fn of_shipped(set: SetKind, remark: Option<&str>) -> AdoptionBody {
    of_edition(&Edition::shipped().only(&[set]), remark)
}

impl Session {
    /// Gives a book of before there were editions its first one as an entry, by the program, and one
    /// of before there were clocks the clock by which it goes. Says what was written.
    pub(crate) fn found(&mut self) -> Result<Vec<String>, Error> {
        let author = env!("CARGO_PKG_NAME").to_owned();
        let stamp = Stamp { author, ..self.caller.stamp() };
        let mut said = Vec::new();
        if let Some(entry) = self.book.found(&stamp)? {
            said.push(format!("{entry} notes the edition by which this book was judged so far"));
        }
        if let Some(entry) = self.book.found_clock(&stamp)? {
            said.push(format!(
                "{entry} notes the clock of this book: {}, the offset recorded with its first entry; \
                 `pipelore clock --set` names the time zone of the site",
                self.clock()
            ));
        }
        if let Some(entry) = self.book.found_strikes(&stamp)? {
            said.push(format!(
                "{entry} keeps in force what this book struck or amended of other sites' entries \
                 before that needed a decision"
            ));
        }
        Ok(said)
    }

    /// Adopts the sets that an edition brings.
    pub(crate) fn adopt_edition(
        &mut self,
        edition: &Edition,
        remark: Option<&str>,
        how: AdoptHow,
    ) -> Result<Report, Error> {
        if let Some(text) = edition.set(SetKind::Rules) {
            self.check_in_book(&RuleSet::parse(text).map_err(Error::Rules)?)?;
        }
        self.adopt(Report::new("edition"), of_edition(edition, remark), how)
    }

    /// Adopts, or tries it on a copy that is thrown away; says what changes.
    pub(super) fn adopt(
        &mut self,
        mut report: Report,
        body: AdoptionBody,
        how: AdoptHow,
    ) -> Result<Report, Error> {
        let effective = how.from.unwrap_or(self.caller.present());
        let stamp = self.caller.stamp();
        let mut present = self.present();
        // What is adopted for a day to come is told as of that day.
        present.now = present.now.max(effective.start(self.clock()));
        let mut facts = vec![
            Fact::plain("what", "adopted", Cell::Text(body.what.to_string())),
            Fact::plain("name", "set", Cell::Text(body.name.clone())),
            Fact::plain("from", "in force from", Cell::Text(effective.to_string())),
        ];
        let judges = adoptions::judges(&body);
        let draft = Draft { effective, evidence: None, body: Body::Adoption(body) };
        let book = &mut self.book;
        let before = judged(book, judges, &present)?;
        let after = if how.dry_run {
            facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
            judged(&mut book.trial(&[draft], &stamp)?, judges, &present)?
        } else {
            let options = AppendOptions { keep_conflicts: true, dry_run: false };
            let done = book.append(&[draft], &stamp, &options)?;
            facts.extend(written(&done));
            judged(book, judges, &present)?
        };
        report.push(Block::Facts { name: "adoption", facts });
        report.blocks.extend(in_words(&before, &after));
        report.blocks.extend(effect(&before, &after));
        report.push(Block::Note(if how.dry_run {
            "tried on a copy: nothing was written".to_owned()
        } else {
            "verdicts on inspections from that time on are worked out again; earlier ones keep the \
             sets of their day"
                .to_owned()
        }));
        Ok(report)
    }
}
