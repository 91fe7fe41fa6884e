//! Questions to records in SQL: any, no, every, latest, first; and fields of the latest or first.

use super::super::ast::{Quant, Which};
use super::super::registry::Record;
use super::super::sql::{Cond, Sql, sql};
use super::super::typed::{Pick, Records};
use super::super::walk::is_of_the_book;
use super::number::Span;
use super::prune::Hint;
use super::records::Opened;
use super::window::Edges;
use super::{Lower, Scope, Truth, prune};

impl Lower {
    pub(super) fn history(&self, quant: Quant, of: &Records, scope: &Scope) -> Truth {
        let edges = self.edges(&of.window);
        let truth = match quant {
            Quant::Any => return self.any(of, &edges, scope),
            Quant::No => return self.any(of, &edges, scope).not(),
            Quant::Every => self.every(of, &edges),
            Quant::One(which) => self.utmost(of, &edges, which),
        };
        Truth { yes: edges.hold(truth.yes), no: edges.hold(truth.no) }
    }

    /// Some record is; none can be, and none is missing. What the joint's own row tells is asked
    /// before the window is looked for.
    fn any(&self, of: &Records, edges: &Edges, scope: &Scope) -> Truth {
        let condition = of.condition.as_deref();
        let complete = self.complete(edges);
        let summary = prune::summary(of.record, condition);
        if summary.exact && of.window.is_all() {
            let Hint { mut needed, excluded, .. } = summary.hint;
            if of.record.may_conflict() {
                let opened = self.open(of, edges);
                let counts = opened.exists(&opened.surely());
                needed = needed.and(Cond::When(sql!["j.conflicted = 0"]).or(counts));
            }
            return Truth { yes: needed, no: excluded.and(complete) };
        }
        if let Some(truth) = self.inspected(of, edges, &complete) {
            return truth;
        }
        let opened = self.open(of, edges);
        let mut hints = vec![summary.hint];
        let counted = of.record == Record::Run && !is_of_the_book(condition);
        if counted {
            hints.extend(self.run_hints(condition, scope.few));
        }
        let mut found = opened.exists(&opened.surely());
        let none = opened.none(&opened.maybe());
        if counted
            && !hints.iter().any(|h| h.narrow)
            && let Some(sharp) = prune::sharp(condition, scope.few)
        {
            // Where the index holds all that is asked, a joint without clashes needs no other look.
            if sharp.exact && of.window.is_all() {
                found = Cond::When(sql!["j.conflicted = 0"]).or(found);
            }
            found = sharp.needed.and(found);
        }
        if of.record == Record::Run && condition.is_none() && edges.end.is_none() {
            // Without clashes the end of the last run tells.
            let begun = edges
                .start
                .as_ref()
                .map_or(Cond::Always, |(_, latest)| Cond::When(sql!["j.last_run > ", latest]));
            found = Cond::When(sql!["j.conflicted = 0"]).and(begun).or(found);
        }
        let needed = Cond::all(hints.iter().map(|h| h.needed.clone()));
        let excluded = Cond::any(hints.into_iter().map(|h| h.excluded));
        if edges.at_records() {
            let whole = Cond::When(sql!["j.life_complete = 1"]);
            let rest = complete.and(excluded.clone().or(none));
            let no = excluded.and(whole).or(edges.hold(rest));
            return Truth { yes: needed.and(edges.hold(found)), no };
        }
        Truth { yes: needed.and(found), no: excluded.or(none).and(complete) }
    }

