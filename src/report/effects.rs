//! What a strike would change: joint by joint, before and after.

use crate::model::Vocabulary;
use crate::schema::{Group, JointRow, Row, Totals};
use crate::store::{Change, Effects};

use super::{Block, Cell, Column, Table, named};

/// A value that people look at first; shown in two columns where any joint's differs.
struct Shown {
    /// The column that it stands for: its name, what people read above it, its measure.
    column: fn() -> Column,
    /// Columns of the joint that it covers, itself among them.
    covers: &'static [&'static str],
    value: fn(&JointRow) -> Cell,
}

const SHOWN: [Shown; 17] = [
    Shown {
        column: || Column::field(JointRow::serial()),
        covers: &["serial"],
        value: |j| Cell::Text(j.serial.clone()),
    },
    Shown {
        column: || Column::field(JointRow::runs()),
        covers: &["runs", "last_run"],
        value: |j| Cell::Number(j.runs),
    },
    Shown {
        column: || Column::field(Totals::hours()).titled("hours"),
        covers: &["hours"],
        value: |j| Cell::from(j.totals.hours),
    },
    Shown {
        column: || Column::field(Totals::revolutions()),
        covers: &["revolutions"],
        value: |j| Cell::from(j.totals.revolutions),
    },
    Shown {
        column: || Column::field(Totals::footage()),
        covers: &["footage"],
        value: |j| Cell::from(j.totals.footage),
    },
    Shown {
        column: || Column::field(Totals::damage()),
        covers: &["damage", "damage_pin", "damage_middle", "damage_box"],
        value: |j| Cell::from(j.totals.damage),
    },
    Shown {
        column: || Column::field(Totals::max_dogleg()),
        covers: &["max_dogleg"],
        value: |j| Cell::from(j.totals.max_dogleg),
    },
    Shown {
        column: || Column::field(Totals::max_tension()),
        covers: &["max_tension"],
        value: |j| Cell::from(j.totals.max_tension),
    },
    Shown {
        column: || Column::field(Totals::pin_makeups()),
        covers: &["pin_makeups"],
        value: |j| Cell::from(j.totals.pin_makeups),
    },
    Shown {
        column: || Column::field(Totals::box_makeups()),
        covers: &["box_makeups"],
        value: |j| Cell::from(j.totals.box_makeups),
    },
    Shown {
        column: || Column::field(JointRow::class()),
        covers: &["class", "class_entry", "criterion", "tube_class", "pin_class", "box_class"],
        value: |j| j.class.map_or(Cell::Missing, |c| Cell::Text(c.to_string())),
    },
    Shown {
        column: || Column::field(JointRow::disposition()),
        covers: &["disposition", "out", "out_reason"],
        value: |j| Cell::text(j.out_reason.as_deref().or(j.disposition.as_deref())),
    },
    Shown {
        column: || Column::field(JointRow::restriction()),
        covers: &["restriction"],
        value: |j| Cell::text(j.restriction.as_deref()),
    },
    Shown {
        column: || Column::field(JointRow::wall()),
        covers: &["wall", "wall_thickness", "wall_read"],
        value: |j| Cell::number(j.wall),
    },
    Shown {
        column: || Column::field(JointRow::location()).titled("location"),
        covers: &["location", "moved"],
        value: |j| Cell::text(j.location.as_deref()),
    },
    Shown {
        column: || Column::field(JointRow::string()),
        covers: &["string"],
        value: |j| Cell::text(j.string.as_deref()),
    },
    Shown {
        column: || Column::field(JointRow::status()),
        covers: &["status", "hire", "on_hire"],
        value: |j| Cell::text(j.status.map(Vocabulary::word)),
    },
];

/// What is told beyond the columns shown.
fn others(before: &JointRow, after: &JointRow) -> Vec<&'static str> {
    let mut values = before.values().into_iter().zip(after.values());
    let mut out = Vec::new();
    for column in JointRow::columns() {
        for (name, _) in column.stored() {
            let same = values.next().is_none_or(|(a, b)| a == b);
            if same || SHOWN.iter().any(|s| s.covers.contains(&column.name)) {
                continue;
            }
            out.push(match name {
                "records_digest" | "presence" => "records",
                "histogram" => "turns by bend",
                "by_name" | "introduced_by" | "joint" => continue,
                other => other,
            });
        }
    }
    out.dedup();
    out
}

