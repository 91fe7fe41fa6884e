//! Tables, JSON, CSV, HTML, SVG; safe for terminals and spreadsheets.
//!
//! Owns how a report looks. Asks nothing of the book.

pub mod chart;
mod columns;
pub mod csv;
mod explained;
pub mod fold;
pub mod html;
pub mod json;
pub mod safe;
pub mod schema;
pub mod sheet;
mod table;
pub mod template;
pub mod text;
mod value;
pub mod xlsx;

pub use value::{show, show_with_unit};
