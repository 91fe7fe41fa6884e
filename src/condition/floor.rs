//! The floor: below it no class, no decision and no restriction makes a joint fit.

use std::sync::LazyLock;

use crate::mechanics::connection::{ConnectionType, root_of_pin};
use crate::model::{End, Provenance, Qty, ReadingKind, Vocabulary, vocabulary};
use crate::units::{Measure, UnitSystem};

use super::catalogue::{Catalogue, SizeKind};
use super::subject::{Amount, Measured, Nominal, Subject};
use super::table::{Table, TableError};
use super::words::Part;

vocabulary!(
    /// What the floor is a floor of.
    FloorOf, "thing with a floor", {
        /// The least wall that was read.
        Wall = "wall" [],
        /// What a pit or a cut leaves of the wall.
        WallUnderFinding = "wall_under_finding" [],
        /// Width of the box shoulder over the counterbore.
        Shoulder = "shoulder" [],
        /// Metal between the bore of the pin and the root of its thread.
        PinWall = "pin_wall" [],
    }
);

impl FloorOf {
    const fn words(self) -> &'static str {
        match self {
            Self::Wall => "wall left",
            Self::WallUnderFinding => "wall left under a pit or cut",
            Self::Shoulder => "box shoulder over the counterbore",
            Self::PinWall => "metal between bore and thread root of the pin",
        }
    }

    const fn measure(self) -> Measure {
        match self {
            Self::Wall | Self::WallUnderFinding => Measure::Ratio,
            Self::Shoulder | Self::PinWall => Measure::Wall,
        }
    }
}

/// A row of the floor.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Floor {
    of: FloorOf,
    /// The least that there must be, quanta of the measure of `of`.
    least: i64,
    why: String,
    source: String,
    provenance: Provenance,
}

static SHIPPED: LazyLock<Vec<Floor>> =
    LazyLock::new(|| read(include_str!("data/floor.csv")).unwrap_or_default());

fn read(text: &str) -> Result<Vec<Floor>, Vec<TableError>> {
    let mut table = Table::read(text, &["what", "limit", "why", "source", "provenance"], &[]);
    let rows = table.each(|row, errors| {
        let of: FloorOf = row.word("what", errors)?;
        let limit = row.need("limit", "say the least that there must be", errors)?;
        let least = match Qty::parse(&limit, of.measure()) {
            Ok(q) => q.stored(of.measure())?,
            Err(e) => {
                errors.push(row.error("limit", e));
                return None;
            }
        };
        Some(Floor {
            of,
            least,
            why: row.need("why", "say why nobody runs it", errors)?,
            source: row.need("source", "say where this is from", errors)?,
            provenance: row.word("provenance", errors)?,
        })
    });
    if table.errors.is_empty() { Ok(rows) } else { Err(table.errors) }
}

/// Something below the floor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BelowFloor {
    pub part: Part,
    /// What there is, quanta of the measure of the floor.
    value: i64,
    floor: &'static Floor,
}

impl BelowFloor {
    /// One line: what there is, the floor, why, and where that comes from.
    pub fn text(&self, units: UnitSystem) -> String {
        let measure = self.floor.of.measure();
        let show = |q| measure.text(q, units);
        format!(
            "{} {}, below the floor of {}, where no decision helps: {} ({}; {})",
            self.floor.of.words(),
            show(self.value),
            show(self.floor.least),
            self.floor.why,
            self.floor.source,
            self.floor.provenance.word().replace('_', " ")
        )
    }
}

/// What is below the floor of what was read and found on a joint, the worst of each kind. Readings
/// by instruments in doubt count: what may be so bad is not run on the hope that it is not.
pub fn below_floor(subject: &Subject, catalogue: &Catalogue) -> Vec<BelowFloor> {
    let mut out = Vec::new();
    for floor in SHIPPED.iter() {
        let (part, value) = match floor.of {
            FloorOf::Wall => (Part::Tube, least_wall(subject)),
            FloorOf::WallUnderFinding => (Part::Tube, under_findings(subject, catalogue)),
            FloorOf::Shoulder => (Part::Box, box_shoulder(subject)),
            FloorOf::PinWall => (Part::Pin, pin_wall(subject)),
        };
        if let Some(value) = value.filter(|v| *v < floor.least) {
            out.push(BelowFloor { part, value, floor });
        }
    }
    out
}

