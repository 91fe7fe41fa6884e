//! Numbers: literals with units, fields, counters, folds and arithmetic, with their dimensions.

use std::sync::Arc;

use crate::units::{Dimension, Measure, Rational, Unit, UnitError, UnitSystem, examples};

use super::super::ast::{
    Cmp, Expr, ExprKind, Fold, Quantity, Records as AstRecords, Source, Step, Which,
    Window as AstWindow, WindowKind,
};
use super::super::error::{Advice, ErrorKind, Span, either};
use super::super::parse::is_joints;
use super::super::registry::{self, Field, Kind, Over, Record, Stored};
use super::super::typed::{
    Dim, MS_PER_SECOND, Near, Node, Num, Number, Past, Pick, Portion, Pred, Read, Reference, Total,
};
use super::Checker;
use super::conditions::{Typed, is_literal};

impl Checker<'_, '_, '_> {
    /// A number. `beside` is what it is compared with or added to, where that is known; it decides
    /// between the meanings of a unit and says what is missing.
    pub(super) fn number(&mut self, e: &Expr, beside: Option<&Number>) -> Option<Number> {
        if !self.room(e.span, 1) {
            return None;
        }
        let label = self.label(e.span);
        match &e.kind {
            ExprKind::Quantity(q) => self.quantity(q, beside),
            ExprKind::Date(_) | ExprKind::Today => {
                let when = self.when(e)?;
                Some(self.instant_number(when.start(self), label))
            }
            ExprKind::Negative(inner) => self.deeper(e.span, |c| {
                let inner = c.number(inner, beside)?;
                if inner.dim == Dim::Date {
                    return c.fail(ErrorKind::Dimension, e.span, "a date has no sign", None);
                }
                Some(Number { num: negative(inner.num), label, ..inner })
            }),
            ExprKind::Sum(terms) => self.deeper(e.span, |c| c.sum(e, terms, beside)),
            ExprKind::Product(terms) => self.deeper(e.span, |c| c.product(e, terms)),
            ExprKind::Count(of) if is_joints(&of.kind) => {
                self.deeper(e.span, |c| c.count_joints(of, e.span))
            }
            ExprKind::Count(of) => {
                let of = self.records(of, false)?;
                let num = Num::Count(Box::new(of));
                Some(Number {
                    num,
                    dim: Dim::Of(Dimension::NUMBER),
                    measure: Some(Measure::Count),
                    label,
                })
            }
            ExprKind::Fold { fold, field, of } => {
                self.deeper(e.span, |c| c.fold(*fold, field, of, e.span))
            }
            ExprKind::OverJoints { fold, field, of } => {
                self.deeper(e.span, |c| c.over_joints(*fold, field, of, e.span))
            }
            _ => match self.typed(e)? {
                Typed::Number(number) => Some(number),
                _ => {
                    let message = format!("{label} is no number");
                    self.fail(ErrorKind::Type, e.span, message, None)
                }
            },
        }
    }

    /// Both sides of a comparison of two literals.
    pub(super) fn numbers(&mut self, left: &Expr, right: &Expr) -> Option<(Number, Number)> {
        let left = self.number(left, None)?;
        self.beside(left, right)
    }

    /// The right side of a comparison; the left changes to its twin where the unit asks for it.
    pub(super) fn beside(&mut self, mut left: Number, right: &Expr) -> Option<(Number, Number)> {
        if let Some(dimension) = literal_dimension(right) {
            to_twin(&mut left, &dimension);
        }
        let right_number = self.number(right, Some(&left))?;
        if left.dim != right_number.dim {
            return self.mismatch(&left, &right_number, right.span);
        }
        Some((left, right_number))
    }

    pub(super) fn mismatch<T>(&mut self, left: &Number, right: &Number, span: Span) -> Option<T> {
        let message = format!(
            "{} is {}, {} is {}",
            left.label,
            kind_of(left.dim),
            right.label,
            kind_of(right.dim)
        );
        let hint = match left.dim {
            Dim::Date => Some("dates are written 2026-03-01".to_owned()),
            Dim::Of(_) if matches!(right.num, Num::Const(_)) => {
                Some(format!("write for example {}", with_units(left, "8", self.context().units)))
            }
            Dim::Of(_) => None,
        };
        let advice = self.same_number(left, span).or(|| hint.into());
        self.fail(ErrorKind::Dimension, span, message, advice)
    }

    /// A comparison; `day` holds the first and the next day's instant of a day on the right, `near`
    /// what equals a number on the right.
    pub(super) fn order(
        &mut self,
        op: Cmp,
        left: Number,
        right: Number,
        (day, near): (Option<(i64, i64)>, Option<Near>),
        span: Span,
    ) -> Pred {
        let (Some((start, next)), Dim::Date) = (day, left.dim) else {
            return Pred::Compare { op, left, right, near };
        };
        let last = next - 1;
        let within = |low: Number, high: Number| Pred::Between { value: left.clone(), low, high };
        let at = |ms| self.instant(ms, &right);
        match op {
            Cmp::Eq => within(at(start), at(last)),
            Cmp::Ne => {
                let pred = within(at(start), at(last));
                let node = Node { pred, text: self.text.clone(), span };
                Pred::Not(Box::new(node))
            }
            Cmp::Lt | Cmp::Ge => Pred::Compare { op, right: at(start), left, near: None },
            Cmp::Le | Cmp::Gt => Pred::Compare { op, right: at(last), left, near: None },
        }
    }

    /// What equals a number on the right of `=` or `!=`, where it is one that is written out in a unit
    /// in which the book shows what stands on the left.
    pub(super) fn near(op: Cmp, left: &Number, right: &Expr) -> Option<Near> {
        let measure = left.measure.filter(|m| *m != Measure::Count)?;
        let (literal, below_zero) = match &right.kind {
            ExprKind::Negative(inner) => (&inner.kind, true),
            kind => (kind, false),
        };
        let (ExprKind::Quantity(q), Cmp::Eq | Cmp::Ne) = (literal, op) else { return None };
        let number = q.number?;
        let unit = match &q.unit {
            Some(unit) => {
                let meanings = Unit::meanings(&unit.text).ok()?;
                meanings.into_iter().find(|u| u.dimension() == measure.dimension())?
            }
            None => Unit::one(),
        };
        let shown = |system: &UnitSystem| measure.unit(*system).factor() == unit.factor();
        let system = [UnitSystem::Us, UnitSystem::Metric].into_iter().find(shown)?;
        if measure == Measure::Damage && number.to_f64() < 5e-4 {
            // Shown by its exponent.
            return None;
        }
        let written = q.written.split_once('.').map_or(0, |(_, digits)| digits.len());
        let digits = u32::try_from(written.max(measure.decimals(system))).ok()?;
        let half = Rational::new(1, 2 * 10_i128.checked_pow(digits)?)?;
        let quantum = Rational::new(1, i128::from(measure.quanta_per_base()))?;
        if unit.factor().checked_mul(Rational::integer(2))?.checked_mul(half)? <= quantum {
            // Finer than anything is stored: it means the stored number that is nearest.
            return None;
        }
        let low = unit.to_base(number.checked_add(half.negated())?)?;
        let high = unit.to_base(number.checked_add(half)?)?;
        Some(if below_zero {
            Near { low: high.negated(), high: low.negated() }
        } else {
            Near { low, high }
        })
    }

    /// An instant that is called as another number is.
    pub(super) fn instant(&self, ms: i64, like: &Number) -> Number {
        self.instant_number(ms, Arc::clone(&like.label))
    }

    fn instant_number(&self, ms: i64, label: Arc<str>) -> Number {
        let seconds = Rational::new(i128::from(ms), i128::from(MS_PER_SECOND));
        Number {
            num: Num::Const(seconds.unwrap_or(Rational::ZERO)),
            dim: Dim::Date,
            measure: None,
            label,
        }
    }

    pub(super) fn quantity(&mut self, q: &Quantity, beside: Option<&Number>) -> Option<Number> {
        let number = q.number?;
        let label = self.label(q.span);
        let wanted = beside.map(|b| b.dim);
        let Some(unit) = &q.unit else {
            let bare_ok = match (wanted, beside) {
                (Some(Dim::Of(Dimension::NUMBER)), Some(b)) => !is_share(b),
                (Some(_), _) => false,
                (None, _) => true,
            };
            if !bare_ok && let Some(beside) = beside {
                return self.needs_unit(beside, q);
            }
            let dim = Dim::Of(Dimension::NUMBER);
            return Some(Number { num: Num::Const(number), dim, measure: None, label });
        };
        let mut meanings = match Unit::meanings(&unit.text) {
            Ok(meanings) => meanings,
            Err(UnitError::Unknown { symbol, nearest }) => {
                let message = format!("there is no unit {symbol}");
                let advice = self.unit_meant(q, &symbol, nearest, beside);
                return self.fail(ErrorKind::Unit, unit.span, message, advice);
            }
            Err(e) => return self.fail(ErrorKind::Unit, unit.span, e.to_string(), None),
        };
        let at = meanings.iter().position(|u| wanted == Some(Dim::Of(u.dimension()))).unwrap_or(0);
        let unit = meanings.swap_remove(at);
        let Some(base) = unit.to_base(number) else {
            let message = "this number has more digits than can be kept exactly";
            return self.fail(ErrorKind::Limit, q.span, message, None);
        };
        Some(Number { num: Num::Const(base), dim: Dim::Of(unit.dimension()), measure: None, label })
    }

    fn needs_unit<T>(&mut self, beside: &Number, q: &Quantity) -> Option<T> {
        if beside.dim == Dim::Date {
            let message = format!("{} is a date", beside.label);
            let hint = "dates are written 2026-03-01".to_owned();
            return self.fail(ErrorKind::Unit, q.span, message, hint);
        }
        let units = self.context().units;
        // A share is written in percent; 0.82 of the wall is 82 % of it.
        let written = match percent(q).filter(|_| is_share(beside)) {
            Some(percent) => percent,
            None => q.written.clone(),
        };
        let message =
            format!("{} needs a unit: {}", beside.label, with_units(beside, &written, units));
        let texts = symbols(beside, units).into_iter().map(|s| format!("{written} {s}"));
        let texts = if beside.measure.is_some() { texts.collect() } else { Vec::new() };
        let fixes = Advice::write(q.span, texts).fixes;
        // Turns in a minute are one of many things that are so much in a time.
        let in_time = beside.measure.is_none() && beside.dim == Dim::Of(Dimension::FREQUENCY);
        let hint = in_time.then(|| {
            format!("it is so much in a time: {} * 100 h is a plain number", beside.label)
        });
        self.fail(ErrorKind::Unit, q.span, message, Advice { hint, fixes })
    }

    /// The same number in the unit that was meant: with the length or force that goes without
    /// saying in the trade, or in millions. Another unit would be another number.
    fn same_number(&self, beside: &Number, span: Span) -> Advice {
        let said = self.slice(span);
        let end = said.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(said.len());
        let (number, unit) = (&said[..end], said[end..].trim());
        let Dim::Of(dimension) = beside.dim else { return Advice::default() };
        let (metric, us) = match (dimension, unit) {
            (Dimension::CURVATURE, "deg" | "°" | "degree" | "degrees") => ("deg/30m", "deg/100ft"),
            (Dimension::TORQUE, "lb" | "lbs" | "lbf") => ("", "ft.lbf"),
            (Dimension::TORQUE, "klb" | "klbs" | "klbf") => ("", "kft.lbf"),
            (Dimension::LINEAR_MASS, "lb" | "lbs") => ("", "lb/ft"),
            (Dimension::LINEAR_MASS, "kg") => ("kg/m", ""),
            (Dimension::FORCE, "k" | "K") => ("", "klbf"),
            (Dimension::FORCE, "tonne" | "tonnes" | "ton" | "tons") => ("tf", ""),
            (Dimension::NUMBER, "M") => {
                let many = Rational::parse(number)
                    .and_then(|n| n.checked_mul(Rational::integer(1_000_000)))
                    .and_then(Rational::as_integer);
                return Advice::write(span, many.map(|n| n.to_string()));
            }
            _ => return Advice::default(),
        };
        let units = match self.context().units {
            UnitSystem::Us => [us, metric],
            UnitSystem::Metric => [metric, us],
        };
        let named = units.into_iter().filter(|u| !u.is_empty());
        Advice::write(span, named.map(|u| format!("{number} {u}")))
    }

    /// What was meant by a unit that nobody knows.
    fn unit_meant(
        &self,
        q: &Quantity,
        symbol: &str,
        nearest: Option<String>,
        beside: Option<&Number>,
    ) -> Advice {
        let times = match symbol {
            "k" | "K" => Some(1_000),
            "M" | "mm" | "mln" | "million" => Some(1_000_000),
            _ => None,
        };
        let plain = beside.is_none_or(|b| b.dim == Dim::Of(Dimension::NUMBER));
        let many = times.zip(q.number).and_then(|(t, n)| n.checked_mul(Rational::integer(t)));
        if let Some(n) = many.and_then(Rational::as_integer).filter(|_| plain) {
            return Advice::write(q.span, [n.to_string()]);
        }
        // A ton is one of two.
        if matches!(symbol, "ton" | "tons")
            && beside.is_some_and(|b| b.dim == Dim::Of(Dimension::FORCE))
        {
            let both = ["tf", "tonfUS"].map(|unit| format!("{} {unit}", q.written));
            return Advice::write(q.span, both).saying(format!(
                "write {0} tf for metric tons, or {0} tonfUS for short ones",
                q.written
            ));
        }
        let fits = |near: &String| {
            let meanings = Unit::meanings(near).unwrap_or_default();
            beside.is_none_or(|b| meanings.iter().any(|u| b.dim == Dim::Of(u.dimension())))
        };
        if let (Some(near), Some(unit)) = (nearest.filter(fits), &q.unit) {
            return Advice::nearest(unit.span, &[near]);
        }
        let Some(beside) = beside else { return Advice::default() };
        let units = self.context().units;
        let said = format!("write for example {}", with_units(beside, &q.written, units));
        if beside.measure.is_none() {
            return said.into();
        }
        let texts = symbols(beside, units).into_iter().map(|s| format!("{} {s}", q.written));
        Advice::write(q.span, texts.map(|t| t.trim_end().to_owned()).collect::<Vec<_>>())
            .saying(said)
    }

    fn sum(&mut self, e: &Expr, terms: &[(Step, Expr)], beside: Option<&Number>) -> Option<Number> {
        let label = self.label(e.span);
        if is_literal(e)
            && matches!(
                terms.first(),
                Some((_, Expr { kind: ExprKind::Date(_) | ExprKind::Today, .. }))
            )
        {
            let when = self.when(e)?;
            return Some(self.instant_number(when.start(self), label));
        }
        // What names something decides what the literals beside it mean.
        let mut read: Vec<Option<Number>> = Vec::with_capacity(terms.len());
        for (_, term) in terms {
            read.push(if is_literal(term) { None } else { Some(self.number(term, None)?) });
        }
        let guide = read.iter().flatten().find(|n| n.dim != Dim::Date).cloned();
        let dated = read.iter().flatten().any(|n| n.dim == Dim::Date);
        let guide = guide.as_ref().or(if dated { None } else { beside });
        let mut numbers = Vec::with_capacity(terms.len());
        for ((_, term), known) in terms.iter().zip(read) {
            numbers.push(match known {
                Some(number) => number,
                None => self.number(term, guide)?,
            });
        }
        let dim = self.sum_dimension(terms, &numbers)?;
        let measure =
            numbers.iter().find_map(|n| n.measure).filter(|m| dim == Dim::Of(m.dimension()));
        let signed: Vec<Num> = terms
            .iter()
            .zip(numbers)
            .map(|((step, _), n)| if *step == Step::Subtract { negative(n.num) } else { n.num })
            .collect();
        let num = match constants(&signed) {
            Some(all) => {
                let sum = all.into_iter().try_fold(Rational::ZERO, Rational::checked_add);
                Num::Const(self.kept(sum, e.span)?)
            }
            None => Num::Sum(signed),
        };
        Some(Number { num, dim, measure, label })
    }

    fn sum_dimension(&mut self, terms: &[(Step, Expr)], numbers: &[Number]) -> Option<Dim> {
        let dates: i32 = terms
            .iter()
            .zip(numbers)
            .filter(|(_, n)| n.dim == Dim::Date)
            .map(|((step, _), _)| if *step == Step::Subtract { -1 } else { 1 })
            .sum();
        let dated = numbers.iter().any(|n| n.dim == Dim::Date);
        let first = numbers.first()?;
        let time = Dim::Of(Dimension::TIME);
        let expected = if dated { time } else { first.dim };
        for ((step, term), number) in terms.iter().zip(numbers) {
            if number.dim != expected && number.dim != Dim::Date {
                let (what, of) =
                    (kind_of(number.dim), kind_of(if dated { Dim::Date } else { expected }));
                let message = if *step == Step::Subtract {
                    format!("{} is {what} and cannot be taken from {of}", number.label)
                } else {
                    format!("{} is {what} and cannot be added to {of}", number.label)
                };
                return self.fail(ErrorKind::Dimension, term.span, message, None);
            }
        }
        match (dated, dates) {
            (false, _) => Some(expected),
            (true, 0) => Some(time),
            (true, 1) => Some(Dim::Date),
            (true, _) => {
                let span = terms.first()?.1.span.to(terms.last()?.1.span);
                let hint = "one date less another is a time".to_owned();
                self.fail(ErrorKind::Dimension, span, "dates cannot be added up", hint)
            }
        }
    }

    fn product(&mut self, e: &Expr, terms: &[(Step, Expr)]) -> Option<Number> {
        let label = self.label(e.span);
        let mut dimension = Dimension::NUMBER;
        let mut measure = None;
        let mut factors = Vec::with_capacity(terms.len());
        for (step, term) in terms {
            let number = self.number(term, None)?;
            let Dim::Of(d) = number.dim else {
                let message = format!("{} is a date and cannot be multiplied", number.label);
                return self.fail(ErrorKind::Dimension, term.span, message, None);
            };
            let next = if *step == Step::Divide { dimension.per(d) } else { dimension.times(d) };
            let Some(next) = next else {
                return self.fail(ErrorKind::Dimension, e.span, "this measures nothing", None);
            };
            dimension = next;
            measure = measure.or(number.measure);
            if *step == Step::Divide && matches!(number.num, Num::Const(r) if r == Rational::ZERO) {
                return self.fail(ErrorKind::Type, term.span, "this divides by zero", None);
            }
            factors.push((*step, number.num));
        }
        let dim = Dim::Of(dimension);
        let measure = measure.filter(|m| dim == Dim::Of(m.dimension()));
        let all: Vec<Num> = factors.iter().map(|(_, n)| n.clone()).collect();
        let num = match constants(&all) {
            Some(all) => {
                let product = all.into_iter().zip(&factors).try_fold(
                    Rational::ONE,
                    |product, (r, (step, _))| {
                        if *step == Step::Divide {
                            product.checked_div(r)
                        } else {
                            product.checked_mul(r)
                        }
                    },
                );
                Num::Const(self.kept(product, e.span)?)
            }
            None => Num::Product(factors),
        };
        Some(Number { num, dim, measure, label })
    }

    fn kept(&mut self, exact: Option<Rational>, span: Span) -> Option<Rational> {
        if exact.is_none() {
            let message = "this has more digits than can be kept exactly";
            return self.fail(ErrorKind::Limit, span, message, None);
        }
        exact
    }

    /// A field where it stands, with its windows.
    pub(super) fn field_value(
        &mut self,
        field: &'static Field,
        source: &Source,
        windows: &[AstWindow],
        span: Span,
    ) -> Option<Typed> {
        let field = self.at_place(field, source)?;
        let portion = self.portion(source, field)?;
        let label = self.label(span);
        if let (Stored::Counter { over, .. }, None) = (field.stored, field.record) {
            return self.counter(field, over, portion, windows, span);
        }
        let past = match windows {
            [] => None,
            [AstWindow { kind: WindowKind::AsOf(_), .. }] if field.past.is_some() => {
                self.window(windows, None)?.until.map(Past::Before)
            }
            [AstWindow { kind: WindowKind::ThatTime, span }] if field.past.is_some() => {
                if self.scope.record.is_none() {
                    return self.no_record_then(field, *span);
                }
                Some(Past::ThatTime)
            }
            [first, ..] => {
                return self.no_window(field, first.span, self.compared_day(field, windows));
            }
        };
        let read = Read { field, portion, past, label: Arc::clone(&label) };
        Some(match dim_of(field) {
            Some(dim) => {
                Typed::Number(Number { num: Num::Read(read), dim, measure: field.measure(), label })
            }
            None => Typed::Reference(Reference::Read(read)),
        })
    }

    fn counter(
        &mut self,
        field: &'static Field,
        over: Over,
        portion: Option<Portion>,
        windows: &[AstWindow],
        span: Span,
    ) -> Option<Typed> {
        let as_of = matches!(windows, [AstWindow { kind: WindowKind::AsOf(_), .. }]);
        let record = match over {
            Over::Makeups(_) => Record::Makeup,
            Over::Runs(..) | Over::WorstPlace(_) | Over::Place(..) => Record::Run,
        };
        if as_of && matches!(over, Over::Makeups(_)) {
            let message = format!("{} counts the generation of today", field.name);
            let hint = "write count makeups (end = …) before …".to_owned();
            return self.fail(ErrorKind::Window, span, message, hint);
        }
        let window = self.window(windows, Some(record))?;
        let label = self.label(span);
        let total = Total { field, portion, window };
        let dim = dim_of(field)?;
        let num = Num::Total(Box::new(total));
        Some(Typed::Number(Number { num, dim, measure: field.measure(), label }))
    }

    /// The comparison that is meant by a window behind a date: `inspected after 2026-01-01`.
    fn compared_day(&self, field: &Field, windows: &[AstWindow]) -> Advice {
        let ([window], Kind::Date) = (windows, field.kind) else { return Advice::default() };
        let said = self.label(window.span);
        let behind = |words| said.splitn(words + 1, ' ').nth(words).unwrap_or_default();
        let text = match window.kind {
            WindowKind::Before(_) => format!("< {}", behind(1)),
            WindowKind::After(_) => format!("> {}", behind(1)),
            WindowKind::SinceDay(_) => format!(">= {}", behind(1)),
            WindowKind::FromTo(..) => format!("between {}", behind(1).replace(" to ", " and ")),
            WindowKind::InLast(_) => format!(">= today - {}", behind(2)),
            WindowKind::AsOf(_)
            | WindowKind::ThatTime
            | WindowKind::SinceRecord { .. }
            | WindowKind::BeforeRecord { .. } => return Advice::default(),
        };
        Advice::write(window.span, [text])
    }

    fn no_window<T>(&mut self, field: &Field, span: Span, meant: Advice) -> Option<T> {
        let name = field.name;
        let counter =
            registry::field(None, name).is_some_and(|f| matches!(f.stored, Stored::Counter { .. }));
        let hint = match (field.record, counter) {
            (Some(record), true) => format!(
                "the window of a {record} goes after its condition; joint.{name} with a window counts for the joint"
            ),
            (Some(record), false) => format!("the window of a {record} goes after its condition"),
            (None, _) if field.past.is_some() => format!(
                "only as of can follow, or at that time in a record's condition: {name} as of \
                 2026-03-01"
            ),
            (None, _) => match registry::records_with(name).first() {
                Some(record) => format!("write {name} of latest {record} with a window"),
                None => "a window follows a record or a counter like hours".to_owned(),
            },
        };
        let message = format!("{name} takes no such window");
        self.fail(ErrorKind::Window, span, message, meant.or(|| hint.into()))
    }

    /// A field of a record kind, for picks and folds.
    fn record_field(&mut self, record: Record, source: &Source) -> Option<&'static Field> {
        let name = &source.name.text;
        if let (false, Some(field)) = (source.of_joint, registry::field(Some(record), name)) {
            return Some(field);
        }
        let message = format!("{name} is no field of {record}s");
        let near = registry::nearest(name, registry::fields_of(Some(record)).map(|f| f.name));
        let advice = Advice::nearest(source.name.span, &near).or(|| {
            let elsewhere = registry::records_with(name);
            let many: Vec<String> = elsewhere.iter().map(|r| format!("{r}s")).collect();
            (!many.is_empty()).then(|| format!("it is a field of {}", many.join(", "))).into()
        });
        self.fail(ErrorKind::Scope, source.name.span, message, advice)
    }

    pub(super) fn pick(
        &mut self,
        source: &Source,
        which: Which,
        of: &AstRecords,
        span: Span,
    ) -> Option<Typed> {
        let records = self.records(of, false)?;
        let field = self.record_field(records.record, source)?;
        let field = self.at_place(field, source)?;
        let portion = self.portion(source, field)?;
        let label = self.label(span);
        let name: Arc<str> = source.name.text.as_str().into();
        let read = Read { field, portion, past: None, label: name };
        let pick = Box::new(Pick { read, which, of: records });
        Some(match dim_of(field) {
            Some(dim) => {
                Typed::Number(Number { num: Num::Pick(pick), dim, measure: field.measure(), label })
            }
            None => Typed::Reference(Reference::Pick(pick)),
        })
    }

    fn fold(&mut self, fold: Fold, source: &Source, of: &AstRecords, span: Span) -> Option<Number> {
        let records = self.records(of, false)?;
        let field = self.record_field(records.record, source)?;
        let field = self.at_place(field, source)?;
        let portion = self.portion(source, field)?;
        let label = self.label(span);
        let Kind::Measure(measure) = field.kind else {
            let message = format!("{} is no number, so it has no {}", field.name, fold.word());
            return self.fail(ErrorKind::Type, source.name.span, message, None);
        };
        let name: Arc<str> = source.name.text.as_str().into();
        let read = Read { field, portion, past: None, label: name };
        let num = Num::Fold { fold, read, of: Box::new(records) };
        Some(Number { num, dim: Dim::Of(measure.dimension()), measure: Some(measure), label })
    }
}

