//! What a filter asks of other joints: the kin of one or of many, a value of one, a mean or a
//! percentile over many. It is asked of the book when the filter is compiled, and stands in the
//! checked tree as what was found.

use super::super::ast::{Expr, Fold, KinOf, Records as AstRecords, SetFold, Source, Window, Word};
use super::super::error::{Advice, ErrorKind, Span};
use super::super::registry::{Absent, Kind, field, nearest};
use super::super::typed::{
    Among, Asked, Chosen, Dim, Kin, Link, Num, Number, Phrase, Pred, Reference, Shown, Told,
    counts_up,
};
use super::conditions::Typed;
use super::{Checker, Scope};
use crate::model::{JointRef, Serial, fold as folded, nearest_word};
use crate::schema::Value;
use crate::units::{Dimension, Measure};

impl Checker<'_, '_, '_> {
    pub(super) fn kin(&mut self, of: &KinOf, by: &[Word]) -> Option<Pred> {
        let (said, joints, perhaps) = match of {
            KinOf::Serial(serial) => {
                let joints = self.joints_called(serial)?;
                (serial.text.clone(), joints.clone(), joints)
            }
            KinOf::Joints(filter) => {
                let all = self.ask(Some(filter), None, filter.span)?;
                let certain = all.iter().filter(|a| a.certain).map(|a| a.joint).collect();
                let perhaps = all.iter().map(|a| a.joint).collect();
                (self.label(filter.span).to_string(), certain, perhaps)
            }
        };
        let mut links = Vec::new();
        for word in by {
            match Link::ALL.into_iter().find(|l| l.word() == folded(&word.text)) {
                Some(link) => links.push(link),
                None => {
                    let known: Vec<&str> = Link::ALL.iter().map(|l| l.word()).collect();
                    let message = format!("{} is nothing that kin share", word.text);
                    let near = nearest_word(&word.text, known.iter().copied());
                    let advice = Advice::nearest(word.span, near.as_slice())
                        .or(|| format!("known: {}", known.join(", ")).into());
                    return self.fail(ErrorKind::Word, word.span, message, advice);
                }
            }
        }
        links.sort_unstable();
        links.dedup();
        if links.is_empty() {
            links = Link::ALL.to_vec();
        }
        Some(Pred::Kin(Kin { of: said, joints, perhaps, links }))
    }

    /// Joints that answer to a serial; none is a mistake.
    fn joints_called(&mut self, serial: &Word) -> Option<Vec<i64>> {
        // As everywhere, a serial that several joints have is told apart by SERIAL@ENTRY.
        let named = serial.text.parse::<JointRef>().map(|named| named.to_string());
        let key = match named.or_else(|_| Serial::parse(&serial.text).map(|s| s.key())) {
            Ok(key) => key,
            Err(e) => return self.fail(ErrorKind::Serial, serial.span, e.to_string(), None),
        };
        let joints = (self.context().joints)(&key);
        if joints.is_empty() {
            let message = format!("no joint answers to {}", serial.text);
            return self.fail(ErrorKind::Serial, serial.span, message, None);
        }
        Some(joints)
    }

    /// A value of another joint: `damage of "K1-0417"`.
    pub(super) fn of_joint(
        &mut self,
        source: &Source,
        serial: &Word,
        windows: &[Window],
        span: Span,
    ) -> Option<Typed> {
        let joints = self.joints_called(serial)?;
        let [joint] = joints[..] else {
            let message = format!("{} joints answer to {}", joints.len(), serial.text);
            let hint = "name the one meant with the entry that brought it in: SERIAL@ENTRY";
            return self.fail(ErrorKind::Serial, serial.span, message, hint.to_owned());
        };
        let value = self.joint_value(source, windows, span)?;
        let read = match &value {
            Typed::Number(number) => Shown::Number(number.clone()),
            Typed::Reference(place) if matches!(place.field().kind, Kind::Text | Kind::Word(_)) => {
                Shown::Reference(place.clone())
            }
            _ => {
                let said = &source.name.text;
                let message = format!("{said} of another joint compares with nothing");
                let hint = "numbers, texts and words can be compared with those of another joint";
                return self.fail(ErrorKind::Type, source.name.span, message, hint.to_owned());
            }
        };
        let asked = Among { joints: Chosen::One(joint), value: Some(read) };
        let told = self.told(&asked, span)?.pop().map(|a| a.value);
        Some(match (value, told) {
            (Typed::Number(number), Some(Told::Between(lo, hi))) => {
                Typed::Number(Number { num: Num::Given(lo, hi), ..number })
            }
            (Typed::Number(number), _) => {
                Typed::Number(Number { num: Num::Given(None, None), ..number })
            }
            (_, Some(Told::Value(Value::Text(text)))) => Typed::Told(Phrase::Known(text)),
            (Typed::Reference(Reference::Read(read)), Some(Told::Value(Value::Null)))
                if read.field.absent == Absent::None =>
            {
                Typed::Told(Phrase::None)
            }
            _ => Typed::Told(Phrase::Unknown),
        })
    }

    /// A field of joints, whatever record is in scope here.
    fn joint_value(&mut self, source: &Source, windows: &[Window], span: Span) -> Option<Typed> {
        let name = &source.name.text;
        let Some(found) = field(None, name) else {
            let message = format!("{name} is no field of joints");
            let near = nearest(name, super::super::registry::fields_of(None).map(|f| f.name));
            let advice = Advice::nearest(source.name.span, &near);
            return self.fail(ErrorKind::Scope, source.name.span, message, advice);
        };
        self.of_joints(|c| c.field_value(found, source, windows, span))
    }

    /// Does something where joints are in scope, and no record.
    fn of_joints<T>(&mut self, work: impl FnOnce(&mut Self) -> Option<T>) -> Option<T> {
        let scope = Scope {
            level: self.scope.level,
            questions: self.scope.questions + 1,
            ..Scope::default()
        };
        self.session.deepest.reach(scope.level, scope.questions);
        if scope.questions > super::MAX_QUESTIONS {
            return None;
        }
        self.inside(scope, work)
    }

    /// Joints that match, or of which nobody can tell, each with a value. An error of the filter is
    /// reported.
    fn ask(
        &mut self,
        filter: Option<&Expr>,
        value: Option<Shown>,
        span: Span,
    ) -> Option<Vec<Asked>> {
        let joints = match filter {
            None => Chosen::All,
            Some(e) => Chosen::Matching(Box::new(self.of_joints(|c| c.condition(e))?)),
        };
        self.told(&Among { joints, value }, span)
    }

    /// What the book tells; that it could not be asked is a mistake, and never no joints.
    fn told(&mut self, among: &Among, span: Span) -> Option<Vec<Asked>> {
        let told = (self.context().ask)(among);
        if told.is_none() {
            let message = "the joints that this rests on could not be asked";
            let hint = "ask it in parts, or allow more time with --time-limit".to_owned();
            return self.fail(ErrorKind::Limit, span, message, hint);
        }
        told
    }

    /// A value over joints: `mean damage over joints (string = "K1")`.
    pub(super) fn over_joints(
        &mut self,
        fold: SetFold,
        source: &Source,
        of: &AstRecords,
        span: Span,
    ) -> Option<Number> {
        if !super::super::parse::is_joints(&of.kind) {
            let message = "a percentile is one of joints".to_owned();
            let hint = "write percentile 90 of damage over joints (…)".to_owned();
            return self.fail(ErrorKind::Type, of.kind.span, message, hint);
        }
        self.no_windows(of)?;
        let number = match self.joint_value(source, &[], span)? {
            Typed::Number(number) if number.dim != Dim::Date => number,
            _ => {
                let message = format!("{} is no number to fold", source.name.text);
                return self.fail(ErrorKind::Type, source.name.span, message, None);
            }
        };
        let up = match &number.num {
            Num::Read(read) => counts_up(read.field),
            other => other.at_least_zero(),
        };
        let asked = self.ask(of.condition.as_deref(), Some(Shown::Number(number.clone())), span)?;
        let (lo, hi) = Terms::of(&asked, up).fold(fold);
        Some(Number { num: Num::Given(lo, hi), label: self.label(span), ..number })
    }

    /// How many joints match: `count joints (string = "K1")`.
    pub(super) fn count_joints(&mut self, of: &AstRecords, span: Span) -> Option<Number> {
        self.no_windows(of)?;
        let asked = self.ask(of.condition.as_deref(), None, span)?;
        let certain = asked.iter().filter(|a| a.certain).count();
        let num = Num::Given(Some(certain as f64), Some(asked.len() as f64));
        let dim = Dim::Of(Dimension::NUMBER);
        Some(Number { num, dim, measure: Some(Measure::Count), label: self.label(span) })
    }

    fn no_windows(&mut self, of: &AstRecords) -> Option<()> {
        let Some(first) = of.windows.first() else { return Some(()) };
        let message = "joints stand in no window";
        let hint = "put the window behind the value that it is about, or in the condition";
        self.fail(ErrorKind::Window, first.span, message, hint.to_owned())
    }
}

