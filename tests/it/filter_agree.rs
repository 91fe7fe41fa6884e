//! One meaning: the SQL that a filter lowers to and the evaluator agree, on random filters and
//! random books, for every joint, whether it is true, false or unknown.

use std::collections::BTreeMap;
use std::time::Instant;

use pipelore::filter::ast::ExprKind;
use pipelore::filter::parse::{Text, parse_filter};
use pipelore::filter::{
    Answer, Compiled, Facts, FilterError, Query, Select, Verdict, compile, panels,
};
use pipelore::schema;
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};

use crate::filter_book::{context, harrow, rules, shown};
use crate::filter_random::{Author, Book, Dice, book, empty, fill_window_parts, rows};

/// One joint's facts.
fn facts(conn: &Connection, compiled: &Compiled, joint: i64) -> Facts {
    let mut facts = Facts::default();
    for load in compiled.loads(joint) {
        let mut statement = conn.prepare_cached(&load.sql).unwrap();
        let columns = statement.column_count();
        let mut rows = statement.query(params_from_iter(&load.params)).unwrap();
        let mut lines = Vec::new();
        while let Some(row) = rows.next().unwrap() {
            let line = (0..columns).map(|c| schema::Value::from(row.get_ref(c).unwrap()));
            lines.push(line.collect());
        }
        facts.put(load.slot, lines);
    }
    facts
}

fn verdict(value: &Value) -> Verdict {
    match value {
        Value::Integer(1) => Verdict::True,
        Value::Integer(0) => Verdict::False,
        Value::Null => Verdict::Unknown,
        other => panic!("{other:?}"),
    }
}

/// Two random dates can shut a window, and some questions are too large; all else that is made here
/// must compile.
fn is_chance(errors: &[FilterError]) -> bool {
    let chance = ["nothing lies in this window", "this filter is too large to answer"];
    errors.iter().all(|e| chance.contains(&e.message.as_str()))
}

/// Compares the two for one filter on one book; counts the verdicts.
fn compare(conn: &Connection, book: &Book, text: &str, seed: u64, counts: &mut [u64; 3]) -> bool {
    let rules = rules();
    let context = context(&rules);
    let compiled = match compile(text, &context) {
        Ok(c) => c,
        Err(errors) if is_chance(&errors) => return false,
        Err(errors) => panic!("{}", shown(&errors)),
    };
    fill_window_parts(conn, book, &compiled.cuts(), seed);
    let query = compiled.select(&Select::of(Answer::All));
    let answer = rows(conn, &query);
    assert_eq!(answer.len(), book.joints.len());
    let mut matching = Vec::new();
    let mut undecided = Vec::new();
    for row in &answer {
        let Value::Integer(joint) = row[0] else { panic!() };
        let sql = verdict(&row[1]);
        let own = compiled.judge(&facts(conn, &compiled, joint));
        if sql != own {
            let (least, sql, own, query) = least(conn, book, text, seed, joint)
                .unwrap_or_else(|| (text.to_owned(), sql, own, query.clone()));
            panic!(
                "book {}, parts {seed}, joint {joint}: SQL says {}, the evaluator {}\n{least}\n{}\n{:?}",
                book.seed,
                sql.word(),
                own.word(),
                query.sql,
                query.params,
            );
        }
        match sql {
            Verdict::True => matching.push(joint),
            Verdict::Unknown => undecided.push(joint),
            Verdict::False => {}
        }
        counts[match sql {
            Verdict::True => 0,
            Verdict::False => 1,
            Verdict::Unknown => 2,
        }] += 1;
    }
    if compiled.is_decided() {
        assert!(undecided.is_empty(), "book {}: {undecided:?} open in {text}", book.seed);
    }
    // The narrower questions give the same. Preparing statements is what takes the time here, so
    // not every filter is asked all of them.
    if !seed.is_multiple_of(8) {
        return true;
    }
    let ask = |answer| -> Vec<i64> {
        let mut joints: Vec<i64> = rows(conn, &compiled.select(&Select::of(answer)))
            .into_iter()
            .map(|r| if let Value::Integer(n) = r[0] { n } else { panic!() })
            .collect();
        joints.sort_unstable();
        joints
    };
    assert_eq!(ask(Answer::Matching), matching, "{text}");
    assert_eq!(ask(Answer::Undecided), undecided, "{text}");
    assert_eq!(ask(Answer::Both).len(), matching.len() + undecided.len(), "{text}");
    if !undecided.is_empty() {
        let (query, labels) = compiled.undecided_by(None);
        let row = &rows(conn, &query)[0];
        assert_eq!(row[0], Value::Integer(undecided.len() as i64), "{text}");
        assert_eq!(row.len(), labels.len() + 1);
    }
    true
}

