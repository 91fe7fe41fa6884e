//! What reports read of joints' lives, each thing once: a whole string shares its runs, its files
//! and its entries.

use std::cell::{OnceCell, RefCell};
use std::collections::BTreeMap;
use std::rc::Rc;

use crate::ledger::Hash;
use crate::model::{Body, Entry, StrikeBody};
use crate::projection::adoptions::Adoptions;
use crate::schema::{
    ConflictRow, EventRow, FailureRow, FindingRow, GapRow, InspectionRow, JointRow, JointRunRow,
    MakeupRow, RepairRow, Rows, RunRow, SerialRow, StruckRow, TouchRow,
};
use crate::store::{Book, RunHead, StoreError};
use crate::units::UnitSystem;

use super::ReportError;
use super::lookup::{from_the_bit, joint_row};

/// An entry with its hash, and by whom it is struck out.
#[derive(Debug)]
pub(super) struct Seen {
    pub position: i64,
    /// As it counts: with its amendments.
    pub entry: Entry,
    /// Names of its amendments.
    pub amended: Vec<String>,
    pub hash: Hash,
    /// What it was, where it was set aside and taken in again.
    pub again: Option<String>,
    /// By which entry it is struck and why, or why it is not in force.
    pub struck: Option<Fallen>,
}

impl Seen {
    pub(super) fn name(&self) -> String {
        self.entry.id.to_string()
    }
}

/// How an entry does not count.
#[derive(Clone, Debug)]
pub(super) enum Fallen {
    /// By which entry it is struck or set aside, and why.
    By(String),
    /// A strike or an amendment that is not in force, and why.
    NotInForce(String),
}

impl std::fmt::Display for Fallen {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::By(by) => write!(f, "struck out by {by}"),
            Self::NotInForce(why) => write!(f, "not in force, {why}"),
        }
    }
}

/// Why an entry was struck, and what counts in its place.
fn reason(strike: &StrikeBody) -> String {
    let mut said = vec![strike.reason.clone()];
    said.extend(strike.decision.as_ref().map(|why| format!("by decision: {why}")));
    if !strike.instead.is_empty() {
        let instead: Vec<String> = strike.instead.iter().map(ToString::to_string).collect();
        said.push(format!("instead {}", instead.join(", ")));
    }
    format!(" ({})", said.join("; "))
}

/// A run with its joints, from the bit up: all of them, or in a brief life those around one.
#[derive(Debug)]
pub(super) struct SeenRun {
    pub row: RunRow,
    pub head: RunHead,
    pub joints: Vec<JointRunRow>,
}

/// Half a millimetre: what stands closer stands against each other.
const CLOSE: i64 = 500_000;

impl SeenRun {
    /// The name of its entry.
    pub(super) fn name(&self) -> String {
        self.head.id.to_string()
    }

    /// Joints of the book directly below and above a joint in this run.
    pub(super) fn neighbours(&self, r: &JointRunRow) -> (Option<i64>, Option<i64>) {
        let at = |joint: &&JointRunRow| joint.joint != r.joint;
        let below = self
            .joints
            .iter()
            .filter(at)
            .find(|j| (j.from_bit + j.length - r.from_bit).abs() < CLOSE)
            .map(|j| j.joint);
        let above = self
            .joints
            .iter()
            .filter(at)
            .find(|j| (r.from_bit + r.length - j.from_bit).abs() < CLOSE)
            .map(|j| j.joint);
        (below, above)
    }
}

/// Reads a book for reports.
pub(super) struct Reader<'b> {
    pub book: &'b Book,
    /// Units in which people read.
    pub units: UnitSystem,
    entries: RefCell<BTreeMap<i64, Rc<Seen>>>,
    runs: RefCell<BTreeMap<i64, Rc<SeenRun>>>,
    serials: RefCell<BTreeMap<i64, String>>,
    adoptions: OnceCell<Adoptions>,
}

impl<'b> Reader<'b> {
    pub(super) fn new(book: &'b Book) -> Self {
        Self {
            book,
            units: book.identity().units,
            entries: RefCell::default(),
            runs: RefCell::default(),
            serials: RefCell::default(),
            adoptions: OnceCell::new(),
        }
    }

    /// What the book adopted.
    pub(super) fn adoptions(&self) -> Result<&Adoptions, ReportError> {
        if let Some(known) = self.adoptions.get() {
            return Ok(known);
        }
        let read = self.book.adoptions()?;
        Ok(self.adoptions.get_or_init(|| read))
    }

    /// The same for people who read in these units.
    pub(super) fn in_units(book: &'b Book, units: UnitSystem) -> Self {
        Self { units, ..Self::new(book) }
    }

