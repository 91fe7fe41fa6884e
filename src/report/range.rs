//! How far damages may be from their figures, and which joints change places within that.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use crate::projection::exposure::{Doubt, Doubtful, Span, Spread};
use crate::schema::{Bounds, JointRunRow};
use crate::store::{Appraiser, Book};
use crate::units::Measure;

use super::lookup::joint_row;
use super::{Block, Cell, Column, Fact, ReportError, Table, named};

/// Damage at the worst place of a joint, quanta: its figure, what each doubt alone makes of it, and all
/// of them together.
#[derive(Clone, Debug, Default)]
pub(super) struct Ranged {
    pub figure: f64,
    doubts: BTreeMap<Doubt, (f64, f64)>,
    unknown: BTreeSet<Doubt>,
    pub least: f64,
    pub most: f64,
    /// The same without what moves all joints alike: scatter of the curve and the environment.
    apart: (f64, f64),
}

fn worst(places: [f64; 3]) -> f64 {
    places.into_iter().fold(0.0, f64::max)
}

#[expect(clippy::cast_possible_truncation, reason = "quanta of damage")]
fn quanta(damage: f64) -> Cell {
    Cell::Number(damage.round() as i64)
}

/// Figures at the places, added up over runs.
#[derive(Clone, Default)]
struct Life {
    figure: [f64; 3],
    all: ([f64; 3], [f64; 3]),
    apart: ([f64; 3], [f64; 3]),
    doubts: BTreeMap<Doubt, ([f64; 3], [f64; 3])>,
    unknown: BTreeSet<Doubt>,
}

impl Life {
    /// Adds a run: what a doubt of another run does not touch in this one stays its figure.
    fn add(&mut self, spread: &Spread) {
        let add = |(least, most): &mut ([f64; 3], [f64; 3]), span: &Span| {
            for place in 0..3 {
                least[place] += span.least[place];
                most[place] += span.most[place];
            }
        };
        let before = self.figure;
        for (sum, more) in self.figure.iter_mut().zip(spread.figure) {
            *sum += more;
        }
        add(&mut self.all, &spread.all(&|_| true));
        add(&mut self.apart, &spread.all(&|doubt| !moves_all_alike(doubt)));
        for doubt in Doubt::ALL {
            let of_run = spread.doubts.iter().find(|d| d.0 == doubt).map(|d| d.1);
            if of_run.is_none() && !self.doubts.contains_key(&doubt) {
                continue;
            }
            let sum = self.doubts.entry(doubt).or_insert((before, before));
            let as_it_is = Span { least: spread.figure, most: spread.figure };
            add(sum, &of_run.unwrap_or(as_it_is));
        }
        self.unknown.extend(&spread.unknown);
    }

    fn ranged(self) -> Ranged {
        let pair = |(least, most): ([f64; 3], [f64; 3])| (worst(least), worst(most));
        let (least, most) = pair(self.all);
        Ranged {
            figure: worst(self.figure),
            doubts: self.doubts.into_iter().map(|(doubt, span)| (doubt, pair(span))).collect(),
            unknown: self.unknown,
            least,
            most,
            apart: pair(self.apart),
        }
    }
}

const fn moves_all_alike(doubt: Doubt) -> bool {
    match doubt {
        Doubt::Curve | Doubt::Environment => true,
        Doubt::Slides | Doubt::Stations | Doubt::Weight => false,
    }
}

/// Each joint of a run that has a damage.
pub(super) fn of_run(
    book: &Book,
    run: i64,
    rows: &[JointRunRow],
) -> Result<BTreeMap<i64, Ranged>, ReportError> {
    let mut appraiser = book.appraiser()?;
    let known = rows.iter().filter(|r| r.figures.worst_damage().is_some());
    let joints = known.map(|r| (r.joint, r.figures.damage())).collect();
    let spreads = spreads(&mut appraiser, run, &joints)?;
    Ok(spreads
        .into_iter()
        .map(|(joint, spread)| {
            let mut life = Life::default();
            life.add(&spread);
            (joint, life.ranged())
        })
        .collect())
}

/// A joint over its runs.
pub(super) struct LifeRange {
    /// Of all that it took; none where its runs with a range are not all of it.
    pub whole: Option<Ranged>,
    /// Each run that counts and has a damage.
    pub runs: BTreeMap<i64, Ranged>,
}

/// What is said where the whole has no range.
pub(super) const NOT_TOLD: &str = "no range of the whole damage can be told: part of it is not known, or was \
                                   not worked out run by run at the same places";

