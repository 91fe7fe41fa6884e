//! What a book adopted: of each kind of set what is in force, and since when. By what the entries
//! say alone (effective time, then name), whatever book they stand in and whenever they came.
//!
//! The founding adoption holds from the beginning until another one takes its place. Of several,
//! those of other sites, the first founds and the others change nothing: what a book judged by does
//! not change because a site that began later is heard of. A book that holds none is judged by the
//! first edition, as it was before adoptions founded books.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::Arc;

use crate::condition::{Edition, EditionError, Held, LimitSet, Standards};
use crate::ledger::digest;
use crate::model::{Adopted, AdoptionBody, Body, Entry, Instant, SetKind, Vocabulary};

use super::exposure::Method;
use super::facts::{self, Placed};

/// A set that is in force from an instant on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InForce {
    /// From when; `None` for what founds the book, which reaches back to the beginning.
    pub from: Option<Instant>,
    /// The entry that adopted it; `None` for the first edition in a book that adopted none.
    pub entry: Option<Arc<Entry>>,
    /// An edition brought it.
    pub of_edition: bool,
    /// Name and edition under which it was adopted.
    pub name: String,
    /// The set as text.
    pub text: Cow<'static, str>,
}

impl InForce {
    fn adoption(&self) -> Option<&AdoptionBody> {
        if let Body::Adoption(b) = &self.entry.as_ref()?.body { Some(b) } else { None }
    }

    /// Why it was adopted, in words.
    pub fn remark(&self) -> Option<&str> {
        self.adoption()?.remark.as_deref()
    }
}

/// What a book adopted.
#[derive(Clone, Debug, PartialEq)]
pub struct Adoptions {
    sets: BTreeMap<SetKind, Vec<InForce>>,
    founded: Arc<Standards>,
    /// Standards that took the place of others, by the instant from which they are in force.
    later: Vec<(Instant, Arc<Standards>)>,
    /// Founding adoptions that change nothing.
    idle: Vec<Arc<Entry>>,
}

/// An adoption that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{entry}: {what}")]
pub struct Unreadable {
    /// Name of the entry.
    pub entry: String,
    /// What is wrong with it.
    pub what: String,
}

fn read(placed: &Placed) -> Option<&AdoptionBody> {
    if let Body::Adoption(b) = &placed.entry.body { Some(b) } else { None }
}

/// An adoption's sets, as an edition brings them: a set by itself is an edition of one.
fn edition_of(b: &AdoptionBody) -> Result<Edition, EditionError> {
    let alone =
        |kind, text: &str| Edition::new(&b.name, BTreeMap::from([(kind, text.to_owned().into())]));
    let kind = match b.what {
        Adopted::Edition => {
            let text = b.text.as_deref();
            let text = text.ok_or_else(|| EditionError::Format("it has no text".to_owned()))?;
            return Edition::parse(text);
        }
        Adopted::Limits => SetKind::Limits,
        Adopted::Fatigue => SetKind::Fatigue,
        Adopted::Rules => SetKind::Rules,
    };
    if let Some(text) = &b.text {
        return Ok(alone(kind, text));
    }
    // Before there were editions what shipped was adopted by its name; of fatigue methods also one
    // curve in every environment.
    let first = Edition::first().only(&[kind]);
    let is_first = |text: &str| Method::parse(text, None).is_ok_and(|m| m.name == b.name);
    Ok(if kind != SetKind::Fatigue || first.set(kind).is_some_and(is_first) {
        first
    } else {
        alone(kind, &Method::everywhere(&b.name))
    })
}

/// The name by which the fatigue method of an adoption goes, where its text names none.
fn method_name(b: &AdoptionBody) -> Option<&str> {
    (b.what == Adopted::Fatigue).then_some(b.name.as_str())
}

/// Whether an adoption changes how joints are judged, and not only what is called for or how damage
/// is worked out.
pub fn judges(b: &AdoptionBody) -> bool {
    let others = [SetKind::Fatigue, SetKind::Rules];
    edition_of(b).is_ok_and(|e| e.sets().any(|(kind, _)| !others.contains(&kind)))
}

/// Says what is wrong with an adoption by itself.
pub(super) fn wrong(b: &AdoptionBody) -> Result<(), String> {
    let said = |e: EditionError| e.to_string();
    let edition = edition_of(b).map_err(said)?;
    Standards::first().with(&edition).map_err(said)?;
    edition.set(SetKind::Fatigue).map(|t| Method::parse(t, method_name(b))).transpose()?;
    match SetKind::ALL.iter().find(|k| edition.set(**k).is_none()) {
        Some(lacks) if b.founding => Err(format!("what founds a book brings its {lacks}")),
        Some(_) | None => Ok(()),
    }
}

impl Adoptions {
    /// What adoptions that stand, in any order, put in force.
    pub fn of(entries: &[Placed]) -> Result<Self, Unreadable> {
        let mut entries = entries.to_vec();
        facts::sort(&mut entries);
        let all = || entries.iter().filter_map(|p| Some((p, read(p)?)));
        let mut founding = all().filter(|(_, b)| b.founding);
        let mut out = match founding.next() {
            None => Self::of_edition(Edition::first())?,
            Some((p, b)) => {
                let edition = edition_of(b).map_err(|e| of_entry(p, &e))?;
                Self::founded_on(&edition, Some(&p.entry)).map_err(|e| of_entry(p, &e))?
            }
        };
        out.idle = founding.map(|(p, _)| Arc::clone(&p.entry)).collect();
        let mut base = out.founded.limits.clone();
        for (p, b) in all().filter(|(_, b)| !b.founding) {
            out.take(p, b, &mut base).map_err(|e| of_entry(p, &e))?;
        }
        Ok(out)
    }

