//! What the fold of a joint reads, and its state while it goes along the entries.

use std::collections::BTreeMap;

use super::super::book::BookFacts;
use super::super::dims::{self, Nominal};
use super::super::facts::Placed;
use super::records::JointRecords;
use super::{condition, connection, custody};
use crate::model::{Body, Clock, EntryId, FailureKind, Instant, JointBody, Serial};
use crate::schema::{
    CustodyRow, DimensionRow, GapRow, JointRunRow, JointStateRow, RunPartRow, RunRow,
};

/// What the fold of a joint reads.
#[derive(Debug)]
pub struct JointInput<'a> {
    /// Place of the entry that introduced the joint.
    pub joint: i64,
    /// Standing entries that name the joint, in canonical order.
    pub entries: &'a [Placed],
    /// Its dimensions.
    pub dims: &'a [DimensionRow],
    /// Its runs, by end and name ([`sort_runs`]).
    pub runs: &'a [JointRunRow],
    /// Parts of its runs before the instants of its entries.
    pub parts: &'a [RunPartRow],
    /// The runs themselves.
    pub run_rows: &'a BTreeMap<i64, RunRow>,
    /// Names of the entries of the runs that end together with another: what orders those.
    pub run_names: &'a BTreeMap<i64, EntryId>,
    /// Facts of the whole book.
    pub book: &'a BookFacts,
    /// Places of entries that this joint's entries name.
    pub positions: &'a BTreeMap<EntryId, i64>,
}

/// State of the fold.
pub(super) struct Fold<'a> {
    pub input: &'a JointInput<'a>,
    pub body: &'a JointBody,
    pub clock: Clock,
    pub nominal: Nominal,
    pub entered: Instant,
    pub records: JointRecords,
    pub states: Vec<JointStateRow>,
    /// Stretches with hours that the last state counts.
    pub hours_told: usize,
    pub custodies: Vec<CustodyRow>,
    pub custody: custody::Custody,
    pub condition: condition::Condition,
    pub ends: connection::Ends,
    pub failed: Option<(i64, FailureKind)>,
    pub serial: Serial,
    /// Place of the entry at hand among those of its instant.
    pub turn: i64,
    /// Summary bits of the records so far; findings that are open apart.
    pub presence: i64,
}

impl<'a> Fold<'a> {
    /// The joint as it entered the book. `None` when the entry that introduced it does not stand.
    pub(super) fn begin(input: &'a JointInput<'a>) -> Option<Self> {
        let own = input.entries.iter().find(|p| p.position == input.joint)?;
        let Body::Joint(body) = &own.entry.body else { return None };
        let entered = own.at();
        let nominal = Nominal::of(body);
        let mut fold = Self {
            input,
            body,
            clock: own.clock,
            nominal,
            entered,
            records: JointRecords::default(),
            states: Vec::new(),
            hours_told: 0,
            custodies: Vec::new(),
            custody: custody::Custody::entering(body, input.joint),
            condition: condition::Condition::entering(body),
            ends: connection::Ends::default(),
            failed: None,
            serial: body.serial.clone(),
            turn: 0,
            presence: 0,
        };
        if !body.new {
            fold.records.gaps.push(GapRow {
                joint: input.joint,
                until: entered.0,
                since: None,
                entry: input.joint,
                hours: None,
                begun: false,
            });
        }
        fold.begin_serial(&body.serial, entered.0, input.joint);
        Some(fold)
    }
}

impl Fold<'_> {
    pub(super) fn position(&self, entry: Option<&EntryId>) -> Option<i64> {
        entry.and_then(|e| self.input.positions.get(e)).copied()
    }

    pub(super) fn run_facts(&self, run: &JointRunRow) -> crate::condition::RunFacts {
        crate::condition::RunFacts {
            cased_hours: run.figures.cased_hours,
            protectors: self.input.run_rows.get(&run.run).and_then(|r| r.protectors),
        }
    }

    /// Whether a run broke a restriction that the joint carried when it began; `None` where the
    /// book does not say.
    pub(super) fn breaks(&self, run: &JointRunRow) -> Option<bool> {
        self.condition.broken_by(run.start, self.run_facts(run))
    }
}

/// Puts the runs of a joint in order: by end, and by name where they end together.
pub fn sort_runs(runs: &mut [JointRunRow], names: &BTreeMap<i64, EntryId>) {
    runs.sort_by(|a, b| (a.finish, names.get(&a.run)).cmp(&(b.finish, names.get(&b.run))));
}

/// The dimensions of a joint at an instant.
pub fn dims_at(rows: &[DimensionRow], at: i64) -> Option<&DimensionRow> {
    dims::at(rows, Instant(at))
}
