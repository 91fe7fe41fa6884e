//! Bytes into text: which encoding a file is in, and whether it is text at all.

use std::borrow::Cow;
use std::fmt;
use std::io::{self, Read};

/// How the characters of a file are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8, plain ASCII included.
    Utf8,
    /// UTF-8 after a byte-order mark.
    Utf8Marked,
    /// UTF-16, low byte first, after a byte-order mark.
    Utf16Le,
    /// UTF-16, high byte first, after a byte-order mark.
    Utf16Be,
    /// Latin-1, with the Windows characters in the range that Latin-1 leaves to controls.
    Latin1,
}

impl fmt::Display for Encoding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Utf8 => "UTF-8",
            Self::Utf8Marked => "UTF-8 with a byte-order mark",
            Self::Utf16Le | Self::Utf16Be => "UTF-16",
            Self::Latin1 => "Latin-1",
        })
    }
}

/// Why bytes are no text that can be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotText {
    /// A known kind of file that is no text.
    #[error("this is {what}, not a text file")]
    Known {
        /// What it is.
        what: &'static str,
        /// What to do.
        help: &'static str,
    },
    /// NUL bytes.
    #[error("this is no text file: byte {at} is NUL")]
    Nul {
        /// Place in the file, from 1.
        at: u64,
    },
    /// UTF-16 that breaks off or holds half a character.
    #[error("the file begins as UTF-16 but does not go on as UTF-16")]
    Utf16,
}

impl NotText {
    /// What to do about it.
    pub const fn help(&self) -> &'static str {
        match self {
            Self::Known { help, .. } => help,
            Self::Nul { .. } => {
                "export it as CSV text (UTF-8); UTF-16 is read only with a byte-order mark"
            }
            Self::Utf16 => "save it again as UTF-8",
        }
    }
}

const SAVE_AS_CSV: &str = "open it in the program that wrote it and save it as CSV (UTF-8)";

