//! Theorem: let a new board stand beside the old one, and let a plan lay each of them dead only
//! once in which something is in service on it, before or after. Then every circuit that goes from the
//! one to the other is out, but for the minutes in which it rides, for as long as all these take:
//!
//! - the disconnection, connection and dead test of all of them;
//! - where both are fed through one joint (see `pair`), the work on it, and then the new board's own
//!   test, beside which nobody works there (W5);
//! - the old board's strip-out, where work at its ways lays that joint open;
//! - the live tests before its own and its own (see `queue`);
//! - in a plan that gives switching its own time (see `own_tasks`): the opening, the proof of the old
//!   board, before the work on tails that of both, where both go dead by one device, and the energising
//!   of the new one.
//!
//! For the old board is dead from before the first disconnection and lives no more, and the new one
//! lives only after the last dead test: none is in service in between. In each minute of it no more
//! people are at work than there are, nor, where no tails are, than have room at either board; during
//! the board's own test they have only the old one to do, if they are enough. The test comes after the tails, and a
//! circuit's connection after its disconnection. Nobody is tested live before the last dead test, so
//! that nobody hooks up or unhooks outside these minutes: there is no pause for `riders`.
//!
//! Dropped: as in `cut`. Tried by `bound_is_never_above_the_best_of_many_tiny_jobs`.

use super::facts::{Parts, Work, up};
use super::own_tasks::OwnTasks;
use super::pair::Pair;
use super::riders::{self, Dead};
use crate::model::Policy;

/// The price of the circuits of a pair whose boards are each dead once, with so many people.
pub fn lower_bound(policy: &Policy, pair: &Pair, own: &OwnTasks, people: i64) -> Parts {
    let shared = !pair.tails.is_empty();
    let hands = pair.hands_old + pair.hands_new;
    let people = if shared { people } else { people.min(hands) };
    let crew =
        |works: &mut dyn Iterator<Item = Work>| -> i64 { works.map(|w| w.crew_minutes).sum() };
    let members = &pair.members;
    let off = crew(&mut members.iter().map(|m| m.off));
    let back = crew(&mut members.iter().map(|m| m.back()));
    let tails = crew(&mut pair.tails.iter().copied());
    let test = if shared { pair.test } else { Work::default() };
    let strip = pair.strip.unwrap_or_default();
    // While the board is tested the others have only the old one to do.
    let free = people - test.people;
    let beside = off + if strip.people <= free { strip.crew_minutes } else { 0 };
    let idle = (test.minutes * free - beside).max(0);
    let work = off + back + tails + strip.crew_minutes + test.crew_minutes;
    let longest = pair.tails.iter().map(|w| w.minutes).max().unwrap_or(0);
    let tail_chain: i64 = pair.tails.iter().map(|w| w.minutes).sum();
    let tail_chain = if own.given { tail_chain } else { longest.max(up(tails, people)) };
    let tests: i64 = members.iter().map(|m| m.dead_test.minutes).sum();
    let first = members.iter().map(|m| m.off.minutes + m.connect.minutes).min().unwrap_or(0);
    let chain = members.iter().map(|m| m.off.minutes + m.back().minutes).max().unwrap_or(0);
    let minutes = up(work + idle, people)
        .max(tail_chain + test.minutes)
        .max(up(back, people.min(pair.hands_new)) + test.minutes)
        .max(first + up(tests, pair.testers))
        .max(chain);
    let (proofs, energise) = if shared {
        // If all came off in an earlier span, the cut-in has a span of its own.
        let cut_in = own.prove_new[0].min(own.prove_old[1] + own.prove_new[1]);
        (own.prove_old[0] + cut_in, own.energise)
    } else {
        (own.prove_old[0], own.energise_again)
    };
    let dead = Dead {
        minutes: minutes + own.switching + proofs + energise.minutes,
        work: work + proofs + energise.crew_minutes,
        people,
        pauses: None,
        stretch: own.stretch(policy),
        shut: [own.switching + own.prove_old[0], if own.given { energise.minutes } else { 0 }],
    };
    riders::least(pair, own, dead, pair.machines(people))
}
