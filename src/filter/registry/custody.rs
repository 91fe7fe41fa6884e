//! Fields of events, failures, moves, hires and decisions.

use crate::units::Measure as M;

use super::words::lexicons as w;
use super::{Col, Field, Kind, Record, Stored};

const TEXT: Kind = Kind::Text;
const DATE: Kind = Kind::Date;

const fn stored(
    record: Record,
    name: &'static str,
    column: &'static str,
    kind: Kind,
    help: &'static str,
) -> Field {
    let stored = Stored::Column(Col { table: record.table(), name: column });
    Field::new(Some(record), name, kind, stored, help, "the record's entry")
}

const fn plain(record: Record, name: &'static str, kind: Kind, help: &'static str) -> Field {
    stored(record, name, name, kind, help)
}

/// The table.
pub(super) fn fields() -> Vec<Field> {
    use Record::{Decision, Event, Failure, Hire, Move};
    let back = Col { table: Hire.table(), name: "back" };
    vec![
        stored(Event, "date", "at", DATE, "when"),
        plain(
            Event,
            "what",
            Kind::Word(w::EVENT),
            "jarring, overpull, stuck, h2s, fishing, drop …",
        ),
        plain(Event, "pull", Kind::Measure(M::Force), "largest pull"),
        plain(Event, "torque", Kind::Measure(M::Torque), "largest torque"),
        stored(Event, "blows", "count", Kind::Measure(M::Count), "blows or shots").also(&["shots"]),
        plain(Event, "depth", Kind::Measure(M::Depth), "depth"),
        //
        stored(Failure, "date", "at", DATE, "when"),
        plain(
            Failure,
            "what",
            Kind::Word(w::FAILURE),
            "washout, twist_off, pin_break, box_split …",
        ),
        plain(Failure, "place", Kind::Word(w::PLACE), "where on the joint"),
        plain(Failure, "end", Kind::Word(w::END), "pin or box, for a connection").or_none(),
        plain(Failure, "from_pin", Kind::Measure(M::JointLength), "distance from the pin shoulder"),
        plain(Failure, "well", TEXT, "well"),
        plain(Failure, "depth", Kind::Measure(M::Depth), "measured depth of the place"),
        plain(Failure, "torque", Kind::Measure(M::Torque), "torque then"),
        plain(Failure, "pull", Kind::Measure(M::Force), "pull then"),
        plain(Failure, "operation", TEXT, "what the rig was doing"),
        //
        stored(Move, "date", "at", DATE, "when"),
        plain(Move, "location", TEXT, "where to"),
        plain(Move, "string", TEXT, "string from then on").or_none(),
        plain(Move, "status", Kind::Word(w::STATUS), "status from then on"),
        //
        stored(Hire, "date", "at", DATE, "when it went out"),
        plain(Hire, "name", TEXT, "name of the hire").also(&["hire"]),
        plain(Hire, "party", TEXT, "who took it"),
        plain(Hire, "contract", TEXT, "contract reference"),
        plain(Hire, "back", DATE, "when it came back").or_none(),
        Field::new(
            Some(Hire),
            "still_out",
            Kind::Flag,
            Stored::Missing(back),
            "has not come back",
            "the record's entry",
        ),
        //
        stored(Decision, "date", "at", DATE, "when"),
        plain(
            Decision,
            "ruling",
            Kind::Word(w::RULING),
            "class, quarantine, release, retire, settle or waive",
        ),
        plain(Decision, "class", Kind::Word(w::CLASS), "class given").or_none(),
        plain(Decision, "end", Kind::Word(w::END), "the end that it is about").or_none(),
        plain(Decision, "until", DATE, "until when it holds").or_none(),
        plain(Decision, "authority", TEXT, "on whose authority").or_none(),
        plain(Decision, "reason", TEXT, "why"),
    ]
}
