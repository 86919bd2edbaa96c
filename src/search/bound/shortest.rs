//! Theorem: a load that needs all its circuits is out, whatever else is done, while the work on
//! any one of them goes on, and counts at least one outage where that is longer than its battery
//! lasts.
//!
//! A circuit that has a new way and is not left off is disconnected, connected, dead-tested and
//! live-tested (S3), in this order, each task running through once begun for at least its planned
//! duration in its prepared state; from the start of the first to the end of the last it is out of
//! service unless it rides meanwhile. If it does, it is out in one piece while it is disconnected
//! and put on, and in one more while it is taken off, connected and tested. From each piece the
//! battery takes at most its full hold-up.
//!
//! Dropped: that tasks share people, instruments and working space, that all circuits of a board
//! are dead together, and loads that have a choice of circuits. Each of these only adds cost.
//! Tried by `bound_of_one_circuit_is_worked_by_hand` and, with the others, by
//! `bound_is_never_above_the_best_of_many_tiny_jobs`.

use super::facts::{Parts, least, may_ride, moves, parts, share};
use crate::model::*;
use crate::search::ground::Ground;

/// The least price of the outages of one load.
pub fn lower_bound(g: &Ground, load: &Load) -> Parts {
    if load.quorum() < load.circuits.len() {
        return 0;
    }
    let battery = load.ride_through.0;
    let minutes = load.circuits.iter().map(|c| out(g, *c, battery)).max().unwrap_or(0);
    if minutes == 0 {
        return 0;
    }
    let rate = &load.weight * share(g, load);
    parts(&rate) * Parts::from(minutes) + parts(&(rate * &g.job.policy.q))
}

/// The least time that a circuit is out beyond what the battery carries.
fn out(g: &Ground, c: CircuitId, battery: i64) -> i64 {
    if !moves(g, c) {
        return 0;
    }
    let of = |w: fn(&CircuitLabour) -> &Varied| least(g, c, w).minutes;
    let l = &g.labour.circuits[c.index()];
    let off = of(|l| &l.disconnect);
    let on = of(|l| &l.connect) + of(|l| &l.dead_test) + of(|l| &l.live_test);
    let beyond = |minutes: i64| (minutes - battery).max(0);
    let straight = beyond(off + on);
    if may_ride(g, c) {
        straight.min(beyond(off + l.hook_up.planned.0) + beyond(l.unhook.planned.0 + on))
    } else {
        straight
    }
}
