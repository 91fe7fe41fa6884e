//! What a filter asks of other joints, against the same put together from answers of the program.

use std::collections::BTreeSet;

use pipelore::filter::{Context, compile};

use super::cli::Desk;
use super::filter_book::{context, shown};

/// Joints of an answer, each with a column.
fn column(desk: &Desk, filter: &str, show: &str) -> Vec<(String, Option<f64>)> {
    let show = format!("serial, {show}");
    let json = desk.run(&["find", filter, "--show", &show, "--json"]).json();
    let rows = json["joints"].as_array().unwrap();
    rows.iter()
        .map(|row| {
            let mut cells = row.as_object().unwrap().iter();
            let value = cells.find(|(key, _)| !["serial", "decided"].contains(&key.as_str()));
            let value = value.unwrap().1;
            let number = [&value["value"], &value["at_least"], value];
            let number = number.into_iter().find_map(serde_json::Value::as_f64);
            (row["serial"].as_str().unwrap().to_owned(), number)
        })
        .collect()
}

fn found(desk: &Desk, filter: &str) -> BTreeSet<String> {
    let json = desk.run(&["find", filter, "--show", "serial", "--json"]).json();
    let serial = |j: &serde_json::Value| j["serial"].as_str().unwrap().to_owned();
    json["joints"].as_array().unwrap().iter().map(serial).collect()
}

fn serials(rows: &[(String, Option<f64>)], keep: impl Fn(f64) -> bool) -> BTreeSet<String> {
    rows.iter().filter(|(_, x)| x.is_some_and(&keep)).map(|(s, _)| s.clone()).collect()
}

#[test]
fn a_mean_a_percentile_and_a_count_over_joints() {
    let desk = Desk::demo();
    let known = "string = \"K1\" and not wall is unknown";
    let walls = column(&desk, known, "wall");
    assert!(walls.len() > 100);
    let all: Vec<f64> = walls.iter().map(|(_, x)| x.unwrap()).collect();
    let mean = all.iter().sum::<f64>() / all.len() as f64;
    let mut sorted = all.clone();
    sorted.sort_by(f64::total_cmp);
    // By nearest rank, read out of the list by hand.
    let tenth = sorted[(sorted.len() * 10).div_ceil(100) - 1];
    for (filter, right) in [
        (format!("wall < mean wall over joints ({known})"), serials(&walls, |x| x < mean)),
        (
            format!("wall < percentile 10 of wall over joints ({known})"),
            serials(&walls, |x| x < tenth),
        ),
        (
            format!("wall >= max wall over joints ({known})"),
            serials(&walls, |x| x >= sorted[sorted.len() - 1]),
        ),
    ] {
        assert!(!right.is_empty());
        assert_eq!(found(&desk, &format!("{known} and {filter}")), right, "{filter}");
    }
    let count = format!("count joints ({known}) = {}", walls.len());
    assert_eq!(found(&desk, &format!("serial = \"K1-0417\" and {count}")).len(), 1);
    assert!(found(&desk, &format!("not ({count})")).is_empty());
}

#[test]
fn a_value_of_another_joint() {
    let desk = Desk::demo();
    let damage = column(&desk, "true", "damage");
    let of = |serial: &str| damage.iter().find(|(s, _)| s == serial).unwrap().1.unwrap();
    let above = found(&desk, "damage > damage of \"K1-0431\"");
    assert!(!above.is_empty() && !above.contains("K1-0431"));
    assert!(above.iter().all(|s| of(s) > of("K1-0431")), "{above:?}");
    // A bound stays one: joints of which more may have happened are not left out by it.
    let heat = desk.run(&["find", "serial = \"K1-0417\"", "--show", "heat", "--json"]).json();
    let heat = heat["joints"][0]["heat"].as_str().unwrap();
    assert_eq!(
        found(&desk, "heat = heat of \"K1-0417\""),
        found(&desk, &format!("heat = \"{heat}\""))
    );
    // In the condition of a record, too.
    assert_eq!(
        found(&desk, "any run (joint.damage > damage of \"K1-0431\")"),
        found(&desk, "any run and damage > damage of \"K1-0431\""),
    );
}

#[test]
fn kin_of_all_joints_that_match() {
    let desk = Desk::demo();
    assert_eq!(
        found(&desk, "kin of (serial = \"K1-0417\") by heat"),
        found(&desk, "kin of \"K1-0417\" by heat"),
    );
    let two = "kin of (serial in (\"K1-0417\", \"K1-0431\"))";
    let mut both = found(&desk, "kin of \"K1-0417\"");
    both.extend(found(&desk, "kin of \"K1-0431\""));
    both.remove("K1-0417");
    both.remove("K1-0431");
    assert_eq!(found(&desk, two), both);
    // Whoever may be one of them makes kin undecided, not false.
    assert!(found(&desk, "kin of (wall < 0 %) by heat").is_empty());
}

#[test]
fn between_two_doglegs_lies_the_difference() {
    let desk = Desk::demo();
    let filter = "string = \"K1\"";
    let [above_4, above_6, between] = [
        "revolutions above 4 deg/100ft",
        "revolutions above 6 deg/100ft",
        "revolutions between 4 and 6 deg/100ft",
    ]
    .map(|show| column(&desk, filter, show));
    let mut some = 0;
    for ((a, b), c) in above_4.iter().zip(&above_6).zip(&between) {
        let Some(((a, b), c)) = a.1.zip(b.1).zip(c.1) else { continue };
        some += usize::from(c > 0.0);
        assert!((a - b - c).abs() < 0.51, "{a} {b} {c}");
    }
    assert!(some > 50);
    // A comparison stays one.
    assert_eq!(
        found(&desk, "hours between 300 h and 400 h"),
        found(&desk, "hours >= 300 h and hours <= 400 h"),
    );
    assert_eq!(
        found(&desk, "hours between 4 and 6 deg/100ft between 1 h and 9 h"),
        found(
            &desk,
            "hours between 4 and 6 deg/100ft >= 1 h and hours between 4 and 6 deg/100ft <= 9 h"
        ),
    );
}

#[test]
fn questions_to_other_joints_say_what_is_wrong() {
    let desk = Desk::demo();
    for (filter, said) in [
        ("damage > damage of \"K9-9999\"", "no joint answers to K9-9999"),
        ("damage > percentile 0 of damage over joints", "a whole number from 1 to 99"),
        ("damage > percentile 90 of damage over runs", "a percentile is one of joints"),
        ("damage > mean damage over joints since 2025-01-01", "joints stand in no window"),
        ("hours between 6 and 4 deg/100ft > 2 h", "the upper dogleg does not lie above"),
        ("damage > mean wal over joints", "wal is no field of joints"),
        (
            "hours > 1 h and damage > mean damage over joints (strng = \"K1\")",
            "did you mean string?",
        ),
        ("class of \"K1-0417\" = premium", "one text for all joints"),
    ] {
        let error = desk.run(&["find", filter]).fails(2);
        assert!(error.contains(said), "{filter}: {error}");
    }
}

#[test]
fn joints_that_could_not_be_asked_are_no_answer() {
    let late = Context { ask: &|_| None, ..context(&[]) };
    for filter in [
        "kin of (failed = true) by heat",
        "count joints (failed = true) = 0",
        "damage > mean damage over joints",
        "damage > damage of \"K1-1\"",
    ] {
        let errors = shown(&compile(filter, &late).unwrap_err());
        assert!(errors.contains("could not be asked"), "{filter}: {errors}");
        compile(filter, &context(&[])).unwrap();
    }
}