/// Kinds of file that begin with telling bytes.
const MAGIC: &[(&[u8], &str, &str)] = &[
    (b"PAR1", "a Parquet file", "export it as CSV first"),
    (b"\x1f\x8b", "a gzip file", "unpack it first"),
    (b"BZh", "a bzip2 file", "unpack it first"),
    (b"\xfd7zXZ\0", "an xz file", "unpack it first"),
    (b"\x28\xb5\x2f\xfd", "a Zstandard file", "unpack it first"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", "unpack it first"),
    (b"\xd0\xcf\x11\xe0", "an old binary workbook or document", SAVE_AS_CSV),
    (b"%PDF", "a PDF", "type or export its table as CSV; figures are not read from a page image"),
    (b"SQLite format 3\0", "a SQLite file", "a book is opened with --book, not loaded"),
    (b"\x89PNG", "a picture", "type or export its table as CSV"),
    (b"\xff\xd8\xff", "a picture", "type or export its table as CSV"),
    (b"\x00\x8a", "a binary log (DLIS or LIS)", "export it as CSV or LAS 2.0"),
    (b"ARROW1", "an Arrow file", "export it as CSV first"),
    (b"\x89HDF", "an HDF5 file", "export it as CSV first"),
];

fn known_kind(head: &[u8]) -> Option<NotText> {
    if head.starts_with(b"PK\x03\x04") || head.starts_with(b"PK\x05\x06") {
        let holds = |name: &[u8]| head.windows(name.len()).any(|w| w == name);
        return Some(if holds(b"xl/") || holds(b"[Content_Types].xml") {
            NotText::Known { what: "a workbook (XLSX)", help: SAVE_AS_CSV }
        } else if holds(b"opendocument.spreadsheet") {
            NotText::Known { what: "a workbook (ODS)", help: SAVE_AS_CSV }
        } else {
            NotText::Known { what: "a zip archive", help: "unpack it first" }
        });
    }
    MAGIC
        .iter()
        .find(|(magic, ..)| head.starts_with(magic))
        .map(|(_, what, help)| NotText::Known { what, help })
}

/// Tells the encoding from the first bytes of a file, which may end within a character.
pub fn sniff(head: &[u8]) -> Result<Encoding, NotText> {
    if let Some(known) = known_kind(head) {
        return Err(known);
    }
    if head.starts_with(b"\xff\xfe") {
        return Ok(Encoding::Utf16Le);
    }
    if head.starts_with(b"\xfe\xff") {
        return Ok(Encoding::Utf16Be);
    }
    if let Some(at) = head.iter().position(|b| *b == 0) {
        return Err(NotText::Nul { at: at as u64 + 1 });
    }
    let marked = head.starts_with(b"\xef\xbb\xbf");
    match std::str::from_utf8(head) {
        Ok(_) => Ok(if marked { Encoding::Utf8Marked } else { Encoding::Utf8 }),
        // A character cut off by the end of the head is no sign of another encoding.
        Err(e) if e.error_len().is_none() && head.len() - e.valid_up_to() < 4 => {
            Ok(if marked { Encoding::Utf8Marked } else { Encoding::Utf8 })
        }
        Err(_) => Ok(Encoding::Latin1),
    }
}

/// Windows characters 0x80 to 0x9f; Latin-1 has unprintable controls there, which nobody means.
const WINDOWS: [char; 32] = [
    '\u{20ac}', '\u{81}', '\u{201a}', '\u{192}', '\u{201e}', '\u{2026}', '\u{2020}', '\u{2021}',
    '\u{2c6}', '\u{2030}', '\u{160}', '\u{2039}', '\u{152}', '\u{8d}', '\u{17d}', '\u{8f}',
    '\u{90}', '\u{2018}', '\u{2019}', '\u{201c}', '\u{201d}', '\u{2022}', '\u{2013}', '\u{2014}',
    '\u{2dc}', '\u{2122}', '\u{161}', '\u{203a}', '\u{153}', '\u{9d}', '\u{17e}', '\u{178}',
];

/// Latin-1 bytes as text.
pub fn latin1(bytes: &[u8]) -> String {
    bytes
        .iter()
        .map(|b| match b {
            0x80..=0x9f => WINDOWS[usize::from(b - 0x80)],
            b => char::from(*b),
        })
        .collect()
}

/// A cell's bytes as text: UTF-8 where they are, else Latin-1.
pub fn cell(bytes: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(latin1(bytes)),
    }
}

/// A whole file as text, with the encoding that it was in.
pub fn decode(bytes: &[u8]) -> Result<(String, Encoding), NotText> {
    match sniff(bytes)? {
        Encoding::Utf16Le => utf16(&bytes[2..], u16::from_le_bytes).map(|t| (t, Encoding::Utf16Le)),
        Encoding::Utf16Be => utf16(&bytes[2..], u16::from_be_bytes).map(|t| (t, Encoding::Utf16Be)),
        Encoding::Latin1 => Ok((latin1(bytes), Encoding::Latin1)),
        encoding @ (Encoding::Utf8 | Encoding::Utf8Marked) => {
            let body = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
            // `sniff` forgives a character that the end cuts off; here the end is the file's.
            match std::str::from_utf8(body) {
                Ok(text) => Ok((text.to_owned(), encoding)),
                Err(_) => Ok((latin1(body), Encoding::Latin1)),
            }
        }
    }
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<String, NotText> {
    let (pairs, rest) = bytes.as_chunks::<2>();
    let units = pairs.iter().map(|p| unit(*p));
    let text: String =
        char::decode_utf16(units).collect::<Result<_, _>>().map_err(|_| NotText::Utf16)?;
    if !rest.is_empty() {
        return Err(NotText::Utf16);
    }
    match text.find('\0') {
        Some(at) => Err(NotText::Nul { at: at as u64 * 2 + 3 }),
        None => Ok(text),
    }
}

/// Bytes of a UTF-16 stream as UTF-8, for readers that pass over a file once.
pub struct FromUtf16<R> {
    inner: R,
    big: bool,
    /// Bytes read and not yet turned into characters: an odd byte, half of a pair.
    pending: Vec<u8>,
    out: Vec<u8>,
    at: usize,
    done: bool,
}

impl<R: Read> FromUtf16<R> {
    /// Wraps a stream that stands after its byte-order mark.
    pub fn new(inner: R, big: bool) -> Self {
        Self { inner, big, pending: Vec::new(), out: Vec::new(), at: 0, done: false }
    }

    fn refill(&mut self) -> io::Result<()> {
        let mut chunk = [0; 16 * 1024];
        let n = self.inner.read(&mut chunk)?;
        self.done = n == 0;
        self.pending.extend_from_slice(&chunk[..n]);
        let units: Vec<u16> = self
            .pending
            .as_chunks::<2>()
            .0
            .iter()
            .map(|p| if self.big { u16::from_be_bytes(*p) } else { u16::from_le_bytes(*p) })
            .collect();
        let mut used = units.len();
        if !self.done && units.last().is_some_and(|u| (0xd800..0xdc00).contains(u)) {
            used -= 1; // the first half of a pair waits for the second
        }
        self.out.clear();
        self.at = 0;
        for c in char::decode_utf16(units[..used].iter().copied()) {
            let c = c.unwrap_or(char::REPLACEMENT_CHARACTER);
            self.out.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes());
        }
        self.pending.drain(..used * 2);
        Ok(())
    }
}

