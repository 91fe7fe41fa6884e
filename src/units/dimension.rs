//! What a number measures, as exponents of metre, kilogram, second, degree and kelvin.

use std::fmt;

/// Exponents of the base units. Angle is a dimension of its own, so that a dogleg (angle per
/// length) is not a reciprocal length; turns and ratios are plain numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Dimension {
    /// Exponent of the metre.
    pub length: i8,
    /// Exponent of the kilogram.
    pub mass: i8,
    /// Exponent of the second.
    pub time: i8,
    /// Exponent of the degree of arc.
    pub angle: i8,
    /// Exponent of the kelvin.
    pub temperature: i8,
}

impl Dimension {
    const fn of(length: i8, mass: i8, time: i8, angle: i8) -> Self {
        Self { length, mass, time, angle, temperature: 0 }
    }

    /// A plain number: a ratio, a count, turns, damage.
    pub const NUMBER: Self = Self::of(0, 0, 0, 0);
    pub const LENGTH: Self = Self::of(1, 0, 0, 0);
    pub const AREA: Self = Self::of(2, 0, 0, 0);
    pub const VOLUME: Self = Self::of(3, 0, 0, 0);
    pub const MASS: Self = Self::of(0, 1, 0, 0);
    pub const TIME: Self = Self::of(0, 0, 1, 0);
    pub const ANGLE: Self = Self::of(0, 0, 0, 1);
    /// Dogleg severity, build and turn rate.
    pub const CURVATURE: Self = Self::of(-1, 0, 0, 1);
    /// Force: tension, hook load, weight on bit.
    pub const FORCE: Self = Self::of(1, 1, -2, 0);
    pub const TORQUE: Self = Self::of(2, 1, -2, 0);
    pub const PRESSURE: Self = Self::of(-1, 1, -2, 0);
    /// Mass per length: pipe weight.
    pub const LINEAR_MASS: Self = Self::of(-1, 1, 0, 0);
    /// Force per length: side force.
    pub const LINEAR_FORCE: Self = Self::of(0, 1, -2, 0);
    pub const DENSITY: Self = Self::of(-3, 1, 0, 0);
    /// Speed: rate of penetration.
    pub const SPEED: Self = Self::of(1, 0, -1, 0);
    /// Time per length: a drilling rate written upside down.
    pub const SLOWNESS: Self = Self::of(-1, 0, 1, 0);
    /// Turns per time: rotary speed.
    pub const FREQUENCY: Self = Self::of(0, 0, -1, 0);
    /// Volume per time: flow.
    pub const FLOW: Self = Self::of(3, 0, -1, 0);
    pub const TEMPERATURE: Self = Self { length: 0, mass: 0, time: 0, angle: 0, temperature: 1 };

    const NAMES: [(Self, &'static str); 20] = [
        (Self::NUMBER, "a plain number"),
        (Self::LENGTH, "a length"),
        (Self::AREA, "an area"),
        (Self::VOLUME, "a volume"),
        (Self::MASS, "a mass"),
        (Self::TIME, "a time"),
        (Self::ANGLE, "an angle"),
        (Self::CURVATURE, "a dogleg (angle per length)"),
        (Self::FORCE, "a force"),
        (Self::TORQUE, "a torque"),
        (Self::PRESSURE, "a pressure or stress"),
        (Self::LINEAR_MASS, "a weight per length"),
        (Self::LINEAR_FORCE, "a force per length"),
        (Self::DENSITY, "a density"),
        (Self::SPEED, "a speed"),
        (Self::SLOWNESS, "a time per length"),
        (Self::FREQUENCY, "a rotary speed"),
        (Self::FLOW, "a flow"),
        (Self::TEMPERATURE, "a temperature"),
        (Self::of(1, 0, -2, 0), "an acceleration"),
    ];

    /// Dimension of a product; `None` when an exponent leaves the range of sense.
    pub fn times(self, other: Self) -> Option<Self> {
        self.combine(other, 1)
    }

    /// Dimension of a quotient; `None` when an exponent leaves the range of sense.
    pub fn per(self, other: Self) -> Option<Self> {
        self.combine(other, -1)
    }

    /// Dimension of a power; `None` when an exponent leaves the range of sense.
    pub fn power(self, n: i8) -> Option<Self> {
        Self::NUMBER.combine(self, n)
    }

    /// Its base units, as they are written behind a number: `m/s`, `kg`, `1/s`; nothing of a plain
    /// number.
    pub fn base_unit(self) -> String {
        let parts = [
            ("kg", self.mass),
            ("m", self.length),
            ("s", self.time),
            ("deg", self.angle),
            ("K", self.temperature),
        ];
        let power = |(unit, e): &(&str, i8)| match e.unsigned_abs() {
            1 => (*unit).to_owned(),
            e => format!("{unit}{e}"),
        };
        let of = |wanted: &dyn Fn(i8) -> bool| -> Vec<String> {
            parts.iter().filter(|(_, e)| wanted(*e)).map(power).collect()
        };
        let (above, below) = (of(&|e| e > 0).join("."), of(&|e| e < 0).join("/"));
        match (above.as_str(), below.as_str()) {
            (above, "") => above.to_owned(),
            ("", below) => format!("1/{below}"),
            (above, below) => format!("{above}/{below}"),
        }
    }

    fn combine(self, other: Self, n: i8) -> Option<Self> {
        let f = |a: i8, b: i8| -> Option<i8> {
            let e = i16::from(a) + i16::from(b) * i16::from(n);
            (-12..=12).contains(&e).then(|| i8::try_from(e).ok()).flatten()
        };
        Some(Self {
            length: f(self.length, other.length)?,
            mass: f(self.mass, other.mass)?,
            time: f(self.time, other.time)?,
            angle: f(self.angle, other.angle)?,
            temperature: f(self.temperature, other.temperature)?,
        })
    }
}

impl fmt::Display for Dimension {
    /// Writes the dimension in words with its article: "a length", "a dogleg (angle per length)".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some((_, name)) = Self::NAMES.iter().find(|(d, _)| d == self) {
            return f.write_str(name);
        }
        f.write_str("a quantity in")?;
        for (unit, e) in [
            ("m", self.length),
            ("kg", self.mass),
            ("s", self.time),
            ("deg", self.angle),
            ("K", self.temperature),
        ] {
            match e {
                0 => {}
                1 => write!(f, " {unit}")?,
                e => write!(f, " {unit}^{e}")?,
            }
        }
        Ok(())
    }
}
