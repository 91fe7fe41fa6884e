//! Cells that hold what stands above them: where a sheet has merged them with it, or where they say so
//! themselves (ditto). Nothing else repeats what stands above it.

use super::field::{Fields, Holds};
use super::layout::{Column, Layout, Where};
use super::split::RawRow;
use crate::intake::diagnostic::Diagnostics;
use crate::intake::number::is_null;
use crate::intake::resolve::spans;

/// Signs and words for what stands above.
const DITTO: [&str; 16] = [
    "\"", "\u{201c}", "\u{201d}", "\u{201e}", "\u{3003}", "\u{2033}", "''", ",,", "-\"-", "do.",
    "-do-", "ditto", "dto", "dto.", "as above", "idem",
];

/// Sizes that all joints of a list share: one cell merged over several of them is said of each.
const OF_EACH: [&str; 8] =
    ["od", "id", "wall", "weight", "air_weight", "tj_od", "tj_id", "stress_ratio"];

/// A column, and the rows in which it has what stands above.
pub(crate) type Carried = (String, Vec<u64>);

fn is_ditto(text: &str) -> bool {
    DITTO.iter().any(|d| text.eq_ignore_ascii_case(d))
}

/// Fills in the cells of data rows that hold what stands above them; which they are.
pub(crate) fn carry(
    rows: &mut [RawRow],
    layout: &Layout,
    fields: &Fields,
    at: Where<'_>,
    diagnostics: &mut Diagnostics,
) -> Vec<Carried> {
    // Whose row it is comes first: what else is merged may belong to that joint alone.
    let mut columns: Vec<&Column> = layout.columns.iter().collect();
    columns.sort_by_key(|c| fields[c.field].holds != Holds::Serial);
    let serial = columns.first().filter(|c| fields[c.field].holds == Holds::Serial).copied();
    let mut out: Vec<Carried> = Vec::new();
    for column in columns {
        let (place, field) = (column.number - 1, &fields[column.field]);
        let (mut filled, mut of_all): (Vec<u64>, Vec<(usize, usize)>) = (Vec::new(), Vec::new());
        for row in 0..rows.len() {
            let own = rows[row].cells.get(place).map_or("", |c| c.trim());
            let first = rows[row].merged.iter().find(|m| m.0 == place).map(|m| m.1);
            let from = if is_ditto(own) {
                let filled = |above: &usize| {
                    rows[*above].cells.get(place).is_some_and(|c| !c.trim().is_empty())
                };
                let from = row.checked_sub(1).filter(filled);
                if from.is_none() {
                    let d = at.error(format!(
                        "'{own}' stands for what is above it, and nothing is there"
                    ));
                    diagnostics.push(
                        d.at_row(rows[row].number)
                            .in_column(column.number, &column.title)
                            .help("write what is meant"),
                    );
                }
                from
            } else if let (true, Some(first)) = (own.is_empty(), first) {
                let from = rows[..row].iter().rposition(|r| r.number == first);
                from.filter(|from| says(&rows[*from], place))
            } else {
                None
            };
            let Some(from) = from else { continue };
            if own.is_empty() && field.holds.numeric() && !OF_EACH.contains(&field.key.as_str()) {
                if !serial.is_some_and(|s| same(&rows[from], &rows[row], s.number - 1)) {
                    of_all.push((from, row));
                }
                continue;
            }
            let text = rows[from].cells[place].clone();
            if let Some(cell) = rows[row].cells.get_mut(place) {
                *cell = text;
                filled.push(rows[row].number);
            }
        }
        if let (Some((from, _)), Some((_, last))) = (of_all.first(), of_all.last()) {
            diagnostics.push(
                at.error(format!(
                    "'{}' is merged over several rows from {} to {}: nobody says whether '{}' is of each \
                     or of all together",
                    column.title,
                    rows[*from].number,
                    rows[*last].number,
                    rows[*from].cells[place].trim()
                ))
                .at_row(rows[*from].number)
                .in_column(column.number, &column.title)
                .help("take the merge apart in the spreadsheet and write in each row what is its own"),
            );
        }
        // Of all together it is no value of the first either.
        of_all.iter().for_each(|(from, _)| rows[*from].cells[place].clear());
        if !filled.is_empty() {
            out.push((column.title.clone(), filled));
        }
    }
    out
}

fn says(row: &RawRow, place: usize) -> bool {
    row.cells.get(place).is_some_and(|c| !is_null(c, &[]))
}

/// Whether two rows have one text in a column.
fn same(a: &RawRow, b: &RawRow, place: usize) -> bool {
    says(a, place) && a.cells.get(place).map(|c| c.trim()) == b.cells.get(place).map(|c| c.trim())
}

/// What was filled in, in words.
pub(crate) fn words(carried: &[Carried]) -> Vec<String> {
    let said = |(title, rows): &Carried| {
        format!("'{title}' is what stands above (merged with it, or ditto) in {}", spans(rows))
    };
    carried.iter().map(said).collect()
}
