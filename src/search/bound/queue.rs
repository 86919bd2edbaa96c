//! Theorem: circuits that come back only at the end of their live tests, with no more than `m`
//! such tests at a time, wait for them, from the start of the first, at least
//! `S / m + (m - 1) / 2m x sum of price x length`, where `S` is the price of the waiting with one
//! test at a time in Smith's order.
//!
//! For `m` = 1 this is W. E. Smith's rule (Naval Research Logistics Quarterly 3, 1956), for more
//! the bound of W. L. Eastman, S. Even and I. M. Isaacs (Management Science 11, 1964). `m` is the
//! lesser of the testers and the people in the plan. The clock of the theorem runs only while a live
//! test runs; the new board is then live, so that no dead work at it is counted twice (W1, W5).
//!
//! Dropped: dead work, switching and energising between tests, and circuits of one load that come
//! back together, of which only one is counted. Each would only make the wait longer.
//! Tried by `bound_of_one_circuit_is_worked_by_hand` (one test, alone) and, with the others, by
//! `bound_is_never_above_the_best_of_many_tiny_jobs`.

use super::facts::{Member, Parts};
use crate::schedule::{Piece, smith};

/// The price of the wait, each circuit's own test included.
pub fn waiting(members: &[Member], machines: i64) -> Parts {
    let rate = |m: &Member| i64::try_from(m.rate).unwrap_or(i64::MAX);
    let pieces: Vec<Piece> = (members.iter())
        .map(|m| Piece { duration: m.live_test.minutes, weight: rate(m) })
        .collect();
    let one = Parts::from(smith(&pieces, &[]).cost);
    let own: Parts = members.iter().map(|m| m.rate * Parts::from(m.live_test.minutes)).sum();
    let machines = Parts::from(machines.max(1));
    (2 * one + (machines - 1) * own) / (2 * machines)
}
