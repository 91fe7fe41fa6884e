//! Fields: what a column of a kind of file may hold, and how titles name it.

use std::collections::HashMap;
use std::ops::Deref;

use crate::intake::ask::Question;
use crate::model::fold;
use crate::units::{Dimension, Measure, Unit, UnitError};

/// What the cells of a field hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Holds {
    Text,
    /// A serial number, or a joint as `serial@entry`.
    Serial,
    /// A date or time.
    When,
    /// A whole number without a unit.
    Count,
    /// Yes or no.
    Flag,
    /// A quantity of any kind: a tolerance is a torque, a force, a length or a share.
    Any,
    Of(Measure),
    /// A quantity of either kind, told apart by its unit (a wall in millimetres or in percent).
    Either(Measure, Measure),
}

impl Holds {
    /// Kinds of quantity; empty for anything else.
    pub(crate) fn measures(self) -> impl Iterator<Item = Measure> {
        let (a, b) = match self {
            Self::Of(m) => (Some(m), None),
            Self::Either(a, b) => (Some(a), Some(b)),
            _ => (None, None),
        };
        a.into_iter().chain(b)
    }

    /// True when a bare number says nothing: a unit is needed.
    pub(crate) fn needs_unit(self) -> bool {
        if self == Self::Any {
            return true;
        }
        let mut measures = self.measures().peekable();
        measures.peek().is_some()
            && measures.all(|m| m == Measure::Ratio || m.dimension() != Dimension::NUMBER)
    }

    /// True for numbers and quantities.
    pub(crate) fn numeric(self) -> bool {
        matches!(self, Self::Count | Self::Any | Self::Of(_) | Self::Either(..))
    }

    /// True for quantities: their titles may carry a unit.
    pub(crate) fn has_units(self) -> bool {
        self == Self::Any || self.measures().next().is_some()
    }

    /// The meaning of a unit text in this field.
    pub(crate) fn unit(self, text: &str) -> Result<Unit, UnitError> {
        if self == Self::Any {
            return Unit::meanings(text).map(|mut m| m.swap_remove(0));
        }
        // A share of one has no sign.
        if text.trim() == "1" && self.measures().any(|m| m == Measure::Ratio) {
            return Ok(Unit::one());
        }
        // Nineteen and a half pound pipe: 19.5#.
        let text = if matches!(text, "#" | "#/ft") && self.holds_weight() { "lb/ft" } else { text };
        let mut first_error = None;
        for measure in self.measures() {
            match Unit::parse(text, measure.dimension()) {
                Ok(unit) => return Ok(unit),
                Err(e) => first_error = first_error.or(Some(e)),
            }
        }
        Err(first_error.unwrap_or(UnitError::Unknown { symbol: text.to_owned(), nearest: None }))
    }

    fn holds_weight(self) -> bool {
        self.measures().any(|m| m == Measure::LinearMass)
    }

    /// The measure of this field that a unit belongs to.
    pub(crate) fn measure_of(self, unit: &Unit) -> Option<Measure> {
        self.measures().find(|m| m.dimension() == unit.dimension())
    }

    pub(crate) fn examples(self) -> String {
        let mut list: Vec<&str> = Vec::new();
        for m in self.measures() {
            list.extend(match m {
                Measure::Depth | Measure::JointLength => ["m", "ft"].as_slice(),
                Measure::Diameter | Measure::Wall => &["in", "mm"],
                Measure::Ratio => &["%"],
                Measure::Angle => &["deg", "rad"],
                Measure::Hours => &["h"],
                Measure::Days => &["days"],
                Measure::Force => &["klbf", "kN"],
                Measure::Torque => &["ft.lbf", "kN.m"],
                Measure::LinearMass => &["lb/ft", "kg/m"],
                Measure::Density => &["ppg", "kg/m3", "sg"],
                Measure::Rate => &["ft/h", "m/h"],
                Measure::RotarySpeed => &["rpm", "c/s"],
                Measure::Dogleg => &["deg/100ft", "deg/30m"],
                Measure::Temperature => &["degC", "degF"],
                Measure::Stress => &["ksi", "MPa"],
                _ => &[],
            });
        }
        list.join(" or ")
    }
}

/// What is possible in a field, in base units, both ends included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Range {
    pub min: f64,
    pub max: f64,
    /// What a value outside is: "no rotary speed that a rig makes".
    pub why: &'static str,
}

/// A field of a kind of file.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Field {
    /// Its name in `--columns` and in messages.
    pub key: String,
    pub aliases: Vec<String>,
    pub holds: Holds,
    pub range: Option<Range>,
    /// Titles that state their unit by themselves: `rpm`, `hours`.
    pub implied: &'static [(&'static str, &'static str)],
    /// Known and left out of the entries (a survey's computed positions).
    pub kept_out: bool,
}

