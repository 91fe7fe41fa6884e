//! Texts, words, flags and sets of one joint's rows.

use crate::schema::Value;

use super::super::facts::{cell, int};
use super::super::registry::{Absent, Kind, Past, Stored, Table};
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
        (a, b) => Verdict::of(a == b),
    }
}

/// Whether a text is of a pattern. Letters of ASCII are alike in capitals.
pub(super) fn like(text: &Said, pattern: &str) -> Verdict {
    match text {
        Said::Unknown => Verdict::Unknown,
        Said::None => Verdict::False,
        Said::Text(text) => {
            let lower = |s: &str| s.chars().map(|c| c.to_ascii_lowercase()).collect::<Vec<char>>();
            Verdict::of(matches(&lower(pattern), &lower(text)))
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
            Phrase::Of(Reference::Read(read)) if read.past.is_some() => self.past(read),
            Phrase::Of(Reference::Read(read)) => self.text(read, row),
            Phrase::Of(Reference::Pick(pick)) => {
                self.agreed(pick, &|row| self.text(&pick.read, Some(row))).unwrap_or(Said::Unknown)
            }
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
            Reference::Pick(pick) => {
                self.agreed(pick, &|row| self.plain(pick.read.field, Some(row))).flatten()
            }
        }
    }

    /// What all records that may be the one picked say alike.
    fn agreed<T: PartialEq>(&self, pick: &Pick, say: &dyn Fn(Row<'_>) -> T) -> Option<T> {
        let edges = self.edges(&pick.of.window);
        let found = self.candidates(&pick.of, &edges, pick.latest)?;
        let mut all = found.iter().map(|m| say(Row { line: m.line, edges: &edges }));
        let first = all.next()?;
        all.all(|other| other == first).then_some(first)
    }

    pub(super) fn place_is_unknown(&self, place: &Reference, row: Option<Row<'_>>) -> bool {
        match place.field().kind {
            Kind::Flag | Kind::Set(_) => self.bits(place, row).is_none(),
            _ => self.phrase(&Phrase::Of(place.clone()), row) == Said::Unknown,
        }
    }

    /// The value of a joint's field at the end of a day.
    fn past(&self, read: &Read) -> Said {
        let before = read.past.unwrap_or(i64::MAX);
        if int(self.facts.joint("entered")).is_none_or(|entered| entered >= before) {
            return Said::Unknown;
        }
        // The latest row of a table before the day is over: its instant, turn and a column.
        let latest = |table: Table, column: &'static str, counts: &dyn Fn(&super::Line) -> bool| {
            self.facts
                .lines(table)
                .iter()
                .filter(|l| counts(l))
                .filter_map(|l| {
                    let at = int(cell(table, l, "date")).filter(|at| *at < before)?;
                    Some((at, int(cell(table, l, "turn"))?, cell(table, l, column)))
                })
                .max_by_key(|(at, turn, _)| (*at, *turn))
        };
        let unknown = Absent::Unknown;
        match read.field.past {
            Some(Past::Class(column)) => {
                let inspected = latest(Table::Inspection, column, &|_| true);
                let ruled = (column == "class")
                    .then(|| {
                        latest(Table::Decision, "class", &|l| {
                            *cell(Table::Decision, l, "ruling") == Value::Text("class".to_owned())
                        })
                    })
                    .flatten();
                // A ruling on the same instant comes after what was seen.
                match (inspected, ruled) {
                    (Some(i), Some(r)) => said(if r.0 >= i.0 { r.2 } else { i.2 }, unknown),
                    (Some(one), None) | (None, Some(one)) => said(one.2, unknown),
                    (None, None) => Said::Unknown,
                }
            }
            Some(Past::Custody("string")) => {
                let (string, known) = match latest(Table::Move, "string", &|_| true) {
                    Some((_, _, string)) => {
                        (string, latest(Table::Move, "in_string", &|_| true).map(|l| l.2))
                    }
                    None if self.facts.lines(Table::Move).is_empty() => {
                        (self.facts.joint("string"), Some(self.facts.joint("in_string")))
                    }
                    None => return Said::Unknown,
                };
                let known = known.is_some_and(|known| *known != Value::Null);
                said(string, if known { Absent::None } else { unknown })
            }
            Some(Past::Custody(_)) => match latest(Table::Move, "location", &|_| true) {
                Some((moved, _, location)) => {
                    let between = |at: Option<i64>| at.is_some_and(|at| at >= moved && at < before);
                    let hired = self.facts.lines(Table::Hire).iter().any(|h| {
                        let at = |c| int(cell(Table::Hire, h, c));
                        between(at("date")) || between(at("back"))
                    });
                    if hired { Said::Unknown } else { said(location, unknown) }
                }
                None if *self.facts.joint("moved") == Value::Null => {
                    said(self.facts.joint("location"), unknown)
                }
                None => Said::Unknown,
            },
            None => Said::Unknown,
        }
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
        assert!(is("é?", "é🙂"));
    }
}
