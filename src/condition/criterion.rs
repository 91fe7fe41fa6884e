//! Criteria: what the engine can judge, where each takes its value from, and what follows when a
//! limit that holds in every class is broken. The numbers are data (`limits`).

use crate::model::{End, Method, ReadingKind, Work, vocabulary};

use super::caution::Caution;
use super::restriction::Restriction;
use super::words::{Blocks, Disposition, Part, Person};

vocabulary!(
    Criterion, "criterion", {
        /// Outside wear: lowest wall.
        WearWall = "wear_wall" ["wall", "remaining_wall", "outside_wear"],
        /// Dents and mashes: diameter across them.
        DentOd = "dent_od" ["dents_and_mashes"],
        /// Crushing and necking of the slip area: its diameter.
        SlipOd = "slip_od" ["slip_crushing", "crushing"],
        /// Cuts in the slip area: depth in the wall beside them.
        SlipCutDepth = "slip_cut_depth" [],
        /// Cuts across the pipe in the slip area: wall left under them.
        SlipCutWallTransverse = "slip_cut_wall_transverse" [],
        /// Cuts along the pipe in the slip area: wall left under them.
        SlipCutWallLongitudinal = "slip_cut_wall_longitudinal" [],
        /// Stretched: smallest diameter of the body.
        StretchOd = "stretch_od" ["necking", "stretched"],
        /// String shot: largest diameter of the body.
        StringShotOd = "string_shot_od" ["string_shot", "bulge"],
        /// External corrosion: wall left under the pit.
        CorrosionWall = "corrosion_wall" ["external_corrosion"],
        /// Cuts along the pipe outside the slip area: wall left under them.
        CutWallLongitudinal = "cut_wall_longitudinal" [],
        /// Cuts across the pipe outside the slip area: wall left under them.
        CutWallTransverse = "cut_wall_transverse" [],
        /// Internal corrosion: wall left at the deepest pit.
        PitWall = "pit_wall" ["internal_pitting", "internal_corrosion"],
        /// Internal erosion and wear: lowest wall.
        ErosionWall = "erosion_wall" ["internal_erosion"],
        CrackExternal = "crack_external" ["external_crack"],
        CrackInternal = "crack_internal" ["internal_crack"],
        Washout = "washout" ["hole"],
        /// Wall of new pipe.
        NewWall = "new_wall" [],
        /// Cracks in a connection.
        CrackConnection = "crack_connection" ["connection_crack"],
        /// Heat checks on a tool joint.
        HeatCheck = "heat_check" ["heat_checking"],
        /// Outside diameter of the tool joint.
        JointOd = "tj_od" ["tool_joint_od"],
        /// Width of the box shoulder at its thinnest.
        Shoulder = "shoulder" ["shoulder_width"],
        /// Counterbore diameter: box swell.
        Counterbore = "counterbore" ["box_swell", "qc"],
        CounterboreDepth = "counterbore_depth" [],
        /// Growth of the pin lead.
        PinStretch = "pin_stretch" ["lead", "pin_lead"],
        /// Gap under the thread profile gauge.
        ProfileGap = "profile_gap" [],
        /// Length of the pin cylinder.
        PinNeck = "pin_neck" ["pin_cylinder"],
        /// Missing arc of a thread.
        ThreadArc = "thread_arc" [],
        /// Pin tong space as a share of the tool joint diameter.
        PinTongShare = "pin_tong_share" [],
        /// Pin tong space, least.
        PinTongMin = "pin_tong_min" [],
        BoxTong = "box_tong" [],
        /// Depth of damage in the sealing shoulder.
        SealDepth = "seal_depth" [],
        /// Width of damage in the sealing shoulder.
        SealShare = "seal_share" [],
        /// Shoulder to benchmark, pin.
        BenchmarkPin = "benchmark_pin" [],
        /// Shoulder to benchmark, box.
        BenchmarkBox = "benchmark_box" [],
        /// Height of the hardband, least.
        HardbandHeight = "hardband_height" [],
        /// Height of the hardband, most.
        HardbandProud = "hardband_proud" [],
        Bevel = "bevel" ["bevel_diameter"],
        /// Removed by one refacing.
        RefaceOnce = "reface_once" [],
        /// Removed by refacing since the last cut.
        RefaceTotal = "reface_total" [],
        /// Removed by refacing from both shoulders that mate.
        RefacePair = "reface_pair" [],
        /// Centre upset of heavy-weight pipe.
        CentreUpset = "centre_upset" ["center_upset"],
        Bsr = "bsr" ["bending_strength_ratio"],
        /// Bending strength ratio that works well.
        BsrGood = "bsr_good" [],
        /// Depth of the elevator groove.
        ElevatorGroove = "elevator_groove" [],
        /// Depth of the slip groove.
        SlipGroove = "slip_groove" [],
        /// Diameter of the stress-relief groove.
        ReliefDiameter = "relief_diameter" [],
        /// Width of the stress-relief groove.
        ReliefWidth = "relief_width" [],
        /// Diameter of the bore-back.
        BorebackDiameter = "boreback_diameter" [],
        /// Depth of the box connection, nominal.
        BoxDepth = "box_depth" ["lbc"],
    }
);

