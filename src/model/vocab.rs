//! Closed vocabularies: the trade's words, each with one spelling in the ledger and the other
//! spellings that sheets use.

/// A word that is not in a vocabulary.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{word}' is not {} {kind}{}", article(kind), suggestion(nearest.as_deref(), known))]
pub struct WordError {
    /// What kind of word was wanted.
    pub kind: &'static str,
    pub word: String,
    /// The closest known word.
    pub nearest: Option<String>,
    pub known: Vec<&'static str>,
}

/// The article before a word.
pub fn article(word: &str) -> &'static str {
    if word.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" }
}

/// So many of something, whose plural ends in s.
pub fn plural(n: usize, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}

fn suggestion(nearest: Option<&str>, known: &[&'static str]) -> String {
    match nearest {
        Some(n) => format!("; did you mean {n}?"),
        None => format!("; known: {}", known.join(", ")),
    }
}

/// Folds a word for comparison: lower case, one underscore for blanks, hyphens and slashes.
pub fn fold(text: &str) -> String {
    let mut out = String::new();
    for c in text.trim().chars() {
        if c.is_alphanumeric() {
            out.extend(c.to_lowercase());
        } else if !out.is_empty() && !out.ends_with('_') {
            out.push('_');
        }
    }
    out.truncate(out.trim_end_matches('_').len());
    out
}

/// A text without blanks around it, and with one in place of each run of them.
pub fn join_blanks(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The known word that looks most like a strange one, if any does.
pub fn nearest_word<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    let word = fold(word);
    known
        .into_iter()
        .map(|k| (strsim::jaro_winkler(&fold(k), &word), k))
        .filter(|(score, _)| *score > 0.8)
        // Of those that are as near, the first.
        .reduce(|best, other| if other.0 > best.0 { other } else { best })
        .map(|(_, k)| k.to_owned())
}

/// A closed vocabulary: an enum whose words are known to people, files and filters.
pub trait Vocabulary: Copy + Eq + Sized + 'static {
    /// What one of these is called: "component".
    const KIND: &'static str;
    /// Every member, in order.
    const ALL: &'static [Self];
    /// The word for it in the ledger, in filters and on screens.
    fn word(self) -> &'static str;
    fn aliases(self) -> &'static [&'static str];

    /// Reads a word in any of its spellings.
    fn from_word(text: &str) -> Result<Self, WordError> {
        let key = fold(text);
        Self::ALL
            .iter()
            .copied()
            .find(|m| m.word() == key || m.aliases().contains(&key.as_str()))
            .ok_or_else(|| WordError {
                kind: Self::KIND,
                word: text.trim().to_owned(),
                // The nearest spelling, told as the word that it stands for.
                nearest: nearest_word(
                    text,
                    Self::ALL
                        .iter()
                        .flat_map(|m| std::iter::once(m.word()).chain(m.aliases().iter().copied())),
                )
                .and_then(|near| {
                    let means =
                        |m: &&Self| m.word() == near || m.aliases().contains(&near.as_str());
                    Self::ALL.iter().find(means).map(|m| m.word().to_owned())
                }),
                known: Self::ALL.iter().map(|m| m.word()).collect(),
            })
    }

    /// Place in the order of the vocabulary.
    fn rank(self) -> i64 {
        Self::ALL.iter().position(|m| *m == self).and_then(|p| i64::try_from(p).ok()).unwrap_or(0)
    }

    /// The member at a place in the order.
    fn at_rank(rank: i64) -> Option<Self> {
        usize::try_from(rank).ok().and_then(|r| Self::ALL.get(r)).copied()
    }
}

