//! Joints that several books know: whose rows answer a question about today.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::Path;

use super::PublishError;
use super::describe::PublishedTable;
use super::manifest::SiteState;
use super::part::{Part, Written};
use super::read::{ints, texts};
use crate::store::Seen;

/// What is said of the row of a joint in the book of a site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Standing {
    /// Another book knows more.
    Superseded,
    /// No book knows everything.
    Contested,
}

/// A row of a joint of which something is said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Said {
    site: String,
    joint: i64,
    introduced_by: String,
    /// Site of the book that knows most; `None` where none does.
    best: Option<String>,
}

impl Said {
    pub(super) const fn is(&self, standing: Standing) -> bool {
        match standing {
            Standing::Superseded => self.best.is_some(),
            Standing::Contested => self.best.is_none(),
        }
    }
}

/// A chain: site and epoch.
type Chain = (String, i64);

/// A joint in the book of a site: its number there, and the last entry of each chain that names it.
#[derive(Debug, Default)]
struct InBook {
    joint: i64,
    last: Vec<(Chain, i64)>,
}

/// What is said of rows of joints that several books know, from the files of a state.
pub(super) fn standing(
    state: &Path,
    sites: &BTreeMap<String, SiteState>,
) -> Result<Vec<Said>, PublishError> {
    if sites.len() < 2 {
        return Ok(Vec::new());
    }
    let mut joints: HashMap<String, BTreeMap<&str, InBook>> = HashMap::new();
    for (site, held) in sites {
        for file in held.files.iter().filter(|f| f.path.starts_with("known/")) {
            let path = state.join(&file.path);
            let (joint, number) = (ints(&path, "joint")?, ints(&path, "number")?);
            let (epoch, name) = (ints(&path, "epoch")?, texts(&path, "introduced_by")?);
            let of_site = texts(&path, "of_site")?;
            for (at, name) in name.into_iter().enumerate() {
                let of = |column: &[i64]| column.get(at).copied().unwrap_or_default();
                let chain = (of_site.get(at).cloned().unwrap_or_default(), of(&epoch));
                let here = joints.entry(name).or_default().entry(site).or_default();
                here.joint = of(&joint);
                here.last.push((chain, of(&number)));
            }
        }
    }
    let ends: BTreeMap<&str, BTreeMap<Chain, i64>> = sites
        .iter()
        .map(|(site, s)| {
            let chains = s.chains.iter().map(|c| ((c.site.clone(), c.epoch), c.number));
            (site.as_str(), chains.collect())
        })
        .collect();
    let mut out = Vec::new();
    for (name, books) in joints.iter().filter(|(_, books)| books.len() > 1) {
        out.extend(judge(name, books, &ends));
    }
    out.sort_by(|a, b| (&a.introduced_by, &a.site).cmp(&(&b.introduced_by, &b.site)));
    Ok(out)
}

/// A book holds the entries of a chain up to its last: it knows all that another knows of a joint where
/// it holds the last entry of every chain that names the joint in that one.
fn judge(
    name: &str,
    books: &BTreeMap<&str, InBook>,
    ends: &BTreeMap<&str, BTreeMap<Chain, i64>>,
) -> Vec<Said> {
    let holds = |site: &str, last: &(Chain, i64)| {
        ends.get(site).and_then(|e| e.get(&last.0)).is_some_and(|n| *n >= last.1)
    };
    let knows = |a: &str, b: &str| books[b].last.iter().all(|last| holds(a, last));
    let whole = |a: &str, b: &str| {
        ends[b].iter().all(|(chain, number)| holds(a, &(chain.clone(), *number)))
    };
    // Of books that know the same of it, the one that knows more otherwise, then by name.
    let before = |a: &str, b: &str| match (whole(a, b), whole(b, a)) {
        (true, false) => true,
        (false, true) => false,
        _ => a < b,
    };
    let better = |a: &&str, b: &&str| knows(a, b) && (!knows(b, a) || before(a, b));
    let sites: BTreeSet<&str> = books.keys().copied().collect();
    // A book that another is better than is left; so a better one of the better ones is found in the end.
    let left: Vec<&str> =
        sites.iter().filter(|b| !sites.iter().any(|a| a != *b && better(a, b))).copied().collect();
    let alone = match left.as_slice() {
        [best] => Some((*best).to_owned()),
        _ => None,
    };
    let said = |site: &str, best: Option<String>| Said {
        site: site.to_owned(),
        joint: books[site].joint,
        introduced_by: name.to_owned(),
        best,
    };
    sites
        .iter()
        .filter_map(|site| match (&alone, left.contains(site)) {
            (Some(_), true) => None,
            (Some(best), false) => Some(said(site, Some(best.clone()))),
            (None, true) => Some(said(site, None)),
            (None, false) => {
                let best = left.iter().find(|a| better(a, site)).or(left.first());
                Some(said(site, best.map(|a| (*a).to_owned())))
            }
        })
        .collect()
}

/// Writes what is said.
pub(super) fn write(
    path: &Path,
    table: &PublishedTable,
    said: &[Said],
) -> Result<Written, PublishError> {
    let wanted = match table.name {
        "contested" => Standing::Contested,
        _ => Standing::Superseded,
    };
    let mut part = Part::new(path, table)?;
    for row in said.iter().filter(|s| s.is(wanted)) {
        for (at, column) in table.columns.iter().enumerate() {
            let value = match column.name {
                "site" => Seen::Text(&row.site),
                "joint" => Seen::Int(row.joint),
                "introduced_by" => Seen::Text(&row.introduced_by),
                _ => row.best.as_deref().map_or(Seen::Null, Seen::Text),
            };
            part.put(at, value);
        }
    }
    part.finish()
}
