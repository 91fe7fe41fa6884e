//! Queries for Spark. It takes no subquery that compares with rows around it otherwise than by `=`, and
//! none inside another: so the records of a joint stand as lists in its row, and a question to them
//! becomes one to lists. Rows are structs there, and a row source is the variable of a lambda.

use crate::schema::Table;

use super::engine::Refusal;
use super::scope::{Columns, Known, Scope, Shape, Told, Type};
use super::tree::{Expr, Join, Order, Query, Rows, Sign, Window};
use super::write::{Text, Writer};

/// Rows that pass, one row source within the other.
#[derive(Clone, Debug)]
pub(super) struct Flow {
    /// A variable, and the list that it goes through.
    steps: Vec<(String, String)>,
    /// What all of them must meet.
    cond: Option<String>,
    scope: Scope,
}

impl Flow {
    /// The list of what is written of each row.
    fn map(&self, out: &str) -> String {
        let mut list = String::new();
        for (n, (variable, rows)) in self.steps.iter().enumerate().rev() {
            let last = n + 1 == self.steps.len();
            list = match (&self.cond, last) {
                (Some(cond), true) => {
                    format!("transform(filter({rows}, {variable} -> {cond}), {variable} -> {out})")
                }
                (None, true) => format!("transform({rows}, {variable} -> {out})"),
                (_, false) => format!("flatten(transform({rows}, {variable} -> {list}))"),
            };
        }
        list
    }

    /// Whether there is a row.
    fn any(&self) -> String {
        let mut found = self.cond.clone().unwrap_or_else(|| "TRUE".to_owned());
        for (variable, rows) in self.steps.iter().rev() {
            found = format!("exists({rows}, {variable} -> {found})");
        }
        // What is NULL for one row is no row.
        format!("coalesce({found}, FALSE)")
    }
}

/// The parts of a condition that must all hold.
fn terms<'e>(cond: &'e Expr, out: &mut Vec<&'e Expr>) {
    match cond {
        Expr::Pair(Sign::And, left, right) => {
            terms(left, out);
            terms(right, out);
        }
        other => out.push(other),
    }
}

/// Whether something is folded over rows in an expression.
fn folds(expr: &Expr) -> bool {
    match expr {
        Expr::Call(name, args, None) => {
            matches!((name.as_str(), args.len()), ("count", _) | ("sum" | "min" | "max", 1))
                || args.iter().any(folds)
        }
        Expr::Pair(_, a, b) | Expr::Differs(a, b) => folds(a) || folds(b),
        Expr::Not(a)
        | Expr::Negative(a)
        | Expr::IsNull(a, _)
        | Expr::IsTrue(a, _)
        | Expr::Whole(a)
        | Expr::Collated(a, _) => folds(a),
        Expr::Case(cases, otherwise) => {
            cases.iter().any(|(cond, value)| folds(cond) || folds(value))
                || otherwise.as_deref().is_some_and(folds)
        }
        _ => false,
    }
}

/// A value of a type, where NULL alone has none.
fn typed(text: &Text) -> String {
    if text.told.kind == Type::Nothing {
        "CAST(NULL AS BIGINT)".to_owned()
    } else {
        text.sql.clone()
    }
}

/// The sum of a list, NULL where it holds nothing.
fn sum(list: &str, kind: Type, value: &str) -> String {
    let (none, zero) = match kind {
        Type::Real => ("CAST(NULL AS DOUBLE)", "0D"),
        _ => ("CAST(NULL AS BIGINT)", "0L"),
    };
    format!(
        "aggregate({list}, {none}, (sum_, v_) -> IF({value} IS NULL, sum_, coalesce(sum_, {zero}) + {value}))"
    )
}

