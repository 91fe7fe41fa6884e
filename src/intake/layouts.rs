//! Layouts: how files under a header are read, as a person said it once. A layout is for its header
//! alone, title by title with the row of units; what is stated for a read stands over it.

use super::content::{split, tell_kind};
use super::diagnostic::{Diagnostic, Diagnostics};
use super::kinds::Kind;
use super::log::{LogOptions, head_of};
use super::lookup::{Lookup, World, base_name};
use super::number::Decimal;
use super::options::{ByLayout, Options};
use super::table::{
    Columns, Delimiter, Fields, LOOK, Layout, RawRow, StatedColumn, Where, arranged, read_layout,
};
use super::when::DateOrder;
use crate::model::{LayoutBody, LayoutColumn, ToldLayout, fold};

/// Rows of a head that are looked at: those among which a header may stand, with its units.
const HEAD: usize = LOOK + 2;

/// A text with runs of blanks as one.
fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Titles of a header, and the cells of the row of units below it.
fn head(layout: &Layout) -> Option<(Vec<String>, Vec<String>)> {
    let cells = |row: &RawRow| -> Vec<String> {
        row.cells.iter().take(layout.width).map(|c| plain(c)).collect()
    };
    let mut units = layout.units.as_ref().map(cells).unwrap_or_default();
    while units.pop_if(|u| u.is_empty()).is_some() {}
    Some((cells(layout.header.as_ref()?), units))
}

/// What a layout says of columns, where it is not stated otherwise.
fn columns(body: &LayoutBody, stated: Option<&Columns>) -> Columns {
    let is_one = |title: &str| {
        body.columns.iter().filter(|c| fold(&c.title) == fold(title)).count() == 1
            && !title.starts_with('#')
    };
    let others = body.columns.iter().enumerate().filter(|(at, column)| {
        let own = stated.and_then(|s| s.about(at + 1, &column.title));
        own.is_none() && !column.title.is_empty()
    });
    let others = others.map(|(at, column)| StatedColumn {
        source: Some(if is_one(&column.title) {
            column.title.clone()
        } else {
            format!("#{}", at + 1)
        }),
        name: column.field.clone().unwrap_or_else(|| "-".to_owned()),
        unit: column.unit.clone(),
    });
    let stated = stated.map(|s| s.list().to_vec()).unwrap_or_default();
    stated.into_iter().chain(others).collect()
}

/// Whether rows have the header of a layout.
fn is_under(
    rows: &[RawRow],
    fields: &Fields,
    columns: &Columns,
    body: &LayoutBody,
    units_below: bool,
) -> bool {
    let (rows, _) = arranged(rows.iter().take(HEAD).cloned().collect(), fields, Some(columns));
    let at = Where { units_below, ..Where::new("", Some(columns)) };
    let read = read_layout(&rows, fields, at, &mut Diagnostics::default());
    read.as_ref().and_then(head).is_some_and(|head| is_head_of(&head, body))
}

fn is_head_of((titles, units): &(Vec<String>, Vec<String>), body: &LayoutBody) -> bool {
    body.columns.iter().map(|c| &c.title).eq(titles) && body.units == *units
}

/// Options with what a layout says, where they do not say otherwise; `None` where it is of another kind
/// of file, or says what this version cannot read.
fn under(options: &Options, told: &ToldLayout) -> Option<Options> {
    let body = &told.body;
    let kind = Kind::parse(&body.file_kind).ok()?;
    if options.kind.is_some_and(|k| k != kind)
        || options.columns.as_ref().is_some_and(Columns::in_order)
    {
        return None;
    }
    let mut out = options.clone();
    out.kind = Some(kind);
    out.columns = Some(columns(body, options.columns.as_ref()));
    out.delimiter =
        options.delimiter.or(said_as(body.delimiter.as_deref(), Delimiter::parse).ok()?);
    out.decimal = options.decimal.or(said_as(body.decimal.as_deref(), Decimal::parse).ok()?);
    let order = said_as(body.date_order.as_deref(), DateOrder::parse).ok()?;
    out.times.order = options.times.order.or(order);
    if out.nulls.is_empty() {
        out.nulls.clone_from(&body.nulls);
    }
    out.by = Some(Box::new(ByLayout { told: told.clone(), stated: options.clone() }));
    Some(out)
}