impl Field {
    /// A field with its aliases in one line.
    pub(crate) fn new(key: &str, holds: Holds, aliases: &str) -> Self {
        Self {
            key: key.to_owned(),
            aliases: aliases.split_whitespace().map(str::to_owned).collect(),
            holds,
            range: None,
            implied: &[],
            kept_out: false,
        }
    }

    /// States what is possible, in base units.
    #[must_use]
    pub(crate) fn within(mut self, min: f64, max: f64, why: &'static str) -> Self {
        self.range = Some(Range { min, max, why });
        self
    }

    /// Titles that state their unit.
    #[must_use]
    pub(crate) fn implies(mut self, implied: &'static [(&'static str, &'static str)]) -> Self {
        self.implied = implied;
        self
    }

    /// Known, and no part of the entries.
    #[must_use]
    pub(crate) fn out(mut self) -> Self {
        self.kept_out = true;
        self
    }

    /// The first of its names that can be typed: the key of a reading has a sign that no title has.
    pub(crate) fn typed(&self) -> &str {
        self.names().find(|name| fold(name) == **name).unwrap_or(&self.key)
    }

    /// Asks for the unit of a column that holds it.
    pub(crate) fn asks_unit(&self, column: (usize, &str)) -> Question {
        let units = (self.holds.measures(), self.holds.examples());
        Question::unit(self.typed(), units, column)
    }

    /// Its name and the titles that it goes by.
    pub(crate) fn names(&self) -> impl Iterator<Item = &str> {
        std::iter::once(self.key.as_str()).chain(self.aliases.iter().map(String::as_str))
    }
}

/// The fields of a kind of file, and the names that lead to each.
#[derive(Clone, Debug)]
pub(crate) struct Fields {
    list: Vec<Field>,
    names: HashMap<String, usize>,
}

impl Fields {
    /// Fields in order; of two with one name the first keeps it.
    pub(crate) fn new(list: Vec<Field>) -> Self {
        let mut names = HashMap::new();
        for (at, field) in list.iter().enumerate() {
            for name in field.names() {
                names.entry(name.to_owned()).or_insert(at);
            }
        }
        Self { list, names }
    }

    /// The first of a field's names that leads to it.
    pub(crate) fn name_of(&self, at: usize) -> Option<&str> {
        self.list.get(at)?.names().find(|name| self.named(&fold(name)) == Some(at))
    }

    /// Place of the field that a folded title names.
    pub(crate) fn named(&self, folded: &str) -> Option<usize> {
        self.names.get(folded).copied()
    }
}

impl Deref for Fields {
    type Target = [Field];

    fn deref(&self) -> &[Field] {
        &self.list
    }
}

/// How a title names a field.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Named {
    /// Place of the field in the list.
    pub field: usize,
    /// Text of the unit in the title.
    pub unit: Option<String>,
}

/// Splits `Depth (ft)`, `OD [in]`, `OD, in` into name and unit text.
fn split_title(title: &str) -> Option<(&str, &str)> {
    let t = title.trim();
    for (open, close) in [('[', ']'), ('(', ')'), ('{', '}')] {
        if let (Some(from), true) = (t.rfind(open), t.ends_with(close)) {
            let inside = &t[from + open.len_utf8()..t.len() - close.len_utf8()];
            return Some((t[..from].trim(), inside.trim()));
        }
    }
    t.rsplit_once(',').map(|(name, unit)| (name.trim(), unit.trim()))
}

fn is_unit(text: &str) -> bool {
    !text.is_empty() && Unit::meanings(text).is_ok()
}

/// Finds the field that a title names. The unit may stand in brackets or parentheses, after a
/// comma, or as the last words of the title (`length_m`, `air weight kg/m`).
pub(crate) fn find(title: &str, fields: &Fields) -> Option<Named> {
    let named = |name: &str| {
        let folded = fold(name);
        fields.named(&folded).map(|field| (field, folded))
    };
    let implied = |field: usize, folded: &str| {
        fields[field].implied.iter().find(|(t, _)| *t == folded).map(|(_, u)| (*u).to_owned())
    };
    // "Wall %" has its unit without brackets, as a sign that folds away.
    if let Some((field, _)) = title.trim().strip_suffix('%').and_then(named)
        && fields[field].holds.unit("%").is_ok()
    {
        return Some(Named { field, unit: Some("%".to_owned()) });
    }
    if let Some((name, unit)) = split_title(title) {
        if let Some(field) = homonym(&fold(name), unit, fields) {
            return Some(Named { field, unit: Some(unit.to_owned()) });
        }
        if let Some((field, _)) = named(name)
            && (is_unit(unit) || fields[field].holds.has_units())
        {
            // "Depth (MD)" keeps its parenthesis as a name if that is one.
            if !is_unit(unit)
                && let Some((field, folded)) = named(title)
            {
                return Some(Named { field, unit: implied(field, &folded) });
            }
            return Some(Named { field, unit: Some(unit.to_owned()) });
        }
        if let Some((field, folded)) = named(title) {
            return Some(Named { field, unit: implied(field, &folded) });
        }
        // A parenthesis that is no unit, on a column that needs none: "Serial (stencilled)".
        return named(name).map(|(field, folded)| Named { field, unit: implied(field, &folded) });
    }
    if let Some((field, folded)) = named(title) {
        return Some(Named { field, unit: implied(field, &folded) });
    }
    suffix(&fold(title), fields)
}

