//! `rate dogleg`: from words, or from a place of a run.

use std::process::ExitCode;

use super::args::DoglegArgs;
use super::read::{maybe, quantity};
use super::{joined, measured, surroundings};
use crate::cli::context::Context;
use crate::cli::failure::{Failure, usage};
use crate::cli::output;
use crate::model::Environment;
use crate::projection::notches::ROOT;
use crate::report::method;
use crate::report::rate::dogleg::{self, DoglegQuestion, Notch, RANGE_2, SIDE_FORCE};
use crate::report::rate::run::{StringPoint, place};
use crate::report::rate::tube::MeasuredWall;
use crate::report::rate::{Surroundings, TubeSpec, classes};
use crate::store::{Access, Book};
use crate::units::Measure as M;

pub(super) fn run(args: &DoglegArgs, context: &Context) -> Result<ExitCode, Failure> {
    // A book is wanted for a run; without one it only says which method is in force.
    let session = match &args.run {
        Some(_) => Some(context.open(Access::Read)?),
        None => context.open(Access::Read).ok(),
    };
    let book = session.as_ref().map(|s| &s.book);
    let there = match (book, &args.run, &args.at) {
        (Some(book), Some(run), Some(at)) => {
            let bit = maybe("--bit", args.bit.as_deref(), M::Depth)?;
            Some(place(book, run, bit, quantity("--at", at, M::Depth)?)?)
        }
        _ => None,
    };
    let (tube, wall) = tube(args, book, there.as_ref())?;
    let environment = environment(args, there.as_ref())?;
    let method = match book {
        Some(book) => method::in_force(book)?,
        None => method::shipped()?,
    };
    let curve = match &args.curve {
        Some(name) => method::curve(name)?,
        None => method.curve(environment).clone(),
    };
    let rule = match &args.mean_stress {
        Some(word) => dogleg::mean_stress(word, &tube)?,
        None => method.settings(environment).mean_stress,
    };
    let mut around = surroundings(&args.around)?;
    if let Some(place) = &there {
        around = Surroundings {
            sour: around.sour || place.around.sour,
            celsius: around.celsius.or(place.around.celsius),
        };
    }
    let dogleg = maybe("--dogleg", args.dogleg.as_deref(), M::Dogleg)?.map(dogleg::curvature);
    let cut = maybe("--cut", args.cut.as_deref(), M::Wall)?;
    let root = maybe("--root-radius", args.root_radius.as_deref(), M::Wall)?.unwrap_or(ROOT);
    let speed = maybe("--speed", args.speed.as_deref(), M::RotarySpeed)?;
    if !(args.turns > 0.0 && args.turns.is_finite()) || speed.is_some_and(|s| s <= 0.0) {
        return Err(usage("turns and rotary speed are above zero"));
    }
    let question = DoglegQuestion {
        classes: classes(args.class.as_deref())?,
        measured: measured(&args.measured)?.or(wall),
        tension: match &there {
            Some(place) => Some(place.tension),
            None => maybe("--tension", args.tension.as_deref(), M::Force)?,
        },
        dogleg: dogleg.or(there.as_ref().map(|p| p.curvature).filter(|c| *c > 0.0)),
        length: maybe("--length", args.length.as_deref(), M::JointLength)?
            .or(there.as_ref().map(|p| p.length))
            .unwrap_or(RANGE_2),
        tool_joint: maybe("--tool-joint", args.tool_joint.as_deref(), M::Diameter)?
            .or(there.as_ref().and_then(|p| p.tool_joint)),
        environment,
        curve,
        rule,
        turns: args.turns,
        speed,
        notch: cut.map(|depth| Notch { depth, root }),
        side_force: maybe("--side-force", args.side_force.as_deref(), M::Force)?
            .unwrap_or(SIDE_FORCE),
        around,
        tube,
    };
    let report = match &there {
        Some(place) => dogleg::report_at(&question, place)?,
        None => dogleg::report(&question)?,
    };
    match &session {
        Some(session) => output::answer(&report, context, session),
        None => output::print(&report, context, context.units()),
    }
}

/// The tube as written, or that of the joint which hangs at the place.
fn tube(
    args: &DoglegArgs,
    book: Option<&Book>,
    there: Option<&StringPoint>,
) -> Result<(TubeSpec, Option<MeasuredWall>), Failure> {
    if !args.tube.is_empty() {
        return Ok((TubeSpec::parse(&joined(&args.tube))?, None));
    }
    let (Some(book), Some(place)) = (book, there) else {
        return Err(usage("name a tube, or --run and --at"));
    };
    Ok(dogleg::tube_at(book, place)?)
}

fn environment(args: &DoglegArgs, there: Option<&StringPoint>) -> Result<Environment, Failure> {
    use crate::model::Vocabulary;
    match &args.environment {
        Some(word) => Environment::from_word(word).map_err(usage),
        None => Ok(there.and_then(|p| p.environment).unwrap_or(Environment::Air)),
    }
}
