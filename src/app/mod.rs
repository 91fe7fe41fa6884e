//! Use cases: what a person or a program does with a book, from opening it to an answer.
//!
//! Owns the order of steps: read, settle, append, judge, tell. The command line calls it, and so
//! does a program that uses the crate alone. Nothing here prints, reads the environment or looks at
//! a clock: who asks, when and in which units comes in as a [`Caller`]; answers go out as reports.

mod adoption;
mod amend;
mod amend_parts;
mod answers;
mod ask;
mod assess;
mod bundle;
mod clock;
mod count;
mod demo;
mod enter;
mod error;
mod hire;
mod judge;
mod layouts;
mod limits;
mod load;
mod maintenance;
mod method;
mod next_string;
mod options;
mod past;
mod plan;
mod publish;
mod reread;
mod resemble;
mod rules;
mod seal;
mod session;
mod sheet;
mod strike;
mod take_in;
mod told_hours;
mod unlikely;
pub(crate) mod words;

pub(crate) use adoption::{AdoptHow, editions};
pub use answers::{Answers, AnswersError};
pub(crate) use assess::{Assessed, Described, How as AssessHow, assess_described};
pub(crate) use bundle::known_keys;
pub(crate) use count::Moves;
pub(crate) use demo::{build as build_demo, is_demo, last_day};
pub use error::Error;
pub(crate) use limits::{OwnLimits, check_limits_alone, findings, limits};
pub use options::LoadOptions;
pub use past::{KnownOn, Past};
pub(crate) use rules::{OwnRules, check_rules_alone};
pub use session::{Caller, Session};
pub(crate) use strike::Strike;
pub(crate) use take_in::{Disk, Source, diagnostic_lines};

/// Program and version, as every entry of the command carries it.
pub(crate) const PROGRAM: &str = concat!("pipelore ", env!("CARGO_PKG_VERSION"));
