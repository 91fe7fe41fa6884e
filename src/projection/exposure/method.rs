//! Which fatigue method is in force: curves by environment, mean-stress rule, places.

use serde::Deserialize;

use crate::mechanics::exposure::{Places, Settings};
use crate::mechanics::fatigue::{Curve, CurveTable, MeanStress};
use crate::model::Environment;

use super::super::totals::{BOX_OFFSET, PIN_OFFSET};

/// A fatigue method: what turns stress and turns into damage.
#[derive(Clone, Debug, PartialEq)]
pub struct Method {
    /// Its name, recorded with every result.
    pub name: String,
    air: Curve,
    protected: Curve,
    corrosive: Curve,
    mean_stress: MeanStress,
    tortuosity: f64,
}

/// The method as text.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MethodText {
    name: Option<String>,
    air: Option<String>,
    protected: Option<String>,
    corrosive: Option<String>,
    mean_stress: Option<String>,
    /// Degrees per 30 m added to every arc.
    tortuosity_deg_30m: Option<f64>,
}

/// Curves of environments of which a method is silent. Never changed: methods that were adopted rest
/// on them.
const SILENT: [&str; 3] = [
    "DNVGL-RP-C203 2016 air B1",
    "DNVGL-RP-C203 2016 protected B1",
    "DNVGL-RP-C203 2016 corrosive B1",
];

impl Method {
    /// Reads a method; it goes by `name`, or by the name that the text gives it.
    pub fn parse(text: &str, name: Option<&str>) -> Result<Self, String> {
        let t: MethodText = toml::from_str(text).map_err(|e| e.to_string())?;
        let name = name.or(t.name.as_deref()).ok_or("the method has no name")?;
        let mean_stress = match t.mean_stress.as_deref().map(crate::model::fold).as_deref() {
            None | Some("goodman") => MeanStress::Goodman,
            Some("none") => MeanStress::None,
            Some("gerber") => MeanStress::Gerber,
            Some("soderberg") => MeanStress::Soderberg,
            Some(other) => {
                return Err(format!(
                    "'{other}' is not a mean-stress rule; known: none, goodman, gerber, soderberg"
                ));
            }
        };
        let tortuosity = t.tortuosity_deg_30m.unwrap_or(0.0);
        if !(0.0..=10.0).contains(&tortuosity) {
            return Err("tortuosity_deg_30m lies between 0 and 10".to_owned());
        }
        let table = CurveTable::shipped().map_err(|e| e.to_string())?;
        let curve = |named: Option<String>, silent: &str| {
            let name = named.as_deref().unwrap_or(silent);
            table.get(name).cloned().map_err(|e| e.to_string())
        };
        Ok(Self {
            name: name.to_owned(),
            air: curve(t.air, SILENT[0])?,
            protected: curve(t.protected, SILENT[1])?,
            corrosive: curve(t.corrosive, SILENT[2])?,
            mean_stress,
            tortuosity: crate::mechanics::path::from_degrees_per_30m(tortuosity),
        })
    }

    /// The text of a method with one curve in every environment.
    pub fn everywhere(curve: &str) -> String {
        let curve = toml::Value::from(curve);
        format!("air = {curve}\nprotected = {curve}\ncorrosive = {curve}\n")
    }

    /// The curve for an environment.
    pub const fn curve(&self, environment: Environment) -> &Curve {
        match environment {
            Environment::Air => &self.air,
            Environment::Protected => &self.protected,
            Environment::Corrosive => &self.corrosive,
        }
    }

    /// Settings of the exposure computation for an environment.
    pub fn settings(&self, environment: Environment) -> Settings {
        let mut settings = Settings::with_curve(self.curve(environment));
        settings.places =
            Places { pin_end: PIN_OFFSET as f64 * 1e-9, box_end: BOX_OFFSET as f64 * 1e-9 };
        settings.mean_stress = self.mean_stress;
        settings.tortuosity = self.tortuosity;
        if environment == Environment::Corrosive {
            settings.limit_factor = crate::mechanics::bending::CORROSIVE_FACTOR;
        }
        settings
    }
}
