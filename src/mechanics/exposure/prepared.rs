//! A run made ready to ask about its joints.

use std::sync::{Arc, OnceLock};

use super::chunk::{Chunk, Rules};
use super::dogleg::{Bends, DoglegTime, Rates};
use super::hanging::Hangings;
use super::hole::Hole;
use super::location::LocationDamage;
use super::middle::{Body, Middle};
use super::outcome::{Flags, PartExposure, band};
use super::response::{Life, Response};
use super::settings::{BOX_END, MIDDLE, PIN_END, Settings};
use super::tally::tally;
use super::walk::{Turning, Walk};
use crate::mechanics::loads::rotating::weight_steps;
use crate::mechanics::string::{CaseError, Metal, Part, RunCase, Segment};

/// What hole, string and settings decide, whatever was done with them.
#[derive(Debug)]
struct Ground {
    /// The run; its segments are those that bit depths were taken from.
    case: RunCase,
    settings: Settings,
    /// How many parts from the bit up are tabulated.
    parts: usize,
    /// Depths at which pieces end besides.
    cuts: Vec<f64>,
    hole: Hole,
    bends: Bends,
    hangings: Hangings,
    lives: [Life; 3],
    rules: Rules,
}

impl Ground {
    fn new(case: RunCase, settings: Settings, parts: usize, cuts: Vec<f64>) -> Self {
        let (shallowest, deepest) = reach(&case.segments);
        let hole = Hole::new(&case.path, &case.bore, deepest, settings.tortuosity, &cuts);
        let bends = Bends::new(&case.path, settings.tortuosity);
        let steps = weight_steps(&case.string, &case.fluids);
        let top = case.string.distances().get(parts).copied().unwrap_or(f64::INFINITY);
        let levels = steps.partition_point(|s| s.distance < top);
        let hangings = Hangings::new(&hole, &steps, levels, (shallowest, deepest));
        let lives = [PIN_END, MIDDLE, BOX_END].map(|i| Life::new(&settings.curves[i]));
        let rules = Rules::new(settings.points);
        Self { case, settings, parts, cuts, hole, bends, hangings, lives, rules }
    }
}

/// Shallowest and deepest bit depth at which the string turned, m; 0 and 0 if it never did.
fn reach(segments: &[Segment]) -> (f64, f64) {
    let turning = || segments.iter().filter(|s| s.turns() > 0.0).map(Segment::reach);
    let deepest = turning().map(|r| r.1).fold(0.0, f64::max);
    (turning().map(|r| r.0).fold(deepest, f64::min), deepest)
}

/// A run made ready: what all its joints share is computed once.
///
/// Joints are independent of each other, so one joint alone, all in turn and all in parallel give
/// the same bits. Segments are independent of each other too: [`PreparedRun::of_segments`] asks the
/// same hole and string about part of a log, or about segments cut at an instant, at next to no
/// cost.
#[derive(Debug, Clone)]
pub struct PreparedRun {
    ground: Arc<Ground>,
    segments: Vec<Segment>,
    /// Those in which the string turns.
    pub(super) turning: Vec<Turning>,
    /// The same, with those joined that sweep the same depths under the same load.
    passes: Vec<Turning>,
    /// By level of weight, what hangs below where each of them is deepest; found when it is first
    /// asked for.
    deepest: Vec<OnceLock<Vec<(f64, f64)>>>,
    rates: Rates,
    wide: pulp::Arch,
}

impl PreparedRun {
    /// Checks a run and tabulates its hole and what hangs in it.
    pub fn new(case: &RunCase, settings: &Settings) -> Result<Self, CaseError> {
        Self::up_to(case, settings, case.string.parts().len())
    }

    /// Ready for the lowest `parts` parts only: a string of many weights needs less work then. The
    /// results for them are the same to the bit.
    pub fn up_to(case: &RunCase, settings: &Settings, parts: usize) -> Result<Self, CaseError> {
        Self::cut_at(case, settings, parts, &[])
    }

