//! Theorem: where a new board stands beside an old one, let `T` be the disconnections, connections
//! and dead tests of their circuits in minutes times people, `p` no less than the people who can be
//! at it at once, `R` the price of a minute out of all circuits and `A` that of those that can ride
//! at once. Then all cost at least
//!
//! `((R - A) x T - E) / p + each one's own live test + each one's first outage`,
//!
//! with `E` the sum over all pairs c, d of the larger of
//! `rate(c) x off(d) + rate(d) x back(c)` and the same with c and d changed over.
//!
//! For a circuit on the old board is out while anybody works at its ways, one on the new board while
//! anybody works there (W1), and one between them until its live test is passed, unless it rides.
//! So c escapes the disconnection of d only where that runs while or after c is tested live, and the
//! connection and dead test of d only where that runs before c is disconnected. Say c escapes part
//! of the disconnection of d: then c was connected, and d was not yet, so c was off
//! the old board and escapes nothing of the connection of d. Nor does d escape the disconnection of
//! c, for it would have been tested live by then. Left is, besides, only the connection of c, for d.
//! The other cases are the same: each pair has one of the two ways round. What runs beside a live
//! test of c counts as escaped by c, so that the test is counted for itself.
//!
//! In each minute b <= p people are at that work, and what is out costs at least b / p of it. Riders
//! are at most `A` of it, their carrying taken as free. In a minute in which everybody escapes or
//! rides there may be more people at work, outside all windows; it counts nothing above zero.
//!
//! Dropped: tails, tests and supplies of the boards, proofs, how often a board is opened, waiting for
//! other live tests, second outages, which person may do what, and all limits. Each only adds cost.
//! Tried by `bound_of_two_circuits_side_by_side_is_worked_by_hand` and, with the others, by
//! `bound_is_never_above_the_best_of_many_tiny_jobs`.

use super::facts::{Member, Parts};
use super::pair::Pair;
use super::riders;

/// The price of the circuits of a pair whose boards stand side by side, with so many people.
pub fn lower_bound(pair: &Pair, people: i64) -> Parts {
    of(&pair.members, pair.ways, people.min(pair.hands_old + pair.hands_new))
}

/// The same of its circuits, with so many people at them at once.
pub fn of(members: &[Member], ways: usize, people: i64) -> Parts {
    let rate: Parts = members.iter().map(|m| m.rate).sum();
    let off = |m: &Member| Parts::from(m.off.crew_minutes);
    let back = |m: &Member| Parts::from(m.back().crew_minutes);
    let work: Parts = members.iter().map(|m| off(m) + back(m)).sum();
    let escapes = |c: &Member, d: &Member| c.rate * off(d) + d.rate * back(c);
    let mut escaped: Parts = 0;
    for (i, c) in members.iter().enumerate() {
        escaped += members[..i].iter().map(|d| escapes(c, d).max(escapes(d, c))).sum::<Parts>();
    }
    let paid = (rate - riders::most_a_minute(members, ways)).max(0) * work;
    let own = members.iter().map(|m| m.rate * Parts::from(m.live_test.minutes) + m.once);
    (paid - escaped).max(0) / Parts::from(people.max(1)) + own.sum::<Parts>()
}
