//! The findings catalogue: what can be seen on a joint, in the trade's words, with what to measure,
//! what follows, who may act, and where that comes from.

use std::collections::HashMap;

use crate::model::{
    End, Place, Provenance, ReadingKind, Scope, Vocabulary, Work, fold, vocabulary,
};

use super::caution::Caution;
use super::criterion::Criterion;
use super::restriction::Restriction;
use super::table::{Row, Table, TableError, TableProblem};
use super::words::{Blocks, Disposition, Part, Person, on_an_end};

vocabulary!(
    /// What the size of a finding is.
    SizeKind, "kind of size", {
        /// Depth of a pit, cut or scratch.
        Depth = "depth" [],
        /// A diameter across it.
        Diameter = "diameter" ["od_across"],
        /// The wall that is left there.
        WallLeft = "wall_left" [],
        Width = "width" [],
        Height = "height" [],
        Length = "length" [],
        Gap = "gap" [],
        Growth = "growth" [],
    }
);

vocabulary!(
    /// What the share of a finding is a share of.
    ShareKind, "kind of share", {
        /// Of the width of the seal.
        SealWidth = "seal_width" [],
        Area = "area" [],
        Turn = "turn" [],
    }
);

/// One entry of the catalogue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// The word under which it is recorded.
    pub word: String,
    /// What it is called in print.
    pub name: String,
    /// Other words for it, folded.
    pub aliases: Vec<String>,
    /// Group of the catalogue, for lists.
    pub area: String,
    /// Where it is found.
    pub places: Vec<Place>,
    /// The part it belongs to: the tube, the joint, or an end (as `ends` says).
    pub on: On,
    /// Ends on which it is found.
    pub ends: Vec<End>,
    /// What to measure, in words.
    pub measure: String,
    /// What its size is; `None` when a size says nothing.
    pub size: Option<SizeKind>,
    /// What its share is; `None` when a share says nothing.
    pub share: Option<ShareKind>,
    /// Criteria that judge it.
    pub judged_by: Vec<Criterion>,
    /// What follows when no limit is broken, or none is known.
    pub within: Disposition,
    /// What follows when a limit that holds in every class is broken; the class decides when
    /// absent.
    pub beyond: Option<Disposition>,
    /// What follows when its size is wanted and not given.
    pub unmeasured: Option<Disposition>,
    /// What it stops, unless it is within its limit.
    pub blocks: Blocks,
    /// Work that can make it good.
    pub cleared_by: Vec<Work>,
    pub who: Vec<Person>,
    /// Readings that must be there as well; each item is a choice.
    pub needs: Vec<Vec<ReadingKind>>,
    /// Scopes that must have been inspected as well; each item is a choice.
    pub follow_up: Vec<Vec<Scope>>,
    /// Scopes in which it is found.
    pub seen_by: Vec<Scope>,
    pub caution: Option<Caution>,
    /// Restriction that the joint then carries.
    pub restriction: Option<Restriction>,
    /// The word that the same word means at another place.
    pub elsewhere: Vec<(Place, String)>,
    /// Where it was read, or what it rests on.
    pub source: String,
    /// What stands behind it.
    pub provenance: Provenance,
    pub note: String,
}

/// To what part of a joint a finding belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum On {
    Tube,
    End,
    /// The joint as a whole.
    Joint,
}

impl Finding {
    /// Parts that this finding touches: the end that is named, or every end on which it is found
    /// where none is, or one on which there is no such thing (a swollen pin is a box).
    pub fn parts(&self, end: Option<End>) -> Vec<Part> {
        match self.on {
            On::Tube => vec![Part::Tube],
            On::Joint => vec![Part::Joint],
            On::End => match end {
                Some(e) if self.ends.contains(&e) => vec![Part::from(e)],
                _ => self.ends.iter().map(|e| Part::from(*e)).collect(),
            },
        }
    }

    /// Whether this is a crack, hole or washout.
    pub fn is_crack(&self) -> bool {
        self.judged_by.iter().any(|c| {
            matches!(
                c,
                Criterion::CrackExternal
                    | Criterion::CrackInternal
                    | Criterion::CrackConnection
                    | Criterion::HeatCheck
                    | Criterion::Washout
            )
        })
    }
}

/// A word that the catalogue does not know.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{word}' is not a finding of the catalogue{}", choices(nearest))]
pub struct UnknownFinding {
    pub word: String,
    /// Words of the catalogue that look like it, best first.
    pub nearest: Vec<String>,
}