macro_rules! vocabulary {
    ($(#[$meta:meta])* $name:ident, $kind:literal, {
        $($(#[$doc:meta])* $member:ident = $word:literal $([$($alias:literal),* $(,)?])?),* $(,)?
    }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$doc])* $member),* }

        impl $crate::model::Vocabulary for $name {
            const KIND: &'static str = $kind;
            const ALL: &'static [Self] = &[$(Self::$member),*];
            fn word(self) -> &'static str {
                match self { $(Self::$member => $word),* }
            }
            fn aliases(self) -> &'static [&'static str] {
                match self { $(Self::$member => &[$($($alias),*)?]),* }
            }
        }

        impl ::std::fmt::Display for $name {
            fn fmt(&self, f: &mut ::std::fmt::Formatter<'_>) -> ::std::fmt::Result {
                f.write_str($crate::model::Vocabulary::word(*self))
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.serialize_str($crate::model::Vocabulary::word(*self))
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let text = <String as serde::Deserialize>::deserialize(d)?;
                <Self as $crate::model::Vocabulary>::from_word(&text)
                    .map_err(serde::de::Error::custom)
            }
        }
    };
}
pub(crate) use vocabulary;

vocabulary!(
    /// What a part of the string is.
    Component, "component", {
        DrillPipe = "drill_pipe" ["dp", "drillpipe", "pipe"],
        HeavyWeight = "heavy_weight" [
            "hwdp", "hw", "heavy_weight_drill_pipe", "heavyweight", "heavyweight_drill_pipe",
        ],
        DrillCollar = "drill_collar" ["dc", "collar", "drillcollar"],
        NonMagneticCollar = "non_magnetic_collar" [
            "nmdc", "non_mag_collar", "non_magnetic_drill_collar", "nonmag_collar",
        ],
        /// Crossover, bit, saver or other sub.
        Sub = "sub" ["crossover", "crossover_sub", "xo", "saver_sub", "bit_sub", "float_sub"],
        Stabilizer = "stabilizer" ["stabiliser", "stab", "reamer", "roller_reamer"],
        /// Jar, accelerator, shock tool.
        Jar = "jar" ["jars", "drilling_jar", "shock_sub", "accelerator"],
        /// Downhole motor or rotary steerable tool.
        Motor = "motor" ["mud_motor", "pdm", "turbine", "rotary_steerable"],
        MeasuringTool = "measuring_tool" ["mwd", "lwd", "mwd_tool", "logging_tool"],
        /// Bit, reamer shoe, hole opener.
        Bit = "bit" ["drill_bit", "hole_opener"],
        Pup = "pup" ["pup_joint"],
        Other = "other" ["unknown", "tool"],
    }
);

vocabulary!(
    /// The two ends of a joint.
    End, "end", {
        Pin = "pin" ["p", "pin_end", "male"],
        Box = "box" ["b", "box_end", "female"],
    }
);

vocabulary!(
    /// Class of a used joint, best first. The order is the order of service.
    Class, "class", {
        /// Critical service (ISO 10407-2).
        Critical = "critical" ["critical_service", "cs"],
        Premium = "premium" ["prem", "p", "premium_class"],
        /// Class 2.
        Class2 = "class_2" ["class2", "c2", "2", "class_ii"],
        /// Class 3.
        Class3 = "class_3" ["class3", "c3", "3", "class_iii"],
        /// Scrap: unfit for drilling.
        Scrap = "scrap" ["reject", "junk", "red"],
    }
);

vocabulary!(
    /// What an inspection covers. Clocks are kept for each.
    Scope, "scope of inspection", {
        /// Looked at from outside; proves neither wall nor cracks.
        Visual = "visual" ["visual_tube", "look"],
        /// Outside diameter along the body.
        BodyOd = "body_od" ["od", "od_gauge"],
        /// Wall thickness of the body.
        Wall = "wall" ["wall_thickness", "body_wall"],
        /// Cracks in the body between the ends.
        BodyCracks = "body_cracks" ["body_flaws", "tube_cracks"],
        /// Cracks outside in the slip and upset areas.
        SlipCracks = "slip_cracks" ["slip_area_cracks", "slip_upset", "slip_area", "end_area"],
        /// Cracks inside at the upset run-out.
        UpsetCracks = "upset_cracks" ["internal_upset_cracks"],
        /// Pin connection: threads, shoulder, dimensions.
        Pin = "pin" ["pin_connection"],
        /// Box connection: threads, shoulder, dimensions.
        Box = "box" ["box_connection"],
        /// Cracks in the pin.
        PinCracks = "pin_cracks" [],
        /// Cracks in the box: thread roots, split box.
        BoxCracks = "box_cracks" [],
        Hardband = "hardband" ["hard_band", "hardfacing"],
        /// Bore: drift, coating, internal corrosion.
        Bore = "bore" ["drift", "inside"],
        /// Heat checks outside on the box tool joint.
        HeatChecks = "heat_checks" ["heat_checking", "heat_cracks"],
        /// Elevator and slip grooves.
        Grooves = "grooves" ["handling_grooves", "elevator_groove", "slip_groove"],
    }
);

