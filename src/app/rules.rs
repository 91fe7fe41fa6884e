//! The rules in force, and adopting others.

use super::adoption::{Adopted, adopt};
use super::{Caller, Error, Session};
use crate::filter;
use crate::model::Moment;
use crate::policy::{RuleError, RuleSet};
use crate::report::{Block, Report, in_context, rule_adoptions, rules as listing, rules_in_force};

impl Session {
    /// The rules in force, and those that were or will be.
    pub(crate) fn rules(&self) -> Result<Report, Error> {
        let present = self.present();
        let set = rules_in_force(&self.book, present.now)?;
        Ok(listing::report(&set, &rule_adoptions(&self.book)?, &present))
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

    fn check_in_book(&self, set: &RuleSet) -> Result<(), Error> {
        no_errors(in_context(&self.book, set, &self.present(), |context| set.check(context)))
    }

    /// Adopts a set from a day on, or from now; until then the set before it stays in force.
    pub(crate) fn adopt_rules(
        &mut self,
        set: &RuleSet,
        from: Option<Moment>,
        dry_run: bool,
    ) -> Result<Report, Error> {
        self.check_in_book(set)?;
        let adopted = Adopted {
            what: "rules",
            name: &set.name,
            text: Some(&set.text),
            from: from.unwrap_or(self.caller.present()),
        };
        let until = self.rules_in_force()?.name;
        let mut report = adopt(&mut self.book, &adopted, dry_run, &self.caller)?;
        if adopted.from.start(self.offset_minutes()) > self.caller.now.at {
            report.push(Block::Note(format!("until then '{until}' stays in force")));
        }
        Ok(report)
    }
}

/// Reads every filter of a set without a book: no joint answers to any serial that one names.
pub(crate) fn check_rules_alone(set: &RuleSet, caller: &Caller) -> Result<Report, Error> {
    let joints = |_: &str| vec![0];
    let rules = set.for_filters();
    no_errors(set.check(&filter::Context {
        now: caller.now.at,
        offset_minutes: caller.offset_minutes(),
        units: caller.units.unwrap_or_default(),
        rules: &rules,
        joints: &joints,
    }))?;
    Ok(listing::checked(set))
}

/// The set that ships.
pub(crate) fn shipped_rules() -> Result<RuleSet, Error> {
    RuleSet::shipped().map_err(Error::Rules)
}

fn no_errors(errors: Vec<RuleError>) -> Result<(), Error> {
    if errors.is_empty() { Ok(()) } else { Err(Error::Rules(errors)) }
}
