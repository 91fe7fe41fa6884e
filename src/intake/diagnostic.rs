//! What is wrong with a file, and where: values to collect, not an error to stop at.

use std::fmt;

use super::ask::Question;

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// The row or the file is refused.
    Error,
    /// Taken in; worth a look.
    Warning,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Error => "error",
            Self::Warning => "warning",
        })
    }
}

/// A column of a file, by its number from 1 and its title.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColumnAt {
    /// Number from 1.
    pub number: usize,
    /// Title as written, or the name that the user stated.
    pub name: String,
}

/// The line that is at fault and the part of it to point at, in characters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Excerpt {
    /// The line, or the part of it around the fault.
    pub text: String,
    /// First character to point at.
    pub from: usize,
    /// Characters to point at; 0 points at the whole line.
    pub len: usize,
}

/// One thing wrong with a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// How bad it is.
    pub severity: Severity,
    /// Name of the file.
    pub file: String,
    /// Sheet of a workbook.
    pub sheet: Option<String>,
    /// Line or row, from 1.
    pub row: Option<u64>,
    pub column: Option<ColumnAt>,
    /// The value at fault, as written.
    pub value: Option<String>,
    pub message: String,
    /// What would be right.
    pub help: Option<String>,
    /// The line at fault.
    pub excerpt: Option<Excerpt>,
    /// What a person can answer, and all is right.
    pub question: Option<Box<Question>>,
}

impl Diagnostic {
    /// An error in a file as a whole.
    pub fn error(file: &str, message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Error,
            file: file.to_owned(),
            sheet: None,
            row: None,
            column: None,
            value: None,
            message: message.into(),
            help: None,
            excerpt: None,
            question: None,
        }
    }

    /// A warning about a file as a whole.
    pub fn warning(file: &str, message: impl Into<String>) -> Self {
        Self { severity: Severity::Warning, ..Self::error(file, message) }
    }

    /// Says what would be right.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// Says what can be answered.
    #[must_use]
    pub(super) fn asks(mut self, question: Question) -> Self {
        self.question = Some(Box::new(question));
        self
    }

    /// Says in which row.
    #[must_use]
    pub fn at_row(mut self, row: u64) -> Self {
        self.row = Some(row);
        self
    }

    /// Says in which sheet.
    #[must_use]
    pub fn in_sheet(mut self, sheet: Option<&str>) -> Self {
        self.sheet = sheet.map(str::to_owned);
        self
    }

    /// Says in which column.
    #[must_use]
    pub fn in_column(mut self, number: usize, name: &str) -> Self {
        self.column = Some(ColumnAt { number, name: name.to_owned() });
        self
    }

    #[must_use]
    pub fn value(mut self, value: impl Into<String>) -> Self {
        self.value = Some(value.into());
        self
    }
}

/// What was found in one file. The first hundred of each severity are kept, all are counted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Diagnostics {
    list: Vec<Diagnostic>,
    errors: u64,
    warnings: u64,
}

impl Diagnostics {
    /// How many of each severity are kept.
    pub const KEPT: u64 = 100;

    pub fn push(&mut self, diagnostic: Diagnostic) {
        let count = match diagnostic.severity {
            Severity::Error => &mut self.errors,
            Severity::Warning => &mut self.warnings,
        };
        *count += 1;
        if *count <= Self::KEPT {
            self.list.push(diagnostic);
        }
    }

    /// Adds all of another file's.
    pub fn append(&mut self, other: Self) {
        let (errors, warnings) = (other.errors, other.warnings);
        let (mut kept_errors, mut kept_warnings) = (0, 0);
        for d in other.list {
            match d.severity {
                Severity::Error => kept_errors += 1,
                Severity::Warning => kept_warnings += 1,
            }
            self.push(d);
        }
        self.errors += errors - kept_errors;
        self.warnings += warnings - kept_warnings;
    }

    /// The same, each in a sheet where it names none.
    #[must_use]
    pub fn in_sheet(mut self, sheet: &str) -> Self {
        for d in &mut self.list {
            d.sheet.get_or_insert_with(|| sheet.to_owned());
        }
        self
    }

    /// The same, with questions of the file that is to be taken in: one of its parts may give rise to
    /// them.
    #[must_use]
    pub fn asked_of(mut self, file: &str) -> Self {
        for question in self.list.iter_mut().filter_map(|d| d.question.as_mut()) {
            file.clone_into(&mut question.file);
        }
        self
    }

    /// Those kept, in order of discovery.
    pub fn list(&self) -> &[Diagnostic] {
        &self.list
    }

    /// Changes what was found.
    pub(super) fn each(&mut self, change: impl FnMut(&mut Diagnostic)) {
        self.list.iter_mut().for_each(change);
    }

    /// Errors found, kept or not.
    pub const fn errors(&self) -> u64 {
        self.errors
    }

    /// Warnings found, kept or not.
    pub const fn warnings(&self) -> u64 {
        self.warnings
    }

    /// How many were counted but not kept.
    pub fn not_kept(&self) -> u64 {
        self.errors.saturating_sub(Self::KEPT) + self.warnings.saturating_sub(Self::KEPT)
    }

    /// True when nothing was found.
    pub const fn is_empty(&self) -> bool {
        self.errors == 0 && self.warnings == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_a_hundred_of_each_and_counts_all() {
        let mut d = Diagnostics::default();
        for row in 0..250 {
            d.push(Diagnostic::warning("a.csv", "odd").at_row(row));
        }
        d.push(Diagnostic::error("a.csv", "bad"));
        assert_eq!((d.errors(), d.warnings(), d.list().len(), d.not_kept()), (1, 250, 101, 150));
        let mut all = Diagnostics::default();
        all.append(d.clone());
        all.append(d);
        assert_eq!((all.errors(), all.warnings(), all.list().len()), (2, 500, 102));
    }
}
