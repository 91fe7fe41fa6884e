//! The demo book and what people read from it, at the widths of a small and a large screen.

use super::cli::{Desk, steady};

/// The first lines of an answer.
fn top(text: &str, lines: usize) -> String {
    text.lines().take(lines).collect::<Vec<_>>().join("\n")
}

#[test]
fn demo_prints_its_answers_under_their_commands() {
    let desk = Desk::demo().wide(80);
    let out = desk.run(&["demo"]).ok();
    let asked: Vec<&str> = out.lines().filter(|l| l.starts_with("$ ")).collect();
    assert_eq!(asked.len(), 3, "{out}");
    // Each command gives what stands below it.
    for line in asked {
        let words = split(line.trim_start_matches("$ pipelore --book demo.pipelore "));
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let answer = desk.run(&words).ok();
        assert!(out.contains(&format!("{line}\n\n{answer}")), "{line}");
    }
}

/// Words of a command line with single quotes.
fn split(line: &str) -> Vec<String> {
    line.split('\'')
        .enumerate()
        .flat_map(|(i, part)| {
            if i % 2 == 1 {
                vec![part.to_owned()]
            } else {
                part.split_whitespace().map(str::to_owned).collect()
            }
        })
        .collect()
}

#[test]
fn demo_refuses_a_folder_with_another_book() {
    let desk = Desk::new();
    desk.run(&["new", "demo.pipelore", "--site", "elsewhere"]).ok();
    let err = desk.run(&["demo"]).fails(2);
    assert!(err.contains("is not the demo book"), "{err}");
}

#[test]
fn the_demo_is_large_enough_and_its_story_holds() {
    let desk = Desk::demo();
    let k1 =
        desk.run(&["find", "string = \"K1\" or status in (retired, on_hire)", "--json"]).json();
    assert!(k1["joints"].as_array().unwrap().len() >= 120);
    let runs =
        desk.run(&["find", "true", "--list", "runs", "--show", "name,well", "--json"]).json();
    let mut wells = std::collections::BTreeSet::new();
    let mut names = std::collections::BTreeSet::new();
    for r in runs["records"].as_array().unwrap() {
        names.insert(r["name"].as_str().unwrap().to_owned());
        wells.insert(r["well"].as_str().unwrap().to_owned());
    }
    assert!(names.len() >= 8 && wells.len() >= 3, "{names:?} {wells:?}");
    // The joint that washed out is the one that was used up most.
    let worst = desk
        .run(&[
            "find",
            "damage > 0",
            "--show",
            "serial,damage",
            "--sort",
            "-damage",
            "--limit",
            "1",
            "--json",
        ])
        .json();
    assert_eq!(worst["joints"][0]["serial"], "K1-0417");
    let due = desk.run(&["due", "--call", "inspection", "--json"]).json();
    assert_eq!(due["due"][0]["serial"], "K1-0417");
    desk.run(&["verify"]).ok();
}

#[test]
fn due_reads_well() {
    for width in [80, 160] {
        let out = Desk::demo().wide(width).run(&["due", "--limit", "8"]).ok();
        insta::assert_snapshot!(format!("due_{width}"), steady(&out));
    }
    let out = Desk::demo().wide(80).run(&["due", "--by", "string"]).ok();
    insta::assert_snapshot!("due_by_string", steady(&out));
    let out = Desk::demo().wide(120).run(&["due", "--within", "30 days", "--limit", "4"]).ok();
    insta::assert_snapshot!("due_within", steady(&out));
}

#[test]
fn stock_forecast_and_statement_read_well() {
    for width in [80, 160] {
        let out = Desk::demo().wide(width).run(&["stock"]).ok();
        insta::assert_snapshot!(format!("stock_{width}"), steady(&out));
        let out = Desk::demo().wide(width).run(&["forecast", "--months", "6"]).ok();
        insta::assert_snapshot!(format!("forecast_{width}"), steady(&out));
        let out = Desk::demo().wide(width).run(&["statement", "H-36"]).ok();
        let lines: Vec<&str> = out.lines().collect();
        let ends = [&lines[..24], &["…"], &lines[lines.len() - 34..]].concat();
        insta::assert_snapshot!(format!("statement_{width}"), steady(&ends.join("\n")));
    }
}

#[test]
fn a_statement_charges_what_the_price_file_names_and_prints() {
    let desk = Desk::demo_copy();
    desk.write("prices.toml", "currency = \"EUR\"\n[joint]\nday = 1.10\n[repair]\nrecut = 250\n");
    let json = desk.run(&["statement", "H-36", "--prices", "prices.toml", "--json"]).json();
    let days = json["hire"]["joint_days"].as_i64().unwrap();
    let recuts = json["repairs"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|r| r["work"] == "recut")
        .map(|r| r["count"].as_i64().unwrap())
        .sum::<i64>();
    assert!(days > 5_000 && recuts > 0, "{days} {recuts}");
    let total = json["bill"]["total"].as_f64().unwrap();
    assert!((total - (days as f64 * 1.1 + recuts as f64 * 250.0)).abs() < 0.005, "{total}");
    desk.run(&["statement", "H-36", "-o", "h36.html"]).ok();
    let page = std::fs::read_to_string(desk.path("h36.html")).unwrap();
    assert!(page.contains("Statement of hire H-36") && page.contains("K1-0401"));
    assert!(!page.contains("<script") && !page.contains("://"), "nothing is fetched");
    let err = desk.run(&["statement", "H-36", "-o", "h36.html"]).fails(2);
    assert!(err.contains("is there already"), "{err}");
    let err = desk.run(&["statement", "H-99"]).fails(2);
    assert!(err.contains("known: H-31, H-33"), "{err}");
    desk.write("prices.toml", "currency = \"EUR\"\n[joint]\nweek = 1\n");
    let err = desk.run(&["statement", "H-36", "--prices", "prices.toml"]).fails(3);
    assert!(err.contains("week"), "{err}");
}