/// Many filters asked in one pass say of each joint what each says by itself.
#[test]
fn a_panel_says_what_its_filters_say() {
    let mut counts = BTreeMap::new();
    for n in 0..10u64 {
        let seed = (n + 7).wrapping_mul(0x2545_f491_4f6c_dd1d);
        let conn = empty();
        let book = book(&conn, seed);
        let mut dice = Dice(seed);
        let rules = rules();
        let context = context(&rules);
        let mut filters: Vec<Compiled> = Vec::new();
        while filters.len() < 70 {
            filters.extend(compile(&Author::new(&mut dice).filter(), &context));
        }
        let cuts: Vec<i64> = filters.iter().flat_map(Compiled::cuts).collect();
        fill_window_parts(&conn, &book, &cuts, seed);
        let among = compile("not on_hire", &context).unwrap();
        let asked: Vec<i64> = rows(&conn, &among.select(&Select::of(Answer::Matching)))
            .iter()
            .map(|row| if let Value::Integer(joint) = row[0] { joint } else { panic!() })
            .collect();
        let mut said: BTreeMap<(usize, i64), Verdict> = BTreeMap::new();
        for panel in panels(&among, &filters) {
            // In two stretches, as a large book is asked.
            for (first, last) in [(i64::MIN, 2), (3, i64::MAX)] {
                let mut statement = conn.prepare(&panel.sql).unwrap();
                let width = statement.column_count();
                let mut binds = panel.params.clone();
                binds.extend([schema::Value::Int(first), schema::Value::Int(last)]);
                let mut answer = statement.query(params_from_iter(&binds)).unwrap();
                while let Some(row) = answer.next().unwrap() {
                    let joint: i64 = row.get(0).unwrap();
                    assert!((first..=last).contains(&joint) && asked.contains(&joint));
                    let columns: Vec<i64> = (1..width).map(|c| row.get(c).unwrap()).collect();
                    panel.read(&columns, |at, verdict| {
                        assert!(said.insert((at, joint), verdict).is_none());
                    });
                }
            }
        }
        for (at, filter) in filters.iter().enumerate() {
            for joint in &asked {
                let own = filter.judge(&facts(&conn, filter, *joint));
                let verdict = said.get(&(at, *joint)).copied().unwrap_or(Verdict::False);
                assert_eq!(verdict, own, "book {seed}, joint {joint}, filter {at}");
                *counts.entry(format!("{own:?}")).or_insert(0) += 1;
            }
        }
    }
    assert!(counts.len() == 3 && counts.values().all(|n| *n > 100), "{counts:?}");
}

/// The smallest part of a filter on which the two still differ.
fn least(
    conn: &Connection,
    book: &Book,
    text: &str,
    seed: u64,
    joint: i64,
) -> Option<(String, Verdict, Verdict, Query)> {
    let tree = parse_filter(&Text::typed(text)).ok()?;
    let parts: Vec<String> = match &tree.kind {
        ExprKind::And(terms) | ExprKind::Or(terms) => {
            terms.iter().map(ToString::to_string).collect()
        }
        ExprKind::Not(inner) => vec![inner.to_string()],
        _ => Vec::new(),
    };
    if let Some(found) = parts.iter().find_map(|p| least(conn, book, p, seed, joint)) {
        return Some(found);
    }
    let rules = rules();
    let context = context(&rules);
    let compiled = compile(text, &context).ok()?;
    fill_window_parts(conn, book, &compiled.cuts(), seed);
    let query = compiled.select(&Select::of(Answer::All));
    let answer = rows(conn, &query);
    let row = answer.iter().find(|r| r[0] == Value::Integer(joint))?;
    let (sql, own) = (verdict(&row[1]), compiled.judge(&facts(conn, &compiled, joint)));
    (sql != own).then(|| (text.to_owned(), sql, own, query))
}

