//! A small world for tests: a book in a folder of its own, joints, a bent hole, runs.

use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use pipelore::condition::{Edition, Standards};
use pipelore::model::{
    Activity, Body, Component, Draft, EntryId, InspectionBody, Instant, JointBody, JointRef,
    Method, Moment, PartLine, Qty, Reading, ReadingKind, Recorded, RunBody, RunGrade, Segment,
    Serial, SetKind, StationLine, SurveyBody, TallyLine,
};
use pipelore::policy::RuleSet;
use pipelore::store::{AppendOptions, Appended, Book, Stamp, Verified};
use pipelore::units::{Measure, UnitSystem};
use rusqlite::Connection;

/// The first thing that was found wrong with a book.
pub fn first_fault(verified: &Verified) -> Option<&str> {
    verified.checks.iter().find_map(|c| c.faults.first()).map(String::as_str)
}

/// Changes a book behind its back: without the triggers that guard the ledger, which stand again
/// afterwards.
pub fn unguarded(path: &Path, change: impl FnOnce(&Connection)) {
    let conn = Connection::open(path).unwrap();
    let triggers: Vec<(String, String)> = conn
        .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |r| Ok((r.get(0)?, r.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    triggers.iter().for_each(|t| conn.execute_batch(&format!("DROP TRIGGER {}", t.0)).unwrap());
    change(&conn);
    triggers.iter().for_each(|t| conn.execute_batch(&t.1).unwrap());
    conn.close().unwrap();
}

/// Folds as much of a book's log into the file as its readers allow.
pub fn checkpoint(path: &Path) {
    let conn = Connection::open(path).unwrap();
    conn.query_row("PRAGMA wal_checkpoint", [], |_| Ok(())).unwrap();
}

/// The edition that ships.
pub fn edition() -> &'static Edition {
    Edition::shipped()
}

/// The standards that ship.
pub fn standards() -> &'static Standards {
    static SHIPPED: LazyLock<Standards> = LazyLock::new(Standards::shipped);
    &SHIPPED
}

/// The rules that ship.
pub fn rules() -> RuleSet {
    RuleSet::parse(edition().set(SetKind::Rules).unwrap()).unwrap()
}

/// A folder that is removed at the end, and a clock.
pub struct World {
    dir: tempfile::TempDir,
    clock: std::cell::Cell<i64>,
}

