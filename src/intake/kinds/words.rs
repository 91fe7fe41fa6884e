//! Columns whose cells hold words of a vocabulary: which, and what the cells of a file say of its kind.

use super::Kind;
use crate::intake::table::{Field, Holds, RawRow, find, header_row};
use crate::model::{
    Component, End, Environment, Method, Place, RunGrade, Status, Vocabulary, Work,
};

/// How many rows of a file are asked about its kind.
const ROWS: usize = 200;

/// The vocabulary of a column.
#[derive(Clone, Copy)]
pub(in crate::intake) struct Words {
    /// Its words, in order.
    pub all: fn() -> Vec<&'static str>,
    /// True for a word of it in any spelling.
    pub reads: fn(&str) -> bool,
}

const fn of<V: Vocabulary>() -> Words {
    Words {
        all: || V::ALL.iter().map(|v| v.word()).collect(),
        reads: |text| V::from_word(text).is_ok(),
    }
}

/// The vocabulary that a column of a kind of file chooses from, if it does.
pub(in crate::intake) fn words(kind: Kind, field: &Field) -> Option<Words> {
    if field.holds != Holds::Text {
        return None;
    }
    match (kind, field.key.as_str()) {
        (_, "component") => Some(of::<Component>()),
        (_, "end") => Some(of::<End>()),
        (_, "environment") => Some(of::<Environment>()),
        (Kind::Run, "grade") => Some(of::<RunGrade>()),
        (_, "methods") => Some(of::<Method>()),
        (_, "place") => Some(of::<Place>()),
        (_, "status") => Some(of::<Status>()),
        (_, "work") => Some(of::<Work>()),
        _ => None,
    }
}

/// True when a column that `kind` needs holds words that only `other` knows: `Type` is the kind of a repair
/// and the component of a joint, and `drill pipe` is no repair.
pub(in crate::intake) fn is_other(kind: Kind, other: Kind, rows: &[RawRow]) -> bool {
    let needed = |f: &Field| kind.needs().iter().any(|group| group.contains(&f.key.as_str()));
    let Some((head, _)) = header_row(rows, kind.fields(), None) else { return false };
    let Some(header) = rows.get(head) else { return false };
    let vocabulary = |of: Kind, title: &str| {
        let field = &of.fields()[find(title, of.fields())?.field];
        words(of, field).map(|words| (field, words))
    };
    header.cells.iter().enumerate().any(|(at, title)| {
        let Some((_, own)) = vocabulary(kind, title).filter(|(f, _)| needed(f)) else {
            return false;
        };
        let Some((_, theirs)) = vocabulary(other, title) else { return false };
        let cells = rows.iter().skip(head + 1).take(ROWS).filter_map(|r| r.cells.get(at));
        let filled: Vec<&str> = cells.map(|c| c.trim()).filter(|c| !c.is_empty()).collect();
        !filled.iter().any(|c| (own.reads)(c)) && filled.iter().any(|c| (theirs.reads)(c))
    })
}
