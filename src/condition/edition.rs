//! Editions: the sets by which a book judges, under one name, as texts. What ships with the program
//! is an edition; a book adopts one when it is founded, and keeps its text.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::LazyLock;

use crate::model::{SetKind, Vocabulary};

use super::catalogue::Catalogue;
use super::limits::LimitSet;
use super::methods::Capabilities;
use super::needs::Needs;
use super::repair::Works;
use super::table::TableError;

/// Sets under one name, as texts; some editions bring only some.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edition {
    name: Cow<'static, str>,
    text: Cow<'static, str>,
    sets: BTreeMap<SetKind, Cow<'static, str>>,
}

/// Why an edition cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum EditionError {
    /// It is no edition at all.
    #[error("it is no edition: {0}")]
    Format(String),
    /// One of its sets cannot be read.
    #[error("its {set} cannot be read: {}", .errors.first().map_or_else(String::new, ToString::to_string))]
    Set {
        set: SetKind,
        /// What is wrong with it.
        errors: Vec<TableError>,
    },
    /// A set is missing.
    #[error("it brings no {0}")]
    Lacks(SetKind),
}

/// An edition that shipped. Its sets are read when they are asked for; one that could not be read
/// would judge nothing, and so pass nothing. A test reads them.
pub(super) struct Shipped {
    name: &'static str,
    text: &'static str,
    sets: [(SetKind, &'static str); 7],
    pub limits: LazyLock<LimitSet>,
    pub findings: LazyLock<Catalogue>,
    pub capabilities: LazyLock<Capabilities>,
    pub needs: LazyLock<Needs>,
    pub works: LazyLock<Works>,
}

macro_rules! edition {
    ($name:literal, $folder:literal) => {
        edition!(
            $name,
            include_str!(concat!($folder, "/limits.csv")),
            include_str!(concat!($folder, "/findings.csv")),
            include_str!(concat!($folder, "/methods.csv")),
            include_str!(concat!($folder, "/needs.csv")),
            include_str!(concat!($folder, "/works.csv")),
            include_str!(concat!($folder, "/fatigue.toml")),
            include_str!(concat!($folder, "/rules.toml"))
        )
    };
    ($name:literal, $limits:expr, $findings:expr, $methods:expr, $needs:expr, $works:expr,
     $fatigue:expr, $rules:expr) => {
        Shipped {
            name: $name,
            // As `Edition::new` writes it.
            text: concat!(
                "name = \"",
                $name,
                "\"\n",
                "\nlimits = '''\n",
                $limits,
                "'''\n",
                "\nfindings = '''\n",
                $findings,
                "'''\n",
                "\nmethods = '''\n",
                $methods,
                "'''\n",
                "\nneeds = '''\n",
                $needs,
                "'''\n",
                "\nworks = '''\n",
                $works,
                "'''\n",
                "\nfatigue = '''\n",
                $fatigue,
                "'''\n",
                "\nrules = '''\n",
                $rules,
                "'''\n",
            ),
            sets: [
                (SetKind::Limits, $limits),
                (SetKind::Findings, $findings),
                (SetKind::Methods, $methods),
                (SetKind::Needs, $needs),
                (SetKind::Works, $works),
                (SetKind::Fatigue, $fatigue),
                (SetKind::Rules, $rules),
            ],
            limits: LazyLock::new(|| LimitSet::parse($limits).unwrap_or_default()),
            findings: LazyLock::new(|| Catalogue::parse($findings).unwrap_or_default()),
            capabilities: LazyLock::new(|| Capabilities::parse($methods).unwrap_or_default()),
            needs: LazyLock::new(|| Needs::parse($needs).unwrap_or_default()),
            works: LazyLock::new(|| Works::parse($works).unwrap_or_default()),
        }
    };
}

/// The edition that judges books which adopted none. Never changed.
pub(super) static FIRST: Shipped = edition!("pipelore edition 1", "editions/1");

/// Rules that call for work beside a hold, and for a cracked joint to be set aside.
static SECOND: Shipped = edition!(
    "pipelore edition 2",
    include_str!("editions/1/limits.csv"),
    include_str!("editions/1/findings.csv"),
    include_str!("editions/1/methods.csv"),
    include_str!("editions/1/needs.csv"),
    include_str!("editions/1/works.csv"),
    include_str!("editions/1/fatigue.toml"),
    include_str!("editions/2/rules.toml")
);

/// Curves that contain mean stress, without a rule for it on top.
static THIRD: Shipped = edition!(
    "pipelore edition 3",
    include_str!("editions/1/limits.csv"),
    include_str!("editions/1/findings.csv"),
    include_str!("editions/1/methods.csv"),
    include_str!("editions/1/needs.csv"),
    include_str!("editions/1/works.csv"),
    include_str!("editions/3/fatigue.toml"),
    include_str!("editions/2/rules.toml")
);

/// Every edition that ever shipped, oldest first; the last one ships. None is changed any more: what
/// is newer is told by the others.
static ALL: [&Shipped; 3] = [&FIRST, &SECOND, &THIRD];

static EDITIONS: LazyLock<Vec<Edition>> = LazyLock::new(|| {
    let of = |s: &&Shipped| Edition {
        name: s.name.into(),
        text: s.text.into(),
        sets: s.sets.iter().map(|(kind, text)| (*kind, (*text).into())).collect(),
    };
    ALL.iter().map(of).collect()
});

/// The edition that ships with this program.
pub(super) fn latest() -> &'static Shipped {
    ALL[ALL.len() - 1]
}

/// The edition that shipped with this text of a set.
pub(super) fn shipped_with(set: SetKind, text: &str) -> Option<&'static Shipped> {
    ALL.iter().find(|s| s.sets.contains(&(set, text))).copied()
}

