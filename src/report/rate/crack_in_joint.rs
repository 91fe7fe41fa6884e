//! What a crack that a search may have missed, or one that was found, has become in a joint since, by
//! the stress that the joint itself went through; and when it would go through the wall at that use.

use crate::mechanics::exposure::Spectrum;
use crate::mechanics::fatigue::growth::{Grown, Growth};
use crate::model::{Clock, Scope};
use crate::schema::{JointRow, JointRunRow, Rows, SinceRow};
use crate::store::{Appraiser, Book};
use crate::units::Measure as M;

use super::super::exposure::limits;
use super::super::lookup::{joint_row, runs_of};
use super::super::{Block, Cell, Column, Fact, PLACES, Report, ReportError, Table, instant};
use super::crack::laws;
use super::{close, words};

/// What is asked. SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct JointCrack {
    /// Depth of the crack when it was looked for.
    pub depth: f64,
    /// Place on the joint: 0 pin end, 1 middle, 2 box end; the one with most damage where none is said.
    pub place: Option<usize>,
    /// Depth to which it grows; the joint's wall where none is given.
    pub wall: Option<f64>,
    /// Since when; the last search for cracks of that place where none is given.
    pub since: Option<i64>,
    /// Geometry factor Y.
    pub shape: f64,
    /// Only these growth laws.
    pub law: Option<String>,
    pub clock: Clock,
}

/// A place by what people call it.
///
/// # Errors
/// A sentence that names the places.
pub fn place(text: &str) -> Result<usize, ReportError> {
    let key = crate::model::fold(text);
    PLACES.iter().position(|p| crate::model::fold(p) == key).ok_or_else(|| {
        words(format!("'{text}' is no place on a joint; known: {}", PLACES.join(", ")))
    })
}

/// The stress history of a place since an instant.
struct History {
    spectrum: Spectrum,
    runs: Vec<JointRunRow>,
    /// Runs that had no stress to tell.
    unknown: Vec<String>,
    /// Runs that count whole, since nobody knows when they turned.
    untimed: Vec<String>,
    /// Rotating hours of those that had.
    hours: i64,
}

/// Makes the answer.
///
/// # Errors
/// A sentence when the depths cannot be, or nothing is known of the place.
pub fn report(book: &Book, joint: i64, q: &JointCrack) -> Result<Report, ReportError> {
    let Some(row) = joint_row(book, joint)? else {
        return Err(ReportError::NoJoint { serial: joint.to_string(), like: Vec::new() });
    };
    let at = q.place.unwrap_or_else(|| worst(&row));
    let read = row.wall_thickness.map(|w| (w, "as read last"));
    let wall = read.or_else(|| row.nominal_wall.map(|w| (w, "nominal: it was never read")));
    let stored = wall.map(|(w, how)| (w as f64 / M::Wall.quanta_per_base() as f64, how));
    let Some((wall, how)) = q.wall.map(|w| (w, "as given")).or(stored) else {
        return Err(words(format!("the wall of {} is not known; give --wall", row.serial)));
    };
    if !(q.depth > 0.0 && wall > q.depth) {
        return Err(words("a crack is deeper than nothing and shallower than the wall"));
    }
    let searched = searched(book, &row, at)?;
    let since = q.since.or(searched.map(|s| s.0));
    let history = history(book, &row, at, since)?;
    let laws = laws(q.law.as_deref())?;
    let mut report = Report::new("rate crack");
    report.push(Block::Heading(format!("Growth of a crack in {}, {}", row.serial, PLACES[at])));
    report.push(facts(q, (wall, how), searched, since, &history));
    report.push(Block::Table(table(q, &laws, wall, &history)));
    report.blocks.extend(limits(&history.runs).into_iter().map(Block::Note));
    let mut notes = Vec::new();
    if !history.unknown.is_empty() {
        notes.push(format!(
            "of {} nobody knows the stress: the crack is at least this deep",
            history.unknown.join(", ")
        ));
    }
    if !history.untimed.is_empty() {
        notes.push(format!(
            "of {} nobody knows when it turned: all of it counts",
            history.untimed.join(", ")
        ));
    }
    if !row.life_complete {
        notes.push("part of this joint's life is not in the book: more turns may count".to_owned());
    }
    if since.is_none() {
        notes.push(format!(
            "no search for cracks of its {} is in the book: all of its runs count",
            PLACES[at]
        ));
    }
    notes.extend(
        [
            "a crack that was found takes the joint out of the string; this is for one that a search \
             may have missed, and helps to set the interval to the next",
            "turns of all stresses are taken as evenly mixed, the shape as constant; the section that \
             a crack takes away, the mean stress beyond that of each law, torsion, shock and cracks \
             that join are not counted",
            "no constants of drill pipe were found to print: take the fastest law that may hold, and \
             a margin on the depth that the method can miss",
        ]
        .map(str::to_owned),
    );
    close(
        &mut report,
        notes,
        "Growth by laws of other steels; no ruling on how long a joint may run.",
    );
    Ok(report)
}

/// The place that took most damage.
fn worst(row: &JointRow) -> usize {
    let at = [row.damage_pin, row.damage_middle, row.damage_box].map(|d| d.lo);
    (0..3).max_by_key(|i| at[*i]).unwrap_or(2)
}

/// When the place was last looked at for cracks, and in which entry.
fn searched(book: &Book, row: &JointRow, at: usize) -> Result<Option<(i64, i64)>, ReportError> {
    let scope = if at == 1 { Scope::BodyCracks } else { Scope::SlipCracks };
    let rows: Vec<SinceRow> = book.rows(&Rows::of(SinceRow::joint(), row.joint))?;
    let mut of_place = rows.into_iter().filter(|s| s.scope == scope);
    Ok(of_place.find_map(|s| Some((s.at, s.entry?))))
}

