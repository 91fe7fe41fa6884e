//! An entry as it is stored and hashed, and its way to and from the model.

use crate::model::{
    Body, BodyError, Chain, Draft, Entry, EntryId, Evidence, Instant, Moment, NameError, Recorded,
    Site, TimeError,
};

use super::canonical::{CanonicalError, canonical_json};

/// Version of the canonical encoding written today. A change of the encoding is a new number; old
/// entries keep theirs and stay verifiable.
pub const ENCODING: u8 = 1;

/// Most bytes that the body of an entry may have. A run of months with its segments has a
/// hundredth of it; what is larger could not travel in a bundle.
pub const BODY_LIMIT: usize = 12 << 20;

/// The columns of an entry that its hash covers, as stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RawEntry {
    /// Site of the chain.
    pub site: String,
    /// Epoch of the chain.
    pub epoch: u32,
    /// Number in the chain.
    pub number: u64,
    /// Word for the kind of body.
    pub kind: String,
    /// When it happened, as written.
    pub effective: String,
    /// When it was written, ms of UTC.
    pub recorded_ms: i64,
    /// Clock offset of the place, minutes.
    pub recorded_offset: i32,
    pub author: String,
    pub program: String,
    /// What it rests on, canonical JSON.
    pub evidence: Option<String>,
    /// The fact, canonical JSON.
    pub body: String,
    /// Version of the encoding.
    pub encoding: u8,
}

/// Why an entry could not be written or read.
#[derive(Debug, thiserror::Error)]
pub enum RawError {
    /// The body has no canonical form.
    #[error(transparent)]
    Canonical(#[from] CanonicalError),
    /// The body or evidence is not what its kind says.
    #[error("entry {entry}: {source}")]
    Body { entry: String, source: BodyError },
    /// JSON that does not serialise or read.
    #[error("entry {entry}: its evidence cannot be read: {source}")]
    Evidence {
        entry: String,
        /// What the decoder said.
        source: serde_json::Error,
    },
    /// A body that serde could not write.
    #[error("a body cannot be written: {0}")]
    Write(#[source] serde_json::Error),
    /// A body that is larger than any entry may be.
    #[error("entry {entry}: its body has {bytes} bytes; an entry has {BODY_LIMIT} at most")]
    TooLarge {
        entry: String,
        /// Size of the body.
        bytes: usize,
    },
    /// Content that this program would have written otherwise.
    #[error("entry {entry}: its {column} is not in canonical form")]
    NotCanonical {
        entry: String,
        /// The first column that differs.
        column: &'static str,
    },
    /// A kind of entry that cannot stand at its number.
    #[error(
        "entry {entry}: {kind} cannot stand here; a chain begins with its epoch and has no other"
    )]
    Misplaced { entry: String, kind: String },
    /// A name that cannot be read.
    #[error("entry {entry}: {source}")]
    Name { entry: String, source: NameError },
    /// A time that cannot be read.
    #[error("entry {entry}: {source}")]
    Time { entry: String, source: TimeError },
}

/// The name of a chain as people write it; exists even when the site is no name.
pub fn chain_label(site: &str, epoch: u32) -> String {
    if epoch > 1 { format!("{site}/{epoch}") } else { site.to_owned() }
}

impl RawEntry {
    /// Gives a draft its place in a chain and its canonical form.
    pub fn write(
        draft: &Draft,
        id: &EntryId,
        recorded: Recorded,
        author: &str,
        program: &str,
    ) -> Result<Self, RawError> {
        let evidence = draft
            .evidence
            .as_ref()
            .map(|e| {
                let value = serde_json::to_value(e).map_err(RawError::Write)?;
                Ok::<_, RawError>(canonical_json(&value)?)
            })
            .transpose()?;
        let body = canonical_json(&draft.body.to_json().map_err(RawError::Write)?)?;
        if body.len() > BODY_LIMIT {
            return Err(RawError::TooLarge { entry: id.to_string(), bytes: body.len() });
        }
        Ok(Self {
            site: id.chain.site.as_str().to_owned(),
            epoch: id.chain.epoch,
            number: id.number,
            kind: draft.body.kind().word().to_owned(),
            effective: draft.effective.to_string(),
            recorded_ms: recorded.at.0,
            recorded_offset: recorded.offset_minutes,
            author: author.to_owned(),
            program: program.to_owned(),
            evidence,
            body,
            encoding: ENCODING,
        })
    }

    /// The name as people write it, for messages; exists even when the columns are damaged.
    pub fn label(&self) -> String {
        format!("{}-{}", chain_label(&self.site, self.epoch), self.number)
    }

    /// The chain that it belongs to.
    pub fn chain(&self) -> Result<Chain, RawError> {
        let site = Site::parse(&self.site)
            .map_err(|source| RawError::Name { entry: self.label(), source })?;
        Ok(Chain { site, epoch: self.epoch })
    }

    pub fn read(&self) -> Result<Entry, RawError> {
        let evidence = self
            .evidence
            .as_deref()
            .map(serde_json::from_str::<Evidence>)
            .transpose()
            .map_err(|source| RawError::Evidence { entry: self.label(), source })?;
        let effective: Moment = self
            .effective
            .parse()
            .map_err(|source| RawError::Time { entry: self.label(), source })?;
        let body = Body::from_json(&self.kind, &self.body)
            .map_err(|source| RawError::Body { entry: self.label(), source })?;
        Ok(Entry {
            id: EntryId { chain: self.chain()?, number: self.number },
            effective,
            recorded: Recorded {
                at: Instant(self.recorded_ms),
                offset_minutes: self.recorded_offset,
            },
            author: self.author.clone(),
            program: self.program.clone(),
            evidence,
            body,
        })
    }

    /// Reads an entry that others wrote, and refuses one that this program would have written in
    /// other bytes: what means the same must hash the same.
    pub fn read_strictly(&self) -> Result<Entry, RawError> {
        let entry = self.read()?;
        let draft = Draft {
            effective: entry.effective,
            evidence: entry.evidence.clone(),
            body: entry.body.clone(),
        };
        let ours = Self::write(&draft, &entry.id, entry.recorded, &entry.author, &entry.program)?;
        let columns = [
            ("site", self.site == ours.site),
            ("effective time", self.effective == ours.effective),
            ("evidence", self.evidence == ours.evidence),
            ("body", self.body == ours.body),
            ("encoding", self.encoding == ours.encoding),
        ];
        match columns.into_iter().find(|(_, same)| !same) {
            Some((column, _)) => Err(RawError::NotCanonical { entry: self.label(), column }),
            None => Ok(entry),
        }
    }

    /// The bytes that are hashed after the previous hash: a tag, the version, then every column
    /// with its length before it.
    pub fn canonical_bytes(&self, out: &mut Vec<u8>) {
        fn text(out: &mut Vec<u8>, s: &str) {
            out.extend_from_slice(&(s.len() as u64).to_be_bytes());
            out.extend_from_slice(s.as_bytes());
        }
        out.push(self.encoding);
        text(out, &self.site);
        out.extend_from_slice(&u64::from(self.epoch).to_be_bytes());
        out.extend_from_slice(&self.number.to_be_bytes());
        text(out, &self.kind);
        text(out, &self.effective);
        out.extend_from_slice(&self.recorded_ms.to_be_bytes());
        out.extend_from_slice(&i64::from(self.recorded_offset).to_be_bytes());
        text(out, &self.author);
        text(out, &self.program);
        // A flag keeps "no evidence" and "empty evidence" apart.
        out.push(u8::from(self.evidence.is_some()));
        text(out, self.evidence.as_deref().unwrap_or(""));
        text(out, &self.body);
    }
}
