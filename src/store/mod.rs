//! The SQLite file: open, gate, migrate, append, query, back up.
//!
//! The only room that knows SQLite. A book is never deleted, recreated or overwritten here; a
//! damaged one is refused and left as it is.
