//! What the commands that adopt sets share: files that hold one, and what is wrong with them.

use std::path::Path;

use super::failure::{Failure, Kind, usage};
use crate::app::Error;
use crate::model::{Clock, Moment};

/// What to write for FILE to take the sets that ship.
pub(super) const SHIPPED: &str = "shipped";

/// Most bytes of a file that holds a set, prices, a seal or answers.
const MOST: u64 = 16 << 20;

/// The text of a file.
pub(super) fn text_of(file: &Path) -> Result<String, Failure> {
    crate::store::text_of(file, MOST)
        .map_err(|e| Failure::new(Kind::Input, format!("{} cannot be read: {e}", file.display())))
}

/// The time from which an adoption is in force.
pub(super) fn from(text: Option<&str>, clock: Clock) -> Result<Option<Moment>, Failure> {
    let read = |text| Moment::parse_at(text, clock).map_err(|e| usage(format!("--from: {e}")));
    text.map(read).transpose()
}

/// Rules that do not hold are told with the places in their file.
pub(super) fn of_file(file: &Path, error: Error) -> Failure {
    let Error::Rules(errors) = error else { return error.into() };
    let mut block = Vec::new();
    for e in &errors {
        block.push(format!("{}:{}: {}", file.display(), e.line, e.message));
        block.extend(e.block.iter().cloned());
    }
    let n = errors.len();
    let many = if n == 1 { "1 error".to_owned() } else { format!("{n} errors") };
    Failure::new(Kind::Input, format!("{} holds {many}", file.display())).block(block)
}
