//! What people see on screens of three widths.

use unicode_width::UnicodeWidthStr;

use super::cli::Desk;

const ASKED: [&[&str]; 14] = [
    &["due"],
    &["due", "--within", "90 days"],
    &["find", "due for inspection"],
    &["find", "damage > 0.5"],
    &["find", "any run (max_dogleg > 8 deg/100ft)", "--list", "runs"],
    &["find", "true", "--by", "class"],
    &["find", "--fields"],
    &["assess", "K1-0431"],
    &["exposure", "K1-0417"],
    &["exposure", "--run", "K1-R07"],
    &["stock"],
    &["rules"],
    &["findings"],
    &["rate", "run", "K1-R07"],
];

#[test]
fn nothing_is_wider_than_the_screen() {
    for columns in [80, 120, 200] {
        let desk = Desk::demo().wide(columns);
        for args in ASKED {
            let out = desk.run(args).out;
            assert!(!out.is_empty(), "{args:?}");
            for line in out.lines() {
                assert!(line.width() <= columns, "{args:?} at {columns}: {line}");
            }
        }
    }
}

/// Of nineteen columns those stay for which there is room, their words and numbers whole.
#[test]
fn columns_go_before_words_are_broken() {
    let out = Desk::demo().wide(80).run(&["find", "due for inspection"]).ok();
    let (head, rest) = out.split_once('─').unwrap();
    let words: Vec<&str> = head.split_whitespace().collect();
    for word in ["serial", "inspection", "slip_cracks)", "over_limit"] {
        assert!(words.contains(&word), "{word} in\n{head}");
    }
    assert!(rest.contains("too narrow for: "), "{rest}");
    let first = rest.lines().find(|l| l.starts_with("K1-0401")).unwrap();
    assert_eq!(first.split_whitespace().count(), 6, "{first}");
}

/// What all of them have in common is said once on a screen; a pipe and `--show` have the column.
#[test]
fn what_all_have_in_common_is_said_once() {
    let asked = "any run (max_dogleg > 8 deg/100ft) and string = \"K1\"";
    let screen = Desk::demo().wide(100).run(&["find", asked]).ok();
    assert!(screen.starts_with("all of them: string K1"), "{screen}");
    let piped = Desk::demo().run(&["find", asked]).ok();
    assert!(piped.lines().next().unwrap().contains("string"), "{piped}");
    let shown = Desk::demo().wide(100).run(&["find", asked, "--show", "serial, string"]).ok();
    assert!(shown.lines().next().unwrap().contains("string"), "{shown}");
}
