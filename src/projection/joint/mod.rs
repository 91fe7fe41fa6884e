//! The fold of one joint: from its standing entries and its runs to everything the book says of
//! it. A pure function: the same facts in any order of arrival give the same rows.

mod appraisal;
mod condition;
mod connection;
mod custody;
mod life;
mod records;

pub use appraisal::{
    Appraisal, Ask, ClassEvent, RepairGround, appraise, appraise_alone, repair_ground,
};
pub use life::{ESTIMATED, FINISH_IS_DAY, MISFIT, START_IS_DAY, TWICE};
pub use records::{JointRecords, SeeRows};

use std::collections::BTreeMap;

use crate::model::{Body, End, EntryId, FailureKind, Instant, JointBody, Qty, Serial, Status};
use crate::schema::{
    DimensionRow, EventRow, FailureRow, GapRow, JointRow, JointRunRow, RunPartRow, RunRow, SinceRow,
};
use crate::units::Measure;

use super::book::BookFacts;
use super::dims::{self, Nominal};
use super::facts::Placed;
use super::kinds::role;

/// What the fold of a joint reads.
#[derive(Debug)]
pub struct JointInput<'a> {
    /// Place of the entry that introduced the joint.
    pub joint: i64,
    /// Standing entries that name the joint, in canonical order.
    pub entries: &'a [Placed],
    /// Its dimensions.
    pub dims: &'a [DimensionRow],
    /// Its runs, by end.
    pub runs: &'a [JointRunRow],
    /// Parts of its runs before the instants of its entries.
    pub parts: &'a [RunPartRow],
    /// The runs themselves.
    pub run_rows: &'a BTreeMap<i64, RunRow>,
    /// Names of the entries of the runs: what orders runs that begin and end together.
    pub run_names: &'a BTreeMap<i64, EntryId>,
    /// Facts of the whole book.
    pub book: &'a BookFacts,
    /// Places of entries that this joint's entries name.
    pub positions: &'a BTreeMap<EntryId, i64>,
}

/// What the fold of a joint says.
#[derive(Clone, Debug, PartialEq)]
pub struct JointOutput {
    /// The joint today.
    pub joint: JointRow,
    /// Counters since inspections.
    pub since: Vec<SinceRow>,
    /// Everything else, as records.
    pub records: JointRecords,
    /// Runs of the joint that are in conflict.
    pub conflicted_runs: Vec<i64>,
    /// Runs that broke a restriction of the joint.
    pub broken_runs: Vec<i64>,
}

/// State of the fold.
struct Fold<'a> {
    input: &'a JointInput<'a>,
    body: &'a JointBody,
    nominal: Nominal,
    entered: Instant,
    records: JointRecords,
    custody: custody::Custody,
    condition: condition::Condition,
    ends: connection::Ends,
    failed: Option<(i64, FailureKind)>,
    serial: Serial,
}

/// Folds a joint. `None` when the entry that introduced it does not stand.
pub fn fold(input: &JointInput<'_>) -> Option<JointOutput> {
    let mut fold = Fold::begin(input)?;
    for placed in input.entries {
        fold.take(placed);
    }
    Some(fold.finish())
}

impl<'a> Fold<'a> {
    /// The joint as it entered the book. `None` when the entry that introduced it does not stand.
    fn begin(input: &'a JointInput<'a>) -> Option<Self> {
        let own = input.entries.iter().find(|p| p.position == input.joint)?;
        let Body::Joint(body) = &own.entry.body else { return None };
        let entered = own.at();
        let nominal = Nominal::of(body);
        let mut fold = Self {
            input,
            body,
            nominal,
            entered,
            records: JointRecords::default(),
            custody: custody::Custody::entering(body),
            condition: condition::Condition::entering(body),
            ends: connection::Ends::default(),
            failed: None,
            serial: body.serial.clone(),
        };
        if !body.new {
            fold.records.gaps.push(GapRow {
                joint: input.joint,
                until: entered.0,
                since: None,
                entry: input.joint,
            });
        }
        fold.begin_serial(&body.serial, entered.0, input.joint);
        Some(fold)
    }
}

