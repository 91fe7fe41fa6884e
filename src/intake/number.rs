//! Numbers as files write them: decimal point or comma, thousands, fractions, signs for "no value".

/// Which sign stands before the decimals.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Decimal {
    /// `12.5`.
    Point,
    /// `12,5`.
    Comma,
}

impl Decimal {
    /// Reads `point` or `comma`, or the sign itself.
    pub fn parse(text: &str) -> Option<Self> {
        match text.trim().to_ascii_lowercase().as_str() {
            "point" | "." | "dot" => Some(Self::Point),
            "comma" | "," => Some(Self::Comma),
            _ => None,
        }
    }

    /// The word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Point => "point",
            Self::Comma => "comma",
        }
    }

    const fn sign(self) -> char {
        match self {
            Self::Point => '.',
            Self::Comma => ',',
        }
    }

    const fn other(self) -> char {
        match self {
            Self::Point => ',',
            Self::Comma => '.',
        }
    }
}

/// What the number cells of a file say about its decimal sign.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct DecimalVote {
    /// A cell that can only be meant with a decimal point.
    pub point: Option<String>,
    /// A cell that can only be meant with a decimal comma.
    pub comma: Option<String>,
    /// A cell like `1,234` that reads either way.
    pub unclear: Option<String>,
}

/// The sign that a file uses, or why that cannot be told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum DecimalVerdict {
    /// One sign fits all cells.
    Sign(Decimal),
    /// Some cells need one and some the other.
    Mixed(String, String),
    /// A cell reads either way, and nothing decides.
    Unclear(String),
}

impl DecimalVote {
    /// Looks at one cell of a number column.
    pub(super) fn see(&mut self, text: &str) {
        let (number, _) = split_cell(text);
        let (dots, commas) = (number.matches('.').count(), number.matches(',').count());
        let slot = match (dots, commas) {
            (0, 0) => return,
            (0, n) => {
                if !grouped(number, ',') {
                    &mut self.comma
                } else if n > 1 {
                    &mut self.point // 1,234,567 has thousands
                } else {
                    &mut self.unclear
                }
            }
            (n, 0) => {
                if n > 1 && grouped(number, '.') {
                    &mut self.comma
                } else {
                    &mut self.point
                }
            }
            _ => {
                if number.rfind('.') > number.rfind(',') {
                    &mut self.point
                } else {
                    &mut self.comma
                }
            }
        };
        slot.get_or_insert_with(|| text.trim().to_owned());
    }

    /// What the cells seen so far amount to.
    pub(super) fn verdict(&self) -> DecimalVerdict {
        match (&self.point, &self.comma, &self.unclear) {
            (Some(p), Some(c), _) => DecimalVerdict::Mixed(p.clone(), c.clone()),
            (None, Some(_), _) => DecimalVerdict::Sign(Decimal::Comma),
            (Some(_), None, _) | (None, None, None) => DecimalVerdict::Sign(Decimal::Point),
            (None, None, Some(u)) => DecimalVerdict::Unclear(u.clone()),
        }
    }
}

/// True for `1,234` and `12,345,678`: groups of three after a first group that is no zero.
fn grouped(number: &str, sign: char) -> bool {
    let number = number.trim_start_matches(['-', '+', '\u{2212}']);
    let mut groups = number.split(sign);
    let first = groups.next().unwrap_or("");
    let digits = |g: &str| g.bytes().all(|b| b.is_ascii_digit());
    (1..=3).contains(&first.len())
        && digits(first)
        && !first.starts_with('0')
        && groups.all(|g| g.len() == 3 && digits(g))
}

const FRACTIONS: [(char, &str); 7] = [
    ('\u{bd}', "1/2"),
    ('\u{bc}', "1/4"),
    ('\u{be}', "3/4"),
    ('\u{215b}', "1/8"),
    ('\u{215c}', "3/8"),
    ('\u{215d}', "5/8"),
    ('\u{215e}', "7/8"),
];

fn vulgar(c: char) -> Option<&'static str> {
    FRACTIONS.iter().find(|(f, _)| *f == c).map(|(_, text)| *text)
}

