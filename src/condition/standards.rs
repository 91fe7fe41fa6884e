//! Everything by which joints are judged, as one value: whoever judges is given it, and nothing
//! judges by what the program happens to ship.

use std::ops::Deref;
use std::sync::{Arc, LazyLock};

use crate::model::SetKind;

use super::catalogue::Catalogue;
use super::edition::{Edition, EditionError, FIRST, Shipped, latest, shipped_with};
use super::limits::LimitSet;
use super::methods::Capabilities;
use super::needs::Needs;
use super::repair::Works;
use super::table::TableError;

/// The sets by which joints are judged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Standards {
    pub limits: Held<LimitSet>,
    pub findings: Held<Catalogue>,
    /// What each method of inspection can see.
    pub capabilities: Held<Capabilities>,
    /// What must be known of a part before it is passed.
    pub needs: Held<Needs>,
    /// What each work does to the records of a joint.
    pub works: Held<Works>,
}

/// A set: one of an edition that shipped, read when it is first asked for, or another.
#[derive(Debug)]
pub enum Held<T: 'static> {
    /// Of an edition that shipped.
    Shipped(&'static LazyLock<T>),
    /// Of whatever else was adopted.
    Own(Arc<T>),
}

impl<T> Clone for Held<T> {
    fn clone(&self) -> Self {
        match self {
            Self::Shipped(set) => Self::Shipped(set),
            Self::Own(set) => Self::Own(Arc::clone(set)),
        }
    }
}

impl<T> From<T> for Held<T> {
    fn from(set: T) -> Self {
        Self::Own(Arc::new(set))
    }
}

impl<T> Deref for Held<T> {
    type Target = T;

    fn deref(&self) -> &T {
        match self {
            Self::Shipped(set) => set,
            Self::Own(set) => set,
        }
    }
}

impl<T: PartialEq> PartialEq for Held<T> {
    fn eq(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Shipped(a), Self::Shipped(b)) if std::ptr::eq(*a, *b) => true,
            _ => **self == **other,
        }
    }
}

impl<T: Eq> Eq for Held<T> {}

impl Standards {
    const fn of(edition: &'static Shipped) -> Self {
        Self {
            limits: Held::Shipped(&edition.limits),
            findings: Held::Shipped(&edition.findings),
            capabilities: Held::Shipped(&edition.capabilities),
            needs: Held::Shipped(&edition.needs),
            works: Held::Shipped(&edition.works),
        }
    }

    /// Those of the edition that judges books which adopted none.
    pub const fn first() -> Self {
        Self::of(&FIRST)
    }

    /// Those of the edition that ships with this program.
    pub fn shipped() -> Self {
        Self::of(latest())
    }

    /// These, but for those that an edition brings.
    pub fn with(mut self, edition: &Edition) -> Result<Self, EditionError> {
        let e = edition;
        take(e, SetKind::Limits, &mut self.limits, |s| &s.limits, LimitSet::parse)?;
        take(e, SetKind::Findings, &mut self.findings, |s| &s.findings, Catalogue::parse)?;
        take(
            e,
            SetKind::Methods,
            &mut self.capabilities,
            |s| &s.capabilities,
            Capabilities::parse,
        )?;
        take(e, SetKind::Needs, &mut self.needs, |s| &s.needs, Needs::parse)?;
        take(e, SetKind::Works, &mut self.works, |s| &s.works, Works::parse)?;
        Ok(self)
    }
}

/// Puts the set of an edition in the place of another.
fn take<T>(
    edition: &Edition,
    set: SetKind,
    slot: &mut Held<T>,
    of: impl Fn(&'static Shipped) -> &'static LazyLock<T>,
    parse: impl Fn(&str) -> Result<T, Vec<TableError>>,
) -> Result<(), EditionError> {
    let Some(text) = edition.set(set) else { return Ok(()) };
    *slot = match shipped_with(set, text) {
        Some(shipped) => Held::Shipped(of(shipped)),
        None => parse(text).map_err(|errors| EditionError::Set { set, errors })?.into(),
    };
    Ok(())
}
