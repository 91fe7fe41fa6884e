//! A book into a folder of states.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use super::PublishError;
use super::describe::{self, PublishedTable, Source};
use super::manifest::{FORMAT, FileNote, Manifest, NAME, SiteState};
use super::part::{Part, Print, Written};
use super::sites::{self, Standing};
use super::state::{Draft, States, length, link};
use crate::ledger::hex;
use crate::projection;
use crate::schema::{Row, Table};
use crate::store::{Book, Held, Seen};

/// How to publish.
#[derive(Clone, Copy, Debug)]
pub struct How<'a> {
    /// The program that does.
    pub program: &'a str,
    /// How many states to keep; all where there is no number.
    pub keep: Option<usize>,
    /// Whatever the site published before is left alone.
    pub anew: bool,
}

/// What was published.
#[derive(Clone, Debug)]
pub struct Published {
    /// The folder of the state.
    pub state: PathBuf,
    pub number: u64,
    /// The newest state was of these very rows, and stays the newest.
    pub unchanged: bool,
    pub sites: Vec<String>,
    pub joints: u64,
    /// Files with rows that are new, and files of the state before.
    pub written: usize,
    pub linked: usize,
    /// Bytes of the state, and of what was written for it.
    pub bytes: u64,
    pub bytes_written: u64,
    pub superseded: u64,
    pub contested: u64,
    /// Old states that were taken away.
    pub pruned: usize,
}

/// A file to make.
struct Task<'a> {
    table: &'a PublishedTable,
    note: String,
    place: PathBuf,
    stretch: Option<(i64, i64)>,
}

/// What was published before.
struct Former<'a> {
    state: &'a Path,
    notes: HashMap<&'a str, &'a FileNote>,
}

