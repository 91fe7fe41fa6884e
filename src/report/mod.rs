//! Reports as data: tables with typed columns, charts as series. No formatting.
//!
//! Owns what an answer says. Reads the book through `store`, never the file.

pub mod adopted;
pub mod anew;
mod asked;
pub mod assess;
pub mod chart;
pub mod consequences;
pub mod count;
mod data;
pub mod dossier;
pub mod due;
pub mod effects;
pub mod entries;
pub mod exposure;
pub mod failure;
pub mod find;
pub mod fitness;
mod graphs;
mod grouped;
pub mod journal;
pub mod kin;
mod life;
pub mod limits;
pub mod lists;
mod lookup;
pub mod makeup;
pub mod method;
mod pass;
pub mod past;
pub mod plan;
mod question;
pub mod rack;
mod range;
mod rank;
pub mod rate;
mod rule_pass;
pub mod rules;
pub mod run_page;
mod serials;
pub mod sheet;
pub mod show;
pub mod statement;
pub mod stock;
pub mod survey;
mod torque;
pub mod trace;
mod wear;
pub mod why;

pub use asked::Asked;
pub use data::{Bars, Block, Cell, Column, Counted, Fact, PLACES, Report, Table, named};
pub use due::forecast;
pub use lookup::{ReportError, find_joint};
pub use question::{Present, in_context, rules_in_force, rules_of};

use crate::model::{Clock, Instant};

/// An instant as a cell: a day when the day begins with it, else a clock time.
fn instant(ms: i64, clock: Clock) -> Cell {
    let t = Instant(ms).at(clock);
    let day = t.date_naive();
    if clock.midnight(day).0 == ms { Cell::Day(day) } else { Cell::Time(t) }
}
