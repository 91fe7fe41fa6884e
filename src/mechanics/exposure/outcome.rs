//! What one joint went through in one run.

use crate::mechanics::path::degrees_per_30m;

pub use crate::model::{BAND_WIDTH, BANDS};

/// Planned builds fall on edges of bands, but for rounding: what lies this share of a band below an
/// edge lies on it.
const ON_EDGE: f64 = 1e-9;

/// Index of the dogleg band of a curvature (rad/m); the lower edge belongs to the band.
pub(super) fn band(curvature: f64) -> usize {
    let mut index = 0;
    let bands = degrees_per_30m(curvature) / BAND_WIDTH + ON_EDGE;
    while index + 1 < BANDS && bands >= (index + 1) as f64 {
        index += 1;
    }
    index
}

/// Turns and hours by dogleg band (rotating only).
#[derive(Debug, Clone, PartialEq)]
pub struct Bands {
    /// Turns in each band; the last holds all above the others.
    pub turns: [f64; BANDS],
    /// Rotating hours in each band.
    pub hours: [f64; BANDS],
}

impl Default for Bands {
    fn default() -> Self {
        Self { turns: [0.0; BANDS], hours: [0.0; BANDS] }
    }
}

/// What makes a result less than it seems.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Flags(u16);

impl Flags {
    /// Turned while in compression.
    pub const COMPRESSION: Self = Self(1);
    /// Turned while buckled: bending of the buckled shape isn't in the damage.
    pub const BUCKLED: Self = Self(1 << 1);
    /// In compression, and the hole diameter isn't known.
    pub const BUCKLING_UNKNOWN: Self = Self(1 << 2);
    /// The tube touched the wall: its bending is counted, wear of its surface is not.
    pub const WALL_CONTACT: Self = Self(1 << 3);
    /// Bent so that the tube would touch a wall, if there is one, or so that nobody can say.
    pub const CONTACT_UNKNOWN: Self = Self(1 << 4);
    /// Ran below the last station: taken as straight.
    pub const BEYOND_SURVEY: Self = Self(1 << 5);
    /// Hotter than the curves allow.
    pub const HOT: Self = Self(1 << 6);
    /// Met hydrogen sulphide: outside the validity of the curves.
    pub const HYDROGEN_SULPHIDE: Self = Self(1 << 7);
    /// Not steel: outside the validity of the curves.
    pub const NOT_STEEL: Self = Self(1 << 8);
    /// Pulled to where the mean-stress rule or the permissible stress ends.
    pub const OVERPULLED: Self = Self(1 << 9);
    /// Compressed beyond what the tube between its tool joints can bear: it has no figure there.
    pub const SPAN_BUCKLED: Self = Self(1 << 10);

