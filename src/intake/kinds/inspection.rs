//! Inspections: readings in columns of their own or row by row, findings, declared classes.

use std::collections::BTreeMap;

use super::common::{Context, DATES, date, serial, text, when};
use super::looked::{Entered, drop_planned_methods, entered, is_clean, is_looked_at, read_scopes};
use super::{Made, phrase};
use crate::condition::{Catalogue, Found, Subject, SubjectProblem, implausible};
use crate::intake::diagnostic::Diagnostics;
use crate::intake::resolve;
use crate::intake::table::{Field, Holds, Row, Table};
use crate::model::{
    Body, Class, End, FindingLine, InspectionBody, Moment, NoteBody, Place, Reading, ReadingKind,
    Vocabulary, fold,
};
use crate::units::Measure as M;

/// Prefix of the keys of reading columns: `reading:wall`, `reading:pin:tj_od`.
pub const READING: &str = "reading:";
/// Stands for "any reading column" where a kind of file needs one.
pub(super) const ANY_READING: &str = "reading:";

/// What a reading holds, and what is possible in metres.
fn holds(kind: ReadingKind) -> (Holds, f64, f64) {
    use ReadingKind as R;
    let d = Holds::Of(M::Diameter);
    let w = Holds::Of(M::Wall);
    match kind {
        R::Wall | R::FlawDepth => (Holds::Either(M::Wall, M::Ratio), 0.0, 0.25),
        R::AdjacentWall => (Holds::Either(M::Wall, M::Ratio), 0.0005, 0.25),
        R::BodyOd | R::BodyOdMax | R::SlipOd | R::CentreUpset => (d, 0.02, 0.8),
        R::JointOd | R::Bevel | R::Counterbore => (d, 0.03, 0.8),
        R::JointId => (d, 0.005, 0.7),
        R::ReliefDiameter | R::BorebackDiameter => (d, 0.01, 0.8),
        R::Shoulder | R::CounterboreDepth | R::PinNeck | R::ReliefWidth => (w, 0.0, 0.3),
        R::TongSpace => (w, 0.0, 1.5),
        R::Stretch => (w, -0.005, 0.05),
        R::Benchmark => (w, 0.0, 0.2),
        R::ProfileGap => (w, 0.0, 0.02),
        R::HardbandHeight => (w, -0.02, 0.05),
        R::Bow => (w, 0.0, 2.0),
        R::Length => (Holds::Of(M::JointLength), 0.05, 30.0),
        R::ElevatorGroove | R::SlipGroove => (w, 0.0, 0.1),
    }
}

/// Whose reading it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Of {
    /// The joint as a whole, or its tube.
    Joint,
    /// One end by its nature.
    Only(End),
    /// Either end, which must be said.
    AnEnd,
}

impl Of {
    const fn natural(self) -> Option<End> {
        match self {
            Self::Only(end) => Some(end),
            Self::Joint | Self::AnEnd => None,
        }
    }
}

fn of_end(kind: ReadingKind) -> Of {
    match (kind, kind.spec().ends) {
        // A bore without an end is the pin's, whose strength it decides; relief must say which.
        (ReadingKind::JointId, _) => Of::Only(End::Pin),
        (ReadingKind::ReliefDiameter | ReadingKind::ReliefWidth, _) => Of::AnEnd,
        (_, []) => Of::Joint,
        (_, [end]) => Of::Only(*end),
        (_, [..]) => Of::AnEnd,
    }
}

fn key(kind: ReadingKind, end: Option<End>) -> String {
    match end {
        Some(end) => format!("{READING}{}:{}", end.word(), kind.word()),
        None => format!("{READING}{}", kind.word()),
    }
}

/// Key of the column of findings at one place: `slip_area_finding`.
fn finding_key(place: Place) -> String {
    format!("{}_finding", place.word())
}

/// One column for the findings of every place.
fn finding_fields() -> Vec<Field> {
    let of_place = |place: &Place| {
        let key = finding_key(*place);
        let words = std::iter::once(place.word()).chain(place.aliases().iter().copied());
        let names: Vec<String> = words
            .flat_map(|w| {
                ["findings", "finding", "defects", "defect"].map(|noun| format!("{w}_{noun}"))
            })
            .filter(|n| *n != key)
            .collect();
        let mut field = Field::new(&key, Holds::Text, "");
        field.aliases = names;
        field
    };
    // Findings of the body are those of the tube, which has a column of its own.
    Place::ALL.iter().filter(|p| **p != Place::Body).map(of_place).collect()
}

