//! Rows counted by what they have in common.

use std::collections::BTreeMap;

use crate::model::name_key;
use crate::units::Measure;

use super::{Cell, Column};

/// What the values of several joints say together.
struct Told {
    /// They add up to something: hours do, bends do not.
    sum: bool,
    /// Their mean says something of them: of walls it does; of the sharpest bends, or of the largest
    /// pulls, it is a bend or a pull that nobody had.
    mean: bool,
}

const fn told(measure: Option<Measure>) -> Told {
    let Some(measure) = measure else { return Told { sum: true, mean: true } };
    match measure {
        Measure::Depth
        | Measure::Hours
        | Measure::Turns
        | Measure::Damage
        | Measure::Work
        | Measure::Count => Told { sum: true, mean: true },
        // Of joints their length in all is asked for.
        Measure::JointLength => Told { sum: true, mean: false },
        Measure::Diameter | Measure::Wall | Measure::Ratio | Measure::Days => {
            Told { sum: false, mean: true }
        }
        Measure::Dogleg
        | Measure::Angle
        | Measure::Force
        | Measure::Torque
        | Measure::Stress
        | Measure::LoadRating
        | Measure::Pressure
        | Measure::Area
        | Measure::SectionModulus
        | Measure::LinearMass
        | Measure::Density
        | Measure::Rate
        | Measure::RotarySpeed
        | Measure::LinearForce
        | Measure::Temperature
        | Measure::Factor => Told { sum: false, mean: false },
    }
}

/// What is told of the values of a group: their sum where they add up, else from where to where they
/// go. One of which nothing is known leaves a sum open, and the ends with it.
#[derive(Clone, Copy)]
struct Gathered {
    sum: i128,
    ends: Option<(i64, i64)>,
    open: bool,
}

impl Gathered {
    const NONE: Self = Self { sum: 0, ends: None, open: false };

    /// The mean of so many values. Of what is a lower bound or not known in part it is a lower bound,
    /// where no value lies below none; else nobody knows it.
    fn mean(&self, count: i64, measure: Option<Measure>) -> Cell {
        let is_bound = told(measure).sum && self.sum >= 0;
        if count == 0 || self.ends.is_none() || self.open && !is_bound {
            return Cell::Missing;
        }
        // Down to a whole quantum, which no figure shows; a count is shown with its fractions.
        let whole = i64::try_from(self.sum.div_euclid(i128::from(count))).unwrap_or(i64::MAX);
        match measure {
            _ if self.open => Cell::Bound { lo: whole, hi: None },
            Some(_) => Cell::Number(whole),
            None => Cell::Real(self.sum as f64 / count as f64),
        }
    }

    fn add(&mut self, cell: &Cell) {
        let (lo, hi, open) = match cell {
            Cell::Number(n) => (*n, *n, false),
            Cell::Bound { lo, hi } => (*lo, hi.unwrap_or(*lo), true),
            _ => {
                self.open = true;
                return;
            }
        };
        self.open |= open;
        self.sum += i128::from(lo);
        self.ends = Some(self.ends.map_or((lo, hi), |(a, b)| (a.min(lo), b.max(hi))));
    }
}

/// What part of all rows these are.
fn share(count: i64, of: usize) -> Cell {
    let whole = i64::try_from(of).unwrap_or(i64::MAX).max(1);
    let quanta =
        i128::from(count) * i128::from(Measure::Ratio.quanta_per_base()) / i128::from(whole);
    Cell::number(i64::try_from(quanta).ok())
}

/// Rows counted by their first columns: how many, what part of all, their length, and of what else was
/// asked for the sum and the mean, or from where to where it goes.
pub(super) fn grouped(
    columns: &[Column],
    rows: &[Vec<Cell>],
    keys: usize,
    limit: Option<u32>,
) -> (Vec<Column>, Vec<Vec<Cell>>, Vec<String>) {
    struct Group {
        key: Vec<Cell>,
        count: i64,
        gathered: Vec<Gathered>,
    }
    let folded = |key: &Cell| match key {
        Cell::Text(text) => name_key(text),
        _ => format!("{key:?}"),
    };
    let mut groups: BTreeMap<Vec<String>, Group> = BTreeMap::new();
    for row in rows {
        let Some((key, values)) = row.split_at_checked(keys) else { continue };
        let group = groups.entry(key.iter().map(folded).collect()).or_insert_with(|| Group {
            key: key.to_vec(),
            count: 0,
            gathered: vec![Gathered::NONE; values.len()],
        });
        group.count += 1;
        group.gathered.iter_mut().zip(values).for_each(|(all, cell)| all.add(cell));
    }
    let is_words = |at: usize| {
        let words = |cell: &Cell| {
            matches!(cell, Cell::Text(_) | Cell::Truth(_) | Cell::Day(_) | Cell::Time(_))
        };
        let none = |cell: &Cell| *cell == Cell::Missing;
        let values = || rows.iter().filter_map(|row| row.get(at));
        values().any(words) || columns[at].measure.is_none() && values().all(none)
    };
    let numbers: Vec<usize> = (keys..columns.len()).filter(|at| !is_words(*at)).collect();
    let left = (keys..columns.len()).filter(|at| !numbers.contains(at));
    let no_sums = left.map(|at| columns[at].name.clone()).collect();
    let mut out_columns = columns[..keys].to_vec();
    out_columns.push(Column::plain("count", "count"));
    out_columns.push(Column::of("share", "share", Measure::Ratio).dispensable(2));
    for at in &numbers {
        let c = &columns[*at];
        let told_of = told(c.measure);
        if told_of.sum {
            let title = if c.measure == Some(Measure::JointLength) {
                "total length".to_owned()
            } else {
                format!("sum of {}", c.title)
            };
            out_columns.push(Column { title, bounded: true, ..c.clone() });
        } else {
            let end = |word: &str| Column {
                name: format!("{word} {}", c.name),
                title: format!("{word} {}", c.title),
                bounded: true,
                ..c.clone()
            };
            out_columns.extend([end("least"), end("most")]);
        }
        if told_of.mean {
            out_columns.push(Column {
                name: format!("mean {}", c.name),
                title: format!("mean of {}", c.title),
                bounded: true,
                dispensable: 1,
                ..c.clone()
            });
        }
    }
    let mut out: Vec<Vec<Cell>> = groups
        .into_values()
        .map(|g| {
            let mut row = g.key;
            row.push(Cell::Number(g.count));
            row.push(share(g.count, rows.len()));
            for at in &numbers {
                let all = &g.gathered[at - keys];
                let measure = columns[*at].measure;
                let told_of = told(measure);
                let exact =
                    |n| if all.open { Cell::Bound { lo: n, hi: None } } else { Cell::Number(n) };
                if told_of.sum {
                    // A sum that is too large to be written is at least the largest that can be.
                    row.push(match i64::try_from(all.sum) {
                        Ok(sum) => exact(sum),
                        Err(_) => Cell::Bound { lo: i64::MAX, hi: None },
                    });
                } else {
                    // Among what is not known there may be a smaller one.
                    let least = all.ends.filter(|_| !all.open);
                    row.push(least.map_or(Cell::Missing, |(least, _)| Cell::Number(least)));
                    row.push(all.ends.map_or(Cell::Missing, |(_, most)| exact(most)));
                }
                if told_of.mean {
                    row.push(all.mean(g.count, measure));
                }
            }
            row
        })
        .collect();
    out.sort_by_key(|r| match r.get(keys) {
        Some(Cell::Number(n)) => -n,
        _ => 0,
    });
    if let Some(limit) = limit {
        out.truncate(limit as usize);
    }
    (out_columns, out, no_sums)
}
