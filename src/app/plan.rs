//! A plan of a load: what each file is taken for and why, how its columns are read, which come first, and
//! what is left out.

use std::collections::BTreeSet;

use super::take_in::{BookLookup, Source};
use super::{Caller, Error, LoadOptions};
use crate::intake::{Kind, Look, Options, Part, World, base_name, look, unwatched};
use crate::model::Instant;
use crate::report::{Cell, Column, Table};
use crate::store::Book;

/// Endings of files that hold no facts of this book.
const NO_FACTS: [&str; 14] = [
    "pipelore", "head", "pdf", "doc", "docx", "jpg", "jpeg", "png", "gif", "zip", "md", "json",
    "html", "bak",
];

/// Why a file is left out of which that is said.
const LEFT: &str = "left out, as it is said";

/// Files in the order in which they come in, and those that do not.
#[derive(Debug, Default)]
pub(super) struct Plan {
    pub files: Vec<String>,
    /// The answer to the load begins with it.
    pub is_shown: bool,
    /// Read with another file, or left out: name and reason.
    pub out: Vec<(String, String)>,
    seen: Vec<(String, Look)>,
    /// Objects of all files that runs may be made of.
    parts: Vec<Part>,
}

impl Plan {
    /// Looks at files and folders; nothing is written. A file that is given alone needs no look.
    pub(super) fn of(
        book: &Book,
        given: &[&str],
        how: &LoadOptions,
        from: &Source<'_>,
        caller: &Caller,
    ) -> Result<Self, Error> {
        let (names, has_folder) = expanded(given, from)?;
        let mut plan = Self { is_shown: how.plan || has_folder, ..Self::default() };
        if let Some(absent) = how.answers.files().find(|f| !names.iter().any(|n| is_called(n, f))) {
            return Err(Error::Advice {
                what: format!(
                    "answers are given for '{absent}', and no such file is to be taken in"
                ),
                help: vec![format!("the files are: {}", names.join(", "))],
            });
        }
        let (out, names): (Vec<_>, Vec<_>) =
            names.into_iter().partition(|name| how.answers.leaves(name));
        plan.out = out.into_iter().map(|name| (name, LEFT.to_owned())).collect();
        if let ([_], false) = (names.as_slice(), plan.is_shown) {
            plan.files = names;
            return Ok(plan);
        }
        let lookup = BookLookup::of(book, caller)?;
        let world = World { files: from.files, lookup: &lookup, progress: &unwatched };
        let look = |name: String| {
            let seen = look(&name, &how.answers.read(&name, &how.read), &world);
            (name, seen)
        };
        plan.seen = names.into_iter().map(look).collect();
        if plan.seen.iter().any(|(_, l)| l.wants()) {
            let times = how.read.times;
            plan.seen.iter_mut().for_each(|(name, l)| l.read_logs(name, times, &world));
        }
        plan.parts = plan.seen.iter().flat_map(|(_, l)| l.parts.iter().cloned()).collect();
        plan.seen.iter_mut().for_each(|(_, l)| l.link(&plan.parts));
        plan.sort(given, how)?;
        Ok(plan)
    }

    /// Puts aside what comes with another file, and the rest in the order in which it can come in.
    fn sort(&mut self, given: &[&str], how: &LoadOptions) -> Result<(), Error> {
        let named: BTreeSet<&String> = self.seen.iter().flat_map(|(_, l)| &l.names).collect();
        if let Some((name, _)) = self.out.iter().find(|(name, _)| named.contains(name)) {
            return Err(Error::Advice {
                what: format!("{name} is to be left out, and a run names it"),
                help: vec![
                    "leave the run's file out too, or take the name out of it: what it names comes \
                     in with it"
                        .to_owned(),
                ],
            });
        }
        let mut files: Vec<(u8, Option<i64>, &String)> = Vec::new();
        for (name, seen) in &self.seen {
            if named.contains(name) {
                if how.answers.speak_of(name) {
                    return Err(Error::Advice {
                        what: format!("answers are given for {name}, which is read with its run"),
                        help: vec![
                            "say it in the run's file, as tally_columns, log_columns, log_delimiter, \
                             log_decimal or log_null"
                                .to_owned(),
                        ],
                    });
                }
                self.out.push((name.clone(), "read with the run that names it".to_owned()));
            } else if seen.is_part() && !given.contains(&name.as_str()) {
                let what = seen.kinds.first().map_or("part", |k| k.word());
                let why = format!("left out: no run here names this {what}");
                self.out.push((name.clone(), why));
            } else if seen.is_prose && !given.contains(&name.as_str()) {
                self.out.push((name.clone(), "left out: words alone, and no table".to_owned()));
            } else {
                let first = seen.kinds.iter().map(|k| rank(*k)).min();
                let from = seen.from.map(|m| m.start(crate::model::Clock::UTC));
                files.push((first.unwrap_or(u8::MAX), from.map(|Instant(ms)| ms), name));
            }
        }
        files.sort();
        self.files = files.into_iter().map(|f| f.2.clone()).collect();
        Ok(())
    }

