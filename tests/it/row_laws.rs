//! Laws of rows, from files in to answers out, over random inspections with several readings and
//! findings at both ends: one more finding or reading never weakens a row or a call, and the order
//! of rows and files changes nothing. Every joint of a book is a case of its own.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use pipelore::condition::{Criterion, Disposition, Finding, On, SizeKind};
use pipelore::model::{Class, End, Place, ReadingKind, Vocabulary, Worse};
use pipelore::schema::{DimensionRow, FindingRow, JointRow, JointRunRow};

use super::cli::Desk;
use crate::chance::Chance;
use crate::world::standards;
use crate::yard::{Fields, JOINTS, PIPE, Yard, number, text};

/// Joints of a book.
const CASES: usize = 240;
const FIRST_DAY: &str = "2026-01-20";
const LAST_DAY: &str = "2026-03-10";

/// One row of a file of inspections: a reading, or a finding.
#[derive(Clone, Debug, PartialEq)]
enum Line {
    Reading {
        what: ReadingKind,
        end: Option<End>,
        value: f64,
        position: usize,
    },
    Finding {
        word: String,
        end: Option<End>,
        place: Option<Place>,
        size: Option<f64>,
        share: Option<u64>,
        along: Option<bool>,
    },
}

/// An inspection: what it found, row by row, and how it looked.
#[derive(Clone, Debug, Default)]
struct Look {
    methods: Vec<&'static str>,
    instrument: &'static str,
    declared: &'static str,
    report: &'static str,
    lines: Vec<Line>,
}

/// A joint: looks of an earlier day, and of the last.
#[derive(Clone, Debug, Default)]
struct Case {
    earlier: Vec<Look>,
    last: Vec<Look>,
}

const METHODS: [&str; 11] = [
    "visual_tube",
    "od_gauge",
    "ultrasonic_wall",
    "electromagnetic",
    "magnetic_slip",
    "ultrasonic_slip",
    "visual_connection",
    "blacklight_connection",
    "dimensional_2",
    "heat_check",
    "hardband_check",
];

/// Ends at which a kind is read; none for one of the joint as a whole.
const fn ends_of(what: ReadingKind) -> &'static [End] {
    use ReadingKind as R;
    match what {
        R::JointOd
        | R::Shoulder
        | R::Bevel
        | R::TongSpace
        | R::Benchmark
        | R::ProfileGap
        | R::ReliefDiameter
        | R::ReliefWidth
        | R::HardbandHeight => &[End::Pin, End::Box],
        R::Stretch | R::PinNeck | R::JointId => &[End::Pin],
        R::Counterbore | R::CounterboreDepth | R::BorebackDiameter => &[End::Box],
        R::Wall
        | R::BodyOd
        | R::BodyOdMax
        | R::SlipOd
        | R::CentreUpset
        | R::Bow
        | R::Length
        | R::FlawDepth
        | R::AdjacentWall
        | R::ElevatorGroove
        | R::SlipGroove => &[],
    }
}

/// Values around the limits of 5 in 19.50 lb/ft with NC50, inches.
const fn range_of(what: ReadingKind) -> (f64, f64) {
    use ReadingKind as R;
    match what {
        R::Wall => (0.23, 0.37),
        R::AdjacentWall => (0.28, 0.37),
        R::BodyOd => (4.8, 5.0),
        R::SlipOd => (4.7, 5.0),
        R::BodyOdMax => (5.0, 5.12),
        R::JointOd => (5.9, 6.65),
        R::JointId => (3.1, 3.5),
        R::Shoulder => (0.25, 0.6),
        R::Counterbore => (5.3, 5.4),
        R::CounterboreDepth => (0.5, 0.65),
        R::Bevel => (5.9, 6.2),
        R::TongSpace => (3.0, 9.0),
        R::Stretch => (0.0, 0.012),
        R::PinNeck => (0.45, 0.65),
        R::Benchmark => (0.03, 0.25),
        R::ProfileGap => (0.0, 0.05),
        R::HardbandHeight => (0.0, 0.2),
        R::CentreUpset => (5.0, 5.5),
        R::Bow => (0.0, 1.0),
        R::Length => (370.0, 374.0),
        R::FlawDepth => (0.0, 0.1),
        R::ReliefDiameter | R::BorebackDiameter => (4.0, 5.0),
        R::ReliefWidth => (0.8, 1.2),
        R::ElevatorGroove | R::SlipGroove => (0.1, 0.4),
    }
}

