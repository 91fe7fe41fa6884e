//! A bundle on its way in.

use std::fmt::Write as _;

use serde::Deserialize;
use sha2::{Digest, Sha256};

use super::super::chain::{Chains, hex};
use super::super::raw::RawEntry;
use super::super::seal::Seal;
use super::{
    BUNDLE_FORMAT, BUNDLE_FORMAT_WITH_LOST, BundleError, BundleHeader, BundleLimits, ENTRY,
    EntryLine, FOOTER, Footer, HEADER, Linked, SEAL, SealLine, Stretch,
};
use crate::model::Chain;

/// What a line was.
#[derive(Debug, PartialEq, Eq)]
pub enum BundleItem {
    Header(BundleHeader),
    /// An entry that fits its chain within the bundle.
    Entry(Box<Linked>),
    /// A seal whose signature is not looked at yet.
    Seal(Seal),
    /// The footer; the digest holds.
    Footer,
}

/// A bundle that was read to its end.
#[derive(Debug, PartialEq, Eq)]
pub struct BundleEnd {
    pub header: BundleHeader,
    /// Digest of everything above the footer.
    pub sha256: String,
    pub entries: u64,
    pub seals: Vec<Seal>,
}

/// Reads a bundle line by line, and refuses it at the first thing wrong.
#[derive(Debug)]
pub struct BundleReader {
    limits: BundleLimits,
    header: Option<BundleHeader>,
    /// Which stretches of the header have come whole.
    whole: Vec<bool>,
    chains: Chains,
    digest: Sha256,
    lines: u64,
    bytes: u64,
    entries: u64,
    seals: Vec<Seal>,
    closed: Option<String>,
}

impl BundleReader {
    /// A reader with limits.
    pub fn new(limits: BundleLimits) -> Self {
        Self {
            limits,
            header: None,
            whole: Vec::new(),
            chains: Chains::new(),
            digest: Sha256::new(),
            lines: 0,
            bytes: 0,
            entries: 0,
            seals: Vec::new(),
            closed: None,
        }
    }

    /// Lines taken so far.
    pub const fn lines(&self) -> u64 {
        self.lines
    }

    /// Takes the next line, without its line end.
    pub fn take(&mut self, line: &[u8]) -> Result<BundleItem, BundleError> {
        self.lines += 1;
        self.bytes = self.bytes.saturating_add(line.len() as u64 + 1);
        self.check_size(line)?;
        let Some(header) = &self.header else { return self.take_header(line) };
        if self.closed.is_some() {
            return Err(self.wrong("nothing may follow the footer"));
        }
        if line.starts_with(ENTRY) {
            if !self.seals.is_empty() {
                return Err(self.wrong("an entry stands after a seal"));
            }
            let linked = self.read_entry(line)?;
            self.follow(&linked)?;
            self.count(line);
            self.entries += 1;
            return Ok(BundleItem::Entry(Box::new(linked)));
        }
        self.check_stretches(&header.chains)?;
        if line.starts_with(SEAL) {
            let seal: SealLine = self.json(line, "seal")?;
            if self.seals.len() >= header.chains.len() {
                return Err(self.wrong("there are more seals than chains"));
            }
            self.count(line);
            self.seals.push(seal.seal.clone());
            return Ok(BundleItem::Seal(seal.seal));
        }
        if line.starts_with(FOOTER) {
            let footer: Footer = self.json(line, "footer")?;
            let found = hex(&std::mem::take(&mut self.digest).finalize());
            if found != footer.sha256 {
                return Err(BundleError::Digest { found, stated: footer.sha256 });
            }
            if footer.entries != self.entries {
                return Err(self.wrong(&format!(
                    "the footer counts {} entries, there are {}",
                    footer.entries, self.entries
                )));
            }
            self.closed = Some(found);
            return Ok(BundleItem::Footer);
        }
        Err(self.wrong("this is no entry, seal or footer of a bundle"))
    }

    /// Ends the reading: the footer must have come.
    pub fn finish(self) -> Result<BundleEnd, BundleError> {
        match (self.header, self.closed) {
            (Some(header), Some(sha256)) => {
                Ok(BundleEnd { header, sha256, entries: self.entries, seals: self.seals })
            }
            (None, _) => Err(BundleError::NotABundle { why: "it is empty".to_owned() }),
            _ => Err(BundleError::Cut { line: self.lines }),
        }
    }

    fn wrong(&self, why: &str) -> BundleError {
        BundleError::Line { line: self.lines, why: why.to_owned() }
    }

    fn count(&mut self, line: &[u8]) {
        self.digest.update(line);
        self.digest.update(b"\n");
    }

    fn check_size(&self, line: &[u8]) -> Result<(), BundleError> {
        let over = |what: String| Err(BundleError::TooLarge { line: self.lines, what });
        if line.len() > self.limits.line {
            return over(format!("{} bytes a line", self.limits.line));
        }
        if self.bytes > self.limits.bytes {
            return over(format!("{} bytes", self.limits.bytes));
        }
        if self.entries >= self.limits.entries && line.starts_with(ENTRY) {
            return over(format!("{} entries", self.limits.entries));
        }
        Ok(())
    }

