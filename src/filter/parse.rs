//! Text to syntax tree. Whatever the text is, this ends soon, in a tree of bounded depth or in
//! errors that name the place.

use std::sync::{Arc, Once};

use pest::Parser as _;
use pest::error::{ErrorVariant, InputLocation};
use pest::iterators::Pair;

use crate::units::Rational;

use super::ast::{
    Cmp, Expr, ExprKind, Fold, KinOf, Quant, Quantity, SetFold, Source, Step, Which, Word,
};
use super::error::{Advice, ErrorKind, Excerpt, FilterError, Fix, Span};
use super::expect;

mod parts;

/// Longest text of a filter, in bytes.
pub const MAX_BYTES: usize = 8 * 1024;
/// Deepest nesting of parentheses.
pub const MAX_DEPTH: usize = 64;
/// Most terms in one sum or product.
pub const MAX_TERMS: usize = 32;
/// Longest title of a column, in characters.
const LONGEST_TITLE: usize = 60;
/// Most wildcards `*` in one pattern.
pub const MAX_STARS: usize = 8;

/// The generated parser. Its rules are no part of the interface.
mod grammar {
    #![allow(clippy::all, clippy::pedantic, reason = "generated code")]
    #[derive(pest_derive::Parser)]
    #[grammar = "grammar/filter.pest"]
    pub(super) struct Grammar;
}

use grammar::Grammar;
pub(super) use grammar::Rule;

/// Calls of the grammar that one text may take; a text of the longest kind takes a seventh.
const CALL_LIMIT: usize = 500_000;

/// A text and the rule that it belongs to, for the places of errors.
#[derive(Clone, Debug)]
pub struct Text {
    /// Name of the rule whose filter it is; `None` for the filter as typed.
    pub rule: Option<Arc<str>>,
    pub text: Arc<str>,
}

impl Text {
    /// The filter as typed.
    pub fn typed(text: &str) -> Self {
        Self { rule: None, text: text.into() }
    }

    /// A place in it.
    pub fn at(&self, span: Span) -> Excerpt {
        Excerpt { rule: self.rule.clone(), text: Arc::clone(&self.text), span }
    }

    /// An error in it.
    pub fn error(
        &self,
        kind: ErrorKind,
        span: Span,
        message: impl Into<String>,
        advice: impl Into<Advice>,
    ) -> FilterError {
        let Advice { hint, fixes } = advice.into();
        let (place, used) = (self.at(span), Vec::new());
        FilterError { kind, message: message.into(), hint, fixes, place, used }
    }
}

pub fn parse_filter(text: &Text) -> Result<Expr, Vec<FilterError>> {
    parse(text, Rule::filter)
}

/// Reads a value: a column to show, with the title that it is given.
pub fn parse_value(text: &Text) -> Result<(Expr, Option<Word>), Vec<FilterError>> {
    read(text, Rule::value)
}

fn parse(text: &Text, entry: Rule) -> Result<Expr, Vec<FilterError>> {
    read(text, entry).map(|(tree, _)| tree)
}

fn read(text: &Text, entry: Rule) -> Result<(Expr, Option<Word>), Vec<FilterError>> {
    static LIMIT: Once = Once::new();
    LIMIT.call_once(|| pest::set_call_limit(std::num::NonZeroUsize::new(CALL_LIMIT)));

    gate(text).map_err(|e| vec![e])?;
    let mut pairs = Grammar::parse(entry, &text.text).map_err(|e| vec![syntax_error(text, &e)])?;
    let mut builder = Builder { text, errors: Vec::new() };
    let tree = pairs.next().map(|pair| builder.expr(pair));
    let title = pairs.find(|pair| pair.as_rule() == Rule::titled);
    let title = title.and_then(|pair| builder.title(pair));
    match tree {
        Some(tree) if builder.errors.is_empty() => Ok((tree, title)),
        Some(_) => Err(builder.errors),
        None => Err(vec![text.error(ErrorKind::Syntax, Span::default(), "nothing is asked", None)]),
    }
}

