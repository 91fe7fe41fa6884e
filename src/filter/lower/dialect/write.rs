//! Writes a tree in the words of another engine. Truth values and whole numbers are told apart here,
//! and what SQLite's functions do with NULL is said in full.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use crate::model::{Histogram, name_key};
use crate::schema::{Table, Value};

use super::engine::{Dialect, Refusal, SITE};
use super::scope::{Known, Scope, Shape, Told, Type};
use super::tree::{Collation, Expr, Query, Sign};

/// A piece of a statement.
#[derive(Clone, Debug)]
pub(super) struct Text {
    pub(super) sql: String,
    pub(super) told: Told,
}

impl Text {
    pub(super) fn new(sql: impl Into<String>, kind: Type, always: bool) -> Self {
        Self { sql: sql.into(), told: Told { kind, always } }
    }
}

type Written = Result<Text, Refusal>;

/// Columns of each table that a statement reads.
pub(super) type Used = BTreeMap<Table, BTreeSet<String>>;

#[derive(Debug)]
pub(super) struct Writer {
    pub(super) dialect: Dialect,
    pub(super) used: RefCell<Used>,
    /// Rows that are folded where an expression is written, those of the innermost query last.
    pub(super) flows: RefCell<Vec<super::spark::Flow>>,
}

impl Writer {
    pub(super) fn new(dialect: Dialect) -> Self {
        Self { dialect, used: RefCell::default(), flows: RefCell::default() }
    }

    /// Notes that a column is read.
    pub(super) fn reads(&self, table: Table, column: &str) {
        self.used.borrow_mut().entry(table).or_default().insert(column.to_owned());
    }

    /// An expression where a condition is wanted.
    pub(super) fn cond(&self, expr: &Expr, scope: &Scope) -> Result<String, Refusal> {
        if let Expr::Value(Value::Int(n)) = expr {
            return Ok(if *n == 0 { "FALSE" } else { "TRUE" }.to_owned());
        }
        let text = self.expr(expr, scope)?;
        Ok(match text.told.kind {
            Type::Truth => text.sql,
            Type::Nothing => "CAST(NULL AS BOOLEAN)".to_owned(),
            Type::Whole | Type::Real => format!("({} <> 0)", text.sql),
            Type::Text | Type::Bands => return Err(Refusal::Unread),
        })
    }

    /// An expression where a value is wanted: a truth value is 1 or 0.
    pub(super) fn value(&self, expr: &Expr, scope: &Scope) -> Written {
        let text = self.expr(expr, scope)?;
        Ok(if text.told.kind == Type::Truth {
            Text::new(format!("CAST({} AS BIGINT)", text.sql), Type::Whole, text.told.always)
        } else {
            text
        })
    }

    fn values<const N: usize>(
        &self,
        exprs: [&Expr; N],
        scope: &Scope,
    ) -> Result<[Text; N], Refusal> {
        let mut out = Vec::with_capacity(N);
        for expr in exprs {
            out.push(self.value(expr, scope)?);
        }
        out.try_into().map_err(|_| Refusal::Unread)
    }