/// Publishes what a book says now.
///
/// # Errors
/// When somebody else publishes there, when the folder is no publication or holds a later state of the
/// site's book, and when the disk fails; the folder is as it was then.
pub fn publish(book: &Book, dir: &Path, how: &How<'_>) -> Result<Published, PublishError> {
    let states = States::open(dir)?;
    let newest = states.all()?.pop();
    let former = newest.as_deref().map(Manifest::read).transpose()?;
    let held = book.hold()?;
    let site = book.identity().chain.site.to_string();
    let chains = held.chain_ends()?;
    let before = former.as_ref().and_then(|m| m.sites.get(&site)).filter(|_| !how.anew);
    if let Some(before) = before {
        for end in &before.chains {
            if held.hash_of(end)?.as_deref() != Some(end.hash.as_str()) {
                return Err(PublishError::NotItsFuture {
                    dir: dir.to_path_buf(),
                    site,
                    published: before.head.clone(),
                });
            }
        }
    }
    let tables = PublishedTable::of_a_book();
    let description = describe::digest(&tables);
    let reusable = before.filter(|b| {
        let format = former.as_ref().is_some_and(|m| m.pipelore_publication == FORMAT);
        format && b.projections == projection::VERSION && b.tables == description
    });
    let earlier = newest.as_deref().zip(reusable).map(|(state, site)| Former {
        state,
        notes: site.files.iter().map(|n| (n.path.as_str(), n)).collect(),
    });
    let mut draft = states.begin()?;
    let tasks = tasks(&tables, &held, &site, &mut draft)?;
    let done = all(book, &held, &tasks, earlier.as_ref())?;
    let linked_of = |linked: bool| done.iter().filter(move |d| d.1 == linked);
    let (mut written, mut linked) = (linked_of(false).count(), linked_of(true).count());
    let mut bytes_written: u64 = linked_of(false).map(|d| d.0.bytes).sum();
    let files: Vec<FileNote> = done.into_iter().map(|d| d.0).collect();
    let joints_under = format!("{}/", crate::schema::JointRow::TABLE);
    let joints = files.iter().filter(|f| f.path.starts_with(&joints_under)).map(|f| f.rows).sum();
    let head = book.head()?.map_or_else(String::new, |h| h.to_string());
    let mut all_sites = former.as_ref().map(|m| m.sites.clone()).unwrap_or_default();
    all_sites.remove(&site);
    for note in all_sites.values().flat_map(|s| &s.files) {
        let from = newest.as_deref().unwrap_or(dir).join(&note.path);
        if length(&from) != Some(note.bytes) {
            let what = format!("its file {} is missing or of another length", note.path);
            let path = newest.as_deref().unwrap_or(dir).join(NAME);
            return Err(PublishError::Manifest { path, what });
        }
        link(&from, &draft.place(&note.path)?)?;
        linked += 1;
    }
    let program = how.program.to_owned();
    let projections = projection::VERSION;
    let tables = description;
    let own = SiteState { head, chains, program, projections, tables, joints, files };
    all_sites.insert(site, own);
    let standing = sites::standing(&draft.folder, &all_sites)?;
    let mut shared = Vec::new();
    for table in PublishedTable::of_all_sites() {
        let path = format!("{}/part-00000.parquet", table.name);
        let made = sites::write(&draft.place(&path)?, &table, &standing)?;
        written += 1;
        bytes_written += made.bytes;
        shared.push(note(path, made));
    }
    let number = former.as_ref().map_or(1, |m| m.number + 1);
    let manifest =
        Manifest { pipelore_publication: FORMAT, number, sites: all_sites, files: shared };
    let all_files = manifest.sites.values().flat_map(|s| &s.files).chain(&manifest.files);
    let count = |of: Standing| standing.iter().filter(|s| s.is(of)).count() as u64;
    let published = Published {
        state: newest.clone().unwrap_or_default(),
        number,
        unchanged: false,
        sites: manifest.sites.keys().cloned().collect(),
        joints,
        written,
        linked,
        bytes: all_files.map(|f| f.bytes).sum(),
        bytes_written,
        superseded: count(Standing::Superseded),
        contested: count(Standing::Contested),
        pruned: 0,
    };
    // The same rows are the same state, by whatever program.
    if former.as_ref().is_some_and(|m| same_rows(m, &manifest)) {
        drop(draft);
        let pruned = how.keep.map_or(Ok(0), |n| states.keep(n))?;
        let number = number - 1;
        return Ok(Published { unchanged: true, number, pruned, ..published });
    }
    draft.text("tables.md", &describe::tables_text())?;
    let text = manifest.text().map_err(|e| PublishError::Manifest {
        path: draft.folder.join(NAME),
        what: e.to_string(),
    })?;
    draft.text(NAME, &text)?;
    let digest = {
        use sha2::{Digest, Sha256};
        hex(&Sha256::digest(text.as_bytes()))
    };
    let state = states.name(draft, number, &digest)?;
    let pruned = how.keep.map_or(Ok(0), |n| states.keep(n))?;
    Ok(Published { state, pruned, ..published })
}

fn same_rows(a: &Manifest, b: &Manifest) -> bool {
    let rows = |m: &Manifest| {
        let sites = m.sites.clone().into_iter();
        let sites: Vec<_> =
            sites.map(|(k, s)| (k, SiteState { program: String::new(), ..s })).collect();
        (m.pipelore_publication, sites, m.files.clone())
    };
    rows(a) == rows(b)
}

fn note(path: String, made: Written) -> FileNote {
    let Written { rows, bytes, sha256, content } = made;
    FileNote { path, rows, bytes, sha256, content }
}

