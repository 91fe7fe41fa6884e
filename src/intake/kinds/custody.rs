//! Moves, gaps, hires.

use std::collections::BTreeMap;

use super::Made;
use super::common::{Context, DATES, SERIALS, date, text, when};
use crate::intake::diagnostic::Diagnostics;
use crate::intake::resolve;
use crate::intake::table::{Field, Holds, Row, Table};
use crate::model::{
    Body, GapBody, HireInBody, HireOutBody, JointRef, Moment, MoveBody, Status, fold, name_key,
};
use crate::units::Measure;

const REMARKS: &str = "remarks comment comments note notes";

fn joints() -> Field {
    Field::new("serial", Holds::Serial, &format!("{SERIALS} joints"))
}

fn need_joints(row: &mut Row<'_>, c: &Context<'_>, date: Option<Moment>) -> Vec<JointRef> {
    if row.text("serial").is_none() {
        row.missing("serial", "name the joints by their serials");
    }
    resolve::joints(row, c.lookup, "serial", date)
}

pub(super) fn move_fields() -> Vec<Field> {
    vec![
        joints(),
        when("date", &format!("{DATES} moved moved_on")),
        text("location", "to place yard where moved_to"),
        text("string", "string_name set"),
        text("status", "state"),
        text("remark", REMARKS),
    ]
}

pub(super) fn moved(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let joints = need_joints(row, c, date);
    // A dash takes joints out of their string; in other columns it means nothing.
    let dash = row.raw_is("string", &["-", "\u{2013}"]);
    let string = if dash { Some("-".to_owned()) } else { row.text("string") };
    let body = MoveBody {
        joints,
        location: row.text("location"),
        string,
        status: row.word::<Status>("status"),
        remark: row.text("remark"),
    };
    if body.location.is_none() && body.string.is_none() && body.status.is_none() && row.is_sound() {
        row.wrong(None, "nothing moves: no location, string or status", "say where to");
    }
    Some((date?, Body::Move(body)))
}

pub(super) fn gap_fields() -> Vec<Field> {
    vec![
        joints(),
        when("date", &format!("{DATES} from since start")),
        when("until", "to end through"),
        text("reason", "why remark remarks comment"),
    ]
}

pub(super) fn gap(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let joints = need_joints(row, c, date);
    let until = row.moment("until");
    if let (Some(from), Some(until)) = (date, until)
        && until.end(row.clock()).0 < from.start(row.clock()).0
    {
        row.wrong(
            Some("until"),
            format!("the gap ends on {until}, before it begins on {from}"),
            "correct one of the dates",
        );
    }
    let reason = row.text("reason");
    let body = GapBody { joints, until, since: None, hours: None, run: None, reason };
    Some((date?, Body::Gap(body)))
}

pub(super) fn hours_fields() -> Vec<Field> {
    let hours = Field::new(
        "hours",
        Holds::Of(Measure::Hours),
        "rotating_hours rotating_hrs hrs rot_hours rot_hrs hours_rotating rot_time rotating_time \
         rotation_time time_rotating hours_rotated",
    );
    let hours = hours.implies(&[
        ("hours", "h"),
        ("rotating_hours", "h"),
        ("rotating_hrs", "h"),
        ("hrs", "h"),
        ("rot_hours", "h"),
        ("rot_hrs", "h"),
        ("hours_rotating", "h"),
    ]);
    vec![
        joints(),
        when("date", &format!("{DATES} until to end end_date date_out")),
        hours.within(0.0, 3.6e7, "no number of hours of a run"),
        text("run", "run_no run_number run_name run_nr bha bha_no job"),
        when("from", "since start start_date begin date_in"),
        text("remark", REMARKS),
    ]
}

/// Hours that joints turned in runs of which no more is told, each row a fact of its own: of two that are
/// alike one must not vanish.
pub(super) fn hours(
    table: &mut Table,
    c: &Context<'_>,
    diagnostics: &mut Diagnostics,
) -> Vec<Made> {
    let mut told: BTreeMap<String, u64> = BTreeMap::new();
    let made = table.each(diagnostics, |row| {
        let (effective, body) = hours_of(row, c)?;
        for joint in body.joints() {
            let run = row.text("run").map_or_else(String::new, |r| name_key(&r));
            let key = format!("{} {effective} {run}", joint.joint);
            if let Some(first) = told.insert(key, row.number()) {
                row.wrong(
                    Some("serial"),
                    format!(
                        "row {first} tells hours of this joint in this run and on this day too"
                    ),
                    "add them up in one row, or give each its own beginning and end",
                );
                return None;
            }
        }
        Some((effective, body))
    });
    let made = made.into_iter();
    made.map(|(row, (effective, body))| Made { rows: vec![row], effective, body }).collect()
}

fn hours_of(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let joints = need_joints(row, c, date);
    let run = row.need_text("run", "say which run the hours are of");
    let hours = row.qty("hours");
    if hours.is_none() {
        row.missing("hours", "leave rows out of joints that did not turn");
    }
    let (run, hours) = (run?, hours?);
    let from = row.moment("from");
    if let (Some(from), Some(to), Some(s)) = (from, date, hours.base(Measure::Hours)) {
        let lasted = (to.end(row.clock()).0 - from.start(row.clock()).0) as f64 / 1000.0;
        if s > lasted {
            row.wrong(
                Some("hours"),
                format!("{hours} are more than there are from {from} to {to}"),
                "correct one of the three; where nobody says when the run began, leave that out",
            );
        }
    }
    let (since, reason) = (from.or(date), row.text("remark"));
    let body = GapBody { joints, until: None, since, hours: Some(hours), run: Some(run), reason };
    Some((date?, Body::Gap(body)))
}

