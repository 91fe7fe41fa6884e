//! Where joints are and who has them.

use serde::{Deserialize, Serialize};

use crate::model::id::JointRef;
use crate::model::qty::Qty;
use crate::model::time::Moment;
use crate::model::vocab::Status;

/// Joints move: to a place, into or out of a string, to a status. What is absent stays.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MoveBody {
    pub joints: Vec<JointRef>,
    pub location: Option<String>,
    /// String from now on; `-` takes them out of their string.
    pub string: Option<String>,
    /// Status from now on.
    pub status: Option<Status>,
    pub remark: Option<String>,
}

/// Nothing is known of these joints between two moments: the entry's effective time and `until`; or,
/// where it has a `since`, that and the entry's effective time. Hours may be known all the same: then
/// somebody else ran the joints, and tells no more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GapBody {
    pub joints: Vec<JointRef>,
    pub until: Option<Moment>,
    /// Beginning of a stretch that ended at the entry's effective time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub since: Option<Moment>,
    /// Hours that each of the joints turned in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours: Option<Qty>,
    /// What whoever ran them calls the run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub run: Option<String>,
    pub reason: Option<String>,
}

/// Joints go out on hire.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HireOutBody {
    /// Name of the hire; `statement` asks by it.
    pub hire: String,
    pub party: String,
    pub contract: Option<String>,
    /// Rig or place they go to.
    pub location: Option<String>,
    pub joints: Vec<JointRef>,
    /// Condition agreed at the gate, in words.
    pub condition: Option<String>,
    pub remark: Option<String>,
}

/// Joints come back from hire.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HireInBody {
    /// Name of the hire.
    pub hire: String,
    /// Where they come back to.
    pub location: Option<String>,
    pub joints: Vec<JointRef>,
    pub remark: Option<String>,
}
