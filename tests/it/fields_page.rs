//! The fields of the filter language, as the program lists them: what a reader of filters may
//! write, record by record.

use std::fmt::Write as _;

use pipelore::filter::Record;
use pipelore::report::{Block, Cell, find};
use pipelore::units::UnitSystem;

/// One table a record, in Markdown.
fn listed() -> String {
    let mut out = String::new();
    for record in std::iter::once(None).chain(Record::ALL.into_iter().map(Some)) {
        let title = record.map_or("Joint".to_owned(), |r| {
            let word = r.word();
            word[..1].to_uppercase() + &word[1..]
        });
        write!(out, "\n### {title}\n\n| field | holds | means | no value | from | also called |\n|---|---|---|---|---|---|\n")
            .unwrap();
        for block in find::fields(record, UnitSystem::Us).blocks {
            let Block::Table(table) = block else { continue };
            for row in table.rows {
                let cells = row.iter().map(|cell| match cell {
                    Cell::Text(text) => text.replace('|', "\\|"),
                    other => panic!("{other:?}"),
                });
                writeln!(out, "| {} |", cells.collect::<Vec<_>>().join(" | ")).unwrap();
            }
        }
    }
    out.push('\n');
    out
}

#[test]
fn fields_are_listed() {
    insta::assert_snapshot!("fields", listed());
}
