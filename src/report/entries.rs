//! Entries of the ledger, as they stand in it.

use std::collections::BTreeMap;

use crate::ledger::RawEntry;
use crate::model::{Body, Clock, EntryId, EntryKind, JointRef, fold, nearest_word};
use crate::schema::{Rows, StruckRow};
use crate::store::{Book, StoreError, StoredEntry};

use super::trace::changes;
use super::{Block, Cell, Column, Report, ReportError, Table};

/// Which entries are listed, and how much of each.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// Only what came into this book after this entry.
    pub since: Option<EntryId>,
    /// Only entries of a kind, by its word in the ledger.
    pub kind: Option<String>,
    /// Body, evidence and hashes too.
    pub whole: bool,
}

/// Entries in the order in which they came into the book.
pub fn report(book: &Book, options: &Options) -> Result<Report, ReportError> {
    let kind = options.kind.as_deref().map(kind_of).transpose()?;
    let first = match &options.since {
        Some(entry) => book.entry(entry)?.position + 1,
        None => 1,
    };
    let struck = struck(book)?;
    let mut rows = Vec::new();
    book.each_entry(|stored| {
        let wanted = stored.position >= first && kind.is_none_or(|k| stored.raw.kind == k.word());
        if wanted {
            rows.push(row(book, &stored, struck.get(&stored.position), options.whole)?);
        }
        Ok(())
    })?;
    Ok(listed(rows, options.whole))
}

/// One entry, as the list has it.
pub fn one(book: &Book, id: &EntryId) -> Result<Report, ReportError> {
    let stored = book.entry(id)?;
    let struck: Option<StruckRow> = book.row(stored.position)?;
    Ok(listed(vec![row(book, &stored, struck.as_ref(), true)?], true))
}

/// Entries that count no more, by place.
pub(super) fn struck(book: &Book) -> Result<BTreeMap<i64, StruckRow>, StoreError> {
    let rows = book.rows(&Rows::all())?.into_iter();
    Ok(rows.map(|row: StruckRow| (row.entry, row)).collect())
}

fn listed(rows: Vec<Vec<Cell>>, whole: bool) -> Report {
    let mut columns = vec![
        Column::plain("entry", "entry"),
        Column::plain("when", "when"),
        Column::plain("kind", "kind"),
        Column::plain("about", "about"),
        Column::plain("author", "by").dispensable(1),
        Column::plain("recorded", "written").dispensable(2),
        Column::plain("struck", "struck").dispensable(3),
        Column::plain("struck_by", "by entry").dispensable(3),
    ];
    if whole {
        let more = ["program", "encoding", "evidence", "body", "prev", "hash"];
        columns.extend(more.map(|name| Column::plain(name, name)));
    }
    let mut report = Report::new("entries");
    report.push(Block::Table(Table {
        name: "entries",
        columns,
        rows,
        empty: "no such entry".to_owned(),
        below: None,
    }));
    report
}

/// The kind that a user names: `inspection`, `hire out`.
fn kind_of(word: &str) -> Result<EntryKind, ReportError> {
    let key = fold(word);
    let words = || EntryKind::ALL.iter().map(|k| k.word());
    EntryKind::named(&key).or_else(|| EntryKind::named(key.strip_suffix('s')?)).ok_or_else(|| {
        let meant = nearest_word(word, words())
            .map_or_else(String::new, |near| format!("; did you mean {near}?"));
        let known: Vec<&str> = words().collect();
        ReportError::Words(format!(
            "'{word}' is no kind of entry{meant}; known: {}",
            known.join(", ")
        ))
    })
}

