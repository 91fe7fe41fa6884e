//! Rows as plain structs, with the names of their table and columns, so that the store can carry any
//! of them without knowing what it means.

use crate::condition::Fitness;
use crate::model::{
    Class, Component, End, Environment, EventKind, FailureKind, Place, RulingKind, RunGrade, Scope,
    Status, TorqueVerdict, Vocabulary, Work, join_blanks,
};

use super::column::{Column, Kind};
use super::words::Words;

/// A value of a column, or of a parameter.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    Null,
    Int(i64),
    /// A float, as arithmetic in a filter gives; no column of a table holds one.
    Real(f64),
    Text(String),
    Blob(Vec<u8>),
}

/// What one column, two columns of bounds, or a group of columns hold.
pub trait Columns: Sized {
    /// The columns, where `column` is what the declaration says of the field.
    fn describe(column: Column, out: &mut Vec<Column>);

    /// The values in the order of the columns.
    fn write(&self, out: &mut Vec<Value>);

    /// Reads values in the order of the columns; the name of the first column whose value does not
    /// fit otherwise. `column` is the name of the field.
    fn read(
        column: &'static str,
        values: &mut dyn Iterator<Item = Value>,
    ) -> Result<Self, &'static str>;
}

/// A group of columns.
pub trait Group: Columns {
    /// The columns of the group.
    fn columns() -> &'static [Column];
}

/// A row of a table.
pub trait Row: Group {
    /// Name of the table.
    const TABLE: &'static str;

    fn spec() -> &'static Spec;

    /// The values in the order of the columns.
    fn values(&self) -> Vec<Value> {
        let mut out = Vec::with_capacity(Self::spec().names.len());
        self.write(&mut out);
        out
    }
}

/// An index of a table.
#[derive(Clone, Copy, Debug)]
pub struct Index {
    pub name: &'static str,
    /// What it orders by.
    pub columns: &'static [&'static str],
    /// How its texts compare, where not by their bytes: names are looked for in any spelling.
    pub collation: Option<&'static str>,
    /// It holds only rows that have a value in this column.
    pub known: Option<&'static str>,
}

/// A table as it is declared.
#[derive(Debug)]
pub struct Spec {
    pub name: &'static str,
    pub columns: &'static [Column],
    /// The names of the columns of the file: two of a value between bounds.
    pub names: Vec<&'static str>,
    /// Columns of its key.
    pub key: &'static [&'static str],
    pub indexes: &'static [Index],
    /// The names in quotation marks, with commas between.
    pub list: String,
    /// A mark for each, with commas between.
    pub marks: String,
}

impl Spec {
    pub(super) fn new(
        name: &'static str,
        columns: &'static [Column],
        key: &'static [&'static str],
        indexes: &'static [Index],
    ) -> Self {
        let names: Vec<&str> = columns.iter().flat_map(Column::stored).map(|s| s.0).collect();
        let quoted: Vec<String> = names.iter().map(|n| format!("\"{n}\"")).collect();
        let marks = vec!["?"; names.len()].join(", ");
        Self { name, columns, key, indexes, list: quoted.join(", "), marks, names }
    }
}

/// A value that one column holds.
pub trait Scalar: Sized {
    /// `INTEGER`, `TEXT` or `BLOB`.
    const SQL: &'static str;
    /// There may be none.
    const OPTIONAL: bool = false;
    /// What it means, where the type says it.
    const KIND: Option<Kind>;

    /// As a value of a column.
    fn to_value(&self) -> Value;
    /// From a value of a column.
    fn from_value(value: Value) -> Option<Self>;
}

impl<T: Scalar> Columns for T {
    fn describe(column: Column, out: &mut Vec<Column>) {
        let column = column.typed(T::SQL, T::KIND);
        out.push(if T::OPTIONAL { column.optional() } else { column });
    }

    fn write(&self, out: &mut Vec<Value>) {
        out.push(self.to_value());
    }

    fn read(
        column: &'static str,
        values: &mut dyn Iterator<Item = Value>,
    ) -> Result<Self, &'static str> {
        values.next().and_then(T::from_value).ok_or(column)
    }
}

impl Scalar for i64 {
    const SQL: &'static str = "INTEGER";
    const KIND: Option<Kind> = None;

    fn to_value(&self) -> Value {
        Value::Int(*self)
    }
    fn from_value(value: Value) -> Option<Self> {
        if let Value::Int(n) = value { Some(n) } else { None }
    }
}

impl Scalar for bool {
    const SQL: &'static str = "INTEGER";
    const KIND: Option<Kind> = Some(Kind::Flag);

    fn to_value(&self) -> Value {
        Value::Int(i64::from(*self))
    }
    fn from_value(value: Value) -> Option<Self> {
        match value {
            Value::Int(0) => Some(false),
            Value::Int(1) => Some(true),
            _ => None,
        }
    }
}

impl Scalar for String {
    const SQL: &'static str = "TEXT";
    const KIND: Option<Kind> = Some(Kind::Text);

    /// Blanks within are single, and the sign for Kelvin is the letter that it stands for, whatever an
    /// entry holds: [`collation`](super::query::collation) rests on that.
    fn to_value(&self) -> Value {
        Value::Text(join_blanks(self).replace('\u{212a}', "K"))
    }
    fn from_value(value: Value) -> Option<Self> {
        if let Value::Text(t) = value { Some(t) } else { None }
    }
}

impl Scalar for Vec<u8> {
    const SQL: &'static str = "BLOB";
    const KIND: Option<Kind> = None;

