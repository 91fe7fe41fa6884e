//! The filter language: one small language asks every question of the book.

pub mod ast;
pub mod check;
mod compile;
mod complete;
pub mod error;
mod eval;
mod expect;
mod explain;
pub mod facts;
pub mod habits;
mod lower;
pub mod parse;
pub mod registry;
mod sql;
pub mod typed;
mod walk;

pub use check::{Context, KnowsRules, Rule, Rules, check_rules};
pub use compile::{
    Answer, Column, ColumnKind, Compiled, Query, Select, among_query, asked, column, columns_of,
    compile, compile_records,
};
pub use complete::complete;
pub use error::{ErrorKind, Excerpt, FilterError, Fix, Span};
pub use eval::{Bounds, Verdict};
pub use explain::{Answer as RecordAnswer, Answers, Explained, Found, Manner, Thing};
pub use facts::{Facts, Line, Load, Slot};
pub use lower::dialect::{Dialect, Refusal, Source};
pub use lower::panel::{Panel, panels};
pub use registry::Record;
pub use typed::Link;