/// One column for every reading, at an end where it has one.
pub(super) fn reading_fields() -> Vec<Field> {
    let mut out = Vec::new();
    for kind in ReadingKind::ALL.iter().copied() {
        let (holds, min, max) = holds(kind);
        let field = |key: String, names: Vec<String>| {
            let mut f =
                Field::new(&key, holds, "").within(min, max, "not possible for this reading");
            f.aliases = names;
            f
        };
        let words: Vec<&str> = std::iter::once(kind.word())
            .chain(kind.aliases().iter().copied())
            // The size of a finding has its own column; "pin bore" is spelled below.
            .filter(|w| *w != "depth" && !w.starts_with("pin_") && !w.starts_with("box_"))
            .collect();
        let mut bare: Vec<String> = words.iter().map(|w| (*w).to_owned()).collect();
        if kind == ReadingKind::Wall {
            bare.extend(
                [
                    "wall_thickness",
                    "wt",
                    "lowest_wall",
                    "wall_remaining",
                    "tube_wall",
                    "body_wall",
                    "rem_wall",
                    "wall_rem",
                    "min_wall_thickness",
                    "minimum_wall",
                    "minimum_wall_thickness",
                    "remaining_wall_thickness",
                    "remaining_body_wall",
                    "wall_ut",
                    "ut_wall_thickness",
                    "min_wt",
                ]
                .map(str::to_owned),
            );
        }
        out.push(field(key(kind, None), bare));
        let of = of_end(kind);
        if of == Of::Joint {
            continue;
        }
        for end in [End::Pin, End::Box] {
            if of.natural().is_some_and(|n| n != end) {
                continue;
            }
            let e = end.word();
            let mut words: Vec<&str> = words.clone();
            match kind {
                ReadingKind::JointOd => words.extend(["od", "outside_diameter"]),
                ReadingKind::JointId => words.extend(["id", "bore", "inside_diameter"]),
                ReadingKind::PinNeck => words.extend(["cylinder", "neck"]),
                ReadingKind::Stretch => words.extend(["stretch", "lead"]),
                _ => {}
            }
            let mut names: Vec<String> = words
                .iter()
                .flat_map(|w| [format!("{e}_{w}"), format!("{w}_{e}"), format!("{e}_end_{w}")])
                .collect();
            if kind == ReadingKind::PinNeck {
                names.push("pin_neck".to_owned());
            }
            names.sort_unstable();
            names.dedup();
            out.push(field(key(kind, Some(end)), names));
        }
    }
    out
}

pub(super) fn fields() -> Vec<Field> {
    let mut f = vec![
        serial(),
        when(
            "date",
            &format!(
                "{DATES} inspected inspection_date date_inspected inspected_on insp_date date_of_inspection date_insp"
            ),
        ),
        text("methods", "method methods_used inspection_method inspection_methods technique"),
        text("covers", "scope coverage"),
        text("standard", "specification category level inspected_to procedure"),
        text("firm", "inspection_company inspection_firm company"),
        text("inspector", "inspected_by inspector_name by"),
        text("report", "report_no report_number job job_no"),
        text("instrument", "gauge instrument_tag gauge_tag"),
        text("class", "declared declared_class overall_class pipe_class"),
        text("tube_class", "declared_tube body_class class_tube"),
        text("pin_class", "declared_pin class_pin pin_condition"),
        text("box_class", "declared_box class_box box_condition"),
        text("paint", "paint_bands bands band paint_band"),
        text("location", "yard inspected_at"),
        text("remark", "remarks comment comments note notes"),
        // One reading or finding a row.
        text("reading", "measurement what measured reading_of"),
        Field::new("value", Holds::Any, "measured_value result"),
        text("end", "side which_end"),
        Field::new("at", Holds::Of(M::Depth), "distance distance_from_pin from_pin at_distance")
            .within(0.0, 30.0, "not on the joint"),
        text("position", "clock clock_position o_clock"),
        text("finding", "findings defect defects observation"),
        text("tube_finding", "body_finding tube_findings body_findings tube_defect tube_found"),
        text("pin_finding", "pin_findings pin_defect pin_defects finding_pin pin_found"),
        text("box_finding", "box_findings box_defect box_defects finding_box box_found"),
        text("place", "where area finding_place"),
        Field::new(
            "size",
            Holds::Either(M::Wall, M::Ratio),
            "finding_size depth finding_depth extent defect_depth height",
        )
        .within(0.0, 30.0, "no size of a finding"),
        Field::new("share", Holds::Of(M::Ratio), "share_of_seal percent_of_seal percent")
            .within(0.0, 1.0, "no share; it lies between 0 and 100 %")
            .implies(&[("percent_of_seal", "%"), ("percent", "%")]),
        text("direction", "orientation transverse"),
    ];
    f.extend(finding_fields());
    f.extend(reading_fields());
    f
}

