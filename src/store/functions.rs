//! What queries may call: questions to the histogram of turns and hours by dogleg, and the order in
//! which names compare.

use rusqlite::functions::FunctionFlags;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, Result};

use crate::model::{Histogram, compare_names, name_key};

/// Adds them to a connection.
pub(super) fn register(conn: &Connection) -> Result<()> {
    let flags = FunctionFlags::SQLITE_UTF8
        | FunctionFlags::SQLITE_DETERMINISTIC
        | FunctionFlags::SQLITE_INNOCUOUS;
    for (name, ask) in [
        ("turns_above", Histogram::turns_above as fn(&Histogram, i64) -> i64),
        ("hours_above", Histogram::hours_above),
    ] {
        conn.create_scalar_function(name, 2, flags, move |ctx| {
            let dogleg = match ctx.get_raw(1) {
                ValueRef::Integer(n) => n,
                #[expect(clippy::cast_possible_truncation, reason = "a float cast saturates")]
                ValueRef::Real(x) => x.round() as i64,
                _ => return Ok(None),
            };
            let ValueRef::Blob(bytes) = ctx.get_raw(0) else { return Ok(None) };
            Ok(Histogram::decode(bytes).ok().map(|h| ask(&h, dogleg)))
        })?;
    }
    conn.create_scalar_function("name_key", 1, flags, |ctx| {
        Ok(match ctx.get_raw(0) {
            ValueRef::Text(bytes) => std::str::from_utf8(bytes).ok().map(name_key),
            _ => None,
        })
    })?;
    conn.create_collation("NAME", compare_names)
}
