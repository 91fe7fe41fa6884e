//! What was found for a value, where it came from, and what is missing.

use crate::projection::joint::{ESTIMATED, INCOMPLETE};
use crate::schema::{CERTIFICATE, Value};
use crate::units::Measure;

use super::super::eval::{Bounds, Edges, Eval, Row, Said, Verdict};
use super::super::facts::{Line, cell, int};
use super::super::registry::{Field, Kind, Over, Record, Stored, Table, Words};
use super::super::typed::{Num, Number, Phrase, Pick, Portion, Read, Records, Reference, Total};

/// What was found for a value.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    pub label: String,
    pub thing: Thing,
    /// Entries that it came from, as places in the ledger; none for what many entries make.
    pub entries: Vec<i64>,
}

/// A value as found.
#[derive(Clone, Debug, PartialEq)]
pub enum Thing {
    /// A number, perhaps not known exactly.
    Number {
        /// Between which bounds it lies.
        bounds: Bounds,
        /// Measure in which it is shown.
        measure: Option<Measure>,
        /// True for an instant.
        date: bool,
    },
    Text(String),
    /// Yes or no.
    Flag(bool),
    /// Words of a set.
    Words(Vec<&'static str>),
    /// There is none, and that is known.
    None,
    /// Nobody knows.
    Unknown,
}

impl Eval<'_> {
    pub(super) fn thing(&self, place: &Reference, row: Option<Row<'_>>) -> Thing {
        match place.field().kind {
            Kind::Flag => self.bits(place, row).map_or(Thing::Unknown, |n| Thing::Flag(n != 0)),
            Kind::Set(words) => {
                self.bits(place, row).map_or(Thing::Unknown, |n| Thing::Words(words_in(words, n)))
            }
            _ => match self.phrase(&Phrase::Of(place.clone()), row) {
                Said::Text(text) => Thing::Text(text),
                Said::None => Thing::None,
                Said::Unknown => Thing::Unknown,
            },
        }
    }

    pub(super) fn entries_of_num(&self, num: &Num, row: Option<Row<'_>>) -> Vec<i64> {
        let mut out = Vec::new();
        self.gather(num, row, &mut out);
        out.sort_unstable();
        out.dedup();
        out
    }

    fn gather(&self, num: &Num, row: Option<Row<'_>>, out: &mut Vec<i64>) {
        match num {
            Num::Read(read) => out.extend(self.entry_of_read(read, row)),
            Num::Total(total) => out.extend(self.entry_of_total(total)),
            Num::Pick(pick) => out.extend(self.entries_of_pick(pick)),
            Num::Negative(inner) => self.gather(inner, row, out),
            Num::Sum(terms) => terms.iter().for_each(|t| self.gather(t, row, out)),
            Num::Product(factors) => factors.iter().for_each(|(_, f)| self.gather(f, row, out)),
            Num::Const(_) | Num::Given(..) | Num::Count(_) | Num::Fold { .. } => {}
        }
    }

    pub(super) fn entries_of_place(&self, place: &Reference, row: Option<Row<'_>>) -> Vec<i64> {
        match place {
            Reference::Read(read) => self.entry_of_read(read, row).into_iter().collect(),
            Reference::Pick(pick) => self.entries_of_pick(pick),
        }
    }

    fn entries_of_pick(&self, pick: &Pick) -> Vec<i64> {
        let edges = self.edges(&pick.of.window);
        let found = self.candidates(&pick.of, &edges, pick.which).unwrap_or_default();
        found.iter().filter_map(|m| entry_of_line(pick.of.record, m.line)).collect()
    }

    /// The inspection that a counter counts from.
    fn entry_of_total(&self, total: &Total) -> Option<i64> {
        let scope = total.window.since_scope()?;
        let word = Value::Text(crate::model::Vocabulary::word(scope).to_owned());
        let line = self
            .facts
            .lines(Table::Since)
            .iter()
            .find(|l| *cell(Table::Since, l, "scope") == word)?;
        int(cell(Table::Since, line, "entry"))
    }

    fn entry_of_read(&self, read: &Read, row: Option<Row<'_>>) -> Option<i64> {
        match (read.field.record, row) {
            (Some(record), Some(row)) => entry_of_line(record, row.line),
            (None, _) if read.past.is_some() => None,
            (None, _) => self.entry_of_joint_field(read.field),
            (Some(_), None) => None,
        }
    }

