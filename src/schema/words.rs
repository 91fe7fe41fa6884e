//! The words that a column may hold.

use std::sync::LazyLock;

use crate::condition::{Catalogue, Standards};
use crate::mechanics::connection::{CATALOGUE, ConnectionType};
use crate::model::{Class, Vocabulary, fold, join_blanks, nearest_word};

/// The words that a column may hold.
#[derive(Clone, Copy, Debug)]
pub enum Words {
    Closed(Lexicon),
    /// Words known to be used, each with its other spellings; more may stand in the book and can
    /// be asked for in quotes.
    Listed(&'static [(&'static str, &'static [&'static str])]),
    /// Words of a catalogue that is data; a book may have adopted another one.
    Catalogued(Catalogued),
}

/// A catalogue of words, as the program ships it.
#[derive(Clone, Copy, Debug)]
pub struct Catalogued {
    /// The word for any of its spellings.
    read: fn(&str) -> Option<&'static str>,
    list: fn() -> Vec<&'static str>,
    /// A word that ends another one stands for all that end so: `crack` for `slip_crack`.
    broad: bool,
}

/// What the program ships.
fn findings() -> &'static Catalogue {
    static SHIPPED: LazyLock<Standards> = LazyLock::new(Standards::shipped);
    &SHIPPED.findings
}

const HARDBAND: &str = "hardband_";

fn hardband_states() -> Vec<&'static str> {
    let found = findings().all().iter().filter_map(|f| f.word.strip_prefix(HARDBAND));
    ["new", "sound"].into_iter().chain(found).collect()
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
    pub const GRADES: Self = Self::Listed(&[
        ("E75", &["e", "e_75"]),
        ("X95", &["x", "x_95"]),
        ("G105", &["g", "g_105"]),
        ("S135", &["s", "s_135"]),
    ]);
    /// Length ranges of API Spec 5DP.
    pub const RANGES: Self = Self::Listed(&[
        ("R1", &["1", "range_1"]),
        ("R2", &["2", "range_2"]),
        ("R3", &["3", "range_3"]),
    ]);

    /// Findings of the catalogue.
    pub(super) const FINDINGS: Self = Self::Catalogued(Catalogued {
        read: |text| findings().get(text).ok().map(|f| f.word.as_str()),
        list: || findings().all().iter().map(|f| f.word.as_str()).collect(),
        broad: true,
    });
    /// States of a hardband: what is found on it, or that it is new or sound.
    pub(super) const HARDBAND: Self = Self::Catalogued(Catalogued {
        read: |text| {
            let key = fold(text);
            let key = key.strip_prefix(HARDBAND).unwrap_or(&key);
            hardband_states().into_iter().find(|state| *state == key)
        },
        list: hardband_states,
        broad: false,
    });
    /// Rotary shouldered connections that the program has figures of.
    pub const CONNECTIONS: Self = Self::Catalogued(Catalogued {
        read: |text| text.parse::<ConnectionType>().ok().map(ConnectionType::name),
        list: || CATALOGUE.iter().map(|c| c.connection.name()).collect(),
        broad: false,
    });

    /// The spelling that is kept of a word as somebody wrote it; that one where it is strange.
    pub fn kept(self, text: &str) -> String {
        self.read(text).unwrap_or_else(|| join_blanks(text))
    }

    /// All words that a broader one stands for, itself among them; none for a word that is not one.
    pub fn broader(self, text: &str) -> Vec<&'static str> {
        let Self::Catalogued(Catalogued { list, broad: true, .. }) = self else {
            return Vec::new();
        };
        let key = fold(text);
        let end = format!("_{key}");
        let mut all = list();
        all.retain(|word| *word == key || word.ends_with(&end));
        if all.iter().any(|word| *word != key) { all } else { Vec::new() }
    }

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
            Self::Catalogued(c) => (c.read)(text).map(str::to_owned),
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
            Self::Catalogued(c) => (c.list)(),
        }
    }

    /// The known word closest to a strange one.
    pub fn nearest(self, text: &str) -> Option<String> {
        match self {
            Self::Closed(lexicon) => (lexicon.nearest)(text),
            Self::Listed(list) => nearest_word(text, list.iter().map(|(word, _)| *word)),
            Self::Catalogued(c) => nearest_word(text, (c.list)()),
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
        assert_eq!(Words::FINDINGS.read("Slip crack").as_deref(), Some("slip_crack"));
        assert_eq!(Words::FINDINGS.read("slip_crakc"), None);
        assert_eq!(Words::FINDINGS.nearest("slip_crakc").as_deref(), Some("slip_crack"));
        assert!(Words::FINDINGS.broader("crack").contains(&"slip_crack"));
        assert!(Words::FINDINGS.broader("slip crack").is_empty());
        assert_eq!(Words::HARDBAND.nearest("ruogh").as_deref(), Some("rough"));
        assert_eq!(Words::CONNECTIONS.read("nc 50").as_deref(), Some("NC50"));
        assert_eq!(Words::CONNECTIONS.kept("XX  YY"), "XX YY");
    }
}
