//! A book from nothing: files in, facts in, rules, strikes, refusals.

use super::cli::Desk;

const JOINTS: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],Connection,TJ OD [in],TJ ID [in],Received\n\
A-1,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05\n\
A-2,drill pipe,yes,5,.362,19.50,G-105,31.4,NC50,6 5/8,3 1/4,2026-01-05\n";

fn stocked() -> Desk {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.run(&["load", "joints.csv"]).ok();
    desk
}

#[test]
fn the_same_file_twice_adds_nothing() {
    let desk = stocked();
    let before = desk.run(&["find", "true", "--json"]).ok();
    let again = desk.run(&["load", "joints.csv"]).ok();
    assert!(again.contains("was taken in before"), "{again}");
    assert_eq!(before, desk.run(&["find", "true", "--json"]).ok());
}

#[test]
fn all_rows_or_none_and_partial_keeps_the_good_ones() {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        format!(
            "{JOINTS}A-3,drill pipe,yes,five,.362,19.50,G-105,31,NC50,6 5/8,3 1/4,2026-01-05\n"
        ),
    );
    let err = desk.run(&["load", "joints.csv"]).fails(3);
    assert!(
        err.contains("row 4") && err.contains("OD [in]") && err.contains("nothing was written"),
        "{err}"
    );
    assert!(desk.run(&["find", "true"]).ok().contains("no joint matches"));
    let dry = desk.run(&["load", "joints.csv", "--partial", "--dry-run"]).ok();
    assert!(dry.contains("nothing was written"), "{dry}");
    assert!(desk.run(&["find", "true"]).ok().contains("no joint matches"));
    desk.run(&["load", "joints.csv", "--partial"]).ok();
    assert!(desk.run(&["find", "true"]).ok().contains("2 joints match"));
}

#[test]
fn an_unstated_unit_says_how_to_state_it() {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS.replace("OD [in]", "OD"));
    let err = desk.run(&["load", "joints.csv"]).fails(3);
    assert!(err.contains("--columns"), "{err}");
}

#[test]
fn a_fact_from_the_command_line() {
    let desk = stocked();
    desk.run(&[
        "enter",
        "inspection",
        "serial=A-1",
        "date=2026-02-01",
        "methods=UT wall",
        "wall=0.300 in",
    ])
    .ok();
    let found = desk.run(&["find", "wall < 85 %", "--show", "serial,wall,class", "--json"]).json();
    assert_eq!(found["joints"][0]["serial"], "A-1");
    let err = desk.run(&["enter", "inspection", "serial=A-9", "date=2026-02-01"]).fails(2);
    assert!(err.contains("A-9"), "{err}");
    let err = desk.run(&["enter", "inspecton", "serial=A-1"]).fails(2);
    assert!(err.contains("inspection"), "{err}");
}

