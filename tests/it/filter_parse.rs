//! Text to syntax tree: what is read, how it nests, what is refused and with which words.

use std::time::{Duration, Instant};

use pipelore::filter::ErrorKind;
use pipelore::filter::habits::{read_filter, read_value};
use pipelore::filter::parse::{MAX_BYTES, MAX_DEPTH, Text};
use proptest::prelude::*;

/// The filter as its tree writes it.
fn read(text: &str) -> String {
    match read_filter(&Text::typed(text)) {
        Ok(tree) => tree.to_string(),
        Err(errors) => panic!("{}", errors.iter().map(|e| e.render(100)).collect::<String>()),
    }
}

/// The errors of a filter, rendered.
fn refused(text: &str) -> String {
    match read_filter(&Text::typed(text)) {
        Ok(tree) => panic!("{text} was read as {tree}"),
        Err(errors) => errors.iter().map(|e| e.render(100)).collect::<Vec<_>>().join("---\n"),
    }
}

fn kind(text: &str) -> ErrorKind {
    read_filter(&Text::typed(text)).expect_err(text)[0].kind
}

/// Everything that the language's contract says must be expressible.
pub const CONTRACT: [&str; 21] = [
    "class = premium and hours since last inspection (covers = wall) > 1500 h",
    "hours above 8 deg/100ft > 20 h",
    "any run (max_dogleg > 8 deg/100ft and rotating_hours > 20 h)",
    "any run (hours above 8 deg/100ft > 2 h and well = \"Larkfield 2H\")",
    "revolutions above 6 deg/100ft since last inspection (covers = slip_cracks) > 1000000",
    "damage since last inspection (covers = slip_cracks) > 0.25 or damage > 0.6",
    "max_dogleg of latest run > 5 deg/30m and wall_age > 180 days",
    "latest inspection (box_od < 6 3/32 in) and no repair since last inspection",
    "max wall_loss over inspections in last 2 years > 12 %",
    "count makeups (end = pin) since last repair (work = recut and end = pin) >= 60",
    "any makeup (end = box and torque < 90 % * target_torque)",
    "any makeup (gauge = \"TG-07\") after 2026-03-01",
    "hours since today - 90 days > 200 h",
    "kin of \"K1-0417\" and due for inspection",
    "kin of \"K1-0417\" by heat",
    "kin of \"K1-0417\" by (heat, neighbour) and not on_hire",
    "heat = \"H4417\" and not due for inspection",
    "any run (well = \"Larkfield 2H\" and top_depth <= 2140 m and bottom_depth >= 2140 m)",
    "hardband = rough and any run (cased_hours > 0 h)",
    "wall is unknown or pin_stretch is unknown",
    "class as of 2025-06-30 = premium and class != premium",
];

#[test]
fn the_contract_is_read() {
    for text in CONTRACT {
        assert_eq!(read(text), text);
    }
    let last = "location = \"Yard B\" and string = \"K1\" and on_hire = false";
    assert_eq!(read(last), last);
}

#[test]
fn the_ladder_nests_as_it_reads() {
    for (text, same) in [
        ("a = 1 or b = 2 and c = 3", "a = 1 or (b = 2 and c = 3)"),
        ("not a = 1 and b = 2", "(not a = 1) and b = 2"),
        ("(a + b) * c > d - e - f", "((a + b) * c) > ((d - e) - f)"),
        ("a between 1 and 2 and b = 3", "(a between 1 and 2) and b = 3"),
        ("not not not a", "not a"),
        ("not not a", "a"),
        ("A AND Any Run (B) SINCE LAST Inspection", "A and any Run (B) since last Inspection"),
        ("a = 1 # remark with ( \" in it\nor b = 2", "a = 1 or b = 2"),
        ("-a * -b < -(c)", "(-a) * (-b) < -c"),
        ("a≤1 or b≥2 or c≠3", "a <= 1 or b >= 2 or c != 3"),
    ] {
        assert_eq!(
            read(text).replace(['(', ')'], ""),
            read(same).replace(['(', ')'], ""),
            "{text}"
        );
        assert_eq!(read(&read(text)), read(text), "{text}");
    }
    // The parentheses that matter stay.
    assert_eq!(read("(a or b) and c"), "(a or b) and c");
    assert_eq!(read("a - (b - c) > 1"), "a - (b - c) > 1");
    assert_eq!(read("not (a or b)"), "not (a or b)");
}

