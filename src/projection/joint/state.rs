//! States of a joint: what it was from an instant on, as rows. The fold notes one after the entries of
//! an instant where they changed anything; the last of them is the joint today. A view of the past
//! takes the one in force and adds what the runs did since (`life`), and judges nothing again.

use crate::condition::{Ground, answer};
use crate::model::{End, ReadingKind, Vocabulary};
use crate::schema::{CustodyRow, JointStateRow, presence};

use super::fold::{Fold, dims_at};
use super::life::Walk;

/// Grounds as words; nothing where there are none.
pub(super) fn words(grounds: &[Ground]) -> Option<String> {
    let words: Vec<&str> = grounds.iter().map(|g| g.word()).collect();
    (!words.is_empty()).then(|| words.join(", "))
}

impl Fold<'_> {
    /// Notes what the joint is after the entries of an instant, where that is anything new.
    pub(super) fn note_states(&mut self, at: i64, walk: &mut Walk<'_>) {
        self.presence |= self.records.presence_at(at);
        let custody = self.custody_at(at);
        let last = self.custodies.last();
        if last.is_none_or(|l| CustodyRow { at: l.at, ..custody.clone() } != *l) {
            self.custodies.push(custody);
        }
        let mut state = self.state_at(at);
        // Hours of a stretch are no run's, and nothing of later adds them.
        let told = self.records.gaps.iter().filter(|g| g.hours.is_some()).count();
        let tells_hours = std::mem::replace(&mut self.hours_told, told) != told;
        if let Some(last) = self.states.last() {
            // The sums of runs change without any entry; they begin no state.
            (state.at, state.runs, state.last_run) = (last.at, last.runs, last.last_run);
            (state.run_presence, state.totals) = (last.run_presence, last.totals.clone());
            if state == *last && !tells_hours {
                return;
            }
        }
        let life = walk.up_to(self, at);
        self.states.push(JointStateRow {
            at,
            runs: life.runs,
            last_run: life.last_run,
            run_presence: life.presence,
            totals: life.totals.encode(),
            ..state
        });
    }

    fn custody_at(&self, at: i64) -> CustodyRow {
        let c = &self.custody;
        let (string, hire) = (c.string.known(), c.hire.known());
        CustodyRow {
            joint: self.input.joint,
            at,
            serial: self.serial.to_string(),
            location: c.location.known().cloned().flatten(),
            in_string: string.map(Option::is_some),
            string: string.cloned().flatten(),
            status: self.status(),
            on_hire: hire.map(Option::is_some),
            hire: hire.cloned().flatten(),
            moved: c.moved.known().copied().flatten(),
        }
    }

    /// The state without sums of runs.
    fn state_at(&self, at: i64) -> JointStateRow {
        use ReadingKind as R;
        let c = &self.condition;
        let dims = dims_at(self.input.dims, at);
        let end = |what, end| c.reading(what, Some(end));
        let failure = self.failed.map(|(_, what)| what);
        let open = self.records.findings.iter().filter(|f| f.open).count();
        let gaps = &self.records.gaps;
        let grounds = self.grounds();
        JointStateRow {
            joint: self.input.joint,
            at,
            length: dims.and_then(|d| d.length),
            pin_removed: dims.map_or(Some(0), |d| d.pin_removed),
            hardband_alloy: c.hardband_alloy.clone(),
            coating: c.coating.clone(),
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
            out: c.out_reason.is_some() || failure.is_some(),
            out_reason: c.out_reason.clone().or_else(|| failure.map(|what| what.to_string())),
            fit: answer(grounds.iter().copied()),
            unfit_because: words(&grounds),
            not_measured: c.class.not_measured.clone(),
            wall: c.wall_share(),
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
            hardband_height: c.hardband_height(),
            paint: c.paint.clone(),
            inspected: c.inspected,
            open_findings: i64::try_from(open).unwrap_or(i64::MAX),
            presence: self.presence | if open > 0 { presence::of_open_finding() } else { 0 },
            pin_generation: self.ends.pin.generation,
            box_generation: self.ends.box_.generation,
            failed_on: self.failed.map(|(at, _)| at),
            failure,
            life_complete: gaps.is_empty(),
            unknown_until: gaps.iter().map(|g| g.until).max(),
            runs: 0,
            last_run: None,
            run_presence: 0,
            totals: Vec::new(),
        }
    }
}