    /// As [`PreparedRun::up_to`], with pieces that end at these depths besides.
    pub(super) fn cut_at(
        case: &RunCase,
        settings: &Settings,
        parts: usize,
        cuts: &[f64],
    ) -> Result<Self, CaseError> {
        case.check()?;
        settings.check()?;
        let ground = Ground::new(case.clone(), settings.clone(), parts, cuts.to_vec());
        Ok(Self::on(Arc::new(ground), case.segments.clone()))
    }

    fn on(ground: Arc<Ground>, segments: Vec<Segment>) -> Self {
        let turns = segments.iter().filter(|s| s.turns() > 0.0);
        let turning: Vec<Turning> = turns.map(Turning::new).collect();
        let passes = Turning::passes(&turning);
        let rates = Rates::new(&passes);
        let deepest = vec![OnceLock::new(); ground.hangings.levels()];
        Self { ground, segments, turning, passes, deepest, rates, wide: pulp::Arch::new() }
    }

    /// The same hole and string with other segments: some of the log, or segments cut at an instant
    /// by [`Segment::split_at_fraction`]. Nothing is tabulated again unless the bit goes where the
    /// run didn't; the results are those of a run of these segments to the bit.
    pub fn of_segments(&self, segments: Vec<Segment>) -> Result<Self, CaseError> {
        for (index, segment) in segments.iter().enumerate() {
            segment.check(index)?;
        }
        let (shallowest, deepest) = reach(&segments);
        if deepest <= 0.0 || self.ground.hangings.covers(shallowest, deepest) {
            return Ok(Self::on(self.ground.clone(), segments));
        }
        let old = &*self.ground;
        let case = RunCase { segments: segments.clone(), ..old.case.clone() };
        let ground = Ground::new(case, old.settings.clone(), old.parts, old.cuts.clone());
        Ok(Self::on(Arc::new(ground), segments))
    }

    /// How many parts it was made ready for.
    fn len(&self) -> usize {
        self.ground.parts.min(self.ground.case.string.parts().len())
    }

    /// Exposure of one part, counted from the bit.
    pub fn part(&self, index: usize) -> Result<PartExposure, CaseError> {
        self.part_as(index, self.located(index)?.0)
    }

    /// Exposure of a part that is like this one, of the length of the one that hangs there: of the
    /// others count only lengths and what of them hangs.
    pub fn part_as(&self, index: usize, part: &Part) -> Result<PartExposure, CaseError> {
        let (_, places) = self.located(index)?;
        let responses = self.responses(part);
        let place = |i: usize| self.place(part, &responses[i], places[i]);
        let pin = self.ground.case.string.distances()[index];
        let mut found = tally(&self.ground.case, &self.segments, (pin, places[MIDDLE]));
        let mut chunk = Chunk::new();
        for end in [PIN_END, BOX_END] {
            let (mut place, walk) = place(end);
            let mut flush = |chunk: &mut Chunk| {
                let summary = place.add(chunk);
                place.add_above_limit(chunk, &summary);
                chunk.len = 0;
            };
            walk.pieces::<false>(|step| {
                chunk.push(&step.piece);
                if chunk.is_full() {
                    flush(&mut chunk);
                }
            });
            flush(&mut chunk);
            take(&mut found, end, &place);
        }
        let (middle, walk) = place(MIDDLE);
        self.middle(part, middle, &walk, &mut chunk, &mut found);
        let pressed = self.may_press((part, pin), &walk, &found);
        if !pressed.is_empty() {
            for which in [PIN_END, MIDDLE, BOX_END] {
                let walk = place(which).1.through(&pressed);
                found.hours_in_compression[which] = walk.hours_in_compression();
            }
        }
        for time in self.doglegs(index)? {
            let band = band(time.curvature);
            found.bands.turns[band] += time.turns;
            found.bands.hours[band] += time.hours;
            found.max_curvature = found.max_curvature.max(time.curvature);
        }
        self.environment(part, &mut found);
        Ok(found)
    }

    /// Turns and hours of a part by dogleg, the sharpest bend anywhere along it: every bend that the
    /// hole has by itself, in no order, some more than once.
    pub fn doglegs(&self, index: usize) -> Result<Vec<DoglegTime>, CaseError> {
        let (part, _) = self.located(index)?;
        let pin = self.ground.case.string.distances()[index];
        Ok(self.ground.bends.times(&self.rates, (pin, part.length)))
    }

