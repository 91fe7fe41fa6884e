//! What facts would change of calls, classes and the order by damage: in words first, then joint by
//! joint.

use std::collections::{BTreeMap, BTreeSet};

use crate::model::{Call, Vocabulary, plural};
use crate::store::Book;
use crate::units::Measure;

use super::adopted::{Judged, judged};
use super::method::{Ranked, damages};
use super::{Block, Cell, Column, Fact, Present, ReportError, Table, named};

/// Joints named of a list; the rest is counted.
const NAMED: usize = 6;
/// Joints whose place among the worst is told.
const WORST: usize = 20;

/// How a book judges and orders its joints.
#[derive(Debug)]
pub struct Standings {
    judged: Judged,
    damage: BTreeMap<i64, Ranked>,
}

/// How a book judges and orders its joints now.
pub fn standings(book: &mut Book, present: &Present) -> Result<Standings, ReportError> {
    Ok(Standings { judged: judged(book, false, present)?, damage: damages(book)? })
}

/// What changes from one to the other.
pub fn blocks(before: &Standings, after: &Standings) -> Vec<Block> {
    let calls = calls(&before.judged, &after.judged);
    let classes = classes(&before.judged, &after.judged);
    let ranks = ranks(&before.damage, &after.damage);
    let mut out: Vec<Block> =
        [said_of_calls(&calls), said_of_classes(&classes), said_of_ranks(&ranks)]
            .map(Block::Text)
            .into();
    let joints = |of: &dyn Fn(&Gained) -> usize| Cell::count(calls.values().map(of).sum::<usize>());
    out.push(Block::Facts {
        name: "consequences",
        facts: vec![
            Fact::plain("calls_gained", "calls gained", joints(&|c| c.0.len())),
            Fact::plain("calls_lost", "calls lost", joints(&|c| c.1.len())),
            Fact::plain(
                "other_class",
                "joints of another class",
                Cell::count(classes.values().map(Vec::len).sum::<usize>()),
            ),
            Fact::plain("other_rank", "joints of another rank", Cell::count(ranks.len())),
        ],
    });
    let names = |list: &[String]| Cell::Text(list.join(", "));
    let table = |name, columns, rows| {
        Block::Table(Table { name, columns, rows, empty: String::new(), below: None })
    };
    if !calls.is_empty() {
        let columns = vec![
            Column::plain("call", "call"),
            Column::plain("gained", "more"),
            Column::plain("lost", "fewer"),
            Column::plain("gained_by", "called for then"),
            Column::plain("lost_by", "called for no more"),
        ];
        let row = |(call, (gained, lost)): (&Call, &Gained)| {
            vec![
                Cell::Text(call.word().to_owned()),
                Cell::count(gained.len()),
                Cell::count(lost.len()),
                names(gained),
                names(lost),
            ]
        };
        out.push(table("calls", columns, calls.iter().map(row).collect()));
    }
    if !classes.is_empty() {
        let columns = vec![
            Column::plain("class", "class"),
            Column::plain("class_then", "class then"),
            Column::plain("joints", "joints"),
            Column::plain("serials", "serials"),
        ];
        let row = |((a, b), joints): (&(String, String), &Vec<String>)| {
            vec![
                Cell::Text(a.clone()),
                Cell::Text(b.clone()),
                Cell::count(joints.len()),
                names(joints),
            ]
        };
        out.push(table("classes", columns, classes.iter().map(row).collect()));
    }
    if !ranks.is_empty() {
        let columns = vec![
            Column::plain("rank", "rank by damage"),
            Column::plain("rank_then", "rank then"),
            Column::plain("serial", "joint"),
            Column::of("damage", "damage", Measure::Damage),
            Column::of("damage_then", "damage then", Measure::Damage),
        ];
        let row = |m: &Moved| {
            vec![
                Cell::count(m.rank.0),
                m.rank.1.map_or(Cell::Missing, Cell::count),
                Cell::Text(m.serial.clone()),
                Cell::Number(m.damage.0),
                m.damage.1.map_or(Cell::Missing, Cell::Number),
            ]
        };
        let worst =
            ranks.iter().filter(|m| m.rank.0 <= WORST || m.rank.1.is_some_and(|r| r <= WORST));
        out.push(table("ranks", columns, worst.map(row).collect()));
    }
    out
}

/// In words what other sets change: of calls, of classes, and of what is said by what is known.
pub fn in_words(before: &Judged, after: &Judged) -> Vec<Block> {
    [
        said_of_calls(&calls(before, after)),
        said_of_classes(&classes(before, after)),
        said_of_verdicts(before, after),
    ]
    .map(Block::Text)
    .into()
}

/// Joints for which is called then, and for which is called no more.
type Gained = (Vec<String>, Vec<String>);

fn calls(before: &Judged, after: &Judged) -> BTreeMap<Call, Gained> {
    let mut out: BTreeMap<Call, Gained> = BTreeMap::new();
    for joint in joints(before, after) {
        let (a, b) = (before.calls(joint), after.calls(joint));
        let serial = before.serial(joint).or_else(|| after.serial(joint)).unwrap_or_default();
        for call in b.difference(&a) {
            out.entry(*call).or_default().0.push(serial.to_owned());
        }
        for call in a.difference(&b) {
            out.entry(*call).or_default().1.push(serial.to_owned());
        }
    }
    for (gained, lost) in out.values_mut() {
        gained.sort();
        lost.sort();
    }
    out
}

