//! Every command that says whether a joint may run says the same. Which commands those are the
//! program tells: each declares it in the table of commands, and its help shows it; one that is added
//! and says so without being asked here fails this test.

use serde_json::Value;

use super::cli::{Desk, Ran};
use super::fitness::{ALL_METHODS, answer, fit_joint, inspect, inspection, yard};

/// What the help of a command says that tells whether joints are fit.
const TOLD: &str = "Whether a joint is fit to run is what the record";

/// A way to ask whether A-1 may run: the command, and its answer in the words of `assess`.
type Door = (&'static str, fn(&Desk) -> String);

const DOORS: &[Door] = &[
    ("assess", |d| answer(d, &[]).fit),
    ("trace", |d| fact(&json(&d.run(&["trace", "A-1", "--json"])))),
    ("dossier", |d| fact(&json(&d.run(&["dossier", "A-1", "--json"])))),
    ("rate", |d| fact(&json(&d.run(&["rate", "joint", "A-1", "--json"])))),
    ("find", find),
    ("why", why),
    ("stock", stock),
    ("due", due),
    ("sheet", sheet),
    ("enter", enter),
    ("load", load),
    ("plan", plan),
];

/// A plan of a hole that nobody surveyed: no order comes of it, and each joint is told all the same.
fn plan(desk: &Desk) -> String {
    desk.write("plan-tally.csv", "Position,Serial\n1,A-1\n");
    desk.write(
        "plan.toml",
        "name = \"P-1\"\nwell = \"Quarry 9\"\ntally = \"plan-tally.csv\"\nhours = \"10 h\"\n\
         rotary_speed = \"60 rpm\"\ndepth_in = \"10 ft\"\ndepth_out = \"20 ft\"\n",
    );
    let told = json(&desk.run(&["plan", "plan.toml", "--json"]));
    let row = &told["left_out"][0];
    assert_eq!(row["serial"], "A-1", "{told}");
    named_in_short(row["crack_searches"].as_str().unwrap());
    row["fit"].as_str().unwrap().to_owned()
}

fn json(ran: &Ran) -> Value {
    serde_json::from_str(&ran.out).unwrap_or_else(|e| panic!("{e}: {}{}", ran.out, ran.err))
}

fn fact(told: &Value) -> String {
    searches_are_named(&told["crack_searches"]);
    told["fitness"]["fit"].as_str().unwrap_or_else(|| panic!("{told}")).to_owned()
}

/// Each search for cracks has its age, or says that it was never made.
fn searches_are_named(list: &Value) {
    let list = list.as_array().unwrap();
    assert!(!list.is_empty());
    for s in list {
        assert_eq!(s["searched"] == "never", s["age"].is_null(), "{s}");
    }
}

/// The same in a line.
fn named_in_short(text: &str) {
    for scope in ["body", "slip", "upset", "pin", "box", "heat checks"] {
        assert!(text.contains(scope), "{scope}: {text}");
    }
    assert!(text.contains(" d") || text.contains("never") || text.contains("FOUND"), "{text}");
}

fn word(told: &Value) -> String {
    match told.as_str() {
        Some("fit") => "fit",
        Some("restricted") => "fit with a restriction",
        Some("not_fit") => "not fit",
        _ => "cannot be said",
    }
    .to_owned()
}

fn find(desk: &Desk) -> String {
    let told = json(&desk.run(&["find", "serial = \"A-1\"", "--show", "serial, fit", "--json"]));
    let shown = word(&told["joints"][0]["fit"]);
    // What is shown and what is asked for are one.
    for (filter, means) in [
        ("fit = fit", "fit"),
        ("fit = restricted", "fit with a restriction"),
        ("fit = not_fit", "not fit"),
        ("fit is unknown", "cannot be said"),
    ] {
        let found = desk.joints(&format!("serial = \"A-1\" and {filter}"));
        assert_eq!(found.yes.len() == 1, shown == means, "{filter}: {shown}");
        let open = shown == "cannot be said" && means != shown;
        assert_eq!(found.open.len() == 1, open, "{filter}: {shown}");
    }
    shown
}

fn why(desk: &Desk) -> String {
    let asked = |filter: &str| {
        let ran = desk.run(&["why", "A-1", filter, "--json"]);
        json(&ran)["question"]["answer"].as_str().map(str::to_owned)
    };
    let means = [("fit", "fit"), ("restricted", "fit with a restriction"), ("not_fit", "not fit")];
    let holds = means.iter().find(|(w, _)| asked(&format!("fit = {w}")).as_deref() == Some("yes"));
    holds.map_or("cannot be said", |(_, means)| means).to_owned()
}

fn stock(desk: &Desk) -> String {
    let told = json(&desk.run(&["stock", "serial = \"A-1\"", "--all", "--json"]));
    let row = &told["stock"][0];
    let one = |name: &str| row[name] == 1;
    // It does not tell those with a restriction apart.
    match (one("fit"), one("cannot_be_said")) {
        (true, _) => answer(desk, &[]).fit,
        (false, true) => "cannot be said".to_owned(),
        (false, false) => "not fit".to_owned(),
    }
}

fn due(desk: &Desk) -> String {
    let told = json(&desk.run(&["due", "--json"]));
    let line = told["due"].as_array().unwrap().iter().find(|l| l["serial"] == "A-1");
    // Where nothing is called for it says nothing of the joint.
    line.map_or_else(
        || answer(desk, &[]).fit,
        |line| {
            named_in_short(line["crack_searches"].as_str().unwrap());
            line["fit"].as_str().unwrap().to_owned()
        },
    )
}

fn sheet(desk: &Desk) -> String {
    use calamine::{DataType, Reader, Xlsx, open_workbook};
    desk.run(&["sheet", "inspection", "--serials", "A-1", "-o", "a.xlsx"]).ok();
    let mut book: Xlsx<_> = open_workbook(desk.path("a.xlsx")).unwrap();
    std::fs::remove_file(desk.path("a.xlsx")).unwrap();
    let range = book.worksheet_range_at(0).unwrap().unwrap();
    let mut cells = range.rows().flatten().filter_map(|c| c.get_string());
    let told = cells.rfind(|c| c.contains("crack searches: ")).expect("a line of the joint");
    named_in_short(told);
    let words = ["fit with a restriction", "not fit", "cannot be said", "fit"];
    let at = |w: &&str| told.find(&format!("{w}:")).or_else(|| told.find(&format!("{w};")));
    (*words.iter().find(|w| at(w).is_some()).expect("an answer")).to_owned()
}

/// A look at the tube and no more changes nothing of what is known to be bad or not known.
fn enter(desk: &Desk) -> String {
    let words = ["serial=A-1", "date=2026-06-14", "methods=visual tube", "--dry-run", "--json"];
    fact(&json(&desk.run(&[&["enter", "inspection"][..], &words].concat())))
}

fn load(desk: &Desk) -> String {
    desk.write("look.csv", "Serial,Date,Methods\nA-1,2026-06-14,visual tube\n");
    let told = json(&desk.run(&["load", "look.csv", "--json"]));
    let Some(row) = told["verdicts"].as_array().and_then(|rows| rows.first()) else {
        return "fit".to_owned();
    };
    named_in_short(row["crack_searches"].as_str().unwrap());
    row["fit"].as_str().unwrap().to_owned()
}

/// Commands that declare that they tell whether joints are fit.
fn declared(desk: &Desk) -> Vec<String> {
    let help = desk.run(&["--help"]).ok();
    let listed = help.split("Commands:").nth(1).unwrap().split("Options:").next().unwrap();
    let names = listed.lines().filter_map(|line| {
        line.strip_prefix("  ").filter(|l| !l.starts_with(' '))?.split_whitespace().next()
    });
    let told = |name: &&str| desk.run(&[name, "--help"]).out.replace('\n', " ").contains(TOLD);
    names.filter(|n| *n != "help").filter(told).map(str::to_owned).collect()
}

#[test]
fn every_command_that_tells_is_asked() {
    let desk = Desk::new();
    let mut declared = declared(&desk);
    let mut asked: Vec<String> = DOORS.iter().map(|(name, _)| (*name).to_owned()).collect();
    declared.sort();
    asked.sort();
    assert_eq!(declared, asked);
}

#[test]
fn a_command_that_does_not_declare_it_says_nothing_of_fitness() {
    let desk = fit_joint();
    for words in [
        &["kin", "A-1"][..],
        &["entries"],
        &["forecast"],
        &["limits"],
        &["rules"],
        &["edition"],
        &["exposure", "A-1"],
    ] {
        let out = desk.run(words).out;
        assert!(!out.contains("may run  ") && !out.contains("fit to run"), "{words:?}: {out}");
    }
}

/// What must stop a joint, done to one that is fit, and what must be said of it then.
type Probe = (&'static str, fn(&Desk), &'static str);

fn entered(desk: &Desk, words: &[&str]) {
    desk.run(&[&["enter"], words, &["date=2026-06-12"]].concat()).ok();
}

const PROBES: &[Probe] = &[
    ("14 % of the wall left", |d| inspect(d, "A-1", "2026-06-10", &["wall=0.05 in"]), "not fit"),
    (
        "a pit 0.34 of 0.362 in deep",
        |d| inspect(d, "A-1", "2026-06-10", &["tube_finding=internal pitting 0.34 in"]),
        "not fit",
    ),
    (
        "a slip cut 0.25 in deep across",
        |d| inspect(d, "A-1", "2026-06-10", &["tube_finding=slip cut 0.25 in across"]),
        "not fit",
    ),
    (
        "a box no wider than its counterbore",
        |d| inspect(d, "A-1", "2026-06-10", &["box_od=5 3/8 in"]),
        "not fit",
    ),
    ("Class 3 of nobody's", |d| inspect(d, "A-1", "2026-06-10", &["wall=0.24 in"]), "not fit"),
    ("a pin bored out", |d| inspect(d, "A-1", "2026-06-10", &["pin_id=4 1/4 in"]), "not fit"),
    (
        "an open galled pin",
        |d| inspect(d, "A-1", "2026-06-10", &["pin_finding=galled threads"]),
        "not fit",
    ),
    ("a crack", |d| inspect(d, "A-1", "2026-06-10", &["tube_finding=slip crack"]), "not fit"),
    (
        "set aside",
        |d| entered(d, &["decision", "serial=A-1", "ruling=quarantine", "reason=fell"]),
        "not fit",
    ),
    ("failed", |d| entered(d, &["failure", "serial=A-1", "failure=washout"]), "not fit"),
    ("heated", |d| entered(d, &["event", "serial=A-1", "what=heat"]), "not fit"),
    (
        "jarred since it was searched",
        |d| entered(d, &["event", "serial=A-1", "what=jarring"]),
        "cannot be said",
    ),
    (
        "a wall that grew",
        |d| {
            inspect(d, "A-1", "2026-06-03", &["wall=0.310 in"]);
            inspect(d, "A-1", "2026-06-10", &["wall=0.355 in"]);
        },
        "cannot be said",
    ),
    (
        "a back-off since its threads were searched",
        |d| entered(d, &["event", "serial=A-1", "what=back_off"]),
        "cannot be said",
    ),
];

#[test]
fn what_must_stop_it_stops_it_at_every_door() {
    for (what, done, means) in PROBES {
        let desk = fit_joint();
        done(&desk);
        for (door, ask) in DOORS {
            assert_eq!(ask(&desk), *means, "{what}: {door}");
        }
        let hire = ["enter", "hire-out", "serial=A-1", "date=2026-06-15", "hire=H-1", "party=crew"];
        let said = desk.run(&hire).fails(3);
        assert!(said.contains(means) && said.contains("crack searches: "), "{what}: {said}");
    }
}

#[test]
fn doors_agree_on_what_is_fit_and_on_what_nobody_looked_at() {
    for (desk, means) in [(fit_joint(), "fit"), (yard(1), "cannot be said")] {
        for (door, ask) in DOORS {
            assert_eq!(ask(&desk), means, "{door}");
        }
    }
}

#[test]
fn one_more_bad_thing_never_makes_it_fitter_and_one_reading_less_never_does() {
    let rank = |fit: &str| match fit {
        "fit" => 0,
        "fit with a restriction" => 1,
        "cannot be said" => 2,
        "not fit" => 3,
        other => panic!("{other}"),
    };
    let of = |desk: &Desk, words: &[String]| {
        let words: Vec<&str> = words.iter().skip(1).map(String::as_str).collect();
        rank(&answer(desk, &words).fit)
    };
    let desk = fit_joint();
    let date = "2026-06-10";
    // Each thing that was read left out in its turn, on a joint that nobody has looked at.
    let bare = yard(1);
    let whole = inspection("A-1", date, &[]);
    let before = of(&bare, &whole);
    for left_out in 2..whole.len() {
        let mut less = whole.clone();
        let word = less.remove(left_out);
        assert!(of(&bare, &less) >= before, "{word}");
    }
    for method in ALL_METHODS.trim_start_matches("methods=").split(';') {
        let kept = ALL_METHODS.replace(&format!("{method};"), "").replace(method, "");
        let less = inspection("A-1", date, &[&kept]);
        assert!(of(&bare, &less) >= before, "{method}");
    }
    // Bad things, alone and two together.
    let bad = [
        "wall=0.29 in",
        "wall=0.2 in",
        "box_od=6 in",
        "pin_id=4 in",
        "box_shoulder=1/4 in",
        "tube_finding=dent",
        "pin_finding=galled threads",
        "box_finding=crack",
    ];
    for one in bad {
        let alone = of(&desk, &inspection("A-1", date, &[one]));
        assert!(alone >= of(&desk, &inspection("A-1", date, &[])), "{one}");
        for other in bad.iter().filter(|o| o.split('=').next() != one.split('=').next()) {
            let both = of(&desk, &inspection("A-1", date, &[one, other]));
            assert!(both >= alone, "{one} and {other}");
        }
    }
    // Age alone, and what happened.
    let later = |days: &str| {
        let ran = desk.run(&["--now", days, "assess", "A-1", "--json"]);
        rank(json(&ran)["fitness"]["fit"].as_str().unwrap())
    };
    let ages = ["2026-06-20", "2026-12-31", "2027-05-01", "2027-09-01", "2030-01-01"];
    let ages: Vec<i32> = ages.iter().map(|days| later(days)).collect();
    assert!(ages.is_sorted(), "{ages:?}");
    let mut last = rank(&answer(&desk, &[]).fit);
    for what in ["vibration", "jarring", "string_shot", "h2s", "heat"] {
        entered(&desk, &["event", "serial=A-1", &format!("what={what}")]);
        let now = rank(&answer(&desk, &[]).fit);
        assert!(now >= last, "{what}");
        last = now;
    }
}
