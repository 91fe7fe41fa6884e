//! Syntax tree to checked tree: names, units, words, windows, rules, and what is said when they
//! are wrong.

use pipelore::filter::{
    ColumnKind, Compiled, ErrorKind, Record, Rule, check_rules, column, compile, compile_records,
};
use pipelore::model::Call;
use pipelore::units::Measure;

use crate::filter_book::{context, rules, shown};

/// Compiles or shows the errors.
fn compiled(text: &str) -> Compiled {
    let rules = rules();
    compile(text, &context(&rules)).unwrap_or_else(|e| panic!("{}", shown(&e)))
}

/// Errors of a filter, rendered.
fn wrong(text: &str) -> String {
    let rules = rules();
    match compile(text, &context(&rules)) {
        Ok(_) => panic!("{text} compiled"),
        Err(errors) => shown(&errors),
    }
}

/// Checks the message and the hint of filters with one mistake each, all misses at once.
fn each_says(cases: &[(&str, &str, &str)]) {
    let mut misses = Vec::new();
    for (text, message, hint) in cases {
        let shown = wrong(text);
        let flat = shown.split_whitespace().collect::<Vec<_>>().join(" ");
        let caret = shown.lines().any(|l| l.trim_start().starts_with('^'));
        let hinted = if hint.is_empty() {
            !flat.contains("hint:")
        } else {
            flat.contains(&format!("hint: {hint}"))
        };
        if !flat.starts_with(message) || !hinted || !caret {
            misses.push(format!("{text}\nwanted: {message}\nhint: {hint}\n{shown}"));
        }
    }
    assert!(misses.is_empty(), "{}", misses.join("\n\n"));
}

#[test]
fn numbers_need_units_of_the_right_kind() {
    each_says(&[
        ("max_dogleg > 8", "max_dogleg needs a unit: 8 deg/100ft or 8 deg/30m", ""),
        ("any run (dogleg > 8)", "dogleg needs a unit: 8 deg/100ft or 8 deg/30m", ""),
        ("wall < 82", "wall needs a unit: 82 %, or a length (in, mm)", ""),
        ("hours > 1500", "hours needs a unit: 1500 h", ""),
        (
            "hours > 8 deg/100ft",
            "hours is a time, 8 deg/100ft is a dogleg (angle per length)",
            "write for example 8 h",
        ),
        ("hours > 10 hourz", "there is no unit hourz", "did you mean hour?"),
        ("wall + hours > 5 h", "hours is a time and cannot be added to a plain number", ""),
        ("od - hours > 5 in", "hours is a time and cannot be taken from a length", ""),
        ("wall / 0 > 5 %", "this divides by zero", ""),
        (
            "hours above 8 h > 5 h",
            "the dogleg is a dogleg (angle per length), 8 h is a time",
            "write for example 8 deg/100ft or 8 deg/30m",
        ),
        (
            "wall above 8 deg/30m > 5 %",
            "wall has no dogleg to count above",
            "hours and revolutions have: hours above 8 deg/100ft",
        ),
        (
            "hours above 40 deg/30m > 5 h",
            "hours and turns are kept by dogleg up to 30 deg/30m, not 40 deg/30m",
            "",
        ),
        ("max class over inspections > 5", "class is no number, so it has no max", ""),
        ("inspected > 5", "inspected is a date", "dates are written 2026-03-01"),
        (
            "inspected > 2026-13-01",
            "there is no date 2026-13-01",
            "dates are written 2026-03-01, with a time 2026-03-01T06:30",
        ),
        (
            "today + inspected > 2026-01-01",
            "dates cannot be added up",
            "one date less another is a time",
        ),
        ("inspected * 2 > 2026-01-01", "inspected is a date and cannot be multiplied", ""),
        ("-inspected > 2026-01-01", "a date has no sign", ""),
        (
            "any run in last 5 kg",
            "'kg' measures a mass, not a time; write for example h or days",
            "",
        ),
        (
            "count runs in last 5 > 3",
            "5 needs a unit of time",
            "write for example 5 days or 5 months",
        ),
    ]);
}

