//! Turns and hours by dogleg: how much rotation a joint did in how sharp a bend.
//!
//! Bands of 0.5 deg/30 m up to 30 deg/30 m, and one for everything above. Stored sparse: most
//! joints turn in few bands.

/// Bands in a degree per metre.
const PER_DEGREE: u8 = 60;
/// Width of a band, deg/30 m.
pub const BAND_WIDTH: f64 = 30.0 / PER_DEGREE as f64;
/// Bands up to 30 deg/30 m, and one for what lies above.
pub const BANDS: usize = PER_DEGREE as usize + 1;

/// Turns (thousandths) and hours (ms) in each band.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Histogram {
    bands: Vec<(i64, i64)>,
}

impl Default for Histogram {
    fn default() -> Self {
        Self { bands: vec![(0, 0); BANDS] }
    }
}

/// Why bytes are no histogram.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("these bytes are no histogram of turns and hours")]
pub struct HistogramError;

impl Histogram {
    /// Adds turns and hours to a band; what lies beyond the last goes into it.
    pub fn put(&mut self, band: usize, milli_turns: i64, ms: i64) {
        if let Some(b) = self.bands.get_mut(band.min(BANDS - 1)) {
            b.0 = b.0.saturating_add(milli_turns);
            b.1 = b.1.saturating_add(ms);
        }
    }

    /// Turns and hours of a band.
    pub fn band(&self, band: usize) -> (i64, i64) {
        self.bands.get(band).copied().unwrap_or((0, 0))
    }

    pub fn add(&mut self, other: &Self) {
        for (a, b) in self.bands.iter_mut().zip(&other.bands) {
            a.0 = a.0.saturating_add(b.0);
            a.1 = a.1.saturating_add(b.1);
        }
    }

    /// Takes another histogram away.
    pub fn subtract(&mut self, other: &Self) {
        for (a, b) in self.bands.iter_mut().zip(&other.bands) {
            a.0 = a.0.saturating_sub(b.0);
            a.1 = a.1.saturating_sub(b.1);
        }
    }

    /// Turns above a dogleg (1e-9 deg/m), thousandths. Inside the band that holds the threshold
    /// the turns are taken as spread evenly; in the overflow band they all count.
    pub fn turns_above(&self, dogleg: i64) -> i64 {
        above(dogleg, self.bands.iter().map(|b| b.0))
    }

    /// Hours above a dogleg (1e-9 deg/m), ms. See [`Self::turns_above`].
    pub fn hours_above(&self, dogleg: i64) -> i64 {
        above(dogleg, self.bands.iter().map(|b| b.1))
    }

    /// The middle of a band, 1e-9 deg/m.
    pub fn middle(band: usize) -> i64 {
        let (band, bands) = (i64::try_from(band).unwrap_or(0), i64::from(PER_DEGREE));
        band * 1_000_000_000 / bands + 500_000_000 / bands
    }

    /// Writes the bands that hold anything: band, turns, hours, each as a variable-length number.
    pub fn encode(&self) -> Vec<u8> {
        let mut out = Vec::new();
        for (i, (turns, ms)) in self.bands.iter().enumerate() {
            if *turns != 0 || *ms != 0 {
                out.push(u8::try_from(i).unwrap_or(u8::MAX));
                write_number(*turns, &mut out);
                write_number(*ms, &mut out);
            }
        }
        out
    }

    /// Reads what [`Self::encode`] wrote.
    pub fn decode(bytes: &[u8]) -> Result<Self, HistogramError> {
        let mut histogram = Self::default();
        Self::each_stored(bytes, |band, turns, ms| histogram.put(usize::from(band), turns, ms))?;
        Ok(histogram)
    }

    /// Hands out what [`Self::encode`] wrote: band, turns, hours of each band that holds anything.
    pub fn each_stored(
        mut bytes: &[u8],
        mut see: impl FnMut(u8, i64, i64),
    ) -> Result<(), HistogramError> {
        let mut next = 0;
        while let Some((band, rest)) = bytes.split_first() {
            bytes = rest;
            if usize::from(*band) >= BANDS || *band < next {
                return Err(HistogramError);
            }
            next = band + 1;
            let turns = read_number(&mut bytes)?;
            let ms = read_number(&mut bytes)?;
            see(*band, turns, ms);
        }
        Ok(())
    }
}

