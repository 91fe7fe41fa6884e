//! The sheets that are there to be read: how to fill in, limits and their sources, words.

use rust_xlsxwriter::{Worksheet, XlsxError};

use crate::intake::FOR_READING;
use crate::model::{Class, Method, Place, Vocabulary};
use crate::report::sheet::{Choice, InspectionSheet, sheet_value};
use crate::units::{Measure, UnitSystem};

use super::fill::group_letter;
use super::{FILL, LIMITS, Layout, WORDS, look};

/// Row of the first word on the sheet of words, counted from 0.
pub(super) const FIRST_WORD: u32 = 3;
/// Columns of the words for tube, pin and box.
pub(super) const FINDING_COLUMNS: [u16; 3] = [0, 3, 6];
/// Column of the classes.
pub(super) const CLASS_COLUMN: u16 = 9;
const PLACE_COLUMN: u16 = 11;
pub(super) const METHOD_COLUMN: u16 = 13;

/// How the sheet is filled in and taken back, and the cautions of the work.
pub(super) fn how(ws: &mut Worksheet, sheet: &InspectionSheet) -> Result<(), XlsxError> {
    ws.set_screen_gridlines(false);
    ws.set_column_width(0, 3)?;
    ws.set_column_width(1, 108)?;
    let title = format!("{FOR_READING}: how to fill in the sheet {FILL}");
    ws.write_string_with_format(0, 0, title, &look::title())?;
    let (unit, example) = match sheet.units {
        UnitSystem::Us => ("inches", "6.094 or 6 3/32; below one inch 0.031 or 0 1/32"),
        UnitSystem::Metric => ("millimetres", "154.8"),
    };
    let mut row = 2;
    let mut section = |heading: &str, lines: &[String]| -> Result<(), XlsxError> {
        ws.write_string_with_format(row, 0, heading, &look::heading())?;
        row += 1;
        for line in lines {
            ws.write_string_with_format(row, 0, "–", &look::paragraph())?;
            ws.write_string_with_format(row, 1, line, &look::paragraph())?;
            // A wrapped cell does not grow by itself in every spreadsheet.
            let lines = u16::try_from(line.chars().count() / 112 + 1).unwrap_or(1);
            ws.set_row_height(row, f64::from(lines) * 14.0)?;
            row += 1;
        }
        row += 1;
        Ok(())
    };
    section(
        "Filling in",
        &[
            "Write in the white columns. The grey ones are what the book knows: the size of the \
             joint (its letter stands over the limits), its class now, its last reading, findings \
             that are still open, restrictions that it carries, and whether it is fit to run as it \
             stands, with each search for cracks."
                .to_owned(),
            format!(
                "Readings are in {unit}: {example}. A spreadsheet takes 3/32 alone for a date. Of \
                 several readings write the worst."
            ),
            "Leave empty what was not measured. Empty is never read as zero, and a class that \
             needs a reading which nobody took is not given."
                .to_owned(),
            "Findings: choose a word or write it. Several have a semicolon between them; a size \
             stands behind its finding with its unit, and then how it runs or where it is: slip \
             cut 0.04 in across; shoulder nick 0.02 in 15 %; dent 4.85 in at 12 ft. Where you \
             looked and found nothing, write how you looked under Methods used."
                .to_owned(),
            "More room: write the serial again in a line below the last joint. Lines of one joint \
             and day are one inspection."
                .to_owned(),
            format!(
                "Methods used are yours to state: once above the limits for every joint of which \
                 something is entered, or in the joint's own line, to the right of the printed \
                 part, where they differ. Beside it stand in grey those that the sheet was made \
                 for; they count for nothing. A line in which nothing is entered is a joint that \
                 was not looked at. A look by eye sets back no wall or crack clock, and no cracks by a method \
                 that cannot see them is not measured. Words on the sheet {WORDS}."
            ),
            "Class is the inspector's own; the book keeps it beside the one that it works out. \
             Paint is what is seen; it gives no class."
                .to_owned(),
        ],
    )?;
    section(
        "Colours",
        &[
            "Yellow: beyond the limit for Premium. Orange: beyond the limit for Class 2. Red: \
             beyond a limit that holds in every class."
                .to_owned(),
            format!(
                "A colour looks at one reading alone, and only at numbers. The verdict comes when \
                 the sheet is taken in. Limits of each joint, with their sources: sheet {LIMITS}."
            ),
        ],
    )?;
    section(
        "Taking it back",
        &["Save as an .xlsx workbook and take it in: pipelore load FILE.xlsx. What cannot be \
             read is named by sheet and cell, and nothing is taken in until it is right."
            .to_owned()],
    )?;
    let cautions: Vec<String> = sheet.cautions.iter().map(|c| (*c).to_owned()).collect();
    section("Cautions", &cautions)?;
    const A4: u8 = 9;
    ws.set_paper_size(A4).set_print_fit_to_pages(1, 0);
    Ok(())
}

