//! Bundles out: entries on their way to other books, into a file that appears whole or not at all.

use std::io::{BufWriter, Write};
use std::path::Path;

use flate2::Compression;
use flate2::write::GzEncoder;
use rusqlite::{Connection, Row as SqlRow};

use super::book::Book;
use super::entries::{COLUMNS, from_row, hash_of, link_of, position_of, read_at};
use super::epoch::told_lost;
use super::error::{InFile, Result, StoreError};
use super::identity::Stamp;
use super::whole;
use crate::ledger::{
    BUNDLE_FORMAT, BUNDLE_FORMAT_WITH_LOST, BundleError, BundleHeader, BundleWriter, Linked, Seal,
    SecretKey, Stretch,
};
use crate::model::{Body, Chain, EntryId, EntryKind, Instant, LostStretch, Site};

/// Which sites' entries to send.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum Sites {
    /// The book's own site, all epochs of it.
    #[default]
    Own,
    /// Every site that the book holds.
    All,
    /// These.
    Named(Vec<Site>),
}

/// From where on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Since {
    /// From this entry on, and what arrived in this book after it.
    Entry(EntryId),
    /// What this book wrote or took in from this instant on, by its own clock.
    Instant(Instant),
}

/// What to send.
#[derive(Debug, Default)]
pub struct BundleOut<'a> {
    /// Whose entries.
    pub sites: Sites,
    /// From where on; everything when absent.
    pub since: Option<Since>,
    /// Pack it (gzip).
    pub packed: bool,
    /// Seal the stretches of the key's site.
    pub seal: Option<&'a SecretKey>,
}

/// What was sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BundleWritten {
    /// Stretches, by name of the chain.
    pub chains: Vec<Stretch>,
    /// Entries.
    pub entries: u64,
    /// SHA-256 in the footer.
    pub sha256: String,
    /// Names of the entries whose heads were sealed.
    pub sealed: Vec<EntryId>,
}

impl Book {
    /// Writes a bundle to a path where nothing stands.
    ///
    /// # Errors
    /// An entry whose content does not give its hash is not passed on; nothing is left behind then.
    pub fn bundle_out(
        &self,
        to: &Path,
        what: &BundleOut<'_>,
        stamp: &Stamp,
    ) -> Result<BundleWritten> {
        if to.symlink_metadata().is_ok() {
            return Err(StoreError::Exists { path: to.to_path_buf() });
        }
        let io = |e| StoreError::io(to, e);
        let mut out = BufWriter::new(whole::draft_of(to).map_err(io)?);
        let written = self.write_bundle(&mut out, what, stamp, to)?;
        let draft = out.into_inner().map_err(|e| io(e.into_error()))?;
        whole::put_new(draft.into_temp_path(), to)?;
        Ok(written)
    }

    /// Writes a bundle into a stream; `to` names it in errors.
    pub fn write_bundle(
        &self,
        out: &mut impl Write,
        what: &BundleOut<'_>,
        stamp: &Stamp,
        to: &Path,
    ) -> Result<BundleWritten> {
        if what.packed {
            let mut packer = GzEncoder::new(out, Compression::default());
            let written = self.write_lines(&mut packer, what, stamp, to)?;
            packer.finish().map_err(|e| StoreError::io(to, e))?;
            return Ok(written);
        }
        self.write_lines(out, what, stamp, to)
    }

