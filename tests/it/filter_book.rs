//! Books for tests of filters, kept as a yard keeps them: files and commands go in, and the library
//! opens the file and asks it, by SQL and by the evaluator, which must say the same.

use std::path::Path;
use std::sync::OnceLock;
use std::time::Duration;

use pipelore::filter::registry::Record;
use pipelore::filter::{
    Answer, Compiled, Context, Facts, FilterError, Query, Rule, Rules, Select, Verdict, compile,
};
use pipelore::model::{
    Call, Clock, EventKind, Instant, Moment, RulingKind, TorqueVerdict, Vocabulary, Work,
};
use pipelore::report::{Present, in_context};
use pipelore::schema::{JointRow, Rows, Table, Value, presence};
use pipelore::store::{Access, Book};
use pipelore::units::UnitSystem;

use crate::cli::Desk;
use crate::world;

/// Certificates: `SERIAL,new,hardband,heat,received`.
pub fn certificates(desk: &Desk, rows: &[&str]) {
    let mut text =
        "Serial,New,Hardband,Heat,Received,Component,OD [in],Wall [in],Weight [lb/ft],Grade,\
                    Length [m],Connection,TJ OD [in],TJ ID [in],Location,String\n"
            .to_owned();
    for row in rows {
        text += row;
        text += ",drill pipe,5,0.362,19.50,G-105,9.6,NC50,6 5/8,3 1/4,Harrow Yard,K1\n";
    }
    load(desk, &[("joints.csv", text)]);
}

/// Wells that go straight down to 700 m and then build by so many degrees in 10 m.
pub fn wells(desk: &Desk, wells: &[(&str, f64)]) {
    let file = |(name, build): &(&str, f64)| {
        let mut text = format!("Well,{name}\nDate,2025-01-20\n");
        text += "MD [m],Inclination [deg],Azimuth [deg]\n0,0,0\n";
        for n in 0..=20 {
            text += &format!("{},{:.4},0\n", 700 + n * 10, build * f64::from(n));
        }
        text += &format!("3000,{:.4},0\n", build * 20.0);
        (format!("{name}.csv"), text)
    };
    load(desk, &wells.iter().map(file).collect::<Vec<_>>());
}

/// A run on bottom in the build of a well, with a few joints above the bit: all of each joint is bent
/// alike for all of its hours.
pub struct Trip {
    pub name: &'static str,
    pub well: &'static str,
    pub rig: &'static str,
    pub days: [&'static str; 2],
    pub hours: u32,
    pub joints: &'static [&'static str],
}

pub fn trips(desk: &Desk, trips: &[Trip]) {
    let mut runs = Vec::new();
    for trip in trips {
        let Trip { name, well, rig, days: [start, end], hours, joints } = trip;
        let mut tally = "Position,Serial,Component,Length [m],OD [in],ID [in],Weight [lb/ft]\n\
                         1,,bit,0.3,8.5,2,80\n"
            .to_owned();
        for (n, serial) in (2..).zip(*joints) {
            tally += &format!("{n},{serial},,,,,\n");
        }
        desk.write(&format!("{name}-tally.csv"), tally);
        let log = format!(
            "Activity,Bit from [m],Bit to [m],Hours [h],RPM,WOB [klbf]\n\
             rotating on bottom,850,851,{hours},100,20\n"
        );
        desk.write(&format!("{name}-log.csv"), log);
        let run = format!(
            "name = \"{name}\"\nwell = \"{well}\"\nrig = \"{rig}\"\nstring = \"K1\"\n\
             start = {start}\nend = {end}\nmud_weight = \"9.6 ppg\"\n\
             hole_diameter = \"8 1/2 in\"\ncasing_depth = \"400 m\"\n\
             tally = \"{name}-tally.csv\"\nlog = \"{name}-log.csv\"\n"
        );
        runs.push((format!("{name}.toml"), run));
    }
    load(desk, &runs);
}

/// Writes files and loads them together.
pub fn load<N: AsRef<str>, T: AsRef<str>>(desk: &Desk, files: &[(N, T)]) {
    let mut words = vec!["load", "--keep-conflicts"];
    for (name, text) in files {
        desk.write(name.as_ref(), text.as_ref());
        words.push(name.as_ref());
    }
    desk.run(&words).ok();
}

