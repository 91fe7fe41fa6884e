//! Every open item of `src` is used by the program, or is part of the library's face. What nothing
//! but tests uses is code that nobody can reach: it gets a door or goes.
//!
//! The compiler says so of items that are not open. Rooms are open to these tests, so what only
//! tests use has to be looked for here, by name: an item counts as used when its name stands
//! anywhere else in the program. A name that two items share may hide one of them.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use crate::rooms::source_files;

/// A word or a sign of a source.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Token {
    Word(String),
    Sign(char),
}

impl Token {
    fn is(&self, text: &str) -> bool {
        match self {
            Self::Word(word) => word == text,
            Self::Sign(sign) => text.chars().eq([*sign]),
        }
    }
}

/// Words and signs of a source, without comments and characters. Of a text the words in braces are
/// kept, which a format names; in an attribute all, which may be paths.
fn tokens(source: &str) -> Vec<Token> {
    let mut out: Vec<Token> = Vec::new();
    let mut rest = source;
    let mut attribute = 0usize;
    while let Some(c) = rest.chars().next() {
        if rest.starts_with("//") {
            rest = rest.split_once('\n').map_or("", |(_, r)| r);
        } else if rest.starts_with("/*") {
            rest = rest.split_once("*/").map_or("", |(_, r)| r);
        } else if c.is_alphabetic() || c == '_' {
            let end = rest.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(rest.len());
            let (word, after) = rest.split_at(end);
            rest = after;
            let raw = ["r", "br", "b"].contains(&word) && rest.starts_with(['"', '#']);
            if raw {
                let hashes = rest.chars().take_while(|c| *c == '#').count();
                let close = format!("\"{}", "#".repeat(hashes));
                if word != "b" && rest[hashes..].starts_with('"') {
                    let inner = &rest[hashes + 1..];
                    rest = inner.split_once(&close).map_or("", |(_, r)| r);
                }
            } else {
                out.push(Token::Word(word.to_owned()));
            }
        } else if c == '"' {
            let mut end = 1;
            let bytes = rest.as_bytes();
            while end < bytes.len() && bytes[end] != b'"' {
                end += if bytes[end] == b'\\' { 2 } else { 1 };
            }
            let text = &rest[1..end.min(rest.len())];
            if attribute > 0 {
                out.extend(words(text));
            } else {
                out.extend(text.split('{').skip(1).filter_map(|t| words(t).next()));
            }
            rest = rest.get(end + 1..).unwrap_or("");
        } else if c == '\'' {
            // A character, or a lifetime.
            let mut chars = rest.char_indices().skip(1);
            let escaped = rest[1..].starts_with('\\');
            let close = if escaped {
                rest[2..].char_indices().skip(1).find(|(_, c)| *c == '\'').map(|(at, _)| at + 2)
            } else {
                chars.nth(1).filter(|(_, c)| *c == '\'').map(|(at, _)| at)
            };
            rest = &rest[close.map_or(1, |at| at + 1)..];
        } else {
            match c {
                '#' if rest[1..].starts_with(['[', '!']) => attribute = 1,
                '[' if attribute > 0 => attribute += 1,
                ']' if attribute > 0 => attribute -= if attribute == 2 { 2 } else { 1 },
                _ => {}
            }
            if !c.is_whitespace() {
                out.push(Token::Sign(c));
            }
            rest = &rest[c.len_utf8()..];
        }
    }
    out
}

fn words(text: &str) -> impl Iterator<Item = Token> {
    text.split(|c: char| !c.is_alphanumeric() && c != '_')
        .filter(|w| w.starts_with(|c: char| c.is_alphabetic() || c == '_'))
        .filter(|w| !["use", "pub"].contains(w))
        .map(|w| Token::Word(w.to_owned()))
}

/// Place after the bracket that closes the one at a place.
fn past_close(tokens: &[Token], open: usize) -> usize {
    let mut depth = 0usize;
    for (at, t) in tokens.iter().enumerate().skip(open) {
        if ["{", "(", "["].iter().any(|s| t.is(s)) {
            depth += 1;
        } else if ["}", ")", "]"].iter().any(|s| t.is(s)) {
            depth -= 1;
            if depth == 0 {
                return at + 1;
            }
        }
    }
    tokens.len()
}

/// The program's own tokens: no tests, no `use`, but names that are used under another name.
fn own(tokens: &[Token]) -> Vec<Token> {
    let mut out = Vec::new();
    let mut at = 0;
    while at < tokens.len() {
        let follows = |words: &[&str]| {
            words.iter().enumerate().all(|(i, w)| tokens.get(at + i).is_some_and(|t| t.is(w)))
        };
        if follows(&["#", "[", "cfg", "(", "test", ")", "]"]) {
            at += 7;
            while tokens.get(at).is_some_and(|t| t.is("#")) {
                at = past_close(tokens, at + 1);
            }
            // To the item's body or its end; a length of an array is neither.
            while tokens.get(at).is_some_and(|t| !t.is("{") && !t.is(";")) {
                let open = tokens[at].is("(") || tokens[at].is("[");
                at = if open { past_close(tokens, at) } else { at + 1 };
            }
            at = match tokens.get(at) {
                Some(t) if t.is("{") => past_close(tokens, at),
                _ => (at + 1).min(tokens.len()),
            };
        } else if follows(&["use"]) && !follows(&["use", "<"]) {
            let end = (at..tokens.len()).find(|i| tokens[*i].is(";")).unwrap_or(tokens.len() - 1);
            let renamed = tokens[at..end].windows(2).filter(|w| w[1].is("as"));
            out.extend(renamed.map(|w| w[0].clone()));
            at = end + 1;
        } else {
            out.push(tokens[at].clone());
            at += 1;
        }
    }
    out
}