impl Writer {
    /// The rows that a query goes through, before anything is folded or ordered.
    fn flow(&self, query: &Query, around: &Scope) -> Result<Flow, Refusal> {
        let mut scope = around.inside();
        let (mut steps, mut conds) = (Vec::new(), Vec::new());
        let mut runs = Vec::new();
        if let Some(cond) = &query.cond {
            terms(cond, &mut conds);
        }
        for source in &query.from {
            match &source.join {
                Join::On(on) => terms(on, &mut conds),
                Join::Left(Some(_)) => return Err(Refusal::Unread),
                Join::Cross | Join::Left(None) => {}
            }
        }
        for source in &query.from {
            let alias = if source.alias.is_empty() { "rows_" } else { &source.alias };
            let left = matches!(source.join, Join::Left(_));
            let (rows, shape) = match &source.rows {
                Rows::Table(name) => {
                    let table = self.table(name)?;
                    if table == Table::Run {
                        runs.push(alias.to_owned());
                        continue;
                    }
                    // Whose records they are.
                    let mut of_joint = false;
                    conds.retain(|cond| {
                        let own = is_of_joint(cond, alias);
                        of_joint |= own;
                        !own
                    });
                    if !of_joint || table == Table::Joint {
                        return Err(Refusal::Unread);
                    }
                    (format!("j.{}", list_of(table)), Shape::Table(table))
                }
                Rows::Query(inner) => {
                    let (list, columns) = self.list(inner, around)?;
                    (list, Self::shape(&columns))
                }
            };
            let rows = match (left, &source.rows) {
                (false, _) => rows,
                (true, Rows::Query(inner)) if matches!(inner.limit, Some((1, _))) => {
                    format!("array(get({rows}, 0))")
                }
                (true, _) => return Err(Refusal::Unread),
            };
            steps.push((alias.to_owned(), rows));
            scope.put(Known { alias: alias.to_owned(), shape, path: format!("{alias}."), left });
        }
        // A run stands in the row of each joint that was in it.
        for run in runs {
            let mut of = None;
            conds.retain(|cond| match run_of(cond, &run) {
                Some(row) if of.is_none() => {
                    of = Some(row);
                    false
                }
                _ => true,
            });
            let row = of.ok_or(Refusal::Unread)?;
            if scope.source(&row).is_none_or(|k| k.table() != Some(Table::JointRun)) {
                return Err(Refusal::Unread);
            }
            let path = format!("{row}.{RUN}.");
            scope.put(Known { alias: run, shape: Shape::Table(Table::Run), path, left: false });
        }
        let mut cond: Option<String> = None;
        for term in conds {
            let term = self.cond(term, &scope)?;
            cond = Some(match cond {
                Some(cond) => format!("({cond} AND {term})"),
                None => term,
            });
        }
        if steps.is_empty() {
            steps.push(("one_".to_owned(), "array(1L)".to_owned()));
        }
        Ok(Flow { steps, cond, scope })
    }

    /// The rows of a query as a list of structs.
    fn list(&self, query: &Query, around: &Scope) -> Result<(String, Columns), Refusal> {
        let names: Vec<Option<String>> = query
            .columns
            .iter()
            .map(|(expr, name)| {
                name.clone().or_else(|| match expr {
                    Expr::Column(_, name) => Some(name.clone()),
                    _ => None,
                })
            })
            .collect();
        let (first, mut columns) = self.list_of_one(query, &names, around)?;
        if query.more.is_empty() {
            return Ok((first, columns));
        }
        let mut lists = vec![first];
        for more in &query.more {
            let (list, told) = self.list_of_one(more, &names, around)?;
            lists.push(list);
            for (column, (_, other)) in columns.iter_mut().zip(told) {
                column.1.kind = column.1.kind.or(other.kind);
                column.1.always &= other.always;
            }
        }
        Ok((format!("concat({})", lists.join(", ")), columns))
    }

    fn list_of_one(
        &self,
        query: &Query,
        names: &[Option<String>],
        around: &Scope,
    ) -> Result<(String, Columns), Refusal> {
        let flow = self.flow(query, around)?;
        let windowed = query.columns.iter().any(|(e, _)| matches!(e, Expr::Call(_, _, Some(_))));
        if windowed {
            return self.windowed_list(query, names, &flow);
        }
        if !query.group.is_empty() {
            return self.grouped(query, names, &flow, around);
        }
        if query.columns.iter().any(|(expr, _)| folds(expr)) {
            let (row, columns) = self.folded_row(query, names, &flow, around)?;
            return Ok((format!("array({row})"), columns));
        }
        let mut fields = Vec::new();
        for (n, order) in query.order.iter().enumerate() {
            fields.push(format!("'o{n}', {}", typed(&self.value(&order.by, &flow.scope)?)));
        }
        let mut columns = Vec::new();
        for (n, ((expr, _), name)) in query.columns.iter().zip(names).enumerate() {
            let text = self.value(expr, &flow.scope)?;
            fields.push(format!("'{}', {}", shown(n, name.as_deref()), typed(&text)));
            columns.push((name.clone(), text.told));
        }
        let rows = flow.map(&format!("named_struct({})", fields.join(", ")));
        let Some((many, left)) = query.limit else { return Ok((rows, columns)) };
        let down = one_way(&query.order)?;
        let rows = if (many, left) == (1, 0) {
            let utmost = if down { "array_max" } else { "array_min" };
            format!("filter(array({utmost}({rows})), v_ -> v_ IS NOT NULL)")
        } else {
            format!("slice(sort_array({rows}, {}), {}, {many})", !down, left + 1)
        };
        Ok((rows, columns))
    }

