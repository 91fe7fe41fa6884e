//! The joints that a planned string may be made of: how each stands, and why it is left out.

use std::collections::{BTreeMap, BTreeSet};

use crate::filter::compile;
use crate::intake::Wishes;
use crate::mechanics::connection::ConnectionType;
use crate::model::{Component, JointRef, RunBody, Serial, TallyLine, same_name};
use crate::policy::Driver;
use crate::report::due::{Headroom, headroom};
use crate::report::fitness::{self, Demands, against, pull_borne};
use crate::report::{Present, ReportError, find_joint, rules_in_force};
use crate::schema::{Figures, JointRow};
use crate::store::Book;
use crate::units::Measure;

use super::super::pass::ReaderPool;
use super::super::question::{self, in_context};
use super::places::Place;

/// A joint that a string may be made of.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    pub row: JointRow,
    /// Its line of a tally.
    pub line: TallyLine,
    /// Damage at pin end, middle and box end; nothing where all of it is not known.
    pub before: Option<[i64; 3]>,
    /// How it stands for any run, in words.
    pub fit: &'static str,
    /// The searches for cracks, in a line.
    pub searches: Option<String>,
    /// Why it stands nowhere; nothing where it may.
    pub out: Option<String>,
    /// The hardest pull that it bears, N.
    pub pull: Option<f64>,
    pub headroom: Vec<Headroom>,
}

/// All of them, in the order of the names of their entries.
pub(super) struct Pool {
    pub joints: Vec<Candidate>,
    /// Rules that cannot be decided, with the number of joints.
    pub open: Vec<(String, usize)>,
    /// Joints of which it cannot be told whether the filter means them.
    pub untold: usize,
}

/// What is asked of every joint.
pub(super) fn demands(run: &RunBody, torque: Option<f64>) -> Demands {
    let stored = |q: Option<&crate::model::Qty>| q.and_then(|q| q.stored(Measure::Depth));
    let cased = stored(run.casing_depth.as_ref()).max(stored(run.riser_depth.as_ref()));
    Demands {
        torque: torque.or_else(|| planned_torque(run)),
        sour: run.sour == Some(true),
        casing: cased.is_some_and(|d| d > 0) && run.protectors != Some(true),
        ..Demands::default()
    }
}

/// The hardest torque that the plan itself has.
fn planned_torque(run: &RunBody) -> Option<f64> {
    run.segments.iter().filter_map(|s| s.torque_nm).max().map(|n| n as f64)
}

/// Gathers the joints of the places and those that the filter means. Where `looks_back` nobody asks
/// whether they are fit: the run is over.
pub(super) fn gather(
    book: &mut Book,
    run: &RunBody,
    places: &[Place],
    wishes: &Wishes,
    looks_back: bool,
    present: &Present,
) -> Result<Pool, ReportError> {
    let mut joints: BTreeSet<i64> = places.iter().filter_map(|p| p.joint).collect();
    let mut untold = 0;
    if let Some(filter) = &wishes.from {
        let (holds, open) = matching(book, filter, present)?;
        joints.extend(holds);
        untold = open;
    }
    let without: BTreeSet<i64> = wishes
        .without
        .iter()
        .map(|serial| find_joint(book, serial.trim()))
        .collect::<Result<_, _>>()?;
    let joints: Vec<i64> = joints.into_iter().collect();
    let mut pool = Pool { joints: Vec::new(), open: Vec::new(), untold };
    for joint in &joints {
        let Some(row) = book.row::<JointRow>(*joint)? else { continue };
        let own = places.iter().find(|p| p.joint == Some(*joint));
        let line = match own {
            Some(place) => TallyLine { count: None, ..run.tally[place.line].clone() },
            None => bare(&row)?,
        };
        let exact = [row.damage_pin, row.damage_middle, row.damage_box]
            .map(|d| (d.hi == Some(d.lo)).then_some(d.lo));
        let before = match exact {
            [Some(a), Some(b), Some(c)] => Some([a, b, c]),
            _ => None,
        };
        let mut out = None;
        if without.contains(joint) {
            out = Some("left out as asked".to_owned());
        } else if row.component != Component::DrillPipe {
            out = Some(format!("it is no drill pipe: {}", row.component));
        } else if line.length.is_none() && row.length.is_none() {
            out = Some("its length is not known".to_owned());
        } else if before.is_none() {
            out = Some("what it has gone through is not known in full".to_owned());
        }
        pool.joints.push(Candidate {
            row,
            line,
            before,
            fit: "not asked",
            searches: None,
            out,
            pull: None,
            headroom: Vec::new(),
        });
    }
    pool.joints.sort_by(|a, b| a.row.by_name.cmp(&b.row.by_name));
    if !looks_back {
        stand(book, &mut pool, run, wishes, present)?;
    }
    Ok(pool)
}

