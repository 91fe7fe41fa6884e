//! Trace, kin, dossier: the failure investigator's day, on the demo book and on a hostile one.

use std::collections::BTreeSet;
use std::path::PathBuf;

use serde_json::Value;
use sha2::{Digest, Sha256};
use tempfile::TempDir;

use super::cli::{Desk, steady};

/// A page written into a folder of its own.
struct Written {
    text: String,
    said: String,
    _dir: TempDir,
}

fn write(desk: &Desk, words: &[&str]) -> Written {
    let dir = tempfile::tempdir().unwrap();
    let file: PathBuf = dir.path().join("page.html");
    let mut all = words.to_vec();
    all.extend(["-o", file.to_str().unwrap()]);
    let said = desk.run(&all).ok();
    Written { text: std::fs::read_to_string(&file).unwrap(), said, _dir: dir }
}

/// Nothing is fetched, nothing runs, every chart is sound and says what it shows.
#[track_caller]
fn stands_alone(page: &str) {
    let lower = page.to_lowercase();
    for bad in [
        "<script",
        "javascript:",
        "url(",
        "@import",
        "<iframe",
        "<link",
        "<img",
        " src=",
        "onload=",
    ] {
        assert!(!lower.contains(bad), "{bad} in the page");
    }
    let svg = "http://www.w3.org/2000/svg";
    assert_eq!(
        lower.matches("http").count(),
        lower.matches(svg).count() + 1,
        "an address in the page"
    );
    assert!(page.contains("http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'"));
    assert!(page.contains("<html lang=\"en\">") && page.contains("prefers-color-scheme: dark"));
    for part in page.split("<svg class=\"chart").skip(1) {
        let one = format!("<svg class=\"chart{}</svg>", part.split("</svg>").next().unwrap());
        let read = roxmltree::Document::parse(&one).unwrap();
        let root = read.root_element();
        assert_eq!(root.attribute("role"), Some("img"));
        assert!(root.attribute("aria-label").is_some_and(|l| l.len() > 20), "{one:.200}");
    }
    let mut ids = BTreeSet::new();
    for part in page.split(" id=\"").skip(1) {
        assert!(ids.insert(part.split('"').next().unwrap().to_owned()), "an id twice");
    }
    for part in page.split("href=\"#").skip(1) {
        let to = part.split('"').next().unwrap();
        assert!(ids.contains(to), "nothing stands at {to}");
    }
}

fn number(v: &Value) -> f64 {
    v.as_f64().or_else(|| v["value"].as_f64()).unwrap_or_else(|| panic!("{v}"))
}

#[test]
fn the_dossier_of_the_failed_joint_tells_its_story() {
    let desk = Desk::demo();
    let page = write(&desk, &["dossier", "K1-0417"]);
    stands_alone(&page.text);
    // Which runs used up most life, what the last inspection could not see, which sisters to pull.
    for told in [
        "K1-R07 alone added 1.0208",
        "had no method that looks for slip cracks",
        "They were looked for last on 2025-10-21",
        "K1-0411",
        "it names no cause",
        "Damage against time",
        "Turns by dogleg",
        "Wall against time",
        "Tool joint OD against time",
        "Make-up torque against target",
        "Damage along the string in K1-R07",
    ] {
        assert!(page.text.contains(told), "{told}");
    }
}

#[test]
fn a_dossier_proves_itself() {
    let desk = Desk::demo();
    let page = write(&desk, &["dossier", "K1-0417"]);
    let hash = page.said.split_whitespace().last().unwrap().to_owned();
    assert_eq!(hash.len(), 64, "{}", page.said);
    assert!(page.text.matches(&hash).count() >= 3, "head, foot and how to verify");
    desk.run(&["verify", "--head", &hash]).ok();
    let file = include_bytes!("../../samples/failure.csv");
    let digest = pipelore::ledger::hex(&Sha256::digest(file));
    assert!(page.text.contains(&digest), "the digest of the failure report");
    // Every entry that the timeline names stands in the list with its hash.
    let data = desk.run(&["dossier", "K1-0417", "--json"]).json();
    let entries: BTreeSet<&str> =
        data["entries"].as_array().unwrap().iter().map(|e| e["entry"].as_str().unwrap()).collect();
    for line in data["timeline"].as_array().unwrap() {
        assert!(entries.contains(line["entry"].as_str().unwrap()), "{line}");
    }
    for e in data["entries"].as_array().unwrap() {
        assert_eq!(e["hash"].as_str().unwrap().len(), 64, "{e}");
    }
}

