//! What is seen from a date of the entries of a book, and whether the rest can be left out.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use rusqlite::Connection;

use crate::model::{Body, Clock, DAY_MS, EntryId, EntryKind, Instant, Vocabulary};
use crate::projection::adoptions::Adoptions;
use crate::projection::facts::Placed;
use crate::projection::horizon::{SeenFrom, seen_from, words_at};
use crate::projection::joint::MISFIT;
use crate::projection::kinds::{Role, Seen, Topic, kinds};
use crate::store::amended::counted;
use crate::store::clock;
use crate::store::entries::{position_of, read_at, sql_list};
use crate::store::error::{InFile, Result, StoreError};
use crate::store::project::tells_joints_apart;

/// What is seen from a date.
#[derive(Debug, Default)]
pub(in crate::store) struct Sight {
    /// Entries that are not, because those that they come with are not. Of all others their own
    /// instant tells (`entry_time`).
    pub hidden: BTreeSet<i64>,
    /// Runs that were under way.
    pub under_way: Vec<i64>,
    /// The same of runs that count no more.
    pub struck_under_way: Vec<i64>,
    /// How many entries are not seen.
    pub later: usize,
    /// The last place that is seen.
    pub place: i64,
}

/// Places of entries in one column.
fn list(conn: &Connection, path: &Path, sql: &str) -> Result<Vec<i64>> {
    let mut statement = conn.prepare(sql).in_file(path)?;
    let rows = statement.query_map([], |r| r.get(0)).in_file(path)?;
    rows.collect::<rusqlite::Result<_>>().in_file(path)
}

fn exists(conn: &Connection, path: &Path, sql: &str) -> Result<bool> {
    conn.query_row(&format!("SELECT EXISTS ({sql})"), [], |r| r.get(0)).in_file(path)
}

fn read(conn: &Connection, path: &Path, position: i64) -> Result<Placed> {
    let entry = read_at(conn, path, position)?
        .ok_or_else(|| StoreError::NoEntry(format!("at position {position}")))?;
    let entry = counted(conn, path, entry, i64::MAX)?;
    Ok(Placed::new(position, entry, clock::of(conn, path)?))
}

/// Entries up to a place that are not seen from a date because of others.
pub(in crate::store) fn hidden_with_others(
    conn: &Connection,
    path: &Path,
    horizon: Instant,
    known_to: i64,
) -> Result<BTreeSet<i64>> {
    // Openings and names are many; they come with their joint.
    let any_joint = exists(
        conn,
        path,
        &format!(
            "SELECT 1 FROM entry e CROSS JOIN entry_time t ON t.entry = e.position
             WHERE e.kind = '{}' AND e.position <= {known_to} AND t.at >= {}",
            EntryKind::Joint.word(),
            horizon.0
        ),
    )?;
    let with_joints = [EntryKind::Opening, EntryKind::Identity];
    let with_others = kinds(|role| matches!(role.seen, Seen::WithOthers(_)));
    let kinds = sql_list(with_others.filter(|kind| any_joint || !with_joints.contains(kind)));
    let places = list(
        conn,
        path,
        &format!(
            "SELECT position FROM entry WHERE kind IN ({kinds}) AND position <= {known_to}
             AND NOT EXISTS (SELECT 1 FROM entry_time t WHERE t.entry = entry.position)
             ORDER BY position"
        ),
    )?;
    let mut hidden = BTreeSet::new();
    let mut waiting = Vec::new();
    for position in places {
        let placed = read(conn, path, position)?;
        let (names, any) = match seen_from(&placed.entry, placed.clock) {
            SeenFrom::WithAny(names) => (names, true),
            SeenFrom::WithAll(names) => (names, false),
            SeenFrom::Always | SeenFrom::After(_) => continue,
        };
        // What the book does not hold hides nothing.
        let mut places = Vec::with_capacity(names.len());
        for name in names {
            places.push(position_of(conn, path, &name)?.filter(|p| *p <= known_to));
        }
        waiting.push((position, places, any));
    }
    let mut own = BTreeMap::new();
    for place in waiting.iter().flat_map(|(_, places, _)| places).flatten() {
        if !own.contains_key(place) {
            let at = list(conn, path, &format!("SELECT at FROM entry_time WHERE entry = {place}"))?;
            own.insert(*place, at.first().is_some_and(|at| *at >= horizon.0));
        }
    }
    // What hides one may hide another, until no more is hidden.
    loop {
        let before = hidden.len();
        for (position, places, any) in &waiting {
            let is_hidden = |place: &Option<i64>| {
                place.is_some_and(|p| hidden.contains(&p) || own.get(&p) == Some(&true))
            };
            let gone =
                if *any { places.iter().all(is_hidden) } else { places.iter().any(is_hidden) };
            if gone {
                hidden.insert(*position);
            }
        }
        if hidden.len() == before {
            return Ok(hidden);
        }
    }
}

