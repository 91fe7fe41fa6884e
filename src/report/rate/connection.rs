//! The data sheet of a rotary shouldered connection.

use crate::condition::Caution;
use crate::mechanics::connection::{
    BendingSections, Connection, ConnectionFigure, ConnectionType, Dimensions, Friction,
    HEAVY_WEIGHT_YIELD, MakeupTolerance, MakeupVerdict, MinOdRule, RsLimit, RsRule,
    TOOL_JOINT_YIELD, TensionLimit, TorqueBasis, collar_yield, judge_makeup, minimum_od,
    scaled_by_compound, torsional_ratio,
};
use crate::mechanics::tube::TubeClass;
use crate::units::Measure as M;

use super::super::{Block, Cell, Column, Fact, Report, ReportError, Table};
use super::tube::{MeasuredWall, rated};
use super::{TubeSpec, close, maybe, words};

/// What the connection is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum On {
    /// Drill pipe: tool joint of 120 ksi, made up at 72 ksi.
    ToolJoint,
    /// Heavy-weight drill pipe: 110 ksi, made up at 62.5 ksi like a collar.
    HeavyWeight,
    /// Drill collar: yield by diameter, made up at 62.5 ksi (H-90 56.2 ksi).
    Collar,
}

impl On {
    /// Reads `pipe`, `heavy-weight`, `collar`.
    ///
    /// # Errors
    /// A sentence that names the words.
    pub fn parse(text: &str) -> Result<Self, ReportError> {
        match crate::model::fold(text).as_str() {
            "pipe" | "drill_pipe" | "tool_joint" => Ok(Self::ToolJoint),
            "heavy_weight" | "hwdp" | "heavy_weight_drill_pipe" => Ok(Self::HeavyWeight),
            "collar" | "drill_collar" => Ok(Self::Collar),
            _ => Err(ReportError::Words(format!(
                "a connection is on a pipe, a heavy-weight or a collar, not on '{text}'"
            ))),
        }
    }

    fn yield_strength(self, od: f64) -> f64 {
        match self {
            Self::ToolJoint => TOOL_JOINT_YIELD,
            Self::HeavyWeight => HEAVY_WEIGHT_YIELD,
            Self::Collar => collar_yield(od),
        }
    }

    fn makeup(self, connection: ConnectionType) -> TorqueBasis {
        match self {
            Self::ToolJoint => TorqueBasis::tool_joint_makeup(),
            Self::HeavyWeight | Self::Collar => TorqueBasis::collar_makeup(connection),
        }
    }

    const fn figure(self) -> ConnectionFigure {
        match self {
            Self::ToolJoint => ConnectionFigure::MakeupTorque(RsRule::Capped),
            Self::HeavyWeight => ConnectionFigure::HeavyWeightMakeup,
            Self::Collar => ConnectionFigure::CollarMakeup,
        }
    }

    const fn word(self) -> &'static str {
        match self {
            Self::ToolJoint => "drill pipe",
            Self::HeavyWeight => "heavy-weight drill pipe",
            Self::Collar => "a drill collar",
        }
    }
}

#[derive(Clone, Debug, PartialEq)]
pub struct ConnectionQuestion {
    pub connection: ConnectionType,
    pub dimensions: Dimensions,
    /// What it is on.
    pub on: On,
    /// Friction factor of the thread compound by API RP 7A1.
    pub compound: Option<f64>,
    /// Tube that it is on.
    pub tube: Option<TubeSpec>,
    /// Measured wall of that tube.
    pub measured: Option<MeasuredWall>,
    /// A make-up torque to judge, N·m.
    pub makeup: Option<f64>,
    /// Yield strength in place of the usual one, Pa.
    pub yield_strength: Option<f64>,
}

fn source(figure: ConnectionFigure) -> String {
    figure.source().sentence()
}

/// Yield and make-up of one connection under one rule.
struct Sheet {
    connection: Connection,
    yield_basis: TorqueBasis,
    makeup_basis: TorqueBasis,
}

