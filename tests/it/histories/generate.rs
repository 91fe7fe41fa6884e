//! Steps into entries: each site's book writes its own, and knows of the others what was sent.

use std::collections::BTreeMap;

use pipelore::condition::Edition;
use pipelore::model::{
    Activity, Adopted, AdoptionBody, Body, CheckBody, CheckKind, Class, Component, DecisionBody,
    Draft, End, EntryId, EventBody, EventKind, FailureBody, FailureKind, FindingLine, GapBody,
    HireInBody, HireOutBody, IdentityBody, InspectionBody, JointRef, MakeupBody, MakeupPattern,
    Method, Moment, MoveBody, NoteBody, OpeningBody, PartLine, Place, Qty, Reading, ReadingKind,
    RepairBody, Ruling, RunBody, RunGrade, Scope, Segment, Serial, SetKind, Stated, StationLine,
    Status, StrikeBody, SurveyBody, Swap, TallyLine, Vocabulary, Work,
};
use pipelore::projection::adoptions;
use pipelore::store::{AppendOptions, Book, BundleIn, BundleOut, Sites, StoreError};
use pipelore::units::Measure;

use super::op::{Op, Pick, Step};
use crate::world::{World, joint, qty};

/// Sites and their books.
pub struct Authors {
    pub world: World,
    pub books: Vec<Book>,
    joints: Vec<JointRef>,
    runs: Vec<EntryId>,
    surveys: Vec<EntryId>,
    entries: Vec<EntryId>,
    /// Facts that a book refused to write because they are wrong by themselves.
    pub refused: Vec<String>,
    sent: usize,
}

const NAMES: [&str; 3] = ["yard", "rig_14", "office"];
const WELLS: [&str; 2] = ["Larkfield 1H", "Larkfield 2"];
const TAGS: [&str; 2] = ["TG-07", "MB-1"];

fn pick<T: Clone>(from: &[T], at: Pick) -> Option<T> {
    if from.is_empty() { None } else { from.get(usize::from(at) % from.len()).cloned() }
}

fn moment(step: &Step, days_later: u16) -> Moment {
    let day = chrono::NaiveDate::from_ymd_opt(2025, 1, 1).unwrap()
        + chrono::Days::new(u64::from(step.day + days_later));
    match step.minute {
        None => Moment::Day(day),
        Some(m) => {
            let t = day.and_hms_opt(u32::from(m / 60), u32::from(m % 60), 0).unwrap();
            format!("{}+01:00", t.format("%Y-%m-%dT%H:%M:%S")).parse().unwrap()
        }
    }
}

impl Authors {
    pub fn new(sites: u8) -> Self {
        let world = World::new();
        let books = NAMES
            .iter()
            .take(usize::from(sites))
            .map(|n| world.book_of(&format!("{n}.pipelore"), n))
            .collect();
        Self {
            world,
            books,
            joints: Vec::new(),
            runs: Vec::new(),
            surveys: Vec::new(),
            entries: Vec::new(),
            refused: Vec::new(),
            sent: 0,
        }
    }

    /// Takes a step: the site of it that writes, after what it wrote.
    pub fn take(&mut self, step: &Step) -> usize {
        let site = usize::from(step.site) % self.books.len();
        if let Op::Send { to, all } = &step.op {
            let to = usize::from(*to) % self.books.len();
            if to != site {
                self.send(site, to, *all);
            }
            return to;
        }
        let Some(body) = self.body(step) else { return site };
        let effective = match &step.op {
            Op::Run { days, .. } => moment(step, u16::from(*days)),
            _ => moment(step, 0),
        };
        let serial = match &body {
            Body::Joint(b) => Some(b.serial.clone()),
            _ => None,
        };
        let (is_run, is_survey) = (matches!(body, Body::Run(_)), matches!(body, Body::Survey(_)));
        let draft = Draft { effective, evidence: None, body };
        let options = AppendOptions { keep_conflicts: true, dry_run: false };
        let stamp = self.world.stamp();
        match self.books[site].append(&[draft], &stamp, &options) {
            Ok(done) => {
                let id = done.entries[0].clone();
                self.joints.extend(serial.map(|serial| JointRef { serial, joint: id.clone() }));
                if is_run {
                    self.runs.push(id.clone());
                }
                if is_survey {
                    self.surveys.push(id.clone());
                }
                self.entries.push(id);
            }
            Err(e @ (StoreError::Fold { .. } | StoreError::Entry(_))) => {
                self.refused.push(format!("{:?}: {e}", step.op));
            }
            Err(e) => panic!("{:?}: {e}", step.op),
        }
        site
    }

