//! How files are taken in.

use super::Answers;
use crate::intake::Options;
use crate::store::AppendOptions;

/// How files are taken in.
#[derive(Clone, Debug, Default)]
pub struct LoadOptions {
    /// How they are read.
    pub read: Options,
    /// Keep the good rows of a file that has bad ones.
    pub partial: bool,
    /// Say what would be taken in, write nothing.
    pub dry_run: bool,
    /// Why it is taken in all the same where it is refused: joints sent out on hire that are not fit,
    /// readings that make steel grow.
    pub insist: Option<String>,
    /// What is told is over: nobody is sent anything, and nobody can read anything again.
    pub is_past: bool,
    /// Why a file that was taken in before is read otherwise now: its entries are amended.
    pub correct: Option<String>,
    /// Say what each file is taken for and how its columns are read.
    pub plan: bool,
    /// Keep what is said of how files are read, so that the next ones under their headers need no answer.
    pub remember: bool,
    /// What is said of single files.
    pub answers: Answers,
}

impl LoadOptions {
    pub(super) const fn append(&self) -> AppendOptions {
        AppendOptions { keep_conflicts: self.read.keep_conflicts, dry_run: self.dry_run }
    }
}