/// The limits of each joint, row by row as on the sheet to fill in, and where they come from.
pub(super) fn limits(
    ws: &mut Worksheet,
    sheet: &InspectionSheet,
    l: &Layout,
) -> Result<(), XlsxError> {
    let title = format!("{FOR_READING}: limits of each joint, {}", sheet.limits);
    ws.write_string_with_format(0, 0, title, &look::title())?;
    let remark = "The cells of the sheet Inspection turn by these numbers. A reading that keeps a \
                  number keeps the limit. Sources stand below the last joint.";
    ws.write_string_with_format(1, 0, remark, &look::remark())?;
    ws.set_column_width(0, 9.5)?;
    ws.set_column_width(1, 5)?;
    ws.write_string_with_format(l.header, 0, "joint", &look::header(false))?;
    ws.write_string_with_format(l.header, 1, "size", &look::header(false))?;
    for (n, column) in (0u16..).zip(&sheet.columns) {
        let at = Layout::limits(n);
        let name = column.title(sheet.units);
        ws.merge_range(l.header - 1, at, l.header - 1, at + 3, &name, &look::band())?;
        for (k, title) in (0u16..).zip(["Premium", "Class 2", "least", "most"]) {
            ws.write_string_with_format(l.header, at + k, title, &look::header(false))?;
            ws.set_column_width(at + k, 7.5)?;
        }
    }
    for (row, line) in (l.first..).zip(&sheet.rows) {
        ws.write_string_with_format(row, 0, &line.serial, &look::grid_text())?;
        ws.write_string_with_format(row, 1, group_letter(line.group), &look::grid_known())?;
        let Some(group) = sheet.groups.get(line.group) else { continue };
        for (n, (column, limits)) in (0u16..).zip(sheet.columns.iter().zip(&group.limits)) {
            let format = look::grid_fill(&exact(column.measure(), sheet.units));
            let applies = line.applies.get(usize::from(n)).copied().unwrap_or(false);
            let class = |c: Option<crate::report::sheet::ClassLimit>| c.map(|c| c.at);
            for (k, limit) in (0u16..).zip([
                class(limits.premium),
                class(limits.class_2),
                limits.least,
                limits.most,
            ]) {
                let at = Layout::limits(n) + k;
                match limit.filter(|_| applies) {
                    Some(q) => {
                        let value = sheet_value(q, column.measure(), sheet.units);
                        ws.write_number_with_format(row, at, value, &format)?;
                    }
                    None => {
                        ws.write_blank(row, at, &format)?;
                    }
                }
            }
        }
    }
    ws.set_freeze_panes(l.first, 1)?;
    let mut row = l.end() + 1;
    ws.write_string_with_format(row, 0, "Sizes", &look::heading())?;
    row += 1;
    for (n, group) in sheet.groups.iter().enumerate() {
        let text = format!("{}  {}", group_letter(n), group.name);
        ws.write_string_with_format(row, 0, text, &look::text())?;
        row += 1;
    }
    row += 1;
    ws.write_string_with_format(row, 0, "Where the limits come from", &look::heading())?;
    row += 1;
    for source in &sheet.sources {
        ws.write_string_with_format(row, 0, source, &look::text())?;
        row += 1;
    }
    ws.write_string_with_format(row, 0, crate::condition::DEFERENCE, &look::text())?;
    const A4: u8 = 9;
    ws.set_landscape().set_paper_size(A4).set_print_fit_to_pages(1, 0);
    Ok(())
}

/// Digits of a limit: one more than a reading shows, so that rounding hides nothing.
fn exact(measure: Measure, units: UnitSystem) -> String {
    format!("0.{}", "0".repeat(measure.decimals(units) + 1))
}

/// The words that can be chosen.
pub(super) fn words(ws: &mut Worksheet, sheet: &InspectionSheet) -> Result<(), XlsxError> {
    let title = format!("{FOR_READING}: words of the catalogue");
    ws.write_string_with_format(0, 0, title, &look::title())?;
    let lists: [(&str, &[Choice]); 3] = [
        ("found on the tube", &sheet.tube),
        ("found on the pin", &sheet.pin),
        ("found on the box", &sheet.box_),
    ];
    for (column, (title, choices)) in FINDING_COLUMNS.into_iter().zip(lists) {
        ws.set_column_width(column, 24)?;
        ws.set_column_width(column + 1, 60)?;
        ws.set_column_width(column + 2, 2)?;
        ws.write_string_with_format(FIRST_WORD - 1, column, title, &look::heading())?;
        ws.write_string_with_format(
            FIRST_WORD - 1,
            column + 1,
            "what it is; what to measure",
            &look::heading(),
        )?;
        for (row, choice) in (FIRST_WORD..).zip(choices) {
            ws.write_string_with_format(row, column, &choice.word, &look::text())?;
            ws.write_string_with_format(row, column + 1, &choice.means, &look::text())?;
        }
    }
    let plain = |word: &str| word.replace('_', " ");
    let short: [(u16, &str, f64, Vec<String>); 3] = [
        (CLASS_COLUMN, "class", 12.0, Class::ALL.iter().map(|c| plain(c.word())).collect()),
        (PLACE_COLUMN, "place", 16.0, Place::ALL.iter().map(|p| plain(p.word())).collect()),
        (METHOD_COLUMN, "method", 26.0, Method::ALL.iter().map(|m| plain(m.word())).collect()),
    ];
    for (column, title, width, words) in short {
        ws.set_column_width(column, width)?;
        ws.write_string_with_format(FIRST_WORD - 1, column, title, &look::heading())?;
        for (row, word) in (FIRST_WORD..).zip(words) {
            ws.write_string_with_format(row, column, &word, &look::text())?;
        }
    }
    ws.set_freeze_panes(FIRST_WORD, 0)?;
    const A4: u8 = 9;
    ws.set_landscape().set_paper_size(A4).set_print_fit_to_pages(1, 0);
    Ok(())
}
