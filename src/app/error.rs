//! Why a use case came to nothing.

use std::fmt::Display;
use std::path::PathBuf;

use crate::condition::RepairIssue;
use crate::intake::Diagnostics;
use crate::model::{Moment, Recorded};
use crate::policy::RuleError;
use crate::publication::PublishError;
use crate::report::ReportError;
use crate::store::StoreError;

/// What went wrong: what, where, and what would be right. Nothing was written then, save by the
/// files before the one that [`Error::File`] names.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// The book cannot be used as asked.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The book could not be published.
    #[error(transparent)]
    Publish(PublishError),
    /// The question cannot be answered as asked.
    #[error(transparent)]
    Report(#[from] ReportError),
    /// Words that mean nothing here.
    #[error("{what}")]
    Words {
        /// What is wrong with them.
        what: String,
        /// What would be right, where that is not plain.
        help: Option<&'static str>,
    },
    /// What cannot be done as asked, and what can.
    #[error("{what}")]
    Advice {
        what: String,
        /// Ways to go on, each a sentence.
        help: Vec<String>,
    },
    /// A file was refused.
    #[error("{name} was refused{}; nothing was written", several(.diagnostics))]
    File {
        name: String,
        /// What is wrong with it, place by place.
        diagnostics: Diagnostics,
    },
    /// Fields of a fact cannot be used.
    #[error("{what}")]
    Fields {
        /// What came of it.
        what: &'static str,
        /// What is wrong with each.
        diagnostics: Diagnostics,
    },
    /// A repair breaks a limit.
    #[error("the repair breaks a limit or cannot be")]
    Repair(Vec<RepairIssue>),
    /// Joints that are to be sent out are not fit, or that cannot be said of them.
    #[error("{}; nothing was written", unfit(.0))]
    Unfit(Vec<Unfit>),
    /// Rules do not read, or do not fit the book.
    #[error("the rules hold {} errors", .0.len())]
    Rules(Vec<RuleError>),
    /// A seal does not read, or does not hold.
    #[error("{0}")]
    Seal(String),
    /// There is no such file.
    #[error("there is no file {}", .0.display())]
    NoFile(PathBuf),
    /// The book was begun later than the date from which it is looked at.
    #[error("nothing had been written on {on}")]
    NothingYet {
        on: Moment,
        /// When it was begun.
        begun: Option<Recorded>,
    },
}

/// A joint that is not fit to be sent out, or of which that cannot be said.
#[derive(Clone, Debug)]
pub struct Unfit {
    /// The serial that it carries.
    pub serial: String,
    /// The answer in words.
    pub answer: &'static str,
    /// Why, one a line.
    pub why: Vec<String>,
    /// Where each search for cracks stands.
    pub searches: String,
}

impl Unfit {
    /// The joint with everything that stands against it.
    pub fn text(&self) -> String {
        let mut lines = vec![format!("{}: {}", self.serial, self.answer)];
        lines.extend(self.why.iter().map(|why| format!("  {why}")));
        lines.push(format!("  crack searches: {}", self.searches));
        lines.join("\n")
    }
}

fn several(diagnostics: &Diagnostics) -> String {
    match diagnostics.errors() {
        0 | 1 => String::new(),
        n => format!(" ({n} errors)"),
    }
}

fn unfit(joints: &[Unfit]) -> String {
    match joints {
        [one] => format!("{} is not to be sent out: {}", one.serial, one.answer),
        many => format!("{} joints are not to be sent out", many.len()),
    }
}

/// Words that mean nothing here, from anything that can be said.
pub(super) fn words(what: impl Display) -> Error {
    Error::Words { what: what.to_string(), help: None }
}

impl From<PublishError> for Error {
    fn from(e: PublishError) -> Self {
        match e {
            PublishError::Store(e) => Self::Store(e),
            e => Self::Publish(e),
        }
    }
}
