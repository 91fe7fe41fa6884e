//! The derived tables, each column declared once.
//!
//! A table is declared with `table!`: a struct whose fields are columns. What stands beside a
//! field says everything else that the program knows of the column:
//!
//! ```text
//! table! {
//!     /// A joint as the book knows it today.
//!     JointRow in joint, key (joint), indexes { joint_serial (serial) } {
//!         /// nominal weight, the name of the size
//!         weight: Option<i64>, .of(M::LinearMass) .from(CERTIFICATE) .also(&["nominal_weight"]);
//!         /// what a joint went through
//!         totals: Totals;
//!     }
//! }
//! ```
//!
//! - **Name.** The field's. The column of the file, the field of the filter language and the field
//!   of the struct are one name.
//! - **Type.** It says what SQL stores, whether there may be none (`Option`), and what it means
//!   where that follows: `bool` is a flag, a vocabulary of `model` a word of it, [`Bounds`] a lower
//!   and an upper bound in two columns (`hours_lo`, `hours_hi`). A group of columns that several
//!   tables share ([`Totals`], [`Figures`]) is a field too.
//! - **The doc comment** is what the column means; the reference page of the language prints it.
//! - **What it is**: `of` a measure (in its quanta: `units::Measure`), a `date` (an instant, ms of
//!   UTC), a `set` of words (one bit each), a `word` of a list that is data.
//! - **`from`** says where the value comes from, and makes the column a field of the language, under
//!   the record of its table. A column without it is the program's own.
//! - **`also`** are other names of the field; `or_none` says that no value means "there is none"
//!   rather than "nobody knows", and when; `unknown` says when nobody knows, which every word and flag
//!   must say that may be empty: no word of a vocabulary and no `false` stands for it; `signed` that it may be below zero; `titled` what people read above
//!   it; `counted` that the joint's summary bits tell of it ([`presence`]); `since` the version of the
//!   projections that brought it.
//!
//! What is made of it:
//!
//! | | |
//! |---|---|
//! | the tables and indexes of the file | [`layout`] |
//! | the row struct, its reading and writing | [`row`] |
//! | figures of runs, totals, windows, `since` | [`counters`] |
//! | queries for rows, without SQL | [`query`] |
//! | summary bits of a joint's records | [`presence`] |
//! | fields of the filter language and their page | `filter::registry` |
//! | headings and measures of reports | `report::data` |
//!
//! A column of a record is one line here and one in the fold that fills it. A column of a joint that
//! entries change stands in its states too, so that the past knows it: one line here, one in `state`,
//! and two in `projection::joint`. A counter is one line of [`counters`] for the run, one for the joint,
//! and one in `projection::exposure` where it is worked out. Raise `projection::VERSION` with either.

pub mod column;
pub mod counters;
mod joint;
pub mod layout;
mod links;
pub mod presence;
pub mod query;
mod record;
mod records;
pub mod row;
mod run;
mod state;
mod words;

pub use column::{Absent, Column, Kind, Over, Part, Shape};
pub use counters::{
    AfterCut, AtPlaces, BENDING, Bounds, COMPRESSION, CONTACT, DAMAGE, Figures, OVER_LIMIT, PLACED,
    Running, Sums, Totals,
};
pub use joint::{CERTIFICATE, DimensionRow, GapRow, JointRow, OpeningRow, SerialRow, SinceRow};
pub use links::{
    BookFactRow, ConflictRow, ContentRow, EntryTimeRow, FileTakenRow, NOT_ITS_OWN, SET_ASIDE,
    STRUCK, StruckRow, SurveyRow, TouchRow, WITHOUT_DECISION,
};
pub use query::{ColumnOf, OfJoint, Rows};
pub use record::Record;
pub(crate) use records::taken_over_from;
pub use records::{
    DecisionRow, EventRow, FailureRow, FindingRow, HireRow, InspectionRow, MakeupRow, MoveRow,
    RepairRow,
};
pub use row::{Columns, Group, Row, Spec, Value};
pub use run::{JointRunRow, RunPartRow, RunRow};
pub use state::{CustodyRow, JointStateRow};
pub use words::{Catalogued, DECIDED_SCRAP, DECISION, Words, each_word};