/// Names that people use for two things, told apart by the unit: WT is a wall in inches and a weight in
/// pounds a foot, Hole a well and a diameter, From a date and a depth.
const HOMONYMS: [(&str, &str); 4] =
    [("wt", "weight"), ("hole", "hole_diameter"), ("from", "depth_in"), ("to", "depth_out")];

/// The field that a name means with a unit, where it means another without.
fn homonym(name: &str, unit: &str, fields: &Fields) -> Option<usize> {
    let (_, other) = HOMONYMS.into_iter().find(|(n, _)| *n == name)?;
    fields.named(other).filter(|f| fields[*f].holds.unit(unit).is_ok())
}

/// `length_m`, `air_weight_kg_m`: a name, then a unit with its signs folded away. The longest name
/// counts.
fn suffix(folded: &str, fields: &Fields) -> Option<Named> {
    folded.rmatch_indices('_').find_map(|(at, _)| {
        let (name, rest) = (&folded[..at], &folded[at + 1..]);
        let field = fields.named(name).filter(|f| fields[*f].holds.has_units())?;
        // A least value, unless it is a time: minutes.
        if rest == "min" && fields[field].holds != Holds::Of(Measure::Hours) {
            return None;
        }
        let spelled = [rest.to_owned(), rest.replace('_', "/"), rest.replace('_', ".")];
        let unit = spelled.into_iter().find(|u| fields[field].holds.unit(u).is_ok())?;
        Some(Named { field, unit: Some(unit) })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields() -> Fields {
        Fields::new(vec![
            Field::new("md", Holds::Of(Measure::Depth), "depth measured_depth depth_md"),
            Field::new("od", Holds::Of(Measure::Diameter), "outside_diameter"),
            Field::new("weight", Holds::Of(Measure::LinearMass), ""),
            Field::new("air_weight", Holds::Of(Measure::LinearMass), ""),
            Field::new("wall", Holds::Either(Measure::Wall, Measure::Ratio), ""),
            Field::new("rpm", Holds::Of(Measure::RotarySpeed), "surf_rpm")
                .implies(&[("rpm", "rpm")]),
            Field::new("serial", Holds::Serial, "serial_no"),
            Field::new("torque", Holds::Of(Measure::Torque), ""),
        ])
    }

    #[test]
    fn titles_name_fields_and_units() {
        let f = fields();
        for (title, key, unit) in [
            ("MD", "md", None),
            ("Depth (ft)", "md", Some("ft")),
            ("Depth (MD)", "md", None),
            ("Measured Depth [m]", "md", Some("m")),
            ("depth_md_m", "md", Some("m")),
            ("OD, in", "od", Some("in")),
            ("Outside diameter (whatever)", "od", Some("whatever")),
            ("od_mm", "od", Some("mm")),
            ("air_weight_kg_m", "air_weight", Some("kg/m")),
            ("weight lb/ft", "weight", Some("lb/ft")),
            ("Wall [%]", "wall", Some("%")),
            ("Wall (mm)", "wall", Some("mm")),
            ("Wall %", "wall", Some("%")),
            ("Wall, %", "wall", Some("%")),
            ("RPM", "rpm", Some("rpm")),
            ("SURF_RPM (c/s)", "rpm", Some("c/s")),
            ("SURF_RPM", "rpm", None),
            ("Serial No. (stencilled)", "serial", None),
            ("torque_kn_m", "torque", Some("kn.m")),
            ("Torque (psi)", "torque", Some("psi")),
        ] {
            let named = find(title, &f).unwrap_or_else(|| panic!("{title} not found"));
            assert_eq!(
                (f[named.field].key.as_str(), named.unit.as_deref()),
                (key, unit),
                "{title}"
            );
        }
        for none in ["", "remark", "depth of pit", "rpm max", "od_banana"] {
            assert_eq!(find(none, &f), None, "{none}");
        }
    }

    #[test]
    fn a_unit_finds_its_measure() {
        let wall = Holds::Either(Measure::Wall, Measure::Ratio);
        assert_eq!(wall.measure_of(&wall.unit("%").unwrap()), Some(Measure::Ratio));
        assert_eq!(wall.measure_of(&wall.unit("mm").unwrap()), Some(Measure::Wall));
        assert_eq!(
            Holds::Of(Measure::Torque).unit("psi").unwrap_err().to_string(),
            "'psi' measures a pressure or stress, not a torque; write for example ft.lbf, \
             kft.lbf or kN.m"
        );
        assert!(Holds::Of(Measure::Depth).needs_unit());
        assert!(!Holds::Of(Measure::Turns).needs_unit());
    }
}