fn row(
    book: &Book,
    stored: &StoredEntry,
    struck: Option<&StruckRow>,
    whole: bool,
) -> Result<Vec<Cell>, StoreError> {
    let raw = &stored.raw;
    let entry = raw.read()?;
    let by = struck.map(|row| book.entry_at(row.by_entry)).transpose()?;
    // As the writer's own clock had it: that, too, is part of the entry.
    let written = entry.recorded;
    let written_at = written.at.at(Clock::of_offset(written.offset_minutes));
    let mut cells = vec![
        Cell::Text(raw.label()),
        Cell::Text(raw.effective.clone()),
        Cell::Text(if whole { raw.kind.clone() } else { raw.kind.replace('_', " ") }),
        Cell::text(about(&entry.body).as_deref()),
        Cell::Text(raw.author.clone()),
        Cell::Time(written_at),
        Cell::text(struck.map(|row| row.why.as_str())),
        by.map_or(Cell::Missing, |by| Cell::Text(by.raw.label())),
    ];
    if whole {
        cells.extend([
            Cell::Text(raw.program.clone()),
            Cell::Number(i64::from(raw.encoding)),
            raw.evidence.as_deref().map_or(Ok(Cell::Missing), |e| json(raw, e))?,
            json(raw, &raw.body)?,
            Cell::Text(stored.prev.to_string()),
            Cell::Text(stored.hash.to_string()),
        ]);
    }
    Ok(cells)
}

/// JSON of the ledger as it was written.
fn json(raw: &RawEntry, text: &str) -> Result<Cell, StoreError> {
    serde_json::from_str(text)
        .map(Cell::Json)
        .map_err(|e| StoreError::Fold { entry: raw.label(), what: e.to_string() })
}

/// What an entry is about, in a few words.
pub(super) fn about(body: &Body) -> Option<String> {
    match body {
        Body::Joint(b) => Some(b.serial.to_string()),
        Body::Survey(b) => Some(b.well.clone()),
        Body::Run(b) => Some(b.name.clone()),
        Body::Instrument(b) => Some(b.tag.clone()),
        Body::Check(b) => Some(b.tag.clone()),
        Body::Adoption(b) => Some(b.name.clone()),
        Body::Arrival(b) => {
            let chains: Vec<String> =
                b.chains.iter().map(|c| format!("{}-{} to {}", c.chain, c.from, c.to)).collect();
            Some(chains.join(", "))
        }
        Body::Epoch(b) => Some(b.site.clone()),
        Body::Strike(b) => Some(format!("{}{}", b.entry, decided(b.decision.as_deref()))),
        Body::Amend(b) => {
            let decided = decided(b.decision.as_deref());
            Some(format!("{}: {}{decided}", b.entry, changes(b)))
        }
        Body::Clock(b) => Some(b.clock.clone()),
        Body::Key(b) => Some(b.site.clone()),
        Body::Layout(b) => Some(match &b.file {
            Some(file) => format!("{} as in {file}", b.file_kind),
            None => b.file_kind.clone(),
        }),
        Body::Note(b) => match &b.about {
            Some(entry) => Some(entry.to_string()),
            None => serials(body),
        },
        Body::Event(b) => match &b.run {
            Some(run) => Some(run.to_string()),
            None => serials(body),
        },
        Body::Makeup(b) => match &b.run {
            Some(run) => Some(run.to_string()),
            None => serials(body),
        },
        Body::Identity(_)
        | Body::Opening(_)
        | Body::Move(_)
        | Body::Gap(_)
        | Body::HireOut(_)
        | Body::HireIn(_)
        | Body::Inspection(_)
        | Body::Repair(_)
        | Body::Failure(_)
        | Body::Decision(_) => serials(body),
    }
}

/// The decision by which another site's entry is struck or amended.
fn decided(decision: Option<&str>) -> String {
    decision.map_or_else(String::new, |why| format!(", by decision: {why}"))
}

/// Serials of the joints that a body names; of many the first two.
fn serials(body: &Body) -> Option<String> {
    let name = |joint: &JointRef| joint.serial.to_string();
    match body.joints().as_slice() {
        [] => None,
        [one] => Some(name(one)),
        [one, two] => Some(format!("{}, {}", name(one), name(two))),
        [one, two, more @ ..] => {
            Some(format!("{}, {} and {} more", name(one), name(two), more.len()))
        }
    }
}