#[test]
fn names_are_looked_for_and_the_nearest_is_offered() {
    each_says(&[
        ("max_doglog > 8 deg/30m", "nothing is called max_doglog", "did you mean max_dogleg?"),
        (
            "pin_idd > 1 in",
            "nothing is called pin_idd",
            "did you mean pin_id, pin_od or pin_shoulder?",
        ),
        ("joint.dogleg > 5 deg/30m", "a joint has no field dogleg", "did you mean max_dogleg?"),
        ("any ruun (well = \"X\")", "ruun is no kind of record", "did you mean run?"),
        (
            "any thing",
            "thing is no kind of record",
            "records are run, makeup, inspection, finding, repair, event, failure, move, hire and decision",
        ),
        (
            "runs > 5",
            "runs is a kind of record, not a value",
            "write any runs (…), count runs or the like",
        ),
        (
            "well = \"x\"",
            "well is no field of the joint",
            "well is a field of runs or failures: write any run (well …) or well of latest run",
        ),
        ("bow of latest run > 5 mm", "bow is no field of runs", "it is a field of inspections"),
        (
            "latest run",
            "latest run needs a condition",
            "write latest run (…), or FIELD of latest run",
        ),
        (
            "every run",
            "every run needs a condition",
            "write every run (…), or any run to ask whether there is one",
        ),
        ("class", "class is a value, not a condition", "compare it with something: class = …"),
        (
            "(any run) = true",
            "(any run) is a condition and cannot be compared",
            "a condition stands alone, or behind not",
        ),
        ("kin of \"nobody\"", "no joint answers to nobody", ""),
        ("kin of \"K1-1\" by heats", "heats is nothing that kin share", "did you mean heat?"),
    ]);
}

#[test]
fn words_belong_to_their_vocabulary() {
    each_says(&[
        ("class = premum", "premum is no class", "did you mean premium?"),
        (
            "class < premium",
            "class is asked for in words: worse than, better than",
            "write class worse than premium, or class better than premium",
        ),
        ("grade = G106", "G106 is no grade", "did you mean G105? anything else goes in quotes"),
        (
            "any run (grade = S135)",
            "S135 says nothing about how far a run's figures can be trusted",
            "the steel's grade is joint.grade",
        ),
        ("any run (well = Larkfield)", "well is text", "put it in quotes: well = \"Larkfield\""),
        (
            "location = none",
            "that there is no location is asked otherwise",
            "write location is unknown",
        ),
        ("on_hire = maybe", "this is neither true nor false", "write on_hire or not on_hire"),
        (
            "any inspection (covers = walls)",
            "walls is no scope of inspection",
            "did you mean wall?",
        ),
        ("hours like \"5*\"", "hours is no text; like compares text with a pattern", ""),
    ]);
    for text in [
        "class = prem or class = \"Class 2\" or class in (critical, 3)",
        "grade = G-105 and grade = \"Z140\" and range = R2",
        "string = none or restriction = none or any repair (end = none)",
        "hardband = rough and any finding (what = \"Sharp crests\")",
        "class != declared_class and any makeup (verdict = over)",
        "on_hire = yes and out = no and not failed",
        "any inspection (covers in (wall, slip_cracks) and method = ultrasonic_wall)",
        "any failure (place = joint)",
    ] {
        compiled(text);
    }
}

#[test]
fn windows_stand_where_they_mean_something() {
    each_says(&[
        (
            "any run since last inspection (max_dogleg > 8 deg/100ft)",
            "max_dogleg is no field of the inspection that the window begins at",
            "a condition of the run goes before the window: run (max_dogleg …) since last inspection",
        ),
        (
            "any run since last inspection (hardband = rough)",
            "hardband is no field of the inspection that the window begins at",
            "a condition of the joint goes outside: hardband … and …; joint.hardband works here too",
        ),
        (
            "any run (hours since last inspection > 5 h)",
            "hours takes no such window",
            "the window of a run goes after its condition; joint.hours with a window counts for the joint",
        ),
        (
            "class since 2026-01-01 = premium",
            "class takes no such window",
            "only as of can follow, or at that time in a record's condition: class as of 2026-03-01",
        ),
        (
            "wall at that time < 80 %",
            "at that time means the time of a record, and none is spoken of here",
            "write for example any run (wall at that time = …), or wall as of 2026-03-01",
        ),
        (
            "any run at that time",
            "at that time follows a field of the joint that has a past",
            "class, status, location, wall and the like: any run (class at that time = class_2)",
        ),
        (
            "wall_age as of 2026-01-01 < 80 days",
            "wall_age takes no such window",
            "a window follows a record or a counter like hours",
        ),
        (
            "pin_makeups as of 2026-01-01 > 5",
            "pin_makeups counts the generation of today",
            "write count makeups (end = …) before …",
        ),
        (
            "any run from 2026-03-01 to 2026-01-01",
            "nothing lies in this window",
            "it would begin on 2026-03-01 and end before 2026-01-02",
        ),
        ("worn since 2026-01-01", "the rule worn takes no window", ""),
        (
            "hours > 5 h since last inspection",
            "since does not fit here",
            "a window goes right behind the field or record that it limits: hours since last inspection > 5 h",
        ),
        ("any run in last 9000 years", "this leads out of the calendar", ""),
    ]);
    // A field of the anchor and of the record alike is the anchor's, behind the window.
    compiled("any inspection (wall < 90 %) since last inspection (wall < 80 %)");
    compiled("any run since last inspection (joint.hardband = rough)");
}

