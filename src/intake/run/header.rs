//! The header of a run: TOML, or lines of name and value above a tally.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::intake::diagnostic::{Diagnostic, Diagnostics};
use crate::intake::kinds::Kind;
use crate::intake::log::CutRules;
use crate::intake::number::{Decimal, is_null, plain};
use crate::intake::options::Options;
use crate::intake::table::{
    Columns, Constant, Field, Holds, Layout, RawRow, Reading, Table, Where, arranged, constant,
    find, header_row, read_layout,
};
use crate::intake::unused::tell_columns;
use crate::model::{HoleSection, Qty, fold, nearest_word};
use crate::units::Measure as M;

/// Fields of a run's header.
pub(in crate::intake) fn fields() -> Vec<Field> {
    let text = |key: &str, aliases: &str| Field::new(key, Holds::Text, aliases);
    let depth = |key: &str, aliases: &str| {
        Field::new(key, Holds::Of(M::Depth), aliases).within(0.0, 15_000.0, "no depth of a hole")
    };
    let mud = |key: &str, aliases: &str| {
        Field::new(key, Holds::Of(M::Density), aliases).within(0.0, 3_000.0, "no mud weight")
    };
    vec![
        text("name", "run run_name run_no run_number"),
        text("well", "well_name wellbore hole"),
        text("survey", "survey_entry"),
        text("rig", "rig_name"),
        text("string", "string_name drill_string"),
        Field::new("start", Holds::When, "start_date begin from date_in time_in started"),
        Field::new("end", Holds::When, "end_date stop to date_out time_out ended"),
        text("grade", "quality"),
        text("tally", "tally_file string_tally"),
        text("tally_order", ""),
        text("tally_columns", ""),
        text("laid_down", "laid_down_joints"),
        // Of a document with several.
        text("tubular", "tubular_uid"),
        text("log", "log_file operating_log operations"),
        // Told apart by what is in them.
        text("files", "file"),
        text("log_columns", ""),
        text("log_delimiter", ""),
        text("log_decimal", ""),
        text("log_null", "log_nulls"),
        text("cut", "cut_rules"),
        Field::new("hours", Holds::Of(M::Hours), "rotating_hours")
            .within(0.0, 3.6e7, "no number of hours of a run")
            .implies(&[("hours", "h"), ("rotating_hours", "h")]),
        Field::new("rotary_speed", Holds::Of(M::RotarySpeed), "rpm mean_rpm")
            .within(0.0, 500.0 / 60.0, "no rotary speed of a rig (0 to 500 rpm)")
            .implies(&[("rpm", "rpm"), ("mean_rpm", "rpm")]),
        depth("depth_in", "from_depth"),
        depth("depth_out", "to_depth"),
        mud("mud_weight", "mud_density mud"),
        mud("mud_weight_inside", "inside_mud_weight"),
        text("environment", "mud_type corrosion"),
        Field::new("sour", Holds::Flag, "h2s"),
        depth("casing_depth", "casing_shoe shoe_depth shoe casing"),
        depth("riser_depth", "riser"),
        Field::new("hole_diameter", Holds::Of(M::Diameter), "hole_size bit_size").within(
            0.05,
            1.5,
            "no hole diameter",
        ),
        Field::new("friction", Holds::Of(M::Factor), "friction_factor").within(
            0.0,
            1.0,
            "no friction factor",
        ),
        Field::new("block_weight", Holds::Of(M::Force), "block top_drive_weight").within(
            0.0,
            5e6,
            "no weight of a block",
        ),
        Field::new("temperature", Holds::Of(M::Temperature), "bottom_hole_temperature bht").within(
            200.0,
            700.0,
            "no temperature of a hole",
        ),
        Field::new("protectors", Holds::Flag, "pipe_protectors"),
        text("equipment", "rig_equipment"),
        text("remark", "remarks comment comments note notes"),
    ]
}

/// The header of a run with what it names, before it is read.
pub(super) struct Header {
    pub table: Table,
    /// Rows of a tally in the same file.
    pub inline: Option<Vec<RawRow>>,
    /// Changes of the tally: when, and the file.
    pub swaps: Vec<(String, String, u64)>,
    /// Hole and casing section by section.
    pub sections: Vec<HoleSection>,
    pub cut: CutRules,
    /// What it names stands beside its file; else names are taken as they are.
    pub is_beside: bool,
}

