//! A string from the bit up: serialised joints, described parts, joints that nobody identified.

use std::collections::BTreeMap;

use super::diagnostic::Diagnostics;
use super::kinds::{Context, body_fields, check_dimensions};
use super::lookup::JointMatch;
use super::number::Decimal;
use super::resolve;
use super::table::{Column, Field, Holds, Row, Table};
use crate::model::{Component, Moment, PartLine, Qty, Serial, TallyLine, Vocabulary};
use crate::units::Measure as M;

/// Fields of a tally.
pub(super) fn fields() -> Vec<Field> {
    let mut f = vec![
        Field::new(
            "position",
            Holds::Count,
            "no number pos nr n joint_no jt_no jt joint_number item_no",
        ),
        Field::new(
            "serial",
            Holds::Serial,
            "serial_number serial_no serial_nr serials sn s_n ser_no joint joint_serial pipe_serial joint_id stencil",
        ),
        Field::new("component", Holds::Text, "kind type item component_type"),
        Field::new("part", Holds::Text, "name description part_name tool"),
        Field::new("count", Holds::Count, "quantity qty joints number_of_joints pieces"),
        Field::new(
            "length",
            Holds::Of(M::JointLength),
            "joint_length len strapped_length strap measured_length",
        )
        .within(0.01, 15_000.0, "no length of a part of a string"),
        // What stands below and with the line: it proves lengths, and gives them where there are none.
        Field::new(
            "cumulative",
            Holds::Of(M::Depth),
            "cumulative_length cum_length cum cum_len accumulated_length acc_length accum_length \
             running_length running_total total_length length_total sum_length sum_of_lengths",
        )
        .within(0.0, 15_000.0, "no length of a string"),
    ];
    f.extend(body_fields());
    f.push(Field::new("stress_ratio", Holds::Of(M::Factor), "connection_stress_ratio").within(
        1.0,
        20.0,
        "no ratio of the stress of a connection to that of its body",
    ));
    f.push(Field::new("remark", Holds::Text, "remarks comment comments note notes"));
    f
}

/// Which end of the string stands first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    BitUp,
    TopDown,
}

impl Order {
    pub(super) fn parse(text: &str) -> Option<Self> {
        match crate::model::fold(text).as_str() {
            "bit_up" | "from_the_bit_up" | "bottom_up" | "bit_first" => Some(Self::BitUp),
            "top_down" | "from_the_top_down" | "top_first" => Some(Self::TopDown),
            _ => None,
        }
    }
}

struct Read {
    position: Option<u32>,
    line: TallyLine,
}

/// Reads a tally. `at` is when the string stood so; `None` when a row is wrong.
pub(super) fn read(
    table: &mut Table,
    context: &Context<'_>,
    at: Option<Moment>,
    order: Order,
    diagnostics: &mut Diagnostics,
) -> Option<Vec<TallyLine>> {
    let before = diagnostics.errors();
    cumulative(table, diagnostics);
    let mut serials: BTreeMap<String, u64> = BTreeMap::new();
    let mut joints: BTreeMap<String, u64> = BTreeMap::new();
    let mut positions: BTreeMap<u32, u64> = BTreeMap::new();
    let positioned = table.has("position");
    let mut lines = table.each(diagnostics, |row| {
        let position = row.count("position");
        if positioned {
            match position {
                None if row.is_sound() => {
                    row.missing("position", "number every line from the bit up, or none");
                }
                None => {}
                Some(p) => {
                    if let Some(first) = positions.insert(p, row.number()) {
                        row.wrong(
                            Some("position"),
                            format!("position {p} stands in row {first} too"),
                            "number the lines from the bit up without repeats",
                        );
                    }
                }
            }
        }
        let line = line(row, context, at, &mut serials)?;
        if let Some(joint) = &line.joint
            && let Some(first) = joints.insert(joint.joint.to_string(), row.number())
        {
            row.wrong(
                Some("serial"),
                format!("{} is the joint of row {first}", joint.serial),
                "a joint stands in a string once",
            );
        }
        Some(Read { position, line })
    });
    if diagnostics.errors() > before {
        return None;
    }
    if lines.is_empty() {
        diagnostics.push(table.error("the tally is empty").help("a string has one part at least"));
        return None;
    }
    if positioned {
        lines.sort_by_key(|(_, l)| l.position);
    }
    let mut lines: Vec<TallyLine> = lines.into_iter().map(|(_, l)| l.line).collect();
    if order == Order::TopDown {
        lines.reverse();
    }
    let is_bit = |l: &TallyLine| l.part.as_ref().is_some_and(|p| p.component == Component::Bit);
    if lines.len() > 1 && is_bit(&lines[lines.len() - 1]) && !is_bit(&lines[0]) {
        diagnostics.push(
            table
                .error(
                    "the tally seems to stand from the top down: what belongs at the bit is last",
                )
                .help("write it from the bit up, or state tally_order = \"top down\""),
        );
        return None;
    }
    Some(lines)
}

