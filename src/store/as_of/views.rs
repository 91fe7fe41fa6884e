//! The tables of the projections as a date sees them: views of one connection, each in the place of
//! the table of its name. Every view reads one table, or a joint with the two states in force, so that
//! SQLite takes conditions, orders and indexes through it.

use std::fmt::Write as _;

use rusqlite::Connection;

use super::view::AsOf;
use crate::schema::{
    Column, ConflictRow, CustodyRow, FindingRow, HireRow, JointRow, JointRunRow, JointStateRow,
    Over, Row, RunPartRow, RunRow, SerialRow, SinceRow, Table,
};
use crate::store::entries;
use crate::store::error::{InFile, Result};
use crate::store::rows::put_into;

/// Tables of which a row is seen as it stands or not at all: with its entry, or from its instant on.
const BY_ENTRY: [(Table, &str); 7] = [
    (Table::Touch, "entry"),
    (Table::BookFact, "entry"),
    (Table::FileTaken, "first_entry"),
    (Table::Content, "entry"),
    (Table::Struck, "entry"),
    (Table::Gap, "entry"),
    // Openings come with their joint.
    (Table::Opening, "joint"),
];
const BY_TIME: [(Table, &str); 8] = [
    (Table::Dimension, "at"),
    (Table::Inspection, "date"),
    (Table::Repair, "date"),
    (Table::Makeup, "date"),
    (Table::Event, "date"),
    (Table::Failure, "date"),
    (Table::Decision, "date"),
    (Table::EntryTime, "at"),
];

/// Tables of which some joints may have other rows than the file's, and where these stand.
const OTHERWISE: [(Table, &str, &str); 3] = [
    (Table::JointState, "at", "other_joint_state"),
    (Table::Custody, "at", "other_custody"),
    (Table::Move, "date", "other_move"),
];

/// Columns of a run that grow while it is under way.
const GROWING: [&str; 8] = [
    "equipment_doubtful",
    "joints",
    "unidentified",
    "run_hours",
    "run_revolutions",
    "run_footage",
    "depth_in",
    "depth_out",
];

/// Shadows the tables of a connection.
pub(super) fn shadow(conn: &Connection, as_of: &AsOf) -> Result<()> {
    let path = &as_of.path;
    let mut sql = String::from(
        "CREATE TEMP TABLE hidden (position INTEGER PRIMARY KEY);
         CREATE TEMP TABLE under_way (run INTEGER PRIMARY KEY);
         CREATE TEMP TABLE conflict (joint, n, first_entry, second_entry, what,
             PRIMARY KEY (joint, n)) WITHOUT ROWID;
         CREATE TEMP TABLE looked_at (joint, run, turn, conflicting, PRIMARY KEY (joint, run))
             WITHOUT ROWID;
         CREATE TEMP TABLE otherwise (joint INTEGER PRIMARY KEY);
         CREATE TEMP TABLE other_joint_state AS SELECT * FROM main.joint_state LIMIT 0;
         CREATE TEMP TABLE other_custody AS SELECT * FROM main.custody LIMIT 0;
         CREATE TEMP TABLE other_move AS SELECT * FROM main.move LIMIT 0;",
    );
    for (table, statement) in views(as_of) {
        let _ = write!(sql, "CREATE TEMP VIEW {table} AS {statement};");
    }
    conn.execute_batch(&sql).in_file(path)?;
    let sight = &as_of.sight;
    let one = |sql: &str, values: &[i64]| -> Result<()> {
        let mut statement = conn.prepare(sql).in_file(path)?;
        values.iter().try_for_each(|v| statement.execute([v]).in_file(path).map(drop))
    };
    let hidden: Vec<i64> = sight.hidden.iter().copied().collect();
    one("INSERT INTO temp.hidden VALUES (?1)", &hidden)?;
    one("INSERT INTO temp.under_way VALUES (?1)", &sight.under_way)?;
    one("INSERT INTO temp.under_way VALUES (?1)", &sight.struck_under_way)?;
    let Some(conflicts) = as_of.conflicts() else { return Ok(()) };
    for row in &conflicts.rows {
        put_into(conn, path, ConflictRow::TABLE, row)?;
    }
    for (joint, runs) in &conflicts.runs {
        for r in runs {
            let values = [*joint, r.run, r.turn, i64::from(r.conflicting)];
            conn.execute("INSERT INTO temp.looked_at VALUES (?1, ?2, ?3, ?4)", values)
                .in_file(path)?;
        }
    }
    let otherwise: Vec<i64> = conflicts.otherwise.iter().copied().collect();
    one("INSERT INTO temp.otherwise VALUES (?1)", &otherwise)?;
    conflicts.states.iter().try_for_each(|row| put_into(conn, path, "other_joint_state", row))?;
    conflicts.custody.iter().try_for_each(|row| put_into(conn, path, "other_custody", row))?;
    conflicts.moves.iter().try_for_each(|row| put_into(conn, path, "other_move", row))
}