pub(super) fn header_table(
    name: &str,
    constants: Vec<Constant>,
    options: &Options,
    diagnostics: &mut Diagnostics,
) -> Option<Table> {
    let layout = Layout { constants, ..Layout::default() };
    let reading = Reading {
        decimal: Some(options.decimal.unwrap_or(Decimal::Point)),
        nulls: options.nulls.clone(),
        times: options.times,
    };
    let at = Where::new(name, None);
    Table::new(Vec::new(), layout, Kind::Run.fields(), at, reading, diagnostics)
}

/// Lines of name and value, with or without a tally below them.
pub(super) fn from_rows(
    name: &str,
    rows: &[RawRow],
    options: &Options,
    diagnostics: &mut Diagnostics,
) -> Option<Header> {
    let fields = Kind::Run.fields();
    let tally_at = tally_header(rows);
    let (head, below) = rows.split_at(tally_at.unwrap_or(rows.len()));
    let mut constants: Vec<Constant> = Vec::new();
    for row in head.iter().filter(|r| r.filled() > 0) {
        match constant(row, fields) {
            Some(c) => match constants.iter().find(|o| o.key == c.key) {
                Some(first) => diagnostics.push(
                    Diagnostic::error(
                        name,
                        format!(
                            "{} is stated in row {} already",
                            c.key,
                            first.row.unwrap_or_default()
                        ),
                    )
                    .at_row(row.number)
                    .help("state it once"),
                ),
                None => constants.push(c),
            },
            None if row.filled() == 1 => {} // a title
            None => {
                let word = row.cells.first().map_or("", |c| c.trim().trim_end_matches(':'));
                let near = nearest_word(word, fields.iter().map(|f| f.key.as_str()));
                let d = Diagnostic::error(name, format!("'{word}' is nothing that a run states"))
                    .at_row(row.number);
                diagnostics.push(match near {
                    Some(n) => d.help(format!("did you mean {n}?")),
                    None => d.help("a line above the tally is a name and its value, as in: mud_weight, 10.2 ppg"),
                });
            }
        }
    }
    let cut = cut_of(&constants, name, options, diagnostics);
    let table = header_table(name, constants, options, diagnostics)?;
    let inline = tally_at.map(|_| below.to_vec());
    Some(Header { table, inline, swaps: Vec::new(), sections: Vec::new(), cut, is_beside: true })
}

fn tally_header(rows: &[RawRow]) -> Option<usize> {
    let tally = Kind::Tally.fields();
    header_row(rows, tally, None)
        .filter(|(_, found)| {
            found.len() >= 2
                && found.iter().any(|f| ["length", "cumulative"].contains(&tally[*f].key.as_str()))
        })
        .map(|(at, _)| at)
}

/// How many fields the titles of a table with a row for each run name.
fn titles_of_runs(rows: &[RawRow], stated: Option<&Columns>) -> Option<usize> {
    let fields = Kind::Run.fields();
    let (_, found) = header_row(rows, fields, stated)?;
    let has = |key: &str| found.iter().any(|f| fields[*f].key == key);
    (found.len() >= 4 && has("name") && has("well")).then_some(found.len())
}

/// Whether rows are a table with a row for each run.
pub(super) fn is_table(rows: &[RawRow], stated: Option<&Columns>) -> bool {
    titles_of_runs(rows, stated).is_some()
}

/// The runs of a table with a row for each; `None` where it cannot be read.
pub(super) fn of_table(
    name: &str,
    rows: Vec<RawRow>,
    options: &Options,
    notes: &mut Vec<String>,
    diagnostics: &mut Diagnostics,
) -> Option<Vec<Header>> {
    let fields = Kind::Run.fields();
    let at = Where::new(name, options.columns.as_ref());
    let (rows, more) = arranged(rows, fields, options.columns.as_ref());
    notes.extend(more);
    let layout = read_layout(&rows, fields, at, diagnostics)?;
    let reading =
        Reading { decimal: options.decimal, nulls: options.nulls.clone(), times: options.times };
    let table = Table::new(rows, layout, fields, at, reading, diagnostics)?;
    tell_columns(&table, notes, diagnostics);
    let mut out = Vec::new();
    for row in &table.rows {
        let mut constants = table.layout.constants.clone();
        for column in &table.layout.columns {
            let cell = row.cells.get(column.number - 1).map_or("", |c| c.trim());
            if is_null(cell, &table.reading.nulls) {
                continue;
            }
            let stated = find(&column.title, fields).and_then(|n| n.unit);
            let unit = column.unit.as_ref().map(|u| u.symbol().to_owned()).or(stated);
            let numeric = plain(cell, table.decimal).is_some();
            let value = match unit.filter(|_| numeric) {
                Some(unit) => format!("{cell} {unit}"),
                None => cell.to_owned(),
            };
            let key = fields[column.field].key.clone();
            constants.retain(|c| c.key != key);
            constants.push(Constant { key, value, row: Some(row.number) });
        }
        let cut = cut_of(&constants, name, options, diagnostics);
        let read = Options { decimal: Some(table.decimal), columns: None, ..options.clone() };
        let head = header_table(name, constants, &read, diagnostics)?;
        out.push(Header {
            table: head,
            inline: None,
            swaps: Vec::new(),
            sections: Vec::new(),
            cut,
            is_beside: true,
        });
    }
    Some(out)
}