fn choices(nearest: &[String]) -> String {
    if nearest.is_empty() {
        String::new()
    } else {
        format!("; did you mean {}?", nearest.join(" or "))
    }
}

#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Catalogue {
    entries: Vec<Finding>,
    by_word: HashMap<String, usize>,
    by_sound: HashMap<String, Option<usize>>,
}

/// A word without what people vary: order of its parts, plural, American spelling.
fn sound(word: &str) -> String {
    let folded = fold(word);
    let mut parts: Vec<&str> = folded
        .split('_')
        .filter(|p| !matches!(*p, "the" | "of" | "a" | "in" | "on" | "at" | "and"))
        .map(|p| match p {
            "center" => "centre",
            p if p.len() > 3 && !p.ends_with("ss") => p.trim_end_matches('s'),
            p => p,
        })
        .collect();
    parts.sort_unstable();
    parts.concat()
}

const COLUMNS: [&str; 26] = [
    "word",
    "name",
    "aliases",
    "area",
    "places",
    "part",
    "ends",
    "measure",
    "size",
    "share",
    "judged_by",
    "within",
    "beyond",
    "unmeasured",
    "blocks",
    "cleared_by",
    "who",
    "needs",
    "follow_up",
    "seen_by",
    "caution",
    "restriction",
    "elsewhere",
    "source",
    "provenance",
    "note",
];

impl Catalogue {
    /// Reads a catalogue; every error with its line and column.
    pub fn parse(text: &str) -> Result<Self, Vec<TableError>> {
        let mut table = Table::read(text, &COLUMNS, &[]);
        let entries = table.each(read_finding);
        let mut errors = table.errors;
        let mut seen: HashMap<&str, &str> = HashMap::new();
        for f in &entries {
            for word in std::iter::once(&f.word).chain(&f.aliases) {
                if let Some(other) = seen.insert(word, &f.word) {
                    errors.push(TableError {
                        line: 1,
                        column: Some("aliases".to_owned()),
                        problem: TableProblem::Not {
                            found: word.clone(),
                            wanted: format!("stands for both {other} and {}", f.word),
                        },
                    });
                }
            }
        }
        for f in &entries {
            for (_, other) in &f.elsewhere {
                if !entries.iter().any(|e| e.word == *other) {
                    errors.push(TableError {
                        line: 1,
                        column: Some("elsewhere".to_owned()),
                        problem: TableProblem::Not {
                            found: other.clone(),
                            wanted: format!("is no word of the catalogue; {} names it", f.word),
                        },
                    });
                }
            }
        }
        if errors.is_empty() { Ok(Self::index(entries)) } else { Err(errors) }
    }

    fn index(entries: Vec<Finding>) -> Self {
        let (mut by_word, mut by_sound) = (HashMap::new(), HashMap::new());
        for (at, f) in entries.iter().enumerate() {
            for word in std::iter::once(&f.word).chain(&f.aliases) {
                by_word.insert(word.clone(), at);
                by_sound
                    .entry(sound(word))
                    .and_modify(|known: &mut Option<usize>| {
                        if *known != Some(at) {
                            *known = None; // two meanings: no guess
                        }
                    })
                    .or_insert(Some(at));
            }
        }
        Self { entries, by_word, by_sound }
    }

    /// Every entry, in the order of the catalogue.
    pub fn all(&self) -> &[Finding] {
        &self.entries
    }

    /// The entry for a word in any of its spellings. A strange word gets the nearest words, never
    /// a guess.
    pub fn get(&self, word: &str) -> Result<&Finding, UnknownFinding> {
        self.position(word).and_then(|at| self.entries.get(at)).ok_or_else(|| UnknownFinding {
            word: word.trim().to_owned(),
            nearest: self.nearest(word),
        })
    }

    fn position(&self, word: &str) -> Option<usize> {
        self.by_word
            .get(&fold(word))
            .copied()
            .or_else(|| self.by_sound.get(&sound(word)).copied().flatten())
            .or_else(|| {
                let joined = fold(word).replace('_', "");
                let mut same = self.by_word.iter().filter(|(w, _)| w.replace('_', "") == joined);
                let (_, first) = same.next()?;
                same.all(|(_, at)| at == first).then_some(*first)
            })
    }

