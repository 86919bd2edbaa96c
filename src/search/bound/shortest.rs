//! Theorem: every plan without a breach costs at least
//! `sum over loads of weight x f x max(0, m - ride_through)` `+ v x p`, where m is the least time
//! for which the load has to be out, and p is 0, 1 or 2.
//!
//! A circuit that has a new way and is not left off is disconnected, connected, dead-tested and
//! live-tested (S3), in this order, each task running through once begun for at least its planned
//! duration in its prepared state; from the start of the first to the end of the last it is out of
//! service unless it rides meanwhile. A circuit that may ride is out at least while it is
//! disconnected and put on, and again while it is taken off, connected and tested. A load that
//! needs all its circuits is out at least as long as any of them; one that needs k of n at least
//! as long as the k-th least. Each minute out costs at least weight x f (f <= 1 is not assumed:
//! the smaller of f and 1 is taken), after what its battery carries, which is taken off once in
//! full for each outage of at most two.
//!
//! If some load is out at all, that lies in a window (F1), where somebody has a task; and unless
//! the job allows working alone there is no need that a second person has a task, so p is 1.
//!
//! Dropped: that tasks share people, instruments and working space, that all circuits of a board
//! are dead together, and every price of an interruption. Each of these only adds to the cost.
//! Tried by `bound_is_never_above_the_cost` on small jobs.

use crate::model::*;
use crate::search::ground::Ground;
use crate::units::{Exact, Minutes, whole};
use num_traits::{One, Zero};

/// The bound of the theorem above.
pub fn lower_bound(g: &Ground) -> Exact {
    let policy = &g.job.policy;
    let rate = policy.f.clone().min(Exact::one());
    let mut total = Exact::zero();
    let mut somebody = false;
    for load in g.job.loads.rows() {
        let mut least: Vec<(Minutes, i64)> = load.circuits.iter().map(|c| circuit(g, *c)).collect();
        least.sort_unstable();
        // k of n serve: it is out while more than n - k are, so at least as the (n-k+1)-th
        // longest, counted from the least.
        let Some((minutes, outages)) = least.get(load.quorum().saturating_sub(1)).copied() else {
            continue;
        };
        let minutes = if load.quorum() == load.circuits.len() { minutes } else { Minutes::ZERO };
        somebody |= minutes > Minutes::ZERO;
        let carried = load.ride_through.exact() * whole(outages);
        let counted = (minutes.exact() - carried).max(Exact::zero());
        total += &load.weight * &rate * counted;
    }
    if somebody {
        total += &policy.v;
    }
    total
}

/// The least time for which a circuit is out, and in how many outages at most that lies.
fn circuit(g: &Ground, c: CircuitId) -> (Minutes, i64) {
    let route = &g.routes[c.index()];
    let may_stay = g.job.circuits[c].left_off.is_some();
    if route.new.is_empty() || route.old.is_empty() || may_stay {
        return (Minutes::ZERO, 1);
    }
    let l = &g.labour.circuits[c.index()];
    let least = |v: &Varied| v.prepared.planned.min(v.fresh.planned);
    let straight =
        least(&l.disconnect) + least(&l.connect) + least(&l.dead_test) + least(&l.live_test);
    let rides =
        g.job.joints.rows().iter().any(|j| matches!(j.of, Some((x, Place::On(_))) if x == c));
    // On a supply it saves nothing of this: it is still disconnected before it is put on, and
    // connected and tested after it comes off.
    let riding = straight + l.hook_up.planned + l.unhook.planned;
    if rides { (straight.min(riding), 2) } else { (straight, 1) }
}
