//! The path of a hole.

use serde::{Deserialize, Serialize};

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
    pub remark: Option<String>,
}
