//! Which columns of a log are which channel, in which unit.

use crate::intake::diagnostic::Diagnostics;
use crate::intake::table::{Column, Field, Fields, Holds, Layout, Where};
use crate::units::{Dimension, Measure, Unit};

/// Fields of a log, time- or depth-indexed.
pub(in crate::intake) fn fields() -> Vec<Field> {
    let depth = Holds::Of(Measure::Depth);
    vec![
        // A time in seconds or hours has a unit; a time stamp has none.
        Field::new(
            "time",
            Holds::Of(Measure::Hours),
            "date_time datetime timestamp time_stamp time_index utc_time time_utc time_gmt \
             time_local local_time index_time elapsed elapsed_time",
        ),
        Field::new("date", Holds::When, "day log_date"),
        Field::new(
            "depth",
            depth,
            "hole_depth mdepth dmea dept md measured_depth hole_md total_depth hole_depth_md depth_md depth_hole",
        ),
        Field::new("bit_depth", depth, "bitdep dbtm bit_md bit_position depth_bit bit bit_depth_md bdep dept_bit"),
        Field::new(
            "rpm",
            Holds::Of(Measure::RotarySpeed),
            "surf_rpm rpma rotary_speed surface_rpm rpmi rotary_rpm string_rpm rotary surface_rotary_speed \
             rpm_avg rpm_surface pipe_rpm rpmti top_drive_rpm td_rpm rpmsi table_rpm",
        )
        .implies(&[("rpm", "rpm")]),
        // What a motor adds is no rotation of the pipe.
        Field::new(
            "bit_rpm",
            Holds::Of(Measure::RotarySpeed),
            "downhole_rpm motor_rpm mtr_rpm dh_rpm total_rpm rpm_bit rpm_total bit_speed",
        )
        .out(),
        Field::new(
            "rop",
            Holds::Any,
            "rop_avg ropa ropi rop5 rate_of_penetration rop_1_ft rop_1_m drilling_rate rop_average rop_inst",
        ),
        Field::new("wob", Holds::Any, "wob_avg woba wobi weight_on_bit bit_weight surface_wob"),
        Field::new("torque", Holds::Any, "tqa tqi tq surface_torque rotary_torque tq_avg torque_avg surf_torque tqr"),
        Field::new("hookload", Holds::Any, "hkld hkla hkli hook_load hookload_avg hook_load_avg hkld_avg"),
        // The flag of a rig says what someone thought the rig did.
        Field::new("activity_code", Holds::Text, "rigactivitycode actc activitycode rig_activity_code rig_state").out(),
    ]
}

/// A number column and its worth: billionths of its unit times `scale` are whole quanta.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Channel {
    /// Place in the row.
    pub at: usize,
    pub title: String,
    /// Millimetres, newtons or newton-metres in a billionth of the unit.
    pub scale: f64,
}

/// How rows are indexed.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Index {
    /// Time stamps, with the day in a column of its own or not.
    Stamp {
        /// Column of the day.
        date: Option<usize>,
        /// Column of the time.
        time: usize,
    },
    /// Time since some start: milliseconds in a billionth of the unit.
    Elapsed(Channel),
    /// Depth, with the rate of penetration as the clock.
    Depth { rop: Rate },
}

/// A rate of penetration, metres a second or its inverse.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Rate {
    /// Place in the row.
    pub at: usize,
    /// Metres a second (or seconds a metre) in a billionth of the unit.
    pub scale: f64,
    pub inverse: bool,
}

/// The channels of a log.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Channels {
    pub index: Index,
    /// Columns of the depth of the hole; the first with a value counts.
    pub hole: Vec<Channel>,
    /// Columns of the depth of the bit.
    pub bit: Vec<Channel>,
    /// Place of the surface rotary speed; `None` where one speed is stated for the whole log.
    pub rpm_at: Option<usize>,
    pub rpm_title: String,
    /// Revolutions a second in one of its unit.
    pub rpm_unit: (i128, i128),
    /// Other columns of rotary speed, which are not used.
    pub rpm_others: Vec<(usize, String)>,
    pub wob: Option<Channel>,
    pub torque: Option<Channel>,
    pub hookload: Option<Channel>,
}

fn scale(unit: &Unit, quanta: f64) -> f64 {
    unit.factor().to_f64() * quanta / 1e9
}

/// Revolutions a second in one a minute: the unit of a speed that is stated for the whole log.
const PER_MINUTE: (i128, i128) = (1, 60);

