//! Windows in SQL: where they may begin at the earliest and at the latest, what lies in them for
//! certain and perhaps, and whether everything in them is known.
//!
//! A window that begins at a record begins between two instants: the record may be one of several
//! that nobody can tell apart, or lie in a gap. Both are worked out once for a joint, in a row
//! source of their own.

use super::super::registry::Record;
use super::super::sql::{Alias, Cond, Part, Sql, sql};
use super::super::typed::{Anchor, Node, Pred, Reference, Window};
use super::{Lower, Row, Scope};

const NEVER_BEGAN: i64 = i64::MIN;
const NEVER_ENDS: i64 = i64::MAX;

/// Where the part of a run before a cut is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Parts {
    /// Cuts at records of the joint.
    Run,
    /// Cuts at dates, which the caller has filled in.
    Window,
    /// Either.
    Both,
}

/// Limits of a window.
#[derive(Clone, Debug, Default)]
pub(super) struct Edges {
    /// Earliest and latest instant at which it may begin.
    pub(super) start: Option<(Sql, Sql)>,
    /// Instant before which it ends.
    pub(super) end: Option<Sql>,
    /// Where parts before the start are found.
    pub(super) parts: Option<Parts>,
    /// Each record that it begins at.
    anchors: Vec<Begin>,
    /// The date that it begins at.
    from: Option<i64>,
    /// The row source that holds the instants, when there is one.
    source: Option<Sql>,
}

/// The record that a window begins at.
#[derive(Clone, Debug)]
struct Begin {
    /// The earliest and the latest instant at which it may be.
    first: Sql,
    last: Sql,
    /// Its turn among the joint's facts of that instant; before them all where no record is there.
    first_turn: Sql,
    last_turn: Sql,
}

impl Lower {
    /// The limits of a window.
    pub(super) fn edges(&self, window: &Window) -> Edges {
        let end = window.until.map(|u| sql![u]);
        let from = window.from.map(|f| sql![f]);
        if window.anchors.is_empty() {
            let start = from.map(|f| (f.clone(), f));
            let parts = start.is_some().then_some(Parts::Window);
            return Edges { start, end, parts, from: window.from, ..Edges::default() };
        }
        if let Some(scope) = window.since_scope()
            && let (Some(since), [anchor]) = (self.joined_since(scope), &window.anchors[..])
        {
            let (a, b) = begins(since);
            return Edges {
                start: Some((a.clone(), b.clone())),
                parts: Some(Parts::Run),
                anchors: vec![self.begin(anchor, None, a, b)],
                ..Edges::default()
            };
        }
        let w = self.alias('w');
        let mut columns = Vec::new();
        let mut sources = Vec::new();
        let mut anchors = Vec::new();
        let (mut earliest, mut latest) = (Vec::new(), Vec::new());
        if let Some(f) = &from {
            earliest.push(f.clone());
            latest.push(f.clone());
        }
        for anchor in &window.anchors {
            let e = self.alias('e');
            sources.push(Part::from(sql![self.anchor(anchor, window.until), " ", e]));
            earliest.push(sql![e, ".a"]);
            latest.push(sql![e, ".b"]);
            let (first, last) = (self.alias('a'), self.alias('b'));
            columns.push(Part::from(sql![e, ".a AS ", first]));
            columns.push(Part::from(sql![e, ".b AS ", last]));
            let (first, last) = (sql![w, ".", first], sql![w, ".", last]);
            anchors.push(self.begin(anchor, window.until, first, last));
        }
        columns.push(Part::from(sql![greatest(earliest), " AS a"]));
        columns.push(Part::from(sql![greatest(latest), " AS b"]));
        let source = sql!["(SELECT ", Sql::list(columns), " FROM ", Sql::list(sources), ") ", w];
        Edges {
            start: Some((sql![w, ".a"], sql![w, ".b"])),
            end,
            parts: Some(if from.is_some() { Parts::Both } else { Parts::Run }),
            anchors,
            from: window.from,
            source: Some(source),
        }
    }

