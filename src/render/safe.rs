//! Text from strangers' files, made harmless for terminals and spreadsheets.

use std::borrow::Cow;
use std::fmt::Write as _;

/// True for characters that move the cursor, colour the screen, reorder text or hide.
fn is_unruly(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}'
            | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}'
            | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

/// Text for a terminal or a page: unruly characters become `\u{…}`; a line break becomes a blank.
pub fn for_screen(text: &str) -> Cow<'_, str> {
    if !text.chars().any(is_unruly) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if matches!(c, '\n' | '\r' | '\t') {
            out.push(' ');
        } else if is_unruly(c) {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// JSON for a terminal: unruly characters in it as the escapes of JSON, so that it says the same.
pub fn json_for_screen(json: &str) -> Cow<'_, str> {
    let unruly = |c: char| c != '\n' && is_unruly(c);
    if !json.chars().any(unruly) {
        return Cow::Borrowed(json);
    }
    let mut out = String::with_capacity(json.len() + 16);
    for c in json.chars() {
        if unruly(c) {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                let _ = write!(out, "\\u{unit:04x}");
            }
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// Text for a spreadsheet cell: what would start a formula gets an apostrophe before it.
pub fn for_spreadsheet(text: &str) -> Cow<'_, str> {
    let starts = |c: Option<char>| {
        matches!(
            c,
            Some(
                '=' | '+'
                    | '-'
                    | '@'
                    | '|'
                    | '%'
                    | '\t'
                    | '\r'
                    | '\n'
                    | '\u{ff1d}'
                    | '\u{ff0b}'
                    | '\u{ff0d}'
                    | '\u{ff20}'
            )
        )
    };
    if starts(text.chars().next()) || starts(text.trim_start().chars().next()) {
        Cow::Owned(format!("'{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escape_sequences_do_not_reach_the_screen() {
        assert_eq!(for_screen("K1\u{1b}[31m-7"), "K1\\u{1b}[31m-7");
        assert_eq!(for_screen("a\u{202e}b"), "a\\u{202e}b");
        assert_eq!(for_screen("two\nlines"), "two lines");
        assert!(matches!(for_screen("K1-0417 é 漢"), Cow::Borrowed(_)));
    }

    #[test]
    fn json_on_a_screen_says_the_same() {
        let text = serde_json::json!({"a": "x\u{9b}31m\u{202e}\u{e0041}é"}).to_string();
        let shown = json_for_screen(&text);
        assert!(shown.is_ascii() || !shown.chars().any(is_unruly), "{shown}");
        let (a, b): (serde_json::Value, serde_json::Value) =
            (serde_json::from_str(&text).unwrap(), serde_json::from_str(&shown).unwrap());
        assert_eq!(a, b);
    }

    #[test]
    fn formulas_do_not_reach_a_spreadsheet() {
        assert_eq!(for_spreadsheet("=1+1"), "'=1+1");
        assert_eq!(for_spreadsheet(" @SUM(A1)"), "' @SUM(A1)");
        assert_eq!(for_spreadsheet("\tK1"), "'\tK1");
        assert_eq!(for_spreadsheet("\r\n=1"), "'\r\n=1");
        assert_eq!(for_spreadsheet("-2+3"), "'-2+3");
        assert_eq!(for_spreadsheet("K1-0417"), "K1-0417");
    }
}
