//! A verdict that nobody records: on a joint of the book, or on one as it is described.

use super::adoption::in_force;
use super::error::words as wrong_words;
use super::words::{self, Fields};
use super::{Caller, Error, Session};
use crate::condition::Catalogue;
use crate::intake::{JointMatch, Kind, Lookup};
use crate::model::{Body, Draft, EntryId, InspectionBody, JointBody, JointRef, Method, Moment};
use crate::projection::book::BookFacts;
use crate::projection::joint::{Appraisal, Ask, appraise_alone};
use crate::report::assess::{Show, add_level, report, size_fields};
use crate::report::due::next_call;
use crate::report::fitness::{self, Demands, OfRun, Told, against, calls_on, of_run};
use crate::report::{Block, Report};
use crate::schema::JointRow;
use crate::store::Book;
use crate::units::UnitSystem;

/// A verdict in words, and what it comes to.
pub(crate) struct Assessed {
    pub report: Report,
    /// The joint may run.
    pub may_run: bool,
}

/// What is asked beside the readings and findings.
#[derive(Default)]
pub(crate) struct How<'a> {
    /// By what is given alone, and not by earlier readings too.
    pub fresh: bool,
    /// Also how the class came about.
    pub history: bool,
    /// The inspection level against which the methods are held.
    pub level: Option<&'a str>,
    /// What a run asks of it.
    pub demands: Demands,
    /// A recorded run that asks for more.
    pub run: Option<&'a str>,
}

/// A joint that is in no book.
pub(crate) struct Described {
    pub component: String,
    /// `5 in 19.50 lb/ft`, or `5 in x 0.362 in`.
    pub size: String,
    /// Whatever else is known of it, by the names of a file of joints.
    pub fields: Fields,
}

/// The serial of a joint that is in no book.
const UNRECORDED: &str = "unrecorded";

impl Session {
    /// Judges a joint of the book by these readings and findings and, unless they are to stand
    /// alone, by earlier ones. Without any it tells how the joint stands, and how it came to that.
    pub(crate) fn assess(
        &mut self,
        serial: &str,
        mut fields: Fields,
        how: &How<'_>,
    ) -> Result<Assessed, Error> {
        let joint = crate::report::find_joint(&self.book, serial)?;
        let (book, caller) = (&self.book, &self.caller);
        let row: Option<JointRow> = book.row(joint)?;
        let Some(row) = row else {
            return Err(wrong_words(format!("no joint answers to {serial}")));
        };
        let body = if fields.is_empty() {
            None
        } else {
            // Two joints may share the serial: the one that was found is meant.
            fields.push(("serial".to_owned(), format!("{}@{}", row.serial, row.introduced_by)));
            words::dated(&mut fields, caller);
            Some(inspection(&fields, &self.lookup()?, caller)?)
        };
        let at = match &body {
            Some((date, _)) => date.start(caller.clock),
            None => caller.present().end(caller.clock),
        };
        let ask = Ask { inspection: body.as_ref().map(|b| (b.0, &b.1)), fresh: how.fresh };
        let Some(appraisal) = book.appraiser()?.appraise(joint, at, ask)? else {
            let struck = format!("the entry that introduced {serial} is struck out");
            return Err(wrong_words(struck));
        };
        let present = self.present();
        let ask_rules = |book: &mut Book| {
            Ok::<_, Error>((calls_on(book, &[joint], &present)?, next_call(book, joint, &present)?))
        };
        let (called, ahead) = match &body {
            None => ask_rules(&mut self.book)?,
            // The rules are asked as if it were written.
            Some((effective, body)) => {
                let body = Body::Inspection(Box::new(body.clone()));
                let draft = Draft { effective: *effective, evidence: None, body };
                let mut trial = self.book.trial(&[draft], &self.caller.stamp())?;
                ask_rules(&mut trial)?
            }
        };
        let called = called.get(&joint).map(Vec::as_slice);
        let mut told = fitness::of(Some(&self.book), &appraisal, called, self.units())?;
        told.ahead = ahead;
        let asked = asked(Some(&self.book), how)?;
        told.add(against(&appraisal, demands(how, asked.as_ref()), self.units()));
        let book = &self.book;
        let name = |position: i64| {
            book.entry_at(position).map_or_else(|_| String::new(), |e| e.raw.label())
        };
        let show = Show {
            units: self.units(),
            clock: self.caller.clock,
            entry: &name,
            history: how.history || body.is_none(),
        };
        let subject = (&appraisal, &told, asked.as_ref());
        assessed(subject, &appraisal.serial, &show, methods(body.as_ref()), how)
    }
}

/// What the run that is named asks of the joints of its string.
fn asked(book: Option<&Book>, how: &How<'_>) -> Result<Option<OfRun>, Error> {
    match (how.run, book) {
        (None, _) => Ok(None),
        (Some(run), Some(book)) => Ok(Some(of_run(book, run, &how.demands)?)),
        (Some(_), None) => Err(wrong_words("--run names a run of a book, and there is none here")),
    }
}

/// Everything that is asked of a joint.
fn demands<'a>(how: &'a How<'_>, asked: Option<&'a OfRun>) -> &'a Demands {
    asked.map_or(&how.demands, OfRun::demands)
}

