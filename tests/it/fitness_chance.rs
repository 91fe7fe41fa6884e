//! Laws of fitness on inspections made up by chance, through the binary: what is worse never makes a
//! joint fitter, what is left out never lets it run, and nothing entered is nothing changed.

use super::chance::Chance;
use super::cli::Desk;
use super::fitness::{ALL_METHODS, Answer, answer, fit_joint, yard};

/// Readings from sound to beyond every limit, best first. The worst of one can stand beside the worst of
/// any other: a box is wider than its counterbore.
const READINGS: [(&str, &[&str]); 16] = [
    ("wall", &["0.355 in", "0.31 in", "0.29 in", "0.26 in", "0.2 in", "0.05 in"]),
    ("body_od", &["5 in", "4.9 in", "4.7 in", "4.2 in"]),
    ("pin_od", &["6 5/8 in", "6 1/4 in", "6 in", "5 1/2 in"]),
    ("box_od", &["6 5/8 in", "6 1/4 in", "6 in", "5 3/4 in"]),
    ("pin_id", &["3 1/4 in", "3 3/8 in", "4 in", "4 1/4 in"]),
    ("box_shoulder", &["5/8 in", "3/8 in", "1/8 in", "1/32 in"]),
    ("pin_tong", &["8 in", "6 in", "4 in", "1 in"]),
    ("box_tong", &["11 in", "9 in", "6 in", "1 in"]),
    ("body_od_max", &["5 in", "5.08 in", "5.12 in", "5.3 in"]),
    ("box_counterbore", &["5.315 in", "5.34 in", "5.4 in", "5.7 in"]),
    ("box_counterbore_depth", &["5/8 in", "9/16 in", "1/2 in"]),
    ("pin_stretch", &["0.001 in", "0.006 in", "0.007 in", "0.03 in"]),
    ("pin_neck", &["1/2 in", "9/16 in", "5/8 in"]),
    ("pin_profile_gap", &["0 in", "1/64 in", "1/16 in"]),
    ("box_profile_gap", &["0 in", "1/64 in", "1/16 in"]),
    ("hardband_height", &["3/32 in", "1/32 in", "1/64 in", "0 in"]),
];

const FINDINGS: [(&str, &[&str]); 3] = [
    (
        "tube_finding",
        &["dent 0.05 in", "slip cut 0.1 in across", "internal pitting 0.1 in", "crack"],
    ),
    ("pin_finding", &["galled threads", "crack", "nick 0.02 in"]),
    ("box_finding", &["hardband rough", "heat checks", "galled 30 %"]),
];

