//! Who a joint is, and what it brought with it.

use serde::{Deserialize, Serialize};

use crate::model::id::{EntryId, JointRef, Serial};
use crate::model::qty::Qty;
use crate::model::time::Moment;
use crate::model::vocab::Component;

/// Certificate data of a joint. Lengths run shoulder to shoulder.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JointBody {
    pub serial: Serial,
    pub component: Component,
    /// True when the joint had never run when it entered the book.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub new: bool,
    /// Body outside diameter, nominal.
    pub od: Option<Qty>,
    pub wall: Option<Qty>,
    /// Body inside diameter, nominal, where no wall is given.
    pub id: Option<Qty>,
    /// Nominal weight (the name of the size).
    pub weight: Option<Qty>,
    /// Weight in air with tool joints, where it differs from the nominal.
    pub air_weight: Option<Qty>,
    /// Grade of the tube.
    pub grade: Option<String>,
    /// Length, box shoulder to pin shoulder.
    pub length: Option<Qty>,
    /// Connection of the pin, and of the box where that is not given.
    pub connection: Option<String>,
    /// Connection of the box, where it differs.
    pub box_connection: Option<String>,
    /// Tool joint outside diameter.
    pub tj_od: Option<Qty>,
    /// Tool joint (pin) inside diameter.
    pub tj_id: Option<Qty>,
    pub pin_tong: Option<Qty>,
    pub box_tong: Option<Qty>,
    pub bevel: Option<Qty>,
    pub benchmark: Option<Qty>,
    /// Upset: IU, EU or IEU.
    pub upset: Option<String>,
    /// Range: R1, R2 or R3.
    pub range: Option<String>,
    pub hardband: Option<String>,
    /// Hardband height when new.
    pub hardband_height: Option<Qty>,
    pub coating: Option<String>,
    /// Heat of the tube.
    pub heat: Option<String>,
    /// Heat of the pin tool joint.
    pub pin_heat: Option<String>,
    /// Heat of the box tool joint.
    pub box_heat: Option<String>,
    pub weld_lot: Option<String>,
    /// Order in which the mill made it, where the certificate says.
    pub mill_order: Option<String>,
    pub maker: Option<String>,
    pub certificate: Option<String>,
    pub made: Option<Moment>,
    pub owner: Option<String>,
    /// Where it is when it enters.
    pub location: Option<String>,
    /// String that it belongs to when it enters.
    pub string: Option<String>,
    pub remark: Option<String>,
}

/// How well a value from before the book is known.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Stated {
    Known(Qty),
    /// Estimated; used as a lower bound only.
    Estimated(Qty),
}

/// What a joint had been through before it entered the book. What is absent is unknown.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OpeningBody {
    pub joint: JointRef,
    pub hours: Option<Stated>,
    pub revolutions: Option<Stated>,
    pub footage: Option<Stated>,
    pub damage: Option<Stated>,
    /// Make-ups of the pin in its present generation.
    pub pin_makeups: Option<Stated>,
    /// Make-ups of the box in its present generation.
    pub box_makeups: Option<Stated>,
    pub stated_by: Option<String>,
    pub remark: Option<String>,
}

/// A change in what is known about who a joint is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "change", rename_all = "snake_case", deny_unknown_fields)]
pub enum IdentityBody {
    /// The joint carries another serial from now on.
    Remark { joint: JointRef, serial: Serial, reason: Option<String> },
    /// A serial under which the joint was also read (a misreading, a second mark).
    Alias { joint: JointRef, serial: Serial, reason: Option<String> },
    /// Two joints of the book are one; the second's records join the first's.
    Merge {
        /// The joint that stays.
        joint: JointRef,
        /// The joint that was the same.
        same: JointRef,
        reason: Option<String>,
    },
    /// Two joints were kept as one: what some entries say of it is about another joint of the book.
    ///
    /// Where the two had been merged that ends, and entries that name the other are its own again.
    Split {
        /// The joint as which both were kept.
        joint: JointRef,
        other: JointRef,
        /// Entries that speak of the other where they name the joint.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        entries: Vec<EntryId>,
        reason: Option<String>,
    },
}
