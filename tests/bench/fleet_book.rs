//! A fleet through the real ledger and folds: strings of 300 joints, 50 runs of each with a log of 300
//! segments, five inspections and two repairs of every joint, make-ups, hires. Invented, and the same
//! on every machine. It arrives as a yard's book is written: in order of time, many strings beside
//! each other.

use std::path::Path;

use pipelore::condition::Edition;
use pipelore::model::{
    Activity, Body, Draft, End, EntryId, HireInBody, HireOutBody, Instant, JointRef, MakeupBody,
    MakeupPattern, Method, Qty, Reading, ReadingKind, Recorded, RepairBody, RunBody, Segment,
    StationLine, SurveyBody, Work,
};
use pipelore::store::{AppendOptions, Book, Stamp, side_file};
use pipelore::units::{Measure, UnitSystem};

use super::world::{draft, joint, joint_ref, qty, run};

/// Joints of a string; they run together.
pub const STRING: usize = 300;
/// Runs of each string.
pub const RUNS: usize = 50;
/// Segments of a run's log.
pub const SEGMENTS: usize = 300;
/// Runs of a string that reach the book in one go; they drill one well.
const TOGETHER: usize = 5;
/// Strings whose entries reach the book in one go.
const BLOCK: usize = 112;
/// Days between the beginnings of two runs of a string.
const EVERY: usize = 33;
/// 2022-01-01.
const BEGIN: i64 = 1_640_995_200_000;
const DAY: i64 = 86_400_000;
const HOUR: i64 = 3_600_000;

/// What time it is in the book.
#[expect(clippy::cast_possible_wrap, reason = "small")]
pub const NOW: Instant = Instant(BEGIN + (RUNS * EVERY + 10) as i64 * DAY);

/// What was written.
#[derive(Clone, Copy, Default)]
pub struct Written {
    pub entries: usize,
    pub joint_runs: usize,
}

/// A small generator: the same fleet on every machine.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: usize) -> Self {
        Self(seed as u64)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn between(&mut self, low: i64, high: i64) -> i64 {
        low + (self.next() % (high - low).unsigned_abs()).cast_signed()
    }
}

fn date(days: usize) -> String {
    let first = chrono::NaiveDate::from_ymd_opt(2022, 1, 1).unwrap();
    (first + chrono::Days::new(days as u64)).format("%Y-%m-%d").to_string()
}

fn stamp(days: usize) -> Stamp {
    Stamp {
        now: Recorded { at: Instant(BEGIN + days as i64 * DAY), offset_minutes: 60 },
        author: "bench".to_owned(),
        program: "pipelore bench".to_owned(),
    }
}

/// A hole that builds, holds and wanders to 4,000 m, with a bend of its own sharpness.
fn hole(well: &str, dice: &mut Dice) -> Body {
    // In tenths of a degree, at every 30 m.
    let (mut inc, mut azi) = (0, 400);
    let sharpest = dice.between(15, 90);
    let bent = dice.between(20, 100);
    let stations = (0..=134)
        .map(|n| {
            if n > 12 {
                inc = (inc + dice.between(-6, if inc < 500 { 22 } else { 4 })).clamp(0, 900);
                azi += dice.between(-8, 9);
                if n == bent {
                    inc = (inc + sharpest).min(900);
                }
            }
            let tenths = |x: i64| format!("{}.{}", x / 10, x % 10);
            StationLine((n * 30).to_string(), tenths(inc), tenths(azi))
        })
        .collect();
    Body::Survey(SurveyBody {
        well: well.to_owned(),
        depth_unit: "m".to_owned(),
        angle_unit: "deg".to_owned(),
        north: None,
        tool: None,
        stations,
        published: Vec::new(),
        remark: None,
    })
}

