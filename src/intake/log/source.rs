//! Rows of a log one at a time, in bounded memory, with the digest of the file on the way.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::io::{self, BufRead, BufReader, Cursor, Read};
use std::rc::Rc;

use sha2::{Digest, Sha256};

use super::las::{Ends, LasError, LasHead, LasOrIo, is_las};
use super::las3;
use crate::intake::content::LARGEST;
use crate::intake::diagnostic::{Diagnostic, Diagnostics};
use crate::intake::lookup::{Files, Progress, World};
use crate::intake::options::Hidden;
use crate::intake::table::{Delimiter, LOOK, RawRow, rows};
use crate::intake::text::{self, Encoding, FromUtf16, NotText};
use crate::intake::when::DateOrder;
use crate::intake::witsml::{LogError, LogHead, Logs, is_xml};
use crate::intake::workbook;

/// How much of a file is looked at before it is read: some hundreds of rows.
const HEAD: usize = 64 * 1024;

/// Rows of a document that are looked at before they are read.
pub(super) const LOOK_AHEAD: usize = 600;

/// What has passed through.
#[derive(Debug, Default)]
struct Passed {
    hasher: Sha256,
    bytes: u64,
    nul_at: Option<u64>,
}

/// A reader that hashes what it reads and notes the first NUL byte.
struct Hashing<'a> {
    inner: Box<dyn Read + 'a>,
    passed: Rc<RefCell<Passed>>,
}

impl Read for Hashing<'_> {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n = self.inner.read(buf)?;
        let mut passed = self.passed.borrow_mut();
        passed.hasher.update(&buf[..n]);
        if passed.nul_at.is_none()
            && let Some(at) = buf[..n].iter().position(|b| *b == 0)
        {
            passed.nul_at = Some(passed.bytes + at as u64 + 1);
        }
        passed.bytes += n as u64;
        Ok(n)
    }
}

/// Cells of one row: a line of bytes and where its cells lie in it.
#[derive(Clone, Debug, Default)]
pub(in crate::intake) struct Cells {
    line: Vec<u8>,
    spans: Vec<(usize, usize)>,
}

impl Cells {
    /// A cell, outer blanks kept.
    pub(super) fn get(&self, at: usize) -> Option<&[u8]> {
        self.spans.get(at).map(|(from, to)| &self.line[*from..*to])
    }

    pub(super) fn len(&self) -> usize {
        self.spans.len()
    }

    pub(super) fn clear(&mut self) {
        self.line.clear();
        self.spans.clear();
    }

    pub(super) fn push(&mut self, cell: &[u8]) {
        let from = self.line.len();
        self.line.extend_from_slice(cell);
        self.spans.push((from, self.line.len()));
    }
}

/// Rows of cells, whatever the format of the file. Readers of LAS and WITSML give these too.
pub(in crate::intake) trait Rows {
    /// The next row's cells and its line; `None` at the end.
    fn next(&mut self, cells: &mut Cells) -> io::Result<Option<u64>>;

    /// Goes on to the next log of a document that may hold several.
    fn next_log(&mut self) -> Result<Option<LogHead>, LogError> {
        Ok(None)
    }
}

/// A line longer than this is no row of a log.
const LONGEST: u64 = 1 << 20;

/// Lines split at a delimiter. A record of a log is a line: a line break within quotes is none.
struct Lines<R: Read> {
    reader: BufReader<R>,
    delimiter: Delimiter,
    number: u64,
}

impl<R: Read> Rows for Lines<R> {
    fn next(&mut self, cells: &mut Cells) -> io::Result<Option<u64>> {
        loop {
            cells.clear();
            let read = (&mut self.reader).take(LONGEST).read_until(b'\n', &mut cells.line)?;
            if read == 0 {
                return Ok(None);
            }
            self.number += 1;
            while matches!(cells.line.last(), Some(b'\n' | b'\r')) {
                cells.line.pop();
            }
            if cells.line.is_empty() {
                continue;
            }
            if cells.line.contains(&b'"') {
                let row = std::mem::take(&mut cells.line);
                for r in rows(&text::cell(&row), self.delimiter) {
                    r.cells.iter().for_each(|c| cells.push(c.as_bytes()));
                }
            } else if self.delimiter == Delimiter::Blanks {
                split_at_blanks(cells);
            } else {
                split_at(cells, self.delimiter.byte());
            }
            if cells.len() > 0 {
                return Ok(Some(self.number));
            }
        }
    }
}

