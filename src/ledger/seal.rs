//! Seals: a site's signature under a head of its chain, and through the chain under everything
//! before it. Ed25519 (RFC 8032). Keys live in files outside the book; here they are only text.

use std::fmt;

use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use serde::{Deserialize, Serialize};

use super::chain::{Hash, hex};
use crate::model::{EntryId, NameError, Site};

/// Domain tags: a signature under a head is no signature under anything else. The second is that of
/// a seal which says when it was made.
const TAG: &[u8] = b"pipelore seal 1\0";
const TAG_WITH_TIME: &[u8] = b"pipelore seal 2\0";

/// Bytes of a key and of the seed that it is made from.
pub const KEY_LENGTH: usize = 32;

/// Why a key or a seal was refused.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SealError {
    /// Not a file of keys.
    #[error("this is no file of keys: {0}")]
    Keys(String),
    /// Hexadecimal digits that are no key.
    #[error("'{0}' is no Ed25519 key; a key has 64 hexadecimal digits")]
    Key(String),
    /// A key's site that is no name.
    #[error(transparent)]
    Site(#[from] NameError),
    /// The signature is not the key's under this head.
    #[error("the seal of {entry} does not hold: its signature is not of the key that it names")]
    Signature {
        /// Entry that it is said to seal.
        entry: String,
    },
    /// A known key of another site.
    #[error("the seal of {entry} is by a key known for {site}, which cannot seal another site")]
    OtherSite {
        /// Entry that it seals.
        entry: String,
        /// Site that the key is known for.
        site: String,
    },
    /// A seal of something else than came with it.
    #[error("the seal of {entry} seals no head that came with it")]
    NoHead {
        /// Entry that it seals.
        entry: String,
    },
}

/// A signature under a head.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Seal {
    /// The entry at the head.
    pub entry: EntryId,
    pub hash: Hash,
    /// Public key, lower-case hex.
    pub key: String,
    pub signature: String,
    /// When it was made, as the sealer's clock said; absent in seals of before they said it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
}

/// What is signed: a tag, the name with its length, the hash; and the time with its length. The name
/// counts the entries of the chain.
fn message(entry: &EntryId, hash: &Hash, at: Option<&str>) -> Vec<u8> {
    let mut out = if at.is_some() { TAG_WITH_TIME } else { TAG }.to_vec();
    let mut text = |text: &str| {
        out.extend_from_slice(&(text.len() as u64).to_be_bytes());
        out.extend_from_slice(text.as_bytes());
    };
    text(&entry.to_string());
    at.into_iter().for_each(&mut text);
    out.extend_from_slice(&hash.0);
    out
}

fn from_hex<const N: usize>(text: &str) -> Option<[u8; N]> {
    let text = text.trim();
    if text.len() != 2 * N || !text.bytes().all(|b| b.is_ascii_hexdigit()) {
        return None;
    }
    let mut out = [0; N];
    for (i, byte) in out.iter_mut().enumerate() {
        *byte = u8::from_str_radix(text.get(2 * i..2 * i + 2)?, 16).ok()?;
    }
    Some(out)
}

/// A site's secret key.
pub struct SecretKey {
    site: Site,
    key: SigningKey,
}

impl fmt::Debug for SecretKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "SecretKey(of {})", self.site)
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SecretText {
    site: String,
    secret_ed25519: String,
}

impl SecretKey {
    /// Makes a key from 32 random bytes.
    pub fn from_seed(site: Site, seed: &[u8; KEY_LENGTH]) -> Self {
        Self { site, key: SigningKey::from_bytes(seed) }
    }

    /// Reads a file of a secret key.
    pub fn parse(text: &str) -> Result<Self, SealError> {
        let t: SecretText =
            toml::from_str(text).map_err(|e| SealError::Keys(e.message().to_owned()))?;
        // The digits are not repeated in the error: they may be most of a secret.
        let seed = from_hex(&t.secret_ed25519)
            .ok_or_else(|| SealError::Keys("its secret has no 64 hexadecimal digits".to_owned()))?;
        Ok(Self::from_seed(Site::parse(&t.site)?, &seed))
    }

