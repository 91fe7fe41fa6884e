//! What was read and found on a joint, and what became of its class: from files to rows, and what
//! the book would say of a joint if it were asked.

use pipelore::condition::{Fitness, Ground};
use pipelore::model::Status;
use pipelore::schema::{DecisionRow, DimensionRow, FindingRow, InspectionRow, JointRunRow};
use pipelore::units::UnitSystem;

use crate::joint_rows::{HOUR, SURVEY, day, nm, numbers, one, ran, run, texts, two};
use crate::yard::{Fields, Yard, number, text};

const METHODS: &str = "visual tube; od gauge; ut wall; emi; mpi slip; ut slip; visual connection; \
                       blacklight; dimensional 2; heat check; hardband check";

/// A file of inspections: serial, date, then columns with one row of values each.
fn inspected(date: &str, columns: &str, values: &str) -> String {
    format!("Serial,Date,Methods,{columns}\nA-1,{date},{METHODS},{values}\n")
}

/// Readings of a sound joint.
const SOUND: &str = "Wall [in],Pin OD [in],Box OD [in],Box shoulder [in]";

fn word<'a>(row: &'a Fields, column: &str) -> &'a str {
    text(row, column).unwrap_or_else(|| panic!("no {column} in {row:?}"))
}

/// A nick in a seal that nobody measured holds the joint, and one that is small is dressed on site:
/// each by itself, in whichever order they were found.
#[test]
fn every_finding_has_its_own_verdict() {
    const UNMEASURED: &str = "nick,box,,";
    const SMALL: &str = "nick,pin,.005,5";
    let file = |date: &str, rows: &[&str]| {
        let row = |r: &&str| format!("A-1,{date},{METHODS},{r}\n");
        let rows: String = rows.iter().map(row).collect();
        format!("Serial,Date,Methods,Finding,End,Size [in],Share [%]\n{rows}")
    };
    let said = |yard: &Yard| {
        let rows = yard.of_joint::<FindingRow>("A-1");
        let mut all: Vec<String> =
            rows.iter().map(|f| format!("{} {}", word(f, "end"), word(f, "disposition"))).collect();
        all.sort();
        all
    };
    for rows in [[UNMEASURED, SMALL], [SMALL, UNMEASURED]] {
        let mut yard = one();
        yard.load(&file("2026-02-01", &rows));
        assert_eq!(said(&yard), ["box hold", "pin dress"], "{rows:?}");
        assert_eq!(word(&yard.joint("A-1"), "disposition"), "hold");
        // What was found before keeps its verdict beside what is found now.
        let mut yard = one();
        yard.load(&file("2026-02-01", &rows[..1]));
        yard.load(&file("2026-02-02", &rows[1..]));
        assert_eq!(said(&yard), ["box hold", "pin dress"], "{rows:?}");
        assert_eq!(word(&yard.joint("A-1"), "disposition"), "hold");
    }
    // Two of one word at one end, by their sizes; the same one twice is two findings of one verdict.
    let mut yard = one();
    yard.load(&file("2026-02-01", &["nick,pin,.005,5", "nick,pin,.3,5", "nick,pin,.3,5"]));
    assert_eq!(said(&yard), ["pin dress", "pin reface", "pin reface"]);
}

/// The value of a column after each of these files was loaded into a yard of its own.
fn after(files: &[String], column: &str) -> Fields {
    let mut yard = one();
    yard.keep_conflicts = true;
    files.iter().for_each(|f| drop(yard.load(f)));
    let mut row = yard.joint("A-1");
    assert!(row.contains_key(column));
    row.retain(|c, _| *c == column);
    row
}