    pub(super) fn expr(&self, expr: &Expr, scope: &Scope) -> Written {
        let truth = |sql: String, always: bool| Ok(Text::new(sql, Type::Truth, always));
        match expr {
            Expr::Value(value) => self.literal(value),
            Expr::Column(alias, name) => self.column(alias.as_deref(), name, scope),
            Expr::Not(inner) => truth(format!("(NOT {})", self.cond(inner, scope)?), false),
            Expr::Negative(inner) => {
                let inner = self.value(inner, scope)?;
                Ok(Text::new(format!("(- {})", inner.sql), inner.told.kind, inner.told.always))
            }
            Expr::Pair(sign, left, right) => self.pair(*sign, left, right, scope),
            Expr::IsNull(inner, is) => {
                let not = if *is { "" } else { "NOT " };
                let inner = self.expr(inner, scope)?;
                truth(format!("({} IS {not}NULL)", inner.sql), true)
            }
            Expr::IsTrue(inner, is) => {
                let not = if *is { "" } else { "NOT " };
                truth(format!("({} IS {not}TRUE)", self.cond(inner, scope)?), true)
            }
            Expr::Differs(left, right) => {
                let (left, right) = self.alike(left, right, scope)?;
                truth(
                    match self.dialect {
                        Dialect::DuckDb => format!("({left} IS DISTINCT FROM {right})"),
                        Dialect::Spark => format!("(NOT ({left} <=> {right}))"),
                    },
                    true,
                )
            }
            Expr::Between(value, low, high) => {
                let [value, low, high] = self.values([value, low, high], scope)?;
                truth(format!("({} BETWEEN {} AND {})", value.sql, low.sql, high.sql), false)
            }
            Expr::Among(value, list, is) => {
                if matches!(&**value, Expr::Column(_, name) if name == "joint" || name == "run") {
                    return Err(Refusal::Kin);
                }
                let mut listed = Vec::with_capacity(list.len());
                let mut own = String::new();
                for one in list {
                    let (value, one) = self.alike(value, one, scope)?;
                    own = value;
                    listed.push(one);
                }
                let not = if *is { "" } else { "NOT " };
                truth(format!("({own} {not}IN ({}))", listed.join(", ")), false)
            }
            Expr::AmongRows(value, query, is) => self.among_rows(value, query, *is, scope),
            Expr::Like(value, pattern, is) => self.like(value, pattern, *is, scope),
            Expr::Case(cases, otherwise) => self.case(cases, otherwise.as_deref(), scope),
            Expr::Call(name, args, None) => self.call(name, args, scope),
            Expr::Call(name, args, Some(window)) => self.windowed(name, args, window, scope),
            Expr::Row(_) => Err(Refusal::Unread),
            Expr::Scalar(query) => self.scalar(query, scope),
            Expr::Exists(query, is) => {
                let not = if *is { "" } else { "NOT " };
                truth(format!("({not}{})", self.exists(query, scope)?), true)
            }
            Expr::Whole(inner) => {
                let inner = self.value(inner, scope)?;
                let sql = match (inner.told.kind, self.dialect) {
                    (Type::Whole, _) => return Ok(inner),
                    // A cast rounds there; SQLite's cuts.
                    (_, Dialect::DuckDb) => format!("TRY_CAST(trunc({}) AS BIGINT)", inner.sql),
                    (_, Dialect::Spark) => format!("TRY_CAST({} AS BIGINT)", inner.sql),
                };
                Ok(Text::new(sql, Type::Whole, false))
            }
            // Stands beside another text only.
            Expr::Collated(inner, _) => self.expr(inner, scope),
        }
    }

    fn literal(&self, value: &Value) -> Written {
        Ok(match value {
            Value::Null => Text::new("NULL", Type::Nothing, false),
            Value::Int(n) => Text::new(self.whole(*n), Type::Whole, true),
            // With an exponent it is a float, without one a decimal.
            Value::Real(x) if x.is_finite() => Text::new(format!("({x:e})"), Type::Real, true),
            Value::Real(_) => return Err(Refusal::Infinite),
            Value::Text(text) => Text::new(self.dialect.quoted(text)?, Type::Text, true),
            // The mark of none.
            Value::Blob(_) => Text::new(self.dialect.none(), Type::Text, true),
        })
    }

    fn whole(&self, n: i64) -> String {
        let suffix = match self.dialect {
            Dialect::DuckDb => "",
            Dialect::Spark => "L",
        };
        // What stands for before and after all instants: halves, so that no difference of two is beyond
        // the largest whole number, which is an error there.
        let n = match n {
            i64::MIN | i64::MAX => n / 2,
            n => n,
        };
        match n {
            n if n < 0 => format!("({n}{suffix})"),
            n => format!("{n}{suffix}"),
        }
    }

    fn column(&self, alias: Option<&str>, name: &str, scope: &Scope) -> Written {
        let known = match alias {
            Some(alias) => scope.source(alias),
            None => scope.holder(name),
        };
        let known = known.ok_or(Refusal::Unread)?;
        let told = known.column(name).ok_or(Refusal::Unread)?;
        if let Some(table) = known.table() {
            self.reads(table, name);
        }
        Ok(Text { sql: self.named(known, name), told })
    }

    pub(super) fn named(&self, known: &Known, column: &str) -> String {
        format!("{}{}", known.path, self.dialect.name(column))
    }