/// Readings in columns of their own.
pub(super) fn readings(row: &mut Row<'_>) -> Vec<Reading> {
    let row_end = row.word::<End>("end");
    let mut out = Vec::new();
    for kind in ReadingKind::ALL.iter().copied() {
        for end in [None, Some(End::Pin), Some(End::Box)] {
            let key = key(kind, end);
            if row.table().field(&key).is_none() {
                continue;
            }
            let Some((value, _)) = row.quantity(&key) else { continue };
            if end.is_none() && is_of_another(row, kind, row_end, &key) {
                continue;
            }
            let end = match (of_end(kind), end) {
                (Of::Joint, _) => None,
                (_, Some(end)) | (Of::Only(end), None) => Some(end),
                (Of::AnEnd, None) if kind == ReadingKind::HardbandHeight => row_end,
                (Of::AnEnd, None) => {
                    if row_end.is_none() {
                        row.wrong(
                            Some(&key),
                            format!(
                                "{} is a reading of one end, and the row names none",
                                kind.word().replace('_', " ")
                            ),
                            "title the columns pin … and box …, or add an end column",
                        );
                        continue;
                    }
                    row_end
                }
            };
            out.push(Reading {
                what: kind,
                end,
                value,
                at: None,
                position: None,
                instrument: None,
            });
        }
    }
    out
}

/// Whether a column that is called OD alone stands in the row of an end, which is said: the tube has an
/// outside diameter of its own.
fn is_of_another(row: &mut Row<'_>, kind: ReadingKind, end: Option<End>, key: &str) -> bool {
    let (Some(end), Some((title, unit))) = (end, row.column(key)) else { return false };
    let bare = fold(title.split(['[', '(', ',']).next().unwrap_or_default());
    if kind != ReadingKind::BodyOd || !matches!(bare.as_str(), "od" | "outside_diameter") {
        return false;
    }
    let message =
        format!("the row is of the {}, and '{title}' is a reading of the tube", end.word());
    let help = format!(
        "where the tool joint was measured, say so: --columns '\"{title}\" = tj_od [{unit}]'"
    );
    row.wrong(Some(key), message, &help);
    true
}

/// The reading of a row that holds one: `reading`, `value`, `end`, `at`.
fn row_reading(row: &mut Row<'_>) -> Option<Reading> {
    let kind = row.word::<ReadingKind>("reading");
    match (kind, row.text("value")) {
        (None, None) => return None,
        (None, Some(text)) if !text.contains(|c: char| c.is_ascii_digit()) => {
            let title = row.column("value").map_or("value", |c| c.0);
            let help = format!(
                "what was decided stands in a column class, tube class, pin class or box class; to leave \
                 the column out: --columns '\"{title}\" = -'"
            );
            row.wrong(Some("value"), format!("'{text}' is the value of no reading"), &help);
            return None;
        }
        (None, Some(_)) => {
            if row.is_sound() {
                row.missing("reading", "say what was measured: wall, tj_od, shoulder …");
            }
            return None;
        }
        (Some(_), None) => {
            row.missing("value", "a reading without its value is left out, not written empty");
            return None;
        }
        (Some(_), Some(_)) => {}
    }
    let (kind, value) = (kind?, row.any("value")?);
    let (holds, min, max) = holds(kind);
    let fits = holds.measures().find(|m| value.quantity(*m).is_ok());
    let Some(measure) = fits else {
        let message = format!("{value} is not in a unit of {}", kind.word().replace('_', " "));
        row.wrong(Some("value"), message, &format!("write {}", holds.examples()));
        return None;
    };
    if measure != M::Ratio && !value.base(measure).is_some_and(|v| (min..=max).contains(&v)) {
        let message = format!("{value} is not possible for this reading");
        row.wrong(Some("value"), message, "check the number and its unit");
        return None;
    }
    let end = row.word::<End>("end").or_else(|| of_end(kind).natural());
    if of_end(kind) == Of::AnEnd && end.is_none() && kind != ReadingKind::HardbandHeight {
        row.missing("end", "say pin or box");
        return None;
    }
    Some(Reading {
        what: kind,
        end: if of_end(kind) == Of::Joint { None } else { end },
        value,
        at: row.qty("at"),
        position: row.text("position"),
        instrument: None,
    })
}