    /// Segments in which a place of a part may turn in compression: the ends are pulled less than the
    /// middle by no more than what hangs between them, but by nobody knows what while part of that is
    /// not in the hole.
    fn may_press(
        &self,
        (part, pin): (&Part, f64),
        middle: &Walk<'_>,
        found: &PartExposure,
    ) -> Vec<Turning> {
        if !found.turned {
            return Vec::new();
        }
        let between = part.length * part.buoyed_weight(&self.ground.case.fluids).abs();
        let pulled = found.min_tension.is_some_and(|least| least >= between);
        let box_shoulder = pin + part.length;
        let may_press = |turning: &&Turning| {
            turning.high > pin
                && (turning.low < box_shoulder || !pulled && middle.least(turning) < between)
        };
        self.passes.iter().filter(may_press).copied().collect()
    }

    /// A part and the distances of its places from the bit.
    pub(super) fn located(&self, index: usize) -> Result<(&Part, [f64; 3]), CaseError> {
        let string = &self.ground.case.string;
        let parts = self.len();
        let part = string.parts()[..parts].get(index);
        let part = part.ok_or(CaseError::NoSuchPart { part: index, parts })?;
        let bottom = string.distances()[index];
        Ok((part, self.ground.settings.places.above_pin(part.length).map(|above| bottom + above)))
    }

    /// The responses of a part's places.
    pub(super) fn responses(&self, part: &Part) -> [Response; 3] {
        Response::of(part, &self.ground.settings, &self.ground.lives)
    }

    /// A place at a distance from the bit, and its walk.
    pub(super) fn place(
        &self,
        part: &Part,
        response: &Response,
        distance: f64,
    ) -> (LocationDamage<'_>, Walk<'_>) {
        let Ground { hole, hangings, rules, settings, .. } = &*self.ground;
        let level = hangings.level(distance);
        let deepest = self.deepest[level].get_or_init(|| hangings.deepest(level, &self.passes));
        let passes = (&self.passes[..], &deepest[..]);
        let walk = Walk::new(hole, hangings, passes, distance, response.slenderness());
        (LocationDamage::new(part, settings, response, (rules, walk, self.wide)), walk)
    }

    /// The middle of a joint: damage, and what is asked of the middle only.
    fn middle(
        &self,
        part: &Part,
        mut place: LocationDamage<'_>,
        walk: &Walk<'_>,
        chunk: &mut Chunk,
        found: &mut PartExposure,
    ) {
        let body = Body::new(&self.ground.case, part);
        let mut middle = Middle::new();
        let mut bent = false;
        let mut flush = |chunk: &mut Chunk, middle: &mut Middle| {
            if chunk.len > 0 {
                let summary = place.add(chunk);
                place.add_above_limit(chunk, &summary);
                middle.add(
                    chunk,
                    &summary,
                    &body,
                    (self.ground.rules.for_forces(), self.wide),
                    walk,
                    found,
                );
                chunk.len = 0;
            }
        };
        walk.pieces::<true>(|step| {
            let short = &self.ground.hole.shorts[step.short];
            middle.put(chunk.len, short, step.along);
            chunk.push(&step.piece);
            bent |= step.piece.bend > 0.0;
            if chunk.is_full() {
                flush(chunk, &mut middle);
            }
        });
        flush(chunk, &mut middle);
        take(found, MIDDLE, &place);
        if let Some([low, high]) = middle.tension(walk) {
            (found.min_tension, found.max_tension) = (Some(low), Some(high));
        }
        let unknown = part.kind.spans_tool_joints() && part.tool_joint_od.is_none();
        if unknown && bent {
            found.flags.add(Flags::CONTACT_UNKNOWN);
            found.hours_in_contact = [None; 3];
        }
    }

    fn environment(&self, part: &Part, found: &mut PartExposure) {
        let around = &self.ground.case.environment;
        let hot = around.hottest_celsius.is_some_and(|t| t > self.ground.settings.hottest_celsius);
        found.flags.add_if(hot, Flags::HOT);
        found.flags.add_if(around.hydrogen_sulphide, Flags::HYDROGEN_SULPHIDE);
        found.flags.add_if(part.material.metal != Metal::Steel, Flags::NOT_STEEL);
        found.flags.add_if(found.beyond_survey > 0.0, Flags::BEYOND_SURVEY);
    }
}

