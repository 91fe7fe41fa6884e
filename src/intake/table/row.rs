//! One row, read field by field; what is wrong with a cell becomes a diagnostic with its place.

use super::Table;
use super::field::{Field, Holds};
use super::layout::{Column, unit_help};
use super::split::RawRow;
use crate::intake::ask::Question;
use crate::intake::diagnostic::{Diagnostic, Diagnostics, Excerpt};
use crate::intake::number::{Decimal, feet_and_inches, is_null, plain, split_cell};
use crate::intake::when;
use crate::model::{Clock, Moment, Qty, Stated, Vocabulary, join_blanks, unseen_kind, unseen_sign};
use crate::units::{Dimension, Measure, Rational, Unit};

/// Fields that hold what one person tells another.
const PROSE: [&str; 3] = ["remark", "note", "reason"];

/// Signs with which a bound or a rough value begins.
const BOUNDS: [char; 6] = ['<', '>', '\u{2264}', '\u{2265}', '~', '\u{b1}'];

/// A decimal number times a hundred, digit by digit: `0.885` is 88.5.
fn hundredfold(number: &str) -> Option<String> {
    let (whole, decimals) = number.split_once('.').unwrap_or((number, ""));
    let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    if !digits(whole) || !digits(decimals) {
        return None;
    }
    let decimals = format!("{decimals:0<2}");
    let (moved, rest) = decimals.split_at(2);
    let whole = format!("{whole}{moved}");
    let whole = whole.trim_start_matches('0');
    let whole = if whole.is_empty() { "0" } else { whole };
    Some(if rest.is_empty() { whole.to_owned() } else { format!("{whole}.{rest}") })
}

/// A span of `12:30` or `12:30:15` hours, as seconds.
fn hours_and_minutes(text: &str) -> Option<String> {
    let mut parts = text.trim().split(':');
    let (hours, minutes, seconds) = (parts.next()?, parts.next()?, parts.next().unwrap_or("0"));
    let whole = |t: &str| t.bytes().all(|b| b.is_ascii_digit()).then(|| t.parse::<u64>().ok())?;
    let (h, m, s) = (whole(hours)?, whole(minutes)?, whole(seconds)?);
    let fits = parts.next().is_none() && minutes.len() == 2 && m < 60 && s < 60 && h < 1_000_000;
    fits.then(|| (h * 3600 + m * 60 + s).to_string())
}

/// The two ends of a cell that is a range, `0.33-0.35`, `5.10 to 5.20 in`, the lesser first.
fn range(text: &str, decimal: Decimal) -> Option<(String, String)> {
    let (a, b) = [" to ", " - ", "\u{2013}", "-", "..", "/"]
        .iter()
        .find_map(|sign| text.split_once(sign).filter(|(a, _)| !a.trim().is_empty()))?;
    let (a, b) = (split_cell(a.trim()), split_cell(b.trim()));
    let value = |text: &str| plain(text, decimal)?.parse::<f64>().ok();
    let (x, y) = (value(a.0)?, value(b.0)?);
    let (from, to) = if x <= y { (a.0, b.0) } else { (b.0, a.0) };
    let unit = if b.1.is_empty() { String::new() } else { format!(" {}", b.1) };
    Some((format!("{from}{unit}"), format!("{to}{unit}")))
}

/// A row of a table while it is read.
pub(crate) struct Row<'a> {
    table: &'a Table,
    raw: &'a RawRow,
    diagnostics: &'a mut Diagnostics,
    unit_reported: &'a mut Vec<usize>,
    sound: bool,
    /// What was said of which field already: a field may be read more than once.
    said: Vec<(Option<String>, String)>,
}

/// A cell found for a field.
struct Cell<'a> {
    column: Option<&'a Column>,
    text: &'a str,
}

/// What a row holds in one of its columns.
pub(crate) struct Filled<'a> {
    /// Key of the field.
    pub key: &'a str,
    /// Its text; empty where nothing is written.
    pub text: &'a str,
    /// The text is a value, and no sign for none.
    pub says: bool,
    /// The cell is merged with one in a row above.
    pub merged: bool,
}

