//! The next string: what each place of it will go through, which joints may stand in it, and in which
//! order none of them is used up before the others.
//!
//! What places ask is worked out by the model of a recorded run, with the string as its tally has it;
//! the order that comes of it is worked out again with its own joints, and those are the figures that
//! are shown.

mod against;
mod board;
mod places;
mod pool;
mod show;

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::intake::{Planned, Wishes};
use crate::model::{
    Body, DAY_MS, Entry, EntryId, Moment, Recorded, RunBody, SurveyBody, TallyLine, plural,
};
use crate::policy::{Costs, Exchange, exchanges};
use crate::projection::exposure::{Doubtful, RunModel, Section, Span};
use crate::schema::{Figures, JointRunRow, Rows, RunRow};
use crate::store::Book;
use crate::units::Measure;

use super::{Present, Report, ReportError};

pub use against::report as against;
use board::{Board, by_chance};
use places::{Expected, Place, expected, places, tally_with};
use pool::{Candidate, Pool, gather};

/// What is asked of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// The order that is best.
    Advise,
    /// What comes of the order that its tally has.
    AsItStands,
    /// The order that would have been best in a run that is over: nobody asks whether joints are fit.
    LookBack,
}

/// An answer, and the tally that it comes to.
#[derive(Debug)]
pub struct Answer {
    pub report: Report,
    /// The string as it is advised, or as it stands; nothing where it cannot be made up.
    pub tally: Option<Vec<TallyLine>>,
}

/// Orders of chance that the one advised is held against.
const ORDERS: usize = 1_000;
/// Exchanges that are told where nobody says how many.
const TOLD: usize = 6;

/// A plan as it was worked out.
struct Worked<'a> {
    planned: &'a Planned,
    how: How,
    places: Vec<Place>,
    pool: Pool,
    expected: Expected,
    board: Board,
    /// Why a joint that may run stands nowhere.
    elsewhere: BTreeMap<usize, String>,
    /// The joint at each place; nothing where the string cannot be made up.
    order: Option<Vec<usize>>,
    /// Why not.
    lacking: Option<String>,
    exchanges: Vec<Exchange>,
    /// Worst damage of orders of chance, least first.
    chance: Vec<i64>,
    /// No order of single joints that may stand where they do has a lesser worst damage.
    bound: Option<i64>,
    /// Joints that keep their places, for nobody knows what they had gone through.
    kept: usize,
    /// From the beginning of the present to the end of the run.
    days: f64,
}

/// The order worked out with its own joints.
struct Exact {
    rows: Vec<JointRunRow>,
    /// From the least to the most, quanta of damage, by joint.
    ranges: BTreeMap<i64, Span>,
    unknown: Vec<&'static str>,
}

/// A run that no entry holds, as a model.
fn model_of(book: &Book, run: RunBody, planned: &Planned) -> Result<RunModel, ReportError> {
    model_in(book, run, planned.effective, planned.hole.as_ref())
}

fn model_in(
    book: &Book,
    run: RunBody,
    effective: Moment,
    hole: Option<&SurveyBody>,
) -> Result<RunModel, ReportError> {
    let clock = book.clock()?;
    let at = effective.start(clock);
    let entry = Entry {
        id: EntryId { chain: book.identity().chain.clone(), number: 0 },
        effective,
        recorded: Recorded { at, offset_minutes: clock.offset_minutes(at) },
        author: String::new(),
        program: String::new(),
        evidence: None,
        body: Body::Run(Box::new(run)),
    };
    let model = book.appraiser()?.planned(entry, hole)?;
    match model.is_wrong() {
        Some(what) => Err(ReportError::Words(format!("nothing can be planned: {what}"))),
        None => Ok(model),
    }
}

/// A recorded run as a plan, to look back on it.
pub fn recorded(book: &Book, name: &str) -> Result<Planned, ReportError> {
    let row: RunRow = super::lookup::find_run(book, name)?;
    let entry = book.counted(row.run)?;
    let Body::Run(run) = entry.body else {
        return Err(ReportError::Words(format!("{name} is no run")));
    };
    if !run.swaps.is_empty() {
        return Err(ReportError::Words(format!(
            "the tally of {name} changed during the run: it had several orders"
        )));
    }
    Ok(Planned { run: *run, effective: entry.effective, hole: None, wishes: Wishes::default() })
}

