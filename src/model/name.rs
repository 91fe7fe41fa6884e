//! Names that no vocabulary can know: serials, heats, wells, rigs, strings, places, owners, tags. Two
//! spellings name one thing where they differ in case and runs of blanks alone.

use std::cmp::Ordering;

/// A name as it compares: small letters, one blank for a run of blanks.
pub fn name_key(text: &str) -> String {
    folded(text).collect()
}

fn folded(text: &str) -> impl Iterator<Item = char> + '_ {
    text.split_whitespace().enumerate().flat_map(|(at, word)| {
        (at > 0).then_some(' ').into_iter().chain(word.chars().flat_map(char::to_lowercase))
    })
}

/// Whether two spellings name the same thing.
pub fn same_name(a: &str, b: &str) -> bool {
    compare_names(a, b) == Ordering::Equal
}

/// The order of the keys of two names, without making them.
pub fn compare_names(a: &str, b: &str) -> Ordering {
    // Most names differ, or end, before anything that is more than a small or capital letter.
    let plain = |c: u8| c.is_ascii_graphic();
    for (x, y) in a.bytes().zip(b.bytes()) {
        if !plain(x) || !plain(y) {
            return folded(a).cmp(folded(b));
        }
        match x.to_ascii_lowercase().cmp(&y.to_ascii_lowercase()) {
            Ordering::Equal => {}
            unequal => return unequal,
        }
    }
    match (a.as_bytes().get(b.len()), b.as_bytes().get(a.len())) {
        (None, None) => Ordering::Equal,
        (Some(c), _) if plain(*c) => Ordering::Greater,
        (_, Some(c)) if plain(*c) => Ordering::Less,
        _ => folded(a).cmp(folded(b)),
    }
}

/// A name in one of its spellings, equal to all others of that name. A map keeps the key that came
/// first, so that a group is shown in its first spelling.
#[derive(Clone, Copy, Debug)]
pub struct Name<'a>(pub &'a str);

impl PartialEq for Name<'_> {
    fn eq(&self, other: &Self) -> bool {
        same_name(self.0, other.0)
    }
}

impl Eq for Name<'_> {}

impl PartialOrd for Name<'_> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Name<'_> {
    fn cmp(&self, other: &Self) -> Ordering {
        compare_names(self.0, other.0)
    }
}

/// The first sign in a text that nobody can see, or that turns the direction of what follows, with its
/// place in characters from 1: a name that holds one looks like another and is none.
pub fn unseen_sign(text: &str) -> Option<(usize, char)> {
    text.chars().zip(1..).find(|(c, _)| is_unseen(*c)).map(|(c, at)| (at, c))
}

/// Whether a sign cannot be seen, or turns the direction of what follows: Unicode's general categories
/// Cc and Cf, the fillers and selectors that take no room, and the separators of lines. Blanks of any
/// width, and the ends of lines that a cell may hold, are blanks.
pub const fn is_unseen(c: char) -> bool {
    matches!(c,
        '\0'..='\u{8}' | '\u{e}'..='\u{1f}' | '\u{7f}'..='\u{84}' | '\u{86}'..='\u{9f}'
        | '\u{ad}' | '\u{34f}' | '\u{600}'..='\u{605}' | '\u{61c}' | '\u{6dd}' | '\u{70f}'
        | '\u{890}'..='\u{891}' | '\u{8e2}' | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}'
        | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}' | '\u{3164}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}'
        | '\u{ffa0}' | '\u{fff0}'..='\u{fffc}' | '\u{110bd}' | '\u{110cd}'
        | '\u{13430}'..='\u{1343f}' | '\u{1bca0}'..='\u{1bca3}' | '\u{1d173}'..='\u{1d17a}'
        | '\u{e0000}'..='\u{e0fff}')
}

/// What such a sign is called.
pub fn unseen_kind(c: char) -> &'static str {
    match c {
        '\u{ad}' => "a soft hyphen",
        '\u{feff}' => "a byte order mark",
        '\u{200b}'..='\u{200d}' | '\u{2060}'..='\u{2064}' => "a sign without width",
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {
            "a sign that turns the direction of writing"
        }
        '\u{2028}' | '\u{2029}' => "a separator of lines",
        c if c.is_control() => "a control character",
        _ => "a sign that nobody sees",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn case_and_blanks_do_not_tell_names_apart() {
        assert!(same_name("Larkfield 2H", " larkfield\u{a0}  2h "));
        assert!(same_name("ÅSGARD  Øst", "åsgard øst"));
        assert!(same_name("", "  "));
        assert!(same_name("K1", "k1 "));
        for other in ["Rig9", "Rig-9", "Rig 9 A", "Rig 90", "Rig", ""] {
            assert!(!same_name("Rig 9", other), "{other}");
            assert!(!same_name(other, "Rig 9"), "{other}");
        }
        let mut groups = BTreeMap::new();
        for name in ["Rig  9", "RIG 9", "Rig 8"] {
            *groups.entry(Name(name)).or_insert(0) += 1;
        }
        let shown: Vec<_> = groups.into_iter().map(|(name, count)| (name.0, count)).collect();
        assert_eq!(shown, [("Rig 8", 1), ("Rig  9", 2)]);
    }

    #[test]
    fn the_quick_way_is_the_order_of_keys() {
        let names =
            ["", " ", "a", "A ", "ab", "a b", "A\u{a0}B", "Å", "å", "a\u{301}", "b", "a  bc", "Z"];
        for a in names {
            for b in names {
                assert_eq!(compare_names(a, b), name_key(a).cmp(&name_key(b)), "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn what_nobody_sees_is_found_with_its_place() {
        for sign in [
            '\u{200b}', '\u{200f}', '\u{202e}', '\u{2066}', '\u{ad}', '\u{feff}', '\u{1}', '\u{7f}',
        ] {
            assert_eq!(unseen_sign(&format!("K1{sign}-7")), Some((3, sign)));
        }
        for seen in ["Rig\u{a0}9", "Rig\t9", "two\r\nlines", "Å–7", "قلم", "井1", "a\u{301}"]
        {
            assert_eq!(unseen_sign(seen), None, "{seen}");
        }
    }
}
