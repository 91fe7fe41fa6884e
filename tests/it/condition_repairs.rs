//! Repairs against their limits, restrictions through work, and the class of a joint through time.

use pipelore::condition::{
    Change, ClassDecision, ClassStep, Criterion, LimitSet, Part, Previous, RepairHistory,
    RepairInput, RepairIssue, Restriction, RestsOn, Severity, Standards, StepFlag, Subject,
    Verdict, can_clear, check_repair,
};
use pipelore::model::{Class, Component, End, Method, ReadingKind, Scope, SetKind, Work};

use crate::condition::{find, judged, nm, reading, set, sound};
use crate::world::{edition, standards};

fn repair(work: Work, end: Option<End>) -> RepairInput {
    RepairInput {
        component: Component::DrillPipe,
        nominal: sound("5 19.50").nominal,
        work,
        end,
        removed: None,
        results: Vec::new(),
        shop: Some("shop".to_owned()),
        licence: Some("licence".to_owned()),
        clears: Vec::new(),
        inspected: [
            Scope::Pin,
            Scope::Box,
            Scope::BodyCracks,
            Scope::SlipCracks,
            Scope::PinCracks,
            Scope::BoxCracks,
            Scope::Hardband,
            Scope::Bore,
        ]
        .into(),
    }
}

fn check(input: &RepairInput, history: &RepairHistory) -> Vec<RepairIssue> {
    check_repair(input, history, standards())
}

fn class_after(
    previous: &Previous,
    verdict: &Verdict,
    repairs: &[(Work, Option<End>)],
    decision: Option<&ClassDecision>,
) -> ClassStep {
    let works = &standards().works;
    pipelore::condition::class_after(previous, verdict, repairs, decision, works)
}

fn said(issues: &[RepairIssue]) -> Vec<String> {
    issues.iter().map(ToString::to_string).collect()
}

/// A reface of the pin of a benchmark at 1/8 in, with so much removed before.
fn reface(before: &str, off: &str) -> (RepairInput, RepairHistory) {
    let mut input = repair(Work::Reface, Some(End::Pin));
    input.removed = Some(nm(off));
    let history = RepairHistory {
        refaced: Some(nm(before)),
        mate_refaced: None,
        has_benchmark: Some(true),
        benchmark: Some(nm("1/8 in") + nm(before)),
        open_findings: Vec::new(),
        length: Some(nm("31 ft")),
    };
    input.results.push(pipelore::condition::Measured {
        what: ReadingKind::Benchmark,
        end: Some(End::Pin),
        amount: pipelore::condition::Amount::Length(nm("1/8 in") + nm(before) + nm(off)),
        at: None,
        doubtful: false,
    });
    (input, history)
}

