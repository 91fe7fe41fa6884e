//! Syntax tree to checked tree: the only place where a name becomes a field, a word a member of
//! its vocabulary, a number a quantity in base units. Reports every mistake that it can find.

mod conditions;
mod fit;
mod joints;
mod meant;
mod names;
mod numbers;
mod portion;
mod ranked;
mod rules;
mod windows;
mod words;

use std::collections::HashMap;
use std::sync::Arc;

use crate::model::{Call, Clock, Instant};
use crate::units::UnitSystem;

use super::ast::Expr;
use super::error::{Advice, ErrorKind, Excerpt, FilterError, Span};
use super::habits;
use super::parse::Text;
use super::registry::{Record, Table};
use super::typed::{Among, Asked, Depth, Node, Rule as CheckedRule, Shown};

/// Most parts of a filter, the named filters that it uses included.
pub const MAX_NODES: usize = 5_000;
/// Deepest nesting of questions to records inside conditions of records.
pub const MAX_QUESTIONS: usize = 6;
/// Deepest nesting of a filter together with the named filters that it uses.
pub const MAX_LEVELS: usize = 80;
/// Longest trail of named filters that use each other.
const MAX_TRAIL: usize = 16;

/// A rule of the rules in force.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rule {
    /// Its name; a filter may use it as a condition.
    pub name: String,
    /// What it calls for.
    pub call: Call,
    /// A filter that says which joints it is for.
    pub scope: Option<String>,
    /// The filter that makes it speak.
    pub filter: String,
}

/// Knows the rules in force.
pub trait KnowsRules {
    fn rules(&self) -> &[Rule];
}

/// The rules that a filter may use.
#[derive(Clone, Copy)]
pub enum Rules<'a> {
    These(&'a [Rule]),
    /// Looked up when a filter first asks for them: most name none.
    LookedUp(&'a dyn KnowsRules),
}

impl<'a> Rules<'a> {
    fn all(self) -> &'a [Rule] {
        match self {
            Self::These(rules) => rules,
            Self::LookedUp(book) => book.rules(),
        }
    }
}

/// What a filter is compiled against.
#[derive(Clone, Copy)]
pub struct Context<'a> {
    /// Now; ages count to it.
    pub now: Instant,
    /// Offset of the site's clock from UTC, for what a day is.
    pub clock: Clock,
    /// Units in which people read, for examples in messages.
    pub units: UnitSystem,
    pub rules: Rules<'a>,
    /// Joints that answer to the look-up key of a serial, or to SERIAL@ENTRY; none for an unknown one.
    pub joints: &'a dyn Fn(&str) -> Vec<i64>,
    /// The words that stand in a column of the book; `None` where there is no book.
    pub words: &'a dyn Fn(Table, &'static str) -> Option<Vec<String>>,
    /// Asks joints of the book: none where there is no book, `None` where it could not be asked.
    pub ask: &'a dyn Fn(&Among) -> Option<Vec<Asked>>,
}

impl std::fmt::Debug for Context<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Context").field("now", &self.now).finish_non_exhaustive()
    }
}

/// Checks a condition of joints, or of records of one kind.
pub(super) fn condition(
    text: &Text,
    tree: &Expr,
    record: Option<Record>,
    context: &Context<'_>,
) -> Result<Node, Vec<FilterError>> {
    let mut session = Session::new(context);
    let node = Checker::new(text, record, &mut session).condition(tree);
    session.finish(node)
}

/// Checks a value that is to be shown.
pub(super) fn shown(
    text: &Text,
    tree: &Expr,
    record: Option<Record>,
    context: &Context<'_>,
) -> Result<Shown, Vec<FilterError>> {
    let mut session = Session::new(context);
    let value = Checker::new(text, record, &mut session).shown(tree);
    session.finish(value)
}

/// Checks every rule of a set, whether or not a filter uses it.
pub fn check_rules(context: &Context<'_>) -> Vec<FilterError> {
    let mut session = Session::new(context);
    for at in 0..context.rules.all().len() {
        rules::checked(&mut session, at);
    }
    habits::explained(session.errors)
}

/// What one compilation shares between the filter and the rules that it uses.
pub(super) struct Session<'c> {
    context: &'c Context<'c>,
    errors: Vec<FilterError>,
    /// Rules checked so far; `None` for one with errors, which are reported once.
    rules: HashMap<usize, Option<Arc<CheckedRule>>>,
    /// Rules being checked, outermost first, each with the place of its use.
    stack: Vec<(usize, Excerpt)>,
    nodes: usize,
    too_large: bool,
    /// How deep the text being checked goes.
    deepest: Depth,
}