/// What is refused before the grammar sees it.
#[expect(clippy::result_large_err, reason = "made once, for a filter that is refused")]
fn gate(text: &Text) -> Result<(), FilterError> {
    let whole: &str = &text.text;
    let limit = |at: usize, message: String, hint: &str| {
        let hint = (!hint.is_empty()).then(|| hint.to_owned());
        text.error(ErrorKind::Limit, Span { start: at, end: at + 1 }, message, hint)
    };
    if whole.len() > MAX_BYTES {
        let message =
            format!("this filter has {} bytes; at most {MAX_BYTES} are read", whole.len());
        return Err(limit(
            MAX_BYTES,
            message,
            "put parts of it into named filters of the rules file",
        ));
    }
    let (mut depth, mut quote, mut comment) = (0usize, None, false);
    let mut something = false;
    for (at, c) in whole.char_indices() {
        if c == '\0' {
            return Err(limit(at, "a filter cannot hold a NUL character".to_owned(), ""));
        }
        if comment {
            comment = c != '\n';
            continue;
        }
        something |= !c.is_whitespace() && c != '#';
        match (quote, c) {
            (Some((_, open)), c) if c == open => quote = None,
            (Some((start, _)), '\n') => return Err(unclosed(text, start)),
            (Some(_), _) => {}
            (None, '"' | '\'') => quote = Some((at, c)),
            (None, '#') => comment = true,
            (None, '(') => {
                depth += 1;
                if depth > MAX_DEPTH {
                    let message = format!("parentheses are nested more than {MAX_DEPTH} deep here");
                    return Err(limit(
                        at,
                        message,
                        "put the inner part into a named filter of the rules file",
                    ));
                }
            }
            (None, ')') => depth = depth.saturating_sub(1),
            (None, _) => {}
        }
    }
    if let Some((start, _)) = quote {
        return Err(unclosed(text, start));
    }
    if !something {
        let hint = "for example: class = premium and hours > 1500 h".to_owned();
        return Err(text.error(ErrorKind::Syntax, Span::default(), "nothing is asked", hint));
    }
    Ok(())
}

fn unclosed(text: &Text, start: usize) -> FilterError {
    let span = Span { start, end: start + 1 };
    let hint = "text stands between two quotation marks on one line".to_owned();
    text.error(ErrorKind::Syntax, span, "this quotation mark is never closed", hint)
}

fn syntax_error(text: &Text, error: &pest::error::Error<Rule>) -> FilterError {
    let at = match error.location {
        InputLocation::Pos(at) | InputLocation::Span((at, _)) => at,
    };
    let whole: &str = &text.text;
    let rest = &whole[at.min(whole.len())..];
    let span = Span { start: at, end: at + token_len(rest) };
    let ErrorVariant::ParsingError { positives, .. } = &error.variant else {
        let hint = "split it into named filters of the rules file".to_owned();
        return text.error(ErrorKind::Limit, span, "this filter is too tangled to read", hint);
    };
    let expected = expect::phrase(positives);
    let found = match span.of(whole) {
        "" => "the filter ends here".to_owned(),
        token => format!("{token} does not fit here"),
    };
    let message = match expected.as_str() {
        "" => found,
        expected => format!("{found}; expected {expected}"),
    };
    text.error(ErrorKind::Syntax, span, message, None)
}

/// How far a text is read: its whole length when it is a filter, or a value.
pub(super) fn read_to(entry: Rule, text: &str) -> usize {
    match Grammar::parse(entry, text) {
        Ok(_) => text.len(),
        Err(e) => match e.location {
            InputLocation::Pos(at) | InputLocation::Span((at, _)) => at,
        },
    }
}

/// Length of what a rule reads at the beginning of a text; `None` where it reads nothing.
pub(super) fn reads(rule: Rule, text: &str) -> Option<usize> {
    let pairs = Grammar::parse(rule, text).ok()?;
    pairs.last().map(|pair| pair.as_str().trim_end().len()).filter(|n| *n > 0)
}

