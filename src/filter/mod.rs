//! The filter language: one small language asks every question of the book.

#![allow(missing_docs, reason = "a name that says what it is needs no comment")]

pub mod ast;
pub mod check;
mod compile;
mod complete;
pub mod error;
mod eval;
mod expect;
mod explain;
pub mod facts;
mod lower;
pub mod parse;
pub mod registry;
mod sql;
pub mod typed;

pub use check::{Context, Rule, check_rules};
pub use compile::{
    Answer, Column, ColumnKind, Compiled, Query, Select, column, compile, compile_records,
};
pub use complete::complete;
pub use error::{ErrorKind, FilterError, Place, Span};
pub use eval::{Bounds, Verdict};
pub use explain::{Answer as RecordAnswer, Answers, Explained, Found, Manner, Thing};
pub use facts::{Facts, Line, Link, Load, Slot};
pub use lower::panel::{Panel, panels};
pub use registry::Record;
