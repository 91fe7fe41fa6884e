//! Paths of holes: the wells that have surveys, and one survey's stations with what follows from them
//! beside what its file published.

use std::collections::{BTreeMap, BTreeSet};

use crate::mechanics::path::{Path, Station, Vector};
use crate::model::{
    Body, Clock, PublishedStation, Qty, StationLine, SurveyBody, name_key, nearest_word, same_name,
};
use crate::projection::exposure::{path_of, stations_of};
use crate::schema::{Rows, RunRow, StruckRow, SurveyRow};
use crate::store::Book;
use crate::units::{Measure as M, Unit, split_number};

use super::{Block, Cell, Column, Fact, Report, ReportError, Table, instant};

/// How what a file publishes is held against the stations.
const ROUNDING: &str = "a published figure differs where it lies further from the computed one than its \
     last digit, and those of depth, inclination and azimuth added up from the first station, \
     allow; north, east and vertical depth are compared from the first station on, since a file may \
     count them from elsewhere";

/// Surveys that nobody struck.
pub(crate) fn surveys(book: &Book) -> Result<Vec<SurveyRow>, ReportError> {
    let struck: Vec<StruckRow> = book.rows(&Rows::all())?;
    let struck: BTreeSet<i64> = struck.into_iter().map(|row| row.entry).collect();
    let surveys: Vec<SurveyRow> = book.rows(&Rows::all())?;
    Ok(surveys.into_iter().filter(|s| !struck.contains(&s.entry)).collect())
}

/// Surveys that stand, in the order of facts: by their time, then by the names of their entries. The
/// last of a well is the one in force.
fn standing(book: &Book) -> Result<Vec<SurveyRow>, ReportError> {
    let mut named = Vec::new();
    for survey in surveys(book)? {
        named.push((survey.at, book.counted(survey.entry)?.id.sort_key(), survey));
    }
    named.sort_by(|a, b| (a.0, &a.1).cmp(&(b.0, &b.1)));
    Ok(named.into_iter().map(|(_, _, survey)| survey).collect())
}

/// What the book holds of a well.
#[derive(Default)]
struct Well {
    name: String,
    /// The survey in force.
    in_force: Option<SurveyRow>,
    surveys: i64,
    runs: i64,
}

/// Wells that have a survey, or a run without one.
pub fn wells(book: &Book, clock: Clock) -> Result<Report, ReportError> {
    let mut wells: BTreeMap<String, Well> = BTreeMap::new();
    let mut of = |name: &str, note: &mut dyn FnMut(&mut Well)| {
        let new = || Well { name: name.to_owned(), ..Well::default() };
        note(wells.entry(name_key(name)).or_insert_with(new));
    };
    for survey in standing(book)? {
        of(&survey.well, &mut |well| {
            well.surveys += 1;
            well.in_force = Some(survey.clone());
        });
    }
    for run in book.rows::<RunRow>(&Rows::all())? {
        of(&run.well, &mut |well| well.runs += 1);
    }
    let rows = wells
        .into_values()
        .map(|well| {
            let in_force = well.in_force.as_ref();
            vec![
                Cell::Text(well.name),
                Cell::Number(well.surveys),
                in_force.map_or(Cell::Missing, |s| instant(s.at, clock)),
                Cell::number(in_force.map(|s| s.stations)),
                Cell::Number(well.runs),
            ]
        })
        .collect();
    let mut report = Report::new("survey");
    report.push(Block::Table(Table {
        name: "wells",
        columns: vec![
            Column::plain("well", "well"),
            Column::plain("surveys", "surveys"),
            Column::plain("latest", "latest"),
            Column::plain("stations", "stations"),
            Column::plain("runs", "runs"),
        ],
        rows,
        empty: "the book has no survey and no run".to_owned(),
        below: None,
    }));
    Ok(report)
}

