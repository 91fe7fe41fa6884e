//! The rooms of the crate stand in dependency order: a room uses only rooms above it, and what
//! has no place in a room (SQL outside the store, printing outside the door) is not there.

use std::fs;
use std::path::{Path, PathBuf};

/// Rooms from the foundation up; a room may use those before it.
const ROOMS: [&str; 16] = [
    "units",
    "model",
    "mechanics",
    "condition",
    "ledger",
    "schema",
    "projection",
    "store",
    "publication",
    "intake",
    "filter",
    "policy",
    "report",
    "app",
    "render",
    "cli",
];

/// The sources below a folder.
pub fn source_files(dir: &Path, out: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            source_files(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

/// Every `crate::room` that a line of code names.
fn rooms_named(line: &str) -> Vec<&str> {
    line.match_indices("crate::")
        .map(|(at, m)| {
            let rest = &line[at + m.len()..];
            let end = rest.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(rest.len());
            &rest[..end]
        })
        .collect()
}

fn code_lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.lines().enumerate().filter(|(_, l)| !l.trim_start().starts_with("//"))
}

#[test]
fn a_room_uses_only_rooms_above_it() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut wrong = Vec::new();
    for (rank, room) in ROOMS.iter().enumerate() {
        let mut files = Vec::new();
        source_files(&src.join(room), &mut files);
        assert!(!files.is_empty(), "room {room} has no source");
        for file in files {
            let text = fs::read_to_string(&file).unwrap();
            for (number, line) in code_lines(&text) {
                for named in rooms_named(line) {
                    let Some(other) = ROOMS.iter().position(|r| *r == named) else { continue };
                    if other > rank {
                        wrong.push(format!("{}:{}: {}", file.display(), number + 1, line.trim()));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "these lines look down the stairs:\n{}", wrong.join("\n"));
}

#[test]
fn every_folder_of_src_is_a_room() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    for entry in fs::read_dir(src).unwrap() {
        let entry = entry.unwrap();
        let name = entry.file_name().into_string().unwrap();
        if entry.path().is_dir() {
            assert!(ROOMS.contains(&name.as_str()), "src/{name} is not in the list of rooms");
        } else {
            assert!(["lib.rs", "main.rs"].contains(&name.as_str()), "src/{name} has no room");
        }
    }
}

#[test]
fn sqlite_is_used_in_the_store_only() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    source_files(&src, &mut files);
    for file in files {
        if file.starts_with(src.join("store")) {
            continue;
        }
        let text = fs::read_to_string(&file).unwrap();
        for (number, line) in code_lines(&text) {
            assert!(
                !line.contains("rusqlite"),
                "{}:{} reaches for SQLite outside the store",
                file.display(),
                number + 1
            );
        }
    }
}

/// What a program that uses the library must not meet: the clock, the terminal and the environment
/// of the machine. They come in as values.
const SURROUNDINGS: [&str; 8] = [
    "std::env",
    "Local::now",
    "Utc::now",
    "SystemTime::now",
    "stdin()",
    "stdout()",
    "stderr()",
    "process::exit",
];

#[test]
fn the_door_alone_looks_at_its_surroundings() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut wrong = Vec::new();
    for room in ROOMS.iter().filter(|room| **room != "cli") {
        let mut files = Vec::new();
        source_files(&src.join(room), &mut files);
        for file in files {
            // A damaged book is read in a copy, in the folder that the system has for such.
            if file.ends_with("store/salvage.rs") {
                continue;
            }
            let text = fs::read_to_string(&file).unwrap();
            for (number, line) in code_lines(&text) {
                if SURROUNDINGS.iter().any(|s| line.contains(s)) {
                    wrong.push(format!("{}:{}: {}", file.display(), number + 1, line.trim()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "only `cli` may:\n{}", wrong.join("\n"));
}

/// Files that write SQL: the store, what filters are lowered to, the layout of the tables.
const WRITE_SQL: [&str; 4] = ["store", "filter/lower", "filter/sql.rs", "schema/layout.rs"];

/// What SQL cannot be written without.
const CLAUSES: [&str; 8] =
    ["SELECT ", "WHERE ", "ORDER BY ", " FROM ", " JOIN ", "INSERT ", "DELETE FROM", "CREATE "];

#[test]
fn sql_is_written_where_it_is_at_home() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    source_files(&src, &mut files);
    let (mut wrong, mut found) = (Vec::new(), 0);
    for file in files {
        let at_home = WRITE_SQL.iter().any(|home| file.starts_with(src.join(home)));
        let text = fs::read_to_string(&file).unwrap();
        for (number, line) in code_lines(&text) {
            if !CLAUSES.iter().any(|clause| line.contains(clause)) {
                continue;
            }
            found += 1;
            if !at_home {
                wrong.push(format!("{}:{}: {}", file.display(), number + 1, line.trim()));
            }
        }
    }
    assert!(wrong.is_empty(), "SQL outside its rooms:\n{}", wrong.join("\n"));
    assert!(found > 100, "the words of SQL are no longer found");
}

/// What judges is given to the folds and reports, by entries of the book: only the door may ask what
/// the program ships, to offer it or where there is no book.
#[test]
fn what_ships_judges_nothing() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    for room in ["ledger", "projection", "store", "intake", "filter", "policy", "report"] {
        let mut files = Vec::new();
        source_files(&src.join(room), &mut files);
        for file in files {
            let text = fs::read_to_string(&file).unwrap();
            let code = text.split("#[cfg(test)]").next().unwrap();
            for (number, line) in code_lines(code) {
                let asks =
                    ["Edition::shipped", "Standards::shipped"].iter().any(|s| line.contains(s));
                let chooses = file.ends_with("report/method.rs");
                assert!(!asks || chooses, "{}:{}: {line}", file.display(), number + 1);
            }
        }
    }
}

/// A new kind of entry is asked about wherever kinds are told apart: no arm takes in the rest unnamed.
#[test]
fn every_kind_of_entry_is_named_where_kinds_are_told_apart() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    source_files(&src, &mut files);
    let indent = |line: &str| line.len() - line.trim_start().len();
    for file in files {
        let own = file.starts_with(src.join("model/entry")).then_some("Self::");
        let kinds = ["Body::", "EntryKind::", "IdentityBody::", "Ruling::"].into_iter().chain(own);
        let kinds: Vec<&str> = kinds.collect();
        let text = fs::read_to_string(&file).unwrap();
        let lines: Vec<&str> = text.split("#[cfg(test)]").next().unwrap().lines().collect();
        for (n, line) in lines.iter().enumerate() {
            if !line.trim_start().starts_with("_ =>") {
                continue;
            }
            let arms = lines[..n].iter().rev();
            let arms = arms.take_while(|l| l.trim().is_empty() || indent(l) >= indent(line));
            let named = arms.filter(|l| indent(l) == indent(line)).any(|l| {
                let arm = l.trim_start().trim_start_matches("| ");
                kinds.iter().any(|k| arm.starts_with(k))
            });
            assert!(!named, "{}:{}: name the other kinds", file.display(), n + 1);
        }
    }
}

#[test]
fn every_integration_module_is_listed() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it");
    let main = fs::read_to_string(dir.join("main.rs")).unwrap();
    for entry in fs::read_dir(&dir).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let Some(module) = name.strip_suffix(".rs") else { continue };
        if module != "main" {
            assert!(main.contains(&format!("mod {module};")), "tests/it/{name} is never run");
        }
    }
}

#[test]
fn the_top_level_holds_what_was_agreed() {
    const ALLOWED: [&str; 10] = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "src",
        "grammar",
        "tests",
        "migrations",
        "samples",
    ];
    for entry in fs::read_dir(env!("CARGO_MANIFEST_DIR")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            name.starts_with('.') || name == "target" || ALLOWED.contains(&name.as_str()),
            "{name} has no place at the top level"
        );
    }
}
