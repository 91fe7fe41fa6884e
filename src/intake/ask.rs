//! What a person can answer where a file does not say it: asked at a terminal, said as an option in a
//! script. An answer is what an option of `load` would say of the file.

use super::when;
use crate::model::fold;
use crate::units::{Measure, Unit};

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
        /// Any where there are none.
        measures: Vec<Measure>,
        units: String,
    },
    DateOrder,
    Decimal,
    Hidden,
    Kind(Vec<&'static str>),
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
    /// A column by its title, or by its number as `#3`: its field, or `-`, and its unit.
    Column { source: String, name: String, unit: Option<String> },
}

impl Question {
    const fn new(what: What) -> Self {
        Self { file: String::new(), what }
    }

    /// Asks for the unit of a column, which may be one of some measures, of any where there are none.
    pub(super) fn unit(
        field: &str,
        (measures, units): (impl Iterator<Item = Measure>, String),
        (number, title): (usize, &str),
    ) -> Self {
        let (title, field, measures) = (title.to_owned(), field.to_owned(), measures.collect());
        Self::new(What::Unit { number, title, field, measures, units })
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

    pub(super) const fn kind(kinds: Vec<&'static str>) -> Self {
        Self::new(What::Kind(kinds))
    }

    pub(super) fn column(field: &str, columns: [(usize, &str); 2]) -> Self {
        let columns = columns.map(|(number, title)| (number, title.to_owned()));
        Self::new(What::Column { field: field.to_owned(), columns })
    }

    pub(super) fn value(field: &str, is_date: bool, titles: Vec<String>) -> Self {
        Self::new(What::Value { field: field.to_owned(), is_date, titles })
    }

    /// The question, with the answers that it may have.
    pub fn text(&self) -> String {
        match &self.what {
            What::Unit { title, field, units, .. } => {
                let name = if title.is_empty() { field } else { title };
                format!("unit of '{name}' ({})", units.replace(" or ", ", "))
            }
            What::DateOrder => "order of day and month (day-first, month-first)".to_owned(),
            What::Decimal => "decimal sign (point, comma)".to_owned(),
            What::Hidden => "hidden rows (take, leave)".to_owned(),
            What::Kind(kinds) => format!("what it is ({})", kinds.join(", ")),
            What::Column { field, columns: [a, b] } => {
                format!("which column is {field}: 1 '{}', 2 '{}'", a.1, b.1)
            }
            What::Value { field, .. } => field.replace('_', " "),
        }
    }

    /// The option that answers it, where a file states a value nowhere.
    pub(super) fn option(&self, file: &str) -> Option<String> {
        let What::Value { field, is_date, titles } = &self.what else { return None };
        let value = if *is_date { "2026-03-04" } else { "\"NAME\"" };
        // The name of a file is often the only place of the name of its well.
        let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem);
        let called = match field.as_str() {
            "well" => format!(" (the file is called '{stem}')"),
            _ => String::new(),
        };
        let column = match titles.as_slice() {
            [] => String::new(),
            titles => {
                let shown: Vec<String> = titles.iter().take(6).map(|t| format!("'{t}'")).collect();
                format!(
                    "; where a column has it, which of {}: --columns '\"TITLE\" = {field}'",
                    shown.join(", ")
                )
            }
        };
        Some(format!("for the whole file: --set {field}={value}{called}{column}"))
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
                let field = field.replace('_', " ");
                format!("the {field}, which then holds for the whole file{columns}")
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
            What::Unit { number, title, field, measures, .. } => {
                if text == "-" {
                    return Ok(column(*number, title, "-", None));
                }
                let read = measures.iter().map(|m| Unit::parse(text, m.dimension()).map(|_| ()));
                let read = read.reduce(|first, next| first.or_else(|e| next.map_err(|_| e)));
                let read = read.unwrap_or_else(|| Unit::meanings(text).map(|_| ()));
                read.map_err(|e| e.to_string())?;
                column(*number, title, field, Some(text.to_owned()))
            }
            What::DateOrder => Answer::Said("date-order", one(&["day-first", "month-first"])?),
            What::Decimal => Answer::Said("decimal", one(&["point", "comma"])?),
            What::Hidden => Answer::Said("hidden", one(&["take", "leave"])?),
            What::Kind(kinds) => Answer::Said("as", one(kinds)?),
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
                column(left.0, title, "-", None)
            }
            What::Value { field, is_date, titles } => {
                if let Some(title) = titles.iter().find(|t| fold(t) == fold(text)) {
                    return Ok(column(usize::MAX, title, field, None));
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

/// A column by its title; one without a title by its number.
fn column(number: usize, title: &str, name: &str, unit: Option<String>) -> Answer {
    let source =
        if fold(title).is_empty() { format!("#{number}") } else { title.trim().to_owned() };
    Answer::Column { source, name: name.to_owned(), unit }
}