/// One filter on one book, to look at a difference: `PIPELORE_BOOK` and `PIPELORE_FILTER`.
#[test]
fn one_filter_on_one_book() {
    let (Ok(seed), Ok(text)) = (std::env::var("PIPELORE_BOOK"), std::env::var("PIPELORE_FILTER"))
    else {
        return;
    };
    let parts = std::env::var("PIPELORE_PARTS").ok().and_then(|n| n.parse().ok()).unwrap_or(1);
    let conn = empty();
    let book = book(&conn, seed.parse().unwrap());
    if let Ok(file) = std::env::var("PIPELORE_DUMP") {
        conn.execute("VACUUM INTO ?1", [file]).unwrap();
    }
    compare(&conn, &book, &text, parts, &mut [0; 3]);
}

#[test]
fn sql_and_evaluator_agree_on_random_books() {
    // 10,000 filters; as many thousands as the variable says for a soak.
    let thousands: u64 =
        std::env::var("PIPELORE_SOAK").ok().and_then(|n| n.parse().ok()).unwrap_or(10);
    let first: u64 = std::env::var("PIPELORE_SEED").ok().and_then(|n| n.parse().ok()).unwrap_or(1);
    let begun = Instant::now();
    let mut counts = [0; 3];
    let per_book = 50;
    for n in 0..thousands * 1_000 / per_book {
        let seed = first.wrapping_add(n).wrapping_mul(0x2545_f491_4f6c_dd1d);
        let conn = empty();
        conn.execute_batch("BEGIN").unwrap();
        let book = book(&conn, seed);
        for m in 0..per_book {
            let mut dice = Dice(seed ^ (m + 1).wrapping_mul(0xd6e8_feb8_6659_fd93));
            loop {
                let text = Author::new(&mut dice).filter();
                if compare(&conn, &book, &text, dice.0, &mut counts) {
                    break;
                }
            }
        }
    }
    let [yes, no, open] = counts;
    println!(
        "{} filters, {yes} true, {no} false, {open} unknown, {:.1} s",
        thousands * 1_000,
        begun.elapsed().as_secs_f64()
    );
    // Random filters must not all fall on one side, or the comparison says little.
    let all = yes + no + open;
    assert!(yes * 8 > all && no * 8 > all && open * 12 > all, "{counts:?}");
}

/// On rows that the folds made of files, too.
#[test]
fn sql_and_evaluator_agree_on_a_book_that_was_kept() {
    let mut book = harrow();
    let mut counts = BTreeMap::new();
    let mut dice = Dice(14);
    for _ in 0..150 {
        let text = Author::of(&mut dice, &["K1-0417", "K1-0418", "K1-0419"]).filter();
        match book.compile(&text) {
            Ok(_) => {}
            Err(errors) if is_chance(&errors) => continue,
            Err(errors) => panic!("{text}\n{}", shown(&errors)),
        }
        for (_, verdict) in book.verdicts(&text) {
            *counts.entry(verdict.word()).or_insert(0) += 1;
        }
    }
    assert!(counts.len() == 3 && counts.values().all(|n| *n > 30), "{counts:?}");
}

#[test]
fn what_every_joint_decides_is_told_without_asking() {
    let rules = rules();
    let context = context(&rules);
    for (text, decided) in [
        ("serial = \"none\"", true),
        ("serial like \"K1-*\" and not (component = drill_pipe or out)", true),
        ("serial in (\"K1-1\", \"K1-2\") or failed", true),
        ("open_findings > 2 and entered >= 2026-01-01", true),
        ("pin_generation between 1 and 3", true),
        ("wall is unknown", true),
        ("location = \"Harrow Yard\"", false),
        // Moves that exclude each other leave it open.
        ("string = \"K1\"", false),
        ("serial = \"none\" and wall > 90 %", false),
        ("hours > 10 h", false),
        ("failed_on > 2026-01-01", false),
        ("status as of 2026-01-01 = in_stock", false),
        ("any run (sour)", false),
    ] {
        let compiled = compile(text, &context).unwrap_or_else(|e| panic!("{}", shown(&e)));
        assert_eq!(compiled.is_decided(), decided, "{text}");
    }
}
