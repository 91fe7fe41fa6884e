//! The next string: expected as a run is worked out, ordered so that the worst is least, and made of
//! nothing that is not fit.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::Value;

use super::cli::Desk;

/// The demo book with the files of its last run.
fn desk() -> Desk {
    let desk = Desk::demo_copy();
    for name in ["k1-r08.toml", "k1-r08-tally.csv", "k1-r08-operations.csv"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples").join(name);
        std::fs::copy(path, desk.path(name)).unwrap();
    }
    desk
}

fn by_serial(rows: &Value) -> BTreeMap<String, &Value> {
    let rows = rows.as_array().unwrap().iter();
    rows.map(|r| (r["serial"].as_str().unwrap().to_owned(), r)).collect()
}

#[test]
fn a_run_planned_as_it_happened_is_expected_to_do_what_it_did() {
    let desk = desk();
    let planned = desk.run(&["plan", "k1-r08.toml", "--as-it-stands", "--json"]).json();
    let ran = desk.run(&["exposure", "--run", "K1-R08", "--json"]).json();
    let (planned, ran) = (by_serial(&planned["places"]), by_serial(&ran["joints"]));
    assert_eq!(planned.len(), ran.len());
    let mut figures = 0;
    for (serial, row) in ran {
        for name in [
            "place",
            "from_bit",
            "hours",
            "revolutions",
            "max_dogleg",
            "max_tension",
            "over_limit",
            "damage",
            "damage_least",
            "damage_most",
        ] {
            let (is, was) = (&planned[&serial][name], &row[name]);
            match (is.as_f64(), was.as_f64()) {
                (Some(is), Some(was)) => {
                    assert!((is - was).abs() <= 1e-9 * was.abs(), "{serial} {name}: {is} {was}");
                    figures += 1;
                }
                _ => assert_eq!(is, was, "{serial} {name}"),
            }
        }
    }
    assert!(figures > 1_000, "{figures}");
    // A plan is held against the run, place by place.
    let held = desk.run(&["plan", "k1-r08.toml", "--against", "K1-R08", "--json"]).json();
    assert_eq!(held["against"]["as_planned"], held["against"]["places"]);
    for name in ["least", "median", "most"] {
        assert!((held["against"][name].as_f64().unwrap() - 1.0).abs() < 1e-9, "{held}");
    }
}

fn worst(answer: &Value, order: &str) -> f64 {
    let rows = answer["orders"].as_array().unwrap();
    let row = rows.iter().find(|r| r["order"] == order);
    row.unwrap_or_else(|| panic!("{order}"))["worst_after"].as_f64().unwrap()
}

#[test]
fn the_order_advised_for_the_last_run_beats_chance_and_stricter_wishes_do_not_beat_it() {
    let desk = Desk::demo();
    let look = |more: &[&str]| {
        let words: Vec<&str> =
            ["plan", "--run", "K1-R08", "--json"].iter().chain(more).copied().collect();
        desk.run(&words).json()
    };
    let free = look(&[]);
    assert_eq!(free, look(&[]), "the same twice");
    let (advised, bound) = (worst(&free, "advised"), worst(&free, "bound"));
    assert!(advised < worst(&free, "as_racked"), "{advised}");
    assert!(advised <= worst(&free, "chance_least") && advised <= worst(&free, "upside_down"));
    // In the string itself that is advised, whose joints are of other lengths, it is hardly another.
    let exact = free["plan"]["worst_after"].as_f64().unwrap();
    assert!(advised == bound && (exact / bound - 1.0).abs() < 0.01, "{advised} {bound} {exact}");
    let in_stands = worst(&look(&["--stands", "3"]), "advised");
    let few = worst(&look(&["--moves", "1"]), "advised");
    let more = worst(&look(&["--moves", "4"]), "advised");
    assert!(advised <= in_stands && advised <= more && more <= few, "{in_stands} {few} {more}");
}

/// A shorter string for the well of the last run: its bottom-hole assembly and so many open places.
fn next(desk: &Desk, pipe: &str) {
    let tally = std::fs::read_to_string(desk.path("k1-r08-tally.csv")).unwrap();
    let below: Vec<&str> = tally.lines().take(39).collect();
    // The columns of the last run's tally, and a count.
    let count = |line: &str| if line.starts_with("Position") { "Count" } else { "" };
    let rows: Vec<String> = below.iter().map(|l| format!("{l},{}", count(l))).collect();
    desk.write("next-tally.csv", format!("{}\n{pipe}", rows.join("\n")));
    desk.write(
        "next-operations.csv",
        "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
         rotating on bottom,3600,4200,30,110,18\nreaming up,4200,4100,2,70,0\n\
         rotating on bottom,4200,4600,20,110,20\n",
    );
    desk.write(
        "next.toml",
        "name = \"K1-R09\"\nwell = \"Tern Moor 3\"\nstring = \"K1\"\nmud_weight = \"10.2 ppg\"\n\
         environment = \"protected\"\nhole_diameter = \"8 1/2 in\"\nstart = 2026-06-10T06:00:00Z\n\
         casing_depth = \"1100 ft\"\nprotectors = true\nsour = false\n\
         tally = \"next-tally.csv\"\nlog = \"next-operations.csv\"\n\
         [plan]\nfrom = 'string = \"K1\"'\nmargin = \"50 klbf\"\ntorque = \"12000 ft lbf\"\n",
    );
}

