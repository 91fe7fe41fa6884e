//! Texts, words, flags and sets in SQL.

use crate::model::{join_blanks, name_key};
use crate::schema::Value;

use super::super::registry::{Absent, Field, Kind, Record, Stored, Table, Words};
use super::super::sql::{Cond, Part, Sql, named, sql};
use super::super::typed::{Past, Pattern, Phrase, Read, Reference};
use super::window::of_joint;
use super::{Lower, Scope, Truth};

/// What stands for "there is none" where NULL means "nobody knows": no text equals these bytes.
const NONE: &str = "x'00'";

/// How what a field holds compares. Words of a vocabulary have one spelling; a strange one is kept as
/// it was typed.
fn alike(field: &Field, list: &[Phrase]) -> &'static str {
    let listed = |words: Words, phrase: &Phrase| match phrase {
        Phrase::Known(word) => words.list().contains(&word.as_str()),
        Phrase::None | Phrase::Unknown => true,
        Phrase::Of(_) => false,
    };
    match field.kind {
        Kind::Text => named(list),
        Kind::Word(words @ Words::Catalogued(_)) if !list.iter().all(|p| listed(words, p)) => {
            named(list)
        }
        _ => "",
    }
}

/// A text that holds several words or names, with a comma before and behind each.
fn listed(field: &Field, text: &Sql) -> Sql {
    match field.kind {
        Kind::Text => sql!["(',' || replace(name_key(", text, "), ', ', ',') || ',')"],
        _ => sql![
            "(',' || lower(replace(replace(replace(",
            text,
            ", ': ', ','), ', ', ','), '_', ' ')) || ',')",
        ],
    }
}

/// What must stand in such a text for each that is asked for, and how long it is.
fn items(field: &Field, asked: &str) -> Vec<(Value, usize)> {
    let item = |part: &str| match field.kind {
        Kind::Text => name_key(part),
        _ => part.replace('_', " "),
    };
    let marked = asked.split(',').map(|part| format!(",{},", item(part)));
    marked.map(|text| (Value::Text(text.clone()), text.chars().count())).collect()
}

/// Whether a text that holds several holds the one that is asked for, or is all those that are, and
/// whether not.
fn holds(field: &Field, (text, null): &(Sql, Null), asked: &str) -> (Sql, Sql) {
    let all = listed(field, text);
    let items = items(field, asked);
    // With each of them in it, and as long as all of them, it holds no other.
    let length = items.iter().map(|item| item.1 - 1).sum::<usize>() + 1;
    let length = i64::try_from(length).unwrap_or(i64::MAX);
    let each = |test: &'static str, between: &'static str, differs: &'static str| {
        let mut out = sql!["("];
        for (n, (item, _)) in items.iter().enumerate() {
            let sign = if n > 0 { between } else { "" };
            out = sql![out, sign, "instr(", &all, ", ", item.clone(), ")", test];
        }
        if items.len() > 1 {
            out = sql![out, between, "length(", &all, ")", differs, length];
        }
        out
    };
    let lacks = match null.is_none(text) {
        Some(none) => sql![each(" = 0", " OR ", " <> "), " OR ", none, ")"],
        None => sql![each(" = 0", " OR ", " <> "), ")"],
    };
    (sql![each(" > 0", " AND ", " = "), ")"], lacks)
}

/// What NULL means in a text expression.
#[derive(Clone, Debug)]
enum Null {
    Unknown,
    None,
    /// None where this flag is known, else unknown.
    NoneIf(Sql),
}

impl Null {
    /// That there is none; `None` where NULL never says so.
    fn is_none(&self, text: &Sql) -> Option<Sql> {
        match self {
            Self::Unknown => None,
            Self::None => Some(sql!["(", text, " IS NULL)"]),
            Self::NoneIf(flag) => Some(sql!["(", text, " IS NULL AND ", flag, " IS NOT NULL)"]),
        }
    }

    /// The text with the mark where there is none.
    fn marked(&self, text: &Sql) -> Sql {
        match self {
            Self::Unknown => text.clone(),
            Self::None => marked(text),
            Self::NoneIf(flag) => {
                sql!["ifnull(", text, ", CASE WHEN ", flag, " IS NOT NULL THEN ", NONE, " END)",]
            }
        }
    }
}

