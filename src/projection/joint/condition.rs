//! What was read and found on a joint, and the class that follows.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use crate::condition::{
    self, BelowFloor, Disposition, FollowUp, Found, Ground, Looked, Measured, Previous,
    Restriction, RunFacts, Stands, Subject, UnknownLife, Unlikely, Verdict,
};
use crate::model::{
    Body, Class, DecisionBody, End, InspectionBody, Instant, JointBody, MakeupBody, Qty, Reading,
    ReadingKind, RepairBody, Ruling, Scope, Status, Vocabulary, Work, fold,
};
use crate::units::Measure;

use super::super::connection::{self, EndDimensions};
use super::super::facts::Placed;
use super::super::notches::Clearing;
use super::super::readings::{Readings, kind_of, voids};
use super::fold::Fold;
use super::history::ClassEvent;
use crate::schema::{DecisionRow, FindingRow, InspectionRow};

/// What a conflict of two inspections of one day is called, before what they read.
pub const READ_APART: &str = "read differently on one day";

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

/// The inspections of one day. They count as one, in whichever order they were entered: each is
/// judged with what the others brought, on top of what stood before the day.
#[derive(Clone, Debug)]
struct InspectionDay {
    day: NaiveDate,
    inspections: Vec<Looked>,
    /// What each of them read.
    read: Vec<(Placed, Readings)>,
    /// Worst class that an inspector gave.
    declared: Option<Class>,
    /// How many findings were on record before.
    findings: usize,
    before: BeforeTheDay,
}

/// What stood before a day of inspections.
#[derive(Clone, Debug)]
struct BeforeTheDay {
    previous: Previous,
    repairs: Vec<(Work, Option<End>)>,
    restrictions: Vec<Restriction>,
    class: ClassState,
    scopes: BTreeMap<Scope, i64>,
    verdict: Option<Box<Verdict>>,
}

/// Condition as of the entry last taken.
#[derive(Clone, Debug)]
pub(super) struct Condition {
    readings: Readings,
    scopes: BTreeMap<Scope, i64>,
    /// What was judged of each finding of the records.
    found: Vec<Found>,
    /// The day of the latest inspection, as long as no work and no decision has come since.
    today: Option<InspectionDay>,
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
    /// The last verdict, and what was below the floor then.
    verdict: Option<Box<Verdict>>,
    below: Vec<BelowFloor>,
    /// Readings in force that earlier ones contradict.
    pub unlikely: Vec<(NaiveDate, Unlikely)>,
    /// Work after which nobody looked yet.
    pub(super) follow_ups: Vec<FollowUp>,
    /// The decision by which Class 3 runs, as long as nothing was looked at since.
    pub owners_word: bool,
    pub hardband: Option<String>,
    pub hardband_alloy: Option<String>,
    pub coating: Option<String>,
    pub paint: Option<String>,
    pub inspected: Option<i64>,
}

impl Condition {
    pub(super) fn entering(body: &JointBody) -> Self {
        Self {
            readings: Readings::default(),
            scopes: BTreeMap::new(),
            found: Vec::new(),
            today: None,
            previous: Previous::default(),
            repairs: Vec::new(),
            restrictions: Vec::new(),
            steps: Vec::new(),
            carried: Vec::new(),
            class: ClassState::default(),
            declared: None,
            disputed: false,
            out_reason: None,
            verdict: None,
            below: Vec::new(),
            unlikely: Vec::new(),
            follow_ups: Vec::new(),
            owners_word: false,
            hardband: None,
            hardband_alloy: body.hardband.clone(),
            coating: body.coating.clone(),
            paint: None,
            inspected: None,
        }
    }

    pub(super) fn reading(&self, what: ReadingKind, end: Option<End>) -> Option<i64> {
        self.readings.worst(what, end)
    }

    pub(super) fn read_at(&self, what: ReadingKind, end: Option<End>) -> Option<i64> {
        self.readings.read_at(what, end)
    }

    /// The latest wall as a part of the nominal one, in quanta of a ratio.
    pub(super) fn wall_share(&self) -> Option<i64> {
        self.readings.worst_share(ReadingKind::Wall, None)
    }

