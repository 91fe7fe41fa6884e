//! Questions: words in, a report out.

use chrono::NaiveDate;

use super::{Error, Session};
use crate::filter::{Dialect, Source};
use crate::model::{DAY_MS, EntryId, Instant};
use crate::policy::RuleSet;
use crate::policy::price::Prices;
use crate::report::due::{self, Ahead};
use crate::report::{
    Asked, Block, Report, dossier, entries, exposure, failure, find, find_joint, forecast, journal,
    kin, lists, rules, rules_in_force, run_page, show, statement, stock, survey, trace, why,
};

/// A month of the calendar, on average.
const MONTH_MS: i64 = 2_629_800_000;

/// Entries up to which a list that people act on is made of a proven book: a million are proven in a
/// second, and nobody is to wait.
const PROVEN_FIRST: i64 = 50_000;

impl Session {
    /// Proves the entries that a list rests on, or says that it did not: what was derived of them
    /// before would not show that one was altered.
    fn prove(&self, report: &mut Report) -> Result<(), Error> {
        if !self.book.prove_chains_up_to(PROVEN_FIRST)? {
            report.push(Block::Note(format!(
                "this book has more than {PROVEN_FIRST} entries, which were not proven for this list; \
                 `pipelore verify` proves them"
            )));
        }
        Ok(())
    }

    /// Joints, or records, that match a filter: `class = premium and hours > 300 h`.
    ///
    /// # Errors
    /// [`Error::Report`] with the place in the filter when it does not read, and [`Error::Store`]
    /// when it takes longer than the caller's limit.
    pub fn find(&mut self, filter: &str, how: &find::Options) -> Result<Report, Error> {
        let present = self.present();
        Ok(find::report(&mut self.book, filter, None, how, &present)?)
    }

    /// The same by rules that were looked up before, for one question after another.
    pub(crate) fn find_by(
        &mut self,
        filter: &str,
        rules: &RuleSet,
        how: &find::Options,
    ) -> Result<Report, Error> {
        let present = self.present();
        Ok(find::report(&mut self.book, filter, Some(rules), how, &present)?)
    }

    /// The statement by which an engine answers a filter on a publication of this book, or of many.
    ///
    /// # Errors
    /// As [`Self::find`], and when the engine has no words for a part of the filter, which is named.
    pub(crate) fn statement_for(
        &self,
        filter: &str,
        rules: &RuleSet,
        engine: (Dialect, &Source),
    ) -> Result<String, Error> {
        Ok(find::statement(&self.book, filter, rules, engine, &self.present())?)
    }

    /// Why a filter, or a rule by its name, holds for a joint or does not: values, limits, entries.
    ///
    /// # Errors
    /// As [`Self::find`], and when no joint or more than one answers to the serial.
    pub fn why(&mut self, serial: &str, filter: &str) -> Result<Report, Error> {
        let joint = find_joint(&self.book, serial)?;
        let present = self.present();
        let rules = rules_in_force(&self.book, present.now)?;
        Ok(why::report(&mut self.book, joint, filter, &rules, &present)?)
    }

    /// What the rules in force call for, worst first.
    ///
    /// # Errors
    /// When the rules in force do not read, or the question takes too long.
    pub fn due(&mut self, how: &due::Options) -> Result<Report, Error> {
        let present = self.present();
        let set = rules_in_force(&self.book, present.now)?;
        let mut report = due::report(&mut self.book, &set, how, &present)?;
        if let Some(Ahead::Days(days)) = how.within {
            #[expect(clippy::cast_possible_truncation, reason = "a cast of a float saturates")]
            let end = Instant(present.now.0.saturating_add((days * DAY_MS as f64) as i64));
            report.blocks.extend(self.rules_change_before(end)?);
        }
        self.prove(&mut report)?;
        Ok(report)
    }

    /// The filter of the joints that are asked about; `None` for all of them.
    pub(crate) fn joints_asked_about(&self, asked: &Asked<'_>) -> Result<Option<String>, Error> {
        Ok(asked.in_words(&self.book)?)
    }

    fn rules_change_before(&self, end: Instant) -> Result<Option<Block>, Error> {
        let adoptions = self.book.adoptions()?;
        Ok(rules::change_before(&adoptions, &self.present(), end).map(Block::Note))
    }

    /// The whole life of a joint, oldest first; only these records where some are named.
    ///
    /// # Errors
    /// When no joint or more than one answers to the serial.
    pub fn trace(&mut self, serial: &str, only: &[String]) -> Result<Report, Error> {
        let joint = find_joint(&self.book, serial)?;
        let options = trace::Options {
            only: only.to_vec(),
            clock: self.clock(),
            present: Some(self.present()),
        };
        Ok(trace::report(&mut self.book, joint, &options)?)
    }

