//! Kinds of value that the book keeps: what each is stored as, and how each is shown in US and
//! metric oilfield units.

use std::fmt;

use super::dimension::Dimension;
use super::quantity::Quantity;
use super::rational::Rational;
use super::unit::Unit;

/// Which units people read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum UnitSystem {
    /// Feet, inches, pounds-force, degrees per 100 feet.
    #[default]
    Us,
    /// Metres, millimetres, kilonewtons, degrees per 30 metres.
    Metric,
}

impl UnitSystem {
    /// `us` or `metric`.
    pub fn parse(text: &str) -> Option<Self> {
        match text.trim().to_ascii_lowercase().as_str() {
            "us" => Some(Self::Us),
            "metric" => Some(Self::Metric),
            _ => None,
        }
    }

    /// The word for it.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Us => "us",
            Self::Metric => "metric",
        }
    }
}

impl fmt::Display for UnitSystem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// A kind of value. Stored as a whole number of quanta, so that equal facts are equal bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Measure {
    /// Depth along the hole, footage.
    Depth,
    /// Length of a joint.
    JointLength,
    /// Outside diameters that shops write as fractions.
    Diameter,
    /// Wall thickness, small dimensions of a connection.
    Wall,
    Dogleg,
    Angle,
    /// Hours of rotation and the like.
    Hours,
    Days,
    /// Tension, hook load, weight on bit.
    Force,
    Torque,
    Stress,
    /// A load rating, as tables print it: to the pound.
    LoadRating,
    /// A pressure rating, as tables print it: to the psi.
    Pressure,
    Area,
    SectionModulus,
    LinearMass,
    Density,
    Rate,
    RotarySpeed,
    Turns,
    /// A part of a whole, shown in percent.
    Ratio,
    /// Used part of fatigue life.
    Damage,
    Work,
    /// Side force per length.
    LinearForce,
    Temperature,
    Count,
    /// A plain factor (friction, concentration).
    Factor,
}

