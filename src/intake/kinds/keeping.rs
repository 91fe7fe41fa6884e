//! Instruments and their checks, decisions, notes.

use super::common::{Context, DATES, SERIALS, date, entries, text, when};
use crate::intake::resolve;
use crate::intake::table::{Field, Holds, Row};
use crate::model::{
    Body, CheckBody, CheckKind, Class, DecisionBody, End, InstrumentBody, InstrumentKind, Moment,
    NoteBody, Ruling, RulingKind, Vocabulary, fold,
};

const REMARKS: &str = "remarks comment comments";

pub(super) fn instrument_fields() -> Vec<Field> {
    vec![
        text("tag", "tag_no instrument_tag equipment_tag"),
        when("date", &format!("{DATES} in_use_since")),
        text("instrument", "what kind type equipment"),
        text("serial", "serial_no serial_number sn maker_serial"),
        Field::new("tolerance", Holds::Any, "allowed_deviation tol"),
        Field::new("range_from", Holds::Any, "range_low lowest"),
        Field::new("range_to", Holds::Any, "range_high highest range capacity"),
        text("location", "place where rig"),
        text("remark", REMARKS),
    ]
}

pub(super) fn instrument(row: &mut Row<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let tag = row.need_text("tag", "the tag by which readings and runs name it");
    if row.text("instrument").is_none() {
        row.missing("instrument", "say what it is: torque_gauge, load_cell, master_bushing …");
    }
    let what = row.word::<InstrumentKind>("instrument");
    let body = InstrumentBody {
        serial: row.text("serial"),
        tolerance: row.any("tolerance"),
        range_from: row.any("range_from"),
        range_to: row.any("range_to"),
        location: row.text("location"),
        remark: row.text("remark"),
        tag: tag?,
        what: what?,
    };
    Some((date?, Body::Instrument(body)))
}

pub(super) fn check_fields() -> Vec<Field> {
    vec![
        text("tag", "tag_no instrument_tag equipment_tag instrument equipment"),
        when("date", &format!("{DATES} checked checked_on")),
        text("how", "check kind method kind_of_check"),
        Field::new("reference", Holds::Any, "reference_value known_value true_value"),
        Field::new("reading", Holds::Any, "as_found value_read read"),
        text("against", "reference_instrument reference_tag compared_with"),
        Field::new("passed", Holds::Flag, "pass result good"),
        text("certificate", "certificate_no cert cert_no"),
        when("valid_until", "good_until next_due expires due"),
        text("remark", REMARKS),
    ]
}

pub(super) fn check(row: &mut Row<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let tag = row.need_text("tag", "name the instrument that was checked");
    if row.text("how").is_none() {
        row.missing("how", "say how: tandem, known_weight, calibration, slip_test …");
    }
    let how = row.word::<CheckKind>("how");
    if row.text("passed").is_none() {
        row.missing("passed", "say whether it passed: yes or no");
    }
    let passed = row.flag("passed");
    let valid_until = row.moment("valid_until");
    if let (Some(date), Some(until)) = (date, valid_until)
        && until.end(row.clock()).0 < date.start(row.clock()).0
    {
        row.wrong(
            Some("valid_until"),
            format!("the check is good until {until}, before it was made on {date}"),
            "correct one of the dates",
        );
    }
    let body = CheckBody {
        reference: row.any("reference"),
        reading: row.any("reading"),
        against: row.text("against"),
        certificate: row.text("certificate"),
        valid_until,
        remark: row.text("remark"),
        tag: tag?,
        how: how?,
        passed: passed?,
    };
    Some((date?, Body::Check(body)))
}

pub(super) fn decision_fields() -> Vec<Field> {
    vec![
        when("date", &format!("{DATES} decided decided_on")),
        Field::new("serial", Holds::Serial, &format!("{SERIALS} joints")),
        text("ruling", "decision what"),
        text("class", "new_class"),
        text("end", "side which_end"),
        text("waives", "rule criterion waived"),
        text("stands", "entries_that_stand"),
        text("falls", "entries_that_fall"),
        text("reason", "why because"),
        text("authority", "by decided_by on_authority_of"),
        when("until", "to expires"),
    ]
}

pub(super) fn decision(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let joints = resolve::joints(row, c.lookup, "serial", date);
    let reason = row.need_text("reason", "a decision says why");
    let word = row.need_text("ruling", "class, quarantine, release, retire, settle or waive");
    let kind = word.as_deref().and_then(|word| {
        let known = RulingKind::from_word(word).ok();
        if known.is_none() {
            row.wrong(
                Some("ruling"),
                format!("'{}' is no decision", fold(word)),
                "write class, quarantine, release, retire, settle or waive",
            );
        }
        known
    });
    let ruling = kind.and_then(|kind| match kind {
        RulingKind::Class => {
            if row.text("class").is_none() {
                row.missing("class", "say which class");
            }
            let class = row.word::<Class>("class")?;
            Some(Ruling::Class { class, end: row.word::<End>("end") })
        }
        RulingKind::Quarantine => Some(Ruling::Quarantine),
        RulingKind::Release => Some(Ruling::Release),
        RulingKind::Retire => Some(Ruling::Retire),
        RulingKind::Settle => {
            let (stands, falls) = (entries(row, c, "stands"), entries(row, c, "falls"));
            if stands.is_empty() && falls.is_empty() && row.is_sound() {
                row.missing("stands", "name the entries that stand and those that fall");
            }
            Some(Ruling::Settle { stands, falls })
        }
        RulingKind::Waive => {
            row.need_text("waives", "name the rule or criterion").map(|what| Ruling::Waive { what })
        }
    });
    if joints.is_empty() && row.is_sound() && !matches!(ruling, Some(Ruling::Settle { .. })) {
        row.missing("serial", "name the joints that the decision is about");
    }
    let body = DecisionBody {
        joints,
        authority: row.text("authority"),
        until: row.moment("until"),
        ruling: ruling?,
        reason: reason?,
    };
    Some((date?, Body::Decision(body)))
}

pub(super) fn note_fields() -> Vec<Field> {
    vec![
        when("date", DATES),
        Field::new("serial", Holds::Serial, &format!("{SERIALS} joints")),
        text("about", "entry about_entry"),
        text("note", "text remark remarks comment"),
    ]
}

pub(super) fn note(row: &mut Row<'_>, c: &Context<'_>) -> Option<(Moment, Body)> {
    let date = date(row);
    let joints = resolve::joints(row, c.lookup, "serial", date);
    let about = resolve::entry(row, c.lookup, "about");
    let text = row.need_text("note", "a note has a text");
    Some((date?, Body::Note(NoteBody { joints, about, text: text? })))
}
