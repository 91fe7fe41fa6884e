//! Logs of WITSML as rows, one after another: the header of a log is read, its data stream by. The
//! order of the columns is that of the mnemonic list (1.4.1.1) or of index and channels (2.x), never
//! that of the curve descriptions.

use std::collections::VecDeque;
use std::io::BufRead;

use super::names::Hole;
use super::xml::{Document, Element, Token, XmlError};
use crate::intake::diagnostic::Diagnostic;
use crate::intake::table::RawRow;

/// What stands before the data of a log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::intake) struct LogHead {
    /// Titles and units, as two rows.
    pub header: [RawRow; 2],
    /// What divides the values.
    pub delimiter: u8,
    /// Values that stand for none.
    pub nulls: Vec<String>,
}

/// Why a document is no log, or none that is read.
#[derive(Debug, thiserror::Error)]
pub(in crate::intake) enum LogError {
    #[error(transparent)]
    Xml(#[from] XmlError),
    #[error("the document holds no log but '{0}'")]
    Other(String),
    #[error("the log has no data")]
    NoData,
    #[error("the log has no list of mnemonics and units")]
    NoList { line: u64 },
    #[error("the data of the log are no rows of values: {what}")]
    NoRows { line: u64, what: String },
}

impl LogError {
    pub(in crate::intake) fn told(&self, name: &str) -> Box<Diagnostic> {
        let d = Diagnostic::error(name, self.to_string());
        Box::new(match self {
            Self::Xml(e) => d.at_row(e.line()),
            Self::Other(_) => d.help("name a document of WITSML with a log in it"),
            Self::NoData => {
                d.help("export it with its data: logData (1.4.1.1), ChannelSet with Data (2.x)")
            }
            Self::NoList { line } => {
                d.at_row(*line).help("mnemonicList and unitList say which value is which")
            }
            Self::NoRows { line, .. } => {
                d.at_row(*line).help("data of 2.x are rows of an index and values: [[[t],[v,v]],…]")
            }
        })
    }
}

/// The logs of a document, as they come.
pub(in crate::intake) struct Logs<R: BufRead> {
    document: Document<R>,
    /// The log that is open, without its data.
    log: Option<Element>,
    /// The data of a log are being read.
    in_data: bool,
    /// The first row, met before the head was whole.
    rows: VecDeque<(u64, String)>,
    /// A log was met.
    met: bool,
    /// The hole of each log that is over; 2.x names it behind the data.
    pub holes: Vec<Hole>,
}

impl<R: BufRead> Logs<R> {
    pub(in crate::intake) fn new(inner: R) -> Result<Self, LogError> {
        let mut document = Document::new(inner);
        let root = document.root()?;
        let is_log = root.is("log");
        if !is_log && !root.is("logs") {
            return Err(LogError::Other(root.name));
        }
        Ok(Self {
            document,
            log: is_log.then_some(root),
            in_data: false,
            rows: VecDeque::new(),
            met: false,
            holes: Vec::new(),
        })
    }

    /// Goes on to the next log, or set of channels, that has data; `None` when there is no more.
    pub(in crate::intake) fn next_log(&mut self) -> Result<Option<LogHead>, LogError> {
        while self.next_row()?.is_some() {}
        loop {
            match self.document.next()? {
                Token::Start(element) if self.log.is_none() => {
                    if element.is("log") {
                        self.log = Some(element);
                    } else {
                        self.document.rest_of(element)?;
                    }
                }
                Token::Start(element) if element.is("logData") => {
                    let head = self.listed(&element)?;
                    self.met = true;
                    return Ok(Some(head));
                }
                Token::Start(element) => {
                    let whole = self.document.rest_of(element)?;
                    if whole.is("ChannelSet") {
                        if let Some(head) = self.channel_set(&whole)? {
                            self.met = true;
                            return Ok(Some(head));
                        }
                    } else if let Some(log) = &mut self.log {
                        log.children.push(whole);
                    }
                }
                Token::End => self.holes.extend(self.log.take().map(|log| Hole::of(&log))),
                Token::Text(_) => {}
                Token::Eof if self.met => return Ok(None),
                Token::Eof => return Err(LogError::NoData),
            }
        }
    }

