//! Certificates, opening balances, changes of identity.

use std::collections::{BTreeMap, BTreeSet};

use super::Made;
use super::common::{Context, DATES, amend_with, date, entries, serial, text, when};
use crate::intake::diagnostic::Diagnostics;
use crate::intake::resolve;
use crate::intake::table::{Field, Holds, Row, Table};
use crate::model::{
    Body, Component, IdentityBody, JointBody, JointRef, Moment, OpeningBody, Serial, Stated,
    name_key,
};
use crate::schema::Words;
use crate::units::Measure as M;

/// Fields of a body that tallies and certificates share.
pub(in crate::intake) fn body_fields() -> Vec<Field> {
    const DIAMETER: &str = "no diameter of a drill string part";
    vec![
        Field::new(
            "od",
            Holds::Of(M::Diameter),
            "outside_diameter outer_diameter body_od pipe_od tube_od nominal_od nom_od size",
        )
        .within(0.02, 0.8, DIAMETER),
        Field::new(
            "id",
            Holds::Of(M::Diameter),
            "inside_diameter inner_diameter body_id pipe_id bore nominal_id nom_id",
        )
        .within(0.0, 0.7, DIAMETER),
        Field::new(
            "wall",
            Holds::Of(M::Wall),
            "wall_thickness wt nominal_wall nom_wall wall_nominal body_wall",
        )
        .within(0.001, 0.25, "no wall of a drill string part"),
        Field::new(
            "weight",
            Holds::Of(M::LinearMass),
            "nominal_weight nom_weight weight_per_length weight_per_foot linear_weight nominal_mass ppf",
        )
        .within(1.0, 1_000.0, "no weight of a drill string part")
        .implies(&[("ppf", "ppf")]),
        Field::new(
            "air_weight",
            Holds::Of(M::LinearMass),
            "weight_in_air adjusted_weight approximate_weight actual_weight mass_per_length linear_mass",
        )
        .within(1.0, 1_000.0, "no weight of a drill string part"),
        Field::new(
            "tj_od",
            Holds::Of(M::Diameter),
            "tool_joint_od tooljoint_od od_tj joint_od tj_outside_diameter",
        )
        .within(0.03, 0.8, DIAMETER),
        Field::new("connection", Holds::Text, "conn thread pin_connection connection_type tool_joint"),
    ]
}

pub(super) fn joint_fields() -> Vec<Field> {
    let mut f = vec![
        serial(),
        text("component", "kind type item description desc descr component_type part product"),
        Field::new("new", Holds::Flag, "is_new never_run unused"),
    ];
    f.extend(body_fields());
    f.extend([
        text("grade", "steel_grade pipe_grade tube_grade"),
        Field::new("length", Holds::Of(M::JointLength), "joint_length shoulder_to_shoulder len")
            .within(0.05, 30.0, "no length of one joint"),
        text("box_connection", "box_thread conn_box box_conn"),
        Field::new(
            "tj_id",
            Holds::Of(M::Diameter),
            "tool_joint_id tooljoint_id id_tj pin_bore pin_id",
        )
        .within(0.005, 0.7, "no bore of a tool joint"),
        Field::new("pin_tong", Holds::Of(M::Wall), "pin_tong_space pin_tong_length").within(
            0.01,
            1.5,
            "no tong space",
        ),
        Field::new("box_tong", Holds::Of(M::Wall), "box_tong_space box_tong_length").within(
            0.01,
            1.5,
            "no tong space",
        ),
        Field::new("bevel", Holds::Of(M::Diameter), "bevel_diameter bevel_od").within(
            0.03,
            0.8,
            "no bevel diameter",
        ),
        Field::new("benchmark", Holds::Of(M::Wall), "benchmark_distance shoulder_to_benchmark")
            .within(0.0, 0.2, "no benchmark distance"),
        text("upset", "upset_type"),
        text("range", "length_range api_range"),
        text("hardband", "hardband_type hardband_alloy hard_band hardbanding hardfacing"),
        Field::new("hardband_height", Holds::Of(M::Wall), "hb_height hardband_proud").within(
            0.0,
            0.05,
            "no height of a hardband",
        ),
        text("coating", "internal_coating ipc plastic_coating lining"),
        text("heat", "heat_no heat_number heat_nr tube_heat pipe_heat heat_no_tube"),
        text("pin_heat", "pin_heat_no pin_heat_number heat_pin heat_no_pin"),
        text("box_heat", "box_heat_no box_heat_number heat_box heat_no_box"),
        text("weld_lot", "weld_lot_no lot weld_batch"),
        text("mill_order", "order order_no mill_order_no production_order"),
        text("maker", "manufacturer mfr mill made_by"),
        text("certificate", "certificate_no cert cert_no mtr mtc mill_certificate"),
        when("made", "manufactured date_of_manufacture manufacture_date made_on mfg_date"),
        text("owner", "owned_by property_of"),
        text("location", "place yard stored_at where"),
        text("string", "string_name set"),
        text("remark", "remarks comment comments note notes"),
        when("date", &format!("{DATES} entered received received_on date_received date_entered")),
    ]);
    f.extend(balance_fields());
    f
}