/// The files of a book: each table in stretches of so many of the numbers by which it is divided. They
/// are counted from the lowest, so that what is added changes the last.
fn tasks<'a>(
    tables: &'a [PublishedTable],
    held: &Held<'_>,
    site: &str,
    draft: &mut Draft,
) -> Result<Vec<Task<'a>>, PublishError> {
    let joints = held.numbers(Table::Joint)?;
    let mut out = Vec::new();
    for table in tables {
        let own;
        let numbers: &[i64] = match table.source {
            Source::Rows(t) if t.column("joint").is_some() => &joints,
            Source::Rows(t) => {
                own = held.numbers(t)?;
                &own
            }
            Source::Ledger => {
                own = (1..=held.entries()?).collect();
                &own
            }
            Source::Known | Source::Sites => &[],
        };
        let mut firsts: Vec<i64> = numbers.iter().copied().step_by(table.block).collect();
        match firsts.first_mut() {
            Some(first) => *first = i64::MIN,
            None => firsts.push(i64::MIN),
        }
        for (n, first) in firsts.iter().enumerate() {
            let last = firsts.get(n + 1).map_or(i64::MAX, |next| next - 1);
            let note = format!("{}/site={site}/part-{n:05}.parquet", table.name);
            let place = draft.place(&note)?;
            out.push(Task { table, note, place, stretch: Some((*first, last)) });
        }
    }
    Ok(out)
}

/// Makes all files, two at once where the book is large; for each whether it is one of the state before.
fn all(
    book: &Book,
    held: &Held<'_>,
    tasks: &[Task<'_>],
    former: Option<&Former<'_>>,
) -> Result<Vec<(FileNote, bool)>, PublishError> {
    let (next, stop) = (AtomicUsize::new(0), AtomicBool::new(false));
    let found = Mutex::new(Vec::with_capacity(tasks.len()));
    let work = |held: &Held<'_>| -> Result<(), PublishError> {
        while !stop.load(Ordering::Relaxed) {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(task) = tasks.get(at) else { break };
            let made =
                one(held, task, former).inspect_err(|_| stop.store(true, Ordering::Relaxed))?;
            found.lock().unwrap_or_else(std::sync::PoisonError::into_inner).push((at, made));
        }
        Ok(())
    };
    let entries = held.entries()?;
    let beside = book.beside()?;
    std::thread::scope(|scope| {
        let other = beside.map(|other| {
            scope.spawn(|| {
                let other = other;
                let held = other.hold()?;
                // Somebody wrote in between: what it sees is not what the first sees.
                if held.entries()? == entries { work(&held) } else { Ok(()) }
            })
        });
        let first = work(held);
        let second = other
            .map_or(Ok(()), |o| o.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        first.and(second)
    })?;
    let mut found = found.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    found.sort_by_key(|f| f.0);
    Ok(found.into_iter().map(|f| f.1).collect())
}

fn one(
    held: &Held<'_>,
    task: &Task<'_>,
    former: Option<&Former<'_>>,
) -> Result<(FileNote, bool), PublishError> {
    let columns = &task.table.columns;
    if let Some(former) = former
        && let Some(known) = former.notes.get(task.note.as_str())
    {
        let from = former.state.join(&known.path);
        let mut print = Print::new();
        let names: Vec<_> = columns.iter().filter(|c| c.tells).map(|c| c.name).collect();
        read(held, task, &names, &mut |_, value| print.add(value))?;
        if print.finish() == known.content && length(&from) == Some(known.bytes) {
            link(&from, &task.place)?;
            return Ok(((*known).clone(), true));
        }
    }
    let mut part = Part::new(&task.place, task.table)?;
    read(held, task, &task.table.names(), &mut |at, value| part.put(at, value))?;
    Ok((note(task.note.clone(), part.finish()?), false))
}

/// Hands out columns of the rows of a file.
fn read(
    held: &Held<'_>,
    task: &Task<'_>,
    columns: &[&str],
    see: &mut dyn FnMut(usize, Seen<'_>),
) -> Result<(), PublishError> {
    let stretch = task.stretch;
    match task.table.source {
        Source::Rows(table) => held.rows(table, stretch, columns, see)?,
        Source::Ledger => {
            held.ledger(stretch.unwrap_or((i64::MIN, i64::MAX)), columns, see)?;
        }
        Source::Known => held.last_entries(see)?,
        Source::Sites => {}
    }
    Ok(())
}
