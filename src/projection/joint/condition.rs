//! What was read and found on a joint, and the class that follows.

use std::collections::BTreeMap;

use crate::condition::{
    self, Catalogue, Disposition, Found, Kept, Measured, Previous, Restriction, RunFacts, Subject,
    Verdict,
};
use crate::model::{
    Class, DecisionBody, End, InspectionBody, Instant, JointBody, MakeupBody, Qty, Reading,
    ReadingKind, RepairBody, Ruling, Scope, Status, Vocabulary, Work, fold,
};
use crate::units::Measure;

use super::super::connection::{self, EndDimensions};
use super::super::dims::{Nominal, reading_nm};
use super::super::facts::Placed;
use super::super::rows::{DecisionRow, FindingRow, InspectionRow};
use super::Fold;
use super::appraisal::ClassEvent;

/// A reading in force.
#[derive(Clone, Copy, Debug)]
struct Latest {
    nm: i64,
    at: i64,
    doubtful: bool,
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
    /// The set of limits that judged.
    pub limits: Option<String>,
}

/// Condition as of the entry last taken.
#[derive(Clone, Debug)]
pub(super) struct Condition {
    readings: BTreeMap<(ReadingKind, Option<End>), Latest>,
    scopes: BTreeMap<Scope, i64>,
    pub(super) previous: Previous,
    pub(super) repairs: Vec<(Work, Option<End>)>,
    pub(super) restrictions: Vec<Restriction>,
    /// Every step of the class so far.
    pub(super) steps: Vec<ClassEvent>,
    /// Restrictions carried from an instant on.
    carried: Vec<(i64, Vec<Restriction>)>,
    pub class: ClassState,
    pub declared: Option<Class>,
    disputed: bool,
    pub out_reason: Option<String>,
    pub hardband: Option<String>,
    pub hardband_alloy: Option<String>,
    pub paint: Option<String>,
    pub inspected: Option<i64>,
}

