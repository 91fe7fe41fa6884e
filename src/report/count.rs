//! What lies on a rack, held against what the book says of it.

use std::collections::{BTreeMap, BTreeSet};

use crate::intake::Listed;
use crate::model::{Status, join_blanks, name_key, same_name};
use crate::schema::{JointRow, Rows};
use crate::store::Book;

use super::lookup::find_joint;
use super::sheet::unique_serial;
use super::{Block, Cell, Column, Fact, Report, ReportError, Table};

/// A joint that lies elsewhere than the book says, with where it lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settling {
    /// Its serial, with its entry where two share it.
    pub serial: String,
    pub location: String,
}

/// What a count found.
#[derive(Clone, Debug, PartialEq)]
pub struct Counted {
    pub report: Report,
    /// The moves that would settle what lies elsewhere.
    pub moves: Vec<Settling>,
}

/// A joint that is listed: where it lies, and the rows of the list that say so.
struct Seen {
    row: JointRow,
    at: String,
    rows: Vec<u64>,
}

/// Holds a list against the book. Serials without a place of their own lie at `place`.
pub fn count(book: &Book, list: &[Listed], place: Option<&str>) -> Result<Counted, ReportError> {
    let mut seen: BTreeMap<i64, Seen> = BTreeMap::new();
    let mut unreadable: Vec<Vec<Cell>> = Vec::new();
    let mut twice: Vec<Vec<Cell>> = Vec::new();
    let mut places: BTreeMap<String, String> = BTreeMap::new();
    for listed in list {
        let Some(at) = listed.location.as_deref().or(place) else {
            return Err(nowhere(book)?);
        };
        places.entry(name_key(at)).or_insert_with(|| join_blanks(at));
        let found = match find_joint(book, &listed.serial) {
            Ok(joint) => book.row::<JointRow>(joint)?,
            Err(e) => {
                unreadable.push(vec![
                    Cell::Text(listed.serial.clone()),
                    Cell::Text(join_blanks(at)),
                    Cell::count(listed.row),
                    Cell::text(why(e)?.as_deref()),
                ]);
                continue;
            }
        };
        let Some(row) = found else { continue };
        let joint = row.joint;
        let one = seen.entry(joint).or_insert_with(|| Seen {
            row,
            at: join_blanks(at),
            rows: Vec::new(),
        });
        one.rows.push(listed.row);
        if one.rows.len() > 1 {
            let rows: Vec<String> = one.rows.iter().map(u64::to_string).collect();
            let elsewhere = !same_name(at, &one.at);
            let also = if elsewhere { join_blanks(at) } else { String::new() };
            twice.push(vec![
                Cell::Text(one.row.serial.clone()),
                Cell::Text(rows.join(", ")),
                Cell::text(Some(also.as_str()).filter(|a| !a.is_empty())),
            ]);
        }
    }
    if let Some(place) = place {
        places.entry(name_key(place)).or_insert_with(|| join_blanks(place));
    }
    let all: Vec<JointRow> = book.rows(&Rows::<JointRow>::all().known(JointRow::location()))?;
    let expected: Vec<&JointRow> = all
        .iter()
        .filter(|r| r.location.as_deref().is_some_and(|at| places.contains_key(&name_key(at))))
        .filter(|r| r.status != Some(Status::Lost))
        .collect();
    let mut missing: Vec<&JointRow> =
        expected.iter().copied().filter(|r| !seen.contains_key(&r.joint)).collect();
    missing.sort_by(|a, b| (&a.serial, &a.by_name).cmp(&(&b.serial, &b.by_name)));
    let mut found = 0usize;
    let (mut misplaced, mut extra, mut moves) = (Vec::new(), Vec::new(), Vec::new());
    let mut order: Vec<&Seen> = seen.values().collect();
    order.sort_by(|a, b| (&a.row.serial, &a.row.by_name).cmp(&(&b.row.serial, &b.row.by_name)));
    for s in order {
        let away = matches!(s.row.status, Some(Status::OnHire | Status::Lost | Status::Retired));
        let here = s.row.location.as_deref().is_some_and(|at| same_name(at, &s.at));
        if here && !matches!(s.row.status, Some(Status::Lost)) {
            found += 1;
        } else if away {
            extra.push(vec![
                Cell::Text(s.row.serial.clone()),
                Cell::Text(s.at.clone()),
                Cell::word(s.row.status),
                Cell::text(s.row.location.as_deref()),
                Cell::text(s.row.hire.as_deref()),
                Cell::Text(what_to_do(&s.row)),
            ]);
        } else {
            misplaced.push(vec![
                Cell::Text(s.row.serial.clone()),
                Cell::Text(s.at.clone()),
                Cell::text(s.row.location.as_deref()),
            ]);
            moves.push(Settling { serial: unique_serial(book, &s.row)?, location: s.at.clone() });
        }
    }
    let report = report(Parts {
        places: &places,
        list,
        expected: expected.len(),
        found,
        missing,
        misplaced,
        extra,
        unreadable,
        twice,
    });
    Ok(Counted { report, moves })
}