fn history(
    book: &Book,
    row: &JointRow,
    at: usize,
    since: Option<i64>,
) -> Result<History, ReportError> {
    let runs: Vec<JointRunRow> = book.rows_of(row.joint)?;
    let runs: Vec<JointRunRow> =
        runs.into_iter().filter(|r| since.is_none_or(|at| r.finish > at)).collect();
    let names = runs_of(book, &runs)?;
    let mut found = History {
        spectrum: Spectrum::default(),
        runs: Vec::new(),
        unknown: Vec::new(),
        untimed: Vec::new(),
        hours: 0,
    };
    let mut appraiser = book.appraiser()?;
    for r in runs {
        let name = || names.get(&r.run).map(|run| run.name.clone()).unwrap_or_default();
        let known = r.figures.damage()[at].is_some() && !r.conflicting;
        let spectrum = if known {
            let model = appraiser.run_model(r.run)?;
            model.spectrum(row.joint, at, since).map_err(ReportError::Words)?
        } else {
            None
        };
        match spectrum {
            Some(spectrum) => {
                found.spectrum.add(&spectrum);
                let hours = r.figures.hours.unwrap_or(0);
                let gone = hours_before(&mut appraiser, &r, since)?;
                found.hours += hours - gone.unwrap_or(0);
                if gone.is_none() {
                    found.untimed.push(name());
                }
                found.runs.push(r);
            }
            None => found.unknown.push(name()),
        }
    }
    Ok(found)
}

/// Hours of a run before an instant in it; none where nobody knows when it turned.
fn hours_before(
    appraiser: &mut Appraiser<'_>,
    r: &JointRunRow,
    since: Option<i64>,
) -> Result<Option<i64>, ReportError> {
    let Some(at) = since.filter(|at| *at > r.start) else { return Ok(Some(0)) };
    let model = appraiser.run_model(r.run)?;
    if !model.is_timed() {
        return Ok(None);
    }
    let Some(line) = model.lines().iter().find(|line| line.joint == r.joint) else {
        return Ok(None);
    };
    Ok(model.part(line, at).map_err(ReportError::Words)?.figures.hours)
}

fn facts(
    q: &JointCrack,
    (wall, how): (f64, &str),
    searched: Option<(i64, i64)>,
    since: Option<i64>,
    history: &History,
) -> Block {
    let turns = history.spectrum.turns();
    let bent: f64 = turns.iter().map(|t| t.1).sum();
    let largest = turns.last().map(|t| t.0.pascals());
    let of = |name, label, value, m| Fact::of(name, label, value, m);
    let real = |x: Option<f64>| x.map_or(Cell::Missing, Cell::Real);
    let why = match (q.since, searched) {
        (Some(_), _) => "as asked",
        (None, Some(_)) => "its last search for cracks",
        (None, None) => "never searched",
    };
    Block::Facts {
        name: "crack",
        facts: vec![
            of("depth", "depth then", Cell::Real(q.depth), M::Wall),
            of("wall", &format!("grows to the wall, {how}"), Cell::Real(wall), M::Wall),
            Fact::plain(
                "since",
                &format!("since ({why})"),
                since.map_or(Cell::Missing, |at| instant(at, q.clock)),
            ),
            Fact::plain("runs", "runs since", Cell::count(history.runs.len())),
            Fact::plain("runs_unknown", "of unknown stress", Cell::count(history.unknown.len())),
            of("turns", "turns in a bend", Cell::Real(bent), M::Turns),
            of("range", "largest stress range of a turn", real(largest), M::Stress),
            of("shape", "shape Y", Cell::Real(q.shape), M::Factor),
        ],
    }
}

fn table(q: &JointCrack, laws: &[&Growth], wall: f64, history: &History) -> Table {
    let turns = history.spectrum.turns();
    let bent: f64 = turns.iter().map(|t| t.1).sum();
    let hours = history.hours as f64 / M::Hours.quanta_per_base() as f64;
    let row = |law: &&Growth| {
        let Grown { depth, through } = law.mixed(q.depth, wall, &turns, q.shape);
        let gone = depth >= wall;
        // Below the threshold nothing grows, which is no number of turns.
        let left = (through - bent).max(0.0);
        let finite = |x: f64| if x.is_finite() && !gone { Cell::Real(x) } else { Cell::Missing };
        let per_turn = if bent > 0.0 { hours / bent } else { f64::INFINITY };
        let says = if gone {
            "through the wall"
        } else if bent <= 0.0 {
            "no turn in a bend since"
        } else if through.is_infinite() {
            "does not grow"
        } else {
            "grows"
        };
        vec![
            Cell::Text(law.name.to_owned()),
            Cell::Text(says.to_owned()),
            Cell::Real(depth),
            Cell::Real(depth / wall),
            finite(left),
            finite(left * per_turn),
            Cell::Text(format!("{} ({})", law.source, law.provenance)),
        ]
    };
    Table {
        name: "growth",
        columns: vec![
            Column::plain("law", "growth law"),
            Column::plain("says", "by now"),
            Column::of("depth_now", "depth\nnow", M::Wall).from(
                "Paris, da/dN = C·ΔK^m with ΔK = Y·Δσ·√(πa), the slower of two stages, none below \
                 the threshold, turn by turn over the joint's own stress ranges",
            ),
            Column::of("share", "of the\nwall", M::Ratio),
            Column::of("turns", "more turns in such\nbends to go through", M::Turns),
            Column::of("hours", "rotating hours\nof such use", M::Hours),
            Column::plain("source", "constants"),
        ],
        rows: laws.iter().map(row).collect(),
        ..Table::default()
    }
}