impl<'c> Session<'c> {
    fn new(context: &'c Context<'c>) -> Self {
        Self {
            context,
            errors: Vec::new(),
            rules: HashMap::new(),
            stack: Vec::new(),
            nodes: 0,
            too_large: false,
            deepest: Depth::default(),
        }
    }

    fn finish<T>(self, found: Option<T>) -> Result<T, Vec<FilterError>> {
        match found {
            Some(found) if self.errors.is_empty() => Ok(found),
            _ => Err(habits::explained(self.errors)),
        }
    }

    fn report(&mut self, mut error: FilterError) {
        error.used = self.stack.iter().rev().map(|(_, place)| place.clone()).collect();
        if !self.errors.contains(&error) {
            self.errors.push(error);
        }
    }
}

/// Where in the language the checker stands.
#[derive(Clone, Copy, Debug, Default)]
struct Scope {
    /// Record whose condition this is.
    record: Option<Record>,
    /// True in the condition of an anchor, where only the anchor's own fields are in scope.
    anchor: bool,
    /// Record whose condition the anchor stands behind.
    behind: Option<Record>,
    /// Questions to records around this place.
    questions: usize,
    /// Parts of the tree around this place.
    level: usize,
    /// The comparison around this place.
    comparison: Option<Span>,
}

struct Checker<'t, 's, 'c> {
    text: &'t Text,
    scope: Scope,
    session: &'s mut Session<'c>,
}

impl<'t, 's, 'c> Checker<'t, 's, 'c> {
    fn new(text: &'t Text, record: Option<Record>, session: &'s mut Session<'c>) -> Self {
        Self { text, scope: Scope { record, ..Scope::default() }, session }
    }

    fn context(&self) -> &'c Context<'c> {
        self.session.context
    }

    /// Reports a mistake; the `None` is for `return`.
    fn fail<T>(
        &mut self,
        kind: ErrorKind,
        span: Span,
        message: impl Into<String>,
        advice: impl Into<Advice>,
    ) -> Option<T> {
        let error = self.text.error(kind, span, message, advice);
        self.session.report(error);
        None
    }

    /// Counts a part of the tree; false, once reported, when there are too many.
    fn room(&mut self, span: Span, size: usize) -> bool {
        self.session.nodes = self.session.nodes.saturating_add(size);
        if self.session.nodes <= MAX_NODES {
            return true;
        }
        if !self.session.too_large {
            self.session.too_large = true;
            let message = format!(
                "with the named filters that it uses, this has more than {MAX_NODES} parts"
            );
            self.fail::<()>(ErrorKind::Limit, span, message, None);
        }
        false
    }

    /// Goes one level down; the error, once reported, when that is too deep.
    fn deeper<T>(&mut self, span: Span, work: impl FnOnce(&mut Self) -> Option<T>) -> Option<T> {
        self.scope.level += 1;
        self.session.deepest.levels = self.session.deepest.levels.max(self.scope.level);
        let out = if self.scope.level > MAX_LEVELS { self.too_deep(span) } else { work(self) };
        self.scope.level -= 1;
        out
    }

    fn too_deep<T>(&mut self, span: Span) -> Option<T> {
        let message = "with the named filters that it uses, this is nested too deep".to_owned();
        self.fail(ErrorKind::Limit, span, message, None)
    }

    fn label(&self, span: Span) -> Arc<str> {
        super::typed::one_line(span.of(&self.text.text)).into()
    }

    fn slice(&self, span: Span) -> &'t str {
        let text: &'t Text = self.text;
        span.of(&text.text)
    }

    /// Does something inside another scope.
    fn inside<T>(&mut self, scope: Scope, work: impl FnOnce(&mut Self) -> T) -> T {
        let outer = std::mem::replace(&mut self.scope, scope);
        let out = work(self);
        self.scope = outer;
        out
    }
}

/// Reads and checks a rule's text as a condition of the joint.
fn rule_condition(text: &Text, session: &mut Session<'_>) -> Option<Node> {
    match habits::read_filter(text) {
        Ok(tree) => Checker::new(text, None, session).condition(&tree),
        Err(errors) => {
            for error in errors {
                session.report(error);
            }
            None
        }
    }
}
