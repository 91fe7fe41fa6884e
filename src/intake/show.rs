//! Diagnostics as plain text, with the line at fault and a caret. Others may style them better;
//! nobody needs to.

use std::fmt::Write as _;

use unicode_width::UnicodeWidthStr;

use crate::model::is_unseen;

use super::diagnostic::Diagnostic;
use super::workbook::{cell_name, is_workbook_name};

/// Text of a stranger's file, safe to show on a terminal: control characters, direction marks
/// and invisible characters become visible escapes.
pub fn tame(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        let hostile = c.is_control() || is_unseen(c);
        if c == '\t' {
            out.push(' ');
        } else if hostile {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
    }
    out
}

/// One diagnostic as a few lines of text.
pub fn show(d: &Diagnostic) -> String {
    let mut out = format!("{}: {}\n  in {}", d.severity, tame(&d.message), tame(&d.file));
    match (&d.sheet, d.row, &d.column) {
        (Some(sheet), Some(row), Some(c)) if is_workbook_name(&d.file) => {
            let _ =
                write!(out, ", {} \"{}\"", tame(&cell_name(sheet, c.number, row)), tame(&c.name));
        }
        (sheet, row, column) => {
            if let Some(sheet) = sheet {
                let _ = write!(out, ", sheet \"{}\"", tame(sheet));
            }
            if let Some(row) = row {
                let _ = write!(out, ", row {row}");
            }
            if let Some(c) = column {
                let _ = write!(out, ", column {} \"{}\"", c.number, tame(&c.name));
            }
        }
    }
    out.push('\n');
    if let Some(x) = &d.excerpt {
        let before = tame(&x.text.chars().take(x.from).collect::<String>());
        let at = tame(&x.text.chars().skip(x.from).take(x.len).collect::<String>());
        let after = tame(&x.text.chars().skip(x.from + x.len).collect::<String>());
        let number = d.row.map_or_else(String::new, |r| r.to_string());
        let gutter = " ".repeat(number.len());
        let _ = writeln!(out, "  {number} | {before}{at}{after}");
        if x.len > 0 {
            let _ = writeln!(
                out,
                "  {gutter} | {}{}",
                " ".repeat(before.width()),
                "^".repeat(at.width().max(1))
            );
        }
    } else if let Some(value) = &d.value {
        let _ = writeln!(out, "  value \"{}\"", tame(value));
    }
    if let Some(help) = &d.help {
        let _ = writeln!(out, "  help: {}", tame(help));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::diagnostic::Excerpt;
    use super::*;

    #[test]
    fn points_at_the_cell_and_escapes_what_is_hostile() {
        let mut d = Diagnostic::error("mill\u{1b}[2J.csv", "'6.5 in' is larger than the body")
            .at_row(12)
            .in_column(3, "id [in]")
            .value("6.5")
            .help("write the bore, less than the outside diameter");
        d.excerpt =
            Some(Excerpt { text: "K1\u{202e}\u{2013}7 | 5 | 6.5".into(), from: 11, len: 3 });
        assert_eq!(
            show(&d),
            "error: '6.5 in' is larger than the body\n  \
             in mill\\u{1b}[2J.csv, row 12, column 3 \"id [in]\"\n  \
             12 | K1\\u{202e}–7 | 5 | 6.5\n     |                   ^^^\n  \
             help: write the bore, less than the outside diameter\n"
        );
    }
}