    /// A record that a window begins at between two instants, with the turns of the records there.
    fn begin(&self, anchor: &Anchor, until: Option<i64>, first: Sql, last: Sql) -> Begin {
        let turn = |fold: &'static str, at: &Sql, certain: bool| {
            let (row, member) = self.anchor_member(anchor, until, certain);
            // Runs are the last of an instant.
            let turn = match anchor.record {
                Record::Run => sql![i64::MAX],
                _ => row.own("turn"),
            };
            let instant = anchor_instant(&row, anchor);
            sql![
                "(SELECT ",
                fold,
                "(",
                turn,
                ") FROM ",
                row.from(),
                " WHERE ",
                of_joint(&row),
                " AND ",
                instant,
                " = ",
                at,
                " AND ",
                member.sql(),
                ")",
            ]
        };
        let (first_turn, last_turn) = if anchor.latest {
            (
                sql!["ifnull(", turn("max", &first, true), ", -1)"],
                sql!["ifnull(", turn("max", &last, false), ", -1)"],
            )
        } else {
            // Where none is one for certain, the joint's entry is the earliest.
            let sure = self.instant(anchor, until, true);
            (
                sql![
                    "CASE WHEN ",
                    &first,
                    " = j.entered AND ",
                    sure,
                    " IS NULL THEN -1 ELSE ifnull(",
                    turn("min", &first, false),
                    ", -1) END",
                ],
                sql![
                    "coalesce(",
                    turn("min", &last, true),
                    ", ",
                    turn("max", &last, false),
                    ", -1)",
                ],
            )
        };
        Begin { first, last, first_turn, last_turn }
    }

    /// Earliest and latest instant of an anchor, as a row source with columns a and b.
    fn anchor(&self, anchor: &Anchor, until: Option<i64>) -> Sql {
        let gap_before_end = match until {
            Some(u) => sql!["(g.since IS NULL OR g.since < ", u, ")"],
            None => sql!["1"],
        };
        let gap_end = match until {
            Some(u) => sql!["min(g.until, ", u, ")"],
            None => sql!["g.until"],
        };
        // A joint without a gap needs no look at the table of gaps.
        let of_gaps = |what: Sql| {
            sql![
                "CASE WHEN j.life_complete = 1 THEN NULL ELSE (SELECT ",
                what,
                " FROM gap g WHERE g.joint = j.joint AND ",
                &gap_before_end,
                ") END",
            ]
        };
        let sure = self.instant(anchor, until, true);
        let perhaps =
            if is_certain(anchor) { sql!["t"] } else { self.instant(anchor, until, false) };
        let last_gap = match until {
            Some(_) => of_gaps(sql!["max(", gap_end, ")"]),
            None => sql!["j.unknown_until"],
        };
        let inner = sql!["(SELECT ", &sure, " AS t)"];
        if anchor.latest {
            sql![
                "(SELECT coalesce(t, CASE WHEN j.life_complete = 0 AND EXISTS (SELECT 1 FROM gap g \
                 WHERE g.joint = j.joint AND g.since IS NULL) THEN ",
                NEVER_BEGAN,
                " ELSE j.entered END) AS a, max(coalesce(p, j.entered), coalesce(l, ",
                NEVER_BEGAN,
                ")) AS b FROM (SELECT t, ",
                perhaps,
                " AS p, ",
                last_gap,
                " AS l FROM ",
                inner,
                "))",
            ]
        } else {
            let first_gap = of_gaps(sql!["min(coalesce(g.since, ", NEVER_BEGAN, "))"]);
            let last = self.last_perhaps(anchor, until);
            sql![
                "(SELECT min(coalesce(t, j.entered), coalesce(p, ",
                NEVER_ENDS,
                "), coalesce(f, ",
                NEVER_ENDS,
                ")) AS a, coalesce(t, max(j.entered, coalesce(",
                last,
                ", ",
                NEVER_BEGAN,
                "), coalesce(l, ",
                NEVER_BEGAN,
                "))) AS b FROM (SELECT t, ",
                perhaps,
                " AS p, ",
                first_gap,
                " AS f, ",
                last_gap,
                " AS l FROM ",
                inner,
                "))",
            ]
        }
    }

    /// The instant of the last or first record that is an anchor for certain, or perhaps.
    fn instant(&self, anchor: &Anchor, until: Option<i64>, certain: bool) -> Sql {
        let (row, member) = self.anchor_member(anchor, until, certain);
        let at = anchor_instant(&row, anchor);
        if anchor.record == Record::Run && !anchor.latest {
            // Runs are kept by their end; the first to begin is not the first to end.
            return sql![
                "(SELECT min(",
                &at,
                ") FROM ",
                row.from(),
                " WHERE ",
                of_joint(&row),
                " AND ",
                member.sql(),
                ")",
            ];
        }
        let order = if anchor.latest { " DESC LIMIT 1)" } else { " LIMIT 1)" };
        sql![
            "(SELECT ",
            &at,
            " FROM ",
            row.from(),
            " WHERE ",
            of_joint(&row),
            " AND ",
            member.sql(),
            " ORDER BY ",
            &at,
            order,
        ]
    }

    /// The instant of the last record that may be the anchor.
    fn last_perhaps(&self, anchor: &Anchor, until: Option<i64>) -> Sql {
        let (row, member) = self.anchor_member(anchor, until, false);
        let at = anchor_instant(&row, anchor);
        sql![
            "(SELECT max(",
            at,
            ") FROM ",
            row.from(),
            " WHERE ",
            of_joint(&row),
            " AND ",
            member.sql(),
            ")",
        ]
    }

    fn anchor_member(&self, anchor: &Anchor, until: Option<i64>, certain: bool) -> (Row, Cond) {
        let row = self.row(anchor.record);
        let scope = Scope { row: Some(row.clone()), few: true };
        let mut member = match &anchor.condition {
            None => Cond::Always,
            Some(node) => {
                let truth = self.truth(node, &scope);
                if certain { truth.yes } else { truth.no.fails() }
            }
        };
        if certain {
            member = member.and(row.counts(anchor.condition.as_deref()));
        }
        if let Some(until) = until {
            member = member.and(Cond::When(sql![anchor_instant(&row, anchor), " < ", until]));
        }
        (row, member)
    }

    /// Whether nothing that could lie in a window is unknown.
    pub(super) fn complete(&self, edges: &Edges) -> Cond {
        let whole = Cond::When(sql!["j.life_complete = 1"]);
        if edges.start.is_none() && edges.end.is_none() {
            return whole;
        }
        if let (Some((earliest, _)), None) = (&edges.start, &edges.end) {
            return whole.or(Cond::When(sql!["(j.unknown_until <= ", earliest, ")"]));
        }
        whole.or(Cond::When(sql![
            "NOT EXISTS (SELECT 1 FROM gap g WHERE g.joint = j.joint AND ",
            gap_inside(edges).sql(),
            ")",
        ]))
    }

    /// Whether nothing unknown lies after (or before) a record of a window.
    pub(super) fn nothing_beyond(&self, edges: &Edges, at: &Sql, after: bool) -> Cond {
        let beyond = if after {
            sql!["g.until > ", at]
        } else {
            sql!["(g.since IS NULL OR g.since < ", at, ")"]
        };
        Cond::When(sql![
            "(j.life_complete = 1 OR NOT EXISTS (SELECT 1 FROM gap g WHERE g.joint = j.joint AND ",
            beyond,
            " AND ",
            gap_inside(edges).sql(),
            "))",
        ])
    }
}

