//! What becomes of a joint, from files to the rows that answers are read from: where it is and who
//! has it, its ends, what it went through.

use pipelore::schema::{
    ConflictRow, DecisionRow, DimensionRow, EventRow, FailureRow, FindingRow, GapRow, HireRow,
    InspectionRow, JointRunRow, MakeupRow, MoveRow, RepairRow, SerialRow, SinceRow,
};

use crate::yard::{Fields, Yard, number, text};

/// Milliseconds of the midnight at which a day of the test yard (UTC+1) begins.
pub fn day(text: &str) -> i64 {
    let day: pipelore::model::Moment = text.parse().unwrap();
    day.start(pipelore::model::Clock::Offset(60)).0
}

/// Nanometres.
pub fn nm(text: &str) -> i64 {
    crate::condition::nm(text)
}

pub fn texts<'a>(rows: &'a [Fields], column: &str) -> Vec<Option<&'a str>> {
    rows.iter().map(|r| text(r, column)).collect()
}

pub fn numbers(rows: &[Fields], column: &str) -> Vec<Option<i64>> {
    rows.iter().map(|r| number(r, column)).collect()
}

pub fn one() -> Yard {
    Yard::with_joints(["A-1"])
}

pub fn two() -> Yard {
    Yard::with_joints(["A-1", "A-2"])
}

// -------------------------------------------------------------------------------------- custody

#[test]
fn a_joint_is_where_it_was_last_moved_to() {
    let mut yard = one();
    yard.load("Serial,Date,Location,String\nA-1,2026-01-10,Harrow Yard,K1\n");
    yard.load("Serial,Date,Location,String\nA-1,2026-01-20,Rig 9,\n");
    yard.load("Serial,Date,Location,String,Status\nA-1,2026-01-15,Dock,-,in repair\n");
    let joint = yard.joint("A-1");
    assert_eq!(text(&joint, "location"), Some("Rig 9"));
    assert_eq!(text(&joint, "string"), None);
    assert_eq!(text(&joint, "status"), Some("in_repair"));
    assert_eq!(number(&joint, "moved"), Some(day("2026-01-20")));
    let moves = yard.of_joint::<MoveRow>("A-1");
    assert_eq!(texts(&moves, "location"), [Some("Harrow Yard"), Some("Dock"), Some("Rig 9")]);
    assert_eq!(texts(&moves, "string"), [Some("K1"), None, None]);
    assert_eq!(texts(&moves, "status"), [Some("in_stock"), Some("in_repair"), Some("in_repair")]);
}

#[test]
fn a_hire_runs_from_out_to_back() {
    let mut yard = one();
    yard.load(
        "Serial,Date,Hire,Party,Contract,Location\nA-1,2026-01-10,H-1,Rig 9 crew,HY/1,Rig 9\n",
    );
    let out = yard.joint("A-1");
    assert_eq!(text(&out, "hire"), Some("H-1"));
    assert_eq!((number(&out, "on_hire"), text(&out, "status")), (Some(1), Some("on_hire")));
    assert_eq!(number(&out, "moved"), Some(day("2026-01-10")));
    assert_eq!(text(&out, "location"), Some("Rig 9"));
    yard.load("Serial,Date,Hire,Location\nA-1,2026-02-10,H-1,Harrow Yard\n");
    let back = yard.joint("A-1");
    assert_eq!(text(&back, "hire"), None);
    assert_eq!((number(&back, "on_hire"), text(&back, "status")), (Some(0), Some("in_stock")));
    assert_eq!(number(&back, "moved"), Some(day("2026-02-10")));
    assert_eq!(text(&back, "location"), Some("Harrow Yard"));
    let hires = yard.of_joint::<HireRow>("A-1");
    assert_eq!(numbers(&hires, "date"), [Some(day("2026-01-10"))]);
    assert_eq!(numbers(&hires, "back"), [Some(day("2026-02-10"))]);
    assert!(number(&hires[0], "back_entry").is_some());
    assert_eq!(yard.of_joint::<ConflictRow>("A-1"), []);
}

