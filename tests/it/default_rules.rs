//! Every rule that ships, on both sides of what makes it speak: a sound joint on which none speaks,
//! then one change that makes a rule speak and one just short of it.

use pipelore::filter::{Answer, Context, Select, compile};
use pipelore::model::{Instant, Scope, Vocabulary};
use pipelore::policy::RuleSet;
use pipelore::schema::{Table, layout};
use pipelore::units::UnitSystem;
use rusqlite::Connection;
use rusqlite::types::Value;

use crate::filter_book::mark;
use crate::world::rules;

const NOW: i64 = 1_781_506_800_000;
const DAY: i64 = 86_400_000;
const SEEN: i64 = NOW - 30 * DAY;

#[derive(Debug, PartialEq, Eq)]
enum Says {
    Yes,
    No,
    Unknown,
}

/// Inserts a row; columns that are not given are null where they may be, else nought or empty.
fn insert(conn: &Connection, table: &str, given: &[(&str, Value)]) {
    let mut statement = conn.prepare(&format!("PRAGMA table_info({table})")).unwrap();
    let columns: Vec<(String, String, bool)> = statement
        .query_map([], |r| {
            Ok((r.get(1)?, r.get(2)?, r.get::<_, i64>(3)? + r.get::<_, i64>(5)? > 0))
        })
        .unwrap()
        .map(Result::unwrap)
        .collect();
    for (name, _) in given {
        assert!(columns.iter().any(|c| c.0 == *name), "{table} has no {name}");
    }
    let values = columns.iter().map(|(name, kind, must)| {
        let said = |name: &str| given.iter().find(|g| g.0 == name).map(|g| g.1.clone());
        // Rows written by hand follow each other as their entries do, and none is in doubt.
        let own = said(name).or_else(|| match name.as_str() {
            "turn" => said("entry"),
            "on_hire" | "in_string" => Some(Value::Integer(0)),
            _ => None,
        });
        own.unwrap_or(match (must, kind.as_str()) {
            (false, _) => Value::Null,
            (true, "TEXT") => Value::Text(String::new()),
            (true, "BLOB") => Value::Blob(Vec::new()),
            (true, _) => Value::Integer(0),
        })
    });
    let marks = vec!["?"; columns.len()].join(", ");
    let list: Vec<String> = columns.iter().map(|c| format!("\"{}\"", c.0)).collect();
    conn.execute(
        &format!("INSERT INTO {table} ({}) VALUES ({marks})", list.join(", ")),
        rusqlite::params_from_iter(values),
    )
    .unwrap();
}

/// A joint of 5 in 19.50 lb/ft G-105 with NC50 on which nothing is amiss.
fn sound() -> Connection {
    let conn = Connection::open_in_memory().unwrap();
    for table in Table::ALL {
        conn.execute_batch(&layout::of_book(*table)).unwrap();
    }
    let int = Value::Integer;
    let text = |t: &str| Value::Text(t.to_owned());
    let inch = 25_400_000;
    let mut joint = vec![
        ("joint", int(1)),
        ("serial", text("A-1")),
        ("component", text("drill_pipe")),
        ("grade", text("G105")),
        ("connection", text("NC50")),
        ("od", int(5 * inch)),
        ("nominal_wall", int(9_194_800)),
        // 19.50 lb/ft in mg/m.
        ("weight", int(29_019_197)),
        ("tool_joint_od", int(168_275_000)),
        ("entered_new", int(1)),
        ("status", text("in_stock")),
        ("class", text("premium")),
        ("disposition", text("run")),
        ("wall", int(900_000_000)),
        ("wall_read", int(SEEN)),
        ("pin_od", int(168_275_000)),
        ("box_od", int(168_275_000)),
        ("pin_tong", int(8 * inch)),
        ("pin_stretch", int(0)),
        ("hardband", text("sound")),
        ("hardband_height", int(2_381_250)),
        ("inspected", int(SEEN)),
        ("runs", int(1)),
        ("life_complete", int(1)),
    ];
    let counters = [
        "hours",
        "revolutions",
        "footage",
        "damage",
        "pin_makeups",
        "box_makeups",
        "max_dogleg",
        "max_tension",
        "cased_hours",
        "open_turns",
        "side_work",
        "over_limit",
    ];
    let bounds: Vec<String> =
        counters.iter().flat_map(|c| [format!("{c}_lo"), format!("{c}_hi")]).collect();
    joint.extend(bounds.iter().map(|b| (b.as_str(), int(0))));
    insert(&conn, "joint", &joint);
    for scope in Scope::ALL {
        let mut since = vec![
            ("scope", text(scope.word())),
            ("joint", int(1)),
            ("at", int(SEEN)),
            ("entry", int(50)),
        ];
        since.extend(bounds.iter().map(|b| (b.as_str(), int(0))));
        insert(&conn, "since", &since);
    }
    insert(
        &conn,
        "inspection",
        &[
            ("joint", int(1)),
            ("date", int(SEEN)),
            ("entry", int(50)),
            ("covers", int((1 << 20) - 1)),
        ],
    );
    run(&conn, 20, NOW - 60 * DAY);
    conn
}

