//! The straightforward integration: every kink of the integrand is a boundary, exact geometry at
//! every point, Gauss–Legendre between. Slow and plain on purpose: it is what the fast kernel is
//! held against, and what profiles by depth and activity are made with.

use super::outcome::{BAND_WIDTH, BANDS, Flags, PartExposure};
use super::quadrature::gauss_legendre;
use super::response::{Life, Response};
use super::settings::{BOX_END, MIDDLE, Settings};
use super::special;
use super::tally::{Swept, tally};
use crate::mechanics::bending::{Span, Tube};
use crate::mechanics::loads::rotating::{WeightStep, weight_steps};
use crate::mechanics::loads::{Column, side_force};
use crate::mechanics::path::degrees_per_30m;
use crate::mechanics::string::{CaseError, Part, RunCase, Segment};

/// Index of the dogleg band of a curvature (rad/m).
pub(super) fn band(curvature: f64) -> usize {
    let mut index = 0;
    let bands = degrees_per_30m(curvature) / BAND_WIDTH;
    while index + 1 < BANDS && bands >= (index + 1) as f64 {
        index += 1;
    }
    index
}

/// A smooth piece of a segment: bit depths at its ends, the arc that the place lies on, its turns.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    pub bit: (f64, f64),
    pub arc: usize,
    pub turns: f64,
    pub hours: f64,
}

/// One place of one part: distance from the bit, weight steps below, own weight.
pub(super) struct Place<'a> {
    case: &'a RunCase,
    steps: &'a [WeightStep],
    pub distance: f64,
}

impl Place<'_> {
    /// Effective tension with the bit at a depth.
    pub(super) fn tension(&self, bit: f64, wob: f64) -> f64 {
        let mut tension = -wob;
        let mut below = 0.0;
        let mut weight = 0.0;
        for step in self.steps {
            let tvd = self.case.path.tvd(bit - step.distance);
            tension += weight * (below - tvd);
            (below, weight) = (tvd, step.weight);
        }
        tension + weight * (below - self.case.path.tvd(bit - self.distance))
    }

    /// Own buoyed weight, N/m.
    fn weight(&self) -> f64 {
        self.steps.last().map_or(0.0, |s| s.weight)
    }

    /// Cuts a segment where the place or a weight step below it passes from arc to arc, and at
    /// these depths besides.
    pub(super) fn pieces(&self, segment: &Segment, cuts: &[f64]) -> Vec<Piece> {
        let swept = Swept::new(segment, self.distance);
        let (turns, hours) = (segment.turns(), segment.hours);
        let path = &self.case.path;
        if swept.high <= 0.0 {
            return Vec::new();
        }
        let (low, high) = (swept.low.max(0.0) + self.distance, swept.high + self.distance);
        if high <= low {
            let arc = path.arc_index(swept.high);
            return vec![Piece { bit: (high, high), arc, turns, hours }];
        }
        let mut ends = vec![low, high];
        let inside = |b: &f64| *b > low && *b < high;
        for arc in path.arcs() {
            ends.extend(Some(arc.md + self.distance).filter(inside));
            ends.extend(self.steps.iter().map(|s| arc.md + s.distance).filter(inside));
        }
        ends.extend(cuts.iter().map(|c| c + self.distance).filter(inside));
        ends.sort_by(f64::total_cmp);
        ends.dedup();
        let share = 1.0 / (swept.high - swept.low);
        let piece = |pair: &[f64]| {
            let (from, to) = (pair[0], pair[1]);
            Piece {
                bit: (from, to),
                arc: path.arc_index(0.5 * (from + to) - self.distance),
                turns: turns * (to - from) * share,
                hours: hours * (to - from) * share,
            }
        };
        ends.windows(2).map(piece).collect()
    }
}

/// Cuts an interval where a function changes sign, as far as five points show it.
fn cut_at_zeros(from: f64, to: f64, f: impl Fn(f64) -> f64, into: &mut Vec<f64>) {
    let points = 4;
    let mut left = (from, f(from));
    for i in 1..=points {
        let x = from + (to - from) * f64::from(i) / f64::from(points);
        let right = (x, f(x));
        if (left.1 > 0.0) != (right.1 > 0.0) {
            let (mut low, mut high) = (left.0, right.0);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if (f(middle) > 0.0) == (left.1 > 0.0) { low = middle } else { high = middle }
            }
            into.push(0.5 * (low + high));
        }
        left = right;
    }
}

