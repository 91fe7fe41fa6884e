//! Writing SQL: text of the program's own and bound values, nothing else. User text cannot reach a
//! statement, for a piece of text must be `'static`.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::sync::Arc;

use crate::schema::Value;
use crate::schema::query::collation;

use super::typed::Phrase;

/// How names compare: case and runs of blanks do not count. The store gives it to its connections.
pub(super) const NAME: &str = " COLLATE NAME";
/// The same where all that is asked for is ASCII.
const ASCII_NAME: &str = " COLLATE NOCASE";

/// How a stored text compares with names.
pub(super) fn named(list: &[Phrase]) -> &'static str {
    let plain = |phrase: &Phrase| match phrase {
        Phrase::Known(name) => collation(name) == "NOCASE",
        Phrase::None | Phrase::Unknown => true,
        Phrase::Of(_) => false,
    };
    if list.iter().all(plain) { ASCII_NAME } else { NAME }
}

/// A name that the program gives to a row source: a letter and a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Alias(pub(super) char, pub(super) u16);

/// A piece of a statement.
#[derive(Clone, Debug)]
pub(super) enum Part {
    Raw(&'static str),
    Bind(Value),
    Alias(Alias),
    Sql(Sql),
}

impl From<&'static str> for Part {
    fn from(raw: &'static str) -> Self {
        Self::Raw(raw)
    }
}

impl From<Value> for Part {
    fn from(bind: Value) -> Self {
        Self::Bind(bind)
    }
}

impl From<i64> for Part {
    fn from(n: i64) -> Self {
        Self::Bind(Value::Int(n))
    }
}

impl From<Alias> for Part {
    fn from(alias: Alias) -> Self {
        Self::Alias(alias)
    }
}

impl From<Sql> for Part {
    fn from(sql: Sql) -> Self {
        Self::Sql(sql)
    }
}

impl From<&Sql> for Part {
    fn from(sql: &Sql) -> Self {
        Self::Sql(sql.clone())
    }
}

/// SQL made of pieces. Cheap to copy; knows how large and how deep it is, so that a statement
/// that would be too large is refused before it is written.
#[derive(Clone, Debug)]
pub(super) struct Sql(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    parts: Vec<Part>,
    size: usize,
    height: usize,
}

/// Makes SQL of pieces.
macro_rules! sql {
    ($($part:expr),* $(,)?) => {
        $crate::filter::sql::Sql::of(vec![$($crate::filter::sql::Part::from($part)),*])
    };
}

pub(super) use sql;

impl Sql {
    pub(super) fn of(parts: Vec<Part>) -> Self {
        let (mut size, mut height) = (0usize, 0usize);
        for part in &parts {
            match part {
                Part::Sql(inner) => {
                    size = size.saturating_add(inner.0.size);
                    height = height.max(inner.0.height);
                }
                Part::Raw(_) | Part::Bind(_) | Part::Alias(_) => size = size.saturating_add(1),
            }
        }
        Self(Arc::new(Inner { parts, size, height: height + 1 }))
    }

    pub(super) fn size(&self) -> usize {
        self.0.size
    }

    pub(super) fn parts(&self) -> &[Part] {
        &self.0.parts
    }

    pub(super) fn height(&self) -> usize {
        self.0.height
    }

    /// True when both are one piece, not only alike.
    pub(super) fn same(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }

    /// Terms with a word between them, as a balanced tree: SQLite refuses a chain of a thousand.
    pub(super) fn joined(terms: &[Self], word: &'static str) -> Self {
        match terms {
            [] => Self::of(Vec::new()),
            [one] => one.clone(),
            many => {
                let (left, right) = many.split_at(many.len() / 2);
                sql!["(", Self::joined(left, word), word, Self::joined(right, word), ")"]
            }
        }
    }

    /// Terms with commas between them.
    pub(super) fn list(terms: impl IntoIterator<Item = Part>) -> Self {
        let mut parts = Vec::new();
        for term in terms {
            if !parts.is_empty() {
                parts.push(Part::Raw(", "));
            }
            parts.push(term);
        }
        Self::of(parts)
    }

