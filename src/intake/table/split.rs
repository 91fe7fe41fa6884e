//! Lines into cells: which delimiter a file uses, quotes, and where each record begins.

use std::collections::BTreeMap;
use std::fmt;

/// What stands between the cells of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Delimiter {
    Comma,
    Semicolon,
    Tab,
    /// A run of blanks or tabs.
    Blanks,
}

impl Delimiter {
    /// In order of preference when several divide a file evenly: a comma may be a decimal sign
    /// and a blank may be part of a name, a tab and a semicolon seldom are.
    pub const ALL: [Self; 4] = [Self::Tab, Self::Semicolon, Self::Comma, Self::Blanks];

    /// Reads `comma`, `semicolon`, `tab`, `blanks`, or the sign itself.
    pub fn parse(text: &str) -> Option<Self> {
        match text {
            "," => return Some(Self::Comma),
            ";" => return Some(Self::Semicolon),
            "\t" | "\\t" => return Some(Self::Tab),
            " " => return Some(Self::Blanks),
            _ => {}
        }
        match text.trim().to_ascii_lowercase().as_str() {
            "comma" => Some(Self::Comma),
            "semicolon" => Some(Self::Semicolon),
            "tab" => Some(Self::Tab),
            "blanks" | "blank" | "space" | "spaces" => Some(Self::Blanks),
            _ => None,
        }
    }

    /// The word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Comma => "comma",
            Self::Semicolon => "semicolon",
            Self::Tab => "tab",
            Self::Blanks => "blanks",
        }
    }

    /// The sign; runs of blanks are split otherwise.
    pub const fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Blanks => b' ',
        }
    }

    fn csv(self) -> csv::ReaderBuilder {
        let mut builder = csv::ReaderBuilder::new();
        builder.has_headers(false).flexible(true).delimiter(self.byte());
        builder
    }
}

impl fmt::Display for Delimiter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Comma => "comma",
            Self::Semicolon => "semicolon",
            Self::Tab => "tab",
            Self::Blanks => "runs of blanks",
        })
    }
}

/// A row as read: its line in the file, from 1, and its cells.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct RawRow {
    /// Line in the file at which it begins, or row of a sheet.
    pub number: u64,
    /// Cells, outer blanks kept.
    pub cells: Vec<String>,
    /// Places in the row that belong to a merged cell of a sheet which begins in a row above, and that row.
    pub merged: Vec<(usize, u64)>,
}

impl RawRow {
    pub(crate) const fn new(number: u64, cells: Vec<String>) -> Self {
        Self { number, cells, merged: Vec::new() }
    }

    /// Cells that hold something.
    pub(crate) fn filled(&self) -> usize {
        self.cells.iter().filter(|c| !c.trim().is_empty()).count()
    }

    /// The cells as one line.
    pub(crate) fn line(&self) -> String {
        self.cells.iter().map(|c| c.trim()).collect::<Vec<_>>().join(" | ")
    }
}

/// Splits a line at runs of blanks; a part in quotes stays whole.
pub(crate) fn split_blanks(line: &str) -> Vec<String> {
    let mut cells = Vec::new();
    let mut rest = line.trim();
    while !rest.is_empty() {
        let (cell, after) = match rest.strip_prefix('"').and_then(|r| r.split_once('"')) {
            Some((cell, after)) if after.is_empty() || after.starts_with([' ', '\t']) => {
                (cell, after)
            }
            _ => rest.split_once([' ', '\t']).unwrap_or((rest, "")),
        };
        cells.push(cell.to_owned());
        rest = after.trim_start();
    }
    cells
}

/// Splits a text into rows; lines without any character are left out.
pub(crate) fn rows(text: &str, delimiter: Delimiter) -> Vec<RawRow> {
    if delimiter == Delimiter::Blanks {
        return text
            .lines()
            .enumerate()
            .filter(|(_, l)| !l.trim().is_empty())
            .map(|(at, l)| RawRow::new(at as u64 + 1, split_blanks(l)))
            .collect();
    }
    let mut reader = delimiter.csv().from_reader(text.as_bytes());
    let mut record = csv::StringRecord::new();
    let mut out = Vec::new();
    // Lines are counted here: the reader's own count stands before blank lines and line feeds.
    let (mut line, mut counted) = (1, 0);
    // Text in memory that is UTF-8 cannot fail to read.
    while reader.read_record(&mut record).unwrap_or(false) {
        let at = record.position().map_or(0, csv::Position::byte);
        let at = usize::try_from(at).unwrap_or(text.len()).min(text.len());
        let breaks = text.as_bytes()[at..].iter().take_while(|b| matches!(b, b'\r' | b'\n'));
        let start = at + breaks.count();
        line += text[counted..start].matches('\n').count() as u64;
        counted = start;
        let number = line;
        out.push(RawRow::new(number, record.iter().map(str::to_owned).collect()));
    }
    out
}