/// Where a smooth function is largest on an interval: between the neighbours of the highest of nine
/// points.
fn highest((from, to): (f64, f64), f: impl Fn(f64) -> f64) -> f64 {
    let step = 0.125 * (to - from);
    let mut best = (from, f(from));
    for i in 1..=8 {
        let x = from + step * f64::from(i);
        let here = (x, f(x));
        if here.1 > best.1 {
            best = here;
        }
    }
    let around = ((best.0 - step).max(from), (best.0 + step).min(to));
    let (x, value) = special::highest(f, around);
    if value > best.1 { x } else { best.0 }
}

/// Ends of an interval and where a smooth function is largest and smallest on it.
fn extremes((from, to): (f64, f64), f: impl Fn(f64) -> f64) -> [f64; 4] {
    [from, to, highest((from, to), &f), highest((from, to), |x| -f(x))]
}

/// A run made ready for plain integration.
pub(super) struct Plain<'a> {
    case: &'a RunCase,
    settings: &'a Settings,
    steps: Vec<WeightStep>,
    lives: [Life; 3],
    rule: Vec<(f64, f64)>,
}

impl<'a> Plain<'a> {
    pub(super) fn new(case: &'a RunCase, settings: &'a Settings) -> Result<Self, CaseError> {
        case.check()?;
        Ok(Self {
            case,
            settings,
            steps: weight_steps(&case.string, &case.fluids),
            lives: [0, 1, 2].map(|i| Life::new(&settings.curves[i])),
            rule: gauss_legendre(settings.points),
        })
    }

    fn part_of(&self, index: usize) -> Result<(&Part, f64), CaseError> {
        let parts = self.case.string.parts();
        let part =
            parts.get(index).ok_or(CaseError::NoSuchPart { part: index, parts: parts.len() })?;
        Ok((part, self.case.string.distances()[index]))
    }

