//! A large book whose projections are filled directly: joints, their runs, inspections, repairs
//! and make-ups, invented, with the sums that the folds would have kept. No entry stands behind
//! the rows, so nothing here may rebuild it.

use std::path::Path;

use pipelore::condition::Edition;
use pipelore::model::{Histogram, Instant, Recorded, Scope, Vocabulary};
use pipelore::schema::{Record, Table as Declared, presence};
use pipelore::store::{Book, Stamp};
use pipelore::units::UnitSystem;
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};

/// Runs of each joint.
pub const RUNS: i64 = 50;
/// Joints of a string; they run together.
const STRING: i64 = 200;
const INSPECTIONS: i64 = 5;
const MAKEUPS: i64 = 20;
const DAY: i64 = 86_400_000;
const HOUR: i64 = 3_600_000;
/// 2022-01-01.
const BEGIN: i64 = 1_640_995_200_000;
/// Days between the beginnings of two runs of a string. All runs that begin in one such stretch
/// also end in it, so that questions about a time can be put where they cut no run: parts of runs
/// are made from entries, and there are none here.
const EVERY: i64 = 33;
/// deg/100ft in quanta.
const DEG_PER_100FT: f64 = 1e9 / 30.48;

/// What time it is in the book.
pub const NOW: Instant = Instant(BEGIN + (RUNS * EVERY + 10) * DAY);

/// A small generator: the same book on every machine.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Between 0 and 1.
    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn below(&mut self, n: i64) -> i64 {
        (self.next() % n.unsigned_abs()).cast_signed()
    }
}

/// Writes rows of one table: named columns, and zero or nothing for the rest.
struct Table<'c> {
    statement: rusqlite::Statement<'c>,
    blank: Vec<Value>,
    places: Vec<usize>,
}

impl<'c> Table<'c> {
    fn new(conn: &'c Connection, name: &str, columns: &[&str]) -> Self {
        let mut info = conn
            .prepare("SELECT name, \"notnull\" OR pk, type FROM pragma_table_info(?1)")
            .unwrap();
        let all: Vec<(String, bool, String)> = info
            .query_map([name], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        let places = columns
            .iter()
            .map(|c| all.iter().position(|a| a.0 == *c).unwrap_or_else(|| panic!("{name}.{c}")))
            .collect();
        let blank = all
            .iter()
            .map(|(name, needed, kind)| match (needed, kind.as_str()) {
                // None is in doubt.
                _ if name == "on_hire" || name == "in_string" => Value::Integer(0),
                (false, _) => Value::Null,
                (true, "TEXT") => Value::Text("x".to_owned()),
                (true, "BLOB") => Value::Blob(Vec::new()),
                (true, _) => Value::Integer(0),
            })
            .collect();
        let names: Vec<&str> = all.iter().map(|a| a.0.as_str()).collect();
        let marks = vec!["?"; all.len()].join(", ");
        let sql = format!("INSERT INTO {name} ({}) VALUES ({marks})", names.join(", "));
        Self { statement: conn.prepare(&sql).unwrap(), blank, places }
    }

    fn put(&mut self, values: Vec<Value>) {
        assert_eq!(values.len(), self.places.len());
        let mut row = self.blank.clone();
        for (at, value) in self.places.iter().zip(values) {
            row[*at] = value;
        }
        self.statement.execute(params_from_iter(row)).unwrap();
    }
}

fn int(n: i64) -> Value {
    Value::Integer(n)
}

fn text(t: impl Into<String>) -> Value {
    Value::Text(t.into())
}

/// Figures that a joint's row and its rows since an inspection keep, in this order.
#[derive(Clone, Default)]
struct Sums {
    hours: i64,
    turns: i64,
    footage: i64,
    damage: [i64; 3],
    dogleg: i64,
    tension: i64,
    cased: i64,
    histogram: Histogram,
}

/// Columns of the counters, each with both bounds.
const COUNTERS: [&str; 24] = [
    "hours_lo",
    "hours_hi",
    "revolutions_lo",
    "revolutions_hi",
    "footage_lo",
    "footage_hi",
    "damage_lo",
    "damage_hi",
    "pin_makeups_lo",
    "pin_makeups_hi",
    "box_makeups_lo",
    "box_makeups_hi",
    "max_dogleg_lo",
    "max_dogleg_hi",
    "max_tension_lo",
    "max_tension_hi",
    "cased_hours_lo",
    "cased_hours_hi",
    "open_turns_lo",
    "open_turns_hi",
    "side_work_lo",
    "side_work_hi",
    "over_limit_lo",
    "over_limit_hi",
];

impl Sums {
    fn add(&mut self, run: &Self) {
        self.hours += run.hours;
        self.turns += run.turns;
        self.footage += run.footage;
        for (a, b) in self.damage.iter_mut().zip(run.damage) {
            *a += b;
        }
        self.dogleg = self.dogleg.max(run.dogleg);
        self.tension = self.tension.max(run.tension);
        self.cased += run.cased;
        self.histogram.add(&run.histogram);
    }