/// Each of some joints over its runs.
pub(super) fn of_lives(
    book: &Book,
    joints: &[i64],
) -> Result<BTreeMap<i64, LifeRange>, ReportError> {
    let mut in_run: BTreeMap<i64, Figures> = BTreeMap::new();
    for joint in joints {
        for r in book.rows_of::<JointRunRow>(*joint)? {
            if !r.conflicting && r.figures.worst_damage().is_some() {
                in_run.entry(r.run).or_default().insert(*joint, r.figures.damage());
            }
        }
    }
    let mut lives: BTreeMap<i64, (Life, BTreeMap<i64, Ranged>)> = BTreeMap::new();
    let mut appraiser = book.appraiser()?;
    for (run, joints) in in_run {
        let found = spreads(&mut appraiser, run, &joints)?;
        for (joint, spread) in found {
            let (life, runs) = lives.entry(joint).or_default();
            life.add(&spread);
            let mut one = Life::default();
            one.add(&spread);
            runs.insert(run, one.ranged());
        }
    }
    let mut out = BTreeMap::new();
    for (joint, (life, runs)) in lives {
        let ranged = life.ranged();
        let known = joint_row(book, joint)?.map(|row| row.totals.damage);
        let is_whole = known.is_some_and(|d| d == Bounds::exact(d.lo) && same(d.lo, ranged.figure));
        out.insert(joint, LifeRange { whole: is_whole.then_some(ranged), runs });
    }
    Ok(out)
}

/// Whether a sum is the figure, to the last digit that a float of its size has.
fn same(quanta: i64, figure: f64) -> bool {
    (quanta as f64 - figure).abs() <= 4.0 * f64::EPSILON * figure
}

/// Damage at the places of some joints in a run, as their rows have it.
type Figures = BTreeMap<i64, [Option<i64>; 3]>;

/// Those of a run whose rows have the figure of all of it: of a run that is under way at the date that
/// is asked about they have a part, of which this tells nothing.
#[expect(clippy::cast_possible_truncation, reason = "whole quanta of damage")]
fn spreads(
    appraiser: &mut Appraiser<'_>,
    run: i64,
    joints: &Figures,
) -> Result<Vec<(i64, Spread)>, ReportError> {
    let model = appraiser.run_model(run)?;
    let drilled = appraiser.drilled(&model.row().well)?;
    let doubtful = Doubtful::new(&model, &drilled).map_err(ReportError::Words)?;
    let lines: Vec<_> = model.lines().iter().filter(|l| joints.contains_key(&l.joint)).collect();
    let found: Result<Vec<_>, String> =
        lines.par_iter().map(|line| Ok((line.joint, doubtful.spread(line)?))).collect();
    let found = found.map_err(ReportError::Words)?;
    let whole = |joint: i64, spread: &Spread| {
        joints.get(&joint) == Some(&spread.figure.map(|d| Some(d as i64)))
    };
    let found = found.into_iter().filter_map(|(joint, spread)| Some((joint, spread?)));
    Ok(found.filter(|(joint, spread)| whole(*joint, spread)).collect())
}

/// Columns of a range: from and to.
pub(super) fn columns(rank: u8) -> [Column; 2] {
    [
        Column::of("damage_least", "damage from", Measure::Damage).dispensable(rank),
        Column::of("damage_most", "damage to", Measure::Damage).dispensable(rank),
    ]
}

/// Cells of [`columns`].
pub(super) fn cells(ranged: Option<&Ranged>) -> [Cell; 2] {
    ranged.map_or([Cell::Missing, Cell::Missing], |r| [quanta(r.least), quanta(r.most)])
}

/// The range of a life, and what makes it.
pub(super) fn of_life(life: &LifeRange) -> Vec<Block> {
    let Some(whole) = &life.whole else { return vec![Block::Note(NOT_TOLD.to_owned())] };
    vec![life_facts(whole), doubts(&[whole]), Block::Note(SAID.to_owned())]
}

fn life_facts(whole: &Ranged) -> Block {
    let [least, most] = cells(Some(whole));
    Block::Facts {
        name: "life_range",
        facts: vec![
            Fact::of("damage_least", "damage of its runs, from", least, Measure::Damage),
            Fact::of("damage_most", "to", most, Measure::Damage),
        ],
    }
}

