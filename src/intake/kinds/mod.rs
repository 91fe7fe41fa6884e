//! Kinds of file: which fields each has, and how each row becomes an entry.

mod care;
mod common;
mod custody;
mod identity;
mod inspection;
mod keeping;
mod looked;
mod phrase;
mod published;
mod survey;
mod words;

use std::collections::HashMap;
use std::fmt;
use std::sync::LazyLock;

pub use common::amend_with;
pub(super) use common::{Context, SERIALS};
pub(super) use identity::{body_fields, check_dimensions};
pub use inspection::READING;
pub use looked::read_scopes;
pub(super) use words::{is_other, words};

use super::diagnostic::Diagnostics;
use super::resolve::{Made, merge_joints};
use super::table::{Columns, Field, Fields, LOOK, RawRow, Row, Table, header_row, with_one_head};
use crate::model::{Moment, fold, nearest_word};

/// What a file is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Certificates of joints, with or without an opening balance.
    Joints,
    /// What joints had been through before the book.
    Openings,
    /// Serials changed, added, found to be one joint.
    Identities,
    /// A survey of a hole.
    Survey,
    /// A run: header, tally, log.
    Run,
    /// A string from the bit up.
    Tally,
    Log,
    /// A summary of operations: activity, depths, hours.
    Operations,
    Inspections,
    Repairs,
    Makeups,
    Moves,
    /// Stretches about which nothing is known.
    Gaps,
    /// Hours of runs joint by joint, where whoever ran them tells no more.
    Hours,
    /// Joints that go out on hire.
    HireOut,
    /// Joints that come back.
    HireIn,
    /// Handling and well events.
    Events,
    Failures,
    /// Instruments and rig equipment.
    Instruments,
    Checks,
    Decisions,
    Notes,
}

impl Kind {
    pub const ALL: [Self; 22] = [
        Self::Joints,
        Self::Openings,
        Self::Identities,
        Self::Survey,
        Self::Run,
        Self::Tally,
        Self::Log,
        Self::Operations,
        Self::Inspections,
        Self::Repairs,
        Self::Makeups,
        Self::Moves,
        Self::Gaps,
        Self::Hours,
        Self::HireOut,
        Self::HireIn,
        Self::Events,
        Self::Failures,
        Self::Instruments,
        Self::Checks,
        Self::Decisions,
        Self::Notes,
    ];

