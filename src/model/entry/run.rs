//! A run: which joints stood where in the string, and what the rig did with it.

use serde::de::{self, SeqAccess, Visitor};
use serde::ser::SerializeTuple;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::model::id::{EntryId, JointRef};
use crate::model::qty::Qty;
use crate::model::time::Moment;
use crate::model::vocab::{Activity, Component, Environment, RunGrade, Vocabulary};

/// A run of a string in a well. The entry's effective time is its end.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunBody {
    /// Name of the run, unique in the book.
    pub name: String,
    /// The well; its survey gives the path.
    pub well: String,
    /// A survey to use instead of the well's latest.
    pub survey: Option<EntryId>,
    pub rig: Option<String>,
    pub string: Option<String>,
    /// First instant.
    pub start: Moment,
    /// How far the numbers can be trusted.
    pub grade: RunGrade,
    /// The string from the bit up.
    pub tally: Vec<TallyLine>,
    /// Changes of the tally during the run.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub swaps: Vec<Swap>,
    /// What the rig did, in order of time.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub segments: Vec<Segment>,
    /// The log that the segments were cut from.
    pub log: Option<LogSource>,
    /// Rotating hours, where only a summary is known.
    pub hours: Option<Qty>,
    /// Mean rotary speed, where only a summary is known.
    pub rotary_speed: Option<Qty>,
    /// Depth in, where only a summary is known.
    pub depth_in: Option<Qty>,
    /// Depth out, where only a summary is known.
    pub depth_out: Option<Qty>,
    /// Mud weight outside the pipe.
    pub mud_weight: Option<Qty>,
    /// Mud weight inside the pipe, where it differs.
    pub mud_weight_inside: Option<Qty>,
    /// What the mud does to fatigue.
    pub environment: Option<Environment>,
    /// Whether hydrogen sulphide was met; `None` where nobody says. Entries of before there was a
    /// `false` left it out both where the file said no and where it said nothing: they count as
    /// not stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sour: Option<bool>,
    /// Depth of the casing shoe.
    pub casing_depth: Option<Qty>,
    /// Depth of the lower end of the riser.
    pub riser_depth: Option<Qty>,
    pub hole_diameter: Option<Qty>,
    /// Diameter of hole and casing by depth, where it is told section by section: it stands in place
    /// of the one diameter, and between sections nothing is known.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hole: Vec<HoleSection>,
    /// Friction factor between pipe and hole.
    pub friction: Option<Qty>,
    /// Weight of block and top drive in the logged hook load.
    pub block_weight: Option<Qty>,
    pub temperature: Option<Qty>,
    /// Whether protectors were fitted, as `sour` is stated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub protectors: Option<bool>,
    /// Tags of rig equipment used (bushing, slips, elevator, tong).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub equipment: Vec<String>,
    pub remark: Option<String>,
}

/// A line of the tally: a serialised joint, or a described part, or a joint nobody identified.
/// A line with both says that the dimensions strapped or measured at the rig win over the book's.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TallyLine {
    /// A joint of the book.
    #[serde(rename = "j")]
    pub joint: Option<JointRef>,
    /// A part described by its dimensions.
    #[serde(rename = "p")]
    pub part: Option<PartLine>,
    /// Strapped length of one; wins over the certificate's.
    #[serde(rename = "l")]
    pub length: Option<Qty>,
    /// How many alike, one above the other; 1 when absent.
    #[serde(rename = "n")]
    pub count: Option<u32>,
}

/// A part of the string that is no joint of the book. A drill pipe joint without a serial is an
/// unidentified joint: its exposure belongs to someone, and nobody knows to whom.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartLine {
    pub component: Component,
    /// Name or serial as read.
    pub name: Option<String>,
    /// Outside diameter of the body.
    pub od: Option<Qty>,
    /// Inside diameter of the body.
    pub id: Option<Qty>,
    /// Wall of the body, where no inside diameter is given.
    pub wall: Option<Qty>,
    pub weight: Option<Qty>,
    /// Tool joint outside diameter.
    pub tj_od: Option<Qty>,
    pub connection: Option<String>,
    /// Ratio of the stress at the root of the connection's last thread to the body's, of which fatigue
    /// of a connection is worked out; an engineer's or the maker's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stress_ratio: Option<Qty>,
}

