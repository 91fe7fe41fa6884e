//! One fact from FIELD=VALUE words, read as the one row of a file would be; and inspections of one
//! joint after another, each judged before it is written.

use super::take_in::clash_line;
use super::words::{self, Fields};
use super::{Error, Session, hire, told_hours, unlikely};
use crate::condition::{Severity as Weight, Threshold, thresholds};
use crate::intake::{Kind, Outcome, show};
use crate::model::{Body, Draft, EntryId, Method, Moment, RepairBody};
use crate::projection::joint::{Appraisal, Ask};
use crate::report::assess::{Show, describe};
use crate::report::fitness::{self, Told, calls_on};
use crate::report::sheet::{ReadingColumn, columns, unique_serial};
use crate::report::{Block, Cell, Fact, Report, assess, find_joint, makeup, rack};
use crate::schema::JointRow;
use crate::store::{AppendOptions, Appended};

impl Session {
    /// Enters a fact, with the present as its date where none is given.
    pub(crate) fn enter(
        &mut self,
        kind: Kind,
        mut fields: Fields,
        how: AppendOptions,
        insist: Option<&str>,
    ) -> Result<Report, Error> {
        words::dated(&mut fields, &self.caller);
        let mut outcome =
            words::read(kind, &fields, &self.lookup()?, &self.caller, how.keep_conflicts)?;
        words::refused(&outcome, "nothing was written")?;
        let mut notes = Vec::new();
        for draft in &outcome.drafts {
            if let Body::Repair(body) = &draft.body {
                notes.extend(self.check_repair(body, draft, how.keep_conflicts)?);
            }
        }
        let present = self.present();
        let (mut verdicts, mut contradicted) = (Vec::new(), Vec::new());
        let (book, clock) = (&self.book, self.caller.clock);
        unlikely::each_inspected(book, &outcome.drafts, clock, |n, body, appraisal| {
            contradicted.extend(unlikely::found(n, body, &appraisal));
            verdicts.push(appraisal);
        })?;
        let kept = unlikely::check(
            &contradicted,
            &mut outcome.drafts,
            insist,
            self.caller.present(),
            ("what was read", present.units),
        )?;
        let sent = hire::check(
            &mut self.book,
            &mut outcome.drafts,
            |_| true,
            insist,
            (&self.caller.author, self.caller.present()),
            &present,
        )?;
        let done = self.append(&mut outcome.drafts, how)?;
        let verdicts = self.told_after(verdicts, &outcome.drafts, how.dry_run)?;
        let mut report = Report::new("enter");
        report.push(entered(kind, &done, how.dry_run));
        let warnings = outcome.diagnostics.list().iter().map(|d| show(d).trim_end().to_owned());
        let clashes = done.clashes.iter().map(clash_line);
        for note in warnings.chain(notes).chain(kept).chain(clashes) {
            report.push(Block::Note(note));
        }
        report.blocks.extend(sent);
        let show = Show {
            units: self.units(),
            clock: self.clock(),
            entry: &|_| String::new(),
            history: false,
        };
        for (a, told) in &verdicts {
            report.blocks.extend(assess::report(a, told, &a.serial, &show).blocks);
        }
        if !how.dry_run {
            let told = told_hours::said(&self.book, &outcome.drafts, &done.entries)?;
            told.into_iter().for_each(|note| report.push(Block::Note(note)));
            for id in &done.entries {
                let Some(entry) = self.book.position_of(id)? else { continue };
                report.blocks.extend(makeup::of_entry(&self.book, entry)?);
            }
            let after = self.repaired(&outcome.drafts)?;
            if let Some(first) = after.first() {
                let size = describe(&first.0.joint, show.units);
                report.push(Block::Heading(format!("after the repair, {size}")));
                report.push(Block::Table(rack::table(&after, show.units)));
                report.blocks.extend(rack::caution(&after));
            }
        }
        Ok(report)
    }

    /// Reads the fields of an inspection.
    pub(crate) fn read_inspection(
        &self,
        fields: &[(String, String)],
        keep_conflicts: bool,
    ) -> Result<Outcome, Error> {
        words::read(Kind::Inspections, fields, &self.lookup()?, &self.caller, keep_conflicts)
    }

    /// What is wrong with a text as the date of a fact.
    pub(crate) fn wrong_date(&self, text: &str) -> Option<String> {
        match text.parse::<Moment>() {
            Ok(date) => crate::intake::wrong_date(date, self.caller.times()),
            Err(e) => Some(e.to_string()),
        }
    }

    /// Appends drafts that came from words.
    pub(crate) fn append(
        &mut self,
        drafts: &mut [Draft],
        how: AppendOptions,
    ) -> Result<Appended, Error> {
        let book = &mut self.book;
        let next = book.head()?.map_or(0, |h| h.entry.number) + 1;
        let chain = book.identity().chain.clone();
        crate::intake::settle(drafts, |i| EntryId {
            chain: chain.clone(),
            number: next + i as u64,
        });
        Ok(book.append(drafts, &self.caller.stamp(), &how)?)
    }

