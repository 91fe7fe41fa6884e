//! The SQLite file: open, gate, migrate, append, query, back up.