    fn pair(&self, sign: Sign, left: &Expr, right: &Expr, scope: &Scope) -> Written {
        match sign {
            Sign::Or | Sign::And => {
                let (left, right) = (self.cond(left, scope)?, self.cond(right, scope)?);
                let word = if sign == Sign::Or { "OR" } else { "AND" };
                Ok(Text::new(format!("({left} {word} {right})"), Type::Truth, false))
            }
            Sign::Equal
            | Sign::Unequal
            | Sign::Less
            | Sign::AtMost
            | Sign::More
            | Sign::AtLeast => {
                if let (Expr::Row(left), Expr::Row(right)) = (left, right) {
                    return self.rows_compared(sign, left, right, scope);
                }
                let site = match sign {
                    Sign::Equal => self.same_site(left, right, scope),
                    _ => None,
                };
                let (left, right) = self.alike(left, right, scope)?;
                let equal = format!("({left} {} {right})", spelled(sign));
                Ok(match site {
                    Some(site) => Text::new(format!("({equal} AND {site})"), Type::Truth, false),
                    None => Text::new(equal, Type::Truth, false),
                })
            }
            Sign::Over => {
                let [left, right] = self.values([left, right], scope)?;
                if left.told.kind == Type::Whole && right.told.kind == Type::Whole {
                    return Err(Refusal::Unread);
                }
                // Division by nothing is no number, and no error.
                let right = if self.is_number(&right) {
                    right.sql
                } else {
                    format!("nullif({}, 0)", right.sql)
                };
                Ok(Text::new(format!("({} / {right})", left.sql), Type::Real, false))
            }
            Sign::Joined => {
                let [left, right] = self.values([left, right], scope)?;
                let always = left.told.always && right.told.always;
                Ok(Text::new(format!("({} || {})", left.sql, right.sql), Type::Text, always))
            }
            Sign::Bits | Sign::Plus | Sign::Minus | Sign::Times => {
                let [left, right] = self.values([left, right], scope)?;
                let kind = left.told.kind.or(right.told.kind);
                let always = left.told.always && right.told.always;
                let sql = format!("({} {} {})", left.sql, spelled(sign), right.sql);
                Ok(Text::new(sql, kind, always))
            }
        }
    }

    /// Whether it is a number that is written out and not zero.
    fn is_number(&self, text: &Text) -> bool {
        text.sql.trim_matches(['(', ')']).parse::<f64>().is_ok_and(|x| x != 0.0)
    }

    /// Two values as they compare.
    fn alike(&self, left: &Expr, right: &Expr, scope: &Scope) -> Result<(String, String), Refusal> {
        let collation = [left, right].into_iter().find_map(|side| match side {
            Expr::Collated(_, collation) => Some(*collation),
            _ => None,
        });
        let side = |expr: &Expr| -> Result<String, Refusal> {
            let Some(collation) = collation else { return Ok(self.value(expr, scope)?.sql) };
            if let Expr::Value(Value::Text(text)) = expr {
                let key = match collation {
                    Collation::Name => name_key(text),
                    Collation::NoCase => text.to_ascii_lowercase(),
                };
                return self.dialect.quoted(&key);
            }
            let text = self.value(expr, scope)?.sql;
            Ok(match collation {
                Collation::Name => self.dialect.name_key(&text),
                Collation::NoCase => self.dialect.small_ascii(&text),
            })
        };
        Ok((side(left)?, side(right)?))
    }

    /// Several values compared as one: by the first that differ.
    fn rows_compared(&self, sign: Sign, left: &[Expr], right: &[Expr], scope: &Scope) -> Written {
        let strict = match sign {
            Sign::AtMost => Sign::Less,
            Sign::AtLeast => Sign::More,
            Sign::Less | Sign::More => sign,
            _ => return Err(Refusal::Unread),
        };
        let mut pairs = Vec::new();
        for (left, right) in left.iter().zip(right) {
            pairs.push(self.values([left, right], scope)?);
        }
        let mut sql = String::new();
        for (n, [a, b]) in pairs.iter().enumerate().rev() {
            let last = n + 1 == pairs.len();
            let own = spelled(if last { sign } else { strict });
            sql = if last {
                format!("({} {own} {})", a.sql, b.sql)
            } else {
                format!("(({0} {own} {1}) OR (({0} = {1}) AND {sql}))", a.sql, b.sql)
            };
        }
        Ok(Text::new(sql, Type::Truth, false))
    }

    /// Joints and runs have numbers of their own in each book: what goes by them goes by the site too.
    fn same_site(&self, left: &Expr, right: &Expr, scope: &Scope) -> Option<String> {
        let (Expr::Column(Some(a), left), Expr::Column(Some(b), right)) = (left, right) else {
            return None;
        };
        let (a, b) = (scope.source(a)?, scope.source(b)?);
        let tables = (a.table()?, b.table()?);
        let by_joint = left == "joint" && right == "joint";
        let by_run =
            left == "run" && right == "run" && (tables.0 == Table::Run || tables.1 == Table::Run);
        (by_joint || by_run).then(|| format!("{} = {}", self.named(a, SITE), self.named(b, SITE)))
    }

