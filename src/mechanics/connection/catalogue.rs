//! Rotary shouldered connections as data: gauge dimensions, with the evidence of each row.
//!
//! Sources: NC23 to NC61 from API Spec 7-2 (2017) Table B.1 in mm (published); NC70 and NC77 from a
//! public reprint of the same table in inches (published); 2 3/8 and 2 7/8 REG pitch diameters from
//! a maker's dimension sheet to three decimals (published), the other REG and FH rows and H-90
//! recalled (memory). Recalled rows are checked where a published value depends on them: tensile
//! yields of 4 1/2 FH, 5 1/2 FH and H-90, bending strength ratios of 6 5/8 and 7 5/8 REG, collar
//! make-up of 3 1/2 H-90 (`tests/reference/`).
//!
//! H-90 sizes above 6 5/8 (taper 3 in/ft), PAC, OH, SH, XH of their own geometry and all proprietary
//! double-shoulder connections are not here: use the maker's field sheet for those.

use super::threads::{ThreadForm, V038R_2, V038R_3, V040_3, V050_2, V050_3, V90_050_2};
use crate::mechanics::tube::Evidence;
use crate::mechanics::tube::us::INCH;

/// Family of a connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Style {
    Nc,
    FullHole,
    Regular,
    /// H-90, 90° thread.
    H90,
}

impl Style {
    /// The word that names of the family carry.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nc => "NC",
            Self::FullHole => "FH",
            Self::Regular => "REG",
            Self::H90 => "H-90",
        }
    }
}

/// A rotary shouldered connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ConnectionType {
    /// NC23
    Nc23,
    /// NC26, 2 3/8 IF
    Nc26,
    /// NC31, 2 7/8 IF
    Nc31,
    /// NC35
    Nc35,
    /// NC38, 3 1/2 IF
    Nc38,
    /// NC40, 4 FH
    Nc40,
    /// NC44
    Nc44,
    /// NC46, 4 IF
    Nc46,
    /// NC50, 4 1/2 IF
    Nc50,
    /// NC56
    Nc56,
    /// NC61
    Nc61,
    /// NC70
    Nc70,
    /// NC77
    Nc77,
    /// 3 1/2 FH
    Fh3_1_2,
    /// 4 1/2 FH
    Fh4_1_2,
    /// 5 1/2 FH
    Fh5_1_2,
    /// 6 5/8 FH
    Fh6_5_8,
    /// 2 3/8 REG
    Reg2_3_8,
    /// 2 7/8 REG
    Reg2_7_8,
    /// 3 1/2 REG
    Reg3_1_2,
    /// 4 1/2 REG
    Reg4_1_2,
    /// 5 1/2 REG
    Reg5_1_2,
    /// 6 5/8 REG
    Reg6_5_8,
    /// 7 5/8 REG
    Reg7_5_8,
    /// 8 5/8 REG
    Reg8_5_8,
    /// 3 1/2 H-90
    H90_3_1_2,
    /// 4 H-90
    H90_4,
    /// 4 1/2 H-90
    H90_4_1_2,
    /// 5 H-90
    H90_5,
    /// 5 1/2 H-90
    H90_5_1_2,
    /// 6 5/8 H-90
    H90_6_5_8,
}

/// Dimensions of a connection. Kept in the inches of the standard, read in SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConnectionSpec {
    pub connection: ConnectionType,
    /// Name as the trade writes it.
    pub name: &'static str,
    pub style: Style,
    pub form: &'static ThreadForm,
    pitch_diameter_in: f64,
    pin_length_in: f64,
    counterbore_in: f64,
    relief_groove_in: Option<f64>,
    bore_back_in: Option<f64>,
    /// Whether the row was read or recalled.
    pub evidence: Evidence,
    pub source: &'static str,
}

/// Distance of the gauge point from the shoulder, m: 5/8 in in every API connection.
pub(crate) const GAUGE_POINT: f64 = 0.625 * INCH;

impl ConnectionSpec {
    /// Pitch diameter at the gauge point, C, m.
    pub fn pitch_diameter(&self) -> f64 {
        self.pitch_diameter_in * INCH
    }

    /// Length of the pin, `L_pc`, m.
    pub fn pin_length(&self) -> f64 {
        self.pin_length_in * INCH
    }

    /// Diameter of the box counterbore, `Q_c`, m.
    pub fn counterbore(&self) -> f64 {
        self.counterbore_in * INCH
    }

    /// Large diameter of the pin at the shoulder plane, `D_L`, m: crest cone extended (computed).
    pub fn large_diameter(&self) -> f64 {
        self.pitch_diameter() + self.form.taper() * GAUGE_POINT + 2.0 * self.form.addendum()
    }

    /// Standard diameter of the pin's stress-relief groove, `D_RG`, m, where one was read
    /// (published: a maker's table after API Spec 7; tolerance −1/32 in).
    pub fn relief_groove(&self) -> Option<f64> {
        self.relief_groove_in.map(|d| d * INCH)
    }

