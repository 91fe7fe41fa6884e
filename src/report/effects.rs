//! What a strike would change: joint by joint, before and after.

use crate::projection::row::Row;
use crate::projection::rows::JointRow;
use crate::store::{Change, Effects};
use crate::units::Measure;

use super::{Block, Cell, Column, Table};

/// A value that people look at first; shown in two columns where any joint's differs.
struct Shown {
    name: &'static str,
    title: &'static str,
    measure: Option<Measure>,
    /// Columns of the row that it covers.
    covers: &'static [&'static str],
    value: fn(&JointRow) -> Cell,
}

const SHOWN: [Shown; 17] = [
    Shown {
        name: "serial",
        title: "serial",
        measure: None,
        covers: &["serial"],
        value: |j| Cell::Text(j.serial.clone()),
    },
    Shown {
        name: "runs",
        title: "runs",
        measure: None,
        covers: &["runs", "last_run"],
        value: |j| Cell::Number(j.runs),
    },
    Shown {
        name: "hours",
        title: "hours",
        measure: Some(Measure::Hours),
        covers: &["hours_lo", "hours_hi"],
        value: |j| Cell::bound(j.hours_lo, j.hours_hi),
    },
    Shown {
        name: "revolutions",
        title: "turns",
        measure: Some(Measure::Turns),
        covers: &["revolutions_lo", "revolutions_hi"],
        value: |j| Cell::bound(j.revolutions_lo, j.revolutions_hi),
    },
    Shown {
        name: "footage",
        title: "drilled",
        measure: Some(Measure::Depth),
        covers: &["footage_lo", "footage_hi"],
        value: |j| Cell::bound(j.footage_lo, j.footage_hi),
    },
    Shown {
        name: "damage",
        title: "damage",
        measure: Some(Measure::Damage),
        covers: &["damage_lo", "damage_hi", "damage_pin", "damage_middle", "damage_box"],
        value: |j| Cell::bound(j.damage_lo, j.damage_hi),
    },
    Shown {
        name: "max_dogleg",
        title: "sharpest bend",
        measure: Some(Measure::Dogleg),
        covers: &["max_dogleg_lo", "max_dogleg_hi"],
        value: |j| Cell::bound(j.max_dogleg_lo, j.max_dogleg_hi),
    },
    Shown {
        name: "max_tension",
        title: "most pull",
        measure: Some(Measure::Force),
        covers: &["max_tension_lo", "max_tension_hi"],
        value: |j| Cell::bound(j.max_tension_lo, j.max_tension_hi),
    },
    Shown {
        name: "pin_makeups",
        title: "pin make-ups",
        measure: None,
        covers: &["pin_makeups_lo", "pin_makeups_hi"],
        value: |j| Cell::bound(j.pin_makeups_lo, j.pin_makeups_hi),
    },
    Shown {
        name: "box_makeups",
        title: "box make-ups",
        measure: None,
        covers: &["box_makeups_lo", "box_makeups_hi"],
        value: |j| Cell::bound(j.box_makeups_lo, j.box_makeups_hi),
    },
    Shown {
        name: "class",
        title: "class",
        measure: None,
        covers: &["class", "class_entry", "criterion", "tube_class", "pin_class", "box_class"],
        value: |j| j.class.map_or(Cell::Missing, |c| Cell::Text(c.to_string())),
    },
    Shown {
        name: "disposition",
        title: "disposition",
        measure: None,
        covers: &["disposition", "out", "out_reason"],
        value: |j| Cell::text(j.out_reason.as_deref().or(j.disposition.as_deref())),
    },
    Shown {
        name: "restriction",
        title: "restriction",
        measure: None,
        covers: &["restriction"],
        value: |j| Cell::text(j.restriction.as_deref()),
    },
    Shown {
        name: "wall",
        title: "wall left",
        measure: Some(Measure::Ratio),
        covers: &["wall", "wall_thickness", "wall_read"],
        value: |j| Cell::number(j.wall),
    },
    Shown {
        name: "location",
        title: "location",
        measure: None,
        covers: &["location", "moved"],
        value: |j| Cell::text(j.location.as_deref()),
    },
    Shown {
        name: "string",
        title: "string",
        measure: None,
        covers: &["string"],
        value: |j| Cell::text(j.string.as_deref()),
    },
    Shown {
        name: "status",
        title: "status",
        measure: None,
        covers: &["status", "hire", "on_hire"],
        value: |j| Cell::Text(j.status.to_string()),
    },
];

/// What is told beyond the columns shown.
fn others(before: &JointRow, after: &JointRow) -> Vec<&'static str> {
    let pairs = before.values().into_iter().zip(after.values());
    JointRow::COLUMNS
        .iter()
        .zip(pairs)
        .filter(|(name, (a, b))| a != b && !SHOWN.iter().any(|s| s.covers.contains(name)))
        .map(|(name, _)| match *name {
            "records_digest" => "records",
            "histogram" => "turns by bend",
            other => other,
        })
        .collect()
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
            let (name, title) = (format!("{}_{suffix}", s.name), format!("{} {when}", s.title));
            columns.push(Column { measure: s.measure, ..Column::plain(&name, &title) });
        }
    }
    columns.push(Column::plain("also", "also").dispensable(1));
    let row = |change: &Change<JointRow>| {
        let one = change.before.as_ref().or(change.after.as_ref());
        let mut row = vec![
            one.map_or(Cell::Missing, |j| Cell::Text(j.serial.clone())),
            one.map_or(Cell::Missing, |j| Cell::Text(j.name.clone())),
            Cell::Text(fate(change).to_owned()),
        ];
        for s in &shown {
            let cell = |j: &Option<JointRow>| j.as_ref().map_or(Cell::Missing, s.value);
            row.extend([cell(&change.before), cell(&change.after)]);
        }
        let also = match (&change.before, &change.after) {
            (Some(a), Some(b)) => others(a, b).join(", "),
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
                        Cell::Number(i64::try_from(r.joints).unwrap_or(i64::MAX)),
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
            out.push(Block::Note(format!("{}: {what}", listed(names))));
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

fn listed(names: &[String]) -> String {
    let shown = names.iter().take(TOLD).map(String::as_str).collect::<Vec<_>>().join(", ");
    let more = names.len().saturating_sub(TOLD);
    if more > 0 { format!("{shown} and {more} more") } else { shown }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_covered_column_is_one_of_a_joint() {
        for s in &SHOWN {
            for c in s.covers {
                assert!(JointRow::COLUMNS.contains(c), "{c} of {}", s.name);
            }
        }
    }

    #[test]
    fn long_lists_are_counted() {
        let names: Vec<String> = (0..14).map(|n| format!("yard-{n}")).collect();
        assert!(listed(&names).ends_with("yard-11 and 2 more"));
    }
}
