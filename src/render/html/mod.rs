//! A report as one self-contained page: no scripts, nothing fetched, for screen and paper.
//!
//! Every text from a book is escaped by the template engine, and unruly characters are made visible
//! before; the only markup that passes through is that of our own charts. A policy in the page's
//! head forbids scripts and requests besides.

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, Value, context};
use serde::Serialize;

use crate::report::{Block, Cell, Fact, Report, Table};
use crate::units::UnitSystem;

use super::chart;
use super::safe::for_screen;
use super::value::{is_numeric, show, show_with_unit};

/// What stands around a report.
#[derive(Clone, Debug, Default)]
pub struct Page {
    /// Title, also of the window.
    pub title: String,
    /// A line below it.
    pub subtitle: String,
    /// Said at the foot: the book, when and with what it was made.
    pub made: String,
    /// Whether parts are listed at the head.
    pub contents: bool,
    /// Wide tables: printed across, in small type.
    pub wide: bool,
    /// Who signs at the foot.
    pub signed_by: &'static [&'static str],
}

/// Why a page could not be made.
#[derive(Debug, thiserror::Error)]
#[error("the page cannot be made: {0}")]
pub struct HtmlError(#[from] minijinja::Error);

/// Renders a report as a page.
pub fn render(report: &Report, page: &Page, units: UnitSystem) -> Result<String, HtmlError> {
    let environment = environment()?;
    let sources = report.sources();
    let sections = sections(report, &sources, units);
    let sources: Vec<String> = sources.iter().map(|s| clean(s)).collect();
    Ok(environment.get_template("page.html")?.render(context! {
        title => clean(&page.title),
        subtitle => clean(&page.subtitle),
        made => clean(&page.made),
        contents => page.contents,
        wide => page.wide,
        signed_by => page.signed_by.to_vec(),
        sections => Value::from(Serde(&sections)),
        sources,
    })?)
}

/// The templates, with escaping on whatever their names.
pub fn environment() -> Result<Environment<'static>, HtmlError> {
    let mut env = Environment::new();
    env.set_auto_escape_callback(|_| AutoEscape::Html);
    env.set_syntax(SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?);
    env.add_template("base.html", include_str!("base.html"))?;
    env.add_template("blocks.html", include_str!("blocks.html"))?;
    env.add_template("page.html", include_str!("page.html"))?;
    Ok(env)
}

fn clean(text: &str) -> String {
    for_screen(text).into_owned()
}

/// A part of a page, from one heading to the next.
#[derive(Debug, Default, Serialize)]
pub struct Section {
    id: String,
    title: String,
    /// Its place in a list, where parts of one kind follow each other.
    level: u8,
    blocks: Vec<Shown>,
}

/// A block as the templates take it.
#[derive(Debug, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum Shown {
    Subheading {
        text: String,
    },
    Text {
        text: String,
    },
    Note {
        text: String,
    },
    Caution {
        text: String,
    },
    Facts {
        facts: Vec<ShownFact>,
    },
    Table {
        name: String,
        title: String,
        /// What all rows have in common.
        once: String,
        columns: Vec<ShownColumn>,
        rows: Vec<ShownRow>,
        empty: String,
    },
    Bars {
        title: String,
        unit: String,
        bars: Vec<ShownBar>,
    },
    Chart {
        title: String,
        says: String,
        svg: Value,
        keys: Vec<ShownKey>,
        small: bool,
    },
    Verbatim {
        lines: Vec<String>,
    },
}

#[derive(Debug, Serialize)]
struct ShownFact {
    label: String,
    value: String,
    mark: Option<usize>,
}

#[derive(Debug, Serialize)]
struct ShownColumn {
    title: String,
    unit: String,
    number: bool,
    mark: Option<usize>,
}

#[derive(Debug, Serialize)]
struct ShownCell {
    text: String,
    number: bool,
    /// A long run of signs without a blank: a hash.
    code: bool,
    /// Short enough to stay on one line: a serial, a day.
    tight: bool,
    /// Holds a word that is too long for a line.
    loose: bool,
    /// A sentence, which wants room.
    wide: bool,
    /// Place on the page that it leads to.
    to: Option<String>,
}

