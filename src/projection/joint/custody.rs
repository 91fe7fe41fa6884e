//! Where a joint is, what it is called, who has it.

use crate::model::{HireInBody, HireOutBody, IdentityBody, JointBody, MoveBody, Serial, Status};

use super::super::facts::Placed;
use super::fold::Fold;
use crate::schema::{ConflictRow, HireRow, MoveRow, SerialRow};

/// What a move said.
#[derive(Clone, Debug)]
struct LastMove {
    at: i64,
    entry: i64,
    location: Option<String>,
    string: Option<String>,
}

/// Custody as of the entry last taken.
#[derive(Clone, Debug)]
pub(super) struct Custody {
    pub location: Option<String>,
    pub string: Option<String>,
    pub status: Status,
    pub hire: Option<String>,
    pub moved: Option<i64>,
    /// Place of the entry that put it on hire.
    hire_entry: Option<i64>,
    /// The move taken last: instant, entry, and where it says that the joint is.
    last_move: Option<LastMove>,
    /// The decision that keeps it from being sent out, and what that is called.
    pub barred: Option<(i64, &'static str)>,
    /// Entries by which it got the serial of a joint that proved to be the same.
    merges: Vec<i64>,
}

impl Custody {
    pub(super) fn entering(body: &JointBody) -> Self {
        Self {
            location: body.location.clone(),
            string: body.string.clone(),
            status: Status::InStock,
            hire: None,
            moved: None,
            barred: None,
            hire_entry: None,
            last_move: None,
            merges: Vec::new(),
        }
    }
}

impl Fold<'_> {
    pub(super) fn begin_serial(&mut self, serial: &Serial, at: i64, entry: i64) {
        self.records.serials.push(SerialRow {
            key: serial.key(),
            joint: self.input.joint,
            serial: serial.to_string(),
            since: at,
            until: None,
            entry,
        });
    }

    pub(super) fn identify(&mut self, body: &IdentityBody, placed: &Placed) {
        let at = placed.at().0;
        match body {
            IdentityBody::Remark { serial, .. } => {
                let old = self.serial.key();
                for row in &mut self.records.serials {
                    if row.until.is_none() && row.key == old {
                        row.until = Some(at);
                    }
                }
                self.serial = serial.clone();
                self.begin_serial(serial, at, placed.position);
            }
            // A misreading or a second mark is the joint's for all its life.
            IdentityBody::Alias { serial, .. } => {
                let entered = self.entered.0;
                self.begin_serial(serial, entered, placed.position);
            }
            IdentityBody::Merge { same, .. } => {
                let entered = self.entered.0;
                if same.serial.key() != self.serial.key() {
                    self.begin_serial(&same.serial, entered, placed.position);
                    self.custody.merges.push(placed.position);
                }
            }
            // Where the two had been merged each goes by its own serial again.
            IdentityBody::Split { joint, other, .. } => {
                let keys = [joint.serial.key(), other.serial.key()];
                let merges = &self.custody.merges;
                self.records
                    .serials
                    .retain(|s| !(keys.contains(&s.key) && merges.contains(&s.entry)));
            }
        }
    }

    /// Serials in order, each once from its time on.
    pub(super) fn tidy_serials(&mut self) {
        self.records.serials.sort_by(|a, b| (&a.key, a.since).cmp(&(&b.key, b.since)));
        self.records.serials.dedup_by(|a, b| a.key == b.key && a.since == b.since);
    }

    pub(super) fn moved(&mut self, body: &MoveBody, placed: &Placed) {
        let at = placed.at().0;
        self.in_the_hole(at, placed.position, "moved");
        self.impossible(body, at, placed.position);
        if let Some(location) = &body.location {
            self.custody.location = Some(location.clone());
        }
        match body.string.as_deref() {
            Some("-") => self.custody.string = None,
            Some(string) => self.custody.string = Some(string.to_owned()),
            None => {}
        }
        if let Some(status) = body.status {
            self.custody.status = status;
        }
        self.custody.moved = Some(at);
        self.records.moves.push(MoveRow {
            joint: self.input.joint,
            date: at,
            entry: placed.position,
            location: self.custody.location.clone(),
            string: self.custody.string.clone(),
            status: Some(self.custody.status),
        });
    }

