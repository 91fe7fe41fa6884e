//! Layouts: how files under a header are read; listed, shown, changed, dropped.

use super::enter::written;
use super::error::words;
use super::take_in::layout;
use super::{Error, Session};
use crate::intake::{Options, changed_layout, said_in_layout};
use crate::ledger::digest;
use crate::model::{EntryId, EntryKind, LayoutBody, ToldLayout};
use crate::report::{Block, Cell, Column, Fact, Report, Table};
use crate::store::AppendOptions;

/// Characters of a fingerprint that are shown.
const SHOWN: usize = 12;

/// The fingerprint of a header: its titles in order, with the row of units.
fn fingerprint(body: &LayoutBody) -> String {
    let titles = body.columns.iter().map(|c| c.title.as_str());
    let text: Vec<&str> =
        titles.chain(std::iter::once("")).chain(body.units.iter().map(String::as_str)).collect();
    digest(text.join("\n").as_bytes()).chars().take(SHOWN).collect()
}

impl Session {
    /// The layouts in force.
    pub(crate) fn layouts(&self) -> Result<Report, Error> {
        let rows = self.book.told_layouts(self.caller.clock)?.into_iter().map(|told| {
            let body = &told.body;
            let used = body.columns.iter().filter(|c| c.field.is_some()).count();
            vec![
                Cell::Text(told.told_by.to_string()),
                Cell::Text(body.file_kind.clone()),
                Cell::Text(fingerprint(body)),
                Cell::text(body.file.as_deref()),
                Cell::Text(format!("{used} of {}", body.columns.len())),
                Cell::Text(said_in_layout(body).join("; ")),
                Cell::Text(told.author.clone()),
            ]
        });
        let mut report = Report::new("layouts");
        report.push(Block::Table(Table {
            name: "layouts",
            columns: vec![
                Column::plain("entry", "entry"),
                Column::plain("kind", "kind"),
                Column::plain("header", "header"),
                Column::plain("file", "said of").dispensable(2),
                Column::plain("used", "columns read").dispensable(1),
                Column::plain("said", "what was said"),
                Column::plain("author", "by"),
            ],
            rows: rows.collect(),
            empty: "no layout: every file was read by its own header".to_owned(),
            below: None,
        }));
        Ok(report)
    }

    fn told_layout(&self, entry: &str) -> Result<ToldLayout, Error> {
        let layouts = self.book.told_layouts(self.caller.clock)?;
        let names: Vec<String> = layouts.iter().map(|told| told.told_by.to_string()).collect();
        let found = layouts.into_iter().find(|told| told.told_by.to_string() == entry.trim());
        let was = found.is_none() && self.was_layout(entry)?;
        found.ok_or_else(|| Error::Advice {
            what: if was {
                format!(
                    "the layout '{entry}' is out of force already: it was dropped, struck or changed"
                )
            } else {
                format!("no layout in force is called '{entry}'")
            },
            help: vec![match names.as_slice() {
                [] => "the book has no layout; `load` makes one where it is said how columns are \
                       read"
                    .to_owned(),
                names => format!("in force: {}", names.join(", ")),
            }],
        })
    }

    /// Whether an entry tells a layout, in force or not.
    fn was_layout(&self, entry: &str) -> Result<bool, Error> {
        let Ok(id) = entry.trim().parse::<EntryId>() else { return Ok(false) };
        let Some(position) = self.book.position_of(&id)? else { return Ok(false) };
        Ok(self.book.entry_at(position)?.raw.kind == EntryKind::Layout.word())
    }

    /// A layout, column by column.
    pub(crate) fn layout(&self, entry: &str) -> Result<Report, Error> {
        let told = self.told_layout(entry)?;
        let mut report = Report::new("layout");
        push(
            &mut report,
            &told.body,
            &[
                Fact::plain("entry", "entry", Cell::Text(told.told_by.to_string())),
                Fact::plain("author", "told by", Cell::Text(told.author.clone())),
            ],
        );
        Ok(report)
    }