#[derive(Debug, Serialize)]
struct ShownRow {
    cells: Vec<ShownCell>,
    below: Option<String>,
    /// What stands below is a hash.
    code: bool,
    struck: bool,
}

#[derive(Debug, Serialize)]
struct ShownBar {
    label: String,
    value: String,
    /// Length in per mille of the longest.
    length: i64,
}

#[derive(Debug, Serialize)]
struct ShownKey {
    swatch: String,
    sign: &'static str,
    name: String,
}

/// Groups blocks under their headings.
pub fn sections(report: &Report, sources: &[&str], units: UnitSystem) -> Vec<Section> {
    let mut out: Vec<Section> = Vec::new();
    for block in &report.blocks {
        match block {
            Block::Heading(text) => {
                let title = clean(text);
                out.push(Section {
                    id: format!("p{}", out.len() + 1),
                    level: u8::from(!title.starts_with("Joint ")),
                    title,
                    blocks: Vec::new(),
                });
            }
            other => {
                if out.is_empty() {
                    out.push(Section { id: "p1".to_owned(), ..Section::default() });
                }
                if let (Some(section), Some(shown)) = (out.last_mut(), shown(other, sources, units))
                {
                    section.blocks.push(shown);
                }
            }
        }
    }
    link(&mut out);
    out
}

/// An index leads to the joints on its page.
fn link(sections: &mut [Section]) {
    let places: std::collections::BTreeMap<String, String> = sections
        .iter()
        .filter_map(|s| {
            let serial = s.title.strip_prefix("Joint ")?.split(", ").next()?;
            Some((serial.to_owned(), s.id.clone()))
        })
        .collect();
    for block in sections.iter_mut().flat_map(|s| &mut s.blocks) {
        let Shown::Table { name, rows, .. } = block else { continue };
        if name != "index" {
            continue;
        }
        for cell in rows.iter_mut().filter_map(|r| r.cells.first_mut()) {
            cell.to = places.get(&cell.text).cloned();
        }
    }
}

fn mark(source: Option<&str>, sources: &[&str]) -> Option<usize> {
    source.and_then(|s| sources.iter().position(|known| *known == s)).map(|at| at + 1)
}

fn shown(block: &Block, sources: &[&str], units: UnitSystem) -> Option<Shown> {
    Some(match block {
        Block::Heading(text) => Shown::Subheading { text: clean(text) },
        Block::Text(text) => Shown::Text { text: clean(text) },
        Block::Note(text) => Shown::Note { text: clean(text) },
        Block::Counted(counted) => Shown::Note { text: clean(&counted.says) },
        Block::Caution(text) => Shown::Caution { text: clean(text) },
        Block::Facts { facts, .. } => {
            Shown::Facts { facts: facts.iter().map(|f| fact(f, sources, units)).collect() }
        }
        Block::Table(table) => shown_table(table, sources, units),
        Block::Bars(bars) => {
            let most = bars.bars.iter().map(|b| b.1).max().unwrap_or(0).max(1);
            let length = |n: i64| {
                let share = i128::from(n.max(0)) * 1000 / i128::from(most);
                i64::try_from(share).unwrap_or(0)
            };
            Shown::Bars {
                title: clean(&bars.title),
                unit: bars.measure.unit_symbol(units).to_owned(),
                bars: bars
                    .bars
                    .iter()
                    .map(|(label, n)| ShownBar {
                        label: clean(label),
                        value: bars.measure.number_text(*n, units),
                        length: length(*n),
                    })
                    .collect(),
            }
        }
        Block::Chart(c) => {
            let drawn = chart::draw(c, units)?;
            Shown::Chart {
                title: clean(&c.title),
                says: clean(&c.says),
                svg: Value::from_safe_string(drawn.svg),
                keys: drawn
                    .keys
                    .into_iter()
                    .map(|k| ShownKey { swatch: k.swatch, sign: k.sign, name: clean(&k.name) })
                    .collect(),
                small: c.small,
            }
        }
        Block::Verbatim { lines, .. } => {
            Shown::Verbatim { lines: lines.iter().map(|l| clean(l)).collect() }
        }
        Block::Explained(e) => {
            let text = super::explained::text(e, None, units);
            Shown::Verbatim { lines: text.lines().map(clean).collect() }
        }
    })
}

