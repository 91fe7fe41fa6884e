//! What a view of the book is: from where it looks, how far the book reached, what was in force.

use crate::model::Instant;
use crate::store::{Book, StoreError};

use super::{Block, Cell, Fact, ReportError, rules_of};

#[derive(Clone, Debug)]
pub struct Seen {
    /// The date of which it tells, as asked.
    pub as_of: Option<String>,
    /// The date or entry to which the book is known, as asked.
    pub known_on: Option<String>,
    /// Last place of the book that is known.
    pub place: i64,
    /// The book's own last entry there, and its hash.
    pub head: Option<String>,
    /// Known entries that tell of later.
    pub later: usize,
    /// Runs that were under way.
    pub under_way: Vec<String>,
    /// Where its clock stands.
    pub now: Instant,
}

/// Says what a view is. The book is the view itself.
pub fn blocks(book: &Book, seen: &Seen) -> Result<Vec<Block>, ReportError> {
    let adoptions = book.adoptions()?;
    let mut facts = Vec::new();
    if let Some(date) = &seen.as_of {
        facts.push(Fact::plain("as_of", "as of", Cell::Text(date.clone())));
        facts.push(Fact::plain("later", "entries of later, not counted", Cell::count(seen.later)));
        let runs = if seen.under_way.is_empty() {
            Cell::Missing
        } else {
            Cell::Text(seen.under_way.join(", "))
        };
        facts.push(Fact::plain("under_way", "runs under way, in part", runs));
    }
    if let Some(point) = &seen.known_on {
        facts.push(Fact::plain("known_on", "as known on", Cell::Text(point.clone())));
    }
    facts.push(Fact::plain("place", "entries known", Cell::Number(seen.place)));
    facts.push(Fact::plain("head", "head", Cell::text(seen.head.as_deref())));
    let limits = adoptions.standards_at(seen.now).limits.title();
    facts.push(Fact::plain("limits", "limits", Cell::Text(limits)));
    let rules = rules_of(&adoptions, seen.now)?.name;
    facts.push(Fact::plain("rules", "rules", Cell::Text(rules)));
    let method = adoptions.method().map_err(StoreError::from)?.name;
    facts.push(Fact::plain("method", "fatigue method", Cell::Text(method)));
    let meaning = match (&seen.as_of, &seen.known_on) {
        (Some(date), None) => format!(
            "what was true on {date} by what the book knows now: strikes, settlements, surveys, \
             checks, what joints came with, merges and the fatigue method count whenever they \
             came; limits and rules are those of the date"
        ),
        (None, Some(point)) => format!(
            "what the book said on {point}: nothing that was written or taken in later counts, nor \
             what was adopted later"
        ),
        (Some(date), Some(point)) => {
            format!("what was true on {date} by what the book said on {point}")
        }
        (None, None) => return Ok(Vec::new()),
    };
    Ok(vec![Block::Facts { name: "view", facts }, Block::Note(meaning)])
}
