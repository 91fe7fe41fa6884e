//! Readings in force, by the one rule of every fold that keeps them: a later day's reading takes
//! the place of an earlier one, and of the readings of one day, at whatever place and by whatever
//! entry, the worst stands. Pipe does not heal within a day, and readings of one day have no order
//! that the rows of a file could not turn round.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::condition::{Amount, Measured, Unlikely, Works};
use crate::model::{End, Instant, Reading, ReadingKind, RepairBody, Vocabulary, Worse, fold};
use crate::units::Measure;

use super::dims::Nominal;
use super::facts::Placed;

/// What was read, and on which end.
type Kind = (ReadingKind, Option<End>);

/// A reading in force.
#[derive(Clone, Copy, Debug)]
struct InForce {
    measured: Measured,
    /// Nanometres; none for a share of a dimension that nobody knows.
    nm: Option<i64>,
    /// Part of the nominal dimension, quanta of a ratio; as it was written where it was written so.
    share: Option<i64>,
    /// An instrument of its entry, this reading's or another's, was in doubt.
    entry_in_doubt: bool,
}

/// Readings of one kind, of the last day on which it was read.
#[derive(Clone, Debug)]
struct OfDay {
    day: NaiveDate,
    at: Instant,
    all: Vec<InForce>,
    /// The worst of the last day before on which it was read by instruments that were not in doubt,
    /// nanometres, and when.
    before: Option<(i64, Instant)>,
}

impl OfDay {
    /// The worst of what instruments that were not in doubt read before a day, on the last day on which
    /// one did, nanometres, and when. What one in doubt read since takes nothing back.
    fn sound_before(&self, day: NaiveDate, kind: Kind) -> Option<(i64, Instant)> {
        let sound = self.all.iter().filter(|r| !r.entry_in_doubt).filter_map(|r| r.nm);
        let of_day = worst(kind, sound).filter(|_| self.day < day).map(|worst| (worst, self.at));
        of_day.or(self.before)
    }
}

/// The readings in force.
#[derive(Clone, Debug, Default)]
pub struct Readings(BTreeMap<Kind, OfDay>);

impl Readings {
    /// Takes in what an entry read: which of it by an instrument in doubt, and whether any
    /// instrument of the entry is.
    pub fn take(
        &mut self,
        placed: &Placed,
        readings: &[Reading],
        nominal: &Nominal,
        in_doubt: &dyn Fn(&Reading) -> bool,
        entry_in_doubt: bool,
    ) {
        let (day, at) = (placed.day(), placed.at());
        for reading in readings {
            let Ok(mut measured) = Measured::read(reading) else { continue };
            let whole = nominal.whole(reading.what);
            let nm = measured.amount.length(whole);
            let share = match measured.amount {
                Amount::OfNominal(share) => Some(share),
                Amount::Length(nm) => whole.and_then(|whole| ratio(nm, whole)),
            };
            measured.doubtful = in_doubt(reading);
            let fresh = |before| OfDay { day, at, all: Vec::new(), before };
            let kind = kind_of(reading);
            let held = self.0.entry(kind).or_insert_with(|| fresh(None));
            if held.day != day {
                *held = fresh(held.sound_before(day, kind));
            }
            held.at = held.at.max(at);
            held.all.push(InForce { measured, nm, share, entry_in_doubt });
        }
    }

    /// Kinds of which it holds a reading.
    pub fn holds(&self, what: ReadingKind, end: Option<End>) -> bool {
        self.0.contains_key(&(what, end))
    }

    /// What two inspections of one day read further apart than their instruments repeat, in words.
    /// What each read at places of its own, none of them the other's, may differ.
    pub fn apart(&self, readings: &[Reading], other: &Self, others: &[Reading]) -> Vec<String> {
        let mut out = Vec::new();
        for (kind, held) in &self.0 {
            let Some(there) = other.0.get(kind) else { continue };
            let of = |held: &OfDay| worst(*kind, held.all.iter().filter_map(|r| r.nm));
            let share = |held: &OfDay| worst(*kind, held.all.iter().filter_map(|r| r.share));
            let (what, end) = *kind;
            let within = match (of(held), of(there)) {
                (Some(a), Some(b)) => (a - b).abs() <= what.repeats_within(),
                // Of shares of a dimension that nobody knows, nobody can say how near they are.
                _ => share(held) == share(there),
            };
            if within || apart_in_place(*kind, readings, others) {
                continue;
            }
            out.push(match end {
                Some(end) => format!("{end} {what}"),
                None => what.to_string(),
            });
        }
        out
    }