fn negative(num: Num) -> Num {
    match num {
        Num::Const(r) => Num::Const(r.negated()),
        Num::Negative(inner) => *inner,
        other => Num::Negative(Box::new(other)),
    }
}

fn constants(nums: &[Num]) -> Option<Vec<Rational>> {
    nums.iter()
        .map(|n| match n {
            Num::Const(r) => Some(*r),
            _ => None,
        })
        .collect()
}

/// What a field measures, for a number or an instant.
fn dim_of(field: &Field) -> Option<Dim> {
    match field.kind {
        Kind::Measure(m) => Some(Dim::Of(m.dimension())),
        Kind::Date => Some(Dim::Date),
        _ => None,
    }
}

fn kind_of(dim: Dim) -> String {
    match dim {
        Dim::Date => "a date".to_owned(),
        Dim::Of(d) => d.to_string(),
    }
}

/// True for a part of a whole, which is written in percent so that 82 is not taken for 0.82.
fn is_share(number: &Number) -> bool {
    number.measure == Some(Measure::Ratio) && number.num.quanta().is_some()
}

/// The dimension of the unit in a literal, when it has one.
fn literal_dimension(e: &Expr) -> Option<Vec<Dimension>> {
    match &e.kind {
        ExprKind::Quantity(Quantity { unit: Some(unit), .. }) => {
            Some(Unit::meanings(&unit.text).ok()?.iter().map(Unit::dimension).collect())
        }
        ExprKind::Negative(inner) => literal_dimension(inner),
        ExprKind::Sum(terms) if is_literal(e) => {
            terms.iter().find_map(|(_, t)| literal_dimension(t))
        }
        _ => None,
    }
}

