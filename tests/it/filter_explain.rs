//! The explained tree, as `why` shows it.

use pipelore::filter::{Explained, Manner, Verdict, compile};
use pipelore::units::UnitSystem;

use crate::filter_agree::facts;
use crate::filter_book::{context, harrow, rules, shown};
use crate::filter_parse::CONTRACT;

fn explain(text: &str, joint: i64) -> Explained {
    let conn = harrow();
    let rules = rules();
    let compiled = compile(text, &context(&rules)).unwrap_or_else(|e| panic!("{}", shown(&e)));
    compiled.explain(&facts(&conn, &compiled, joint))
}

fn why(text: &str, joint: i64) -> String {
    let entry = |n: i64| format!("yard-{n}");
    let manner = Manner {
        width: 80,
        units: UnitSystem::Us,
        clock: pipelore::model::Clock::UTC,
        entry: &entry,
    };
    explain(text, joint).render(&manner)
}

#[test]
fn values_limits_and_entries_are_shown() {
    assert_eq!(
        why("class = premium and hours since last inspection (covers = wall) > 1500 h", 1),
        "\
true    class = premium and hours since last inspection (covers = wall) > 1500 h
  true    class = premium
          found: premium (yard-41)
  true    hours since last inspection (covers = wall) > 1500 h
          found: 1612.0 h (yard-41)
"
    );
    assert_eq!(
        why("max_dogleg of latest run > 5 deg/30m", 1),
        "\
false   max_dogleg of latest run > 5 deg/30m
        found: 2.0 deg/100ft (yard-102)
        limit: 5 deg/30m = 5.1 deg/100ft
"
    );
    assert_eq!(
        why("any makeup (end = box and torque < 90 % * target_torque)", 1),
        "\
true    any makeup (end = box and torque < 90 % * target_torque)
        2 makeups: 1 yes, 1 no
  true    makeup, 2026-05-02 (yard-61)
    true    end = box and torque < 90 % * target_torque
      true    end = box
              found: box (yard-61)
      true    torque < 90 % * target_torque
              torque: 17,701 ft.lbf (yard-61)
              90 % * target_torque: 19,914 ft.lbf (yard-61)
"
    );
}

#[test]
fn what_is_missing_is_said() {
    assert_eq!(
        why("hours > 2000 h", 2),
        "\
unknown hours > 2000 h
        found: ≥ 1812.0 h
        ? nothing is known of its life before it came into the book
"
    );
    assert_eq!(
        why("latest inspection (wall < 82 %) or wall < 82 %", 3),
        "\
unknown latest inspection (wall < 82 %) or wall < 82 %
  false   latest inspection (wall < 82 %)
          no inspection
  unknown wall < 82 %
          found: unknown
          ? wall is not recorded
"
    );
    assert_eq!(
        explain("wall_loss of latest inspection > 20 % or bow of latest inspection > 5 mm", 1)
            .wants,
        ["bow of the latest inspection is not recorded"]
    );
}

#[test]
fn rules_are_shown_with_their_parts() {
    assert_eq!(
        why("due for downgrade", 1),
        "\
false   due for downgrade
  false   rule worn
    true    component = drill_pipe
            found: drill_pipe (yard-1)
    false   wall < 80 %
            found: 86.0 % (yard-41)
"
    );
}

#[test]
fn every_explanation_fits_and_says_what_the_query_says() {
    let conn = harrow();
    let rules = rules();
    let context = context(&rules);
    let entry = |n: i64| format!("yard-{n}");
    let manner = Manner {
        width: 80,
        units: UnitSystem::Metric,
        clock: pipelore::model::Clock::UTC,
        entry: &entry,
    };
    for text in CONTRACT {
        let compiled = compile(text, &context).unwrap();
        for joint in 1..=3 {
            let facts = facts(&conn, &compiled, joint);
            let explained = compiled.explain(&facts);
            assert_eq!(explained.verdict, compiled.judge(&facts), "{text}");
            assert_eq!(explained.text, text);
            if explained.verdict == Verdict::Unknown {
                assert!(!explained.wants.is_empty(), "{text}: joint {joint} wants nothing");
            }
            let shown = explained.render(&manner);
            for line in shown.lines() {
                assert!(line.chars().count() <= 80, "{line}");
            }
        }
    }
}
