//! Surveys: stations of measured depth, inclination and azimuth.

use std::f64::consts::PI;

use super::Made;
use super::common::when;
use super::published::Published;
use crate::intake::diagnostic::Diagnostics;
use crate::intake::table::{Constant, Field, Holds, RawRow, Table};
use crate::model::{Body, Moment, Qty, StationLine, SurveyBody, fold};
use crate::units::{Measure, Unit, split_number};

pub(super) fn fields() -> Vec<Field> {
    let length = Holds::Of(Measure::Depth);
    vec![
        Field::new(
            "md",
            length,
            "measured_depth meas_depth depth_md md_depth depth dept mdkb md_rkb survey_depth",
        )
        .within(0.0, 15_000.0, "no depth of a hole"),
        Field::new(
            "inc",
            Holds::Of(Measure::Angle),
            "inclination incl inclin drift drift_angle deviation dev devi",
        )
        .within(0.0, 180.0, "no inclination; it lies between 0 and 180 deg"),
        Field::new(
            "azi",
            Holds::Of(Measure::Angle),
            "azimuth azim az hole_direction azimuth_grid azimuth_true azi_grid azi_true azimuth_magnetic \
             azi_magnetic azimuth_mag azi_mag grid_azimuth true_azimuth magnetic_azimuth grid_azi true_azi",
        )
        .within(-180.0, 360.0, "no azimuth; it lies between 0 and 360 deg"),
        // Computed by whoever wrote the file; the book computes its own.
        Field::new("tvd", length, "true_vertical_depth vertical_depth tvd_rkb").out(),
        Field::new("north", length, "ns n_s northing dispns disp_ns local_north y").out(),
        Field::new("east", length, "ew e_w easting dispew disp_ew local_east x").out(),
        Field::new(
            "dls",
            Holds::Of(Measure::Dogleg),
            "dogleg dogleg_severity dog_leg dog_leg_severity",
        )
        .out(),
        Field::new("build", Holds::Of(Measure::Dogleg), "build_rate br").out(),
        Field::new("turn", Holds::Of(Measure::Dogleg), "turn_rate tr walk_rate").out(),
        Field::new(
            "section",
            length,
            "vertical_section vs v_sect vsec vert_sect horizontal_displacement closure",
        )
        .out(),
        Field::new("well", Holds::Text, "well_name wellbore hole"),
        Field::new("tool", Holds::Text, "survey_tool tool_type survey_company company instrument"),
        Field::new("north_reference", Holds::Text, "north_ref azimuth_reference azi_ref reference"),
        when("date", "survey_date day when effective"),
        Field::new("remark", Holds::Text, "remarks comment comments note notes"),
    ]
}

/// What a survey says once, where the file has a column of it.
const OF_THE_WHOLE: [&str; 4] = ["well", "date", "tool", "north_reference"];

/// Takes the one value of a column for the whole survey; several wells or days are several surveys.
fn of_the_whole(table: &mut Table, key: &str, diagnostics: &mut Diagnostics) -> bool {
    let of_column = table.look(|row| row.text(key));
    let mut values: Vec<String> = of_column.into_iter().flatten().collect();
    values.sort();
    values.dedup();
    match values.as_slice() {
        [one] => {
            let constant = Constant { key: key.to_owned(), value: one.clone(), row: None };
            table.constants.entry(key.to_owned()).or_insert(constant);
        }
        [_, _, ..] if key == "date" && !table.constants.contains_key(key) => {
            let days = values.len();
            let message = format!("the stations are of {days} days, from '{}' on", values[0]);
            let help = "say of which day the survey as a whole is: --set date=2026-03-04";
            diagnostics.push(table.error(message).help(help));
            return false;
        }
        // The tool may change on the way down.
        [_, _, ..] if key == "well" => {
            let message =
                format!("the file has stations of {} wells: {}", values.len(), values.join(", "));
            let help = "a survey is of one hole: take the rows of each into a file of its own";
            diagnostics.push(table.error(message).help(help));
            return false;
        }
        _ => {}
    }
    true
}

/// What the title of the azimuth says that they are measured from.
fn north_of_title(table: &Table) -> Option<String> {
    let at = table.field("azi")?;
    let title = fold(&table.layout.columns.iter().find(|c| c.field == at)?.title);
    let words = [("grid", "grid"), ("true", "true"), ("mag", "magnetic")];
    let found = words.into_iter().find(|(word, _)| title.split('_').any(|w| w.starts_with(word)));
    found.map(|(_, north)| north.to_owned())
}

