//! Books as they were: a view of a random history equals a book that stopped there, or one that
//! never heard of what came later.

use std::collections::{BTreeMap, BTreeSet};

use pipelore::ledger::{Hash, Linked, RawEntry};
use pipelore::model::{
    Activity, Adopted, Body, Draft, Entry, EntryId, IdentityBody, Instant, Moment, Ruling, RunBody,
    Segment,
};
use pipelore::schema::{
    ConflictRow, CustodyRow, DecisionRow, DimensionRow, EventRow, FailureRow, FindingRow, GapRow,
    HireRow, InspectionRow, JointRow, JointRunRow, JointStateRow, MakeupRow, MoveRow, OpeningRow,
    RepairRow, Rows, RunPartRow, RunRow, SerialRow, SinceRow,
};
use pipelore::store::{Book, BundleIn, LookBack};
use proptest::test_runner::TestCaseError;

use super::deliver::{bundle, chains};
use super::dump::{difference, dump, dump_of};
use super::generate::Authors;
use super::laws::{run_history, soak};
use super::op::Op;

fn same(what: &str, a: &str, b: &str) -> Result<(), TestCaseError> {
    match difference(a, b) {
        None => Ok(()),
        Some(d) => Err(TestCaseError::fail(format!("{what}:\n{d}"))),
    }
}

#[test]
fn what_a_book_said_is_what_it_would_say_had_it_stopped() {
    let counts = std::cell::Cell::new((0usize, 0usize));
    run_history(8 * soak(), |(sites, steps), _| {
        let mut authors = Authors::new(sites);
        let mut said: Vec<BTreeMap<i64, String>> = vec![BTreeMap::new(); authors.books.len()];
        let check = |book: &Book, place: i64, said: &str| {
            let mut then =
                book.look_back(&LookBack { known_to: Some(place), before: None }).unwrap();
            assert_eq!(then.book.length().unwrap(), place);
            let what = format!("{} to place {place}", book.identity().chain);
            let (views, lines) = counts.get();
            counts.set((views + 1, lines + said.lines().count()));
            same(&what, said, &dump_of(&mut then.book))
        };
        for step in &steps {
            let site = authors.take(step);
            let book = &authors.books[site];
            let place = book.length().unwrap();
            // One step back,
            if let Some((before, said)) = said[site].last_key_value().filter(|b| *b.0 < place) {
                check(book, *before, said)?;
            }
            said[site].insert(place, dump(book));
        }
        authors.send_everything();
        // and all the way back.
        for (book, said) in authors.books.iter().zip(&said) {
            for (n, (place, said)) in said.iter().enumerate() {
                check(book, *place, said)?;
                if n % 8 == 5 {
                    parts_agree(book, &LookBack { known_to: Some(*place), before: None });
                }
            }
        }
        Ok(())
    });
    let (views, lines) = counts.get();
    println!("as known: {views} views equal books that stopped there, {lines} rows");
    assert!(views > 100);
}

