//! Tells a release build which commit it is of, for `pipelore --version`: from the files of the
//! repository, or from what `git archive` wrote into `.ci/archived`; of a folder with neither nothing is
//! told. Needs no network and no git.

use std::fs::read_to_string;
use std::path::{Path, PathBuf};

#[expect(clippy::print_stdout, reason = "that is how a build script speaks")]
fn main() {
    println!("cargo::rerun-if-changed=.ci/commit.rs");
    println!("cargo::rerun-if-changed=.ci/archived");
    // Else every commit would have the whole program compiled anew while one works on it.
    if std::env::var("PROFILE").is_ok_and(|profile| profile != "release") {
        return;
    }
    let folder = Path::new(".");
    for file in
        git_folders(folder).iter().flat_map(|git| ["HEAD", "logs/HEAD"].map(|f| git.join(f)))
    {
        if file.exists() {
            println!("cargo::rerun-if-changed={}", file.display());
        }
    }
    if let Some(commit) = commit(folder) {
        println!("cargo::rustc-env=PIPELORE_COMMIT={commit}");
    }
}

/// How many digits of a commit are told.
const DIGITS: usize = 12;

/// The commit of a folder of the project, where it can be told.
pub(crate) fn commit(folder: &Path) -> Option<String> {
    let archived = || read_to_string(folder.join(".ci/archived")).ok();
    let whole = of_repository(folder).or_else(archived)?;
    let whole = whole.trim();
    let is_one = whole.len() >= 40 && whole.bytes().all(|b| b.is_ascii_hexdigit());
    is_one.then(|| whole[..DIGITS].to_owned())
}

/// Where the repository keeps its files: that of the work tree first, then what all trees share.
fn git_folders(folder: &Path) -> Vec<PathBuf> {
    let dot = folder.join(".git");
    let git = match read_to_string(&dot) {
        // The work tree of a repository that lies elsewhere names it.
        Ok(text) => text.trim().strip_prefix("gitdir:").map(|path| folder.join(path.trim())),
        Err(_) => dot.is_dir().then_some(dot),
    };
    let Some(git) = git else { return Vec::new() };
    let shared = read_to_string(git.join("commondir")).ok().map(|path| git.join(path.trim()));
    std::iter::once(git).chain(shared).collect()
}

fn of_repository(folder: &Path) -> Option<String> {
    let folders = git_folders(folder);
    let head = read_to_string(folders.first()?.join("HEAD")).ok()?;
    let Some(name) = head.trim().strip_prefix("ref: ") else { return Some(head) };
    let loose = folders.iter().find_map(|git| read_to_string(git.join(name)).ok());
    loose.or_else(|| {
        folders.iter().find_map(|git| {
            let packed = read_to_string(git.join("packed-refs")).ok()?;
            let line = packed.lines().find(|l| l.split(' ').nth(1) == Some(name))?;
            line.split(' ').next().map(str::to_owned)
        })
    })
}