/// What is wrong with an angle that is written as a bearing or in minutes, and its figure.
fn angle_in_words(key: &str, text: &str) -> Option<(String, String)> {
    let text = text.trim().to_uppercase();
    if let (true, Some((degrees, rest))) = (key != "md", text.split_once('\u{b0}'))
        && let Some(minutes) = rest.trim().strip_suffix(['\'', '\u{2032}'])
        && let (Ok(degrees), Ok(minutes)) =
            (degrees.trim().parse::<f64>(), minutes.trim().parse::<f64>())
    {
        let figure = degrees + minutes / 60.0;
        return Some((
            format!("{text} is in minutes"),
            format!("write it in degrees: {figure:.4}"),
        ));
    }
    let first = text.chars().next().filter(|c| matches!(c, 'N' | 'S'))?;
    let last = text.chars().last().filter(|c| key == "azi" && matches!(c, 'E' | 'W'))?;
    let angle: f64 =
        text.get(1..text.len() - 1)?.trim().parse().ok().filter(|a| (0.0..=90.0).contains(a))?;
    let azimuth = match (first, last) {
        ('N', 'E') => angle,
        ('N', _) => (360.0 - angle) % 360.0,
        (_, 'E') => 180.0 - angle,
        _ => 180.0 + angle,
    };
    Some((format!("{text} is a bearing"), format!("write its azimuth: {azimuth}")))
}

/// More than this, deg, a hole seldom has at its top.
const STEEP_AT_TOP: f64 = 10.0;

const UNIT: &str = "write it in the header, as in \"MD [m]\"";

