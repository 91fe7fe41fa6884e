//! What may stand where somebody is writing: fields of the record in scope, words of the
//! language, words of a vocabulary, names of rules.

use super::registry::{Field, Kind, Record, field, fields_of};

/// Words of the language that begin or join its phrases.
const WORDS: [&str; 47] = [
    "a",
    "above",
    "after",
    "and",
    "any",
    "as",
    "at",
    "before",
    "better",
    "between",
    "by",
    "count",
    "due",
    "every",
    "false",
    "first",
    "for",
    "from",
    "in",
    "is",
    "joints",
    "kin",
    "last",
    "latest",
    "like",
    "max",
    "mean",
    "min",
    "no",
    "not",
    "of",
    "or",
    "over",
    "percentile",
    "previous",
    "row",
    "since",
    "sum",
    "than",
    "that",
    "time",
    "to",
    "today",
    "true",
    "unknown",
    "worse",
    "joint",
];

/// What may stand at a place in a text, and from which byte on it is replaced.
pub fn complete<'a>(
    text: &str,
    at: usize,
    rules: impl Iterator<Item = &'a str>,
) -> (usize, Vec<String>) {
    let Some(before) = text.get(..at) else { return (at, Vec::new()) };
    let start = before
        .char_indices()
        .rev()
        .take_while(|(_, c)| c.is_alphanumeric() || *c == '_')
        .last()
        .map_or(at, |(i, _)| i);
    let typed = before[start..].to_lowercase();
    let ahead = &before[..start];
    // Inside quotes stands the user's own text.
    if ahead.matches('"').count() % 2 == 1 || ahead.matches('\'').count() % 2 == 1 {
        return (at, Vec::new());
    }
    let record = scope(ahead);
    let mut out: Vec<String> = match asked(ahead, record) {
        Some(field) => words_of(field).into_iter().map(str::to_owned).collect(),
        None => record
            .into_iter()
            .flat_map(|r| fields_of(Some(r)))
            .chain(fields_of(None))
            .map(|f| f.name)
            .chain(Record::ALL.into_iter().map(Record::word))
            .chain(WORDS)
            .map(str::to_owned)
            .chain(rules.map(str::to_owned))
            .collect(),
    };
    out.retain(|word| word.to_lowercase().starts_with(&typed));
    let mut seen = std::collections::BTreeSet::new();
    out.retain(|word| seen.insert(word.clone()));
    (start, out)
}

/// Words that may stand between a record and its condition.
const BEHIND_A_RECORD: [&str; 5] = ["in", "a", "row", "before", "last"];

/// The record whose condition is open at the end of a text.
fn scope(text: &str) -> Option<Record> {
    let mut open: Vec<Option<Record>> = Vec::new();
    let mut last = "";
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let length = rest.find(|c: char| !(c.is_alphanumeric() || c == '_')).unwrap_or(rest.len());
        if length > 0 {
            let word = &rest[..length];
            // `2 runs in a row (`, `of inspection before last (`: the record was named before.
            if Record::parse(last).is_none() || !BEHIND_A_RECORD.contains(&word) {
                last = word;
            }
            rest = &rest[length..];
            continue;
        }
        match c {
            '(' => {
                open.push(Record::parse(last).or(open.last().copied().flatten()));
                last = "";
            }
            ')' => {
                open.pop();
            }
            c if c.is_whitespace() => {}
            _ => last = "",
        }
        rest = &rest[c.len_utf8()..];
    }
    open.last().copied().flatten()
}

/// The field whose word is wanted at the end of a text: `class = `.
fn asked(text: &str, record: Option<Record>) -> Option<&'static Field> {
    let text = text.trim_end();
    let text = text.strip_suffix('=')?;
    let text = text.strip_suffix('!').unwrap_or(text).trim_end();
    let name = text.rsplit(|c: char| !(c.is_alphanumeric() || c == '_')).next()?;
    record.and_then(|r| field(Some(r), name)).or_else(|| field(None, name))
}

fn words_of(field: &Field) -> Vec<&'static str> {
    match field.kind {
        Kind::Word(words) | Kind::Set(words) => words.list(),
        Kind::Flag => vec!["true", "false"],
        _ => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at_end(text: &str) -> Vec<String> {
        complete(text, text.len(), ["thin_wall"].into_iter()).1
    }

    #[test]
    fn fields_words_and_rules() {
        assert_eq!(at_end("inspection_a"), ["inspection_age"]);
        assert!(at_end("wal").contains(&"wall_age".to_owned()));
        assert!(at_end("thin").contains(&"thin_wall".to_owned()));
        assert!(at_end("class = prem").contains(&"premium".to_owned()));
        assert_eq!(at_end("on_hire != f"), ["false"]);
        assert_eq!(complete("class = premium and hea", 23, [].into_iter()).0, 20);
        assert!(at_end("serial = \"K1-").is_empty());
    }

    #[test]
    fn a_record_s_condition_has_its_own_fields() {
        assert!(at_end("any run (well = \"x\" and max_dog").contains(&"max_dogleg".to_owned()));
        assert!(at_end("any makeup (end = ").contains(&"pin".to_owned()));
        assert!(at_end("any run (max_dogleg > 8 deg/30m) and gaug").is_empty());
        assert!(at_end("count makeups ((gaug").contains(&"gauge".to_owned()));
        assert!(at_end("any 2 runs in a row (max_dog").contains(&"max_dogleg".to_owned()));
        assert!(at_end("wall of inspection before last (cov").contains(&"covers".to_owned()));
    }

    #[test]
    fn every_keyword_of_the_grammar_is_offered() {
        let grammar = include_str!("../../grammar/filter.pest");
        let mut seen = 0;
        for line in grammar.lines().filter(|l| l.starts_with("kw_")) {
            for word in line.split('"').skip(1).step_by(2) {
                assert!(WORDS.contains(&word), "{word}");
                seen += 1;
            }
        }
        assert!(seen > 25);
    }

    #[test]
    fn places_inside_characters_are_no_places() {
        assert!(complete("é", 1, [].into_iter()).1.is_empty());
        assert!(complete("wall", 9, [].into_iter()).1.is_empty());
    }
}
