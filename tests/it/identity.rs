//! Two joints that were kept as one come apart by an entry: what it names tells of the other joint
//! from then on, in every answer, and a strike of it puts everything back.

use pipelore::model::{Body, EntryId, IdentityBody, JointRef, NoteBody, StrikeBody};
use pipelore::schema::{InspectionRow, JointRow, JointRunRow, MakeupRow, Rows};
use pipelore::store::{AppendOptions, Book, BundleIn, BundleOut, LookBack};

use crate::cli::Desk;
use crate::histories::dump::dump;
use crate::world::{World, day, draft, inspection, joint, joint_ref, run, small_fleet};

fn split(joint: &JointRef, other: &JointRef, entries: &[EntryId]) -> Body {
    Body::Identity(IdentityBody::Split {
        joint: joint.clone(),
        other: other.clone(),
        entries: entries.to_vec(),
        reason: Some("two joints of one serial".to_owned()),
    })
}

fn merge(joint: &JointRef, same: &JointRef) -> Body {
    let (joint, same) = (joint.clone(), same.clone());
    Body::Identity(IdentityBody::Merge { joint, same, reason: None })
}

/// Adds a joint that carries a serial which the book knows already.
fn twin(world: &World, book: &mut Book, serial: &str) -> JointRef {
    let options = AppendOptions { keep_conflicts: true, dry_run: false };
    let done = book.append(&[draft("2025-01-12", joint(serial, true))], &world.stamp(), &options);
    joint_ref(serial, &done.unwrap().entries[0])
}

fn is_sound(book: &Book) {
    let verified = book.verify(None, None).unwrap();
    assert!(verified.sound(), "{verified:#?}");
}

/// Hours, runs, inspections and make-ups of a joint.
fn lived(book: &Book, joint: &JointRef) -> (i64, usize, usize, usize) {
    let at = book.position_of(&joint.joint).unwrap().unwrap();
    let rows: Vec<JointRow> = book.rows(&Rows::of_joint(at)).unwrap();
    (
        rows[0].totals.hours.lo,
        book.rows::<JointRunRow>(&Rows::of_joint(at)).unwrap().len(),
        book.rows::<InspectionRow>(&Rows::of_joint(at)).unwrap().len(),
        book.rows::<MakeupRow>(&Rows::of_joint(at)).unwrap().len(),
    )
}

/// A yard that kept two joints as one: their runs, inspections and a make-up with a third joint.
struct Kept {
    world: World,
    book: Book,
    one: JointRef,
    third: JointRef,
    entries: Vec<EntryId>,
}

fn kept() -> Kept {
    let world = World::new();
    let mut book = world.book("yard.pipelore");
    let joints = small_fleet(&world, &mut book, 3);
    let (one, third) = (joints[0].clone(), joints[2].clone());
    let mut entries = Vec::new();
    let made_up = |pin: &JointRef, box_: &JointRef| {
        let text = format!(
            "{{\"pin\":\"{pin}\",\"box\":\"{box_}\",\"torque\":\"30 kN.m\",\"target\":\"30 kN.m\"}}"
        );
        Body::from_json("makeup", &text).unwrap()
    };
    for d in [
        draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints[..2])),
        draft("2025-02-26", run("R2", "Larkfield 1H", "2025-02-20", &joints)),
        draft("2025-03-01", inspection(&one, "0.350 in")),
        draft("2025-03-02", inspection(&one, "0.320 in")),
        draft("2025-03-03", made_up(&one, &third)),
    ] {
        entries.extend(world.append(&mut book, &[d]).entries);
    }
    Kept { world, book, one, third, entries }
}

#[test]
fn what_a_split_names_tells_of_the_other_joint() {
    let Kept { world, mut book, one, third, entries } = kept();
    assert_eq!(lived(&book, &one), (720_000_000, 2, 2, 1));
    let other = twin(&world, &mut book, "K1-0001");
    let before = dump(&book);
    let names = [entries[1].clone(), entries[3].clone(), entries[4].clone()];
    let done = world.append(&mut book, &[draft("2025-04-01", split(&one, &other, &names))]);
    assert_eq!(lived(&book, &one), (360_000_000, 1, 1, 0));
    assert_eq!(lived(&book, &other), (360_000_000, 1, 1, 1));
    // The joint at the other end of the make-up has another mate now.
    let at = book.position_of(&third.joint).unwrap().unwrap();
    let mates: Vec<MakeupRow> = book.rows(&Rows::of_joint(at)).unwrap();
    assert_eq!(mates[0].mate_joint, book.position_of(&other.joint).unwrap());
    is_sound(&book);
    // Known on a day before, it was one; as of that day it was two all along.
    let place = book.position_of(&entries[4]).unwrap();
    let known = book.look_back(&LookBack { known_to: place, before: None }).unwrap();
    assert_eq!(lived(&known.book, &one), (720_000_000, 2, 2, 1));
    let until = Some(day("2025-03-02").start(pipelore::model::Clock::Offset(60)));
    let seen = book.look_back(&LookBack { known_to: None, before: until }).unwrap();
    assert_eq!(lived(&seen.book, &one), (360_000_000, 1, 1, 0));
    assert_eq!(lived(&seen.book, &other), (360_000_000, 1, 0, 0));
    // Struck, everything is as it was.
    let entry = done.entries[0].clone();
    let strike = StrikeBody {
        entry,
        reason: "one joint after all".to_owned(),
        instead: Vec::new(),
        decision: None,
    };
    world.append(&mut book, &[draft("2025-04-02", Body::Strike(strike))]);
    is_sound(&book);
    let known = |text: &str| -> Vec<String> {
        // The strike and what it strikes stand in the book; neither tells of a joint any more.
        let own = |l: &&str| !["struck", "touch", "book_fact"].iter().any(|t| l.starts_with(t));
        text.lines().filter(own).map(str::to_owned).collect()
    };
    assert_eq!(known(&dump(&book)), known(&before));
}