#[test]
fn damage_is_told_whole_however_it_is_cut() {
    let desk = Desk::demo();
    let t = desk.run(&["trace", "K1-0417", "--json"]).json();
    let whole = number(&t["joint"]["damage"]);
    let sum = |name: &str, of: &str| -> f64 {
        t[name].as_array().unwrap_or_else(|| panic!("{name}")).iter().map(|r| number(&r[of])).sum()
    };
    let by_run = sum("damage_by_run", "damage");
    let by_operation = sum("damage_by_operation", "value");
    assert!((by_run - whole).abs() < 1e-9 * whole, "{by_run} {whole}");
    // Pieces of a profile are cut at its depths too: its sums differ in the last digits.
    assert!((by_operation - whole).abs() < 1e-6 * whole, "{by_operation} {whole}");
    let worst = t["worst_exposures"].as_array().unwrap();
    assert_eq!(worst.len(), 10);
    assert!(worst.windows(2).all(|w| number(&w[0]["damage"]) >= number(&w[1]["damage"])));
    let by_depth = sum("damage_by_depth", "value");
    assert!(by_depth <= whole * (1.0 + 1e-6) && by_depth > 0.95 * whole, "{by_depth}");
}

#[test]
fn a_joint_that_did_not_fail_has_no_failure_in_its_trace() {
    let desk = Desk::demo();
    let t = desk.run(&["trace", "K1-0431", "--json"]).json();
    assert!(t["failure"].is_null() && t["worst_exposures"].is_null());
    let some = desk.run(&["trace", "K1-0417", "--only", "runs,inspections", "--json"]).json();
    assert!(some["failure"].is_null());
    for line in some["timeline"].as_array().unwrap() {
        assert!(["run", "inspection"].contains(&line["what"].as_str().unwrap()), "{line}");
    }
}

#[test]
fn the_record_is_told_in_the_units_asked_for() {
    let out = Desk::demo().wide(100).run(&["trace", "K1-0417", "--units", "metric"]).ok();
    assert!(out.contains("bend 8.6 deg/30m") && out.contains(" kN"), "{out}");
    assert!(out.contains("Larkfield 2H 700.0–800.0 m"), "{out}");
}

#[test]
fn what_the_record_says_reads_well() {
    for width in [80, 160] {
        let out = Desk::demo().wide(width).run(&["trace", "K1-0417"]).ok();
        let from = out.find("What the record says").unwrap();
        insta::assert_snapshot!(format!("failure_{width}"), steady(&out[from..]));
    }
}

#[test]
fn kin_are_ranked_and_each_reason_is_found_by_the_filter_too() {
    let desk = Desk::demo();
    // On the day on which the string came back, and its joints wait to be searched.
    let day = ["--as-of", "2026-05-26"];
    let out =
        desk.run(&[&["kin", "K1-0417", "--limit", "500", "--json"], &day[..]].concat()).json();
    let kin = out["kin"].as_array().unwrap();
    let points: Vec<f64> = kin.iter().map(|k| number(&k["points"])).collect();
    assert!(points.windows(2).all(|w| w[0] >= w[1]));
    let first: Vec<&str> = kin.iter().take(2).map(|k| k["serial"].as_str().unwrap()).collect();
    // The joints on either side of it, of its own heat.
    assert_eq!(
        first.iter().copied().collect::<BTreeSet<_>>(),
        BTreeSet::from(["K1-0416", "K1-0418"])
    );
    for (word, said) in
        [("heat", "heat H4417"), ("neighbour", "next to it"), ("gauge", "gauge "), ("run", " runs")]
    {
        let filter = format!("kin of \"K1-0417\" by {word}");
        let found = desk.run(&[&["find", &filter, "--json"], &day[..]].concat()).json();
        let found: BTreeSet<&str> = found["joints"]
            .as_array()
            .unwrap()
            .iter()
            .map(|j| j["serial"].as_str().unwrap())
            .collect();
        let told: BTreeSet<&str> = kin
            .iter()
            .filter(|k| {
                let shares = k["shares"].as_str().unwrap();
                match word {
                    "heat" => shares.split("; ").any(|s| s == said),
                    "run" => shares.split("; ").any(|s| s.ends_with(said) && s.contains(" of ")),
                    _ => shares.split("; ").any(|s| s.starts_with(said)),
                }
            })
            .map(|k| k["serial"].as_str().unwrap())
            .collect();
        assert!(!told.is_empty(), "{word}");
        assert_eq!(found, told, "{word}");
    }
    assert!(out["inspect_first"].as_array().unwrap().len() > 5);
    for s in out["inspect_first"].as_array().unwrap() {
        assert_ne!(s["serial"], "K1-0416", "a joint out of service is not to be run, nor searched");
        assert!(
            s["reason"].as_str().unwrap().contains("slip cracks not looked for since 2025-10-21")
        );
    }
    insta::assert_snapshot!(
        "kin_100",
        Desk::demo().wide(100).run(&[&["kin", "K1-0417", "--limit", "6"], &day[..]].concat()).ok()
    );
}