fn between(chance: &mut Chance, (low, high): (f64, f64)) -> f64 {
    let n = chance.below(1001) as f64 / 1000.0;
    ((low + (high - low) * n) * 10_000.0).round() / 10_000.0
}

fn one_of<'a, T>(chance: &mut Chance, all: &'a [T]) -> &'a T {
    &all[chance.pick(all.len())]
}

fn maybe<T: Copy>(chance: &mut Chance, all: &[T]) -> Option<T> {
    if all.is_empty() || chance.below(3) == 0 { None } else { Some(*one_of(chance, all)) }
}

fn reading(chance: &mut Chance, what: ReadingKind, end: Option<End>, position: usize) -> Line {
    Line::Reading { what, end, value: between(chance, range_of(what)), position }
}

/// A finding; now and then by a word that was found already, at another end or of another size.
fn finding(chance: &mut Chance, among: &[Line]) -> Line {
    let catalogue = &standards().findings;
    let words: Vec<&String> = among
        .iter()
        .filter_map(|l| if let Line::Finding { word, .. } = l { Some(word) } else { None })
        .collect();
    let entry = if words.is_empty() || chance.below(2) == 0 {
        one_of(chance, catalogue.all())
    } else {
        catalogue.get(one_of::<&String>(chance, &words)).unwrap()
    };
    let end = if entry.on == On::End { maybe(chance, &entry.ends) } else { None };
    let span = |kind| match kind {
        SizeKind::Depth | SizeKind::Gap | SizeKind::Growth => (0.0, 0.1),
        SizeKind::Diameter => (4.7, 5.05),
        SizeKind::WallLeft => (0.2, 0.36),
        SizeKind::Width | SizeKind::Height => (0.0, 0.3),
        SizeKind::Length => (0.0, 3.0),
    };
    let sized = entry.size.filter(|_| chance.below(3) > 0);
    Line::Finding {
        word: entry.word.clone(),
        end,
        place: maybe(chance, &entry.places),
        size: sized.map(|kind| between(chance, span(kind))),
        share: entry.share.filter(|_| chance.below(3) > 0).map(|_| chance.below(60)),
        along: maybe(chance, &[true, false]),
    }
}

/// Readings of everything that a class rests on and of half of the rest, some of them at several
/// places, and a few findings.
fn look(chance: &mut Chance, whole: bool) -> Look {
    use ReadingKind as R;
    let mut lines = Vec::new();
    for what in R::ALL.iter().copied() {
        let must = whole && matches!(what, R::Wall | R::JointOd | R::Shoulder);
        for end in ends_of(what).iter().copied().map(Some).chain([None]) {
            if end.is_none() && !ends_of(what).is_empty() {
                continue;
            }
            if must || chance.below(4) == 0 {
                for position in 1..=1 + chance.pick(3) {
                    lines.push(reading(chance, what, end, position));
                }
            }
        }
    }
    for _ in 0..chance.pick(5) {
        let one = finding(chance, &lines);
        lines.push(one);
    }
    let methods = if whole { METHODS.len() } else { chance.pick(METHODS.len() + 1) };
    let mut all = METHODS.to_vec();
    while all.len() > methods {
        all.remove(chance.pick(all.len()));
    }
    Look { methods: all, lines, ..Look::default() }
}

fn cases(chance: &mut Chance, joints: usize) -> Vec<Case> {
    let mut out = Vec::new();
    for n in 0..joints {
        let mut case = Case::default();
        if n % 2 == 0 {
            case.earlier.push(look(chance, true));
        }
        let whole = chance.below(3) > 0;
        case.last.push(look(chance, whole));
        out.push(case);
    }
    out
}

// ---------------------------------------------------------------------------------------- files

fn serial(n: usize) -> String {
    format!("A-{n:04}")
}

const HEAD: &str = "Serial,Date,Report,Methods,Instrument,Class,Reading,Value,End,Position,Finding,Place,\
                    Size [in],Share [%],Direction\n";

