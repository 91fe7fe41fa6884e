//! Joints of a tally that were laid down: whether they were in the string no tally says by itself.

use super::diagnostic::{Diagnostic, Diagnostics};
use super::resolve::spans;
use super::table::RawRow;
use crate::model::fold;

/// What becomes of the rows of a tally that say that they were laid down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LaidDown {
    /// They were not in the string.
    Out,
    /// They were in it, and were laid down afterwards.
    In,
}

impl LaidDown {
    pub(super) fn parse(text: &str) -> Option<Self> {
        match fold(text).as_str() {
            "out" | "left_out" | "not_in_the_string" => Some(Self::Out),
            "in" | "in_the_string" => Some(Self::In),
            _ => None,
        }
    }
}

/// Whether a cell says that its row was laid down, or never went in.
fn says(cell: &str) -> bool {
    let word = fold(cell);
    let begins = [
        "laid_down",
        "lay_down",
        "laydown",
        "layed_down",
        "laid_out",
        "not_run",
        "not_in_string",
        "not_in_the_string",
        "not_in_hole",
        "spare",
    ];
    word == "l_d" || begins.iter().any(|b| word.starts_with(b))
}

/// Takes out of the rows of a tally those that say so in a cell, in a column that is called so, or in a
/// heading above them, where that is stated; else it is asked. `titles` is the header, and stands before
/// `first`.
pub(super) fn sort_out(
    file: &str,
    rows: &mut Vec<RawRow>,
    (titles, first): (&[String], usize),
    stated: Option<LaidDown>,
    diagnostics: &mut Diagnostics,
) -> bool {
    let marks: Vec<usize> =
        titles.iter().enumerate().filter(|(_, title)| says(title)).map(|(at, _)| at).collect();
    let is_marked = |row: &RawRow| {
        let mark = |at: &usize| row.cells.get(*at).map(|c| fold(c));
        let mut marked = marks.iter().filter_map(mark);
        marked.any(|mark| !matches!(mark.as_str(), "" | "no" | "n" | "0" | "false"))
    };
    let mut below = false;
    let (mut laid, mut headings) = (Vec::new(), Vec::new());
    for row in rows.iter().skip(first).filter(|row| row.filled() > 0) {
        if row.filled() == 1 {
            below = row.cells.iter().any(|c| says(c));
            headings.extend(below.then_some(row.number));
        } else if below || is_marked(row) || row.cells.iter().any(|c| says(c)) {
            laid.push(row.number);
        }
    }
    if laid.is_empty() {
        return true;
    }
    rows.retain(|row| !headings.contains(&row.number));
    let lines = spans(&laid);
    let said = match stated {
        None => {
            diagnostics.push(
                Diagnostic::error(file, format!("laid down, as the tally has it: {lines}")).help(
                    "were these joints in the string? In the file of the run: laid_down = \"out\" where \
                     they never went in, laid_down = \"in\" where they ran and were laid down afterwards",
                ),
            );
            return false;
        }
        Some(LaidDown::Out) => {
            rows.retain(|row| !laid.contains(&row.number));
            format!("laid down and not in the string, as the run states: {lines}")
        }
        Some(LaidDown::In) => {
            format!("laid down after the run, as it states, and counted in the string: {lines}")
        }
    };
    diagnostics.push(Diagnostic::warning(file, said));
    true
}
