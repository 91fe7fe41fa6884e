//! What a strike would change is said before it is done, and is what it then changes.

use pipelore::model::{Body, EntryId, StrikeBody};
use pipelore::schema::{JointRow, Rows};
use pipelore::store::{AppendOptions, Book, Effects};

use crate::world::{World, draft, inspection, run, small_fleet};

fn strike(entry: &EntryId) -> Body {
    Body::Strike(StrikeBody {
        entry: entry.clone(),
        reason: "mistaken".to_owned(),
        instead: Vec::new(),
        decision: None,
    })
}

fn joints(book: &Book) -> Vec<JointRow> {
    book.rows(&Rows::all()).unwrap()
}

fn would(world: &World, book: &mut Book, entry: &EntryId) -> Effects {
    let before = (joints(book), book.length().unwrap(), book.head().unwrap());
    let effects = book.effects(&[draft("2025-03-01", strike(entry))], &world.stamp()).unwrap();
    assert_eq!(before, (joints(book), book.length().unwrap(), book.head().unwrap()));
    effects
}

fn done(world: &World, book: &mut Book, entry: &EntryId) -> EntryId {
    let options = AppendOptions { keep_conflicts: true, dry_run: false };
    let drafts = [draft("2025-03-01", strike(entry))];
    book.append(&drafts, &world.stamp(), &options).unwrap().entries[0].clone()
}

fn check(effects: &Effects, book: &Book) {
    let now = joints(book);
    for change in &effects.joints {
        let place = change.before.as_ref().or(change.after.as_ref()).unwrap().joint;
        let row = now.iter().find(|j| j.joint == place);
        assert_eq!(row, change.after.as_ref());
    }
}

#[test]
fn a_strike_says_what_it_would_change() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    let fleet = small_fleet(&world, &mut book, 4);
    let first = world
        .append(&mut book, &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &fleet))]);
    let seen =
        world.append(&mut book, &[draft("2025-02-20", inspection(&fleet[1], "0.260 in"))]).entries;

    // A run takes its hours back from all four.
    let effects = would(&world, &mut book, &first.entries[0]);
    assert_eq!((effects.joints_in_all, effects.joints.len()), (4, 4));
    assert_eq!(effects.runs.len(), 1);
    assert_eq!((effects.runs[0].name.as_str(), effects.runs[0].joints), ("R1", 4));
    assert_eq!(effects.fallen, [first.entries[0].to_string()]);
    for change in &effects.joints {
        let (before, after) = (change.before.as_ref().unwrap(), change.after.as_ref().unwrap());
        assert!(
            before.totals.hours.lo > 0 && after.totals.hours.lo == 0 && after.totals.damage.lo == 0
        );
    }
    let struck = done(&world, &mut book, &first.entries[0]);
    check(&effects, &book);

    // Striking the strike brings them back.
    let effects = would(&world, &mut book, &struck);
    assert_eq!(effects.joints_in_all, 4);
    assert_eq!(effects.raised, [first.entries[0].to_string()]);
    assert_eq!(effects.fallen, [struck.to_string()]);
    assert!(effects.joints.iter().all(|c| c.after.as_ref().unwrap().totals.hours.lo > 0));
    done(&world, &mut book, &struck);
    check(&effects, &book);

    // An inspection concerns one joint.
    let effects = would(&world, &mut book, &seen[0]);
    assert_eq!(effects.joints_in_all, 1);
    let change = &effects.joints[0];
    assert_eq!(change.before.as_ref().unwrap().serial, "K1-0002");
    assert!(change.before.as_ref().unwrap().wall.is_some());
    assert!(change.after.as_ref().unwrap().wall.is_none());
    done(&world, &mut book, &seen[0]);
    check(&effects, &book);

    // The entry that introduced a joint takes the joint away.
    let effects = would(&world, &mut book, &fleet[3].joint);
    let gone = effects.joints.iter().find(|c| c.after.is_none()).unwrap();
    assert_eq!(gone.before.as_ref().unwrap().serial, "K1-0004");
    done(&world, &mut book, &fleet[3].joint);
    check(&effects, &book);
}

#[test]
fn the_door_shows_before_and_after() {
    let world = World::new();
    let mut book = world.book("a.pipelore");
    let fleet = small_fleet(&world, &mut book, 2);
    let first = world
        .append(&mut book, &[draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &fleet))]);
    let (path, head) = (book.path().to_path_buf(), book.head().unwrap());
    book.close().unwrap();
    let ask = |more: &[&str]| {
        let entry = first.entries[0].to_string();
        let mut command = assert_cmd::Command::cargo_bin("pipelore").unwrap();
        command.args(["--book", path.to_str().unwrap()]).args(more);
        command.args(["strike", &entry, "--reason", "wrong well", "--dry-run"]);
        let out = command.output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    };
    let text = ask(&[]);
    assert!(text.contains("hours now") && text.contains("hours then"), "{text}");
    assert!(text.contains("K1-0001") && text.contains("K1-0002"), "{text}");
    let json: serde_json::Value = serde_json::from_str(&ask(&["--json"])).unwrap();
    let joints = json["joints"].as_array().unwrap();
    assert_eq!(joints.len(), 2);
    assert_eq!(joints[0]["hours_before"]["value"], 100.0);
    assert_eq!(joints[0]["hours_after"]["value"], 0.0);
    let book = Book::open(&path, pipelore::store::Access::Read).unwrap();
    assert_eq!(book.head().unwrap(), head);
}
