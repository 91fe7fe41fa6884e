//! Verdicts against the published classification table, row by row, and the rules that no table
//! holds: what is not known never passes, and who may do what.

use pipelore::condition::{
    Amount, Blocks, Caution, Colour, Connection, ConnectionLimit, ConnectionLimits, Criterion,
    Disposition, ForClass, Found, Governing, Lack, LimitSet, Measured, Nominal, Outcome, Part,
    Seal, Search, Standards, Standing, Subject, Take, Verdict, assess,
};
use pipelore::model::{
    Class, Component, End, Method, Place, Provenance, ReadingKind, Scope, Vocabulary,
};
use pipelore::units::{Dimension, Measure, Quantity, UnitSystem};

use crate::world::standards;

pub fn nm(text: &str) -> i64 {
    Measure::Wall.store(&Quantity::parse(text, Dimension::LENGTH).unwrap()).unwrap()
}

pub fn quanta(text: &str, measure: Measure) -> i64 {
    measure.store(&Quantity::parse(text, measure.dimension()).unwrap()).unwrap()
}

pub fn reading(what: ReadingKind, end: Option<End>, value: &str) -> Measured {
    Measured { what, end, amount: Amount::Length(nm(value)), at: None, doubtful: false }
}

pub fn judged(subject: &Subject) -> Verdict {
    assess(subject, standards())
}

fn limits(premium: (&str, &str), class_2: (&str, &str)) -> ConnectionLimits {
    let row = |class, (od, shoulder): (&str, &str)| ConnectionLimit {
        class,
        min_od: nm(&format!("{od} in")),
        min_shoulder: None,
        min_shoulder_eccentric: Some(nm(&format!("{shoulder} in"))),
        carried_over: false,
    };
    ConnectionLimits {
        rows: vec![row(Class::Premium, premium), row(Class::Class2, class_2)],
        standard: "API RP 7G".to_owned(),
        edition: "basis of Table 10".to_owned(),
        source: "computed".to_owned(),
        provenance: Provenance::Computed,
    }
}

/// A joint that was looked at in every way and has nothing wrong with it.
pub fn sound(pipe: &str) -> Subject {
    let connection = |name: &str| Connection { name: Some(name.to_owned()), ..Default::default() };
    let mut s = Subject::new(Component::DrillPipe);
    let nominal = |od: &str, wall: &str, joint: &str, name: &str| Nominal {
        od: Some(nm(od)),
        wall: Some(nm(wall)),
        joint_od: Some(nm(joint)),
        joint_id: None,
        no_hardband: false,
        grade: Some("G105".to_owned()),
        pin: connection(name),
        box_: connection(name),
    };
    match pipe {
        "5 19.50" | "5 double shoulder" => {
            s.nominal = nominal("5 in", "0.362 in", "6 5/8 in", "NC50");
            let l = limits(("6 3/32", "11/32"), ("6", "19/64"));
            s.nominal.pin.limits = Some(l.clone());
            s.nominal.box_.limits = Some(l);
            if pipe != "5 19.50" {
                s.nominal.pin.seal = Some(Seal::Double);
                s.nominal.box_.seal = Some(Seal::Double);
            }
        }
        "3.5 13.30" => {
            s.nominal = nominal("3.5 in", "0.368 in", "4 3/4 in", "NC38");
            let l = limits(("4 1/2", "11/64"), ("4 7/16", "9/64"));
            s.nominal.pin.limits = Some(l.clone());
            s.nominal.box_.limits = Some(l);
        }
        "5 hwdp" => {
            s.component = Component::HeavyWeight;
            s.nominal = nominal("5 in", "1 in", "6 5/8 in", "NC50");
        }
        collar => {
            s.component = Component::DrillCollar;
            let od = collar.split(' ').next().unwrap();
            s.nominal = nominal("6.75 in", "2.25 in", "6.75 in", "NC50");
            if collar == "boreback collar" {
                s.nominal.box_.nominal = vec![(Criterion::BorebackDiameter, nm("4 in"))];
            } else {
                let name = collar.split_once(" collar ").unwrap().1;
                s.nominal = nominal(&format!("{od} in"), "2.25 in", &format!("{od} in"), name);
            }
        }
    }
    s.methods = vec![
        Method::VisualTube,
        Method::OdGauge,
        Method::UltrasonicWall,
        Method::Electromagnetic,
        Method::MagneticSlip,
        Method::UltrasonicSlip,
        Method::VisualConnection,
        Method::BlacklightConnection,
        Method::Dimensional2,
        Method::HeatCheck,
        Method::HardbandCheck,
    ];
    let joint = Amount::Length(s.nominal.joint_od.unwrap());
    let wall = Amount::Length(s.nominal.wall.unwrap());
    let od = Amount::Length(s.nominal.od.unwrap());
    for (what, end, amount) in [
        (ReadingKind::Wall, None, wall),
        (ReadingKind::BodyOd, None, od),
        (ReadingKind::JointOd, Some(End::Pin), joint),
        (ReadingKind::JointOd, Some(End::Box), joint),
        (ReadingKind::Shoulder, Some(End::Box), Amount::Length(nm("5/8 in"))),
    ] {
        s.readings.push(Measured { what, end, amount, at: None, doubtful: false });
    }
    s
}

