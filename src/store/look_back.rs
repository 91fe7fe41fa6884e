//! Books as they were: the same book, seen from an earlier date (`as_of`) or at an earlier place of its
//! chain (`copy`). The projections of a view are those of a book that stopped there; the book itself is
//! only read.

use super::as_of::{self, AsOf};
use super::book::Book;
use super::copy::LeftOut;
use super::entries::{last_position, name_of, position_of};
use super::error::{InFile, Result, StoreError};
use super::head::HeadMark;
use super::identity::Identity;
use crate::model::{Body, Chain, EntryId, EpochBody, Instant};

/// From where a book is looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LookBack {
    /// The last place of the book that is known; all of it when absent.
    pub known_to: Option<i64>,
    /// What had happened before this instant; everything when absent.
    pub before: Option<Instant>,
}

/// A book as it was.
#[derive(Debug)]
pub struct LookedBack {
    /// For questions only.
    pub book: Book,
    /// Its last place.
    pub position: i64,
    /// Its own last entry.
    pub head: Option<HeadMark>,
    /// Entries that are known and not seen: they tell of later.
    pub later: usize,
    /// Runs that were under way, seen as far as they had come.
    pub under_way: Vec<EntryId>,
    /// It is a copy, derived anew; else the book itself, seen so.
    pub copied: bool,
}

impl Book {
    /// The place that the book had reached before an instant, by its own clock: what it took in
    /// counts from when it took it in. `None` when nothing had been written.
    pub fn place_before(&self, at: Instant, now: Instant) -> Result<Option<i64>> {
        let times = self.written(now)?;
        let last = times.partition_point(|(_, written)| *written < at);
        Ok(last.checked_sub(1).and_then(|i| times.get(i)).map(|(position, _)| *position))
    }

    /// When the book had reached a place; `now` where that is not told.
    pub fn time_of_place(&self, place: i64, now: Instant) -> Result<Instant> {
        let times = self.written(now)?;
        let first = times.partition_point(|(position, _)| *position < place);
        Ok(times.get(first).map_or(now, |(_, written)| *written))
    }

    /// The places at which this book wrote, in order, and when: never before what stands before it.
    fn written(&self, now: Instant) -> Result<Vec<(i64, Instant)>> {
        let mut noted: Vec<(i64, i64)> = Vec::new();
        for (chain, from, until) in self.own_stretches()?.into_iter().rev() {
            let mut statement = self
                .conn
                .prepare_cached(
                    "SELECT position, recorded_ms FROM entry WHERE site = ?1 AND epoch = ?2
                     AND position >= ?3 AND position < ?4 ORDER BY position",
                )
                .in_file(&self.path)?;
            let rows = statement
                .query_map((chain.site.as_str(), chain.epoch, from, until), |r| {
                    Ok((r.get(0)?, r.get(1)?))
                })
                .in_file(&self.path)?;
            for row in rows {
                noted.push(row.in_file(&self.path)?);
            }
        }
        let recorded: Vec<i64> = noted.iter().map(|n| n.1).collect();
        let times = in_order(&recorded, now.0);
        Ok(noted.into_iter().zip(times).map(|((position, _), t)| (position, Instant(t))).collect())
    }

    /// The place that the book had reached when it held an entry: a bundle is taken in whole.
    pub fn place_with(&self, entry: &EntryId) -> Result<i64> {
        let place = position_of(&self.conn, &self.path, entry)?
            .ok_or_else(|| StoreError::NoEntry(entry.to_string()))?;
        let mut next: Option<i64> = None;
        for (chain, from, until) in self.own_stretches()? {
            let found: Option<i64> = self
                .conn
                .query_row(
                    "SELECT min(position) FROM entry WHERE site = ?1 AND epoch = ?2
                     AND position >= ?3 AND position < ?4",
                    (chain.site.as_str(), chain.epoch, from.max(place), until),
                    |r| r.get(0),
                )
                .in_file(&self.path)?;
            next = found.or(next);
        }
        Ok(next.unwrap_or(place))
    }

    /// What this book wrote itself, newest chain first: the chain, and from which place until
    /// before which. An earlier epoch's entries that came back by bundle are not of it.
    fn own_stretches(&self) -> Result<Vec<(Chain, i64, i64)>> {
        let mut out = Vec::new();
        let mut chain = self.identity().chain.clone();
        let mut until = i64::MAX;
        loop {
            let first = EntryId { chain: chain.clone(), number: 1 };
            let from = position_of(&self.conn, &self.path, &first)?.filter(|p| *p < until);
            let Some(from) = from else { break };
            out.push((chain.clone(), from, until));
            let entry = self.entry_at(from)?.raw.read()?;
            let Body::Epoch(EpochBody { parent: Some(parent), .. }) = entry.body else { break };
            (chain, until) = (parent.entry.chain, from);
        }
        // A salvaged book may hold its past without the place where it went on from it.
        if let Some((chain, from, _)) = out.last().cloned() {
            for epoch in (1..chain.epoch).rev() {
                let earlier = Chain { site: chain.site.clone(), epoch };
                out.push((earlier, 1, from));
            }
        }
        Ok(out)
    }