    /// Reads files under the header of a layout otherwise from now on: another entry, with what is stated
    /// over what the layout says.
    pub(crate) fn change_layout(
        &mut self,
        entry: &str,
        stated: &Options,
        reason: &str,
        dry_run: bool,
    ) -> Result<Report, Error> {
        let told = self.told_layout(entry)?;
        let body = changed_layout(&told, stated).map_err(|diagnostics| Error::Fields {
            what: "the layout cannot be changed so; nothing was written",
            diagnostics,
        })?;
        if body.reads_as(&told.body) {
            return Err(words(format!("{} says that already", told.told_by)));
        }
        self.tell(&LayoutBody { reason: reason_of(reason)?, ..body }, dry_run)
    }

    /// Drops a layout: files under its header are read by what they say themselves.
    pub(crate) fn drop_layout(
        &mut self,
        entry: &str,
        reason: &str,
        dry_run: bool,
    ) -> Result<Report, Error> {
        let told = self.told_layout(entry)?;
        let reason = reason_of(reason)?;
        self.tell(&LayoutBody { withdrawn: true, reason, ..told.body }, dry_run)
    }

    fn tell(&mut self, body: &LayoutBody, dry_run: bool) -> Result<Report, Error> {
        let options = AppendOptions { keep_conflicts: true, dry_run };
        let draft = layout(body.clone(), self.caller.present());
        let done = self.book.append(&[draft], &self.caller.stamp(), &options)?;
        let mut report = Report::new("layout");
        let facts = if dry_run {
            vec![Fact::plain("dry_run", "dry run", Cell::Truth(true))]
        } else {
            written(&done).to_vec()
        };
        push(&mut report, body, &facts);
        report.push(Block::Note(
            "what was taken in before stays as it was read; a file that was read wrong is read again \
             with load --correct"
                .to_owned(),
        ));
        Ok(report)
    }
}

fn reason_of(reason: &str) -> Result<Option<String>, Error> {
    let reason = reason.trim();
    if reason.is_empty() {
        return Err(words("a layout is changed or dropped for a reason"));
    }
    Ok(Some(reason.to_owned()))
}

fn push(report: &mut Report, body: &LayoutBody, facts: &[Fact]) {
    let mut facts = facts.to_vec();
    facts.extend([
        Fact::plain("kind", "kind of file", Cell::Text(body.file_kind.clone())),
        Fact::plain("header", "header", Cell::Text(fingerprint(body))),
        Fact::plain("file", "said of", Cell::text(body.file.as_deref())),
        Fact::plain("delimiter", "divided by", Cell::text(body.delimiter.as_deref())),
        Fact::plain("decimal", "decimal sign", Cell::text(body.decimal.as_deref())),
        Fact::plain("date_order", "dates", Cell::text(body.date_order.as_deref())),
        Fact::plain(
            "nulls",
            "no value",
            Cell::text(Some(&*body.nulls.join(" or ")).filter(|n| !n.is_empty())),
        ),
        Fact::plain("withdrawn", "dropped", Cell::Truth(body.withdrawn)),
        Fact::plain("reason", "reason", Cell::text(body.reason.as_deref())),
    ]);
    report.push(Block::Facts { name: "layout", facts });
    let rows = body.columns.iter().enumerate().map(|(at, column)| {
        vec![
            Cell::Text(column.title.clone()),
            Cell::text(body.units.get(at).map(String::as_str)),
            Cell::Text(column.field.clone().unwrap_or_else(|| "not used".to_owned())),
            Cell::text(column.unit.as_deref()),
            Cell::Text(if column.said { "said" } else { "its title" }.to_owned()),
        ]
    });
    report.push(Block::Table(Table {
        name: "columns",
        columns: vec![
            Column::plain("title", "column"),
            Column::plain("below", "row below").dispensable(1),
            Column::plain("field", "read as"),
            Column::plain("unit", "unit"),
            Column::plain("by", "by"),
        ],
        rows: rows.collect(),
        empty: "no columns".to_owned(),
        below: None,
    }));
}
