//! Theorem: where a new board takes the place of an old one, every circuit that goes from the one
//! to the other is out, but for the minutes in which it rides, during
//!
//! - the disconnection of all the old board's circuits;
//! - its strip-out, and the mounting of the new one;
//! - all dead work at the new board: tails, surge protection, each circuit's connection and dead
//!   test, and the board's own test, beside which nobody works there (W5);
//! - the live tests before its own and its own (see `queue`).
//!
//! Before the strip-out a circuit is on the old board, which is dead while anybody works at its
//! ways (W1), or off it; strip-out needs all of them off, mounting needs the old board out, and
//! connecting needs the new one there (section 3). From then on it waits for its live test, or is
//! on the new board, which is dead while anybody works there. So the lengths of the phases add up,
//! in one session or in many, and each is no shorter than its work over the people who are there,
//! or over the places to stand, or than its longest task, or than its dead tests over the testers.
//!
//! Dropped: which person may do what, walking, breaks, dressing order, deliveries, holds, proofs,
//! supplies, dead tests that wait for connections but for the first, all that other boards need
//! of the same people, and all limits. Each only adds time or cost.
//! Tried by `bound_of_one_circuit_is_worked_by_hand` and, with the others, by
//! `bound_is_never_above_the_best_of_many_tiny_jobs`.

use super::facts::{Parts, Work, up};
use super::pair::Pair;
use super::{queue, riders};
use crate::model::*;
use crate::search::ground::Ground;

/// The price of the circuits of a pair whose new board stands where the old one stood, with so
/// many people.
pub fn lower_bound(g: &Ground, pair: &Pair, people: i64) -> Parts {
    let old = &g.labour.boards[pair.old.index()];
    let new = &g.labour.boards[pair.new.index()];
    let off = Pair::at_hands(pair.off.iter().copied(), pair.hands_old, people);
    let out = old.strip_out.planned.0 + new.mount.planned.0;
    let dead = off + out + new_board(g, pair, people);
    let machines = pair.machines(people);
    let members = &pair.members;
    let total: Parts = members.iter().map(|m| m.rate * Parts::from(dead) + m.once).sum::<Parts>()
        + queue::waiting(members, machines);
    let saved = riders::most_saved(members, pair.ways, dead)
        + riders::most_saved_later(members, pair.ways, machines);
    (total - saved).max(0)
}

/// The least length of all dead work at the new board once it is mounted.
fn new_board(g: &Ground, pair: &Pair, people: i64) -> i64 {
    let labour = &g.labour.boards[pair.new.index()];
    let tails: Vec<Work> = (g.labour.tails.iter())
        .filter(|t| t.board == pair.new && t.stage != TailsStage::StripOut)
        .filter(|t| g.job.positions[t.position].board == Some(pair.new))
        .map(|t| Work::least([&t.effort]))
        .collect();
    let has_surge =
        |s: &Surge| s.board == Some(pair.new) && s.kind == SurgeKind::Cartridge && !s.fitted;
    let surge = g.job.surges.rows().iter().any(has_surge);
    let surge = if surge { Work::least([&labour.fit_surge]) } else { Work::default() };
    let circuits = pair.back.iter().map(|(connect, test)| connect.and(*test));
    let tests: i64 = pair.back.iter().map(|(_, test)| test.minutes).sum();
    let first = pair.back.iter().map(|(connect, _)| connect.minutes).min().unwrap_or(0);
    let all: i64 = (tails.iter().copied().chain([surge]).chain(circuits.clone()))
        .map(|w| w.crew_minutes)
        .sum();
    let longest = tails.iter().map(|w| w.minutes).chain([surge.minutes]).max().unwrap_or(0);
    let crowd = Pair::at_hands(circuits, pair.hands_new, people);
    pair.test.minutes + up(all, people).max(longest).max(crowd).max(first + up(tests, pair.testers))
}
