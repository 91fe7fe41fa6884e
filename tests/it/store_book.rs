//! A book keeps what it is told, derives what follows, and proves it.

use pipelore::model::{Body, Scope, StrikeBody};
use pipelore::schema::{JointRow, JointRunRow, Rows, RunPartRow, SinceRow};
use pipelore::store::{Access, AppendOptions, Book, StoreError};

use crate::world::{World, draft, inspection, joint, joint_ref, run, small_fleet, survey};

#[test]
fn a_run_leaves_its_marks_on_each_joint() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    let joints = small_fleet(&world, &mut book, 60);
    world.append(
        &mut book,
        &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints))],
    );
    let rows: Vec<JointRow> = book.rows(&Rows::all()).unwrap();
    assert_eq!(rows.len(), 60);
    assert!(rows.iter().all(|r| r.runs == 1 && r.life_complete));
    assert_eq!(rows[0].totals.hours.lo, 100 * 3_600_000);
    assert_eq!(rows[0].totals.hours.hi, Some(100 * 3_600_000));
    assert!(rows.iter().any(|r| r.totals.damage.lo > 0));
    assert!(rows.iter().all(|r| r.totals.max_dogleg.lo <= 166_666_668));
    assert!(book.verify(None, None).unwrap().sound());
}

#[test]
fn a_strike_takes_everything_back() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    let joints = small_fleet(&world, &mut book, 60);
    let before: Vec<JointRow> = book.rows(&Rows::all()).unwrap();
    let done = world.append(
        &mut book,
        &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints))],
    );
    let strike = |entry: &pipelore::model::EntryId| {
        draft(
            "2025-03-01",
            Body::Strike(StrikeBody {
                entry: entry.clone(),
                reason: "wrong string".to_owned(),
                instead: Vec::new(),
                decision: None,
            }),
        )
    };
    let with_run: Vec<JointRow> = book.rows(&Rows::all()).unwrap();
    let struck = world.append(&mut book, &[strike(&done.entries[0])]);
    assert_eq!(book.rows::<JointRow>(&Rows::all()).unwrap(), before);
    assert!(book.verify(None, None).unwrap().sound());
    world.append(&mut book, &[strike(&struck.entries[0])]);
    assert_eq!(book.rows::<JointRow>(&Rows::all()).unwrap(), with_run);
    assert!(book.verify(None, None).unwrap().sound());
}

#[test]
fn an_inspection_during_a_run_divides_it() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    let joints = small_fleet(&world, &mut book, 60);
    world.append(
        &mut book,
        &[
            draft(
                "2025-02-05T12:00:00Z",
                run("R1", "Larkfield 1H", "2025-02-01T00:00:00Z", &joints),
            ),
            draft("2025-02-02T06:00:00Z", inspection(&joints[0], "0.350 in")),
        ],
    );
    let first: Vec<JointRow> = book.rows(&Rows::all()).unwrap();
    let parts: Vec<RunPartRow> = book.rows(&Rows::all()).unwrap();
    assert_eq!(parts.len(), 1);
    assert_eq!(parts[0].figures.hours, Some(30 * 3_600_000));
    let since: Vec<SinceRow> =
        book.rows(&Rows::of_joint(first[0].joint).is(SinceRow::scope(), Scope::Wall)).unwrap();
    assert_eq!(since[0].totals.hours.hi, Some(70 * 3_600_000));
    assert!(since[0].entry.is_some());
    let other: Vec<SinceRow> =
        book.rows(&Rows::of_joint(first[0].joint + 1).is(SinceRow::scope(), Scope::Wall)).unwrap();
    assert_eq!(other[0].totals.hours.hi, Some(100 * 3_600_000));
    assert!(book.verify(None, None).unwrap().sound());
}

#[test]
fn a_late_inspection_changes_only_what_hangs_on_it() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    let joints = small_fleet(&world, &mut book, 60);
    world.append(
        &mut book,
        &[
            draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints)),
            draft("2025-03-06", run("R2", "Larkfield 1H", "2025-03-01", &joints)),
        ],
    );
    let before: Vec<JointRunRow> = book.rows(&Rows::all()).unwrap();
    // Found in a drawer: the wall was thinner already between the runs.
    world.append(&mut book, &[draft("2025-02-15", inspection(&joints[40], "0.300 in"))]);
    let after: Vec<JointRunRow> = book.rows(&Rows::all()).unwrap();
    let changed: Vec<_> = before.iter().zip(&after).filter(|(a, b)| a != b).collect();
    assert_eq!(changed.len(), 1);
    let (a, b) = changed[0];
    assert!(b.start > before[0].start, "the run before the inspection keeps its wall");
    assert_ne!(a.figures.damage_pin, b.figures.damage_pin);
    assert!(book.verify(None, None).unwrap().sound());
}

#[test]
fn a_joint_in_two_runs_at_once_is_refused_or_flagged() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    let joints = small_fleet(&world, &mut book, 50);
    world.append(
        &mut book,
        &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints))],
    );
    let clash = draft("2025-02-07", run("R2", "Larkfield 1H", "2025-02-03", &joints[..1]));
    let length = book.length().unwrap();
    let refused = book
        .append(std::slice::from_ref(&clash), &world.stamp(), &AppendOptions::default())
        .unwrap_err();
    let StoreError::Refused(clashes) = refused else { panic!("{refused}") };
    assert_eq!(clashes.len(), 1);
    assert_eq!(clashes[0].serial, "K1-0001");
    assert_eq!(book.length().unwrap(), length);
    let kept = AppendOptions { keep_conflicts: true, ..AppendOptions::default() };
    book.append(&[clash], &world.stamp(), &kept).unwrap();
    let rows: Vec<JointRow> = book.rows(&Rows::of(JointRow::conflicted(), true)).unwrap();
    assert_eq!(rows.len(), 1);
    // It was in neither for certain, and in no more than both: 100 h each.
    let both = 200 * 3_600_000;
    assert_eq!((rows[0].totals.hours.lo, rows[0].totals.hours.hi), (0, Some(both)));
    assert!(book.verify(None, None).unwrap().sound());
}

#[test]
fn a_used_joint_knows_only_lower_bounds() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    let done = world.append(&mut book, &[draft("2025-01-10", joint("K1-0001", false))]);
    world.append(&mut book, &[draft("2025-01-15", survey("Larkfield 1H"))]);
    let refs = [joint_ref("K1-0001", &done.entries[0])];
    world.append(&mut book, &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &refs))]);
    let rows: Vec<JointRow> = book.rows(&Rows::all()).unwrap();
    assert_eq!((rows[0].totals.hours.lo, rows[0].totals.hours.hi), (360_000_000, None));
    assert!(!rows[0].life_complete);
}

#[test]
fn a_book_opens_again_and_backs_up() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    small_fleet(&world, &mut book, 5);
    let head = book.head().unwrap();
    let copy = world.path("copy.pipelore");
    assert_eq!(book.backup(&copy).unwrap(), head);
    book.close().unwrap();
    for path in [world.path("a.pipelore"), copy] {
        let book = Book::open(&path, Access::Read).unwrap();
        assert_eq!(book.head().unwrap(), head);
        assert!(book.verify(None, None).unwrap().sound());
    }
}
