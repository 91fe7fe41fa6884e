//! LAS 3.0 (Canadian Well Logging Society, "LAS 3.0 Log ASCII Standard Document"): several tables in one
//! file. Each is a section of data (`~Log_Data`, `~Drilling_Data[2]`) that names the section in which its
//! columns are defined; `~A` and `~C` are other words for those of the log. What divides the values is
//! stated once (`DLM`), and no row takes more than a line.

use std::collections::BTreeMap;
use std::io::{self, BufRead, Read as _};

use super::las::{LasError, header_line};
use crate::intake::table::{Delimiter, RawRow, rows};
use crate::intake::text;
use crate::intake::when::DateOrder;

/// Topics of which the rows may be an operating log, the likelier first.
const LOGS: [&str; 2] = ["drilling", "log"];

/// A line longer than this is none of a header.
const LONGEST: u64 = 1 << 20;

/// Parts of a file whose data are wanted, and what all of them share.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Tables {
    /// The value that stands for none.
    pub null: Option<String>,
    /// What divides the values of a row.
    pub delimiter: Option<Delimiter>,
    /// Start, stop and step of the index of the log by their mnemonics, each with its unit.
    pub ends: BTreeMap<String, (String, String)>,
    pub sections: Vec<Section>,
}

/// A section of data, with the definition of its columns.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Section {
    /// Its name as the file has it.
    pub name: String,
    /// What it tells of: log, drilling, inclinometry.
    pub topic: String,
    /// Mnemonic and unit of each column.
    pub curves: Vec<(String, String)>,
    /// How the dates of each column are written, where that is stated: `DD/MM/YYYY`.
    pub dates: Vec<Option<String>>,
    /// Line of the definition.
    pub curve_line: u64,
    /// Line at which the data are announced.
    pub data_line: u64,
    /// The first rows.
    pub rows: Vec<RawRow>,
}

/// What a section holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Role {
    Version,
    Well,
    Definition,
    Data,
    Other,
}

/// A name of a section: topic, role, and the number of a section that comes several times.
fn named(name: &str) -> (String, Role, String) {
    let name = name.trim().to_ascii_lowercase();
    let (base, number) = match name.split_once('[') {
        Some((base, rest)) => (base.trim(), rest.trim_end_matches(']').trim().to_owned()),
        None => (name.split_whitespace().next().unwrap_or_default(), String::new()),
    };
    let log = "log".to_owned();
    let (topic, role) = match base {
        "a" | "ascii" => (log, Role::Data),
        "c" | "curve" => (log, Role::Definition),
        "v" | "version" => (log, Role::Version),
        "w" | "well" => (log, Role::Well),
        _ => match (base.strip_suffix("_data"), base.strip_suffix("_definition")) {
            (Some(topic), _) => (topic.to_owned(), Role::Data),
            (_, Some(topic)) => (topic.to_owned(), Role::Definition),
            _ => (base.to_owned(), Role::Other),
        },
    };
    (topic, role, number)
}

/// Whether a text that begins as LAS does is of version 3.
pub(super) fn is_three(text: &str) -> bool {
    let vers = text.lines().filter_map(|l| header_line(l.trim())).find(|l| {
        let (mnemonic, ..) = l;
        mnemonic.eq_ignore_ascii_case("VERS")
    });
    vers.is_some_and(|(_, _, value)| value.starts_with('3'))
}

impl Tables {
    /// Reads a whole file, keeping no more than so many rows of each section.
    pub(super) fn read(file: &mut dyn BufRead, most: usize) -> io::Result<Self> {
        let mut reader = Reader::default();
        let (mut line, mut number) = (Vec::new(), 0);
        loop {
            line.clear();
            if file.take(LONGEST).read_until(b'\n', &mut line)? == 0 {
                return Ok(reader.tables);
            }
            number += 1;
            if number == 1 && line.starts_with(&[0xef, 0xbb, 0xbf]) {
                line.drain(..3);
            }
            reader.line(number, text::cell(&line).trim(), most);
        }
    }

    /// The sections that are a log of drilling, of which `known` counts the titles that it knows: those
    /// of the topic that has most of them. With the names of the sections that are left.
    pub(super) fn log(
        &mut self,
        known: impl Fn(&[String]) -> usize,
    ) -> Result<(Vec<Section>, Vec<String>), LasError> {
        let count = |s: &Section| known(&s.titles());
        let topics = self.sections.iter().filter(|s| LOGS.contains(&s.topic.as_str()));
        let rank = |s: &Section| LOGS.iter().position(|t| *t == s.topic);
        let best = topics.max_by_key(|s| (count(s), std::cmp::Reverse(rank(s))));
        let names = || {
            let names: Vec<String> = self.sections.iter().map(|s| format!("~{}", s.name)).collect();
            if names.is_empty() { "it has none".to_owned() } else { names.join(", ") }
        };
        let topic = best.ok_or_else(|| LasError::NoLog { tables: names() })?.topic.clone();
        let least = if best.is_some_and(|s| count(s) > 1) { 2 } else { 0 };
        let (read, left): (Vec<_>, Vec<_>) = std::mem::take(&mut self.sections)
            .into_iter()
            .partition(|s| s.topic == topic && count(s) >= least);
        if read.iter().all(|s| s.curves.is_empty()) {
            return Err(LasError::NoCurves);
        }
        Ok((read, left.into_iter().map(|s| format!("~{}", s.name)).collect()))
    }
}

