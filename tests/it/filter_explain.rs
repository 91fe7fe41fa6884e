//! The explained tree, as `why` shows it.

use pipelore::filter::{Explained, Manner, Verdict};
use pipelore::units::UnitSystem;

use crate::filter_book::{Kept, harrow};
use crate::filter_parse::CONTRACT;

fn explain(book: &mut Kept, text: &str, serial: &str) -> Explained {
    let compiled = book.compiled(text);
    book.prepare(&compiled);
    let joint = book.joint(serial);
    compiled.explain(&book.facts(&compiled, joint))
}

fn why(text: &str, serial: &str) -> String {
    let mut book = harrow();
    let explained = explain(&mut book, text, serial);
    let entry = |n: i64| book.entry(n);
    let manner = Manner {
        width: 80,
        units: UnitSystem::Us,
        clock: pipelore::model::Clock::UTC,
        entry: &entry,
    };
    explained.render(&manner)
}

#[test]
fn values_limits_and_entries_are_shown() {
    assert_eq!(
        why("class = premium and hours since last inspection (covers = wall) > 1500 h", "K1-0417"),
        "\
true    class = premium and hours since last inspection (covers = wall) > 1500 h
  true    class = premium
          found: premium (yard-12)
  true    hours since last inspection (covers = wall) > 1500 h
          found: 1612.0 h (yard-12)
"
    );
    assert_eq!(
        why("max_dogleg of latest run > 5 deg/30m", "K1-0417"),
        "\
false   max_dogleg of latest run > 5 deg/30m
        found: 2.0 deg/100ft (yard-17)
        limit: 5 deg/30m = 5.1 deg/100ft
"
    );
    assert_eq!(
        why("any makeup (end = box and torque < 90 % * target_torque)", "K1-0417"),
        "\
true    any makeup (end = box and torque < 90 % * target_torque)
        2 makeups: 1 yes, 1 no
  true    makeup, 2026-05-02 (yard-19)
    true    end = box and torque < 90 % * target_torque
      true    end = box
              found: box (yard-19)
      true    torque < 90 % * target_torque
              torque: 17,701 ft.lbf (yard-19)
              90 % * target_torque: 27,657 ft.lbf (yard-19)
"
    );
}

#[test]
fn what_is_missing_is_said() {
    assert_eq!(
        why("hours > 2000 h", "K1-0418"),
        "\
unknown hours > 2000 h
        found: ≥ 1812.0 h
        ? nothing is known of its life before it came into the book
"
    );
    assert_eq!(
        why("latest inspection (wall < 82 %) or wall < 82 %", "K1-0419"),
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
        explain(
            &mut harrow(),
            "wall_loss of latest inspection > 20 % or bow of latest inspection > 5 mm",
            "K1-0417"
        )
        .wants,
        ["bow of the latest inspection is not recorded"]
    );
}

#[test]
fn rules_are_shown_with_their_parts() {
    assert_eq!(
        why("due for downgrade", "K1-0417"),
        "\
false   due for downgrade
  false   rule worn
    true    component = drill_pipe
            found: drill_pipe (yard-3)
    false   wall < 80 %
            found: 86.0 % (yard-12)
"
    );
}

#[test]
fn every_explanation_fits_and_says_what_the_query_says() {
    let mut book = harrow();
    for text in CONTRACT {
        let compiled = book.compiled(text);
        let said = book.verdicts(text);
        for (serial, verdict) in said {
            let joint = book.joint(&serial);
            let explained = compiled.explain(&book.facts(&compiled, joint));
            assert_eq!(explained.verdict, verdict, "{text}");
            assert_eq!(explained.text, text);
            if explained.verdict == Verdict::Unknown {
                assert!(!explained.wants.is_empty(), "{text}: {serial} wants nothing");
            }
            let entry = |n: i64| book.entry(n);
            let manner = Manner {
                width: 80,
                units: UnitSystem::Metric,
                clock: pipelore::model::Clock::UTC,
                entry: &entry,
            };
            let shown = explained.render(&manner);
            for line in shown.lines() {
                assert!(line.chars().count() <= 80, "{line}");
            }
        }
    }
}