/// A stretch of hole or casing of one diameter.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HoleSection {
    /// Measured depth at which it begins.
    pub from: Qty,
    /// Measured depth at which it ends.
    pub to: Qty,
    pub diameter: Qty,
}

/// A change of the tally at an instant of the run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Swap {
    pub at: Moment,
    /// The tally from then on, from the bit up.
    pub tally: Vec<TallyLine>,
}

/// The operating log that segments were cut from, and how.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogSource {
    pub file: String,
    /// SHA-256 of the file, lower-case hex.
    pub sha256: String,
    pub rows: u64,
    /// Rows left out, by reason, in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<String>,
    /// Name and settings of the cut, so that it can be repeated.
    pub cut: String,
    /// Instant of the first row that counts, where the log has a clock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rows_from: Option<Moment>,
    /// Instant of the last.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rows_to: Option<Moment>,
}

/// What the rig did for a while: bit moves from one depth to another at constant speed. Whole
/// numbers, for there is nothing as written here: the log's rows were condensed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Segment {
    pub activity: Activity,
    /// Start after the start of the run, ms.
    pub start_ms: i64,
    /// Duration, ms.
    pub duration_ms: i64,
    /// Measured depth of the bit at the start, mm.
    pub bit_from_mm: i64,
    /// Measured depth of the bit at the end, mm.
    pub bit_to_mm: i64,
    /// Turns of the pipe, thousandths.
    pub milli_turns: i64,
    /// Weight on bit, N.
    pub wob_n: Option<i64>,
    pub torque_nm: Option<i64>,
    /// Hook load as logged, N.
    pub hookload_n: Option<i64>,
}

impl Serialize for Segment {
    /// Writes one short array; a run holds hundreds of them.
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        let mut t = s.serialize_tuple(9)?;
        t.serialize_element(&self.activity.rank())?;
        t.serialize_element(&self.start_ms)?;
        t.serialize_element(&self.duration_ms)?;
        t.serialize_element(&self.bit_from_mm)?;
        t.serialize_element(&self.bit_to_mm)?;
        t.serialize_element(&self.milli_turns)?;
        t.serialize_element(&self.wob_n)?;
        t.serialize_element(&self.torque_nm)?;
        t.serialize_element(&self.hookload_n)?;
        t.end()
    }
}

impl<'de> Deserialize<'de> for Segment {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct Array;

        impl<'de> Visitor<'de> for Array {
            type Value = Segment;

            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a segment: an array of nine numbers")
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut a: A) -> Result<Segment, A::Error> {
                fn next<'de, T: Deserialize<'de>, A: SeqAccess<'de>>(
                    a: &mut A,
                ) -> Result<T, A::Error> {
                    a.next_element()?.ok_or_else(|| de::Error::custom("a segment has nine numbers"))
                }
                let rank: i64 = next(&mut a)?;
                let segment = Segment {
                    activity: Activity::at_rank(rank)
                        .ok_or_else(|| de::Error::custom("unknown activity"))?,
                    start_ms: next(&mut a)?,
                    duration_ms: next(&mut a)?,
                    bit_from_mm: next(&mut a)?,
                    bit_to_mm: next(&mut a)?,
                    milli_turns: next(&mut a)?,
                    wob_n: next(&mut a)?,
                    torque_nm: next(&mut a)?,
                    hookload_n: next(&mut a)?,
                };
                if a.next_element::<de::IgnoredAny>()?.is_some() {
                    return Err(de::Error::custom("a segment has nine numbers"));
                }
                Ok(segment)
            }
        }

        d.deserialize_tuple(9, Array)
    }
}

impl RunBody {
    /// Joints of the book in the tally and its changes.
    pub fn joints(&self) -> Vec<&JointRef> {
        self.tally
            .iter()
            .chain(self.swaps.iter().flat_map(|s| &s.tally))
            .filter_map(|line| line.joint.as_ref())
            .collect()
    }
}
