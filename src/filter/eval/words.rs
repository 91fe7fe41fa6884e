//! Texts, words, flags and sets of one joint's rows.

use crate::model::{name_key, same_name};
use crate::schema::Value;

use super::super::facts::cell;
use super::super::registry::{Absent, Kind, Stored};
use super::super::typed::{Pattern, Phrase, Pick, Read, Reference};
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
pub(super) fn like(text: &Said, pattern: &Pattern) -> Verdict {
    match text {
        Said::Unknown => Verdict::Unknown,
        Said::None => Verdict::False,
        Said::Text(text) => Verdict::of(pattern.fits(text)),
    }
}

impl Eval<'_> {
    pub(in super::super) fn phrase(&self, phrase: &Phrase, row: Option<Row<'_>>) -> Said {
        match phrase {
            Phrase::Known(text) => Said::Text(text.clone()),
            Phrase::None => Said::None,
            Phrase::Unknown => Said::Unknown,
            Phrase::Of(Reference::Read(read)) if read.past.is_some() => self.past(read, row),
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
            Reference::Read(read) => self.plain_of(read, row),
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
            match self.candidates(&pick.of, edges, pick.which) {
                None => out.push(None),
                Some(found) => {
                    out.extend(
                        found.iter().map(|m| {
                            Some(say(Row { record: pick.of.record, line: m.line, edges }))
                        }),
                    );
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

    /// A text of the joint in the past.
    fn past(&self, read: &Read, row: Option<Row<'_>>) -> Said {
        let Some((states, past)) = read.field.past.zip(read.past) else { return Said::Unknown };
        self.state(states, past, row).map_or(Said::Unknown, |l| {
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
            like(&Said::Text(text.to_owned()), &Pattern(pattern.to_owned())) == Verdict::True
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
