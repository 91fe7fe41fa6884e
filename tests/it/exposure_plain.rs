//! Exposure by plain integration: every kink of the integrand is a boundary, exact geometry at every
//! point, Gauss–Legendre between. Slow and straightforward on purpose: what the kernel is held
//! against. It shares no code with the kernel but the formulas of bending, fatigue and loads.

use std::f64::consts::PI;

use pipelore::mechanics::exposure::{BAND_WIDTH, BANDS, Flags, MIDDLE, PartExposure, Settings};
use pipelore::mechanics::fatigue::stress::StressRange;
use pipelore::mechanics::fatigue::{Loading, StressAmplitude};
use pipelore::mechanics::loads::Column;
use pipelore::mechanics::loads::rotating::{WeightStep, weight_steps};
use pipelore::mechanics::path::{Path, degrees_per_30m};
use pipelore::mechanics::string::{Metal, Part, RunCase, Segment};
use rayon::prelude::*;

/// Exposure of one part, counted from the bit, with this many points on each smooth piece.
pub fn plain(case: &RunCase, settings: &Settings, points: usize, part: usize) -> PartExposure {
    Plain::new(case, settings, points).part(part)
}

/// Exposure of every part.
pub fn plain_all(case: &RunCase, settings: &Settings, points: usize) -> Vec<PartExposure> {
    let run = Plain::new(case, settings, points);
    (0..case.string.parts().len()).into_par_iter().map(|part| run.part(part)).collect()
}

/// Side force per metre, N/m: the tension pulls to the inside of the bend with Tκ, the weight presses
/// down with its part across the hole. With tangent t, normal n, binormal b and down k that is
/// √[(Tκ + w n·k)² + (w b·k)²]; in a straight piece w sin I.
pub fn side_force(path: &Path, md: f64, tension: f64, weight: f64) -> f64 {
    if md < 0.0 {
        return 0.0;
    }
    let arc = &path.arcs()[path.arc_index(md)];
    let s = md - arc.md;
    if arc.curvature == 0.0 {
        let t = arc.tangent_at(s);
        return weight * t.north.hypot(t.east);
    }
    let in_plane = tension * arc.curvature + weight * arc.normal_at(s).down;
    in_plane.hypot(weight * arc.binormal_down())
}

