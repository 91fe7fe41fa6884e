//! Which unit stands at which place, so that the worst of what comes of it is least, then the next
//! worst, and so on.
//!
//! An assignment with a lexicographic bottleneck objective (Burkard and Rendl, "Lexicographic bottleneck
//! problems", Operations Research Letters 10, 1991). It goes from the worst cost down. While the places
//! that have the worst cost can all be given something better by paths that alternate between what is
//! assigned and what is not, they are. Where they cannot, that cost is met by every order: as few
//! places as possible have it, which is an assignment with the costs nought and one, and of the pairs
//! only those remain that some such assignment has: those whose reduced cost is nought by its dual
//! solution. So each worst cost is proved as it is found, ties among them, and the first of them is the
//! bound below which no order can come.
//!
//! Libraries find matchings of most pairs and assignments of the least sum. Neither tells which pairs
//! the best ones share, which the next level rests on.

use std::collections::VecDeque;

/// What it costs to have each unit at each place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Costs {
    places: usize,
    units: usize,
    /// By place, then by unit; `None` where the unit may not stand.
    pairs: Vec<Option<i64>>,
}

/// No unit, or no place.
const NONE: usize = usize::MAX;
/// What is neither proved nor open: a pair that is out of the question.
const OUT: i64 = i64::MAX;
/// A place that is only there so that all units have one.
const SPARE: i64 = i64::MIN;

impl Costs {
    /// Works out what each pair costs.
    pub fn new(
        places: usize,
        units: usize,
        mut cost: impl FnMut(usize, usize) -> Option<i64>,
    ) -> Self {
        let pairs = (0..places).flat_map(|p| (0..units).map(move |u| (p, u)));
        // The two ends of the numbers mean something else here.
        let inside = |c: i64| c.clamp(SPARE + 1, OUT - 1);
        let pairs = pairs.map(|(p, u)| cost(p, u).map(inside)).collect();
        Self { places, units, pairs }
    }

    pub const fn places(&self) -> usize {
        self.places
    }

    pub const fn units(&self) -> usize {
        self.units
    }

    /// What it costs to have a unit at a place; `None` where it may not stand there.
    pub fn at(&self, place: usize, unit: usize) -> Option<i64> {
        self.pairs.get(place * self.units + unit).copied().flatten()
    }

    /// What an order costs, the worst first; `None` where it has a unit where that may not stand.
    pub fn vector(&self, order: &[usize]) -> Option<Vec<i64>> {
        let each = order.iter().enumerate().map(|(p, u)| self.at(p, *u));
        let mut all = each.collect::<Option<Vec<i64>>>()?;
        all.sort_unstable_by(|a, b| b.cmp(a));
        Some(all)
    }

    /// The unit at each place in the best of all orders; `None` where no order gives each place a unit.
    ///
    /// The answer depends on the costs alone and, among orders that cost the same, on the numbers of
    /// units and places.
    pub fn best(&self) -> Option<Vec<usize>> {
        let mut search = Search::new(self);
        search.fill()?;
        while search.lower() {}
        Some(search.unit_at[..self.places].to_vec())
    }
}

/// A square of places and units: spare places take the units that are left.
struct Search {
    size: usize,
    /// By place, then by unit; [`OUT`] where a pair is out of the question.
    costs: Vec<i64>,
    unit_at: Vec<usize>,
    place_of: Vec<usize>,
    /// Places of which it is not settled yet what stands there, and units likewise.
    places: Vec<usize>,
    units: Vec<usize>,
    /// From this cost up all is proved.
    proved: i64,
    /// Pairs from this cost up to what is proved are out of the question.
    below: i64,
    /// The place from which a unit was reached.
    from: Vec<usize>,
}

impl Search {
    fn new(costs: &Costs) -> Self {
        let size = costs.units.max(costs.places);
        let pair = |place: usize, unit: usize| match (place < costs.places, unit < costs.units) {
            (true, true) => costs.at(place, unit).unwrap_or(OUT),
            (false, true) => SPARE,
            (_, false) => OUT,
        };
        Self {
            size,
            costs: (0..size * size).map(|n| pair(n / size, n % size)).collect(),
            unit_at: vec![NONE; size],
            place_of: vec![NONE; size],
            places: (0..size).collect(),
            units: (0..size).collect(),
            proved: OUT,
            below: OUT,
            from: vec![NONE; size],
        }
    }

    /// Whether a pair of this cost may be assigned.
    const fn is_open(&self, cost: i64) -> bool {
        cost < self.below || cost >= self.proved && cost != OUT
    }

    fn assign(&mut self, place: usize, unit: usize) {
        self.unit_at[place] = unit;
        self.place_of[unit] = place;
    }

    /// Takes the unit away from a place.
    fn clear(&mut self, place: usize) {
        let unit = std::mem::replace(&mut self.unit_at[place], NONE);
        if unit != NONE {
            self.place_of[unit] = NONE;
        }
    }