impl World {
    pub fn new() -> Self {
        Self { dir: tempfile::tempdir().unwrap(), clock: std::cell::Cell::new(1_740_000_000_000) }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    pub fn stamp(&self) -> Stamp {
        self.clock.set(self.clock.get() + 1_000);
        Stamp {
            now: Recorded { at: Instant(self.clock.get()), offset_minutes: 60 },
            author: "tester".to_owned(),
            program: "pipelore test".to_owned(),
        }
    }

    pub fn book(&self, name: &str) -> Book {
        self.book_of(name, "yard")
    }

    pub fn book_of(&self, name: &str, site: &str) -> Book {
        Book::create(&self.path(name), site, UnitSystem::Metric, edition(), &self.stamp()).unwrap()
    }

    pub fn append(&self, book: &mut Book, drafts: &[Draft]) -> Appended {
        book.append(drafts, &self.stamp(), &AppendOptions::default()).unwrap()
    }
}

pub fn day(text: &str) -> Moment {
    text.parse().unwrap()
}

pub fn draft(when: &str, body: Body) -> Draft {
    Draft { effective: day(when), evidence: None, body }
}

#[expect(clippy::unnecessary_wraps, reason = "fields of entries are optional")]
pub fn qty(text: &str, measure: Measure) -> Option<Qty> {
    Some(Qty::parse(text, measure).unwrap())
}

/// 5 in 19.50 lb/ft G-105 with NC50.
pub fn joint(serial: &str, new: bool) -> Body {
    Body::Joint(Box::new(JointBody {
        serial: Serial::parse(serial).unwrap(),
        component: Component::DrillPipe,
        new,
        od: qty("5 in", Measure::Diameter),
        wall: qty("0.362 in", Measure::Wall),
        id: None,
        weight: qty("19.50 lb/ft", Measure::LinearMass),
        air_weight: qty("31.03 kg/m", Measure::LinearMass),
        grade: Some("G105".to_owned()),
        length: qty("9.45 m", Measure::JointLength),
        connection: Some("NC50".to_owned()),
        box_connection: None,
        tj_od: qty("6 5/8 in", Measure::Diameter),
        tj_id: qty("3 1/4 in", Measure::Diameter),
        pin_tong: None,
        box_tong: None,
        bevel: None,
        benchmark: None,
        upset: None,
        range: None,
        hardband: None,
        hardband_height: None,
        coating: None,
        heat: Some("H4417".to_owned()),
        pin_heat: None,
        box_heat: None,
        weld_lot: None,
        mill_order: None,
        maker: None,
        certificate: None,
        made: None,
        owner: None,
        location: Some("Harrow Yard".to_owned()),
        string: Some("K1".to_owned()),
        remark: None,
    }))
}

pub fn joint_ref(serial: &str, id: &EntryId) -> JointRef {
    JointRef { serial: Serial::parse(serial).unwrap(), joint: id.clone() }
}

/// Straight down to 300 m, then 5 deg/30 m to 60°, then straight.
pub fn survey(well: &str) -> Body {
    let mut stations = vec![("0", 0.0), ("300", 0.0)];
    let depths: Vec<String> = (1..=12).map(|i| (300 + i * 30).to_string()).collect();
    for (i, d) in depths.iter().enumerate() {
        stations.push((d, 5.0 * (i + 1) as f64));
    }
    stations.push(("2000", 60.0));
    Body::Survey(SurveyBody {
        well: well.to_owned(),
        depth_unit: "m".to_owned(),
        angle_unit: "deg".to_owned(),
        north: None,
        tool: None,
        stations: stations
            .into_iter()
            .map(|(md, inc)| StationLine(md.to_owned(), inc.to_string(), "90".to_owned()))
            .collect(),
        published: Vec::new(),
        remark: None,
    })
}

/// A run of 100 h that drills from 800 to 1,000 m with these joints above a collar.
pub fn run(name: &str, well: &str, start: &str, joints: &[JointRef]) -> Body {
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
        count: Some(10),
    };
    let mut tally = vec![collar];
    tally.extend(joints.iter().map(|j| TallyLine {
        joint: Some(j.clone()),
        part: None,
        length: None,
        count: None,
    }));
    let hour = 3_600_000;
    let segments = (0..20)
        .map(|i| Segment {
            activity: Activity::RotatingOnBottom,
            start_ms: i * 5 * hour,
            duration_ms: 5 * hour,
            bit_from_mm: 800_000 + i * 10_000,
            bit_to_mm: 810_000 + i * 10_000,
            milli_turns: 5 * 60 * 120 * 1000,
            wob_n: Some(80_000),
            torque_nm: None,
            hookload_n: None,
        })
        .collect();
    Body::Run(Box::new(RunBody {
        name: name.to_owned(),
        well: well.to_owned(),
        survey: None,
        rig: Some("Rig 14".to_owned()),
        string: Some("K1".to_owned()),
        start: day(start),
        grade: RunGrade::Logged,
        tally,
        swaps: Vec::new(),
        segments,
        log: None,
        hours: None,
        rotary_speed: None,
        depth_in: None,
        depth_out: None,
        mud_weight: qty("1200 kg/m3", Measure::Density),
        mud_weight_inside: None,
        environment: None,
        sour: None,
        casing_depth: qty("250 m", Measure::Depth),
        riser_depth: None,
        hole_diameter: qty("8 1/2 in", Measure::Diameter),
        hole: Vec::new(),
        friction: None,
        block_weight: None,
        temperature: None,
        protectors: None,
        equipment: Vec::new(),
        remark: None,
    }))
}

pub fn inspection(joint: &JointRef, wall: &str) -> Body {
    Body::Inspection(Box::new(InspectionBody {
        joint: joint.clone(),
        methods: vec![Method::UltrasonicWall],
        covers: vec![pipelore::model::Scope::Wall],
        standard: None,
        firm: None,
        inspector: None,
        report: None,
        instrument: None,
        readings: vec![Reading {
            what: ReadingKind::Wall,
            end: None,
            value: Qty::parse(wall, Measure::Wall).unwrap(),
            at: None,
            position: None,
            instrument: None,
        }],
        findings: Vec::new(),
        declared: None,
        declared_tube: None,
        declared_pin: None,
        declared_box: None,
        paint: None,
        location: None,
        remark: None,
    }))
}

/// A book with joints `K1-0001` … in a bent well; returns their references.
pub fn small_fleet(world: &World, book: &mut Book, joints: usize) -> Vec<JointRef> {
    let serials: Vec<String> = (1..=joints).map(|n| format!("K1-{n:04}")).collect();
    let drafts: Vec<Draft> = serials.iter().map(|s| draft("2025-01-10", joint(s, true))).collect();
    let done = world.append(book, &drafts);
    world.append(book, &[draft("2025-01-15", survey("Larkfield 1H"))]);
    serials.iter().zip(&done.entries).map(|(s, id)| joint_ref(s, id)).collect()
}