/// What the book says against facts that exclude each other: it takes in neither.
#[test]
fn a_joint_is_in_one_place_with_one_holder() {
    const OUT: &str = "Serial,Date,Hire,Party\nA-1,2026-01-10,H-1,crew\n";
    const QUARANTINE: &str = "Date,Serial,Decision,Reason\n2026-01-08,A-1,quarantine,bent\n";
    const RETIRE: &str = "Date,Serial,Decision,Reason\n2026-01-08,A-1,retire,worn\n";
    const RELEASE: &str = "Date,Serial,Decision,Reason\n2026-01-09,A-1,release,straight\n";
    let moved = |what: &str| format!("Serial,Date,Location,String,Status\nA-1,2026-01-12,{what}\n");
    let cases: [(&[&str], String, Option<&str>); 14] = [
        (&[OUT], OUT.replace("H-1", "H-2"), Some("hired out while already on hire")),
        (&[OUT], moved(",,in stock"), Some("put in stock or in a shop while on hire")),
        (&[OUT], moved(",,in repair"), Some("put in stock or in a shop while on hire")),
        (&[OUT], moved("Rig 9,,"), None),
        (&[OUT], moved(",,lost"), None),
        (&[QUARANTINE], OUT.to_owned(), Some("hired out while in quarantine")),
        (&[RETIRE], OUT.to_owned(), Some("hired out after it was retired")),
        (&[QUARANTINE, RELEASE], OUT.to_owned(), None),
        (&[QUARANTINE], moved(",,in stock"), Some("put back in stock against a decision")),
        (&[QUARANTINE], moved(",,quarantine"), None),
        (
            &[],
            "Serial,Date,Hire\nA-1,2026-01-12,H-9\n".to_owned(),
            Some("taken back from a hire that it was not out on"),
        ),
        (
            &["Serial,Date,Location\nA-1,2026-01-12,Dock\n"],
            moved("Rig 9,,"),
            Some("moved to two places at once"),
        ),
        (
            &["Serial,Date,String\nA-1,2026-01-12,K1\n"],
            moved(",K2,"),
            Some("put into two strings at once"),
        ),
        (&["Serial,Date,Location\nA-1,2026-01-12,Rig 9\n"], moved("Rig 9,K2,"), None),
    ];
    for (before, then, against) in cases {
        let mut yard = one();
        before.iter().for_each(|file| drop(yard.load(file)));
        let said = yard.try_load("then.csv", &[("then.csv", &then)]);
        match (said, against) {
            (Ok(_), None) => assert_eq!(number(&yard.joint("A-1"), "conflicted"), Some(0)),
            (Err(said), Some(against)) => assert!(said.contains(against), "{said}"),
            (said, against) => panic!("{before:?}, {then}: {said:?}, {against:?}"),
        }
    }
}

#[test]
fn coming_home_undoes_no_decision() {
    let mut yard = one();
    yard.load("Serial,Date,Hire,Party\nA-1,2026-01-10,H-1,crew\n");
    yard.load("Date,Serial,Decision,Reason\n2026-01-20,A-1,quarantine,bent\n");
    yard.load("Serial,Date,Hire\nA-1,2026-02-10,H-1\n");
    assert_eq!(text(&yard.joint("A-1"), "status"), Some("quarantine"));
    yard.load("Date,Serial,Decision,Reason\n2026-02-20,A-1,release,straightened\n");
    assert_eq!(text(&yard.joint("A-1"), "status"), Some("in_stock"));
    yard.load("Serial,Date,Hire,Party\nA-1,2026-03-10,H-2,crew\n");
    yard.load("Date,Serial,Decision,Reason\n2026-03-20,A-1,release,looked at\n");
    assert_eq!(text(&yard.joint("A-1"), "status"), Some("on_hire"), "it is still out");
    let rulings = yard.of_joint::<DecisionRow>("A-1");
    assert_eq!(texts(&rulings, "ruling"), [Some("quarantine"), Some("release"), Some("release")]);
}

#[test]
fn a_serial_has_its_time() {
    let mut yard = one();
    let serials = |yard: &Yard, joint: &str| -> Vec<(String, i64, Option<i64>)> {
        let mut all: Vec<_> = yard
            .of_joint::<SerialRow>(joint)
            .iter()
            .map(|r| {
                (
                    text(r, "serial").unwrap().to_owned(),
                    number(r, "since").unwrap(),
                    number(r, "until"),
                )
            })
            .collect();
        all.sort();
        all
    };
    yard.load("Date,Serial,Change,New serial\n2026-02-01,A-1,remark,B-1\n");
    yard.load("Date,Serial,Change,New serial\n2026-03-01,B-1,alias,A-I\n");
    let entered = day("2026-01-05");
    assert_eq!(
        serials(&yard, "B-1"),
        [
            ("A-1".to_owned(), entered, Some(day("2026-02-01"))),
            ("A-I".to_owned(), entered, None),
            ("B-1".to_owned(), day("2026-02-01"), None),
        ]
    );
}

// ----------------------------------------------------------------------------------------- ends

