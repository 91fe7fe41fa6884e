//! What runs do to a joint, added up: each sum a lower bound, and whether it is exact.

use super::joint::UNTIMED;
use crate::model::{Histogram, Stated};
use crate::schema::{Bounds, DimensionRow, Figures, JointRunRow, RunPartRow, Running, Sums};
use crate::units::Measure;

/// Default distances of the outer places from the shoulders, nm: where the slip area and the upset
/// run-outs are.
pub const PIN_OFFSET: i64 = 600_000_000;
/// See [`PIN_OFFSET`].
pub const BOX_OFFSET: i64 = 900_000_000;

/// A value stated from before the book.
pub fn stated(stated: Option<&Stated>, measure: Measure) -> Bounds {
    match stated {
        Some(Stated::Known(q)) => q.stored(measure).map_or(Bounds::at_least(0), Bounds::exact),
        Some(Stated::Estimated(q)) => Bounds::at_least(q.stored(measure).unwrap_or(0)),
        None => Bounds::at_least(0),
    }
}

/// Marks every sum as a lower bound: something may have happened that nobody wrote down.
pub fn open_all(sums: &mut Running) {
    sums.figures.open();
    sums.makeups.iter_mut().for_each(Bounds::open);
}

/// Adds a share. One that is only estimated adds to what is certain nothing that is exact.
pub fn add(sums: &mut Running, share: &Share, exact: bool) {
    sums.figures.take(&share.figures);
    sums.histogram.add(&share.histogram);
    if !exact {
        sums.figures.open();
    }
    if !share.placed {
        sums.figures.placed_mut().into_iter().for_each(Bounds::open);
    }
}

/// Adds a share that may not count.
pub fn perhaps_add(sums: &mut Running, share: &Share, exact: bool) {
    sums.figures.perhaps_take(&share.figures);
    sums.perhaps.add(&share.histogram);
    if !exact {
        sums.figures.open();
    }
}

/// Adds what adds up at the places alone, as [`add`] does.
pub fn add_placed(sums: &mut Sums, share: &Share, exact: bool) {
    for (sum, value) in sums.placed_mut().into_iter().zip(share.figures.placed()) {
        sum.add(value);
        if !exact || !share.placed {
            sum.open();
        }
    }
}

/// What one run, or a part of one, adds.
#[derive(Clone, Debug, PartialEq)]
pub struct Share {
    /// Its figures; those that stand at places of the joint at the places of *now*, wherever those
    /// were in the run.
    pub figures: Figures,
    /// It is known how the places of now lie to those of the run; else theirs is no less than that of
    /// the place hit least.
    pub placed: bool,
    /// Turns and hours by dogleg.
    pub histogram: Histogram,
}

/// Distances of the three places from the datum (the pin shoulder that the joint entered with), nm.
pub type Places = [i64; 3];

/// What of a joint's measures tells where its places are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stand {
    /// Length from shoulder to shoulder, nm; `None` where it is not known.
    pub length: Option<i64>,
    /// Metal gone from the pin end, nm; `None` where a cut of it was not measured.
    pub removed: Option<i64>,
}

impl Stand {
    /// Of a joint as it was; of one that nobody measured where there is none.
    pub fn of(dims: Option<&DimensionRow>) -> Self {
        Self {
            length: dims.and_then(|d| d.length),
            removed: dims.map_or(Some(0), |d| d.pin_removed),
        }
    }

    fn places(self) -> Option<Places> {
        Some(places(self.length?, self.removed?, PIN_OFFSET, BOX_OFFSET))
    }
}

/// How the places of a joint in a run lie to those of now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shift {
    /// Nothing was taken off in between, as far as anybody measured.
    None,
    /// From the places of the run to those of now.
    By(Places, Places),
    /// Some was taken off, and nobody measured how much.
    Unknown,
}

impl Shift {
    /// From a run in which the joint, so measured, was of a length, to how it is now.
    pub fn between(then: Stand, length: i64, now: Stand) -> Self {
        let of_run = Stand { length: Some(length), ..then };
        match (of_run.places(), now.places()) {
            (Some(then), Some(now)) if then == now => Self::None,
            (Some(then), Some(now)) => Self::By(then, now),
            _ if then == now => Self::None,
            _ => Self::Unknown,
        }
    }

    /// Damage at the places of now.
    pub fn damage(self, damage: [Option<i64>; 3]) -> [Option<i64>; 3] {
        match self {
            Self::None => damage,
            Self::By(then, now) => at_places(&now, &then, damage, between),
            Self::Unknown => [least(damage); 3],
        }
    }

    /// Turns and hours of a state at the places of now: of two places of the run that one of now lies
    /// between the larger, for a count above a limit falls off nobody knows how.
    fn count(self, turns: [Option<i64>; 3]) -> [Option<i64>; 3] {
        match self {
            Self::None => turns,
            Self::By(then, now) => at_places(&now, &then, turns, |_, _, _, a, b| a.max(b)),
            Self::Unknown => [least(turns); 3],
        }
    }
}

/// The least of three places; `None` where one is not known.
fn least([pin, middle, box_end]: [Option<i64>; 3]) -> Option<i64> {
    Some(pin?.min(middle?).min(box_end?))
}

/// Places of a joint of a length whose pin end has lost `removed`.
fn places(length: i64, removed: i64, pin_offset: i64, box_offset: i64) -> Places {
    [removed + pin_offset, removed + length / 2, removed + length - box_offset]
}

