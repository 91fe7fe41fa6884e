//! No command changes or deletes an entry; SQL that tries is stopped by a trigger; what gets around
//! a trigger is found by `verify`.

use pipelore::store::{Access, Book};
use rusqlite::Connection;

use super::support::{answer, bytes_of, copy_book, pipelore, varied_book};
use crate::world::{World, draft, inspection, joint, run, small_fleet};

fn small(world: &World) -> std::path::PathBuf {
    let mut book = world.book("a.pipelore");
    let joints = small_fleet(world, &mut book, 3);
    world.append(
        &mut book,
        &[
            draft("2025-02-06", run("R1", "Larkfield 1H", "2025-02-01", &joints)),
            draft("2025-02-15", inspection(&joints[0], "0.350 in")),
        ],
    );
    let path = book.path().to_path_buf();
    book.close().unwrap();
    path
}

#[test]
fn triggers_stop_what_sql_tries() {
    let world = World::new();
    let path = small(&world);
    // As any tool would open it: recursive triggers off.
    let conn = Connection::open(&path).unwrap();
    let columns = "position, site, epoch, number, kind, effective, recorded_ms, recorded_offset, \
                   author, program, evidence, body, encoding, prev, hash";
    let rest = "kind, effective, recorded_ms, recorded_offset, author, program, evidence, body, \
                encoding, prev, hash FROM entry WHERE number = 3";
    for (sql, part) in [
        ("UPDATE entry SET author = 'x'".to_owned(), "never changed"),
        ("UPDATE entry SET body = body WHERE position = 2".to_owned(), "never changed"),
        ("DELETE FROM entry".to_owned(), "never deleted"),
        ("DELETE FROM entry WHERE position = 7".to_owned(), "never deleted"),
        (
            format!("INSERT OR REPLACE INTO entry SELECT {columns} FROM entry WHERE number = 3"),
            "of this name",
        ),
        (format!("INSERT INTO entry SELECT 99, site, epoch, 99, {rest}"), "at the end"),
        (format!("INSERT OR REPLACE INTO entry SELECT 9, site, epoch, 3, {rest}"), "of this name"),
        (format!("REPLACE INTO entry SELECT 9, site, epoch, 3, {rest}"), "of this name"),
        (
            format!(
                "INSERT INTO entry SELECT 9, site, epoch, 3, {rest} \
                     ON CONFLICT (site, epoch, number) DO UPDATE SET author = 'x'"
            ),
            "of this name",
        ),
        ("UPDATE book SET site = 'rig'".to_owned(), "keeps its site"),
        ("UPDATE book SET units = 'us'".to_owned(), "keeps its site"),
        ("UPDATE book SET created_ms = 0".to_owned(), "keeps its site"),
        ("DELETE FROM book".to_owned(), "keeps its owner"),
        ("INSERT OR REPLACE INTO book VALUES (1, 'rig', 1, 'us', 0)".to_owned(), "already"),
    ] {
        let error = conn.execute(&sql, []).expect_err(&sql).to_string();
        assert!(error.contains(part), "{sql}: {error}");
    }
    conn.close().unwrap();
    assert!(Book::open(&path, Access::Read).unwrap().verify(None, None).unwrap().sound());
}