#[test]
fn a_string_is_one_page_with_an_index() {
    let desk = Desk::demo();
    let page = write(&desk, &["dossier", "--string", "K2"]);
    stands_alone(&page.text);
    let data = desk.run(&["dossier", "--string", "k2", "--json"]).json();
    let index = data["index"].as_array().unwrap();
    assert!(index.len() > 20, "{}", index.len());
    for row in index {
        let serial = row["serial"].as_str().unwrap();
        let lead = page.text.split("<td class=\"t\"><a href=\"#").skip(1);
        let to = lead
            .filter_map(|p| p.split_once("\">"))
            .find(|(_, rest)| rest.starts_with(&format!("{serial}<")))
            .map(|(to, _)| to);
        let id = to.unwrap_or_else(|| panic!("{serial} is not in the index"));
        assert!(
            page.text
                .contains(&format!("<section id=\"{id}\" class=\"joint\">\n<h2>Joint {serial},")),
            "{serial}"
        );
    }
    let err = desk.run(&["dossier", "--string", "K9", "--json"]).fails(2);
    assert!(err.contains("no joint of the book stands in string K9"), "{err}");
}

#[test]
fn a_run_is_a_page() {
    let page = write(&Desk::demo(), &["exposure", "--run", "K1-R07"]);
    stands_alone(&page.text);
    for told in [
        "Well path from the side",
        "Dogleg of the hole by depth",
        "Where each joint was",
        "Tension along the string",
        "Damage along the string in K1-R07",
        "k1-r07-operations.csv",
        "survey-larkfield-2h.csv",
    ] {
        assert!(page.text.contains(told), "{told}");
    }
    let depth = Desk::demo().wide(100).run(&["exposure", "K1-0417", "--depth"]).ok();
    insta::assert_snapshot!("exposure_depth_100", depth);
}

#[test]
fn a_page_is_never_written_over() {
    let desk = Desk::demo();
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("k.html");
    std::fs::write(&file, "mine").unwrap();
    let err = desk.run(&["dossier", "K1-0417", "-o", file.to_str().unwrap()]).fails(2);
    assert!(err.contains("is there already"), "{err}");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), "mine");
    let err = desk.run(&["dossier", "K1-0417"]).fails(2);
    assert!(err.contains("--output"), "{err}");
}

/// Words that a page must not obey.
const HOSTILE: &str =
    "\"><script>alert(1)</script><img src=x onerror=alert(2)> {{ 7*7 }} {% raw %} ' &amp;";

#[test]
fn hostile_serials_and_notes_are_inert() {
    let desk = Desk::with_book();
    let serial = "H-1<b>&'x\"";
    let made = desk.run(&[
        "enter",
        "joint",
        &format!("serial={serial}"),
        "component=drill pipe",
        "new=yes",
        "od=5 in",
        "wall=0.362 in",
        "grade=G-105",
        "length=31 ft",
        "connection=NC50",
        "date=2026-01-02",
        &format!("heat={HOSTILE}"),
        &format!("maker={HOSTILE}"),
        "string=S<i>1",
        "location=</title><script>x</script>",
    ]);
    made.ok();
    desk.run(&[
        "enter",
        "note",
        &format!("serial={serial}"),
        "date=2026-01-03",
        &format!("note={HOSTILE}"),
    ])
    .ok();
    for words in [vec!["dossier", serial], vec!["dossier", "--string", "S<i>1"]] {
        let page = write(&desk, &words).text;
        let lower = page.to_lowercase();
        for bad in ["<script", "<img", "<b>&'", "<i>1", "</title><"] {
            assert!(!lower.contains(bad), "{bad}");
        }
        assert!(page.contains("&lt;script&gt;alert(1)"), "the words are there, as words");
        assert!(page.contains("{{ 7*7 }}") && !page.contains(" 49 "), "no template in a note runs");
    }
}

