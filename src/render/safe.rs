//! Text from strangers' files, made harmless for terminals and spreadsheets.

use std::borrow::Cow;

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
    fn formulas_do_not_reach_a_spreadsheet() {
        assert_eq!(for_spreadsheet("=1+1"), "'=1+1");
        assert_eq!(for_spreadsheet(" @SUM(A1)"), "' @SUM(A1)");
        assert_eq!(for_spreadsheet("\tK1"), "'\tK1");
        assert_eq!(for_spreadsheet("\r\n=1"), "'\r\n=1");
        assert_eq!(for_spreadsheet("-2+3"), "'-2+3");
        assert_eq!(for_spreadsheet("K1-0417"), "K1-0417");
    }
}
