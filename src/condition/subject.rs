//! What is judged: a joint's nominal dimensions, what was read and found on it, and how it was
//! looked at. Values are whole quanta of their measure.

use crate::mechanics::connection::ConnectionType;
use crate::mechanics::tube::Grade;
use crate::model::{
    Class, Component, End, FindingLine, InspectionBody, JointBody, Method, NominalKind, Place,
    Provenance, Qty, Reading, ReadingKind, Scope, Worse, fold,
};
use crate::units::{Measure, Rational, UnitError};

use super::catalogue::{Catalogue, UnknownFinding};
use super::criterion::Criterion;
use super::limit::{Basis, Comparison, ForClass, Limit};
use super::limits::Fit;
use super::words::{Part, Seal};

/// A value that was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Amount {
    Length(i64),
    /// A share of the nominal dimension, quanta of `Measure::Ratio`.
    OfNominal(i64),
}

impl Amount {
    /// As a length, nearest nanometre; a share is one of `whole`.
    pub fn length(self, whole: Option<i64>) -> Option<i64> {
        match self {
            Self::Length(q) => Some(q),
            Self::OfNominal(q) => {
                Rational::new(i128::from(q), i128::from(Measure::Ratio.quanta_per_base()))?
                    .checked_mul(Rational::integer(whole?))?
                    .round()
            }
        }
    }
}

/// One value read on the joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Measured {
    pub what: ReadingKind,
    /// On which end, for a connection.
    pub end: Option<End>,
    pub amount: Amount,
    /// Distance from the pin shoulder, nanometres.
    pub at: Option<i64>,
    /// Read with an instrument that failed its next check: it passes nothing.
    pub doubtful: bool,
}

/// One thing found on the joint, or still open from before.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Found {
    /// Word of the catalogue, in any spelling.
    pub what: String,
    pub place: Option<Place>,
    pub end: Option<End>,
    /// Its size, nanometres, as the catalogue asks.
    pub size: Option<i64>,
    /// Its share, quanta of `Measure::Ratio`.
    pub share: Option<i64>,
    /// True across the pipe, false along it.
    pub transverse: Option<bool>,
    /// Distance from the pin shoulder, nanometres.
    pub at: Option<i64>,
}

impl Found {
    /// A finding of which nothing but the word is known.
    pub fn new(what: &str) -> Self {
        Self {
            what: what.to_owned(),
            place: None,
            end: None,
            size: None,
            share: None,
            transverse: None,
            at: None,
        }
    }
}

/// Limits of a tool joint that follow from the tube it is on: computed, or read from a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConnectionLimits {
    /// One row per class for which there is a limit.
    pub rows: Vec<ConnectionLimit>,
    /// Standard that the rule belongs to.
    pub standard: String,
    pub edition: String,
    /// Where the figures come from.
    pub source: String,
    /// What stands behind them.
    pub provenance: Provenance,
}

/// Limits of a tool joint for one class, nanometres.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ConnectionLimit {
    pub class: Class,
    pub min_od: i64,
    /// Least width of the box shoulder, worn evenly.
    pub min_shoulder: Option<i64>,
    /// Least width of the box shoulder at its thinnest, worn on one side.
    pub min_shoulder_eccentric: Option<i64>,
    /// The edition has no such class: its rule was carried over to one of ISO 10407-2 / API RP 7G-2.
    pub carried_over: bool,
}

