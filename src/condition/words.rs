//! Closed vocabularies of this room: parts, dispositions, people, paint bands.

use crate::model::{End, Place, vocabulary};

vocabulary!(
    /// A part of a joint that is judged apart from the others.
    Part, "part of the joint", {
        /// The tube between the tool joints; the body of a collar.
        Tube = "tube" ["body"],
        Pin = "pin" ["pin_end"],
        Box = "box" ["box_end"],
        /// The joint as a whole: its identity, what it went through.
        Joint = "joint" ["whole"],
    }
);

impl Part {
    /// The end that this part is, if it is one.
    pub const fn end(self) -> Option<End> {
        match self {
            Self::Pin => Some(End::Pin),
            Self::Box => Some(End::Box),
            Self::Tube | Self::Joint => None,
        }
    }
}

impl From<End> for Part {
    fn from(end: End) -> Self {
        match end {
            End::Pin => Self::Pin,
            End::Box => Self::Box,
        }
    }
}

/// True for places that belong to an end of the joint.
pub const fn on_an_end(place: Place) -> bool {
    match place {
        Place::ToolJoint
        | Place::Taper
        | Place::Hardband
        | Place::Shoulder
        | Place::Threads
        | Place::PinBase
        | Place::PinNose
        | Place::Counterbore
        | Place::BoxBack => true,
        Place::Body
        | Place::SlipArea
        | Place::Upset
        | Place::Weld
        | Place::Bore
        | Place::CentreUpset
        | Place::Groove
        | Place::Whole => false,
    }
}

vocabulary!(
    /// What follows from a verdict, mildest first. The order says how much stands between the
    /// joint and its next run.
    Disposition, "disposition", {
        Run = "run" ["may_run", "run_on", "accept"],
        /// May run where the restriction allows.
        RunRestricted = "run_restricted" ["restricted", "may_run_restricted"],
        /// May run in a lower class than before, or than asked for.
        Downgrade = "downgrade" [],
        /// Dress by hand on site first.
        Dress = "dress" ["field_dress", "dress_on_site"],
        /// Reface first, on site with an identified machine or in the shop.
        Reface = "reface" ["field_reface"],
        /// Set aside until something is measured, looked at or decided.
        Hold = "hold" ["quarantine", "measure_first"],
        Shop = "shop" ["shop_repair"],
        /// Cracked: out of the string. A shop may save it when the whole crack is cut off.
        Out = "out" ["out_of_string"],
        /// Unfit for drilling for good.
        Scrap = "scrap" ["reject_for_good"],
    }
);

impl Disposition {
    /// Whether a joint with this disposition may go into a string as it is.
    pub const fn may_run(self) -> bool {
        matches!(self, Self::Run | Self::RunRestricted | Self::Downgrade)
    }

    /// What it says to the person at the rack.
    pub const fn says(self) -> &'static str {
        match self {
            Self::Run => "may run",
            Self::RunRestricted => "may run, with a restriction",
            Self::Downgrade => "goes into a lower class",
            Self::Dress => "dress on site, then look again",
            Self::Reface => "reface before it runs",
            Self::Hold => "set aside: something is not known",
            Self::Shop => "to the shop",
            Self::Out => "cracked: out of the string",
            Self::Scrap => "scrap",
        }
    }
}

vocabulary!(
    /// What a finding, or a limit that is broken, stops.
    Blocks, "effect", {
        /// Nothing: a remark, or a matter of class alone.
        Nothing = "nothing" ["none"],
        /// The joint stays out of the string until the work is done; its class stands.
        Run = "run" [],
        /// The part has no class until it is repaired.
        Part = "part" ["end"],
        /// The joint is scrap.
        Scrap = "scrap" ["joint"],
    }
);

