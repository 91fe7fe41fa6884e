//! Moves, gaps, hires.

use super::common::{Context, DATES, SERIALS, date, text, when};
use crate::intake::resolve;
use crate::intake::table::{Field, Holds, Row};
use crate::model::{Body, GapBody, HireInBody, HireOutBody, JointRef, Moment, MoveBody, Status};

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
    Some((date?, Body::Gap(GapBody { joints, until, reason: row.text("reason") })))
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
        text("remark", REMARKS),
    ]
}

pub(super) fn hire_out(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
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
        text("remark", REMARKS),
    ]
}

pub(super) fn hire_in(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
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
