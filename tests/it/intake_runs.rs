//! Tallies, and runs that pull in their tally and log.

use pipelore::intake::{MemoryFiles, MemoryLookup, Options, World, read, unwatched};
use pipelore::model::{Activity, Body, Component, RunGrade};

use crate::intake::{Corpus, WELL, book, errors, given, joint, load, run_of, show_all, the_run};

#[test]
fn a_tally_holds_joints_parts_and_unidentified_joints() {
    let book = book();
    let out = run_of("tally.csv", Some("operations.csv"), &Corpus, &book);
    let t = &the_run(&out).tally;
    assert_eq!(t.len(), 8);
    assert_eq!(t[0].part.as_ref().unwrap().component, Component::Bit);
    assert_eq!(t[2].part.as_ref().unwrap().name.as_deref(), Some("DC-1"));
    assert_eq!(t[4].count, Some(12));
    assert_eq!(t[5].joint.as_ref().unwrap().to_string(), "K1-0001@yard-1");
    assert!(t[5].part.is_none());
    assert_eq!(t[5].length.as_ref().unwrap().as_str(), "9.45 m");
    // dimensions measured at the rig stand beside the joint
    assert!(t[6].joint.is_some() && t[6].part.as_ref().unwrap().od.is_some());
    // nobody knows which two joints these were
    assert!(t[7].joint.is_none() && t[7].part.as_ref().unwrap().name.is_none());
    let said = errors(&run_of("tally_bad.csv", Some("operations.csv"), &Corpus, &book));
    for (row, words) in [
        (4, "K1-0001 stands in row 3 too"),
        (5, "position 3 stands in row 4 too"),
        (6, "K1-7777 is no joint of the book"),
        (7, "0 parts"),
        (8, "no length is given"),
        (9, "no component is given"),
        (10, "K1-0003 stands 2 times"),
        (11, "the wall is more than half"),
    ] {
        assert!(
            said.iter().any(|(r, m)| *r == row && m.contains(words)),
            "{row} {words}: {said:#?}"
        );
    }
    assert_eq!(said.len(), 8, "{said:#?}");
    let out = run_of("tally_top_down.csv", None, &Corpus, &book);
    assert!(show_all(&out.diagnostics).contains("tally_order = \"top down\""));
}

#[test]
fn a_run_pulls_in_its_tally_and_log() {
    let out = load("run.toml", |_| {});
    assert!(!out.is_refused(), "{}", show_all(&out.diagnostics));
    let Body::Run(run) = &out.drafts[0].body else { panic!() };
    assert_eq!((run.name.as_str(), run.grade), ("K1-R2", RunGrade::Logged));
    assert_eq!(run.tally.len(), 8);
    assert_eq!(run.mud_weight.as_ref().unwrap().as_str(), "10.2 ppg");
    assert_eq!(run.equipment, ["MB-1", "SL-2"]);
    assert_eq!(run.swaps.len(), 1);
    // a segment ends where the tally changes
    let swap = 180_000;
    assert!(run.segments.iter().all(|s| s.start_ms >= swap || s.start_ms + s.duration_ms <= swap));
    assert_eq!(run.segments.iter().map(|s| s.milli_turns).sum::<i64>(), 840_000);
    let source = run.log.as_ref().unwrap();
    assert_eq!(source.file, "log_clean.csv");
    assert!(
        source.cut.starts_with("cut 1: ") && source.cut.contains("max_segments=50"),
        "{}",
        source.cut
    );
    assert_eq!(out.drafts[0].effective.to_string(), "2025-03-04T07:00:00Z");
    let evidence = out.drafts[0].evidence.as_ref().unwrap();
    assert!(
        evidence.place.as_ref().unwrap().starts_with("tally tally.csv sha256 "),
        "{evidence:?}"
    );
}

#[test]
fn a_run_may_be_a_sheet_with_its_tally_below() {
    let out = load("run_block.csv", |_| {});
    assert!(!out.is_refused(), "{}", show_all(&out.diagnostics));
    let Body::Run(run) = &out.drafts[0].body else { panic!() };
    assert_eq!((run.name.as_str(), run.grade), ("K1-R3", RunGrade::Summary));
    assert_eq!(run.tally.len(), 3);
    assert_eq!(run.rotary_speed.as_ref().unwrap().as_str(), "110 rpm");
    assert_eq!(run.hours.as_ref().unwrap().as_str(), "20 h");
    assert!(run.segments.is_empty() && run.log.is_none());
    let out = load("run_operations.toml", |_| {});
    let Body::Run(run) = &out.drafts[0].body else { panic!("{}", show_all(&out.diagnostics)) };
    assert_eq!(run.segments.len(), 5);
}

