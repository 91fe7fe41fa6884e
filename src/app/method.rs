//! A fatigue method adopted, or tried on a copy: how the order of joints by damage moves.

use std::path::PathBuf;

use super::{Error, Session};
use crate::report::method::{self, Choice};
use crate::report::{Block, Report};
use crate::store::{Access, AppendOptions};

impl Session {
    /// Adopts a method; its entry derives everything again.
    pub(crate) fn adopt_method(&mut self, choice: &Choice) -> Result<Report, Error> {
        self.under(choice, true)
    }

    /// Adopts a method in a copy in a folder that is made for it and removed.
    pub(crate) fn try_method(&self, choice: &Choice, folder: PathBuf) -> Result<Report, Error> {
        let copy = Copy::of(self, folder)?;
        let mut trial = Self::open(&copy.book(), Access::Write, &self.caller)?;
        let report = trial.under(choice, false)?;
        trial.close()?;
        Ok(report)
    }

    fn under(&mut self, choice: &Choice, adopted: bool) -> Result<Report, Error> {
        let book = &mut self.book;
        let old = method::in_force(book)?.name;
        let before = method::damages(book)?;
        let done = book.append(
            &[choice.draft(self.caller.present())],
            &self.caller.stamp(),
            &AppendOptions::default(),
        )?;
        let after = method::damages(book)?;
        let mut report = method::moved((&old, &before), (&choice.name, &after), adopted);
        let now = method::in_force(book)?.name;
        if now != choice.name {
            report.push(Block::Note(format!(
                "'{now}' stays in force: its adoption is dated later than this one"
            )));
        }
        match done.head.filter(|_| adopted) {
            Some(head) => report.push(Block::Text(format!("head {head}"))),
            None => report.push(Block::Note(
                "tried on a copy: the book keeps its method; leave --dry-run out to adopt"
                    .to_owned(),
            )),
        }
        Ok(report)
    }
}

/// A copy of the book in a folder of its own, removed with it.
struct Copy {
    folder: PathBuf,
}

impl Copy {
    fn of(session: &Session, folder: PathBuf) -> Result<Self, Error> {
        std::fs::create_dir(&folder)
            .map_err(|source| Error::Folder { path: folder.clone(), source })?;
        let copy = Self { folder };
        session.book.backup(&copy.book())?;
        Ok(copy)
    }

    fn book(&self) -> PathBuf {
        self.folder.join("trial.pipelore")
    }
}

impl Drop for Copy {
    fn drop(&mut self) {
        // What stays behind in the temporary folder harms nobody.
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}
