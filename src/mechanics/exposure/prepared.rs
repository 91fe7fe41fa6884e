//! A run made ready to ask about its joints.

use rayon::prelude::*;

use super::chunk::{Chunk, Rules};
use super::hanging::Hangings;
use super::hole::Hole;
use super::middle::{Body, Middle};
use super::outcome::{Flags, PartExposure};
use super::place::Place;
use super::response::{Life, Response};
use super::settings::{BOX_END, MIDDLE, PIN_END, Settings};
use super::tally::tally;
use super::walk::{Turning, Walk};
use crate::mechanics::loads::rotating::weight_steps;
use crate::mechanics::string::{CaseError, Metal, Part, RunCase};

/// A run made ready: what all its joints share is computed once.
///
/// Joints are independent of each other, so one joint alone, all in turn and all in parallel give
/// the same bits.
#[derive(Debug, Clone)]
pub struct PreparedRun<'a> {
    case: &'a RunCase,
    settings: &'a Settings,
    hole: Hole,
    hangings: Hangings,
    turning: Vec<Turning>,
    lives: [Life; 3],
    rules: Rules,
    wide: pulp::Arch,
}

impl<'a> PreparedRun<'a> {
    /// Checks a run and tabulates its hole and what hangs in it.
    pub fn new(case: &'a RunCase, settings: &'a Settings) -> Result<Self, CaseError> {
        Self::up_to(case, settings, case.string.parts().len())
    }

    /// Ready for the lowest `parts` parts only: a string of many weights needs less work then. The
    /// results for them are the same to the bit.
    pub fn up_to(
        case: &'a RunCase,
        settings: &'a Settings,
        parts: usize,
    ) -> Result<Self, CaseError> {
        Self::cut_at(case, settings, parts, &[])
    }

    /// As [`PreparedRun::up_to`], with pieces that end at these depths besides.
    pub(super) fn cut_at(
        case: &'a RunCase,
        settings: &'a Settings,
        parts: usize,
        cuts: &[f64],
    ) -> Result<Self, CaseError> {
        case.check()?;
        settings.check()?;
        let turning: Vec<Turning> =
            case.segments.iter().filter(|s| s.turns() > 0.0).map(Turning::new).collect();
        let deepest = turning.iter().map(|t| t.high).fold(0.0, f64::max);
        let shallowest = turning.iter().map(|t| t.low).fold(deepest, f64::min);
        let hole = Hole::new(&case.path, deepest, settings.tortuosity, cuts);
        let steps = weight_steps(&case.string, &case.fluids);
        let distances = case.string.distances();
        let top = distances.get(parts).copied().unwrap_or(f64::INFINITY);
        let levels = steps.partition_point(|s| s.distance < top);
        let hangings = Hangings::new(&hole, &steps, levels, (shallowest, deepest));
        Ok(Self {
            case,
            settings,
            hole,
            hangings,
            turning,
            lives: [PIN_END, MIDDLE, BOX_END].map(|i| Life::new(&settings.curves[i])),
            rules: Rules::new(settings.points),
            wide: pulp::Arch::new(),
        })
    }

    /// Exposure of every part, from the bit up.
    pub fn all(&self) -> Result<Vec<PartExposure>, CaseError> {
        (0..self.case.string.parts().len()).map(|i| self.part(i)).collect()
    }

    /// Exposure of every part, from the bit up, on all threads of the current pool.
    pub fn all_parallel(&self) -> Result<Vec<PartExposure>, CaseError> {
        (0..self.case.string.parts().len()).into_par_iter().map(|i| self.part(i)).collect()
    }

