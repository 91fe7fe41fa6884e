//! How sharp a bend a tube may turn in, and what turning in one costs.

use crate::mechanics::bending::{
    BendingFigure, CORROSIVE_FACTOR, Contact, PermissibleStress, Span, Tube as Bending,
};
use crate::mechanics::fatigue::{
    Curve, FatigueFigure, Loading, MeanStress, StressAmplitude, initiation_probability, notch,
};
use crate::mechanics::path::from_degrees_per_30m;
use crate::mechanics::tube::TubeClass;
use crate::mechanics::tube::us::LBF;
use crate::model::{Component, Environment};
use crate::schema::JointRow;
use crate::store::Book;
use crate::units::Measure as M;

use super::super::{Block, Cell, Column, Fact, Report, ReportError, Table, find_joint};
use super::run::StringPoint;
use super::tube::{MeasuredWall, Rated, rated};
use super::{Surroundings, TubeSpec, close, dogleg_cell, flag, maybe, words};

/// A notch: a slip cut, a pit. m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Notch {
    pub depth: f64,
    pub root: f64,
}

#[derive(Clone, Debug, PartialEq)]
pub struct DoglegQuestion {
    pub tube: TubeSpec,
    /// Classes to look at.
    pub classes: Vec<TubeClass>,
    /// A measured wall to look at besides.
    pub measured: Option<MeasuredWall>,
    /// Effective tension where the bend is, N; compression is negative. None gives a table.
    pub tension: Option<f64>,
    /// A bend to price, rad/m.
    pub dogleg: Option<f64>,
    /// Length of a joint, m.
    pub length: f64,
    /// Outside diameter of the tool joints, m.
    pub tool_joint: Option<f64>,
    /// What the mud does to fatigue.
    pub environment: Environment,
    pub curve: Curve,
    pub rule: MeanStress,
    pub turns: f64,
    /// Rotary speed, turns per second, for hours.
    pub speed: Option<f64>,
    /// A notch in the tube.
    pub notch: Option<Notch>,
    /// Side force on a tool joint that limits the bend too, N.
    pub side_force: f64,
    pub around: Surroundings,
}

/// Length of a joint where none is given, m: 30 ft between tool joints, range 2.
pub const RANGE_2: f64 = 360.0 * 0.0254;
/// Customary limit of side force on a tool joint, N: 2,000 lb (common practice).
pub const SIDE_FORCE: f64 = 2_000.0 * LBF;
/// Tensions of the table, lb, where none is given.
const TENSIONS: [f64; 6] = [25e3, 50e3, 100e3, 150e3, 200e3, 300e3];

fn source(figure: BendingFigure) -> String {
    figure.source().sentence()
}

/// The span of a state of wear.
fn bending(q: &DoglegQuestion, state: &Rated) -> Bending {
    let section = state.tube.section;
    let young = q.tube.material.young;
    Bending {
        od: section.od,
        area: section.area,
        young,
        span: Span {
            half_length: 0.5 * q.length,
            stiffness: young * section.inertia,
            // Without a tool-joint diameter the tube never touches.
            standoff: q.tool_joint.map(|d| (0.5 * (d - section.od)).max(0.0)),
        },
    }
}

const fn factor(environment: Environment) -> f64 {
    match environment {
        Environment::Corrosive => CORROSIVE_FACTOR,
        Environment::Air | Environment::Protected => 1.0,
    }
}

pub fn report(q: &DoglegQuestion) -> Result<Report, ReportError> {
    let mut report = Report::new("rate dogleg");
    report.push(Block::Heading(format!("Bends of {}", q.tube.title())));
    flag(&mut report, &q.around, q.around.on_fatigue());
    let mut notes = Vec::new();
    for block in parts(q, &mut notes)? {
        report.push(block);
    }
    close(
        &mut report,
        notes,
        "Damage ranks joints; it is no forecast of life, and a survey is smoother than its hole.",
    );
    Ok(report)
}

/// Makes the answer for a place of a run.
pub fn report_at(q: &DoglegQuestion, place: &StringPoint) -> Result<Report, ReportError> {
    let mut report = report(q)?;
    report.blocks.insert(
        1,
        Block::Facts {
            name: "place",
            facts: vec![
                Fact::plain("run", "run", Cell::Text(place.run.clone())),
                Fact::plain("part", "part there", Cell::Text(place.part.clone())),
                Fact::of("hole", "bend of the hole", dogleg_cell(place.curvature), M::Dogleg),
            ],
        },
    );
    Ok(report)
}