    /// Sends what a site has to another. Nothing that was written anywhere may be refused.
    pub fn send(&mut self, from: usize, to: usize, all: bool) {
        self.sent += 1;
        let name = format!("{}.jsonl", self.sent);
        let sites = if all { Sites::All } else { Sites::Own };
        let what = BundleOut { sites, ..BundleOut::default() };
        let path = self.world.path(&name);
        self.books[from].bundle_out(&path, &what, &self.world.stamp()).unwrap();
        let stamp = self.world.stamp();
        let taken = self.books[to].bundle_in(&path, &BundleIn::default(), &stamp);
        taken.unwrap_or_else(|e| panic!("{} refused a bundle of {}: {e}", NAMES[to], NAMES[from]));
    }

    /// Sends everything everywhere, until every book has what the sites wrote.
    pub fn send_everything(&mut self) {
        for from in 0..self.books.len() {
            for to in (0..self.books.len()).filter(|t| *t != from) {
                self.send(from, to, false);
            }
        }
    }

    fn joints(&self, picks: &[Pick]) -> Option<Vec<JointRef>> {
        let mut out: Vec<JointRef> = Vec::new();
        for p in picks {
            let j = pick(&self.joints, *p)?;
            if !out.contains(&j) {
                out.push(j);
            }
        }
        Some(out)
    }

