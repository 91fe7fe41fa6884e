//! What a run's header states, read and checked.

use std::ops::RangeInclusive;

use crate::intake::kinds::{Context, amend_with};
use crate::intake::laid_down::LaidDown;
use crate::intake::log::{CutRules, LogOptions};
use crate::intake::number::Decimal;
use crate::intake::options::Options;
use crate::intake::resolve;
use crate::intake::table::{Columns, Delimiter, Row};
use crate::intake::tally::Order;
use crate::model::{Clock, Environment, Moment, Qty, RunBody, RunGrade};
use crate::units::Measure as M;

/// What a header says, read.
pub(super) struct Said {
    pub body: RunBody,
    pub end: Option<Moment>,
    pub tally: Option<String>,
    pub order: Order,
    pub laid_down: Option<LaidDown>,
    pub tally_columns: Option<Columns>,
    /// Which tubular of a document is the tally.
    pub tubular: Option<String>,
    /// Files of the log, part by part.
    pub log: Vec<String>,
    /// Files of which it is not said what they are.
    pub files: Vec<String>,
    pub log_options: LogOptions,
    pub stated_grade: Option<RunGrade>,
}

pub(super) fn say(
    row: &mut Row<'_>,
    context: &Context<'_>,
    options: &Options,
    cut: &CutRules,
) -> Option<Said> {
    let name = row.need_text("name", "name the run; make-ups, events and searches ask by it");
    let well = row.need_text("well", "name the well; its survey gives the path");
    if row.text("start").is_none() {
        row.missing("start", "say when the run began: a day or a time");
    }
    let start = row.moment("start");
    let end = row.moment("end");
    let clock = options.times.clock;
    if let (Some(s), Some(e)) = (start, end)
        && e.end(clock).0 <= s.start(clock).0
    {
        row.wrong(
            Some("end"),
            format!("the run ends on {e}, before it begins on {s}"),
            "correct one of the two",
        );
    }
    let hours = row.qty("hours");
    if let (Some(s), Some(e), Some(hours)) = (start, end, &hours)
        && let Some(seconds) = hours.base(M::Hours)
        && seconds > (e.end(clock).0 - s.start(clock).0).max(0) as f64 / 1000.0
    {
        row.wrong(
            Some("hours"),
            format!("{hours} of rotation are more than there are from {s} to {e}"),
            "correct one of the three; hours are those in which the pipe turned",
        );
    }
    if let Some(name) = name.as_ref().filter(|_| !options.plan) {
        let known = context.lookup.runs(name);
        if let Some(first) = known.first() {
            let message = format!("the book has a run '{name}' already: {first}");
            if context.keep_conflicts {
                row.odd(Some("name"), message, "from now on this name means two runs");
            } else {
                let help = format!(
                    "give the run another name; to correct what its header says: {}; for another \
                     tally or log: pipelore strike {first} --reason '…' --instead FILE",
                    amend_with(first)
                );
                row.wrong(Some("name"), message, &help);
            }
        }
    }
    let order = match row.text("tally_order") {
        None => Order::BitUp,
        Some(t) => Order::parse(&t).unwrap_or_else(|| {
            row.wrong(
                Some("tally_order"),
                format!("'{t}' is no order of a tally"),
                "write bit up or top down",
            );
            Order::BitUp
        }),
    };
    let laid_down = row.text("laid_down").and_then(|t| {
        let found = LaidDown::parse(&t);
        if found.is_none() {
            row.wrong(
                Some("laid_down"),
                format!("'{t}' does not say where the joints were that the tally calls laid down"),
                "write out where they never went in, in where they ran",
            );
        }
        found
    });
    let mut columns = |key: &str| {
        let text = row.text(key)?;
        match text.parse::<Columns>() {
            Ok(c) => Some(c),
            Err(e) => {
                row.wrong(Some(key), e.to_string(), "");
                None
            }
        }
    };
    let (tally_columns, log_columns) = (columns("tally_columns"), columns("log_columns"));
    let delimiter = row.text("log_delimiter").and_then(|t| {
        let d = Delimiter::parse(&t);
        if d.is_none() {
            row.wrong(
                Some("log_delimiter"),
                format!("'{t}' is no delimiter"),
                "write comma, semicolon, tab or blanks",
            );
        }
        d
    });
    let decimal = row.text("log_decimal").and_then(|t| {
        let d = Decimal::parse(&t);
        if d.is_none() {
            row.wrong(
                Some("log_decimal"),
                format!("'{t}' is no decimal sign"),
                "write point or comma",
            );
        }
        d
    });
    let mut nulls = options.nulls.clone();
    nulls.extend(
        row.text("log_null").iter().flat_map(|t| t.split(';')).map(|t| t.trim().to_owned()),
    );
    let (depth_in, depth_out) = (row.qty("depth_in"), row.qty("depth_out"));
    let base = |q: &Option<Qty>| q.as_ref().and_then(|q| q.base(M::Depth));
    let (from, to) = (base(&depth_in), base(&depth_out));
    if let (Some(a), Some(b)) = (from, to)
        && b < a
    {
        row.wrong(
            Some("depth_out"),
            "the run ends above where it began",
            "a run that made no hole has the same depth in and out",
        );
    }
    let equipment = row.text("equipment").unwrap_or_default();
    let run = start.map(|s| run_window(s, end, clock));
    #[expect(clippy::cast_possible_truncation, reason = "a depth of a hole in millimetres")]
    let mm = |m: f64| (m * 1000.0).round() as i64;
    let depths = match (from, to) {
        (None, None) => None,
        (a, b) => Some(a.map_or(i64::MIN, mm)..=b.map_or(i64::MAX, mm)),
    };
    let stated_grade = row.word::<RunGrade>("grade");
    let rotary_speed = row.qty("rotary_speed");
    #[expect(clippy::cast_possible_truncation, reason = "a rotary speed of a rig")]
    let mean_speed = rotary_speed
        .as_ref()
        .and_then(|q| q.base(M::RotarySpeed))
        .map(|per_second| (per_second * 60e9).round() as i64);
    let body = RunBody {
        survey: resolve::entry(row, context.lookup, "survey"),
        rig: row.text("rig"),
        string: row.text("string"),
        grade: stated_grade.unwrap_or(RunGrade::Summary),
        tally: Vec::new(),
        swaps: Vec::new(),
        segments: Vec::new(),
        log: None,
        hours,
        rotary_speed,
        depth_in,
        depth_out,
        mud_weight: row.qty("mud_weight"),
        mud_weight_inside: row.qty("mud_weight_inside"),
        environment: row.word::<Environment>("environment"),
        sour: row.flag("sour"),
        casing_depth: row.qty("casing_depth"),
        riser_depth: row.qty("riser_depth"),
        hole_diameter: row.qty("hole_diameter"),
        hole: Vec::new(),
        friction: row.qty("friction"),
        block_weight: row.qty("block_weight"),
        temperature: row.qty("temperature"),
        protectors: row.flag("protectors"),
        equipment: equipment
            .split([';', ','])
            .map(str::trim)
            .filter(|e| !e.is_empty())
            .map(str::to_owned)
            .collect(),
        remark: row.text("remark"),
        name: name?,
        well: well?,
        start: start?,
    };
    Some(Said {
        body,
        end,
        tally: row.text("tally"),
        order,
        laid_down,
        tally_columns,
        tubular: row.text("tubular"),
        log: listed(&row.text("log").unwrap_or_default()),
        files: listed(&row.text("files").unwrap_or_default()),
        log_options: LogOptions {
            columns: log_columns,
            delimiter,
            hidden: options.hidden,
            decimal,
            nulls,
            times: options.times,
            rules: cut.clone(),
            run,
            depths,
            breaks: Vec::new(),
            mean_speed,
            is_own: false,
            layout: None,
        },
        stated_grade,
    })
}

/// Names of files, divided by semicolons.
pub(super) fn listed(text: &str) -> Vec<String> {
    text.split(';').map(str::trim).filter(|f| !f.is_empty()).map(str::to_owned).collect()
}

/// First and last instant of a run.
fn run_window(start: Moment, end: Option<Moment>, clock: Clock) -> RangeInclusive<i64> {
    start.start(clock).0..=end.map_or(i64::MAX, |e| e.end(clock).0)
}