/// Where a criterion takes its value from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Take {
    /// A reading; a finding that is judged by it may bring the value as its size.
    Reading(ReadingKind),
    /// The wall beside a finding less the depth of the finding.
    WallLeft,
    /// The size of a finding.
    Size,
    /// The share of a finding.
    Share,
    Sight,
    /// The bending strength ratio that the caller computed.
    Bsr,
    /// A repair, not the state of the joint.
    Repair,
    /// A nominal dimension: never judged.
    Nominal,
}

/// What the engine knows of a criterion beside its limits.
#[derive(Clone, Copy, Debug)]
pub struct Spec {
    /// What it is called in print.
    pub name: &'static str,
    /// Where its value comes from.
    pub take: Take,
    /// Ends that it judges; empty for the tube.
    pub ends: &'static [End],
    /// For cuts: true across the pipe, false along it.
    pub transverse: Option<bool>,
    /// What follows when a limit that holds in every class is broken.
    pub disposition: Disposition,
    /// What such a breach stops.
    pub blocks: Blocks,
    /// Work that makes it good.
    pub works: &'static [Work],
    pub who: &'static [Person],
    /// Caution for that work.
    pub caution: Option<Caution>,
    /// Restriction that the joint then carries.
    pub restriction: Option<Restriction>,
    /// How it could be measured, where no reading says so.
    pub by: &'static [Method],
}

const PIN: &[End] = &[End::Pin];
const BOX: &[End] = &[End::Box];
const BOTH: &[End] = &[End::Pin, End::Box];
const TUBE: &[End] = &[];

const BASE: Spec = Spec {
    name: "",
    take: Take::Nominal,
    ends: TUBE,
    transverse: None,
    disposition: Disposition::Run,
    blocks: Blocks::Nothing,
    works: &[],
    who: &[Person::Inspector],
    caution: None,
    restriction: None,
    by: &[],
};

const fn tube(name: &'static str, take: Take) -> Spec {
    Spec { name, take, disposition: Disposition::Shop, blocks: Blocks::Part, ..BASE }
}

const fn shop(
    name: &'static str,
    take: Take,
    ends: &'static [End],
    works: &'static [Work],
) -> Spec {
    Spec {
        name,
        take,
        ends,
        works,
        disposition: Disposition::Shop,
        blocks: Blocks::Part,
        who: &[Person::Inspector, Person::ThreadingShop],
        ..BASE
    }
}

use ReadingKind as R;

const RECUT: &[Work] = &[Work::Recut];
const NEW_METAL: &[Work] = &[Work::NewToolJoint, Work::BuildUp];