    pub(super) fn hardband_height(&self) -> Option<i64> {
        self.readings.hardband_height()
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

    /// Whether a run broke a restriction that the joint carried when it began; `None` where the
    /// book does not say.
    pub(super) fn broken_by(&self, start: i64, run: RunFacts) -> Option<bool> {
        let n = self.carried.partition_point(|(at, _)| *at <= start);
        let carried = n.checked_sub(1).and_then(|i| self.carried.get(i));
        carried.map_or(Some(false), |(_, list)| Restriction::broken(list, run))
    }

    /// Takes in which readings of an inspection of a day earlier ones contradict. What it read again
    /// is in doubt no longer; what the day itself flagged stays, whichever of its readings comes first.
    pub(super) fn flag(&mut self, body: &InspectionBody, day: NaiveDate, unlikely: &[Unlikely]) {
        let read = |u: &Unlikely| body.readings.iter().any(|r| kind_of(r) == (u.what, u.end));
        self.unlikely.retain(|(flagged, u)| *flagged == day || !read(u));
        self.unlikely.extend(unlikely.iter().map(|u| (day, *u)));
        self.unlikely.sort_by_key(|(day, u)| (*day, u.what, u.end, u.read));
    }

    /// Adds an inspection to those of its day.
    pub(super) fn inspected_on(&mut self, day: NaiveDate, body: &InspectionBody) {
        let same_day = self.today.take().filter(|today| today.day == day);
        let mut today = match same_day {
            Some(today) => {
                self.previous = today.before.previous.clone();
                self.repairs.clone_from(&today.before.repairs);
                self.restrictions.clone_from(&today.before.restrictions);
                self.class = today.before.class.clone();
                today
            }
            None => InspectionDay {
                day,
                inspections: Vec::new(),
                read: Vec::new(),
                declared: None,
                findings: self.found.len(),
                before: BeforeTheDay {
                    previous: self.previous.clone(),
                    repairs: self.repairs.clone(),
                    restrictions: self.restrictions.clone(),
                    class: self.class.clone(),
                    scopes: self.scopes.clone(),
                    verdict: self.verdict.clone(),
                },
            },
        };
        today
            .inspections
            .push(Looked { methods: body.methods.clone(), stated: body.covers.clone() });
        today.declared = today.declared.max(body.declared);
        self.today = Some(today);
    }

    /// The last verdict before a day, whichever of the day's inspections is looked at.
    fn verdict_before(&self, day: NaiveDate) -> Option<&Verdict> {
        let today = self.today.as_ref().filter(|today| today.day == day);
        today.map_or(&self.verdict, |today| &today.before.verdict).as_deref()
    }

    /// Class that inspectors gave last.
    pub(super) fn declared(&self) -> Option<Class> {
        self.today.as_ref().and_then(|today| today.declared).or(self.declared)
    }

    /// State of the hardband: the worst that was found on it or is open from before, or sound where
    /// it was looked at and nothing is.
    fn note_hardband(&mut self, verdict: &Verdict) {
        let found = verdict
            .findings
            .iter()
            .filter_map(|f| f.word.strip_prefix("hardband_").map(|state| (f.disposition, state)));
        if let Some((_, state)) = found.max() {
            self.hardband = Some(state.to_owned());
        } else if verdict.covered.contains(&Scope::Hardband) {
            self.hardband = Some("sound".to_owned());
        }
    }

    /// The class that stands.
    pub(super) fn standing(&self) -> Option<Class> {
        self.steps.last().and_then(|step| step.after)
    }
}

/// Words of a list, with commas; nothing for an empty one.
fn listed(words: &[String]) -> Option<String> {
    (!words.is_empty()).then(|| words.join(", "))
}

/// An inspection with the readings that stand: where steel grew, what had been read before.
pub(super) fn stands_of(body: &InspectionBody, unlikely: &[Unlikely]) -> InspectionBody {
    let mut body = body.clone();
    for reading in &mut body.readings {
        let same = |u: &&Unlikely| (u.what, u.end) == kind_of(reading);
        if let Some(u) = unlikely.iter().find(same).filter(|u| u.came_back()) {
            reading.value = Qty::from_quanta(u.before, reading.what.spec().measure, "m");
        }
    }
    body
}

impl Fold<'_> {
    /// Readings of an inspection, made on a day at an instant, that earlier ones contradict.
    pub(super) fn unlikely(
        &self,
        body: &InspectionBody,
        day: NaiveDate,
        at: Instant,
    ) -> Vec<Unlikely> {
        // Where part of its life is not in the book, or nobody keeps its runs, something may have worn
        // it. What came after it was read did not.
        let gap = |since: Instant| self.records.gaps.iter().any(|g| g.until > since.0);
        let begun = || self.input.runs.iter().filter(|r| r.start <= at.0);
        let worn = |since: Instant| begun().any(|r| r.finish > since.0);
        let out = |since: Instant| {
            let hires = self.records.hires.iter();
            let at_home = hires.into_iter().all(|h| h.back.is_some_and(|back| back <= since.0));
            !at_home
        };
        let kept = begun().next().is_some();
        let unused = |since: Instant| kept && !gap(since) && !worn(since) && !out(since);
        let before = self.condition.verdict_before(day);
        let stopped = |what, end| before.is_some_and(|v| v.is_stopped_by(what, end));
        self.condition.readings.contradicted(&body.readings, day, &self.nominal, &unused, &stopped)
    }

