//! One pass over the joints in service: what every rule says of each of them. A large book is gone
//! through on two connections, a stretch of joints at a time.

use std::sync::atomic::{AtomicUsize, Ordering};

use crate::filter::{Bind, Compiled, Panel, Verdict, compile, panels};
use crate::policy::{Rule, RuleSet};
use crate::report::ReportError;
use crate::store::{Book, Datum};

use super::super::question::{self, Present, in_context, params_of};

/// Joints that are in service: a rule has nothing to say of others.
pub(super) const IN_SERVICE: &str = "status not in (retired, lost)";

/// Stretches into which the joints of a large book are divided.
const STRETCHES: usize = 8;

/// What a rule says.
#[derive(Clone, Debug, Default)]
pub(super) struct Said {
    /// Joints for which it speaks.
    pub due: Vec<i64>,
    /// Joints for which nobody can tell.
    pub open: Vec<i64>,
    /// Joints that it is for and does not speak of yet, where it moves with use or time.
    pub coming: Vec<i64>,
}

/// A book, and a second connection to a large one.
pub(super) struct Desks<'b> {
    book: &'b mut Book,
    other: Option<Book>,
}

impl<'b> Desks<'b> {
    pub(super) fn open(book: &'b mut Book) -> Result<Self, ReportError> {
        let other = book.beside()?;
        Ok(Self { book, other })
    }

    pub(super) const fn book(&mut self) -> &mut Book {
        self.book
    }

    /// Makes the edges of windows ready wherever they will be asked for.
    fn prepare(&mut self, filters: &[Compiled]) -> Result<(), ReportError> {
        for filter in filters {
            question::prepare(self.book, filter, &[])?;
            if let Some(other) = &mut self.other {
                question::prepare(other, filter, &[])?;
            }
        }
        Ok(())
    }

    /// Does pieces of work one by one, on both connections where there are two. Answers come in
    /// the order of the pieces.
    pub(super) fn each<T: Send>(
        &mut self,
        pieces: usize,
        one: &(impl Fn(&mut Book, usize) -> Result<T, ReportError> + Sync),
    ) -> Result<Vec<T>, ReportError> {
        let Some(other) = &mut self.other else {
            return (0..pieces).map(|n| one(self.book, n)).collect();
        };
        let next = AtomicUsize::new(0);
        let work = |book: &mut Book| -> Result<Vec<(usize, T)>, ReportError> {
            let mut out = Vec::new();
            loop {
                let n = next.fetch_add(1, Ordering::Relaxed);
                if n >= pieces {
                    return Ok(out);
                }
                out.push((n, one(book, n)?));
            }
        };
        let (here, there) = rayon::join(|| work(self.book), || work(other));
        let mut all = here?;
        all.extend(there?);
        all.sort_by_key(|(n, _)| *n);
        Ok(all.into_iter().map(|(_, done)| done).collect())
    }

    fn stretches(&self) -> Result<Vec<(i64, i64)>, ReportError> {
        Ok(self.book.stretches(if self.other.is_some() { STRETCHES } else { 1 })?)
    }
}

/// What the rules say of all joints in service; what is coming only where `ahead` asks for it.
pub(super) fn all_rules(
    desks: &mut Desks<'_>,
    rules: &RuleSet,
    wanted: &[&Rule],
    ahead: bool,
    present: &Present,
) -> Result<Vec<Said>, ReportError> {
    // First what each rule says, then what is coming.
    let mut texts: Vec<(usize, String)> =
        wanted.iter().enumerate().map(|(n, rule)| (n, rule.name.clone())).collect();
    if ahead {
        texts.extend(wanted.iter().enumerate().filter_map(|(n, r)| Some((n, coming(r)?))));
    }
    let (in_service, filters) = in_context(desks.book, rules, present, |context| {
        let read = |text: &str| compile(text, context).map_err(question::wrong);
        let filters: Result<Vec<_>, _> = texts.iter().map(|(_, text)| read(text)).collect();
        Ok::<_, ReportError>((read(IN_SERVICE)?, filters?))
    })?;
    desks.prepare(&filters)?;
    let panels = panels(&in_service, &filters);
    let stretches = desks.stretches()?;
    let parts = desks.each(stretches.len(), &|book, n| {
        let mut said = vec![Said::default(); wanted.len()];
        for panel in &panels {
            ask(book, panel, stretches[n], present, |at, joint, verdict| {
                let said = &mut said[texts[at].0];
                match verdict {
                    Verdict::True if at < wanted.len() => said.due.push(joint),
                    Verdict::True => said.coming.push(joint),
                    Verdict::Unknown if at < wanted.len() => said.open.push(joint),
                    _ => {}
                }
            })?;
        }
        Ok(said)
    })?;
    let mut all = vec![Said::default(); wanted.len()];
    for part in parts {
        for (all, part) in all.iter_mut().zip(part) {
            all.due.extend(part.due);
            all.open.extend(part.open);
            all.coming.extend(part.coming);
        }
    }
    Ok(all)
}

/// The filter of joints that a rule does not speak of yet, where it moves with use or time.
fn coming(rule: &Rule) -> Option<String> {
    let limit = rule.limit.as_ref().filter(|l| l.driver.is_some())?;
    let mut parts = vec![format!("not {}", rule.name)];
    parts.extend(rule.scope.as_ref().map(|s| format!("({s})")));
    parts.extend(limit.when.as_ref().map(|w| format!("({w})")));
    Some(parts.join(" and "))
}

fn ask(
    book: &mut Book,
    panel: &Panel,
    (first, last): (i64, i64),
    present: &Present,
    mut see: impl FnMut(usize, i64, Verdict),
) -> Result<(), ReportError> {
    let mut binds = panel.params.clone();
    binds.extend([Bind::Int(first), Bind::Int(last)]);
    let mut numbers = Vec::new();
    for row in book.ask(&panel.sql, &params_of(&binds), Some(present.limit))? {
        numbers.clear();
        numbers.extend(row.iter().map(|d| if let Datum::Int(n) = d { *n } else { 0 }));
        if let Some((joint, columns)) = numbers.split_first() {
            panel.read(columns, |at, verdict| see(at, *joint, verdict));
        }
    }
    Ok(())
}
