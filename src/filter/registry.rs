//! The fields of the language: the columns of `schema` that say where they come from, and a few that
//! are worked out from one or two of them. Checks, suggestions, SQL, the evaluator, help and
//! completion all read this list.

use std::sync::LazyLock;

use crate::schema::{Column, Shape};
use crate::units::Measure;

use super::ast::Place;

pub use crate::schema::{Absent, AtPlaces, Kind, Over, Part, Record, Table, Words};
use crate::schema::{BENDING, COMPRESSION, CONTACT, DAMAGE, OVER_LIMIT};

/// A column of a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Col {
    pub table: Table,
    pub name: &'static str,
}

/// Where a field's value stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stored {
    /// A column; no value as `Absent` says.
    Column(Col),
    /// A column that must hold something for the field to be true.
    Present(Col),
    /// A column that must hold nothing for the field to be true.
    Missing(Col),
    /// The whole less a column that holds a ratio.
    Rest(Col),
    /// Milliseconds from an instant to now.
    Age(Col),
    /// One column as a ratio of another.
    Ratio(Col, Col),
    /// A counter of the joint: lower and upper bound, and what it counts.
    Counter {
        /// Column of the lower bound.
        lo: &'static str,
        /// Column of the upper bound; no value when there is none.
        hi: &'static str,
        over: Over,
    },
    /// Columns of the joint that hold a lower and an upper bound.
    Between(&'static str, &'static str),
    /// A figure of a run that a cut splits.
    Figure(&'static str, Part),
    /// The worst of the figures of a run at three places.
    Worst(&'static AtPlaces),
    /// Upper end of a run's depth interval: known only between both ends for a part of a run.
    Top,
    /// Lower end of a run's depth interval.
    Bottom,
}

/// Histogram functions that a field with `above` calls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Above {
    Turns,
    Hours,
}

#[derive(Clone, Debug)]
pub struct Field {
    pub name: &'static str,
    pub aliases: &'static [&'static str],
    /// The record that it belongs to; `None` for the joint.
    pub record: Option<Record>,
    /// What kind of value.
    pub kind: Kind,
    pub stored: Stored,
    /// It may hold several words or names, divided by commas: it is equal to each of them.
    pub several: bool,
    /// What no value means.
    pub absent: Absent,
    /// When there is no value, in words; empty where that goes without saying.
    pub when_absent: &'static str,
    /// Whether it may be below zero.
    pub signed: bool,
    /// It is a column that is never empty.
    pub always_filled: bool,
    /// The field of the same record that holds the same thing in another dimension.
    pub twin: Option<&'static str>,
    /// What the histogram tells about it above a dogleg.
    pub above: Option<Above>,
    /// The table of states that holds its value on a day, for a field of the joint.
    pub past: Option<Table>,
    pub help: &'static str,
    /// Where the value comes from.
    pub from: &'static str,
}

/// A field that is worked out of columns.
struct Worked {
    table: Table,
    name: &'static str,
    /// The column that it follows in lists.
    follows: &'static str,
    kind: Kind,
    stored: Stored,
    help: &'static str,
    also: &'static [&'static str],
}

macro_rules! worked {
    ($(
        $table:ident.$name:ident after $follows:ident:
            $kind:expr, $stored:ident ($($column:ident),+), $help:literal $(, also $also:literal)?;
    )*) => {
        /// Fields that are worked out of columns.
        const WORKED: &[Worked] = &[$(Worked {
            table: Table::$table,
            name: stringify!($name),
            follows: stringify!($follows),
            kind: $kind,
            stored: worked!(@stored $table $stored ($($column),+)),
            help: $help,
            also: &[$($also)?],
        }),*];
    };
    (@stored $table:ident Worst ($places:ident)) => { Stored::Worst(&$places) };
    (@stored $table:ident $stored:ident ($($column:ident),+)) => {
        Stored::$stored($(Col { table: Table::$table, name: stringify!($column) }),+)
    };
}

