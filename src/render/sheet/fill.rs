//! The sheet to fill in.

use rust_xlsxwriter::{
    Color, ConditionalFormatFormula, DataValidation, Format, Formula, Worksheet, XlsxError,
};

use crate::condition::{DEFERENCE, Part};
use crate::model::{Class, Method, Vocabulary};
use crate::report::sheet::{ColumnLimits, InspectionSheet, SheetRow, sheet_value};

use super::reference::{CLASS_COLUMN, FINDING_COLUMNS, FIRST_WORD, METHOD_COLUMN};
use super::{HEAD, LIMITS, Layout, WORDS, letters, look};

/// Columns after the readings: title, width, whether it is printed.
const AFTER: [(&str, f64, bool); 9] = [
    ("open before", 9.0, true),
    ("Tube found", 10.0, true),
    ("Pin found", 10.0, true),
    ("Box found", 10.0, true),
    ("Class", 6.2, true),
    ("Paint", 6.2, true),
    ("Remark", 10.0, true),
    ("Methods used", 44.0, false),
    ("planned", 60.0, false),
];

/// Place of a column among those after the readings.
const OPEN: u16 = 0;
const TUBE: u16 = 1;
const CLASS: u16 = 4;
const METHODS: u16 = 7;
const PLANNED: u16 = 8;

pub(super) fn write(
    ws: &mut Worksheet,
    sheet: &InspectionSheet,
    l: &Layout,
) -> Result<(), XlsxError> {
    ws.set_screen_gridlines(false);
    widths(ws, l)?;
    head(ws, sheet, l)?;
    limits(ws, sheet, l)?;
    titles(ws, sheet, l)?;
    for (row, line) in (l.first..).zip(&sheet.rows) {
        joint(ws, sheet, l, row, Some(line))?;
    }
    for row in l.first + l.joints..l.end() {
        joint(ws, sheet, l, row, None)?;
    }
    lists(ws, sheet, l)?;
    broken_limits(ws, sheet, l)?;
    page(ws, sheet, l)
}

fn widths(ws: &mut Worksheet, l: &Layout) -> Result<(), XlsxError> {
    ws.set_column_width(0, 9.0)?;
    ws.set_column_width(1, 1.8)?;
    ws.set_column_width(2, 5.6)?;
    for n in 0..l.count {
        ws.set_column_width(l.last(n), 4.0)?;
        ws.set_column_width(l.fill(n), 5.4)?;
    }
    for (n, (_, width, _)) in (0u16..).zip(AFTER) {
        ws.set_column_width(l.after() + n, width)?;
    }
    Ok(())
}

/// The title, and what is written once for the whole sheet.
fn head(ws: &mut Worksheet, sheet: &InspectionSheet, l: &Layout) -> Result<(), XlsxError> {
    ws.write_string_with_format(0, 0, &sheet.title, &look::title())?;
    ws.set_row_height(0, 20)?;
    let h = &sheet.head;
    let rows: [(u32, [(&str, &str); 3]); 2] = [
        (1, [("Date:", &h.date), ("Inspector:", &h.inspector), ("Firm:", &h.firm)]),
        (2, [("Report:", &h.report), ("Standard:", &h.standard), ("Instrument:", &h.instrument)]),
    ];
    // Three labels with their values, as wide as the grid allows.
    let last = l.after() + METHODS - 1;
    let step = (last / 3).max(4);
    for (row, pairs) in rows {
        for (n, (label, value)) in (0u16..).zip(pairs) {
            let from = n * step;
            let to = if n == 2 { last } else { from + step - 1 };
            if from + 2 > to {
                continue;
            }
            let label_to = if n == 0 { from } else { from + 1 };
            if label_to > from {
                ws.merge_range(row, from, row, label_to, label, &look::label())?;
            } else {
                ws.write_string_with_format(row, from, label, &look::label())?;
            }
            ws.merge_range(row, label_to + 1, row, to, value, &look::once())?;
        }
        ws.set_row_height(row, 15)?;
    }
    // Said of every joint of which something is entered; nothing stands here until somebody says it.
    ws.merge_range(3, 0, 3, 2, "Methods used:", &look::label())?;
    ws.merge_range(3, 3, 3, last, "", &look::once())?;
    ws.set_row_height(3, 15)?;
    Ok(())
}

