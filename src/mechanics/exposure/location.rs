//! Damage, largest bending stress and turns above the classic limit, at one place of one joint.
#![expect(
    clippy::inline_always,
    reason = "a function compiled for wider vectors only passes that on to what is inlined into it"
)]

use super::chunk::{Chunk, Dot, QUARTER_WAVE, Rule, Rules, SHORT, Spread, Summary, WAVY, waviness};
use super::lanes::{Constants, Cycles};
use super::outcome::Flags;
use super::response::Response;
use super::settings::Settings;
use super::special::{self, Cuts};
use super::walk::Walk;
use crate::mechanics::bending::PermissibleStress;
use crate::mechanics::fatigue::mean_stress::LEAST_RESERVE;
use crate::mechanics::string::Part;

/// From a bending amplitude in Pa to its range in MPa.
const TO_RANGE: f64 = 2e-6;
/// Tension (N) of a piece's ends below which the piece may dip into compression.
const NEAR_ZERO: f64 = 2_000.0;
/// v = FL²/EI from the pole of the magnification in compression, kL = π, up to which a rule of
/// quadrature may be as coarse as in tension; the integrand steepens towards the pole.
const FROM_POLE: f64 = 4.0;

/// Constants of one place and what has been added up so far.
pub(super) struct LocationDamage<'a> {
    rules: &'a Rules,
    walk: Walk<'a>,
    wide: pulp::Arch,
    response: Response,
    constants: Constants,
    cycles: Cycles,
    /// Bound of the change of ln(stress range) per newton in tension, and in compression away from
    /// where the ends stop bending.
    slack: (f64, f64),
    permissible: PermissibleStress,
    limit_factor: f64,
    pub damage: f64,
    /// Largest range without mean-stress correction, MPa.
    top: f64,
    /// Turns in which the bending stress is above the one without fatigue.
    pub above_limit: f64,
    /// The same of the stress at the notch.
    pub above_limit_at_notch: f64,
    /// Hours in which the tube touched a wall that is known.
    hours_in_contact: f64,
    /// What was seen of wall and buckling.
    pub flags: Flags,
}

/// One piece of a chunk, for its exact tension.
#[derive(Debug, Clone, Copy)]
struct Piece {
    from: f64,
    length: f64,
    wob: f64,
    bend: f64,
    hole: f64,
}

impl Piece {
    fn of(chunk: &Chunk, i: usize) -> Self {
        Self {
            from: chunk.from[i],
            length: chunk.length[i],
            wob: chunk.wob[i],
            bend: chunk.bend[i],
            hole: chunk.hole[i],
        }
    }
}

impl<'a> LocationDamage<'a> {
    pub(super) fn new(
        part: &Part,
        settings: &Settings,
        response: &Response,
        (rules, walk, wide): (&'a Rules, Walk<'a>, pulp::Arch),
    ) -> Self {
        let mean_slack = (response.mean.0 + 2.0 * response.mean.1.sqrt()) * response.per_area;
        let slenderness = response.slenderness();
        let standoff = response.span.and_then(|span| Some((span, span.standoff?)));
        let pressed = if response.end { 2.1 } else { 1.0 };
        Self {
            rules,
            walk,
            wide,
            response: *response,
            constants: Constants {
                slenderness,
                per_area: response.per_area,
                linear: response.mean.0,
                square: response.mean.1,
                least: LEAST_RESERVE,
                scale: response.bending * TO_RANGE * response.concentration,
                reach: standoff
                    .map_or(0.0, |(span, room)| span.half_length * span.half_length / room),
            },
            cycles: Cycles::new(response.life),
            slack: (slenderness / 3.0 + 2.0 * mean_slack, slenderness * pressed + 2.0 * mean_slack),
            permissible: part.permissible,
            limit_factor: settings.limit_factor,
            damage: 0.0,
            top: 0.0,
            above_limit: 0.0,
            above_limit_at_notch: 0.0,
            hours_in_contact: 0.0,
            flags: Flags::default(),
        }
    }

    /// From range without mean-stress correction (MPa) to nominal bending stress amplitude (Pa).
    fn to_stress(&self) -> f64 {
        1.0 / (TO_RANGE * self.response.concentration)
    }

    /// Largest nominal bending stress amplitude so far, Pa.
    pub(super) fn bending_stress(&self) -> f64 {
        self.top * self.to_stress()
    }