/// What becomes of a joint as a whole.
const fn fate(change: &Change<JointRow>) -> &'static str {
    match (&change.before, &change.after) {
        (Some(_), Some(_)) => "changes",
        (None, _) => "comes back",
        (Some(_), None) => "is no joint of the book any more",
    }
}

/// The effects as parts of a report.
pub fn blocks(effects: &Effects) -> Vec<Block> {
    let mut out = Vec::new();
    let differs = |s: &Shown| {
        effects.joints.iter().any(|c| match (&c.before, &c.after) {
            (Some(a), Some(b)) => (s.value)(a) != (s.value)(b),
            _ => false,
        })
    };
    let shown: Vec<&Shown> = SHOWN.iter().filter(|s| differs(s)).collect();
    let mut columns = vec![
        Column::plain("joint", "joint"),
        Column::plain("entry", "entry").dispensable(2),
        Column::plain("fate", "what becomes of it"),
    ];
    for s in &shown {
        for (suffix, when) in [("before", "now"), ("after", "then")] {
            let column = (s.column)();
            columns.push(Column {
                name: format!("{}_{suffix}", column.name),
                title: format!("{} {when}", column.title),
                ..column
            });
        }
    }
    columns.push(Column::plain("also", "changes in").dispensable(1));
    let row = |change: &Change<JointRow>| {
        let one = change.before.as_ref().or(change.after.as_ref());
        let mut row = vec![
            one.map_or(Cell::Missing, |j| Cell::Text(j.serial.clone())),
            one.map_or(Cell::Missing, |j| Cell::Text(j.introduced_by.clone())),
            Cell::Text(fate(change).to_owned()),
        ];
        for s in &shown {
            let cell = |j: &Option<JointRow>| j.as_ref().map_or(Cell::Missing, s.value);
            row.extend([cell(&change.before), cell(&change.after)]);
        }
        let also = match (&change.before, &change.after) {
            (Some(a), Some(b)) => others(a, b).join(", ").replace('_', " "),
            _ => String::new(),
        };
        row.push(if also.is_empty() { Cell::Missing } else { Cell::Text(also) });
        row
    };
    out.push(Block::Table(Table {
        name: "joints",
        columns,
        rows: effects.joints.iter().map(row).collect(),
        empty: "no joint would change".to_owned(),
        below: None,
    }));
    let shown_of = effects.joints.len() as u64;
    if effects.joints_in_all > shown_of {
        out.push(Block::Note(format!(
            "{} joints would change in all; the first {shown_of} are shown",
            effects.joints_in_all
        )));
    }
    if !effects.runs.is_empty() {
        out.push(Block::Table(Table {
            name: "runs",
            columns: vec![
                Column::plain("run", "run"),
                Column::plain("entry", "entry"),
                Column::plain("joints", "joints with other figures"),
            ],
            rows: effects
                .runs
                .iter()
                .map(|r| {
                    vec![
                        Cell::Text(r.name.clone()),
                        Cell::Text(r.entry.clone()),
                        Cell::count(r.joints),
                    ]
                })
                .collect(),
            empty: String::new(),
            below: None,
        }));
    }
    for (names, what) in
        [(&effects.fallen, "would count no more"), (&effects.raised, "would count again")]
    {
        if !names.is_empty() {
            out.push(Block::Note(format!("{}: {what}", named(names, TOLD))));
        }
    }
    for clash in effects.clashes.iter().take(TOLD) {
        out.push(Block::Note(format!(
            "{}: {} ({} and {}); that would wait for a decision",
            clash.serial, clash.what, clash.first, clash.second
        )));
    }
    if let Some((entry, what)) = &effects.misfit {
        out.push(Block::Note(format!("{entry} would no longer fit what is known: {what}")));
    }
    out
}

/// Names told of a list; the rest is counted.
const TOLD: usize = 12;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_covered_column_is_one_of_a_joint() {
        for s in &SHOWN {
            for c in s.covers {
                assert!(JointRow::columns().iter().any(|column| column.name == *c), "{c}");
            }
        }
    }

    #[test]
    fn long_lists_are_counted() {
        let names: Vec<String> = (0..14).map(|n| format!("yard-{n}")).collect();
        assert!(named(&names, TOLD).ends_with("yard-11 and 2 more"));
    }
}