    /// The book as it was.
    pub fn look_back(&self, from: &LookBack) -> Result<LookedBack> {
        let path = &self.path;
        let end = last_position(&self.conn, path)?;
        let known_to = from.known_to.unwrap_or(end).min(end);
        let identity = self.identity_at(known_to)?;
        let head = head_at(self, &identity.chain, known_to)?;
        // A view of a view, and a view of what stands in no file, is made in a copy.
        let is_file = self.as_of.is_none() && self.conn.path().is_some_and(|p| !p.is_empty());
        let whole = known_to == end && is_file;
        let as_of = match from.before {
            Some(horizon) if whole => AsOf::of(path, horizon)?,
            _ => None,
        };
        let copied = as_of.is_none() && !(whole && from.before.is_none());
        let (conn, left_out, as_of) = match (as_of, from.before) {
            (Some(as_of), _) => {
                let seen = as_of.sight();
                let under_way = seen.under_way.iter().chain(&seen.struck_under_way);
                let under_way = under_way.copied().collect();
                let left_out = LeftOut { later: seen.later, under_way };
                (as_of.connect()?, left_out, Some(as_of))
            }
            (None, None) if whole => (as_of::reader(path)?, LeftOut::default(), None),
            (None, before) => {
                let (conn, left_out) = self.copy_without(before, known_to)?;
                (conn, left_out, None)
            }
        };
        conn.pragma_update(None, "query_only", true).in_file(path)?;
        let mut under_way = Vec::with_capacity(left_out.under_way.len());
        for position in left_out.under_way {
            under_way.push(name_of(&self.conn, path, position)?);
        }
        let book = Self::of_parts(conn, path.clone(), identity, as_of);
        Ok(LookedBack { book, position: known_to, head, later: left_out.later, under_way, copied })
    }

    /// Whose book it was: a restored one was another before it went on.
    fn identity_at(&self, place: i64) -> Result<Identity> {
        let mut identity = self.identity().clone();
        for (chain, from, _) in self.own_stretches()? {
            if from <= place {
                identity.chain = chain;
                break;
            }
        }
        Ok(identity)
    }
}

/// When entries of a chain were written, by the times that a clock noted which now and then stood
/// wrong: those of the longest run of times that never goes back, and not past now, are right. Of the
/// others is known that they were written before the next one that is right.
fn in_order(noted: &[i64], now: i64) -> Vec<i64> {
    // Ends of the best runs by length, each with its place; and what stands before each place.
    let mut ends: Vec<usize> = Vec::new();
    let mut before: Vec<Option<usize>> = vec![None; noted.len()];
    for (at, time) in noted.iter().enumerate().filter(|(_, t)| **t <= now) {
        let length = ends.partition_point(|end| noted[*end] <= *time);
        before[at] = length.checked_sub(1).map(|l| ends[l]);
        if length == ends.len() { ends.push(at) } else { ends[length] = at }
    }
    let mut out = vec![now; noted.len()];
    let mut right = ends.last().copied();
    let mut next = now;
    for at in (0..noted.len()).rev() {
        if right == Some(at) {
            next = noted[at];
            right = before[at];
        }
        out[at] = next;
    }
    out
}

fn head_at(book: &Book, chain: &Chain, place: i64) -> Result<Option<HeadMark>> {
    let number: Option<i64> = book
        .conn
        .query_row(
            "SELECT max(number) FROM entry WHERE site = ?1 AND epoch = ?2 AND position <= ?3",
            (chain.site.as_str(), chain.epoch, place),
            |r| r.get(0),
        )
        .in_file(&book.path)?;
    let Some(number) = number.and_then(|n| u64::try_from(n).ok()) else { return Ok(None) };
    let entry = EntryId { chain: chain.clone(), number };
    let hash = super::entries::hash_of(&book.conn, &book.path, &entry)?;
    Ok(hash.map(|hash| HeadMark { entry, hash }))
}

#[cfg(test)]
mod tests {
    use super::in_order;

    #[test]
    fn a_clock_that_stood_wrong_once_spoils_no_other_time() {
        for (noted, times) in [
            (&[10, 20, 30][..], &[10, 20, 30][..]),
            (&[10, 900, 30, 40], &[10, 30, 30, 40]),
            (&[10, 20, 1, 40], &[10, 20, 40, 40]),
            (&[10, 60, 70, 30, 40, 50], &[10, 30, 30, 30, 40, 50]),
            (&[10, 900], &[10, 100]),
            (&[10, 20, 1], &[10, 20, 100]),
            (&[20, 20, 20], &[20, 20, 20]),
            (&[], &[]),
        ] {
            assert_eq!(in_order(noted, 100), times, "{noted:?}");
        }
    }
}
