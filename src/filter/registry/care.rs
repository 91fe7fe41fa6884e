//! Fields of inspections, findings, repairs and make-ups.

use crate::units::Measure as M;

use super::words::lexicons as w;
use super::{Col, Field, Kind, Record, Stored, Table};

const TEXT: Kind = Kind::Text;
const DATE: Kind = Kind::Date;
const FLAG: Kind = Kind::Flag;

/// Makes the fields of one record's table.
struct Of {
    record: Record,
    from: &'static str,
}

impl Of {
    const fn col(&self, name: &'static str) -> Col {
        Col { table: self.record.table(), name }
    }

    const fn stored(
        &self,
        name: &'static str,
        column: &'static str,
        kind: Kind,
        help: &'static str,
    ) -> Field {
        let stored = Stored::Column(self.col(column));
        Field::new(Some(self.record), name, kind, stored, help, self.from)
    }

    const fn plain(&self, name: &'static str, kind: Kind, help: &'static str) -> Field {
        self.stored(name, name, kind, help)
    }

    const fn derived(
        &self,
        name: &'static str,
        kind: Kind,
        stored: Stored,
        help: &'static str,
    ) -> Field {
        Field::new(Some(self.record), name, kind, stored, help, self.from)
    }
}

const fn length(m: M) -> Kind {
    Kind::Measure(m)
}

/// The table.
pub(super) fn fields() -> Vec<Field> {
    [inspections(), findings(), repairs(), makeups()].concat()
}

fn inspections() -> Vec<Field> {
    const CLASS: Kind = Kind::Word(w::CLASS);
    let of = Of { record: Record::Inspection, from: "the inspection's entry" };
    let itself = vec![
        of.stored("date", "at", DATE, "when"),
        of.plain(
            "covers",
            Kind::Set(w::SCOPE),
            "what it covers: wall, slip_cracks, pin, box, hardband …",
        ),
        of.stored(
            "method",
            "methods",
            Kind::Set(w::METHOD),
            "how it looked: electromagnetic, ultrasonic_wall, visual_tube …",
        )
        .also(&["methods"]),
        of.plain("standard", TEXT, "standard and category inspected to"),
        of.plain("firm", TEXT, "who did it"),
        of.plain("inspector", TEXT, "inspector"),
        of.plain("report", TEXT, "job or report number"),
        of.stored("gauge", "instrument", TEXT, "tag of the instrument").also(&["instrument"]),
        of.stored(
            "instrument_doubtful",
            "doubtful",
            FLAG,
            "an instrument of it failed its next check",
        )
        .also(&["gauge_doubtful"]),
        of.plain("class_before", CLASS, "class before it"),
        of.plain("class", CLASS, "class after it"),
        of.plain("tube_class", CLASS, "class of the tube after it"),
        of.plain("pin_class", CLASS, "class of the pin end after it"),
        of.plain("box_class", CLASS, "class of the box end after it"),
        of.plain("criterion", TEXT, "what decided the class"),
        of.plain("disposition", Kind::Word(w::OPEN), "what may be done with the joint"),
        of.stored("declared_class", "declared", CLASS, "class that the inspector gave").or_none(),
        of.plain("not_measured", TEXT, "what the verdict would have needed and nobody read")
            .or_none(),
        of.plain("findings", Kind::Measure(M::Count), "number of findings"),
        of.plain("paint", TEXT, "paint bands seen; they give no class").or_none(),
    ];
    let wall = Col { table: Table::Inspection, name: "wall" };
    let read = vec![
        of.plain(
            "wall",
            Kind::Measure(M::Ratio),
            "lowest wall as a part of the nominal one; with a length it is the thickness",
        )
        .also(&["remaining_wall"])
        .twin("wall_thickness"),
        of.plain("wall_thickness", length(M::Wall), "lowest wall"),
        of.derived(
            "wall_loss",
            Kind::Measure(M::Ratio),
            Stored::Rest(wall),
            "wall lost, as a part of the nominal one",
        )
        .signed(),
        of.plain("body_od", length(M::Diameter), "smallest outside diameter of the body"),
        of.plain("body_od_max", length(M::Diameter), "largest outside diameter of the body"),
        of.plain("slip_od", length(M::Diameter), "outside diameter in the slip area"),
        of.plain("pin_od", length(M::Diameter), "outside diameter of the pin tool joint"),
        of.plain("pin_id", length(M::Diameter), "bore of the pin"),
        of.plain("pin_shoulder", length(M::Wall), "shoulder width of the pin at its thinnest"),
        of.plain("pin_stretch", length(M::Wall), "growth of the pin lead over two inches").signed(),
        of.plain("pin_neck", length(M::Wall), "length of the pin cylinder below the shoulder"),
        of.plain("pin_tong", length(M::Wall), "tong space of the pin"),
        of.plain("pin_bevel", length(M::Diameter), "bevel diameter of the pin"),
        of.plain("pin_benchmark", length(M::Wall), "shoulder to benchmark of the pin"),
        of.plain("box_od", length(M::Diameter), "outside diameter of the box tool joint"),
        of.plain("box_shoulder", length(M::Wall), "shoulder width of the box at its thinnest"),
        of.plain("box_counterbore", length(M::Diameter), "counterbore diameter of the box"),
        of.plain("box_counterbore_depth", length(M::Wall), "counterbore depth of the box"),
        of.plain("box_tong", length(M::Wall), "tong space of the box"),
        of.plain("box_bevel", length(M::Diameter), "bevel diameter of the box"),
        of.plain("box_benchmark", length(M::Wall), "shoulder to benchmark of the box"),
        of.plain("hardband_height", length(M::Wall), "height of the hardband above the tool joint"),
        of.plain(
            "centre_upset",
            length(M::Diameter),
            "diameter of the centre upset of heavy-weight pipe",
        ),
        of.plain("bow", length(M::Wall), "bow over the length"),
    ];
    [itself, read].concat()
}

