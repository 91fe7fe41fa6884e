//! Where a joint is, what it is called, who has it.

use crate::model::{
    HireInBody, HireOutBody, IdentityBody, JointBody, MoveBody, Serial, Status, same_name,
};

use super::super::facts::Placed;
use super::flags::under_way;
use super::fold::Fold;
use crate::schema::{ConflictRow, HireRow, MoveRow, SerialRow};

/// A value that entries set one after the other. What a fact in conflict set is not known until
/// another fact sets it.
#[derive(Clone, Debug)]
pub(super) struct Held<T> {
    value: T,
    /// Place of the entry that set it.
    by: i64,
    sure: bool,
}

impl<T> Held<T> {
    const fn new(value: T, by: i64) -> Self {
        Self { value, by, sure: true }
    }

    pub(super) fn set(&mut self, value: T, by: i64) {
        *self = Self::new(value, by);
    }

    pub(super) const fn known(&self) -> Option<&T> {
        if self.sure { Some(&self.value) } else { None }
    }

    fn doubt(&mut self, entry: i64) {
        self.sure &= self.by != entry;
    }
}

/// What moves of one instant said: where the joint is, and its string, each with its entry.
#[derive(Clone, Debug)]
struct LastMoves {
    at: i64,
    locations: Vec<(i64, String)>,
    strings: Vec<(i64, String)>,
}

/// Entries that say something else.
fn others_than(said: &[(i64, String)], now: Option<&String>) -> Vec<i64> {
    let differ = |there: &str| now.is_some_and(|here| !same_name(there, here));
    said.iter().filter(|(_, there)| differ(there)).map(|(by, _)| *by).collect()
}

/// Custody as of the entry last taken.
#[derive(Clone, Debug)]
pub(super) struct Custody {
    pub location: Held<Option<String>>,
    pub string: Held<Option<String>>,
    pub status: Held<Status>,
    pub hire: Held<Option<String>>,
    pub moved: Held<Option<i64>>,
    /// Place of the entry that put it on hire.
    hire_entry: Option<i64>,
    last_moves: Option<LastMoves>,
    /// The decision that keeps it from being sent out, and what that is called.
    pub barred: Option<(i64, &'static str)>,
    /// Entries by which it got the serial of a joint that proved to be the same.
    merges: Vec<i64>,
}

impl Custody {
    pub(super) fn entering(body: &JointBody, by: i64) -> Self {
        Self {
            location: Held::new(body.location.clone(), by),
            string: Held::new(body.string.clone(), by),
            status: Held::new(Status::InStock, by),
            hire: Held::new(None, by),
            moved: Held::new(None, by),
            barred: None,
            hire_entry: None,
            last_moves: None,
            merges: Vec::new(),
        }
    }