/// A new book whose site goes by UTC.
pub fn desk() -> Desk {
    let desk = Desk::new();
    desk.run(&["new", "--site", "yard", "--units", "us", "--clock", "UTC"]).ok();
    desk
}

/// A small invented book: string K1 of three joints with runs in Larkfield and Tern Moor,
/// inspections at Harrow Yard, a recut pin, a gauge that read low; one joint came in used, one was
/// never inspected. Made once for all tests.
pub fn harrow() -> Kept {
    static DESK: OnceLock<Desk> = OnceLock::new();
    let desk = DESK.get_or_init(|| {
        let desk = desk();
        certificates(
            &desk,
            &[
                "K1-0417,yes,rough,H4417,2025-01-05",
                "K1-0418,no,worn,H4417,2025-01-05",
                "K1-0419,yes,worn,H9001,2025-01-05",
            ],
        );
        // 3, 9.1 and 2 deg/30m.
        wells(
            &desk,
            &[("Larkfield 1H", 1.0), ("Larkfield 2H", 9.1 / 3.0), ("Tern Moor 3", 2.0 / 3.0)],
        );
        let inspection = |date: &str, first: &str, second: &str| {
            format!(
                "Date,{date}\n\
                 Method,visual tube; MPI slip; UT wall; EMI; visual connection; dimensional 1\n\
                 Serial,Wall [%],Body OD [in],Pin OD [in],Box OD [in],Box shoulder [in],\
                 Tube findings,Pin findings,Box findings\n\
                 K1-0417,{first},5,6 5/8,6.6,0.6,none,none,none\n\
                 K1-0418,{second},5,6 5/8,6.6,0.6,none,none,none\n"
            )
        };
        load(&desk, &[("checked-2025.csv", inspection("2025-06-20", "93", "93"))]);
        let recut = ["repair", "joint=K1-0417", "date=2026-01-08", "work=recut", "end=pin"];
        desk.run(&[&["enter"], &recut[..], &["ticket=HY-88"]].concat()).ok();
        load(&desk, &[("checked-2026.csv", inspection("2026-01-10", "86", "76"))]);
        let reface = ["repair", "joint=K1-0418", "date=2026-01-20", "work=reface", "end=box"];
        desk.run(&[&["enter"], &reface[..], &["ticket=HY-89"]].concat()).ok();
        let trip =
            |name, well, rig, days, hours, joints| Trip { name, well, rig, days, hours, joints };
        let two: &[&str] = &["K1-0417", "K1-0418"];
        let three: &[&str] = &["K1-0417", "K1-0418", "K1-0419"];
        trips(
            &desk,
            &[
                trip("L1-1", "Larkfield 1H", "Rig 14", ["2025-02-01", "2025-03-10"], 200, two),
                trip("L2-1", "Larkfield 2H", "Rig 14", ["2026-02-01", "2026-04-05"], 1202, two),
                trip("T3-1", "Tern Moor 3", "Rig 9", ["2026-05-02", "2026-06-12"], 410, three),
            ],
        );
        let makeups = "Date,Serial,End,Torque [kN.m],Target [kN.m],Gauge\n\
                       2026-02-01,K1-0417,pin,30,30,TG-07\n2026-05-02,K1-0417,box,24,30,TG-07\n\
                       2026-05-02,K1-0418,pin,31,30,TG-07\n";
        load(&desk, &[("makeups.csv", makeups)]);
        desk
    });
    Kept::open(desk)
}

/// A book that the library opened to read.
pub struct Kept {
    book: Book,
}

impl Kept {
    pub fn open(desk: &Desk) -> Self {
        Self::open_at(&desk.path("book.pipelore"))
    }

    pub fn open_at(path: &Path) -> Self {
        Self { book: Book::open(path, Access::Read).unwrap() }
    }

    /// A filter with the rules of the tests, at [`now`].
    pub fn compile(&self, text: &str) -> Result<Compiled, Vec<FilterError>> {
        let present = Present {
            now: now(),
            clock: Clock::UTC,
            units: UnitSystem::Us,
            limit: Duration::from_mins(1),
        };
        let rules = rules();
        in_context(&self.book, &world::rules(), &present, |context| {
            compile(text, &Context { rules: Rules::These(&rules), ..*context })
        })
    }

