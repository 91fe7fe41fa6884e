//! The statements of an answer: which joints or records, with what beside them; and how many nobody
//! can decide, for want of what.

use crate::schema::Value;

use super::super::compile::{Answer, Column, Compiled, Query, Select};
use super::super::sql::{Cond, Part, Sql, sql};
use super::super::typed::{Case, Dim, Node, Pred, Reference, Rule, Shown};
use super::super::walk::own_anchors;
use super::{Lower, Scope};

impl Column {
    /// Its value, or its lower and its upper bound.
    pub(in super::super) fn bounds(&self, lower: &Lower, scope: &Scope) -> (Sql, Option<Sql>) {
        match &self.shown {
            Shown::Number(number) => {
                let span = lower.number(&number.num, scope);
                let hi = (!span.is_exact()).then_some(span.hi);
                // Instants that arithmetic has made are seconds; stored ones are milliseconds.
                let ms = number.dim == Dim::Date && number.num.quanta().is_none();
                let whole =
                    |x: Sql| if ms { sql!["CAST(round(", x, " * 1000) AS INTEGER)"] } else { x };
                (whole(span.lo), hi.map(whole))
            }
            Shown::Reference(place) => (lower.shown(place, scope), None),
            Shown::Cases { place, cases, more } => {
                (lower.shown_by_cases(place, (cases, more), scope), None)
            }
        }
    }
}

impl Lower {
    /// A text as it is shown, save where a case holds, and the words that stand behind it.
    fn shown_by_cases(
        &self,
        place: &Reference,
        (cases, more): (&[Case], &[Case]),
        scope: &Scope,
    ) -> Sql {
        let word = |then: Option<&str>| {
            Part::from(then.map_or(Value::Null, |word| Value::Text(word.to_owned())))
        };
        let holds = |case: &Case| self.truth(&case.when, scope).yes.sql();
        let mut text = self.shown(place, scope);
        if !cases.is_empty() {
            let mut parts = vec![Part::from("CASE")];
            for case in cases {
                parts.push(Part::from(sql![" WHEN ", holds(case), " THEN ", word(case.then)]));
            }
            parts.push(Part::from(sql![" ELSE ", text, " END"]));
            text = Sql::of(parts);
        }
        if more.is_empty() {
            return text;
        }
        let mut parts = vec![Part::from(sql!["nullif(ltrim(coalesce(", text, ", '')"])];
        for case in more {
            let then = case.then.map_or_else(String::new, |word| format!(", {word}"));
            let then = Value::Text(then);
            parts.push(Part::from(sql![
                " || CASE WHEN ",
                holds(case),
                " THEN ",
                then,
                " ELSE '' END"
            ]));
        }
        parts.push(Part::from(", ', '), '')"));
        Sql::of(parts)
    }
}

impl Compiled {
    /// What its statements are written with.
    pub(in super::super) fn lower(&self) -> (Lower, Scope) {
        let lower = Lower::new(self.now());
        let scope = self.record.map_or_else(Scope::default, |r| lower.record_scope(r));
        (lower, scope)
    }

    /// The statement that gives an answer.
    pub fn select(&self, select: &Select<'_>) -> Query {
        let (lower, scope) = self.lower();
        let scope = if select.among.is_some() { scope.of_few() } else { scope };
        let truth = lower.truth(self.tree(), &scope);
        let mut output = vec![Part::from(sql!["j.joint"])];
        if let Some(record) = self.record {
            let keys = record.key().iter().filter_map(|k| Lower::record_col(&scope, k));
            output.extend(keys.map(Part::from));
        }
        let keys = output.len();
        let verdict = match select.answer {
            Answer::Matching | Answer::Undecided => None,
            Answer::Both => Some(sql!["CASE WHEN ", truth.yes.sql(), " THEN 1 END"]),
            Answer::All => Some(sql![
                "CASE WHEN ",
                truth.yes.sql(),
                " THEN 1 WHEN ",
                truth.no.sql(),
                " THEN 0 END",
            ]),
        };
        let truth_at = verdict.is_some().then_some(output.len());
        output.extend(verdict.map(Part::from));
        let mut columns = Vec::new();
        let mut order = Vec::new();
        for (n, column) in select.columns.iter().enumerate() {
            let (lo, hi) = column.bounds(&lower, &scope);
            if let Some((_, largest_first)) = select.sort.filter(|(at, _)| *at == n) {
                let direction = if largest_first { " DESC NULLS LAST" } else { " NULLS LAST" };
                order.push(Part::from(sql![&lo, direction]));
            }
            let at = output.len();
            output.push(Part::from(lo));
            columns.push((at, hi.is_some().then_some(at + 1)));
            output.extend(hi.map(Part::from));
        }
        let wanted = match select.answer {
            Answer::Matching => truth.yes,
            Answer::Undecided => lower.undecided(self.tree(), &scope),
            Answer::Both => truth.no.fails(),
            Answer::All => Cond::Always,
        };
        let wanted = one_of(select.among).and(wanted);
        let mut statement = vec![
            Part::from("SELECT "),
            Part::from(Sql::list(output)),
            Part::from(" FROM "),
            Part::from(Lower::record_from(&scope)),
        ];
        if !matches!(wanted, Cond::Always) {
            statement.push(Part::from(sql![" WHERE ", wanted.sql()]));
        }
        // Of those that no column tells apart, and of all where none is named: joints by the names of
        // their entries, records as they came to pass. What is only counted needs no order.
        if matches!(select.answer, Answer::Matching | Answer::Undecided) {
            // Without the sign SQLite goes through all joints in the order of their names, page by page
            // here and there, rather than sort the few that match. The first few of many it finds so.
            order.push(Part::from(if select.limit.is_some() { "j.by_name" } else { "+j.by_name" }));
            if let Some(record) = self.record {
                let keys = record.key().iter().filter_map(|k| Lower::record_col(&scope, k));
                order.extend(keys.map(Part::from));
            }
            statement.push(Part::from(sql![" ORDER BY ", Sql::list(order)]));
        }
        if let Some(limit) = select.limit {
            statement.push(Part::from(sql![" LIMIT ", i64::from(limit)]));
        }
        let (sql, params) = Sql::of(statement).render();
        Query { sql, params, keys, truth: truth_at, columns }
    }

