//! LAS 2.0 (Canadian Well Logging Society): sections of header lines, then rows of numbers.
//! Another source of the rows that a log is cut from.

use std::collections::BTreeMap;
use std::io;

use super::channels::Channel;
use super::source::{Cells, Rows};
use crate::intake::diagnostic::{Diagnostic, Diagnostics};
use crate::intake::kinds::Kind;
use crate::intake::number::{Decimal, NANO, nano};
use crate::intake::table::{Delimiter, RawRow, find};
use crate::units::Unit;

/// Why a LAS file cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub(in crate::intake) enum LasError {
    #[error("this is LAS {version}, and LAS 2.0 is read")]
    Version {
        version: String,
        /// Names of its sections of curves and of numbers that tell of drilling, else of a log.
        sections: Option<(String, String)>,
    },
    #[error("the LAS file has no ~A section within its first 64 KiB")]
    NoData,
    #[error("the LAS file names no curves (~C section)")]
    NoCurves,
}

impl LasError {
    pub(super) fn help(&self) -> String {
        match self {
            Self::Version { sections: None, .. } => "export the log as LAS 2.0 or CSV".to_owned(),
            Self::Version { sections: Some((curves, numbers)), .. } => format!(
                "export the log as LAS 2.0 or CSV; or, in a copy, write 2.0 after VERS., ~C in the place \
                 of ~{curves}, ~A in the place of ~{numbers}, and take the sections behind that out"
            ),
            Self::NoData => {
                "is the file cut off? the numbers follow a line that begins with ~A".to_owned()
            }
            Self::NoCurves => {
                "the ~C section names each column, as in: DBTM.m : bit depth".to_owned()
            }
        }
    }

    /// That a version is not read: which of the sections of the file tell of drilling.
    fn version(version: &str, text: &str) -> Self {
        let names = text.lines().filter_map(|line| {
            let name = line.trim().strip_prefix('~')?;
            Some(name.split('|').next()?.trim().to_owned())
        });
        let names: Vec<String> = names.collect();
        let find = |topic: &str, what: &str| {
            let wanted = format!("{topic}_{what}");
            names.iter().find(|n| n.to_ascii_lowercase().starts_with(&wanted)).cloned()
        };
        let of = |topic: &str| find(topic, "definition").zip(find(topic, "data"));
        let sections = of("drilling").or_else(|| of("log"));
        Self::Version { version: version.to_owned(), sections }
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

impl Ends {
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
    let head = LasHead::parse(text).ok().filter(|h| !h.wrap)?;
    let mut rows = head.rows(text);
    let titles = rows.first()?.cells.clone();
    let has = |wanted: &str| {
        let fields = Kind::Survey.fields();
        titles.iter().any(|t| find(t, fields).is_some_and(|n| fields[n.field].key == wanted))
    };
    if !["md", "inc", "azi"].iter().all(|key| has(key)) {
        return None;
    }
    // The null value is no inclination.
    if let Some(null) = head.null.as_deref().and_then(|n| n.parse::<f64>().ok()) {
        for cell in rows.iter_mut().skip(2).flat_map(|r| &mut r.cells) {
            if cell.parse::<f64>().is_ok_and(|x| x.to_bits() == null.to_bits()) {
                cell.clear();
            }
        }
    }
    Some(rows)
}

/// A header line: mnemonic before the first point, unit up to the first blank after it, value up
/// to the last colon.
fn header_line(line: &str) -> Option<(&str, &str, &str)> {
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
                    return Err(LasError::version(value, text));
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
        let step = well.remove("STEP").map(|s| s.0);
        head.ends = well.remove("STRT").zip(well.remove("STOP")).map(|(start, stop)| Ends {
            start: start.0,
            stop: stop.0,
            step,
            unit: start.1,
            units: head.curves.iter().map(|c| c.1.clone()).collect(),
        });
        Ok(head)
    }

    /// Header, units and the first rows of numbers, as a table has them.
    pub(super) fn rows(&self, text: &str) -> Vec<RawRow> {
        let titles = self.curves.iter().map(|c| c.0.clone()).collect();
        let units = self.curves.iter().map(|c| c.1.clone()).collect();
        let mut out = vec![
            RawRow { number: self.curve_line, cells: titles },
            RawRow { number: self.curve_line, cells: units },
        ];
        if !self.wrap {
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
        })
    }
}

struct LasRows<'a> {
    lines: Box<dyn Rows + 'a>,
    after: u64,
    /// Cells of a wrapped row; 0 when a line is a row.
    curves: usize,
    part: Cells,
}

impl Rows for LasRows<'_> {
    fn next(&mut self, cells: &mut Cells) -> io::Result<Option<u64>> {
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
        let three = HEAD.replace("2.0", "3.0");
        let sections = None;
        let version = LasError::Version { version: "3.0".into(), sections };
        assert_eq!(LasHead::parse(&three), Err(version));
        assert_eq!(LasHead::parse("~V\n VERS. 2.0 :\n~C\n"), Err(LasError::NoData));
        assert_eq!(LasHead::parse("~V\n VERS. 2.0 :\n~A\n"), Err(LasError::NoCurves));
    }

    proptest! {
        #[test]
        fn soup_never_panics(text in "[~VCWA.:# a-z0-9\n]{0,120}") {
            if let Ok(head) = LasHead::parse(&text) {
                let _ = head.rows(&text);
            }
        }
    }
}