/// Finds the channels in a header. What is taken or left is said in `notes`. A log by depth without a
/// rotary speed is read where the mean speed of its run is stated.
pub(super) fn find(
    layout: &Layout,
    (fields, has_mean): (&Fields, bool),
    at: Where<'_>,
    notes: &mut Vec<String>,
    diagnostics: &mut Diagnostics,
) -> Option<Channels> {
    let before = diagnostics.errors();
    let of = |key: &str| -> Vec<&Column> {
        layout.columns.iter().filter(|c| fields[c.field].key == key).collect()
    };
    let error = |message: String, help: String| {
        crate::intake::diagnostic::Diagnostic::error(at.file, message).in_sheet(at.sheet).help(help)
    };
    let mut problems = Vec::new();
    let field = |key: &str| fields.iter().find(|f| f.key == key);
    let mut unitless = |c: &Column, key: &str, wanted: &str| {
        let help = field(key).map(|f| {
            let name = &c.title;
            format!(
                "write it in the header, as in \"{} [{wanted}]\", or state it: --columns \
                 '\"{name}\" = {} [{wanted}]'; '\"{name}\" = -' skips the column",
                f.key, f.key
            )
        });
        let d = error(format!("the unit of '{}' is not stated", c.title), help.unwrap_or_default())
            .in_column(c.number, &c.title);
        problems.push(match field(key) {
            Some(f) => d.asks(f.asks_unit((c.number, &c.title))),
            None => d,
        });
    };
    // Lengths in millimetres.
    let mut lengths = |key: &str| -> Vec<Channel> {
        let mut out = Vec::new();
        for c in of(key) {
            match &c.unit {
                Some(u) => out.push(Channel {
                    at: c.number - 1,
                    title: c.title.clone(),
                    scale: scale(u, 1000.0),
                }),
                None => unitless(c, key, "m"),
            }
        }
        out
    };
    let (hole, bit) = (lengths("depth"), lengths("bit_depth"));
    // Channels that a segment keeps when they are what they are called.
    let mut kept = |key: &str, dimension: Dimension, wanted: &str| -> Option<Channel> {
        let mut found = None;
        for c in of(key) {
            match &c.unit {
                None => unitless(c, key, wanted),
                Some(u) => match Unit::parse(u.symbol(), dimension) {
                    Ok(unit) if found.is_none() => {
                        found = Some(Channel {
                            at: c.number - 1,
                            title: c.title.clone(),
                            scale: scale(&unit, 1.0),
                        });
                    }
                    Ok(_) => notes.push(format!("column '{}' is a second {key} and is not used", c.title)),
                    Err(_) => notes.push(format!(
                        "column '{}' is in {}, which is not {dimension}: it is left out, uncalibrated",
                        c.title,
                        u.symbol()
                    )),
                },
            }
        }
        found
    };
    let wob = kept("wob", Dimension::FORCE, "kN");
    let torque = kept("torque", Dimension::TORQUE, "kN.m");
    let hookload = kept("hookload", Dimension::FORCE, "kN");

    // Of several speeds the total of the pipe comes first in the list of titles.
    let mut speeds = of("rpm");
    let rank = |c: &Column| {
        let folded = crate::model::fold(&c.title);
        let names = &fields[c.field].aliases;
        names.iter().position(|n| folded.starts_with(n.as_str())).unwrap_or(0)
    };
    speeds.sort_by_key(|c| (rank(c), c.number));
    let twins = match speeds.as_slice() {
        [first, second, ..]
            if crate::model::fold(&first.title) == crate::model::fold(&second.title) =>
        {
            let message = format!(
                "columns {} and {} are both called '{}': nobody says which of them turned the pipe",
                first.number, second.number, first.title
            );
            let help = "state the columns in their order, - for one that is not to be read, as in \
                        --columns \"time, bit_depth [m], rpm [rpm], -\" (log_columns in the file of a run)";
            Some(error(message, help.to_owned()).in_column(second.number, &second.title))
        }
        _ => None,
    };
    let mut rpm = None;
    let mut rpm_others = Vec::new();
    for c in speeds {
        match (&c.unit, &rpm) {
            (None, None) => unitless(c, "rpm", "rpm"),
            (Some(unit), None) => rpm = Some((c, unit.clone())),
            (_, Some(_)) => rpm_others.push((c.number - 1, c.title.clone())),
        }
    }
    problems.extend(twins);
    let (stamps, days) = (of("time"), of("date"));
    let index = match (stamps.first(), bit.is_empty()) {
        (Some(time), _) => match &time.unit {
            None => Some(Index::Stamp {
                date: days.first().map(|c| c.number - 1),
                time: time.number - 1,
            }),
            Some(unit) => Some(Index::Elapsed(Channel {
                at: time.number - 1,
                title: time.title.clone(),
                scale: scale(unit, 1000.0),
            })),
        },
        (None, _) if !days.is_empty() && !bit.is_empty() => {
            // One column holds day and time under the title "date".
            Some(Index::Stamp { date: None, time: days[0].number - 1 })
        }
        (None, _) => rate(&of("rop"), &mut problems, &error),
    };
    if hole.is_empty() && matches!(index, Some(Index::Depth { .. })) {
        problems.push(error(
            "the log has neither a time column nor a depth column".to_owned(),
            "a log is indexed by time or by depth".to_owned(),
        ));
    }
    // One without a unit is there, and its unit is asked for.
    if of("bit_depth").is_empty() && matches!(index, Some(Index::Stamp { .. } | Index::Elapsed(_)))
    {
        problems.push(error(
            "the log has no bit depth".to_owned(),
            "without it nobody knows where the pipe turned; if a column holds it, state it: \
             --columns '\"its title\" = bit_depth [m]'"
                .to_owned(),
        ));
    }
    let by_depth = matches!(index, Some(Index::Depth { .. }));
    let of_mean = rpm.is_none() && by_depth && has_mean;
    if rpm.is_none() && !of_mean && problems.is_empty() {
        let mean = if by_depth {
            "; where no column holds it, state the mean speed of the run, rotary_speed = \"100 rpm\": \
             its turns are an estimate then"
        } else {
            ""
        };
        problems.push(error(
            "the log has no rotary speed of the pipe".to_owned(),
            format!(
                "state the column: --columns '\"its title\" = rpm [rpm]'; the speed of the bit and \
                 activity codes do not tell how the pipe turned{mean}"
            ),
        ));
    }
    for p in problems {
        diagnostics.push(p);
    }
    if diagnostics.errors() > before {
        return None;
    }
    let (rpm_at, rpm_title, rpm_unit) = match rpm {
        Some((column, unit)) => {
            let factor = unit.factor();
            let unit = (factor.numerator(), factor.denominator());
            (Some(column.number - 1), column.title.clone(), unit)
        }
        None => {
            notes.push(
                "no column tells how the pipe turned: the mean speed of the run stands for it, and its \
                 turns are an estimate"
                    .to_owned(),
            );
            (None, "mean speed of the run".to_owned(), PER_MINUTE)
        }
    };
    if !rpm_others.is_empty() {
        notes.push(format!(
            "rotation is taken from '{rpm_title}'; not from '{}'",
            rpm_others.iter().map(|o| o.1.as_str()).collect::<Vec<_>>().join("', '")
        ));
    }
    Some(Channels {
        index: index?,
        hole,
        bit,
        rpm_at,
        rpm_title,
        rpm_unit,
        rpm_others,
        wob,
        torque,
        hookload,
    })
}