    /// The entry behind a field of the joint, where one is.
    fn entry_of_joint_field(&self, field: &Field) -> Option<i64> {
        let column = match field.stored {
            Stored::Column(c) | Stored::Rest(c) | Stored::Present(c) | Stored::Age(c) => c.name,
            _ => return None,
        };
        if *self.facts.joint(column) == Value::Null {
            return None;
        }
        let latest = |table: Table, counts: &dyn Fn(&Line) -> bool| {
            self.facts
                .lines(table)
                .iter()
                .filter(|l| counts(l))
                .max_by_key(|l| (int(cell(table, l, "date")), int(cell(table, l, "turn"))))
                .and_then(|l| int(cell(table, l, "entry")))
        };
        match column {
            "class" | "tube_class" | "pin_class" | "box_class" | "criterion" | "disposition" => {
                int(self.facts.joint("class_entry"))
            }
            "location" | "string" | "status" => latest(Table::Move, &|_| true),
            "hire" | "on_hire" => latest(Table::Hire, &|_| true),
            "failed_on" | "failure" => latest(Table::Failure, &|_| true),
            "inspected" => latest(Table::Inspection, &|_| true),
            _ => {
                // A reading: the latest inspection that holds it; the wall's age goes by the wall.
                let reading = if column == "wall_read" { "wall" } else { column };
                let read = Table::Inspection.column(reading).and_then(|_| {
                    latest(Table::Inspection, &|l| {
                        *cell(Table::Inspection, l, reading) != Value::Null
                    })
                });
                let certificate = field.from == CERTIFICATE;
                read.filter(|_| !certificate)
                    .or_else(|| int(self.facts.joint("joint")).filter(|_| certificate))
            }
        }
    }

    /// Why a number is not known exactly.
    pub(super) fn lacks_num(
        &self,
        number: &Number,
        bounds: Bounds,
        row: Option<Row<'_>>,
    ) -> Vec<String> {
        let mut out = Vec::new();
        self.lacks(&number.num, row, &mut out);
        if out.is_empty() {
            let (lo, hi) = bounds.base();
            out.push(match (lo, hi) {
                (None, None) => format!("{} is not recorded", number.label),
                _ => format!("{} is not known exactly", number.label),
            });
        }
        out
    }

    fn lacks(&self, num: &Num, row: Option<Row<'_>>, out: &mut Vec<String>) {
        match num {
            Num::Const(_) => {}
            Num::Given(lo, hi) => {
                if lo != hi || lo.is_none() {
                    out.push("what other joints were asked for is not known exactly".to_owned());
                }
            }
            Num::Read(read) => {
                let bounds = self.number(num, row);
                let portion = read.portion.filter(|_| bounds.base() != (None, None));
                if let Some(Portion::Depths(..)) = portion.filter(|_| !bounds.is_pinned()) {
                    out.push(at_which_depth(read.field));
                } else if !bounds.is_pinned() {
                    out.push(format!("{} is not recorded", read.label));
                }
            }
            Num::Total(total) => self.lacks_total(total, out),
            Num::Count(of) => self.lacks_records(of, None, out),
            Num::Fold { read, of, .. } => self.lacks_records(of, Some(read), out),
            Num::Pick(pick) => {
                let edges = self.edges(&pick.of.window);
                match self.candidates(&pick.of, &edges, pick.which) {
                    Some(found) if found.len() > 1 => out.push(format!(
                        "nobody can tell which {} is the {}",
                        pick.of.record,
                        pick.which.word()
                    )),
                    Some(_) => out.push(format!(
                        "{} of the {} {} is not recorded",
                        pick.read.label,
                        pick.which.word(),
                        pick.of.record
                    )),
                    None => out.push(self.no_record(&pick.of, &edges)),
                }
            }
            Num::Negative(inner) => self.lacks(inner, row, out),
            Num::Sum(terms) => terms.iter().for_each(|t| self.lacks(t, row, out)),
            Num::Product(factors) => factors.iter().for_each(|(_, f)| self.lacks(f, row, out)),
        }
    }

    fn no_record(&self, of: &Records, edges: &Edges) -> String {
        if self.is_complete(edges) {
            format!("there is no such {}", of.record)
        } else {
            self.gap_words(edges).unwrap_or_else(|| format!("there is no such {}", of.record))
        }
    }

