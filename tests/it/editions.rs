//! The sets by which a book judges are facts: adopted when it is founded, the same in every book that
//! holds the same entries, and changed by an entry alone, whatever the program ships.

use std::collections::BTreeMap;
use std::path::Path;

use pipelore::condition::Edition;
use pipelore::model::{
    Body, Class, End, Instant, JointRef, Method, Reading, ReadingKind, SetKind, StrikeBody,
    Vocabulary,
};
use pipelore::projection::adoptions::Adoptions;
use pipelore::report::Block;
use pipelore::report::adopted::newer;
use pipelore::schema::{JointRow, Rows};
use pipelore::store::{Access, AppendOptions, Book, BundleIn, BundleOut, LookBack};
use pipelore::units::{Measure, UnitSystem};

use crate::cli::Desk;
use crate::histories::dump::{difference, dump};
use crate::world::{
    World, day, draft, edition, inspection, joint, joint_ref, qty, small_fleet, unguarded,
};

/// What ships, but with Premium from 85 % of the nominal wall on and with another rule.
fn stricter() -> Edition {
    let shipped = edition();
    let sets = SetKind::ALL
        .iter()
        .map(|kind| {
            let text = shipped.set(*kind).unwrap();
            let other = match kind {
                SetKind::Limits => text
                    .replace(
                        "wear_wall,drill_pipe;pup,premium,>=,80,",
                        "wear_wall,drill_pipe;pup,premium,>=,85,",
                    )
                    .replace("# edition: 1", "# edition: 2"),
                SetKind::Rules => text.replace("below = \"80 %\"", "below = \"85 %\""),
                SetKind::Fatigue => text
                    .replace("\"none\"", "\"goodman\"")
                    .replace("2016 B1\"", "2016 B1, Goodman\""),
                _ => text.to_owned(),
            };
            (*kind, other.into())
        })
        .collect();
    let edition = Edition::new("pipelore edition 4", sets);
    for kind in [SetKind::Limits, SetKind::Rules, SetKind::Fatigue] {
        assert_ne!(edition.set(kind), shipped.set(kind), "{kind}");
    }
    edition
}

/// Everything that the class of a joint rests on, with this wall.
fn looked_at(joint: &JointRef, wall: &str) -> Body {
    let read = |what, end, value: &str| Reading {
        what,
        end,
        value: qty(value, Measure::Wall).unwrap(),
        at: None,
        position: None,
        instrument: None,
    };
    let Body::Inspection(mut body) = inspection(joint, wall) else { panic!() };
    body.methods = vec![
        Method::VisualTube,
        Method::UltrasonicWall,
        Method::Electromagnetic,
        Method::VisualConnection,
        Method::Dimensional1,
    ];
    body.covers.clear();
    body.readings.extend([
        read(ReadingKind::JointOd, Some(End::Pin), "6 5/8 in"),
        read(ReadingKind::JointOd, Some(End::Box), "6 5/8 in"),
        read(ReadingKind::Shoulder, Some(End::Box), "5/8 in"),
    ]);
    Body::Inspection(body)
}

/// 83 % of the nominal wall: Premium by what ships, Class 2 by the stricter edition.
const WALL: &str = "0.300 in";

fn classes(book: &Book) -> Vec<(String, Option<Class>)> {
    let rows: Vec<JointRow> =
        book.rows(&Rows::all().by(JointRow::serial()).by(JointRow::introduced_by())).unwrap();
    rows.into_iter().map(|r| (r.serial, r.class)).collect()
}

fn class(book: &Book) -> Option<Class> {
    let all = classes(book);
    assert_eq!(all.len(), 1, "{all:?}");
    all[0].1
}

/// A site's book on an edition, with a joint and an inspection of it.
fn site(world: &World, name: &str, edition: &Edition) -> Book {
    let path = world.path(&format!("{name}.pipelore"));
    let mut book = Book::create(&path, name, UnitSystem::Us, edition, &world.stamp()).unwrap();
    let serial = format!("{name}-001");
    let done = world.append(&mut book, &[draft("2025-01-10", joint(&serial, true))]);
    let joint = joint_ref(&serial, &done.entries[0]);
    world.append(&mut book, &[draft("2025-02-01", looked_at(&joint, WALL))]);
    book
}