    fn body(&self, step: &Step) -> Option<Body> {
        let later = |days: u16| moment(step, days);
        Some(match &step.op {
            Op::Send { .. } => return None,
            Op::Joint { new } => {
                // Makers repeat serials now and then.
                let serial = format!("K1-{:04}", self.joints.len() * 9 / 10);
                joint(&serial, *new)
            }
            Op::Opening { joint, known } => {
                Body::Opening(opening(pick(&self.joints, *joint)?, *known))
            }
            Op::Remark { joint, serial } => Body::Identity(IdentityBody::Remark {
                joint: pick(&self.joints, *joint)?,
                serial: new_serial(*serial),
                reason: None,
            }),
            Op::Alias { joint, serial } => Body::Identity(IdentityBody::Alias {
                joint: pick(&self.joints, *joint)?,
                serial: new_serial(*serial),
                reason: None,
            }),
            Op::Merge { keep, gone } => {
                let (joint, same) = (pick(&self.joints, *keep)?, pick(&self.joints, *gone)?);
                if joint == same {
                    return None;
                }
                Body::Identity(IdentityBody::Merge { joint, same, reason: None })
            }
            Op::Split { joint, other, entries } => {
                let (joint, other) = (pick(&self.joints, *joint)?, pick(&self.joints, *other)?);
                let entries: Vec<EntryId> =
                    entries.iter().filter_map(|e| pick(&self.entries, *e)).collect();
                let own = [&joint.joint, &other.joint];
                if joint == other || entries.iter().any(|e| own.contains(&e)) {
                    return None;
                }
                Body::Identity(IdentityBody::Split { joint, other, entries, reason: None })
            }
            Op::Move { joints, what } => Body::Move(MoveBody {
                joints: self.joints(joints)?,
                location: (what.is_multiple_of(2)).then(|| format!("Place {}", what % 5)),
                string: match what % 3 {
                    0 => Some("-".to_owned()),
                    1 => Some(format!("K{}", what % 4)),
                    _ => None,
                },
                status: (what.is_multiple_of(4))
                    .then(|| Status::ALL[usize::from(*what) / 4 % Status::ALL.len()]),
                remark: None,
            }),
            Op::HireOut { joints, name } => Body::HireOut(HireOutBody {
                hire: format!("H{}", name % 3),
                party: "Brackwater Drilling".to_owned(),
                contract: None,
                location: (name.is_multiple_of(2)).then(|| "Rig 14".to_owned()),
                joints: self.joints(joints)?,
                condition: None,
                remark: None,
            }),
            Op::HireIn { joints, name } => Body::HireIn(HireInBody {
                hire: format!("H{}", name % 3),
                location: (name.is_multiple_of(2)).then(|| "Harrow Yard".to_owned()),
                joints: self.joints(joints)?,
                remark: None,
            }),
            Op::Gap { joints, days } => Body::Gap(GapBody {
                joints: self.joints(joints)?,
                until: days.filter(|d| d % 6 > 0).map(|d| later(u16::from(d % 20))),
                // Told when it was over.
                since: days.filter(|d| d % 6 == 0).map(|d| {
                    let day = step.day.saturating_sub(u16::from(d % 20));
                    moment(&Step { day, minute: None, ..step.clone() }, 0)
                }),
                // Somebody else ran them, and tells their hours alone.
                hours: days
                    .filter(|d| d % 3 == 0)
                    .and_then(|d| qty(&format!("{d} h"), Measure::Hours)),
                run: None,
                reason: None,
            }),
            Op::Survey { well, build } => Body::Survey(survey(pick(&WELLS, *well)?, *build)),
            Op::Run { well, joints, shape, .. } => {
                Body::Run(Box::new(self.run(step, pick(&WELLS, *well)?, joints, *shape)?))
            }
            Op::Inspection { joint, wall, shape } => {
                Body::Inspection(Box::new(inspect(pick(&self.joints, *joint)?, *wall, *shape)))
            }
            Op::Repair { joint, work, box_end, removed } => {
                let work = Work::ALL[usize::from(*work) % Work::ALL.len()];
                let cut = *removed && matches!(work, Work::Recut | Work::CutBack);
                Body::Repair(Box::new(RepairBody {
                    joint: pick(&self.joints, *joint)?,
                    work,
                    end: Some(if *box_end { End::Box } else { End::Pin })
                        .filter(|_| !matches!(work, Work::Coat | Work::Straighten)),
                    shop: None,
                    licence: None,
                    ticket: None,
                    removed: if cut { qty("25 mm", Measure::JointLength) } else { None },
                    results: Vec::new(),
                    clears: if *removed { vec!["gall".to_owned()] } else { Vec::new() },
                    material: (work == Work::Hardband).then(|| "alloy X".to_owned()),
                    remark: None,
                }))
            }
            Op::Makeup { pin, box_, torque, run } => {
                let (pin, box_) = (pick(&self.joints, *pin)?, pick(&self.joints, *box_)?);
                let mut body = makeup();
                body.torque = qty(&format!("{} kN.m", 20 + torque % 20), Measure::Torque);
                body.target = qty("30 kN.m", Measure::Torque);
                body.instrument = pick(&TAGS, *torque).map(str::to_owned);
                body.run = run.and_then(|r| pick(&self.runs, r));
                body.times = Some(u32::from(torque % 3) + 1);
                body.box_ = (pin != box_).then_some(box_);
                body.pin = Some(pin);
                Body::Makeup(Box::new(body))
            }
            Op::Trips { run, trips } => {
                let mut body = makeup();
                body.run = Some(pick(&self.runs, *run)?);
                body.pattern = Some(MakeupPattern {
                    trips: u32::from(*trips),
                    stand: 2 + u32::from(trips % 2),
                    offset: Some(u32::from(trips % 3)),
                    rotate: Some(u32::from(trips % 2)),
                    saver: Some(1),
                    picked_up: trips.is_multiple_of(2),
                });
                Body::Makeup(Box::new(body))
            }
            Op::EventOf { joints, what } => Body::Event(event(*what, self.joints(joints)?, None)),
            Op::EventIn { run, what } => {
                Body::Event(event(*what, Vec::new(), Some(pick(&self.runs, *run)?)))
            }
            Op::Failure { joint, run } => Body::Failure(Box::new(FailureBody {
                joint: pick(&self.joints, *joint)?,
                what: FailureKind::Washout,
                place: Some(Place::SlipArea),
                end: None,
                at: qty("1.2 m", Measure::JointLength),
                run: run.and_then(|r| pick(&self.runs, r)),
                well: Some(WELLS[0].to_owned()),
                depth: None,
                operation: None,
                torque: None,
                pull: None,
                found: None,
                mechanism: None,
                report: None,
                remark: None,
            })),
            Op::Check { tag, passed } => Body::Check(CheckBody {
                tag: pick(&TAGS, *tag)?.to_owned(),
                how: CheckKind::Tandem,
                reference: None,
                reading: None,
                against: None,
                passed: *passed,
                certificate: None,
                valid_until: None,
                remark: None,
            }),
            Op::Decide { joints, ruling } => Body::Decision(DecisionBody {
                joints: self.joints(joints)?,
                ruling: match ruling % 6 {
                    0 => Ruling::Class { class: Class::Class2, end: None },
                    1 => Ruling::Class { class: Class::Premium, end: Some(End::Pin) },
                    2 => Ruling::Quarantine,
                    3 => Ruling::Release,
                    4 => Ruling::Retire,
                    _ => Ruling::Waive { what: "wall".to_owned() },
                },
                reason: "said so".to_owned(),
                authority: None,
                until: (ruling.is_multiple_of(2)).then(|| later(30)),
            }),
            Op::Settle { stands, falls } => {
                let (stands, falls) = (pick(&self.entries, *stands)?, pick(&self.entries, *falls)?);
                if stands == falls {
                    return None;
                }
                Body::Decision(DecisionBody {
                    joints: Vec::new(),
                    ruling: Ruling::Settle { stands: vec![stands], falls: vec![falls] },
                    reason: "looked it up".to_owned(),
                    authority: None,
                    until: None,
                })
            }
            Op::Adopt { what } => Body::Adoption(adoption(*what)),
            Op::Note { joint } => Body::Note(NoteBody {
                joints: pick(&self.joints, *joint).into_iter().collect(),
                about: pick(&self.entries, *joint),
                text: "seen".to_owned(),
            }),
            Op::Strike { entry } => Body::Strike(StrikeBody {
                entry: pick(&self.entries, *entry)?,
                reason: "mistaken".to_owned(),
                instead: Vec::new(),
                // Of another site's entry it is in force with a decision alone.
                decision: entry.is_multiple_of(2).then(|| "ours to decide".to_owned()),
            }),
        })
    }