fn balance_fields() -> Vec<Field> {
    vec![
        Field::new(
            "hours",
            Holds::Of(M::Hours),
            "rotating_hours rotating_hrs hrs rot_hours accumulated_hours opening_hours",
        )
        .implies(&[
            ("hours", "h"),
            ("rotating_hours", "h"),
            ("rotating_hrs", "h"),
            ("hrs", "h"),
            ("rot_hours", "h"),
            ("accumulated_hours", "h"),
            ("opening_hours", "h"),
        ])
        .within(0.0, 3.6e8, "no number of hours that a joint can have run"),
        Field::new("revolutions", Holds::Of(M::Turns), "turns revs rotations opening_revolutions")
            .within(0.0, 1e10, "no number of turns that a joint can have made"),
        Field::new(
            "footage",
            Holds::Of(M::Depth),
            "drilled drilled_length footage_drilled metres_drilled meters_drilled",
        )
        .within(0.0, 1e7, "no length that a joint can have drilled"),
        Field::new("damage", Holds::Of(M::Damage), "fatigue_damage used_life").within(
            0.0,
            100.0,
            "no part of a fatigue life",
        ),
        Field::new("pin_makeups", Holds::Of(M::Count), "pin_make_ups makeups_pin").within(
            0.0,
            1e5,
            "no number of make-ups",
        ),
        Field::new("box_makeups", Holds::Of(M::Count), "box_make_ups makeups_box").within(
            0.0,
            1e5,
            "no number of make-ups",
        ),
        text("basis", "stated_as known_or_estimated quality_of_record"),
        text("stated_by", "by source who recorded_by"),
    ]
}

pub(super) fn opening_fields() -> Vec<Field> {
    let mut f =
        vec![serial(), when("date", DATES), text("remark", "remarks comment comments note notes")];
    f.extend(balance_fields());
    f
}

const BALANCE: [&str; 6] =
    ["hours", "revolutions", "footage", "damage", "pin_makeups", "box_makeups"];

/// What rows with an opening balance say; `None` when they say nothing.
fn balance(row: &mut Row<'_>, joint: JointRef) -> Option<OpeningBody> {
    let estimated = match row.text("basis").map(|t| t.to_lowercase()).as_deref() {
        None | Some("known" | "recorded" | "measured" | "records") => false,
        Some("estimated" | "estimate" | "est" | "est.") => true,
        // Unknown stays unknown, whatever figure stands beside it.
        Some("unknown") => return None,
        Some(other) => {
            let message = format!("'{other}' is no basis of a figure");
            row.wrong(Some("basis"), message, "write known, estimated or unknown");
            return None;
        }
    };
    let mut values: BTreeMap<&str, Option<Stated>> =
        BALANCE.into_iter().map(|key| (key, row.stated(key, estimated))).collect();
    if values.values().all(Option::is_none) {
        return None;
    }
    let mut take = |key| values.remove(key).flatten();
    Some(OpeningBody {
        joint,
        hours: take("hours"),
        revolutions: take("revolutions"),
        footage: take("footage"),
        damage: take("damage"),
        pin_makeups: take("pin_makeups"),
        box_makeups: take("box_makeups"),
        stated_by: row.text("stated_by"),
        remark: None,
    })
}

pub(super) fn opening(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let joint = resolve::need_joint(row, c.lookup, "serial", date)?.joint;
    if let Some(made) = c.lookup.made(&joint.joint).filter(|made| made.new) {
        row.wrong(
            Some("serial"),
            format!("{} was new when it came into the book: it brought nothing with it", made.serial),
            "hours and turns since then come in with the runs; a joint that was not new is amended: \
             pipelore enter amend entry=… new=no reason='…'",
        );
        return None;
    }
    let sound = row.is_sound();
    let body = balance(row, joint);
    if body.is_none() && sound && row.is_sound() {
        row.wrong(
            None,
            "the row states no opening figure",
            "leave such rows out: what is not stated is unknown",
        );
    }
    let remark = row.text("remark");
    Some((date?, Body::Opening(OpeningBody { remark, ..body? })))
}