    /// The entry for a word at a place: "crack" in the threads is a root crack, and "cut" in the
    /// slip area a slip cut.
    pub fn at(
        &self,
        word: &str,
        place: Option<Place>,
        end: Option<End>,
    ) -> Result<&Finding, UnknownFinding> {
        let entry = self.get(word)?;
        let place = match place {
            // An end without a place speaks of its threads, for a word that is at home on the
            // tube.
            None if end.is_some() && entry.on == On::Tube => Some(Place::Threads),
            other => other,
        };
        let other = place
            .filter(|p| !entry.places.contains(p))
            .and_then(|p| entry.elsewhere.iter().find(|(q, _)| *q == p))
            .map(|(_, w)| w);
        match other {
            Some(w) => self.get(w),
            None => Ok(entry),
        }
    }

    fn nearest(&self, word: &str) -> Vec<String> {
        let key = fold(word);
        let mut scored: Vec<(f64, usize)> = self
            .by_word
            .iter()
            .map(|(w, at)| (strsim::jaro_winkler(w, &key), *at))
            .filter(|(score, _)| *score > 0.82)
            .collect();
        scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let best = scored.first().map_or(0.0, |(score, _)| *score);
        let mut out: Vec<String> = Vec::new();
        for (_, at) in scored.iter().take_while(|(score, _)| *score > best - 0.06) {
            if let Some(f) = self.entries.get(*at)
                && !out.contains(&f.word)
                && out.len() < 3
            {
                out.push(f.word.clone());
            }
        }
        out
    }
}

fn read_finding(row: &Row<'_>, errors: &mut Vec<TableError>) -> Option<Finding> {
    let not = |column: &str, found: &str, wanted: &str| {
        row.error(column, TableProblem::Not { found: found.to_owned(), wanted: wanted.to_owned() })
    };
    let before = errors.len();
    let folded = |column: &str, word: &str, errors: &mut Vec<TableError>| {
        if fold(word) != word {
            errors.push(not(column, word, "is not folded: lower case and underscores"));
        }
        word.to_owned()
    };
    let word = folded("word", row.text("word"), errors);
    if word.is_empty() {
        errors.push(row.error("word", TableProblem::Empty("every finding has a word")));
    }
    let aliases: Vec<String> = row.list("aliases").map(|a| folded("aliases", a, errors)).collect();
    let on = match row.text("part") {
        "tube" => Some(On::Tube),
        "end" => Some(On::End),
        "joint" => Some(On::Joint),
        other => {
            errors.push(not("part", other, "is neither tube, end nor joint"));
            None
        }
    };
    let places: Vec<Place> = row.words("places", errors);
    let ends: Vec<End> = row.words("ends", errors);
    if places.is_empty() {
        errors.push(row.error("places", TableProblem::Empty("say where it is found")));
    }
    if on == Some(On::End) && (ends.is_empty() || !places.iter().copied().any(on_an_end)) {
        errors.push(
            row.error("ends", TableProblem::Empty("say on which ends, at a place of an end")),
        );
    }
    let who: Vec<Person> = row.words("who", errors);
    if who.is_empty() {
        errors.push(row.error("who", TableProblem::Empty("say who may act")));
    }
    let size = optional(row, "size", errors);
    let share = optional(row, "share", errors);
    let beyond = optional(row, "beyond", errors);
    let unmeasured = optional(row, "unmeasured", errors);
    let caution = optional(row, "caution", errors);
    let restriction = optional(row, "restriction", errors);
    let elsewhere = row
        .list("elsewhere")
        .filter_map(|item| {
            let Some((place, other)) = item.split_once('=') else {
                errors.push(not("elsewhere", item, "is not place=word"));
                return None;
            };
            match Place::from_word(place) {
                Ok(p) => Some((p, other.trim().to_owned())),
                Err(e) => {
                    errors.push(row.error("elsewhere", e));
                    None
                }
            }
        })
        .collect();
    let needs = choices_of(row, "needs", errors);
    let follow_up = choices_of(row, "follow_up", errors);
    let judged_by = row.words("judged_by", errors);
    let cleared_by = row.words("cleared_by", errors);
    let seen_by = row.words("seen_by", errors);
    let within = row.word("within", errors);
    let blocks = row.word("blocks", errors);
    let provenance = row.word("provenance", errors);
    let name = row.need("name", "say what it is called", errors);
    let area = row.need("area", "say to which group it belongs", errors);
    let measure = row.need("measure", "say what to measure", errors);
    let source = row.need("source", "say where this is from", errors);
    if errors.len() > before {
        return None;
    }
    Some(Finding {
        word,
        name: name?,
        aliases,
        area: area?,
        places,
        on: on?,
        ends,
        measure: measure?,
        size,
        share,
        judged_by,
        within: within?,
        beyond,
        unmeasured,
        blocks: blocks?,
        cleared_by,
        who,
        needs,
        follow_up,
        seen_by,
        caution,
        restriction,
        elsewhere,
        source: source?,
        provenance: provenance?,
        note: row.text("note").to_owned(),
    })
}