/// Plans a string.
pub fn report(
    book: &mut Book,
    planned: &Planned,
    how: How,
    present: &Present,
) -> Result<Answer, ReportError> {
    let worked = work(book, planned, how, present)?;
    let stands = (how == How::AsItStands).then(|| planned.run.tally.clone());
    let tally = stands.or_else(|| worked.order.as_ref().map(|order| worked.tally(order)));
    // Where it cannot be made up, what the tally has is told.
    let told = tally.clone().unwrap_or_else(|| planned.run.tally.clone());
    let exact = exact(book, &worked, told)?;
    let report = show::report(book, &worked, &exact, present)?;
    Ok(Answer { report, tally })
}

fn work<'a>(
    book: &mut Book,
    planned: &'a Planned,
    how: How,
    present: &Present,
) -> Result<Worked<'a>, ReportError> {
    let run = &planned.run;
    let mut places = places(book, run)?;
    if places.is_empty() {
        return Err(ReportError::Words(
            "the tally of the plan has no place of drill pipe: give each its line, or a line with a \
             count and no serial"
                .to_owned(),
        ));
    }
    let model = model_of(book, run.clone(), planned)?;
    let wishes = &planned.wishes;
    let looks_back = how == How::LookBack;
    let mut pool = gather(book, run, &places, wishes, looks_back, present)?;
    let mut kept = Vec::new();
    if looks_back {
        // Nobody knows how far these were used: they keep their places.
        pool.joints.retain(|c| {
            let is_known = c.before.is_some();
            kept.extend((!is_known).then_some(c.row.joint));
            is_known
        });
        places.retain(|p| p.joint.is_some_and(|j| !kept.contains(&j)));
    }
    let sections = sections(book, planned, &mut pool)?;
    let expected = expected(&model, &places, &sections)?;
    let clock = present.clock;
    let days = (planned.effective.end(clock).0 - present.now.0).max(0) as f64 / DAY_MS as f64;
    let board = board(&places, &pool, &expected, wishes, (how, days));
    let elsewhere = unplaced(&places, &pool, &expected, wishes, &board);
    let mut worked = Worked {
        planned,
        how,
        places,
        pool,
        expected,
        board,
        elsewhere,
        order: None,
        lacking: None,
        exchanges: Vec::new(),
        chance: Vec::new(),
        bound: None,
        kept: kept.len(),
        days,
    };
    if how != How::AsItStands {
        worked.order();
    }
    Ok(worked)
}

/// The section of each joint, as it is when the run begins. A joint that cannot hang is left out.
fn sections(book: &Book, planned: &Planned, pool: &mut Pool) -> Result<Vec<Section>, ReportError> {
    pool.joints.retain(|c| c.line.length.is_some() || c.row.length.is_some());
    if pool.joints.is_empty() {
        return Ok(Vec::new());
    }
    let tally = pool.joints.iter().map(|c| c.line.clone()).collect();
    let rack = RunBody { tally, segments: Vec::new(), hours: None, ..planned.run.clone() };
    let model = model_of(book, rack, planned)?;
    let of: BTreeMap<i64, Section> =
        model.lines().iter().filter_map(|l| Some((l.joint, model.section(l)?))).collect();
    pool.joints.retain(|c| of.contains_key(&c.row.joint));
    Ok(pool.joints.iter().map(|c| of[&c.row.joint]).collect())
}

/// Damage of a joint after what a place asks of it, at its worst place.
fn after(before: [i64; 3], figures: &Figures) -> Option<i64> {
    let worst = figures.damage().into_iter().zip(before);
    let worst = worst.map(|(more, before)| Some(before.saturating_add(more?)));
    worst.collect::<Option<Vec<i64>>>()?.into_iter().max()
}