impl Sight {
    pub(super) fn from(conn: &Connection, path: &Path, horizon: Instant) -> Result<Self> {
        let hidden = hidden_with_others(conn, path, horizon, i64::MAX)?;
        let at = horizon.0;
        let under_way =
            list(conn, path, &format!("SELECT run FROM run WHERE start < {at} AND finish > {at}"))?;
        // As written, a day may be two off by clock offsets and by where the day ends.
        let about = Instant(at.saturating_sub(2 * DAY_MS)).day(Clock::UTC);
        let struck = list(
            conn,
            path,
            &format!(
                "SELECT s.entry FROM struck s JOIN entry e ON e.position = s.entry
                 JOIN entry_time t ON t.entry = s.entry
                 WHERE e.kind = '{}' AND t.at < {at} AND substr(e.effective, 1, 10) >= '{about}'
                 ORDER BY s.entry",
                EntryKind::Run.word()
            ),
        )?;
        let mut struck_under_way = Vec::new();
        for position in struck {
            if words_at(&read(conn, path, position)?, horizon).is_some() {
                struck_under_way.push(position);
            }
        }
        let later: i64 = conn
            .query_row("SELECT count(*) FROM entry_time WHERE at >= ?1", [at], |r| r.get(0))
            .in_file(path)?;
        let mut sight = Self { hidden, under_way, struck_under_way, later: 0, place: 0 };
        sight.later = usize::try_from(later).unwrap_or(0) + sight.hidden.len();
        let last = format!(
            "SELECT position FROM entry e WHERE NOT EXISTS
                 (SELECT 1 FROM entry_time t WHERE t.entry = e.position AND t.at >= {at})
             ORDER BY position DESC"
        );
        let mut statement = conn.prepare(&last).in_file(path)?;
        let mut rows = statement.query([]).in_file(path)?;
        while let Some(row) = rows.next().in_file(path)? {
            let place = row.get(0).in_file(path)?;
            if !sight.hidden.contains(&place) {
                sight.place = place;
                break;
            }
        }
        Ok(sight)
    }

    /// Whether an entry is not seen, as a condition on its place.
    fn hides(&self, horizon: Instant, place: &str) -> String {
        let hidden: Vec<String> = self.hidden.iter().map(ToString::to_string).collect();
        format!(
            "(EXISTS (SELECT 1 FROM entry_time h WHERE h.entry = {place} AND h.at >= {})
              OR {place} IN ({}))",
            horizon.0,
            hidden.join(", ")
        )
    }
}

