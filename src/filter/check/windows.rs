//! Windows: dates are whole days of the site, months and years are the calendar's.

use chrono::{Days, Months, NaiveDate};

use crate::model::{Clock, DAY_MS, Moment, Scope as InspectionScope, TimeError, Vocabulary};
use crate::units::{Dimension, Rational, Unit};

use super::super::ast::{
    Day, Expr, ExprKind, Quantity, Step, Window as AstWindow, WindowKind, Word,
};
use super::super::error::{ErrorKind, Span};
use super::super::registry::{Field, Record};
use super::super::typed::{Anchor, Node, Pred, Reference, Window};
use super::Checker;

/// Most records that one window may begin at.
const MAX_ANCHORS: usize = 3;

/// A day, or a point in time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum When {
    Day(NaiveDate),
    Instant(i64),
}

impl When {
    /// First instant.
    pub(super) fn start(self, checker: &Checker<'_, '_, '_>) -> i64 {
        match self {
            Self::Day(day) => Moment::Day(day).start(checker.context().clock).0,
            Self::Instant(ms) => ms,
        }
    }

    /// Instant after the last.
    fn next(self, checker: &Checker<'_, '_, '_>) -> i64 {
        match self {
            Self::Day(day) => Moment::Day(day).end(checker.context().clock).0,
            Self::Instant(ms) => ms.saturating_add(1),
        }
    }
}

/// How far to go back or ahead.
enum Stretch {
    Months(u32),
    Days(u64),
    Ms(i64),
}

