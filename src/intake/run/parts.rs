//! The files that a run names: its tally and its log.

use super::RunRead;
use super::said::Said;
use crate::intake::content::{Content, begins_as_workbook, head, load, peek, split};
use crate::intake::diagnostic::Diagnostics;
use crate::intake::kinds::{Context, Kind, fit};
use crate::intake::log::{self, LogOptions, LogRead};
use crate::intake::lookup::{World, base_name};
use crate::intake::options::Options;
use crate::intake::table::{
    Columns, RawRow, Reading, Table, Where, arranged, carried_words, carry, read_layout,
};
use crate::intake::unused::tell_columns;
use crate::intake::{laid_down, layouts, operations, tally, witsml};
use crate::model::{LayoutBody, LogSource, Segment, TallyLine};

/// Segments with their source, from a log or a summary.
pub(super) struct Cut {
    pub segments: Vec<Segment>,
    pub source: LogSource,
    /// First instant of a log by time, ms of UTC.
    pub first_ms: Option<i64>,
    pub last_ms: Option<i64>,
    /// It goes by time since the run began.
    pub elapsed: bool,
    /// Not all of what the rig did is in it.
    pub incomplete: bool,
    /// The speed is the mean that the header states.
    pub estimated: bool,
}

pub(super) struct Parts<'a, 'b> {
    pub options: &'a Options,
    pub world: &'a World<'a>,
    pub context: &'a Context<'a>,
    pub out: &'b mut RunRead,
}

impl Parts<'_, '_> {
    /// Tells the files of which nothing is said apart: a tally is one, the rest are parts of the log.
    pub(super) fn tell_apart(&self, place: impl Fn(&String) -> String, said: &mut Said) {
        for file in std::mem::take(&mut said.files) {
            if said.tally.is_none() && self.is_tally(&place(&file)) {
                said.tally = Some(file);
            } else {
                said.log.push(file);
            }
        }
    }

    /// Whether a file holds a tally; what cannot be read is said when it is.
    fn is_tally(&self, file: &str) -> bool {
        let mut unsaid = Diagnostics::default();
        let plain = self.options.plain();
        if begins_as_workbook(file, self.world) {
            return load(file, &plain, Some(Kind::Tally), self.world, &mut unsaid).is_some();
        }
        let Some(text) = peek(file, self.world, &mut unsaid) else { return false };
        if witsml::is_xml(&text) {
            return witsml::begins_with(&text) == Some(witsml::Object::Tubular);
        }
        let rows = split(&text, &plain, Some(Kind::Tally), &mut Vec::new());
        fit(Kind::Tally, &rows, None, &[]).is_some_and(|f| f.missing.is_empty())
    }

    /// Columns that are stated for the file: by its own key, else those stated for all that it has.
    fn stated(&self, own: Option<&Columns>, head: &[RawRow]) -> Option<Columns> {
        let all = || Some(self.options.columns.as_ref()?.of_titles(head));
        own.cloned().or_else(|| all()?)
    }

    pub(super) fn tally(
        &mut self,
        file: &str,
        said: &Said,
        diagnostics: &mut Diagnostics,
    ) -> Option<Vec<TallyLine>> {
        let options = Options {
            columns: said.tally_columns.clone(),
            object: said.tubular.clone(),
            ..self.options.plain()
        };
        let content: Content = load(file, &options, Some(Kind::Tally), self.world, diagnostics)?;
        self.out.files.push((base_name(file).to_owned(), content.sha256.clone()));
        self.say(file, content.notes);
        self.tally_rows(file, content.rows, said, diagnostics)
    }

    /// Keeps what was said of a part, once.
    fn learn(&mut self, learned: impl IntoIterator<Item = LayoutBody>) {
        for body in learned {
            if !self.out.learned.contains(&body) {
                self.out.learned.push(body);
            }
        }
    }

    /// Says something of a file.
    fn say(&mut self, file: &str, notes: Vec<String>) {
        self.out.notes.extend(notes.into_iter().map(|n| format!("{}: {n}", base_name(file))));
    }

    pub(super) fn tally_rows(
        &mut self,
        file: &str,
        rows: Vec<RawRow>,
        said: &Said,
        diagnostics: &mut Diagnostics,
    ) -> Option<Vec<TallyLine>> {
        let own = said.tally_columns.as_ref();
        let options = Options {
            kind: Some(Kind::Tally),
            columns: self.stated(own, &rows),
            ..self.options.plain()
        };
        let known = layouts::of_rows(&rows, &options, self.world.lookup).filter(|_| own.is_none());
        let options = known.unwrap_or(options);
        self.say(file, options.told().map(layouts::note).into_iter().collect());
        if own.is_none() {
            self.learn(layouts::learned(file, &rows, Kind::Tally, &options, false));
        }
        let columns = options.columns.clone();
        let at = Where::new(file, columns.as_ref());
        let fields = Kind::Tally.fields();
        let (mut rows, notes) = arranged(rows, fields, columns.as_ref());
        self.say(file, notes);
        let mut layout = read_layout(&rows, fields, at, diagnostics)?;
        // What a merged cell says is said of each of its rows.
        let first = layout.first_data.min(rows.len());
        let carried = carry(&mut rows[first..], &layout, fields, at, diagnostics);
        self.say(file, carried_words(&carried));
        if !laid_down::sort_out(&mut rows, &mut layout, at, said.laid_down, diagnostics) {
            return None;
        }
        let reading = Reading {
            decimal: options.decimal,
            nulls: options.nulls.clone(),
            times: options.times,
        };
        let mut table = Table::new(rows, layout, fields, at, reading, diagnostics)?;
        let mut notes = Vec::new();
        tell_columns(&table, &mut notes, diagnostics);
        self.say(file, notes);
        self.out.rows += table.rows.len() as u64;
        tally::read(&mut table, self.context, Some(said.body.start), said.order, diagnostics)
    }

