//! What was read and found on a joint, and the class that follows.

use std::collections::BTreeMap;

use crate::model::{
    Class, DecisionBody, End, InspectionBody, JointBody, MakeupBody, Qty, Reading, ReadingKind,
    RepairBody, Ruling, Scope, Status, Vocabulary, Work,
};
use crate::units::Measure;

use super::super::dims::{Nominal, reading_nm};
use super::super::facts::Placed;
use super::super::rows::{DecisionRow, FindingRow, InspectionRow};
use super::Fold;
use super::connection::renews;

/// A reading in force.
#[derive(Clone, Copy, Debug)]
struct Latest {
    nm: i64,
    at: i64,
}

/// The class in force and what it rests on.
#[derive(Clone, Debug, Default)]
pub(super) struct ClassState {
    pub overall: Option<Class>,
    pub tube: Option<Class>,
    pub pin: Option<Class>,
    pub box_: Option<Class>,
    pub entry: Option<i64>,
    pub criterion: Option<String>,
    pub disposition: Option<String>,
    pub not_measured: Option<String>,
}

/// Condition as of the entry last taken.
#[derive(Clone, Debug)]
pub(super) struct Condition {
    readings: BTreeMap<(ReadingKind, Option<End>), Latest>,
    pub class: ClassState,
    pub declared: Option<Class>,
    pub restriction: Option<String>,
    pub out_reason: Option<String>,
    pub hardband: Option<String>,
    pub hardband_alloy: Option<String>,
    pub paint: Option<String>,
    pub inspected: Option<i64>,
}

impl Condition {
    pub(super) fn entering(body: &JointBody, _nominal: &Nominal) -> Self {
        Self {
            readings: BTreeMap::new(),
            class: ClassState::default(),
            declared: None,
            restriction: None,
            out_reason: None,
            hardband: None,
            hardband_alloy: body.hardband.clone(),
            paint: None,
            inspected: None,
        }
    }

    pub(super) fn reading(&self, what: ReadingKind, end: Option<End>) -> Option<i64> {
        self.readings.get(&(what, end)).map(|l| l.nm)
    }

    pub(super) fn read_at(&self, what: ReadingKind, end: Option<End>) -> Option<i64> {
        self.readings.get(&(what, end)).map(|l| l.at)
    }

    /// The latest wall as a part of the nominal one, in quanta of a ratio.
    pub(super) fn wall_ratio(&self, nominal: &Nominal) -> Option<i64> {
        wall_ratio(self.reading(ReadingKind::Wall, None)?, nominal.wall?)
    }

    /// True when an inspector's class differs from the computed one.
    pub(super) fn disputed(&self) -> bool {
        matches!((self.declared, self.class.overall), (Some(d), Some(c)) if d != c)
    }

    fn take(&mut self, readings: &[Reading], at: i64, nominal: &Nominal) {
        for reading in readings {
            if let Some(nm) = reading_nm(reading, nominal) {
                self.readings.insert((reading.what, reading.end), Latest { nm, at });
            }
        }
    }
}

fn wall_ratio(wall: i64, nominal: i64) -> Option<i64> {
    if nominal <= 0 {
        return None;
    }
    let scaled = i128::from(wall) * i128::from(Measure::Ratio.quanta_per_base());
    i64::try_from(scaled.div_euclid(i128::from(nominal))).ok()
}

