//! A file that is small enough to hold: its bytes, its text, its rows, and what kind it is.

use std::io::{self, Read};

use super::ask::Question;
use super::diagnostic::{Diagnostic, Diagnostics};
use super::kinds::{Fit, Kind, fit, fits, is_other, rough};
use super::lookup::World;
use super::options::Options;
use super::table::{Columns, Delimiter, LOOK, RawRow, detect, find, header_row, rows, titles};
use super::text::{self, Encoding};
use super::witsml;
use super::workbook;
use crate::model::fold;

/// The largest file that is read as a whole. Logs stream and have no such limit.
pub(super) const LARGEST: u64 = 64 * 1024 * 1024;

/// A file as rows.
pub(super) struct Content {
    pub rows: Vec<RawRow>,
    pub sha256: String,
    pub notes: Vec<String>,
}

pub(super) fn unreadable(name: &str, e: &io::Error) -> Diagnostic {
    match e.kind() {
        io::ErrorKind::NotFound => Diagnostic::error(name, "there is no such file")
            .help("a name in a run's file is relative to that file"),
        _ => Diagnostic::error(name, format!("the file cannot be read: {e}")),
    }
}

pub(super) fn bytes(
    name: &str,
    world: &World<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<Vec<u8>> {
    let mut out = Vec::new();
    let read = world.files.open(name).and_then(|file| file.take(LARGEST + 1).read_to_end(&mut out));
    match read {
        Err(e) => {
            diagnostics.push(unreadable(name, &e));
            None
        }
        Ok(n) if n as u64 > LARGEST => {
            diagnostics.push(
                Diagnostic::error(name, "the file is larger than 64 MiB")
                    .help("only operating logs may be larger; a log is named in a run's file"),
            );
            None
        }
        Ok(_) => Some(out),
    }
}

/// Titles known in a row, for one kind or for the kind that knows most of them.
fn known_titles(
    kind: Option<Kind>,
    columns: Option<&Columns>,
) -> impl Fn(&[String]) -> usize + use<'_> {
    move |cells: &[String]| match kind {
        Some(kind) => titles(cells, kind.fields(), columns).len(),
        None => rough(cells).into_iter().max().unwrap_or(0),
    }
}

pub(super) fn split(
    text: &str,
    options: &Options,
    kind: Option<Kind>,
    notes: &mut Vec<String>,
) -> Vec<RawRow> {
    let delimiter = options.delimiter.unwrap_or_else(|| {
        let end = text
            .char_indices()
            .map(|(at, _)| at)
            .take_while(|at| *at <= 64 * 1024)
            .last()
            .unwrap_or(0);
        let end = text[..end].rfind('\n').map_or(text.len(), |at| at + 1);
        let end = if text.len() <= 64 * 1024 { text.len() } else { end };
        let found = detect(&text[..end], known_titles(kind, options.columns.as_ref()));
        if found != Delimiter::Comma {
            notes.push(format!("the delimiter is {found}"));
        }
        found
    });
    rows(text, delimiter)
}

pub(super) fn load(
    name: &str,
    options: &Options,
    kind: Option<Kind>,
    world: &World<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<Content> {
    let bytes = bytes(name, world, diagnostics)?;
    let sha256 = digest(&bytes);
    let mut notes = Vec::new();
    if workbook::is_workbook(&bytes) {
        let rows = one_sheet(name, &bytes, options, kind, &mut notes, diagnostics)?;
        return Some(Content { rows, sha256, notes });
    }
    if workbook::is_other_spreadsheet(&bytes) {
        diagnostics.push(other_spreadsheet(name));
        return None;
    }
    let text = decode(name, &bytes, &mut notes, diagnostics)?;
    if kind == Some(Kind::Tally) && witsml::is_xml(&text) {
        let rows = tubular(name, &text, options.object.as_deref(), &mut notes, diagnostics)?;
        return Some(Content { rows, sha256, notes });
    }
    let rows = split(&text, options, kind, &mut notes);
    cut_short(name, &text, &rows).into_iter().for_each(|d| diagnostics.push(d));
    Some(Content { rows, sha256, notes })
}

/// Whether a file is a workbook by its first bytes; one that cannot be opened is not, which a later read
/// reports.
pub(super) fn begins_as_workbook(name: &str, world: &World<'_>) -> bool {
    first_part(name, world, &mut Diagnostics::default())
        .is_some_and(|first| workbook::is_workbook(&first))
}

/// That a text may be cut off within its last number: it ends without a line end, and that number has
/// fewer decimals than those of the same column above it.
fn cut_short(name: &str, text: &str, rows: &[RawRow]) -> Option<Diagnostic> {
    let (last, above) = rows.split_last().filter(|_| !text.ends_with(['\n', '\r']))?;
    let decimals = |cell: &str| {
        let (whole, part) = cell.trim().split_once(['.', ','])?;
        let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
        (digits(whole) && digits(part)).then_some(part.len())
    };
    let at = last.cells.len().checked_sub(1)?;
    let own = last.cells.get(at)?;
    let digits = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit());
    let kept = decimals(own).or_else(|| digits(own.trim()).then_some(0))?;
    let others: Vec<usize> =
        above.iter().filter_map(|r| r.cells.get(at)).filter_map(|c| decimals(c)).collect();
    (others.len() > 1 && others.iter().all(|n| *n > kept)).then(|| {
        Diagnostic::warning(
            name,
            format!("the file ends within a line, at '{}', and may be cut off there", own.trim()),
        )
        .at_row(last.number)
        .help("the numbers above it have more decimals: compare it with where it comes from")
    })
}

