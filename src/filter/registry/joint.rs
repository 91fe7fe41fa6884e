//! Fields of the joint as it is today.

use crate::units::Measure as M;

use super::words::lexicons as w;
use super::{Above, Col, Field, Kind, Over, Part, Past, Stored, Table};

const CERTIFICATE: &str = "the joint's certificate";
const INSPECTION: &str = "the latest inspection that read it";
const CLASS: &str = "the readings and findings of inspections, repairs and rulings";
const MOVES: &str = "certificate, moves and hires";
const COUNTED: &str = "runs, and what the joint brought with it";

const fn col(name: &'static str) -> Stored {
    Stored::Column(Col { table: Table::Joint, name })
}

const fn of(name: &'static str) -> Col {
    Col { table: Table::Joint, name }
}

const fn plain(name: &'static str, kind: Kind, help: &'static str, from: &'static str) -> Field {
    Field::new(None, name, kind, col(name), help, from)
}

const fn stored(
    name: &'static str,
    column: &'static str,
    kind: Kind,
    help: &'static str,
    from: &'static str,
) -> Field {
    Field::new(None, name, kind, col(column), help, from)
}

const fn reading(name: &'static str, measure: M, help: &'static str) -> Field {
    plain(name, Kind::Measure(measure), help, INSPECTION)
}

const fn counter(
    name: &'static str,
    columns: (&'static str, &'static str),
    measure: M,
    over: Over,
    help: &'static str,
) -> Field {
    let stored = Stored::Counter { lo: columns.0, hi: columns.1, over };
    Field::new(None, name, Kind::Measure(measure), stored, help, COUNTED)
}

const TEXT: Kind = Kind::Text;
const DATE: Kind = Kind::Date;
const FLAG: Kind = Kind::Flag;

/// The table.
pub(super) fn fields() -> Vec<Field> {
    let mut all = identity();
    all.extend(custody());
    all.extend(condition());
    all.extend(life());
    all
}

fn identity() -> Vec<Field> {
    vec![
        plain("serial", TEXT, "serial number in force", "certificate and re-marks")
            .also(&["serial_number"]),
        stored(
            "introduced_by",
            "name",
            TEXT,
            "entry that brought the joint into the book",
            CERTIFICATE,
        ),
        plain(
            "component",
            Kind::Word(w::COMPONENT),
            "what it is: drill_pipe, heavy_weight, drill_collar …",
            CERTIFICATE,
        ),
        plain(
            "grade",
            Kind::Word(w::GRADE),
            "grade of the tube: E75, X95, G105, S135",
            CERTIFICATE,
        ),
        plain(
            "od",
            Kind::Measure(M::Diameter),
            "nominal outside diameter of the body",
            CERTIFICATE,
        ),
        stored(
            "nominal_wall",
            "wall_nominal",
            Kind::Measure(M::Wall),
            "nominal wall of the body",
            CERTIFICATE,
        )
        .also(&["wall_nominal"]),
        plain(
            "weight",
            Kind::Measure(M::LinearMass),
            "nominal weight, the name of the size",
            CERTIFICATE,
        )
        .also(&["nominal_weight"]),
        plain(
            "length",
            Kind::Measure(M::JointLength),
            "length from shoulder to shoulder",
            "certificate, strapping and repairs",
        ),
        plain(
            "connection",
            TEXT,
            "connection of the pin, and of the box where that does not differ",
            CERTIFICATE,
        ),
        plain("box_connection", TEXT, "connection of the box where it differs", CERTIFICATE)
            .or_none(),
        stored(
            "tool_joint_od",
            "tj_od_nominal",
            Kind::Measure(M::Diameter),
            "nominal outside diameter of the tool joint",
            CERTIFICATE,
        )
        .also(&["tj_od"]),
        stored(
            "tool_joint_id",
            "tj_id_nominal",
            Kind::Measure(M::Diameter),
            "nominal bore of the tool joint",
            CERTIFICATE,
        )
        .also(&["tj_id"]),
        plain("heat", TEXT, "heat of the tube", CERTIFICATE),
        plain("pin_heat", TEXT, "heat of the pin tool joint", CERTIFICATE),
        plain("box_heat", TEXT, "heat of the box tool joint", CERTIFICATE),
        plain("weld_lot", TEXT, "lot in which the tool joints were welded on", CERTIFICATE),
        plain("maker", TEXT, "who made it", CERTIFICATE),
        plain("mill_order", TEXT, "order under which the mill made it", CERTIFICATE),
        plain("certificate", TEXT, "number of the certificate", CERTIFICATE),
        plain("made", DATE, "day of manufacture", CERTIFICATE),
        plain("owner", TEXT, "owner", CERTIFICATE),
        plain("range", Kind::Word(w::RANGE), "length range: R1, R2, R3", CERTIFICATE),
        plain("coating", TEXT, "coating inside", "certificate and repairs"),
        plain("hardband_alloy", TEXT, "alloy of the hardband", "certificate and repairs"),
        plain("entered", DATE, "when it came into the book", CERTIFICATE),
        plain("entered_new", FLAG, "had never run when it came into the book", CERTIFICATE),
    ]
}

