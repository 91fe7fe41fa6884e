//! Charts as data: series, marks and limits in the quanta of their measures. Nobody draws here.

use crate::model::Clock;
use crate::units::Measure;

/// What an axis shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// Instants, ms of UTC, shown as days of a clock.
    Time(Clock),
    /// Values of a measure, in its quanta.
    Of(Measure),
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Axis {
    /// What it shows, without the unit.
    pub title: String,
    /// What its values are.
    pub scale: Scale,
    /// Larger values stand further down, as depths do.
    pub down: bool,
    /// The axis begins at zero.
    pub from_zero: bool,
}

/// How a series is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// A line through the points.
    Line,
    /// A line through the points, with a dot on each.
    LinePoints,
    Points,
    /// A bar from the base of each point.
    Bars,
}

/// A point; a bar stands on its base.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Point {
    pub x: i64,
    pub y: i64,
    /// Where a bar begins.
    pub base: i64,
}

impl Point {
    pub const fn at(x: i64, y: i64) -> Self {
        Self { x, y, base: 0 }
    }
}

/// Points of one kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Series {
    pub name: String,
    /// How they are drawn.
    pub look: Look,
    /// The points, by x.
    pub points: Vec<Point>,
}

/// A stretch of the x axis with a name: a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Span {
    pub from: i64,
    pub to: i64,
    pub label: String,
}

/// A place of the x axis at which something happened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    pub at: i64,
    /// What: an inspection, the failure.
    pub what: String,
}

/// A value of the y axis that means something: a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Level {
    pub at: i64,
    pub label: String,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chart {
    /// Member name in JSON.
    pub name: &'static str,
    pub title: String,
    /// What can be seen in it, in words.
    pub says: String,
    pub x: Axis,
    pub y: Axis,
    pub series: Vec<Series>,
    pub spans: Vec<Span>,
    pub marks: Vec<Mark>,
    pub levels: Vec<Level>,
    /// Small: one of many on a page.
    pub small: bool,
}

impl Axis {
    /// An axis of time, whose days are those of a clock.
    pub fn time(clock: Clock) -> Self {
        Self { title: String::new(), scale: Scale::Time(clock), down: false, from_zero: false }
    }

    /// An axis of a measure that begins at zero.
    pub fn of(title: &str, measure: Measure) -> Self {
        Self { title: title.to_owned(), scale: Scale::Of(measure), down: false, from_zero: true }
    }

    /// The same axis, cut to where its values are.
    #[must_use]
    pub const fn close(mut self) -> Self {
        self.from_zero = false;
        self
    }

    /// The same axis, with larger values further down.
    #[must_use]
    pub const fn downwards(mut self) -> Self {
        self.down = true;
        self
    }
}

impl Chart {
    /// A chart without anything in it.
    pub fn new(name: &'static str, title: &str, x: Axis, y: Axis) -> Self {
        Self {
            name,
            title: title.to_owned(),
            says: String::new(),
            x,
            y,
            series: Vec::new(),
            spans: Vec::new(),
            marks: Vec::new(),
            levels: Vec::new(),
            small: false,
        }
    }

    /// Adds a series where it has points.
    pub fn add(&mut self, name: &str, look: Look, points: Vec<Point>) {
        if !points.is_empty() {
            self.series.push(Series { name: name.to_owned(), look, points });
        }
    }

    /// Whether there is nothing to draw.
    pub fn is_empty(&self) -> bool {
        self.series.iter().all(|s| s.points.is_empty())
    }

    /// Least and greatest of what is drawn along x.
    pub fn reach_x(&self) -> Option<(i64, i64)> {
        let points = self.series.iter().flat_map(|s| s.points.iter().map(|p| p.x));
        reach(
            points
                .chain(self.spans.iter().flat_map(|s| [s.from, s.to]))
                .chain(self.marks.iter().map(|m| m.at)),
        )
    }

    /// Least and greatest of what is drawn along y.
    pub fn reach_y(&self) -> Option<(i64, i64)> {
        let ends = |s: &Series| {
            let bars = s.look == Look::Bars;
            s.points
                .iter()
                .flat_map(move |p| [p.y, if bars { p.base } else { p.y }])
                .collect::<Vec<_>>()
        };
        reach(self.series.iter().flat_map(ends).chain(self.levels.iter().map(|l| l.at)))
    }
}

fn reach(values: impl Iterator<Item = i64>) -> Option<(i64, i64)> {
    values.fold(None, |seen, v| match seen {
        None => Some((v, v)),
        Some((lo, hi)) => Some((lo.min(v), hi.max(v))),
    })
}