    /// Gives each place a unit, at the least worst cost; `None` where that cannot be.
    fn fill(&mut self) -> Option<()> {
        let mut known: Vec<i64> = self.costs.iter().copied().filter(|c| *c != OUT).collect();
        known.sort_unstable();
        known.dedup();
        if !self.fill_all() {
            return None;
        }
        // By halves: the least cost up to which all places can be filled.
        let (mut low, mut high) = (0, known.len());
        let mut filled = (self.unit_at.clone(), self.place_of.clone());
        while low < high {
            let mid = low + (high - low) / 2;
            self.below = known[mid].saturating_add(1);
            for place in 0..self.size {
                if self.costs[place * self.size + self.unit_at[place]] > known[mid] {
                    self.clear(place);
                }
            }
            if self.fill_all() {
                high = mid;
                filled = (self.unit_at.clone(), self.place_of.clone());
            } else {
                low = mid + 1;
                (self.unit_at, self.place_of) = filled.clone();
            }
        }
        self.below = known.get(low)?.saturating_add(1);
        Some(())
    }

    fn fill_all(&mut self) -> bool {
        (0..self.size).all(|place| self.unit_at[place] != NONE || self.give(place))
    }

    /// Gives a place a unit, moving others on along the shortest path.
    fn give(&mut self, place: usize) -> bool {
        let mut unseen = self.units.clone();
        let mut queue = VecDeque::from([place]);
        while let Some(at) = queue.pop_front() {
            let row = at * self.size;
            let (found, others) =
                unseen.into_iter().partition(|unit| self.is_open(self.costs[row + unit]));
            let found: Vec<usize> = found;
            unseen = others;
            for unit in &found {
                self.from[*unit] = at;
            }
            if let Some(free) = found.iter().find(|unit| self.place_of[**unit] == NONE) {
                self.move_on(place, *free);
                return true;
            }
            queue.extend(found.into_iter().map(|unit| self.place_of[unit]));
        }
        false
    }

    /// Moves units on along the path that was found, from its end to its beginning.
    fn move_on(&mut self, first: usize, last: usize) {
        let mut unit = last;
        loop {
            let place = self.from[unit];
            let next = self.unit_at[place];
            self.assign(place, unit);
            if place == first {
                return;
            }
            unit = next;
        }
    }

    /// What a place costs, while that is not proved.
    fn unproved(&self, place: usize) -> Option<i64> {
        let cost = self.costs[place * self.size + self.unit_at[place]];
        (cost < self.proved && cost != SPARE).then_some(cost)
    }

    /// Takes the worst cost that is not proved, and makes it less or proves it; false where all is
    /// proved.
    fn lower(&mut self) -> bool {
        let Some(worst) = self.places.iter().filter_map(|p| self.unproved(*p)).max() else {
            return false;
        };
        let there = self.places.iter().copied().filter(|p| self.unproved(*p) == Some(worst));
        let there: Vec<usize> = there.collect();
        self.below = worst;
        there.iter().for_each(|place| self.clear(*place));
        let left: Vec<usize> = there.into_iter().filter(|place| !self.give(*place)).collect();
        if !left.is_empty() {
            self.prove(worst, &left);
        }
        true
    }

