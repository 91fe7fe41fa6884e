//! What is marked in a sheet of a workbook and stands in no cell: hidden rows and columns, formulas that
//! nobody calculated, cells that are merged.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Cursor, Read};

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use zip::ZipArchive;

/// Row as the sheet numbers it, and column from 0.
pub(super) type Places = BTreeSet<(u64, usize)>;

/// The parts of a workbook.
type Parts<'a> = ZipArchive<Cursor<&'a [u8]>>;

/// What is marked in a sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Marks {
    pub hidden: BTreeSet<u64>,
    /// Columns that are hidden, from 0: the first and the last of each group.
    pub hidden_columns: Vec<(usize, usize)>,
    /// Cells whose formula has no value.
    pub not_calculated: Places,
    /// Merged cells that reach over several rows: column from 0, first and last row.
    pub merged: Vec<(usize, u64, u64)>,
    /// Cells on which somebody left a comment, by their names.
    pub comments: Vec<String>,
}

impl Marks {
    /// The marks of a sheet, by its name. A workbook that cannot be read has none: reading its cells says
    /// what is wrong with it.
    pub(super) fn of(parts: &mut Parts<'_>, sheet: &str) -> Self {
        let Some(path) = path_of(parts, sheet) else { return Self::default() };
        let comments = comments(parts, &path).unwrap_or_default();
        let Ok(part) = parts.by_name(&path) else { return Self::default() };
        let marks = read(BufReader::new(part)).unwrap_or_default();
        Self { comments, ..marks }
    }
}

fn text(parts: &mut Parts<'_>, path: &str) -> Option<String> {
    let mut out = String::new();
    parts.by_name(path).ok()?.read_to_string(&mut out).ok()?;
    Some(out)
}

fn attribute(start: &BytesStart<'_>, name: &str) -> Option<String> {
    let mut attributes = start.attributes();
    attributes
        .with_checks(false)
        .flatten()
        .filter(|a| a.key.local_name().as_ref() == name)
        .find_map(|a| {
            Some(a.normalized_value(quick_xml::XmlVersion::Implicit1_0).ok()?.into_owned())
        })
}

fn is_hidden(start: &BytesStart<'_>) -> bool {
    attribute(start, "hidden").is_some_and(|h| h == "1" || h == "true")
}

/// The part that holds a sheet: the workbook names a relation, the relations a part.
fn path_of(parts: &mut Parts<'_>, sheet: &str) -> Option<String> {
    let elements = |text: &str, name: &str, key: (&str, &str), wanted: &str| {
        let mut reader = Reader::from_str(text);
        loop {
            match reader.read_event().ok()? {
                Event::Start(e) | Event::Empty(e)
                    if e.local_name().as_ref() == name
                        && attribute(&e, key.0).as_deref() == Some(wanted) =>
                {
                    return attribute(&e, key.1);
                }
                Event::Eof => return None,
                _ => {}
            }
        }
    };
    let book = text(parts, "xl/workbook.xml")?;
    let relation = elements(&book, "sheet", ("name", "id"), sheet)?;
    let relations = text(parts, "xl/_rels/workbook.xml.rels")?;
    let target = elements(&relations, "Relationship", ("Id", "Target"), &relation)?;
    Some(match target.strip_prefix('/') {
        Some(whole) => whole.to_owned(),
        None => format!("xl/{target}"),
    })
}

/// Cells of the sheet in a part on which there are comments, which stand in a part of their own.
fn comments(parts: &mut Parts<'_>, path: &str) -> Option<Vec<String>> {
    let (folder, name) = path.rsplit_once('/')?;
    let relations = text(parts, &format!("{folder}/_rels/{name}.rels"))?;
    let mut reader = Reader::from_str(&relations);
    let target = loop {
        match reader.read_event().ok()? {
            Event::Start(e) | Event::Empty(e)
                if attribute(&e, "Type").is_some_and(|t| t.ends_with("/comments")) =>
            {
                break attribute(&e, "Target")?;
            }
            Event::Eof => return None,
            _ => {}
        }
    };
    let place = match (target.strip_prefix('/'), target.strip_prefix("../")) {
        (Some(whole), _) => whole.to_owned(),
        (None, Some(beside)) => format!("xl/{beside}"),
        (None, None) => format!("{folder}/{target}"),
    };
    let list = text(parts, &place)?;
    let (mut reader, mut cells) = (Reader::from_str(&list), Vec::new());
    loop {
        match reader.read_event().ok()? {
            Event::Start(e) if e.local_name().as_ref() == "comment" => {
                cells.extend(attribute(&e, "ref"));
            }
            Event::Eof => return Some(cells),
            _ => {}
        }
    }
}

