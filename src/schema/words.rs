//! The words that a column may hold.

use crate::model::{Class, Vocabulary, fold, nearest_word};

/// The words that a column may hold.
#[derive(Clone, Copy, Debug)]
pub enum Words {
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
    /// Grades of tube of API Spec 5DP and what tool joints and collars add; a maker's own grade is
    /// asked for in quotes.
    pub(super) const GRADES: Self = Self::Listed(&[
        ("E75", &["e", "e_75"]),
        ("X95", &["x", "x_95"]),
        ("G105", &["g", "g_105"]),
        ("S135", &["s", "s_135"]),
    ]);
    /// Length ranges of API Spec 5DP.
    pub(super) const RANGES: Self = Self::Listed(&[
        ("R1", &["1", "range_1"]),
        ("R2", &["2", "range_2"]),
        ("R3", &["3", "range_3"]),
    ]);

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

    /// Place of a word in the order of a closed vocabulary.
    pub fn rank(self, text: &str) -> Option<i64> {
        match self {
            Self::Closed(lexicon) => (lexicon.read)(text).map(|(_, rank)| rank),
            _ => None,
        }
    }

    /// The words, the best first, where the trade has an order of them: classes.
    pub fn best_first(self) -> Option<Vec<&'static str>> {
        match self {
            Self::Closed(lexicon) if lexicon.kind == Class::KIND => Some((lexicon.list)()),
            _ => None,
        }
    }

    /// The bit of a word in a set.
    pub fn bit(self, text: &str) -> Option<i64> {
        self.rank(text).map(|rank| 1 << rank)
    }

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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Scope;

    #[test]
    fn words_are_read_in_any_spelling() {
        assert_eq!(Words::of::<Class>().read("Class 2").as_deref(), Some("class_2"));
        assert_eq!(Words::GRADES.read("g-105").as_deref(), Some("G105"));
        assert_eq!(Words::GRADES.read("G106"), None);
        assert_eq!(Words::GRADES.nearest("G106").as_deref(), Some("G105"));
        assert_eq!(Words::of::<Scope>().bit("wall"), Some(1 << 2));
        assert_eq!(Words::Open.read("Sharp crests").as_deref(), Some("sharp_crests"));
    }
}
