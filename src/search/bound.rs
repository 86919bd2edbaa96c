//! A lower bound on the cost of every plan without a breach: the theorems in `bound`, put together.
//!
//! ```text
//! Ground ─ pair::pairs ─▶ old and new boards with the circuits that go from one to the other
//! Pair, people ─ cut (same place), beside, once, often, few (side by side) ─▶ price of the loads of the pair
//!                queue, riders ─▶ parts of these
//! Pair ─ own_tasks ─▶ what switching takes in plans that give it its own time
//! Load ─ shortest ─▶ price of one load for itself
//! Ground ─ attendance ─▶ how many attendances at least, and so how many people at once
//! ```
//!
//! Every load is counted in one pair at most, so that what the pairs cost adds up; for each pair
//! the larger of what the boards and what its loads for themselves tell counts. A plan with more
//! people pays for more attendances: the bound is the least over how many there are.
//!
//! There are two numbers: [`lower_bound`] holds for every plan, [`lower_bound_in_own_tasks`] for those that give
//! switching tasks of its own, as all that this program writes do. Only the first makes a plan the best.

pub mod attendance;
pub mod beside;
pub mod cut;
pub mod facts;
pub mod few;
pub mod often;
pub mod once;
pub mod own_tasks;
pub mod pair;
pub mod queue;
pub mod riders;
pub mod shortest;

use super::ground::Ground;
use crate::units::{Exact, whole};
use attendance::{held, same_place};
use facts::{Member, Parts, SCALE};
use num_bigint::BigInt;
use num_traits::ToPrimitive;
use own_tasks::OwnTasks;
use pair::Pair;

/// A number that no plan without a breach costs less than.
pub fn lower_bound(g: &Ground) -> Exact {
    bound(g, false)
}

/// A number that no plan without a breach costs less than that gives switching its own time (see
/// `own_tasks`).
pub fn lower_bound_in_own_tasks(g: &Ground) -> Exact {
    bound(g, true)
}

fn bound(g: &Ground, in_own_tasks: bool) -> Exact {
    let pairs = pair::pairs(g);
    let all = i64::try_from(g.job.people.len()).unwrap_or(1).max(1);
    let alone = alone(g, &pairs);
    let visit = facts::parts(&g.job.policy.v);
    let own = |pair: &Pair| {
        if in_own_tasks { OwnTasks::of(g, pair.old, pair.new) } else { OwnTasks::default() }
    };
    let own: Vec<OwnTasks> = pairs.iter().map(own).collect();
    let least = attendance::least(g, &pairs, &own).max(i64::from(alone.attended));
    let with = |n: i64| -> Parts {
        let people = n.min(all).max(1);
        let pairs = pairs.iter().zip(&own).zip(&alone.in_pairs).map(|((pair, own), alone)| {
            // Work beside riders alone may lie outside windows: then all may be at it.
            let people = if pair.tight && held(pair) { people } else { all };
            one(g, pair, own, people).max(*alone)
        });
        visit * Parts::from(n) + pairs.sum::<Parts>()
    };
    let best = (least..=least.max(all)).map(with).min().unwrap_or(0) + alone.elsewhere;
    Exact::from_integer(BigInt::from(best)) / whole(SCALE)
}

/// What the circuits of a pair cost with so many people.
fn one(g: &Ground, pair: &Pair, own: &OwnTasks, people: i64) -> Parts {
    let q = g.job.policy.q.floor().to_integer().to_i64().unwrap_or(0);
    // Each is in service when its function tests begin, and out once more while they last.
    let tested = |m: &Member| m.rate * Parts::from(m.opened[0] + q * m.opened[1]);
    let tests: Parts = if own.given { pair.members.iter().map(tested).sum() } else { 0 };
    tests + work(g, pair, own, people, q)
}

fn work(g: &Ground, pair: &Pair, own: &OwnTasks, people: i64, q: i64) -> Parts {
    if same_place(g, pair) {
        return cut::lower_bound(g, pair, own, people, q);
    }
    let several = |linked: bool| {
        let ways = often::Ways::of(pair, own, people, q, linked);
        let often = often::lower_bound(pair, &ways);
        few::lower_bound(pair, own, &ways).map_or(often, |few| few.max(often))
    };
    let linked = (own.given && pair.link.is_some()).then(|| several(true));
    let several = several(false).min(linked.unwrap_or(Parts::MAX));
    once::lower_bound(&g.job.policy, pair, own, people)
        .min(several)
        .max(beside::lower_bound(pair, people))
}

/// What loads cost for themselves.
struct Alone {
    in_pairs: Vec<Parts>,
    elsewhere: Parts,
    /// Some outage begins in a window, by what somebody does in it.
    attended: bool,
}

fn alone(g: &Ground, pairs: &[Pair]) -> Alone {
    let mut alone = Alone { in_pairs: vec![0; pairs.len()], elsewhere: 0, attended: false };
    for load in g.job.loads.rows() {
        let price = shortest::lower_bound(g, load);
        let with = facts::counted_with(g, load);
        let pair = pairs.iter().position(|p| p.members.iter().any(|m| Some(m.circuit) == with));
        match pair {
            Some(pair) => alone.in_pairs[pair] += price,
            None => alone.elsewhere += price,
        }
        let left_off = load.circuits.iter().any(|c| g.job.circuits[*c].left_off.is_some());
        alone.attended |= price > 0 && !left_off;
    }
    alone
}
