//! Units by name: one table of atoms, and products, quotients and powers of them.
//!
//! Some symbols mean two things in the trade (`lb` is a mass on a pipe and a pull on a hook), so a
//! symbol has *meanings*, and the place where it stands picks the one with the right dimension.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fmt;

use super::dimension::Dimension;
use super::rational::Rational;

/// A unit: its symbol as written, what it measures, and its exact worth in base units
/// (metre, kilogram, second, degree, kelvin).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unit {
    symbol: String,
    dimension: Dimension,
    factor: Rational,
    offset: Rational,
}

/// Why a unit could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum UnitError {
    /// No unit of that name.
    #[error("unknown unit '{symbol}'{}", hint(nearest.as_deref()))]
    Unknown {
        symbol: String,
        /// A known unit that looks like it.
        nearest: Option<String>,
    },
    /// The unit measures something else than asked for.
    #[error("'{symbol}' measures {found}, not {wanted}; write for example {example}")]
    Dimension {
        symbol: String,
        found: Dimension,
        wanted: Dimension,
        /// Units that would fit.
        example: String,
    },
    /// A number without a unit where one is needed.
    #[error("{number} has no unit; write for example {example}")]
    Missing {
        number: String,
        /// Units that would fit.
        example: String,
    },
    #[error("'{text}' is not a number")]
    NotANumber { text: String },
    /// More digits than can be held exactly.
    #[error("'{text}' has more digits than can be kept exactly")]
    TooWide { text: String },
}

fn hint(nearest: Option<&str>) -> String {
    nearest.map_or_else(String::new, |n| format!("; did you mean '{n}'?"))
}

struct Atom {
    names: &'static [&'static str],
    dimension: Dimension,
    num: i64,
    den: i64,
}

const fn atom(names: &'static [&'static str], dimension: Dimension, num: i64, den: i64) -> Atom {
    Atom { names, dimension, num, den }
}

use Dimension as D;