#[test]
fn verify_finds_what_gets_around_the_triggers() {
    let world = World::new();
    let path = small(&world);
    let forged = world.path("forged.pipelore");
    let off = "DROP TRIGGER entry_is_never_changed; DROP TRIGGER entry_is_never_deleted;
               DROP TRIGGER entry_is_the_next_one; DROP TRIGGER entry_name_is_taken_once;
               DROP TRIGGER book_goes_on_by_epoch; DROP TRIGGER book_is_never_deleted;";
    // The triggers put back as they were, so that only what was done to the rows is left to find.
    let on = {
        let conn = Connection::open(&path).unwrap();
        let mut statement =
            conn.prepare("SELECT sql FROM sqlite_schema WHERE type = 'trigger'").unwrap();
        let rows = statement.query_map([], |r| r.get::<_, String>(0)).unwrap();
        rows.map(|r| r.unwrap()).collect::<Vec<_>>()
    };
    let set = |column: &str, value: &str| {
        format!("UPDATE entry SET {column} = {value} WHERE position = 6")
    };
    let mut cases: Vec<(String, &str)> = vec![
        (set("kind", "'note'"), "yard-6"),
        (set("effective", "'2025-01-11'"), "yard-6"),
        (set("recorded_ms", "recorded_ms + 1"), "yard-6"),
        (set("recorded_offset", "0"), "yard-6"),
        (set("author", "'somebody else'"), "yard-6"),
        (set("program", "'x'"), "yard-6"),
        (set("evidence", "'{}'"), "yard-6"),
        (set("body", "replace(body, 'Larkfield', 'Larkfeld')"), "yard-6"),
        (set("encoding", "2"), "yard-6"),
        (set("prev", "zeroblob(32)"), "yard-6"),
        (set("hash", "zeroblob(32)"), "yard-6"),
        (set("site", "'rig'"), "6"),
        (set("number", "50"), "50"),
        ("DELETE FROM entry WHERE position = 6".to_owned(), "position 6"),
        ("DELETE FROM entry WHERE position = 8".to_owned(), "yard-8"),
        ("UPDATE entry SET position = 18 WHERE position = 8".to_owned(), "position 8"),
        ("UPDATE book SET units = 'us'".to_owned(), "units"),
        ("UPDATE book SET created_ms = 1".to_owned(), "begun"),
        ("UPDATE joint SET wall = 1 WHERE joint = 3".to_owned(), "table joint "),
        ("DELETE FROM joint_run WHERE joint = 3".to_owned(), "table joint_run"),
        ("UPDATE since SET hours_lo = 0 WHERE joint = 4".to_owned(), "table since"),
        ("INSERT INTO struck VALUES (7, 8, 'struck')".to_owned(), "table struck"),
        ("UPDATE projection_state SET position = 3".to_owned(), "table projection_state"),
        ("UPDATE projection_state SET head = zeroblob(32)".to_owned(), "table projection_state"),
    ];
    // The last entry rewritten with its hash right: only the note of the head can tell.
    cases.push(("DELETE FROM entry WHERE position > 7".to_owned(), "yard-8"));
    for (sql, part) in &cases {
        copy_book(&path, &forged);
        let conn = Connection::open(&forged).unwrap();
        conn.execute_batch(off).unwrap();
        conn.execute_batch(sql).unwrap();
        for trigger in on.iter().filter(|t| off.contains(t.split_whitespace().nth(2).unwrap())) {
            conn.execute_batch(trigger).unwrap();
        }
        conn.close().unwrap();
        let output = pipelore(&forged, &["verify"]);
        let (code, said) = answer(&output);
        let told = String::from_utf8_lossy(&output.stdout).into_owned();
        assert_eq!(code, 1, "{sql}: {told}{said}");
        assert!(told.contains(part), "{sql}: {told}");
    }
    // A book whose triggers are gone, or that has others.
    for (sql, part) in [
        ("DROP TRIGGER entry_is_never_changed", "entry_is_never_changed is missing"),
        ("CREATE TRIGGER mine AFTER INSERT ON entry BEGIN DELETE FROM joint; END", "mine is none"),
        (
            "DROP INDEX entry_kind; CREATE INDEX entry_kind ON entry (kind)",
            "entry_kind was changed",
        ),
        ("CREATE TABLE mine (x)", "mine is none"),
    ] {
        copy_book(&path, &forged);
        let conn = Connection::open(&forged).unwrap();
        conn.execute_batch(sql).unwrap();
        conn.close().unwrap();
        let output = pipelore(&forged, &["verify"]);
        let told = String::from_utf8_lossy(&output.stdout).into_owned();
        assert_eq!(output.status.code(), Some(1), "{sql}: {told}");
        assert!(told.contains(part), "{sql}: {told}");
    }
    println!("forged rows and layouts found by verify: {}", cases.len() + 4);
}

