//! The fold of one joint: from its standing entries and its runs to everything the book says of
//! it. A pure function: the same facts in any order of arrival give the same rows.

mod appraisal;
mod condition;
mod connection;
mod custody;
mod flags;
mod fold;
mod history;
mod life;
mod records;
mod state;
mod told;

pub use appraisal::{Appraisal, Ask, RepairGround, appraise, appraise_alone, repair_ground};
pub use condition::READ_APART;
pub use flags::{
    AT_LEAST, ESTIMATED, FINISH_IS_DAY, INCOMPLETE, MISFIT, NOTCH_UNMEASURED, START_IS_DAY, TWICE,
    UNTIMED,
};
pub use fold::{JointInput, dims_at, sort_runs};
pub use history::ClassEvent;
pub use life::{Later, Life, breaks, since_inspection};
pub use records::{JointRecords, SeeRows};
pub use told::told_between;

use std::collections::BTreeMap;

use crate::condition::{Ground, answer};
use crate::model::{Body, FailureKind, Qty, Status};
use crate::schema::{
    ConflictRow, CustodyRow, EventRow, FailureRow, JointRow, JointRunRow, JointStateRow, SinceRow,
    Words,
};
use crate::units::Measure;

use super::facts::Placed;
use super::kinds::role;
use fold::Fold;
use told::stretch;

/// What the fold of a joint says.
#[derive(Clone, Debug, PartialEq)]
pub struct JointOutput {
    /// The joint today.
    pub joint: JointRow,
    /// What it was through time.
    pub states: Vec<JointStateRow>,
    /// Where it was, and who had it.
    pub custody: Vec<CustodyRow>,
    /// Counters since inspections.
    pub since: Vec<SinceRow>,
    /// Everything else, as records.
    pub records: JointRecords,
    /// Runs of the joint that are in conflict.
    pub conflicted_runs: Vec<i64>,
    /// For each of its runs its place among those that ended then.
    pub run_turns: Vec<i64>,
    /// Runs that broke a restriction of the joint, or of which nobody knows.
    pub broken_runs: BTreeMap<i64, Option<bool>>,
}

/// Folds a joint. `None` when the entry that introduced it does not stand.
pub fn fold(input: &JointInput<'_>) -> Option<JointOutput> {
    let mut fold = Fold::begin(input)?;
    let mut walk = life::Walk::begin(&fold);
    for together in input.entries.chunk_by(|a, b| a.at() == b.at()) {
        for (turn, placed) in (0..).zip(together) {
            fold.turn = turn;
            fold.take(placed);
        }
        let at = together.first().map_or(i64::MIN, |p| p.at().0);
        fold.note_states(at, &mut walk);
    }
    fold.finish(walk)
}

