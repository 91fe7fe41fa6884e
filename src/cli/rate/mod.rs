//! `rate`: ratings of tubes, connections, bends, joints of the book and strings of runs.

mod args;
mod bend;
mod read;

pub(super) use args::RateArgs;
pub(super) use read::maybe;

use std::process::ExitCode;

use super::command::Command;
use super::context::Context;
use super::failure::{Failure, usage};
use super::output;
use crate::app::Session;
use crate::mechanics::connection::{ConnectionType, Dimensions};
use crate::model::Moment;
use crate::projection::notches::ROOT;
use crate::report::Report;
use crate::report::rate::connection::{ConnectionQuestion, On};
use crate::report::rate::crack::{CrackQuestion, SHAPE};
use crate::report::rate::crack_in_joint::{self, JointCrack};
use crate::report::rate::joint::JointQuestion;
use crate::report::rate::run::RunQuestion;
use crate::report::rate::stretch::{Pull, of_run, of_tube};
use crate::report::rate::tube::{MeasuredWall, SLIP_FRICTION, SLIP_LENGTH, TubeQuestion};
use crate::report::rate::{Surroundings, TubeSpec, classes, connection, crack, joint, run, tube};
use crate::store::Access;
use crate::units::Measure as M;
use args::{
    Around, ConnectionArgs, CrackArgs, JointArgs, Measured, Rate, RunArgs, StretchArgs, TubeArgs,
};
use read::quantity;

impl Command for RateArgs {
    fn run(&self, context: &Context) -> Result<ExitCode, Failure> {
        match &self.what {
            Rate::Tube(args) => rate_tube(args, context),
            Rate::Connection(args) => rate_connection(args, context),
            Rate::Dogleg(args) => bend::run(args, context),
            Rate::Joint(args) => rate_joint(args, context),
            Rate::Run(args) => rate_run(args, context),
            Rate::Stretch(args) => rate_stretch(args, context),
            Rate::Crack(args) => rate_crack(args, context),
        }
    }
}

/// Prints what needs no book, in the units asked for, else in those of the book if one is there.
fn print(report: &Report, context: &Context) -> Result<ExitCode, Failure> {
    let asked = context.caller.units.is_some();
    let session = if asked { None } else { context.open(Access::Read).ok() };
    match session {
        Some(session) => output::answer(report, context, &session),
        None => output::print(report, context, context.units()),
    }
}

/// Words of an argument that may hold blanks, with or without quotation marks.
fn joined(words: &[String]) -> String {
    words.join(" ")
}

fn surroundings(args: &Around) -> Result<Surroundings, Failure> {
    let kelvin = maybe("--temperature", args.temperature.as_deref(), M::Temperature)?;
    Ok(Surroundings { sour: args.sour, celsius: kelvin.map(|k| k - 273.15) })
}

fn measured(args: &Measured) -> Result<Option<MeasuredWall>, Failure> {
    let wall = maybe("--measured-wall", args.measured_wall.as_deref(), M::Wall)?;
    let od = maybe("--measured-od", args.measured_od.as_deref(), M::Diameter)?;
    match (wall, od) {
        (None, Some(_)) => Err(usage("--measured-od says nothing without --measured-wall")),
        (wall, od) => Ok(wall.map(|wall| MeasuredWall { wall, od })),
    }
}

fn rate_tube(args: &TubeArgs, context: &Context) -> Result<ExitCode, Failure> {
    let question = TubeQuestion {
        tube: TubeSpec::parse(&joined(&args.tube))?,
        classes: classes(args.class.as_deref())?,
        measured: measured(&args.measured)?,
        tension: maybe("--tension", args.tension.as_deref(), M::LoadRating)?,
        torque: maybe("--torque", args.torque.as_deref(), M::Torque)?,
        mud: maybe("--mud", args.mud.as_deref(), M::Density)?,
        slip_length: maybe("--slip-length", args.slip_length.as_deref(), M::Diameter)?
            .unwrap_or(SLIP_LENGTH),
        slip_friction: args.slip_friction.unwrap_or(SLIP_FRICTION),
        around: surroundings(&args.around)?,
    };
    print(&tube::report(&question)?, context)
}

fn rate_connection(args: &ConnectionArgs, context: &Context) -> Result<ExitCode, Failure> {
    let name = joined(&args.connection);
    let kind: ConnectionType = name.parse().map_err(usage)?;
    let length = |flag, text: &Option<String>| maybe(flag, text.as_deref(), M::Diameter);
    let mut dimensions = Dimensions::new(
        quantity("--od", &args.od, M::Diameter)?,
        quantity("--id", &args.id, M::Diameter)?,
    );
    dimensions.pin_od = length("--pin-od", &args.pin_od)?;
    dimensions.bevel = length("--bevel", &args.bevel)?;
    dimensions.counterbore = length("--counterbore", &args.counterbore)?;
    let spec = kind.spec();
    let standard = |flag, text: &Option<String>, known: Option<f64>| match text.as_deref() {
        Some("standard") => known.map(Some).ok_or_else(|| {
            usage(format!("{flag}: no standard diameter of {} is known; give it", kind.name()))
        }),
        _ => length(flag, text),
    };
    dimensions.relief_groove =
        standard("--relief-groove", &args.relief_groove, spec.relief_groove())?;
    dimensions.bore_back = standard("--bore-back", &args.bore_back, spec.bore_back())?;
    let question = ConnectionQuestion {
        connection: kind,
        dimensions,
        on: args.on.as_deref().map_or(Ok(On::ToolJoint), On::parse)?,
        compound: args.friction_factor,
        tube: args.tube.as_deref().map(TubeSpec::parse).transpose()?,
        measured: measured(&args.measured)?,
        makeup: maybe("--makeup", args.makeup.as_deref(), M::Torque)?,
        yield_strength: maybe("--yield", args.yield_strength.as_deref(), M::Stress)?,
    };
    print(&connection::report(&question)?, context)
}