/// What was said, where anything was; an error where this version cannot read it, for it must not be left
/// out in silence.
fn said_as<T>(text: Option<&str>, read: impl Fn(&str) -> Option<T>) -> Result<Option<T>, ()> {
    text.map(|text| read(text).ok_or(())).transpose()
}

/// The one of some that fits; where several do nobody can say which is meant.
fn only(mut found: impl Iterator<Item = Options>) -> Option<Options> {
    let first = found.next()?;
    found.next().is_none().then_some(first)
}

/// How rows are read by the layout of their header, where the book has one.
pub(super) fn of_rows(rows: &[RawRow], options: &Options, lookup: &dyn Lookup) -> Option<Options> {
    only(lookup.layouts().iter().filter_map(|told| {
        let read = under(options, told)?;
        let (fields, columns) = (read.kind?.fields(), read.columns.as_ref()?);
        is_under(rows, fields, columns, &told.body, false).then_some(read)
    }))
}

/// How a text is read by the layout of its header, where the book has one.
pub(super) fn of_text(text: &str, options: &Options, lookup: &dyn Lookup) -> Option<Options> {
    only(lookup.layouts().iter().filter(|told| may_hold(text, &told.body)).filter_map(|told| {
        let read = under(options, told)?;
        let (kind, columns) = (read.kind?, read.columns.as_ref()?);
        let rows = split(text, &read, Some(kind), &mut Vec::new());
        is_under(&rows, kind.fields(), columns, &told.body, false).then_some(read)
    }))
}

/// Whether a text has the words of all titles of a layout.
fn may_hold(text: &str, body: &LayoutBody) -> bool {
    let mut words = body.columns.iter().flat_map(|c| c.title.split_whitespace());
    words.all(|word| word.contains('"') || text.contains(word))
}

/// How a log is read by the layout of its header, where the book has one. Its file is opened for each
/// layout of a log.
pub(super) fn of_log(name: &str, log: &LogOptions, world: &World<'_>) -> Option<LogOptions> {
    let options = Options {
        kind: Some(Kind::Log),
        columns: log.columns.clone(),
        delimiter: log.delimiter,
        decimal: log.decimal,
        nulls: log.nulls.clone(),
        times: log.times,
        ..Options::default()
    };
    let read = only(world.lookup.layouts().iter().filter_map(|told| {
        let read = under(&options, told)?;
        let tried = LogOptions { hidden: log.hidden, ..with(LogOptions::default(), &read) };
        let (rows, units_below) = head_of(name, &tried, world)?;
        let columns = read.columns.as_ref()?;
        is_under(&rows, Kind::Log.fields(), columns, &told.body, units_below).then_some(read)
    }))?;
    Some(with(log.clone(), &read))
}

fn with(log: LogOptions, read: &Options) -> LogOptions {
    LogOptions {
        columns: read.columns.clone(),
        delimiter: read.delimiter,
        decimal: read.decimal,
        nulls: read.nulls.clone(),
        times: read.times,
        layout: read.told().cloned().map(Box::new),
        ..log
    }
}

/// That a file is read by a layout: whose it is, and what it says.
pub(super) fn note(told: &ToldLayout) -> String {
    format!(
        "read by the layout {} of {}: {}",
        told.told_by,
        told.author,
        said(&told.body).join("; ")
    )
}

/// What a person said in a layout, in words.
pub fn said(body: &LayoutBody) -> Vec<String> {
    let mut out = vec![format!("it is of kind {}", body.file_kind)];
    out.extend(body.columns.iter().filter(|c| c.said).map(|c| {
        let unit = c.unit.as_ref().map_or_else(String::new, |u| format!(" [{u}]"));
        match &c.field {
            Some(field) => format!("'{}' is {field}{unit}", c.title),
            None => format!("'{}' is not used", c.title),
        }
    }));
    out.extend(body.date_order.as_ref().map(|order| format!("dates are {order}")));
    out.extend(body.decimal.as_ref().map(|sign| format!("the decimal sign is a {sign}")));
    out.extend(body.delimiter.as_ref().map(|sign| format!("columns are divided by {sign}")));
    if !body.nulls.is_empty() {
        out.push(format!("no value is {}", body.nulls.join(" or ")));
    }
    out
}