pub(super) fn hire_out_fields() -> Vec<Field> {
    vec![
        joints(),
        when("date", &format!("{DATES} out sent date_out")),
        text("hire", "hire_no rental rental_no hire_name"),
        text("party", "customer client hirer renter taken_by"),
        text("contract", "contract_no"),
        text("location", "rig place to destination"),
        text("condition", "condition_out"),
        when("returned", RETURNED),
        text("returned_to", "back_to location_in returned_location"),
        text("direction", WAYS),
        text("remark", REMARKS),
    ]
}

/// Titles of the column that says when a joint came back; one that says when it is due tells of no return.
const RETURNED: &str = "in back date_in date_back back_on returned_on date_returned return_date \
                        date_of_return came_back off_hire off_hire_date";

/// Words of a joint that has not come back, in the place of the date.
const STILL_OUT: [&str; 6] = ["out", "still_out", "on_hire", "on_rent", "not_yet", "open"];

/// A table of hires: what goes out, and what comes back, in the same row or in rows of their own.
pub(super) fn hires(
    table: &mut Table,
    c: &Context<'_>,
    diagnostics: &mut Diagnostics,
) -> Vec<Made> {
    let read = table.each(diagnostics, |row| hire_of(row, c));
    let (mut out, mut back) = (Vec::new(), Vec::new());
    for (row, (sent, returned)) in read {
        let made = |(effective, body)| Made { rows: vec![row], effective, body };
        out.extend(sent.map(made));
        back.extend(returned.map(made));
    }
    out.extend(back);
    out
}

/// Titles of the column that says which way joints went.
const WAYS: &str = "in_out out_in movement in_or_out";

/// Which way the joints of a row went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    Out,
    Back,
    /// The row does not say.
    Unsaid,
}

/// Which way the joints of a row went; `None` where its word says neither.
fn way(row: &mut Row<'_>) -> Option<Way> {
    let Some(text) = row.text("direction") else { return Some(Way::Unsaid) };
    match fold(&text).as_str() {
        "out" | "sent" | "delivery" | "delivered" | "hire" | "on_hire" | "hire_out" => {
            Some(Way::Out)
        }
        "in" | "back" | "return" | "returned" | "off_hire" | "hire_in" => Some(Way::Back),
        _ => {
            let message = format!("'{text}' does not say which way the joints went");
            row.wrong(Some("direction"), message, "write out or in");
            None
        }
    }
}

type Fact = (Moment, Body);

/// What a row tells: that its joints went out, that they came back, or both.
fn hire_of(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Option<Fact>, Option<Fact>)> {
    let is_return = way(row)? == Way::Back;
    let still_out = row.text("returned").is_none_or(|t| STILL_OUT.contains(&fold(&t).as_str()));
    // A table that has only the day of return is one of returns.
    let only_returns = !row.table().has("date") && row.table().has("returned");
    if is_return || only_returns && !still_out {
        let key = if only_returns { "returned" } else { "date" };
        return Some((None, Some(returned(row, c, key)?)));
    }
    let sent = hire_out(row, c)?;
    if still_out {
        return Some((Some(sent), None));
    }
    let back = returned(row, c, "returned")?;
    if back.0.end(row.clock()).0 < sent.0.start(row.clock()).0 {
        let message =
            format!("the joints come back on {}, before they go out on {}", back.0, sent.0);
        row.wrong(Some("returned"), message, "correct one of the dates");
        return None;
    }
    Some((Some(sent), Some(back)))
}

/// The return that a row of a table of hires tells of.
fn returned(row: &mut Row<'_>, c: &Context<'_>, key: &str) -> Option<Fact> {
    let date = if key == "date" { date(row) } else { row.moment(key) };
    let joints = need_joints(row, c, date);
    let hire = row.need_text("hire", "name the hire that the joints come back from");
    // Of a row that tells of both, the place and the remark are those of going out.
    let alone = key == "date" || !row.table().has("date");
    let location = row.text("returned_to").or_else(|| row.text("location").filter(|_| alone));
    let remark = row.text("remark").filter(|_| alone);
    Some((date?, Body::HireIn(HireInBody { location, remark, joints, hire: hire? })))
}

fn hire_out(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let joints = need_joints(row, c, date);
    let hire = row.need_text("hire", "name the hire; its return and its statement ask by it");
    let party = row.need_text("party", "say who takes the joints");
    let body = HireOutBody {
        contract: row.text("contract"),
        location: row.text("location"),
        condition: row.text("condition"),
        remark: row.text("remark"),
        joints,
        hire: hire?,
        party: party?,
    };
    Some((date?, Body::HireOut(body)))
}

pub(super) fn hire_in_fields() -> Vec<Field> {
    vec![
        joints(),
        when("date", &format!("{DATES} in returned back date_in")),
        text("hire", "hire_no rental rental_no hire_name"),
        text("location", "place to yard"),
        text("direction", WAYS),
        text("remark", REMARKS),
    ]
}

pub(super) fn hire_in(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    if way(row)? == Way::Out {
        let message =
            "the row says that its joints went out, and this is a list of what comes back";
        let help = "where the table has both, say so and name who hires: --as hire_out --set party=\"NAME\"";
        row.wrong(Some("direction"), message, help);
        return None;
    }
    let date = date(row);
    let joints = need_joints(row, c, date);
    let hire = row.need_text("hire", "name the hire that the joints come back from");
    let body = HireInBody {
        location: row.text("location"),
        remark: row.text("remark"),
        joints,
        hire: hire?,
    };
    Some((date?, Body::HireIn(body)))
}
