//! Files that entries rest on, against the digests that the entries keep.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Read;
use std::path::Path;

use sha2::{Digest, Sha256};

use super::super::book::Book;
use super::super::error::{Result, StoreError};
use super::{Check, as_finding};
use crate::ledger::hex;
use crate::model::Body;

/// Folders below the given one that are looked into.
const DEPTH: usize = 8;

impl Book {
    /// Compares files of a folder with what entries say of them. A file is known by its digest,
    /// whatever it is called now; one that has an entry's name and another digest was changed.
    pub(super) fn check_evidence(&self, folder: &Path) -> Result<Check> {
        let mut check = Check::new("evidence");
        let mut files = Files::default();
        files.look(folder, DEPTH).map_err(|e| StoreError::io(folder, e))?;
        // Digest → name as written and the first entry that rests on it.
        let mut wanted: BTreeMap<String, (String, String)> = BTreeMap::new();
        let seen = self.each_entry(|stored| {
            let entry = stored.raw.read()?;
            let label = stored.raw.label();
            let mut add = |sha256: &str, file: &str| {
                wanted
                    .entry(sha256.to_ascii_lowercase())
                    .or_insert_with(|| (file.to_owned(), label.clone()));
            };
            if let Some(e) = &entry.evidence {
                add(&e.sha256, &e.file);
            }
            if let Body::Run(b) = &entry.body
                && let Some(log) = &b.log
            {
                add(&log.sha256, &log.file);
            }
            Ok(())
        });
        as_finding(seen, &mut check)?;
        let mut absent = 0u64;
        for (sha256, (file, entry)) in &wanted {
            if files.digests.contains(sha256) {
                check.looked_at += 1;
            } else if files.names.contains(file) {
                check.looked_at += 1;
                check
                    .fault(format!("{file} is not the file that {entry} rests on: it was changed"));
            } else {
                absent += 1;
                check.note(format!("{file}, on which {entry} rests, is not in the folder"));
            }
        }
        if absent > 0 {
            check.notes.push(format!("{absent} files in all are not in the folder"));
        }
        Ok(check)
    }
}

/// Names and digests of the files of a folder.
#[derive(Default)]
struct Files {
    names: BTreeSet<String>,
    digests: BTreeSet<String>,
}

impl Files {
    fn look(&mut self, folder: &Path, depth: usize) -> std::io::Result<()> {
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            // A link may lead anywhere; what stands in the folder counts.
            let kind = entry.file_type()?;
            if kind.is_dir() && depth > 0 {
                self.look(&entry.path(), depth - 1)?;
            } else if kind.is_file() {
                self.digests.insert(digest_of(&entry.path())?);
                self.names.insert(entry.file_name().to_string_lossy().into_owned());
            }
        }
        Ok(())
    }
}

fn digest_of(path: &Path) -> std::io::Result<String> {
    let mut file = fs::File::open(path)?;
    let mut hash = Sha256::new();
    let mut buffer = vec![0; 1 << 16];
    loop {
        let n = file.read(&mut buffer)?;
        if n == 0 {
            return Ok(hex(&hash.finalize()));
        }
        hash.update(buffer.get(..n).unwrap_or_default());
    }
}