/// Values of joints, each of a joint that counts for certain or perhaps.
struct Terms {
    certain: Vec<(Option<f64>, Option<f64>)>,
    perhaps: Vec<(Option<f64>, Option<f64>)>,
}

type Bounds = (Option<f64>, Option<f64>);

impl Terms {
    fn of(asked: &[Asked], up: bool) -> Self {
        let (mut certain, mut perhaps) = (Vec::new(), Vec::new());
        for a in asked {
            let (lo, hi) = match a.value {
                Told::Between(lo, hi) => (lo, hi),
                _ => (None, None),
            };
            let lo = if up { Some(lo.unwrap_or(0.0)) } else { lo };
            if a.certain { &mut certain } else { &mut perhaps }.push((lo, hi));
        }
        Self { certain, perhaps }
    }

    fn fold(&self, fold: SetFold) -> Bounds {
        let all = || self.certain.iter().chain(&self.perhaps);
        let some = !self.certain.is_empty();
        let every =
            |pick: fn(&Bounds) -> Option<f64>| all().map(pick).collect::<Option<Vec<f64>>>();
        let utmost = |values: Option<Vec<f64>>, of: fn(f64, f64) -> f64| {
            values.filter(|_| some).and_then(|v| v.into_iter().reduce(of))
        };
        let sure = |pick: fn(&Bounds) -> Option<f64>| {
            Some(self.certain.iter().filter_map(pick).collect::<Vec<f64>>())
        };
        match fold {
            SetFold::Fold(Fold::Sum) => self.sum(),
            SetFold::Fold(Fold::Max) => {
                (utmost(sure(|t| t.0), f64::max), utmost(every(|t| t.1), f64::max))
            }
            SetFold::Fold(Fold::Min) => {
                (utmost(every(|t| t.0), f64::min), utmost(sure(|t| t.1), f64::min))
            }
            SetFold::Fold(Fold::Mean) => (self.mean(|t| t.0, false), self.mean(|t| t.1, true)),
            SetFold::Percentile(n) => {
                (self.percentile(n, |t| t.0, false), self.percentile(n, |t| t.1, true))
            }
        }
    }

