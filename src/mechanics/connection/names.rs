//! Names of connections: the numbered names, the old names that mean the same thread, and a reader
//! that forgives spelling.

use std::str::FromStr;

use super::catalogue::{CATALOGUE, ConnectionType, Style};

/// Families that only live on as other names of numbered connections.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum OldStyle {
    InternalFlush,
    FullHole,
    ExtraHole,
    SlimHole,
    DoubleStreamline,
    WideOpen,
}

impl OldStyle {
    const fn name(self) -> &'static str {
        match self {
            Self::InternalFlush => "IF",
            Self::FullHole => "FH",
            Self::ExtraHole => "XH",
            Self::SlimHole => "SH",
            Self::DoubleStreamline => "DSL",
            Self::WideOpen => "WO",
        }
    }
}

/// An old name of a numbered connection: family, size in eighths of an inch, connection.
type OldName = (OldStyle, u32, ConnectionType);

/// Old names that interchange with a numbered connection.
///
/// Source: API Spec 7 interchange table for IF and 4 FH, in a public reprint (published); a public
/// page on tool-joint connections for XH, SH, DSL and WO (published, secondary). NC names and IF
/// names differ in the thread root of old pins (V-065), not in gauge dimensions.
const OLD_NAMES: [OldName; 16] = {
    use ConnectionType::{Nc26, Nc31, Nc38, Nc40, Nc46, Nc50};
    use OldStyle::{DoubleStreamline, ExtraHole, FullHole, InternalFlush, SlimHole, WideOpen};
    [
        (InternalFlush, 19, Nc26),
        (SlimHole, 23, Nc26),
        (InternalFlush, 23, Nc31),
        (SlimHole, 28, Nc31),
        (InternalFlush, 28, Nc38),
        (SlimHole, 36, Nc38),
        (FullHole, 32, Nc40),
        (DoubleStreamline, 36, Nc40),
        (InternalFlush, 32, Nc46),
        (ExtraHole, 36, Nc46),
        (WideOpen, 32, Nc46),
        (InternalFlush, 36, Nc50),
        (ExtraHole, 40, Nc50),
        (DoubleStreamline, 44, Nc50),
        (WideOpen, 36, Nc50),
        // Not in the table: the same thread by its dimensions, common practice.
        (WideOpen, 28, Nc38),
    ]
};

impl ConnectionType {
    /// The name of a connection in any of its spellings; a maker's own as it is.
    pub fn spelled(text: &str) -> &str {
        text.parse().map_or(text, |known: Self| known.name())
    }

    /// Returns the old names that interchange with the connection, `4 1/2 IF` for NC50.
    pub fn old_names(self) -> Vec<String> {
        OLD_NAMES
            .iter()
            .filter(|(_, _, connection)| *connection == self)
            .map(|(style, eighths, _)| format!("{} {}", inches(*eighths), style.name()))
            .collect()
    }
}

/// Writes eighths of an inch as `4 1/2`.
fn inches(eighths: u32) -> String {
    let (whole, rest) = (eighths / 8, eighths % 8);
    match rest {
        0 => format!("{whole}"),
        4 => format!("{whole} 1/2"),
        2 | 6 => format!("{whole} {}/4", rest / 2),
        _ => format!("{whole} {rest}/8"),
    }
}

/// A name that means no connection of the catalogue.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{text:?} is no rotary shouldered connection known here{}; proprietary connections are rated by \
     their maker's sheet only",
    nearest.map_or_else(String::new, |c| format!(" (the nearest name is {c})"))
)]
pub struct UnknownConnection {
    /// The name as given.
    pub text: String,
    /// The connection of the nearest name, if one is near.
    pub nearest: Option<ConnectionType>,
}

impl FromStr for ConnectionType {
    type Err = UnknownConnection;