    /// The word for it: that of the entry that it becomes, where it becomes one.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Joints => "joint",
            Self::Openings => "opening",
            Self::Identities => "identity",
            Self::Survey => "survey",
            Self::Run => "run",
            Self::Tally => "tally",
            Self::Log => "log",
            Self::Operations => "operations",
            Self::Inspections => "inspection",
            Self::Repairs => "repair",
            Self::Makeups => "makeup",
            Self::Moves => "move",
            Self::Gaps => "gap",
            Self::Hours => "hours",
            Self::HireOut => "hire_out",
            Self::HireIn => "hire_in",
            Self::Events => "event",
            Self::Failures => "failure",
            Self::Instruments => "instrument",
            Self::Checks => "check",
            Self::Decisions => "decision",
            Self::Notes => "note",
        }
    }

    /// Reads the word, in the singular or the plural.
    pub fn parse(text: &str) -> Result<Self, String> {
        let key = fold(text);
        let single = match key.as_str() {
            "identities" => "identity",
            "operations" => "operations",
            "hours" => "hours",
            k => k.strip_suffix('s').unwrap_or(k),
        };
        let found = Self::ALL.into_iter().find(|k| k.word() == key || k.word() == single);
        found.ok_or_else(|| {
            let near = nearest_word(text, Self::ALL.iter().map(|k| k.word()));
            let known: Vec<_> = Self::ALL.iter().map(|k| k.word()).collect();
            match near {
                Some(n) => format!("'{text}' is no kind of file; did you mean {n}?"),
                None => format!("'{text}' is no kind of file; known: {}", known.join(", ")),
            }
        })
    }

    pub(super) fn fields(self) -> &'static Fields {
        static ALL: LazyLock<Vec<Fields>> =
            LazyLock::new(|| Kind::ALL.iter().map(|k| Fields::new(k.list())).collect());
        let at = Self::ALL.iter().position(|k| *k == self).unwrap_or_default();
        &ALL[at]
    }

    /// The key of the field that a title names in a file of this kind.
    pub fn field_key(self, title: &str) -> Option<&'static str> {
        let fields = self.fields();
        fields.named(&fold(title)).map(|at| fields[at].key.as_str())
    }

    fn list(self) -> Vec<Field> {
        match self {
            Self::Joints => identity::joint_fields(),
            Self::Openings => identity::opening_fields(),
            Self::Identities => identity::change_fields(),
            Self::Survey => survey::fields(),
            Self::Run => super::run::fields(),
            Self::Tally => super::tally::fields(),
            Self::Log => super::log::fields(),
            Self::Operations => super::operations::fields(),
            Self::Inspections => inspection::fields(),
            Self::Repairs => care::repair_fields(),
            Self::Makeups => care::makeup_fields(),
            Self::Moves => custody::move_fields(),
            Self::Gaps => custody::gap_fields(),
            Self::Hours => custody::hours_fields(),
            Self::HireOut => custody::hire_out_fields(),
            Self::HireIn => custody::hire_in_fields(),
            Self::Events => care::event_fields(),
            Self::Failures => care::failure_fields(),
            Self::Instruments => keeping::instrument_fields(),
            Self::Checks => keeping::check_fields(),
            Self::Decisions => keeping::decision_fields(),
            Self::Notes => keeping::note_fields(),
        }
    }

    /// Fields without which a file is not of this kind: one of each group.
    pub(super) const fn needs(self) -> &'static [&'static [&'static str]] {
        match self {
            Self::Joints => &[&["serial"], &["component", "grade", "heat", "connection", "weight"]],
            Self::Openings => {
                &[&["serial"], &["hours", "revolutions", "footage", "damage", "pin_makeups"]]
            }
            Self::Identities => &[&["serial"], &["new_serial", "same", "other"]],
            Self::Survey => &[&["md"], &["inc"], &["azi"]],
            Self::Run => &[&["name"], &["well"]],
            Self::Tally => {
                &[&["length", "cumulative"], &["position", "part", "component", "count"]]
            }
            Self::Log => &[&["time", "date", "depth"], &["rpm"]],
            Self::Operations => &[&["activity"], &["hours"], &["bit_to"]],
            Self::Inspections => &[&["serial"], &[inspection::ANY_READING, "finding", "methods"]],
            Self::Repairs => &[&["serial"], &["work"]],
            Self::Makeups => &[&["pin", "box", "serial", "trips"], &["torque", "target", "trips"]],
            Self::Moves => &[&["serial"], &["location", "string", "status"]],
            Self::Gaps => &[&["serial"], &["until"]],
            Self::Hours => &[&["serial"], &["hours"], &["run"]],
            Self::HireOut => &[&["serial"], &["hire"], &["party"]],
            Self::HireIn => &[&["serial"], &["hire"]],
            Self::Events => &[&["event"]],
            Self::Failures => &[&["serial"], &["failure"]],
            Self::Instruments => &[&["tag"], &["instrument"]],
            Self::Checks => &[&["tag"], &["passed"]],
            Self::Decisions => &[&["ruling"], &["reason"]],
            Self::Notes => &[&["note"]],
        }
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// How well a file's titles fit a kind: how many it knows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Fit {
    pub kind: Kind,
    /// Titles that it knows.
    pub known: usize,
    /// Groups of fields that are missing, in words.
    pub missing: Vec<String>,
}

/// Kinds whose titles a row's cells may be, each counted roughly: names alone, not units.
pub(super) fn rough(cells: &[String]) -> [usize; Kind::ALL.len()] {
    static KINDS: LazyLock<HashMap<String, u32>> = LazyLock::new(|| {
        let mut map: HashMap<String, u32> = HashMap::new();
        for (bit, kind) in Kind::ALL.iter().enumerate() {
            for field in kind.fields().iter() {
                for name in std::iter::once(&field.key).chain(&field.aliases) {
                    *map.entry(name.clone()).or_default() |= 1 << bit;
                }
            }
        }
        map
    });
    let mut counts = [0; Kind::ALL.len()];
    for cell in cells.iter().filter(|c| c.len() < 60) {
        let folded = fold(cell);
        // The name may stop before a unit: at any sign that folds away.
        let ends = folded.match_indices('_').map(|(at, _)| at).chain([folded.len()]);
        let mask = ends.filter_map(|end| KINDS.get(&folded[..end])).fold(0, |m, k| m | k);
        for (bit, count) in counts.iter_mut().enumerate() {
            *count += usize::from(mask & 1 << bit != 0);
        }
    }
    counts
}