/// Every view: its table, and what it selects.
fn views(as_of: &AsOf) -> Vec<(&'static str, String)> {
    let at = as_of.horizon;
    let sight = &as_of.sight;
    let seen = |place: &str| {
        let with_others = if sight.hidden.is_empty() {
            String::new()
        } else {
            format!(" AND {place} NOT IN (SELECT position FROM temp.hidden)")
        };
        format!(
            "NOT EXISTS (SELECT 1 FROM main.entry_time h WHERE h.entry = {place} AND h.at >= {at})\
             {with_others}"
        )
    };
    let mut out = vec![
        ("entry", entries(&seen("entry.position"))),
        (
            "projection_state",
            format!(
                "SELECT only, version, {} AS position, clock FROM main.projection_state",
                sight.place
            ),
        ),
        ("survey", "SELECT * FROM main.survey".to_owned()),
        ("run", runs(at)),
        ("joint_run", joint_runs(as_of)),
        ("run_part", run_parts(at)),
        ("joint", joints(as_of)),
        ("since", since(at)),
    ];
    for (table, entry) in BY_ENTRY {
        let table = table.name();
        let own = seen(&format!("{table}.{entry}"));
        out.push((table, format!("SELECT * FROM main.{table} WHERE {own}")));
    }
    for (table, instant) in BY_TIME {
        let table = table.name();
        out.push((table, format!("SELECT * FROM main.{table} WHERE {instant} < {at}")));
    }
    for (table, instant, other) in OTHERWISE {
        let table = table.name();
        let mut sql = format!("SELECT * FROM main.{table} WHERE {instant} < {at}");
        if any_otherwise(as_of) {
            let _ = write!(
                sql,
                " AND joint NOT IN (SELECT joint FROM temp.otherwise) UNION ALL SELECT * FROM temp.{other}"
            );
        }
        out.push((table, sql));
    }
    // What a later entry wrote into a row is not there yet.
    let still = |column: &str| format!("CASE WHEN back < {at} THEN {column} END");
    out.push((
        HireRow::TABLE,
        select::<HireRow>("date", at, |c| match c {
            "back" | "back_entry" => Some(still(c)),
            _ => None,
        }),
    ));
    let cleared = seen("finding.cleared_by");
    out.push((
        FindingRow::TABLE,
        select::<FindingRow>("date", at, |c| match c {
            "open" => {
                Some(format!("CASE WHEN cleared_by IS NULL OR {cleared} THEN \"open\" ELSE 1 END"))
            }
            "cleared_by" => Some(format!("CASE WHEN {cleared} THEN cleared_by END")),
            _ => None,
        }),
    ));
    let of_serials = select::<SerialRow>("since", i64::MAX, |c| {
        (c == "until").then(|| format!("CASE WHEN until < {at} THEN until END"))
    });
    out.push((SerialRow::TABLE, format!("{of_serials} AND {}", seen("serial.entry"))));
    out
}

