//! What `load` asks: only what no file says, with a way back and a way out; nothing is written before all
//! is answered.

use super::cli::{Desk, Ran};
use super::ways_in::{JOINTS, rig};

fn typed(desk: &Desk, args: &[&str], answers: &[&str]) -> Ran {
    let mut command = desk.command(args);
    let done = command.write_stdin(answers.join("\n") + "\n").output().unwrap();
    Ran {
        code: done.status.code().unwrap(),
        out: String::from_utf8(done.stdout).unwrap(),
        err: String::from_utf8(done.stderr).unwrap(),
    }
}

fn entries(desk: &Desk) -> usize {
    desk.run(&["entries", "--json"]).ok().matches("\"kind\"").count()
}

/// A survey that says neither hole nor day nor units, and a sheet of a shop.
fn desk() -> Desk {
    let desk = Desk::with_book();
    desk.write("joints.csv", JOINTS);
    desk.run(&["load", "joints.csv"]).ok();
    desk.write("s.csv", "MD,Inc,Azi,Crew\n0,0,0,x\n300,1,10,x\n600,9,45,x\n");
    desk.write("m.csv", "Serial,Date,Methods,Wall\nA-1,4/3/2025,UT wall,0.350\n");
    desk
}

const FILES: [&str; 4] = ["load", "m.csv", "s.csv", "--ask"];

#[test]
fn it_asks_what_no_file_says_and_goes_back() {
    let desk = desk();
    let answers = [
        "?",
        "Near 1",
        "back",
        "Far 2",
        "soon",
        "2025-02-01",
        "banana",
        "m",
        "deg",
        "deg",
        "back",
        "deg",
        "day-first",
        "in",
    ];
    let done = typed(&desk, &FILES, &answers);
    for words in [
        "s.csv: the file states no well",
        "the well, which then holds for the whole file; or the title of the column that has it: 'Crew'",
        "'soon' is not a date",
        "unit of 'MD' (m, ft)",
        "order of day and month (day-first, month-first)",
        "unit of 'Wall' (in, mm, %)",
    ] {
        assert!(done.err.contains(words), "{words}: {}", done.err);
    }
    done.ok();
    assert_eq!(
        desk.joints("any inspection (date >= 2025-03-04 and date < 2025-03-05)").yes,
        ["A-1"]
    );
    let surveys = desk.run(&["survey", "Far 2"]).ok();
    assert!(surveys.contains("1968.50"), "{surveys}");
    desk.run(&["verify"]).ok();
}

#[test]
fn a_way_out_leaves_the_book_as_it_was() {
    let desk = desk();
    let before = entries(&desk);
    for answers in [&["Far 2", "stop"][..], &["Far 2", "2025-02-01", "m"]] {
        let err = typed(&desk, &FILES, answers).fails(3);
        assert!(err.contains("nothing was written"), "{err}");
        assert_eq!(entries(&desk), before);
    }
}

#[test]
fn nothing_is_asked_where_answers_mend_nothing_or_nobody_sits() {
    let desk = desk();
    desk.write("m.csv", "Serial,Date,Methods,Wall\nA-9,4/3/2025,UT wall,0.350\n");
    let done = typed(&desk, &["load", "m.csv", "--ask"], &["in"]);
    assert!(!done.err.contains("nothing is written before"), "{}", done.err);
    assert!(done.fails(3).contains("A-9"));
    let done = typed(&desk, &["load", "s.csv"], &["Far 2"]);
    assert!(done.fails(3).contains("--columns"));
}

#[test]
fn which_of_two_columns_and_the_log_of_a_run_are_asked_of_its_file() {
    let desk = rig();
    desk.write(
        "i.csv",
        "Serial,Serial No,Date,Methods,Wall [in]\nA-1,x,2025-03-04,UT wall,0.350\n",
    );
    let done = typed(&desk, &["load", "i.csv", "--ask"], &["3", "1"]);
    assert!(done.err.contains("1 'Serial', 2 'Serial No'"), "{}", done.err);
    done.ok();
    let row = |n: usize| {
        let (h, m, s) = (6 + n / 360, n / 6 % 60, n % 6 * 10);
        format!("2025-03-04T{h:02}:{m:02}:{s:02}Z,500,500,60")
    };
    let rows = (0..361).map(row).collect::<Vec<_>>().join("\n");
    desk.write("log.csv", format!("time,bit depth,hole depth [m],rpm\n{rows}"));
    let done = typed(&desk, &["load", "run.toml", "--ask"], &["m"]);
    assert!(done.err.contains("run.toml: the unit of 'bit depth'"), "{}", done.err);
    done.ok();
    assert_eq!(desk.shown("serial = \"A-1\"", "revolutions").join(""), "A-1 3600");
}