impl Sheet {
    fn of(q: &ConnectionQuestion, dimensions: Dimensions) -> Result<Self, ReportError> {
        let connection = Connection::new(q.connection, dimensions).map_err(words)?;
        let usual = q.on.yield_strength(dimensions.od);
        let yield_strength = q.yield_strength.unwrap_or(usual);
        let mut makeup_basis = q.on.makeup(q.connection);
        // Another steel moves the make-up stress with it; the collar tables have one of their own.
        if q.yield_strength.is_some() && q.on == On::ToolJoint {
            makeup_basis.stress = 0.6 * yield_strength;
        }
        Ok(Self { connection, yield_basis: TorqueBasis::at_stress(yield_strength), makeup_basis })
    }
}

pub fn report(q: &ConnectionQuestion) -> Result<Report, ReportError> {
    let sheet = Sheet::of(q, q.dimensions)?;
    let mut report = Report::new("rate connection");
    report.push(Block::Heading(format!("Connection {} on {}", q.connection.name(), q.on.word())));
    let mut notes = Vec::new();
    for block in blocks(q, &sheet, &mut notes)? {
        report.push(block);
    }
    let about = format!(
        "Limits of clean, sound, doped single-shoulder connections of nominal thread. {}",
        Caution::Makeup.text()
    );
    close(&mut report, notes, &about);
    Ok(report)
}

/// The parts of a sheet, for a report of its own or within that of a joint.
pub(super) fn parts(
    q: &ConnectionQuestion,
    notes: &mut Vec<String>,
) -> Result<Vec<Block>, ReportError> {
    blocks(q, &Sheet::of(q, q.dimensions)?, notes)
}

fn blocks(
    q: &ConnectionQuestion,
    sheet: &Sheet,
    notes: &mut Vec<String>,
) -> Result<Vec<Block>, ReportError> {
    let mut blocks = vec![
        Block::Facts { name: "connection", facts: facts(q, sheet) },
        Block::Table(torque_table(q, sheet)?),
        Block::Facts { name: "makeup", facts: makeup_facts(q, sheet)? },
    ];
    if let Some(tube) = &q.tube {
        blocks.push(Block::Table(tube_table(q, tube, sheet, notes)?));
    }
    if q.on != On::ToolJoint {
        blocks.push(Block::Facts { name: "bending_strength", facts: bending_facts(sheet) });
        if q.on == On::HeavyWeight {
            notes.push(
                "the ratio's customary ranges were made for collars; for heavy-weight pipe they \
                 are a guide at most"
                    .to_owned(),
            );
        }
    }
    if q.dimensions.bore_back.is_some() {
        notes.push(
            "a bore-back takes no torque capacity in this formula (the box is judged 3/8 in from \
             the shoulder); it relieves the last threads, and its section stands by itself"
                .to_owned(),
        );
    }
    Ok(blocks)
}

fn facts(q: &ConnectionQuestion, sheet: &Sheet) -> Vec<Fact> {
    let c = &sheet.connection;
    let spec = c.spec();
    let d = q.dimensions;
    let mut facts = Vec::new();
    let old = q.connection.old_names();
    if !old.is_empty() {
        facts.push(Fact::plain("old_names", "also called", Cell::Text(old.join(", "))));
    }
    facts.push(
        Fact::plain(
            "thread",
            "thread",
            Cell::Text(format!(
                "{}, {} per inch, taper {} in/ft",
                spec.form.name,
                spec.form.threads_per_inch(),
                spec.form.taper_inches_per_foot()
            )),
        )
        .from(format!("Thread data: {} ({})", spec.source, spec.evidence)),
    );
    let of = |name, label, value: f64, m| Fact::of(name, label, Cell::Real(value), m);
    facts.push(of("od", "outside diameter", d.od, M::Diameter));
    facts.push(of("id", "bore", d.id, M::Diameter));
    for (name, label, value) in [
        ("pin_od", "pin shoulder diameter", d.pin_od),
        ("bevel", "bevel diameter", d.bevel),
        ("relief_groove", "relief groove", d.relief_groove),
        ("bore_back", "bore-back", d.bore_back),
    ] {
        if let Some(value) = value {
            facts.push(of(name, label, value, M::Diameter));
        }
    }
    let counterbore =
        if d.counterbore.is_some() { "counterbore, measured" } else { "counterbore, nominal" };
    facts.push(of("counterbore", counterbore, c.contact_id, M::Diameter));
    let areas = source(ConnectionFigure::Areas);
    facts.push(of("pin_area", "pin area", c.pin_area, M::Area).from(areas.clone()));
    facts.push(of("box_area", "box area", c.box_area, M::Area).from(areas));
    if let Some(area) = c.bore_back_area {
        facts.push(of("bore_back_area", "box area at the bore-back", area, M::Area));
    }
    facts.push(of("shoulder", "shoulder width", c.shoulder_width(), M::Wall));
    facts.push(of("yield", "minimum yield", sheet.yield_basis.stress, M::Stress));
    facts
}