/// A run that ended then.
fn run(conn: &Connection, run: i64, finish: i64) {
    let int = Value::Integer;
    let ends = [("start", int(finish - DAY)), ("finish", int(finish)), ("run", int(run))];
    let figures = [
        "hours",
        "revolutions",
        "footage",
        "damage_pin",
        "damage_middle",
        "damage_box",
        "over_limit",
        "cased_hours",
        "open_turns",
        "side_work",
    ]
    .map(|c| (c, int(0)));
    // What is not said of a run is not known of it.
    insert(conn, "run", &[&ends[..], &[("sour", int(0))]].concat());
    let joint = [("joint", int(1)), ("restriction_broken", int(0))];
    insert(conn, "joint_run", &[&joint[..], &ends, &figures].concat());
}

fn says(conn: &Connection, set: &RuleSet, rule: &str) -> Says {
    let rules = set.for_filters();
    let nobody = |_: &str| Vec::new();
    let context = Context {
        now: Instant(NOW),
        clock: pipelore::model::Clock::UTC,
        units: UnitSystem::Us,
        rules: &rules,
        joints: &nobody,
        ask: &|_| Some(Vec::new()),
    };
    let compiled = compile(rule, &context).unwrap();
    let query = compiled.select(&Select::of(Answer::Both));
    let mut statement = conn.prepare(&query.sql).unwrap();
    let truth = query.truth.unwrap();
    let rows: Vec<Option<i64>> = statement
        .query_map(rusqlite::params_from_iter(&query.params), |r| r.get(truth))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    match rows.first() {
        None => Says::No,
        Some(Some(1)) => Says::Yes,
        Some(_) => Says::Unknown,
    }
}

/// A rule; what is so on both sides; what makes it speak; what is just short of that.
struct Case(&'static str, &'static str, &'static str, &'static str);

const AFTER: i64 = NOW - 10 * DAY;

