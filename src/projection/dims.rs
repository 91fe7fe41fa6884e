//! What a joint measured, from when: the dimensions that run exposures and tallies read.

use crate::model::{Body, End, Instant, JointBody, Qty, Reading, ReadingKind, Work};
use crate::units::{Dimension, Measure, Rational};

use super::facts::Placed;
use super::rows::DimensionRow;

/// Nominal dimensions of a joint, nm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Nominal {
    /// Body outside diameter.
    pub od: Option<i64>,
    /// Body wall.
    pub wall: Option<i64>,
    /// Length, shoulder to shoulder.
    pub length: Option<i64>,
    /// Tool joint outside diameter.
    pub tj_od: Option<i64>,
    /// Tool joint inside diameter.
    pub tj_id: Option<i64>,
}

impl Nominal {
    /// Reads the certificate.
    pub fn of(body: &JointBody) -> Self {
        let get = |q: &Option<Qty>, m| q.as_ref().and_then(|q| q.stored(m));
        let od = get(&body.od, Measure::Diameter);
        let wall = get(&body.wall, Measure::Wall).or_else(|| {
            let id = get(&body.id, Measure::Diameter)?;
            Some((od? - id) / 2)
        });
        Self {
            od,
            wall,
            length: get(&body.length, Measure::JointLength),
            tj_od: get(&body.tj_od, Measure::Diameter),
            tj_id: get(&body.tj_id, Measure::Diameter),
        }
    }
}

/// A reading in nanometres; a wall in percent is taken of the nominal one.
pub fn reading_nm(reading: &Reading, nominal: &Nominal) -> Option<i64> {
    quantity_nm(&reading.value, nominal.wall)
}

/// A length in nanometres; a ratio is taken of `whole`.
pub fn quantity_nm(value: &Qty, whole: Option<i64>) -> Option<i64> {
    if let Some(nm) = value.stored(Measure::Wall) {
        return Some(nm);
    }
    let ratio = value.quantity(Measure::Ratio).ok()?;
    if ratio.dimension() != Dimension::NUMBER || ratio.unit().symbol().is_empty() {
        return None;
    }
    ratio.base()?.checked_mul(Rational::integer(whole?))?.round()
}

/// The dimensions of a joint from its entry on, one row per change, in order of time.
///
/// `entries` are the standing entries that name the joint, in canonical order, the one that
/// introduced it among them.
pub fn timeline(joint: i64, entries: &[Placed]) -> Vec<DimensionRow> {
    let Some((entered, body)) = entries.iter().find_map(|p| match &p.entry.body {
        Body::Joint(b) if p.position == joint => Some((p.at(), b)),
        _ => None,
    }) else {
        return Vec::new();
    };
    let nominal = Nominal::of(body);
    let mut now = DimensionRow {
        joint,
        at: entered.0,
        wall: nominal.wall,
        od: nominal.od,
        length: nominal.length,
        tj_od: nominal.tj_od,
        pin_removed: 0,
    };
    let mut rows = vec![now.clone()];
    for placed in entries {
        let mut next = now.clone();
        match &placed.entry.body {
            Body::Inspection(b) => read(&mut next, &b.readings, &nominal),
            Body::Repair(b) => {
                let removed = b.removed.as_ref().and_then(|q| q.stored(Measure::JointLength));
                if let Some(removed) = removed {
                    next.length = next.length.map(|l| l - removed);
                    if b.end == Some(End::Pin) {
                        next.pin_removed += removed;
                    }
                }
                if b.work == Work::NewToolJoint {
                    next.tj_od = nominal.tj_od;
                }
                read(&mut next, &b.results, &nominal);
            }
            _ => continue,
        }
        next.at = placed.at().0.max(entered.0);
        push(&mut rows, &mut now, next);
    }
    rows
}

fn read(row: &mut DimensionRow, readings: &[Reading], nominal: &Nominal) {
    let mut tool_joint: Option<i64> = None;
    for reading in readings {
        let Some(nm) = reading_nm(reading, nominal) else { continue };
        match reading.what {
            ReadingKind::Wall => row.wall = Some(nm),
            ReadingKind::Length => row.length = Some(nm),
            // The larger end rides on the hole.
            ReadingKind::JointOd => tool_joint = Some(tool_joint.map_or(nm, |o| o.max(nm))),
            _ => {}
        }
    }
    row.tj_od = tool_joint.or(row.tj_od);
}

fn push(rows: &mut Vec<DimensionRow>, now: &mut DimensionRow, next: DimensionRow) {
    let same = DimensionRow { at: now.at, ..next.clone() } == *now;
    if same {
        return;
    }
    *now = next.clone();
    match rows.last_mut() {
        Some(last) if last.at == next.at => *last = next,
        _ => rows.push(next),
    }
}

/// The dimensions in force at an instant; before the first row, the first.
pub fn at(rows: &[DimensionRow], instant: Instant) -> Option<&DimensionRow> {
    let n = rows.partition_point(|r| r.at <= instant.0);
    rows.get(n.saturating_sub(1))
}
