//! What went wrong, as the user sees it: what, where, what would be right; and the exit code.

use std::fmt::Display;
use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

use serde_json::{Value, json};

use super::past;
use crate::app::words::wrong;
use crate::app::{Error, diagnostic_lines};
use crate::filter::FilterError;
use crate::intake::{Diagnostics, Severity};
use crate::ledger::BundleError;
use crate::publication::PublishError;
use crate::render::safe::for_screen;
use crate::report::ReportError;
use crate::store::StoreError;

/// Kinds of failure, each with its exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// The words or the filter were wrong.
    Usage,
    /// An input file was refused.
    Input,
    /// The book cannot be used.
    Book,
    /// A question took too long.
    Deadline,
    /// It was written to the book, but the answer could not be shown.
    Written,
}

impl Kind {
    const fn code(self) -> u8 {
        match self {
            Self::Usage => 2,
            Self::Input => 3,
            Self::Book => 4,
            Self::Deadline => 5,
            Self::Written => 6,
        }
    }

    pub(super) fn exit_code(self) -> ExitCode {
        ExitCode::from(self.code())
    }

    const fn word(self) -> &'static str {
        match self {
            Self::Usage => "usage",
            Self::Input => "input",
            Self::Book => "book",
            Self::Deadline => "deadline",
            Self::Written => "written",
        }
    }
}

/// A failure with its hints.
#[derive(Debug)]
pub(super) struct Failure {
    kind: Kind,
    message: String,
    /// Lines that keep their shape: a caret under a filter, a cell of a sheet.
    block: Vec<String>,
    hints: Vec<String>,
    /// What is wrong place by place, as fields for machines.
    places: Vec<Value>,
}

impl Failure {
    pub(super) fn new(kind: Kind, message: impl Into<String>) -> Self {
        Self {
            kind,
            message: message.into(),
            block: Vec::new(),
            hints: Vec::new(),
            places: Vec::new(),
        }
    }

    /// A failure told by an error and what caused it.
    pub(super) fn from_error(kind: Kind, error: &dyn std::error::Error) -> Self {
        let mut message = error.to_string();
        let mut cause = error.source();
        while let Some(c) = cause {
            message.push_str(": ");
            message.push_str(&c.to_string());
            cause = c.source();
        }
        Self::new(kind, message)
    }

    /// The same failure, met when the book had been written to: `head` is what it ends at.
    pub(super) fn after_writing(mut self, head: Option<&str>) -> Self {
        // It says so itself.
        if matches!(self.kind, Kind::Written) {
            return self;
        }
        self.kind = Kind::Written;
        let head = head.map_or_else(String::new, |h| format!(" and ends at {h}"));
        self.message = format!("the book was written to{head}; but {}", self.message);
        self.hints = vec![
            "what was written stands, do not write it again: `pipelore entries` lists it"
                .to_owned(),
        ];
        self
    }

    /// The same failure, met when a file had been made: it is there, whether that can be shown or not.
    pub(super) fn after_making(mut self, file: &Path) -> Self {
        self.kind = Kind::Written;
        self.message = format!("{} was made; but {}", file.display(), self.message);
        self.hints.clear();
        self
    }

    #[must_use]
    pub(super) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    #[must_use]
    pub(super) fn block(mut self, lines: impl IntoIterator<Item = String>) -> Self {
        self.block.extend(lines);
        self
    }

    #[must_use]
    fn places(mut self, places: impl IntoIterator<Item = Value>) -> Self {
        self.places.extend(places);
        self
    }

    /// Writes the failure to stderr and gives its exit code.
    pub(super) fn report(&self, json: bool) -> ExitCode {
        let mut err = anstream::stderr().lock();
        let written = if json { writeln!(err, "{}", self.json()) } else { self.write(&mut err) };
        // A closed stderr leaves nothing to say it to.
        let _ = written;
        self.code()
    }

    /// The failure for machines.
    pub(super) fn json(&self) -> Value {
        json!({
            "error": {
                "kind": self.kind.word(),
                "message": self.message,
                "detail": self.block,
                "hints": self.hints,
                "errors": self.places,
            }
        })
    }

    pub(super) fn code(&self) -> ExitCode {
        self.kind.exit_code()
    }

    fn write(&self, out: &mut impl Write) -> std::io::Result<()> {
        writeln!(out, "error: {}", clean(&self.message))?;
        for line in &self.block {
            writeln!(out, "{}", for_screen(line))?;
        }
        for hint in &self.hints {
            writeln!(out, "hint: {}", clean(hint))?;
        }
        Ok(())
    }
}

