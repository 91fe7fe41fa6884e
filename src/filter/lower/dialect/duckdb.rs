//! Queries for DuckDB: subqueries stay subqueries, whose rows the engine finds for all joints at once.

use crate::schema::Table;

use super::engine::Refusal;
use super::scope::{Columns, Known, Scope, Shape, Told, Type};
use super::tree::{Expr, Join, Order, Query, Rows, Window};
use super::write::{Text, Writer};

impl Writer {
    /// A query, with what its columns are.
    pub(super) fn query(
        &self,
        query: &Query,
        around: &Scope,
    ) -> Result<(String, Columns), Refusal> {
        let (mut sql, mut columns) = self.select(query, around)?;
        for more in &query.more {
            let (next, told) = self.select(more, around)?;
            sql = format!("{sql} UNION ALL {next}");
            for (column, (_, other)) in columns.iter_mut().zip(told) {
                column.1.kind = column.1.kind.or(other.kind);
                column.1.always &= other.always;
            }
        }
        Ok((sql, columns))
    }

    fn select(&self, query: &Query, around: &Scope) -> Result<(String, Columns), Refusal> {
        let mut scope = around.inside();
        let mut from = String::new();
        for (n, source) in query.from.iter().enumerate() {
            let alias = if source.alias.is_empty() { "rows_" } else { &source.alias };
            let (rows, shape) = match &source.rows {
                Rows::Table(name) => {
                    let table = self.table(name)?;
                    (super::engine::of_publication(table), Shape::Table(table))
                }
                Rows::Query(inner) => {
                    let (sql, columns) = self.query(inner, around)?;
                    (format!("({sql})"), Self::shape(&columns))
                }
            };
            let left = matches!(source.join, Join::Left(_));
            scope.put(Known { alias: alias.to_owned(), shape, path: format!("{alias}."), left });
            let on = match &source.join {
                Join::On(on) | Join::Left(Some(on)) => format!(" ON {}", self.cond(on, &scope)?),
                Join::Left(None) => " ON TRUE".to_owned(),
                Join::Cross => String::new(),
            };
            let word = match &source.join {
                _ if n == 0 => "",
                Join::Cross => " CROSS JOIN ",
                Join::On(_) => " JOIN ",
                Join::Left(_) => " LEFT JOIN ",
            };
            from = format!("{from}{word}{rows} {alias}{on}");
        }
        let (mut output, mut columns) = (Vec::new(), Vec::new());
        for (n, (expr, name)) in query.columns.iter().enumerate() {
            // Nobody but the reader sees the truth values of the whole.
            let text = if around.is_empty() {
                self.expr(expr, &scope)?
            } else {
                self.value(expr, &scope)?
            };
            // A column that is only named keeps its name.
            let name = name.clone().or_else(|| match expr {
                Expr::Column(_, name) => Some(name.clone()),
                _ => None,
            });
            let shown = name.clone().unwrap_or_else(|| format!("column{n}"));
            output.push(format!("{} AS {}", text.sql, self.dialect.name(&shown)));
            columns.push((name, text.told));
        }
        let mut sql = format!("SELECT {}", output.join(", "));
        if !from.is_empty() {
            sql = format!("{sql} FROM {from}");
        }
        if let Some(cond) = &query.cond {
            sql = format!("{sql} WHERE {}", self.cond(cond, &scope)?);
        }
        if !query.group.is_empty() {
            let mut by = Vec::new();
            for expr in &query.group {
                by.push(self.value(expr, &scope)?.sql);
            }
            sql = format!("{sql} GROUP BY {}", by.join(", "));
        }
        if !query.order.is_empty() {
            sql = format!("{sql} ORDER BY {}", self.order(&query.order, &scope)?);
        }
        if let Some((many, left)) = query.limit {
            sql = format!("{sql} LIMIT {many}");
            if left > 0 {
                sql = format!("{sql} OFFSET {left}");
            }
        }
        Ok((sql, columns))
    }

    pub(super) fn table(&self, name: &str) -> Result<Table, Refusal> {
        if name == Table::WindowPart.name() {
            return Err(Refusal::Parts);
        }
        let table = Table::ALL.iter().find(|t| t.name() == name);
        let table = *table.ok_or(Refusal::Unread)?;
        self.used.borrow_mut().entry(table).or_default();
        Ok(table)
    }

    fn order(&self, order: &[Order], scope: &Scope) -> Result<String, Refusal> {
        let mut by = Vec::new();
        for one in order {
            // As SQLite has them.
            let way = if one.down { "DESC NULLS LAST" } else { "ASC NULLS FIRST" };
            by.push(format!("{} {way}", self.value(&one.by, scope)?.sql));
        }
        Ok(by.join(", "))
    }

    pub(super) fn subquery(&self, query: &Query, scope: &Scope) -> Result<Text, Refusal> {
        let (sql, columns) = self.query(query, scope)?;
        let [(_, told)] = columns.as_slice() else { return Err(Refusal::Unread) };
        Ok(Text { sql: format!("({sql})"), told: Told { always: false, ..*told } })
    }

    pub(super) fn folded(&self, name: &str, args: &[Expr], scope: &Scope) -> Result<Text, Refusal> {
        let Some(arg) = args.first() else {
            return Ok(Text::new("count(*)", Type::Whole, true));
        };
        let arg = self.value(arg, scope)?;
        Ok(match (name, arg.told.kind) {
            ("count", _) => Text::new(format!("count({})", arg.sql), Type::Whole, true),
            ("sum", Type::Whole) => {
                Text::new(format!("CAST(sum({}) AS BIGINT)", arg.sql), Type::Whole, false)
            }
            (name, kind) => Text::new(format!("{name}({})", arg.sql), kind, false),
        })
    }

    pub(super) fn over(
        &self,
        name: &str,
        args: &[Expr],
        window: &Window,
        scope: &Scope,
    ) -> Result<Text, Refusal> {
        let mut list = Vec::new();
        let mut kind = Type::Whole;
        for arg in args {
            let arg = self.value(arg, scope)?;
            kind = arg.told.kind;
            list.push(arg.sql);
        }
        let rows = if window.rows { " ROWS UNBOUNDED PRECEDING" } else { "" };
        let order = self.order(&window.order, scope)?;
        let sql = format!("{name}({}) OVER (ORDER BY {order}{rows})", list.join(", "));
        Ok(match (name, kind) {
            ("row_number", _) => Text::new(sql, Type::Whole, true),
            ("sum", Type::Whole) => Text::new(format!("CAST({sql} AS BIGINT)"), kind, false),
            ("sum" | "lag", kind) => Text::new(sql, kind, false),
            _ => return Err(Refusal::Unread),
        })
    }
}