fn optional<V: Vocabulary>(row: &Row<'_>, column: &str, errors: &mut Vec<TableError>) -> Option<V> {
    if row.text(column).is_empty() { None } else { row.word(column, errors) }
}

/// Items apart by semicolons, each a choice of words apart by bars.
fn choices_of<V: Vocabulary>(
    row: &Row<'_>,
    column: &str,
    errors: &mut Vec<TableError>,
) -> Vec<Vec<V>> {
    row.list(column)
        .map(|item| {
            item.split('|')
                .filter_map(|word| {
                    V::from_word(word).map_err(|e| errors.push(row.error(column, e))).ok()
                })
                .collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::condition::edition::FIRST;

    fn shipped() -> &'static Catalogue {
        &FIRST.findings
    }

    fn word(text: &str) -> String {
        shipped().get(text).map_or_else(|e| e.to_string(), |f| f.word.clone())
    }

    #[test]
    fn spelling_is_forgiven_and_meaning_never_guessed() {
        for (text, found) in [
            ("Galled", "galled"),
            ("galled threads", "galled"),
            ("lapped", "torn_threads"),
            ("stretched pin", "stretched_pin"),
            ("pin, stretched", "stretched_pin"),
            ("swelled box", "swollen_box"),
            ("Rough hard-band", "hardband_rough"),
            ("ROUGH HARDBAND", "hardband_rough"),
            ("center upset worn", "centre_upset_worn"),
            ("die cuts", "slip_cut"),
            ("flat slip area", "crushed"),
            ("cut, longitudinal", "cut_longitudinal"),
            ("galed", "'galed' is not a finding of the catalogue; did you mean galled"),
            ("zzz", "'zzz' is not a finding of the catalogue"),
        ] {
            let got = word(text);
            assert!(got.starts_with(found), "{text}: {got}");
        }
    }

    #[test]
    fn a_word_means_what_its_place_makes_of_it() {
        let c = shipped();
        for (text, place, end, found) in [
            ("crack", None, None, "crack"),
            ("crack", Some(Place::SlipArea), None, "slip_crack"),
            ("crack", Some(Place::Threads), Some(End::Pin), "root_crack"),
            ("crack", None, Some(End::Box), "root_crack"),
            ("crack", Some(Place::ToolJoint), None, "box_crack"),
            ("cut", Some(Place::SlipArea), None, "slip_cut"),
            ("pits", Some(Place::Bore), None, "internal_pitting"),
            ("galled", Some(Place::Shoulder), Some(End::Box), "shoulder_galled"),
            ("washed", Some(Place::Shoulder), None, "shoulder_washed"),
            ("washed", Some(Place::Body), None, "washout"),
            ("worn", Some(Place::Hardband), None, "hardband_worn"),
            ("stretched", None, Some(End::Pin), "stretched_pin"),
        ] {
            assert_eq!(c.at(text, place, end).unwrap().word, found, "{text} {place:?}");
        }
    }

    #[test]
    fn errors_of_a_catalogue_of_ones_own_are_located() {
        let text = format!(
            "{}\ndent,Dent,,body,bodyy,tube,,size,depht,,,run,,,nothing,,,,,,,,,src,hearsay,\n",
            COLUMNS.join(",")
        );
        let said: Vec<String> =
            Catalogue::parse(&text).unwrap_err().iter().map(ToString::to_string).collect();
        assert_eq!(
            said,
            [
                "line 2, column places: 'bodyy' is not a place on the joint; did you mean body?",
                "line 2, column places: empty; say where it is found",
                "line 2, column who: empty; say who may act",
                "line 2, column size: 'depht' is not a kind of size; did you mean depth?",
                "line 2, column provenance: 'hearsay' is not a provenance; known: published, \
                 memory, common_practice, computed",
            ]
        );
    }
}