    /// Joints, by their number, that a query lists: those for which it has a row.
    fn among_rows(&self, value: &Expr, query: &Query, is: bool, scope: &Scope) -> Written {
        let Expr::Column(Some(_), name) = value else { return Err(Refusal::Kin) };
        let [(listed @ Expr::Column(Some(_), of), None)] = query.columns.as_slice() else {
            return Err(Refusal::Kin);
        };
        if name != "joint" || of != "joint" || !query.more.is_empty() {
            return Err(Refusal::Kin);
        }
        let mut query = query.clone();
        let own = Expr::pair(Sign::Equal, listed.clone(), value.clone());
        query.cond = Some(match query.cond.take() {
            Some(cond) => own.and(cond),
            None => own,
        });
        self.expr(&Expr::Exists(Box::new(query), is), scope)
    }

    fn like(&self, value: &Expr, pattern: &Expr, is: bool, scope: &Scope) -> Written {
        let Expr::Value(Value::Text(pattern)) = pattern else { return Err(Refusal::Unread) };
        // Capitals of ASCII are small letters there, others are not.
        let folded = self.dialect.small_ascii(&self.value(value, scope)?.sql);
        let pattern = self.dialect.quoted(&pattern.to_ascii_lowercase())?;
        let not = if is { "" } else { "NOT " };
        let escape = self.dialect.quoted("\\")?;
        let sql = format!("({folded} {not}LIKE {pattern} ESCAPE {escape})");
        Ok(Text::new(sql, Type::Truth, false))
    }

    fn case(&self, cases: &[(Expr, Expr)], otherwise: Option<&Expr>, scope: &Scope) -> Written {
        let mut sql = String::from("(CASE");
        let (mut kind, mut always) = (Type::Nothing, true);
        for (cond, value) in cases {
            let value = self.value(value, scope)?;
            kind = kind.or(value.told.kind);
            always &= value.told.always;
            let _ = write!(sql, " WHEN {} THEN {}", self.cond(cond, scope)?, value.sql);
        }
        match otherwise {
            Some(otherwise) => {
                let value = self.value(otherwise, scope)?;
                kind = kind.or(value.told.kind);
                always &= value.told.always;
                let _ = write!(sql, " ELSE {}", value.sql);
            }
            None => always = false,
        }
        sql.push_str(" END)");
        Ok(Text::new(sql, kind, always))
    }

    fn call(&self, name: &str, args: &[Expr], scope: &Scope) -> Written {
        match (name, args) {
            ("coalesce" | "ifnull", args) => {
                let mut list = Vec::new();
                let (mut kind, mut always) = (Type::Nothing, false);
                for arg in args {
                    let arg = self.value(arg, scope)?;
                    kind = kind.or(arg.told.kind);
                    always |= arg.told.always;
                    list.push(arg.sql);
                    // What stands behind it is never asked for.
                    if always {
                        break;
                    }
                }
                if let [only] = list.as_slice() {
                    return Ok(Text::new(only.clone(), kind, always));
                }
                Ok(Text::new(format!("coalesce({})", list.join(", ")), kind, always))
            }
            ("min" | "max", [_, _, ..]) => {
                let mut list = Vec::new();
                for arg in args {
                    list.push(self.value(arg, scope)?);
                }
                Ok(self.utmost(name == "max", &list))
            }
            ("turns_above" | "hours_above", [bands, Expr::Value(Value::Int(dogleg))]) => {
                let bands = self.value(bands, scope)?;
                let what = if name == "turns_above" { "turns" } else { "hours" };
                Ok(self.above(&bands, what, *dogleg))
            }
            ("round", [value]) => {
                let value = self.value(value, scope)?;
                Ok(Text::new(format!("round({})", value.sql), Type::Real, value.told.always))
            }
            ("nullif", [a, b]) => {
                let [a, b] = self.values([a, b], scope)?;
                Ok(Text::new(format!("nullif({}, {})", a.sql, b.sql), a.told.kind, false))
            }
            ("name_key", [text]) => {
                let text = self.value(text, scope)?;
                Ok(Text::new(self.dialect.name_key(&text.sql), Type::Text, text.told.always))
            }
            ("lower", [text]) => {
                let text = self.value(text, scope)?;
                Ok(Text::new(self.dialect.small_ascii(&text.sql), Type::Text, text.told.always))
            }
            ("replace", [text, what, by]) => {
                let [text, what, by] = self.values([text, what, by], scope)?;
                let sql = format!("replace({}, {}, {})", text.sql, what.sql, by.sql);
                Ok(Text::new(sql, Type::Text, text.told.always))
            }
            ("instr", [text, what]) => {
                let [text, what] = self.values([text, what], scope)?;
                let sql = format!("CAST(instr({}, {}) AS BIGINT)", text.sql, what.sql);
                Ok(Text::new(sql, Type::Whole, false))
            }
            ("length", [text]) => {
                let text = self.value(text, scope)?;
                let sql = format!("CAST(length({}) AS BIGINT)", text.sql);
                Ok(Text::new(sql, Type::Whole, text.told.always))
            }
            ("min" | "max" | "sum" | "count", _) => self.aggregate(name, args, scope),
            _ => Err(Refusal::Unread),
        }
    }