impl Lower {
    /// A text as SQL, and what its NULL means. A picked or past text has no NULL for none but the
    /// mark.
    fn text(&self, place: &Reference, scope: &Scope) -> (Sql, Null) {
        match place {
            Reference::Read(read) if read.past.is_some() => (self.past(read, scope), Null::Unknown),
            Reference::Read(read) => self.text_read(read, scope),
            Reference::Pick(pick) => {
                let value = |scope: &Scope| {
                    Self::null(&pick.read, scope).marked(&self.place_read(&pick.read, scope))
                };
                (self.pick_value(pick, &value), Null::Unknown)
            }
        }
    }

    /// A text in the row in scope.
    fn text_read(&self, read: &Read, scope: &Scope) -> (Sql, Null) {
        (self.place_read(read, scope), Self::null(read, scope))
    }

    /// What no value of a field means.
    fn null(read: &Read, scope: &Scope) -> Null {
        match (read.field.absent, read.field.stored, &scope.row) {
            (Absent::Unknown, ..) => Null::Unknown,
            (Absent::NoneIf(flag), Stored::Column(c), Some(row)) if read.field.record.is_some() => {
                Null::NoneIf(row.col(c.table, flag))
            }
            (Absent::NoneIf(flag), ..) => Null::NoneIf(sql!["j.", flag]),
            (Absent::None, ..) => Null::None,
        }
    }

    /// A field that is one value, in the row in scope, of today or of the past.
    pub(super) fn place_read(&self, read: &Read, scope: &Scope) -> Sql {
        if read.past.is_some() {
            return self.then(read, scope, &|state| {
                self.plain(read.field, &|_, name| sql![state, ".", name])
            });
        }
        match (&scope.row, read.field.record) {
            (Some(row), Some(_)) => self.plain(read.field, &|table, name| row.col(table, name)),
            _ => self.plain(read.field, &|_, name| sql!["j.", name]),
        }
    }

    pub(super) fn one_of(&self, value: &Phrase, list: &[Phrase], scope: &Scope) -> Truth {
        match value {
            Phrase::Of(Reference::Pick(pick)) => self.pick_truth(pick, &|inner| {
                self.one_of_text(pick.read.field, &self.text_read(&pick.read, inner), list, scope)
            }),
            Phrase::Of(place) => {
                self.one_of_text(place.field(), &self.text(place, scope), list, scope)
            }
            _ => Truth::of(false),
        }
    }

    fn one_of_text(
        &self,
        field: &Field,
        value: &(Sql, Null),
        list: &[Phrase],
        scope: &Scope,
    ) -> Truth {
        let (text, null) = value;
        let alike = alike(field, list);
        let known: Vec<Part> = list
            .iter()
            .filter_map(|p| match p {
                Phrase::Known(t) if !field.several => Some(Part::from(Value::Text(t.clone()))),
                _ => None,
            })
            .collect();
        let mut equal = Vec::new();
        let mut differ = Vec::new();
        if !known.is_empty() {
            let (is, is_not) =
                if known.len() == 1 { (" = ", " <> ") } else { (" IN ", " NOT IN ") };
            let one = known.len() == 1;
            let known = Sql::list(known);
            let known = if one { known } else { sql!["(", known, ")"] };
            equal.push(sql!["(", text, alike, is, &known, ")"]);
            differ.push(match (null, null.is_none(text)) {
                (Null::None, _) if one => sql!["(", text, alike, " IS NOT ", &known, ")"],
                (_, Some(none)) => sql!["(", text, alike, is_not, &known, " OR ", none, ")"],
                (_, None) => sql!["(", text, alike, is_not, &known, ")"],
            });
        }
        for other in list {
            match other {
                Phrase::Known(asked) if field.several => {
                    let (all, lacks) = holds(field, value, asked);
                    equal.push(all);
                    differ.push(lacks);
                }
                Phrase::Known(_) => {}
                Phrase::Unknown => {
                    equal.push(sql!["NULL"]);
                    differ.push(sql!["NULL"]);
                }
                Phrase::None => {
                    let (is, is_not) = match null.is_none(text) {
                        Some(none) => (none, sql!["(", text, " IS NOT NULL)"]),
                        None => {
                            (sql!["(", text, " = ", NONE, ")"], sql!["(", text, " <> ", NONE, ")"])
                        }
                    };
                    equal.push(is);
                    differ.push(is_not);
                }
                Phrase::Of(other) => {
                    let (that, that_null) = self.text(other, scope);
                    let (a, b) = (null.marked(text), that_null.marked(&that));
                    equal.push(sql!["(", &a, alike, " = ", &b, ")"]);
                    differ.push(sql!["(", a, alike, " <> ", b, ")"]);
                }
            }
        }
        Truth {
            yes: Cond::any(equal.into_iter().map(Cond::When)),
            no: Cond::all(differ.into_iter().map(Cond::When)),
        }
    }