/// Per time 1/32 in (NS-2 Repair Procedures, published); in all 1/32 in on either shoulder (patent
/// text, published) or 1/16 in on each half (NS-2): the stricter is in force, the other is named.
#[test]
fn refacing_is_limited_each_time_and_in_all() {
    let (input, history) = reface("0 in", "1/32 in");
    assert_eq!(said(&check(&input, &history)), Vec::<String>::new());

    let (input, history) = reface("0 in", "0.0313 in");
    let issues = check(&input, &history);
    assert!(matches!(issues[0], RepairIssue::TooMuchAtOnce { .. }), "{issues:?}");
    assert_eq!(issues[0].severity(), Severity::Refuse);
    assert_eq!(
        issues[0].to_string(),
        "0.0313 in removed at once; the limit is 1/32 in (NS-2, Repair Procedures r1, 2015)"
    );

    // 1/64 in before and 1/32 in now: beyond the stricter reading, within the other.
    let (input, history) = reface("1/64 in", "1/32 in");
    let issues = check(&input, &history);
    assert_eq!(issues.len(), 1, "{issues:?}");
    assert_eq!(issues[0].severity(), Severity::Warn);
    assert_eq!(
        issues[0].to_string(),
        "3/64 in removed since the last cut; the limit is 1/32 in (patent text); NS-2, Repair \
         Procedures r1, 2015 (1/16 in) would allow it"
    );
    // Another set may put the other source in force.
    let swapped = |line: &str| match line {
        l if !l.starts_with("reface_total,") => l.to_owned(),
        l if l.contains(",in_force,") => l.replace(",in_force,", ",alternative,"),
        l => l.replace(",alternative,", ",in_force,"),
    };
    let shipped = edition().set(SetKind::Limits).unwrap();
    let text: Vec<String> = shipped.lines().map(swapped).collect();
    let limits = LimitSet::parse(&text.join("\n")).unwrap().into();
    let ns2 = Standards { limits, ..standards().clone() };
    assert_eq!(check_repair(&input, &history, &ns2), []);

    // Beyond both.
    let (input, history) = reface("1/16 in", "1/64 in");
    let issues = check(&input, &history);
    let total = issues.iter().find(|i| matches!(i, RepairIssue::TooMuchInAll { .. })).unwrap();
    assert_eq!(total.severity(), Severity::Refuse);
    assert!(issues.iter().any(|i| matches!(i, RepairIssue::ResultFails { .. })), "benchmark gone");
}

#[test]
fn both_mating_shoulders_count_where_the_mate_is_known() {
    let (mut input, mut history) = reface("0 in", "1/32 in");
    history.mate_refaced = Some(nm("1/32 in"));
    assert!(check(&input, &history).is_empty());
    history.mate_refaced = Some(nm("0.0313 in"));
    assert!(matches!(check(&input, &history)[0], RepairIssue::TooMuchOfPair { .. }));
    input.removed = None;
    input.results.clear();
    let issues = check(&input, &history);
    assert!(issues.contains(&RepairIssue::RemovedUnknown));
}

#[test]
fn without_a_benchmark_there_is_no_refacing() {
    let (input, mut history) = reface("0 in", "1/64 in");
    history.has_benchmark = Some(false);
    assert!(matches!(check(&input, &history)[0], RepairIssue::NoBenchmark(_)));
}

#[test]
fn what_is_not_known_is_asked_for_and_never_zero() {
    let (input, mut history) = reface("0 in", "1/64 in");
    history.refaced = None;
    assert_eq!(check(&input, &history), [RepairIssue::TotalUnknown]);
    let mut bare = repair(Work::Recut, Some(End::Pin));
    bare.shop = None;
    bare.licence = Some(" ".to_owned());
    bare.inspected.clear();
    let said = said(&check(&bare, &RepairHistory::default()));
    assert_eq!(
        said,
        [
            "after recut look at: pin",
            "nobody is named who did it; it is work for: threading shop licensed for the connection",
            "recut needs a licence or a qualified procedure; none is named",
            "tong_space must be measured after recut",
        ]
    );
}

#[test]
fn the_benchmark_must_move_by_what_was_removed() {
    let (mut input, history) = reface("0 in", "1/32 in");
    input.removed = Some(nm("0.02 in"));
    assert!(matches!(check(&input, &history)[0], RepairIssue::BenchmarkDisagrees { .. }));
    // On the box it shrinks; the amount follows from it where none is said.
    let mut input = repair(Work::Reface, Some(End::Box));
    input.results.push(reading(ReadingKind::Benchmark, Some(End::Box), "0.1 in"));
    let history = RepairHistory {
        refaced: Some(0),
        benchmark: Some(nm("1/8 in")),
        has_benchmark: Some(true),
        ..RepairHistory::default()
    };
    assert!(check(&input, &history).is_empty());
    input.results = vec![reading(ReadingKind::Benchmark, Some(End::Box), "0.09 in")];
    assert!(matches!(check(&input, &history)[0], RepairIssue::TooMuchAtOnce { .. }));
}

