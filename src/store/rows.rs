//! Carries rows of the projections in and out of the file, whatever they mean.

use std::path::Path;

use rusqlite::types::{ToSql, ToSqlOutput, ValueRef};
use rusqlite::{Connection, Row as SqlRow, params_from_iter};

use super::error::{InFile, Result, StoreError};
use crate::schema::{Row, Value};

impl ToSql for Value {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match self {
            Self::Null => ValueRef::Null,
            Self::Int(n) => ValueRef::Integer(*n),
            Self::Real(x) => ValueRef::Real(*x),
            Self::Text(t) => ValueRef::Text(t.as_bytes()),
            Self::Blob(b) => ValueRef::Blob(b),
        }))
    }
}

impl From<ValueRef<'_>> for Value {
    fn from(v: ValueRef<'_>) -> Self {
        match v {
            ValueRef::Null => Self::Null,
            ValueRef::Integer(n) => Self::Int(n),
            ValueRef::Real(x) => Self::Real(x),
            ValueRef::Text(t) => Self::Text(String::from_utf8_lossy(t).into_owned()),
            ValueRef::Blob(b) => Self::Blob(b.to_vec()),
        }
    }
}

/// Values as parameters of [`get`].
pub(super) fn params(values: &[Value]) -> Vec<&dyn ToSql> {
    values.iter().map(|v| v as &dyn ToSql).collect()
}

/// Writes a row in the place of one with the same key.
pub(super) fn put<R: Row>(conn: &Connection, path: &Path, row: &R) -> Result<()> {
    put_into(conn, path, R::TABLE, row)
}

/// The same, into a table with the columns of another.
pub(super) fn put_into<R: Row>(
    conn: &Connection,
    path: &Path,
    table: &'static str,
    row: &R,
) -> Result<()> {
    let (list, marks) = (&R::spec().list, &R::spec().marks);
    let mut sql = String::with_capacity(64 + list.len() + marks.len());
    for part in ["INSERT OR REPLACE INTO \"", table, "\" (", list, ") VALUES (", marks, ")"] {
        sql.push_str(part);
    }
    let values = params_from_iter(row.values());
    conn.prepare_cached(&sql).and_then(|mut s| s.execute(values)).in_file(path).map(drop)
}

/// The statement of [`get`].
pub(super) fn select<R: Row>(rest: &str) -> String {
    let list = &R::spec().list;
    let mut sql = String::with_capacity(64 + list.len() + rest.len());
    for part in ["SELECT ", list, " FROM \"", R::TABLE, "\" ", rest] {
        sql.push_str(part);
    }
    sql
}

/// Reads the rows that a condition picks, in the order of the primary key or as the condition
/// says. `rest` is SQL of this room: `WHERE joint = ?1 ORDER BY …`.
pub(super) fn get<R: Row>(
    conn: &Connection,
    path: &Path,
    rest: &str,
    params: &[&dyn ToSql],
) -> Result<Vec<R>> {
    let mut statement = conn.prepare_cached(&select::<R>(rest)).in_file(path)?;
    let mut rows = statement.query(params).in_file(path)?;
    let mut out = Vec::new();
    while let Some(row) = rows.next().in_file(path)? {
        out.push(from_row(row, path)?);
    }
    Ok(out)
}

/// Reads a row whose columns stand in the order of the struct.
pub(super) fn from_row<R: Row>(row: &SqlRow<'_>, path: &Path) -> Result<R> {
    let mut at = 0;
    let mut next = std::iter::from_fn(|| {
        let v = row.get_ref(at).ok().map(Value::from);
        at += 1;
        v
    });
    R::read("", &mut next).map_err(|column| StoreError::Row {
        path: path.to_path_buf(),
        table: R::TABLE,
        column,
    })
}

/// Deletes the rows of one key from a projection table.
pub(super) fn drop_of<R: Row>(
    conn: &Connection,
    path: &Path,
    key: &str,
    value: i64,
) -> Result<usize> {
    let sql = format!("DELETE FROM \"{}\" WHERE \"{key}\" = ?1", R::TABLE);
    conn.prepare_cached(&sql).and_then(|mut s| s.execute([value])).in_file(path)
}