/// Exact worth of each atom in base units. Inch, foot, pound, pound-force and the US gallon are
/// defined exactly by the international yard and pound agreement (1959) and NIST SP 811; standard
/// gravity is 9.80665 m/s² by definition. The radian is the one irrational unit: 18 digits.
const ATOMS: &[Atom] = &[
    atom(&["m", "metre", "metres", "meter", "meters"], D::LENGTH, 1, 1),
    atom(&["mm"], D::LENGTH, 1, 1_000),
    atom(&["cm"], D::LENGTH, 1, 100),
    atom(&["um", "µm", "micron", "microns"], D::LENGTH, 1, 1_000_000),
    atom(&["km"], D::LENGTH, 1_000, 1),
    atom(&["in", "inch", "inches", "\""], D::LENGTH, 254, 10_000),
    atom(&["ft", "foot", "feet", "'", "f"], D::LENGTH, 3048, 10_000),
    atom(&["mil", "thou"], D::LENGTH, 254, 10_000_000),
    atom(&["kg"], D::MASS, 1, 1),
    atom(&["g", "gram", "grams"], D::MASS, 1, 1_000),
    atom(&["t", "tonne", "tonnes"], D::MASS, 1_000, 1),
    atom(&["lb", "lbs", "lbm", "pound", "pounds"], D::MASS, 45_359_237, 100_000_000),
    atom(&["klbm"], D::MASS, 45_359_237, 100_000),
    atom(&["N"], D::FORCE, 1, 1),
    atom(&["kN"], D::FORCE, 1_000, 1),
    atom(&["MN"], D::FORCE, 1_000_000, 1),
    atom(&["daN"], D::FORCE, 10, 1),
    atom(&["lbf", "lb", "lbs"], D::FORCE, 44_482_216_152_605, 10_000_000_000_000),
    atom(
        &["klbf", "klb", "klbs", "k-lbs", "k-lb", "kip", "kips"],
        D::FORCE,
        44_482_216_152_605,
        10_000_000_000,
    ),
    atom(&["tf", "t"], D::FORCE, 980_665, 100),
    atom(&["tonfUS"], D::FORCE, 8_896_443_230_521, 1_000_000_000),
    atom(&["s", "sec", "second", "seconds"], D::TIME, 1, 1),
    atom(&["ms"], D::TIME, 1, 1_000),
    atom(&["min", "minute", "minutes"], D::TIME, 60, 1),
    atom(&["h", "hr", "hrs", "hour", "hours"], D::TIME, 3_600, 1),
    atom(&["d", "day", "days"], D::TIME, 86_400, 1),
    atom(&["week", "weeks"], D::TIME, 604_800, 1),
    // A Julian year (IAU) and its twelfth: for ages. Windows of the calendar count real months.
    atom(&["month", "months"], D::TIME, 2_629_800, 1),
    atom(&["year", "years"], D::TIME, 31_557_600, 1),
    atom(&["deg", "°", "dega", "degree", "degrees"], D::ANGLE, 1, 1),
    atom(&["rad"], D::ANGLE, 572_957_795_130_823_209, 10_000_000_000_000_000),
    atom(&["rev", "revs", "r", "turn", "turns", "c", "cycle", "cycles"], D::NUMBER, 1, 1),
    atom(&["rpm"], D::FREQUENCY, 1, 60),
    atom(&["Hz"], D::FREQUENCY, 1, 1),
    atom(&["%", "percent", "pct"], D::NUMBER, 1, 100),
    atom(&["ppm"], D::NUMBER, 1, 1_000_000),
    atom(&["Pa"], D::PRESSURE, 1, 1),
    atom(&["kPa"], D::PRESSURE, 1_000, 1),
    atom(&["MPa"], D::PRESSURE, 1_000_000, 1),
    atom(&["GPa"], D::PRESSURE, 1_000_000_000, 1),
    atom(&["bar"], D::PRESSURE, 100_000, 1),
    // 4.4482216152605 N over 0.00064516 m²
    atom(&["psi"], D::PRESSURE, 44_482_216_152_605, 6_451_600_000),
    atom(&["ksi"], D::PRESSURE, 44_482_216_152_605, 6_451_600),
    atom(&["Mpsi"], D::PRESSURE, 44_482_216_152_605, 64_516),
    atom(&["J"], D::TORQUE, 1, 1),
    atom(&["kJ"], D::TORQUE, 1_000, 1),
    atom(&["MJ"], D::TORQUE, 1_000_000, 1),
    atom(&["GJ"], D::TORQUE, 1_000_000_000, 1),
    atom(&["gal", "gallon", "gallons"], D::VOLUME, 3_785_411_784, 1_000_000_000_000),
    atom(&["bbl", "bbls"], D::VOLUME, 158_987_294_928, 1_000_000_000_000),
    atom(&["L", "l", "liter", "liters", "litre", "litres"], D::VOLUME, 1, 1_000),
    atom(&["sg"], D::DENSITY, 1_000, 1),
    // pound per US gallon
    atom(&["ppg"], D::DENSITY, 45_359_237 * 10_000, 3_785_411_784),
    atom(&["ppf"], D::LINEAR_MASS, 45_359_237, 30_480_000),
    atom(&["gpm"], D::FLOW, 3_785_411_784, 60_000_000_000_000),
    atom(&["K"], D::TEMPERATURE, 1, 1),
];

/// Whole spellings that the rules for products and quotients would not read.
const SPELLINGS: &[(&[&str], &str)] = &[
    (&["ft-lb", "ft-lbs", "ft-lbf", "ftlb", "ftlbf", "lb-ft", "lbf-ft", "ft·lb", "FtLb"], "ft.lbf"),
    (&["ft.lb", "ft lb", "ft lbf", "lb.ft", "lb ft", "ft lbs"], "ft.lbf"),
    (
        &[
            "kft-lb", "kft-lbs", "kft-lbf", "kft.lb", "kftlb", "kft·lbf", "klb-ft", "klbf-ft",
            "kft lb", "kft lbf", "klbf.ft", "kft.lbf",
        ],
        "ft.klbf",
    ),
    (&["in-lb", "in-lbs", "in-lbf", "in.lb"], "in.lbf"),
    (&["Nm", "N-m", "N m"], "N.m"),
    (&["kNm", "kN-m", "kN m"], "kN.m"),
    (&["daNm", "daN-m"], "daN.m"),
    (&["fph"], "ft/h"),
    (&["c/s", "rps", "r/s", "rev/s"], "Hz"),
    (&["r/min", "rev/min", "1/min"], "rpm"),
];

const ZERO: Rational = Rational::ZERO;

impl Unit {
    /// The plain number one.
    pub fn one() -> Self {
        Self {
            symbol: String::new(),
            dimension: Dimension::NUMBER,
            factor: Rational::ONE,
            offset: ZERO,
        }
    }

