//! What nobody stated, read or could work out: it is neither yes nor no, no zero and no word, and
//! what does not rest on it stays known. Files in, answers out.

use super::cli::{Desk, JointSet};

const HEAD: &str = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],\
                    Connection,TJ OD [in],TJ ID [in],Received,Hours [h],Basis\n";
const SURVEY: &str = "Well,W1\nDate,2024-01-20\nMD [ft],Inclination [deg],Azimuth [deg]\n0,0,0\n1000,0,0\n1100,9,0\n\
                      1500,30,0\n3000,30,0\n";
const LOG: &str = "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
                   rotating on bottom,1000,1300,10,100,20\nsliding,1300,1350,4,0,20\n\
                   rotating on bottom,1350,1500,10,120,20\n";

fn pipe(serial: &str, new: &str, wall: &str, weight: &str) -> String {
    format!(
        "{serial},drill pipe,{new},5,{wall},{weight},G-105,31.2,NC50,6 5/8,3 1/4,2024-01-05,,\n"
    )
}

/// Three new joints of which A-3 runs far above the others, and a survey.
fn yard() -> Desk {
    let desk = Desk::with_book();
    let all = ["A-1", "A-2", "A-3"].map(|s| pipe(s, "yes", ".362", "19.5")).concat();
    desk.write("joints.csv", format!("{HEAD}{all}"));
    desk.write("survey.csv", SURVEY);
    desk.run(&["load", "joints.csv", "survey.csv"]).ok();
    desk
}

/// Loads a run of the joints from the bit up: below them a bit and collars, between the last two
/// 1,240 ft of pipe without serials.
fn run(desk: &Desk, name: &str, month: &str, joints: &[&str], more: &str, log: &str) {
    let (top, low) = joints.split_last().unwrap();
    let low: Vec<String> = low.iter().map(|s| format!("{s},,,,,,\n")).collect();
    let low = low.concat();
    desk.write(
        "tally.csv",
        format!(
            "Serial,Component,Length [ft],OD [in],ID [in],Weight [lb/ft],Count\n\
             ,bit,1,8.5,2,80,\n,drill collar,30,6.5,2.8125,90,3\n{low}\
             ,drill pipe,31,5,4.276,19.5,40\n{top},,,,,,\n"
        ),
    );
    desk.write("log.csv", log);
    desk.write(
        "run.toml",
        format!(
            "name = \"{name}\"\nwell = \"W1\"\nstart = 2024-{month}-01T00:00:00Z\n\
             end = 2024-{month}-04T00:00:00Z\nmud_weight = \"9.6 ppg\"\n\
             hole_diameter = \"8 1/2 in\"\ntally = \"tally.csv\"\nlog = \"log.csv\"\n{more}"
        ),
    );
    desk.run(&["load", "run.toml"]).ok();
}

/// Joints that match a filter, and those that nobody can decide.
#[track_caller]
fn asked(desk: &Desk, filter: &str) -> JointSet {
    desk.joints(filter)
}

#[track_caller]
fn is(desk: &Desk, filter: &str, yes: &[&str], open: &[&str]) {
    let found = asked(desk, filter);
    assert_eq!((found.yes, found.open), (owned(yes), owned(open)), "{filter}");
}

fn owned(list: &[&str]) -> Vec<String> {
    list.iter().map(|s| (*s).to_owned()).collect()
}

const ALL: [&str; 3] = ["A-1", "A-2", "A-3"];

#[test]
fn a_torque_that_nobody_read_is_no_verdict() {
    let desk = yard();
    let enter = |more: &[&str]| {
        let words = ["enter", "makeup", "date=2024-03-01", "pin=A-1", "box=A-2"];
        desk.run(&[&words, more].concat()).ok();
    };
    enter(&["gauge=TG-1"]);
    is(&desk, "any makeup (verdict = under)", &[], &["A-1", "A-2"]);
    is(&desk, "every makeup (verdict = on_target)", &[], &["A-1", "A-2"]);
    is(&desk, "any makeup (verdict is unknown)", &["A-1", "A-2"], &[]);
    is(&desk, "no makeup (verdict = over)", &["A-3"], &["A-1", "A-2"]);
    // One that is known to be under decides it.
    enter(&["torque=12 kft.lbf"]);
    is(&desk, "any makeup (verdict = under)", &["A-1", "A-2"], &[]);
    let wrong = desk.run(&["find", "any makeup (verdict = unknown)"]).fails(2);
    assert!(wrong.contains("is unknown"), "{wrong}");
}

