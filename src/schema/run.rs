//! Runs, and what a joint went through in one.
//!
//! The record `run` of the language is both tables: what a joint's share of the run repeats of the
//! run is read there.

use crate::model::{Assumption, Environment, RunGrade};
use crate::units::Measure as M;

use super::Words;
use super::counters::{AfterCut, Figures, LOG};
use super::table;

const ENTRY: &str = "the run's entry";

table! {
    /// A run.
    RunRow in run, key (run), indexes {
        run_well (well) collate NOCASE, run_name (name) collate NOCASE, run_finish (finish)
    } {
        /// place of its entry
        run: i64;
        /// name of that entry, as names sort
        by_name: String;
        /// name of the run
        name: String, .from(ENTRY);
        /// well
        well: String, .from(ENTRY);
        /// rig
        rig: Option<String>, .from(ENTRY);
        /// string as the run's entry names it
        string: Option<String>, .from(ENTRY);
        /// when the run began
        start: i64, .date().from(LOG).also(&["started"]).titled("from");
        /// when the run ended
        finish: i64, .date().from(LOG).also(&["date", "ended"]).titled("to");
        /// when the rows of its log begin; none without a log that has a clock
        rows_from: Option<i64>, .date().since(14);
        /// when they end
        rows_to: Option<i64>, .date().since(14);
        /// how far the run's figures can be trusted: logged, incomplete, summary, estimated
        grade: RunGrade, .from(ENTRY);
        /// what the mud does to fatigue: air, protected, corrosive
        environment: Option<Environment>, .from(ENTRY).unknown("the entry does not say");
        /// hydrogen sulphide was met
        sour: Option<bool>, .from(ENTRY).counted().unknown("the entry does not say");
        /// protectors were fitted
        protectors: Option<bool>, .from(ENTRY).unknown("the entry does not say");
        /// depth of the casing shoe
        casing_depth: Option<i64>, .of(M::Depth).from(ENTRY);
        /// mud weight
        mud_weight: Option<i64>, .of(M::Density).from(ENTRY);
        /// tags of the rig equipment used
        equipment: Option<String>, .several().from(ENTRY).or_none("the entry names none");
        /// some of the rig equipment used failed its next check
        equipment_doubtful: bool, .from(ENTRY).counted();
        /// survey in force; none where the path is unknown
        survey: Option<i64>;
        /// joints of the book in the run
        joints: i64, .count().from(ENTRY).titled("joints of the book");
        /// drill pipe joints without a serial in the run
        unidentified: i64, .count().from(ENTRY);
        /// rotating hours of the whole run
        run_hours: Option<i64>, .of(M::Hours).from(ENTRY).titled("rotating hours");
        /// turns of the whole run
        run_revolutions: Option<i64>, .of(M::Turns).from(ENTRY).titled("turns");
        /// hole drilled in the whole run
        run_footage: Option<i64>, .of(M::Depth).from(ENTRY).titled("drilled");
        /// bit depth from which the run drilled
        depth_in: Option<i64>, .of(M::Depth).from(ENTRY).titled("from depth");
        /// bit depth to which the run drilled
        depth_out: Option<i64>, .of(M::Depth).from(ENTRY).titled("to depth");
    }
}

table! {
    /// What a joint went through in a run. Clustered by joint, in the order of its facts.
    JointRunRow in joint_run, key (joint, finish, turn, run),
    indexes { joint_run_run (run, position), joint_run_dogleg (max_dogleg, hours, joint) } {
        /// the joint
        joint: i64;
        /// when the run ended
        finish: i64, .date();
        /// place among the joint's runs that ended then
        turn: i64;
        /// the run
        run: i64;
        /// when the run began
        start: i64, .date();
        /// place in the string: joints of the book below it, plus one
        position: i64, .count().from(LOG).titled("place");
        /// distance from the bit to the pin shoulder
        from_bit: i64, .of(M::Depth).from(LOG);
        /// digest of what the figures were derived from
        input_key: i64;
        /// length of the joint then
        length: i64, .of(M::JointLength).from(LOG);
        /// what the figures lack, one bit each
        flags: i64;
        /// what stands in for inputs that nobody stated
        assumed: i64, .set(Words::of::<Assumption>()).from(LOG).since(13);
        /// it excludes another fact, such as a run at the same time, and nobody has settled it
        conflicting: bool, .from(LOG).counted();
        /// a restriction of the joint to open hole or protectors was not kept in it
        restriction_broken: Option<bool>, .from(LOG).counted().unknown("hours in casing, or protectors, are not known");
        /// what it went through
        figures: Figures;
        /// shallowest depth at which the joint turned
        top_depth: Option<i64>, .of(M::Depth).from(LOG).also(&["top"]);
        /// deepest depth at which the joint turned
        bottom_depth: Option<i64>, .of(M::Depth).from(LOG).also(&["bottom"]);
        /// turns and hours by dogleg band
        histogram: Vec<u8>;
    }
}

table! {
    /// The part of a joint's run before an instant that falls inside it: an inspection during the
    /// run.
    RunPartRow in run_part, key (joint, run, cut), indexes { run_part_run (run) } {
        /// the joint
        joint: i64;
        /// the run
        run: i64;
        /// the instant
        cut: i64;
        /// digest of what the figures were derived from
        input_key: i64;
        /// what it went through before the cut
        figures: Figures;
        /// the largest after it
        after: AfterCut;
        /// turns and hours by dogleg band before the cut
        histogram: Vec<u8>;
    }
}
