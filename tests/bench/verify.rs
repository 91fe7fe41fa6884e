//! How fast a book is proved: entries a second through the hash chain, in memory and from the file,
//! beside plain SHA-256 over the same bytes.
//!
//! `cargo bench --bench verify [ENTRIES]`

#![allow(
    missing_docs,
    unreachable_pub,
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::panic,
    reason = "a measurement for people"
)]

use std::time::Instant as Clock;

use pipelore::condition::Edition;
use pipelore::ledger::Chains;
use pipelore::model::{Body, Draft, Instant, NoteBody, Recorded};
use pipelore::store::{AppendOptions, Book, Stamp, StoredEntry};
use pipelore::units::UnitSystem;
use sha2::{Digest, Sha256};

/// The best of some runs: the machine may be busy with something else.
fn best(mut run: impl FnMut()) -> f64 {
    let mut best = f64::INFINITY;
    for _ in 0..5 {
        let begun = Clock::now();
        run();
        best = best.min(begun.elapsed().as_secs_f64());
    }
    best
}

fn main() {
    let entries: usize = std::env::args().skip(1).find_map(|a| a.parse().ok()).unwrap_or(200_000);
    let dir = tempfile::tempdir().unwrap();
    let stamp = Stamp {
        now: Recorded { at: Instant(1_772_600_000_000), offset_minutes: 60 },
        author: "bench".to_owned(),
        program: "pipelore bench".to_owned(),
    };
    let path = dir.path().join("a.pipelore");
    let mut book =
        Book::create(&path, "yard", UnitSystem::default(), Edition::shipped(), &stamp).unwrap();
    // Remarks of the size of an ordinary inspection, some three hundred bytes.
    let draft = |n: usize| Draft {
        effective: "2026-03-04".parse().unwrap(),
        evidence: None,
        body: Body::Note(NoteBody {
            joints: Vec::new(),
            about: None,
            text: format!("{n:08} {}", "wall 0.352 in at 4.1 m, box OD 6 1/2 in; ".repeat(7)),
        }),
    };
    for from in (0..entries).step_by(10_000) {
        let drafts: Vec<Draft> = (from..(from + 10_000).min(entries)).map(draft).collect();
        book.append(&drafts, &stamp, &AppendOptions::default()).unwrap();
    }
    let mut all: Vec<StoredEntry> = Vec::new();
    book.each_entry(|e| {
        all.push(e);
        Ok(())
    })
    .unwrap();
    let mut scratch = Vec::new();
    let mut bytes = 0usize;
    for e in &all {
        scratch.clear();
        e.raw.canonical_bytes(&mut scratch);
        bytes += scratch.len() + 47;
    }
    let block = vec![0x5a; bytes];
    let raw = best(|| {
        // As many digests as entries, of the same length: what hashing alone costs.
        for part in block.chunks(bytes / all.len()) {
            std::hint::black_box(Sha256::digest(part));
        }
    });
    let chain = best(|| {
        let mut chains = Chains::new();
        all.iter().for_each(|e| chains.check(&e.raw, &e.prev, &e.hash).unwrap());
    });
    let file = best(|| book.prove_chains().unwrap());
    let rate = |seconds: f64| all.len() as f64 / seconds;
    let per_second = |seconds: f64| bytes as f64 / seconds / 1e6;
    println!("{} entries, {} bytes of hash input each", all.len(), bytes / all.len());
    println!("SHA-256 alone:      {:>9.0} entries/s  {:>6.0} MB/s", rate(raw), per_second(raw));
    println!(
        "chain, in memory:   {:>9.0} entries/s  {:>6.0} MB/s  {:.2} of SHA-256 alone",
        rate(chain),
        per_second(chain),
        raw / chain
    );
    println!(
        "chain, from a file: {:>9.0} entries/s  {:>6.0} MB/s  {:.2} of SHA-256 alone",
        rate(file),
        per_second(file),
        raw / file
    );
    let whole = Clock::now();
    let verified = book.verify(None, None).unwrap();
    assert!(verified.sound(), "{verified:#?}");
    let seconds = whole.elapsed().as_secs_f64();
    println!("verify, everything: {:>9.0} entries/s", rate(seconds));
}