/// What is found, each with the column that says so.
fn findings(row: &mut Row<'_>, c: &Context<'_>) -> Vec<(String, FindingLine)> {
    let mut out = Vec::new();
    for (key, column_end, column_place) in finding_columns() {
        let key = key.as_str();
        if row.table().field(key).is_none() {
            continue;
        }
        let Some(text) = row.text(key) else { continue };
        let parts: Vec<&str> = text.split(';').map(str::trim).filter(|p| !is_clean(p)).collect();
        for part in &parts {
            let phrase = match phrase::read(part, c.lookup.catalogue()) {
                Ok(phrase) => phrase,
                Err(e) => {
                    let digits = part.ends_with(|c: char| c.is_ascii_digit());
                    let help = if digits {
                        "a size behind a finding has its unit: dent 4.85 in, galled 15 %"
                    } else {
                        ""
                    };
                    row.wrong(Some(key), e.to_string(), help);
                    continue;
                }
            };
            let mut line = FindingLine {
                what: phrase.what,
                place: phrase.place.or(column_place),
                end: column_end,
                size: phrase.size,
                share: phrase.share,
                transverse: phrase.transverse,
                at: phrase.at,
                remark: None,
            };
            if key == "finding" {
                of_the_row(row, &mut line, parts.len());
            }
            if let Err(problem) = check(&line, c.lookup.catalogue()) {
                row.wrong(Some(key), problem.to_string(), "");
            }
            out.push((key.to_owned(), line));
        }
    }
    if out.is_empty() && row.text("size").is_some() && row.text("finding").is_none() {
        row.wrong(Some("size"), "a size stands in the row and no finding", "name the finding");
    }
    out
}

/// Columns that name findings, with the end or the place that each is about.
pub(super) fn finding_columns() -> Vec<(String, Option<End>, Option<Place>)> {
    let mut columns = vec![
        ("finding".to_owned(), None, None),
        ("tube_finding".to_owned(), None, None),
        ("pin_finding".to_owned(), Some(End::Pin), None),
        ("box_finding".to_owned(), Some(End::Box), None),
    ];
    columns.extend(Place::ALL.iter().map(|p| (finding_key(*p), None, Some(*p))));
    columns
}

/// What the row's own columns say of its one finding.
fn of_the_row(row: &mut Row<'_>, line: &mut FindingLine, findings: usize) {
    line.place = row.word::<Place>("place").or(line.place);
    line.end = row.word::<End>("end");
    if let Some(t) = row.text("direction") {
        line.transverse = phrase::direction(&t).or_else(|| {
            let message = format!("'{t}' is no direction");
            row.wrong(Some("direction"), message, "write transverse or longitudinal");
            None
        });
    }
    // One size belongs to one finding.
    if findings > 1 {
        if row.text("size").is_some() || row.text("share").is_some() {
            row.wrong(
                Some("size"),
                format!("the row has {findings} findings and one size"),
                "write each size behind its finding: galled 15 %; dent 4.85 in",
            );
        }
        return;
    }
    let twice = |own: &Option<_>, column: &Option<_>| own.is_some() && column.is_some();
    let (size, share, at) = (row.qty("size"), row.qty("share"), row.qty("at"));
    if twice(&line.size, &size) || twice(&line.share, &share) {
        row.wrong(
            Some("size"),
            "the finding has a size behind it, and the row another",
            "keep one of the two",
        );
    }
    line.size = size.or(line.size.take());
    line.share = share.or(line.share.take());
    line.at = at.or(line.at.take());
}

/// Whether a finding can be used: found there, on that end, with a size in a unit that fits.
fn check(line: &FindingLine, catalogue: Option<&Catalogue>) -> Result<(), SubjectProblem> {
    catalogue.map_or(Ok(()), |catalogue| Found::read(line, catalogue).map(|_| ()))
}

/// Holds what was read against the joint as it was made: a value that cannot be is named with its
/// cell before anyone believes it.
fn plausible(row: &mut Row<'_>, body: &InspectionBody, c: &Context<'_>) {
    let Some(made) = c.lookup.made(&body.joint.joint) else { return };
    let Some(catalogue) = c.lookup.catalogue() else { return };
    let (subject, errors) = Subject::of_joint(&made).inspected(body, catalogue);
    for e in errors.iter().filter(|e| e.place.starts_with("reading")) {
        row.wrong(None, e.to_string(), "");
    }
    unlikely(row, &subject);
}

