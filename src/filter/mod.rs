//! The filter language: one small language asks every question of the book.

pub mod ast;
pub mod error;
mod expect;
pub mod parse;
pub mod registry;

pub use error::{ErrorKind, FilterError, Place, Span};
