//! Rows of the projections as plain structs, with the names of their table and columns, so that
//! the store can carry any of them without knowing what it means.

/// A value of a column.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// No value.
    Null,
    /// A whole number.
    Int(i64),
    /// Text.
    Text(String),
    /// Bytes.
    Blob(Vec<u8>),
}

/// A row of a projection table.
pub trait Row: Sized {
    /// Name of the table.
    const TABLE: &'static str;
    /// Names of the columns in the order of the fields.
    const COLUMNS: &'static [&'static str];
    /// The names in quotation marks, with commas between.
    const LIST: &'static str;
    /// A mark for each, with commas between.
    const MARKS: &'static str;

    /// The values in the order of the columns.
    fn values(&self) -> Vec<Value>;

    /// Reads a row from values in the order of the columns; the name of the first column whose
    /// value does not fit otherwise.
    fn from_values(values: &mut dyn Iterator<Item = Value>) -> Result<Self, &'static str>;
}

/// A field that a column can hold.
pub trait Field: Sized {
    /// As a column value.
    fn to_value(&self) -> Value;
    /// From a column value.
    fn from_value(value: Value) -> Option<Self>;
}

impl Field for i64 {
    fn to_value(&self) -> Value {
        Value::Int(*self)
    }
    fn from_value(value: Value) -> Option<Self> {
        if let Value::Int(n) = value { Some(n) } else { None }
    }
}

impl Field for bool {
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

impl Field for String {
    fn to_value(&self) -> Value {
        Value::Text(self.clone())
    }
    fn from_value(value: Value) -> Option<Self> {
        if let Value::Text(t) = value { Some(t) } else { None }
    }
}

impl Field for Vec<u8> {
    fn to_value(&self) -> Value {
        Value::Blob(self.clone())
    }
    fn from_value(value: Value) -> Option<Self> {
        if let Value::Blob(b) = value { Some(b) } else { None }
    }
}

impl<T: Field> Field for Option<T> {
    fn to_value(&self) -> Value {
        self.as_ref().map_or(Value::Null, Field::to_value)
    }
    fn from_value(value: Value) -> Option<Self> {
        if value == Value::Null { Some(None) } else { T::from_value(value).map(Some) }
    }
}

/// A word of a closed vocabulary is a text column.
macro_rules! word_fields {
    ($($name:ty),* $(,)?) => {$(
        impl Field for $name {
            fn to_value(&self) -> Value {
                Value::Text(crate::model::Vocabulary::word(*self).to_owned())
            }
            fn from_value(value: Value) -> Option<Self> {
                let Value::Text(t) = value else { return None };
                <$name as crate::model::Vocabulary>::from_word(&t).ok()
            }
        }
    )*};
}

word_fields!(
    crate::model::Class,
    crate::model::Component,
    crate::model::End,
    crate::model::Environment,
    crate::model::EventKind,
    crate::model::FailureKind,
    crate::model::Place,
    crate::model::RunGrade,
    crate::model::Scope,
    crate::model::Status,
    crate::model::Work,
);

macro_rules! rows {
    ($($(#[$meta:meta])* $name:ident in $table:literal {
        $first:ident: $first_type:ty $(, $field:ident: $type:ty)* $(,)?
    })*) => {$(
        $(#[$meta])*
        #[derive(Clone, Debug, PartialEq)]
        #[expect(missing_docs, reason = "the columns are explained in migrations/projection.sql")]
        pub struct $name { pub $first: $first_type $(, pub $field: $type)* }

        impl $crate::projection::row::Row for $name {
            const TABLE: &'static str = $table;
            const COLUMNS: &'static [&'static str] =
                &[stringify!($first) $(, stringify!($field))*];
            const LIST: &'static str =
                concat!("\"", stringify!($first), "\"" $(, ", \"", stringify!($field), "\"")*);
            const MARKS: &'static str =
                concat!("?" $(, $crate::projection::row::mark!($field))*);

            fn values(&self) -> Vec<$crate::projection::row::Value> {
                vec![
                    $crate::projection::row::Field::to_value(&self.$first)
                    $(, $crate::projection::row::Field::to_value(&self.$field))*
                ]
            }

            fn from_values(
                values: &mut dyn Iterator<Item = $crate::projection::row::Value>,
            ) -> Result<Self, &'static str> {
                Ok(Self {
                    $first: values
                        .next()
                        .and_then($crate::projection::row::Field::from_value)
                        .ok_or(stringify!($first))?
                    $(, $field: values
                        .next()
                        .and_then($crate::projection::row::Field::from_value)
                        .ok_or(stringify!($field))?)*
                })
            }
        }
    )*};
}

/// A mark in the place of a column.
macro_rules! mark {
    ($field:ident) => {
        ", ?"
    };
}

pub(crate) use {mark, rows};