    /// Whether there was an inspection of one scope, from some date on: where the joint's row of
    /// `since` is at hand, it holds the last of them.
    fn inspected(&self, of: &Records, edges: &Edges, complete: &Cond) -> Option<Truth> {
        let scope = of.scope_covered()?;
        if edges.end.is_some() || !of.window.anchors.is_empty() {
            return None;
        }
        let since = self.joined_since(scope)?;
        let entry = sql![since, ".entry"];
        let (yes, no) = match of.window.from {
            None => (sql![&entry, " IS NOT NULL"], sql![&entry, " IS NULL"]),
            Some(from) => {
                let at = sql![since, ".at"];
                (
                    sql!["(", &entry, " IS NOT NULL AND ", &at, " >= ", from, ")"],
                    sql!["(", &entry, " IS NULL OR ", &at, " < ", from, ")"],
                )
            }
        };
        Some(Truth { yes: Cond::When(yes), no: Cond::When(no).and(complete.clone()) })
    }

    /// So many follow each other that certainly are there and meet the condition, with nothing between
    /// them that may not, seen or unseen; or even with all that may be there no so many do.
    pub(super) fn in_a_row(&self, many: i64, of: &Records) -> Truth {
        let edges = self.edges(&of.window);
        let opened = self.open(of, &edges);
        let counts = opened.surely();
        let fails = opened.truth.yes.fails();
        let yes = follow_each_other(&opened, many, &counts, &fails, true);
        let counts = opened.truth.no.fails();
        let fails = opened.certain.clone().and(opened.truth.no.clone());
        let may = follow_each_other(&opened, many, &counts, &fails, false);
        let no = self.complete(&edges).and(may.fails());
        Truth { yes: edges.hold(yes), no: edges.hold(no) }
    }

    /// There is one and each is, and none is missing; or one is not, or there is none.
    fn every(&self, of: &Records, edges: &Edges) -> Truth {
        let opened = self.open(of, edges);
        let complete = self.complete(edges);
        let is_not = opened.certain.clone().and(opened.truth.no.clone());
        let may_fail = opened.possible.clone().and(opened.truth.yes.fails());
        let may_pass = opened.possible.clone().and(opened.truth.no.fails());
        Truth {
            yes: Cond::all([
                complete.clone(),
                opened.exists(&opened.certain),
                opened.none(&may_fail),
            ]),
            no: opened.exists(&is_not).or(complete.and(opened.none(&may_pass))),
        }
    }

    /// Whichever record may be the latest (or first) is; or none of them is.
    fn utmost(&self, of: &Records, edges: &Edges, which: Which) -> Truth {
        let kept = self.keeper(of, edges, which, false);
        let known = self.nothing_beyond(edges, &kept.edge(), which.from_the_end());
        let opened = self.open(of, edges);
        let possible = |o: &Opened| o.possible.clone();
        let counts = self.counts_as((of, edges), &opened, which, possible);
        let candidate = opened.as_far_as(&kept, which).and(counts.clone());
        let decided = |failing: Cond| {
            let inner = known.clone().and(opened.none(&candidate.clone().and(failing)));
            Cond::When(sql!["EXISTS (SELECT 1 FROM ", &kept.source, " WHERE ", inner.sql(), ")"])
        };
        let yes = decided(opened.truth.yes.fails());
        let no = decided(opened.truth.no.fails());
        let none = opened.none(&counts.and(opened.truth.no.fails()));
        Truth { yes, no: no.or(self.complete(edges).and(none)) }
    }

    /// What is said of the latest or first record that meets the condition: it must be so for every
    /// record that may be the one.
    pub(super) fn pick_truth(&self, pick: &Pick, say: &dyn Fn(&Scope) -> Truth) -> Truth {
        let edges = self.edges(&pick.of.window);
        let kept = self.keeper(&pick.of, &edges, pick.which, true);
        let known = self.nothing_beyond(&edges, &kept.edge(), pick.which.from_the_end());
        let opened = self.open(&pick.of, &edges);
        let candidate = self.may_be_it((&pick.of, &edges), &opened, (&kept, pick.which));
        let said = say(&opened.scope());
        let decided = |failing: Cond| {
            let inner = known.clone().and(opened.none(&candidate.clone().and(failing)));
            let found = sql!["EXISTS (SELECT 1 FROM ", &kept.source, " WHERE ", inner.sql(), ")"];
            edges.hold(Cond::When(found))
        };
        Truth { yes: decided(said.yes.fails()), no: decided(said.no.fails()) }
    }