#[test]
fn numbers_units_and_words_are_told_apart() {
    for (text, same) in [
        ("a > 6 3/32 in", "a > 6 3/32 in"),
        ("a > 155mm", "a > 155 mm"),
        ("a > 82%", "a > 82 %"),
        ("a > 1.2e3 kg/m3", "a > 1.2e3 kg/m3"),
        ("a > 8 deg/100 ft", "a > 8 deg/100 ft"),
        ("a > 12 ft-lb and b", "a > 12 ft-lb and b"),
        ("a > 5 min or b", "a > 5 min or b"),
        ("a in (1 in, 2 in)", "a in (1 in , 2 in)"),
        ("a > 5 in or b in (1)", "a > 5 in or b in (1)"),
        ("x in last 2 years > 5", "x in last 2 years > 5"),
        ("hours above 8 in last 2 years > 5", "hours above 8 in last 2 years > 5"),
        ("a = 1500 h / 3", "a = 1500 h / 3"),
        ("a > today - 90 days", "a > today - 90 days"),
        ("a > 2026-03-04T06:30:00+02:00", "a > 2026-03-04T06:30:00+02:00"),
        ("any run since 2026-03-04 06:30", "any run since 2026-03-04 06:30"),
        ("place = joint and joint.class = joint", "place = joint and joint.class = joint"),
        ("verdict = over and orwall = android", "verdict = over and orwall = android"),
        ("text = \"say \"\"when\"\"\"", "text = \"say \"\"when\"\"\""),
        ("a = \"é🙂\"", "a = \"é🙂\""),
    ] {
        assert_eq!(read(text), same);
    }
    assert_eq!(
        read_value(&Text::typed("hours since last inspection (covers = wall) * 2"))
            .unwrap()
            .0
            .to_string(),
        "hours since last inspection (covers = wall) * 2"
    );
}

#[test]
fn foreign_habits_get_a_hint_each() {
    for (text, hint) in [
        ("a == 1", "write ="),
        ("a <> 1", "write !="),
        ("a => 1", "write >="),
        ("a =< 1", "write <="),
        ("a && b", "write and"),
        ("a || b", "write or"),
        ("!a", "write not"),
        ("class:premium", "write ="),
        ("string = 'K1'", "write \"K1\""),
        ("a is null", "write is unknown"),
        ("string is none", "write = none"),
        ("a =~ \"x\"", "write like"),
        ("od > 5\"", "write 5 in"),
    ] {
        assert!(refused(text).contains(&format!("hint: {hint}")), "{text}:\n{}", refused(text));
        assert_eq!(kind(text), ErrorKind::Foreign, "{text}");
    }
    // All of them at once.
    assert_eq!(refused("a == 1 && b <> 'x'").matches("hint:").count(), 4);
}

#[test]
fn errors_say_what_was_expected_in_words_of_the_language() {
    assert_eq!(
        refused("class = premium and"),
        "nothing follows and\n  class = premium and\n                  ^^^\nhint: leave it out\n"
    );
    assert!(refused("wall <").contains("the filter ends here; expected a value"));
    assert_eq!(
        refused("a < b < c"),
        "two comparisons in a row have no meaning\n  a < b < c\n        ^^^\n\
         hint: write and b before the second\n"
    );
    assert!(refused("max dogleg > 8 deg/100ft").contains("did you mean max_dogleg?"));
    assert!(refused("rotating hours > 8 h").contains("did you mean rotating_hours?"));
    assert!(refused("any run [a = 1]").contains("only round brackets"));
    assert!(refused("a = \"x").contains("never closed"));
    assert!(refused("any run (a = 1").contains("this parenthesis is never closed"));
    assert!(refused("a = 1)").contains("this parenthesis closes nothing"));
    assert!(refused("   # nothing").contains("nothing is asked"));
    assert!(refused("a = 1/0").contains("divides by zero"));
    for text in ["a ~ b", "since", "due for", "max x over", "a between 1", "kin of K1"] {
        let shown = refused(text);
        for rule in ["named_value", "kw_", "_op", "Rule", "EOI"] {
            assert!(!shown.contains(rule), "{shown}");
        }
    }
}

#[test]
fn limits_are_ordinary_errors() {
    let deep = |n: usize| format!("{}a = 1{}", "(".repeat(n), ")".repeat(n));
    assert_eq!(read(&deep(MAX_DEPTH)), "a = 1");
    assert_eq!(kind(&deep(MAX_DEPTH + 1)), ErrorKind::Limit);
    assert_eq!(kind(&deep(4_000)), ErrorKind::Limit);
    assert_eq!(kind(&"x".repeat(MAX_BYTES + 1)), ErrorKind::Limit);
    assert_eq!(kind("a = \"\0\""), ErrorKind::Limit);
    assert_eq!(kind(&vec!["a"; 60].join(" + ")), ErrorKind::Limit);
    assert_eq!(kind("a like \"*a*a*a*a*a*a*a*a*a*\""), ErrorKind::Limit);
    let history = |n: usize| format!("{}a = 1{}", "any run (".repeat(n), ")".repeat(n));
    assert!(read(&history(MAX_DEPTH)).starts_with("any run (any run ("));
}