use row::table;

/// The enum of all tables.
macro_rules! tables {
    ($($table:ident: $row:ident,)*) => {
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Table { $($table,)* WindowPart }

        impl Table {
            /// Tables of the file, in the order in which they are laid out.
            pub const ALL: &'static [Self] = &[$(Self::$table),*];

            /// Its name in the book.
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$table => <$row as Row>::TABLE,)*
                    Self::WindowPart => "window_part",
                }
            }

            /// Its columns, key and indexes.
            pub fn spec(self) -> &'static Spec {
                match self {
                    $(Self::$table => <$row as Row>::spec(),)*
                    // Parts of runs at dates that a question names: made anew for each, in no file.
                    Self::WindowPart => RunPartRow::spec(),
                }
            }
        }
    };
}

tables! {
    Joint: JointRow,
    Since: SinceRow,
    Opening: OpeningRow,
    JointState: JointStateRow,
    Custody: CustodyRow,
    Serial: SerialRow,
    Run: RunRow,
    JointRun: JointRunRow,
    RunPart: RunPartRow,
    Gap: GapRow,
    Dimension: DimensionRow,
    Inspection: InspectionRow,
    Finding: FindingRow,
    Repair: RepairRow,
    Makeup: MakeupRow,
    Event: EventRow,
    Failure: FailureRow,
    Move: MoveRow,
    Hire: HireRow,
    Decision: DecisionRow,
    Touch: TouchRow,
    EntryTime: EntryTimeRow,
    Struck: StruckRow,
    Survey: SurveyRow,
    BookFact: BookFactRow,
    Conflict: ConflictRow,
    FileTaken: FileTakenRow,
    Content: ContentRow,
}

/// Rows that belong to a joint.
macro_rules! of_joint {
    ($($row:ident),* $(,)?) => {
        $(impl OfJoint for $row {})*

        #[cfg(test)]
        const OF_JOINT: &[fn() -> &'static Spec] = &[$(<$row as Row>::spec),*];
    };
}

of_joint!(
    JointRow,
    SinceRow,
    OpeningRow,
    JointStateRow,
    CustodyRow,
    SerialRow,
    JointRunRow,
    RunPartRow,
    GapRow,
    DimensionRow,
    InspectionRow,
    FindingRow,
    RepairRow,
    MakeupRow,
    EventRow,
    FailureRow,
    MoveRow,
    HireRow,
    DecisionRow,
    TouchRow,
    ConflictRow,
);

impl Table {
    /// The column of a name.
    pub fn column(self, name: &str) -> Option<&'static Column> {
        self.spec().columns.iter().find(|c| c.name == name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_a_joint_name_it() {
        let of_joint: Vec<&str> = OF_JOINT.iter().map(|spec| spec().name).collect();
        for table in Table::ALL {
            let names_it = table.column("joint").is_some();
            assert_eq!(of_joint.contains(&table.name()), names_it, "{}", table.name());
        }
    }

    #[test]
    fn what_can_be_asked_says_what_it_is() {
        for table in Table::ALL {
            let spec = table.spec();
            for column in spec.columns {
                let at = format!("{}.{}", table.name(), column.name);
                assert!(!column.means.is_empty(), "{at} is not explained");
                assert!(!column.means.ends_with('.'), "{at} ends with a full stop");
                assert!(column.from.is_none() || column.kind.is_some(), "{at} is of no kind");
                let always = column.stored().all(|(_, required)| required);
                assert!(column.when_absent.is_empty() || !always, "{at} is never absent");
                let word = matches!(column.kind, Some(Kind::Word(_) | Kind::Flag | Kind::Set(_)));
                let said = !column.when_absent.is_empty() || column.from.is_none();
                assert!(always || !word || said, "{at} does not say when it is not known");
            }
            let has = |name: &&str| spec.names.contains(name);
            assert!(spec.key.iter().all(has), "key of {}", table.name());
            for index in spec.indexes {
                assert!(index.columns.iter().all(has), "{}", index.name);
            }
        }
    }
}
