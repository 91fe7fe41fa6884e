//! A finding as people write it in one cell: the word, and behind it what they know of it.
//!
//! `slip cut 0.04 in across`, `galled 15 %`, `dent 4.85 in at 12 ft`, `crack in slip area`.

use crate::condition::Catalogue;
use crate::intake::lookup::finding;
use crate::model::{Place, Qty, Vocabulary, WordError, fold};
use crate::units::Measure;

/// What a phrase says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Phrase {
    /// Word of the catalogue.
    pub what: String,
    pub size: Option<Qty>,
    /// Its share of what the catalogue names.
    pub share: Option<Qty>,
    /// Across the pipe, or along it.
    pub transverse: Option<bool>,
    pub place: Option<Place>,
    /// Distance from the pin shoulder.
    pub at: Option<Qty>,
}

/// Reads `across` and its like.
pub(super) fn direction(text: &str) -> Option<bool> {
    match fold(text).as_str() {
        "transverse" | "across" | "circumferential" | "yes" => Some(true),
        "longitudinal" | "along" | "axial" | "no" => Some(false),
        _ => None,
    }
}

/// The last quantity of a text, and what stands before it: from the first word that begins a
/// number which, with all that follows, is a quantity.
fn last_quantity(text: &str, measure: Measure) -> Option<(&str, Qty)> {
    let begins = text.char_indices().filter(|(i, c)| {
        let before = text[..*i].chars().next_back();
        (c.is_ascii_digit() || *c == '.') && before.is_none_or(char::is_whitespace)
    });
    for (i, _) in begins {
        if let Ok(qty) = Qty::parse(&text[i..], measure) {
            return Some((text[..i].trim(), qty));
        }
    }
    None
}

fn last_word(text: &str) -> Option<(&str, &str)> {
    text.rsplit_once(char::is_whitespace).map(|(rest, word)| (rest.trim(), word))
}

/// Reads a phrase. What the catalogue knows as a whole is not taken apart.
pub(super) fn read(text: &str, catalogue: Option<&Catalogue>) -> Result<Phrase, WordError> {
    let whole = match finding(text, catalogue) {
        Ok(what) => return Ok(Phrase { what, ..Phrase::default() }),
        Err(e) => e,
    };
    let mut out = Phrase::default();
    let mut rest = text.trim();
    loop {
        let bare = rest.trim_end_matches([',', ':']).trim();
        if let Some((before, word)) = last_word(bare)
            && out.transverse.is_none()
            && let Some(across) = direction(word)
        {
            out.transverse = Some(across);
            rest = before;
            continue;
        }
        if let Some((before, share)) = last_quantity(bare, Measure::Ratio)
            && out.share.is_none()
            && share.as_str().ends_with('%')
        {
            out.share = Some(share);
            rest = before;
            continue;
        }
        if let Some((before, length)) = last_quantity(bare, Measure::Depth) {
            let at = before.strip_suffix('@').or_else(|| match last_word(before) {
                Some((b, "at")) => Some(b),
                _ => None,
            });
            match at {
                Some(before) if out.at.is_none() => {
                    out.at = Some(length);
                    rest = before.trim();
                    continue;
                }
                None if out.size.is_none() => {
                    out.size = Some(length);
                    rest = before;
                    continue;
                }
                _ => {}
            }
        }
        let place = [" in ", " on ", " at "].iter().find_map(|sign| {
            let (before, place) = bare.rsplit_once(sign)?;
            let place = place.trim().strip_prefix("the ").unwrap_or(place);
            Place::from_word(place).ok().map(|p| (before.trim(), p))
        });
        match place {
            Some((before, place)) if out.place.is_none() => {
                out.place = Some(place);
                rest = before;
            }
            _ => {
                rest = bare;
                break;
            }
        }
        if let Ok(what) = finding(rest, catalogue) {
            return Ok(Phrase { what, ..out });
        }
    }
    if rest == text.trim() || rest.is_empty() {
        return Err(whole);
    }
    finding(rest, catalogue).map(|what| Phrase { what, ..out })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::Standards;

    fn told(text: &str) -> String {
        match read(text, Some(&Standards::shipped().findings)) {
            Ok(p) => {
                let mut out = p.what;
                let q = |q: Option<Qty>| q.map(|q| q.to_string()).unwrap_or_default();
                for (name, value) in [
                    ("size", q(p.size)),
                    ("share", q(p.share)),
                    ("across", p.transverse.map(|t| t.to_string()).unwrap_or_default()),
                    ("place", p.place.map(|p| p.to_string()).unwrap_or_default()),
                    ("at", q(p.at)),
                ] {
                    if !value.is_empty() {
                        out += &format!(" {name}={value}");
                    }
                }
                out
            }
            Err(e) => format!("! {e}"),
        }
    }

    #[test]
    fn findings_as_people_write_them() {
        for (text, means) in [
            ("galled", "galled"),
            ("Rough hardband", "hardband_rough"),
            ("slip cut 0.04 in across", "slip_cut size=0.04 in across=true"),
            ("slip cut, 1/32 in, along", "slip_cut size=1/32 in across=false"),
            ("dent 4 27/32 in at 12 ft", "dent size=4 27/32 in at=12 ft"),
            ("shoulder galled 15 %", "shoulder_galled share=15 %"),
            ("nick 0.03 in 10%", "shoulder_nick size=0.03 in share=10 %"),
            ("crack in slip area", "slip_crack"),
            ("pit 0.8 mm in bore", "external_pitting size=0.8 mm place=bore"),
            ("transverse cut 0.02 in", "cut_transverse size=0.02 in"),
        ] {
            assert_eq!(told(text), means, "{text}");
        }
    }

    #[test]
    fn a_strange_word_gets_a_suggestion_and_no_guess() {
        assert_eq!(told("galed"), "! 'galed' is not a finding; did you mean galled?");
        assert_eq!(told("galed 15 %"), "! 'galed' is not a finding; did you mean galled?");
        assert!(told("xyzzy").contains("`pipelore findings` lists"), "{}", told("xyzzy"));
        assert!(told("dent 4.85").starts_with("! 'dent 4.85' is not a finding"));
        assert!(told("").starts_with('!') && told("0.04 in").starts_with('!'));
    }
}