    /// Hours in which the tube touched the wall; none where it would have touched one that nobody knows.
    pub(super) fn hours_in_contact(&self) -> Option<f64> {
        let unknown = self.flags.contains(Flags::CONTACT_UNKNOWN);
        (!unknown).then_some(self.hours_in_contact)
    }

    /// Adds a chunk; its damage per turn is left in its column.
    pub(super) fn add(&mut self, chunk: &mut Chunk) -> Summary {
        let n = chunk.len;
        let slenderness = self.constants.slenderness;
        let (lowest, steepest) = self.wide.dispatch(Spread(chunk));
        let either = self.response.compression && slenderness > 0.0 && lowest < NEAR_ZERO;
        let change = steepest * slenderness;
        let pole = core::f64::consts::PI * core::f64::consts::PI;
        let rule = if either {
            let from_pole = (pole + lowest * slenderness).clamp(1.0, FROM_POLE);
            self.rules.of(change * FROM_POLE / from_pole, usize::from(self.response.end))
        } else {
            self.rules.of(change, 0)
        };
        let summary = match (self.response.end, either) {
            (true, false) => self.evaluate::<true, false>(chunk, rule),
            (true, true) => self.evaluate::<true, true>(chunk, rule),
            (false, false) => self.evaluate::<false, false>(chunk, rule),
            (false, true) => self.evaluate::<false, true>(chunk, rule),
        };
        if summary.odd {
            for i in 0..n {
                if chunk.odd[i] > 0.0 {
                    chunk.rate[i] = self.careful(chunk, i, (rule, self.slack(either)));
                }
            }
        }
        self.damage += self.wide.dispatch(Dot(&chunk.turns[..n], &chunk.rate[..n]));
        self.add_bending(chunk, &summary);
        summary
    }

    fn slack(&self, either: bool) -> f64 {
        if either { self.slack.1 } else { self.slack.0 }
    }

    fn evaluate<const END: bool, const EITHER: bool>(
        &self,
        chunk: &mut Chunk,
        rule: &Rule,
    ) -> Summary {
        self.wide.dispatch(Evaluate::<END, EITHER> {
            chunk,
            rule,
            constants: &self.constants,
            cycles: &self.cycles,
            slack: self.slack(EITHER),
            jump: self.walk.jump(),
        })
    }

    /// Tension at `x` of a piece.
    fn tension(&self, piece: &Piece, x: f64) -> f64 {
        self.walk.exact(piece.from + x * piece.length, piece.wob).0
    }

    /// Range without mean-stress correction, MPa: as the vectors have it where the tube is free of the
    /// wall, else by the one function of bending. None where the span buckles.
    fn nominal(&self, piece: &Piece, tension: f64) -> Option<f64> {
        let magnified = self.response.magnification(tension, piece.bend, piece.hole)?;
        Some(self.constants.scale * piece.bend * magnified)
    }

    /// Range without mean-stress correction, MPa, at a share of the first piece of a chunk; 0 where the
    /// span buckles.
    pub(super) fn nominal_at(&self, chunk: &Chunk, x: f64) -> f64 {
        let piece = Piece::of(chunk, 0);
        self.nominal(&piece, self.tension(&piece, x)).unwrap_or(0.0)
    }

    /// Stress range, MPa; 0 where the span buckles, of which a flag tells.
    fn range(&self, piece: &Piece, tension: f64) -> f64 {
        let nominal = self.nominal(piece, tension).unwrap_or(0.0);
        nominal / self.constants.reserve(tension.max(0.0))
    }

    /// The smooth parts of a piece: cut where tension passes zero, where the tube comes to touch the
    /// wall or to lie on it, where its ends stop bending, where its span buckles; in four if wavy.
    fn smooth(&self, piece: &Piece, parts: u32) -> Cuts {
        let mut cuts = Cuts::equal(parts);
        if piece.length <= 0.0 {
            return cuts;
        }
        cuts.refine(|x| self.tension(piece, x));
        let Some(span) = self.response.span_in(piece.hole) else { return cuts };
        let felt = |x| self.response.felt(self.tension(piece, x));
        if self.response.end {
            cuts.refine(|x| span.load(felt(x)) - QUARTER_WAVE);
        }
        if span.standoff.is_some() {
            cuts.refine(|x| span.over_contact(felt(x), piece.bend));
            cuts.refine(|x| span.over_wrap(felt(x), piece.bend));
        }
        cuts.refine(|x| span.over_buckling(felt(x), piece.bend));
        cuts
    }

