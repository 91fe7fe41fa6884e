//! Signatures under the head of a book.

use std::path::Path;

use super::error::words;
use super::{Error, Session};
use crate::ledger::{KnownKeys, Seal, Sealer};
use crate::report::{Block, Cell, Fact, Report};
use crate::store::{make_key, public_file, read_secret};

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

    /// Signs the head of the book's own chain: the seal as text, and the head.
    pub(crate) fn seal_head(&self, key: &Path) -> Result<(String, String), Error> {
        let secret = read_secret(key)?;
        let head = self.book.head()?.ok_or_else(|| words("the book has no entry to seal"))?;
        let seal = secret.seal(&head.entry, &head.hash).map_err(words)?;
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
                Fact::plain("by", "by", Cell::Text(by)),
                Fact::plain("key", "key", Cell::Text(seal.key.clone())),
                Fact::plain("known", "key known", Cell::Truth(is_known)),
                Fact::plain("held", "in the book", Cell::Truth(held)),
            ],
        });
        Ok((report, held && is_known))
    }
}
