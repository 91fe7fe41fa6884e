//! The words that a column may hold.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use crate::condition::{Catalogue, Criterion, Disposition, Part, Standards, Wanted};
use crate::mechanics::connection::{CATALOGUE, ConnectionType};
use crate::mechanics::tube::Grade;
use crate::model::{
    Class, FailureKind, Method, ReadingKind, Scope, Vocabulary, fold, join_blanks, nearest_word,
};

/// The words that a column may hold.
#[derive(Clone, Copy, Debug)]
pub enum Words {
    Closed(Lexicon),
    /// Words of a standard or of a catalogue that is data. Makers have words of their own and a book
    /// may have adopted another catalogue: such a word is kept as it was typed.
    Catalogued(Catalogued),
}

/// A catalogue of words, as the program ships it.
#[derive(Clone, Copy, Debug)]
pub struct Catalogued {
    /// What one of its words is called.
    pub kind: &'static str,
    /// The words that a text means, in any of its spellings: several for a broad one, none for a
    /// strange one.
    meant: fn(&str) -> Vec<&'static str>,
    list: fn() -> Vec<&'static str>,
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

/// What the program ships.
fn findings() -> &'static Catalogue {
    static SHIPPED: LazyLock<Standards> = LazyLock::new(Standards::shipped);
    &SHIPPED.findings
}

/// How the words of findings on a hardband begin.
const HARDBAND: &str = "hardband_";
/// What decided where a person did.
pub const DECISION: &str = "decision";
/// Why a joint is out of service that a person gave the class of scrap.
pub const DECIDED_SCRAP: &str = "decided to be scrap";

fn hardband_states() -> Vec<&'static str> {
    let found = findings().all().iter().filter_map(|f| f.word.strip_prefix(HARDBAND));
    ["new", "sound"].into_iter().chain(found).collect()
}

fn all<V: Vocabulary>() -> impl Iterator<Item = &'static str> {
    V::ALL.iter().map(|v| v.word())
}

fn word_of<V: Vocabulary>(text: &str) -> Option<&'static str> {
    V::from_word(text).ok().map(V::word)
}

/// Each word once, in its place.
fn once(words: impl IntoIterator<Item = &'static str>) -> Vec<&'static str> {
    let mut seen = BTreeSet::new();
    words.into_iter().filter(|word| seen.insert(*word)).collect()
}

/// The words of a list that end as a text does: `crack` means `slip_crack` too.
fn ending(text: &str, list: Vec<&'static str>) -> Vec<&'static str> {
    let key = fold(text);
    let end = format!("_{key}");
    list.into_iter().filter(|word| *word == key || word.ends_with(&end)).collect()
}

fn finding_words() -> Vec<&'static str> {
    findings().all().iter().map(|f| f.word.as_str()).collect()
}

fn findings_meant(text: &str) -> Vec<&'static str> {
    let own = findings().get(text).ok().map(|f| f.word.as_str());
    once(own.into_iter().chain(ending(text, finding_words())))
}

/// What can decide a class: a criterion, a finding, what nobody read or looked for, a person.
fn criteria() -> Vec<&'static str> {
    let looked = all::<Scope>().chain(all::<Method>());
    let read = all::<Criterion>().chain(all::<ReadingKind>());
    once(read.chain(looked).chain(finding_words()).chain([DECISION]))
}

fn criteria_meant(text: &str) -> Vec<&'static str> {
    let words = [word_of::<Criterion>, word_of::<ReadingKind>, word_of::<Scope>, word_of::<Method>];
    let own = words.into_iter().filter_map(|read| read(text));
    let decision = (fold(text) == DECISION).then_some(DECISION);
    once(own.chain(findings_meant(text)).chain(decision))
}

/// What can put a joint out of service: what follows, with what decided, or how it failed.
fn reasons() -> Vec<&'static str> {
    let failed = all::<FailureKind>().chain(["decided_to_be_scrap"]);
    once(all::<Disposition>().chain(criteria()).chain(failed))
}