/// Turns a field into the one that holds the same thing in another dimension, if it has one.
fn to_twin(number: &mut Number, dimensions: &[Dimension]) {
    if matches!(number.dim, Dim::Of(d) if dimensions.contains(&d)) {
        return;
    }
    let read = match &mut number.num {
        Num::Read(read) | Num::Fold { read, .. } => read,
        Num::Pick(pick) => &mut pick.read,
        _ => return,
    };
    let twin = read.field.twin.and_then(|name| registry::field(read.field.record, name));
    let Some((twin, measure)) = twin.and_then(|t| Some((t, t.measure()?))) else { return };
    if dimensions.contains(&measure.dimension()) {
        read.field = twin;
        number.dim = Dim::Of(measure.dimension());
        number.measure = Some(measure);
    }
}

/// Units in which what a number stands beside is read, those of the book first.
fn symbols(beside: &Number, units: UnitSystem) -> Vec<&'static str> {
    let other = match units {
        UnitSystem::Us => UnitSystem::Metric,
        UnitSystem::Metric => UnitSystem::Us,
    };
    let Some(measure) = beside.measure else { return Vec::new() };
    let mut symbols = vec![measure.unit_symbol(units), measure.unit_symbol(other)];
    symbols.dedup();
    symbols
}

/// A number below one in percent.
fn percent(q: &Quantity) -> Option<String> {
    let number = q.number.filter(|n| *n != Rational::ZERO)?;
    let below = number.checked_add(Rational::ONE.negated())?.is_negative();
    let percent = number.checked_mul(Rational::integer(100))?;
    below.then(|| {
        percent.as_integer().map_or_else(|| percent.to_f64().to_string(), |n| n.to_string())
    })
}

/// A number with the units that would do: `8 deg/100ft or 8 deg/30m`.
fn with_units(beside: &Number, number: &str, units: UnitSystem) -> String {
    let other = match units {
        UnitSystem::Us => UnitSystem::Metric,
        UnitSystem::Metric => UnitSystem::Us,
    };
    if beside.measure.is_none() {
        return match beside.dim {
            Dim::Of(d) => examples(d),
            Dim::Date => "2026-03-01".to_owned(),
        };
    }
    let symbols = symbols(beside, units);
    let twin = match &beside.num {
        Num::Read(read) | Num::Fold { read, .. } => Some(read),
        Num::Pick(pick) => Some(&pick.read),
        _ => None,
    };
    let twin =
        twin.and_then(|r| registry::field(r.field.record, r.field.twin?)).and_then(Field::measure);
    let shown: Vec<String> = symbols
        .iter()
        .map(|s| if s.is_empty() { number.to_owned() } else { format!("{number} {s}") })
        .collect();
    let mut said = either(&shown);
    if let Some(twin) = twin {
        let symbols = [twin.unit_symbol(units), twin.unit_symbol(other)];
        said.push_str(&format!(", or {} ({})", twin.dimension(), symbols.join(", ")));
    }
    said
}
