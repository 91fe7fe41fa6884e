//! Columns that the user states: all of them in order, or some of them by title.

use std::fmt;
use std::str::FromStr;

use super::split::RawRow;
use crate::model::fold;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StatedColumn {
    /// Title in the file or `#3`; absent when columns are stated in order.
    pub source: Option<String>,
    /// Name of the field; `-` for a column to skip.
    pub name: String,
    pub unit: Option<String>,
}

/// What the user says about columns.
///
/// In order, for a file without a header: `md [m], inc [deg], azi [deg], -, tvd [m]`. By title,
/// for a file whose header says too little: `Depth(ft) = depth [ft], "ROP(1 ft)" = rop [ft/h]`;
/// `#3 = rpm` names a column by its number. `-` skips a column.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Columns {
    list: Vec<StatedColumn>,
}

/// Why stated columns cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ColumnsError {
    /// Nothing between two commas.
    #[error("column {0} is empty; write a name, or - to skip it")]
    Empty(usize),
    /// A bracket or a quote that does not close.
    #[error("'{0}' has a bracket or a quotation mark that does not close")]
    Open(String),
    /// Some columns by title and some in order.
    #[error(
        "'{0}' is stated {1}; state all columns in order, or some as: title in the file = name [unit]"
    )]
    Mixed(String, &'static str),
    /// A column number that is none.
    #[error("'{0}' is no column; write # and a number from 1, as in #3 = rpm")]
    Number(String),
}

impl Columns {
    pub fn list(&self) -> &[StatedColumn] {
        &self.list
    }

    /// True when all columns are stated in order.
    pub fn in_order(&self) -> bool {
        self.list.iter().all(|c| c.source.is_none())
    }

    /// What is stated of columns by titles that these rows have; `None` when that is nothing.
    pub(crate) fn of_titles(&self, rows: &[RawRow]) -> Option<Self> {
        let by_title = |c: &&StatedColumn| c.source.as_deref().is_some_and(|s| !s.starts_with('#'));
        let is_there = |c: &&StatedColumn| {
            let one = Self { list: vec![(*c).clone()] };
            rows.iter().flat_map(|r| &r.cells).any(|cell| one.about(usize::MAX, cell).is_some())
        };
        let list: Vec<StatedColumn> =
            self.list.iter().filter(by_title).filter(is_there).cloned().collect();
        (!list.is_empty()).then_some(Self { list })
    }

    /// What is stated here, and of the others what stands below it.
    #[must_use]
    pub fn over(&self, below: Option<&Self>) -> Self {
        let sources = |c: &StatedColumn| c.source.as_deref().map(fold);
        let own: Vec<_> = self.list.iter().map(sources).collect();
        let others = below.iter().flat_map(|b| &b.list).filter(|c| !own.contains(&sources(c)));
        self.list.iter().chain(others).cloned().collect()
    }

    /// What is stated about a column of a header, if anything.
    pub fn about(&self, number: usize, title: &str) -> Option<&StatedColumn> {
        self.list.iter().find(|c| {
            c.source.as_deref().is_some_and(|s| match s.strip_prefix('#') {
                Some(n) if n.parse::<usize>().is_ok() => n.parse() == Ok(number),
                _ => s == title.trim() || fold(s) == fold(title) && !fold(s).is_empty(),
            })
        })
    }
}

impl FromIterator<StatedColumn> for Columns {
    fn from_iter<I: IntoIterator<Item = StatedColumn>>(columns: I) -> Self {
        Self { list: columns.into_iter().collect() }
    }
}

/// Splits at a sign that stands outside brackets and quotes.
fn split_outside(text: &str, sign: char) -> Result<Vec<&str>, ColumnsError> {
    let (mut parts, mut from, mut depth, mut quoted) = (Vec::new(), 0, 0u32, false);
    for (at, c) in text.char_indices() {
        match c {
            '"' => quoted = !quoted,
            '[' | '(' if !quoted => depth += 1,
            ']' | ')' if !quoted => depth = depth.saturating_sub(1),
            c if c == sign && depth == 0 && !quoted => {
                parts.push(&text[from..at]);
                from = at + c.len_utf8();
            }
            _ => {}
        }
    }
    if depth > 0 || quoted {
        return Err(ColumnsError::Open(text[from..].trim().to_owned()));
    }
    parts.push(&text[from..]);
    Ok(parts)
}