fn rs_limit(limit: RsLimit, d: &Dimensions) -> &'static str {
    match limit {
        RsLimit::OutsideDiameter => "diameter",
        RsLimit::Contact if d.bevel.is_some_and(|b| d.pin_od.is_none_or(|p| b <= p)) => "bevel",
        RsLimit::Contact => "pin shoulder",
        RsLimit::EqualAreas => "equal areas",
    }
}

/// Torque as given, under the earlier rule, and without each feature that moves it.
fn torque_table(q: &ConnectionQuestion, sheet: &Sheet) -> Result<Table, ReportError> {
    let mut table = Table {
        name: "torque",
        columns: vec![
            Column::plain("case", "torque"),
            Column::of("yield", "yield", M::Torque)
                .from(source(ConnectionFigure::TorsionalYield(RsRule::Capped))),
            Column::of("makeup", "make-up", M::Torque).from(source(q.on.figure())),
            Column::plain("member", "weaker"),
            Column::of("pin", "pin", M::Torque).dispensable(2),
            Column::of("box", "box", M::Torque).dispensable(2),
            Column::of("shoulder_radius", "Rs", M::Wall).dispensable(1),
            Column::plain("rs_limit", "Rs limited by").dispensable(1),
        ],
        ..Table::default()
    };
    let mut as_it_is = None;
    let mut row = |label: &str, s: &Sheet, rule: RsRule, friction: Friction| {
        let basis = |b: TorqueBasis| b.with_rule(rule).with_friction(friction);
        let at_yield = s.connection.torque(basis(s.yield_basis)).map_err(words)?;
        let makeup = s.connection.torque(basis(s.makeup_basis)).map_err(words)?;
        // A feature that moves nothing has no row of its own.
        let figures = (at_yield.pin_torque, at_yield.box_torque, at_yield.shoulder_radius);
        if as_it_is == Some(figures) {
            return Ok(());
        }
        as_it_is.get_or_insert(figures);
        table.rows.push(vec![
            Cell::Text(label.to_owned()),
            Cell::Real(at_yield.torque),
            Cell::Real(makeup.torque),
            Cell::Text(at_yield.member.to_string()),
            Cell::Real(at_yield.pin_torque),
            Cell::Real(at_yield.box_torque),
            Cell::Real(at_yield.shoulder_radius),
            Cell::Text(rs_limit(at_yield.rs_limit, &s.connection.dimensions).to_owned()),
        ]);
        Ok::<(), ReportError>(())
    };
    let plain = Friction::default();
    row("as it is", sheet, RsRule::Capped, plain)?;
    let d = q.dimensions;
    let features = [
        (d.bevel.is_some(), "without the bevel", Dimensions { bevel: None, ..d }),
        (d.counterbore.is_some(), "nominal counterbore", Dimensions { counterbore: None, ..d }),
        (d.pin_od.is_some(), "pin shoulder unworn", Dimensions { pin_od: None, ..d }),
        (d.relief_groove.is_some(), "without the groove", Dimensions { relief_groove: None, ..d }),
    ];
    for (there, label, without) in features {
        if there {
            row(label, &Sheet::of(q, without)?, RsRule::Capped, plain)?;
        }
    }
    row("Rs not capped (1998)", sheet, RsRule::ListedOd, plain)?;
    if let Some(factor) = q.compound {
        let friction = Friction::with_compound(factor);
        row(&format!("f × {factor}"), sheet, RsRule::Capped, friction)?;
        let at_yield = sheet.connection.torque(sheet.yield_basis).map_err(words)?;
        let makeup = sheet.connection.torque(sheet.makeup_basis).map_err(words)?;
        let by = |t| scaled_by_compound(t, factor).map(Cell::Real).map_err(words);
        table.rows.push(vec![
            Cell::Text(format!("table × {factor} (RP 7A1)")),
            by(at_yield.torque)?,
            by(makeup.torque)?,
            Cell::Text(at_yield.member.to_string()),
            by(at_yield.pin_torque)?,
            by(at_yield.box_torque)?,
            Cell::Missing,
            Cell::Missing,
        ]);
    }
    Ok(table)
}

