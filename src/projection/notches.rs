//! Cuts and pits of a tube that nobody has repaired, and what they do to its bending.

use crate::condition::{self, Standards};
use crate::mechanics::fatigue::notch::fatigue_notch_factor;
use crate::model::{End, InspectionBody, Place, RepairBody, fold};
use crate::schema::DimensionRow;
use crate::units::Measure;

use super::totals::{BOX_OFFSET, PIN_OFFSET};

/// Findings that are a notch across the tube where their size, a depth, was measured: words of the
/// catalogue. What runs along the tube, or is ground out and faired, does not weaken it in bending.
const NOTCHES: [&str; 8] = [
    "slip_cut",
    "slip_cut_transverse",
    "cut",
    "cut_transverse",
    "external_pitting",
    "internal_pitting",
    "upset_pitting",
    "tong_mark",
];

/// Root radius of cuts and pits, which no inspection measures, m: 0.5 mm. An assumption, said beside
/// the figures that rest on it.
pub const ROOT: f64 = 0.5e-3;

/// Whether a finding is a notch across the tube; `across` is what was said of its direction.
pub fn is_notch(what: &str, across: Option<bool>) -> bool {
    NOTCHES.contains(&what) && across != Some(false)
}

/// Factor on the bending stress at a notch of a depth (nm) in steel of an ultimate strength (Pa).
pub fn factor(depth: i64, ultimate: f64) -> f64 {
    fatigue_notch_factor(depth as f64 * 1e-9, ROOT, ultimate)
}

/// Deepest notches at the pin end, the middle and the box end, nm; `None` where there is none.
pub type Depths = [Option<i64>; 3];

/// The deepest that a joint so measured has.
pub fn depths(row: &DimensionRow) -> Depths {
    [row.notch_pin, row.notch_middle, row.notch_box]
}

/// A notch that nobody has repaired.
#[derive(Clone, Debug)]
struct Notch {
    what: String,
    end: Option<End>,
    /// `None` where it was not measured.
    depth: Option<i64>,
    /// The places that it may stand at.
    at: [bool; 3],
}

/// The notches of a joint that are open.
#[derive(Clone, Debug, Default)]
pub(super) struct OpenNotches(Vec<Notch>);

impl OpenNotches {
    /// Notes what an inspection found on a joint of a length (nm).
    pub(super) fn found(&mut self, b: &InspectionBody, standards: &Standards, length: Option<i64>) {
        for line in &b.findings {
            let known = standards.findings.at(&line.what, line.place, line.end).ok();
            let what = known.map_or_else(|| fold(&line.what), |f| f.word.clone());
            if !is_notch(&what, line.transverse) {
                continue;
            }
            let from_pin = line.at.as_ref().and_then(|q| q.stored(Measure::JointLength));
            let at = from_pin.zip(length).map_or_else(
                || usual_places(&what, line.place, line.end),
                |(x, length)| nearest_place(x, length),
            );
            let depth = line.size.as_ref().and_then(|q| q.stored(Measure::Wall));
            self.0.push(Notch { what, end: line.end, depth, at });
        }
    }

    /// Takes away what a repair made good.
    pub(super) fn repaired(&mut self, clearing: &Clearing<'_>) {
        self.0.retain(|notch| !clearing.clears(&notch.what, notch.end));
    }

    /// The deepest at each place.
    pub(super) fn deepest(&self) -> Depths {
        [0, 1, 2].map(|place| {
            self.0.iter().filter(|n| n.at.get(place) == Some(&true)).filter_map(|n| n.depth).max()
        })
    }

    /// Some have no depth.
    pub(super) fn unmeasured(&self) -> bool {
        self.0.iter().any(|n| n.depth.is_none())
    }
}

/// Where a finding may stand of which nobody wrote the distance from the shoulder: in the slip area, at
/// an upset, else anywhere.
fn usual_places(what: &str, place: Option<Place>, end: Option<End>) -> [bool; 3] {
    match (place, end) {
        (Some(Place::SlipArea), _) => [false, false, true],
        (_, Some(End::Pin)) => [true, false, false],
        (_, Some(End::Box)) => [false, false, true],
        (Some(Place::Upset), None) => [true, false, true],
        _ if what.starts_with("slip_") => [false, false, true],
        _ => [true; 3],
    }
}

/// The place that lies nearest to a distance from the pin shoulder of a joint of a length, nm.
fn nearest_place(from_pin: i64, length: i64) -> [bool; 3] {
    let places = [PIN_OFFSET, length / 2, length - BOX_OFFSET];
    let nearest = (0..3).min_by_key(|i| (places[*i] - from_pin).abs());
    [0, 1, 2].map(|i| Some(i) == nearest)
}

/// What findings a repair makes good.
pub(super) struct Clearing<'a> {
    body: &'a RepairBody,
    standards: &'a Standards,
    /// The findings that it names, in words of the catalogue.
    named: Vec<String>,
}

impl<'a> Clearing<'a> {
    pub(super) fn new(body: &'a RepairBody, standards: &'a Standards) -> Self {
        let catalogue = &standards.findings;
        let word = |w: &String| {
            catalogue.at(w, None, body.end).map_or_else(|_| fold(w), |f| f.word.clone())
        };
        Self { body, standards, named: body.clears.iter().map(word).collect() }
    }

    /// Whether it makes good a finding of a word, on an end. It makes good what it names, or where it
    /// names none all that its work can; a new end has nothing of the old one.
    pub(super) fn clears(&self, what: &str, end: Option<End>) -> bool {
        let work = self.body.work;
        let renews = self.standards.works.effect(work).is_some_and(|e| e.new_generation);
        if renews && end.is_some() && end == self.body.end {
            return true;
        }
        let same_end = self.body.end.is_none() || end.is_none() || end == self.body.end;
        same_end
            && if self.named.is_empty() {
                condition::can_clear(work, what, &self.standards.findings) == Some(true)
            } else {
                self.named.iter().any(|named| named == what)
            }
    }
}