/// What to say of a spreadsheet of another make.
pub(super) fn other_spreadsheet(name: &str) -> Diagnostic {
    Diagnostic::error(name, "this kind of spreadsheet is not read")
        .help("save it as an .xlsx workbook or as CSV, and take that in")
}

/// True when some row names two or more titles of one kind of file.
pub(super) fn names_titles(rows: &[RawRow], options: &Options) -> bool {
    let known = known_titles(None, options.columns.as_ref());
    rows.iter().take(LOOK).any(|r| known(&r.cells) >= 2)
}

/// The one sheet of a workbook that holds a table of this kind.
fn one_sheet(
    name: &str,
    bytes: &[u8],
    options: &Options,
    kind: Option<Kind>,
    notes: &mut Vec<String>,
    diagnostics: &mut Diagnostics,
) -> Option<Vec<RawRow>> {
    let book = match workbook::read(name, bytes) {
        Ok(book) => book,
        Err(e) => {
            diagnostics.push(*e);
            return None;
        }
    };
    notes.extend(book.notes);
    let fits = |rows: &[RawRow]| {
        kind.is_none_or(|k| {
            fit(k, rows, options.columns.as_ref(), &[]).is_some_and(|f| f.missing.is_empty())
        })
    };
    let mut sheets = book.sheets;
    if sheets.len() > 1 {
        sheets.retain(|s| fits(&s.rows));
    }
    if sheets.len() == 1 {
        let sheet = sheets.pop()?;
        notes.extend(sheet.notes.iter().map(|n| format!("sheet '{}': {n}", sheet.name)));
        return sheet.sound(name, options.hidden, diagnostics);
    }
    let what = kind.map_or("table", Kind::word);
    let message = if sheets.is_empty() {
        format!("no sheet of the workbook holds a {what}")
    } else {
        let names: Vec<&str> = sheets.iter().map(|s| s.name.as_str()).collect();
        format!("{} sheets of the workbook hold a {what}: {}", sheets.len(), names.join(", "))
    };
    diagnostics.push(
        Diagnostic::error(name, message).help(format!("keep one {what} in a workbook of its own")),
    );
    None
}

/// The tubular of a WITSML document as rows of a tally.
fn tubular(
    name: &str,
    text: &str,
    wanted: Option<&str>,
    notes: &mut Vec<String>,
    diagnostics: &mut Diagnostics,
) -> Option<Vec<RawRow>> {
    let doc = match witsml::parse(name, text) {
        Ok(doc) => doc,
        Err(d) => {
            diagnostics.push(*d);
            return None;
        }
    };
    let Some((rows, more)) = witsml::tally_rows(&doc, wanted) else {
        let all = witsml::named(&doc, "tubular");
        let titles: Vec<&str> = all.iter().filter_map(|t| t.title.as_deref()).collect();
        let message = match wanted {
            Some(wanted) => format!("the document does not hold one tubular called '{wanted}'"),
            None => format!("the document holds {} tubulars, and a tally is one", all.len()),
        };
        diagnostics.push(Diagnostic::error(name, message).help(format!(
            "name it by its uid or its name, tubular = \"…\"; the document has: {}",
            titles.join(", ")
        )));
        return None;
    };
    notes.extend(more);
    Some(rows)
}

pub(super) fn decode(
    name: &str,
    bytes: &[u8],
    notes: &mut Vec<String>,
    diagnostics: &mut Diagnostics,
) -> Option<String> {
    match text::decode(bytes) {
        Ok((text, encoding)) => {
            match encoding {
                Encoding::Utf8 => {}
                Encoding::Latin1 => {
                    notes.push("the file is not UTF-8 and was read as Latin-1".to_owned());
                }
                other => notes.push(format!("the file is in {other}")),
            }
            Some(text)
        }
        Err(e) => {
            diagnostics.push(Diagnostic::error(name, e.to_string()).help(e.help()));
            None
        }
    }
}

