//! Charts: as SVG for a page, as strips of blocks for a terminal.
//!
//! Colours are named, not fixed: the page gives them their values for light, dark and paper.

mod scale;
mod strip;
mod svg;

pub use strip::strip;
pub use svg::{Drawn, Key, draw};
