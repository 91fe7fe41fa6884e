//! `assess`: a verdict that nobody records.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use super::take_in::BookLookup;
use super::words;
use crate::condition::Catalogue;
use crate::intake::{JointMatch, Kind, Lookup, catalogue_word};
use crate::model::{Body, EntryId, InspectionBody, JointBody, JointRef, Moment, WordError};
use crate::projection::book::BookFacts;
use crate::projection::joint::{Appraisal, Ask, appraise_alone};
use crate::projection::rows::JointRow;
use crate::report::assess::{Show, report, size_fields};
use crate::store::{Access, Book};
use crate::units::UnitSystem;

/// Judge what was read and found on a joint, and record nothing
///
/// Example: pipelore assess K1-0417 wall="0.291 in" box_od="6 1/4 in" methods="ut wall"
///
/// The fields are those of an inspection: readings (wall, body_od, pin_od, box_od, box_shoulder …),
/// findings (tube_finding, pin_finding, box_finding), methods, date. A size stands behind its
/// finding: tube_finding="slip cut 0.04 in across". A joint that is in no book is described by
/// --size, --grade, --connection, --tj-od and --tj-id. Exit status 1 when the joint may not run.
#[derive(Debug, Args)]
pub(super) struct AssessArgs {
    /// Serial of a joint of the book, then readings and findings
    #[arg(value_name = "[SERIAL] [FIELD=VALUE]")]
    words: Vec<String>,
    /// Judge by what is given alone, and not by earlier readings too
    #[arg(long)]
    fresh: bool,
    /// Tell also how the class of the joint came about
    #[arg(long)]
    history: bool,
    /// Size of a joint that is in no book: "5 in 19.50 lb/ft" or "5 in x 0.362 in"
    #[arg(long, value_name = "SIZE")]
    size: Option<String>,
    /// Its grade
    #[arg(long, value_name = "GRADE", requires = "size")]
    grade: Option<String>,
    /// Its connection
    #[arg(long, value_name = "NAME", requires = "size")]
    connection: Option<String>,
    /// Nominal outside diameter of its tool joint
    #[arg(long, value_name = "LENGTH", requires = "size")]
    tj_od: Option<String>,
    /// Nominal inside diameter of its tool joint
    #[arg(long, value_name = "LENGTH", requires = "size")]
    tj_id: Option<String>,
    /// What it is
    #[arg(long, value_name = "WORD", requires = "size", default_value = "drill_pipe")]
    component: String,
}

impl Command for AssessArgs {
    fn only_now(&self) -> Option<&'static str> {
        None
    }

    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let (serial, said) = match self.words.split_first() {
            Some((first, rest)) if !first.contains('=') => (Some(first), rest),
            _ => (None, self.words.as_slice()),
        };
        let fields = words::pairs(said)?;
        let serial = match (serial, &self.size) {
            (Some(_), Some(_)) => {
                return Err(usage(
                    "name a joint of the book, or describe one with --size, not both",
                ));
            }
            (serial, None) => serial.cloned().or_else(|| {
                let named =
                    fields.iter().find(|f| words::names(std::slice::from_ref(f), words::JOINT));
                named.map(|f| f.1.clone())
            }),
            (None, Some(_)) => None,
        };
        let rest: Vec<(String, String)> = fields
            .into_iter()
            .filter(|f| !words::names(std::slice::from_ref(f), words::JOINT))
            .collect();
        match (serial, &self.size) {
            (Some(serial), _) => of_the_book(self, &serial, rest, context),
            (None, Some(size)) => of_no_book(self, size, rest, context),
            (None, None) => Err(usage("name a joint of the book, or describe one with --size")
                .hint("pipelore assess K1-0417 wall=\"0.291 in\"")
                .hint(
                    "pipelore assess --size \"5 in 19.50 lb/ft\" --grade G-105 --connection NC50 \
                     --tj-od \"6 5/8 in\" --tj-id \"3 1/4 in\" wall=\"0.291 in\"",
                )),
        }
    }
}

fn of_the_book(
    args: &AssessArgs,
    serial: &str,
    mut fields: Vec<(String, String)>,
    context: &Context,
) -> Result<ExitCode, Failure> {
    let book = context.open(Access::Read)?;
    let joint = crate::report::find_joint(&book, serial)?;
    let row: Option<JointRow> = book.rows("WHERE joint = ?1", &[&joint])?.into_iter().next();
    let Some(row) = row else { return Err(usage(format!("no joint answers to {serial}"))) };
    let body = if fields.is_empty() {
        None
    } else {
        // Two joints may share the serial: the one that was found is meant.
        fields.push(("serial".to_owned(), format!("{}@{}", row.serial, row.name)));
        words::dated(&mut fields, context);
        let lookup = BookLookup { book: &book, offset_minutes: context.offset_minutes() };
        Some(inspection(&fields, &lookup, context)?)
    };
    let at = body.as_ref().map_or(context.present(), |b| b.0).start(context.offset_minutes());
    let at = if body.is_none() { context.present().end(context.offset_minutes()) } else { at };
    let ask = Ask { body: body.as_ref().map(|b| &b.1), fresh: args.fresh };
    let appraisal = book.appraiser()?.appraise(joint, at, ask)?;
    let Some(appraisal) = appraisal else {
        return Err(usage(format!("the entry that introduced {serial} is struck out")));
    };
    let name =
        |position: i64| book.entry_at(position).map_or_else(|_| String::new(), |e| e.raw.label());
    let title = appraisal.serial.clone();
    // With nothing given, the question is how the joint stands and how it came to that.
    let history = args.history || body.is_none();
    answer(&appraisal, &title, &name, history, context, context.units(&book))
}

