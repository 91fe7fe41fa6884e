//! Which entries count: what is struck, set aside, or strikes and amends what it may not.
//!
//! A site strikes and amends its own entries freely. An entry of another site it strikes or amends by
//! decision alone: one that stands in the strike or amendment itself, or a settlement that names it.
//! What is neither waits, and changes nothing. Keys, clocks, epochs and arrivals are struck by their
//! own site alone. All of it follows from the entries, whatever their order of arrival.

use std::collections::{BTreeMap, BTreeSet};

use super::super::entries::{self, sql_list};
use super::super::error::Result;
use super::super::struck_freely;
use super::Pass;
use crate::ledger::standing_strikes;
use crate::model::{Body, EntryId, Ruling};
use crate::projection::facts::{self, Placed};
use crate::projection::kinds::{self, Role};
use crate::schema::{NOT_ITS_OWN, SET_ASIDE, STRUCK, StruckRow, WITHOUT_DECISION};

/// A strike or an amendment.
struct Claim {
    entry: EntryId,
    target: EntryId,
    /// It strikes; else it amends.
    strikes: bool,
    right: Right,
}

/// By what right it counts.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Right {
    /// Of its own site, by a decision that it carries, or older than the rule.
    Own,
    /// Of another site, and nobody decided.
    Waits,
    /// What only its own site strikes.
    Never,
}

/// What settlements said last of each entry: true where it stands.
type Settled = BTreeMap<EntryId, bool>;

impl Pass<'_> {
    /// Entries that count no more, or not yet.
    pub(super) fn standing(&mut self) -> Result<BTreeMap<i64, StruckRow>> {
        let (claims, settlements) = self.claims()?;
        let in_force = |said: &Settled| {
            let counts = |c: &&Claim| match (c.right, said.get(&c.entry)) {
                (Right::Never, _) | (_, Some(false)) | (Right::Waits, None) => false,
                (Right::Own | Right::Waits, _) => true,
            };
            let strikes = claims.iter().filter(|c| c.strikes).filter(counts);
            standing_strikes(
                &strikes.map(|c| (c.entry.clone(), c.target.clone())).collect::<Vec<_>>(),
            )
        };
        // What settlements say of strikes counts unless a strike that needs none of them strikes them.
        let by_themselves = in_force(&Settled::new());
        let mut said = Settled::new();
        for (placed, stands, falls) in &settlements {
            if !by_themselves.contains_key(&placed.entry.id) {
                said.extend(stands.iter().map(|e| (e.clone(), true)));
                said.extend(falls.iter().map(|e| (e.clone(), false)));
            }
        }
        let struck = in_force(&said).into_iter().map(|(entry, by)| (entry, (by, STRUCK)));
        let mut fallen: BTreeMap<EntryId, (EntryId, &str)> = struck.collect();
        for (placed, stands, falls) in &settlements {
            if fallen.contains_key(&placed.entry.id) {
                continue;
            }
            // A later settlement may raise what an earlier one set aside; a strike it cannot.
            for entry in stands {
                if fallen.get(entry).is_some_and(|(_, why)| *why == SET_ASIDE) {
                    fallen.remove(entry);
                }
            }
            for entry in falls {
                if !fallen.contains_key(entry) && !self.is_kept_by_another(placed, entry)? {
                    fallen.insert(entry.clone(), (placed.entry.id.clone(), SET_ASIDE));
                }
            }
        }
        for claim in &claims {
            let why = match (claim.right, said.get(&claim.entry)) {
                (Right::Never, _) => NOT_ITS_OWN,
                (Right::Waits, None) => WITHOUT_DECISION,
                (Right::Own | Right::Waits, _) => continue,
            };
            // It falls by nothing but itself.
            fallen.entry(claim.entry.clone()).or_insert_with(|| (claim.entry.clone(), why));
        }
        let mut out = BTreeMap::new();
        for (entry, (by, why)) in fallen {
            if let (Some(entry), Some(by_entry)) =
                (self.position_of(&entry)?, self.position_of(&by)?)
            {
                out.insert(entry, StruckRow { entry, by_entry, why: why.to_owned() });
            }
        }
        Ok(out)
    }

    /// Strikes and amendments with the right by which they count, and settlements in canonical order.
    #[expect(clippy::type_complexity, reason = "a settlement beside the two lists that it holds")]
    fn claims(&mut self) -> Result<(Vec<Claim>, Vec<(Placed, Vec<EntryId>, Vec<EntryId>)>)> {
        let deciding = sql_list(kinds::kinds(Role::strikes));
        let places = self.list(
            &format!("SELECT position FROM entry WHERE kind IN ({deciding}) ORDER BY position"),
            &[],
        )?;
        let (mut claims, mut settlements) = (Vec::new(), Vec::new());
        for place in places {
            let placed = self.entry(place)?;
            let (target, decision, strikes) = if let Body::Strike(b) = &placed.entry.body {
                (&b.entry, &b.decision, true)
            } else if let Body::Amend(b) = &placed.entry.body {
                (&b.entry, &b.decision, false)
            } else {
                if kinds::strikes(&placed.entry.body) {
                    settlements.push(placed);
                }
                continue;
            };
            let right = if placed.entry.id.chain.site == target.chain.site {
                Right::Own
            } else if self.is_kept_by_another(&placed, target)? {
                Right::Never
            } else if decision.is_some() {
                Right::Own
            } else {
                Right::Waits
            };
            let (entry, target) = (placed.entry.id.clone(), target.clone());
            claims.push((place, Claim { entry, target, strikes, right }));
        }
        facts::sort(&mut settlements);
        let settled = |placed: Placed| {
            let Body::Decision(b) = &placed.entry.body else { return None };
            let Ruling::Settle { stands, falls } = b.ruling.clone() else { return None };
            Some((placed, stands, falls))
        };
        let settlements: Vec<_> = settlements.into_iter().filter_map(settled).collect();
        let named: BTreeSet<&EntryId> =
            settlements.iter().flat_map(|(_, stands, falls)| stands.iter().chain(falls)).collect();
        // What a book held before it knew the rule stays as it was, until somebody settles it.
        let old = struck_freely::up_to(self.conn, self.path)?;
        let claims = claims
            .into_iter()
            .map(|(place, claim)| {
                let old = place <= old && !named.contains(&claim.entry);
                let waits = claim.right == Right::Waits;
                Claim { right: if waits && old { Right::Own } else { claim.right }, ..claim }
            })
            .collect();
        Ok((claims, settlements))
    }

    /// Whether an entry names one of another site by which that site's book is kept.
    fn is_kept_by_another(&mut self, by: &Placed, named: &EntryId) -> Result<bool> {
        if by.entry.id.chain.site == named.chain.site {
            return Ok(false);
        }
        let Some(place) = self.position_of(named)? else { return Ok(false) };
        let kind = entries::kind_of(self.conn, self.path, place)?;
        Ok(kind.is_some_and(|kind| kinds::role(kind).keeps()))
    }
}