/// Of the readings of a day the worst stands, wherever on the joint and in whichever order they were
/// read, and whether or not they exclude each other; the next day's reading takes their place.
#[test]
fn the_worst_reading_of_a_day_stands_until_another_day() {
    let file = |date: &str, report: &str, reading: &str, end: &str, values: &[&str]| {
        let row = |(n, v): (usize, &&str)| {
            format!("A-1,{date},{report},ut wall; dimensional 2,{reading},{v} in,{end},{n}\n")
        };
        let rows: String = values.iter().enumerate().map(row).collect();
        format!("Serial,Date,Report,Methods,Reading,Value,End,Position\n{rows}")
    };
    for (reading, end, column, mild, bad) in [
        ("wall", "", "wall_thickness", ".350", ".330"),
        ("body od", "", "body_od", "5", "4.95"),
        ("slip od", "", "slip_od", "5", "4.95"),
        ("tj od", "pin", "pin_od", "6.6", "6.5"),
        ("tj od", "box", "box_od", "6.6", "6.5"),
        ("tj id", "pin", "pin_id", "3.25", "3.3"),
        ("shoulder", "box", "box_shoulder", ".5", ".45"),
        ("counterbore", "box", "box_counterbore", "5.31", "5.33"),
        ("stretch", "pin", "pin_stretch", ".001", ".005"),
        ("tong space", "pin", "pin_tong", "7", "6.5"),
        ("tong space", "box", "box_tong", "9", "8.5"),
        ("hardband height", "", "hardband_height", ".09", ".03"),
    ] {
        let files = |dates: [(&str, &str, &[&str]); 2]| {
            dates.map(|(date, report, v)| file(date, report, reading, end, v))
        };
        let worst = nm(&format!("{bad} in"));
        for values in [[mild, bad], [bad, mild]] {
            let together = after(&[file("2026-02-01", "", reading, end, &values)], column);
            assert_eq!(number(&together, column), Some(worst), "{reading} {values:?}");
            let [a, b] = values;
            let two = [("2026-02-01", "R1", &[a][..]), ("2026-02-01", "R2", &[b][..])];
            assert_eq!(number(&after(&files(two), column), column), Some(worst), "{reading}");
            let clock = [
                ("2026-02-01T08:00:00+01:00", "R1", &[a][..]),
                ("2026-02-01T16:00:00+01:00", "R2", &[b][..]),
            ];
            assert_eq!(number(&after(&files(clock), column), column), Some(worst), "{reading}");
            let later = [("2026-02-01", "", &[a][..]), ("2026-02-02", "", &[b][..])];
            // What came back by more than its gauge repeats was not repaired: the worse reading stands.
            let within = ["counterbore", "stretch"].contains(&reading);
            let last = if within { nm(&format!("{b} in")) } else { worst };
            assert_eq!(number(&after(&files(later), column), column), Some(last), "{reading}");
        }
    }
}

#[test]
fn what_is_struck_counts_no_more() {
    let mut yard = one();
    yard.load(&inspected("2026-02-01", SOUND, ".3,6.6,6.6,.5"));
    let wrong = yard.load(&inspected("2026-03-01", "Wall [in],Box finding", ".26,nick"));
    assert_eq!(text(&yard.joint("A-1"), "class"), Some("class_2"));
    yard.strike(&wrong[0]);
    let joint = yard.joint("A-1");
    assert_eq!(
        (text(&joint, "class"), text(&joint, "disposition")),
        (Some("premium"), Some("run"))
    );
    assert_eq!(number(&joint, "wall_thickness"), Some(nm(".3 in")));
    assert_eq!(number(&joint, "open_findings"), Some(0));
    assert_eq!(yard.of_joint::<DimensionRow>("A-1").len(), 2);
}

