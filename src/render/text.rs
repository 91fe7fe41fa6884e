//! A report for a terminal: fits the width, no borders, the same in a pipe.

use comfy_table::{Cell as TableCell, CellAlignment, ContentArrangement, LineStyle, TableStyle};
use unicode_width::UnicodeWidthStr;

use crate::report::{Bars, Block, Cell, Fact, Report, Table};
use crate::units::UnitSystem;

use super::columns::{BELOW, Laid, Layout};
use super::fold;
use super::safe::for_screen;
use super::value::{is_numeric, show, show_with_unit};

#[derive(Clone, Copy, Debug)]
pub struct Screen {
    /// Columns of the terminal; `None` in a pipe, where nothing is cut or wrapped.
    pub width: Option<usize>,
    pub units: UnitSystem,
}

pub fn render(report: &Report, screen: Screen) -> String {
    let mut out = String::new();
    let sources = report.sources();
    let last = report.blocks.iter().rposition(|b| !b.sources().is_empty());
    let is_silent = |block: &Block| match block {
        Block::Facts { facts, .. } => facts.iter().all(|fact| fact.machine),
        _ => false,
    };
    for (i, block) in report.blocks.iter().enumerate().filter(|(_, block)| !is_silent(block)) {
        let spaced = i > 0 && !matches!(block, Block::Note(_) | Block::Counted(_));
        if spaced && !out.is_empty() && !out.ends_with("\n\n") {
            out.push('\n');
        }
        match block {
            Block::Heading(t) => {
                push_line(&mut out, &for_screen(t));
                push_line(
                    &mut out,
                    &"─".repeat(for_screen(t).width().min(screen.width.unwrap_or(80))),
                );
            }
            Block::Text(t) => wrap(&mut out, "", t, screen),
            Block::Note(t) => wrap(&mut out, "note: ", t, screen),
            Block::Counted(c) if c.says.is_empty() => {}
            Block::Counted(c) => wrap(&mut out, "note: ", &c.says, screen),
            Block::Caution(t) => wrap(&mut out, "caution: ", t, screen),
            Block::Facts { facts, .. } => show_facts(&mut out, facts, &sources, screen),
            Block::Table(t) => show_table(&mut out, t, &sources, screen),
            Block::Bars(b) => show_bars(&mut out, b, screen),
            Block::Chart(c) => super::chart::strip(c, screen)
                .iter()
                .for_each(|line| wrap(&mut out, "", line, screen)),
            Block::Verbatim { lines, .. } => {
                lines.iter().for_each(|l| push_line(&mut out, &for_screen(l)));
            }
            Block::Explained(e) => {
                let text = super::explained::text(e, screen.width, screen.units);
                text.lines().for_each(|l| push_line(&mut out, &for_screen(l)));
            }
        }
        if last == Some(i) {
            out.push('\n');
            show_sources(&mut out, &sources, screen);
        }
    }
    out
}

/// Marks the first line of a row, which may wrap: of no width, and gone before anything is shown.
const ROW_BEGINS: char = '\u{2060}';

/// A number as a raised mark: ¹²³.
fn raised(n: usize) -> String {
    const DIGITS: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    n.to_string().bytes().map(|b| DIGITS[usize::from(b - b'0')]).collect()
}

/// The mark of a source, with the blank before it; nothing without a source.
fn mark(source: Option<&str>, sources: &[&str]) -> String {
    source
        .and_then(|s| sources.iter().position(|known| *known == s))
        .map_or_else(String::new, |at| format!(" {}", raised(at + 1)))
}

/// The list that the marks point to.
fn show_sources(out: &mut String, sources: &[&str], screen: Screen) {
    push_line(out, "sources");
    let width = sources.len().to_string().len();
    for (i, source) in sources.iter().enumerate() {
        let mark = raised(i + 1);
        let pad = " ".repeat(width - mark.width());
        wrap(out, &format!("  {pad}{mark} "), source, screen);
    }
}

fn push_line(out: &mut String, line: &str) {
    out.push_str(line.trim_end());
    out.push('\n');
}

/// Longest rule below a header in a pipe, where a table may be any width.
const LONGEST_RULE: usize = 80;