    pub(super) fn inspected(&mut self, body: &InspectionBody, placed: &Placed) {
        let unlikely = self.unlikely(body, placed.day(), placed.at());
        let body = &stands_of(body, &unlikely);
        self.condition.flag(body, placed.day(), &unlikely);
        let at = placed.at();
        let in_doubt = |tag: &String| self.input.book.doubtful(tag, at);
        let doubtful =
            |r: &Reading| r.instrument.as_ref().or(body.instrument.as_ref()).is_some_and(in_doubt);
        let any_doubt =
            body.instrument.as_ref().is_some_and(in_doubt) || body.readings.iter().any(doubtful);
        let class_before = self.condition.standing();
        if body.paint.is_some() {
            self.condition.paint.clone_from(&body.paint);
        }
        self.condition.inspected_on(placed.day(), body);
        let verdict = self.judge(Some((body, placed.day())), at, placed.position);
        self.condition.inspected = Some(at.0);
        self.note_findings(body, placed, &verdict);
        self.condition.note_hardband(&verdict);
        let declared = self.condition.today.as_ref().and_then(|today| today.declared);
        self.condition.declared = declared.or(self.condition.declared);
        self.condition.disputed = condition::agreement(declared, verdict.overall).disputed();
        let capabilities = &self.input.book.standards_at(at).capabilities;
        let covered = capabilities.covers(self.body.component, &body.methods, &body.covers);
        for scope in &covered {
            self.condition.scopes.insert(*scope, at.0);
        }
        self.condition.follow_ups.retain(|f| !f.scopes.iter().any(|s| covered.contains(s)));
        let mut own = Readings::default();
        for readings in [&mut self.condition.readings, &mut own] {
            readings.take(placed, &body.readings, &self.nominal, &doubtful, any_doubt);
        }
        let row = self.inspection_row(body, placed, (&own, &covered), class_before, any_doubt);
        self.records.inspections.push(row);
        self.compare_with_the_day(body, placed, own);
    }

    /// Inspections of one day that read one thing further apart than instruments repeat cannot both
    /// be right. The worse reading stands.
    fn compare_with_the_day(&mut self, body: &InspectionBody, placed: &Placed, own: Readings) {
        let Some(today) = &mut self.condition.today else { return };
        let mut clashes = Vec::new();
        for (earlier, read) in &today.read {
            let Body::Inspection(other) = &earlier.entry.body else { continue };
            let apart = own.apart(&body.readings, read, &other.readings);
            if !apart.is_empty() {
                clashes.push((earlier.position, apart.join(", ")));
            }
        }
        today.read.push((placed.clone(), own));
        for (earlier, apart) in clashes {
            let what = format!("{READ_APART}: {apart}");
            self.clash(earlier, placed.position, &what);
        }
    }

