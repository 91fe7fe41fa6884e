//! What people see on screens of three widths.

use std::collections::HashSet;

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

/// Of the columns of all the rules those stay that tell the joints apart, as many as there is room for,
/// their words and numbers whole; what the filter itself asks about always stays.
#[test]
fn columns_that_tell_little_go_before_words_are_broken() {
    let columns = |out: &str| {
        let (_, rest) = out.split_once('─').unwrap();
        let first = rest.lines().find(|l| l.starts_with("K1-0556")).unwrap();
        first.split("  ").filter(|cell| !cell.trim().is_empty()).count()
    };
    let mut widest = 0;
    for width in [80, 120, 200] {
        let out = Desk::demo().wide(width).run(&["find", "due for inspection"]).ok();
        assert!(out.contains("too narrow for: ") && out.contains("--wide"), "{out}");
        let shown = columns(&out);
        assert!(shown > widest && shown >= 4, "{width}: {out}");
        widest = shown;
        let (head, _) = out.split_once('─').unwrap();
        assert!(head.lines().count() <= 4, "{out}");
        // That it never changed says nothing of why a joint is due.
        let asked = "due for inspection and hardband_height > 0 in";
        let out = Desk::demo().wide(width).run(&["find", asked]).ok();
        assert!(out.split_once('─').unwrap().0.contains("hardband"), "{out}");
    }
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

/// What is left out is named by its heading, what a wide column leaves is used, and of an interval both
/// ends stand or neither.
#[test]
fn what_is_left_out_is_named_as_it_is_read() {
    let run = |width, args: &[&str]| Desk::demo().wide(width).run(args).ok();
    let out = run(80, &["entries", "--kind", "decision"]);
    assert!(out.contains("too narrow for: written; --wide"), "{out}");
    let out = run(120, &["assess", "K1-0431"]);
    let heads = out.lines().find(|l| l.starts_with("looked for")).unwrap();
    assert!(heads.ends_with("entry") && out.contains("too narrow for: by; --wide"), "{out}");
    let out = run(200, &["assess", "K1-0431"]);
    let heads = out.lines().find(|l| l.starts_with("looked for")).unwrap();
    assert!(heads.ends_with("entry") && heads.contains("  by  "), "{out}");
    for width in (60..160).step_by(9) {
        let out = run(width, &["trace", "K1-0417"]);
        let shown: Vec<&str> = out.lines().filter(|l| l.starts_with("next call ")).collect();
        let [heads] = shown[..] else { panic!("{out}") };
        assert_eq!(heads.contains("4 in 5"), heads.contains(" to "), "{width}: {out}");
    }
    // A doubt about the comparison stands below its joint on every screen.
    let out = run(80, &["statement", "H-36"]);
    assert!(out.contains("\n    found: h2s") && out.contains("doubtful: not inspected"), "{out}");
    assert!(out.contains("all of them: out 2025-08-18; back 2025-10-06"), "{out}");
}

/// Commands of the README's tour that only ask, and need no file of the reader's.
pub fn tour() -> Vec<String> {
    let writes = [
        "-o ",
        ">",
        " load ",
        "bundle",
        "publish",
        "rates.toml",
        "rack.csv",
        "right.csv",
        "mine.csv",
    ];
    let asks = |line: &String| {
        let enters = line.contains(" enter ") && !line.contains("--dry-run");
        line != "pipelore find" && !enters && !writes.iter().any(|w| line.contains(w))
    };
    super::readme::commands().into_iter().filter(asks).collect()
}

/// Widths at which people read: three screens, and a pipe.
const WIDTHS: [Option<usize>; 4] = [Some(80), Some(120), Some(200), None];

/// A width at which nothing is folded and no column is left out.
const BOUNDLESS: usize = 4000;

/// What a line of the shell prints on a screen.
fn shown(line: &str, columns: Option<usize>) -> String {
    let path = std::path::Path::new(env!("CARGO_BIN_EXE_pipelore")).parent().unwrap().to_owned();
    let path = format!("{}:{}", path.display(), std::env::var("PATH").unwrap_or_default());
    let mut shell = std::process::Command::new("sh");
    shell.args(["-c", line]).current_dir(super::cli::demo_dir()).env("PATH", &path);
    shell.env("PIPELORE_BOOK", "demo.pipelore").env("PIPELORE_NOW", super::cli::NOW);
    shell.env("PIPELORE_AUTHOR", "tester").env("TZ", "UTC").env_remove("COLUMNS");
    shell.envs(columns.map(|n: usize| ("COLUMNS", n.to_string())));
    let run = shell.output().unwrap();
    let out = String::from_utf8_lossy(&run.stdout).into_owned();
    assert!(!out.is_empty(), "{line}: {}", String::from_utf8_lossy(&run.stderr));
    out
}

/// Words of the program's insides and of bookkeeping that no screen may show.
const INSIDE: [&str; 11] = [
    "projection",
    "NULL",
    "Some(",
    "None",
    "opening",
    "identity",
    " 1 joints",
    " 1 calls",
    "in in ",
    "entrys",
    "inspection(s)",
];

/// What is wrong with a screen, held against the same answer where there is room for all of it: a line
/// that is too wide, a word of bookkeeping, a word of up to 12 letters or a number that is split.
fn wrong_with(out: &str, columns: Option<usize>, whole: &HashSet<&str>) -> Vec<String> {
    let mut wrong = Vec::new();
    // A hash is what it is.
    let hash = |w: &str| w.len() >= 64 && w.bytes().all(|b| b.is_ascii_hexdigit());
    let wide = |l: &&str| {
        let rule = l.chars().all(|c| c == '─');
        let most = columns.unwrap_or(if rule { 80 } else { usize::MAX });
        l.width() > most && !l.split_whitespace().any(hash)
    };
    wrong.extend(out.lines().find(wide).map(|l| format!("wide: {l}")));
    wrong.extend(INSIDE.iter().filter(|w| out.contains(*w)).map(|w| format!("says '{w}'")));
    let Some(_) = columns else { return wrong };
    let long: Vec<&&str> = whole.iter().filter(|w| w.width() > 12).collect();
    // What was left out is named on a narrow screen alone.
    let lines = out.lines().scan(false, |naming, line| {
        *naming = line.starts_with("note: too narrow") || *naming && line.starts_with("      ");
        Some(if *naming { "" } else { line })
    });
    for line in lines {
        let chart = line.chars().any(|c| ('\u{2500}'..='\u{28ff}').contains(&c));
        for cell in line.split("  ").map(str::trim).filter(|_| !chart) {
            if cell.ends_with('≥') || cell.starts_with('%') {
                wrong.push(format!("a number is split: {line}"));
            }
            let split = cell.split_whitespace().find(|word| {
                !whole.contains(word) && !long.iter().any(|l| word.width() > 3 && l.contains(word))
            });
            wrong.extend(split.map(|word| format!("'{word}' is no word of the whole: {line}")));
        }
    }
    wrong
}

/// The answers of some lines of the shell at each width, and what is wrong with them.
fn looked_at(
    lines: &[String],
    mut see: impl FnMut(&str, &[(Option<usize>, String)]),
) -> Vec<String> {
    let mut wrong = Vec::new();
    for line in lines {
        let whole = shown(line, Some(BOUNDLESS));
        let words: HashSet<&str> = whole.split_whitespace().collect();
        let screens: Vec<_> = WIDTHS.iter().map(|width| (*width, shown(line, *width))).collect();
        for (width, out) in &screens {
            let all = wrong_with(out, *width, &words);
            wrong.extend(all.into_iter().take(3).map(|w| format!("{line} at {width:?}: {w}")));
        }
        see(line, &screens);
    }
    wrong
}

/// Lines of a screen that a snapshot holds, by its width.
const fn kept(width: Option<usize>) -> usize {
    match width {
        Some(80) => 40,
        _ => 16,
    }
}

/// On screens of three widths and in a pipe: nothing is wider than the screen, no word or number is
/// split, and no word of bookkeeping or of the program's insides stands in an answer. The snapshots are
/// to be looked at.
#[test]
fn the_tour_fits_every_screen() {
    let tour = tour();
    assert!(tour.len() > 45, "{tour:#?}");
    let wrong = looked_at(&tour, |line, screens| {
        let mut all = String::new();
        for (width, out) in screens {
            let told = width.map_or_else(|| "a pipe".to_owned(), |w| format!("{w} columns"));
            all.push_str(&format!("──── {told}\n"));
            let lines: Vec<&str> = out.lines().collect();
            for text in lines.iter().take(kept(*width)) {
                // A pipe has no width; a snapshot has one.
                all.extend(text.chars().take(200));
                all.push('\n');
            }
            match lines.len().saturating_sub(kept(*width)) {
                0 => {}
                more => all.push_str(&format!("… {more} more\n")),
            }
        }
        let name: String = line
            .trim_start_matches("pipelore ")
            .chars()
            .map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '_' })
            .collect();
        let name = name.split('_').filter(|w| !w.is_empty()).collect::<Vec<_>>().join("_");
        let name = format!("screen_{}", &name[..name.len().min(60)]);
        insta::with_settings!({
            description => line,
            filters => [(r"(version +)\d+\b", "${1}N"), (r"pipelore \d+\.\d+\.\d+", "pipelore X.Y.Z"), (r"[0-9a-f]{64}", "HASH"), (r"[0-9a-f]{12,16}\b", "DIGEST")],
            omit_expression => true,
        }, {
            insta::assert_snapshot!(name, all);
        });
    });
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The same of every example of the page on the language, without snapshots.
#[test]
fn examples_of_the_language_fit_every_screen() {
    let page = shown("pipelore language", None);
    let examples = page.lines().filter_map(|l| l.strip_prefix("    "));
    let quoted = |text: &str| format!("pipelore find '{}'", text.replace('\'', "'\\''"));
    let lines: Vec<String> = examples.filter(|l| !l.starts_with(' ')).map(quoted).collect();
    assert!(lines.len() > 25, "{lines:#?}");
    let wrong = looked_at(&lines, |_, _| ());
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What a newcomer asks stands in the README as it is asked, and is answered.
#[test]
fn a_newcomer_is_answered() {
    let desk = Desk::demo_copy();
    let readme = std::fs::read_to_string("README.md").unwrap();
    let asked = |words: &[&str]| {
        let quote = |w: &&str| if w.contains(' ') { format!("'{w}'") } else { (*w).to_owned() };
        let typed: Vec<String> = words.iter().map(quote).collect();
        assert!(readme.contains(&format!("pipelore {}", typed.join(" "))), "{typed:?}");
        desk.run(words).ok()
    };
    let bent = asked(&["find", "any run (hours above 8 deg/100ft > 4 h)"]);
    assert!(bent.contains("K1-0417") && bent.contains("K1-R07") && bent.contains("[h]"), "{bent}");
    let due = asked(&["due", "--string", "K1", "--within", "30 days", "--by", "reason"]);
    assert!(due.contains("back from hire") && due.contains("joints"), "{due}");
    desk.run(&[
        "--now",
        "2026-06-14T09:00:00+01:00",
        "enter",
        "note",
        "serial=K1-0401",
        "text=seen",
    ])
    .ok();
    let journal = asked(&["journal", "yesterday"]);
    assert!(journal.contains("note") && journal.contains("K1-0401") && journal.contains("tester"));
    assert!(asked(&["list", "wells"]).contains("Larkfield 2H"));
    // A looser limit says whom it would release, and releases nobody yet.
    let shipped = desk.run(&["limits", "--example"]).ok();
    let premium = |line: &str| {
        let of = line.starts_with("wear_wall,") && line.contains(",premium,>=,80,");
        if of { line.replace(",80,", ",75,") } else { line.to_owned() }
    };
    let looser = shipped.lines().map(premium).collect::<Vec<_>>().join("\n");
    assert_ne!(looser, shipped);
    desk.write("mine.csv", looser);
    let released = asked(&["limits", "--use", "mine.csv", "--dry-run"]);
    assert!(released.contains("K1-0418") && released.contains("Premium"), "{released}");
    assert!(released.contains("nothing was written"), "{released}");
}