/// One run that was integrated independently; its files are part of the open material beside the
/// data, and are read as they are.
#[test]
fn the_independently_integrated_run_reads_as_it_is() {
    let Some(dir) = crate::open_data::folder("../reference/exposure_case") else { return };
    let bytes = |name: &str| std::fs::read(dir.join(name)).unwrap();
    let files = MemoryFiles::default()
        .with("log.csv", bytes("log.csv"))
        .with("tally.csv", bytes("tally.csv"))
        .with("survey.csv", bytes("survey.csv"));
    let text = String::from_utf8(bytes("tally.csv")).unwrap();
    let mut lookup = MemoryLookup::default();
    for (n, serial) in text.lines().skip(1).filter_map(|l| l.split(',').nth(1)).enumerate() {
        if !serial.starts_with("DC") {
            lookup = lookup.with(joint(serial, n as u64 + 1, "2024-01-10"));
        }
    }
    let world = World { files: &files, lookup: &lookup, progress: &unwatched };
    let out = run_of("tally.csv", Some("log.csv"), &files, &lookup);
    let run = the_run(&out);
    assert_eq!(run.tally.len(), text.lines().count() - 1);
    let segments = &run.segments;
    assert_eq!(segments.len(), 155);
    // the bit-most joint of expected.csv was below the table all the time
    let turns = segments.iter().map(|s| s.milli_turns).sum::<i64>() as f64 / 1000.0;
    let rotating = |a| !matches!(a, Activity::Sliding | Activity::NotRotating);
    let hours = segments.iter().filter(|s| rotating(s.activity)).map(|s| s.duration_ms).sum::<i64>()
        as f64
        / 3.6e6;
    assert!((turns - 741_577.944).abs() < 0.001, "{turns}");
    assert!((hours - 111.80386).abs() < 1e-6, "{hours}");
    let mut options = Options::default();
    given(&mut options, WELL);
    let survey = read("survey.csv", &options, &world);
    assert!(!survey.is_refused(), "{}", show_all(&survey.diagnostics));
}

#[test]
fn a_log_that_covers_less_than_its_run_is_said_to() {
    let corpus = |name: &str| {
        let mut out = Vec::new();
        std::io::Read::read_to_end(
            &mut pipelore::intake::Files::open(&Corpus, name).unwrap(),
            &mut out,
        )
        .unwrap();
        out
    };
    let header = String::from_utf8(corpus("run.toml")).unwrap();
    let late = header.replace("end = 2025-03-04T07:00:00Z", "end = 2025-03-06T07:00:00Z");
    let parts = header.replace("log = \"log_clean.csv\"", "log = [\"a.csv\", \"b.csv\"]");
    let files = MemoryFiles::default()
        .with("late.toml", late)
        .with("parts.toml", parts)
        .with("tally.csv", corpus("tally.csv"))
        .with("log_clean.csv", corpus("log_clean.csv"));
    let book = book();
    let world = World { files: &files, lookup: &book, progress: &unwatched };
    let out = read("late.toml", &Options::default(), &world);
    let text = show_all(&out.diagnostics);
    assert!(!out.is_refused() && text.contains("less than the run"), "{text}");
    let text = show_all(&read("parts.toml", &Options::default(), &world).diagnostics);
    assert!(text.contains("there is no such file") && text.contains("a.csv"), "{text}");
}

/// What a log's load channels cannot be is said, and what rests at one value is left out.
#[test]
fn load_channels_that_cannot_be_are_said() {
    let tally = std::fs::read("tests/corpus/intake/tally.csv").unwrap();
    let log = |wob: &str, torque: &dyn Fn(u32) -> u32, hookload: &dyn Fn(u32) -> u32| {
        let mut text =
            "activity,bit_from_m,bit_to_m,hours,rpm,wob_kn,torque_kn_m,hookload_kn\n".to_owned();
        for i in 0..14 {
            let (from, to) = (1000 + 20 * i, 1020 + 20 * i);
            let (torque, hook) = (torque(i), hookload(i));
            text += &format!("drilling rotating,{from},{to},2,110,90,{torque},{hook}\n");
            text += &format!("rotating off bottom,{to},{to},0.2,60,{wob},{torque},{hook}\n");
        }
        let files = MemoryFiles::default().with("tally.csv", tally.clone()).with("log.csv", text);
        run_of("tally.csv", Some("log.csv"), &files, &book())
    };
    let sound = log("1", &|i| 12 + i % 5, &|i| 700 + 4 * i);
    let words = show_all(&sound.diagnostics);
    assert!(!words.contains("off bottom") && !words.contains("rests"), "{words}");
    let segments = &the_run(&sound).segments;
    assert!(segments.iter().all(|s| s.torque_nm.is_some() && s.hookload_n.is_some()));

    let doubtful = log("28", &|i| if i == 3 { 9 } else { 20 }, &|_| 310);
    let words = show_all(&doubtful.diagnostics);
    for said in [
        "weight on bit reads 28.0 kN while the bit is off bottom: the load cell was not tared",
        "torque rests at its highest value, 20.0 kN.m, in 26 of 28 turning segments",
        "hook load rests at its lowest value, 310.0 kN, in 28 of 28 turning segments",
    ] {
        assert!(words.contains(said), "{said}: {words}");
    }
    let segments = &the_run(&doubtful).segments;
    assert!(segments.iter().all(|s| s.torque_nm.is_none() && s.hookload_n.is_none()));
    assert!(segments.iter().any(|s| s.wob_n == Some(28_000)), "as it was read");
}
