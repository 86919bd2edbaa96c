//! Theorem: where a new board takes the place of an old one, every circuit that goes from the one
//! to the other is out, but for the minutes in which it rides, during
//!
//! - the disconnection of all the old board's circuits;
//! - its strip-out, and the mounting of the new one;
//! - all dead work at the new board: tails, surge protection, each circuit's connection and dead
//!   test, and the board's own test, beside which nobody works there (W5);
//! - the live tests before its own and its own (see `queue`);
//! - in a plan that gives switching its own time (see `own_tasks`): the opening, the proof of the old
//!   board before the first disconnection, that of the new one between strip-out and mounting, and
//!   the energising between the last dead work and the first live test.
//!
//! Before the strip-out a circuit is on the old board, which is dead while anybody works at its
//! ways (W1), or off it; strip-out needs all of them off, mounting needs the old board out, and
//! connecting needs the new one there (section 3). From then on it waits for its live test, or is
//! on the new board, which is dead while anybody works there. So the lengths of the phases add up,
//! in one session or in many, and each is no shorter than its work over the people who are there,
//! or over the places to stand, or than its longest task, or than its dead tests over the testers.
//! What `riders` tells is taken off.
//!
//! Dropped: which person may do what, walking, breaks, dressing order, deliveries, holds, dead tests
//! that wait for connections but for the first, all that other boards need of the same people, and
//! all limits. Each only adds time or cost.
//! Tried by `bound_of_one_circuit_is_worked_by_hand` and, with the others, by
//! `bound_is_never_above_the_best_of_many_tiny_jobs`.

use super::facts::{Parts, Work, up};
use super::own_tasks::OwnTasks;
use super::pair::Pair;
use super::riders::{self, Dead, Pauses};
use crate::model::*;
use crate::search::ground::Ground;

/// The price of the circuits of a pair whose new board stands where the old one stood, with so
/// many people.
pub fn lower_bound(g: &Ground, pair: &Pair, own: &OwnTasks, people: i64, q: i64) -> Parts {
    let old = &g.labour.boards[pair.old.index()];
    let new = &g.labour.boards[pair.new.index()];
    let off = Pair::at_hands(pair.off.iter().copied(), pair.hands_old, people);
    let (strip, mount) = (Work::least([&old.strip_out]), Work::least([&new.mount]));
    let (minutes, work) = new_board(g, pair, people);
    let proofs = own.prove_old[0] + own.prove_new[0];
    let switching = own.switching + proofs + own.energise.minutes;
    let off_work: i64 = pair.off.iter().map(|w| w.crew_minutes).sum();
    let again = if own.given { [own.old_again(), own.new_again()] } else { [0, 0] };
    let waits = (own.energise_again.minutes - own.switching).min(q).max(0);
    let between = strip.minutes + own.prove_new[0] + mount.minutes;
    let apart = [
        between + minutes + own.energise.minutes,
        own.switching + own.prove_old[0] + off + between + pair.test.minutes + own.energise.minutes,
    ];
    let dead = Dead {
        minutes: off + strip.minutes + mount.minutes + minutes + switching,
        // Whoever strips out or mounts has seen the place proved.
        work: off_work
            + strip.crew_minutes
            + mount.crew_minutes
            + work
            + own.prove_old[0] * strip.people
            + own.prove_new[0] * mount.people
            + own.energise.crew_minutes,
        people,
        pauses: Some(Pauses { again, waits, apart }),
        stretch: own.stretch(&g.job.policy),
        shut: [own.switching + own.prove_old[0], own.energise.minutes],
    };
    riders::least(pair, own, dead, pair.machines(people))
}

/// The least length of all dead work at the new board once it is mounted, and its minutes times
/// people.
fn new_board(g: &Ground, pair: &Pair, people: i64) -> (i64, i64) {
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
    let before = up(all, people).max(longest).max(crowd).max(first + up(tests, pair.testers));
    (pair.test.minutes + before, pair.test.crew_minutes + all)
}