/// The make-up torque of NC50, 6 5/8 in by 3 1/4 in, is 30,700 ft.lbf, rounded to hundreds (a rental
/// company's performance sheet of 2011 for 5 in 19.50 lb/ft S-135); by the formula of API RP 7G, with
/// the box no larger than its pin is strong, 30,729.9.
#[test]
fn a_make_up_is_judged_by_the_torque_of_its_connection() {
    let mut yard = two();
    yard.load("Tag,Instrument,Date\nTG-1,torque gauge,2026-01-05\nTG-2,torque gauge,2026-01-05\n");
    yard.load("Tag,Date,How,Passed\nTG-2,2026-03-01,calibration,no\n");
    let head = "Date,Pin,Box,Torque [ft.lbf],Target [ft.lbf],Gauge,Times,Mate\n";
    yard.load(&format!(
        "{head}2026-01-10,A-1,A-2,29100,25000,TG-1,3,\n2026-01-11,A-1,,29300,,TG-2,,saver sub\n\
         2026-01-12,A-1,,33900,,,,\n2026-01-13,A-1,,33700,,,,\n2026-01-14,A-1,,,,,,\n"
    ));
    let pin = yard.of_joint::<MakeupRow>("A-1");
    let torque = |text: &str| crate::condition::quanta(text, pipelore::units::Measure::Torque);
    assert_eq!(
        texts(&pin, "verdict"),
        [Some("under"), Some("on_target"), Some("over"), Some("on_target"), None]
    );
    assert_eq!(numbers(&pin, "instrument_doubtful"), [Some(0), Some(1), Some(0), Some(0), Some(0)]);
    assert_eq!(numbers(&pin, "times"), [Some(3), Some(1), Some(1), Some(1), Some(1)]);
    assert_eq!(number(&pin[0], "stated_target"), Some(torque("25000 ft.lbf")));
    let target = number(&pin[0], "target_torque").unwrap();
    assert!((target - torque("30729.9 ft.lbf")).abs() < torque("1 ft.lbf"), "{target}");
    assert_eq!(text(&pin[1], "mate"), Some("saver sub"));
    let (joint, mate) = (yard.joint("A-1"), yard.joint("A-2"));
    assert_eq!(pin[0]["mate_joint"], mate["joint"]);
    let box_ = yard.of_joint::<MakeupRow>("A-2");
    assert_eq!((box_.len(), text(&box_[0], "end")), (1, Some("box")));
    assert_eq!(box_[0]["mate_joint"], joint["joint"]);
    assert_eq!(number(&joint, "pin_makeups_lo"), Some(7));
    assert_eq!(
        (number(&joint, "box_makeups_lo"), number(&joint, "box_makeups_hi")),
        (Some(0), Some(0))
    );
    assert_eq!(number(&mate, "box_makeups_hi"), Some(3));
    // A worn pin is made up to less: 6 3/8 in by 3 1/4 in.
    yard.load("Serial,Date,Methods,Pin OD [in]\nA-1,2026-01-20,dimensional 1,6 1/8\n");
    yard.load("Date,Pin,Torque [ft.lbf]\n2026-01-21,A-1,31000\n");
    let worn = yard.of_joint::<MakeupRow>("A-1").pop().unwrap();
    assert!(number(&worn, "target_torque").unwrap() < target);
    assert_eq!(text(&worn, "verdict"), Some("over"));
}

#[test]
fn a_recut_begins_the_end_anew() {
    let mut yard = two();
    yard.load("Date,Pin,Box,Torque [ft.lbf],Times\n2026-01-10,A-1,A-2,30700,40\n");
    yard.load(
        "Serial,Date,Methods,Pin finding,Box finding,Pin stretch [in],Pin tong [in],Box tong [in]\n\
         A-1,2026-01-15,visual connection; dimensional 2,torn threads,torn threads,0.009,7,9\n",
    );
    yard.load(
        "Serial,Date,Work,End,Removed [in],Pin tong [in]\nA-1,2026-01-20,recut,pin,1.25,5.75\n",
    );
    yard.load("Date,Pin,Box,Torque [ft.lbf],Times\n2026-01-25,A-1,A-2,30700,2\n");
    let joint = yard.joint("A-1");
    assert_eq!(
        (number(&joint, "pin_generation"), number(&joint, "box_generation")),
        (Some(2), Some(1))
    );
    assert_eq!(
        (number(&joint, "pin_makeups_lo"), number(&joint, "pin_makeups_hi")),
        (Some(2), Some(2))
    );
    assert_eq!(number(&yard.joint("A-2"), "box_makeups_lo"), Some(42));
    let makeups = yard.of_joint::<MakeupRow>("A-1");
    assert_eq!(numbers(&makeups, "generation"), [Some(1), Some(2)]);
    // What was read of the pin holds no longer; what was read of the box does.
    assert_eq!(number(&joint, "pin_stretch"), None);
    assert_eq!(number(&joint, "pin_tong"), Some(nm("5.75 in")));
    assert_eq!(number(&joint, "box_tong"), Some(nm("9 in")));
    let findings = yard.of_joint::<FindingRow>("A-1");
    let open: Vec<_> = findings.iter().map(|f| (text(f, "end"), number(f, "open"))).collect();
    assert_eq!(open, [(Some("pin"), Some(0)), (Some("box"), Some(1))]);
    let repair = yard.of_joint::<RepairRow>("A-1").pop().unwrap();
    assert_eq!(findings[0]["cleared_by"], repair["entry"]);
    assert_eq!(number(&repair, "generation"), Some(2));
    assert_eq!(number(&repair, "removed"), Some(nm("1.25 in")));
    let short = nm("31.2 ft") - nm("1.25 in");
    assert_eq!(number(&repair, "length_after"), Some(short));
    assert_eq!(number(&joint, "length"), Some(short));
    let dims = yard.of_joint::<DimensionRow>("A-1");
    assert_eq!(numbers(&dims, "at"), [Some(day("2026-01-05")), Some(day("2026-01-20"))]);
    assert_eq!(numbers(&dims, "pin_removed"), [Some(0), Some(nm("1.25 in"))]);
    assert_eq!(number(&joint, "open_findings"), Some(1));
}