impl Condition {
    pub(super) fn entering(body: &JointBody) -> Self {
        Self {
            readings: BTreeMap::new(),
            scopes: BTreeMap::new(),
            previous: Previous::default(),
            repairs: Vec::new(),
            restrictions: Vec::new(),
            steps: Vec::new(),
            carried: Vec::new(),
            class: ClassState::default(),
            declared: None,
            disputed: false,
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

    /// True when the latest class of an inspector differs from the computed one.
    pub(super) const fn disputed(&self) -> bool {
        self.disputed
    }

    /// Restrictions carried, as words.
    pub(super) fn restriction(&self) -> Option<String> {
        let words: Vec<&str> = self.restrictions.iter().map(|r| r.word()).collect();
        (!words.is_empty()).then(|| words.join(", "))
    }

    /// Whether a run broke a restriction that the joint carried when it began.
    pub(super) fn broken_by(&self, start: i64, run: RunFacts) -> bool {
        let n = self.carried.partition_point(|(at, _)| *at <= start);
        let carried = n.checked_sub(1).and_then(|i| self.carried.get(i));
        carried.is_some_and(|(_, list)| list.iter().any(|r| r.kept_by(run) == Kept::No))
    }

    fn take(&mut self, readings: &[Reading], at: i64, nominal: &Nominal, doubtful: bool) {
        // Of several readings of one kind the least counts, but for those where more is worse.
        let mut fresh: BTreeMap<(ReadingKind, Option<End>), i64> = BTreeMap::new();
        for reading in readings {
            let Some(nm) = reading_nm(reading, nominal) else { continue };
            let worst = fresh.entry((reading.what, reading.end)).or_insert(nm);
            *worst =
                if worse_when_more(reading.what) { (*worst).max(nm) } else { (*worst).min(nm) };
        }
        for (key, nm) in fresh {
            self.readings.insert(key, Latest { nm, at, doubtful });
        }
    }
}

/// Readings of which the larger is the worse.
const fn worse_when_more(what: ReadingKind) -> bool {
    matches!(
        what,
        ReadingKind::BodyOdMax
            | ReadingKind::JointId
            | ReadingKind::Counterbore
            | ReadingKind::Stretch
            | ReadingKind::PinNeck
            | ReadingKind::ProfileGap
            | ReadingKind::Bow
            | ReadingKind::FlawDepth
    )
}

fn wall_ratio(wall: i64, nominal: i64) -> Option<i64> {
    if nominal <= 0 {
        return None;
    }
    let scaled = i128::from(wall) * i128::from(Measure::Ratio.quanta_per_base());
    i64::try_from(scaled.div_euclid(i128::from(nominal))).ok()
}

/// Words of a list, with commas; nothing for an empty one.
fn listed(words: &[String]) -> Option<String> {
    (!words.is_empty()).then(|| words.join(", "))
}

impl Fold<'_> {
    pub(super) fn inspected(&mut self, body: &InspectionBody, placed: &Placed) {
        let at = placed.at();
        let doubtful = body
            .instrument
            .iter()
            .chain(body.readings.iter().filter_map(|r| r.instrument.as_ref()))
            .any(|tag| self.input.book.doubtful(tag, at));
        let class_before = self.condition.class.overall;
        if body.paint.is_some() {
            self.condition.paint.clone_from(&body.paint);
        }
        let verdict = self.judge(Some(body), at, placed.position);
        self.condition.inspected = Some(at.0);
        self.note_findings(body, placed, &verdict);
        self.note_hardband(body, &verdict);
        if body.declared.is_some() {
            self.condition.declared = body.declared;
        }
        self.condition.disputed = body.declared.is_some()
            && condition::agreement(body.declared, verdict.overall).disputed();
        for scope in &verdict.covered {
            self.condition.scopes.insert(*scope, at.0);
        }
        self.condition.take(&body.readings, at.0, &self.nominal, doubtful);
        let row = self.inspection_row(body, placed, &verdict, class_before, doubtful);
        self.records.inspections.push(row);
    }

    /// Judges the joint as it stands: with what an inspection brought, or without one after a
    /// repair.
    fn judge(&mut self, body: Option<&InspectionBody>, at: Instant, entry: i64) -> Verdict {
        let limits = self.input.book.limits_at(at);
        let subject = self.subject(body, at);
        let verdict = condition::assess(&subject, limits, Catalogue::shipped());
        let c = &mut self.condition;
        let step = condition::class_after(&c.previous, &verdict, &c.repairs, None);
        c.steps.push(ClassEvent::of_verdict(at, entry, c.class.overall, &step, &verdict));
        let works: Vec<Work> = c.repairs.iter().map(|r| r.0).collect();
        c.restrictions = condition::restrictions_after(&c.restrictions, &verdict, &works);
        c.carried.push((at.0, c.restrictions.clone()));
        c.previous = Previous::of(step.class, &verdict);
        c.repairs.clear();
        let part = |p: Option<condition::PartVerdict>, before: Option<Class>| match p {
            Some(p) => match p.standing {
                condition::Standing::Class(c) => Some(c),
                condition::Standing::Rejected => None,
                _ => before,
            },
            None => before,
        };
        c.class = ClassState {
            overall: step.class,
            tube: part(verdict.tube, c.class.tube),
            pin: part(verdict.pin, c.class.pin),
            box_: part(verdict.box_, c.class.box_),
            entry: Some(entry),
            criterion: verdict.criterion_word(),
            disposition: Some(verdict.disposition.word().to_owned()),
            not_measured: listed(&verdict.not_measured()),
            limits: Some(verdict.limits.clone()),
        };
        let out = !verdict.may_run() && verdict.disposition > Disposition::Downgrade;
        c.out_reason = out.then(|| {
            let why = verdict.criterion_word().unwrap_or_default();
            format!("{}: {}", verdict.disposition, why.replace('_', " "))
        });
        verdict
    }

    pub(super) fn subject(&self, body: Option<&InspectionBody>, at: Instant) -> Subject {
        let catalogue = Catalogue::shipped();
        let mut subject = Subject::of_joint(self.body);
        let pin = self.body.connection.as_deref();
        let box_ = self.body.box_connection.as_deref().or(pin);
        subject.nominal.pin.limits = connection::limits(self.body, &self.nominal, pin);
        subject.nominal.box_.limits = connection::limits(self.body, &self.nominal, box_);
        subject.class_before = self.condition.class.overall;
        if let Some(body) = body {
            let doubt = |tag: Option<&String>| tag.is_some_and(|t| self.input.book.doubtful(t, at));
            subject.methods.extend(&body.methods);
            subject.stated.extend(&body.covers);
            subject.readings.extend(body.readings.iter().filter_map(|reading| {
                let mut m = Measured::read(reading).ok()?;
                m.doubtful = doubt(reading.instrument.as_ref().or(body.instrument.as_ref()));
                Some(m)
            }));
            // What cannot be placed or measured is found all the same: the word alone, or a
            // strange word, holds the joint. It is never dropped.
            subject.findings.extend(
                body.findings
                    .iter()
                    .map(|f| Found::read(f, catalogue).unwrap_or_else(|_| Found::new(&f.what))),
            );
        }
        // What is still open from before is found again until something clears it.
        let open = self.records.findings.iter().filter(|f| f.open);
        subject.findings.extend(open.map(|f| Found {
            what: f.what.clone(),
            place: f.place,
            end: f.end,
            size: f.size,
            share: f.share,
            transverse: f.transverse,
            at: f.from_pin,
        }));
        let age = |since: i64| at.0.saturating_sub(since).max(0);
        subject.earlier.readings = self
            .condition
            .readings
            .iter()
            .map(|((what, end), latest)| {
                let measured = Measured {
                    what: *what,
                    end: *end,
                    amount: condition::Amount::Length(latest.nm),
                    at: None,
                    doubtful: latest.doubtful,
                };
                (measured, age(latest.at))
            })
            .collect();
        subject.earlier.scopes =
            self.condition.scopes.iter().map(|(s, since)| (*s, age(*since))).collect();
        subject
    }

    fn note_findings(&mut self, body: &InspectionBody, placed: &Placed, verdict: &Verdict) {
        let catalogue = Catalogue::shipped();
        let get = |q: &Option<Qty>, m| q.as_ref().and_then(|q| q.stored(m));
        for (finding, n) in body.findings.iter().zip(1i64..) {
            let known = catalogue.at(&finding.what, finding.place, finding.end).ok();
            let word = known.map_or_else(|| fold(&finding.what), |f| f.word.clone());
            let judged = verdict.findings.iter().find(|f| f.word == word);
            // A statement that nothing was seen is no finding to be cleared.
            let open = word != "no_crack";
            self.records.findings.push(FindingRow {
                joint: self.input.joint,
                at: placed.at().0,
                entry: placed.position,
                n,
                what: word,
                place: finding.place,
                end: finding.end,
                generation: finding.end.map(|e| self.ends.of(e).generation),
                size: get(&finding.size, Measure::Wall),
                share: get(&finding.share, Measure::Ratio),
                transverse: finding.transverse,
                from_pin: get(&finding.at, Measure::JointLength),
                disposition: judged.map(|f| f.disposition.word().to_owned()),
                open,
                cleared_by: None,
            });
        }
    }

    /// State of the hardband: what was found on it, or sound where it was looked at and nothing
    /// was.
    fn note_hardband(&mut self, body: &InspectionBody, verdict: &Verdict) {
        let found = body.findings.iter().find_map(|f| {
            let known = Catalogue::shipped().at(&f.what, f.place, f.end).ok()?;
            known.word.strip_prefix("hardband_").map(str::to_owned)
        });
        if found.is_some() {
            self.condition.hardband = found;
        } else if verdict.covered.contains(&Scope::Hardband) {
            self.condition.hardband = Some("sound".to_owned());
        }
    }

    fn inspection_row(
        &self,
        body: &InspectionBody,
        placed: &Placed,
        verdict: &Verdict,
        class_before: Option<Class>,
        doubtful: bool,
    ) -> InspectionRow {
        use ReadingKind as R;
        let one = |what, end| {
            let values = body
                .readings
                .iter()
                .filter(|r| r.what == what && r.end == end)
                .filter_map(|r| reading_nm(r, &self.nominal));
            if worse_when_more(what) { values.max() } else { values.min() }
        };
        let (pin, box_) = (Some(End::Pin), Some(End::Box));
        let wall = one(R::Wall, None);
        let class = &self.condition.class;
        InspectionRow {
            joint: self.input.joint,
            at: placed.at().0,
            entry: placed.position,
            covers: verdict.covered.iter().fold(0, |set, s| set | 1 << s.rank()),
            methods: body.methods.iter().fold(0, |set, m| set | 1 << m.rank()),
            standard: body.standard.clone(),
            firm: body.firm.clone(),
            inspector: body.inspector.clone(),
            report: body.report.clone(),
            instrument: body.instrument.clone(),
            doubtful,
            class_before,
            class: class.overall,
            tube_class: class.tube,
            pin_class: class.pin,
            box_class: class.box_,
            criterion: class.criterion.clone(),
            disposition: class.disposition.clone(),
            declared: body.declared,
            not_measured: class.not_measured.clone(),
            limits: class.limits.clone(),
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
            hardband_height: one(R::HardbandHeight, None).or(one(R::HardbandHeight, box_)),
            centre_upset: one(R::CentreUpset, None),
            bow: one(R::Bow, None),
            findings: i64::try_from(body.findings.len()).unwrap_or(i64::MAX),
            paint: body.paint.clone(),
        }
    }

    /// What a repair changes in the condition.
    pub(super) fn mend(&mut self, body: &RepairBody, placed: &Placed) {
        let at = placed.at();
        let effect = condition::work_effect(body.work);
        if let Some(effect) = effect {
            let voids = &effect.voids;
            self.condition.readings.retain(|(what, end), _| {
                !(voids.contains(what) && (*end == body.end || end.is_none() && body.end.is_none()))
            });
            if effect.new_generation {
                let end = body.end;
                self.clear(placed.position, |f| f.end.is_some() && f.end == end);
            }
        }
        let catalogue = Catalogue::shipped();
        let named: Vec<String> = body
            .clears
            .iter()
            .map(|w| catalogue.at(w, None, body.end).map_or_else(|_| fold(w), |f| f.word.clone()))
            .collect();
        let work = body.work;
        let (end, said) = (body.end, !named.is_empty());
        self.clear(placed.position, |f| {
            let same_end = end.is_none() || f.end.is_none() || f.end == end;
            let can = condition::can_clear(work, &f.what, catalogue) == Some(true);
            same_end && if said { named.contains(&f.what) } else { can }
        });
        if body.work == Work::Hardband {
            self.condition.hardband = Some("new".to_owned());
            self.condition.hardband_alloy =
                body.material.clone().or(self.condition.hardband_alloy.take());
        }
        self.condition.repairs.push((body.work, body.end));
        self.condition.take(&body.results, at.0, &self.nominal, false);
        if self.condition.inspected.is_some() {
            self.judge(None, at, placed.position);
        }
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
                let state = &mut self.condition.class;
                match end {
                    Some(End::Pin) => state.pin = Some(*class),
                    Some(End::Box) => state.box_ = Some(*class),
                    None => {
                        let event = ClassEvent::of_decision(
                            placed.at(),
                            placed.position,
                            state.overall,
                            *class,
                            self.condition.out_reason.is_some(),
                        );
                        self.condition.steps.push(event);
                        state.overall = Some(*class);
                        state.entry = Some(placed.position);
                        state.criterion = Some("decision".to_owned());
                        self.condition.previous =
                            Previous { class: Some(*class), ..Previous::default() };
                        self.condition.out_reason =
                            (*class == Class::Scrap).then(|| "decided to be scrap".to_owned());
                    }
                }
                ("class", Some(*class), *end)
            }
            Ruling::Quarantine => {
                self.custody.status = Status::Quarantine;
                self.custody.barred = Some((placed.position, "hired out while in quarantine"));
                ("quarantine", None, None)
            }
            Ruling::Release => {
                self.custody.status =
                    if self.custody.hire.is_some() { Status::OnHire } else { Status::InStock };
                self.condition.out_reason = None;
                self.custody.barred = None;
                ("release", None, None)
            }
            Ruling::Retire => {
                self.custody.status = Status::Retired;
                self.custody.barred = Some((placed.position, "hired out after it was retired"));
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

    /// Make-up torque that the connection's dimensions of the day ask for; the stated target where
    /// nobody rates the connection here.
    pub(super) fn target_torque(&self, body: &MakeupBody, end: End) -> Option<i64> {
        let c = &self.condition;
        let name = match end {
            End::Pin => self.body.connection.as_deref(),
            End::Box => self.body.box_connection.as_deref().or(self.body.connection.as_deref()),
        };
        let nominal_od = self.nominal.tj_od.or(self.nominal.od);
        let nominal_id = self.nominal.tj_id.or_else(|| {
            let (od, wall) = (self.nominal.od?, self.nominal.wall?);
            Some(od - 2 * wall)
        });
        let dimensions = EndDimensions {
            od: c.reading(ReadingKind::JointOd, Some(end)).or(nominal_od),
            id: c.reading(ReadingKind::JointId, Some(End::Pin)).or(nominal_id),
            counterbore: match end {
                End::Box => c.reading(ReadingKind::Counterbore, Some(End::Box)),
                End::Pin => None,
            },
        };
        let factor = body.friction_factor.as_ref().and_then(|q| q.base(Measure::Factor));
        let computed = connection::makeup_torque(
            self.body.component,
            name,
            &dimensions,
            factor.unwrap_or(1.0),
        );
        computed.or_else(|| body.target.as_ref().and_then(|q| q.stored(Measure::Torque)))
    }
}