/// All rows of a table before an instant; some columns in other words.
fn select<R: Row>(
    instant: &str,
    before: i64,
    other: impl Fn(&'static str) -> Option<String>,
) -> String {
    let columns: Vec<String> = R::spec()
        .names
        .iter()
        .map(|c| other(c).map_or_else(|| format!("\"{c}\""), |sql| format!("{sql} AS \"{c}\"")))
        .collect();
    format!("SELECT {} FROM main.\"{}\" WHERE {instant} < {before}", columns.join(", "), R::TABLE)
}

fn entries(seen: &str) -> String {
    let cut = "position IN (SELECT run FROM temp.under_way)";
    let columns: Vec<String> = entries::COLUMNS
        .split(", ")
        .map(|c| match c {
            "effective" | "body" => {
                format!("CASE WHEN {cut} THEN past_words(position, '{c}') ELSE {c} END AS {c}")
            }
            _ => c.to_owned(),
        })
        .collect();
    format!("SELECT {} FROM main.entry WHERE {seen}", columns.join(", "))
}

fn runs(at: i64) -> String {
    select::<RunRow>("start", at, |c| match c {
        "finish" => Some(format!("min(finish, {at})")),
        c if GROWING.contains(&c) => {
            Some(format!("CASE WHEN finish > {at} THEN past_run(run, '{c}') ELSE \"{c}\" END"))
        }
        _ => None,
    })
}

/// Whether some joints were otherwise than the file says.
fn any_otherwise(as_of: &AsOf) -> bool {
    as_of.conflicts().is_some_and(|c| !c.otherwise.is_empty())
}

/// The row of a joint's run among those that were looked at again.
const LOOKED_AT: &str =
    "FROM temp.looked_at c WHERE c.joint = joint_run.joint AND c.run = joint_run.run";

fn joint_runs(as_of: &AsOf) -> String {
    let at = as_of.horizon;
    let any = as_of.conflicts().is_some_and(|c| !c.runs.is_empty());
    select::<JointRunRow>("start", at, |c| match c {
        "joint" | "run" | "start" | "position" => None,
        "finish" => Some(format!("min(finish, {at})")),
        "conflicting" if any => Some(format!("EXISTS (SELECT 1 {LOOKED_AT} AND c.conflicting)")),
        // Runs that the date cuts end together.
        "turn" if any => Some(format!("coalesce((SELECT c.turn {LOOKED_AT}), turn)")),
        "turn" => None,
        "conflicting" => Some("0".to_owned()),
        c => Some(format!(
            "CASE WHEN finish > {at} THEN past_joint_run(joint, run, '{c}') ELSE \"{c}\" END"
        )),
    })
}

fn run_parts(at: i64) -> String {
    select::<RunPartRow>("cut", at, |c| match c {
        "joint" | "run" | "cut" => None,
        c => Some(format!(
            "CASE WHEN run IN (SELECT run FROM temp.under_way) \
             THEN past_part(joint, run, cut, '{c}') ELSE \"{c}\" END"
        )),
    })
}

fn joints(as_of: &AsOf) -> String {
    let at = as_of.horizon;
    let otherwise = any_otherwise(as_of);
    // A column of the file's row, or of the joint's other one.
    let of = |own: &str, other: &str, c: &str| {
        if otherwise {
            format!("CASE WHEN {other}.joint IS NULL THEN {own}.\"{c}\" ELSE {other}.\"{c}\" END")
        } else {
            format!("{own}.\"{c}\"")
        }
    };
    let of_state = |c: &str| of("s", "t", c);
    let conflicted = if as_of.conflicts().is_some_and(|c| !c.rows.is_empty()) {
        "EXISTS (SELECT 1 FROM temp.conflict c WHERE c.joint = j.joint)"
    } else {
        "0"
    };
    let columns: Vec<String> = JointRow::spec()
        .names
        .iter()
        .map(|c| match *c {
            "conflicted" => format!("{conflicted} AS conflicted"),
            "fit" => {
                let fit = of_state("fit");
                format!(
                    "CASE WHEN {conflicted} AND {fit} IS NOT 'not_fit' THEN NULL ELSE {fit} END \
                     AS fit"
                )
            }
            "unfit_because" => {
                let because = of_state("unfit_because");
                format!(
                    "CASE WHEN NOT {conflicted} \
                     OR instr(', ' || {because} || ',', ', conflict,') THEN {because} \
                     WHEN {because} IS NULL THEN 'conflict' \
                     ELSE {because} || ', conflict' END AS unfit_because"
                )
            }
            "presence" => {
                format!("({} | past_life(j.joint, 'presence')) AS presence", of_state("presence"))
            }
            c if is_of_runs(c) => format!("past_life(j.joint, '{c}') AS \"{c}\""),
            "joint" => "j.joint AS joint".to_owned(),
            c if CustodyRow::spec().names.contains(&c) => {
                format!("{} AS \"{c}\"", of("u", "v", c))
            }
            c if JointStateRow::spec().names.contains(&c) => {
                format!("{} AS \"{c}\"", of_state(c))
            }
            // What it entered with never changes.
            c => format!("j.\"{c}\" AS \"{c}\""),
        })
        .collect();
    let in_force = |table: &str| {
        format!("(SELECT max(x.at) FROM {table} x WHERE x.joint = j.joint AND x.at < {at})")
    };
    format!(
        "SELECT {} FROM main.joint j
         CROSS JOIN main.joint_state s ON s.joint = j.joint AND s.at = {}
         CROSS JOIN main.custody u ON u.joint = j.joint AND u.at = {}
         {}
         WHERE j.entered < {at}",
        columns.join(", "),
        in_force("main.joint_state"),
        in_force("main.custody"),
        if otherwise {
            let other = |table: &str, name: &str| {
                let last = in_force(&format!("temp.{table}"));
                format!(
                    "LEFT JOIN temp.{table} {name} ON {name}.joint = j.joint AND {name}.at = {last}"
                )
            };
            format!("{} {}", other("other_joint_state", "t"), other("other_custody", "v"))
        } else {
            String::new()
        }
    )
}

/// Whether a column of a joint sums up runs and make-ups.
fn is_of_runs(column: &str) -> bool {
    let sums =
        SinceRow::spec().names.contains(&column) && !["joint", "at", "entry"].contains(&column);
    let at_a_place = |c: &&Column| matches!(c.over, Some(Over::Place(..)));
    let mut places = JointRow::spec().columns.iter().filter(at_a_place).flat_map(Column::stored);
    sums || places.any(|(name, _)| name == column) || ["runs", "last_run"].contains(&column)
}

fn since(at: i64) -> String {
    let columns: Vec<String> = SinceRow::spec()
        .names
        .iter()
        .map(|c| match *c {
            "scope" | "joint" => format!("s.\"{c}\" AS \"{c}\""),
            c => format!("past_since(s.joint, s.scope, '{c}') AS \"{c}\""),
        })
        .collect();
    format!(
        "SELECT {} FROM main.since s
         WHERE (SELECT entered FROM main.joint j WHERE j.joint = s.joint) < {at}",
        columns.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::migrate;

    #[test]
    fn every_table_of_the_projections_is_shadowed() {
        let shadowed: Vec<&str> = ["conflict"]
            .into_iter()
            .chain(BY_ENTRY.map(|t| t.0.name()))
            .chain(BY_TIME.map(|t| t.0.name()))
            .chain(OTHERWISE.map(|t| t.0.name()))
            .chain(["projection_state", "survey", "run", "joint_run", "run_part", "joint", "since"])
            .chain([HireRow::TABLE, FindingRow::TABLE, SerialRow::TABLE])
            .collect();
        for table in migrate::projection_tables() {
            assert!(shadowed.contains(&table), "{table}");
        }
    }
}