impl ConnectionLimits {
    /// These limits as rows of a set. A shoulder is read at its thinnest, so the limit for wear on
    /// one side holds where there is one.
    pub(super) fn limits(&self, criterion: Criterion) -> Vec<Limit> {
        self.rows
            .iter()
            .filter_map(|r| {
                let (number, what) = match criterion {
                    Criterion::JointOd => (Some(r.min_od), ""),
                    Criterion::Shoulder => match r.min_shoulder_eccentric {
                        Some(n) => (Some(n), ", worn on one side"),
                        None => (r.min_shoulder, ""),
                    },
                    _ => (None, ""),
                };
                let number = number?;
                let (mut edition, mut source) = (self.edition.clone(), self.source.clone());
                if r.carried_over {
                    edition.push_str(", which has no such class");
                    source.push_str("; carried over to a class of ISO 10407-2 / API RP 7G-2");
                }
                Some(Limit {
                    criterion,
                    components: Vec::new(),
                    class: ForClass::Class(r.class),
                    comparison: Comparison::AtLeast,
                    number: Rational::integer(number),
                    basis: Basis::Length,
                    applies: Vec::new(),
                    written: format!(
                        "{}{what}",
                        Measure::Diameter.text(number, crate::units::UnitSystem::Us)
                    ),
                    standard: self.standard.clone(),
                    edition,
                    source,
                    provenance: self.provenance,
                    in_force: true,
                    note: String::new(),
                    line: 0,
                })
            })
            .collect()
    }
}

/// Whether what a certificate or a shop says of the hardband is that there is none.
pub fn has_no_hardband(said: Option<&str>) -> bool {
    said.is_some_and(|said| ["none", "no", "no_hardband", "without"].contains(&&*fold(said)))
}

/// One end of the joint as it was made.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Connection {
    /// Name of the connection.
    pub name: Option<String>,
    /// Kind of shoulder; single where nothing is said.
    pub seal: Option<Seal>,
    /// Limits by class, where someone computed or read them.
    pub limits: Option<ConnectionLimits>,
    /// Nominal dimensions that the caller knows better than the set of limits, nanometres.
    pub nominal: Vec<(Criterion, i64)>,
}

/// The joint as it was made. Lengths in nanometres.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Nominal {
    /// Outside diameter of the body.
    pub od: Option<i64>,
    /// Wall of the body.
    pub wall: Option<i64>,
    /// Outside diameter of the tool joint.
    pub joint_od: Option<i64>,
    /// Inside diameter of the tool joint.
    pub joint_id: Option<i64>,
    pub grade: Option<String>,
    /// Whether its certificate says that it has no hardband.
    pub no_hardband: bool,
    pub pin: Connection,
    pub box_: Connection,
}

impl Nominal {
    /// The end that a part is.
    pub fn connection(&self, part: Part) -> Option<&Connection> {
        match part {
            Part::Pin => Some(&self.pin),
            Part::Box => Some(&self.box_),
            Part::Tube | Part::Joint => None,
        }
    }

    /// What a limit for this part must fit.
    pub(super) fn fit(&self, part: Part) -> Fit {
        let end = self.connection(part);
        Fit {
            od: self.od,
            wall: self.wall,
            joint_od: self.joint_od,
            grade: self.grade.clone(),
            connection: end.and_then(|c| c.name.clone()),
            seal: end.and_then(|c| c.seal),
        }
    }
}

/// How an inspection looked at the joint.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Looked {
    pub methods: Vec<Method>,
    /// What it covers, where that is less than its methods can see.
    pub stated: Vec<Scope>,
}

/// What earlier inspections left behind, each with its age in quanta of `Measure::Days`. It stands
/// in where this inspection has nothing, and the verdict says so.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Earlier {
    /// Latest reading of each kind.
    pub readings: Vec<(Measured, i64)>,
    /// Latest inspection of each scope.
    pub scopes: Vec<(Scope, i64)>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Subject {
    /// What the joint is.
    pub component: Component,
    /// The joint as it was made.
    pub nominal: Nominal,
    /// Ends that it has.
    pub ends: Vec<End>,
    pub readings: Vec<Measured>,
    /// Things found, and findings still open from before.
    pub findings: Vec<Found>,
    /// How it was looked at.
    pub methods: Vec<Method>,
    /// What the inspection covers, where that is less than its methods can see.
    pub stated: Vec<Scope>,
    /// How other inspections of the same day looked; what they read is among `readings`.
    pub beside: Vec<Looked>,
    /// Bending strength ratio, quanta of `Measure::Factor`, where the caller computed it.
    pub bsr: Option<i64>,
    /// What was known before.
    pub earlier: Earlier,
    pub class_before: Option<Class>,
    pub acceptance: Option<Class>,
}

