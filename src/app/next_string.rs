//! The next string: a plan read from its files, worked out, and its tally as a file that `load` takes.

use super::take_in::{BookLookup, Disk};
use super::{Error, Session, diagnostic_lines};
use crate::intake::{Options, Planned, Severity, Times, Wishes, World, read_plan, unwatched};
use crate::model::{Instant, JointRef, Qty, TallyLine};
use crate::report::plan::{self, How};
use crate::report::{Block, Report};
use crate::schema::JointRow;

/// A plan that was worked out.
pub(crate) struct NextString {
    pub report: Report,
    /// The tally as a file; nothing where the string cannot be made up.
    pub tally: Option<String>,
}

impl Session {
    /// Reads a plan; what a person says beside its file wins.
    pub(crate) fn read_plan(
        &self,
        file: &str,
        wishes: Wishes,
    ) -> Result<(Planned, Vec<String>), Error> {
        let lookup = BookLookup::of(&self.book, &self.caller)?;
        let world = World { files: &Disk, lookup: &lookup, progress: &unwatched };
        let times = Times { now: Some(self.present().now), ..self.caller.times() };
        let options = Options { times, ..Options::default() };
        let (outcome, planned) = read_plan(file, &options, &world);
        let Some(mut planned) = planned else {
            let diagnostics = outcome.diagnostics.asked_of(file);
            return Err(Error::File { name: file.to_owned(), diagnostics });
        };
        planned.alter(wishes, self.clock());
        Ok((planned, diagnostic_lines(&outcome.diagnostics, Severity::Warning)))
    }

    /// Works out a plan.
    pub(crate) fn plan(
        &mut self,
        planned: &Planned,
        said: &[String],
        how: How,
    ) -> Result<NextString, Error> {
        let present = self.present();
        let mut answer = plan::report(&mut self.book, planned, how, &present)?;
        if !said.is_empty() {
            answer.report.push(Block::Note(said.join("\n")));
        }
        let tally = answer.tally.map(|tally| self.tally_file(&tally)).transpose()?;
        Ok(NextString { report: answer.report, tally })
    }

    /// A plan against a run that happened.
    pub(crate) fn plan_against(&self, planned: &Planned, run: &str) -> Result<Report, Error> {
        Ok(plan::against(&self.book, planned, run)?)
    }

    /// A recorded run as a plan to look back on, and the last moment before it began.
    pub(crate) fn recorded_plan(&self, run: &str) -> Result<(Planned, String), Error> {
        let planned = plan::recorded(&self.book, run)?;
        let before = planned.run.start.start(self.clock()).0.saturating_sub(1_000);
        Ok((planned, Instant(before).at(self.clock()).to_rfc3339()))
    }

    /// A tally as a file.
    fn tally_file(&self, tally: &[TallyLine]) -> Result<String, Error> {
        let mut out = csv::Writer::from_writer(Vec::new());
        let told = |e: &dyn std::fmt::Display| Error::Words {
            what: format!("the tally cannot be written: {e}"),
            help: None,
        };
        let titles = [
            "Position",
            "Serial",
            "Component",
            "Part",
            "Count",
            "Length",
            "OD",
            "ID",
            "Wall",
            "Weight",
            "TJ OD",
            "Connection",
            "Stress ratio",
        ];
        out.write_record(titles).map_err(|e| told(&e))?;
        for (n, line) in tally.iter().enumerate() {
            let part = line.part.as_ref();
            let joint = line.joint.as_ref();
            let serial = joint.map(|joint| self.serial_of(joint)).transpose()?;
            let row: Option<JointRow> = match joint {
                Some(joint) => match self.book.position_of(&joint.joint)? {
                    Some(position) => self.book.row(position)?,
                    None => None,
                },
                None => None,
            };
            let component = part.map(|p| p.component).or_else(|| row.map(|r| r.component));
            let quantity = |q: Option<&Qty>| q.map(ToString::to_string).unwrap_or_default();
            let of =
                |pick: fn(&crate::model::PartLine) -> Option<&Qty>| quantity(part.and_then(pick));
            out.write_record([
                (n + 1).to_string(),
                serial.unwrap_or_default(),
                component.map(|c| c.to_string()).unwrap_or_default(),
                part.and_then(|p| p.name.clone()).unwrap_or_default(),
                line.count.map(|n| n.to_string()).unwrap_or_default(),
                quantity(line.length.as_ref()),
                of(|p| p.od.as_ref()),
                of(|p| p.id.as_ref()),
                of(|p| p.wall.as_ref()),
                of(|p| p.weight.as_ref()),
                of(|p| p.tj_od.as_ref()),
                part.and_then(|p| p.connection.clone()).unwrap_or_default(),
                of(|p| p.stress_ratio.as_ref()),
            ])
            .map_err(|e| told(&e))?;
        }
        let bytes = out.into_inner().map_err(|e| told(&e))?;
        String::from_utf8(bytes).map_err(|e| told(&e))
    }

    /// The serial of a joint, with the entry that introduced it where others go by it too.
    fn serial_of(&self, joint: &JointRef) -> Result<String, Error> {
        let others = self.book.joints_by_serial(&joint.serial.key())?;
        Ok(if others.len() > 1 { joint.to_string() } else { joint.serial.to_string() })
    }
}
