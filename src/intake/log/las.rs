//! LAS (Canadian Well Logging Society): sections of header lines, then rows of numbers. Another source of
//! the rows that a log is cut from. Of version 3, which has several tables, see [`super::las3`].

use std::collections::{BTreeMap, VecDeque};
use std::io::{self, BufRead, Cursor};

use super::channels::Channel;
use super::las3::{Section, Tables, is_three, order_of};
use super::source::{Cells, LOOK_AHEAD, Rows};
use crate::intake::diagnostic::{Diagnostic, Diagnostics};
use crate::intake::kinds::Kind;
use crate::intake::number::{Decimal, NANO, nano};
use crate::intake::table::{Delimiter, RawRow, find};
use crate::intake::when::DateOrder;
use crate::intake::witsml::{LogError, LogHead};
use crate::units::Unit;

/// Why a LAS file cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub(in crate::intake) enum LasError {
    #[error("this is LAS {version}; LAS 1.2, 2.0 and 3.0 are read")]
    Version { version: String },
    #[error("the LAS file has no ~A section within its first 64 KiB")]
    NoData,
    #[error("none of the tables of the LAS file is a log of drilling or of a hole: {tables}")]
    NoLog { tables: String },
    #[error("the LAS file names no curves (~C section)")]
    NoCurves,
    #[error(
        "the LAS file states dates as {format}, in which the day stands between year and month"
    )]
    DateFormat { format: String },
    #[error("the tables of the LAS file state their dates in two ways, {one} and {other}")]
    DateFormats { one: String, other: String },
}

impl LasError {
    pub(super) fn help(&self) -> String {
        match self {
            Self::Version { .. } => "export the log as LAS 2.0 or CSV".to_owned(),
            Self::NoLog { .. } => {
                "the rows follow a line such as ~Drilling_Data | Drilling_Definition".to_owned()
            }
            Self::NoData => {
                "is the file cut off? the numbers follow a line that begins with ~A".to_owned()
            }
            Self::DateFormat { .. } | Self::DateFormats { .. } => {
                "export the log with dates as {YYYY-MM-DD hh:mm:ss}".to_owned()
            }
            Self::NoCurves => {
                "the ~C section names each column, as in: DBTM.m : bit depth".to_owned()
            }
        }
    }
}

/// What the header of a LAS file says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct LasHead {
    /// Mnemonic and unit of each curve.
    curves: Vec<(String, String)>,
    /// Line of the ~C section.
    curve_line: u64,
    /// Line of the ~A section.
    data_line: u64,
    /// The value that stands for none.
    pub null: Option<String>,
    /// A row may take several lines.
    wrap: bool,
    /// What divides the numbers.
    pub delimiter: Delimiter,
    /// First and last value of the index, as the ~W section states them.
    pub ends: Option<Ends>,
    /// Order of day and month, where it is stated.
    pub order: Option<DateOrder>,
    /// First rows of numbers, of a file with several tables.
    first: Option<Vec<RawRow>>,
    /// The tables that follow, of such a file.
    more: VecDeque<Section>,
    /// What of the file is not read.
    pub notes: Vec<String>,
}

/// Where the index begins and ends by the header.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Ends {
    start: String,
    stop: String,
    step: Option<String>,
    unit: String,
    /// Unit of each curve.
    units: Vec<String>,
}