/// The survey in force of a well: the latest that stands.
pub fn of_well(book: &Book, well: &str, clock: Clock) -> Result<Report, ReportError> {
    let (surveys, others): (Vec<SurveyRow>, Vec<SurveyRow>) =
        standing(book)?.into_iter().partition(|s| same_name(&s.well, well));
    let Some(in_force) = surveys.last() else { return Err(no_survey(&others, well)) };
    let entry = book.counted(in_force.entry)?;
    let Body::Survey(body) = &entry.body else {
        return Err(ReportError::Words(format!("{} is no survey", entry.id)));
    };
    let path = path_of(Some(body)).map_err(ReportError::Words)?;
    let mut report = Report::new("survey");
    report.push(Block::Heading(format!("Survey of {}", body.well)));
    let fact = |name: &'static str, label: &str, text: Option<&str>| {
        text.map(|t| Fact::plain(name, label, Cell::Text(t.to_owned())))
    };
    let mut facts = vec![
        Fact::plain("entry", "entry", Cell::Text(entry.id.to_string())),
        Fact::plain("made", "made", instant(in_force.at, clock)),
    ];
    facts.extend(fact("tool", "tool", body.tool.as_deref()));
    facts.extend(fact("north_reference", "azimuths from", body.north.as_deref()));
    facts.extend(fact("remark", "remark", body.remark.as_deref()));
    report.push(Block::Facts { name: "survey", facts });
    let stations = Stations::read(body)?;
    let (table, differing) = stations.table(&path, body);
    report.push(Block::Table(table));
    if surveys.len() > 1 {
        let earlier = surveys.len() - 1;
        report.push(Block::Note(format!(
            "{earlier} earlier survey{} of this hole {} in the book; runs are worked out by this one \
             unless they name another",
            if earlier == 1 { "" } else { "s" },
            if earlier == 1 { "is" } else { "are" },
        )));
    }
    if body.published.is_empty() {
        report.push(Block::Note(
            "the file published no position and no dogleg, or they were not kept".to_owned(),
        ));
    } else {
        let said = if differing == 0 {
            "every figure that the file published is the computed one within rounding".to_owned()
        } else {
            format!(
                "{differing} stations have published figures that differ from the computed ones"
            )
        };
        report.push(Block::Note(format!("{said}; {ROUNDING}")));
    }
    report.push(Block::Note(
        "minimum curvature between stations (Sawaryn and Thorogood, SPE 84246); north and east from \
         the first depth, in the reference of the azimuths; the hole between stations may bend more"
            .to_owned(),
    ));
    Ok(report)
}

fn no_survey(known: &[SurveyRow], well: &str) -> ReportError {
    let near = nearest_word(well, known.iter().map(|s| s.well.as_str()));
    let near = near.map_or_else(String::new, |near| format!("; did you mean \"{near}\"?"));
    ReportError::Words(format!(
        "there is no survey of {well}{near}; pipelore survey lists the wells"
    ))
}

/// Half of the last digit to which a column is written: zeros at the end of all its numbers tell
/// nothing.
fn half_digit<'t>(texts: impl Iterator<Item = &'t str>) -> f64 {
    let decimals = |text: &str| {
        let after = text.trim().split_once('.').map_or("", |(_, after)| after);
        after.trim_end_matches('0').len()
    };
    let most = texts.map(decimals).max().unwrap_or(0);
    0.5 * 10f64.powi(-i32::try_from(most).unwrap_or(0))
}

/// One of a unit, in base units.
fn one(unit: &str, measure: M) -> f64 {
    Unit::parse(unit, measure.dimension()).map_or(1.0, |unit| unit.factor().to_f64())
}

/// Stations as numbers, with what their last digits leave open.
struct Stations {
    /// m, rad.
    all: Vec<Station>,
    /// How far off the true ones depth (m), inclination and azimuth (rad) may be, by rounding.
    open: [f64; 3],
}

impl Stations {
    fn read(body: &SurveyBody) -> Result<Self, ReportError> {
        let all = stations_of(body).map_err(ReportError::Words)?;
        let open = |column: fn(&StationLine) -> &String, unit: &str, measure: M| {
            half_digit(body.stations.iter().map(|line| column(line).as_str())) * one(unit, measure)
        };
        let angle = body.angle_unit.as_str();
        let open = [
            open(|line| &line.0, &body.depth_unit, M::Depth),
            open(|line| &line.1, angle, M::Angle).to_radians(),
            open(|line| &line.2, angle, M::Angle).to_radians(),
        ];
        Ok(Self { all, open })
    }

    /// How far rounding of the stations may move each of them, from the first on, m: sideways and up
    /// and down alike.
    fn drift(&self) -> Vec<f64> {
        let mut sum = 0.0;
        let mut out = vec![0.0; self.all.len().min(1)];
        for pair in self.all.windows(2) {
            let [a, b] = pair else { continue };
            sum += (b.md - a.md) * self.turned(a).max(self.turned(b)) + self.open[0];
            out.push(sum);
        }
        out
    }

    /// How far rounding may turn the direction at a station, rad.
    fn turned(&self, s: &Station) -> f64 {
        self.open[1] + s.inc.sin().abs() * self.open[2]
    }