    pub(super) fn like(&self, value: &Phrase, pattern: &Pattern, scope: &Scope) -> Truth {
        let Phrase::Of(place) = value else { return Truth::of(false) };
        let may_be_none = place.field().absent.may_be_none();
        match place {
            Reference::Pick(pick) => self.pick_truth(pick, &|inner| {
                Self::like_text(&self.text_read(&pick.read, inner), pattern, may_be_none)
            }),
            Reference::Read(_) => Self::like_text(&self.text(place, scope), pattern, may_be_none),
        }
    }

    fn like_text((text, null): &(Sql, Null), pattern: &Pattern, may_be_none: bool) -> Truth {
        // LIKE takes capitals of plain letters for small ones, those of others not.
        let (folded, pattern) = if pattern.0.is_ascii() {
            (text.clone(), join_blanks(&pattern.0))
        } else {
            (sql!["name_key(", text, ")"], name_key(&pattern.0))
        };
        let pattern = Value::Text(like_pattern(&pattern));
        let is = sql!["(", &folded, " LIKE ", pattern.clone(), " ESCAPE '\\')"];
        let is_not = sql!["(", folded, " NOT LIKE ", pattern, " ESCAPE '\\')"];
        if !may_be_none {
            return Truth::new(is, is_not);
        }
        let none = null.is_none(text).unwrap_or_else(|| sql!["(", text, " = ", NONE, ")"]);
        Truth {
            yes: Cond::When(sql!["(", is, " AND ((", &none, ") IS NOT TRUE))"]),
            no: Cond::When(is_not).or(Cond::When(none)),
        }
    }

    /// A text, flag or set as it is shown: NULL for none and for unknown.
    pub(in super::super) fn shown(&self, place: &Reference, scope: &Scope) -> Sql {
        match place.field().kind {
            Kind::Flag | Kind::Set(_) => self.flag_value(place, scope),
            _ => {
                let (text, null) = self.text(place, scope);
                if place.field().absent.may_be_none() && matches!(null, Null::Unknown) {
                    sql!["nullif(", text, ", ", NONE, ")"]
                } else {
                    text
                }
            }
        }
    }

    /// A flag as SQL: 1, 0 or NULL.
    fn flag_value(&self, place: &Reference, scope: &Scope) -> Sql {
        match place {
            Reference::Read(read) => self.place_read(read, scope),
            Reference::Pick(pick) => {
                self.pick_value(pick, &|scope| self.place_read(&pick.read, scope))
            }
        }
    }

    pub(super) fn flag(&self, place: &Reference, scope: &Scope) -> Truth {
        self.of_flag(place, scope, &|value| {
            Truth::new(sql!["(", value, " = 1)"], sql!["(", value, " = 0)"])
        })
    }

    pub(super) fn holds(&self, set: &Reference, bits: i64, scope: &Scope) -> Truth {
        self.of_flag(set, scope, &|value| {
            Truth::new(
                sql!["((", value, " & ", bits, ") <> 0)"],
                sql!["((", value, " & ", bits, ") = 0)"],
            )
        })
    }

    /// What is said of a flag or set: of a picked one, whatever record may be the one.
    fn of_flag(&self, place: &Reference, scope: &Scope, say: &dyn Fn(&Sql) -> Truth) -> Truth {
        match place {
            Reference::Read(read) => say(&self.place_read(read, scope)),
            Reference::Pick(pick) => {
                self.pick_truth(pick, &|inner| say(&self.place_read(&pick.read, inner)))
            }
        }
    }