/// Whether something that is seen keeps what is not from being left out by itself.
pub(super) fn obstacle(
    conn: &Connection,
    path: &Path,
    horizon: Instant,
    sight: &Sight,
) -> Result<bool> {
    let at = horizon.0;
    let hides = |place: &str| sight.hides(horizon, place);
    let (joint, identity) = (EntryKind::Joint.word(), EntryKind::Identity.word());
    // In a canonical body the words stand just so.
    let apart = |body: &str| {
        let change = |word| format!("instr({body}, '\"change\":\"{word}\"') > 0");
        format!("({} OR {})", change("merge"), change("split"))
    };
    // A joint that is not seen, and an entry, a run or a row of its own of which more is known; a
    // merge or a split that is seen, and a mark of later by which its serial would be another.
    let of_joints = format!(
        "SELECT 1 FROM entry e CROSS JOIN entry_time t ON t.entry = e.position
         WHERE e.kind = '{joint}' AND t.at >= {at} AND (
             NOT EXISTS (SELECT 1 FROM joint j WHERE j.joint = e.position)
             OR EXISTS (SELECT 1 FROM joint_run r WHERE r.joint = e.position AND r.start < {at})
             OR EXISTS (SELECT 1 FROM touch u WHERE u.joint = e.position AND NOT {}))
         UNION ALL
         SELECT 1 FROM entry e CROSS JOIN entry_time t ON t.entry = e.position
         CROSS JOIN touch u ON u.entry = e.position CROSS JOIN touch v ON v.joint = u.joint
         CROSS JOIN entry m ON m.position = v.entry
         WHERE e.kind = '{identity}' AND t.at >= {at} AND m.kind = '{identity}' AND {}
         UNION ALL
         SELECT 1 FROM conflict c JOIN run u ON u.run = c.first_entry
         JOIN joint_run r ON r.joint = c.joint AND r.run = u.run
         WHERE c.first_entry = c.second_entry AND u.start < {at} AND u.finish > {at}
         AND r.flags & {MISFIT}",
        hides("u.entry"),
        apart("m.body")
    );
    if exists(conn, path, &of_joints)?
        || works_out_otherwise(conn, path, horizon)?
        || follows_from_later(conn, path, horizon)?
        || exists(conn, path, &told_by_later_runs(horizon))?
    {
        return Ok(true);
    }
    for position in &sight.hidden {
        let placed = read(conn, path, *position)?;
        let body = &placed.entry.body;
        let apart = tells_joints_apart(body);
        // What it says of joints stands in their rows from its own instant on.
        let early = placed.began() < horizon && !body.joints().is_empty();
        if apart || early {
            return Ok(true);
        }
    }
    let is_hidden = |id: &EntryId| -> Result<bool> {
        let Some(place) = position_of(conn, path, id)? else { return Ok(false) };
        exists(conn, path, &format!("SELECT 1 WHERE {}", hides(&place.to_string())))
    };
    // Entries that are about a run, and the few kinds that name entries of any kind.
    let about = format!(
        "SELECT DISTINCT subject FROM book_fact WHERE topic = '{}' AND NOT {}",
        Topic::AboutRun.word(),
        hides("book_fact.entry")
    );
    {
        let mut statement = conn.prepare(&about).in_file(path)?;
        let mut rows = statement.query([]).in_file(path)?;
        while let Some(row) = rows.next().in_file(path)? {
            let name: String = row.get(0).in_file(path)?;
            if name.parse().is_ok_and(|id: EntryId| is_hidden(&id).unwrap_or(true)) {
                return Ok(true);
            }
        }
    }
    let naming = format!(
        "SELECT position FROM entry
         WHERE kind IN ({}) AND (kind <> '{identity}' OR {}) AND NOT {}",
        sql_list(kinds(Role::refers)),
        apart("body"),
        hides("entry.position")
    );
    for position in list(conn, path, &naming)? {
        let placed = read(conn, path, position)?;
        for named in placed.entry.body.entries() {
            if is_hidden(named)? {
                return Ok(true);
            }
        }
        // A settlement of later touches its joints, and did not yet.
        if matches!(placed.entry.body, Body::Decision(_)) && words_at(&placed, horizon).is_some() {
            return Ok(true);
        }
    }
    // What counts no more has no rows that would show which joints it names.
    let fallen = format!("SELECT entry FROM struck WHERE NOT {}", hides("struck.entry"));
    for position in list(conn, path, &fallen)? {
        for named in read(conn, path, position)?.entry.body.joints() {
            if is_hidden(&named.joint)? {
                return Ok(true);
            }
        }
    }
    // Joints that a run under way took in later.
    let swapped = format!(
        "SELECT position FROM entry JOIN run ON run = position
         WHERE start < {at} AND finish > {at} AND instr(body, '\"swaps\":[') > 0"
    );
    for position in list(conn, path, &swapped)? {
        let placed = read(conn, path, position)?;
        let Body::Run(body) = &placed.entry.body else { continue };
        if body.swaps.iter().any(|s| s.at.start(placed.clock) >= horizon) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Hours told of a stretch that is seen, of a joint that is in a run of about then or later which is not
/// seen whole: by that run the hours may be its own, and they were not yet.
fn told_by_later_runs(horizon: Instant) -> String {
    // By clock offsets a day is longer than a day.
    let (at, near) = (horizon.0, 3 * DAY_MS);
    let gap = EntryKind::Gap.word();
    format!(
        "SELECT 1 FROM entry e CROSS JOIN entry_time t ON t.entry = e.position
         CROSS JOIN touch u ON u.entry = e.position
         CROSS JOIN joint_run r ON r.joint = u.joint AND r.finish >= {at}
         WHERE e.kind = '{gap}' AND t.at < {at} AND instr(e.body, '\"hours\":') > 0
         AND (t.at > {at} - {near} OR r.start < t.at + {near}
              OR instr(e.body, '\"until\":\"') > 0)"
    )
}

/// Whether an adoption of later brings the method by which the damage of all runs is worked out.
fn works_out_otherwise(conn: &Connection, path: &Path, horizon: Instant) -> Result<bool> {
    let noted = format!(
        "SELECT entry FROM book_fact WHERE topic = '{}'
         AND NOT EXISTS (SELECT 1 FROM struck s WHERE s.entry = book_fact.entry) ORDER BY entry",
        Topic::Adoption.word()
    );
    let mut all = Vec::new();
    for position in list(conn, path, &noted)? {
        all.push(read(conn, path, position)?);
    }
    let is_seen =
        |p: &&Placed| !matches!(seen_from(&p.entry, p.clock), SeenFrom::After(at) if at >= horizon);
    let seen: Vec<Placed> = all.iter().filter(is_seen).cloned().collect();
    Ok(seen.len() < all.len() && !Adoptions::of(&all)?.work_out_like(&Adoptions::of(&seen)?))
}

/// Whether an inspection of later says what follows from a finding that is seen: those of one day say
/// it together, of all that was found on the day.
fn follows_from_later(conn: &Connection, path: &Path, horizon: Instant) -> Result<bool> {
    // By clock offsets a day is longer than a day.
    let (at, near) = (horizon.0, 3 * DAY_MS);
    let mut statement = conn
        .prepare(&format!(
            "SELECT DISTINCT f.entry, i.entry FROM finding f CROSS JOIN inspection i
             ON i.joint = f.joint AND i.date >= {at} AND i.date < {at} + {near}
             WHERE f.date < {at} AND f.date > {at} - {near}"
        ))
        .in_file(path)?;
    let pairs = statement.query_map([], |r| Ok((r.get(0)?, r.get(1)?))).in_file(path)?;
    for pair in pairs {
        let (found, later): (i64, i64) = pair.in_file(path)?;
        let day = |position| Ok::<_, StoreError>(read(conn, path, position)?.day());
        if day(found)? == day(later)? {
            return Ok(true);
        }
    }
    Ok(false)
}