/// The part of band values that lies above a threshold.
impl Histogram {
    /// Doglegs at or below, and above, the edges of the band in which a dogleg lies.
    pub fn edges_about(dogleg: i64) -> (i64, i64) {
        let unit = 1_000_000_000i128;
        let band = i128::from(dogleg.max(0)) * 60 / unit;
        let (low, high) = (band * unit / 60, (band + 1) * unit / 60 + 1);
        let whole = |edge: i128| i64::try_from(edge).unwrap_or(i64::MAX);
        (whole(low), whole(high))
    }
}

impl Histogram {
    /// The band in which a dogleg lies, and how much of it lies below, of so many parts: what is above
    /// is all of the bands beyond it, and the rest of this one, rounded down.
    pub fn edge_of(dogleg: i64) -> (i64, i64, i64) {
        // In bands the threshold is dogleg · 60 / 1e9.
        let scaled = i128::from(dogleg.max(0)) * i128::from(PER_DEGREE);
        let unit = 1_000_000_000i64;
        let whole = |n: i128| i64::try_from(n).unwrap_or(i64::MAX);
        (whole(scaled / i128::from(unit)), whole(scaled % i128::from(unit)), unit)
    }
}

fn above(dogleg: i64, bands: impl Iterator<Item = i64>) -> i64 {
    let (edge, inside, unit) = Histogram::edge_of(dogleg);
    let edge = usize::try_from(edge).unwrap_or(usize::MAX);
    let (inside, unit) = (i128::from(inside), i128::from(unit));
    let mut sum = 0i64;
    for (i, value) in bands.enumerate() {
        let counted = if i > edge || i == BANDS - 1 {
            value
        } else if i == edge {
            let part = i128::from(value) * (unit - inside) / unit;
            i64::try_from(part).unwrap_or(value)
        } else {
            0
        };
        sum = sum.saturating_add(counted);
    }
    sum
}

/// Writes a number: zigzag and seven bits a byte.
pub fn write_number(n: i64, out: &mut Vec<u8>) {
    let mut z = (n.cast_unsigned() << 1) ^ (n >> 63).cast_unsigned();
    loop {
        let low = u8::try_from(z & 0x7f).unwrap_or(0);
        z >>= 7;
        if z == 0 {
            out.push(low);
            return;
        }
        out.push(low | 0x80);
    }
}

/// Reads what [`write_number`] wrote, and leaves the bytes after it.
pub fn read_number(bytes: &mut &[u8]) -> Result<i64, HistogramError> {
    let mut z = 0u64;
    for shift in (0..64).step_by(7) {
        let (byte, rest) = bytes.split_first().ok_or(HistogramError)?;
        *bytes = rest;
        z |= u64::from(byte & 0x7f) << shift;
        if byte & 0x80 == 0 {
            return Ok((z >> 1).cast_signed() ^ -(z & 1).cast_signed());
        }
    }
    Err(HistogramError)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn thresholds_interpolate_inside_a_band() {
        let mut h = Histogram::default();
        h.put(4, 1000, 600); // 2.0 to 2.5 deg/30 m
        h.put(60, 7, 1);
        let deg30 = |d: f64| crate::units::Measure::Dogleg.store_f64(d / 30.0).unwrap();
        assert_eq!(h.turns_above(deg30(1.9)), 1007);
        assert_eq!(h.turns_above(deg30(2.25)), 507);
        assert_eq!(h.hours_above(deg30(2.5) + 1), 1);
        assert_eq!(h.turns_above(deg30(50.0)), 7);
    }

    proptest! {
        #[test]
        fn bytes_read_back(puts in prop::collection::vec((0usize..70, any::<i32>(), any::<i32>()), 0..40)) {
            let mut h = Histogram::default();
            for (band, turns, ms) in puts {
                h.put(band, i64::from(turns), i64::from(ms));
            }
            prop_assert_eq!(Histogram::decode(&h.encode()).unwrap(), h);
        }

        #[test]
        fn soup_never_panics(bytes in prop::collection::vec(any::<u8>(), 0..60)) {
            let _ = Histogram::decode(&bytes);
        }
    }
}
