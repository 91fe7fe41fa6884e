//! The list of fields in `DEVELOPERS.md` is the program's own.

use std::fmt::Write as _;

use pipelore::filter::Record;
use pipelore::report::{Block, Cell, find};
use pipelore::units::UnitSystem;

const BEGIN: &str = "<!-- fields -->\n";
const END: &str = "<!-- /fields -->";

/// One table a record, in Markdown.
fn listed() -> String {
    let mut out = String::new();
    for record in std::iter::once(None).chain(Record::ALL.into_iter().map(Some)) {
        let title = record.map_or("Joint".to_owned(), |r| {
            let word = r.word();
            word[..1].to_uppercase() + &word[1..]
        });
        write!(out, "\n### {title}\n\n| field | holds | means | from |\n|---|---|---|---|\n")
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
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    let text = std::fs::read_to_string(&path).unwrap();
    let begin = text.find(BEGIN).expect("the list's beginning is marked") + BEGIN.len();
    let end = text.find(END).expect("the list's end is marked");
    let wanted = listed();
    if std::env::var_os("PIPELORE_UPDATE").is_some() {
        std::fs::write(&path, format!("{}{wanted}{}", &text[..begin], &text[end..])).unwrap();
        return;
    }
    assert!(
        text[begin..end] == wanted,
        "DEVELOPERS.md lists other fields; refresh it with PIPELORE_UPDATE=1"
    );
}
