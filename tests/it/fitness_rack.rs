//! What an unfriendly person at the rack tries: each must be stopped, or said.

use super::cli::Desk;
use super::fitness::{answer, fit_joint, inspect, inspection, yard};

fn entered(desk: &Desk, words: &[&str]) {
    desk.run(&[&["enter"], words].concat()).ok();
}

#[track_caller]
fn stands(desk: &Desk, more: &[&str], fit: &str, ground: &str) {
    let told = answer(desk, more);
    assert_eq!(told.fit, fit, "{:?}", told.json["reasons"]);
    let first = told.grounds.first().map_or("", String::as_str);
    assert_eq!(first, ground, "{:?}", told.json["reasons"]);
}

#[test]
fn what_is_in_repair_does_not_run_and_is_not_sent_out() {
    let desk = fit_joint();
    entered(&desk, &["move", "serial=A-1", "status=in_repair", "date=2026-06-12"]);
    stands(&desk, &[], "not fit", "in_repair");
    let hire = ["enter", "hire-out", "serial=A-1", "date=2026-06-15", "hire=H-1", "party=crew"];
    assert!(desk.run(&hire).fails(3).contains("it is in repair"));
    entered(&desk, &["move", "serial=A-1", "status=in_stock", "date=2026-06-13"]);
    assert_eq!(answer(&desk, &[]).fit, "fit");
}

#[test]
fn after_work_somebody_looks() {
    // A cut is new: what was read of the old one says nothing of it.
    let of_the_cut =
        ["pin_stretch=0 in", "pin_neck=1/2 in", "pin_profile_gap=0 in", "pin_tong=7 1/2 in"];
    for (work, look, read) in [
        (&["work=recut", "end=pin"][..], "visual connection", &of_the_cut[..]),
        (&["work=dress", "end=box"], "visual connection", &[]),
        (&["work=straighten"], "emi", &[]),
    ] {
        let desk = fit_joint();
        let repair = ["repair", "serial=A-1", "date=2026-06-12", "shop=S", "licence=L"];
        entered(&desk, &[&repair[..], work].concat());
        let told = answer(&desk, &[]);
        assert_eq!(told.fit, "cannot be said", "{work:?}");
        assert!(told.grounds.contains(&"follow_up".to_owned()), "{:?}", told.json["reasons"]);
        let methods = format!("methods={look}");
        // What would be looked at now counts before it is written, and once it is.
        let look = ["date=2026-06-13", &methods];
        assert_eq!(answer(&desk, &look).fit == "fit", read.is_empty(), "{work:?}");
        let looked = [&look[..], read].concat();
        assert_eq!(answer(&desk, &looked).fit, "fit", "{work:?}");
        entered(&desk, &[&["inspection", "serial=A-1"][..], &looked].concat());
        assert_eq!(answer(&desk, &[]).fit, "fit", "{work:?}");
    }
    // On the day of the work counts; the day before does not.
    let same = fit_joint();
    inspect(&same, "A-1", "2026-06-12", &[]);
    entered(&same, &["repair", "serial=A-1", "date=2026-06-12", "work=dress", "end=pin"]);
    assert_eq!(answer(&same, &[]).fit, "fit");
    let before = fit_joint();
    inspect(&before, "A-1", "2026-06-11", &[]);
    entered(&before, &["repair", "serial=A-1", "date=2026-06-12", "work=dress", "end=pin"]);
    stands(&before, &[], "cannot be said", "follow_up");
}

#[test]
fn a_stretch_of_life_that_nobody_knows_is_looked_at_after() {
    let desk = fit_joint();
    desk.write("gap.csv", "Serial,Date,Until,Reason\nA-1,2026-06-02,2026-06-12,lent\n");
    desk.run(&["load", "gap.csv", "--as", "gap"]).ok();
    stands(&desk, &[], "cannot be said", "gap");
    // Part of a look takes part of it back.
    let part = ["date=2026-06-13", "methods=ut wall; emi", "wall=0.354 in"];
    let told = answer(&desk, &part);
    let says = told.json["reasons"][0]["says"].to_string();
    assert!(says.contains("pin cracks") && !says.contains("body cracks"), "{says}");
    inspect(&desk, "A-1", "2026-06-13", &[]);
    assert_eq!(answer(&desk, &[]).fit, "fit");
}

#[test]
fn the_wall_beside_a_cut_and_a_flaw_without_a_name_are_judged() {
    let desk = fit_joint();
    let read = |other: &[&str]| {
        let words = inspection("A-1", "2026-06-10", other);
        let words: Vec<String> = words.into_iter().skip(1).collect();
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        answer(&desk, &words)
    };
    let beside = read(&["adjacent_wall=0.05 in"]);
    assert_eq!((beside.fit.as_str(), beside.grounds[0].as_str()), ("not fit", "below_floor"));
    let beside = read(&["adjacent_wall=0.2 in"]);
    assert_eq!(beside.fit, "not fit", "{:?}", beside.json["reasons"]);
    assert!(beside.grounds.contains(&"class_3".to_owned()));
    let flaw = read(&["flaw_depth=0.1 in"]);
    assert_eq!(flaw.fit, "cannot be said", "{:?}", flaw.json["reasons"]);
    // Another finding says nothing of the flaw, nor does a shallower one.
    for other in ["heat_affected", "bent", "internal pitting 0.01 in"] {
        let flaw = read(&["flaw_depth=0.02 in", &format!("tube_finding={other}")]);
        assert!(flaw.grounds.contains(&"not_measured".to_owned()), "{other}: {:?}", flaw.grounds);
    }
    let named = read(&["flaw_depth=0.02 in", "tube_finding=internal pitting 0.02 in"]);
    assert!(!named.grounds.contains(&"not_measured".to_owned()), "{:?}", named.json["reasons"]);
}