/// Longer than this is no joint and no tool, but many, m.
const LONGEST: f64 = 60.0;
/// Longer than this is no joint of pipe, m: range 3 ends at 45 ft (API Spec 5DP, from memory).
const LONGEST_PIPE: f64 = 16.0;
/// A joint is no longer than it was made, and repairs take off less than this, m.
const AS_MADE: std::ops::RangeInclusive<f64> = -1.5..=0.3;
/// Strapping and rounding, m: what a cumulative length may differ by from the lengths.
const STRAPPED: f64 = 0.05;

/// What a row says of lengths, m.
struct Strapped {
    row: u64,
    sum: Option<f64>,
    /// Length of one part of the line.
    one: Option<f64>,
    count: u32,
}

/// Holds cumulative lengths against the lengths, row by row from the first on; gives the lengths where
/// the tally has none.
fn cumulative(table: &mut Table, diagnostics: &mut Diagnostics) {
    if !table.has("cumulative") {
        return;
    }
    let rows = table.look(|row| Strapped {
        row: row.number(),
        sum: row.qty("cumulative").and_then(|q| q.base(M::Depth)),
        one: row.qty("length").and_then(|q| q.base(M::JointLength)),
        count: row.count("count").unwrap_or(1).max(1),
    });
    if !table.has("length") {
        give_lengths(table, &rows);
        return;
    }
    // The last line with a sum, and the length of the lines since, while each has one.
    let mut before: Option<(u64, f64)> = None;
    let mut since = Some(0.0);
    for line in &rows {
        let length = line.one.map(|one| one * f64::from(line.count));
        since = since.zip(length).map(|(sum, length)| sum + length);
        let Some(sum) = line.sum else { continue };
        if let (Some((first, before)), Some(length)) = (before, since) {
            let grown = sum - before;
            // A tally from the top down runs the other way: its sums hold without this row.
            if grown > 0.0 && (grown - length).abs() > STRAPPED {
                diagnostics.push(
                    table
                        .error(format!(
                            "the cumulative length grows by {grown:.2} m from row {first} and what \
                             stands since is {length:.2} m long"
                        ))
                        .at_row(line.row)
                        .help(
                            "a joint is missing or was laid down, or a length is wrong: correct the \
                             row; where the sums are out of date, skip them: tally_columns = \
                             '\"Cumulative\" = -'",
                        ),
                );
            }
        }
        (before, since) = (Some((line.row, sum)), Some(0.0));
    }
}

/// Adds a column of lengths: what each line adds to the sums, where the line before it has one.
fn give_lengths(table: &mut Table, rows: &[Strapped]) {
    let Some(field) = table.field("length") else { return };
    let number = 1 + table.rows.iter().map(|r| r.cells.len()).max().unwrap_or(0);
    let sign = if table.decimal == Decimal::Comma { "," } else { "." };
    let mut before = Some(0.0);
    for (raw, line) in table.rows.iter_mut().zip(rows) {
        raw.cells.resize(number, String::new());
        if let (Some(sum), Some(before)) = (line.sum, before) {
            let length = (sum - before) / f64::from(line.count);
            raw.cells[number - 1] = format!("{length:.3} m").replace('.', sign);
        }
        before = line.sum;
    }
    let title = "length by the cumulative lengths".to_owned();
    table.layout.width = number;
    table.layout.columns.push(Column { number, title, field, unit: None });
}