/// The wall that is run is the one by which the joint is judged; on the hole rides the larger end.
#[test]
fn later_runs_have_the_section_that_was_judged() {
    let file = |rows: &[&str]| {
        let rows: Vec<String> = rows.iter().map(|r| format!("A-1,2026-02-01,{r}\n")).collect();
        let rows = rows.concat();
        format!("Serial,Date,Report,Methods,Reading,Value,End,Position\n{rows}")
    };
    let wall = ["R1,ut wall,wall,.33 in,,1", "R1,ut wall,wall,.35 in,,2"];
    let ends = [
        "R1,dimensional 1,tj od,6.5 in,pin,1",
        "R1,dimensional 1,tj od,6.4 in,pin,2",
        "R2,dimensional 1,tj od,6.45 in,box,1",
    ];
    let lengths = ["R1,dimensional 1,length,31.1 ft,,1", "R1,dimensional 1,length,31.15 ft,,2"];
    for turned in [false, true] {
        let mut all: Vec<&str> = wall.iter().chain(&ends).chain(&lengths).copied().collect();
        if turned {
            all.reverse();
        }
        let mut yard = one();
        for report in ["R1", "R2"] {
            let rows: Vec<&str> = all.iter().copied().filter(|r| r.starts_with(report)).collect();
            yard.load(&file(&rows));
        }
        let dims = yard.of_joint::<DimensionRow>("A-1");
        let now = dims.last().unwrap();
        assert_eq!(number(now, "wall"), Some(nm(".33 in")));
        assert_eq!(number(now, "tj_od"), Some(nm("6.5 in")), "the larger end");
        assert_eq!(number(now, "length"), Some(nm("31.1 ft")));
        assert_eq!(number(&yard.joint("A-1"), "pin_od"), Some(nm("6.4 in")), "its own end");
        // Two files of one day are one change; before it the joint was as made.
        assert_eq!(dims.len(), 2);
        assert_eq!(number(&dims[0], "wall"), Some(nm(".362 in")));
        assert_eq!(number(&dims[0], "tj_od"), Some(nm("6.625 in")));
    }
    // A new tool joint is as large as made; the other end is what it was.
    let mut yard = one();
    yard.load(&file(&ends[..1]));
    yard.load(
        "Serial,Date,Work,End,Removed [in],Shop,Pin OD [in],Pin ID [in],Pin tong [in]\n\
         A-1,2026-03-01,new tool joint,pin,8,shop,6.6,3.25,8\n",
    );
    let dims = yard.of_joint::<DimensionRow>("A-1");
    assert_eq!(number(dims.last().unwrap(), "tj_od"), Some(nm("6.6 in")));
    assert_eq!(number(dims.last().unwrap(), "length"), Some(nm("31.2 ft") - nm("8 in")));
    assert_eq!(number(dims.last().unwrap(), "at"), Some(day("2026-03-01")));
}

/// Too low is worn, and too high is proud: a band that is both, at two places, is both.
#[test]
fn a_dimension_that_is_bad_to_both_sides_is_judged_on_both() {
    let mut yard = one();
    yard.load(&inspected("2026-02-01", SOUND, ".362,6.6,6.6,.5"));
    yard.load(
        "Serial,Date,Methods,Reading,Value,End,Position\n\
         A-1,2026-02-02,hardband check,hardband height,.05 in,box,1\n\
         A-1,2026-02-02,hardband check,hardband height,.16 in,box,2\n",
    );
    let joint = yard.joint("A-1");
    assert_eq!(text(&joint, "restriction"), Some("open_hole_or_protectors"));
    assert_eq!(number(&joint, "hardband_height"), Some(nm(".05 in")), "the least is shown");
    // Both stand in where nothing newer is read: the restriction is given again.
    yard.load("Serial,Date,Methods\nA-1,2026-02-03,visual tube\n");
    assert_eq!(text(&yard.joint("A-1"), "restriction"), Some("open_hole_or_protectors"));
}

#[test]
fn a_class_falls_on_evidence_and_rises_on_evidence() {
    let mut yard = one();
    let class = |yard: &Yard| {
        let joint = yard.joint("A-1");
        let of = |c| text(&joint, c).unwrap_or("-").to_owned();
        ["class", "tube_class", "pin_class", "box_class", "disposition", "criterion"].map(of)
    };
    yard.load(&inspected("2026-02-01", SOUND, ".3,6.6,6.6,.5"));
    assert_eq!(class(&yard), ["premium", "premium", "critical", "critical", "run", "wear_wall"]);
    yard.load(&inspected("2026-02-10", SOUND, ".283,6.6,6.6,.5"));
    let down = ["class_2", "class_2", "critical", "critical", "downgrade", "wear_wall"];
    assert_eq!(class(&yard), down);
    // Nothing says why it should be better.
    yard.load("Serial,Date,Methods,Pin OD [in]\nA-1,2026-02-20,dimensional 1,6.61\n");
    assert_eq!(class(&yard)[..2], ["class_2", "class_2"]);
    // Steel does not grow: a better wall without a repair changes nothing, and one that lies no further
    // off than gauges do is the wall.
    yard.load(&inspected("2026-03-01", SOUND, ".3,6.6,6.6,.5"));
    assert_eq!(class(&yard)[..2], ["class_2", "class_2"]);
    yard.load(&inspected("2026-03-02", SOUND, ".291,6.6,6.6,.5"));
    assert_eq!(class(&yard)[..2], ["premium", "premium"]);
    // A crack takes the class of the pin, and with it that of the joint.
    let columns = "Pin finding";
    yard.load(&inspected("2026-03-10", columns, "root crack"));
    assert_eq!(class(&yard)[..5], ["-", "premium", "-", "critical", "out"]);
    let joint = yard.joint("A-1");
    assert_eq!(
        (number(&joint, "out"), text(&joint, "out_reason")),
        (Some(1), Some("out: crack connection"))
    );
    let looks = yard.of_joint::<InspectionRow>("A-1");
    let steps: Vec<_> = looks.iter().map(|l| (text(l, "class_before"), text(l, "class"))).collect();
    let (premium, second) = (Some("premium"), Some("class_2"));
    assert_eq!(
        steps,
        [
            (None, premium),
            (premium, second),
            (second, second),
            (second, second),
            (second, premium),
            (premium, None)
        ]
    );
    // Cut back and looked at again it has one.
    yard.load(
        "Serial,Date,Work,End,Removed [in],Shop,Licence,Pin tong [in],Length [ft]\n\
         A-1,2026-03-20,cut back,pin,3,shop,7-1,7,30.95\n",
    );
    yard.load(&inspected("2026-03-25", SOUND, ".3,6.6,6.6,.5"));
    assert_eq!(class(&yard)[..5], ["premium", "premium", "critical", "critical", "run"]);
    assert_eq!(number(&yard.joint("A-1"), "out"), Some(0));
}