#[test]
fn a_good_wall_beside_a_cut_says_nothing_of_a_wall_below_the_floor() {
    let desk = fit_joint();
    inspect(&desk, "A-1", "2026-06-10", &["wall=0.15 in"]);
    assert!(answer(&desk, &[]).grounds.contains(&"below_floor".to_owned()));
    let words = ["date=2026-06-11", "methods=ut wall", "adjacent_wall=0.35 in"];
    let told = answer(&desk, &words);
    assert!(told.grounds.contains(&"below_floor".to_owned()), "{:?}", told.grounds);
}

#[test]
fn a_look_in_the_middle_of_what_nobody_knows_does_not_end_it() {
    let desk = fit_joint();
    desk.write("gap.csv", "Serial,Date,Until,Reason\nA-1,2026-06-02,2026-06-20,lent\n");
    desk.run(&["load", "gap.csv", "--as", "gap"]).ok();
    let words = inspection("A-1", "2026-06-11", &[]);
    let words: Vec<&str> = words.iter().skip(1).map(String::as_str).collect();
    let told = answer(&desk, &words);
    assert_eq!(told.fit, "cannot be said", "{:?}", told.json["reasons"]);
    assert!(told.grounds.contains(&"gap".to_owned()), "{:?}", told.grounds);
}

#[test]
fn what_fit_says_nothing_of_stands_under_it() {
    let desk = fit_joint();
    let words = inspection("A-1", "2026-06-10", &["bow=2 in"]);
    let words: Vec<&str> = words.iter().skip(1).map(String::as_str).collect();
    let told = answer(&desk, &words);
    let nothing_of = told.json["fitness"]["says_nothing_of"].as_str().unwrap();
    assert!(nothing_of.contains("bow 2.000 in (nominal straight as made)"), "{nothing_of}");
    // As made it is nothing to be told.
    assert!(answer(&desk, &[]).json["fitness"]["says_nothing_of"].is_null());
}

/// Cautions and deference stand beside every fit, whichever command says it, in text and JSON.
#[test]
fn every_door_that_says_fit_cautions() {
    let desk = fit_joint();
    assert_eq!(answer(&desk, &[]).fit, "fit");
    desk.write("look.csv", "Serial,Date,Methods\nA-1,2026-06-14,visual tube\n");
    let hire = ["enter", "hire-out", "serial=A-1", "date=2026-06-15", "hire=H-1", "party=crew"];
    let look = ["enter", "inspection", "serial=A-1", "date=2026-06-14", "methods=visual tube"];
    let dry = |words: &[&'static str]| [words, &["--dry-run"][..]].concat();
    let doors: Vec<Vec<&str>> = vec![
        vec!["assess", "A-1"],
        vec!["trace", "A-1"],
        vec!["rate", "joint", "A-1"],
        vec!["find", "fit = fit"],
        vec!["why", "A-1", "fit = fit"],
        vec!["stock"],
        dry(&hire),
        dry(&look),
        vec!["load", "look.csv"],
    ];
    for door in doors {
        let text = desk.run(&door).ok();
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let json = match door[0] {
            // It is taken in by now.
            "load" => text.clone(),
            _ => desk.run(&[&door[..], &["--json"]].concat()).json()["cautions"].to_string(),
        };
        for says in ["no proof of soundness", "governing standard"] {
            assert!(text.contains(says), "{door:?}: {text}");
            assert!(json.contains(says), "{door:?}: {json}");
        }
    }
    let bare = yard(1);
    for door in [&["trace", "A-1"][..], &["why", "A-1", "true"]] {
        assert!(!bare.run(door).out.contains("fit is what the record allows"), "{door:?}");
    }
}

#[test]
fn used_pipe_that_nobody_searched_for_cracks_is_not_passed() {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],Connection,\
         TJ OD [in],TJ ID [in],Received\n\
         A-1,drill pipe,no,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05\n",
    );
    desk.run(&["load", "joints.csv"]).ok();
    let unsearched = "methods=visual tube; od gauge; ut wall; visual connection; dimensional 2; \
                      hardband check";
    inspect(&desk, "A-1", "2026-06-10", &[unsearched, "tube_finding=no cracks"]);
    stands(&desk, &[], "cannot be said", "gap");
    // What would be looked at now counts before it is written, and once it is.
    let looked = ["date=2026-06-12", "methods=mpi slip"];
    assert_eq!(answer(&desk, &looked).fit, "fit");
    entered(&desk, &[&["inspection", "serial=A-1"][..], &looked].concat());
    assert_eq!(answer(&desk, &[]).fit, "fit");
}
