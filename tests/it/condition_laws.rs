//! Laws of the verdict engine, over random joints: thinner never better, one more finding never
//! better, nothing passed unread, order without meaning.

use std::collections::{BTreeMap, BTreeSet};

use pipelore::condition::{
    Amount, Comparison, Disposition, ForClass, Found, Measured, SizeKind, Standing, Subject, Take,
    Verdict,
};
use pipelore::model::{Class, Component, End, Method, Place, ReadingKind, Vocabulary, Worse};
use proptest::prelude::*;

use crate::condition::{judged, nm, sound};
use crate::world::standards;

/// Length as a share of 1/1000 of some whole.
fn permille(whole: &str, n: i64) -> i64 {
    nm(whole) / 1000 * n
}

fn measured(what: ReadingKind, end: Option<End>, length: i64) -> Measured {
    Measured { what, end, amount: Amount::Length(length), at: None, doubtful: false }
}

prop_compose! {
    /// A reading of any kind, near where its limits are.
    fn any_reading()(
        what in prop::sample::select(ReadingKind::ALL.to_vec()),
        end in prop::option::of(prop::sample::select(vec![End::Pin, End::Box])),
        n in 600i64..1100,
        doubtful in prop::bool::weighted(0.05),
    ) -> Measured {
        let whole = match what {
            ReadingKind::Wall | ReadingKind::AdjacentWall => "0.362 in",
            ReadingKind::BodyOd | ReadingKind::BodyOdMax | ReadingKind::SlipOd => "5 in",
            ReadingKind::JointOd => "6.625 in",
            ReadingKind::Shoulder => "0.4 in",
            ReadingKind::Counterbore => "5.35 in",
            ReadingKind::Stretch => "0.007 in",
            ReadingKind::TongSpace => "6 in",
            ReadingKind::HardbandHeight => "0.05 in",
            _ => "1 in",
        };
        Measured { doubtful, ..measured(what, end, permille(whole, n)) }
    }
}

prop_compose! {
    fn any_finding()(
        what in prop::sample::select(
            standards().findings.all().iter().map(|f| f.word.clone()).collect::<Vec<_>>()
        ),
        end in prop::option::of(prop::sample::select(vec![End::Pin, End::Box])),
        place in prop::option::of(prop::sample::select(Place::ALL.to_vec())),
        size in prop::option::of(0i64..200),
        share in prop::option::of(0i64..500),
        transverse in prop::option::of(any::<bool>()),
    ) -> Found {
        Found {
            what,
            place,
            end,
            size: size.map(|n| permille("1 in", n)),
            share: share.map(|n| n * 1_000_000),
            transverse,
            at: None,
        }
    }
}

prop_compose! {
    fn any_joint()(
        component in prop::sample::select(Component::ALL.to_vec()),
        readings in prop::collection::vec(any_reading(), 0..10),
        from_sound in any::<bool>(),
        findings in prop::collection::vec(any_finding(), 0..3),
        methods in prop::sample::subsequence(Method::ALL.to_vec(), 0..=Method::ALL.len()),
    ) -> Subject {
        let mut s = sound("5 19.50");
        if from_sound {
            s.readings.retain(|m| !readings.iter().any(|r| r.what == m.what && r.end == m.end));
        } else {
            s.component = component;
            s.methods = methods;
            s.readings.clear();
        }
        s.readings.extend(readings);
        s.findings = findings;
        s
    }
}

/// Words whose size is a depth, a gap or a growth: the greater the worse. (A groove is worse when
/// shallow.)
fn sized_by_depth() -> Vec<String> {
    standards()
        .findings
        .all()
        .iter()
        .filter(|f| {
            matches!(f.size, Some(SizeKind::Depth | SizeKind::Gap | SizeKind::Growth))
                && !f.judged_by.iter().any(|c| c.word().ends_with("groove"))
        })
        .map(|f| f.word.clone())
        .collect()
}

fn worse_or_equal(worse: &Verdict, better: &Verdict) {
    let parts =
        [worse.tube.zip(better.tube), worse.pin.zip(better.pin), worse.box_.zip(better.box_)];
    for (w, b) in parts.into_iter().flatten() {
        assert!(
            w.standing.severity() >= b.standing.severity(),
            "{:?} came out better than {:?}",
            w.standing,
            b.standing
        );
        assert!(w.measured >= b.measured);
    }
    assert!(worse.overall.standing.severity() >= better.overall.standing.severity());
    if let (Some(w), Some(b)) = (worse.class(), better.class()) {
        assert!(w >= b);
    }
}