/// An open item: its name, and whether it stands in a block (a method, a constant of a type).
fn open_items(tokens: &[Token]) -> Vec<(String, bool)> {
    const KINDS: [&str; 7] = ["fn", "struct", "enum", "trait", "type", "const", "static"];
    let mut out = Vec::new();
    let mut depth = 0usize;
    for (at, t) in tokens.iter().enumerate() {
        if t.is("{") {
            depth += 1;
        } else if t.is("}") {
            depth -= 1;
        }
        if !t.is("pub") || tokens.get(at + 1).is_some_and(|t| t.is("(")) {
            continue;
        }
        let words: Vec<&Token> = tokens[at + 1..].iter().take(4).collect();
        let kind = words.iter().rposition(|t| KINDS.iter().any(|k| t.is(k)));
        let plain = |t: &&Token| matches!(t, Token::Word(_));
        if let Some(kind) = kind
            && words[..kind].iter().all(plain)
            && let Some(Token::Word(name)) = words.get(kind + 1)
        {
            out.push((name.clone(), depth > 0));
        }
    }
    out
}

/// How often each name stands in the program where it is not defined, in all and behind a dot or a
/// path.
#[derive(Default)]
struct Uses {
    anywhere: usize,
    of_something: usize,
}

fn count(tokens: &[Token], uses: &mut BTreeMap<String, Uses>) {
    const DEFINE: [&str; 8] = ["fn", "struct", "enum", "trait", "type", "const", "static", "mod"];
    for (at, t) in tokens.iter().enumerate() {
        let Token::Word(word) = t else { continue };
        let before = at.checked_sub(1).map(|i| &tokens[i]);
        if before.is_some_and(|b| DEFINE.iter().any(|d| b.is(d))) {
            continue;
        }
        let of = uses.entry(word.clone()).or_default();
        of.anywhere += 1;
        of.of_something += usize::from(before.is_some_and(|b| b.is(".") || b.is(":")));
    }
}

/// Open items that nothing in these sources uses, as file and name; what the first one names in its
/// `use` is used by others.
fn unused(sources: &[(String, String)], face: &str) -> Vec<(String, String)> {
    let face: Vec<Token> = words(face).collect();
    let mut uses = BTreeMap::new();
    let mut items = Vec::new();
    for (file, source) in sources {
        let own = own(&tokens(source));
        count(&own, &mut uses);
        items.extend(open_items(&own).into_iter().map(|(name, member)| (file, name, member)));
    }
    let used = |name: &str, member: bool| {
        let Some(uses) = uses.get(name) else { return false };
        if member { uses.of_something > 0 } else { uses.anywhere > 0 }
    };
    items
        .into_iter()
        .filter(|(_, name, member)| !used(name, *member) && !face.iter().any(|t| t.is(name)))
        .map(|(file, name, _)| (file.clone(), name))
        .collect()
}

#[test]
fn nothing_is_there_for_tests_alone() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    source_files(&src, &mut files);
    files.retain(|path| !path.ends_with("tests.rs"));
    files.sort();
    let relative = |path: &Path| path.strip_prefix(&src).unwrap().to_str().unwrap().to_owned();
    let sources: Vec<(String, String)> =
        files.iter().map(|path| (relative(path), fs::read_to_string(path).unwrap())).collect();
    let face = fs::read_to_string(src.join("lib.rs")).unwrap();
    let face: String = face.lines().filter(|l| l.starts_with("pub use")).collect();
    // What use cases a program may call stands in `app`; the compiler finds the rest there.
    let found: Vec<(String, String)> =
        unused(&sources, &face).into_iter().filter(|(file, _)| !file.starts_with("app/")).collect();
    let unused: Vec<String> =
        found.iter().map(|(file, name)| format!("src/{file}: {name}")).collect();
    assert!(unused.is_empty(), "only tests use these:\n{}", unused.join("\n"));
}

#[test]
fn the_search_finds_what_only_tests_use() {
    let sources = [
        (
            "a.rs".to_owned(),
            r#"
            //! used_in_words
            pub fn used() {}
            pub fn told(n: usize) {}
            pub fn renamed() {}
            pub fn shown() {}
            pub const fn lonely() {}
            pub(crate) fn for_the_compiler() {}
            pub static LONELY: char = '"';
            pub struct Thing;
            impl Thing {
                pub fn method(&self) {}
                pub const fn count() {}
                pub const fn lonely_method<'a>(&'a self) {}
            }
            #[cfg(test)]
            mod tests {
                fn test() { super::lonely(); }
            }
            "#
            .to_owned(),
        ),
        (
            "b.rs".to_owned(),
            r#"
            use a::{lonely, renamed as other};
            #[serde(with = "told")]
            fn main() { Thing.method(); Thing::count(); used(); println!("{shown} lonely"); }
            fn count() { let lonely_method = lonely_method(); }
            "#
            .to_owned(),
        ),
    ];
    let found = unused(&sources, "");
    let names: Vec<&str> = found.iter().map(|(_, name)| name.as_str()).collect();
    assert_eq!(names, ["lonely", "LONELY", "lonely_method"]);
    assert_eq!(unused(&sources, "pub use a::{lonely, LONELY};").len(), 1);
}
