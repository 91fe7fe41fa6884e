//! A book for filter tests: the tables of the projections in memory, and the functions that the
//! store gives to queries.

use pipelore::filter::registry::Record;
use pipelore::filter::{Context, FilterError, Query, Rule};
use pipelore::model::{
    Call, EventKind, Histogram, Instant, Moment, RulingKind, Scope, TorqueVerdict, Vocabulary,
    Work, name_key,
};
use pipelore::schema::{Table, layout, presence};
use pipelore::units::UnitSystem;
use rusqlite::functions::FunctionFlags;
use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, params_from_iter};

/// Tables without rows.
pub fn empty() -> Connection {
    let conn = Connection::open_in_memory().unwrap();
    for table in Table::ALL {
        conn.execute_batch(&layout::of_book(*table)).unwrap();
    }
    conn.execute_batch("CREATE TEMP TABLE window_part AS SELECT * FROM run_part").unwrap();
    conn.execute_batch("CREATE INDEX temp.window_part_key ON window_part (joint, run, cut)")
        .unwrap();
    let flags = FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_DETERMINISTIC;
    for (name, ask) in [
        ("turns_above", Histogram::turns_above as fn(&Histogram, i64) -> i64),
        ("hours_above", Histogram::hours_above),
    ] {
        conn.create_scalar_function(name, 2, flags, move |ctx| {
            let ValueRef::Blob(bytes) = ctx.get_raw(0) else { return Ok(None) };
            let dogleg: i64 = ctx.get(1)?;
            Ok(Histogram::decode(bytes).ok().map(|h| ask(&h, dogleg)))
        })
        .unwrap();
    }
    conn.create_scalar_function("name_key", 1, flags, |ctx| {
        let ValueRef::Text(name) = ctx.get_raw(0) else { return Ok(None) };
        Ok(Some(name_key(std::str::from_utf8(name).unwrap())))
    })
    .unwrap();
    conn.create_collation("NAME", |a, b| name_key(a).cmp(&name_key(b))).unwrap();
    conn
}

/// The rows that a statement gives.
pub fn rows(conn: &Connection, query: &Query) -> Vec<Vec<Value>> {
    let mut statement = match conn.prepare(&query.sql) {
        Ok(s) => s,
        Err(e) => panic!("{e}\n{}", query.sql),
    };
    let columns = statement.column_count();
    let mut rows = statement.query(params_from_iter(&query.params)).unwrap();
    let mut out = Vec::new();
    while let Some(row) = rows.next().unwrap() {
        out.push((0..columns).map(|c| row.get(c).unwrap()).collect());
    }
    out
}

/// The lines of a statement's plan.
pub fn plan(conn: &Connection, query: &Query) -> Vec<String> {
    let mut statement = conn.prepare(&format!("EXPLAIN QUERY PLAN {}", query.sql)).unwrap();
    let mut rows = statement.query(params_from_iter(&query.params)).unwrap();
    let mut out = Vec::new();
    while let Some(row) = rows.next().unwrap() {
        out.push(row.get::<_, String>(3).unwrap());
    }
    out
}

/// Noon of 2026-06-30 at the site, which is UTC.
pub fn now() -> Instant {
    Instant(
        "2026-06-30".parse::<Moment>().unwrap().start(pipelore::model::Clock::UTC).0 + 43_200_000,
    )
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

/// The context of the tests.
pub fn context(rules: &[Rule]) -> Context<'_> {
    Context {
        now: now(),
        clock: pipelore::model::Clock::UTC,
        units: UnitSystem::Us,
        rules,
        joints: &joints,
        words: &|_, _| None,
        ask: &|_| Some(Vec::new()),
    }
}

/// Errors as a user sees them.
pub fn shown(errors: &[FilterError]) -> String {
    errors.iter().map(|e| e.render(100)).collect::<Vec<_>>().join("---\n")
}

