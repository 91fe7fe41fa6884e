//! The life of every drill-string joint in one book.
//!
//! This is the library behind the command `pipelore`: a book that takes in certificates, surveys,
//! runs, inspections and repairs, and answers questions about its joints.
//!
//! # Asking a book from a program
//!
//! A [`Session`] is an open book, with a [`Caller`] who asks and writes. Nothing in it prints, looks
//! at a clock or reads the environment. An answer is a [`Report`]: tables and facts whose values keep
//! their kind and unit, to be read one by one or shown as text, JSON or CSV.
//!
//! ```
//! use pipelore::{Caller, FindOptions, LoadOptions, Screen, Session, UnitSystem};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let folder = tempfile::tempdir()?;
//! let joints = folder.path().join("joints.csv");
//! std::fs::write(
//!     &joints,
//!     "serial,component,od [in],wall [in],grade,connection,tj_od [in],tj_id [in],new,received\n\
//!      A-1,drill pipe,5,0.362,S-135,NC50,6 5/8,2 3/4,yes,2024-02-01\n\
//!      A-2,drill pipe,5,0.362,G-105,NC50,6 5/8,3 1/4,yes,2024-02-01\n",
//! )?;
//!
//! // Start a book. One that stands there already is opened by `Session::open`.
//! let caller = Caller::new("2026-03-04T08:00:00+01:00".parse()?, "A. Keeper");
//! let mut book = Session::create(&folder.path().join("yard.pipelore"), "yard", &caller)?;
//!
//! // Load a file: each row becomes an entry, or the file is refused with all that is wrong in it.
//! book.load(&[joints.to_str().ok_or("a path in Unicode")?], &LoadOptions::default())?;
//!
//! // Ask.
//! let answer = book.find("component = drill_pipe and no inspection", &FindOptions::default())?;
//! let table = answer.tables().next().ok_or("a table")?;
//! assert_eq!(table.rows.len(), 2);
//!
//! // Have it explained, value by value, with the entries that they come from.
//! let why = book.why("A-2", "component = drill_pipe and no inspection")?;
//! let shown = pipelore::to_text(&why, Screen { width: Some(80), units: UnitSystem::Us });
//! assert!(shown.contains("drill_pipe"), "{shown}");
//!
//! book.close()?;
//! # Ok(())
//! # }
//! ```
//!
//! # The rooms
//!
//! One library crate, one thin binary. A *room* is a folder of this crate; rooms stand in
//! dependency order and a room knows only those above it (`tests/it/rooms.rs` checks that):
//!
//! `units` → `model` → `mechanics` → `condition` → `ledger` → `schema` → `projection` → `store` →
//! `intake` → `filter` → `policy` → `report` → `app` → `render` → `cli`.
//!
//! From an input file to a printed answer: `app` has `intake` read files into entries of `model`;
//! `ledger` gives them canonical bytes and chains them; `schema` declares what is derived from them;
//! `projection` folds them, with `mechanics` and
//! `condition`, into what each joint is and went through; `store` keeps both in one SQLite file;
//! `filter` and `policy` turn questions into queries; `report` answers with data; `render` prints
//! it; `cli` is the door for people.

mod app;

// The rooms below are open to the tests, benches and fuzz targets of this project alone. They carry
// no promise: what stands in them changes with any version.
#[doc(hidden)]
pub mod cli;
#[doc(hidden)]
pub mod condition;
#[doc(hidden)]
pub mod filter;
#[doc(hidden)]
pub mod intake;
#[doc(hidden)]
pub mod ledger;
#[doc(hidden)]
pub mod mechanics;
#[doc(hidden)]
pub mod model;
#[doc(hidden)]
pub mod policy;
#[doc(hidden)]
pub mod projection;
#[doc(hidden)]
pub mod publication;
#[doc(hidden)]
pub mod render;
#[doc(hidden)]
pub mod report;
#[doc(hidden)]
pub mod schema;
#[doc(hidden)]
pub mod store;
#[doc(hidden)]
pub mod units;

pub use app::{Answers, AnswersError, Caller, Error, KnownOn, LoadOptions, Past, Session};
pub use intake::Options as ReadOptions;
pub use model::{EntryId, Instant, Moment, Recorded};
pub use render::csv::render as to_csv;
pub use render::json::render as to_json;
pub use render::text::{Screen, render as to_text};
pub use report::due::{Ahead, By as DueBy, Options as DueOptions};
pub use report::find::Options as FindOptions;
pub use report::{Block, Cell, Column, Fact, Report, ReportError, Table};
pub use store::{Access, StoreError};
pub use units::{Measure, UnitSystem};
