//! Paths of holes: the wells that have surveys, and one survey's stations with what follows from them
//! beside what its file published.

use std::collections::BTreeMap;

use crate::mechanics::path::{Path, Point, Station};
use crate::model::{
    Body, Clock, PublishedStation, Qty, StationLine, SurveyBody, name_key, same_name,
};
use crate::projection::exposure::path_of;
use crate::schema::{Rows, RunRow, StruckRow, SurveyRow};
use crate::store::Book;
use crate::units::{Measure as M, Unit, split_number};

use super::{Block, Cell, Column, Fact, Report, ReportError, Table, instant};

/// How what a file publishes is held against the stations.
const ROUNDING: &str = "a published figure differs where it lies further from the computed one than its \
     last digit, and those of depth, inclination and azimuth added up from the first station, \
     allow; north, east and vertical depth are compared from the first station on, since a file may \
     count them from elsewhere";

/// Surveys that stand, in order of their time and then of arrival.
fn standing(book: &Book) -> Result<Vec<SurveyRow>, ReportError> {
    let struck: Vec<StruckRow> = book.rows(&Rows::all())?;
    let mut surveys: Vec<SurveyRow> = book.rows(&Rows::all())?;
    surveys.retain(|s| !struck.iter().any(|row| row.entry == s.entry));
    surveys.sort_by_key(|s| (s.at, s.entry));
    Ok(surveys)
}