    fn run(&self, step: &Step, well: &str, joints: &[Pick], shape: Pick) -> Option<RunBody> {
        let joints = self.joints(joints)?;
        let line = |j: &JointRef| TallyLine {
            joint: Some(j.clone()),
            part: None,
            length: if shape.is_multiple_of(5) { qty("9.5 m", Measure::JointLength) } else { None },
            count: None,
        };
        let collar = TallyLine {
            joint: None,
            part: Some(PartLine {
                component: Component::DrillCollar,
                name: None,
                od: qty("6 1/2 in", Measure::Diameter),
                id: qty("2 13/16 in", Measure::Diameter),
                wall: None,
                weight: qty("136 kg/m", Measure::LinearMass),
                tj_od: None,
                connection: None,
                stress_ratio: None,
            }),
            length: qty("9.4 m", Measure::JointLength),
            count: Some(2),
        };
        let mut tally = vec![collar.clone()];
        tally.extend(joints.iter().map(line));
        let swaps = if shape.is_multiple_of(7) && joints.len() > 1 {
            let mut other = vec![collar];
            other.extend(joints.iter().skip(1).map(line));
            vec![Swap { at: moment(step, 1), tally: other }]
        } else {
            Vec::new()
        };
        let hour = 3_600_000;
        let segments = (0..3)
            .map(|i| Segment {
                activity: if i == 1 { Activity::ReamingUp } else { Activity::RotatingOnBottom },
                start_ms: i * 6 * hour,
                duration_ms: 5 * hour,
                bit_from_mm: 350_000 + i * 10_000,
                bit_to_mm: 360_000 + i * 10_000,
                milli_turns: 5 * 60 * 120 * 1000,
                wob_n: Some(40_000),
                torque_nm: None,
                hookload_n: None,
            })
            .collect();
        let summary = shape % 4 == 1;
        Some(RunBody {
            name: format!("R{}", self.runs.len() + 1),
            well: well.to_owned(),
            survey: if shape.is_multiple_of(6) { pick(&self.surveys, shape) } else { None },
            rig: None,
            string: None,
            start: moment(step, 0),
            grade: match shape % 4 {
                1 => RunGrade::Summary,
                2 => RunGrade::Estimated,
                _ => RunGrade::Logged,
            },
            tally,
            swaps,
            segments: if summary { Vec::new() } else { segments },
            log: None,
            hours: if summary { qty("15 h", Measure::Hours) } else { None },
            rotary_speed: if summary { qty("120 rpm", Measure::RotarySpeed) } else { None },
            depth_in: if summary { qty("350 m", Measure::Depth) } else { None },
            depth_out: if summary { qty("380 m", Measure::Depth) } else { None },
            mud_weight: qty("1200 kg/m3", Measure::Density),
            mud_weight_inside: None,
            environment: None,
            sour: shape.is_multiple_of(3).then_some(shape.is_multiple_of(9)),
            casing_depth: if shape.is_multiple_of(2) { qty("250 m", Measure::Depth) } else { None },
            riser_depth: None,
            hole_diameter: qty("8 1/2 in", Measure::Diameter),
            hole: Vec::new(),
            friction: None,
            block_weight: None,
            temperature: None,
            protectors: None,
            equipment: if shape.is_multiple_of(3) { vec![TAGS[1].to_owned()] } else { Vec::new() },
            remark: None,
        })
    }
}

fn new_serial(pick: Pick) -> Serial {
    Serial::parse(&format!("M{}", pick % 8)).unwrap()
}