/// Judges a joint that is in no book. A book that is there brings what it has adopted.
pub(crate) fn assess_described(
    joint: &Described,
    mut fields: Fields,
    how: &How<'_>,
    book: Option<&Session>,
    caller: &Caller,
) -> Result<Assessed, Error> {
    let caller = book.map_or(caller, |session| &session.caller);
    let facts = match book {
        Some(session) => session.book.appraiser()?.facts().clone(),
        None => BookFacts::of_adoptions(in_force(None)?),
    };
    let now = caller.present().end(caller.clock);
    let catalogue = &facts.standards_at(now).findings;
    let joint = joint.read(catalogue, caller)?;
    let described = Unrecorded { made: Some(joint.clone()), catalogue };
    let body = if fields.is_empty() {
        None
    } else {
        fields.push(("serial".to_owned(), UNRECORDED.to_owned()));
        words::dated(&mut fields, caller);
        Some(inspection(&fields, &described, caller)?)
    };
    let at = body.as_ref().map_or(caller.present(), |b| b.0).start(caller.clock);
    let ask = Ask { inspection: body.as_ref().map(|b| (b.0, &b.1)), fresh: how.fresh };
    let Some(appraisal) = appraise_alone(&joint, at, ask, &facts, caller.clock) else {
        return Err(wrong_words("the joint as described cannot be judged"));
    };
    let units: UnitSystem = book.map_or_else(|| caller.units.unwrap_or_default(), Session::units);
    let show = Show { units, clock: caller.clock, entry: &|_| String::new(), history: false };
    let mut told = fitness::of(None, &appraisal, None, units)?;
    let asked = asked(book.map(|session| &session.book), how)?;
    told.add(against(&appraisal, demands(how, asked.as_ref()), units));
    let subject = (&appraisal, &told, asked.as_ref());
    assessed(subject, "a joint in no book", &show, methods(body.as_ref()), how)
}

fn methods(inspection: Option<&(Moment, InspectionBody)>) -> &[Method] {
    inspection.map_or(&[], |(_, body)| &body.methods)
}

fn assessed(
    (appraisal, told, asked): (&Appraisal, &Told, Option<&OfRun>),
    title: &str,
    show: &Show<'_>,
    methods: &[Method],
    how: &How<'_>,
) -> Result<Assessed, Error> {
    let mut report = report(appraisal, told, title, show);
    if let Some(asked) = asked {
        // It stands above what the readings come to.
        let at =
            report.blocks.iter().position(|b| matches!(b, Block::Facts { name: "verdict", .. }));
        report.blocks.insert(at.unwrap_or(report.blocks.len()), Block::Table(asked.table()));
    }
    if let Some(level) = how.level {
        if methods.is_empty() {
            return Err(wrong_words(
                "--level holds the methods of an inspection against a level: name them, like \
                 methods=\"ut wall, visual tube\"",
            ));
        }
        add_level(&mut report, appraisal.joint.component, methods, level)?;
    }
    Ok(Assessed { report, may_run: told.may_run() })
}

impl Described {
    fn read(&self, catalogue: &Catalogue, caller: &Caller) -> Result<JointBody, Error> {
        const CANNOT_BE: &str = "the joint as described cannot be";
        let mut made = vec![
            ("serial".to_owned(), UNRECORDED.to_owned()),
            ("component".to_owned(), self.component.clone()),
        ];
        made.extend(size_fields(&self.size)?);
        made.extend(self.fields.iter().cloned());
        words::dated(&mut made, caller);
        let nobody = Unrecorded { made: None, catalogue };
        let outcome = words::read(Kind::Joints, &made, &nobody, caller, false)?;
        words::refused(&outcome, CANNOT_BE)?;
        let joint = outcome
            .drafts
            .into_iter()
            .find_map(|d| if let Body::Joint(b) = d.body { Some(*b) } else { None });
        joint.ok_or_else(|| wrong_words(CANNOT_BE))
    }
}

/// Reads the fields as an inspection.
fn inspection(
    fields: &[(String, String)],
    lookup: &dyn Lookup,
    caller: &Caller,
) -> Result<(Moment, InspectionBody), Error> {
    const CANNOT_BE_USED: &str = "what was read or found cannot be used";
    let outcome = words::read(Kind::Inspections, fields, lookup, caller, false)?;
    words::refused(&outcome, CANNOT_BE_USED)?;
    outcome
        .drafts
        .into_iter()
        .find_map(|d| {
            let Body::Inspection(body) = d.body else { return None };
            Some((d.effective, *body))
        })
        .ok_or_else(|| wrong_words(CANNOT_BE_USED))
}

/// A joint that is in no book, as intake sees it.
struct Unrecorded<'a> {
    made: Option<JointBody>,
    catalogue: &'a Catalogue,
}

impl Lookup for Unrecorded<'_> {
    fn joints(&self, key: &str) -> Vec<JointMatch> {
        let Some(made) = self.made.as_ref().filter(|m| m.serial.key() == key) else {
            return Vec::new();
        };
        let Ok(joint) = "unrecorded-1".parse::<EntryId>() else { return Vec::new() };
        vec![JointMatch {
            joint: JointRef { serial: made.serial.clone(), joint },
            component: made.component,
            since: Moment::Day(chrono::NaiveDate::MIN),
            until: None,
            made: made.made,
        }]
    }

    fn runs(&self, _name: &str) -> Vec<EntryId> {
        Vec::new()
    }

    fn has_entry(&self, _entry: &EntryId) -> bool {
        false
    }

    fn catalogue(&self) -> Option<&Catalogue> {
        Some(self.catalogue)
    }

    fn made(&self, _joint: &EntryId) -> Option<JointBody> {
        self.made.clone()
    }
}