/// What a word in the column of serials stands for where no serial is: BIT, MTR, DC-1. Pipe has serials.
fn tool(text: &str) -> Option<Component> {
    let word =
        text.trim_end_matches(|c: char| c.is_ascii_digit()).trim_end_matches(['-', '_', ' ', '#']);
    match crate::model::fold(word).as_str() {
        "mtr" | "pdm" => return Some(Component::Motor),
        "stb" | "nbs" => return Some(Component::Stabilizer),
        _ => {}
    }
    let found = Component::from_word(word).ok()?;
    (!matches!(found, Component::DrillPipe | Component::HeavyWeight)).then_some(found)
}

/// The component that a description names (`8 1/2 in PDC bit`), where it names one. A sub has the name of
/// what it is beside: a bit sub.
fn in_words(text: &str) -> Option<Component> {
    let folded = crate::model::fold(text);
    let words: Vec<&str> = folded.split('_').filter(|w| !w.is_empty()).collect();
    let mut found: Vec<Component> = Vec::new();
    let mut at = 0;
    while at < words.len() {
        let known = (at + 1..=words.len().min(at + 4)).rev().find_map(|to| {
            let component = Component::from_word(&words[at..to].join("_")).ok()?;
            (component != Component::Other).then_some((component, to))
        });
        match known {
            Some((component, to)) => {
                found.extend((!found.contains(&component)).then_some(component));
                at = to;
            }
            None => at += 1,
        }
    }
    match found[..] {
        [one] => Some(one),
        [_, ..] if found.contains(&Component::Sub) => Some(Component::Sub),
        _ => None,
    }
}

fn line(
    row: &mut Row<'_>,
    context: &Context<'_>,
    at: Option<Moment>,
    serials: &mut BTreeMap<String, u64>,
) -> Option<TallyLine> {
    // An item may be numbered rather than named.
    let numbered = row.text("component").is_some_and(|t| t.parse::<u32>().is_ok());
    let stated = if numbered { None } else { row.word::<Component>("component") };
    let stated = stated.or_else(|| tool(&row.text("serial")?));
    // A joint of the book is what it is; of other parts the description tells.
    let stated = match (stated, row.table().has("component"), row.text("part")) {
        (None, false, Some(text)) if row.text("serial").is_none() => in_words(&text),
        (stated, ..) => stated,
    };
    let length = row.qty("length");
    let count = row.count("count");
    if count == Some(0) {
        row.wrong(Some("count"), "0 parts", "leave the line out");
    }
    check_dimensions(row);
    let serial = row.text("serial");
    let mut joint = None;
    if let Some(text) = &serial {
        let known = Serial::parse(text.rsplit_once('@').map_or(text.as_str(), |(s, _)| s));
        match known {
            Err(e) => row.wrong(Some("serial"), e.to_string(), ""),
            Ok(s) => {
                if let Some(first) = serials.insert(s.key(), row.number()) {
                    row.wrong(
                        Some("serial"),
                        format!("{s} stands in row {first} too"),
                        "a joint stands in a string once",
                    );
                } else if text.contains('@') || !context.lookup.joints(&s.key()).is_empty() {
                    joint = resolve::joint(row, context.lookup, "serial", at);
                } else {
                    unknown(row, &s, stated);
                }
            }
        }
        if count.is_some_and(|n| n > 1) {
            row.wrong(
                Some("count"),
                format!("{text} stands {} times", count.unwrap_or(0)),
                "one line for each joint with a serial",
            );
        }
    }
    let long = length.as_ref().and_then(|q| q.base(M::JointLength)).filter(|l| *l > LONGEST);
    if let (Some(_), Some(length)) = (long, &length) {
        if serial.is_some() || count.is_some_and(|n| n > 1) {
            let message = format!("{length} is no length of one joint");
            row.wrong(Some("length"), message, "check the number and its unit");
        } else {
            row.odd(
                Some("length"),
                format!("{length} is taken as one part: how many joints it has is not told"),
                "where the joints matter, write a line for each, or their number as count",
            );
        }
    }
    let component = stated.or_else(|| joint.as_ref().map(|j| j.component));
    if let (Some(j), Some(length)) = (&joint, &length) {
        as_made(row, context, j, length);
    }
    if let (Some(j), Some(s)) = (&joint, stated)
        && j.component != s
    {
        let (book, serial) = (j.component, j.joint.serial.clone());
        row.odd(
            Some("component"),
            format!("{serial} is a {book} in the book"),
            "the book's word counts for the joint",
        );
    }
    let od = row.qty("od");
    let id = row.qty("id");
    let wall = row.qty("wall");
    // The weight in air is what hangs; the nominal weight only names the size.
    let weight = row.qty("air_weight").or_else(|| row.qty("weight"));
    let tj_od = row.qty("tj_od");
    let connection = row.text("connection");
    let stress_ratio = row.qty("stress_ratio");
    let name = row.text("part");
    let measured =
        [&od, &id, &wall, &weight, &tj_od, &stress_ratio].into_iter().any(Option::is_some);
    let sized = od.is_some() && (id.is_some() || wall.is_some());
    let described = |component, name| PartLine {
        component,
        name,
        od,
        id,
        wall,
        weight,
        tj_od,
        connection,
        stress_ratio,
    };
    if joint.is_some() {
        if !row.is_sound() {
            return None;
        }
        let part = component.filter(|_| measured).map(|component| described(component, None));
        return Some(TallyLine { joint: joint.map(|j| j.joint), part, length, count: None });
    }
    if component.is_none() && row.is_sound() {
        row.missing(
            "component",
            "say what the part is: drill_pipe, drill_collar, stabilizer, bit …",
        );
    }
    if length.is_none() && row.is_sound() {
        row.missing("length", "a part without a joint of the book needs its length");
    }
    let component = component?;
    if !sized && !matches!(component, Component::Bit) && row.is_sound() {
        let what = component.to_string().replace('_', " ");
        row.odd(
            None,
            format!("the {what} has no diameters: its weight and stiffness are unknown"),
            "give od with id or wall, and the weight",
        );
    }
    let part = described(component, serial.or(name));
    Some(TallyLine { joint: None, part: Some(part), length, count: count.filter(|n| *n != 1) })
}