/// A run of these joints above ten collars with a log of 300 segments, on a stretch of the hole.
pub fn logged_run(
    name: &str,
    well: &str,
    string: &str,
    start: &str,
    stretch: usize,
    joints: &[JointRef],
    dice: &mut Dice,
) -> Body {
    let Body::Run(body) = run(name, well, start, joints) else { panic!() };
    let (mut at, mut bit) = (6 * HOUR, 2_950_000 + stretch as i64 * 190_000);
    let segments = (0..SEGMENTS)
        .map(|n| {
            let (activity, advance, hours, rpm) = match n % 10 {
                3 => (Activity::ReamingUp, -9_000, 15, 80),
                4 => (Activity::ReamingDown, 9_000, 15, 80),
                6 => (Activity::RotatingOffBottom, 0, 20, 60),
                9 => (Activity::Sliding, dice.between(400, 900), 60, 0),
                _ => {
                    let advance = dice.between(500, 1_000);
                    (Activity::RotatingOnBottom, advance, dice.between(15, 50), {
                        dice.between(90, 160)
                    })
                }
            };
            let duration = hours * HOUR / 60;
            let segment = Segment {
                activity,
                start_ms: at,
                duration_ms: duration,
                bit_from_mm: bit,
                bit_to_mm: bit + advance,
                milli_turns: hours * rpm * 1_000,
                wob_n: Some(if rpm == 0 { 40_000 } else { dice.between(30_000, 100_000) }),
                torque_nm: None,
                hookload_n: None,
            };
            at += duration + 120_000;
            bit += advance;
            segment
        })
        .collect();
    Body::Run(Box::new(RunBody {
        rig: Some(format!("Rig {}", dice.between(1, 40))),
        string: Some(string.to_owned()),
        casing_depth: qty("1500 m", Measure::Depth),
        segments,
        ..*body
    }))
}

fn reading(what: ReadingKind, end: Option<End>, value: &str, measure: Measure) -> Reading {
    let value = Qty::parse(value, measure).unwrap();
    Reading { what, end, value, at: None, position: None, instrument: None }
}

/// Wall and tool joints as they wear; hundredths of an inch.
fn looked_at(joint: &JointRef, round: i64, dice: &mut Dice) -> Body {
    let Body::Inspection(body) = super::world::inspection(joint, "0.3 in") else { panic!() };
    let wall = 355 - round * dice.between(6, 13);
    let od = 6_600 - round * dice.between(20, 50);
    let thousandths = |x: i64| format!("{}.{:03} in", x / 1_000, x % 1_000);
    let mut body = *body;
    body.methods = vec![
        Method::UltrasonicWall,
        Method::Electromagnetic,
        Method::HardbandCheck,
        Method::MagneticSlip,
        Method::Dimensional1,
    ];
    body.covers = Vec::new();
    body.firm = Some("Harrow Inspection".to_owned());
    body.readings = vec![
        reading(ReadingKind::Wall, None, &thousandths(wall), Measure::Wall),
        reading(ReadingKind::JointOd, Some(End::Pin), &thousandths(od), Measure::Diameter),
        reading(ReadingKind::JointOd, Some(End::Box), &thousandths(od - 12), Measure::Diameter),
        reading(ReadingKind::TongSpace, Some(End::Pin), "7 in", Measure::Wall),
        reading(ReadingKind::HardbandHeight, None, "0.06 in", Measure::Wall),
    ];
    Body::Inspection(Box::new(body))
}

fn refaced(joint: &JointRef, end: End) -> Body {
    Body::Repair(Box::new(RepairBody {
        joint: joint.clone(),
        work: Work::Reface,
        end: Some(end),
        shop: Some("Harrow Yard".to_owned()),
        licence: None,
        ticket: None,
        removed: qty("1/32 in", Measure::JointLength),
        results: Vec::new(),
        clears: Vec::new(),
        material: None,
        remark: None,
    }))
}

fn picked_up(run: EntryId) -> Body {
    Body::Makeup(Box::new(MakeupBody {
        pin: None,
        box_: None,
        mate: None,
        pattern: Some(MakeupPattern {
            trips: 1,
            stand: 3,
            offset: None,
            rotate: None,
            saver: None,
            picked_up: true,
        }),
        run: Some(run),
        torque: qty("24000 ft.lbf", Measure::Torque),
        target: qty("25000 ft.lbf", Measure::Torque),
        breakout: None,
        compound: None,
        friction_factor: None,
        instrument: None,
        times: None,
        crew: None,
        remark: None,
    }))
}

struct Fleet<'b> {
    book: &'b mut Book,
    strings: Vec<Vec<JointRef>>,
    written: Written,
}

/// Makes the book where none stands. `None` when it stands there already.
pub fn make(path: &Path, joints: usize) -> Option<Written> {
    if path.exists() {
        return None;
    }
    let unfinished = path.with_extension("unfinished");
    for end in ["unfinished", "unfinished-wal", "unfinished-shm", "unfinished.head"] {
        let _ = std::fs::remove_file(path.with_extension(end));
    }
    let mut book =
        Book::create(&unfinished, "yard", UnitSystem::Us, Edition::shipped(), &stamp(0)).unwrap();
    let written = fill(&mut book, joints);
    book.close().unwrap();
    std::fs::rename(side_file(&unfinished), side_file(path)).unwrap();
    std::fs::rename(&unfinished, path).unwrap();
    Some(written)
}

