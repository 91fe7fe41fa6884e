//! The invented book: the files of `samples/`, embedded, go through the same door as any others.

use std::io::{self, Read};
use std::path::{Path, PathBuf};

use chrono::NaiveDate;

use super::take_in::{Source, take_in};
use super::{Caller, Error, LoadOptions, Session};
use crate::intake::Files;
use crate::model::Instant;
use crate::schema::{HireRow, InspectionRow, Rows, RunRow};
use crate::units::UnitSystem;

/// Site that keeps the demo book.
const SITE: &str = "yard";

struct Embedded;

impl Files for Embedded {
    fn open(&self, name: &str) -> io::Result<Box<dyn Read + '_>> {
        let text = SAMPLES.iter().find(|(n, _)| *n == name).map(|(_, text)| *text);
        text.map(|t| Box::new(t.as_bytes()) as Box<dyn Read>)
            .ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))
    }
}

macro_rules! samples {
    ($($name:literal),+ $(,)?) => {
        /// Name and text of each file of `samples/`.
        const SAMPLES: &[(&str, &str)] =
            &[$(($name, include_str!(concat!("../../samples/", $name)))),+];
    };
}

samples!(
    "checks.csv",
    "decisions-2026-06.csv",
    "decisions.csv",
    "events.csv",
    "failure.csv",
    "hire-31-in.csv",
    "hire-31-out.csv",
    "hire-33-in.csv",
    "hire-33-out.csv",
    "hire-36-in.csv",
    "hire-36-out.csv",
    "hire-38-in.csv",
    "hire-38-out.csv",
    "hire-40-in.csv",
    "hire-40-out.csv",
    "inspection-2024-12.csv",
    "inspection-2025-04.csv",
    "inspection-2025-10.csv",
    "inspection-2026-03-collars.csv",
    "inspection-2026-03.csv",
    "inspection-2026-05.csv",
    "inspection-2026-06-heavy-weight.csv",
    "inspection-2026-06-k1.csv",
    "inspection-2026-06-k2.csv",
    "instruments.csv",
    "joints-bha.csv",
    "joints-k1.csv",
    "joints-k2.csv",
    "k1-r01-operations.csv",
    "k1-r01-tally.csv",
    "k1-r01.toml",
    "k1-r02-operations.csv",
    "k1-r02-tally.csv",
    "k1-r02.toml",
    "k1-r03-operations.csv",
    "k1-r03-tally.csv",
    "k1-r03.toml",
    "k1-r04-operations.csv",
    "k1-r04-tally.csv",
    "k1-r04.toml",
    "k1-r05-operations.csv",
    "k1-r05-tally.csv",
    "k1-r05.toml",
    "k1-r06-operations.csv",
    "k1-r06-tally.csv",
    "k1-r06.toml",
    "k1-r07-operations.csv",
    "k1-r07-tally.csv",
    "k1-r07.toml",
    "k1-r08-operations.csv",
    "k1-r08-tally.csv",
    "k1-r08.toml",
    "makeups-trips.csv",
    "makeups.csv",
    "notes.csv",
    "repairs-2025-04.csv",
    "repairs-2025-11.csv",
    "repairs-2026-05.csv",
    "survey-larkfield-1h.csv",
    "survey-larkfield-2h.csv",
    "survey-tern-moor-3.csv",
);

/// The order in which the yard wrote things down.
const ORDER: &[&str] = &[
    "joints-k1.csv",
    "joints-k2.csv",
    "joints-bha.csv",
    "instruments.csv",
    "hire-31-out.csv",
    "survey-larkfield-1h.csv",
    "k1-r01.toml",
    "k1-r02.toml",
    "hire-31-in.csv",
    "inspection-2024-12.csv",
    "hire-33-out.csv",
    "survey-tern-moor-3.csv",
    "k1-r03.toml",
    "k1-r04.toml",
    "hire-33-in.csv",
    "inspection-2025-04.csv",
    "repairs-2025-04.csv",
    "decisions.csv",
    "hire-36-out.csv",
    "survey-larkfield-2h.csv",
    "k1-r05.toml",
    "k1-r06.toml",
    "hire-36-in.csv",
    "inspection-2025-10.csv",
    "repairs-2025-11.csv",
    "hire-38-out.csv",
    "k1-r07.toml",
    "hire-38-in.csv",
    "inspection-2026-03.csv",
    "hire-40-out.csv",
    "k1-r08.toml",
    "events.csv",
    "failure.csv",
    "inspection-2026-05.csv",
    "hire-40-in.csv",
    "makeups-trips.csv",
    "makeups.csv",
    "checks.csv",
    "notes.csv",
    "inspection-2026-03-collars.csv",
    "repairs-2026-05.csv",
    "inspection-2026-06-k1.csv",
    "inspection-2026-06-k2.csv",
    "inspection-2026-06-heavy-weight.csv",
    "decisions-2026-06.csv",
];

/// Whether this is the demo book.
pub(crate) fn is_demo(session: &Session) -> bool {
    session.book.identity().chain.site.to_string() == SITE
}

/// The last day on which something happened in it: a run ended, joints were inspected or came back.
pub(crate) fn last_day(session: &Session) -> Result<Option<NaiveDate>, Error> {
    let book = &session.book;
    let ends = book.rows(&Rows::<RunRow>::all())?.into_iter().map(|r| r.finish);
    let seen = book.rows(&Rows::<InspectionRow>::all())?.into_iter().map(|r| r.date);
    let back = book.rows(&Rows::<HireRow>::all())?.into_iter().filter_map(|r| r.back);
    let last = ends.chain(seen).chain(back).max();
    Ok(last.map(|ms| Instant(ms).at(session.clock()).date_naive()))
}

/// Makes the book; one that did not become whole does not stay.
pub(crate) fn build(path: &Path, caller: &Caller) -> Result<(), Error> {
    let caller = &Caller {
        author: "Harrow Yard desk".to_owned(),
        units: Some(UnitSystem::Us),
        ..caller.clone()
    };
    let mut session = Session::create(path, SITE, caller)?;
    let how = LoadOptions { is_past: true, ..LoadOptions::default() };
    let present = session.present();
    let from = Source { files: &Embedded, ..Source::DISK };
    for name in ORDER {
        if let Err(e) =
            take_in(&mut session.book, name, &how, how.append(), &from, caller, &present)
        {
            drop(session);
            remove(path);
            return Err(e);
        }
    }
    session.close()
}

/// Takes back a book that was made a moment ago and did not become whole.
fn remove(path: &Path) {
    for suffix in ["", "-wal", "-shm", ".head"] {
        let mut part = path.as_os_str().to_owned();
        part.push(suffix);
        let _ = std::fs::remove_file(PathBuf::from(part));
    }
}