/// Opening balances: what a joint brought with it is told once.
pub(super) fn openings(
    table: &mut Table,
    c: &Context<'_>,
    diagnostics: &mut Diagnostics,
) -> Vec<Made> {
    let mut told: BTreeMap<String, u64> = BTreeMap::new();
    let made = table.each(diagnostics, |row| {
        let (effective, body) = opening(row, c)?;
        let named = body.joints().first().map(ToString::to_string);
        if let Some(first) = named.and_then(|joint| told.insert(joint, row.number())) {
            row.wrong(
                Some("serial"),
                format!("row {first} tells a balance of this joint too"),
                "a balance is all that the joint had gone through when it came into the book: one row; \
                 hours of one run after another come in with the runs",
            );
            return None;
        }
        Some((effective, body))
    });
    let made = made.into_iter();
    made.map(|(row, (effective, body))| Made { rows: vec![row], effective, body }).collect()
}

/// Whether a text is a number as a spreadsheet shows one that is too long for its cell: `1.23E+05`.
fn is_rounded(text: &str) -> bool {
    let Some((digits, power)) = text.trim().split_once(['E', 'e']) else { return false };
    let is_number = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    let (whole, part) = digits.split_once(['.', ',']).unwrap_or((digits, ""));
    whole.len() == 1
        && is_number(whole)
        && is_number(part)
        && power.strip_prefix('+').is_some_and(|p| !p.is_empty() && is_number(p))
}

/// Of the weight of a steel tube of its body's size a weight is at least and at most so much: with tool
/// joints it is more, by their share of the length (common practice: nominal weights of drill pipe, heavy
/// weight and collars stand between 0.95 and 1.35). One in another unit is by a half off.
const WEIGHT_OF_TUBE: std::ops::Range<f64> = 0.88..1.5;

/// Density of steel, kg/m³.
const STEEL: f64 = 7_850.0;

/// Checks of a body's dimensions against each other.
pub(in crate::intake) fn check_dimensions(row: &mut Row<'_>) {
    let base = |row: &mut Row<'_>, key, measure| row.qty(key).and_then(|q| q.base(measure));
    let od = base(row, "od", M::Diameter);
    let id = base(row, "id", M::Diameter);
    let wall = base(row, "wall", M::Wall);
    if !row.is_sound() {
        return;
    }
    if let (Some(od), Some(id)) = (od, id)
        && id >= od
    {
        row.wrong(
            Some("id"),
            "the inside diameter is not under the outside diameter",
            "are the two columns the wrong way round?",
        );
        return;
    }
    if let (Some(od), Some(wall)) = (od, wall) {
        if wall > od / 2.0 {
            row.wrong(
                Some("wall"),
                "the wall is more than half of the outside diameter",
                "check the unit of the wall",
            );
            return;
        }
        if let Some(id) = id
            && (od - 2.0 * wall - id).abs() > 0.002
        {
            row.odd(
                Some("id"),
                "outside diameter, wall and inside diameter do not fit together",
                "the wall is used",
            );
        }
    }
    let bore = id.or_else(|| od.zip(wall).map(|(od, wall)| od - 2.0 * wall));
    let weight = base(row, "weight", M::LinearMass);
    if let (Some(od), Some(bore), Some(weight)) = (od, bore, weight) {
        let tube = STEEL * std::f64::consts::FRAC_PI_4 * (od * od - bore * bore);
        let share = weight / tube;
        if !WEIGHT_OF_TUBE.contains(&share) {
            row.odd(
                Some("weight"),
                format!(
                    "the weight is {share:.2} times that of a steel tube of this diameter and wall"
                ),
                "is the unit of the weight the right one, and that of the wall?",
            );
        }
    }
    let tool_joint = base(row, "tj_od", M::Diameter);
    if let (Some(tj), Some(bore)) = (tool_joint, base(row, "tj_id", M::Diameter))
        && bore >= tj
    {
        row.wrong(
            Some("tj_id"),
            "the bore of the tool joint is not under its outside diameter",
            "are the two columns the wrong way round?",
        );
        return;
    }
    if let (Some(od), Some(tj)) = (od, tool_joint)
        && tj < od * 0.9
    {
        row.odd(
            Some("tj_od"),
            "the tool joint is thinner than the body",
            "are the two columns the wrong way round?",
        );
    }
}

