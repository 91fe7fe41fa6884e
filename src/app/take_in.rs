//! Drafts on their way in: the book as intake sees it, a file read, settled and appended.

use std::collections::BTreeMap;
use std::io::{self, Read};
use std::ops::ControlFlow;
use std::path::Path;
use std::sync::Arc;

use super::reread::Reread;
use super::resemble::corrections;
use super::{Caller, Error, LoadOptions, hire, told_hours, unlikely};
use crate::condition::{Catalogue, Standards};
use crate::intake::{
    Diagnostics, Files, JointMatch, Kind, LoggedRun, Lookup, Options, Outcome, Progress, Severity,
    World, settle, show,
};
use crate::model::{
    Body, Clock, Draft, EntryId, JointBody, JointRef, LayoutBody, Moment, Serial, ToldLayout,
};
use crate::report::survey::surveys;
use crate::report::{Block, Present};
use crate::schema::{JointRow, Rows, RunRow, SerialRow};
use crate::store::{AppendOptions, Appended, Book, Clash, open_plain};

/// Files of this machine, by their paths.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Disk;

impl Files for Disk {
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>> {
        Ok(Box::new(open_plain(name.as_ref())?))
    }

    fn size(&self, name: &str) -> Option<u64> {
        std::fs::metadata(name).ok().map(|m| m.len())
    }

    fn list(&self, name: &str) -> Option<io::Result<Vec<String>>> {
        let folder = Path::new(name);
        folder.is_dir().then(|| {
            let mut files = Vec::new();
            below(folder, 0, &mut files)?;
            files.sort_unstable();
            Ok(files)
        })
    }
}

/// Folders in folders that are looked through.
const DEEPEST: usize = 8;

fn below(folder: &Path, depth: usize, files: &mut Vec<String>) -> io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let hidden = path.file_name().is_some_and(|n| n.to_string_lossy().starts_with(['.', '~']));
        if hidden {
            continue;
        }
        if path.is_dir() {
            if depth < DEEPEST {
                below(&path, depth + 1, files)?;
            }
        } else {
            files.push(path.to_string_lossy().into_owned());
        }
    }
    Ok(())
}

/// The book as intake sees it. A look-up that the store cannot answer finds nothing; the append
/// that follows meets the same fault and reports it.
pub(crate) struct BookLookup<'a> {
    book: &'a Book,
    clock: Clock,
    standards: Arc<Standards>,
    /// Place of an entry that is to be struck: it says nothing any more.
    struck: Option<i64>,
    layouts: Vec<ToldLayout>,
}

impl<'a> BookLookup<'a> {
    /// With the standards in force now.
    pub(super) fn of(book: &'a Book, caller: &Caller) -> Result<Self, Error> {
        let (clock, now) = (caller.clock, caller.now.at);
        let standards = Arc::clone(book.adoptions()?.standards_at(now));
        let layouts = book.told_layouts(clock)?;
        Ok(Self { book, clock, standards, struck: None, layouts })
    }

    fn moment(&self, ms: i64) -> Moment {
        Moment::Clock(crate::model::Instant(ms).at(self.clock))
    }

    /// The name of an entry, unless it is to be struck.
    fn standing(&self, position: i64) -> Option<EntryId> {
        let stands = self.struck != Some(position);
        stands.then(|| Some(self.book.run_head(position).ok()?.id)).flatten()
    }
}