#[test]
fn a_fault_in_the_middle_names_what_hangs_on_it() {
    let world = World::new();
    let path = small(&world);
    let forge = |sql: &str| {
        let conn = Connection::open(&path).unwrap();
        conn.execute_batch("DROP TRIGGER entry_is_never_changed").unwrap();
        conn.execute_batch(sql).unwrap();
        conn.close().unwrap();
    };
    // The second joint's certificate.
    forge("UPDATE entry SET body = replace(body, 'H4417', 'H4418') WHERE position = 4");
    let verified = Book::open_to_examine(&path).unwrap().verify(None, None).unwrap();
    let hanging = verified.hanging.unwrap();
    assert_eq!((hanging.entry.as_str(), hanging.later), ("yard-4", 4));
    assert_eq!(hanging.named_by, ["yard-7"]);
    assert_eq!(hanging.joints, ["K1-0002@yard-4"]);
    let _ = joint("x", true);
}

/// A chain rewritten from the middle on is whole in itself; only what stands outside can tell.
#[test]
fn a_rewritten_chain_is_told_by_a_pinned_head() {
    use pipelore::ledger::Hash;
    let world = World::new();
    let path = small(&world);
    let head = Book::open(&path, Access::Read).unwrap().head().unwrap().unwrap();
    let (code, _) = answer(&pipelore(&path, &["verify", "--head", &head.hash.to_string()]));
    assert_eq!(code, 0);
    let (code, _) = answer(&pipelore(&path, &["verify", "--head", &format!("{head}")]));
    assert_eq!(code, 0);
    // Forged with care: every hash after the change worked out anew, and the note as well.
    let mut entries = Vec::new();
    let book = Book::open(&path, Access::Read).unwrap();
    book.each_entry(|e| {
        entries.push(e);
        Ok(())
    })
    .unwrap();
    drop(book);
    let mut scratch = Vec::new();
    let mut prev = Hash::NONE;
    let conn = Connection::open(&path).unwrap();
    conn.execute_batch("DROP TRIGGER entry_is_never_changed").unwrap();
    for e in &mut entries {
        if e.position == 8 {
            e.raw.body = e.raw.body.replace("0.350", "0.360");
        }
        e.hash = Hash::of_entry(&prev, &e.raw, &mut scratch);
        conn.execute(
            "UPDATE entry SET body = ?1, prev = ?2, hash = ?3 WHERE position = ?4",
            (&e.raw.body, &prev.0[..], &e.hash.0[..], e.position),
        )
        .unwrap();
        prev = e.hash;
    }
    conn.execute_batch(
        "CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry is never changed: strike it and write another');
END",
    )
    .unwrap();
    conn.close().unwrap();
    std::fs::write(pipelore::store::side_file(&path), format!("{} {}\n", head.entry, prev))
        .unwrap();
    let (code, said) = answer(&pipelore(&path, &["rebuild"]));
    assert_eq!(code, 0, "{said}");
    let (code, _) = answer(&pipelore(&path, &["verify"]));
    assert_eq!(code, 0, "the forgery is whole in itself");
    let output = pipelore(&path, &["verify", "--head", &head.hash.to_string()]);
    assert_eq!(output.status.code(), Some(1));
    let (code, said) = answer(&pipelore(&path, &["verify", "--head", "abc"]));
    assert_eq!(code, 2, "{said}");
}

#[test]
fn rows_of_another_ledger_answer_nothing() {
    let world = World::new();
    let path = small(&world);
    for change in ["position = position - 1", "head = zeroblob(32)", "head = NULL"] {
        let other = world.path("other.pipelore");
        copy_book(&path, &other);
        let conn = Connection::open(&other).unwrap();
        conn.execute(&format!("UPDATE projection_state SET {change}"), []).unwrap();
        conn.close().unwrap();
        for words in [&["find", "true"][..], &["due"], &["stock"]] {
            let (code, said) = answer(&pipelore(&other, words));
            assert_eq!(code, 4, "{change}, {words:?}: {said}");
            assert!(said.contains("what was derived"), "{said}");
        }
    }
}

