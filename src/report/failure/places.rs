//! Where in the hole, where on the joint and doing what the damage was done.

use std::collections::BTreeMap;

use crate::mechanics::path::Path;
use crate::model::{Activity, Vocabulary};
use crate::schema::Figures;
use crate::units::{Measure as M, UnitSystem};

use super::super::life::{Life, Reader};
use super::super::{Bars, Block, Cell, Column, PLACES, ReportError, Table};
use super::{Source, share};

/// Width of a stretch of hole, m: 250 ft, or 100 m.
fn width(units: UnitSystem) -> f64 {
    match units {
        UnitSystem::Us => 76.2,
        UnitSystem::Metric => 100.0,
    }
}

/// Damage of one joint in one stretch of one hole in one run.
#[derive(Clone)]
struct Stretch {
    run: String,
    well: String,
    from: f64,
    to: f64,
    /// At the places of the joint; none where the run has no figure.
    damage: [Option<i64>; 3],
    /// Sharpest bend of the hole there, rad/m.
    bend: Option<f64>,
    tension: Option<i64>,
    source: Source,
}

/// Where a joint's damage was done and doing what, at its places.
#[derive(Default)]
struct Found {
    stretches: Vec<Stretch>,
    activities: [[i64; 3]; Activity::ALL.len()],
    /// At each place in all.
    all: [i64; 3],
}

fn quanta(damage: f64) -> i64 {
    M::Damage.store_f64(damage).unwrap_or(0)
}

/// Sharpest curvature of the hole between two depths.
fn bend(path: &Path, from: f64, to: f64) -> f64 {
    path.arcs()
        .iter()
        .filter(|a| a.md < to && a.md + a.length > from)
        .map(|a| a.curvature)
        .fold(0.0, f64::max)
}

fn found(reader: &Reader<'_>, life: &Life) -> Result<Found, ReportError> {
    let width = width(reader.units);
    let mut found = Found::default();
    let mut appraiser = reader.book.appraiser()?;
    for (run, r) in &life.runs {
        let known = r.figures.damage();
        for (sum, more) in found.all.iter_mut().zip(known) {
            *sum += more.unwrap_or(0);
        }
        if known.iter().all(|d| d.unwrap_or(0) <= 0) {
            continue;
        }
        let model = appraiser.run_model(run.row.run)?;
        let Ok(Some(profile)) = model.profile(life.row.joint, width) else { continue };
        let at = |damage: &[f64; 3]| [0, 1, 2].map(|i| known[i].map(|_| quanta(damage[i])));
        for (sums, more) in found.activities.iter_mut().zip(&profile.by_activity) {
            for (sum, more) in sums.iter_mut().zip(at(more)) {
                *sum += more.unwrap_or(0);
            }
        }
        for (n, damage) in profile.by_depth.iter().enumerate() {
            let damage = at(damage);
            let (from, to) = (width * n as f64, width * (n + 1) as f64);
            if damage.iter().any(|d| d.unwrap_or(0) > 0) {
                found.stretches.push(Stretch {
                    run: run.row.name.clone(),
                    well: run.row.well.clone(),
                    from,
                    to,
                    damage,
                    bend: model.path().map(|p| bend(p, from, to)),
                    tension: r.figures.max_tension,
                    source: Source::of_run(run),
                });
            }
        }
    }
    Ok(found)
}

/// At one place of the joint.
pub(super) fn blocks(
    reader: &Reader<'_>,
    life: &Life,
    at: usize,
) -> Result<Vec<Block>, ReportError> {
    let found = found(reader, life)?;
    let all = found.all[at];
    let mut out = Vec::new();
    let there = |s: &&Stretch| s.damage[at].unwrap_or(0) > 0;
    let stretches: Vec<Stretch> = found.stretches.iter().filter(there).cloned().collect();
    if !stretches.is_empty() {
        out.push(by_depth(&stretches, all, at, reader.units));
    }
    out.push(along_joint(life));
    let doing: Vec<(String, i64)> = operations(&found).map(|(name, d)| (name, d[at])).collect();
    let doing: Vec<(String, i64)> = doing.into_iter().filter(|(_, d)| *d > 0).collect();
    if !doing.is_empty() {
        out.push(Block::Bars(Bars {
            name: "damage_by_operation",
            title: format!("damage at the {} by what the rig did", PLACES[at]),
            measure: M::Damage,
            bars: doing,
        }));
    }
    if !stretches.is_empty() {
        out.push(Block::Table(worst(stretches, all, at)));
    }
    Ok(out)
}

/// At all places of the joint, side by side; bars are drawn for one of them.
pub(super) fn at_all(
    reader: &Reader<'_>,
    life: &Life,
    at: usize,
) -> Result<Vec<Block>, ReportError> {
    let found = found(reader, life)?;
    let mut out = Vec::new();
    if found.stretches.iter().any(|s| s.damage[at].unwrap_or(0) > 0) {
        out.push(by_depth(&found.stretches, found.all[at], at, reader.units));
    }
    out.push(along_joint(life));
    out.push(Block::Table(by_operation(&found)));
    out.push(Block::Table(by_place(found)));
    Ok(out)
}

fn along_joint(life: &Life) -> Block {
    let row = &life.row;
    // Where nobody knows of any there is no bar.
    let along = [row.damage_pin, row.damage_middle, row.damage_box];
    let known = PLACES.iter().zip(along).filter(|(_, d)| d.lo > 0 || d.hi.is_some());
    Block::Bars(Bars {
        name: "damage_along_joint",
        title: "damage by position along the joint, whole life".to_owned(),
        measure: M::Damage,
        bars: known.map(|(name, d)| ((*name).to_owned(), d.lo)).collect(),
    })
}