impl Lookup for BookLookup<'_> {
    fn joints(&self, key: &str) -> Vec<JointMatch> {
        let rows = self.book.rows(&Rows::of(SerialRow::key(), key)).unwrap_or_default();
        rows.iter()
            .filter_map(|row| {
                let joint: JointRow = self.book.row(row.joint).ok()??;
                Some(JointMatch {
                    joint: JointRef {
                        serial: Serial::parse(&row.serial).ok()?,
                        joint: joint.introduced_by.parse().ok()?,
                    },
                    component: joint.component,
                    since: self.moment(row.since),
                    until: row.until.map(|u| self.moment(u)),
                    made: joint.made.map(|m| self.moment(m)),
                })
            })
            .collect()
    }

    fn runs(&self, name: &str) -> Vec<EntryId> {
        let named = Rows::all().named(RunRow::name(), name);
        let rows: Vec<RunRow> = self.book.rows(&named).unwrap_or_default();
        rows.iter().filter_map(|r| self.standing(r.run)).collect()
    }

    fn surveyed(&self) -> Option<Vec<String>> {
        let rows = surveys(self.book).ok()?.into_iter();
        let rows = rows.filter(|r| self.struck != Some(r.entry));
        let mut wells: Vec<String> = rows.map(|r| r.well).collect();
        wells.sort_unstable();
        wells.dedup();
        Some(wells)
    }

    fn logged(&self, well: &str) -> Vec<LoggedRun> {
        let of_well = Rows::all().named(RunRow::well(), well).known(RunRow::rows_from());
        let rows: Vec<RunRow> = self.book.rows(&of_well).unwrap_or_default();
        rows.into_iter()
            .filter_map(|r| {
                let (from, to) = r.rows_from.zip(r.rows_to)?;
                Some(LoggedRun { entry: self.standing(r.run)?, name: r.name, from, to })
            })
            .collect()
    }

    fn has_entry(&self, entry: &EntryId) -> bool {
        self.book.position_of(entry).is_ok_and(|p| p.is_some())
    }

    fn layouts(&self) -> &[ToldLayout] {
        &self.layouts
    }

    fn catalogue(&self) -> Option<&Catalogue> {
        Some(&self.standards.findings)
    }

    fn made(&self, joint: &EntryId) -> Option<JointBody> {
        let position = self.book.position_of(joint).ok()??;
        let body = self.book.counted(position).ok()?.body;
        if let Body::Joint(body) = body { Some(*body) } else { None }
    }
}

/// Where files come from.
#[derive(Clone, Copy)]
pub(crate) struct Source<'a> {
    pub files: &'a dyn Files,
    /// Told how far reading has come, and `None` when a file is read.
    pub watch: &'a dyn Fn(Option<&Progress>),
}

impl Source<'_> {
    /// Files of this machine, and nobody who watches.
    pub(crate) const DISK: Source<'static> = Source { files: &Disk, watch: &|_| () };
}

/// What taking a file in did.
pub(super) struct Taken {
    pub outcome: Outcome,
    /// Drafts that the book already said.
    pub known: usize,
    /// The file was taken in before: first and last entry.
    pub before: Option<(String, String)>,
    /// What looks like a correction of what the book was told before.
    pub corrects: Vec<String>,
    /// What is to be said of joints that it sends out on hire, and of readings that were insisted on.
    pub sent: Vec<Block>,
    pub appended: Option<Appended>,
    /// Layouts among what was appended: names, and what each says.
    pub layouts: Vec<(Option<EntryId>, LayoutBody)>,
    /// What was appended.
    pub written: Vec<Draft>,
    /// Amendments are among it: what they make exclude each other is flagged.
    pub amended: bool,
}

impl Taken {
    /// A file of which nothing was written.
    fn nothing(outcome: Outcome, known: usize, before: Option<(String, String)>) -> Self {
        let (corrects, sent) = (Vec::new(), Vec::new());
        let (written, layouts) = (Vec::new(), Vec::new());
        let (appended, amended) = (None, false);
        Self { outcome, known, before, corrects, sent, appended, layouts, written, amended }
    }
}

fn read(
    book: &Book,
    name: &str,
    options: &Options,
    from: &Source<'_>,
    caller: &Caller,
    struck: Option<&EntryId>,
) -> Result<Outcome, Error> {
    let struck = struck.map(|entry| book.position_of(entry)).transpose()?.flatten();
    let lookup = BookLookup { struck, ..BookLookup::of(book, caller)? };
    let watch = |p: &Progress| {
        (from.watch)(Some(p));
        ControlFlow::Continue(())
    };
    let world = World { files: from.files, lookup: &lookup, progress: &watch };
    let outcome = crate::intake::read(name, options, &world);
    (from.watch)(None);
    Ok(outcome)
}

