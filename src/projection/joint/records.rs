//! Records of a joint: their rows, and what is kept of them in the joint's own.

use std::convert::Infallible;

use sha2::{Digest, Sha256};

use crate::schema::{
    ConflictRow, DecisionRow, EventRow, FailureRow, FindingRow, GapRow, HireRow, InspectionRow,
    JointRunRow, MakeupRow, MoveRow, Record, RepairRow, Row, RunRow, SerialRow, Table, Value,
    presence,
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

/// Digest and summary bits of rows.
struct Summary {
    hash: Sha256,
    presence: i64,
}

impl SeeRows for Summary {
    type Error = Infallible;

    fn rows<R: Row>(&mut self, rows: &[R]) -> Result<(), Infallible> {
        self.hash.update(R::TABLE.as_bytes());
        for row in rows {
            let values = row.values();
            self.presence |= presence::of_row::<R>(&values);
            values.iter().for_each(|value| self.add(value));
        }
        let record = Record::ALL.into_iter().find(|r| r.table().name() == R::TABLE);
        if let Some(record) = record.filter(|_| !rows.is_empty()) {
            self.presence |= presence::of_record(record);
        }
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

impl JointRecords {
    /// A short digest of all records, so that equal ones need not be written again, and the summary
    /// bits of them and of the joint's runs; `flagged` says whether a run of it is in conflict, and
    /// whether one broke a restriction.
    pub(super) fn summary<'a>(
        &self,
        runs: impl Iterator<Item = (&'a JointRunRow, Option<&'a RunRow>)>,
        flagged: (bool, bool),
    ) -> (i64, i64) {
        let mut summary = Summary { hash: Sha256::new(), presence: 0 };
        let Ok(()) = self.each(&mut summary);
        for (_, run) in runs {
            summary.presence |= presence::of_record(Record::Run);
            if let Some(run) = run {
                summary.presence |= presence::of_row::<RunRow>(&run.values());
            }
        }
        for (set, column) in [
            (flagged.0, JointRunRow::conflicting().name()),
            (flagged.1, JointRunRow::restriction_broken().name()),
        ] {
            if set {
                summary.presence |= presence::of_flag(Table::JointRun, column).unwrap_or_default();
            }
        }
        let bytes: [u8; 32] = summary.hash.finalize().into();
        let mut first = [0; 8];
        first.copy_from_slice(&bytes[..8]);
        (i64::from_be_bytes(first), summary.presence)
    }
}
