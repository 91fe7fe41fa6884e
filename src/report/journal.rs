//! The journal: what was entered, when and by whom, as the days of the book's clock go.

use chrono::NaiveDate;

use crate::model::{Clock, Evidence, Instant, fold};
use crate::store::{Book, StoredEntry};

use super::entries::{about, struck};
use super::serials::in_stretches;
use super::{Block, Cell, Column, Counted, Report, ReportError, Table, instant};

/// Which days and whose entries.
#[derive(Clone, Debug)]
pub struct Options {
    /// The first day.
    pub from: NaiveDate,
    /// The last one.
    pub to: NaiveDate,
    /// Only what this person entered.
    pub author: Option<String>,
    /// A line for each entry, also where many came together.
    pub each: bool,
}

/// Entries that came together: by one person, at one time, from one file or of one kind.
struct Stretch {
    like: (String, String, Option<String>, Option<String>, i64),
    kinds: Vec<String>,
    first: String,
    last: String,
    written: i64,
    about: Vec<String>,
    dates: Vec<String>,
    entries: i64,
    struck: i64,
}

/// What was entered on these days, in the order in which it was written.
pub fn report(book: &Book, options: &Options, clock: Clock) -> Result<Report, ReportError> {
    let struck = struck(book)?;
    let author = options.author.as_deref().map(fold);
    let mut stretches: Vec<Stretch> = Vec::new();
    book.each_entry(|stored| {
        let day = Instant(stored.raw.recorded_ms).at(clock).date_naive();
        let by = author.as_ref().is_none_or(|author| fold(&stored.raw.author) == *author);
        if by && (options.from..=options.to).contains(&day) {
            let is_struck = struck.contains_key(&stored.position);
            take(&mut stretches, &stored, is_struck, options.each)?;
        }
        Ok(())
    })?;
    let entries: i64 = stretches.iter().map(|s| s.entries).sum();
    let lines = stretches.len();
    let rows = stretches.into_iter().map(|s| row(s, clock)).collect();
    let days = if options.from == options.to {
        format!("on {}", options.from)
    } else {
        format!("from {} to {}", options.from, options.to)
    };
    let by = options.author.as_deref().map_or_else(String::new, |a| format!(" by {a}"));
    let mut report = Report::new("journal");
    report.push(Block::Table(Table {
        name: "journal",
        columns: vec![
            Column::plain("entry", "entry"),
            Column::plain("last", "last").for_machines(),
            Column::plain("entries", "entries"),
            Column::plain("kind", "kind"),
            Column::plain("about", "about"),
            Column::plain("when", "happened").dispensable(1),
            Column { once: true, ..Column::plain("author", "by") },
            Column { once: true, ..Column::plain("written", "written") },
            Column::plain("file", "file").dispensable(2),
            Column::plain("struck", "struck").dispensable(3),
        ],
        rows,
        empty: format!("nothing was entered {days}{by}"),
        below: None,
    }));
    let count = usize::try_from(entries).unwrap_or(usize::MAX);
    report.push(Block::Counted(Counted {
        counts: vec![("entries", Some(count))],
        wants: Vec::new(),
        says: match count {
            0 => String::new(),
            1 => format!("1 entry written {days}{by}"),
            _ => format!("{count} entries written {days}{by}"),
        },
    }));
    if lines > 0 {
        report.push(Block::Note(
            "`show ENTRY` has one whole; a wrong one is struck out with `strike ENTRY --reason TEXT`"
                .to_owned(),
        ));
    }
    Ok(report)
}

fn take(
    stretches: &mut Vec<Stretch>,
    stored: &StoredEntry,
    struck: bool,
    each: bool,
) -> Result<(), crate::store::StoreError> {
    let raw = &stored.raw;
    let entry = raw.read()?;
    let file = entry.evidence.as_ref().map(|Evidence { file, .. }| file.clone());
    let chain = format!("{} {}", raw.site, raw.epoch);
    let minute = raw.recorded_ms.div_euclid(60_000);
    // A file may tell of a joint and of its life before; what is typed is told apart by its kind.
    let kind = file.is_none().then(|| raw.kind.clone());
    let like = (chain, raw.author.clone(), kind, file, minute);
    let (label, said) = (raw.label(), about(&entry.body));
    match stretches.last_mut().filter(|s| !each && s.like == like) {
        Some(stretch) => {
            stretch.last = label;
            if !stretch.kinds.contains(&raw.kind) {
                stretch.kinds.push(raw.kind.clone());
            }
            stretch.about.extend(said);
            stretch.dates.push(raw.effective.clone());
            stretch.entries += 1;
            stretch.struck += i64::from(struck);
        }
        None => stretches.push(Stretch {
            like,
            kinds: vec![raw.kind.clone()],
            first: label.clone(),
            last: label,
            written: raw.recorded_ms,
            about: said.into_iter().collect(),
            dates: vec![raw.effective.clone()],
            entries: 1,
            struck: i64::from(struck),
        }),
    }
    Ok(())
}

fn row(s: Stretch, clock: Clock) -> Vec<Cell> {
    let (_, author, _, file, _) = s.like;
    let names = match s.entries {
        1 => s.first,
        _ => format!("{} to {}", s.first, s.last),
    };
    let (first, last) = (s.dates.iter().min(), s.dates.iter().max());
    let when = match (first, last) {
        (Some(first), Some(last)) if first != last => Some(format!("{first} to {last}")),
        (first, _) => first.cloned(),
    };
    let about = in_stretches(s.about.iter().map(String::as_str));
    vec![
        Cell::Text(names),
        Cell::Text(s.last),
        Cell::Number(s.entries),
        Cell::Text(s.kinds.join(", ").replace('_', " ")),
        if about.is_empty() { Cell::Missing } else { Cell::Text(about) },
        Cell::text(when.as_deref()),
        Cell::Text(author),
        instant(s.written, clock),
        Cell::text(file.as_deref()),
        if s.struck == 0 { Cell::Missing } else { Cell::Number(s.struck) },
    ]
}
