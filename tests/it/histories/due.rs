//! The due list follows from the facts alone: whatever was entered late, struck out or adopted, it is
//! the one that a rebuild from scratch gives.

use std::time::Duration;

use pipelore::model::{Body, Draft, Instant, SetKind, StrikeBody};
use pipelore::policy::RuleSet;
use pipelore::render::json;
use pipelore::report::Present;
use pipelore::report::due::{self, Ahead};
use pipelore::schema::{Rows, RunRow};
use pipelore::store::{AppendOptions, Book};
use pipelore::units::UnitSystem;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestCaseError, TestError, TestRunner};

use crate::world::{edition, rules};

use super::generate::Authors;
use super::laws::soak;
use super::op::history;

/// The rules that ship, sooner.
fn stricter() -> RuleSet {
    let text = edition()
        .set(SetKind::Rules)
        .unwrap()
        .replace("above = \"1500 h\"", "above = \"20 h\"")
        .replace("below = \"80 %\"", "below = \"90 %\"")
        .replace("above = \"0.3\"", "above = \"1e-9\"")
        .replace("above = \"365 days\"", "above = \"30 days\"");
    RuleSet::parse(&text.replace("1e-9", "0.000000001")).unwrap()
}

/// Everything that the list says, by a set of rules, now and ahead.
fn lists(book: &mut Book) -> String {
    let present = Present {
        // 2025-07-01, after every fact of the histories.
        now: Instant(1_751_328_000_000),
        clock: pipelore::model::Clock::Offset(60),
        units: UnitSystem::Metric,
        limit: Duration::from_mins(1),
    };
    let mut out = String::new();
    for set in [rules(), stricter()] {
        for undecided in [false, true] {
            let options = due::Options {
                within: Some(Ahead::Days(3_000.0)),
                undecided,
                ..due::Options::default()
            };
            let report = due::report(book, &set, &options, &present).unwrap();
            out.push_str(&json::render(&report, UnitSystem::Metric));
        }
    }
    out
}

fn as_a_rebuild(what: &str, book: &mut Book) -> Result<usize, TestCaseError> {
    let before = lists(book);
    book.rebuild().unwrap();
    let after = lists(book);
    let first = before.lines().zip(after.lines()).find(|(a, b)| a != b);
    prop_assert!(before == after, "{what}: {first:?}");
    Ok(before.matches("\"call\"").count())
}

#[test]
fn due_lists_move_as_a_rebuild_does() {
    let config = Config { cases: 12 * soak(), failure_persistence: None, ..Config::default() };
    let lines = std::cell::Cell::new(0);
    let result =
        TestRunner::new(config).run(&(history(15..45), any::<u8>()), |((_, steps), pick)| {
            let mut authors = Authors::new(1);
            for (n, step) in steps.iter().enumerate() {
                authors.take(step);
                // Facts of any day come in any order, so most of them are late ones.
                if n % 15 == 14 {
                    lines.set(lines.get() + as_a_rebuild("after a step", &mut authors.books[0])?);
                }
            }
            let runs: Vec<RunRow> = authors.books[0].rows(&Rows::all()).unwrap();
            if let Some(run) = runs.get(usize::from(pick) % runs.len().max(1)) {
                let entry = authors.books[0].entry_at(run.run).unwrap().raw.read().unwrap().id;
                let strike = Draft {
                    effective: "2025-06-01".parse().unwrap(),
                    evidence: None,
                    body: Body::Strike(StrikeBody {
                        entry,
                        reason: "wrong string".to_owned(),
                        instead: Vec::new(),
                        decision: None,
                    }),
                };
                let options = AppendOptions { keep_conflicts: true, dry_run: false };
                let stamp = authors.world.stamp();
                authors.books[0].append(&[strike], &stamp, &options).unwrap();
            }
            lines.set(lines.get() + as_a_rebuild("after a strike", &mut authors.books[0])?);
            Ok(())
        });
    match result {
        Ok(()) => {}
        Err(TestError::Fail(why, value)) => panic!("{why}\n{value:?}"),
        Err(e) => panic!("{e}"),
    }
    assert!(lines.get() > 100, "only {} lines were compared", lines.get());
}
