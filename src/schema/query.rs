//! Which rows of a table are wanted, without SQL: the store reads it, and a view of the past asks it
//! what it is about.

use std::marker::PhantomData;

use crate::model::join_blanks;

use super::column::Column;
use super::row::{Group, Row, Scalar, Value};

/// The collation by which stored texts are looked for by their name, whatever its capitals: SQLite's
/// own where ASCII with single blanks is asked for, by which columns of names are indexed and which every
/// program that opens the file knows; else that of `model::compare_names`. Both say the same of ASCII:
/// what is stored has single blanks, and no other sign of which the small letter is one of ASCII.
pub fn collation(name: &str) -> &'static str {
    if name.is_ascii() && join_blanks(name) == name { "NOCASE" } else { "NAME" }
}

/// A column of a table or group, by the function of its name: `JointRow::serial()`.
#[derive(Debug)]
pub struct ColumnOf<G, T> {
    name: &'static str,
    of: PhantomData<fn() -> (G, T)>,
}

impl<G, T> Clone for ColumnOf<G, T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<G, T> Copy for ColumnOf<G, T> {}

impl<G, T> ColumnOf<G, T> {
    pub(super) const fn new(name: &'static str) -> Self {
        Self { name, of: PhantomData }
    }

    pub const fn name(self) -> &'static str {
        self.name
    }
}

impl<G: Group, T> ColumnOf<G, T> {
    /// What is declared of it. A field that is a group of columns by itself has nothing.
    pub fn column(self) -> Option<&'static Column> {
        G::columns().iter().find(|c| c.name == self.name)
    }
}

/// What a column that holds a `T` can be compared with.
pub trait Comparable<T> {
    /// As a value of the column.
    fn value(self) -> Value;
}

impl<T: Scalar> Comparable<T> for T {
    fn value(self) -> Value {
        self.to_value()
    }
}

impl<T: Scalar> Comparable<Option<T>> for T {
    fn value(self) -> Value {
        self.to_value()
    }
}

impl Comparable<String> for &str {
    fn value(self) -> Value {
        Value::Text(self.to_owned())
    }
}

impl Comparable<Option<String>> for &str {
    fn value(self) -> Value {
        Value::Text(self.to_owned())
    }
}

/// What must hold of a column.
#[derive(Clone, Debug, PartialEq)]
pub enum Test {
    Is(&'static str, Value),
    /// It is this name, in whatever spelling.
    Named(&'static str, String),
    /// It is one of these.
    OneOf(&'static str, Vec<Value>),
    /// It begins with this text.
    Begins(&'static str, String),
    /// It is above this.
    Above(&'static str, Value),
    /// It is this or above.
    AtLeast(&'static str, Value),
    /// It is this or below.
    AtMost(&'static str, Value),
    Known(&'static str),
    /// One of these holds.
    Any(Vec<Self>),
}

/// Rows of a table that pass tests, in an order: that of the key unless another is asked for.
#[derive(Clone, Debug)]
pub struct Rows<R> {
    tests: Vec<Test>,
    order: Vec<&'static str>,
    of: PhantomData<fn() -> R>,
}

impl<R> Default for Rows<R> {
    fn default() -> Self {
        Self { tests: Vec::new(), order: Vec::new(), of: PhantomData }
    }
}

/// A row that belongs to a joint: its table has a column `joint`.
pub trait OfJoint: Row {}

impl<R: OfJoint> Rows<R> {
    /// Rows of a joint.
    pub fn of_joint(joint: i64) -> Self {
        Self::all().test(Test::Is("joint", Value::Int(joint)))
    }
}

impl<R: Row> Rows<R> {
    /// The row of a key that is one whole number.
    pub fn of_key(key: i64) -> Self {
        let columns = R::spec().key.iter().take(1);
        columns.fold(Self::all(), |rows, column| rows.test(Test::Is(column, Value::Int(key))))
    }

    pub fn all() -> Self {
        Self::default()
    }

    /// Rows whose column is this.
    pub fn of<T>(column: ColumnOf<R, T>, value: impl Comparable<T>) -> Self {
        Self::all().is(column, value)
    }

    fn test(mut self, test: Test) -> Self {
        self.tests.push(test);
        self
    }

    /// Only those whose column is this.
    #[must_use]
    pub fn is<T>(self, column: ColumnOf<R, T>, value: impl Comparable<T>) -> Self {
        self.test(Test::Is(column.name, value.value()))
    }

    /// Only those of this name, in whatever spelling.
    #[must_use]
    pub fn named<T: Scalar>(self, column: ColumnOf<R, T>, name: &str) -> Self {
        self.test(Test::Named(column.name, name.to_owned()))
    }

    /// Only those whose column is one of these.
    #[must_use]
    pub fn one_of<T, V: Comparable<T>>(
        self,
        column: ColumnOf<R, T>,
        values: impl IntoIterator<Item = V>,
    ) -> Self {
        self.test(Test::OneOf(column.name, values.into_iter().map(V::value).collect()))
    }

    /// Only those whose text begins so.
    #[must_use]
    pub fn begins<T: Scalar>(self, column: ColumnOf<R, T>, text: &str) -> Self {
        self.test(Test::Begins(column.name, text.to_owned()))
    }

    /// Only those whose column is above this.
    #[must_use]
    pub fn above<T>(self, column: ColumnOf<R, T>, value: impl Comparable<T>) -> Self {
        self.test(Test::Above(column.name, value.value()))
    }

    /// Only those whose column is this or above.
    #[must_use]
    pub fn at_least<T>(self, column: ColumnOf<R, T>, value: impl Comparable<T>) -> Self {
        self.test(Test::AtLeast(column.name, value.value()))
    }

    /// Only those whose column is this or below.
    #[must_use]
    pub fn at_most<T>(self, column: ColumnOf<R, T>, value: impl Comparable<T>) -> Self {
        self.test(Test::AtMost(column.name, value.value()))
    }

    /// Only those whose column holds something.
    #[must_use]
    pub fn known<T>(self, column: ColumnOf<R, Option<T>>) -> Self {
        self.test(Test::Known(column.name))
    }

    /// Only those that one of these would give.
    #[must_use]
    pub fn any(self, alternatives: impl IntoIterator<Item = Self>) -> Self {
        let tests = alternatives.into_iter().flat_map(|rows| rows.tests).collect();
        self.test(Test::Any(tests))
    }

    /// In the order of a column, within that of those named before.
    #[must_use]
    pub fn by<T>(mut self, column: ColumnOf<R, T>) -> Self {
        self.order.push(column.name);
        self
    }

    /// What must hold of each row.
    pub fn tests(&self) -> &[Test] {
        &self.tests
    }

    /// The columns that they are in order of.
    pub fn order(&self) -> &[&'static str] {
        if self.order.is_empty() { R::spec().key } else { &self.order }
    }
}