    /// Notes whether at this tension the tube touches a wall, may touch one that nobody knows, or
    /// buckles.
    fn note(&mut self, piece: &Piece, tension: f64) {
        let Some(span) = self.response.span else { return };
        let walled = piece.hole > self.response.wall;
        let tension = self.response.felt(tension);
        let touches = span.over_contact(tension, piece.bend) > 0.0;
        self.flags.add_if(touches && walled, Flags::WALL_CONTACT);
        self.flags.add_if(touches && !walled, Flags::CONTACT_UNKNOWN);
        self.flags.add_if(self.nominal(piece, tension).is_none(), Flags::SPAN_BUCKLED);
    }

    /// Share of a piece on which the tube touches a wall. Where it comes to touch it, what the tables of
    /// tension miss would show: pull may change by a few newtons over the whole piece.
    fn share_in_contact(&self, piece: &Piece) -> f64 {
        let Some(span) = self.response.span_in(piece.hole) else { return 0.0 };
        if span.standoff.is_none() {
            return 0.0;
        }
        let over = |tension| span.over_contact(self.response.felt(tension), piece.bend);
        if piece.length <= 0.0 {
            return if over(self.tension(piece, 0.0)) > 0.0 { 1.0 } else { 0.0 };
        }
        let mut cuts = Cuts::equal(1);
        cuts.refine(|x| self.tension(piece, x));
        let by_path = |x: f64| over(self.walk.by_path(piece.from + x * piece.length, piece.wob));
        special::share_above(&cuts, |x| over(self.tension(piece, x)), by_path)
    }

    /// Raises the largest bending stress: the nodes tell which pieces may hold it, its value is taken
    /// at the ends of a piece, or inside where tension may turn there.
    fn add_bending(&mut self, chunk: &Chunk, summary: &Summary) {
        if summary.bound <= self.top {
            return;
        }
        let sure = self.top.max(summary.sure);
        let mut top = self.top;
        let nominal = |piece: &Piece, tension| self.nominal(piece, tension).unwrap_or(0.0);
        for i in 0..chunk.len {
            if chunk.bound[i] >= sure {
                let piece = Piece::of(chunk, i);
                top = top.max(nominal(&piece, chunk.t0[i])).max(nominal(&piece, chunk.t1[i]));
            }
        }
        for i in 0..chunk.len {
            if chunk.bound[i] > top {
                let piece = Piece::of(chunk, i);
                let [low, high] = self.walk.extremes(chunk, i).map(|extreme| extreme.1);
                top = top.max(nominal(&piece, low)).max(nominal(&piece, high));
                if chunk.touch[i] > 1.0 && low < 0.0 {
                    // touching in compression it may bend most at some tension between
                    let at = |x: f64| nominal(&piece, self.tension(&piece, x));
                    for (a, b) in self.smooth(&piece, 1).parts() {
                        let inside = |x: f64| at(a + (b - a) * x);
                        top = top.max(special::peak(inside, (at(a), at(b))));
                    }
                }
            }
        }
        self.top = top;
    }

    /// Damage per turn of a piece that needs care, by its exact tension on each of its smooth parts,
    /// which are cut where the range passes the knee too.
    fn careful(&mut self, chunk: &Chunk, i: usize, (rule, slack): (&Rule, f64)) -> f64 {
        let piece = Piece::of(chunk, i);
        let close = chunk.touch[i] > 1.0;
        if close {
            self.hours_in_contact += chunk.hours[i] * self.share_in_contact(&piece);
        }
        let mut sum = [0.0];
        if piece.length <= 0.0 {
            let tension = chunk.t1[i];
            if close {
                self.note(&piece, tension);
            }
            self.cycles.rate(&[self.range(&piece, tension)], &mut sum, |_, damage| damage);
            return sum[0];
        }
        let load = |walk: &Walk<'_>, x: f64| walk.exact(piece.from + x * piece.length, piece.wob);
        let flat = self.walk.jump() * piece.length * piece.length;
        let wavy = waviness(slack, flat, chunk.t1[i] - chunk.t0[i]) > WAVY;
        let mut cuts = self.smooth(&piece, if wavy { 4 } else { 1 });
        if self.cycles.knee() > 0.0 {
            let knee = self.cycles.knee();
            cuts.refine(|x| self.range(&piece, load(&self.walk, x).0) - knee);
        }
        let rule = if close { self.rules.finest() } else { rule };
        let mut left = load(&self.walk, 0.0);
        for (from, to) in cuts.parts() {
            let right = load(&self.walk, to);
            let share = to - from;
            let mean = if share * piece.length > SHORT {
                (right.1 - left.1) / (share * piece.length)
            } else {
                0.5 * (left.0 + right.0)
            };
            if close {
                let tension = load(&self.walk, 0.5 * (from + to)).0;
                self.note(&piece, tension);
            }
            for node in &rule.nodes {
                let s = [self.range(&piece, node.tension(left.0, right.0, mean))];
                self.cycles.rate(&s, &mut sum, |sum, d| sum + share * node.weight * d);
            }
            left = right;
        }
        sum[0]
    }