/// Whether a reading of this kind can come to lie below the floor on a joint that was made so.
pub(super) fn weighs(what: ReadingKind, part: Part, nominal: &Nominal) -> bool {
    match (what, part) {
        (ReadingKind::Wall, Part::Tube) => nominal.wall.is_some(),
        (ReadingKind::JointOd, Part::Box) => connection(nominal.box_.name.as_deref()).is_some(),
        (ReadingKind::Shoulder, Part::Box) => true,
        (ReadingKind::JointId, Part::Pin) => connection(nominal.pin.name.as_deref()).is_some(),
        _ => false,
    }
}

/// The wall, wherever it was read: a good one beside a cut says nothing of an earlier one elsewhere.
const WALLS: [ReadingKind; 2] = [ReadingKind::Wall, ReadingKind::AdjacentWall];

/// The least wall as a share of the nominal one, of those read now or else of the latest before.
fn least_wall(subject: &Subject) -> Option<i64> {
    let share = |m: &Measured| match m.amount {
        Amount::OfNominal(q) => Some(q),
        Amount::Length(q) => ratio(q, subject.nominal.wall?),
    };
    let least = |what| {
        let of = |m: &Measured| if m.what == what { share(m) } else { None };
        let now = subject.readings.iter().filter_map(of).min();
        now.or_else(|| subject.earlier.readings.iter().filter_map(|(m, _)| of(m)).min())
    };
    WALLS.into_iter().filter_map(least).min()
}

fn ratio(part: i64, whole: i64) -> Option<i64> {
    let quanta = i128::from(Measure::Ratio.quanta_per_base());
    (whole > 0).then(|| i64::try_from(i128::from(part) * quanta / i128::from(whole)).ok())?
}

/// What the deepest pit or cut leaves of the least wall, as a share of the nominal one.
fn under_findings(subject: &Subject, catalogue: &Catalogue) -> Option<i64> {
    let nominal = subject.nominal.wall?;
    let walls = WALLS.into_iter().filter_map(|what| subject.worst(what, None));
    let beside = walls.min().unwrap_or(nominal);
    let of_findings = subject.findings.iter().filter_map(|f| {
        let size = f.size?;
        match catalogue.at(&f.what, f.place, f.end).ok()?.size? {
            SizeKind::Depth if f.end.is_none() => Some(beside - size),
            SizeKind::WallLeft => Some(size),
            _ => None,
        }
    });
    let of_flaw = subject.worst(ReadingKind::FlawDepth, None).map(|depth| beside - depth);
    ratio(of_findings.chain(of_flaw).min()?, nominal)
}

/// Half of what the box is wider than its counterbore, as read or as made.
fn box_shoulder(subject: &Subject) -> Option<i64> {
    let worst = |what| subject.worst(what, Some(End::Box));
    let made = connection(subject.nominal.box_.name.as_deref())
        .and_then(|c| Measure::Diameter.store_f64(c.spec().counterbore()));
    let bore = worst(ReadingKind::Counterbore).max(made);
    let by_diameters = worst(ReadingKind::JointOd).zip(bore).map(|(od, bore)| (od - bore) / 2);
    [worst(ReadingKind::Shoulder), by_diameters].into_iter().flatten().min()
}

/// Half of what the thread root of the pin is wider than its bore.
fn pin_wall(subject: &Subject) -> Option<i64> {
    let bore = subject.worst(ReadingKind::JointId, Some(End::Pin))?;
    let made = connection(subject.nominal.pin.name.as_deref())?;
    let root = Measure::Diameter.store_f64(root_of_pin(made))?;
    Some((root - bore) / 2)
}

fn connection(name: Option<&str>) -> Option<ConnectionType> {
    name?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_floor_reads_and_has_a_row_of_each_kind() {
        let rows = read(include_str!("data/floor.csv")).unwrap();
        let of: Vec<FloorOf> = rows.iter().map(|f| f.of).collect();
        assert_eq!(of, FloorOf::ALL);
        assert_eq!(rows[0].least, 500_000_000);
        assert_eq!(rows[2].least, 1_587_500);
    }
}
