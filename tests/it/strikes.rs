//! Who may strike and amend: a site its own entries freely, those of another site by decision alone,
//! which stays in the entry and is shown wherever the strike is. Order of arrival changes nothing.

use std::sync::atomic::{AtomicU32, Ordering};

use pipelore::model::{Body, Instant, Recorded, StrikeBody};
use pipelore::store::{Access, AppendOptions, Book, Stamp};

use crate::cli::{Desk, NOW};
use crate::world::draft;

/// The book of a firm with an inspection of each of two joints: firm-5 (77 %) and firm-6 (93 %), which
/// stand in the books of the yard and the rig, too.
fn three_sites() -> Desk {
    let desk = Desk::new();
    for site in ["firm", "yard", "rig"] {
        run(&desk, site, &["new", "--site", site]);
    }
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],Connection,\
         TJ OD [in],TJ ID [in],Received,Location,String\n\
         A-1,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2024-01-05,Yard,S1\n\
         A-2,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2024-01-05,Yard,S1\n",
    );
    run(&desk, "firm", &["load", "joints.csv"]);
    for (serial, wall) in [("A-1", "77 %"), ("A-2", "93 %")] {
        let fields = [format!("serial={serial}"), "date=2024-04-01".into(), format!("wall={wall}")];
        let mut words = vec!["enter", "inspection", "methods=UT wall"];
        words.extend(fields.iter().map(String::as_str));
        run(&desk, "firm", &words);
    }
    send(&desk, "firm", &["yard", "rig"]);
    desk
}

fn run(desk: &Desk, book: &str, words: &[&str]) -> String {
    desk.run(&[&["--book", book], words].concat()).ok()
}

/// Sends all that a site holds to others; what the last of them said of it.
fn send(desk: &Desk, from: &str, to: &[&str]) -> String {
    static SENT: AtomicU32 = AtomicU32::new(0);
    let file = format!("{from}-{}.jsonl", SENT.fetch_add(1, Ordering::Relaxed));
    run(desk, from, &["bundle", "out", &file, "--all-sites"]);
    to.iter().fold(String::new(), |_, to| run(desk, to, &["bundle", "in", &file]))
}

/// Joints of a book with a wall below a share.
fn below(desk: &Desk, book: &str, share: &str) -> Vec<String> {
    let filter = format!("wall < {share}");
    let out = run(desk, book, &["find", &filter, "--show", "serial", "--csv"]);
    out.lines().skip(1).map(|l| l.split(',').next().unwrap().to_owned()).collect()
}

/// Writes a strike without a decision, as a program of another maker would.
fn strike_unasked(desk: &Desk, book: &str, entry: &str) {
    let now = NOW.parse().unwrap();
    let pipelore::model::Moment::Clock(at) = now else { panic!("no time") };
    let stamp = Stamp {
        now: Recorded { at: Instant(at.timestamp_millis()), offset_minutes: 60 },
        author: "tester".to_owned(),
        program: "another".to_owned(),
    };
    let body = StrikeBody {
        entry: entry.parse().unwrap(),
        reason: "not ours".to_owned(),
        instead: Vec::new(),
        decision: None,
    };
    let mut book = Book::open(&desk.path(book), Access::Write).unwrap();
    let how = AppendOptions { keep_conflicts: true, dry_run: false };
    book.append(&[draft("2024-06-01", Body::Strike(body))], &stamp, &how).unwrap();
    book.close().unwrap();
}

#[test]
fn another_sites_entry_is_struck_by_decision_alone() {
    let desk = three_sites();
    let strike = ["--book", "yard", "strike", "firm-5", "--reason", "other joint"];
    let said = desk.run(&strike).fails(2);
    assert!(said.contains("was written by site firm") && said.contains("--decision"), "{said}");
    assert_eq!(below(&desk, "yard", "80 %"), ["A-1"]);
    // Its own it strikes freely.
    run(&desk, "firm", &["strike", "firm-6", "--reason", "other joint"]);
    let decision = ["--decision", "the firm has closed"];
    let done = run(&desk, "yard", &[&strike[2..], &decision].concat());
    assert!(done.contains("the firm has closed"), "{done}");
    let none: [&str; 0] = [];
    assert_eq!(below(&desk, "yard", "80 %"), none);
    for words in [&["trace", "A-1"][..], &["entries"]] {
        let shown = run(&desk, "yard", words);
        assert!(shown.contains("by decision: the firm has closed"), "{shown}");
    }
    // Elsewhere it counts as here, and is said.
    let said = send(&desk, "yard", &["rig", "firm"]);
    assert!(said.contains("strikes firm-5") && said.contains("the firm has closed"), "{said}");
    assert_eq!(below(&desk, "firm", "80 %"), none);
    assert_eq!(below(&desk, "rig", "80 %"), none);
    // A decision may set it aside, and its effect with it.
    let settle = ["enter", "decision", "ruling=settle", "falls=yard-4", "reason=it was right"];
    run(&desk, "rig", &settle);
    assert_eq!(below(&desk, "rig", "80 %"), ["A-1"]);
    send(&desk, "rig", &["yard"]);
    assert_eq!(below(&desk, "yard", "80 %"), ["A-1"]);
    for book in ["yard", "rig", "firm"] {
        run(&desk, book, &["verify"]);
    }
}

