//! Blocks side by side: a table whose columns come again beside it, because the page was wide and the
//! list long. They are read one after another.

use super::field::Fields;
use super::layout::{LOOK, titles as titles_in};
use super::split::RawRow;
use crate::model::fold;
use crate::units::Unit;

/// Where the blocks of a header begin, and how wide the widest is: titles that come again in the same
/// order, at least two of which are known.
fn blocks(header: &RawRow, fields: &Fields) -> Option<(Vec<usize>, usize)> {
    let titles: Vec<(usize, String)> = header
        .cells
        .iter()
        .enumerate()
        .map(|(at, cell)| (at, fold(cell)))
        .filter(|(_, title)| !title.is_empty())
        .collect();
    let n = titles.len();
    let width = (2..=n / 2).find(|width| {
        n.is_multiple_of(*width)
            && titles.iter().zip(titles.iter().skip(*width)).all(|(a, b)| a.1 == b.1)
    })?;
    let known = titles_in(&header.cells, fields, None).len() >= 2;
    let starts: Vec<usize> = titles.iter().step_by(width).map(|t| t.0).collect();
    let spans = |at: usize| titles[at * width + width - 1].0 + 1 - starts[at];
    known.then(|| (starts.clone(), (0..starts.len()).map(spans).max().unwrap_or(width)))
}

/// True for a row of units.
fn is_of_units(row: &RawRow) -> bool {
    let bare = |c: &String| c.trim().trim_matches(['[', ']', '(', ')']).trim().to_owned();
    let filled: Vec<String> = row.cells.iter().map(bare).filter(|c| !c.is_empty()).collect();
    !filled.is_empty() && filled.iter().all(|unit| Unit::meanings(unit).is_ok())
}

/// Puts blocks that stand side by side one below the other; how many there were.
pub(crate) fn unfolded(rows: Vec<RawRow>, fields: &Fields) -> (Vec<RawRow>, usize) {
    let found = rows
        .iter()
        .take(LOOK)
        .enumerate()
        .find_map(|(at, row)| blocks(row, fields).map(|found| (at, found)));
    let Some((at, (starts, width))) = found else { return (rows, 1) };
    let cut = |row: &RawRow, from: usize, to: usize| {
        let own = |at: usize| (from..to.min(from + width)).contains(&at);
        let merged = row.merged.iter().filter(|m| own(m.0)).map(|(at, first)| (at - from, *first));
        RawRow {
            number: row.number,
            cells: row.cells.iter().take(to).skip(from).take(width).cloned().collect(),
            merged: merged.collect(),
        }
    };
    let mut out = rows[..at].to_vec();
    let ends = starts.iter().skip(1).copied().chain([usize::MAX]);
    // Each block has the titles, and the units below them where they stand there.
    let head = 1 + usize::from(rows.get(at + 1).is_some_and(is_of_units));
    for (block, (from, to)) in starts.iter().copied().zip(ends).enumerate() {
        let below = rows.iter().skip(at + if block > 0 { head } else { 0 });
        out.extend(below.map(|row| cut(row, from, to)).filter(|row| row.filled() > 0));
    }
    (out, starts.len())
}

#[cfg(test)]
mod tests {
    use super::super::field::{Field, Holds};
    use super::super::split::{Delimiter, rows};
    use super::*;

    fn fields() -> Fields {
        let field = |key: &str| Field::new(key, Holds::Text, "");
        Fields::new(["no", "length", "md", "inc", "a", "b"].into_iter().map(field).collect())
    }

    #[test]
    fn blocks_side_by_side_follow_each_other() {
        let text = "Tally,,,,\nNo,Length,,No,Length\n1,9.4,,3,9.6\n2,9.5,,,\n";
        let (rows, n) = unfolded(rows(text, Delimiter::Comma), &fields());
        let lines: Vec<String> = rows.iter().map(RawRow::line).collect();
        assert_eq!(n, 2);
        assert_eq!(lines[1..], ["No | Length", "1 | 9.4", "2 | 9.5", "3 | 9.6"]);
    }

    #[test]
    fn two_columns_of_one_title_are_no_blocks() {
        for text in ["MD,Inc,Azi\n", "MD,MD\n", "a,b,a,c\n", "x,y,x,y\n"] {
            assert_eq!(unfolded(rows(text, Delimiter::Comma), &fields()).1, 1, "{text}");
        }
    }
}
