//! Figures of `mechanics` as whole quanta: what is stored is the same on every machine.

use crate::mechanics::exposure::{Flags, PartExposure};
use crate::model::Histogram;
use crate::schema::Figures;
use crate::units::Measure;

/// Degrees of arc in a radian.
const DEGREES: f64 = 180.0 / std::f64::consts::PI;

/// An exposure in whole quanta; `None` where the inputs do not tell.
#[derive(Clone, Debug, PartialEq, Default)]
pub(super) struct Quanta {
    pub figures: Figures,
    pub top_depth: Option<i64>,
    pub bottom_depth: Option<i64>,
    pub histogram: Histogram,
    pub flags: i64,
}

/// What is known about the inputs of an exposure.
#[derive(Clone, Copy, Debug)]
pub(super) struct Knowledge {
    /// The path of the hole.
    pub path: bool,
    /// Weights of the joint, of all that hangs below it, and of the mud.
    pub loads: bool,
    /// Section of the joint.
    pub section: bool,
    /// It is a tube between tool joints: its ends bend as the tube does, and it has a no-fatigue bend.
    /// Of another part the figures of its body say nothing about its connections, where it breaks.
    pub tube: bool,
    /// The stress ratio of its pin connection.
    pub pin: bool,
    /// Depth of the casing shoe.
    pub casing: bool,
}

pub(super) fn quantise(e: &PartExposure, known: Knowledge) -> Quanta {
    let hours = |h: f64| Measure::Hours.store_f64(h * 3600.0);
    let turns = |t: f64| Measure::Turns.store_f64(t);
    // What never turned bent nothing, bore nothing and rubbed nowhere, whatever hung where. Figures of
    // the middle count while that turned, which goes into the hole after the pin end.
    let (still, middle_still) = (!e.turned, e.rotating_hours <= 0.0);
    let unless = |still: bool, known: bool, value: Option<i64>| match (known, still) {
        (true, _) => value,
        (false, true) => Some(0),
        (false, false) => None,
    };
    let when = |known: bool, value: Option<i64>| unless(still, known, value);
    let of_middle = |known: bool, value: Option<i64>| unless(middle_still, known, value);
    let strength = known.path && known.loads && known.section;
    let strength = strength && !e.flags.contains(Flags::SPAN_BUCKLED);
    let mut histogram = Histogram::default();
    if known.path {
        for (band, (t, h)) in e.bands.turns.iter().zip(&e.bands.hours).enumerate() {
            histogram.put(band, turns(*t).unwrap_or(0), hours(*h).unwrap_or(0));
        }
    }
    let ends = strength && known.tube;
    let at = |figures: [f64; 3], measure: Measure, [pin, middle, box_end]: [bool; 3]| {
        let [a, b, c] = figures.map(|x| measure.store_f64(x));
        [when(pin, a), when(middle, b), when(box_end, c)]
    };
    let [damage_pin, damage_middle, damage_box] =
        at(e.damage, Measure::Damage, [ends || strength && known.pin, strength, ends]);
    let [bending_pin, bending_middle, bending_box] =
        at(e.max_bending_stress, Measure::Stress, [ends, strength, ends]);
    let [over_limit_pin, over_limit_middle, over_limit_box] =
        at(e.revolutions_above_limit, Measure::Turns, [ends; 3]);
    let [compression_pin, compression_middle, compression_box] =
        e.hours_in_compression.map(|h| when(known.path && known.loads, hours(h)));
    let [contact_pin, contact_middle, contact_box] =
        e.hours_in_contact.map(|h| when(ends, h.and_then(hours)));
    let walled = strength && !e.flags.contains(Flags::BUCKLING_UNKNOWN);
    let figures = Figures {
        hours: hours(e.rotating_hours),
        revolutions: turns(e.revolutions),
        footage: Measure::Depth.store_f64(e.footage),
        max_dogleg: of_middle(known.path, Measure::Dogleg.store_f64(e.max_curvature * DEGREES)),
        max_tension: of_middle(
            known.path && known.loads,
            Measure::Force.store_f64(e.max_tension.unwrap_or(0.0).max(0.0)),
        ),
        bending_pin,
        bending_middle,
        bending_box,
        damage_pin,
        damage_middle,
        damage_box,
        over_limit_pin,
        over_limit_middle,
        over_limit_box,
        compression_pin,
        compression_middle,
        compression_box,
        contact_pin,
        contact_middle,
        contact_box,
        buckled_hours: of_middle(walled, hours(e.hours_buckled)),
        cased_hours: of_middle(known.casing, hours(e.hours_in_casing)),
        open_turns: of_middle(known.casing, turns(e.revolutions_open_hole)),
        side_work: of_middle(known.path && known.loads, Measure::Work.store_f64(e.side_force_work)),
    };
    Quanta {
        figures,
        top_depth: e.shallowest.and_then(|d| Measure::Depth.store_f64(d)),
        bottom_depth: e.deepest.and_then(|d| Measure::Depth.store_f64(d)),
        histogram,
        flags: i64::from(e.flags.bits()) << super::input::MECHANICS_FLAGS,
    }
}