#[test]
fn hostile_text_ends_soon() {
    let quick = |what: &str, text: &str| {
        let start = Instant::now();
        let _ = read_filter(&Text::typed(text));
        let taken = start.elapsed();
        assert!(taken < Duration::from_millis(1_500), "{what}: {taken:?}");
    };
    quick("a megabyte", &"a or ".repeat(200_000));
    quick("100,000 nots", &"not ".repeat(100_000));
    quick("5,000 ors", &vec!["a = 1"; 5_000].join(" or "));
    // As many as the length allows.
    assert!(read(&format!("{}a", "not ".repeat(2_040))).starts_with('a'));
    assert!(read(&vec!["a=1"; 1_000].join(" or ")).starts_with("a = 1 or"));
    // Alternatives that share a beginning, nested, and broken at the very end.
    for open in [
        "(",
        "any run (",
        "a in (",
        "count runs (",
        "a of latest run (",
        "not (",
        "-(",
        "any run since last run (",
        "a since last run (",
        "max a over runs (",
    ] {
        quick(open, &open.repeat(MAX_DEPTH));
        quick(open, &format!("{}a", open.repeat(MAX_DEPTH)));
        quick(open, &format!("{}a = 1{}", open.repeat(MAX_DEPTH), " x)".repeat(MAX_DEPTH)));
    }
    for soup in [
        "\"",
        "';--",
        "); DROP TABLE joint; --",
        "🙂",
        "\u{202e}",
        "a\u{0}b",
        "((((",
        "#",
        "1e999999999",
    ] {
        quick(soup, soup);
        quick(soup, &soup.repeat(500));
    }
}

#[test]
fn the_deepest_tree_fits_a_small_stack() {
    let deep = format!("{}a = 1{}", "not (".repeat(MAX_DEPTH), ")".repeat(MAX_DEPTH));
    std::thread::Builder::new()
        .stack_size(1 << 20)
        .spawn(move || {
            let tree = read_filter(&Text::typed(&deep)).unwrap();
            assert!(tree.to_string().starts_with("not (not ("));
        })
        .unwrap()
        .join()
        .unwrap();
}

/// Pieces of the language, to be thrown together.
fn soup() -> impl Strategy<Value = String> {
    let piece = prop::sample::select(vec![
        "any",
        "no",
        "every",
        "latest",
        "first",
        "run",
        "runs",
        "inspection",
        "(",
        ")",
        "and",
        "or",
        "not",
        "=",
        "!=",
        "<",
        ">=",
        "in",
        "between",
        "like",
        "is",
        "unknown",
        "since",
        "last",
        "before",
        "after",
        "from",
        "to",
        "as",
        "of",
        "above",
        "over",
        "count",
        "sum",
        "max",
        "mean",
        "due",
        "for",
        "kin",
        "today",
        "2026-03-01",
        "6 3/32",
        "8",
        "deg/100ft",
        "h",
        "%",
        "\"K1\"",
        "'x'",
        "class",
        "hours",
        "max_dogleg",
        "joint.",
        "joint.class",
        ",",
        "+",
        "-",
        "*",
        "/",
        "==",
        "&&",
        "!",
        ":",
        "#",
        "\n",
        "é",
        "\"",
        "0.5e3",
    ]);
    prop::collection::vec((piece, prop::bool::ANY), 0..40).prop_map(|pieces| {
        let mut text = String::new();
        for (piece, blank) in pieces {
            text.push_str(piece);
            if blank {
                text.push(' ');
            }
        }
        text
    })
}

proptest! {
    #[test]
    fn any_text_gives_a_tree_or_errors(text in "\\PC{0,200}") {
        if let Err(errors) = read_filter(&Text::typed(&text)) {
            prop_assert!(!errors.is_empty());
            for e in errors {
                e.render(40);
            }
        }
    }

    #[test]
    fn what_is_read_prints_and_reads_back(text in soup()) {
        if let Ok(tree) = read_filter(&Text::typed(&text)) {
            let printed = tree.to_string();
            let again = read_filter(&Text::typed(&printed));
            prop_assert!(again.is_ok(), "{text} printed as {printed}");
            prop_assert_eq!(again.unwrap().to_string(), printed);
        }
    }
}