    /// The one row of a query that folds.
    fn folded_row(
        &self,
        query: &Query,
        names: &[Option<String>],
        flow: &Flow,
        around: &Scope,
    ) -> Result<(String, Columns), Refusal> {
        let (mut fields, mut columns) = (Vec::new(), Vec::new());
        for (n, ((expr, _), name)) in query.columns.iter().zip(names).enumerate() {
            let text = self.fold_over(expr, flow, around)?;
            fields.push(format!("'{}', {}", shown(n, name.as_deref()), typed(&text)));
            columns.push((name.clone(), text.told));
        }
        Ok((format!("named_struct({})", fields.join(", ")), columns))
    }

    /// An expression in which rows are folded.
    fn fold_over(&self, expr: &Expr, flow: &Flow, around: &Scope) -> Result<Text, Refusal> {
        self.flows.borrow_mut().push(flow.clone());
        let text = self.value(expr, around);
        self.flows.borrow_mut().pop();
        text
    }

    /// One of the rows' values, by the folding that stands in an expression.
    pub(super) fn folded_list(&self, name: &str, args: &[Expr]) -> Result<Text, Refusal> {
        // What it folds may fold other rows: those are not these.
        let flow = self.flows.borrow_mut().pop().ok_or(Refusal::Unread)?;
        let text = self.fold_of(name, args, &flow);
        self.flows.borrow_mut().push(flow);
        text
    }

    fn fold_of(&self, name: &str, args: &[Expr], flow: &Flow) -> Result<Text, Refusal> {
        let Some(arg) = args.first() else {
            let many = flow.map("1L");
            return Ok(Text::new(format!("CAST(size({many}) AS BIGINT)"), Type::Whole, true));
        };
        let arg = self.value(arg, &flow.scope)?;
        let list = flow.map(&typed(&arg));
        let kind = arg.told.kind.or(Type::Nothing);
        Ok(match name {
            "count" => {
                let sql = format!("CAST(size(filter({list}, v_ -> v_ IS NOT NULL)) AS BIGINT)");
                Text::new(sql, Type::Whole, true)
            }
            "sum" => Text::new(sum(&list, kind, "v_"), kind.or(Type::Whole), false),
            "max" | "min" => Text::new(format!("array_{name}({list})"), kind, false),
            _ => return Err(Refusal::Unread),
        })
    }

    /// A query that folds the rows of each value of its key.
    fn grouped(
        &self,
        query: &Query,
        names: &[Option<String>],
        flow: &Flow,
        around: &Scope,
    ) -> Result<(String, Columns), Refusal> {
        let ([key], [(variable, rows)], None) =
            (query.group.as_slice(), flow.steps.as_slice(), &flow.cond)
        else {
            return Err(Refusal::Unread);
        };
        let key = self.value(key, &flow.scope)?.sql;
        let of_key = format!("filter(all_, {variable} -> {key} <=> key_)");
        let inner = Flow { steps: vec![(variable.clone(), of_key)], ..flow.clone() };
        let (row, columns) = self.folded_row(query, names, &inner, around)?;
        let keys = format!("array_distinct(transform(all_, {variable} -> {key}))");
        let list = format!("transform(array({rows}), all_ -> transform({keys}, key_ -> {row}))[0]");
        Ok((list, columns))
    }

