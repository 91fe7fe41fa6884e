//! The clock of the site: days, times and what lies ahead, from other places and at other times.
//! Changes of clocks are those of the IANA time zone data base.

use pipelore::ledger::Hash;
use pipelore::store::{Access, Book};

use crate::cli::{Desk, Ran};
use crate::world::unguarded;

/// A desk at another time and in another time zone than the book.
pub struct At<'a> {
    pub desk: &'a Desk,
    pub now: &'a str,
    pub zone: &'a str,
}

impl At<'_> {
    pub fn run(&self, words: &[&str]) -> Ran {
        let mut command = self.desk.command(words);
        command.env("PIPELORE_NOW", self.now).env("TZ", self.zone);
        command.env("PIPELORE_BOOK", "book.pipelore");
        let output = command.output().unwrap();
        Ran {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// Serials of the joints that match.
    #[track_caller]
    fn found(&self, filter: &str) -> Vec<String> {
        let out = self.run(&["find", filter, "--csv", "--show", "serial"]).ok();
        out.lines().skip(1).map(|l| l.split(',').next().unwrap_or_default().to_owned()).collect()
    }
}

const NOW: &str = "2026-07-01T12:00:00Z";

const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],\
                      Connection,TJ OD [in],TJ ID [in],Received,Made\n\
                      A-1,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2024-01-05,2021-02-14\n\
                      A-2,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2024-01-05,2021-07-14\n";

/// A book of a site with two joints; the first was inspected on these days, a percentage of wall
/// read on each.
fn yard(clock: &str, inspected: &[(&str, u32)]) -> Desk {
    let desk = Desk::new();
    desk.write("joints.csv", JOINTS);
    let at = At { desk: &desk, now: NOW, zone: "UTC" };
    at.run(&["new", "--site", "yard", "--clock", clock]).ok();
    at.run(&["load", "joints.csv"]).ok();
    for (day, wall) in inspected {
        inspect(&at, "A-1", day, *wall).ok();
    }
    desk
}

fn inspect(at: &At<'_>, serial: &str, day: &str, wall: u32) -> Ran {
    let (serial, day) = (format!("serial={serial}"), format!("date={day}"));
    let wall = format!("wall={wall} %");
    at.run(&["enter", "inspection", &serial, &day, "methods=UT wall", &wall])
}

#[test]
fn answers_do_not_depend_on_where_the_machine_stands() {
    let desk = yard("Europe/Oslo", &[("2026-03-29", 93), ("2026-06-21", 91)]);
    let questions: &[&[&str]] = &[
        &["find", "inspected = 2026-06-21", "--show", "serial, inspected, made, wall_age"],
        &["find", "any inspection in last 10 days", "--csv"],
        &["find", "any inspection since 2026-03-29", "--json"],
        &["find", "inspection_age > 9 days", "--json"],
        &["due", "--csv"],
        &["due", "--json"],
        &["trace", "A-1"],
        &["trace", "A-1", "--json"],
        &["stock", "--json"],
        &["find", "inspected < 2026-04-01", "--as-of", "2026-03-29", "--json"],
        &["find", "inspected < 2026-04-01", "--as-of", "2026-03-29T01:30", "--json"],
        &["why", "A-1", "inspected = 2026-06-21"],
    ];
    for words in questions {
        let here = At { desk: &desk, now: NOW, zone: "Europe/Oslo" }.run(words).ok();
        for (now, zone) in [
            ("2026-07-01T12:00:00Z", "UTC"),
            ("2026-07-02T00:00:00+12:00", "Pacific/Auckland"),
            ("2026-07-01T09:30:00-02:30", "America/St_Johns"),
            ("2026-06-30T23:00:00-13:00", "Nowhere/At_All"),
        ] {
            let there = At { desk: &desk, now, zone }.run(words).ok();
            assert_eq!(there, here, "{words:?} from {zone}");
        }
    }
    let page = |zone: &str, name: &str| {
        let at = At { desk: &desk, now: NOW, zone };
        at.run(&["dossier", "A-1", "--output", name]).ok();
        std::fs::read_to_string(desk.path(name)).unwrap()
    };
    assert_eq!(page("Pacific/Auckland", "a.html"), page("America/St_Johns", "b.html"));
}

