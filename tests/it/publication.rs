//! What is published is what the book says, in states that appear whole, stay as they are, and share
//! what did not change.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use pipelore::ledger::hex;
use pipelore::model::Histogram;
use pipelore::publication::Manifest;
use pipelore::schema::Table;
use rusqlite::types::Value;
use sha2::{Digest, Sha256};

use crate::chance::Chance;
use crate::cli::{Desk, NOW};
use crate::faults::every::has_strace;

const ENTER: [&str; 6] = [
    "enter",
    "inspection",
    "serial=K1-0431",
    "date=2026-06-12",
    "methods=UT wall",
    "wall=0.302 in",
];

/// The states of a folder, the oldest first.
fn states(dir: &Path) -> Vec<PathBuf> {
    let number = |p: &PathBuf| {
        let name = p.file_name()?.to_str()?.strip_prefix("state-")?;
        name.split('-').next()?.parse::<u64>().ok()
    };
    let all = fs::read_dir(dir).unwrap().map(|e| e.unwrap().path());
    let mut found: Vec<_> = all.filter(|p| number(p).is_some()).collect();
    found.sort_by_key(number);
    found
}

fn newest(dir: &Path) -> PathBuf {
    states(dir).pop().unwrap()
}

fn manifest(state: &Path) -> Manifest {
    serde_json::from_str(&fs::read_to_string(state.join("manifest.json")).unwrap()).unwrap()
}

/// Every file that the manifest names is there with the bytes that it says.
fn whole(state: &Path) -> Manifest {
    let manifest = manifest(state);
    let of_sites = manifest.sites.values().flat_map(|s| &s.files);
    for file in of_sites.chain(&manifest.files) {
        let bytes = fs::read(state.join(&file.path)).unwrap();
        assert_eq!(hex(&Sha256::digest(&bytes)), file.sha256, "{}", file.path);
        assert_eq!(bytes.len() as u64, file.bytes, "{}", file.path);
    }
    assert!(state.join("tables.md").exists());
    manifest
}

/// A value as text, of a file or of the book.
fn told(field: &Field) -> String {
    match field {
        Field::Null => "null".to_owned(),
        Field::Long(n) => n.to_string(),
        Field::Str(t) => format!("'{t}'"),
        Field::ListInternal(list) => {
            let band = |e: &Field| match e {
                Field::Group(g) => {
                    g.get_column_iter().map(|(_, f)| told(f)).collect::<Vec<_>>().join(":")
                }
                other => panic!("{other:?}"),
            };
            format!("[{}]", list.elements().iter().map(band).collect::<Vec<_>>().join(" "))
        }
        other => panic!("{other:?}"),
    }
}

/// Rows of a table of a state, each by the names of its columns.
fn published(state: &Path, table: &str, site: Option<&str>) -> Vec<BTreeMap<String, String>> {
    let folder = match site {
        Some(site) => state.join(table).join(format!("site={site}")),
        None => state.join(table),
    };
    let mut files: Vec<_> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    let mut out = Vec::new();
    for file in files {
        let reader = SerializedFileReader::new(File::open(file).unwrap()).unwrap();
        for row in reader.get_row_iter(None).unwrap() {
            let row = row.unwrap();
            out.push(row.get_column_iter().map(|(n, f)| (n.clone(), told(f))).collect());
        }
    }
    out
}

fn stored(column: &str, value: Value) -> String {
    match value {
        Value::Null => "null".to_owned(),
        Value::Integer(n) => n.to_string(),
        Value::Text(t) => format!("'{t}'"),
        Value::Blob(bytes) if column.starts_with("histogram") => {
            let histogram = Histogram::decode(&bytes).unwrap();
            let bands = (0..61).map(|n| (n, histogram.band(n))).filter(|b| b.1 != (0, 0));
            let bands: Vec<String> = bands.map(|(n, (t, h))| format!("{n}:{t}:{h}")).collect();
            format!("[{}]", bands.join(" "))
        }
        Value::Blob(bytes) => format!("'{}'", hex(&bytes)),
        Value::Real(x) => panic!("{x}"),
    }
}