    /// The file of the key.
    pub fn to_text(&self) -> String {
        format!(
            "# Secret: whoever has this file can seal as {site}.\nsite = \"{site}\"\n\
             secret_ed25519 = \"{}\"\n",
            hex(&self.key.to_bytes()),
            site = self.site,
        )
    }

    /// The site that it seals for.
    pub const fn site(&self) -> &Site {
        &self.site
    }

    pub fn public(&self, holder: &str) -> PublicKey {
        PublicKey {
            site: self.site.clone(),
            key: hex(self.key.verifying_key().as_bytes()),
            holder: holder.to_owned(),
        }
    }

    /// Seals a head of the key's site.
    pub fn seal(&self, entry: &EntryId, hash: &Hash, at: &str) -> Result<Seal, SealError> {
        if entry.chain.site != self.site {
            return Err(SealError::OtherSite {
                entry: entry.to_string(),
                site: self.site.to_string(),
            });
        }
        Ok(Seal {
            entry: entry.clone(),
            hash: *hash,
            key: hex(self.key.verifying_key().as_bytes()),
            signature: hex(&self.key.sign(&message(entry, hash, Some(at))).to_bytes()),
            at: Some(at.to_owned()),
        })
    }
}

/// A public key that is known as one of a site's.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PublicKey {
    pub site: Site,
    /// The key, lower-case hex.
    pub key: String,
    /// Who holds the secret half, in words.
    pub holder: String,
}

impl PublicKey {
    /// Reads a key of a site.
    pub fn parse(site: &str, key: &str, holder: &str) -> Result<Self, SealError> {
        verifying(key).ok_or_else(|| SealError::Key(key.to_owned()))?;
        Ok(Self {
            site: Site::parse(site)?,
            key: key.trim().to_ascii_lowercase(),
            holder: holder.to_owned(),
        })
    }

