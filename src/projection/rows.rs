//! The tables of `migrations/projection.sql` as structs. A test compares the two.

use crate::model::{
    Class, Component, End, Environment, EventKind, FailureKind, Place, RunGrade, Scope, Status,
    Work,
};

use super::row::rows;

rows! {
    /// A joint as the book knows it today.
    JointRow in "joint" {
        joint: i64,
        name: String,
        serial: String,
        component: Component,
        grade: Option<String>,
        od: Option<i64>,
        wall_nominal: Option<i64>,
        weight: Option<i64>,
        length: Option<i64>,
        connection: Option<String>,
        box_connection: Option<String>,
        tj_od_nominal: Option<i64>,
        tj_id_nominal: Option<i64>,
        heat: Option<String>,
        pin_heat: Option<String>,
        box_heat: Option<String>,
        weld_lot: Option<String>,
        maker: Option<String>,
        mill_order: Option<String>,
        certificate: Option<String>,
        made: Option<i64>,
        owner: Option<String>,
        range: Option<String>,
        coating: Option<String>,
        hardband_alloy: Option<String>,
        entered: i64,
        entered_new: bool,
        location: Option<String>,
        string: Option<String>,
        status: Status,
        hire: Option<String>,
        on_hire: bool,
        moved: Option<i64>,
        class: Option<Class>,
        tube_class: Option<Class>,
        pin_class: Option<Class>,
        box_class: Option<Class>,
        class_entry: Option<i64>,
        criterion: Option<String>,
        declared_class: Option<Class>,
        class_disputed: bool,
        disposition: Option<String>,
        restriction: Option<String>,
        out: bool,
        out_reason: Option<String>,
        not_measured: Option<String>,
        wall: Option<i64>,
        wall_thickness: Option<i64>,
        wall_read: Option<i64>,
        body_od: Option<i64>,
        slip_od: Option<i64>,
        pin_od: Option<i64>,
        pin_id: Option<i64>,
        pin_shoulder: Option<i64>,
        pin_stretch: Option<i64>,
        pin_tong: Option<i64>,
        box_od: Option<i64>,
        box_shoulder: Option<i64>,
        box_counterbore: Option<i64>,
        box_tong: Option<i64>,
        hardband: Option<String>,
        hardband_height: Option<i64>,
        paint: Option<String>,
        inspected: Option<i64>,
        open_findings: i64,
        seen: i64,
        pin_generation: i64,
        box_generation: i64,
        failed: Option<i64>,
        failure: Option<String>,
        runs: i64,
        runs_complete: bool,
        unknown_until: Option<i64>,
        conflicted: bool,
        last_run: Option<i64>,
        hours_lo: i64,
        hours_hi: Option<i64>,
        revolutions_lo: i64,
        revolutions_hi: Option<i64>,
        footage_lo: i64,
        footage_hi: Option<i64>,
        damage_lo: i64,
        damage_hi: Option<i64>,
        damage_pin: i64,
        damage_middle: i64,
        damage_box: i64,
        pin_makeups_lo: i64,
        pin_makeups_hi: Option<i64>,
        box_makeups_lo: i64,
        box_makeups_hi: Option<i64>,
        max_dogleg_lo: i64,
        max_dogleg_hi: Option<i64>,
        max_tension_lo: i64,
        max_tension_hi: Option<i64>,
        cased_hours_lo: i64,
        cased_hours_hi: Option<i64>,
        open_turns_lo: i64,
        open_turns_hi: Option<i64>,
        side_work_lo: i64,
        side_work_hi: Option<i64>,
        over_limit_lo: i64,
        over_limit_hi: Option<i64>,
        histogram: Vec<u8>,
        records_digest: i64,
    }

    /// Counters since the latest inspection that covers a scope.
    SinceRow in "since" {
        scope: Scope,
        joint: i64,
        at: i64,
        entry: Option<i64>,
        hours_lo: i64,
        hours_hi: Option<i64>,
        revolutions_lo: i64,
        revolutions_hi: Option<i64>,
        footage_lo: i64,
        footage_hi: Option<i64>,
        damage_lo: i64,
        damage_hi: Option<i64>,
        pin_makeups_lo: i64,
        pin_makeups_hi: Option<i64>,
        box_makeups_lo: i64,
        box_makeups_hi: Option<i64>,
        max_dogleg_lo: i64,
        max_dogleg_hi: Option<i64>,
        max_tension_lo: i64,
        max_tension_hi: Option<i64>,
        cased_hours_lo: i64,
        cased_hours_hi: Option<i64>,
        open_turns_lo: i64,
        open_turns_hi: Option<i64>,
        side_work_lo: i64,
        side_work_hi: Option<i64>,
        over_limit_lo: i64,
        over_limit_hi: Option<i64>,
        histogram: Vec<u8>,
    }

    /// A serial under which a joint is found.
    SerialRow in "serial" {
        key: String,
        joint: i64,
        serial: String,
        since: i64,
        until: Option<i64>,
        entry: i64,
    }

    /// A run.
    RunRow in "run" {
        run: i64,
        name: String,
        well: String,
        rig: Option<String>,
        string: Option<String>,
        start: i64,
        finish: i64,
        grade: RunGrade,
        environment: Option<Environment>,
        sour: bool,
        protectors: bool,
        casing_depth: Option<i64>,
        mud_weight: Option<i64>,
        equipment: Option<String>,
        equipment_doubtful: bool,
        survey: Option<i64>,
        joints: i64,
        unidentified: i64,
        hours: Option<i64>,
        revolutions: Option<i64>,
        footage: Option<i64>,
        top_depth: Option<i64>,
        bottom_depth: Option<i64>,
    }

    /// What a joint went through in a run.
    JointRunRow in "joint_run" {
        joint: i64,
        finish: i64,
        run: i64,
        start: i64,
        place: i64,
        from_bit: i64,
        input_key: i64,
        hours: Option<i64>,
        revolutions: Option<i64>,
        footage: Option<i64>,
        max_dogleg: Option<i64>,
        max_tension: Option<i64>,
        max_bending: Option<i64>,
        damage_pin: Option<i64>,
        damage_middle: Option<i64>,
        damage_box: Option<i64>,
        over_limit: Option<i64>,
        cased_hours: Option<i64>,
        open_turns: Option<i64>,
        side_work: Option<i64>,
        top_depth: Option<i64>,
        bottom_depth: Option<i64>,
        length: i64,
        flags: i64,
        conflict: bool,
        broken: bool,
        histogram: Vec<u8>,
    }

    /// The part of a joint's run before an instant inside it.
    RunPartRow in "run_part" {
        joint: i64,
        run: i64,
        cut: i64,
        input_key: i64,
        hours: Option<i64>,
        revolutions: Option<i64>,
        footage: Option<i64>,
        max_dogleg: Option<i64>,
        max_tension: Option<i64>,
        max_bending: Option<i64>,
        damage_pin: Option<i64>,
        damage_middle: Option<i64>,
        damage_box: Option<i64>,
        over_limit: Option<i64>,
        cased_hours: Option<i64>,
        open_turns: Option<i64>,
        side_work: Option<i64>,
        after_dogleg: Option<i64>,
        after_tension: Option<i64>,
        after_bending: Option<i64>,
        histogram: Vec<u8>,
    }

    /// A stretch of a joint's life about which nothing is known.
    GapRow in "gap" {
        joint: i64,
        until: i64,
        since: Option<i64>,
        entry: i64,
    }

    /// Dimensions of a joint from an instant on.
    DimensionRow in "dimension" {
        joint: i64,
        at: i64,
        wall: Option<i64>,
        od: Option<i64>,
        length: Option<i64>,
        tj_od: Option<i64>,
        pin_removed: i64,
    }

    /// An inspection of a joint.
    InspectionRow in "inspection" {
        joint: i64,
        at: i64,
        entry: i64,
        covers: i64,
        methods: i64,
        standard: Option<String>,
        firm: Option<String>,
        inspector: Option<String>,
        report: Option<String>,
        instrument: Option<String>,
        doubtful: bool,
        class_before: Option<Class>,
        class: Option<Class>,
        tube_class: Option<Class>,
        pin_class: Option<Class>,
        box_class: Option<Class>,
        criterion: Option<String>,
        disposition: Option<String>,
        declared: Option<Class>,
        not_measured: Option<String>,
        limits: Option<String>,
        wall: Option<i64>,
        wall_thickness: Option<i64>,
        body_od: Option<i64>,
        body_od_max: Option<i64>,
        slip_od: Option<i64>,
        pin_od: Option<i64>,
        pin_id: Option<i64>,
        pin_shoulder: Option<i64>,
        pin_stretch: Option<i64>,
        pin_neck: Option<i64>,
        pin_tong: Option<i64>,
        pin_bevel: Option<i64>,
        pin_benchmark: Option<i64>,
        box_od: Option<i64>,
        box_shoulder: Option<i64>,
        box_counterbore: Option<i64>,
        box_counterbore_depth: Option<i64>,
        box_tong: Option<i64>,
        box_bevel: Option<i64>,
        box_benchmark: Option<i64>,
        hardband_height: Option<i64>,
        centre_upset: Option<i64>,
        bow: Option<i64>,
        findings: i64,
        paint: Option<String>,
    }

    /// A finding of an inspection.
    FindingRow in "finding" {
        joint: i64,
        at: i64,
        entry: i64,
        n: i64,
        what: String,
        place: Option<Place>,
        end: Option<End>,
        generation: Option<i64>,
        size: Option<i64>,
        share: Option<i64>,
        transverse: Option<bool>,
        from_pin: Option<i64>,
        disposition: Option<String>,
        open: bool,
        cleared_by: Option<i64>,
    }

    /// A repair.
    RepairRow in "repair" {
        joint: i64,
        at: i64,
        entry: i64,
        work: Work,
        end: Option<End>,
        shop: Option<String>,
        ticket: Option<String>,
        removed: Option<i64>,
        length_after: Option<i64>,
        generation: Option<i64>,
    }

    /// A make-up of one end.
    MakeupRow in "makeup" {
        joint: i64,
        at: i64,
        entry: i64,
        end: End,
        generation: i64,
        times: i64,
        torque: Option<i64>,
        target: Option<i64>,
        stated_target: Option<i64>,
        breakout: Option<i64>,
        verdict: String,
        instrument: Option<String>,
        doubtful: bool,
        compound: Option<String>,
        friction_factor: Option<i64>,
        mate: Option<i64>,
        mate_name: Option<String>,
        run: Option<i64>,
    }

    /// An event.
    EventRow in "event" {
        joint: i64,
        at: i64,
        entry: i64,
        what: EventKind,
        run: Option<i64>,
        pull: Option<i64>,
        torque: Option<i64>,
        count: Option<i64>,
        depth: Option<i64>,
    }

    /// A failure.
    FailureRow in "failure" {
        joint: i64,
        at: i64,
        entry: i64,
        what: FailureKind,
        place: Option<Place>,
        end: Option<End>,
        from_pin: Option<i64>,
        run: Option<i64>,
        well: Option<String>,
        depth: Option<i64>,
        torque: Option<i64>,
        pull: Option<i64>,
        operation: Option<String>,
    }

    /// A move.
    MoveRow in "move" {
        joint: i64,
        at: i64,
        entry: i64,
        location: Option<String>,
        string: Option<String>,
        status: Option<Status>,
    }

    /// A hire.
    HireRow in "hire" {
        joint: i64,
        at: i64,
        entry: i64,
        name: String,
        party: String,
        contract: Option<String>,
        back: Option<i64>,
        back_entry: Option<i64>,
    }

    /// A decision.
    DecisionRow in "decision" {
        joint: i64,
        at: i64,
        entry: i64,
        ruling: String,
        class: Option<Class>,
        end: Option<End>,
        until: Option<i64>,
        authority: Option<String>,
        reason: String,
    }

    /// An entry that names a joint.
    TouchRow in "touch" {
        joint: i64,
        entry: i64,
        cut: Option<i64>,
    }

    /// An entry that is struck out.
    StruckRow in "struck" {
        entry: i64,
        by_entry: i64,
        why: String,
    }

    /// A survey that counts.
    SurveyRow in "survey" {
        entry: i64,
        well: String,
        at: i64,
        stations: i64,
    }

    /// A fact of the whole book that folds read.
    BookFactRow in "book_fact" {
        topic: String,
        subject: String,
        entry: i64,
    }

    /// Two facts that exclude each other.
    ConflictRow in "conflict" {
        joint: i64,
        first_entry: i64,
        second_entry: i64,
        what: String,
    }

    /// A file taken in.
    FileTakenRow in "file_taken" {
        sha256: String,
        first_entry: i64,
        last_entry: i64,
        file: String,
    }

    /// The content of an entry taken from a file.
    ContentRow in "content" {
        digest: i64,
        entry: i64,
    }
}