fn makeup_facts(q: &ConnectionQuestion, sheet: &Sheet) -> Result<Vec<Fact>, ReportError> {
    let c = &sheet.connection;
    let target = c.torque(sheet.makeup_basis).map_err(words)?.torque;
    let factor = q.compound.unwrap_or(1.0);
    let target = scaled_by_compound(target, factor).map_err(words)?;
    let tolerance = MakeupTolerance::COMMON_PRACTICE;
    let judged = source(ConnectionFigure::MakeupVerdict);
    let mut facts = vec![
        Fact::of("target", "make-up torque", Cell::Real(target), M::Torque)
            .from(source(q.on.figure())),
        Fact::of(
            "accepted_from",
            "  accepted from",
            Cell::Real(target * (1.0 - tolerance.under)),
            M::Torque,
        )
        .from(judged.clone()),
        Fact::of(
            "accepted_to",
            "  accepted to",
            Cell::Real(target * (1.0 + tolerance.over)),
            M::Torque,
        )
        .from(judged.clone()),
    ];
    if let Some(torque) = q.makeup {
        let verdict = match judge_makeup(torque, target, tolerance).map_err(words)? {
            MakeupVerdict::Under => "under",
            MakeupVerdict::OnTarget => "on target",
            MakeupVerdict::Over => "over",
        };
        facts.push(Fact::of("given", "  torque given", Cell::Real(torque), M::Torque));
        facts.push(Fact::plain("verdict", "  it is", Cell::Text(verdict.to_owned())).from(judged));
    }
    // What the torque does to the steel depends on the compound's own friction.
    let basis = sheet.yield_basis.with_friction(Friction::with_compound(factor));
    let torque = q.makeup.unwrap_or(target);
    let pull = c.tension_at_makeup(basis, torque).map_err(words)?;
    let at = source(ConnectionFigure::TensionAtMakeup);
    let of = |name, label, value: f64| {
        Fact::of(name, label, Cell::Real(value), M::LoadRating).from(at.clone())
    };
    facts.push(of("preload", "preload of that torque", pull.preload));
    facts.push(of("separation", "pull that parts the shoulder", pull.separation));
    facts.push(of("pin_yield", "pull that yields the pin", pull.pin_yield));
    facts.push(of("capacity", "tension capacity made up", pull.capacity));
    let first = match pull.limit {
        TensionLimit::ShoulderSeparation => "the shoulder parts",
        TensionLimit::PinYield => "the pin yields",
    };
    facts.push(Fact::plain("limit", "  at which", Cell::Text(first.to_owned())));
    facts.push(
        Fact::of(
            "tensile_yield",
            "tensile yield of the pin unmade",
            Cell::Real(c.tensile_yield(basis.stress).map_err(words)?),
            M::LoadRating,
        )
        .from(source(ConnectionFigure::TensileYield)),
    );
    facts.push(
        Fact::of(
            "balanced",
            "torque at which both pulls meet",
            Cell::Real(c.balanced_makeup(basis).map_err(words)?),
            M::Torque,
        )
        .from(at),
    );
    Ok(facts)
}