/// Today's limits over the columns that they judge.
fn limits(ws: &mut Worksheet, sheet: &InspectionSheet, l: &Layout) -> Result<(), XlsxError> {
    if l.header < HEAD + 3 + 1 {
        return Ok(());
    }
    for (g, group) in (0u32..).zip(&sheet.groups) {
        let row = HEAD + 3 * g;
        let letter = group_letter(g as usize);
        let names = [
            format!("{letter}  Premium"),
            format!("{letter}  Class 2"),
            format!("{letter}  any class"),
        ];
        for (n, name) in (0u32..).zip(names) {
            ws.write_string_with_format(row + n, 0, name, &look::limit_name())?;
        }
        for (n, (column, limits)) in (0u16..).zip(sheet.columns.iter().zip(&group.limits)) {
            let digits = look::digits(*column, sheet.units);
            let value = |q| sheet_value(q, column.measure(), sheet.units);
            for (at, class) in [(0, limits.premium), (1, limits.class_2)] {
                if let Some(c) = class {
                    let format = look::limit(&digits, c.least);
                    ws.write_number_with_format(row + at, l.fill(n), value(c.at), &format)?;
                }
            }
            any_class(ws, row + 2, l.fill(n), limits, &digits, value)?;
        }
        let what = l.after();
        ws.write_string_with_format(row, what, &group.name, &look::limit_name())?;
    }
    let about = l.after();
    ws.write_string_with_format(
        HEAD + 1,
        about,
        format!("Limits today: {}; sources on the sheet {LIMITS}", sheet.limits),
        &look::limit_name(),
    )?;
    Ok(())
}

fn any_class(
    ws: &mut Worksheet,
    row: u32,
    column: u16,
    limits: &ColumnLimits,
    digits: &str,
    value: impl Fn(i64) -> f64,
) -> Result<(), XlsxError> {
    let places = digits.len().saturating_sub(2);
    match (limits.least, limits.most) {
        (Some(least), Some(most)) => {
            let text = format!("{:.places$}–{:.places$}", value(least), value(most));
            ws.write_string_with_format(row, column, text, &look::limit_text())?;
        }
        (Some(q), None) => {
            ws.write_number_with_format(row, column, value(q), &look::limit(digits, true))?;
        }
        (None, Some(q)) => {
            ws.write_number_with_format(row, column, value(q), &look::limit(digits, false))?;
        }
        (None, None) => {}
    }
    Ok(())
}

/// `A` for the first group; numbers after the alphabet.
pub(super) fn group_letter(n: usize) -> String {
    crate::intake::column_letters(n + 1)
}

fn titles(ws: &mut Worksheet, sheet: &InspectionSheet, l: &Layout) -> Result<(), XlsxError> {
    let band_row = l.header - 1;
    // Bands over the parts.
    ws.merge_range(band_row, 0, band_row, 2, "Joint", &look::band())?;
    let mut n = 0u16;
    while n < l.count {
        let part = sheet.columns[usize::from(n)].part();
        let alike = sheet.columns[usize::from(n)..].iter().take_while(|c| c.part() == part).count();
        let to = n + u16::try_from(alike).unwrap_or(1) - 1;
        let name = match part {
            Part::Tube | Part::Joint => "Tube",
            Part::Pin => "Pin",
            Part::Box => "Box",
        };
        ws.merge_range(band_row, l.last(n), band_row, l.fill(to), name, &look::band())?;
        n = to + 1;
    }
    let after = l.after();
    ws.merge_range(band_row, after, band_row, after + CLASS - 1, "Found", &look::band())?;
    let methods = after + METHODS;
    ws.merge_range(band_row, after + CLASS, band_row, methods - 1, "Inspector", &look::band())?;
    ws.merge_range(
        band_row,
        methods,
        band_row,
        methods + 1,
        "How it was looked at",
        &look::band(),
    )?;
    // Titles; the reader knows the columns by them.
    ws.write_string_with_format(l.header, 0, "Serial", &look::header(false))?;
    ws.write_string_with_format(l.header, 1, "key", &look::header_last())?;
    ws.write_string_with_format(l.header, 2, "now", &look::header_last())?;
    for (n, column) in (0u16..).zip(&sheet.columns) {
        ws.write_string_with_format(l.header, l.last(n), "last", &look::header_last())?;
        let title = column.title(sheet.units);
        ws.write_string_with_format(l.header, l.fill(n), title, &look::header(true))?;
    }
    for (n, (title, _, _)) in (0u16..).zip(AFTER) {
        let format = if [OPEN, PLANNED].contains(&n) {
            look::header_last().set_rotation(0)
        } else {
            look::header(false)
        };
        ws.write_string_with_format(l.header, after + n, title, &format)?;
    }
    ws.set_row_height(l.header, 88)?;
    ws.set_freeze_panes(l.first, 1)?;
    Ok(())
}