const RATIO: Kind = Kind::Measure(Measure::Ratio);
const DAYS: Kind = Kind::Measure(Measure::Days);

worked! {
    Joint.wall_loss after wall_thickness:
        RATIO, Rest(wall), "wall lost, as a part of the nominal one";
    Joint.wall_age after wall_read:
        DAYS, Age(wall_read), "how old the wall reading is";
    Joint.inspection_age after inspected:
        DAYS, Age(inspected), "how long ago it was last inspected in any way";
    Joint.failed after box_generation:
        Kind::Flag, Present(failed_on), "has failed";
    JointRun.max_bending after max_tension:
        Kind::Measure(Measure::Stress), Worst(BENDING),
        "largest bending stress at its worst place", also "bending";
    JointRun.damage after max_tension:
        Kind::Measure(Measure::Damage), Worst(DAMAGE),
        "used part of fatigue life at the place hit hardest", also "fatigue";
    JointRun.compression_hours after damage_box:
        Kind::Measure(Measure::Hours), Worst(COMPRESSION),
        "rotating hours in compression at the place that had most of them";
    JointRun.contact_hours after damage_box:
        Kind::Measure(Measure::Hours), Worst(CONTACT),
        "rotating hours in which the tube touched the wall, at the place that had most of them";
    JointRun.over_limit after damage_box:
        Kind::Measure(Measure::Turns), Worst(OVER_LIMIT),
        "turns above the no-fatigue bend at the place that made most", also "over_limit_turns";
    Inspection.wall_loss after wall_thickness:
        RATIO, Rest(wall), "wall lost, as a part of the nominal one";
    Finding.cleared after open:
        Kind::Flag, Present(cleared_by), "a repair or ruling has cleared it";
    Makeup.torque_ratio after stated_target:
        RATIO, Ratio(torque, target_torque), "torque applied as a part of the target";
    Hire.still_out after back:
        Kind::Flag, Missing(back), "has not come back";
}

/// Fields that hold the same thing in another dimension: a part of the nominal wall and a length.
const TWINS: [(&str, &str); 1] = [("wall", "wall_thickness")];

/// Figures and counters of which the histogram tells how much was above a dogleg.
const ABOVE: [(&str, Above); 2] = [("hours", Above::Hours), ("revolutions", Above::Turns)];

/// Tables of states, which hold what a joint was from an instant on.
const STATES: [Table; 2] = [Table::JointState, Table::Custody];
/// Columns of states that do not say it all: the last run changes without beginning a new state, and of
/// whether a joint is fit the rules of the day say a part.
const ONGOING: [&str; 3] = ["last_run", "fit", "unfit_because"];

/// The table of states in which a field of the joint stands on a day.
fn past_of(table: Table, stored: Stored) -> Option<Table> {
    let (Stored::Column(c) | Stored::Present(c) | Stored::Rest(c)) = stored else { return None };
    let kept = table == Table::Joint && !ONGOING.contains(&c.name);
    STATES.into_iter().find(|t| kept && t.spec().names.contains(&c.name))
}

impl Field {
    /// The field of a column; `None` for a column that is the program's own.
    fn of(table: Table, record: Option<Record>, column: &Column) -> Option<Self> {
        let from = column.from?;
        let name = column.name;
        let stored = match (column.shape, column.over, column.part) {
            (Shape::Bounds { lo, hi }, Some(over), _) => Stored::Counter { lo, hi, over },
            (Shape::Bounds { lo, hi }, None, _) => Stored::Between(lo, hi),
            (_, _, Some(part)) => Stored::Figure(name, part),
            _ if table == Table::JointRun && name == "top_depth" => Stored::Top,
            _ if table == Table::JointRun && name == "bottom_depth" => Stored::Bottom,
            _ => Stored::Column(Col { table, name }),
        };
        let twin = TWINS.iter().find(|t| t.0 == name).map(|t| t.1);
        let above = ABOVE.iter().find(|a| a.0 == name).map(|a| a.1);
        Some(Self {
            name,
            aliases: column.also,
            record,
            kind: column.kind?,
            stored,
            several: column.several,
            absent: column.absent,
            when_absent: column.when_absent,
            signed: column.signed,
            always_filled: column.required && matches!(stored, Stored::Column(_)),
            twin,
            above,
            past: past_of(table, stored),
            help: column.means,
            from,
        })
    }