/// The tube of the joint that hangs at a place of a run, and its wall on that day where it had lost
/// some.
pub fn tube_at(
    book: &Book,
    place: &StringPoint,
) -> Result<(TubeSpec, Option<MeasuredWall>), ReportError> {
    let joint = find_joint(book, &place.part).map_err(|_| {
        words(format!("{} hangs there, which is no joint of the book; name its tube", place.part))
    })?;
    let rows: Vec<JointRow> = book.rows_of(joint)?;
    let row = rows.first().ok_or_else(|| words("the joint is not in the book"))?;
    if !matches!(row.component, Component::DrillPipe | Component::Pup) {
        return Err(words(format!(
            "{} is {}: the rules for bends are those of drill pipe between tool joints",
            place.part, row.component
        )));
    }
    let metres = |nm: i64| nm as f64 * 1e-9;
    let spec = TubeSpec::of(
        row.od.map(metres),
        row.nominal_wall.map(metres),
        row.weight.map(|w| M::LinearMass.base_f64(w)),
        row.grade.as_deref(),
    )?;
    let lost = spec.body.wall() - place.wall;
    let measured =
        (lost > 1e-3 * spec.body.wall()).then_some(MeasuredWall { wall: place.wall, od: None });
    Ok((spec, measured))
}

/// The parts of an answer, for a report of its own or within that of a joint.
pub(super) fn parts(
    q: &DoglegQuestion,
    notes: &mut Vec<String>,
) -> Result<Vec<Block>, ReportError> {
    if !(q.length > 0.5 && q.length < 30.0) {
        return Err(words("the length of a joint lies between 0.5 and 30 m"));
    }
    let states = rated(&q.tube, &q.classes, q.measured)?;
    let branch = PermissibleStress::for_yield(q.tube.material.yield_strength);
    let mut blocks = vec![Block::Facts { name: "conditions", facts: facts(q, branch) }];
    match q.tension {
        Some(tension) => {
            blocks.push(Block::Table(limits_at(q, &states, branch, tension, notes)));
        }
        None => blocks.push(Block::Table(limits_by_tension(q, &states, branch))),
    }
    if let Some(dogleg) = q.dogleg {
        let tension = q.tension.ok_or_else(|| {
            words("what turning in a bend costs depends on the pull; give --tension")
        })?;
        blocks.push(Block::Table(cost(q, &states, tension, dogleg, notes)));
    }
    validity(q, notes);
    Ok(blocks)
}

fn validity(q: &DoglegQuestion, notes: &mut Vec<String>) {
    if q.tool_joint.is_none() {
        notes.push(
            "without the tool joint's diameter the tube is taken as free of the wall; give \
             --tool-joint to count contact"
                .to_owned(),
        );
    }
    if q.tension.is_some_and(|t| t < 0.0) {
        notes.push(
            "compression in a hole can buckle the string, which \
             bends it without any dogleg; `rate run` flags it from the hole's size"
                .to_owned(),
        );
    }
}

fn facts(q: &DoglegQuestion, branch: PermissibleStress) -> Vec<Fact> {
    let mut facts = Vec::new();
    if let Some(tension) = q.tension {
        facts.push(Fact::of("tension", "effective tension", Cell::Real(tension), M::Force));
    }
    facts.push(Fact::of("length", "between tool joints", Cell::Real(q.length), M::JointLength));
    if let Some(d) = q.tool_joint {
        facts.push(Fact::of("tool_joint", "tool joint", Cell::Real(d), M::Diameter));
    }
    let branch = match branch {
        PermissibleStress::GradeE => "Grade E",
        PermissibleStress::S135 => "S-135",
    };
    facts.push(
        Fact::plain("branch", "no-fatigue rule", Cell::Text(branch.to_owned()))
            .from(source(BendingFigure::PermissibleStress)),
    );
    facts.push(Fact::plain(
        "environment",
        "environment",
        Cell::Text(match q.environment {
            Environment::Corrosive => "corrosive: limit × 0.6".to_owned(),
            other => other.to_string(),
        }),
    ));
    facts
}