#[test]
fn what_was_true_is_what_a_book_says_that_never_heard_of_later() {
    let counts = std::cell::Cell::new([0usize; 4]);
    run_history(8 * soak(), |(sites, mut steps), order| {
        // What names a joint before it entered makes a view a copy. In every other history all
        // joints are there from the first day.
        if order.len().is_multiple_of(2) {
            let joints = steps.iter_mut().filter(|s| matches!(s.op, Op::Joint { .. }));
            joints.for_each(|s| (s.day, s.minute) = (0, None));
        }
        let mut authors = Authors::new(sites);
        for step in &steps {
            authors.take(step);
        }
        authors.send_everything();
        let everything = chains(&authors.books[0]);
        // In the middle of runs, and whenever.
        let runs = steps.iter().filter_map(|s| match s.op {
            Op::Run { days, .. } => Some(s.day + u16::from(days) / 2),
            _ => None,
        });
        let others = order.iter().map(|o| u16::from(o.0) % 90).chain([45]);
        let mut horizons: BTreeSet<Instant> = runs
            .take(2)
            .chain(others.take(2))
            .map(|day| {
                let first = chrono::NaiveDate::from_ymd_opt(2025, 1, 1).unwrap();
                Moment::Day(first + chrono::Days::new(u64::from(day)))
                    .end(pipelore::model::Clock::Offset(60))
            })
            .collect();
        // At the instant at which a state begins it is not yet.
        let states: Vec<JointStateRow> =
            authors.books[0].rows(&Rows::all().by(JointStateRow::at())).unwrap();
        for (n, _) in order.iter().take(2) {
            if let Some(state) = states.get(usize::from(*n) % states.len().max(1)) {
                horizons.extend([Instant(state.at), Instant(state.at + 1)]);
            }
        }
        for (n, horizon) in horizons.into_iter().enumerate() {
            let asked = LookBack { known_to: None, before: Some(horizon) };
            let mut view = authors.books[0].look_back(&asked).unwrap();
            parts_agree(&authors.books[0], &asked);
            let (stopped, names) = stopped(&authors, &format!("stopped-{n}"), &everything, horizon);
            let seen = renamed(&dump_of(&mut view.book), &names);
            same(
                &format!("before {}", horizon.at(pipelore::model::Clock::Offset(60))),
                &dump(&stopped),
                &seen,
            )?;
            let [views, later, under_way, copied] = counts.get();
            let copied = copied + usize::from(view.copied);
            counts.set([views + 1, later + view.later, under_way + view.under_way.len(), copied]);
        }
        Ok(())
    });
    let [views, later, under_way, copied] = counts.get();
    println!(
        "as of: {views} views, {later} entries not yet, {under_way} seen in part; {copied} copies"
    );
    assert!(later > 0 && under_way > 0 && copied > 0 && copied < views);
}

/// Columns of entries alone, of states, and of sums over runs.
const OF_ENTRIES: &str = "SELECT joint, serial, location, string, status, hire, on_hire, moved, class, \
                     wall, wall_thickness, wall_read, body_od, pin_od, pin_id, pin_tong, box_od, \
                     box_shoulder, grade, entered FROM joint ORDER BY joint";
const OF_STATES: &str = "SELECT joint, tube_class, criterion, paint, life_complete, pin_generation, restriction, out, length, \
                            open_findings, inspected FROM joint WHERE class IS NOT 'x' \
                            ORDER BY joint";
const OF_RUNS: &str = "SELECT joint, serial, hours_lo, hours_hi, revolutions_lo, footage_hi, \
                    over_limit_lo, side_work_hi, life_complete, damage_lo, damage_hi, damage_pin_lo, damage_box_hi \
                    FROM joint ORDER BY joint";

/// What a view says of some columns, and of single joints and runs, it says of all: whatever is asked
/// first.
fn parts_agree(book: &Book, asked: &LookBack) {
    let view = || book.look_back(asked).unwrap().book;
    let whole = view();
    let joints: Vec<JointRow> = whole.rows(&Rows::all()).unwrap();
    let mut whole = whole;
    for first in [OF_ENTRIES, OF_STATES, OF_RUNS] {
        let mut part = view();
        for sql in [first, OF_ENTRIES, OF_RUNS] {
            let (a, b) = (whole.ask(sql, &[], None), part.ask(sql, &[], None));
            assert_eq!(a.unwrap(), b.unwrap(), "{asked:?}: {sql} after {first}");
        }
        let seen: Vec<JointRow> = part.rows(&Rows::all()).unwrap();
        assert_eq!(joints, seen, "{asked:?} after {first}");
    }
    let narrow = view();
    macro_rules! same {
        ($($row:ident)*) => {$(
            let all: Vec<$row> = whole.rows(&Rows::all()).unwrap();
            for joint in &joints {
                let mut own: Vec<$row> = narrow.rows_of(joint.joint).unwrap();
                let mut of_all: Vec<$row> =
                    all.iter().filter(|r| r.joint == joint.joint).cloned().collect();
                own.sort_by_key(|r| format!("{r:?}"));
                of_all.sort_by_key(|r| format!("{r:?}"));
                assert_eq!(own, of_all, "{asked:?}");
            }
        )*};
    }
    same! {
        JointRow SerialRow GapRow DimensionRow InspectionRow FindingRow RepairRow MakeupRow EventRow
        FailureRow MoveRow HireRow DecisionRow ConflictRow JointRunRow RunPartRow SinceRow OpeningRow
        JointStateRow CustodyRow
    }
    for string in ["K0", "K1", "K2", "K3"] {
        let own: Vec<JointRow> = view().rows(&Rows::of(JointRow::string(), string)).unwrap();
        let of_all = joints.iter().filter(|j| j.string.as_deref() == Some(string));
        assert_eq!(own, of_all.cloned().collect::<Vec<_>>(), "{asked:?}");
    }
    let places: Vec<JointRunRow> =
        whole.rows(&by_place(Rows::all().by(JointRunRow::run()))).unwrap();
    for run in whole.rows::<RunRow>(&Rows::all()).unwrap() {
        let apart = view();
        assert_eq!(apart.row::<RunRow>(run.run).unwrap().as_ref(), Some(&run));
        let beside = Rows::of(JointRunRow::run(), run.run)
            .at_least(JointRunRow::position(), 1)
            .at_most(JointRunRow::position(), 2);
        let own: Vec<JointRunRow> = apart.rows(&by_place(beside)).unwrap();
        let of_all = places.iter().filter(|r| r.run == run.run && (1..=2).contains(&r.position));
        assert_eq!(own, of_all.cloned().collect::<Vec<_>>(), "{asked:?}");
    }
}

