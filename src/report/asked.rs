//! Which joints a question is about, by the names that people have for them.

use crate::model::{Serial, fold, same_name};
use crate::schema::Table;
use crate::store::Book;

use super::fitness::by_name;
use super::{ReportError, find_joint, named};

/// Which joints are asked about; nothing said means all of them.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked<'a> {
    pub filter: Option<&'a str>,
    /// The string that they are in.
    pub string: Option<&'a str>,
    /// A hire on which they went out.
    pub hire: Option<&'a str>,
    pub serials: &'a [String],
}

impl Asked<'_> {
    /// The filter of these joints. A string, a hire or a serial that the book does not know is an
    /// error: of joints that do not exist nothing would ever be due.
    pub fn in_words(&self, book: &Book) -> Result<Option<String>, ReportError> {
        let quoted = |text: &str| text.trim().replace('"', "\"\"");
        let mut parts: Vec<String> = Vec::new();
        parts.extend(self.filter.map(|filter| format!("({filter})")));
        if let Some(string) = self.string {
            known(string, "string", &book.words_in(Table::Joint, "string")?)?;
            parts.push(format!("string = \"{}\"", quoted(string)));
        }
        if let Some(hire) = self.hire {
            known(hire, "hire", &book.words_in(Table::Hire, "name")?)?;
            parts.push(format!("any hire (name = \"{}\")", quoted(hire)));
        }
        let mut joints = Vec::new();
        for serial in self.serials {
            match find_joint(book, serial.trim()) {
                Ok(joint) => joints.push(joint),
                // Where several go by it, all of them are asked about.
                Err(ReportError::ManyJoints { .. }) => {
                    let key = Serial::parse(serial).map_or_else(|_| fold(serial), |s| s.key());
                    joints.extend(book.joints_by_serial(&key)?);
                }
                Err(e) => return Err(e),
            }
        }
        // By the serials that they bear now: an earlier one finds the joint, and no filter does.
        if !joints.is_empty() {
            parts.push(format!("({})", by_name(book, &joints)?));
        }
        // A filter alone stays as it was typed, for messages about it.
        Ok(match (self.filter, parts.len()) {
            (_, 0) => None,
            (Some(filter), 1) => Some(filter.to_owned()),
            _ => Some(parts.join(" and ")),
        })
    }
}

/// Most names that are listed where one is not known.
const LISTED: usize = 12;

fn known(name: &str, what: &str, names: &[String]) -> Result<(), ReportError> {
    if names.iter().any(|known| same_name(known, name)) {
        return Ok(());
    }
    let list = match names {
        [] => format!("there is no {what} in the book"),
        names => format!("known: {}", named(names, LISTED)),
    };
    Err(ReportError::Words(format!("the book knows no {what} '{name}'; {list}")))
}