fn limits_at(
    q: &DoglegQuestion,
    states: &[Rated],
    branch: PermissibleStress,
    tension: f64,
    notes: &mut Vec<String>,
) -> Table {
    let f = factor(q.environment);
    let mut table = Table {
        name: "limits",
        columns: vec![
            Column::plain("state", "sharpest bend\nwithout fatigue"),
            Column::of("axial", "axial\nstress", M::Stress),
            Column::of("permissible", "permissible\nbending", M::Stress).dispensable(1),
            Column::of("magnification", "magnified", M::Factor).dispensable(2),
            Column::of("free", "tube free", M::Dogleg).from(source(BendingFigure::NoFatigueDogleg)),
            Column::of("touching", "touching", M::Dogleg)
                .from(source(BendingFigure::ContactDogleg)),
            Column::plain("lies", "the tube"),
            Column::of("side_force", "by side\nforce", M::Dogleg)
                .from(source(BendingFigure::SideForceDogleg)),
        ],
        ..Table::default()
    };
    for state in states {
        let b = bending(q, state);
        let axial = tension / b.area;
        let permissible = branch.bending(axial);
        if permissible.is_none() {
            notes.push(format!(
                "{}: the axial stress is above the range of the rule; no bend is without fatigue",
                state.label
            ));
        }
        let free = (tension >= 0.0 && permissible.is_some())
            .then(|| b.no_fatigue_curvature(branch, tension, f));
        let touching = b.no_fatigue_with_contact(branch, tension, f);
        let magnified = b.span.bend(tension, 0.0).map(|bend| bend.largest());
        if magnified.is_none() {
            notes.push(format!(
                "{}: that compression buckles the tube between its tool joints",
                state.label
            ));
        }
        let side = b.side_force_curvature(tension, q.side_force);
        table.rows.push(vec![
            Cell::Text(state.label.clone()),
            Cell::Real(axial),
            maybe(permissible.map(|p| f * p.max(0.0))),
            maybe(magnified),
            free.map_or(Cell::Missing, dogleg_cell),
            touching.map_or(Cell::Missing, |(c, _)| dogleg_cell(c)),
            touching.map_or(Cell::Missing, |(_, bend)| Cell::Text(lies(q, bend.contact))),
            if side.is_finite() { dogleg_cell(side) } else { Cell::Missing },
        ]);
    }
    table
}

fn lies(q: &DoglegQuestion, contact: Contact) -> String {
    if q.tool_joint.is_none() {
        return "taken as free".to_owned();
    }
    match contact {
        Contact::Free => "is free",
        Contact::Point { .. } => "touches mid-span",
        Contact::Wrap { .. } => "lies on the wall",
    }
    .to_owned()
}

/// Limits of the tension case at several tensions, class by class.
fn limits_by_tension(q: &DoglegQuestion, states: &[Rated], branch: PermissibleStress) -> Table {
    let f = factor(q.environment);
    let mut columns =
        vec![Column::of("tension", "sharpest bend without\nfatigue, at pull of", M::Force)];
    for (i, state) in states.iter().enumerate() {
        let name = crate::model::fold(&state.label);
        let column = Column::of(&name, &state.label, M::Dogleg);
        let figure = if q.tool_joint.is_some() {
            BendingFigure::ContactDogleg
        } else {
            BendingFigure::NoFatigueDogleg
        };
        columns.push(if i == 0 { column.from(source(figure)) } else { column });
    }
    let side = Column::of("side_force", "by side force", M::Dogleg);
    columns.push(side.from(source(BendingFigure::SideForceDogleg)));
    let rows = TENSIONS
        .iter()
        .map(|lb| {
            let tension = lb * LBF;
            let mut row = vec![Cell::Real(tension)];
            for state in states {
                let b = bending(q, state);
                let limit = if q.tool_joint.is_some() {
                    b.no_fatigue_with_contact(branch, tension, f).map(|l| l.0)
                } else {
                    branch
                        .bending(tension / b.area)
                        .map(|_| b.no_fatigue_curvature(branch, tension, f))
                };
                row.push(limit.map_or(Cell::Missing, dogleg_cell));
            }
            row.push(dogleg_cell(q.side_force / (q.length * tension)));
            row
        })
        .collect();
    Table { name: "limits", columns, rows, ..Table::default() }
}