fn custody() -> Vec<Field> {
    vec![
        plain("location", TEXT, "where it is", MOVES).past(Past::Custody("location")),
        plain("string", TEXT, "string that it belongs to", MOVES)
            .or_none()
            .past(Past::Custody("string")),
        plain(
            "status",
            Kind::Word(w::STATUS),
            "in_stock, on_hire, in_repair, quarantine, retired, lost",
            "moves, hires, rulings and failures",
        )
        .past(Past::Custody("status")),
        plain("hire", TEXT, "name of the hire that it is out on", "hires").or_none(),
        plain("on_hire", FLAG, "is out on hire", "hires"),
        plain("moved", DATE, "when it last moved", "moves and hires").or_none(),
    ]
}

fn condition() -> Vec<Field> {
    const CLASS_WORD: Kind = Kind::Word(w::CLASS);
    let classes = vec![
        plain(
            "class",
            CLASS_WORD,
            "class today: critical, premium, class_2, class_3, scrap",
            CLASS,
        )
        .past(Past::Class("class")),
        plain("tube_class", CLASS_WORD, "class of the tube", CLASS).past(Past::Class("tube_class")),
        plain("pin_class", CLASS_WORD, "class of the pin end", CLASS)
            .past(Past::Class("pin_class")),
        plain("box_class", CLASS_WORD, "class of the box end", CLASS)
            .past(Past::Class("box_class")),
        plain("criterion", TEXT, "what decided the class", CLASS),
        plain("declared_class", CLASS_WORD, "class that the last inspector gave", "inspections")
            .or_none(),
        plain("class_disputed", FLAG, "the inspector's class and the computed one differ", CLASS),
        plain("disposition", Kind::Word(w::OPEN), "what may be done with it", CLASS),
        plain("restriction", Kind::Word(w::OPEN), "where it may run only", CLASS).or_none(),
        plain("out", FLAG, "not fit to run", CLASS).also(&["out_of_service"]),
        plain("out_reason", Kind::Word(w::OPEN), "why it is not fit to run", CLASS).or_none(),
        plain(
            "not_measured",
            TEXT,
            "what the last verdict would have needed and nobody read",
            CLASS,
        )
        .or_none(),
    ];
    let readings = vec![
        reading(
            "wall",
            M::Ratio,
            "remaining wall as a part of the nominal one; with a length it is the thickness",
        )
        .also(&["remaining_wall"])
        .twin("wall_thickness"),
        reading("wall_thickness", M::Wall, "remaining wall"),
        Field::new(
            None,
            "wall_loss",
            Kind::Measure(M::Ratio),
            Stored::Rest(of("wall")),
            "wall lost, as a part of the nominal one",
            INSPECTION,
        )
        .signed(),
        stored("wall_read", "wall_read", DATE, "when the wall was read", INSPECTION),
        Field::new(
            None,
            "wall_age",
            Kind::Measure(M::Days),
            Stored::Age(of("wall_read")),
            "how old the wall reading is",
            INSPECTION,
        )
        .signed(),
        reading("body_od", M::Diameter, "smallest outside diameter of the body"),
        reading("slip_od", M::Diameter, "outside diameter in the slip area"),
        reading("pin_od", M::Diameter, "outside diameter of the pin tool joint"),
        reading("pin_id", M::Diameter, "bore of the pin"),
        reading("pin_shoulder", M::Wall, "shoulder width of the pin at its thinnest"),
        reading("pin_stretch", M::Wall, "growth of the pin lead over two inches").signed(),
        reading("pin_tong", M::Wall, "tong space of the pin"),
        reading("box_od", M::Diameter, "outside diameter of the box tool joint"),
        reading("box_shoulder", M::Wall, "shoulder width of the box at its thinnest"),
        reading("box_counterbore", M::Diameter, "counterbore diameter of the box"),
        reading("box_tong", M::Wall, "tong space of the box"),
        plain("hardband", Kind::Word(w::OPEN), "state of the hardband: rough, worn …", INSPECTION),
        reading("hardband_height", M::Wall, "height of the hardband above the tool joint"),
        plain("paint", TEXT, "paint bands seen; they give no class", INSPECTION),
        plain("inspected", DATE, "when it was last inspected in any way", "inspections").or_none(),
        Field::new(
            None,
            "inspection_age",
            Kind::Measure(M::Days),
            Stored::Age(of("inspected")),
            "how long ago it was last inspected in any way",
            "inspections",
        )
        .signed(),
        plain(
            "open_findings",
            Kind::Measure(M::Count),
            "findings that nothing has cleared",
            "inspections and repairs",
        ),
        plain(
            "pin_generation",
            Kind::Measure(M::Count),
            "generation of the pin: a recut or a new tool joint starts another",
            "repairs",
        ),
        plain(
            "box_generation",
            Kind::Measure(M::Count),
            "generation of the box: a recut or a new tool joint starts another",
            "repairs",
        ),
        Field::new(None, "failed", FLAG, Stored::Present(of("failed")), "has failed", "failures"),
        stored("failed_on", "failed", DATE, "when it failed", "failures").or_none(),
        plain("failure", Kind::Word(w::FAILURE), "how it failed: washout, twist_off …", "failures")
            .or_none(),
    ];
    [classes, readings].concat()
}

