//! What links entries to what they name, and what keeps a fact from being taken in twice.

use super::table;

/// Why an entry counts no more: a strike that is in force names it.
pub const STRUCK: &str = "struck";
/// A settlement lets it fall.
pub const SET_ASIDE: &str = "set aside";
/// Why a strike or an amendment is not in force: it is of another site's entry, and nobody decided.
pub const WITHOUT_DECISION: &str = "waits for a decision";
/// It is of an entry that only its own site strikes.
pub const NOT_ITS_OWN: &str = "another site's to strike";

table! {
    /// An entry that names a joint (runs apart, which `joint_run` links).
    TouchRow in touch, key (joint, entry),
    indexes {
        touch_entry (entry), touch_cut (joint, cut) where cut, touch_ends (joint, ends) where ends
    } {
        /// the joint
        joint: i64;
        /// the entry
        entry: i64;
        /// instant at which it divides the joint's runs
        cut: Option<i64>;
        /// instant at which the stretch ends of which it says that nothing is known, and divides them too
        ends: Option<i64>, .since(24);
    }
}

table! {
    /// The instant after which a view of the past sees an entry; none for entries that are seen from
    /// any date, or together with others (`projection::horizon`).
    EntryTimeRow in entry_time, key (entry), indexes { entry_time_at (at) } {
        /// the entry
        entry: i64;
        /// the instant at which it began
        at: i64;
    }
}

table! {
    /// An entry that counts no more.
    StruckRow in struck, key (entry) {
        /// the entry
        entry: i64;
        /// the entry by which it fell; itself, where it is not in force
        by_entry: i64;
        /// struck, set aside by a settlement, or why it is not in force
        why: String;
    }
}

table! {
    /// A survey that counts.
    SurveyRow in survey, key (entry), indexes { survey_well (well, at) collate NOCASE } {
        /// its entry
        entry: i64;
        /// the well
        well: String;
        /// when it was made
        at: i64;
        /// how many stations it has
        stations: i64;
    }
}

table! {
    /// What folds read of the whole book, by topic: checks and uses of instruments by tag, adoptions
    /// by what they adopt, entries about a run, entries that wait for one that has not arrived.
    BookFactRow in book_fact, key (topic, subject, entry) {
        /// kind of fact
        topic: String;
        /// what it is about
        subject: String;
        /// the entry
        entry: i64;
    }
}

table! {
    /// Two facts that exclude each other and wait for a decision.
    ConflictRow in conflict, key (joint, n) {
        /// the joint
        joint: i64;
        /// number among the joint's, in the order of its facts
        n: i64;
        /// one entry
        first_entry: i64;
        /// the other
        second_entry: i64;
        /// how they exclude each other
        what: String;
    }
}

table! {
    /// A file taken in, so that the same file twice adds nothing.
    FileTakenRow in file_taken, key (sha256, first_entry) {
        /// digest of the file
        sha256: String;
        /// an entry that it brought
        first_entry: i64;
        /// the same entry
        last_entry: i64;
        /// its name
        file: String;
    }
}

table! {
    /// The content of an entry taken from a file, so that a fact that two files state is taken once.
    ContentRow in content, key (digest, entry) {
        /// digest of the content
        digest: i64;
        /// the entry
        entry: i64;
    }
}
