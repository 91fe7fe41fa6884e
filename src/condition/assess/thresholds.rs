//! Limits of one joint as plain dimensions, for a sheet that is filled in at the rack.

use crate::model::{ReadingKind, Vocabulary};
use crate::units::Rational;

use crate::condition::criterion::{Criterion, Take};
use crate::condition::limit::{Comparison, Limit};
use crate::condition::standards::Standards;
use crate::condition::subject::{Amount, Subject};
use crate::condition::verdict::Judged;
use crate::condition::words::Part;

use super::Assessment;
use super::evaluate::Candidate;

/// A limit of this joint as a length.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Threshold {
    pub criterion: Criterion,
    pub part: Part,
    /// The reading that is held against it.
    pub reading: ReadingKind,
    /// The limit exactly, nanometres.
    pub exact: Rational,
    /// The limit to the nearest nanometre on the safe side: a reading that keeps this keeps the
    /// limit.
    pub at: i64,
    /// The limit itself, with class, comparison and source.
    pub limit: Limit,
}

/// Every limit that readings of this joint will be held against, tube first, as lengths. Limits
/// whose nominal dimension is not known are left out.
pub fn thresholds(subject: &Subject, standards: &Standards) -> Vec<Threshold> {
    let bench = Assessment::new(subject, standards);
    let mut out = Vec::new();
    for part in bench.parts() {
        for criterion in Criterion::ALL.iter().copied().filter(|c| c.judges(part)) {
            let Take::Reading(reading) = criterion.spec().take else { continue };
            // Wear inside is held against the same wall, where someone saw it.
            if criterion == Criterion::ErosionWall {
                continue;
            }
            // A body is held against what even wear within a class leaves, where that is less.
            let limits = match criterion {
                Criterion::StretchOd => bench.diameters_left_by_wear(),
                _ => bench.limits_for(criterion, part),
            };
            for limit in limits {
                let probe = Candidate::new(criterion, part, Judged::Read(Amount::Length(0)));
                let Ok(exact) = bench.limit_as_length(&probe, &limit) else { continue };
                if let Some(at) = safe_side(exact, limit.comparison) {
                    out.push(Threshold {
                        criterion,
                        part,
                        reading,
                        exact,
                        at,
                        limit: limit.into_owned(),
                    });
                }
            }
        }
    }
    out
}

fn safe_side(exact: Rational, comparison: Comparison) -> Option<i64> {
    let floor = exact.numerator().div_euclid(exact.denominator());
    let whole = exact.denominator() == 1;
    i64::try_from(match comparison {
        Comparison::AtLeast => floor + i128::from(!whole),
        Comparison::Above => floor + 1,
        Comparison::AtMost => floor,
        Comparison::Below => floor - i128::from(whole),
        Comparison::Absent | Comparison::Equal => return None,
    })
    .ok()
}
