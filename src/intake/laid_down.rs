//! Joints of a tally that were laid down: whether they were in the string no tally says by itself.

use super::diagnostic::{Diagnostic, Diagnostics};
use super::resolve::spans;
use super::table::{Layout, RawRow, Where, is_aside};
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

/// Titles of a column that says where each joint is.
const STATUS: [&str; 6] = ["status", "state", "disposition", "run_status", "joint_status", "where"];

/// What a column of status says of a joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Is {
    InTheHole,
    LaidDown,
    /// It never went in.
    NotRun,
}

impl Is {
    fn parse(cell: &str) -> Option<Self> {
        let word = fold(cell);
        match word.as_str() {
            "in" | "in_hole" | "in_the_hole" | "in_string" | "in_the_string" | "ih" | "run"
            | "ran" | "rih" | "run_in_hole" => Some(Self::InTheHole),
            "ld" | "l_d" => Some(Self::LaidDown),
            "on_rack" | "on_deck" | "rack" => Some(Self::NotRun),
            _ if word.starts_with("spare") || word.starts_with("not_") && says(cell) => {
                Some(Self::NotRun)
            }
            _ => says(cell).then_some(Self::LaidDown),
        }
    }
}

/// Reads the column of status, where the tally has one that says where joints are, and takes it from
/// the columns that are not used: the rows that were laid down and those that never went in.
fn by_status(
    rows: &[RawRow],
    layout: &mut Layout,
    at: Where<'_>,
    diagnostics: &mut Diagnostics,
) -> (Vec<u64>, Vec<u64>) {
    let is_status = |(number, title): &&(usize, String)| {
        let skipped = at.stated.and_then(|s| s.about(*number, title)).is_some();
        STATUS.contains(&fold(title).as_str()) && !skipped
    };
    let Some((number, title)) = layout.unused.iter().find(is_status).cloned() else {
        return (Vec::new(), Vec::new());
    };
    let cell = |row: &RawRow| row.cells.get(number - 1).map_or("", |c| c.trim()).to_owned();
    let header = layout.header.as_ref().map(|h| &h.cells);
    let data = rows.iter().skip(layout.first_data).filter(|r| r.filled() > 1);
    let data = data.filter(|r| !is_aside(r, layout) && Some(&r.cells) != header);
    let told: Vec<(u64, String, Option<Is>)> =
        data.map(|r| (r.number, cell(r), Is::parse(&cell(r)))).collect();
    if told.iter().all(|t| t.2.is_none()) {
        return (Vec::new(), Vec::new());
    }
    // Where those in the hole say so, one that says nothing is none of them for certain.
    let all_say = told.iter().any(|t| t.2 == Some(Is::InTheHole));
    for (row, text, _) in told.iter().filter(|t| t.2.is_none() && (all_say || !t.1.is_empty())) {
        let says = if text.is_empty() { "nothing".to_owned() } else { format!("'{text}'") };
        diagnostics.push(
            Diagnostic::error(
                at.file,
                format!("'{title}' says {says} here: whether the part was in the hole is not told"),
            )
            .at_row(*row)
            .in_column(number, &title)
            .help(format!(
                "write in hole, laid down or not run; where the column is about something else, skip \
                 it in the file of the run: tally_columns = '\"{title}\" = -'"
            )),
        );
    }
    layout.unused.retain(|u| u.0 != number);
    let of = |wanted| told.iter().filter(|t| t.2 == Some(wanted)).map(|t| t.0).collect();
    (of(Is::LaidDown), of(Is::NotRun))
}

/// Takes out of the rows of a tally those that never went in, by its column of status; and those that were
/// laid down, by that column, by a cell, by a column that is called so or by a heading above them, where
/// it is stated that they were not in the string; else that is asked.
pub(super) fn sort_out(
    rows: &mut Vec<RawRow>,
    layout: &mut Layout,
    at: Where<'_>,
    stated: Option<LaidDown>,
    diagnostics: &mut Diagnostics,
) -> bool {
    let (mut laid, never) = by_status(rows, layout, at, diagnostics);
    let titles = layout.header.as_ref().map(|h| h.cells.clone()).unwrap_or_default();
    let marks: Vec<usize> =
        titles.iter().enumerate().filter(|(_, title)| says(title)).map(|(at, _)| at).collect();
    let is_marked = |row: &RawRow| {
        let mark = |at: &usize| row.cells.get(*at).map(|c| fold(c));
        let mut marked = marks.iter().filter_map(mark);
        marked.any(|mark| !matches!(mark.as_str(), "" | "no" | "n" | "0" | "false"))
    };
    let mut below = false;
    let mut headings = Vec::new();
    for row in rows.iter().skip(layout.first_data).filter(|row| row.filled() > 0) {
        if row.filled() == 1 {
            below = row.cells.iter().any(|c| says(c));
            headings.extend(below.then_some(row.number));
        } else if below || is_marked(row) || row.cells.iter().any(|c| says(c)) {
            laid.push(row.number);
        }
    }
    laid.retain(|row| !never.contains(row));
    laid.sort_unstable();
    laid.dedup();
    if !never.is_empty() {
        rows.retain(|row| !never.contains(&row.number));
        let lines = spans(&never);
        let said =
            format!("never in the hole by the column of status, and not in the string: {lines}");
        diagnostics.push(Diagnostic::warning(at.file, said));
    }
    if laid.is_empty() {
        return true;
    }
    rows.retain(|row| !headings.contains(&row.number));
    let lines = spans(&laid);
    let said = match stated {
        None => {
            diagnostics.push(
                Diagnostic::error(at.file, format!("laid down, as the tally has it: {lines}")).help(
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
    diagnostics.push(Diagnostic::warning(at.file, said));
    true
}