fn head(n: usize, day: &str, look: &Look) -> String {
    let Look { report, instrument, declared, .. } = look;
    format!("{},{day},{report},{},{instrument},{declared}", serial(n), look.methods.join("; "))
}

fn row(n: usize, day: &str, look: &Look, line: &Line) -> String {
    let text = |t: Option<&str>| t.unwrap_or_default().to_owned();
    let number = |v: Option<f64>| v.map_or_else(String::new, |v| v.to_string());
    let head = head(n, day, look);
    match line {
        Line::Reading { what, end, value, position } => {
            format!("{head},{what},{value} in,{},{position},,,,,", text(end.map(Vocabulary::word)))
        }
        Line::Finding { word, end, place, size, share, along } => format!(
            "{head},,,{},,{word},{},{},{},{}",
            text(end.map(Vocabulary::word)),
            text(place.map(Vocabulary::word)),
            number(*size),
            share.map_or_else(String::new, |s| s.to_string()),
            text(along.map(|a| if a { "longitudinal" } else { "transverse" })),
        ),
    }
}

/// The rows of a day's looks, look by look.
fn rows<'a>(day: &str, looks: impl Iterator<Item = (usize, &'a Look)>) -> Vec<String> {
    let mut out = Vec::new();
    for (n, look) in looks {
        if look.lines.is_empty() {
            out.push(format!("{},,,,,,,,,", head(n, day, look)));
        }
        out.extend(look.lines.iter().map(|line| row(n, day, look, line)));
    }
    out
}

/// Files of all joints: the earlier day, then the last.
fn files(cases: &[Case]) -> [String; 2] {
    let of = |day, get: fn(&Case) -> &Vec<Look>| {
        let all = cases.iter().enumerate();
        rows(day, all.flat_map(move |(n, c)| get(c).iter().map(move |l| (n, l))))
    };
    [of(FIRST_DAY, |c| &c.earlier), of(LAST_DAY, |c| &c.last)].map(|rows| file(&rows))
}

fn file(rows: &[String]) -> String {
    format!("{HEAD}{}\n", rows.join("\n"))
}

/// A yard with the joints and no inspection yet; an instrument of it is in doubt all along.
fn stocked(joints: usize) -> Yard {
    let mut yard = Yard::with_joints((0..joints).map(serial));
    yard.load("Tag,Instrument,Date\nUT-9,ut gauge,2026-01-05\n");
    yard.load("Tag,Check,Date,Passed\nUT-9,reference block,2026-04-01,no\n");
    yard
}

// ----------------------------------------------------------------------------------------- laws

/// What one row lacks to be at least as strict as another of its joint.
fn weaker(a: &Fields, b: &Fields) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut say = |field: &str| wrong.push(format!("{field} {:?} was {:?}", b[field], a[field]));
    let d = |row: &Fields| word::<Disposition>(row, "disposition");
    let class = |row: &Fields| word::<Class>(row, "class");
    // A downgrade is the step from the class before. Where an earlier look has taken the class that
    // far already, there is no step left to call for, and the class itself is what must not rise.
    let taken_earlier = d(a) == Some(Disposition::Downgrade)
        && class(a).is_some_and(|then| class(b).is_some_and(|now| now >= then));
    if d(b) < d(a) && !taken_earlier {
        say("disposition");
    }
    for field in ["class", "tube_class", "pin_class", "box_class"] {
        let sound = match (word::<Class>(a, field), word::<Class>(b, field)) {
            (Some(less), Some(more)) => more >= less,
            (less, None) => less.is_none() || d(b).is_some_and(|d| !d.may_run()),
            // A part that had none was rejected, or held.
            (None, Some(more)) => more == Class::Scrap,
        };
        if !sound {
            say(field);
        }
    }
    for field in ["open_findings", "out"] {
        if number(b, field) < number(a, field) {
            say(field);
        }
    }
    let words = |row: &Fields| -> BTreeSet<String> {
        let all = text(row, "restriction").unwrap_or_default().split(", ");
        all.filter(|w| !w.is_empty()).map(str::to_owned).collect()
    };
    if !words(b).is_superset(&words(a)) {
        say("restriction");
    }
    use ReadingKind as R;
    for (field, what, end) in [
        ("wall", R::Wall, None),
        ("wall_thickness", R::Wall, None),
        ("body_od", R::BodyOd, None),
        ("slip_od", R::SlipOd, None),
        ("pin_od", R::JointOd, Some(End::Pin)),
        ("pin_id", R::JointId, Some(End::Pin)),
        ("pin_shoulder", R::Shoulder, Some(End::Pin)),
        ("pin_stretch", R::Stretch, Some(End::Pin)),
        ("pin_tong", R::TongSpace, Some(End::Pin)),
        ("box_od", R::JointOd, Some(End::Box)),
        ("box_shoulder", R::Shoulder, Some(End::Box)),
        ("box_counterbore", R::Counterbore, Some(End::Box)),
        ("box_tong", R::TongSpace, Some(End::Box)),
    ] {
        let Some(before) = number(a, field) else { continue };
        let sound = number(b, field).is_some_and(|after| match what.worse(end) {
            Worse::Less => after <= before,
            Worse::More => after >= before,
            Worse::EitherWay => true,
        });
        if !sound {
            say(field);
        }
    }
    wrong
}