/// Names what a subject cannot have, each with its cell.
pub(super) fn unlikely(row: &mut Row<'_>, subject: &Subject) {
    for i in implausible(subject) {
        let (end, kind) = i.what.split_once(' ').unwrap_or(("", &i.what));
        let with_end = format!("{READING}{end}:{kind}");
        let bare = format!("{READING}{kind}");
        let key = [with_end, bare, "value".to_owned()]
            .into_iter()
            .chain(finding_columns().into_iter().map(|f| f.0))
            .find(|k| row.table().field(k).is_some() && row.text(k).is_some());
        let name = i.what.replace('_', " ");
        row.wrong(key.as_deref(), format!("{name} {}", i.why), "");
    }
}

fn inspection(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, InspectionBody)> {
    let date = date(row);
    let joint = resolve::need_joint(row, c.lookup, "serial", date).map(|m| m.joint);
    let mut readings = readings(row);
    readings.extend(row_reading(row));
    let findings = findings(row, c).into_iter().map(|f| f.1).collect();
    let (mut methods, mut covers) = (row.words("methods"), row.words("covers"));
    if entered(row) < Entered::Work {
        (methods, covers) = (Vec::new(), Vec::new());
    }
    let body = InspectionBody {
        methods,
        covers,
        standard: row.text("standard"),
        firm: row.text("firm"),
        inspector: row.text("inspector"),
        report: row.text("report"),
        instrument: row.text("instrument"),
        readings,
        findings,
        declared: row.word::<Class>("class"),
        declared_tube: row.word::<Class>("tube_class"),
        declared_pin: row.word::<Class>("pin_class"),
        declared_box: row.word::<Class>("box_class"),
        paint: row.text("paint"),
        location: row.text("location"),
        remark: row.text("remark"),
        joint: joint?,
    };
    plausible(row, &body, c);
    Some((date?, body))
}

/// Refuses what is no inspection: nothing says that anybody looked. A remark alone is a note.
fn looked_at(row: &mut Row<'_>, body: &InspectionBody) -> Option<NoteBody> {
    if is_looked_at(body) || !row.is_sound() {
        return None;
    }
    let declared = [body.declared, body.declared_tube, body.declared_pin, body.declared_box];
    let help = if declared.iter().any(Option::is_some) {
        "write the methods by which the class was given, or a reading; what a person decides \
         without an inspection is a decision"
    } else {
        "write what was measured or found, or the methods by which nothing was: methods = visual \
         tube; visual connection"
    };
    match &body.remark {
        Some(text) if declared.iter().all(Option::is_none) && body.paint.is_none() => {
            Some(NoteBody { joints: vec![body.joint.clone()], about: None, text: text.clone() })
        }
        _ => {
            let message = "no reading, no finding and no method: nothing says that the joint was \
                           looked at";
            row.wrong(None, message, help);
            None
        }
    }
}

/// Rows of one joint, day and report are one inspection.
pub(super) fn read(table: &mut Table, c: &Context<'_>, diagnostics: &mut Diagnostics) -> Vec<Made> {
    let mut places: BTreeMap<(String, String, Option<String>), usize> = BTreeMap::new();
    let mut out: Vec<(Made, InspectionBody)> = Vec::new();
    let (mut remarks, mut untouched) = (Vec::new(), Vec::new());
    drop_planned_methods(table, diagnostics);
    table.each(diagnostics, |row| {
        if entered(row) == Entered::Nothing {
            untouched.push(row.number());
            return None;
        }
        let (date, body) = inspection(row, c)?;
        if let Some(note) = looked_at(row, &body) {
            let body = Body::Note(note);
            remarks.push(Made { rows: vec![row.number()], effective: date, body });
            return Some(());
        }
        if !row.is_sound() {
            return None;
        }
        let id = (body.joint.to_string(), date.to_string(), body.report.clone());
        match places.get(&id) {
            None => {
                places.insert(id, out.len());
                let made =
                    Made { rows: vec![row.number()], effective: date, body: placeholder(&body) };
                out.push((made, body));
            }
            Some(at) => {
                let (made, held) = &mut out[*at];
                if join(row, held, body, &made.rows) {
                    made.rows.push(row.number());
                }
            }
        }
        Some(())
    });
    table.not_looked_at = untouched;
    let inspections = out.into_iter().map(|(made, mut body)| {
        if body.methods.is_empty() && body.covers.is_empty() {
            body.covers = read_scopes(&body.readings);
        }
        Made { body: Body::Inspection(Box::new(body)), ..made }
    });
    inspections.chain(remarks).collect()
}