#[test]
fn a_merge_and_then_a_split_give_back_what_was() {
    for swapped in [false, true] {
        let Kept { world, mut book, one, third, .. } = kept();
        let before = lived(&book, &one);
        let others = lived(&book, &third);
        let serials = |book: &Book| -> Vec<String> {
            dump(book).lines().filter(|l| l.starts_with("serial ")).map(str::to_owned).collect()
        };
        let known = serials(&book);
        // They stood in one run together.
        let keep = AppendOptions { keep_conflicts: true, dry_run: false };
        let merged = |when: &str| [draft(when, merge(&one, &third))];
        book.append(&merged("2025-04-01"), &world.stamp(), &keep).unwrap();
        assert_eq!(lived(&book, &one).1, 2);
        assert_ne!(serials(&book), known);
        is_sound(&book);
        let parts = if swapped { (&third, &one) } else { (&one, &third) };
        world.append(&mut book, &[draft("2025-04-02", split(parts.0, parts.1, &[]))]);
        assert_eq!((lived(&book, &one), lived(&book, &third)), (before, others));
        assert_eq!(serials(&book), known);
        is_sound(&book);
        // A merge of a later day counts again.
        book.append(&merged("2025-04-03"), &world.stamp(), &keep).unwrap();
        assert_ne!(serials(&book), known);
        is_sound(&book);
    }
}

#[test]
fn a_split_of_what_was_split_off_goes_on_from_there() {
    let Kept { world, mut book, one, entries, .. } = kept();
    let (second, third) = (twin(&world, &mut book, "K1-0001"), twin(&world, &mut book, "K1-0001"));
    let both = [entries[2].clone(), entries[3].clone()];
    world.append(&mut book, &[draft("2025-04-01", split(&one, &second, &both))]);
    world.append(&mut book, &[draft("2025-04-02", split(&second, &third, &both[1..]))]);
    assert_eq!(
        [&one, &second, &third].map(|j| lived(&book, j).2),
        [0, 1, 1],
        "each inspection tells of one joint"
    );
    is_sound(&book);
}

#[test]
fn bundles_in_any_order_bring_the_same_joints() {
    let Kept { world, mut book, one, entries, .. } = kept();
    let other = twin(&world, &mut book, "K1-0001");
    let mut rig = world.book_of("rig.pipelore", "rig");
    let send = |from: &Book, to: &mut Book| {
        let path = world.path(&format!("{}.jsonl", world.stamp().now.at.0));
        from.bundle_out(&path, &BundleOut::default(), &world.stamp()).unwrap();
        to.bundle_in(&path, &BundleIn::default(), &world.stamp()).unwrap();
    };
    send(&book, &mut rig);
    // The rig tells the two apart; an office hears of that before it hears of any joint.
    let names = [entries[1].clone(), entries[3].clone()];
    world.append(&mut rig, &[draft("2025-04-01", split(&one, &other, &names))]);
    let mut office = world.book_of("office.pipelore", "office");
    send(&rig, &mut office);
    is_sound(&office);
    send(&book, &mut office);
    send(&rig, &mut book);
    for b in [&book, &rig, &office] {
        assert_eq!(lived(b, &one), (360_000_000, 1, 1, 1));
        assert_eq!(lived(b, &other), (360_000_000, 1, 1, 0));
        is_sound(b);
    }
    let rows = |b: &Book| -> Vec<String> {
        let own = ["book_fact", "projection_state"];
        let text = dump(b);
        let lines = text.lines().filter(|l| !own.iter().any(|o| l.starts_with(o)));
        lines.map(str::to_owned).collect()
    };
    assert_eq!(rows(&book), rows(&rig));
    assert_eq!(rows(&book), rows(&office));
}

#[test]
fn what_cannot_be_is_refused() {
    let Kept { world, mut book, one, third, entries } = kept();
    let mut refuse = |body: Body| {
        let drafts = [draft("2025-04-01", body)];
        let refused = book.append(&drafts, &world.stamp(), &AppendOptions::default());
        refused.unwrap_err().to_string()
    };
    assert!(refuse(split(&one, &one, &entries[..1])).contains("are one joint"));
    let own = [third.joint.clone()];
    assert!(refuse(split(&one, &third, &own)).contains("stays with it"));
    let note = Body::Note(NoteBody { joints: vec![one], about: None, text: "still".to_owned() });
    world.append(&mut book, &[draft("2025-04-01", note)]);
    is_sound(&book);
}

