//! What is said of single files of a load: answers that no file gives by itself.

use std::collections::BTreeMap;
use std::str::FromStr;

use crate::intake::{Columns, Options, SAYS, StatedColumn, base_name};

/// What is said of a file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Answer {
    /// The file is left out.
    leave: bool,
    /// Names of options, and what is said under each.
    said: Vec<(String, String)>,
    /// Columns that stand over those that are said.
    columns: Vec<Columns>,
}

/// Answers by file, named as it is given or without its folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Answers {
    files: BTreeMap<String, Answer>,
}

/// Why answers cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AnswersError {
    #[error("{0}")]
    Toml(String),
    #[error("'{0}' is no file with answers below it; write [\"FILE\"], then NAME = \"TEXT\" lines")]
    File(String),
    #[error("{file}: {what}")]
    Answer { file: String, what: String },
}

impl FromStr for Answers {
    type Err = AnswersError;

    fn from_str(text: &str) -> Result<Self, AnswersError> {
        let root: toml::Table =
            text.parse().map_err(|e: toml::de::Error| AnswersError::Toml(e.to_string()))?;
        let mut out = Self::default();
        for (file, value) in root {
            let toml::Value::Table(lines) = value else { return Err(AnswersError::File(file)) };
            let wrong = |what: String| AnswersError::Answer { file: file.clone(), what };
            for (name, value) in lines {
                let name = name.replace('_', "-");
                match (name.as_str(), value) {
                    ("leave", toml::Value::Boolean(leave)) => out.leave(&file, leave),
                    ("set", toml::Value::Table(given)) => {
                        for (key, value) in given {
                            let value = plain(&value).ok_or_else(|| wrong(no_text(&key)))?;
                            out.say(&file, "set", &format!("{key}={value}")).map_err(wrong)?;
                        }
                    }
                    (_, toml::Value::Array(list)) => {
                        for value in list {
                            let text = plain(&value).ok_or_else(|| wrong(no_text(&name)))?;
                            out.say(&file, &name, &text).map_err(wrong)?;
                        }
                    }
                    (_, value) => {
                        let text = plain(&value).ok_or_else(|| wrong(no_text(&name)))?;
                        out.say(&file, &name, &text).map_err(wrong)?;
                    }
                }
            }
        }
        Ok(out)
    }
}

fn no_text(name: &str) -> String {
    format!("what is said under '{name}' is no text")
}

fn plain(value: &toml::Value) -> Option<String> {
    Some(match value {
        toml::Value::String(s) => s.clone(),
        toml::Value::Integer(n) => n.to_string(),
        toml::Value::Float(x) => x.to_string(),
        toml::Value::Boolean(b) => b.to_string(),
        toml::Value::Datetime(d) => d.to_string(),
        toml::Value::Array(_) | toml::Value::Table(_) => return None,
    })
}

impl Answers {
    /// Says something of a file.
    pub(crate) fn say(&mut self, file: &str, name: &str, text: &str) -> Result<(), String> {
        Options::default().say(name, text)?;
        self.of_mut(file).said.push((name.to_owned(), text.to_owned()));
        Ok(())
    }

    /// Says what a column of a file holds, over what is said of the others.
    pub(crate) fn say_column(&mut self, file: &str, column: StatedColumn) {
        self.of_mut(file).columns.push(std::iter::once(column).collect());
    }

    /// Leaves a file out, or not.
    pub(crate) fn leave(&mut self, file: &str, leave: bool) {
        self.of_mut(file).leave = leave;
    }

    fn of_mut(&mut self, file: &str) -> &mut Answer {
        self.files.entry(file.to_owned()).or_default()
    }

    fn of(&self, file: &str) -> Option<&Answer> {
        self.files.get(file).or_else(|| self.files.get(base_name(file)))
    }

    /// Files of which something is said.
    pub(super) fn files(&self) -> impl Iterator<Item = &str> {
        self.files.keys().map(String::as_str)
    }

    /// Whether it is said how a file is read.
    pub(super) fn speak_of(&self, file: &str) -> bool {
        self.of(file).is_some_and(|a| !a.said.is_empty())
    }

    /// Whether a file is left out.
    pub(super) fn leaves(&self, file: &str) -> bool {
        self.of(file).is_some_and(|a| a.leave)
    }

    /// How a file is read: as all are, but for what is said of it.
    pub(super) fn read(&self, file: &str, all: &Options) -> Options {
        let mut read = all.clone();
        for (name, text) in self.of(file).into_iter().flat_map(|a| &a.said) {
            // It was tried when it was said.
            debug_assert!(SAYS.contains(&name.as_str()));
            let _ = read.say(name, text);
        }
        for columns in self.of(file).into_iter().flat_map(|a| &a.columns) {
            read.columns = Some(columns.over(read.columns.as_ref()));
        }
        read
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_are_read_by_file() {
        let text = "[\"s.csv\"]\nas = 'survey'\nnull = ['-', 'x']\nset = { well = 'Far 2', date = 2025-02-01 }\n\
                    [\"old.csv\"]\nleave = true\n";
        let answers: Answers = text.parse().unwrap();
        assert!(answers.leaves("a/old.csv") && !answers.leaves("s.csv"));
        let read = answers.read("folder/s.csv", &Options::default());
        assert_eq!(read.nulls, ["-", "x"]);
        assert_eq!(read.given["date"], "2025-02-01");
        for (wrong, words) in [
            ("x = 1", "no file with answers"),
            ("['a']\ncolour = 'red'", "'colour' says nothing"),
            ("['a']\nas = 'song'", "no kind of file"),
            ("['a'", "TOML"),
        ] {
            let e = wrong.parse::<Answers>().unwrap_err().to_string();
            assert!(e.contains(words), "{e}");
        }
    }
}
