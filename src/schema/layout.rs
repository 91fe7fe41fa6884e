//! The tables as SQL.

use super::row::{Index, Spec};
use super::{Column, Table};

/// The statements that make a table of the book and its indexes.
pub fn of_book(table: Table) -> String {
    let spec = table.spec();
    let mut out = format!("CREATE TABLE {} {};\n", spec.name, body(spec, true));
    for index in spec.indexes {
        out.push_str(&format!("CREATE INDEX {};\n", on(index, spec)));
    }
    out
}

/// The statements that make a table and its indexes for one connection alone, under the same name;
/// columns may be empty in it.
pub fn of_connection(table: Table) -> (String, Vec<String>) {
    let spec = table.spec();
    let made = format!("CREATE TABLE temp.{} {}", table.name(), body(spec, false));
    let indexes = spec.indexes.iter().map(|i| format!("CREATE INDEX temp.{}", on(i, spec)));
    (made, indexes.collect())
}

/// A table whose key is one whole number is kept by it; of others the key clusters the rows.
fn body(spec: &Spec, required: bool) -> String {
    let whole = |c: &Column| c.sql == "INTEGER";
    let by_number = match spec.key {
        [key] => spec.columns.iter().any(|c| c.name == *key && whole(c)),
        _ => false,
    };
    let mut lines = Vec::new();
    for column in spec.columns {
        for (name, filled) in column.stored() {
            let more = match (by_number && spec.key == [name], filled && required) {
                (true, _) => " PRIMARY KEY",
                (false, true) => " NOT NULL",
                (false, false) => "",
            };
            lines.push(format!("    {name} {}{more}", column.sql));
        }
    }
    if !by_number {
        lines.push(format!("    PRIMARY KEY ({})", spec.key.join(", ")));
    }
    let end = if by_number { "STRICT" } else { "STRICT, WITHOUT ROWID" };
    format!("(\n{}\n) {end}", lines.join(",\n"))
}

/// The columns of an index are columns of its table; a collation is that of its texts.
fn on(index: &Index, spec: &Spec) -> String {
    let text = |name: &str| spec.columns.iter().any(|c| c.name == name && c.sql == "TEXT");
    let columns: Vec<String> = index
        .columns
        .iter()
        .map(|name| match index.collation {
            Some(collation) if text(name) => format!("{name} COLLATE {collation}"),
            _ => (*name).to_string(),
        })
        .collect();
    let known = index.known.map_or_else(String::new, |c| format!(" WHERE {c} IS NOT NULL"));
    format!("{} ON {} ({}){known}", index.name, spec.name, columns.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_reads_as_it_would_be_written() {
        assert_eq!(
            of_book(Table::Gap),
            "CREATE TABLE gap (\n    joint INTEGER NOT NULL,\n    until INTEGER NOT NULL,\n    \
             since INTEGER,\n    entry INTEGER NOT NULL,\n    hours INTEGER,\n    begun INTEGER NOT NULL,\n    \
             PRIMARY KEY (joint, until, entry)\n) \
             STRICT, WITHOUT ROWID;\n"
        );
        let (made, indexes) = of_connection(Table::Survey);
        assert_eq!(
            made,
            "CREATE TABLE temp.survey (\n    entry INTEGER PRIMARY KEY,\n    well TEXT,\n    at \
             INTEGER,\n    stations INTEGER\n) STRICT"
        );
        assert_eq!(indexes, ["CREATE INDEX temp.survey_well ON survey (well COLLATE NOCASE, at)"]);
    }
}