/// How the head of a file fits every kind, the best first.
pub(super) fn fits(rows: &[RawRow], stated: Option<&Columns>, given: &[&str]) -> Vec<Fit> {
    let mut best = [0; Kind::ALL.len()];
    for row in rows.iter().take(LOOK) {
        for (best, count) in best.iter_mut().zip(rough(&row.cells)) {
            *best = count.max(*best);
        }
    }
    // What cannot fit is not looked at closely, unless the user states columns.
    let worth = |kind: Kind, rough: usize| stated.is_some() || rough > 1 || kind == Kind::Run;
    let mut all: Vec<Fit> = Kind::ALL
        .into_iter()
        .zip(best)
        .filter(|(kind, rough)| worth(*kind, *rough))
        .filter_map(|(kind, _)| fit(kind, rows, stated, given))
        .collect();
    all.sort_by(|a, b| {
        (a.missing.len(), b.known).cmp(&(b.missing.len(), a.known)).then(a.kind.cmp(&b.kind))
    });
    all
}

/// How the head of a file fits a kind.
pub(super) fn fit(
    kind: Kind,
    rows: &[RawRow],
    stated: Option<&Columns>,
    given: &[&str],
) -> Option<Fit> {
    if kind == Kind::Run {
        let (known, missing) = super::run::fit(rows, stated)?;
        return Some(Fit { kind, known, missing });
    }
    let fields = kind.fields();
    let found: Vec<usize> = match stated {
        Some(columns) if columns.in_order() => {
            let mut found = Vec::new();
            for c in columns.list().iter().filter(|c| c.name != "-") {
                let name = fold(&c.name);
                found.push(fields.named(&name)?);
            }
            found
        }
        _ => {
            let head: Vec<RawRow> = rows.iter().take(LOOK + 1).cloned().collect();
            let (head, _) = with_one_head(head, fields);
            header_row(&head, fields, stated).map(|(_, f)| f).unwrap_or_default()
        }
    };
    let has = |key: &str| {
        given.contains(&key)
            || found.iter().any(|f| {
                let k = fields[*f].key.as_str();
                k == key || key == inspection::ANY_READING && k.starts_with(READING)
            })
    };
    let missing = kind
        .needs()
        .iter()
        .filter(|group| !group.iter().any(|k| has(k)))
        .map(|group| {
            let words: Vec<String> = group
                .iter()
                .map(|k| if *k == inspection::ANY_READING { "a reading" } else { k })
                .map(|k| k.replace('_', " "))
                .collect();
            words.join(" or ")
        })
        .collect();
    (!found.is_empty()).then_some(Fit { kind, known: found.len(), missing })
}

/// Reads a table of any kind that becomes entries row by row, or as a whole.
pub(super) fn read(
    kind: Kind,
    table: &mut Table,
    context: &Context<'_>,
    diagnostics: &mut Diagnostics,
) -> Vec<Made> {
    let c = context;
    match kind {
        Kind::Joints => identity::joints(table, c, diagnostics),
        Kind::Openings => identity::openings(table, c, diagnostics),
        Kind::Identities => identity::changes(table, c, diagnostics),
        Kind::Survey => survey::read(table, diagnostics),
        Kind::Inspections => inspection::read(table, c, diagnostics),
        Kind::Repairs => each(table, diagnostics, |row| care::repair(row, c)),
        Kind::Makeups => each(table, diagnostics, |row| care::makeup(row, c)),
        Kind::Moves => merge_joints(each(table, diagnostics, |row| custody::moved(row, c))),
        Kind::Gaps => merge_joints(each(table, diagnostics, |row| custody::gap(row, c))),
        Kind::Hours => custody::hours(table, c, diagnostics),
        Kind::HireOut => merge_joints(custody::hires(table, c, diagnostics)),
        Kind::HireIn => merge_joints(each(table, diagnostics, |row| custody::hire_in(row, c))),
        Kind::Events => merge_joints(each(table, diagnostics, |row| care::event(row, c))),
        Kind::Failures => each(table, diagnostics, |row| care::failure(row, c)),
        Kind::Instruments => each(table, diagnostics, keeping::instrument),
        Kind::Checks => each(table, diagnostics, keeping::check),
        Kind::Decisions => merge_joints(each(table, diagnostics, |row| keeping::decision(row, c))),
        Kind::Notes => merge_joints(each(table, diagnostics, |row| keeping::note(row, c))),
        Kind::Run | Kind::Tally | Kind::Log | Kind::Operations => Vec::new(),
    }
}