    /// Symbol as written or as canonical spelling has it.
    pub fn symbol(&self) -> &str {
        &self.symbol
    }

    pub const fn dimension(&self) -> Dimension {
        self.dimension
    }

    /// Base units in one of this unit.
    pub const fn factor(&self) -> Rational {
        self.factor
    }

    /// Value in base units of a number of this unit; `None` when too wide to hold exactly.
    pub fn to_base(&self, number: Rational) -> Option<Rational> {
        number.checked_mul(self.factor)?.checked_add(self.offset)
    }

    /// Number of this unit in a value in base units; `None` when too wide to hold exactly.
    pub fn from_base(&self, base: Rational) -> Option<Rational> {
        base.checked_add(self.offset.negated())?.checked_div(self.factor)
    }

    /// Number of this unit in a value in base units, as a float for display.
    pub fn show_base(&self, base: f64) -> f64 {
        (base - self.offset.to_f64()) / self.factor.to_f64()
    }

    /// Every meaning of a unit as written.
    ///
    /// A book has thousands of quantities in the same few units: those looked up lately are
    /// remembered.
    pub fn meanings(text: &str) -> Result<Vec<Self>, UnitError> {
        thread_local! {
            static LATELY: RefCell<BTreeMap<String, Vec<Unit>>> = const { RefCell::new(BTreeMap::new()) };
        }
        if let Some(known) = LATELY.with_borrow(|l| l.get(text).cloned()) {
            return Ok(known);
        }
        let found = Self::look_up(text)?;
        LATELY.with_borrow_mut(|l| {
            if l.len() >= 128 {
                l.clear();
            }
            l.insert(text.to_owned(), found.clone());
        });
        Ok(found)
    }

    fn look_up(text: &str) -> Result<Vec<Self>, UnitError> {
        let text = text.trim();
        if text.is_empty() {
            return Ok(vec![Self::one()]);
        }
        let mut found = temperature(text).into_iter().collect::<Vec<_>>();
        if found.is_empty() {
            let spelled = spelling(text);
            found = expression(spelled.unwrap_or(text)).unwrap_or_default();
        }
        if found.is_empty() {
            return Err(UnitError::Unknown { symbol: text.to_owned(), nearest: nearest(text) });
        }
        for unit in &mut found {
            text.clone_into(&mut unit.symbol);
        }
        Ok(found)
    }

    /// The meaning of a unit as written that has the wanted dimension.
    pub fn parse(text: &str, wanted: Dimension) -> Result<Self, UnitError> {
        let mut meanings = Self::meanings(text)?;
        match meanings.iter().position(|u| u.dimension == wanted) {
            Some(at) => Ok(meanings.swap_remove(at)),
            None => Err(UnitError::Dimension {
                symbol: text.trim().to_owned(),
                found: meanings[0].dimension,
                wanted,
                example: examples(wanted),
            }),
        }
    }

    /// A unit of this crate's own tables, known to be sound; falls back to the plain number.
    pub fn known(text: &str, dimension: Dimension) -> Self {
        Self::parse(text, dimension).unwrap_or_else(|_| Self::one())
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.symbol)
    }
}

/// Units to offer for a dimension: `ft, m, in or mm`.
pub fn examples(dimension: Dimension) -> String {
    let list: &[&str] = match dimension {
        D::NUMBER => &["% or a plain number"],
        D::LENGTH => &["in", "mm", "ft", "m"],
        D::MASS => &["lb", "kg"],
        D::TIME => &["h", "days"],
        D::ANGLE => &["deg"],
        D::CURVATURE => &["deg/100ft", "deg/30m"],
        D::FORCE => &["klbf", "kN"],
        D::TORQUE => &["ft.lbf", "kft.lbf", "kN.m"],
        D::PRESSURE => &["psi", "ksi", "MPa"],
        D::LINEAR_MASS => &["lb/ft", "kg/m"],
        D::LINEAR_FORCE => &["lbf/ft", "N/m"],
        D::DENSITY => &["ppg", "kg/m3"],
        D::SPEED => &["ft/h", "m/h"],
        D::FREQUENCY => &["rpm"],
        D::TEMPERATURE => &["degC", "degF"],
        D::FLOW => &["gpm", "L/min"],
        _ => return "a unit of that kind".to_owned(),
    };
    match list.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => list.concat(),
    }
}