fn findings() -> Vec<Field> {
    let of = Of { record: Record::Finding, from: "the inspection's entry" };
    vec![
        of.stored("date", "at", DATE, "when it was found"),
        of.plain("what", Kind::Word(w::OPEN), "what was found, in the catalogue's words"),
        of.plain("place", Kind::Word(w::PLACE), "where on the joint"),
        of.plain("end", Kind::Word(w::END), "pin or box, for a connection").or_none(),
        of.plain("generation", Kind::Measure(M::Count), "generation of the end").or_none(),
        of.plain("size", length(M::Wall), "depth, extent or height as the catalogue asks"),
        of.plain("share", Kind::Measure(M::Ratio), "share of the seal width or area"),
        of.plain("transverse", FLAG, "runs across the pipe"),
        of.plain("from_pin", length(M::JointLength), "distance from the pin shoulder"),
        of.plain("disposition", Kind::Word(w::OPEN), "what follows from it"),
        of.plain("open", FLAG, "nothing has cleared it"),
        of.derived(
            "cleared",
            FLAG,
            Stored::Present(of.col("cleared_by")),
            "a repair or ruling has cleared it",
        ),
    ]
}

fn repairs() -> Vec<Field> {
    let of = Of { record: Record::Repair, from: "the repair's entry" };
    vec![
        of.stored("date", "at", DATE, "when"),
        of.plain(
            "work",
            Kind::Word(w::WORK),
            "work done: dress, reface, recut, hardband, straighten …",
        ),
        of.plain("end", Kind::Word(w::END), "pin or box; none for the body").or_none(),
        of.plain("shop", TEXT, "who did it"),
        of.plain("ticket", TEXT, "job ticket; joints of one ticket are one batch"),
        of.plain("removed", length(M::Wall), "length taken off the end"),
        of.plain("length_after", length(M::JointLength), "length afterwards"),
        of.plain("generation", Kind::Measure(M::Count), "generation of the end afterwards")
            .or_none(),
    ]
}

fn makeups() -> Vec<Field> {
    let of = Of { record: Record::Makeup, from: "the make-up's entry" };
    let ratio = Stored::Ratio(of.col("torque"), of.col("target"));
    vec![
        of.stored("date", "at", DATE, "when"),
        of.plain("end", Kind::Word(w::END), "pin or box"),
        of.plain("generation", Kind::Measure(M::Count), "generation of the end"),
        of.plain("times", Kind::Measure(M::Count), "times made up"),
        of.plain("torque", Kind::Measure(M::Torque), "torque applied"),
        of.stored(
            "target_torque",
            "target",
            Kind::Measure(M::Torque),
            "torque that the connection's dimensions of the day ask for",
        )
        .also(&["target"]),
        of.plain(
            "stated_target",
            Kind::Measure(M::Torque),
            "torque that the record says was aimed at",
        ),
        of.derived(
            "torque_ratio",
            Kind::Measure(M::Ratio),
            ratio,
            "torque applied as a part of the target",
        ),
        of.stored("breakout_torque", "breakout", Kind::Measure(M::Torque), "torque at break-out")
            .also(&["breakout"]),
        of.plain("verdict", Kind::Word(w::VERDICT), "under, over, on_target or unknown"),
        of.stored("gauge", "instrument", TEXT, "tag of the torque gauge").also(&["instrument"]),
        of.stored(
            "instrument_doubtful",
            "doubtful",
            FLAG,
            "the torque gauge failed its next check",
        )
        .also(&["gauge_doubtful"]),
        of.plain("compound", TEXT, "thread compound"),
        of.plain("friction_factor", Kind::Measure(M::Factor), "friction factor of the compound"),
        of.stored("mate", "mate_name", TEXT, "the mate in words, where it is no joint of the book")
            .or_none(),
    ]
}
