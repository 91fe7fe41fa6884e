//! The joint as it is today, its serials, its dimensions, and what is not known of its life.

use crate::condition::{Disposition, Fitness, Ground, Restriction};
use crate::model::{Class, Component, FailureKind, Scope, Status};
use crate::units::Measure as M;

use super::Words;
use super::column::Over;
use super::counters::{Bounds, COUNTED, Totals};
use super::table;

/// Source of what a certificate says.
pub const CERTIFICATE: &str = "the joint's certificate";
const REPAIRED: &str = "certificate and repairs";
const MOVES: &str = "certificate, moves and hires";
const HIRES: &str = "hires";
const CLASSED: &str = "the readings and findings of inspections, repairs and rulings";
const RECORDED: &str =
    "readings, findings, decisions, facts in conflict, and what the rules in force call for";
const READ: &str = "the latest inspection that read it";
const INSPECTED: &str = "inspections";
const REPAIRS: &str = "repairs";
const FAILURES: &str = "failures";

table! {
    /// A joint as the book knows it today.
    JointRow in joint, key (joint),
    indexes {
        joint_serial (serial) collate NOCASE, joint_string (string) collate NOCASE where string,
        joint_by_name (by_name)
    } {
        /// place of the entry that brought it into the book
        joint: i64;
        /// name of that entry, as names sort: the order of joints
        by_name: String;
        /// serial number in force
        serial: String, .from("certificate and re-marks")
            .also(&["serial_number"]);
        /// entry that brought the joint into the book
        introduced_by: String, .from(CERTIFICATE);
        /// what it is: drill_pipe, heavy_weight, drill_collar …
        component: Component, .from(CERTIFICATE);
        /// grade of the tube: E75, X95, G105, S135
        grade: Option<String>, .word(Words::GRADES).from(CERTIFICATE).unknown("not on the certificate");
        /// nominal outside diameter of the body
        od: Option<i64>, .of(M::Diameter).from(CERTIFICATE).titled("outside diameter");
        /// nominal wall of the body
        nominal_wall: Option<i64>, .of(M::Wall).from(CERTIFICATE).also(&["wall_nominal"]);
        /// nominal weight, the name of the size
        weight: Option<i64>, .of(M::LinearMass).from(CERTIFICATE).also(&["nominal_weight"]);
        /// length from shoulder to shoulder
        length: Option<i64>, .of(M::JointLength)
            .from("certificate, strapping and repairs");
        /// connection of the pin, and of the box where that does not differ
        connection: Option<String>, .word(Words::CONNECTIONS).from(CERTIFICATE)
            .unknown("not on the certificate");
        /// connection of the box where it differs
        box_connection: Option<String>, .word(Words::CONNECTIONS).from(CERTIFICATE).or_none("the box has that of the pin");
        /// nominal outside diameter of the tool joint
        tool_joint_od: Option<i64>, .of(M::Diameter).from(CERTIFICATE).also(&["tj_od"])
            .titled("tool joint OD, nominal");
        /// nominal bore of the tool joint
        tool_joint_id: Option<i64>, .of(M::Diameter).from(CERTIFICATE).also(&["tj_id"])
            .titled("tool joint ID, nominal");
        /// heat of the tube
        heat: Option<String>, .from(CERTIFICATE);
        /// heat of the pin tool joint
        pin_heat: Option<String>, .from(CERTIFICATE).titled("heat of the pin");
        /// heat of the box tool joint
        box_heat: Option<String>, .from(CERTIFICATE).titled("heat of the box");
        /// lot in which the tool joints were welded on
        weld_lot: Option<String>, .from(CERTIFICATE);
        /// who made it
        maker: Option<String>, .from(CERTIFICATE);
        /// order under which the mill made it
        mill_order: Option<String>, .from(CERTIFICATE);
        /// number of the certificate
        certificate: Option<String>, .from(CERTIFICATE);
        /// day of manufacture
        made: Option<i64>, .date().from(CERTIFICATE);
        /// owner
        owner: Option<String>, .from(CERTIFICATE);
        /// length range: R1, R2, R3
        range: Option<String>, .word(Words::RANGES).from(CERTIFICATE).unknown("not on the certificate");
        /// coating inside
        coating: Option<String>, .from(REPAIRED);
        /// alloy of the hardband
        hardband_alloy: Option<String>, .from(REPAIRED);
        /// when it came into the book
        entered: i64, .date().from(CERTIFICATE).titled("entered the book");
        /// had never run when it came into the book
        entered_new: bool, .from(CERTIFICATE);

        /// where it is
        location: Option<String>, .from(MOVES).titled("where");
        /// string that it belongs to
        string: Option<String>, .from(MOVES).none_if("in_string", "it belongs to none; not known while a conflict is open");
        /// belongs to a string
        in_string: Option<bool>;
        /// in_stock, on_hire, in_repair, quarantine, retired, lost
        status: Option<Status>, .from("moves, hires, rulings and failures")
            .unknown("a conflict about it is open");
        /// name of the hire that it is out on
        hire: Option<String>, .from(HIRES).none_if("on_hire", "it is not out; not known while a conflict is open");
        /// is out on hire
        on_hire: Option<bool>, .from(HIRES).unknown("a conflict about it is open");
        /// when it last moved
        moved: Option<i64>, .date().from("moves and hires").or_none("it never moved");

        /// class today: critical, premium, class_2, class_3, scrap
        class: Option<Class>, .from(CLASSED).unknown("never judged, or too little was read");
        /// class of the tube
        tube_class: Option<Class>, .from(CLASSED).unknown("never judged, or too little was read");
        /// class of the pin end
        pin_class: Option<Class>, .from(CLASSED).unknown("never judged, or too little was read");
        /// class of the box end
        box_class: Option<Class>, .from(CLASSED).unknown("never judged, or too little was read");
        /// place of the entry that gave the class
        class_entry: Option<i64>;
        /// what decided the class
        criterion: Option<String>, .word(Words::CRITERIA).from(CLASSED)
            .unknown("nobody judged it yet, or nothing decided");
        /// class that the last inspector gave
        declared_class: Option<Class>, .from(INSPECTED).or_none("no inspector gave one");
        /// the inspector's class and the computed one differ
        class_disputed: bool, .from(CLASSED);
        /// what may be done with it
        disposition: Option<String>, .word(Words::of::<Disposition>()).from(CLASSED).unknown("nobody judged it yet");
        /// where it may run only
        restriction: Option<String>, .word(Words::of::<Restriction>()).several().from(CLASSED)
            .or_none("it carries none");
        /// not fit to run
        out: bool, .from(CLASSED).also(&["out_of_service"]).titled("out of service");
        /// why it is not fit to run
        out_reason: Option<String>, .word(Words::REASONS).several().from(CLASSED)
            .or_none("nothing has put it out of service");
        /// fit to run, by what is recorded and by the rules in force: fit, restricted, not_fit; in a rule
        /// by what is recorded alone
        fit: Option<Fitness>, .since(15).from(RECORDED)
            .unknown("it cannot be said: something is not known, or an inspection is due");
        /// why it is not simply fit to run, the gravest first
        unfit_because: Option<String>, .since(15).word(Words::of::<Ground>()).several().from(RECORDED)
            .or_none("nothing stands against it");
        /// what the last verdict would have needed and nobody read
        not_measured: Option<String>, .word(Words::WANTS).several().from(CLASSED)
            .or_none("nothing was missing, or nobody judged it yet");
        /// remaining wall as a part of the nominal one; with a length it is the thickness
        wall: Option<i64>, .of(M::Ratio).from(READ).also(&["remaining_wall"]).titled("wall left");
        /// remaining wall
        wall_thickness: Option<i64>, .of(M::Wall).from(READ);
        /// when the wall was read
        wall_read: Option<i64>, .date().from(READ);
        /// smallest outside diameter of the body
        body_od: Option<i64>, .of(M::Diameter).from(READ);
        /// outside diameter in the slip area
        slip_od: Option<i64>, .of(M::Diameter).from(READ);
        /// outside diameter of the pin tool joint
        pin_od: Option<i64>, .of(M::Diameter).from(READ);
        /// bore of the pin
        pin_id: Option<i64>, .of(M::Diameter).from(READ);
        /// shoulder width of the pin at its thinnest
        pin_shoulder: Option<i64>, .of(M::Wall).from(READ);
        /// growth of the pin lead over two inches
        pin_stretch: Option<i64>, .of(M::Wall).from(READ).signed();
        /// tong space of the pin
        pin_tong: Option<i64>, .of(M::Wall).from(READ);
        /// outside diameter of the box tool joint
        box_od: Option<i64>, .of(M::Diameter).from(READ);
        /// shoulder width of the box at its thinnest
        box_shoulder: Option<i64>, .of(M::Wall).from(READ);
        /// counterbore diameter of the box
        box_counterbore: Option<i64>, .of(M::Diameter).from(READ);
        /// tong space of the box
        box_tong: Option<i64>, .of(M::Wall).from(READ);
        /// state of the hardband: rough, worn …
        hardband: Option<String>, .word(Words::HARDBAND).from(READ).unknown("nobody looked at it");
        /// height of the hardband above the tool joint
        hardband_height: Option<i64>, .of(M::Wall).from(READ);
        /// paint bands seen; they give no class
        paint: Option<String>, .from(READ);
        /// when it was last inspected in any way
        inspected: Option<i64>, .date().from(INSPECTED).or_none("it never was");
        /// findings that nothing has cleared
        open_findings: i64, .count().from("inspections and repairs");
        /// summary bits: what its records hold at all
        presence: i64, .since(5);
        /// generation of the pin: a recut or a new tool joint starts another
        pin_generation: i64, .count().from(REPAIRS);
        /// generation of the box: a recut or a new tool joint starts another
        box_generation: i64, .count().from(REPAIRS);
        /// when it failed
        failed_on: Option<i64>, .date().from(FAILURES).or_none("it has not failed");
        /// how it failed: washout, twist_off …
        failure: Option<FailureKind>, .from(FAILURES).or_none("it has not failed");

        /// how many runs it was in
        runs: i64;
        /// no stretch of its life is without knowledge
        life_complete: bool,
            .from("opening balance and custody gaps");
        /// end of the last stretch without knowledge
        unknown_until: Option<i64>, .or_none("there is no such stretch");
        /// facts that exclude each other wait for a decision
        conflicted: bool, .from("the book's check for clashes");
        /// when its last run ended
        last_run: Option<i64>, .date().from("runs").or_none("it never ran");
        /// what runs and make-ups add up to
        totals: Totals;
        /// fatigue damage near the pin end
        damage_pin: Bounds, .of(M::Damage).from(COUNTED).over(Over::Place("damage_pin", "damage_hi"));
        /// fatigue damage at the middle
        damage_middle: Bounds, .of(M::Damage).from(COUNTED).over(Over::Place("damage_middle", "damage_hi"));
        /// fatigue damage near the box end
        damage_box: Bounds, .of(M::Damage).from(COUNTED).over(Over::Place("damage_box", "damage_hi"));
        /// turns above the no-fatigue bend near the pin end
        over_limit_pin: Bounds, .of(M::Turns).from(COUNTED)
            .over(Over::Place("over_limit_pin", "over_limit_hi")).since(13);
        /// turns above the no-fatigue bend at the middle
        over_limit_middle: Bounds, .of(M::Turns).from(COUNTED)
            .over(Over::Place("over_limit_middle", "over_limit_hi")).since(13);
        /// turns above the no-fatigue bend near the box end
        over_limit_box: Bounds, .of(M::Turns).from(COUNTED)
            .over(Over::Place("over_limit_box", "over_limit_hi")).since(13);
        /// rotating hours in compression near the pin end
        compression_pin: Bounds, .of(M::Hours).from(COUNTED)
            .over(Over::Place("compression_pin", "compression_hours_hi")).since(17);
        /// rotating hours in compression at the middle
        compression_middle: Bounds, .of(M::Hours).from(COUNTED)
            .over(Over::Place("compression_middle", "compression_hours_hi")).since(17);
        /// rotating hours in compression near the box end
        compression_box: Bounds, .of(M::Hours).from(COUNTED)
            .over(Over::Place("compression_box", "compression_hours_hi")).since(17);
        /// rotating hours in which its tube touched the wall, as it bent near the pin end
        contact_pin: Bounds, .of(M::Hours).from(COUNTED)
            .over(Over::Place("contact_pin", "contact_hours_hi")).since(17);
        /// rotating hours in which its tube touched the wall, as it bent at the middle
        contact_middle: Bounds, .of(M::Hours).from(COUNTED)
            .over(Over::Place("contact_middle", "contact_hours_hi")).since(17);
        /// rotating hours in which its tube touched the wall, as it bent near the box end
        contact_box: Bounds, .of(M::Hours).from(COUNTED)
            .over(Over::Place("contact_box", "contact_hours_hi")).since(17);
        /// digest of the record rows that a fold wrote
        records_digest: i64;
    }
}

