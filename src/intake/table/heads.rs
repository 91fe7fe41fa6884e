//! Titles in two rows: groups of columns above, the columns of each below, as merged cells leave them.

use super::field::{Fields, find};
use super::layout::{LOOK, titles};
use super::split::RawRow;

/// How many columns a group may reach over.
const WIDEST: usize = 12;

/// True for a row of words: titles have no numbers of their own.
fn is_of_words(row: &RawRow) -> bool {
    let filled = row.cells.iter().map(|c| c.trim()).filter(|c| !c.is_empty());
    let word = |c: &str| c.starts_with(char::is_alphabetic) || c.starts_with(['#', '(', '[', '"']);
    filled.clone().count() >= 2
        && filled.clone().all(word)
        && !filled.clone().any(|c| c.ends_with(':'))
}

/// The titles of two rows as one: a group goes with each column below it, where the two together name a
/// field; else the column speaks for itself, and a group without a column below it too.
fn joined(groups: &RawRow, columns: &RawRow, fields: &Fields) -> RawRow {
    let width = groups.cells.len().max(columns.cells.len());
    let cell = |row: &RawRow, at: usize| row.cells.get(at).map_or("", |c| c.trim()).to_owned();
    let (mut group, mut since) = (String::new(), 0);
    let cells = (0..width).map(|at| {
        let (above, below) = (cell(groups, at), cell(columns, at));
        since += 1;
        if !above.is_empty() {
            (group, since) = (above.clone(), 0);
        } else if below.is_empty() || since > WIDEST {
            group.clear();
        }
        if below.is_empty() {
            return above;
        }
        let both = format!("{group} {below}").trim().to_owned();
        if find(&both, fields).is_some() || find(&below, fields).is_none() { both } else { below }
    });
    RawRow::new(columns.number, cells.collect())
}

/// Puts titles that stand in two rows into one, where more of them name fields then than in either row.
pub(crate) fn with_one_head(mut rows: Vec<RawRow>, fields: &Fields) -> (Vec<RawRow>, bool) {
    let known = |row: &RawRow| titles(&row.cells, fields, None).len();
    let most = rows.iter().take(LOOK).map(known).max().unwrap_or(0);
    let mut best: Option<(usize, usize, RawRow)> = None;
    for (at, pair) in rows.windows(2).take(LOOK).enumerate() {
        let [above, below] = pair else { continue };
        // Merged cells keep their delimiters: a row that reaches beyond the one above it is data.
        let reaches_beyond = below.cells.len() > above.cells.len();
        if reaches_beyond || !is_of_words(above) || !is_of_words(below) {
            continue;
        }
        let row = joined(above, below, fields);
        let found = known(&row);
        if found > most && found >= 3 && best.as_ref().is_none_or(|b| found > b.0) {
            best = Some((found, at, row));
        }
    }
    let Some((_, at, row)) = best else { return (rows, false) };
    rows.splice(at..at + 2, [row]);
    (rows, true)
}

#[cfg(test)]
mod tests {
    use super::super::field::{Field, Holds};
    use super::super::split::{Delimiter, rows};
    use super::*;
    use crate::units::Measure;

    fn fields() -> Fields {
        let field = |key: &str, also: &str| Field::new(key, Holds::Of(Measure::Diameter), also);
        Fields::new(vec![
            Field::new("serial", Holds::Serial, "serial_no"),
            field("od", "tube_od"),
            field("pin_od", ""),
            field("box_od", ""),
        ])
    }

    #[test]
    fn groups_go_with_their_columns() {
        let text = "Report of pipe,,,,\nJoint,Tube,Pin,,Box\nSerial No,OD [in],OD [in],Bevel,OD [in]\nA-1,5,6,x,6\n";
        let (rows, joined) = with_one_head(rows(text, Delimiter::Comma), &fields());
        assert!(joined);
        let lines: Vec<String> = rows.iter().map(RawRow::line).collect();
        assert_eq!(lines[1], "Serial No | Tube OD [in] | Pin OD [in] | Pin Bevel | Box OD [in]");
        assert_eq!(lines[2], "A-1 | 5 | 6 | x | 6");
    }

    #[test]
    fn one_row_of_titles_stays() {
        for text in [
            "Serial,OD,Pin OD\nA-1,5,6\n",
            "Serial,OD,Pin OD\n,in,in\nA-1,5,6\n",
            "Made by,Somebody\nSerial,OD [in],Pin OD [in]\nA-1,5,6\n",
            "Serial,OD,x\n,,dress,Pin OD\n",
        ] {
            assert!(!with_one_head(rows(text, Delimiter::Comma), &fields()).1, "{text}");
        }
    }
}
