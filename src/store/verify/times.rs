//! Times by clocks that stood wrong: not a fault of the book, and worth knowing.

use super::super::book::Book;
use super::super::error::{InFile, Result};
use super::Check;
use crate::ledger::chain_label;
use crate::model::{Clock, DAY_MS, Instant};

/// Clocks differ by so much without standing wrong, ms.
const SPARE_MS: i64 = 60_000;
/// A time so far ahead of the present is wrong, or the present is, ms.
const FAR_MS: i64 = DAY_MS;

impl Book {
    /// Looks for entries that were recorded before those that stand before them in their chain, or
    /// later than now, and for facts dated after today.
    pub fn check_times(&self, now: Instant, tomorrow: Instant) -> Result<Check> {
        let mut check = Check::new("times");
        let clock = self.clock()?;
        let mut statement = self
            .conn
            .prepare(
                "SELECT site, epoch, number, recorded_ms FROM entry ORDER BY site, epoch, number",
            )
            .in_file(&self.path)?;
        let mut rows = statement.query([]).in_file(&self.path)?;
        let mut last: Option<((String, u32), i64, String)> = None;
        while let Some(row) = rows.next().in_file(&self.path)? {
            let read = || -> rusqlite::Result<((String, u32), i64, i64)> {
                Ok(((row.get(0)?, row.get(1)?), row.get(2)?, row.get(3)?))
            };
            let (chain, number, recorded) = read().in_file(&self.path)?;
            let name = format!("{}-{number}", chain_label(&chain.0, chain.1));
            check.looked_at += 1;
            if recorded > now.0.saturating_add(FAR_MS) {
                check.note(format!(
                    "{name} was recorded at {}, later than now",
                    at(recorded, clock)
                ));
            }
            if let Some((of, before, its)) = last.filter(|(of, ..)| *of == chain)
                && of == chain
                && recorded < before.saturating_sub(SPARE_MS)
            {
                check.note(format!(
                    "{name} was recorded at {}, and {its} before it at {}: a clock stood wrong",
                    at(recorded, clock),
                    at(before, clock)
                ));
            }
            last = Some((chain, recorded, name));
        }
        let ahead = self.lying_ahead(tomorrow)?;
        for a in &ahead.first {
            let kind = a.kind.word().replace('_', " ");
            check.note(format!("{} ({kind} of {}) is dated after today", a.entry, a.date));
        }
        if ahead.count > ahead.first.len() {
            check.note(format!("{} entries in all are dated after today", ahead.count));
        }
        Ok(check)
    }
}

fn at(ms: i64, clock: Clock) -> String {
    Instant(ms).at(clock).to_rfc3339()
}