/// How evenly a delimiter divides some rows: the share of rows with the commonest number of
/// cells, and that number.
fn evenness(rows: &[RawRow]) -> (f64, usize) {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for row in rows {
        *counts.entry(row.cells.len()).or_default() += 1;
    }
    let (cells, n) = counts.into_iter().max_by_key(|(cells, n)| (*n, *cells)).unwrap_or((1, 0));
    (n as f64 / rows.len().max(1) as f64, cells)
}

/// Whether a cell made by splitting at blanks holds another delimiter between words: then the
/// blanks stood inside the cells of that other delimiter.
fn is_cut_across(cell: &str) -> bool {
    let chars: Vec<char> = cell.chars().collect();
    chars
        .windows(3)
        .any(|w| matches!(w[1], ',' | ';') && !(w[0].is_ascii_digit() && w[2].is_ascii_digit()))
}

/// Tells the delimiter from the first lines of a text. `titles` counts the titles known in a row.
pub(crate) fn detect(head: &str, titles: impl Fn(&[String]) -> usize) -> Delimiter {
    let mut best: Option<((usize, bool), Delimiter)> = None;
    for delimiter in Delimiter::ALL {
        let rows = rows(head, delimiter);
        let (share, cells) = evenness(&rows);
        if cells < 2 && rows.iter().all(|r| r.cells.len() < 2) {
            continue;
        }
        // Titles decide where there are any: nothing but the right delimiter brings them out.
        let blanks = delimiter == Delimiter::Blanks;
        let whole = |r: &&RawRow| !(blanks && r.cells.iter().any(|c| is_cut_across(c)));
        let known = rows.iter().take(60).filter(whole).map(|r| titles(&r.cells)).max().unwrap_or(0);
        let even = share >= 0.7 && cells >= 2;
        let score = (known, even);
        if best.as_ref().is_none_or(|(s, _)| score > *s) {
            best = Some((score, delimiter));
        }
    }
    best.map_or(Delimiter::Comma, |(_, d)| d)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn told(text: &str) -> Delimiter {
        detect(text, |cells| {
            cells.iter().filter(|c| ["md", "inc", "azi"].contains(&c.trim())).count()
        })
    }

    #[test]
    fn tells_the_delimiter() {
        assert_eq!(told("md,inc,azi\n0,1,2\n"), Delimiter::Comma);
        assert_eq!(told("md;inc;azi\n0,5;1,0;2\n"), Delimiter::Semicolon);
        assert_eq!(told("1230\t2\t75\t1229,99\n1260\t4\t75\t1260\n"), Delimiter::Tab);
        assert_eq!(told("  0.0   1.5  2.0\n 30.0   1.5  2.0\n"), Delimiter::Blanks);
        assert_eq!(told("Survey of, a well\n\nmd inc azi\n0 1 2\n"), Delimiter::Blanks);
        assert_eq!(told("serial\nK1-1\nK1-2\n"), Delimiter::Comma);
        // Blanks inside titles bring out more words, but none that stand alone.
        assert_eq!(told("Remark,a b\nmd [m],inc a,azi inc azi md\n1,2,3\n"), Delimiter::Comma);
        assert_eq!(told(""), Delimiter::Comma);
        let words = |cells: &[String]| {
            let known = [
                "serial",
                "wall [in]",
                "box findings",
                "findings",
                "area",
                "serial,wall",
                "findings,box",
            ];
            cells.iter().filter(|c| known.contains(&c.trim())).count()
        };
        assert_eq!(
            detect("serial,wall [in],slip area findings,box findings\n1,2,3,4\n", words),
            Delimiter::Comma
        );
    }

    #[test]
    fn quotes_and_line_numbers() {
        let r = rows("a,b\r\n\r\n\"x, \"\"y\"\"\nz\",2\r\n3\r\n", Delimiter::Comma);
        assert_eq!(r.iter().map(|r| r.number).collect::<Vec<_>>(), [1, 3, 5]);
        assert_eq!(r[1].cells, ["x, \"y\"\nz", "2"]);
        assert_eq!(split_blanks("  a \"b c\"  \t d"), ["a", "b c", "d"]);
        assert_eq!(split_blanks("5\" pipe"), ["5\"", "pipe"]);
    }

    proptest! {
        #[test]
        fn soup_never_panics(text in "\\PC{0,80}", shaped in "[a,;\t \"\n\r]{0,60}") {
            for t in [text, shaped] {
                for d in Delimiter::ALL {
                    let _ = rows(&t, d);
                }
                let _ = told(&t);
            }
        }
    }
}
