//! Keys of sites, as entries tell them: from the first on, what comes of a site needs its seal.

use std::collections::BTreeMap;
use std::path::Path;

use rusqlite::Connection;

use super::book::Book;
use super::entries::at_position;
use super::error::{InFile, Result};
use crate::ledger::PublicKey;
use crate::model::{Body, EntryId, EntryKind, Site};

/// A key in force, and the entry that tells it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrustedKey {
    pub key: PublicKey,
    /// The entry.
    pub told_by: EntryId,
    /// Author of the entry.
    pub author: String,
}

/// Keys by site, as the entries that stand tell them: those of the site that keeps the book, and those
/// that a site tells of itself. A key is in force until it is withdrawn.
pub(super) fn keys_in_force(
    conn: &Connection,
    path: &Path,
    own: &Site,
) -> Result<BTreeMap<Site, Vec<TrustedKey>>> {
    let places: Vec<i64> = conn
        .prepare(
            "SELECT position FROM entry WHERE kind = ?1
             AND position NOT IN (SELECT entry FROM struck) ORDER BY position",
        )
        .and_then(|mut s| s.query_map([EntryKind::Key.word()], |r| r.get(0))?.collect())
        .in_file(path)?;
    let mut out: BTreeMap<Site, Vec<TrustedKey>> = BTreeMap::new();
    for place in places {
        let Some(stored) = at_position(conn, path, place)? else { continue };
        let entry = stored.raw.read()?;
        let Body::Key(body) = entry.body else { continue };
        // Checked when it was written or taken in.
        let Ok(key) = PublicKey::parse(&body.site, &body.key, &body.holder) else { continue };
        let by = &entry.id.chain.site;
        if by != own && *by != key.site {
            continue;
        }
        let keys = out.entry(key.site.clone()).or_default();
        keys.retain(|held| held.key.key != key.key);
        if !body.withdrawn {
            keys.push(TrustedKey { key, told_by: entry.id, author: entry.author });
        }
    }
    out.retain(|_, keys| !keys.is_empty());
    Ok(out)
}

impl Book {
    /// Keys of sites that entries of this book tell and that are in force, by site.
    pub fn trusted_keys(&self) -> Result<Vec<TrustedKey>> {
        let own = &self.identity().chain.site;
        Ok(keys_in_force(&self.conn, &self.path, own)?.into_values().flatten().collect())
    }
}
