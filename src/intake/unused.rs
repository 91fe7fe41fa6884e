//! Columns and rows of a table that nothing reads: refused where each was typed on purpose, else said.

use super::diagnostic::Diagnostics;
use super::number::Decimal;
use super::resolve::place;
use super::table::{Field, Table, carried_words};
use crate::model::{fold, nearest_word};

/// Refuses columns that nothing reads, each with the name that it may stand for.
pub(super) fn refuse_unused(table: &Table, d: &mut Diagnostics) {
    for (number, title) in &table.layout.unused {
        let known = table.fields.iter().flat_map(Field::names).filter(|n| !n.contains(':'));
        let error = table.error("nothing is called so here").in_column(*number, title);
        d.push(match nearest_word(&fold(title), known) {
            Some(near) => error.help(format!("did you mean {near}?")),
            None => error,
        });
    }
}

/// Says which columns are not used and which look misspelt.
pub(super) fn tell_columns(table: &Table, notes: &mut Vec<String>, d: &mut Diagnostics) {
    let mut unused: Vec<&str> = Vec::new();
    for (_, title) in &table.layout.unused {
        let title = title.as_str();
        if !title.is_empty() && title != "-" && !unused.contains(&title) {
            unused.push(title);
        }
    }
    if !unused.is_empty() {
        notes.push(format!("{}columns not used: {}", of_sheet(table), unused.join(", ")));
    }
    for (number, title) in &table.layout.unused {
        let folded = fold(title);
        if title != "-" && ["finding", "defect"].iter().any(|w| folded.contains(w)) {
            // A finding that nobody reads would pass the joint.
            d.push(
                table
                    .error(format!("the findings of '{title}' are not read"))
                    .in_column(*number, title)
                    .help(format!(
                        "title it by its place (slip area findings, pin findings …), or skip it: \
                         --columns '\"{title}\" = -'"
                    )),
            );
            continue;
        }
        let near = table
            .fields
            .iter()
            .filter(|f| !f.key.contains(':'))
            .map(|f| (strsim::jaro_winkler(&f.key, &folded), &f.key))
            .filter(|(score, key)| *score > 0.92 && !table.has(key))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, key)) = near {
            d.push(
                table
                    .warning(format!("column '{title}' is not used"))
                    .in_column(*number, title)
                    .help(format!("did you mean {key}? state it: --columns '\"{title}\" = {key}'")),
            );
        }
    }
    if !table.layout.titles.is_empty() {
        let place = place(None, &table.layout.titles).unwrap_or_default();
        notes.push(format!("{}above the header and not read: {place}", of_sheet(table)));
    }
    if !table.skipped.is_empty() {
        let place = place(None, &table.skipped).unwrap_or_default();
        notes.push(format!(
            "{}below or between the data (a heading, a sum), or the header again, and not read: {place}",
            of_sheet(table)
        ));
    }
    let carried = carried_words(&table.carried);
    notes.extend(carried.into_iter().map(|words| of_sheet(table) + &words));
    if table.decimal == Decimal::Comma && table.reading.decimal.is_none() {
        notes.push("numbers have a decimal comma".to_owned());
    }
}

/// Which sheet a note is about.
pub(super) fn of_sheet(table: &Table) -> String {
    table.sheet.as_ref().map_or_else(String::new, |s| format!("sheet '{s}': "))
}