vocabulary!(
    /// How an inspection looked.
    Method, "inspection method", {
        /// Full-length visual of the body.
        VisualTube = "visual_tube" ["visual", "vt", "full_length_visual"],
        /// Outside-diameter gauging along the body.
        OdGauge = "od_gauge" ["od_gauging", "calliper", "caliper"],
        /// Ultrasonic wall thickness at spots.
        UltrasonicWall = "ultrasonic_wall" ["ut_wall", "ut", "wall_ut"],
        /// Electromagnetic (flux leakage) of the body.
        Electromagnetic = "electromagnetic" ["emi", "emi_1", "flux_leakage"],
        /// Electromagnetic with wall monitoring.
        ElectromagneticWall = "electromagnetic_wall" ["emi_2", "emi_wall"],
        /// Full-length ultrasonic, flaws and wall.
        FullLengthUltrasonic = "full_length_ultrasonic" ["flut", "full_length_ut"],
        /// Magnetic particle of the slip and upset areas.
        MagneticSlip = "magnetic_slip" ["mpi_slip", "mpi_slip_upset", "mpi", "magnetic_particle"],
        /// Ultrasonic shear wave of the slip and upset areas.
        UltrasonicSlip = "ultrasonic_slip" ["ut_slip", "ut_slip_upset", "shear_wave"],
        /// Visual of the connections.
        VisualConnection = "visual_connection" ["visual_thread", "connection_visual"],
        /// Wet fluorescent magnetic particle of the connections.
        BlacklightConnection = "blacklight_connection" [
            "blacklight", "wet_fluorescent", "mpi_connection", "wfmpi",
        ],
        /// Liquid penetrant of connections (non-magnetic parts).
        Penetrant = "penetrant" ["liquid_penetrant", "pt", "dye"],
        UltrasonicConnection = "ultrasonic_connection" ["ut_connection"],
        /// Box OD, pin ID, shoulder, tong space.
        Dimensional1 = "dimensional_1" ["dim1", "dim_1", "dimensional"],
        /// Dimensional 1 with lead, bevel, counterbore, seal width, pin neck, flatness.
        Dimensional2 = "dimensional_2" ["dim2", "dim_2"],
        /// Dimensions of BHA connections and relief features.
        Dimensional3 = "dimensional_3" ["dim3", "dim_3"],
        /// Magnetic particle for heat checks on the box.
        HeatCheck = "heat_check" ["heat_checking", "mpi_heat_check"],
        /// Height and state of hardband.
        HardbandCheck = "hardband_check" ["hardband", "hardband_gauge"],
        BoreCheck = "bore_check" ["drift", "borescope"],
        /// Elevator and slip grooves.
        GrooveCheck = "groove_check" ["elevator_groove", "slip_groove"],
    }
);

