//! Files of a room that name one another in a circle cannot be read, tested or changed one at a
//! time: none is larger than four files.
//!
//! A file uses another when a path in its code leads to an item that is defined there, through
//! whatever re-exports; `mod` and `pub use` by themselves use nothing. Read by names, not by the
//! compiler: what a macro makes is not seen.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use crate::rooms::source_files;

/// Files in the largest circle that is let pass.
const LARGEST: usize = 4;

type Module = Vec<String>;

#[derive(Default)]
struct File {
    module: Module,
    /// Names of the items that it defines.
    items: BTreeSet<String>,
    /// What its `use` bring in, by the name under which it is known here.
    brought: BTreeMap<String, Module>,
    /// Paths that its code names.
    paths: Vec<Module>,
}

/// Code without comments, texts and its test module.
fn code(source: &str) -> String {
    let own = source.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
    let lines = own.lines().map(|l| l.split("//").next().unwrap_or_default());
    lines.collect::<Vec<_>>().join("\n")
}

fn words(text: &str) -> Vec<&str> {
    let mut out = Vec::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let word = rest.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(rest.len());
        let length = if word > 0 {
            word
        } else if rest.starts_with("::") {
            2
        } else {
            c.len_utf8()
        };
        let (token, after) = rest.split_at(length);
        if !token.trim().is_empty() {
            out.push(token);
        }
        rest = after;
    }
    out
}

/// The paths of a `use`, each with the name that it brings in. Returns the place after the tree.
fn tree(tokens: &[&str], from: usize, before: &[String], out: &mut Vec<(Module, String)>) -> usize {
    let mut path = before.to_vec();
    let mut at = from;
    while let Some(token) = tokens.get(at) {
        match *token {
            "::" => at += 1,
            "{" => {
                at += 1;
                while tokens.get(at).is_some_and(|t| !["}", ";"].contains(t)) {
                    at = tree(tokens, at, &path, out);
                    at += usize::from(tokens.get(at) == Some(&","));
                }
                return at + 1;
            }
            "as" => {
                out.push((path, tokens.get(at + 1).unwrap_or(&"_").to_string()));
                return at + 2;
            }
            "," | ";" | "}" => break,
            "self" if !path.is_empty() => at += 1,
            word => {
                path.push(word.to_owned());
                at += 1;
            }
        }
    }
    let name = path.last().cloned().unwrap_or_default();
    out.push((path, name));
    at
}

fn read(module: Module, source: &str) -> File {
    const DEFINE: [&str; 7] = ["fn", "struct", "enum", "trait", "type", "const", "static"];
    let mut file = File { module, ..File::default() };
    let code = code(source);
    let tokens = words(&code);
    let mut at = 0;
    while at < tokens.len() {
        let open = at > 0 && (tokens[at - 1] == "pub" || tokens[at - 1] == ")");
        match tokens[at] {
            "use" if tokens.get(at + 1) != Some(&"<") => {
                let mut brought = Vec::new();
                at = tree(&tokens, at + 1, &[], &mut brought);
                for (path, name) in brought {
                    // A re-export hands on; it is not a use.
                    if !open {
                        file.paths.push(path.clone());
                    }
                    file.brought.insert(name, path);
                }
                continue;
            }
            "in" if at > 1 && tokens[at - 1] == "(" && tokens[at - 2] == "pub" => {
                at += tokens[at..].iter().position(|t| *t == ")").unwrap_or(0);
            }
            word if DEFINE.contains(&word) => {
                if let Some(name) = tokens.get(at + 1) {
                    file.items.insert((*name).to_owned());
                }
            }
            word if tokens.get(at + 1) == Some(&"::") && (at == 0 || tokens[at - 1] != "::") => {
                let mut path = vec![word.to_owned()];
                while tokens.get(at + 1) == Some(&"::")
                    && tokens
                        .get(at + 2)
                        .is_some_and(|t| t.starts_with(|c: char| c.is_alphabetic()))
                {
                    path.push(tokens[at + 2].to_owned());
                    at += 2;
                }
                file.paths.push(path);
            }
            _ => {}
        }
        at += 1;
    }
    file
}