struct Spec {
    dimension: Dimension,
    /// Quanta in one base unit, as a power of ten.
    quantum_power: u32,
    us: (&'static str, usize),
    metric: (&'static str, usize),
}

const fn spec(
    dimension: Dimension,
    quantum_power: u32,
    us: (&'static str, usize),
    metric: (&'static str, usize),
) -> Spec {
    Spec { dimension, quantum_power, us, metric }
}

use Dimension as D;

impl Measure {
    const fn spec(self) -> Spec {
        match self {
            // Lengths in nanometres: 1/64 in is 396,875 of them, exactly.
            Self::Depth => spec(D::LENGTH, 9, ("ft", 0), ("m", 1)),
            Self::JointLength => spec(D::LENGTH, 9, ("ft", 2), ("m", 2)),
            Self::Diameter => spec(D::LENGTH, 9, ("in", 3), ("mm", 1)),
            Self::Wall => spec(D::LENGTH, 9, ("in", 3), ("mm", 2)),
            Self::Dogleg => spec(D::CURVATURE, 9, ("deg/100ft", 1), ("deg/30m", 1)),
            Self::Angle => spec(D::ANGLE, 6, ("deg", 2), ("deg", 2)),
            Self::Hours => spec(D::TIME, 3, ("h", 1), ("h", 1)),
            Self::Days => spec(D::TIME, 3, ("days", 0), ("days", 0)),
            Self::Force => spec(D::FORCE, 3, ("klbf", 1), ("kN", 0)),
            Self::Torque => spec(D::TORQUE, 3, ("ft.lbf", 0), ("kN.m", 2)),
            Self::Stress => spec(D::PRESSURE, 0, ("ksi", 1), ("MPa", 1)),
            Self::LoadRating => spec(D::FORCE, 3, ("lbf", 0), ("kN", 1)),
            Self::Pressure => spec(D::PRESSURE, 0, ("psi", 0), ("MPa", 1)),
            Self::Area => spec(D::AREA, 12, ("in2", 3), ("mm2", 0)),
            Self::SectionModulus => spec(D::VOLUME, 15, ("in3", 3), ("cm3", 1)),
            Self::LinearMass => spec(D::LINEAR_MASS, 6, ("lb/ft", 2), ("kg/m", 2)),
            Self::Density => spec(D::DENSITY, 6, ("ppg", 1), ("kg/m3", 0)),
            Self::Rate => spec(D::SPEED, 9, ("ft/h", 1), ("m/h", 1)),
            Self::RotarySpeed => spec(D::FREQUENCY, 6, ("rpm", 0), ("rpm", 0)),
            Self::Turns => spec(D::NUMBER, 3, ("", 0), ("", 0)),
            Self::Ratio => spec(D::NUMBER, 9, ("%", 1), ("%", 1)),
            Self::Damage => spec(D::NUMBER, 15, ("", 4), ("", 4)),
            Self::Work => spec(D::TORQUE, 0, ("kft.lbf", 0), ("MJ", 1)),
            Self::LinearForce => spec(D::LINEAR_FORCE, 3, ("lbf/ft", 0), ("N/m", 0)),
            Self::Temperature => spec(D::TEMPERATURE, 3, ("degF", 0), ("degC", 0)),
            Self::Count => spec(D::NUMBER, 0, ("", 0), ("", 0)),
            Self::Factor => spec(D::NUMBER, 6, ("", 2), ("", 2)),
        }
    }

    pub const fn dimension(self) -> Dimension {
        self.spec().dimension
    }

    /// Quanta in one base unit (metre, kilogram, second, degree, kelvin and their products).
    pub const fn quanta_per_base(self) -> i64 {
        10i64.pow(self.spec().quantum_power)
    }

    /// Unit in which this system shows it.
    pub fn unit(self, system: UnitSystem) -> Unit {
        Unit::known(self.unit_symbol(system), self.dimension())
    }

    /// Symbol of the unit in which this system shows it; empty for plain numbers.
    pub const fn unit_symbol(self, system: UnitSystem) -> &'static str {
        match system {
            UnitSystem::Us => self.spec().us.0,
            UnitSystem::Metric => self.spec().metric.0,
        }
    }

    /// Digits after the point when shown.
    pub const fn decimals(self, system: UnitSystem) -> usize {
        match system {
            UnitSystem::Us => self.spec().us.1,
            UnitSystem::Metric => self.spec().metric.1,
        }
    }

    /// Whole quanta nearest to a quantity; `None` when it does not fit or is of another kind.
    pub fn store(self, quantity: &Quantity) -> Option<i64> {
        if quantity.dimension() != self.dimension() {
            return None;
        }
        quantity.base()?.checked_mul(Rational::integer(self.quanta_per_base()))?.round()
    }

    /// Whole quanta nearest to a value in base units; `None` when it is no number or does not fit.
    pub fn store_f64(self, base: f64) -> Option<i64> {
        let quanta = (base * self.quanta_per_base() as f64).round_ties_even();
        // 2^63 and beyond does not fit; NaN fails both comparisons.
        #[expect(clippy::cast_possible_truncation, reason = "the range is checked first")]
        (quanta.abs() < 9.2e18).then_some(quanta as i64)
    }

    /// Value in base units of a stored number.
    pub fn base_f64(self, quanta: i64) -> f64 {
        quanta as f64 / self.quanta_per_base() as f64
    }

    /// Value in the unit of a system of a stored number.
    pub fn value(self, quanta: i64, system: UnitSystem) -> f64 {
        self.unit(system).show_base(self.base_f64(quanta))
    }

    /// A stored number as text without its unit: `6 3/32`, `0.362`, `1,234`, `82.4`.
    pub fn number_text(self, quanta: i64, system: UnitSystem) -> String {
        if self == Self::Diameter
            && system == UnitSystem::Us
            && let Some(text) = fraction_inches(quanta)
        {
            return text;
        }
        if self == Self::Damage && quanta != 0 && quanta.unsigned_abs() < 500_000_000_000 {
            // Below half a ten-thousandth the exponent says more than zeros do.
            return format!("{:.1e}", self.base_f64(quanta));
        }
        let value = self.value(quanta, system);
        let text = format!("{value:.*}", self.decimals(system));
        // A small negative must not print as "-0.0".
        let zero = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
        group_thousands(if zero { text.trim_start_matches('-') } else { &text })
    }

    /// A stored number as text with its unit: `6 3/32 in`, `8.2 deg/100ft`.
    pub fn text(self, quanta: i64, system: UnitSystem) -> String {
        let number = self.number_text(quanta, system);
        match self.unit_symbol(system) {
            "" => number,
            "%" => format!("{number} %"),
            unit => format!("{number} {unit}"),
        }
    }
}

/// `6 3/32` for a length that is a whole number of 64ths of an inch.
fn fraction_inches(nanometres: i64) -> Option<String> {
    const SIXTY_FOURTH: i64 = 396_875;
    if nanometres <= 0 || nanometres % SIXTY_FOURTH != 0 {
        return None;
    }
    let n = nanometres / SIXTY_FOURTH;
    let (whole, part) = (n / 64, n % 64);
    if part == 0 {
        return Some(whole.to_string());
    }
    let twos = part.trailing_zeros();
    let (num, den) = (part >> twos, 64 >> twos);
    Some(if whole == 0 { format!("{num}/{den}") } else { format!("{whole} {num}/{den}") })
}

/// `1,234,567.8` for numbers of five digits and more; four stay together.
fn group_thousands(text: &str) -> String {
    let (sign, rest) = text.strip_prefix('-').map_or(("", text), |r| ("-", r));
    let (whole, fraction) = rest.find('.').map_or((rest, ""), |at| rest.split_at(at));
    if whole.len() < 5 {
        return text.to_owned();
    }
    let mut out = String::from(sign);
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i) % 3 == 0 {
            out.push(',');
        }
        out.push(c);
    }
    out + fraction
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Measure; 27] = [
        Measure::Depth,
        Measure::JointLength,
        Measure::Diameter,
        Measure::Wall,
        Measure::Dogleg,
        Measure::Angle,
        Measure::Hours,
        Measure::Days,
        Measure::Force,
        Measure::Torque,
        Measure::Stress,
        Measure::LoadRating,
        Measure::Pressure,
        Measure::Area,
        Measure::SectionModulus,
        Measure::LinearMass,
        Measure::Density,
        Measure::Rate,
        Measure::RotarySpeed,
        Measure::Turns,
        Measure::Ratio,
        Measure::Damage,
        Measure::Work,
        Measure::LinearForce,
        Measure::Temperature,
        Measure::Count,
        Measure::Factor,
    ];