    pub(super) fn place_unknown(&self, place: &Reference, scope: &Scope) -> Truth {
        let unless_known = |value: &Sql| {
            Truth::new(sql!["(", value, " IS NULL)"], sql!["(", value, " IS NOT NULL)"])
        };
        match place.field().kind {
            Kind::Flag | Kind::Set(_) => {
                let made = matches!(place.field().stored, Stored::Present(_) | Stored::Missing(_));
                if made && matches!(place, Reference::Read(read) if read.past.is_none()) {
                    return Truth::of(false);
                }
                unless_known(&self.flag_value(place, scope))
            }
            _ => match self.text(place, scope) {
                (_, Null::None) => Truth::of(false),
                (text, null) => unless_known(&null.marked(&text)),
            },
        }
    }

    /// A text of the joint in the past, with the mark where there was none.
    fn past(&self, read: &Read, scope: &Scope) -> Sql {
        self.then(read, scope, &|state| {
            let null = match read.field.absent {
                Absent::Unknown => Null::Unknown,
                Absent::None => Null::None,
                Absent::NoneIf(flag) => Null::NoneIf(sql![state, ".", flag]),
            };
            null.marked(&sql![state, ".", read.field.name])
        })
    }

    /// Whether a move or hire of the joint excludes another fact. What such a fact set is not known, and
    /// a state does not say which fact set it.
    fn custody_clashes(&self) -> Cond {
        let clashing = [Record::Move, Record::Hire].map(|record| {
            let row = self.row(record);
            let in_doubt = row.counts(None).fails();
            Cond::When(sql![
                "EXISTS (SELECT 1 FROM ",
                row.from(),
                " WHERE ",
                of_joint(&row),
                " AND ",
                in_doubt.sql(),
                ")",
            ])
        });
        Cond::When(sql!["j.conflicted = 1"]).and(Cond::any(clashing))
    }

    /// A value of the joint in the past, of the state that was in force: at the end of a day, as the
    /// book is seen from that day, or when the record in scope was.
    pub(super) fn then(&self, read: &Read, scope: &Scope, value: &dyn Fn(&Sql) -> Sql) -> Sql {
        let Some(states) = read.field.past else {
            // Not reached: the checker asks of such fields only.
            return sql!["NULL"];
        };
        let in_force = match (read.past, &scope.row) {
            (Some(Past::ThatTime), Some(row)) => {
                let (start, _) = row.record.span();
                sql![" <= ", row.own(start)]
            }
            (Some(Past::Before(end)), _) => sql![" < ", end],
            // Not reached: the same.
            (Some(Past::ThatTime) | None, _) => sql![" IS NULL"],
        };
        let state = sql![self.alias('x')];
        let value = match (read.past, states) {
            (Some(Past::ThatTime), Table::Custody) => {
                sql![
                    "CASE WHEN ",
                    self.custody_clashes().sql(),
                    " THEN NULL ELSE ",
                    value(&state),
                    " END"
                ]
            }
            _ => value(&state),
        };
        sql![
            "(SELECT ",
            value,
            " FROM ",
            states.name(),
            " ",
            &state,
            " WHERE ",
            &state,
            ".joint = j.joint AND ",
            &state,
            ".at",
            in_force,
            " ORDER BY ",
            &state,
            ".at DESC LIMIT 1)",
        ]
    }
}

fn marked(text: &Sql) -> Sql {
    sql!["ifnull(", text, ", ", NONE, ")"]
}

/// A pattern of the language as one of LIKE's.
pub(super) fn like_pattern(pattern: &str) -> String {
    let mut out = String::with_capacity(pattern.len());
    for c in pattern.chars() {
        match c {
            '*' => out.push('%'),
            '?' => out.push('_'),
            '%' | '_' | '\\' => {
                out.push('\\');
                out.push(c);
            }
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::like_pattern;

    #[test]
    fn signs_of_like_are_plain_characters() {
        assert_eq!(like_pattern("K1-*"), "K1-%");
        assert_eq!(like_pattern("100%_?\\"), "100\\%\\__\\\\");
    }
}
