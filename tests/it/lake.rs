//! Statements of filters for engines that read publications (`find --sql`): held against the program's
//! own answers by `tests/lake`, where there is a Python that has the engines; and what they may hold.

use std::path::Path;
use std::process::Command;

use super::cli::Desk;
use super::open_data::say_skipped;

/// A whole number that the environment may name.
fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|n| n.parse().ok()).unwrap_or(otherwise)
}

#[test]
fn engines_give_the_answers_of_the_book() {
    let Ok(python) = std::env::var("PIPELORE_ENGINES") else {
        say_skipped("PIPELORE_ENGINES names no Python with engines (tests/lake/README.md)");
        return;
    };
    let soak = number("PIPELORE_SOAK", 1);
    let asked = Command::new(python)
        .arg("-B")
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/lake/lake.py"))
        .arg(env!("CARGO_BIN_EXE_pipelore"))
        .args([
            "--filters",
            &(1000 * soak).to_string(),
            "--spark",
            &number("PIPELORE_SPARK", 0).to_string(),
        ])
        .args(["--seed", &number("PIPELORE_SEED", 1).to_string()])
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&asked.stdout).into_owned();
    assert!(asked.status.success(), "{told}{}", String::from_utf8_lossy(&asked.stderr));
    eprintln!("{told}");
}

#[test]
fn a_text_stays_a_text_in_every_dialect() {
    let desk = Desk::demo();
    let filter = r#"serial = "a'; DROP TABLE joint; --\${x}""#;
    let duck = desk.run(&["find", filter, "--sql", "duckdb", "--from", "/lake/it's"]).ok();
    assert!(duck.contains(r"'a''; drop table joint; --\${x}'"), "{duck}");
    assert!(duck.contains("read_parquet('/lake/it''s/joint/*/*.parquet'"), "{duck}");
    let spark = desk.run(&["find", filter, "--sql", "spark", "--from", "lake."]).ok();
    assert!(spark.contains(r"'a\'; drop table joint; --\\\u0024{x}'"), "{spark}");
    assert!(spark.contains("FROM lake.`joint` t"), "{spark}");
    let told = desk.run(&["find", "out", "--sql", "spark", "--json"]).ok();
    let told: serde_json::Value = serde_json::from_str(&told).unwrap();
    assert!(told["warning"].as_str().unwrap().contains("on trial"), "{told}");
    for statement in [duck, spark] {
        assert_eq!(statement.lines().count(), 1, "{statement}");
        assert!(statement.starts_with("WITH p_joint AS "), "{statement}");
    }
}

#[test]
fn what_no_engine_can_be_asked_is_refused_by_name() {
    let desk = Desk::demo();
    for (filter, place, why) in [
        (
            r#"out or kin of "K1-0417" by heat"#,
            r#"kin of "K1-0417" by heat"#,
            "kin of other joints",
        ),
        (
            "out or hours > mean hours over joints",
            "mean hours over joints",
            "what other joints say",
        ),
        (
            "out and not hours since 2025-03-01 > 5 h",
            "hours since 2025-03-01 > 5 h",
            "parts of runs",
        ),
    ] {
        for engine in ["duckdb", "spark"] {
            let stderr = desk.run(&["find", filter, "--sql", engine, "--json"]).fails(2);
            let told: serde_json::Value = serde_json::from_str(&stderr).unwrap();
            let error = &told["error"]["errors"][0];
            let message = error["message"].as_str().unwrap();
            assert!(message.contains(&format!("no statement for {engine}")), "{message}");
            assert!(message.contains(why), "{message}");
            let at = error["column"].as_u64().unwrap() as usize - 1;
            let length = error["length"].as_u64().unwrap() as usize;
            assert_eq!(&filter[at..at + length], place, "{stderr}");
        }
    }
}