    /// The key as an item of a file of known keys.
    pub fn to_text(&self) -> String {
        let holder = toml::Value::String(self.holder.clone());
        format!(
            "[[key]]\nsite = \"{}\"\ned25519 = \"{}\"\nholder = {holder}\n",
            self.site, self.key
        )
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct KnownText {
    #[serde(default)]
    key: Vec<KeyText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct KeyText {
    site: String,
    ed25519: String,
    #[serde(default)]
    holder: String,
}

/// Keys that a book takes for those of sites.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct KnownKeys(Vec<PublicKey>);

/// Whose a seal is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sealer {
    /// A key known for the site; who holds it.
    Known(String),
    /// A key that nobody vouched for.
    Unknown,
}

impl KnownKeys {
    /// Reads a file of known keys.
    pub fn parse(text: &str) -> Result<Self, SealError> {
        let t: KnownText =
            toml::from_str(text).map_err(|e| SealError::Keys(e.message().to_owned()))?;
        let keys = t.key.into_iter().map(|k| PublicKey::parse(&k.site, &k.ed25519, &k.holder));
        keys.collect::<Result<_, SealError>>().map(Self)
    }

    /// The keys themselves.
    pub fn keys(&self) -> &[PublicKey] {
        &self.0
    }

    /// These and others.
    #[must_use]
    pub fn with(mut self, others: impl IntoIterator<Item = PublicKey>) -> Self {
        self.0.extend(others);
        self
    }
}

fn verifying(key: &str) -> Option<VerifyingKey> {
    VerifyingKey::from_bytes(&from_hex(key)?).ok().filter(|k| !k.is_weak())
}

impl Seal {
    /// Checks the signature, and says whose the seal is.
    ///
    /// # Errors
    /// A signature that does not hold; a key that is known, but for another site.
    pub fn check(&self, known: &KnownKeys) -> Result<Sealer, SealError> {
        let entry = self.entry.to_string();
        let key = verifying(&self.key).ok_or_else(|| SealError::Key(self.key.clone()))?;
        let broken = || SealError::Signature { entry: entry.clone() };
        let signature = Signature::from_bytes(&from_hex(&self.signature).ok_or_else(broken)?);
        // The strict form refuses signatures that more than one key or text could pass for.
        let message = message(&self.entry, &self.hash, self.at.as_deref());
        key.verify_strict(&message, &signature).map_err(|_| broken())?;
        let same = |k: &&PublicKey| k.key == self.key.to_ascii_lowercase();
        let of_site = known.0.iter().filter(same).find(|k| k.site == self.entry.chain.site);
        match (of_site, known.0.iter().find(same)) {
            (Some(k), _) => Ok(Sealer::Known(k.holder.clone())),
            (None, Some(k)) => Err(SealError::OtherSite { entry, site: k.site.to_string() }),
            (None, None) => Ok(Sealer::Unknown),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn secret(site: &str, n: u8) -> SecretKey {
        SecretKey::from_seed(Site::parse(site).unwrap(), &[n; 32])
    }

    fn head() -> (EntryId, Hash) {
        ("rig_14-20".parse().unwrap(), Hash([7; 32]))
    }

    /// RFC 8032, section 7.1, test 1: the key pair and the signature under the empty message.
    #[test]
    fn keys_are_those_of_rfc_8032() {
        let seed =
            from_hex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60").unwrap();
        let key = SecretKey::from_seed(Site::parse("rig").unwrap(), &seed);
        assert_eq!(
            key.public("").key,
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
        );
        assert_eq!(
            hex(&key.key.sign(b"").to_bytes()),
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39\
             701cf9b46bd25bf5f0595bbe24655141438e7a100b"
        );
    }

    #[test]
    fn a_seal_holds_for_its_head_only() {
        let (entry, hash) = head();
        let key = secret("rig_14", 1);
        let known = KnownKeys::parse(&key.public("Rig 14").to_text()).unwrap();
        let seal = key.seal(&entry, &hash, "2026-03-05T08:00:00+01:00").unwrap();
        assert_eq!(seal.check(&known).unwrap(), Sealer::Known("Rig 14".to_owned()));
        assert_eq!(seal.check(&KnownKeys::default()).unwrap(), Sealer::Unknown);
        let changed: [fn(&mut Seal); 7] = [
            |s| s.at = None,
            |s| s.at = Some("2026-03-04T08:00:00+01:00".to_owned()),
            |s| s.entry.number += 1,
            |s| s.entry.chain.epoch = 2,
            |s| s.hash.0[0] ^= 1,
            |s| {
                let other = if s.signature.starts_with('0') { "1" } else { "0" };
                s.signature.replace_range(0..1, other);
            },
            |s| s.signature.clear(),
        ];
        for change in changed {
            let mut other = seal.clone();
            change(&mut other);
            assert!(matches!(other.check(&known), Err(SealError::Signature { .. })), "{other:?}");
        }
    }

    #[test]
    fn a_key_seals_for_its_own_site() {
        let (entry, hash) = head();
        let stranger = secret("yard", 2);
        assert!(stranger.seal(&entry, &hash, "2026-03-05T08:00:00+01:00").is_err());
        // A forger signs all the same; the receiver knows whose key it is.
        let forged = Seal {
            key: stranger.public("").key,
            signature: hex(&stranger.key.sign(&message(&entry, &hash, None)).to_bytes()),
            at: None,
            entry,
            hash,
        };
        let known = KnownKeys::parse(&stranger.public("Yard").to_text()).unwrap();
        assert!(matches!(forged.check(&known), Err(SealError::OtherSite { .. })));
    }

    #[test]
    fn key_files_read_back() {
        let key = secret("rig_14", 3);
        let back = SecretKey::parse(&key.to_text()).unwrap();
        assert_eq!(back.public("x"), key.public("x"));
        let two = format!(
            "{}\n# the yard's\n{}",
            key.public("a \"b\"\n").to_text(),
            secret("yard", 4).public("c").to_text()
        );
        let known = KnownKeys::parse(&two).unwrap();
        assert_eq!(known.0.len(), 2);
        assert_eq!(known.0[0].holder, "a \"b\"\n");
        assert!(KnownKeys::parse("").unwrap().0.is_empty());
        for bad in ["x", "[[key]]\nsite = \"a\"\ned25519 = \"00\"\n", "site = \"yard\""] {
            assert!(KnownKeys::parse(bad).is_err(), "{bad}");
        }
        assert!(!format!("{key:?}").contains("03"));
        let error = SecretKey::parse("site = \"yard\"\nsecret_ed25519 = \"abcdef\"").unwrap_err();
        assert!(!error.to_string().contains("abcdef"));
    }
}