    /// The stations with what follows from them, and how many have a published figure that differs.
    fn table(&self, path: &Path, body: &SurveyBody) -> (Table, usize) {
        let drift = self.drift();
        let computed: Vec<Computed> = (0..self.all.len())
            .filter_map(|i| {
                let before = i.checked_sub(1).and_then(|before| self.all.get(before));
                Some(Computed::of(path, before, self.all.get(i)?))
            })
            .collect();
        let shown: Vec<Told> =
            PUBLISHED.iter().filter_map(|p| Told::of(p, body, computed.first())).collect();
        let mut columns = vec![
            Column::of("md", "measured depth", M::JointLength),
            Column::of("inclination", "inclination", M::Angle),
            Column::of("azimuth", "azimuth", M::Angle),
            Column::of("tvd", "vertical depth", M::JointLength),
            Column::of("north", "north", M::JointLength).dispensable(2),
            Column::of("east", "east", M::JointLength).dispensable(2),
            Column::of("dogleg", "dogleg", M::Dogleg),
        ];
        columns.extend(
            shown.iter().map(|t| Column::of(t.p.name, t.p.title, t.p.measure).dispensable(3)),
        );
        if !shown.is_empty() {
            columns.push(Column::plain("differs", "differs"));
        }
        let mut differing = 0;
        let mut rows = Vec::new();
        for (i, (station, own)) in self.all.iter().zip(&computed).enumerate() {
            let real = |x: Option<f64>| x.map_or(Cell::Missing, Cell::Real);
            let mut row = vec![
                Cell::Real(station.md),
                Cell::Real(station.inc.to_degrees()),
                Cell::Real(station.azi.to_degrees()),
                Cell::Real(own.tvd),
                Cell::Real(own.north),
                Cell::Real(own.east),
                real(own.dogleg),
            ];
            let told: Vec<Option<f64>> = shown.iter().map(|t| t.p.at(body, i)).collect();
            row.extend(told.iter().map(|x| real(*x)));
            let differs: Vec<&str> = shown
                .iter()
                .zip(&told)
                .filter(|(t, told)| {
                    let off = told.zip((t.p.own)(own)).map(|(told, own)| told - own - t.tied);
                    off.is_some_and(|off| off.abs() > self.allowed(i, t, &drift))
                })
                .map(|(t, _)| t.p.word)
                .collect();
            differing += usize::from(!differs.is_empty());
            if !shown.is_empty() {
                let differs = differs.join(", ");
                row.push(Cell::text(Some(differs.as_str()).filter(|words| !words.is_empty())));
            }
            rows.push(row);
        }
        let empty = "the survey has no station".to_owned();
        (Table { name: "stations", columns, rows, empty, below: None }, differing)
    }

    /// How far a published figure of a station may lie from the computed one by rounding alone.
    fn allowed(&self, i: usize, told: &Told, drift: &[f64]) -> f64 {
        let before = i.checked_sub(1).and_then(|j| self.all.get(j));
        // Half a digit of the first station and of this one.
        told.last_digit
            + match (told.p.measure, before, self.all.get(i)) {
                (M::Dogleg, Some(a), Some(b)) => {
                    let length = (b.md - a.md).max(f64::MIN_POSITIVE);
                    (self.turned(a) + self.turned(b)).to_degrees() / length
                }
                _ => drift.get(i).copied().unwrap_or(0.0),
            }
    }
}

/// What follows from the stations at one of them, in base units.
struct Computed {
    tvd: f64,
    north: f64,
    east: f64,
    /// Of the arc that ends there, deg/m; none at the first.
    dogleg: Option<f64>,
}

impl Computed {
    fn of(path: &Path, before: Option<&Station>, station: &Station) -> Self {
        let dogleg = before.map(|s| path.curvature(0.5 * (s.md + station.md)).to_degrees());
        let Vector { north, east, down } = path.point(station.md).position;
        Self { tvd: down, north, east, dogleg }
    }
}

/// A figure that files publish beside their stations.
struct Published {
    name: &'static str,
    title: &'static str,
    word: &'static str,
    measure: M,
    of: fn(&PublishedStation) -> &Option<Qty>,
    own: fn(&Computed) -> Option<f64>,
}

impl Published {
    /// What the file says of a station, in base units.
    fn at(&self, body: &SurveyBody, station: usize) -> Option<f64> {
        (self.of)(body.published.get(station)?).as_ref()?.base(self.measure)
    }
}

/// A figure that a file does publish.
struct Told {
    p: &'static Published,
    /// The last digit to which the file writes it, in base units.
    last_digit: f64,
    /// What the file counts a length from: how far it is ahead at the first station.
    tied: f64,
}

impl Told {
    /// `None` where the file says it of no station.
    fn of(p: &'static Published, body: &SurveyBody, first: Option<&Computed>) -> Option<Self> {
        let told = || body.published.iter().filter_map(|s| (p.of)(s).as_ref());
        let unit = split_number(told().next()?.as_str()).1;
        let written = half_digit(told().map(|q| split_number(q.as_str()).0));
        let tied = p.at(body, 0).zip(first.and_then(p.own)).map_or(0.0, |(told, own)| told - own);
        Some(Self { p, last_digit: 2.0 * written * one(unit, p.measure), tied })
    }
}

const PUBLISHED: [Published; 4] = [
    Published {
        name: "published_tvd",
        title: "file: vertical depth",
        word: "vertical depth",
        measure: M::JointLength,
        of: |s| &s.tvd,
        own: |c| Some(c.tvd),
    },
    Published {
        name: "published_north",
        title: "file: north",
        word: "north",
        measure: M::JointLength,
        of: |s| &s.north,
        own: |c| Some(c.north),
    },
    Published {
        name: "published_east",
        title: "file: east",
        word: "east",
        measure: M::JointLength,
        of: |s| &s.east,
        own: |c| Some(c.east),
    },
    Published {
        name: "published_dogleg",
        title: "file: dogleg",
        word: "dogleg",
        measure: M::Dogleg,
        of: |s| &s.dogleg,
        own: |c| c.dogleg,
    },
];