fn send(world: &World, from: &Book, to: &mut Book) {
    let path = world.path(&format!("{}.jsonl", world.stamp().now.at.0));
    from.bundle_out(&path, &BundleOut::default(), &world.stamp()).unwrap();
    to.bundle_in(&path, &BundleIn::default(), &world.stamp()).unwrap();
}

fn is_sound(book: &Book) {
    let verified = book.verify(None, None).unwrap();
    assert!(verified.sound(), "{verified:#?}");
}

/// Takes the founding adoption out of a fresh book: what is left is a book of before there were
/// editions.
fn made_older(path: &Path) {
    unguarded(path, |conn| {
        conn.execute_batch(
            "DELETE FROM entry WHERE position = 2; UPDATE projection_state SET version = 0;",
        )
        .unwrap();
    });
    let mut head = path.as_os_str().to_owned();
    head.push(".head");
    std::fs::remove_file(head).unwrap();
}

/// A book of before there were editions, with a joint and an inspection.
fn older(world: &World, name: &str) -> Book {
    let path = world.path(&format!("{name}.pipelore"));
    Book::create(&path, name, UnitSystem::Us, edition(), &world.stamp()).unwrap().close().unwrap();
    made_older(&path);
    let mut book = Book::open(&path, Access::Write).unwrap();
    assert_eq!(book.length().unwrap(), 1);
    let done = world.append(&mut book, &[draft("2025-01-10", joint("K1-0001", true))]);
    let joint = joint_ref("K1-0001", &done.entries[0]);
    world.append(&mut book, &[draft("2025-02-01", looked_at(&joint, WALL))]);
    book
}

fn adopt(world: &World, book: &mut Book, when: &str, edition: &Edition) {
    let body = pipelore::projection::adoptions::body(
        pipelore::model::Adopted::Edition,
        edition.name(),
        edition.text(),
        None,
    );
    world.append(book, &[draft(when, Body::Adoption(body))]);
}

/// Verdicts of books without an adoption rest on these bytes, and what is newer is told by them. What
/// is to be changed is changed in a new edition: a folder beside the last one, a line in
/// `condition/edition.rs`, a line here.
#[test]
fn an_edition_that_shipped_is_never_changed() {
    let digest = |e: &Edition| (e.name().to_owned(), pipelore::ledger::digest(e.text().as_bytes()));
    let digests: Vec<(String, String)> = Edition::all().iter().map(digest).collect();
    let first = "a41a33ef929983796d004424c735494d61abefb21828b086a43fc9f91af700ff";
    let second = "589c4cdbcf08411c20d628f7069227a874958e8fdc1d50e20abfc59281ef9a77";
    let third = "bef0d6cb003a1669b1a587fe1d30b646892a9602ec0f493a1e7595d77e745fd3";
    let pinned = [
        ("pipelore edition 1", first),
        ("pipelore edition 2", second),
        ("pipelore edition 3", third),
    ];
    assert_eq!(digests, pinned.map(|(name, digest)| (name.to_owned(), digest.to_owned())));
}

#[test]
fn a_new_book_keeps_what_founds_it_in_one_entry() {
    let desk = Desk::with_book();
    let told = desk.run(&["edition", "--json"]).json();
    let sets = told["sets"].as_array().unwrap();
    assert_eq!(sets.len(), SetKind::ALL.len());
    for set in sets {
        assert_eq!((&set["entry"], &set["ships"]), (&"yard-2".into(), &true.into()), "{set}");
    }
    let book = Book::open(&desk.path("book.pipelore"), Access::Read).unwrap();
    assert_eq!(book.length().unwrap(), 2);
    let Body::Adoption(body) = book.entry_at(2).unwrap().raw.read().unwrap().body else { panic!() };
    assert_eq!(body.text.as_deref(), Some(edition().text()));
    assert!(body.founding);
    is_sound(&book);
}

#[test]
fn what_founds_a_book_reaches_back_before_its_date() {
    let world = World::new();
    // Founded in February 2025, by the clock of the world; the inspection was in 2024.
    let path = world.path("yard.pipelore");
    let stamp = world.stamp();
    let mut book = Book::create(&path, "yard", UnitSystem::Us, &stricter(), &stamp).unwrap();
    let done = world.append(&mut book, &[draft("2024-01-10", joint("K1-0001", true))]);
    let joint = joint_ref("K1-0001", &done.entries[0]);
    world.append(&mut book, &[draft("2024-03-01", looked_at(&joint, WALL))]);
    assert_eq!(class(&book), Some(Class::Class2));
    let before = Some(day("2024-04-01").start(pipelore::model::Clock::Offset(60)));
    let seen = book.look_back(&LookBack { known_to: None, before }).unwrap();
    assert_eq!(class(&seen.book), Some(Class::Class2));
    is_sound(&book);
}