fn split_at(cells: &mut Cells, delimiter: u8) {
    let mut from = 0;
    for (at, b) in cells.line.iter().enumerate() {
        if *b == delimiter {
            cells.spans.push((from, at));
            from = at + 1;
        }
    }
    cells.spans.push((from, cells.line.len()));
}

fn split_at_blanks(cells: &mut Cells) {
    let mut from = None;
    for (at, b) in cells.line.iter().enumerate() {
        match (b.is_ascii_whitespace(), from) {
            (true, Some(start)) => {
                cells.spans.push((start, at));
                from = None;
            }
            (false, None) => from = Some(at),
            _ => {}
        }
    }
    if let Some(start) = from {
        cells.spans.push((start, cells.line.len()));
    }
}

/// Rows of the logs of a document, as they stream by.
struct DocumentRows<R: BufRead> {
    logs: Logs<R>,
    delimiter: u8,
}

impl<R: BufRead> Rows for DocumentRows<R> {
    fn next(&mut self, cells: &mut Cells) -> io::Result<Option<u64>> {
        let row = self.logs.next_row().map_err(|e| io::Error::other(e.to_string()))?;
        let Some((number, line)) = row else { return Ok(None) };
        cells.clear();
        cells.line.extend_from_slice(line.trim().as_bytes());
        split_at(cells, self.delimiter);
        Ok(Some(number))
    }

    fn next_log(&mut self) -> Result<Option<LogHead>, LogError> {
        let head = self.logs.next_log()?;
        if let Some(head) = &head {
            self.delimiter = head.delimiter;
        }
        Ok(head)
    }
}

/// Rows of a sheet, which is held as a whole.
struct SheetRows(VecDeque<RawRow>);

impl Rows for SheetRows {
    fn next(&mut self, cells: &mut Cells) -> io::Result<Option<u64>> {
        cells.clear();
        let Some(row) = self.0.pop_front() else { return Ok(None) };
        row.cells.iter().for_each(|c| cells.push(c.as_bytes()));
        Ok(Some(row.number))
    }
}

/// A log file that is open, with its first rows.
pub(in crate::intake) struct Open<'a> {
    /// First rows, for the header and for what can be told beforehand.
    pub head: Vec<RawRow>,
    pub encoding: Encoding,
    /// The second row of the head is certainly a row of units.
    pub units_below: bool,
    /// Values that stand for none, where the file states them.
    pub nulls: Vec<String>,
    /// Where the index begins and ends, where the file states it.
    pub ends: Option<Ends>,
    /// Order of day and month, where the file states it.
    pub order: Option<DateOrder>,
    /// What was left out of a sheet, and what was understood of it.
    pub notes: Vec<String>,
    /// Rows that were looked at and are still to come.
    ahead: VecDeque<(u64, Cells)>,
    rows: Box<dyn Rows + 'a>,
    passed: Rc<RefCell<Passed>>,
    wide: bool,
    name: String,
    size: Option<u64>,
}