fn each(
    table: &mut Table,
    diagnostics: &mut Diagnostics,
    f: impl FnMut(&mut Row<'_>) -> Option<(Moment, crate::model::Body)>,
) -> Vec<Made> {
    table
        .each(diagnostics, f)
        .into_iter()
        .map(|(row, (effective, body))| Made { rows: vec![row], effective, body })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::table::Delimiter;
    use std::collections::BTreeMap;

    #[test]
    fn every_title_means_one_field_of_its_kind() {
        for kind in Kind::ALL {
            let fields = kind.fields();
            let mut seen: BTreeMap<String, &str> = BTreeMap::new();
            for f in fields.iter() {
                for name in std::iter::once(&f.key).chain(&f.aliases) {
                    let plain_key = f.key.starts_with(READING) && *name == f.key;
                    assert!(plain_key || fold(name) == *name, "{kind}: {name} is not folded");
                    if let Some(other) = seen.insert(name.clone(), &f.key) {
                        assert_eq!(other, f.key, "{kind}: {name} means {other} and {}", f.key);
                    }
                }
            }
            for group in kind.needs() {
                for key in *group {
                    assert!(
                        *key == inspection::ANY_READING || fields.iter().any(|f| f.key == *key),
                        "{kind} needs {key}, which it has not"
                    );
                }
            }
        }
    }

    fn told(header: &str) -> Vec<&'static str> {
        let rows = crate::intake::table::rows(header, Delimiter::Comma);
        let all = fits(&rows, None, &[]);
        let best: Vec<_> = all.iter().filter(|f| f.missing.is_empty()).collect();
        let top = best.first().map_or(0, |f| f.known);
        best.iter().filter(|f| f.known == top).map(|f| f.kind.word()).collect()
    }

    #[test]
    fn kinds_are_told_by_their_header() {
        for (header, kind) in [
            ("Serial No,Component,OD [in],Wall [in],Grade,Connection,Heat", "joint"),
            ("MD (m),Incl (deg),Azim (deg)", "survey"),
            ("time,bit depth [m],hole depth [m],rpm,WOB [klbf]", "log"),
            ("Depth(ft),ROP [ft/h],Rotary Speed (rpm)", "log"),
            ("activity,bit_from_m,bit_to_m,hours,rpm,wob_kn", "operations"),
            ("position,serial,kind,length_m,od_mm,wall_mm,air_weight_kg_m", "tally"),
            ("Serial,Date,Wall [in],Box OD [in],Pin OD [in],Findings", "inspection"),
            ("Serial,Date,Work,End,Shop", "repair"),
            ("Date,Pin,Box,Torque [ft.lbf],Gauge", "makeup"),
            ("Serial,Date,Location", "move"),
            ("Serial,Date,Hire,Party,Contract", "hire_out"),
            ("Serial,Date,Hire", "hire_in"),
            ("Date,Event,Serial", "event"),
            ("Date,Serial,Failure,Depth [m]", "failure"),
            ("Tag,Instrument,Date", "instrument"),
            ("Tag,Date,Check,Passed,Reference", "check"),
            ("Serial,Date,Hours,Revolutions", "opening"),
            ("Serial,Date,New serial,Reason", "identity"),
            ("Serial,Date,Until,Reason", "gap"),
            ("Serial,Date,Decision,Reason", "decision"),
            ("Date,Note", "note"),
        ] {
            assert_eq!(told(header), [kind], "{header}");
        }
    }

    #[test]
    fn kinds_read_in_singular_and_plural() {
        for kind in Kind::ALL {
            assert_eq!(Kind::parse(kind.word()), Ok(kind));
        }
        assert_eq!(Kind::parse("Joints"), Ok(Kind::Joints));
        assert_eq!(Kind::parse("hire out"), Ok(Kind::HireOut));
        assert!(Kind::parse("surveyor").unwrap_err().contains("did you mean survey?"));
    }
}