fn temperature(text: &str) -> Option<Unit> {
    let (factor, offset) = match text.to_ascii_lowercase().as_str() {
        "degc" | "°c" | "deg c" | "celsius" => (Rational::ONE, Rational::constant(27315, 100)),
        // K = (F + 459.67) · 5/9
        "degf" | "°f" | "deg f" | "fahrenheit" => {
            (Rational::constant(5, 9), Rational::constant(45967 * 5, 900))
        }
        _ => return None,
    };
    Some(Unit { symbol: text.to_owned(), dimension: D::TEMPERATURE, factor, offset })
}

fn spelling(text: &str) -> Option<&'static str> {
    let find = |same: &dyn Fn(&str) -> bool| {
        SPELLINGS.iter().find(|(names, _)| names.iter().any(|n| same(n))).map(|(_, unit)| *unit)
    };
    find(&|n| n == text).or_else(|| find(&|n| n.eq_ignore_ascii_case(text)))
}

/// Meanings of one atom: an exact match first, else a match that differs in case only.
fn atoms(name: &str) -> Vec<Unit> {
    let collect = |same: &dyn Fn(&str) -> bool| -> Vec<Unit> {
        ATOMS
            .iter()
            .filter(|a| a.names.iter().any(|n| same(n)))
            .map(|a| Unit {
                symbol: name.to_owned(),
                dimension: a.dimension,
                factor: Rational::constant(a.num, a.den),
                offset: ZERO,
            })
            .collect()
    };
    let exact = collect(&|n| n == name);
    if exact.is_empty() { collect(&|n| n.eq_ignore_ascii_case(name)) } else { exact }
}

/// Reads `factor ((. | * | ·) factor)* (/ factor ((. | *) factor)*)*`; what follows a slash is
/// divided by as a whole, as the trade writes `kg/m3` and `deg/100ft`.
fn expression(text: &str) -> Option<Vec<Unit>> {
    if text.len() > 40 {
        return None;
    }
    let mut meanings = vec![Unit::one()];
    for (at, group) in text.split('/').enumerate() {
        for factor in group.split(['.', '*', '·']) {
            let choices = power(factor.trim())?;
            let mut next = Vec::new();
            for left in &meanings {
                for right in &choices {
                    let (dimension, factor) = if at == 0 {
                        (
                            left.dimension.times(right.dimension)?,
                            left.factor.checked_mul(right.factor)?,
                        )
                    } else {
                        (
                            left.dimension.per(right.dimension)?,
                            left.factor.checked_div(right.factor)?,
                        )
                    };
                    let unit = Unit { symbol: text.to_owned(), dimension, factor, offset: ZERO };
                    if !next.iter().any(|u: &Unit| u.dimension == dimension) {
                        next.push(unit);
                    }
                }
            }
            meanings = next;
        }
    }
    Some(meanings)
}

/// Reads `[number] atom [exponent]`: `100ft`, `m3`, `in2`, `ft²`.
fn power(text: &str) -> Option<Vec<Unit>> {
    let start = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let (number, rest) = text.split_at(start);
    let rest = rest.trim_start();
    let scale = if number.is_empty() { Rational::ONE } else { Rational::parse(number)? };
    if rest.is_empty() {
        // `1/min` is a unit; a bare number is one only as a numerator of one.
        return (number == "1").then(|| vec![Unit::one()]);
    }
    let (name, exponent) = match rest.strip_suffix(['²', '2']) {
        Some(name) => (name, 2),
        None => match rest.strip_suffix(['³', '3']) {
            Some(name) => (name, 3),
            None => (rest, 1),
        },
    };
    let units = atoms(name.trim_end_matches('^'))
        .into_iter()
        .filter_map(|u| {
            let mut factor = scale;
            for _ in 0..exponent {
                factor = factor.checked_mul(u.factor)?;
            }
            Some(Unit { dimension: u.dimension.power(exponent)?, factor, ..u })
        })
        .collect::<Vec<_>>();
    (!units.is_empty()).then_some(units)
}