    /// Reads a connection name in any usual spelling: `NC50`, `nc 50`, `4 1/2 IF`, `4-1/2" IF`,
    /// `4½ IF`, `4.5 in IF`, `5 1/2 FH`, `6-5/8 REG`, `4-1/2 H90`, `H-90 4 1/2`. The old names of
    /// numbered connections give the numbered connection.
    fn from_str(text: &str) -> Result<Self, UnknownConnection> {
        let unknown = || UnknownConnection { text: text.to_owned(), nearest: nearest(text) };
        let (family, rest) = family(text).ok_or_else(unknown)?;
        let found = match family {
            Family::Numbered => {
                let number = rest.trim_matches(|c: char| !c.is_ascii_digit());
                CATALOGUE
                    .iter()
                    .find(|s| s.style == Style::Nc && s.name.strip_prefix("NC") == Some(number))
                    .map(|s| s.connection)
            }
            Family::Sized(style) => {
                let eighths = eighths(&rest).ok_or_else(unknown)?;
                let name = format!("{} {}", inches(eighths), style.word());
                CATALOGUE
                    .iter()
                    .find(|s| s.name == name)
                    .map(|s| s.connection)
                    // 4 FH has no thread of its own, it is an old name.
                    .or_else(|| {
                        old(OldStyle::FullHole, eighths).filter(|_| style == Style::FullHole)
                    })
            }
            Family::Old(style) => old(style, eighths(&rest).ok_or_else(unknown)?),
        };
        found.ok_or_else(unknown)
    }
}

enum Family {
    Numbered,
    Sized(Style),
    Old(OldStyle),
}

fn old(style: OldStyle, eighths: u32) -> Option<ConnectionType> {
    OLD_NAMES.iter().find(|n| n.0 == style && n.1 == eighths).map(|n| n.2)
}

/// Splits a name into its family and what is left (the size).
fn family(text: &str) -> Option<(Family, String)> {
    let upper = plain(text);
    // Longer words first, so that REGULAR is not read as REG and a rest.
    let words: [(&str, Family); 19] = [
        ("H-90", Family::Sized(Style::H90)),
        ("H 90", Family::Sized(Style::H90)),
        ("H90", Family::Sized(Style::H90)),
        ("REGULAR", Family::Sized(Style::Regular)),
        ("REG", Family::Sized(Style::Regular)),
        ("FULL HOLE", Family::Sized(Style::FullHole)),
        ("FULLHOLE", Family::Sized(Style::FullHole)),
        ("FH", Family::Sized(Style::FullHole)),
        ("INTERNAL FLUSH", Family::Old(OldStyle::InternalFlush)),
        ("IF", Family::Old(OldStyle::InternalFlush)),
        ("EXTRA HOLE", Family::Old(OldStyle::ExtraHole)),
        ("XH", Family::Old(OldStyle::ExtraHole)),
        ("SLIM HOLE", Family::Old(OldStyle::SlimHole)),
        ("SH", Family::Old(OldStyle::SlimHole)),
        ("DOUBLE STREAMLINE", Family::Old(OldStyle::DoubleStreamline)),
        ("DSL", Family::Old(OldStyle::DoubleStreamline)),
        ("WIDE OPEN", Family::Old(OldStyle::WideOpen)),
        ("WO", Family::Old(OldStyle::WideOpen)),
        ("NC", Family::Numbered),
    ];
    for (word, family) in words {
        if let Some((before, after)) = upper.split_once(word) {
            let rest = format!("{before} {after}");
            // Anything but a size left over is another connection (XT, HT, "LT" ...).
            let size_only = rest.chars().all(|c| !c.is_ascii_alphabetic());
            return size_only.then_some((family, rest));
        }
    }
    None
}

/// Upper case, fractions in plain characters, marks and the words API and in(ch) taken out.
fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '½' => out.push_str(" 1/2"),
            '¼' => out.push_str(" 1/4"),
            '¾' => out.push_str(" 3/4"),
            '⅛' => out.push_str(" 1/8"),
            '⅜' => out.push_str(" 3/8"),
            '⅝' => out.push_str(" 5/8"),
            '⅞' => out.push_str(" 7/8"),
            '⁄' | '∕' => out.push('/'),
            '–' | '—' | '−' | '‑' => out.push('-'),
            '"' | '″' | '”' | '“' | '\'' | '_' | ',' | '(' | ')' => out.push(' '),
            _ => out.extend(c.to_uppercase()),
        }
    }
    let out = out.replace("N.C.", "NC");
    let words: Vec<&str> = out
        .split_whitespace()
        .filter(|w| !matches!(*w, "API" | "IN" | "INCH" | "IN." | "CONN" | "CONNECTION" | "THREAD"))
        .collect();
    words.join(" ")
}