const fn blank(c: char) -> bool {
    matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}')
}

/// Splits a cell into its number and the unit after it: `12,5 mm`, `5-1/2 in`, `6½"`.
pub(super) fn split_cell(text: &str) -> (&str, &str) {
    let text = text.trim();
    let chars: Vec<(usize, char)> = text.char_indices().collect();
    let next_is_digit = |from: usize| {
        chars[from..]
            .iter()
            .find(|(_, c)| !blank(*c))
            .is_some_and(|(_, c)| c.is_ascii_digit() || vulgar(*c).is_some())
    };
    let mut end = 0;
    for (i, &(at, c)) in chars.iter().enumerate() {
        let after_digit = i > 0 && chars[i - 1].1.is_ascii_digit();
        let part = match c {
            '0'..='9' => true,
            '.' | ',' => next_is_digit(i + 1) || after_digit,
            '+' | '\u{2212}' => i == 0 || matches!(chars[i - 1].1, 'e' | 'E'),
            // a sign, an exponent's sign, or the hyphen of 5-1/2
            '-' => {
                i == 0 || matches!(chars[i - 1].1, 'e' | 'E') || after_digit && next_is_digit(i + 1)
            }
            '/' | '\'' => after_digit && next_is_digit(i + 1),
            'e' | 'E' => {
                after_digit
                    && match chars.get(i + 1) {
                        Some((_, '+' | '-')) => {
                            chars.get(i + 2).is_some_and(|(_, d)| d.is_ascii_digit())
                        }
                        Some((_, d)) => d.is_ascii_digit(),
                        None => false,
                    }
            }
            c if blank(c) => next_is_digit(i + 1),
            c => vulgar(c).is_some(),
        };
        if !part {
            break;
        }
        end = at + c.len_utf8();
    }
    let (number, unit) = text.split_at(end);
    (number.trim(), unit.trim())
}

/// Feet and inches in one cell, as inches: `31' 3 1/2"`, `31 ft 3 1/2 in`; `31-03` where the column is in
/// feet.
pub(super) fn feet_and_inches(text: &str, in_feet: bool) -> Option<String> {
    let text = text.trim();
    let marks = [("'", "\""), ("\u{2032}", "\u{2033}"), ("ft", "in")];
    let marked = marks.iter().find_map(|(foot, inch)| {
        let (feet, inches) = text.split_once(foot)?;
        Some((feet.trim(), inches.trim().strip_suffix(inch)?.trim()))
    });
    let dashed = || {
        let (feet, inches) = text.split_once('-')?;
        (in_feet && inches.len() == 2).then_some((feet, inches))
    };
    let (feet, inches) = marked.or_else(dashed)?;
    let feet: u32 = feet.parse().ok().filter(|f| *f < 10_000)?;
    let (whole, rest) = match inches.split_once(' ') {
        Some((whole, fraction)) if fraction.contains('/') => (whole, Some(fraction.trim())),
        None if inches.contains('/') => ("0", Some(inches)),
        _ => (inches, None),
    };
    let (whole, decimals) = whole.split_once('.').unwrap_or((whole, ""));
    let whole: u32 = whole.parse().ok().filter(|w| *w < 12)?;
    let digits = |t: &str| !t.is_empty() && t.chars().all(|c| c.is_ascii_digit());
    let sum = feet * 12 + whole;
    match (rest, decimals) {
        (Some(fraction), "") => {
            let (above, below) = fraction.split_once('/')?;
            (digits(above) && digits(below)).then(|| format!("{sum} {fraction}"))
        }
        (None, "") => Some(sum.to_string()),
        (None, decimals) if digits(decimals) => Some(format!("{sum}.{decimals}")),
        _ => None,
    }
}