vocabulary!(
    ReadingKind, "reading", {
        /// Lowest wall of the body.
        Wall = "wall" ["min_wall", "wall_min", "remaining_wall", "ut_wall"],
        /// Smallest outside diameter of the body.
        BodyOd = "body_od" ["od", "od_min", "tube_od"],
        /// Largest outside diameter of the body.
        BodyOdMax = "body_od_max" ["od_max"],
        /// Outside diameter in the slip area.
        SlipOd = "slip_od" ["slip_area_od"],
        /// Outside diameter of the tool joint, smallest, off the hardband.
        JointOd = "tj_od" ["tool_joint_od", "od_tj"],
        /// Inside diameter of the tool joint.
        JointId = "tj_id" ["tool_joint_id", "pin_bore"],
        /// Shoulder width at the thinnest place.
        Shoulder = "shoulder" ["shoulder_width", "seal_width", "min_shoulder"],
        Counterbore = "counterbore" ["counterbore_diameter", "qc", "cbore"],
        CounterboreDepth = "counterbore_depth" ["cbore_depth"],
        Bevel = "bevel" ["bevel_diameter", "bevel_od"],
        /// Tong space, hardband excluded.
        TongSpace = "tong_space" ["tong", "tong_length"],
        /// Growth of the pin lead over two inches.
        Stretch = "stretch" ["pin_stretch", "lead", "lead_stretch", "lead_error"],
        /// Length of the pin cylinder below the shoulder.
        PinNeck = "pin_neck" ["pin_cylinder", "neck"],
        Benchmark = "benchmark" ["benchmark_distance"],
        /// Gap seen under the thread profile gauge.
        ProfileGap = "profile_gap" ["thread_gap", "profile_gauge_gap"],
        /// Hardband height above the tool joint.
        HardbandHeight = "hardband_height" ["hardband_proud", "hb_height"],
        /// Height of the centre upset above the tube (heavy-weight pipe): its diameter.
        CentreUpset = "centre_upset" ["center_upset", "pad_od", "wear_pad_od"],
        /// Bow over the length.
        Bow = "bow" ["crook", "straightness", "bend"],
        /// Length from box shoulder to pin shoulder.
        Length = "length" ["joint_length", "shoulder_to_shoulder"],
        /// Depth of a pit, cut or gouge.
        FlawDepth = "flaw_depth" ["pit_depth", "cut_depth", "depth"],
        /// Mean wall beside a cut.
        AdjacentWall = "adjacent_wall" ["average_adjacent_wall"],
        ReliefDiameter = "relief_diameter" ["srg_diameter"],
        ReliefWidth = "relief_width" ["srg_width"],
        BorebackDiameter = "boreback_diameter" ["bore_back_diameter"],
        ElevatorGroove = "elevator_groove" ["elevator_groove_depth"],
        SlipGroove = "slip_groove" ["slip_groove_depth"],
    }
);

vocabulary!(
    /// How far the numbers of a run can be trusted.
    RunGrade, "grade of run", {
        /// Cut from an operating log.
        Logged = "logged" ["log"],
        /// Cut from an operating log that lacks some of the run: figures are lower bounds.
        Incomplete = "incomplete" ["partly_logged"],
        /// Hours and depths only.
        Summary = "summary" ["summarised", "report"],
        /// Estimated after the fact.
        Estimated = "estimated" ["estimate", "guess"],
    }
);

vocabulary!(
    /// What the rig was doing in a segment.
    Activity, "activity", {
        /// Rotating, on bottom, making hole.
        RotatingOnBottom = "rotating_on_bottom" [
            "drilling_rotating", "rotary_drilling", "drilling", "rotating",
        ],
        /// Motor drilling without pipe rotation.
        Sliding = "sliding" ["slide", "drilling_sliding", "slide_drilling"],
        /// Rotating while moving down off bottom.
        ReamingDown = "reaming_down" ["reaming", "wash_and_ream"],
        /// Rotating while pulling up.
        ReamingUp = "reaming_up" ["back_reaming", "backreaming"],
        /// Rotating off bottom at one depth.
        RotatingOffBottom = "rotating_off_bottom" ["off_bottom", "rotating_off"],
        /// Not rotating: circulating, tripping, connections, waiting.
        NotRotating = "not_rotating" ["circulating", "tripping", "connection", "static", "wait"],
    }
);

impl Activity {
    /// Whether the string itself turns. A motor turns the bit, not the string.
    pub fn rotates(self) -> bool {
        match self {
            Self::RotatingOnBottom
            | Self::ReamingDown
            | Self::ReamingUp
            | Self::RotatingOffBottom => true,
            Self::Sliding | Self::NotRotating => false,
        }
    }

    /// Whether hole is made.
    pub fn drills(self) -> bool {
        match self {
            Self::RotatingOnBottom | Self::Sliding => true,
            Self::ReamingDown | Self::ReamingUp | Self::RotatingOffBottom | Self::NotRotating => {
                false
            }
        }
    }
}

