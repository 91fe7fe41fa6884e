//! What a person can answer where a file does not say it: asked at a terminal, said as an option in a
//! script. An answer is what an option of `load` would say of the file.

use super::kinds::Kind;
use super::table::{Columns, Field, Holds, StatedColumn};
use super::when;
use crate::model::fold;

/// A question about a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// The file that is to be taken in; a run is asked for the files that it names.
    pub file: String,
    what: What,
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum What {
    /// Unit of a column: number, title, field, what it holds.
    Unit {
        number: usize,
        title: String,
        field: String,
        holds: Holds,
    },
    DateOrder,
    Decimal,
    Hidden,
    Kind(Vec<Kind>),
    /// Which of two columns a field is: number and title of each.
    Column {
        field: String,
        columns: [(usize, String); 2],
    },
    /// A value for the whole file, or the column that has it.
    Value {
        field: String,
        is_date: bool,
        titles: Vec<String>,
    },
}

/// What was answered, as an option says it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Name of the option, and its text.
    Said(&'static str, String),
    Columns(Columns),
}

impl Question {
    const fn new(what: What) -> Self {
        Self { file: String::new(), what }
    }

    pub(super) fn unit(field: &Field, number: usize, title: &str) -> Self {
        let (title, field, holds) = (title.to_owned(), field.typed().to_owned(), field.holds);
        Self::new(What::Unit { number, title, field, holds })
    }

    pub(super) const fn date_order() -> Self {
        Self::new(What::DateOrder)
    }

    pub(super) const fn decimal() -> Self {
        Self::new(What::Decimal)
    }

    pub(super) const fn hidden() -> Self {
        Self::new(What::Hidden)
    }

    pub(super) const fn kind(kinds: Vec<Kind>) -> Self {
        Self::new(What::Kind(kinds))
    }

    pub(super) fn column(field: &str, columns: [(usize, &str); 2]) -> Self {
        let columns = columns.map(|(number, title)| (number, title.to_owned()));
        Self::new(What::Column { field: field.to_owned(), columns })
    }

    pub(super) fn value(field: &Field, titles: Vec<String>) -> Self {
        let (field, is_date) = (field.typed().to_owned(), field.holds == Holds::When);
        Self::new(What::Value { field, is_date, titles })
    }

    /// The question, with the answers that it may have.
    pub fn text(&self) -> String {
        match &self.what {
            What::Unit { title, field, holds, .. } => {
                let units = holds.examples();
                let name = if title.is_empty() { field } else { title };
                format!("unit of '{name}' ({})", units.replace(" or ", ", "))
            }
            What::DateOrder => "order of day and month (day-first, month-first)".to_owned(),
            What::Decimal => "decimal sign (point, comma)".to_owned(),
            What::Hidden => "hidden rows (take, leave)".to_owned(),
            What::Kind(kinds) => {
                let words: Vec<&str> = kinds.iter().map(|k| k.word()).collect();
                format!("what it is ({})", words.join(", "))
            }
            What::Column { field, columns: [a, b] } => {
                format!("which column is {field}: 1 '{}', 2 '{}'", a.1, b.1)
            }
            What::Value { field, .. } => field.replace('_', " "),
        }
    }

    /// What is wanted, for whoever does not know.
    pub fn wanted(&self) -> String {
        match &self.what {
            What::Unit { title, field, .. } => format!(
                "the unit of the numbers in '{title}', which is read as {field}; - leaves the column out"
            ),
            What::DateOrder => {
                "dates as 4/3/2026: is the first number the day or the month?".to_owned()
            }
            What::Decimal => "is the comma before the decimals, or between thousands?".to_owned(),
            What::Hidden => "do rows that the sheet hides count?".to_owned(),
            What::Kind(_) => "what the rows of the file are".to_owned(),
            What::Column { .. } => "1 or 2; the other column is not used".to_owned(),
            What::Value { field, titles, .. } => {
                let columns = match titles.as_slice() {
                    [] => String::new(),
                    titles => format!(
                        "; or the title of the column that has it: {}",
                        titles.iter().map(|t| format!("'{t}'")).collect::<Vec<_>>().join(", ")
                    ),
                };
                format!("{} of the whole file{columns}", field.replace('_', " "))
            }
        }
    }

    /// What a text answers.
    ///
    /// # Errors
    /// A sentence when it answers nothing.
    pub fn answer(&self, text: &str) -> Result<Answer, String> {
        let text = text.trim();
        let one = |known: &[&str]| {
            let found = known.iter().find(|k| fold(k) == fold(text));
            found.map(|k| (*k).to_owned()).ok_or_else(|| format!("write {}", known.join(" or ")))
        };
        Ok(match &self.what {
            What::Unit { number, title, field, holds } => {
                let name = |name: &str, unit| {
                    Answer::Columns(stated(*number, title, name, unit).into_iter().collect())
                };
                if text == "-" {
                    return Ok(name("-", None));
                }
                holds.unit(text).map_err(|e| e.to_string())?;
                name(field, Some(text.to_owned()))
            }
            What::DateOrder => Answer::Said("date-order", one(&["day-first", "month-first"])?),
            What::Decimal => Answer::Said("decimal", one(&["point", "comma"])?),
            What::Hidden => Answer::Said("hidden", one(&["take", "leave"])?),
            What::Kind(kinds) => {
                let words: Vec<&str> = kinds.iter().map(|k| k.word()).collect();
                Answer::Said("as", one(&words)?)
            }
            What::Column { columns: [a, b], .. } => {
                let same = |c: &(usize, String)| fold(&c.1) == fold(text);
                let (first, second) = (text == "1" || same(a), text == "2" || same(b));
                let left = match (first, second) {
                    (true, false) => b,
                    (false, true) => a,
                    (true, true) | (false, false) => return Err("write 1 or 2".to_owned()),
                };
                // Two of one title are told apart by their numbers.
                let title = if fold(&a.1) == fold(&b.1) { "" } else { &left.1 };
                Answer::Columns(stated(left.0, title, "-", None).into_iter().collect())
            }
            What::Value { field, is_date, titles } => {
                if let Some(title) = titles.iter().find(|t| fold(t) == fold(text)) {
                    return Ok(Answer::Columns(
                        stated(usize::MAX, title, field, None).into_iter().collect(),
                    ));
                }
                if *is_date {
                    when::moment(text, when::Times::default())
                        .map_err(|e| format!("'{text}' {}: {}", e.message(), e.help()))?;
                }
                Answer::Said("set", format!("{field}={text}"))
            }
        })
    }
}

/// A column that is stated by its title; one without a title by its number.
fn stated(number: usize, title: &str, name: &str, unit: Option<String>) -> Option<StatedColumn> {
    let source =
        if fold(title).is_empty() { format!("#{number}") } else { title.trim().to_owned() };
    Some(StatedColumn { source: Some(source), name: name.to_owned(), unit })
}
