//! Texts, words, flags and sets of one joint's rows.

use crate::model::{name_key, same_name};
use crate::schema::Value;

use super::super::facts::{cell, int};
use super::super::registry::{Absent, Kind, Stored};
use super::super::typed::{Phrase, Pick, Read, Reference};
use super::{Eval, Row, Verdict};

/// What a text says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in super::super) enum Said {
    Text(String),
    /// There is none, and that is known.
    None,
    Unknown,
}

pub(super) fn equal(a: &Said, b: &Said) -> Verdict {
    match (a, b) {
        (Said::Unknown, _) | (_, Said::Unknown) => Verdict::Unknown,
        // A word has one spelling; names compare whatever their case and blanks.
        (Said::Text(a), Said::Text(b)) => Verdict::of(same_name(a, b)),
        (a, b) => Verdict::of(a == b),
    }
}

/// Whether a text of several words or names holds the one that is asked for, or is all those that are.
pub(super) fn holds(text: &Said, asked: &Said) -> Verdict {
    let (Said::Text(text), Said::Text(asked)) = (text, asked) else { return equal(text, asked) };
    let stand: Vec<String> =
        text.split([',', ':']).map(|w| name_key(&w.replace('_', " "))).collect();
    let each: Vec<String> = asked.split(',').map(|w| name_key(&w.replace('_', " "))).collect();
    let all = each.iter().all(|word| stand.contains(word));
    Verdict::of(all && (each.len() == 1 || each.len() == stand.len()))
}

/// Whether a text is of a pattern, whatever its case and blanks.
pub(super) fn like(text: &Said, pattern: &str) -> Verdict {
    match text {
        Said::Unknown => Verdict::Unknown,
        Said::None => Verdict::False,
        Said::Text(text) => {
            let signs = |s: &str| name_key(s).chars().collect::<Vec<char>>();
            Verdict::of(matches(&signs(pattern), &signs(text)))
        }
    }
}

/// `*` stands for any characters, `?` for one. Steps back to the last star only.
fn matches(pattern: &[char], text: &[char]) -> bool {
    let (mut p, mut t) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while t < text.len() {
        match pattern.get(p) {
            Some('*') => {
                star = Some((p, t));
                p += 1;
            }
            Some('?') => {
                p += 1;
                t += 1;
            }
            Some(c) if *c == text[t] => {
                p += 1;
                t += 1;
            }
            _ => match star {
                Some((at, from)) => {
                    star = Some((at, from + 1));
                    p = at + 1;
                    t = from + 1;
                }
                None => return false,
            },
        }
    }
    pattern[p..].iter().all(|c| *c == '*')
}