#[test]
fn an_older_book_is_judged_by_the_first_edition_and_notes_it_when_it_is_written_to() {
    let world = World::new();
    let mut book = older(&world, "yard");
    let before = dump(&book);
    assert_eq!(class(&book), Some(Class::Premium));
    is_sound(&book);
    let length = book.length().unwrap();
    let entry = book.found(&world.stamp()).unwrap().unwrap();
    assert_eq!(entry.to_string(), "yard-4");
    assert_eq!(book.found(&world.stamp()).unwrap(), None);
    assert_eq!(book.length().unwrap(), length + 1);
    // What the book says is the same but for the fact of the entry.
    let noted = dump(&book);
    let fresh: Vec<&str> = noted.lines().filter(|l| !before.lines().any(|b| b == *l)).collect();
    assert_eq!(fresh.len(), 1, "{fresh:?}");
    assert!(fresh[0].contains("adoption") && fresh[0].contains("yard/1-4"), "{fresh:?}");
    // It is dated to the beginning of the book, and nothing that was asked of before changes.
    let stored = book.entry(&entry).unwrap().raw.read().unwrap();
    assert_eq!(stored.effective, book.entry_at(1).unwrap().raw.read().unwrap().effective);
    let then = book.look_back(&LookBack { known_to: Some(3), before: None }).unwrap();
    assert_eq!(class(&then.book), Some(Class::Premium));
    is_sound(&book);
    book.rebuild().unwrap();
    assert_eq!(difference(&noted, &dump(&book)), None);
}

#[test]
fn a_reader_changes_nothing_and_the_program_signs_what_it_adds() {
    let world = World::new();
    let book = older(&world, "yard");
    let desk = Desk::new();
    book.backup(&desk.path("book.pipelore")).unwrap();
    let asked = ["find", "true", "--show", "serial,class,disposition,not_measured", "--json"];
    let answers = || {
        let due = desk.run(&["due", "--json"]).ok();
        (desk.run(&asked).ok(), due, desk.run(&["rules", "--text"]).ok())
    };
    let before = answers();
    let told = desk.run(&["edition", "--json"]).json();
    let text = edition().set(SetKind::Limits).unwrap();
    let digest = pipelore::ledger::digest(text.as_bytes());
    assert_eq!(told["sets"][0]["entry"], serde_json::Value::Null);
    assert_eq!(told["sets"][0]["digest"], digest[..8]);
    desk.run(&["limits"]).ok();
    let words = ["enter", "note", "note=seen", "date=2026-01-01"];
    desk.run(&[&words[..], &["--dry-run"]].concat()).ok();
    let length = || Book::open(&desk.path("book.pipelore"), Access::Read).unwrap().length();
    assert_eq!(length().unwrap(), 3);
    let ran = desk.run(&words);
    assert!(ran.err.contains("yard-4"), "{}", ran.err);
    ran.ok();
    assert_eq!(length().unwrap(), 5);
    let entry = Book::open(&desk.path("book.pipelore"), Access::Read).unwrap().entry_at(4).unwrap();
    assert_eq!((entry.raw.author.as_str(), entry.raw.kind.as_str()), ("pipelore", "adoption"));
    assert_eq!(answers(), before);
    desk.run(&["verify"]).ok();
    let told = desk.run(&["edition", "--json"]).json();
    assert_eq!(told["sets"][0]["entry"], "yard-4");
}

