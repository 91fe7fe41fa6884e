//! What moves with time, as functions of a connection: the views ask them for the columns of runs under
//! way and for sums over runs.

use std::sync::Arc;

use rusqlite::functions::{Context, FunctionFlags};
use rusqlite::types::Value as SqlValue;
use rusqlite::{Connection, Error, Result};

use super::view::AsOf;
use crate::schema::Value;
use crate::store::error;

/// A function: what it works out of its arguments.
type Work = fn(&Arc<AsOf>, &Context<'_>) -> Result<error::Result<Value>>;

fn column<'a>(ctx: &'a Context<'_>, at: usize) -> Result<&'a str> {
    Ok(ctx.get_raw(at).as_str()?)
}

/// Each with its name and the number of its arguments, the last of which names a column.
const FUNCTIONS: [(&str, i32, Work); 6] = [
    ("past_life", 2, |as_of, ctx| Ok(as_of.life_column(ctx.get(0)?, column(ctx, 1)?))),
    ("past_since", 3, |as_of, ctx| {
        Ok(as_of.since_column(ctx.get(0)?, column(ctx, 1)?, column(ctx, 2)?))
    }),
    ("past_run", 2, |as_of, ctx| Ok(as_of.run_column(ctx.get(0)?, column(ctx, 1)?))),
    ("past_joint_run", 3, |as_of, ctx| {
        Ok(as_of.joint_run_column(ctx.get(0)?, ctx.get(1)?, column(ctx, 2)?))
    }),
    ("past_part", 4, |as_of, ctx| {
        Ok(as_of.part_column(ctx.get(0)?, ctx.get(1)?, ctx.get(2)?, column(ctx, 3)?))
    }),
    ("past_words", 2, |as_of, ctx| Ok(as_of.words_column(ctx.get(0)?, column(ctx, 1)?))),
];

/// Adds them to a connection.
pub(super) fn register(conn: &Connection, as_of: &Arc<AsOf>) -> Result<()> {
    let flags = FunctionFlags::SQLITE_UTF8
        | FunctionFlags::SQLITE_DETERMINISTIC
        | FunctionFlags::SQLITE_INNOCUOUS;
    for (name, arguments, work) in FUNCTIONS {
        let as_of = Arc::clone(as_of);
        conn.create_scalar_function(name, arguments, flags, move |ctx| match work(&as_of, ctx)? {
            Ok(Value::Null) => Ok(SqlValue::Null),
            Ok(Value::Int(n)) => Ok(SqlValue::Integer(n)),
            Ok(Value::Real(x)) => Ok(SqlValue::Real(x)),
            Ok(Value::Text(t)) => Ok(SqlValue::Text(t)),
            Ok(Value::Blob(b)) => Ok(SqlValue::Blob(b)),
            Err(e) => Err(Error::UserFunctionError(Box::new(e))),
        })?;
    }
    Ok(())
}