    /// Judges the joint as it stands: with what an inspection of a day brought, or without one
    /// after a repair.
    fn judge(
        &mut self,
        seen: Option<(&InspectionBody, NaiveDate)>,
        at: Instant,
        entry: i64,
    ) -> Verdict {
        let standards = self.input.book.standards_at(at);
        let subject = self.subject(seen.map(|s| s.0), seen.map(|s| s.1), at);
        let verdict = condition::assess(&subject, standards);
        let c = &mut self.condition;
        c.below = condition::below_floor(&subject, &standards.findings);
        c.owners_word &= seen.is_none();
        let works = &standards.works;
        let step = condition::class_after(&c.previous, &verdict, &c.repairs, None, works);
        c.steps.push(ClassEvent::of_verdict(at, entry, c.standing(), &step, &verdict));
        let done: Vec<Work> = c.repairs.iter().map(|r| r.0).collect();
        c.restrictions = condition::restrictions_after(&c.restrictions, &verdict, &done, works);
        c.carried.push((at.0, c.restrictions.clone()));
        c.previous = Previous::of(step.class, &verdict);
        c.repairs.clear();
        let part = |p: Option<condition::PartVerdict>, before: Option<Class>| {
            p.map_or(before, |p| p.class_after(before))
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
        c.out_reason = out.then(|| match verdict.criterion_word() {
            Some(why) => format!("{}: {}", verdict.disposition, why.replace('_', " ")),
            None => verdict.disposition.to_string(),
        });
        c.verdict = Some(Box::new(verdict.clone()));
        verdict
    }

    /// What is judged: with what an inspection brings, and what the others of the day brought where
    /// it is one of that day.
    pub(super) fn subject(
        &self,
        body: Option<&InspectionBody>,
        day: Option<NaiveDate>,
        at: Instant,
    ) -> Subject {
        let c = &self.condition;
        let catalogue = &self.input.book.standards_at(at).findings;
        let mut subject = Subject::of_joint(self.body);
        let pin = self.body.connection.as_deref();
        let box_ = self.body.box_connection.as_deref().or(pin);
        subject.nominal.pin.limits = connection::limits(self.body, &self.nominal, pin);
        subject.nominal.box_.limits = connection::limits(self.body, &self.nominal, box_);
        subject.nominal.no_hardband = condition::has_no_hardband(c.hardband_alloy.as_deref());
        subject.class_before = c.class.overall;
        if let Some(body) = body {
            let doubt = |tag: Option<&String>| tag.is_some_and(|t| self.input.book.doubtful(t, at));
            subject.methods.clone_from(&body.methods);
            subject.stated.clone_from(&body.covers);
            subject.readings.extend(body.readings.iter().filter_map(|reading| {
                let mut m = Measured::read(reading).ok()?;
                m.doubtful = doubt(reading.instrument.as_ref().or(body.instrument.as_ref()));
                Some(m)
            }));
            subject.findings.extend(body.findings.iter().map(|f| Found::of(f, catalogue)));
        }
        let mut scopes = &c.scopes;
        if let (Some(day), Some(today)) = (day, &c.today) {
            subject.readings.extend(c.readings.of_day(day));
            // The last is this inspection itself.
            let others = today.inspections.split_last().map_or(&[][..], |(_, others)| others);
            subject.beside.extend_from_slice(others);
            scopes = &today.before.scopes;
        }
        // What is still open from before is found again until something clears it.
        let open = self.records.findings.iter().zip(&c.found).filter(|(row, _)| row.open);
        subject.findings.extend(open.map(|(_, found)| found.clone()));
        let age = |since: i64| at.0.saturating_sub(since).max(0);
        let earlier = c.readings.before(day).into_iter();
        subject.earlier.readings = earlier.map(|(m, since)| (m, age(since.0))).collect();
        subject.earlier.scopes = scopes.iter().map(|(s, since)| (*s, age(*since))).collect();
        subject
    }

    fn note_findings(&mut self, body: &InspectionBody, placed: &Placed, verdict: &Verdict) {
        let catalogue = &self.input.book.standards_at(placed.at()).findings;
        let get = |q: &Option<Qty>, m| q.as_ref().and_then(|q| q.stored(m));
        for (finding, n) in body.findings.iter().zip(1i64..) {
            let known = catalogue.at(&finding.what, finding.place, finding.end).ok();
            let word = known.map_or_else(|| fold(&finding.what), |f| f.word.clone());
            // A statement that nothing was seen is no finding to be cleared.
            let open = word != "no_crack";
            let row = FindingRow {
                joint: self.input.joint,
                date: placed.at().0,
                turn: self.turn,
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
                disposition: None,
                open,
                cleared_by: None,
            };
            self.note_finding(row, Found::of(finding, catalogue));
        }
        // What the day brings says what follows from every finding of the day.
        let earlier = self.condition.today.as_ref().map_or(0, |today| today.findings);
        let of_day = self.records.findings.iter_mut().zip(&self.condition.found).skip(earlier);
        for (row, found) in of_day {
            row.disposition = verdict.on(found).map(|f| f.disposition.word().to_owned());
        }
    }

    /// Keeps a finding with what is judged of it as long as it is open.
    pub(super) fn note_finding(&mut self, row: FindingRow, found: Found) {
        self.records.findings.push(row);
        self.condition.found.push(found);
    }

    fn inspection_row(
        &self,
        body: &InspectionBody,
        placed: &Placed,
        (readings, covered): (&Readings, &BTreeSet<Scope>),
        class_before: Option<Class>,
        doubtful: bool,
    ) -> InspectionRow {
        use ReadingKind as R;
        // Of what it read, the worst that was read on its day so far: the reading that stands.
        let in_force = &self.condition.readings;
        let one = |what, end| in_force.worst(what, end).filter(|_| readings.holds(what, end));
        let (pin, box_) = (Some(End::Pin), Some(End::Box));
        let class = &self.condition.class;
        InspectionRow {
            joint: self.input.joint,
            date: placed.at().0,
            turn: self.turn,
            entry: placed.position,
            covers: covered.iter().fold(0, |set, s| set | 1 << s.rank()),
            method: body.methods.iter().fold(0, |set, m| set | 1 << m.rank()),
            standard: body.standard.clone(),
            firm: body.firm.clone(),
            inspector: body.inspector.clone(),
            report: body.report.clone(),
            gauge: body.instrument.clone(),
            instrument_doubtful: doubtful,
            class_before,
            class: class.overall,
            tube_class: class.tube,
            pin_class: class.pin,
            box_class: class.box_,
            criterion: class.criterion.clone(),
            disposition: class.disposition.clone(),
            declared_class: body.declared,
            not_measured: class.not_measured.clone(),
            limits: class.limits.clone(),
            wall: in_force.worst_share(R::Wall, None).filter(|_| readings.holds(R::Wall, None)),
            wall_thickness: one(R::Wall, None),
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
            hardband_height: readings.hardband_height(),
            centre_upset: one(R::CentreUpset, None),
            bow: one(R::Bow, None),
            findings: i64::try_from(body.findings.len()).unwrap_or(i64::MAX),
            paint: body.paint.clone(),
        }
    }

    /// What a repair changes in the condition.
    pub(super) fn mend(&mut self, body: &RepairBody, placed: &Placed) {
        let standards = self.input.book.standards_at(placed.at());
        self.condition.today = None;
        self.condition.readings.forget(|what, end| voids(&standards.works, body, what, end));
        self.condition.unlikely.retain(|(_, u)| !voids(&standards.works, body, u.what, u.end));
        self.follow_up(body, placed);
        let clearing = Clearing::new(body, standards);
        self.clear(placed.position, |f| clearing.clears(&f.what, f.end));
        if body.work == Work::Hardband {
            self.condition.hardband = Some("new".to_owned());
            // A new band of an alloy that nobody stated covers the one that was known.
            self.condition.hardband_alloy.clone_from(&body.material);
        }
        if body.work == Work::Coat {
            self.condition.coating.clone_from(&body.material);
        }
        self.condition.repairs.push((body.work, body.end));
        self.condition.readings.take(placed, &body.results, &self.nominal, &|_| false, false);
        if self.condition.inspected.is_some() {
            self.judge(None, placed.at(), placed.position);
        }
    }

    /// Notes what is to be looked at after a repair. What was looked at on its day was looked at
    /// after it: facts of one day have no order.
    fn follow_up(&mut self, body: &RepairBody, placed: &Placed) {
        let works = &self.input.book.standards_at(placed.at()).works;
        let Some(effect) = works.effect(body.work) else { return };
        let day = placed.day();
        let looked = |scope: &Scope| {
            let last = self.condition.scopes.get(scope);
            last.is_some_and(|at| Instant(*at).day(self.clock) == day)
        };
        let open: Vec<FollowUp> = effect
            .looks_afterwards(body.end)
            .filter(|scopes| !scopes.iter().any(looked))
            .map(|scopes| FollowUp { work: body.work, end: body.end, scopes, day })
            .collect();
        self.condition.follow_ups.extend(open);
    }

    fn clear(&mut self, by: i64, which: impl Fn(&FindingRow) -> bool) {
        for f in self.records.findings.iter_mut().filter(|f| f.open && which(f)) {
            f.open = false;
            f.cleared_by = Some(by);
        }
    }

    pub(super) fn decided(&mut self, body: &DecisionBody, placed: &Placed) {
        self.condition.today = None;
        let (class, end) = match &body.ruling {
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
                        let reasoned = !body.reason.trim().is_empty();
                        self.condition.owners_word = *class == Class::Class3 && reasoned;
                        state.overall = Some(*class);
                        state.entry = Some(placed.position);
                        state.criterion = Some("decision".to_owned());
                        self.condition.previous =
                            Previous { class: Some(*class), ..Previous::default() };
                        self.condition.out_reason =
                            (*class == Class::Scrap).then(|| "decided to be scrap".to_owned());
                    }
                }
                (Some(*class), *end)
            }
            Ruling::Quarantine => {
                self.custody.status.set(Status::Quarantine, placed.position);
                self.custody.barred = Some((placed.position, "hired out while in quarantine"));
                (None, None)
            }
            Ruling::Release => {
                self.released();
                self.condition.out_reason = None;
                self.custody.barred = None;
                (None, None)
            }
            Ruling::Retire => {
                self.custody.status.set(Status::Retired, placed.position);
                self.custody.barred = Some((placed.position, "hired out after it was retired"));
                (None, None)
            }
            Ruling::Settle { .. } | Ruling::Waive { .. } => (None, None),
        };
        self.records.decisions.push(DecisionRow {
            joint: self.input.joint,
            date: placed.at().0,
            turn: self.turn,
            entry: placed.position,
            ruling: body.ruling.kind(),
            class,
            end,
            until: body.until.map(|u| u.end(placed.clock).0),
            authority: body.authority.clone(),
            reason: body.reason.clone(),
        });
    }

    /// Why the joint is not simply fit, as far as the record tells.
    pub(super) fn grounds(&self) -> Vec<Ground> {
        let c = &self.condition;
        condition::grounds(c.verdict.as_deref(), &self.stands(c.below.clone(), c.class.overall))
    }

    /// What stands about the joint beside a verdict that found this below the floor and left it in
    /// this class.
    pub(super) fn stands(&self, below: Vec<BelowFloor>, class: Option<Class>) -> Stands {
        let c = &self.condition;
        let bore = c.reading(ReadingKind::JointId, Some(End::Pin));
        Stands {
            failed: self.failed.map(|(_, what)| what),
            status: self.status(),
            conflicted: false,
            class,
            declared: c.declared,
            owners_word: c.owners_word,
            below,
            weak_pin: connection::weak_pin(self.body, &self.nominal, bore, class),
            unlikely: c.unlikely.iter().map(|(_, u)| *u).collect(),
            gaps: self.unknown_life(),
            never_searched: self.never_searched(),
            follow_ups: c.follow_ups.clone(),
            restrictions: c.restrictions.clone(),
        }
    }

    /// Where pipe that came used was never searched for cracks though every rule about use would want it:
    /// its slip area, in which it fails. What other components need says their table of needs.
    fn never_searched(&self) -> Vec<Scope> {
        let used = condition::has_classes(self.body.component) && !self.body.new;
        let searched = self.condition.scopes.contains_key(&Scope::SlipCracks);
        if used && !searched { vec![Scope::SlipCracks] } else { Vec::new() }
    }

    /// Stretches of its life of which nobody knows, after which something was not looked at again. What
    /// was looked at on the last day of one was looked at after it.
    fn unknown_life(&self) -> Vec<UnknownLife> {
        let day = |at: i64| Instant(at).day(self.clock);
        let mut out = Vec::new();
        for gap in &self.records.gaps {
            let Some(since) = gap.since else { continue };
            let until = (gap.until < i64::MAX).then(|| day(gap.until.saturating_sub(1)));
            let told = |scope: Scope| condition::is_crack_scope(scope) || scope == Scope::Wall;
            let scopes = self.condition.scopes.iter();
            let stale = scopes
                .filter(|(s, at)| told(**s) && until.is_none_or(|u| day(**at) < u))
                .map(|(s, _)| *s);
            let stale: Vec<Scope> = stale.collect();
            if !stale.is_empty() {
                out.push(UnknownLife { since: day(since), until, stale });
            }
        }
        out
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