    /// Entries as the ledger holds them.
    pub(crate) fn entries(&self, how: &entries::Options) -> Result<Report, Error> {
        Ok(entries::report(&self.book, how)?)
    }

    /// An entry: whole for machines, in words for people.
    pub(crate) fn show(&self, entry: &EntryId, whole: bool) -> Result<Report, Error> {
        let of = if whole { entries::one } else { show::report };
        Ok(of(&self.book, entry)?)
    }

    /// What was entered on some days.
    pub(crate) fn journal(&self, how: &journal::Options) -> Result<Report, Error> {
        Ok(journal::report(&self.book, how, self.clock())?)
    }

    /// The day that it is by the clock of the book.
    pub(crate) fn today(&self) -> NaiveDate {
        self.present().now.at(self.clock()).date_naive()
    }

    /// What the book knows by name.
    pub(crate) fn list(&self, what: lists::What) -> Result<Report, Error> {
        Ok(lists::report(&self.book, what, self.clock())?)
    }

    /// Sisters of a joint, which to inspect first.
    pub(crate) fn kin(&self, serial: &str, limit: usize) -> Result<Report, Error> {
        let joint = find_joint(&self.book, serial)?;
        let present = self.present();
        let options = kin::Options { limit, now: present.now, clock: present.clock };
        Ok(kin::report(&self.book, joint, &options)?)
    }

    /// Counts and lengths of what there is.
    pub(crate) fn stock(&mut self, how: &stock::Options) -> Result<Report, Error> {
        let present = self.present();
        let rules = rules_in_force(&self.book, present.now)?;
        let mut report = stock::report(&mut self.book, &rules, how, &present)?;
        self.prove(&mut report)?;
        Ok(report)
    }

    /// Classes, calls and replacement ahead.
    pub(crate) fn forecast(&mut self, how: &forecast::Options) -> Result<Report, Error> {
        let present = self.present();
        let set = rules_in_force(&self.book, present.now)?;
        let mut report = forecast::report(&mut self.book, &set, how, &present)?;
        let ahead = MONTH_MS.saturating_mul(i64::from(how.months));
        let end = Instant(present.now.0.saturating_add(ahead));
        report.blocks.extend(self.rules_change_before(end)?);
        self.prove(&mut report)?;
        Ok(report)
    }

    /// What a joint went through, run by run.
    pub(crate) fn exposure(&self, serial: &str) -> Result<Report, Error> {
        let joint = find_joint(&self.book, serial)?;
        Ok(exposure::of_joint(&self.book, joint, self.clock())?)
    }

    /// Damage of a joint by depth of hole and by what the rig did.
    pub(crate) fn exposure_by_depth(&self, serial: &str) -> Result<Report, Error> {
        let joint = find_joint(&self.book, serial)?;
        Ok(failure::by_depth(&self.book, joint, self.units())?)
    }

    /// What the joints of a run went through.
    pub(crate) fn exposure_of_run(&self, run: &str) -> Result<Report, Error> {
        Ok(exposure::of_run(&self.book, run, self.clock())?)
    }

    /// The survey in force of a well, or the wells that have surveys.
    pub(crate) fn survey(&self, well: Option<&str>) -> Result<Report, Error> {
        Ok(match well {
            Some(well) => survey::of_well(&self.book, well, self.clock())?,
            None => survey::wells(&self.book, self.clock())?,
        })
    }

    /// A run for a page: hole, string, tension, damage, log.
    pub(crate) fn run_page(&self, run: &str) -> Result<Report, Error> {
        Ok(run_page::report(&self.book, run, self.clock(), self.units())?)
    }

    /// Everything about a joint.
    pub(crate) fn dossier(&mut self, serial: &str) -> Result<Report, Error> {
        let joint = find_joint(&self.book, serial)?;
        let present = self.present();
        Ok(dossier::of_joint(&mut self.book, joint, &present)?)
    }

    /// Everything about the joints of a string.
    pub(crate) fn dossier_of_string(&mut self, string: &str) -> Result<Report, Error> {
        let present = self.present();
        Ok(dossier::of_string(&mut self.book, string, &present)?)
    }

    /// What a hire did to its joints.
    pub(crate) fn statement(&self, hire: &str, prices: Option<&Prices>) -> Result<Report, Error> {
        Ok(statement::report(&self.book, hire, prices, &self.present())?)
    }
}