fn bare(row: &JointRow) -> Result<TallyLine, ReportError> {
    let wrong = |e: &dyn std::fmt::Display| ReportError::Words(format!("{}: {e}", row.serial));
    let joint = JointRef {
        serial: Serial::parse(&row.serial).map_err(|e| wrong(&e))?,
        joint: row.introduced_by.parse().map_err(|e| wrong(&e))?,
    };
    Ok(TallyLine { joint: Some(joint), part: None, length: None, count: None })
}

/// Says how each stands for any run and for this one.
fn stand(
    book: &mut Book,
    pool: &mut Pool,
    run: &RunBody,
    wishes: &Wishes,
    present: &Present,
) -> Result<(), ReportError> {
    let numbers: Vec<i64> = pool.joints.iter().map(|c| c.row.joint).collect();
    let asked = demands(run, wishes.torque);
    let at: BTreeMap<i64, usize> = numbers.iter().enumerate().map(|(n, j)| (*j, n)).collect();
    let joints = &mut pool.joints;
    fitness::each_standing(book, &numbers, present, |appraisal, mut told| {
        let Some(candidate) = at.get(&appraisal.position).map(|n| &mut joints[*n]) else { return };
        candidate.fit = fitness::words(told.answer());
        candidate.searches = Some(fitness::searches_in_short(&told.searches));
        candidate.pull = pull_borne(&appraisal);
        told.add(against(&appraisal, &asked, present.units));
        let cannot_be_said = told.answer().is_none();
        if candidate.out.is_none() && !told.may_run() && !(cannot_be_said && wishes.undecided) {
            let first = fitness::lines(&told).into_iter().next();
            candidate.out = Some(first.unwrap_or_else(|| candidate.fit.to_owned()));
        }
    })?;
    let (mut left, open) = headroom(book, &numbers, present)?;
    for candidate in joints {
        candidate.headroom = left.remove(&candidate.row.joint).unwrap_or_default();
    }
    pool.open = open;
    Ok(())
}

/// Joints for which a filter holds, and the number of those of which nobody can tell.
fn matching(
    book: &mut Book,
    text: &str,
    present: &Present,
) -> Result<(Vec<i64>, usize), ReportError> {
    let rules = rules_in_force(book, present.now)?;
    let (everyone, filter) = in_context(book, &rules, present, |context| {
        let read = |text: &str| compile(text, context).map_err(question::wrong);
        Ok::<_, ReportError>((read("true")?, read(text)?))
    })?;
    let mut found = ReaderPool::open(book)?.verdicts(&everyone, &[filter], present)?;
    let found = found.pop().unwrap_or_default();
    Ok((found.holds, found.open.len()))
}

/// Two outside diameters are of one size within this, nanometres.
const ONE_SIZE: i64 = 500_000;

impl Candidate {
    /// Why it does not stand at a place, by what it is and by the hardest pull there, N.
    pub(super) fn against(
        &self,
        place: &Place,
        pull: Option<f64>,
        is_asked: bool,
    ) -> Option<String> {
        match (place.od, self.row.od) {
            (Some(there), Some(own)) if (there - own).abs() > ONE_SIZE => {
                return Some("another size of pipe is planned".to_owned());
            }
            (Some(_), None) => return Some("its size is not known".to_owned()),
            _ => {}
        }
        match (&place.connection, &self.row.connection) {
            (Some(there), Some(own)) if !same_connection(there, own) => {
                return Some(format!("{there} is planned, it has {own}"));
            }
            (Some(_), None) => return Some("its connection is not known".to_owned()),
            _ => {}
        }
        match (pull.filter(|_| is_asked), self.pull) {
            (Some(asked), Some(borne)) if asked > borne => {
                Some("it does not bear the pull at any place that is left to it".to_owned())
            }
            (Some(_), None) => Some("what pull it bears cannot be rated".to_owned()),
            _ => None,
        }
    }

    /// The rules that may speak of it before it is through with this, in `days`.
    pub(super) fn calls(&self, figures: &Figures, days: f64) -> Vec<&Headroom> {
        self.headroom.iter().filter(|h| used(h.driver, figures, days) > Some(h.left)).collect()
    }
}

/// What moves a rule, in base units; nothing where it is not foreseen here.
fn used(driver: Driver, figures: &Figures, days: f64) -> Option<f64> {
    let base = |q: Option<i64>, measure: Measure| q.map(|q| measure.base_f64(q));
    match driver {
        Driver::Hours => base(figures.hours, Measure::Hours),
        Driver::Revolutions => base(figures.revolutions, Measure::Turns),
        Driver::Footage => base(figures.footage, Measure::Depth),
        Driver::Damage => base(figures.worst_damage(), Measure::Damage),
        Driver::OverLimit => base(figures.worst_over_limit(), Measure::Turns),
        Driver::Time => Some(days * 86_400.0),
        Driver::WallWear | Driver::PinWear | Driver::BoxWear => None,
    }
}

fn same_connection(a: &str, b: &str) -> bool {
    match (a.parse::<ConnectionType>(), b.parse::<ConnectionType>()) {
        (Ok(a), Ok(b)) => a == b,
        _ => same_name(a, b),
    }
}