    fn to_value(&self) -> Value {
        Value::Blob(self.clone())
    }
    fn from_value(value: Value) -> Option<Self> {
        if let Value::Blob(b) = value { Some(b) } else { None }
    }
}

impl<T: Scalar> Scalar for Option<T> {
    const SQL: &'static str = T::SQL;
    const OPTIONAL: bool = true;
    const KIND: Option<Kind> = T::KIND;

    fn to_value(&self) -> Value {
        self.as_ref().map_or(Value::Null, Scalar::to_value)
    }
    fn from_value(value: Value) -> Option<Self> {
        if value == Value::Null { Some(None) } else { T::from_value(value).map(Some) }
    }
}

/// A word of a closed vocabulary is a text column.
macro_rules! words {
    ($($name:ident),* $(,)?) => {$(
        impl Scalar for $name {
            const SQL: &'static str = "TEXT";
            const KIND: Option<Kind> = Some(Kind::Word(Words::of::<Self>()));

            fn to_value(&self) -> Value {
                Value::Text(self.word().to_owned())
            }
            fn from_value(value: Value) -> Option<Self> {
                let Value::Text(t) = value else { return None };
                Self::from_word(&t).ok()
            }
        }
    )*};
}

words!(
    Class,
    Component,
    End,
    Environment,
    EventKind,
    FailureKind,
    Place,
    RulingKind,
    Fitness,
    RunGrade,
    Scope,
    Status,
    TorqueVerdict,
    Work,
);

/// Declares a group of columns: the struct, its columns, and for each a function that names it.
macro_rules! group {
    (
        $(#[doc = $about:literal])*
        $name:ident $(: $more:ident)* {
            $(
                $(#[doc = $doc:literal])*
                $field:ident: $type:ty $(, $(.$said:ident($($arg:tt)*))+)?;
            )*
        }
    ) => {
        $(#[doc = $about])*
        #[derive(Clone, Debug, PartialEq $(, $more)*)]
        #[allow(clippy::doc_markdown, reason = "what a column means is read by people, as it is")]
        pub struct $name { $($(#[doc = $doc])* pub $field: $type,)* }

        impl $crate::schema::row::Columns for $name {
            fn describe(
                _: $crate::schema::column::Column,
                out: &mut Vec<$crate::schema::column::Column>,
            ) {
                $(
                    let column = $crate::schema::column::Column::new(
                        stringify!($field),
                        [concat!(stringify!($field), "_lo"), concat!(stringify!($field), "_hi")],
                        concat!($($doc),*),
                    );
                    <$type as $crate::schema::row::Columns>::describe(
                        column $($(.$said($($arg)*))+)?,
                        out,
                    );
                )*
            }

            fn write(&self, out: &mut Vec<$crate::schema::row::Value>) {
                $($crate::schema::row::Columns::write(&self.$field, out);)*
            }

            fn read(
                _: &'static str,
                values: &mut dyn Iterator<Item = $crate::schema::row::Value>,
            ) -> Result<Self, &'static str> {
                Ok(Self {
                    $($field: $crate::schema::row::Columns::read(stringify!($field), values)?,)*
                })
            }
        }

        impl $crate::schema::row::Group for $name {
            fn columns() -> &'static [$crate::schema::column::Column] {
                static COLUMNS: std::sync::LazyLock<Vec<$crate::schema::column::Column>> =
                    std::sync::LazyLock::new(|| $crate::schema::row::described::<$name>());
                &COLUMNS
            }
        }

        #[allow(dead_code, reason = "one for each column")]
        #[allow(clippy::doc_markdown, reason = "what a column means is read by people, as it is")]
        impl $name {
            $(
                $(#[doc = $doc])*
                pub const fn $field() -> $crate::schema::query::ColumnOf<$name, $type> {
                    $crate::schema::query::ColumnOf::new(stringify!($field))
                }
            )*
        }
    };
}

macro_rules! table {
    (
        $(#[doc = $about:literal])*
        $row:ident in $table:ident, key ($($key:ident),+ $(,)?)
        $(, indexes {
            $($index:ident ($($by:ident),+) $(collate $collation:ident)? $(where $known:ident)?),+ $(,)?
        })?
        { $($fields:tt)* }
    ) => {
        $crate::schema::row::group! { $(#[doc = $about])* $row { $($fields)* } }

        impl $crate::schema::row::Row for $row {
            const TABLE: &'static str = stringify!($table);

            fn spec() -> &'static $crate::schema::row::Spec {
                static SPEC: std::sync::LazyLock<$crate::schema::row::Spec> =
                    std::sync::LazyLock::new(|| {
                        $crate::schema::row::Spec::new(
                            stringify!($table),
                            <$row as $crate::schema::row::Group>::columns(),
                            &[$(stringify!($key)),+],
                            &[$($($crate::schema::row::Index {
                                name: stringify!($index),
                                columns: &[$(stringify!($by)),+],
                                collation: $crate::schema::row::maybe!($($collation)?),
                                known: $crate::schema::row::maybe!($($known)?),
                            }),+)?],
                        )
                    });
                &SPEC
            }
        }
    };
}

/// A name, where there is one.
macro_rules! maybe {
    () => {
        None
    };
    ($name:ident) => {
        Some(stringify!($name))
    };
}

pub(super) use {group, maybe, table};

/// The columns of a group, as its fields describe them.
pub(super) fn described<G: Columns>() -> Vec<Column> {
    let mut out = Vec::new();
    G::describe(Column::new("", [""; 2], ""), &mut out);
    out
}
