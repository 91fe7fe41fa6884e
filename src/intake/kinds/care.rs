//! Repairs, make-ups, events, failures.

use super::common::{Context, DATES, SERIALS, date, serial, text, when};
use super::inspection;
use crate::condition::{Measured, Subject};
use crate::intake::lookup::finding;
use crate::intake::resolve;
use crate::intake::table::{Field, Holds, Row};
use crate::model::{
    Body, End, EventBody, EventKind, FailureBody, FailureKind, MakeupBody, MakeupPattern, Moment,
    Place, RepairBody, Work,
};
use crate::units::Measure as M;

const REMARKS: &str = "remarks comment comments note notes";

fn torque(key: &str, aliases: &str) -> Field {
    Field::new(key, Holds::Of(M::Torque), aliases).within(0.0, 500_000.0, "no torque of a rig")
}

/// The smallest tool joints take some hundreds of newton-metres (common practice): less is another unit.
fn makeup_torque(key: &str, aliases: &str) -> Field {
    let why = "no torque that makes a tool joint up";
    Field::new(key, Holds::Of(M::Torque), aliases).within(200.0, 500_000.0, why)
}

fn pull(key: &str, aliases: &str) -> Field {
    Field::new(key, Holds::Of(M::Force), aliases).within(0.0, 2e7, "no pull of a rig")
}

fn depth(key: &str, aliases: &str) -> Field {
    Field::new(key, Holds::Of(M::Depth), aliases).within(0.0, 15_000.0, "no depth of a hole")
}

pub(super) fn repair_fields() -> Vec<Field> {
    let mut f =
        vec![
            serial(),
            when("date", &format!("{DATES} repaired repair_date date_of_repair")),
            text("work", "repair kind_of_repair type work_done operation"),
            text("end", "side which_end"),
            text("shop", "repair_shop done_by firm company"),
            text("licence", "license qualification licence_no"),
            text("ticket", "job job_no work_order job_ticket"),
            Field::new("removed", Holds::Of(M::Wall), "length_removed cut_off removed_length")
                .within(0.0, 5.0, "no length cut off a joint"),
            text("clears", "disposes clears_findings cleared_findings"),
            text("material", "alloy hardband_alloy coating wire"),
            text("remark", REMARKS),
        ];
    f.extend(inspection::reading_fields());
    f
}

/// The most that work of a kind takes off an end, m, far above what is usual (common practice: a recut an
/// inch or two, a reface a sixteenth); other work takes off any length.
const fn most_removed(work: Work) -> f64 {
    if matches!(work, Work::Recut) {
        0.2
    } else if matches!(work, Work::Reface) {
        0.02
    } else {
        f64::INFINITY
    }
}

pub(super) fn repair(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let joint = resolve::need_joint(row, c.lookup, "serial", date).map(|m| m.joint);
    if row.text("work").is_none() {
        row.missing("work", "say what was done: dress, reface, recut, hardband …");
    }
    let work = row.word::<Work>("work");
    let end = row.word::<End>("end");
    if let (Some(w @ (Work::Reface | Work::Recut | Work::CutBack | Work::NewToolJoint)), None) =
        (work, end)
    {
        row.missing(
            "end",
            &format!(
                "say which end the {} was done on: pin or box",
                w.to_string().replace('_', " ")
            ),
        );
    }
    let removed = row.qty("removed");
    if let (Some(q), Some(work)) = (&removed, work)
        && q.base(M::Wall).is_some_and(|m| m > most_removed(work))
    {
        row.odd(
            Some("removed"),
            format!("a {} that takes {q} off", work.to_string().replace('_', " ")),
            "check the number and its unit; where a piece of the end was cut off, the work is cut_back",
        );
    }
    let mut clears = Vec::new();
    for part in row.text("clears").unwrap_or_default().split(';').map(str::trim) {
        if part.is_empty() {
            continue;
        }
        match finding(part, c.lookup.catalogue()) {
            Ok(word) => clears.push(word),
            Err(e) => row.wrong(Some("clears"), e.to_string(), ""),
        }
    }
    // A reading of a connection without its end is of the end that was worked on.
    let results = inspection::readings(row);
    let body = RepairBody {
        end,
        shop: row.text("shop"),
        licence: row.text("licence"),
        ticket: row.text("ticket"),
        removed,
        results,
        clears,
        material: row.text("material"),
        remark: row.text("remark"),
        joint: joint?,
        work: work?,
    };
    if let Some(made) = c.lookup.made(&body.joint.joint) {
        let mut subject = Subject::of_joint(&made);
        let read = body.results.iter().filter_map(|r| Measured::read(r).ok());
        subject.readings = read.map(|m| Measured { end: m.end.or(body.end), ..m }).collect();
        inspection::unlikely(row, &subject);
    }
    Some((date?, Body::Repair(Box::new(body))))
}