impl Fold<'_> {
    fn take(&mut self, placed: &Placed) {
        let known = self.records.conflicts.len();
        self.read(placed);
        self.doubt_custody(known);
    }

    fn read(&mut self, placed: &Placed) {
        let at = placed.at().0;
        match &placed.entry.body {
            Body::Identity(b) => self.identify(b, placed),
            Body::Gap(b) => self.records.gaps.extend(self.stretch_row(b, placed)),
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
                    turn: self.turn,
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
                if b.what == FailureKind::Lost {
                    self.custody.status.set(Status::Lost, placed.position);
                }
                self.records.failures.push(FailureRow {
                    joint: self.input.joint,
                    date: at,
                    turn: self.turn,
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
            | Body::Clock(_)
            | Body::Key(_)
            | Body::Layout(_)
            | Body::Note(_)
            | Body::Strike(_)
            | Body::Amend(_) => {}
        }
    }

    fn finish(mut self, walk: life::Walk<'_>) -> Option<JointOutput> {
        self.tidy_serials();
        let found = walk.end(&self);
        self.records.openings.extend(found.opening);
        self.records.conflicts = numbered(self.records.conflicts, found.conflicts);
        let own = self.input.entries.iter().find(|p| p.position == self.input.joint)?;
        let (own, body) = (&own.entry.id, self.body);
        let stored = |q: &Option<Qty>, m| q.as_ref().and_then(|q| q.stored(m));
        // What a state says of what never changes within it is said of the joint today.
        let s = self.states.last()?.clone();
        let custody = self.custodies.last()?.clone();
        let life = found.life;
        let mut grounds = self.grounds();
        if !self.records.conflicts.is_empty() {
            // Last, as a view of the past has it.
            grounds.extend((!grounds.contains(&Ground::Conflict)).then_some(Ground::Conflict));
        }
        let sums = &life.totals.figures;
        let joint = JointRow {
            joint: self.input.joint,
            by_name: own.sort_key(),
            introduced_by: own.to_string(),
            serial: custody.serial,
            component: body.component,
            grade: body.grade.as_deref().map(|g| Words::GRADES.kept(g)),
            od: self.nominal.od,
            nominal_wall: self.nominal.wall,
            weight: stored(&body.weight, Measure::LinearMass),
            length: s.length,
            connection: body.connection.as_deref().map(|c| Words::CONNECTIONS.kept(c)),
            box_connection: body.box_connection.as_deref().map(|c| Words::CONNECTIONS.kept(c)),
            tool_joint_od: self.nominal.tj_od,
            tool_joint_id: self.nominal.tj_id,
            heat: body.heat.clone(),
            pin_heat: body.pin_heat.clone(),
            box_heat: body.box_heat.clone(),
            weld_lot: body.weld_lot.clone(),
            maker: body.maker.clone(),
            mill_order: body.mill_order.clone(),
            certificate: body.certificate.clone(),
            made: body.made.map(|m| m.start(self.clock).0),
            owner: body.owner.clone(),
            range: body.range.as_deref().map(|r| Words::RANGES.kept(r)),
            coating: s.coating,
            hardband_alloy: s.hardband_alloy,
            entered: self.entered.0,
            entered_new: body.new,
            location: custody.location,
            string: custody.string,
            in_string: custody.in_string,
            status: custody.status,
            on_hire: custody.on_hire,
            hire: custody.hire,
            moved: custody.moved,
            class: s.class,
            tube_class: s.tube_class,
            pin_class: s.pin_class,
            box_class: s.box_class,
            class_entry: s.class_entry,
            criterion: s.criterion,
            declared_class: s.declared_class,
            class_disputed: s.class_disputed,
            disposition: s.disposition,
            restriction: s.restriction,
            out: s.out,
            out_reason: s.out_reason,
            fit: answer(grounds.iter().copied()),
            unfit_because: state::words(&grounds),
            not_measured: s.not_measured,
            wall: s.wall,
            wall_thickness: s.wall_thickness,
            wall_read: s.wall_read,
            body_od: s.body_od,
            slip_od: s.slip_od,
            pin_od: s.pin_od,
            pin_id: s.pin_id,
            pin_shoulder: s.pin_shoulder,
            pin_stretch: s.pin_stretch,
            pin_tong: s.pin_tong,
            box_od: s.box_od,
            box_shoulder: s.box_shoulder,
            box_counterbore: s.box_counterbore,
            box_tong: s.box_tong,
            hardband: s.hardband,
            hardband_height: s.hardband_height,
            paint: s.paint,
            inspected: s.inspected,
            open_findings: s.open_findings,
            presence: s.presence | life.presence,
            pin_generation: s.pin_generation,
            box_generation: s.box_generation,
            failed_on: s.failed_on,
            failure: s.failure,
            runs: life.runs,
            life_complete: s.life_complete,
            unknown_until: s.unknown_until,
            conflicted: !self.records.conflicts.is_empty(),
            last_run: life.last_run,
            damage_pin: sums.damage_pin,
            damage_middle: sums.damage_middle,
            damage_box: sums.damage_box,
            over_limit_pin: sums.over_limit_pin,
            over_limit_middle: sums.over_limit_middle,
            over_limit_box: sums.over_limit_box,
            compression_pin: sums.compression_pin,
            compression_middle: sums.compression_middle,
            compression_box: sums.compression_box,
            contact_pin: sums.contact_pin,
            contact_middle: sums.contact_middle,
            contact_box: sums.contact_box,
            totals: life.totals.totals(),
            records_digest: self.records.digest(),
        };
        Some(JointOutput {
            joint,
            states: self.states,
            custody: self.custodies,
            since: found.since,
            records: self.records,
            conflicted_runs: found.conflicted_runs,
            run_turns: run_turns(self.input.runs),
            broken_runs: found.broken_runs,
        })
    }
}

/// Conflicts, each pair of facts once for what is said of it, numbered in the order of facts.
fn numbered(first: Vec<ConflictRow>, then: Vec<ConflictRow>) -> Vec<ConflictRow> {
    let mut out: Vec<ConflictRow> = Vec::new();
    for conflict in first.into_iter().chain(then) {
        let same = |c: &ConflictRow| ConflictRow { n: conflict.n, ..c.clone() } == conflict;
        if !out.iter().any(same) {
            let n = i64::try_from(out.len()).unwrap_or(i64::MAX);
            out.push(ConflictRow { n, ..conflict });
        }
    }
    out
}

/// The place of each run among those that end when it does.
fn run_turns(runs: &[JointRunRow]) -> Vec<i64> {
    let together = runs.chunk_by(|a, b| a.finish == b.finish);
    together.flat_map(|runs| (0..).zip(runs).map(|(turn, _)| turn)).collect()
}

/// The instants at which an entry divides the runs of the joints that it names, one or two: what it
/// says is asked of what was before it and of what came after. A stretch divides them where it ends,
/// and where it begins if it was written of its beginning.
pub fn cuts(placed: &Placed) -> (Option<i64>, Option<i64>) {
    match &placed.entry.body {
        Body::Gap(b) if b.since.is_some() => (stretch(b, placed).1, None),
        Body::Gap(b) => (Some(placed.at().0), stretch(b, placed).1),
        body => (role(body.kind()).divides().then(|| placed.at().0), None),
    }
}
