//! Cautions: what can hurt someone in the work that a verdict calls for, and whom to defer to.
//!
//! Shown once per verdict, short. They are reminders of common practice; no caution here replaces
//! a procedure.

use crate::model::vocabulary;

/// Closes every caution and every verdict.
pub const DEFERENCE: &str = "The governing standard in its edition, the maker's data, local codes \
    and licensed practice come first; a qualified person decides.";

vocabulary!(
    /// What a caution is about.
    Caution, "caution", {
        /// A record without findings.
        Proof = "proof" [],
        /// Cracked, holed or stretched pipe.
        MarkedOut = "marked_out" [],
        /// Dressing of threads and shoulders by hand.
        Threads = "threads" ["dressing"],
        Refacing = "refacing" ["reface"],
        /// Grinding of the tube.
        Grinding = "grinding" [],
        /// Rough or carbide hardband.
        Hardband = "hardband" [],
        Welding = "welding" [],
        Straightening = "straightening" [],
        /// Making up and breaking out.
        Makeup = "makeup" ["tongs"],
        Handling = "handling" [],
        SourGas = "h2s" ["sour"],
        Explosives = "explosives" [],
        /// A limit overridden by a person.
        Override = "override" ["waiver"],
    }
);

impl Caution {
    /// The caution, in a sentence or two.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Proof => {
                "Nothing found is no proof of soundness: every method misses some cracks, and what \
                 was not looked at is not known."
            }
            Self::MarkedOut => {
                "Cracked, washed, holed or stretched pipe must not go back into a string: it can \
                 part under load. Mark it, set it apart, and make scrap unusable."
            }
            Self::Threads => {
                "Take raised metal off flanks and shoulder only. Never file, grind or scratch a \
                 thread root or the pin base: a crack starts there. Gauge and look for cracks \
                 afterwards. Eye protection."
            }
            Self::Refacing => {
                "Reface only where there is a benchmark, within the amount allowed each time and \
                 in all; check flatness, squareness and benchmark afterwards."
            }
            Self::Grinding => {
                "Grind along the pipe, fair the edges, keep the wall of the class, and look for \
                 cracks afterwards: grinding marks start fatigue. Sparks, dust, eyes; a permit \
                 where gas can be."
            }
            Self::Hardband => {
                "Rough or proud hardband cuts casing, riser and BOP: open hole only until it has \
                 worn smooth, or protectors wherever there is steel around it."
            }
            Self::Welding => {
                "No welding on a tool joint outside a shop with a qualified procedure: uncontrolled \
                 heat makes it brittle."
            }
            Self::Straightening => {
                "A press stores energy; stand clear. Look for cracks after straightening."
            }
            Self::Makeup => {
                "Nobody inside the sweep of tongs or their line. With the gauge out of check the \
                 torque is not known."
            }
            Self::Handling => {
                "Pipe rolls and drops: chocks, tag lines, nobody under a load. Check that the \
                 elevator seats and is latched."
            }
            Self::SourGas => {
                "Hydrogen sulphide kills at low concentration and dulls the sense of smell. Treat \
                 exposed steel as brittle: no hammering, no cold work, no shock."
            }
            Self::Explosives => "Explosives are for the licensed crew alone.",
            Self::Override => {
                "Going past a limit or a due date needs a named person with the authority, a \
                 reason, and an end to it."
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Vocabulary;

    #[test]
    fn cautions_are_short_and_defer() {
        for c in Caution::ALL {
            assert!(c.text().len() < 260, "{c} is too long to be read at the rack");
            assert_eq!(Caution::from_word(c.word()).unwrap(), *c);
        }
        for word in ["standard", "local codes", "licensed practice", "maker"] {
            assert!(DEFERENCE.contains(word));
        }
    }
}
