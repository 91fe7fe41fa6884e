//! Verdicts that nobody records: the fold of a joint asked what it would say.

use super::super::book::Book;
use super::super::entries::is_file;
use super::super::error::{Result, StoreError};
use super::Pass;
use crate::mechanics::path::Drilled;
use crate::model::{Body, End, Entry, Instant, SurveyBody};
use crate::projection::book::BookFacts;
use crate::projection::exposure::{RunModel, note_drilled};
use crate::projection::facts::Placed;
use crate::projection::joint::{Appraisal, Ask, RepairGround, appraise, fold, repair_ground};
use crate::schema::JointRow;

/// Judges joints of a book without writing anything. Facts of the whole book are read once.
pub struct Appraiser<'a> {
    pass: Pass<'a>,
}

impl std::fmt::Debug for Appraiser<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Appraiser").field("path", &self.pass.path).finish_non_exhaustive()
    }
}

impl Book {
    /// Someone who judges joints of this book.
    pub fn appraiser(&self) -> Result<Appraiser<'_>> {
        Ok(Appraiser { pass: self.pass()? })
    }
}

impl Book {
    /// Refuses a joint whose row is not what its entries and its runs give: before its life is told, it
    /// is worked out again. In views of the past rows are put together otherwise.
    ///
    /// # Errors
    /// `NotDerived`; `Chain` for an entry that was altered.
    pub fn check_joint(&self, joint: i64) -> Result<()> {
        if self.as_of.is_some() || !is_file(&self.conn) {
            return Ok(());
        }
        let row: Option<JointRow> = self.row(joint)?;
        let derived = self.pass()?.with_input(joint, fold)?.map(|out| out.joint);
        if row == derived {
            return Ok(());
        }
        let serial = row.or(derived).map_or_else(|| joint.to_string(), |row| row.serial);
        Err(StoreError::NotDerived { path: self.path().to_path_buf(), joint: serial })
    }
}

impl Appraiser<'_> {
    /// Facts of the whole book: checks of instruments, what was adopted.
    pub const fn facts(&self) -> &BookFacts {
        &self.pass.book
    }

    /// Judges a joint as of an instant, with what an inspection brings or with what is known.
    /// `None` for a joint that the book does not hold.
    pub fn appraise(&mut self, joint: i64, at: Instant, ask: Ask<'_>) -> Result<Option<Appraisal>> {
        self.pass.with_input(joint, |input| appraise(input, at, ask))
    }

    /// A run with everything that its figures rest on, to ask more of it than is kept: where in the
    /// hole a joint's damage was done.
    pub fn run_model(&mut self, run: i64) -> Result<RunModel> {
        let placed = self.pass.entry(run)?;
        self.pass.model(&placed)
    }

    /// A run that no entry holds, to tell what would come of it: in this hole, or in that of its well
    /// where none is given.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn planned(&mut self, run: Entry, hole: Option<&SurveyBody>) -> Result<RunModel> {
        let clock = self.pass.clock;
        self.pass.model_in(&Placed::new(0, run, clock), hole)
    }

    /// What the logs of all runs in a well tell of how its hole was drilled.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn drilled(&mut self, well: &str) -> Result<Drilled> {
        let runs = self.pass.runs_of(well)?;
        let mut drilled = Drilled::default();
        for run in runs {
            if let Body::Run(body) = &self.pass.entry(run)?.entry.body {
                note_drilled(body, &mut drilled);
            }
        }
        Ok(drilled)
    }

    /// What the book knows of an end, or of the body, before a repair. The mate's share of the
    /// refacing is that of the joint to which the end was made up last.
    pub fn repair_ground(
        &mut self,
        joint: i64,
        at: Instant,
        end: Option<End>,
    ) -> Result<Option<RepairGround>> {
        let Some(mut ground) =
            self.pass.with_input(joint, |input| repair_ground(input, at, end))?
        else {
            return Ok(None);
        };
        if let (Some(mate), Some(end)) = (ground.mate, end) {
            let other = match end {
                End::Pin => End::Box,
                End::Box => End::Pin,
            };
            let mate = self.pass.with_input(mate, |input| repair_ground(input, at, Some(other)))?;
            ground.history.mate_refaced = mate.and_then(|m| m.history.refaced);
        }
        Ok(Some(ground))
    }
}