#[test]
fn every_mistake_of_a_filter_is_reported_at_once() {
    let shown =
        wrong("hours > 3 or wall < 4 and clas = x or any ruun (y = 1) or max_dogleg > 5 kg");
    assert_eq!(shown.matches("---").count(), 4, "{shown}");
}

#[test]
fn lengths_and_shares_of_a_wall_are_two_fields() {
    let mentions = |text: &str| {
        compiled(text).select(&pipelore::filter::Select::of(pipelore::filter::Answer::Matching)).sql
    };
    assert!(mentions("wall < 82 %").contains("j.wall <"));
    assert!(mentions("wall < 7.6 mm").contains("j.wall_thickness <"));
    assert!(mentions("wall of latest inspection < 0.3 in").contains(".wall_thickness < "));
    assert!(mentions("wall between 6 mm and 7 mm").contains("j.wall_thickness <="));
}

#[test]
fn inside_a_record_its_own_fields_come_first() {
    let sql = |text: &str| {
        compiled(text).select(&pipelore::filter::Select::of(pipelore::filter::Answer::Matching)).sql
    };
    assert!(sql("any inspection (class = premium)").contains("r1.class = "));
    assert!(sql("any inspection (joint.class = premium)").contains("j.class = "));
    assert!(sql("any inspection (grade = G105)").contains("j.grade = "));
    let rules = rules();
    let context = context(&rules);
    let list = compile_records(Record::Run, "max_dogleg > 8 deg/30m and class = premium", &context)
        .unwrap();
    let query = list.select(&pipelore::filter::Select::of(pipelore::filter::Answer::Matching));
    assert!(
        query.sql.contains(".max_dogleg > ") && query.sql.contains("j.class = "),
        "{}",
        query.sql
    );
    assert_eq!(query.keys, 4);
}

fn rule(name: &str, filter: &str) -> Rule {
    Rule { name: name.to_owned(), call: Call::Repair, scope: None, filter: filter.to_owned() }
}

#[test]
fn a_mistake_in_a_rule_shows_both_places() {
    let rules = [rule("worn", "wall < 80"), rule("tired", "worn or hours > 5 h")];
    let errors = compile("tired and length > 9 m", &context(&rules)).unwrap_err();
    assert_eq!(
        shown(&errors),
        "wall needs a unit: 80 %, or a length (in, mm)\n\
         in the rule worn:\n  wall < 80\n         ^^\n\
         which the rule tired uses here:\n  worn or hours > 5 h\n  ^^^^\n\
         which is used here:\n  tired and length > 9 m\n  ^^^^^\n"
    );
    // Once, however often it is used, and without a use when rules are checked by themselves.
    assert_eq!(compile("worn or tired or worn", &context(&rules)).unwrap_err().len(), 1);
    assert_eq!(check_rules(&context(&rules)).len(), 1);
}