    /// Standard diameter of the box bore-back cylinder, `D_CB`, m (memory: API Spec 7 / 7-2,
    /// tolerance +1/64 in). Every recalled value lies on the root cone of the box half an inch short
    /// of the end of the pin, which a slip of memory would not.
    pub fn bore_back(&self) -> Option<f64> {
        self.bore_back_in.map(|d| d * INCH)
    }
}

impl ConnectionType {
    /// Returns the dimensions of the connection.
    pub fn spec(self) -> &'static ConnectionSpec {
        &CATALOGUE[self as usize]
    }

    /// Returns the name as the trade writes it.
    pub fn name(self) -> &'static str {
        self.spec().name
    }
}

impl std::fmt::Display for ConnectionType {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

const SPEC_7_2: &str = "API Spec 7-2 (2017) Table B.1, in mm";
const REPRINT: &str = "public reprint of API Spec 7 numbered connections, in inches";
const SHEET: &str = "maker's dimension sheet, pitch diameter to three decimals; rest recalled";
const RECALLED: &str = "API Spec 7 / 7-2, recalled";

const fn row(
    connection: ConnectionType,
    name: &'static str,
    style: Style,
    form: &'static ThreadForm,
    dims: (f64, f64, f64),
    features: (Option<f64>, Option<f64>),
    source: (Evidence, &'static str),
) -> ConnectionSpec {
    ConnectionSpec {
        connection,
        name,
        style,
        form,
        pitch_diameter_in: dims.0,
        pin_length_in: dims.1,
        counterbore_in: dims.2,
        relief_groove_in: features.0,
        bore_back_in: features.1,
        evidence: source.0,
        source: source.1,
    }
}

use ConnectionType as T;
use Style::{FullHole, H90, Nc, Regular};

/// Read in Spec 7-2.
const READ: (Evidence, &str) = (Evidence::Published, SPEC_7_2);
/// Read in a reprint.
const REPRINTED: (Evidence, &str) = (Evidence::Published, REPRINT);
const IN_PART: (Evidence, &str) = (Evidence::Memory, SHEET);
const MEMORY: (Evidence, &str) = (Evidence::Memory, RECALLED);
/// No standard relief feature known here.
const PLAIN: (Option<f64>, Option<f64>) = (None, None);

/// Relief groove (if read) and bore-back diameters, in.
const fn bored(groove: Option<f64>, bore_back: f64) -> (Option<f64>, Option<f64>) {
    (groove, Some(bore_back))
}

/// Relief groove and bore-back diameters, in.
const fn relieved(groove: f64, bore_back: f64) -> (Option<f64>, Option<f64>) {
    (Some(groove), Some(bore_back))
}

/// All connections, in the order of [`ConnectionType`]. Columns: pitch diameter, pin length,
/// counterbore; relief groove, bore-back.
pub const CATALOGUE: [ConnectionSpec; 31] = [
    row(T::Nc23, "NC23", Nc, &V038R_2, (2.355, 3.0, 2.625), PLAIN, READ),
    row(T::Nc26, "NC26", Nc, &V038R_2, (2.668, 3.0, 2.9375), PLAIN, READ),
    row(T::Nc31, "NC31", Nc, &V038R_2, (3.183, 3.5, 3.453125), PLAIN, READ),
    row(T::Nc35, "NC35", Nc, &V038R_2, (3.531, 3.75, 3.8125), bored(None, 3.234375), READ),
    row(T::Nc38, "NC38", Nc, &V038R_2, (3.808, 4.0, 4.078125), bored(None, 3.46875), READ),
    row(T::Nc40, "NC40", Nc, &V038R_2, (4.072, 4.5, 4.34375), bored(None, 3.65625), READ),
    row(T::Nc44, "NC44", Nc, &V038R_2, (4.417, 4.5, 4.6875), relieved(4.1875, 4.0), READ),
    row(T::Nc46, "NC46", Nc, &V038R_2, (4.626, 4.5, 4.90625), relieved(4.328125, 4.203125), READ),
    row(T::Nc50, "NC50", Nc, &V038R_2, (5.0417, 4.5, 5.3125), relieved(4.75, 4.625), READ),
    row(T::Nc56, "NC56", Nc, &V038R_3, (5.616, 5.0, 5.9375), relieved(5.296875, 4.796875), READ),
    row(T::Nc61, "NC61", Nc, &V038R_3, (6.178, 5.5, 6.5), relieved(5.859375, 5.234375), READ),
    row(
        T::Nc70,
        "NC70",
        Nc,
        &V038R_3,
        (7.053, 6.0, 7.375),
        relieved(6.734375, 5.984375),
        REPRINTED,
    ),
    row(
        T::Nc77,
        "NC77",
        Nc,
        &V038R_3,
        (7.741, 6.5, 8.0625),
        relieved(7.421875, 6.546875),
        REPRINTED,
    ),
    row(T::Fh3_1_2, "3 1/2 FH", FullHole, &V040_3, (3.734, 3.75, 4.046875), PLAIN, MEMORY),
    row(
        T::Fh4_1_2,
        "4 1/2 FH",
        FullHole,
        &V040_3,
        (4.532, 4.0, 4.875),
        relieved(4.234375, 3.953125),
        MEMORY,
    ),
    row(
        T::Fh5_1_2,
        "5 1/2 FH",
        FullHole,
        &V050_2,
        (5.591, 5.0, 5.90625),
        bored(None, 5.109375),
        MEMORY,
    ),
    row(
        T::Fh6_5_8,
        "6 5/8 FH",
        FullHole,
        &V050_2,
        (6.5196, 5.0, 6.84375),
        bored(None, 6.046875),
        MEMORY,
    ),
    row(T::Reg2_3_8, "2 3/8 REG", Regular, &V040_3, (2.36537, 3.0, 2.6875), PLAIN, IN_PART),
    row(T::Reg2_7_8, "2 7/8 REG", Regular, &V040_3, (2.74037, 3.5, 3.0625), PLAIN, IN_PART),
    row(T::Reg3_1_2, "3 1/2 REG", Regular, &V040_3, (3.23987, 3.75, 3.5625), PLAIN, MEMORY),
    row(
        T::Reg4_1_2,
        "4 1/2 REG",
        Regular,
        &V040_3,
        (4.36487, 4.25, 4.6875),
        bored(None, 3.71875),
        MEMORY,
    ),
    row(
        T::Reg5_1_2,
        "5 1/2 REG",
        Regular,
        &V050_3,
        (5.23402, 4.75, 5.578125),
        relieved(4.859375, 4.5),
        MEMORY,
    ),
    row(
        T::Reg6_5_8,
        "6 5/8 REG",
        Regular,
        &V050_2,
        (5.7578, 5.0, 6.0625),
        relieved(5.421875, 5.28125),
        MEMORY,
    ),
    row(
        T::Reg7_5_8,
        "7 5/8 REG",
        Regular,
        &V050_3,
        (6.71453, 5.25, 7.09375),
        relieved(6.40625, 5.859375),
        MEMORY,
    ),
    row(
        T::Reg8_5_8,
        "8 5/8 REG",
        Regular,
        &V050_3,
        (7.66658, 5.375, 8.046875),
        bored(None, 6.78125),
        MEMORY,
    ),
    row(T::H90_3_1_2, "3 1/2 H-90", H90, &V90_050_2, (3.9286, 4.0, 4.1875), PLAIN, MEMORY),
    row(T::H90_4, "4 H-90", H90, &V90_050_2, (4.3036, 4.25, 4.5625), PLAIN, MEMORY),
    row(T::H90_4_1_2, "4 1/2 H-90", H90, &V90_050_2, (4.6376, 4.5, 4.890625), PLAIN, MEMORY),
    row(T::H90_5, "5 H-90", H90, &V90_050_2, (4.9081, 4.75, 5.171875), PLAIN, MEMORY),
    row(T::H90_5_1_2, "5 1/2 H-90", H90, &V90_050_2, (5.1786, 4.75, 5.4375), PLAIN, MEMORY),
    row(T::H90_6_5_8, "6 5/8 H-90", H90, &V90_050_2, (5.8036, 5.0, 6.0625), PLAIN, MEMORY),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_stands_at_its_own_place() {
        for (place, spec) in CATALOGUE.iter().enumerate() {
            assert_eq!(spec.connection as usize, place, "{}", spec.name);
            assert_eq!(spec.connection.spec(), spec);
        }
    }

    #[test]
    fn dimensions_of_a_row_fit_each_other() {
        for spec in &CATALOGUE {
            // The counterbore clears the crest cone at the shoulder, by 1/32 to 1/8 in.
            let clearance = (spec.counterbore() - spec.large_diameter()) / INCH;
            assert!((0.03..0.13).contains(&clearance), "{}: {clearance}", spec.name);
            // The bore-back is the root cone of the box half an inch short of the end of the pin.
            if let Some(bore_back) = spec.bore_back() {
                let root_at_end = spec.pitch_diameter()
                    - spec.form.taper() * (spec.pin_length() - GAUGE_POINT)
                    + 2.0 * spec.form.dedendum();
                let inches = (bore_back - root_at_end) / (spec.form.taper() * INCH);
                assert!((0.4..0.6).contains(&inches), "{}: {inches} in", spec.name);
            }
            // A groove goes a little under the root of the thread.
            if let Some(groove) = spec.relief_groove() {
                let root = spec.pitch_diameter() - 2.0 * spec.form.dedendum();
                let depth = (root - groove) / INCH;
                assert!((0.05..0.25).contains(&depth), "{}: {depth}", spec.name);
            }
        }
    }
}