/// A part whose class is not established is no better than what was measured of it.
#[test]
fn a_part_that_is_not_established_does_not_keep_a_better_class() {
    let mut yard = one();
    yard.load(&inspected("2026-02-01", SOUND, ".3,6.6,6.6,.5"));
    assert_eq!(text(&yard.joint("A-1"), "tube_class"), Some("premium"));
    // The wall is of Class 2, and nothing explains so small a diameter.
    yard.load(&inspected("2026-03-01", "Wall [in],Body OD [in]", ".28,4.79"));
    let joint = yard.joint("A-1");
    assert_eq!(text(&joint, "not_measured"), Some("tube cause of the loss of diameter"));
    assert_eq!(
        (text(&joint, "tube_class"), text(&joint, "class")),
        (Some("class_2"), Some("class_2"))
    );
    assert_eq!(text(&joint, "disposition"), Some("hold"));
}

#[test]
fn what_an_inspector_declares_stands_beside_what_is_computed() {
    let mut yard = one();
    let columns = "Wall [in],Pin OD [in],Box OD [in],Box shoulder [in],Class,Report";
    yard.load(&inspected("2026-02-01", columns, ".28,6.6,6.6,.5,premium,R1"));
    let joint = yard.joint("A-1");
    assert_eq!(
        (text(&joint, "class"), text(&joint, "declared_class")),
        (Some("class_2"), Some("premium"))
    );
    assert_eq!(number(&joint, "class_disputed"), Some(1));
    // Another firm that day declares less: the worse one stands, and agrees.
    yard.load(&inspected("2026-02-01", columns, ".29,6.6,6.6,.5,class 2,R2"));
    let joint = yard.joint("A-1");
    assert_eq!(
        (text(&joint, "class"), text(&joint, "declared_class")),
        (Some("class_2"), Some("class_2"))
    );
    assert_eq!(number(&joint, "class_disputed"), Some(0));
    let declared = yard.of_joint::<InspectionRow>("A-1");
    assert_eq!(texts(&declared, "declared_class"), [Some("premium"), Some("class_2")]);
}

#[test]
fn a_decision_gives_a_class_and_what_is_seen_later_another() {
    let mut yard = one();
    yard.load(&inspected("2026-02-01", SOUND, ".3,6.6,6.6,.5"));
    yard.load("Date,Serial,Decision,Class,Reason,Authority\n2026-02-10,A-1,class,class 2,bent before,manager\n");
    let joint = yard.joint("A-1");
    assert_eq!(
        (text(&joint, "class"), text(&joint, "criterion")),
        (Some("class_2"), Some("decision"))
    );
    assert_eq!(text(&joint, "tube_class"), Some("premium"));
    yard.load("Date,Serial,Decision,Class,End,Reason\n2026-02-11,A-1,class,class 3,pin,worn\n");
    let joint = yard.joint("A-1");
    assert_eq!(
        (text(&joint, "class"), text(&joint, "pin_class")),
        (Some("class_2"), Some("class_3"))
    );
    yard.load("Date,Serial,Decision,Class,End,Reason\n2026-02-11,A-1,class,class 2,box,worn\n");
    assert_eq!(text(&yard.joint("A-1"), "box_class"), Some("class_2"));
    yard.load("Date,Serial,Decision,Class,Reason\n2026-02-12,A-1,class,scrap,bent\n");
    let joint = yard.joint("A-1");
    assert_eq!(
        (number(&joint, "out"), text(&joint, "out_reason")),
        (Some(1), Some("decided to be scrap"))
    );
    yard.load("Date,Serial,Decision,Reason\n2026-02-13,A-1,release,a mistake\n");
    assert_eq!(number(&yard.joint("A-1"), "out"), Some(0));
    let rulings = yard.of_joint::<DecisionRow>("A-1");
    assert_eq!(texts(&rulings, "authority")[0], Some("manager"));
    assert_eq!(texts(&rulings, "class")[..2], [Some("class_2"), Some("class_3")]);
    assert_eq!(texts(&rulings, "end")[..3], [None, Some("pin"), Some("box")]);
}