    fn stored(text: &str, measure: Measure) -> i64 {
        measure.store(&Quantity::parse(text, measure.dimension()).unwrap()).unwrap()
    }

    #[test]
    fn every_measure_has_units_of_its_dimension() {
        for m in ALL {
            for system in [UnitSystem::Us, UnitSystem::Metric] {
                assert_eq!(m.unit(system).dimension(), m.dimension(), "{m:?} {system}");
            }
        }
    }

    #[test]
    fn shows_as_the_trade_writes() {
        for (text, measure, us, metric) in [
            ("6 3/32 in", Measure::Diameter, "6 3/32 in", "154.8 mm"),
            ("5 in", Measure::Diameter, "5 in", "127.0 mm"),
            ("127.03 mm", Measure::Diameter, "5.001 in", "127.0 mm"),
            ("0.362 in", Measure::Wall, "0.362 in", "9.19 mm"),
            ("8 deg/100ft", Measure::Dogleg, "8.0 deg/100ft", "7.9 deg/30m"),
            ("553833 lbf", Measure::LoadRating, "553,833 lbf", "2463.6 kN"),
            ("17105 psi", Measure::Pressure, "17,105 psi", "117.9 MPa"),
            ("5.2746 in2", Measure::Area, "5.275 in2", "3403 mm2"),
            ("5.708 in3", Measure::SectionModulus, "5.708 in3", "93.5 cm3"),
            ("31025 ft.lbf", Measure::Torque, "31,025 ft.lbf", "42.06 kN.m"),
            ("82.4 %", Measure::Ratio, "82.4 %", "82.4 %"),
            ("1234.5 h", Measure::Hours, "1234.5 h", "1234.5 h"),
            ("0.25", Measure::Damage, "0.2500", "0.2500"),
            ("0.0000012", Measure::Damage, "1.2e-6", "1.2e-6"),
            ("741577.944", Measure::Turns, "741,578", "741,578"),
            ("-0.01 klbf", Measure::Force, "0.0 klbf", "0 kN"),
            ("10 ppg", Measure::Density, "10.0 ppg", "1198 kg/m3"),
        ] {
            let quanta = stored(text, measure);
            assert_eq!(measure.text(quanta, UnitSystem::Us), us, "{text}");
            assert_eq!(measure.text(quanta, UnitSystem::Metric), metric, "{text}");
        }
    }

    #[test]
    fn sixty_fourths_are_whole_quanta() {
        for n in 1..2000 {
            assert_eq!(stored(&format!("{n}/64 in"), Measure::Diameter), n * 396_875);
        }
    }

    #[test]
    fn what_does_not_fit_is_none() {
        assert_eq!(Measure::Damage.store_f64(1e6), None);
        assert_eq!(Measure::Damage.store_f64(f64::NAN), None);
        assert_eq!(Measure::Damage.store_f64(0.5), Some(500_000_000_000_000));
    }
}