    /// A joint is in one place, in one string, and with one holder.
    fn impossible(&mut self, body: &MoveBody, at: i64, entry: i64) {
        let differ = |a: &Option<String>, b: &Option<String>| a.is_some() && b.is_some() && a != b;
        if let Some(last) = self.custody.last_move.take_if(|l| l.at == at) {
            if differ(&last.location, &body.location) {
                self.clash(last.entry, entry, "moved to two places at once");
            } else if differ(&last.string, &body.string) {
                self.clash(last.entry, entry, "put into two strings at once");
            }
        }
        self.custody.last_move = Some(LastMove {
            at,
            entry,
            location: body.location.clone(),
            string: body.string.clone(),
        });
        if let (Some(hire), Some(Status::InStock | Status::InRepair)) =
            (self.custody.hire_entry, body.status)
        {
            self.clash(hire, entry, "put in stock or in a shop while on hire");
        }
        if let (Some((decision, _)), Some(Status::InStock | Status::OnHire)) =
            (self.custody.barred, body.status)
        {
            self.clash(decision, entry, "put back in stock against a decision");
        }
    }

    pub(super) fn hired_out(&mut self, body: &HireOutBody, placed: &Placed) {
        let at = placed.at().0;
        self.in_the_hole(at, placed.position, "hired out");
        if let Some(other) = self.custody.hire_entry {
            self.clash(other, placed.position, "hired out while already on hire");
        }
        if let Some((decision, what)) = self.custody.barred {
            self.clash(decision, placed.position, what);
        }
        self.custody.hire = Some(body.hire.clone());
        self.custody.hire_entry = Some(placed.position);
        self.custody.status = Status::OnHire;
        self.custody.moved = Some(at);
        if let Some(location) = &body.location {
            self.custody.location = Some(location.clone());
        }
        self.records.hires.push(HireRow {
            joint: self.input.joint,
            date: at,
            entry: placed.position,
            name: body.hire.clone(),
            party: body.party.clone(),
            contract: body.contract.clone(),
            back: None,
            back_entry: None,
        });
    }

    pub(super) fn hired_in(&mut self, body: &HireInBody, placed: &Placed) {
        let at = placed.at().0;
        self.in_the_hole(at, placed.position, "taken back from hire");
        let open =
            self.records.hires.iter_mut().rev().find(|h| h.name == body.hire && h.back.is_none());
        match open {
            Some(row) => {
                row.back = Some(at);
                row.back_entry = Some(placed.position);
                if self.custody.hire.as_deref() == Some(body.hire.as_str()) {
                    self.custody.hire = None;
                    self.custody.hire_entry = None;
                    // Coming home undoes no decision.
                    if self.custody.barred.is_none() {
                        self.custody.status = Status::InStock;
                    }
                }
            }
            None => {
                self.clash(
                    self.input.joint,
                    placed.position,
                    "taken back from a hire that it was not out on",
                );
            }
        }
        if let Some(location) = &body.location {
            self.custody.location = Some(location.clone());
        }
        self.custody.moved = Some(at);
    }

    /// A joint that is turning in a hole cannot be anywhere else.
    fn in_the_hole(&mut self, at: i64, entry: i64, what: &str) {
        let run = self
            .input
            .runs
            .iter()
            .find(|r| super::flags::latest_start(r) < at && at < super::flags::earliest_finish(r))
            .map(|r| r.run);
        if let Some(run) = run {
            self.clash(run, entry, &format!("{what} while in the hole"));
        }
    }

    pub(super) fn clash(&mut self, first: i64, second: i64, what: &str) {
        self.records.conflicts.push(ConflictRow {
            joint: self.input.joint,
            first_entry: first,
            second_entry: second,
            what: what.to_owned(),
        });
    }
}