fn reasons_meant(text: &str) -> Vec<&'static str> {
    let own = [word_of::<Disposition>, word_of::<FailureKind>].into_iter().filter_map(|f| f(text));
    let scrap = (fold(text) == fold(DECIDED_SCRAP)).then_some("decided_to_be_scrap");
    once(own.chain(criteria_meant(text)).chain(scrap))
}

/// What can be missing for a verdict: a reading or a search, of any part or of one.
fn wants() -> Vec<&'static str> {
    static ALL: LazyLock<Vec<String>> = LazyLock::new(|| {
        let readings = ReadingKind::ALL.iter().map(|r| Wanted::Reading(*r));
        let scopes = Scope::ALL.iter().map(|s| Wanted::Scope(*s));
        let looks = Method::ALL.iter().map(|m| Wanted::Look(*m));
        let texts = readings.chain(scopes).chain(looks).map(|wanted| fold(&wanted.text()));
        let mut out: Vec<String> = texts.collect();
        for text in out.clone() {
            for part in Part::ALL {
                let named = text.starts_with(part.word());
                out.push(if named { text.clone() } else { format!("{part}_{text}") });
            }
        }
        out
    });
    once(ALL.iter().map(String::as_str))
}

impl Words {
    /// Grades of tube of API Spec 5DP.
    pub const GRADES: Self = Self::Catalogued(Catalogued {
        kind: "grade of API Spec 5DP",
        meant: |text| text.parse::<Grade>().map(Grade::name).into_iter().collect(),
        list: || Grade::ALL.iter().map(|g| g.name()).collect(),
    });
    /// Length ranges of API Spec 5DP.
    pub const RANGES: Self = Self::Catalogued(Catalogued {
        kind: "length range",
        meant: |text| match fold(text).as_str() {
            "r1" | "1" | "range_1" => vec!["R1"],
            "r2" | "2" | "range_2" => vec!["R2"],
            "r3" | "3" | "range_3" => vec!["R3"],
            _ => Vec::new(),
        },
        list: || vec!["R1", "R2", "R3"],
    });
    /// Findings of the catalogue.
    pub(super) const FINDINGS: Self = Self::Catalogued(Catalogued {
        kind: "finding",
        meant: findings_meant,
        list: finding_words,
    });
    /// States of a hardband: what is found on it, or that it is new or sound.
    pub(super) const HARDBAND: Self = Self::Catalogued(Catalogued {
        kind: "state of a hardband",
        meant: |text| {
            let key = fold(text);
            let key = key.strip_prefix(HARDBAND).unwrap_or(&key);
            let on_hardband = |text: &str| {
                let found = findings().get(text).ok();
                found.and_then(|f| f.word.strip_prefix(HARDBAND))
            };
            let plain = hardband_states().into_iter().find(|state| *state == key);
            let named = || on_hardband(&format!("{HARDBAND}{key}")).or_else(|| on_hardband(text));
            plain.or_else(named).into_iter().collect()
        },
        list: hardband_states,
    });
    /// Rotary shouldered connections that the program has figures of.
    pub const CONNECTIONS: Self = Self::Catalogued(Catalogued {
        kind: "rotary shouldered connection known here",
        meant: |text| {
            text.parse::<ConnectionType>().map(ConnectionType::name).into_iter().collect()
        },
        list: || CATALOGUE.iter().map(|c| c.connection.name()).collect(),
    });
    /// What decides a class.
    pub(super) const CRITERIA: Self =
        Self::Catalogued(Catalogued { kind: "criterion", meant: criteria_meant, list: criteria });
    /// What puts a joint out of service.
    pub(super) const REASONS: Self =
        Self::Catalogued(Catalogued { kind: "reason", meant: reasons_meant, list: reasons });
    /// What a verdict would have needed.
    pub(super) const WANTS: Self = Self::Catalogued(Catalogued {
        kind: "thing to measure",
        meant: |text| ending(text, wants()),
        list: wants,
    });

