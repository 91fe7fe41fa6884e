//! Work on all threads, each with a connection of its own.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use super::view::AsOf;
use crate::store::error::Result;

impl AsOf {
    /// Works through items on all threads, some at once. This thread has what it needs; the others
    /// begin for themselves, or leave the work to those that can.
    pub(super) fn side_by_side<W, T: Send>(
        &self,
        (items, chunk): (&[i64], usize),
        own: &mut W,
        begin: impl Fn() -> Result<W> + Sync,
        work: impl Fn(&mut W, i64) -> Result<T> + Sync,
    ) -> Result<Vec<(i64, T)>> {
        let (next, stop) = (AtomicUsize::new(0), AtomicBool::new(false));
        let go_through = |worker: &mut W| -> Result<Vec<(i64, T)>> {
            let mut out = Vec::new();
            while !stop.load(Ordering::Relaxed) {
                let from = next.fetch_add(chunk, Ordering::Relaxed);
                let some = items.iter().skip(from).take(chunk);
                if from >= items.len() {
                    break;
                }
                self.check_time()?;
                for item in some {
                    out.push((*item, work(worker, *item)?));
                }
            }
            Ok(out)
        };
        let heeded = |found: Result<Vec<(i64, T)>>| {
            stop.fetch_or(found.is_err(), Ordering::Relaxed);
            found
        };
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        let others = threads.min(items.len().div_ceil(chunk)).saturating_sub(1);
        std::thread::scope(|scope| {
            let helpers: Vec<_> = (0..others)
                .map(|_| {
                    scope.spawn(|| match begin() {
                        Ok(mut worker) => heeded(go_through(&mut worker)),
                        Err(_) => Ok(Vec::new()),
                    })
                })
                .collect();
            let mut out = heeded(go_through(own));
            for helper in helpers {
                let found = helper.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
                match (&mut out, found) {
                    (Ok(out), Ok(found)) => out.extend(found),
                    (Ok(_), Err(error)) => out = Err(error),
                    (Err(_), _) => {}
                }
            }
            out
        })
    }
}