/// What a person said of rows of a kind, as a layout that is to be remembered: `None` where nothing was
/// said, where the rows have no titles, and where the layout by which they are read says the same.
pub(super) fn learned(
    name: &str,
    rows: &[RawRow],
    kind: Kind,
    options: &Options,
    units_below: bool,
) -> Option<LayoutBody> {
    let by = options.told().map(|told| &told.body);
    let is_said = options.columns.is_some()
        || options.delimiter.is_some()
        || options.decimal.is_some()
        || options.times.order.is_some()
        || !options.nulls.is_empty();
    let rows: Vec<RawRow> = rows.iter().take(HEAD).cloned().collect();
    if options.columns.as_ref().is_some_and(Columns::in_order)
        || !is_said && (options.kind.is_none() || tells_itself(name, &rows, kind, options))
    {
        return None;
    }
    let body = body_of(name, rows, kind, options, units_below, &mut Diagnostics::default())?;
    by.is_none_or(|by| !by.reads_as(&body)).then_some(body)
}

/// Whether a header tells of which kind its file is.
fn tells_itself(name: &str, rows: &[RawRow], kind: Kind, options: &Options) -> bool {
    let options = Options { kind: None, ..options.clone() };
    tell_kind(name, rows, &options, &mut Diagnostics::default()) == Some(kind)
}

fn body_of(
    name: &str,
    rows: Vec<RawRow>,
    kind: Kind,
    options: &Options,
    units_below: bool,
    d: &mut Diagnostics,
) -> Option<LayoutBody> {
    let (fields, stated) = (kind.fields(), options.columns.as_ref());
    let (rows, _) = arranged(rows, fields, stated);
    let at = Where { units_below, ..Where::new(name, stated) };
    let layout = read_layout(&rows, fields, at, d)?;
    let (titles, units) = head(&layout)?;
    // A layout must lead to each field by a name.
    layout.columns.iter().try_for_each(|c| fields.name_of(c.field).map(|_| ()))?;
    let by = options.told().map(|told| &told.body);
    let column = |(at, title): (usize, String)| {
        let read = layout.columns.iter().find(|c| c.number == at + 1);
        let field = read.and_then(|c| fields.name_of(c.field)).map(str::to_owned);
        let unit = read.and_then(|c| c.unit.as_ref()).map(|u| u.symbol().to_owned());
        let own = |b: &LayoutColumn| !b.said && b.field == field && b.unit == unit;
        let is_stated = stated.is_some_and(|s| s.about(at + 1, &title).is_some());
        let said = is_stated && !by.and_then(|b| b.columns.get(at)).is_some_and(own);
        LayoutColumn { title, field, unit, said }
    };
    Some(LayoutBody {
        file_kind: kind.word().to_owned(),
        columns: titles.into_iter().enumerate().map(column).collect(),
        units,
        delimiter: options.delimiter.map(|d| d.word().to_owned()),
        decimal: options.decimal.map(|d| d.word().to_owned()),
        nulls: options.nulls.clone(),
        date_order: options.times.order.map(|o| o.word().to_owned()),
        file: Some(base_name(name).to_owned()),
        withdrawn: false,
        reason: None,
    })
}

/// A layout with what is stated over it, for the same header.
///
/// # Errors
/// What is stated and cannot be.
pub fn changed(told: &ToldLayout, stated: &Options) -> Result<LayoutBody, Diagnostics> {
    let mut d = Diagnostics::default();
    let body = &told.body;
    let place = format!("layout {}", told.told_by);
    let read = under(stated, told).and_then(|read| {
        let row = RawRow::new;
        let titles = body.columns.iter().map(|c| c.title.clone()).collect();
        let mut rows = vec![row(1, titles)];
        rows.extend((!body.units.is_empty()).then(|| row(2, body.units.clone())));
        body_of(&place, rows, read.kind?, &read, !body.units.is_empty(), &mut d)
    });
    match read {
        Some(read) if d.errors() == 0 => Ok(LayoutBody { file: body.file.clone(), ..read }),
        _ => {
            if d.errors() == 0 {
                d.push(Diagnostic::error(&place, "this cannot be said of its files").help(
                    "name columns by their titles, as in --columns '\"W\" = wall [in]'; \
                         a file of another kind is read with --as, which makes a layout of its own",
                ));
            }
            Err(d)
        }
    }
}

/// That the rows of a file are not under the header of the layout that was to be theirs.
pub(super) fn other_head(layout: &Layout, told: &ToldLayout) -> bool {
    head(layout).is_none_or(|head| !is_head_of(&head, &told.body))
}