    /// The spelling that is kept of a word as somebody wrote it; that one where it is strange.
    pub fn kept(self, text: &str) -> String {
        self.read(text).unwrap_or_else(|| join_blanks(text))
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

    /// What one of these words is called.
    pub const fn kind(self) -> &'static str {
        match self {
            Self::Closed(lexicon) => lexicon.kind,
            Self::Catalogued(c) => c.kind,
        }
    }

    /// The words, as they stand in the book, that a text means in any of its spellings: several for a
    /// broad one, none for a strange one.
    pub fn meant(self, text: &str) -> Vec<&'static str> {
        match self {
            Self::Closed(lexicon) => (lexicon.read)(text).map(|r| r.0).into_iter().collect(),
            Self::Catalogued(c) => (c.meant)(text),
        }
    }

    /// The word as it stands in the book, from any of its spellings; `None` for a strange one.
    pub fn read(self, text: &str) -> Option<String> {
        self.meant(text).first().map(|word| (*word).to_owned())
    }

    /// Place of a word in the order of a closed vocabulary.
    pub fn rank(self, text: &str) -> Option<i64> {
        match self {
            Self::Closed(lexicon) => (lexicon.read)(text).map(|(_, rank)| rank),
            Self::Catalogued(_) => None,
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
            Self::Catalogued(c) => (c.list)(),
        }
    }

    /// The known word closest to a strange one.
    pub fn nearest(self, text: &str) -> Option<String> {
        match self {
            Self::Closed(lexicon) => (lexicon.nearest)(text),
            Self::Catalogued(c) => nearest_word(text, (c.list)()),
        }
    }
}

/// The words of a text that holds several, folded: those of a list, and of `shop: wear wall`.
pub fn each_word(text: &str) -> impl Iterator<Item = String> + '_ {
    text.split([',', ':', ';']).map(fold).filter(|word| !word.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_read_in_any_spelling() {
        assert_eq!(Words::of::<Class>().read("Class 2").as_deref(), Some("class_2"));
        for grade in ["g-105", "G 105", "grade G", "g"] {
            assert_eq!(Words::GRADES.read(grade).as_deref(), Some("G105"), "{grade}");
        }
        assert_eq!(Words::GRADES.kept("S 135"), "S135");
        assert_eq!(Words::GRADES.kept("Z-9"), "Z-9");
        assert_eq!(Words::GRADES.read("G106"), None);
        assert_eq!(Words::GRADES.nearest("G106").as_deref(), Some("G105"));
        assert_eq!(Words::RANGES.read("range 2").as_deref(), Some("R2"));
        assert_eq!(Words::of::<Scope>().bit("wall"), Some(1 << 2));
        assert_eq!(Words::FINDINGS.read("Slip crack").as_deref(), Some("slip_crack"));
        assert_eq!(Words::FINDINGS.read("slip_crakc"), None);
        assert_eq!(Words::FINDINGS.nearest("slip_crakc").as_deref(), Some("slip_crack"));
        assert!(Words::FINDINGS.meant("crack").contains(&"slip_crack"));
        assert_eq!(Words::FINDINGS.meant("slip crack"), ["slip_crack"]);
        assert_eq!(Words::HARDBAND.nearest("ruogh").as_deref(), Some("rough"));
        assert_eq!(Words::CONNECTIONS.read("nc 50").as_deref(), Some("NC50"));
        assert_eq!(Words::CONNECTIONS.kept("XX  YY"), "XX YY");
        assert!(Words::REASONS.meant("wear wall").contains(&"wear_wall"));
        assert!(Words::WANTS.meant("shoulder").contains(&"box_shoulder"));
        let each: Vec<String> = each_word("shop: wear wall, seal_share").collect();
        assert_eq!(each, ["shop", "wear_wall", "seal_share"]);
    }

    #[test]
    fn every_word_of_a_list_means_itself() {
        for words in [
            Words::GRADES,
            Words::RANGES,
            Words::CONNECTIONS,
            Words::FINDINGS,
            Words::HARDBAND,
            Words::CRITERIA,
            Words::REASONS,
            Words::WANTS,
        ] {
            for word in words.list() {
                assert!(words.meant(word).contains(&word), "{}: {word}", words.kind());
            }
        }
    }
}