#[test]
fn what_was_not_compared_is_not_called_proven() {
    let world = World::new();
    let path = small(&world);
    let verify = || {
        let output = pipelore(&path, &["verify"]);
        assert_eq!(answer(&output).0, 0);
        String::from_utf8(output.stdout).unwrap()
    };
    assert!(verify().contains("what is derived follows"));
    let conn = Connection::open(&path).unwrap();
    conn.execute("UPDATE projection_state SET version = version - 1", []).unwrap();
    conn.close().unwrap();
    let said = verify();
    assert!(said.contains("not compared") && !said.contains("what is derived follows"), "{said}");
    // A question derives them again.
    assert_eq!(answer(&pipelore(&path, &["find", "true"])).0, 0);
    assert!(verify().contains("what is derived follows"));
}

#[test]
fn a_row_that_was_altered_tells_no_life() {
    let world = World::new();
    let book = varied_book(&world, "a.pipelore");
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let other = world.path("other.pipelore");
    for change in [
        "UPDATE joint SET wall = wall * 2 WHERE serial = 'K1-0007'",
        "UPDATE joint SET class = 'premium' WHERE serial = 'K1-0007'",
        "UPDATE joint_run SET hours = hours + 1 WHERE joint = 9",
    ] {
        copy_book(&path, &other);
        assert_eq!(answer(&pipelore(&other, &["trace", "K1-0007"])).0, 0);
        let conn = Connection::open(&other).unwrap();
        assert_eq!(conn.execute(change, []).unwrap(), 1, "{change}");
        conn.close().unwrap();
        for words in [&["trace", "K1-0007"][..], &["dossier", "K1-0007", "-o", "k.html"]] {
            let (code, said) = answer(&pipelore(&other, words));
            assert_eq!(code, 4, "{change}, {words:?}: {said}");
            assert!(said.contains("does not follow from its entries"), "{said}");
        }
        assert_eq!(answer(&pipelore(&other, &["rebuild"])).0, 0);
        assert_eq!(answer(&pipelore(&other, &["trace", "K1-0007"])).0, 0);
    }
}

/// What the altered entry says comes into no answer: the rows were derived before, and are not derived
/// from it. Lists that people act on are refused.
#[test]
fn what_an_altered_entry_says_is_no_answer() {
    let world = World::new();
    let book = varied_book(&world, "a.pipelore");
    let path = book.path().to_path_buf();
    book.close().unwrap();
    let lists = [
        &["due", "--csv", "--now", "2025-04-01"][..],
        &["due", "--as-of", "2025-03-01", "--csv"],
        &["stock", "--by", "class", "--csv"],
        &["forecast", "--csv"],
    ];
    for words in lists {
        let (code, said) = answer(&pipelore(&path, words));
        assert!(code < 2, "{words:?}: {said}");
    }
    let ask = || pipelore(&path, &["find", "wall < 88 %", "--show", "serial,wall", "--csv"]).stdout;
    let before = ask();
    crate::world::unguarded(&path, |conn| {
        let altered = conn
            .execute(
                "UPDATE entry SET body = replace(body, '0.306 in', '0.356 in')
                 WHERE kind = 'inspection' AND body LIKE '%0.306 in%'",
                [],
            )
            .unwrap();
        assert_eq!(altered, 1);
    });
    assert!(ask() == before);
    let kept = bytes_of(&path);
    let event = ["enter", "event", "serial=K1-0007", "date=2025-03-01", "event=drop"];
    for words in lists.into_iter().chain([&["trace", "K1-0007"][..], &event, &["rebuild"]]) {
        let (code, said) = answer(&pipelore(&path, words));
        assert_eq!(code, 4, "{words:?}: {said}");
    }
    assert!(bytes_of(&path)[0] == kept[0]);
    assert!(ask() == before);
}
