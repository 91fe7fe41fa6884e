//! An explained filter as plain text of a given width.

use crate::model::{Clock, Instant};
use crate::units::UnitSystem;

use super::super::error::wrap;
use super::super::eval::Bounds;
use super::{Answer, Answers, Explained, Found, Thing};

/// How values are shown.
#[derive(Clone, Copy)]
pub struct Manner<'a> {
    /// Columns of a line.
    pub width: usize,
    /// Units in which people read.
    pub units: UnitSystem,
    /// Offset of the site's clock from UTC.
    pub clock: Clock,
    /// Name of an entry by its place in the ledger.
    pub entry: &'a dyn Fn(i64) -> String,
}

impl std::fmt::Debug for Manner<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Manner").field("width", &self.width).finish_non_exhaustive()
    }
}

impl Explained {
    /// The tree as lines of text: verdict, words, and under them what was found.
    pub fn render(&self, manner: &Manner<'_>) -> String {
        let mut out = String::new();
        self.lines(&mut out, 0, manner);
        out
    }

    fn lines(&self, out: &mut String, depth: usize, manner: &Manner<'_>) {
        // Deep trees stop moving to the right before they leave no room.
        let indent = "  ".repeat(depth.min(8));
        let lead = format!("{indent}{:<8}", self.verdict.word());
        wrap(out, &lead, &self.text, manner.width);
        let under = format!("{indent}        ");
        match self.found.as_slice() {
            // What the one value is, the words above say.
            [only] => wrap(out, &under, &only.sentence("found", manner), manner.width),
            many => many
                .iter()
                .for_each(|f| wrap(out, &under, &f.sentence(&f.label, manner), manner.width)),
        }
        for limit in &self.limits {
            let shown = limit.thing.text(manner);
            let unit = shown.rsplit_once(' ').map_or("", |(_, unit)| unit);
            // A limit in the unit of what was found needs no saying twice.
            if shown.contains(' ') && !limit.label.ends_with(unit) {
                let said = format!("limit: {} = {shown}", limit.label);
                wrap(out, &under, &said, manner.width);
            }
        }
        if let Some(answers) = &self.answers {
            answers.lines(out, depth, manner);
        }
        for part in &self.parts {
            part.lines(out, depth + 1, manner);
        }
        // What is missing stands where it is first missed.
        if self.parts.is_empty() {
            for want in &self.wants {
                wrap(out, &format!("{under}? "), want, manner.width);
            }
        }
    }
}

impl Answers {
    fn lines(&self, out: &mut String, depth: usize, manner: &Manner<'_>) {
        let under = format!("{}        ", "  ".repeat(depth.min(8)));
        let kind = |n: usize| {
            let s = if n == 1 { "" } else { "s" };
            format!("{n} {}{s}", self.record)
        };
        let said = match self.asked {
            0 => format!("no {}", self.record),
            n => {
                let mut parts = Vec::new();
                for (count, word) in [(self.yes, "yes"), (self.no, "no"), (self.open, "open")] {
                    if count > 0 {
                        parts.push(format!("{count} {word}"));
                    }
                }
                format!("{}: {}", kind(n), parts.join(", "))
            }
        };
        wrap(out, &under, &said, manner.width);
        for answer in &self.shown {
            answer.lines(out, depth + 1, manner);
        }
    }
}

impl Answer {
    fn lines(&self, out: &mut String, depth: usize, manner: &Manner<'_>) {
        let indent = "  ".repeat(depth.min(8));
        let doubt = if self.doubtful { ", may not count" } else { "" };
        let entry = self.entry.map(|e| format!(" ({})", (manner.entry)(e))).unwrap_or_default();
        let said = format!("{}, {}{doubt}{entry}", self.name, day(self.at, manner));
        wrap(out, &format!("{indent}{:<8}", self.verdict.word()), &said, manner.width);
        if let Some(condition) = &self.condition {
            condition.lines(out, depth + 1, manner);
        }
    }
}

impl Found {
    /// `hours: ≥ 812 h (yard-12)`.
    fn sentence(&self, label: &str, manner: &Manner<'_>) -> String {
        let entries: Vec<String> = self.entries.iter().map(|e| (manner.entry)(*e)).collect();
        let from =
            if entries.is_empty() { String::new() } else { format!(" ({})", entries.join(", ")) };
        format!("{label}: {}{from}", self.thing.text(manner))
    }
}

impl Thing {
    /// The value as text.
    pub fn text(&self, manner: &Manner<'_>) -> String {
        match self {
            Self::Number { bounds, measure, date: false } => number(*bounds, *measure, manner),
            Self::Number { bounds, .. } => {
                let ms = |x: Option<f64>| {
                    #[expect(
                        clippy::cast_possible_truncation,
                        reason = "instants are far below 2^53"
                    )]
                    x.map(|s| (s * 1_000.0).round() as i64)
                };
                let (lo, hi) = bounds.base();
                range(ms(lo).map(|t| day(t, manner)), ms(hi).map(|t| day(t, manner)))
            }
            Self::Text(text) => text.clone(),
            Self::Flag(true) => "yes".to_owned(),
            Self::Flag(false) => "no".to_owned(),
            Self::Words(words) if words.is_empty() => "nothing".to_owned(),
            Self::Words(words) => words.join(", "),
            Self::None => "none".to_owned(),
            Self::Unknown => "unknown".to_owned(),
        }
    }
}

fn number(bounds: Bounds, measure: Option<crate::units::Measure>, manner: &Manner<'_>) -> String {
    if let (Bounds::Whole { lo, hi, quanta }, Some(measure)) = (bounds, measure)
        && measure.quanta_per_base() == quanta
    {
        let show = |n: i64| measure.text(n, manner.units);
        return range(lo.map(show), hi.map(show));
    }
    let (lo, hi) = bounds.base();
    let show = |x: f64| match measure {
        Some(measure) => match measure.store_f64(x) {
            Some(n) => measure.text(n, manner.units),
            None => format!("{x:e}"),
        },
        None if x.abs() >= 1e-3 && x.abs() < 1e9 || x.abs() <= 0.0 => {
            let text = format!("{x:.4}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        }
        None => format!("{x:.4e}"),
    };
    range(lo.map(show), hi.map(show))
}

fn range(lo: Option<String>, hi: Option<String>) -> String {
    match (lo, hi) {
        (None, None) => "unknown".to_owned(),
        (Some(lo), Some(hi)) if lo == hi => lo,
        (Some(lo), Some(hi)) => format!("{lo} to {hi}"),
        (Some(lo), None) => format!("≥ {lo}"),
        (None, Some(hi)) => format!("≤ {hi}"),
    }
}

/// The day of an instant at the site.
fn day(ms: i64, manner: &Manner<'_>) -> String {
    Instant(ms).day(manner.clock).format("%Y-%m-%d").to_string()
}