#[test]
fn tong_space_must_be_left_after_a_recut() {
    let mut input = repair(Work::Recut, Some(End::Pin));
    input.removed = Some(nm("1 in"));
    input.results.push(reading(ReadingKind::TongSpace, Some(End::Pin), "5 in"));
    let history = RepairHistory { length: Some(nm("31 ft")), ..RepairHistory::default() };
    assert!(check(&input, &history).is_empty());
    // 75 % of 6 5/8 in is 4.969 in.
    input.results = vec![reading(ReadingKind::TongSpace, Some(End::Pin), "4.9 in")];
    let issues = check(&input, &history);
    assert_eq!(issues[0].severity(), Severity::Refuse);
    assert!(issues[0].to_string().starts_with("pin tong space after the work breaks its limit"));
}

#[test]
fn a_work_clears_only_what_it_can() {
    let mut input = repair(Work::Dress, Some(End::Pin));
    input.clears = vec!["root pitting".to_owned(), "galled".to_owned(), "galed".to_owned()];
    let history = RepairHistory {
        open_findings: vec!["galled_threads".to_owned(), "root_pitting".to_owned()],
        ..RepairHistory::default()
    };
    assert_eq!(
        said(&check(&input, &history)),
        [
            "dress does not clear root_pitting; it takes recut or cut_back or new_tool_joint",
            "'galed' is not a finding of the catalogue; did you mean galled?"
        ]
    );
    let c = &standards().findings;
    assert_eq!(can_clear(Work::Dress, "galled", c), Some(true));
    assert_eq!(can_clear(Work::Grind, "crack", c), Some(false), "nothing clears a cracked tube");
    assert_eq!(can_clear(Work::Reface, "shoulder nick", c), Some(true));
    assert_eq!(can_clear(Work::Reface, "nonsense", c), None);
    input.clears = vec!["sharp crests".to_owned()];
    assert_eq!(check(&input, &history), [RepairIssue::NotOpen("sharp_crests".to_owned())]);
}

#[test]
fn an_end_is_named_where_there_is_one_and_only_there() {
    let mut input = repair(Work::Reface, None);
    input.removed = Some(0);
    assert!(
        check(&input, &RepairHistory::default()).contains(&RepairIssue::EndMissing(Work::Reface))
    );
    let input = repair(Work::Straighten, Some(End::Pin));
    assert_eq!(check(&input, &RepairHistory::default()), [RepairIssue::EndNamed(Work::Straighten)]);
    let mut input = repair(Work::Straighten, None);
    input.inspected.clear();
    assert_eq!(
        said(&check(&input, &RepairHistory::default())),
        ["after straighten look at: body cracks"]
    );
}

#[test]
fn new_hardband_ends_the_restriction_and_grinding_does_not() {
    assert!(standards().works.ends_restriction(Work::Hardband, Restriction::OpenHoleOrProtectors));
    assert!(
        standards().works.ends_restriction(Work::NewToolJoint, Restriction::OpenHoleOrProtectors)
    );
    assert!(!standards().works.ends_restriction(Work::Dress, Restriction::OpenHoleOrProtectors));
    assert!(standards().works.ends_restriction(Work::Coat, Restriction::CorrosionPlan));
    let mut input = repair(Work::Hardband, Some(End::Box));
    input.results.push(reading(ReadingKind::HardbandHeight, Some(End::Box), "3/32 in"));
    assert!(check(&input, &RepairHistory::default()).is_empty());
    input.results = vec![reading(ReadingKind::HardbandHeight, Some(End::Box), "5/32 in")];
    assert_eq!(check(&input, &RepairHistory::default())[0].severity(), Severity::Warn);
}

