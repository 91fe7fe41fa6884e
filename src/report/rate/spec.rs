//! A tube as people write it: `5 in 19.50 lb/ft G-105`, `127 mm, wall 9.19 mm, S-135`.

use super::words;
use crate::mechanics::connection::ConnectionType;
use crate::mechanics::constants::STEEL_DENSITY;
use crate::mechanics::string::{Material, Metal};
use crate::mechanics::tube::sizes::{self, SizeTolerance};
use crate::mechanics::tube::{Body, Grade, NominalSize};
use crate::report::ReportError;
use crate::units::{Dimension, Quantity, Unit, split_number};

/// How a tube is written; closes every error about one.
const LIKE: &str =
    "a tube is written like '5 in 19.50 lb/ft G-105' or '127 mm, wall 9.19 mm, S-135'";

/// A tube that was named. SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct TubeSpec {
    pub body: Body,
    /// The size of the standard that it is, if it is one.
    pub size: Option<NominalSize>,
    /// Grade, unless strengths were given.
    pub grade: Option<Grade>,
    pub material: Material,
    /// Average yield strength, where the grade has one.
    pub average_yield: Option<f64>,
    /// A connection named with it.
    pub connection: Option<ConnectionType>,
}

/// How far rounding alone takes a diameter and a wall from those of the standard: half of a tenth
/// of a millimetre, half of a thousandth of an inch.
const ROUNDED: SizeTolerance = SizeTolerance { od: 0.051e-3, weight: 0.07, wall: 0.0128e-3 };

/// What a number in the text is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Role {
    Od,
    Id,
    Wall,
    Weight,
    Yield,
    Tensile,
}

impl Role {
    fn of(word: &str) -> Option<Self> {
        Some(match word.to_ascii_lowercase().as_str() {
            "od" | "outside" => Self::Od,
            "id" | "bore" | "inside" => Self::Id,
            "wall" => Self::Wall,
            "weight" => Self::Weight,
            "yield" => Self::Yield,
            "tensile" => Self::Tensile,
            _ => return None,
        })
    }

    const fn dimension(self) -> Dimension {
        match self {
            Self::Od | Self::Id | Self::Wall => Dimension::LENGTH,
            Self::Weight => Dimension::LINEAR_MASS,
            Self::Yield | Self::Tensile => Dimension::PRESSURE,
        }
    }
}

#[derive(Debug, Default)]
struct Read {
    od: Option<f64>,
    id: Option<f64>,
    wall: Option<f64>,
    weight: Option<f64>,
    yield_strength: Option<f64>,
    tensile: Option<f64>,
    grade: Option<Grade>,
    connection: Option<ConnectionType>,
}

fn wrong(what: impl std::fmt::Display) -> ReportError {
    ReportError::Words(format!("{what}; {LIKE}"))
}

impl TubeSpec {
    /// Reads a tube.
    ///
    /// # Errors
    /// A sentence that says what is missing or not understood, and how a tube is written.
    pub fn parse(text: &str) -> Result<Self, ReportError> {
        // `wall 9.19 mm` or `9.19 mm wall`: whichever way makes a tube of it.
        let before = read(text, Labels::Before).and_then(|r| Self::from_read(&r));
        let after = || read(text, Labels::After).and_then(|r| Self::from_read(&r));
        match before {
            Ok(spec) => Ok(spec),
            Err(first) => match after() {
                Ok(spec) => Ok(spec),
                Err(_) => Err(first),
            },
        }
    }

    /// A tube by nominal dimensions (m), nominal weight (kg/m) and grade, as a certificate has them.
    ///
    /// # Errors
    /// A sentence that says what the certificate lacks.
    pub fn of(
        od: Option<f64>,
        wall: Option<f64>,
        weight: Option<f64>,
        grade: Option<&str>,
    ) -> Result<Self, ReportError> {
        let od = od.ok_or_else(|| words("its outside diameter is not recorded"))?;
        let grade = grade.ok_or_else(|| words("its grade is not recorded"))?;
        if let Some(metal) = Metal::named(grade) {
            return Err(outside(metal));
        }
        let grade: Grade = grade.parse().map_err(words)?;
        if wall.is_none() && weight.is_none() {
            return Err(words("neither its wall nor its weight is recorded"));
        }
        let read = Read { od: Some(od), wall, weight, grade: Some(grade), ..Read::default() };
        let mut spec = Self::from_read(&read)?;
        // Two sizes may share a wall; the weight tells which.
        if let Some(size) =
            weight.and_then(|w| sizes::by_weight(od, w, SizeTolerance::default()).ok())
            && (size.wall() - spec.body.wall()).abs() < SizeTolerance::default().wall
        {
            spec.size = Some(*size);
        }
        Ok(spec)
    }