impl<R: Read> Read for FromUtf16<R> {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        while self.at == self.out.len() {
            if self.done {
                return Ok(0);
            }
            self.refill()?;
        }
        let n = buf.len().min(self.out.len() - self.at);
        buf[..n].copy_from_slice(&self.out[self.at..self.at + n]);
        self.at += n;
        Ok(n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn bytes16(text: &str, big: bool) -> Vec<u8> {
        let mut out = if big { vec![0xfe, 0xff] } else { vec![0xff, 0xfe] };
        for u in text.encode_utf16() {
            out.extend(if big { u.to_be_bytes() } else { u.to_le_bytes() });
        }
        out
    }

    #[test]
    fn tells_encodings_apart() {
        assert_eq!(decode(b"md,inc").unwrap(), ("md,inc".into(), Encoding::Utf8));
        assert_eq!(decode(b"\xef\xbb\xbfmd").unwrap(), ("md".into(), Encoding::Utf8Marked));
        assert_eq!(decode(b"12 \xb0 \x96 5\xbd").unwrap(), ("12 ° – 5½".into(), Encoding::Latin1));
        for big in [false, true] {
            assert_eq!(decode(&bytes16("tief 😀", big)).unwrap().0, "tief 😀");
        }
        assert_eq!(decode(b"\xff\xfea"), Err(NotText::Utf16));
        assert_eq!(decode(&bytes16("a\0", false)), Err(NotText::Nul { at: 5 }));
    }

    #[test]
    fn binary_files_are_refused_by_name() {
        for (head, what) in [
            (&b"PK\x03\x04..[Content_Types].xml"[..], "a workbook (XLSX)"),
            (b"PK\x03\x04..data.csv", "a zip archive"),
            (b"PAR1", "a Parquet file"),
            (b"\xd0\xcf\x11\xe0\xa1", "an old binary workbook or document"),
        ] {
            let error = decode(head).unwrap_err();
            assert_eq!(error.to_string(), format!("this is {what}, not a text file"));
            assert!(!error.help().is_empty());
        }
        assert_eq!(
            decode(b"md\0inc").unwrap_err().to_string(),
            "this is no text file: byte 3 is NUL"
        );
    }

    proptest! {
        #[test]
        fn a_stream_of_utf16_reads_as_the_whole(text in "[^\u{0}]{0,300}", big: bool) {
            let bytes = bytes16(&text, big);
            let mut out = String::new();
            FromUtf16::new(&bytes[2..], big).read_to_string(&mut out).unwrap();
            prop_assert_eq!(&out, &text);
            prop_assert_eq!(decode(&bytes).unwrap().0, text);
        }

        #[test]
        fn soup_never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let _ = decode(&bytes);
        }
    }
}
