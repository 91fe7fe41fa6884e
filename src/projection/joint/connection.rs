//! The two ends: generations and make-ups.

use std::collections::BTreeSet;

use crate::condition::{
    self, Disposition, Found, RepairHistory, RepairInput, RepairIssue, Severity,
};
use crate::model::{
    End, Instant, MakeupBody, MakeupPattern, Place, Qty, RepairBody, TorqueVerdict, Vocabulary,
    Work,
};
use crate::units::Measure;

use super::super::facts::Placed;
use super::fold::Fold;
use crate::schema::{FindingRow, MakeupRow, RepairRow};

/// One end as of the entry last taken.
#[derive(Clone, Copy, Debug)]
pub(super) struct EndState {
    /// 1 for the end that the joint entered with; a recut or a new tool joint starts the next.
    pub generation: i64,
    /// When the generation began.
    pub begun: i64,
}

impl Default for EndState {
    fn default() -> Self {
        Self { generation: 1, begun: i64::MIN }
    }
}

/// Both ends.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Ends {
    pub pin: EndState,
    pub box_: EndState,
}

impl Ends {
    pub(super) const fn of(&self, end: End) -> &EndState {
        match end {
            End::Pin => &self.pin,
            End::Box => &self.box_,
        }
    }

    pub(super) const fn of_mut(&mut self, end: End) -> &mut EndState {
        match end {
            End::Pin => &mut self.pin,
            End::Box => &mut self.box_,
        }
    }
}

/// How often the box of a place was made up in a pattern of trips.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
struct Made {
    /// To the pin above it, or, of the topmost place, to what hangs the string.
    above: i64,
    /// To the saver sub, as the top of a stand: no pin of the string takes part.
    saver: i64,
}

/// How often the connection above a place was made up in a pattern of trips.
///
/// Connections are counted by the joint below them: the connection of place `p` joins its box to
/// the pin of place `p + 1`. In each trip the box below a connection that breaks is the top of a
/// stand.
fn times_made(pattern: &MakeupPattern, place: i64, joints: i64) -> Made {
    if place < 1 || place > joints || pattern.stand == 0 {
        return Made::default();
    }
    let stand = i64::from(pattern.stand);
    let offset = i64::from(pattern.offset.unwrap_or(0));
    let rotate = i64::from(pattern.rotate.unwrap_or(0));
    let breaks = |trip: i64| {
        let moved = if rotate > 0 { (trip / rotate) % stand } else { 0 };
        (place - offset - moved).rem_euclid(stand) == 0
    };
    let trips = i64::from(pattern.trips);
    let broken = i64::try_from((0..trips).filter(|t| breaks(*t)).count()).unwrap_or(i64::MAX);
    Made {
        above: broken + i64::from(pattern.picked_up),
        saver: broken * i64::from(pattern.saver.unwrap_or(0)),
    }
}

impl Fold<'_> {
    pub(super) fn made_up(&mut self, body: &MakeupBody, placed: &Placed) {
        let joint = self.input.joint;
        let run = self.position(body.run.as_ref());
        if let Some(pattern) = &body.pattern {
            let Some(own_run) = self.input.runs.iter().find(|r| Some(r.run) == run) else { return };
            let joints = self.input.run_rows.get(&own_run.run).map_or(0, |r| r.joints);
            let own = times_made(pattern, own_run.position, joints);
            let below = times_made(pattern, own_run.position - 1, joints).above
                + i64::from(own_run.position == 1 && pattern.picked_up);
            for (end, times) in [(End::Pin, below), (End::Box, own.above + own.saver)] {
                if times > 0 {
                    self.push_makeup(body, placed, end, times, None, run);
                }
            }
            return;
        }
        let is_me = |r: &Option<crate::model::JointRef>| {
            r.as_ref().and_then(|r| self.input.positions.get(&r.joint)) == Some(&joint)
        };
        let (pin, box_) = (is_me(&body.pin), is_me(&body.box_));
        let place_of = |r: &Option<crate::model::JointRef>| {
            r.as_ref().and_then(|r| self.input.positions.get(&r.joint)).copied()
        };
        let (pin_joint, box_joint) = (place_of(&body.pin), place_of(&body.box_));
        let times = i64::from(body.times.unwrap_or(1));
        if pin {
            self.push_makeup(body, placed, End::Pin, times, box_joint, run);
        }
        if box_ {
            self.push_makeup(body, placed, End::Box, times, pin_joint, run);
        }
    }

    fn push_makeup(
        &mut self,
        body: &MakeupBody,
        placed: &Placed,
        end: End,
        times: i64,
        mate: Option<i64>,
        run: Option<i64>,
    ) {
        let get = |q: &Option<Qty>, m| q.as_ref().and_then(|q| q.stored(m));
        let at = placed.at();
        let torque = get(&body.torque, Measure::Torque);
        let target = self.target_torque(body, end);
        let doubtful =
            body.instrument.as_deref().is_some_and(|tag| self.input.book.doubtful(tag, at));
        self.records.makeups.push(MakeupRow {
            joint: self.input.joint,
            date: at.0,
            turn: self.turn,
            entry: placed.position,
            end,
            generation: self.ends.of(end).generation,
            times,
            torque,
            target_torque: target,
            stated_target: get(&body.target, Measure::Torque),
            breakout_torque: get(&body.breakout, Measure::Torque),
            verdict: verdict(torque, target),
            gauge: body.instrument.clone(),
            instrument_doubtful: doubtful,
            compound: body.compound.clone(),
            friction_factor: get(&body.friction_factor, Measure::Factor),
            mate_joint: mate,
            mate: body.mate.clone(),
            run,
            pattern_run: run.filter(|_| body.pattern.is_some()),
        });
    }

    pub(super) fn repaired(&mut self, body: &RepairBody, placed: &Placed) {
        let at = placed.at().0;
        if let Some(end) = body.end
            && self.renews(body.work, placed.at())
        {
            let state = self.ends.of_mut(end);
            state.generation += 1;
            state.begun = at;
        }
        self.note_refacing(body, placed);
        self.mend(body, placed);
        self.records.repairs.push(RepairRow {
            joint: self.input.joint,
            date: at,
            turn: self.turn,
            entry: placed.position,
            work: body.work,
            end: body.end,
            shop: body.shop.clone(),
            ticket: body.ticket.clone(),
            removed: body.removed.as_ref().and_then(|q| q.stored(Measure::JointLength)),
            length_after: super::dims_at(self.input.dims, at).and_then(|d| d.length),
            generation: body.end.map(|e| self.ends.of(e).generation),
        });
    }
}

