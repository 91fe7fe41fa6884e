//! The book as columnar files for existing engines.

use std::path::Path;

use super::{Error, PROGRAM, Session};
use crate::publication::{How, publish};
use crate::report::{Block, Cell, Fact, Report};

impl Session {
    /// Publishes what the book says today into a folder of states.
    pub(crate) fn publish(
        &self,
        dir: &Path,
        keep: Option<usize>,
        anew: bool,
    ) -> Result<Report, Error> {
        let done = publish(&self.book, dir, &How { program: PROGRAM, keep, anew })?;
        let mut report = Report::new("publish");
        let text = |t: String| Cell::Text(t);
        report.push(Block::Facts {
            name: "state",
            facts: vec![
                Fact::plain("folder", "state", text(done.state.display().to_string())),
                Fact::plain("number", "number", Cell::count(done.number)),
                Fact::head(self.book.head()?),
                Fact::plain("joints", "joints", Cell::count(done.joints)),
                Fact::plain("sites", "books of", text(done.sites.join(", "))),
                Fact::plain("bytes", "bytes", Cell::count(done.bytes)),
                Fact::plain("written", "files written", Cell::count(done.written)),
                Fact::plain("linked", "files of the state before", Cell::count(done.linked)),
                Fact::plain("bytes_written", "bytes written", Cell::count(done.bytes_written)),
                Fact::plain("superseded", "superseded rows", Cell::count(done.superseded)),
                Fact::plain("contested", "contested rows", Cell::count(done.contested)),
                Fact::plain("removed", "states taken away", Cell::count(done.pruned)),
            ],
        });
        let mut note = |text: &str| report.push(Block::Note(text.to_owned()));
        if done.unchanged {
            note("nothing changed since that state was published; it stays the newest");
        }
        if done.superseded > 0 {
            note(
                "of joints that several books know, a question about today reads the rows of the book \
                 that knows most; `superseded` names the others",
            );
        }
        if done.contested > 0 {
            note(
                "of some joints no book knows everything: each knows entries that the others do not. All \
                 their rows stand, and `contested` names them; bundles between those books settle it",
            );
        }
        Ok(report)
    }
}