#[test]
fn what_an_instrument_in_doubt_read_passes_nothing() {
    let mut yard = one();
    yard.load("Tag,Instrument,Date\nUT-9,ut gauge,2026-01-05\n");
    yard.load("Tag,Check,Date,Passed\nUT-9,reference block,2026-03-01,no\n");
    let columns = "Wall [in],Pin OD [in],Box OD [in],Box shoulder [in],Instrument";
    yard.load(&inspected("2026-02-01", columns, ".35,6.6,6.6,.5,UT-9"));
    let joint = yard.joint("A-1");
    assert_eq!((text(&joint, "class"), text(&joint, "disposition")), (None, Some("hold")));
    assert_eq!(number(&joint, "wall_thickness"), Some(nm(".35 in")), "it was read all the same");
    let look = yard.of_joint::<InspectionRow>("A-1").pop().unwrap();
    assert_eq!(number(&look, "instrument_doubtful"), Some(1));
    // It does not stand in for what the next inspection leaves out either.
    yard.load(&inspected("2026-02-02", "Wall [in],Instrument", ".36,"));
    let joint = yard.joint("A-1");
    assert_eq!(text(&joint, "class"), None);
    assert!(text(&joint, "not_measured").unwrap().contains("tool joint"), "{joint:?}");
    yard.load(&inspected("2026-02-03", "Pin OD [in],Box OD [in],Box shoulder [in]", "6.6,6.6,.5"));
    assert_eq!(text(&yard.joint("A-1"), "class"), Some("critical"));
}

#[test]
fn the_hardband_is_as_bad_as_the_worst_of_what_was_found_on_it() {
    let found = |words: &str| inspected("2026-02-01", "Box finding", words);
    let state = |files: &[String]| text(&after(files, "hardband"), "hardband").map(str::to_owned);
    for words in ["rough hardband; hardband spalled", "hardband spalled; rough hardband"] {
        assert_eq!(state(&[found(words)]).as_deref(), Some("spalled"), "{words}");
    }
    let look = |date| inspected(date, "Wall [in]", ".36");
    assert_eq!(state(&[look("2026-02-01")]).as_deref(), Some("sound"));
    let spalled = found("hardband spalled");
    // What is open is open until it is mended.
    assert_eq!(state(&[spalled.clone(), look("2026-03-01")]).as_deref(), Some("spalled"));
    let mended = "Serial,Date,Work,End,Shop,Licence,Alloy,Hardband height [in]\n\
                  A-1,2026-03-10,hardband,box,shop,ours,chromium,.09\n";
    let mut yard = one();
    yard.load(&spalled);
    yard.load(mended);
    let joint = yard.joint("A-1");
    assert_eq!(
        (text(&joint, "hardband"), text(&joint, "hardband_alloy")),
        (Some("new"), Some("chromium"))
    );
    assert_eq!(number(&joint, "hardband_height"), Some(nm(".09 in")));
    assert_eq!(number(&joint, "open_findings"), Some(0));
}

