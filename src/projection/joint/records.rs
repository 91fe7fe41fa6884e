//! Records of a joint: their rows, and what is kept of them in the joint's own.

use std::convert::Infallible;

use sha2::{Digest, Sha256};

use crate::schema::{
    ConflictRow, DecisionRow, EventRow, FailureRow, FindingRow, GapRow, HireRow, InspectionRow,
    MakeupRow, MoveRow, OpeningRow, Record, RepairRow, Row, SerialRow, Value, presence,
};

/// Works on rows of any table.
pub trait SeeRows {
    /// What may go wrong.
    type Error;

    /// Rows of one table.
    fn rows<R: Row>(&mut self, rows: &[R]) -> Result<(), Self::Error>;
}

macro_rules! records {
    ($($records:ident: $row:ty,)*) => {
        /// Rows of a joint that its fold writes, beside its own and its counters.
        #[derive(Clone, Debug, PartialEq, Default)]
        pub struct JointRecords { $(pub $records: Vec<$row>,)* }

        impl JointRecords {
            /// Shows the rows of one table after another.
            pub fn each<S: SeeRows>(&self, see: &mut S) -> Result<(), S::Error> {
                $(see.rows(&self.$records)?;)*
                Ok(())
            }
        }
    };
}

records! {
    serials: SerialRow,
    gaps: GapRow,
    openings: OpeningRow,
    inspections: InspectionRow,
    findings: FindingRow,
    repairs: RepairRow,
    makeups: MakeupRow,
    events: EventRow,
    failures: FailureRow,
    moves: MoveRow,
    hires: HireRow,
    decisions: DecisionRow,
    conflicts: ConflictRow,
}

/// Digest of rows.
struct Summary {
    hash: Sha256,
}

impl SeeRows for Summary {
    type Error = Infallible;

    fn rows<R: Row>(&mut self, rows: &[R]) -> Result<(), Infallible> {
        self.hash.update(R::TABLE.as_bytes());
        rows.iter().flat_map(Row::values).for_each(|value| self.add(&value));
        Ok(())
    }
}

impl Summary {
    fn add(&mut self, value: &Value) {
        match value {
            Value::Null => self.hash.update([0]),
            Value::Int(n) => {
                self.hash.update([1]);
                self.hash.update(n.to_be_bytes());
            }
            Value::Real(x) => {
                self.hash.update([4]);
                self.hash.update(x.to_bits().to_be_bytes());
            }
            Value::Text(t) => {
                self.hash.update([2]);
                self.hash.update((t.len() as u64).to_be_bytes());
                self.hash.update(t.as_bytes());
            }
            Value::Blob(b) => {
                self.hash.update([3]);
                self.hash.update((b.len() as u64).to_be_bytes());
                self.hash.update(b);
            }
        }
    }
}

/// Summary bits of rows of one kind: those of an instant, which stand last.
fn bits_at<R: Row>(kind: Record, rows: &[R], is_of: impl Fn(&R) -> bool) -> i64 {
    let own = rows.iter().rev().take_while(|row| is_of(row));
    own.fold(0, |bits, row| bits | presence::of_record(kind) | presence::of_row::<R>(&row.values()))
}

impl JointRecords {
    /// A short digest of all records, so that equal ones need not be written again.
    pub(super) fn digest(&self) -> i64 {
        let mut summary = Summary { hash: Sha256::new() };
        let Ok(()) = self.each(&mut summary);
        let bytes: [u8; 32] = summary.hash.finalize().into();
        let mut first = [0; 8];
        first.copy_from_slice(&bytes[..8]);
        i64::from_be_bytes(first)
    }

    /// The summary bits that records of an instant set, the last so far; that a finding is open
    /// apart, for it may be cleared.
    pub(super) fn presence_at(&self, at: i64) -> i64 {
        let bits = bits_at(Record::Makeup, &self.makeups, |r| r.date == at)
            | bits_at(Record::Inspection, &self.inspections, |r| r.date == at)
            | bits_at(Record::Finding, &self.findings, |r| r.date == at)
            | bits_at(Record::Repair, &self.repairs, |r| r.date == at)
            | bits_at(Record::Event, &self.events, |r| r.date == at)
            | bits_at(Record::Failure, &self.failures, |r| r.date == at)
            | bits_at(Record::Move, &self.moves, |r| r.date == at)
            | bits_at(Record::Hire, &self.hires, |r| r.date == at)
            | bits_at(Record::Decision, &self.decisions, |r| r.date == at);
        bits & !presence::of_open_finding()
    }
}
