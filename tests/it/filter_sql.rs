//! Checked tree to SQL: statements that SQLite takes, values that are bound, plans that seek.

use pipelore::filter::{Answer, Select, compile};

use crate::filter_book::{context, empty, plan, rows, rules, shown};
use crate::filter_parse::CONTRACT;

#[test]
fn the_contract_compiles_and_runs() {
    let conn = empty();
    let rules = rules();
    let context = context(&rules);
    let last = "location = \"Yard B\" and string = \"K1\" and on_hire = false";
    for text in CONTRACT.iter().copied().chain([last]) {
        let compiled = compile(text, &context).unwrap_or_else(|e| panic!("{}", shown(&e)));
        for answer in [Answer::Matching, Answer::Undecided, Answer::Both, Answer::All] {
            let query = compiled.select(&Select::of(answer));
            if answer == Answer::All {
                println!("{text}\n   {}\n   {:?}", query.sql, query.params);
                for l in plan(&conn, &query) {
                    println!("      {l}");
                }
            }
            assert!(rows(&conn, &query).is_empty());
        }
        rows(&conn, &compiled.undecided_by(None).0);
    }
}
