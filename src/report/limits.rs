//! Limits and findings as data that people can read: which set is in force since when, what each
//! row says and where it comes from.

use crate::condition::{Catalogue, Criterion, Finding, Limit, LimitSet};
use crate::model::{Clock, Component, Place, SetKind, Vocabulary};
use crate::projection::adoptions::Adoptions;

use super::data::plain;
use super::{Cell, Column, ReportError, Table, adopted};

/// Which limits to show.
#[derive(Clone, Debug, Default)]
pub struct Wanted {
    /// These criteria; all when empty.
    pub criteria: Vec<Criterion>,
    pub component: Option<Component>,
}

/// The adoptions of limits as a table.
pub fn adoption_table(adoptions: &Adoptions, clock: Clock) -> Table {
    adopted::table(adoptions.sets(SetKind::Limits), clock)
}

/// The rows of a set.
pub fn limit_table(set: &LimitSet, wanted: &Wanted) -> Table {
    let fits = |l: &&Limit| {
        let criterion = wanted.criteria.is_empty() || wanted.criteria.contains(&l.criterion);
        let component =
            wanted.component.is_none_or(|c| l.components.is_empty() || l.components.contains(&c));
        criterion && component
    };
    let row = |l: &Limit| {
        let components: Vec<String> = l.components.iter().map(|c| plain(c.word())).collect();
        let of = if components.is_empty() { "any".to_owned() } else { components.join(", ") };
        let note = if l.note.is_empty() { String::new() } else { format!("; {}", l.note) };
        vec![
            Cell::Text(l.criterion.word().to_owned()),
            Cell::Text(of),
            Cell::Text(plain(&l.class.to_string())),
            Cell::Text(l.text()),
            Cell::Truth(l.in_force),
            Cell::Text(l.standard.clone()),
            Cell::text(Some(l.edition.as_str()).filter(|e| !e.is_empty())),
            Cell::Text(plain(l.provenance.word())),
            Cell::Text(format!("{}; {}{note}", l.criterion.spec().name, l.source)),
        ]
    };
    Table {
        name: "limits",
        columns: vec![
            Column::plain("criterion", "criterion"),
            Column::plain("component", "of").dispensable(3),
            Column::plain("class", "class"),
            Column::plain("limit", "limit"),
            Column::plain("in_force", "in force").dispensable(2),
            Column::plain("standard", "standard"),
            Column::plain("edition", "edition").dispensable(4),
            Column::plain("provenance", "rests on"),
            Column::plain("source", "source"),
        ],
        rows: set.all().iter().filter(fits).map(row).collect(),
        empty: "the set has no such limit".to_owned(),
        below: Some(8),
    }
}

/// The catalogue of findings, or the part of it that is asked for.
pub fn finding_table(
    catalogue: &Catalogue,
    word: Option<&str>,
    place: Option<Place>,
) -> Result<Table, ReportError> {
    let exact = word.and_then(|w| catalogue.get(w).ok());
    let key = word.map(crate::model::fold);
    let fits = |f: &&Finding| {
        let named = match (&exact, &key) {
            (Some(e), _) => e.word == f.word,
            (None, Some(k)) => {
                f.word.contains(k.as_str()) || f.aliases.iter().any(|a| a.contains(k.as_str()))
            }
            (None, None) => true,
        };
        named && place.is_none_or(|p| f.places.contains(&p))
    };
    let found: Vec<&Finding> = catalogue.all().iter().filter(fits).collect();
    if found.is_empty()
        && let Some(Err(e)) = word.map(|w| catalogue.get(w))
    {
        return Err(ReportError::Words(e.to_string()));
    }
    let words = |list: Vec<&str>| {
        if list.is_empty() {
            Cell::Missing
        } else {
            Cell::Text(list.iter().map(|w| plain(w)).collect::<Vec<_>>().join(", "))
        }
    };
    let row = |f: &&Finding| {
        let beyond = f.beyond.map_or_else(String::new, |d| format!("; beyond: {}", d.says()));
        let who: Vec<&str> = f.who.iter().map(|p| p.says()).collect();
        let note = if f.note.is_empty() { String::new() } else { format!("; {}", f.note) };
        vec![
            Cell::Text(plain(&f.word)),
            words(f.places.iter().map(|p| p.word()).collect()),
            Cell::Text(f.measure.clone()),
            Cell::Text(format!("{}{beyond}", f.within.says())),
            words(f.judged_by.iter().map(|c| c.word()).collect()),
            words(f.cleared_by.iter().map(|w| w.word()).collect()),
            words(f.aliases.iter().map(String::as_str).collect()),
            Cell::Text(plain(f.provenance.word())),
            Cell::Text(format!("{}; {}; {}{note}", f.name, who.join(", "), f.source)),
        ]
    };
    Ok(Table {
        name: "findings",
        columns: vec![
            Column::plain("finding", "finding"),
            Column::plain("places", "where").dispensable(3),
            Column::plain("measure", "what to measure"),
            Column::plain("follows", "what follows"),
            Column::plain("judged_by", "judged by").dispensable(4),
            Column::plain("cleared_by", "made good by").dispensable(5),
            Column::plain("aliases", "also called").dispensable(6),
            Column::plain("provenance", "rests on").dispensable(2),
            Column::plain("about", "who, source"),
        ],
        rows: found.iter().map(row).collect(),
        empty: "no finding of the catalogue is found there".to_owned(),
        below: Some(8),
    })
}
