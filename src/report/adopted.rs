//! What a book adopted, set by set, and what an adoption changes, joint by joint.

use std::collections::{BTreeMap, BTreeSet};

use crate::condition::Edition;
use crate::model::{Call, Clock, Instant, SetKind, Vocabulary};
use crate::projection::adoptions::{Adoptions, InForce};
use crate::projection::joint::Ask;
use crate::schema::{JointRow, Rows};
use crate::store::Book;

use super::assess::class_name;
use super::data::plain;
use super::{Block, Cell, Column, Fact, Present, ReportError, Table, due, instant, rules_of};

/// The adoptions of a kind of set as a table; one that founds the book stands with its own date.
pub(super) fn table(sets: &[InForce], clock: Clock) -> Table {
    Table {
        name: "adoptions",
        columns: vec![
            Column::plain("from", "in force from"),
            Column::plain("set", "set"),
            Column::plain("entry", "entry"),
            Column::plain("author", "adopted by"),
            Column::plain("remark", "remark").dispensable(1),
        ],
        rows: sets
            .iter()
            .filter_map(|set| {
                let entry = set.entry.as_ref()?;
                Some(vec![
                    instant(entry.starts(clock).0, clock),
                    Cell::Text(set.name.clone()),
                    Cell::Text(entry.id.to_string()),
                    Cell::Text(entry.author.clone()),
                    Cell::text(set.remark()),
                ])
            })
            .collect(),
        empty: "no set was adopted; the first edition is in force".to_owned(),
        below: None,
    }
}

/// Digits of a digest that tell one text from another.
const DIGEST: usize = 8;

/// Every kind of set: what is in force, since when, by which entry, and whether the program ships the
/// same.
pub fn sets_in_force(
    adoptions: &Adoptions,
    at: Instant,
    shipped: &Edition,
    clock: Clock,
) -> Vec<Block> {
    let mut rows = Vec::new();
    for kind in SetKind::ALL {
        let Some(set) = adoptions.set_at(*kind, at) else { continue };
        let entry = set.entry.as_ref();
        let digest = crate::ledger::digest(set.text.as_bytes());
        rows.push(vec![
            Cell::Text(kind.word().to_owned()),
            Cell::Text(set.name.clone()),
            entry.map_or(Cell::Missing, |e| instant(e.starts(clock).0, clock)),
            entry.map_or(Cell::Missing, |e| Cell::Text(e.id.to_string())),
            Cell::text(digest.get(..DIGEST)),
            Cell::Truth(shipped.set(*kind) == Some(&set.text)),
        ]);
    }
    let mut out = vec![Block::Table(Table {
        name: "sets",
        columns: vec![
            Column::plain("set", "set"),
            Column::plain("name", "in force"),
            Column::plain("from", "adopted for"),
            Column::plain("entry", "entry"),
            Column::plain("digest", "digest").dispensable(2),
            Column::plain("ships", "as it ships").dispensable(1),
        ],
        rows,
        empty: String::new(),
        below: None,
    })];
    for idle in adoptions.idle() {
        let by = adoptions.sets(SetKind::Limits).first().and_then(|s| s.entry.as_ref());
        let by = by.map_or_else(String::new, |e| e.id.to_string());
        out.push(Block::Note(format!(
            "{} founded another site's book; here it changes nothing, for {by} came first",
            idle.id
        )));
    }
    out.extend(newer(adoptions, at, SetKind::ALL, shipped));
    out
}

/// Says of which of some kinds of set the program ships a newer edition than is in force.
pub fn newer(
    adoptions: &Adoptions,
    at: Instant,
    kinds: &[SetKind],
    shipped: &Edition,
) -> Option<Block> {
    let older: Vec<&str> = kinds
        .iter()
        .filter(|kind| {
            let text = adoptions.edition_at(**kind, at).map(|set| &*set.text);
            text != shipped.set(**kind) && Edition::all().iter().any(|e| e.set(**kind) == text)
        })
        .map(|kind| kind.word())
        .collect();
    if older.is_empty() {
        return None;
    }
    let list = older.join(", ");
    Some(Block::Note(format!(
        "{list}: the program ships {}, newer than what is in force; `pipelore edition --use shipped \
         --only {} --dry-run` shows what it would change",
        shipped.name(),
        older.join(","),
    )))
}

/// How a joint is judged, and what is called for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Standing {
    serial: String,
    class: Option<&'static str>,
    disposition: Option<String>,
    /// What would be said of it if it were judged by what is known, and what decides.
    verdict: Option<(String, Option<String>)>,
    calls: BTreeSet<Call>,
}

/// How all joints of a book are judged at an instant.
#[derive(Debug)]
pub struct Judged(BTreeMap<i64, Standing>);

impl Judged {
    /// The joints that are judged, by place.
    pub(super) fn joints(&self) -> impl Iterator<Item = i64> {
        self.0.keys().copied()
    }

    pub(super) fn serial(&self, joint: i64) -> Option<&str> {
        self.0.get(&joint).map(|s| s.serial.as_str())
    }

