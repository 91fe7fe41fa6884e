//! Finds the joint or run that a user names.

use std::collections::BTreeMap;

use crate::filter::FilterError;
use crate::model::{JointRef, Serial};
use crate::schema::{JointRow, JointRunRow, Rows, RunRow};
use crate::store::{Book, StoreError};

/// Why a report could not be made.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// No joint answers to the serial.
    #[error("no joint answers to {serial}{}", or_like(.like))]
    NoJoint {
        serial: String,
        /// Serials that look like it.
        like: Vec<String>,
    },
    /// Several joints answer to the serial.
    #[error(
        "{} joints answer to {serial}; say which: {}",
        joints.len(),
        joints.join(", ")
    )]
    ManyJoints {
        serial: String,
        /// The joints, each with the entry that introduced it.
        joints: Vec<String>,
    },
    /// No run of that name.
    #[error("there is no run {name}{}", or_like(.like))]
    NoRun {
        name: String,
        /// Names that look like it.
        like: Vec<String>,
    },
    /// The filter does not parse or check.
    #[error("{}", filter_message(.0))]
    Filter(Vec<FilterError>),
    /// The words of an option are wrong.
    #[error("{0}")]
    Words(String),
    /// The store said no.
    #[error(transparent)]
    Store(#[from] StoreError),
}

fn filter_message(errors: &[FilterError]) -> String {
    match errors {
        [one] => one.message.clone(),
        many => format!("{} mistakes in the filter", many.len()),
    }
}

fn or_like(names: &[String]) -> String {
    if names.is_empty() { String::new() } else { format!("; did you mean {}?", names.join(" or ")) }
}

/// The row of a joint; `None` where it is no joint of the book.
pub(super) fn joint_row(book: &Book, joint: i64) -> Result<Option<JointRow>, ReportError> {
    Ok(book.row(joint)?)
}

/// The joints of a string, by serial.
pub(super) fn in_string(book: &Book, string: &str) -> Result<Vec<JointRow>, ReportError> {
    let wanted = Rows::all().named(JointRow::string(), string);
    Ok(book.rows(&wanted.by(JointRow::serial()).by(JointRow::by_name()))?)
}

/// Finds the joint that a user names: `K1-0417`, or `K1-0417@yard-12` where two share a serial.
pub fn find_joint(book: &Book, text: &str) -> Result<i64, ReportError> {
    if let Ok(named) = text.parse::<JointRef>()
        && let Some(position) = book.position_of(&named.joint)?
        && joint_row(book, position)?.is_some()
    {
        return Ok(position);
    }
    let none = |like| ReportError::NoJoint { serial: text.to_owned(), like };
    let serial = Serial::parse(text).map_err(|_| none(Vec::new()))?;
    let joints = book.joints_by_serial(&serial.key())?;
    match joints.as_slice() {
        [joint] => Ok(*joint),
        [] => Err(none(book.serials_like(&serial.key())?)),
        many => {
            let mut names = Vec::new();
            for joint in many {
                if let Some(row) = joint_row(book, *joint)? {
                    names.push(format!("{}@{}", row.serial, row.introduced_by));
                }
            }
            Err(ReportError::ManyJoints { serial: text.to_owned(), joints: names })
        }
    }
}

/// The runs of a joint, by place, with its shares of them.
pub(super) fn runs_of(
    book: &Book,
    shares: &[JointRunRow],
) -> Result<BTreeMap<i64, RunRow>, ReportError> {
    let mut out = BTreeMap::new();
    for share in shares {
        out.extend(book.row::<RunRow>(share.run)?.map(|run| (run.run, run)));
    }
    Ok(out)
}

/// The joints of a run from the bit up; those that took one place after the other by their names.
pub(super) fn from_the_bit(book: &Book, run: i64) -> Result<Vec<JointRunRow>, ReportError> {
    let mut rows: Vec<JointRunRow> =
        book.rows(&Rows::of(JointRunRow::run(), run).by(JointRunRow::position()))?;
    for place in rows.chunk_by_mut(|a, b| a.position == b.position) {
        if place.len() > 1 {
            let joints: Vec<i64> = place.iter().map(|r| r.joint).collect();
            let order = book.joints_by_name(&joints)?;
            place.sort_by_key(|r| order.iter().position(|j| *j == r.joint));
        }
    }
    Ok(rows)
}

/// Finds a run by its name.
pub(super) fn find_run(book: &Book, name: &str) -> Result<RunRow, ReportError> {
    let named = Rows::all().named(RunRow::name(), name).by(RunRow::finish()).by(RunRow::by_name());
    let mut exact: Vec<RunRow> = book.rows(&named)?;
    if let Some(run) = exact.pop() {
        return Ok(run);
    }
    let mut scored: Vec<(f64, String)> = book
        .rows(&Rows::<RunRow>::all())?
        .into_iter()
        .map(|r| (strsim::jaro_winkler(&r.name.to_lowercase(), &name.to_lowercase()), r.name))
        .filter(|(score, _)| *score > 0.8)
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    let like = scored.into_iter().take(3).map(|s| s.1).collect();
    Err(ReportError::NoRun { name: name.to_owned(), like })
}