/// Reads a size as eighths of an inch: `4 1/2`, `4-1/2`, `4.5`, `41/2` (a lost blank), `36/8`.
fn eighths(text: &str) -> Option<u32> {
    let mut total = 0.0;
    let mut seen = false;
    for part in text.split([' ', '-']).filter(|p| !p.is_empty()) {
        seen = true;
        total += match part.split_once('/') {
            None => part.parse::<f64>().ok()?,
            Some((numerator, denominator)) => {
                let d: u32 = denominator.parse().ok()?;
                let (whole, numerator) = match numerator.len() {
                    // `41/2`: a proper fraction of 2, 4 or 8 has one digit on top.
                    2.. if matches!(d, 2 | 4 | 8) => numerator.split_at(numerator.len() - 1),
                    _ => ("0", numerator),
                };
                let (w, n): (u32, u32) = (whole.parse().ok()?, numerator.parse().ok()?);
                if d == 0 {
                    return None;
                }
                f64::from(w) + f64::from(n) / f64::from(d)
            }
        };
    }
    let eighths = total * 8.0;
    let rounded = eighths.round();
    // 6.63 for 6 5/8 is what a rounded spreadsheet shows.
    let close = (eighths - rounded).abs() <= 0.08 && (1.0..=800.0).contains(&rounded);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number between 1 and 800"
    )]
    (seen && close).then_some(rounded as u32)
}

/// The connection whose name is nearest in spelling, if it is near at all.
fn nearest(text: &str) -> Option<ConnectionType> {
    let wanted = plain(text);
    CATALOGUE
        .iter()
        .flat_map(|s| {
            std::iter::once(s.name.to_owned())
                .chain(s.connection.old_names())
                .map(|name| (strsim::osa_distance(&name.to_uppercase(), &wanted), s.connection))
        })
        .filter(|(distance, _)| *distance <= 2)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, connection)| connection)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> ConnectionType {
        text.parse().unwrap_or_else(|e| panic!("{text}: {e}"))
    }

    #[test]
    fn every_name_reads_back() {
        for connection in CATALOGUE.iter().map(|spec| spec.connection) {
            assert_eq!(read(connection.name()), connection);
            assert_eq!(read(&connection.name().to_lowercase()), connection);
            for name in connection.old_names() {
                assert_eq!(read(&name), connection, "{name}");
            }
        }
    }

    #[test]
    fn usual_spellings_are_understood() {
        use ConnectionType as T;
        for (text, connection) in [
            ("NC50", T::Nc50),
            ("nc 50", T::Nc50),
            ("NC-50", T::Nc50),
            ("N.C. 38", T::Nc38),
            ("API NC46", T::Nc46),
            ("4 1/2 IF", T::Nc50),
            ("4-1/2 IF", T::Nc50),
            ("4½ IF", T::Nc50),
            ("4.5 in IF", T::Nc50),
            ("4-1/2\" API IF", T::Nc50),
            ("41/2 IF", T::Nc50),
            ("3 1/2 Internal Flush", T::Nc38),
            ("4 FH", T::Nc40),
            ("4 1/2 XH", T::Nc46),
            ("5 1/2 FH", T::Fh5_1_2),
            ("5-1/2 Full Hole", T::Fh5_1_2),
            ("65/8 FH", T::Fh6_5_8),
            ("6-5/8 REG", T::Reg6_5_8),
            ("6.625 Reg", T::Reg6_5_8),
            ("6.63 REG", T::Reg6_5_8),
            ("REG 6 5/8", T::Reg6_5_8),
            ("7 ⅝ regular", T::Reg7_5_8),
            ("4-1/2 H90", T::H90_4_1_2),
            ("H-90 4 1/2", T::H90_4_1_2),
            ("5 H 90", T::H90_5),
        ] {
            assert_eq!(read(text), connection, "{text}");
        }
    }

    #[test]
    fn other_connections_are_refused_with_the_nearest_name() {
        for text in ["", "XT57", "HT 55", "NC51", "5 1/2 IF", "9 REG", "4 1/2", "REG", "4 1/0 IF"] {
            assert!(text.parse::<ConnectionType>().is_err(), "{text}");
        }
        let typo = "NC5O".parse::<ConnectionType>().unwrap_err();
        assert_eq!(typo.nearest, Some(ConnectionType::Nc50));
        assert!(typo.to_string().contains("the nearest name is NC50"), "{typo}");
        let far = "HyperLock 9000".parse::<ConnectionType>().unwrap_err();
        assert_eq!(far.nearest, None);
        assert_eq!(
            "7 5/8 REG LT".parse::<ConnectionType>().ok(),
            None,
            "low torque is another bevel"
        );
    }
}