#[test]
fn of_two_sites_the_one_that_was_founded_first_founds_in_any_order() {
    for yard_first in [true, false] {
        let world = World::new();
        let mild = edition();
        let strict = stricter();
        let (first, second) = if yard_first { (mild, &strict) } else { (&strict, mild) };
        let mut yard = site(&world, "yard", first);
        let mut rig = site(&world, "rig", second);
        let judged = if yard_first { Class::Premium } else { Class::Class2 };
        let other = if yard_first { Class::Class2 } else { Class::Premium };
        assert_eq!((class(&yard), class(&rig)), (Some(judged), Some(other)));
        // A third book hears of the later one first, a fourth of the earlier one.
        let named = |name: &str| {
            let path = world.path(&format!("{name}.pipelore"));
            let stamp = world.stamp();
            Book::create(&path, name, UnitSystem::Us, second, &stamp).unwrap()
        };
        let (mut office, mut store) = (named("office"), named("store"));
        send(&world, &rig, &mut office);
        assert!(classes(&office).iter().all(|c| c.1 == Some(other)));
        send(&world, &yard, &mut office);
        send(&world, &yard, &mut store);
        send(&world, &rig, &mut store);
        let at_rig = rig.adoptions().unwrap();
        send(&world, &rig, &mut yard);
        send(&world, &yard, &mut rig);
        for book in [&yard, &rig, &office, &store] {
            let all = classes(book);
            assert_eq!(all.len(), 2);
            assert!(all.iter().all(|c| c.1 == Some(judged)), "{all:?}");
            is_sound(book);
            let adoptions = book.adoptions().unwrap();
            let found = adoptions.sets(SetKind::Limits)[0].entry.as_ref().unwrap();
            assert_eq!(found.id.to_string(), "yard-2");
        }
        assert!(!at_rig.judge_like(&rig.adoptions().unwrap()));
        assert_eq!(yard.adoptions().unwrap().idle().len(), 1);
        // What was asked of the rig's book before is judged as it was then.
        let place = rig.place_with(&"rig-4".parse().unwrap()).unwrap();
        let then = rig.look_back(&LookBack { known_to: Some(place), before: None }).unwrap();
        assert_eq!(class(&then.book), Some(other));
    }
}

#[test]
fn an_older_site_founds_though_it_says_so_late() {
    let world = World::new();
    let mut yard = older(&world, "yard");
    let mut rig = site(&world, "rig", &stricter());
    // The rig hears of the yard before the yard says by what it was judged.
    send(&world, &yard, &mut rig);
    assert!(classes(&rig).iter().all(|c| c.1 == Some(Class::Class2)), "{:?}", classes(&rig));
    yard.found(&world.stamp()).unwrap().unwrap();
    send(&world, &rig, &mut yard);
    assert!(classes(&yard).iter().all(|c| c.1 == Some(Class::Premium)), "{:?}", classes(&yard));
    send(&world, &yard, &mut rig);
    assert_eq!(classes(&rig), classes(&yard));
    is_sound(&yard);
    is_sound(&rig);
}

#[test]
fn a_newer_edition_judges_from_its_day_on_and_a_strike_takes_it_back() {
    let world = World::new();
    let mut book = site(&world, "yard", edition());
    let serial = classes(&book)[0].0.clone();
    let joint = joint_ref(&serial, &"yard-3".parse().unwrap());
    adopt(&world, &mut book, "2025-03-01", &stricter());
    assert_eq!(class(&book), Some(Class::Premium), "an inspection of before keeps its sets");
    world.append(&mut book, &[draft("2025-04-01", looked_at(&joint, WALL))]);
    assert_eq!(class(&book), Some(Class::Class2));
    is_sound(&book);
    let before = Some(day("2025-03-15").start(pipelore::model::Clock::Offset(60)));
    let seen = book.look_back(&LookBack { known_to: None, before }).unwrap();
    assert_eq!(class(&seen.book), Some(Class::Premium));
    let entry = "yard-5".parse().unwrap();
    let strike =
        StrikeBody { entry, reason: "not agreed".to_owned(), instead: Vec::new(), decision: None };
    world.append(&mut book, &[draft("2025-04-02", Body::Strike(strike))]);
    assert_eq!(class(&book), Some(Class::Premium));
    is_sound(&book);
}

#[test]
fn limits_of_ones_own_lie_over_those_of_the_edition_in_force() {
    let world = World::new();
    let mut book = site(&world, "yard", edition());
    let own = "# set: house\n# edition: 1\n\
        criterion,component,class,comparison,limit,unit,standard,source,provenance\n\
        tj_od,drill_pipe,premium,>=,6,in,own,own rule,common_practice\n";
    let adopt_own = |book: &mut Book, when: &str| {
        let what = pipelore::model::Adopted::Limits;
        let body = pipelore::projection::adoptions::body(what, "house, edition 1", own, None);
        world.append(book, &[draft(when, Body::Adoption(body))]);
    };
    adopt_own(&mut book, "2025-03-01");
    adopt(&world, &mut book, "2025-04-01", &stricter().only(&[SetKind::Limits]));
    adopt_own(&mut book, "2025-05-01");
    let adoptions = book.adoptions().unwrap();
    let title = |when: &str| {
        adoptions.standards_at(day(when).start(pipelore::model::Clock::Offset(60))).limits.title()
    };
    assert_eq!(title("2025-02-01"), "pipelore starting set, edition 1");
    assert_eq!(title("2025-03-02"), "house, edition 1, over pipelore starting set, edition 1");
    assert_eq!(title("2025-04-02"), "pipelore starting set, edition 2");
    assert_eq!(title("2025-05-02"), "house, edition 1, over pipelore starting set, edition 2");
    is_sound(&book);
}

