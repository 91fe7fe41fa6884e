//! Long answers in few lines: calls that are alike as one, groups with their part of all and their
//! mean; and the week that the demo book tells.

use std::collections::{BTreeMap, BTreeSet};

use super::cli::Desk;

/// The last day of the demo book.
const LAST_DAY: &str = "2026-06-05";

/// Rows of the first table of an answer in CSV, by title.
fn rows(desk: &Desk, words: &[&str]) -> Vec<BTreeMap<String, String>> {
    let out = desk.run(&[words, &["--csv"]].concat()).ok();
    let mut reader = csv::Reader::from_reader(out.as_bytes());
    reader.deserialize().map(Result::unwrap).collect()
}

/// A screen has a line for all that are alike, and loses no joint; a pipe, `--wide` and machines have a
/// line for each.
#[test]
fn calls_that_are_alike_are_one_line_on_a_screen() {
    let asked = ["due", "--as-of", LAST_DAY];
    let screen = Desk::demo().wide(120).run(&asked).ok();
    let each = rows(&Desk::demo(), &asked);
    // K1-0556 to K1-0564 came back from hire and were not looked at: nine lines are one.
    let back = screen.lines().find(|l| l.contains("back from hire")).unwrap();
    assert!(back.contains("K1-0556 to K1-0564"), "{screen}");
    let of = |serial: &str| each.iter().filter(|r| r["serial"] == serial).count();
    assert!((556..=564).all(|n| of(&format!("K1-0{n}")) == 1));
    // The count of each line is there, and all of them make up the list.
    let table = screen.lines().skip_while(|l| !l.starts_with('─')).skip(1);
    let table: Vec<&str> = table.take_while(|l| !l.is_empty()).collect();
    assert!(table.len() < each.len(), "{screen}");
    let counted: usize = table
        .iter()
        .filter_map(|l| l.split("  ").find_map(|w| w.trim().parse::<usize>().ok()))
        .sum();
    assert_eq!(counted, each.len(), "{screen}");
    let calls = format!("{} calls due now", each.len());
    assert!(screen.contains(&calls) && screen.contains("calls that are alike"), "{screen}");
    // At full width, and in a pipe, each joint has its line.
    for desk in [Desk::demo().wide(120), Desk::demo()] {
        let out = desk.run(&[&asked[..], &["--wide"]].concat()).ok();
        let one_a_joint = out.lines().filter(|l| l.contains("back from hire")).count();
        assert_eq!(one_a_joint, each.iter().filter(|r| r["reason"].starts_with("back")).count());
        assert!(!out.contains("too narrow") && !out.contains("alike"), "{out}");
    }
    // So many lines are so many kinds of calls.
    let two = Desk::demo().wide(120).run(&[&asked[..], &["--limit", "2"]].concat()).ok();
    assert!(two.contains("the first 2 of ") && two.contains("K1-0417"), "{two}");
    assert!(!two.lines().any(|l| l.starts_with("K1-0556")), "{two}");
}

/// On its last day few joints of the demo are called, some will be soon, and most are fit to run.
#[test]
fn the_demo_tells_a_yards_week() {
    let desk = Desk::demo();
    let said = desk.run(&["demo"]).ok();
    assert!(said.contains(&format!("It is asked as of {LAST_DAY}, its last day")), "{said}");
    let called = |more: &[&str]| -> BTreeSet<String> {
        let lines = rows(&desk, &[&["due", "--as-of", LAST_DAY], more].concat());
        lines.into_iter().map(|r| r["serial"].clone()).collect()
    };
    let (now, month) = (called(&[]), called(&["--within", "30 days"]));
    assert!((15..=40).contains(&now.len()), "{now:?}");
    assert!(month.len() >= now.len() + 3, "{month:?}");
    let fit = desk.run(&["find", "fit = fit", "--as-of", LAST_DAY, "--json"]).json();
    let fit: BTreeSet<String> = fit["joints"]
        .as_array()
        .unwrap()
        .iter()
        .map(|j| j["serial"].as_str().unwrap().to_owned())
        .collect();
    assert!(fit.len() > 180, "{}", fit.len());
    // What is set aside is few, and the joint that failed is first.
    let worst = rows(&desk, &["due", "--as-of", LAST_DAY]);
    assert_eq!((worst[0]["serial"].as_str(), worst[0]["call"].as_str()), ("K1-0417", "quarantine"));
    let aside: BTreeSet<&str> =
        worst.iter().filter(|r| r["call"] == "quarantine").map(|r| r["serial"].as_str()).collect();
    assert!(aside.len() < 8 && aside.contains("HW-17"), "{aside:?}");
    assert!(aside.iter().all(|serial| !fit.contains(*serial)));
}

/// Groups have their part of all, and a mean of what has one: worked out from the joints themselves.
#[test]
fn groups_have_a_share_and_a_mean() {
    let desk = Desk::demo();
    let filter = "string = \"K1\" and wall is not unknown";
    let joints = rows(&desk, &["find", filter, "--show", "class,wall,hours,max_dogleg"]);
    let of = |class: &str, what: &str| -> Vec<f64> {
        let of_class = joints.iter().filter(|r| r["class"] == class);
        of_class.map(|r| r[what].parse().unwrap()).collect()
    };
    let groups = rows(&desk, &["find", filter, "--by", "class", "--show", "wall,hours,max_dogleg"]);
    assert!(groups.len() > 1, "{groups:?}");
    for group in &groups {
        let (walls, hours) = (of(&group["class"], "wall [%]"), of(&group["class"], "hours [h]"));
        let number = |what: &str| group[what].parse::<f64>().unwrap();
        assert_eq!(number("count") as usize, walls.len());
        let mean = |all: &[f64]| all.iter().sum::<f64>() / all.len() as f64;
        for (told, want) in [
            (number("share [%]"), 100.0 * walls.len() as f64 / joints.len() as f64),
            (number("mean wall [%]"), mean(&walls)),
            (number("mean hours [h]"), mean(&hours)),
            (number("hours [h]"), hours.iter().sum::<f64>()),
        ] {
            assert!((told - want).abs() < 1e-6 * want.abs(), "{group:?}: {told}, not {want}");
        }
        // The mean of the sharpest bends is a bend that nobody had.
        assert!(!group.keys().any(|k| k.contains("mean max_dogleg")), "{group:?}");
    }
    // Of a value that is not known of one joint nobody knows the mean.
    let with_unknown =
        rows(&desk, &["find", "string = \"K2\"", "--by", "string", "--show", "wall"]);
    assert_eq!(with_unknown[0]["mean wall [%]"], "", "{with_unknown:?}");
}