fn rate_joint(args: &JointArgs, context: &Context) -> Result<ExitCode, Failure> {
    let mut session = context.open(Access::Read)?;
    let found = crate::report::find_joint(&session.book, &args.serial)?;
    let question = JointQuestion {
        root: maybe("--root-radius", args.root_radius.as_deref(), M::Wall)?.unwrap_or(ROOT),
        clock: session.clock(),
    };
    let report = {
        let present = session.present();
        joint::report(&mut session.book, found, &question, &present)?
    };
    output::answer(&report, context, &session)
}

fn rate_run(args: &RunArgs, context: &Context) -> Result<ExitCode, Failure> {
    let session = context.open(Access::Read)?;
    let question = RunQuestion {
        run: args.run.clone(),
        bit: maybe("--bit", args.bit.as_deref(), M::Depth)?,
        friction: args.friction,
        friction_cased: args.friction_cased,
        wob: maybe("--wob", args.wob.as_deref(), M::Force)?,
        bit_torque: maybe("--bit-torque", args.bit_torque.as_deref(), M::Torque)?,
        block: maybe("--block", args.block.as_deref(), M::Force)?,
        mud: maybe("--mud", args.mud.as_deref(), M::Density)?,
        every: maybe("--every", args.every.as_deref(), M::Depth)?,
    };
    let report = run::report(&session.book, &question)?;
    output::answer(&report, context, &session)
}

fn rate_stretch(args: &StretchArgs, context: &Context) -> Result<ExitCode, Failure> {
    let pull = Pull {
        load: quantity("--tension", &args.tension, M::Force)?,
        torque: maybe("--torque", args.torque.as_deref(), M::Torque)?,
        measured: maybe("--stretch", args.stretch.as_deref(), M::Diameter)?,
    };
    if let Some(run) = &args.run {
        let session = context.open(Access::Read)?;
        let bit = maybe("--bit", args.bit.as_deref(), M::Depth)?;
        let at = maybe("--at", args.at.as_deref(), M::Depth)?;
        let report = of_run(&session.book, run, (bit, at), pull)?;
        return output::answer(&report, context, &session);
    }
    let tube = TubeSpec::parse(&joined(&args.tube))?;
    let states = (classes(args.class.as_deref())?, measured(&args.measured)?);
    let length = maybe("--length", args.length.as_deref(), M::Depth)?;
    let report = of_tube(&tube, (&states.0, states.1), length, pull)?;
    print(&report, context)
}

/// The day since which turns count.
fn since(text: &str, session: &Session) -> Result<i64, Failure> {
    let clock = session.clock();
    let moment = Moment::parse_at(text, clock).map_err(|e| usage(format!("--since: {e}")))?;
    Ok(moment.start(clock).0)
}

fn rate_crack(args: &CrackArgs, context: &Context) -> Result<ExitCode, Failure> {
    let depth = quantity("--depth", &args.depth, M::Wall)?;
    let wall = maybe("--wall", args.wall.as_deref(), M::Wall)?;
    if let Some(serial) = &args.joint {
        let session = context.open(Access::Read)?;
        let joint = crate::report::find_joint(&session.book, serial)?;
        let question = JointCrack {
            depth,
            wall,
            place: args.at.as_deref().map(crack_in_joint::place).transpose()?,
            since: args.since.as_deref().map(|day| since(day, &session)).transpose()?,
            shape: args.shape.unwrap_or(SHAPE),
            law: args.law.clone(),
            clock: session.clock(),
        };
        let report = crack_in_joint::report(&session.book, joint, &question)?;
        return output::answer(&report, context, &session);
    }
    let question = CrackQuestion {
        depth,
        wall: wall.ok_or_else(|| usage("--wall says how far the crack has to grow"))?,
        bending: maybe("--bending", args.bending.as_deref(), M::Stress)?
            .ok_or_else(|| usage("--bending says what stress the crack sees"))?,
        shape: args.shape.unwrap_or(SHAPE),
        speed: maybe("--speed", args.speed.as_deref(), M::RotarySpeed)?,
        law: args.law.clone(),
        around: surroundings(&args.around)?,
    };
    print(&crack::report(&question)?, context)
}
