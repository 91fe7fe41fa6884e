//! Classification limits and findings catalogue as data; verdicts, dispositions, cautions. Pure.
//!
//! A *subject* (what was read and found on a joint, and how it was looked at) is judged by
//! *standards* (limits, the catalogue of findings, what methods see, what a part needs, what repairs
//! do); out comes a *verdict*. The sets are data, under `editions/` in the editions that shipped,
//! each row with its source and what stands behind it (published, memory, computed, common
//! practice); the code knows which criteria there are and how a value is held against a limit, and
//! no number of any standard.
//!
//! - `limit`, `limits`, `criterion`: what is judged, by what.
//! - `catalogue`: findings in the trade's words. `methods`, `needs`, `levels`: what each method can
//!   see, what a part needs before it is passed, what a level of inspection asks for.
//! - `subject`, `assess`, `verdict`, `text`: judging, and saying so.
//! - `repair`, `repair_check`, `restriction`, `restrict`, `history`: what work resets and may do, what a joint
//!   carries on, how its class may change.
//! - `fitness`, `floor`: whether a joint is fit to run, with every reason; what no decision helps.
//!
//! A verdict computes and recommends; a qualified person decides. Paint that was seen never enters.

mod assess;
mod catalogue;
mod caution;
mod criterion;
mod edition;
mod fitness;
mod floor;
mod history;
mod levels;
mod limit;
mod limits;
mod methods;
mod needs;
mod plausible;
mod repair;
mod repair_check;
mod restrict;
mod restriction;
mod standards;
mod subject;
mod table;
mod text;
mod verdict;
mod words;

pub use assess::{Threshold, assess, crack_scopes, has_classes, thresholds};
pub use catalogue::{Catalogue, Finding, On, ShareKind, SizeKind, UnknownFinding};
pub use caution::{Caution, DEFERENCE};
pub use criterion::{Criterion, Spec, Take};
pub use edition::{Edition, EditionError};
pub use fitness::{
    Fitness, FollowUp, Ground, NotJudged, Reason, Stands, UnknownLife, Unlikely, WeakPin, Weight,
    answer, grounds, not_judged, reasons,
};
pub use floor::{BelowFloor, FloorOf, below_floor};
pub use history::{
    Agreement, Change, ClassDecision, ClassStep, Previous, RestsOn, StepFlag, agreement,
    class_after,
};
pub use levels::{Level, levels};
pub use limit::{Applies, Basis, Comparison, ForClass, Limit, Reference, plain_name};
pub use limits::{Fit, LimitError, LimitSet};
pub use methods::{Capabilities, Capability, Metal, is_crack_scope};
pub use needs::{Need, Needs, Wanted};
pub use plausible::{Implausible, implausible};
pub use repair::{Reset, WorkEffect, WorkOn, Works, can_clear};
pub use repair_check::{RepairHistory, RepairInput, RepairIssue, Severity, check_repair};
pub use restrict::restrictions_after;
pub use restriction::{Compliance, Restriction, RunFacts};
pub use standards::{Held, Standards};
pub use subject::{
    Amount, Connection, ConnectionLimit, ConnectionLimits, Earlier, Found, Looked, Measured,
    Nominal, Subject, SubjectError, SubjectProblem, has_no_hardband,
};
pub use table::{TableError, TableProblem};
pub use verdict::{
    Action, Band, Because, FindingVerdict, Governing, Judged, Judgement, Lack, Missing, Outcome,
    PartVerdict, Search, Standing, Verdict,
};
pub use words::{Blocks, Colour, Disposition, Part, Person, Seal, on_an_end};