pub fn set(s: &mut Subject, what: ReadingKind, end: Option<End>, value: &str) {
    s.readings.retain(|m| m.what != what || m.end != end);
    s.readings.push(reading(what, end, value));
}

pub fn find(s: &mut Subject, what: &str, end: Option<End>, size: Option<&str>) {
    s.findings.push(Found { end, size: size.map(nm), ..Found::new(what) });
}

// ------------------------------------------------------------------------- the table, row by row

struct Case {
    row: std::collections::HashMap<String, String>,
}

impl Case {
    fn get(&self, column: &str) -> &str {
        &self.row[column]
    }
    fn some(&self, column: &str) -> Option<&str> {
        Some(self.get(column)).filter(|t| !t.is_empty())
    }
    fn end(&self) -> Option<End> {
        self.some("end").map(|e| End::from_word(e).unwrap())
    }
    fn criterion(&self) -> Criterion {
        Criterion::from_word(self.get("criterion")).unwrap()
    }

    fn subject(&self) -> Subject {
        let mut s = sound(self.get("pipe"));
        assert_eq!(s.component.word(), self.get("component"), "{}", self.get("id"));
        if let Some(wall) = self.some("adjacent") {
            s.readings.push(reading(ReadingKind::AdjacentWall, None, wall));
        }
        let what = self.get("what");
        match self.get("kind") {
            "none" => {}
            "reading" => {
                set(&mut s, ReadingKind::from_word(what).unwrap(), self.end(), self.get("value"));
            }
            "bsr" => s.bsr = Some(quanta(self.get("value"), Measure::Factor)),
            "finding" => s.findings.push(Found {
                end: self.end(),
                size: self.some("value").map(nm),
                share: self.some("share").map(|t| quanta(t, Measure::Ratio)),
                ..Found::new(what)
            }),
            other => panic!("kind {other}"),
        }
        s
    }

    /// What the criterion says, in the word that the case expects.
    fn outcome(&self) -> String {
        let verdict = judged(&self.subject());
        let part = self.end().map_or(Part::Tube, Part::from);
        let found: Vec<_> = verdict
            .judgements
            .iter()
            .filter(|j| j.criterion == self.criterion() && j.part == part)
            .collect();
        if self.get("kind") == "none" {
            assert!(found.is_empty(), "{} judged", self.get("id"));
            let tube = verdict.tube.unwrap();
            return match tube.measured {
                Some(c) if self.get("limit_class") != "any" => c.word().to_owned(),
                _ if verdict.part(part).unwrap().standing.passes() => "pass".to_owned(),
                _ => "fail".to_owned(),
            };
        }
        let Some(worst) = found.iter().max_by_key(|j| j.outcome.severity()) else {
            return format!("not judged; missing {:?}", verdict.not_measured());
        };
        // What a criterion says must be felt by the part that it judges.
        let state = verdict.part(part).unwrap();
        match worst.outcome {
            Outcome::Class(c) => {
                assert!(state.standing.severity() >= c.rank(), "{}", self.get("id"));
                c.word().to_owned()
            }
            Outcome::Passes => "pass".to_owned(),
            Outcome::Fails => {
                if matches!(worst.blocks, Blocks::Part | Blocks::Scrap) {
                    assert!(!state.standing.passes(), "{}", self.get("id"));
                }
                let advice = self.criterion().spec().disposition == Disposition::Run;
                assert!(advice || verdict.disposition > Disposition::Run, "{}", self.get("id"));
                "fail".to_owned()
            }
        }
    }
}