impl Checker<'_, '_, '_> {
    fn today(&self) -> NaiveDate {
        self.context().now.day(self.context().clock)
    }

    fn date(&mut self, text: &str, span: Span) -> Option<When> {
        match Moment::parse_at(text, self.context().clock) {
            Ok(Moment::Day(day)) => Some(When::Day(day)),
            Ok(clock @ Moment::Clock(_)) => {
                Some(When::Instant(clock.start(self.context().clock).0))
            }
            Err(e @ TimeError::Skipped { .. }) => {
                self.fail(ErrorKind::Type, span, e.to_string(), None)
            }
            Err(TimeError::Unreadable { .. }) => {
                let message = format!("there is no date {text}");
                let hint = "dates are written 2026-03-01, with a time 2026-03-01T06:30".to_owned();
                self.fail(ErrorKind::Type, span, message, hint)
            }
        }
    }

    /// A date written out, with what is added to it or taken off.
    pub(super) fn when(&mut self, e: &Expr) -> Option<When> {
        match &e.kind {
            ExprKind::Date(text) => self.date(text, e.span),
            ExprKind::Today => Some(When::Day(self.today())),
            ExprKind::Sum(terms) => {
                let (_, first) = terms.first()?;
                let mut when = self.when(first)?;
                for (step, term) in &terms[1..] {
                    let ExprKind::Quantity(q) = &term.kind else {
                        let message = "only a time can be added to a date or taken off it";
                        return self.fail(ErrorKind::Dimension, term.span, message, None);
                    };
                    when = self.shift(when, q, *step == Step::Subtract)?;
                }
                Some(when)
            }
            _ => None,
        }
    }

    /// First instant of a day that is written out, and of the next; `None` for anything else.
    pub(super) fn day_limits(&mut self, e: &Expr) -> Option<(i64, i64)> {
        let dated = match &e.kind {
            ExprKind::Date(_) | ExprKind::Today => true,
            ExprKind::Sum(terms) => {
                super::conditions::is_literal(e)
                    && terms
                        .first()
                        .is_some_and(|(_, t)| matches!(t.kind, ExprKind::Date(_) | ExprKind::Today))
            }
            _ => false,
        };
        if !dated {
            return None;
        }
        match self.when(e)? {
            day @ When::Day(_) => Some((day.start(self), day.next(self))),
            When::Instant(_) => None,
        }
    }

    fn stretch(&mut self, q: &Quantity) -> Option<Stretch> {
        let number = q.number?;
        let Some(Word { text: unit, span }) = &q.unit else {
            let message = format!("{} needs a unit of time", q.written);
            let hint = format!("write for example {0} days or {0} months", q.written);
            return self.fail(ErrorKind::Unit, q.span, message, hint);
        };
        let whole = number.as_integer().and_then(|n| u32::try_from(n).ok());
        let months = match unit.to_ascii_lowercase().as_str() {
            "month" | "months" => whole,
            "year" | "years" => whole.and_then(|n| n.checked_mul(12)),
            _ => None,
        };
        if let Some(months) = months {
            return Some(Stretch::Months(months));
        }
        let parsed = match Unit::parse(unit, Dimension::TIME) {
            Ok(parsed) => parsed,
            Err(e) => return self.fail(ErrorKind::Unit, *span, e.to_string(), None),
        };
        let ms = parsed
            .to_base(number)
            .and_then(|s| s.checked_mul(Rational::integer(1_000)))
            .and_then(Rational::round)
            .filter(|ms| *ms >= 0);
        let Some(ms) = ms else {
            return self.fail(ErrorKind::Limit, q.span, "this is no length of time", None);
        };
        Some(match u64::try_from(ms / DAY_MS) {
            Ok(days) if ms % DAY_MS == 0 => Stretch::Days(days),
            _ => Stretch::Ms(ms),
        })
    }

    fn shift(&mut self, when: When, q: &Quantity, back: bool) -> Option<When> {
        let stretch = self.stretch(q)?;
        let shifted = match (when, stretch) {
            (When::Day(day), Stretch::Months(n)) => {
                let n = Months::new(n);
                if back { day.checked_sub_months(n) } else { day.checked_add_months(n) }
                    .map(When::Day)
            }
            (When::Day(day), Stretch::Days(n)) => {
                let n = Days::new(n);
                if back { day.checked_sub_days(n) } else { day.checked_add_days(n) }.map(When::Day)
            }
            (when, Stretch::Ms(ms)) => {
                let ms = if back { -ms } else { ms };
                when.start(self).checked_add(ms).map(When::Instant)
            }
            (When::Instant(ms), Stretch::Days(n)) => i64::try_from(n)
                .ok()
                .and_then(|n| n.checked_mul(if back { -DAY_MS } else { DAY_MS }))
                .and_then(|d| ms.checked_add(d))
                .map(When::Instant),
            (When::Instant(ms), Stretch::Months(n)) => {
                let n = Months::new(n);
                let civil = crate::model::Instant(ms).at(self.context().clock);
                if back { civil.checked_sub_months(n) } else { civil.checked_add_months(n) }
                    .map(|t| When::Instant(t.timestamp_millis()))
            }
        };
        // Four-digit years, as everywhere in the book.
        let sound = shifted.filter(|w| {
            let day = match w {
                When::Day(day) => *day,
                When::Instant(ms) => crate::model::Instant(*ms).day(Clock::UTC),
            };
            let limit = |y| NaiveDate::from_ymd_opt(y, 1, 1).unwrap_or_default();
            (limit(1800)..limit(9999)).contains(&day)
        });
        if sound.is_none() {
            return self.fail(ErrorKind::Limit, q.span, "this leads out of the calendar", None);
        }
        sound
    }

    fn day(&mut self, day: &Day) -> Option<When> {
        let when = match &day.date {
            Some(word) => self.date(&word.text, word.span)?,
            None => When::Day(self.today()),
        };
        match &day.less {
            Some(q) => self.shift(when, q, true),
            None => Some(when),
        }
    }

    /// `at that time` where there is no record whose time it could be.
    pub(super) fn no_record_then<T>(&mut self, field: &Field, span: Span) -> Option<T> {
        let name = field.name;
        let message = "at that time means the time of a record, and none is spoken of here";
        let hint = format!(
            "write for example any run ({name} at that time = …), or {name} as of 2026-03-01"
        );
        self.fail(ErrorKind::Scope, span, message, hint)
    }

    /// The window that several make together; `record` is the kind of record before it.
    pub(super) fn window(
        &mut self,
        windows: &[AstWindow],
        record: Option<Record>,
    ) -> Option<Window> {
        let mut out = Window::default();
        let mut sound = true;
        for window in windows {
            sound &= self.narrow(&mut out, window, record).is_some();
        }
        let span = windows.first().map(|w| w.span).unwrap_or_default();
        if let (Some(from), Some(until)) = (out.from, out.until)
            && from >= until
        {
            let last = windows.last().map_or(span, |w| w.span);
            let day = |ms| crate::model::Instant(ms).day(self.context().clock);
            let hint = format!(
                "it would begin on {} and end before {}; from … to … takes the earlier date first",
                day(from),
                day(until)
            );
            let message = "nothing lies in this window";
            return self.fail(ErrorKind::Window, span.to(last), message, hint);
        }
        if out.before.is_some() && windows.len() > 1 {
            let last = windows.last().map_or(span, |w| w.span);
            let message = "a window that ends before a record stands alone";
            let hint = "write a day for the other end, or ask in two parts".to_owned();
            return self.fail(ErrorKind::Window, span.to(last), message, hint);
        }
        if out.anchors.len() > MAX_ANCHORS {
            let message = format!("a window begins at no more than {MAX_ANCHORS} records");
            return self.fail(ErrorKind::Limit, span, message, None);
        }
        sound.then_some(out)
    }

    fn narrow(
        &mut self,
        out: &mut Window,
        window: &AstWindow,
        record: Option<Record>,
    ) -> Option<()> {
        let mut from = |ms: i64| out.from = Some(out.from.map_or(ms, |f| f.max(ms)));
        match &window.kind {
            WindowKind::SinceDay(day) => from(self.day(day)?.start(self)),
            WindowKind::After(day) => from(self.day(day)?.next(self)),
            WindowKind::InLast(q) => {
                let today = When::Day(self.today());
                let start = match self.shift(today, q, true)? {
                    day @ When::Day(_) => day.start(self),
                    // Hours count back from now, not from the beginning of today. So many whole days
                    // of them reach back to the beginning of a day, and more hours no less far.
                    When::Instant(ms) => {
                        let back = today.start(self) - ms;
                        let from = self.context().now.0.saturating_sub(back);
                        let days = u64::try_from(back / DAY_MS).unwrap_or(0);
                        let whole = self.today().checked_sub_days(Days::new(days));
                        whole.map_or(from, |day| from.min(When::Day(day).start(self)))
                    }
                };
                from(start);
            }
            WindowKind::FromTo(first, last) => {
                let (first, last) = (self.day(first), self.day(last));
                from(first?.start(self));
                let next = last?.next(self);
                out.until = Some(out.until.map_or(next, |u| u.min(next)));
            }
            WindowKind::Before(day) => {
                let start = self.day(day)?.start(self);
                out.until = Some(out.until.map_or(start, |u| u.min(start)));
            }
            WindowKind::AsOf(day) => {
                let next = self.day(day)?.next(self);
                let sooner = |known: Option<i64>| Some(known.map_or(next, |u| u.min(next)));
                (out.until, out.as_of) = (sooner(out.until), sooner(out.as_of));
            }
            WindowKind::ThatTime => {
                let message = "at that time follows a field of the joint that has a past";
                let hint =
                    "class, status, location, wall and the like: any run (class at that time \
                            = class_2)"
                        .to_owned();
                return self.fail(ErrorKind::Window, window.span, message, hint);
            }
            WindowKind::BeforeRecord { latest, kind, condition } => {
                let own = self.record(kind)?;
                let condition = match condition {
                    None => None,
                    Some(e) => Some(Box::new(self.record_condition(own, e, Some(record))?)),
                };
                out.before = Some(Anchor { latest: *latest, record: own, condition, scope: None });
            }
            WindowKind::SinceRecord { latest, kind, condition } => {
                let own = self.record(kind)?;
                let node = match condition {
                    None => None,
                    Some(e) => Some(self.record_condition(own, e, Some(record))?),
                };
                let scope = node.as_ref().filter(|_| *latest && own == Record::Inspection);
                let scope = scope.and_then(one_scope);
                let condition = node.map(Box::new);
                out.anchors.push(Anchor { latest: *latest, record: own, condition, scope });
            }
        }
        Some(())
    }
}

/// The scope, for a condition that asks for one scope and nothing else.
fn one_scope(node: &Node) -> Option<InspectionScope> {
    let Pred::Holds { set: Reference::Read(read), bits } = &node.pred else { return None };
    if read.field.name != "covers" || bits.count_ones() != 1 {
        return None;
    }
    InspectionScope::at_rank(i64::from(bits.trailing_zeros()))
}