/// What a file says in the place of an entry that is to be struck, as drafts that are to be appended
/// after so many others, and the names of the entries that say it then: those of the drafts, and those
/// that the book has already.
pub(super) fn facts_of(
    book: &Book,
    name: &str,
    after: usize,
    caller: &Caller,
    struck: &EntryId,
) -> Result<(Vec<Draft>, Vec<EntryId>), Error> {
    let options = Options { times: caller.times(), ..Options::default() };
    let outcome = read(book, name, &options, &Source::DISK, caller, Some(struck))?;
    if outcome.is_refused() {
        return Err(refused(name, outcome));
    }
    named(book, outcome.drafts, after)
}

/// Reads a file and appends what is new in it; where it was taken in before and is read otherwise now,
/// for a reason, with amendments of what its entries say.
pub(super) fn take_in(
    book: &mut Book,
    name: &str,
    how: &LoadOptions,
    append: AppendOptions,
    from: &Source<'_>,
    caller: &Caller,
    present: &Present,
) -> Result<Taken, Error> {
    let mut outcome = read(book, name, &how.read, from, caller, None)?;
    let mut amendments = Vec::new();
    let mut fresh = None;
    if let Some((first, last, _)) = book.file_taken(&outcome.sha256)? {
        let before = (book.entry_at(first)?.raw.label(), book.entry_at(last)?.raw.label());
        let again = again(book, name, how, outcome, from, caller)?;
        outcome = again.outcome;
        let is_run = outcome.kind == Some(Kind::Run);
        // A run is one fact: its own entry stands in its way, or it is wrong.
        if outcome.is_refused() && (is_run || how.correct.is_some() || !how.partial) {
            return Err(refused_again(name, outcome, &before));
        }
        let known = known(book, &outcome.drafts)?;
        let mut is_same = !outcome.drafts.is_empty() && known.iter().all(Option::is_some);
        // A second run of a name is kept where conflicts are.
        if !(is_same || outcome.is_refused() || is_run && how.read.keep_conflicts) {
            let reread = Reread::of(book, &outcome, known, (first, last))?;
            match &how.correct {
                _ if reread.is_same() => is_same = true,
                Some(reason) if !is_run => {
                    let own = &book.identity().chain.site;
                    let drafts = reread.drafts(reason, caller.present(), own)?;
                    if let Some(refused) = again.refused
                        && clash(book, &drafts.0, caller)?
                    {
                        return Err(refused_again(name, refused, &before));
                    }
                    (fresh, amendments) = (Some(drafts.0), drafts.1);
                }
                _ => return Err(reread.refused(name, &before)),
            }
        }
        if is_same {
            let known = outcome.drafts.len();
            return Ok(Taken::nothing(outcome, known, Some(before)));
        }
    }
    if outcome.is_refused() && !how.partial {
        return Err(refused(name, outcome));
    }
    let mut drafts = match fresh {
        Some(fresh) => fresh,
        None => named(book, outcome.drafts.clone(), 0)?.0,
    };
    let known = outcome.drafts.len().saturating_sub(drafts.len() + amendments.len());
    if drafts.is_empty() && amendments.is_empty() {
        return Ok(Taken::nothing(outcome, known, None));
    }
    let (insist, now) = (how.insist.as_deref(), caller.present());
    let mut sent = Vec::new();
    if !how.is_past {
        let of_now = |draft: &Draft| !hire::is_past(draft, present);
        let by = (caller.author.as_str(), now);
        sent = hire::check(book, &mut drafts, of_now, insist, by, present)?;
        let mut contradicted = Vec::new();
        unlikely::each_measured(book, &drafts, caller.clock, |n, body, appraisal| {
            contradicted.extend(unlikely::found(n, body, &appraisal));
        })?;
        let by = (name, present.units);
        let kept = unlikely::check(&contradicted, &mut drafts, insist, now, by)?;
        sent.extend((!kept.is_empty()).then(|| Block::Note(kept.join("\n"))));
    }
    let corrects = corrections(book, &drafts)?;
    let amended = !amendments.is_empty();
    drafts.append(&mut amendments);
    let learned: Vec<LayoutBody> =
        if how.remember { std::mem::take(&mut outcome.learned) } else { Vec::new() };
    drafts.extend(learned.iter().map(|body| layout(body.clone(), now)));
    // What an amendment makes exclude each other is flagged, as where one is entered by hand.
    let append = AppendOptions { keep_conflicts: append.keep_conflicts || amended, ..append };
    let mut appended = book.append(&drafts, &caller.stamp(), &append)?;
    // They stand last, and are no facts of the file.
    let facts = appended.entries.len().saturating_sub(learned.len());
    let mut names = appended.entries.split_off(facts).into_iter();
    if !append.dry_run {
        let said = told_hours::said(book, &drafts, &appended.entries)?;
        outcome.notes.extend(said);
    }
    let layouts = learned.into_iter().map(|body| (names.next(), body)).collect();
    let appended = Some(appended);
    let nothing = Taken::nothing(outcome, known, None);
    Ok(Taken { corrects, sent, appended, layouts, written: drafts, amended, ..nothing })
}