/// An inspection: what each field says.
#[derive(Clone, Debug)]
struct Said(Vec<(&'static str, String)>);

impl Said {
    /// A reading here and there is worse than sound, one or the other is left out, and perhaps
    /// something was found.
    fn by(chance: &mut Chance) -> Self {
        let mut said = vec![("date", "2026-06-10".to_owned())];
        for (field, values) in READINGS {
            match chance.below(18) {
                0 => {}
                1 => said.push((field, values[chance.pick(values.len())].to_owned())),
                _ => said.push((field, values[0].to_owned())),
            }
        }
        if chance.below(4) == 0 {
            let (field, what) = FINDINGS[chance.pick(FINDINGS.len())];
            said.push((field, what[chance.pick(what.len())].to_owned()));
        }
        let methods = ALL_METHODS.trim_start_matches("methods=").split(';').map(str::trim);
        let kept: Vec<&str> = methods.filter(|_| chance.below(12) > 0).collect();
        said.push(("methods", kept.join("; ")));
        Self(said)
    }

    fn with(&self, field: &'static str, value: &str) -> Self {
        let mut said = self.without(field);
        said.0.push((field, value.to_owned()));
        said
    }

    fn without(&self, field: &str) -> Self {
        Self(self.0.iter().filter(|(f, _)| *f != field).cloned().collect())
    }

    fn says(&self, field: &str) -> Option<&str> {
        self.0.iter().find(|(f, _)| *f == field).map(|(_, value)| value.as_str())
    }

    fn answer(&self, desk: &Desk) -> Answer {
        let words: Vec<String> = self.0.iter().map(|(f, v)| format!("{f}={v}")).collect();
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        answer(desk, &words)
    }

    /// How far from fit the joint is by it: 0 fit, 3 not fit.
    fn rank(&self, desk: &Desk) -> usize {
        rank(&self.answer(desk).fit)
    }
}

/// The last answer with which a joint may run.
const RUNS: usize = 1;

fn rank(fit: &str) -> usize {
    let order = ["fit", "fit with a restriction", "cannot be said", "not fit"];
    order.iter().position(|f| *f == fit).unwrap_or_else(|| panic!("{fit}"))
}

/// So many made-up inspections, each with what is made of it.
const CASES: usize = 8;

#[test]
fn what_is_worse_never_makes_it_fitter() {
    let mut chance = Chance::new("worse");
    let desk = fit_joint();
    for _ in 0..CASES {
        let said = Said::by(&mut chance);
        let before = said.rank(&desk);
        let mut worse = Vec::new();
        // A reading that is worse, or one beyond every limit where none was.
        let (field, values) = READINGS[chance.pick(READINGS.len())];
        let at = said.says(field).and_then(|says| values.iter().position(|v| *v == says));
        let least = at.map_or(values.len() - 1, |at| (at + 1).min(values.len() - 1));
        worse.push(said.with(field, values[least + chance.pick(values.len() - least)]));
        let (field, what) = FINDINGS[chance.pick(FINDINGS.len())];
        if said.says(field).is_none() {
            worse.push(said.with(field, what[chance.pick(what.len())]));
        }
        for worse in worse {
            assert!(worse.rank(&desk) >= before, "{said:?} then {worse:?}");
        }
    }
}

#[test]
fn what_is_left_out_never_lets_it_run() {
    let mut chance = Chance::new("left out");
    let desk = yard(1);
    for _ in 0..CASES {
        let said = Said::by(&mut chance);
        let before = said.rank(&desk);
        let (field, values) = READINGS[chance.pick(READINGS.len())];
        let after = said.without(field).rank(&desk);
        assert!(before <= RUNS || after > RUNS, "{field} left out of {said:?}");
        if said.says(field) == Some(values[0]) {
            assert!(after >= before, "{field} left out of {said:?}");
        }
    }
}

#[test]
fn each_reading_that_could_stop_a_joint_is_asked_for_by_its_name() {
    let desk = yard(1);
    let mut sound = Said(READINGS.iter().map(|(field, v)| (*field, v[0].to_owned())).collect());
    sound = sound.with("date", "2026-06-10").with("methods", &ALL_METHODS[8..]);
    assert_eq!(sound.answer(&desk).fit, "fit");
    for (field, values) in READINGS {
        let worst = values.last().unwrap();
        assert_eq!(sound.with(field, worst).answer(&desk).fit, "not fit", "{field} {worst}");
        let told = sound.without(field).answer(&desk);
        assert_eq!(told.fit, "cannot be said", "{field}");
        let reasons = told.json["reasons"].as_array().unwrap();
        let [reason] = &reasons[..] else { panic!("{field}: {reasons:?}") };
        let bare = field.trim_start_matches("pin_").trim_start_matches("box_").replace('_', " ");
        let bare = bare.strip_suffix("tong").map_or(bare.clone(), |_| "tong space".to_owned());
        let says = reason["says"].as_str().unwrap().to_lowercase();
        assert!(says.contains(&bare) && says.contains("not measured"), "{field}: {says}");
    }
}

#[test]
fn neither_age_nor_what_happens_makes_it_fitter() {
    let mut chance = Chance::new("age and events");
    let desk = fit_joint();
    let mut last = 0;
    let mut day = 170;
    for _ in 0..CASES {
        day += chance.below(200);
        let date = chrono::NaiveDate::from_yo_opt(2026, 1).unwrap() + chrono::Days::new(day);
        let now = date.to_string();
        if chance.below(2) == 0 {
            let what = ["vibration", "jarring", "overpull", "string_shot", "back_off", "drop"];
            let what = format!("what={}", what[chance.pick(what.len())]);
            let date = format!("date={date}");
            let said = desk.run(&["--now", &now, "enter", "event", "serial=A-1", &what, &date]);
            said.ok();
        }
        let told = desk.run(&["--now", &now, "assess", "A-1", "--json"]);
        let told: serde_json::Value = serde_json::from_str(&told.out).unwrap();
        let now = rank(told["fitness"]["fit"].as_str().unwrap());
        assert!(now >= last, "{date}: {told}");
        last = now;
    }
}

#[test]
fn a_sheet_that_nobody_filled_in_changes_nothing() {
    let mut chance = Chance::new("unfilled");
    let all = |desk: &Desk| {
        let fields = "serial, fit, unfit_because, class, wall, inspected, location";
        let find = desk.run(&["find", "true", "--show", fields, "--json"]).json().to_string();
        (find, answer(desk, &[]).json["reasons"].to_string())
    };
    for _ in 0..2 {
        let desk = yard(1);
        let said = Said::by(&mut chance);
        let mut words = vec!["enter".to_owned(), "inspection".to_owned(), "serial=A-1".to_owned()];
        words.extend(said.0.iter().map(|(f, v)| format!("{f}={v}")));
        words.extend(["--insist", "read twice"].map(str::to_owned));
        desk.run(&words.iter().map(String::as_str).collect::<Vec<_>>()).ok();
        let before = all(&desk);
        desk.run(&["sheet", "inspection", "--serials", "A-1", "-o", "a.xlsx"]).ok();
        desk.run(&["load", "a.xlsx"]).ok();
        std::fs::remove_file(desk.path("a.xlsx")).unwrap();
        assert_eq!(all(&desk), before, "{said:?}");
    }
}
