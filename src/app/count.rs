//! A count of what lies on a rack, and the moves that settle it.

use super::LoadOptions;
use super::take_in::{BookLookup, Disk, Source};
use super::{Error, Session};
use crate::intake::{Kind, MemoryFiles, Options, World, base_name, read_list, unwatched};
use crate::model::Moment;
use crate::report::count::{Counted, count};
use crate::report::{Block, Report};

/// What is done with the moves that would settle a count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Moves {
    /// They are told.
    Told,
    /// They are entered.
    Entered { dry_run: bool },
}

impl Session {
    /// Holds a list against the book; gives the answer, and the moves as a file that `load` takes.
    pub(crate) fn count(
        &mut self,
        file: &str,
        place: Option<&str>,
        date: Option<&str>,
        moves: Moves,
    ) -> Result<(Report, String), Error> {
        let options = Options { times: self.caller.times(), ..Options::default() };
        let list = {
            let lookup = BookLookup::of(&self.book, &self.caller)?;
            let world = World { files: &Disk, lookup: &lookup, progress: &unwatched };
            read_list(file, &options, &world)
                .map_err(|diagnostics| Error::File { name: file.to_owned(), diagnostics })?
        };
        let date = match date {
            Some(text) => Moment::parse_at(text, self.clock()).map_err(super::error::words)?,
            None => self.caller.present(),
        };
        let Counted { mut report, moves: found } = count(&self.book, &list, place)?;
        let name = base_name(file);
        let mut out = csv::Writer::from_writer(Vec::new());
        let mut write = |cells: [&str; 4]| out.write_record(cells).map_err(super::error::words);
        write(["Serial", "Date", "Location", "Remark"])?;
        let (day, remark) = (date.to_string(), format!("counted, {name}"));
        for m in &found {
            write([&m.serial, &day, &m.location, &remark])?;
        }
        let text = out.into_inner().map_err(super::error::words)?;
        let text = String::from_utf8(text).map_err(super::error::words)?;
        match moves {
            Moves::Told if !found.is_empty() => report.push(Block::Note(format!(
                "{} moves would settle what is misplaced: --moves FILE writes them, --enter enters \
                 them; what is missing waits for a person",
                found.len()
            ))),
            Moves::Entered { dry_run } if !found.is_empty() => {
                let place = format!("moves by {name}");
                let files = MemoryFiles::default().with(&place, text.clone().into_bytes());
                let from = Source { files: &files, watch: &|_| () };
                let read = Options { kind: Some(Kind::Moves), ..options };
                let how = LoadOptions { read, dry_run, ..LoadOptions::default() };
                let loaded = self.load_from(&[&place], &how, &from)?;
                report.blocks.extend(loaded.report.blocks);
            }
            Moves::Told | Moves::Entered { .. } => {}
        }
        Ok((report, text))
    }
}
