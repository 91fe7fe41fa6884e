//! Checked tree to SQL: statements that SQLite takes, values that are bound, plans that seek.

use pipelore::filter::{Answer, Select};

use crate::filter_book::harrow;
use crate::filter_parse::CONTRACT;

#[test]
fn the_contract_compiles_and_runs() {
    let mut book = harrow();
    let last = "location = \"Yard B\" and string = \"K1\" and on_hire = false";
    for text in CONTRACT.iter().copied().chain([last]) {
        let compiled = book.compiled(text);
        let query = compiled.select(&Select::of(Answer::All));
        println!("{text}\n   {}\n   {:?}", query.sql, query.params);
        for line in book.plan(&query) {
            println!("      {line}");
        }
        let open = book.asked(text).1.len();
        let (query, labels) = compiled.undecided_by(None);
        let row = book.rows(&query).remove(0);
        assert_eq!(row.len(), labels.len() + 1, "{text}");
        let count = i64::try_from(open).unwrap();
        assert_eq!(row[0], pipelore::schema::Value::Int(count), "{text}");
    }
}
