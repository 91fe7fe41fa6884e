//! Bytes into text: which encoding a file is in, and whether it is text at all.

use std::borrow::Cow;
use std::fmt;
use std::io::{self, Read};

use encoding_rs::{Decoder, UTF_16BE, UTF_16LE, WINDOWS_1252};

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
pub(super) enum NotText {
    /// A known kind of file that is no text.
    #[error("this is {what}, not a text file")]
    Known { what: &'static str, help: &'static str },
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
    pub(super) const fn help(&self) -> &'static str {
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
pub(super) fn sniff(head: &[u8]) -> Result<Encoding, NotText> {
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

/// Latin-1 bytes as text, with the characters of Windows code page 1252 where Latin-1 has unprintable
/// controls, which nobody means.
pub(super) fn latin1(bytes: &[u8]) -> String {
    WINDOWS_1252.decode_without_bom_handling(bytes).0.into_owned()
}

/// A cell's bytes as text: UTF-8 where they are, else Latin-1.
pub(super) fn cell(bytes: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(latin1(bytes)),
    }
}

/// A whole file as text, with the encoding that it was in.
pub(super) fn decode(bytes: &[u8]) -> Result<(String, Encoding), NotText> {
    match sniff(bytes)? {
        Encoding::Utf16Le => utf16(&bytes[2..], UTF_16LE).map(|t| (t, Encoding::Utf16Le)),
        Encoding::Utf16Be => utf16(&bytes[2..], UTF_16BE).map(|t| (t, Encoding::Utf16Be)),
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

fn utf16(bytes: &[u8], order: &'static encoding_rs::Encoding) -> Result<String, NotText> {
    let text = order
        .decode_without_bom_handling_and_without_replacement(bytes)
        .ok_or(NotText::Utf16)?
        .into_owned();
    match text.find('\0') {
        Some(at) => {
            let units = text[..at].encode_utf16().count() as u64;
            Err(NotText::Nul { at: units * 2 + 3 })
        }
        None => Ok(text),
    }
}

/// Bytes read at a time.
const CHUNK: usize = 16 * 1024;

/// Bytes of a UTF-16 stream as UTF-8, for readers that pass over a file once.
pub(super) struct FromUtf16<R> {
    inner: R,
    decoder: Decoder,
    out: Vec<u8>,
    at: usize,
    done: bool,
}

impl<R: Read> FromUtf16<R> {
    /// Wraps a stream that stands after its byte-order mark.
    pub(super) fn new(inner: R, big: bool) -> Self {
        let order = if big { UTF_16BE } else { UTF_16LE };
        let decoder = order.new_decoder_without_bom_handling();
        Self { inner, decoder, out: Vec::new(), at: 0, done: false }
    }

    fn refill(&mut self) -> io::Result<()> {
        let mut chunk = [0; CHUNK];
        let n = self.inner.read(&mut chunk)?;
        self.done = n == 0;
        // Half a character at the end of the file is left out, as no other follows it.
        let most = self.decoder.max_utf8_buffer_length(n).unwrap_or(4 * CHUNK);
        self.out.resize(most, 0);
        let (_, _, written, _) = self.decoder.decode_to_utf8(&chunk[..n], &mut self.out, false);
        self.out.truncate(written);
        self.at = 0;
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
        assert_eq!(decode(&bytes16("é\0", false)), Err(NotText::Nul { at: 5 }));
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
