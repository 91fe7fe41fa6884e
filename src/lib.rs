//! The life of every drill-string joint in one book.
//!
//! One library crate, one thin binary. A *room* is a folder of this crate; rooms stand in
//! dependency order and a room knows only those above it (`tests/it/rooms.rs` checks that):
//!
//! `units` → `model` → `mechanics` → `condition` → `ledger` → `projection` → `store` → `intake` →
//! `filter` → `policy` → `report` → `render` → `cli`.
//!
//! From an input file to a printed answer: `intake` reads files into entries of `model`; `ledger`
//! gives them canonical bytes and chains them; `projection` folds them, with `mechanics` and
//! `condition`, into what each joint is and went through; `store` keeps both in one SQLite file;
//! `filter` and `policy` turn questions into queries; `report` answers with data; `render` prints
//! it; `cli` is the door.

pub mod cli;
pub mod condition;
pub mod filter;
pub mod intake;
pub mod ledger;
pub mod mechanics;
pub mod model;
pub mod policy;
pub mod projection;
pub mod render;
pub mod report;
pub mod store;
pub mod units;