#[test]
fn a_day_is_that_day_whoever_asks_and_whoever_wrote() {
    // Entered in summer, of a day in winter, and of both days on which clocks change.
    let days = ["2026-01-15", "2026-03-29", "2026-06-21"];
    for clock in ["Europe/Oslo", "Pacific/Auckland", "America/St_Johns", "+05:30", "UTC"] {
        let desk = yard(clock, &[]);
        for now in
            ["2026-07-01T12:00:00Z", "2026-07-01T07:00:00-05:00", "2026-07-01T22:00:00+10:00"]
        {
            let at = At { desk: &desk, now, zone: "America/Chicago" };
            assert_eq!(at.found("made = 2021-02-14"), ["A-1"], "{clock} {now}");
            assert_eq!(at.found("made = 2021-07-14"), ["A-2"], "{clock} {now}");
            assert!(at.found("made = 2021-02-13 or made = 2021-07-13").is_empty());
        }
        let at = At { desk: &desk, now: NOW, zone: "UTC" };
        for day in days {
            inspect(&at, "A-1", day, 93).ok();
            assert_eq!(at.found(&format!("inspected = {day}")), ["A-1"], "{clock}");
            assert_eq!(
                at.found(&format!("any inspection from {day} to {day}")),
                ["A-1"],
                "{clock}"
            );
            assert_eq!(at.found(&format!("any inspection since {day}")), ["A-1"], "{clock}");
            assert!(at.found(&format!("any inspection after {day}")).is_empty(), "{clock}");
        }
        let out = at.run(&["find", "serial = \"A-1\"", "--csv", "--show", "made, inspected"]).ok();
        assert!(out.contains("2021-02-14") && out.contains("2026-06-21"), "{out}");
        assert!(!out.contains('T'), "{out}");
        at.run(&["verify"]).ok();
    }
}

#[test]
fn a_day_from_another_site_is_that_day_here() {
    let far = yard("Pacific/Auckland", &[("2026-06-21", 93)]);
    let here = Desk::new();
    let at = At { desk: &here, now: NOW, zone: "UTC" };
    at.run(&["new", "--site", "rig", "--clock", "America/Chicago"]).ok();
    let bundle = far.path("far.bundle").to_str().unwrap().to_owned();
    At { desk: &far, now: NOW, zone: "UTC" }.run(&["bundle", "out", &bundle]).ok();
    at.run(&["bundle", "in", &bundle]).ok();
    assert_eq!(at.found("inspected = 2026-06-21 and made = 2021-02-14"), ["A-1"]);
    // The clock of the other site tells nothing here.
    assert!(at.run(&["clock"]).ok().contains("America/Chicago"));
}

#[test]
fn times_without_an_offset_are_of_the_clock_of_the_site() {
    let desk = yard("Europe/Oslo", &[]);
    let at = At { desk: &desk, now: NOW, zone: "Asia/Tokyo" };
    let event = |time: &str| {
        at.run(&["enter", "event", "serial=A-1", &format!("date={time}"), "event=drop"])
    };
    event("2026-06-21 06:30").ok();
    assert_eq!(
        at.found("any event from 2026-06-21T06:30+02:00 to 2026-06-21T06:30+02:00"),
        ["A-1"]
    );
    assert_eq!(at.found("any event since 2026-06-21T06:30"), ["A-1"]);
    assert!(at.found("any event since 2026-06-21T06:31").is_empty());
    // Clocks go forward over the one and back over the other.
    let err = event("2026-03-29 02:30").fails(2);
    assert!(err.contains("never shows") && err.contains("+02:00"), "{err}");
    let twice = event("2025-10-26 02:30").ok();
    assert!(
        twice.contains("shows twice") && twice.contains("2025-10-26T02:30:00+02:00"),
        "{twice}"
    );
    let err = at.run(&["find", "any event since 2026-03-29T02:30"]).fails(2);
    assert!(err.contains("never shows"), "{err}");
}

#[test]
fn the_clock_is_changed_by_an_entry() {
    let desk = yard("UTC", &[("2026-06-21", 93)]);
    let at = At { desk: &desk, now: NOW, zone: "UTC" };
    at.run(&["enter", "event", "serial=A-1", "date=2026-06-21T23:30:00Z", "event=drop"]).ok();
    assert_eq!(at.found("any event from 2026-06-21 to 2026-06-21"), ["A-1"]);
    let err = at.run(&["clock", "--set", "Oslo", "--reason", "x"]).fails(2);
    assert!(err.contains("did you mean Europe/Oslo?"), "{err}");
    at.run(&["clock", "--set", "Europe/Oslo", "--reason", "the site is in Norway"]).ok();
    assert!(at.run(&["clock"]).ok().contains("Europe/Oslo"));
    // A day stays that day, a time that time.
    assert_eq!(at.found("inspected = 2026-06-21"), ["A-1"]);
    assert_eq!(at.found("any event from 2026-06-22 to 2026-06-22"), ["A-1"]);
    assert!(at.found("any event from 2026-06-21 to 2026-06-21").is_empty());
    at.run(&["verify"]).ok();
    // What was not known yet does not count.
    let known = At { desk: &desk, now: "2026-07-02T12:00:00Z", zone: "UTC" };
    known.run(&["clock", "--set", "+09:00", "--reason", "moved"]).ok();
    let days = "any event from 2026-06-22 to 2026-06-22";
    let out = known.run(&["find", days, "--known-on", "2026-07-01", "--csv"]).ok();
    assert!(out.contains("A-1"), "{out}");
    // Struck, the clock before it stands again.
    let entry = known.run(&["clock", "--json"]).json();
    assert_eq!(entry["clock"]["clock"], "+09:00", "{entry}");
    let head: serde_json::Value = known.run(&["verify", "--json"]).json();
    let last = head.to_string();
    let number =
        last.split("yard-").nth(1).and_then(|t| t.split(|c: char| !c.is_ascii_digit()).next());
    let last = format!("yard-{}", number.unwrap());
    known.run(&["strike", &last, "--reason", "not so"]).ok();
    assert!(known.run(&["clock"]).ok().contains("Europe/Oslo"));
    known.run(&["verify"]).ok();
}