#[test]
fn gas_and_protectors_are_told_or_not_known() {
    let desk = yard();
    run(&desk, "R1", "02", &ALL, "", LOG);
    is(&desk, "any run (sour = true)", &[], &ALL);
    is(&desk, "any run (protectors = false)", &[], &ALL);
    is(&desk, "every run (sour is unknown)", &ALL, &[]);
    let desk = yard();
    run(&desk, "R1", "02", &ALL, "sour = false\nprotectors = true\n", LOG);
    is(&desk, "any run (sour = true)", &[], &[]);
    is(&desk, "any run (protectors = false)", &[], &[]);
    is(&desk, "every run (protectors = true and not sour)", &ALL, &[]);
}

#[test]
fn an_authority_that_nobody_names_is_not_known() {
    let desk = yard();
    let words =
        ["enter", "decision", "serial=A-1", "date=2024-04-01", "ruling=release", "reason=x"];
    desk.run(&words).ok();
    is(&desk, "any decision (authority = \"me\")", &[], &["A-1"]);
    is(&desk, "authority of latest decision is unknown", &ALL, &[]);
}

/// A-3 hangs more than 1,240 ft above the bit and the hole is 1,500 ft deep: of a log that ends at
/// 1,300 ft it never came below the table while the string turned.
#[test]
fn what_never_turned_did_nothing() {
    let desk = yard();
    let shallow = LOG.lines().take(2).collect::<Vec<_>>().join("\n") + "\n";
    run(&desk, "R1", "02", &ALL, "", &shallow);
    for figure in ["hours", "cased_hours", "revolutions", "open_turns", "max_dogleg", "damage"] {
        is(&desk, &format!("serial = \"A-3\" and {figure} is unknown"), &[], &[]);
    }
    is(&desk, "cased_hours = 0 h", &["A-3"], &["A-1", "A-2"]);
}

/// What hangs below a joint without wall and weight is known; what hangs above it bears a tension
/// that nobody knows. Hours, turns and bends rest on neither.
#[test]
fn one_joint_that_nobody_weighed_leaves_the_hours_known() {
    let desk = yard();
    desk.write("odd.csv", format!("{HEAD}{}", pipe("C-3", "yes", "", "")));
    desk.run(&["load", "odd.csv"]).ok();
    run(&desk, "R1", "02", &["A-1", "C-3", "A-2"], "casing_depth = \"500 ft\"\n", LOG);
    for figure in ["hours", "revolutions", "footage", "max_dogleg", "cased_hours"] {
        is(&desk, &format!("any run and {figure} is unknown"), &[], &[]);
    }
    is(&desk, "hours < 100 h", &["A-1", "A-2", "A-3", "C-3"], &[]);
    is(&desk, "any run (max_tension is unknown)", &["A-2", "C-3"], &[]);
    is(&desk, "damage is unknown", &["A-2", "C-3"], &[]);
}

/// A wall that is read late on a joint without a weight weighs on all that hang above it.
#[test]
fn a_late_wall_derives_the_whole_string_again() {
    let desk = yard();
    let odd = pipe("C-3", "yes", ".362", "");
    desk.write("odd.csv", format!("{HEAD}{odd}"));
    desk.run(&["load", "odd.csv"]).ok();
    run(&desk, "R1", "03", &["C-3", "A-1", "A-2"], "", LOG);
    let tension =
        |desk: &Desk| desk.shown("serial = \"A-2\"", "max_tension of latest run").join(" ");
    let before = tension(&desk);
    let words =
        ["enter", "inspection", "serial=C-3", "date=2024-02-01", "methods=UT wall", "wall=0.3 in"];
    desk.run(&words).ok();
    assert_ne!(before, tension(&desk));
    desk.run(&["verify"]).ok();
}