    /// Names of the flags, in order of their bits.
    pub const NAMES: [(Self, &'static str); 11] = [
        (Self::COMPRESSION, "turned in compression"),
        (Self::BUCKLED, "turned while buckled"),
        (Self::BUCKLING_UNKNOWN, "buckling not checked: hole diameter unknown"),
        (Self::WALL_CONTACT, "tube touched the wall"),
        (Self::CONTACT_UNKNOWN, "wall contact not counted: diameter of hole or tool joint unknown"),
        (Self::BEYOND_SURVEY, "below the last survey station"),
        (Self::HOT, "hotter than the curves allow"),
        (Self::HYDROGEN_SULPHIDE, "hydrogen sulphide: outside the curves"),
        (Self::NOT_STEEL, "not steel: outside the curves"),
        (Self::OVERPULLED, "pulled beyond the mean-stress rule"),
        (Self::SPAN_BUCKLED, "tube buckled between its tool joints"),
    ];

    /// Whether all flags of another set are here.
    pub fn contains(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// Adds the flags of another set.
    pub fn add(&mut self, other: Self) {
        self.0 |= other.0;
    }

    /// Adds the flags of another set if a condition holds.
    pub fn add_if(&mut self, holds: bool, other: Self) {
        if holds {
            self.add(other);
        }
    }

    /// The set as a number, for storage.
    pub fn bits(self) -> u16 {
        self.0
    }
}

/// Exposure of one part in one run. Unless said otherwise a quantity is that of its middle, and
/// counts only while the middle is below the rotary table.
#[derive(Debug, Clone, PartialEq)]
pub struct PartExposure {
    /// Hours while the string turned.
    pub rotating_hours: f64,
    pub revolutions: f64,
    /// Metres drilled while the part was below the table.
    pub footage: f64,
    /// Hours below the table, turning or not.
    pub hours_below_table: f64,
    /// Sharpest bend that lay anywhere along it, shoulder to shoulder, while it turned, rad/m
    /// (tortuosity included).
    pub max_curvature: f64,
    /// Largest effective tension while turning, N; none if it never turned.
    pub max_tension: Option<f64>,
    /// Smallest effective tension while turning, N (compression is negative).
    pub min_tension: Option<f64>,
    /// Largest bending stress amplitude at pin end, middle and box end while turning, without stress
    /// concentration, Pa. A place counts while it is below the table itself.
    pub max_bending_stress: [f64; 3],
    /// Damage at pin end, middle and box end, each counted as its bending stress is.
    pub damage: [f64; 3],
    /// Turns and hours by dogleg: the sharpest bend anywhere along it.
    pub bands: Bands,
    /// Turns at pin end, middle and box end in which the bending stress was above the one that the
    /// classic rule allows without fatigue; of a part without tool joints, for which there is no such
    /// rule, none.
    pub revolutions_above_limit: [f64; 3],
    /// The same of the stress with its concentration.
    pub revolutions_above_limit_at_notch: [f64; 3],
    /// Rotating hours in compression at pin end, middle and box end.
    pub hours_in_compression: [f64; 3],
    /// Rotating hours at pin end, middle and box end in which the tube between the tool joints touched
    /// the wall; none where nobody can say. Of a part without tool joints, no hours.
    pub hours_in_contact: [Option<f64>; 3],
    /// Rotating hours buckled in the hole, as far as the hole's diameter is known.
    pub hours_buckled: f64,
    /// Work of the side force on the tool joint, J.
    pub side_force_work: f64,
    /// Largest side force while turning, N per metre.
    pub max_side_force: f64,
    /// Rotating hours inside casing and riser.
    pub hours_in_casing: f64,
    /// Rotating hours inside the riser.
    pub hours_in_riser: f64,
    /// Turns in open hole.
    pub revolutions_open_hole: f64,
    /// Shallowest measured depth at which the middle turned, m; none if it never did.
    pub shallowest: Option<f64>,
    /// Deepest measured depth at which the middle turned, m.
    pub deepest: Option<f64>,
    /// Some of it turned below the table: its pin end goes in first.
    pub turned: bool,
    /// How far the middle turned beyond the last survey station, m.
    pub beyond_survey: f64,
    /// What limits the result.
    pub flags: Flags,
}

impl Default for PartExposure {
    fn default() -> Self {
        Self {
            rotating_hours: 0.0,
            revolutions: 0.0,
            footage: 0.0,
            hours_below_table: 0.0,
            max_curvature: 0.0,
            max_tension: None,
            min_tension: None,
            max_bending_stress: [0.0; 3],
            damage: [0.0; 3],
            bands: Bands::default(),
            revolutions_above_limit: [0.0; 3],
            revolutions_above_limit_at_notch: [0.0; 3],
            hours_in_compression: [0.0; 3],
            hours_in_contact: [Some(0.0); 3],
            hours_buckled: 0.0,
            side_force_work: 0.0,
            max_side_force: 0.0,
            hours_in_casing: 0.0,
            hours_in_riser: 0.0,
            revolutions_open_hole: 0.0,
            shallowest: None,
            deepest: None,
            turned: false,
            beyond_survey: 0.0,
            flags: Flags::default(),
        }
    }
}

impl PartExposure {
    /// Adds what the part went through at another time: sums add, extremes and flags join.
    pub fn add(&mut self, later: &Self) {
        let join = |a: Option<f64>, b: Option<f64>, pick: fn(f64, f64) -> f64| match (a, b) {
            (Some(a), Some(b)) => Some(pick(a, b)),
            (a, b) => a.or(b),
        };
        self.rotating_hours += later.rotating_hours;
        self.revolutions += later.revolutions;
        self.footage += later.footage;
        self.hours_below_table += later.hours_below_table;
        self.max_curvature = self.max_curvature.max(later.max_curvature);
        self.max_tension = join(self.max_tension, later.max_tension, f64::max);
        self.min_tension = join(self.min_tension, later.min_tension, f64::min);
        for (most, bending) in self.max_bending_stress.iter_mut().zip(later.max_bending_stress) {
            *most = most.max(bending);
        }
        let bands = (&mut self.bands, &later.bands);
        let over = self.revolutions_above_limit.iter_mut().zip(&later.revolutions_above_limit);
        let at_notch = &later.revolutions_above_limit_at_notch;
        let over_at_notch = self.revolutions_above_limit_at_notch.iter_mut().zip(at_notch);
        let sums = self.damage.iter_mut().zip(&later.damage).chain(over).chain(over_at_notch);
        let pressed = self.hours_in_compression.iter_mut().zip(&later.hours_in_compression);
        let sums = sums.chain(pressed);
        let turns = bands.0.turns.iter_mut().zip(&bands.1.turns);
        let hours = bands.0.hours.iter_mut().zip(&bands.1.hours);
        for (sum, more) in sums.chain(turns).chain(hours) {
            *sum += more;
        }
        for (sum, more) in self.hours_in_contact.iter_mut().zip(later.hours_in_contact) {
            *sum = sum.zip(more).map(|(sum, more)| sum + more);
        }
        self.hours_buckled += later.hours_buckled;
        self.side_force_work += later.side_force_work;
        self.max_side_force = self.max_side_force.max(later.max_side_force);
        self.hours_in_casing += later.hours_in_casing;
        self.hours_in_riser += later.hours_in_riser;
        self.revolutions_open_hole += later.revolutions_open_hole;
        self.shallowest = join(self.shallowest, later.shallowest, f64::min);
        self.deepest = join(self.deepest, later.deepest, f64::max);
        self.turned |= later.turned;
        self.beyond_survey = self.beyond_survey.max(later.beyond_survey);
        self.flags.add(later.flags);
    }
}