#[test]
fn a_longer_window_holds_no_less() {
    let desk = yard("UTC", &[("2026-06-21", 93)]);
    let at = At { desk: &desk, now: NOW, zone: "UTC" };
    for window in ["240 h", "241 h", "250 h", "10 days", "10.5 days", "252 h", "11 days", "300 h"] {
        assert_eq!(at.found(&format!("any inspection in last {window}")), ["A-1"], "{window}");
    }
    for window in ["9 days", "228 h", "239 h", "9.9 days"] {
        assert!(at.found(&format!("any inspection in last {window}")).is_empty(), "{window}");
    }
}

#[test]
fn what_lies_ahead_is_refused_at_its_place() {
    let desk = yard("Europe/Oslo", &[]);
    let at = At { desk: &desk, now: NOW, zone: "UTC" };
    let err = inspect(&at, "A-1", "2062-04-01", 93).fails(2);
    assert!(err.contains("2062-04-01 lies ahead: today is 2026-07-01"), "{err}");
    desk.write(
        "walls.csv",
        "Serial,Date,Methods,Wall\nA-1,2026-06-01,UT wall,93 %\nA-2,2062-04-01,UT wall,93 %\n",
    );
    let err = at.run(&["load", "walls.csv"]);
    assert_ne!(err.code, 0);
    assert!(err.err.contains("walls.csv:3") || err.err.contains("row 3"), "{}", err.err);
    assert!(err.err.contains("2062-04-01 lies ahead"), "{}", err.err);
    // A site that is a day ahead has its day already; a hire is agreed ahead.
    inspect(&at, "A-1", "2026-07-02", 93).ok();
    inspect(&at, "A-1", "2026-07-03", 93).fails(2);
    let hire = ["enter", "hire_out", "serial=A-2", "date=2026-09-01", "hire=H1", "party=Rig 9"];
    at.run(&[&hire[..], &["--insist=it is inspected there"]].concat()).ok();
    assert!(at.found("on_hire = true").is_empty());
    let later = At { desk: &desk, now: "2026-09-02T12:00:00Z", zone: "UTC" };
    assert_eq!(later.found("on_hire = true"), ["A-2"]);
}

#[test]
fn what_lies_ahead_does_not_count_before_its_day() {
    // The other site's clock stands in 2062, and its reading says that the wall is whole.
    let far = yard("UTC", &[]);
    let ahead = At { desk: &far, now: "2062-06-01T12:00:00Z", zone: "UTC" };
    inspect(&ahead, "A-1", "2062-06-01", 99).ok();
    let here = Desk::new();
    let at = At { desk: &here, now: NOW, zone: "UTC" };
    at.run(&["new", "--site", "rig", "--clock", "UTC"]).ok();
    let bundle = far.path("far.bundle").to_str().unwrap().to_owned();
    ahead.run(&["bundle", "out", &bundle]).ok();
    let taken = at.run(&["bundle", "in", &bundle]).ok();
    assert!(taken.contains("dated after today"), "{taken}");
    inspect(&at, "A-1", "2026-06-20", 40).ok();
    assert_eq!(at.found("wall < 50 %"), ["A-1"]);
    assert_eq!(at.found("inspected = 2026-06-20 and count inspections = 1"), ["A-1"]);
    assert!(at.run(&["find", "wall < 50 %"]).ok().contains("dated after today"));
    assert!(at.run(&["due", "--csv"]).ok().contains("A-1"));
    let told = at.run(&["verify"]).ok();
    assert!(told.contains("is dated after today") && told.contains("later than now"), "{told}");
    // Its day comes; steel does not grow, so that the lower reading stands.
    let then = At { desk: &here, now: "2062-06-02T12:00:00Z", zone: "UTC" };
    assert_eq!(then.found("inspected = 2062-06-01 and wall < 50 %"), ["A-1"]);
    // And a book derived anew says the same.
    at.run(&["rebuild"]).ok();
    assert_eq!(at.found("wall < 50 %"), ["A-1"]);
    at.run(&["verify"]).ok();
}