fn nearest(text: &str) -> Option<String> {
    let names = ATOMS
        .iter()
        .flat_map(|a| a.names.iter().copied())
        .chain(SPELLINGS.iter().flat_map(|(names, _)| names.iter().copied()))
        .chain(["deg/100ft", "deg/30m", "lb/ft", "kg/m", "kg/m3", "ft/h", "m/h", "kN.m"]);
    names
        .map(|n| (strsim::jaro(&n.to_lowercase(), &text.to_lowercase()), n))
        .filter(|(score, _)| *score > 0.75)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, n)| n.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn factor(text: &str, dimension: Dimension) -> f64 {
        Unit::parse(text, dimension).unwrap().factor().to_f64()
    }

    /// NIST SP 811 (2008) appendix B.8 gives these to seven or more figures.
    #[test]
    fn factors_agree_with_nist_sp_811() {
        for (text, dimension, nist) in [
            ("in", D::LENGTH, 2.54e-2),
            ("ft", D::LENGTH, 3.048e-1),
            ("lb", D::MASS, 4.535_924e-1),
            ("lbf", D::FORCE, 4.448_222),
            ("ft.lbf", D::TORQUE, 1.355_818),
            ("in.lbf", D::TORQUE, 1.129_848e-1),
            ("psi", D::PRESSURE, 6.894_757e3),
            ("ksi", D::PRESSURE, 6.894_757e6),
            ("lb/ft", D::LINEAR_MASS, 1.488_164),
            ("lbf/ft", D::LINEAR_FORCE, 1.459_390e1),
            ("ppg", D::DENSITY, 1.198_264e2),
            ("gpm", D::FLOW, 6.309_020e-5),
            ("bbl", D::VOLUME, 1.589_873e-1),
            ("tf", D::FORCE, 9.806_65e3),
            ("tonfUS", D::FORCE, 8.896_443e3),
        ] {
            let ours = factor(text, dimension);
            // half a unit of the seventh figure
            assert!((ours / nist - 1.0).abs() < 5e-7, "{text}: {ours} against {nist}");
        }
        let turn = factor("rad", D::ANGLE) * std::f64::consts::PI;
        assert!((turn - 180.0).abs() < 1e-13, "{turn}");
    }

    #[test]
    fn one_spelling_is_as_good_as_another() {
        for (dimension, spellings) in [
            (D::TORQUE, &["kft.lbf", "kft-lb", "KFT-LB", "klbf.ft", "ft.klbf"][..]),
            (D::TORQUE, &["kN.m", "kNm", "kn-m", "kN·m"]),
            (D::TORQUE, &["ft-lb", "ft.lb", "FtLb", "ft lbf", "lbf.ft"]),
            (D::CURVATURE, &["deg/100ft", "°/100ft", "deg/100 ft", "dega/100ft"]),
            (D::FREQUENCY, &["c/s", "Hz", "rev/s", "r/s"]),
            (D::FREQUENCY, &["rpm", "RPM", "rev/min"]),
            (D::FORCE, &["klbf", "klb", "k-lbs", "Klb", "kip"]),
            (D::LENGTH, &["ft", "F", "feet"]),
            (D::SPEED, &["m/h", "m/hr"]),
            (D::DENSITY, &["g/cm3", "g/cm³", "sg"]),
        ] {
            let first = factor(spellings[0], dimension);
            for s in spellings {
                assert_eq!(factor(s, dimension).to_bits(), first.to_bits(), "{s}");
            }
        }
    }

    #[test]
    fn the_place_decides_between_meanings() {
        assert_eq!(Unit::parse("lb", D::MASS).unwrap().dimension(), D::MASS);
        assert_eq!(Unit::parse("lb", D::FORCE).unwrap().dimension(), D::FORCE);
        assert_eq!(Unit::parse("t", D::FORCE).unwrap().factor(), Rational::constant(980_665, 100));
        assert_eq!(Unit::parse("lb/ft", D::LINEAR_FORCE).unwrap().dimension(), D::LINEAR_FORCE);
    }

    #[test]
    fn a_wrong_unit_says_what_would_be_right() {
        assert_eq!(
            Unit::parse("psi", D::TORQUE).unwrap_err().to_string(),
            "'psi' measures a pressure or stress, not a torque; write for example ft.lbf, \
             kft.lbf or kN.m"
        );
        assert_eq!(
            Unit::meanings("kft-lp").unwrap_err().to_string(),
            "unknown unit 'kft-lp'; did you mean 'kft-lb'?"
        );
        for bad in ["m//s", "/", ".", "100", "ft/", "deg/0ft", "m99", "x", "🙂", "mm mm"] {
            assert!(Unit::meanings(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn temperatures_have_an_offset() {
        let f = Unit::parse("degF", D::TEMPERATURE).unwrap();
        let c = Unit::parse("degC", D::TEMPERATURE).unwrap();
        let base = f.to_base(Rational::integer(212)).unwrap();
        assert_eq!(c.from_base(base), Some(Rational::integer(100)));
    }
}
