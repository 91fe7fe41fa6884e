//! How far a damage may be from its figure: what of it nobody knows well, each by itself.
//!
//! - *Stations*: the survey sees the mean between its stations. Where logs of the well tell which of
//!   the hole was slid, the figure in a hole that turns there alone ([`Drilled`]); else the figure
//!   with an allowance of [`ALLOWANCE`] on top of every bend, or without the one that the method makes.
//! - *Curve*: two standard deviations of log N to either side of the mean of the tests, where the
//!   curve has its scatter; a design curve lies at the upper end of that.
//! - *Environment*: the other curves, where nobody stated what the mud does.
//! - *Weight*: pipe whose weight was taken from the name of its size or from its plain section weighs
//!   up to [`HEAVIER`] times that with its tool joints and upsets.
//!
//! The doubts are taken as independent of one another and multiplied at their ends, which is wider
//! than likely. Not in it: the model itself, the speed and weight that a log shows, wear between
//! inspections.

use crate::mechanics::fatigue::{Basis, Curve};
use crate::mechanics::path::{Drilled, from_degrees_per_30m};
use crate::model::Environment;

use super::input::JointLine;
use super::model::RunModel;
use super::otherwise::Input;

/// Curvature added everywhere where no log tells what was slid, deg/30 m (common practice: what a
/// survey smooths away in rotated hole is of this order).
const ALLOWANCE: f64 = 0.5;
/// Weight of pipe with its tool joints over that in the name of its size (common practice: tables of
/// adjusted weights give 1.05 to 1.15).
const HEAVIER: f64 = 1.15;

/// What of a figure nobody knows well.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Doubt {
    /// The hole between its stations: turned where it was slid.
    Slides,
    /// The same where no log tells what was slid: an allowance everywhere.
    Stations,
    /// Scatter of the S–N curve.
    Curve,
    /// What the mud does to fatigue.
    Environment,
    /// Weight of the pipe.
    Weight,
}

impl Doubt {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::Slides, Self::Stations, Self::Curve, Self::Environment, Self::Weight];

    /// Its name for programs.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Slides => "slides",
            Self::Stations => "stations",
            Self::Curve => "curve",
            Self::Environment => "environment",
            Self::Weight => "weight",
        }
    }

    /// What it is, in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Slides => {
                "the hole between the stations: turned where the logs tell that it was slid (own \
                 method), no sharper than 16 deg/30 m"
            }
            Self::Stations => {
                "the hole between the stations: no log tells which of it was slid; with 0.5 deg/30 m \
                 more everywhere (common practice), or without the method's allowance"
            }
            Self::Curve => {
                "scatter of the S–N curve: two standard deviations about the mean of its tests"
            }
            Self::Environment => "what the mud does to fatigue is not stated: the other curves",
            Self::Weight => {
                "weight taken from the name of the size or the plain section: up to 15 % more with \
                 tool joints and upsets (common practice)"
            }
        }
    }
}

/// Damage at the three places of a joint, quanta, from the least to the most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    pub least: [f64; 3],
    pub most: [f64; 3],
}

/// How far the damage of a joint in a run may be from its figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    pub figure: [f64; 3],
    /// What each doubt alone makes of it.
    pub doubts: Vec<(Doubt, Span)>,
    /// What none could be told of.
    pub unknown: Vec<Doubt>,
}

impl Spread {
    /// Those doubts together that are picked.
    pub fn all(&self, pick: &dyn Fn(Doubt) -> bool) -> Span {
        let mut all = Span { least: self.figure, most: self.figure };
        for (_, one) in self.doubts.iter().filter(|(doubt, _)| pick(*doubt)) {
            for place in 0..3 {
                let figure = self.figure[place];
                if figure > 0.0 {
                    all.least[place] *= one.least[place] / figure;
                    all.most[place] *= one.most[place] / figure;
                } else {
                    all.most[place] = all.most[place].max(one.most[place]);
                }
            }
        }
        all
    }
}

/// A run with what may be otherwise in it.
#[derive(Debug)]
pub struct Doubtful<'a> {
    run: &'a RunModel,
    others: Vec<(Doubt, RunModel)>,
    /// Factors of damage from the scatter of the curve; none where it has none.
    scatter: Option<(f64, f64)>,
}

