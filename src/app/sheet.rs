//! A sheet to fill in at the rack.

use super::error::words;
use super::{Error, Session};
use crate::model::{Method, Moment, plural};
use crate::report::sheet::{Head, InspectionSheet, Which, day_of, inspection, joints};
use crate::schema::JointRow;

impl Session {
    /// The joints that are meant, and what was left out, and why.
    pub(crate) fn joints_meant(
        &mut self,
        which: &Which,
    ) -> Result<(Vec<JointRow>, Vec<String>), Error> {
        let present = self.present();
        Ok(joints(&mut self.book, which, &present)?)
    }

    /// A sheet for an inspection of the joints that are meant, today or on a date; and what is to be
    /// noted.
    pub(crate) fn inspection_sheet(
        &mut self,
        which: &Which,
        methods: &[Method],
        date: Option<String>,
        head: Head,
    ) -> Result<(InspectionSheet, Vec<String>), Error> {
        let (rows, notes) = self.joints_meant(which)?;
        if rows.is_empty() {
            return Err(words("no joint is meant, so there is nothing to write a sheet of"));
        }
        let present = self.present();
        let date = date.unwrap_or_else(|| day_of(present.now, present.clock));
        Moment::parse_at(&date, present.clock).map_err(words)?;
        let head = Head { date, ..head };
        let of = match (&which.string, rows.len()) {
            (Some(string), n) => format!("Inspection of string {string}, {}", plural(n, "joint")),
            (None, n) => format!("Inspection of {}", plural(n, "joint")),
        };
        Ok((inspection(&mut self.book, &rows, methods, of, head, &present)?, notes))
    }
}