    /// An entry by its place.
    pub(super) fn entry(&self, position: i64) -> Result<Rc<Seen>, ReportError> {
        if let Some(seen) = self.entries.borrow().get(&position) {
            return Ok(Rc::clone(seen));
        }
        let stored = self.book.entry_at(position)?;
        let struck = match self.book.row::<StruckRow>(position)? {
            Some(row) => {
                let by = self.book.entry_at(row.by_entry)?.raw;
                let body = by.read().map_err(StoreError::from)?.body;
                let why = if let Body::Strike(b) = body { reason(&b) } else { String::new() };
                Some(if row.by_entry == row.entry {
                    Fallen::NotInForce(row.why)
                } else {
                    Fallen::By(by.label() + &why)
                })
            }
            None => None,
        };
        let entry = self.book.counted(position)?;
        let amended = self.book.amendments_of(&entry.id)?;
        let again = self.book.taken_again(&entry.id)?;
        let seen = Rc::new(Seen {
            position,
            amended: amended.iter().map(|a| a.id.to_string()).collect(),
            again: again.map(|a| format!("first written as {} by {}", a.entry, a.author)),
            entry,
            hash: stored.hash,
            struck,
        });
        self.entries.borrow_mut().insert(position, Rc::clone(&seen));
        Ok(seen)
    }

    /// A run by its place; `None` when it stands no more.
    pub(super) fn run(&self, run: i64) -> Result<Option<Rc<SeenRun>>, ReportError> {
        if let Some(seen) = self.runs.borrow().get(&run) {
            return Ok(Some(Rc::clone(seen)));
        }
        let Some(row) = self.book.row::<RunRow>(run)? else { return Ok(None) };
        let joints = from_the_bit(self.book, run)?;
        let seen = Rc::new(SeenRun { row, head: self.book.run_head(run)?, joints });
        self.runs.borrow_mut().insert(run, Rc::clone(&seen));
        Ok(Some(seen))
    }

    /// A run of a joint with those joints alone that may stand next to it.
    fn run_around(&self, r: &JointRunRow) -> Result<Option<Rc<SeenRun>>, ReportError> {
        let head = self.book.run_head(r.run)?;
        // Where the tally changed, places are of several tallies.
        if head.swapped {
            return self.run(r.run);
        }
        let Some(row) = self.book.row::<RunRow>(r.run)? else { return Ok(None) };
        let beside = Rows::of(JointRunRow::run(), r.run)
            .by(JointRunRow::position())
            .at_least(JointRunRow::position(), r.position - 1)
            .at_most(JointRunRow::position(), r.position + 1);
        let joints = self.book.rows(&beside)?;
        Ok(Some(Rc::new(SeenRun { row, head, joints })))
    }

    /// The serial that a joint carries today.
    pub(super) fn serial(&self, joint: i64) -> Result<String, ReportError> {
        if let Some(serial) = self.serials.borrow().get(&joint) {
            return Ok(serial.clone());
        }
        let row = joint_row(self.book, joint)?;
        let serial = row.map_or_else(|| "?".to_owned(), |r| r.serial);
        self.serials.borrow_mut().insert(joint, serial.clone());
        Ok(serial)
    }

    /// Everything that the book keeps of a joint.
    pub(super) fn life(&self, joint: i64) -> Result<Life, ReportError> {
        self.life_with(joint, |r| self.run(r.run))
    }

    /// The same for one joint by itself: of its runs only what stands next to it.
    pub(super) fn brief_life(&self, joint: i64) -> Result<Life, ReportError> {
        self.life_with(joint, |r| self.run_around(r))
    }

    fn life_with(
        &self,
        joint: i64,
        run_of: impl Fn(&JointRunRow) -> Result<Option<Rc<SeenRun>>, ReportError>,
    ) -> Result<Life, ReportError> {
        let book = self.book;
        let Some(row) = joint_row(book, joint)? else {
            return Err(ReportError::NoJoint { serial: joint.to_string(), like: Vec::new() });
        };
        let touches: Vec<TouchRow> = book.rows_of(joint)?;
        let entries = touches.iter().map(|t| self.entry(t.entry)).collect::<Result<Vec<_>, _>>()?;
        let mut runs = Vec::new();
        for r in book.rows_of::<JointRunRow>(joint)? {
            if let Some(run) = run_of(&r)? {
                runs.push((run, r));
            }
        }
        book.check_joint(joint)?;
        Ok(Life {
            entries,
            runs,
            inspections: book.rows_of(joint)?,
            findings: book.rows_of(joint)?,
            makeups: book.rows_of(joint)?,
            repairs: book.rows_of(joint)?,
            events: book.rows_of(joint)?,
            failures: book.rows_of(joint)?,
            serials: book
                .rows(&Rows::of_joint(joint).by(SerialRow::since()).by(SerialRow::key()))?,
            gaps: book.rows_of(joint)?,
            conflicts: book.rows_of(joint)?,
            row,
        })
    }
}

/// Everything that the book keeps of a joint.
#[derive(Debug)]
pub(super) struct Life {
    pub row: JointRow,
    /// Entries that name it, runs apart.
    pub entries: Vec<Rc<Seen>>,
    /// Its runs, oldest first.
    pub runs: Vec<(Rc<SeenRun>, JointRunRow)>,
    pub inspections: Vec<InspectionRow>,
    pub findings: Vec<FindingRow>,
    pub makeups: Vec<MakeupRow>,
    pub repairs: Vec<RepairRow>,
    pub events: Vec<EventRow>,
    pub failures: Vec<FailureRow>,
    pub serials: Vec<SerialRow>,
    pub gaps: Vec<GapRow>,
    pub conflicts: Vec<ConflictRow>,
}

impl Life {
    pub(super) fn failure(&self) -> Option<&FailureRow> {
        self.failures.last()
    }
}
