//! One pass over the joints, for many filters at once. A large book is gone through on two
//! connections, a stretch of joints at a time.

use std::sync::atomic::{AtomicUsize, Ordering};

use crate::filter::{Compiled, Panel, Verdict, panels};
use crate::schema::Value;
use crate::store::Book;

use super::ReportError;
use super::question::{self, Present};

/// Stretches into which the joints of a large book are divided: many, for joints that were taken in
/// together lie close together.
const STRETCHES: usize = 64;

/// A book, and a second connection to a large one.
pub(super) struct ReaderPool<'b> {
    book: &'b mut Book,
    other: Option<Book>,
}

/// Joints for which a filter holds, and joints for which nobody can tell, in the order of the names of
/// their entries.
#[derive(Clone, Debug, Default)]
pub(super) struct Verdicts {
    pub holds: Vec<i64>,
    pub open: Vec<i64>,
}

impl<'b> ReaderPool<'b> {
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

    /// Asks filters of the joints for which another holds.
    pub(super) fn verdicts(
        &mut self,
        among: &Compiled,
        filters: &[Compiled],
        present: &Present,
    ) -> Result<Vec<Verdicts>, ReportError> {
        self.prepare(filters)?;
        let panels = panels(among, filters);
        let stretches = self.book.stretches(if self.other.is_some() { STRETCHES } else { 1 })?;
        let parts = self.each(stretches.len(), &|book, n| {
            let mut found = vec![Verdicts::default(); filters.len()];
            for panel in &panels {
                ask(book, panel, stretches[n], present, |at, joint, verdict| match verdict {
                    Verdict::True => found[at].holds.push(joint),
                    Verdict::Unknown => found[at].open.push(joint),
                    Verdict::False => {}
                })?;
            }
            Ok(found)
        })?;
        let mut all = vec![Verdicts::default(); filters.len()];
        for part in parts {
            for (all, part) in all.iter_mut().zip(part) {
                all.holds.extend(part.holds);
                all.open.extend(part.open);
            }
        }
        if let Some(order) = self.book.order_of_joints()? {
            for list in all.iter_mut().flat_map(|v| [&mut v.holds, &mut v.open]) {
                list.sort_by_key(|joint| order.get(joint).copied());
            }
        }
        Ok(all)
    }
}

fn ask(
    book: &mut Book,
    panel: &Panel,
    (first, last): (i64, i64),
    present: &Present,
    mut see: impl FnMut(usize, i64, Verdict),
) -> Result<(), ReportError> {
    let mut binds = panel.params.clone();
    binds.extend([Value::Int(first), Value::Int(last)]);
    let mut numbers = Vec::new();
    book.ask_each(&panel.sql, &binds, Some(present.limit), |row| {
        numbers.clear();
        numbers.extend(row.iter().map(|d| if let Value::Int(n) = d { *n } else { 0 }));
        if let Some((joint, columns)) = numbers.split_first() {
            panel.read(columns, |at, verdict| see(at, *joint, verdict));
        }
    })?;
    Ok(())
}