/// A layout that is to be remembered from now on.
pub(super) fn layout(body: LayoutBody, now: Moment) -> Draft {
    Draft { effective: now, evidence: None, body: Body::Layout(body) }
}

/// The entries that say what drafts say, each by its name.
fn known(book: &Book, drafts: &[Draft]) -> Result<Vec<Option<EntryId>>, Error> {
    let unknown = EntryId { chain: book.identity().chain.clone(), number: 0 };
    let label = |position| -> Result<EntryId, Error> {
        Ok(book.entry_at(position)?.raw.label().parse().unwrap_or_else(|_| unknown.clone()))
    };
    let ask = |drafts: &[Draft]| -> Result<Vec<Option<EntryId>>, Error> {
        let said = book.already_said(drafts)?;
        said.into_iter().map(|at| at.map(label).transpose()).collect()
    };
    let known = ask(drafts)?;
    // What names a joint that the same file introduces is known by the name that the joint has: it is
    // asked again where the book has such a joint.
    let introduced = drafts
        .iter()
        .zip(&known)
        .any(|(draft, known)| known.is_some() && matches!(draft.body, Body::Joint(_)));
    if !introduced {
        return Ok(known);
    }
    let mut settled = drafts.to_vec();
    name_joints(book, &mut settled, &known, 0)?;
    if settled == drafts { Ok(known) } else { ask(&settled) }
}

/// Names the joints that drafts introduce where others speak of them: by the entries that say them, or
/// by those that they will be when so many others are appended first. The names of all.
pub(super) fn name_joints(
    book: &Book,
    drafts: &mut [Draft],
    known: &[Option<EntryId>],
    after: usize,
) -> Result<Vec<EntryId>, Error> {
    let after = u64::try_from(after).unwrap_or(u64::MAX);
    let mut number = book.head()?.map_or(0, |h| h.entry.number).saturating_add(after);
    let chain = book.identity().chain.clone();
    let mut next = || {
        number += 1;
        EntryId { chain: chain.clone(), number }
    };
    let names: Vec<EntryId> = known.iter().map(|k| k.clone().unwrap_or_else(&mut next)).collect();
    let unknown = EntryId { chain: chain.clone(), number: 0 };
    settle(drafts, |i| names.get(i).cloned().unwrap_or_else(|| unknown.clone()));
    Ok(names)
}