/// Rough hardband keeps to open hole, or runs with protectors.
#[test]
fn a_run_that_broke_a_restriction_is_marked() {
    let mut yard = one();
    yard.load(SURVEY);
    let cased = |protectors: bool| format!("log = \"operations.csv\"\nprotectors = {protectors}\n");
    let in_casing = |name, month: &str, more: &str| {
        let mut files = run(
            name,
            &format!("2026-{month}-01T06:00:00Z"),
            &format!("2026-{month}-03T06:00:00Z"),
            &["A-1"],
            more,
        );
        files[0].1 = files[0].1.replace("1050 ft", "2600 ft");
        files
    };
    ran(&mut yard, &in_casing("R1", "02", &cased(false))).unwrap();
    yard.load(&inspected("2026-02-20", "Box finding", "rough hardband"));
    let joint = yard.joint("A-1");
    assert_eq!(text(&joint, "restriction"), Some("open_hole_or_protectors"));
    ran(&mut yard, &in_casing("R2", "03", &cased(false))).unwrap();
    ran(&mut yard, &in_casing("R3", "04", &cased(true))).unwrap();
    let open = run("R4", "2026-05-01T06:00:00Z", "2026-05-03T06:00:00Z", &["A-1"], &cased(false));
    ran(&mut yard, &open).unwrap();
    let runs = yard.of_joint::<JointRunRow>("A-1");
    assert_eq!(numbers(&runs, "restriction_broken"), [Some(0), Some(1), Some(0), Some(0)]);
    assert_eq!(numbers(&runs, "cased_hours"), [10, 10, 10, 0].map(|h| Some(h * HOUR)));
    // A new band ends it.
    yard.load(
        "Serial,Date,Work,End,Shop,Licence,Alloy,Hardband height [in]\n\
         A-1,2026-05-10,hardband,box,shop,ours,chromium,.09\n",
    );
    assert_eq!(text(&yard.joint("A-1"), "restriction"), None);
}

#[test]
fn a_reading_that_cannot_be_is_refused_with_its_cell() {
    let mut yard = one();
    for (column, value, said) in [
        ("Wall [in]", ".49", "wall is far above nominal; check the unit and the column"),
        ("Wall [in]", ".018", "wall is far below nominal; check the unit and the column"),
        ("Wall [in]", "0", "wall must be more than nothing"),
        ("Wall [%]", "131", "wall is far above nominal; check the unit and the column"),
        ("Body OD [in]", "5.26", "body od is far above nominal"),
        ("Body OD [in]", "2.9", "body od is far below nominal"),
        ("Slip OD [in]", "5.26", "slip od is far above nominal"),
        ("OD max [in]", "5.76", "body od max is far above nominal"),
        ("OD max [in]", "4.4", "body od max is far below nominal"),
        ("Pin OD [in]", "7", "pin tj od is far above nominal"),
        ("Pin OD [in]", "3.9", "pin tj od is far below nominal"),
        ("Pin ID [in]", "2.9", "pin tj id is far below nominal"),
        ("Pin ID [in]", "4.9", "pin tj id is far above nominal"),
        ("Pin stretch [in]", "2.006", "not possible for this reading"),
        (
            "Pin stretch [in]",
            ".11",
            "pin stretch is the growth over 2 in, not the length of 2 in itself",
        ),
        ("Flaw depth [in]", ".37", "flaw depth is deeper than the wall: a hole is a washout"),
        ("Box counterbore [in]", "0", "not possible for this reading"),
    ] {
        let file = inspected("2026-02-01", column, value);
        let why = yard.try_load("file.csv", &[("file.csv", &file)]).unwrap_err();
        assert!(why.contains(said), "{column} {value}: {why}");
        assert!(why.contains(column) && why.contains("row 2"), "{why}");
    }
    for (columns, values, said) in [
        ("Pin OD [in],Pin ID [in]", "4,4.1", "pin tj id is not smaller than the outside diameter"),
        (
            "Box OD [in],Box counterbore [in]",
            "5.3,5.35",
            "box counterbore is not smaller than the outside diameter",
        ),
        (
            "Box OD [in],Box shoulder [in]",
            "4.4,2.3",
            "box shoulder is wider than half of the outside diameter",
        ),
    ] {
        let file = inspected("2026-02-01", columns, values);
        let why = yard.try_load("file.csv", &[("file.csv", &file)]).unwrap_err();
        assert!(why.contains(said), "{columns} {values}: {why}");
    }
    // At the edge of what can be, it is believed.
    for (column, value) in [
        ("Wall [in]", ".47"),
        ("Wall [in]", ".019"),
        ("Body OD [in]", "5.24"),
        ("Body OD [in]", "3.1"),
        ("Pin stretch [in]", "0"),
        ("Pin stretch [in]", ".09"),
        ("Hardband height [in]", "0"),
        ("Bow [in]", "0"),
        ("Pin profile gap [in]", "0"),
        ("Flaw depth [in]", ".36"),
        ("Flaw depth [in]", "0"),
    ] {
        let file = inspected("2026-02-01", column, value);
        let mut fresh = one();
        if let Err(why) = fresh.try_load("file.csv", &[("file.csv", &file)]) {
            panic!("{column} {value}: {why}");
        }
    }
}

