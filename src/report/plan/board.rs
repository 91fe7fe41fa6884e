//! Orders of a string: the best, those of today, those of chance, and what each comes to.

use crate::policy::Costs;

/// The joints at the places, and what each order comes to.
pub(super) struct Board {
    /// Damage after the run; `None` where it is not known.
    pub damage: Costs,
    /// The same where the joint may stand; else `None`.
    pub allowed: Costs,
    /// The joint at each place as the tally has it, where it has one at each.
    pub racked: Option<Vec<usize>>,
    /// Places that go together, from the bit up.
    pub stands: Vec<Vec<usize>>,
}

impl Board {
    /// What it costs to have a stand of the rack at the place of another one, which holds as many.
    pub(super) fn of_stands(&self, racked: &[usize]) -> Costs {
        let stands = &self.stands;
        Costs::new(stands.len(), stands.len(), |slot, unit| {
            let (there, here) = (&stands[slot], &stands[unit]);
            if there.len() != here.len() {
                return None;
            }
            let each = there.iter().zip(here).map(|(p, q)| self.allowed.at(*p, racked[*q]));
            each.collect::<Option<Vec<i64>>>()?.into_iter().max()
        })
    }

    /// An order of stands as one of joints.
    pub(super) fn spread(&self, racked: &[usize], of_stands: &[usize]) -> Vec<usize> {
        let mut order = racked.to_vec();
        for (slot, unit) in of_stands.iter().enumerate() {
            for (p, q) in self.stands[slot].iter().zip(&self.stands[*unit]) {
                order[*p] = racked[*q];
            }
        }
        order
    }

    /// The rack turned upside down, stand by stand; what is no whole stand stays where it is.
    pub(super) fn upside_down(&self, racked: &[usize]) -> Vec<usize> {
        let whole = self.stands.first().map_or(0, Vec::len);
        let full = self.stands.iter().take_while(|s| s.len() == whole).count();
        let order: Vec<usize> = (0..self.stands.len())
            .map(|slot| if slot < full { full - 1 - slot } else { slot })
            .collect();
        self.spread(racked, &order)
    }
}

/// Numbers that look like chance (Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", 2014): the same in every run of the program.
pub(super) struct Chance(pub u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        x ^ (x >> 31)
    }

    /// Puts a list into an order of chance.
    pub(super) fn shuffle(&mut self, list: &mut [usize]) {
        for n in (1..list.len()).rev() {
            let below = n as u64 + 1;
            let to = usize::try_from(self.next() % below).unwrap_or(0);
            list.swap(n, to);
        }
    }
}

/// The worst damage of each of so many orders of chance of these joints, least first.
pub(super) fn by_chance(damage: &Costs, joints: &[usize], orders: usize) -> Vec<i64> {
    let mut chance = Chance(1);
    let mut list = joints.to_vec();
    let mut worst: Vec<i64> = (0..orders)
        .filter_map(|_| {
            chance.shuffle(&mut list);
            Some(*damage.vector(list.get(..damage.places())?)?.first()?)
        })
        .collect();
    worst.sort_unstable();
    worst
}