/// Holds the length of a joint in a tally against that of its certificate.
fn as_made(row: &mut Row<'_>, context: &Context<'_>, joint: &JointMatch, length: &Qty) {
    let Some(here) = length.base(M::JointLength) else { return };
    let made = context.lookup.made(&joint.joint.joint).and_then(|b| b.length);
    let serial = &joint.joint.serial;
    if let Some((made, was)) = made.as_ref().and_then(|q| Some((q, q.base(M::JointLength)?))) {
        if here > 1.5 * was {
            row.wrong(
                Some("length"),
                format!("{serial} is {length} long here and {made} by its certificate"),
                "check the number and its unit; a stand of several joints has a line for each",
            );
        } else if !AS_MADE.contains(&(here - was)) {
            row.odd(
                Some("length"),
                format!("{serial} is {length} long here and {made} by its certificate"),
                "check the number and its unit, and whether it is that joint",
            );
        }
    } else if here > LONGEST_PIPE
        && matches!(joint.component, Component::DrillPipe | Component::HeavyWeight)
    {
        row.wrong(
            Some("length"),
            format!("{length} is no length of one joint"),
            "check the number and its unit; a stand of several joints has a line for each",
        );
    }
}

/// A serial that the book does not know. Pipe is what the book is about; a tool with a number of
/// its own may be described instead.
fn unknown(row: &mut Row<'_>, serial: &Serial, component: Option<Component>) {
    match component {
        Some(Component::DrillPipe | Component::HeavyWeight) | None => row.wrong(
            Some("serial"),
            format!("{serial} is no joint of the book"),
            "take in its certificate first, or correct the serial; leave the serial out for a joint that nobody identified",
        ),
        Some(_) => row.odd(
            Some("serial"),
            format!("{serial} is no joint of the book: it is taken as a described part"),
            "take in its certificate first if its life is to be followed",
        ),
    }
}
