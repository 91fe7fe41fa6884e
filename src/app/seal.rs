//! Signatures under the head of a book.

use std::path::Path;

use super::enter::written;
use super::error::words;
use super::{Error, Session};
use crate::ledger::{KnownKeys, PublicKey, Seal, Sealer};
use crate::model::{Body, Draft, KeyBody};
use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::store::{AppendOptions, make_key, public_file, read_secret};

impl Session {
    /// Makes a key to seal with, for the book's own site.
    pub(crate) fn make_key(&self, file: &Path, holder: &str) -> Result<Report, Error> {
        let site = self.book.identity().chain.site.clone();
        let public = make_key(file, site, holder)?;
        let path = |path: &Path| Cell::Text(path.display().to_string());
        let mut report = Report::new("seal_key");
        report.push(Block::Facts {
            name: "key",
            facts: vec![
                Fact::plain("site", "seals for", Cell::Text(public.site.to_string())),
                Fact::plain("secret", "secret key", path(file)),
                Fact::plain("public", "public key", path(&public_file(file))),
                Fact::plain("ed25519", "Ed25519", Cell::Text(public.key.clone())),
            ],
        });
        report.push(Block::Note(
            "keep the secret key apart from the book; give the public one to the other sites, who \
             add it to their file of known keys"
                .to_owned(),
        ));
        Ok(report)
    }

    /// Enters keys of sites, or that they are theirs no longer: from then on what comes of these sites
    /// needs a seal by such a key.
    pub(crate) fn trust(
        &mut self,
        keys: &KnownKeys,
        withdraw: bool,
        reason: &str,
        dry_run: bool,
    ) -> Result<Report, Error> {
        let reason = reason.trim();
        if reason.is_empty() {
            return Err(words("a key is entered or withdrawn for a reason"));
        }
        if keys.keys().is_empty() {
            return Err(words(
                "the file names no key; it is that with .pub which `seal key` wrote",
            ));
        }
        let held = self.book.trusted_keys()?;
        for key in keys.keys() {
            let known = held.iter().find(|h| h.key.key == key.key && h.key.site == key.site);
            match (known, withdraw) {
                (Some(h), false) => {
                    return Err(words(format!(
                        "this key of {} is entered ({})",
                        key.site, h.told_by
                    )));
                }
                (None, true) => {
                    return Err(words(format!("no such key of {} is entered", key.site)));
                }
                (Some(_), true) | (None, false) => {}
            }
        }
        let draft = |key: &PublicKey| Draft {
            effective: self.caller.present(),
            evidence: None,
            body: Body::Key(KeyBody {
                site: key.site.to_string(),
                key: key.key.clone(),
                holder: key.holder.clone(),
                withdrawn: withdraw,
                reason: Some(reason.to_owned()),
            }),
        };
        let drafts: Vec<Draft> = keys.keys().iter().map(draft).collect();
        let options = AppendOptions { keep_conflicts: true, dry_run };
        let done = self.book.append(&drafts, &self.caller.stamp(), &options)?;
        let mut report = self.trusted()?;
        let mut facts = Vec::new();
        if dry_run {
            facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
        } else {
            facts.extend(written(&done));
        }
        report.push(Block::Facts { name: "seal_trust", facts });
        report.push(Block::Note(
            "what comes of a site with a key needs its seal from now on; what came before it is as it \
             was"
                .to_owned(),
        ));
        Ok(report)
    }

    /// The keys of sites that the book goes by.
    pub(crate) fn trusted(&self) -> Result<Report, Error> {
        let mut report = Report::new("seal_keys");
        report.push(Block::Table(Table {
            name: "keys",
            columns: vec![
                Column::plain("site", "site"),
                Column::plain("holder", "held by"),
                Column::plain("key", "Ed25519"),
                Column::plain("entry", "entry"),
                Column::plain("author", "entered by"),
            ],
            rows: self
                .book
                .trusted_keys()?
                .into_iter()
                .map(|k| {
                    vec![
                        Cell::Text(k.key.site.to_string()),
                        Cell::text(Some(&*k.key.holder).filter(|h| !h.is_empty())),
                        Cell::Text(k.key.key),
                        Cell::Text(k.told_by.to_string()),
                        Cell::Text(k.author),
                    ]
                })
                .collect(),
            empty: "no key of any site is entered: bundles are taken by their chains alone"
                .to_owned(),
            below: None,
        }));
        Ok(report)
    }

    /// Signs the head of the book's own chain: the seal as text, and the head.
    pub(crate) fn seal_head(&self, key: &Path) -> Result<(String, String), Error> {
        let secret = read_secret(key)?;
        let head = self.book.head()?.ok_or_else(|| words("the book has no entry to seal"))?;
        let at = self.caller.present().to_string();
        let seal = secret.seal(&head.entry, &head.hash, &at).map_err(words)?;
        let text = serde_json::to_string(&seal)
            .map_err(|e| Error::Seal(format!("the seal cannot be written: {e}")))?;
        Ok((text, head.to_string()))
    }

    /// Checks a seal: whose it is, and whether the book still holds what it seals. True when a known
    /// key made it and the book does.
    pub(crate) fn check_seal(
        &self,
        text: &str,
        known: &KnownKeys,
    ) -> Result<(Report, bool), Error> {
        let seal: Seal = serde_json::from_str(text.trim())
            .map_err(|e| Error::Seal(format!("this is no seal: {e}")))?;
        let sealer = seal.check(known).map_err(|e| Error::Seal(e.to_string()))?;
        let held = self.book.entry(&seal.entry).is_ok_and(|e| e.hash == seal.hash);
        let (by, is_known) = match &sealer {
            Sealer::Known(holder) => (holder.clone(), true),
            Sealer::Unknown => ("unknown key".to_owned(), false),
        };
        let mut report = Report::new("seal_check");
        report.push(Block::Facts {
            name: "seal",
            facts: vec![
                Fact::plain("entry", "seals", Cell::Text(seal.entry.to_string())),
                Fact::plain("hash", "hash", Cell::Text(seal.hash.to_string())),
                Fact::plain("at", "sealed at", Cell::text(seal.at.as_deref())),
                Fact::plain("by", "by", Cell::Text(by)),
                Fact::plain("key", "key", Cell::Text(seal.key.clone())),
                Fact::plain("known", "key known", Cell::Truth(is_known)),
                Fact::plain("held", "in the book", Cell::Truth(held)),
            ],
        });
        Ok((report, held && is_known))
    }
}
