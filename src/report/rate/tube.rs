//! The data sheet of a tube: ratings by class and for a measured wall, alone and under load.

use crate::mechanics::constants::{GRAVITY, STEEL_DENSITY};
use crate::mechanics::tube::collapse::{CollapseUnderTension, collapse_under_tension};
use crate::mechanics::tube::combined::{load_under_torque, torque_under_load, utilisation};
use crate::mechanics::tube::handling::{
    PULL_FACTOR, api_slip_taper, hook_load_margin, lateral_load_factor, slip_crushing,
};
use crate::mechanics::tube::{Ratings, Tube, TubeClass, TubeFigure, Wear};
use crate::units::Measure as M;

use super::super::{Block, Cell, Column, Fact, Report, ReportError, Table};
use super::{Surroundings, TubeSpec, close, flag, real, why_not, words};

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeasuredWall {
    pub wall: f64,
    /// Measured outside diameter, m, where there is one.
    pub od: Option<f64>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct TubeQuestion {
    pub tube: TubeSpec,
    pub classes: Vec<TubeClass>,
    /// A measured wall to rate besides, as even wear and as wear on one side.
    pub measured: Option<MeasuredWall>,
    /// Pull on the tube, N.
    pub tension: Option<f64>,
    /// Torque on the tube, N·m.
    pub torque: Option<f64>,
    /// Mud that a string of it hangs in, kg/m³.
    pub mud: Option<f64>,
    /// Length of the slips, m.
    pub slip_length: f64,
    /// Friction between slips and bowl.
    pub slip_friction: f64,
    pub around: Surroundings,
}

/// Grip length of slips where none is given, m: 16 in.
pub const SLIP_LENGTH: f64 = 16.0 * 0.0254;
/// Customary friction of lubricated slips.
pub const SLIP_FRICTION: f64 = 0.08;

/// A tube in a state of wear with its ratings.
pub(super) struct Rated {
    pub label: String,
    pub tube: Tube,
    pub ratings: Ratings,
}

/// Tubes of the states asked for, each with its ratings.
pub(super) fn rated(
    spec: &TubeSpec,
    classes: &[TubeClass],
    measured: Option<MeasuredWall>,
) -> Result<Vec<Rated>, ReportError> {
    let mut states: Vec<(String, Wear)> =
        classes.iter().map(|c| (c.name().to_owned(), Wear::Class(*c))).collect();
    if let Some(m) = measured {
        states.push(("even wear".to_owned(), Wear::Uniform { wall: m.wall, od: m.od }));
        let one_side = Wear::Eccentric { minimum_wall: m.wall, od: m.od };
        states.push(("one-side wear".to_owned(), one_side));
    }
    states
        .into_iter()
        .map(|(label, wear)| {
            let tube = spec.body.worn(wear).map_err(words)?;
            let ratings = tube.ratings(spec.material.yield_strength).map_err(words)?;
            Ok(Rated { label, tube, ratings })
        })
        .collect()
}

fn source(figure: TubeFigure) -> String {
    figure.source().sentence()
}

pub fn report(q: &TubeQuestion) -> Result<Report, ReportError> {
    let mut report = Report::new("rate tube");
    report.push(Block::Heading(format!("Tube {}", q.tube.title())));
    flag(&mut report, &q.around, q.around.on_strength());
    report.push(Block::Facts { name: "tube", facts: facts(q) });
    let mut notes = Vec::new();
    for block in parts(q, &mut notes)? {
        report.push(block);
    }
    if let Some(connection) = q.tube.connection {
        notes.push(format!("{connection} has a sheet of its own: `rate connection`"));
    }
    close(&mut report, notes, "Limits of straight, sound, round pipe of minimum yield.");
    Ok(report)
}

/// The tables of a sheet, for a report of its own or within that of a joint.
pub(super) fn parts(q: &TubeQuestion, notes: &mut Vec<String>) -> Result<Vec<Block>, ReportError> {
    let states = rated(&q.tube, &q.classes, q.measured)?;
    let mut blocks = vec![
        Block::Table(ratings_table(&states)),
        Block::Table(section_table(&states, q.tube.body.wall())),
        Block::Table(handling_table(q, &states)?),
    ];
    if q.tension.is_some() || q.torque.is_some() {
        blocks.push(Block::Table(loaded_table(q, &states, notes)));
    }
    if q.measured.is_some() {
        notes.push(
            "one-side wear: metal beyond the smallest wall is not counted, collapse takes the \
             largest diameter; the out-of-roundness that such wear brings is in no formula here"
                .to_owned(),
        );
    }
    if q.tube.size.is_none() {
        notes.push("this diameter and wall are no size of the API tables".to_owned());
    }
    Ok(blocks)
}

fn facts(q: &TubeQuestion) -> Vec<Fact> {
    let (spec, body) = (&q.tube, q.tube.body);
    let mut facts = vec![
        Fact::of("od", "outside diameter", Cell::Real(body.od()), M::Diameter),
        Fact::of("wall", "wall", Cell::Real(body.wall()), M::Wall),
        Fact::of("id", "inside diameter", Cell::Real(body.id()), M::Diameter),
    ];
    if let Some(size) = spec.size {
        facts.push(Fact::of("weight", "nominal weight", Cell::Real(size.weight()), M::LinearMass));
    }
    let m = spec.material;
    facts.extend([
        Fact::of(
            "plain_weight",
            "weight of the plain body",
            Cell::Real(spec.plain_weight()),
            M::LinearMass,
        ),
        Fact::of("yield", "minimum yield", Cell::Real(m.yield_strength), M::Stress),
        Fact::of("tensile", "minimum tensile", Cell::Real(m.ultimate_strength), M::Stress),
    ]);
    if let Some(measured) = q.measured {
        facts.push(Fact::of("measured_wall", "measured wall", Cell::Real(measured.wall), M::Wall));
        if let Some(od) = measured.od {
            facts.push(Fact::of("measured_od", "measured diameter", Cell::Real(od), M::Diameter));
        }
        let left = measured.wall / body.wall();
        facts.push(Fact::of("wall_left", "wall that is left", Cell::Real(left), M::Ratio));
    }
    facts
}

fn ratings_table(states: &[Rated]) -> Table {
    let mut regimes: Vec<_> = states.iter().map(|s| s.ratings.collapse.regime).collect();
    regimes.sort_unstable();
    regimes.dedup();
    let formulas: Vec<String> = regimes
        .iter()
        .map(|r| format!("{}: {}", r.name(), TubeFigure::Collapse(*r).source().formula))
        .collect();
    let bulletin = regimes.first().map(|r| TubeFigure::Collapse(*r).source());
    let collapse = bulletin.map_or_else(String::new, |s| {
        let document = s.document;
        let (evidence, limits) = (s.evidence, s.limits);
        format!("{}. {document}, section 2 ({evidence}). Limits: {limits}", formulas.join("; "))
    });
    Table {
        name: "ratings",
        columns: vec![
            Column::plain("state", "rating"),
            Column::of("tension", "tension", M::LoadRating).from(source(TubeFigure::Tension)),
            Column::of("torsion", "torsion", M::Torque).from(source(TubeFigure::Torsion)),
            Column::of("internal_yield", "internal\nyield", M::Pressure)
                .from(source(TubeFigure::InternalYield)),
            Column::of("collapse", "collapse", M::Pressure).from(collapse),
            Column::plain("regime", "collapse by"),
        ],
        rows: states
            .iter()
            .map(|s| {
                vec![
                    Cell::Text(s.label.clone()),
                    Cell::Real(s.ratings.tension),
                    Cell::Real(s.ratings.torsion),
                    Cell::Real(s.ratings.internal_yield),
                    Cell::Real(s.ratings.collapse.pressure),
                    Cell::Text(s.ratings.collapse.regime.name().to_owned()),
                ]
            })
            .collect(),
        ..Table::default()
    }
}

fn section_table(states: &[Rated], nominal_wall: f64) -> Table {
    Table {
        name: "section",
        columns: vec![
            Column::plain("state", "section"),
            Column::of("wall_left", "wall left", M::Ratio),
            Column::of("od", "diameter", M::Diameter),
            Column::of("wall", "wall", M::Wall),
            Column::of("area", "area", M::Area).from(source(TubeFigure::Section)),
            Column::of("modulus", "modulus Z", M::SectionModulus).dispensable(2),
            Column::of("polar_modulus", "polar Zp", M::SectionModulus).dispensable(1),
        ],
        rows: states
            .iter()
            .map(|s| {
                let section = s.tube.section;
                vec![
                    Cell::Text(s.label.clone()),
                    Cell::Real(section.wall / nominal_wall),
                    Cell::Real(section.od),
                    Cell::Real(section.wall),
                    Cell::Real(section.area),
                    Cell::Real(section.modulus),
                    Cell::Real(section.polar_modulus),
                ]
            })
            .collect(),
        ..Table::default()
    }
}

/// What the rig may pull and hang.
fn handling_table(q: &TubeQuestion, states: &[Rated]) -> Result<Table, ReportError> {
    let factor = lateral_load_factor(api_slip_taper(), q.slip_friction).map_err(words)?;
    let slips = format!(
        "{}. Grip {:.0} in, friction {}, K {factor:.2}",
        source(TubeFigure::SlipCrushing),
        q.slip_length / crate::mechanics::tube::us::INCH,
        q.slip_friction
    );
    let mut columns = vec![
        Column::plain("state", "handling"),
        Column::of("pull", "pull at 0.9", M::LoadRating).from(source(TubeFigure::HookLoadMargin)),
        Column::of("slip_crushing", "slips crush", M::LoadRating).from(slips),
    ];
    if q.tension.is_some() {
        columns.push(Column::of("margin", "margin of\noverpull", M::LoadRating));
        columns.push(Column::of("pull_used", "pull used", M::Ratio));
    }
    if q.mud.is_some() {
        columns.push(Column::of("longest", "longest\nstring", M::Depth).from(
            "L = 0.9 Py / (w g (1 − ρ/ρs)). API RP 7G 16th edition, section 7 (memory). Limits: \
                 pipe of this tube alone by its nominal weight, hanging straight, no overpull kept",
        ));
    }
    let mut rows = Vec::new();
    for s in states {
        let crush = slip_crushing(&s.tube, &s.ratings, q.slip_length, factor).map_err(words)?;
        let mut row = vec![
            Cell::Text(s.label.clone()),
            Cell::Real(PULL_FACTOR * s.ratings.tension),
            Cell::Real(crush.load),
        ];
        if let Some(tension) = q.tension {
            let margin = hook_load_margin(&s.ratings, tension, PULL_FACTOR).map_err(words)?;
            row.push(Cell::Real(margin.margin));
            row.push(Cell::Real(margin.utilisation));
        }
        if let Some(mud) = q.mud {
            let w = q.tube.weight() * GRAVITY * (1.0 - mud / STEEL_DENSITY);
            let length = PULL_FACTOR * s.ratings.tension / w;
            row.push(if w > 0.0 { Cell::Real(length) } else { Cell::Missing });
        }
        rows.push(row);
    }
    Ok(Table { name: "handling", columns, rows, ..Table::default() })
}

/// Ratings under the pull and torque that were given.
fn loaded_table(q: &TubeQuestion, states: &[Rated], notes: &mut Vec<String>) -> Table {
    let combined = source(TubeFigure::Combined);
    let mut columns = vec![Column::plain("state", "under load")];
    let average = q.tube.average_yield;
    if let Some(tension) = q.tension {
        columns.push(
            Column::of("torque_left", "torque at\nthat pull", M::Torque).from(combined.clone()),
        );
        if tension >= 0.0 {
            let effective = CollapseUnderTension::EffectiveYield;
            columns.push(
                Column::of("collapse_5c3", "collapse\n(5C3)", M::Pressure)
                    .from(source(TubeFigure::CollapseUnderTension(effective))),
            );
            if let Some(average_yield) = average {
                let scaled = CollapseUnderTension::AverageYieldScaling { average_yield };
                columns.push(
                    Column::of("collapse_7g", "collapse\n(RP 7G)", M::Pressure)
                        .from(source(TubeFigure::CollapseUnderTension(scaled))),
                );
            }
        }
    }
    if q.torque.is_some() {
        columns.push(
            Column::of("pull_left", "pull at that\ntorque", M::LoadRating).from(combined.clone()),
        );
    }
    if q.tension.is_some() && q.torque.is_some() {
        columns.push(Column::of("used", "yield used\nby both", M::Ratio).from(combined));
    }
    let mut rows = Vec::new();
    for s in states {
        let mut row = vec![Cell::Text(s.label.clone())];
        if let Some(tension) = q.tension {
            let left = torque_under_load(&s.ratings, tension);
            if let Err(e) = &left {
                notes.push(why_not(&s.label, e));
            }
            row.push(real(left));
            if tension >= 0.0 {
                let under = |method| {
                    collapse_under_tension(&s.tube, q.tube.material.yield_strength, tension, method)
                        .map(|c| c.pressure)
                };
                let effective = under(CollapseUnderTension::EffectiveYield);
                if let (Err(e), true) = (&effective, torque_under_load(&s.ratings, tension).is_ok())
                {
                    notes.push(why_not(&s.label, e));
                }
                row.push(real(effective));
                if let Some(average_yield) = average {
                    row.push(real(under(CollapseUnderTension::AverageYieldScaling {
                        average_yield,
                    })));
                }
            }
        }
        if let Some(torque) = q.torque {
            let left = load_under_torque(&s.ratings, torque);
            if let Err(e) = &left {
                notes.push(why_not(&s.label, e));
            }
            row.push(real(left));
        }
        if let (Some(tension), Some(torque)) = (q.tension, q.torque) {
            row.push(real(utilisation(&s.ratings, tension, torque)));
        }
        rows.push(row);
    }
    Table { name: "under_load", columns, rows, ..Table::default() }
}