    fn from_read(read: &Read) -> Result<Self, ReportError> {
        let od = read.od.ok_or_else(|| wrong("the outside diameter is missing"))?;
        let tolerance = SizeTolerance::default();
        let (body, size) = match (read.wall, read.id, read.weight) {
            (Some(wall), _, _) => (Body::new(od, wall).map_err(wrong)?, None),
            (None, Some(id), _) => (Body::new(od, 0.5 * (od - id)).map_err(wrong)?, None),
            (None, None, Some(weight)) => {
                let size = sizes::by_weight(od, weight, tolerance).map_err(wrong)?;
                (Body::from(size), Some(*size))
            }
            (None, None, None) => {
                let known = sizes::of_diameter(od, tolerance).map_err(wrong)?;
                let list: Vec<String> =
                    known.map(|s| format!("{:.2} lb/ft", s.weight_lb_per_ft())).collect();
                return Err(wrong(format!(
                    "which weight or wall? that diameter comes in {}",
                    list.join(", ")
                )));
            }
        };
        // A wall rounded to a hundredth of a millimetre still means the standard's.
        let size = size.or_else(|| sizes::by_wall(od, body.wall(), ROUNDED).ok().copied());
        let body = size.map_or(body, Body::from);
        let (material, average_yield) = match (read.grade, read.yield_strength) {
            (Some(grade), None) => {
                let steel = grade.steel();
                (Material::steel(steel.min_yield, steel.min_tensile), Some(steel.average_yield))
            }
            (grade, Some(y)) => {
                let tensile = read.tensile.or_else(|| grade.map(|g| g.steel().min_tensile));
                // Without a tensile strength the yield stands for it: cautious in every rule.
                (Material::steel(y, tensile.unwrap_or(y).max(y)), None)
            }
            (None, None) => {
                return Err(wrong(
                    "the grade is missing (E75, X95, G105, S135, or 'yield 110 ksi')",
                ));
            }
        };
        Ok(Self {
            body,
            size,
            grade: read.grade,
            material,
            average_yield,
            connection: read.connection,
        })
    }

    /// The tube as a title: `5 in 19.50 lb/ft G105`.
    pub fn title(&self) -> String {
        let inch = crate::mechanics::tube::us::INCH;
        let size = match self.size {
            Some(s) => s.to_string(),
            None => {
                format!(
                    "OD {:.3} in, wall {:.3} in",
                    self.body.od() / inch,
                    self.body.wall() / inch
                )
            }
        };
        let ksi = crate::mechanics::tube::us::KSI;
        match self.grade {
            Some(grade) => format!("{size} {grade}"),
            None => format!("{size}, yield {:.0} ksi", self.material.yield_strength / ksi),
        }
    }

    /// The tube in few words: `5 in 19.50 G105`.
    pub fn short_title(&self) -> String {
        match (self.size, self.grade) {
            (Some(s), Some(g)) => format!("{} in {:.2} {g}", s.od_inches(), s.weight_lb_per_ft()),
            _ => self.title(),
        }
    }

    /// Nominal weight, kg/m: the size's, else that of the plain body.
    pub fn weight(&self) -> f64 {
        self.size.map_or_else(|| self.plain_weight(), |s| s.weight())
    }

    /// Weight of the plain body, kg/m.
    pub fn plain_weight(&self) -> f64 {
        let (od, id) = (self.body.od(), self.body.id());
        std::f64::consts::FRAC_PI_4 * (od * od - id * id) * STEEL_DENSITY
    }
}

/// `5/8`: the second half of a mixed number.
fn is_fraction(word: &str) -> bool {
    word.split_once('/').is_some_and(|(a, b)| {
        let digits = |s: &str| !s.is_empty() && s.bytes().all(|c| c.is_ascii_digit());
        digits(a) && b.starts_with(|c: char| c.is_ascii_digit())
    })
}

/// Where the word stands that says what a number is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Labels {
    Before,
    After,
}

fn read(text: &str, labels: Labels) -> Result<Read, ReportError> {
    let words: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || c == ',')
        .map(|w| w.trim_end_matches('.'))
        .filter(|w| !w.is_empty())
        .collect();
    if words.is_empty() {
        return Err(wrong("no tube was named"));
    }
    let mut read = Read::default();
    let mut role = None;
    let mut at = 0;
    while let Some(word) = words.get(at) {
        at += 1;
        if word.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
            let mut number = (*word).to_owned();
            if let Some(fraction) = words.get(at).filter(|w| is_fraction(w) && !word.contains('/'))
            {
                number = format!("{number} {fraction}");
                at += 1;
            }
            if split_number(&number).1.is_empty()
                && let Some(unit) = words.get(at).filter(|w| Unit::meanings(w).is_ok())
            {
                number = format!("{number} {unit}");
                at += 1;
            }
            let said = match labels {
                Labels::Before => role.take(),
                Labels::After => {
                    let after = words.get(at).and_then(|w| Role::of(w));
                    at += usize::from(after.is_some());
                    after
                }
            };
            take(&mut read, &number, said)?;
        } else if let Some(said) = Role::of(word) {
            if role.replace(said).is_some() {
                return Err(wrong("a number is missing"));
            }
        } else {
            name(&mut read, word)?;
        }
    }
    if role.is_some() {
        return Err(wrong("a number is missing"));
    }
    Ok(read)
}

