//! Windows in SQL: where they may begin at the earliest and at the latest, what lies in them for
//! certain and perhaps, and whether everything in them is known.
//!
//! A window that begins at a record may begin at one of several that nobody can tell apart, or
//! somewhere in a gap. All of these are worked out once for a joint, in a row source with a row for
//! each: what is said must be so for all of them.

use super::super::registry::Record;
use super::super::sql::{Alias, Cond, Part, Sql, sql};
use super::super::typed::{Anchor, Node, Pred, Reference, Window};
use super::number::Span;
use super::{Lower, Row, Scope};

/// Where a window begins that begins with the joint: whatever is told of it lies in it.
pub(super) const NEVER_BEGAN: i64 = i64::MIN;
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
    /// Where it ends.
    pub(super) end: Option<End>,
    /// Where parts before the start are found.
    pub(super) parts: Option<Parts>,
    /// Each record that it begins at.
    anchors: Vec<Begin>,
    /// The date that it begins at.
    from: Option<i64>,
    /// The row source that holds the instants, when there is one.
    source: Option<Sql>,
}

/// Where a window ends.
#[derive(Clone, Debug)]
pub(super) struct End {
    /// Earliest and latest instant before which it may end.
    pub(super) first: Sql,
    pub(super) last: Sql,
    /// Of a record, its turn among the joint's facts of that instant.
    turns: Option<(Sql, Sql)>,
    /// Where parts of runs before it are found.
    pub(super) parts: Parts,
}

/// The record that a window begins at.
#[derive(Clone, Debug)]
struct Begin {
    /// The earliest and the latest instant at which it may be.
    first: Sql,
    last: Sql,
    /// Its turn among the joint's facts of that instant; before and after them all in a gap.
    first_turn: Sql,
    last_turn: Sql,
}

/// Turns before and after those of all facts of an instant.
const FIRST_TURN: i64 = -1;
const LAST_TURN: i64 = i64::MAX;

impl Begin {
    /// Whether it was before the latest instant: what lies in a stretch that nobody saw was before the
    /// end of it.
    fn is_before_its_last(&self) -> Sql {
        sql!["(", &self.last_turn, " = ", FIRST_TURN, ")"]
    }
}