fn of_no_book(
    args: &AssessArgs,
    size: &str,
    mut fields: Vec<(String, String)>,
    context: &Context,
) -> Result<ExitCode, Failure> {
    const SERIAL: &str = "unrecorded";
    let mut made = vec![
        ("serial".to_owned(), SERIAL.to_owned()),
        ("component".to_owned(), args.component.clone()),
    ];
    made.extend(size_fields(size)?);
    for (name, value) in [
        ("grade", &args.grade),
        ("connection", &args.connection),
        ("tj_od", &args.tj_od),
        ("tj_id", &args.tj_id),
    ] {
        made.extend(value.as_ref().map(|v| (name.to_owned(), v.clone())));
    }
    words::dated(&mut made, context);
    let nobody = Described { made: None };
    let outcome = words::read(Kind::Joints, &made, &nobody, context, false)?;
    if let Some(failure) = words::refused(&outcome, "the joint as described cannot be") {
        return Err(failure);
    }
    let joint = outcome.drafts.into_iter().find_map(|d| match d.body {
        Body::Joint(body) => Some(*body),
        _ => None,
    });
    let Some(joint) = joint else { return Err(usage("the joint as described cannot be")) };
    let described = Described { made: Some(joint.clone()) };
    let body = if fields.is_empty() {
        None
    } else {
        fields.push(("serial".to_owned(), SERIAL.to_owned()));
        words::dated(&mut fields, context);
        Some(inspection(&fields, &described, context)?)
    };
    let at = body.as_ref().map_or(context.present(), |b| b.0).start(context.offset_minutes());
    // A book that is there brings the limits that it has adopted.
    let book = if context.book.exists() { Some(context.open(Access::Read)?) } else { None };
    let facts = book_facts(book.as_ref())?;
    let ask = Ask { body: body.as_ref().map(|b| &b.1), fresh: args.fresh };
    let Some(appraisal) = appraise_alone(&joint, at, ask, &facts) else {
        return Err(usage("the joint as described cannot be judged"));
    };
    let units = book
        .as_ref()
        .map_or_else(|| context.asked_units().unwrap_or_default(), |b| context.units(b));
    answer(&appraisal, "a joint in no book", &|_| String::new(), false, context, units)
}

fn book_facts(book: Option<&Book>) -> Result<BookFacts, Failure> {
    Ok(match book {
        Some(book) => book.appraiser()?.facts().clone(),
        None => BookFacts::default(),
    })
}

/// Reads the fields as an inspection.
fn inspection(
    fields: &[(String, String)],
    lookup: &dyn Lookup,
    context: &Context,
) -> Result<(Moment, InspectionBody), Failure> {
    let outcome = words::read(Kind::Inspections, fields, lookup, context, false)?;
    if let Some(failure) = words::refused(&outcome, "what was read or found cannot be used") {
        return Err(failure);
    }
    outcome
        .drafts
        .into_iter()
        .find_map(|d| match d.body {
            Body::Inspection(body) => Some((d.effective, *body)),
            _ => None,
        })
        .ok_or_else(|| usage("what was read or found cannot be used"))
}

fn answer(
    appraisal: &Appraisal,
    title: &str,
    entry: &dyn Fn(i64) -> String,
    history: bool,
    context: &Context,
    units: UnitSystem,
) -> Result<ExitCode, Failure> {
    let show = Show { units, offset_minutes: context.offset_minutes(), entry, history };
    output::print(&report(appraisal, title, &show), context, units)?;
    Ok(if appraisal.may_run() { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

/// A joint that is in no book, as intake sees it.
struct Described {
    made: Option<JointBody>,
}

impl Lookup for Described {
    fn joints(&self, key: &str) -> Vec<JointMatch> {
        let Some(made) = self.made.as_ref().filter(|m| m.serial.key() == key) else {
            return Vec::new();
        };
        let Ok(joint) = "unrecorded-1".parse::<EntryId>() else { return Vec::new() };
        vec![JointMatch {
            joint: JointRef { serial: made.serial.clone(), joint },
            component: made.component,
            since: Moment::Day(chrono::NaiveDate::MIN),
            until: None,
            made: made.made,
        }]
    }

    fn runs(&self, _name: &str) -> Vec<EntryId> {
        Vec::new()
    }

    fn has_entry(&self, _entry: &EntryId) -> bool {
        false
    }

    fn finding(&self, text: &str) -> Result<String, WordError> {
        catalogue_word(text, Catalogue::shipped())
    }

    fn made(&self, _joint: &EntryId) -> Option<JointBody> {
        self.made.clone()
    }
}
