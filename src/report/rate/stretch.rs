//! How much a string stretches and twists, and how much of it a pull test says is free.

use crate::mechanics::constants::STEEL_YOUNG;
use crate::mechanics::tube::elastic::{SHEAR_STEEL, free_length, stretch, twist_per_length};
use crate::mechanics::tube::{Section, TubeClass, TubeFigure};
use crate::store::Book;
use crate::units::Measure as M;

use super::super::lookup::find_run;
use super::super::{Block, Cell, Column, Fact, Report, ReportError, Table};
use super::run::hang;
use super::tube::{MeasuredWall, rated};
use super::{TubeSpec, close, maybe, words};

/// A pull, a torque, and what the pull was seen to stretch. SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pull {
    /// Pull on the string beyond its weight.
    pub load: f64,
    pub torque: Option<f64>,
    /// Stretch that was measured under the pull.
    pub measured: Option<f64>,
}

/// A stretch of string of one section.
struct Uniform {
    name: String,
    section: Section,
    /// m; none where only the free length is asked for.
    length: Option<f64>,
}

/// Makes the answer for one tube in several states of wear.
///
/// # Errors
/// A sentence when a load or a dimension cannot be.
pub fn of_tube(
    tube: &TubeSpec,
    (classes, measured): (&[TubeClass], Option<MeasuredWall>),
    length: Option<f64>,
    pull: Pull,
) -> Result<Report, ReportError> {
    if length.is_none() && pull.measured.is_none() {
        return Err(words("give --length, or the --stretch that was measured under the pull"));
    }
    let mut notes = Vec::new();
    let mut rows = Vec::new();
    for state in rated(tube, classes, measured)? {
        if pull.load > state.ratings.tension {
            notes.push(format!("{}: that pull is beyond its yield", state.label));
        }
        let section = state.tube.section;
        rows.push(row(&Uniform { name: state.label, section, length }, pull)?);
    }
    let title = format!("Stretch of {}", tube.title());
    Ok(report(&title, length, pull, (Column::plain("state", "stretch"), rows), notes))
}

/// Makes the answer for the string of a run, from the table down to a depth (m), each stretch of
/// equal section by itself.
///
/// # Errors
/// A sentence when the run is not known, or its string not so well known.
pub fn of_run(
    book: &Book,
    run: &str,
    (bit, down_to): (Option<f64>, Option<f64>),
    pull: Pull,
) -> Result<Report, ReportError> {
    let loaded = hang(book, find_run(book, run)?, bit)?;
    let string = &loaded.string.case.string;
    let down_to = down_to.unwrap_or(loaded.bit).min(loaded.bit);
    let mut parts: Vec<Uniform> = Vec::new();
    let known = string.parts().iter().zip(&loaded.string.parts).zip(string.distances());
    for ((part, named), distance) in known.rev() {
        let (deep, shallow) = (loaded.bit - distance, loaded.bit - distance - part.length);
        let length = deep.min(down_to) - shallow.max(0.0);
        if length <= 0.0 {
            continue;
        }
        if !named.section_known {
            return Err(words(format!(
                "the section of {} is not known, so nobody can say how it stretches",
                named.name
            )));
        }
        let section = Section::from_diameters(part.od, part.id).map_err(words)?;
        let same = |last: &Uniform| (last.section.area / section.area - 1.0).abs() < 1e-9;
        match parts.last_mut().filter(|last| same(last)) {
            Some(last) => last.length = last.length.map(|l| l + length),
            None => parts.push(Uniform { name: named.name.clone(), section, length: Some(length) }),
        }
    }
    if parts.is_empty() {
        return Err(words(format!("nothing of the string of {run} hangs above that depth")));
    }
    let mut rows = Vec::new();
    let (mut whole, mut stretched, mut twisted) = (0.0, 0.0, 0.0);
    for part in &parts {
        let (long, turn) = elastic(part, pull)?;
        whole += part.length.unwrap_or(0.0);
        stretched += long.unwrap_or(0.0);
        twisted += turn.unwrap_or(0.0);
        rows.push(row(part, Pull { measured: None, ..pull })?);
    }
    let mut all = vec![
        Cell::Text("all".to_owned()),
        Cell::Missing,
        Cell::Real(whole),
        Cell::Real(stretched),
        maybe(pull.torque.map(|_| twisted.to_degrees())),
        maybe(pull.torque.map(|_| twisted / std::f64::consts::TAU)),
    ];
    all.push(maybe(pull.measured.map(|seen| free(&parts, seen, pull)).transpose()?.flatten()));
    rows.push(all);
    let mut notes = Vec::new();
    if pull.measured.is_some_and(|seen| seen > stretched) {
        notes.push("it stretched more than all of it would: look at the pull, or at slack".into());
    }
    let title = format!("Stretch of the string of {}", loaded.row.name);
    Ok(report(&title, Some(down_to), pull, (Column::plain("part", "part"), rows), notes))
}