/// A figure at the places of now of a run whose places stood elsewhere on the body: beyond the outer
/// ones of the run theirs, between two of them what `between` makes of where it lies.
fn at_places(
    now: &Places,
    then: &Places,
    figure: [Option<i64>; 3],
    between: fn(i64, i64, i64, i64, i64) -> i64,
) -> [Option<i64>; 3] {
    let [a, b, c] = match figure {
        [Some(a), Some(b), Some(c)] => [a, b, c],
        // What is no tube has one figure of its body, however long it is; its pin has its own as long
        // as that is the pin that was in the run.
        [pin, Some(body), None] => return [pin.filter(|_| now[0] == then[0]), Some(body), None],
        _ => return [None; 3],
    };
    now.map(|x| {
        Some(if x <= then[0] {
            a
        } else if x <= then[1] {
            between(x, then[0], then[1], a, b)
        } else if x <= then[2] {
            between(x, then[1], then[2], b, c)
        } else {
            c
        })
    })
}

/// Damage between two places, taken as linear: the curvature of a pulled joint in a bend falls off
/// convexly from the tool joint, so a straight line never claims less than was there.
fn between(x: i64, x0: i64, x1: i64, y0: i64, y1: i64) -> i64 {
    if x1 <= x0 {
        return y0.max(y1);
    }
    let part = i128::from(y1 - y0) * i128::from(x - x0);
    let step = part.div_euclid(i128::from(x1 - x0));
    i64::try_from(i128::from(y0) + step).unwrap_or(i64::MAX)
}

impl Share {
    /// What a whole run adds.
    pub fn of_run(run: &JointRunRow, shift: Shift) -> Self {
        Self::of(&run.figures, &run.histogram, shift)
    }

    fn of(figures: &Figures, histogram: &[u8], shift: Shift) -> Self {
        let histogram = Histogram::decode(histogram).unwrap_or_default();
        let mut share = Self { figures: figures.clone(), placed: true, histogram };
        share.put(figures, shift);
        share
    }

    /// Puts what adds up at the places of a run where the places are now.
    pub fn put(&mut self, run: &Figures, shift: Shift) {
        self.figures.put(run, |damage| shift.damage(damage), |count| shift.count(count));
        self.placed = shift != Shift::Unknown;
    }

    /// The least and the most that a whole run holds after an instant in it, where nobody knows when in
    /// the run it was: what the clock leaves room for.
    pub fn somewhere_after(&self, run: &JointRunRow, at: i64) -> (Figures, Figures) {
        let (whole, mut most) = (&self.figures, self.figures.clone());
        let mut least = Figures::default();
        let (before, after) = (at - run.start, run.finish - at);
        let fits = |hours: &i64| run.flags & UNTIMED != 0 && *hours <= before + after;
        let room = |hours: i64| ((hours - before).max(0), hours.min(after));
        if let Some((lo, hi)) = whole.cased_hours.filter(fits).map(room) {
            (least.cased_hours, most.cased_hours) = (Some(lo), Some(hi));
        }
        if let Some(hours) = whole.hours.filter(fits) {
            let (lo, hi) = room(hours);
            (least.hours, most.hours) = (Some(lo), Some(hi));
            // A summary tells one speed.
            if let Some(turns) = whole.revolutions.filter(|_| hours > 0) {
                let exact = |part: i64| turns as f64 * part as f64 / hours as f64;
                #[expect(clippy::cast_possible_truncation, reason = "a part of a whole number")]
                let share = |part: i64| exact(part) as i64;
                let up = |part: i64| share(part) + i64::from(exact(part) > share(part) as f64);
                least.revolutions = Some(share(lo));
                most.revolutions = Some(turns.min(up(hi)));
            }
        }
        (least, most)
    }

    /// What is left of this share, a whole run's, after the part of the run before a cut.
    #[must_use]
    pub fn after(&self, part: &RunPartRow, shift: Shift) -> Self {
        let before = Self::of(&part.figures, &part.histogram, shift);
        let mut histogram = self.histogram.clone();
        histogram.subtract(&before.histogram);
        let mut figures = self.figures.after(&before.figures, &part.after);
        if !self.placed {
            // What is least of the whole less what is least of a part bounds nothing.
            figures.put(&Figures::default(), |_| [None; 3], |_| [None; 3]);
        }
        Self { figures, placed: self.placed, histogram }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cut_back_takes_its_metal_away() {
        let then = places(9_500_000_000, 0, 600_000_000, 900_000_000);
        let damage = [Some(100), Some(20), Some(60)];
        let stand = Stand { length: Some(9_500_000_000), removed: Some(0) };
        assert_eq!(Shift::between(stand, 9_500_000_000, stand), Shift::None);
        let cut = Stand { length: None, removed: None };
        let unmeasured = Shift::between(stand, 9_500_000_000, cut);
        assert_eq!(unmeasured.damage(damage), [Some(20); 3]);
        // One metre off the pin end: the new pin place stood between the old one and the middle.
        let now = places(8_500_000_000, 1_000_000_000, 600_000_000, 900_000_000);
        assert_eq!(now[0], 1_600_000_000);
        let moved = at_places(&now, &then, damage, between);
        assert_eq!(moved[0], Some(100 - 80 * 1_000 / 4_150 - 1));
        assert_eq!(moved[2], Some(60));
        assert_eq!(at_places(&now, &then, [Some(1), None, Some(1)], between), [None; 3]);
    }

    #[test]
    fn unknown_values_make_a_sum_a_lower_bound() {
        let mut sum = Bounds::default();
        sum.add(Some(5));
        assert_eq!(sum, Bounds::exact(5));
        sum.add(None);
        assert_eq!(sum, Bounds::at_least(5));
        let mut largest = Bounds::exact(7);
        largest.raise_within(Some(5), Some(5));
        assert_eq!(largest, Bounds::exact(7));
        largest.raise_within(None, None);
        assert_eq!(largest, Bounds::at_least(7));
    }
}