/// The hardest pull that is asked at a place, N.
fn pull(expected: &Expected, place: usize, joint: usize, wishes: &Wishes) -> Option<f64> {
    let tension = expected.at(place, joint).max_tension?;
    Some(Measure::Force.base_f64(tension) + wishes.margin.unwrap_or(0.0))
}

fn board(
    places: &[Place],
    pool: &Pool,
    expected: &Expected,
    wishes: &Wishes,
    (how, days): (How, f64),
) -> Board {
    let joints = &pool.joints;
    let damage =
        Costs::new(places.len(), joints.len(), |p, j| after(joints[j].before?, expected.at(p, j)));
    let allowed = Costs::new(places.len(), joints.len(), |p, j| {
        let joint = &joints[j];
        let pull = pull(expected, p, j, wishes);
        if joint.out.is_some() || joint.against(&places[p], pull, how != How::LookBack).is_some() {
            return None;
        }
        if wishes.no_calls && !joint.calls(expected.at(p, j), days).is_empty() {
            return None;
        }
        damage.at(p, j)
    });
    let racked: Option<Vec<usize>> = places
        .iter()
        .map(|place| joints.iter().position(|c| Some(c.row.joint) == place.joint))
        .collect();
    let of_stand = wishes.stands.unwrap_or(1).max(1);
    let numbers: Vec<usize> = (0..places.len()).collect();
    let stands = numbers.chunks(of_stand).map(<[usize]>::to_vec).collect();
    Board { damage, allowed, racked, stands }
}

/// Why joints that may run stand at none of the places.
fn unplaced(
    places: &[Place],
    pool: &Pool,
    expected: &Expected,
    wishes: &Wishes,
    board: &Board,
) -> BTreeMap<usize, String> {
    let mut out = BTreeMap::new();
    for (j, joint) in pool.joints.iter().enumerate().filter(|(_, c)| c.out.is_none()) {
        if (0..places.len()).any(|p| board.allowed.at(p, j).is_some()) {
            continue;
        }
        if (0..places.len()).all(|p| board.damage.at(p, j).is_none()) {
            out.insert(j, "what it would go through cannot be told".to_owned());
            continue;
        }
        let why = (0..places.len())
            .find_map(|p| joint.against(&places[p], pull(expected, p, j, wishes), true));
        let why = why.unwrap_or_else(|| {
            "a call on it would fall due before the end of the run wherever it stands".to_owned()
        });
        out.insert(j, why);
    }
    out
}

