//! Readers of real files: rows, entries and located diagnostics. No database.