fn word<V: Vocabulary>(row: &Fields, field: &str) -> Option<V> {
    text(row, field).map(|w| V::from_word(w).unwrap())
}

/// Which rows of findings are gone, or milder than they were.
fn milder(less: &[Fields], more: &[Fields]) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut left = more.to_vec();
    let d = |row: &Fields| word::<Disposition>(row, "disposition");
    for f in less {
        let same = |o: &Fields| {
            ["date", "what", "place", "end", "size", "share", "transverse", "open"]
                .iter()
                .all(|field| o[field] == f[field])
        };
        // Of several alike the mildest speaks for this one.
        let of_it = left.iter().enumerate().filter(|(_, o)| same(o));
        match of_it.min_by_key(|(_, o)| d(o)) {
            None => wrong.push(format!("finding is gone: {f:?}")),
            Some((at, o)) => {
                if d(o) < d(f) {
                    wrong.push(format!("finding {:?} of {f:?}", o["disposition"]));
                }
                left.remove(at);
            }
        }
    }
    wrong
}

/// Whether a line could say what a flaw is of which a depth was read, which holds the joint as long
/// as nobody does.
fn names_a_flaw(line: &Line) -> bool {
    let is_deep =
        |f: &Finding| f.is_crack() || matches!(f.size, Some(SizeKind::Depth | SizeKind::WallLeft));
    matches!(line, Line::Finding { word, .. } if standards().findings.get(word).is_ok_and(is_deep))
}

fn flaw(look: &Look) -> bool {
    look.lines.iter().any(|l| matches!(l, Line::Reading { what: ReadingKind::FlawDepth, .. }))
}

/// Whether a line reads what an earlier look read as a little less, within what an instrument
/// repeats: then it stands, where steel that had grown by more would have left the earlier one
/// standing.
fn agrees_with_an_earlier_one(case: &Case, line: &Line) -> bool {
    let Line::Reading { what, end, value, .. } = line else { return false };
    let before = case.earlier.iter().flat_map(|look| &look.lines).filter_map(|l| match l {
        Line::Reading { what: w, end: e, value, .. } if (w, e) == (what, end) => Some(*value),
        Line::Reading { .. } | Line::Finding { .. } => None,
    });
    let least = before.fold(f64::INFINITY, f64::min);
    let repeats = what.repeats_within() as f64 / 25.4e6;
    *value > least && *value - least <= repeats
}

/// Whether a line could say why a diameter of the body is small, which holds the joint as long as
/// nobody does: a wall as worn as that, or a finding that is judged by the diameter.
fn explains_a_diameter(line: &Line) -> bool {
    match line {
        Line::Reading { what, .. } => *what == ReadingKind::Wall,
        Line::Finding { word, size, .. } => {
            let of = |f: &Finding| {
                f.judged_by.iter().any(|c| {
                    matches!(c, Criterion::StretchOd | Criterion::SlipOd | Criterion::DentOd)
                })
            };
            size.is_some() && standards().findings.get(word).is_ok_and(of)
        }
    }
}

