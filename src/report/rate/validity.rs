//! Surroundings in which the formulas stop being valid. Flagged, never extrapolated.

/// Temperature above which neither room-temperature strengths nor the shipped S–N curves are taken
/// for granted, °C (100, recalled from DNV-RP-C203 for the curves).
pub(super) const HOTTEST_CELSIUS: f64 = 100.0;

/// What surrounds the pipe, as far as it decides what holds.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Surroundings {
    /// Hydrogen sulphide is or was met.
    pub sour: bool,
    pub celsius: Option<f64>,
}

impl Surroundings {
    /// Too hot for what was computed.
    pub fn hot(&self) -> bool {
        self.celsius.is_some_and(|t| t > HOTTEST_CELSIUS)
    }

    /// What is outside validity, in few words.
    pub fn outside(&self) -> Vec<&'static str> {
        let mut list = Vec::new();
        if self.sour {
            list.push("hydrogen sulphide");
        }
        if self.hot() {
            list.push("temperature");
        }
        list
    }

    /// What these surroundings do to strength figures.
    pub fn on_strength(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if self.sour {
            notes.push(
                "hydrogen sulphide: steel can crack far below these figures; they \
                 are limits of sound steel in air or mud. The sour-service standard (ISO 15156 / \
                 NACE MR0175) decides which grades may be used at all"
                    .to_owned(),
            );
        }
        if self.hot() {
            notes.push(format!(
                "temperature of {:.0} °C: strengths here are those of room \
                 temperature, and nothing is taken off for heat",
                self.celsius.unwrap_or_default()
            ));
        }
        notes
    }

    /// What these surroundings do to fatigue figures.
    pub fn on_fatigue(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if self.sour {
            notes.push(
                "hydrogen sulphide: no S–N curve and no dogleg limit here holds \
                 in sour service; lives are shorter, by how much is not known"
                    .to_owned(),
            );
        }
        if self.hot() {
            notes.push(format!(
                "temperature of {:.0} °C: the S–N curves hold up to {:.0} °C \
                 (recalled), and nothing is taken off for heat",
                self.celsius.unwrap_or_default(),
                HOTTEST_CELSIUS
            ));
        }
        notes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_outside_is_flagged() {
        let fine = Surroundings { sour: false, celsius: Some(95.0) };
        assert!(
            fine.outside().is_empty()
                && fine.on_strength().is_empty()
                && fine.on_fatigue().is_empty()
        );
        let bad = Surroundings { sour: true, celsius: Some(160.0) };
        assert_eq!(bad.outside(), ["hydrogen sulphide", "temperature"]);
        for notes in [bad.on_strength(), bad.on_fatigue()] {
            assert_eq!(notes.len(), 2);
        }
    }
}
