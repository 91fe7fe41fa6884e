//! Which fatigue method is in force: curves by environment, mean-stress rule, places.

use serde::Deserialize;

use crate::mechanics::exposure::{Places, Settings};
use crate::mechanics::fatigue::{Curve, CurveTable, MeanStress};
use crate::model::Environment;

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

/// The method as a user writes it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MethodText {
    air: Option<String>,
    protected: Option<String>,
    corrosive: Option<String>,
    mean_stress: Option<String>,
    /// Degrees per 30 m added to every arc.
    tortuosity_deg_30m: Option<f64>,
}

/// Curves of the method that ships: DNVGL-RP-C203 (2016), class B1 (smooth base material), in air,
/// with protection and in free corrosion. A choice of this project, not a ruling of that standard:
/// the body of a drill pipe away from its upsets is machined-smooth, seamless steel.
const SHIPPED: [&str; 3] = [
    "DNVGL-RP-C203 2016 air B1",
    "DNVGL-RP-C203 2016 protected B1",
    "DNVGL-RP-C203 2016 corrosive B1",
];

impl Method {
    /// The method that ships.
    pub fn shipped() -> Result<Self, String> {
        Self::build(
            "DNVGL-RP-C203 2016 B1, Goodman",
            &SHIPPED.map(str::to_owned),
            MeanStress::Goodman,
            0.0,
        )
    }

    /// Reads an adopted method; without text the name is the name of a curve to use everywhere, or
    /// the method that ships.
    pub fn parse(name: &str, text: Option<&str>) -> Result<Self, String> {
        let Some(text) = text else {
            let shipped = Self::shipped()?;
            if name == shipped.name {
                return Ok(shipped);
            }
            let all = [name, name, name].map(str::to_owned);
            return Self::build(name, &all, MeanStress::Goodman, 0.0);
        };
        let t: MethodText = toml::from_str(text).map_err(|e| e.to_string())?;
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
        let air = t.air.unwrap_or_else(|| SHIPPED[0].to_owned());
        let protected = t.protected.unwrap_or_else(|| SHIPPED[1].to_owned());
        let corrosive = t.corrosive.unwrap_or_else(|| SHIPPED[2].to_owned());
        let tortuosity = t.tortuosity_deg_30m.unwrap_or(0.0);
        if !(0.0..=10.0).contains(&tortuosity) {
            return Err("tortuosity_deg_30m lies between 0 and 10".to_owned());
        }
        Self::build(name, &[air, protected, corrosive], mean_stress, tortuosity)
    }

    fn build(
        name: &str,
        curves: &[String; 3],
        mean_stress: MeanStress,
        tortuosity: f64,
    ) -> Result<Self, String> {
        let table = CurveTable::shipped().map_err(|e| e.to_string())?;
        let get = |curve: &String| table.get(curve).cloned().map_err(|e| e.to_string());
        Ok(Self {
            name: name.to_owned(),
            air: get(&curves[0])?,
            protected: get(&curves[1])?,
            corrosive: get(&curves[2])?,
            mean_stress,
            tortuosity: crate::mechanics::path::from_degrees_per_30m(tortuosity),
        })
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
        settings.places = Places {
            pin_end: super::super::joint::PIN_OFFSET as f64 * 1e-9,
            box_end: super::super::joint::BOX_OFFSET as f64 * 1e-9,
        };
        settings.mean_stress = self.mean_stress;
        settings.tortuosity = self.tortuosity;
        if environment == Environment::Corrosive {
            settings.limit_factor = crate::mechanics::bending::CORROSIVE_FACTOR;
        }
        settings
    }
}
