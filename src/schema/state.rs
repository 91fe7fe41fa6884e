//! A joint through time, as states: each holds from its instant until the next one of the joint. A view
//! of the past reads them, so that nothing is judged again to know what was said of a joint on a date.
//! Columns that `joint` has too mean the same here.

use crate::condition::Fitness;
use crate::model::{Class, FailureKind, Status};

use super::table;

table! {
    /// Condition of a joint, and what the runs that had ended by then added up to. A state begins
    /// where anything but those sums changes.
    JointStateRow in joint_state, key (joint, at) {
        /// the joint
        joint: i64;
        /// from when on
        at: i64;
        /// length from shoulder to shoulder
        length: Option<i64>;
        /// metal gone from the pin end since entry; none where a cut of it was not measured
        pin_removed: Option<i64>;
        /// alloy of the hardband
        hardband_alloy: Option<String>;
        /// coating inside
        coating: Option<String>;
        /// class
        class: Option<Class>;
        /// class of the tube
        tube_class: Option<Class>;
        /// class of the pin end
        pin_class: Option<Class>;
        /// class of the box end
        box_class: Option<Class>;
        /// place of the entry that gave the class
        class_entry: Option<i64>;
        /// what decided the class
        criterion: Option<String>;
        /// class that the last inspector gave
        declared_class: Option<Class>;
        /// the inspector's class and the computed one differ
        class_disputed: bool;
        /// what may be done with it
        disposition: Option<String>;
        /// where it may run only
        restriction: Option<String>;
        /// not fit to run
        out: bool;
        /// why it is not fit to run
        out_reason: Option<String>;
        /// fit to run by what was recorded of it, facts in conflict apart
        fit: Option<Fitness>;
        /// why it was not simply fit, facts in conflict apart
        unfit_because: Option<String>;
        /// what the last verdict would have needed and nobody read
        not_measured: Option<String>;
        /// remaining wall as a part of the nominal one
        wall: Option<i64>;
        /// remaining wall
        wall_thickness: Option<i64>;
        /// when the wall was read
        wall_read: Option<i64>;
        /// smallest outside diameter of the body
        body_od: Option<i64>;
        /// outside diameter in the slip area
        slip_od: Option<i64>;
        /// outside diameter of the pin tool joint
        pin_od: Option<i64>;
        /// bore of the pin
        pin_id: Option<i64>;
        /// shoulder width of the pin at its thinnest
        pin_shoulder: Option<i64>;
        /// growth of the pin lead over two inches
        pin_stretch: Option<i64>;
        /// tong space of the pin
        pin_tong: Option<i64>;
        /// outside diameter of the box tool joint
        box_od: Option<i64>;
        /// shoulder width of the box at its thinnest
        box_shoulder: Option<i64>;
        /// counterbore diameter of the box
        box_counterbore: Option<i64>;
        /// tong space of the box
        box_tong: Option<i64>;
        /// state of the hardband
        hardband: Option<String>;
        /// height of the hardband above the tool joint
        hardband_height: Option<i64>;
        /// paint bands seen
        paint: Option<String>;
        /// when it was last inspected in any way
        inspected: Option<i64>;
        /// findings that nothing has cleared
        open_findings: i64;
        /// summary bits of the records alone
        presence: i64;
        /// generation of the pin
        pin_generation: i64;
        /// generation of the box
        box_generation: i64;
        /// when it failed
        failed_on: Option<i64>;
        /// how it failed
        failure: Option<FailureKind>;
        /// no stretch of its life is without knowledge
        life_complete: bool;
        /// end of the last stretch without knowledge
        unknown_until: Option<i64>;
        /// how many runs had ended by then, as if none were in conflict with another
        runs: i64;
        /// when the last of those runs ended
        last_run: Option<i64>;
        /// summary bits that those runs set
        run_presence: i64;
        /// what those runs and the make-ups by then add up to (`counters::Running::encode`)
        totals: Vec<u8>;
    }
}

table! {
    /// What a joint is called, where it is and who has it; nothing where facts in conflict say it.
    CustodyRow in custody, key (joint, at) {
        /// the joint
        joint: i64;
        /// from when on
        at: i64;
        /// serial number in force
        serial: String;
        /// where it is
        location: Option<String>;
        /// string that it belongs to
        string: Option<String>;
        /// belongs to a string
        in_string: Option<bool>;
        /// in_stock, on_hire, in_repair, quarantine, retired, lost
        status: Option<Status>;
        /// name of the hire that it is out on
        hire: Option<String>;
        /// is out on hire
        on_hire: Option<bool>;
        /// when it last moved
        moved: Option<i64>;
    }
}