/// The body is filled in when all rows of an inspection are read.
fn placeholder(body: &InspectionBody) -> Body {
    Body::Note(NoteBody { joints: vec![body.joint.clone()], about: None, text: String::new() })
}

fn join(row: &mut Row<'_>, held: &mut InspectionBody, more: InspectionBody, rows: &[u64]) -> bool {
    let first = rows.first().copied().unwrap_or_default();
    for reading in &more.readings {
        let again = held.readings.iter().find(|r| {
            (r.what, r.end) == (reading.what, reading.end)
                && r.at == reading.at
                && r.position == reading.position
        });
        if let Some(again) = again {
            let message = format!(
                "{} of {} was read twice that day: {} in row {first} and {}",
                reading.what, held.joint.serial, again.value, reading.value
            );
            row.wrong(
                None,
                message,
                "keep one, or give each its place (at, position) or its report",
            );
        }
    }
    let mut take = |a: &mut Option<String>, b: Option<String>, what: &str| match (&*a, b) {
        (_, None) => {}
        (None, b) => *a = b,
        (Some(x), Some(y)) if *x == y => {}
        (Some(x), Some(y)) if what == "remark" => *a = Some(format!("{x}; {y}")),
        (Some(x), Some(y)) => {
            let message = format!("{what} is '{x}' in row {first} and '{y}' here");
            row.wrong(
                None,
                message,
                "rows of one inspection say the same, or have a report number each",
            );
        }
    };
    take(&mut held.standard, more.standard, "standard");
    take(&mut held.firm, more.firm, "firm");
    take(&mut held.inspector, more.inspector, "inspector");
    take(&mut held.instrument, more.instrument, "instrument");
    take(&mut held.paint, more.paint, "paint");
    take(&mut held.location, more.location, "location");
    take(&mut held.remark, more.remark, "remark");
    for (a, b, what) in [
        (&mut held.declared, more.declared, "class"),
        (&mut held.declared_tube, more.declared_tube, "class of the tube"),
        (&mut held.declared_pin, more.declared_pin, "class of the pin"),
        (&mut held.declared_box, more.declared_box, "class of the box"),
    ] {
        match (*a, b) {
            (None, b) => *a = b,
            (Some(x), Some(y)) if x != y => {
                let message = format!("the {what} is {x} in row {first} and {y} here");
                row.wrong(None, message, "an inspection declares one class");
            }
            _ => {}
        }
    }
    if !row.is_sound() {
        return false;
    }
    for method in more.methods {
        if !held.methods.contains(&method) {
            held.methods.push(method);
        }
    }
    for scope in more.covers {
        if !held.covers.contains(&scope) {
            held.covers.push(scope);
        }
    }
    held.readings.extend(more.readings);
    held.findings.extend(more.findings);
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::table::{Fields, find};

    #[test]
    fn reading_titles() {
        let f = Fields::new(fields());
        for (title, key, unit) in [
            ("Wall [in]", "reading:wall", Some("in")),
            ("min wall (%)", "reading:wall", Some("%")),
            ("pin od [in]", "reading:pin:tj_od", Some("in")),
            ("OD pin (mm)", "reading:pin:tj_od", Some("mm")),
            ("Box OD, in", "reading:box:tj_od", Some("in")),
            ("box shoulder", "reading:box:shoulder", None),
            ("Box seal width [in]", "reading:box:shoulder", Some("in")),
            ("Pin tong space [in]", "reading:pin:tong_space", Some("in")),
            ("Qc [in]", "reading:counterbore", Some("in")),
            ("Pin stretch [in]", "reading:pin:stretch", Some("in")),
            ("pin bore [in]", "reading:pin:tj_id", Some("in")),
            ("Body OD [in]", "reading:body_od", Some("in")),
            ("Depth [mm]", "size", Some("mm")),
            ("Box findings", "box_finding", None),
        ] {
            let named = find(title, &f).unwrap_or_else(|| panic!("{title}"));
            assert_eq!(
                (f[named.field].key.as_str(), named.unit.as_deref()),
                (key, unit),
                "{title}"
            );
        }
    }
}