    /// How a file is read: as all are, but for what is said of it, with the parts that others hold.
    pub(super) fn how_for(&self, file: &str, how: &LoadOptions) -> LoadOptions {
        let read = Options { parts: self.parts.clone(), ..how.answers.read(file, &how.read) };
        LoadOptions { read, ..how.clone() }
    }

    /// What each file is taken for, and why.
    pub(super) fn table(&self) -> Table {
        let row = |name: &String, kinds: String, why: &str| {
            vec![Cell::Text(name.clone()), Cell::Text(kinds), Cell::Text(why.to_owned())]
        };
        let kinds = |l: &Look| l.kinds.iter().map(|k| k.word()).collect::<Vec<_>>().join(", ");
        let seen = |name: &String| self.seen.iter().find(|(n, _)| n == name).map(|(_, l)| l);
        let mut rows = Vec::new();
        for name in &self.files {
            let Some(l) = seen(name) else { continue };
            let told = if l.kinds.is_empty() { "?".to_owned() } else { kinds(l) };
            rows.push(row(name, told, &l.why));
        }
        for (name, why) in &self.out {
            rows.push(row(name, seen(name).map_or_else(String::new, kinds), why));
        }
        Table {
            name: "plan",
            columns: vec![
                Column::plain("file", "file"),
                Column::plain("kind", "taken for"),
                Column::plain("why", "why"),
            ],
            rows,
            empty: "no file".to_owned(),
            below: None,
        }
    }

    /// How the columns of each file are understood, with their first values.
    pub(super) fn columns(&self) -> Table {
        let rows = self.seen.iter().flat_map(|(name, seen)| {
            seen.columns.iter().map(move |c| {
                let file = match &c.sheet {
                    Some(sheet) => format!("{name}, sheet {sheet}"),
                    None => name.clone(),
                };
                vec![
                    Cell::Text(file),
                    Cell::Text(c.title.clone()),
                    Cell::Text(c.field.clone().unwrap_or_else(|| "not used".to_owned())),
                    Cell::Text(c.first.join(", ")),
                ]
            })
        });
        Table {
            name: "columns",
            columns: vec![
                Column::plain("file", "file"),
                Column::plain("title", "column"),
                Column::plain("field", "read as"),
                Column::plain("first", "first values"),
            ],
            rows: rows.collect(),
            empty: "no columns".to_owned(),
            below: None,
        }
    }
}

/// Whether a file goes by a name: its own, or that without its folder.
fn is_called(file: &str, name: &str) -> bool {
    file == name || base_name(file) == name
}

/// The files of what is given, and whether there is a folder among it: the files of a folder are its own
/// and those of the folders in it.
fn expanded(given: &[&str], from: &Source<'_>) -> Result<(Vec<String>, bool), Error> {
    let (mut out, mut has_folder) = (Vec::new(), false);
    for name in given {
        match from.files.list(name) {
            None => out.push((*name).to_owned()),
            Some(Err(e)) => {
                return Err(super::error::words(format!("the folder {name} cannot be read: {e}")));
            }
            Some(Ok(files)) => {
                has_folder = true;
                out.extend(files.into_iter().filter(|f| {
                    let end = f.rsplit('.').next().unwrap_or_default().to_ascii_lowercase();
                    !NO_FACTS.contains(&end.as_str())
                }));
            }
        }
    }
    let mut seen = BTreeSet::new();
    out.retain(|name| seen.insert(name.clone()));
    Ok((out, has_folder))
}

/// What names others comes after them.
const fn rank(kind: Kind) -> u8 {
    match kind {
        Kind::Joints | Kind::Instruments => 0,
        Kind::Identities | Kind::Survey | Kind::Checks | Kind::Openings => 1,
        Kind::Run | Kind::Tally | Kind::Log | Kind::Operations => 2,
        Kind::Gaps
        | Kind::Hours
        | Kind::Inspections
        | Kind::Repairs
        | Kind::Makeups
        | Kind::Moves
        | Kind::HireOut
        | Kind::Events
        | Kind::Failures => 3,
        Kind::HireIn => 4,
        Kind::Decisions | Kind::Notes => 5,
    }
}
