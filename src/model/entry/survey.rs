//! The path of a hole.

use serde::{Deserialize, Serialize};

use crate::model::Qty;

/// A survey station as written: measured depth, inclination, azimuth.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StationLine(
    /// Measured depth in the survey's depth unit.
    pub String,
    /// Inclination in the survey's angle unit.
    pub String,
    /// Azimuth in the survey's angle unit.
    pub String,
);

/// A survey of a hole. A later one of the same well takes its place for every run in that hole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SurveyBody {
    pub well: String,
    /// Unit of measured depth.
    pub depth_unit: String,
    /// Unit of inclination and azimuth.
    pub angle_unit: String,
    /// What north the azimuths are from.
    pub north: Option<String>,
    pub tool: Option<String>,
    /// Stations by measured depth.
    pub stations: Vec<StationLine>,
    /// What the file says that follows from them, station by station; empty where it says nothing.
    /// The book computes its own and shows both.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub published: Vec<PublishedStation>,
    pub remark: Option<String>,
}

/// What a file publishes of a station besides where it is measured.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PublishedStation {
    /// True vertical depth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tvd: Option<Qty>,
    /// Distance north, from wherever the file counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub north: Option<Qty>,
    /// Distance east, from wherever the file counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub east: Option<Qty>,
    /// Dogleg severity of the arc that ends there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dogleg: Option<Qty>,
}
