//! A summary of operations: what the rig did from depth to depth, in how many hours, at which
//! speed. It becomes segments as it stands; nothing is cut.

use super::diagnostic::Diagnostics;
use super::loads::doubts;
use super::table::{Field, Holds, Row, Table};
use crate::model::{Activity, Qty, Segment};
use crate::units::{Measure as M, Rational};

/// Fields of a summary.
pub(super) fn fields() -> Vec<Field> {
    let depth = |key: &str, aliases: &str| {
        Field::new(key, Holds::Of(M::Depth), aliases).within(0.0, 15_000.0, "no depth of a hole")
    };
    vec![
        Field::new("activity", Holds::Text, "operation what mode activity_code"),
        depth("bit_from", "from depth_from md_from start_depth depth_in bit_start"),
        depth("bit_to", "to depth_to md_to end_depth depth_out bit_end"),
        Field::new("hours", Holds::Of(M::Hours), "duration time hrs")
            .implies(&[("hours", "h"), ("hrs", "h")])
            .within(0.0, 3.6e7, "no duration"),
        Field::new("rpm", Holds::Of(M::RotarySpeed), "rotary_speed surface_rpm speed surf_rpm")
            .implies(&[("rpm", "rpm")])
            .within(0.0, 500.0 / 60.0, "no rotary speed of a rig (0 to 500 rpm)"),
        Field::new("wob", Holds::Of(M::Force), "weight_on_bit").within(
            -1e6,
            2e6,
            "no weight on bit",
        ),
        Field::new("torque", Holds::Of(M::Torque), "surface_torque rotary_torque").within(
            0.0,
            500_000.0,
            "no torque of a rig",
        ),
        Field::new("hookload", Holds::Of(M::Force), "hook_load hkld").within(
            0.0,
            2e7,
            "no hook load of a rig",
        ),
        Field::new("remark", Holds::Text, "remarks comment comments note notes"),
    ]
}

/// A number of quanta in a base unit, rounded.
fn whole(qty: &Qty, measure: M, per_base: i64) -> Option<i64> {
    let base = qty.quantity(measure).ok()?.base()?;
    base.checked_mul(Rational::integer(per_base))?.round()
}

struct Line {
    activity: Activity,
    seconds: Rational,
    from_mm: i64,
    to_mm: i64,
    /// Revolutions a second, exactly.
    speed: Rational,
    wob_n: Option<i64>,
    torque_nm: Option<i64>,
    hookload_n: Option<i64>,
}

fn line(row: &mut Row<'_>) -> Option<Line> {
    let activity = match row.text("activity") {
        None => {
            row.missing(
                "activity",
                "say what the rig did: drilling rotating, sliding, reaming up …",
            );
            None
        }
        Some(_) => row.word::<Activity>("activity"),
    };
    let mut need = |key: &str| {
        let qty = row.qty(key);
        if qty.is_none() && row.is_sound() {
            row.missing(key, "a row needs its depths and hours");
        }
        qty
    };
    let (from, to, hours) = (need("bit_from"), need("bit_to"), need("hours"));
    let rpm = row.qty("rpm");
    let wob = row.qty("wob");
    let torque = row.qty("torque");
    let hookload = row.qty("hookload");
    let (activity, from, to, hours) = (activity?, from?, to?, hours?);
    let seconds = hours.quantity(M::Hours).ok()?.base()?;
    let speed = match &rpm {
        Some(q) => q.quantity(M::RotarySpeed).ok()?.base()?,
        None => Rational::ZERO,
    };
    let (from_mm, to_mm) = (whole(&from, M::Depth, 1000)?, whole(&to, M::Depth, 1000)?);
    let turning = speed > Rational::ZERO;
    let rotates = !matches!(activity, Activity::Sliding | Activity::NotRotating);
    let name = activity.to_string().replace('_', " ");
    if rotates && !turning && row.is_sound() {
        row.wrong(
            Some("rpm"),
            format!("{name} without a rotary speed"),
            "state the rpm, or name what was done without rotation",
        );
    }
    if !rotates && turning {
        row.wrong(
            Some("rpm"),
            format!("{name} with a rotary speed"),
            "name what was done while rotating: drilling rotating, reaming up …",
        );
    }
    let down = to_mm - from_mm;
    let fits = match activity {
        Activity::RotatingOnBottom | Activity::Sliding | Activity::ReamingDown => down >= 0,
        Activity::ReamingUp => down <= 0,
        Activity::RotatingOffBottom | Activity::NotRotating => true,
    };
    if !fits {
        row.wrong(
            Some("bit_to"),
            format!("{name} from {from} to {to}"),
            "are the depths the wrong way round?",
        );
    }
    if seconds == Rational::ZERO && (turning || down != 0) {
        row.wrong(
            Some("hours"),
            "0 hours for a row in which something happened",
            "state how long it took",
        );
    }
    Some(Line {
        activity,
        seconds,
        from_mm,
        to_mm,
        speed,
        wob_n: wob.and_then(|q| whole(&q, M::Force, 1)),
        torque_nm: torque.and_then(|q| whole(&q, M::Torque, 1)),
        hookload_n: hookload.and_then(|q| whole(&q, M::Force, 1)),
    })
}

/// Reads the rows of a summary as segments, one after the other from the start of the run.
/// Hours and turns keep their sum: what rounding leaves over goes to the next segment.
pub(super) fn read(table: &mut Table, diagnostics: &mut Diagnostics) -> Option<Vec<Segment>> {
    let before = diagnostics.errors();
    let lines = table.each(diagnostics, line);
    if diagnostics.errors() > before {
        return None;
    }
    let mut out = Vec::with_capacity(lines.len());
    let (mut time, mut turns) = (Rational::ZERO, Rational::ZERO);
    let (mut given_ms, mut given_milli) = (0, 0);
    for (number, l) in lines {
        let add = |sum: &mut Rational, more: Option<Rational>| -> Option<i64> {
            *sum = sum.checked_add(more?)?;
            sum.checked_mul(Rational::integer(1000))?.round()
        };
        let whole =
            add(&mut time, Some(l.seconds)).zip(add(&mut turns, l.seconds.checked_mul(l.speed)));
        let Some((ms, milli)) = whole else {
            diagnostics.push(
                table.error("the sums have more digits than can be kept exactly").at_row(number),
            );
            return None;
        };
        out.push(Segment {
            activity: l.activity,
            start_ms: given_ms,
            duration_ms: ms - given_ms,
            bit_from_mm: l.from_mm,
            bit_to_mm: l.to_mm,
            milli_turns: milli - given_milli,
            wob_n: l.wob_n,
            torque_nm: l.torque_nm,
            hookload_n: l.hookload_n,
        });
        (given_ms, given_milli) = (ms, milli);
    }
    for doubt in doubts(&mut out) {
        diagnostics.push(table.warning(doubt.what).help(doubt.help));
    }
    Some(out)
}