fn joint(
    ws: &mut Worksheet,
    sheet: &InspectionSheet,
    l: &Layout,
    row: u32,
    line: Option<&SheetRow>,
) -> Result<(), XlsxError> {
    let word = |ws: &mut Worksheet, column: u16, text: &str, format: &Format| {
        if text.is_empty() {
            ws.write_blank(row, column, format).map(|_| ())
        } else {
            ws.write_string_with_format(row, column, text, format).map(|_| ())
        }
    };
    let known = look::grid_known();
    let free = look::grid_text();
    word(ws, 0, line.map_or("", |j| &j.serial), &look::grid_text().set_bold())?;
    word(ws, 1, &line.map_or_else(String::new, |j| group_letter(j.group)), &known)?;
    let class = line.and_then(|j| j.class).map_or("", |c| match c {
        Class::Critical => "critical",
        Class::Premium => "premium",
        Class::Class2 => "class 2",
        Class::Class3 => "class 3",
        Class::Scrap => "scrap",
    });
    word(ws, 2, class, &known.clone().set_font_size(7))?;
    for (n, column) in (0u16..).zip(&sheet.columns) {
        let digits = look::digits(*column, sheet.units);
        let at = usize::from(n);
        let applies = line.is_none_or(|j| j.applies.get(at).copied().unwrap_or(false));
        let last = line.and_then(|j| j.last.get(at).copied().flatten());
        if !applies {
            ws.write_blank(row, l.last(n), &look::grid_idle())?;
            ws.write_blank(row, l.fill(n), &look::grid_idle())?;
            continue;
        }
        let before = look::grid_last(&digits);
        match last {
            Some(q) => {
                let value = sheet_value(q, column.measure(), sheet.units);
                ws.write_number_with_format(row, l.last(n), value, &before)?;
            }
            None => {
                ws.write_blank(row, l.last(n), &before)?;
            }
        }
        ws.write_blank(row, l.fill(n), &look::grid_fill(&digits))?;
    }
    let after = l.after();
    let open = line.map_or_else(String::new, |j| {
        j.open.iter().chain(&j.restrictions).chain([&j.fit]).cloned().collect::<Vec<_>>().join("; ")
    });
    word(ws, after + OPEN, &open, &look::grid_known().set_font_size(6.5).set_text_wrap())?;
    for n in OPEN + 1..=METHODS {
        ws.write_blank(row, after + n, &free)?;
    }
    let planned = line.map_or_else(String::new, |j| {
        j.methods.iter().map(|m| m.word().replace('_', " ")).collect::<Vec<_>>().join("; ")
    });
    word(ws, after + PLANNED, &planned, &look::grid_known().set_font_size(6.5))?;
    // What wraps needs a taller row; a spreadsheet does not always see that by itself.
    let lines = open.chars().count() / 13 + 1;
    ws.set_row_height(row, (8.0 * lines as f64 + 4.0).max(15.0))?;
    Ok(())
}