fn fact(f: &Fact, sources: &[&str], units: UnitSystem) -> ShownFact {
    ShownFact {
        label: clean(&f.label),
        value: show_with_unit(&f.value, f.measure, units),
        mark: mark(f.source.as_deref(), sources),
    }
}

/// What stands below a row.
fn below(table: &Table, row: &[Cell], units: UnitSystem) -> Option<String> {
    let cell = table.below.and_then(|c| row.get(c)).filter(|c| **c != Cell::Missing)?;
    Some(show(cell, None, units)).filter(|t| !t.is_empty())
}

fn shown_table(table: &Table, sources: &[&str], units: UnitSystem) -> Shown {
    // A column in which nothing was recorded tells nothing, unless it must be there.
    let kept: Vec<usize> = (0..table.columns.len())
        .filter(|c| table.below != Some(*c) && table.columns[*c].name != "struck")
        .filter(|c| !table.columns[*c].machine)
        .filter(|c| {
            table.columns[*c].dispensable == 0
                || table.rows.iter().any(|r| r.get(*c).is_some_and(|v| *v != Cell::Missing))
        })
        .collect();
    let once: Vec<usize> = kept.iter().copied().filter(|c| table.is_told_once(*c)).collect();
    let kept: Vec<usize> = kept.into_iter().filter(|c| !once.contains(c)).collect();
    let once = once.iter().map(|c| {
        let column = &table.columns[*c];
        let value = table.rows.first().and_then(|row| row.get(*c)).unwrap_or(&Cell::Missing);
        format!("{} {}", clean(&column.title), show_with_unit(value, column.measure, units))
    });
    let once = once.collect::<Vec<_>>().join("; ");
    let struck = table.columns.iter().position(|c| c.name == "struck");
    let numeric = |c: usize| table.rows.iter().any(|r| r.get(c).is_some_and(is_numeric));
    let columns = kept
        .iter()
        .map(|c| {
            let column = &table.columns[*c];
            let unit = column.measure.map_or("", |m| m.unit_symbol(units));
            ShownColumn {
                title: clean(&column.title),
                unit: unit.to_owned(),
                number: numeric(*c),
                mark: mark(column.source.as_deref(), sources),
            }
        })
        .collect();
    let rows = table
        .rows
        .iter()
        .map(|row| ShownRow {
            cells: kept
                .iter()
                .filter_map(|c| {
                    let cell = row.get(*c)?;
                    let column = &table.columns[*c];
                    let text = match cell {
                        Cell::Text(word) if column.spoken => clean(word).replace('_', " "),
                        _ => show(cell, column.measure, units),
                    };
                    let blank = text.contains(' ');
                    let when = matches!(cell, Cell::Day(_) | Cell::Time(_));
                    Some(ShownCell {
                        number: is_numeric(cell) || (*cell == Cell::Missing && numeric(*c)),
                        code: text.len() > 31 && !blank,
                        tight: when || text.len() <= 18,
                        loose: text.split(' ').any(|w| w.len() > 31),
                        wide: text.len() > 60,
                        text,
                        to: None,
                    })
                })
                .collect(),
            below: below(table, row, units),
            code: below(table, row, units).is_some_and(|t| t.len() > 31 && !t.contains(' ')),
            struck: struck.and_then(|c| row.get(c)) == Some(&Cell::Truth(true)),
        })
        .collect();
    Shown::Table {
        name: table.name.to_owned(),
        title: table.name.replace('_', " "),
        once,
        columns,
        rows,
        empty: clean(&table.empty),
    }
}
