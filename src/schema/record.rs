//! Kinds of record in a joint's life.

use std::fmt;

use super::Table;

/// Kinds of record in a joint's life.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Record {
    /// A run of the joint.
    Run,
    /// A make-up of one of its ends.
    Makeup,
    Inspection,
    /// A finding of an inspection.
    Finding,
    Repair,
    /// A handling or well event.
    Event,
    Failure,
    Move,
    Hire,
    Decision,
}

impl Record {
    pub const ALL: [Self; 10] = [
        Self::Run,
        Self::Makeup,
        Self::Inspection,
        Self::Finding,
        Self::Repair,
        Self::Event,
        Self::Failure,
        Self::Move,
        Self::Hire,
        Self::Decision,
    ];

    /// The word for one.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Run => "run",
            Self::Makeup => "makeup",
            Self::Inspection => "inspection",
            Self::Finding => "finding",
            Self::Repair => "repair",
            Self::Event => "event",
            Self::Failure => "failure",
            Self::Move => "move",
            Self::Hire => "hire",
            Self::Decision => "decision",
        }
    }

    /// The word for many.
    pub const fn plural(self) -> &'static str {
        match self {
            Self::Run => "runs",
            Self::Makeup => "makeups",
            Self::Inspection => "inspections",
            Self::Finding => "findings",
            Self::Repair => "repairs",
            Self::Event => "events",
            Self::Failure => "failures",
            Self::Move => "moves",
            Self::Hire => "hires",
            Self::Decision => "decisions",
        }
    }

    /// Reads the word for one or many.
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.to_ascii_lowercase();
        match text.as_str() {
            "make_up" | "make_ups" => return Some(Self::Makeup),
            _ => {}
        }
        let one = text.strip_suffix('s').unwrap_or(&text);
        Self::ALL.into_iter().find(|r| r.word() == one)
    }

    /// The table that its rows stand in.
    pub const fn table(self) -> Table {
        match self {
            Self::Run => Table::JointRun,
            Self::Makeup => Table::Makeup,
            Self::Inspection => Table::Inspection,
            Self::Finding => Table::Finding,
            Self::Repair => Table::Repair,
            Self::Event => Table::Event,
            Self::Failure => Table::Failure,
            Self::Move => Table::Move,
            Self::Hire => Table::Hire,
            Self::Decision => Table::Decision,
        }
    }

    /// Columns that order its rows in a joint's life: the key of its table, after the joint.
    pub fn key(self) -> &'static [&'static str] {
        self.table().spec().key.get(1..).unwrap_or_default()
    }

    /// The columns that tell when one began and ended: for all but runs, both the same.
    pub const fn span(self) -> (&'static str, &'static str) {
        match self {
            Self::Run => ("start", "finish"),
            Self::Makeup
            | Self::Inspection
            | Self::Finding
            | Self::Repair
            | Self::Event
            | Self::Failure
            | Self::Move
            | Self::Hire
            | Self::Decision => ("date", "date"),
        }
    }

    /// Whether a record of it may exclude another fact, and then may not count.
    pub const fn may_conflict(self) -> bool {
        match self {
            Self::Run | Self::Makeup | Self::Move | Self::Hire | Self::Decision => true,
            Self::Inspection | Self::Finding | Self::Repair | Self::Event | Self::Failure => false,
        }
    }
}

impl fmt::Display for Record {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}
