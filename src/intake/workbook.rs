//! Workbooks (Office Open XML) as rows of cells. A cell becomes the text that a person would have
//! written: a number as a number, a percentage with its sign, a date as a date.

use crate::model::DAY_MS;
use std::collections::BTreeSet;
use std::io::Cursor;

use calamine::{
    Cell, CellErrorType, DataRef, ExcelDateTime, Reader, SheetType, SheetVisible, Xlsx, XlsxError,
};

use super::ask::Question;
use super::diagnostic::{Diagnostic, Diagnostics};
use super::marks::{Marks, Places};
use super::options::Hidden;
use super::resolve::spans;
use super::table::RawRow;

/// Begins the first cell of a sheet that is there to be read by people: nothing is taken in from
/// it.
pub const FOR_READING: &str = "For reading";

/// Bytes that a workbook may unpack to.
const LARGEST: u64 = 512 * 1024 * 1024;
/// Rows of a sheet that are looked at.
const ROWS: u32 = 200_000;
/// Columns of a sheet that are looked at.
const COLUMNS: u32 = 1_000;

/// A sheet with something in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Sheet {
    pub name: String,
    /// Its rows, numbered as the sheet numbers them, from column A.
    pub rows: Vec<RawRow>,
    /// Rows that are hidden and hold something.
    hidden: Vec<u64>,
    /// Cells that are struck through in a row that is not, and formulas that nobody calculated.
    doubtful: Vec<(String, &'static str)>,
    /// What was left out.
    pub notes: Vec<String>,
}

/// What is said of a cell whose formula has no value.
const NOT_CALCULATED: &str = "holds a formula without a value";
/// What is said of a cell that is struck through.
const STRUCK: &str = "is struck through";

impl Sheet {
    /// Its rows, once it is known what becomes of those that are hidden, and nothing is in doubt.
    pub(super) fn sound(
        mut self,
        file: &str,
        hidden: Option<Hidden>,
        diagnostics: &mut Diagnostics,
    ) -> Option<Vec<RawRow>> {
        let mut wrong = |message: String, help: &str| {
            let d = Diagnostic::error(file, message).in_sheet(Some(&self.name));
            diagnostics.push(d.help(help));
        };
        let before = self.doubtful.len();
        for (what, help) in [
            (
                NOT_CALCULATED,
                "open the workbook, let it calculate and save it, or write the value in the cell",
            ),
            (STRUCK, "does it count? clear the cell, or take the line through it away"),
        ] {
            let cells: Vec<&str> =
                self.doubtful.iter().filter(|d| d.1 == what).map(|d| d.0.as_str()).collect();
            if let [first, rest @ ..] = cells.as_slice() {
                let more = match rest.len() {
                    0 => String::new(),
                    n => format!(", and {n} more cells"),
                };
                wrong(format!("{first} {what}{more}"), help);
            }
        }
        match hidden {
            _ if self.hidden.is_empty() => {}
            None => {
                let message = format!("hidden and not empty: {}", spans(&self.hidden));
                diagnostics.push(
                    Diagnostic::error(file, message)
                        .in_sheet(Some(&self.name))
                        .help(
                            "do they count? --hidden take reads them like the others, --hidden leave \
                             leaves them out",
                        )
                        .asks(Question::hidden()),
                );
                return None;
            }
            Some(Hidden::Take) => {}
            Some(Hidden::Leave) => {
                self.rows.retain(|r| self.hidden.binary_search(&r.number).is_err());
            }
        }
        (before == 0).then_some(self.rows)
    }
}

/// What a workbook holds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Workbook {
    /// Sheets to take in.
    pub sheets: Vec<Sheet>,
    /// Sheets left out, and why.
    pub notes: Vec<String>,
}

/// True for a file that begins like a workbook.
pub(super) fn is_workbook(first: &[u8]) -> bool {
    first.starts_with(b"PK\x03\x04")
}

/// True for the name of a workbook: its cells are named as `Sheet!F14`.
pub fn is_workbook_name(name: &str) -> bool {
    name.rsplit_once('.')
        .is_some_and(|(_, e)| ["xlsx", "xlsm"].iter().any(|known| e.eq_ignore_ascii_case(known)))
}