#[test]
fn saver_subs_are_made_up_to_boxes_in_each_trip() {
    let desk = yard();
    run(&desk, "R1", "02", &ALL, "", LOG);
    desk.write("trips.csv", "Date,Run,Trips,Stand,Saver,Rotate\n2024-02-05,R1,2,2,1,1\n");
    desk.run(&["load", "trips.csv"]).ok();
    // Trip 1 breaks above place 2, trip 2 above places 1 and 3; each time the box below is the top
    // of a stand.
    let made = |end: &str| desk.shown("true", &format!("{end}_makeups"));
    assert_eq!(made("box"), ["A-1 2", "A-2 2", "A-3 2"]);
    assert_eq!(made("pin"), ["A-1 0", "A-2 1", "A-3 1"]);
}

#[test]
fn depths_are_where_it_turned_and_where_it_drilled() {
    let desk = yard();
    let log = format!(
        "{LOG}reaming up,1500,900,1,80,0\nreaming down,900,1500,1,80,0\n\
                       sliding,1500,1600,4,0,20\n"
    );
    run(&desk, "R1", "02", &ALL, "", &log);
    let of = |what: &str| desk.shown("serial = \"A-1\"", &format!("{what} of latest run")).join("");
    // The middle of A-1 is 106.6 ft above the bit: it turned down to 1,393 ft, and slid to 1,493.
    assert_eq!((of("depth_in"), of("depth_out")), ("A-1 1000".into(), "A-1 1600".into()));
    assert_eq!((of("top_depth"), of("bottom_depth")), ("A-1 793.4".into(), "A-1 1393.4".into()));
}

#[test]
fn readings_stay_as_they_were_written() {
    let desk = yard();
    desk.write("odd.csv", format!("{HEAD}{}", pipe("C-3", "yes", "", "19.5")));
    desk.run(&["load", "odd.csv"]).ok();
    let look = |serial: &str, wall: &str, date: &str| {
        let words = [
            "enter",
            "inspection",
            &format!("serial={serial}"),
            &format!("date={date}"),
            "methods=UT wall",
            &format!("wall={wall}"),
        ];
        desk.run(&words).ok();
    };
    look("A-1", "96.3 %", "2024-02-01");
    is(&desk, "wall = 96.3 %", &["A-1"], &["A-2", "A-3", "C-3"]);
    is(&desk, "wall < 96.3 % or wall > 96.3 %", &[], &["A-2", "A-3", "C-3"]);
    // Of a joint without a nominal wall the share stands, and its thickness is not known.
    look("C-3", "75 %", "2024-02-01");
    is(&desk, "wall < 80 %", &["C-3"], &["A-2", "A-3"]);
    is(&desk, "any inspection (wall < 80 %)", &["C-3"], &[]);
    is(&desk, "any inspection and wall_thickness is unknown", &["C-3"], &[]);
    // The hardband at whichever end it was read, the lower one of two.
    desk.write(
        "bands.csv",
        "Serial,Date,Methods,Box hardband height [in],Pin hardband height [in]\n\
         A-1,2024-03-01,hardband check,0.09,0.02\nA-2,2024-03-01,hardband check,,0.05\n",
    );
    desk.run(&["load", "bands.csv", "--as", "inspection"]).ok();
    is(&desk, "hardband_height = 0.02 in", &["A-1"], &["A-3", "C-3"]);
    is(&desk, "hardband_height = 0.05 in", &["A-2"], &["A-3", "C-3"]);
}

/// A used joint states what its worst place has taken, and nobody knows which place that is.
#[test]
fn stated_damage_stands_at_one_place() {
    let desk = Desk::with_book();
    desk.write("joints.csv", format!("{HEAD}{}", pipe("A-1", "no", ".362", "19.5")));
    desk.run(&["load", "joints.csv"]).ok();
    let words = ["enter", "opening", "serial=A-1", "date=2024-01-05", "damage=0.1"];
    desk.run(&words).ok();
    is(&desk, "damage = 0.1", &["A-1"], &[]);
    for place in ["damage_pin", "damage_middle", "damage_box"] {
        is(&desk, &format!("{place} <= 0.1"), &["A-1"], &[]);
        is(&desk, &format!("{place} > 0.05"), &[], &["A-1"]);
    }
}