/// Why a log cannot be opened.
#[derive(Debug, thiserror::Error)]
pub(in crate::intake) enum OpenError {
    #[error("the file cannot be read")]
    Io(#[from] io::Error),
    #[error(transparent)]
    NotText(#[from] NotText),
    #[error(transparent)]
    Las(#[from] LasError),
    #[error("the document is larger than 64 MiB and no UTF-8")]
    Large,
    #[error("the workbook is larger than 64 MiB")]
    LargeBook,
    #[error("the workbook is not read")]
    Workbook(Box<Diagnostic>),
    #[error(transparent)]
    Document(#[from] LogError),
}

impl From<LasOrIo> for OpenError {
    fn from(e: LasOrIo) -> Self {
        match e {
            LasOrIo::Las(e) => e.into(),
            LasOrIo::Io(e) => e.into(),
        }
    }
}

/// A file as bytes of text, without the mark of UTF-16.
fn unmarked<'a>(
    mut file: Box<dyn Read + 'a>,
    encoding: Encoding,
) -> io::Result<Box<dyn Read + 'a>> {
    Ok(match encoding {
        Encoding::Utf16Le | Encoding::Utf16Be => {
            file.read_exact(&mut [0; 2])?;
            Box::new(FromUtf16::new(file, encoding == Encoding::Utf16Be))
        }
        Encoding::Utf8 | Encoding::Utf8Marked | Encoding::Latin1 => file,
    })
}

impl<'a> Open<'a> {
    /// Opens a file and looks at its first rows. `titles` counts the titles known in a row.
    pub(super) fn new(
        name: &str,
        files: &'a dyn Files,
        (delimiter, hidden): (Option<Delimiter>, Option<Hidden>),
        titles: impl Fn(&[String]) -> usize,
    ) -> Result<Self, OpenError> {
        let passed = Rc::new(RefCell::new(Passed::default()));
        let mut reader = Hashing { inner: files.open(name)?, passed: Rc::clone(&passed) };
        let mut head = Vec::new();
        (&mut reader).take(HEAD as u64).read_to_end(&mut head)?;
        if workbook::is_workbook(&head) {
            reader.take(LARGEST).read_to_end(&mut head)?;
            if head.len() as u64 > LARGEST {
                return Err(OpenError::LargeBook);
            }
            let (rows, notes) = sheet(name, &head, hidden, titles).map_err(OpenError::Workbook)?;
            return Ok(Self {
                notes,
                head: rows.iter().take(LOOK_AHEAD).cloned().collect(),
                encoding: Encoding::Utf8,
                units_below: false,
                nulls: Vec::new(),
                ends: None,
                order: None,
                ahead: VecDeque::new(),
                rows: Box::new(SheetRows(rows.into())),
                passed,
                wide: true,
                name: name.to_owned(),
                size: files.size(name),
            });
        }
        let encoding = text::sniff(&head)?;
        let wide = matches!(encoding, Encoding::Utf16Le | Encoding::Utf16Be);
        let skip = match encoding {
            Encoding::Utf8Marked => 3,
            Encoding::Utf16Le | Encoding::Utf16Be => 2,
            _ => 0,
        };
        let whole = head.len() < HEAD;
        let mut sample = if wide {
            let mut out = Vec::new();
            let big = encoding == Encoding::Utf16Be;
            FromUtf16::new(&head[skip..], big).read_to_end(&mut out)?;
            out
        } else {
            head[skip..].to_vec()
        };
        if !whole && let Some(end) = sample.iter().rposition(|b| *b == b'\n') {
            sample.truncate(end + 1);
        }
        let sample = text::cell(&sample).into_owned();
        if is_xml(&sample) {
            let rest = Cursor::new(head[skip..].to_vec()).chain(reader);
            return Self::document(name, files, rest, passed, encoding);
        }
        let las = match is_las(&sample) {
            true if las3::is_three(&sample) => {
                // Its tables may stand anywhere in it.
                let mut whole = BufReader::new(unmarked(files.open(name)?, encoding)?);
                Some(LasHead::of_tables(&mut whole, &titles)?)
            }
            true => Some(LasHead::parse(&sample)?),
            false => None,
        };
        let (first, delimiter) = if let Some(las) = &las {
            (las.rows(&sample), las.delimiter)
        } else {
            let found = delimiter.unwrap_or_else(|| crate::intake::table::detect(&sample, titles));
            (rows(&sample, found), found)
        };
        let rest = Cursor::new(head[skip..].to_vec()).chain(reader);
        let boxed: Box<dyn Read + 'a> = if wide {
            Box::new(FromUtf16::new(rest, encoding == Encoding::Utf16Be))
        } else {
            Box::new(rest)
        };
        let reader = BufReader::with_capacity(256 * 1024, boxed);
        let lines: Box<dyn Rows + 'a> = Box::new(Lines { reader, delimiter, number: 0 });
        let rows = match &las {
            Some(las) => las.reader(lines),
            None => lines,
        };
        Ok(Self {
            head: first,
            encoding,
            units_below: las.is_some(),
            ends: las.as_ref().and_then(|l| l.ends.clone()),
            order: las.as_ref().and_then(|l| l.order),
            nulls: las.as_ref().and_then(|l| l.null.clone()).into_iter().collect(),
            notes: las.map(|l| l.notes).unwrap_or_default(),
            ahead: VecDeque::new(),
            rows,
            passed,
            wide,
            name: name.to_owned(),
            size: files.size(name),
        })
    }

    /// Opens a WITSML document, which streams; one in an older encoding is read as a whole.
    fn document(
        name: &str,
        files: &'a dyn Files,
        rest: impl Read + 'a,
        passed: Rc<RefCell<Passed>>,
        encoding: Encoding,
    ) -> Result<Self, OpenError> {
        let wide = matches!(encoding, Encoding::Utf16Le | Encoding::Utf16Be);
        let boxed: Box<dyn Read + 'a> = if wide {
            Box::new(FromUtf16::new(rest, encoding == Encoding::Utf16Be))
        } else if encoding == Encoding::Latin1 {
            let mut bytes = Vec::new();
            rest.take(LARGEST).read_to_end(&mut bytes)?;
            if bytes.len() as u64 >= LARGEST {
                return Err(OpenError::Large);
            }
            Box::new(Cursor::new(text::latin1(&bytes).into_bytes()))
        } else {
            Box::new(rest)
        };
        let reader = BufReader::with_capacity(256 * 1024, boxed);
        let rows = DocumentRows { logs: Logs::new(reader)?, delimiter: b',' };
        let mut open = Self {
            head: Vec::new(),
            encoding,
            units_below: true,
            nulls: Vec::new(),
            ends: None,
            order: None,
            notes: Vec::new(),
            ahead: VecDeque::new(),
            rows: Box::new(rows),
            passed,
            wide,
            name: name.to_owned(),
            size: files.size(name),
        };
        open.head = open.next_log()?.unwrap_or_default();
        Ok(open)
    }