impl Fold<'_> {
    pub(super) fn inspected(&mut self, body: &InspectionBody, placed: &Placed) {
        let at = placed.at();
        let class_before = self.condition.class.overall;
        self.condition.take(&body.readings, at.0, &self.nominal);
        self.condition.inspected = Some(at.0);
        if body.paint.is_some() {
            self.condition.paint.clone_from(&body.paint);
        }
        self.condition.declared = body.declared.or(self.condition.declared);
        for (finding, n) in body.findings.iter().zip(1i64..) {
            let generation = finding.end.map(|e| self.ends.of(e).generation);
            let get = |q: &Option<Qty>, m| q.as_ref().and_then(|q| q.stored(m));
            self.records.findings.push(FindingRow {
                joint: self.input.joint,
                at: at.0,
                entry: placed.position,
                n,
                what: finding.what.clone(),
                place: finding.place,
                end: finding.end,
                generation,
                size: get(&finding.size, Measure::Wall),
                share: get(&finding.share, Measure::Ratio),
                transverse: finding.transverse,
                from_pin: get(&finding.at, Measure::JointLength),
                disposition: None,
                open: true,
                cleared_by: None,
            });
        }
        self.classify(placed.position);
        let one = |what, end| {
            body.readings
                .iter()
                .filter(|r| r.what == what && r.end == end)
                .filter_map(|r| reading_nm(r, &self.nominal))
                .min()
        };
        let (pin, box_) = (Some(End::Pin), Some(End::Box));
        use ReadingKind as R;
        let wall = one(R::Wall, None);
        let doubtful = body
            .instrument
            .iter()
            .chain(body.readings.iter().filter_map(|r| r.instrument.as_ref()))
            .any(|tag| self.input.book.doubtful(tag, at));
        let row = InspectionRow {
            joint: self.input.joint,
            at: at.0,
            entry: placed.position,
            covers: body.covers.iter().fold(0, |set, s: &Scope| set | 1 << s.rank()),
            methods: body.methods.iter().fold(0, |set, m| set | 1 << m.rank()),
            standard: body.standard.clone(),
            firm: body.firm.clone(),
            inspector: body.inspector.clone(),
            report: body.report.clone(),
            instrument: body.instrument.clone(),
            doubtful,
            class_before,
            class: self.condition.class.overall,
            tube_class: self.condition.class.tube,
            pin_class: self.condition.class.pin,
            box_class: self.condition.class.box_,
            criterion: self.condition.class.criterion.clone(),
            disposition: self.condition.class.disposition.clone(),
            declared: body.declared,
            not_measured: self.condition.class.not_measured.clone(),
            limits: None,
            wall: wall.zip(self.nominal.wall).and_then(|(w, n)| wall_ratio(w, n)),
            wall_thickness: wall,
            body_od: one(R::BodyOd, None),
            body_od_max: one(R::BodyOdMax, None),
            slip_od: one(R::SlipOd, None),
            pin_od: one(R::JointOd, pin),
            pin_id: one(R::JointId, pin),
            pin_shoulder: one(R::Shoulder, pin),
            pin_stretch: one(R::Stretch, pin),
            pin_neck: one(R::PinNeck, pin),
            pin_tong: one(R::TongSpace, pin),
            pin_bevel: one(R::Bevel, pin),
            pin_benchmark: one(R::Benchmark, pin),
            box_od: one(R::JointOd, box_),
            box_shoulder: one(R::Shoulder, box_),
            box_counterbore: one(R::Counterbore, box_),
            box_counterbore_depth: one(R::CounterboreDepth, box_),
            box_tong: one(R::TongSpace, box_),
            box_bevel: one(R::Bevel, box_),
            box_benchmark: one(R::Benchmark, box_),
            hardband_height: one(R::HardbandHeight, None),
            centre_upset: one(R::CentreUpset, None),
            bow: one(R::Bow, None),
            findings: i64::try_from(body.findings.len()).unwrap_or(i64::MAX),
            paint: body.paint.clone(),
        };
        self.records.inspections.push(row);
    }

    fn classify(&mut self, entry: i64) {
        let ratio = self.condition.wall_ratio(&self.nominal);
        let tube = ratio.map(|r| match r {
            800_000_000.. => Class::Premium,
            700_000_000.. => Class::Class2,
            _ => Class::Class3,
        });
        self.condition.class.tube = tube;
        self.condition.class.overall = tube;
        self.condition.class.entry = Some(entry);
    }

    /// What a repair changes in the condition.
    pub(super) fn mend(&mut self, body: &RepairBody, placed: &Placed) {
        let at = placed.at().0;
        if let Some(end) = body.end
            && renews(body.work)
        {
            self.condition.readings.retain(|(_, e), _| *e != Some(end));
            self.clear(placed.position, |f| f.end == Some(end));
        }
        let cleared: Vec<String> = body.clears.iter().map(|w| crate::model::fold(w)).collect();
        self.clear(placed.position, |f| {
            cleared.contains(&f.what)
                && (body.end.is_none() || f.end.is_none() || f.end == body.end)
        });
        if body.work == Work::Hardband {
            self.condition.hardband_alloy =
                body.material.clone().or(self.condition.hardband_alloy.take());
        }
        self.condition.take(&body.results, at, &self.nominal);
    }

    fn clear(&mut self, by: i64, which: impl Fn(&FindingRow) -> bool) {
        for f in self.records.findings.iter_mut().filter(|f| f.open && which(f)) {
            f.open = false;
            f.cleared_by = Some(by);
        }
    }

    pub(super) fn decided(&mut self, body: &DecisionBody, placed: &Placed) {
        let offset = placed.entry.recorded.offset_minutes;
        let (ruling, class, end) = match &body.ruling {
            Ruling::Class { class, end } => {
                self.condition.class.overall = Some(*class);
                self.condition.class.entry = Some(placed.position);
                ("class", Some(*class), *end)
            }
            Ruling::Quarantine => {
                self.custody.status = Status::Quarantine;
                ("quarantine", None, None)
            }
            Ruling::Release => {
                self.custody.status =
                    if self.custody.hire.is_some() { Status::OnHire } else { Status::InStock };
                ("release", None, None)
            }
            Ruling::Retire => {
                self.custody.status = Status::Retired;
                ("retire", None, None)
            }
            Ruling::Settle { .. } => ("settle", None, None),
            Ruling::Waive { .. } => ("waive", None, None),
        };
        self.records.decisions.push(DecisionRow {
            joint: self.input.joint,
            at: placed.at().0,
            entry: placed.position,
            ruling: ruling.to_owned(),
            class,
            end,
            until: body.until.map(|u| u.end(offset).0),
            authority: body.authority.clone(),
            reason: body.reason.clone(),
        });
    }

    /// Make-up torque that the connection's dimensions of the day ask for.
    pub(super) fn target_torque(&self, body: &MakeupBody, _end: End, _at: i64) -> Option<i64> {
        let _ = self.nominal;
        body.target.as_ref().and_then(|q| q.stored(Measure::Torque))
    }
}