    /// The largest or smallest of some values; NULL where one of them is. Engines leave NULL out.
    fn utmost(&self, largest: bool, list: &[Text]) -> Text {
        let function = if largest { "greatest" } else { "least" };
        let kind = list.iter().fold(Type::Nothing, |kind, text| kind.or(text.told.kind));
        let always = list.iter().all(|text| text.told.always);
        let values: Vec<&str> = list.iter().map(|text| text.sql.as_str()).collect();
        let plain = format!("{function}({})", values.join(", "));
        if always {
            return Text::new(plain, kind, true);
        }
        let open: Vec<&Text> = list.iter().filter(|text| !text.told.always).collect();
        if open.iter().all(|text| text.sql.len() < 60) {
            let null: Vec<String> = open.iter().map(|t| format!("{} IS NULL", t.sql)).collect();
            let sql = format!("(CASE WHEN {} THEN NULL ELSE {plain} END)", null.join(" OR "));
            return Text::new(sql, kind, false);
        }
        // Longer ones are written, and worked out, once.
        Text::new(self.dialect.first_sorted(largest, &values), kind, false)
    }

    /// What bands hold above a dogleg: a part of the band in which it lies, all of those beyond it.
    fn above(&self, bands: &Text, what: &str, dogleg: i64) -> Text {
        let (edge, inside, unit) = Histogram::edge_of(dogleg);
        let last = crate::model::BANDS - 1;
        let (whole, rest) = (self.whole(unit), self.whole(unit - inside));
        let held = format!("b.{what}");
        let (over, left) = match self.dialect {
            Dialect::DuckDb => (format!("({held} // {whole})"), "//"),
            Dialect::Spark => (format!("({held} div {whole})"), "div"),
        };
        // In two parts, so that no product is beyond the largest whole number.
        let part = format!("({over} * {rest} + (({held} % {whole}) * {rest}) {left} {whole})");
        let counted = format!(
            "CASE WHEN b.band > {edge} OR b.band = {last} THEN {held} WHEN b.band = {edge} THEN {part} \
             ELSE {} END",
            self.whole(0)
        );
        let sum = match self.dialect {
            Dialect::DuckDb => format!(
                "coalesce(CAST(list_sum(list_transform({}, lambda b: {counted})) AS BIGINT), 0)",
                bands.sql
            ),
            Dialect::Spark => {
                format!("aggregate({}, 0L, (s, b) -> s + {counted})", bands.sql)
            }
        };
        let sql = if bands.told.always {
            sum
        } else {
            format!("(CASE WHEN {} IS NOT NULL THEN {sum} END)", bands.sql)
        };
        Text::new(sql, Type::Whole, bands.told.always)
    }

    /// The shape of a query's rows, for what is written of them.
    pub(super) fn shape(columns: &[(Option<String>, Told)]) -> Shape {
        let named = columns.iter().enumerate();
        Shape::Columns(
            named
                .map(|(n, (name, told))| {
                    (name.clone().unwrap_or_else(|| format!("column{n}")), *told)
                })
                .collect(),
        )
    }
}

pub(super) const fn spelled(sign: Sign) -> &'static str {
    match sign {
        Sign::Or => "OR",
        Sign::And => "AND",
        Sign::Equal => "=",
        Sign::Unequal => "<>",
        Sign::Less => "<",
        Sign::AtMost => "<=",
        Sign::More => ">",
        Sign::AtLeast => ">=",
        Sign::Bits => "&",
        Sign::Plus => "+",
        Sign::Minus => "-",
        Sign::Times => "*",
        Sign::Over => "/",
        Sign::Joined => "||",
    }
}