    /// One row: how many are undecided, and then, for each part of the filter that can be open by
    /// itself, for how many of them it is. The words of the parts come with it.
    ///
    /// Asked of all joints, or of these only, which nobody can decide.
    pub fn undecided_by(&self, among: Option<&[i64]>) -> (Query, Vec<String>) {
        let (lower, scope) = self.lower();
        let scope = if among.is_some() { scope.of_few() } else { scope };
        let mut leaves = Vec::new();
        leaves_of(self.tree(), &mut leaves);
        let mut labels: Vec<String> = Vec::new();
        let mut output = vec![Part::from("count(*)")];
        for leaf in leaves {
            let label = leaf.label();
            if labels.contains(&label) {
                continue;
            }
            let Cond::When(open) = lower.truth(leaf, &scope).open() else { continue };
            labels.push(label);
            output.push(Part::from(sql!["coalesce(sum(", open, "), 0)"]));
        }
        let columns = (1..output.len()).map(|at| (at, None)).collect();
        let which = match among {
            Some(_) => one_of(among),
            None => lower.undecided(self.tree(), &scope),
        };
        let statement = sql![
            "SELECT ",
            Sql::list(output),
            " FROM ",
            Lower::record_from(&scope),
            " WHERE ",
            which.sql(),
        ];
        let (sql, params) = statement.render();
        (Query { sql, params, keys: 0, truth: None, columns }, labels)
    }
}

impl Compiled {
    /// One row: of how many of these joints it is certain that they never had a record at which a window
    /// of the filter begins, for each such record. The words of the records come with it. Those windows
    /// begin with the joint.
    pub fn never_began(&self, joints: &[i64]) -> Option<(Query, Vec<String>)> {
        let lower = Lower::new(self.now());
        let mut labels: Vec<String> = Vec::new();
        let mut output = Vec::new();
        for (anchor, window) in own_anchors(self.tree()) {
            let label = anchor.label();
            if labels.contains(&label) {
                continue;
            }
            let never = lower.never_was(anchor, window.as_of);
            labels.push(label);
            output.push(Part::from(sql!["coalesce(sum(", never.sql(), "), 0)"]));
        }
        if labels.is_empty() || joints.is_empty() {
            return None;
        }
        let columns = (0..output.len()).map(|at| (at, None)).collect();
        let statement =
            sql!["SELECT ", Sql::list(output), " FROM joint j WHERE ", one_of(Some(joints)).sql(),];
        let (sql, params) = statement.render();
        Some((Query { sql, params, keys: 0, truth: None, columns }, labels))
    }
}

/// One of these joints, where some are given. They go in as one parameter, however many they are.
fn one_of(joints: Option<&[i64]>) -> Cond {
    let Some(joints) = joints else { return Cond::Always };
    let numbers: Vec<String> = joints.iter().map(i64::to_string).collect();
    let list = Value::Text(format!("[{}]", numbers.join(",")));
    Cond::When(sql!["j.joint IN (SELECT value FROM json_each(", list, "))"])
}

/// Conditions that cannot be taken apart by and, or and not.
fn leaves_of<'n>(node: &'n Node, out: &mut Vec<&'n Node>) {
    match &node.pred {
        Pred::All(terms) | Pred::Any(terms) => terms.iter().for_each(|t| leaves_of(t, out)),
        Pred::Not(inner) => leaves_of(inner, out),
        Pred::Rule(rule) => leaves_of_rule(rule, out),
        Pred::Due(rules) => rules.iter().for_each(|r| leaves_of_rule(r, out)),
        Pred::Called(called) if called.open => out.push(node),
        Pred::Const(_) | Pred::Called(_) => {}
        _ => out.push(node),
    }
}

fn leaves_of_rule<'n>(rule: &'n Rule, out: &mut Vec<&'n Node>) {
    rule.scope.iter().chain([&rule.filter]).for_each(|n| leaves_of(n, out));
}