impl<'a> Doubtful<'a> {
    /// Makes ready what may be otherwise in a run, in a well of which this is told.
    ///
    /// # Errors
    /// A sentence when what is otherwise cannot be computed.
    pub fn new(run: &'a RunModel, drilled: &Drilled) -> Result<Self, String> {
        let mut others = Vec::new();
        let Some(case) = run.case() else { return Ok(Self { run, others, scatter: None }) };
        let slid = case.path.turned_where_slid(drilled).map_err(|e| e.to_string())?;
        match (slid, case.settings.tortuosity) {
            (Some(path), _) => others.push((Doubt::Slides, run.with(Input::Path(path))?)),
            (None, stated) if stated > 0.0 => {
                others.push((Doubt::Stations, run.with(Input::Tortuosity(-stated))?));
            }
            (None, _) => {
                let allowance = Input::Tortuosity(from_degrees_per_30m(ALLOWANCE));
                others.push((Doubt::Stations, run.with(allowance)?));
            }
        }
        if run.row().environment.is_none() {
            for environment in [Environment::Protected, Environment::Corrosive] {
                others.push((Doubt::Environment, run.with(Input::Environment(environment))?));
            }
        }
        if run.lines().iter().any(|line| line.assumed.of_weight()) {
            others.push((Doubt::Weight, run.with(Input::Weight(HEAVIER))?));
        }
        let environment = run.row().environment.unwrap_or(Environment::Air);
        let scatter = scatter(case.method.curve(environment));
        Ok(Self { run, others, scatter })
    }

    /// How far the damage of a joint may be from its figure; `None` where it has none.
    ///
    /// # Errors
    /// A sentence when `mechanics` refuses the case.
    pub fn spread(&self, line: &JointLine) -> Result<Option<Spread>, String> {
        let Some(figure) = damage(self.run, line)? else { return Ok(None) };
        let mut spread = Spread { figure, doubts: Vec::new(), unknown: Vec::new() };
        for (doubt, other) in &self.others {
            if *doubt == Doubt::Weight && !line.assumed.of_weight() {
                continue;
            }
            let Some(found) = damage(other, line)? else {
                spread.unknown.push(*doubt);
                continue;
            };
            let place = |pick: fn(f64, f64) -> f64| [0, 1, 2].map(|i| pick(figure[i], found[i]));
            let one = Span { least: place(f64::min), most: place(f64::max) };
            spread.join(*doubt, one);
        }
        match self.scatter {
            Some((least, most)) => spread.join(
                Doubt::Curve,
                Span { least: figure.map(|d| d * least), most: figure.map(|d| d * most) },
            ),
            None => spread.unknown.push(Doubt::Curve),
        }
        Ok(Some(spread))
    }
}

impl Spread {
    /// Takes in what a doubt makes of the figure, beside what it makes in another way.
    fn join(&mut self, doubt: Doubt, one: Span) {
        match self.doubts.iter_mut().find(|d| d.0 == doubt) {
            Some((_, span)) => {
                for place in 0..3 {
                    span.least[place] = span.least[place].min(one.least[place]);
                    span.most[place] = span.most[place].max(one.most[place]);
                }
            }
            None => self.doubts.push((doubt, one)),
        }
    }
}

/// Damage at the places; a place without a figure counts as none, all without one as no figure.
fn damage(run: &RunModel, line: &JointLine) -> Result<Option<[f64; 3]>, String> {
    let Some(line) = run.lines().iter().find(|l| l.joint == line.joint) else { return Ok(None) };
    let places = run.exposure(line)?.figures.damage();
    let known = places.iter().any(Option::is_some);
    Ok(known.then(|| places.map(|d| d.unwrap_or(0) as f64)))
}

/// Factors of damage at two standard deviations to either side of the mean of the tests.
fn scatter(curve: &Curve) -> Option<(f64, f64)> {
    let two = 2.0 * curve.scatter?;
    Some(match curve.basis {
        Basis::Mean => (libm::exp10(-two), libm::exp10(two)),
        Basis::Design => (libm::exp10(-2.0 * two), 1.0),
    })
}