    fn write_lines(
        &self,
        out: &mut impl Write,
        what: &BundleOut<'_>,
        stamp: &Stamp,
        to: &Path,
    ) -> Result<BundleWritten> {
        // One snapshot: an append meanwhile is not half in.
        let snapshot = self.conn.unchecked_transaction().in_file(&self.path)?;
        let first = self.first_position(what.since.as_ref())?;
        let chains = stretches(&snapshot, &self.path, self.chosen(&what.sites)?.as_deref(), first)?;
        if chains.is_empty() {
            return Err(StoreError::NothingToSend);
        }
        let told = told_lost(&snapshot, &self.path)?;
        // What was lost and came back stands behind what follows it in its chain.
        let order = if told.is_empty() { "position" } else { "site, epoch, number" };
        let lost = self.still_lost(told, &chains)?;
        let format = if lost.is_empty() { BUNDLE_FORMAT } else { BUNDLE_FORMAT_WITH_LOST };
        let mut write =
            |text: String| out.write_all(text.as_bytes()).map_err(|e| StoreError::io(to, e));
        let mut writer = BundleWriter::new();
        write(writer.header(&BundleHeader {
            pipelore_bundle: format,
            made: stamp.present().to_string(),
            author: stamp.author.clone(),
            program: stamp.program.clone(),
            chains: chains.clone(),
            lost: lost.clone(),
        })?)?;
        let mut entries = 0;
        {
            let mut statement = snapshot
                .prepare(&format!(
                    "SELECT {COLUMNS} FROM entry WHERE position >= ?1 ORDER BY {order}"
                ))
                .in_file(&self.path)?;
            let mut rows = statement.query([first]).in_file(&self.path)?;
            while let Some(row) = rows.next().in_file(&self.path)? {
                let Some(linked) = chosen_entry(row, &chains).in_file(&self.path)? else {
                    continue;
                };
                write(writer.entry(&linked)?)?;
                entries += 1;
            }
        }
        let mut sealed = Vec::new();
        if let Some(secret) = what.seal {
            for s in chains.iter().filter(|s| s.chain.site == *secret.site()) {
                let entry = EntryId { chain: s.chain.clone(), number: s.to };
                let at = stamp.present().to_string();
                let seal = secret.seal(&entry, &s.head, &at).map_err(BundleError::from)?;
                write(writer.seal(&seal)?)?;
                sealed.push(entry);
            }
            if sealed.is_empty() {
                return Err(StoreError::NothingToSeal(secret.site().to_string()));
            }
        }
        for seal in self.seals_held(&snapshot, &chains)? {
            if !sealed.contains(&seal.entry) {
                write(writer.seal(&seal)?)?;
                sealed.push(seal.entry);
            }
        }
        let (footer, sha256) = writer.footer()?;
        write(footer)?;
        Ok(BundleWritten { chains, entries, sha256, sealed })
    }

    /// Seals that came with what others sent and that are under an end of what is sent on.
    fn seals_held(&self, conn: &Connection, chains: &[Stretch]) -> Result<Vec<Seal>> {
        if chains.iter().all(|s| s.chain.site == self.identity().chain.site) {
            return Ok(Vec::new());
        }
        let places: Vec<i64> = conn
            .prepare("SELECT position FROM entry WHERE kind = ?1 ORDER BY position")
            .and_then(|mut s| s.query_map([EntryKind::Arrival.word()], |r| r.get(0))?.collect())
            .in_file(&self.path)?;
        let mut out: Vec<Seal> = Vec::new();
        for place in places {
            let Some(Body::Arrival(body)) = read_at(conn, &self.path, place)?.map(|e| e.body)
            else {
                continue;
            };
            for a in body.chains {
                let (Some(key), Some(signature)) = (a.sealed_by, a.signature) else { continue };
                let end = |s: &&Stretch| s.chain == a.chain && s.to == a.to;
                let Some(stretch) = chains.iter().find(end) else { continue };
                let entry = EntryId { chain: a.chain.clone(), number: a.to };
                if out.iter().all(|seal| seal.entry != entry) {
                    out.push(Seal { entry, hash: stretch.head, key, signature, at: a.sealed_at });
                }
            }
        }
        Ok(out)
    }

    /// What of the stretches told as lost, in the chains that are sent, has not come back.
    ///
    /// # Errors
    /// `Damaged` when something else is missing in them.
    fn still_lost(&self, told: Vec<LostStretch>, chains: &[Stretch]) -> Result<Vec<LostStretch>> {
        let holds = |chain: &Chain, number| -> Result<bool> {
            let id = EntryId { chain: chain.clone(), number };
            Ok(hash_of(&self.conn, &self.path, &id)?.is_some())
        };
        let mut lost = Vec::new();
        for l in told {
            let sent = chains.iter().any(|s| s.chain == l.chain && s.to > l.to);
            if sent && !holds(&l.chain, l.to)? {
                lost.push(l);
            }
        }
        for s in chains.iter().filter(|s| s.from > 1) {
            let told = lost.iter().any(|l| l.chain == s.chain && l.to + 1 == s.from);
            if !told && !holds(&s.chain, s.from - 1)? {
                return Err(StoreError::Damaged {
                    path: self.path.clone(),
                    what: format!("entries before {}-{} are missing", s.chain, s.from),
                });
            }
        }
        Ok(lost)
    }