/// Rows of a mill certificate: the joint, and its opening balance where there is one.
pub(super) fn joints(
    table: &mut Table,
    c: &Context<'_>,
    diagnostics: &mut Diagnostics,
) -> Vec<Made> {
    let mut seen: BTreeMap<String, u64> = BTreeMap::new();
    let mut strange = Strange::default();
    if !table.has("new") && !table.rows.is_empty() && BALANCE.iter().all(|k| !table.has(k)) {
        diagnostics.push(
            table
                .warning("the file does not say whether the joints are new: their life before it is unknown")
                .help("add a column new = yes or no, or columns of an opening balance"),
        );
    }
    let made = table.each(diagnostics, |row| {
        let date = date(row);
        let body = joint(row, c, date, &mut seen, &mut strange);
        let (date, body) = (date?, body?);
        // The draft's place is not known yet: the reference is settled below.
        let own = JointRef { serial: body.serial.clone(), joint: resolve::provisional(0)? };
        let opening = balance(row, own);
        if body.new && opening.as_ref().is_some_and(|o| !is_nothing(o)) {
            row.wrong(
                Some("new"),
                "a new joint has no hours, turns or make-ups behind it",
                "write new = no, or leave the opening figures out",
            );
        }
        let opening = opening.filter(|_| !body.new);
        Some((date, body, opening))
    });
    let mut out = Vec::new();
    for (row, (date, body, opening)) in made {
        let at = out.len();
        out.push(Made { rows: vec![row], effective: date, body: Body::Joint(Box::new(body)) });
        if let (Some(mut opening), Some(own)) = (opening, resolve::provisional(at)) {
            opening.joint.joint = own;
            out.push(Made { rows: vec![row], effective: date, body: Body::Opening(opening) });
        }
    }
    out
}

/// True when every figure is zero, as a form filled in for new pipe has it.
fn is_nothing(o: &OpeningBody) -> bool {
    [&o.hours, &o.revolutions, &o.footage, &o.damage, &o.pin_makeups, &o.box_makeups]
        .into_iter()
        .flatten()
        .all(|s| match s {
            Stated::Known(q) | Stated::Estimated(q) => {
                crate::units::split_number(q.as_str()).0.bytes().all(|b| matches!(b, b'0' | b'.'))
            }
        })
}

fn joint(
    row: &mut Row<'_>,
    c: &Context<'_>,
    date: Option<Moment>,
    seen: &mut BTreeMap<String, u64>,
    strange: &mut Strange,
) -> Option<JointBody> {
    let serial = match row.text("serial") {
        None => {
            row.missing("serial", "every joint has a serial; without one it cannot be followed");
            None
        }
        Some(text) if is_rounded(&text) => {
            row.wrong(
                Some("serial"),
                format!("'{text}' is a serial that a spreadsheet took for a number and rounded"),
                "its last digits are no longer in the file: write the serial out, in a column that is \
                 formatted as text",
            );
            None
        }
        Some(text) => match Serial::parse(&text) {
            Ok(serial) => Some(serial),
            Err(e) => {
                row.wrong(Some("serial"), e.to_string(), "");
                None
            }
        },
    };
    if let Some(serial) = &serial {
        if let Some(first) = seen.insert(serial.key(), row.number()) {
            let message = format!("{serial} is the serial of row {first} too");
            row.wrong(
                Some("serial"),
                message,
                "give each joint one row; two joints of one serial come in two files",
            );
        } else {
            let known = c.lookup.joints(&serial.key());
            if let Some(k) = known.first() {
                let message = format!(
                    "the book has a joint {serial} already ({}@{}, since {})",
                    k.joint.serial, k.joint.joint, k.since
                );
                let help = format!(
                    "if it is the same joint, leave the row out, or correct what the book says of \
                     it: {}; if it is another one with the same serial, keep the conflict",
                    amend_with(&k.joint.joint)
                );
                if c.keep_conflicts {
                    row.odd(Some("serial"), message, "from now on this serial means two joints");
                } else {
                    row.wrong(Some("serial"), message, &help);
                }
            }
        }
    }
    certificate(row, serial, date, strange)
}