/// Several lines, each made harmless.
fn clean(text: &str) -> String {
    text.split('\n').map(|l| for_screen(l).into_owned()).collect::<Vec<_>>().join("\n")
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        let of = |kind| Self::from_error(kind, &error);
        match &error {
            StoreError::NotFound { .. } => of(Kind::Book)
                .hint("start one with `pipelore new`, or name it with --book or PIPELORE_BOOK"),
            StoreError::Exists { .. } => of(Kind::Usage).hint("choose another name"),
            StoreError::HeadUnreadable { .. } => of(Kind::Book).hint(
                "look at what it holds; `pipelore verify --note-head` proves the book and notes its \
                 head anew",
            ),
            StoreError::StrangeLog { .. } => of(Kind::Book)
                .hint(
                    "to put a copy back, move both away together and use `pipelore restore COPY`, which \
                     sets aside what stands there",
                )
                .hint("keep the log: `pipelore salvage` reads what a file and its log still hold"),
            StoreError::NotOfThisLedger { .. } => of(Kind::Book).hint(
                "`pipelore verify` says what is wrong; a copy is put back with `pipelore restore`; where \
                 the chains hold, `pipelore rebuild` derives everything again",
            ),
            StoreError::NotDerived { .. } => of(Kind::Book).hint(
                "`pipelore verify` says what was altered; where the entries are sound, `pipelore \
                 rebuild` derives everything from them again",
            ),
            StoreError::ManyNames { .. } => of(Kind::Book)
                .hint("keep one name; a copy is made with `pipelore backup`"),
            StoreError::LeftOver { .. } => of(Kind::Usage)
                .hint("choose another name, or move what is left over away and look at what it is"),
            StoreError::OtherEpoch { .. } | StoreError::WrittenMeanwhile { .. } => {
                of(Kind::Book).hint("run the command again")
            }
            StoreError::Damaged { .. } | StoreError::Chain { .. } | StoreError::Row { .. } => {
                of(Kind::Book)
                    .hint("`pipelore verify` says what hangs on it; keep the file as it is")
            }
            StoreError::TailLost { .. } => of(Kind::Book)
                .hint("keep the file and what stands beside it: `pipelore salvage` reads what its pages still hold")
                .hint(
                    "after restoring a copy, `pipelore resume` goes on from where it ends; what it \
                     lost comes back with `pipelore bundle in` from another site",
                ),
            StoreError::TailInLog { .. } => of(Kind::Book)
                .hint("`pipelore salvage` reads it into a new book"),
            StoreError::Bundle(refused) => {
                let failure = of(Kind::Input);
                match refused {
                    BundleError::Gap { .. } => failure
                        .hint("ask for a bundle that begins after the last entry the book holds"),
                    BundleError::Own { .. } => failure.hint(
                        "this book was restored without saying so, or two books write as one site: \
                         `pipelore resume` begins a new epoch, then take the bundle in again",
                    ),
                    BundleError::Fork { .. } | BundleError::Parent { .. } => failure.hint(
                        "one of the two books was restored or copied and went on writing: there, \
                         restore and `pipelore resume` under a new --epoch",
                    ),
                    BundleError::Unsealed { .. } => failure.hint(
                        "add the site's public key to the file of known keys, or ask for a sealed \
                         bundle",
                    ),
                    BundleError::Newer { .. } => failure.hint("update this program"),
                    _ => failure,
                }
            }
            StoreError::Keys { .. } | StoreError::Fold { .. } => of(Kind::Input),
            StoreError::HeadNotNoted { .. } => of(Kind::Written)
                .hint("`pipelore verify --note-head` notes it when the folder can be written"),
            StoreError::Busy { .. } => of(Kind::Book).hint("try again when it is done"),
            StoreError::Deadline { .. } => {
                of(Kind::Deadline).hint("narrow the filter, or raise --time-limit")
            }
            StoreError::NoEntry(_)
            | StoreError::NothingToSend
            | StoreError::NothingToSeal(_)
            | StoreError::NoSite(_)
            | StoreError::EpochTaken { .. }
            | StoreError::EpochAhead { .. } => of(Kind::Usage),
            StoreError::Refused(clashes) => {
                let lines = clashes
                    .iter()
                    .take(20)
                    .map(|c| format!("  {}: {} ({} and {})", c.serial, c.what, c.first, c.second));
                let more = clashes.len().saturating_sub(20);
                let rest = (more > 0).then(|| format!("  … and {more} more"));
                of(Kind::Input)
                    .block(lines.chain(rest))
                    .hint("correct the facts, or keep both sides with --keep-conflicts and settle them by a decision")
                    .hint(clashes.first().map_or_else(String::new, |clash| format!(
                        "to correct a field of what the book was told: pipelore enter amend entry={} \
                         FIELD=VALUE reason='…'",
                        clash.first
                    )))
            }
            _ => of(Kind::Book),
        }
    }
}