    /// Goes on to the next log of a document; its header and first rows.
    pub(super) fn next_log(&mut self) -> Result<Option<Vec<RawRow>>, OpenError> {
        let Some(LogHead { header, nulls, .. }) = self.rows.next_log()? else { return Ok(None) };
        self.nulls = nulls;
        let mut head = header.to_vec();
        head.extend(self.look_ahead(LOOK_AHEAD)?);
        Ok(Some(head))
    }

    /// The next rows, which still come.
    pub(super) fn look_ahead(&mut self, count: usize) -> io::Result<Vec<RawRow>> {
        while self.ahead.len() < count {
            let mut cells = Cells::default();
            let Some(number) = self.rows.next(&mut cells)? else { break };
            self.ahead.push_back((number, cells));
        }
        let row = |(number, cells): &(u64, Cells)| {
            let cell = |at| text::cell(cells.get(at).unwrap_or_default()).into_owned();
            RawRow::new(*number, (0..cells.len()).map(cell).collect())
        };
        Ok(self.ahead.iter().take(count).map(row).collect())
    }

    /// The next row's cells and its line.
    pub(super) fn next(&mut self, cells: &mut Cells) -> io::Result<Option<u64>> {
        if let Some((number, row)) = self.ahead.pop_front() {
            *cells = row;
            return Ok(Some(number));
        }
        self.rows.next(cells)
    }

    /// Tells the watcher how far the read has come; `true` to stop.
    pub(super) fn report(&self, rows: u64, world: &World<'_>) -> bool {
        let bytes = self.passed.borrow().bytes;
        let progress = Progress { file: self.name.clone(), bytes, of: self.size, rows };
        (world.progress)(&progress).is_break()
    }

