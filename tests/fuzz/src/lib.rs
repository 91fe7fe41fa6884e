//! What each target does with bytes: it must come back, and what it accepts must keep its laws.

use pipelore::filter::{self, Answer, Facts, Select, compile};
use pipelore::intake::{MemoryFiles, MemoryLookup, Options, World, show, unwatched};
use pipelore::ledger::{
    BUNDLE_FORMAT, BundleHeader, BundleItem, BundleLimits, BundleReader, BundleWriter, Linked,
    canonical_json,
};
use pipelore::model::{Body, Chain, Entry, EntryId, Histogram, Instant, Recorded};
use pipelore::projection::alone::wrong_by_itself;
use pipelore::units::UnitSystem;

/// A kind of entry on the first line, its body after it; or any JSON.
pub fn entry(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    if let Ok(value) = serde_json::from_str::<serde_json::Value>(text)
        && let Ok(canonical) = canonical_json(&value)
    {
        let back: serde_json::Value = serde_json::from_str(&canonical).expect("canonical is JSON");
        assert_eq!(canonical_json(&back).expect("still canonical"), canonical);
    }
    let Some((kind, text)) = text.split_once('\n') else { return };
    let Ok(body) = Body::from_json(kind, text) else { return };
    let _ = (body.joints(), body.entries());
    let Ok(canonical) = canonical_json(&body.to_json().expect("a body that was read is written"))
    else {
        return;
    };
    // What has no members left (an empty tally) cannot be read back, and is refused when written.
    if let Ok(again) = Body::from_json(kind, &canonical) {
        let text = canonical_json(&again.to_json().expect("written")).expect("canonical");
        assert_eq!(text, canonical, "the canonical form of a body is a fixed point");
    }
    let chain: Chain = "yard".parse().expect("a name");
    let entry = Entry {
        id: EntryId { chain, number: 2 },
        effective: "2026-03-04".parse().expect("a day"),
        recorded: Recorded { at: Instant(1_772_600_000_000), offset_minutes: 60 },
        author: String::new(),
        program: String::new(),
        evidence: None,
        body,
    };
    let _ = wrong_by_itself(&entry);
}

/// A bundle as it comes from a file.
pub fn bundle(data: &[u8]) {
    let limits = BundleLimits { line: 1 << 16, entries: 1_000, bytes: 1 << 20 };
    let mut reader = BundleReader::new(limits);
    let mut entries: Vec<Linked> = Vec::new();
    for line in data.split_inclusive(|b| *b == b'\n') {
        match reader.take(line.strip_suffix(b"\n").unwrap_or(line)) {
            Ok(BundleItem::Entry(linked)) => {
                let _ = linked.raw.read_strictly();
                entries.push(*linked);
            }
            Ok(_) => {}
            Err(e) => {
                let _ = e.to_string();
                return;
            }
        }
    }
    let Ok(end) = reader.finish() else { return };
    // What was accepted can be passed on, and says the same.
    let mut writer = BundleWriter::new();
    let header = BundleHeader { pipelore_bundle: BUNDLE_FORMAT, ..end.header };
    let mut text = writer.header(&header).expect("a header that was read");
    for linked in &entries {
        text.push_str(&writer.entry(linked).expect("an entry that was accepted"));
    }
    for seal in &end.seals {
        text.push_str(&writer.seal(seal).expect("a seal that was read"));
    }
    text.push_str(&writer.footer().expect("a footer").0);
    let mut again = BundleReader::new(BundleLimits::default());
    let mut count = 0;
    for line in text.lines() {
        if let BundleItem::Entry(linked) = again.take(line.as_bytes()).expect("accepted again") {
            assert_eq!(*linked, entries[count]);
            count += 1;
        }
    }
    assert_eq!(count, entries.len());
}

/// The stored form of turns and hours by dogleg.
pub fn histogram(data: &[u8]) {
    let Ok(histogram) = Histogram::decode(data) else { return };
    assert_eq!(Histogram::decode(&histogram.encode()).expect("encoded"), histogram);
    let mut sum = histogram.clone();
    sum.add(&histogram);
    sum.subtract(&histogram);
    for dogleg in [i64::MIN, -1, 0, 1, 16_666_666, 500_000_000, i64::MAX] {
        let _ = (histogram.turns_above(dogleg), sum.hours_above(dogleg));
    }
}

/// A file as a reader meets it: its name on the first line, its bytes after it.
pub fn reader(data: &[u8]) {
    let Some(at) = data.iter().position(|b| *b == b'\n') else { return };
    let Ok(name) = std::str::from_utf8(&data[..at]) else { return };
    let files = MemoryFiles::default().with(name, &data[at + 1..]);
    let lookup = MemoryLookup::default();
    let world = World { files: &files, lookup: &lookup, progress: &unwatched };
    let outcome = pipelore::intake::read(name, &Options::default(), &world);
    let said: String = outcome.diagnostics.list().iter().map(show).collect();
    // Nothing of a file reaches a terminal raw.
    assert!(!said.chars().any(|c| c.is_control() && c != '\n'), "{said:?}");
    assert!(!outcome.is_refused() || !said.is_empty(), "refused without a word");
}

/// The text of a filter, down to its SQL and to its answer for a joint of which nothing is known.
pub fn filter(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let _ = filter::complete(text, text.len(), std::iter::empty());
    let joints = |_: &str| vec![1];
    let context = filter::Context {
        now: Instant(1_772_600_000_000),
        clock: pipelore::model::Clock::Offset(60),
        units: UnitSystem::Us,
        rules: filter::Rules::These(&[]),
        joints: &joints,
        words: &|_, _| None,
        ask: &|_| Some(Vec::new()),
    };
    match compile(text, &context) {
        Ok(compiled) => {
            let select = Select {
                answer: Answer::Matching,
                columns: &[],
                sort: None,
                limit: Some(1),
                among: None,
            };
            let query = compiled.select(&select);
            assert!(!query.sql.contains('"') && !query.sql.contains(';'), "{}", query.sql);
            let verdict = compiled.judge(&Facts::default());
            assert_eq!(compiled.explain(&Facts::default()).verdict, verdict);
        }
        Err(errors) => {
            assert!(!errors.is_empty());
            errors.iter().for_each(|e| assert!(!e.to_string().is_empty()));
        }
    }
}