fn small_body(look: &Look) -> bool {
    look.lines.iter().any(|l| matches!(l, Line::Reading { what: ReadingKind::BodyOd, .. }))
}

/// One more line for a look: a finding, or another reading of what it has read.
fn one_more(chance: &mut Chance, case: &Case, look: &Look) -> Line {
    loop {
        let readings: Vec<(ReadingKind, Option<End>)> = look
            .lines
            .iter()
            .filter_map(|l| match l {
                Line::Reading { what, end, .. } => Some((*what, *end)),
                Line::Finding { .. } => None,
            })
            .collect();
        let line = if readings.is_empty() || chance.below(2) == 0 {
            finding(chance, &look.lines)
        } else {
            let (what, end) = *one_of(chance, &readings);
            reading(chance, what, end, 9)
        };
        let any = |read: fn(&Look) -> bool| case.earlier.iter().chain(&case.last).any(read);
        let explains = any(small_body) && explains_a_diameter(&line)
            || any(flaw) && names_a_flaw(&line)
            || agrees_with_an_earlier_one(case, &line);
        if !explains {
            return line;
        }
    }
}

/// Random joints, the same joints with one more line each, and those lines.
fn one_more_each(chance: &mut Chance, joints: usize) -> (Vec<Case>, Vec<Case>, Vec<Line>) {
    let less = cases(chance, joints);
    let mut more = less.clone();
    let mut added = Vec::new();
    for (case, before) in more.iter_mut().zip(&less) {
        let last = case.earlier.is_empty() || chance.below(3) > 0;
        let look = if last { &mut case.last[0] } else { &mut case.earlier[0] };
        let line = one_more(chance, before, look);
        look.lines.insert(chance.pick(look.lines.len() + 1), line.clone());
        added.push(line);
    }
    (less, more, added)
}