/// An answer by which a file is refused is asked for again; the other answers stay.
#[test]
fn an_answer_that_is_wrong_for_the_file_is_asked_again() {
    let desk = desk();
    let before = entries(&desk);
    let file = ["load", "m.csv", "--ask"];
    let done = typed(&desk, &file, &["day-first", "mm"]);
    assert!(done.err.contains("wall is far below nominal"), "{}", done.err);
    assert!(done.err.contains("the last one is asked again"), "{}", done.err);
    done.fails(3);
    assert_eq!(entries(&desk), before);
    let done = typed(&desk, &file, &["day-first", "mm", "in"]);
    assert_eq!(done.err.matches("order of day and month (").count(), 1, "{}", done.err);
    done.ok();
    let back = ["month-first", "mm", "back", "day-first", "in"];
    let other = self::desk();
    typed(&other, &file, &back).ok();
    assert_eq!(other.joints("any inspection (date = 2025-03-04)").yes, ["A-1"]);
}

/// What a person at a terminal sees who types these lines; `None` where there is no `script` to make a
/// terminal with.
fn at_a_terminal(desk: &Desk, words: &str, typed: &str) -> Option<String> {
    use std::io::Write as _;
    use std::process::{Command, Stdio};
    if Command::new("script").arg("--version").output().is_err() {
        eprintln!("skipped: there is no `script` to make a terminal with");
        return None;
    }
    let line = format!(
        "stty rows 24 cols 100; '{}' {words}; echo code $?",
        env!("CARGO_BIN_EXE_pipelore")
    );
    let mut shell = Command::new("script");
    shell.args(["-qec", &line, "/dev/null"]).current_dir(desk.path("."));
    shell.env("PIPELORE_NOW", super::cli::NOW).env("TZ", "UTC").env("PAGER", "cat");
    shell.env_remove("COLUMNS").env_remove("PIPELORE_BOOK");
    let mut shell = shell.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    shell.stdin.take().unwrap().write_all(typed.as_bytes()).unwrap();
    let out = shell.wait_with_output().unwrap();
    Some(String::from_utf8_lossy(&out.stdout).into_owned())
}

#[test]
fn at_a_terminal_it_is_asked_unbidden() {
    let desk = desk();
    let before = entries(&desk);
    // What is left unanswered when the terminal closes is not made up.
    let Some(seen) = at_a_terminal(&desk, "load m.csv s.csv", "Far 2\n\u{4}") else { return };
    assert!(seen.contains("nothing was written") && seen.contains("code 3"), "{seen}");
    assert_eq!(entries(&desk), before);
    let answers = "?\nNear 1\nback\nFar 2\n2025-02-01\nm\ndeg\ndeg\nday-first\nin\n";
    let seen = at_a_terminal(&desk, "load m.csv s.csv", answers).unwrap_or_default();
    for words in [
        "s.csv: the file states no well",
        "unit of 'MD' (m, ft)",
        "order of day and month (day-first, month-first)",
        "code 0",
    ] {
        assert!(seen.contains(words), "{words}: {seen}");
    }
    let surveys = desk.run(&["survey", "Far 2"]).ok();
    assert!(surveys.contains("1968.50"), "{surveys}");
    assert_eq!(desk.joints("any inspection (date = 2025-03-04)").yes, ["A-1"]);
    // Who says that nothing is to be asked, by a script's output, is refused as in a script.
    let refused = at_a_terminal(&desk, "load m.csv --once --json", "in\n").unwrap_or_default();
    assert!(!refused.contains("nothing is written before"), "{refused}");
}

/// The prompt of `find` is left by the words that end programs.
#[test]
fn the_prompt_of_find_is_left_by_its_words() {
    let desk = Desk::demo_copy();
    for word in ["quit", "exit", "stop"] {
        let words = "--book demo.pipelore find";
        let Some(seen) = at_a_terminal(&desk, words, &format!("{word}\n")) else { return };
        assert!(seen.contains("joints> ") && seen.contains("code 0"), "{seen}");
        assert!(!seen.contains("error"), "{seen}");
    }
}