#[test]
fn work_tells_what_it_left() {
    let desk = yard();
    let repair = |more: &[&str]| {
        desk.run(&[&["enter", "repair", "serial=A-1"], more].concat()).ok();
    };
    repair(&["date=2024-04-01", "work=coat", "material=Epoxy"]);
    is(&desk, "coating = \"Epoxy\"", &["A-1"], &["A-2", "A-3"]);
    is(&desk, "length = 31.2 ft", &ALL, &[]);
    repair(&["date=2024-04-02", "work=recut", "end=pin"]);
    is(&desk, "length = 31.2 ft", &["A-2", "A-3"], &["A-1"]);
    is(&desk, "length_after of latest repair is unknown", &ALL, &[]);
    desk.run(&["verify"]).ok();
}

#[test]
fn a_number_equals_what_it_is_shown_as() {
    let desk = yard();
    let log = LOG.replace(",10,120", ",9.97,120");
    run(&desk, "R1", "02", &["A-1", "A-2"], "", &log);
    let table = desk.run(&["find", "serial = \"A-1\"", "--show", "hours"]).ok();
    assert!(table.contains("20.0"), "{table}");
    is(&desk, "hours = 20 h", &["A-1"], &[]);
    is(&desk, "hours = 20.0 h", &["A-1"], &[]);
    is(&desk, "hours = 19.97 h", &["A-1"], &[]);
    is(&desk, "hours = 19.9 h", &[], &[]);
    is(&desk, "hours != 20 h", &["A-2", "A-3"], &[]);
    is(&desk, "hours < 20 h", &ALL, &[]);
    // Sizes of pipe are no roundings of one another.
    is(&desk, "od = 5 in and not od in (4 1/2 in, 5 1/2 in)", &ALL, &[]);
    // Hours above a bend inside a band are those of the runs.
    for bend in ["3.3 deg/30m", "8.9 deg/30m", "6 deg/100ft"] {
        let of =
            |window: &str| desk.shown("serial = \"A-1\"", &format!("hours above {bend}{window}"));
        assert_eq!(of(""), of(" since 2000-01-01"), "{bend}");
    }
}

#[test]
fn a_file_that_is_refused_whole_is_no_success() {
    let desk = yard();
    desk.write("bad.toml", "name = \"R9\"\nwell = \"W1\"\nstart = 2024-02-01T00:00:00Z\n");
    desk.write("more.csv", format!("{HEAD}{}", pipe("A-4", "yes", ".362", "19.5")));
    let ran = desk.run(&["load", "--partial", "bad.toml", "more.csv"]);
    assert!(ran.out.contains("bad.toml was refused whole"), "{}", ran.out);
    assert_eq!(ran.code, 3, "{}", ran.out);
    is(&desk, "serial = \"A-4\"", &["A-4"], &[]);
}

#[test]
fn means_show_their_bounds() {
    let desk = yard();
    run(&desk, "R1", "02", &["A-1", "A-2"], "", LOG);
    run(&desk, "R2", "03", &["A-1", "A-2"], "grade = \"estimated\"\n", LOG);
    let shown = desk.shown("serial = \"A-1\"", "mean hours over runs").join("");
    assert!(shown.contains('≥'), "{shown}");
}

/// A gauge that failed its check reads a wall that had grown; the sound reading of before stands behind it,
/// and contradicts the next sound one too.
#[test]
fn a_gauge_in_doubt_takes_back_no_sound_reading() {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Length [ft],Received\n         A-1,drill pipe,yes,5,0.362,31,2025-01-05\nA-2,drill pipe,yes,5,0.362,31,2025-01-05\n",
    );
    desk.write("checks.csv", "Tag,Date,How,Passed\nUT-2,2025-02-28,block,no\n");
    desk.write(
        "looks.csv",
        "Serial,Date,Methods,Instrument,Wall [%]\nA-1,2025-02-01,UT wall,UT-1,75.4\n\
         A-1,2025-03-01,UT wall,UT-2,89\nA-1,2025-04-01,UT wall,UT-1,88\n\
         A-2,2025-03-01,UT wall,UT-2,75.4\nA-2,2025-04-01,UT wall,UT-1,88\n",
    );
    desk.run(&["load", "joints.csv", "--as", "joint"]).ok();
    desk.run(&["load", "checks.csv", "--as", "check"]).ok();
    desk.run(&["load", "looks.csv", "--as", "inspection"]).ok();
    // Where the first gauge was the one in doubt, its reading contradicts nothing.
    assert_eq!(desk.joints("wall < 80 %").yes, ["A-1"]);
    assert_eq!(desk.joints("wall > 85 %").yes, ["A-2"]);
}