#[test]
fn every_row_of_the_book_is_published_as_it_stands() {
    let desk = Desk::demo_copy();
    desk.run(&["publish", "lake"]).ok();
    let state = newest(&desk.path("lake"));
    let of_site = whole(&state).sites.remove("yard").unwrap();
    let head = fs::read_to_string(desk.path("demo.pipelore.head")).unwrap();
    assert_eq!(head.trim(), of_site.head);
    let conn = rusqlite::Connection::open(desk.path("demo.pipelore")).unwrap();
    let mut rows_seen = 0;
    for table in Table::ALL {
        let mut statement = conn.prepare(&format!("SELECT * FROM \"{}\"", table.name())).unwrap();
        let names: Vec<String> = statement.column_names().map(str::to_owned).collect();
        let mut rows = statement.query([]).unwrap();
        let mut expected: Vec<BTreeMap<String, String>> = Vec::new();
        while let Some(row) = rows.next().unwrap() {
            let value =
                |(at, name): (usize, &String)| (name.clone(), stored(name, row.get(at).unwrap()));
            expected.push(names.iter().enumerate().map(value).collect());
        }
        let mut found = published(&state, table.name(), Some("yard"));
        rows_seen += found.len();
        // Files are sorted by the joint, whatever the key of the book's table.
        expected.sort();
        found.sort();
        assert_eq!(found, expected, "{}", table.name());
    }
    assert!(rows_seen > 10_000, "{rows_seen}");
    // As `find` answers.
    for class in ["premium", "class_2", "scrap"] {
        let mut found: Vec<String> = published(&state, "joint", Some("yard"))
            .into_iter()
            .filter(|row| row["class"] == format!("'{class}'"))
            .map(|row| row["serial"].trim_matches('\'').to_owned())
            .collect();
        found.sort();
        assert_eq!(found, desk.joints(&format!("class = {class}")).yes, "{class}");
    }
    // The description names every column.
    let text = fs::read_to_string(state.join("tables.md")).unwrap();
    for column in Table::ALL.iter().flat_map(|t| &t.spec().names) {
        assert!(text.contains(&format!("| {column} |")), "{column} is not described");
    }
}

#[test]
fn states_stay_and_share_what_did_not_change() {
    let desk = Desk::demo_copy();
    desk.run(&["publish", "lake"]).ok();
    let first = newest(&desk.path("lake"));
    let before = whole(&first);
    // The same book gives the same bytes, wherever it is published.
    desk.run(&["publish", "elsewhere"]).ok();
    let other = newest(&desk.path("elsewhere"));
    assert_eq!(first.file_name(), other.file_name());
    assert_eq!(whole(&other), before);
    // Nothing new is no new state.
    let again = desk.run(&["publish", "lake", "--json"]).json();
    assert_eq!(again["state"]["number"], 1, "{again}");
    assert_eq!(states(&desk.path("lake")).len(), 1);
    desk.run(&ENTER).ok();
    let answer = desk.run(&["publish", "lake", "--json"]).json();
    assert_eq!(answer["state"]["number"], 2, "{answer}");
    let second = newest(&desk.path("lake"));
    let after = whole(&second);
    assert_eq!(whole(&first), before, "the state before stays as it was");
    let note = |m: &Manifest, table: &str| {
        let files = &m.sites["yard"].files;
        files.iter().find(|f| f.path.starts_with(&format!("{table}/"))).unwrap().clone()
    };
    assert_ne!(note(&before, "inspection"), note(&after, "inspection"));
    assert_eq!(note(&before, "survey"), note(&after, "survey"));
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let inode =
            |state: &Path| fs::metadata(state.join(note(&after, "survey").path)).unwrap().ino();
        assert_eq!(inode(&first), inode(&second));
    }
    // From nothing the second state has the same files.
    desk.run(&["publish", "anew"]).ok();
    let anew = whole(&newest(&desk.path("anew")));
    assert_eq!((anew.sites, anew.files), (after.sites, after.files));
    let pruned = desk.run(&["publish", "lake", "--keep", "1", "--json"]).json();
    assert_eq!(pruned["state"]["removed"], 1, "{pruned}");
    assert_eq!(states(&desk.path("lake")), [second]);
}