/// How much of a file is looked at to tell what it is.
const PART: u64 = 64 * 1024;

/// The first part of a file.
pub(super) fn first_part(
    name: &str,
    world: &World<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<Vec<u8>> {
    let mut first = Vec::new();
    match world.files.open(name).and_then(|f| f.take(PART).read_to_end(&mut first)) {
        Ok(_) => Some(first),
        Err(e) => {
            diagnostics.push(unreadable(name, &e));
            None
        }
    }
}

/// The first part of a file that may be large, in whole lines.
pub(super) fn peek(name: &str, world: &World<'_>, diagnostics: &mut Diagnostics) -> Option<String> {
    let first = first_part(name, world, diagnostics)?;
    text_of_part(name, first, diagnostics)
}

/// The text of the first part of a file.
pub(super) fn text_of_part(
    name: &str,
    mut first: Vec<u8>,
    diagnostics: &mut Diagnostics,
) -> Option<String> {
    // A part may end within a character; it is looked at and not kept.
    if let [0xff, 0xfe, rest @ ..] | [0xfe, 0xff, rest @ ..] = &first[..] {
        let mut out = String::new();
        let big = first[0] == 0xfe;
        return match text::FromUtf16::new(rest, big).read_to_string(&mut out) {
            Ok(_) => Some(out),
            Err(e) => {
                diagnostics.push(unreadable(name, &e));
                None
            }
        };
    }
    if first.len() as u64 == PART
        && let Some(end) = first.iter().rposition(|b| *b == b'\n')
    {
        first.truncate(end + 1);
    }
    decode(name, &first, &mut Vec::new(), diagnostics)
}

/// The first rows of a file that may be large.
pub(super) fn head(
    name: &str,
    options: &Options,
    world: &World<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<Vec<RawRow>> {
    let text = peek(name, world, diagnostics)?;
    Some(split(&text, options, None, &mut Vec::new()))
}

/// SHA-256 in lower-case hexadecimal.
pub(super) fn digest(bytes: &[u8]) -> String {
    crate::ledger::digest(bytes)
}

/// Tells the kind of a file from its head.
pub(super) fn tell_kind(
    name: &str,
    rows: &[RawRow],
    options: &Options,
    diagnostics: &mut Diagnostics,
) -> Option<Kind> {
    let given: Vec<String> = options.given.keys().map(|k| fold(k)).collect();
    let given: Vec<&str> = given.iter().map(String::as_str).collect();
    let fit = fits(rows, options.columns.as_ref(), &given);
    let mut whole: Vec<_> = fit.iter().filter(|f| f.missing.is_empty()).collect();
    // Where titles fit several kinds, the words below them tell which.
    let kinds: Vec<Kind> = whole.iter().map(|f| f.kind).collect();
    whole.retain(|f| !kinds.iter().any(|k| *k != f.kind && is_other(f.kind, *k, rows)));
    let Some(best) = whole.first() else {
        let d = match fit.first().filter(|f| f.known > 1) {
            Some(near) => Diagnostic::error(
                name,
                format!("the header fits no kind of file; nearest is {}, which lacks {}", near.kind, near.missing.join(" and ")),
            )
            .help(format!(
                "add the column, or say what the file is: --as {}{}",
                near.kind,
                unknown_titles(near, rows)
            )),
            None if is_turned(rows) => Diagnostic::error(
                name,
                "its titles stand below each other in the first column, and each fact is a column",
            )
            .help("turn it: in a spreadsheet copy all of it and paste it transposed, then take that in"),
            None => Diagnostic::error(name, "no header row: no line names columns that a kind of file has").help(
                foreign_titles(rows).unwrap_or_else(|| "say what the file is and what its columns hold (- skips a column), for a survey: --as survey --columns \"md [m], inc [deg], azi [deg]\" --set well=\"NAME\" --set date=2026-03-04".to_owned()),
            ),
        };
        diagnostics.push(d);
        return None;
    };
    if best.kind == Kind::Openings
        && let Some(title) = title_of_a_run(rows)
    {
        diagnostics.push(hours_of_runs(name, title));
        return None;
    }
    // Hours stand beside other facts of joints: what else the sheet may be is asked.
    let beside =
        |kind: Kind| !matches!(kind, Kind::Openings | Kind::Gaps | Kind::Moves | Kind::Notes);
    let is_rival = |f: &&&Fit| f.known == best.known || best.kind == Kind::Hours && beside(f.kind);
    let rivals: Vec<Kind> = whole.iter().filter(is_rival).map(|f| f.kind).collect();
    if rivals.len() > 1 {
        let words: Vec<&str> = rivals.iter().map(|k| k.word()).collect();
        diagnostics.push(
            Diagnostic::error(
                name,
                format!("the header fits {} equally well", words.join(" and ")),
            )
            .help(format!("say which it is: --as {}", words.join(" or --as ")))
            .asks(Question::kind(words)),
        );
        return None;
    }
    Some(best.kind)
}

/// How to say which column has what a file lacks of a kind, where it has titles that nobody knows.
fn unknown_titles(near: &Fit, rows: &[RawRow]) -> String {
    let fields = near.kind.fields();
    let header = header_row(rows, fields, None).and_then(|(at, _)| rows.get(at));
    let titles = header.into_iter().flat_map(|h| &h.cells).map(|c| c.trim());
    let unknown: Vec<String> = titles
        .filter(|t| !t.is_empty() && find(t, fields).is_none())
        .take(6)
        .map(|t| format!("'{t}'"))
        .collect();
    let lacks = near.missing.first().and_then(|m| m.split(" or ").next());
    let lacks = lacks.map(|l| if l == "a reading" { "wall" } else { l });
    match (unknown.is_empty(), lacks) {
        (false, Some(lacks)) => {
            let key = lacks.replace(' ', "_");
            let holds = fields.named(&key).map(|at| fields[at].holds).filter(|h| h.needs_unit());
            let unit = holds.map(|h| h.examples().split(" or ").next().map(|u| format!(" [{u}]")));
            format!(
                "; where a column has it, which of {}: --columns '\"TITLE\" = {key}{}'",
                unknown.join(", "),
                unit.flatten().unwrap_or_default()
            )
        }
        _ => String::new(),
    }
}

/// Whether the first column names what the first row of a file should: the table was turned.
fn is_turned(rows: &[RawRow]) -> bool {
    let first = rows.iter().take(LOOK).map(|r| r.cells.first().cloned().unwrap_or_default());
    let turned = RawRow::new(1, first.collect());
    rows.len() > 1 && fits(&[turned], None, &[]).iter().any(|f| f.missing.is_empty() && f.known > 2)
}

/// How to read a file whose titles are words that no kind of file knows, of another language perhaps.
fn foreign_titles(rows: &[RawRow]) -> Option<String> {
    let is_word = |c: &str| c.starts_with(char::is_alphabetic) && !c.ends_with(':');
    let titles: Vec<&str> = rows.iter().take(LOOK).find_map(|r| {
        let filled: Vec<&str> =
            r.cells.iter().map(|c| c.trim()).filter(|c| !c.is_empty()).collect();
        (filled.len() > 1 && filled.iter().all(|c| is_word(c))).then_some(filled)
    })?;
    // Prose has no figures in columns.
    let figure = |c: &String| c.trim().starts_with(|c: char| c.is_ascii_digit());
    rows.iter().take(LOOK).find(|r| r.filled() > 1 && r.cells.iter().any(figure))?;
    let first: Vec<String> = titles.iter().take(3).map(|t| format!("\"{t}\" = …")).collect();
    Some(format!(
        "its titles are {}: say what the file is and what each column holds, as in --as inspection --columns \
         '{}' with names such as serial, date, wall [mm] (`pipelore load --explain inspection` lists those of \
         a kind; - skips a column)",
        titles.join(", "),
        first.join(", ")
    ))
}

/// The title of a column that says of which run, well or job a row is.
fn title_of_a_run(rows: &[RawRow]) -> Option<&str> {
    let (at, _) = header_row(rows, Kind::Openings.fields(), None)?;
    let run = ["run", "run_no", "run_number", "run_name", "run_nr", "bha", "bha_no", "well", "job"];
    let header = &rows.get(at)?.cells;
    let title = header.iter().find(|c| run.contains(&fold(c).as_str()));
    title.map(|t| t.trim())
}

/// That hours of runs are no opening balance.
fn hours_of_runs(name: &str, title: &str) -> Diagnostic {
    Diagnostic::error(
        name,
        format!("the sheet tells hours by '{title}': they are no balance from before the book"),
    )
    .help(
        format!(
            "hours of runs count as such where a column names the run: --as hours --columns \
             '\"{title}\" = run'; where the figures are what each joint had gone through before the \
             book, say so: --as opening"
        ),
    )
}