/// Joints of another class, by the two classes.
fn classes(before: &Judged, after: &Judged) -> BTreeMap<(String, String), Vec<String>> {
    let mut out: BTreeMap<(String, String), Vec<String>> = BTreeMap::new();
    for joint in joints(before, after) {
        let word = |judged: &Judged| match judged.serial(joint) {
            None => "no joint".to_owned(),
            Some(_) => judged.class(joint).unwrap_or("no class").to_owned(),
        };
        let pair = (word(before), word(after));
        if pair.0 != pair.1 {
            let serial = before.serial(joint).or_else(|| after.serial(joint)).unwrap_or_default();
            out.entry(pair).or_default().push(serial.to_owned());
        }
    }
    out.values_mut().for_each(|joints| joints.sort());
    out
}

fn joints(before: &Judged, after: &Judged) -> BTreeSet<i64> {
    before.joints().chain(after.joints()).collect()
}

/// A joint whose place in the order by damage changes.
struct Moved {
    serial: String,
    /// Place now, and then; none where it has no runs then.
    rank: (usize, Option<usize>),
    damage: (i64, Option<i64>),
}

/// Joints that change their place, the worst first. Equal damage is ordered by serial.
fn ranks(before: &BTreeMap<i64, Ranked>, after: &BTreeMap<i64, Ranked>) -> Vec<Moved> {
    let order = |of: &BTreeMap<i64, Ranked>| -> BTreeMap<i64, usize> {
        let mut list: Vec<(&i64, &Ranked)> = of.iter().collect();
        list.sort_by(|a, b| (b.1.damage, &a.1.serial).cmp(&(a.1.damage, &b.1.serial)));
        list.into_iter().zip(1..).map(|((joint, _), rank)| (*joint, rank)).collect()
    };
    let (now, then) = (order(before), order(after));
    let mut out: Vec<Moved> = before
        .iter()
        .filter_map(|(joint, b)| {
            let rank = (*now.get(joint)?, then.get(joint).copied());
            let moved = rank.1 != Some(rank.0);
            moved.then(|| Moved {
                serial: b.serial.clone(),
                rank,
                damage: (b.damage, after.get(joint).map(|r| r.damage)),
            })
        })
        .collect();
    out.sort_by_key(|m| m.rank);
    out
}

fn counted(list: &[String]) -> String {
    format!("{} ({})", plural(list.len(), "joint"), named(list, NAMED))
}

fn said_of_calls(calls: &BTreeMap<Call, Gained>) -> String {
    if calls.is_empty() {
        return "calls: none is gained and none is lost".to_owned();
    }
    let of = |(call, (gained, lost)): (&Call, &Gained)| {
        let parts = [(gained, "called for then"), (lost, "called for no more")];
        let parts = parts.iter().filter(|p| !p.0.is_empty());
        let said: Vec<String> =
            parts.map(|(list, what)| format!("{what} for {}", counted(list))).collect();
        format!("{} {}", call.word(), said.join(", "))
    };
    format!("calls: {}", calls.iter().map(of).collect::<Vec<_>>().join("; "))
}

fn said_of_classes(classes: &BTreeMap<(String, String), Vec<String>>) -> String {
    if classes.is_empty() {
        return "classes: no joint changes its class".to_owned();
    }
    let of = |((a, b), joints): (&(String, String), &Vec<String>)| {
        format!("from {a} to {b}: {}", counted(joints))
    };
    format!("classes: {}", classes.iter().map(of).collect::<Vec<_>>().join("; "))
}

fn said_of_verdicts(before: &Judged, after: &Judged) -> String {
    let mut turned: BTreeMap<(&str, &str), Vec<String>> = BTreeMap::new();
    for joint in joints(before, after) {
        let (a, b) = (before.verdict(joint), after.verdict(joint));
        if a != b {
            let none = "no verdict";
            let serial = before.serial(joint).or_else(|| after.serial(joint)).unwrap_or_default();
            let pair = (a.unwrap_or(none), b.unwrap_or(none));
            turned.entry(pair).or_default().push(serial.to_owned());
        }
    }
    if turned.is_empty() {
        return "verdicts by what is known now: none changes".to_owned();
    }
    let of = |((a, b), joints): (&(&str, &str), &Vec<String>)| {
        format!("from {a} to {b}: {}", counted(joints))
    };
    let all = turned.iter().map(of).collect::<Vec<_>>().join("; ");
    format!("verdicts by what is known now: {all}")
}

fn said_of_ranks(ranks: &[Moved]) -> String {
    let Some(first) = ranks.first() else {
        return "ranks: the order of joints by damage stays".to_owned();
    };
    let then =
        first.rank.1.map_or_else(|| "none, for it has no runs then".to_owned(), |r| r.to_string());
    let noun =
        if ranks.len() == 1 { "joint changes its place" } else { "joints change their places" };
    format!(
        "ranks: {} {noun} in the order by damage; {} goes from {} to {then}",
        ranks.len(),
        first.serial,
        first.rank.0
    )
}