    /// A place at a distance from the bit.
    fn place(&self, distance: f64) -> Place<'_> {
        let below = self.steps.partition_point(|s| s.distance <= distance).max(1);
        Place { case: self.case, steps: &self.steps[..below], distance }
    }

    fn curvature(&self, arc: usize) -> f64 {
        self.case.path.arcs()[arc].curvature + self.settings.tortuosity
    }

    /// Calls `each` with depth and damage of every quadrature point of one place of one part.
    pub(super) fn damage(
        &self,
        index: usize,
        which: usize,
        cuts: &[f64],
        mut each: impl FnMut(&Segment, f64, f64),
    ) -> Result<(), CaseError> {
        let (part, bottom) = self.part_of(index)?;
        let response = Response::of(part, self.settings, &self.lives)[which];
        let above = self.settings.places.above_pin(part.length)[which];
        let place = self.place(bottom + above);
        for segment in self.case.segments.iter().filter(|s| s.turns() > 0.0) {
            for piece in place.pieces(segment, cuts) {
                let curvature = self.curvature(piece.arc);
                if curvature <= 0.0 {
                    continue;
                }
                let tension = |bit| place.tension(bit, segment.wob);
                let (from, to) = piece.bit;
                let mut ends = vec![from, to];
                cut_at_zeros(from, to, tension, &mut ends);
                let over = |bit| response.range(tension(bit), curvature) - response.life.knee;
                cut_at_zeros(from, to, over, &mut ends);
                ends.sort_by(f64::total_cmp);
                if to <= from {
                    let d = piece.turns * response.damage(tension(to), curvature);
                    each(segment, to - place.distance, d);
                    continue;
                }
                for pair in ends.windows(2) {
                    let (a, b) = (pair[0], pair[1]);
                    let turns = piece.turns * (b - a) / (to - from);
                    for (x, w) in &self.rule {
                        let bit = a + (b - a) * x;
                        let d = turns * w * response.damage(tension(bit), curvature);
                        each(segment, bit - place.distance, d);
                    }
                }
            }
        }
        Ok(())
    }

    /// Everything about one part.
    pub(super) fn part(&self, index: usize) -> Result<PartExposure, CaseError> {
        let (part, bottom) = self.part_of(index)?;
        let above = self.settings.places.above_pin(part.length);
        let responses = Response::of(part, self.settings, &self.lives);
        let mut found = tally(self.case, &self.case.segments, bottom + above[MIDDLE]);
        for which in 0..3 {
            let mut sum = 0.0;
            self.damage(index, which, &[], |_, _, d| sum += d)?;
            found.damage[which] = sum;
            let place = self.place(bottom + above[which]);
            for segment in self.case.segments.iter().filter(|s| s.turns() > 0.0) {
                for piece in place.pieces(segment, &[]) {
                    let curvature = self.curvature(piece.arc);
                    for bit in extremes(piece.bit, |bit| place.tension(bit, segment.wob)) {
                        let t = place.tension(bit, segment.wob);
                        let stress = responses[which].bending_stress(t, curvature);
                        found.max_bending_stress = found.max_bending_stress.max(stress);
                    }
                }
            }
        }
        self.middle(part, &self.place(bottom + above[MIDDLE]), &mut found);
        if part.kind.spans_tool_joints() {
            let place = self.place(bottom + above[BOX_END]);
            found.revolutions_above_limit = self.turns_above_limit(part, &place);
        }
        self.environment(part, &mut found);
        Ok(found)
    }

    fn tube(part: &Part) -> Tube {
        Tube {
            od: part.od,
            area: part.area(),
            young: part.material.young,
            span: Span {
                half_length: 0.5 * part.length,
                stiffness: part.stiffness(),
                standoff: part.standoff(),
            },
        }
    }

    /// Turns in doglegs above the one without fatigue.
    fn turns_above_limit(&self, part: &Part, place: &Place<'_>) -> f64 {
        let tube = Self::tube(part);
        let factor = self.settings.limit_factor;
        let mut turns = 0.0;
        for segment in self.case.segments.iter().filter(|s| s.turns() > 0.0) {
            for piece in place.pieces(segment, &[]) {
                let (from, to) = piece.bit;
                let over = |bit| {
                    let t = place.tension(bit, segment.wob);
                    self.curvature(piece.arc)
                        - tube.no_fatigue_curvature(part.permissible, t, factor)
                };
                let mut ends = vec![from, to];
                cut_at_zeros(from, to, over, &mut ends);
                ends.sort_by(f64::total_cmp);
                for pair in ends.windows(2) {
                    let share = if to > from { (pair[1] - pair[0]) / (to - from) } else { 1.0 };
                    if over(0.5 * (pair[0] + pair[1])) > 0.0 {
                        turns += piece.turns * share;
                    }
                }
            }
        }
        turns
    }

    /// What is asked of the middle only.
    fn middle(&self, part: &Part, place: &Place<'_>, found: &mut PartExposure) {
        let tube = Self::tube(part);
        let per_joint = part.length * core::f64::consts::PI * part.contact_diameter();
        let strut = self.case.hole_diameter.map(|hole| {
            let strut = Column {
                stiffness: part.stiffness(),
                weight: part.buoyed_weight(&self.case.fluids),
                clearance: 0.5 * (hole - part.contact_diameter()),
                inc: 0.0,
                build: 0.0,
                turn: 0.0,
            };
            strut.limits()
        });
        for segment in self.case.segments.iter().filter(|s| s.turns() > 0.0) {
            for piece in place.pieces(segment, &[]) {
                let curvature = self.curvature(piece.arc);
                let (from, to) = piece.bit;
                let tension = |bit| place.tension(bit, segment.wob);
                found.max_curvature = found.max_curvature.max(curvature);
                let in_band = band(curvature);
                found.bands.turns[in_band] += piece.turns;
                found.bands.hours[in_band] += piece.hours;
                for bit in extremes(piece.bit, tension) {
                    let t = tension(bit);
                    found.max_tension = Some(found.max_tension.map_or(t, |m| m.max(t)));
                    found.min_tension = Some(found.min_tension.map_or(t, |m| m.min(t)));
                    self.flags(part, &tube, piece.arc, t, found);
                }
                let weight = place.weight();
                // the side force has a corner, or nearly, where tension comes to carry the weight
                let arc = self.case.path.arcs()[piece.arc];
                let inward = |bit| {
                    let normal = arc.normal_at(bit - place.distance - arc.md);
                    tension(bit) * arc.curvature + weight * normal.down
                };
                let mut ends = vec![from, to];
                cut_at_zeros(from, to, inward, &mut ends);
                ends.sort_by(f64::total_cmp);
                for pair in ends.windows(2) {
                    let (a, b) = (pair[0], pair[1]);
                    let share = if to > from { (b - a) / (to - from) } else { 1.0 };
                    // a nanometre inside, so that an end belongs to this piece's arc
                    let inside = |x: f64| a + (b - a) * x + 1e-9 * (1.0 - 2.0 * x);
                    let bit = |x: f64| if to > from { inside(x) } else { to };
                    let force = |x: f64| {
                        let bit = bit(x);
                        side_force(&self.case.path, bit - place.distance, tension(bit), weight)
                    };
                    let mean = self.mean((0.0, 1.0), &force, 12);
                    found.side_force_work += piece.turns * share * mean * per_joint;
                    let peak = force(highest((0.0, 1.0), force));
                    found.max_side_force = found.max_side_force.max(peak);
                    if let Some((scale, vertical)) = strut {
                        // compression beyond the critical one
                        let over = |x| -tension(bit(x)) - vertical.max((scale * force(x)).sqrt());
                        let most = over(highest((0.0, 1.0), over)).max(over(0.0)).max(over(1.0));
                        found.flags.add_if(most > 0.0, Flags::BUCKLED);
                    }
                }
            }
        }
    }

    /// Integral of a function that may have corners: the rule on halves, again and again where that
    /// changes it.
    fn mean(&self, (from, to): (f64, f64), f: &impl Fn(f64) -> f64, depth: u32) -> f64 {
        let middle = 0.5 * (from + to);
        let apply = |a: f64, b: f64| {
            let terms = self.rule.iter().map(|(x, w)| w * f(a + (b - a) * x));
            (b - a) * terms.sum::<f64>()
        };
        let (left, right) = (apply(from, middle), apply(middle, to));
        let whole = apply(from, to);
        if depth == 0 || (left + right - whole).abs() <= 1e-10 * whole.abs() {
            return left + right;
        }
        self.mean((from, middle), f, depth - 1) + self.mean((middle, to), f, depth - 1)
    }

    fn flags(&self, part: &Part, tube: &Tube, arc: usize, tension: f64, found: &mut PartExposure) {
        let curvature = self.curvature(arc);
        let flags = &mut found.flags;
        if tension < 0.0 {
            flags.add(Flags::COMPRESSION);
            flags.add_if(self.case.hole_diameter.is_none(), Flags::BUCKLING_UNKNOWN);
        }
        if part.kind.spans_tool_joints() && curvature > 0.0 {
            if part.tool_joint_od.is_none() {
                flags.add(Flags::CONTACT_UNKNOWN);
            } else {
                flags.add_if(curvature > tube.span.contact_curvature(tension), Flags::WALL_CONTACT);
            }
        }
        let axial = tension * tube.area.recip();
        flags.add_if(axial > part.permissible.highest_axial(), Flags::OVERPULLED);
    }

    fn environment(&self, part: &Part, found: &mut PartExposure) {
        use crate::mechanics::string::Metal;
        let around = &self.case.environment;
        let hot = around.hottest_celsius.is_some_and(|t| t > self.settings.hottest_celsius);
        found.flags.add_if(hot, Flags::HOT);
        found.flags.add_if(around.hydrogen_sulphide, Flags::HYDROGEN_SULPHIDE);
        found.flags.add_if(part.material.metal != Metal::Steel, Flags::NOT_STEEL);
        found.flags.add_if(found.beyond_survey > 0.0, Flags::BEYOND_SURVEY);
    }
}