pub(super) fn makeup_fields() -> Vec<Field> {
    vec![
        when("date", &format!("{DATES} time made_up")),
        Field::new("serial", Holds::Serial, SERIALS),
        text("end", "side which_end"),
        Field::new("pin", Holds::Serial, "pin_serial pin_joint pin_of upper joint_above"),
        Field::new("box", Holds::Serial, "box_serial box_joint box_of lower joint_below"),
        text("mate", "made_up_to made_to mated_with"),
        makeup_torque(
            "torque",
            "makeup_torque make_up_torque applied_torque final_torque mut actual_torque",
        ),
        makeup_torque("target", "target_torque planned_torque recommended_torque aim"),
        torque("breakout", "breakout_torque break_out break_out_torque"),
        text("compound", "thread_compound dope lubricant"),
        Field::new("friction_factor", Holds::Of(M::Factor), "ff friction compound_factor").within(
            0.3,
            3.0,
            "no friction factor of a thread compound",
        ),
        text("instrument", "gauge torque_gauge gauge_tag instrument_tag"),
        Field::new("times", Holds::Count, "cycles makeups number_of_makeups"),
        text("crew", "hand driller by"),
        text("run", "run_name"),
        Field::new("trips", Holds::Count, "round_trips number_of_trips"),
        Field::new("stand", Holds::Count, "joints_per_stand stand_length joints_in_stand"),
        Field::new("offset", Holds::Count, "first_break break_offset"),
        Field::new("rotate", Holds::Count, "rotate_breaks stagger"),
        Field::new("saver", Holds::Count, "saver_sub saver_makeups"),
        Field::new("picked_up", Holds::Flag, "picked_up_singles first_makeup"),
        text("remark", REMARKS),
    ]
}

pub(super) fn makeup(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let mut pin = resolve::joint(row, c.lookup, "pin", date).map(|m| m.joint);
    let mut box_ = resolve::joint(row, c.lookup, "box", date).map(|m| m.joint);
    if row.text("serial").is_some() {
        let joint = resolve::joint(row, c.lookup, "serial", date).map(|m| m.joint);
        match row.word::<End>("end") {
            Some(End::Pin) if pin.is_none() => pin = joint,
            Some(End::Box) if box_.is_none() => box_ = joint,
            Some(_) => row.wrong(
                Some("serial"),
                "the row names two joints for one end",
                "name each end once",
            ),
            None => row.missing("end", "say which end of the joint was made up: pin or box"),
        }
    }
    let run = resolve::run(row, c.lookup, "run");
    let pattern = match (row.count("trips"), row.count("stand")) {
        (None, _) => None,
        (Some(_), None | Some(0)) => {
            row.missing("stand", "say how many joints a stand has");
            None
        }
        (Some(trips), Some(stand)) => Some(MakeupPattern {
            trips,
            stand,
            offset: row.count("offset"),
            rotate: row.count("rotate"),
            saver: row.count("saver"),
            picked_up: row.flag("picked_up").unwrap_or(false),
        }),
    };
    match (&pattern, pin.is_some() || box_.is_some()) {
        (Some(_), true) => row.wrong(
            Some("trips"),
            "a row is one connection or a pattern of trips, not both",
            "write two rows",
        ),
        (Some(_), false) if run.is_none() && row.text("run").is_none() => {
            row.missing("run", "name the run whose trips these are");
        }
        (None, false) if row.is_sound() => {
            row.wrong(
                None,
                "the row names neither a pin nor a box",
                "name the joint whose end was made up, or a run and its trips",
            );
        }
        _ => {}
    }
    if let (Some(p), Some(b)) = (&pin, &box_)
        && p.joint == b.joint
    {
        row.wrong(
            Some("box"),
            "the pin and the box are of one joint",
            "a joint is made up to another",
        );
    }
    let times = row.count("times");
    if times == Some(0) {
        row.wrong(Some("times"), "made up 0 times", "leave the row out");
    }
    let body = MakeupBody {
        pin,
        box_,
        mate: row.text("mate"),
        pattern,
        run,
        torque: row.qty("torque"),
        target: row.qty("target"),
        breakout: row.qty("breakout"),
        compound: row.text("compound"),
        friction_factor: row.qty("friction_factor"),
        instrument: row.text("instrument"),
        times,
        crew: row.text("crew"),
        remark: row.text("remark"),
    };
    Some((date?, Body::Makeup(Box::new(body))))
}

