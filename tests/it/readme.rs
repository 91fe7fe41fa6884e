//! Every command of the README's tour does what it says on the demo book, in the order of the tour.

use std::path::Path;
use std::process::Command;

use super::cli::{Desk, NOW};

/// What a tour needs beside the book: the reader's own files.
fn files(desk: &Desk) {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    for file in std::fs::read_dir(samples).unwrap() {
        let path = file.unwrap().path();
        std::fs::copy(&path, desk.path(path.file_name().unwrap().to_str().unwrap())).unwrap();
    }
    desk.write("rates.toml", "currency = \"EUR\"\n[joint]\nday = 1.1\n");
}

/// Commands of the tour, without the remarks behind them.
pub fn commands() -> Vec<String> {
    let readme = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md"));
    let text = readme.unwrap();
    let blocks = text.split("```").skip(1).step_by(2);
    blocks
        .flat_map(str::lines)
        .filter(|l| l.starts_with("pipelore "))
        .map(|l| l.split("  #").next().unwrap().split(" # ").next().unwrap().trim().to_owned())
        .collect()
}

#[test]
fn the_tour_works_from_end_to_end() {
    let desk = Desk::demo_copy();
    files(&desk);
    let binary = Path::new(env!("CARGO_BIN_EXE_pipelore"));
    let path = format!(
        "{}:{}",
        binary.parent().unwrap().display(),
        std::env::var("PATH").unwrap_or_default()
    );
    let commands = commands();
    assert!(commands.len() > 40, "{commands:#?}");
    let mut wrong = Vec::new();
    for line in &commands {
        // What wants a person at a terminal, and a correction that the reader has to write.
        if ["pipelore find", "pipelore enter inspection --string K1"].contains(&line.as_str())
            || line.contains("right.csv")
        {
            continue;
        }
        let run = Command::new("sh")
            .args(["-c", line])
            .current_dir(desk.path("."))
            .env("PATH", &path)
            .env("PIPELORE_BOOK", "demo.pipelore")
            .env("PIPELORE_NOW", NOW)
            .env("PIPELORE_AUTHOR", "tester")
            .env("TZ", "UTC")
            .env("COLUMNS", "80")
            .output()
            .unwrap();
        let out = String::from_utf8_lossy(&run.stdout);
        let err = String::from_utf8_lossy(&run.stderr);
        // A verdict of "may not run" is an answer too; an unfilled sheet holds nothing to take in.
        let fine = match run.status.code() {
            Some(0) => true,
            Some(1) => line.starts_with("pipelore assess"),
            Some(3) => line == "pipelore load k1.xlsx" && err.contains("nothing"),
            _ => false,
        };
        if !fine {
            wrong.push(format!("$ {line}\n{:?}\n{out}{err}", run.status.code()));
        }
        if line.starts_with("pipelore find '") && out.contains("no joint matches") {
            wrong.push(format!("$ {line}\nfinds no joint: {out}"));
        }
        // A hash is what it is; all else fits.
        let hash = |w: &str| w.len() == 64 && w.bytes().all(|b| b.is_ascii_hexdigit());
        let wide = out.lines().find(|l| l.chars().count() > 80 && !l.split_whitespace().any(hash));
        if let Some(wide) = wide {
            wrong.push(format!("$ {line}\nwider than 80 columns: {wide}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Files and folders that the maintainers' page names between backticks.
#[test]
fn what_the_page_for_maintainers_names_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = std::fs::read_to_string(root.join("DEVELOPERS.md")).unwrap();
    assert!(page.lines().count() <= 150, "it is to be read in one go");
    let named = page.split('`').skip(1).step_by(2);
    let homes = ["src/", "tests/", "migrations", "samples", "grammar", ".ci"];
    let paths: Vec<&str> = named
        .filter(|word| homes.iter().any(|home| word.starts_with(home)))
        .filter(|word| !word.contains(['*', '…', ' ', '{']) && !word.contains("000N"))
        .collect();
    assert!(paths.len() > 30, "{paths:#?}");
    let gone: Vec<_> = paths.iter().filter(|path| !root.join(path).exists()).collect();
    assert!(gone.is_empty(), "{gone:#?}");
}