/// Puts figures for the words of a case.
fn written(text: &str) -> String {
    text.replace("$AFTER", &AFTER.to_string())
        .replace("$BEFORE", &(SEEN - 5 * DAY).to_string())
        .replace("$NOW", &NOW.to_string())
        .replace("$DAY", &DAY.to_string())
        .replace("$EVENT", "INSERT INTO event (turn, joint, entry, what, date) VALUES (70, 1, 70,")
        .replace(
            "$MAKEUP",
            "INSERT INTO makeup (turn, joint, entry, generation, times, end, verdict, \
             instrument_doubtful, date) VALUES (70, 1, 70, 0, 1,",
        )
        .replace("$RAN", &format!(
            "INSERT INTO run SELECT 21, by_name, name, well, rig, string, {AFTER} - 1, {AFTER}, grade, \
             environment, sour, protectors, casing_depth, mud_weight, equipment, \
             equipment_doubtful, survey, joints, unidentified, run_hours, run_revolutions, \
             run_footage, depth_in, depth_out FROM run WHERE run = 20;
             INSERT INTO joint_run SELECT joint, {AFTER}, 0, 21, {AFTER} - 1, position, from_bit, \
             input_key, length, flags, conflicting, restriction_broken, hours, revolutions, \
             footage, max_dogleg, max_tension, max_bending, damage_pin, damage_middle, damage_box, \
             over_limit, cased_hours, open_turns, side_work, top_depth, bottom_depth, histogram \
             FROM joint_run WHERE run = 20"))
        .replace("$HIRE", "INSERT INTO hire (turn, joint, entry, name, party, date, back) VALUES (40, 1, 40, 'H', 'P',")
}

/// A counter since an inspection that covers a scope.
macro_rules! since {
    ($scope:literal, $counter:literal, $at:literal) => {
        concat!(
            "UPDATE since SET ",
            $counter,
            "_lo = ",
            $at,
            ", ",
            $counter,
            "_hi = ",
            $at,
            " WHERE scope = '",
            $scope,
            "'"
        )
    };
}

const HEAVY: &str = "UPDATE joint SET component = 'heavy_weight'";
const COLLAR: &str = "UPDATE joint SET component = 'drill_collar'";
const S135: &str = "UPDATE joint SET grade = 'S135'";

const CASES: &[Case] = &[
    Case(
        "hours_since_wall",
        "",
        since!("wall", "hours", "5400000001"),
        since!("wall", "hours", "5400000000"),
    ),
    Case(
        "footage_since_wall",
        "",
        since!("wall", "footage", "30480000000001"),
        since!("wall", "footage", "30480000000000"),
    ),
    Case(
        "damage_since_crack_search",
        "",
        since!("slip_cracks", "damage", "300000000000001"),
        since!("slip_cracks", "damage", "300000000000000"),
    ),
    Case(
        "damage_of_life",
        "$RAN",
        "UPDATE joint SET damage_lo = 700000000000001, damage_hi = 700000000000001",
        "UPDATE joint SET damage_lo = 700000000000000, damage_hi = 700000000000000",
    ),
    Case(
        "turns_above_no_fatigue_bend",
        "",
        since!("slip_cracks", "over_limit", "100000001"),
        since!("slip_cracks", "over_limit", "100000000"),
    ),
    Case(
        "hours_since_heavy_weight_cracks",
        HEAVY,
        since!("pin_cracks", "hours", "1440000001"),
        since!("pin_cracks", "hours", "1440000000"),
    ),
    Case(
        "hours_since_bha_cracks",
        COLLAR,
        since!("pin_cracks", "hours", "900000001"),
        since!("pin_cracks", "hours", "900000000"),
    ),
    Case(
        "wall_reading_old",
        "",
        "UPDATE joint SET wall_read = $NOW - 365 * $DAY - 1",
        "UPDATE joint SET wall_read = $NOW - 365 * $DAY",
    ),
    Case("crack_search_old", "", "UPDATE inspection SET covers = 0", ""),
    Case("readings_missing", "", "UPDATE joint SET box_od = NULL", ""),
    Case("class_unknown", "", "UPDATE joint SET class = NULL", ""),
    Case(
        "wall_near_premium",
        "$RAN",
        "UPDATE joint SET wall = 819999999",
        "UPDATE joint SET wall = 820000000",
    ),
    Case(
        "wall_below_premium",
        "",
        "UPDATE joint SET wall = 799999999",
        "UPDATE joint SET wall = 799999999, declared_class = 'class_2'",
    ),
    Case(
        "wall_below_premium",
        "",
        "UPDATE joint SET wall = 799999999, declared_class = 'premium'",
        "UPDATE joint SET wall = 800000000",
    ),
    Case(
        "wall_below_class_2",
        "",
        "UPDATE joint SET wall = 699999999, declared_class = 'class_2'",
        "UPDATE joint SET wall = 700000000",
    ),
    Case(
        "box_od_below_premium_g105",
        "",
        "UPDATE joint SET box_od = 154781249",
        "UPDATE joint SET box_od = 154781250",
    ),
    Case(
        "box_od_below_class_2_g105",
        "",
        "UPDATE joint SET box_od = 152399999",
        "UPDATE joint SET box_od = 152400000",
    ),
    Case(
        "box_od_below_premium_s135",
        S135,
        "UPDATE joint SET box_od = 160337499",
        "UPDATE joint SET box_od = 160337500",
    ),
    Case(
        "box_od_below_class_2_s135",
        S135,
        "UPDATE joint SET box_od = 157162499",
        "UPDATE joint SET box_od = 157162500",
    ),
    Case(
        "pin_tong_short",
        "",
        "UPDATE joint SET pin_tong = 126206249",
        "UPDATE joint SET pin_tong = 126206251",
    ),
    Case(
        "pin_tong_under_4_in",
        "",
        "UPDATE joint SET pin_tong = 101599999",
        "UPDATE joint SET pin_tong = 101600000",
    ),
    Case(
        "makeups_of_pin",
        "",
        since!("pin", "pin_makeups", "151"),
        since!("pin", "pin_makeups", "150"),
    ),
    Case(
        "makeups_of_box",
        "",
        since!("box", "box_makeups", "151"),
        since!("box", "box_makeups", "150"),
    ),
    Case(
        "makeups_since_recut",
        since!("pin", "pin_makeups", "1"),
        "UPDATE joint SET pin_makeups_lo = 401, pin_makeups_hi = 401",
        "UPDATE joint SET pin_makeups_lo = 400, pin_makeups_hi = 400",
    ),
    Case(
        "made_up_under_torque",
        "",
        "$MAKEUP 'pin', 'under', 0, $AFTER)",
        "$MAKEUP 'pin', 'under', 0, $BEFORE)",
    ),
    Case(
        "made_up_under_torque",
        "",
        "$MAKEUP 'box', 'under', 0, $AFTER)",
        "$MAKEUP 'box', 'on_target', 0, $AFTER)",
    ),
    Case(
        "made_up_over_torque",
        "",
        "$MAKEUP 'box', 'over', 0, $AFTER)",
        "$MAKEUP 'box', 'over', 1, $AFTER)",
    ),
    Case(
        "torque_gauge_doubtful",
        "",
        "$MAKEUP 'pin', NULL, 1, $AFTER)",
        "$MAKEUP 'pin', NULL, 0, $AFTER)",
    ),
    Case(
        "pin_stretched",
        "",
        "UPDATE joint SET pin_stretch = 152401",
        "UPDATE joint SET pin_stretch = 152400",
    ),
    Case("jarred_or_overpulled", "", "$EVENT 'jarring', $AFTER)", "$EVENT 'jarring', $BEFORE)"),
    Case("jarred_or_overpulled", "", "$EVENT 'overpull', $AFTER)", "$EVENT 'acid', $AFTER)"),
    Case(
        "connection_shocked",
        "",
        "$EVENT 'string_shot', $AFTER)",
        "$EVENT 'string_shot', $BEFORE)",
    ),
    Case("severe_vibration", "", "$EVENT 'vibration', $AFTER)", "$EVENT 'vibration', $BEFORE)"),
    Case("sour_service", "", "$EVENT 'h2s', $AFTER)", "$EVENT 'h2s', $BEFORE)"),
    Case("sour_service_threads", COLLAR, "$EVENT 'h2s', $AFTER)", "$EVENT 'h2s', $BEFORE)"),
    Case(
        "sour_service",
        "$RAN",
        "UPDATE run SET sour = 1 WHERE run = 21",
        "UPDATE run SET sour = 1 WHERE run = 20",
    ),
    Case(
        "heated",
        "",
        "$EVENT 'heat', $BEFORE)",
        "$EVENT 'heat', $BEFORE); INSERT INTO decision (turn, joint, date, entry, ruling, reason) VALUES (71, 1, $AFTER, 71, 'release', 'hardness read')",
    ),
    Case(
        "worn_bushing",
        "$RAN",
        "UPDATE run SET equipment_doubtful = 1 WHERE run = 21",
        "UPDATE run SET equipment_doubtful = 1 WHERE run = 20",
    ),
    Case("wall_gauge_doubtful", "", "UPDATE inspection SET instrument_doubtful = 1", ""),
    Case(
        "restriction_broken",
        "$RAN",
        "UPDATE joint_run SET restriction_broken = 1 WHERE run = 21",
        "UPDATE joint_run SET restriction_broken = 1 WHERE run = 20",
    ),
    Case(
        "hardband_worn",
        "",
        "UPDATE joint SET hardband_height = 793749",
        "UPDATE joint SET hardband_height = 793750",
    ),
    Case(
        "hardband_bad",
        "",
        "UPDATE joint SET hardband = 'spalled'",
        "UPDATE joint SET hardband = 'worn'",
    ),
    Case(
        "rough_hardband_in_casing",
        "UPDATE joint SET hardband = 'rough', cased_hours_lo = 3600000, cased_hours_hi = 3600000",
        "UPDATE since SET cased_hours_lo = 1, cased_hours_hi = 1 WHERE scope = 'hardband'",
        "UPDATE since SET cased_hours_lo = 1, cased_hours_hi = 1 WHERE scope = 'wall'",
    ),
    Case(
        "shop_work",
        "",
        "UPDATE joint SET disposition = 'shop'",
        "UPDATE joint SET disposition = 'dress'",
    ),
    Case(
        "dress_on_site",
        "",
        "UPDATE joint SET disposition = 'dress'",
        "UPDATE joint SET disposition = 'shop'",
    ),
    // Work that a finding calls for stays called while something unknown holds the joint as well.
    Case(
        "shop_work",
        "UPDATE joint SET disposition = 'hold'",
        "INSERT INTO finding (turn, joint, date, entry, n, what, open, disposition) VALUES (70, 1, $AFTER, 70, 1, 'seal_damage', 1, 'reface')",
        "INSERT INTO finding (turn, joint, date, entry, n, what, open, disposition) VALUES (70, 1, $AFTER, 70, 1, 'seal_damage', 0, 'reface')",
    ),
    Case(
        "dress_on_site",
        "UPDATE joint SET disposition = 'hold'",
        "INSERT INTO finding (turn, joint, date, entry, n, what, open, disposition) VALUES (70, 1, $AFTER, 70, 1, 'galled', 1, 'dress')",
        "INSERT INTO finding (turn, joint, date, entry, n, what, open, disposition) VALUES (70, 1, $AFTER, 70, 1, 'galled', 0, 'dress')",
    ),
    Case(
        "out_of_string",
        "",
        "UPDATE joint SET disposition = 'out'",
        "UPDATE joint SET disposition = 'out', status = 'quarantine'",
    ),
    Case(
        "on_hold",
        "",
        "INSERT INTO finding (turn, joint, date, entry, n, what, open, disposition) VALUES (70, 1, $AFTER, 70, 1, 'crack', 1, 'hold')",
        "INSERT INTO finding (turn, joint, date, entry, n, what, open, disposition) VALUES (70, 1, $AFTER, 70, 1, 'crack', 0, 'hold')",
    ),
    Case(
        "failed_joint",
        "",
        "UPDATE joint SET failed_on = 5",
        "UPDATE joint SET failed_on = 5, status = 'quarantine'",
    ),
    Case(
        "facts_in_conflict",
        "",
        "UPDATE joint SET conflicted = 1",
        "UPDATE joint SET conflicted = 1, status = 'quarantine'",
    ),
    Case("class_in_dispute", "", "UPDATE joint SET class_disputed = 1", ""),
    Case("back_from_hire", "", "$HIRE 0, $AFTER)", "$HIRE 0, $BEFORE)"),
    Case(
        "scrap_class",
        "",
        "UPDATE joint SET class = 'scrap'",
        "UPDATE joint SET class = 'class_3'",
    ),
];

#[test]
fn no_rule_speaks_of_a_sound_joint() {
    let set = rules();
    let conn = sound();
    let spoke: Vec<_> = set
        .rules
        .iter()
        .map(|r| (r.name.as_str(), says(&conn, &set, &r.name)))
        .filter(|(_, s)| *s != Says::No)
        .collect();
    assert!(spoke.is_empty(), "{spoke:?}");
}

#[test]
fn every_rule_speaks_on_one_side_and_is_silent_on_the_other() {
    let set = rules();
    let mut wrong = Vec::new();
    for Case(rule, both, speaks, silent) in CASES {
        for (change, wanted) in [(speaks, Says::Yes), (silent, Says::No)] {
            let conn = sound();
            for sql in [both, change] {
                conn.execute_batch(&written(sql)).unwrap_or_else(|e| panic!("{rule}: {sql}: {e}"));
            }
            mark(&conn);
            let said = says(&conn, &set, rule);
            if said != wanted {
                wrong.push(format!("{rule}: {said:?} after {change}"));
            }
        }
    }
    let untried: Vec<&str> = set
        .rules
        .iter()
        .map(|r| r.name.as_str())
        .filter(|name| !CASES.iter().any(|c| c.0 == *name))
        .collect();
    assert!(wrong.is_empty() && untried.is_empty(), "{wrong:#?}\nuntried: {untried:?}");
}

#[test]
fn a_missing_reading_leaves_a_rule_undecided() {
    let set = rules();
    let cases = [
        ("wall_below_premium", "UPDATE joint SET wall = NULL"),
        ("box_od_below_premium_g105", "UPDATE joint SET box_od = NULL"),
        ("pin_stretched", "UPDATE joint SET pin_stretch = NULL"),
        ("pin_tong_short", "UPDATE joint SET pin_tong = NULL"),
        ("hardband_worn", "UPDATE joint SET hardband_height = NULL"),
        ("hours_since_wall", "UPDATE since SET hours_hi = NULL WHERE scope = 'wall'"),
        ("scrap_class", "UPDATE joint SET class = NULL"),
    ];
    for (rule, change) in cases {
        let conn = sound();
        conn.execute_batch(change).unwrap();
        assert_eq!(says(&conn, &set, rule), Says::Unknown, "{rule}");
    }
}

#[test]
fn every_rule_has_its_source_and_says_what_it_stands_on() {
    let set = rules();
    for rule in &set.rules {
        let practice = rule.provenance == pipelore::model::Provenance::CommonPractice;
        // What has no source says so in words.
        assert!(
            !practice || rule.source.contains("common practice") || rule.source.contains("finding"),
            "{}: {}",
            rule.name,
            rule.source
        );
        assert!(rule.reason.chars().next().is_some_and(char::is_lowercase), "{}", rule.name);
    }
}
