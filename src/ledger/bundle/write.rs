//! A bundle on its way out.

use serde::Serialize;
use serde_json::value::RawValue;
use sha2::{Digest, Sha256};

use super::super::chain::{ChainFault, Hash, hex};
use super::super::raw::{RawEntry, RawError};
use super::super::seal::Seal;
use super::{BundleError, BundleHeader, BundleLimits, EntryLine, Footer, Linked, SealLine};
use crate::model::EntryId;

/// Writes a bundle line by line. Every line but the footer goes into the digest.
#[derive(Debug, Default)]
pub struct BundleWriter {
    digest: Sha256,
    entries: u64,
    limits: BundleLimits,
    scratch: Vec<u8>,
}

impl BundleWriter {
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
