//! What a run model is made from.

use std::collections::BTreeMap;

use crate::model::{Component, EntryId, JointBody, Qty, SurveyBody};
use crate::units::Measure;

use super::super::dims::Nominal;
use super::super::facts::Placed;
use super::super::joint::{NOTCH_UNMEASURED, TWICE};
use super::assumed::Assumed;
use super::case::Notched;
use super::method::Method;
use crate::schema::DimensionRow;

/// Bits of `flags` from which the validity flags of `mechanics` stand.
pub(super) const MECHANICS_FLAGS: u32 = 16;

/// What a run model is made from.
#[derive(Debug)]
pub struct RunInput<'a> {
    /// The run.
    pub run: &'a Placed,
    /// Survey in force, and its place.
    pub survey: Option<(&'a SurveyBody, i64)>,
    /// Joints of the tally, by place.
    pub joints: &'a BTreeMap<i64, JointFacts>,
    /// Places of joints by the entries that introduced them.
    pub positions: &'a BTreeMap<EntryId, i64>,
    /// Fatigue method in force.
    pub method: &'a Method,
    /// Some of the rig equipment used failed its next check.
    pub equipment_doubtful: bool,
}

/// A joint of the book in the string.
#[derive(Clone, Debug, PartialEq)]
pub struct JointLine {
    /// The joint.
    pub joint: i64,
    /// Joints of the book below it, plus one.
    pub place: i64,
    /// What its figures are derived from, as a short digest.
    pub key: i64,
    /// Distance from the bit to its pin shoulder, nm.
    pub(super) from_bit: i64,
    pub(super) length: i64,
    pub(super) section_known: bool,
    /// The weights of the joint and of all that hangs below it are known.
    pub(super) weight_known: bool,
    /// It stands elsewhere in the tally too.
    pub(super) twice: bool,
    /// An open cut or pit of it has no depth.
    pub(super) notch_unmeasured: bool,
    /// What stands in for inputs of it, and of what hangs below it, that nobody stated.
    pub(super) assumed: Assumed,
    /// The stress ratio of its pin connection is stated, so that its pin end has a figure whatever it
    /// is.
    pub(super) pin_rated: bool,
    /// Stress concentrations that it came to have during the run, in order of time.
    pub(super) notched: Vec<Notched>,
    /// Part index in each phase of the run; `None` while it was not in the string.
    pub(super) parts: Vec<Option<usize>>,
}

impl JointLine {
    /// Bits of `flags` that are its own.
    pub(super) fn flags(&self) -> i64 {
        let own = [(self.twice, TWICE), (self.notch_unmeasured, NOTCH_UNMEASURED)];
        own.into_iter().filter(|(holds, _)| *holds).fold(0, |all, (_, flag)| all | flag)
    }
}

pub(super) fn base(q: Option<&Qty>, measure: Measure) -> Option<f64> {
    q.and_then(|q| q.base(measure))
}

/// What a run reads of a joint.
#[derive(Clone, Debug, PartialEq)]
pub struct JointFacts {
    /// What it is.
    pub component: Component,
    /// Grade of the tube, as written.
    pub grade: Option<String>,
    /// Certificate dimensions.
    pub nominal: Nominal,
    /// Weight in air, kg/m: the nominal one where no other is stated.
    pub weight: Option<f64>,
    /// That is the nominal one.
    pub weight_is_nominal: bool,
    /// Dimensions by time.
    pub dims: Vec<DimensionRow>,
}

impl JointFacts {
    /// Reads the entry that introduced a joint.
    pub fn of(body: &JointBody, dims: Vec<DimensionRow>) -> Self {
        let weight = body.air_weight.as_ref().or(body.weight.as_ref());
        Self {
            component: body.component,
            grade: body.grade.clone(),
            nominal: Nominal::of(body),
            weight: weight.and_then(|q| q.base(Measure::LinearMass)),
            weight_is_nominal: body.air_weight.is_none(),
            dims,
        }
    }
}
