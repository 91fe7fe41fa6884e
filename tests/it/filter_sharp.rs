//! Runs in sharp doglegs: found by the index over all runs, with the same answer as without it.

use pipelore::filter::{Answer, Compiled, Select};
use pipelore::store::{Access, Book};

use crate::cli::Desk;
use crate::filter_book::{Kept, Trip, certificates, desk, trips, wells};

/// Joints S-1 to S-8 and their runs. A well is called by its hundredths of deg/m; nobody surveyed the
/// one without a number.
fn yard() -> Desk {
    let desk = desk();
    let rows: Vec<String> = (1..=8).map(|n| format!("S-{n},yes,,H4417,2025-12-01")).collect();
    certificates(&desk, &rows.iter().map(String::as_str).collect::<Vec<_>>());
    wells(&desk, &[("Bend 30", 3.0), ("Bend 28", 2.8), ("Bend 20", 2.0), ("Bend 5", 0.5)]);
    let january = ["2026-01-01", "2026-01-11"];
    let later = ["2026-01-21", "2026-01-31"];
    let last = ["2026-02-10", "2026-02-20"];
    let trip =
        |name, well, days, hours, joints| Trip { name, well, rig: "Rig 14", days, hours, joints };
    trips(
        &desk,
        &[
            // S-1: sharp and long. S-2: the same, but nobody knows whether it was in that run. S-3: one
            // such run, and one that stands. S-8: sharp in one run, long in another, both only in
            // one that clashes.
            trip("A", "Bend 30", january, 40, &["S-1", "S-2", "S-3", "S-8"]),
            trip("B", "Bend 5", january, 10, &["S-2", "S-3", "S-8"]),
            trip("C", "Bend 28", later, 25, &["S-3"]),
            trip("D", "Bend 30", later, 10, &["S-8"]),
            trip("E", "Bend 5", last, 90, &["S-8"]),
            // S-4: sharp in one run, long in another.
            trip("F", "Bend 30", january, 10, &["S-4"]),
            trip("G", "Bend 5", later, 90, &["S-4"]),
            // S-5: the path of the hole is not known.
            trip("H", "Larkfield 7", january, 40, &["S-5"]),
            // S-6: just at the limit. S-7 never ran.
            trip("I", "Bend 20", january, 20, &["S-6"]),
        ],
    );
    desk
}

#[test]
fn clashing_and_unmeasured_runs_stay_undecided() {
    let desk = yard();
    let mut book = Kept::open(&desk);
    let mut says = |filter: &str, matching: &[u32], undecided: &[u32]| {
        let serials = |list: &[u32]| list.iter().map(|n| format!("S-{n}")).collect::<Vec<_>>();
        assert_eq!(book.asked(filter), (serials(matching), serials(undecided)), "{filter}");
    };
    says("any run (max_dogleg > 0.2 deg/m and rotating_hours > 20 h)", &[1, 3], &[2, 5, 8]);
    says("any run (0.2 deg/m <= max_dogleg and hours >= 20 h)", &[1, 3, 6], &[2, 5, 8]);
    says("no run (max_dogleg > 0.2 deg/m)", &[6, 7], &[2, 5]);
    // What the index does not hold is still asked. The unmeasured run of S-5 took 40 h: too long,
    // however sharp it was.
    says("any run (max_dogleg > 0.2 deg/m and hours > 20 h and hours < 30 h)", &[3], &[]);
    // In a window: only what lies in it.
    let sharp = "any run (max_dogleg > 0.2 deg/m and hours > 20 h)";
    says(&format!("{sharp} since 2026-01-15"), &[3], &[]);
    says(&format!("{sharp} before 2026-01-15"), &[1], &[2, 3, 5, 8]);
}

#[test]
fn the_index_is_used_with_and_without_statistics() {
    let desk = Desk::demo_copy();
    let path = desk.path("demo.pipelore");
    for statistics in [false, true] {
        if statistics {
            let mut book = Book::open(&path, Access::Write).unwrap();
            book.gather_statistics().unwrap();
            book.close().unwrap();
        }
        let mut book = Kept::open_at(&path);
        let [sharp, gentle, with_well, one_string] = [
            "any run (max_dogleg > 0.35 deg/m and hours > 20 h)",
            "any run (max_dogleg > 0.05 deg/m and hours > 20 h)",
            "any run (max_dogleg > 0.35 deg/m and well = \"Larkfield 2H\")",
            "string = \"K1\" and any run (max_dogleg > 0.35 deg/m)",
        ]
        .map(|text| {
            let compiled: Compiled = book.compiled(text);
            book.plan(&compiled.select(&Select::of(Answer::Matching)))
        });
        let uses = |steps: &[String], index: &str| steps.iter().any(|s| s.contains(index));
        let scans = |steps: &[String]| steps.iter().any(|s| s.starts_with("SCAN"));
        assert!(uses(&sharp, "COVERING INDEX joint_run_dogleg"), "{sharp:?}");
        assert!(!scans(&sharp), "{sharp:?}");
        assert!(!uses(&gentle, "joint_run_dogleg"), "{gentle:?}");
        // Another index, or another condition, leaves few joints already.
        assert!(!uses(&with_well, "joint_run_dogleg"), "{with_well:?}");
        // A name is found in any spelling through an index that compares as names do.
        assert!(uses(&with_well, "INDEX run_well (well="), "{with_well:?}");
        assert!(uses(&one_string, "INDEX joint_string (string="), "{one_string:?}");
        assert!(!scans(&with_well) && !scans(&one_string), "{with_well:?} {one_string:?}");
        assert!(!uses(&one_string, "joint_run_dogleg"), "{one_string:?}");
    }
}