/// True for older or other kinds of spreadsheet that are not read.
pub(super) fn is_other_spreadsheet(first: &[u8]) -> bool {
    first.starts_with(&[0xd0, 0xcf, 0x11, 0xe0])
}

/// Letters of a column counted from 1: 1 is A, 27 is AA.
pub fn column_letters(number: usize) -> String {
    let mut n = number;
    let mut out = Vec::new();
    while n > 0 {
        let digit = u8::try_from((n - 1) % 26).unwrap_or(0);
        out.push(char::from(b'A' + digit));
        n = (n - 1) / 26;
    }
    out.iter().rev().collect()
}

/// Name of a cell as the spreadsheet has it: `Inspection!F14`, `'Box ends'!F14`.
pub fn cell_name(sheet: &str, column: usize, row: u64) -> String {
    let plain = sheet.chars().all(|c| c.is_ascii_alphanumeric() || c == '_');
    if plain {
        format!("{sheet}!{}{row}", column_letters(column))
    } else {
        format!("'{}'!{}{row}", sheet.replace('\'', "''"), column_letters(column))
    }
}

/// Reads a workbook. Whatever stands in it, this ends with its cells or with an error: what the
/// library cannot count (a column of twenty letters) has it give up, not us.
pub(super) fn read(name: &str, bytes: &[u8]) -> Result<Workbook, Box<Diagnostic>> {
    std::panic::catch_unwind(|| unpacked(name, bytes)).unwrap_or_else(|_| {
        let message = "the workbook cannot be read: it names cells that no sheet has";
        Err(Box::new(
            Diagnostic::error(name, message.to_owned())
                .help("save it again from the spreadsheet, as an .xlsx workbook"),
        ))
    })
}

fn unpacked(name: &str, bytes: &[u8]) -> Result<Workbook, Box<Diagnostic>> {
    let wrong = |message: String| Diagnostic::error(name, message);
    let damaged = |e: &zip::result::ZipError| {
        wrong(format!("the file begins like a workbook and cannot be unpacked: {e}"))
            .help("save it again from the spreadsheet, as an .xlsx workbook")
    };
    let mut parts = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|e| damaged(&e))?;
    let mut total = 0u64;
    for part in 0..parts.len() {
        let size = parts.by_index_raw(part).map_err(|e| damaged(&e))?.size();
        total = total.saturating_add(size);
    }
    if total > LARGEST {
        return Err(Box::new(
            wrong("the workbook unpacks to more than 512 MiB".to_owned()).help(
                "leave out sheets and pictures that are not needed, or save the sheet as CSV",
            ),
        ));
    }
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(|e| unreadable(name, &e))?;
    let mut out = Workbook::default();
    for sheet in book.sheets_metadata().to_vec() {
        let title = sheet.name.clone();
        if sheet.typ != SheetType::WorkSheet {
            continue;
        }
        if sheet.visible != SheetVisible::Visible {
            out.notes.push(format!("sheet '{title}' is hidden and was not read"));
            continue;
        }
        let (rows, struck, coloured) = rows(name, &mut book, &title)?;
        let first = rows.iter().flat_map(|r| &r.cells).find(|c| !c.trim().is_empty());
        match first {
            None => {}
            Some(cell) if cell.trim_start().starts_with(FOR_READING) => {}
            Some(_) => {
                let marks = Marks::of(&mut parts, &title);
                out.sheets.push(sheet_of(title, rows, (&struck, &coloured), &marks));
            }
        }
    }
    if out.sheets.is_empty() {
        return Err(Box::new(
            wrong("the workbook has no sheet to take in".to_owned())
                .help("every sheet is empty, hidden, or says that it is for reading only"),
        ));
    }
    Ok(out)
}

