//! How numbers, dates and columns of files are written, as `load` and `layouts change` are told it.

use clap::Args;

use super::failure::{Failure, usage};
use crate::intake::Options;

#[derive(Debug, Args)]
pub(super) struct WrittenArgs {
    /// Sign between columns: comma, semicolon, tab or blanks
    #[arg(long, value_name = "SIGN")]
    delimiter: Option<String>,
    /// Decimal sign: point or comma
    #[arg(long, value_name = "SIGN")]
    decimal: Option<String>,
    /// A text that means no value (can be repeated)
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true)]
    null: Vec<String>,
    /// Order in dates like 4/3/2026: day-first or month-first
    #[arg(long, value_name = "ORDER")]
    date_order: Option<String>,
}

impl WrittenArgs {
    /// Says it of a read.
    pub(super) fn say(&self, read: &mut Options) -> Result<(), Failure> {
        let said = [
            ("delimiter", &self.delimiter),
            ("decimal", &self.decimal),
            ("date-order", &self.date_order),
        ];
        let said = said.into_iter().filter_map(|(name, text)| Some((name, text.as_ref()?)));
        for (name, text) in said.chain(self.null.iter().map(|text| ("null", text))) {
            read.say(name, text).map_err(usage)?;
        }
        Ok(())
    }
}
