//! The settings by which a log is cut into segments, as text that an entry can carry.

use std::fmt;
use std::str::FromStr;

/// How a log is cut. Lengths in millimetres, times in milliseconds, speeds in thousandths, so
/// that the settings have one spelling.
///
/// None of these values comes from a standard: the field has no agreed cut of a log. Defaults are
/// common practice of reading drilling logs, each stated beside the setting.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CutRules {
    /// Rotating from this speed on, thousandths of a revolution a minute. Below it is noise of
    /// the sensor: 1 rpm.
    pub rotating_mrpm: i64,
    /// Pipe above this depth does not count as rotating: 0, the rotary table.
    pub from_depth_mm: i64,
    /// On bottom when the bit is this close to the depth of the hole: 0.3 m (about a foot).
    pub on_bottom_mm: i64,
    /// And when the hole grew deeper within this time: 3 min.
    pub advance_ms: i64,
    /// A step longer than this is a gap: nothing rotates in it. Absent: three usual steps of the
    /// log, and at least a minute.
    pub gap_ms: Option<i64>,
    /// The bit may be this far from where the log has it, at any turn within a segment: 0.5 m.
    pub depth_error_mm: i64,
    /// The same for pipe that does not rotate, where nothing depends on it: 30 m.
    pub idle_error_mm: i64,
    /// Above so many segments neighbours are joined that cost little (place and time together no
    /// more than twice the error allowed): 300.
    pub wanted_segments: usize,
    /// Never more segments than this: 2000. Beyond it the cheapest neighbours are joined whatever
    /// they cost, and the error reached is stated.
    pub max_segments: usize,
    /// Depth-indexed logs: a longer step is a gap: 1 m and a little (3.28 ft logs have 1 m steps).
    pub step_max_mm: i64,
    /// Depth-indexed logs: a slower rate is no drilling, thousandths of a metre an hour: 0.15 m/h.
    pub rop_min_mmh: i64,
    /// Depth-indexed logs: a faster rate is a spike: 300 m/h. The step is no drilling then.
    pub rop_max_mmh: Option<i64>,
}

impl Default for CutRules {
    fn default() -> Self {
        Self {
            rotating_mrpm: 1_000,
            from_depth_mm: 0,
            on_bottom_mm: 300,
            advance_ms: 180_000,
            gap_ms: None,
            depth_error_mm: 500,
            idle_error_mm: 30_000,
            wanted_segments: 300,
            max_segments: 2_000,
            step_max_mm: 1_050,
            rop_min_mmh: 150,
            rop_max_mmh: Some(300_000),
        }
    }
}

/// Why settings cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CutError {
    /// Not the text of settings, or of another version.
    #[error("'{0}' is no cut of this version; it begins with 'cut 1:'")]
    Version(String),
    /// A setting that does not exist, or a value that does not fit it.
    #[error("'{0}' is no setting of a cut; known: {names}", names = NAMES.join(", "))]
    Setting(String),
}

const NAMES: [&str; 12] = [
    "rotating_mrpm",
    "from_depth_mm",
    "on_bottom_mm",
    "advance_ms",
    "gap_ms",
    "depth_error_mm",
    "idle_error_mm",
    "wanted_segments",
    "max_segments",
    "step_max_mm",
    "rop_min_mmh",
    "rop_max_mmh",
];

impl CutRules {
    /// Version of the rules behind the settings; a change of the cut raises it.
    pub const VERSION: u32 = 1;

    /// Changes one setting by its name.
    pub fn set(&mut self, name: &str, value: &str) -> Result<(), CutError> {
        let bad = || CutError::Setting(format!("{name}={value}"));
        let auto = value == "auto" || value == "none";
        let number = || value.parse::<i64>().ok().filter(|v| (0..=1_000_000_000).contains(v));
        match name {
            "gap_ms" => self.gap_ms = if auto { None } else { Some(number().ok_or_else(bad)?) },
            "rop_max_mmh" => {
                self.rop_max_mmh = if auto { None } else { Some(number().ok_or_else(bad)?) };
            }
            "wanted_segments" | "max_segments" => {
                let n = number().and_then(|n| usize::try_from(n).ok());
                let n = n.filter(|n| (1..=100_000).contains(n)).ok_or_else(bad)?;
                if name == "max_segments" {
                    self.max_segments = n;
                } else {
                    self.wanted_segments = n;
                }
            }
            _ => {
                let slot = match name {
                    "rotating_mrpm" => &mut self.rotating_mrpm,
                    "from_depth_mm" => &mut self.from_depth_mm,
                    "on_bottom_mm" => &mut self.on_bottom_mm,
                    "advance_ms" => &mut self.advance_ms,
                    "depth_error_mm" => &mut self.depth_error_mm,
                    "idle_error_mm" => &mut self.idle_error_mm,
                    "step_max_mm" => &mut self.step_max_mm,
                    "rop_min_mmh" => &mut self.rop_min_mmh,
                    _ => return Err(bad()),
                };
                *slot = number().ok_or_else(bad)?;
            }
        }
        Ok(())
    }
}

impl fmt::Display for CutRules {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let or = |v: Option<i64>, none: &str| v.map_or_else(|| none.to_owned(), |v| v.to_string());
        write!(
            f,
            "cut {}: rotating_mrpm={} from_depth_mm={} on_bottom_mm={} advance_ms={} gap_ms={} \
             depth_error_mm={} idle_error_mm={} wanted_segments={} max_segments={} step_max_mm={} \
             rop_min_mmh={} rop_max_mmh={}",
            Self::VERSION,
            self.rotating_mrpm,
            self.from_depth_mm,
            self.on_bottom_mm,
            self.advance_ms,
            or(self.gap_ms, "auto"),
            self.depth_error_mm,
            self.idle_error_mm,
            self.wanted_segments,
            self.max_segments,
            self.step_max_mm,
            self.rop_min_mmh,
            or(self.rop_max_mmh, "none"),
        )
    }
}

impl FromStr for CutRules {
    type Err = CutError;

    /// Reads what `Display` writes; settings left out keep their default. What a cut reached (its
    /// error) may follow after a semicolon.
    fn from_str(text: &str) -> Result<Self, CutError> {
        let version = || CutError::Version(text.to_owned());
        let settings = text.strip_prefix(&format!("cut {}:", Self::VERSION)).ok_or_else(version)?;
        let settings = settings.split(';').next().unwrap_or("");
        let mut rules = Self::default();
        for item in settings.split_whitespace() {
            let (name, value) =
                item.split_once('=').ok_or_else(|| CutError::Setting(item.to_owned()))?;
            rules.set(name, value)?;
        }
        Ok(rules)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_read_back() {
        let mut rules = CutRules { gap_ms: Some(90_000), rop_max_mmh: None, ..CutRules::default() };
        assert_eq!(rules.to_string().parse::<CutRules>().unwrap(), rules);
        let text = format!("{rules}; bit within 0.8 m at every turn");
        assert_eq!(text.parse::<CutRules>().unwrap(), rules);
        for name in NAMES {
            rules.set(name, "7").unwrap();
        }
        assert_eq!(rules.to_string().parse::<CutRules>().unwrap(), rules);
        assert_eq!("cut 1:".parse::<CutRules>().unwrap(), CutRules::default());
    }

    #[test]
    fn what_is_no_setting_is_said() {
        for bad in ["", "cut 2: gap_ms=1", "cut 1: gap=1", "cut 1: gap_ms", "cut 1: gap_ms=-1"] {
            assert!(bad.parse::<CutRules>().is_err(), "{bad}");
        }
    }
}
