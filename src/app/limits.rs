//! The limits in force, and adopting others.

use sha2::{Digest, Sha256};

use super::error::words;
use super::{Caller, Error, Session};
use crate::condition::{DEFERENCE, LimitSet};
use crate::ledger::hex;
use crate::model::{AdoptionBody, Body, Draft, Moment};
use crate::projection::book::{BookFacts, limits_of};
use crate::report::limits::{Wanted, adoption_table, adoptions, changes, limit_table};
use crate::report::{Block, Cell, Fact, Report};
use crate::store::AppendOptions;

/// A set to be adopted: its text, and what it says. `None` for the one that ships.
pub(crate) type OwnLimits = Option<(String, LimitSet)>;

/// The limits in force on a day. Without a book the set that ships is in force.
pub(crate) fn limits(
    book: Option<&Session>,
    wanted: &Wanted,
    on: Moment,
    caller: &Caller,
) -> Result<Report, Error> {
    let at = on.end(caller.offset_minutes());
    let (facts, adopted) = match book {
        Some(Session { book, .. }) => (book.appraiser()?.facts().clone(), adoptions(book)?),
        None => (BookFacts::default(), Vec::new()),
    };
    let set = facts.limits_at(at);
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
    report.push(Block::Table(adoption_table(&adopted, caller.offset_minutes())));
    report.push(Block::Table(limit_table(set, wanted)));
    report.push(Block::Caution(DEFERENCE.to_owned()));
    Ok(report)
}

/// What a set says and, where there is a book, what adopting it from a day would change.
pub(crate) fn check_limits(
    book: Option<&Session>,
    set: &OwnLimits,
    from: Option<Moment>,
) -> Result<Report, Error> {
    let mut report = Report::new("limits");
    if let Some(session) = book {
        report.blocks.extend(session.limit_changes(set, from)?);
    }
    report.push(Block::Table(limit_table(set_of(set), &Wanted::default())));
    report.push(Block::Note("checked: nothing was written".to_owned()));
    report.push(Block::Caution(DEFERENCE.to_owned()));
    Ok(report)
}

/// The set that was read, or the one that ships.
fn set_of(set: &OwnLimits) -> &LimitSet {
    match set {
        Some((_, set)) => set,
        None => LimitSet::shipped(),
    }
}

impl Session {
    /// What adopting would change, as blocks of a report.
    fn limit_changes(&self, set: &OwnLimits, from: Option<Moment>) -> Result<Vec<Block>, Error> {
        let own = set_of(set);
        let in_force = limits_of(set.as_ref().map(|(text, _)| text.as_str()))
            .ok_or_else(|| words("the set cannot be read"))?;
        let present = self.caller.present();
        let start = from.unwrap_or(present).start(self.offset_minutes());
        let now = present.end(self.offset_minutes());
        Ok(changes(&self.book, own, &in_force, start, now)?)
    }

    /// Adopts a set from a day on, or from now.
    pub(crate) fn adopt_limits(
        &mut self,
        set: &OwnLimits,
        from: Option<Moment>,
        remark: Option<&str>,
        dry_run: bool,
    ) -> Result<Report, Error> {
        let mut report = Report::new("limits");
        report.blocks.extend(self.limit_changes(set, from)?);
        let own = set_of(set);
        let text = set.as_ref().map_or(LimitSet::shipped_text(), |(text, _)| text.as_str());
        let body = AdoptionBody {
            what: "limits".to_owned(),
            name: own.title(),
            text: set.as_ref().map(|(text, _)| text.clone()),
            sha256: hex(&Sha256::digest(text.as_bytes())),
            remark: remark.map(str::to_owned),
        };
        let effective = from.unwrap_or(self.caller.present());
        let draft = Draft { effective, evidence: None, body: Body::Adoption(body) };
        let options = AppendOptions { keep_conflicts: true, dry_run };
        let done = self.book.append(&[draft], &self.caller.stamp(), &options)?;
        if dry_run {
            report.push(Block::Note("a dry run: nothing was written".to_owned()));
        } else {
            let entry = done.entries.first().map(ToString::to_string);
            let head = done.head.as_ref().map(ToString::to_string);
            report.push(Block::Facts {
                name: "adopted",
                facts: vec![
                    Fact::plain("entry", "entry", Cell::text(entry.as_deref())),
                    Fact::plain("from", "in force from", Cell::Text(effective.to_string())),
                    Fact::plain("head", "head", Cell::text(head.as_deref())),
                ],
            });
            report.push(Block::Note(
                "verdicts on inspections from that time on are worked out again; earlier ones keep \
                 the limits of their day"
                    .to_owned(),
            ));
        }
        Ok(report)
    }
}
