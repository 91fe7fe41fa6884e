//! `plan`: the next string, joint by joint.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use super::rate::maybe;
use crate::intake::Wishes;
use crate::report::plan::How;
use crate::store::Access;
use crate::units::Measure;

/// The next string: what each place will go through, and which joint stands best at it
///
/// Example: pipelore plan next.toml --from 'string = "K1"' --tally next-tally.csv
///
/// The file is that of a run that is to be: well, start, mud, hole, a tally, and what is planned from
/// depth to depth in a file of operations, or a log to scale from. Its tally has the bottom-hole
/// assembly, and for drill pipe either the joints as they are racked or lines with a count and no
/// serial. A table [plan] in it says what the options below say, and names a planned survey. Joints
/// that are not fit for the run are never placed; each is listed with its reason. Exit status 1 when
/// the string cannot be made up.
#[derive(Debug, Args)]
pub(super) struct PlanArgs {
    /// File of the plan
    #[arg(value_name = "FILE", required_unless_present = "run", conflicts_with = "run")]
    file: Option<String>,
    /// Look back on a recorded run that is over: which order would have been best, fit or not
    #[arg(long, value_name = "RUN")]
    run: Option<String>,
    /// Joints that may stand in it beside those of its tally
    #[arg(long, value_name = "FILTER")]
    from: Option<String>,
    /// Leave these joints out, with commas between
    #[arg(long, value_name = "SERIAL", value_delimiter = ',')]
    without: Vec<String>,
    /// Joints that stay together as a stand, in the order of the tally
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..=4))]
    stands: Option<u8>,
    /// At most so many exchanges of joints or stands of the tally
    #[arg(long, value_name = "N")]
    moves: Option<usize>,
    /// Pull that joints bear beyond the hardest of the plan, like "100 klbf"
    #[arg(long, value_name = "FORCE")]
    margin: Option<String>,
    /// The hardest torque, like "20000 ft lbf"
    #[arg(long, value_name = "TORQUE")]
    torque: Option<String>,
    /// Another rotary speed wherever it turns, like "60 rpm"
    #[arg(long, value_name = "SPEED")]
    rotary_speed: Option<String>,
    /// All of it takes so many times as long
    #[arg(long, value_name = "TIMES")]
    times: Option<f64>,
    /// How far turns may be from those that are planned, like "15 %"
    #[arg(long, value_name = "PART")]
    turns_within: Option<String>,
    /// Place joints, too, of which it cannot be said whether they are fit; each is named
    #[arg(long)]
    undecided: bool,
    /// Place no joint where a call on it would fall due before the end
    #[arg(long)]
    no_calls: bool,
    /// Leave the tally as it is and tell what comes of it
    #[arg(long, conflicts_with_all = ["stands", "moves", "from"])]
    as_it_stands: bool,
    /// After the run: what the tally was planned to go through against what the run did
    #[arg(long, value_name = "RUN", conflicts_with_all = ["as_it_stands", "tally", "run"])]
    against: Option<String>,
    /// Write the tally that is advised, as a file that `load` takes with a run; nothing may stand there
    #[arg(long, value_name = "FILE")]
    tally: Option<PathBuf>,
}

impl PlanArgs {
    fn wishes(&self) -> Result<Wishes, Failure> {
        let of = |flag, text: &Option<String>, measure| maybe(flag, text.as_deref(), measure);
        let wishes = Wishes {
            from: self.from.clone(),
            survey: None,
            stands: self.stands.map(usize::from),
            moves: self.moves,
            margin: of("--margin", &self.margin, Measure::Force)?,
            torque: of("--torque", &self.torque, Measure::Torque)?,
            turns_within: of("--turns-within", &self.turns_within, Measure::Ratio)?,
            speed: of("--rotary-speed", &self.rotary_speed, Measure::RotarySpeed)?,
            times: self.times,
            undecided: self.undecided,
            no_calls: self.no_calls,
            without: self.without.clone(),
        };
        let quantities = [wishes.margin, wishes.torque, wishes.turns_within, wishes.speed];
        if quantities.into_iter().flatten().any(|q| q < 0.0) {
            return Err(usage("margin, torque, speed and turns are no less than nothing"));
        }
        if wishes.times.is_some_and(|n| !(0.01..=100.0).contains(&n)) {
            return Err(usage("--times lies between 0.01 and 100"));
        }
        Ok(wishes)
    }
}

impl Command for PlanArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        let wishes = self.wishes()?;
        let mut session = context.open(Access::Read)?;
        let (planned, said, how) = match (&self.run, &self.file) {
            (Some(run), _) => {
                let (mut planned, before) = session.recorded_plan(run)?;
                planned.alter(wishes, session.clock());
                // Its joints as they were when it began.
                session = context.clone().looking_back_from(Some(before)).open(Access::Read)?;
                (planned, Vec::new(), How::LookBack)
            }
            (None, Some(file)) => {
                let (planned, said) = session.read_plan(file, wishes)?;
                if let Some(run) = &self.against {
                    let report = session.plan_against(&planned, run)?;
                    return output::answer(&report, context, &session);
                }
                let how = if self.as_it_stands { How::AsItStands } else { How::Advise };
                (planned, said, how)
            }
            (None, None) => return Err(usage("name the file of the plan, or a run")),
        };
        let next = session.plan(&planned, &said, how)?;
        let shown = match (&self.tally, &next.tally) {
            (Some(path), Some(tally)) => {
                output::write_new(path, tally.as_bytes())?;
                output::answer_made(&next.report, context, &session, path)?
            }
            (Some(_), None) | (None, _) => output::answer(&next.report, context, &session)?,
        };
        Ok(if next.tally.is_some() { shown } else { ExitCode::from(1) })
    }
}