/// Why a file of several tables cannot be read.
#[derive(Debug, thiserror::Error)]
pub(super) enum LasOrIo {
    #[error(transparent)]
    Las(#[from] LasError),
    #[error(transparent)]
    Io(#[from] io::Error),
}

impl Ends {
    /// From what the section of the well states, value and unit.
    fn of(
        well: &mut BTreeMap<String, (String, String)>,
        curves: &[(String, String)],
    ) -> Option<Self> {
        let step = well.remove("STEP").map(|s| s.0);
        let (start, stop) = well.remove("STRT").zip(well.remove("STOP"))?;
        let units = curves.iter().map(|c| c.1.clone()).collect();
        Some(Self { start: start.0, stop: stop.0, step, unit: start.1, units })
    }

    /// Whether the index ends where the header says; a curve that does not begin there is not the
    /// index, and is refused. Values are in billionths.
    pub(super) fn hold(
        &self,
        (first, last): (i64, i64),
        index: &Channel,
        file: &str,
        diagnostics: &mut Diagnostics,
    ) -> bool {
        let value = |text: &str| nano(text.trim().as_bytes(), Decimal::Point);
        let (Some(start), Some(stop)) = (value(&self.start), value(&self.stop)) else {
            return true;
        };
        let unit = self.units.get(index.at).map_or("", String::as_str);
        let same = self.unit.is_empty() || unit.is_empty() || alike(&self.unit, unit);
        if !same || first == i64::MIN {
            return true;
        }
        let step = self.step.as_deref().and_then(value).unwrap_or(0).abs();
        let near = |a: i64, b: i64| {
            let off = i128::from(a) - i128::from(b);
            off.abs() <= i128::from(step.max(NANO / 100).max(b.abs() / 10_000))
        };
        let shown = |nano: i64| nano as f64 / NANO as f64;
        if !near(first, start) {
            diagnostics.push(
                Diagnostic::error(
                    file,
                    format!(
                        "the index '{}' begins at {} and ends at {}; the header says {} to {} (STRT, STOP)",
                        index.title,
                        shown(first),
                        shown(last),
                        self.start,
                        self.stop
                    ),
                )
                .help(
                    "the numbers do not stand in the order of the ~C section, or STRT is wrong: \
                     state the columns in their order, as in log_columns = \"depth [m], rop [m/h], \
                     rpm [rpm], -\"",
                ),
            );
            return true;
        }
        if !near(last, stop) {
            diagnostics.push(
                Diagnostic::warning(
                    file,
                    format!(
                        "the index ends at {} and the header says {} (STOP): the file is cut off",
                        shown(last),
                        self.stop
                    ),
                )
                .help("what was beyond counts for nothing: take the whole file in"),
            );
            return false;
        }
        true
    }
}

/// Whether two spellings mean one unit.
fn alike(a: &str, b: &str) -> bool {
    let of = |text: &str| Some(Unit::meanings(text).ok()?.first()?.factor());
    a.eq_ignore_ascii_case(b) || of(a).is_some() && of(a) == of(b)
}

/// True for a text that begins as LAS does: a version section, after comments at most.
pub(in crate::intake) fn is_las(text: &str) -> bool {
    let first = text.lines().map(str::trim).find(|l| !l.is_empty() && !l.starts_with('#'));
    first.is_some_and(|l| l.strip_prefix('~').is_some_and(|l| l.starts_with(['V', 'v'])))
}

/// The rows of a LAS file that is a survey, under the titles of its curves, with the well that it names;
/// `None` for any other.
pub(in crate::intake) fn survey_rows(text: &str) -> Option<Vec<RawRow>> {
    let is_survey = |titles: &[String]| {
        let fields = Kind::Survey.fields();
        let has = |wanted: &&str| {
            titles.iter().any(|t| find(t, fields).is_some_and(|n| fields[n.field].key == *wanted))
        };
        ["md", "inc", "azi"].iter().all(has)
    };
    let (mut rows, null) = if is_three(text) {
        let tables = Tables::read(&mut Cursor::new(text), usize::MAX).ok()?;
        let survey = tables.sections.into_iter().find(|s| is_survey(&s.titles()))?;
        (survey.header().into_iter().chain(survey.rows).collect::<Vec<_>>(), tables.null)
    } else {
        let head = LasHead::parse(text).ok().filter(|h| !h.wrap)?;
        let rows = head.rows(text);
        (Some(rows).filter(|rows| rows.first().is_some_and(|r| is_survey(&r.cells)))?, head.null)
    };
    // The null value is no inclination.
    if let Some(null) = null.as_deref().and_then(|n| n.parse::<f64>().ok()) {
        for cell in rows.iter_mut().skip(2).flat_map(|r| &mut r.cells) {
            if cell.parse::<f64>().is_ok_and(|x| x.to_bits() == null.to_bits()) {
                cell.clear();
            }
        }
    }
    Some(rows)
}

/// Order of day and month in the columns of time of these tables, where they state it.
fn date_order(sections: &[Section]) -> Result<Option<DateOrder>, LasError> {
    let fields = Kind::Log.fields();
    let of_time = |title: &str| {
        find(title, fields).is_some_and(|n| matches!(fields[n.field].key.as_str(), "time" | "date"))
    };
    let columns = sections.iter().flat_map(|s| s.curves.iter().zip(&s.dates));
    let mut formats = columns.filter(|(c, _)| of_time(&c.0)).filter_map(|(_, f)| f.as_deref());
    let Some(one) = formats.next() else { return Ok(None) };
    let order = order_of(one)?;
    for other in formats {
        if order_of(other)? != order {
            return Err(LasError::DateFormats { one: one.to_owned(), other: other.to_owned() });
        }
    }
    Ok(order)
}

/// A header line: mnemonic before the first point, unit up to the first blank after it, value up
/// to the last colon.
pub(super) fn header_line(line: &str) -> Option<(&str, &str, &str)> {
    let (mnemonic, rest) = line.split_once('.')?;
    let unit_end = rest.find(char::is_whitespace).unwrap_or(rest.len());
    let (unit, rest) = rest.split_at(unit_end);
    // A unit may end at the colon when nothing stands between.
    let (unit, rest) = match unit.split_once(':') {
        Some((unit, _)) => (unit, ""),
        None => (unit, rest),
    };
    let value = rest.rsplit_once(':').map_or(rest, |(value, _)| value);
    Some((mnemonic.trim(), unit.trim(), value.trim()))
}

impl LasHead {
    /// Reads the header from the first part of a file.
    pub(super) fn parse(text: &str) -> Result<Self, LasError> {
        let mut head = Self {
            curves: Vec::new(),
            curve_line: 1,
            data_line: 0,
            null: None,
            wrap: false,
            delimiter: Delimiter::Blanks,
            ends: None,
            order: None,
            first: None,
            more: VecDeque::new(),
            notes: Vec::new(),
        };
        let mut well: BTreeMap<String, (String, String)> = BTreeMap::new();
        let mut section = ' ';
        for (at, line) in text.lines().enumerate() {
            let (number, line) = (at as u64 + 1, line.trim());
            if line.is_empty() || line.starts_with('#') {
                continue;
            }
            if let Some(name) = line.strip_prefix('~') {
                section = name.chars().next().unwrap_or(' ').to_ascii_uppercase();
                match section {
                    'A' => {
                        head.data_line = number;
                        break;
                    }
                    'C' => head.curve_line = number,
                    _ => {}
                }
                continue;
            }
            let Some((mnemonic, unit, value)) = header_line(line) else { continue };
            match (section, mnemonic.to_ascii_uppercase().as_str()) {
                ('V', "VERS") if !value.starts_with('2') && !value.starts_with("1.2") => {
                    return Err(LasError::Version { version: value.to_owned() });
                }
                ('V', "WRAP") => head.wrap = value.to_ascii_uppercase().starts_with('Y'),
                ('V', "DLM") => {
                    head.delimiter = match value.to_ascii_uppercase().as_str() {
                        "COMMA" => Delimiter::Comma,
                        "TAB" => Delimiter::Tab,
                        _ => Delimiter::Blanks,
                    };
                }
                ('W', "NULL") => head.null = Some(value.to_owned()),
                ('W', key @ ("STRT" | "STOP" | "STEP")) => {
                    well.insert(key.to_owned(), (value.to_owned(), unit.to_owned()));
                }
                ('C', _) => head.curves.push((mnemonic.to_owned(), unit.to_owned())),
                _ => {}
            }
        }
        if head.data_line == 0 {
            return Err(LasError::NoData);
        }
        if head.curves.is_empty() {
            return Err(LasError::NoCurves);
        }
        head.ends = Ends::of(&mut well, &head.curves);
        Ok(head)
    }

    /// Finds the log in a file of several tables, of which `known` counts the titles that it knows.
    pub(super) fn of_tables(
        file: &mut dyn BufRead,
        known: impl Fn(&[String]) -> usize,
    ) -> Result<Self, LasOrIo> {
        let mut tables = Tables::read(file, LOOK_AHEAD)?;
        let (sections, left) = tables.log(known)?;
        let order = date_order(&sections)?;
        let mut sections = VecDeque::from(sections);
        let first = sections.pop_front().ok_or(LasError::NoData)?;
        // They are said of the index of the log, and of all of it.
        let is_the_log = first.topic == "log" && sections.is_empty();
        let notes = (!left.is_empty()).then(|| {
            format!(
                "read of its tables is ~{} and what goes on with it; not: {}",
                first.name,
                left.join(", ")
            )
        });
        Ok(Self {
            ends: if is_the_log { Ends::of(&mut tables.ends, &first.curves) } else { None },
            order,
            curves: first.curves,
            curve_line: first.curve_line,
            data_line: first.data_line,
            null: tables.null,
            wrap: false,
            delimiter: tables.delimiter.unwrap_or(Delimiter::Blanks),
            first: Some(first.rows),
            more: sections,
            notes: notes.into_iter().collect(),
        })
    }

    /// Header, units and the first rows of numbers, as a table has them.
    pub(super) fn rows(&self, text: &str) -> Vec<RawRow> {
        let titles = self.curves.iter().map(|c| c.0.clone()).collect();
        let units = self.curves.iter().map(|c| c.1.clone()).collect();
        let mut out =
            vec![RawRow::new(self.curve_line, titles), RawRow::new(self.curve_line, units)];
        if let Some(first) = &self.first {
            out.extend(first.iter().cloned());
        } else if !self.wrap {
            let data = crate::intake::table::rows(text, self.delimiter);
            out.extend(data.into_iter().filter(|r| r.number > self.data_line));
        }
        out
    }

    /// Rows of numbers from the lines of the file.
    pub(super) fn reader<'a>(&self, lines: Box<dyn Rows + 'a>) -> Box<dyn Rows + 'a> {
        Box::new(LasRows {
            lines,
            after: self.data_line,
            curves: if self.wrap { self.curves.len() } else { 0 },
            part: Cells::default(),
            tables: self.first.is_some().then(|| self.more.clone()),
            is_over: false,
            null: self.null.clone(),
        })
    }
}