#[test]
fn rules_and_the_fatigue_method_are_facts_like_the_others() {
    let world = World::new();
    let mut book = site(&world, "yard", edition());
    adopt(&world, &mut book, "2025-03-01", &stricter().only(&[SetKind::Rules, SetKind::Fatigue]));
    let adoptions = book.adoptions().unwrap();
    let rules = |when: &str| {
        adoptions
            .set_at(SetKind::Rules, day(when).start(pipelore::model::Clock::Offset(60)))
            .unwrap()
            .text
            .contains("\"85 %\"")
    };
    assert!(!rules("2025-02-01") && rules("2025-03-02"));
    assert_eq!(adoptions.method().unwrap().name, "DNVGL-RP-C203 2016 B1, Goodman");
    // A method by itself, adopted before there were editions, goes by its own name.
    let old = site(&world, "rig", edition()).adoptions().unwrap();
    assert_eq!(old.method().unwrap().name, "DNVGL-RP-C203 2016 B1");
    is_sound(&book);
}

#[test]
fn two_methods_of_one_name_share_no_figures() {
    let world = World::new();
    let mut book = world.book("yard.pipelore");
    let joints = small_fleet(&world, &mut book, 45);
    let run = crate::world::run("R1", "Larkfield 1H", "2025-02-01", &joints);
    world.append(&mut book, &[draft("2025-02-06", run)]);
    let damage = |book: &Book| -> Vec<i64> {
        book.rows::<JointRow>(&Rows::all()).unwrap().iter().map(|r| r.totals.damage.lo).collect()
    };
    let before = damage(&book);
    let fatigue = edition().set(SetKind::Fatigue).unwrap().replace("\"none\"", "\"goodman\"");
    let same_name = Edition::new("house", BTreeMap::from([(SetKind::Fatigue, fatigue.into())]));
    adopt(&world, &mut book, "2025-03-01", &same_name);
    let after = damage(&book);
    assert!(before.iter().zip(&after).any(|(b, a)| b < a), "{before:?} {after:?}");
    is_sound(&book);
}