    /// The next row of the log: its line and its values.
    pub(in crate::intake) fn next_row(&mut self) -> Result<Option<(u64, String)>, LogError> {
        if let Some(row) = self.rows.pop_front() {
            return Ok(Some(row));
        }
        while self.in_data {
            match self.document.next()? {
                Token::Start(element) => {
                    let element = self.document.rest_of(element)?;
                    if element.is("data") {
                        return Ok(Some((element.line, element.text)));
                    }
                }
                Token::End => self.in_data = false,
                Token::Text(_) => {}
                Token::Eof => return Ok(None),
            }
        }
        Ok(None)
    }

    /// The head of a log of 1.4.1.1, up to the first row of its data.
    fn listed(&mut self, data: &Element) -> Result<LogHead, LogError> {
        let (mut mnemonics, mut units) = (None, None);
        self.in_data = true;
        while self.in_data && self.rows.is_empty() {
            match self.document.next()? {
                Token::Start(element) => {
                    let element = self.document.rest_of(element)?;
                    if element.is("mnemonicList") {
                        mnemonics = element.own_text();
                    } else if element.is("unitList") {
                        units = Some(element.text.trim().to_owned());
                    } else if element.is("data") {
                        self.rows.push_back((element.line, element.text));
                    }
                }
                Token::End => self.in_data = false,
                Token::Text(_) => {}
                Token::Eof => return Err(LogError::NoData),
            }
        }
        let (Some(mnemonics), Some(units)) = (mnemonics, units) else {
            return Err(LogError::NoList { line: data.line });
        };
        let log = self.log.as_ref();
        let of = |name: &str| log.and_then(|l| l.text_of(name));
        let timed = of("indexType").is_some_and(|t| t.eq_ignore_ascii_case("date time"));
        let index = of("indexCurve");
        let mut titles: Vec<String> = mnemonics.split(',').map(|m| m.trim().to_owned()).collect();
        let mut units: Vec<String> = units.split(',').map(unit).collect();
        units.resize(titles.len(), String::new());
        if let Some(at) = titles.iter().position(|t| Some(t) == index.as_ref()) {
            call_index(&mut titles[at], &mut units[at], timed);
        }
        let mut nulls: Vec<String> = of("nullValue").into_iter().collect();
        let curves = log.into_iter().flat_map(|l| l.all("logCurveInfo"));
        nulls.extend(curves.filter_map(|c| c.text_of("nullValue")));
        let delimiter = of("dataDelimiter").and_then(|d| d.bytes().next()).unwrap_or(b',');
        Ok(head(data.line, titles, units, nulls, delimiter))
    }