/// A sum over a group is exact where each of its joints is; one that is not, or that nobody knows,
/// makes it a lower bound on every screen.
#[test]
fn a_sum_of_a_group_says_that_it_is_a_lower_bound() {
    let desk = Desk::with_book();
    let made = "drill pipe,{new},5,.362,19.50,G-105,{length},NC50,6 5/8,3 1/4,2026-01-05";
    let row = |serial: &str, new: &str, length: &str, rest: &str| {
        format!("{serial},{},{rest}\n", made.replace("{new}", new).replace("{length}", length))
    };
    let rows = [
        row("A-1", "yes", "31.2", "K1,,"),
        row("A-2", "no", "31.4", "K1,300,estimated"),
        row("A-3", "no", "31.4", "K2,200,known"),
        row("A-4", "no", "31.4", "K2,150,known"),
        row("A-5", "no", "", "K3,,"),
    ];
    let head = JOINTS.lines().next().unwrap();
    desk.write("joints.csv", format!("{head},String,Hours [h],Basis\n{}", rows.concat()));
    desk.run(&["load", "joints.csv"]).ok();
    let words = ["find", "true", "--by", "string", "--show", "hours"];
    let text = desk.run(&words).ok();
    let lines: Vec<String> = text
        .lines()
        .filter(|l| l.starts_with('K'))
        .map(|l| l.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    assert_eq!(
        lines,
        [
            "K1 2 40.0 62.60 ≥ 300.0 ≥ 150.0",
            "K2 2 40.0 62.80 350.0 175.0",
            "K3 1 20.0 ≥ 0.00 ≥ 0.0 ≥ 0.0"
        ]
    );
    let csv = desk.run(&[&words[..], &["--csv"]].concat()).ok();
    assert_eq!(
        csv.lines().skip(1).collect::<Vec<_>>(),
        [
            "K1,2,40,62.6,,300,at least,150,at least",
            "K2,2,40,62.8,,350,,175,",
            "K3,1,20,0,at least,0,at least,0,at least"
        ]
    );
    let json = desk.run(&[&words[..], &["--json"]].concat()).json();
    let bounds: Vec<&str> = json["joints"]
        .as_array()
        .unwrap()
        .iter()
        .map(|g| g["hours"]["bound"].as_str().unwrap_or("exact"))
        .collect();
    assert_eq!(bounds, ["at least", "exact", "at least"]);
}

#[test]
fn a_strike_stays_readable() {
    let desk = stocked();
    desk.run(&[
        "enter",
        "inspection",
        "serial=A-1",
        "date=2026-02-01",
        "methods=UT wall",
        "wall=0.250 in",
    ])
    .ok();
    let trace = desk.run(&["trace", "A-1", "--json"]).json();
    let entry = trace["timeline"]
        .as_array()
        .unwrap()
        .iter()
        .find(|l| l["what"] == "inspection")
        .map(|l| l["entry"].as_str().unwrap().to_owned())
        .unwrap();
    desk.run(&["strike", &entry, "--reason", "read on another joint"]).ok();
    assert!(desk.run(&["find", "wall < 85 %"]).ok().contains("no joint matches"));
    let trace = desk.run(&["trace", "A-1"]).ok();
    assert!(trace.contains("read on another joint"), "{trace}");
    desk.run(&["verify"]).ok();
}

#[test]
fn what_stands_instead_comes_with_the_strike() {
    let desk = stocked();
    let file =
        |wall: &str| format!("Serial,Date,Methods,Wall [in]\nA-1,2026-02-01,UT wall,{wall}\n");
    desk.write("read.csv", file("0.250"));
    desk.run(&["load", "read.csv", "--as", "inspections"]).ok();
    let timeline = || {
        let trace = desk.run(&["trace", "A-1", "--only", "inspections", "--json"]).json();
        trace["timeline"].as_array().unwrap().clone()
    };
    let entry = timeline()[0]["entry"].as_str().unwrap().to_owned();
    let words = ["strike", &entry, "--reason", "slip of the pen", "--instead", "right.csv"];
    let err = desk.run(&words).fails(2);
    assert!(err.contains("right.csv is neither an entry"), "{err}");
    // The same again is no correction.
    desk.write("right.csv", file("0.250"));
    let err = desk.run(&words).fails(2);
    assert!(err.contains("cannot stand in its own place"), "{err}");
    desk.write("right.csv", file("0.350"));
    let before = desk.run(&["verify", "--json"]).ok();
    let dry = desk.run(&[&words[..], &["--dry-run"]].concat()).ok();
    assert!(dry.contains("A-1") && dry.contains("69.1") && dry.contains("96.7"), "{dry}");
    assert_eq!(before, desk.run(&["verify", "--json"]).ok());
    desk.run(&words).ok();
    let found = desk.run(&["find", "wall > 96 %", "--json"]).json();
    assert_eq!(found["joints"][0]["serial"], "A-1");
    let lines = timeline();
    assert_eq!(lines.len(), 2);
    let struck = lines.iter().find(|l| l["struck"] == true).unwrap();
    let stands = lines.iter().find(|l| l["struck"].is_null()).unwrap();
    let detail = struck["detail"].as_str().unwrap();
    let named = format!("slip of the pen; instead {}", stands["entry"].as_str().unwrap());
    assert!(detail.contains(&named), "{detail}");
    desk.run(&["verify"]).ok();
}

#[test]
fn a_conflict_between_sites_is_flagged_and_settled_by_a_decision() {
    let yard = stocked();
    let rig = Desk::new();
    rig.run(&["new", "--site", "Rig 14"]).ok();
    yard.send(&rig, "yard.jsonl");
    let run = |desk: &Desk, name: &str, start: u8| {
        desk.write("tally.csv", "Position,Serial\n1,A-1\n");
        desk.write(
            "run.toml",
            format!(
                "name = \"{name}\"\nwell = \"Larkfield 1H\"\ngrade = \"summary\"\n\
                 start = 2026-02-0{start}T06:00:00Z\nend = 2026-02-0{}T06:00:00Z\n\
                 hours = \"30 h\"\ndepth_in = \"500 m\"\ndepth_out = \"700 m\"\n\
                 rotary_speed = \"100 rpm\"\ntally = \"tally.csv\"\n",
                start + 3
            ),
        );
        desk.run(&["load", "run.toml"]).ok();
    };
    run(&yard, "R1", 1);
    run(&rig, "R2", 2);
    // The bundle loses nothing: both runs are kept, and neither counts.
    let taken = rig.send(&yard, "rig.jsonl");
    let note = taken["notes"].to_string();
    assert!(note.contains("in two runs at once"), "{taken}");
    let hours = || {
        let found = yard.run(&["find", "hours >= 0 h", "--show", "serial,hours", "--json"]).json();
        found["joints"]
            .as_array()
            .unwrap()
            .iter()
            .find(|j| j["serial"] == "A-1")
            .map(|j| j["hours"].clone())
    };
    let open = yard.run(&["find", "hours > 20 h", "--undecided", "--json"]).json();
    assert_eq!(open["joints"][0]["serial"], "A-1", "{open}");
    let runs = yard.run(&["trace", "A-1", "--only", "runs", "--json"]).json();
    let entry = |name: &str| {
        let lines = runs["timeline"].as_array().unwrap();
        let line = lines.iter().find(|l| l["detail"].as_str().unwrap().starts_with(name));
        line.unwrap()["entry"].as_str().unwrap().to_owned()
    };
    let (stands, falls) = (entry("R1"), entry("R2"));
    yard.run(&[
        "enter",
        "decision",
        "date=2026-02-10",
        "ruling=settle",
        &format!("stands={stands}"),
        &format!("falls={falls}"),
        "reason=the rig tallied another joint",
    ])
    .ok();
    assert_eq!(hours().unwrap()["value"], 30.0);
    // The other site comes to the same once it hears of it.
    yard.send(&rig, "yard2.jsonl");
    let found = rig.run(&["find", "hours = 30 h", "--json"]).json();
    assert_eq!(found["joints"][0]["serial"], "A-1");
    for desk in [&yard, &rig] {
        desk.run(&["verify"]).ok();
    }
}

#[test]
fn rules_are_shown_checked_and_adopted() {
    let desk = stocked();
    desk.run(&[
        "enter",
        "inspection",
        "serial=A-1",
        "date=2026-02-01",
        "methods=UT wall",
        "wall=0.310 in",
    ])
    .ok();
    let shipped = desk.run(&["rules", "--text"]).ok();
    desk.write("shipped.toml", &shipped);
    desk.run(&["rules", "--check", "shipped.toml"]).ok();
    let mine = "name = \"yard, edition 1\"\n\n[[rule]]\nname = \"thin\"\ncall = \"downgrade\"\n\
                value = \"wall\"\nbelow = \"90 %\"\nreason = \"thin\"\nsource = \"contract\"\n";
    desk.write("mine.toml", mine);
    let thin = || desk.run(&["due"]).ok().contains(" thin ");
    assert!(!thin());
    let dry = desk.run(&["rules", "--use", "mine.toml", "--dry-run"]).ok();
    assert!(dry.contains("dry run"), "{dry}");
    assert!(!thin());
    desk.run(&["rules", "--use", "mine.toml"]).ok();
    assert!(thin());
    let due = desk.run(&["due", "--json"]).json();
    assert_eq!(due["due"][0]["serial"], "A-1");
    assert_eq!(due["due"][0]["rule"], "thin");
    assert_eq!(due["due"][0]["limit"]["value"], 90.0);
    // Located errors, with a caret into the filter.
    desk.write("bad.toml", mine.replace("\"wall\"", "\"wal\""));
    let err = desk.run(&["rules", "--check", "bad.toml"]).fails(3);
    assert!(err.contains("bad.toml:6:") && err.contains("^^^"), "{err}");
    let err = desk.run(&["rules", "--use", "bad.toml"]).fails(3);
    assert!(err.contains("did you mean wall, "), "{err}");
    // Names that mean something else in a filter.
    for name in ["wall", "Yes"] {
        desk.write("bad.toml", mine.replace("name = \"thin\"", &format!("name = \"{name}\"")));
        let err = desk.run(&["rules", "--check", "bad.toml"]).fails(3);
        assert!(err.contains(&format!("rule {name}: ")) && err.contains("choose another"), "{err}");
    }
}

#[test]
fn what_is_no_book_is_refused_and_left_alone() {
    let desk = Desk::new();
    for (name, bytes) in [("empty.pipelore", &b""[..]), ("text.pipelore", b"not a book\n")] {
        desk.write(name, bytes);
        for words in [&["find", "true"][..], &["load", "x.csv"], &["rebuild"], &["verify"]] {
            let mut all = vec!["--book", name];
            all.extend(words);
            let err = desk.run(&all).fails(4);
            assert!(err.contains(name), "{err}");
        }
        assert_eq!(std::fs::read(desk.path(name)).unwrap(), bytes);
    }
    let err = desk.run(&["find", "true"]).fails(4);
    assert!(err.contains("book.pipelore"), "{err}");
    desk.write("taken.pipelore", "mine");
    desk.run(&["new", "taken.pipelore"]).fails(2);
    assert_eq!(std::fs::read(desk.path("taken.pipelore")).unwrap(), b"mine");
}

#[test]
fn a_backup_is_a_book() {
    let desk = stocked();
    desk.run(&["backup", "copy.pipelore"]).ok();
    assert_eq!(
        desk.run(&["find", "true", "--json"]).ok(),
        desk.run(&["--book", "copy.pipelore", "find", "true", "--json"]).ok()
    );
    desk.run(&["--book", "copy.pipelore", "verify"]).ok();
    desk.run(&["backup", "copy.pipelore"]).fails(2);
}

#[test]
fn a_rebuild_gathers_statistics_and_changes_no_answer() {
    let desk = Desk::demo_copy();
    let questions = [
        &["find", "hours since last inspection (covers = wall) > 200 h", "--json"][..],
        &["find", "any run (max_dogleg > 3 deg/30m)", "--json"],
        &["due", "--json"],
        &["find", "any run", "--as-of", "2026-03-01", "--json"],
        &["rules", "--json"],
    ];
    let answers = || questions.map(|words| desk.run(words).ok());
    let before = answers();
    let words = desk.run(&["rebuild"]).ok();
    assert!(words.contains("derived again"), "{words}");
    let conn = rusqlite::Connection::open(desk.path("demo.pipelore")).unwrap();
    let gathered: i64 =
        conn.query_row("SELECT count(*) FROM sqlite_stat1", [], |r| r.get(0)).unwrap();
    drop(conn);
    assert!(gathered > 10, "{gathered}");
    assert_eq!(before, answers());
    desk.run(&["verify"]).ok();
    // And again, over statistics that stand.
    desk.run(&["rebuild"]).ok();
    desk.run(&["verify"]).ok();
}