/// A line of a table; the rule below the header ends where the last column does.
fn push_table_line(out: &mut String, line: &str, screen: Screen) {
    if !line.is_empty() && line.chars().all(|c| c == '─') {
        let most = screen.width.unwrap_or(LONGEST_RULE);
        let rule: String = line.chars().skip(2).take(most).collect();
        push_line(out, &rule);
    } else {
        push_line(out, line);
    }
}

/// A paragraph, wrapped with a hanging indent below its lead; several lines keep their shape.
fn wrap(out: &mut String, lead: &str, text: &str, screen: Screen) {
    let indent = " ".repeat(lead.width());
    if text.contains('\n') || screen.width.is_none() {
        for (i, line) in text.split('\n').enumerate() {
            let before = if i == 0 { lead } else { &indent };
            push_line(out, &format!("{before}{}", for_screen(line)));
        }
        return;
    }
    let width = screen.width.unwrap_or(usize::MAX);
    let mut line = lead.to_owned();
    let mut fresh = true;
    for word in fold::words(&for_screen(text)) {
        if !fresh && line.width() + 1 + word.width() > width {
            push_line(out, &line);
            line.clone_from(&indent);
            fresh = true;
        }
        if !fresh {
            line.push(' ');
        }
        line.push_str(word);
        fresh = false;
    }
    push_line(out, &line);
}

fn show_facts(out: &mut String, facts: &[Fact], sources: &[&str], screen: Screen) {
    let facts: Vec<&Fact> = facts.iter().filter(|fact| !fact.machine).collect();
    let labels: Vec<String> = facts
        .iter()
        .map(|f| format!("{}{}", f.label, mark(f.source.as_deref(), sources)))
        .collect();
    let width = labels.iter().map(|l| l.width()).max().unwrap_or(0);
    for (fact, label) in facts.into_iter().zip(&labels) {
        let pad = " ".repeat(width - label.width());
        let value = show_with_unit(&fact.value, fact.measure, screen.units);
        wrap(out, &format!("{label}{pad}  "), &value, screen);
    }
}

const STYLE: TableStyle = TableStyle::new().header_separator(LineStyle::none().fill('─'));

/// Shows a table. On a narrow screen dispensable columns go first, and a note says which.
fn show_table(out: &mut String, table: &Table, sources: &[&str], screen: Screen) {
    if table.rows.is_empty() {
        wrap(out, "", &table.empty, screen);
        return;
    }
    let titles: Vec<String> = table
        .columns
        .iter()
        .map(|c| {
            let title = format!("{}{}", c.title, mark(c.source.as_deref(), sources));
            match c.measure.map(|m| m.unit_symbol(screen.units)) {
                Some(unit) if !unit.is_empty() => format!("{title}\n[{unit}]"),
                _ => title,
            }
        })
        .collect();
    let body: Vec<Vec<String>> = table
        .rows
        .iter()
        .map(|row| {
            row.iter()
                .zip(&table.columns)
                .map(|(c, col)| match c {
                    Cell::Text(word) if col.spoken => for_screen(word).replace('_', " "),
                    _ => show(c, col.measure, screen.units),
                })
                .collect()
        })
        .collect();
    let once: Vec<usize> = (0..table.columns.len())
        .filter(|c| screen.width.is_some() && table.is_told_once(*c))
        .collect();
    let candidates: Vec<usize> = (0..table.columns.len())
        .filter(|c| !table.columns[*c].machine && table.below != Some(*c) && !once.contains(c))
        .collect();
    let Layout { kept, widths, below } =
        Laid { table, titles: &titles, body: &body }.on(candidates, screen.width);
    if !once.is_empty() {
        let values = once.iter().map(|c| {
            let column = &table.columns[*c];
            let value = table.rows.first().map_or(&Cell::Missing, |row| &row[*c]);
            format!("{} {}", column.title, show_with_unit(value, column.measure, screen.units))
        });
        wrap(out, "all of them: ", &values.collect::<Vec<_>>().join("; "), screen);
        out.push('\n');
    }
    // Texts are folded here: what folds them by itself knows no numbers.
    let fitted = |text: &str, place: usize| match &widths {
        Some(widths) => fold::folded(text, widths[place]),
        None => text.to_owned(),
    };
    let mut shown = comfy_table::Table::new();
    shown.load_style(STYLE);
    shown.set_content_arrangement(ContentArrangement::Disabled);
    shown.set_header(kept.iter().enumerate().map(|(place, c)| fitted(&titles[*c], place)));
    for (cells, texts) in table.rows.iter().zip(&body) {
        shown.add_row(kept.iter().enumerate().map(|(place, c)| {
            let text = fitted(&texts[*c], place);
            let begun = below.is_some() && place == 0;
            let cell = TableCell::new(if begun { format!("{ROW_BEGINS}{text}") } else { text });
            if is_numeric(&cells[*c]) { cell.set_alignment(CellAlignment::Right) } else { cell }
        }));
    }
    for (index, column) in shown.column_iter_mut().enumerate() {
        let numeric =
            kept.get(index).is_some_and(|c| table.rows.iter().any(|r| is_numeric(&r[*c])));
        if numeric {
            column.set_cell_alignment(CellAlignment::Right);
        }
        column.set_padding((0, 2));
    }
    match below {
        None => shown.lines().for_each(|line| push_table_line(out, &line, screen)),
        Some(below) => {
            let mut rows = body.iter().zip(&table.rows);
            let mut row: Option<(&Vec<String>, &Vec<Cell>)> = None;
            let end = |out: &mut String, row: Option<(&Vec<String>, &Vec<Cell>)>| {
                let told = row.filter(|(texts, cells)| {
                    cells[below] != Cell::Missing && !texts[below].is_empty()
                });
                if let Some((texts, _)) = told {
                    wrap(out, BELOW, &texts[below], screen);
                }
            };
            for line in shown.lines() {
                if line.contains(ROW_BEGINS) {
                    end(out, row);
                    row = rows.next();
                }
                let line = line.replace(ROW_BEGINS, "");
                match row {
                    None => push_table_line(out, &line, screen),
                    Some(_) => push_line(out, line.trim_end()),
                }
            }
            end(out, row);
        }
    }
    // Under the heading that it has where there is room for it.
    let left_out: Vec<String> = (0..table.columns.len())
        .filter(|c| !kept.contains(c) && !once.contains(c))
        .filter(|c| below != Some(*c) && !table.columns[*c].machine)
        .filter(|c| table.rows.iter().any(|r| r[*c] != Cell::Missing))
        .map(|c| table.columns[c].title.replace('\n', " "))
        .collect();
    if !left_out.is_empty() {
        wrap(
            out,
            "note: ",
            &format!("too narrow for: {}; --wide shows them", named(&left_out)),
            screen,
        );
    }
}

