//! What can happen in a history. Numbers pick among what is there when the step is taken, so that a
//! history stays one when steps are left out.

use proptest::prelude::*;

/// A step of a history.
#[derive(Clone, Debug)]
pub struct Step {
    /// Which site writes.
    pub site: u8,
    /// Day of the fact, in days after 2025-01-01; steps are not in order of time.
    pub day: u16,
    /// Minute of the day for facts with a clock time; `None` for facts of a day.
    pub minute: Option<u16>,
    /// What happens.
    pub op: Op,
}

/// A pick: taken modulo what there is.
pub type Pick = u8;

#[derive(Clone, Debug)]
pub enum Op {
    Joint {
        new: bool,
    },
    Opening {
        joint: Pick,
        known: bool,
    },
    Remark {
        joint: Pick,
        serial: Pick,
    },
    Alias {
        joint: Pick,
        serial: Pick,
    },
    Merge {
        keep: Pick,
        gone: Pick,
    },
    Split {
        joint: Pick,
        other: Pick,
        entries: [Pick; 2],
    },
    Move {
        joints: [Pick; 2],
        what: Pick,
    },
    HireOut {
        joints: [Pick; 2],
        name: Pick,
    },
    HireIn {
        joints: [Pick; 2],
        name: Pick,
    },
    Gap {
        joints: [Pick; 2],
        days: Option<u8>,
    },
    Survey {
        well: Pick,
        build: Pick,
    },
    Run {
        well: Pick,
        joints: [Pick; 4],
        days: u8,
        shape: Pick,
    },
    Inspection {
        joint: Pick,
        wall: Pick,
        shape: Pick,
    },
    Repair {
        joint: Pick,
        work: Pick,
        box_end: bool,
        removed: bool,
    },
    Makeup {
        pin: Pick,
        box_: Pick,
        torque: Pick,
        run: Option<Pick>,
    },
    Trips {
        run: Pick,
        trips: u8,
    },
    EventOf {
        joints: [Pick; 2],
        what: Pick,
    },
    EventIn {
        run: Pick,
        what: Pick,
    },
    Failure {
        joint: Pick,
        run: Option<Pick>,
    },
    Check {
        tag: Pick,
        passed: bool,
    },
    Decide {
        joints: [Pick; 2],
        ruling: Pick,
    },
    Settle {
        stands: Pick,
        falls: Pick,
    },
    Adopt {
        what: Pick,
    },
    Note {
        joint: Pick,
    },
    Strike {
        entry: Pick,
    },
    /// The writing site sends what it has to another.
    Send {
        to: u8,
        all: bool,
    },
}

fn two() -> impl Strategy<Value = [Pick; 2]> {
    prop::array::uniform2(any::<Pick>())
}

fn op() -> impl Strategy<Value = Op> {
    let p = any::<Pick>;
    prop_oneof![
        6 => any::<bool>().prop_map(|new| Op::Joint { new }),
        1 => (p(), any::<bool>()).prop_map(|(joint, known)| Op::Opening { joint, known }),
        1 => (p(), p()).prop_map(|(joint, serial)| Op::Remark { joint, serial }),
        1 => (p(), p()).prop_map(|(joint, serial)| Op::Alias { joint, serial }),
        1 => (p(), p()).prop_map(|(keep, gone)| Op::Merge { keep, gone }),
        2 => (p(), p(), two())
            .prop_map(|(joint, other, entries)| Op::Split { joint, other, entries }),
        2 => (two(), p()).prop_map(|(joints, what)| Op::Move { joints, what }),
        2 => (two(), p()).prop_map(|(joints, name)| Op::HireOut { joints, name }),
        2 => (two(), p()).prop_map(|(joints, name)| Op::HireIn { joints, name }),
        1 => (two(), any::<Option<u8>>()).prop_map(|(joints, days)| Op::Gap { joints, days }),
        3 => (p(), p()).prop_map(|(well, build)| Op::Survey { well, build }),
        6 => (p(), prop::array::uniform4(p()), 1u8..9, p())
            .prop_map(|(well, joints, days, shape)| Op::Run { well, joints, days, shape }),
        4 => (p(), p(), p()).prop_map(|(joint, wall, shape)| Op::Inspection { joint, wall, shape }),
        3 => (p(), p(), any::<bool>(), any::<bool>())
            .prop_map(|(joint, work, box_end, removed)| Op::Repair { joint, work, box_end, removed }),
        2 => (p(), p(), p(), any::<Option<Pick>>())
            .prop_map(|(pin, box_, torque, run)| Op::Makeup { pin, box_, torque, run }),
        2 => (p(), 1u8..9).prop_map(|(run, trips)| Op::Trips { run, trips }),
        1 => (two(), p()).prop_map(|(joints, what)| Op::EventOf { joints, what }),
        2 => (p(), p()).prop_map(|(run, what)| Op::EventIn { run, what }),
        1 => (p(), any::<Option<Pick>>()).prop_map(|(joint, run)| Op::Failure { joint, run }),
        2 => (p(), any::<bool>()).prop_map(|(tag, passed)| Op::Check { tag, passed }),
        2 => (two(), p()).prop_map(|(joints, ruling)| Op::Decide { joints, ruling }),
        2 => (p(), p()).prop_map(|(stands, falls)| Op::Settle { stands, falls }),
        1 => p().prop_map(|what| Op::Adopt { what }),
        1 => p().prop_map(|joint| Op::Note { joint }),
        5 => p().prop_map(|entry| Op::Strike { entry }),
        4 => (any::<u8>(), any::<bool>()).prop_map(|(to, all)| Op::Send { to, all }),
    ]
}

fn step() -> impl Strategy<Value = Step> {
    (any::<u8>(), 0u16..90, any::<Option<u16>>(), op()).prop_map(|(site, day, minute, op)| Step {
        site,
        day,
        minute: minute.map(|m| m % 1440),
        op,
    })
}

/// A history of a number of steps.
pub fn history(steps: std::ops::Range<usize>) -> impl Strategy<Value = (u8, Vec<Step>)> {
    (1u8..=3, prop::collection::vec(step(), steps))
}
