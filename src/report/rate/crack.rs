//! How long a crack that an inspection may miss takes to grow: an aid to the next interval.

use crate::mechanics::fatigue::StressRange;
use crate::mechanics::fatigue::growth::{Growth, LAWS};
use crate::model::fold;
use crate::units::Measure as M;

use super::super::{Block, Cell, Column, Fact, Report, ReportError, Table};
use super::{Surroundings, close, flag, words};

/// What is asked. SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct CrackQuestion {
    /// Depth of the crack.
    pub depth: f64,
    /// Depth to which it grows: the wall, where it washes out.
    pub wall: f64,
    /// Bending stress amplitude at the crack, notch and all: its range is twice that.
    pub bending: f64,
    /// Geometry factor Y of ΔK = Y·Δσ·√(πa).
    pub shape: f64,
    /// Rotary speed, turns per second, for hours.
    pub speed: Option<f64>,
    /// Only this growth law.
    pub law: Option<String>,
    pub around: Surroundings,
}

/// Geometry factor of a shallow half-round crack at a surface (memory).
pub const SHAPE: f64 = 0.73;

/// Makes the answer.
///
/// # Errors
/// A sentence when the depths, the stress or the law cannot be.
pub fn report(q: &CrackQuestion) -> Result<Report, ReportError> {
    if !(q.depth > 0.0 && q.wall > q.depth) {
        return Err(words("a crack is deeper than nothing and shallower than the wall"));
    }
    if !(q.bending > 0.0 && q.shape > 0.0) {
        return Err(words("the bending stress and the shape of the crack are above zero"));
    }
    let laws = laws(q.law.as_deref())?;
    let mut report = Report::new("rate crack");
    report.push(Block::Heading("Growth of a crack".to_owned()));
    flag(&mut report, &q.around, q.around.on_fatigue());
    let range = StressRange::from_megapascals(2e-6 * q.bending);
    let of = |name, label, value, m| Fact::of(name, label, Cell::Real(value), m);
    report.push(Block::Facts {
        name: "crack",
        facts: vec![
            of("depth", "depth", q.depth, M::Wall),
            of("wall", "grows to", q.wall, M::Wall),
            of("bending", "bending stress", q.bending, M::Stress),
            of("range", "stress range of a turn", range.pascals(), M::Stress),
            of("shape", "shape Y", q.shape, M::Factor),
        ],
    });
    report.push(Block::Table(table(q, &laws, range)));
    let notes = [
        "a crack that was found takes the joint out of the string; this is for one that an \
         inspection may have missed, and helps to set the interval to the next",
        "every turn is taken at this stress, the shape as constant; the section that a crack takes \
         away, the mean stress beyond that of each law, and cracks that join are not counted",
        "no constants of drill pipe were found to print: take the fastest law that may hold, and a \
         margin on the depth that the method can miss",
    ];
    close(
        &mut report,
        notes.map(str::to_owned).to_vec(),
        "Growth by laws of other steels; no ruling on how long a joint may run.",
    );
    Ok(report)
}

/// All laws, or those whose name begins with words.
pub(super) fn laws(named: Option<&str>) -> Result<Vec<&'static Growth>, ReportError> {
    let key = named.map(fold).unwrap_or_default();
    let found: Vec<&Growth> = LAWS.iter().filter(|l| fold(l.name).starts_with(&key)).collect();
    if found.is_empty() {
        let known: Vec<&str> = LAWS.iter().map(|l| l.name).collect();
        return Err(words(format!(
            "'{}' is no growth law; known: {}",
            named.unwrap_or_default(),
            known.join("; ")
        )));
    }
    Ok(found)
}

fn table(q: &CrackQuestion, laws: &[&Growth], range: StressRange) -> Table {
    let mut columns = vec![
        Column::plain("law", "growth law"),
        Column::of("growth", "at first, in\n100,000 turns", M::Wall).from(
            "Paris, da/dN = C·ΔK^m with ΔK = Y·Δσ·√(πa), the slower of two stages, none below the \
             threshold",
        ),
        Column::of("turns", "turns to\ngrow through", M::Turns),
    ];
    if q.speed.is_some() {
        columns.push(Column::of("hours", "hours at\nthat speed", M::Hours));
    }
    columns.push(Column::plain("source", "constants"));
    let rows = laws
        .iter()
        .map(|law| {
            let turns = law.cycles(q.depth, q.wall, range, q.shape);
            // Below the threshold nothing grows, which is no number of turns.
            let finite = |x: f64| if x.is_finite() { Cell::Real(x) } else { Cell::Missing };
            let mut row = vec![
                Cell::Text(law.name.to_owned()),
                Cell::Real(1e5 * law.rate(q.depth, range, q.shape)),
                finite(turns),
            ];
            if let Some(speed) = q.speed {
                row.push(finite(turns / speed));
            }
            row.push(Cell::Text(format!("{} ({})", law.source, law.provenance)));
            row
        })
        .collect();
    Table { name: "growth", columns, rows, ..Table::default() }
}