struct House {
    files: BTreeMap<String, File>,
    /// Names of files by their modules.
    modules: BTreeMap<Module, String>,
}

impl House {
    fn read(src: &Path) -> Self {
        let mut paths = Vec::new();
        source_files(src, &mut paths);
        let file = |path: &PathBuf| {
            let name = path.strip_prefix(src).unwrap().to_str().unwrap().to_owned();
            let plain = name.trim_end_matches(".rs").trim_end_matches("/mod");
            let module = plain.split('/').map(str::to_owned).collect();
            let file = read(module, &fs::read_to_string(path).unwrap());
            (name, file)
        };
        let files: BTreeMap<String, File> = paths.iter().map(file).collect();
        let modules = files.iter().map(|(name, f)| (f.module.clone(), name.clone())).collect();
        Self { files, modules }
    }

    fn at(&self, module: &[String]) -> Option<(&String, &File)> {
        self.files.get_key_value(self.modules.get(module)?)
    }

    /// A path from the root of the crate, as it is meant in a module.
    fn absolute(&self, module: &[String], path: &[String]) -> Option<Module> {
        let mut from = module.to_vec();
        let mut rest = path;
        match path.first()?.as_str() {
            "crate" => return Some(path[1..].to_vec()),
            "self" => rest = &path[1..],
            "super" => {
                while rest.first().is_some_and(|w| w == "super") {
                    from.pop();
                    rest = &rest[1..];
                }
            }
            first => {
                from.push(first.to_owned());
                self.at(&from)?;
                from.pop();
            }
        }
        from.extend(rest.iter().cloned());
        Some(from)
    }

    /// The file that defines what a path from the root names.
    fn defines(&self, path: &[String], hops: usize) -> Option<&String> {
        if let Some((name, _)) = self.at(path) {
            return Some(name);
        }
        for end in (1..path.len()).rev() {
            let Some((name, file)) = self.at(&path[..end]) else {
                continue;
            };
            let item = &path[end];
            if let Some(brought) = file.brought.get(item).filter(|_| !file.items.contains(item)) {
                let mut on = self.absolute(&file.module, brought)?;
                on.extend(path[end + 1..].iter().cloned());
                return (hops < 9).then(|| self.defines(&on, hops + 1)).flatten();
            }
            return Some(name);
        }
        None
    }

    /// Files of the same room that a file uses.
    fn uses(&self) -> BTreeMap<&String, BTreeSet<&String>> {
        let room = |name: &str| name.split('/').next().unwrap_or_default().to_owned();
        let used = |name: &String, file: &File| {
            let found = file.paths.iter().filter_map(|path| {
                let path = self.absolute(&file.module, path)?;
                self.defines(&path, 0)
            });
            found.filter(|other| *other != name && room(other) == room(name)).collect()
        };
        self.files.iter().map(|(name, file)| (name, used(name, file))).collect()
    }
}

/// All that can be reached from each.
fn reached<'a>(
    uses: &BTreeMap<&'a String, BTreeSet<&'a String>>,
    from: &'a String,
) -> BTreeSet<&'a String> {
    let mut seen = BTreeSet::new();
    let mut next = vec![from];
    while let Some(name) = next.pop() {
        for other in uses.get(name).into_iter().flatten() {
            if seen.insert(*other) {
                next.push(other);
            }
        }
    }
    seen
}

#[test]
fn circles_of_files_are_small() {
    let house = House::read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"));
    let uses = house.uses();
    let links: usize = uses.values().map(BTreeSet::len).sum();
    assert!(
        links > house.files.len(),
        "{links} uses among {} files: paths are not read",
        house.files.len()
    );
    let reach: BTreeMap<_, _> = uses.keys().map(|name| (*name, reached(&uses, name))).collect();
    let circles: BTreeSet<BTreeSet<&String>> = reach
        .iter()
        .filter(|(name, all)| all.contains(*name))
        .map(|(name, all)| {
            all.iter().copied().filter(|other| reach[other].contains(name)).collect()
        })
        .collect();
    let large: Vec<_> = circles.into_iter().filter(|circle| circle.len() > LARGEST).collect();
    assert!(large.is_empty(), "circles of more than {LARGEST} files: {large:#?}");
}