impl Subject {
    /// The worst length of a kind of reading: of those of now, else of the latest before.
    pub fn worst(&self, what: ReadingKind, end: Option<End>) -> Option<i64> {
        let length = |m: &Measured| {
            let here = m.what == what && m.end == end;
            let whole = what.nominal().and_then(|kind| self.nominal.value(kind));
            m.amount.length(whole).filter(|_| here)
        };
        let worst = |values: Vec<i64>| match what.worse(end) {
            Worse::More => values.into_iter().max(),
            Worse::Less | Worse::EitherWay => values.into_iter().min(),
        };
        worst(self.readings.iter().filter_map(length).collect()).or_else(|| {
            worst(self.earlier.readings.iter().filter_map(|(m, _)| length(m)).collect())
        })
    }

    /// A joint of which nothing is known but what it is.
    pub fn new(component: Component) -> Self {
        Self {
            component,
            nominal: Nominal::default(),
            ends: match component {
                Component::Bit => vec![End::Pin],
                _ => vec![End::Pin, End::Box],
            },
            readings: Vec::new(),
            findings: Vec::new(),
            methods: Vec::new(),
            stated: Vec::new(),
            beside: Vec::new(),
            bsr: None,
            earlier: Earlier::default(),
            class_before: None,
            acceptance: None,
        }
    }

    /// The joint of a certificate. Limits of the connections are the caller's to add.
    pub fn of_joint(joint: &JointBody) -> Self {
        let length = |q: &Option<Qty>| q.as_ref().and_then(|q| q.stored(Measure::Diameter));
        let od = length(&joint.od);
        let bore = || Some((od? - length(&joint.id)?) / 2);
        let end = |name: &Option<String>| Connection {
            name: name.as_deref().map(|name| ConnectionType::spelled(name).to_owned()),
            ..Connection::default()
        };
        let mut subject = Self::new(joint.component);
        subject.nominal = Nominal {
            od,
            wall: length(&joint.wall).or_else(bore),
            joint_od: length(&joint.tj_od),
            joint_id: length(&joint.tj_id),
            grade: joint.grade.as_deref().map(|grade| Grade::spelled(grade).to_owned()),
            no_hardband: has_no_hardband(joint.hardband.as_deref()),
            pin: end(&joint.connection),
            box_: end(if joint.box_connection.is_some() {
                &joint.box_connection
            } else {
                &joint.connection
            }),
        };
        subject
    }

    /// Adds what an inspection read and found. Every reading and finding that cannot be used is
    /// named; the others are added.
    pub fn inspected(
        mut self,
        inspection: &InspectionBody,
        catalogue: &Catalogue,
    ) -> (Self, Vec<SubjectError>) {
        let mut errors = Vec::new();
        self.methods.extend(&inspection.methods);
        self.stated.extend(&inspection.covers);
        for (n, reading) in (1..).zip(&inspection.readings) {
            match Measured::read(reading) {
                Ok(m) => self.readings.push(m),
                Err(problem) => errors.push(SubjectError {
                    place: format!("reading {n} ({})", reading.what),
                    problem,
                }),
            }
        }
        for (n, line) in (1..).zip(&inspection.findings) {
            match Found::read(line, catalogue) {
                Ok(f) => self.findings.push(f),
                Err(problem) => errors
                    .push(SubjectError { place: format!("finding {n} ({})", line.what), problem }),
            }
        }
        (self, errors)
    }
}

/// A reading or finding that cannot be used, and where it stands.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{place}: {problem}")]
pub struct SubjectError {
    /// Which of the inspection's readings or findings.
    pub place: String,
    /// What is wrong with it.
    pub problem: SubjectProblem,
}

