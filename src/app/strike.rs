//! An entry struck out, and what that does.

use std::path::Path;

use super::error::words;
use super::take_in::facts_of;
use super::{Error, Session};
use crate::intake::amend_with;
use crate::model::{Body, Draft, EntryId, EntryKind, Site, StrikeBody};
use crate::projection::amend::is_amendable;
use crate::report::{Block, Cell, Fact, Report, consequences, effects};
use crate::store::{AppendOptions, Stamp};

/// What is to be struck.
pub(crate) struct Strike<'a> {
    pub entry: &'a str,
    pub reason: &'a str,
    /// What stands in its place: names of entries, or of files to take in with the strike.
    pub instead: &'a [String],
    /// Why it is for this site to strike what another site wrote.
    pub decision: Option<&'a str>,
    /// Say what would change, change nothing.
    pub dry_run: bool,
}

/// That a correction needs no strike.
fn amend_instead(entry: &EntryId) -> String {
    format!(
        "to correct a field of it and keep what rests on it, amend it instead: {}",
        amend_with(entry)
    )
}

/// The decision by which a site strikes or amends an entry: none for one of its own.
///
/// # Errors
/// An entry of another site, and no decision.
pub(super) fn decision_on(
    entry: &EntryId,
    own: &Site,
    said: Option<&str>,
) -> Result<Option<String>, Error> {
    let said = said.map(str::trim).filter(|text| !text.is_empty());
    if said.is_some() || entry.chain.site == *own {
        return Ok(said.map(str::to_owned));
    }
    let site = &entry.chain.site;
    Err(Error::Advice {
        what: format!(
            "{entry} was written by site {site}, and this is the book of {own}: what another site \
             wrote is struck or amended by decision alone"
        ),
        help: vec![
            format!("ask {site} to strike or amend it: that comes with its next bundle"),
            format!(
                "or decide here, and say why that is for {own} to decide: strike with --decision \
                 TEXT, enter amend with decision='…'; it stays in the entry and goes to all sites"
            ),
        ],
    })
}

impl Session {
    /// Strikes an entry out.
    pub(crate) fn strike(&mut self, strike: &Strike<'_>) -> Result<Report, Error> {
        let entry: EntryId = strike.entry.parse().map_err(words)?;
        let stored = self.book.entry(&entry)?;
        let (mut drafts, instead) = self.replacements(strike.instead, &entry)?;
        if instead.contains(&entry) {
            return Err(Error::Advice {
                what: format!("{entry} cannot stand in its own place"),
                help: vec![
                    "the file says what the struck entry says; correct it first".to_owned(),
                    amend_instead(&entry),
                ],
            });
        }
        let reason = strike.reason.trim();
        if reason.is_empty() {
            return Err(words("a strike needs its reason"));
        }
        let decision = decision_on(&entry, &self.book.identity().chain.site, strike.decision)?;
        let replaced = drafts.len();
        drafts.push(Draft {
            effective: self.caller.present(),
            evidence: None,
            body: Body::Strike(StrikeBody {
                entry: entry.clone(),
                reason: reason.to_owned(),
                instead: instead.clone(),
                decision: decision.clone(),
            }),
        });
        let label = if strike.dry_run { "would strike" } else { "struck" };
        let mut facts = vec![
            Fact::plain("entry", label, Cell::Text(entry.to_string())),
            Fact::plain("kind", "kind", Cell::Text(stored.raw.kind.clone())),
        ];
        if let Some(decision) = decision {
            facts.push(Fact::plain("decision", "decided", Cell::Text(decision)));
        }
        if !instead.is_empty() {
            let names: Vec<String> = instead.iter().map(ToString::to_string).collect();
            facts.push(Fact::plain("instead", "instead", Cell::Text(names.join(", "))));
            let fresh = Cell::count(replaced);
            facts.push(Fact::plain("written", "written in its place", fresh));
        }
        let stamp = self.caller.stamp();
        let mut blocks = Vec::new();
        let amend = EntryKind::named(&stored.raw.kind).is_some_and(is_amendable);
        if strike.dry_run {
            facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
            blocks = self.consequences(&drafts, &stamp)?;
            if amend {
                blocks.push(Block::Note(amend_instead(&entry)));
            }
        } else {
            let options = AppendOptions { keep_conflicts: true, dry_run: false };
            let done = self.book.append(&drafts, &stamp, &options)?;
            let by = done.entries.last().map(ToString::to_string);
            facts.push(Fact::plain("strike", "by", Cell::text(by.as_deref())));
            facts.push(Fact::head(done.head.as_ref()));
        }
        let mut report = Report::new("strike");
        report.push(Block::Facts { name: "strike", facts });
        report.blocks.append(&mut blocks);
        Ok(report)
    }

    /// What facts would change, before they are written: in words, then joint by joint.
    pub(super) fn consequences(
        &mut self,
        drafts: &[Draft],
        stamp: &Stamp,
    ) -> Result<Vec<Block>, Error> {
        let present = self.present();
        let before = consequences::standings(&mut self.book, &present)?;
        let mut trial = self.book.trial(drafts, stamp)?;
        let after = consequences::standings(&mut trial, &present)?;
        let mut blocks = consequences::blocks(&before, &after);
        blocks.extend(effects::blocks(&self.book.effects(drafts, stamp)?));
        Ok(blocks)
    }

    /// What stands instead: drafts to be written, and the names of all. They are written first, and
    /// all in one with the strike: a run corrected by another run never stands beside it.
    fn replacements(
        &self,
        instead: &[String],
        struck: &EntryId,
    ) -> Result<(Vec<Draft>, Vec<EntryId>), Error> {
        let (mut drafts, mut names) = (Vec::new(), Vec::new());
        for said in instead {
            if let Ok(id) = said.parse::<EntryId>()
                && self.book.position_of(&id)?.is_some()
            {
                names.push(id);
            } else if Path::new(said).is_file() {
                let (fresh, named) =
                    facts_of(&self.book, said, drafts.len(), &self.caller, struck)?;
                drafts.extend(fresh);
                names.extend(named);
            } else {
                return Err(words(format!(
                    "--instead: {said} is neither an entry of the book nor a file that says what \
                     stands in its place"
                )));
            }
        }
        Ok((drafts, names))
    }
}