    /// A number of the latest or first record that meets the condition.
    pub(super) fn pick_number(&self, pick: &Pick) -> Span {
        let edges = self.edges(&pick.of.window);
        let kept = self.keeper(&pick.of, &edges, pick.which, true);
        let opened = self.open(&pick.of, &edges);
        let span = self.read(&pick.read, &opened.scope());
        let bound = |fold: &'static str, value: &Sql| {
            let whole =
                sql!["CASE WHEN count(*) = count(", value, ") THEN ", fold, "(", value, ") END",];
            self.candidates(pick, &edges, &kept, &opened, &whole)
        };
        let (lo, hi) = (bound("min", &span.lo), bound("max", &span.hi));
        edges.span(Span { lo, hi, quanta: span.quanta })
    }

    /// A text, flag or set of the latest or first record that meets the condition: NULL when the
    /// candidates differ.
    pub(super) fn pick_value(&self, pick: &Pick, value: &dyn Fn(&Scope) -> Sql) -> Sql {
        let edges = self.edges(&pick.of.window);
        let kept = self.keeper(&pick.of, &edges, pick.which, true);
        let opened = self.open(&pick.of, &edges);
        let value = value(&opened.scope());
        let agreed = sql![
            "CASE WHEN count(*) = count(",
            &value,
            ") AND min(",
            &value,
            ") = max(",
            &value,
            ") THEN min(",
            &value,
            ") END",
        ];
        edges.agreed(self.candidates(pick, &edges, &kept, &opened, &agreed))
    }

    /// Something worked out over all records that may be the one picked.
    fn candidates(
        &self,
        pick: &Pick,
        edges: &Edges,
        kept: &super::records::Keeper,
        opened: &Opened,
        what: &Sql,
    ) -> Sql {
        let candidate = self.may_be_it((&pick.of, edges), opened, (kept, pick.which));
        let known = self.nothing_beyond(edges, &kept.edge(), pick.which.from_the_end());
        sql![
            "(SELECT (SELECT ",
            what,
            opened.rows(&candidate),
            ") FROM ",
            &kept.source,
            " WHERE ",
            known.sql(),
            ")",
        ]
    }
}

/// Whether among the rows that may be there so many that count follow each other with none between them
/// that fails, and, where that is asked, no gap in what is known of the joint.
fn follow_each_other(opened: &Opened, many: i64, counts: &Cond, fails: &Cond, seen: bool) -> Cond {
    let (start, end) = opened.row.record.span();
    let order = opened.order();
    let gap = if seen {
        sql![
            " OR (j.life_complete = 0 AND EXISTS (SELECT 1 FROM gap g WHERE g.joint = j.joint AND \
             g.until > y.before AND (g.since IS NULL OR g.since < y.start)))",
        ]
    } else {
        sql![""]
    };
    Cond::When(sql![
        "EXISTS (SELECT 1 FROM (SELECT sum(counts) AS n FROM (SELECT counts, sum(apart) OVER (ORDER BY \
         place ROWS UNBOUNDED PRECEDING) AS part FROM (SELECT y.counts, y.place, (y.fails",
        gap,
        ") AS apart FROM (SELECT (",
        counts.sql(),
        ") IS TRUE AS counts, (",
        fails.sql(),
        ") IS TRUE AS fails, ",
        opened.row.own(start),
        " AS start, lag(",
        opened.row.own(end),
        ") OVER o AS before, row_number() OVER o AS place",
        opened.rows(&opened.possible),
        " WINDOW o AS (ORDER BY ",
        order,
        ")) y)) GROUP BY part) WHERE n >= ",
        many,
        ")",
    ])
}
