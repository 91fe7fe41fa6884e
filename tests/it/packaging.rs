//! What is handed over: the package with all that belongs to it, and the commit that a release names.

use std::path::Path;
use std::process::Command;

#[path = "../../.ci/commit.rs"]
#[allow(dead_code, reason = "its main is that of the build script")]
mod commit_of_build;

/// Runs a program; `None` where it is not there.
fn run(program: &str, args: &[&str], folder: &Path) -> Option<String> {
    let out = Command::new(program).args(args).current_dir(folder).output().ok()?;
    assert!(out.status.success(), "{program} {args:?}: {}", String::from_utf8_lossy(&out.stderr));
    Some(String::from_utf8_lossy(&out.stdout).into_owned())
}

#[test]
fn a_package_holds_program_page_completions_and_checksums() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for tool in ["ar", "sha256sum", "bash", "gzip"] {
        if Command::new(tool).arg("--version").output().is_err() {
            eprintln!("skipped: {tool} is not here");
            return;
        }
    }
    // A shell script stands in for the program, to be packed fast; it answers as the program does.
    let binary = at.join("program");
    let real = env!("CARGO_BIN_EXE_pipelore");
    std::fs::write(&binary, format!("#!/bin/sh\nexec '{real}' \"$@\"\n")).unwrap();
    let mut package = Command::new("bash");
    package.arg(".ci/package").arg(at.join("out")).current_dir(env!("CARGO_MANIFEST_DIR"));
    let made = package
        .env("PIPELORE_BINARY", &binary)
        .env("SOURCE_DATE_EPOCH", "1700000000")
        .output()
        .unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let out = at.join("out");
    run("sha256sum", &["-c", "SHA256SUMS"], &out);
    let sums = std::fs::read_to_string(out.join("SHA256SUMS")).unwrap();
    let names: Vec<&str> = sums.lines().map(|l| l.split_whitespace().nth(1).unwrap()).collect();
    assert_eq!(names.len(), 2, "{sums}");
    let deb = names.iter().find(|n| n.starts_with("pipelore_")).unwrap();
    assert!(deb.contains(env!("CARGO_PKG_VERSION")), "{deb}");
    let members = run("ar", &["t", deb], &out).unwrap();
    assert_eq!(
        members.lines().collect::<Vec<_>>(),
        ["debian-binary", "control.tar.gz", "data.tar.gz"]
    );
    run("ar", &["x", deb], &out);
    let data = run("tar", &["-tzf", "data.tar.gz"], &out).unwrap();
    let plain = names.iter().find(|n| n.ends_with(".tar.gz")).unwrap();
    let plain = run("tar", &["-tzf", plain], &out).unwrap();
    for file in [
        "usr/bin/pipelore",
        "usr/share/man/man1/pipelore.1.gz",
        "usr/share/bash-completion/completions/pipelore",
        "usr/share/zsh/vendor-completions/_pipelore",
        "usr/share/fish/vendor_completions.d/pipelore.fish",
        "usr/share/doc/pipelore/copyright",
    ] {
        assert!(data.lines().any(|l| l == format!("./{file}")), "{file}: {data}");
        let below = file.trim_start_matches("usr/");
        assert!(plain.lines().any(|l| l.ends_with(below)), "{file}: {plain}");
    }
    run("tar", &["-xzf", "data.tar.gz"], &out);
    let page = run("gzip", &["-dc", "usr/share/man/man1/pipelore.1.gz"], &out).unwrap();
    assert!(page.contains("pipelore") && page.contains("due"), "{page}");
    let completion = out.join("usr/share/bash-completion/completions/pipelore");
    assert!(std::fs::read_to_string(completion).unwrap().contains("pipelore"));
    // Where Debian's own tool is, it reads the package.
    if Command::new("dpkg-deb").arg("--version").output().is_ok() {
        let told = run("dpkg-deb", &["--info", deb], &out).unwrap();
        assert!(
            told.contains("Package: pipelore") && told.contains(env!("CARGO_PKG_VERSION")),
            "{told}"
        );
    }
}

/// The commit is told of a repository, of a work tree beside it, of packed references, and of an archive
/// without any; of a bare folder nothing is told.
#[test]
fn a_release_names_its_commit_where_it_can_be_told() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let write = |name: &str, text: &str| {
        let path = at.join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    };
    let (one, two, three) = ("1".repeat(40), "2".repeat(40), "3".repeat(40));
    let told = |name: &str| commit_of_build::commit(&at.join(name));
    write("bare/README.md", "");
    assert_eq!(told("bare"), None);
    write("archive/.ci/archived", &format!("{one}\n"));
    assert_eq!(told("archive").as_deref(), Some("111111111111"));
    write("own/.ci/archived", "$Format:%H$\n");
    assert_eq!(told("own"), None);
    write("own/.git/HEAD", "ref: refs/heads/main\n");
    write("own/.git/packed-refs", &format!("# pack-refs\n{two} refs/heads/main\n"));
    assert_eq!(told("own").as_deref(), Some("222222222222"));
    write("own/.git/refs/heads/main", &format!("{three}\n"));
    assert_eq!(told("own").as_deref(), Some("333333333333"));
    write("own/.git/worktrees/tree/HEAD", "ref: refs/heads/main\n");
    write("own/.git/worktrees/tree/commondir", "../..\n");
    write("tree/.git", "gitdir: ../own/.git/worktrees/tree\n");
    assert_eq!(told("tree").as_deref(), Some("333333333333"));
    write("own/.git/HEAD", &format!("{one}\n"));
    assert_eq!(told("own").as_deref(), Some("111111111111"));
}