impl From<Error> for Failure {
    fn from(error: Error) -> Self {
        match error {
            Error::Store(e) => e.into(),
            Error::Report(e) => e.into(),
            Error::Words { what, help } => {
                let failure = usage(what);
                match help {
                    Some(help) => failure.hint(help),
                    None => failure,
                }
            }
            Error::Advice { what, help } => help.into_iter().fold(usage(what), Self::hint),
            Error::File { ref diagnostics, .. } => Self::new(Kind::Input, error.to_string())
                .block(diagnostic_lines(diagnostics, Severity::Error))
                .places(errors_in(diagnostics)),
            Error::Fields { what, diagnostics } => Self::new(Kind::Usage, what)
                .block(wrong(&diagnostics))
                .places(errors_in(&diagnostics)),
            Error::Repair(ref issues) => {
                let lines = issues.iter().map(|i| format!("  {i}"));
                Self::new(Kind::Input, error.to_string()).block(lines).hint(
                    "if it was done all the same, keep it as it happened with --keep-conflicts; \
                     the joint carries it from then on",
                )
            }
            Error::Unfit(ref joints) => {
                let lines = joints
                    .iter()
                    .flat_map(|j| j.text().lines().map(str::to_owned).collect::<Vec<_>>());
                Self::new(Kind::Input, error.to_string()).block(lines).hint(
                    "inspect, repair or decide first; to send it out all the same name the reason, \
                     which is kept as a decision: --insist \"REASON\"",
                )
            }
            Error::NothingYet { on, begun } => past::nothing_yet(on, begun),
            Error::Publish(ref e) => {
                let words =
                    matches!(e, PublishError::NotOurs { .. } | PublishError::NotItsFuture { .. });
                Self::new(if words { Kind::Usage } else { Kind::Book }, error.to_string())
            }
            Error::Rules(_) | Error::Seal(_) | Error::NoFile(_) => {
                Self::new(Kind::Input, error.to_string())
            }
        }
    }
}

impl From<ReportError> for Failure {
    fn from(error: ReportError) -> Self {
        match error {
            ReportError::Store(e) => e.into(),
            ReportError::Filter(errors) => {
                let places: Vec<Value> = errors.iter().map(filter_error).collect();
                let mut errors = errors.into_iter();
                let Some(first) = errors.next() else { return usage("the filter is wrong") };
                let mut failure = usage(&first.message).places(places);
                let width = std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok());
                let width = width.unwrap_or(80usize).max(40);
                // The message stands in the first line already.
                failure.block.extend(first.below(width).lines().map(str::to_owned));
                for e in errors {
                    let shown = e.render(width);
                    let mut lines = shown.lines();
                    failure.block.extend(lines.next().map(|l| format!("error: {l}")));
                    failure.block.extend(lines.map(str::to_owned));
                }
                failure
            }
            other => usage(other),
        }
    }
}

/// A mistake in a filter as fields. Places are characters from 1, in the filter or the rule's text.
fn filter_error(e: &FilterError) -> Value {
    let text = &*e.place.text;
    let column = |byte: usize| text.get(..byte).map_or(0, |t| t.chars().count()) + 1;
    let fixes: Vec<Value> = (e.fixes.iter())
        .map(|fix| {
            json!({
                "column": column(fix.span.start),
                "length": fix.span.of(text).chars().count(),
                "text": fix.text,
                "corrected": fix.apply(text),
            })
        })
        .collect();
    json!({
        "message": e.message,
        "rule": e.place.rule.as_deref(),
        "text": text,
        "column": column(e.place.span.start),
        "length": e.place.span.of(text).chars().count(),
        "hint": e.hint,
        "fixes": fixes,
    })
}

/// Errors in files as fields.
fn errors_in(diagnostics: &Diagnostics) -> Vec<Value> {
    let errors = diagnostics.list().iter().filter(|d| d.severity == Severity::Error);
    errors
        .map(|d| {
            json!({
                "message": d.message,
                "file": d.file,
                "sheet": d.sheet,
                "row": d.row,
                "column": d.column.as_ref().map(|c| c.number),
                "title": d.column.as_ref().map(|c| &c.name),
                "value": d.value,
                "hint": d.help,
            })
        })
        .collect()
}

/// A usage failure from anything that can be said.
pub(super) fn usage(message: impl Display) -> Failure {
    Failure::new(Kind::Usage, message.to_string())
}