impl Criterion {
    /// What the engine knows of this criterion.
    pub const fn spec(self) -> Spec {
        match self {
            Self::WearWall => tube("outside wear: remaining wall", Take::Reading(R::Wall)),
            Self::DentOd => tube("dents and mashes: outside diameter", Take::Size),
            Self::SlipOd => {
                tube("crushing and necking: diameter of the slip area", Take::Reading(R::SlipOd))
            }
            Self::SlipCutDepth => tube("cut in the slip area: depth", Take::Size),
            Self::SlipCutWallTransverse => Spec {
                transverse: Some(true),
                ..tube("cut across, slip area: remaining wall", Take::WallLeft)
            },
            Self::SlipCutWallLongitudinal => Spec {
                transverse: Some(false),
                ..tube("cut along, slip area: remaining wall", Take::WallLeft)
            },
            Self::StretchOd => tube("stretched: outside diameter", Take::Reading(R::BodyOd)),
            Self::StringShotOd => {
                tube("string shot: outside diameter", Take::Reading(R::BodyOdMax))
            }
            Self::CorrosionWall => tube("external corrosion: remaining wall", Take::WallLeft),
            Self::CutWallLongitudinal => Spec {
                transverse: Some(false),
                ..tube("cut along the body: remaining wall", Take::WallLeft)
            },
            Self::CutWallTransverse => Spec {
                transverse: Some(true),
                ..tube("cut across the body: remaining wall", Take::WallLeft)
            },
            Self::PitWall => {
                tube("internal pitting: remaining wall at the deepest pit", Take::WallLeft)
            }
            Self::ErosionWall => {
                tube("internal erosion and wear: remaining wall", Take::Reading(R::Wall))
            }
            Self::CrackExternal => Spec {
                disposition: Disposition::Scrap,
                blocks: Blocks::Scrap,
                caution: Some(Caution::MarkedOut),
                ..tube("fatigue crack outside", Take::Sight)
            },
            Self::CrackInternal => Spec {
                disposition: Disposition::Scrap,
                blocks: Blocks::Scrap,
                caution: Some(Caution::MarkedOut),
                ..tube("fatigue crack inside", Take::Sight)
            },
            Self::Washout => Spec {
                disposition: Disposition::Scrap,
                blocks: Blocks::Scrap,
                caution: Some(Caution::MarkedOut),
                ..tube("hole or washout", Take::Sight)
            },
            Self::NewWall => Spec { name: "wall of new pipe", ..BASE },
            Self::CrackConnection => Spec {
                disposition: Disposition::Out,
                works: &[Work::CutBack, Work::Recut, Work::NewToolJoint],
                caution: Some(Caution::MarkedOut),
                ..shop("crack in the connection", Take::Sight, BOTH, RECUT)
            },
            Self::HeatCheck => Spec {
                disposition: Disposition::Out,
                works: &[Work::CutBack, Work::NewToolJoint],
                caution: Some(Caution::MarkedOut),
                ..shop("heat checks", Take::Sight, BOTH, RECUT)
            },
            Self::JointOd => Spec {
                who: &[Person::Inspector, Person::WeldShop],
                caution: Some(Caution::Welding),
                ..shop("tool joint outside diameter", Take::Reading(R::JointOd), BOTH, NEW_METAL)
            },
            Self::Shoulder => Spec {
                who: &[Person::Inspector, Person::WeldShop],
                caution: Some(Caution::Welding),
                ..shop("width of the box shoulder", Take::Reading(R::Shoulder), BOX, NEW_METAL)
            },
            Self::Counterbore => {
                shop("counterbore diameter (box swell)", Take::Reading(R::Counterbore), BOX, RECUT)
            }
            Self::CounterboreDepth => {
                shop("counterbore depth", Take::Reading(R::CounterboreDepth), BOX, RECUT)
            }
            Self::PinStretch => {
                shop("growth of the pin lead", Take::Reading(R::Stretch), PIN, RECUT)
            }
            Self::ProfileGap => {
                shop("gap under the profile gauge", Take::Reading(R::ProfileGap), BOTH, RECUT)
            }
            Self::PinNeck => {
                shop("length of the pin cylinder", Take::Reading(R::PinNeck), PIN, RECUT)
            }
            Self::ThreadArc => shop("missing arc of a thread", Take::Share, BOTH, RECUT),
            Self::PinTongShare | Self::PinTongMin => Spec {
                who: &[Person::Inspector, Person::WeldShop],
                ..shop("pin tong space", Take::Reading(R::TongSpace), PIN, NEW_METAL)
            },
            Self::BoxTong => Spec {
                who: &[Person::Inspector, Person::WeldShop],
                ..shop("box tong space", Take::Reading(R::TongSpace), BOX, NEW_METAL)
            },
            Self::SealDepth => Spec {
                disposition: Disposition::Reface,
                who: &[Person::RefacingOperator, Person::ThreadingShop],
                caution: Some(Caution::Refacing),
                by: &[Method::VisualConnection],
                ..shop("depth of shoulder damage", Take::Size, BOTH, &[Work::Reface, Work::Recut])
            },
            Self::SealShare => Spec {
                disposition: Disposition::Reface,
                who: &[Person::RefacingOperator, Person::ThreadingShop],
                caution: Some(Caution::Refacing),
                by: &[Method::VisualConnection],
                ..shop("width of shoulder damage", Take::Share, BOTH, &[Work::Reface, Work::Recut])
            },
            Self::BenchmarkPin => {
                shop("shoulder to benchmark, pin", Take::Reading(R::Benchmark), PIN, RECUT)
            }
            Self::BenchmarkBox => {
                shop("shoulder to benchmark, box", Take::Reading(R::Benchmark), BOX, RECUT)
            }
            Self::HardbandHeight => Spec {
                blocks: Blocks::Run,
                who: &[Person::Applicator],
                caution: Some(Caution::Welding),
                ..shop("hardband height", Take::Reading(R::HardbandHeight), BOTH, &[Work::Hardband])
            },
            Self::HardbandProud => Spec {
                disposition: Disposition::RunRestricted,
                blocks: Blocks::Nothing,
                who: &[Person::Applicator],
                caution: Some(Caution::Hardband),
                restriction: Some(Restriction::OpenHoleOrProtectors),
                ..shop("hardband height", Take::Reading(R::HardbandHeight), BOTH, &[Work::Hardband])
            },
            Self::Bevel => Spec {
                disposition: Disposition::Reface,
                blocks: Blocks::Run,
                who: &[Person::RefacingOperator, Person::ThreadingShop],
                caution: Some(Caution::Refacing),
                ..shop(
                    "bevel diameter",
                    Take::Reading(R::Bevel),
                    BOTH,
                    &[Work::Reface, Work::Recut],
                )
            },
            Self::RefaceOnce => {
                Spec { name: "removed by one refacing", take: Take::Repair, ends: BOTH, ..BASE }
            }
            Self::RefaceTotal => Spec {
                name: "removed by refacing in all",
                take: Take::Repair,
                ends: BOTH,
                works: RECUT,
                ..BASE
            },
            Self::RefacePair => Spec {
                name: "removed by refacing from both mating shoulders",
                take: Take::Repair,
                ends: BOTH,
                ..BASE
            },
            Self::CentreUpset => Spec {
                works: &[Work::Hardband, Work::BuildUp],
                who: &[Person::Inspector, Person::Applicator],
                ..tube("centre upset", Take::Reading(R::CentreUpset))
            },
            Self::Bsr => Spec {
                works: RECUT,
                who: &[Person::Engineer, Person::ThreadingShop],
                ..tube("bending strength ratio", Take::Bsr)
            },
            Self::BsrGood => Spec {
                name: "bending strength ratio that works well",
                take: Take::Bsr,
                who: &[Person::Engineer],
                ..BASE
            },
            Self::ElevatorGroove => Spec {
                disposition: Disposition::RunRestricted,
                blocks: Blocks::Nothing,
                caution: Some(Caution::Handling),
                restriction: Some(Restriction::LiftSubOnly),
                who: &[Person::Inspector, Person::ThreadingShop],
                ..tube("elevator groove depth", Take::Reading(R::ElevatorGroove))
            },
            Self::SlipGroove => Spec {
                caution: Some(Caution::Handling),
                blocks: Blocks::Run,
                who: &[Person::Inspector, Person::ThreadingShop],
                ..tube("slip groove depth", Take::Reading(R::SlipGroove))
            },
            Self::ReliefDiameter => {
                shop("relief groove diameter", Take::Reading(R::ReliefDiameter), PIN, RECUT)
            }
            Self::ReliefWidth => {
                shop("relief groove width", Take::Reading(R::ReliefWidth), PIN, RECUT)
            }
            Self::BorebackDiameter => {
                shop("bore-back diameter", Take::Reading(R::BorebackDiameter), BOX, RECUT)
            }
            Self::BoxDepth => Spec { name: "depth of the box connection", ends: BOX, ..BASE },
        }
    }

    /// Parts that this criterion can judge.
    pub const fn judges(self, part: Part) -> bool {
        let ends = self.spec().ends;
        match part.end() {
            None => ends.is_empty(),
            Some(end) => {
                let mut i = 0;
                while i < ends.len() {
                    if matches!((ends[i], end), (End::Pin, End::Pin) | (End::Box, End::Box)) {
                        return true;
                    }
                    i += 1;
                }
                false
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Vocabulary;

    #[test]
    fn every_criterion_is_named_and_says_what_follows() {
        for c in Criterion::ALL {
            let s = c.spec();
            assert!(!s.name.is_empty(), "{c}");
            let judged = !matches!(s.take, Take::Nominal | Take::Repair | Take::Bsr);
            assert!(!judged || s.disposition != Disposition::Run, "{c} has no consequence");
            assert!(!s.who.is_empty(), "{c} is nobody's");
        }
        assert!(Criterion::PinStretch.judges(Part::Pin));
        assert!(!Criterion::PinStretch.judges(Part::Box));
        assert!(Criterion::WearWall.judges(Part::Tube));
        assert!(!Criterion::WearWall.judges(Part::Pin));
    }
}