/// A reading gets worse towards the limits that are set to it: of several readings the one that is
/// kept is the one that breaks a limit first.
#[test]
fn a_reading_gets_worse_towards_its_limits() {
    let mut sides = BTreeMap::<(ReadingKind, Option<End>), BTreeSet<Worse>>::new();
    for limit in standards().limits.all() {
        let spec = limit.criterion.spec();
        let Take::Reading(what) = spec.take else { continue };
        // What a class is not, and what a new dimension is, say nothing of wear.
        let of_wear = !matches!(limit.class, ForClass::New | ForClass::Class(Class::Class3));
        if !of_wear || matches!(limit.comparison, Comparison::Equal | Comparison::Absent) {
            continue;
        }
        let side = if limit.comparison.wants_more() { Worse::Less } else { Worse::More };
        let ends = spec.ends.iter().copied().map(Some);
        for end in ends.chain(spec.ends.is_empty().then_some(None)) {
            sides.entry((what, end)).or_default().insert(side);
        }
    }
    for ((what, end), found) in &sides {
        let said = match what.worse(*end) {
            Worse::EitherWay => BTreeSet::from([Worse::Less, Worse::More]),
            one => BTreeSet::from([one]),
        };
        assert_eq!(*found, said, "{what} {end:?}");
    }
    assert!(sides.len() > 15, "{sides:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn less_wall_never_makes_a_class_better(joint in any_joint(), walls in (0i64..450, 1i64..200)) {
        let with = |wall: i64| {
            let mut s = joint.clone();
            s.readings.retain(|m| m.what != ReadingKind::Wall);
            s.readings.push(measured(ReadingKind::Wall, None, wall));
            judged(&s)
        };
        let more = permille("1 in", walls.0);
        worse_or_equal(&with(more - permille("1 in", walls.1)), &with(more));
    }

    #[test]
    fn a_smaller_tool_joint_never_makes_a_class_better(
        joint in any_joint(), od in 5_500i64..7_000, less in 1i64..800,
        end in prop::sample::select(vec![End::Pin, End::Box]),
    ) {
        let with = |od: i64| {
            let mut s = joint.clone();
            s.readings.retain(|m| m.what != ReadingKind::JointOd || m.end != Some(end));
            s.readings.push(measured(ReadingKind::JointOd, Some(end), permille("1 in", od)));
            judged(&s)
        };
        worse_or_equal(&with(od - less), &with(od));
    }

    #[test]
    fn one_more_finding_never_makes_it_better(joint in any_joint(), one in any_finding()) {
        let before = judged(&joint);
        let mut more = joint.clone();
        more.findings.push(one);
        let after = judged(&more);
        worse_or_equal(&after, &before);
    }

    #[test]
    fn a_deeper_flaw_never_makes_it_better(
        joint in any_joint(),
        word in prop::sample::select(sized_by_depth()),
        one in any_finding(),
        size in 0i64..200,
        deeper in 1i64..200,
    ) {
        let one = Found { what: word, place: None, size: Some(permille("1 in", size)), ..one };
        let with = |f: Found| {
            let mut s = joint.clone();
            s.findings.push(f);
            judged(&s)
        };
        let more = Found { size: one.size.map(|q| q + permille("1 in", deeper)), ..one.clone() };
        worse_or_equal(&with(more), &with(one));
    }

    #[test]
    fn a_joint_without_a_critical_reading_is_never_passed(joint in any_joint(), which in 0usize..4) {
        let (what, end) = [
            (ReadingKind::Wall, None),
            (ReadingKind::JointOd, Some(End::Pin)),
            (ReadingKind::JointOd, Some(End::Box)),
            (ReadingKind::Shoulder, Some(End::Box)),
        ][which];
        let mut s = joint;
        s.component = Component::DrillPipe;
        s.readings.retain(|m| m.what != what || end.is_some_and(|e| m.end != Some(e)));
        let v = judged(&s);
        prop_assert!(!v.overall.standing.passes());
        prop_assert!(matches!(v.class(), None | Some(Class::Scrap)));
        prop_assert!(v.disposition >= Disposition::Hold);
        prop_assert!(!v.may_run());
        prop_assert!(v.missing.iter().any(|m| m.critical));
    }

    #[test]
    fn order_means_nothing(joint in any_joint(), seed in any::<u64>()) {
        let mut other = joint.clone();
        let turn = |n: usize| if n == 0 { 0 } else { usize::try_from(seed % 97).unwrap() % n };
        let n = turn(other.readings.len());
        other.readings.rotate_left(n);
        other.readings.reverse();
        let n = turn(other.findings.len());
        other.findings.rotate_left(n);
        other.methods.reverse();
        prop_assert_eq!(judged(&other), judged(&joint));
    }

    #[test]
    fn the_same_reading_twice_says_nothing_new(joint in any_joint()) {
        let mut twice = joint.clone();
        twice.readings.extend(joint.readings.iter().copied());
        twice.findings.extend(joint.findings.iter().cloned());
        prop_assert_eq!(judged(&twice), judged(&joint));
    }

    #[test]
    fn a_verdict_agrees_with_itself(joint in any_joint()) {
        let v = judged(&joint);
        let worst = v.actions.iter().map(|a| a.disposition).max().unwrap_or(Disposition::Run);
        prop_assert_eq!(v.disposition, worst);
        prop_assert!(v.may_run() == (v.overall.standing.passes() && worst.may_run()));
        if matches!(v.overall.standing, Standing::NotEstablished { .. }) {
            prop_assert!(v.missing.iter().any(|m| m.critical));
            prop_assert!(v.disposition >= Disposition::Hold);
        }
        if v.overall.standing == Standing::Rejected {
            prop_assert!(v.disposition >= Disposition::Dress, "{:?}", v.actions);
        }
        if v.disposition == Disposition::RunRestricted {
            prop_assert!(!v.restrictions.is_empty());
        }
        if !v.overall.standing.passes() {
            prop_assert!(v.governing.is_some());
        }
        let mut cautions = v.cautions.clone();
        cautions.dedup();
        prop_assert_eq!(&cautions, &v.cautions);
    }
}