#[test]
fn a_joint_that_is_not_fit_is_never_placed_and_the_tally_goes_back_into_the_book() {
    let desk = desk();
    next(&desk, "39,,drill pipe,31.4,5,4.276,19.5,118\n");
    let answer = desk.run(&["plan", "next.toml", "--tally", "advised.csv", "--json"]).json();
    let placed: Vec<&Value> =
        answer["places"].as_array().unwrap().iter().filter(|r| r["planned"] == true).collect();
    assert_eq!(placed.len(), 118);
    let bad = desk.joints("string = \"K1\" and not (fit in (fit, restricted))");
    let out = by_serial(&answer["left_out"]);
    assert!(bad.yes.len() > 3, "{bad:?}");
    for row in &placed {
        let serial = row["serial"].as_str().unwrap();
        assert!(!bad.yes.iter().chain(&bad.open).any(|s| s == serial), "{serial}");
        assert!(["fit", "fit with a restriction"].contains(&row["fit"].as_str().unwrap()));
        let (before, after) = (row["before"].as_f64().unwrap(), row["after"].as_f64().unwrap());
        assert!(before <= after, "{row}");
    }
    for serial in bad.yes.iter().chain(&bad.open) {
        assert!(out[serial]["why"].as_str().unwrap() != "not needed", "{serial}");
    }
    let free = answer["plan"]["worst_after"].as_f64().unwrap();
    let strict = desk.run(&["plan", "next.toml", "--without", "K1-0402", "--json"]).json();
    assert!(free <= strict["plan"]["worst_after"].as_f64().unwrap());
    assert!(strict["places"].as_array().unwrap().iter().all(|r| r["serial"] != "K1-0402"));
    // The same string as a run that happened.
    let run = std::fs::read_to_string(desk.path("next.toml")).unwrap();
    let run = run.split("[plan]").next().unwrap().replace("next-tally", "advised");
    desk.write("ran.toml", format!("{run}end = 2026-06-12T12:00:00Z\n"));
    let taken = desk.run(&["load", "ran.toml", "--dry-run", "--json"]).json();
    assert_eq!(taken["files"][0]["entries"], 1, "{taken}");
    // More pull than any of them bears.
    let none = desk.run(&["plan", "next.toml", "--margin", "2000 klbf", "--json"]);
    assert_eq!(none.code, 1);
    let none: Value = serde_json::from_str(&none.out).unwrap();
    let why = by_serial(&none["left_out"])["K1-0402"]["why"].as_str().unwrap().to_owned();
    assert!(why.contains("pull"), "{why}");
}

#[test]
fn three_joints_stand_as_trying_every_order_says() {
    let desk = desk();
    // Joints that are worn out, half used and fresh, at places that ask for more the higher they are.
    let joints = ["K1-0402", "K1-0420", "K1-0550"];
    let filler =
        |n: usize, count: usize| format!("{n},,heavy-weight drill pipe,31.0,5,3,49.3,{count}\n");
    let pipe = |order: [usize; 3]| {
        let mut rows = String::new();
        for (k, joint) in order.iter().enumerate() {
            rows += &filler(39 + 2 * k, 30);
            rows += &format!("{},{},drill pipe,31.4,,,,\n", 40 + 2 * k, joints[*joint]);
        }
        rows + &filler(45, 30)
    };
    let mut worst = Vec::new();
    let all = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];
    for order in all {
        next(&desk, &pipe(order));
        let text = std::fs::read_to_string(desk.path("next.toml")).unwrap();
        desk.write("next.toml", text.replace("from = 'string = \"K1\"'\n", ""));
        let told = desk.run(&["plan", "next.toml", "--as-it-stands", "--json"]).json();
        worst.push(told["plan"]["worst_after"].as_f64().unwrap());
    }
    let least = worst.iter().copied().fold(f64::INFINITY, f64::min);
    let most = worst.iter().copied().fold(0.0, f64::max);
    assert!(most > least * 1.000_001, "{worst:?}");
    let advised = desk.run(&["plan", "next.toml", "--json"]).json();
    let advised = advised["plan"]["worst_after"].as_f64().unwrap();
    assert!((advised / least - 1.0).abs() < 1e-9, "{advised} {worst:?}");
}

#[test]
fn what_a_plan_says_wrong_is_told_with_its_place() {
    let desk = desk();
    next(&desk, "39,,drill pipe,31.4,5,4.276,19.5,118\n");
    let text = std::fs::read_to_string(desk.path("next.toml")).unwrap();
    for (wrong, says) in [
        ("moves = \"few\"", "expected usize"),
        ("margin = \"12\"", "has no unit"),
        ("stands = 9", "a stand has one to four joints"),
        ("hope = 1", "known in [plan]"),
    ] {
        let without = text.replace("margin = \"50 klbf\"\n", "");
        desk.write("wrong.toml", format!("{without}{wrong}\n"));
        let err = desk.run(&["plan", "wrong.toml"]).fails(3);
        assert!(err.contains(says) && err.contains("row 16"), "{wrong}: {err}");
    }
    // What only a plan may say stays nothing that a run states.
    let err = desk.run(&["load", "next.toml"]).fails(3);
    assert!(err.contains("'plan' is nothing that a run states"), "{err}");
}