    /// Reads a log, of one file or in parts, or a summary of operations.
    pub(super) fn log(
        &mut self,
        files: &[String],
        said: &Said,
        diagnostics: &mut Diagnostics,
    ) -> Option<Cut> {
        let mut log_options = said.log_options.clone();
        if let Some(file) = files.first() {
            let columns = log_options.columns.take();
            let plain = Options {
                columns: columns.clone(),
                delimiter: log_options.delimiter,
                ..self.options.plain()
            };
            let head = if begins_as_workbook(file, self.world) {
                self.sheet_of_log(file, &plain)
            } else {
                head(file, &plain, self.world, diagnostics)?
            };
            log_options.is_own = columns.is_some();
            log_options.columns = self.stated(columns.as_ref(), &head);
            // The head tells whether it is a log or a summary; only a summary is read as a whole.
            if files.len() == 1 && is_summary(&head, log_options.columns.as_ref()) {
                return self.summary(file, &log_options, diagnostics);
            }
        }
        let read = log::read_parts(files, &log_options, self.world, diagnostics)?;
        let LogRead {
            segments,
            source,
            first_ms,
            last_ms,
            elapsed,
            rows_used,
            incomplete,
            estimated,
            notes,
            learned,
            ..
        } = read;
        self.learn(learned);
        let mut say = |what: String| self.out.notes.push(format!("{}: {what}", source.file));
        notes.into_iter().for_each(&mut say);
        say(format!("{rows_used} of {} rows were used", source.rows));
        if !source.left_out.is_empty() {
            say(format!("left out: {}", source.left_out.join("; ")));
        }
        Some(Cut { segments, source, first_ms, last_ms, elapsed, incomplete, estimated })
    }

    /// Rows of the sheet of a workbook that holds a log, or a summary; what is wrong is said later.
    fn sheet_of_log(&self, file: &str, plain: &Options) -> Vec<RawRow> {
        let of = |kind| load(file, plain, Some(kind), self.world, &mut Diagnostics::default());
        of(Kind::Log).or_else(|| of(Kind::Operations)).map(|c| c.rows).unwrap_or_default()
    }

    fn summary(
        &mut self,
        file: &str,
        log_options: &LogOptions,
        diagnostics: &mut Diagnostics,
    ) -> Option<Cut> {
        let options = Options {
            columns: log_options.columns.clone(),
            delimiter: log_options.delimiter,
            ..self.options.plain()
        };
        let content = load(file, &options, Some(Kind::Operations), self.world, diagnostics)?;
        self.say(file, content.notes);
        let at = Where::new(file, options.columns.as_ref());
        let fields = Kind::Operations.fields();
        let (rows, notes) = arranged(content.rows, fields, options.columns.as_ref());
        self.say(file, notes);
        let layout = read_layout(&rows, fields, at, diagnostics)?;
        let reading = Reading {
            decimal: log_options.decimal,
            nulls: log_options.nulls.clone(),
            times: self.options.times,
        };
        let mut table = Table::new(rows, layout, fields, at, reading, diagnostics)?;
        let mut notes = Vec::new();
        tell_columns(&table, &mut notes, diagnostics);
        self.say(file, notes);
        let rows = table.rows.len() as u64;
        let segments = operations::read(&mut table, diagnostics)?;
        if segments.is_empty() {
            diagnostics.push(table.error("the summary of operations has no row"));
            return None;
        }
        let source = LogSource {
            file: base_name(file).to_owned(),
            sha256: content.sha256,
            rows,
            left_out: Vec::new(),
            cut: "summary of operations, row by row as written".to_owned(),
            rows_from: None,
            rows_to: None,
        };
        Some(Cut {
            segments,
            source,
            first_ms: None,
            last_ms: None,
            elapsed: false,
            incomplete: false,
            estimated: false,
        })
    }
}

/// Whether a file of this head is a summary of operations, rather than a log.
fn is_summary(head: &[RawRow], stated: Option<&Columns>) -> bool {
    let whole = |kind| fit(kind, head, stated, &[]).filter(|f| f.missing.is_empty());
    match (whole(Kind::Operations), whole(Kind::Log)) {
        (Some(summary), Some(log)) => summary.known > log.known,
        (summary, None) => summary.is_some(),
        (None, Some(_)) => false,
    }
}