#[test]
fn a_cut_back_shortens_the_joint() {
    let mut input = repair(Work::CutBack, Some(End::Box));
    input.results.push(reading(ReadingKind::TongSpace, Some(End::Box), "8 in"));
    input.results.push(reading(ReadingKind::Length, None, "31 ft"));
    let history = RepairHistory { length: Some(nm("31 ft")), ..RepairHistory::default() };
    assert!(matches!(check(&input, &history)[0], RepairIssue::NoShorter { .. }));
    assert!(standards().works.effect(Work::CutBack).unwrap().new_generation);
    assert!(!standards().works.effect(Work::Reface).unwrap().new_generation);
}

// -------------------------------------------------------------------------- class through time

fn previous(class: Class, criterion: Criterion, part: Part) -> Previous {
    Previous { class: Some(class), criterion: Some(criterion), part: Some(part), gaps: vec![] }
}

fn with_wall(wall: &str) -> Verdict {
    let mut s = sound("5 19.50");
    set(&mut s, ReadingKind::Wall, None, wall);
    judged(&s)
}

fn wall_read_before(wall: &str) -> Subject {
    let mut s = sound("5 19.50");
    s.readings.retain(|m| m.what != ReadingKind::Wall);
    s.earlier.readings.push((reading(ReadingKind::Wall, None, wall), 10));
    s
}

#[test]
fn a_class_falls_on_a_measurement() {
    let step = class_after(
        &previous(Class::Premium, Criterion::WearWall, Part::Tube),
        &with_wall("0.27 in"),
        &[],
        None,
    );
    assert_eq!((step.class, step.change), (Some(Class::Class2), Change::Worse));
    assert_eq!(step.rests_on, RestsOn::Verdict);
}

#[test]
fn a_class_rises_only_where_what_put_it_down_was_measured_or_repaired() {
    let worn = previous(Class::Class2, Criterion::WearWall, Part::Tube);
    // Measured again and better.
    let step = class_after(&worn, &with_wall("0.33 in"), &[], None);
    assert_eq!((step.class, step.change), (Some(Class::Premium), Change::Better));
    assert_eq!(step.flags, [StepFlag::Remeasured]);
    // Not measured again: a reading of before speaks for it, and the class stays.
    let step = class_after(&worn, &judged(&wall_read_before("0.33 in")), &[], None);
    assert_eq!((step.class, step.change), (Some(Class::Class2), Change::Same));
    assert_eq!(step.flags, [StepFlag::Carried, StepFlag::RiseWithoutEvidence]);
    // A recut does nothing for the tube.
    let step = class_after(
        &worn,
        &judged(&wall_read_before("0.33 in")),
        &[(Work::Recut, Some(End::Pin))],
        None,
    );
    assert_eq!(step.class, Some(Class::Class2));
    // New metal on the end that had put it down does.
    let end = previous(Class::Class2, Criterion::JointOd, Part::Box);
    let mut s = sound("5 19.50");
    let od = s.readings.iter().position(|m| m.end == Some(End::Box)).unwrap();
    let moved = s.readings.remove(od);
    s.earlier.readings.push((moved, 1));
    let step = class_after(&end, &judged(&s), &[(Work::BuildUp, Some(End::Box))], None);
    assert_eq!(step.class, Some(Class::Premium));
    assert!(step.flags.contains(&StepFlag::Repaired));
    // Scrap does not come back by a measurement.
    let scrap = previous(Class::Scrap, Criterion::CrackExternal, Part::Tube);
    assert_eq!(class_after(&scrap, &with_wall("0.36 in"), &[], None).class, Some(Class::Scrap));
}