/// How many things a file's lines state about a run, where it has a name and a well.
pub(in crate::intake) fn fit(
    rows: &[RawRow],
    stated: Option<&Columns>,
) -> Option<(usize, Vec<String>)> {
    // A row that names a joint is of that joint, whichever run it tells of.
    if let Some(known) = titles_of_runs(rows, stated).filter(|_| !names_a_joint(rows)) {
        return Some((known + 12, Vec::new()));
    }
    let fields = Kind::Run.fields();
    let head = &rows[..tally_header(rows).unwrap_or(rows.len()).min(rows.len())];
    let found: Vec<String> =
        head.iter().take(80).filter_map(|r| constant(r, fields)).map(|c| c.key).collect();
    let missing: Vec<String> = ["name", "well"]
        .iter()
        .filter(|k| !found.iter().any(|f| f == *k))
        .map(|k| (*k).to_owned())
        .collect();
    (found.len() >= 2).then_some((found.len() + 12, missing))
}

fn names_a_joint(rows: &[RawRow]) -> bool {
    let fields = Kind::Hours.fields();
    let header = header_row(rows, Kind::Run.fields(), None).and_then(|(at, _)| rows.get(at));
    let serial =
        |title: &String| find(title, fields).is_some_and(|n| fields[n.field].key == "serial");
    header.is_some_and(|row| row.cells.iter().any(serial))
}

/// How the log of a run is cut: as it is stated for all, but for what its header says.
fn cut_of(
    constants: &[Constant],
    file: &str,
    options: &Options,
    diagnostics: &mut Diagnostics,
) -> CutRules {
    let mut cut = options.cut.clone();
    if let Some(c) = constants.iter().find(|c| c.key == "cut") {
        set_cut(&mut cut, &c.value, file, c.row, diagnostics);
    }
    cut
}

fn set_cut(
    cut: &mut CutRules,
    text: &str,
    file: &str,
    row: Option<u64>,
    diagnostics: &mut Diagnostics,
) {
    for item in text.split_whitespace() {
        let done = item.split_once('=').map(|(name, value)| cut.set(name.trim(), value.trim()));
        let message = match done {
            Some(Ok(())) => continue,
            Some(Err(e)) => e.to_string(),
            None => format!("'{item}' is no setting of a cut"),
        };
        let mut d = Diagnostic::error(file, message)
            .help("write for example gap_ms=90000 max_segments=200");
        d.row = row;
        diagnostics.push(d);
    }
}

fn line_of(text: &str, at: usize) -> u64 {
    text.bytes().take(at).fold(1, |lines, b| lines + u64::from(b == b'\n'))
}

/// A TOML value as the text that a line of a sheet would hold.
fn value_text(value: &DeValue<'_>) -> Option<String> {
    Some(match value {
        DeValue::String(s) => s.to_string(),
        DeValue::Integer(i) => i.as_str().replace('_', ""),
        DeValue::Float(f) => f.as_str().replace('_', ""),
        DeValue::Boolean(b) => (if *b { "yes" } else { "no" }).to_owned(),
        DeValue::Datetime(d) => d.to_string(),
        DeValue::Array(items) => {
            items.iter().map(|i| value_text(i.get_ref())).collect::<Option<Vec<_>>>()?.join("; ")
        }
        DeValue::Table(_) => return None,
    })
}