/// A sheet of its cells and of what is marked in it: a row that is struck through is no part of it.
fn sheet_of(
    name: String,
    mut rows: Vec<RawRow>,
    (struck, coloured): (&Places, &BTreeSet<u64>),
    marks: &Marks,
) -> Sheet {
    let is_struck = |row: u64, at: usize| struck.contains(&(row, at));
    let mut doubtful: Vec<(String, &'static str)> = marks
        .not_calculated
        .iter()
        .map(|(row, at)| (cell_name(&name, at + 1, *row), NOT_CALCULATED))
        .collect();
    let mut out = Vec::new();
    rows.retain(|row| {
        let filled = row.cells.iter().enumerate().filter(|(_, c)| !c.is_empty()).map(|(at, _)| at);
        let (through, whole): (Vec<usize>, Vec<usize>) =
            filled.partition(|at| is_struck(row.number, *at));
        if whole.is_empty() && !through.is_empty() {
            out.push(row.number);
            return false;
        }
        doubtful.extend(through.iter().map(|at| (cell_name(&name, at + 1, row.number), STRUCK)));
        true
    });
    let mut merged = marks.merged.clone();
    merged.sort_unstable();
    // Merged cells do not lie over one another in a sheet that a spreadsheet wrote.
    merged.dedup_by(|next, before| next.0 == before.0 && next.1 <= before.2);
    for (column, first, last) in merged {
        let from = rows.partition_point(|r| r.number <= first);
        let below = rows.iter_mut().skip(from).take_while(|r| r.number <= last);
        below.for_each(|r| r.merged.push((column, first)));
    }
    let mut notes = Vec::new();
    if !marks.comments.is_empty() {
        notes.push(format!("comments on cells are not read: {}", shortened(&marks.comments)));
    }
    // Where most rows have a colour it is how the table looks.
    let coloured: Vec<u64> = coloured.iter().filter(|n| !out.contains(n)).copied().collect();
    if !coloured.is_empty() && coloured.len() * 3 <= rows.len() {
        notes.push(format!("coloured, and read like the others: {}", spans(&coloured)));
    }
    if !out.is_empty() {
        notes.push(format!("struck through and left out: {}", spans(&out)));
    }
    let width = rows.iter().map(|r| r.cells.len()).max().unwrap_or(0);
    let columns = marks.hidden_columns.iter().flat_map(|(from, to)| *from..=(*to).min(width));
    let is_filled = |at: usize| rows.iter().any(|r| r.cells.get(at).is_some_and(|c| !c.is_empty()));
    let columns: Vec<String> =
        columns.filter(|at| is_filled(*at)).map(|at| column_letters(at + 1)).collect();
    if !columns.is_empty() {
        notes.push(format!("hidden, and read like the others: column {}", columns.join(", ")));
    }
    let hidden = rows.iter().map(|r| r.number).filter(|n| marks.hidden.contains(n)).collect();
    Sheet { name, rows, hidden, doubtful, notes }
}

fn unreadable(name: &str, e: &XlsxError) -> Box<Diagnostic> {
    let d = Diagnostic::error(name, format!("the workbook cannot be read: {e}"));
    Box::new(match e {
        XlsxError::Password => d.help("save a copy without its password, and take that in"),
        _ => d.help("save it again from the spreadsheet, as an .xlsx workbook"),
    })
}

fn rows(
    name: &str,
    book: &mut Xlsx<Cursor<&[u8]>>,
    sheet: &str,
) -> Result<(Vec<RawRow>, Places, BTreeSet<u64>), Box<Diagnostic>> {
    let trouble = |e: &XlsxError| {
        let mut d = unreadable(name, e);
        d.sheet = Some(sheet.to_owned());
        d
    };
    let mut reader = book.worksheet_cells_reader(sheet).map_err(|e| trouble(&e))?;
    let percent: Vec<bool> = reader
        .styles()
        .iter()
        .map(|s| s.number_format.as_ref().is_some_and(|f| is_percent(&f.format_code)))
        .collect();
    let through: Vec<bool> = reader
        .styles()
        .iter()
        .map(|s| s.font.as_ref().is_some_and(calamine::Font::has_strikethrough))
        .collect();
    let filled: Vec<bool> = reader
        .styles()
        .iter()
        .map(|s| {
            s.fill.as_ref().is_some_and(|f| f.is_visible() && !f.get_color().is_some_and(is_white))
        })
        .collect();
    let (mut struck, mut coloured) = (Places::new(), BTreeSet::new());
    let mut rows: Vec<RawRow> = Vec::new();
    while let Some((cell, style)) = reader.next_cell_with_style_id().map_err(|e| trouble(&e))? {
        let text = text(&cell, percent.get(style).copied().unwrap_or(false));
        if text.is_empty() {
            continue;
        }
        let (row, column) = cell.get_position();
        if row >= ROWS || column >= COLUMNS {
            return Err(Box::new(
                Diagnostic::error(
                    name,
                    format!("a sheet may have {ROWS} rows and {COLUMNS} columns"),
                )
                .in_sheet(Some(sheet))
                .at_row(u64::from(row) + 1)
                .in_column(column as usize + 1, "")
                .help("clear what stands so far out, or save the sheet as CSV"),
            ));
        }
        let (number, at) = (u64::from(row) + 1, column as usize);
        let is_figure = text.starts_with(|c: char| c.is_ascii_digit());
        if is_figure && filled.get(style).copied().unwrap_or(false) {
            coloured.insert(number);
        }
        if through.get(style).copied().unwrap_or(false) {
            struck.insert((number, at));
        }
        // Cells come row by row; a workbook that mixes them is still read right.
        let place = match rows.last() {
            Some(last) if last.number == number => rows.len() - 1,
            Some(last) if last.number > number => {
                match rows.binary_search_by_key(&number, |r| r.number) {
                    Ok(i) => i,
                    Err(i) => {
                        rows.insert(i, RawRow::new(number, Vec::new()));
                        i
                    }
                }
            }
            _ => {
                rows.push(RawRow::new(number, Vec::new()));
                rows.len() - 1
            }
        };
        let cells = &mut rows[place].cells;
        if cells.len() <= at {
            cells.resize(at + 1, String::new());
        }
        cells[at] = text;
    }
    // Empty cells at the end of a row are not written; rows below a header have its width.
    let width = rows.iter().map(|r| r.cells.len()).max().unwrap_or(0);
    for row in &mut rows {
        row.cells.resize(width, String::new());
    }
    Ok((rows, struck, coloured))
}

fn is_white(colour: calamine::Color) -> bool {
    (colour.red, colour.green, colour.blue) == (255, 255, 255)
}

/// Names, the first of many.
fn shortened(names: &[String]) -> String {
    let first = names.iter().take(12).map(String::as_str).collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(12) {
        0 => first,
        more => format!("{first} and {more} more"),
    }
}

/// Whether a number format shows percent: a sign outside quotation marks.
fn is_percent(code: &str) -> bool {
    let mut quoted = false;
    let mut escaped = false;
    for c in code.chars() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => quoted = !quoted,
            '%' if !quoted => return true,
            _ => {}
        }
    }
    false
}