struct LasRows<'a> {
    lines: Box<dyn Rows + 'a>,
    after: u64,
    /// Cells of a wrapped row; 0 when a line is a row.
    curves: usize,
    part: Cells,
    /// The tables that follow, where there may be any.
    tables: Option<VecDeque<Section>>,
    /// The table has ended.
    is_over: bool,
    null: Option<String>,
}

impl Rows for LasRows<'_> {
    fn next(&mut self, cells: &mut Cells) -> io::Result<Option<u64>> {
        if self.is_over {
            return Ok(None);
        }
        let mut first = None;
        let mut wrapped = Cells::default();
        loop {
            let Some(number) = self.lines.next(&mut self.part)? else {
                // A row that the end cuts off has too few cells, and is counted so.
                std::mem::swap(cells, &mut wrapped);
                return Ok(first);
            };
            let comment = self.part.get(0).is_some_and(|c| c.starts_with(b"#"));
            if number <= self.after || comment {
                continue;
            }
            if self.tables.is_some() && self.part.get(0).is_some_and(|c| c.starts_with(b"~")) {
                self.is_over = true;
                return Ok(None);
            }
            if self.curves == 0 {
                std::mem::swap(cells, &mut self.part);
                return Ok(Some(number));
            }
            first.get_or_insert(number);
            for at in 0..self.part.len() {
                wrapped.push(self.part.get(at).unwrap_or_default());
            }
            if wrapped.len() >= self.curves {
                std::mem::swap(cells, &mut wrapped);
                return Ok(first);
            }
        }
    }

    fn next_log(&mut self) -> Result<Option<LogHead>, LogError> {
        let Some(next) = self.tables.as_mut().and_then(VecDeque::pop_front) else {
            return Ok(None);
        };
        (self.after, self.is_over) = (next.data_line, false);
        let nulls = self.null.clone().into_iter().collect();
        // Its lines are split as those before it.
        Ok(Some(LogHead { header: next.header(), delimiter: b' ', nulls }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const HEAD: &str = "# written by hand\n~Version\n VERS. 2.0 : LAS\n WRAP. NO :\n~Well\n STRT.M 1 : s\n \
                        NULL. -999.25 : n\n~Curve\n DBTM.m : Bit depth\n RPMA.c/s  01 02 : Speed: mean\n~A\n1 2\n";

    #[test]
    fn reads_a_header() {
        assert!(is_las(HEAD));
        assert!(!is_las("~A\n"));
        let head = LasHead::parse(HEAD).unwrap();
        assert_eq!(head.curves, [("DBTM".into(), "m".into()), ("RPMA".into(), "c/s".into())]);
        assert_eq!(head.null.as_deref(), Some("-999.25"));
        assert_eq!((head.data_line, head.wrap, head.delimiter), (11, false, Delimiter::Blanks));
        assert_eq!(head.rows(HEAD)[2].cells, ["1", "2"]);
    }

    #[test]
    fn refuses_what_it_does_not_read() {
        let four = HEAD.replace("2.0", "4.0");
        assert_eq!(LasHead::parse(&four), Err(LasError::Version { version: "4.0".into() }));
        assert_eq!(LasHead::parse("~V\n VERS. 2.0 :\n~C\n"), Err(LasError::NoData));
        assert_eq!(LasHead::parse("~V\n VERS. 2.0 :\n~A\n"), Err(LasError::NoCurves));
    }

    proptest! {
        #[test]
        fn soup_never_panics(text in "[~VCWA.:# a-z0-9\n]{0,120}") {
            if let Ok(head) = LasHead::parse(&text) {
                let _ = head.rows(&text);
            }
            let _ = LasHead::of_tables(&mut Cursor::new(&text), |_| 1);
            let _ = survey_rows(&format!("~V\n VERS. 3.0 :\n{text}"));
        }
    }
}