fn said(block: Option<Block>) -> String {
    match block {
        Some(Block::Note(text)) => text,
        None => String::new(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_ships_is_offered_where_it_is_newer_and_never_slipped_in() {
    let now = Instant(1_800_000_000_000);
    let of = |edition: &Edition| Adoptions::of_edition(edition).unwrap();
    let first = of(edition());
    let note = said(newer(&first, now, SetKind::ALL, &stricter()));
    assert!(
        note.starts_with("limits, fatigue, rules: the program ships pipelore edition 4"),
        "{note}"
    );
    assert!(note.contains("--only limits,fatigue,rules --dry-run"), "{note}");
    let note = said(newer(&first, now, &[SetKind::Findings], &stricter()));
    assert_eq!(note, "");
    // What ships is not newer than itself, nor than what the program never shipped.
    assert_eq!(said(newer(&first, now, SetKind::ALL, edition())), "");
    assert_eq!(said(newer(&of(&stricter()), now, SetKind::ALL, edition())), "");
}

#[test]
fn an_edition_is_tried_joint_by_joint_and_adopted_when_told_to() {
    let desk = Desk::demo_copy();
    let length =
        || Book::open(&desk.path("demo.pipelore"), Access::Read).unwrap().length().unwrap();
    let before = length();
    let file = stricter();
    desk.write("e2.toml", file.text());
    let find = ["find", "class = premium", "--json"];
    let premium = |desk: &Desk| desk.run(&find).json()["joints"].as_array().unwrap().len();
    let (was, due) = (premium(&desk), desk.run(&["due", "--json"]).ok());
    // From the beginning on, so that the demo's inspections are judged by it.
    let words = ["edition", "--use", "e2.toml", "--only", "limits,rules", "--from", "2020-01-01"];
    let dry = desk.run(&[&words[..], &["--dry-run", "--json"]].concat()).json();
    assert_eq!(length(), before);
    assert_eq!((premium(&desk), desk.run(&["due", "--json"]).ok()), (was, due));
    let changed = dry["changed"].as_array().unwrap();
    let lost = changed.iter().filter(|j| j["class"] == "Premium" && j["class_then"] == "Class 2");
    assert!(lost.count() > 0, "{dry}");
    assert!(dry["effect"]["calls_gained"].as_i64().unwrap() > 0, "{dry}");
    let done = desk.run(&[&words[..], &["--json"]].concat()).json();
    assert_eq!(length(), before + 1);
    assert_eq!(done["effect"], dry["effect"]);
    assert_eq!(done["changed"], dry["changed"]);
    assert!(premium(&desk) < was);
    let told = desk.run(&["edition", "--json"]).json();
    let by = |set: &str| {
        let sets = told["sets"].as_array().unwrap();
        sets.iter().find(|s| s["set"] == set).unwrap()["name"].as_str().unwrap().to_owned()
    };
    assert_eq!(by("limits"), "pipelore edition 4");
    assert_eq!(by("findings"), "pipelore edition 3");
    desk.run(&["verify"]).ok();
    // And back.
    desk.run(&["limits", "--use", "shipped", "--from", "2020-01-02"]).ok();
    assert_eq!(premium(&desk), was);
    let words = ["edition", "--use", "e2.toml", "--only", "limit"];
    assert!(desk.run(&words).fails(2).contains("limits"));
    desk.write("bad.toml", "name = 'x'\nlimits = 'a,b'\n");
    let err = desk.run(&["edition", "--use", "bad.toml"]).fails(3);
    assert!(err.contains("limits"), "{err}");
}

#[test]
fn the_catalogue_in_force_judges_and_is_shown() {
    let desk = Desk::demo_copy();
    let text = edition().set(SetKind::Findings).unwrap();
    let line = text.lines().find(|l| l.starts_with("galled,")).unwrap();
    let own = text.replace(
        line,
        &line.replace("galled,", "thread_gall,").replacen("galled", "thread_gall", 1),
    );
    assert_ne!(own, text);
    let sets = BTreeMap::from([(SetKind::Findings, own.into())]);
    desk.write("words.toml", Edition::new("house words", sets).text());
    desk.run(&["findings", "galled"]).ok();
    desk.run(&["edition", "--use", "words.toml", "--from", "2026-06-01"]).ok();
    assert!(desk.run(&["findings", "thread_gall"]).ok().contains("thread gall"));
    let words = ["enter", "inspection", "serial=K1-0411", "date=2026-06-10"];
    let words =
        [&words[..], &["methods=visual connection", "finding=thread_gall", "--json"]].concat();
    desk.run(&words).ok();
    let find = ["find", "true", "--list", "findings", "--show", "what,serial", "--json"];
    assert!(desk.run(&find).ok().contains("thread_gall"));
    desk.run(&["verify"]).ok();
}

#[test]
fn a_founding_adoption_brings_every_set_and_its_text_is_read_before_it_is_written() {
    let world = World::new();
    let mut book = world.book("yard.pipelore");
    let mut refuse = |edition: &Edition, founding: bool| {
        let what = pipelore::model::Adopted::Edition;
        let body =
            pipelore::projection::adoptions::body(what, edition.name(), edition.text(), None);
        let body = pipelore::model::AdoptionBody { founding, ..body };
        let drafts = [draft("2025-03-01", Body::Adoption(body))];
        book.append(&drafts, &world.stamp(), &AppendOptions::default()).unwrap_err().to_string()
    };
    let part = edition().only(&[SetKind::Limits]);
    assert!(refuse(&part, true).contains("what founds a book brings its findings"));
    let sets = BTreeMap::from([(SetKind::Needs, "component\n".into())]);
    assert!(refuse(&Edition::new("odd", sets), false).contains("its needs cannot be read"));
}

#[test]
fn without_a_book_what_ships_judges() {
    let desk = Desk::new();
    let told = desk.run(&["edition", "--json"]).json();
    assert_eq!(told["sets"].as_array().unwrap().len(), SetKind::ALL.len());
    desk.run(&["findings", "galled"]).ok();
    desk.run(&["limits", "wear_wall"]).ok();
    assert_eq!(desk.run(&["edition", "--text"]).ok(), edition().text());
}
