//! Records of a joint: one row for each inspection, finding, repair, make-up and the like, in the total
//! order of its facts: the instant, and at one instant the kind of fact and the name of the entry. The
//! place of a fact among those of its instant is its `turn`.

use crate::condition::Disposition;
use crate::model::{
    Class, End, EventKind, FailureKind, Method, Place, RulingKind, Scope, Status, TorqueVerdict,
    Work,
};
use crate::units::Measure as M;

use super::table;
use super::{Table, Words};

const INSPECTION: &str = "the inspection's entry";
const REPAIR: &str = "the repair's entry";
const MAKEUP: &str = "the make-up's entry";
const RECORD: &str = "the record's entry";

table! {
    /// An inspection of a joint.
    InspectionRow in inspection, key (joint, date, turn) {
        /// the joint
        joint: i64;
        /// when
        date: i64, .date().from(INSPECTION);
        /// place among the joint's facts of its instant
        turn: i64;
        /// place of its entry
        entry: i64;
        /// what it covers: wall, slip_cracks, pin, box, hardband …
        covers: i64, .set(Words::of::<Scope>()).from(INSPECTION);
        /// how it looked: electromagnetic, ultrasonic_wall, visual_tube …
        method: i64, .set(Words::of::<Method>()).from(INSPECTION).also(&["methods"]);
        /// standard and category inspected to
        standard: Option<String>, .from(INSPECTION);
        /// who did it
        firm: Option<String>, .from(INSPECTION);
        /// inspector
        inspector: Option<String>, .from(INSPECTION);
        /// job or report number
        report: Option<String>, .from(INSPECTION);
        /// tag of the instrument
        gauge: Option<String>, .from(INSPECTION).also(&["instrument"]);
        /// an instrument of it failed its next check
        instrument_doubtful: bool, .from(INSPECTION).also(&["gauge_doubtful"]).counted();
        /// class before it
        class_before: Option<Class>, .from(INSPECTION).titled("before").unknown("nobody had judged it");
        /// class after it
        class: Option<Class>, .from(INSPECTION).unknown("too little was read");
        /// class of the tube after it
        tube_class: Option<Class>, .from(INSPECTION).unknown("too little was read");
        /// class of the pin end after it
        pin_class: Option<Class>, .from(INSPECTION).unknown("too little was read");
        /// class of the box end after it
        box_class: Option<Class>, .from(INSPECTION).unknown("too little was read");
        /// what decided the class
        criterion: Option<String>, .word(Words::CRITERIA).from(INSPECTION)
            .unknown("nothing decided");
        /// what may be done with the joint
        disposition: Option<String>, .word(Words::of::<Disposition>()).from(INSPECTION).titled("what follows").unknown("the catalogue does not say");
        /// class that the inspector gave
        declared_class: Option<Class>, .from(INSPECTION).or_none("the inspector gave none");
        /// what the verdict would have needed and nobody read
        not_measured: Option<String>, .word(Words::WANTS).several().from(INSPECTION)
            .or_none("nothing was missing");
        /// set of limits that judged it
        limits: Option<String>;
        /// number of findings
        findings: i64, .count().from(INSPECTION);
        /// paint bands seen; they give no class
        paint: Option<String>, .from(INSPECTION).or_none("none was seen");
        /// lowest wall as a part of the nominal one; with a length it is the thickness
        wall: Option<i64>, .of(M::Ratio).from(INSPECTION).also(&["remaining_wall"]);
        /// lowest wall
        wall_thickness: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// smallest outside diameter of the body
        body_od: Option<i64>, .of(M::Diameter).from(INSPECTION);
        /// largest outside diameter of the body
        body_od_max: Option<i64>, .of(M::Diameter).from(INSPECTION);
        /// outside diameter in the slip area
        slip_od: Option<i64>, .of(M::Diameter).from(INSPECTION);
        /// outside diameter of the pin tool joint
        pin_od: Option<i64>, .of(M::Diameter).from(INSPECTION);
        /// bore of the pin
        pin_id: Option<i64>, .of(M::Diameter).from(INSPECTION);
        /// shoulder width of the pin at its thinnest
        pin_shoulder: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// growth of the pin lead over two inches
        pin_stretch: Option<i64>, .of(M::Wall).from(INSPECTION).signed();
        /// length of the pin cylinder below the shoulder
        pin_neck: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// tong space of the pin
        pin_tong: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// bevel diameter of the pin
        pin_bevel: Option<i64>, .of(M::Diameter).from(INSPECTION);
        /// shoulder to benchmark of the pin
        pin_benchmark: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// outside diameter of the box tool joint
        box_od: Option<i64>, .of(M::Diameter).from(INSPECTION);
        /// shoulder width of the box at its thinnest
        box_shoulder: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// counterbore diameter of the box
        box_counterbore: Option<i64>, .of(M::Diameter).from(INSPECTION);
        /// counterbore depth of the box
        box_counterbore_depth: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// tong space of the box
        box_tong: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// bevel diameter of the box
        box_bevel: Option<i64>, .of(M::Diameter).from(INSPECTION);
        /// shoulder to benchmark of the box
        box_benchmark: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// height of the hardband above the tool joint
        hardband_height: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// diameter of the centre upset of heavy-weight pipe
        centre_upset: Option<i64>, .of(M::Diameter).from(INSPECTION);
        /// bow over the length
        bow: Option<i64>, .of(M::Wall).from(INSPECTION);
    }
}