#[test]
fn what_is_no_publication_or_of_another_book_is_refused() {
    let desk = Desk::demo_copy();
    fs::create_dir(desk.path("papers")).unwrap();
    desk.write("papers/letter.txt", "not ours");
    let said = desk.run(&["publish", "papers"]).fails(2);
    assert!(said.contains("letter.txt"), "{said}");
    // An older copy of the book does not go over what the newer one published.
    for suffix in ["", ".head"] {
        let name = format!("demo.pipelore{suffix}");
        if desk.path(&name).exists() {
            fs::copy(desk.path(&name), desk.path(&format!("old.pipelore{suffix}"))).unwrap();
        }
    }
    desk.run(&ENTER).ok();
    desk.run(&["publish", "lake"]).ok();
    let said = desk.run(&["publish", "lake", "--book", "old.pipelore"]).fails(2);
    assert!(said.contains("--anew") && said.contains("older copy"), "{said}");
    desk.run(&["publish", "lake", "--book", "old.pipelore", "--anew"]).ok();
    assert_eq!(states(&desk.path("lake")).len(), 2);
    // One at a time.
    let lock = File::open(desk.path("lake/.pipelore-lock")).unwrap();
    lock.lock().unwrap();
    let said = desk.run(&["publish", "lake"]).fails(4);
    assert!(said.contains("at this moment"), "{said}");
}

#[test]
fn a_joint_of_several_books_is_read_of_the_one_that_knows_most() {
    let desk = Desk::demo_copy();
    desk.run(&["bundle", "out", "yard.jsonl"]).ok();
    desk.run(&["new", "--site", "rig", "--book", "rig.pipelore"]).ok();
    desk.run(&["bundle", "in", "yard.jsonl", "--book", "rig.pipelore"]).ok();
    let enter = |book: &str, serial: &str, wall: &str| {
        let (serial, wall) = (format!("serial={serial}"), format!("wall={wall} in"));
        let words = ["enter", "inspection", &serial, "date=2026-06-12", "methods=UT wall", &wall];
        desk.run(&[&words[..], &["--book", book]].concat()).ok();
    };
    // The rig knows all that the yard does of every joint, and more of one.
    enter("rig.pipelore", "K1-0431", "0.302");
    let publish = || {
        desk.run(&["publish", "lake", "--book", "rig.pipelore"]).ok();
        desk.run(&["publish", "lake"]).ok();
        newest(&desk.path("lake"))
    };
    let state = publish();
    let said = |state: &Path, table: &str| -> Vec<(String, String)> {
        let rows = published(state, table, None).into_iter();
        rows.map(|row| (row["site"].clone(), row["joint"].clone())).collect()
    };
    let joint = |state: &Path, site: &str, serial: &str| {
        let rows = published(state, "joint", Some(site)).into_iter();
        let row = rows.into_iter().find(|r| r["serial"] == format!("'{serial}'")).unwrap();
        (format!("'{site}'"), row["joint"].clone())
    };
    assert_eq!(said(&state, "superseded").len(), 236);
    assert!(said(&state, "superseded").iter().all(|s| s.0 == "'yard'"));
    assert!(said(&state, "contested").is_empty());
    // Each knows more of one, and of a third each something that the other does not.
    enter("demo.pipelore", "K1-0417", "0.303");
    enter("demo.pipelore", "K1-0420", "0.303");
    enter("rig.pipelore", "K1-0420", "0.301");
    let state = publish();
    whole(&state);
    let superseded = said(&state, "superseded");
    assert_eq!(superseded.len(), 235);
    assert!(superseded.contains(&joint(&state, "yard", "K1-0431")));
    assert!(superseded.contains(&joint(&state, "rig", "K1-0417")));
    let mut contested = said(&state, "contested");
    contested.sort();
    assert_eq!(contested, [joint(&state, "rig", "K1-0420"), joint(&state, "yard", "K1-0420")]);
    // A bundle settles it.
    desk.run(&["bundle", "out", "back.jsonl", "--book", "rig.pipelore"]).ok();
    desk.run(&["bundle", "in", "back.jsonl"]).ok();
    let state = publish();
    assert!(said(&state, "contested").is_empty());
    assert!(said(&state, "superseded").iter().all(|s| s.0 == "'rig'"));
    assert_eq!(said(&state, "superseded").len(), 236);
}

