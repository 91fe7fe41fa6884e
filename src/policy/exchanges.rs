//! The exchanges of an order that help most, one after the other: what a rig can do when it will not
//! rack everything anew.

use super::Costs;

/// A unit moved to a place, and what stood there to where it came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Exchange {
    pub place: usize,
    /// The unit that comes there.
    pub unit: usize,
    /// Where it stood; `None` for one that was not in the string: the other one is laid down.
    pub from: Option<usize>,
    /// The worst cost of the order afterwards; `None` while a unit still stands where it may not.
    pub worst: Option<i64>,
}

/// Makes at most so many exchanges in an order, each of them the one that makes the worst least, then
/// the next worst. Ends where none helps.
pub fn exchanges(costs: &Costs, order: &mut [usize], most: usize) -> Vec<Exchange> {
    // A unit that may not stand where it does is worse than any cost.
    let cost = |place: usize, unit: usize| costs.at(place, unit).unwrap_or(i64::MAX);
    let vector = |order: &[usize]| {
        let mut all: Vec<i64> = order.iter().enumerate().map(|(p, u)| cost(p, *u)).collect();
        all.sort_unstable_by(|a, b| b.cmp(a));
        all
    };
    let mut done = Vec::new();
    let mut now = vector(order);
    while done.len() < most {
        let Some(worst) = now.first().copied() else { break };
        let Some(place) = (0..order.len()).find(|p| cost(*p, order[*p]) == worst) else { break };
        // Who does not move this one leaves the worst as it is.
        let mut best: Option<(Vec<i64>, usize, Option<usize>)> = None;
        for unit in (0..costs.units()).filter(|u| *u != order[place]) {
            let from = order.iter().position(|u| *u == unit);
            let there = from.map_or(i64::MIN, |from| cost(from, order[place]));
            if cost(place, unit).max(there) >= worst {
                continue;
            }
            let mut tried = order.to_vec();
            tried[place] = unit;
            if let Some(from) = from {
                tried[from] = order[place];
            }
            let found = vector(&tried);
            if best.as_ref().is_none_or(|b| found < b.0) {
                best = Some((found, unit, from));
            }
        }
        let Some((found, unit, from)) = best else { break };
        let laid_down = std::mem::replace(&mut order[place], unit);
        if let Some(from) = from {
            order[from] = laid_down;
        }
        let worst = found.first().copied().filter(|c| *c < i64::MAX);
        now = found;
        done.push(Exchange { place, unit, from, worst });
    }
    done
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn more_exchanges_are_never_worse_and_none_beats_the_best(
            of in prop::collection::vec(prop_oneof![9 => (0i64..50).prop_map(Some), 1 => Just(None)], 35),
            most in 0usize..5,
        ) {
            let costs = Costs::new(5, 7, |p, u| of[p * 7 + u]);
            let after = |most: usize| {
                let mut order = vec![0, 1, 2, 3, 4];
                let done = exchanges(&costs, &mut order, most);
                (costs.vector(&order), done)
            };
            let ((few, _), (more, steps)) = (after(most), after(most + 1));
            prop_assert!(steps.len() <= most + 1);
            if let Some(few) = few {
                prop_assert!(more.clone().unwrap() <= few);
            }
            if let Some(found) = more {
                let best = costs.vector(&costs.best().unwrap()).unwrap();
                prop_assert!(best <= found);
            }
        }
    }

    #[test]
    fn the_exchange_that_helps_most_is_made() {
        // The third unit is used up and stands at the hardest place.
        let used = [10, 20, 90, 5];
        let hard = [1, 2, 40];
        let costs = Costs::new(3, 4, |p, u| Some(used[u] + hard[p]));
        let mut order = vec![0, 1, 2];
        let done = exchanges(&costs, &mut order, 1);
        let spare = Exchange { place: 2, unit: 3, from: None, worst: Some(45) };
        assert_eq!((done.as_slice(), order), ([spare].as_slice(), vec![0, 1, 3]));
    }
}