/// A number as the book keeps it: decimal point, no thousands, `5 1/2` for any way of writing
/// that. `None` when it is no number under this decimal sign.
pub(super) fn plain(number: &str, decimal: Decimal) -> Option<String> {
    let number = number.trim();
    let (sign, body) = match number.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => ("-", rest.trim_start()),
        None => ("", number.strip_prefix('+').unwrap_or(number)),
    };
    if body.is_empty() {
        return None;
    }
    let mut text = String::with_capacity(body.len() + 4);
    text.push_str(sign);
    if let Some(whole) = mixed(body) {
        text.push_str(&whole);
        return Some(text);
    }
    // Thousands set off by a thin or unbreakable blank or an apostrophe.
    let body: String = if body.contains(['\'', '\u{a0}', '\u{202f}', '\u{2009}']) {
        let (whole, rest) = body.find(decimal.sign()).map_or((body, ""), |at| body.split_at(at));
        let joined: String =
            whole.chars().map(|c| if c == '\'' || blank(c) { ',' } else { c }).collect();
        if !grouped(&joined, ',') {
            return None;
        }
        joined.replace(',', "") + rest
    } else {
        body.to_owned()
    };
    let (mantissa, exponent) = body.find(['e', 'E']).map_or((&*body, ""), |at| body.split_at(at));
    let mut parts = mantissa.split(decimal.sign());
    let (whole, fraction) = (parts.next().unwrap_or(""), parts.next());
    if parts.next().is_some() {
        return None;
    }
    let whole = if whole.contains(decimal.other()) {
        if !grouped(whole, decimal.other()) {
            return None;
        }
        whole.replace(decimal.other(), "")
    } else {
        whole.to_owned()
    };
    let fraction_text = fraction.unwrap_or("");
    let digits = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    if !digits(&whole) || !digits(fraction_text) || whole.is_empty() && fraction_text.is_empty() {
        return None;
    }
    text.push_str(&whole);
    if fraction.is_some_and(|f| !f.is_empty()) {
        text.push('.');
        text.push_str(fraction_text);
    }
    text.push_str(exponent);
    Some(text)
}

/// `5-1/2`, `5½`, `5 1/2` and `1/2` as `5 1/2` and `1/2`.
fn mixed(body: &str) -> Option<String> {
    let (whole, fraction) = match body.char_indices().last() {
        Some((at, c)) if vulgar(c).is_some() => (&body[..at], vulgar(c).unwrap_or_default()),
        _ => {
            let slash = body.find('/')?;
            match body[..slash].rfind(|c: char| c == '-' || blank(c)) {
                Some(at) => {
                    let gap = body[at..].chars().next().map_or(1, char::len_utf8);
                    (&body[..at], &body[at + gap..])
                }
                None => ("", body),
            }
        }
    };
    let whole = whole.trim_end_matches(|c: char| c == '-' || blank(c));
    let sound = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    let (num, den) = fraction.split_once('/')?;
    let (num, den) = (num.trim(), den.trim());
    let fine = sound(whole) && sound(num) && sound(den) && !num.is_empty() && !den.is_empty();
    fine.then(|| {
        if whole.is_empty() { format!("{num}/{den}") } else { format!("{whole} {num}/{den}") }
    })
}

/// Numbers that stand for "no value" in logs and surveys.
const NULLS: [f64; 6] = [-999.25, -999.0, -9999.0, -9999.25, -99999.0, -999.2];

/// True for an empty cell and for the signs that mean the same.
pub(super) fn is_null(text: &str, also: &[String]) -> bool {
    let t = text.trim();
    if t.is_empty() || also.iter().any(|n| n == t) {
        return true;
    }
    let mut first = t.chars();
    match first.next() {
        Some('0'..='9') => false,
        Some('-' | '\u{2212}') if first.next().is_some_and(|c| c.is_ascii_digit()) => {
            // The unit-less forms only, with either decimal sign.
            t.len() < 16
                && t.replace(',', ".")
                    .replace('\u{2212}', "-")
                    .parse::<f64>()
                    .is_ok_and(|v| NULLS.iter().any(|n| n.to_bits() == v.to_bits()))
        }
        _ => matches!(
            t.to_ascii_lowercase().as_str(),
            "-" | "--"
                | "---"
                | "\u{2013}"
                | "\u{2014}"
                | "."
                | "?"
                | "n/a"
                | "na"
                | "#n/a"
                | "nan"
                | "null"
                | "nil"
                | "none"
                | "not recorded"
                | "not measured"
                | "n.a."
        ),
    }
}