impl Row {
    /// Whether the row lies in its window: for certain, or perhaps.
    pub(super) fn inside(&self, certain: bool) -> Cond {
        let edges = &self.edges;
        let mut conds = Vec::new();
        if self.record == Record::Run {
            let (start, finish) = (self.own("start"), self.own("finish"));
            // A run that ends where the window begins lies before it, unless it took no time.
            let mut ends_after = |begin: Sql| {
                conds.push(sql![&finish, " >= ", &begin]);
                conds.push(sql!["(", &finish, " > ", begin, " OR ", &start, " = ", &finish, ")"]);
            };
            if let Some(f) = edges.from {
                ends_after(sql![f]);
            }
            for begin in &edges.anchors {
                ends_after(if certain { begin.last.clone() } else { begin.first.clone() });
            }
            if let Some(end) = &edges.end {
                conds.push(sql![&start, " < ", end]);
                for begin in &edges.anchors {
                    conds.push(sql![if certain { &begin.last } else { &begin.first }, " < ", end]);
                }
            }
        } else {
            let at = self.own("date");
            if let Some(f) = edges.from {
                conds.push(sql![&at, " >= ", f]);
            }
            for begin in &edges.anchors {
                let (instant, turn) = if certain {
                    (&begin.last, &begin.last_turn)
                } else {
                    (&begin.first, &begin.first_turn)
                };
                // At one instant, what comes later in the order of facts is since.
                conds.push(sql![&at, " >= ", instant]);
                let (own, later) = (self.own("turn"), sql![&at, " > ", instant]);
                conds.push(sql!["(", later, " OR ", own, " > ", turn, ")"]);
            }
            if let Some(end) = &edges.end {
                conds.push(sql![&at, " < ", end]);
            }
        }
        Cond::all(conds.into_iter().map(Cond::When))
    }
}