/// A total of 1/16 in is taken off a shoulder before it is recut (NS-2 Repair Procedures r1 2015).
#[test]
fn what_is_refaced_past_its_total_leaves_a_mark() {
    let reface = |date: &str, removed: &str| {
        format!(
            "Serial,Date,Work,End,Removed [in],Pin benchmark [in]\nA-1,{date},reface,pin,{removed},\n"
        )
    };
    let marked = |yard: &Yard| {
        let all = yard.of_joint::<FindingRow>("A-1");
        all.iter()
            .map(|f| (text(f, "what").unwrap().to_owned(), number(f, "size"), number(f, "open")))
            .collect::<Vec<_>>()
    };
    let mut yard = one();
    yard.load(&reface("2026-02-01", "0.031"));
    yard.load(&reface("2026-03-01", "0.031"));
    assert_eq!(marked(&yard), []);
    yard.load(&reface("2026-04-01", "0.02"));
    let mark = ("refaced_too_much".to_owned(), Some(nm("0.082 in")), Some(1));
    assert_eq!(marked(&yard), [mark]);
    yard.load("Serial,Date,Work,End,Removed [in],Pin tong [in]\nA-1,2026-05-01,recut,pin,1,6\n");
    assert_eq!(marked(&yard)[0].2, Some(0));
    // The new connection has its own total.
    yard.load(&reface("2026-05-10", "0.031"));
    assert_eq!(marked(&yard).len(), 1);
}

// ---------------------------------------------------------------------------------- what it did

#[test]
fn events_failures_and_gaps_are_on_record() {
    let mut yard = one();
    yard.load(
        "Date,Event,Serial,Pull [klbf],Blows,Depth [ft]\n2026-01-10,jarring,A-1,290,14,6950\n",
    );
    yard.load("Serial,Date,Until,Reason\nA-1,2026-02-01,2026-02-10,lent out\n");
    let measure = crate::condition::quanta;
    use pipelore::units::Measure as M;
    let event = yard.of_joint::<EventRow>("A-1").pop().unwrap();
    assert_eq!(
        (text(&event, "what"), number(&event, "date")),
        (Some("jarring"), Some(day("2026-01-10")))
    );
    assert_eq!(number(&event, "pull"), Some(measure("290 klbf", M::Force)));
    assert_eq!(
        (number(&event, "blows"), number(&event, "depth")),
        (Some(14), Some(measure("6950 ft", M::Depth)))
    );
    let gaps = yard.of_joint::<GapRow>("A-1");
    assert_eq!(numbers(&gaps, "since"), [Some(day("2026-02-01"))]);
    assert_eq!(numbers(&gaps, "until"), [Some(day("2026-02-11"))], "the day is over at midnight");
    let joint = yard.joint("A-1");
    assert_eq!(
        (number(&joint, "life_complete"), number(&joint, "unknown_until")),
        (Some(0), Some(day("2026-02-11")))
    );
    // Nobody knows what it did in the gap: what is summed is a lower bound.
    assert_eq!((number(&joint, "hours_lo"), number(&joint, "hours_hi")), (Some(0), None));
    assert_eq!(text(&joint, "status"), Some("in_stock"));
    yard.load("Date,Serial,Failure,Place,At [ft],Operation\n2026-03-01,A-1,washout,slip area,28.6,tripping\n");
    let failure = yard.of_joint::<FailureRow>("A-1").pop().unwrap();
    assert_eq!(
        (text(&failure, "what"), text(&failure, "place")),
        (Some("washout"), Some("slip_area"))
    );
    assert_eq!(number(&failure, "from_pin"), Some(nm("28.6 ft")));
    let failed = yard.joint("A-1");
    assert_eq!(
        (text(&failed, "failure"), number(&failed, "failed_on")),
        (Some("washout"), Some(day("2026-03-01")))
    );
    assert_eq!((number(&failed, "out"), text(&failed, "out_reason")), (Some(1), Some("washout")));
    assert_eq!(text(&failed, "status"), Some("quarantine"), "as nobody has said where it is");
    yard.load("Serial,Date,Status\nA-1,2026-03-05,in repair\n");
    assert_eq!(text(&yard.joint("A-1"), "status"), Some("in_repair"));
}

