//! The places of a planned string, and what a joint would go through at each of them.

use rayon::prelude::*;

use crate::model::{Component, RunBody, TallyLine};
use crate::projection::exposure::{RunModel, Section};
use crate::report::ReportError;
use crate::schema::{Figures, JointRow};
use crate::store::Book;
use crate::units::Measure;

/// A place of drill pipe: which joint stands there is what is planned.
#[derive(Clone, Debug)]
pub(super) struct Place {
    /// Parts of the string below it.
    pub at: usize,
    /// Its line in the tally.
    pub line: usize,
    /// The joint of the book that the tally has there.
    pub joint: Option<i64>,
    /// Outside diameter of the body, nanometres, and connection, where they are known.
    pub od: Option<i64>,
    pub connection: Option<String>,
}

/// The places of drill pipe in a tally, from the bit up.
pub(super) fn places(book: &Book, run: &RunBody) -> Result<Vec<Place>, ReportError> {
    let mut out = Vec::new();
    let mut at = 0;
    for (n, line) in run.tally.iter().enumerate() {
        let joint = match &line.joint {
            Some(named) => book.position_of(&named.joint)?,
            None => None,
        };
        let row: Option<JointRow> = joint.map(|j| book.row(j)).transpose()?.flatten();
        let part = line.part.as_ref();
        let component =
            row.as_ref().map(|r| r.component).or_else(|| part.map(|part| part.component));
        let count = line.count.unwrap_or(1).max(1) as usize;
        if component == Some(Component::DrillPipe) {
            let stated = part.and_then(|p| p.od.as_ref()?.stored(Measure::Diameter));
            let named = part.and_then(|p| p.connection.clone());
            let place = Place {
                at,
                line: n,
                joint: row.as_ref().map(|r| r.joint),
                od: stated.or_else(|| row.as_ref().and_then(|r| r.od)),
                connection: named.or_else(|| row.as_ref().and_then(|r| r.connection.clone())),
            };
            out.extend((0..count).map(|k| Place { at: at + k, ..place.clone() }));
        }
        at += count;
    }
    Ok(out)
}

/// The tally with these lines at the places, each by itself.
pub(super) fn tally_with(
    run: &RunBody,
    places: &[Place],
    mut line_at: impl FnMut(usize) -> TallyLine,
) -> Vec<TallyLine> {
    let mut out = Vec::new();
    for (n, line) in run.tally.iter().enumerate() {
        let of_line: Vec<usize> = (0..places.len()).filter(|p| places[*p].line == n).collect();
        if of_line.is_empty() {
            out.push(line.clone());
        }
        out.extend(of_line.into_iter().map(&mut line_at));
    }
    out
}

/// Most pairs of section and place that are worked out.
const MOST: usize = 12_000;
/// Outside diameters that stand for one another at first, where all pairs are too many, m.
const STEP: f64 = 0.000_1;

/// What joints would go through at each place, section by section.
pub(super) struct Expected {
    /// Sections that are worked out.
    pub sections: usize,
    /// The section of each joint.
    of: Vec<usize>,
    /// By section, then by place.
    figures: Vec<Figures>,
    places: usize,
}

impl Expected {
    /// What a joint would go through at a place.
    pub(super) fn at(&self, place: usize, joint: usize) -> &Figures {
        &self.figures[self.of[joint] * self.places + place]
    }
}

/// Works out what each of these joints would go through at each place of a string: exactly, or, where
/// they are too many, with one section for all that are worn nearly alike: the thinnest of them.
pub(super) fn expected(
    model: &RunModel,
    places: &[Place],
    joints: &[Section],
) -> Result<Expected, ReportError> {
    let (of, sections) = grouped(joints, places.len());
    let pairs: Vec<(usize, usize)> =
        (0..sections.len()).flat_map(|s| (0..places.len()).map(move |p| (s, p))).collect();
    let figures: Result<Vec<Figures>, String> =
        pairs.par_iter().map(|(s, p)| model.figures_at(places[*p].at, &sections[*s])).collect();
    let figures = figures.map_err(ReportError::Words)?;
    Ok(Expected { sections: sections.len(), of, figures, places: places.len() })
}

/// Joints by section, and the sections.
fn grouped(joints: &[Section], places: usize) -> (Vec<usize>, Vec<Section>) {
    let mut order: Vec<usize> = (0..joints.len()).collect();
    let tool_joint = |n: usize| joints[n].part.tool_joint_od.unwrap_or(0.0);
    order.sort_by(|a, b| {
        let by_od = joints[*a].part.od.total_cmp(&joints[*b].part.od);
        by_od.then(tool_joint(*a).total_cmp(&tool_joint(*b))).then(a.cmp(b))
    });
    let mut step = 0.0;
    loop {
        let mut of = vec![0; joints.len()];
        let mut sections: Vec<Section> = Vec::new();
        for n in &order {
            let known = sections.iter().position(|s| alike(s, &joints[*n], step));
            of[*n] = known.unwrap_or(sections.len());
            if known.is_none() {
                sections.push(joints[*n]);
            }
        }
        // Beyond a few millimetres nothing is alike.
        if sections.len() * places <= MOST || step > 0.005 {
            return (of, sections);
        }
        step = if step == 0.0 { STEP } else { 2.0 * step };
    }
}

/// Whether the first, which is no thicker, may stand for the other.
fn alike(first: &Section, other: &Section, step: f64) -> bool {
    let mut same = *other;
    same.part.od = first.part.od;
    same.part.tool_joint_od = first.part.tool_joint_od;
    same.part.air_weight = first.part.air_weight;
    let near = |a: f64, b: f64, within: f64| (a - b).abs() <= within;
    let tool_joints = match (first.part.tool_joint_od, other.part.tool_joint_od) {
        (Some(a), Some(b)) => near(a, b, 4.0 * step),
        (None, None) => true,
        (Some(_), None) | (None, Some(_)) => false,
    };
    same == *first && tool_joints && near(first.part.od, other.part.od, step)
}