    pub(super) fn class(&self, joint: i64) -> Option<&'static str> {
        self.0.get(&joint)?.class
    }

    /// What is said of it by what is known, where it was inspected.
    pub(super) fn verdict(&self, joint: i64) -> Option<&str> {
        self.0.get(&joint)?.verdict.as_ref().map(|(said, _)| said.as_str())
    }

    /// What is called for.
    pub(super) fn calls(&self, joint: i64) -> BTreeSet<Call> {
        self.0.get(&joint).map(|s| s.calls.clone()).unwrap_or_default()
    }
}

/// How all joints of a book are judged at an instant, and what is called for; without verdicts on
/// what is known where nothing changes them.
pub fn judged(book: &mut Book, verdicts: bool, present: &Present) -> Result<Judged, ReportError> {
    let adoptions = book.adoptions()?;
    let mut out = BTreeMap::new();
    {
        let mut appraiser = book.appraiser()?;
        for row in book.rows::<JointRow>(&Rows::all())? {
            let appraisal = match row.inspected.filter(|_| verdicts) {
                Some(_) => appraiser.appraise(row.joint, present.now, Ask::default())?,
                None => None,
            };
            let verdict = appraisal.map(|a| {
                let standing = a.verdict.overall.standing.text();
                // Readings alone are no leave to run it.
                let said = match a.verdict.disposition {
                    d if d.may_run() => standing,
                    d => format!("{standing}: {}", d.says()),
                };
                (said, a.verdict.criterion_word())
            });
            let standing = Standing {
                serial: row.serial,
                class: row.class.map(class_name),
                disposition: row.out_reason.or(row.disposition).as_deref().map(plain),
                verdict,
                calls: BTreeSet::new(),
            };
            out.insert(row.joint, standing);
        }
    }
    let rules = rules_of(&adoptions, present.now)?;
    for (joint, call) in due::calls_now(book, &rules, present)? {
        if let Some(standing) = out.get_mut(&joint) {
            standing.calls.insert(call);
        }
    }
    Ok(Judged(out))
}

/// Joints shown of those that change.
const SHOWN: usize = 40;

/// What changes from one to the other, joint by joint.
pub fn effect(before: &Judged, after: &Judged) -> Vec<Block> {
    let none = Standing::default();
    let pairs: Vec<(&Standing, &Standing)> = before
        .0
        .iter()
        .map(|(joint, b)| (b, after.0.get(joint).unwrap_or(&none)))
        .filter(|(b, a)| a != b)
        .collect();
    let list =
        |calls: Vec<&str>| Cell::text(Some(calls.join(", ")).as_deref().filter(|c| !c.is_empty()));
    let beyond = |a: &Standing, b: &Standing| -> Vec<&'static str> {
        a.calls.difference(&b.calls).map(|c| c.word()).collect()
    };
    let sum = |of: &dyn Fn(&Standing, &Standing) -> usize| {
        Cell::count(pairs.iter().map(|(b, a)| of(b, a)).sum::<usize>())
    };
    let said = |s: &Standing| s.verdict.as_ref().map(|v| v.0.clone());
    let rows = pairs
        .iter()
        .take(SHOWN)
        .map(|(b, a)| {
            vec![
                Cell::Text(b.serial.clone()),
                Cell::text(b.class),
                Cell::text(a.class),
                Cell::text(b.disposition.as_deref()),
                Cell::text(a.disposition.as_deref()),
                Cell::text(said(b).as_deref()),
                Cell::text(said(a).as_deref()),
                Cell::text(a.verdict.as_ref().and_then(|v| v.1.as_deref())),
                list(beyond(a, b)),
                list(beyond(b, a)),
            ]
        })
        .collect();
    let mut out = vec![
        Block::Facts {
            name: "effect",
            facts: vec![
                Fact::plain("joints", "joints looked at", Cell::count(before.0.len())),
                Fact::plain("changed", "joints that change", Cell::count(pairs.len())),
                Fact::plain("calls_gained", "calls gained", sum(&|b, a| beyond(a, b).len())),
                Fact::plain("calls_lost", "calls lost", sum(&|b, a| beyond(b, a).len())),
            ],
        },
        Block::Table(Table {
            name: "changed",
            columns: vec![
                Column::plain("serial", "serial"),
                Column::plain("class", "class"),
                Column::plain("class_then", "class then"),
                Column::plain("disposition", "what follows").dispensable(3),
                Column::plain("disposition_then", "what follows then").dispensable(3),
                Column::plain("verdict", "verdict on what is known").dispensable(2),
                Column::plain("verdict_then", "verdict then").dispensable(2),
                Column::plain("decided_by", "decided by").dispensable(4),
                Column::plain("calls_gained", "calls gained"),
                Column::plain("calls_lost", "calls lost"),
            ],
            rows,
            empty: "no joint is judged otherwise, and nothing else is called for".to_owned(),
            below: None,
        }),
    ];
    if pairs.len() > SHOWN {
        out.push(Block::Note(format!("{} more are not shown", pairs.len() - SHOWN)));
    }
    out
}
