//! The book itself: started, proved, copied, derived anew, gone on with, salvaged.

use std::path::Path;

use super::bundle::span;
use super::error::words;
use super::past::tomorrow;
use super::{Caller, Error, Session};
use crate::ledger::Hash;
use crate::report::{Block, Cell, Column, Fact, Report, Table, anew, named};
use crate::store::{Access, Book, Resumed, SalvageDecision, Salvaged, StoredEntry};

/// What a sound book proves by itself, and what it cannot.
const PROVEN: [&str; 3] = [
    "proven: each entry gives its hash and links to the one before",
    ", and what is derived follows from the entries",
    ". That nobody wrote a whole chain anew, only a head kept elsewhere proves: on a printed page \
     (`verify --head HASH`), in a seal (`seal check FILE`), in a book of another site",
];

/// Names of a list that are shown; the rest is counted.
const LISTED: usize = 12;

impl Session {
    pub(crate) fn beginning(&self, path: &Path, site: &str) -> Result<Report, Error> {
        let mut report = Report::new("new");
        let head = self.book.head()?.map_or_else(String::new, |h| h.to_string());
        report.push(Block::Facts {
            name: "book",
            facts: vec![
                Fact::plain("file", "book", Cell::Text(path.display().to_string())),
                Fact::plain("site", "site", Cell::Text(site.to_owned())),
                Fact::plain("units", "units", Cell::Text(self.units().to_string())),
                Fact::plain("clock", "clock", Cell::Text(self.clock().to_string())),
                Fact::plain("head", "head", Cell::Text(head)),
            ],
        });
        Ok(report)
    }

    /// Throws derived rows away and derives them again.
    pub(crate) fn rebuild(&mut self) -> Result<Report, Error> {
        self.book.rebuild()?;
        self.book.gather_statistics()?;
        let entries = self.book.length()?;
        let mut report = Report::new("rebuild");
        report.push(Block::Text(format!("derived again from {entries} entries")));
        Ok(report)
    }

    /// Derives a copy anew and says how the order of joints moves; the book stays as it is.
    pub(crate) fn derived_anew(&self) -> Result<Report, Error> {
        Ok(anew::report(&self.book.derived_anew()?)?)
    }

    /// Copies the book while it is open.
    pub(crate) fn backup(&self, to: &Path) -> Result<Report, Error> {
        let head = self.book.backup(to)?;
        let mut report = Report::new("backup");
        report.push(Block::Facts {
            name: "copy",
            facts: vec![
                Fact::plain("file", "copy", Cell::Text(to.display().to_string())),
                Fact::plain("head", "head", Cell::text(head.map(|h| h.to_string()).as_deref())),
            ],
        });
        Ok(report)
    }

    /// Goes on with a book that was restored from a copy, under a new epoch.
    pub(crate) fn resume(
        path: &Path,
        reason: &str,
        epoch: Option<u32>,
        caller: &Caller,
    ) -> Result<(Self, Report), Error> {
        let reason = reason.trim();
        if reason.is_empty() {
            return Err(words("a new epoch needs its reason"));
        }
        let done = Book::resume(path, reason, epoch, &caller.stamp())?;
        let mut report = Report::new("resume");
        report.push(Block::Facts { name: "resume", facts: went_on(&done) });
        report.push(comes_back(&done));
        Ok((Self::of(done.book, caller)?, report))
    }

    /// Puts a copy in the place of the book, and goes on with it under a new epoch.
    pub(crate) fn restore(
        copy: &Path,
        path: &Path,
        reason: &str,
        caller: &Caller,
    ) -> Result<(Self, Report), Error> {
        let reason = reason.trim();
        if reason.is_empty() {
            return Err(words("a new epoch needs its reason"));
        }
        let done = Book::restore(copy, path, reason, &caller.stamp())?;
        let mut report = Report::new("restore");
        let aside = done.aside.as_ref().map(|p| p.display().to_string());
        let mut facts = vec![
            Fact::plain("file", "book", Cell::Text(path.display().to_string())),
            Fact::plain("copy", "put back from", Cell::Text(copy.display().to_string())),
            Fact::plain("aside", "what stood there", Cell::text(aside.as_deref())),
        ];
        facts.extend(went_on(&done.resumed));
        report.push(Block::Facts { name: "restore", facts });
        report.push(comes_back(&done.resumed));
        if let Some(aside) = aside {
            report.push(Block::Note(format!(
                "{aside} was not read: `pipelore salvage` tells what it still holds"
            )));
        }
        Ok((Self::of(done.resumed.book, caller)?, report))
    }

    /// Proves the chains of a book and notes its head beside it, where it is missing or cannot be
    /// read.
    pub(crate) fn note_head(path: &Path) -> Result<Report, Error> {
        let head = Book::note_head_anew(path)?;
        let mut report = Report::new("head");
        report.push(Block::Text(format!("the chains hold; noted beside the book: {head}")));
        report.push(Block::Note(
            "whether entries after this one were lost, only a head kept elsewhere can tell: of \
             another site, on a printed page, in a bundle"
                .to_owned(),
        ));
        Ok(report)
    }