#[test]
fn rules_that_lead_back_to_themselves_are_refused() {
    let rules = [rule("a", "b or wall < 80 %"), rule("b", "due for repair"), rule("c", "c")];
    let errors = compile("a", &context(&rules)).unwrap_err();
    assert!(errors.iter().all(|e| e.kind == ErrorKind::Cycle), "{}", shown(&errors));
    assert!(
        errors[0].message.ends_with("leads back to itself: a → b → a"),
        "{}",
        errors[0].message
    );
    assert!(!check_rules(&context(&rules)).is_empty());
    let long: Vec<Rule> = (0..40).map(|n| rule(&format!("r{n}"), &format!("r{}", n + 1))).collect();
    assert!(compile("r0", &context(&long)).unwrap_err().iter().any(|e| e.kind == ErrorKind::Limit));
    // Twice the one before: small to write, huge to read.
    let mut doubling: Vec<Rule> =
        (1..15).map(|n| rule(&format!("d{n}"), &format!("d{0} and d{0}", n - 1))).collect();
    doubling.push(rule("d0", "wall < 80 %"));
    let errors = compile("d14", &context(&doubling)).unwrap_err();
    assert_eq!(errors[0].kind, ErrorKind::Limit);
    assert!(compile("d3", &context(&doubling)).is_ok());
}

#[test]
fn rules_are_used_by_name_and_by_call() {
    let rules = [rule("hours-since-wall", "hours > 5 h")];
    assert!(compile("hours_since_wall", &context(&rules)).is_ok());
    assert!(compile("due for repair and not hours_since_wall", &context(&rules)).is_ok());
    let errors = compile("due for retire", &context(&rules)).unwrap_err();
    assert!(errors[0].message.contains("no rule in force calls for retire"));
    let errors = compile("due for painting", &context(&rules)).unwrap_err();
    assert!(errors[0].message.contains("painting is nothing that a rule calls for"));
    // Rules speak of the joint, inside a record's condition too.
    assert!(compile("any run (hours > 3 h and hours_since_wall)", &context(&rules)).is_ok());
}

#[test]
fn columns_are_values_of_the_language() {
    let rules = rules();
    let context = context(&rules);
    let kind =
        |text: &str| column(text, None, &context).unwrap_or_else(|e| panic!("{}", shown(&e))).kind;
    assert!(matches!(kind("hours"), ColumnKind::Measure(Measure::Hours)));
    assert!(matches!(
        kind("hours since last inspection (covers = wall)"),
        ColumnKind::Measure(Measure::Hours)
    ));
    assert!(matches!(kind("hours / 2"), ColumnKind::Number(Some(Measure::Hours))));
    assert!(matches!(kind("inspected"), ColumnKind::Date));
    assert!(matches!(kind("inspected + 180 days"), ColumnKind::Date));
    assert!(matches!(kind("serial"), ColumnKind::Text));
    assert!(matches!(kind("class of latest inspection"), ColumnKind::Word));
    assert!(matches!(kind("on_hire"), ColumnKind::Flag));
    assert!(column("class = premium", None, &context).is_err());
    assert!(column("any run", None, &context).is_err());
    assert!(matches!(
        column("covers", Some(Record::Inspection), &context).unwrap().kind,
        ColumnKind::Set(_)
    ));
}

#[test]
fn a_filter_says_what_it_speaks_of() {
    let mentions = |text: &str| -> Vec<String> {
        compiled(text).mentions().into_iter().map(|m| m.words).collect()
    };
    let run = "run (max_dogleg > 8 deg/100ft and well = \"Larkfield 2H\") in last 2 years";
    assert_eq!(
        mentions(&format!("any {run}")),
        [format!("name of latest {run}"), format!("max_dogleg of latest {run}")]
    );
    assert_eq!(
        mentions("class = premium and (hours > 5 h or not wall < 90 %) and hours < 2 h"),
        ["class", "hours", "wall"]
    );
    assert_eq!(
        mentions("hours since last inspection (covers = wall) > 5 h and worn"),
        ["hours since last inspection (covers = wall)", "component", "wall"][..1]
            .iter()
            .chain(&["wall"])
            .map(ToString::to_string)
            .collect::<Vec<_>>()
    );
    for text in crate::filter_parse::CONTRACT {
        let rules = rules();
        let context = context(&rules);
        for mention in mentions(text) {
            assert!(column(&mention, None, &context).is_ok(), "{text}: {mention}");
        }
    }
    assert_eq!(compiled("hours since today - 90 days > 5 h").cuts().len(), 1);
    assert_eq!(compiled("count makeups before 2026-01-01 > 5").cuts(), Vec::<i64>::new());
    assert_eq!(compiled("any run from 2026-01-01 to 2026-02-01").cuts().len(), 2);
}
