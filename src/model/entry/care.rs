//! What people did to joints and saw on them: make-ups, inspections, repairs, events, failures,
//! and the instruments behind the figures.

use serde::{Deserialize, Serialize};

use crate::model::id::{EntryId, JointRef};
use crate::model::qty::Qty;
use crate::model::time::Moment;
use crate::model::vocab::{
    CheckKind, Class, End, EventKind, FailureKind, InstrumentKind, Method, Place, ReadingKind,
    Scope, Work,
};

/// Connections made up: one connection, or the pattern of trips of a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MakeupBody {
    /// Joint whose pin was made up.
    pub pin: Option<JointRef>,
    /// Joint whose box was made up.
    #[serde(rename = "box")]
    pub box_: Option<JointRef>,
    /// The mate in words, where it is no joint of the book ("saver sub").
    pub mate: Option<String>,
    /// Trips of a run in place of one connection.
    pub pattern: Option<MakeupPattern>,
    pub run: Option<EntryId>,
    pub torque: Option<Qty>,
    pub target: Option<Qty>,
    pub breakout: Option<Qty>,
    pub compound: Option<String>,
    /// Friction factor of the compound, 1 when absent.
    pub friction_factor: Option<Qty>,
    /// Tag of the torque gauge.
    pub instrument: Option<String>,
    /// Times made up, 1 when absent (break-in cycles).
    pub times: Option<u32>,
    pub crew: Option<String>,
    pub remark: Option<String>,
}

/// Trips of a string in stands: which connections break each time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MakeupPattern {
    pub trips: u32,
    /// Joints in a stand.
    pub stand: u32,
    /// Joints between the lowest joint of the book and the first break, counted from the bit up.
    pub offset: Option<u32>,
    /// Rounds in which the break moves up one joint; 0 when the same connections break each time.
    pub rotate: Option<u32>,
    /// Times that the top box of a stand was made up to the saver sub, each trip: the box below each
    /// connection that breaks, and no pin.
    pub saver: Option<u32>,
    /// The first time every connection of the string was made up.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub picked_up: bool,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    pub what: ReadingKind,
    /// On which end, for a connection.
    pub end: Option<End>,
    /// The value as written; a ratio of nominal for a wall in percent.
    pub value: Qty,
    /// Distance from the pin shoulder.
    pub at: Option<Qty>,
    /// Clock position or other place in words.
    pub position: Option<String>,
    /// Tag of the instrument.
    pub instrument: Option<String>,
}

/// One thing found, in the words of the catalogue.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FindingLine {
    /// Word of the catalogue.
    pub what: String,
    /// Where on the joint.
    pub place: Option<Place>,
    /// On which end, for a connection.
    pub end: Option<End>,
    /// Its size as written: depth, extent or height, as the catalogue asks.
    pub size: Option<Qty>,
    /// Share of the seal width or of the area.
    pub share: Option<Qty>,
    /// True when it runs across the pipe, false when along it.
    pub transverse: Option<bool>,
    /// Distance from the pin shoulder.
    pub at: Option<Qty>,
    pub remark: Option<String>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InspectionBody {
    pub joint: JointRef,
    /// How it was looked at.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub methods: Vec<Method>,
    /// What it covers, where that is less than the methods can see.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub covers: Vec<Scope>,
    /// Standard, edition, category or level inspected to, in words.
    pub standard: Option<String>,
    pub firm: Option<String>,
    pub inspector: Option<String>,
    /// Job or report number.
    pub report: Option<String>,
    /// Tag of the instrument, for readings that name none.
    pub instrument: Option<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Reading>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<FindingLine>,
    /// Class that the inspector gave the joint.
    pub declared: Option<Class>,
    /// Class that the inspector gave the tube, pin and box.
    pub declared_tube: Option<Class>,
    /// See `declared_tube`.
    pub declared_pin: Option<Class>,
    /// See `declared_tube`.
    pub declared_box: Option<Class>,
    /// Paint bands seen, in words; a fact of its own that gives no class.
    pub paint: Option<String>,
    /// Where it was done.
    pub location: Option<String>,
    pub remark: Option<String>,
}

/// Work done on a joint.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RepairBody {
    pub joint: JointRef,
    pub work: Work,
    /// The end worked on; absent for the body.
    pub end: Option<End>,
    pub shop: Option<String>,
    /// Licence or qualification that the shop holds for it.
    pub licence: Option<String>,
    /// Job ticket; joints of one ticket are one batch.
    pub ticket: Option<String>,
    /// Length removed from the end.
    pub removed: Option<Qty>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub results: Vec<Reading>,
    /// Findings of the catalogue that the work disposed of, in its words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub clears: Vec<String>,
    /// Hardband alloy or coating applied.
    pub material: Option<String>,
    pub remark: Option<String>,
}

/// Something that happened to joints, named or by the run they were in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EventBody {
    pub what: EventKind,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub joints: Vec<JointRef>,
    /// All joints of a run that were below the rotary table then.
    pub run: Option<EntryId>,
    pub pull: Option<Qty>,
    pub torque: Option<Qty>,
    pub count: Option<u32>,
    pub depth: Option<Qty>,
    pub concentration: Option<Qty>,
    pub duration: Option<Qty>,
    pub remark: Option<String>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FailureBody {
    pub joint: JointRef,
    pub what: FailureKind,
    /// Where on the joint.
    pub place: Option<Place>,
    /// On which end, for a connection.
    pub end: Option<End>,
    /// Distance from the pin shoulder.
    pub at: Option<Qty>,
    pub run: Option<EntryId>,
    /// The well, where no run is named.
    pub well: Option<String>,
    /// Measured depth of the place.
    pub depth: Option<Qty>,
    /// What the rig was doing.
    pub operation: Option<String>,
    pub torque: Option<Qty>,
    pub pull: Option<Qty>,
    /// How it was found.
    pub found: Option<String>,
    /// Mechanism that a laboratory named.
    pub mechanism: Option<String>,
    pub report: Option<String>,
    pub remark: Option<String>,
}

/// An instrument or a piece of rig equipment, known by a tag.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InstrumentBody {
    pub tag: String,
    pub what: InstrumentKind,
    pub serial: Option<String>,
    /// Largest deviation allowed in a check.
    pub tolerance: Option<Qty>,
    /// Lowest of its range.
    pub range_from: Option<Qty>,
    /// Highest of its range.
    pub range_to: Option<Qty>,
    /// Where it is used.
    pub location: Option<String>,
    pub remark: Option<String>,
}

/// A check of an instrument or of rig equipment.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CheckBody {
    pub tag: String,
    pub how: CheckKind,
    pub reference: Option<Qty>,
    /// Value read, as found.
    pub reading: Option<Qty>,
    /// Tag of the reference instrument.
    pub against: Option<String>,
    pub passed: bool,
    pub certificate: Option<String>,
    /// Last day on which the check is good.
    pub valid_until: Option<Moment>,
    pub remark: Option<String>,
}