/// Most columns that are named of those left out.
const NAMED: usize = 12;

/// Headings, some of which hold commas, with semicolons between; of many the first ones.
fn named(names: &[String]) -> String {
    let first = names.iter().take(NAMED).map(String::as_str).collect::<Vec<_>>().join("; ");
    match names.len().saturating_sub(NAMED) {
        0 => first,
        more => format!("{first}; and {more} more"),
    }
}

/// Eighths of a block, for bars finer than a character.
const EIGHTHS: [char; 8] = [' ', '▏', '▎', '▍', '▌', '▋', '▊', '▉'];

fn show_bars(out: &mut String, bars: &Bars, screen: Screen) {
    let unit = bars.measure.unit_symbol(screen.units);
    let title =
        if unit.is_empty() { bars.title.clone() } else { format!("{} [{unit}]", bars.title) };
    push_line(out, &for_screen(&title));
    let most = bars.bars.iter().map(|b| b.1).max().unwrap_or(0).max(1);
    let labels = bars.bars.iter().map(|b| b.0.width()).max().unwrap_or(0);
    let numbers: Vec<String> =
        bars.bars.iter().map(|b| bars.measure.number_text(b.1, screen.units)).collect();
    let figures = numbers.iter().map(|n| n.width()).max().unwrap_or(0);
    let room = screen.width.unwrap_or(80).saturating_sub(labels + figures + 4).clamp(10, 60);
    for ((label, value), number) in bars.bars.iter().zip(&numbers) {
        let eighths = i128::from((*value).max(0)) * 8 * room as i128 / i128::from(most);
        let eighths = usize::try_from(eighths).unwrap_or(0);
        let mut bar = "█".repeat(eighths / 8);
        if eighths % 8 > 0 {
            bar.push(EIGHTHS[eighths % 8]);
        }
        let label = for_screen(label);
        let pad = " ".repeat(labels.saturating_sub(label.width()));
        push_line(out, &format!("{label}{pad}  {number:>figures$}  {bar}"));
    }
}