    /// A query with columns that are worked out over an order of its rows.
    fn windowed_list(
        &self,
        query: &Query,
        names: &[Option<String>],
        flow: &Flow,
    ) -> Result<(String, Columns), Refusal> {
        let mut order: Option<&Window> = None;
        let (mut fields, mut output, mut columns) = (Vec::new(), Vec::new(), Vec::new());
        for (n, ((expr, _), name)) in query.columns.iter().zip(names).enumerate() {
            let shown = shown(n, name.as_deref());
            let (text, value) = match expr {
                Expr::Call(function, args, Some(window)) => {
                    if order.is_some_and(|order| order.order != window.order) {
                        return Err(Refusal::Unread);
                    }
                    order = Some(window);
                    let arg = match args.first() {
                        Some(arg) => self.value(arg, &flow.scope)?,
                        None => Text::new("1L", Type::Whole, true),
                    };
                    let kind = arg.told.kind;
                    let value = match function.as_str() {
                        "row_number" => "CAST(i_ + 1 AS BIGINT)".to_owned(),
                        "lag" => format!("get(sorted_, i_ - 1).w{n}"),
                        "sum" if window.rows => {
                            sum("slice(sorted_, 1, i_ + 1)", kind, &format!("v_.w{n}"))
                        }
                        _ => return Err(Refusal::Unread),
                    };
                    let always = function == "row_number";
                    (Text { told: Told { kind, always }, ..arg }, value)
                }
                expr => (self.value(expr, &flow.scope)?, format!("e_.w{n}")),
            };
            fields.push(format!("'w{n}', {}", typed(&text)));
            output.push(format!("'{shown}', {value}"));
            columns.push((name.clone(), text.told));
        }
        let order = &order.ok_or(Refusal::Unread)?.order;
        let down = one_way(order)?;
        let mut row = Vec::new();
        for (n, one) in order.iter().enumerate() {
            row.push(format!("'o{n}', {}", typed(&self.value(&one.by, &flow.scope)?)));
        }
        row.extend(fields);
        let rows = flow.map(&format!("named_struct({})", row.join(", ")));
        let list = format!(
            "transform(array(sort_array({rows}, {})), sorted_ -> transform(sorted_, (e_, i_) -> \
             named_struct({})))[0]",
            !down,
            output.join(", ")
        );
        Ok((list, columns))
    }

    /// The one value of a query.
    pub(super) fn scalar_of_list(&self, query: &Query, scope: &Scope) -> Result<Text, Refusal> {
        let [(expr, _)] = query.columns.as_slice() else { return Err(Refusal::Unread) };
        let plain = query.limit.is_none() && query.more.is_empty() && query.group.is_empty();
        if plain && folds(expr) {
            let flow = self.flow(query, scope)?;
            return self.fold_over(expr, &flow, scope);
        }
        if plain {
            let flow = self.flow(query, scope)?;
            let text = self.value(expr, &flow.scope)?;
            let list = flow.map(&typed(&text));
            return Ok(Text::new(format!("get({list}, 0)"), text.told.kind, false));
        }
        let (list, columns) = self.list(query, scope)?;
        let (name, told) = columns.into_iter().next().ok_or(Refusal::Unread)?;
        let sql = format!("get({list}, 0).{}", shown(0, name.as_deref()));
        Ok(Text { sql, told: Told { always: false, ..told } })
    }

    pub(super) fn exists_in_list(&self, query: &Query, scope: &Scope) -> Result<String, Refusal> {
        let plain = query.limit.is_none() && query.more.is_empty() && query.group.is_empty();
        if plain && !query.columns.iter().any(|(expr, _)| folds(expr)) {
            return Ok(self.flow(query, scope)?.any());
        }
        Ok(format!("(size({}) > 0)", self.list(query, scope)?.0))
    }
}

/// The field of a joint's run that holds the run.
pub(super) const RUN: &str = "run_row";

/// The list that holds the records of a joint in its row.
pub(super) fn list_of(table: Table) -> String {
    format!("list_{}", table.name())
}

/// The name of a column in its struct.
fn shown(n: usize, name: Option<&str>) -> String {
    name.map_or_else(|| format!("column{n}"), str::to_owned)
}

/// Whether all of an order go down; lists of structs are sorted one way.
fn one_way(order: &[Order]) -> Result<bool, Refusal> {
    let down = order.first().is_some_and(|o| o.down);
    if order.iter().all(|o| o.down == down) { Ok(down) } else { Err(Refusal::Unread) }
}

/// Whether a condition says that a row is one of the joint's.
fn is_of_joint(cond: &Expr, alias: &str) -> bool {
    let Expr::Pair(Sign::Equal, left, right) = cond else { return false };
    let (Expr::Column(Some(a), left), Expr::Column(Some(b), right)) = (&**left, &**right) else {
        return false;
    };
    left == "joint" && right == "joint" && a != b && (a == alias || b == alias)
}

/// The row whose run a condition says this is.
fn run_of(cond: &Expr, run: &str) -> Option<String> {
    let Expr::Pair(Sign::Equal, left, right) = cond else { return None };
    let (Expr::Column(Some(a), left), Expr::Column(Some(b), right)) = (&**left, &**right) else {
        return None;
    };
    if left != "run" || right != "run" {
        return None;
    }
    (a == run).then(|| b.clone()).or_else(|| (b == run).then(|| a.clone()))
}