/// Nodes and weights on 0 to 1: roots of the Legendre polynomial by Newton.
fn gauss_legendre(n: usize) -> Vec<(f64, f64)> {
    let legendre = |x: f64| {
        let (mut before, mut value) = (1.0, x);
        for k in 2..=n {
            let k = k as f64;
            (before, value) = (value, ((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k);
        }
        (value, n as f64 * (x * value - before) / (x * x - 1.0))
    };
    let node = |i: usize| {
        let mut x = (PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
        for _ in 0..8 {
            let (value, slope) = legendre(x);
            x -= value / slope;
        }
        let slope = legendre(x).1;
        (0.5 * (1.0 - x), 1.0 / ((1.0 - x * x) * slope * slope))
    };
    (0..n).map(node).collect()
}

/// Index of the dogleg band of a curvature (rad/m).
fn band(curvature: f64) -> usize {
    // an edge that is met but for rounding is met
    let bands = degrees_per_30m(curvature) / BAND_WIDTH + 1e-9;
    (1..BANDS).take_while(|edge| bands >= *edge as f64).count()
}

/// A smooth piece of a segment: bit depths at its ends, the arc that the location lies on, its turns.
#[derive(Clone, Copy)]
struct Piece {
    bit: (f64, f64),
    arc: usize,
    turns: f64,
}

/// One location of one part: distance from the bit, weight steps below.
struct Location<'a> {
    case: &'a RunCase,
    steps: &'a [WeightStep],
    distance: f64,
}

impl Location<'_> {
    /// Effective tension with the bit at a depth.
    fn tension(&self, bit: f64, wob: f64) -> f64 {
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

    /// Depths between which a segment moves this location.
    fn swept(&self, segment: &Segment) -> (f64, f64) {
        let (low, high) = segment.reach();
        (low - self.distance, high - self.distance)
    }

    /// Share of a segment's time that it spends deeper than a depth.
    fn share_below(&self, segment: &Segment, depth: f64) -> f64 {
        match self.swept(segment) {
            (low, high) if low >= depth && high > depth => 1.0,
            (_, high) if high <= depth => 0.0,
            (low, high) => (high - depth) / (high - low),
        }
    }

    /// Cuts a segment where the location or a weight step below it passes from arc to arc.
    fn pieces(&self, segment: &Segment) -> Vec<Piece> {
        let turns = segment.turns();
        let path = &self.case.path;
        let (shallow, deep) = self.swept(segment);
        if deep <= 0.0 {
            return Vec::new();
        }
        let (low, high) = (shallow.max(0.0) + self.distance, deep + self.distance);
        if high <= low {
            return vec![Piece { bit: (high, high), arc: path.arc_index(deep), turns }];
        }
        let mut ends = vec![low, high];
        let inside = |b: &f64| *b > low && *b < high;
        for arc in path.arcs() {
            ends.extend(Some(arc.md + self.distance).filter(inside));
            ends.extend(self.steps.iter().map(|s| arc.md + s.distance).filter(inside));
        }
        for section in self.case.bore.sections() {
            ends.extend(
                [section.from, section.to]
                    .map(|md| md + self.distance)
                    .iter()
                    .filter(|b| inside(b)),
            );
        }
        ends.sort_by(f64::total_cmp);
        ends.dedup();
        let share = 1.0 / (deep - shallow);
        let piece = |pair: &[f64]| {
            let (from, to) = (pair[0], pair[1]);
            Piece {
                bit: (from, to),
                arc: path.arc_index(0.5 * (from + to) - self.distance),
                turns: turns * (to - from) * share,
            }
        };
        ends.windows(2).map(piece).collect()
    }
}

/// An interval cut where functions change sign, as far as five points show it.
fn cut_at_zeros((from, to): (f64, f64), functions: &[&dyn Fn(f64) -> f64]) -> Vec<f64> {
    let mut ends = vec![from, to];
    for f in functions {
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
                ends.push(0.5 * (low + high));
            }
            left = right;
        }
    }
    ends.sort_by(f64::total_cmp);
    ends
}

/// Where a smooth function is largest on an interval: golden section between the neighbours of the
/// highest of nine points.
fn highest((from, to): (f64, f64), f: impl Fn(f64) -> f64) -> f64 {
    let step = 0.125 * (to - from);
    let points = (0..=8).map(|i| from + step * f64::from(i)).map(|x| (x, f(x)));
    let best = points.reduce(|a, b| if b.1 > a.1 { b } else { a }).unwrap();
    let (mut low, mut high) = ((best.0 - step).max(from), (best.0 + step).min(to));
    let share = 0.5 * (5.0_f64.sqrt() - 1.0);
    let mut inner = [high - share * (high - low), low + share * (high - low)].map(|x| (x, f(x)));
    for _ in 0..25 {
        if inner[0].1 > inner[1].1 {
            high = inner[1].0;
            let x = high - share * (high - low);
            inner = [(x, f(x)), inner[0]];
        } else {
            low = inner[0].0;
            let x = low + share * (high - low);
            inner = [inner[1], (x, f(x))];
        }
    }
    inner.into_iter().fold(best, |a, b| if b.1 > a.1 { b } else { a }).0
}

/// Ends of an interval and where a smooth function is largest and smallest on it.
fn extremes((from, to): (f64, f64), f: impl Fn(f64) -> f64) -> [f64; 4] {
    [from, to, highest((from, to), &f), highest((from, to), |x| -f(x))]
}

/// Bending and fatigue at one location of a part in a hole of some diameter.
struct Response<'a> {
    part: &'a Part,
    settings: &'a Settings,
    location: usize,
    hole: Option<f64>,
}