fn rate(
    columns: &[&Column],
    problems: &mut Vec<crate::intake::diagnostic::Diagnostic>,
    error: &dyn Fn(String, String) -> crate::intake::diagnostic::Diagnostic,
) -> Option<Index> {
    let help = |title: &str| {
        format!("state it: --columns '\"{title}\" = rop [m/h]' (m/h, ft/h, min/m, min/ft)")
    };
    let mut found = None;
    let mut wrong = Vec::new();
    for c in columns {
        let Some(unit) = &c.unit else {
            wrong.push((c, format!("the unit of '{}' is not stated", c.title)));
            continue;
        };
        let speed = Unit::parse(unit.symbol(), Dimension::SPEED);
        let slow = Unit::parse(unit.symbol(), Dimension::SLOWNESS);
        let rate = match (&speed, &slow) {
            (Ok(u), _) => Rate { at: c.number - 1, scale: scale(u, 1.0), inverse: false },
            (_, Ok(u)) => Rate { at: c.number - 1, scale: scale(u, 1.0), inverse: true },
            (Err(e), _) => {
                wrong.push((c, e.to_string()));
                continue;
            }
        };
        found.get_or_insert(rate);
    }
    // A second rate in another unit does no harm when one is sound.
    if found.is_none() {
        if wrong.is_empty() {
            problems.push(error(
                "the log has no time column and no rate of penetration".to_owned(),
                "a log by depth needs the rate: the hours of a step are its length over the rate"
                    .to_owned(),
            ));
        }
        for (c, message) in wrong {
            problems.push(error(message, help(&c.title)).in_column(c.number, &c.title));
        }
    }
    found.map(|rop| Index::Depth { rop })
}