impl Worked<'_> {
    /// Finds the order, and what it is held against.
    fn order(&mut self) {
        let (places, wishes) = (self.places.len(), &self.planned.wishes);
        let stand_somewhere =
            |j: &usize| (0..places).any(|p| self.board.allowed.at(p, *j).is_some());
        let may: Vec<usize> = (0..self.pool.joints.len()).filter(stand_somewhere).collect();
        let of_stand = wishes.stands.unwrap_or(1);
        let racked = self.board.racked.clone();
        let best = self.board.allowed.best();
        self.bound =
            best.as_ref().and_then(|order| self.board.allowed.vector(order)?.first().copied());
        let order = match (&racked, of_stand, wishes.moves) {
            (None, 2.., _) | (None, _, Some(_)) => {
                self.lacking = Some(
                    "stands and a number of exchanges are counted from an order, and the tally has \
                     not a joint at each place"
                        .to_owned(),
                );
                None
            }
            (_, 0 | 1, None) => best,
            (Some(racked), 0 | 1, Some(most)) => {
                let mut order = racked.clone();
                exchanges(&self.board.allowed, &mut order, most);
                Some(order).filter(|order| self.board.allowed.vector(order).is_some())
            }
            (Some(racked), _, moves) => {
                let costs = self.board.of_stands(racked);
                let of_stands = match moves {
                    None => costs.best(),
                    Some(most) => {
                        let mut order: Vec<usize> = (0..costs.places()).collect();
                        exchanges(&costs, &mut order, most);
                        Some(order).filter(|order| costs.vector(order).is_some())
                    }
                };
                of_stands.map(|of_stands| self.board.spread(racked, &of_stands))
            }
        };
        if order.is_none() && self.lacking.is_none() {
            let short = places.saturating_sub(may.len());
            self.lacking = Some(if short > 0 {
                format!(
                    "{} of drill pipe, and {} that may stand in them: {} missing",
                    plural(places, "place"),
                    plural(may.len(), "joint"),
                    short
                )
            } else {
                "not every place can be given a joint that may stand there, as it is wished"
                    .to_owned()
            });
        }
        if let Some(racked) = &racked {
            // Stands are counted as one: an exchange moves a whole one.
            let most = wishes.moves.unwrap_or(TOLD).max(1);
            self.exchanges = if of_stand > 1 {
                let costs = self.board.of_stands(racked);
                let mut order: Vec<usize> = (0..costs.places()).collect();
                exchanges(&costs, &mut order, most)
            } else {
                exchanges(&self.board.allowed, &mut racked.clone(), most)
            };
        }
        let by_damage: Vec<usize> = match self.how {
            How::LookBack => racked.clone().unwrap_or(may),
            How::Advise | How::AsItStands => may,
        };
        self.chance = by_chance(&self.board.damage, &by_damage, ORDERS);
        self.order = order;
    }

    /// The tally of an order.
    fn tally(&self, order: &[usize]) -> Vec<TallyLine> {
        let joints = &self.pool.joints;
        tally_with(&self.planned.run, &self.places, |p| joints[order[p]].line.clone())
    }

    /// A joint of the pool by its place in the book.
    fn candidate(&self, joint: i64) -> Option<&Candidate> {
        self.pool.joints.iter().find(|c| c.row.joint == joint)
    }

    /// The worst damage of an order, whether joints may stand where it has them or not.
    fn worst(&self, order: &[usize]) -> Option<i64> {
        self.board.damage.vector(order)?.first().copied()
    }
}

/// Works out a string with its own joints, and how far each damage may be from its figure.
fn exact(book: &Book, worked: &Worked<'_>, tally: Vec<TallyLine>) -> Result<Exact, ReportError> {
    let planned = worked.planned;
    let run = RunBody { tally, ..planned.run.clone() };
    let well = run.well.clone();
    let model = model_of(book, run, planned)?;
    let rows: Result<Vec<JointRunRow>, String> =
        model.lines().par_iter().map(|line| model.exposure(line)).collect();
    let rows = rows.map_err(ReportError::Words)?;
    let drilled = book.appraiser()?.drilled(&well)?;
    let doubtful = Doubtful::new(&model, &drilled).map_err(ReportError::Words)?;
    let spreads: Result<Vec<_>, String> =
        model.lines().par_iter().map(|l| Ok((l.joint, doubtful.spread(l)?))).collect();
    let mut exact = Exact { rows, ranges: BTreeMap::new(), unknown: Vec::new() };
    let turns = planned.wishes.turns_within.unwrap_or(0.0);
    for (joint, spread) in spreads.map_err(ReportError::Words)? {
        // As `exposure` tells it: of what has a damage at its worst place.
        let is_told = |r: &JointRunRow| r.joint == joint && r.figures.worst_damage().is_some();
        let Some(spread) = spread.filter(|_| exact.rows.iter().any(is_told)) else { continue };
        let mut span = spread.all(&|_| true);
        span.least = span.least.map(|d| d * (1.0 - turns).max(0.0));
        span.most = span.most.map(|d| d * (1.0 + turns));
        exact.ranges.insert(joint, span);
        for doubt in spread.unknown {
            if !exact.unknown.contains(&doubt.words()) {
                exact.unknown.push(doubt.words());
            }
        }
    }
    Ok(exact)
}

/// Rows of a recorded run, from the bit up.
fn happened(book: &Book, run: i64) -> Result<Vec<JointRunRow>, ReportError> {
    Ok(book.rows(&Rows::of(JointRunRow::run(), run).by(JointRunRow::position()))?)
}
