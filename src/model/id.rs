//! Names of things: sites, entries, joints.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// Why a name could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NameError {
    /// Not of the form `site-number`.
    #[error("'{0}' names no entry; an entry is written site-number, like yard-17")]
    Entry(String),
    /// Not a site name.
    #[error(
        "'{0}' is not a site name; use 1 to 32 letters, digits or underscores, like yard or rig_14"
    )]
    Site(String),
    /// Not of the form `serial@site-number`.
    #[error("'{0}' names no joint; a joint is written serial@site-number")]
    Joint(String),
    /// An empty serial, or one that cannot be kept.
    #[error("'{0}' is not a serial number; it needs 1 to 64 printable characters")]
    Serial(String),
}

/// A place that keeps a book: a yard, a rig. Lower-case letters, digits and underscores.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Site(String);

impl Site {
    /// Reads a site name; spaces and hyphens become underscores, letters lower case.
    pub fn parse(text: &str) -> Result<Self, NameError> {
        let name: String = text
            .trim()
            .chars()
            .map(|c| if c == ' ' || c == '-' { '_' } else { c.to_ascii_lowercase() })
            .collect();
        let sound = !name.is_empty()
            && name.len() <= 32
            && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
        if sound { Ok(Self(name)) } else { Err(NameError::Site(text.to_owned())) }
    }

    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Site {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// One chain of entries: a site's book, and which continuation of it. A book that was restored or
/// salvaged goes on under the next epoch, so that what the lost book had written can still come
/// back from other sites.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Chain {
    pub site: Site,
    /// 1 for the first book of the site.
    pub epoch: u32,
}

impl fmt::Display for Chain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.site.as_str())?;
        if self.epoch > 1 {
            write!(f, "/{}", self.epoch)?;
        }
        Ok(())
    }
}

impl FromStr for Chain {
    type Err = NameError;

    fn from_str(text: &str) -> Result<Self, NameError> {
        let bad = || NameError::Site(text.to_owned());
        let (site, epoch) = match text.split_once('/') {
            Some((site, epoch)) => (site, epoch.parse().map_err(|_| bad())?),
            None => (text, 1),
        };
        if epoch == 0 {
            return Err(bad());
        }
        Ok(Self { site: Site::parse(site)?, epoch })
    }
}

/// The name of an entry, the same in every book that holds it: `yard-17`, `yard/2-17`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EntryId {
    /// The chain it belongs to.
    pub chain: Chain,
    /// Its number there, from 1.
    pub number: u64,
}

impl EntryId {
    /// A text that sorts as names do: by site, continuation of its book, number. The hyphen sorts
    /// before all that a site's name may hold.
    pub fn sort_key(&self) -> String {
        format!("{}-{:010}-{:020}", self.chain.site, self.chain.epoch, self.number)
    }
}

impl fmt::Display for EntryId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{}", self.chain, self.number)
    }
}

impl FromStr for EntryId {
    type Err = NameError;

    fn from_str(text: &str) -> Result<Self, NameError> {
        let bad = || NameError::Entry(text.to_owned());
        let (chain, number) = text.trim().rsplit_once('-').ok_or_else(bad)?;
        let number = number.parse().map_err(|_| bad())?;
        Ok(Self { chain: chain.parse().map_err(|_| bad())?, number })
    }
}

/// A serial number as read, and the key under which look-ups find it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Serial(String);

impl Serial {
    /// Takes a serial as read; outer blanks go, inner ones collapse to one.
    pub fn parse(text: &str) -> Result<Self, NameError> {
        let kept = super::join_blanks(text);
        let sound =
            !kept.is_empty() && kept.chars().count() <= 64 && !kept.chars().any(char::is_control);
        if sound { Ok(Self(kept)) } else { Err(NameError::Serial(text.to_owned())) }
    }

    /// Key for look-ups: capitals, no blanks, one kind of hyphen.
    pub fn key(&self) -> String {
        self.0
            .chars()
            .filter(|c| !c.is_whitespace())
            .map(|c| match c {
                '\u{2010}'..='\u{2015}' | '\u{2212}' | '_' => '-',
                c => c,
            })
            .flat_map(char::to_uppercase)
            .collect()
    }
}

impl fmt::Display for Serial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A joint as an entry names it: the serial that was read, and the entry that introduced the
/// joint. The second is the joint; the first is evidence.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct JointRef {
    pub serial: Serial,
    /// The entry that introduced the joint.
    pub joint: EntryId,
}

impl fmt::Display for JointRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}@{}", self.serial, self.joint)
    }
}

impl FromStr for JointRef {
    type Err = NameError;

    fn from_str(text: &str) -> Result<Self, NameError> {
        let (serial, joint) =
            text.rsplit_once('@').ok_or_else(|| NameError::Joint(text.to_owned()))?;
        Ok(Self { serial: Serial::parse(serial)?, joint: joint.parse()? })
    }
}

/// Serialises through `Display` and `FromStr`, as one short string.
macro_rules! as_string {
    ($($name:ty),*) => {$(
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                String::deserialize(d)?.parse().map_err(de::Error::custom)
            }
        }
    )*};
}

as_string!(EntryId, Chain, JointRef);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_read_back() {
        for text in ["yard-17", "rig_14-1", "yard/2-17"] {
            assert_eq!(text.parse::<EntryId>().unwrap().to_string(), text);
        }
        let joint: JointRef = "K1-0417@yard-12".parse().unwrap();
        assert_eq!(joint.serial.to_string(), "K1-0417");
        assert_eq!(joint.joint.number, 12);
        let odd: JointRef = "A@B 7@yard/3-9".parse().unwrap();
        assert_eq!((odd.serial.to_string().as_str(), odd.joint.chain.epoch), ("A@B 7", 3));
    }

    #[test]
    fn sort_keys_sort_as_names_do() {
        let names = ["rig-9", "rig-10", "rig/2-1", "rig/11-1", "rig_2-1", "yard-2", "yard0-1"];
        let names = names.map(|n| n.parse::<EntryId>().unwrap());
        assert!(names.is_sorted());
        assert!(names.map(|n| n.sort_key()).is_sorted());
    }

    #[test]
    fn bad_names_say_what_would_be_right() {
        for bad in ["", "yard", "yard-", "-3", "yard-x", "yard/0-1", "Yärd-1"] {
            assert!(bad.parse::<EntryId>().is_err(), "{bad}");
        }
        assert_eq!(
            "17".parse::<EntryId>().unwrap_err().to_string(),
            "'17' names no entry; an entry is written site-number, like yard-17"
        );
    }

    #[test]
    fn look_up_key_forgives_spelling() {
        let key = |t: &str| Serial::parse(t).unwrap().key();
        assert_eq!(key("K1-0417"), key(" k1 - 0417 "));
        assert_eq!(key("K1\u{2013}0417"), "K1-0417");
        assert_ne!(key("K1-1"), key("K11"));
    }

    #[test]
    fn site_names_are_tame() {
        assert_eq!(Site::parse("Rig 14").unwrap().as_str(), "rig_14");
        for bad in ["", "a/b", "é", &"x".repeat(33)] {
            assert!(Site::parse(bad).is_err(), "{bad}");
        }
    }
}