    /// What stands beside an answer of a book that has no head beside it.
    pub(crate) fn without_head(&self) -> Option<String> {
        self.book.is_headless().then(|| {
            "no head stands beside the book, so a lost tail would not be noticed; after a look at \
             what is there, `pipelore verify --note-head` notes it"
                .to_owned()
        })
    }

    /// Reads what a damaged book still holds into a new one. True when nothing that was seen is missing.
    pub(crate) fn salvage(
        damaged: &Path,
        to: &Path,
        decision: &SalvageDecision,
        caller: &Caller,
    ) -> Result<(Self, Report, bool), Error> {
        let done = Book::salvage(damaged, to, decision, &caller.stamp())?;
        let mut report = Report::new("salvage");
        let parent = done.parent.as_ref().map(ToString::to_string);
        report.push(Block::Facts {
            name: "salvage",
            facts: vec![
                Fact::plain("file", "new book", Cell::Text(to.display().to_string())),
                Fact::plain("kept", "entries kept", Cell::count(done.kept)),
                Fact::plain("parent", "goes on after", Cell::text(parent.as_deref())),
                Fact::plain("head", "head", Cell::Text(done.head.to_string())),
            ],
        });
        report.push(Block::Table(Table {
            name: "chains",
            columns: vec![
                Column::plain("chain", "chain"),
                Column::plain("kept", "kept up to"),
                Column::plain("seen", "seen up to"),
                Column::plain("lost", "lost before"),
                Column::plain("unproven", "readable but unproven"),
                Column::plain("set_aside", "set aside"),
                Column::plain("broke", "why it breaks off"),
            ],
            rows: done
                .chains
                .iter()
                .map(|c| {
                    vec![
                        Cell::Text(c.chain.clone()),
                        Cell::count(c.kept),
                        Cell::count(c.seen),
                        spans(&c.lost),
                        Cell::count(c.unproven),
                        Cell::count(c.set_aside),
                        Cell::text(c.broke.as_deref()),
                    ]
                })
                .collect(),
            empty: String::new(),
            below: None,
        }));
        report.push(Block::Table(damaged_entries(&done)));
        if !done.torn.is_empty() {
            report.push(Block::Note(
                "what a damaged image says may be wrong anywhere (`--json` has all of it); what of \
                 it is true is entered anew, by whoever answers for it"
                    .to_owned(),
            ));
        }
        if !done.mended.is_empty() {
            report.push(Block::Note(format!(
                "one bit was wrong in {} of the entries kept; the hash, which no other content gives, \
                 told which, and they stand as they were written: {}",
                done.mended.len(),
                named(&done.mended, LISTED)
            )));
        }
        if done.by_decision > 0 {
            report.push(Block::Note(format!(
                "{} of the entries kept were kept by decision: no head that is trusted links back to \
                 them; verify goes on saying so",
                done.by_decision
            )));
        }
        if !done.again.is_empty() {
            let names: Vec<String> =
                done.again.iter().map(|(was, now)| format!("{was} is {now}")).collect();
            report.push(Block::Note(format!(
                "{} facts of what was set aside were taken in again, as entries of this book: {}",
                names.len(),
                named(&names, LISTED)
            )));
        }
        if !done.not_again.is_empty() {
            report.push(Block::Note(format!(
                "not taken in again, for they tell how a book is kept and no fact: {}",
                named(&done.not_again, LISTED)
            )));
        }
        if !done.naming.is_empty() {
            report.push(Block::Note(format!(
                "entries that were kept name what was set aside, and would name what comes in under \
                 the same name: strike or amend them before a bundle brings it: {}",
                named(&done.naming, LISTED)
            )));
        }
        for wrong in done.wrong.iter().take(10) {
            report.push(Block::Note(format!("the damaged file: {wrong}")));
        }
        if done.by_pages {
            report.push(Block::Note(
                "entries that SQLite could not reach were read from the pages themselves"
                    .to_owned(),
            ));
        }
        if !done.apart.is_empty() {
            report.push(Block::Note(format!(
                "{} more can be read as entries, but neither their own hash nor a link of a chain \
                 proves them; they are not in the new book",
                done.apart.len()
            )));
        }
        report.push(Block::Note(if done.complete() {
            "no entry that was seen is missing; the damaged file was not touched".to_owned()
        } else {
            "what is missing comes back with a bundle of a site that has it; the damaged file was \
             not touched"
                .to_owned()
        }));
        Ok((Self::open(to, Access::Read, caller)?, report, done.complete()))
    }