impl Fold<'_> {
    fn take(&mut self, placed: &Placed) {
        let at = placed.at().0;
        match &placed.entry.body {
            Body::Identity(b) => self.identify(b, placed),
            Body::Gap(b) => {
                let offset = placed.entry.recorded.offset_minutes;
                let until = b.until.map_or(i64::MAX, |u| u.end(offset).0);
                self.records.gaps.push(GapRow {
                    joint: self.input.joint,
                    until,
                    since: Some(at),
                    entry: placed.position,
                });
            }
            Body::Move(b) => self.moved(b, placed),
            Body::HireOut(b) => self.hired_out(b, placed),
            Body::HireIn(b) => self.hired_in(b, placed),
            Body::Makeup(b) => self.made_up(b, placed),
            Body::Inspection(b) => self.inspected(b, placed),
            Body::Repair(b) => self.repaired(b, placed),
            Body::Decision(b) => self.decided(b, placed),
            Body::Event(b) => {
                let get = |q: &Option<Qty>, m| q.as_ref().and_then(|q| q.stored(m));
                self.records.events.push(EventRow {
                    joint: self.input.joint,
                    date: at,
                    entry: placed.position,
                    what: b.what,
                    run: self.position(b.run.as_ref()),
                    pull: get(&b.pull, Measure::Force),
                    torque: get(&b.torque, Measure::Torque),
                    blows: b.count.map(i64::from),
                    depth: get(&b.depth, Measure::Depth),
                });
            }
            Body::Failure(b) => {
                let get = |q: &Option<Qty>, m| q.as_ref().and_then(|q| q.stored(m));
                let run = self.position(b.run.as_ref());
                let well = run
                    .and_then(|r| self.input.run_rows.get(&r))
                    .map(|r| r.well.clone())
                    .or_else(|| b.well.clone());
                self.failed = Some((at, b.what));
                self.records.failures.push(FailureRow {
                    joint: self.input.joint,
                    date: at,
                    entry: placed.position,
                    what: b.what,
                    place: b.place,
                    end: b.end,
                    from_pin: get(&b.at, Measure::JointLength),
                    run,
                    well,
                    depth: get(&b.depth, Measure::Depth),
                    torque: get(&b.torque, Measure::Torque),
                    pull: get(&b.pull, Measure::Force),
                    operation: b.operation.clone(),
                });
            }
            // What brought the joint in, and what is asked of its runs and of the book as a whole.
            Body::Joint(_)
            | Body::Opening(_)
            | Body::Survey(_)
            | Body::Run(_)
            | Body::Instrument(_)
            | Body::Check(_)
            | Body::Adoption(_)
            | Body::Arrival(_)
            | Body::Epoch(_)
            | Body::Note(_)
            | Body::Strike(_) => {}
        }
    }

    fn position(&self, entry: Option<&EntryId>) -> Option<i64> {
        entry.and_then(|e| self.input.positions.get(e)).copied()
    }

    fn run_facts(&self, run: &JointRunRow) -> crate::condition::RunFacts {
        crate::condition::RunFacts {
            cased_hours: run.figures.cased_hours,
            protectors: self.input.run_rows.get(&run.run).map(|r| r.protectors),
        }
    }

    fn finish(mut self) -> JointOutput {
        self.tidy_serials();
        let life = life::live(&self);
        self.records.conflicts.extend(life.conflicts.iter().cloned());
        self.records.conflicts.sort_by_key(|c| (c.first_entry, c.second_entry));
        self.records.conflicts.dedup();
        let conflicted = !self.records.conflicts.is_empty();
        let complete = self.records.gaps.is_empty();
        let body = self.body;
        let stored = |q: &Option<Qty>, m| q.as_ref().and_then(|q| q.stored(m));
        let dims = self.input.dims.last();
        let totals = &life.totals;
        let status = if self.failed.is_some() && self.custody.status == Status::InStock {
            Status::Quarantine
        } else {
            self.custody.status
        };
        let broken_runs: Vec<i64> = self
            .input
            .runs
            .iter()
            .filter(|r| self.condition.broken_by(r.start, self.run_facts(r)))
            .map(|r| r.run)
            .collect();
        let c = &self.condition;
        let end = |what, end| c.reading(what, Some(end));
        use crate::model::ReadingKind as R;
        let joint = JointRow {
            joint: self.input.joint,
            introduced_by: self
                .input
                .entries
                .iter()
                .find(|p| p.position == self.input.joint)
                .map_or_else(String::new, |p| p.entry.id.to_string()),
            serial: self.serial.to_string(),
            component: body.component,
            grade: body.grade.clone(),
            od: self.nominal.od,
            nominal_wall: self.nominal.wall,
            weight: stored(&body.weight, Measure::LinearMass),
            length: dims.and_then(|d| d.length),
            connection: body.connection.clone(),
            box_connection: body.box_connection.clone(),
            tool_joint_od: self.nominal.tj_od,
            tool_joint_id: self.nominal.tj_id,
            heat: body.heat.clone(),
            pin_heat: body.pin_heat.clone(),
            box_heat: body.box_heat.clone(),
            weld_lot: body.weld_lot.clone(),
            maker: body.maker.clone(),
            mill_order: body.mill_order.clone(),
            certificate: body.certificate.clone(),
            made: body.made.map(|m| m.start(0).0),
            owner: body.owner.clone(),
            range: body.range.clone(),
            coating: body.coating.clone(),
            hardband_alloy: c.hardband_alloy.clone(),
            entered: self.entered.0,
            entered_new: body.new,
            location: self.custody.location.clone(),
            string: self.custody.string.clone(),
            status,
            hire: self.custody.hire.clone(),
            on_hire: self.custody.hire.is_some(),
            moved: self.custody.moved,
            class: c.class.overall,
            tube_class: c.class.tube,
            pin_class: c.class.pin,
            box_class: c.class.box_,
            class_entry: c.class.entry,
            criterion: c.class.criterion.clone(),
            declared_class: c.declared,
            class_disputed: c.disputed(),
            disposition: c.class.disposition.clone(),
            restriction: c.restriction(),
            out: c.out_reason.is_some() || self.failed.is_some(),
            out_reason: c
                .out_reason
                .clone()
                .or_else(|| self.failed.map(|(_, what)| what.to_string())),
            not_measured: c.class.not_measured.clone(),
            wall: c.wall_ratio(&self.nominal),
            wall_thickness: c.reading(R::Wall, None),
            wall_read: c.read_at(R::Wall, None),
            body_od: c.reading(R::BodyOd, None),
            slip_od: c.reading(R::SlipOd, None),
            pin_od: end(R::JointOd, End::Pin),
            pin_id: end(R::JointId, End::Pin),
            pin_shoulder: end(R::Shoulder, End::Pin),
            pin_stretch: end(R::Stretch, End::Pin),
            pin_tong: end(R::TongSpace, End::Pin),
            box_od: end(R::JointOd, End::Box),
            box_shoulder: end(R::Shoulder, End::Box),
            box_counterbore: end(R::Counterbore, End::Box),
            box_tong: end(R::TongSpace, End::Box),
            hardband: c.hardband.clone(),
            hardband_height: end(R::HardbandHeight, End::Box),
            paint: c.paint.clone(),
            inspected: c.inspected,
            open_findings: i64::try_from(self.records.findings.iter().filter(|f| f.open).count())
                .unwrap_or(i64::MAX),
            presence: 0,
            pin_generation: self.ends.pin.generation,
            box_generation: self.ends.box_.generation,
            failed_on: self.failed.map(|(at, _)| at),
            failure: self.failed.map(|(_, what)| what),
            runs: i64::try_from(self.input.runs.len()).unwrap_or(i64::MAX),
            life_complete: complete,
            unknown_until: self.records.gaps.iter().map(|g| g.until).max(),
            conflicted,
            last_run: self.input.runs.iter().map(|r| r.finish).max(),
            damage_pin: totals.figures.damage_pin.lo,
            damage_middle: totals.figures.damage_middle.lo,
            damage_box: totals.figures.damage_box.lo,
            totals: totals.totals(),
            records_digest: 0,
        };
        let runs = self.input.runs.iter().map(|r| (r, self.input.run_rows.get(&r.run)));
        let flagged = (!life.conflicted_runs.is_empty(), !broken_runs.is_empty());
        let mut output = JointOutput {
            joint,
            since: life.since,
            records: self.records,
            conflicted_runs: life.conflicted_runs,
            broken_runs,
        };
        (output.joint.records_digest, output.joint.presence) =
            output.records.summary(runs, flagged);
        output
    }
}

/// The instant at which an entry divides the runs of the joints that it names: what it says is
/// asked of what was before it and of what came after.
pub fn cut(placed: &Placed) -> Option<i64> {
    role(placed.entry.body.kind()).divides().then(|| placed.at().0)
}

/// The dimensions of a joint at an instant.
pub fn dims_at(rows: &[DimensionRow], at: i64) -> Option<&DimensionRow> {
    dims::at(rows, Instant(at))
}