fn cases() -> Vec<Case> {
    let text = include_str!("../reference/classification_cases.csv");
    csv::Reader::from_reader(text.as_bytes())
        .deserialize()
        .map(|row| Case { row: row.unwrap() })
        .collect()
}

#[test]
fn every_case_of_the_classification_table_comes_out() {
    let mut wrong = Vec::new();
    for case in cases() {
        let got = case.outcome();
        if got != case.get("expect") {
            wrong.push(format!(
                "{} {} {}: {} expected, {got} found ({}, {})",
                case.get("id"),
                case.get("what"),
                case.get("value"),
                case.get("expect"),
                case.get("source"),
                case.get("provenance")
            ));
        }
    }
    assert!(wrong.is_empty(), "{} cases:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn every_limit_in_force_has_a_case_on_both_sides() {
    let all = cases();
    let mut bare = Vec::new();
    for limit in standards().limits.all() {
        let repair = limit.criterion.spec().take == Take::Repair;
        if !limit.in_force || limit.class == ForClass::New || repair {
            continue;
        }
        let class = match limit.class {
            ForClass::Class(c) => c.word(),
            _ => "any",
        };
        for side in ["keeps", "breaks"] {
            let there = all.iter().any(|c| {
                let subject = sound(c.get("pipe"));
                let part = c.end().map_or(Part::Tube, Part::from);
                let fit = pipelore::condition::Fit {
                    od: subject.nominal.od,
                    wall: subject.nominal.wall,
                    joint_od: subject.nominal.joint_od,
                    grade: subject.nominal.grade.clone(),
                    connection: subject.nominal.connection(part).and_then(|c| c.name.clone()),
                    seal: subject.nominal.connection(part).and_then(|c| c.seal),
                };
                c.criterion() == limit.criterion
                    && c.get("limit_class") == class
                    && c.get("comparison") == limit.comparison.sign()
                    && c.get("side") == side
                    && standards()
                        .limits
                        .in_force(limit.criterion, subject.component, &fit)
                        .contains(&limit)
            });
            if !there {
                bare.push(format!("line {}: {} {class} {side}", limit.line, limit.criterion));
            }
        }
    }
    assert!(bare.is_empty(), "limits without a case:\n{}", bare.join("\n"));
}

#[test]
fn tool_joints_are_classed_on_both_sides_of_every_limit() {
    let text = include_str!("../reference/tool_joint_limits.csv");
    let mut wrong = Vec::new();
    for row in csv::Reader::from_reader(text.as_bytes())
        .deserialize::<std::collections::HashMap<String, String>>()
    {
        let row = row.unwrap();
        let l = limits(
            (&row["premium_od"], &row["premium_eccentric"]),
            (&row["class_2_od"], &row["class_2_eccentric"]),
        );
        let mut s = sound("5 19.50");
        s.nominal.wall = Some(nm(&format!("{} in", row["wall"])));
        s.nominal.od = Some(nm(&format!("{} in", row["size"])));
        s.nominal.joint_od = Some(nm(&format!("{} in", row["joint_od"])));
        s.nominal.box_.name = Some(row["connection"].clone());
        s.nominal.box_.limits = Some(l.clone());
        s.nominal.pin.limits = Some(l);
        set(&mut s, ReadingKind::Wall, None, &format!("{} in", row["wall"]));
        set(&mut s, ReadingKind::BodyOd, None, &format!("{} in", row["size"]));
        set(&mut s, ReadingKind::JointOd, Some(End::Pin), &format!("{} in", row["joint_od"]));
        for (what, premium, class_2) in [
            (ReadingKind::JointOd, "premium_od", "class_2_od"),
            (ReadingKind::Shoulder, "premium_eccentric", "class_2_eccentric"),
        ] {
            for (column, below, expect) in [
                (premium, 0, Class::Premium),
                (premium, 1, Class::Class2),
                (class_2, 0, Class::Class2),
                (class_2, 1, Class::Class3),
            ] {
                let mut joint = s.clone();
                let od = format!("{} in", row["joint_od"]);
                set(&mut joint, ReadingKind::JointOd, Some(End::Box), &od);
                set(&mut joint, ReadingKind::Shoulder, Some(End::Box), "3/4 in");
                joint.readings.retain(|m| m.what != what || m.end != Some(End::Box));
                let value = nm(&format!("{} in", row[column])) - below;
                joint.readings.push(Measured {
                    what,
                    end: Some(End::Box),
                    amount: Amount::Length(value),
                    at: None,
                    doubtful: false,
                });
                let got = judged(&joint).box_.unwrap().standing;
                if got != Standing::Class(expect) {
                    let pipe = format!("{} {} {}", row["size"], row["grade"], row["connection"]);
                    wrong.push(format!("{pipe} {column} less {below} nm: {expect}, not {got:?}"));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_wall_is_compared_unrounded() {
    // 80 % of 0.368 in is 0.2944 in exactly: one nanometre less is Class 2.
    let mut s = sound("3.5 13.30");
    let exact = nm("0.2944 in");
    assert_eq!(i128::from(exact) * 100, i128::from(nm("0.368 in")) * 80);
    for (value, class) in [(exact, Class::Premium), (exact - 1, Class::Class2)] {
        s.readings.retain(|m| m.what != ReadingKind::Wall);
        s.readings.push(Measured {
            what: ReadingKind::Wall,
            end: None,
            amount: Amount::Length(value),
            at: None,
            doubtful: false,
        });
        assert_eq!(judged(&s).tube.unwrap().measured, Some(class));
    }
}

// ------------------------------------------------------------------------------ what is not known

#[test]
fn a_sound_joint_passes_and_says_on_what() {
    let v = judged(&sound("5 19.50"));
    assert_eq!(v.tube.unwrap().standing, Standing::Class(Class::Critical));
    // No limit for Critical service was given for the tool joint, so Premium is the best.
    assert_eq!(v.class(), Some(Class::Premium));
    assert_eq!(v.disposition, Disposition::Run);
    assert!(v.may_run());
    assert_eq!(v.not_measured(), Vec::<String>::new());
    let band = v.bands[0];
    assert_eq!((band.colour, band.count, band.on), (Colour::White, 1, Part::Tube));
    assert!(v.cracks.iter().all(|(_, s)| *s == Search::NoneFound), "{:?}", v.cracks);
    assert_eq!(v.limits, "pipelore starting set, edition 1");
    let wall = v.judgements.iter().find(|j| j.criterion == Criterion::WearWall).unwrap();
    assert_eq!(wall.limit.text(), ">= 87.5 % of nominal wall");
    assert_eq!(wall.margin, Some(nm("0.04525 in")));
    assert_eq!(wall.next, Some(Outcome::Class(Class::Premium)));
    assert_eq!(wall.limit.provenance, Provenance::Published);
    assert!(v.caution_text().contains("licensed practice"));
}

#[test]
fn without_a_critical_reading_nothing_is_passed() {
    for (what, end, part) in [
        (ReadingKind::Wall, None, Part::Tube),
        (ReadingKind::JointOd, Some(End::Pin), Part::Pin),
        (ReadingKind::JointOd, Some(End::Box), Part::Box),
        (ReadingKind::Shoulder, Some(End::Box), Part::Box),
    ] {
        let mut s = sound("5 19.50");
        s.readings.retain(|m| m.what != what || m.end != end);
        let v = judged(&s);
        assert_eq!(v.class(), None, "{what}");
        assert!(matches!(v.part(part).unwrap().standing, Standing::NotEstablished { .. }));
        assert_eq!(v.disposition, Disposition::Hold);
        assert!(!v.may_run());
        let missing = &v.missing[0];
        assert!(missing.critical && missing.lack == Lack::NotMeasured && !missing.by.is_empty());
        assert_eq!(v.governing, Some(Governing::Missing(0)), "{what}");
        let name = match what {
            ReadingKind::JointOd => "tool joint OD",
            kind => kind.word(),
        };
        assert_eq!(v.not_measured(), [format!("{part} {name}")]);
        assert_eq!(v.criterion_word().as_deref(), Some(what.word()));
    }
    for (method, part) in [(Method::VisualTube, Part::Tube), (Method::VisualConnection, Part::Pin)]
    {
        let mut s = sound("5 19.50");
        s.methods.retain(|m| *m != method);
        let v = judged(&s);
        assert_eq!(v.class(), None, "{method}");
        assert!(!v.part(part).unwrap().standing.passes(), "{method}");
        assert_eq!(v.missing[0].by, [method]);
    }
}

#[test]
fn a_joint_nobody_read_is_not_established_in_any_part() {
    for component in Component::ALL {
        let v = judged(&Subject::new(*component));
        assert!(!v.overall.standing.passes(), "{component}: {:?}", v.overall);
        assert_eq!(v.disposition, Disposition::Hold, "{component}");
        assert!(v.bands.is_empty(), "{component}");
    }
}

#[test]
fn a_doubtful_reading_passes_nothing() {
    let mut s = sound("5 19.50");
    for m in &mut s.readings {
        m.doubtful = m.what == ReadingKind::Wall;
    }
    s.earlier.readings.push((reading(ReadingKind::Wall, None, "0.36 in"), 1));
    let v = judged(&s);
    assert_eq!(v.class(), None);
    assert_eq!(v.missing[0].lack, Lack::Doubtful);
}

#[test]
fn an_earlier_reading_stands_in_and_says_its_age() {
    let mut s = sound("5 19.50");
    s.readings.retain(|m| m.what != ReadingKind::Wall);
    s.earlier.readings.push((reading(ReadingKind::Wall, None, "0.27 in"), 86_400_000));
    let v = judged(&s);
    assert_eq!(v.class(), Some(Class::Class2));
    let wall = v.judgements.iter().find(|j| j.criterion == Criterion::WearWall).unwrap();
    assert_eq!(wall.age, Some(86_400_000));
    assert_eq!(v.carried.len(), 1);
    // A reading of today replaces it.
    s.readings.push(reading(ReadingKind::Wall, None, "0.35 in"));
    assert_eq!(judged(&s).class(), Some(Class::Premium));
}

#[test]
fn premium_is_not_passed_on_a_body_that_nobody_searched() {
    let mut s = sound("5 19.50");
    s.methods.retain(|m| *m != Method::Electromagnetic);
    let v = judged(&s);
    let tube = v.tube.unwrap();
    // Measured is one thing, passed another.
    assert_eq!(tube.measured, Some(Class::Critical));
    assert_eq!(tube.standing, Standing::Class(Class::Class2));
    assert!(tube.held_down());
    assert_eq!(v.class(), Some(Class::Class2));
    assert_eq!(v.criterion_word().as_deref(), Some("body_cracks"));
    assert!(v.cracks.contains(&(Scope::BodyCracks, Search::NotSearched)));
    assert!(v.cautions.contains(&Caution::Proof));
    // A search of an earlier inspection stands, with its age.
    s.earlier.scopes.push((Scope::BodyCracks, 5));
    let v = judged(&s);
    assert_eq!(v.class(), Some(Class::Premium));
    assert!(v.cracks.contains(&(Scope::BodyCracks, Search::NoneFoundEarlier(5))));
    // Without the end areas the tube is not passed for Critical service.
    s.methods.retain(|m| *m != Method::UltrasonicSlip);
    assert_eq!(judged(&s).tube.unwrap().standing, Standing::Class(Class::Premium));
}

#[test]
fn no_crack_from_a_method_that_cannot_see_cracks_is_not_measured() {
    let mut s = sound("5 19.50");
    s.methods.retain(|m| *m != Method::MagneticSlip);
    s.findings.push(Found { place: Some(Place::SlipArea), ..Found::new("no cracks") });
    let v = judged(&s);
    let m = v.missing.iter().find(|m| m.lack == Lack::CannotSee).unwrap();
    assert_eq!(m.what, "slip cracks");
    assert_eq!(m.by, [Method::MagneticSlip]);
    assert!(v.cracks.contains(&(Scope::SlipCracks, Search::NotSearched)));
    s.methods.push(Method::MagneticSlip);
    let v = judged(&s);
    assert!(v.missing.iter().all(|m| m.lack != Lack::CannotSee));
    assert!(v.cracks.contains(&(Scope::SlipCracks, Search::NoneFound)));
}

#[test]
fn a_strange_word_holds_the_joint_and_is_never_guessed() {
    let mut s = sound("5 19.50");
    s.findings.push(Found::new("galed"));
    let v = judged(&s);
    assert_eq!(v.class(), None);
    assert_eq!(v.disposition, Disposition::Hold);
    assert_eq!(v.missing[0].lack, Lack::StrangeWord);
    assert_eq!(v.findings[0].nearest[0], "galled");
}

#[test]
fn a_tool_joint_without_a_limit_is_not_classed() {
    let mut s = sound("5 19.50");
    s.nominal.pin.limits = None;
    let v = judged(&s);
    assert_eq!(v.class(), None);
    assert_eq!(v.missing[0].lack, Lack::NoLimit);
    // A limit in the user's own set is taken before a computed one.
    let own = LimitSet::parse(
        "# set: own\n# edition: 1\ncriterion,component,class,comparison,limit,unit,applies,standard,source,provenance\n\
         tj_od,drill_pipe,premium,>=,6 1/2,in,connection=NC50; grade=G105,own,own table,published\n\
         tj_od,drill_pipe,class_2,>=,6,in,connection=NC50; grade=G105,own,own table,published\n",
    )
    .unwrap()
    .over(&standards().limits);
    set(&mut s, ReadingKind::JointOd, Some(End::Box), "6 1/4 in");
    let own = Standards { limits: own.into(), ..standards().clone() };
    let v = assess(&s, &own);
    assert_eq!(v.pin.unwrap().standing, Standing::Class(Class::Premium));
    assert_eq!(v.box_.unwrap().standing, Standing::Class(Class::Class2));
    assert_eq!(v.limits, "own, edition 1, over pipelore starting set, edition 1");
}

#[test]
fn a_share_of_nominal_is_judged_as_it_was_read() {
    let mut s = sound("5 19.50");
    s.readings.retain(|m| m.what != ReadingKind::Wall);
    s.nominal.wall = None;
    s.readings.push(Measured {
        what: ReadingKind::Wall,
        end: None,
        amount: Amount::OfNominal(quanta("82 %", Measure::Ratio)),
        at: None,
        doubtful: false,
    });
    let v = judged(&s);
    assert_eq!(v.tube.unwrap().measured, Some(Class::Premium));
    let wall = v.judgements.iter().find(|j| j.criterion == Criterion::WearWall).unwrap();
    assert_eq!(wall.measure.text(wall.margin.unwrap(), UnitSystem::Us), "2.0 %");
    // A length without the nominal says nothing.
    set(&mut s, ReadingKind::Wall, None, "0.3 in");
    let v = judged(&s);
    assert_eq!(v.class(), None);
    assert_eq!(v.missing[0].lack, Lack::NoNominal);
}

#[test]
fn an_end_that_is_not_named_gets_no_reading() {
    let mut s = sound("5 19.50");
    s.readings.retain(|m| m.what != ReadingKind::JointOd);
    s.readings.push(reading(ReadingKind::JointOd, None, "6 1/2 in"));
    let v = judged(&s);
    assert_eq!(v.unplaced, [ReadingKind::JointOd]);
    assert_eq!(v.class(), None);
}