impl FromStr for Columns {
    type Err = ColumnsError;

    fn from_str(text: &str) -> Result<Self, ColumnsError> {
        let mut list = Vec::new();
        for (at, item) in split_outside(text, ',')?.into_iter().enumerate() {
            let parts = split_outside(item, '=')?;
            let (source, field) = match parts[..] {
                [field] => (None, field),
                // The last sign divides; a title may hold others.
                [.., field] => {
                    let source = item[..item.len() - field.len() - 1].trim();
                    let source = source.trim_matches('"').trim();
                    if let Some(n) = source.strip_prefix('#')
                        && n.parse::<usize>().is_ok_and(|n| n == 0)
                    {
                        return Err(ColumnsError::Number(source.to_owned()));
                    }
                    (Some(source.to_owned()), field)
                }
                [] => (None, ""),
            };
            let field = field.trim();
            let (name, unit) = match field.strip_suffix(']').and_then(|f| f.rsplit_once('[')) {
                Some((name, unit)) => (name.trim(), Some(unit.trim().to_owned())),
                None => (field, None),
            };
            if name.is_empty() || source.as_deref() == Some("") {
                return Err(ColumnsError::Empty(at + 1));
            }
            let unit = unit.filter(|u| !u.is_empty());
            list.push(StatedColumn { source, name: name.trim_matches('"').to_owned(), unit });
        }
        let by_title = list[0].source.is_some();
        if let Some(odd) = list.iter().find(|c| c.source.is_some() != by_title) {
            let how = if by_title { "in order" } else { "by title" };
            return Err(ColumnsError::Mixed(odd.name.clone(), how));
        }
        Ok(Self { list })
    }
}

impl fmt::Display for Columns {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, c) in self.list.iter().enumerate() {
            if at > 0 {
                f.write_str(", ")?;
            }
            if let Some(source) = &c.source {
                write!(f, "\"{source}\" = ")?;
            }
            f.write_str(&c.name)?;
            if let Some(unit) = &c.unit {
                write!(f, " [{unit}]")?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn in_order_and_by_title() {
        let c: Columns = "md [m], inc [deg], azi [deg], -, tvd [m]".parse().unwrap();
        assert!(c.in_order());
        assert_eq!(c.list().len(), 5);
        assert_eq!(c.list()[3].name, "-");
        assert_eq!(c.list()[4].unit.as_deref(), Some("m"));
        let c: Columns =
            "Depth(ft) = depth [ft], \"ROP(1 ft)\" = rop [ft/h], #3 = rpm".parse().unwrap();
        assert!(!c.in_order());
        assert_eq!(c.about(1, " Depth(ft) ").unwrap().name, "depth");
        assert_eq!(c.about(9, "rop(1 FT)").unwrap().unit.as_deref(), Some("ft/h"));
        assert_eq!(c.about(3, "anything").unwrap().name, "rpm");
        assert_eq!(c.about(4, "anything"), None);
        assert_eq!(c.to_string().parse::<Columns>().unwrap(), c);
    }

    #[test]
    fn what_is_wrong_is_said() {
        for (text, message) in [
            ("md, , azi", "column 2 is empty; write a name, or - to skip it"),
            ("", "column 1 is empty; write a name, or - to skip it"),
            ("md [m, inc", "'md [m, inc' has a bracket or a quotation mark that does not close"),
            (
                "md, Inc = inc",
                "'inc' is stated by title; state all columns in order, or some as: title in the \
                 file = name [unit]",
            ),
            ("#0 = md", "'#0' is no column; write # and a number from 1, as in #3 = rpm"),
        ] {
            assert_eq!(text.parse::<Columns>().unwrap_err().to_string(), message);
        }
    }

    proptest! {
        #[test]
        fn soup_never_panics(text in "\\PC{0,60}", shaped in "[a-c=#0-9,\\[\\]\" ()-]{0,40}") {
            for t in [text, shaped] {
                if let Ok(c) = t.parse::<Columns>() {
                    let _ = c.to_string();
                }
            }
        }
    }
}