impl Fold<'_> {
    /// Whether work starts a new generation of the end it was done on.
    fn renews(&self, work: Work, at: Instant) -> bool {
        let works = &self.input.book.standards_at(at).works;
        works.effect(work).is_some_and(|e| e.new_generation)
    }

    /// A refacing that goes past what any source allows leaves its mark on the joint: a finding
    /// that only a cut clears.
    fn note_refacing(&mut self, body: &RepairBody, placed: &Placed) {
        let (Work::Reface, Some(end)) = (body.work, body.end) else { return };
        let at = placed.at();
        let removed = body.removed.as_ref().and_then(|q| q.stored(Measure::JointLength));
        let (Some(before), Some(removed)) = (self.refaced(end), removed) else { return };
        let total = before.saturating_add(removed);
        let subject = self.subject(None, None, at);
        let repair = RepairInput {
            component: subject.component,
            nominal: subject.nominal,
            work: Work::Reface,
            end: Some(end),
            removed: Some(removed),
            results: Vec::new(),
            shop: None,
            licence: None,
            clears: Vec::new(),
            inspected: BTreeSet::new(),
        };
        let history = RepairHistory { refaced: Some(before), ..RepairHistory::default() };
        let standards = self.input.book.standards_at(at);
        let too_much = condition::check_repair(&repair, &history, standards).iter().any(|i| {
            matches!(i, RepairIssue::TooMuchInAll { .. }) && i.severity() == Severity::Refuse
        });
        if !too_much {
            return;
        }
        let found = Found {
            place: Some(Place::Shoulder),
            end: Some(end),
            size: Some(total),
            ..Found::new("refaced_too_much")
        };
        let row = FindingRow {
            joint: self.input.joint,
            date: at.0,
            turn: self.turn,
            entry: placed.position,
            n: 1,
            what: "refaced_too_much".to_owned(),
            place: Some(Place::Shoulder),
            end: Some(end),
            generation: Some(self.ends.of(end).generation),
            size: Some(total),
            share: None,
            transverse: None,
            from_pin: None,
            disposition: Some(Disposition::Shop.word().to_owned()),
            open: true,
            cleared_by: None,
        };
        self.note_finding(row, found);
    }
}

/// Part of the target below which a make-up is under-torqued (common practice).
const UNDER: (i64, i64) = (95, 100);
/// Part of the target above which a make-up is over-torqued (common practice).
const OVER: (i64, i64) = (110, 100);

/// How a torque stands to its target. Under 95 % or over 110 % of it is off target (common
/// practice: ±5 % scatter of the rig's equipment, and the 10 % above the minimum that collar
/// tables allow). Not known where the torque or what is asked for is not.
fn verdict(torque: Option<i64>, target: Option<i64>) -> Option<TorqueVerdict> {
    let (torque, target) = (i128::from(torque?), i128::from(target.filter(|t| *t > 0)?));
    Some(if torque * i128::from(UNDER.1) < target * i128::from(UNDER.0) {
        TorqueVerdict::Under
    } else if torque * i128::from(OVER.1) > target * i128::from(OVER.0) {
        TorqueVerdict::Over
    } else {
        TorqueVerdict::OnTarget
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stands_of_three_break_every_third_connection() {
        let pattern = MakeupPattern {
            trips: 2,
            stand: 3,
            offset: Some(0),
            rotate: None,
            saver: None,
            picked_up: false,
        };
        let times: Vec<i64> = (1..=7).map(|p| times_made(&pattern, p, 7).above).collect();
        assert_eq!(times, [0, 0, 2, 0, 0, 2, 0]);
    }

    #[test]
    fn breaks_that_move_up_visit_every_connection() {
        let pattern = MakeupPattern {
            trips: 6,
            stand: 3,
            offset: None,
            rotate: Some(1),
            saver: Some(4),
            picked_up: true,
        };
        let of = |place| times_made(&pattern, place, 6);
        // picked up once and broken in two of six trips, each time the top of a stand
        assert!((1..=6).all(|place| of(place) == Made { above: 3, saver: 8 }));
        assert_eq!([of(0), of(7)], [Made::default(); 2]);
    }

    #[test]
    fn torque_is_judged_against_its_target() {
        assert_eq!(verdict(Some(94), Some(100)), Some(TorqueVerdict::Under));
        assert_eq!(verdict(Some(95), Some(100)), Some(TorqueVerdict::OnTarget));
        assert_eq!(verdict(Some(110), Some(100)), Some(TorqueVerdict::OnTarget));
        assert_eq!(verdict(Some(111), Some(100)), Some(TorqueVerdict::Over));
        assert_eq!(verdict(Some(1), None), None);
        assert_eq!(verdict(None, Some(100)), None);
    }
}
