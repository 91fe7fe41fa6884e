//! What runs do to a joint, and what adds up of it: each figure declared once for a run and once for
//! a joint, and everything that is done to all of them alike.

use crate::model::{End, Histogram, HistogramError, read_number, write_number};
use crate::units::Measure as M;

use super::column::{Column, Over, Part};
use super::row::{Columns, Group, Value, group};

/// Source of a run's figures.
pub(super) const LOG: &str = "survey, tally and operating log of the run";
/// Source of a joint's counters.
pub(super) const COUNTED: &str = "runs, and what the joint brought with it";

/// Figures that stand at the three places on a joint and add up there.
pub const PLACED: [AtPlaces; 4] = [DAMAGE, OVER_LIMIT, COMPRESSION, CONTACT];

/// A figure that stands at the three places on a joint: the columns of its runs, in the order pin end,
/// middle, box end.
pub type AtPlaces = [&'static str; 3];

/// Damage at the places.
pub const DAMAGE: AtPlaces = ["damage_pin", "damage_middle", "damage_box"];
/// Largest bending stress at the places.
pub const BENDING: AtPlaces = ["bending_pin", "bending_middle", "bending_box"];
/// Turns above the no-fatigue bend at the places.
pub const OVER_LIMIT: AtPlaces = ["over_limit_pin", "over_limit_middle", "over_limit_box"];

/// Hours in compression at the places.
pub const COMPRESSION: AtPlaces = ["compression_pin", "compression_middle", "compression_box"];
/// Hours at the places in which the tube touched the wall.
pub const CONTACT: AtPlaces = ["contact_pin", "contact_middle", "contact_box"];

/// A sum or a maximum that is exact, or a lower bound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bounds {
    /// What is certain.
    pub lo: i64,
    /// No more than this; `None` when more may have happened.
    pub hi: Option<i64>,
}

impl Default for Bounds {
    /// Nothing happened.
    fn default() -> Self {
        Self::exact(0)
    }
}

impl Bounds {
    /// A value that is known.
    pub const fn exact(value: i64) -> Self {
        Self { lo: value, hi: Some(value) }
    }

    /// A value that may be larger.
    pub const fn at_least(value: i64) -> Self {
        Self { lo: value, hi: None }
    }

    /// It has another upper bound than the lower one.
    fn is_wide(&self) -> bool {
        self.hi.is_some_and(|hi| hi != self.lo)
    }

    /// More may have happened.
    pub const fn open(&mut self) {
        self.hi = None;
    }

    /// Adds a value; one that is not known leaves a lower bound.
    pub const fn add(&mut self, value: Option<i64>) {
        self.add_within(value, value);
    }

    /// Adds a value of which the least and the most are known.
    pub const fn add_within(&mut self, least: Option<i64>, most: Option<i64>) {
        if let Some(v) = least {
            self.lo = self.lo.saturating_add(v);
        }
        self.hi = match (self.hi, most) {
            (Some(hi), Some(v)) => Some(hi.saturating_add(v)),
            _ => None,
        };
    }

    /// Adds a value that may not count.
    pub const fn perhaps_add(&mut self, value: Option<i64>) {
        self.hi = match (self.hi, value) {
            (Some(hi), Some(v)) => Some(hi.saturating_add(v)),
            _ => None,
        };
    }

    /// Takes a value that is larger and may not count.
    pub fn perhaps_raise(&mut self, value: Option<i64>) {
        self.hi = self.hi.zip(value).map(|(hi, v)| hi.max(v));
    }

    /// Takes a value that may be larger, of which the least and the most are known.
    pub fn raise_within(&mut self, least: Option<i64>, most: Option<i64>) {
        self.lo = self.lo.max(least.unwrap_or(self.lo));
        self.hi = self.hi.zip(most).map(|(hi, v)| hi.max(v));
    }

    /// A part of a whole: at least what `least` holds, and no more than what `most` holds or, where
    /// that is open, the whole.
    #[must_use]
    pub fn part_of(least: Self, most: Self, whole: Self) -> Self {
        let hi = most.hi.or(whole.hi).map(|hi| hi.max(least.lo));
        Self { lo: least.lo, hi }
    }