/// Lists to choose from. Other words can be written: several findings in a cell, a size behind one.
fn lists(ws: &mut Worksheet, sheet: &InspectionSheet, l: &Layout) -> Result<(), XlsxError> {
    let range = |column: u16, count: usize| {
        let c = letters(column);
        let first = FIRST_WORD + 1;
        let last = FIRST_WORD as usize + count.max(1);
        Formula::new(format!("={WORDS}!${c}${first}:${c}${last}"))
    };
    let after = l.after();
    for (n, (column, words)) in
        (TUBE..).zip(FINDING_COLUMNS.iter().zip([&sheet.tube, &sheet.pin, &sheet.box_]))
    {
        let list = DataValidation::new()
            .allow_list_formula(range(*column, words.len()))
            .show_error_message(false)
            .ignore_blank(true);
        ws.add_data_validation(l.first, after + n, l.end() - 1, after + n, &list)?;
    }
    let methods = DataValidation::new()
        .allow_list_formula(range(METHOD_COLUMN, Method::ALL.len()))
        .show_error_message(false)
        .ignore_blank(true);
    ws.add_data_validation(l.first, after + METHODS, l.end() - 1, after + METHODS, &methods)?;
    let classes = DataValidation::new()
        .allow_list_formula(range(CLASS_COLUMN, Class::ALL.len()))
        .set_error_title("Class")?
        .set_error_message("critical, premium, class 2, class 3 or scrap")?
        .ignore_blank(true);
    ws.add_data_validation(l.first, after + CLASS, l.end() - 1, after + CLASS, &classes)?;
    Ok(())
}

/// Cells that turn when a reading breaks a limit of its joint.
fn broken_limits(ws: &mut Worksheet, sheet: &InspectionSheet, l: &Layout) -> Result<(), XlsxError> {
    if l.joints == 0 {
        return Ok(());
    }
    let row = l.first + 1;
    for (n, column) in (0u16..).zip(&sheet.columns) {
        let at = usize::from(n);
        let value = format!("${}{row}", letters(l.fill(n)));
        let limit = |k: u16| format!("{LIMITS}!${}{row}", letters(Layout::limits(n) + k));
        let broken = |k: u16, sign: char| {
            let limit = limit(k);
            format!("AND(ISNUMBER({value}),ISNUMBER({limit}),{value}{sign}{limit})")
        };
        let class_sign = |of: &dyn Fn(&ColumnLimits) -> Option<bool>| {
            let least = sheet.groups.iter().filter_map(|g| g.limits.get(at)).find_map(of);
            least.map(|least| if least { '<' } else { '>' })
        };
        let mut rules: Vec<(String, u32)> =
            vec![(format!("=OR({},{})", broken(2, '<'), broken(3, '>')), look::BEYOND)];
        if let Some(sign) = class_sign(&|c| c.class_2.map(|x| x.least)) {
            rules.push((format!("={}", broken(1, sign)), look::CLASS_3));
        }
        if let Some(sign) = class_sign(&|c| c.premium.map(|x| x.least)) {
            rules.push((format!("={}", broken(0, sign)), look::CLASS_2));
        }
        for (rule, colour) in rules {
            let mut format = Format::new().set_background_color(Color::RGB(colour)).set_bold();
            if colour == look::BEYOND {
                format = format.set_font_color(Color::RGB(0x7A_12_12));
            }
            let rule = ConditionalFormatFormula::new()
                .set_rule(rule.as_str())
                .set_format(format)
                .set_stop_if_true(true);
            let _ = column;
            ws.add_conditional_format(l.first, l.fill(n), l.end() - 1, l.fill(n), &rule)?;
        }
    }
    Ok(())
}

fn page(ws: &mut Worksheet, sheet: &InspectionSheet, l: &Layout) -> Result<(), XlsxError> {
    const A4: u8 = 9;
    ws.set_landscape()
        .set_paper_size(A4)
        .set_print_fit_to_pages(1, 0)
        .set_margins(0.4, 0.4, 0.4, 0.55, 0.2, 0.25);
    ws.set_repeat_rows(l.header - 1, l.header)?;
    let printed = AFTER.iter().filter(|a| a.2).count();
    let last = l.after() + u16::try_from(printed).unwrap_or(1) - 1;
    ws.set_print_area(0, 0, l.end() - 1, last)?;
    // An ampersand is a code in a footer.
    let title = sheet.title.replace('&', "&&");
    ws.set_footer(format!("&L&7{title}&C&7{DEFERENCE}&R&7page &P of &N"));
    Ok(())
}