fn by_place(rows: Rows<JointRunRow>) -> Rows<JointRunRow> {
    rows.by(JointRunRow::position()).by(JointRunRow::joint())
}

const SITES: [&str; 3] = ["yard", "rig_14", "office"];

type Names = BTreeMap<(String, u64), (String, u64)>;

/// Puts other numbers to the names of entries in a text.
fn renamed(text: &str, names: &Names) -> String {
    let mut lines: Vec<String> = text.lines().map(|l| renamed_line(l, names)).collect();
    lines.sort();
    // Every line ends: a text of no lines stays empty.
    lines.iter().fold(String::new(), |out, line| out + line + "\n")
}

fn renamed_line(text: &str, names: &Names) -> String {
    let mut out = String::new();
    let mut rest = text;
    'next: while !rest.is_empty() {
        for site in SITES {
            for mark in ["-", "/1-"] {
                let Some(tail) = rest.strip_prefix(site).and_then(|t| t.strip_prefix(mark)) else {
                    continue;
                };
                let digits: String = tail.chars().take_while(char::is_ascii_digit).collect();
                let Some((site, number)) =
                    digits.parse().ok().and_then(|n: u64| names.get(&(site.to_owned(), n)))
                else {
                    continue;
                };
                out.push_str(&format!("{site}{mark}{number}"));
                rest = &tail[digits.len()..];
                continue 'next;
            }
        }
        let c = rest.chars().next().unwrap();
        out.push(c);
        rest = &rest[c.len_utf8()..];
    }
    out
}

/// A book that never heard of what came later, and the numbers that entries have in it.
fn stopped(
    authors: &Authors,
    name: &str,
    everything: &[Vec<Linked>],
    horizon: Instant,
) -> (Book, Names) {
    let entries: Vec<Vec<Entry>> =
        everything.iter().map(|c| c.iter().map(|l| l.raw.read().unwrap()).collect()).collect();
    let hidden = hidden(&entries.iter().flatten(), horizon);
    let mut names = Names::new();
    for chain in &entries {
        let mut next = 0;
        for entry in chain {
            let site = entry.id.chain.site.to_string();
            let new = if hidden.contains(&entry.id) {
                // Nobody ever wrote it.
                (format!("later_{site}"), entry.id.number)
            } else {
                next += 1;
                (site.clone(), next)
            };
            names.insert((site, entry.id.number), new);
        }
    }
    let mut parts: Vec<Vec<Linked>> = Vec::new();
    for chain in &entries {
        let mut prev = Hash::NONE;
        let mut part = Vec::new();
        for entry in chain.iter().filter(|e| !hidden.contains(&e.id)) {
            let (effective, body) = as_seen(entry, horizon);
            let draft = Draft { effective, evidence: entry.evidence.clone(), body };
            let site = entry.id.chain.site.to_string();
            let number = names[&(site, entry.id.number)].1;
            let id = EntryId { number, ..entry.id.clone() };
            let mut raw =
                RawEntry::write(&draft, &id, entry.recorded, &entry.author, &entry.program)
                    .unwrap();
            raw.body = renamed_line(&raw.body, &names);
            let hash = Hash::of_entry(&prev, &raw, &mut Vec::new());
            part.push(Linked { raw, prev, hash });
            prev = hash;
        }
        parts.push(part);
    }
    let mut book = authors.world.book_of(&format!("{name}.pipelore"), "reader");
    let parts: Vec<&[Linked]> = parts.iter().map(Vec::as_slice).collect();
    let stamp = authors.world.stamp();
    book.read_bundle(&mut bundle(&parts).as_bytes(), &BundleIn::default(), &stamp).unwrap();
    (book, names)
}