    /// A field that is worked out of columns: it comes from where the first of them comes from.
    fn worked(of: &Worked, after: &Self) -> Self {
        let stored = of.stored;
        let reads = match stored {
            Stored::Rest(c)
            | Stored::Age(c)
            | Stored::Present(c)
            | Stored::Missing(c)
            | Stored::Ratio(c, _) => Some(c),
            _ => None,
        };
        let source = reads.and_then(|c| c.table.column(c.name)?.from);
        Self {
            name: of.name,
            aliases: of.also,
            record: after.record,
            kind: of.kind,
            stored,
            several: false,
            absent: Absent::Unknown,
            when_absent: "",
            // What is gone, and what is to come.
            signed: matches!(stored, Stored::Rest(_) | Stored::Age(_)),
            always_filled: false,
            twin: None,
            above: None,
            past: past_of(of.table, stored),
            help: of.help,
            from: source.unwrap_or(after.from),
        }
    }

    /// The measure, for a number.
    pub const fn measure(&self) -> Option<Measure> {
        match self.kind {
            Kind::Measure(m) => Some(m),
            _ => None,
        }
    }
}

/// Fields of a table, as fields of a record.
fn fields_in(table: Table, record: Option<Record>, out: &mut Vec<Field>) {
    for column in table.spec().columns {
        // What a joint's share repeats of a run is read there, where no run need be looked for.
        let share = (table == Table::Run)
            .then(|| Table::JointRun.column(column.name).is_some_and(|c| c.kind.is_some()));
        let read_in = if share == Some(true) { Table::JointRun } else { table };
        let Some(field) = Field::of(read_in, record, column) else { continue };
        let worked = WORKED.iter().filter(|w| w.table == table && w.follows == column.name);
        let worked: Vec<Field> = worked.map(|w| Field::worked(w, &field)).collect();
        out.push(field);
        out.extend(worked);
    }
}

/// Every field: the joint's first, then each record's.
pub fn fields() -> &'static [Field] {
    static ALL: LazyLock<Vec<Field>> = LazyLock::new(|| {
        let mut out = Vec::new();
        fields_in(Table::Joint, None, &mut out);
        for record in Record::ALL {
            if record == Record::Run {
                fields_in(Table::Run, Some(record), &mut out);
            }
            fields_in(record.table(), Some(record), &mut out);
        }
        out
    });
    &ALL
}

/// The field of a record (or of the joint) by any of its names, in any case. A filter has a dozen
/// names: to go through the list is quicker than to make an index of it first.
pub fn field(record: Option<Record>, name: &str) -> Option<&'static Field> {
    let is = |known: &str| known.eq_ignore_ascii_case(name);
    fields_of(record).find(|f| is(f.name) || f.aliases.iter().any(|a| is(a)))
}

/// Fields of a record, or of the joint.
pub fn fields_of(record: Option<Record>) -> impl Iterator<Item = &'static Field> {
    fields().iter().filter(move |f| f.record == record)
}

/// The field that holds another's figure at one place on the joint; `None` for one that stands for the
/// whole joint.
pub fn at_place(of: &Field, place: Place) -> Option<&'static Field> {
    let (Stored::Worst(places) | Stored::Counter { over: Over::WorstPlace(places), .. }) =
        of.stored
    else {
        return None;
    };
    let [pin, middle, box_end] = *places;
    let name = match place {
        Place::PinEnd => pin,
        Place::Middle => middle,
        Place::BoxEnd => box_end,
    };
    field(of.record, name)
}

