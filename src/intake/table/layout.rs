//! Which row is the header, which columns it names, in which units, and where the data begin.

use super::columns::Columns;
use super::field::{self, Field, Fields, Holds};
use super::split::RawRow;
use crate::intake::ask::Question;
use crate::intake::diagnostic::{Diagnostic, Diagnostics};
use crate::intake::number::{Decimal, is_null, plain, split_cell};
use crate::model::{fold, nearest_word};
use crate::units::Unit;

/// How many rows from the top a header may stand.
pub(crate) const LOOK: usize = 60;

/// A column that names a field.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Column {
    /// Number in the file, from 1.
    pub number: usize,
    /// Title as written, or the name that the user stated.
    pub title: String,
    /// Place of the field in the list of fields.
    pub field: usize,
    /// Unit of its numbers, where stated.
    pub unit: Option<Unit>,
}

/// A value that stands for a whole file: `Date, 2026-03-04` above the header.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Constant {
    /// Key of the field.
    pub key: String,
    pub value: String,
    /// Row, where it stands in the file.
    pub row: Option<u64>,
}

/// What a table's head says.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Layout {
    pub header: Option<RawRow>,
    /// Columns that name fields.
    pub columns: Vec<Column>,
    /// Columns that name none: number and title.
    pub unused: Vec<(usize, String)>,
    /// Values for the whole file.
    pub constants: Vec<Constant>,
    /// Place of the first data row in the rows.
    pub first_data: usize,
    /// Cells that a row must have.
    pub width: usize,
    /// Rows above the header that say nothing known.
    pub titles: Vec<u64>,
    /// The row of units below the header.
    pub units: Option<RawRow>,
    /// Minutes east of UTC of the times, where the title of their column says so: `Time (UTC+2)`.
    pub offset: Option<i32>,
}

/// Where a layout is read: names for messages, and what the user stated.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Where<'a> {
    pub file: &'a str,
    /// Sheet of a workbook.
    pub sheet: Option<&'a str>,
    pub stated: Option<&'a Columns>,
    /// The row below the header is certainly a row of units.
    pub units_below: bool,
}

impl<'a> Where<'a> {
    /// A file with a header of its own making.
    pub(crate) const fn new(file: &'a str, stated: Option<&'a Columns>) -> Self {
        Self { file, sheet: None, stated, units_below: false }
    }

    pub(super) fn error(&self, message: impl Into<String>) -> Diagnostic {
        Diagnostic::error(self.file, message).in_sheet(self.sheet)
    }
}

/// Distinct fields that the cells of a row name as titles.
pub(crate) fn titles(cells: &[String], fields: &Fields, stated: Option<&Columns>) -> Vec<usize> {
    let mut found = Vec::new();
    for (at, cell) in cells.iter().enumerate() {
        // `Date:` is the label of a value that stands beside it.
        if cell.trim_end().ends_with(':') {
            continue;
        }
        let by_user = stated
            .and_then(|s| s.about(at + 1, cell))
            // A number alone says nothing about which row is the header.
            .filter(|c| !c.source.as_deref().is_some_and(|s| s.starts_with('#')))
            .and_then(|c| by_name(&c.name, fields));
        let field = by_user.or_else(|| field::find(cell, fields).map(|n| n.field));
        if let Some(f) = field
            && !found.contains(&f)
        {
            found.push(f);
        }
    }
    found
}

fn by_name(name: &str, fields: &Fields) -> Option<usize> {
    fields.named(&fold(name))
}

/// Place of the header among the rows, and the fields that it names.
pub(crate) fn header_row(
    rows: &[RawRow],
    fields: &Fields,
    stated: Option<&Columns>,
) -> Option<(usize, Vec<usize>)> {
    let mut best: Option<(usize, Vec<usize>)> = None;
    for (at, row) in rows.iter().take(LOOK).enumerate() {
        let found = titles(&row.cells, fields, stated);
        let enough = found.len() >= 2 || found.len() == 1 && row.filled() == 1;
        // Two cells of which one is a title are a value for the whole file, not a header.
        if enough && best.as_ref().is_none_or(|(_, b)| found.len() > b.len()) {
            best = Some((at, found));
        }
    }
    best
}