pub(super) fn read(table: &mut Table, diagnostics: &mut Diagnostics) -> Vec<Made> {
    let before = diagnostics.errors();
    // Depth and angle units belong to the survey as a whole.
    let unit = |table: &Table, key: &str| {
        let at = table.field(key)?;
        table.layout.columns.iter().find(|c| c.field == at)?.unit.clone()
    };
    let units = (unit(table, "md"), unit(table, "inc"), unit(table, "azi"));
    for key in OF_THE_WHOLE {
        if !of_the_whole(table, key, diagnostics) {
            return Vec::new();
        }
    }
    let reference = north_of_title(table);
    let head = table.head(diagnostics, |row| {
        let well = row.need_text("well", "say which hole the survey is of");
        if row.text("date").is_none() {
            row.missing("date", "say when the survey was made");
        }
        let date = row.moment("date");
        let tool = row.text("tool");
        let north = row.text("north_reference").or(reference);
        Some((well?, date?, tool, north, row.text("remark")))
    });
    leave_projected(table, diagnostics);
    let mut published = Published::of(table);
    let mut previous: Option<(f64, String, u64)> = None;
    let mut stations: Vec<(u64, StationLine)> = Vec::new();
    let mut top = None;
    let mut widest = (0.0_f64, 0.0_f64);
    let (depth_unit, angle_unit) = (units.0.clone(), units.1.clone());
    let read = table.each(diagnostics, |row| {
        let mut value = |key: &str, measure: Measure| {
            let Some(text) = row.text(key) else {
                row.wrong(
                    Some(key),
                    format!("the station has no {key}"),
                    "a station needs depth, inclination and azimuth; a value that means none is \
                     not read as 0: take the row out or complete it",
                );
                return None;
            };
            // The positive twin of the usual null occurs in service companies' files.
            if text.trim_end_matches('0') == "999.25" || text.trim_end_matches('0') == "999,25" {
                row.wrong(Some(key), format!("{text} stands for no value"), "complete the row");
                return None;
            }
            if let Some((message, help)) = angle_in_words(key, &text) {
                row.wrong(Some(key), message, &help);
                return None;
            }
            let (qty, _) = row.quantity(key)?;
            let base = qty.base(measure)?;
            Some((qty, base))
        };
        let md = value("md", Measure::Depth);
        let inc = value("inc", Measure::Angle);
        let azi = value("azi", Measure::Angle);
        let (md, inc, azi) = (md?, inc?, azi?);
        let written = |qty: &Qty| split_number(qty.as_str()).0.to_owned();
        if let Some((last, last_text, last_row)) = &previous {
            if md.1 < *last {
                row.wrong(
                    Some("md"),
                    format!("depth goes back from {last_text} (row {last_row}) to {}", md.0),
                    "stations stand in order of measured depth: sort the rows by it; a side track is a survey of its own",
                );
            } else if md.1.to_bits() == last.to_bits() {
                row.wrong(
                    Some("md"),
                    format!("{} is the depth of row {last_row} again", md.0),
                    "one station for a depth: keep the definitive one",
                );
            }
        }
        if previous.as_ref().is_none_or(|p| md.1 > p.0) {
            previous = Some((md.1, md.0.to_string(), row.number()));
        }
        for (key, qty, unit, measure) in [
            ("md", &md.0, &depth_unit, Measure::Depth),
            ("inc", &inc.0, &angle_unit, Measure::Angle),
            ("azi", &azi.0, &angle_unit, Measure::Angle),
        ] {
            let own = split_number(qty.as_str()).1;
            if unit.as_ref().is_some_and(|u| !same_unit(own, u, measure)) {
                let message = format!("{qty} is not in the unit of the survey");
                row.wrong(Some(key), message, "a survey has one unit of depth and one of angle");
            }
        }
        published.see(row, [md.1, inc.1, azi.1]);
        top.get_or_insert((md.1, inc.1));
        widest = (widest.0.max(inc.1), widest.1.max(azi.1));
        Some(StationLine(written(&md.0), written(&inc.0), written(&azi.0)))
    });
    published.compare(table, diagnostics);
    if let Some((_, inc)) = top.filter(|(md, inc)| *md < 1.0 && *inc > STEEP_AT_TOP) {
        diagnostics.push(
            table.warning(format!("the hole begins at an inclination of {inc:.0} deg")).help(
                "are inclination and azimuth in each other's columns? a well from a slant rig begins so",
            ),
        );
    }
    stations.extend(read);
    let in_degrees = angle_unit.as_ref().is_some_and(|u| u.symbol() == "deg");
    // A turn is 6.28 radians; azimuths in degrees that all lie within so few are those of a hole that
    // leads due north.
    let within = widest.0 > 0.0 && widest.0 <= PI && widest.1 > 0.0 && widest.1 <= 2.0 * PI;
    if in_degrees && within && stations.len() > 2 {
        diagnostics.push(
            table
                .warning(format!(
                    "no azimuth is above {:.2} and no inclination above {:.2}: are the angles in radians?",
                    widest.1, widest.0
                ))
                .help("where they are, state it in the titles of both columns: inc [rad], azi [rad]"),
        );
    }
    let (Some(depth_unit), Some(angle_unit), Some(_)) = units else {
        if diagnostics.errors() == before {
            diagnostics.push(table.error("the units of the survey are not stated").help(UNIT));
        }
        return Vec::new();
    };
    let Some((well, date, tool, north, remark)) = head else { return Vec::new() };
    if stations.is_empty() {
        diagnostics.push(table.error("the survey has no station that can be read"));
        return Vec::new();
    }
    if stations.len() == 1 {
        diagnostics.push(
            table.warning("the survey has one station").help("a path needs two stations or more"),
        );
    }
    let rows = stations.iter().map(|s| s.0).collect();
    let body = SurveyBody {
        well,
        depth_unit: depth_unit.symbol().to_owned(),
        angle_unit: angle_unit.symbol().to_owned(),
        north,
        tool,
        stations: stations.into_iter().map(|s| s.1).collect(),
        published: published.kept(),
        remark,
    };
    vec![made(rows, date, body)]
}

/// Leaves out stations that are projected below the last measured one: the book goes straight on there
/// by itself, and says how far beyond the survey that is.
fn leave_projected(table: &mut Table, diagnostics: &mut Diagnostics) {
    let projected = |row: &RawRow| {
        row.cells.iter().any(|cell| {
            let word = fold(cell);
            ["proj", "extrap", "interp"].iter().any(|w| word.starts_with(w))
                || ["td", "to_td", "ptb", "at_td", "bit_projection"].contains(&word.as_str())
        })
    };
    let (out, kept): (Vec<_>, Vec<_>) =
        std::mem::take(&mut table.rows).into_iter().partition(projected);
    table.rows = kept;
    if out.is_empty() {
        return;
    }
    let rows: Vec<u64> = out.iter().map(|r| r.number).collect();
    table.skipped.extend(&rows);
    diagnostics.push(
        table
            .warning(format!(
                "projected, not measured, and left out: {}",
                crate::intake::resolve::spans(&rows)
            ))
            .help("the hole goes straight on below the last measured station"),
    );
}

fn made(rows: Vec<u64>, effective: Moment, body: SurveyBody) -> Made {
    Made { rows, effective, body: Body::Survey(body) }
}

fn same_unit(symbol: &str, unit: &Unit, measure: Measure) -> bool {
    Unit::parse(symbol, measure.dimension()).is_ok_and(|u| u.factor() == unit.factor())
}
