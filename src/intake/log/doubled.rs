//! Where two parts of a log tell one stretch of time: whether they tell the same of it.

use std::collections::BTreeMap;

use super::counts::metres;
use super::time::Sample;

/// Rows are compared minute by minute: two exports of one log need not have the same rows.
const MINUTE_MS: i64 = 60_000;
/// Bits that stand no further apart are at one depth, mm.
const APART_MM: i64 = 2_000;
/// Speeds that differ by no more, or by no more of the faster one, are one: a change of speed within a
/// minute falls on other rows. Revolutions a minute, and a share.
const APART_RPM: (f64, f64) = (10.0, 0.15);

/// Sums over the rows of a minute.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    rows: i64,
    bit_mm: i64,
    nano_speed: i128,
}

impl Sums {
    fn add(&mut self, other: Self) {
        self.rows += other.rows;
        self.bit_mm += other.bit_mm;
        self.nano_speed += other.nano_speed;
    }
}

/// What rows tell, a minute after another.
#[derive(Debug, Default)]
struct Minutes(Vec<(i64, Sums)>);

impl Minutes {
    fn add(&mut self, s: &Sample) {
        let minute = s.ms.div_euclid(MINUTE_MS);
        let one = Sums { rows: 1, bit_mm: s.bit_mm, nano_speed: i128::from(s.nano_speed) };
        match self.0.last_mut() {
            Some((last, sums)) if *last == minute => sums.add(one),
            _ => self.0.push((minute, one)),
        }
    }

    /// In order, each once.
    fn in_order(&self) -> BTreeMap<i64, Sums> {
        let mut out: BTreeMap<i64, Sums> = BTreeMap::new();
        self.0.iter().for_each(|(minute, sums)| out.entry(*minute).or_default().add(*sums));
        out
    }
}

/// What the rows tell that count, and those that do not because an earlier part tells of their time.
#[derive(Debug, Default)]
pub(super) struct Doubled {
    counted: Minutes,
    again: Minutes,
}

impl Doubled {
    pub(super) fn counts(&mut self, s: &Sample) {
        self.counted.add(s);
    }

    pub(super) fn told_before(&mut self, s: &Sample) {
        self.again.add(s);
    }

    /// How parts differ about what both tell, in words; `None` where they agree but for a tenth of the
    /// minutes. `rpm` is what one billionth of the unit of the speed is; `time` writes a place, ms.
    pub(super) fn difference(&self, rpm: f64, time: impl Fn(i64) -> String) -> Option<String> {
        let counted = self.counted.in_order();
        let (mut compared, mut differ) = (0_usize, Vec::new());
        for (minute, again) in self.again.in_order() {
            let Some(counted) = counted.get(&minute) else { continue };
            compared += 1;
            let bit = |s: &Sums| s.bit_mm / s.rows;
            let speed = |s: &Sums| s.nano_speed as f64 * rpm / s.rows as f64;
            let (a, b) = (speed(counted), speed(&again));
            let turns = (a - b).abs() > (APART_RPM.1 * a.max(b)).max(APART_RPM.0);
            if turns || (bit(counted) - bit(&again)).abs() > APART_MM {
                differ.push((minute, (bit(counted), bit(&again)), (a, b)));
            }
        }
        let (first, bits, speeds) = *differ.first()?;
        if differ.len() * 10 <= compared {
            return None;
        }
        Some(format!(
            "where parts of the log tell one time they differ, in {} of {compared} minutes; at {} one \
             has {:.0} rpm and the bit at {}, the other {:.0} rpm and {}",
            differ.len(),
            time(first * MINUTE_MS),
            speeds.0,
            metres(bits.0),
            speeds.1,
            metres(bits.1),
        ))
    }
}