/// How the connection stands to its tube, class by class.
fn tube_table(
    q: &ConnectionQuestion,
    tube: &TubeSpec,
    sheet: &Sheet,
    notes: &mut Vec<String>,
) -> Result<Table, ReportError> {
    let at_yield = sheet.connection.torque(sheet.yield_basis).map_err(words)?;
    let least = source(ConnectionFigure::MinimumOd);
    let mut table = Table {
        name: "tube",
        columns: vec![
            Column::plain("state", format!("on {}", tube.short_title()).as_str()),
            Column::of("tube_torsion", "tube torsion", M::Torque),
            Column::of("ratio", "ratio", M::Factor).from(
                "Torsional yield of the connection over that of the tube. The tables' rule for worn \
                 joints and common practice want at least 0.80",
            ),
            Column::of("minimum_od", "least OD", M::Diameter).from(least),
            Column::plain("enough", "enough"),
            Column::of("minimum_shoulder", "least\nshoulder", M::Wall).dispensable(1),
            Column::of("eccentric_shoulder", "thin side", M::Wall).dispensable(2),
            Column::of("makeup_at_minimum", "make-up\nat least OD", M::Torque).dispensable(3),
        ],
        ..Table::default()
    };
    let rule = MinOdRule {
        basis: sheet.yield_basis,
        makeup_stress: sheet.makeup_basis.stress,
        ..MinOdRule::default()
    };
    for state in rated(tube, &TubeClass::ALL, q.measured)? {
        let torsion = state.ratings.torsion;
        let ratio = torsional_ratio(&at_yield, torsion).map_err(words)?;
        let min = minimum_od(q.connection, q.dimensions.id, torsion, rule);
        let mut row = vec![Cell::Text(state.label.clone()), Cell::Real(torsion), Cell::Real(ratio)];
        match min {
            Ok(min) => {
                let enough = min.pin_is_enough && q.dimensions.od >= min.od - 1e-9;
                row.extend([
                    Cell::Real(min.od),
                    Cell::Truth(enough),
                    Cell::Real(min.shoulder),
                    Cell::Real(min.eccentric_shoulder),
                    Cell::Real(min.makeup),
                ]);
                if !min.pin_is_enough {
                    notes.push(format!(
                        "{}: the pin's bore is too large for 0.80 of the tube; no outside diameter \
                         helps",
                        state.label
                    ));
                }
            }
            Err(e) => {
                notes.push(format!("{}: {e}", state.label));
                row.extend([Cell::Missing, Cell::Truth(false)]);
                row.extend([Cell::Missing, Cell::Missing, Cell::Missing]);
            }
        }
        table.rows.push(row);
    }
    Ok(table)
}

fn bending_facts(sheet: &Sheet) -> Vec<Fact> {
    let c = &sheet.connection;
    let roots = c.bending_strength_ratio(BendingSections::ThreadRoots);
    let at = source(ConnectionFigure::BendingStrengthRatio);
    let mut facts = vec![
        Fact::of("ratio", "bending strength ratio", Cell::Real(roots.ratio), M::Factor)
            .from(at.clone()),
        Fact::of("box_modulus", "  box section", Cell::Real(roots.box_modulus), M::SectionModulus),
        Fact::of("pin_modulus", "  pin section", Cell::Real(roots.pin_modulus), M::SectionModulus),
    ];
    let place = if roots.ratio < 1.9 {
        "below the outer range 1.90 to 3.20: the box is weak"
    } else if roots.ratio > 3.2 {
        "above the outer range 1.90 to 3.20: the pin is weak"
    } else if (2.25..=2.75).contains(&roots.ratio) {
        "within the customary range 2.25 to 2.75"
    } else {
        "within the outer range 1.90 to 3.20, outside the customary 2.25 to 2.75"
    };
    facts.push(Fact::plain("range", "  it lies", Cell::Text(place.to_owned())).from(
        "Ranges: 2.25 to 2.75 on a public course page on collars (published); 1.90 to 3.20 and the \
         target 2.5 from API RP 7G (memory). Small collars run lower",
    ));
    let d = c.dimensions;
    if d.relief_groove.is_some() || d.bore_back.is_some() {
        let relieved = c.bending_strength_ratio(BendingSections::ReliefFeatures);
        facts.push(
            Fact::of(
                "relieved_ratio",
                "  at groove and bore-back",
                maybe(Some(relieved.ratio)),
                M::Factor,
            )
            .from("The same ratio at the relief features; not comparable with the ranges"),
        );
    }
    facts
}
