//! A fatigue method adopted, or tried on a copy: how the order of joints by damage moves.

use super::{Error, Session};
use crate::report::method::{self, Choice};
use crate::report::{Block, Fact, Report};
use crate::store::AppendOptions;

impl Session {
    /// Adopts a method, which derives everything again; or tries it on a copy that is thrown away.
    pub(crate) fn adopt_method(&mut self, choice: &Choice, dry_run: bool) -> Result<Report, Error> {
        let (old, before) = (method::in_force(&self.book)?.name, method::damages(&self.book)?);
        let draft = choice.draft(self.caller.present());
        let stamp = self.caller.stamp();
        let trial;
        let (book, last) = if dry_run {
            trial = self.book.trial(&[draft], &stamp)?;
            let note = "tried on a copy: the book keeps its method; leave --dry-run out to adopt";
            (&trial, Block::Note(note.to_owned()))
        } else {
            let done = self.book.append(&[draft], &stamp, &AppendOptions::default())?;
            (&self.book, Block::Facts { name: "written", facts: vec![Fact::head(done.head)] })
        };
        let (now, after) = (method::in_force(book)?.name, method::damages(book)?);
        let mut report = method::moved((&old, &before), (&choice.name, &after), !dry_run);
        if now != choice.name {
            report.push(Block::Note(format!(
                "'{now}' stays in force: its adoption is dated later than this one"
            )));
        }
        report.push(last);
        Ok(report)
    }
}