    fn counters(&self, makeups: i64, complete: bool) -> Vec<Value> {
        let worst = self.damage.into_iter().max().unwrap_or(0);
        [
            self.hours,
            self.turns,
            self.footage,
            worst,
            makeups,
            makeups,
            self.dogleg,
            self.tension,
            self.cased,
            self.turns / 2,
            self.turns / 10,
            self.turns / 20,
        ]
        .into_iter()
        .flat_map(|n| [int(n), if complete { int(n) } else { Value::Null }])
        .collect()
    }
}

/// One run of one joint.
fn run_of(dice: &mut Dice) -> Sums {
    let hours = 20 * HOUR + dice.below(160 * HOUR);
    let turns = hours / 1_000 * 2;
    // Most bends are gentle; one joint-run in two hundred is sharper than 8 deg/100ft.
    let sharpest = (0.5 - 1.42 * dice.share().max(1e-9).ln()).min(18.0);
    #[expect(clippy::cast_possible_truncation, reason = "at most 18 degrees")]
    let dogleg = (sharpest * DEG_PER_100FT) as i64;
    let mut histogram = Histogram::default();
    let last = usize::try_from(dogleg * 60 / 1_000_000_000).unwrap();
    let mut left = (turns, hours);
    for band in (0..=last).rev().step_by(last / 5 + 1) {
        let part = if band == last { (left.0 / 50, left.1 / 50) } else { (left.0 / 3, left.1 / 3) };
        histogram.put(band, part.0, part.1);
        left = (left.0 - part.0, left.1 - part.1);
    }
    histogram.put(0, left.0, left.1);
    let damage = [0, 1, 2].map(|_| dice.below(12_000_000_000_000));
    Sums {
        hours,
        turns,
        footage: dice.below(800_000_000_000),
        damage,
        dogleg,
        tension: dice.below(1_200_000_000),
        cased: hours / 4,
        histogram,
    }
}

/// Makes the book, unless it stands there already.
pub fn make(path: &Path, joints: i64) {
    if path.exists() {
        return;
    }
    let unfinished = path.with_extension("unfinished");
    for end in ["unfinished", "unfinished-wal", "unfinished-shm", "unfinished.head"] {
        let _ = std::fs::remove_file(path.with_extension(end));
    }
    let stamp = Stamp {
        now: Recorded { at: Instant(BEGIN), offset_minutes: 0 },
        author: "bench".to_owned(),
        program: "pipelore bench".to_owned(),
    };
    Book::create(&unfinished, "yard", UnitSystem::Us, Edition::shipped(), &stamp)
        .unwrap()
        .close()
        .unwrap();
    let conn = Connection::open(&unfinished).unwrap();
    conn.execute_batch("PRAGMA journal_mode = DELETE; PRAGMA synchronous = OFF;").unwrap();
    fill(&conn, joints);
    conn.execute_batch("PRAGMA journal_mode = WAL").unwrap();
    conn.close().unwrap();
    std::fs::rename(&unfinished, path).unwrap();
}

fn fill(conn: &Connection, joints: i64) {
    conn.execute_batch(
        "DROP INDEX joint_run_run; DROP INDEX joint_run_dogleg; DROP INDEX run_well; BEGIN",
    )
    .unwrap();
    let mut dice = Dice(7);
    let strings = joints / STRING;
    let begin = |string: i64, run: i64| BEGIN + (run * EVERY + string % 18) * DAY;
    let finish = |string: i64, run: i64| begin(string, run) + 15 * DAY;
    let mut table = Table::new(
        conn,
        "run",
        &["run", "name", "well", "rig", "string", "start", "finish", "grade", "joints"],
    );
    let run_id = |string: i64, run: i64| joints + 10 + string * RUNS + run;
    for string in 0..strings {
        for run in 0..RUNS {
            table.put(vec![
                int(run_id(string, run)),
                text(format!("S{string}-R{run:02}")),
                text(format!("Well {}", (string * RUNS + run) / 8)),
                text(format!("Rig {}", string % 40)),
                text(format!("S{string}")),
                int(begin(string, run)),
                int(finish(string, run)),
                text("logged"),
                int(STRING),
            ]);
        }
    }
    drop(table);

    let mut own = Table::new(
        conn,
        "joint_run",
        &[
            "joint",
            "finish",
            "run",
            "start",
            "position",
            "from_bit",
            "hours",
            "revolutions",
            "footage",
            "max_dogleg",
            "max_tension",
            "bending_pin",
            "bending_middle",
            "bending_box",
            "damage_pin",
            "damage_middle",
            "damage_box",
            "over_limit_pin",
            "over_limit_middle",
            "over_limit_box",
            "cased_hours",
            "open_turns",
            "side_work",
            "top_depth",
            "bottom_depth",
            "length",
            "histogram",
        ],
    );
    let head = [
        "joint",
        "introduced_by",
        "serial",
        "component",
        "grade",
        "od",
        "nominal_wall",
        "length",
        "connection",
        "heat",
        "maker",
        "entered",
        "entered_new",
        "location",
        "string",
        "status",
        "class",
        "tube_class",
        "wall",
        "wall_thickness",
        "wall_read",
        "box_od",
        "pin_od",
        "pin_tong",
        "pin_stretch",
        "tool_joint_od",
        "hardband",
        "hardband_height",
        "disposition",
        "inspected",
        "presence",
        "pin_generation",
        "box_generation",
        "runs",
        "life_complete",
        "unknown_until",
        "last_run",
        "damage_pin_lo",
        "damage_pin_hi",
        "damage_middle_lo",
        "damage_middle_hi",
        "damage_box_lo",
        "damage_box_hi",
        "histogram",
    ];
    let mut joint_table = Table::new(conn, "joint", &[head.as_slice(), &COUNTERS].concat());
    // What the rows of `since` keep: of the whole life, and since the last inspection.
    let mut kept: Vec<(i64, i64, [Vec<Value>; 2])> = Vec::new();
    let mut inspection = Table::new(
        conn,
        "inspection",
        &[
            "joint",
            "date",
            "entry",
            "covers",
            "class",
            "wall",
            "wall_thickness",
            "box_od",
            "pin_od",
            "body_od",
            "findings",
        ],
    );
    let mut repair = Table::new(conn, "repair", &["joint", "date", "entry", "work", "end"]);
    let mut makeup = Table::new(
        conn,
        "makeup",
        &[
            "joint",
            "date",
            "entry",
            "end",
            "generation",
            "times",
            "torque",
            "target_torque",
            "verdict",
            "gauge",
        ],
    );
    let scopes = [Scope::Wall, Scope::SlipCracks];
    let bits: i64 = scopes.iter().map(|s| 1 << s.rank()).sum();
    for joint in 0..joints {
        let id = joint + 2;
        let string = joint / STRING;
        let complete = joint % 10 != 9;
        // Inspected after every tenth run, and some of them once more.
        let last_inspection = if joint % 3 == 0 { RUNS - 4 } else { RUNS - 10 };
        let (mut all, mut later) = (Sums::default(), Sums::default());
        let mut bits_held = presence::of_word(Declared::Repair, "work", "reface").unwrap();
        for record in [Record::Run, Record::Makeup, Record::Inspection, Record::Repair] {
            bits_held |= presence::of_record(record);
        }
        for run in 0..RUNS {
            let one = run_of(&mut dice);
            let [pin, middle, box_] = one.damage;
            let top = 500_000_000_000 + dice.below(2_000_000_000_000);
            own.put(vec![
                int(id),
                int(finish(string, run)),
                int(run_id(string, run)),
                int(begin(string, run)),
                int(joint % STRING + 1),
                int(joint % STRING * 9_600_000_000),
                int(one.hours),
                int(one.turns),
                int(one.footage),
                int(one.dogleg),
                int(one.tension),
                int(one.tension / 8),
                int(one.tension / 16),
                int(one.tension / 8),
                int(pin),
                int(middle),
                int(box_),
                int(one.turns / 20),
                int(one.turns / 40),
                int(one.turns / 20),
                int(one.cased),
                int(one.turns / 2),
                int(one.turns / 10),
                int(top),
                int(top + one.footage),
                int(9_600_000_000),
                Value::Blob(one.histogram.encode()),
            ]);
            all.add(&one);
            if run >= last_inspection {
                later.add(&one);
            }
        }
        let wall = |step: i64| 1_000_000_000 - step * 40_000_000 - joint % 97 * 1_000_000;
        let mut at = 0;
        for n in 0..INSPECTIONS {
            let after = if n + 1 == INSPECTIONS { last_inspection } else { (n + 1) * 9 };
            at = finish(string, after - 1) + DAY;
            inspection.put(vec![
                int(id),
                int(at),
                int(1_000_000_000 + id * 10 + n),
                int(bits),
                text("premium"),
                int(wall(n)),
                int(wall(n) / 100),
                int(168_000_000 - n * 1_000_000 - joint % 31 * 300_000),
                int(166_000_000),
                int(127_000_000),
                int(0),
            ]);
        }
        for n in 0..2 {
            let after = 15 + n * 20 + joint % 14;
            repair.put(vec![
                int(id),
                int(finish(string, after) + 2 * DAY),
                int(2_000_000_000 + id * 10 + n),
                text("reface"),
                text(if n == 0 { "pin" } else { "box" }),
            ]);
        }
        for n in 0..MAKEUPS {
            let torque = 20_000_000 + dice.below(16_000_000);
            // Few are off their target, whatever the torque above says for the scans of it.
            let verdict = match (joint * MAKEUPS + n) * 7_919 % 1_000 {
                0..3 => Some("under"),
                3..5 => Some("over"),
                5..15 => None,
                _ => Some("on_target"),
            };
            if let Some(verdict) = verdict {
                bits_held |= presence::of_word(Declared::Makeup, "verdict", verdict).unwrap();
            }
            makeup.put(vec![
                int(id),
                int(begin(string, n * 2) - HOUR),
                int(3_000_000_000 + id * 100 + n),
                text(if n % 2 == 0 { "pin" } else { "box" }),
                int(1),
                int(1),
                int(torque),
                int(30_000_000),
                verdict.map_or(Value::Null, text),
                text(format!("TG-{:02}", string % 60)),
            ]);
        }
        let class = ["premium", "premium", "premium", "class_2", "class_3"];
        let most = |n: i64| if complete { int(n) } else { Value::Null };
        let mut row = vec![
            int(id),
            text(format!("yard-{id}")),
            text(format!("S{string}-{:04}", joint % STRING + 1)),
            text("drill_pipe"),
            text("G105"),
            int(127_000_000),
            int(9_190_000),
            int(9_600_000_000),
            text("NC50"),
            text(format!("H{}", joint / 400)),
            text("Mill"),
            int(BEGIN - 30 * DAY),
            int(i64::from(complete)),
            text(["Harrow Yard", "Rig 14", "Rig 9"][usize::try_from(string % 3).unwrap()]),
            text(format!("S{string}")),
            text("in_stock"),
            text(class[usize::try_from(joint % 5).unwrap()]),
            text(class[usize::try_from(joint % 5).unwrap()]),
            int(wall(INSPECTIONS - 1)),
            int(wall(INSPECTIONS - 1) / 100),
            int(at),
            int(164_000_000),
            int(166_000_000),
            int(170_000_000 - joint % 89 * 700_000),
            int(0),
            int(168_275_000),
            // A hardband that nobody has looked at yet is common.
            if joint % 2 == 0 { text("sound") } else { Value::Null },
            if joint % 2 == 0 { int(2_000_000 - joint % 61 * 25_000) } else { Value::Null },
            text(if joint % 53 == 0 { "dress" } else { "run" }),
            int(at),
            int(bits_held),
            int(1),
            int(1),
            int(RUNS),
            int(i64::from(complete)),
            if complete { Value::Null } else { int(BEGIN - 30 * DAY) },
            int(finish(string, RUNS - 1)),
            int(all.damage[0]),
            most(all.damage[0]),
            int(all.damage[1]),
            most(all.damage[1]),
            int(all.damage[2]),
            most(all.damage[2]),
            Value::Blob(all.histogram.encode()),
        ];
        row.extend(all.counters(MAKEUPS / 2, complete));
        joint_table.put(row);
        let counters = |sums: &Sums, makeups: i64, complete: bool| {
            let mut row = vec![Value::Blob(sums.histogram.encode())];
            row.extend(sums.counters(makeups, complete));
            row
        };
        kept.push((id, at, [counters(&all, MAKEUPS / 2, complete), counters(&later, 2, true)]));
        if !complete {
            conn.prepare_cached(
                "INSERT INTO gap (joint, until, since, entry, begun) VALUES (?, ?, NULL, ?, 0)",
            )
            .unwrap()
            .execute([id, BEGIN - 30 * DAY, id])
            .unwrap();
        }
    }
    drop((own, joint_table, inspection, repair, makeup));
    let head = ["scope", "joint", "at", "entry", "histogram"];
    let mut table = Table::new(conn, "since", &[head.as_slice(), &COUNTERS].concat());
    let mut words = Scope::ALL.to_vec();
    words.sort_by_key(|s| s.word());
    for scope in words {
        let inspected = scopes.contains(&scope);
        for (id, at, counters) in &kept {
            let mut row = vec![text(scope.word()), int(*id)];
            row.extend(if inspected {
                [int(*at), int(*at)]
            } else {
                [int(BEGIN - 30 * DAY), Value::Null]
            });
            row.extend_from_slice(&counters[usize::from(inspected)]);
            table.put(row);
        }
    }
    drop(table);
    conn.execute_batch(
        "COMMIT;
         CREATE INDEX joint_run_run ON joint_run (run, position);
         CREATE INDEX joint_run_dogleg ON joint_run (max_dogleg, hours, joint);
         CREATE INDEX run_well ON run (well COLLATE NOCASE)",
    )
    .unwrap();
}