impl Response<'_> {
    /// Nominal bending stress amplitude, Pa; none where the span buckles.
    fn bending_stress(&self, tension: f64, curvature: f64) -> Option<f64> {
        let part = self.part;
        let magnified = match part.span(self.hole) {
            None => 1.0,
            Some(span) => {
                let bend = span.bend(tension, curvature)?;
                if self.location == MIDDLE { bend.middle } else { bend.ends }
            }
        };
        Some(0.5 * part.material.young * part.od * curvature * magnified)
    }

    fn loading(&self, tension: f64, curvature: f64) -> Loading<'_> {
        Loading {
            amplitude: StressAmplitude::from_pascals(
                self.bending_stress(tension, curvature).unwrap_or(0.0),
            ),
            mean: tension.max(0.0) / self.part.area(),
            concentration: self.part.concentration[self.location],
            rule: self.settings.mean_stress,
            material: &self.part.material,
        }
    }

    /// Damage of one turn.
    fn damage(&self, tension: f64, curvature: f64) -> f64 {
        self.loading(tension, curvature).turn(&self.settings.curves[self.location]).damage
    }

    /// Stress range above that of the knee, MPa.
    fn over_knee(&self, tension: f64, curvature: f64) -> f64 {
        let curve = &self.settings.curves[self.location];
        let range = self.loading(tension, curvature).turn(curve).range.megapascals();
        range - curve.knee_range().map_or(0.0, StressRange::megapascals)
    }
}

/// A run made ready for plain integration.
struct Plain<'a> {
    case: &'a RunCase,
    settings: &'a Settings,
    steps: Vec<WeightStep>,
    rule: Vec<(f64, f64)>,
}

impl<'a> Plain<'a> {
    fn new(case: &'a RunCase, settings: &'a Settings, points: usize) -> Self {
        let steps = weight_steps(&case.string, &case.fluids);
        Self { case, settings, steps, rule: gauss_legendre(points) }
    }