    /// Gives the places that are left a unit so that as few pairs as possible have this cost, and keeps
    /// the pairs alone that an assignment with so few of them can have.
    fn prove(&mut self, worst: i64, left: &[usize]) {
        let size = self.size;
        // What a pair weighs: one at this cost, nought at a better one or at one that is proved.
        let proved = self.proved;
        let weight = |cost: i64| match cost {
            OUT => None,
            cost if cost == worst => Some(1),
            cost if cost < worst || cost >= proved => Some(0),
            _ => None,
        };
        let (mut of_place, mut of_unit) = (vec![0i64; size], vec![0i64; size]);
        for start in left {
            // The path of least weight, by reduced weights (Dijkstra).
            let mut distance = vec![i64::MAX; size];
            let mut done: Vec<usize> = Vec::new();
            let mut waiting = self.units.clone();
            let (mut at, mut so_far) = (*start, 0);
            let end = loop {
                let mut next = None;
                for (n, unit) in waiting.iter().copied().enumerate() {
                    if let Some(w) = weight(self.costs[at * size + unit]) {
                        let there = so_far + w - of_place[at] - of_unit[unit];
                        if there < distance[unit] {
                            distance[unit] = there;
                            self.from[unit] = at;
                        }
                    }
                    let nearer = next.is_none_or(|(_, d)| distance[unit] < d);
                    if nearer && distance[unit] < i64::MAX {
                        next = Some((n, distance[unit]));
                    }
                }
                // There is one: the assignment from which this began was whole.
                let Some((n, nearest)) = next else { return };
                let unit = waiting.swap_remove(n);
                so_far = nearest;
                if self.place_of[unit] == NONE {
                    break unit;
                }
                done.push(unit);
                at = self.place_of[unit];
            };
            of_place[*start] += so_far;
            for unit in done {
                let beyond = so_far - distance[unit];
                of_unit[unit] -= beyond;
                of_place[self.place_of[unit]] += beyond;
            }
            self.move_on(*start, end);
        }
        let mut settled = Vec::new();
        for place in &self.places {
            let mut open = 0;
            for unit in &self.units {
                let cost = &mut self.costs[place * size + unit];
                if weight(*cost).is_some_and(|w| w == of_place[*place] + of_unit[*unit]) {
                    open += 1;
                } else {
                    *cost = OUT;
                }
            }
            settled.extend((open == 1).then_some(*place));
        }
        self.proved = worst;
        self.places.retain(|place| !settled.contains(place));
        self.units.retain(|unit| !settled.contains(&self.place_of[*unit]));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The best of all orders, tried one by one.
    fn tried(costs: &Costs) -> Option<Vec<i64>> {
        fn go(costs: &Costs, order: &mut Vec<usize>, best: &mut Option<Vec<i64>>) {
            if order.len() == costs.places() {
                let found = costs.vector(order).unwrap();
                if best.as_ref().is_none_or(|b| found < *b) {
                    *best = Some(found);
                }
                return;
            }
            for unit in 0..costs.units() {
                if !order.contains(&unit) && costs.at(order.len(), unit).is_some() {
                    order.push(unit);
                    go(costs, order, best);
                    order.pop();
                }
            }
        }
        let mut best = None;
        go(costs, &mut Vec::new(), &mut best);
        best
    }

    fn table(places: usize, units: usize, of: &[Option<i64>]) -> Costs {
        Costs::new(places, units, |p, u| of[p * units + u])
    }

    /// Costs of few sizes, so that many are alike, or of many; some pairs may not be.
    fn instances() -> impl Strategy<Value = Costs> {
        (1usize..=6, 0usize..=3, prop_oneof![Just(3i64), Just(12), Just(1_000_000)], 0u8..4)
            .prop_flat_map(|(places, spare, range, shut)| {
                let one = (0..range, 0u8..10).prop_map(move |(c, s)| (s >= shut).then_some(c));
                let units = places + spare;
                prop::collection::vec(one, places * units)
                    .prop_map(move |of| table(places, units, &of))
            })
    }

    /// A number that looks like chance, of two.
    fn mixed(a: usize, b: usize) -> i64 {
        let mut x = (a as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ (b as u64 + 1);
        for _ in 0..3 {
            x = (x ^ (x >> 31)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        }
        i64::try_from(x >> 44).unwrap()
    }

    proptest! {
        #[test]
        fn no_order_is_better(costs in instances()) {
            let best = costs.best().map(|order| costs.vector(&order).unwrap());
            prop_assert_eq!(best, tried(&costs));
        }

        #[test]
        fn what_is_shut_never_helps(costs in instances(), place in 0usize..6, unit in 0usize..9) {
            let vector = |costs: &Costs| costs.best().map(|order| costs.vector(&order).unwrap());
            let (place, unit) = (place % costs.places(), unit % costs.units());
            let fewer = Costs::new(costs.places(), costs.units(), |p, u| {
                costs.at(p, u).filter(|_| (p, u) != (place, unit))
            });
            if let Some(strict) = vector(&fewer) {
                prop_assert!(vector(&costs).unwrap() <= strict);
            }
        }

        #[test]
        fn units_in_another_order_cost_the_same(costs in instances(), turn in 0usize..9) {
            let units = costs.units();
            let turned =
                Costs::new(costs.places(), units, |p, u| costs.at(p, (u + turn) % units));
            let vector = |costs: &Costs| costs.best().map(|order| costs.vector(&order).unwrap());
            prop_assert_eq!(vector(&costs), vector(&turned));
        }
    }

    #[test]
    fn nine_joints_are_ordered_as_trying_every_order_does() {
        for seed in 0..3 {
            let costs = Costs::new(9, 9, |p, u| Some(mixed(p + 9 * u, seed) % 40));
            let best = costs.vector(&costs.best().unwrap()).unwrap();
            assert_eq!(Some(best), tried(&costs), "{seed}");
        }
    }

    #[test]
    fn a_long_string_with_spare_joints_meets_its_bound() {
        // What a joint has gone through, and what a place adds to it.
        let (places, units) = (600, 640);
        let costs = Costs::new(places, units, |p, u| {
            Some(mixed(u, 1) + mixed(p, 2) + mixed(p * units + u, 3) / 100)
        });
        let order = costs.best().unwrap();
        let worst = costs.vector(&order).unwrap()[0];
        // No order does without the hardest place, nor without the places-th of the joints.
        let least = |p: usize| (0..units).filter_map(|u| costs.at(p, u)).min().unwrap();
        let of_places = (0..places).map(least).max().unwrap();
        let mut of_units: Vec<i64> =
            (0..units).map(|u| (0..places).filter_map(|p| costs.at(p, u)).min().unwrap()).collect();
        of_units.sort_unstable();
        let bound = of_places.max(of_units[places - 1]);
        assert!(worst >= bound);
        // With every pair below the worst shut out, no order is left.
        let below = Costs::new(places, units, |p, u| costs.at(p, u).filter(|c| *c < worst));
        assert_eq!(below.best(), None);
    }
}