pub(super) fn from_toml(
    name: &str,
    text: &str,
    options: &Options,
    diagnostics: &mut Diagnostics,
) -> Option<Header> {
    let root = match DeTable::parse(text) {
        Ok(root) => root,
        Err(e) => {
            let d = Diagnostic::error(name, e.message().to_owned());
            diagnostics.push(match e.span() {
                Some(span) => d.at_row(line_of(text, span.start)),
                None => d,
            });
            return None;
        }
    };
    let fields = Kind::Run.fields();
    let mut constants = Vec::new();
    let (mut swaps, mut sections) = (Vec::new(), Vec::new());
    let mut cut = options.cut.clone();
    for (key, value) in root.get_ref() {
        let row = line_of(text, key.span().start);
        let word: &str = key.get_ref();
        match (fold(word).as_str(), value.get_ref()) {
            ("cut", DeValue::Table(settings)) => {
                for (setting, value) in settings {
                    let row = Some(line_of(text, setting.span().start));
                    let item = value_text(value.get_ref())
                        .map(|v| format!("{}={v}", setting.get_ref()))
                        .unwrap_or_default();
                    set_cut(&mut cut, &item, name, row, diagnostics);
                }
            }
            ("swap" | "swaps", DeValue::Array(list)) => {
                for item in list {
                    let row = line_of(text, item.span().start);
                    match swap(item) {
                        Some((at, tally)) => swaps.push((at, tally, row)),
                        None => diagnostics.push(
                            Diagnostic::error(name, "a swap needs an instant and a tally")
                                .at_row(row)
                                .help("write [[swap]] with at = 2026-03-04T06:30:00Z and tally = \"file.csv\""),
                        ),
                    }
                }
            }
            ("section" | "sections", DeValue::Array(list)) => {
                for item in list {
                    match section(item) {
                        Ok(section) => sections.push(section),
                        Err(message) => diagnostics.push(
                            Diagnostic::error(name, message)
                                .at_row(line_of(text, item.span().start))
                                .help(
                                    "write [[section]] with from = \"420 m\", to = \"1440 m\" and \
                                     diameter = \"220.5 mm\"; leave out what nobody knows",
                                ),
                        ),
                    }
                }
            }
            ("plan", DeValue::Table(_)) if options.plan => {}
            _ => match (find(word, fields), value_text(value.get_ref())) {
                (Some(named), Some(value)) => {
                    let key = fields[named.field].key.clone();
                    if key == "cut" {
                        set_cut(&mut cut, &value, name, Some(row), diagnostics);
                    }
                    let value = match named.unit {
                        Some(unit) if value.parse::<f64>().is_ok() => format!("{value} {unit}"),
                        _ => value,
                    };
                    constants.push(Constant { key, value, row: Some(row) });
                }
                (Some(_), None) => diagnostics.push(
                    Diagnostic::error(name, format!("'{word}' is a value, not a table"))
                        .at_row(row)
                        .help("write it as name = \"value unit\""),
                ),
                (None, _) => {
                    let near = nearest_word(word, fields.iter().map(|f| f.key.as_str()));
                    let known =
                        fields.iter().map(|f| f.key.as_str()).collect::<Vec<_>>().join(", ");
                    diagnostics.push(
                        Diagnostic::error(name, format!("'{word}' is nothing that a run states"))
                            .at_row(row)
                            .help(near.map_or_else(
                                || format!("known: {known}"),
                                |n| format!("did you mean {n}?"),
                            )),
                    );
                }
            },
        }
    }
    let table = header_table(name, constants, options, diagnostics)?;
    Some(Header { table, inline: None, swaps, sections, cut, is_beside: true })
}

/// A stretch of hole or casing of one diameter.
fn section(item: &Spanned<DeValue<'_>>) -> Result<HoleSection, String> {
    let DeValue::Table(t) = item.get_ref() else {
        return Err("a section of the hole is a table".to_owned());
    };
    let quantity = |key: &str, measure: M| {
        let stated = t.iter().find(|(k, _)| fold(k.get_ref()) == key);
        let text = stated.and_then(|(_, v)| value_text(v.get_ref()));
        let text = text.ok_or_else(|| format!("a section of the hole needs {key}"))?;
        Qty::parse(&text, measure).map_err(|e| format!("{key} of a section of the hole: {e}"))
    };
    Ok(HoleSection {
        from: quantity("from", M::Depth)?,
        to: quantity("to", M::Depth)?,
        diameter: quantity("diameter", M::Diameter)?,
    })
}

fn swap(item: &Spanned<DeValue<'_>>) -> Option<(String, String)> {
    let DeValue::Table(t) = item.get_ref() else { return None };
    let text = |key: &str| {
        t.iter().find(|(k, _)| fold(k.get_ref()) == key).and_then(|(_, v)| value_text(v.get_ref()))
    };
    Some((text("at")?, text("tally")?))
}