/// Takes a number with its unit for what it says it is, else for what its unit makes it.
fn take(read: &mut Read, text: &str, said: Option<Role>) -> Result<(), ReportError> {
    let (_, unit) = split_number(text);
    if unit.is_empty() {
        return Err(wrong(format!("'{text}' has no unit")));
    }
    let of = |d: Dimension| Quantity::parse(text, d).map(|q| q.to_f64());
    let role = match said {
        Some(role) => role,
        None if of(Dimension::LINEAR_MASS).is_ok() => Role::Weight,
        None if of(Dimension::PRESSURE).is_ok() => Role::Yield,
        None if read.od.is_none() => Role::Od,
        None => Role::Wall,
    };
    let value = of(role.dimension()).map_err(wrong)?;
    let place = match role {
        Role::Od => &mut read.od,
        Role::Id => &mut read.id,
        Role::Wall => &mut read.wall,
        Role::Weight => &mut read.weight,
        Role::Yield => &mut read.yield_strength,
        Role::Tensile => &mut read.tensile,
    };
    if place.replace(value).is_some() {
        return Err(wrong(format!("'{text}' stands where another value was given already")));
    }
    Ok(())
}

/// Takes a word: a grade, or a connection.
fn name(read: &mut Read, word: &str) -> Result<(), ReportError> {
    if word.eq_ignore_ascii_case("grade") {
        return Ok(());
    }
    if let Some(metal) = Metal::named(word) {
        return Err(outside(metal));
    }
    match word.parse::<Grade>() {
        Ok(grade) => read.grade = Some(grade),
        Err(unknown) => match word.parse::<ConnectionType>() {
            Ok(connection) => read.connection = Some(connection),
            Err(_) => return Err(wrong(unknown)),
        },
    }
    Ok(())
}

/// The refusal of a metal outside validity.
fn outside(metal: Metal) -> ReportError {
    ReportError::Words(format!(
        "{} pipe is outside these formulas: moduli, strengths and S–N curves here are those of \
         steel; use the maker's data and its own standard",
        metal.name()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanics::tube::us::{INCH, KSI};

    fn inches(text: &str) -> (f64, f64) {
        let spec = TubeSpec::parse(text).unwrap();
        (spec.body.od() / INCH, spec.body.wall() / INCH)
    }

    #[test]
    fn every_usual_way_of_writing_a_tube_is_read() {
        for text in [
            "5 in 19.50 lb/ft G-105",
            "5in 19.5lb/ft G105",
            "5 in, 0.362 in, G",
            "5 in 0.362 in wall grade G",
            "OD 5 in wall 0.362 in G105",
            "5 in OD 4.276 in ID G105",
            "127 mm 29.02 kg/m G105",
            "G-105 5\" 19.50 ppf",
            "5 in 19.50 lb/ft G-105 NC50",
            "127 mm, wall 9.19 mm, G-105",
            "127 mm wall 9.19 mm G-105",
        ] {
            let (od, wall) = inches(text);
            assert!((od - 5.0).abs() < 1e-9 && (wall - 0.362).abs() < 1e-9, "{text}: {od} {wall}");
            let spec = TubeSpec::parse(text).unwrap();
            assert_eq!(spec.grade, Some(Grade::G105), "{text}");
            assert_eq!(spec.title(), "5 in 19.50 lb/ft (wall 0.362 in) G105", "{text}");
        }
        let (od, wall) = inches("6 5/8 in 25.20 lb/ft S-135");
        assert!((od - 6.625).abs() < 1e-12 && (wall - 0.330).abs() < 1e-12);
        let odd = TubeSpec::parse("5 in 0.4 in yield 110 ksi").unwrap();
        assert!((odd.material.yield_strength / KSI - 110.0).abs() < 1e-9);
        assert_eq!(odd.title(), "OD 5.000 in, wall 0.400 in, yield 110 ksi");
    }

    #[test]
    fn what_is_missing_or_strange_is_said_with_an_example() {
        for (text, part) in [
            ("5 19.50 lb/ft G-105", "'5' has no unit"),
            ("5 in 19.50 G-105", "'19.50' has no unit"),
            ("5 in G-105", "16.25 lb/ft, 19.50 lb/ft, 25.60 lb/ft"),
            ("5 in 19.50 lb/ft", "the grade is missing"),
            ("5 in 19.50 lb/ft Z-140", "Z-140"),
            ("19.50 lb/ft G-105", "outside diameter is missing"),
            ("5 in 18 lb/ft G-105", "nearest"),
            ("5 in 19.50 lb/ft 20 lb/ft G", "already"),
            ("5 in, wall 3 in, G", "no bore"),
            ("OD", "number is missing"),
            ("", "no tube was named"),
        ] {
            let error = TubeSpec::parse(text).unwrap_err().to_string();
            assert!(error.contains(part), "{text}: {error}");
            assert!(error.contains("is written like"), "{text}: {error}");
        }
        let error = TubeSpec::parse("147 mm 11 mm aluminium").unwrap_err().to_string();
        assert!(error.contains("outside these formulas"), "{error}");
    }
}