fn text(cell: &Cell<DataRef<'_>>, percent: bool) -> String {
    match cell.get_value() {
        DataRef::Empty => String::new(),
        DataRef::String(s) => s.trim().to_owned(),
        DataRef::SharedString(s) => s.trim().to_owned(),
        DataRef::Int(n) if percent => format!("{} %", number(*n as f64 * 100.0)),
        DataRef::Int(n) => n.to_string(),
        DataRef::Float(x) if percent => format!("{} %", number(x * 100.0)),
        DataRef::Float(x) => number(*x),
        DataRef::Bool(b) => (if *b { "yes" } else { "no" }).to_owned(),
        DataRef::DateTime(t) => date(t),
        DataRef::DateTimeIso(t) | DataRef::DurationIso(t) => {
            t.trim_end_matches("T00:00:00").to_owned()
        }
        DataRef::Error(e) => error(e).to_owned(),
    }
}

/// A number of so many digits a spreadsheet no longer keeps whole.
const ROUNDED: f64 = 1e15;

/// A number to the fifteen digits that a spreadsheet keeps; without an exponent, unless digits are gone.
fn number(x: f64) -> String {
    if !x.is_finite() {
        return x.to_string();
    }
    let shown = format!("{x:.14e}");
    if x.abs() >= ROUNDED {
        return shown.replace('e', "E+");
    }
    let rounded = shown.parse::<f64>().unwrap_or(x);
    // `Display` writes a float without an exponent, to the shortest text that reads back.
    format!("{rounded}")
}

fn date(t: &ExcelDateTime) -> String {
    if t.is_duration() || t.as_f64() < 1.0 {
        return clock(t.as_f64());
    }
    let (y, m, d, h, min, s, _) = t.to_ymd_hms_milli();
    if (h, min, s) == (0, 0, 0) {
        format!("{y:04}-{m:02}-{d:02}")
    } else {
        format!("{y:04}-{m:02}-{d:02}T{h:02}:{min:02}:{s:02}")
    }
}

