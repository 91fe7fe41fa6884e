//! An open book, with who asks and when.

use std::path::Path;
use std::time::Duration;

use super::take_in::BookLookup;
use super::{Error, PROGRAM, Past, past};
use crate::condition::Edition;
use crate::intake::Times;
use crate::model::{Clock, Moment, Recorded, Site};
use crate::report::{Block, Present};
use crate::store::{Access, Book, Founding, LookBack, Stamp};
use crate::units::UnitSystem;

/// Who asks or writes, when, and how answers are wanted.
#[derive(Clone, Debug)]
pub struct Caller {
    /// The time, with the offset of the clock.
    pub now: Recorded,
    /// Civil clock of the site. A book that is there goes by its own.
    pub clock: Clock,
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
    /// the book. A new book of theirs goes by a clock at the offset of that time. A day stands for its
    /// first instant in UTC.
    pub fn new(now: Moment, author: &str) -> Self {
        let offset_minutes = match now {
            Moment::Clock(t) => t.offset().local_minus_utc() / 60,
            Moment::Day(_) => 0,
        };
        Self {
            now: Recorded { at: now.start(Clock::UTC), offset_minutes },
            clock: Clock::of_offset(offset_minutes),
            author: author.to_owned(),
            program: PROGRAM.to_owned(),
            units: None,
            limit: Duration::from_mins(1),
        }
    }

    /// The same caller at a place with another clock.
    #[must_use]
    pub fn at_clock(self, clock: Clock) -> Self {
        let at = self.now.at;
        let now = Recorded { at, offset_minutes: clock.offset_minutes(at) };
        Self { now, clock, ..self }
    }

    /// What entries written now carry.
    pub(crate) fn stamp(&self) -> Stamp {
        Stamp { now: self.now, author: self.author.clone(), program: self.program.clone() }
    }

    /// How dates and times in what the caller writes are to be understood: nothing may lie ahead.
    pub(crate) fn times(&self) -> Times {
        Times { clock: self.clock, order: None, now: Some(self.now.at) }
    }

    /// The present as a moment.
    pub(crate) fn present(&self) -> Moment {
        Moment::Clock(self.now.at.at(self.clock))
    }
}

#[derive(Debug)]
pub struct Session {
    pub(crate) book: Book,
    /// The caller at the clock of the book; in a view of the past, at the time of the view.
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
        let founding = Founding { units, edition: Edition::shipped(), clock: caller.clock };
        Self::of(Book::create_on(path, site, &founding, &caller.stamp())?, caller)
    }

    pub(super) fn of(book: Book, caller: &Caller) -> Result<Self, Error> {
        let caller = caller.clone().at_clock(book.clock()?);
        Ok(Self { book, caller, view: Vec::new() })
    }

    /// Opens a book as it is now.
    ///
    /// # Errors
    /// When the file is no book, belongs to a newer program, is damaged or in use.
    pub fn open(path: &Path, access: Access, caller: &Caller) -> Result<Self, Error> {
        let session = Self::of(Book::open(path, access)?, caller)?;
        if access == Access::Read { session.without_what_lies_ahead() } else { Ok(session) }
    }

    /// Refuses to answer from a book that was written to while it was read without a lock.
    pub(crate) fn check_undisturbed(&self) -> Result<(), Error> {
        Ok(self.book.check_undisturbed()?)
    }

    /// Opens a book for questions as it was, or as it was known, with its clock standing there.
    ///
    /// # Errors
    /// As [`Self::open`], and when nothing had been written by then.
    pub fn open_past(path: &Path, past: &Past, caller: &Caller) -> Result<Self, Error> {
        Self::open_past_by(path, |_| Ok(past.clone()), caller)
    }

    /// The same, where the clock of the book tells what is meant.
    pub(crate) fn open_past_by<E: From<Error>>(
        path: &Path,
        past: impl FnOnce(Clock) -> Result<Past, E>,
        caller: &Caller,
    ) -> Result<Self, E> {
        let now = Self::of(Book::open(path, Access::Read).map_err(Error::from)?, caller)?;
        let past = past(now.clock())?;
        let (book, made) = past.of(&now.book, now.caller.now, now.clock())?;
        // A clock that was told later was not known.
        let clock = book.clock().map_err(Error::from)?;
        let caller = Caller { now: made.now, ..now.caller }.at_clock(clock);
        Ok(Self { book, caller, view: made.blocks })
    }

    /// Opens the whole book to read it, with what lies ahead.
    pub(crate) fn open_whole(path: &Path, caller: &Caller) -> Result<Self, Error> {
        Self::of(Book::open(path, Access::Read)?, caller)
    }

    /// Leaves out what is dated after today, and says so: it comes into view when its day comes.
    fn without_what_lies_ahead(self) -> Result<Self, Error> {
        let Self { book, caller, mut view } = self;
        let tomorrow = past::tomorrow(caller.now.at, caller.clock);
        let ahead = book.lying_ahead(tomorrow)?;
        if ahead.is_empty() {
            return Ok(Self { book, caller, view });
        }
        view.push(past::note_of(&ahead));
        let looked = book.look_back(&LookBack { known_to: None, before: Some(tomorrow) })?;
        Ok(Self { book: looked.book, caller, view })
    }

    /// Opens a book whose derived rows may be of another ledger, and derives them again.
    pub(crate) fn open_to_derive(path: &Path, caller: &Caller) -> Result<Self, Error> {
        Self::of(Book::open_to_derive(path)?, caller)
    }

    /// Opens a book to examine it, even when its tail is lost or its derived rows are old.
    pub(crate) fn open_to_examine(path: &Path, caller: &Caller) -> Result<Self, Error> {
        let book = Book::open_to_examine(path)?;
        // A damaged one may not tell its clock.
        let clock = book.clock().unwrap_or(caller.clock);
        Ok(Self { book, caller: caller.clone().at_clock(clock), view: Vec::new() })
    }

    /// Closes the book; what was written is in the file whether or not it is closed.
    ///
    /// # Errors
    /// When the file cannot be brought to rest.
    pub fn close(self) -> Result<(), Error> {
        Ok(self.book.close()?)
    }

    /// Whether anything was written to the book since it was opened here.
    pub(crate) const fn was_written(&self) -> bool {
        self.book.was_written()
    }

    /// From now on only what is written next counts as written here.
    pub(crate) const fn forget_written(&mut self) {
        self.book.forget_written();
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

    /// The civil clock by which the book goes.
    pub const fn clock(&self) -> Clock {
        self.caller.clock
    }

    /// The book as intake sees it.
    pub(crate) fn lookup(&self) -> Result<BookLookup<'_>, Error> {
        BookLookup::of(&self.book, &self.caller)
    }

    /// Now and here, for questions.
    pub(crate) fn present(&self) -> Present {
        Present {
            now: self.caller.now.at,
            clock: self.clock(),
            units: self.units(),
            limit: self.caller.limit,
        }
    }
}
