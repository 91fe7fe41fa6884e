//! Pure folds from entries to what the book knows: joints, runs, exposures, counters.
//!
//! Owns the meaning of every derived row. A fold reads standing entries in the canonical order and
//! gives rows; the same facts in any order of arrival give the same rows. No I/O, no SQL text.

pub mod adoptions;
pub mod alone;
pub mod amend;
pub mod book;
pub mod connection;
pub mod dims;
pub mod exposure;
pub mod facts;
pub mod horizon;
pub mod joint;
pub mod kinds;
pub mod notches;
pub mod readings;
pub mod totals;

/// Version of the projections: raised with any change of a fold or of a table of `schema`, so that a
/// book that an older version projected is projected again.
pub const VERSION: i64 = 26;

#[cfg(test)]
mod tests {
    use crate::schema::Table;

    #[test]
    fn no_column_is_newer_than_the_projections() {
        for table in Table::ALL {
            for column in table.spec().columns {
                assert!(column.since <= super::VERSION, "{}.{}", table.name(), column.name);
            }
        }
    }
}