/// A time of day or a span, held as days, as hours, minutes and seconds: as a bare number it would be
/// taken for hours.
fn clock(days: f64) -> String {
    let ms = (days * DAY_MS as f64).round();
    if !(0.0..1e13).contains(&ms) {
        return number(days);
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked above")]
    let ms = ms as u64;
    let (h, min, s) = (ms / 3_600_000, ms / 60_000 % 60, ms / 1000 % 60);
    match ms % 1000 {
        0 => format!("{h:02}:{min:02}:{s:02}"),
        rest => format!("{h:02}:{min:02}:{s:02}.{rest:03}"),
    }
}

/// What the spreadsheet shows for a formula that failed.
const fn error(e: &CellErrorType) -> &'static str {
    match e {
        CellErrorType::Div0 => "#DIV/0!",
        CellErrorType::NA => "#N/A",
        CellErrorType::Name => "#NAME?",
        CellErrorType::Null => "#NULL!",
        CellErrorType::Num => "#NUM!",
        CellErrorType::Ref => "#REF!",
        CellErrorType::Value => "#VALUE!",
        CellErrorType::GettingData => "#GETTING_DATA",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_have_letters() {
        for (n, letters) in [(1, "A"), (6, "F"), (26, "Z"), (27, "AA"), (52, "AZ"), (703, "AAA")] {
            assert_eq!(column_letters(n), letters);
        }
        assert_eq!(cell_name("Inspection", 6, 14), "Inspection!F14");
        assert_eq!(cell_name("Box ends", 6, 14), "'Box ends'!F14");
    }

    #[test]
    fn a_cell_beyond_counting_is_an_error() {
        use std::io::{Read as _, Write as _};

        let mut book = rust_xlsxwriter::Workbook::new();
        book.add_worksheet().write(0, 0, "Serial").unwrap();
        let whole = book.save_to_buffer().unwrap();
        assert!(read("a.xlsx", &whole).is_ok());
        let mut parts = zip::ZipArchive::new(Cursor::new(&whole)).unwrap();
        let mut out = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for n in 0..parts.len() {
            let mut part = parts.by_index(n).unwrap();
            let mut text = String::new();
            part.read_to_string(&mut text).unwrap();
            out.start_file(part.name().unwrap(), zip::write::SimpleFileOptions::default()).unwrap();
            let changed = text.replace("r=\"A1\"", "r=\"ZZZZZZZZZZZZ1\"");
            out.write_all(changed.as_bytes()).unwrap();
        }
        let error = read("a.xlsx", &out.finish().unwrap().into_inner()).unwrap_err();
        assert!(error.message.contains("cannot be read"), "{error:?}");
    }

    #[test]
    fn numbers_are_what_a_person_would_have_written() {
        for (x, text) in [
            (0.1 + 0.2, "0.3"),
            (6.09375, "6.09375"),
            (417.0, "417"),
            (-0.5, "-0.5"),
            (1e-7, "0.0000001"),
            (82.0 * 0.01 * 100.0, "82"),
            (123_456_789_012_345.0, "123456789012345"),
            (12_345_678_901_234_568.0, "1.23456789012346E+16"),
        ] {
            assert_eq!(number(x), text);
        }
    }

    #[test]
    fn a_span_is_shown_in_hours_and_minutes() {
        for (days, text) in [
            (12.5 / 24.0, "12:30:00"),
            (1.25, "30:00:00"),
            (1.0 / 86_400_000.0, "00:00:00.001"),
            (-0.5, "-0.5"),
        ] {
            assert_eq!(clock(days), text);
        }
    }

    #[test]
    fn a_percent_sign_in_quotation_marks_is_text() {
        assert!(is_percent("0.0%") && is_percent("0 %"));
        assert!(!is_percent("0.0\" % of nominal\"") && !is_percent("0\\%"));
    }

    #[test]
    fn what_is_no_workbook_says_so() {
        let e = read("a.xlsx", b"PK\x03\x04 and nothing more").unwrap_err();
        assert!(e.message.contains("cannot be unpacked"), "{}", e.message);
    }
}