impl<'a> Row<'a> {
    pub(super) fn new(
        table: &'a Table,
        raw: &'a RawRow,
        diagnostics: &'a mut Diagnostics,
        unit_reported: &'a mut Vec<usize>,
    ) -> Self {
        Self { table, raw, diagnostics, unit_reported, sound: true, said: Vec::new() }
    }

    /// Line in the file.
    pub(crate) fn number(&self) -> u64 {
        self.raw.number
    }

    /// The table that the row belongs to.
    pub(crate) fn table(&self) -> &'a Table {
        self.table
    }

    /// False once something was wrong with the row.
    pub(crate) fn is_sound(&self) -> bool {
        self.sound
    }

    /// True when the row has as many cells as the header.
    pub(super) fn check_width(&mut self) -> bool {
        let (have, want) = (self.raw.cells.len(), self.table.layout.width);
        // Within quotation marks a cell may hold lines, but hardly a line with as many delimiters
        // as a row: that is a row which a stray mark has swallowed.
        let swallowed = |cell: &String| {
            let signs = |l: &str| [',', ';', '\t'].map(|d| l.matches(d).count()).into_iter().max();
            cell.lines().skip(1).any(|l| signs(l).is_some_and(|n| n > 0 && n + 1 >= want))
        };
        let lines = self.raw.cells.iter().any(|c| c.contains('\n'));
        if lines && (have != want || self.raw.cells.iter().any(swallowed)) {
            let message = "a quotation mark opens in this row and closes in another";
            let help = "the rows in between are lost in one cell: close it, or take it away";
            self.wrong(None, message, help);
            return false;
        }
        let spare = self.raw.cells.get(want..).unwrap_or_default();
        if have < want {
            self.fault(None, format!("the row has {have} cells and the header {want}"), |d| {
                d.help("a row that is cut off or lacks a delimiter is not read; empty cells keep their delimiter")
            });
        } else if spare.iter().any(|c| !c.trim().is_empty()) {
            self.fault(None, format!("the row has {have} cells and the header {want}"), |d| {
                d.help("a delimiter inside a value needs quotation marks around the value")
            });
        }
        self.sound
    }

    /// Title and unit of the first column of a field.
    pub(crate) fn column(&self, key: &str) -> Option<(&'a str, &'a str)> {
        let (at, _) = self.field(key)?;
        let column = self.table.layout.columns.iter().find(|c| c.field == at)?;
        Some((column.title.as_str(), column.unit.as_ref().map_or("", Unit::symbol)))
    }

    fn field(&self, key: &str) -> Option<(usize, &'a Field)> {
        let at = self.table.field(key)?;
        Some((at, &self.table.fields[at]))
    }

    /// The first cell of a field that holds something, a value for the whole file otherwise.
    fn cell(&self, key: &str) -> Option<Cell<'a>> {
        let (at, _) = self.field(key)?;
        let table = self.table;
        let filled = table
            .layout
            .columns
            .iter()
            .filter(|c| c.field == at)
            .filter_map(|c| Some((c, self.raw.cells.get(c.number - 1)?.trim())))
            .find(|(_, text)| !is_null(text, &table.reading.nulls));
        match filled {
            Some((column, text)) => Some(Cell { column: Some(column), text }),
            None => table.constant(key).map(|text| Cell { column: None, text }),
        }
    }

    /// Its own cells in columns that name fields; values for the whole file are none of them.
    pub(crate) fn cells(&self) -> impl Iterator<Item = Filled<'a>> + use<'a> {
        let (table, raw) = (self.table, self.raw);
        table.layout.columns.iter().map(|c| {
            let text = raw.cells.get(c.number - 1).map_or("", |cell| cell.trim());
            let says = !is_null(text, &table.reading.nulls);
            let merged = raw.merged.iter().any(|m| m.0 + 1 == c.number);
            Filled { key: &table.fields[c.field].key, text, says, merged }
        })
    }

    fn excerpt(&self, column: Option<&Column>) -> Option<Excerpt> {
        // Cells before and after the one at fault, until the line is long enough.
        let at = column.map_or(0, |c| c.number - 1);
        let cells = &self.raw.cells;
        let target = cells.get(at)?;
        let (mut from, mut to, mut length) = (at, at + 1, target.chars().count());
        loop {
            let grown = length;
            if from > 0 && length < 90 {
                from -= 1;
                length += cells[from].trim().chars().count() + 3;
            }
            if to < cells.len() && length < 90 {
                length += cells[to].trim().chars().count() + 3;
                to += 1;
            }
            if grown == length {
                break;
            }
        }
        let joined = |part: &[String]| {
            let cells: Vec<&str> = part.iter().flat_map(|c| [c.trim(), " | "]).collect();
            cells.concat()
        };
        let before = (if from > 0 { "… | " } else { "" }).to_owned() + &joined(&cells[from..at]);
        let text = format!("{before}{}", joined(&cells[at..to]).trim_end_matches(" | "));
        let more = if to < cells.len() { " | …" } else { "" };
        let len = if column.is_some() { target.trim().chars().count().max(1) } else { 0 };
        Some(Excerpt { from: before.chars().count(), len, text: text + more })
    }

    fn diagnose(
        &mut self,
        key: Option<&str>,
        mut d: Diagnostic,
        finish: impl FnOnce(Diagnostic) -> Diagnostic,
    ) {
        let said = (key.map(str::to_owned), d.message.clone());
        if self.said.contains(&said) {
            return;
        }
        self.said.push(said);
        d = d.in_sheet(self.table.sheet.as_deref());
        if self.raw.number > 0 {
            d = d.at_row(self.raw.number);
        }
        let (mut column, mut constant) = (None, None);
        if let Some(key) = key {
            match self.cell(key) {
                Some(Cell { column: Some(c), text }) => {
                    column = Some(c);
                    d = d.in_column(c.number, &c.title).value(text);
                }
                Some(Cell { column: None, text }) => {
                    d = d.value(text);
                    constant = self.table.constants.get(key);
                }
                None => {
                    let at = self.field(key).map(|f| f.0);
                    column = self.table.layout.columns.iter().find(|c| Some(c.field) == at);
                    if let Some(c) = column {
                        d = d.in_column(c.number, &c.title);
                    }
                }
            }
        }
        match constant {
            Some(c) => d.row = c.row,
            None => d.excerpt = self.excerpt(column),
        }
        self.diagnostics.push(finish(d));
    }

    fn fault(
        &mut self,
        key: Option<&str>,
        message: impl Into<String>,
        finish: impl FnOnce(Diagnostic) -> Diagnostic,
    ) {
        self.sound = false;
        let d = Diagnostic::error(&self.table.file, message);
        self.diagnose(key, d, finish);
    }

    /// Something is wrong with a field of the row, or with the row.
    pub(crate) fn wrong(&mut self, key: Option<&str>, message: impl Into<String>, help: &str) {
        self.fault(key, message, |d| if help.is_empty() { d } else { d.help(help) });
    }

    /// Something is odd about a field of the row, or about the row.
    pub(crate) fn odd(&mut self, key: Option<&str>, message: impl Into<String>, help: &str) {
        let d = Diagnostic::warning(&self.table.file, message);
        self.diagnose(key, d, |d| if help.is_empty() { d } else { d.help(help) });
    }

    /// Says that a field is missing, unless what stands there was refused.
    pub(crate) fn missing(&mut self, key: &str, help: &str) {
        if self.said.iter().any(|(of, _)| of.as_deref() == Some(key)) {
            return;
        }
        let message = if self.table.has(key) {
            format!("no {} is given", key.replace('_', " "))
        } else {
            format!("the file states no {}", key.replace('_', " "))
        };
        let ask = self.value_of_all(key);
        let mut help = help.to_owned();
        if self.stands_above(key) {
            help += if help.is_empty() { "" } else { "; " };
            help += "an empty cell does not repeat the one above it: write it in each row, or ditto \
                     where it is the same (cells that an .xlsx workbook has merged are read as one)";
        }
        self.fault(Some(key), message, |d| {
            let d = if help.is_empty() { d } else { d.help(help) };
            match ask {
                Some(ask) => d.asks(ask),
                None => d,
            }
        });
    }

    /// Whether the row above names what this one lacks.
    fn stands_above(&self, key: &str) -> bool {
        let Some((at, field)) = self.field(key) else { return false };
        let table = self.table;
        let says = |row: &RawRow, c: &Column| {
            let cell = row.cells.get(c.number - 1);
            cell.is_some_and(|cell| !is_null(cell, &table.reading.nulls))
        };
        let above = table.rows.iter().take_while(|r| r.number < self.raw.number).last();
        matches!(field.holds, Holds::Serial | Holds::When | Holds::Text)
            && above.is_some_and(|row| {
                table.layout.columns.iter().filter(|c| c.field == at).any(|c| says(row, c))
            })
    }

    /// Asks for a value of the whole file, or for the column that has it, where no column does.
    fn value_of_all(&self, key: &str) -> Option<Question> {
        let field = &self.table.fields[self.table.field(key)?];
        let unused = self.table.layout.unused.iter().map(|(_, title)| title.clone());
        let titles = unused.filter(|t| !t.is_empty() && t != "-").collect();
        let asks = !self.table.has(key) && matches!(field.holds, Holds::Text | Holds::When);
        asks.then(|| Question::value(field.typed(), field.holds == Holds::When, titles))
    }

    /// Text of a field. One with a sign that nobody sees is refused, for it would be taken for the one
    /// that it looks like; what is written for people alone names nothing and may hold any.
    pub(crate) fn text(&mut self, key: &str) -> Option<String> {
        let cell = self.cell(key)?;
        let unseen = unseen_sign(cell.text).filter(|_| !PROSE.contains(&key));
        if let Some((at, sign)) = unseen {
            let message = format!(
                "the {} holds {} as its {at}. character: U+{:04X}",
                key.replace('_', " "),
                unseen_kind(sign),
                u32::from(sign)
            );
            self.wrong(Some(key), message, "type it anew, without what was pasted with it");
            return None;
        }
        Some(join_blanks(cell.text))
    }

    /// True when a field's cell holds one of these texts, also where the text means "no value".
    pub(crate) fn raw_is(&self, key: &str, texts: &[&str]) -> bool {
        let Some((at, _)) = self.field(key) else { return false };
        self.table
            .layout
            .columns
            .iter()
            .filter(|c| c.field == at)
            .filter_map(|c| self.raw.cells.get(c.number - 1))
            .any(|cell| texts.contains(&cell.trim()))
    }

    /// Text that must be there.
    pub(crate) fn need_text(&mut self, key: &str, help: &str) -> Option<String> {
        let text = self.text(key);
        if text.is_none() {
            self.missing(key, help);
        }
        text
    }

    /// A word of a vocabulary.
    pub(crate) fn word<V: Vocabulary>(&mut self, key: &str) -> Option<V> {
        let text = self.text(key)?;
        match V::from_word(&text) {
            Ok(word) => Some(word),
            Err(e) => {
                self.wrong(Some(key), e.to_string(), "");
                None
            }
        }
    }

    /// Words of a vocabulary, divided by semicolons, commas or plus signs.
    pub(crate) fn words<V: Vocabulary>(&mut self, key: &str) -> Vec<V> {
        let Some(text) = self.text(key) else { return Vec::new() };
        let mut out = Vec::new();
        for part in text.split([';', ',', '+']).map(str::trim).filter(|p| !p.is_empty()) {
            match V::from_word(part) {
                Ok(word) => {
                    if !out.contains(&word) {
                        out.push(word);
                    }
                }
                Err(e) => self.wrong(Some(key), e.to_string(), ""),
            }
        }
        out
    }

    /// Yes or no.
    pub(crate) fn flag(&mut self, key: &str) -> Option<bool> {
        let text = self.text(key)?;
        match text.to_lowercase().as_str() {
            "yes" | "y" | "true" | "1" | "x" | "passed" | "pass" | "ok" => Some(true),
            "no" | "n" | "false" | "0" | "failed" | "fail" | "not ok" => Some(false),
            _ => {
                self.wrong(Some(key), format!("'{text}' is neither yes nor no"), "write yes or no");
                None
            }
        }
    }

    /// The clock of the site.
    pub(crate) fn clock(&self) -> Clock {
        self.table.reading.times.clock
    }

    /// A date or time.
    pub(crate) fn moment(&mut self, key: &str) -> Option<Moment> {
        let cell = self.cell(key)?;
        match when::read(cell.text, self.table.reading.times) {
            Ok((m, twice)) => {
                if twice {
                    let message = format!(
                        "'{}' is a time that the clock of the site shows twice: the first is taken, \
                         {m}",
                        cell.text
                    );
                    self.odd(Some(key), message, "write the time with its offset from UTC");
                }
                Some(m)
            }
            Err(e) => {
                let message = format!("'{}' {}", cell.text, e.message());
                let help = e.help_for(cell.text);
                let ask = (e == when::WhenError::Order).then(Question::date_order);
                self.fault(Some(key), message, |d| match ask {
                    Some(ask) => d.help(help).asks(ask),
                    None => d.help(help),
                });
                None
            }
        }
    }

    /// A whole number, not negative.
    pub(crate) fn count(&mut self, key: &str) -> Option<u32> {
        let cell = self.cell(key)?;
        let whole = plain(cell.text, self.table.decimal)
            .and_then(|t| Rational::parse(&t)?.as_integer())
            .and_then(|n| u32::try_from(n).ok());
        if whole.is_none() {
            let message = format!("'{}' is no whole number", cell.text);
            self.wrong(Some(key), message, "write 0, 1, 2 …");
        }
        whole
    }

    /// A quantity as written, in the unit of its column or its own; checked against what is
    /// possible. Two columns of one field must agree.
    pub(crate) fn qty(&mut self, key: &str) -> Option<Qty> {
        self.quantity(key).map(|(qty, _)| qty)
    }

    /// A quantity and what it measures.
    pub(crate) fn quantity(&mut self, key: &str) -> Option<(Qty, Measure)> {
        let (at, field) = self.field(key)?;
        let cells: Vec<Cell<'a>> = self
            .table
            .layout
            .columns
            .iter()
            .filter(|c| c.field == at)
            .filter_map(|c| {
                let text = self.raw.cells.get(c.number - 1)?.trim();
                (!is_null(text, &self.table.reading.nulls))
                    .then_some(Cell { column: Some(c), text })
            })
            .collect();
        let (qty, measure) = if let Some(first) = cells.first() {
            self.read_quantity(key, field, first)?
        } else {
            let constant = self.cell(key)?;
            self.read_quantity(key, field, &constant)?
        };
        for twin in cells.iter().skip(1) {
            let (other, other_measure) = self.read_quantity(key, field, twin)?;
            let (a, b) = (qty.base(measure)?, other.base(other_measure)?);
            // Twin columns in two units round to the last digit that each shows.
            if measure == other_measure && (a - b).abs() > 0.01 * a.abs().max(b.abs()).max(0.1) {
                let names: Vec<&str> =
                    cells.iter().filter_map(|c| c.column.map(|c| c.title.as_str())).collect();
                let message = format!("'{}' disagree: {qty} and {other}", names.join("' and '"));
                let skipped = twin.column.map_or("", |c| c.title.as_str());
                let help = format!(
                    "correct the cell; or skip the column that is wrong: --columns '\"{skipped}\" = -'"
                );
                self.wrong(Some(key), message, &help);
                return None;
            }
        }
        Some((qty, measure))
    }

    fn read_quantity(
        &mut self,
        key: &str,
        field: &Field,
        cell: &Cell<'a>,
    ) -> Option<(Qty, Measure)> {
        let in_feet = cell.column.and_then(|c| c.unit.as_ref()).is_some_and(|u| u.symbol() == "ft");
        let inches = field
            .holds
            .measures()
            .any(|m| m.dimension() == Dimension::LENGTH)
            .then(|| feet_and_inches(cell.text, in_feet))
            .flatten();
        // Under another unit, minutes perhaps, nobody says what stands before the colon.
        let in_hours = cell.column.and_then(|c| c.unit.as_ref()).is_none_or(|u| u.symbol() == "h");
        let hours = (in_hours && field.holds == Holds::Of(Measure::Hours))
            .then(|| hours_and_minutes(cell.text))
            .flatten();
        let (number, unit_text) = match (&inches, &hours) {
            (Some(inches), _) => (inches.as_str(), "in"),
            (None, Some(seconds)) => (seconds.as_str(), "s"),
            (None, None) => split_cell(cell.text),
        };
        let Some(number) = plain(number, self.table.decimal) else {
            if let Some((from, to)) = range(cell.text, self.table.decimal) {
                let message = format!("'{}' is a range, and a cell tells one value", cell.text);
                let help = format!(
                    "write the value that counts: of a wall, an outside diameter or a shoulder the least, \
                     {from}; of a bore or a counterbore the largest, {to}"
                );
                self.wrong(Some(key), message, &help);
                return None;
            }
            let message = format!("'{}' is not a number", cell.text);
            let help = match (number.contains(','), number.contains('.')) {
                _ if cell.text.starts_with(BOUNDS) => {
                    "a bound is no value: write what was read; leave the cell empty where nobody read it"
                }
                (true, false) => "state the decimal sign: --decimal comma",
                (false, true) => "state the decimal sign: --decimal point",
                _ => "write a number; leave the cell empty where there is none",
            };
            self.wrong(Some(key), message, help);
            return None;
        };
        let unit = if unit_text.is_empty() {
            match cell.column.and_then(|c| c.unit.clone()) {
                Some(unit) => unit,
                None if !field.holds.needs_unit() => Unit::one(),
                None => {
                    self.no_unit(key, field, cell.column);
                    return None;
                }
            }
        } else {
            match field.holds.unit(unit_text) {
                Ok(unit) => unit,
                Err(e) => {
                    let sign = !unit_text.contains(char::is_alphanumeric);
                    let title = cell.column.map_or(key, |c| c.title.as_str());
                    let help = if unit_text == "#" {
                        format!(
                            "# is pounds a foot, and '{title}' is read as {}: --columns '\"{title}\" = weight \
                             [lb/ft]'",
                            field.typed()
                        )
                    } else {
                        format!(
                            "write the number alone; what '{unit_text}' stands for belongs into the remark"
                        )
                    };
                    self.wrong(Some(key), e.to_string(), if sign { &help } else { "" });
                    return None;
                }
            }
        };
        let measure = field.holds.measure_of(&unit)?;
        // A reading has a unit; a share of one is kept in percent.
        let is_share =
            matches!(field.holds, Holds::Either(_, Measure::Ratio)) && unit.symbol().is_empty();
        let percent = is_share.then(|| Some((hundredfold(&number)?, field.holds.unit("%").ok()?)));
        let (number, unit) = percent.flatten().unwrap_or((number, unit));
        let qty = match Qty::with_unit(&number, &unit) {
            Ok(qty) => qty,
            Err(e) => {
                self.wrong(Some(key), e.to_string(), "");
                return None;
            }
        };
        if let Some(range) = field.range {
            let base = qty.base(measure).unwrap_or(f64::NAN);
            // The range belongs to the first measure of the field.
            let applies = field.holds.measures().next() == Some(measure);
            if applies && !(range.min..=range.max).contains(&base) {
                let message = format!("{qty} is {}", range.why);
                self.wrong(Some(key), message, "check the number and its unit");
                return None;
            }
        }
        if matches!(field.holds, Holds::Either(_, Measure::Ratio)) && measure == Measure::Ratio {
            let base = qty.base(measure).unwrap_or(f64::NAN);
            // Less is no wall: a sheet without its format of percent holds 0.88 for 88 %.
            if key.ends_with("wall") && unit.symbol() == "%" && (0.0..=0.015).contains(&base) {
                let title = cell.column.map_or(key, |c| c.title.as_str());
                let help = format!(
                    "where the cells are shares of one, say so: --columns '\"{title}\" = {} [1]'",
                    field.typed()
                );
                self.wrong(Some(key), format!("{qty} is no wall that anybody reads"), &help);
                return None;
            }
            if !(0.0..=1.5).contains(&base) {
                self.wrong(Some(key), format!("{qty} is no share of the nominal"), "");
                return None;
            }
        }
        Some((qty, measure))
    }

    /// A quantity of any kind: its unit tells which.
    pub(crate) fn any(&mut self, key: &str) -> Option<Qty> {
        let (_, field) = self.field(key)?;
        let cell = self.cell(key)?;
        let (number, unit_text) = split_cell(cell.text);
        let from_title = cell.column.and_then(|c| c.unit.as_ref()).map(Unit::symbol);
        let unit_text = if unit_text.is_empty() { from_title.unwrap_or("") } else { unit_text };
        if unit_text.is_empty() {
            self.no_unit(key, field, cell.column);
            return None;
        }
        let unit = match Unit::meanings(unit_text) {
            Ok(mut meanings) => meanings.swap_remove(0),
            Err(e) => {
                self.wrong(Some(key), e.to_string(), "");
                return None;
            }
        };
        let qty = plain(number, self.table.decimal).and_then(|n| Qty::with_unit(&n, &unit).ok());
        if qty.is_none() {
            let message = format!("'{}' is not a number with a unit", cell.text);
            self.wrong(Some(key), message, "write for example 2 %, 500 ft.lbf or 0.005 in");
        }
        qty
    }

    /// A quantity that may be marked as an estimate: `~1200 h`, `est. 1200`.
    pub(crate) fn stated(&mut self, key: &str, estimated: bool) -> Option<Stated> {
        let text = self.cell(key)?.text;
        let bare = ["~", "\u{2248}", "est.", "est", "about", "ca.", "ca"]
            .iter()
            .find_map(|mark| text.strip_prefix(mark))
            .map(str::trim);
        match bare {
            None => {
                let qty = self.qty(key)?;
                Some(if estimated { Stated::Estimated(qty) } else { Stated::Known(qty) })
            }
            Some(bare) => {
                let (_, field) = self.field(key)?;
                let column = self.cell(key)?.column;
                let (qty, _) = self.read_quantity(key, field, &Cell { column, text: bare })?;
                Some(Stated::Estimated(qty))
            }
        }
    }

    /// An unstated unit is said once for a column; every row that needs it is refused.
    fn no_unit(&mut self, key: &str, field: &Field, column: Option<&Column>) {
        self.sound = false;
        let id = column.map_or(usize::MAX, |c| c.number);
        if self.unit_reported.contains(&id) {
            return;
        }
        self.unit_reported.push(id);
        let title = column.map_or("", |c| c.title.as_str());
        let message =
            format!("the unit of '{}' is not stated", if title.is_empty() { key } else { title });
        let help = if column.is_some() {
            unit_help(field, title)
        } else {
            format!("write it after the number ({})", field.holds.examples())
        };
        self.fault(Some(key), message, |d| match column {
            Some(c) => d.help(help).asks(field.asks_unit((c.number, title))),
            None => d.help(help),
        });
    }
}