/// The program under `strace`, on the demo book of a desk.
fn traced(desk: &Desk, strace: &[&str], words: &[&str]) -> Output {
    Command::new("strace")
        .args(["-f", "-qq"])
        .args(strace)
        .arg(env!("CARGO_BIN_EXE_pipelore"))
        .args(words)
        .current_dir(desk.path("."))
        .env("PIPELORE_BOOK", "demo.pipelore")
        .env("PIPELORE_NOW", NOW)
        .env("PIPELORE_AUTHOR", "tester")
        .output()
        .unwrap()
}

fn copy_all(from: &Path, to: &Path) {
    fs::create_dir(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy_all(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Ended at any moment a publisher leaves the states that were there as they were, no state that is not
/// whole, and nothing that the next one would stumble over.
#[test]
fn a_publisher_that_is_ended() {
    if !has_strace() {
        return;
    }
    const CALLS: [&str; 13] = [
        "write",
        "fsync",
        "openat",
        "mkdir",
        "link",
        "linkat",
        "rename",
        "renameat",
        "renameat2",
        "unlink",
        "unlinkat",
        "rmdir",
        "flock",
    ];
    let desk = Desk::demo_copy();
    desk.run(&["publish", "before"]).ok();
    desk.run(&ENTER).ok();
    let first = manifest(&newest(&desk.path("before")));
    let words = ["publish", "lake", "--keep", "1"];
    copy_all(&desk.path("before"), &desk.path("lake"));
    let trace = format!("trace={}", CALLS.join(","));
    let ran = traced(&desk, &["-o", "calls.txt", "-e", &trace], &words);
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let last = manifest(&newest(&desk.path("lake")));
    let text = fs::read_to_string(desk.path("calls.txt")).unwrap();
    let made = |call: &&&str| text.lines().any(|l| l.contains(&format!(" {call}(")));
    let soak: u64 = std::env::var("PIPELORE_SOAK").map_or(1, |v| v.parse().unwrap_or(1));
    let mut chance = Chance::new("a publisher that is ended");
    let (mut old, mut new) = (0, 0);
    for call in CALLS.iter().filter(made) {
        let count = text.lines().filter(|l| l.contains(&format!(" {call}("))).count() as u64;
        for _ in 0..(2 * soak).min(count) {
            let inject = format!("inject={call}:signal=KILL:when={}", chance.below(count) + 1);
            fs::remove_dir_all(desk.path("lake")).unwrap();
            copy_all(&desk.path("before"), &desk.path("lake"));
            traced(&desk, &["-o", "/dev/null", "-e", &inject], &words);
            let there = states(&desk.path("lake"));
            assert!(!there.is_empty(), "{inject}: no state is left");
            for state in &there {
                let found = whole(state);
                assert!(found == first || found == last, "{inject}: {}", state.display());
                *(if found == last { &mut new } else { &mut old }) += 1;
            }
            desk.run(&words).ok();
            assert_eq!(whole(&newest(&desk.path("lake"))), last, "{inject}");
            let left = fs::read_dir(desk.path("lake")).unwrap().count();
            assert_eq!(left, 2, "{inject}: more is left than the state and the lock");
        }
    }
    assert!(old > 0 && new > 0, "{old} {new}");
}