    /// A location at a distance from the bit.
    fn location(&self, distance: f64) -> Location<'_> {
        let below = self.steps.partition_point(|s| s.distance <= distance).max(1);
        Location { case: self.case, steps: &self.steps[..below], distance }
    }

    fn turning(&self) -> impl Iterator<Item = &Segment> {
        self.case.segments.iter().filter(|s| s.turns() > 0.0)
    }

    fn curvature(&self, arc: usize) -> f64 {
        self.case.path.arcs()[arc].curvature + self.settings.tortuosity
    }

    /// Everything about one part.
    fn part(&self, index: usize) -> PartExposure {
        let (part, bottom) =
            (&self.case.string.parts()[index], self.case.string.distances()[index]);
        let above = self.settings.places.above_pin(part.length);
        let mut found = self.times(&self.location(bottom + above[MIDDLE]));
        for (which, above) in above.into_iter().enumerate() {
            let location = self.location(bottom + above);
            for segment in self.turning() {
                for piece in location.pieces(segment) {
                    let md = 0.5 * (piece.bit.0 + piece.bit.1) - location.distance;
                    let hole = self.case.bore.at(md);
                    let response =
                        Response { part, settings: self.settings, location: which, hole };
                    self.bend(&response, &location, segment, piece, &mut found);
                }
            }
        }
        self.middle(part, &self.location(bottom + above[MIDDLE]), &mut found);
        self.doglegs(part, bottom, &mut found);
        let turning = self.case.segments.iter().filter(|s| s.turns() > 0.0);
        found.turned = turning.map(|s| s.bit_from.max(s.bit_to)).any(|bit| bit > bottom);
        let around = &self.case.environment;
        let hot = around.hottest_celsius.is_some_and(|t| t > self.settings.hottest_celsius);
        found.flags.add_if(hot, Flags::HOT);
        found.flags.add_if(around.hydrogen_sulphide, Flags::HYDROGEN_SULPHIDE);
        found.flags.add_if(part.material.metal != Metal::Steel, Flags::NOT_STEEL);
        found.flags.add_if(found.beyond_survey > 0.0, Flags::BEYOND_SURVEY);
        found
    }

    /// What follows from the log and the geometry alone.
    fn times(&self, middle: &Location<'_>) -> PartExposure {
        let mut sum = PartExposure::default();
        for segment in &self.case.segments {
            let below = middle.share_below(segment, 0.0);
            if below <= 0.0 {
                continue;
            }
            let (shallow, deep) = middle.swept(segment);
            sum.hours_below_table += segment.hours * below;
            if segment.activity.drills() {
                sum.footage += (segment.bit_to - segment.bit_from).max(0.0) * below;
            }
            if segment.turns() <= 0.0 {
                continue;
            }
            let top = shallow.max(0.0);
            sum.shallowest = Some(sum.shallowest.map_or(top, |s| s.min(top)));
            sum.deepest = Some(sum.deepest.map_or(deep, |d| d.max(deep)));
            let (casing, riser) = (self.case.cased_to, self.case.riser_to);
            let open = middle.share_below(segment, casing.max(riser)).min(below);
            let below_riser = middle.share_below(segment, riser).min(below);
            sum.rotating_hours += segment.hours * below;
            sum.revolutions += segment.turns() * below;
            sum.hours_in_casing += segment.hours * (below - open);
            sum.hours_in_riser += segment.hours * (below - below_riser);
            sum.revolutions_open_hole += segment.turns() * open;
            sum.beyond_survey = sum.beyond_survey.max(deep - self.case.path.surveyed_to());
        }
        sum
    }

    /// Damage of a piece, and its largest bending stress.
    fn bend(
        &self,
        response: &Response<'_>,
        location: &Location<'_>,
        segment: &Segment,
        piece: Piece,
        found: &mut PartExposure,
    ) {
        let curvature = self.curvature(piece.arc);
        let which = response.location;
        let tension = |bit| location.tension(bit, segment.bit_load());
        let hours = piece.turns * segment.hours / segment.turns();
        let share = |pair: &[f64]| {
            let (from, to) = piece.bit;
            if to > from { (pair[1] - pair[0]) / (to - from) } else { 1.0 }
        };
        for pair in cut_at_zeros(piece.bit, &[&tension]).windows(2) {
            if tension(0.5 * (pair[0] + pair[1])) < 0.0 {
                found.hours_in_compression[which] += hours * share(pair);
            }
        }
        if curvature <= 0.0 && which != MIDDLE {
            return;
        }
        let span = response.part.span(Some(f64::INFINITY));
        let over_contact = |bit| span.map_or(-1.0, |s| s.over_contact(tension(bit), curvature));
        let over_wrap = |bit| span.map_or(-1.0, |s| s.over_wrap(tension(bit), curvature));
        let quarter = |bit| span.map_or(1.0, |s| s.load(tension(bit)) + 0.25 * PI * PI);
        let walled = response.part.span(response.hole);
        let over_buckling = |bit| walled.map_or(-1.0, |s| s.over_buckling(tension(bit), curvature));
        let states = cut_at_zeros(
            piece.bit,
            &[&tension, &over_contact, &over_wrap, &quarter, &over_buckling],
        );
        if let Some(sum) = &mut found.hours_in_contact[which] {
            let held = walled.is_some_and(|span| span.standoff.is_some());
            let touching = states.windows(2).filter(|s| over_contact(0.5 * (s[0] + s[1])) > 0.0);
            *sum += touching.filter(|_| held).map(share).sum::<f64>() * hours;
        }
        if walled.is_some_and(|span| span.standoff.is_none()) && curvature > 0.0 {
            let would = |bit: f64| over_contact(bit) > 0.0;
            if response.part.tool_joint_od.is_none() {
                found.hours_in_contact = [None; 3];
            } else if states.windows(2).any(|s| would(0.5 * (s[0] + s[1]))) {
                found.hours_in_contact[which] = None;
            }
        }
        let stress = |bit| response.bending_stress(tension(bit), curvature);
        for pair in states.windows(2) {
            for bit in extremes((pair[0], pair[1]), |bit| stress(bit).unwrap_or(0.0)) {
                let most = &mut found.max_bending_stress[which];
                *most = most.max(stress(bit).unwrap_or(0.0));
                self.note(response, (tension(bit), curvature), &mut found.flags);
            }
        }
        if curvature <= 0.0 {
            return;
        }
        let (from, to) = piece.bit;
        let factor = self.settings.limit_factor;
        let allowed = |t: f64| {
            let axial = t / response.part.area();
            factor * response.part.permissible.bending(axial).unwrap_or(0.0).max(0.0)
        };
        let concentration = response.part.concentration[which];
        for (factor, above) in [
            (1.0, &mut found.revolutions_above_limit),
            (concentration, &mut found.revolutions_above_limit_at_notch),
        ] {
            if span.is_none() {
                continue;
            }
            let over = |bit| factor * stress(bit).unwrap_or(0.0) - allowed(tension(bit));
            for state in states.windows(2) {
                for pair in cut_at_zeros((state[0], state[1]), &[&over]).windows(2) {
                    let share = if to > from { (pair[1] - pair[0]) / (to - from) } else { 1.0 };
                    if over(0.5 * (pair[0] + pair[1])) > 0.0 {
                        above[which] += piece.turns * share;
                    }
                }
            }
        }
        let damage = &mut found.damage[which];
        if to <= from {
            *damage += piece.turns * response.damage(tension(to), curvature);
            return;
        }
        let over = |bit| response.over_knee(tension(bit), curvature);
        for state in states.windows(2) {
            for pair in cut_at_zeros((state[0], state[1]), &[&over]).windows(2) {
                let (a, b) = (pair[0], pair[1]);
                let turns = piece.turns * (b - a) / (to - from);
                for (x, w) in &self.rule {
                    *damage += turns * w * response.damage(tension(a + (b - a) * x), curvature);
                }
            }
        }
    }

    /// Flags contact and buckling of the tube between its tool joints.
    fn note(&self, response: &Response<'_>, (tension, curvature): (f64, f64), flags: &mut Flags) {
        let part = response.part;
        if !part.kind.spans_tool_joints() {
            return;
        }
        let touching = part.span(Some(f64::INFINITY)).unwrap();
        let touches = curvature > touching.contact_curvature(tension);
        let walled = part.span(response.hole).unwrap().standoff.is_some();
        flags.add_if(touches && walled, Flags::WALL_CONTACT);
        flags.add_if(touches && !walled, Flags::CONTACT_UNKNOWN);
        let buckled = response.bending_stress(tension, curvature).is_none();
        flags.add_if(buckled, Flags::SPAN_BUCKLED);
    }

    /// Turns and hours by the sharpest bend anywhere along a part while its middle is below the table:
    /// segments cut wherever a shoulder passes a station.
    fn doglegs(&self, part: &Part, bottom: f64, found: &mut PartExposure) {
        let arcs = self.case.path.arcs();
        let end = |arc: usize| arcs.get(arc + 1).map_or(f64::INFINITY, |next| next.md);
        // at a depth of the pin shoulder
        let sharpest = |pin: f64| {
            let along =
                (0..arcs.len()).filter(|a| arcs[*a].md < pin && end(*a) > pin - part.length);
            along.map(|arc| self.curvature(arc)).fold(0.0, f64::max)
        };
        for segment in self.turning() {
            let (low, high) = segment.reach();
            let (low, high) = (low - bottom, high - bottom);
            let from = low.max(0.5 * part.length);
            if high <= 0.5 * part.length {
                continue;
            }
            let mut ends = vec![from, high];
            for arc in arcs {
                let passes = [arc.md, arc.md + part.length];
                ends.extend(passes.iter().filter(|pin| **pin > from && **pin < high));
            }
            ends.sort_by(f64::total_cmp);
            for pair in ends.windows(2) {
                let share = if high > low { (pair[1] - pair[0]) / (high - low) } else { 1.0 };
                if share <= 0.0 {
                    continue;
                }
                let curvature = sharpest(0.5 * (pair[0] + pair[1]));
                let in_band = band(curvature);
                found.max_curvature = found.max_curvature.max(curvature);
                found.bands.turns[in_band] += segment.turns() * share;
                found.bands.hours[in_band] += segment.hours * share;
            }
        }
    }

    /// What is asked of the middle only.
    fn middle(&self, part: &Part, location: &Location<'_>, found: &mut PartExposure) {
        let per_joint = part.length * PI * part.contact_diameter();
        let column = |hole: f64| Column {
            stiffness: part.stiffness(),
            weight: part.buoyed_weight(&self.case.fluids),
            clearance: 0.5 * (hole - part.contact_diameter()),
            inc: 0.0,
            build: 0.0,
            turn: 0.0,
        };
        for segment in self.turning() {
            for piece in location.pieces(segment) {
                let curvature = self.curvature(piece.arc);
                let (from, to) = piece.bit;
                let tension = |bit| location.tension(bit, segment.bit_load());
                let hole = self.case.bore.at(0.5 * (from + to) - location.distance);
                let strut = hole.map(|hole| column(hole).limits());
                let unknown = part.kind.spans_tool_joints() && part.tool_joint_od.is_none();
                found.flags.add_if(unknown && curvature > 0.0, Flags::CONTACT_UNKNOWN);
                for bit in extremes(piece.bit, tension) {
                    let t = tension(bit);
                    found.max_tension = Some(found.max_tension.map_or(t, |m| m.max(t)));
                    found.min_tension = Some(found.min_tension.map_or(t, |m| m.min(t)));
                    Self::flags(part, hole, t, &mut found.flags);
                }
                let weight = location.weight();
                // the side force has a corner, or nearly, where tension comes to carry the weight
                let arc = self.case.path.arcs()[piece.arc];
                let inward = |bit| {
                    let normal = arc.normal_at(bit - location.distance - arc.md);
                    tension(bit) * arc.curvature + weight * normal.down
                };
                for pair in cut_at_zeros(piece.bit, &[&inward]).windows(2) {
                    let (a, b) = (pair[0], pair[1]);
                    let share = if to > from { (b - a) / (to - from) } else { 1.0 };
                    // a nanometre inside, so that an end belongs to this piece's arc
                    let inside = |x: f64| a + (b - a) * x + 1e-9 * (1.0 - 2.0 * x);
                    let bit = |x: f64| if to > from { inside(x) } else { to };
                    let force = |x: f64| {
                        let bit = bit(x);
                        side_force(&self.case.path, bit - location.distance, tension(bit), weight)
                    };
                    let mean = self.mean((0.0, 1.0), &force, 12);
                    found.side_force_work += piece.turns * share * mean * per_joint;
                    let peak = force(highest((0.0, 1.0), force));
                    found.max_side_force = found.max_side_force.max(peak);
                    if let Some((scale, vertical)) = strut {
                        // compression beyond the critical one
                        let over = |x| -tension(bit(x)) - vertical.max((scale * force(x)).sqrt());
                        let most = over(highest((0.0, 1.0), over));
                        let hours = share * piece.turns * segment.hours / segment.turns();
                        let times = [0.0, 0.25, 0.5, 0.75, 1.0].windows(2).flat_map(|quarter| {
                            let cuts = cut_at_zeros((quarter[0], quarter[1]), &[&over]);
                            let above = |p: &&[f64]| over(0.5 * (p[0] + p[1])) > 0.0;
                            cuts.windows(2).filter(above).map(|p| p[1] - p[0]).collect::<Vec<_>>()
                        });
                        found.hours_buckled += hours * times.sum::<f64>();
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

    fn flags(part: &Part, hole: Option<f64>, tension: f64, flags: &mut Flags) {
        if tension < 0.0 {
            flags.add(Flags::COMPRESSION);
            flags.add_if(hole.is_none(), Flags::BUCKLING_UNKNOWN);
        }
        let axial = tension / part.area();
        flags.add_if(axial > part.permissible.highest_axial(), Flags::OVERPULLED);
    }
}