/// Writes a row: what is given; else nothing, or zero, an empty text or empty bytes.
pub fn insert(conn: &Connection, table: &str, given: &[(&str, Value)]) {
    let mut columns =
        conn.prepare("SELECT name, \"notnull\" OR pk, type FROM pragma_table_info(?1)").unwrap();
    let columns: Vec<(String, bool, String)> = columns
        .query_map([table], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    for (name, _) in given {
        assert!(columns.iter().any(|c| c.0 == *name), "{table} has no {name}");
    }
    let values: Vec<Value> = columns
        .iter()
        .map(|(name, needed, kind)| {
            let said = |name: &str| given.iter().find(|(n, _)| *n == name).map(|(_, v)| v.clone());
            match (said(name), needed, kind.as_str()) {
                (Some(v), _, _) => v,
                // Rows written by hand follow each other as their entries do, and none is in doubt.
                (None, ..) if name == "turn" => said("entry").unwrap_or(Value::Integer(0)),
                (None, ..) if name == "by_name" => match said("joint").or_else(|| said("run")) {
                    Some(Value::Integer(n)) => Value::Text(format!("{n:09}")),
                    _ => Value::Null,
                },
                (None, ..) if name == "on_hire" || name == "in_string" => Value::Integer(0),
                (None, false, _) => Value::Null,
                (None, true, "TEXT") => Value::Text(String::new()),
                (None, true, "BLOB") => Value::Blob(Vec::new()),
                (None, true, _) => Value::Integer(0),
            }
        })
        .collect();
    let names: Vec<&str> = columns.iter().map(|c| c.0.as_str()).collect();
    let marks = vec!["?"; names.len()].join(", ");
    let sql = format!("INSERT INTO {table} ({}) VALUES ({marks})", names.join(", "));
    conn.execute(&sql, params_from_iter(values)).unwrap();
}

/// An instant of the site (UTC), written as a date or a time.
pub fn at(text: &str) -> Value {
    Value::Integer(text.parse::<Moment>().unwrap().start(pipelore::model::Clock::UTC).0)
}

/// Whole quanta.
pub fn quanta(text: &str, measure: pipelore::units::Measure) -> Value {
    let q = pipelore::units::Quantity::parse(text, measure.dimension()).unwrap();
    Value::Integer(measure.store(&q).unwrap())
}

/// A text value.
pub fn text(t: &str) -> Value {
    Value::Text(t.to_owned())
}

/// A small invented book: string K1 of three joints with runs in Larkfield and Tern Moor,
/// inspections at Harrow Yard, a recut pin, a doubtful gauge; one joint came in used, one was
/// never inspected.
pub fn harrow() -> Connection {
    use pipelore::units::Measure as M;
    let conn = empty();
    let int = Value::Integer;
    let mut wall = 1i64 << 2;
    wall |= 1 << 1;
    let slip = 1i64 << 4;
    for (joint, new, class, wall_now, read) in [
        (1, 1, "premium", Some("86 %"), Some("2026-01-10")),
        (2, 0, "class_2", Some("76 %"), Some("2026-01-10")),
        (3, 1, "", None, None),
    ] {
        let known = new == 1;
        let mut row = vec![
            ("joint", int(joint)),
            ("serial", text(&format!("K1-041{joint}"))),
            ("component", text("drill_pipe")),
            ("grade", text("G105")),
            ("heat", text(if joint == 3 { "H9001" } else { "H4417" })),
            ("od", quanta("5 in", M::Diameter)),
            ("nominal_wall", quanta("0.362 in", M::Wall)),
            ("length", quanta("9.6 m", M::JointLength)),
            ("entered", at("2025-01-05")),
            ("entered_new", int(new)),
            ("life_complete", int(new)),
            ("location", text("Harrow Yard")),
            ("string", text("K1")),
            ("status", text("in_stock")),
            ("hardband", text(if joint == 1 { "rough" } else { "worn" })),
            ("pin_generation", int(if joint == 1 { 2 } else { 1 })),
            ("box_generation", int(1)),
        ];
        if !class.is_empty() {
            row.extend([
                ("class", text(class)),
                ("tube_class", text(class)),
                ("class_entry", int(40 + joint)),
            ]);
        }
        if let (Some(wall), Some(read)) = (wall_now, read) {
            row.extend([
                ("wall", quanta(wall, M::Ratio)),
                ("wall_read", at(read)),
                ("inspected", at(read)),
            ]);
        }
        let totals = if joint == 3 { ("410 h", "0.02") } else { ("1812 h", "0.31") };
        let hours = quanta(totals.0, M::Hours);
        let damage = quanta(totals.1, M::Damage);
        let dogleg = quanta(if joint == 3 { "3 deg/30m" } else { "9.1 deg/30m" }, M::Dogleg);
        for (lo, hi, v) in [
            ("hours_lo", "hours_hi", &hours),
            ("damage_lo", "damage_hi", &damage),
            ("max_dogleg_lo", "max_dogleg_hi", &dogleg),
        ] {
            row.push((lo, v.clone()));
            row.push((hi, if known { v.clone() } else { Value::Null }));
        }
        insert(&conn, "joint", &row);
        insert(&conn, "serial", &[("key", text(&format!("K1-041{joint}"))), ("joint", int(joint))]);
        if !known {
            insert(
                &conn,
                "gap",
                &[("joint", int(joint)), ("until", at("2025-01-05")), ("entry", int(joint))],
            );
        }
        for scope in ["wall", "slip_cracks", "visual"] {
            let (hours, entry) = match (joint, scope) {
                (3, _) => ("410 h", Value::Null),
                _ => ("1612 h", int(40 + joint)),
            };
            let hours = quanta(hours, M::Hours);
            insert(
                &conn,
                "since",
                &[
                    ("scope", text(scope)),
                    ("joint", int(joint)),
                    ("at", at("2026-01-10")),
                    ("entry", entry),
                    ("hours_lo", hours.clone()),
                    ("hours_hi", hours),
                    ("damage_lo", quanta("0.27", M::Damage)),
                    ("damage_hi", quanta("0.27", M::Damage)),
                    ("max_dogleg_lo", quanta("9.1 deg/30m", M::Dogleg)),
                    ("max_dogleg_hi", quanta("9.1 deg/30m", M::Dogleg)),
                ],
            );
        }
        if joint != 3 {
            for (date, entry, share) in
                [("2025-06-20", 20 + joint, "93 %"), ("2026-01-10", 40 + joint, wall_now.unwrap())]
            {
                insert(
                    &conn,
                    "inspection",
                    &[
                        ("joint", int(joint)),
                        ("date", at(date)),
                        ("entry", int(entry)),
                        ("covers", int(wall | slip)),
                        ("class", text(if entry < 40 { "premium" } else { class })),
                        ("wall", quanta(share, M::Ratio)),
                        ("box_od", quanta("6 1/16 in", M::Diameter)),
                    ],
                );
            }
        }
    }
    insert(
        &conn,
        "repair",
        &[
            ("joint", int(1)),
            ("date", at("2026-01-20")),
            ("entry", int(50)),
            ("work", text("recut")),
            ("end", text("pin")),
            ("ticket", text("HY-88")),
        ],
    );
    for (n, (name, well, from, to, dogleg, hours)) in [
        ("L1-1", "Larkfield 1H", "2025-02-01", "2025-03-10", "3 deg/30m", "200 h"),
        ("L2-1", "Larkfield 2H", "2026-02-01", "2026-04-05", "9.1 deg/30m", "1202 h"),
        ("T3-1", "Tern Moor 3", "2026-05-02", "2026-06-12", "2 deg/30m", "410 h"),
    ]
    .into_iter()
    .enumerate()
    {
        let run = 100 + n as i64;
        insert(
            &conn,
            "run",
            &[
                ("run", int(run)),
                ("name", text(name)),
                ("well", text(well)),
                ("rig", text(if n == 2 { "Rig 9" } else { "Rig 14" })),
                ("start", at(from)),
                ("finish", at(to)),
                ("grade", text("logged")),
            ],
        );
        for joint in 1..=3 {
            if joint == 3 && n < 2 {
                continue;
            }
            let mut histogram = Histogram::default();
            let band = if n == 1 { 18 } else { 4 };
            histogram.put(band, 4_000_000_000, 40 * 3_600_000);
            insert(
                &conn,
                "joint_run",
                &[
                    ("joint", int(joint)),
                    ("run", int(run)),
                    ("start", at(from)),
                    ("finish", at(to)),
                    ("position", int(joint)),
                    ("hours", quanta(hours, M::Hours)),
                    ("revolutions", int(4_000_000_000)),
                    ("footage", quanta("900 m", M::Depth)),
                    ("max_dogleg", quanta(dogleg, M::Dogleg)),
                    ("cased_hours", quanta("12 h", M::Hours)),
                    ("damage_pin", quanta("0.1", M::Damage)),
                    ("damage_middle", quanta("0.02", M::Damage)),
                    ("damage_box", quanta("0.13", M::Damage)),
                    ("top_depth", quanta("800 m", M::Depth)),
                    ("bottom_depth", quanta("2600 m", M::Depth)),
                    ("length", quanta("9.6 m", M::JointLength)),
                    ("histogram", Value::Blob(histogram.encode())),
                ],
            );
        }
    }
    for (joint, date, end, torque) in [
        (1, "2026-02-01", "pin", "30 kN.m"),
        (1, "2026-05-02", "box", "24 kN.m"),
        (2, "2026-05-02", "pin", "31 kN.m"),
    ] {
        insert(
            &conn,
            "makeup",
            &[
                ("joint", int(joint)),
                ("date", at(date)),
                ("entry", int(60 + joint)),
                ("end", text(end)),
                ("generation", int(if joint == 1 && end == "pin" { 2 } else { 1 })),
                ("times", int(1)),
                ("torque", quanta(torque, M::Torque)),
                ("target_torque", quanta("30 kN.m", M::Torque)),
                ("gauge", text("TG-07")),
            ],
        );
    }
    mark(&conn);
    conn
}

/// What a joint's rows say that its summary bits must be, as SQL: worked out from the tables, for
/// books whose rows are written by hand and to hold the folds against.
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

/// Completes joints whose rows were written by hand with what the folds promise: summary bits, ends of what
/// is unknown and of the last run, the inspections at which rows of `since` begin.
pub fn mark(conn: &Connection) {
    conn.execute_batch(&format!(
        "UPDATE joint SET presence = {},
         unknown_until = (SELECT max(until) FROM gap g WHERE g.joint = joint.joint),
         last_run = (SELECT max(finish) FROM joint_run r WHERE r.joint = joint.joint);",
        presence_by_rows()
    ))
    .unwrap();
    for scope in Scope::ALL {
        conn.execute(
            "UPDATE since SET (at, entry) = (SELECT coalesce(i.date, j.entered), i.entry FROM joint j
             LEFT JOIN inspection i ON i.joint = j.joint AND i.covers & ?1 <> 0
             WHERE j.joint = since.joint ORDER BY i.date DESC, i.turn DESC LIMIT 1)
             WHERE scope = ?2",
            (1i64 << scope.rank(), scope.word()),
        )
        .unwrap();
    }
}