vocabulary!(
    /// What the mud does to fatigue.
    Environment, "environment", {
        /// As in air: oil mud, dry gas.
        Air = "air" ["oil_mud", "obm", "none"],
        /// Protected: inhibited water mud, coated and cared for.
        Protected = "protected" ["inhibited", "cathodic", "treated"],
        /// Corrosive: salt, oxygenated or untreated water mud.
        Corrosive = "corrosive" ["salt", "seawater", "water_mud", "wbm"],
    }
);

vocabulary!(
    /// Work done on a joint.
    Work, "kind of repair", {
        /// Light dressing of burrs and galls on site.
        Dress = "dress" ["field_dress", "dressed", "dressing"],
        Reface = "reface" ["refaced", "refacing"],
        Recut = "recut" ["re_cut", "recutting", "rethread"],
        Hardband = "hardband" ["rehardband", "hardbanding", "hard_band"],
        Straighten = "straighten" ["straightened", "straightening"],
        Coat = "coat" ["recoat", "internal_coating", "coating"],
        /// End cut back and threaded or welded again.
        CutBack = "cut_back" ["cutback", "cut_off"],
        /// New tool joint welded on.
        NewToolJoint = "new_tool_joint" ["retool", "rebuild", "new_joint"],
        /// Tool joint built up by weld.
        BuildUp = "build_up" ["buildup"],
        /// Flaw ground out and faired.
        Grind = "grind" ["ground", "grinding", "fair"],
    }
);

vocabulary!(
    /// A handling or well event that belongs in a joint's history.
    EventKind, "event", {
        Jarring = "jarring" ["jar", "jarred"],
        /// Pull far above the string's weight.
        Overpull = "overpull" ["over_pull"],
        Stuck = "stuck" ["stuck_pipe"],
        /// Torque above the limit of a connection.
        OverTorque = "over_torque" ["overtorque"],
        /// Exposed to hydrogen sulphide.
        SourGas = "h2s" ["sour", "sour_gas", "hydrogen_sulphide"],
        Fishing = "fishing" ["fished"],
        Drop = "drop" ["dropped", "fall"],
        StringShot = "string_shot" ["stringshot", "explosive"],
        BackOff = "back_off" ["backoff"],
        Heat = "heat" ["fire", "arc_burn"],
        Acid = "acid" ["acidising"],
        /// Stick-slip or whirl beyond the limit.
        Vibration = "vibration" ["stick_slip", "whirl", "shock"],
    }
);

vocabulary!(
    /// How a joint failed.
    FailureKind, "kind of failure", {
        Washout = "washout" ["wash_out", "hole"],
        /// Parted by fatigue and twist.
        TwistOff = "twist_off" ["twistoff", "parted"],
        /// Pin crack or break.
        PinBreak = "pin_break" ["pin_crack", "broken_pin"],
        /// Box split or crack.
        BoxSplit = "box_split" ["split_box", "box_crack", "belled_box"],
        /// Crack found in the tube.
        TubeCrack = "tube_crack" ["crack"],
        Collapse = "collapse" ["collapsed"],
        Burst = "burst" [],
        WearThrough = "wear_through" ["worn_through"],
        Bent = "bent" [],
        Lost = "lost" ["lost_in_hole"],
    }
);

vocabulary!(
    /// What stands in for an input of a joint's exposure that nobody stated.
    Assumption, "assumption of an exposure", {
        /// The nominal weight, which is the name of the size, for the weight in air.
        NominalWeight = "nominal_weight" [],
        /// The weight of the plain section, without upsets and tool joints.
        PlainWeight = "plain_weight" [],
        /// The length of the certificate.
        CertificateLength = "certificate_length" [],
        /// The wall of the certificate.
        NewWall = "new_wall" [],
        /// The weakest grade.
        WeakestGrade = "weakest_grade" [],
        /// A tool joint that holds the tube off no wall: its diameter is not known.
        NoToolJoint = "no_tool_joint" [],
        /// A hole without a wall: its diameter is not known.
        NoWall = "no_hole_wall" ["no_hole_diameter"],
        /// Fatigue as in air: what the mud does is not known.
        Air = "fatigue_in_air" ["air"],
    }
);