impl Eval<'_> {
    pub(in super::super) fn phrase(&self, phrase: &Phrase, row: Option<Row<'_>>) -> Said {
        match phrase {
            Phrase::Known(text) => Said::Text(text.clone()),
            Phrase::None => Said::None,
            Phrase::Unknown => Said::Unknown,
            Phrase::Of(Reference::Read(read)) if read.past.is_some() => self.past(read),
            Phrase::Of(Reference::Read(read)) => self.text(read, row),
            Phrase::Of(Reference::Pick(_)) => match self.phrases(phrase, row).as_slice() {
                [first, rest @ ..] if rest.iter().all(|other| other == first) => first.clone(),
                _ => Said::Unknown,
            },
        }
    }

    /// What a text may be: for a picked one, what each record says that may be the one.
    pub(super) fn phrases(&self, phrase: &Phrase, row: Option<Row<'_>>) -> Vec<Said> {
        match phrase {
            Phrase::Of(Reference::Pick(pick)) => self
                .each_pick(pick, &|row| self.text(&pick.read, Some(row)))
                .into_iter()
                .map(|said| said.unwrap_or(Said::Unknown))
                .collect(),
            _ => vec![self.phrase(phrase, row)],
        }
    }

    fn text(&self, read: &Read, row: Option<Row<'_>>) -> Said {
        let Stored::Column(c) = read.field.stored else { return Said::Unknown };
        let absent = match read.field.absent {
            Absent::NoneIf(flag) if *self.column(c.table, flag, row) == Value::Null => {
                Absent::Unknown
            }
            absent => absent,
        };
        said(self.column(c.table, c.name, row), absent)
    }

    /// A flag as 1 or 0, a set as its bits.
    pub(in super::super) fn bits(&self, place: &Reference, row: Option<Row<'_>>) -> Option<i64> {
        match place {
            Reference::Read(read) => {
                self.plain(read.field, row.filter(|_| read.field.record.is_some()))
            }
            Reference::Pick(_) => {
                let all = self.all_bits(place, row);
                let first = all.first().copied()?;
                first.filter(|_| all.iter().all(|other| *other == first))
            }
        }
    }

    /// What a flag or set may be: for a picked one, what each record says that may be the one.
    pub(super) fn all_bits(&self, place: &Reference, row: Option<Row<'_>>) -> Vec<Option<i64>> {
        match place {
            Reference::Read(_) => vec![self.bits(place, row)],
            Reference::Pick(pick) => self
                .each_pick(pick, &|row| self.plain(pick.read.field, Some(row)))
                .into_iter()
                .map(Option::flatten)
                .collect(),
        }
    }

    /// What each record says that may be the one picked, wherever the window may begin; `None` where
    /// one that nobody saw may be it.
    pub(super) fn each_pick<T>(&self, pick: &Pick, say: &dyn Fn(Row<'_>) -> T) -> Vec<Option<T>> {
        let mut out = Vec::new();
        for edges in &self.beginnings(&pick.of.window) {
            match self.candidates(&pick.of, edges, pick.latest) {
                None => out.push(None),
                Some(found) => {
                    out.extend(found.iter().map(|m| Some(say(Row { line: m.line, edges }))));
                }
            }
        }
        out
    }

    pub(super) fn place_is_unknown(&self, place: &Reference, row: Option<Row<'_>>) -> bool {
        match place.field().kind {
            Kind::Flag | Kind::Set(_) => self.bits(place, row).is_none(),
            _ => self.phrase(&Phrase::Of(place.clone()), row) == Said::Unknown,
        }
    }

    /// The value of a joint's field at the end of a day: that of the state in force, as the book is
    /// seen from that day.
    fn past(&self, read: &Read) -> Said {
        let before = read.past.unwrap_or(i64::MAX);
        let Some(states) = read.field.past else { return Said::Unknown };
        let at = |l: &super::Line| int(cell(states, l, "at")).filter(|at| *at < before);
        let in_force =
            self.facts.lines(states).iter().filter(|l| at(l).is_some()).max_by_key(|l| at(l));
        in_force.map_or(Said::Unknown, |l| {
            let absent = match read.field.absent {
                Absent::NoneIf(flag) if *cell(states, l, flag) == Value::Null => Absent::Unknown,
                absent => absent,
            };
            said(cell(states, l, read.field.name), absent)
        })
    }
}

fn said(cell: &Value, absent: Absent) -> Said {
    match (cell, absent) {
        (Value::Text(text), _) => Said::Text(text.clone()),
        (_, Absent::None | Absent::NoneIf(_)) => Said::None,
        (_, Absent::Unknown) => Said::Unknown,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_match_as_people_expect() {
        let is = |pattern: &str, text: &str| {
            like(&Said::Text(text.to_owned()), pattern) == Verdict::True
        };
        assert!(is("K1-*", "k1-0417"));
        assert!(is("*04?7", "K1-0417"));
        assert!(is("*", ""));
        assert!(is("a*b*c", "aXbXbXc"));
        assert!(!is("K1-*", "K2-0417"));
        assert!(!is("?", ""));
        assert!(!is("a*b*c", "aXbX"));
        assert!(is("é?", "É🙂"));
        assert!(is("rig  *", "RIG 9"));
    }
}