/// Words that no list here holds, each said once for a file.
#[derive(Default)]
struct Strange(BTreeSet<(&'static str, String)>);

impl Strange {
    /// Says of a grade, connection or length range that nobody here knows it, and what that costs.
    fn note(&mut self, row: &mut Row<'_>, key: &'static str, words: Words, cost: &str) {
        let Some(text) = row.text(key).filter(|text| words.read(text).is_none()) else { return };
        if !self.0.insert((key, name_key(&text))) {
            return;
        }
        let near =
            words.nearest(&text).map_or_else(String::new, |n| format!("; did you mean {n}?"));
        let message = format!("{text} is no {}{near}", words.kind());
        let field = if key == "box_connection" { "connection" } else { key };
        let help = format!("it is kept as it stands, and {cost}; {field} = \"{text}\" asks for it");
        row.odd(Some(key), message, &help);
    }
}

/// What a row says of a joint that it introduces.
fn certificate(
    row: &mut Row<'_>,
    serial: Option<Serial>,
    date: Option<Moment>,
    strange: &mut Strange,
) -> Option<JointBody> {
    if row.text("component").is_none() {
        row.missing("component", "say what the part is: drill_pipe, heavy_weight, drill_collar …");
    }
    let component = row.word::<Component>("component");
    check_dimensions(row);
    if matches!(component, Some(Component::DrillPipe | Component::Pup)) {
        let cost =
            "its strengths are the maker's: damage is worked out as for E75, ratings are not";
        strange.note(row, "grade", Words::GRADES, cost);
    }
    let cost = "its torque and least diameters are the maker's: they are not worked out";
    strange.note(row, "connection", Words::CONNECTIONS, cost);
    strange.note(row, "box_connection", Words::CONNECTIONS, cost);
    strange.note(row, "range", Words::RANGES, "nothing rests on it");
    let length = row.qty("length");
    if let (Some(Component::DrillPipe), Some(l)) =
        (component, length.as_ref().and_then(|l| l.base(M::JointLength)))
        && !(5.0..=16.0).contains(&l)
    {
        row.odd(
            Some("length"),
            format!("{l:.2} m is an unusual length for one joint of drill pipe"),
            "a joint is 6 to 15 m long; a stand is not a joint",
        );
    }
    let made = row.moment("made");
    if let (Some(made), Some(date)) = (made, date)
        && made.start(row.clock()).0 > date.end(row.clock()).0
    {
        row.wrong(
            Some("made"),
            format!("it was made on {made}, after it entered the book on {date}"),
            "correct one of the dates",
        );
    }
    Some(JointBody {
        new: row.flag("new").unwrap_or(false),
        od: row.qty("od"),
        wall: row.qty("wall"),
        id: row.qty("id"),
        weight: row.qty("weight"),
        air_weight: row.qty("air_weight"),
        grade: row.text("grade"),
        length,
        connection: row.text("connection"),
        box_connection: row.text("box_connection"),
        tj_od: row.qty("tj_od"),
        tj_id: row.qty("tj_id"),
        pin_tong: row.qty("pin_tong"),
        box_tong: row.qty("box_tong"),
        bevel: row.qty("bevel"),
        benchmark: row.qty("benchmark"),
        upset: row.text("upset"),
        range: row.text("range"),
        hardband: row.text("hardband"),
        hardband_height: row.qty("hardband_height"),
        coating: row.text("coating"),
        heat: row.text("heat"),
        pin_heat: row.text("pin_heat"),
        box_heat: row.text("box_heat"),
        weld_lot: row.text("weld_lot"),
        mill_order: row.text("mill_order"),
        maker: row.text("maker"),
        certificate: row.text("certificate"),
        made,
        owner: row.text("owner"),
        location: row.text("location"),
        string: row.text("string"),
        remark: row.text("remark"),
        serial: serial?,
        component: component?,
    })
}

pub(super) fn change_fields() -> Vec<Field> {
    let mut f = vec![
        serial(),
        text("change", "kind type what"),
        text(
            "new_serial",
            "new_serial_no new_mark remarked remarked_as other_serial alias also_read_as",
        ),
        text("same", "same_as is_also merge duplicate_of"),
        text("other", "other_joint belongs_to"),
        text("entries", "entry entries_of_the_other"),
        text("reason", "why remark remarks comment"),
        when("date", DATES),
    ];
    // What the certificate of a joint that a split introduces says.
    f.push(text("component", "component_type part"));
    f.extend(body_fields());
    f.extend([
        text("grade", "steel_grade pipe_grade tube_grade"),
        Field::new("length", Holds::Of(M::JointLength), "joint_length shoulder_to_shoulder len")
            .within(0.05, 30.0, "no length of one joint"),
        Field::new("new", Holds::Flag, "is_new never_run unused"),
        text("heat", "heat_no heat_number heat_nr"),
        text("maker", "manufacturer mfr mill made_by"),
        text("certificate", "certificate_no cert cert_no mtr mtc mill_certificate"),
    ]);
    f
}

/// Rows about who a joint is; a split may introduce the other joint.
pub(super) fn changes(
    table: &mut Table,
    c: &Context<'_>,
    diagnostics: &mut Diagnostics,
) -> Vec<Made> {
    let made = table.each(diagnostics, |row| change(row, c));
    let mut out = Vec::new();
    for (row, (effective, introduced, mut body)) in made {
        let rows = vec![row];
        if let (Some(joint), Some(name)) = (introduced, resolve::provisional(out.len())) {
            let joint = Body::Joint(Box::new(joint));
            out.push(Made { rows: rows.clone(), effective, body: joint });
            if let IdentityBody::Split { other, .. } = &mut body {
                other.joint = name;
            }
        }
        out.push(Made { rows, effective, body: Body::Identity(body) });
    }
    out
}

fn change(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Option<JointBody>, IdentityBody)> {
    let date = date(row);
    let joint = resolve::need_joint(row, c.lookup, "serial", date)?.joint;
    let reason = row.text("reason");
    let word = row.text("change").map(|t| crate::model::fold(&t));
    let new = match row.text("new_serial").map(|new| Serial::parse(&new)).transpose() {
        Ok(new) => new,
        Err(e) => {
            row.wrong(Some("new_serial"), e.to_string(), "");
            return None;
        }
    };
    let body = match (word.as_deref(), new, row.text("same")) {
        (Some("merge" | "same") | None, None, Some(_)) => {
            let same = resolve::joint(row, c.lookup, "same", date)?.joint;
            if same.joint == joint.joint {
                row.wrong(Some("same"), "both serials are one joint already", "");
                return None;
            }
            IdentityBody::Merge { joint, same, reason }
        }
        (Some("remark"), Some(serial), None) => IdentityBody::Remark { joint, serial, reason },
        (Some("alias"), Some(serial), None) => IdentityBody::Alias { joint, serial, reason },
        (Some("split"), new, None) => return split(row, c, (date?, joint, reason), new),
        _ => {
            row.wrong(
                Some("change"),
                "the row does not say what changes",
                "write remark or alias with a new serial, merge with the serial of the same joint, \
                 or split with the entries that are about another joint",
            );
            return None;
        }
    };
    Some((date?, None, body))
}

/// A split: the other joint is named, or introduced by what the row says of it.
fn split(
    row: &mut Row<'_>,
    c: &Context<'_>,
    (date, joint, reason): (Moment, JointRef, Option<String>),
    new: Option<Serial>,
) -> Option<(Moment, Option<JointBody>, IdentityBody)> {
    let entries = entries(row, c, "entries");
    let named = row.text("other").is_some();
    let (introduced, other) = match (named, new) {
        (true, None) => (None, resolve::joint(row, c.lookup, "other", Some(date))?.joint),
        (false, Some(serial)) => {
            let body = certificate(row, Some(serial.clone()), Some(date), &mut Strange::default())?;
            (Some(body), JointRef { serial, joint: resolve::provisional(0)? })
        }
        _ => {
            row.wrong(
                Some("change"),
                "a split names the other joint",
                "write it under other, as serial@entry where both carry one serial; or under \
                 new_serial, with its component and what else its certificate says",
            );
            return None;
        }
    };
    if named && joint.joint == other.joint {
        row.wrong(Some("other"), "both serials are one joint", "");
    }
    // A joint that was merged into the other comes apart with what names it.
    if entries.is_empty() && introduced.is_some() {
        row.missing(
            "entries",
            "name the entries that are about the other joint, like yard-12; yard-15",
        );
    }
    Some((date, introduced, IdentityBody::Split { joint, other, entries, reason }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_of_zeros_is_no_balance() {
        let q = |t: &str| Some(Stated::Known(crate::model::Qty::parse(t, M::Hours).unwrap()));
        let joint: JointRef = "K1@yard-1".parse().unwrap();
        let mut o = OpeningBody {
            joint,
            hours: q("0.0 h"),
            revolutions: None,
            footage: None,
            damage: None,
            pin_makeups: None,
            box_makeups: None,
            stated_by: None,
            remark: None,
        };
        assert!(is_nothing(&o));
        o.hours = q("10 h");
        assert!(!is_nothing(&o));
    }
}