    /// What is in force where nothing but an edition was adopted.
    pub fn of_edition(edition: &Edition) -> Result<Self, Unreadable> {
        Self::founded_on(edition, None)
            .map_err(|e| Unreadable { entry: edition.name().to_owned(), what: e.to_string() })
    }

    fn founded_on(edition: &Edition, by: Option<&Arc<Entry>>) -> Result<Self, EditionError> {
        let founds = |(kind, text): (SetKind, &Cow<'static, str>)| {
            let (entry, name) = (by.cloned(), edition.name().to_owned());
            let set = InForce { from: None, entry, of_edition: true, name, text: text.clone() };
            (kind, vec![set])
        };
        Ok(Self {
            sets: edition.sets().map(founds).collect(),
            founded: Arc::new(Standards::first().with(edition)?),
            later: Vec::new(),
            idle: Vec::new(),
        })
    }

    /// Takes an adoption in that comes after all others. `base` are the limits over which limits of
    /// one's own lie: those of the last edition.
    fn take(
        &mut self,
        p: &Placed,
        b: &AdoptionBody,
        base: &mut Held<LimitSet>,
    ) -> Result<(), EditionError> {
        let edition = edition_of(b)?;
        for (kind, text) in edition.sets() {
            self.sets.entry(kind).or_default().push(InForce {
                from: Some(p.at()),
                entry: Some(Arc::clone(&p.entry)),
                of_edition: b.what == Adopted::Edition || b.text.is_none(),
                name: b.name.clone(),
                text: text.clone(),
            });
        }
        let now = self.later.last().map_or(&self.founded, |(_, standards)| standards);
        let mut next = Standards::clone(now).with(&edition)?;
        if edition.set(SetKind::Limits).is_some() {
            if b.what == Adopted::Limits && b.text.is_some() {
                // Where a set of one's own is silent the edition's holds.
                next.limits = next.limits.over(base).into();
            } else {
                *base = next.limits.clone();
            }
        }
        if next != **now {
            self.later.push((p.at(), Arc::new(next)));
        }
        Ok(())
    }

    /// The standards in force at an instant.
    pub fn standards_at(&self, at: Instant) -> &Arc<Standards> {
        let n = self.later.partition_point(|(t, _)| *t <= at);
        n.checked_sub(1).and_then(|i| self.later.get(i)).map_or(&self.founded, |(_, s)| s)
    }

    /// The fatigue method in force: the one adopted last.
    ///
    /// Unlike the other sets it waits for no day. Damage of all runs, early and late, is worked out
    /// under one method, or their sum would rank nothing; derived rows know entries and no clock. So
    /// the order of adoptions decides, and an adoption that is dated ahead (another site's clock)
    /// counts from its arrival.
    pub fn method(&self) -> Result<Method, Unreadable> {
        let (text, name) = self.method_as_adopted();
        Method::parse(text, name).map_err(|what| Unreadable {
            entry: "the fatigue method adopted last".to_owned(),
            what,
        })
    }

    /// Text of the fatigue method, and its name where the text gives none.
    fn method_as_adopted(&self) -> (&str, Option<&str>) {
        let last = self.sets(SetKind::Fatigue).last();
        let name = last.and_then(|set| method_name(set.adoption()?));
        (last.map_or("", |set| &set.text), name)
    }

    /// Whether others judge joints and work out damage just as these do.
    pub fn judge_like(&self, other: &Self) -> bool {
        self.founded == other.founded && self.later == other.later && self.work_out_like(other)
    }

    /// Whether others work out damage just as these do.
    pub fn work_out_like(&self, other: &Self) -> bool {
        self.method_as_adopted() == other.method_as_adopted()
    }

    /// What was adopted of a kind of set, in the order in which it comes into force.
    pub fn sets(&self, kind: SetKind) -> &[InForce] {
        self.sets.get(&kind).map_or(&[], Vec::as_slice)
    }

    /// The set of a kind in force at an instant.
    pub fn set_at(&self, kind: SetKind, at: Instant) -> Option<&InForce> {
        let all = self.sets(kind);
        let n = all.partition_point(|s| s.from.is_none_or(|from| from <= at));
        all.get(n.saturating_sub(1))
    }

    /// The set of a kind that an edition brought last before an instant, where what is in force is
    /// that or lies over it. Limits of one's own lie over those of an edition; other sets of one's own
    /// stand alone.
    pub fn edition_at(&self, kind: SetKind, at: Instant) -> Option<&InForce> {
        let now = self.set_at(kind, at)?;
        if now.of_edition || kind != SetKind::Limits {
            return Some(now).filter(|set| set.of_edition);
        }
        let all = self.sets(kind).iter().rev();
        all.filter(|s| s.from.is_none_or(|from| from <= at)).find(|s| s.of_edition)
    }

    /// The set of a kind that comes into force next after an instant.
    pub fn next_after(&self, kind: SetKind, at: Instant) -> Option<&InForce> {
        self.sets(kind).iter().find(|s| s.from.is_some_and(|from| from > at))
    }

    /// Founding adoptions of other sites that change nothing.
    pub fn idle(&self) -> &[Arc<Entry>] {
        &self.idle
    }
}

fn of_entry(p: &Placed, what: &impl ToString) -> Unreadable {
    Unreadable { entry: p.entry.id.to_string(), what: what.to_string() }
}

/// The body of an adoption.
pub fn body(what: Adopted, name: &str, text: &str, remark: Option<&str>) -> AdoptionBody {
    AdoptionBody {
        what,
        name: name.to_owned(),
        text: Some(text.to_owned()),
        sha256: digest(text.as_bytes()),
        founding: false,
        remark: remark.map(str::to_owned),
    }
}