impl Lower {
    /// The limits of a window.
    pub(super) fn edges(&self, window: &Window) -> Edges {
        if let Some(before) = &window.before {
            return self.before_record(before);
        }
        let end = window.until.map(|u| {
            let at = sql![u];
            End { first: at.clone(), last: at, turns: None, parts: Parts::Window }
        });
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
            let begin = Begin {
                first_turn: self.turn_at(anchor, &a, FIRST_TURN),
                last_turn: self.turn_at(anchor, &b, FIRST_TURN),
                first: a.clone(),
                last: b.clone(),
            };
            return Edges {
                start: Some((a, b)),
                parts: Some(Parts::Run),
                anchors: vec![begin],
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
            sources.push(Part::from(sql![self.anchor(anchor, window.as_of), " ", e]));
            earliest.push(sql![e, ".a"]);
            latest.push(sql![e, ".b"]);
            let mut column = |name: &'static str| {
                let own = self.alias('c');
                columns.push(Part::from(sql![e, name, " AS ", own]));
                sql![w, ".", own]
            };
            anchors.push(Begin {
                first: column(".a"),
                last: column(".b"),
                first_turn: column(".u"),
                last_turn: column(".v"),
            });
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

    /// The limits of a window that ends before a record: before each record that may be the one, or in
    /// a gap. Where there may be none, anywhere.
    fn before_record(&self, anchor: &Anchor) -> Edges {
        let w = self.alias('w');
        let (start, _) = anchor.record.span();
        let known = self.certain_one(anchor, None, start);
        let mut rows = vec![Part::from(sql![
            "(SELECT coalesce(y.t, ",
            NEVER_BEGAN,
            ") AS a, coalesce(y.t, ",
            NEVER_ENDS,
            ") AS b, coalesce(y.u, ",
            FIRST_TURN,
            ") AS u, coalesce(y.u, ",
            LAST_TURN,
            ") AS v FROM (SELECT 1) LEFT JOIN ",
            &known,
            " y",
        ])];
        rows.push(Part::from(self.beyond(anchor, None, start, &sql![&known, " x"])));
        rows.push(Part::from(sql![") ", w]));
        let end = End {
            first: sql![w, ".a"],
            last: sql![w, ".b"],
            turns: Some((sql![w, ".u"], sql![w, ".v"])),
            parts: Parts::Run,
        };
        Edges { end: Some(end), source: Some(Sql::of(rows)), ..Edges::default() }
    }

    /// Earliest and latest instant of an anchor, as a row source with columns a and b, and the turns
    /// there, u and v: a row for each record that may be the one, and for each gap in which one may
    /// have been. Where there may be none, the window begins with the joint.
    fn anchor(&self, anchor: &Anchor, before: Option<i64>) -> Sql {
        let never = if anchor.latest { NEVER_BEGAN } else { NEVER_ENDS };
        let (_, finish) = anchor.record.span();
        let known = sql![
            "(SELECT coalesce(y.t, ",
            never,
            ") AS t, coalesce(y.u, ",
            FIRST_TURN,
            ") AS u, coalesce(y.s, ",
            never,
            ") AS s FROM (SELECT 1) LEFT JOIN ",
            self.certain_one(anchor, before, finish),
            " y) x",
        ];
        let begin = if anchor.latest {
            sql!["t"]
        } else {
            sql!["CASE WHEN t = ", NEVER_ENDS, " THEN ", NEVER_BEGAN, " ELSE t END"]
        };
        let mut rows = vec![
            Part::from("(SELECT "),
            Part::from(&begin),
            Part::from(" AS a, "),
            Part::from(begin),
            Part::from(" AS b, u, u AS v FROM "),
            Part::from(&known),
        ];
        rows.push(Part::from(self.beyond(anchor, before, finish, &known)));
        rows.push(Part::from(")"));
        Sql::of(rows)
    }

    /// Where else than at the record that certainly is it an anchor may be, as rows behind those of
    /// that one, which `known` holds as x: a row for each record beyond it that may be the one, and
    /// for each gap. `column` tells when a record was.
    fn beyond(
        &self,
        anchor: &Anchor,
        before: Option<i64>,
        column: &'static str,
        known: &Sql,
    ) -> Sql {
        let mut rows = Vec::new();
        if !is_certain(anchor) {
            let (row, member) = self.anchor_member(anchor, before, false);
            let (at, turn) = (row.own(column), anchor_turn(&row));
            let sign = if anchor.latest { " > " } else { " < " };
            rows.push(Part::from(sql![
                " UNION ALL SELECT ",
                &at,
                ", ",
                &at,
                ", ",
                &turn,
                ", ",
                &turn,
                " FROM ",
                known,
                " CROSS JOIN ",
                row.from(),
                " WHERE ",
                of_joint(&row),
                " AND ",
                member.sql(),
                " AND (",
                at,
                ", ",
                turn,
                ")",
                sign,
                "(x.t, x.u)",
            ]));
        }
        // A joint without a gap needs no look at the table of gaps.
        let (since, until) = (sql!["coalesce(g.since, ", NEVER_BEGAN, ")"], sql!["g.until"]);
        let until = before.map_or_else(|| until.clone(), |b| sql!["min(g.until, ", b, ")"]);
        let begun = before.map_or_else(|| sql!["1"], |b| sql![&since, " < ", b]);
        // In a stretch is before all facts of its end.
        let (first, last, turn, beyond) = if anchor.latest {
            let end = until.clone();
            (sql!["max(", since, ", x.t)"], end, sql![FIRST_TURN], sql![until, " > x.t"])
        } else {
            let turn = sql![
                "CASE WHEN ",
                &until,
                " <= x.s THEN ",
                FIRST_TURN,
                " ELSE ",
                LAST_TURN,
                " END"
            ];
            // A joint is in one run at a time: an unseen one was over before that one began.
            (since.clone(), sql!["min(", until, ", x.s)"], turn, sql![since, " < x.s"])
        };
        rows.push(Part::from(sql![
            " UNION ALL SELECT ",
            first,
            ", ",
            last,
            ", ",
            FIRST_TURN,
            ", ",
            turn,
            " FROM ",
            known,
            " CROSS JOIN gap g WHERE j.life_complete = 0 AND g.joint = j.joint AND ",
            begun,
            " AND ",
            beyond,
        ]));
        Sql::of(rows)
    }

    /// The last or first record that is an anchor for certain, as a row source with its instant t, its
    /// turn u and its beginning s: one row at most. `column` tells when a record was.
    fn certain_one(&self, anchor: &Anchor, before: Option<i64>, column: &'static str) -> Sql {
        let (row, member) = self.anchor_member(anchor, before, true);
        let (at, turn) = (row.own(column), anchor_turn(&row));
        let down = if anchor.latest { " DESC" } else { "" };
        // Runs are the last of an instant, and have no turns among each other.
        let order = match anchor.record {
            Record::Run => sql![&at, down],
            _ => sql![&at, down, ", ", &turn, down],
        };
        sql![
            "(SELECT ",
            &at,
            " AS t, ",
            turn,
            " AS u, ",
            row.own(anchor.record.span().0),
            " AS s FROM ",
            row.from(),
            " WHERE ",
            of_joint(&row),
            " AND ",
            member.sql(),
            " ORDER BY ",
            order,
            " LIMIT 1)",
        ]
    }

    /// The latest turn of the records at an instant that are the anchor for certain.
    fn turn_at(&self, anchor: &Anchor, at: &Sql, otherwise: i64) -> Sql {
        let (row, member) = self.anchor_member(anchor, None, true);
        sql![
            "ifnull((SELECT max(",
            anchor_turn(&row),
            ") FROM ",
            row.from(),
            " WHERE ",
            of_joint(&row),
            " AND ",
            row.own(anchor.record.span().1),
            " = ",
            at,
            " AND ",
            member.sql(),
            "), ",
            otherwise,
            ")",
        ]
    }

    /// Whether there never was such a record, for certain.
    pub(super) fn never_was(&self, anchor: &Anchor, before: Option<i64>) -> Cond {
        let (row, member) = self.anchor_member(anchor, before, false);
        Cond::When(sql![
            "(j.life_complete = 1 AND NOT EXISTS (SELECT 1 FROM ",
            row.from(),
            " WHERE ",
            of_joint(&row),
            " AND ",
            member.sql(),
            "))",
        ])
    }

    fn anchor_member(&self, anchor: &Anchor, before: Option<i64>, certain: bool) -> (Row, Cond) {
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
        if let Some(before) = before {
            member = member.and(Cond::When(sql![row.own(anchor.record.span().1), " < ", before]));
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

    /// The same, but for what was before the joint came into the book.
    pub(super) fn complete_since_entry(edges: &Edges) -> Cond {
        Cond::When(sql!["j.life_complete = 1"]).or(Cond::When(sql![
            "NOT EXISTS (SELECT 1 FROM gap g WHERE g.joint = j.joint AND g.since IS NOT NULL AND ",
            gap_inside(edges).sql(),
            ")",
        ]))
    }

    /// Whether nothing unknown lies after (or before) a record of a window.
    pub(super) fn nothing_beyond(&self, edges: &Edges, at: &Sql, after: bool) -> Cond {
        // A run that reaches over the limit of the window leaves nothing of it beyond.
        let some_left = if after {
            edges.end.as_ref().map(|end| {
                let sign = if end.turns.is_some() { " <= " } else { " < " };
                sql![" AND ", at, sign, &end.last]
            })
        } else {
            edges.start.as_ref().map(|(earliest, _)| sql![" AND ", at, " >= ", earliest])
        };
        let some_left = some_left.unwrap_or_else(|| sql![""]);
        let beyond = if after {
            sql!["g.until > ", at, some_left]
        } else {
            sql!["(g.since IS NULL OR g.since < ", at, ")", some_left]
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
            if let Some(f) = edges.from {
                conds.push(sql![&finish, " >= ", f]);
                conds.push(sql!["(", &finish, " > ", f, " OR ", &start, " = ", &finish, ")"]);
            }
            for begin in &edges.anchors {
                let at = if certain { &begin.last } else { &begin.first };
                let mut after = sql![&finish, " > ", at, " OR ", &start, " = ", &finish];
                if certain {
                    after = sql![after, " OR ", begin.is_before_its_last()];
                }
                conds.push(sql![&finish, " >= ", at]);
                conds.push(sql!["(", after, ")"]);
            }
            if let Some(end) = &edges.end {
                let end = if certain { &end.first } else { &end.last };
                conds.push(sql![&start, " < ", end]);
                for begin in &edges.anchors {
                    conds.push(if certain {
                        let (last, before) = (&begin.last, begin.is_before_its_last());
                        sql!["(", last, " < ", end, " OR ", last, " = ", end, " AND ", before, ")"]
                    } else {
                        sql![&begin.first, " < ", end]
                    });
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
                let by = if certain { &end.first } else { &end.last };
                match &end.turns {
                    None => conds.push(sql![&at, " < ", by]),
                    Some((first, last)) => {
                        let turn = if certain { first } else { last };
                        conds.push(sql![&at, " <= ", by]);
                        let (own, sooner) = (self.own("turn"), sql![&at, " < ", by]);
                        conds.push(sql!["(", sooner, " OR ", own, " < ", turn, ")"]);
                    }
                }
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

    /// Puts a condition where the instants of the window are known: it must hold wherever the window
    /// begins.
    pub(super) fn hold(&self, cond: Cond) -> Cond {
        match (&self.source, cond) {
            (Some(source), Cond::When(sql)) => Cond::When(sql![
                "NOT EXISTS (SELECT 1 FROM ",
                source,
                " WHERE (",
                sql,
                ") IS NOT TRUE)",
            ]),
            (_, cond) => cond,
        }
    }

    /// Puts a bound where the instants of the window are known: the smallest or the largest wherever
    /// the window begins.
    pub(super) fn bound(&self, value: Sql, pick: &'static str) -> Sql {
        let Some(source) = &self.source else { return value };
        sql![
            "(SELECT CASE WHEN count(*) = count(v) THEN ",
            pick,
            "(v) END FROM (SELECT ",
            value,
            " AS v FROM ",
            source,
            "))",
        ]
    }

    /// Both bounds.
    pub(super) fn span(&self, span: Span) -> Span {
        if self.source.is_none() {
            return span;
        }
        Span { lo: self.bound(span.lo, "min"), hi: self.bound(span.hi, "max"), ..span }
    }

    /// Puts a text, flag or set where the instants of the window are known: what it is wherever the
    /// window begins.
    pub(super) fn agreed(&self, value: Sql) -> Sql {
        let Some(source) = &self.source else { return value };
        sql![
            "(SELECT CASE WHEN count(*) = count(v) AND min(v) = max(v) THEN min(v) END FROM (SELECT ",
            value,
            " AS v FROM ",
            source,
            "))",
        ]
    }
}

/// Whether a gap overlaps a window.
fn gap_inside(edges: &Edges) -> Cond {
    let mut conds = Vec::new();
    if let Some((earliest, _)) = &edges.start {
        conds.push(sql!["g.until > ", earliest]);
    }
    if let Some(End { last: end, .. }) = &edges.end {
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

/// The turn of a record among the joint's facts of its instant; runs are the last.
fn anchor_turn(row: &Row) -> Sql {
    if row.record == Record::Run { sql![LAST_TURN] } else { row.own("turn") }
}

/// Earliest and latest instant of the last inspection of a scope, from the joint's row of `since`
/// for it: from the first to the last of those that [`Lower::anchor`] finds.
fn begins(since: Alias) -> (Sql, Sql) {
    let earliest = sql![
        "CASE WHEN ",
        since,
        ".entry IS NOT NULL THEN ",
        since,
        ".at ELSE ",
        NEVER_BEGAN,
        " END",
    ];
    let latest = sql![
        "CASE WHEN j.unknown_until IS NULL THEN ",
        &earliest,
        " ELSE max(",
        &earliest,
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