    /// Adds a chunk's turns in which bending is above the one without fatigue.
    pub(super) fn add_above_limit(&mut self, chunk: &Chunk, summary: &Summary) {
        let n = chunk.len;
        if self.response.span.is_none() || n == 0 {
            return;
        }
        self.above_limit += self.turns_above(chunk, summary, self.to_stress());
        if self.response.concentration > 1.0 {
            self.above_limit_at_notch += self.turns_above(chunk, summary, 1.0 / TO_RANGE);
        } else {
            self.above_limit_at_notch = self.above_limit;
        }
    }

    /// Turns of a chunk in which the stress is above the one without fatigue; `to_stress` makes it of
    /// the range without mean-stress correction.
    fn turns_above(&self, chunk: &Chunk, summary: &Summary, to_stress: f64) -> f64 {
        let allowed = |t: f64| {
            let axial = t * self.constants.per_area;
            self.limit_factor * self.permissible.bending(axial).unwrap_or(0.0).max(0.0)
        };
        // permissible stress falls as tension rises: the chunk's extremes decide most chunks
        if summary.bound * to_stress < allowed(summary.high.max(0.0) * 1.01) {
            return 0.0;
        }
        let mut turns = 0.0;
        for i in 0..chunk.len {
            let (a, b) = (chunk.t0[i], chunk.t1[i]);
            // how far tension may go inside the piece beyond its ends, and from one place to another
            let beyond = chunk.beyond(i, self.walk.jump());
            if chunk.bound[i] * to_stress <= allowed(a.max(b) + beyond) {
                continue;
            }
            let pulled = a.min(b) - beyond > 0.0 && chunk.touch[i] <= 1.0;
            let least = chunk.top[i] * (1.0 - self.slack.0 * ((b - a).abs() + 2.0 * beyond));
            if pulled && least * to_stress > allowed(a.min(b) - beyond) {
                turns += chunk.turns[i];
                continue;
            }
            let piece = Piece::of(chunk, i);
            let over = |t: f64| self.nominal(&piece, t).unwrap_or(0.0) * to_stress - allowed(t);
            let share = if piece.length > 0.0 {
                let by_path =
                    |x: f64| over(self.walk.by_path(piece.from + x * piece.length, piece.wob));
                let cuts = self.smooth(&piece, 1);
                special::share_above(&cuts, |x| over(self.tension(&piece, x)), by_path)
            } else if over(b) > 0.0 {
                1.0
            } else {
                0.0
            };
            turns += chunk.turns[i] * share;
        }
        turns
    }
}

/// The pass over a chunk, for the widest vectors at hand.
struct Evaluate<'a, const END: bool, const EITHER: bool> {
    chunk: &'a mut Chunk,
    rule: &'a Rule,
    constants: &'a Constants,
    cycles: &'a Cycles,
    slack: f64,
    jump: f64,
}

impl<const END: bool, const EITHER: bool> pulp::NullaryFnOnce for Evaluate<'_, END, EITHER> {
    type Output = Summary;

    #[inline(always)]
    fn call(self) -> Summary {
        let Self { chunk, rule, constants, cycles, slack, jump } = self;
        chunk.evaluate::<END, EITHER>(rule, constants, cycles);
        chunk.summary::<END, EITHER>(rule, constants, (cycles.knee(), slack, jump))
    }
}