fn life() -> Vec<Field> {
    const SUM: Part = Part::Sums;
    vec![
        stored(
            "life_complete",
            "runs_complete",
            FLAG,
            "no stretch of its life is without knowledge",
            "opening balance and custody gaps",
        ),
        plain(
            "conflicted",
            FLAG,
            "facts that exclude each other wait for a decision",
            "the book's check for clashes",
        ),
        plain("last_run", DATE, "when its last run ended", "runs").or_none(),
        counter(
            "hours",
            ("hours_lo", "hours_hi"),
            M::Hours,
            Over::Runs("hours", SUM),
            "rotating hours",
        )
        .also(&["rotating_hours"])
        .above(Above::Hours),
        counter(
            "revolutions",
            ("revolutions_lo", "revolutions_hi"),
            M::Turns,
            Over::Runs("revolutions", SUM),
            "turns of the pipe",
        )
        .also(&["turns", "revs"])
        .above(Above::Turns),
        counter(
            "footage",
            ("footage_lo", "footage_hi"),
            M::Depth,
            Over::Runs("footage", SUM),
            "hole drilled while it was in the string",
        ),
        counter(
            "damage",
            ("damage_lo", "damage_hi"),
            M::Damage,
            Over::WorstPlace,
            "used part of fatigue life at its worst place; a ranking index, not a forecast",
        )
        .also(&["fatigue"]),
        counter(
            "pin_makeups",
            ("pin_makeups_lo", "pin_makeups_hi"),
            M::Count,
            Over::Makeups("pin"),
            "make-ups of the present generation of the pin",
        ),
        counter(
            "box_makeups",
            ("box_makeups_lo", "box_makeups_hi"),
            M::Count,
            Over::Makeups("box"),
            "make-ups of the present generation of the box",
        ),
        counter(
            "max_dogleg",
            ("max_dogleg_lo", "max_dogleg_hi"),
            M::Dogleg,
            Over::Runs("max_dogleg", Part::Largest("after_dogleg")),
            "sharpest bend that it turned in",
        ),
        counter(
            "max_tension",
            ("max_tension_lo", "max_tension_hi"),
            M::Force,
            Over::Runs("max_tension", Part::Largest("after_tension")),
            "largest tension while rotating",
        ),
        counter(
            "cased_hours",
            ("cased_hours_lo", "cased_hours_hi"),
            M::Hours,
            Over::Runs("cased_hours", SUM),
            "rotating hours inside casing or riser",
        ),
        counter(
            "open_turns",
            ("open_turns_lo", "open_turns_hi"),
            M::Turns,
            Over::Runs("open_turns", SUM),
            "turns in open hole",
        )
        .also(&["open_hole_turns"]),
        counter(
            "side_work",
            ("side_work_lo", "side_work_hi"),
            M::Work,
            Over::Runs("side_work", SUM),
            "work of the side force on the tool joint, which wears its diameter",
        ),
        counter(
            "over_limit",
            ("over_limit_lo", "over_limit_hi"),
            M::Turns,
            Over::Runs("over_limit", SUM),
            "turns above the no-fatigue dogleg",
        )
        .also(&["over_limit_turns"]),
        plain(
            "damage_pin",
            Kind::Measure(M::Damage),
            "fatigue damage near the pin end, at least",
            COUNTED,
        ),
        plain(
            "damage_middle",
            Kind::Measure(M::Damage),
            "fatigue damage at the middle, at least",
            COUNTED,
        ),
        plain(
            "damage_box",
            Kind::Measure(M::Damage),
            "fatigue damage near the box end, at least",
            COUNTED,
        ),
    ]
}