#[test]
fn every_kind_of_record_is_listed() {
    let records = [
        "runs",
        "makeups",
        "inspections",
        "findings",
        "repairs",
        "events",
        "failures",
        "moves",
        "hires",
        "decisions",
    ];
    for record in records {
        let json = Desk::demo().run(&["find", "--list", record, "true", "--json"]).json();
        let list = json["records"].as_array().unwrap();
        // Nothing of the demo moved but by hire.
        assert_eq!(list.is_empty(), record == "moves", "{record}: {json}");
        assert!(list.iter().all(|r| r["joint.serial"].is_string()), "{record}: {json}");
    }
}

#[test]
fn find_reads_well() {
    let filter = "any run (max_dogleg > 8 deg/100ft and rotating_hours > 20 h)";
    for width in [80, 160] {
        let out = Desk::demo()
            .wide(width)
            .run(&[
                "find",
                filter,
                "--show",
                "serial,hours above 8 deg/100ft,damage",
                "--limit",
                "5",
            ])
            .ok();
        insta::assert_snapshot!(format!("find_{width}"), steady(&out));
    }
    let out = Desk::demo().wide(80).run(&["find", "string = \"K1\"", "--by", "class"]).ok();
    insta::assert_snapshot!("find_by_class", steady(&out));
    let piped = Desk::demo().run(&["find", "class = class_2", "--csv"]).ok();
    insta::assert_snapshot!("find_csv", steady(&piped));
    let json = Desk::demo().run(&["find", "class = class_2", "--limit", "1", "--json"]).ok();
    insta::assert_snapshot!("find_json", steady(&json));
    let metric = Desk::demo()
        .run(&[
            "find",
            "class = class_2",
            "--show",
            "serial,length,box_od,max_dogleg",
            "--limit",
            "2",
            "--units",
            "metric",
        ])
        .ok();
    insta::assert_snapshot!("find_metric", steady(&metric));
}

#[test]
fn trace_reads_well() {
    for width in [80, 160] {
        let out = Desk::demo().wide(width).run(&["trace", "K1-0417"]).ok();
        insta::assert_snapshot!(format!("trace_{width}"), steady(&top(&out, 60)));
    }
}

#[test]
fn exposure_reads_well() {
    for width in [80, 160] {
        let out = Desk::demo().wide(width).run(&["exposure", "K1-0417"]).ok();
        insta::assert_snapshot!(format!("exposure_joint_{width}"), steady(&out));
        let out = Desk::demo().wide(width).run(&["exposure", "--run", "K1-R07"]).ok();
        insta::assert_snapshot!(format!("exposure_run_{width}"), steady(&top(&out, 40)));
    }
}

#[test]
fn errors_carry_a_caret_and_a_hint() {
    let desk = Desk::demo();
    let err = desk.run(&["find", "max_dogleg > 8"]).fails(2);
    insta::assert_snapshot!("find_needs_a_unit", err);
    let err = desk.run(&["find", "max_dogleq > 8 deg/100ft"]).fails(2);
    insta::assert_snapshot!("find_did_you_mean", err);
    let err = desk.run(&["trace", "K1-0471x"]).fails(2);
    insta::assert_snapshot!("trace_no_joint", err);
    let err = desk.run(&["exposure", "--run", "K1-R77"]).fails(2);
    insta::assert_snapshot!("exposure_no_run", err);
}

#[test]
fn every_command_answers_in_json() {
    let desk = Desk::demo();
    for words in [
        &["due"][..],
        &["due", "--by", "rule"],
        &["due", "--undecided"],
        &["rules"],
        &["due", "--undecided", "--by", "rule"],
        &["stock", "--by", "string,status"],
        &["forecast", "--months", "3"],
        &["statement", "H-36"],
        &["find", "true", "--limit", "3"],
        &["find", "--fields"],
        &["trace", "K1-0417"],
        &["exposure", "K1-0417"],
        &["exposure", "--run", "K1-R05"],
        &["verify"],
        &["demo"],
    ] {
        let mut words = words.to_vec();
        words.push("--json");
        let json = desk.run(&words).json();
        assert!(json["report"].is_string(), "{words:?}");
    }
    let err = desk.command(&["find", "wal < 3", "--json"]).output().unwrap();
    assert_eq!(err.status.code(), Some(2));
    let told: serde_json::Value = serde_json::from_slice(&err.stderr).unwrap();
    assert_eq!(told["error"]["kind"], "usage");
}

#[test]
fn help_of_every_command_begins_with_an_example_that_works() {
    let desk = Desk::demo();
    let help = desk.run(&["--help"]).ok();
    let commands: Vec<&str> = help
        .lines()
        .skip_while(|l| !l.starts_with("Commands:"))
        .skip(1)
        .take_while(|l| l.starts_with("  "))
        // What begins further in goes on with the line above.
        .filter(|l| !l.starts_with("   "))
        .filter_map(|l| l.split_whitespace().next())
        .filter(|c| *c != "help")
        .collect();
    assert!(commands.len() > 8, "{help}");
    for command in commands {
        let text = desk.run(&[command, "--help"]).ok();
        assert!(text.contains("Example: pipelore "), "{command} has no example:\n{text}");
    }
    assert!(desk.run(&["completions", "bash"]).ok().contains("pipelore"));
    assert!(desk.run(&["man"]).ok().contains(".TH pipelore"));
}
