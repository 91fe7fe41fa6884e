//! Lines that are alike as one: on a screen a list of a whole string is read, not looked up.

use std::collections::{BTreeSet, HashMap};

use crate::model::{Call, Vocabulary, name_key};
use crate::report::{Cell, Column, Table};
use crate::schema::JointRow;

use super::super::Present;
use super::super::fitness;
use super::super::serials::in_stretches;
use super::line::{Line, Standing};
use super::when::when;

/// Lines that differ in their joint and its figures alone.
pub(super) struct Alike<'l> {
    /// The worst of them: they are told in its place.
    worst: &'l Line,
    pub(super) lines: Vec<&'l Line>,
}

/// Call, rule, whether it is due, how fit, string and place.
type Key<'l> = (Call, &'l str, bool, &'l str, [Option<String>; 2]);

/// Lines that call for the same by the same rule of joints of one string, at one place, equally fit:
/// in the order of the worst of each.
pub(super) fn alike(lines: &[Line]) -> Vec<Alike<'_>> {
    let mut places: HashMap<Key<'_>, usize> = HashMap::new();
    let mut out: Vec<Alike<'_>> = Vec::new();
    for line in lines {
        let label = &line.label;
        let names = [&label.string, &label.location].map(|name| name.as_deref().map(name_key));
        let due = line.standing == Standing::Due;
        let key = (line.call, &*line.rule, due, fitness::words(line.fit), names);
        let at = *places.entry(key).or_insert(out.len());
        match out.get_mut(at) {
            Some(like) => like.lines.push(line),
            None => out.push(Alike { worst: line, lines: vec![line] }),
        }
    }
    out
}

/// A line for all that are alike: whom they are about, how many, and the worst figure among them.
pub(super) fn table(folded: &[Alike<'_>], ahead: bool, present: &Present) -> Table {
    let mut columns = vec![
        Column::plain("serials", "serials"),
        Column::plain("joints", "joints"),
        Column::plain("call", "call"),
        Column::plain("reason", "reason").sinking(),
        Column::plain("fit", "fit to run"),
        Column::plain("value", "worst value"),
        Column::plain("limit", "limit"),
        Column::field(JointRow::string()).dispensable(3),
        Column::field(JointRow::location()).dispensable(1),
    ];
    if ahead {
        columns.push(Column::plain("due_on", "first due on"));
    }
    columns.push(Column::plain("rule", "rule").dispensable(6));
    columns.push(Column::plain("also", "also called by").dispensable(7));
    let rows = folded.iter().map(|alike| {
        let worst = alike.worst;
        let serials = alike.lines.iter().map(|line| line.label.serial.as_str());
        let mut row = vec![
            Cell::Text(in_stretches(serials)),
            Cell::count(alike.lines.len()),
            Cell::Text(worst.call.word().to_owned()),
            Cell::Text(worst.reason.to_string()),
            Cell::Text(fitness::words(worst.fit).to_owned()),
            worst.value.clone(),
            worst.limit.clone(),
            Cell::text(worst.label.string.as_deref()),
            Cell::text(worst.label.location.as_deref()),
        ];
        if ahead {
            let [due_on, ..] = when(&worst.standing, present);
            row.push(due_on);
        }
        row.push(Cell::Text(worst.rule.to_string()));
        let also: BTreeSet<&str> =
            alike.lines.iter().flat_map(|line| &line.also).map(|rule| &**rule).collect();
        let also = also.into_iter().collect::<Vec<_>>().join(", ");
        row.push(if also.is_empty() { Cell::Missing } else { Cell::Text(also) });
        row
    });
    Table {
        name: "due",
        rows: rows.collect(),
        columns,
        empty: super::NOTHING_DUE.to_owned(),
        below: None,
    }
}