/// Leaves out what the book already says; the names of all, in the order of the drafts, as they
/// will be when so many others are appended first.
fn named(
    book: &Book,
    mut drafts: Vec<Draft>,
    after: usize,
) -> Result<(Vec<Draft>, Vec<EntryId>), Error> {
    let known = known(book, &drafts)?;
    let names = name_joints(book, &mut drafts, &known, after)?;
    let fresh =
        drafts.into_iter().zip(known).filter(|(_, k)| k.is_none()).map(|(d, _)| d).collect();
    Ok((fresh, names))
}

/// The failure of a file that was refused.
fn refused(name: &str, outcome: Outcome) -> Error {
    Error::File { name: name.to_owned(), diagnostics: outcome.diagnostics.asked_of(name) }
}

/// The failure of a file that was taken in before and is refused now.
fn refused_again(name: &str, outcome: Outcome, before: &(String, String)) -> Error {
    let name_before = format!("{name} (taken in before as {}, which stands)", span(before));
    Error::File { name: name_before, diagnostics: outcome.diagnostics.asked_of(name) }
}

/// A file that was taken in before, read to be compared with its entries.
struct Again {
    outcome: Outcome,
    /// What is refused where its own entries count as those of others.
    refused: Option<Outcome>,
}

/// Reads a file that was taken in before once more, where its own entries stand in its way: a joint or
/// a run that it introduced is in the book already.
fn again(
    book: &Book,
    name: &str,
    how: &LoadOptions,
    outcome: Outcome,
    from: &Source<'_>,
    caller: &Caller,
) -> Result<Again, Error> {
    if !outcome.is_refused() {
        return Ok(Again { outcome, refused: None });
    }
    let compared = Options { keep_conflicts: true, ..how.read.clone() };
    let compared = read(book, name, &compared, from, caller, None)?;
    Ok(if compared.is_refused() {
        Again { outcome, refused: None }
    } else {
        Again { outcome: compared, refused: Some(outcome) }
    })
}

/// Whether facts that a file did not tell before introduce what the book has already.
fn clash(book: &Book, fresh: &[Draft], caller: &Caller) -> Result<bool, Error> {
    let lookup = BookLookup::of(book, caller)?;
    Ok(fresh.iter().any(|draft| {
        if let Body::Joint(joint) = &draft.body {
            !lookup.joints(&joint.serial.key()).is_empty()
        } else {
            matches!(&draft.body, Body::Run(run) if !lookup.runs(&run.name).is_empty())
        }
    }))
}

/// Entries from one to another, in words.
pub(super) fn span((first, last): &(String, String)) -> String {
    if first == last { first.clone() } else { format!("{first} to {last}") }
}

/// A clash that was kept, in words.
pub(super) fn clash_line(clash: &Clash) -> String {
    format!(
        "kept in conflict: {}: {} ({} and {})",
        clash.serial, clash.what, clash.first, clash.second
    )
}

/// Diagnostics told before those that are like them are only counted.
const ALIKE: usize = 3;

/// Diagnostics of a severity as lines; of many that say the same of many rows, the first few.
pub(crate) fn diagnostic_lines(diagnostics: &Diagnostics, severity: Severity) -> Vec<String> {
    let mut lines = Vec::new();
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    for d in diagnostics.list().iter().filter(|d| d.severity == severity) {
        let like = d.help.clone().unwrap_or_else(|| d.message.clone());
        let n = seen.entry(like).or_default();
        *n += 1;
        if *n <= ALIKE {
            lines.extend(show(d).trim_end().lines().map(str::to_owned));
        }
    }
    for (like, n) in seen.into_iter().filter(|(_, n)| *n > ALIKE) {
        lines.push(format!("… and {} more of which it holds: {like}", n - ALIKE));
    }
    if diagnostics.not_kept() > 0 {
        lines.push(format!("… and {} more that are not shown", diagnostics.not_kept()));
    }
    lines
}