#[test]
fn one_more_finding_or_reading_never_weakens_a_row() {
    let mut chance = Chance::new("one more finding or reading");
    let (less, more, added) = one_more_each(&mut chance, CASES);
    let [first, second] = [&less, &more].map(|cases| {
        let mut yard = stocked(CASES);
        files(cases).iter().for_each(|file| drop(yard.load(file)));
        let mut findings = BTreeMap::<i64, Vec<Fields>>::new();
        for row in yard.rows::<FindingRow>() {
            findings.entry(number(&row, "joint").unwrap()).or_default().push(row);
        }
        let joints = yard.rows::<JointRow>();
        joints
            .into_iter()
            .map(|row| {
                let found = findings.remove(&number(&row, "joint").unwrap());
                (row, found.unwrap_or_default())
            })
            .collect::<Vec<_>>()
    });
    let mut wrong = String::new();
    let both = first.iter().zip(&second).zip(&added).enumerate();
    for (n, (((a, found), (b, found_more)), line)) in both {
        for what in weaker(a, b).into_iter().chain(milder(found, found_more)) {
            let _ = writeln!(wrong, "{} with {line:?}: {what}\n   {:#?}", serial(n), less[n]);
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// Calls that are put off only by something worse.
const ORDER: [&str; 5] = ["inspection", "downgrade", "repair", "quarantine", "retire"];

fn rank_of_call(call: &str) -> usize {
    ORDER.iter().position(|c| *c == call).unwrap()
}

/// Rules that call for something, by joint.
fn calls(cases: &[Case], desk: &Desk) -> BTreeMap<String, BTreeSet<String>> {
    let joints: Vec<String> = (0..cases.len()).map(|n| format!("{},{PIPE}\n", serial(n))).collect();
    let joints = joints.concat();
    desk.write("joints.csv", format!("{JOINTS}{joints}"));
    desk.run(&["load", "joints.csv", "--insist=read twice"]).ok();
    for (n, text) in files(cases).iter().enumerate() {
        let name = format!("looks-{n}.csv");
        desk.write(&name, text);
        desk.run(&["load", &name, "--insist=read twice"]).ok();
    }
    let due = desk.run(&["due", "--json"]).json();
    let mut out = BTreeMap::<String, BTreeSet<String>>::new();
    for line in due["due"].as_array().unwrap() {
        let also = line["also"].as_str().unwrap_or_default().split(", ");
        let all = std::iter::once(line["rule"].as_str().unwrap()).chain(also);
        let rules = out.entry(line["serial"].as_str().unwrap().to_owned()).or_default();
        rules.extend(all.filter(|rule| !rule.is_empty()).map(str::to_owned));
    }
    out
}

/// A nick in the seal of the box that nobody measured holds the joint until somebody decides. A
/// small one on the pin, that day or the next, changes nothing of it.
#[test]
fn a_milder_second_finding_puts_no_call_off() {
    let head = "Serial,Date,Methods,Finding,End,Size [in],Share [%]\n";
    let one = |day: &str| format!("A-1,{day},visual connection,nick,box,,\n");
    let other = |day: &str| format!("A-1,{day},visual connection,nick,pin,.005,5\n");
    let (first, next) = ("2026-02-01", "2026-02-02");
    for files in [
        vec![one(first)],
        vec![one(first) + &other(first)],
        vec![other(first) + &one(first)],
        vec![one(first), other(next)],
        vec![other(first), one(next)],
    ] {
        let desk = Desk::with_book();
        desk.write("joints.csv", format!("{JOINTS}A-1,{PIPE}\n"));
        desk.run(&["load", "joints.csv"]).ok();
        for (n, rows) in files.iter().enumerate() {
            let name = format!("{n}.csv");
            desk.write(&name, format!("{head}{rows}"));
            desk.run(&["load", &name]).ok();
        }
        let due = desk.run(&["due", "--call", "quarantine", "--json"]).json();
        let called: Vec<_> = due["due"].as_array().unwrap().iter().map(|l| &l["rule"]).collect();
        assert_eq!(called, ["on_hold"], "{files:?}");
    }
}

#[test]
fn one_more_finding_or_reading_never_puts_a_call_off() {
    let mut chance = Chance::new("calls of one more finding or reading");
    let (less, more, added) = one_more_each(&mut chance, CASES / 3);
    let (first, second) = (Desk::with_book(), Desk::with_book());
    let (ours, theirs) = (calls(&less, &first), calls(&more, &second));
    assert!(ours.len() > CASES / 6, "few joints are called for: {ours:?}");
    let rules = first.run(&["rules", "--json"]).json();
    let rank: BTreeMap<&str, usize> = rules["rules"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| (r["rule"].as_str().unwrap(), rank_of_call(r["call"].as_str().unwrap())))
        .collect();
    let none = BTreeSet::new();
    let mut wrong = String::new();
    for (n, line) in added.iter().enumerate() {
        let then = theirs.get(&serial(n)).unwrap_or(&none);
        let worst = then.iter().map(|rule| rank[&**rule]).max();
        for rule in ours.get(&serial(n)).unwrap_or(&none).difference(then) {
            if worst.is_none_or(|w| w < rank[&**rule]) {
                let case = &less[n];
                let _ = writeln!(wrong, "{rule} and {then:?} with {line:?}:\n   {case:#?}");
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

// ------------------------------------------------------------------------------------ one order

fn shuffle<T>(chance: &mut Chance, all: &mut [T]) {
    for at in (1..all.len()).rev() {
        all.swap(at, chance.pick(at + 1));
    }
}

/// Two looks of the last day, by two firms: what each reads, declares and by what it looked is its
/// own, and the second uses an instrument that is in doubt now and then.
fn two_looks_a_day(chance: &mut Chance) -> Vec<Case> {
    let mut all = cases(chance, CASES);
    for case in &mut all {
        let whole = chance.below(2) == 0;
        case.last.push(look(chance, whole));
        for (look, report) in case.last.iter_mut().zip(["HY-1", "HY-2"]) {
            look.report = report;
            look.declared = *one_of(chance, &["", "", "premium", "class 2"]);
        }
        if chance.below(4) == 0 {
            case.last[1].instrument = "UT-9";
        }
    }
    all
}

/// All joints run in one string after the last day: what they weigh, how they bend and where they
/// were damaged goes by the section and the length that were read.
fn run_of_all(yard: &mut Yard) {
    yard.load(
        "Well,Larkfield 1H\nDate,2026-03-15\nMD [ft],Inclination [deg],Azimuth [deg]\n\
         0,0,62\n1000,0,62\n2000,40,62\n9000,40,62\n",
    );
    let mut tally =
        "Position,Serial,Component,Length [ft],OD [in],ID [in],Weight [lb/ft]\n".to_owned();
    for n in 1..=10 {
        let _ = writeln!(tally, "{n},,drill collar,30,6.75,2.8125,100");
    }
    for n in 0..CASES {
        let _ = writeln!(tally, "{},{},drill pipe,,,,", n + 11, serial(n));
    }
    let operations = "Activity,Bit from [ft],Bit to [ft],Hours [h],RPM,WOB [klbf]\n\
                      rotating on bottom,7900,8200,20,100,20\n";
    let run = "name = \"R1\"\nwell = \"Larkfield 1H\"\nstart = 2026-03-20T06:00:00Z\n\
               end = 2026-03-22T06:00:00Z\nmud_weight = \"9.6 ppg\"\n\
               environment = \"protected\"\nhole_diameter = \"8 1/2 in\"\n\
               casing_depth = \"1050 ft\"\ntally = \"tally.csv\"\nlog = \"operations.csv\"\n";
    let files = [("run.toml", run), ("tally.csv", &*tally), ("operations.csv", operations)];
    yard.load_with("run.toml", &files);
}

/// Everything that a book says of its joints, but for the names of entries, which follow the order
/// in which files came, and for the rows of single inspections, each of which says what was known
/// with it.
fn everything(yard: &Yard) -> Vec<Fields> {
    let mut findings = yard.rows::<FindingRow>();
    findings
        .iter_mut()
        .for_each(|f| f.retain(|column, _| !["entry", "turn", "n"].contains(column)));
    findings.sort_by_key(|f| format!("{f:?}"));
    let mut joints = yard.rows::<JointRow>();
    for row in &mut joints {
        row.retain(|column, _| !["class_entry", "records_digest"].contains(column));
    }
    let rows = joints.into_iter().chain(findings).chain(yard.rows::<DimensionRow>());
    rows.chain(yard.rows::<JointRunRow>()).collect()
}

fn same(what: &str, a: &[Fields], b: &[Fields], cases: &[Case]) {
    assert_eq!(a.len(), b.len(), "{what}");
    for (a, b) in a.iter().zip(b) {
        let other: Vec<String> = a
            .iter()
            .filter(|(column, value)| b[*column] != **value)
            .map(|(column, value)| format!("{column} is {value:?} and was {:?}", b[column]))
            .collect();
        // Joints were the first to be entered, behind the two entries that began the book.
        let case = number(a, "joint").map(|joint| &cases[usize::try_from(joint - 3).unwrap()]);
        assert!(other.is_empty(), "{what}: {other:#?}\n{case:#?}");
    }
}

#[test]
fn the_order_of_rows_and_files_changes_nothing() {
    let mut chance = Chance::new("order of rows and files");
    let cases = two_looks_a_day(&mut chance);
    let looks = |day, get: fn(&Case) -> &[Look]| -> Vec<String> {
        let all = cases.iter().enumerate();
        rows(day, all.flat_map(move |(n, c)| get(c).iter().map(move |l| (n, l))))
    };
    let earlier = file(&looks(FIRST_DAY, |c| &c.earlier));
    let (one, other) = (looks(LAST_DAY, |c| &c.last[..1]), looks(LAST_DAY, |c| &c.last[1..]));
    let mut both: Vec<String> = one.iter().chain(&other).cloned().collect();
    let (mut shuffled_one, mut shuffled_other) = (one.clone(), other.clone());
    for rows in [&mut both, &mut shuffled_one, &mut shuffled_other] {
        shuffle(&mut chance, rows);
    }
    let said = [vec![one, other], vec![shuffled_other, shuffled_one], vec![both]].map(|files| {
        let mut yard = stocked(CASES);
        yard.load(&earlier);
        // What two files of a day read apart is a conflict.
        yard.keep_conflicts = true;
        files.iter().for_each(|rows| drop(yard.load(&file(rows))));
        run_of_all(&mut yard);
        everything(&yard)
    });
    same("files of a day in another order", &said[1], &said[0], &cases);
    same("one file in place of two", &said[2], &said[0], &cases);
}