table! {
    /// Counters since the latest inspection that covers a scope, or of the whole life for a joint that
    /// was never so inspected. Where one may have been that nobody saw, they are bounds.
    SinceRow in since, key (scope, joint) {
        /// scope of the inspection
        scope: Scope;
        /// the joint
        joint: i64;
        /// since when
        at: i64;
        /// the inspection's entry; none where there was no such inspection yet
        entry: Option<i64>;
        /// what runs and make-ups add up to since then
        totals: Totals;
    }
}

table! {
    /// What a used joint brought with it: what its runs and make-ups before it came into the book add
    /// up to, as far as somebody stated it.
    OpeningRow in opening, key (joint) {
        /// the joint
        joint: i64;
        /// what runs and make-ups before the book add up to
        totals: Totals;
    }
}

table! {
    /// A serial under which a joint is found.
    SerialRow in serial, key (key, joint, since), indexes { serial_joint (joint) } {
        /// the serial as it is looked up
        key: String;
        /// the joint
        joint: i64;
        /// the serial as written
        serial: String;
        /// since when it is in force
        since: i64;
        /// until when; none where it still is
        until: Option<i64>;
        /// the entry that gave it
        entry: i64;
    }
}

table! {
    /// A stretch of a joint's life about which nothing is known: before a used joint entered the
    /// book, or a custody gap.
    GapRow in gap, key (joint, until, entry) {
        /// the joint
        joint: i64;
        /// its end
        until: i64;
        /// its beginning; none for the time before the joint entered
        since: Option<i64>;
        /// the entry that tells of it
        entry: i64;
        /// hours that it turned all the same, by the word of whoever ran it
        hours: Option<i64>, .of(M::Hours);
        /// it is told when it began
        begun: bool, .since(24);
    }
}

table! {
    /// Dimensions of a joint from an instant on.
    DimensionRow in dimension, key (joint, at) {
        /// the joint
        joint: i64;
        /// from when on
        at: i64;
        /// wall of the body
        wall: Option<i64>, .of(M::Wall);
        /// outside diameter of the body
        od: Option<i64>, .of(M::Diameter);
        /// length from shoulder to shoulder
        length: Option<i64>, .of(M::JointLength);
        /// outside diameter of the tool joint, of the larger end
        tj_od: Option<i64>, .of(M::Diameter);
        /// metal gone from the pin end since entry; none where a cut of it was not measured
        pin_removed: Option<i64>, .of(M::JointLength);
        /// deepest open cut or pit at the pin end
        notch_pin: Option<i64>, .of(M::Wall).since(13);
        /// deepest open cut or pit at the middle
        notch_middle: Option<i64>, .of(M::Wall).since(13);
        /// deepest open cut or pit at the box end
        notch_box: Option<i64>, .of(M::Wall).since(13);
        /// some open cut or pit has no depth
        notch_unmeasured: bool, .since(13);
    }
}
