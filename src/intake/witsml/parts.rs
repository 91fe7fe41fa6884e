//! Which tubular and which logs of other documents belong to a run, which names no file.

use super::names::{By, Hole, Named, Reference};

/// The string of a run, and its hole.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    pub(in crate::intake) string: Reference,
    pub(in crate::intake) hole: Hole,
    /// First and last instant, ms of UTC, where both are stated.
    pub(in crate::intake) span: Option<(i64, i64)>,
}

/// An object of a document that runs of another may be made of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    pub(in crate::intake) file: String,
    pub(in crate::intake) named: Named,
    pub(in crate::intake) what: What,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::intake) enum What {
    Tubular,
    Log {
        by_time: bool,
        /// Instants of its first and its last row, the earlier first, ms of UTC.
        span: Option<(i64, i64)>,
    },
}

/// What belongs to a run.
pub(in crate::intake) struct Linked<'a> {
    /// Its string, and by what it was found; of several that it may be, all.
    pub strings: Vec<(&'a Part, By)>,
    pub logs: Vec<&'a Part>,
}

impl Linked<'_> {
    /// Names of the files.
    pub(in crate::intake) fn files(&self) -> impl Iterator<Item = String> {
        let parts = self.strings.iter().map(|s| s.0).chain(self.logs.iter().copied());
        parts.map(|p| p.file.clone())
    }
}

impl Wanted {
    /// What belongs to the run, of the parts that there are.
    pub(in crate::intake) fn linked<'a>(&self, parts: &'a [Part]) -> Linked<'a> {
        let of_hole = |p: &&Part| self.hole.is(&p.named.hole);
        let tubulars = parts.iter().filter(|p| p.what == What::Tubular);
        let tubulars = tubulars.filter(|p| of_hole(p) != Some(false));
        let mut strings: Vec<(&Part, By)> =
            tubulars.filter_map(|p| Some((p, self.string.means(&p.named)?))).collect();
        let surest = strings.iter().map(|s| s.1).min();
        strings.retain(|s| Some(s.1) == surest);
        // A log names no run: those of the hole are cut by its time, or by its depths where none has
        // a clock.
        let within = |span: Option<(i64, i64)>| match (self.span, span) {
            (Some((from, to)), Some((first, last))) => first <= to && last >= from,
            _ => true,
        };
        let logs = |timed: bool| {
            let logs = parts.iter().filter(move |p| {
                matches!(p.what, What::Log { by_time, span } if by_time == timed && within(span))
            });
            logs.filter(|p| of_hole(p) == Some(true)).collect::<Vec<_>>()
        };
        let timed = logs(true);
        Linked { strings, logs: if timed.is_empty() { logs(false) } else { timed } }
    }
}
