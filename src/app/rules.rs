//! The rules in force, and adopting others.

use super::adoption::of_shipped;
use super::{AdoptHow, Caller, Error, Session};
use crate::condition::Edition;
use crate::filter;
use crate::model::{Adopted, Moment, SetKind};
use crate::policy::{RuleError, RuleSet};
use crate::projection::adoptions;
use crate::report::adopted::newer;
use crate::report::{Block, Report, in_context, rules as listing, rules_in_force, rules_of};

impl Session {
    /// The rules in force, and those that were or will be.
    pub(crate) fn rules(&self) -> Result<Report, Error> {
        let present = self.present();
        let adoptions = self.book.adoptions()?;
        let set = rules_of(&adoptions, present.now)?;
        let mut report = listing::report(&set, &adoptions, &present);
        report.blocks.extend(newer(&adoptions, present.now, &[SetKind::Rules], Edition::shipped()));
        Ok(report)
    }

    /// The set of rules in force.
    pub(crate) fn rules_in_force(&self) -> Result<RuleSet, Error> {
        Ok(rules_in_force(&self.book, self.present().now)?)
    }

    /// Reads every filter of a set against the book's own fields and joints.
    pub(crate) fn check_rules(&self, set: &RuleSet) -> Result<Report, Error> {
        self.check_in_book(set)?;
        Ok(listing::checked(set))
    }

    pub(super) fn check_in_book(&self, set: &RuleSet) -> Result<(), Error> {
        no_errors(in_context(&self.book, set, &self.present(), |context| set.check(context)))
    }

    /// Adopts a set; until it is in force the set before it stays so.
    pub(crate) fn adopt_rules(&mut self, own: &OwnRules, how: AdoptHow) -> Result<Report, Error> {
        self.check_in_book(&own.set)?;
        let mut report = Report::new("rules");
        let later = |from: Moment| from.start(self.clock()) > self.caller.now.at;
        if how.from.is_some_and(later) {
            let until = self.rules_in_force()?.name;
            report.push(Block::Note(format!("until then '{until}' stays in force")));
        }
        let RuleSet { name, text, .. } = &own.set;
        let body = if own.ships {
            of_shipped(SetKind::Rules, None)
        } else {
            adoptions::body(Adopted::Rules, name, text, None)
        };
        self.adopt(report, body, how)
    }
}

/// A set to be adopted.
#[derive(Debug)]
pub(crate) struct OwnRules {
    pub set: RuleSet,
    ships: bool,
}

impl OwnRules {
    /// The set that ships.
    pub(crate) fn shipped() -> Result<Self, Error> {
        let text = Edition::shipped().set(SetKind::Rules).unwrap_or_default();
        Ok(Self { set: RuleSet::parse(text).map_err(Error::Rules)?, ships: true })
    }

    /// A set of the user's.
    pub(crate) fn parse(text: &str) -> Result<Self, Error> {
        Ok(Self { set: RuleSet::parse(text).map_err(Error::Rules)?, ships: false })
    }
}

/// Reads every filter of a set without a book: no joint answers to any serial that one names.
pub(crate) fn check_rules_alone(set: &RuleSet, caller: &Caller) -> Result<Report, Error> {
    let joints = |_: &str| vec![0];
    let rules = set.for_filters();
    no_errors(set.check(&filter::Context {
        now: caller.now.at,
        clock: caller.clock,
        units: caller.units.unwrap_or_default(),
        rules: filter::Rules::These(&rules),
        joints: &joints,
        words: &|_, _| None,
        ask: &|_| Some(Vec::new()),
    }))?;
    Ok(listing::checked(set))
}

fn no_errors(errors: Vec<RuleError>) -> Result<(), Error> {
    if errors.is_empty() { Ok(()) } else { Err(Error::Rules(errors)) }
}
