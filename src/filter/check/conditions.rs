//! Conditions: and, or, not, comparisons, questions to records.

use super::super::ast::{
    Cmp, Expr, ExprKind, Quant, Records as AstRecords, Window, WindowKind, Word,
};
use super::super::error::{Advice, ErrorKind, Span};
use super::super::registry::{self, Kind, Record};
use super::super::typed::{Node, Num, Number, Operand, Phrase, Pred, Records, Reference, Shown};
use super::names::Named;
use super::{Checker, MAX_QUESTIONS, Scope};

/// Most records in a row that can be asked for.
const MAX_IN_A_ROW: i64 = 20;

/// What an expression is, before it is known what it is wanted for.
#[expect(clippy::large_enum_variant, reason = "one at a time, and gone at once")]
pub(super) enum Typed {
    Number(Number),
    Reference(Reference),
    Condition(Node),
    /// `true` or `false`.
    Truth(bool),
    /// Text in quotes.
    Text,
    /// A text or word of another joint.
    Told(Phrase),
}

impl Checker<'_, '_, '_> {
    pub(super) fn condition(&mut self, e: &Expr) -> Option<Node> {
        if !self.room(e.span, 1) {
            return None;
        }
        let compared = matches!(
            e.kind,
            ExprKind::Compare { .. }
                | ExprKind::Between { .. }
                | ExprKind::OneOf { .. }
                | ExprKind::Like { .. }
                | ExprKind::Ranked { .. }
                | ExprKind::Unknown { .. }
        );
        let outer = self.scope.comparison;
        self.scope.comparison = compared.then_some(e.span);
        let pred = self.deeper(e.span, |c| c.pred(e));
        self.scope.comparison = outer;
        Some(self.node(pred?, e.span))
    }

    pub(super) fn node(&self, pred: Pred, span: Span) -> Node {
        Node { pred, text: self.text.clone(), span }
    }

    fn pred(&mut self, e: &Expr) -> Option<Pred> {
        match &e.kind {
            ExprKind::And(terms) => self.terms(terms).map(Pred::All),
            ExprKind::Or(terms) => self.terms(terms).map(Pred::Any),
            ExprKind::Not(inner) => Some(Pred::Not(Box::new(self.condition(inner)?))),
            ExprKind::Compare { op, left, right } => self.compare(*op, left, right),
            ExprKind::Between { value, low, high, negated } => {
                let pred = self.between(value, low, high)?;
                Some(self.negate(*negated, pred, e.span))
            }
            ExprKind::OneOf { value, list, negated } => {
                let pred = self.one_of(value, list)?;
                let pred = self.with_rules(pred, e.span)?;
                Some(self.negate(*negated, pred, e.span))
            }
            ExprKind::Like { value, pattern, negated } => {
                let pred = self.like(value, pattern)?;
                let pred = self.with_rules(pred, e.span)?;
                Some(self.negate(*negated, pred, e.span))
            }
            ExprKind::Ranked { value, worse, than, negated } => {
                let pred = self.ranked(value, *worse, than, e.span)?;
                Some(self.negate(*negated, pred, e.span))
            }
            ExprKind::Unknown { value, negated } => {
                let pred = self.unknown(value)?;
                let pred = self.with_rules(pred, e.span)?;
                Some(self.negate(*negated, pred, e.span))
            }
            ExprKind::History { quant, of } => self.history(*quant, of, e.span),
            ExprKind::InARow { no, many, of } => self.in_a_row(*no, many, of, e.span),
            ExprKind::Due(word) => self.due(word),
            ExprKind::Kin { of, by } => self.kin(of, by),
            _ => self.bare(e),
        }
    }

    fn terms(&mut self, terms: &[Expr]) -> Option<Vec<Node>> {
        // All of them, so that every mistake is reported.
        let nodes: Vec<Option<Node>> = terms.iter().map(|t| self.condition(t)).collect();
        nodes.into_iter().collect()
    }

    fn negate(&self, negated: bool, pred: Pred, span: Span) -> Pred {
        if negated { Pred::Not(Box::new(self.node(pred, span))) } else { pred }
    }

    /// A field, word or value that stands where a condition should.
    fn bare(&mut self, e: &Expr) -> Option<Pred> {
        match self.typed(e)? {
            Typed::Condition(node) => Some(node.pred),
            Typed::Truth(truth) => Some(Pred::Const(truth)),
            Typed::Reference(place) if matches!(place.field().kind, Kind::Flag) => {
                Some(Pred::Flag(place))
            }
            _ => {
                let said = self.label(e.span);
                let advice = self
                    .condition_from(e)
                    .or(|| format!("compare it with something: {said} = …").into());
                let message = format!("{said} is a value, not a condition");
                self.fail(ErrorKind::Type, e.span, message, advice)
            }
        }
    }

    /// An expression, whatever it is.
    pub(super) fn typed(&mut self, e: &Expr) -> Option<Typed> {
        match &e.kind {
            ExprKind::Text(_) => Some(Typed::Text),
            ExprKind::Named { source, windows } => {
                if let Some(word) = e.bare_word()
                    && let Some(truth) = truth(word)
                    && self.look_up(source).is_none()
                {
                    return Some(Typed::Truth(truth));
                }
                match self.resolve(source)? {
                    Named::Rule(at) => {
                        if source.above.is_some() || !windows.is_empty() {
                            let message = format!("the rule {} takes no window", source.name.text);
                            return self.fail(ErrorKind::Window, e.span, message, None);
                        }
                        let pred = self.named_rule(at, &source.name)?;
                        Some(Typed::Condition(self.node(pred, e.span)))
                    }
                    Named::Field(field) => {
                        // What the joint was then, where the record has a field of that name too.
                        let then =
                            matches!(windows[..], [Window { kind: WindowKind::ThatTime, .. }]);
                        let of_joint = if then { registry::field(None, field.name) } else { None };
                        let field = of_joint.filter(|f| f.past.is_some()).unwrap_or(field);
                        self.field_value(field, source, windows, e.span)
                    }
                }
            }
            ExprKind::Pick { field, which, of } => self.pick(field, *which, of, e.span),
            ExprKind::OfJoint { source, serial, windows } => {
                self.of_joint(source, serial, windows, e.span)
            }
            ExprKind::Sum(_)
            | ExprKind::Product(_)
            | ExprKind::Negative(_)
            | ExprKind::Quantity(_)
            | ExprKind::Date(_)
            | ExprKind::Today
            | ExprKind::Count(_)
            | ExprKind::Fold { .. }
            | ExprKind::OverJoints { .. } => self.number(e, None).map(Typed::Number),
            _ => self.condition(e).map(Typed::Condition),
        }
    }

    fn compare(&mut self, op: Cmp, left: &Expr, right: &Expr) -> Option<Pred> {
        if let Some(word) = self.unknown_word(op, left, right) {
            let said = self.label(word);
            let is = if op == Cmp::Ne { "is not unknown" } else { "is unknown" };
            let advice =
                Advice::write(Span { start: left.span.end, end: word.end }, [format!(" {is}")]);
            let message = format!("{said} is no value to compare with");
            return self.fail(ErrorKind::Foreign, word, message, advice);
        }
        if let ExprKind::Text(text) = &left.kind
            && self.field_called(text).is_some()
        {
            let advice = Advice::write(left.span, [text.as_str()]);
            let message = "a field stands without quotation marks";
            return self.fail(ErrorKind::Foreign, left.span, message, advice);
        }
        // A literal on the left is read by what stands on the right.
        if is_literal(left) && !is_literal(right) {
            return self.compare(op.flipped(), right, left);
        }
        if is_literal(left) && matches!(left.kind, ExprKind::Text(_)) {
            return self.fail(ErrorKind::Type, left.span, "two texts without a field", None);
        }
        let span = left.span.to(right.span);
        if is_literal(left) {
            let (left, right) = self.numbers(left, right)?;
            return Some(self.order(op, left, right, (None, None), span));
        }
        let Some(value) = self.typed(left) else {
            // What can be checked on the right without the left, for its own mistakes.
            if !is_literal(right) && right.bare_word().is_none() {
                self.typed(right);
            }
            return None;
        };
        match value {
            Typed::Number(number) => {
                let day = self.day_limits(right);
                let (left, number) = self.beside(number, right)?;
                let near = Self::near(op, &left, right);
                Some(self.order(op, left, number, (day, near), span))
            }
            Typed::Reference(place) => {
                let pred = self.is(op, place, left, right)?;
                let pred = self.with_rules(pred, span)?;
                Some(self.negate(op == Cmp::Ne, pred, span))
            }
            Typed::Condition(_) | Typed::Truth(_) => {
                let said = self.label(left.span);
                let hint = "a condition stands alone, or behind not".to_owned();
                self.fail(
                    ErrorKind::Type,
                    left.span,
                    format!("{said} is a condition and cannot be compared"),
                    hint,
                )
            }
            Typed::Told(_) => {
                let said = self.label(left.span);
                let message = format!("{said} is one text for all joints");
                let hint = "put a field of the joints that are asked for on the left".to_owned();
                self.fail(ErrorKind::Type, left.span, message, hint)
            }
            Typed::Text => None,
        }
    }

    /// Equality of what is no number.
    fn is(&mut self, op: Cmp, place: Reference, left: &Expr, right: &Expr) -> Option<Pred> {
        if !matches!(op, Cmp::Eq | Cmp::Ne) {
            let said = self.label(left.span);
            let sign = Span { start: left.span.end, end: right.span.start };
            let ordered = matches!(place.field().kind, Kind::Word(w) if w.best_first().is_some());
            if ordered {
                let message = format!("{said} is asked for in words: worse than, better than");
                let words = match op {
                    Cmp::Gt => [" better than ", " worse than "],
                    Cmp::Lt => [" worse than ", " better than "],
                    Cmp::Le => [" not better than ", " not worse than "],
                    _ => [" not worse than ", " not better than "],
                };
                let than = self.label(right.span);
                let [likely, other] = words.map(|w| format!("{said}{w}{than}"));
                let advice =
                    Advice::write(sign, words).saying(format!("write {likely}, or {other}"));
                return self.fail(ErrorKind::Type, left.span.to(right.span), message, advice);
            }
            let than = self.label(right.span);
            let advice = Advice::write(sign, [" = ", " != "])
                .saying(format!("write {said} = {than}, or {said} != {than}"));
            let message =
                format!("{} has no order; {said} can be equal or not", article(place.field().kind));
            return self.fail(ErrorKind::Type, left.span.to(right.span), message, advice);
        }
        match place.field().kind {
            Kind::Flag => {
                let truth = right.bare_word().and_then(truth);
                let Some(truth) = truth else {
                    let said = self.label(left.span);
                    let meant =
                        match self.slice(right.span).trim_matches('"').to_lowercase().as_str() {
                            "1" | "y" | "t" | "yes" | "true" | "on" => Some("true"),
                            "0" | "n" | "f" | "no" | "false" | "off" => Some("false"),
                            _ => None,
                        };
                    let advice = Advice::write(right.span, meant)
                        .or(|| format!("write {said} or not {said}").into());
                    let message = "this is neither true nor false";
                    return self.fail(ErrorKind::Type, right.span, message, advice);
                };
                let flag = Pred::Flag(place);
                Some(self.negate(!truth, flag, left.span))
            }
            Kind::Set(words) => {
                let bits = self.bit(words, right)?;
                Some(Pred::Holds { set: place, bits })
            }
            _ => {
                let list = self.phrases(&place, left, right)?;
                Some(Pred::OneOf { value: Phrase::Of(place), list })
            }
        }
    }

    fn between(&mut self, value: &Expr, low: &Expr, high: &Expr) -> Option<Pred> {
        let Typed::Number(number) = self.typed(value)? else {
            let said = self.label(value.span);
            let message = format!("{said} is no number and lies between nothing");
            let list = self.words_between(value, low, high);
            let advice = match list {
                Some(list) => {
                    let rest = Span { start: value.span.end, end: high.span.end };
                    Advice::write(rest, [format!(" in ({})", list.join(", "))])
                }
                None if matches!(value.kind, ExprKind::History { .. }) => {
                    let rest = Span { start: value.span.end, end: high.span.end };
                    let (from, to) = (self.label(low.span), self.label(high.span));
                    Advice::write(rest, [format!(" from {from} to {to}")])
                }
                None => Advice::default(),
            };
            return self.fail(ErrorKind::Type, value.span, message, advice);
        };
        let (from, to) = (self.day_limits(low), self.day_limits(high));
        let (low_span, high_span) = (low.span, high.span);
        let (value, low) = self.beside(number, low)?;
        let (value, high) = self.beside(value, high)?;
        let low = from.map_or(low.clone(), |(start, _)| self.instant(start, &low));
        let high = to.map_or(high.clone(), |(_, end)| self.instant(end - 1, &high));
        if let (Num::Const(least), Num::Const(most)) = (&low.num, &high.num)
            && most < least
        {
            let limits = low_span.to(high_span);
            let (first, second) = (self.label(low_span), self.label(high_span));
            let advice = Advice::write(limits, [format!("{second} and {first}")]);
            let message =
                format!("nothing lies between {first} and {second}: the lower limit comes first");
            return self.fail(ErrorKind::Type, limits, message, advice);
        }
        Some(Pred::Between { value, low, high })
    }

    fn one_of(&mut self, value: &Expr, list: &[Expr]) -> Option<Pred> {
        match self.typed(value)? {
            Typed::Number(number) => {
                let mut nodes = Vec::new();
                for item in list {
                    let day = self.day_limits(item);
                    let (left, right) = self.beside(number.clone(), item)?;
                    let span = item.span;
                    let near = Self::near(Cmp::Eq, &left, item);
                    let pred = self.order(Cmp::Eq, left, right, (day, near), span);
                    nodes.push(self.node(pred, value.span.to(item.span)));
                }
                Some(Pred::Any(nodes))
            }
            Typed::Reference(place) => match place.field().kind {
                Kind::Set(words) => {
                    let bits: Vec<Option<i64>> = list.iter().map(|e| self.bit(words, e)).collect();
                    let bits = bits.into_iter().collect::<Option<Vec<i64>>>()?;
                    Some(Pred::Holds { set: place, bits: bits.into_iter().fold(0, |a, b| a | b) })
                }
                Kind::Flag => {
                    let said = self.label(value.span);
                    let hint = format!("write {said} or not {said}");
                    self.fail(ErrorKind::Type, value.span, "a flag is true or false", hint)
                }
                _ => {
                    let list: Vec<Option<Vec<Phrase>>> =
                        list.iter().map(|e| self.phrases(&place, value, e)).collect();
                    let list = list.into_iter().collect::<Option<Vec<_>>>()?.concat();
                    Some(Pred::OneOf { value: Phrase::Of(place), list })
                }
            },
            _ => {
                let said = self.label(value.span);
                self.fail(ErrorKind::Type, value.span, format!("{said} is no value"), None)
            }
        }
    }

    fn unknown(&mut self, value: &Expr) -> Option<Pred> {
        let value = match self.typed(value)? {
            Typed::Number(number) => Operand::Number(number),
            Typed::Reference(place) => Operand::Reference(place),
            Typed::Condition(node) => Operand::Condition(Box::new(node)),
            Typed::Truth(_) | Typed::Text | Typed::Told(_) => {
                let message = "this is always known".to_owned();
                return self.fail(ErrorKind::Type, value.span, message, None);
            }
        };
        Some(Pred::Unknown(value))
    }

    fn history(&mut self, quant: Quant, of: &AstRecords, span: Span) -> Option<Pred> {
        let kind = &of.kind.text;
        let hint = match quant {
            Quant::Any | Quant::No => None,
            Quant::Every => {
                Some(format!("write every {kind} (…), or any {kind} to ask whether there is one"))
            }
            Quant::One(which) => {
                Some(format!("write {} {kind} (…), or FIELD of {0} {kind}", which.word()))
            }
        };
        if let Some(hint) = hint.filter(|_| of.condition.is_none()) {
            self.fail::<()>(
                ErrorKind::Syntax,
                span,
                format!("{} {kind} needs a condition", quant.word()),
                hint,
            );
        }
        let of = self.records(of, self.scope.record.is_some())?;
        Some(Pred::History { quant, of })
    }

    fn in_a_row(&mut self, no: bool, many: &Word, of: &AstRecords, span: Span) -> Option<Pred> {
        let number = match many.text.to_ascii_lowercase().as_str() {
            "two" => Some(2),
            "three" => Some(3),
            "four" => Some(4),
            "five" => Some(5),
            digits => digits.parse().ok(),
        };
        let number = number.filter(|n| (2..=MAX_IN_A_ROW).contains(n));
        if number.is_none() {
            let message = format!("so many in a row are from 2 to {MAX_IN_A_ROW}");
            self.fail::<()>(ErrorKind::Limit, many.span, message, None);
        }
        if of.condition.is_none() {
            let kind = &of.kind.text;
            let message = format!("{kind} in a row need a condition that each of them meets");
            let hint = format!("write any {} {kind} in a row (…)", many.text);
            self.fail::<()>(ErrorKind::Syntax, span, message, hint);
        }
        let pred =
            Pred::InARow { many: number?, of: self.records(of, self.scope.record.is_some())? };
        Some(if no { Pred::Not(Box::new(self.node(pred, span))) } else { pred })
    }

    /// Records with their condition and window.
    pub(super) fn records(&mut self, of: &AstRecords, _inside: bool) -> Option<Records> {
        let record = self.record(&of.kind);
        let condition = match &of.condition {
            None => Some(None),
            Some(e) => record.and_then(|r| self.record_condition(r, e, None)).map(Some),
        };
        let window = self.window(&of.windows, record);
        Some(Records { record: record?, condition: condition?.map(Box::new), window: window? })
    }

    /// A condition of records of one kind; `behind` is the kind before whose window it stands.
    #[expect(clippy::option_option, reason = "no window, a window without a kind, one with")]
    pub(super) fn record_condition(
        &mut self,
        record: Record,
        e: &Expr,
        behind: Option<Option<Record>>,
    ) -> Option<Node> {
        let questions = self.scope.questions + 1;
        self.session.deepest.reach(self.scope.level, questions);
        if questions > MAX_QUESTIONS {
            let message =
                format!("questions to records are nested more than {MAX_QUESTIONS} deep here");
            let hint = "join them with and: a question inside a record's condition is about the joint all the same";
            return self.fail(ErrorKind::Limit, e.span, message, hint.to_owned());
        }
        let scope = Scope {
            record: Some(record),
            anchor: behind.is_some(),
            behind: behind.flatten(),
            questions,
            level: self.scope.level,
            comparison: None,
        };
        self.inside(scope, |c| c.condition(e))
    }

    /// A value to show.
    pub(super) fn shown(&mut self, e: &Expr) -> Option<Shown> {
        match self.typed(e)? {
            Typed::Number(number) => Some(Shown::Number(number)),
            Typed::Reference(place) => self.shown_with_rules(place, e.span),
            _ => {
                let said = self.label(e.span);
                self.fail(ErrorKind::Type, e.span, format!("{said} is no value to show"), None)
            }
        }
    }
}

/// `true`, `false`, `yes`, `no`.
fn truth(word: &Word) -> Option<bool> {
    match word.text.to_ascii_lowercase().as_str() {
        "true" | "yes" => Some(true),
        "false" | "no" => Some(false),
        _ => None,
    }
}

/// True for what is written out and names nothing.
pub(super) fn is_literal(e: &Expr) -> bool {
    match &e.kind {
        ExprKind::Quantity(_) | ExprKind::Date(_) | ExprKind::Today | ExprKind::Text(_) => true,
        ExprKind::Negative(inner) => is_literal(inner),
        ExprKind::Sum(terms) | ExprKind::Product(terms) => terms.iter().all(|(_, t)| is_literal(t)),
        _ => false,
    }
}

fn article(kind: Kind) -> &'static str {
    match kind {
        Kind::Word(_) => "a word",
        Kind::Set(_) => "a set of words",
        Kind::Flag => "a flag",
        _ => "text",
    }
}
