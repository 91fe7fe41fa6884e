//! A statement as one self-contained page to print and sign: no scripts, nothing fetched. Every text
//! from a book is escaped by the template engine.

use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value, context};
use serde::Serialize;

use crate::report::{Block, Cell, Report, Table};
use crate::units::UnitSystem;

use super::safe::for_screen;
use super::value::{is_numeric, show, show_with_unit};

/// Why a page could not be made.
#[derive(Debug, thiserror::Error)]
#[error("the page cannot be made: {0}")]
pub struct PageError(#[from] minijinja::Error);

#[derive(Debug, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum Shown {
    Facts {
        facts: Vec<ShownFact>,
    },
    Table {
        name: &'static str,
        columns: Vec<ShownColumn>,
        rows: Vec<Vec<ShownCell>>,
        empty: String,
    },
    Note {
        text: String,
    },
    Caution {
        text: String,
    },
}

#[derive(Debug, Serialize)]
struct ShownFact {
    label: String,
    value: String,
}

#[derive(Debug, Serialize)]
struct ShownColumn {
    title: String,
    unit: &'static str,
    number: bool,
}

#[derive(Debug, Serialize)]
struct ShownCell {
    text: String,
    number: bool,
}

/// Renders a statement; `made` says of which book, when, and at which head.
pub fn render(report: &Report, made: &str, units: UnitSystem) -> Result<String, PageError> {
    let mut env = Environment::new();
    env.set_auto_escape_callback(|_| AutoEscape::Html);
    env.add_template("statement.html", include_str!("html/statement.html"))?;
    let title = report.blocks.iter().find_map(|b| match b {
        Block::Heading(t) => Some(clean(t)),
        _ => None,
    });
    let blocks: Vec<Shown> = report.blocks.iter().filter_map(|b| shown(b, units)).collect();
    Ok(env.get_template("statement.html")?.render(context! {
        title => title.unwrap_or_default(),
        made => clean(made),
        blocks => Value::from(Serde(&blocks)),
    })?)
}

/// Unruly characters made visible, line by line: a heading may have two.
fn clean(text: &str) -> String {
    text.split('\n').map(|l| for_screen(l).into_owned()).collect::<Vec<_>>().join("\n")
}

fn shown(block: &Block, units: UnitSystem) -> Option<Shown> {
    match block {
        Block::Facts { facts, .. } => Some(Shown::Facts {
            facts: facts
                .iter()
                .map(|f| ShownFact {
                    label: clean(&f.label),
                    value: show_with_unit(&f.value, f.measure, units),
                })
                .collect(),
        }),
        Block::Table(t) => Some(table(t, units)),
        Block::Note(t) | Block::Text(t) => Some(Shown::Note { text: clean(t) }),
        Block::Caution(t) => Some(Shown::Caution { text: clean(t) }),
        Block::Heading(_)
        | Block::Bars(_)
        | Block::Chart(_)
        | Block::Verbatim { .. }
        | Block::Explained(_) => None,
    }
}

fn table(t: &Table, units: UnitSystem) -> Shown {
    // A column in which nothing was recorded tells nothing, unless it must be there.
    let kept: Vec<usize> = (0..t.columns.len())
        .filter(|c| t.columns[*c].dispensable == 0 || t.rows.iter().any(|r| r[*c] != Cell::Missing))
        .collect();
    let columns = kept
        .iter()
        .map(|c| ShownColumn {
            title: clean(&t.columns[*c].title),
            unit: t.columns[*c].measure.map_or("", |m| m.unit_symbol(units)),
            number: t.rows.iter().any(|r| is_numeric(&r[*c])),
        })
        .collect();
    let rows = t
        .rows
        .iter()
        .map(|r| {
            kept.iter()
                .map(|c| ShownCell {
                    text: show(&r[*c], t.columns[*c].measure, units),
                    number: is_numeric(&r[*c]),
                })
                .collect()
        })
        .collect();
    Shown::Table { name: t.name, columns, rows, empty: clean(&t.empty) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::Column;

    #[test]
    fn texts_of_a_book_are_no_markup() {
        let mut report = Report::new("statement");
        report.push(Block::Heading("Statement of hire <b>1</b>".to_owned()));
        report.push(Block::Table(Table {
            name: "joints",
            columns: vec![Column::plain("serial", "serial")],
            rows: vec![vec![Cell::Text("<script>alert(1)</script>\"'&".to_owned())]],
            ..Table::default()
        }));
        let page = render(&report, "made \u{202e}now", UnitSystem::Us).unwrap();
        assert!(!page.contains("<script>") && page.contains("&lt;script&gt;"), "{page}");
        assert!(page.contains("&lt;b&gt;1") && !page.contains('\u{202e}'));
        assert!(!page.contains("http://") && !page.contains("https://"), "nothing is fetched");
    }
}
