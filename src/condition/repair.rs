//! Repairs: what each work resets and what it does not, what must be measured after it, who may do
//! it, and what it can make good.

use crate::model::{End, Provenance, ReadingKind, Scope, Vocabulary, Work, vocabulary};

use super::catalogue::Catalogue;
use super::caution::Caution;
use super::restriction::Restriction;
use super::table::{Table, TableError, TableProblem};
use super::words::Person;

vocabulary!(
    /// What a work ends or starts again. Fatigue damage of the tube is not among them.
    Reset, "thing that a repair resets", {
        /// Count of make-ups of the end.
        Makeups = "makeups" [],
        /// Turns in bend of the end's connection.
        ConnectionTurns = "connection_turns" [],
        /// Total removed by refacing.
        Refacing = "refacing" [],
        /// The restriction on rough hardband.
        HardbandRestriction = "hardband_restriction" [],
        /// Wear clock of the hardband.
        HardbandWear = "hardband_wear" [],
        /// State of the internal coating.
        Coating = "coating" [],
    }
);

/// Where a work is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WorkOn {
    /// On an end, which must be named.
    End,
    Tube,
    Either,
}

/// What a kind of work does to the records of a joint.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkEffect {
    pub work: Work,
    /// Where it is done.
    pub on: WorkOn,
    /// Whether it starts a new generation of the end.
    pub new_generation: bool,
    pub resets: Vec<Reset>,
    /// Readings of the end or tube that hold no longer.
    pub voids: Vec<ReadingKind>,
    /// Readings that must follow.
    pub results: Vec<ReadingKind>,
    /// Scopes to inspect afterwards; each item is a choice.
    pub follow_up: Vec<Vec<Scope>>,
    /// Whether it takes length off the joint.
    pub shortens: bool,
    /// Who may do it.
    pub who: Vec<Person>,
    /// Whether that is licensed or qualified work.
    pub licensed: bool,
    pub caution: Option<Caution>,
    /// Where this is from.
    pub source: String,
    /// What stands behind it.
    pub provenance: Provenance,
    pub note: String,
}

/// What every kind of work does.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Works(Vec<WorkEffect>);

fn read(text: &str) -> Result<Vec<WorkEffect>, Vec<TableError>> {
    let columns = [
        "work",
        "on",
        "generation",
        "resets",
        "voids",
        "results",
        "follow_up",
        "shortens",
        "who",
        "licensed",
        "caution",
        "source",
        "provenance",
        "note",
    ];
    let mut table = Table::read(text, &columns, &[]);
    let rows = table.each(|row, errors| {
        let not = |column: &str, wanted: &str| {
            row.error(
                column,
                TableProblem::Not { found: row.text(column).to_owned(), wanted: wanted.to_owned() },
            )
        };
        let yes = |column: &str, errors: &mut Vec<TableError>| match row.text(column) {
            "yes" => true,
            "no" => false,
            _ => {
                errors.push(not(column, "is neither yes nor no"));
                false
            }
        };
        let on = match row.text("on") {
            "end" => WorkOn::End,
            "tube" => WorkOn::Tube,
            "either" => WorkOn::Either,
            _ => {
                errors.push(not("on", "is neither end, tube nor either"));
                WorkOn::Either
            }
        };
        let follow_up = row
            .list("follow_up")
            .map(|item| {
                item.split('|')
                    .filter_map(|w| {
                        Scope::from_word(w).map_err(|e| errors.push(row.error("follow_up", e))).ok()
                    })
                    .collect()
            })
            .collect();
        let caution = match row.text("caution") {
            "" => None,
            _ => row.word("caution", errors),
        };
        Some(WorkEffect {
            on,
            new_generation: yes("generation", errors),
            resets: row.words("resets", errors),
            voids: row.words("voids", errors),
            results: row.words("results", errors),
            follow_up,
            shortens: yes("shortens", errors),
            who: row.words("who", errors),
            licensed: yes("licensed", errors),
            caution,
            work: row.word("work", errors)?,
            source: row.need("source", "say where this is from", errors)?,
            provenance: row.word("provenance", errors)?,
            note: row.text("note").to_owned(),
        })
    });
    if table.errors.is_empty() { Ok(rows) } else { Err(table.errors) }
}

impl Works {
    /// Reads the table; every error with its line and column.
    pub fn parse(text: &str) -> Result<Self, Vec<TableError>> {
        read(text).map(Self)
    }

    /// What a kind of work does; `None` for one of which the table is silent.
    pub fn effect(&self, work: Work) -> Option<&WorkEffect> {
        self.0.iter().find(|e| e.work == work)
    }

    /// Whether a work makes a reading of what it was done to hold no longer.
    pub fn voids(&self, work: Work, what: ReadingKind) -> bool {
        self.effect(work).is_some_and(|e| e.voids.contains(&what))
    }

    /// Whether a work ends a restriction that the joint carries.
    pub fn ends_restriction(&self, work: Work, restriction: Restriction) -> bool {
        match restriction {
            Restriction::OpenHoleOrProtectors => {
                self.effect(work).is_some_and(|e| e.resets.contains(&Reset::HardbandRestriction))
            }
            Restriction::CorrosionPlan => work == Work::Coat,
            Restriction::WornTorque => work == Work::NewToolJoint,
            Restriction::LiftSubOnly | Restriction::OwnerUse => false,
        }
    }
}

impl WorkEffect {
    /// What is to be looked at after it was done to an end: of each choice, what the end has.
    pub fn looks_afterwards(&self, end: Option<End>) -> impl Iterator<Item = Vec<Scope>> + '_ {
        let fits = move |s: &Scope| {
            !matches!(
                (end, s),
                (Some(End::Pin), Scope::Box | Scope::BoxCracks | Scope::HeatChecks)
                    | (Some(End::Box), Scope::Pin | Scope::PinCracks)
            )
        };
        let choices = self.follow_up.iter();
        let of_end = choices.map(move |c| c.iter().copied().filter(fits).collect::<Vec<_>>());
        of_end.filter(|choice| !choice.is_empty())
    }
}

/// Whether a work can make a finding good. `None` for a word that the catalogue does not know.
pub fn can_clear(work: Work, finding: &str, catalogue: &Catalogue) -> Option<bool> {
    catalogue.get(finding).ok().map(|f| f.cleared_by.contains(&work))
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::condition::edition::FIRST;

    fn shipped() -> &'static Works {
        &FIRST.works
    }

    #[test]
    fn every_work_has_its_effects_and_its_people() {
        for w in Work::ALL {
            let e = shipped().0.iter().filter(|e| e.work == *w).collect::<Vec<_>>();
            assert_eq!(e.len(), 1, "{w}");
            assert!(!e[0].who.is_empty(), "{w}");
            // Only what an end is given anew can start a generation.
            assert!(!e[0].new_generation || e[0].on == WorkOn::End, "{w}");
        }
    }

    #[test]
    fn a_recut_starts_the_connection_anew_and_nothing_else() {
        let e = shipped().effect(Work::Recut).unwrap();
        assert!(e.new_generation && e.shortens);
        assert_eq!(e.resets, [Reset::Makeups, Reset::ConnectionTurns, Reset::Refacing]);
        assert!(e.voids.contains(&ReadingKind::Stretch));
        assert!(!e.voids.contains(&ReadingKind::Wall), "the tube keeps its readings");
        for e in &shipped().0 {
            assert_eq!(
                e.new_generation,
                e.resets.contains(&Reset::Makeups),
                "{}: make-ups are counted per generation",
                e.work
            );
        }
    }
}