#[test]
fn a_joint_is_followed_through_a_new_mark() {
    let desk = Desk::with_book();
    let joint = [
        "enter",
        "joint",
        "serial=A-1",
        "component=drill pipe",
        "new=yes",
        "od=5 in",
        "wall=0.362 in",
    ];
    let rest = ["grade=G-105", "length=31 ft", "connection=NC50", "date=2026-01-02"];
    desk.run(&[&joint[..], &rest[..]].concat()).ok();
    desk.run(&[
        "enter",
        "identity",
        "serial=A-1",
        "change=remark",
        "new_serial=B-7",
        "date=2026-02-01",
    ])
    .ok();
    let trace = desk.run(&["trace", "A-1"]).ok();
    assert!(trace.starts_with("B-7, "), "{trace}");
    assert!(trace.contains("also known as") && trace.contains("A-1"), "{trace}");
    assert!(trace.contains("marked B-7 from now on"), "{trace}");
    assert_eq!(trace, desk.run(&["trace", "B-7"]).ok());
}

/// Relative luminance of `#rrggbb` or `#rgb` (WCAG 2.1).
fn luminance(colour: &str) -> f64 {
    let hex = colour.trim_start_matches('#');
    let wide: String =
        if hex.len() == 3 { hex.chars().flat_map(|c| [c, c]).collect() } else { hex.to_owned() };
    let channel = |at: usize| {
        let c = f64::from(u8::from_str_radix(&wide[at..at + 2], 16).unwrap()) / 255.0;
        if c <= 0.03928 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * channel(0) + 0.7152 * channel(2) + 0.0722 * channel(4)
}

/// Contrast by WCAG 2.1: 4.5 for text (1.4.3), 3 for what a chart draws (1.4.11), in light, in dark
/// and on paper.
#[test]
fn contrast_is_enough_in_light_in_dark_and_on_paper() {
    let style = include_str!("../../src/render/html/base.html");
    let mut themes = 0;
    for block in style.split(":root {").skip(1) {
        let body = block.split('}').next().unwrap();
        let colour = |name: &str| -> f64 {
            let from = body.find(&format!("--{name}: #")).unwrap_or_else(|| panic!("{name}"));
            let value = body[from..].split_once(": ").unwrap().1.split(';').next().unwrap();
            luminance(value)
        };
        let contrast = |a: f64, b: f64| (a.max(b) + 0.05) / (a.min(b) + 0.05);
        let paper = colour("paper");
        for name in ["ink", "soft", "limit", "warn", "link"] {
            assert!(
                contrast(colour(name), paper) >= 4.5,
                "{name} {}",
                contrast(colour(name), paper)
            );
        }
        assert!(contrast(colour("warn"), colour("warn-tint")) >= 4.5);
        assert!(contrast(colour("ink"), colour("warn-tint")) >= 4.5);
        for name in ["s0", "s1", "s2", "s3"] {
            assert!(contrast(colour(name), paper) >= 3.0, "{name}");
            assert!(contrast(colour(name), colour("band")) >= 3.0, "{name} on a run");
        }
        themes += 1;
    }
    assert_eq!(themes, 3);
}

/// A page that looks back says from where, and is made today all the same.
#[test]
fn a_page_that_looks_back_says_so() {
    let desk = Desk::demo_copy();
    let page = |args: &[&str], file: &str| {
        desk.run(&[args, &["-o", file]].concat()).ok();
        std::fs::read_to_string(desk.path(file)).unwrap()
    };
    let back = ["--as-of", "2026-02-20"];
    for (n, args) in
        [&["dossier", "K1-0417"][..], &["statement", "H-36"], &["exposure", "--run", "K1-R06"]]
            .into_iter()
            .enumerate()
    {
        let text = page(&[args, &back].concat(), &format!("{n}.html"));
        assert!(text.contains("Made 2026-06-15 "), "{args:?}");
        assert!(!text.contains("Made 2026-02-20"), "{args:?}");
        for words in ["as of", "entries of later, not counted", "what was true on 2026-02-20"] {
            assert!(text.contains(words), "{words}: {args:?}");
        }
        let text = page(args, &format!("{n}-now.html"));
        assert!(!text.contains("entries of later"), "{args:?}");
    }
}