    /// Exposure of one part, counted from the bit.
    pub fn part(&self, index: usize) -> Result<PartExposure, CaseError> {
        let (part, places) = self.located(index)?;
        let responses = self.responses(part);
        let place = |i: usize| self.place(part, &responses[i], places[i]);
        let mut found = tally(self.case, places[MIDDLE]);
        let mut chunk = Chunk::new();
        for end in [PIN_END, BOX_END] {
            let (mut place, walk) = place(end);
            let mut flush = |chunk: &mut Chunk| {
                let summary = place.add::<true>(chunk);
                if end == BOX_END {
                    place.add_above_limit(chunk, &summary);
                }
                chunk.len = 0;
            };
            walk.pieces::<false>(|step| {
                chunk.push(&step.piece);
                if chunk.is_full() {
                    flush(&mut chunk);
                }
            });
            flush(&mut chunk);
            found.damage[end] = place.damage;
            found.max_bending_stress = found.max_bending_stress.max(place.bending_stress());
            found.revolutions_above_limit += place.above_limit;
        }
        let (place, walk) = place(MIDDLE);
        self.middle(part, place, &walk, &mut chunk, &mut found);
        self.environment(part, &mut found);
        Ok(found)
    }

    /// A part and the distances of its places from the bit.
    pub(super) fn located(&self, index: usize) -> Result<(&'a Part, [f64; 3]), CaseError> {
        let parts = self.case.string.parts();
        let part =
            parts.get(index).ok_or(CaseError::NoSuchPart { part: index, parts: parts.len() })?;
        let bottom = self.case.string.distances()[index];
        Ok((part, self.settings.places.above_pin(part.length).map(|above| bottom + above)))
    }

    /// The responses of a part's places.
    pub(super) fn responses(&self, part: &Part) -> [Response; 3] {
        Response::of(part, self.settings, &self.lives)
    }

    /// A place at a distance from the bit, and its walk.
    pub(super) fn place(
        &self,
        part: &Part,
        response: &Response,
        distance: f64,
    ) -> (Place<'_>, Walk<'_>) {
        let (hole, hangings) = (&self.hole, &self.hangings);
        let walk = Walk::new(hole, hangings, &self.turning, distance, response.slenderness);
        (Place::new(part, self.settings, response, (&self.rules, walk, self.wide)), walk)
    }

    /// The middle of a joint: damage, and what is asked of the middle only.
    fn middle(
        &self,
        part: &Part,
        mut place: Place<'_>,
        walk: &Walk<'_>,
        chunk: &mut Chunk,
        found: &mut PartExposure,
    ) {
        let body = Body::new(self.case, part);
        let mut middle = Middle::new();
        let mut bands = core::mem::take(&mut found.bands);
        let mut sharpest = 0.0_f64;
        let mut flush = |chunk: &mut Chunk, middle: &mut Middle| {
            if chunk.len > 0 {
                let summary = place.add::<false>(chunk);
                middle.add(
                    chunk,
                    &summary,
                    &body,
                    (self.rules.for_forces(), self.wide),
                    walk,
                    found,
                );
                chunk.len = 0;
            }
        };
        walk.pieces::<true>(|step| {
            let short = &self.hole.shorts[step.short];
            middle.put(chunk.len, short, step.along);
            chunk.push(&step.piece);
            bands.turns[short.band] += step.piece.turns;
            bands.hours[short.band] += step.hours;
            sharpest = sharpest.max(step.piece.bend);
            if chunk.is_full() {
                flush(chunk, &mut middle);
            }
        });
        flush(chunk, &mut middle);
        found.damage[MIDDLE] = place.damage;
        found.max_bending_stress = found.max_bending_stress.max(place.bending_stress());
        found.bands = bands;
        found.max_curvature = sharpest;
        let unknown = part.kind.spans_tool_joints() && part.tool_joint_od.is_none();
        found.flags.add_if(unknown && sharpest > 0.0, Flags::CONTACT_UNKNOWN);
    }

    fn environment(&self, part: &Part, found: &mut PartExposure) {
        let around = &self.case.environment;
        let hot = around.hottest_celsius.is_some_and(|t| t > self.settings.hottest_celsius);
        found.flags.add_if(hot, Flags::HOT);
        found.flags.add_if(around.hydrogen_sulphide, Flags::HYDROGEN_SULPHIDE);
        found.flags.add_if(part.material.metal != Metal::Steel, Flags::NOT_STEEL);
        found.flags.add_if(found.beyond_survey > 0.0, Flags::BEYOND_SURVEY);
    }
}