    /// The statement with numbered parameters, and their values.
    pub(super) fn render(&self) -> (String, Vec<Value>) {
        let mut writer = Writer { text: String::new(), binds: Vec::new(), seen: HashMap::new() };
        writer.write(self);
        (writer.text, writer.binds)
    }
}

struct Writer {
    text: String,
    binds: Vec<Value>,
    /// Numbers of the values so far, each as it is written out.
    seen: HashMap<String, usize>,
}

impl Writer {
    fn write(&mut self, sql: &Sql) {
        for part in &sql.0.parts {
            match part {
                Part::Raw(raw) => self.text.push_str(raw),
                Part::Bind(bind) => self.bind(bind),
                Part::Alias(Alias(letter, number)) => {
                    let _ = write!(self.text, "{letter}{number}");
                }
                Part::Sql(inner) => self.write(inner),
            }
        }
    }

    fn bind(&mut self, bind: &Value) {
        let next = self.seen.len() + 1;
        let number = *self.seen.entry(format!("{bind:?}")).or_insert(next);
        if number == next {
            self.binds.push(bind.clone());
        }
        let _ = write!(self.text, "?{number}");
    }
}

/// A condition in SQL. It holds when it evaluates to true; false and NULL are alike.
#[derive(Clone, Debug)]
pub(super) enum Cond {
    Never,
    Always,
    When(Sql),
}

impl Cond {
    /// Pieces of its text.
    pub(super) fn size(&self) -> usize {
        match self {
            Self::When(sql) => sql.size(),
            Self::Always | Self::Never => 0,
        }
    }

    pub(super) fn all(conds: impl IntoIterator<Item = Self>) -> Self {
        let mut terms = Vec::new();
        for cond in conds {
            match cond {
                Self::Never => return Self::Never,
                Self::Always => {}
                Self::When(sql) => terms.push(sql),
            }
        }
        if terms.is_empty() { Self::Always } else { Self::When(Sql::joined(&terms, " AND ")) }
    }

    pub(super) fn any(conds: impl IntoIterator<Item = Self>) -> Self {
        let mut terms = Vec::new();
        for cond in conds {
            match cond {
                Self::Always => return Self::Always,
                Self::Never => {}
                Self::When(sql) => terms.push(sql),
            }
        }
        if terms.is_empty() { Self::Never } else { Self::When(Sql::joined(&terms, " OR ")) }
    }

    pub(super) fn and(self, other: Self) -> Self {
        Self::all([self, other])
    }

    pub(super) fn or(self, other: Self) -> Self {
        Self::any([self, other])
    }

    /// Holds when this does not, be it false or NULL.
    pub(super) fn fails(&self) -> Self {
        match self {
            Self::Never => Self::Always,
            Self::Always => Self::Never,
            Self::When(sql) => Self::When(sql!["((", sql, ") IS NOT TRUE)"]),
        }
    }

    /// The condition as SQL.
    pub(super) fn sql(&self) -> Sql {
        match self {
            Self::Never => sql!["0"],
            Self::Always => sql!["1"],
            Self::When(sql) => sql.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_bound_once_each() {
        let sql = sql!["a = ", 5, " AND b = ", Value::Text("x'; --".into()), " OR c = ", 5];
        let (text, binds) = sql.render();
        assert_eq!(text, "a = ?1 AND b = ?2 OR c = ?1");
        assert_eq!(binds, [Value::Int(5), Value::Text("x'; --".into())]);
    }

    #[test]
    fn long_chains_are_balanced() {
        let terms: Vec<Sql> = (0..5_000).map(|n| sql!["a = ", n]).collect();
        let Cond::When(sql) = Cond::any(terms.into_iter().map(Cond::When)) else { panic!() };
        assert!(sql.height() < 20);
        assert_eq!(sql.render().1.len(), 5_000);
    }

    #[test]
    fn constants_fold_away() {
        assert!(matches!(Cond::all([Cond::Always, Cond::Never]), Cond::Never));
        assert!(matches!(Cond::any([Cond::Never, Cond::Never]), Cond::Never));
        assert!(matches!(Cond::Never.fails(), Cond::Always));
        assert_eq!(Cond::When(sql!["x"]).fails().sql().render().0, "((x) IS NOT TRUE)");
    }
}
