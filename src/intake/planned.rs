//! A run that is to be: a run's file, with what is wished of its string.

use serde::Deserialize;
use toml::Spanned;

use super::content::{bytes, decode};
use super::diagnostic::{Diagnostic, Diagnostics};
use super::kinds::Kind;
use super::lookup::{World, beside};
use super::options::Options;
use super::{Outcome, read_into, run};
use crate::model::{Body, Clock, Instant, Moment, RunBody, SurveyBody};
use crate::units::{Measure, Quantity};

/// What is wished of a string that is to be. Base units.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wishes {
    /// The joints that it may be made of, beside those of its tally; a filter.
    pub from: Option<String>,
    /// A file with the survey that is planned.
    pub survey: Option<String>,
    /// Joints that stay together as a stand.
    pub stands: Option<usize>,
    /// At most so many exchanges of the order in the tally.
    pub moves: Option<usize>,
    /// What is pulled beyond the hardest pull of the plan, N.
    pub margin: Option<f64>,
    /// The hardest torque, N·m.
    pub torque: Option<f64>,
    /// How far the turns may be from those that are planned, as a part of them.
    pub turns_within: Option<f64>,
    /// Another rotary speed wherever it turns, 1/s.
    pub speed: Option<f64>,
    /// How many times as long all of it takes.
    pub times: Option<f64>,
    /// Joints of which it cannot be said whether they are fit may stand in it, too.
    pub undecided: bool,
    /// No joint stands where a call on it would fall due before the end.
    pub no_calls: bool,
    /// Serials of joints that are left out.
    pub without: Vec<String>,
}

impl Wishes {
    /// These, and where they say nothing the others.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        let mut without = self.without;
        without.extend(other.without);
        Self {
            from: self.from.or(other.from),
            survey: self.survey.or(other.survey),
            stands: self.stands.or(other.stands),
            moves: self.moves.or(other.moves),
            margin: self.margin.or(other.margin),
            torque: self.torque.or(other.torque),
            turns_within: self.turns_within.or(other.turns_within),
            speed: self.speed.or(other.speed),
            times: self.times.or(other.times),
            undecided: self.undecided || other.undecided,
            no_calls: self.no_calls || other.no_calls,
            without,
        }
    }
}

/// A run that is to be, read.
#[derive(Clone, Debug)]
pub struct Planned {
    pub run: RunBody,
    /// When it ends.
    pub effective: Moment,
    /// The hole, where the plan has one of its own.
    pub hole: Option<SurveyBody>,
    pub wishes: Wishes,
}