    /// The larger of two.
    #[must_use]
    pub fn larger(self, other: Self) -> Self {
        Self { lo: self.lo.max(other.lo), hi: self.hi.zip(other.hi).map(|(a, b)| a.max(b)) }
    }
}

impl Columns for Bounds {
    fn describe(column: Column, out: &mut Vec<Column>) {
        out.push(column.typed("INTEGER", None).bounded());
    }

    fn write(&self, out: &mut Vec<Value>) {
        out.push(Value::Int(self.lo));
        out.push(self.hi.map_or(Value::Null, Value::Int));
    }

    fn read(
        column: &'static str,
        values: &mut dyn Iterator<Item = Value>,
    ) -> Result<Self, &'static str> {
        let lo = i64::read(column, values)?;
        Ok(Self { lo, hi: Option::read(column, values)? })
    }
}

/// Declares the figures of a run. One that is followed by `largest` and a name is folded by the
/// largest, and the name is the column of a part of a run for the largest after it; the others add up.
macro_rules! figures {
    ($(
        $(#[doc = $doc:literal])*
        $name:ident: $measure:ident $(, largest $after:ident)? $(, $(.$said:ident($($arg:tt)*))+)?;
    )*) => {
        group! {
            /// What a run, or a part of one, did to a joint; none where nobody knows.
            Figures: Default {
                $(
                    $(#[doc = $doc])*
                    $name: Option<i64>,
                        .of(M::$measure).from(LOG).part(figures!(@part $($after)?))
                        $($(.$said($($arg)*))+)?;
                )*
            }
        }

        group! {
            /// The largest of a run after an instant that cuts it; sums after it are the whole less
            /// the part before.
            AfterCut: Default {
                $($(
                    /// the largest after the cut
                    $after: Option<i64>, .of(M::$measure);
                )?)*
            }
        }

        /// Figures of runs, summed or maximised.
        #[derive(Clone, Debug, PartialEq, Default)]
        #[allow(clippy::doc_markdown, reason = "what a column means is read by people, as it is")]
        pub struct Sums { $($(#[doc = $doc])* pub $name: Bounds,)* }

        impl Sums {
            /// Takes in the figures of a run; one that is not known leaves a lower bound.
            pub fn take(&mut self, figures: &Figures) {
                self.take_within(figures, figures);
            }

            /// Takes in figures of which the least and the most are known.
            pub fn take_within(&mut self, least: &Figures, most: &Figures) {
                $(figures!(@take self.$name, least.$name, most.$name $(, $after)?);)*
            }

            /// Those of a part of a whole (`Bounds::part_of`).
            fn part_of(least: &Self, most: &Self, whole: &Self) -> Self {
                Self { $($name: Bounds::part_of(least.$name, most.$name, whole.$name),)* }
            }

            /// Takes in the figures of a run that may not count.
            pub fn perhaps_take(&mut self, figures: &Figures) {
                $(figures!(@perhaps self.$name, figures.$name $(, $after)?);)*
            }

            /// More may have happened, of each.
            pub const fn open(&mut self) {
                $(self.$name.open();)*
            }

            fn all(&self) -> impl Iterator<Item = &Bounds> {
                [$(&self.$name),*].into_iter()
            }

            fn all_mut(&mut self) -> impl Iterator<Item = &mut Bounds> {
                [$(&mut self.$name),*].into_iter()
            }
        }

        impl Figures {
            /// Those of which the largest counts, of the time after a cut.
            pub const fn largest(&self) -> AfterCut {
                AfterCut { $($($after: self.$name,)?)* }
            }

            /// What is left after the part of a run before a cut.
            #[must_use]
            pub fn after(&self, before: &Self, after: &AfterCut) -> Self {
                let less = |a: Option<i64>, b: Option<i64>| Some(a? - b?);
                Self { $($name: figures!(@rest self, before, after, less, $name $(, $after)?),)* }
            }
        }
    };
    (@part) => { Part::Sums };
    (@part $after:ident) => { Part::Largest(stringify!($after)) };
    (@take $sum:expr, $least:expr, $most:expr) => { $sum.add_within($least, $most) };
    (@take $sum:expr, $least:expr, $most:expr, $after:ident) => {
        $sum.raise_within($least, $most)
    };
    (@perhaps $sum:expr, $value:expr) => { $sum.perhaps_add($value) };
    (@perhaps $sum:expr, $value:expr, $after:ident) => { $sum.perhaps_raise($value) };
    (@rest $self:ident, $before:ident, $after:ident, $less:ident, $name:ident) => {
        $less($self.$name, $before.$name)
    };
    (@rest $self:ident, $before:ident, $after:ident, $less:ident, $name:ident, $largest:ident) => {
        $after.$largest
    };
}

figures! {
    /// rotating hours of the joint
    hours: Hours, .also(&["rotating_hours"]);
    /// turns of the joint
    revolutions: Turns, .also(&["turns", "revs"]).titled("turns");
    /// hole drilled while the joint was in the string
    footage: Depth, .titled("drilled");
    /// sharpest bend anywhere along the joint while it turned
    max_dogleg: Dogleg, largest after_dogleg, .also(&["dogleg"]).titled("sharpest bend");
    /// largest tension of the joint while rotating
    max_tension: Force, largest after_tension, .also(&["tension"]).titled("most pull");
    /// largest bending stress near the pin end
    bending_pin: Stress, largest after_bending_pin, .titled("bending, pin end");
    /// largest bending stress of the tube between its ends
    bending_middle: Stress, largest after_bending_middle, .titled("bending, middle");
    /// largest bending stress near the box end
    bending_box: Stress, largest after_bending_box, .titled("bending, box end");
    /// fatigue damage near the pin end
    damage_pin: Damage, .titled("pin end");
    /// fatigue damage at the middle
    damage_middle: Damage, .titled("middle");
    /// fatigue damage near the box end
    damage_box: Damage, .titled("box end");
    /// turns above the no-fatigue bend near the pin end
    over_limit_pin: Turns, .titled("above no-fatigue bend, pin end");
    /// turns above the no-fatigue bend at the middle
    over_limit_middle: Turns, .titled("above no-fatigue bend, middle");
    /// turns above the no-fatigue bend near the box end
    over_limit_box: Turns, .titled("above no-fatigue bend, box end");
    /// rotating hours in compression near the pin end
    compression_pin: Hours, .titled("in compression, pin end");
    /// rotating hours in compression at the middle
    compression_middle: Hours, .titled("in compression, middle");
    /// rotating hours in compression near the box end
    compression_box: Hours, .titled("in compression, box end");
    /// rotating hours in which the tube touched the wall, as it bent near the pin end
    contact_pin: Hours, .titled("tube on the wall, pin end");
    /// rotating hours in which the tube touched the wall, as it bent at the middle
    contact_middle: Hours, .titled("tube on the wall, middle");
    /// rotating hours in which the tube touched the wall, as it bent near the box end
    contact_box: Hours, .titled("tube on the wall, box end");
    /// rotating hours buckled in the hole, told for the middle
    buckled_hours: Hours, .titled("buckled");
    /// rotating hours inside casing or riser
    cased_hours: Hours, .titled("cased");
    /// turns in open hole
    open_turns: Turns, .also(&["open_hole_turns"]);
    /// work of the side force on the tool joint
    side_work: Work, .titled("side-force work");
}

impl Figures {
    /// Damage at the three places.
    pub const fn damage(&self) -> [Option<i64>; 3] {
        [self.damage_pin, self.damage_middle, self.damage_box]
    }

    /// Largest bending stress at the three places.
    pub const fn bending(&self) -> [Option<i64>; 3] {
        [self.bending_pin, self.bending_middle, self.bending_box]
    }

    /// Turns above the no-fatigue bend at the three places.
    pub const fn over_limit(&self) -> [Option<i64>; 3] {
        [self.over_limit_pin, self.over_limit_middle, self.over_limit_box]
    }

    /// Hours in compression at the three places.
    pub const fn compression(&self) -> [Option<i64>; 3] {
        [self.compression_pin, self.compression_middle, self.compression_box]
    }

    /// Hours at the three places in which the tube touched the wall.
    pub const fn contact(&self) -> [Option<i64>; 3] {
        [self.contact_pin, self.contact_middle, self.contact_box]
    }

    /// What adds up at a place of the joint, as [`Sums::placed`] has it.
    pub fn placed(&self) -> impl Iterator<Item = Option<i64>> {
        [self.damage(), self.over_limit(), self.compression(), self.contact()].into_iter().flatten()
    }

    /// Puts what adds up at the places of a run where they are now: damage by one rule, counts and
    /// hours by another.
    pub fn put(
        &mut self,
        of: &Self,
        damage: impl Fn([Option<i64>; 3]) -> [Option<i64>; 3],
        count: impl Fn([Option<i64>; 3]) -> [Option<i64>; 3],
    ) {
        [self.damage_pin, self.damage_middle, self.damage_box] = damage(of.damage());
        [self.over_limit_pin, self.over_limit_middle, self.over_limit_box] = count(of.over_limit());
        [self.compression_pin, self.compression_middle, self.compression_box] =
            count(of.compression());
        [self.contact_pin, self.contact_middle, self.contact_box] = count(of.contact());
    }

    /// Damage at the place hit hardest; `None` when it is not known.
    pub fn worst_damage(&self) -> Option<i64> {
        worst(self.damage())
    }

    /// Largest bending stress at any place; `None` when it is not known.
    pub fn worst_bending(&self) -> Option<i64> {
        worst(self.bending())
    }

    /// Turns above the no-fatigue bend at the place that made most of them; `None` when not known.
    pub fn worst_over_limit(&self) -> Option<i64> {
        worst(self.over_limit())
    }

    /// Hours in compression at the place that had most of them; `None` when not known.
    pub fn worst_compression(&self) -> Option<i64> {
        worst(self.compression())
    }

    /// Hours on the wall at the place that had most of them; `None` when not known.
    pub fn worst_contact(&self) -> Option<i64> {
        worst(self.contact())
    }
}

/// The largest of the places.
fn largest([pin, middle, box_end]: [Bounds; 3]) -> Bounds {
    pin.larger(middle).larger(box_end)
}

/// The worst of the places; `None` when one of them is not known.
fn worst([pin, middle, box_end]: [Option<i64>; 3]) -> Option<i64> {
    Some(pin?.max(middle?).max(box_end?))
}

impl Sums {
    /// Damage at the three places.
    pub const fn damage(&self) -> [Bounds; 3] {
        [self.damage_pin, self.damage_middle, self.damage_box]
    }

    /// Turns above the no-fatigue bend at the three places.
    pub const fn over_limit(&self) -> [Bounds; 3] {
        [self.over_limit_pin, self.over_limit_middle, self.over_limit_box]
    }

    /// Hours in compression at the three places.
    pub const fn compression(&self) -> [Bounds; 3] {
        [self.compression_pin, self.compression_middle, self.compression_box]
    }

    /// Hours at the three places in which the tube touched the wall.
    pub const fn contact(&self) -> [Bounds; 3] {
        [self.contact_pin, self.contact_middle, self.contact_box]
    }

    /// What adds up at a place of the joint, in the order of [`PLACED`]: runs count there by where the
    /// place was in them.
    pub fn placed(&self) -> impl Iterator<Item = Bounds> {
        [self.damage(), self.over_limit(), self.compression(), self.contact()].into_iter().flatten()
    }

    /// See [`Self::placed`].
    pub const fn placed_mut(&mut self) -> [&mut Bounds; 12] {
        [
            &mut self.damage_pin,
            &mut self.damage_middle,
            &mut self.damage_box,
            &mut self.over_limit_pin,
            &mut self.over_limit_middle,
            &mut self.over_limit_box,
            &mut self.compression_pin,
            &mut self.compression_middle,
            &mut self.compression_box,
            &mut self.contact_pin,
            &mut self.contact_middle,
            &mut self.contact_box,
        ]
    }
}

/// What a joint's runs and make-ups add up to.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Running {
    /// Figures of its runs.
    pub figures: Sums,
    /// Make-ups of the present generation of the pin and of the box.
    pub makeups: [Bounds; 2],
    /// Damage that it brought to its worst place, whichever that is, where that is still whole.
    pub brought: i64,
    /// Turns and hours by dogleg.
    pub histogram: Histogram,
    /// The same of runs that may not count, with which no state is kept.
    pub perhaps: Histogram,
}

impl Running {
    /// Make-ups of the present generation of an end.
    pub const fn makeups_of(&self, end: End) -> Bounds {
        self.makeups[end as usize]
    }

    /// What lies in a part of a whole: at least `least`, and no more than `most` or, where that is
    /// open, the whole.
    #[must_use]
    pub fn part_of(least: &Self, most: &Self, whole: &Self) -> Self {
        let makeups =
            |end: usize| Bounds::part_of(least.makeups[end], most.makeups[end], whole.makeups[end]);
        Self {
            figures: Sums::part_of(&least.figures, &most.figures, &whole.figures),
            makeups: [makeups(0), makeups(1)],
            // A lower bound.
            histogram: least.histogram.clone(),
            perhaps: most.perhaps.clone(),
            // Nobody knows whether what it brought lies in the part.
            brought: 0,
        }
    }

    /// As a state of a joint keeps it: one bit for each sum that has no upper bound, one for each
    /// that has another one than the lower, the bounds, what was brought, the histogram. A sum that
    /// is exact has one value.
    pub fn encode(&self) -> Vec<u8> {
        let sums = || self.figures.all().chain(&self.makeups);
        let bits = |of: fn(&Bounds) -> bool| {
            (0..).zip(sums()).fold(0, |bits, (n, sum)| bits | i64::from(of(sum)) << n)
        };
        let mut out = Vec::new();
        write_number(bits(|s| s.hi.is_none()), &mut out);
        write_number(bits(Bounds::is_wide), &mut out);
        for sum in sums() {
            write_number(sum.lo, &mut out);
            if let Some(hi) = sum.hi.filter(|_| sum.is_wide()) {
                write_number(hi, &mut out);
            }
        }
        write_number(self.brought, &mut out);
        out.extend(self.histogram.encode());
        out
    }

    /// Reads what [`Self::encode`] wrote.
    pub fn decode(mut bytes: &[u8]) -> Result<Self, HistogramError> {
        let mut running = Self::default();
        let (open, wide) = (read_number(&mut bytes)?, read_number(&mut bytes)?);
        for (n, sum) in (0..).zip(running.figures.all_mut().chain(&mut running.makeups)) {
            let lo = read_number(&mut bytes)?;
            let hi = if wide >> n & 1 == 1 { read_number(&mut bytes)? } else { lo };
            *sum = Bounds { lo, hi: (open >> n & 1 == 0).then_some(hi) };
        }
        running.brought = read_number(&mut bytes)?;
        running.histogram = Histogram::decode(bytes)?;
        Ok(running)
    }

    /// Damage of the joint: the worst place that is left of it. Wherever the damage stands that it
    /// brought, what runs added to the place hit least is on top of that.
    pub fn worst_damage(&self) -> Bounds {
        let [pin, middle, box_end] = self.figures.damage();
        let worst = largest([pin, middle, box_end]);
        if self.brought == 0 {
            return worst;
        }
        let least = pin.lo.min(middle.lo).min(box_end.lo);
        Bounds { lo: worst.lo.max(self.brought.saturating_add(least)), ..worst }
    }

    /// Turns of the joint above the no-fatigue bend: the place that made most of them.
    pub fn worst_over_limit(&self) -> Bounds {
        largest(self.figures.over_limit())
    }

    /// Hours of the joint in compression: the place that had most of them.
    pub fn worst_compression(&self) -> Bounds {
        largest(self.figures.compression())
    }

    /// Hours of the joint in which its tube touched the wall: the place that had most of them.
    pub fn worst_contact(&self) -> Bounds {
        largest(self.figures.contact())
    }
}

/// Declares the counters of a joint. `runs` stands for the figure of a run of the same name, `makeups`
/// for those of an end, a function and the columns of three places for the worst of these.
macro_rules! counters {
    ($(
        $(#[doc = $doc:literal])*
        $name:ident: $measure:ident, $over:ident $($end:ident)? $(, $(.$said:ident($($arg:tt)*))+)?;
    )*) => {
        group! {
            /// Counters of a joint over its life, or since an inspection.
            Totals {
                $(
                    $(#[doc = $doc])*
                    $name: Bounds,
                        .of(M::$measure).from(COUNTED).over(counters!(@over $name $over $($end)?))
                        $($(.$said($($arg)*))+)?;
                )*
                /// turns and hours by dogleg band, a lower bound
                histogram: Vec<u8>;
                /// the same with runs that may not count, where there are any
                histogram_most: Option<Vec<u8>>;
            }
        }

        impl Running {
            /// As a joint's row, or its row since an inspection, keeps them.
            pub fn totals(&self) -> Totals {
                Totals {
                    $($name: counters!(@value self $name $over $($end)?),)*
                    histogram: self.histogram.encode(),
                    histogram_most: (self.perhaps != Histogram::default()).then(|| {
                        let mut most = self.histogram.clone();
                        most.add(&self.perhaps);
                        most.encode()
                    }),
                }
            }
        }
    };
    (@over $name:ident runs) => {
        Over::Runs(stringify!($name), part_of(stringify!($name)))
    };
    (@over $name:ident makeups $end:ident) => { Over::Makeups(End::$end) };
    (@over $name:ident $worst:ident $places:ident) => { Over::WorstPlace(&$places) };
    (@value $self:ident $name:ident runs) => { $self.figures.$name };
    (@value $self:ident $name:ident makeups $end:ident) => { $self.makeups_of(End::$end) };
    (@value $self:ident $name:ident $worst:ident $places:ident) => { $self.$worst() };
}

counters! {
    /// rotating hours
    hours: Hours, runs, .also(&["rotating_hours"]).titled("rotating hours");
    /// turns of the pipe
    revolutions: Turns, runs, .also(&["turns", "revs"]).titled("turns");
    /// hole drilled while it was in the string
    footage: Depth, runs, .titled("drilled");
    /// used part of fatigue life at its worst place; a ranking index, not a forecast
    damage: Damage, worst_damage DAMAGE, .also(&["fatigue"]);
    /// make-ups of the present generation of the pin
    pin_makeups: Count, makeups Pin, .titled("pin make-ups");
    /// make-ups of the present generation of the box
    box_makeups: Count, makeups Box, .titled("box make-ups");
    /// sharpest bend anywhere along it while it turned
    max_dogleg: Dogleg, runs, .titled("sharpest bend");
    /// largest tension while rotating
    max_tension: Force, runs, .titled("most pull");
    /// rotating hours inside casing or riser
    cased_hours: Hours, runs;
    /// turns in open hole
    open_turns: Turns, runs, .also(&["open_hole_turns"]);
    /// work of the side force on the tool joint, which wears its diameter
    side_work: Work, runs;
    /// turns above the no-fatigue bend at its worst place
    over_limit: Turns, worst_over_limit OVER_LIMIT, .also(&["over_limit_turns"])
        .titled("turns above the no-fatigue bend");
    /// rotating hours in compression at its place that had most of them
    compression_hours: Hours, worst_compression COMPRESSION, .titled("hours in compression");
    /// rotating hours in which its tube touched the wall, at the place that had most of them
    contact_hours: Hours, worst_contact CONTACT, .titled("hours on the wall");
    /// rotating hours buckled in the hole
    buckled_hours: Hours, runs, .titled("hours buckled");
}

/// How the figure of a run of a name is folded.
fn part_of(name: &str) -> Part {
    let figure = Figures::columns().iter().find(|c| c.name == name);
    figure.and_then(|c| c.part).unwrap_or(Part::Sums)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_are_read_as_they_were_written() {
        let mut running = Running::default();
        for (n, sum) in (1..).zip(running.figures.all_mut().chain(&mut running.makeups)) {
            let value = n * 1_000_003;
            *sum = match n % 3 {
                0 => Bounds::at_least(value),
                1 => Bounds { lo: value, hi: Some(value + 7) },
                _ => Bounds::exact(value),
            };
        }
        running.brought = 42;
        running.histogram.put(7, 12, 34);
        assert_eq!(Running::decode(&running.encode()), Ok(running.clone()));
        assert!(Running::decode(&running.encode()[..9]).is_err());
    }
}
