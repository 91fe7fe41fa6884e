//! What a run's figures would be with something of them left out or otherwise: how much of a figure a
//! term of the calculation makes, and how far an input that nobody knows well moves it.

use std::sync::OnceLock;

use super::case::{Case, Phase};
use super::input::JointLine;
use super::model::RunModel;
use crate::mechanics::path::Path;
use crate::mechanics::string as mech;
use crate::model::{Activity, Environment};

/// A term of the calculation that can be left out to compare.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Term {
    /// Compression changes how the tube bends between its tool joints.
    Compression,
    /// The tube touches the wall of the hole.
    Wall,
    /// Open cuts and pits, and stated stress ratios of connections.
    Concentration,
    /// Weight on bit presses on bottom only; without this it does in every state.
    OnBottom,
}

impl Term {
    /// All terms.
    pub const ALL: [Self; 4] = [Self::Compression, Self::Wall, Self::Concentration, Self::OnBottom];

    /// Its name in tables of a program.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Compression => "compression",
            Self::Wall => "wall",
            Self::Concentration => "cuts",
            Self::OnBottom => "on_bottom",
        }
    }

    /// What it is, in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Compression => "bending in compression",
            Self::Wall => "contact with the wall",
            Self::Concentration => "open cuts and pits, stated stress ratios",
            Self::OnBottom => "weight on bit on bottom only",
        }
    }
}

/// An input that is otherwise.
#[derive(Clone, Debug, PartialEq)]
pub enum Input {
    /// The hole goes this way.
    Path(Path),
    /// The mud does this to fatigue.
    Environment(Environment),
    /// Pipe whose weight was taken from the name of its size weighs this many times that.
    Weight(f64),
    /// This curvature (rad/m) comes on top of that of the survey everywhere.
    Tortuosity(f64),
}

impl RunModel {
    /// The run with terms left out.
    ///
    /// # Errors
    /// A sentence when the parts are no string any more.
    pub fn without(&self, terms: &[Term]) -> Result<Self, String> {
        let mut other = self.clone();
        if terms.contains(&Term::Concentration) {
            other.lines_mut().iter_mut().for_each(JointLine::make_whole);
        }
        for term in terms {
            if let Some(case) = other.case_mut() {
                case.leave_out(*term)?;
            }
        }
        Ok(other)
    }

    /// The run with an input otherwise.
    ///
    /// # Errors
    /// A sentence when the parts are no string any more.
    pub fn with(&self, input: Input) -> Result<Self, String> {
        let mut other = self.clone();
        if let Some(case) = other.case_mut() {
            case.put(input)?;
        }
        Ok(other)
    }
}

impl JointLine {
    /// Without the cuts and pits that it came to have during the run.
    fn make_whole(&mut self) {
        self.notched.clear();
    }
}

impl Case {
    /// What was made ready rests on what is changed.
    fn begin_anew(&mut self) {
        self.phases.iter_mut().for_each(|phase| phase.prepared = OnceLock::new());
    }

    fn leave_out(&mut self, term: Term) -> Result<(), String> {
        match term {
            Term::Compression => self.settings.compression = false,
            Term::Wall => self.bore = mech::Bore::default(),
            Term::Concentration => {
                for phase in &mut self.phases {
                    phase.each_part(|part, _| part.concentration = [1.0; 3])?;
                }
            }
            Term::OnBottom => {
                let states = self.phases.iter_mut().flat_map(|phase| &mut phase.segments);
                for (_, _, segment) in states.filter(|(_, _, s)| s.activity.rotates()) {
                    segment.activity = Activity::RotatingOnBottom;
                }
            }
        }
        self.begin_anew();
        Ok(())
    }

    fn put(&mut self, input: Input) -> Result<(), String> {
        match input {
            Input::Path(path) => self.path = path,
            Input::Environment(environment) => self.settings = self.method.settings(environment),
            Input::Weight(times) => {
                for phase in &mut self.phases {
                    phase.each_part(|part, assumed| {
                        part.air_weight *= if assumed { times } else { 1.0 };
                    })?;
                }
            }
            Input::Tortuosity(curvature) => self.settings.tortuosity += curvature,
        }
        self.begin_anew();
        Ok(())
    }
}

impl Phase {
    /// Changes each part, told whether its weight was assumed.
    fn each_part(&mut self, mut change: impl FnMut(&mut mech::Part, bool)) -> Result<(), String> {
        let mut parts = self.string.parts().to_vec();
        for (part, name) in parts.iter_mut().zip(&self.names) {
            change(part, name.weight_assumed);
        }
        let string = mech::DrillString::new(parts).map_err(|e| e.to_string())?;
        *self =
            Self::new(string, std::mem::take(&mut self.names), std::mem::take(&mut self.segments))?;
        Ok(())
    }
}