/// Billionths of a number, the unit in which logs are summed.
pub(super) const NANO: i64 = 1_000_000_000;

/// True for a log's value that stands for "no value".
pub(super) fn is_null_nano(nano: i64) -> bool {
    matches!(
        nano,
        -999_250_000_000
            | -999_000_000_000
            | -9_999_000_000_000
            | -9_999_250_000_000
            | -99_999_000_000_000
            | -999_200_000_000
    )
}

/// Reads a decimal number as billionths, rounded toward zero beyond nine decimals; `None` when it
/// is no number or too large (beyond 9.2e9).
pub(super) fn nano(bytes: &[u8], decimal: Decimal) -> Option<i64> {
    let bytes = bytes.trim_ascii();
    let (negative, body) = match bytes.first()? {
        b'-' => (true, &bytes[1..]),
        b'+' => (false, &bytes[1..]),
        _ => (false, bytes),
    };
    let sign = match decimal {
        Decimal::Point => b'.',
        Decimal::Comma => b',',
    };
    let (mut value, mut places, mut digits, mut point) = (0i64, 0u32, 0u32, false);
    for &b in body {
        match b {
            b'0'..=b'9' => {
                digits += 1;
                if point {
                    if places == 9 {
                        continue;
                    }
                    places += 1;
                }
                value = value.checked_mul(10)?.checked_add(i64::from(b - b'0'))?;
            }
            b if b == sign && !point => point = true,
            b'e' | b'E' => return exponent(bytes, decimal),
            _ => return None,
        }
    }
    if digits == 0 {
        return None;
    }
    let value = value.checked_mul(10i64.pow(9 - places))?;
    Some(if negative { -value } else { value })
}