/// Length of the first word, number or sign of a text.
fn token_len(rest: &str) -> usize {
    let word = |c: char| c.is_alphanumeric() || c == '_';
    match rest.chars().next() {
        None => 0,
        Some(c) if word(c) => rest.find(|c| !word(c)).unwrap_or(rest.len()),
        Some(c) => c.len_utf8(),
    }
}

/// End of what a pair says, without the blanks and remarks behind it.
fn end_of(pair: &Pair<'_, Rule>) -> usize {
    let closed = matches!(
        pair.as_rule(),
        Rule::paren | Rule::condition | Rule::one_of | Rule::text | Rule::shared
    );
    match pair.clone().into_inner().last() {
        Some(last) if !closed => end_of(&last),
        _ => pair.as_span().end(),
    }
}

fn span_of(pair: &Pair<'_, Rule>) -> Span {
    Span { start: pair.as_span().start(), end: end_of(pair) }
}

struct Builder<'t> {
    text: &'t Text,
    errors: Vec<FilterError>,
}

type Pairs<'i> = pest::iterators::Pairs<'i, Rule>;

impl Builder<'_> {
    fn foreign(&mut self, span: Span, sign: &str, instead: &str) {
        let message = format!("{sign} is not a sign of this language");
        let advice = Advice::write(span, [instead]);
        self.errors.push(self.text.error(ErrorKind::Foreign, span, message, advice));
    }

    fn limit_terms(&mut self, count: usize, span: Span) {
        if count > MAX_TERMS {
            let message = format!("more than {MAX_TERMS} terms in one sum or product");
            self.errors.push(self.text.error(ErrorKind::Limit, span, message, None));
        }
    }

    /// Reads any rung of the ladder, and what stands at its foot. Rungs with nothing on them are
    /// passed without a call each, which keeps the stack short for nested parentheses.
    fn expr(&mut self, mut pair: Pair<'_, Rule>) -> Expr {
        // Parentheses are part of what a caret marks.
        let mut span = None;
        loop {
            let rung = matches!(
                pair.as_rule(),
                Rule::or
                    | Rule::and
                    | Rule::not
                    | Rule::comparison
                    | Rule::sum
                    | Rule::product
                    | Rule::primary
                    | Rule::paren
                    | Rule::condition
            );
            let mut inner = pair.clone().into_inner();
            let (Some(only), None, true) = (inner.next(), inner.next(), rung) else { break };
            if span.is_none() && matches!(pair.as_rule(), Rule::paren | Rule::condition) {
                span = Some(span_of(&pair));
            }
            pair = only;
        }
        let mut expr = match pair.as_rule() {
            Rule::or => self.chain(pair, ExprKind::Or),
            Rule::and => self.chain(pair, ExprKind::And),
            Rule::not => self.negation(pair),
            Rule::comparison => self.comparison(pair),
            Rule::sum | Rule::product => self.steps(pair),
            Rule::primary => self.primary(pair),
            _ => self.foot(pair),
        };
        if let Some(span) = span {
            expr.span = span;
        }
        expr
    }

    /// Reads what stands at the foot of the ladder.
    #[inline(never)]
    fn foot(&mut self, pair: Pair<'_, Rule>) -> Expr {
        let span = span_of(&pair);
        let kind = match pair.as_rule() {
            Rule::date => ExprKind::Date(pair.as_str().to_owned()),
            Rule::kw_today => ExprKind::Today,
            Rule::quantity => ExprKind::Quantity(self.quantity(pair)),
            Rule::text | Rule::single_text => ExprKind::Text(self.quoted(&pair).text),
            Rule::history => self.history(pair),
            Rule::count => ExprKind::Count(self.records(pair.into_inner().skip_keyword())),
            Rule::aggregate => self.aggregate(pair),
            Rule::due => ExprKind::Due(last_word(pair)),
            Rule::band_alone => ExprKind::Named { source: self.source(pair), windows: Vec::new() },
            Rule::kin => {
                let mut of = KinOf::Serial(Word { text: String::new(), span });
                let mut by = Vec::new();
                for part in pair.into_inner() {
                    match part.as_rule() {
                        Rule::text | Rule::single_text => of = KinOf::Serial(self.quoted(&part)),
                        Rule::condition => of = KinOf::Joints(Box::new(self.expr(part))),
                        Rule::shared => by.extend(part.into_inner().map(|p| word(&p))),
                        _ => {}
                    }
                }
                ExprKind::Kin { of, by }
            }
            Rule::named_value => self.named(pair),
            // Not reached: the rules above are all that stand where an expression may.
            _ => ExprKind::Text(pair.as_str().to_owned()),
        };
        Expr { kind, span }
    }

    /// `a or b or c` as one flat node; a single term as itself.
    fn chain(&mut self, pair: Pair<'_, Rule>, join: fn(Vec<Expr>) -> ExprKind) -> Expr {
        let span = span_of(&pair);
        let mut terms = Vec::new();
        for child in pair.into_inner() {
            match child.as_rule() {
                Rule::kw_or | Rule::kw_and => {}
                Rule::or_sign => self.foreign(span_of(&child), child.as_str(), "or"),
                Rule::and_sign => self.foreign(span_of(&child), child.as_str(), "and"),
                _ => terms.push(self.expr(child)),
            }
        }
        if terms.len() == 1
            && let Some(only) = terms.pop()
        {
            return only;
        }
        Expr { kind: join(terms), span }
    }

    /// Any number of `not`s by their parity.
    fn negation(&mut self, pair: Pair<'_, Rule>) -> Expr {
        let span = span_of(&pair);
        let mut odd = false;
        let mut inner = None;
        for child in pair.into_inner() {
            match child.as_rule() {
                Rule::kw_not => odd = !odd,
                Rule::not_sign => {
                    self.foreign(span_of(&child), "!", "not ");
                    odd = !odd;
                }
                _ => inner = Some(self.expr(child)),
            }
        }
        match inner {
            Some(inner) if odd => Expr { kind: ExprKind::Not(Box::new(inner)), span },
            Some(inner) => inner,
            None => Expr { kind: ExprKind::Text(String::new()), span },
        }
    }

    fn comparison(&mut self, pair: Pair<'_, Rule>) -> Expr {
        let span = span_of(&pair);
        let mut children = pair.into_inner();
        let Some(first) = children.next() else {
            return Expr { kind: ExprKind::Text(String::new()), span };
        };
        let mut left = self.expr(first);
        let mut compared = false;
        for child in children {
            let child_span = span_of(&child);
            match child.as_rule() {
                Rule::compare if compared => {
                    let message = "two comparisons in a row have no meaning";
                    let advice = self.between_them(&left, child_span.start);
                    let kind = ErrorKind::Chained;
                    self.errors.push(self.text.error(kind, child_span, message, advice));
                    // Read on for what else may be wrong.
                    self.compare(child, None);
                }
                Rule::compare => {
                    compared = true;
                    left = self.compare(child, Some(left));
                }
                Rule::is_word => left = self.is_word(child, left),
                _ => left = self.tail(child, left),
            }
        }
        left.span = span;
        left
    }

    /// What joins two comparisons in a row: the value that both are about, said twice.
    fn between_them(&self, first: &Expr, at: usize) -> Advice {
        let ExprKind::Compare { left, right, .. } = &first.kind else { return Advice::default() };
        let named = |e: &Expr| matches!(e.kind, ExprKind::Named { .. } | ExprKind::Pick { .. });
        let about = if named(right) || !named(left) { right } else { left };
        let said = about.span.of(&self.text.text);
        let whole = self.text.text[..at].trim_end().len();
        let fix = Fix::new(Span { start: whole, end: at }, format!(" and {said} "));
        Advice { hint: Some(format!("write and {said} before the second")), fixes: vec![fix] }
    }

    fn compare(&mut self, pair: Pair<'_, Rule>, left: Option<Expr>) -> Expr {
        let span = span_of(&pair);
        let (mut op, mut right) = (Cmp::Eq, None);
        for child in pair.into_inner() {
            if child.as_rule() == Rule::cmp {
                op = self.sign(&child);
            } else {
                right = Some(self.expr(child));
            }
        }
        let blank = || Expr { kind: ExprKind::Text(String::new()), span };
        let kind = ExprKind::Compare {
            op,
            left: Box::new(left.unwrap_or_else(blank)),
            right: Box::new(right.unwrap_or_else(blank)),
        };
        Expr { kind, span }
    }

    fn sign(&mut self, pair: &Pair<'_, Rule>) -> Cmp {
        let (op, instead) = match pair.as_str() {
            "=" => (Cmp::Eq, ""),
            "!=" | "≠" => (Cmp::Ne, ""),
            "<" => (Cmp::Lt, ""),
            "<=" | "≤" => (Cmp::Le, ""),
            ">" => (Cmp::Gt, ""),
            ">=" | "≥" => (Cmp::Ge, ""),
            "<>" => (Cmp::Ne, "!="),
            "=<" => (Cmp::Le, "<="),
            "=>" => (Cmp::Ge, ">="),
            "!==" => (Cmp::Ne, "!="),
            ":" => (Cmp::Eq, " = "),
            _ => (Cmp::Eq, "="),
        };
        if !instead.is_empty() {
            self.foreign(span_of(pair), pair.as_str(), instead);
        }
        op
    }

    fn is_word(&mut self, pair: Pair<'_, Rule>, value: Expr) -> Expr {
        let span = span_of(&pair);
        let mut negated = false;
        for child in pair.into_inner() {
            match child.as_rule() {
                Rule::kw_not => negated = true,
                Rule::word if !child.as_str().eq_ignore_ascii_case("unknown") => {
                    let said = child.as_str();
                    let (is, sign) =
                        if negated { ("is not unknown", "!=") } else { ("is unknown", "=") };
                    let right = match said.to_ascii_lowercase().as_str() {
                        "null" | "missing" | "empty" | "nil" | "na" | "unmeasured" => is.to_owned(),
                        "known" | "measured" | "recorded" if negated => "is unknown".to_owned(),
                        "known" | "measured" | "recorded" => "is not unknown".to_owned(),
                        _ => format!("{sign} {said}"),
                    };
                    let not = if negated { "not " } else { "" };
                    let message = format!("is {not}{said} has no meaning here");
                    let kind = ErrorKind::Foreign;
                    let advice = Advice::write(span, [right]);
                    self.errors.push(self.text.error(kind, span_of(&child), message, advice));
                }
                _ => {}
            }
        }
        Expr { kind: ExprKind::Unknown { value: Box::new(value), negated }, span }
    }

    fn tail(&mut self, pair: Pair<'_, Rule>, value: Expr) -> Expr {
        let span = span_of(&pair);
        let value = Box::new(value);
        let mut negated = false;
        let mut kind = ExprKind::Text(String::new());
        for child in pair.into_inner() {
            let child_span = span_of(&child);
            match child.as_rule() {
                Rule::kw_not => negated = true,
                Rule::like => {
                    let sign =
                        child.clone().into_inner().find(|p| p.as_rule() == Rule::pattern_sign);
                    let before = self.errors.len();
                    let pattern = child.into_inner().last().map(|p| self.quoted(&p));
                    let pattern = pattern.unwrap_or_else(|| Word { text: String::new(), span });
                    if pattern.text.matches('*').count() > MAX_STARS {
                        let message = format!("more than {MAX_STARS} stars in one pattern");
                        self.errors.push(self.text.error(
                            ErrorKind::Limit,
                            pattern.span,
                            message,
                            None,
                        ));
                    }
                    self.pattern(&pattern, sign.as_ref(), before);
                    return Expr { kind: ExprKind::Like { value, pattern, negated }, span };
                }
                Rule::ranked => {
                    let mut inner = child.into_inner();
                    let worse = inner.next().is_some_and(|p| p.as_rule() == Rule::kw_worse);
                    let blank = || Expr { kind: ExprKind::Text(String::new()), span: child_span };
                    let than = Box::new(inner.last().map_or_else(blank, |than| self.expr(than)));
                    return Expr { kind: ExprKind::Ranked { value, worse, than, negated }, span };
                }
                rule => {
                    let mut parts: Vec<Expr> = child
                        .into_inner()
                        .filter(|c| c.as_rule() == Rule::sum)
                        .map(|c| self.expr(c))
                        .collect();
                    if rule == Rule::one_of {
                        let list = parts;
                        return Expr { kind: ExprKind::OneOf { value, list, negated }, span };
                    }
                    let blank = || Expr { kind: ExprKind::Text(String::new()), span: child_span };
                    let high = Box::new(parts.pop().unwrap_or_else(blank));
                    let low = Box::new(parts.pop().unwrap_or_else(blank));
                    kind = ExprKind::Between { value, low, high, negated };
                    break;
                }
            }
        }
        Expr { kind, span }
    }

    /// Refuses signs of other languages in a pattern: `%` of SQL, `.*` of regular expressions.
    /// Errors from `before` on are about the quotes of the pattern, which the advice mends too.
    fn pattern(&mut self, pattern: &Word, sign: Option<&Pair<'_, Rule>>, before: usize) {
        let text = &pattern.text;
        if sign.is_none() && !text.contains('%') {
            return;
        }
        let stars = text.replace(".*", "*").replace('%', "*");
        let stars = stars.trim_start_matches('^').trim_end_matches('$').replace('"', "\"\"");
        let (span, message, like) = match sign {
            Some(sign) => {
                let message = format!("{} is not a sign of this language", sign.as_str());
                (span_of(sign), message, "like ")
            }
            None => (pattern.span, "% stands for itself in a pattern".to_owned(), ""),
        };
        let whole = span.to(pattern.span);
        let advice = Advice::write(whole, [format!("{like}\"{stars}\"")])
            .saying(format!("write {like}\"{stars}\": * is any characters, ? is one"));
        self.errors.truncate(before);
        self.errors.push(self.text.error(ErrorKind::Foreign, span, message, advice));
    }

    fn steps(&mut self, pair: Pair<'_, Rule>) -> Expr {
        let span = span_of(&pair);
        let product = pair.as_rule() == Rule::product;
        let mut step = if product { Step::Multiply } else { Step::Add };
        let mut terms = Vec::new();
        for child in pair.into_inner() {
            match (child.as_rule(), child.as_str()) {
                (Rule::add_op, "+") => step = Step::Add,
                (Rule::add_op, _) => step = Step::Subtract,
                (Rule::mul_op, "*") => step = Step::Multiply,
                (Rule::mul_op, _) => step = Step::Divide,
                _ => {
                    let term = self.expr(child);
                    terms.push((step, term));
                }
            }
        }
        self.limit_terms(terms.len(), span);
        if terms.len() == 1
            && let Some((_, only)) = terms.pop()
        {
            return only;
        }
        Expr { kind: if product { ExprKind::Product(terms) } else { ExprKind::Sum(terms) }, span }
    }

    fn primary(&mut self, pair: Pair<'_, Rule>) -> Expr {
        let span = span_of(&pair);
        let mut negative = false;
        let mut inner = Expr { kind: ExprKind::Text(String::new()), span };
        for child in pair.into_inner() {
            if child.as_rule() == Rule::minus {
                negative = true;
            } else {
                inner = self.expr(child);
            }
        }
        if negative { Expr { kind: ExprKind::Negative(Box::new(inner)), span } } else { inner }
    }

    fn quoted(&mut self, pair: &Pair<'_, Rule>) -> Word {
        let span = span_of(pair);
        let raw = pair.as_str();
        if pair.as_rule() == Rule::single_text {
            let inner = raw.trim_matches('\'');
            let message = "text stands in double quotation marks";
            let advice = Advice::write(span, [format!("\"{}\"", inner.replace('"', "\"\""))]);
            self.errors.push(self.text.error(ErrorKind::Foreign, span, message, advice));
            return Word { text: inner.to_owned(), span };
        }
        let inner = raw.strip_prefix('"').and_then(|r| r.strip_suffix('"')).unwrap_or(raw);
        Word { text: inner.replace("\"\"", "\""), span }
    }

    /// The title of a column: a text in quotes, or one word.
    fn title(&mut self, pair: Pair<'_, Rule>) -> Option<Word> {
        let said = pair.into_inner().find(|part| part.as_rule() != Rule::kw_as)?;
        let title = match said.as_rule() {
            Rule::text | Rule::single_text => self.quoted(&said),
            _ => word(&said),
        };
        let (wide, blank) = (title.text.chars().count(), title.text.trim().is_empty());
        if blank || wide > LONGEST_TITLE || title.text.chars().any(char::is_control) {
            let message = format!("a title has 1 to {LONGEST_TITLE} characters that can be seen");
            self.errors.push(self.text.error(ErrorKind::Limit, title.span, message, None));
        }
        Some(Word { text: title.text.trim().to_owned(), span: title.span })
    }

    fn quantity(&mut self, pair: Pair<'_, Rule>) -> Quantity {
        let span = span_of(&pair);
        let mut written = String::new();
        let mut unit = None;
        for child in pair.into_inner() {
            match child.as_rule() {
                // `6-3/32` is six and three thirty-seconds.
                Rule::number if child.as_str().contains('/') => {
                    written = child.as_str().replace('-', " ");
                }
                Rule::number => child.as_str().clone_into(&mut written),
                _ => unit = Some(Word { text: child.as_str().to_owned(), span: span_of(&child) }),
            }
        }
        let number = Rational::parse(&written);
        if number.is_none() {
            let message = match written.rsplit_once('/') {
                Some((_, d)) if d.trim().bytes().all(|b| b == b'0') => {
                    format!("{written} divides by zero")
                }
                _ => "this number has more digits than can be kept exactly".to_owned(),
            };
            self.errors.push(self.text.error(ErrorKind::Limit, span, message, None));
        }
        Quantity { written, number, unit, span }
    }

    fn history(&mut self, pair: Pair<'_, Rule>) -> ExprKind {
        if let Some(row) = pair.clone().into_inner().find(|p| p.as_rule() == Rule::in_a_row) {
            return self.in_a_row(row);
        }
        let quant = match pair.clone().into_inner().next().map(|p| p.as_rule()) {
            Some(Rule::kw_any) => Quant::Any,
            Some(Rule::kw_no) => Quant::No,
            Some(Rule::kw_every) => Quant::Every,
            Some(rule) => Quant::One(which(rule).unwrap_or(Which::Latest)),
            None => Quant::One(Which::Latest),
        };
        ExprKind::History { quant, of: self.records(pair.into_inner().skip_keyword()) }
    }

    fn in_a_row(&mut self, pair: Pair<'_, Rule>) -> ExprKind {
        let has = |rule| pair.clone().into_inner().find(|p| p.as_rule() == rule);
        let span = span_of(&pair);
        let many = has(Rule::how_many);
        let many = many.map_or(Word { text: String::new(), span }, |p| word(&p));
        let no = has(Rule::kw_no).is_some();
        ExprKind::InARow { no, many, of: self.records(pair.into_inner()) }
    }

    fn aggregate(&mut self, pair: Pair<'_, Rule>) -> ExprKind {
        let mut fold = Fold::Mean;
        let mut percentile = None;
        let mut field = None;
        let mut rest = Vec::new();
        for child in pair.into_inner() {
            match child.as_rule() {
                Rule::kw_sum => fold = Fold::Sum,
                Rule::kw_max => fold = Fold::Max,
                Rule::kw_min => fold = Fold::Min,
                Rule::kw_mean | Rule::kw_over => {}
                Rule::percentile => percentile = self.percentile(child),
                Rule::source => field = Some(self.source(child)),
                _ => rest.push(child),
            }
        }
        let of = self.records(rest.into_iter());
        let field = field.unwrap_or_else(|| blank_source(of.kind.span));
        match percentile {
            Some(n) => ExprKind::OverJoints { fold: SetFold::Percentile(n), field, of },
            None if is_joints(&of.kind) => {
                ExprKind::OverJoints { fold: SetFold::Fold(fold), field, of }
            }
            None => ExprKind::Fold { fold, field, of },
        }
    }

    /// A whole number from 1 to 99.
    fn percentile(&mut self, pair: Pair<'_, Rule>) -> Option<u8> {
        let number = pair.into_inner().find(|p| p.as_rule() == Rule::number)?;
        let whole = number.as_str().parse().ok().filter(|n| (1..=99).contains(n));
        if whole.is_none() {
            let message = "a percentile is a whole number from 1 to 99";
            let hint = Some("write for example percentile 90 of damage over joints".to_owned());
            let span = span_of(&number);
            self.errors.push(self.text.error(ErrorKind::Limit, span, message, hint));
        }
        Some(whole.unwrap_or(50))
    }

    fn named(&mut self, pair: Pair<'_, Rule>) -> ExprKind {
        let span = span_of(&pair);
        let (mut source, mut pick, mut windows) = (blank_source(span), None, Vec::new());
        let mut serial = None;
        for child in pair.into_inner() {
            match child.as_rule() {
                Rule::source => source = self.source(child),
                Rule::pick => pick = Some(child),
                Rule::of_joint => serial = child.into_inner().last().map(|p| self.quoted(&p)),
                _ => windows.push(self.window(child)),
            }
        }
        if let Some(serial) = serial {
            return ExprKind::OfJoint { source, serial, windows };
        }
        let Some(pick) = pick else { return ExprKind::Named { source, windows } };
        let found = pick.clone().into_inner().find_map(|p| which(p.as_rule()));
        let mut of = self.records(pick.into_inner());
        of.windows = windows;
        ExprKind::Pick { field: source, which: found.unwrap_or(Which::Latest), of }
    }
}

