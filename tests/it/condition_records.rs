//! From what people write to a verdict and back to words: readings and findings as recorded, limits
//! as a sheet shows them, restrictions carried on, lines that a person reads.

use pipelore::condition::{
    Amount, Criterion, ForClass, Restriction, Standing, Subject, Verdict, assess,
    restrictions_after, thresholds,
};
use pipelore::model::{
    Class, Component, End, InspectionBody, JointBody, Method, ReadingKind, Scope, Work,
};
use pipelore::units::{Measure, UnitSystem};

use crate::condition::{find, judged, nm, set, sound};
use crate::world::standards;

fn joint() -> JointBody {
    serde_json::from_value(serde_json::json!({
        "serial": "K1-0417", "component": "drill_pipe", "od": "5 in", "id": "4.276 in",
        "grade": "G105", "connection": "NC50", "tj_od": "6 5/8 in", "tj_id": "3 1/4 in"
    }))
    .unwrap()
}

fn inspection(value: serde_json::Value) -> InspectionBody {
    serde_json::from_value(value).unwrap()
}

#[test]
fn an_inspection_as_recorded_becomes_a_verdict() {
    let body = inspection(serde_json::json!({
        "joint": "K1-0417@yard-12",
        "methods": ["visual_tube", "ultrasonic_wall", "emi", "visual_connection", "dimensional_1"],
        "readings": [
            {"what": "wall", "value": "82 %"},
            {"what": "tj_od", "end": "pin", "value": "6 1/2 in"},
            {"what": "tj_od", "end": "box", "value": "160 mm"},
            {"what": "shoulder", "end": "box", "value": "7/16 in"}
        ],
        "findings": [
            {"what": "die cut", "size": "0.03 in", "transverse": false, "at": "28 ft"},
            {"what": "Rough hardband", "end": "box"}
        ]
    }));
    let (mut subject, errors) = Subject::of_joint(&joint()).inspected(&body, &standards().findings);
    assert_eq!(errors, []);
    assert_eq!(subject.nominal.wall, Some(nm("0.362 in")), "from the bore");
    assert_eq!(subject.readings[0].amount, Amount::OfNominal(820_000_000));
    assert_eq!(subject.findings[0].what, "slip_cut");
    let limits = sound("5 19.50").nominal.pin.limits;
    subject.nominal.pin.limits.clone_from(&limits);
    subject.nominal.box_.limits = limits;
    let v = assess(&subject, standards());
    // 0.03 in of the lowest wall of 0.297 in is 10.1 %: Class 2 along the pipe (wall left 73.7 %).
    assert_eq!(v.class(), Some(Class::Class2));
    assert_eq!(v.restrictions, [Restriction::OpenHoleOrProtectors]);
    assert_eq!(v.box_.unwrap().standing, Standing::Class(Class::Premium));
}

#[test]
fn what_cannot_be_used_is_named_and_the_rest_is_kept() {
    let body = inspection(serde_json::json!({
        "joint": "K1-0417@yard-12",
        "readings": [
            {"what": "wall", "value": "0.3 in"},
            {"what": "wall", "value": "30 kN"},
            {"what": "tj_od", "end": "pin", "value": "6.5"},
            {"what": "stretch", "end": "pin", "value": "5 %"}
        ],
        "findings": [
            {"what": "galed"},
            {"what": "rough hardband", "place": "shoulder"},
            {"what": "swollen box", "end": "pin"},
            {"what": "nick", "size": "3 ppm"},
            {"what": "lapped", "end": "box"}
        ]
    }));
    let (subject, errors) = Subject::of_joint(&joint()).inspected(&body, &standards().findings);
    let said: Vec<String> = errors.iter().map(ToString::to_string).collect();
    assert_eq!(
        said,
        [
            "reading 2 (wall): 'kN' measures a force, not a length; write for example in, mm, ft \
             or m",
            "reading 3 (tj_od): 6.5 has no unit; write for example in, mm, ft or m",
            "reading 4 (stretch): '%' measures a plain number, not a length; write for example in, \
             mm, ft or m",
            "finding 1 (galed): 'galed' is not a finding of the catalogue; did you mean galled?",
            "finding 2 (rough hardband): hardband_rough is not found on shoulder; it is found on \
             hardband",
            "finding 3 (swollen box): swollen_box is not found on the pin",
            "finding 4 (nick): 'ppm' measures a plain number, not a length; write for example in, \
             mm, ft or m",
        ]
    );
    assert_eq!(subject.readings.len(), 1);
    assert_eq!(subject.findings.len(), 1);
}

