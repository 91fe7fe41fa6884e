//! Fields of a run: what the joint went through in it, and the run itself.

use crate::units::Measure as M;

use super::words::lexicons as w;
use super::{Above, Col, Field, Kind, Part, Record, Stored, Table};

const LOG: &str = "survey, tally and operating log of the run";
const ENTRY: &str = "the run's entry";
const RUN: Option<Record> = Some(Record::Run);

/// A column of the run itself.
const fn run(name: &'static str, column: &'static str, kind: Kind, help: &'static str) -> Field {
    let stored = Stored::Column(Col { table: Table::Run, name: column });
    Field::new(RUN, name, kind, stored, help, ENTRY)
}

/// A column of the joint's share of the run.
const fn share(name: &'static str, column: &'static str, kind: Kind, help: &'static str) -> Field {
    let stored = Stored::Column(Col { table: Table::JointRun, name: column });
    Field::new(RUN, name, kind, stored, help, LOG)
}

/// A figure of the joint in the run that is split where a window cuts the run.
const fn figure(name: &'static str, measure: M, part: Part, help: &'static str) -> Field {
    Field::new(RUN, name, Kind::Measure(measure), Stored::Figure(name, part), help, LOG)
}

/// The table.
pub(super) fn fields() -> Vec<Field> {
    const SUM: Part = Part::Sums;
    const TEXT: Kind = Kind::Text;
    let itself = vec![
        run("name", "name", TEXT, "name of the run"),
        run("well", "well", TEXT, "well"),
        run("rig", "rig", TEXT, "rig"),
        run("string", "string", TEXT, "string as the run's entry names it"),
        share("start", "start", Kind::Date, "when the run began").also(&["started"]),
        share("finish", "finish", Kind::Date, "when the run ended").also(&["date", "ended"]),
        run(
            "grade",
            "grade",
            Kind::Word(w::RUN_GRADE),
            "how far the run's figures can be trusted: logged, summary, estimated",
        ),
        run(
            "environment",
            "environment",
            Kind::Word(w::ENVIRONMENT),
            "what the mud does to fatigue: air, protected, corrosive",
        ),
        run("sour", "sour", Kind::Flag, "hydrogen sulphide was met"),
        run("protectors", "protectors", Kind::Flag, "protectors were fitted"),
        run("casing_depth", "casing_depth", Kind::Measure(M::Depth), "depth of the casing shoe"),
        run("mud_weight", "mud_weight", Kind::Measure(M::Density), "mud weight"),
        run("equipment", "equipment", TEXT, "tags of the rig equipment used").or_none(),
        run(
            "equipment_doubtful",
            "equipment_doubtful",
            Kind::Flag,
            "some of the rig equipment used failed its next check",
        ),
        run("joints", "joints", Kind::Measure(M::Count), "joints of the book in the run"),
        run(
            "unidentified",
            "unidentified",
            Kind::Measure(M::Count),
            "drill pipe joints without a serial in the run",
        ),
        run("run_hours", "hours", Kind::Measure(M::Hours), "rotating hours of the whole run"),
        run("run_revolutions", "revolutions", Kind::Measure(M::Turns), "turns of the whole run"),
        run("run_footage", "footage", Kind::Measure(M::Depth), "hole drilled in the whole run"),
        run(
            "depth_in",
            "top_depth",
            Kind::Measure(M::Depth),
            "bit depth from which the run drilled",
        ),
        run(
            "depth_out",
            "bottom_depth",
            Kind::Measure(M::Depth),
            "bit depth to which the run drilled",
        ),
    ];
    let joint_in_it = vec![
        share(
            "position",
            "place",
            Kind::Measure(M::Count),
            "place in the string: joints of the book below it, plus one",
        ),
        share(
            "from_bit",
            "from_bit",
            Kind::Measure(M::Depth),
            "distance from the bit to the pin shoulder",
        ),
        share("length", "length", Kind::Measure(M::JointLength), "length of the joint then"),
        share(
            "conflicting",
            "conflict",
            Kind::Flag,
            "the joint was in another run at the same time, and nobody has settled it",
        ),
        figure("hours", M::Hours, SUM, "rotating hours of the joint")
            .also(&["rotating_hours"])
            .above(Above::Hours),
        figure("revolutions", M::Turns, SUM, "turns of the joint")
            .also(&["turns", "revs"])
            .above(Above::Turns),
        figure("footage", M::Depth, SUM, "hole drilled while the joint was in the string"),
        figure(
            "max_dogleg",
            M::Dogleg,
            Part::Largest("after_dogleg"),
            "sharpest bend that the joint turned in",
        )
        .also(&["dogleg"]),
        figure(
            "max_tension",
            M::Force,
            Part::Largest("after_tension"),
            "largest tension of the joint while rotating",
        )
        .also(&["tension"]),
        figure(
            "max_bending",
            M::Stress,
            Part::Largest("after_bending"),
            "largest bending stress of the joint",
        )
        .also(&["bending"]),
        Field::new(
            RUN,
            "damage",
            Kind::Measure(M::Damage),
            Stored::Worst,
            "used part of fatigue life at the place hit hardest",
            LOG,
        )
        .also(&["fatigue"]),
        figure("damage_pin", M::Damage, SUM, "fatigue damage near the pin end"),
        figure("damage_middle", M::Damage, SUM, "fatigue damage at the middle"),
        figure("damage_box", M::Damage, SUM, "fatigue damage near the box end"),
        figure("over_limit", M::Turns, SUM, "turns above the no-fatigue dogleg")
            .also(&["over_limit_turns"]),
        figure("cased_hours", M::Hours, SUM, "rotating hours inside casing or riser"),
        figure("open_turns", M::Turns, SUM, "turns in open hole").also(&["open_hole_turns"]),
        figure("side_work", M::Work, SUM, "work of the side force on the tool joint"),
        Field::new(
            RUN,
            "top_depth",
            Kind::Measure(M::Depth),
            Stored::Top,
            "shallowest depth at which the joint turned",
            LOG,
        )
        .also(&["top"]),
        Field::new(
            RUN,
            "bottom_depth",
            Kind::Measure(M::Depth),
            Stored::Bottom,
            "deepest depth at which the joint turned",
            LOG,
        )
        .also(&["bottom"]),
    ];
    [itself, joint_in_it].concat()
}