// ------------------------------------------------------------------------------ what would be said

/// What the book would say of a joint now, or with an inspection that nobody has recorded.
#[test]
fn the_book_can_be_asked_what_it_would_say() {
    use pipelore::condition::{RestsOn, StepFlag};
    use pipelore::model::{Body, Class, InspectionBody, Instant, Moment};
    use pipelore::projection::joint::{Appraisal, Ask};

    let mut yard = one();
    let all = format!(
        "{SOUND},Body OD [in],Body OD max [in],Pin ID [in],Pin tong [in],Box tong [in],\
         Box counterbore [in],Box counterbore depth [in],Pin stretch [in],Pin neck [in],\
         Pin profile gap [in],Box profile gap [in],Hardband height [in]"
    );
    let rest = "4.98,5,3 1/4,8,11,5.315,5/8,0,1/2,0,0,3/32";
    yard.load(&inspected("2026-02-01", &all, &format!(".3,6.6,6.6,.5,{rest}")));
    let entries = yard.load(&inspected("2026-03-01", &all, &format!(".28,6.6,6.6,.5,{rest}")));
    let joint = number(&yard.joint("A-1"), "joint").unwrap();
    let body: InspectionBody = match yard.book.entry(&entries[0]).unwrap().raw.read().unwrap().body
    {
        Body::Inspection(body) => *body,
        other => panic!("{other:?}"),
    };
    let ask = |yard: &Yard, date: &str, body: Option<&InspectionBody>, fresh: bool| -> Appraisal {
        let moment: Moment = date.parse().unwrap();
        let at = if body.is_some() {
            moment.start(pipelore::model::Clock::Offset(60))
        } else {
            Instant(moment.end(pipelore::model::Clock::Offset(60)).0 - 1)
        };
        let ask = Ask { inspection: body.map(|b| (moment, b)), fresh };
        yard.book.appraiser().unwrap().appraise(joint, at, ask).unwrap().unwrap()
    };
    // As it stood between the two.
    let then = ask(&yard, "2026-02-15", None, false);
    assert_eq!((then.class(), then.class_before), (Some(Class::Premium), Some(Class::Premium)));
    assert_eq!((then.history.len(), then.step.rests_on), (1, RestsOn::Verdict));
    assert_eq!(then.fit(), Some(Fitness::Fit));
    // With the second inspection before it was one, it says what the record says.
    let with = ask(&yard, "2026-02-15", Some(&body), false);
    assert_eq!((with.class_before, with.class()), (Some(Class::Premium), Some(Class::Class2)));
    assert_eq!(with.verdict.overall.standing.class(), Some(Class::Class2));
    // On its own day it is one of two inspections that say the same.
    let again = ask(&yard, "2026-03-01", Some(&body), false);
    assert_eq!(again.class(), Some(Class::Class2));
    assert_eq!(again.verdict.disposition, with.verdict.disposition, "it went down that day");
    // What earlier inspections read stands in, unless it is left out.
    let bare = InspectionBody { readings: Vec::new(), ..body.clone() };
    let carried = ask(&yard, "2026-04-01", Some(&bare), false);
    assert!(!carried.verdict.carried.is_empty() && carried.verdict.class() == Some(Class::Class2));
    assert_eq!(carried.step.flags, [StepFlag::Carried]);
    let fresh = ask(&yard, "2026-04-01", Some(&bare), true);
    assert!(fresh.verdict.carried.is_empty() && fresh.verdict.class().is_none());
    // Declared and computed.
    let declared = InspectionBody { declared: Some(Class::Premium), ..body };
    let asked = ask(&yard, "2026-04-01", Some(&declared), false);
    assert_eq!((asked.declared, asked.disputed), (Some(Class::Premium), true));
    let asked = ask(&yard, "2026-04-01", Some(&declared), true);
    assert_eq!((asked.declared, asked.disputed), (Some(Class::Premium), true));
    // What keeps a joint out, whatever was read on it.
    yard.load("Date,Serial,Decision,Reason\n2026-04-10,A-1,quarantine,bent\n");
    let out = ask(&yard, "2026-04-10", None, false);
    assert_eq!(out.fit(), Some(Fitness::NotFit));
    assert_eq!(out.reasons(UnitSystem::Us)[0].ground, Ground::Quarantine);
    assert_eq!(ask(&yard, "2026-04-09", None, false).stands.status, Some(Status::InStock));
    yard.load(
        "Date,Serial,Decision,Class,Reason\n2026-04-11,A-1,class,premium,measured elsewhere\n",
    );
    let decided = ask(&yard, "2026-04-11", None, false);
    assert_eq!(decided.class(), Some(Class::Premium));
    let last = decided.history.last().unwrap();
    assert_eq!(
        (last.rests_on, &last.flags[..]),
        (RestsOn::Decision, &[StepFlag::DecidedBetter][..])
    );
    assert_eq!(
        (last.before, last.after, &last.limits),
        (Some(Class::Class2), Some(Class::Premium), &None)
    );
    yard.load("Date,Serial,Decision,Class,Reason\n2026-04-12,A-1,class,class 3,bent\n");
    assert_eq!(
        ask(&yard, "2026-04-12", None, false).history.last().unwrap().flags,
        [StepFlag::DecidedWorse]
    );
    yard.load("Date,Serial,Failure\n2026-05-01,A-1,washout\n");
    let failed = ask(&yard, "2026-05-01", None, false);
    assert_eq!(failed.reasons(UnitSystem::Us)[0].says, "it failed: washout");
    // A class against a crack is flagged as that.
    let mut yard = one();
    yard.load(&inspected("2026-02-01", "Pin finding", "root crack"));
    yard.load("Date,Serial,Decision,Class,Reason\n2026-02-02,A-1,class,class 2,cut off\n");
    let decided = ask(&yard, "2026-02-03", None, false);
    assert_eq!(decided.history.last().unwrap().flags, [StepFlag::DecidedAgainstRejection]);
}