table! {
    /// A finding of an inspection.
    FindingRow in finding, key (joint, date, turn, n) {
        /// the joint
        joint: i64;
        /// when it was found
        date: i64, .date().from(INSPECTION);
        /// place among the joint's facts of its instant
        turn: i64;
        /// place of its entry
        entry: i64;
        /// number within the entry
        n: i64;
        /// what was found, in the catalogue's words
        what: String, .word(Words::FINDINGS).from(INSPECTION);
        /// where on the joint
        place: Option<Place>, .from(INSPECTION).unknown("not stated");
        /// pin or box, for a connection
        end: Option<End>, .from(INSPECTION).or_none("not on a connection");
        /// generation of the end
        generation: Option<i64>, .count().from(INSPECTION).or_none("it is about the body");
        /// depth, extent or height as the catalogue asks
        size: Option<i64>, .of(M::Wall).from(INSPECTION);
        /// share of the seal width or area
        share: Option<i64>, .of(M::Ratio).from(INSPECTION);
        /// runs across the pipe
        transverse: Option<bool>, .from(INSPECTION).unknown("not stated");
        /// distance from the pin shoulder
        from_pin: Option<i64>, .of(M::JointLength).from(INSPECTION);
        /// what follows from it
        disposition: Option<String>, .word(Words::of::<Disposition>()).from(INSPECTION).unknown("the catalogue does not say");
        /// nothing has cleared it
        open: bool, .from(INSPECTION).counted();
        /// place of the entry that cleared it
        cleared_by: Option<i64>, .or_none("nothing cleared it");
    }
}

table! {
    /// A repair.
    RepairRow in repair, key (joint, date, turn) {
        /// the joint
        joint: i64;
        /// when
        date: i64, .date().from(REPAIR);
        /// place among the joint's facts of its instant
        turn: i64;
        /// place of its entry
        entry: i64;
        /// work done: dress, reface, recut, hardband, straighten …
        work: Work, .from(REPAIR).counted();
        /// pin or box; none for the body
        end: Option<End>, .from(REPAIR).or_none("work on the body");
        /// who did it
        shop: Option<String>, .from(REPAIR);
        /// job ticket; joints of one ticket are one batch
        ticket: Option<String>, .from(REPAIR);
        /// length taken off the end
        removed: Option<i64>, .of(M::Wall).from(REPAIR);
        /// length afterwards
        length_after: Option<i64>, .of(M::JointLength).from(REPAIR);
        /// generation of the end afterwards
        generation: Option<i64>, .count().from(REPAIR).or_none("it is about the body");
    }
}

table! {
    /// A make-up of one end.
    MakeupRow in makeup, key (joint, date, turn, end),
    indexes { makeup_gauge (gauge) collate NOCASE where gauge } {
        /// the joint
        joint: i64;
        /// when
        date: i64, .date().from(MAKEUP);
        /// place among the joint's facts of its instant
        turn: i64;
        /// place of its entry
        entry: i64;
        /// pin or box
        end: End, .from(MAKEUP);
        /// generation of the end
        generation: i64, .count().from(MAKEUP);
        /// times made up
        times: i64, .count().from(MAKEUP);
        /// torque applied
        torque: Option<i64>, .of(M::Torque).from(MAKEUP);
        /// torque that the connection's dimensions of the day ask for
        target_torque: Option<i64>, .of(M::Torque).from(MAKEUP).also(&["target"]).titled("target");
        /// torque that the record says was aimed at
        stated_target: Option<i64>, .of(M::Torque).from(MAKEUP);
        /// torque at break-out
        breakout_torque: Option<i64>, .of(M::Torque).from(MAKEUP).also(&["breakout"]);
        /// under, over or on_target
        verdict: Option<TorqueVerdict>, .from(MAKEUP).counted().unknown("the torque, or what is asked for, is not known");
        /// tag of the torque gauge
        gauge: Option<String>, .from(MAKEUP).also(&["instrument"]);
        /// the torque gauge failed its next check
        instrument_doubtful: bool, .from(MAKEUP).also(&["gauge_doubtful"]).counted();
        /// thread compound
        compound: Option<String>, .from(MAKEUP);
        /// friction factor of the compound
        friction_factor: Option<i64>, .of(M::Factor).from(MAKEUP);
        /// the mate, where it is a joint of the book
        mate_joint: Option<i64>;
        /// the mate in words, where it is no joint of the book
        mate: Option<String>, .from(MAKEUP).or_none("it is a joint of the book, or not stated");
        /// the run that it was made for
        run: Option<i64>;
        /// the run of which a pattern of trips counted it, with which it falls
        pattern_run: Option<i64>;
    }
}