vocabulary!(
    /// Who may do a piece of work or take a decision.
    Person, "person", {
        /// Cleans, looks, dopes, protects, tags out, reports.
        RigHand = "rig_hand" ["crew"],
        /// Named for it by owner or supervisor: hand dressing of burrs and raised metal.
        CompetentPerson = "competent_person" [],
        /// Trained to grind and fair; an inspector accepts the result.
        Grinder = "grinder" ["trained_grinder"],
        /// Qualified inspector who works to a written procedure.
        Inspector = "inspector" ["qualified_inspector"],
        /// Trained refacing operator with an identified and maintained machine.
        RefacingOperator = "refacing_operator" [],
        /// Threading shop licensed for the connection (API 7-1 / 7-2, or by its maker).
        ThreadingShop = "threading_shop" [],
        /// Hardband applicator with a qualified procedure.
        Applicator = "applicator" ["hardband_applicator"],
        /// Shop with a press.
        StraighteningShop = "straightening_shop" [],
        CoatingShop = "coating_shop" [],
        /// Specialist shop with qualified weld and heat-treatment procedures.
        WeldShop = "weld_shop" [],
        /// Manufacturer of the pipe or the tool joint, or one trained by it.
        Maker = "maker" ["manufacturer"],
        Engineer = "engineer" [],
        Metallurgist = "metallurgist" [],
        Supervisor = "supervisor" ["toolpusher"],
        /// Owner of the joint.
        Owner = "owner" [],
    }
);

impl Person {
    /// Who that is, in words.
    pub const fn says(self) -> &'static str {
        match self {
            Self::RigHand => "rig hand",
            Self::CompetentPerson => "competent person named by owner or supervisor",
            Self::Grinder => "trained grinder, accepted by an inspector",
            Self::Inspector => "qualified inspector",
            Self::RefacingOperator => {
                "trained refacing operator with an identified, maintained machine"
            }
            Self::ThreadingShop => "threading shop licensed for the connection",
            Self::Applicator => "hardband applicator with a qualified procedure",
            Self::StraighteningShop => "shop with a press",
            Self::CoatingShop => "coating shop",
            Self::WeldShop => "specialist shop with qualified weld and heat-treatment procedures",
            Self::Maker => "maker, or a person trained by the maker",
            Self::Engineer => "engineer",
            Self::Metallurgist => "metallurgist",
            Self::Supervisor => "supervisor",
            Self::Owner => "owner",
        }
    }
}

vocabulary!(
    /// Colour of a paint band, with the standard's meaning only.
    Colour, "band colour", {
        /// Critical service (one band) or Premium (two).
        White = "white" [],
        /// Class 2.
        Yellow = "yellow" [],
        /// Class 3.
        Orange = "orange" [],
        /// On the tube: scrap. On a tool joint: scrap, or for the shop.
        Red = "red" [],
        /// On a tool joint: can be made good on site.
        Green = "green" [],
    }
);

vocabulary!(
    /// Kind of sealing shoulder, which decides what damage to it may stay.
    Seal, "kind of shoulder", {
        /// One shoulder, as on API connections.
        Single = "single" ["api"],
        /// A sealing shoulder and a torque shoulder at the pin nose, as its maker has it.
        Double = "double" ["double_shoulder"],
    }
);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Vocabulary;

    fn sound<V: Vocabulary + std::fmt::Debug>() {
        for m in V::ALL {
            assert_eq!(V::from_word(m.word()).unwrap(), *m);
            for a in m.aliases() {
                assert_eq!(V::from_word(a).unwrap(), *m, "{a}");
            }
        }
    }

    #[test]
    fn words_mean_one_thing() {
        sound::<Part>();
        sound::<Disposition>();
        sound::<Blocks>();
        sound::<Person>();
        sound::<Colour>();
        sound::<Seal>();
    }

    #[test]
    fn only_the_first_three_dispositions_let_a_joint_run() {
        let may: Vec<_> = Disposition::ALL.iter().filter(|d| d.may_run()).collect();
        assert_eq!(may, [&Disposition::Run, &Disposition::RunRestricted, &Disposition::Downgrade]);
    }
}