#[test]
fn another_sites_entry_is_amended_by_decision_alone() {
    let desk = three_sites();
    let amend = ["enter", "amend", "entry=firm-6", "wall=70 %", "reason=misread"];
    let said = desk.run(&[&["--book", "yard"][..], &amend].concat()).fails(2);
    assert!(said.contains("decision='…'"), "{said}");
    let done = run(&desk, "yard", &[&amend[..], &["decision=seen on the gauge"]].concat());
    assert!(done.contains("firm-6"), "{done}");
    let said = send(&desk, "yard", &["firm"]);
    assert!(said.contains("amends firm-6") && said.contains("seen on the gauge"), "{said}");
    assert_eq!(below(&desk, "firm", "80 %"), ["A-1", "A-2"]);
    assert!(run(&desk, "firm", &["trace", "A-2"]).contains("by decision: seen on the gauge"));
}

#[test]
fn what_arrives_without_a_decision_waits_for_one_in_whatever_order() {
    let desk = three_sites();
    strike_unasked(&desk, "rig", "firm-5");
    assert_eq!(below(&desk, "rig", "80 %"), ["A-1"], "in its own book, too");
    let said = send(&desk, "rig", &["yard"]);
    assert!(said.contains("rig-4 strikes firm-5") && said.contains("not in force"), "{said}");
    assert_eq!(below(&desk, "yard", "80 %"), ["A-1"]);
    // A book that gets the strike before what it strikes.
    run(&desk, "firm", &["bundle", "out", "firm.jsonl"]);
    run(&desk, "rig", &["bundle", "out", "rig.jsonl"]);
    run(&desk, "late", &["new", "--site", "late"]);
    run(&desk, "late", &["bundle", "in", "rig.jsonl"]);
    run(&desk, "late", &["bundle", "in", "firm.jsonl"]);
    for book in ["yard", "late"] {
        assert_eq!(below(&desk, book, "80 %"), ["A-1"], "{book}");
        let verified = run(&desk, book, &["verify"]);
        assert!(verified.contains("rig-4 strikes firm-5"), "{verified}");
        assert!(run(&desk, book, &["entries"]).contains("waits for a decision"));
        assert!(run(&desk, book, &["trace", "A-1"]).contains("rig-4 strikes firm-5"));
    }
    let settle = ["enter", "decision", "ruling=settle", "stands=rig-4", "reason=the rig is right"];
    run(&desk, "yard", &settle);
    let none: [&str; 0] = [];
    assert_eq!(below(&desk, "yard", "80 %"), none);
    send(&desk, "yard", &["late", "firm"]);
    for book in ["yard", "late", "firm"] {
        assert_eq!(below(&desk, book, "80 %"), none, "{book}");
        assert!(!run(&desk, book, &["verify"]).contains("rig-4 strikes"));
    }
}

#[test]
fn no_other_site_strikes_what_a_book_is_kept_by() {
    let desk = three_sites();
    run(&desk, "firm", &["seal", "key", "firm.key"]);
    run(&desk, "yard", &["seal", "trust", "firm.key.pub", "--reason", "handed over"]);
    send(&desk, "yard", &["rig"]);
    let strike = ["strike", "yard-4", "--reason", "no key of ours", "--decision", "so there"];
    run(&desk, "rig", &strike);
    let said = send(&desk, "rig", &["yard"]);
    assert!(said.contains("another site's to strike"), "{said}");
    run(&desk, "firm", &["enter", "note", "text=unsealed"]);
    run(&desk, "firm", &["bundle", "out", "unsealed.jsonl"]);
    let said = desk.run(&["--book", "yard", "bundle", "in", "unsealed.jsonl"]).fails(3);
    assert!(said.contains("without the seal"), "{said}");
    let settle = ["enter", "decision", "ruling=settle", "falls=yard-4", "reason=so there"];
    run(&desk, "rig", &settle);
    send(&desk, "rig", &["yard"]);
    desk.run(&["--book", "yard", "bundle", "in", "unsealed.jsonl"]).fails(3);
}

/// A book of the layout before the rule: yard-4 strikes firm-5, yard-5 amends firm-6 to 90 %.
fn old_book(desk: &Desk) {
    desk.unpack("layout_2_struck_freely.pipelore.gz", "yard");
}

#[test]
fn what_an_older_book_struck_stays_struck() {
    let desk = Desk::new();
    old_book(&desk);
    let holds = |book: &str| {
        let none: [&str; 0] = [];
        assert_eq!(below(&desk, book, "80 %"), none, "{book}");
        assert_eq!(below(&desk, book, "91 %"), ["A-2"], "{book}");
    };
    holds("yard");
    run(&desk, "yard", &["verify"]);
    // What is written next, and once, is the decision by which other books take it over.
    run(&desk, "yard", &["enter", "note", "text=one"]);
    let entries = run(&desk, "yard", &["entries", "--json"]);
    assert!(entries.contains("before it asked for a decision"), "{entries}");
    run(&desk, "yard", &["enter", "note", "text=two"]);
    assert_eq!(run(&desk, "yard", &["entries", "--kind", "decision"]).matches("yard-").count(), 1);
    holds("yard");
    run(&desk, "firm", &["new", "--site", "firm_2"]);
    send(&desk, "yard", &["firm"]);
    holds("firm");
    // As it was known before, too.
    let filter = ["find", "wall < 80 %", "--show", "serial", "--csv", "--known-on", "yard-5"];
    assert_eq!(run(&desk, "yard", &filter).lines().count(), 1);
    // What comes now needs a decision.
    strike_unasked(&desk, "firm", "firm-6");
    let said = send(&desk, "firm", &["yard"]);
    assert!(said.contains("not in force"), "{said}");
    holds("yard");
    run(&desk, "yard", &["verify"]);
}