/// Reads the head of a table. `None` when it cannot be read; the reasons are diagnostics then.
pub(crate) fn read(
    rows: &[RawRow],
    fields: &Fields,
    at: Where<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<Layout> {
    match at.stated {
        Some(stated) if stated.in_order() => in_order(rows, fields, stated, at, diagnostics),
        _ => with_header(rows, fields, at, diagnostics),
    }
}

fn unknown_name(name: &str, fields: &Fields, at: Where<'_>) -> Diagnostic {
    let near = nearest_word(name, fields.iter().map(|f| f.key.as_str()));
    let known = fields.iter().map(|f| f.key.as_str()).collect::<Vec<_>>().join(", ");
    at.error(format!("'{name}' is no column of this kind of file")).help(match near {
        Some(n) => format!("did you mean {n}?"),
        None => format!("known: {known}; - skips a column"),
    })
}

fn stated_unit(
    text: Option<&str>,
    field: &Field,
    column: (usize, &str),
    at: Where<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<Unit> {
    let text = text?;
    if !field.holds.has_units() || field.kept_out {
        return None;
    }
    match field.holds.unit(text) {
        Ok(unit) => Some(unit),
        Err(e) => {
            // No exact number of turns is a radian.
            let help = match text.trim() {
                "rad/s" => {
                    "1 rad/s is 9.549297 rpm: multiply the column by that and write rpm in its title".to_owned()
                }
                _ => unit_help(field, column.1),
            };
            diagnostics
                .push(at.error(e.to_string()).in_column(column.0, column.1).value(text).help(help));
            None
        }
    }
}

/// How to state a unit.
pub(crate) fn unit_help(field: &Field, title: &str) -> String {
    let example = field.holds.examples();
    let first = example.split(" or ").next().unwrap_or_default();
    let key = field.typed();
    let name = if title.is_empty() { key } else { title };
    format!(
        "write it in the header, as in \"{key} [{first}]\", or state it: --columns '\"{name}\" = {key} [{first}]' ({example})"
    )
}

fn in_order(
    rows: &[RawRow],
    fields: &Fields,
    stated: &Columns,
    at: Where<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<Layout> {
    let before = diagnostics.errors();
    let mut layout = Layout { width: stated.list().len(), ..Layout::default() };
    for (n, column) in stated.list().iter().enumerate() {
        if column.name == "-" {
            layout.unused.push((n + 1, "-".to_owned()));
            continue;
        }
        let Some(field) = by_name(&column.name, fields) else {
            diagnostics.push(unknown_name(&column.name, fields, at).in_column(n + 1, &column.name));
            continue;
        };
        let unit = column.unit.clone().or_else(|| {
            let folded = fold(&column.name);
            let implied = fields[field].implied.iter().find(|(t, _)| *t == folded);
            implied.map(|(_, u)| (*u).to_owned())
        });
        let place = (n + 1, column.name.as_str());
        let unit = stated_unit(unit.as_deref(), &fields[field], place, at, diagnostics);
        layout.columns.push(Column { number: n + 1, title: column.name.clone(), field, unit });
    }
    if diagnostics.errors() > before {
        return None;
    }
    let is_data = |row: &RawRow| {
        let numeric: Vec<&Column> =
            layout.columns.iter().filter(|c| fields[c.field].holds.numeric()).collect();
        numeric.is_empty()
            || numeric.iter().any(|c| {
                row.cells.get(c.number - 1).is_some_and(|cell| {
                    let (number, _) = split_cell(cell);
                    [Decimal::Point, Decimal::Comma].iter().any(|d| plain(number, *d).is_some())
                })
            })
    };
    // Columns beyond those that are stated are not used.
    let widest = rows.iter().map(|r| r.cells.len()).max().unwrap_or(0);
    let beyond = (layout.width + 1..=widest).map(|n| (n, "-".to_owned()));
    layout.first_data = rows.iter().position(is_data).unwrap_or(rows.len());
    layout.titles = rows[..layout.first_data].iter().map(|r| r.number).collect();
    layout.unused.extend(beyond);
    layout.width = layout.width.max(rows.get(layout.first_data).map_or(0, |r| r.cells.len()));
    Some(layout)
}

fn with_header(
    rows: &[RawRow],
    fields: &Fields,
    at: Where<'_>,
    diagnostics: &mut Diagnostics,
) -> Option<Layout> {
    let before = diagnostics.errors();
    let Some((header_at, _)) = header_row(rows, fields, at.stated) else {
        if let (true, Some(titles)) = (at.units_below, rows.first()) {
            diagnostics.push(
                at.error(format!("its curves are none of a log of drilling: {}", titles.line())).help(
                    "a log tells time or depth, bit depth and how fast the pipe turned; where one of its \
                     curves does, state it: --columns '\"ITS NAME\" = rpm [rpm]'",
                ),
            );
            return None;
        }
        let example: Vec<String> = fields
            .iter()
            .filter(|f| f.holds.has_units())
            .take(3)
            .map(|f| match f.holds.examples().split(" or ").next() {
                Some(unit) if !unit.is_empty() => format!("{} [{unit}]", f.key),
                _ => f.key.clone(),
            })
            .collect();
        diagnostics.push(
            at.error("no header row: no line names columns that this kind of file has").help(
                format!(
                    "name the columns in the first line, or state them in order, as in \
                     --columns \"{}\" (- skips a column)",
                    example.join(", ")
                ),
            ),
        );
        return None;
    };
    let header = rows[header_at].clone();
    let mut layout = Layout { width: header.cells.len(), ..Layout::default() };
    while layout.width > 0 && header.cells[layout.width - 1].trim().is_empty() {
        layout.width -= 1;
    }
    for row in &rows[..header_at] {
        let found = constants(row, fields);
        if found.is_empty() {
            layout.titles.push(row.number);
        }
        layout.constants.extend(found);
    }
    if let Some(stated) = at.stated {
        for c in stated.list() {
            let hit = (0..layout.width).any(|i| {
                stated.about(i + 1, &header.cells[i]).is_some_and(|a| a.source == c.source)
            });
            if !hit {
                let source = c.source.as_deref().unwrap_or_default();
                let near = nearest_word(source, header.cells.iter().map(String::as_str));
                diagnostics.push(
                    at.error(format!("no column of the file is titled '{source}'"))
                        .at_row(header.number)
                        .help(match near {
                            Some(n) => format!("did you mean '{n}'?"),
                            None => format!("its titles are: {}", header.line()),
                        }),
                );
            }
        }
    }
    if let Some(beside) = beside(&header, layout.width, fields, at.stated) {
        diagnostics.push(at.error(beside.0).at_row(header.number).help(beside.1));
        return None;
    }
    let mut named: Vec<(usize, &str, usize, Option<String>, bool)> = Vec::new();
    for (i, title) in header.cells[..layout.width].iter().enumerate() {
        let (number, title) = (i + 1, title.trim());
        let stated = at.stated.and_then(|s| s.about(number, title));
        let found = match stated {
            Some(c) if c.name == "-" => None,
            Some(c) => {
                let Some(field) = by_name(&c.name, fields) else {
                    let d = unknown_name(&c.name, fields, at);
                    diagnostics.push(d.at_row(header.number).in_column(number, title));
                    continue;
                };
                Some((field, c.unit.clone(), true))
            }
            None => field::find(title, fields).map(|n| (n.field, n.unit, false)),
        };
        // Two columns of a quantity may be twins in two units; two of anything else are a riddle.
        let twin = found.as_ref().and_then(|(field, ..)| {
            let same = |n: &&(usize, &str, usize, Option<String>, bool)| n.2 == *field;
            named.iter().find(same).filter(|_| !fields[*field].holds.has_units())
        });
        if let (Some(first), Some((field, ..))) = (twin, &found) {
            if fields[*field].key == "remark" || fields[*field].kept_out {
                layout.unused.push((number, title.to_owned()));
                continue;
            }
            diagnostics.push(
                at.error(format!("'{}' and '{title}' both say {}", first.1, fields[*field].key))
                    .at_row(header.number)
                    .in_column(number, title)
                    .asks(Question::column(
                        fields[*field].typed(),
                        [(first.0, first.1), (number, title)],
                    ))
                    .help(format!("skip one of them: --columns '\"{title}\" = -'")),
            );
            continue;
        }
        match found {
            Some((field, unit, by_user)) => named.push((number, title, field, unit, by_user)),
            None => layout.unused.push((number, title.to_owned())),
        }
    }
    let unit_row = rows.get(header_at + 1).filter(|r| {
        at.units_below
            || is_unit_row(r, |i| named.iter().find(|n| n.0 == i).map(|n| fields[n.2].holds))
    });
    layout.first_data = header_at + 1 + usize::from(unit_row.is_some());
    let of_time = |n: &&(usize, &str, usize, Option<String>, bool)| {
        fields[n.2].key == "time" || fields[n.2].holds == Holds::When
    };
    let offsets = named.iter().filter(of_time).map(|n| offset_of(n.1));
    layout.offset = offsets.flatten().next();
    for (number, title, field, unit, by_user) in named {
        // What stands in brackets behind a time may be its zone.
        let unit = unit.filter(|u| offset_of(u).is_none());
        let below = unit_row
            .and_then(|r| r.cells.get(number - 1))
            .map(|c| c.trim().trim_matches(['[', ']', '(', ')']).trim())
            .filter(|c| !c.is_empty() && *c != "-");
        let f = &fields[field];
        // The user's word stands over the title's, the title's over the row below.
        let text = match (&unit, below) {
            (Some(u), _) if by_user => Some(u.clone()),
            (None, Some(b)) => Some(b.to_owned()),
            (Some(u), Some(b)) => {
                let (x, y) = (f.holds.unit(u), f.holds.unit(b));
                if let (Ok(x), Ok(y)) = (x, y)
                    && (x.factor(), x.dimension()) != (y.factor(), y.dimension())
                    && f.implied.iter().all(|(_, i)| i != u)
                {
                    diagnostics.push(
                        at.error(format!("the title says '{u}' and the row below says '{b}'"))
                            .at_row(header.number)
                            .in_column(number, title)
                            .help("let both say the same"),
                    );
                }
                if f.implied.iter().any(|(_, i)| i == u) { Some(b.to_owned()) } else { unit }
            }
            (u, None) => u.clone(),
        };
        let unit = stated_unit(text.as_deref(), f, (number, title), at, diagnostics);
        if unit.is_some() || text.is_none() || f.kept_out || !f.holds.has_units() {
            layout.columns.push(Column { number, title: title.to_owned(), field, unit });
        }
    }
    layout.units = unit_row.cloned();
    layout.header = Some(header);
    (diagnostics.errors() == before).then_some(layout)
}

/// Minutes east of UTC that a title states of its times: `Time (UTC)`, `GMT-03:30`, `utc_time`.
fn offset_of(title: &str) -> Option<i32> {
    let title = title.to_ascii_uppercase();
    let at = ["UTC", "GMT"].iter().find_map(|zone| title.find(zone))?;
    let (before, rest) = (&title[..at], title[at + 3..].trim_start());
    if before.ends_with(char::is_alphanumeric) {
        return None;
    }
    let sign = match rest.chars().next() {
        Some('+') => 1,
        Some('-' | '\u{2212}') => -1,
        _ => return Some(0),
    };
    let digits: String =
        rest.chars().skip(1).take_while(|c| c.is_ascii_digit() || *c == ':').collect();
    let (hours, minutes) = match digits.split_once(':') {
        Some(both) => both,
        None if digits.len() == 4 => digits.split_at(2),
        None => (digits.as_str(), "0"),
    };
    let (hours, minutes): (i32, i32) = (hours.parse().ok()?, minutes.parse().ok()?);
    (hours <= 14 && minutes < 60).then_some(sign * (hours * 60 + minutes))
}

/// That two tables stand side by side in a sheet, apart by an empty column: titles of the first come again
/// in the second, among others. What is wrong, and how to read the first alone.
fn beside(
    header: &RawRow,
    width: usize,
    fields: &Fields,
    stated: Option<&Columns>,
) -> Option<(String, String)> {
    let cells = &header.cells[..width];
    let gap = cells.iter().position(|c| c.trim().is_empty())?;
    let (first, second) = (&cells[..gap], &cells[gap..]);
    let is_known = |at: usize, title: &str| {
        let skipped = stated.and_then(|s| s.about(at + 1, title)).is_some();
        !skipped
            && field::find(title, fields)
                .is_some_and(|n| matches!(fields[n.field].holds, Holds::Serial | Holds::When))
    };
    let again = second.iter().enumerate().any(|(at, title)| {
        is_known(gap + at, title) && first.iter().any(|t| fold(t) == fold(title))
    });
    let filled = (gap..width).filter(|at| !cells[*at].trim().is_empty());
    let skip: Vec<String> = filled.map(|at| format!("#{} = -", at + 1)).collect();
    let begins = (gap..width).find(|at| !cells[*at].trim().is_empty())?;
    again.then(|| {
        (
            format!("two tables stand side by side: the second begins with column {}, '{}'", begins + 1, cells[begins].trim()),
            format!(
                "put the second on a sheet or into a file of its own; to read the first alone: --columns '{}'",
                skip.join(", ")
            ),
        )
    })
}

/// Values for the whole file in a row above the header: one, or several as `Date: | 2026-03-04 |
/// Inspector: | A. Reader`, where each label ends with a colon.
pub(crate) fn constants(row: &RawRow, fields: &Fields) -> Vec<Constant> {
    let is_label = |cell: &str| cell.trim_end().ends_with(':');
    let label = |cell: &str| {
        let name = cell.trim().strip_suffix(':')?;
        field::find(name.trim(), fields)
    };
    // A row of one label and one value, or of a value within one cell.
    if row.cells.iter().filter(|c| is_label(c)).count() < 2 {
        return constant(row, fields).into_iter().collect();
    }
    let mut out = Vec::new();
    for (at, cell) in row.cells.iter().enumerate() {
        let Some(named) = label(cell) else { continue };
        let value = row.cells[at + 1..].iter().map(|c| c.trim()).find(|c| !c.is_empty());
        // What follows may be the label of another.
        if let Some(value) = value.filter(|v| !is_label(v)) {
            let key = fields[named.field].key.clone();
            out.push(Constant { key, value: value.to_owned(), row: Some(row.number) });
        }
    }
    out
}

/// `Date, 2026-03-04` or `Date: 2026-03-04` with a known name.
pub(crate) fn constant(row: &RawRow, fields: &Fields) -> Option<Constant> {
    let filled: Vec<&str> = row.cells.iter().map(|c| c.trim()).filter(|c| !c.is_empty()).collect();
    let (name, value) = match filled[..] {
        [one] => one.split_once([':', '=']).map(|(n, v)| (n.trim(), v.trim()))?,
        [name, value] => (name.trim_end_matches([':', '=']).trim(), value),
        [name, value, unit] if Unit::meanings(unit).is_ok() => {
            let named = field::find(name.trim_end_matches([':', '=']).trim(), fields)?;
            let key = fields[named.field].key.clone();
            return Some(Constant { key, value: format!("{value} {unit}"), row: Some(row.number) });
        }
        _ => return None,
    };
    if value.is_empty() {
        return None;
    }
    let named = field::find(name, fields)?;
    let key = fields[named.field].key.clone();
    let bare = split_cell(value).1.is_empty();
    let value = match named.unit {
        Some(u) if bare => format!("{value} {u}"),
        _ => value.to_owned(),
    };
    Some(Constant { key, value, row: Some(row.number) })
}

/// True for a row of units below the header: every filled cell is a unit, those of known columns
/// of the right kind, and at least one known column has one.
fn is_unit_row(row: &RawRow, holds: impl Fn(usize) -> Option<Holds>) -> bool {
    let mut units = 0;
    for (i, cell) in row.cells.iter().enumerate() {
        let text = cell.trim();
        let bare = text.trim_matches(['[', ']', '(', ')']).trim();
        if is_null(bare, &[]) {
            continue;
        }
        match holds(i + 1) {
            Some(h) if h.has_units() => {
                if h.unit(bare).is_ok() || Unit::meanings(bare).is_ok() {
                    units += 1;
                } else {
                    return false;
                }
            }
            // A column without units may say what it is: "text", "yyyy-mm-dd".
            Some(_) => {
                if bare != text && bare.len() < 20 {
                    continue;
                }
                if !["text", "date", "time", "no", "no.", "nr", "#", "yyyy-mm-dd", "iso", "string"]
                    .contains(&bare.to_ascii_lowercase().as_str())
                    && Unit::meanings(bare).is_err()
                {
                    return false;
                }
            }
            None => {}
        }
    }
    units > 0
}

#[cfg(test)]
mod tests {
    use super::super::split::{Delimiter, rows};
    use super::*;
    use crate::intake::show;
    use crate::units::Measure;

    fn fields() -> Fields {
        Fields::new(vec![
            Field::new("md", Holds::Of(Measure::Depth), "measured_depth depth"),
            Field::new("inc", Holds::Of(Measure::Angle), "inclination"),
            Field::new("azi", Holds::Of(Measure::Angle), "azimuth"),
            Field::new("well", Holds::Text, ""),
            Field::new("date", Holds::When, ""),
        ])
    }

    fn layout(text: &str, stated: Option<&str>) -> Result<Layout, String> {
        let stated = stated.map(|s| s.parse::<Columns>().unwrap());
        let rows = rows(text, Delimiter::Comma);
        let mut d = Diagnostics::default();
        let at = Where::new("s.csv", stated.as_ref());
        read(&rows, &fields(), at, &mut d)
            .ok_or_else(|| d.list().iter().map(show).collect::<Vec<_>>().join("\n"))
    }

    fn units(l: &Layout) -> Vec<Option<&str>> {
        l.columns.iter().map(|c| c.unit.as_ref().map(Unit::symbol)).collect()
    }

    #[test]
    fn titles_constants_units_in_a_row_of_their_own() {
        let l = layout(
            "Directional survey,,\nWell: Larkfield 1H,,\nDate,2026-03-04,\n\nMD,Inclination,Azimuth,Remark\n\
             (ft),deg,deg,\n0,0,0,\n",
            None,
        )
        .unwrap();
        assert_eq!(units(&l), [Some("ft"), Some("deg"), Some("deg")]);
        assert_eq!(l.titles, [1]);
        assert_eq!(l.constants.len(), 2);
        assert_eq!(l.constants[0].value, "Larkfield 1H");
        assert_eq!(l.unused, [(4, "Remark".to_owned())]);
        assert_eq!((l.first_data, l.width), (5, 4));
    }

    #[test]
    fn several_values_stand_in_one_row() {
        let l = layout(
            "Well:,Larkfield 1H,,Date:,,2026-03-04\nMD [m],Inclination [deg],Azimuth [deg]\n0,0,0\n",
            None,
        )
        .unwrap();
        let found: Vec<(&str, &str)> =
            l.constants.iter().map(|c| (c.key.as_str(), c.value.as_str())).collect();
        assert_eq!(found, [("well", "Larkfield 1H"), ("date", "2026-03-04")]);
        let l = layout("Well:,,Date:,2026-03-04\nMD [m],Inc [deg]\n0,0\n", None).unwrap();
        assert_eq!(l.constants.len(), 1, "a label without a value says nothing");
    }

    #[test]
    fn stated_columns_win() {
        let l = layout("Depth,Inc,Azi\n0,0,0\n", Some("Depth = md [ft], #2 = inc [deg]")).unwrap();
        assert_eq!(units(&l), [Some("ft"), Some("deg"), None]);
        let l = layout("a,b,c\n0,0,0\n", Some("md [m], -, inc [deg]")).unwrap();
        assert_eq!(units(&l), [Some("m"), Some("deg")]);
        assert_eq!((l.first_data, l.columns[1].number), (1, 3));
        assert!(layout("Depth,Inc\n", Some("Dept = md [m]")).unwrap_err().contains("'Depth'"));
        assert!(layout("0,0\n", Some("mt [m]")).unwrap_err().contains("mt"));
    }

    #[test]
    fn two_columns_for_one_thing_are_a_riddle() {
        let text = layout("MD [m],Inc [deg],Well,Well\n", None).unwrap_err();
        assert!(text.contains("'Well' and 'Well' both say well"), "{text}");
        assert!(layout("MD [m],Depth [ft],Inc [deg]\n", None).is_ok());
        assert!(layout("MD [m],Inc [deg],Well,Well\n", Some("#4 = -")).is_ok());
    }

    #[test]
    fn what_is_wrong_with_a_header_is_said() {
        let text = layout("0,0,0\n30,1,2\n", None).unwrap_err();
        assert!(text.contains("no header row") && text.contains("--columns"), "{text}");
        let text = layout("MD [psi],Inc [deg]\n", None).unwrap_err();
        assert!(text.contains("'psi' measures a pressure or stress, not a length"), "{text}");
        let text = layout("MD [m],Inc [deg]\nft,deg\n", None).unwrap_err();
        assert!(text.contains("the title says 'm' and the row below says 'ft'"), "{text}");
    }
}
