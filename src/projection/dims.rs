//! What a joint measured, from when: the dimensions that run exposures and tallies read.

use crate::condition::{Standards, Works};
use crate::model::{
    Body, End, Instant, JointBody, NominalKind, Qty, Reading, ReadingKind, RepairBody, Work,
};
use crate::units::Measure;

use super::facts::Placed;
use super::kinds::role;
use super::notches::{Clearing, OpenNotches};
use super::readings::{Readings, voids};
use crate::schema::DimensionRow;

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

    /// The dimension of which a reading of a kind can be a share.
    pub fn whole(&self, what: ReadingKind) -> Option<i64> {
        match what.nominal()? {
            NominalKind::Wall => self.wall,
            NominalKind::Od => self.od,
            NominalKind::JointOd => self.tj_od,
            NominalKind::JointId => self.tj_id,
        }
    }
}

/// The dimensions of a joint from its entry on, one row per change, in order of time.
///
/// `entries` are the standing entries that name the joint, in canonical order, the one that
/// introduced it among them; `standards_at` tells the sets in force at an instant.
pub fn timeline<'a>(
    joint: i64,
    entries: &[Placed],
    standards_at: impl Fn(Instant) -> &'a Standards,
) -> Vec<DimensionRow> {
    let own = entries.iter().find(|p| p.position == joint);
    let Some((entered, Body::Joint(body))) = own.map(|p| (p.at(), &p.entry.body)) else {
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
        pin_removed: Some(0),
        notch_pin: None,
        notch_middle: None,
        notch_box: None,
        notch_unmeasured: false,
    };
    let mut notches = OpenNotches::default();
    let mut rows = vec![now.clone()];
    let mut readings = Readings::default();
    for placed in entries.iter().filter(|p| role(p.entry.body.kind()).sizes()) {
        let mut next = now.clone();
        let mut read: &[Reading] = &[];
        let standards = standards_at(placed.at());
        if let Body::Inspection(b) = &placed.entry.body {
            notches.found(b, standards, now.length);
            read = &b.readings;
        }
        if let Body::Repair(b) = &placed.entry.body {
            repaired(&mut next, &mut readings, b, &standards.works, &nominal);
            notches.repaired(&Clearing::new(b, standards));
            read = &b.results;
        }
        [next.notch_pin, next.notch_middle, next.notch_box] = notches.deepest();
        next.notch_unmeasured = notches.unmeasured();
        readings.take(placed, read, &nominal, &|_| false, false);
        for kind in read.iter().map(|r| r.what) {
            match kind {
                // The wall that bends is the one by which the joint is judged, and a length that was
                // read twice is the shorter: the worst of each.
                ReadingKind::Wall => next.wall = readings.worst(kind, None).or(next.wall),
                ReadingKind::Length => next.length = readings.worst(kind, None).or(next.length),
                // The larger end rides on the hole; an end is judged by its own, the least.
                ReadingKind::JointOd => next.tj_od = readings.largest(kind).or(next.tj_od),
                _ => {}
            }
        }
        next.at = placed.at().0.max(entered.0);
        push(&mut rows, &mut now, next);
    }
    rows
}

/// What work changes, before its results are read. Readings of what it worked on hold no longer;
/// the dimension stays as it was last known until it is read again.
fn repaired(
    row: &mut DimensionRow,
    readings: &mut Readings,
    b: &RepairBody,
    works: &Works,
    nominal: &Nominal,
) {
    let removed = b.removed.as_ref().and_then(|q| q.stored(Measure::JointLength));
    // What was cut off and not measured leaves a length that nobody knows. A refacing takes less
    // than a tape shows (1/32 in at a time, common practice).
    let shorter = removed.is_some() || works.effect(b.work).is_some_and(|e| e.new_generation);
    if shorter {
        row.length = row.length.zip(removed).map(|(l, removed)| l - removed);
        if b.end != Some(End::Box) {
            row.pin_removed = row.pin_removed.zip(removed).map(|(r, removed)| r + removed);
        }
    }
    readings
        .forget(|what, end| voids(works, b, what, end) || shorter && what == ReadingKind::Length);
    if b.work == Work::NewToolJoint {
        row.tj_od = readings.largest(ReadingKind::JointOd).max(nominal.tj_od);
    }
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
