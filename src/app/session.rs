//! An open book, with who asks and when.

use std::path::Path;
use std::time::Duration;

use super::take_in::BookLookup;
use super::{Error, PROGRAM, Past};
use crate::condition::Edition;
use crate::model::{Instant, Moment, Recorded, Site};
use crate::report::{Block, Present};
use crate::store::{Access, Book, Stamp};
use crate::units::UnitSystem;

/// Who asks or writes, when, and how answers are wanted.
#[derive(Clone, Debug)]
pub struct Caller {
    /// The time, with the clock offset of the place.
    pub now: Recorded,
    /// Name written into entries.
    pub author: String,
    /// Program and version written into entries.
    pub program: String,
    /// Units of answers; `None` for those of the book.
    pub units: Option<UnitSystem>,
    /// How long a question may take.
    pub limit: Duration,
}

impl Caller {
    /// A caller at a time, whose questions may take a minute each and are answered in the units of
    /// the book. A day stands for its first instant in UTC.
    pub fn new(now: Moment, author: &str) -> Self {
        let now = match now {
            Moment::Clock(t) => Recorded {
                at: Instant(t.timestamp_millis()),
                offset_minutes: t.offset().local_minus_utc() / 60,
            },
            Moment::Day(_) => Recorded { at: now.start(0), offset_minutes: 0 },
        };
        Self {
            now,
            author: author.to_owned(),
            program: PROGRAM.to_owned(),
            units: None,
            limit: Duration::from_mins(1),
        }
    }

    /// What entries written now carry.
    pub(crate) fn stamp(&self) -> Stamp {
        Stamp { now: self.now, author: self.author.clone(), program: self.program.clone() }
    }

    pub(crate) const fn offset_minutes(&self) -> i32 {
        self.now.offset_minutes
    }

    /// The present as a moment.
    pub(crate) fn present(&self) -> Moment {
        Moment::Clock(self.now.at.at(self.now.offset_minutes))
    }
}

#[derive(Debug)]
pub struct Session {
    pub(crate) book: Book,
    /// The caller; in a view of the past, with the clock of the view.
    pub(crate) caller: Caller,
    view: Vec<Block>,
}

impl Session {
    /// Starts a book of a site at a path where nothing stands yet, founded on the edition that ships.
    ///
    /// # Errors
    /// When something stands there, the folder cannot be written, or the site's name is none.
    pub fn create(path: &Path, site: &str, caller: &Caller) -> Result<Self, Error> {
        let units = caller.units.unwrap_or_default();
        let book = Book::create(path, site, units, Edition::shipped(), &caller.stamp())?;
        Ok(Self::of(book, caller))
    }

    pub(super) fn of(book: Book, caller: &Caller) -> Self {
        Self { book, caller: caller.clone(), view: Vec::new() }
    }

    /// Opens a book as it is now.
    ///
    /// # Errors
    /// When the file is no book, belongs to a newer program, is damaged or in use.
    pub fn open(path: &Path, access: Access, caller: &Caller) -> Result<Self, Error> {
        Ok(Self::of(Book::open(path, access)?, caller))
    }

    /// Opens a book for questions as it was, or as it was known, with its clock standing there.
    ///
    /// # Errors
    /// As [`Self::open`], and when nothing had been written by then.
    pub fn open_past(path: &Path, past: &Past, caller: &Caller) -> Result<Self, Error> {
        let (book, made) = past.of(&Book::open(path, Access::Read)?, caller.now)?;
        let caller = Caller { now: made.now, ..caller.clone() };
        Ok(Self { book, caller, view: made.blocks })
    }

    /// Opens a book to examine it, even when its tail is lost or its derived rows are old.
    pub(crate) fn open_to_examine(path: &Path, caller: &Caller) -> Result<Self, Error> {
        Ok(Self::of(Book::open_to_examine(path)?, caller))
    }

    /// Closes the book; what was written is in the file whether or not it is closed.
    ///
    /// # Errors
    /// When the file cannot be brought to rest.
    pub fn close(self) -> Result<(), Error> {
        Ok(self.book.close()?)
    }

    /// Units of answers: as asked for, else those of the book.
    pub fn units(&self) -> UnitSystem {
        self.caller.units.unwrap_or(self.book.identity().units)
    }

    /// From where the book is looked at, as parts of a report; nothing for the present.
    pub fn view(&self) -> &[Block] {
        &self.view
    }

    /// The site that keeps the book.
    pub(crate) const fn site(&self) -> &Site {
        &self.book.identity().chain.site
    }

    /// Last entry of the book's own chain, with its hash; `None` before the first. Kept outside the
    /// book, it shows whether the book was altered or has lost its end.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn head(&self) -> Result<Option<String>, Error> {
        Ok(self.book.head()?.map(|h| h.to_string()))
    }

    pub(crate) const fn offset_minutes(&self) -> i32 {
        self.caller.offset_minutes()
    }

    /// The book as intake sees it.
    pub(crate) fn lookup(&self) -> Result<BookLookup<'_>, Error> {
        BookLookup::of(&self.book, &self.caller)
    }

    /// Now and here, for questions.
    pub(crate) fn present(&self) -> Present {
        Present {
            now: self.caller.now.at,
            offset_minutes: self.caller.now.offset_minutes,
            units: self.units(),
            limit: self.caller.limit,
        }
    }
}
