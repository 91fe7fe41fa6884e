//! A statement as a tree: what [`Lower`](super::super::Lower) writes for SQLite, read back, so that
//! another engine's words can be put for it.

use crate::schema::Value;

/// An expression.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Expr {
    Value(Value),
    /// A column, with the alias of its row source where one is named.
    Column(Option<String>, String),
    Not(Box<Self>),
    Negative(Box<Self>),
    /// Two operands with a sign between them.
    Pair(Sign, Box<Self>, Box<Self>),
    /// `IS NULL`, or `IS NOT NULL`.
    IsNull(Box<Self>, bool),
    /// `IS TRUE`, or `IS NOT TRUE`.
    IsTrue(Box<Self>, bool),
    /// `a IS NOT b`: differs, or one of them is NULL.
    Differs(Box<Self>, Box<Self>),
    Between(Box<Self>, Box<Self>, Box<Self>),
    /// `IN`, or `NOT IN`, a list.
    Among(Box<Self>, Vec<Self>, bool),
    /// `IN`, or `NOT IN`, the rows of a query.
    AmongRows(Box<Self>, Box<Query>, bool),
    /// `LIKE`, or `NOT LIKE`, with a backslash before signs that mean themselves.
    Like(Box<Self>, Box<Self>, bool),
    Case(Vec<(Self, Self)>, Option<Box<Self>>),
    /// A function, with the window that it is worked out over.
    Call(String, Vec<Self>, Option<Window>),
    /// Several values compared as one.
    Row(Vec<Self>),
    /// The one value of a query.
    Scalar(Box<Query>),
    /// `EXISTS`, or `NOT EXISTS`.
    Exists(Box<Query>, bool),
    /// A number as a whole one.
    Whole(Box<Self>),
    /// How a text compares.
    Collated(Box<Self>, Collation),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sign {
    Or,
    And,
    Equal,
    Unequal,
    Less,
    AtMost,
    More,
    AtLeast,
    /// Bits of both.
    Bits,
    Plus,
    Minus,
    Times,
    Over,
    /// One text behind the other.
    Joined,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Collation {
    /// As names compare.
    Name,
    /// Capitals of ASCII as small letters.
    NoCase,
}

/// What a window function is worked out over: an order, and all rows up to the present one.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Window {
    pub(super) order: Vec<Order>,
    /// `ROWS UNBOUNDED PRECEDING` stands there.
    pub(super) rows: bool,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) struct Order {
    pub(super) by: Expr,
    pub(super) down: bool,
}

/// A `SELECT`, with others behind it by `UNION ALL`.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Query {
    pub(super) columns: Vec<(Expr, Option<String>)>,
    pub(super) from: Vec<Source>,
    pub(super) cond: Option<Expr>,
    pub(super) group: Vec<Expr>,
    pub(super) order: Vec<Order>,
    /// How many rows, and how many are left out before them.
    pub(super) limit: Option<(i64, i64)>,
    pub(super) more: Vec<Self>,
}

/// A row source.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Source {
    pub(super) rows: Rows,
    pub(super) alias: String,
    pub(super) join: Join,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) enum Rows {
    Table(String),
    Query(Box<Query>),
}

/// How a row source stands behind those before it.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Join {
    /// Each row of it beside each of them.
    Cross,
    /// Rows of both for which this holds.
    On(Expr),
    /// Each of them, with each row of it, or with NULL where there is none.
    Left(Option<Expr>),
}

impl Expr {
    pub(super) fn pair(sign: Sign, left: Self, right: Self) -> Self {
        Self::Pair(sign, Box::new(left), Box::new(right))
    }

    pub(super) fn and(self, other: Self) -> Self {
        Self::pair(Sign::And, self, other)
    }
}