/// The rare number with an exponent.
#[cold]
fn exponent(bytes: &[u8], decimal: Decimal) -> Option<i64> {
    let text = std::str::from_utf8(bytes).ok()?;
    let value: f64 = match decimal {
        Decimal::Point => text.parse().ok()?,
        Decimal::Comma => text.replace(',', ".").parse().ok()?,
    };
    let scaled = (value * NANO as f64).round_ties_even();
    #[expect(clippy::cast_possible_truncation, reason = "the range is checked first")]
    (scaled.abs() < 9.2e18).then_some(scaled as i64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Rational;
    use proptest::prelude::*;

    #[test]
    fn feet_and_inches_are_inches() {
        for (text, in_feet, want) in [
            ("31' 3 1/2\"", false, Some("375 1/2")),
            ("31 ft 3 1/2 in", false, Some("375 1/2")),
            ("31'3\"", false, Some("375")),
            ("31' 0.25\"", false, Some("372.25")),
            ("31-03", true, Some("375")),
            ("31-03", false, None),
            ("5-1/2", true, None),
            ("31' 13\"", false, None),
            ("31.5", true, None),
        ] {
            assert_eq!(feet_and_inches(text, in_feet).as_deref(), want, "{text}");
        }
    }
    #[test]
    fn reads_what_people_write() {
        use Decimal::{Comma, Point};
        for (text, decimal, want) in [
            ("12.5", Point, "12.5"),
            ("12,5", Comma, "12.5"),
            ("1,234.5", Point, "1234.5"),
            ("1.234,5", Comma, "1234.5"),
            ("1\u{a0}234,5", Comma, "1234.5"),
            ("1'234", Point, "1234"),
            ("5-1/2", Point, "5 1/2"),
            ("5\u{bd}", Comma, "5 1/2"),
            ("\u{be}", Point, "3/4"),
            ("6 3/32", Point, "6 3/32"),
            ("\u{2212}3.25", Point, "-3.25"),
            ("+.5", Point, ".5"),
            ("7.", Point, "7"),
            ("1.5E+03", Point, "1.5E+03"),
        ] {
            assert_eq!(plain(text, decimal).as_deref(), Some(want), "{text}");
            assert!(Rational::parse(want).is_some(), "{want}");
        }
        for (text, decimal) in [
            ("12,5", Point),
            ("12.5", Comma),
            ("1,23,456", Point),
            ("1 234", Point),
            ("", Point),
            ("-", Point),
            ("1/", Point),
            ("0,362", Point),
        ] {
            assert_eq!(plain(text, decimal), None, "{text}");
        }
    }

    #[test]
    fn splits_the_unit_off() {
        for (text, number, unit) in [
            ("12,5 mm", "12,5", "mm"),
            ("5-1/2 in", "5-1/2", "in"),
            ("6\u{bd}\"", "6\u{bd}", "\""),
            ("5 1/2'", "5 1/2", "'"),
            ("1'234 m", "1'234", "m"),
            ("82 %", "82", "%"),
            ("-3.1e4N", "-3.1e4", "N"),
            ("3 ft/h", "3", "ft/h"),
            ("8 deg/100ft", "8", "deg/100ft"),
            ("K1", "", "K1"),
        ] {
            assert_eq!(split_cell(text), (number, unit), "{text}");
        }
    }

    #[test]
    fn the_decimal_sign_is_told_only_when_certain() {
        let verdict = |cells: &[&str]| {
            let mut vote = DecimalVote::default();
            for cell in cells {
                vote.see(cell);
            }
            vote.verdict()
        };
        assert_eq!(verdict(&["1229,99", "30"]), DecimalVerdict::Sign(Decimal::Comma));
        assert_eq!(verdict(&["1,234", "0,362"]), DecimalVerdict::Sign(Decimal::Comma));
        assert_eq!(verdict(&["1,234", "12.5"]), DecimalVerdict::Sign(Decimal::Point));
        assert_eq!(verdict(&["5", "6"]), DecimalVerdict::Sign(Decimal::Point));
        assert_eq!(verdict(&["1,234"]), DecimalVerdict::Unclear("1,234".into()));
        assert_eq!(verdict(&["1,5", "1.5"]), DecimalVerdict::Mixed("1.5".into(), "1,5".into()));
    }

    #[test]
    fn nulls_of_many_kinds() {
        for null in ["", " ", "-", "n/a", "-999.25", "-999,250", "-9999", "-9999.00", "NaN", "?"] {
            assert!(is_null(null, &[]), "{null}");
        }
        for value in ["0", "999.25", "-999.26", "-9.25", "x"] {
            assert!(!is_null(value, &[]), "{value}");
        }
        assert!(is_null("-1", &["-1".to_owned()]));
    }

    #[test]
    fn billionths() {
        for (text, want) in [
            ("81.6", 81_600_000_000),
            ("-0.000000001", -1),
            ("0.0000000019", 1),
            (" 7 ", 7 * NANO),
            ("1.36e0", 1_360_000_000),
        ] {
            assert_eq!(nano(text.as_bytes(), Decimal::Point), Some(want), "{text}");
        }
        assert_eq!(nano(b"1,5", Decimal::Comma), Some(1_500_000_000));
        for bad in ["", "-", ".", "1.2.3", "abc", "99999999999", "1,5", "1e99", "0x1"] {
            assert_eq!(nano(bad.as_bytes(), Decimal::Point), None, "{bad}");
        }
    }

    proptest! {
        #[test]
        fn soup_never_panics(text in "\\PC{0,30}") {
            let (number, _) = split_cell(&text);
            for d in [Decimal::Point, Decimal::Comma] {
                if let Some(p) = plain(number, d) {
                    // digits too many to hold are the only way to fail from here
                    prop_assert!(Rational::parse(&p).is_some() || p.len() > 20 || p.contains("/0") || p.contains(['e', 'E']), "{}", p);
                }
                let _ = nano(text.as_bytes(), d);
            }
            let _ = is_null(&text, &[]);
        }

        #[test]
        fn billionths_agree_with_exact_numbers(n in -9_000_000_000_000_000_000i64..9_000_000_000_000_000_000) {
            let text = Rational::new(i128::from(n), 1_000_000_000).unwrap().to_string();
            prop_assert_eq!(nano(text.as_bytes(), Decimal::Point), Some(n));
        }
    }
}
