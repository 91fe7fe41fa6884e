//! Bundles: entries of chains on their way to another book, as text that people can read.
//!
//! One JSON object a line. A header says which stretches of which chains follow; then one line for
//! each entry with every column that its hash covers; then seals, if any; a footer closes with the
//! count and the SHA-256 of all bytes above it. Each kind of line has one spelling of its
//! beginning, so that there is one way to read a file.
//!
//! Here a bundle is only lines: opening, packing and limits on time are the store's.

use std::fmt::Write as _;

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use sha2::{Digest, Sha256};

use super::chain::{ChainFault, Chains, Hash, hex};
use super::raw::{RawEntry, RawError};
use super::seal::{Seal, SealError};
use crate::model::{Chain, EntryId};

/// Version of the layout written today.
pub const BUNDLE_FORMAT: u32 = 1;

/// How much a bundle may hold. What lies beyond is refused before it fills memory or disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BundleLimits {
    /// Bytes of one line.
    pub line: usize,
    /// Entries.
    pub entries: u64,
    /// Bytes in all, unpacked.
    pub bytes: u64,
}

impl Default for BundleLimits {
    fn default() -> Self {
        Self { line: 16 << 20, entries: 10_000_000, bytes: 8 << 30 }
    }
}

/// A stretch of one chain.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stretch {
    /// The chain.
    pub chain: Chain,
    /// First number.
    pub from: u64,
    /// Last number.
    pub to: u64,
    /// Hash that the first entry links to.
    pub before: Hash,
    /// Hash of the last entry.
    pub head: Hash,
}

/// First line of a bundle.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BundleHeader {
    /// Version of the layout.
    pub pipelore_bundle: u32,
    /// When it was made.
    pub made: String,
    /// Who made it.
    pub author: String,
    /// Program and version that made it.
    pub program: String,
    /// What it holds, by name of the chain.
    pub chains: Vec<Stretch>,
}

/// An entry with its link.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Linked {
    /// The entry.
    pub raw: RawEntry,
    /// Hash of the entry before it.
    pub prev: Hash,
    /// Its own hash.
    pub hash: Hash,
}