table! {
    /// An event.
    EventRow in event, key (joint, date, turn) {
        /// the joint
        joint: i64;
        /// when
        date: i64, .date().from(RECORD);
        /// place among the joint's facts of its instant
        turn: i64;
        /// place of its entry
        entry: i64;
        /// jarring, overpull, stuck, h2s, fishing, drop …
        what: EventKind, .from(RECORD).counted();
        /// the run in which it happened
        run: Option<i64>;
        /// largest pull
        pull: Option<i64>, .of(M::Force).from(RECORD);
        /// largest torque
        torque: Option<i64>, .of(M::Torque).from(RECORD);
        /// blows or shots
        blows: Option<i64>, .count().from(RECORD).also(&["shots"]);
        /// depth
        depth: Option<i64>, .of(M::Depth).from(RECORD);
    }
}

table! {
    /// A failure.
    FailureRow in failure, key (joint, date, turn) {
        /// the joint
        joint: i64;
        /// when
        date: i64, .date().from(RECORD).titled("found");
        /// place among the joint's facts of its instant
        turn: i64;
        /// place of its entry
        entry: i64;
        /// washout, twist_off, pin_break, box_split …
        what: FailureKind, .from(RECORD);
        /// where on the joint
        place: Option<Place>, .from(RECORD).unknown("not stated");
        /// pin or box, for a connection
        end: Option<End>, .from(RECORD).or_none("not on a connection");
        /// distance from the pin shoulder
        from_pin: Option<i64>, .of(M::JointLength).from(RECORD).titled("from the pin shoulder");
        /// the run in which it happened
        run: Option<i64>;
        /// well
        well: Option<String>, .from(RECORD);
        /// measured depth of the place
        depth: Option<i64>, .of(M::Depth).from(RECORD).titled("at depth");
        /// torque then
        torque: Option<i64>, .of(M::Torque).from(RECORD);
        /// pull then
        pull: Option<i64>, .of(M::Force).from(RECORD);
        /// what the rig was doing
        operation: Option<String>, .from(RECORD);
    }
}

table! {
    /// A move.
    MoveRow in move, key (joint, date, turn) {
        /// the joint
        joint: i64;
        /// when
        date: i64, .date().from(RECORD);
        /// place among the joint's facts of its instant
        turn: i64;
        /// place of its entry
        entry: i64;
        /// where to
        location: Option<String>, .from(RECORD).titled("where");
        /// string from then on
        string: Option<String>, .from(RECORD).none_if("in_string", "in none from then on; not known while a conflict is open");
        /// belongs to a string from then on
        in_string: Option<bool>;
        /// status from then on
        status: Option<Status>, .from(RECORD).unknown("the move does not say");
        /// place of the entry that had set where it is, where the move does not say it
        location_by: Option<i64>, .since(23);
        /// place of the entry that had set its string, where the move does not say it
        string_by: Option<i64>, .since(23);
        /// place of the entry that had set its status, where the move does not say it
        status_by: Option<i64>, .since(23);
    }
}

/// The column that holds the entry from which a column's value was taken over. Where that entry proves
/// to exclude another fact, the value is not known.
pub(crate) fn taken_over_from(table: Table, column: &str) -> Option<&'static str> {
    match (table, column) {
        (Table::Move, "location") => Some("location_by"),
        (Table::Move, "string" | "in_string") => Some("string_by"),
        (Table::Move, "status") => Some("status_by"),
        _ => None,
    }
}

table! {
    /// A hire.
    HireRow in hire, key (joint, date, turn), indexes { hire_name (name) collate NOCASE } {
        /// the joint
        joint: i64;
        /// when it went out
        date: i64, .date().from(RECORD);
        /// place among the joint's facts of its instant
        turn: i64;
        /// place of its entry
        entry: i64;
        /// name of the hire
        name: String, .from(RECORD).also(&["hire"]);
        /// who took it
        party: String, .from(RECORD);
        /// contract reference
        contract: Option<String>, .from(RECORD);
        /// when it came back
        back: Option<i64>, .date().from(RECORD).or_none("it is still out");
        /// place of the entry that brought it back
        back_entry: Option<i64>, .or_none("it is still out");
    }
}

table! {
    /// A decision.
    DecisionRow in decision, key (joint, date, turn) {
        /// the joint
        joint: i64;
        /// when
        date: i64, .date().from(RECORD);
        /// place among the joint's facts of its instant
        turn: i64;
        /// place of its entry
        entry: i64;
        /// class, quarantine, release, retire, settle or waive
        ruling: RulingKind, .from(RECORD).counted();
        /// class given
        class: Option<Class>, .from(RECORD).or_none("the ruling gives none");
        /// the end that it is about
        end: Option<End>, .from(RECORD).or_none("about the whole joint");
        /// until when it holds
        until: Option<i64>, .date().from(RECORD).or_none("it holds without an end");
        /// on whose authority
        authority: Option<String>, .from(RECORD);
        /// why
        reason: String, .from(RECORD);
    }
}