    /// Verdicts on the joints that these drafts inspect, as the book will have them.
    pub(crate) fn inspected(&self, drafts: &[Draft]) -> Result<Vec<Appraisal>, Error> {
        let mut out = Vec::new();
        unlikely::each_inspected(&self.book, drafts, self.clock(), |_, _, a| out.push(a))?;
        Ok(out)
    }

    /// How a joint stands by an inspection that is not written yet; the rules are not asked.
    pub(crate) fn told_of_record(&self, a: &Appraisal) -> Result<Told, Error> {
        Ok(fitness::of(Some(&self.book), a, None, self.units())?)
    }

    /// How the joints of these verdicts stand once the drafts are written: the rules are asked of the
    /// book that holds them, or of a copy that does.
    pub(crate) fn told_after(
        &mut self,
        verdicts: Vec<Appraisal>,
        drafts: &[Draft],
        dry_run: bool,
    ) -> Result<Vec<(Appraisal, Told)>, Error> {
        let joints: Vec<i64> = verdicts.iter().map(|a| a.position).collect();
        if joints.is_empty() {
            return Ok(Vec::new());
        }
        let present = self.present();
        let calls = if dry_run {
            let mut trial = self.book.trial(drafts, &self.caller.stamp())?;
            calls_on(&mut trial, &joints, &present)?
        } else {
            calls_on(&mut self.book, &joints, &present)?
        };
        let mut out = Vec::new();
        for a in verdicts {
            let called = calls.get(&a.position).map(Vec::as_slice);
            let told = fitness::of(Some(&self.book), &a, called, present.units)?;
            out.push((a, told));
        }
        Ok(out)
    }

    /// The joint that a person names; `None` when the entry that introduced it is struck out.
    pub(crate) fn joint(&self, serial: &str) -> Result<Option<JointRow>, Error> {
        let joint = find_joint(&self.book, serial)?;
        Ok(self.book.row(joint)?)
    }

    /// The serial of a joint; with its entry where another joint answers to the same.
    pub(crate) fn unique_serial(&self, row: &JointRow) -> Result<String, Error> {
        Ok(unique_serial(&self.book, row)?)
    }

    /// How a joint stands.
    pub(crate) fn standing(&self, joint: i64) -> Result<Option<Appraisal>, Error> {
        let now = self.caller.present().end(self.clock());
        Ok(self.book.appraiser()?.appraise(joint, now, Ask::default())?)
    }

    /// The readings that these methods take of a joint, and the limits that they are held against.
    pub(crate) fn readings_wanted(
        &self,
        now: &Appraisal,
        methods: &[Method],
    ) -> Result<(Vec<ReadingColumn>, Vec<Threshold>), Error> {
        let adoptions = self.book.adoptions()?;
        let standards = adoptions.standards_at(now.at);
        let columns = columns(standards, now.joint.component, methods);
        Ok((columns, thresholds(&now.subject, standards)))
    }

    /// How the joints stand that these drafts repaired.
    fn repaired(&mut self, drafts: &[Draft]) -> Result<Vec<(Appraisal, Told)>, Error> {
        let mut joints = Vec::new();
        for draft in drafts {
            let Body::Repair(body) = &draft.body else { continue };
            if let Some(joint) = self.book.position_of(&body.joint.joint)? {
                joints.push(joint);
            }
        }
        let present = self.present();
        Ok(fitness::standing(&mut self.book, &joints, &present)?)
    }

    /// Holds a repair against limits and against what the book knows. What breaks a limit is refused
    /// unless it is to be kept as it happened; the rest is said.
    fn check_repair(
        &self,
        body: &RepairBody,
        draft: &Draft,
        keep: bool,
    ) -> Result<Vec<String>, Error> {
        let at = draft.effective.start(self.clock());
        let issues = rack::repair_issues(&self.book, body, at)?;
        let (refused, said): (Vec<_>, Vec<_>) =
            issues.into_iter().partition(|i| i.severity() == Weight::Refuse);
        if !refused.is_empty() && !keep {
            return Err(Error::Repair(refused));
        }
        Ok(refused
            .iter()
            .map(|i| format!("kept against a limit: {i}"))
            .chain(said.iter().map(ToString::to_string))
            .collect())
    }
}

/// The entries that were written and the head after them.
pub(super) fn written(done: &Appended) -> [Fact; 2] {
    let entries: Vec<String> = done.entries.iter().map(ToString::to_string).collect();
    [Fact::plain("entry", "entry", Cell::Text(entries.join(", "))), Fact::head(done.head.as_ref())]
}

fn entered(kind: Kind, done: &Appended, dry_run: bool) -> Block {
    let mut facts = vec![Fact::plain("kind", "kind", Cell::Text(kind.word().to_owned()))];
    if dry_run {
        facts.push(Fact::plain("dry_run", "dry run", Cell::Truth(true)));
    } else {
        let entries: Vec<String> = done.entries.iter().map(ToString::to_string).collect();
        facts.push(Fact::plain("entries", "entry", Cell::Text(entries.join(", "))));
        facts.push(Fact::head(done.head.as_ref()));
    }
    Block::Facts { name: "entered", facts }
}