#[test]
fn one_clock_that_stood_wrong_does_not_spoil_what_was_known() {
    let desk = yard("UTC", &[]);
    let at = |now| At { desk: &desk, now, zone: "UTC" };
    inspect(&at("2062-06-01T12:00:00Z"), "A-1", "2026-07-01", 93).ok();
    let behind = inspect(&at("2026-07-03T12:00:00Z"), "A-1", "2026-07-02", 90);
    assert!(behind.err.contains("one of the two clocks stood wrong"), "{}", behind.err);
    inspect(&at("2026-07-05T12:00:00Z"), "A-1", "2026-07-04", 80).ok();
    let known = |on: &str| {
        let out = at("2026-07-10T12:00:00Z");
        let words = ["find", "any inspection", "--csv", "--show", "inspected", "--known-on", on];
        out.run(&words).ok()
    };
    assert!(known("2026-07-03").contains("2026-07-02"));
    assert!(known("2026-07-09").contains("2026-07-04"));
    let told = at("2026-07-10T12:00:00Z").run(&["verify"]).ok();
    assert!(told.contains("a clock stood wrong"), "{told}");
}

#[test]
fn a_new_book_says_its_clock() {
    let desk = Desk::new();
    let new = |file: &str, clock: &[&str], now: &str| {
        let mut words = vec!["new", file, "--json"];
        words.extend(clock);
        let book = At { desk: &desk, now, zone: "UTC" }.run(&words).json();
        book["book"]["clock"].as_str().unwrap().to_owned()
    };
    assert_eq!(new("a.pipelore", &["--clock", "europe/oslo"], NOW), "Europe/Oslo");
    assert_eq!(new("b.pipelore", &["--clock", "-03:30"], NOW), "-03:30");
    assert_eq!(new("c.pipelore", &[], NOW), "UTC");
    assert_eq!(new("d.pipelore", &[], "2026-07-01T12:00:00+02:00"), "+02:00");
    // Without a present that is given, the zone of the machine.
    let mut command = desk.command(&["new", "e.pipelore", "--json"]);
    command.env_remove("PIPELORE_NOW").env("TZ", "America/St_Johns");
    let out = String::from_utf8(command.output().unwrap().stdout).unwrap();
    assert!(out.contains("America/St_Johns"), "{out}");
}

/// Takes the clock out of the first entry of a book, and the founding adoption with it: a book of
/// before there were either.
fn made_older(desk: &Desk, clock: &str) {
    let path = desk.path("book.pipelore");
    let first = Book::open(&path, Access::Read).unwrap().entry_at(1).unwrap();
    let mut raw = first.raw;
    let told = format!("\"clock\":\"{clock}\",");
    assert!(raw.body.contains(&told), "{}", raw.body);
    raw.body = raw.body.replace(&told, "");
    let hash = Hash::of_entry(&Hash::NONE, &raw, &mut Vec::new());
    unguarded(&path, |conn| {
        conn.execute("DELETE FROM entry WHERE position > 1", []).unwrap();
        conn.execute("UPDATE entry SET body = ?1, hash = ?2", (&raw.body, &hash.0[..])).unwrap();
        conn.execute("UPDATE projection_state SET version = 0", []).unwrap();
    });
    std::fs::remove_file(desk.path("book.pipelore.head")).unwrap();
}

#[test]
fn an_older_book_goes_by_the_offset_of_its_first_entry_and_is_given_it() {
    let desk = yard("+02:00", &[]);
    made_older(&desk, "+02:00");
    let at = At { desk: &desk, now: "2026-07-01T12:00:00-05:00", zone: "America/Chicago" };
    assert!(at.run(&["clock"]).ok().contains("+02:00"));
    let loaded = at.run(&["load", "joints.csv"]);
    assert!(loaded.err.contains("notes the clock of this book: +02:00"), "{}", loaded.err);
    assert_eq!(at.found("made = 2021-02-14"), ["A-1"]);
    at.run(&["verify"]).ok();
    let again = inspect(&at, "A-1", "2026-06-21", 93);
    assert!(!again.err.contains("notes the clock"), "{}", again.err);
    assert_eq!(at.found("inspected = 2026-06-21"), ["A-1"]);
}