/// Entries of which nothing is known on a date by what is known now.
fn hidden<'a>(
    entries: &(impl Iterator<Item = &'a Entry> + Clone),
    horizon: Instant,
) -> BTreeSet<EntryId> {
    let mut hidden = BTreeSet::new();
    loop {
        let before = hidden.len();
        for entry in entries.clone() {
            let offset = pipelore::model::Clock::of_offset(entry.recorded.offset_minutes);
            let not_there = |ids: &[&EntryId]| ids.iter().all(|i| hidden.contains(*i));
            let gone = match &entry.body {
                // What tells of the past counts whenever it was learnt.
                Body::Epoch(_) | Body::Survey(_) | Body::Check(_) => false,
                Body::Arrival(_) => false,
                Body::Adoption(b) if b.founding || b.what == Adopted::Fatigue => false,
                Body::Strike(b) => hidden.contains(&b.entry),
                Body::Decision(b) if matches!(b.ruling, Ruling::Settle { .. }) => {
                    not_there(&b.ruling.entries())
                }
                Body::Opening(b) => hidden.contains(&b.joint.joint),
                Body::Identity(IdentityBody::Alias { joint, .. }) => hidden.contains(&joint.joint),
                Body::Identity(
                    IdentityBody::Merge { joint, same: other, .. }
                    | IdentityBody::Split { joint, other, .. },
                ) => hidden.contains(&joint.joint) || hidden.contains(&other.joint),
                Body::Run(b) => b.start.start(offset) >= horizon,
                _ => entry.effective.start(offset) >= horizon,
            };
            if gone {
                hidden.insert(entry.id.clone());
            }
        }
        if hidden.len() == before {
            return hidden;
        }
    }
}

/// An entry as it is seen: a run as far as it had come.
fn as_seen(entry: &Entry, horizon: Instant) -> (Moment, Body) {
    let offset = pipelore::model::Clock::of_offset(entry.recorded.offset_minutes);
    let Body::Run(body) = &entry.body else { return (entry.effective, entry.body.clone()) };
    if entry.effective.end(offset) <= horizon {
        return (entry.effective, entry.body.clone());
    }
    let until = horizon.0 - body.start.start(offset).0;
    let mut seen: RunBody = (**body).clone();
    // What a summary tells of the whole run lies anywhere in it.
    (seen.hours, seen.rotary_speed, seen.depth_in, seen.depth_out) = (None, None, None, None);
    let first = seen.segments.first().cloned();
    seen.segments.retain(|s| s.start_ms < until);
    for s in &mut seen.segments {
        let share = (until - s.start_ms) as f64 / s.duration_ms as f64;
        if share < 1.0 {
            let part = |whole: i64| (whole as f64 * share + 0.5).floor() as i64;
            s.bit_to_mm = s.bit_from_mm + part(s.bit_to_mm - s.bit_from_mm);
            s.milli_turns = part(s.milli_turns);
            s.duration_ms = until - s.start_ms;
        }
    }
    if let (true, Some(first)) = (seen.segments.is_empty(), first) {
        seen.segments.push(Segment {
            activity: Activity::NotRotating,
            start_ms: 0,
            duration_ms: until,
            bit_to_mm: first.bit_from_mm,
            milli_turns: 0,
            wob_n: None,
            torque_nm: None,
            hookload_n: None,
            ..first
        });
    }
    seen.swaps.retain(|s| s.at.start(offset) < horizon);
    (Moment::Clock(horizon.at(offset)), Body::Run(Box::new(seen)))
}