/// One entry as a line.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct EntryLine<'a> {
    entry: EntryId,
    kind: String,
    effective: String,
    recorded_ms: i64,
    recorded_offset: i32,
    author: String,
    program: String,
    #[serde(borrow, skip_serializing_if = "Option::is_none")]
    evidence: Option<&'a RawValue>,
    #[serde(borrow)]
    body: &'a RawValue,
    encoding: u8,
    prev: Hash,
    hash: Hash,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SealLine {
    seal: Seal,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Footer {
    entries: u64,
    sha256: String,
}

/// Why a bundle was refused. Each names the first thing that is wrong.
#[derive(Debug, thiserror::Error)]
pub enum BundleError {
    /// It does not begin like one.
    #[error("this is not a bundle: {why}")]
    NotABundle {
        /// What it is instead.
        why: String,
    },
    /// A newer program wrote it.
    #[error("this bundle has format {format}; this version reads {BUNDLE_FORMAT}")]
    Newer {
        /// Format found.
        format: u32,
    },
    /// A line that is none of a bundle's.
    #[error("line {line}: {why}")]
    Line {
        /// Number of the line, from 1.
        line: u64,
        /// What is wrong.
        why: String,
    },
    /// More than a bundle may hold.
    #[error("line {line}: a bundle has {what} at most")]
    TooLarge {
        /// Number of the line.
        line: u64,
        /// The limit, in words.
        what: String,
    },
    /// It cannot be unpacked or read.
    #[error("after line {line} the bundle cannot be read: {why}")]
    Unreadable {
        /// Last line read.
        line: u64,
        /// What the reader said.
        why: String,
    },
    /// It ends before its footer.
    #[error("the bundle is cut short after line {line}: it has no footer")]
    Cut {
        /// Last line read.
        line: u64,
    },
    /// Its bytes are not those that were written.
    #[error("the bundle was changed on its way: its digest is {found}, its footer says {stated}")]
    Digest {
        /// Digest of what was read.
        found: String,
        /// Digest in the footer.
        stated: String,
    },
    /// A chain in it does not hold together.
    #[error("line {line}: {source}")]
    Chain {
        /// Number of the line.
        line: u64,
        /// Where and how.
        source: ChainFault,
    },
    /// An entry that cannot be read, or that this program would have written otherwise.
    #[error(transparent)]
    Entry(#[from] RawError),
    /// A fact that is wrong by itself.
    #[error("entry {entry}: {what}")]
    Fact {
        /// The entry.
        entry: String,
        /// What is wrong.
        what: String,
    },
    /// The book lacks what comes before.
    #[error("{entry} does not follow: the book holds {chain} up to {held}; entries are missing")]
    Gap {
        /// First entry that does not fit.
        entry: String,
        /// Its chain.
        chain: String,
        /// Last entry held.
        held: String,
    },
    /// The book holds another entry of that name.
    #[error("{entry} differs from the entry of that name in the book: two books wrote as one site")]
    Fork {
        /// First entry that differs.
        entry: String,
    },
    /// Entries of the receiving book's own chain that it never wrote, or lost.
    #[error("{entry} is of this book's own chain, which ends at {held}")]
    Own {
        /// First entry that the book lacks.
        entry: String,
        /// Its own head.
        held: String,
    },
    /// An epoch that continues an entry with another hash than the book's.
    #[error("{epoch} continues a {parent} with another hash than the {parent} of the book")]
    Parent {
        /// Entry that begins the epoch.
        epoch: String,
        /// Entry that it continues.
        parent: String,
    },
    /// A seal that does not hold.
    #[error(transparent)]
    Seal(#[from] SealError),
    /// No seal of a known key where one is asked for.
    #[error("{chain} came without a seal of a key known for its site")]
    Unsealed {
        /// The chain.
        chain: String,
    },
}

/// The first bytes of each kind of line.
const ENTRY: &[u8] = b"{\"entry\":";
const SEAL: &[u8] = b"{\"seal\":";
const FOOTER: &[u8] = b"{\"entries\":";
const HEADER: &[u8] = b"{\"pipelore_bundle\":";

/// Writes a bundle line by line. Every line but the footer goes into the digest.
#[derive(Debug, Default)]
pub struct BundleWriter {
    digest: Sha256,
    entries: u64,
    limits: BundleLimits,
    scratch: Vec<u8>,
}

impl BundleWriter {
    /// Begins a bundle.
    pub fn new() -> Self {
        Self::default()
    }

    fn line(&mut self, what: &impl Serialize) -> Result<String, BundleError> {
        let mut text = serde_json::to_string(what).map_err(|e| self.broken(&e.to_string()))?;
        text.push('\n');
        self.digest.update(text.as_bytes());
        Ok(text)
    }

    fn broken(&self, why: &str) -> BundleError {
        BundleError::Line { line: self.entries + 1, why: why.to_owned() }
    }

    /// The header.
    pub fn header(&mut self, header: &BundleHeader) -> Result<String, BundleError> {
        self.line(header)
    }

    /// An entry; one that does not give its hash is not passed on.
    pub fn entry(&mut self, linked: &Linked) -> Result<String, BundleError> {
        let raw = &linked.raw;
        if Hash::of_entry(&linked.prev, raw, &mut self.scratch) != linked.hash {
            let source = ChainFault::Content { entry: raw.label() };
            return Err(BundleError::Chain { line: self.entries + 1, source });
        }
        let chain = raw.chain()?;
        let text = self.line(&EntryLine {
            entry: EntryId { chain, number: raw.number },
            kind: raw.kind.clone(),
            effective: raw.effective.clone(),
            recorded_ms: raw.recorded_ms,
            recorded_offset: raw.recorded_offset,
            author: raw.author.clone(),
            program: raw.program.clone(),
            evidence: raw.evidence.as_deref().map(|e| as_value(raw, e)).transpose()?,
            body: as_value(raw, &raw.body)?,
            encoding: raw.encoding,
            prev: linked.prev,
            hash: linked.hash,
        })?;
        self.entries += 1;
        if text.len() > self.limits.line {
            return Err(BundleError::Line {
                line: self.entries,
                why: format!("{} is too long to travel", raw.label()),
            });
        }
        Ok(text)
    }

    /// A seal.
    pub fn seal(&mut self, seal: &Seal) -> Result<String, BundleError> {
        self.line(&SealLine { seal: seal.clone() })
    }

    /// The footer, and the digest that it states.
    pub fn footer(self) -> Result<(String, String), BundleError> {
        let sha256 = hex(&self.digest.finalize());
        let footer = Footer { entries: self.entries, sha256: sha256.clone() };
        let mut text = serde_json::to_string(&footer)
            .map_err(|e| BundleError::Line { line: self.entries + 1, why: e.to_string() })?;
        text.push('\n');
        Ok((text, sha256))
    }
}

/// JSON text that goes into a line as it stands; what does not cannot travel.
fn as_value<'a>(raw: &RawEntry, text: &'a str) -> Result<&'a RawValue, BundleError> {
    let column = "body or evidence";
    let wrong = || BundleError::Entry(RawError::NotCanonical { entry: raw.label(), column });
    let value: &RawValue = serde_json::from_str(text).map_err(|_| wrong())?;
    if value.get() == text && !text.contains('\n') { Ok(value) } else { Err(wrong()) }
}

/// What a line was.
#[derive(Debug, PartialEq, Eq)]
pub enum BundleItem {
    /// The header.
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
    /// The header.
    pub header: BundleHeader,
    /// Digest of everything above the footer.
    pub sha256: String,
    /// Entries.
    pub entries: u64,
    /// Seals.
    pub seals: Vec<Seal>,
}

/// Reads a bundle line by line, and refuses it at the first thing wrong.
#[derive(Debug)]
pub struct BundleReader {
    limits: BundleLimits,
    header: Option<BundleHeader>,
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
        if version.pipelore_bundle != BUNDLE_FORMAT {
            return Err(BundleError::Newer { format: version.pipelore_bundle });
        }
        let header: BundleHeader = self.json(line, "header")?;
        let mut before: Option<&Chain> = None;
        for stretch in &header.chains {
            let name = &stretch.chain;
            if before.is_some_and(|b| b >= name) {
                return Err(self.wrong("its chains are not in the order of their names"));
            }
            before = Some(name);
            if stretch.from == 0 || stretch.from > stretch.to {
                return Err(self.wrong(&format!(
                    "the stretch of {name} runs from {} to {}",
                    stretch.from, stretch.to
                )));
            }
            if stretch.from > 1 {
                self.chains.resume(
                    name.site.as_str(),
                    name.epoch,
                    stretch.from - 1,
                    stretch.before,
                );
            }
        }
        if header.chains.is_empty() {
            return Err(self.wrong("it holds no chain"));
        }
        self.count(line);
        self.header = Some(header.clone());
        Ok(BundleItem::Header(header))
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
        let chains = self.header.as_ref().map_or(&[][..], |h| &h.chains);
        let stretch = chains
            .iter()
            .find(|s| s.chain.site.as_str() == raw.site && s.chain.epoch == raw.epoch)
            .cloned();
        let Some(stretch) = stretch else {
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
        Ok(())
    }

    /// All stretches have come whole.
    fn check_stretches(&self, chains: &[Stretch]) -> Result<(), BundleError> {
        for s in chains {
            let head = self.chains.head(s.chain.site.as_str(), s.chain.epoch);
            if head != Some((s.to, s.head)) {
                return Err(
                    self.wrong(&format!("the entries of {} end before number {}", s.chain, s.to))
                );
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::raw::ENCODING;
    use super::*;
    use proptest::prelude::*;

    fn chain(site: &str, entries: u64) -> Vec<Linked> {
        let mut prev = Hash::NONE;
        let mut scratch = Vec::new();
        (1..=entries)
            .map(|number| {
                let raw = RawEntry {
                    site: site.to_owned(),
                    epoch: 1,
                    number,
                    kind: "note".to_owned(),
                    effective: "2026-03-04".to_owned(),
                    recorded_ms: 1_772_600_000_000,
                    recorded_offset: -300,
                    author: "Ä \"quoted\" \\ author\n".to_owned(),
                    program: "pipelore 0.1.0".to_owned(),
                    evidence: (number % 2 == 0).then(|| r#"{"file":"a.csv"}"#.to_owned()),
                    body: format!(r#"{{"text":"note {number} \u0001 é"}}"#),
                    encoding: ENCODING,
                };
                let hash = Hash::of_entry(&prev, &raw, &mut scratch);
                let linked = Linked { raw, prev, hash };
                prev = hash;
                linked
            })
            .collect()
    }

    fn stretch(part: &[Linked]) -> Stretch {
        let (first, last) = (part.first().unwrap(), part.last().unwrap());
        Stretch {
            chain: first.raw.chain().unwrap(),
            from: first.raw.number,
            to: last.raw.number,
            before: first.prev,
            head: last.hash,
        }
    }

    fn lines(parts: &[&[Linked]]) -> Vec<String> {
        let mut writer = BundleWriter::new();
        let header = BundleHeader {
            pipelore_bundle: BUNDLE_FORMAT,
            made: "2026-03-05T00:00:00Z".to_owned(),
            author: "x".to_owned(),
            program: "pipelore 0.1.0".to_owned(),
            chains: parts.iter().map(|p| stretch(p)).collect(),
        };
        let mut out = vec![writer.header(&header).unwrap()];
        for linked in parts.iter().flat_map(|p| p.iter()) {
            out.push(writer.entry(linked).unwrap());
        }
        out.push(writer.footer().unwrap().0);
        out
    }

    fn read(lines: &[String]) -> Result<(Vec<Linked>, BundleEnd), BundleError> {
        let mut reader = BundleReader::new(BundleLimits::default());
        let mut out = Vec::new();
        for line in lines {
            if let BundleItem::Entry(linked) =
                reader.take(line.trim_end_matches('\n').as_bytes())?
            {
                out.push(*linked);
            }
        }
        Ok((out, reader.finish()?))
    }

    #[test]
    fn what_is_written_reads_back() {
        let (rig, yard) = (chain("rig", 4), chain("yard", 5));
        let (back, end) = read(&lines(&[&rig, &yard[2..]])).unwrap();
        let sent: Vec<Linked> = rig.iter().chain(&yard[2..]).cloned().collect();
        assert_eq!(back, sent);
        assert_eq!(end.entries, 7);
    }

    /// The layout is a contract with other programs. Hash and digest were computed independently
    /// with Python's hashlib over the documented layout.
    #[test]
    fn the_layout_does_not_drift() {
        let hash = "49b52b2acb4eac04731da1b304d9794c1b3df092c6adbb37f8a9b0083a794bbb";
        let digest = "7b9638ee62f2688a408ffb4739ca2cd9d554c1430495abe1d03736e9165e1848";
        let none = "0".repeat(64);
        let expected = [
            r#"{"pipelore_bundle":1,"made":"2026-03-05T00:00:00Z","author":"x","#,
            r#""program":"pipelore 0.1.0","chains":[{"chain":"rig","from":1,"to":1,"before":""#,
            &none,
            r#"","head":""#,
            hash,
            "\"}]}\n",
            r#"{"entry":"rig-1","kind":"note","effective":"2026-03-04","recorded_ms":1772600000000,"#,
            r#""recorded_offset":-300,"author":"Ä \"quoted\" \\ author\n","#,
            r#""program":"pipelore 0.1.0","body":{"text":"note 1 \u0001 é"},"encoding":1,"prev":""#,
            &none,
            r#"","hash":""#,
            hash,
            "\"}\n",
            r#"{"entries":1,"sha256":""#,
            digest,
            "\"}\n",
        ];
        assert_eq!(lines(&[&chain("rig", 1)]).concat(), expected.concat());
    }

    #[test]
    fn every_fault_is_named() {
        let yard = chain("yard", 4);
        let good = lines(&[&yard]);
        let say = |change: &dyn Fn(&mut Vec<String>)| {
            let mut lines = good.clone();
            change(&mut lines);
            read(&lines).unwrap_err().to_string()
        };
        assert_eq!(
            say(&|l| drop(l.remove(0))),
            "this is not a bundle: its first line is not the header of one"
        );
        assert_eq!(say(&|l| l.clear()), "this is not a bundle: it is empty");
        assert_eq!(
            say(&|l| l[0] = l[0].replacen("bundle\":1", "bundle\":7", 1)),
            "this bundle has format 7; this version reads 1"
        );
        assert_eq!(
            say(&|l| drop(l.remove(2))),
            "line 3: yard-3 follows number 1 of its chain: entries are missing or out of order"
        );
        assert_eq!(
            say(&|l| l[2] = l[2].replace("note 2", "note Z")),
            "line 3: yard-2 does not give its own hash: its content was altered"
        );
        assert_eq!(say(&|l| drop(l.remove(4))), "line 5: the entries of yard end before number 4");
        assert_eq!(
            say(&|l| drop(l.pop())),
            "the bundle is cut short after line 5: it has no footer"
        );
        assert_eq!(say(&|l| l.push(l[1].clone())), "line 7: nothing may follow the footer");
        assert!(
            say(&|l| l[0] = l[0].replace("\"x\"", "\"y\""))
                .starts_with("the bundle was changed on its way")
        );
        assert!(say(&|l| l[1] = "{}".to_owned()).starts_with("line 2: "));
        assert!(say(&|l| l[3] = l[3].replace("\"kind\"", "\"sort\"")).contains("unknown field"));
    }

    #[test]
    fn limits_hold() {
        let good = lines(&[&chain("yard", 4)]);
        let with = |limits: BundleLimits| {
            let mut reader = BundleReader::new(limits);
            good.iter().try_for_each(|l| reader.take(l.trim_end().as_bytes()).map(|_| ()))
        };
        let limits = BundleLimits::default();
        with(limits).unwrap();
        for small in [
            BundleLimits { line: 100, ..limits },
            BundleLimits { entries: 3, ..limits },
            BundleLimits { bytes: 1_000, ..limits },
        ] {
            assert!(matches!(with(small), Err(BundleError::TooLarge { .. })));
        }
    }

    proptest! {
        #[test]
        fn soup_never_panics(soup in prop::collection::vec(any::<Vec<u8>>(), 0..5)) {
            let mut reader = BundleReader::new(BundleLimits::default());
            for line in soup {
                let _ = reader.take(&line);
            }
        }

        /// One changed byte anywhere is refused (or changes nothing that is read).
        #[test]
        fn a_changed_byte_is_refused(at in any::<prop::sample::Index>(), to in 0x20u8..0x7f) {
            let good = lines(&[&chain("rig", 2), &chain("yard", 3)]);
            let text = good.concat();
            let at = at.index(text.len());
            let mut bytes = text.clone().into_bytes();
            prop_assume!(bytes[at] != to && bytes[at] != b'\n');
            bytes[at] = to;
            let mut reader = BundleReader::new(BundleLimits::default());
            let all = bytes
                .split_inclusive(|b| *b == b'\n')
                .try_for_each(|l| reader.take(l.strip_suffix(b"\n").unwrap_or(l)).map(|_| ()));
            prop_assert!(all.is_err() || reader.finish().is_err());
        }
    }
}