impl Edges {
    /// Whether the window begins at records, which must be looked for.
    pub(super) const fn at_records(&self) -> bool {
        self.source.is_some()
    }

    /// Puts a condition where the instants of the window are known.
    pub(super) fn hold(&self, cond: Cond) -> Cond {
        match (&self.source, cond) {
            (Some(source), Cond::When(sql)) => {
                Cond::When(sql!["EXISTS (SELECT 1 FROM ", source, " WHERE ", sql, ")"])
            }
            (_, cond) => cond,
        }
    }

    /// Puts a value where the instants of the window are known.
    pub(super) fn value(&self, value: Sql) -> Sql {
        match &self.source {
            Some(source) => sql!["(SELECT ", value, " FROM ", source, ")"],
            None => value,
        }
    }
}

/// Whether a gap overlaps a window.
fn gap_inside(edges: &Edges) -> Cond {
    let mut conds = Vec::new();
    if let Some((earliest, _)) = &edges.start {
        conds.push(sql!["g.until > ", earliest]);
    }
    if let Some(end) = &edges.end {
        conds.push(sql!["(g.since IS NULL OR g.since < ", end, ")"]);
        if let (Some((earliest, _)), false) = (&edges.start, edges.anchors.is_empty()) {
            conds.push(sql![earliest, " < ", end]);
        }
    }
    Cond::all(conds.into_iter().map(Cond::When))
}

pub(super) fn of_joint(row: &Row) -> Sql {
    sql![row.own("joint"), " = j.joint"]
}

/// The instant at which a record is an anchor: a run's end when it is the last, its start when it
/// is the first.
fn anchor_instant(row: &Row, anchor: &Anchor) -> Sql {
    row.own(match (anchor.record, anchor.latest) {
        (Record::Run, true) => "finish",
        (Record::Run, false) => "start",
        _ => "date",
    })
}

/// Earliest and latest instant of the last inspection of a scope, from the joint's row of `since`
/// for it; the same as [`Lower::anchor`] finds.
fn begins(since: Alias) -> (Sql, Sql) {
    let at = sql!["CASE WHEN ", since, ".entry IS NOT NULL THEN ", since, ".at ELSE "];
    let earliest = sql![
        &at,
        "CASE WHEN j.life_complete = 0 AND EXISTS (SELECT 1 FROM gap g WHERE g.joint = j.joint AND \
         g.since IS NULL) THEN ",
        NEVER_BEGAN,
        " ELSE j.entered END END",
    ];
    let at = sql![at, "j.entered END"];
    let latest = sql![
        "CASE WHEN j.unknown_until IS NULL THEN ",
        &at,
        " ELSE max(",
        &at,
        ", j.unknown_until) END",
    ];
    (sql!["(", earliest, ")"], sql!["(", latest, ")"])
}

/// True when an anchor's condition is never unknown for a record.
fn is_certain(anchor: &Anchor) -> bool {
    let sure = match anchor.condition.as_deref() {
        None => true,
        Some(Node { pred: Pred::Holds { set: Reference::Read(_), .. }, .. }) => true,
        Some(_) => false,
    };
    sure && !anchor.record.may_conflict()
}

/// The greatest of some instants.
fn greatest(mut instants: Vec<Sql>) -> Sql {
    if instants.len() == 1
        && let Some(only) = instants.pop()
    {
        return only;
    }
    sql!["max(", Sql::list(instants.into_iter().map(Part::from)), ")"]
}