/// Stretch (m) and twist (rad) of a stretch of known length.
fn elastic(part: &Uniform, pull: Pull) -> Result<(Option<f64>, Option<f64>), ReportError> {
    let Some(length) = part.length else { return Ok((None, None)) };
    let long = stretch(&part.section, STEEL_YOUNG, length, pull.load).map_err(words)?;
    let turn = pull
        .torque
        .map(|t| twist_per_length(&part.section, SHEAR_STEEL, t).map(|per| per * length))
        .transpose()
        .map_err(words)?;
    Ok((Some(long), turn))
}

/// Free length from the table down; none when all of it would stretch less.
fn free(parts: &[Uniform], seen: f64, pull: Pull) -> Result<Option<f64>, ReportError> {
    let (mut left, mut length) = (seen, 0.0);
    for part in parts {
        let long = elastic(part, pull)?.0.unwrap_or(0.0);
        if long >= left {
            let more = free_length(&part.section, STEEL_YOUNG, left, pull.load).map_err(words)?;
            return Ok(Some(length + more));
        }
        left -= long;
        length += part.length.unwrap_or(0.0);
    }
    Ok(None)
}

fn row(part: &Uniform, pull: Pull) -> Result<Vec<Cell>, ReportError> {
    let (long, turn) = elastic(part, pull)?;
    let free = pull
        .measured
        .map(|seen| free_length(&part.section, STEEL_YOUNG, seen, pull.load))
        .transpose()
        .map_err(words)?;
    Ok(vec![
        Cell::Text(part.name.clone()),
        Cell::Real(part.section.area),
        maybe(part.length),
        maybe(long),
        maybe(turn.map(f64::to_degrees)),
        maybe(turn.map(|t| t / std::f64::consts::TAU)),
        maybe(free),
    ])
}

fn report(
    title: &str,
    length: Option<f64>,
    pull: Pull,
    (first, rows): (Column, Vec<Vec<Cell>>),
    mut notes: Vec<String>,
) -> Report {
    let mut report = Report::new("rate stretch");
    report.push(Block::Heading(title.to_owned()));
    let source = TubeFigure::Elastic.source().sentence();
    let mut facts = vec![Fact::of("pull", "pull", Cell::Real(pull.load), M::Force)];
    if let Some(length) = length {
        facts.push(Fact::of("length", "length", Cell::Real(length), M::Depth));
    }
    if let Some(torque) = pull.torque {
        facts.push(Fact::of("torque", "torque", Cell::Real(torque), M::Torque));
    }
    if let Some(seen) = pull.measured {
        facts.push(Fact::of("measured", "stretch measured", Cell::Real(seen), M::Diameter));
    }
    report.push(Block::Facts { name: "pull", facts });
    let mut table = Table {
        name: "stretch",
        columns: vec![
            first,
            Column::of("area", "area", M::Area).dispensable(1),
            Column::of("length", "length", M::Depth),
            Column::of("stretch", "stretches", M::Diameter).from(source),
            Column::of("twist", "twists", M::Angle),
            Column::of("turns", "turns", M::Factor),
            Column::of("free", "free\nlength", M::Depth),
        ],
        rows,
        ..Table::default()
    };
    let unasked = [
        (length.is_none(), "length"),
        (length.is_none(), "stretch"),
        (pull.torque.is_none(), "twist"),
        (pull.torque.is_none(), "turns"),
        (pull.measured.is_none(), "free"),
    ];
    for (_, name) in unasked.iter().filter(|(unasked, _)| *unasked) {
        if let Some(at) = table.columns.iter().position(|c| c.name == *name) {
            table.columns.remove(at);
            table.rows.iter_mut().for_each(|row| {
                row.remove(at);
            });
        }
    }
    report.push(Block::Table(table));
    notes.push(
        "steel of 30 million psi and 11.5 million psi in shear; the plain body is taken all along, \
         and tool joints make a string a little stiffer"
            .to_owned(),
    );
    if pull.measured.is_some() {
        notes.push(
            "drag in the hole holds pull back: the free length is the mean of pulls and slack-offs, \
             never of one"
                .to_owned(),
        );
    }
    close(&mut report, notes, "Elastic stretch of a string that hangs free.");
    report
}