/// Wells that have a survey, or a run without one.
pub fn wells(book: &Book, clock: Clock) -> Result<Report, ReportError> {
    let surveys = standing(book)?;
    let runs: Vec<RunRow> = book.rows(&Rows::all())?;
    let mut wells: BTreeMap<String, (String, Option<SurveyRow>, i64, i64)> = BTreeMap::new();
    for survey in surveys {
        let well = wells
            .entry(name_key(&survey.well))
            .or_insert_with(|| (survey.well.clone(), None, 0, 0));
        well.2 += 1;
        well.1 = Some(survey);
    }
    for run in runs {
        wells.entry(name_key(&run.well)).or_insert_with(|| (run.well.clone(), None, 0, 0)).3 += 1;
    }
    let rows = wells
        .into_values()
        .map(|(well, last, surveys, runs)| {
            vec![
                Cell::Text(well),
                Cell::Number(surveys),
                last.as_ref().map_or(Cell::Missing, |s| instant(s.at, clock)),
                last.map_or(Cell::Missing, |s| Cell::Number(s.stations)),
                Cell::Number(runs),
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
    let surveys: Vec<SurveyRow> =
        standing(book)?.into_iter().filter(|s| same_name(&s.well, well)).collect();
    let Some(in_force) = surveys.last() else { return Err(no_survey(book, well)?) };
    let stored = book.entry_at(in_force.entry)?;
    let entry = book.counted(in_force.entry)?;
    let Body::Survey(body) = &entry.body else {
        return Err(ReportError::Words(format!("{} is no survey", stored.raw.label())));
    };
    let path = path_of(Some(body)).map_err(ReportError::Words)?;
    let mut report = Report::new("survey");
    report.push(Block::Heading(format!("Survey of {}", body.well)));
    let fact = |name: &'static str, label: &str, text: Option<&str>| {
        text.map(|t| Fact::plain(name, label, Cell::Text(t.to_owned())))
    };
    let mut facts = vec![
        Fact::plain("entry", "entry", Cell::Text(stored.raw.label())),
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

fn no_survey(book: &Book, well: &str) -> Result<ReportError, ReportError> {
    let surveys = standing(book)?;
    let known: Vec<String> = surveys.iter().map(|s| s.well.clone()).collect();
    let near = crate::model::nearest_word(well, known.iter().map(String::as_str));
    let near = near.map_or_else(String::new, |near| format!("; did you mean \"{near}\"?"));
    Ok(ReportError::Words(format!(
        "there is no survey of {well}{near}; pipelore survey lists the wells"
    )))
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

/// Stations as numbers, with what their last digits leave open.
struct Stations {
    /// m, rad.
    all: Vec<Station>,
    /// How far off the true ones depth (m), inclination and azimuth (rad) may be, by rounding.
    open: [f64; 3],
}

impl Stations {
    fn read(body: &SurveyBody) -> Result<Self, ReportError> {
        let unit = |text: &str, measure: M| {
            Unit::parse(text, measure.dimension()).map_err(|e| ReportError::Words(e.to_string()))
        };
        let depth = unit(&body.depth_unit, M::Depth)?;
        let angle = unit(&body.angle_unit, M::Angle)?;
        let number = |text: &str, unit: &Unit, measure: M| {
            let read = Qty::with_unit(text, unit).ok().and_then(|q| q.base(measure));
            read.ok_or_else(|| ReportError::Words(format!("'{text}' is not a number")))
        };
        let (metre, degree) = (number("1", &depth, M::Depth)?, number("1", &angle, M::Angle)?);
        let of = |column: fn(&StationLine) -> &String| {
            half_digit(body.stations.iter().map(|line| column(line).as_str()))
        };
        let open = [
            of(|line| &line.0) * metre,
            (of(|line| &line.1) * degree).to_radians(),
            (of(|line| &line.2) * degree).to_radians(),
        ];
        let mut out = Self { all: Vec::new(), open };
        for line in &body.stations {
            out.all.push(Station::from_degrees(
                number(&line.0, &depth, M::Depth)?,
                number(&line.1, &angle, M::Angle)?,
                number(&line.2, &angle, M::Angle)?,
            ));
        }
        Ok(out)
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
        let publishes = |of: fn(&PublishedStation) -> &Option<Qty>| {
            body.published.iter().any(|p| of(p).is_some())
        };
        let shown: Vec<&Published> = PUBLISHED.iter().filter(|p| publishes(p.of)).collect();
        let mut columns = vec![
            Column::of("md", "measured depth", M::JointLength),
            Column::of("inclination", "inclination", M::Angle),
            Column::of("azimuth", "azimuth", M::Angle),
            Column::of("tvd", "vertical depth", M::JointLength),
            Column::of("north", "north", M::JointLength).dispensable(2),
            Column::of("east", "east", M::JointLength).dispensable(2),
            Column::of("dogleg", "dogleg", M::Dogleg),
        ];
        for p in &shown {
            columns.push(Column::of(p.name, p.title, p.measure).dispensable(3));
        }
        if !shown.is_empty() {
            columns.push(Column::plain("differs", "differs"));
        }
        let points: Vec<Point> = self.all.iter().map(|s| path.point(s.md)).collect();
        let mut differing = 0;
        let rows = (0..self.all.len())
            .filter_map(|i| {
                let (station, point) = (self.all.get(i)?, points.get(i)?);
                let own = Computed::of(path, i.checked_sub(1).and_then(|j| self.all.get(j)), point);
                let mut row = vec![
                    Cell::Real(station.md),
                    Cell::Real(station.inc.to_degrees()),
                    Cell::Real(station.azi.to_degrees()),
                    Cell::Real(own.tvd),
                    Cell::Real(own.north),
                    Cell::Real(own.east),
                    own.dogleg.map_or(Cell::Missing, Cell::Real),
                ];
                let mut differs = Vec::new();
                for p in &shown {
                    let told = body.published.get(i).and_then(|s| (p.of)(s).as_ref());
                    let value = told.and_then(|q| q.base(p.measure));
                    row.push(value.map_or(Cell::Missing, Cell::Real));
                    let Some(value) = value else { continue };
                    let first = points.first().map(|first| Computed::of(path, None, first));
                    let tied = body.published.first().and_then(|s| (p.of)(s).as_ref());
                    let off = match (p.measure, tied.and_then(|q| q.base(p.measure)), first) {
                        (M::JointLength, Some(tied), Some(first)) => {
                            (value - tied) - ((p.own)(&own)? - (p.own)(&first)?)
                        }
                        // A dogleg needs a station before it.
                        _ => match (p.own)(&own) {
                            Some(computed) => value - computed,
                            None => continue,
                        },
                    };
                    if off.abs() > self.allowed(i, p.measure, p.last_digit(body), &drift) {
                        differs.push(p.word);
                    }
                }
                differing += usize::from(!differs.is_empty());
                if !shown.is_empty() {
                    row.push(Cell::text(
                        Some(differs.join(", ").as_str()).filter(|words| !words.is_empty()),
                    ));
                }
                Some(row)
            })
            .collect();
        let empty = "the survey has no station".to_owned();
        (Table { name: "stations", columns, rows, empty, below: None }, differing)
    }

    /// How far a published figure of a station may lie from the computed one by rounding alone.
    fn allowed(&self, i: usize, measure: M, last_digit: f64, drift: &[f64]) -> f64 {
        let before = i.checked_sub(1).and_then(|j| self.all.get(j));
        match (measure, before, self.all.get(i)) {
            (M::Dogleg, Some(a), Some(b)) => {
                let length = (b.md - a.md).max(f64::MIN_POSITIVE);
                last_digit + (self.turned(a) + self.turned(b)).to_degrees() / length
            }
            // Half a digit of the first station and of this one.
            _ => last_digit + drift.get(i).copied().unwrap_or(0.0),
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
    fn of(path: &Path, before: Option<&Station>, point: &Point) -> Self {
        let dogleg = before.map(|s| path.curvature(0.5 * (s.md + point.md)).to_degrees());
        let crate::mechanics::path::Vector { north, east, down } = point.position;
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
    /// The last digit to which the file writes it, in base units.
    fn last_digit(&self, body: &SurveyBody) -> f64 {
        let told = || body.published.iter().filter_map(|s| (self.of)(s).as_ref());
        let unit = told().next().map_or("", |q| split_number(q.as_str()).1);
        let unit = Unit::parse(unit, self.measure.dimension());
        let one = unit.map_or(1.0, |unit| unit.factor().to_f64());
        2.0 * half_digit(told().map(|q| split_number(q.as_str()).0)) * one
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