impl Edition {
    /// Every edition that ever shipped, oldest first; the last one ships with this program.
    pub fn all() -> &'static [Self] {
        &EDITIONS
    }

    /// The edition that ships with this program.
    pub fn shipped() -> &'static Self {
        &EDITIONS[ALL.len() - 1]
    }

    /// The edition that judges books which adopted none.
    pub fn first() -> &'static Self {
        &EDITIONS[0]
    }

    /// Reads an edition: TOML with a `name`, and each set as a text under its word.
    pub fn parse(text: &str) -> Result<Self, EditionError> {
        if let Some(known) = EDITIONS.iter().find(|e| e.text == text) {
            return Ok(known.clone());
        }
        let mut all: BTreeMap<String, String> =
            toml::from_str(text).map_err(|e| EditionError::Format(e.to_string()))?;
        let name =
            all.remove("name").ok_or_else(|| EditionError::Format("it has no name".to_owned()))?;
        let sets = all
            .into_iter()
            .map(|(word, set)| match SetKind::ALL.iter().find(|k| k.word() == word) {
                Some(kind) => Ok((*kind, set.into())),
                None => Err(EditionError::Format(format!("'{word}' is no set of this version"))),
            })
            .collect::<Result<_, _>>()?;
        Ok(Self { name: name.into(), text: text.to_owned().into(), sets })
    }

    /// An edition of some sets.
    pub fn new(name: &str, sets: BTreeMap<SetKind, Cow<'static, str>>) -> Self {
        let quoted = |text: &str| toml::Value::from(text).to_string();
        let mut text = format!("name = {}\n", quoted(name));
        for (kind, set) in &sets {
            // A text that would end the literal is quoted.
            let value = if set.contains("'''") || set.ends_with('\'') {
                quoted(set)
            } else {
                format!("'''\n{set}'''")
            };
            text.push_str(&format!("\n{} = {value}\n", kind.word()));
        }
        Self { name: name.to_owned().into(), text: text.into(), sets }
    }

    /// The same edition with only some of its sets.
    #[must_use]
    pub fn only(&self, kinds: &[SetKind]) -> Self {
        let sets = self.sets.iter().filter(|(k, _)| kinds.contains(k));
        Self::new(&self.name, sets.map(|(k, set)| (*k, set.clone())).collect())
    }

    /// Its name: `pipelore edition 1`.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole as text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The text of a set; nothing where it brings none.
    pub fn set(&self, kind: SetKind) -> Option<&str> {
        self.sets.get(&kind).map(AsRef::as_ref)
    }

    /// The sets that it brings, as texts.
    pub fn sets(&self) -> impl Iterator<Item = (SetKind, &Cow<'static, str>)> {
        self.sets.iter().map(|(kind, text)| (*kind, text))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_set_of_an_edition_that_shipped_reads() {
        for s in ALL {
            for (kind, text) in s.sets {
                let errors = match kind {
                    SetKind::Limits => LimitSet::parse(text).err(),
                    SetKind::Findings => Catalogue::parse(text).err(),
                    SetKind::Methods => Capabilities::parse(text).err(),
                    SetKind::Needs => Needs::parse(text).err(),
                    SetKind::Works => Works::parse(text).err(),
                    SetKind::Fatigue | SetKind::Rules => None,
                };
                let lines: Vec<String> =
                    errors.into_iter().flatten().map(|e| e.to_string()).collect();
                assert!(lines.is_empty(), "{} {kind}:\n{}", s.name, lines.join("\n"));
            }
        }
    }

    #[test]
    fn an_edition_reads_back_as_it_was_written() {
        for edition in Edition::all() {
            let all = Edition::new(edition.name(), edition.sets.clone());
            assert_eq!(all, *edition);
            assert_eq!(all.sets.keys().copied().collect::<Vec<_>>(), SetKind::ALL);
            let part = edition.only(&[SetKind::Needs, SetKind::Works]);
            assert_eq!(Edition::parse(part.text()).unwrap(), part);
            assert_eq!(
                part.sets.keys().copied().collect::<Vec<_>>(),
                [SetKind::Needs, SetKind::Works]
            );
            assert_eq!(part.set(SetKind::Works), edition.set(SetKind::Works));
        }
        for odd in ["'''", "a\\b\n", "\n\nends with a quote '", ""] {
            let sets = BTreeMap::from([(SetKind::Rules, odd.into())]);
            let edition = Edition::new("a \"name\"", sets);
            assert_eq!(Edition::parse(edition.text()).unwrap(), edition);
        }
    }

    #[test]
    fn what_is_no_edition_is_said_so() {
        let error = |text: &str| Edition::parse(text).unwrap_err().to_string();
        assert_eq!(error("limits = ''"), "it is no edition: it has no name");
        assert_eq!(
            error("name = 'x'\nlimit = ''"),
            "it is no edition: 'limit' is no set of this version"
        );
    }
}