    /// Which of these readings, made on a day, earlier ones in force contradict: what came back by more
    /// than an instrument repeats though nothing was repaired, or a wall that was lost though nothing wore
    /// it since an instant. A small change of what is gauged to a limit says nothing, unless the reading
    /// before was beyond it.
    pub fn contradicted(
        &self,
        readings: &[Reading],
        day: NaiveDate,
        nominal: &Nominal,
        unused_since: &dyn Fn(Instant) -> bool,
        beyond_its_limit: &dyn Fn(ReadingKind, Option<End>) -> bool,
    ) -> Vec<Unlikely> {
        // Of several readings of one kind the worst counts.
        let mut made: BTreeMap<Kind, Vec<i64>> = BTreeMap::new();
        let compared = |r: &&Reading| {
            let (what, end) = kind_of(r);
            is_steel(what) || beyond_its_limit(what, end)
        };
        for reading in readings.iter().filter(compared) {
            let length = Measured::read(reading)
                .ok()
                .and_then(|m| m.amount.length(nominal.whole(reading.what)));
            made.entry(kind_of(reading)).or_default().extend(length);
        }
        let mut out = Vec::new();
        for (kind, lengths) in made {
            // Readings of one day have no order: each is held against the days before.
            let earlier = self.0.get(&kind).and_then(|held| held.sound_before(day, kind));
            let (Some((before, since)), Some(read)) = (earlier, worst(kind, lengths.into_iter()))
            else {
                continue;
            };
            let (what, end) = kind;
            let came_back = what.better_by(end, read, before) > what.repeats_within();
            let lost = what == ReadingKind::Wall
                && before - read > what.repeats_within()
                && unused_since(since);
            if came_back || lost {
                out.push(Unlikely { what, end, read, before });
            }
        }
        out
    }

    /// Forgets readings that hold no longer.
    pub fn forget(&mut self, gone: impl Fn(ReadingKind, Option<End>) -> bool) {
        self.0.retain(|(what, end), _| !gone(*what, *end));
    }

    /// The worst reading in force, nanometres. Where one of the day is a share of a dimension that
    /// nobody knows, nobody knows which is the worst.
    pub fn worst(&self, what: ReadingKind, end: Option<End>) -> Option<i64> {
        self.worst_of(what, end, |r| r.nm)
    }

    /// The worst reading in force as a part of the nominal dimension, in quanta of a ratio.
    pub fn worst_share(&self, what: ReadingKind, end: Option<End>) -> Option<i64> {
        self.worst_of(what, end, |r| r.share)
    }

    fn worst_of(
        &self,
        what: ReadingKind,
        end: Option<End>,
        of: impl Fn(&InForce) -> Option<i64>,
    ) -> Option<i64> {
        let all: Option<Vec<i64>> = self.0.get(&(what, end))?.all.iter().map(of).collect();
        worst((what, end), all?.into_iter())
    }

    /// The height of the hardband, nanometres: at the end where it is least.
    pub fn hardband_height(&self) -> Option<i64> {
        let of = |end| self.worst(ReadingKind::HardbandHeight, Some(end));
        End::ALL.iter().filter_map(|end| of(*end)).min()
    }

    /// The largest reading in force on any end, nanometres.
    pub fn largest(&self, what: ReadingKind) -> Option<i64> {
        let of_kind = self.0.iter().filter(|((kind, _), _)| *kind == what);
        of_kind.flat_map(|(_, held)| held.all.iter().filter_map(|r| r.nm)).max()
    }

    /// When it was read, last.
    pub fn read_at(&self, what: ReadingKind, end: Option<End>) -> Option<i64> {
        self.0.get(&(what, end)).map(|held| held.at.0)
    }