    fn sum(&self) -> Bounds {
        let side = |pick: fn(&Bounds) -> Option<f64>, worse: fn(f64, f64) -> f64| {
            let certain = self.certain.iter().map(pick).sum::<Option<f64>>()?;
            let perhaps = self.perhaps.iter().map(pick).map(|x| Some(worse(x?, 0.0)));
            Some(certain + perhaps.sum::<Option<f64>>()?)
        };
        (side(|t| t.0, f64::min), side(|t| t.1, f64::max))
    }

    /// Least or largest percentile: of the joints that may count, the least or the largest ones do, as
    /// many as push it furthest.
    fn percentile(&self, n: u8, pick: fn(&Bounds) -> Option<f64>, largest: bool) -> Option<f64> {
        // Where there is no bound it may lie anywhere.
        let none = if largest { f64::INFINITY } else { f64::NEG_INFINITY };
        let sorted = |terms: &[Bounds]| {
            let mut values: Vec<f64> = terms.iter().map(|t| pick(t).unwrap_or(none)).collect();
            values.sort_by(f64::total_cmp);
            values
        };
        let (certain, perhaps) = (sorted(&self.certain), sorted(&self.perhaps));
        if certain.is_empty() {
            return None;
        }
        let of = |count: usize| {
            let from = if largest { perhaps.len() - count } else { 0 };
            ranked(&certain, &perhaps[from..from + count], n)
        };
        let values = (0..=perhaps.len()).filter_map(of);
        values.reduce(if largest { f64::max } else { f64::min }).filter(|x| x.is_finite())
    }