/// What makes the ranges: each doubt by itself, over the joints that it touches.
pub(super) fn doubts(ranged: &[&Ranged]) -> Block {
    let median = |mut factors: Vec<f64>| {
        factors.sort_by(f64::total_cmp);
        let n = factors.len();
        let at = |i: usize| factors.get(i).copied().unwrap_or(1.0);
        Cell::Real(0.5 * (at((n.max(1) - 1) / 2) + at(n / 2)))
    };
    let row = |doubt: Doubt| {
        let touched = ranged.iter().filter(|r| r.figure > 0.0);
        let factors: Vec<(f64, f64)> = touched
            .filter_map(|r| r.doubts.get(&doubt).map(|d| (d.0 / r.figure, d.1 / r.figure)))
            .collect();
        let unknown = ranged.iter().filter(|r| r.unknown.contains(&doubt)).count();
        if factors.is_empty() && unknown == 0 {
            return None;
        }
        let known = !factors.is_empty();
        let cell = |of: Vec<f64>| if known { median(of) } else { Cell::Missing };
        Some(vec![
            Cell::Text(doubt.name().to_owned()),
            cell(factors.iter().map(|f| f.0).collect()),
            cell(factors.iter().map(|f| f.1).collect()),
            Cell::count(factors.len()),
            Cell::count(unknown),
            Cell::Text(doubt.words().to_owned()),
        ])
    };
    Block::Table(Table {
        name: "range",
        columns: vec![
            Column::plain("doubt", "in doubt"),
            Column::of("from", "figure ×\nfrom", Measure::Factor),
            Column::of("to", "to\n(median)", Measure::Factor),
            Column::plain("joints", "joints").dispensable(1),
            Column::plain("unknown", "not told for").dispensable(1),
            Column::plain("what", "what it is"),
        ],
        rows: Doubt::ALL.into_iter().filter_map(row).collect(),
        empty: "no joint has a damage".to_owned(),
        below: Some(5),
    })
}

/// Between which places of the order each joint may stand, by what does not move all joints alike.
pub(super) fn places(ranged: &BTreeMap<i64, Ranged>) -> BTreeMap<i64, (usize, usize)> {
    let n = ranged.len();
    let place = |(joint, own): (&i64, &Ranged)| {
        let surely_above = ranged.values().filter(|r| r.apart.0 > own.apart.1).count();
        let surely_below = ranged.values().filter(|r| r.apart.1 < own.apart.0).count();
        (*joint, (surely_above + 1, n - surely_below))
    };
    ranged.iter().map(place).collect()
}

/// Cell of the places of a joint.
pub(super) fn place_cell(places: Option<&(usize, usize)>) -> Cell {
    places.map_or(Cell::Missing, |(first, last)| {
        Cell::Text(if first == last { first.to_string() } else { format!("{first} to {last}") })
    })
}

/// Which of joints in an order by damage may change places within the ranges of their figures; nothing
/// where that cannot be told of all of them.
pub(super) fn said_of_order(book: &Book, joints: &[i64]) -> Result<Option<String>, ReportError> {
    let lives = of_lives(book, joints)?;
    let whole = lives.into_iter().filter_map(|(joint, life)| Some((joint, life.whole?)));
    let ranged: BTreeMap<i64, Ranged> = whole.collect();
    if ranged.len() < 2 {
        return Ok(None);
    }
    let places = places(&ranged);
    let mut moved: Vec<String> = Vec::new();
    for joint in joints {
        if let Some((first, last)) = places.get(joint).filter(|(first, last)| first != last) {
            let serial = joint_row(book, *joint)?.map_or_else(String::new, |r| r.serial);
            moved.push(format!("{serial} {first} to {last}"));
        }
    }
    let untold = joints.len() - ranged.len();
    let beside = match untold {
        0 => String::new(),
        n => format!("; of {n} no range can be told"),
    };
    Ok(Some(if moved.is_empty() {
        format!("within the range of each damage none of these joints change places{beside}")
    } else {
        format!(
            "within the range of each damage these may stand elsewhere among those shown: {}{beside} \
             (`exposure SERIAL` tells what makes the range)",
            named(&moved, NAMED)
        )
    }))
}

/// Joints named in a note; the rest is counted.
const NAMED: usize = 12;

/// What is said beside ranges.
pub(super) const SAID: &str = "the range of a damage takes its doubts as independent and multiplies their ends, which is wider \
     than likely; the places a joint may stand at leave out what moves all joints alike (scatter of \
     the curve, environment); not in it: the model itself, and what nobody logged";