/// A yard with a joint that was inspected twice, as people write it.
fn yard() -> Desk {
    let desk = Desk::with_book();
    desk.write(
        "joints.csv",
        "Serial,Component,New,OD [in],Wall [in],Weight [lb/ft],Grade,Length [ft],Connection,TJ OD [in],TJ ID [in],Received\n\
         A-1,drill pipe,yes,5,.362,19.50,G-105,31.2,NC50,6 5/8,3 1/4,2026-01-05\n",
    );
    desk.run(&["load", "joints.csv"]).ok();
    desk.write(
        "read.csv",
        "Serial,Date,Methods,Wall [in]\nA-1,2026-02-01,UT wall,0.350\nA-1,2026-03-01,UT wall,0.310\n",
    );
    desk.run(&["load", "read.csv", "--as", "inspections"]).ok();
    desk
}

/// Names of the inspections in a joint's trace.
fn inspections(desk: &Desk, joint: &str) -> Vec<String> {
    let trace = desk.run(&["trace", joint, "--only", "inspections", "--json"]).json();
    let lines = trace["timeline"].as_array().unwrap();
    lines.iter().map(|l| l["entry"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn a_row_splits_and_introduces_the_other_joint() {
    let desk = yard();
    let all = inspections(&desk, "A-1");
    assert_eq!(all.len(), 2);
    let before = desk.run(&["find", "true", "--show", "serial,wall", "--json"]).ok();
    desk.write(
        "identity.csv",
        format!(
            "Serial,Change,Date,Entries,New serial,Component,OD [in],Wall [in],Weight [lb/ft],Grade,Connection,Heat,Reason\n\
             A-1,split,2026-01-05,{},A-1,drill pipe,5,.362,19.50,S-135,NC50,H99,maker repeated the serial\n",
            all[1]
        ),
    );
    desk.run(&["load", "identity.csv", "--as", "identities"]).ok();
    // Both carry the serial: who asks by it is asked which.
    let err = desk.run(&["trace", "A-1"]).fails(2);
    assert!(err.contains("A-1@yard-3") && err.contains("A-1@yard-6"), "{err}");
    assert_eq!(inspections(&desk, "A-1@yard-3"), all[..1]);
    assert_eq!(inspections(&desk, "A-1@yard-6"), all[1..]);
    let found = desk.run(&["find", "wall < 88 %", "--show", "serial,grade,heat", "--json"]).json();
    assert_eq!(found["joints"].as_array().unwrap().len(), 1);
    assert_eq!(
        (&found["joints"][0]["grade"], &found["joints"][0]["heat"]),
        (&"S135".into(), &"H99".into())
    );
    for joint in ["A-1@yard-3", "A-1@yard-6"] {
        let trace = desk.run(&["trace", joint]).ok();
        assert!(trace.contains("are two joints") && trace.contains("yard-7"), "{trace}");
        let page = desk.path(&format!("{}.html", &joint[4..]));
        desk.run(&["dossier", joint, "-o", page.to_str().unwrap()]).ok();
        assert!(std::fs::read_to_string(&page).unwrap().contains("are two joints"));
    }
    desk.run(&["verify"]).ok();
    let place =
        desk.run(&["find", "true", "--show", "serial,wall", "--json", "--known-on", &all[1]]);
    assert_eq!(
        place.json()["joints"],
        serde_json::from_str::<serde_json::Value>(&before).unwrap()["joints"]
    );
    desk.run(&["strike", "yard-7", "--reason", "no"]).ok();
    assert_eq!(inspections(&desk, "A-1@yard-3"), all);
    desk.run(&["verify"]).ok();
}

#[test]
fn a_split_from_the_command_line_names_a_joint_of_the_book() {
    let desk = yard();
    let all = inspections(&desk, "A-1");
    let words = ["enter", "identity", "change=split", "date=2026-03-02", "serial=A-1"];
    let entries = format!("entries={}", all[0]);
    let err = desk.run(&[&words[..], &[&entries]].concat()).fails(2);
    assert!(err.contains("a split names the other joint"), "{err}");
    let err = desk.run(&[&words[..], &["other=A-1", &entries]].concat()).fails(2);
    assert!(err.contains("one joint"), "{err}");
    let other = ["enter", "joint", "serial=A-2", "component=drill pipe", "date=2026-01-05"];
    desk.run(&other).ok();
    let err = desk.run(&[&words[..], &["other=A-2", "entries=yard-99"]].concat()).fails(2);
    assert!(err.contains("yard-99"), "{err}");
    desk.run(&[&words[..], &["other=A-2", &entries]].concat()).ok();
    assert_eq!(inspections(&desk, "A-1"), all[1..]);
    assert_eq!(inspections(&desk, "A-2"), all[..1]);
    desk.run(&["verify"]).ok();
}
