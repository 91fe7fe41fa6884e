//! Where in the hole, where on the joint and doing what the damage was done.

use std::collections::BTreeMap;

use crate::mechanics::path::Path;
use crate::model::{Activity, Vocabulary};
use crate::units::{Measure as M, UnitSystem};

use super::super::life::{Life, Reader};
use super::super::{Bars, Block, Cell, Column, ReportError, Table};
use super::{PLACES, Source, damage_at, share};

/// Width of a stretch of hole, m: 250 ft, or 100 m.
fn width(units: UnitSystem) -> f64 {
    match units {
        UnitSystem::Us => 76.2,
        UnitSystem::Metric => 100.0,
    }
}

/// Damage of one joint in one stretch of one hole in one run.
struct Stretch {
    run: String,
    well: String,
    from: f64,
    to: f64,
    damage: i64,
    /// Sharpest bend of the hole there, rad/m.
    bend: Option<f64>,
    tension: Option<i64>,
    source: Source,
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

pub(super) fn blocks(
    reader: &Reader<'_>,
    life: &Life,
    at: usize,
) -> Result<Vec<Block>, ReportError> {
    let units = reader.units;
    let width = width(units);
    let mut stretches = Vec::new();
    let mut activities = [0i64; Activity::ALL.len()];
    let mut appraiser = reader.book.appraiser()?;
    for (run, r) in &life.runs {
        if damage_at(r, at).unwrap_or(0) <= 0 {
            continue;
        }
        let model = appraiser.run_model(run.row.run)?;
        let Ok(Some(profile)) = model.profile(life.row.joint, width) else { continue };
        for (sum, more) in activities.iter_mut().zip(&profile.by_activity) {
            *sum += quanta(more[at]);
        }
        for (n, damage) in profile.by_depth.iter().enumerate() {
            let damage = quanta(damage[at]);
            let (from, to) = (width * n as f64, width * (n + 1) as f64);
            if damage > 0 {
                stretches.push(Stretch {
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
    let all: i64 = life.runs.iter().filter_map(|r| damage_at(&r.1, at)).sum();
    let mut out = Vec::new();
    if !stretches.is_empty() {
        out.push(by_depth(&stretches, all, at, units));
    }
    let row = &life.row;
    // Where nobody knows of any there is no bar.
    let along = [row.damage_pin, row.damage_middle, row.damage_box];
    let known = PLACES.iter().zip(along).filter(|(_, d)| d.lo > 0 || d.hi.is_some());
    out.push(Block::Bars(Bars {
        name: "damage_along_joint",
        title: "damage by position along the joint, whole life".to_owned(),
        measure: M::Damage,
        bars: known.map(|(name, d)| ((*name).to_owned(), d.lo)).collect(),
    }));
    let doing: Vec<(String, i64)> = Activity::ALL
        .iter()
        .zip(activities)
        .filter(|(_, d)| *d > 0)
        .map(|(a, d)| (a.word().replace('_', " "), d))
        .collect();
    if !doing.is_empty() {
        out.push(Block::Bars(Bars {
            name: "damage_by_operation",
            title: format!("damage at the {} by what the rig did", PLACES[at]),
            measure: M::Damage,
            bars: doing,
        }));
    }
    if !stretches.is_empty() {
        out.push(Block::Table(worst(stretches, all)));
    }
    Ok(out)
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
        sums.entry(key).or_insert((s.from, s.to, 0)).2 += s.damage;
    }
    let label = |well: &str, from: f64, to: f64| {
        let text = |x: f64| {
            M::Depth.store_f64(x).map_or_else(String::new, |q| M::Depth.number_text(q, units))
        };
        format!("{well} {}–{} {}", text(from), text(to), M::Depth.unit_symbol(units))
    };
    let bars = sums
        .iter()
        .filter(|(_, s)| s.2 * 200 >= all)
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

fn worst(mut stretches: Vec<Stretch>, all: i64) -> Table {
    stretches.sort_by(|a, b| b.damage.cmp(&a.damage).then_with(|| a.run.cmp(&b.run)));
    let rows = stretches
        .into_iter()
        .take(10)
        .map(|s| {
            let mut row = vec![
                Cell::Text(s.run),
                Cell::Text(s.well),
                Cell::Real(s.from),
                Cell::Real(s.to),
                Cell::Number(s.damage),
                share(Some(s.damage), all),
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
