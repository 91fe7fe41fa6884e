//! How objects of the standard are named, and how one names another: by identifiers, else by title.

use super::{Element, hole, title};

/// How an object is named.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Named {
    /// Identifiers: `uid`, `uuid`, aliases.
    pub(in crate::intake) ids: Vec<String>,
    pub(in crate::intake) title: Option<String>,
    /// The hole that it belongs to.
    pub(in crate::intake) hole: Hole,
}

/// How the hole of an object is named.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::intake) struct Hole {
    ids: Vec<String>,
    pub(in crate::intake) name: Option<String>,
}

impl Hole {
    /// By identifiers of well and hole in 1.4.1.1, by those of the reference in 2.x, and by name.
    pub(super) fn of(node: &Element) -> Self {
        let uid = |name: &str| node.attribute(name).filter(|id| says(id));
        let both = uid("uidWell").zip(uid("uidWellbore"));
        let mut ids: Vec<String> = both.map(|(w, b)| format!("{w}/{b}")).into_iter().collect();
        ids.extend(node.child("Wellbore").map(|w| Reference::of(w).ids).unwrap_or_default());
        Self { ids, name: hole(node) }
    }

    /// Whether two are one hole; `None` where neither identifiers nor names tell.
    pub(in crate::intake) fn is(&self, other: &Self) -> Option<bool> {
        if self.ids.iter().any(|id| other.ids.contains(id)) {
            return Some(true);
        }
        let (own, other) = self.name.as_ref().zip(other.name.as_ref())?;
        Some(crate::model::same_name(own, other))
    }
}

impl Named {
    pub(super) fn of(node: &Element) -> Self {
        let uids = ["uid", "uuid"].into_iter().filter_map(|name| node.attribute(name));
        let aliases = node.all("Aliases").filter_map(|a| a.text_of("Identifier"));
        let ids = uids.map(str::to_owned).chain(aliases).filter(|id| says(id)).collect();
        Self { ids, title: title(node), hole: Hole::of(node) }
    }

    /// Whether a text is one of its names.
    pub(in crate::intake) fn is(&self, name: &str) -> bool {
        self.ids.iter().chain(&self.title).any(|own| own == name)
    }
}

/// How an object names another.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::intake) struct Reference {
    pub ids: Vec<String>,
    pub title: Option<String>,
}

/// An identifier of zeros alone stands for none; samples of 2.x are full of it.
fn says(id: &str) -> bool {
    id.chars().any(|c| c.is_alphanumeric() && c != '0')
}

impl Reference {
    /// In 1.4.1.1 an attribute and a text, in 2.x elements.
    pub(super) fn of(node: &Element) -> Self {
        let uid = node.attribute("uidRef").map(str::to_owned);
        let parts = ["Uuid", "UuidAuthority"].into_iter().filter_map(|name| node.text_of(name));
        let title = node.text_of("Title").or_else(|| node.own_text());
        Self { ids: uid.into_iter().chain(parts).filter(|id| says(id)).collect(), title }
    }

    /// In words.
    pub(in crate::intake) fn words(&self) -> String {
        match (&self.title, self.ids.first()) {
            (Some(title), Some(id)) => format!("'{title}' ({id})"),
            (Some(name), None) | (None, Some(name)) => format!("'{name}'"),
            (None, None) => "none".to_owned(),
        }
    }

    /// How surely it means an object, the surest first; `None` where it means another one.
    pub(in crate::intake) fn means(&self, named: &Named) -> Option<By> {
        if self.ids.iter().any(|id| named.ids.contains(id)) {
            return Some(By::Id);
        }
        let title = self.title.as_ref()?;
        if named.title.as_ref().is_none_or(|t| !crate::model::same_name(t, title)) {
            return None;
        }
        // An alias may be put together of the identifiers of well, hole and object.
        let ends = |id: &String| named.ids.iter().any(|own| own.ends_with(id.as_str()));
        Some(if self.ids.iter().any(ends) { By::Alias } else { By::Title })
    }
}

/// By what an object is named, the surest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::intake) enum By {
    Id,
    Alias,
    Title,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::witsml::parse;

    #[test]
    fn holes_are_told_by_identifiers_and_by_name() {
        let of = |text: &str| Hole::of(&parse("a", text).unwrap());
        let by_uid = |bore: &str, name: &str| {
            of(&format!(
                "<log uidWell='W' uidWellbore='{bore}'><nameWell>A</nameWell><nameWellbore>{name}</nameWellbore></log>"
            ))
        };
        assert_eq!(by_uid("B1", "A 1").is(&by_uid("B1", "A 1 new")), Some(true));
        assert_eq!(by_uid("B1", "A 1").is(&by_uid("B2", "A 2")), Some(false));
        assert_eq!(by_uid("B1", "A 1").is(&of("<log/>")), None);
        let by_authority = |name: &str| {
            of(&format!(
                "<Log><Wellbore><Title>{name}</Title><UuidAuthority>B-01</UuidAuthority></Wellbore></Log>"
            ))
        };
        assert_eq!(by_authority("B-01").is(&by_authority("A-42")), Some(true));
    }

    #[test]
    fn an_object_is_named_in_either_version() {
        let named = |text: &str| Named::of(&parse("a", text).unwrap());
        let reference = |text: &str| Reference::of(&parse("a", text).unwrap());
        let old = named("<tubular uid='45t12'><name>Assy 1</name></tubular>");
        let new = named(
            "<Tubular uuid='00000000-0000-0000-0000-000000000000'><Aliases><Identifier>W-1B-145t12\
             </Identifier></Aliases><Citation><Title>Assy 1</Title></Citation></Tubular>",
        );
        let by_uid = reference("<tubular uidRef='45t12'>another name</tubular>");
        let by_authority = reference(
            "<Tubular><Title>Assy 1</Title><Uuid>00000000-0000-0000-0000-000000000000</Uuid>\
             <UuidAuthority>45t12</UuidAuthority></Tubular>",
        );
        assert_eq!(by_uid.means(&old), Some(By::Id));
        assert_eq!(by_uid.means(&new), None);
        assert_eq!(by_authority.means(&old), Some(By::Id));
        assert_eq!(by_authority.means(&new), Some(By::Alias));
        assert_eq!(reference("<tubular>Assy 1</tubular>").means(&new), Some(By::Title));
        assert_eq!(reference("<tubular>Assy 2</tubular>").means(&new), None);
    }
}