    /// The first NUL byte of a file that should have none.
    pub(super) fn nul_at(&self) -> Option<u64> {
        if self.wide { None } else { self.passed.borrow().nul_at }
    }

    /// Digest of the whole file, once it is read to its end.
    pub(super) fn digest(self) -> String {
        let Self { rows, passed, .. } = self;
        drop(rows);
        let hash = passed.borrow().hasher.clone().finalize();
        crate::ledger::hex(&hash)
    }
}

/// Rows of the one sheet of a workbook that has titles of a log, and what was left out of it.
fn sheet(
    name: &str,
    bytes: &[u8],
    hidden: Option<Hidden>,
    titles: impl Fn(&[String]) -> usize,
) -> Result<(Vec<RawRow>, Vec<String>), Box<Diagnostic>> {
    let book = workbook::read(name, bytes)?;
    let (mut sheets, mut notes) = (book.sheets, book.notes);
    let known = |rows: &[RawRow]| rows.iter().take(LOOK).any(|r| titles(&r.cells) >= 2);
    sheets.retain(|s| known(&s.rows));
    let one = if sheets.len() == 1 { sheets.pop() } else { None };
    let Some(one) = one else {
        let message = format!("{} sheets of the workbook hold a log", sheets.len());
        return Err(Box::new(
            Diagnostic::error(name, message).help("keep one log in a workbook of its own"),
        ));
    };
    notes.extend(one.notes.iter().map(|n| format!("sheet '{}': {n}", one.name)));
    let mut wrong = Diagnostics::default();
    let rows = one.sound(name, hidden, &mut wrong);
    let first = wrong.list().first().cloned();
    rows.map(|rows| (rows, notes)).ok_or_else(|| {
        Box::new(first.unwrap_or_else(|| Diagnostic::error(name, "the sheet cannot be read")))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::lookup::MemoryFiles;

    fn read(bytes: &[u8]) -> (Vec<(u64, usize)>, String) {
        let files = MemoryFiles::default().with("l", bytes);
        let mut open = Open::new("l", &files, (None, None), |_| 0).unwrap();
        let (mut cells, mut out) = (Cells::default(), Vec::new());
        while let Some(line) = open.next(&mut cells).unwrap() {
            out.push((line, cells.len()));
        }
        (out, open.digest())
    }

    #[test]
    fn streams_rows_and_hashes_the_whole() {
        let text = "a;b\r\n\r\n1;2\n\n\"3\";4";
        let (rows, digest) = read(text.as_bytes());
        assert_eq!(rows, [(1, 2), (3, 2), (5, 2)]);
        assert_eq!(digest, crate::ledger::hex(&Sha256::digest(text)));
        let long = "0.5   1.5  2.5\n".repeat(20_000);
        let (rows, digest) = read(long.as_bytes());
        assert_eq!(rows.len(), 20_000);
        assert_eq!(rows.last(), Some(&(20_000, 3)));
        assert_eq!(digest, crate::ledger::hex(&Sha256::digest(&long)));
        let wide: Vec<u8> = std::iter::once(0xfeff)
            .chain("x\ty\n1\t2\n".repeat(9_000).encode_utf16())
            .flat_map(u16::to_le_bytes)
            .collect();
        let (rows, digest) = read(&wide);
        assert_eq!(rows.last(), Some(&(18_000, 2)));
        assert_eq!(digest, crate::ledger::hex(&Sha256::digest(&wide)));
    }

    #[test]
    fn binary_files_are_refused_before_and_after_the_head() {
        let files = MemoryFiles::default().with("x", &b"PK\x03\x04 xl/"[..]);
        assert!(Open::new("x", &files, (None, None), |_| 0).is_err());
        let mut late = "1,2\n".repeat(20_000).into_bytes();
        late.push(0);
        let files = MemoryFiles::default().with("l", late.clone());
        let mut open = Open::new("l", &files, (None, None), |_| 0).unwrap();
        let mut cells = Cells::default();
        while open.next(&mut cells).unwrap().is_some() {}
        assert_eq!(open.nul_at(), Some(late.len() as u64));
    }
}
