//! Fields corrected after the fact, through the binary: the life stays, what follows is derived
//! again, and what was written before stays readable.

use super::cli::Desk;

fn at(desk: &Desk, now: &str, words: &[&str]) -> super::cli::Ran {
    let output = desk.command(words).env("PIPELORE_NOW", now).output().unwrap();
    super::cli::Ran {
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

fn amend(desk: &Desk, words: &[&str]) -> String {
    let mut all = vec!["enter", "amend", "reason=typed wrong"];
    all.extend(words);
    desk.run(&all).ok()
}

/// What the book says of all joints, and what it calls for.
fn answers(desk: &Desk) -> Vec<String> {
    const FIELDS: &str = "serial,grade,nominal_wall,wall,class,criterion,disposition,hours,\
                          revolutions,damage,count runs,pin_makeups,box_makeups,inspected,status,location";
    let json = |words: &[&str]| desk.run(words).json().to_string();
    vec![
        json(&["find", "true", "--show", FIELDS, "--sort", "serial", "--json"]),
        json(&["due", "--json"]),
        json(&["find", "--list", "makeups", "true", "--json"]),
    ]
}

fn joints(wall: &str, grade: &str) -> String {
    format!(
        "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],Connection,\
         TJ OD [in],TJ ID [in],String,Received\n\
         A-1,drill pipe,yes,5,{wall},19.50,{grade},31.2,NC50,6 5/8,3 1/4,A,2026-01-05\n\
         A-2,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,A,2026-01-05\n"
    )
}

fn yard(site: &str, wall: &str, grade: &str) -> Desk {
    let desk = Desk::new();
    desk.run(&["new", "--site", site]).ok();
    desk.write("joints.csv", joints(wall, grade));
    desk.run(&["load", "joints.csv"]).ok();
    let read = ["serial=A-1", "date=2026-02-01", "methods=ut wall", "wall=0.300 in"];
    desk.run(&[&["enter", "inspection"][..], &read].concat()).ok();
    desk
}

#[test]
fn a_certificate_amended_is_one_that_was_right() {
    let (right, wrong) = (yard("yard", ".362", "G-105"), yard("yard", ".408", "G-105"));
    let class = |desk: &Desk| desk.shown("serial = \"A-1\"", "wall");
    assert_ne!(class(&wrong), class(&right));
    amend(&wrong, &["joint=A-1", "wall=.362 in"]);
    assert_eq!(answers(&wrong), answers(&right));
    wrong.run(&["verify"]).ok();
    // The entry is readable as it was written, and both say so.
    let told = wrong.run(&["trace", "A-1", "--json"]).json().to_string();
    assert!(told.contains("wall .408 in → .362 in (typed wrong)"), "{told}");
    assert!(told.contains("as amended by yard-"), "{told}");
    let raw = wrong.run(&["entries", "--json"]).json().to_string();
    assert!(raw.contains("\"wall\":\".408 in\""), "{raw}");
    wrong.run(&["rebuild"]).ok();
    assert_eq!(answers(&wrong), answers(&right));
}

#[test]
fn a_life_stays_and_an_amendment_of_an_amendment_holds() {
    let desk = Desk::demo_copy();
    let before = answers(&desk);
    let hours = desk.shown("serial = \"K1-0431\"", "hours");
    let dry = amend(&desk, &["joint=K1-0431", "grade=S-135", "--dry-run"]);
    assert!(dry.contains("would amend") && dry.contains("K1-0431"), "{dry}");
    assert_eq!(answers(&desk), before);
    amend(&desk, &["joint=K1-0431", "grade=S-135"]);
    assert_eq!(desk.shown("serial = \"K1-0431\"", "hours"), hours);
    assert_ne!(answers(&desk), before);
    desk.run(&["verify"]).ok();
    // Named by the amendment or by what it amends: the same.
    let last = last_entry(&desk);
    amend(&desk, &[&format!("entry={last}"), "grade=G-105"]);
    assert_eq!(answers(&desk), before);
    desk.run(&["verify"]).ok();
    // Of the last of them nothing is left once it is struck.
    let last = last_entry(&desk);
    desk.run(&["strike", &last, "--reason", "right after all"]).ok();
    assert_eq!(desk.shown("serial = \"K1-0431\"", "grade"), ["K1-0431 S135"]);
    desk.run(&["verify"]).ok();
}

#[test]
fn what_was_known_before_stays_what_was_known() {
    let desk = Desk::demo_copy();
    let grade = |more: &[&str]| {
        let mut words = vec!["find", "serial = \"K1-0431\"", "--show", "grade", "--json"];
        words.extend(more);
        let told = at(&desk, "2026-06-20T08:00:00Z", &words).json();
        told["joints"][0]["grade"].as_str().unwrap().to_owned()
    };
    at(
        &desk,
        "2026-06-18T08:00:00Z",
        &["enter", "amend", "joint=K1-0431", "grade=S-135", "reason=typed wrong"],
    )
    .ok();
    assert_eq!(grade(&[]), "S135");
    assert_eq!(grade(&["--known-on", "2026-06-17"]), "G105");
    assert_eq!(grade(&["--known-on", "2026-06-19"]), "S135");
    // By what is known now it was so on every date.
    assert_eq!(grade(&["--as-of", "2025-06-01"]), "S135");
    assert_eq!(grade(&["--as-of", "2025-06-01", "--known-on", "2026-06-17"]), "G105");
}

/// What lets a site amend an entry that another wrote.
const DECIDED: &str = "decision=the pipe is here";

#[test]
fn two_sites_that_amend_one_field_agree() {
    let yard = yard("yard", ".408", "G-105");
    let rig = Desk::new();
    rig.run(&["new", "--site", "rig"]).ok();
    yard.send(&rig, "a.bundle");
    let wall = |desk: &Desk| desk.shown("serial = \"A-1\"", "nominal_wall");
    let say = |desk: &Desk, now: &str, wall: &str, decision: &[&str]| {
        let wall = format!("wall={wall}");
        let said = ["enter", "amend", "joint=A-1", &wall, "reason=by the caliper"];
        at(desk, now, &[&said, decision].concat()).ok();
    };
    // The yard says it first and the rig last, whoever hears it in which order.
    say(&yard, "2026-06-16T08:00:00Z", ".375 in", &[]);
    say(&rig, "2026-06-17T08:00:00Z", ".362 in", &[DECIDED]);
    yard.send(&rig, "b.bundle");
    rig.send(&yard, "c.bundle");
    assert_eq!(wall(&yard), wall(&rig));
    assert!(wall(&yard)[0].contains("0.362"), "{:?}", wall(&yard));
    assert_eq!(answers(&yard), answers(&rig));
    for desk in [&yard, &rig] {
        desk.run(&["verify"]).ok();
        desk.run(&["rebuild"]).ok();
        assert!(wall(desk)[0].contains("0.362"));
    }
}

#[test]
fn a_serial_is_amended_where_it_is_free() {
    let desk = Desk::demo_copy();
    let hours = desk.shown("serial = \"K1-0431\"", "hours")[0].replace("K1-0431", "K1-0931");
    let taken = ["enter", "amend", "joint=K1-0431", "serial=K1-0432", "reason=misread"];
    let err = desk.run(&taken).fails(2);
    assert!(err.contains("enter identity serial=K1-0431@") && err.contains("same=K1-0432@"));
    amend(&desk, &["joint=K1-0431", "serial=K1-0931"]);
    assert_eq!(desk.shown("serial = \"K1-0931\"", "hours"), [hours]);
    assert!(desk.joints("serial = \"K1-0431\"").yes.is_empty());
    desk.run(&["verify"]).ok();
}

#[test]
fn runs_and_hires_are_amended() {
    let desk = Desk::demo_copy();
    let entry = |kind: &str, about: &str| {
        let all = desk.run(&["entries", "--csv"]).ok();
        let line = all.lines().find(|l| l.contains(&format!(",{kind},")) && l.contains(about));
        format!("entry={}", line.unwrap().split(',').next().unwrap())
    };
    let run = entry("run", "K1-R01");
    let before = desk.shown("serial = \"K1-0431\"", "damage");
    amend(&desk, &[&run, "mud_weight=16 ppg"]);
    assert_ne!(desk.shown("serial = \"K1-0431\"", "damage"), before);
    amend(&desk, &[&run, "mud_weight=9.6 ppg"]);
    assert_eq!(desk.shown("serial = \"K1-0431\"", "damage"), before);
    let hire = entry("hire out", "K1-0401");
    amend(&desk, &[&hire, "party=Another crew"]);
    assert!(desk.run(&["statement", "H-31"]).ok().contains("Another crew"));
    desk.run(&["verify"]).ok();
    // What names joints is written anew.
    let err = desk.run(&["enter", "amend", &run, "tally=a.csv", "reason=x"]).fails(2);
    assert!(err.contains("cannot be amended") && err.contains("--instead"), "{err}");
    let err = desk.run(&["enter", "amend", &run, "depth=3 ft", "reason=x"]).fails(2);
    assert!(err.contains("no field of a run"), "{err}");
}

#[test]
fn whoever_corrects_is_told_how() {
    let desk = yard("yard", ".408", "G-105");
    desk.write("joints.csv", joints(".362", "G-105"));
    let words = "pipelore enter amend entry=yard-";
    let err = desk.run(&["load", "joints.csv"]).fails(3);
    assert!(err.contains(words), "{err}");
    let entry = |desk: &Desk| {
        let all = desk.run(&["entries", "--csv"]).ok();
        let line = all.lines().find(|l| l.contains(",joint,")).unwrap().to_owned();
        line.split(',').next().unwrap().to_owned()
    };
    let joint = entry(&desk);
    let strike = |more: &[&str]| {
        desk.run(&[&["strike", &joint, "--reason", "typed wrong"][..], more].concat())
    };
    assert!(strike(&["--dry-run"]).ok().contains(words));
    assert!(strike(&["--instead", "joints.csv"]).fails(3).contains(words));
    // A corrected row of what is taken in beside what stands.
    let repair =
        |shop: &str| format!("Serial,Date,Work,End,Shop\nA-1,2026-03-01,recut,pin,{shop}\n");
    desk.write("repair.csv", repair("Yard shop"));
    assert!(!desk.run(&["load", "repair.csv"]).ok().contains("enter amend"));
    desk.write("repair.csv", repair("Mill shop"));
    let text = desk.run(&["load", "repair.csv", "--dry-run"]).ok();
    assert!(text.contains("(shop)") && text.contains(words), "{text}");
    // A hire of joints that are out on it.
    let hire =
        |party: &str| format!("Serial,Date,Hire,Party,Location\nA-1,2026-04-01,H-1,{party},Rig\n");
    desk.write("hire.csv", hire("crew"));
    desk.run(&["load", "hire.csv", "--insist", "it is inspected there"]).ok();
    desk.write("hire.csv", hire("another crew"));
    let insisting = ["load", "hire.csv", "--insist", "it is inspected there"];
    assert!(desk.run(&insisting).fails(3).contains(words));
}

/// The name of the last entry.
fn last_entry(desk: &Desk) -> String {
    let all = desk.run(&["entries", "--csv"]).ok();
    all.lines().last().unwrap().split(',').next().unwrap().to_owned()
}

#[test]
fn a_reading_amended_is_one_that_was_right() {
    let read = |desk: &Desk, wall: &str| {
        let words = ["serial=A-1", "date=2026-03-01", "methods=od gauge; ut wall", wall];
        let more = ["body_od=4.9 in", "box_od=6 3/8 in", "tube_finding=dent 0.1 in"];
        desk.run(&[&["enter", "inspection"][..], &words, &more].concat()).ok();
    };
    let (right, wrong) = (yard("yard", ".362", "G-105"), yard("yard", ".362", "G-105"));
    read(&right, "wall=0.290 in");
    read(&wrong, "wall=0.209 in");
    assert_ne!(answers(&right), answers(&wrong));
    let entry = format!("entry={}", last_entry(&wrong));
    amend(&wrong, &[&entry, "wall=0.290 in"]);
    assert_eq!(answers(&wrong), answers(&right));
    wrong.run(&["verify"]).ok();
    let told = wrong.run(&["trace", "A-1"]).ok();
    assert!(told.contains("wall 0.209 in → 0.290 in (typed wrong)"), "{told}");
    // Of two ends the one that is meant, by hand and by bundle.
    amend(&wrong, &[&entry, "box_od=6 1/4 in", "pin_od=6 1/2 in"]);
    assert_eq!(wrong.shown("serial = \"A-1\"", "box_od"), ["A-1 6.25"]);
    assert_eq!(wrong.shown("serial = \"A-1\"", "pin_od"), ["A-1 6.5"]);
    amend(&wrong, &[&entry, "pin_od=", "box_od=6 3/8 in"]);
    assert_eq!(answers(&wrong), answers(&right));
    wrong.run(&["rebuild"]).ok();
    assert_eq!(answers(&wrong), answers(&right));
    // What cannot be is refused as in a file, and so is what says nothing new.
    for (bad, says) in [
        ("wall=3 in", "far above nominal"),
        ("wall=0.290 in", "says so already"),
        ("finding=dent 0.2 in", "tube_finding="),
        ("tube_finding=nonsense", "nonsense"),
    ] {
        let said = wrong.run(&["enter", "amend", &entry, bad, "reason=x"]).fails(2);
        assert!(said.contains(says), "{bad}: {said}");
    }
}

#[test]
fn a_finding_amended_is_one_that_was_right_and_the_old_one_is_readable() {
    let found = |desk: &Desk, what: &str| {
        let words = ["serial=A-1", "date=2026-03-01", "methods=visual tube", what];
        at(desk, "2026-06-15T09:00:00Z", &[&["enter", "inspection"][..], &words].concat()).ok();
    };
    let (right, wrong) = (yard("yard", ".362", "G-105"), yard("yard", ".362", "G-105"));
    found(&right, "tube_finding=slip cut 0.02 in along");
    found(&wrong, "tube_finding=slip crack");
    let open = |desk: &Desk| {
        let told = desk.run(&["find", "--list", "findings", "true", "--json"]).json();
        told["records"].to_string()
    };
    assert_ne!(open(&right), open(&wrong));
    let entry = format!("entry={}", last_entry(&wrong));
    let words = ["enter", "amend", &entry, "tube_finding=slip cut 0.02 in along", "reason=another"];
    at(&wrong, "2026-06-17T08:00:00Z", &words).ok();
    assert_eq!((open(&wrong), answers(&wrong)), (open(&right), answers(&right)));
    let known = |on: &str| {
        let words = ["assess", "A-1", "--known-on", on];
        at(&wrong, "2026-06-20T08:00:00Z", &words).out
    };
    assert!(known("2026-06-16").contains("FOUND") || known("2026-06-16").contains("cracks found"));
    assert!(!known("2026-06-18").contains("cracks found"), "{}", known("2026-06-18"));
    wrong.run(&["verify"]).ok();
    // Taken away altogether, and back.
    let again = |now: &str, says: &str| {
        at(&wrong, now, &["enter", "amend", &entry, says, "reason=seen again"]).ok();
    };
    again("2026-06-18T08:00:00Z", "tube_finding=");
    assert_eq!(wrong.joints("any finding (open = true)").yes, Vec::<String>::new());
    again("2026-06-19T08:00:00Z", "tube_finding=slip cut 0.02 in along");
    assert_eq!(open(&wrong), open(&right));
}

#[test]
fn two_sites_that_amend_two_readings_of_one_entry_keep_both() {
    let yard = yard("yard", ".362", "G-105");
    let entry = format!("entry={}", last_entry(&yard));
    amend(&yard, &[&entry, "body_od=4.9 in"]);
    let rig = Desk::new();
    rig.run(&["new", "--site", "rig"]).ok();
    yard.send(&rig, "a.bundle");
    let again = |desk: &Desk, now: &str, says: &str, decision: &[&str]| {
        let said = ["enter", "amend", &entry, says, "reason=read again"];
        at(desk, now, &[&said, decision].concat()).ok();
    };
    again(&yard, "2026-06-16T08:00:00Z", "wall=0.310 in", &[]);
    again(&rig, "2026-06-17T08:00:00Z", "body_od=4.95 in", &[DECIDED]);
    yard.send(&rig, "b.bundle");
    rig.send(&yard, "c.bundle");
    for desk in [&yard, &rig] {
        assert_eq!(desk.shown("serial = \"A-1\"", "wall_thickness"), ["A-1 0.31"]);
        assert_eq!(desk.shown("serial = \"A-1\"", "body_od"), ["A-1 4.95"]);
        desk.run(&["verify"]).ok();
    }
}

#[test]
fn what_is_left_of_an_inspection_covers_what_it_covers() {
    let desk = yard("yard", ".362", "G-105");
    let read = ["serial=A-2", "date=2026-03-01", "wall=0.300 in", "body_od=4.95 in"];
    desk.run(&[&["enter", "inspection"][..], &read].concat()).ok();
    let entry = format!("entry={}", last_entry(&desk));
    let read_wall = |desk: &Desk| desk.joints("any inspection (covers = wall)").yes;
    assert_eq!(read_wall(&desk), ["A-1", "A-2"]);
    amend(&desk, &[&entry, "wall="]);
    assert_eq!(read_wall(&desk), ["A-1"]);
    let said = desk.run(&["enter", "amend", &entry, "body_od=", "reason=x"]).fails(2);
    assert!(said.contains("nothing that was looked at") && said.contains("strike"), "{said}");
    // A row of a tally is not amended, and how it is corrected is said.
    let demo = Desk::demo();
    let all = demo.run(&["entries", "--csv"]).ok();
    let run = all.lines().find(|l| l.contains(",run,K1-R01")).unwrap().split(',').next().unwrap();
    let entry = format!("entry={run}");
    let words = ["enter", "amend", &entry, "row=3", "length=30 ft", "reason=x"];
    let said = demo.run(&words).fails(2);
    assert!(
        said.contains(&format!("pipelore strike {run}")) && said.contains("--instead"),
        "{said}"
    );
}

/// An answer to people names nothing that only the program knows.
fn is_plain(text: &str) {
    for internal in ["projection", "joint_run", "_digest", "by_name", "presence", "histogram"] {
        assert!(!text.contains(internal), "{internal}: {text}");
    }
}

#[test]
fn a_strike_of_a_run_says_how_the_order_moves() {
    let desk = Desk::demo_copy();
    let all = desk.run(&["entries", "--csv"]).ok();
    let run = all.lines().find(|l| l.contains(",run,K1-R05")).unwrap().split(',').next().unwrap();
    let strike = ["strike", run, "--reason", "of another string", "--dry-run"];
    let text = desk.run(&strike).ok();
    is_plain(&text);
    for said in ["calls: ", "classes: ", "ranks: ", "change their places"] {
        assert!(text.find(said).is_some_and(|at| at < text.find("hours now").unwrap()), "{text}");
    }
    let json = desk.run(&[&strike[..], &["--json"]].concat()).json();
    let moved = json["ranks"].as_array().unwrap();
    assert!(json["consequences"]["other_rank"].as_i64().unwrap() >= moved.len() as i64);
    // The order is that of the book once it is done.
    desk.run(&strike[..4]).ok();
    let worst =
        desk.run(&["find", "true", "--show", "serial,damage", "--sort", "-damage", "--json"]);
    let worst = worst.json();
    for joint in moved {
        let place = joint["rank_then"].as_i64().unwrap() as usize - 1;
        assert_eq!(worst["joints"][place]["serial"], joint["serial"]);
    }
}

#[test]
fn a_strike_of_an_inspection_says_which_calls_and_classes_fall() {
    let desk = yard("yard", ".362", "G-105");
    let thin = ["serial=A-2", "date=2026-03-01", "methods=ut wall", "wall=0.200 in"];
    desk.run(&[&["enter", "inspection"][..], &thin].concat()).ok();
    let last = last_entry(&desk);
    let strike = ["strike", last.as_str(), "--reason", "another joint", "--dry-run"];
    let text = desk.run(&strike).ok();
    is_plain(&text);
    assert!(text.contains("called for no more for 1 joint (A-2)"), "{text}");
    let json = desk.run(&[&strike[..], &["--json"]].concat()).json();
    let lost = json["consequences"]["calls_lost"].as_i64().unwrap();
    let gained = json["consequences"]["calls_gained"].as_i64().unwrap();
    let due =
        |desk: &Desk| desk.run(&["due", "--json"]).json()["due"].as_array().unwrap().len() as i64;
    let before = due(&desk);
    desk.run(&strike[..4]).ok();
    assert_eq!(due(&desk) - before, gained - lost);
}