/// What can be wrong with a reading or finding.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SubjectProblem {
    /// The unit does not fit.
    #[error(transparent)]
    Unit(#[from] UnitError),
    /// Too large to keep.
    #[error("'{0}' is too large to keep")]
    TooLarge(String),
    /// No word of the catalogue.
    #[error(transparent)]
    Word(#[from] UnknownFinding),
    /// Not found at that place.
    #[error("{word} is not found on {place}; it is found on {known}")]
    Place {
        /// Word of the catalogue.
        word: String,
        place: Place,
        /// Places of the catalogue.
        known: String,
    },
    /// Not found on that end.
    #[error("{word} is not found on the {end}")]
    End {
        /// Word of the catalogue.
        word: String,
        end: End,
    },
}

impl Measured {
    /// Takes a reading as written: a length, or for a wall or a diameter a share of the nominal.
    pub fn read(reading: &Reading) -> Result<Self, SubjectProblem> {
        let measure = reading.what.spec().measure;
        let too_large = || SubjectProblem::TooLarge(reading.value.to_string());
        let amount = match reading.value.quantity(measure) {
            Ok(q) => Amount::Length(measure.store(&q).ok_or_else(too_large)?),
            Err(not_a_length) => match reading.value.quantity(Measure::Ratio) {
                Ok(q) if reading.what.nominal().is_some() && q.unit().symbol() != "" => {
                    Amount::OfNominal(Measure::Ratio.store(&q).ok_or_else(too_large)?)
                }
                _ => return Err(not_a_length.into()),
            },
        };
        Ok(Self {
            what: reading.what,
            end: reading.end,
            amount,
            at: reading.at.as_ref().and_then(|q| q.stored(Measure::Depth)),
            doubtful: false,
        })
    }
}

impl Found {
    /// Takes a finding as written; one that cannot be placed or measured is found all the same: its
    /// word alone, or a strange word, holds the joint.
    pub fn of(line: &FindingLine, catalogue: &Catalogue) -> Self {
        Self::read(line, catalogue).unwrap_or_else(|_| Self::new(&line.what))
    }

    /// Takes a finding as written, in the words of the catalogue.
    pub fn read(line: &FindingLine, catalogue: &Catalogue) -> Result<Self, SubjectProblem> {
        let entry = catalogue.at(&line.what, line.place, line.end)?;
        if let Some(place) = line.place
            && !entry.places.contains(&place)
            && place != Place::Whole
        {
            let known: Vec<String> = entry.places.iter().map(ToString::to_string).collect();
            return Err(SubjectProblem::Place {
                word: entry.word.clone(),
                place,
                known: known.join(", "),
            });
        }
        if let Some(end) = line.end
            && !entry.ends.is_empty()
            && !entry.ends.contains(&end)
        {
            return Err(SubjectProblem::End { word: entry.word.clone(), end });
        }
        let length = |q: &Qty| -> Result<i64, SubjectProblem> {
            let quantity = q.quantity(Measure::Wall)?;
            Measure::Wall.store(&quantity).ok_or_else(|| SubjectProblem::TooLarge(q.to_string()))
        };
        let share = |q: &Qty| -> Result<i64, SubjectProblem> {
            let quantity = q.quantity(Measure::Ratio)?;
            Measure::Ratio.store(&quantity).ok_or_else(|| SubjectProblem::TooLarge(q.to_string()))
        };
        Ok(Self {
            what: entry.word.clone(),
            place: line.place,
            end: line.end,
            // A size that the catalogue does not ask for (a concentration, a dogleg) judges nothing.
            size: match (&line.size, entry.size) {
                (Some(q), Some(_)) => Some(length(q)?),
                _ => None,
            },
            share: match (&line.share, entry.share) {
                (Some(q), Some(_)) => Some(share(q)?),
                _ => None,
            },
            transverse: line.transverse,
            at: line.at.as_ref().and_then(|q| q.stored(Measure::Depth)),
        })
    }
}

impl Nominal {
    pub(super) const fn value(&self, kind: NominalKind) -> Option<i64> {
        match kind {
            NominalKind::Wall => self.wall,
            NominalKind::Od => self.od,
            NominalKind::JointOd => self.joint_od,
            NominalKind::JointId => self.joint_id,
        }
    }
}