    fn lacks_total(&self, total: &Total, out: &mut Vec<String>) {
        if let Some(Portion::Depths(..)) = total.portion {
            out.push(at_which_depth(total.field));
        }
        if matches!(total.field.stored, Stored::Counter { over: Over::Makeups(_), .. }) {
            out.extend(self.gap_words(&Edges::default()));
        }
        let edges =
            if total.kept_since().is_some() { Edges::default() } else { self.edges(&total.window) };
        out.extend(self.gap_words(&edges));
        let some_run = |column: &'static str, bits: i64| {
            let mut runs = self.facts.lines(Table::JointRun).iter();
            runs.any(|l| int(cell(Table::JointRun, l, column)).is_some_and(|n| n & bits != 0))
        };
        for (column, bits, lacks) in [
            ("conflicting", 1, "runs that exclude each other wait for a decision"),
            ("flags", ESTIMATED, "figures of a run are estimates"),
            ("flags", INCOMPLETE, "the log of a run lacks some of what the rig did"),
        ] {
            if some_run(column, bits) {
                out.push(lacks.to_owned());
            }
        }
        if let Stored::Counter { over: Over::Runs(column, _), .. } = total.field.stored {
            let lacking = self
                .facts
                .lines(Table::JointRun)
                .iter()
                .filter(|l| *cell(Table::JointRun, l, column) == Value::Null)
                .count();
            if lacking > 0 {
                let runs = if lacking == 1 { "a run" } else { "runs" };
                out.push(format!("{} of {runs} is not known", total.field.name));
            }
        }
    }

    fn lacks_records(&self, of: &Records, read: Option<&Read>, out: &mut Vec<String>) {
        let edges = self.edges(&of.window);
        if !self.is_complete(&edges) {
            out.extend(self.gap_words(&edges));
        }
        let members = self.members(of, &edges);
        let open = members.iter().any(|m| m.inside.and(m.passes) == Verdict::Unknown);
        if open {
            out.push(format!("nobody can tell which {}s count", of.record));
        }
        if let Some(read) = read {
            let counted: Vec<_> =
                members.iter().filter(|m| m.inside.and(m.passes) != Verdict::False).collect();
            if counted.is_empty() {
                out.push(format!("there is no such {}", of.record));
            }
            let lacks = counted.iter().any(|m| {
                let row = Row { record: of.record, line: m.line, edges: &edges };
                !self.number(&Num::Read(read.clone()), Some(row)).is_pinned()
            });
            if lacks {
                out.push(format!("{} of some {} is not recorded", read.label, of.record));
            }
        }
    }

    pub(super) fn lacks_place(&self, place: &Reference, row: Option<Row<'_>>) -> Vec<String> {
        match place {
            Reference::Read(read) if self.is_taken_over_in_doubt(read, row) => vec![format!(
                "the entry that set {} excludes another fact, and waits for a decision",
                read.label
            )],
            Reference::Read(read) => vec![format!("{} is not recorded", read.label)],
            Reference::Pick(pick) => {
                let edges = self.edges(&pick.of.window);
                match self.candidates(&pick.of, &edges, pick.which) {
                    Some(_) => vec![format!("{} is not recorded", super::place_label(place))],
                    None => vec![self.no_record(&pick.of, &edges)],
                }
            }
        }
    }

    /// The stretches of a window about which nothing is known, in words; dates come with the
    /// rendering, so only their kind is said here.
    pub(super) fn gap_words(&self, edges: &Edges) -> Option<String> {
        let gaps = self.gaps_in(edges);
        if gaps.is_empty() {
            return None;
        }
        Some(if gaps.iter().all(|(since, _)| *since == i64::MIN) {
            "nothing is known of its life before it came into the book".to_owned()
        } else if gaps.iter().all(|(since, _)| *since != i64::MIN) {
            "a stretch of its life is not known".to_owned()
        } else {
            "its life before the book and a stretch of it since are not known".to_owned()
        })
    }
}

fn at_which_depth(field: &Field) -> String {
    format!(
        "a run tells its {} and between which depths they were, not how many at which",
        field.name
    )
}

fn entry_of_line(record: Record, line: &Line) -> Option<i64> {
    let column = if record == Record::Run { "run" } else { "entry" };
    int(cell(record.table(), line, column))
}

fn words_in(words: Words, bits: i64) -> Vec<&'static str> {
    words
        .list()
        .into_iter()
        .enumerate()
        .filter(|(at, _)| bits >> at & 1 == 1)
        .map(|(_, word)| word)
        .collect()
}
