//! Classification limits and findings catalogue as data; verdicts, dispositions, cautions. Pure.

mod assess;
mod catalogue;
mod caution;
mod criterion;
mod levels;
mod limit;
mod limits;
mod methods;
mod needs;
mod restriction;
mod subject;
mod table;
mod verdict;
mod words;

pub use assess::{assess, has_classes};
pub use catalogue::{Catalogue, Finding, On, ShareKind, SizeKind, UnknownFinding};
pub use caution::{Caution, DEFERENCE};
pub use criterion::{Criterion, Spec, Take};
pub use levels::{Level, levels, levels_met};
pub use limit::{Applies, Basis, Comparison, ForClass, Limit, Reference, plain_name};
pub use limits::{Fit, LimitError, LimitSet};
pub use methods::{
    Capability, Metal, can_see, capabilities, capability, covers, is_crack_scope,
    methods_for_reading, methods_for_scope,
};
pub use needs::{Need, Wanted, needs};
pub use restriction::{Kept, Restriction, RunFacts};
pub use subject::{
    Amount, Connection, ConnectionLimit, ConnectionLimits, Earlier, Found, Measured, Nominal,
    Subject, SubjectError, SubjectProblem, measure_of,
};
pub use table::{TableError, TableProblem};
pub use verdict::{
    Action, Band, Because, FindingVerdict, Governing, Judged, Judgement, Lack, Missing, Outcome,
    PartVerdict, Search, Standing, Verdict,
};
pub use words::{Blocks, Colour, Disposition, Part, Person, Seal, on_an_end};
