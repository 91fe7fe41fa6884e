//! Thread forms of rotary shouldered connections as data, with the evidence of each row.
//!
//! Source: API Spec 7, 38th edition (1994), table of product thread dimensions, as printed on a
//! threading chart (published): V-038R, V-040 and V-050. The sharp-V height of every row also
//! follows from lead, angle and taper (see the test), so that a digit lost in copying shows.

use crate::mechanics::tube::Evidence;
use crate::mechanics::tube::us::{FOOT, INCH};

/// A thread form. Kept in the inches of the standard, read in SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThreadForm {
    /// Name in the standard.
    pub name: &'static str,
    taper_in_per_ft: f64,
    threads_per_inch: f64,
    height_in: f64,
    root_truncation_in: f64,
    crest_truncation_in: f64,
    half_angle_deg: f64,
    /// Whether the row was read or recalled.
    pub evidence: Evidence,
    pub source: &'static str,
}

impl ThreadForm {
    /// Taper on diameter, m of diameter per m of length.
    pub fn taper(&self) -> f64 {
        self.taper_in_per_ft * INCH / FOOT
    }

    /// Taper on diameter in the in/ft of the standard.
    pub const fn taper_inches_per_foot(&self) -> f64 {
        self.taper_in_per_ft
    }

    pub fn lead(&self) -> f64 {
        INCH / self.threads_per_inch
    }

    pub const fn threads_per_inch(&self) -> f64 {
        self.threads_per_inch
    }

    /// Height of the sharp V, H, m.
    pub fn height(&self) -> f64 {
        self.height_in * INCH
    }

    /// Truncation of the root, S, m.
    pub fn root_truncation(&self) -> f64 {
        self.root_truncation_in * INCH
    }

    /// Truncation of the crest, f, m.
    pub fn crest_truncation(&self) -> f64 {
        self.crest_truncation_in * INCH
    }

    /// Half of the thread angle, rad: 30° for the V forms, 45° for the 90-V.
    pub fn half_angle(&self) -> f64 {
        self.half_angle_deg.to_radians()
    }

    /// Dedendum, H/2 − S: pitch line to root, m.
    pub fn dedendum(&self) -> f64 {
        self.height() / 2.0 - self.root_truncation()
    }

    /// Addendum, H/2 − f: pitch line to crest, m.
    pub fn addendum(&self) -> f64 {
        self.height() / 2.0 - self.crest_truncation()
    }
}

const SPEC_7: &str = "API Spec 7, 38th edition (1994), product thread dimensions, on a chart";

/// V-038R, 2 in/ft: NC23 to NC50.
pub const V038R_2: ThreadForm = ThreadForm {
    name: "V-038R",
    taper_in_per_ft: 2.0,
    threads_per_inch: 4.0,
    height_in: 0.216005,
    root_truncation_in: 0.038000,
    crest_truncation_in: 0.056161,
    half_angle_deg: 30.0,
    evidence: Evidence::Published,
    source: SPEC_7,
};

/// V-038R, 3 in/ft: NC56 to NC77.
pub const V038R_3: ThreadForm = ThreadForm {
    name: "V-038R",
    taper_in_per_ft: 3.0,
    threads_per_inch: 4.0,
    height_in: 0.215379,
    root_truncation_in: 0.038000,
    crest_truncation_in: 0.055998,
    half_angle_deg: 30.0,
    evidence: Evidence::Published,
    source: SPEC_7,
};

/// V-040, 3 in/ft, 5 threads per inch: the small REG and FH sizes.
pub const V040_3: ThreadForm = ThreadForm {
    name: "V-040",
    taper_in_per_ft: 3.0,
    threads_per_inch: 5.0,
    height_in: 0.172303,
    root_truncation_in: 0.020000,
    crest_truncation_in: 0.034461,
    half_angle_deg: 30.0,
    evidence: Evidence::Published,
    source: SPEC_7,
};

/// V-050, 2 in/ft: 6 5/8 REG, 5 1/2 and 6 5/8 FH.
pub const V050_2: ThreadForm = ThreadForm {
    name: "V-050",
    taper_in_per_ft: 2.0,
    threads_per_inch: 4.0,
    height_in: 0.216005,
    root_truncation_in: 0.025000,
    crest_truncation_in: 0.043201,
    half_angle_deg: 30.0,
    evidence: Evidence::Published,
    source: SPEC_7,
};

/// V-050, 3 in/ft: 5 1/2, 7 5/8 and 8 5/8 REG.
pub const V050_3: ThreadForm = ThreadForm {
    name: "V-050",
    taper_in_per_ft: 3.0,
    threads_per_inch: 4.0,
    height_in: 0.215379,
    root_truncation_in: 0.025000,
    crest_truncation_in: 0.043076,
    half_angle_deg: 30.0,
    evidence: Evidence::Published,
    source: SPEC_7,
};

/// 90-V-050, 2 in/ft, 3 1/2 threads per inch: the H-90 sizes up to 6 5/8.
///
/// Root truncation is recalled; with it three published tensile yields of H-90 pins reproduce to
/// the pound, and the truncated height H − S − f = 0.1000 in agrees with the compensated height of
/// 0.0997 in that Table F.16 of API Spec 7-2 (addendum 2010) prints.
pub const V90_050_2: ThreadForm = ThreadForm {
    name: "90-V-050",
    taper_in_per_ft: 2.0,
    threads_per_inch: 3.5,
    height_in: 0.141865,
    root_truncation_in: 0.017042,
    crest_truncation_in: 0.024826,
    half_angle_deg: 45.0,
    evidence: Evidence::Memory,
    source: "API Spec 7-2 annex F, recalled; agrees with RP 7G Table 9 tensile values",
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_height_of_each_form_follows_from_lead_angle_and_taper() {
        for form in [V038R_2, V038R_3, V040_3, V050_2, V050_3, V90_050_2] {
            let half_lead = 0.5 / form.threads_per_inch;
            let slope = form.taper_in_per_ft / 24.0;
            let t = libm::tan(form.half_angle());
            let height = half_lead * (1.0 / t - slope * slope * t);
            assert!((height - form.height_in).abs() < 1e-6, "{form:?}: {height}");
        }
    }

    #[test]
    fn flat_crests_follow_from_their_width() {
        // V-040 and V-050 name the width of the flat crest in thousandths of an inch.
        for (form, width) in [(V040_3, 0.040), (V050_2, 0.050), (V050_3, 0.050), (V90_050_2, 0.050)]
        {
            let slope = form.taper_in_per_ft / 24.0;
            let t = libm::tan(form.half_angle());
            let crest = width / 2.0 * (1.0 / t - slope * slope * t);
            assert!((crest - form.crest_truncation_in).abs() < 1e-6, "{form:?}: {crest}");
        }
    }

    #[test]
    fn the_h90_height_is_the_compensated_height_of_the_gauge_table() {
        let slope = V90_050_2.taper_in_per_ft / 24.0;
        let height =
            V90_050_2.height_in - V90_050_2.root_truncation_in - V90_050_2.crest_truncation_in;
        let compensated = height * libm::cos(libm::atan(slope));
        assert!((compensated - 0.0997).abs() < 0.00005, "{compensated}");
    }
}