/// What turning in a bend costs.
fn cost(
    q: &DoglegQuestion,
    states: &[Rated],
    tension: f64,
    dogleg: f64,
    notes: &mut Vec<String>,
) -> Table {
    let ultimate = q.tube.material.ultimate_strength;
    let concentration =
        q.notch.map_or(1.0, |n| notch::fatigue_notch_factor(n.depth, n.root, ultimate));
    let at = dogleg.to_degrees();
    let quanta =
        |system| M::Dogleg.store_f64(at).map_or_else(String::new, |n| M::Dogleg.text(n, system));
    let title = format!(
        "at {}\n({})",
        quanta(crate::units::UnitSystem::Us),
        quanta(crate::units::UnitSystem::Metric)
    );
    let turns = q.turns;
    let mut columns = vec![
        Column::plain("state", &title),
        Column::of("bending", "bending", M::Stress).from(source(BendingFigure::BendingStress)),
        Column::plain("lies", "the tube").dispensable(2),
        Column::of("contact_force", "wall force", M::Force).dispensable(3),
        Column::of("range", "range\ncounted", M::Stress).from(format!(
            "{}. {}",
            q.rule.formula(),
            FatigueFigure::MeanStress.source()
        )),
        Column::of("life", "turns to\na crack", M::Turns).from(q.curve.source_line()),
    ];
    if q.speed.is_some() {
        columns.push(Column::of("hours", "hours at\nthat speed", M::Hours).dispensable(1));
    }
    let of_turns = M::Turns
        .store_f64(turns)
        .map_or_else(String::new, |n| M::Turns.number_text(n, crate::units::UnitSystem::Us));
    columns.push(
        Column::of("damage", &format!("damage of\n{of_turns} turns"), M::Damage)
            .from(FatigueFigure::Damage.source().sentence()),
    );
    columns.push(
        Column::of("probability", "chance of\na crack", M::Damage)
            .from(FatigueFigure::Initiation.source().sentence()),
    );
    let mut rows = Vec::new();
    let mut beyond = false;
    for state in states {
        let b = bending(q, state);
        let mut row = vec![Cell::Text(state.label.clone())];
        let Some((stress, bend)) = b.stress_with_contact(tension, dogleg) else {
            row.resize(columns.len(), Cell::Missing);
            rows.push(row);
            continue;
        };
        let loading = Loading {
            amplitude: StressAmplitude::from_pascals(stress),
            mean: tension / b.area,
            concentration,
            rule: q.rule,
            material: &q.tube.material,
        };
        let turn = loading.turn(&q.curve);
        beyond |= turn.beyond_rule;
        let damage = turn.damage * turns;
        row.extend([
            Cell::Real(stress),
            Cell::Text(lies(q, bend.contact)),
            match bend.contact {
                Contact::Point { force } => Cell::Real(force),
                _ => Cell::Missing,
            },
            Cell::Real(turn.range.pascals()),
            if turn.cycles.is_finite() { Cell::Real(turn.cycles) } else { Cell::Missing },
        ]);
        if let Some(speed) = q.speed {
            row.push(Cell::Real(turn.cycles / speed));
        }
        row.push(Cell::Real(damage));
        row.push(maybe(initiation_probability(damage, &q.curve, true)));
        rows.push(row);
    }
    if let Some(n) = q.notch {
        notes.push(format!(
            "a notch {:.2} mm deep with a root of {:.2} mm counts {concentration:.2} times the \
             stress ({})",
            n.depth * 1e3,
            n.root * 1e3,
            FatigueFigure::Notch.source()
        ));
    }
    if beyond {
        notes.push(
            "the axial stress is above what the mean-stress rule can answer; a hundredfold stress \
             was counted"
                .to_owned(),
        );
    }
    if q.environment == Environment::Corrosive
        && q.curve.medium != crate::mechanics::fatigue::Medium::Corrosive
    {
        notes.push(
            "the curve chosen is not one for corrosion, the environment is: lives are too long"
                .to_owned(),
        );
    }
    Table { name: "cost", columns, rows, ..Table::default() }
}

/// Reads a mean-stress rule by its word.
///
/// # Errors
/// A sentence that names the words.
pub fn mean_stress(text: &str, tube: &TubeSpec) -> Result<MeanStress, ReportError> {
    match crate::model::fold(text).as_str() {
        "none" => Ok(MeanStress::None),
        "goodman" => Ok(MeanStress::Goodman),
        "gerber" => Ok(MeanStress::Gerber),
        "soderberg" => Ok(MeanStress::Soderberg),
        "morrow" => Ok(MeanStress::morrow_for(&tube.material)),
        _ => Err(ReportError::Words(format!(
            "'{text}' is not a mean-stress rule; known: none, goodman, gerber, soderberg, morrow"
        ))),
    }
}

/// Curvature for a dogleg in the base unit of doglegs (degrees per metre).
pub fn curvature(degrees_per_metre: f64) -> f64 {
    from_degrees_per_30m(degrees_per_metre * 30.0)
}