#[test]
fn an_inspection_that_looked_at_less_takes_nothing_away() {
    let premium = previous(Class::Premium, Criterion::WearWall, Part::Tube);
    let mut s = Subject::new(Component::DrillPipe);
    s.nominal = sound("5 19.50").nominal;
    s.methods = vec![Method::VisualTube];
    let step = class_after(&premium, &judged(&s), &[], None);
    assert_eq!((step.class, step.change), (Some(Class::Premium), Change::Same));
    assert_eq!((step.rests_on, step.flags), (RestsOn::Before, vec![StepFlag::NotEstablished]));
    // What it did see counts: a wall of 72 % makes it Class 2.
    set(&mut s, ReadingKind::Wall, None, "0.261 in");
    let step = class_after(&premium, &judged(&s), &[], None);
    assert_eq!((step.class, step.change), (Some(Class::Class2), Change::Worse));
    // Everything measured, but nobody searched for cracks: it stays, and does not rise.
    let mut s = sound("5 19.50");
    s.methods.retain(|m| *m != Method::Electromagnetic);
    let v = judged(&s);
    assert_eq!(v.class(), Some(Class::Class2));
    let step = class_after(&premium, &v, &[], None);
    assert_eq!((step.class, step.rests_on), (Some(Class::Premium), RestsOn::Before));
    assert_eq!(step.flags, [StepFlag::HeldDown]);
    assert_eq!(class_after(&Previous::default(), &v, &[], None).class, Some(Class::Class2));
}

#[test]
fn the_search_that_was_wanting_lifts_a_class_that_was_held_down() {
    let mut s = sound("5 19.50");
    s.methods.retain(|m| *m != Method::Electromagnetic);
    let held = judged(&s);
    let step = class_after(&Previous::default(), &held, &[], None);
    assert_eq!(step.class, Some(Class::Class2));
    let before = Previous::of(step.class, &held);
    assert_eq!(before.gaps, [Scope::BodyCracks]);
    // Later only the search is made; everything else is carried on.
    let mut later = sound("5 19.50");
    later.earlier.readings = later.readings.drain(..).map(|m| (m, 30)).collect();
    later.earlier.scopes = held.covered.iter().map(|s| (*s, 30)).collect();
    later.methods = vec![Method::Electromagnetic];
    let step = class_after(&before, &judged(&later), &[], None);
    assert_eq!((step.class, step.change), (Some(Class::Premium), Change::Better));
    assert_eq!(step.flags, [StepFlag::Carried, StepFlag::Searched]);
}

#[test]
fn a_rejected_end_takes_the_class_until_it_is_repaired() {
    let mut s = sound("5 19.50");
    set(&mut s, ReadingKind::Stretch, Some(End::Pin), "0.01 in");
    let step = class_after(
        &previous(Class::Premium, Criterion::WearWall, Part::Tube),
        &judged(&s),
        &[],
        None,
    );
    assert_eq!((step.class, step.change), (None, Change::Withdrawn));
    s.readings.pop();
    let step =
        class_after(&Previous::default(), &judged(&s), &[(Work::Recut, Some(End::Pin))], None);
    assert_eq!((step.class, step.change), (Some(Class::Premium), Change::First));
}

#[test]
fn a_person_may_decide_with_a_reason_and_it_shows() {
    let worn = previous(Class::Class2, Criterion::WearWall, Part::Tube);
    let v = with_wall("0.27 in");
    let decide = |class, reason: &str| ClassDecision { class, reason: reason.to_owned() };
    let step = class_after(&worn, &v, &[], Some(&decide(Class::Premium, "owner accepts")));
    assert_eq!((step.class, step.rests_on), (Some(Class::Premium), RestsOn::Decision));
    assert_eq!(step.flags, [StepFlag::DecidedBetter]);
    let step = class_after(&worn, &v, &[], Some(&decide(Class::Class3, "old pipe")));
    assert_eq!(step.flags, [StepFlag::DecidedWorse]);
    let step = class_after(&worn, &v, &[], Some(&decide(Class::Premium, " ")));
    assert_eq!(step.class, Some(Class::Class2));
    assert_eq!(step.flags, [StepFlag::DecisionWithoutReason]);
    let mut s = sound("5 19.50");
    find(&mut s, "crack", None, None);
    let step = class_after(&worn, &judged(&s), &[], Some(&decide(Class::Class2, "grind it")));
    assert_eq!(step.class, Some(Class::Class2));
    assert!(step.flags.contains(&StepFlag::DecidedAgainstRejection));
}