vocabulary!(
    /// Where on a joint.
    Place, "place on the joint", {
        /// Body of the tube.
        Body = "body" ["tube", "mid_body"],
        /// Slip area near the box.
        SlipArea = "slip_area" ["slips"],
        /// Upset and its run-out.
        Upset = "upset" ["upset_run_out", "transition"],
        /// Weld line of a tool joint.
        Weld = "weld" ["weld_line", "heat_affected_zone"],
        Bore = "bore" ["inside"],
        /// Outside of the tool joint.
        ToolJoint = "tool_joint" ["tj", "tool_joint_od"],
        /// Elevator shoulder and pin taper.
        Taper = "taper" ["elevator_shoulder", "18_degree_shoulder"],
        Hardband = "hardband" ["hard_band"],
        Shoulder = "shoulder" ["seal", "seal_face", "face"],
        Threads = "threads" ["thread"],
        /// Root of the last engaged thread, pin base.
        PinBase = "pin_base" ["last_engaged_thread", "pin_root"],
        PinNose = "pin_nose" ["nose"],
        Counterbore = "counterbore" ["cbore"],
        BoxBack = "box_back" ["boreback"],
        /// Centre upset of heavy-weight pipe.
        CentreUpset = "centre_upset" ["center_upset", "pad"],
        /// Groove of a collar.
        Groove = "groove" ["elevator_groove", "slip_groove"],
        /// The joint as a whole.
        Whole = "joint" ["whole", "overall"],
    }
);

vocabulary!(
    InstrumentKind, "instrument", {
        TorqueGauge = "torque_gauge" ["torque", "tong_gauge", "torque_sensor"],
        LoadCell = "load_cell" ["loadcell", "weight_indicator"],
        UltrasonicGauge = "ultrasonic_gauge" ["ut_gauge"],
        /// Calliper, lead gauge, profile gauge and the like.
        DimensionalGauge = "dimensional_gauge" ["caliper", "calliper", "lead_gauge"],
        FlawDetector = "flaw_detector" ["emi_unit", "mpi_yoke"],
        MasterBushing = "master_bushing" ["bushing", "rotary_bushing"],
        Slips = "slips" ["slip"],
        Elevator = "elevator" ["elevators"],
        /// Tong or iron roughneck.
        Tong = "tong" ["tongs", "iron_roughneck"],
    }
);

vocabulary!(
    /// How an instrument or equipment was checked.
    CheckKind, "kind of check", {
        /// Two gauges in one line.
        Tandem = "tandem" ["in_tandem", "two_gauges"],
        KnownWeight = "known_weight" ["weight", "dead_weight"],
        /// Calibration with a certificate.
        Calibration = "calibration" ["certificate", "calibrated"],
        ReferenceBlock = "reference_block" ["block", "standardisation"],
        /// Slip test with paper.
        SlipTest = "slip_test" ["paper_test"],
        /// Measured wear of a bushing or slips.
        WearCheck = "wear_check" ["gauge_check"],
    }
);

vocabulary!(
    /// Where a joint stands with its owner.
    Status, "status", {
        /// In the owner's hands and may be sent out.
        InStock = "in_stock" ["stock", "available", "yard"],
        OnHire = "on_hire" ["hired", "out"],
        /// In a repair shop.
        InRepair = "in_repair" ["repair", "shop"],
        /// Set aside until someone decides.
        Quarantine = "quarantine" ["quarantined", "hold"],
        /// Out of service for good.
        Retired = "retired" ["scrapped", "scrap"],
        Lost = "lost" ["lost_in_hole"],
    }
);

vocabulary!(
    /// How the torque of a make-up stands to what the connection asks for.
    TorqueVerdict, "verdict", {
        /// Below it by more than the equipment scatters.
        Under = "under" ["under_torque", "low"],
        /// Above it by more than is allowed.
        Over = "over" ["over_torque", "high"],
        OnTarget = "on_target" ["good", "ok"],
    }
);

