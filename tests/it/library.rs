//! The library alone, by the names that `lib.rs` documents: what a program can do without the
//! command.

use std::path::{Path, PathBuf};

use pipelore::{
    Access, Block, Caller, Cell, DueOptions, Error, FindOptions, LoadOptions, Past, ReadOptions,
    Report, Screen, Session, UnitSystem,
};

const JOINTS: &str = "serial,component,od [in],wall [in],grade,connection,tj_od [in],tj_id [in],\
                      made,received\n\
                      A-1,drill pipe,5,0.362,S-135,NC50,6 5/8,2 3/4,2024-02-01,2024-03-01\n\
                      A-2,drill pipe,5,0.362,G-105,NC50,6 5/8,3 1/4,2024-02-01,2024-03-01\n";

fn caller() -> Caller {
    Caller::new("2026-03-04T08:00:00+01:00".parse().unwrap(), "A. Keeper")
}

struct Yard {
    folder: tempfile::TempDir,
}

impl Yard {
    /// A book with two joints.
    fn new() -> Self {
        let yard = Self { folder: tempfile::tempdir().unwrap() };
        let mut book = Session::create(&yard.book(), "yard", &caller()).unwrap();
        yard.load(&mut book, "joints.csv", JOINTS).unwrap();
        book.close().unwrap();
        yard
    }

    fn book(&self) -> PathBuf {
        self.folder.path().join("yard.pipelore")
    }

    fn write(&self, name: &str, text: &str) -> String {
        let path = self.folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    }

    fn load(&self, book: &mut Session, name: &str, text: &str) -> Result<Report, Error> {
        book.load(&[&self.write(name, text)], &LoadOptions::default())
    }

    fn open(&self, access: Access) -> Session {
        Session::open(&self.book(), access, &caller()).unwrap()
    }
}

fn serials(report: &Report) -> Vec<String> {
    let rows = &report.tables().next().unwrap().rows;
    let text = |row: &Vec<Cell>| match &row[0] {
        Cell::Text(serial) => serial.clone(),
        other => panic!("{other:?}"),
    };
    rows.iter().map(text).collect()
}

#[test]
fn a_program_loads_files_and_asks() {
    let yard = Yard::new();
    let mut book = yard.open(Access::Write);
    let inspection = "serial,date,methods,wall [in]\nA-1,2026-03-01,ut wall,0.250\n";
    let loaded = yard.load(&mut book, "inspection.csv", inspection).unwrap();
    // The verdict comes with the load.
    let shown = pipelore::to_text(&loaded, Screen { width: Some(100), units: UnitSystem::Us });
    assert!(shown.contains("1 joint inspected; fit to run: 1 not fit"), "{shown}");
    let answer = book.find("wall < 80 %", &FindOptions::default()).unwrap();
    assert_eq!(serials(&answer), ["A-1"]);
    let why = pipelore::to_json(&book.why("A-2", "wall < 80 %").unwrap(), book.units());
    assert!(why.contains("\"answer\": \"nobody can tell\"") || why.contains("wall"), "{why}");
    let trace = book.trace("A-1", &["inspections".to_owned()]).unwrap();
    assert!(pipelore::to_json(&trace, book.units()).contains("2026-03-01"));
    assert!(book.due(&DueOptions::default()).unwrap().tables().next().is_some());
    let table = pipelore::to_csv(&answer, book.units()).unwrap();
    assert!(table.lines().nth(1).unwrap().starts_with("A-1,"), "{table}");
    assert!(book.head().unwrap().unwrap().starts_with("yard-5 "));
    book.close().unwrap();
}

#[test]
fn the_same_file_twice_adds_nothing() {
    let yard = Yard::new();
    let mut book = yard.open(Access::Write);
    let head = book.head().unwrap();
    yard.load(&mut book, "joints.csv", JOINTS).unwrap();
    assert_eq!(book.head().unwrap(), head);
}

#[test]
fn a_file_that_is_wrong_is_refused_with_its_places() {
    let yard = Yard::new();
    let mut book = yard.open(Access::Write);
    let head = book.head().unwrap();
    let wrong = "serial,date,methods,wall [in]\nA-1,2026-03-01,ut wall,0.250\nA-9,soon,ut wall,1\n";
    let Err(Error::File { name, diagnostics }) = yard.load(&mut book, "wrong.csv", wrong) else {
        panic!("the file was taken in")
    };
    assert!(Path::new(&name).ends_with("wrong.csv"));
    assert!(diagnostics.list().iter().all(|d| d.row == Some(3)), "{diagnostics:?}");
    assert!(diagnostics.errors() >= 2);
    assert_eq!(book.head().unwrap(), head, "nothing was written");
    // What can be used of it is taken in when that is asked for.
    let name = yard.write("wrong.csv", wrong);
    let how = LoadOptions { partial: true, ..LoadOptions::default() };
    book.load(&[&name], &how).unwrap();
    assert_ne!(book.head().unwrap(), head);
}

#[test]
fn a_dry_run_and_a_question_leave_the_book_as_it_is() {
    let yard = Yard::new();
    let mut book = yard.open(Access::Write);
    let head = book.head().unwrap();
    let name = yard.write("note.csv", "date,serial,note\n2026-03-01,A-1,seen\n");
    let read = ReadOptions { keep_conflicts: true, ..ReadOptions::default() };
    let how = LoadOptions { read, dry_run: true, ..LoadOptions::default() };
    let report = book.load(&[&name], &how).unwrap();
    let notes: Vec<&String> = report
        .blocks
        .iter()
        .filter_map(|b| if let Block::Note(n) = b { Some(n) } else { None })
        .collect();
    assert!(notes.iter().any(|n| n.contains("nothing was written")), "{notes:?}");
    assert_eq!(book.head().unwrap(), head);
}

#[test]
fn the_past_is_opened_for_questions() {
    let yard = Yard::new();
    let mut book = yard.open(Access::Write);
    let moves = "date,serial,location\n2026-02-01,A-1,Rig 14\n";
    yard.load(&mut book, "moves.csv", moves).unwrap();
    book.close().unwrap();
    let at_the_rig = "location = \"Rig 14\"";
    let mut now = yard.open(Access::Read);
    assert_eq!(serials(&now.find(at_the_rig, &FindOptions::default()).unwrap()), ["A-1"]);
    assert!(now.view().is_empty());
    let past = Past { as_of: Some("2026-01-01".parse().unwrap()), known_on: None };
    let mut then = Session::open_past(&yard.book(), &past, &caller()).unwrap();
    let answer = then.find(at_the_rig, &FindOptions::default()).unwrap();
    assert!(serials(&answer).is_empty());
    assert!(!then.view().is_empty(), "an answer about the past can say that it is one");
    let before = Past {
        as_of: None,
        known_on: Some(pipelore::KnownOn::Date("2020-01-01".parse().unwrap())),
    };
    let none = Session::open_past(&yard.book(), &before, &caller());
    assert!(matches!(none, Err(Error::NothingYet { begun: Some(_), .. })));
}

#[test]
fn units_are_the_callers_else_the_books() {
    let yard = Yard::new();
    assert_eq!(yard.open(Access::Read).units(), UnitSystem::Us);
    let metric = Caller { units: Some(UnitSystem::Metric), ..caller() };
    let mut book = Session::open(&yard.book(), Access::Read, &metric).unwrap();
    let columns = FindOptions { show: vec!["serial".into(), "od".into()], ..Default::default() };
    let answer = book.find("serial = \"A-1\"", &columns).unwrap();
    let table = pipelore::to_csv(&answer, book.units()).unwrap();
    assert!(table.contains("127"), "{table}");
}