/// The figures of a run at three places, and how each is folded.
pub fn figures_at(places: &AtPlaces) -> [(&'static str, Part); 3] {
    places.map(|name| {
        let part = Table::JointRun.column(name).and_then(|c| c.part);
        (name, part.unwrap_or(Part::Sums))
    })
}

/// True when some record or the joint has a field of that name.
pub fn is_field(name: &str) -> bool {
    std::iter::once(None)
        .chain(Record::ALL.into_iter().map(Some))
        .any(|record| field(record, name).is_some())
}

/// Records that have a field of that name.
pub fn records_with(name: &str) -> Vec<Record> {
    Record::ALL.into_iter().filter(|r| field(Some(*r), name).is_some()).collect()
}

/// Names that look like a strange one, the closest first: at most three.
pub fn nearest<'a>(name: &str, known: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let name = name.to_ascii_lowercase();
    let mut scored: Vec<(f64, &str)> = known
        .map(|k| {
            (
                strsim::jaro_winkler(k, &name)
                    .max(strsim::normalized_damerau_levenshtein(k, &name)),
                k,
            )
        })
        .filter(|(score, _)| *score > 0.78)
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
    scored.dedup_by(|a, b| a.1 == b.1);
    scored.into_iter().map(|(_, k)| k).take(3).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_name_means_one_field() {
        let mut seen = BTreeSet::new();
        for f in fields() {
            for name in std::iter::once(&f.name).chain(f.aliases) {
                assert!(seen.insert((f.record, *name)), "{:?} {name} twice", f.record);
                assert_eq!(&name.to_ascii_lowercase(), name);
            }
            assert!(!f.help.is_empty() && !f.from.is_empty(), "{} is not explained", f.name);
            assert!(!f.help.ends_with('.'), "{} ends with a full stop", f.name);
            if let Some(twin) = f.twin {
                assert!(field(f.record, twin).is_some(), "{} has no twin {twin}", f.name);
            }
        }
    }

    #[test]
    fn what_is_worked_out_is_of_columns() {
        let mut named = 0;
        for field in fields() {
            let columns = match field.stored {
                Stored::Column(c)
                | Stored::Present(c)
                | Stored::Missing(c)
                | Stored::Rest(c)
                | Stored::Age(c) => vec![c],
                Stored::Ratio(a, b) => vec![a, b],
                Stored::Between(lo, hi) => {
                    let names = &Table::Joint.spec().names;
                    assert!(names.contains(&lo) && names.contains(&hi), "{}", field.name);
                    continue;
                }
                Stored::Counter { over: Over::Runs(figure, part), .. } => {
                    let run = Table::JointRun.column(figure).unwrap();
                    assert_eq!(run.part, Some(part), "{figure}");
                    continue;
                }
                _ => continue,
            };
            for c in columns {
                assert!(c.table.column(c.name).is_some(), "{} reads {}", field.name, c.name);
            }
        }
        for worked in WORKED {
            let found = fields().iter().filter(|f| f.name == worked.name);
            named += found.filter(|f| f.help == worked.help).count();
        }
        // The loss of wall stands in two tables.
        assert_eq!(named, WORKED.len() + 2);
    }

    #[test]
    fn record_kinds_are_read_in_singular_and_plural() {
        for record in Record::ALL {
            assert_eq!(Record::parse(record.word()), Some(record));
            assert_eq!(Record::parse(&format!("{record}s").to_uppercase()), Some(record));
        }
        assert_eq!(Record::parse("s"), None);
        assert_eq!(Record::parse("joint"), None);
    }

    #[test]
    fn the_nearest_names_are_offered() {
        let names = || fields_of(Some(Record::Run)).map(|f| f.name);
        assert_eq!(nearest("max_doglog", names()).first(), Some(&"max_dogleg"));
        assert!(nearest("xyzzy", names()).is_empty());
    }
}