    /// Least or largest mean: of the joints that may count, those that push it count.
    fn mean(&self, pick: fn(&Bounds) -> Option<f64>, largest: bool) -> Option<f64> {
        let certain = self.certain.iter().map(pick).collect::<Option<Vec<f64>>>()?;
        let mut perhaps = self.perhaps.iter().map(pick).collect::<Option<Vec<f64>>>()?;
        perhaps.sort_by(f64::total_cmp);
        if largest {
            perhaps.reverse();
        }
        let (mut sum, mut count) = (certain.iter().sum::<f64>(), certain.len() as f64);
        if certain.is_empty() {
            return None;
        }
        for x in perhaps {
            let next = (sum + x) / (count + 1.0);
            if if largest { next <= sum / count } else { next >= sum / count } {
                break;
            }
            (sum, count) = (sum + x, count + 1.0);
        }
        Some(sum / count)
    }
}

/// The value that so many of a hundred of two sorted lists together do not exceed, by nearest rank.
fn ranked(a: &[f64], b: &[f64], percentile: u8) -> Option<f64> {
    let at = ((a.len() + b.len()) * usize::from(percentile)).div_ceil(100).max(1);
    // As many of the first list as lie among those up to the rank: its next is no smaller than what
    // then comes of the other.
    let (mut least, mut most) = (at.saturating_sub(b.len()), at.min(a.len()));
    while least < most {
        let taken = usize::midpoint(least, most);
        if a[taken] < b[at - taken - 1] {
            least = taken + 1;
        } else {
            most = taken;
        }
    }
    let last = |list: &[f64], taken: usize| taken.checked_sub(1).and_then(|i| list.get(i).copied());
    let (one, other) = (last(a, least), last(b, at.checked_sub(least)?));
    one.into_iter().chain(other).reduce(f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(certain: &[(f64, f64)], perhaps: &[(f64, f64)]) -> Terms {
        let some = |list: &[(f64, f64)]| list.iter().map(|(a, b)| (Some(*a), Some(*b))).collect();
        Terms { certain: some(certain), perhaps: some(perhaps) }
    }

    #[test]
    fn percentiles_go_by_nearest_rank() {
        // The worked example of the nearest-rank method: 15, 20, 35, 40, 50.
        let five = [15.0, 20.0, 35.0, 40.0, 50.0];
        for (n, value) in [(5, 15.0), (30, 20.0), (40, 20.0), (50, 35.0), (99, 50.0)] {
            for split in 0..=five.len() {
                // However they are dealt to two lists.
                let (head, tail) = five.split_at(split);
                assert_eq!(ranked(head, tail, n), Some(value), "{n}");
                assert_eq!(ranked(tail, head, n), Some(value), "{n}");
            }
            assert_eq!(ranked(&[15.0, 35.0, 50.0], &[20.0, 40.0], n), Some(value), "{n}");
        }
        assert_eq!(ranked(&[], &[], 50), None);
    }

    #[test]
    fn who_may_count_widens_the_bounds() {
        let terms = of(&[(1.0, 1.0), (3.0, 4.0)], &[(10.0, 12.0)]);
        let fold = |f| terms.fold(SetFold::Fold(f));
        assert_eq!(fold(Fold::Sum), (Some(4.0), Some(17.0)));
        assert_eq!(fold(Fold::Max), (Some(3.0), Some(12.0)));
        assert_eq!(fold(Fold::Min), (Some(1.0), Some(1.0)));
        assert_eq!(fold(Fold::Mean), (Some(2.0), Some(17.0 / 3.0)));
        assert_eq!(terms.fold(SetFold::Percentile(90)), (Some(3.0), Some(12.0)));
        assert_eq!(terms.fold(SetFold::Percentile(50)), (Some(1.0), Some(4.0)));
    }
}