    fn doubt(&mut self, entry: i64) {
        self.location.doubt(entry);
        self.string.doubt(entry);
        self.status.doubt(entry);
        self.hire.doubt(entry);
        self.moved.doubt(entry);
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

    /// What the entries of new conflicts set is not known; the joint's own entry stands whatever
    /// was written after it.
    pub(super) fn doubt_custody(&mut self, known: usize) {
        for c in self.records.conflicts.iter().skip(known) {
            for entry in [c.first_entry, c.second_entry] {
                if entry != self.input.joint {
                    self.custody.doubt(entry);
                }
            }
        }
    }

    /// Where the joint stands with its owner. One that failed is not in stock.
    pub(super) fn status(&self) -> Option<Status> {
        let status = *self.custody.status.known()?;
        let held = self.failed.is_some() && status == Status::InStock;
        Some(if held { Status::Quarantine } else { status })
    }

    /// A decision lets it go out again: whether it is out meanwhile, the hires say.
    pub(super) fn released(&mut self) {
        let c = &mut self.custody;
        let out = c.hire.value.is_some();
        let value = if out { Status::OnHire } else { Status::InStock };
        c.status = Held { value, by: c.hire.by, sure: c.hire.sure };
    }

    pub(super) fn moved(&mut self, body: &MoveBody, placed: &Placed) {
        let (at, by) = (placed.at().0, placed.position);
        self.in_the_hole(placed, "moved");
        self.impossible(body, at, by);
        let c = &mut self.custody;
        if let Some(location) = &body.location {
            c.location.set(Some(location.clone()), by);
        }
        match body.string.as_deref() {
            Some("-") => c.string.set(None, by),
            Some(string) => c.string.set(Some(string.to_owned()), by),
            None => {}
        }
        if let Some(status) = body.status {
            c.status.set(status, by);
        }
        c.moved.set(Some(at), by);
        let string = c.string.known().cloned();
        // The move itself, if it was made, says what it says; the joint's own entry stands.
        let before = |set_by: i64| (set_by != by && set_by != self.input.joint).then_some(set_by);
        let [location_by, string_by, status_by] =
            [c.location.by, c.string.by, c.status.by].map(before);
        let row = MoveRow {
            joint: self.input.joint,
            date: at,
            turn: self.turn,
            entry: by,
            location: c.location.known().cloned().flatten(),
            in_string: string.as_ref().map(Option::is_some),
            string: string.flatten(),
            status: self.status(),
            location_by,
            string_by,
            status_by,
        };
        self.records.moves.push(row);
    }

    /// A joint is in one place, in one string, and with one holder.
    fn impossible(&mut self, body: &MoveBody, at: i64, entry: i64) {
        let fresh = LastMoves { at, locations: Vec::new(), strings: Vec::new() };
        let mut last = self.custody.last_moves.take().filter(|l| l.at == at).unwrap_or(fresh);
        let places = others_than(&last.locations, body.location.as_ref());
        for other in &places {
            self.clash(*other, entry, "moved to two places at once");
        }
        for other in others_than(&last.strings, body.string.as_ref()) {
            if !places.contains(&other) {
                self.clash(other, entry, "put into two strings at once");
            }
        }
        last.locations.extend(body.location.clone().map(|now| (entry, now)));
        last.strings.extend(body.string.clone().map(|now| (entry, now)));
        self.custody.last_moves = Some(last);
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
        let (at, by) = (placed.at().0, placed.position);
        self.in_the_hole(placed, "hired out");
        if let Some(other) = self.custody.hire_entry {
            self.clash(other, by, "hired out while already on hire");
        }
        if let Some((decision, what)) = self.custody.barred {
            self.clash(decision, by, what);
        }
        let c = &mut self.custody;
        c.hire.set(Some(body.hire.clone()), by);
        c.hire_entry = Some(by);
        c.status.set(Status::OnHire, by);
        c.moved.set(Some(at), by);
        if let Some(location) = &body.location {
            c.location.set(Some(location.clone()), by);
        }
        self.records.hires.push(HireRow {
            joint: self.input.joint,
            date: at,
            turn: self.turn,
            entry: by,
            name: body.hire.clone(),
            party: body.party.clone(),
            contract: body.contract.clone(),
            back: None,
            back_entry: None,
        });
    }

    pub(super) fn hired_in(&mut self, body: &HireInBody, placed: &Placed) {
        let (at, by) = (placed.at().0, placed.position);
        self.in_the_hole(placed, "taken back from hire");
        let open = self
            .records
            .hires
            .iter_mut()
            .rev()
            .find(|h| same_name(&h.name, &body.hire) && h.back.is_none());
        if let Some(row) = open {
            row.back = Some(at);
            row.back_entry = Some(by);
        } else {
            let what = "taken back from a hire that it was not out on";
            self.clash(self.input.joint, by, what);
        }
        let still_out = self.records.hires.iter().any(|h| h.back.is_none());
        let c = &mut self.custody;
        c.hire.set(None, by);
        // Coming home undoes no decision.
        if c.barred.is_none() {
            c.status.set(Status::InStock, by);
        }
        if still_out {
            // It was out on two hires, which cannot be: from which it is back nobody knows.
            c.hire.sure = false;
            c.status.sure = false;
        } else {
            c.hire_entry = None;
        }
        if let Some(location) = &body.location {
            c.location.set(Some(location.clone()), by);
        }
        c.moved.set(Some(at), by);
    }

    /// A joint that is turning in a hole cannot be anywhere else. What was done on the day on which the
    /// run ended may have been done after it.
    fn in_the_hole(&mut self, placed: &Placed, what: &str) {
        let (at, end) = (placed.at().0, placed.entry.effective.end(placed.clock).0);
        let runs = self.input.runs.iter();
        let there = runs.filter(|r| {
            let (from, to) = under_way(r, self.input.run_rows.get(&r.run));
            from < at && at < to && end <= to
        });
        for run in there.map(|r| r.run) {
            self.clash(run, placed.position, &format!("{what} while in the hole"));
        }
    }

    pub(super) fn clash(&mut self, first: i64, second: i64, what: &str) {
        self.records.conflicts.push(ConflictRow {
            joint: self.input.joint,
            n: 0,
            first_entry: first,
            second_entry: second,
            what: what.to_owned(),
        });
    }
}