vocabulary!(
    /// What a decision rules.
    RulingKind, "ruling", {
        Class = "class" ["reclass", "classify", "downgrade"],
        Quarantine = "quarantine" ["hold", "set_aside"],
        Release = "release" ["released"],
        /// Out of service for good.
        Retire = "retire" ["scrap", "retired"],
        /// Which of two facts that exclude each other stands.
        Settle = "settle" ["settlement"],
        /// A limit or a due date is overridden.
        Waive = "waive" ["waiver"],
    }
);

vocabulary!(
    /// What a rule calls for.
    Call, "call", {
        Inspection = "inspection" ["inspect"],
        Downgrade = "downgrade" [],
        Repair = "repair" [],
        Quarantine = "quarantine" [],
        Retire = "retire" [],
    }
);

vocabulary!(
    /// A set by which joints are judged, damage is worked out or work is called for.
    SetKind, "set", {
        Limits = "limits" [],
        Findings = "findings" ["catalogue"],
        /// What methods of inspection can see.
        Methods = "methods" [],
        /// What must be known of a part before it is passed.
        Needs = "needs" [],
        /// What repairs do to the records of a joint.
        Works = "works" ["repairs"],
        Fatigue = "fatigue" ["method"],
        /// Rules of what is due.
        Rules = "rules" [],
    }
);

vocabulary!(
    /// What an adoption brings.
    Adopted, "thing to adopt", {
        /// Sets of an edition.
        Edition = "edition" [],
        /// Limits of one's own, over those of the edition in force.
        Limits = "limits" [],
        Fatigue = "fatigue" [],
        Rules = "rules" [],
    }
);

vocabulary!(
    /// What stands behind a figure.
    Provenance, "provenance", {
        /// A document was read.
        Published = "published" ["seen", "read"],
        /// Recalled, not looked up.
        Memory = "memory" ["recalled"],
        /// A rule of the trade without a source.
        CommonPractice = "common_practice" ["practice"],
        Computed = "computed" ["derived"],
    }
);

#[cfg(test)]
mod tests {
    use std::fmt;

    use super::*;

    fn sound<V: Vocabulary + fmt::Debug>() {
        let mut seen = std::collections::BTreeMap::new();
        for m in V::ALL {
            for spelling in std::iter::once(m.word()).chain(m.aliases().iter().copied()) {
                assert_eq!(fold(spelling), spelling, "{} {spelling} is not folded", V::KIND);
                assert!(
                    seen.insert(spelling, *m).is_none_or(|other| other == *m),
                    "{} {spelling} means two things",
                    V::KIND
                );
            }
            assert_eq!(V::from_word(m.word()).unwrap(), *m);
            assert_eq!(V::at_rank(m.rank()), Some(*m));
        }
    }

    #[test]
    fn every_word_has_one_meaning() {
        sound::<Component>();
        sound::<End>();
        sound::<Class>();
        sound::<Scope>();
        sound::<Assumption>();
        sound::<Method>();
        sound::<ReadingKind>();
        sound::<RunGrade>();
        sound::<Activity>();
        sound::<Environment>();
        sound::<Work>();
        sound::<EventKind>();
        sound::<FailureKind>();
        sound::<Place>();
        sound::<InstrumentKind>();
        sound::<CheckKind>();
        sound::<Status>();
        sound::<TorqueVerdict>();
        sound::<RulingKind>();
        sound::<Call>();
        sound::<Provenance>();
        sound::<SetKind>();
        sound::<Adopted>();
    }

    #[test]
    fn a_strange_word_gets_a_suggestion_not_a_guess() {
        assert_eq!(Component::from_word("Drill Pipe").unwrap(), Component::DrillPipe);
        assert_eq!(Class::from_word("Class 2").unwrap(), Class::Class2);
        assert_eq!(
            Component::from_word("dril pipe").unwrap_err().to_string(),
            "'dril pipe' is not a component; did you mean drill_pipe?"
        );
        assert_eq!(
            End::from_word("middle").unwrap_err().to_string(),
            "'middle' is not an end; known: pin, box"
        );
    }
}
