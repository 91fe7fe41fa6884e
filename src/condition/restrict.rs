//! Which restrictions a joint carries on after a verdict.

use crate::model::{Scope, Work};

use super::criterion::Criterion;
use super::repair::Works;
use super::restriction::Restriction;
use super::verdict::Verdict;

/// Restrictions after a verdict: those it gives, and those carried before that nothing ended.
///
/// A restriction ends by work that ends it, or by an inspection that looked for its cause and gave
/// it no more: for hardband, one that measured its height. Looking at less lifts nothing.
pub fn restrictions_after(
    before: &[Restriction],
    verdict: &Verdict,
    done: &[Work],
    works: &Works,
) -> Vec<Restriction> {
    let looked = |r: Restriction| match r {
        Restriction::OpenHoleOrProtectors => {
            verdict.covered.contains(&Scope::Hardband)
                && verdict
                    .judgements
                    .iter()
                    .any(|j| j.criterion == Criterion::HardbandHeight && j.age.is_none())
        }
        Restriction::CorrosionPlan => verdict.covered.contains(&Scope::Bore),
        Restriction::LiftSubOnly => verdict.covered.contains(&Scope::Grooves),
        Restriction::WornTorque | Restriction::OwnerUse => false,
    };
    let mut after: Vec<Restriction> = before
        .iter()
        .copied()
        .filter(|r| !looked(*r) && !done.iter().any(|w| works.ends_restriction(*w, *r)))
        .chain(verdict.restrictions.iter().copied())
        .collect();
    after.sort_unstable();
    after.dedup();
    after
}
