//! Theorem: a plan with `n` attendances in all has at most `n` people at once at work that keeps
//! somebody out, and `n` is no less than the people whom any one of these tasks needs, nor than the
//! work over the length of the longest visit.
//!
//! While a circuit is worked on, its load is out, and an outage of a load that may not stay out
//! lies in one window (F1). So everybody at that work has a task in that visit, and is counted for
//! it; in one visit nobody works longer than it lasts. The strip-out and the mounting of a board in
//! the same place keep somebody out if one of its circuits cannot ride, or they are more than can ride
//! at once; so does, where boards are fed through one joint (see `pair`), the work on it and the
//! strip-out that lays it open, and in a plan that gives switching its own time (see `own_tasks`) the
//! isolation, whose opening begins an outage, and the energising before live tests.
//!
//! Dropped: that one visit may not be enough by its windows and its deliveries, presence, breaks,
//! and whoever only isolates, proves or stands by. Each only adds attendances.
//! Tried by `bound_of_one_circuit_is_worked_by_hand` (its 200 for one attendance) and, with the
//! others, by `bound_is_never_above_the_best_of_many_tiny_jobs`.

use super::facts::{Work, up};
use super::own_tasks::OwnTasks;
use super::pair::Pair;
use crate::model::*;
use crate::search::ground::Ground;

/// How many attendances every plan has at least.
pub fn least(g: &Ground, pairs: &[Pair], own: &[OwnTasks]) -> i64 {
    let longest = g.visits().into_iter().map(|v| v.length().0).max().unwrap_or(0);
    let mut people = 0;
    let mut work = 0;
    for (pair, own) in pairs.iter().zip(own) {
        for m in pair.members.iter().filter(|m| m.tight && m.rate > 0) {
            for w in [m.off, m.connect, m.dead_test, m.live_test] {
                people = people.max(w.people);
                work += w.crew_minutes;
            }
        }
        if held(pair) {
            let shared = pair.tails.iter().chain(&pair.strip).map(|w| w.people).max();
            let first = same_place(g, pair) || pair.old_tails_first;
            let energise = if first { own.energise } else { own.energise_again };
            people = people.max(shared.unwrap_or(0)).max(energise.people).max(own.isolate.people);
        }
        if same_place(g, pair) && held(pair) {
            let old = &g.labour.boards[pair.old.index()];
            let new = &g.labour.boards[pair.new.index()];
            for effort in [&old.strip_out, &new.mount] {
                people = people.max(Work::least([effort]).people);
            }
        }
    }
    people.max(up(work, longest))
}

/// Whether the new board takes the old one's place.
pub fn same_place(g: &Ground, pair: &Pair) -> bool {
    g.job.boards[pair.new].replaces == Some(pair.old)
}

/// Whether some load that must come back in its window is out whatever rides.
pub fn held(pair: &Pair) -> bool {
    let mut held = pair.members.iter().filter(|m| m.tight && m.rate > 0);
    held.clone().any(|m| !m.rides) || held.by_ref().count() > pair.ways
}