fn opening(joint: JointRef, known: bool) -> OpeningBody {
    let stated = |text: &str, measure| {
        let q = Qty::parse(text, measure).unwrap();
        Some(if known { Stated::Known(q) } else { Stated::Estimated(q) })
    };
    OpeningBody {
        joint,
        hours: stated("310 h", Measure::Hours),
        revolutions: None,
        footage: stated("1200 m", Measure::Depth),
        damage: None,
        pin_makeups: stated("14", Measure::Count),
        box_makeups: None,
        stated_by: None,
        remark: None,
    }
}

fn survey(well: &str, build: Pick) -> SurveyBody {
    let rate = f64::from(build % 5) * 2.0;
    let mut stations = vec![("0".to_owned(), 0.0), ("200".to_owned(), 0.0)];
    stations.extend((1..=4).map(|i| ((200 + i * 30).to_string(), rate * f64::from(i))));
    stations.push(("500".to_owned(), rate * 4.0));
    SurveyBody {
        well: well.to_owned(),
        depth_unit: "m".to_owned(),
        angle_unit: "deg".to_owned(),
        north: None,
        tool: None,
        stations: stations
            .into_iter()
            .map(|(md, inc)| StationLine(md, inc.to_string(), "90".to_owned()))
            .collect(),
        published: Vec::new(),
        remark: None,
    }
}

fn inspect(joint: JointRef, wall: Pick, shape: Pick) -> InspectionBody {
    let reading = |what, end, text: &str, measure| Reading {
        what,
        end,
        value: Qty::parse(text, measure).unwrap(),
        at: None,
        position: None,
        instrument: None,
    };
    let mut readings = vec![reading(
        ReadingKind::Wall,
        None,
        &format!("0.{} in", 250 + u32::from(wall) % 110),
        Measure::Wall,
    )];
    if shape.is_multiple_of(2) {
        readings.push(reading(ReadingKind::JointOd, Some(End::Box), "6.500 in", Measure::Diameter));
    }
    if shape.is_multiple_of(5) {
        readings.push(reading(ReadingKind::Length, None, "9.40 m", Measure::JointLength));
    }
    let finding = FindingLine {
        what: "gall".to_owned(),
        place: Some(Place::Threads),
        end: Some(End::Pin),
        size: None,
        share: None,
        transverse: None,
        at: None,
        remark: None,
    };
    InspectionBody {
        joint,
        methods: vec![Method::UltrasonicWall],
        covers: if shape.is_multiple_of(3) {
            vec![Scope::Wall, Scope::Pin]
        } else {
            vec![Scope::Wall]
        },
        standard: None,
        firm: None,
        inspector: None,
        report: None,
        instrument: pick(&TAGS, shape).map(str::to_owned),
        readings,
        findings: if shape.is_multiple_of(3) { vec![finding] } else { Vec::new() },
        declared: (shape.is_multiple_of(4)).then_some(Class::Premium),
        declared_tube: None,
        declared_pin: None,
        declared_box: None,
        paint: (shape.is_multiple_of(7)).then(|| "one white band".to_owned()),
        location: None,
        remark: None,
    }
}

fn makeup() -> MakeupBody {
    MakeupBody {
        pin: None,
        box_: None,
        mate: None,
        pattern: None,
        run: None,
        torque: None,
        target: None,
        breakout: None,
        compound: None,
        friction_factor: None,
        instrument: None,
        times: None,
        crew: None,
        remark: None,
    }
}

fn event(what: Pick, joints: Vec<JointRef>, run: Option<EntryId>) -> EventBody {
    EventBody {
        what: EventKind::ALL[usize::from(what) % EventKind::ALL.len()],
        joints,
        run,
        pull: None,
        torque: None,
        count: None,
        depth: None,
        concentration: None,
        duration: None,
        remark: None,
    }
}

fn adoption(what: Pick) -> AdoptionBody {
    let first = |kind| Edition::first().set(kind).unwrap();
    let (what, name, text) = match what % 5 {
        0 => (Adopted::Fatigue, "ours", "mean_stress = \"none\"\n".to_owned()),
        1 => (Adopted::Fatigue, "gerber", "mean_stress = \"gerber\"\n".to_owned()),
        2 => (Adopted::Rules, "house", "name = \"house\"\n".to_owned()),
        3 => {
            let [shipped, own] =
                ["80", "90"].map(|n| format!("wear_wall,drill_pipe;pup,premium,>=,{n},"));
            let text = first(SetKind::Limits).replace(&shipped, &own);
            assert_ne!(text, first(SetKind::Limits));
            (Adopted::Limits, "stricter", text)
        }
        _ => {
            let method = "mean_stress = \"none\"\n".into();
            let sets = BTreeMap::from([(SetKind::Fatigue, method)]);
            (Adopted::Edition, "next", Edition::new("next", sets).text().to_owned())
        }
    };
    adoptions::body(what, name, &text, None)
}