    fn json<'a, T: Deserialize<'a>>(&self, line: &'a [u8], what: &str) -> Result<T, BundleError> {
        serde_json::from_slice(line).map_err(|e| {
            let mut why = String::new();
            // The decoder's own line number is always 1; the column helps.
            let _ = write!(why, "not a {what} of a bundle: {e}");
            BundleError::Line { line: self.lines, why }
        })
    }

    fn take_header(&mut self, line: &[u8]) -> Result<BundleItem, BundleError> {
        if !line.starts_with(HEADER) {
            let why = "its first line is not the header of one".to_owned();
            return Err(BundleError::NotABundle { why });
        }
        // Read the version alone first: a newer header may hold what this one does not know.
        #[derive(Deserialize)]
        struct Version {
            pipelore_bundle: u32,
        }
        let version: Version = self.json(line, "header")?;
        if !(BUNDLE_FORMAT..=BUNDLE_FORMAT_WITH_LOST).contains(&version.pipelore_bundle) {
            return Err(BundleError::Newer { format: version.pipelore_bundle });
        }
        let header: BundleHeader = self.json(line, "header")?;
        let mut before: Option<&Stretch> = None;
        for stretch in &header.chains {
            let name = &stretch.chain;
            let follows = |b: &Stretch| b.chain < *name || b.chain == *name && b.to < stretch.from;
            if !before.is_none_or(follows) {
                return Err(self.wrong("its chains are not in the order of their names"));
            }
            if stretch.from == 0 || stretch.from > stretch.to {
                return Err(self.wrong(&format!(
                    "the stretch of {name} runs from {} to {}",
                    stretch.from, stretch.to
                )));
            }
            if before.is_none_or(|b| b.chain != *name) {
                self.begin(stretch);
            }
            before = Some(stretch);
        }
        if header.chains.is_empty() {
            return Err(self.wrong("it holds no chain"));
        }
        self.count(line);
        self.whole = vec![false; header.chains.len()];
        self.header = Some(header.clone());
        Ok(BundleItem::Header(header))
    }

    /// Goes on from where a stretch begins.
    fn begin(&mut self, stretch: &Stretch) {
        if stretch.from > 1 {
            let Chain { site, epoch } = &stretch.chain;
            self.chains.resume(site.as_str(), *epoch, stretch.from - 1, stretch.before);
        }
    }

    fn read_entry(&self, line: &[u8]) -> Result<Linked, BundleError> {
        let line: EntryLine<'_> = self.json(line, "entry")?;
        Ok(Linked {
            raw: RawEntry {
                site: line.entry.chain.site.as_str().to_owned(),
                epoch: line.entry.chain.epoch,
                number: line.entry.number,
                kind: line.kind,
                effective: line.effective,
                recorded_ms: line.recorded_ms,
                recorded_offset: line.recorded_offset,
                author: line.author,
                program: line.program,
                evidence: line.evidence.map(|e| e.get().to_owned()),
                body: line.body.get().to_owned(),
                encoding: line.encoding,
            },
            prev: line.prev,
            hash: line.hash,
        })
    }

    /// Checks an entry against its chain within the bundle, and against the header.
    fn follow(&mut self, linked: &Linked) -> Result<(), BundleError> {
        let raw = &linked.raw;
        let of_chain =
            |s: &Stretch| s.chain.epoch == raw.epoch && s.chain.site.as_str() == raw.site;
        let chains = self.header.as_ref().map_or(&[][..], |h| &h.chains);
        // Of a chain in several stretches the first that has not come whole.
        let open = chains.iter().zip(&self.whole).position(|(s, whole)| of_chain(s) && !whole);
        let at = open.or_else(|| chains.iter().rposition(of_chain));
        let Some((at, stretch)) = at.and_then(|at| Some((at, chains.get(at)?.clone()))) else {
            return Err(self.wrong(&format!("{} is of no chain of the header", raw.label())));
        };
        let line = self.lines;
        self.chains
            .check(raw, &linked.prev, &linked.hash)
            .map_err(|source| BundleError::Chain { line, source })?;
        if raw.number == stretch.from && linked.prev != stretch.before {
            return Err(
                self.wrong(&format!("{} does not link to what the header says", raw.label()))
            );
        }
        if raw.number > stretch.to || (raw.number == stretch.to && linked.hash != stretch.head) {
            return Err(self.wrong(&format!(
                "the header says that {} ends at number {} with another hash",
                stretch.chain, stretch.to
            )));
        }
        if raw.number == stretch.to {
            self.end_stretch(at);
        }
        Ok(())
    }

    /// Notes that a stretch has come whole, and goes on from where the next of its chain begins.
    fn end_stretch(&mut self, at: usize) {
        if let Some(whole) = self.whole.get_mut(at) {
            *whole = true;
        }
        let chains = self.header.as_ref().map_or(&[][..], |h| &h.chains);
        let next =
            chains.get(at + 1).filter(|next| chains.get(at).is_some_and(|s| s.chain == next.chain));
        if let Some(next) = next.cloned() {
            self.begin(&next);
        }
    }

    /// All stretches have come whole.
    fn check_stretches(&self, chains: &[Stretch]) -> Result<(), BundleError> {
        match chains.iter().zip(&self.whole).find(|(_, whole)| !**whole) {
            None => Ok(()),
            Some((s, _)) => {
                Err(self.wrong(&format!("the entries of {} end before number {}", s.chain, s.to)))
            }
        }
    }
}