impl Section {
    pub(super) fn titles(&self) -> Vec<String> {
        self.curves.iter().map(|c| c.0.clone()).collect()
    }

    /// Titles and units of its columns, as two rows.
    pub(super) fn header(&self) -> [RawRow; 2] {
        let units = self.curves.iter().map(|c| c.1.clone()).collect();
        [self.titles(), units].map(|cells| RawRow::new(self.curve_line, cells))
    }
}

/// A definition of columns: topic and number, line, columns with the format of their dates.
type Definition = ((String, String), u64, Vec<(String, String, Option<String>)>);

/// A text that says how dates are written: day, month and year, or a part of it that has a year.
fn is_date_format(text: &str) -> bool {
    let signs = |c: char| "YMDhms".contains(c) || matches!(c, '/' | '-' | '.' | ':' | ' ' | 'T');
    text.contains("YY") && text.contains('M') && text.contains('D') && text.chars().all(signs)
}

/// How a line of a definition states dates: in braces behind the description, or in the place of a unit.
fn date_format(line: &str, unit: &str) -> Option<String> {
    let braced =
        line.rsplit_once('{').and_then(|(_, rest)| rest.split_once('}')).map(|(f, _)| f.trim());
    braced.into_iter().chain([unit]).find(|text| is_date_format(text)).map(str::to_owned)
}

/// Order of day and month by a format; `Err` for one in which a year stands before the day.
pub(super) fn order_of(format: &str) -> Result<Option<DateOrder>, LasError> {
    let place = |sign: char| format.find(sign).unwrap_or(usize::MAX);
    let (year, month, day) = (place('Y'), place('M'), place('D'));
    match (day < month, year < month.min(day)) {
        (true, true) => Err(LasError::DateFormat { format: format.to_owned() }),
        (false, true) => Ok(None),
        (true, false) => Ok(Some(DateOrder::DayFirst)),
        (false, false) => Ok(Some(DateOrder::MonthFirst)),
    }
}

#[derive(Default)]
struct Reader {
    tables: Tables,
    role: Option<Role>,
    definitions: Vec<Definition>,
}

impl Reader {
    fn line(&mut self, number: u64, line: &str, most: usize) {
        if line.is_empty() || line.starts_with('#') {
            return;
        }
        if let Some(title) = line.strip_prefix('~') {
            self.section(number, title);
            return;
        }
        match self.role {
            Some(Role::Data) => {
                let delimiter = self.tables.delimiter.unwrap_or(Delimiter::Blanks);
                if let Some(section) =
                    self.tables.sections.last_mut().filter(|s| s.rows.len() < most)
                {
                    let row = rows(line, delimiter).into_iter().next();
                    section.rows.extend(row.map(|row| RawRow { number, ..row }));
                }
            }
            Some(role @ (Role::Version | Role::Well | Role::Definition)) => {
                if let Some((mnemonic, unit, value)) = header_line(line) {
                    let dates = date_format(line, unit);
                    let unit = if is_date_format(unit) { "" } else { unit };
                    self.header(role, mnemonic, (unit, dates), value);
                }
            }
            Some(Role::Other) | None => {}
        }
    }

    fn section(&mut self, number: u64, title: &str) {
        let (name, of) = title.split_once('|').unwrap_or((title, ""));
        let (topic, role, which) = named(name);
        self.role = Some(role);
        match role {
            Role::Definition => self.definitions.push(((topic, which), number, Vec::new())),
            Role::Data => {
                let (of_topic, _, of_which) = named(of);
                let wanted = if of.trim().is_empty() {
                    (topic.clone(), which)
                } else {
                    (of_topic, of_which)
                };
                let found = self.definitions.iter().find(|d| d.0 == wanted);
                let (curve_line, columns) =
                    found.map_or((number, Vec::new()), |d| (d.1, d.2.clone()));
                let dates = columns.iter().map(|c| c.2.clone()).collect();
                let curves = columns.into_iter().map(|(name, unit, _)| (name, unit)).collect();
                let name = name.trim().to_owned();
                let (data_line, rows) = (number, Vec::new());
                let section = Section { name, topic, curves, dates, curve_line, data_line, rows };
                self.tables.sections.push(section);
            }
            Role::Version | Role::Well | Role::Other => {}
        }
    }

    fn header(
        &mut self,
        role: Role,
        mnemonic: &str,
        (unit, dates): (&str, Option<String>),
        value: &str,
    ) {
        let key = mnemonic.to_ascii_uppercase();
        match (role, key.as_str()) {
            (Role::Version, "DLM") => {
                self.tables.delimiter = match value.to_ascii_uppercase().as_str() {
                    "COMMA" => Some(Delimiter::Comma),
                    "TAB" => Some(Delimiter::Tab),
                    _ => None,
                };
            }
            (Role::Well, "NULL") => self.tables.null = Some(value.to_owned()),
            (Role::Well, "STRT" | "STOP" | "STEP") => {
                self.tables.ends.insert(key, (value.to_owned(), unit.to_owned()));
            }
            (Role::Definition, _) => {
                if let Some((_, _, curves)) = self.definitions.last_mut() {
                    curves.push((mnemonic.to_owned(), unit.to_owned(), dates));
                }
            }
            _ => {}
        }
    }
}
