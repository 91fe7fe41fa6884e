//! Vocabularies of word fields.

use crate::model::{
    Class, Component, End, Environment, EventKind, FailureKind, Method, Place, RunGrade, Scope,
    Status, Vocabulary, Work, fold, nearest_word,
};

/// The words that a field may hold.
#[derive(Clone, Copy, Debug)]
pub enum Words {
    /// A closed vocabulary.
    Closed(Lexicon),
    /// Words known to be used, each with its other spellings; more may stand in the book and can
    /// be asked for in quotes.
    Listed(&'static [(&'static str, &'static [&'static str])]),
    /// Words of a catalogue that is data; any word is taken.
    Open,
}

/// A closed vocabulary, without its type.
#[derive(Clone, Copy, Debug)]
pub struct Lexicon {
    /// What one of its words is called.
    pub kind: &'static str,
    read: fn(&str) -> Option<(&'static str, i64)>,
    list: fn() -> Vec<&'static str>,
    nearest: fn(&str) -> Option<String>,
}

impl Words {
    /// The closed vocabulary of a type.
    pub const fn of<V: Vocabulary>() -> Self {
        Self::Closed(Lexicon {
            kind: V::KIND,
            read: |text| V::from_word(text).ok().map(|v| (v.word(), v.rank())),
            list: || V::ALL.iter().map(|v| v.word()).collect(),
            nearest: |text| V::from_word(text).err().and_then(|e| e.nearest),
        })
    }

    /// The word as it stands in the book, from any of its spellings; `None` for a strange one.
    pub fn read(self, text: &str) -> Option<String> {
        match self {
            Self::Closed(lexicon) => (lexicon.read)(text).map(|(word, _)| word.to_owned()),
            Self::Listed(list) => {
                let key = fold(text);
                list.iter()
                    .find(|(word, other)| fold(word) == key || other.contains(&key.as_str()))
                    .map(|(word, _)| (*word).to_owned())
            }
            Self::Open => Some(fold(text)),
        }
    }

    /// The bit of a word in a set.
    pub fn bit(self, text: &str) -> Option<i64> {
        match self {
            Self::Closed(lexicon) => (lexicon.read)(text).map(|(_, rank)| 1 << rank),
            _ => None,
        }
    }

    /// Every known word.
    pub fn list(self) -> Vec<&'static str> {
        match self {
            Self::Closed(lexicon) => (lexicon.list)(),
            Self::Listed(list) => list.iter().map(|(word, _)| *word).collect(),
            Self::Open => Vec::new(),
        }
    }

    /// The known word closest to a strange one.
    pub fn nearest(self, text: &str) -> Option<String> {
        match self {
            Self::Closed(lexicon) => (lexicon.nearest)(text),
            Self::Listed(list) => nearest_word(text, list.iter().map(|(word, _)| *word)),
            Self::Open => None,
        }
    }
}

/// Vocabularies under the names that the tables of fields use.
pub(super) mod lexicons {
    use super::{
        Class, Component, End, Environment, EventKind, FailureKind, Method, Place, RunGrade, Scope,
        Status, Words, Work,
    };

    pub(crate) const COMPONENT: Words = Words::of::<Component>();
    pub(crate) const CLASS: Words = Words::of::<Class>();
    pub(crate) const STATUS: Words = Words::of::<Status>();
    pub(crate) const END: Words = Words::of::<End>();
    pub(crate) const PLACE: Words = Words::of::<Place>();
    pub(crate) const SCOPE: Words = Words::of::<Scope>();
    pub(crate) const METHOD: Words = Words::of::<Method>();
    pub(crate) const WORK: Words = Words::of::<Work>();
    pub(crate) const EVENT: Words = Words::of::<EventKind>();
    pub(crate) const FAILURE: Words = Words::of::<FailureKind>();
    pub(crate) const ENVIRONMENT: Words = Words::of::<Environment>();
    pub(crate) const RUN_GRADE: Words = Words::of::<RunGrade>();
    /// Grades of tube of API Spec 5DP and what tool joints and collars add; a maker's own grade is
    /// asked for in quotes.
    pub(crate) const GRADE: Words = Words::Listed(&[
        ("E75", &["e", "e_75"]),
        ("X95", &["x", "x_95"]),
        ("G105", &["g", "g_105"]),
        ("S135", &["s", "s_135"]),
    ]);
    /// Length ranges of API Spec 5DP.
    pub(crate) const RANGE: Words = Words::Listed(&[
        ("R1", &["1", "range_1"]),
        ("R2", &["2", "range_2"]),
        ("R3", &["3", "range_3"]),
    ]);
    pub(crate) const VERDICT: Words = Words::Listed(&[
        ("under", &["under_torque", "low"]),
        ("over", &["over_torque", "high"]),
        ("on_target", &["good", "ok"]),
        ("unknown", &[]),
    ]);
    pub(crate) const RULING: Words = Words::Listed(&[
        ("class", &[]),
        ("quarantine", &[]),
        ("release", &[]),
        ("retire", &[]),
        ("settle", &["settlement"]),
        ("waive", &["waiver"]),
    ]);
    pub(crate) const OPEN: Words = Words::Open;
}

#[cfg(test)]
mod tests {
    use super::lexicons::*;

    #[test]
    fn words_are_read_in_any_spelling() {
        assert_eq!(CLASS.read("Class 2").as_deref(), Some("class_2"));
        assert_eq!(GRADE.read("g-105").as_deref(), Some("G105"));
        assert_eq!(GRADE.read("G106"), None);
        assert_eq!(GRADE.nearest("G106").as_deref(), Some("G105"));
        assert_eq!(SCOPE.bit("wall"), Some(1 << 2));
        assert_eq!(OPEN.read("Sharp crests").as_deref(), Some("sharp_crests"));
    }
}