fn operations(found: &Found) -> impl Iterator<Item = (String, [i64; 3])> {
    Activity::ALL.iter().zip(found.activities).map(|(a, d)| (a.word().replace('_', " "), d))
}

/// Columns of damage at the three places.
fn placed() -> [Column; 3] {
    [Figures::damage_pin(), Figures::damage_middle(), Figures::damage_box()].map(Column::field)
}

fn by_operation(found: &Found) -> Table {
    let mut columns = vec![Column::plain("operation", "what the rig did")];
    columns.extend(placed());
    let did = operations(found).filter(|(_, d)| d.iter().any(|d| *d > 0));
    let row = |(name, damage): (String, [i64; 3])| {
        std::iter::once(Cell::Text(name)).chain(damage.map(Cell::Number)).collect()
    };
    Table {
        name: "by_operation",
        columns,
        rows: did.map(row).collect(),
        empty: "none of it is known".to_owned(),
        below: None,
    }
}

/// Stretches of hole with half a per cent or more of what a place took, run by run, by depth.
fn by_place(found: Found) -> Table {
    let Found { stretches, all, .. } = found;
    let counts = |s: &Stretch| {
        s.damage.iter().zip(all).any(|(d, all)| d.is_some_and(|d| d > 0 && d * 200 >= all))
    };
    let mut columns = vec![
        Column::plain("run", "run"),
        Column::plain("well", "well").dispensable(3),
        Column::of("from", "from", M::Depth),
        Column::of("to", "to", M::Depth),
    ];
    columns.extend(placed());
    columns.extend([
        Column::of("bend", "sharpest bend of the hole there", M::Dogleg).dispensable(1),
        Column::of("max_tension", "most pull in the run", M::Force).dispensable(2),
    ]);
    let row = |s: Stretch| {
        let mut row =
            vec![Cell::Text(s.run), Cell::Text(s.well), Cell::Real(s.from), Cell::Real(s.to)];
        row.extend(s.damage.map(Cell::number));
        row.push(s.bend.map_or(Cell::Missing, |b| Cell::Real(b.to_degrees())));
        row.push(Cell::number(s.tension));
        row
    };
    Table {
        name: "by_depth",
        columns,
        rows: stretches.into_iter().filter(counts).map(row).collect(),
        empty: "no damage of it is known by depth".to_owned(),
        below: None,
    }
}

/// The depths of each hole in which half a per cent or more was done.
fn by_depth(stretches: &[Stretch], all: i64, at: usize, units: UnitSystem) -> Block {
    let mut sums: BTreeMap<(String, u64), (f64, f64, i64)> = BTreeMap::new();
    for s in stretches {
        // Depths of a profile are whole numbers of its width; in millimetres they sort as such.
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a depth in mm"
        )]
        let key = (s.well.clone(), (s.from * 1e3).round() as u64);
        sums.entry(key).or_insert((s.from, s.to, 0)).2 += s.damage[at].unwrap_or(0);
    }
    let label = |well: &str, from: f64, to: f64| {
        let text = |x: f64| {
            M::Depth.store_f64(x).map_or_else(String::new, |q| M::Depth.number_text(q, units))
        };
        format!("{well} {}–{} {}", text(from), text(to), M::Depth.unit_symbol(units))
    };
    let bars = sums
        .iter()
        .filter(|(_, s)| s.2 > 0 && s.2 * 200 >= all)
        .map(|((well, _), (from, to, d))| (label(well, *from, *to), *d))
        .collect();
    Block::Bars(Bars {
        name: "damage_by_depth",
        title: format!(
            "damage at the {} by depth of hole (stretches with half a per cent or more)",
            PLACES[at]
        ),
        measure: M::Damage,
        bars,
    })
}

fn worst(mut stretches: Vec<Stretch>, all: i64, at: usize) -> Table {
    stretches.sort_by(|a, b| b.damage[at].cmp(&a.damage[at]).then_with(|| a.run.cmp(&b.run)));
    let rows = stretches
        .into_iter()
        .take(10)
        .map(|s| {
            let mut row = vec![
                Cell::Text(s.run),
                Cell::Text(s.well),
                Cell::Real(s.from),
                Cell::Real(s.to),
                Cell::number(s.damage[at]),
                share(s.damage[at], all),
                s.bend.map_or(Cell::Missing, |b| Cell::Real(b.to_degrees())),
                Cell::number(s.tension),
            ];
            row.extend(Source::cells(Some(&s.source)).into_iter().take(2));
            row
        })
        .collect();
    // The run that each is of stands with its entry above.
    let [entry, author, _] = Source::columns();
    Table {
        name: "worst_exposures",
        columns: vec![
            Column::plain("run", "ten worst exposures: run"),
            Column::plain("well", "well").dispensable(3),
            Column::of("from", "from", M::Depth),
            Column::of("to", "to", M::Depth),
            Column::of("damage", "damage", M::Damage),
            Column::of("share", "share of life", M::Ratio).dispensable(1),
            Column::of("bend", "sharpest bend of the hole there", M::Dogleg).dispensable(1),
            Column::of("max_tension", "most pull in the run", M::Force).dispensable(2),
            entry,
            author,
        ],
        rows,
        empty: String::new(),
        below: None,
    }
}