    /// Every reading of a day.
    pub fn of_day(&self, day: NaiveDate) -> impl Iterator<Item = Measured> + '_ {
        let held = self.0.values().filter(move |held| held.day == day);
        held.flat_map(|held| held.all.iter().map(|r| r.measured))
    }

    /// What stands in where nothing newer is read: of each kind the worst, one to each side where
    /// either is bad, with the instant of reading. A day's own readings do not stand in for it.
    pub fn before(&self, day: Option<NaiveDate>) -> Vec<(Measured, Instant)> {
        let earlier = self.0.iter().filter(|(_, held)| day != Some(held.day));
        let mut out = Vec::new();
        for (kind, held) in earlier {
            let (what, end) = *kind;
            // Where all were read in doubt, that is known of them.
            let doubtful = held.all.iter().all(|r| r.entry_in_doubt);
            let count = || held.all.iter().filter(|r| doubtful || !r.entry_in_doubt);
            let ends = |values: Vec<i64>| {
                let worst = worst(*kind, values.iter().copied());
                let other = match what.worse(end) {
                    Worse::EitherWay => values.into_iter().max().filter(|m| Some(*m) != worst),
                    Worse::Less | Worse::More => None,
                };
                worst.into_iter().chain(other)
            };
            let lengths = ends(count().filter_map(|r| r.nm).collect()).map(Amount::Length);
            let shares = count().filter(|r| r.nm.is_none()).filter_map(|r| r.share).collect();
            let amounts = lengths.chain(ends(shares).map(Amount::OfNominal));
            let measured = |amount| Measured { what, end, amount, at: None, doubtful };
            out.extend(amounts.map(|amount| (measured(amount), held.at)));
        }
        out
    }
}

/// Readings of metal that wear takes and only a repair gives back. The others are gauged to a limit, and what
/// a gauge repeats there is most of what it reads; a swollen body wears as well.
const fn is_steel(what: ReadingKind) -> bool {
    match what {
        ReadingKind::Wall
        | ReadingKind::BodyOd
        | ReadingKind::SlipOd
        | ReadingKind::JointOd
        | ReadingKind::JointId
        | ReadingKind::Shoulder
        | ReadingKind::Counterbore
        | ReadingKind::CounterboreDepth
        | ReadingKind::TongSpace
        | ReadingKind::PinNeck
        | ReadingKind::HardbandHeight
        | ReadingKind::CentreUpset
        | ReadingKind::ElevatorGroove
        | ReadingKind::SlipGroove => true,
        ReadingKind::BodyOdMax
        | ReadingKind::Bevel
        | ReadingKind::Stretch
        | ReadingKind::Benchmark
        | ReadingKind::ProfileGap
        | ReadingKind::Bow
        | ReadingKind::Length
        | ReadingKind::FlawDepth
        | ReadingKind::AdjacentWall
        | ReadingKind::ReliefDiameter
        | ReadingKind::ReliefWidth
        | ReadingKind::BorebackDiameter => false,
    }
}

/// A length as a part of a whole one, in quanta of a ratio.
fn ratio(nm: i64, whole: i64) -> Option<i64> {
    if whole <= 0 {
        return None;
    }
    let scaled = i128::from(nm) * i128::from(Measure::Ratio.quanta_per_base());
    i64::try_from(scaled.div_euclid(i128::from(whole))).ok()
}

/// The kind of a reading. The hardband that a joint always has is the one at its box.
pub fn kind_of(reading: &Reading) -> (ReadingKind, Option<End>) {
    match (reading.what, reading.end) {
        (ReadingKind::HardbandHeight, None) => (reading.what, Some(End::Box)),
        kind => kind,
    }
}

/// Whether every reading of a kind in both lists says where it was made, and nowhere the same.
fn apart_in_place(kind: Kind, readings: &[Reading], others: &[Reading]) -> bool {
    let places = |list: &[Reading]| -> Option<Vec<(Option<i64>, Option<String>)>> {
        let own = list.iter().filter(|r| kind_of(r) == kind);
        own.map(|r| {
            let at = r.at.as_ref().and_then(|at| at.stored(Measure::JointLength));
            let place = (at, r.position.as_deref().map(fold));
            (place != (None, None)).then_some(place)
        })
        .collect()
    };
    match (places(readings), places(others)) {
        (Some(here), Some(there)) => !here.iter().any(|place| there.contains(place)),
        _ => false,
    }
}

/// The worst of several values; of a dimension that is bad to both sides, the least.
fn worst((what, end): Kind, values: impl Iterator<Item = i64>) -> Option<i64> {
    match what.worse(end) {
        Worse::More => values.max(),
        Worse::Less | Worse::EitherWay => values.min(),
    }
}

/// Whether work leaves a reading void: it changed what was read, on the end worked on or, where
/// one of the two names none, on either.
pub fn voids(works: &Works, repair: &RepairBody, what: ReadingKind, end: Option<End>) -> bool {
    let same_end = end.is_none() || repair.end.is_none() || end == repair.end;
    same_end && works.voids(repair.work, what)
}