#[test]
fn limits_of_a_joint_as_lengths() {
    let s = sound("3.5 13.30");
    let all = thresholds(&s, standards());
    let one = |criterion: Criterion, class: ForClass| {
        all.iter().find(|t| t.criterion == criterion && t.limit.class == class).unwrap()
    };
    let premium = ForClass::Class(Class::Premium);
    let wall = one(Criterion::WearWall, premium);
    assert_eq!((wall.reading, wall.at), (ReadingKind::Wall, nm("0.2944 in")));
    assert_eq!(one(Criterion::JointOd, premium).at, nm("4 1/2 in"));
    assert_eq!(one(Criterion::Counterbore, ForClass::Any).at, nm("104.37375 mm"));
    // 75 % of 4 3/4 in.
    assert_eq!(one(Criterion::PinTongShare, ForClass::Any).at, nm("3.5625 in"));
    // A limit that must not be reached is one nanometre away from it.
    assert_eq!(one(Criterion::BenchmarkPin, ForClass::Any).at, nm("3/16 in") - 1);
    // Nothing is shown that cannot be worked out.
    let bare = thresholds(&Subject::new(Component::DrillPipe), standards());
    assert!(bare.iter().all(|t| t.criterion != Criterion::WearWall));
    // A reading at the limit keeps it, and one nanometre beyond does not.
    for t in &all {
        let ForClass::Class(class) = t.limit.class else { continue };
        if class == Class::Class3 || t.criterion == Criterion::StretchOd {
            continue;
        }
        let toward = if t.limit.comparison.wants_more() { -1 } else { 1 };
        for (value, keeps) in [(t.at, true), (t.at + toward, false)] {
            let mut joint = s.clone();
            joint.readings.retain(|m| m.what != t.reading || m.end != t.part.end());
            joint.readings.push(pipelore::condition::Measured {
                what: t.reading,
                end: t.part.end(),
                amount: Amount::Length(value),
                at: None,
                doubtful: false,
            });
            let v = judged(&joint);
            let j = v
                .judgements
                .iter()
                .find(|j| j.criterion == t.criterion && j.part == t.part)
                .unwrap();
            let got = matches!(
                j.outcome,
                pipelore::condition::Outcome::Class(c) if c <= class
            );
            assert_eq!(got, keeps, "{} {} {class} {value}", t.part, t.criterion);
        }
    }
}

#[test]
fn a_restriction_stays_until_its_cause_is_gone() {
    let before = [Restriction::OpenHoleOrProtectors, Restriction::OwnerUse];
    let mut s = sound("5 19.50");
    s.methods = vec![Method::VisualTube];
    let after =
        |v: &Verdict, done: &[Work]| restrictions_after(&before, v, done, &standards().works);
    assert_eq!(after(&judged(&s), &[]), before, "nobody looked");
    s.methods = vec![Method::VisualConnection];
    assert_eq!(after(&judged(&s), &[]), before, "nobody felt its height");
    s.methods = vec![Method::HardbandCheck];
    set(&mut s, ReadingKind::HardbandHeight, Some(End::Box), "1/16 in");
    let v = judged(&s);
    assert!(v.covered.contains(&Scope::Hardband));
    assert_eq!(after(&v, &[]), [Restriction::OwnerUse], "worn smooth");
    find(&mut s, "rough hardband", Some(End::Box), None);
    assert_eq!(after(&judged(&s), &[]), before, "still rough");
    s = sound("5 19.50");
    s.methods = vec![Method::VisualTube];
    assert_eq!(after(&judged(&s), &[Work::Hardband]), [Restriction::OwnerUse], "new band");
}

#[test]
fn a_verdict_reads_in_words() {
    let mut s = sound("3.5 13.30");
    set(&mut s, ReadingKind::Wall, None, "0.300 in");
    s.readings.retain(|m| m.what != ReadingKind::Shoulder);
    let v = judged(&s);
    let line =
        |c: Criterion| v.judgements.iter().find(|j| j.criterion == c).unwrap().text(UnitSystem::Us);
    assert_eq!(
        line(Criterion::WearWall),
        "outside wear: remaining wall: 0.300 in (81.5 % of nominal wall), Premium; limit >= 80 % of \
         nominal wall, 0.006 in to spare (ISO 10407-2 / API RP 7G-2, ISO 2008 / API 1st ed. 2009; \
         published)"
    );
    assert_eq!(
        line(Criterion::JointOd),
        "pin: tool joint outside diameter: 4 3/4 in, Premium; limit >= 4 1/2 in, 1/4 in to spare (API \
         RP 7G, basis of Table 10; computed)"
    );
    assert_eq!(
        v.missing[0].text(),
        "box shoulder: not measured; class and torque of the end rest on them; out of its limit it stops \
         the joint; by dimensional 1 or dimensional 2"
    );
    assert_eq!(v.overall.standing.text(), "not established (Premium at best)");
    let wall = v.judgements.iter().find(|j| j.criterion == Criterion::WearWall).unwrap();
    assert_eq!(wall.value_text(UnitSystem::Metric), "7.62 mm");
    assert_eq!(Measure::Wall.text(wall.margin.unwrap(), UnitSystem::Metric), "0.14 mm");
}
