//! A set of rules, limits or a method goes into force as an entry of the book.

use super::{Caller, Error};
use crate::ledger::digest;
use crate::model::{AdoptionBody, Body, Draft, Moment};
use crate::report::{Block, Cell, Fact, Report};
use crate::store::{AppendOptions, Book};

/// What is adopted.
pub(super) struct Adopted<'a> {
    /// `rules`, `limits`, …
    pub what: &'static str,
    /// Name and edition.
    pub name: &'a str,
    /// The set; `None` for one that ships.
    pub text: Option<&'a str>,
    /// In force from.
    pub from: Moment,
}

/// Appends the adoption and says so.
pub(super) fn adopt(
    book: &mut Book,
    adopted: &Adopted<'_>,
    dry_run: bool,
    caller: &Caller,
) -> Result<Report, Error> {
    let draft = Draft {
        effective: adopted.from,
        evidence: None,
        body: Body::Adoption(AdoptionBody {
            what: adopted.what.to_owned(),
            name: adopted.name.to_owned(),
            text: adopted.text.map(str::to_owned),
            sha256: digest(adopted.text.unwrap_or_default().as_bytes()),
            remark: None,
        }),
    };
    let options = AppendOptions { keep_conflicts: true, dry_run };
    let done = book.append(&[draft], &caller.stamp(), &options)?;
    let mut facts = vec![
        Fact::plain("what", "adopted", Cell::Text(adopted.what.to_owned())),
        Fact::plain("name", "set", Cell::Text(adopted.name.to_owned())),
        Fact::plain("from", "in force from", Cell::Text(adopted.from.to_string())),
    ];
    if dry_run {
        facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
    } else {
        let entry = done.entries.first().map(ToString::to_string);
        let head = done.head.as_ref().map(ToString::to_string);
        facts.push(Fact::plain("entry", "entry", Cell::text(entry.as_deref())));
        facts.push(Fact::plain("head", "head", Cell::text(head.as_deref())));
    }
    let mut report = Report::new("adoption");
    report.push(Block::Facts { name: "adoption", facts });
    Ok(report)
}