/// Fills a book that is new.
pub fn fill(book: &mut Book, joints: usize) -> Written {
    let mut fleet = Fleet { book, strings: Vec::new(), written: Written::default() };
    fleet.enter(joints);
    for slice in 0..RUNS / TOGETHER {
        for block in 0..fleet.strings.len().div_ceil(BLOCK) {
            fleet.work(slice, block);
        }
    }
    fleet.written
}

impl Fleet<'_> {
    fn append(&mut self, drafts: &[Draft], days: usize) -> Vec<EntryId> {
        let done = self.book.append(drafts, &stamp(days), &AppendOptions::default()).unwrap();
        self.written.entries += drafts.len();
        done.entries
    }

    fn enter(&mut self, joints: usize) {
        let strings = joints.div_ceil(STRING);
        for string in 0..strings {
            let count = STRING.min(joints - string * STRING);
            let serials: Vec<String> =
                (1..=count).map(|n| format!("S{:03}-{n:04}", string + 1)).collect();
            let drafts: Vec<Draft> = serials
                .iter()
                .enumerate()
                .map(|(n, s)| {
                    // One in ten was used before.
                    let Body::Joint(mut body) = joint(s, n % 10 != 9) else { panic!() };
                    body.string = Some(format!("S{:03}", string + 1));
                    body.heat = Some(format!("H{:04}", (string * STRING + n) / 400));
                    draft(&date(0), Body::Joint(body))
                })
                .collect();
            let done = self.append(&drafts, 1);
            self.strings.push(serials.iter().zip(&done).map(|(s, id)| joint_ref(s, id)).collect());
        }
    }

    /// The runs of some strings over some months, and what was done to the joints after them.
    fn work(&mut self, slice: usize, block: usize) {
        let from = block * BLOCK;
        let to = (from + BLOCK).min(self.strings.len());
        let next = self.book.head().unwrap().unwrap().entry;
        let mut drafts: Vec<Draft> = Vec::new();
        let well = |string: usize| format!("Well {:03}-{:02}", string + 1, slice + 1);
        let begins = |string: usize, run: usize| 5 + run * EVERY + string % 14;
        let first = slice * TOGETHER;
        for string in from..to {
            let mut dice = Dice::new(1_000_003 * (string + 1) + slice);
            drafts.push(draft(&date(begins(string, first)), hole(&well(string), &mut dice)));
            let hire = format!("H-{}-{slice}", string + 1);
            let (joints, own) = (self.strings[string].clone(), format!("Rig {}", string % 40 + 1));
            let body = if slice.is_multiple_of(2) {
                Body::HireOut(HireOutBody {
                    hire,
                    party: "Fenmoor Drilling".to_owned(),
                    contract: None,
                    location: Some(own),
                    joints,
                    condition: None,
                    remark: None,
                })
            } else {
                Body::HireIn(HireInBody {
                    hire: format!("H-{}-{}", string + 1, slice - 1),
                    location: Some("Harrow Yard".to_owned()),
                    joints,
                    remark: None,
                })
            };
            drafts.push(draft(&date(begins(string, first) - 1), body));
        }
        for n in first..first + TOGETHER {
            for string in from..to {
                let mut dice = Dice::new(7_919 * (string + 1) + n);
                let begin = begins(string, n);
                let body = logged_run(
                    &format!("S{:03}-R{:02}", string + 1, n + 1),
                    &well(string),
                    &format!("S{:03}", string + 1),
                    &date(begin),
                    n - first,
                    &self.strings[string],
                    &mut dice,
                );
                self.written.joint_runs += self.strings[string].len();
                drafts.push(draft(&date(begin + 15), body));
                if n == first {
                    let number = next.number + drafts.len() as u64;
                    let run = EntryId { chain: next.chain.clone(), number };
                    drafts.push(draft(&date(begin), picked_up(run)));
                }
            }
        }
        for string in from..to {
            let mut dice = Dice::new(104_729 * (string + 1) + slice);
            let after = begins(string, first + TOGETHER - 1) + 17;
            for joint in &self.strings[string] {
                if slice % 2 == 1 {
                    let round = slice as i64 / 2;
                    drafts.push(draft(&date(after), looked_at(joint, round, &mut dice)));
                }
                if slice % 4 == 3 {
                    let end = if slice == 3 { End::Pin } else { End::Box };
                    drafts.push(draft(&date(after + 1), refaced(joint, end)));
                }
            }
        }
        self.append(&drafts, begins(0, first + TOGETHER));
    }
}
