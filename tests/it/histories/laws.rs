//! The laws.

use pipelore::schema::{JointRow, Rows};
use pipelore::store::{Access, Book, BundleIn};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestCaseError, TestError, TestRunner};

use super::deliver::{bundle, chains, in_pieces};
use super::dump::{difference, dump};
use super::generate::Authors;
use super::op::{Step, history};
use crate::world::first_fault;

/// How many times longer than in an ordinary run to look.
pub fn soak() -> u32 {
    std::env::var("PIPELORE_SOAK").ok().and_then(|n| n.parse().ok()).unwrap_or(1)
}

fn same(what: &str, a: &str, b: &str) -> Result<(), TestCaseError> {
    match difference(a, b) {
        None => Ok(()),
        Some(d) => Err(TestCaseError::fail(format!("{what}:\n{d}"))),
    }
}

fn sound(what: &str, book: &Book) -> Result<(), TestCaseError> {
    let verified =
        book.verify(None, None).map_err(|e| TestCaseError::fail(format!("{what}: {e}")))?;
    if let Some(fault) = first_fault(&verified) {
        return Err(TestCaseError::fail(format!("{what}: {fault}")));
    }
    // What is told of a joint is worked out again before it is told.
    for row in book.rows::<JointRow>(&Rows::all()).unwrap() {
        let checked = book.check_joint(row.joint);
        checked.map_err(|e| TestCaseError::fail(format!("{what}: {e}")))?;
    }
    Ok(())
}

pub fn run_history(
    cases: u32,
    law: impl Fn((u8, Vec<Step>), Vec<(u8, u8)>) -> Result<(), TestCaseError>,
) {
    let config = Config {
        cases,
        max_shrink_time: 60_000,
        max_shrink_iters: 4096,
        failure_persistence: None,
        ..Config::default()
    };
    let order = prop::collection::vec((any::<u8>(), 1u8..6), 0..40);
    let result = TestRunner::new(config)
        .run(&(history(10..45), order), |(history, order)| law(history, order));
    match result {
        Ok(()) => {}
        Err(TestError::Fail(why, ((sites, steps), order))) => {
            let steps: Vec<String> = steps.iter().map(|s| format!("  {s:?}")).collect();
            panic!("{why}\n{sites} sites, order {order:?}\n{}", steps.join("\n"));
        }
        Err(e) => panic!("{e}"),
    }
}

#[test]
fn any_order_of_arrival_gives_the_same_book() {
    let counts = std::cell::Cell::new((0usize, 0usize));
    run_history(14 * soak(), |(sites, steps), order| {
        let mut authors = Authors::new(sites);
        for step in &steps {
            authors.take(step);
        }
        authors.send_everything();
        let expected = dump(&authors.books[0]);
        for book in &authors.books {
            let name = book.identity().chain.to_string();
            sound(&name, book)?;
            same(&format!("yard and {name}"), &expected, &dump(book))?;
        }
        // A reader that gets everything in pieces, and one that gets it at once.
        let everything = chains(&authors.books[0]);
        let world = &authors.world;
        let pieces = in_pieces(world, "pieces.pipelore", &everything, &order, |_| {});
        sound("in pieces", &pieces)?;
        same("yard and in pieces", &expected, &dump(&pieces))?;
        let mut whole = world.book_of("whole.pipelore", "reader");
        let parts: Vec<_> = everything.iter().map(Vec::as_slice).collect();
        whole
            .read_bundle(&mut bundle(&parts).as_bytes(), &BundleIn::default(), &world.stamp())
            .map_err(|e| TestCaseError::fail(e.to_string()))?;
        same("yard and at once", &expected, &dump(&whole))?;
        // Derived anew, and opened again.
        let before = dump(&pieces);
        let path = pieces.path().to_path_buf();
        let mut pieces = pieces;
        pieces.rebuild().unwrap();
        same("a rebuild", &before, &dump(&pieces))?;
        pieces.close().unwrap();
        let pieces = Book::open(&path, Access::Read).unwrap();
        same("opened again", &before, &dump(&pieces))?;
        let (entries, refused) = counts.get();
        let written: usize = everything.iter().map(Vec::len).sum();
        counts.set((entries + written, refused + authors.refused.len()));
        Ok(())
    });
    let (entries, refused) = counts.get();
    println!("histories: {entries} entries delivered, {refused} facts refused when written");
}

#[test]
fn every_single_step_equals_a_rebuild() {
    run_history(6 * soak(), |(sites, steps), order| {
        let mut authors = Authors::new(sites);
        for (n, step) in steps.iter().enumerate() {
            let site = authors.take(step);
            sound(&format!("after step {n}, {:?}", step.op), &authors.books[site])?;
        }
        authors.send_everything();
        let everything = chains(&authors.books[0]);
        let mut wrong = Ok(());
        in_pieces(&authors.world, "pieces.pipelore", &everything, &order, |book| {
            if wrong.is_ok() {
                wrong = sound("a piece", book);
            }
        });
        wrong
    });
}