trait SkipKeyword<'i> {
    fn skip_keyword(self) -> std::iter::Skip<Pairs<'i>>;
}

impl<'i> SkipKeyword<'i> for Pairs<'i> {
    fn skip_keyword(self) -> std::iter::Skip<Self> {
        self.skip(1)
    }
}

/// Which record a word means.
const fn which(rule: Rule) -> Option<Which> {
    match rule {
        Rule::kw_latest => Some(Which::Latest),
        Rule::kw_previous | Rule::before_last => Some(Which::Previous),
        Rule::kw_first => Some(Which::First),
        _ => None,
    }
}

fn word(pair: &Pair<'_, Rule>) -> Word {
    let span = span_of(pair);
    Word { text: pair.as_str().trim_end().to_owned(), span }
}

fn last_word(pair: Pair<'_, Rule>) -> Word {
    let span = span_of(&pair);
    pair.into_inner().last().map_or(Word { text: String::new(), span }, |p| word(&p))
}

fn blank_source(span: Span) -> Source {
    let name = Word { text: String::new(), span };
    Source { of_joint: false, name, place: None, above: None, up_to: None }
}

/// Whether records are the joints themselves.
pub(super) fn is_joints(kind: &Word) -> bool {
    ["joint", "joints"].iter().any(|word| kind.text.eq_ignore_ascii_case(word))
}
