//! Runs: a header file (TOML, or lines of name and value above a tally) that names the tally and
//! the log beside it.

use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::diagnostic::{Diagnostic, Diagnostics};
use super::kinds::{Context, Kind, fits};
use super::log::{self, CutRules, LogOptions, LogRead};
use super::lookup::{World, base_name, beside};
use super::number::Decimal;
use super::operations;
use super::resolve::{self, Made};
use super::table::{
    Columns, Constant, Delimiter, Field, Holds, Layout, RawRow, Reading, Row, Table, Where,
    constant, find, header_row, read_layout,
};
use super::tally::{self, Order};
use super::{Content, Options, load};
use crate::model::{
    Body, Environment, LogSource, Moment, RunBody, RunGrade, Segment, Swap, TallyLine, fold,
    nearest_word,
};
use crate::units::Measure as M;

/// Fields of a run's header.
pub(super) fn fields() -> Vec<Field> {
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
        text("log", "log_file operating_log operations"),
        text("log_columns", ""),
        text("log_delimiter", ""),
        text("log_decimal", ""),
        text("log_null", "log_nulls"),
        text("cut", "cut_rules"),
        Field::new("hours", Holds::Of(M::Hours), "rotating_hours").within(
            0.0,
            3.6e7,
            "no number of hours of a run",
        ),
        Field::new("rotary_speed", Holds::Of(M::RotarySpeed), "rpm mean_rpm").within(
            0.0,
            500.0 / 60.0,
            "no rotary speed of a rig (0 to 500 rpm)",
        ),
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
struct Header {
    table: Table,
    /// Rows of a tally in the same file.
    inline: Option<Vec<RawRow>>,
    /// Changes of the tally: when, and the file.
    swaps: Vec<(String, String, u64)>,
    cut: CutRules,
}

fn header_table(
    name: &str,
    constants: Vec<Constant>,
    options: &Options,
    diagnostics: &mut Diagnostics,
) -> Option<Table> {
    let layout = Layout { constants, ..Layout::default() };
    let reading = Reading {
        decimal: Some(options.decimal.unwrap_or(Decimal::Point)),
        nulls: options.nulls.clone(),
        clock: options.clock,
    };
    let at = Where { file: name, sheet: None, stated: None };
    Table::new(Vec::new(), layout, fields(), at, reading, diagnostics)
}

/// Lines of name and value, with or without a tally below them.
fn from_rows(
    name: &str,
    rows: Vec<RawRow>,
    options: &Options,
    diagnostics: &mut Diagnostics,
) -> Option<Header> {
    let fields = fields();
    let tally_at = tally_header(&rows);
    let (head, below) = rows.split_at(tally_at.unwrap_or(rows.len()));
    let mut constants: Vec<Constant> = Vec::new();
    for row in head.iter().filter(|r| r.filled() > 0) {
        match constant(row, &fields) {
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
                let word = row.cells.first().map(|c| c.trim().trim_end_matches(':')).unwrap_or("");
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
    let mut cut = options.cut.clone();
    if let Some(c) = constants.iter().find(|c| c.key == "cut") {
        set_cut(&mut cut, &c.value, name, c.row, diagnostics);
    }
    let table = header_table(name, constants, options, diagnostics)?;
    let inline = tally_at.map(|_| below.to_vec());
    Some(Header { table, inline, swaps: Vec::new(), cut })
}

fn tally_header(rows: &[RawRow]) -> Option<usize> {
    let tally = Kind::Tally.fields();
    header_row(rows, &tally, None)
        .filter(|(_, found)| found.len() >= 2 && found.iter().any(|f| tally[*f].key == "length"))
        .map(|(at, _)| at)
}

/// How many things a file's lines state about a run, where it has a name and a well.
pub(super) fn fit(rows: &[RawRow]) -> Option<(usize, Vec<String>)> {
    let fields = fields();
    let head = &rows[..tally_header(rows).unwrap_or(rows.len()).min(rows.len())];
    let found: Vec<String> =
        head.iter().take(80).filter_map(|r| constant(r, &fields)).map(|c| c.key).collect();
    let missing: Vec<String> = ["name", "well"]
        .iter()
        .filter(|k| !found.iter().any(|f| f == *k))
        .map(|k| (*k).to_owned())
        .collect();
    (found.len() >= 2).then_some((found.len() + 12, missing))
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
    text.as_bytes()[..at.min(text.len())].iter().filter(|b| **b == b'\n').count() as u64 + 1
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

fn from_toml(
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
    let fields = fields();
    let mut constants = Vec::new();
    let mut swaps = Vec::new();
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
            _ => match (find(word, &fields), value_text(value.get_ref())) {
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
    Some(Header { table, inline: None, swaps, cut })
}

fn swap(item: &Spanned<DeValue<'_>>) -> Option<(String, String)> {
    let DeValue::Table(t) = item.get_ref() else { return None };
    let text = |key: &str| {
        t.iter().find(|(k, _)| fold(k.get_ref()) == key).and_then(|(_, v)| value_text(v.get_ref()))
    };
    Some((text("at")?, text("tally")?))
}

/// What a header says, read.
struct Said {
    body: RunBody,
    end: Option<Moment>,
    tally: Option<String>,
    order: Order,
    tally_columns: Option<Columns>,
    log: Option<String>,
    log_options: LogOptions,
    stated_grade: Option<RunGrade>,
}

fn say(
    row: &mut Row<'_>,
    context: &Context<'_>,
    options: &Options,
    cut: &CutRules,
) -> Option<Said> {
    let name = row.need_text("name", "name the run; make-ups, events and searches ask by it");
    let well = row.need_text("well", "name the well; its survey gives the path");
    if row.text("start").is_none() {
        row.missing("start", "say when the run began: a day or a time");
    }
    let start = row.moment("start");
    let end = row.moment("end");
    let zone = options.clock.offset_minutes;
    if let (Some(s), Some(e)) = (start, end)
        && e.end(zone).0 <= s.start(zone).0
    {
        row.wrong(
            Some("end"),
            format!("the run ends on {e}, before it begins on {s}"),
            "correct one of the two",
        );
    }
    if let Some(name) = &name {
        let known = context.lookup.runs(name);
        if let Some(first) = known.first() {
            let message = format!("the book has a run '{name}' already: {first}");
            if context.keep_conflicts {
                row.odd(Some("name"), message, "from now on this name means two runs");
            } else {
                row.wrong(
                    Some("name"),
                    message,
                    "give the run another name, or strike the entry that it corrects",
                );
            }
        }
    }
    let order = match row.text("tally_order") {
        None => Order::BitUp,
        Some(t) => Order::parse(&t).unwrap_or_else(|| {
            row.wrong(
                Some("tally_order"),
                format!("'{t}' is no order of a tally"),
                "write bit up or top down",
            );
            Order::BitUp
        }),
    };
    let mut columns = |key: &str| {
        let text = row.text(key)?;
        match text.parse::<Columns>() {
            Ok(c) => Some(c),
            Err(e) => {
                row.wrong(Some(key), e.to_string(), "");
                None
            }
        }
    };
    let (tally_columns, log_columns) = (columns("tally_columns"), columns("log_columns"));
    let delimiter = row.text("log_delimiter").and_then(|t| {
        let d = Delimiter::parse(&t);
        if d.is_none() {
            row.wrong(
                Some("log_delimiter"),
                format!("'{t}' is no delimiter"),
                "write comma, semicolon, tab or blanks",
            );
        }
        d
    });
    let decimal = row.text("log_decimal").and_then(|t| {
        let d = Decimal::parse(&t);
        if d.is_none() {
            row.wrong(
                Some("log_decimal"),
                format!("'{t}' is no decimal sign"),
                "write point or comma",
            );
        }
        d
    });
    let mut nulls = options.nulls.clone();
    nulls.extend(
        row.text("log_null").iter().flat_map(|t| t.split(';')).map(|t| t.trim().to_owned()),
    );
    let (depth_in, depth_out) = (row.qty("depth_in"), row.qty("depth_out"));
    let base = |q: &Option<crate::model::Qty>| q.as_ref().and_then(|q| q.base(M::Depth));
    let (from, to) = (base(&depth_in), base(&depth_out));
    if let (Some(a), Some(b)) = (from, to)
        && b < a
    {
        row.wrong(
            Some("depth_out"),
            "the run ends above where it began",
            "a run that made no hole has the same depth in and out",
        );
    }
    let equipment = row.text("equipment").unwrap_or_default();
    let run = start.map(|s| run_window(s, end, zone));
    #[expect(clippy::cast_possible_truncation, reason = "a depth of a hole in millimetres")]
    let mm = |m: f64| (m * 1000.0).round() as i64;
    let depths = match (from, to) {
        (None, None) => None,
        (a, b) => Some(a.map_or(i64::MIN, mm)..=b.map_or(i64::MAX, mm)),
    };
    let stated_grade = row.word::<RunGrade>("grade");
    let body = RunBody {
        survey: resolve::entry(row, context.lookup, "survey"),
        rig: row.text("rig"),
        string: row.text("string"),
        grade: stated_grade.unwrap_or(RunGrade::Summary),
        tally: Vec::new(),
        swaps: Vec::new(),
        segments: Vec::new(),
        log: None,
        hours: row.qty("hours"),
        rotary_speed: row.qty("rotary_speed"),
        depth_in,
        depth_out,
        mud_weight: row.qty("mud_weight"),
        mud_weight_inside: row.qty("mud_weight_inside"),
        environment: row.word::<Environment>("environment"),
        sour: row.flag("sour").unwrap_or(false),
        casing_depth: row.qty("casing_depth"),
        riser_depth: row.qty("riser_depth"),
        hole_diameter: row.qty("hole_diameter"),
        friction: row.qty("friction"),
        block_weight: row.qty("block_weight"),
        temperature: row.qty("temperature"),
        protectors: row.flag("protectors").unwrap_or(false),
        equipment: equipment
            .split([';', ','])
            .map(str::trim)
            .filter(|e| !e.is_empty())
            .map(str::to_owned)
            .collect(),
        remark: row.text("remark"),
        name: name?,
        well: well?,
        start: start?,
    };
    Some(Said {
        body,
        end,
        tally: row.text("tally"),
        order,
        tally_columns,
        log: row.text("log"),
        log_options: LogOptions {
            columns: log_columns,
            delimiter,
            decimal,
            nulls,
            clock: options.clock,
            rules: cut.clone(),
            run,
            depths,
            breaks: Vec::new(),
        },
        stated_grade,
    })
}

/// First and last instant of a run.
fn run_window(start: Moment, end: Option<Moment>, zone: i32) -> RangeInclusive<i64> {
    start.start(zone).0..=end.map_or(i64::MAX, |e| e.end(zone).0)
}

/// What a run file gives: the draft's material, and how it was come by.
pub(super) struct RunRead {
    pub made: Option<Made>,
    pub notes: Vec<String>,
    /// Other files that the run rests on: name and digest.
    pub files: Vec<(String, String)>,
    pub rows: u64,
}

/// Reads a run from its header file.
pub(super) fn read(
    name: &str,
    content: RunContent<'_>,
    options: &Options,
    world: &World<'_>,
    diagnostics: &mut Diagnostics,
) -> RunRead {
    let mut out = RunRead { made: None, notes: Vec::new(), files: Vec::new(), rows: 0 };
    let before = diagnostics.errors();
    let header = match content {
        RunContent::Toml(text) => from_toml(name, text, options, diagnostics),
        RunContent::Rows(rows) => from_rows(name, rows, options, diagnostics),
    };
    let Some(mut header) = header else { return out };
    let context = Context { lookup: world.lookup, keep_conflicts: options.keep_conflicts };
    super::give(&mut header.table, &options.given, diagnostics);
    let cut = header.cut.clone();
    let said = header.table.head(diagnostics, |row| say(row, &context, options, &cut));
    let Some(mut said) = said else { return out };
    let zone = options.clock.offset_minutes;
    let mut parts = Parts { options, world, context: &context, out: &mut out };
    let tally = match (&said.tally, header.inline) {
        (Some(_), Some(_)) => {
            diagnostics.push(
                Diagnostic::error(name, "the run has a tally of its own and names another")
                    .help("keep one"),
            );
            None
        }
        (Some(file), None) => parts.tally(&beside(name, file), &said, diagnostics),
        (None, Some(rows)) => parts.tally_rows(name, rows, &said, diagnostics),
        (None, None) => {
            diagnostics.push(Diagnostic::error(name, "the run has no tally").help("name its file, tally = \"file.csv\": without the string nobody knows which joint was where"));
            None
        }
    };
    let mut swaps = Vec::new();
    for (at, file, row) in &header.swaps {
        match super::when::moment(at, options.clock) {
            Ok(at) => {
                let instant = at.start(zone).0;
                let inside = said.log_options.run.as_ref().is_none_or(|r| r.contains(&instant));
                if !inside {
                    diagnostics.push(
                        Diagnostic::error(
                            name,
                            format!("the tally changes at {at}, outside the run"),
                        )
                        .at_row(*row)
                        .help("correct the instant"),
                    );
                }
                said.log_options.breaks.push(instant);
                if let Some(tally) = parts.tally(&beside(name, file), &said, diagnostics) {
                    swaps.push(Swap { at, tally });
                }
            }
            Err(e) => diagnostics.push(
                Diagnostic::error(name, format!("'{at}' {}", e.message()))
                    .at_row(*row)
                    .help(e.help()),
            ),
        }
    }
    swaps.sort_by_key(|s| s.at.start(zone));
    let log = match &said.log {
        Some(file) => {
            let read = parts.log(&beside(name, file), &said, diagnostics);
            if read.is_none() && diagnostics.errors() == before {
                diagnostics
                    .push(Diagnostic::error(name, format!("the log '{file}' cannot be read")));
            }
            read
        }
        None => None,
    };
    if diagnostics.errors() > before {
        return out;
    }
    let Some(tally) = tally else { return out };
    said.body.tally = tally;
    said.body.swaps = swaps;
    out.made = assemble(name, said, log, zone, diagnostics);
    if diagnostics.errors() > before {
        out.made = None;
    }
    out
}

/// What the header file holds.
pub(super) enum RunContent<'a> {
    /// TOML text.
    Toml(&'a str),
    /// Rows of a sheet.
    Rows(Vec<RawRow>),
}

/// Segments with their source, from a log or a summary.
struct Cut {
    segments: Vec<Segment>,
    source: LogSource,
    last_ms: Option<i64>,
}

struct Parts<'a, 'b> {
    options: &'a Options,
    world: &'a World<'a>,
    context: &'a Context<'a>,
    out: &'b mut RunRead,
}

impl Parts<'_, '_> {
    fn tally(
        &mut self,
        file: &str,
        said: &Said,
        diagnostics: &mut Diagnostics,
    ) -> Option<Vec<TallyLine>> {
        let options = Options { columns: said.tally_columns.clone(), ..self.options.plain() };
        let content: Content = load(file, &options, Some(Kind::Tally), self.world, diagnostics)?;
        self.out.files.push((base_name(file).to_owned(), content.sha256.clone()));
        self.out.notes.extend(content.notes.iter().map(|n| format!("{}: {n}", base_name(file))));
        self.tally_rows(file, content.rows, said, diagnostics)
    }

    fn tally_rows(
        &mut self,
        file: &str,
        rows: Vec<RawRow>,
        said: &Said,
        diagnostics: &mut Diagnostics,
    ) -> Option<Vec<TallyLine>> {
        let columns = said.tally_columns.clone();
        let at = Where { file, sheet: None, stated: columns.as_ref() };
        let fields = Kind::Tally.fields();
        let layout = read_layout(&rows, &fields, at, diagnostics)?;
        let reading = Reading {
            decimal: self.options.decimal,
            nulls: self.options.nulls.clone(),
            clock: self.options.clock,
        };
        let mut table = Table::new(rows, layout, fields, at, reading, diagnostics)?;
        self.out.rows += table.rows.len() as u64;
        tally::read(&mut table, self.context, Some(said.body.start), said.order, diagnostics)
    }

    fn log(&mut self, file: &str, said: &Said, diagnostics: &mut Diagnostics) -> Option<Cut> {
        // The head tells whether it is a log or a summary; only a summary is read as a whole.
        let kind = self.kind_of_log(file, said, diagnostics)?;
        if kind == Kind::Operations {
            return self.summary(file, said, diagnostics);
        }
        let LogRead { segments, source, last_ms, notes, .. } =
            log::read(file, &said.log_options, self.world, diagnostics)?;
        self.out.notes.extend(notes.into_iter().map(|n| format!("{}: {n}", base_name(file))));
        Some(Cut { segments, source, last_ms })
    }

    fn kind_of_log(&self, file: &str, said: &Said, diagnostics: &mut Diagnostics) -> Option<Kind> {
        let options = Options {
            columns: said.log_options.columns.clone(),
            delimiter: said.log_options.delimiter,
            ..self.options.plain()
        };
        let head = super::head(file, &options, self.world, diagnostics)?;
        let stated = options.columns.as_ref();
        let fit = fits(&head, stated, &[]);
        let best = fit.iter().find(|f| matches!(f.kind, Kind::Log | Kind::Operations));
        Some(best.map_or(Kind::Log, |f| f.kind))
    }

    fn summary(&mut self, file: &str, said: &Said, diagnostics: &mut Diagnostics) -> Option<Cut> {
        let options = Options {
            columns: said.log_options.columns.clone(),
            delimiter: said.log_options.delimiter,
            ..self.options.plain()
        };
        let content = load(file, &options, Some(Kind::Operations), self.world, diagnostics)?;
        let at = Where { file, sheet: None, stated: options.columns.as_ref() };
        let fields = Kind::Operations.fields();
        let layout = read_layout(&content.rows, &fields, at, diagnostics)?;
        let reading = Reading {
            decimal: said.log_options.decimal,
            nulls: said.log_options.nulls.clone(),
            clock: self.options.clock,
        };
        let mut table = Table::new(content.rows, layout, fields, at, reading, diagnostics)?;
        let rows = table.rows.len() as u64;
        let segments = operations::read(&mut table, diagnostics)?;
        if segments.is_empty() {
            diagnostics.push(table.error("the summary of operations has no row"));
            return None;
        }
        let source = LogSource {
            file: base_name(file).to_owned(),
            sha256: content.sha256,
            rows,
            left_out: Vec::new(),
            cut: "summary of operations, row by row as written".to_owned(),
        };
        Some(Cut { segments, source, last_ms: None })
    }
}

fn assemble(
    name: &str,
    said: Said,
    cut: Option<Cut>,
    zone: i32,
    diagnostics: &mut Diagnostics,
) -> Option<Made> {
    let Said { mut body, end, stated_grade, .. } = said;
    let start_ms = body.start.start(zone).0;
    let mut last_ms = None;
    if let Some(cut) = cut {
        let total: i64 = cut.segments.iter().map(|s| s.duration_ms).sum();
        last_ms = cut.last_ms;
        if let Some(end) = end
            && last_ms.is_none()
            && start_ms + total > end.end(zone).0
        {
            let whole = (end.end(zone).0 - start_ms) as f64 / 3.6e6;
            diagnostics.push(
                Diagnostic::error(name, format!("the log has {:.1} h and the run lasted {whole:.1} h", total as f64 / 3.6e6))
                    .help("correct the start or end of the run, or the part of the log that belongs to it (depth_in, depth_out)"),
            );
        }
        check_length(name, &body, &cut.segments, diagnostics);
        body.segments = cut.segments;
        body.log = Some(cut.source);
        body.grade = stated_grade.unwrap_or(RunGrade::Logged);
    } else {
        if stated_grade == Some(RunGrade::Logged) {
            diagnostics.push(
                Diagnostic::error(name, "the run is graded logged and names no log")
                    .help("name it, log = \"file.csv\", or grade the run summary"),
            );
        }
        let missing: Vec<&str> = [
            ("hours", body.hours.is_none()),
            ("rotary_speed", body.rotary_speed.is_none()),
            ("depth_in", body.depth_in.is_none()),
            ("depth_out", body.depth_out.is_none()),
        ]
        .iter()
        .filter(|(_, m)| *m)
        .map(|(k, _)| *k)
        .collect();
        if !missing.is_empty() {
            diagnostics.push(
                Diagnostic::error(name, format!("the run has no log and does not state {}", missing.join(", ")))
                    .help("name its log, log = \"file.csv\", or state hours, rotary_speed, depth_in and depth_out"),
            );
        }
    }
    let effective = match (end, last_ms) {
        (Some(end), _) => end,
        (None, Some(ms)) => super::when::clock_time(ms, zone)?,
        (None, None) => {
            diagnostics.push(
                Diagnostic::error(name, "the run has no end")
                    .help("say when it ended: end = 2026-03-19"),
            );
            return None;
        }
    };
    Some(Made { rows: Vec::new(), effective, body: Body::Run(Box::new(body)) })
}

/// Says when the string is shorter than the depth of the bit, where every length is known.
fn check_length(name: &str, body: &RunBody, segments: &[Segment], diagnostics: &mut Diagnostics) {
    let length: Option<f64> = body
        .tally
        .iter()
        .map(|l| Some(l.length.as_ref()?.base(M::JointLength)? * f64::from(l.count.unwrap_or(1))))
        .sum();
    let deepest =
        segments.iter().map(|s| s.bit_from_mm.max(s.bit_to_mm)).max().unwrap_or(0) as f64 / 1000.0;
    if let Some(length) = length.filter(|_| body.swaps.is_empty())
        && deepest > length + 1.0
    {
        diagnostics.push(
            Diagnostic::warning(
                name,
                format!("the bit goes to {deepest:.1} m and the string is {length:.1} m long"),
            )
            .help("joints are missing from the tally, or a depth is wrong"),
        );
    }
}