/// What the book knows of an end before it is refaced.
#[test]
fn a_repair_is_held_against_what_is_known_of_its_end() {
    use pipelore::model::{End, Instant};

    let mut yard = two();
    let id = number(&yard.joint("A-1"), "joint").unwrap();
    let ground = |yard: &Yard, end| {
        let at = Instant(day("2026-06-01"));
        yard.book.appraiser().unwrap().repair_ground(id, at, end).unwrap().unwrap()
    };
    let start = ground(&yard, Some(End::Pin));
    assert_eq!((start.history.refaced, start.history.has_benchmark), (Some(0), None));
    assert_eq!((start.mate, start.history.length), (None, Some(nm("31.2 ft"))));
    yard.load("Date,Pin,Box,Torque [ft.lbf]\n2026-01-10,A-1,A-2,30700\n");
    let reface = "Serial,Date,Work,End,Removed [in],Pin benchmark [in],Box benchmark [in]\n\
                  A-1,2026-02-01,reface,pin,.02,.15,\nA-2,2026-02-01,reface,box,.03,,.1\n";
    yard.load(reface);
    let known = ground(&yard, Some(End::Pin));
    assert_eq!(known.history.refaced, Some(nm(".02 in")));
    assert_eq!(known.history.mate_refaced, Some(nm(".03 in")));
    assert_eq!(
        (known.history.has_benchmark, known.history.benchmark),
        (Some(true), Some(nm(".15 in")))
    );
    assert_eq!(ground(&yard, Some(End::Box)).history.refaced, Some(0));
    assert_eq!(ground(&yard, None).history.refaced, None);
    yard.load(
        "Serial,Date,Methods,Finding,End\nA-1,2026-03-01,visual connection,no benchmark,pin\n",
    );
    let marked = ground(&yard, Some(End::Pin));
    assert_eq!(marked.history.has_benchmark, Some(false));
    assert_eq!(marked.history.open_findings, ["no_benchmark"]);
    // A refacing of no stated amount leaves the total unknown; a recut begins it anew.
    yard.load("Serial,Date,Work,End,Pin benchmark [in]\nA-1,2026-03-10,reface,pin,.16\n");
    assert_eq!(ground(&yard, Some(End::Pin)).history.refaced, None);
    yard.load("Serial,Date,Work,End,Removed [in],Pin tong [in]\nA-1,2026-03-20,recut,pin,1,6\n");
    assert_eq!(ground(&yard, Some(End::Pin)).history.refaced, Some(0));
}