fn read(inner: impl BufRead) -> Option<Marks> {
    let mut reader = Reader::from_reader(inner);
    let (mut marks, mut buffer) = (Marks::default(), Vec::new());
    let mut row = 0;
    // The cell that is open: its place, whether it has a formula and a value, whether it is a text.
    let mut cell: Option<((u64, usize), [bool; 3])> = None;
    loop {
        buffer.clear();
        let event = reader.read_event_into(&mut buffer).ok()?;
        let empty = matches!(event, Event::Empty(_));
        match event {
            Event::Start(e) | Event::Empty(e) => match e.local_name().as_ref() {
                "col" if is_hidden(&e) => {
                    let place = |name| attribute(&e, name)?.parse::<usize>().ok()?.checked_sub(1);
                    marks.hidden_columns.extend(place("min").zip(place("max")));
                }
                "row" => {
                    row = attribute(&e, "r").and_then(|r| r.parse().ok()).unwrap_or(row + 1);
                    if is_hidden(&e) {
                        marks.hidden.insert(row);
                    }
                }
                "c" if !empty => {
                    let place = attribute(&e, "r").and_then(|r| column(&r)).map(|c| (row, c));
                    let text = attribute(&e, "t").is_some_and(|t| t == "str");
                    cell = place.map(|place| (place, [false, false, text]));
                }
                "f" => {
                    if let Some((_, seen)) = &mut cell {
                        seen[0] = true;
                    }
                }
                "mergeCell" => {
                    let over = attribute(&e, "ref").and_then(|r| over_rows(&r));
                    marks.merged.extend(over);
                }
                // A formula whose text is empty has a value: no text.
                "v" => {
                    if let Some((_, seen)) = &mut cell {
                        seen[1] = !empty || seen[2];
                    }
                }
                _ => {}
            },
            Event::End(e) if e.local_name().as_ref() == "c" => {
                if let Some((place, [true, false, _])) = cell.take() {
                    marks.not_calculated.insert(place);
                }
            }
            Event::Eof => return Some(marks),
            _ => {}
        }
    }
}

/// Column, first and last row of a merged cell (`B4:B6`) that reaches over several rows.
fn over_rows(range: &str) -> Option<(usize, u64, u64)> {
    let (from, to) = range.split_once(':')?;
    let row = |name: &str| name.trim_start_matches(|c: char| !c.is_ascii_digit()).parse().ok();
    let (first, last) = (row(from)?, row(to)?);
    (first < last).then_some((column(from)?, first, last))
}

/// Column from 0 of a cell's name.
fn column(name: &str) -> Option<usize> {
    let letters = name.bytes().take_while(u8::is_ascii_alphabetic);
    let number = letters.fold(0usize, |n, b| {
        n.saturating_mul(26).saturating_add(usize::from(b.to_ascii_uppercase() - b'A') + 1)
    });
    number.checked_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hidden_rows_and_formulas_without_a_value_are_found() {
        let sheet = "<worksheet><cols><col min=\"2\" max=\"3\" hidden=\"1\"/></cols><sheetData><row r=\"2\" hidden=\"1\"><c r=\"A2\"><v>1</v></c></row>\
            <row r=\"3\"><c r=\"AB3\"><f>A1+1</f></c><c r=\"AC3\"><f>A1</f><v>2</v></c>\
            <c r=\"AD3\" t=\"str\"><f>B1</f><v/></c></row></sheetData>\
            <mergeCells><mergeCell ref=\"B4:C6\"/><mergeCell ref=\"A1:D1\"/></mergeCells></worksheet>";
        let marks = read(sheet.as_bytes()).unwrap();
        assert_eq!(marks.hidden, BTreeSet::from([2]));
        assert_eq!(marks.hidden_columns, [(1, 2)]);
        assert_eq!(marks.not_calculated, BTreeSet::from([(3, 27)]));
        assert_eq!(marks.merged, [(1, 4, 6)]);
    }
}