    pub fn compiled(&self, text: &str) -> Compiled {
        self.compile(text).unwrap_or_else(|e| panic!("{text}\n{}", shown(&e)))
    }

    /// Works out the parts of runs at the edges of a filter's windows.
    pub fn prepare(&self, compiled: &Compiled) {
        self.book.prepare_windows(&compiled.cuts()).unwrap();
    }

    /// The rows that a statement gives.
    pub fn rows(&mut self, query: &Query) -> Vec<Vec<Value>> {
        match self.book.ask(&query.sql, &query.params, None) {
            Ok(rows) => rows,
            Err(e) => panic!("{e}\n{}", query.sql),
        }
    }

    /// The lines of a statement's plan.
    pub fn plan(&mut self, query: &Query) -> Vec<String> {
        let plan = Query { sql: format!("EXPLAIN QUERY PLAN {}", query.sql), ..query.clone() };
        let line = |row: Vec<Value>| match &row[3] {
            Value::Text(line) => line.clone(),
            other => panic!("{other:?}"),
        };
        self.rows(&plan).into_iter().map(line).collect()
    }

    /// What the evaluator reads of a joint.
    pub fn facts(&mut self, compiled: &Compiled, joint: i64) -> Facts {
        let mut facts = Facts::default();
        for load in compiled.loads(joint) {
            facts.put(load.slot, self.book.ask(&load.sql, &load.params, None).unwrap());
        }
        facts
    }

    /// Joints with their serials, in the book's order.
    pub fn joints(&self) -> Vec<(i64, String)> {
        let rows = self.book.rows::<JointRow>(&Rows::all()).unwrap();
        rows.into_iter().map(|row| (row.joint, row.serial)).collect()
    }

    /// The joint of a serial.
    pub fn joint(&self, serial: &str) -> i64 {
        self.joints().into_iter().find(|j| j.1 == serial).unwrap().0
    }

    /// Name of the entry at a place of the book.
    pub fn entry(&self, place: i64) -> String {
        self.book.entry_at(place).unwrap().raw.label()
    }

    /// What a filter says of each joint: by SQL, by the narrower questions too, and by the evaluator.
    pub fn verdicts(&mut self, text: &str) -> Vec<(String, Verdict)> {
        let compiled = self.compiled(text);
        self.prepare(&compiled);
        let mut ask = |answer| self.rows(&compiled.select(&Select::of(answer)));
        let joint = |row: &Vec<Value>| match row[0] {
            Value::Int(joint) => joint,
            ref other => panic!("{other:?}"),
        };
        let all = ask(Answer::All);
        let matching: Vec<i64> = ask(Answer::Matching).iter().map(joint).collect();
        let undecided: Vec<i64> = ask(Answer::Undecided).iter().map(joint).collect();
        assert_eq!(ask(Answer::Both).len(), matching.len() + undecided.len(), "{text}");
        let joints = self.joints();
        assert_eq!(all.len(), joints.len(), "{text}");
        let mut out = Vec::new();
        for row in &all {
            let at = joint(row);
            let sql = match row[1] {
                Value::Int(1) => Verdict::True,
                Value::Int(0) => Verdict::False,
                Value::Null => Verdict::Unknown,
                ref other => panic!("{other:?}"),
            };
            let serial = &joints.iter().find(|j| j.0 == at).unwrap().1;
            let own = compiled.judge(&self.facts(&compiled, at));
            assert_eq!(sql, own, "{serial}: SQL against the evaluator, {text}");
            let narrow = (matching.contains(&at), undecided.contains(&at));
            let wide = (sql == Verdict::True, sql == Verdict::Unknown);
            assert_eq!(narrow, wide, "{serial}: narrower questions, {text}");
            out.push((serial.clone(), sql));
        }
        if compiled.is_decided() {
            assert!(undecided.is_empty(), "{undecided:?} open in {text}");
        }
        out
    }

