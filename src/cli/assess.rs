//! `assess`: a verdict that nobody records.

use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use super::rate::maybe;
use crate::app::words::{self, Fields};
use crate::app::{AssessHow, Assessed, Described, assess_described};
use crate::report::fitness::Demands;
use crate::store::Access;
use crate::units::Measure;

/// Judge what was read and found on a joint, and record nothing
///
/// Example: pipelore assess K1-0417 wall="0.291 in" box_od="6 1/4 in" methods="ut wall"
///
/// The fields are those of an inspection: readings (wall, body_od, pin_od, box_od, box_shoulder …),
/// findings (tube_finding, pin_finding, box_finding), methods, date. A size stands behind its
/// finding: tube_finding="slip cut 0.04 in across". --run holds it against what a recorded run asked
/// of its string; what the book does not know of that run is said, and --pull and --torque say it. A joint that is in no book is described by
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
    /// Hold the methods that were used against an inspection level, like "category 4"
    #[arg(long, value_name = "LEVEL")]
    level: Option<String>,
    /// Hold it against a run of the book too: its hardest pull and torque, hydrogen sulphide, casing
    #[arg(long, value_name = "RUN")]
    run: Option<String>,
    /// The hardest pull of the run that it is meant for
    #[arg(long, value_name = "FORCE")]
    pull: Option<String>,
    /// The hardest torque of that run
    #[arg(long, value_name = "TORQUE")]
    torque: Option<String>,
    /// That run meets hydrogen sulphide
    #[arg(long)]
    sour: bool,
    /// In that run it turns inside casing, riser or preventer
    #[arg(long)]
    casing: bool,
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
        let rest: Fields = fields
            .into_iter()
            .filter(|f| !words::names(std::slice::from_ref(f), words::JOINT))
            .collect();
        match (serial, &self.size) {
            (Some(serial), _) => {
                let mut session = context.open(Access::Read)?;
                let assessed = session.assess(&serial, rest, &self.how()?)?;
                output::answer(&assessed.report, context, &session)?;
                Ok(exit_code(&assessed))
            }
            (None, Some(size)) => self.of_no_book(size, rest, context),
            (None, None) => Err(usage("name a joint of the book, or describe one with --size")
                .hint("pipelore assess K1-0417 wall=\"0.291 in\"")
                .hint(
                    "pipelore assess --size \"5 in 19.50 lb/ft\" --grade G-105 --connection NC50 \
                     --tj-od \"6 5/8 in\" --tj-id \"3 1/4 in\" wall=\"0.291 in\"",
                )),
        }
    }
}

/// What a run asks of a joint: nothing less than zero, which would be borne by any.
fn demand(name: &str, text: Option<&str>, measure: Measure) -> Result<Option<f64>, Failure> {
    match maybe(name, text, measure)? {
        Some(least) if least < 0.0 => {
            Err(usage(format!("{name} is the most that the run asks for, not less than nothing")))
        }
        other => Ok(other),
    }
}

impl AssessArgs {
    fn how(&self) -> Result<AssessHow<'_>, Failure> {
        let demands = Demands {
            pull: demand("--pull", self.pull.as_deref(), Measure::Force)?,
            torque: demand("--torque", self.torque.as_deref(), Measure::Torque)?,
            sour: self.sour,
            casing: self.casing,
            open: Vec::new(),
        };
        let (level, run) = (self.level.as_deref(), self.run.as_deref());
        Ok(AssessHow { fresh: self.fresh, history: self.history, level, demands, run })
    }

    fn of_no_book(
        &self,
        size: &str,
        fields: Fields,
        context: &Context,
    ) -> Result<ExitCode, Failure> {
        let said = [
            ("grade", &self.grade),
            ("connection", &self.connection),
            ("tj_od", &self.tj_od),
            ("tj_id", &self.tj_id),
        ];
        let said = said.into_iter();
        let joint = Described {
            component: self.component.clone(),
            size: size.to_owned(),
            fields: said.filter_map(|(n, v)| Some((n.to_owned(), v.clone()?))).collect(),
        };
        // A book that is there brings what it has adopted.
        let session = context.open_if_there()?;
        let (book, caller) = (session.as_ref(), &context.caller);
        let assessed = assess_described(&joint, fields, &self.how()?, book, caller)?;
        match &session {
            Some(session) => output::answer(&assessed.report, context, session)?,
            None => output::print(&assessed.report, context, context.units())?,
        };
        Ok(exit_code(&assessed))
    }
}

fn exit_code(assessed: &Assessed) -> ExitCode {
    if assessed.may_run { ExitCode::SUCCESS } else { ExitCode::from(1) }
}