    /// The head of a set of channels of 2.x with its rows; `None` where it has no data.
    fn channel_set(&mut self, set: &Element) -> Result<Option<LogHead>, LogError> {
        let Some(data) = set.child("Data").map(|d| d.child("Data").unwrap_or(d)) else {
            return Ok(None);
        };
        if data.text.trim().is_empty() {
            return Ok(None);
        }
        let (mut titles, mut units, mut nulls) = (Vec::new(), Vec::new(), Vec::new());
        let indexes = set.all("Index").count();
        for channel in set.all("Index").chain(set.all("Channel")) {
            titles.push(channel.text_of("Mnemonic").unwrap_or_default());
            units.push(unit(&channel.text_of("Uom").unwrap_or_default()));
            nulls.extend(channel.text_of("NullValue"));
        }
        nulls.extend(set.text_of("NullValue"));
        if let (Some(index), Some(title), Some(unit)) =
            (set.child("Index"), titles.first_mut(), units.first_mut())
        {
            let timed = index.text_of("IndexType").is_some_and(|t| t.contains("time"));
            call_index(title, unit, timed);
        }
        let wrong = |what: String| LogError::NoRows { line: data.line, what };
        let rows: Vec<(Vec<serde_json::Value>, Vec<serde_json::Value>)> =
            serde_json::from_str(data.text.trim()).map_err(|e| wrong(e.to_string()))?;
        for (n, (index, values)) in rows.iter().enumerate() {
            if index.len() != indexes || values.len() + indexes != titles.len() {
                return Err(wrong(format!(
                    "row {} has {} values and there are {} channels",
                    n + 1,
                    values.len(),
                    titles.len() - indexes
                )));
            }
            let cells = index.iter().chain(values).map(plain);
            let line = data.line + n as u64;
            self.rows.push_back((line, cells.collect::<Vec<_>>().join("\t")));
        }
        Ok(Some(head(data.line, titles, units, nulls, b'\t')))
    }
}

/// A value of a channel as text; a point with its quality is an array that begins with it.
fn plain(value: &serde_json::Value) -> String {
    match value {
        serde_json::Value::Null => String::new(),
        serde_json::Value::String(s) => s.replace('\t', " "),
        serde_json::Value::Array(list) => list.first().map(plain).unwrap_or_default(),
        other => other.to_string(),
    }
}

fn unit(text: &str) -> String {
    let text = text.trim();
    let none = matches!(text, "unitless" | "Euc" | "UNKN" | "none");
    if none { String::new() } else { text.to_owned() }
}

/// The index is what its type says, whatever it is called.
fn call_index(title: &mut String, unit: &mut String, timed: bool) {
    if timed {
        "time".clone_into(title);
        unit.clear();
    } else {
        "depth".clone_into(title);
    }
}

fn head(
    number: u64,
    titles: Vec<String>,
    units: Vec<String>,
    mut nulls: Vec<String>,
    delimiter: u8,
) -> LogHead {
    nulls.sort();
    nulls.dedup();
    let header = [RawRow::new(number, titles), RawRow::new(number, units)];
    LogHead { header, delimiter, nulls }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mnemonic_list_gives_the_order() {
        let text = "<logs><log><indexType>date time</indexType><indexCurve>Time</indexCurve><nullValue>-999.25</nullValue>\
             <logCurveInfo><mnemonic>FLOWOUT</mnemonic></logCurveInfo><logCurveInfo><mnemonic>Time</mnemonic></logCurveInfo>\
             <logData><mnemonicList>Time,FLOWOUT,SURF_RPM</mnemonicList><unitList>s,unitless,c/s</unitList>\
             <data>2025-03-04T06:00:00Z,0,1.5</data></logData></log><log><indexType>measured depth</indexType>\
             <indexCurve>MD</indexCurve><logData><mnemonicList>MD,RPM</mnemonicList><unitList>m,rpm</unitList>\
             <data>1,2</data><data>2,3</data></logData></log></logs>";
        let mut logs = Logs::new(text.as_bytes()).unwrap();
        let l = logs.next_log().unwrap().unwrap();
        assert_eq!(l.header[0].cells, ["time", "FLOWOUT", "SURF_RPM"]);
        assert_eq!(l.header[1].cells, ["", "", "c/s"]);
        assert_eq!(l.nulls, ["-999.25"]);
        assert_eq!(logs.next_row().unwrap().unwrap().1, "2025-03-04T06:00:00Z,0,1.5");
        let l = logs.next_log().unwrap().unwrap();
        assert_eq!(l.header[0].cells, ["depth", "RPM"]);
        assert_eq!(logs.next_row().unwrap().unwrap().1, "1,2");
        assert_eq!(logs.next_row().unwrap().unwrap().1, "2,3");
        assert_eq!(logs.next_row().unwrap(), None);
        assert_eq!(logs.next_log().unwrap(), None);
        assert!(Logs::new("<Log/>".as_bytes()).unwrap().next_log().is_err());
    }

    #[test]
    fn channels_of_a_set_are_columns() {
        let text = "<Log><ChannelSet><Index><IndexType>date time</IndexType><Uom>s</Uom><Mnemonic>T</Mnemonic></Index>\
            <Channel><Mnemonic>RPM</Mnemonic><Uom>rpm</Uom></Channel><Channel><Mnemonic>DBTM</Mnemonic><Uom>m</Uom></Channel>\
            <Data><Data>[[[\"2025-03-04T06:00:00Z\"],[60,null]],[[\"2025-03-04T06:00:10Z\"],[[61],100.5]]]</Data></Data></ChannelSet></Log>";
        let mut logs = Logs::new(text.as_bytes()).unwrap();
        let l = logs.next_log().unwrap().unwrap();
        assert_eq!(l.header[0].cells, ["time", "RPM", "DBTM"]);
        assert_eq!(logs.next_row().unwrap().unwrap().1, "2025-03-04T06:00:00Z\t60\t");
        assert_eq!(logs.next_row().unwrap().unwrap().1, "2025-03-04T06:00:10Z\t61\t100.5");
        assert_eq!(logs.next_log().unwrap(), None);
    }
}
