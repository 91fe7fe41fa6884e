//! Runs in sharp doglegs: found by the index over all runs, with the same answer as without it.

use pipelore::filter::{Answer, Compiled, Select, compile};
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};

use crate::filter_book::{context, empty, mark, plan, rows, rules, shown};

/// Writes a row: what is given, and nothing or zero for the rest.
fn put(conn: &Connection, table: &str, given: &[(&str, i64)]) {
    let mut info =
        conn.prepare("SELECT name, \"notnull\" OR pk, type FROM pragma_table_info(?1)").unwrap();
    let columns: Vec<(String, bool, String)> = info
        .query_map([table], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    for (name, _) in given {
        assert!(columns.iter().any(|c| c.0 == *name), "{table} has no {name}");
    }
    let values = columns.iter().map(|(name, needed, kind)| {
        match (given.iter().find(|g| g.0 == name), needed, kind.as_str()) {
            (Some((_, n)), _, _) => Value::Integer(*n),
            (None, false, _) => Value::Null,
            (None, true, "TEXT") => Value::Text("x".to_owned()),
            (None, true, "BLOB") => Value::Blob(Vec::new()),
            (None, true, _) => Value::Integer(0),
        }
    });
    let marks = vec!["?"; columns.len()].join(", ");
    let sql = format!("INSERT INTO {table} VALUES ({marks})");
    conn.execute(&sql, params_from_iter(values)).unwrap();
}

const HOUR: i64 = 3_600_000;
const DAY: i64 = 86_400_000;
/// 2026-01-01.
const YEAR: i64 = 1_767_225_600_000;

/// A run that took ten days from a day of 2026 on: dogleg in hundredths of deg/m, hours, whether
/// it clashes with another.
type Run = (i64, Option<i64>, i64, bool);

/// Joints with their runs.
fn book(joints: &[&[Run]]) -> Connection {
    let conn = empty();
    for (joint, runs) in (1..).zip(joints) {
        let mut known = true;
        let (mut sharpest, mut hours) = (0, 0);
        for (run, (day, dogleg, spent, clash)) in (joint * 100..).zip(*runs) {
            let start = YEAR + day * DAY;
            put(&conn, "run", &[("run", run), ("start", start), ("finish", start + 10 * DAY)]);
            let mut row = vec![
                ("joint", joint),
                ("run", run),
                ("start", start),
                ("finish", start + 10 * DAY),
                ("hours", spent * HOUR),
                ("conflicting", i64::from(*clash)),
            ];
            row.extend(dogleg.map(|d| ("max_dogleg", d * 10_000_000)));
            put(&conn, "joint_run", &row);
            known &= dogleg.is_some() && !clash;
            if !clash {
                sharpest = sharpest.max(dogleg.unwrap_or(0) * 10_000_000);
                hours += spent * HOUR;
            }
        }
        let clashes = runs.iter().any(|r| r.3);
        let mut row = vec![
            ("joint", joint),
            ("entered", YEAR),
            ("entered_new", 1),
            ("life_complete", 1),
            ("conflicted", i64::from(clashes)),
            ("max_dogleg_lo", sharpest),
            ("hours_lo", hours),
        ];
        if known {
            row.extend([("max_dogleg_hi", sharpest), ("hours_hi", hours)]);
        }
        put(&conn, "joint", &row);
    }
    mark(&conn);
    conn
}

fn compiled(text: &str) -> Compiled {
    let rules = rules();
    compile(text, &context(&rules)).unwrap_or_else(|e| panic!("{}", shown(&e)))
}

fn joints(conn: &Connection, text: &str, answer: Answer) -> Vec<i64> {
    let mut found: Vec<i64> = rows(conn, &compiled(text).select(&Select::of(answer)))
        .into_iter()
        .map(|r| if let Value::Integer(n) = r[0] { n } else { panic!("{r:?}") })
        .collect();
    found.sort_unstable();
    found
}

#[test]
fn clashing_and_unmeasured_runs_stay_undecided() {
    let conn = book(&[
        // 1: sharp and long
        &[(0, Some(30), 40, false)],
        // 2: sharp and long, but nobody knows whether it was in that run
        &[(0, Some(30), 40, true)],
        // 3: one such run, and one that stands
        &[(0, Some(30), 40, true), (20, Some(28), 25, false)],
        // 4: sharp in one run, long in another
        &[(0, Some(30), 10, false), (20, Some(5), 90, false)],
        // 5: the path of the hole is not known
        &[(0, None, 40, false)],
        // 6: just at the limit
        &[(0, Some(20), 20, false)],
        // 7: never ran
        &[],
        // 8: sharp in one run, long in another, both only in one that clashes
        &[(0, Some(30), 40, true), (20, Some(30), 10, false), (40, Some(5), 90, false)],
    ]);
    let both = "any run (max_dogleg > 0.2 deg/m and rotating_hours > 20 h)";
    assert_eq!(joints(&conn, both, Answer::Matching), [1, 3]);
    assert_eq!(joints(&conn, both, Answer::Undecided), [2, 5, 8]);
    let at_least = "any run (0.2 deg/m <= max_dogleg and hours >= 20 h)";
    assert_eq!(joints(&conn, at_least, Answer::Matching), [1, 3, 6]);
    let no = "no run (max_dogleg > 0.2 deg/m)";
    assert_eq!(joints(&conn, no, Answer::Matching), [6, 7]);
    assert_eq!(joints(&conn, no, Answer::Undecided), [2, 5]);
    // What the index does not hold is still asked.
    let more = "any run (max_dogleg > 0.2 deg/m and hours > 20 h and hours < 30 h)";
    assert_eq!(joints(&conn, more, Answer::Matching), [3]);
    // The unmeasured run of joint 5 took 40 h: too long, however sharp it was.
    assert_eq!(joints(&conn, more, Answer::Undecided), [0i64; 0]);
    // In a window: only what lies in it.
    let late = "any run (max_dogleg > 0.2 deg/m and hours > 20 h) since 2026-01-15";
    assert_eq!(joints(&conn, late, Answer::Matching), [3]);
    let early = "any run (max_dogleg > 0.2 deg/m and hours > 20 h) before 2026-01-15";
    assert_eq!(joints(&conn, early, Answer::Matching), [1]);
    assert_eq!(joints(&conn, early, Answer::Undecided), [2, 3, 5, 8]);
}

#[test]
fn the_index_is_used_with_and_without_statistics() {
    let many: Vec<Vec<Run>> = (0..300i64)
        .map(|j| (0..10).map(|r| (r * 12, Some((j * 7 + r * 11) % 37), 20 + r, false)).collect())
        .collect();
    let conn = book(&many.iter().map(Vec::as_slice).collect::<Vec<_>>());
    let sharp = compiled("any run (max_dogleg > 0.35 deg/m and hours > 20 h)");
    let gentle = compiled("any run (max_dogleg > 0.05 deg/m and hours > 20 h)");
    let with_well = compiled("any run (max_dogleg > 0.35 deg/m and well = \"Larkfield 2H\")");
    let one_string = compiled("string = \"K1\" and any run (max_dogleg > 0.35 deg/m)");
    for statistics in [false, true] {
        if statistics {
            conn.execute_batch("ANALYZE").unwrap();
        }
        let steps = |c: &Compiled| plan(&conn, &c.select(&Select::of(Answer::Matching)));
        let uses = |c: &Compiled, index: &str| steps(c).iter().any(|s| s.contains(index));
        let scans = |c: &Compiled| steps(c).iter().any(|s| s.starts_with("SCAN"));
        assert!(uses(&sharp, "COVERING INDEX joint_run_dogleg"), "{:?}", steps(&sharp));
        assert!(!scans(&sharp), "{:?}", steps(&sharp));
        assert!(!uses(&gentle, "joint_run_dogleg"), "{:?}", steps(&gentle));
        // Another index, or another condition, leaves few joints already.
        assert!(!uses(&with_well, "joint_run_dogleg"), "{:?}", steps(&with_well));
        // A name is looked for in any spelling: through the names of the runs alone.
        let names = "SCAN q USING COVERING INDEX run_well";
        let scanned = |s: &String| s.starts_with("SCAN") && s != names;
        assert!(!steps(&with_well).iter().any(scanned), "{:?}", steps(&with_well));
        assert!(!uses(&one_string, "joint_run_dogleg"), "{:?}", steps(&one_string));
    }
}