#[derive(Deserialize)]
struct FileText {
    plan: Option<WishText>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct WishText {
    from: Option<String>,
    survey: Option<String>,
    stands: Option<Spanned<usize>>,
    moves: Option<usize>,
    margin: Option<Spanned<String>>,
    torque: Option<Spanned<String>>,
    turns_within: Option<Spanned<String>>,
    rotary_speed: Option<Spanned<String>>,
    times: Option<Spanned<f64>>,
    undecided: bool,
    no_calls: bool,
    without: Vec<String>,
}

/// Reads a plan; `None` where something in it is wrong, which the outcome says.
pub fn read(name: &str, options: &Options, world: &World<'_>) -> (Outcome, Option<Planned>) {
    let mut out = Outcome::default();
    let mut d = Diagnostics::default();
    let planned = plan(name, options, world, &mut out, &mut d);
    out.diagnostics = d;
    let planned = planned.filter(|_| !out.is_refused());
    (out, planned)
}

fn plan(
    name: &str,
    options: &Options,
    world: &World<'_>,
    out: &mut Outcome,
    d: &mut Diagnostics,
) -> Option<Planned> {
    let mut options = Options { plan: true, ..options.clone() };
    // What is to be lies ahead.
    let now = options.times.now.take();
    let mut wishes = Wishes::default();
    if name.to_ascii_lowercase().ends_with(".toml") {
        let text = decode(name, &bytes(name, world, d)?, &mut Vec::new(), d)?;
        let named = run::named(name, run::RunContent::Toml(&text), &options);
        if let (Some(now), Some(named)) = (now, named)
            && named.start.is_none()
        {
            // It begins now where nobody says when.
            let start = now.at(options.times.clock).to_rfc3339();
            options.given.entry("start".to_owned()).or_insert(start);
        }
        wishes = wished(name, &text, d)?;
    }
    read_into(name, &options, world, out, d);
    let mut runs = out.drafts.iter().filter_map(|draft| {
        if let Body::Run(run) = &draft.body { Some((draft.effective, run)) } else { None }
    });
    let Some((effective, run)) = runs.next() else {
        if d.errors() == 0 {
            d.push(Diagnostic::error(name, "the file holds no run").help(
                "a plan is written as a run is: `pipelore template run`, and a table [plan]",
            ));
        }
        return None;
    };
    let run = (**run).clone();
    if runs.next().is_some() {
        d.push(Diagnostic::error(name, "the file holds several runs").help("plan one at a time"));
    }
    if !run.swaps.is_empty() {
        d.push(
            Diagnostic::error(name, "the tally of a plan does not change during the run")
                .help("plan the run in parts, one for each tally"),
        );
    }
    let hole = match &wishes.survey {
        None => None,
        Some(file) => Some(survey(&beside(name, file), &options, world, d)?),
    };
    Some(Planned { run, effective, hole, wishes })
}

/// The end of a run whose stretches take longer than was stated.
fn later(effective: Moment, start: Moment, ends: i64, clock: Clock) -> Moment {
    let end = start.start(clock).0.saturating_add(ends);
    if end > effective.end(clock).0 { Moment::Clock(Instant(end).at(clock)) } else { effective }
}

impl Planned {
    /// The run as it is wished: by these, and where they say nothing by its file.
    pub fn alter(&mut self, wishes: Wishes, clock: Clock) {
        self.wishes = wishes.or(std::mem::take(&mut self.wishes));
        altered(&mut self.run, &self.wishes);
        let ends = self.run.segments.iter().map(|s| s.start_ms + s.duration_ms).max();
        if let (Some(ends), Some(_)) = (ends, self.wishes.times) {
            self.effective = later(self.effective, self.run.start, ends, clock);
        }
    }
}

/// Another speed and another length of time for what is planned.
fn altered(run: &mut RunBody, wishes: &Wishes) {
    #[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
    let scaled = |n: i64, by: f64| (n as f64 * by).round() as i64;
    for s in &mut run.segments {
        if let Some(times) = wishes.times {
            s.start_ms = scaled(s.start_ms, times);
            s.duration_ms = scaled(s.duration_ms, times);
            s.milli_turns = scaled(s.milli_turns, times);
        }
        if let Some(speed) = wishes.speed.filter(|_| s.milli_turns > 0) {
            // Turns a second are thousandths of a turn a millisecond.
            s.milli_turns = scaled(s.duration_ms, speed);
        }
    }
}

/// The survey that is planned.
fn survey(
    file: &str,
    options: &Options,
    world: &World<'_>,
    d: &mut Diagnostics,
) -> Option<SurveyBody> {
    let options = Options { kind: Some(Kind::Survey), ..options.plain() };
    let mut out = Outcome::default();
    read_into(file, &options, world, &mut out, d);
    let mut found = out.drafts.into_iter();
    let first = found
        .find_map(|draft| if let Body::Survey(survey) = draft.body { Some(survey) } else { None });
    if first.is_none() && d.errors() == 0 {
        d.push(Diagnostic::error(file, "the file holds no survey"));
    }
    first
}

/// What the table `plan` of a file wishes.
fn wished(name: &str, text: &str, d: &mut Diagnostics) -> Option<Wishes> {
    let row = |at: usize| text.bytes().take(at).fold(1, |n, b| n + u64::from(b == b'\n'));
    let read: Result<FileText, _> = toml::from_str(text);
    let said = match read {
        Ok(file) => file.plan.unwrap_or_default(),
        Err(e) => {
            let error = Diagnostic::error(name, format!("[plan]: {}", e.message()));
            let error = match e.span() {
                Some(span) => error.at_row(row(span.start)),
                None => error,
            };
            d.push(error.help(
                "known in [plan]: from, survey, stands, moves, margin, torque, turns_within, \
                 rotary_speed, times, undecided, no_calls, without",
            ));
            return None;
        }
    };
    let before = d.errors();
    let mut quantity = |key: &str, said: Option<Spanned<String>>, measure: Measure| {
        let said = said?;
        let read = Quantity::parse(said.get_ref(), measure.dimension()).map(|q| q.to_f64());
        match read {
            Ok(value) if value.is_finite() && value >= 0.0 => Some(value),
            Ok(_) => {
                let error = Diagnostic::error(name, format!("{key}: less than nothing"));
                d.push(error.at_row(row(said.span().start)));
                None
            }
            Err(e) => {
                d.push(
                    Diagnostic::error(name, format!("{key}: {e}")).at_row(row(said.span().start)),
                );
                None
            }
        }
    };
    let wishes = Wishes {
        from: said.from,
        survey: said.survey,
        stands: said.stands.as_ref().map(|n| *n.get_ref()),
        moves: said.moves,
        margin: quantity("margin", said.margin, Measure::Force),
        torque: quantity("torque", said.torque, Measure::Torque),
        turns_within: quantity("turns_within", said.turns_within, Measure::Ratio),
        speed: quantity("rotary_speed", said.rotary_speed, Measure::RotarySpeed),
        times: said.times.as_ref().map(|n| *n.get_ref()),
        undecided: said.undecided,
        no_calls: said.no_calls,
        without: said.without,
    };
    if let Some(stands) = said.stands.filter(|n| !(1..=4).contains(n.get_ref())) {
        let error = Diagnostic::error(name, "a stand has one to four joints");
        d.push(error.at_row(row(stands.span().start)));
    }
    if let Some(times) = said.times.filter(|n| !(0.01..=100.0).contains(n.get_ref())) {
        let error = Diagnostic::error(name, "times lies between 0.01 and 100");
        d.push(error.at_row(row(times.span().start)));
    }
    (d.errors() == before).then_some(wishes)
}