/// Ten hours at 100 rpm of joints under ten collars, in a hole that bends at 4 deg/100 ft.
pub fn run(
    name: &str,
    start: &str,
    end: &str,
    serials: &[&str],
    more: &str,
) -> [(&'static str, String); 3] {
    let mut tally =
        "Position,Serial,Component,Length [ft],OD [in],ID [in],Weight [lb/ft]\n".to_owned();
    for n in 1..=10 {
        tally += &format!("{n},,drill collar,30,6.75,2.8125,100\n");
    }
    for (n, serial) in serials.iter().enumerate() {
        tally += &format!("{},{serial},drill pipe,,,,\n", n + 11);
    }
    let header = format!(
        "name = \"{name}\"\nwell = \"Larkfield 1H\"\nstart = {start}\nend = {end}\n\
         mud_weight = \"9.6 ppg\"\nhole_diameter = \"8 1/2 in\"\ncasing_depth = \"1050 ft\"\n\
         tally = \"tally.csv\"\n{more}"
    );
    let operations = "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
                      rotating on bottom,2300,2400,10,100,20\n";
    [("run.toml", header), ("tally.csv", tally), ("operations.csv", operations.to_owned())]
}

pub fn ran(yard: &mut Yard, files: &[(&'static str, String)]) -> Result<(), String> {
    let files: Vec<(&str, &str)> = files.iter().map(|(n, t)| (*n, &**t)).collect();
    yard.try_load("run.toml", &files).map(drop)
}

pub const SURVEY: &str = "Well,Larkfield 1H\nDate,2026-01-06\nMD [ft],Inclination [deg],Azimuth [deg]\n\
                          0,0,62\n1000,0,62\n2000,40,62\n9000,40,62\n";

const LOG: &str = "log = \"operations.csv\"\n";
pub const HOUR: i64 = 3_600_000;

#[test]
fn runs_add_up_and_what_is_not_known_is_a_lower_bound() {
    let mut yard = Yard::with_joints(["A-1", "A-2", "A-3"]);
    yard.load(SURVEY);
    let first = run("R1", "2026-02-01T06:00:00Z", "2026-02-03T06:00:00Z", &["A-1", "A-2"], LOG);
    ran(&mut yard, &first).unwrap();
    let joint = yard.joint("A-1");
    let sums = |joint: &Fields| {
        ["hours", "revolutions", "footage", "cased_hours"]
            .map(|c| (number(joint, &format!("{c}_lo")), number(joint, &format!("{c}_hi"))))
    };
    let exact = |n: i64| (Some(n), Some(n));
    assert_eq!(sums(&joint), [exact(10 * HOUR), exact(60_000_000), exact(nm("100 ft")), exact(0)]);
    assert_eq!(
        (number(&joint, "runs"), number(&joint, "last_run")),
        (Some(1), Some(day("2026-02-03") + 7 * HOUR))
    );
    let line = yard.of_joint::<JointRunRow>("A-1").pop().unwrap();
    assert_eq!(line["damage_middle"], joint["damage_middle_lo"]);
    assert!(number(&line, "damage_middle").unwrap() > 0);
    let worst =
        ["damage_pin_lo", "damage_middle_lo", "damage_box_lo"].map(|c| number(&joint, c).unwrap());
    assert_eq!(number(&joint, "damage_lo"), worst.into_iter().max());
    assert_eq!(joint["damage_hi"], joint["damage_lo"]);
    // 4 deg/100 ft between stations, where the joints turned.
    assert_eq!(number(&joint, "max_dogleg_lo"), number(&line, "max_dogleg"));

    // An estimate counts, and leaves the sums open.
    let guess = run(
        "R2",
        "2026-03-01T06:00:00Z",
        "2026-03-03T06:00:00Z",
        &["A-1"],
        "grade = \"estimated\"\nhours = \"5 h\"\nrotary_speed = \"100 rpm\"\ndepth_in = \"2300 ft\"\ndepth_out = \"2350 ft\"\n",
    );
    ran(&mut yard, &guess).unwrap();
    let joint = yard.joint("A-1");
    assert_eq!((number(&joint, "hours_lo"), number(&joint, "hours_hi")), (Some(15 * HOUR), None));
    assert_eq!(number(&joint, "pin_makeups_hi"), Some(0), "its make-ups are counted by themselves");
    assert_eq!((number(&joint, "runs"), number(&yard.joint("A-2"), "runs")), (Some(2), Some(1)));
    assert_eq!(number(&yard.joint("A-3"), "runs"), Some(0));

    // In two holes at once it was in one: neither of the two counts for certain.
    let twice = run("R3", "2026-02-02T06:00:00Z", "2026-02-04T06:00:00Z", &["A-2", "A-3"], LOG);
    let said = ran(&mut yard, &twice).unwrap_err();
    assert!(said.contains("in two runs at once"), "{said}");
    let after = run("R3", "2026-02-03T06:00:00Z", "2026-02-04T06:00:00Z", &["A-2", "A-3"], LOG);
    ran(&mut yard, &after).unwrap();
    assert_eq!(number(&yard.joint("A-2"), "hours_hi"), Some(20 * HOUR));
}

#[test]
fn clocks_start_at_the_inspection_that_looked() {
    let mut yard = Yard::with_joints(["A-1", "A-2"]);
    yard.load(SURVEY);
    let run_of = |name, month| {
        run(
            name,
            &format!("2026-{month}-01T06:00:00Z"),
            &format!("2026-{month}-03T06:00:00Z"),
            &["A-1", "A-2"],
            LOG,
        )
    };
    ran(&mut yard, &run_of("R1", "02")).unwrap();
    yard.load("Serial,Date,Methods,Wall [in]\nA-1,2026-02-20,ut wall,.35\n");
    ran(&mut yard, &run_of("R2", "03")).unwrap();
    let makeups =
        "Date,Pin,Torque [ft.lbf],Times\n2026-02-10,A-1,30700,2\n2026-03-10,A-1,30700,3\n";
    yard.load(makeups);
    let since = |yard: &Yard, scope: &str| {
        let all = yard.of_joint::<SinceRow>("A-1");
        all.into_iter().find(|r| text(r, "scope") == Some(scope)).unwrap()
    };
    let wall = since(&yard, "wall");
    assert_eq!(
        (number(&wall, "at"), number(&wall, "hours_hi")),
        (Some(day("2026-02-20")), Some(10 * HOUR))
    );
    assert_eq!(
        (number(&wall, "pin_makeups_lo"), number(&wall, "footage_lo")),
        (Some(3), Some(nm("100 ft")))
    );
    // Never looked at for cracks: all its life counts.
    let cracks = since(&yard, "slip_cracks");
    assert_eq!((number(&cracks, "entry"), number(&cracks, "hours_lo")), (None, Some(20 * HOUR)));
    assert_eq!(number(&cracks, "pin_makeups_lo"), Some(5));
    // Looked at in the middle of a run: what the run did before counts no more.
    yard.load("Serial,Date,Methods\nA-1,2026-03-01T11:00:00Z,mpi slip\n");
    let cracks = since(&yard, "slip_cracks");
    let (hours, turns) =
        (number(&cracks, "hours_lo").unwrap(), number(&cracks, "revolutions_lo").unwrap());
    assert_eq!(hours, 5 * HOUR);
    assert_eq!(number(&cracks, "hours_hi"), Some(hours));
    assert_eq!(turns, hours * 100 / 60, "100 turns a minute, in thousandths");
    let whole = yard.of_joint::<JointRunRow>("A-1");
    let damage = whole.iter().map(|r| number(r, "damage_middle").unwrap()).max().unwrap();
    assert!(number(&cracks, "damage_lo").unwrap() < damage * 2);
    // A gap after it leaves its clocks open.
    yard.load("Serial,Date,Until\nA-1,2026-04-01,2026-04-02\n");
    assert_eq!(number(&since(&yard, "slip_cracks"), "hours_hi"), None);
}

#[test]
fn what_a_joint_brought_with_it_counts() {
    let used = "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],Connection,\
                TJ OD [in],TJ ID [in],Received,Hours [h],Pin makeups,Damage,Basis\n";
    let mut yard = Yard::new();
    yard.load(&format!(
        "{used}U-1,drill pipe,no,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05,300,40,0.2,known\n\
         U-2,drill pipe,no,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05,200,,,estimated\n"
    ));
    let (known, guessed) = (yard.joint("U-1"), yard.joint("U-2"));
    assert_eq!(
        (number(&known, "hours_lo"), number(&known, "hours_hi")),
        (Some(300 * HOUR), Some(300 * HOUR))
    );
    assert_eq!(
        (number(&known, "pin_makeups_hi"), number(&known, "box_makeups_hi")),
        (Some(40), None)
    );
    assert_eq!(
        (number(&guessed, "hours_lo"), number(&guessed, "hours_hi")),
        (Some(200 * HOUR), None)
    );
    assert_eq!(
        (number(&guessed, "revolutions_lo"), number(&guessed, "revolutions_hi")),
        (Some(0), None)
    );
    assert_eq!(
        (number(&known, "life_complete"), number(&known, "entered_new")),
        (Some(0), Some(0))
    );
    // A recut pin begins at nothing, whatever was before.
    yard.load("Serial,Date,Work,End,Removed [in],Pin tong [in]\nU-2,2026-02-01,recut,pin,1,6\n");
    assert_eq!(number(&yard.joint("U-2"), "pin_makeups_hi"), Some(0));
    assert_eq!(number(&yard.joint("U-2"), "box_makeups_hi"), None);
}

/// Each connection of a string of six in stands of three: the break is above every third joint, and
/// picking up made up all of them once.
#[test]
fn a_pattern_of_trips_is_counted_by_place() {
    let serials = ["A-1", "A-2", "A-3", "A-4", "A-5", "A-6"];
    let mut yard = Yard::with_joints(serials);
    yard.load(SURVEY);
    ran(&mut yard, &run("R1", "2026-02-01T06:00:00Z", "2026-02-03T06:00:00Z", &serials, LOG))
        .unwrap();
    yard.load("Date,Run,Trips,Stand,Offset,Saver,Picked up\n2026-02-03T06:00:00Z,R1,2,3,0,4,yes\n");
    let counts: Vec<_> = serials
        .iter()
        .map(|s| yard.joint(s))
        .map(|j| (number(&j, "pin_makeups_lo").unwrap(), number(&j, "box_makeups_lo").unwrap()))
        .collect();
    // Each picked up once; in both trips places 3 and 6 are the tops of stands, made up four times to
    // the saver sub.
    assert_eq!(counts, [(1, 1), (1, 1), (1, 11), (3, 1), (1, 1), (1, 11)]);
}

// ----------------------------------------------------------------------------------- summary bits

/// A bit of a joint's row is set where its records hold the thing, and only there: what is not set
/// is a proof that a question need not look.
#[test]
fn the_bits_of_a_joint_say_what_its_records_hold() {
    use pipelore::model::{EventKind, Vocabulary, Work};
    use pipelore::schema::{JointRow, Record, Row, RunRow, Table, Value, presence};

    let serials = ["A-1", "A-2", "A-3", "A-4", "A-5", "A-6"];
    let mut yard = Yard::with_joints(serials);
    yard.load(SURVEY);
    yard.load(
        "Tag,Instrument,Date\nTG-2,torque gauge,2026-01-05\nMB-1,master bushing,2026-01-05\n",
    );
    yard.load(
        "Tag,Date,How,Passed\nTG-2,2026-03-01,calibration,no\nMB-1,2026-03-01,wear check,no\n",
    );
    let sour = format!("{LOG}sour = true\nequipment = [\"MB-1\"]\n");
    let first = run("R1", "2026-02-01T06:00:00Z", "2026-02-03T06:00:00Z", &["A-2"], &sour);
    ran(&mut yard, &first).unwrap();
    yard.load(
        "Date,Pin,Torque [ft.lbf],Gauge\n2026-01-10,A-3,1000,\n2026-01-10,A-4,60000,TG-2\n\
         2026-01-10,A-5,30700,\n2026-01-10,A-6,,\n",
    );
    yard.load(
        "Serial,Date,Methods,Instrument,Finding\nA-3,2026-02-01,visual tube,TG-2,galled\n\
         A-4,2026-02-01,visual tube,,no crack\n",
    );
    for (n, work) in Work::ALL.iter().enumerate() {
        let serial = serials[n % 3];
        let rest = "pin,.01,shop,7-1,6,6.6,3.25,.09,31,.125,.36";
        yard.load(&format!(
            "Serial,Date,Work,End,Removed [in],Shop,Licence,Pin tong [in],Pin OD [in],Pin ID [in],\
             Hardband height [in],Length [ft],Pin benchmark [in],Wall [in]\n\
             {serial},2026-03-{:02},{work},{rest}\n",
            n + 1
        ));
    }
    for (n, what) in EventKind::ALL.iter().enumerate() {
        let serial = serials[3 + n % 3];
        yard.load(&format!("Date,Event,Serial\n2026-04-01,{what},{serial}\n"));
    }
    yard.load("Date,Serial,Failure\n2026-05-01,A-6,washout\n");
    yard.load("Serial,Date,Location\nA-5,2026-05-01,Rig 9\n");
    yard.load("Serial,Date,Hire,Party\nA-4,2026-05-01,H-1,crew\n");
    yard.load(
        "Date,Serial,Decision,Class,Waives,Reason\n2026-05-02,A-1,class,class 2,,bent\n\
         2026-05-02,A-2,quarantine,,,bent\n2026-05-03,A-2,release,,,straight\n\
         2026-05-02,A-3,retire,,,worn\n2026-05-02,A-6,waive,,wall_near_premium,new soon\n",
    );
    fn has<R: Row>(yard: &Yard, serial: &str, which: impl Fn(&Fields) -> bool) -> bool {
        yard.of_joint::<R>(serial).iter().any(which)
    }
    let mut checked = 0;
    for serial in serials {
        let bits = number(&yard.joint(serial), "presence").unwrap();
        let mut says = |bit: Option<i64>, there: bool, what: &str| {
            checked += i64::from(there);
            let bit = bit.unwrap_or_else(|| panic!("no bit for {what}"));
            assert_eq!(bits & bit != 0, there, "{serial}: {what}");
        };
        for (record, there) in [
            (Record::Run, has::<JointRunRow>(&yard, serial, |_| true)),
            (Record::Makeup, has::<MakeupRow>(&yard, serial, |_| true)),
            (Record::Inspection, has::<InspectionRow>(&yard, serial, |_| true)),
            (Record::Finding, has::<FindingRow>(&yard, serial, |_| true)),
            (Record::Repair, has::<RepairRow>(&yard, serial, |_| true)),
            (Record::Event, has::<EventRow>(&yard, serial, |_| true)),
            (Record::Failure, has::<FailureRow>(&yard, serial, |_| true)),
            (Record::Move, has::<MoveRow>(&yard, serial, |_| true)),
            (Record::Hire, has::<HireRow>(&yard, serial, |_| true)),
            (Record::Decision, has::<DecisionRow>(&yard, serial, |_| true)),
        ] {
            says(Some(presence::of_record(record)), there, record.word());
        }
        let of_runs = |column: &str| {
            let runs = yard.of_joint::<JointRunRow>(serial);
            let all = yard.rows::<RunRow>();
            all.iter()
                .any(|r| r[column] != Value::Int(0) && runs.iter().any(|l| l["run"] == r["run"]))
        };
        // It is so, or may be.
        let yes = |column: &'static str| move |r: &Fields| r[column] != Value::Int(0);
        for (table, column, there) in [
            (Table::Run, "sour", of_runs("sour")),
            (Table::Run, "equipment_doubtful", of_runs("equipment_doubtful")),
            (Table::JointRun, "conflicting", has::<JointRunRow>(&yard, serial, yes("conflicting"))),
            (
                Table::JointRun,
                "restriction_broken",
                has::<JointRunRow>(&yard, serial, yes("restriction_broken")),
            ),
            (
                Table::Makeup,
                "instrument_doubtful",
                has::<MakeupRow>(&yard, serial, yes("instrument_doubtful")),
            ),
            (
                Table::Inspection,
                "instrument_doubtful",
                has::<InspectionRow>(&yard, serial, yes("instrument_doubtful")),
            ),
            (Table::Finding, "open", has::<FindingRow>(&yard, serial, yes("open"))),
        ] {
            says(presence::of_flag(table, column), there, column);
        }
        let is = |column: &'static str, word: &'static str| {
            move |r: &Fields| text(r, column).is_none_or(|t| t == word)
        };
        for verdict in ["under", "over", "on_target"] {
            let there = has::<MakeupRow>(&yard, serial, is("verdict", verdict));
            says(presence::of_word(Table::Makeup, "verdict", verdict), there, verdict);
        }
        for ruling in ["class", "quarantine", "release", "retire", "settle", "waive"] {
            let there = has::<DecisionRow>(&yard, serial, is("ruling", ruling));
            says(presence::of_word(Table::Decision, "ruling", ruling), there, ruling);
        }
        for kind in EventKind::ALL {
            let there = has::<EventRow>(&yard, serial, is("what", kind.word()));
            says(presence::of_word(Table::Event, "what", kind.word()), there, kind.word());
        }
        for work in Work::ALL {
            let there = has::<RepairRow>(&yard, serial, is("work", work.word()));
            says(presence::of_word(Table::Repair, "work", work.word()), there, work.word());
        }
    }
    assert!(checked > 30, "the scenario holds little: {checked}");
    assert_eq!(yard.rows::<JointRow>().len(), serials.len());
}