    /// The sites asked for; `None` for all.
    fn chosen(&self, sites: &Sites) -> Result<Option<Vec<Site>>> {
        match sites {
            Sites::All => Ok(None),
            Sites::Own => Ok(Some(vec![self.identity().chain.site.clone()])),
            Sites::Named(names) => {
                for site in names {
                    let held: bool = self
                        .conn
                        .query_row(
                            "SELECT EXISTS (SELECT 1 FROM entry WHERE site = ?1)",
                            [site.as_str()],
                            |r| r.get(0),
                        )
                        .in_file(&self.path)?;
                    if !held {
                        return Err(StoreError::NoSite(site.to_string()));
                    }
                }
                Ok(Some(names.clone()))
            }
        }
    }

    /// Position of the first entry to send.
    fn first_position(&self, since: Option<&Since>) -> Result<i64> {
        match since {
            None => Ok(1),
            Some(Since::Entry(id)) => position_of(&self.conn, &self.path, id)?
                .ok_or_else(|| StoreError::NoEntry(id.to_string())),
            // What arrived in a bundle stands before the entry that says so and after the entry
            // that this book wrote before: those of its own writing tell the time.
            Some(Since::Instant(at)) => {
                let always = Instant(i64::MAX);
                Ok(self.place_before(*at, always)?.map_or(1, |p| p + 1))
            }
        }
    }
}

/// The entry of a row, when its chain and number are among those to send.
fn chosen_entry(row: &SqlRow<'_>, chains: &[Stretch]) -> rusqlite::Result<Option<Linked>> {
    let entry = from_row(row)?;
    let raw = entry.raw;
    let wanted = chains.iter().any(|s| {
        s.chain.site.as_str() == raw.site
            && s.chain.epoch == raw.epoch
            && (s.from..=s.to).contains(&raw.number)
    });
    Ok(wanted.then_some(Linked { raw, prev: entry.prev, hash: entry.hash }))
}

/// The stretches of chains from a position on.
fn stretches(
    conn: &Connection,
    path: &Path,
    sites: Option<&[Site]>,
    first: i64,
) -> Result<Vec<Stretch>> {
    let mut statement = conn
        .prepare(
            "SELECT site, epoch, min(number), max(number) FROM (
                 SELECT site, epoch, number,
                        number - row_number() OVER (PARTITION BY site, epoch ORDER BY number)
                            AS stretch
                 FROM entry WHERE position >= ?1)
             GROUP BY site, epoch, stretch ORDER BY site, epoch, min(number)",
        )
        .in_file(path)?;
    let mut rows = statement.query([first]).in_file(path)?;
    let mut out = Vec::new();
    while let Some(row) = rows.next().in_file(path)? {
        let read = || -> rusqlite::Result<(String, u32, i64, i64)> {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
        };
        let (site, epoch, from, to) = read().in_file(path)?;
        let damaged = |what: &str| StoreError::Damaged {
            path: path.to_path_buf(),
            what: format!("{what} of {site}"),
        };
        let name = Site::parse(&site).map_err(|_| damaged("the name of a site is not one"))?;
        if sites.is_some_and(|s| !s.contains(&name)) {
            continue;
        }
        let number = |n: i64| u64::try_from(n).map_err(|_| damaged("a number is no number"));
        let (from, to) = (number(from)?, number(to)?);
        let chain = Chain { site: name, epoch };
        let id = |number| EntryId { chain: chain.clone(), number };
        let (Some(before), Some(head)) =
            (link_of(conn, path, &id(from))?, hash_of(conn, path, &id(to))?)
        else {
            return Err(damaged("entries are missing in a chain"));
        };
        out.push(Stretch { chain, from, to, before, head });
    }
    // Names of chains sort by site, then epoch.
    out.sort_by(|a, b| (&a.chain, a.from).cmp(&(&b.chain, b.from)));
    Ok(out)
}