/// What the report tells.
struct Parts<'a> {
    places: &'a BTreeMap<String, String>,
    list: &'a [Listed],
    expected: usize,
    found: usize,
    missing: Vec<&'a JointRow>,
    misplaced: Vec<Vec<Cell>>,
    extra: Vec<Vec<Cell>>,
    unreadable: Vec<Vec<Cell>>,
    twice: Vec<Vec<Cell>>,
}

fn report(p: Parts<'_>) -> Report {
    let mut report = Report::new("count");
    let places: Vec<&str> = p.places.values().map(String::as_str).collect();
    report.push(Block::Facts {
        name: "count",
        facts: vec![
            Fact::plain("places", "counted at", Cell::Text(places.join(", "))),
            Fact::plain("listed", "serials listed", Cell::count(p.list.len())),
            Fact::plain("expected", "expected by the book", Cell::count(p.expected)),
            Fact::plain("found", "as the book says", Cell::count(p.found)),
            Fact::plain("missing", "missing", Cell::count(p.missing.len())),
            Fact::plain("misplaced", "misplaced", Cell::count(p.misplaced.len())),
            Fact::plain("extra", "should not lie here", Cell::count(p.extra.len())),
            Fact::plain("unreadable", "no joint of the book", Cell::count(p.unreadable.len())),
            Fact::plain("listed_twice", "listed twice", Cell::count(p.twice.len())),
        ],
    });
    let missing = p.missing.iter().map(|r| {
        vec![
            Cell::Text(r.serial.clone()),
            Cell::text(r.location.as_deref()),
            Cell::text(r.string.as_deref()),
            Cell::word(r.status),
            Cell::text(r.hire.as_deref()),
        ]
    });
    let plain = |list: &[(&str, &str)]| -> Vec<Column> {
        list.iter().map(|(name, title)| Column::plain(name, title)).collect()
    };
    let serial = ("serial", "serial");
    let mut tables = vec![
        (
            "missing_joints",
            "missing: the book has them here, and nobody read them",
            plain(&[
                serial,
                ("location", "here by the book"),
                ("string", "string"),
                ("status", "status"),
                ("hire", "hire"),
            ]),
            missing.collect(),
        ),
        (
            "misplaced_joints",
            "misplaced: they lie here, and the book has them elsewhere",
            plain(&[serial, ("lies_at", "lies at"), ("book_says", "by the book")]),
            p.misplaced,
        ),
        (
            "extra_joints",
            "should not lie here: the book has them out",
            plain(&[
                serial,
                ("lies_at", "lies at"),
                ("status", "status"),
                ("book_says", "by the book"),
                ("hire", "hire"),
                ("to_do", "what settles it"),
            ]),
            p.extra,
        ),
        (
            "unreadable_serials",
            "no joint of the book: read again",
            plain(&[
                ("written", "as written"),
                ("lies_at", "lies at"),
                ("row", "row"),
                ("like", "it may be"),
            ]),
            p.unreadable,
        ),
        (
            "listed_twice",
            "listed more than once",
            plain(&[serial, ("rows", "rows"), ("also_at", "also at")]),
            p.twice,
        ),
    ];
    tables.retain(|t: &(&str, &str, Vec<Column>, Vec<Vec<Cell>>)| !t.3.is_empty());
    let settled = tables.is_empty();
    for (name, heading, columns, rows) in tables {
        report.push(Block::Heading(heading.to_owned()));
        report.push(Block::Table(Table { name, columns, rows, empty: String::new(), below: None }));
    }
    if settled {
        report.push(Block::Text("the rack is as the book says".to_owned()));
    }
    report
}

/// Serials that a serial which no joint carries may stand for.
fn why(e: ReportError) -> Result<Option<String>, ReportError> {
    match e {
        ReportError::NoJoint { like, .. } => Ok((!like.is_empty()).then(|| like.join(" or "))),
        ReportError::ManyJoints { joints, .. } => Ok(Some(joints.join(" or "))),
        other => Err(other),
    }
}

fn what_to_do(row: &JointRow) -> String {
    match (row.status, &row.hire) {
        (Some(Status::OnHire), Some(hire)) => {
            format!("if it came back: pipelore enter hire-in serial={} hire={hire}", row.serial)
        }
        (Some(Status::Retired), _) => "a retired joint: keep it apart".to_owned(),
        _ => "read it again; a person decides".to_owned(),
    }
}

/// No place is told.
fn nowhere(book: &Book) -> Result<ReportError, ReportError> {
    let rows: Vec<JointRow> = book.rows(&Rows::<JointRow>::all().known(JointRow::location()))?;
    let places: BTreeSet<String> = rows.into_iter().filter_map(|r| r.location).collect();
    let places: Vec<String> = places.into_iter().collect();
    Ok(ReportError::Words(format!(
        "the list says no place: give one with --at PLACE, or a column Location; places of the \
         book: {}",
        places.join(", ")
    )))
}