/// Takes what was added up at a place.
fn take(found: &mut PartExposure, which: usize, place: &LocationDamage<'_>) {
    found.damage[which] = place.damage;
    found.max_bending_stress[which] = place.bending_stress();
    found.revolutions_above_limit[which] = place.above_limit;
    found.revolutions_above_limit_at_notch[which] = place.above_limit_at_notch;
    found.hours_in_contact[which] = place.hours_in_contact();
    found.flags.add(place.flags);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanics::bending::PermissibleStress;
    use crate::mechanics::fatigue::CurveTable;
    use crate::mechanics::path::{Path, Station};
    use crate::mechanics::string::{
        Bore, DrillString, Environment, Fluids, Kind, Material, Segment,
    };
    use crate::model::Activity;

    fn run() -> RunCase {
        let stations: Vec<Station> = (0..60_u32)
            .map(|i| {
                let x = f64::from(i);
                let inc = (1.7 * (x - 20.0)).max(0.0).min(70.0 + 5.0 * libm::sin(x));
                Station::from_degrees(12.0 * x, inc, 30.0 + 40.0 * libm::sin(0.3 * x))
            })
            .collect();
        let parts = (0..70_u32)
            .map(|i| {
                let (kind, od, id, air_weight) = match i {
                    0..5 => (Kind::DrillCollar, 0.1651, 0.0714, 136.0),
                    5..9 => (Kind::HeavyWeight, 0.127, 0.0762, 73.4),
                    _ => (Kind::DrillPipe, 0.127, 0.1086 + 1e-4 * f64::from(i % 7), 31.0),
                };
                Part {
                    kind,
                    length: 9.4 + 0.01 * f64::from(i % 11),
                    od,
                    id,
                    air_weight,
                    tool_joint_od: Some(0.168),
                    material: Material::steel(724.0e6, 793.0e6),
                    permissible: PermissibleStress::GradeE,
                    concentration: [1.0, 1.0, 1.2],
                }
            })
            .collect();
        let log = [
            (Activity::RotatingOnBottom, 400.0, 520.0, 9.0, 110.0, 80e3),
            (Activity::ReamingUp, 520.0, 505.0, 0.4, 60.0, 0.0),
            (Activity::ReamingDown, 505.0, 520.0, 0.4, 60.0, 0.0),
            (Activity::Sliding, 520.0, 530.0, 2.0, 0.0, 60e3),
            (Activity::RotatingOnBottom, 530.0, 640.0, 8.0, 140.0, 60e3),
            (Activity::RotatingOffBottom, 638.0, 638.0, 0.5, 100.0, 0.0),
        ];
        RunCase {
            path: Path::new(&stations).unwrap(),
            string: DrillString::new(parts).unwrap(),
            segments: log
                .map(|(activity, bit_from, bit_to, hours, rpm, wob)| Segment {
                    activity,
                    bit_from,
                    bit_to,
                    hours,
                    revolutions: rpm * 60.0 * hours,
                    wob,
                    torque: None,
                    hookload: None,
                })
                .to_vec(),
            fluids: Fluids { inside: 1200.0, outside: 1250.0 },
            cased_to: 300.0,
            riser_to: 0.0,
            bore: Bore::everywhere(0.2159),
            environment: Environment { hydrogen_sulphide: true, hottest_celsius: Some(140.0) },
        }
    }

    /// What the scalar loops give, the widest vectors of this machine give, on every curve family.
    #[test]
    fn lanes_and_scalars_agree_to_the_bit() {
        let case = run();
        let curves = CurveTable::shipped().unwrap();
        let mut general = curves.get("DNVGL-RP-C203 2016 air D").unwrap().clone();
        general.m = 3.25;
        general.knee = None;
        let picked = [
            "DNVGL-RP-C203 2016 air B1",
            "DNV-RP-C203 2024-10 air C",
            "DNVGL-RP-C203 2016 protected F1",
            "DNVGL-RP-C203 2016 corrosive D",
            "BS 7608 family class-society rules air B",
            "BS 7608 family class-society rules air C",
        ];
        let picked = picked.map(|name| curves.get(name).unwrap().clone());
        for curve in picked.iter().chain([&general]) {
            for points in [2, 3, 5] {
                let settings = Settings { points, ..Settings::with_curve(curve) };
                let wide = PreparedRun::new(&case, &settings).unwrap();
                let mut scalar = wide.clone();
                scalar.wide = pulp::Arch::Scalar;
                let all = |run: &PreparedRun| -> Vec<PartExposure> {
                    (0..run.len()).map(|i| run.part(i).unwrap()).collect()
                };
                assert_eq!(all(&wide), all(&scalar), "{}", curve.name());
            }
        }
    }

    #[test]
    fn what_limits_a_result_is_flagged() {
        let case = run();
        let curves = CurveTable::shipped().unwrap();
        let settings = Settings::with_curve(curves.get("DNVGL-RP-C203 2016 air B1").unwrap());
        let run = PreparedRun::new(&case, &settings).unwrap();
        let collar = run.part(0).unwrap();
        for flag in [Flags::COMPRESSION, Flags::HOT, Flags::HYDROGEN_SULPHIDE] {
            assert!(collar.flags.contains(flag), "{flag:?} of {:?}", collar.flags);
        }
        assert!(collar.min_tension.unwrap() < 0.0);
        assert!(!collar.flags.contains(Flags::BUCKLING_UNKNOWN));

        let mut other = case.clone();
        other.bore = Bore::default();
        let mut parts = case.string.parts().to_vec();
        parts[20].material.metal = Metal::Aluminium;
        parts[21].tool_joint_od = None;
        other.string = DrillString::new(parts).unwrap();
        other.segments[4].bit_to = 760.0;
        let run = PreparedRun::new(&other, &settings).unwrap();
        assert!(run.part(0).unwrap().flags.contains(Flags::BUCKLING_UNKNOWN));
        assert!(run.part(0).unwrap().flags.contains(Flags::BEYOND_SURVEY));
        assert!((run.part(0).unwrap().beyond_survey - (760.0 - 4.7 - 708.0)).abs() < 1e-9);
        assert!(run.part(20).unwrap().flags.contains(Flags::NOT_STEEL));
        assert!(run.part(21).unwrap().flags.contains(Flags::CONTACT_UNKNOWN));
    }

    #[test]
    fn a_part_that_is_not_there_is_named() {
        let case = run();
        let curves = CurveTable::shipped().unwrap();
        let settings = Settings::with_curve(curves.get("DNVGL-RP-C203 2016 air B1").unwrap());
        let run = PreparedRun::new(&case, &settings).unwrap();
        assert_eq!(run.part(70).unwrap_err(), CaseError::NoSuchPart { part: 70, parts: 70 });
    }

    #[test]
    fn casing_and_open_hole_share_the_turns() {
        let case = run();
        let curves = CurveTable::shipped().unwrap();
        let settings = Settings::with_curve(curves.get("DNVGL-RP-C203 2016 air B1").unwrap());
        let run = PreparedRun::new(&case, &settings).unwrap();
        for (index, part) in case.string.parts().iter().enumerate() {
            let e = run.part(index).unwrap();
            let middle = case.string.distances()[index] + 0.5 * part.length;
            if middle < 100.0 {
                assert!(e.hours_in_casing <= 0.0);
                assert!((e.revolutions_open_hole - e.revolutions).abs() < 1e-9);
            }
            if middle > 340.0 {
                assert!((e.hours_in_casing - e.rotating_hours).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn an_empty_log_exposes_nothing() {
        let case = RunCase { segments: Vec::new(), ..run() };
        let curves = CurveTable::shipped().unwrap();
        let settings = Settings::with_curve(curves.get("DNVGL-RP-C203 2016 air B1").unwrap());
        let e = PreparedRun::new(&case, &settings).unwrap().part(3).unwrap();
        assert!(
            e.damage.iter().all(|d| *d <= 0.0) && e.max_tension.is_none() && e.deepest.is_none()
        );
    }
}