    /// Proves the book: chain, references, derived rows, the file itself, the hash that a page names
    /// and the files in a folder that entries rest on. True when all is sound.
    pub(crate) fn verify(
        &self,
        head: Option<&str>,
        evidence: Option<&Path>,
    ) -> Result<(Report, bool), Error> {
        let pinned = head.map(pinned).transpose()?;
        let mut verified = self.book.verify(pinned, evidence)?;
        let readable = |name| verified.checks.iter().any(|c| c.name == name && c.faults.is_empty());
        // Of a damaged book the times say nothing more.
        if readable("file") && readable("chain") {
            let now = self.caller.now.at;
            verified.checks.push(self.book.check_times(now, tomorrow(now, self.clock()))?);
        }
        let mut report = Report::new("verify");
        report.push(Block::Table(Table {
            name: "checks",
            columns: vec![
                Column::plain("check", "check").for_machines(),
                Column::plain("looked_for", "check").for_people(),
                Column::plain("looked_at", "looked at"),
                Column::plain("sound", "sound"),
                Column::plain("first_fault", "first thing wrong"),
            ],
            rows: verified
                .checks
                .iter()
                .map(|c| {
                    vec![
                        Cell::Text(c.name.to_owned()),
                        Cell::Text(
                            if c.name == "projections" { "derived rows" } else { c.name }
                                .to_owned(),
                        ),
                        Cell::count(c.looked_at),
                        Cell::Truth(c.faults.is_empty()),
                        Cell::text(c.faults.first().map(String::as_str)),
                    ]
                })
                .collect(),
            empty: String::new(),
            below: None,
        }));
        let faults = verified.checks.iter().flat_map(|c| c.faults.iter().skip(1));
        let notes = verified.checks.iter().flat_map(|c| &c.notes);
        for note in faults.chain(notes) {
            report.push(Block::Note(note.clone()));
        }
        if let Some(h) = &verified.hanging {
            report.push(Block::Heading(format!("what hangs on {}", h.entry)));
            report.push(Block::Facts {
                name: "hanging",
                facts: vec![
                    Fact::plain("entry", "entry", Cell::Text(h.entry.clone())),
                    Fact::plain("later", "later entries of its chain", Cell::count(h.later)),
                    Fact::plain("named_by", "named by", list(&h.named_by)),
                    Fact::plain("joints", "joints", list(&h.joints)),
                ],
            });
        }
        if let Some(head) = &verified.head {
            report.push(Block::Text(format!("head {head}")));
        }
        if verified.sound() {
            let [entries, derived, elsewhere] = PROVEN;
            let derived = if verified.compared { derived } else { "" };
            report.push(Block::Note(format!("{entries}{derived}{elsewhere}")));
        }
        Ok((report, verified.sound()))
    }
}

/// Entries that are lost and of which a damaged image can be read.
fn damaged_entries(done: &Salvaged) -> Table {
    let image = |e: &StoredEntry| {
        let raw = &e.raw;
        let body = serde_json::from_str(&raw.body);
        vec![
            Cell::Text(raw.label()),
            Cell::Text(raw.kind.clone()),
            Cell::Text(raw.effective.clone()),
            Cell::Text(raw.author.clone()),
            body.map_or_else(|_| Cell::Text(raw.body.clone()), Cell::Json),
        ]
    };
    Table {
        name: "damaged",
        columns: vec![
            Column::plain("entry", "lost, and its damaged image says"),
            Column::plain("kind", "kind"),
            Column::plain("effective", "when"),
            Column::plain("author", "author"),
            Column { machine: true, ..Column::plain("body", "body") },
        ],
        rows: done.torn.iter().map(image).collect(),
        empty: String::new(),
        below: None,
    }
}

/// First and last numbers of stretches.
fn spans(stretches: &[(u64, u64)]) -> Cell {
    let said: Vec<String> = stretches.iter().map(|s| span(*s)).collect();
    list(&said)
}

/// How a book went on under a new epoch.
fn went_on(done: &Resumed) -> Vec<Fact> {
    let mut facts = vec![
        Fact::plain("chain", "goes on as", Cell::Text(done.head.entry.chain.to_string())),
        Fact::plain("parent", "after", Cell::Text(done.parent.to_string())),
        Fact::plain("head", "head", Cell::Text(done.head.to_string())),
    ];
    if let Some(lost) = &done.lost {
        facts.push(Fact::plain("lost", "lost up to", Cell::Text(lost.entry.to_string())));
    }
    facts
}

fn comes_back(done: &Resumed) -> Block {
    let parent = &done.parent.entry;
    Block::Note(format!(
        "what {} wrote after {parent} comes back with a bundle of a site that has it",
        parent.chain
    ))
}

fn list(names: &[String]) -> Cell {
    if names.is_empty() { Cell::Missing } else { Cell::Text(named(names, LISTED)) }
}

/// A hash as typed, alone or with the entry before it as heads are printed.
fn pinned(text: &str) -> Result<Hash, Error> {
    text.split_whitespace().last().unwrap_or(text).parse().map_err(words)
}