pub(super) fn event_fields() -> Vec<Field> {
    vec![
        when("date", &format!("{DATES} time")),
        text("event", "what kind kind_of_event incident"),
        Field::new("serial", Holds::Serial, &format!("{SERIALS} joints")),
        text("run", "run_name"),
        pull("pull", "overpull max_pull largest_pull hookload"),
        torque("torque", "max_torque largest_torque"),
        Field::new("count", Holds::Count, "blows shots times number"),
        depth("depth", "md measured_depth bit_depth"),
        Field::new("concentration", Holds::Of(M::Ratio), "h2s ppm h2s_concentration")
            .within(0.0, 1.0, "no concentration")
            .implies(&[("ppm", "ppm")]),
        Field::new("duration", Holds::Of(M::Hours), "how_long exposure_time").within(
            0.0,
            1e8,
            "no duration",
        ),
        text("remark", REMARKS),
    ]
}

pub(super) fn event(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    if row.text("event").is_none() {
        row.missing("event", "say what happened: jarring, overpull, stuck, drop …");
    }
    let what = row.word::<EventKind>("event");
    let joints = resolve::joints(row, c.lookup, "serial", date);
    let run = resolve::run(row, c.lookup, "run");
    if row.is_sound() && joints.is_empty() && run.is_none() {
        row.wrong(
            None,
            "the event names neither joints nor a run",
            "name the joints, or the run whose joints were in the hole",
        );
    }
    let body = EventBody {
        joints,
        run,
        pull: row.qty("pull"),
        torque: row.qty("torque"),
        count: row.count("count"),
        depth: row.qty("depth"),
        concentration: row.qty("concentration"),
        duration: row.qty("duration"),
        remark: row.text("remark"),
        what: what?,
    };
    Some((date?, Body::Event(body)))
}

pub(super) fn failure_fields() -> Vec<Field> {
    vec![
        when("date", &format!("{DATES} time failed_on")),
        serial(),
        text("failure", "what kind kind_of_failure failure_type mode"),
        text("place", "where area"),
        text("end", "side which_end"),
        Field::new("at", Holds::Of(M::Depth), "distance distance_from_pin from_pin").within(
            0.0,
            30.0,
            "not on the joint",
        ),
        text("run", "run_name"),
        text("well", "well_name"),
        depth("depth", "md measured_depth bit_depth"),
        text("operation", "activity doing"),
        torque("torque", "torque_then"),
        pull("pull", "pull_then hookload"),
        text("found", "how_found found_by"),
        text("mechanism", "cause"),
        text("report", "report_no report_number"),
        text("remark", REMARKS),
    ]
}

pub(super) fn failure(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let joint = resolve::need_joint(row, c.lookup, "serial", date).map(|m| m.joint);
    if row.text("failure").is_none() {
        row.missing("failure", "say how it failed: washout, twist_off, pin_break …");
    }
    let what = row.word::<FailureKind>("failure");
    let body = FailureBody {
        place: row.word::<Place>("place"),
        end: row.word::<End>("end"),
        at: row.qty("at"),
        run: resolve::run(row, c.lookup, "run"),
        well: row.text("well"),
        depth: row.qty("depth"),
        operation: row.text("operation"),
        torque: row.qty("torque"),
        pull: row.qty("pull"),
        found: row.text("found"),
        mechanism: row.text("mechanism"),
        report: row.text("report"),
        remark: row.text("remark"),
        joint: joint?,
        what: what?,
    };
    Some((date?, Body::Failure(Box::new(body))))
}