    /// Serials of the joints that match, and of those that nobody can decide.
    pub fn asked(&mut self, text: &str) -> (Vec<String>, Vec<String>) {
        let verdicts = self.verdicts(text);
        let of = |verdict| {
            let those = verdicts.iter().filter(|(_, v)| *v == verdict);
            those.map(|(serial, _)| serial.clone()).collect()
        };
        (of(Verdict::True), of(Verdict::Unknown))
    }
}

/// Noon of 2026-06-30 at the site, which is UTC.
pub fn now() -> Instant {
    Instant("2026-06-30".parse::<Moment>().unwrap().start(Clock::UTC).0 + 43_200_000)
}

/// The rules of the tests.
pub fn rules() -> Vec<Rule> {
    let rule = |name: &str, call, scope: Option<&str>, filter: &str| Rule {
        name: name.to_owned(),
        call,
        scope: scope.map(str::to_owned),
        filter: filter.to_owned(),
    };
    vec![
        rule(
            "tired",
            Call::Inspection,
            None,
            "hours since last inspection (covers = wall) > 1500 h",
        ),
        rule("worn", Call::Downgrade, Some("component = drill_pipe"), "wall < 80 %"),
        rule(
            "bent_and_tired",
            Call::Inspection,
            Some("not worn"),
            "tired and max_dogleg > 8 deg/100ft",
        ),
    ]
}

/// Joints of a serial: the digits at its end.
pub fn joints(key: &str) -> Vec<i64> {
    key.rsplit('-').next().and_then(|n| n.parse().ok()).into_iter().collect()
}

/// A context for tests which need names and types alone, and no book.
pub fn context(rules: &[Rule]) -> Context<'_> {
    Context {
        now: now(),
        clock: Clock::UTC,
        units: UnitSystem::Us,
        rules: Rules::These(rules),
        joints: &joints,
        words: &|_, _| None,
        ask: &|_| Some(Vec::new()),
    }
}

/// Errors as a user sees them.
pub fn shown(errors: &[FilterError]) -> String {
    errors.iter().map(|e| e.render(100)).collect::<Vec<_>>().join("---\n")
}

/// What a joint's rows say that its summary bits must be, as SQL: worked out from the tables, to
/// hold the folds against and for rows that are made at random.
pub fn presence_by_rows() -> String {
    let of = |table: &str, and: &str, bit: i64| {
        format!("(EXISTS (SELECT 1 FROM {table} r WHERE r.joint = joint.joint{and}) * {bit})")
    };
    let mut parts = Vec::new();
    for record in Record::ALL {
        parts.push(of(record.table().name(), "", presence::of_record(record)));
    }
    for column in ["sour", "equipment_doubtful"] {
        let run = "joint_run r JOIN run u ON u.run = r.run";
        let bit = presence::of_flag(Table::Run, column).unwrap();
        parts.push(format!(
            "(EXISTS (SELECT 1 FROM {run} WHERE r.joint = joint.joint AND u.{column} IS NOT 0) * {bit})"
        ));
    }
    for (table, column) in [
        (Table::JointRun, "conflicting"),
        (Table::JointRun, "restriction_broken"),
        (Table::Makeup, "instrument_doubtful"),
        (Table::Inspection, "instrument_doubtful"),
        (Table::Finding, "open"),
    ] {
        let bit = presence::of_flag(table, column).unwrap();
        parts.push(of(table.name(), &format!(" AND r.\"{column}\" IS NOT 0"), bit));
    }
    let mut word = |table: Table, column: &str, word: &str| {
        let bit = presence::of_word(table, column, word).unwrap();
        let may_be = format!(" AND ifnull(r.\"{column}\", '{word}') = '{word}'");
        parts.push(of(table.name(), &may_be, bit));
    };
    TorqueVerdict::ALL.iter().for_each(|v| word(Table::Makeup, "verdict", v.word()));
    RulingKind::ALL.iter().for_each(|ruling| word(Table::Decision, "ruling", ruling.word()));
    EventKind::ALL.iter().for_each(|kind| word(Table::Event, "what", kind.word()));
    Work::ALL.iter().for_each(|work| word(Table::Repair, "work", work.word()));
    parts.join(" | ")
}
