//! Theorem: let every circuit of a set be out for `d` minutes of dead work but for those in which it
//! is on a temporary supply, of which no more than `ways` carry one at a time. Then temporary
//! supplies save at most the value of a linear programme: circuit i rides for at most `d - own_i` of
//! these minutes, all of them together for `ways x (d - least off - least back)`, each minute saves
//! its price out less what carrying it costs, and its second outage costs in proportion.
//!
//! `own_i` is its disconnection, connection and dead test, which are among the `d` minutes; hook up
//! and unhook need not be, and are not counted. Nobody rides before the first disconnection ends, nor
//! from the start of the last connection, which may be another circuit's. A circuit that rides at all
//! comes back and goes out once more. The programme is a fractional knapsack, solved by the best
//! ratio first. If all are out for longer, by x minutes, each rides for at most x more, which saves
//! no more than the x minutes cost: the bound holds for the least `d` if it holds for one.
//!
//! Dropped: amperes, drop and loop impedance of the supplies, which circuit reaches which supply,
//! the time, people and tester that hook-ups take, and that they are whole. Without them a plan
//! could only save more. Tried by `riders_save_no_more_than_worked_by_hand` and, with the others, by
//! `bound_is_never_above_the_best_of_many_tiny_jobs`.

use super::facts::{Member, Parts};
use super::queue;

/// The most that riding saves while all are out for `minutes`.
pub fn most_saved(members: &[Member], ways: usize, minutes: i64) -> Parts {
    let riders = || members.iter().filter(|m| m.saved > 0);
    let Some(off) = riders().map(|m| m.off.minutes).min() else { return 0 };
    let back = riders().map(|m| m.back().minutes).min().unwrap_or(0);
    let mut gains: Vec<(Parts, Parts)> = riders()
        .map(|m| {
            let longest = Parts::from((minutes - m.off.minutes - m.back().minutes).max(0));
            (m.saved * longest - m.once, longest)
        })
        .filter(|(gain, _)| *gain > 0)
        .collect();
    gains.sort_by(|a, b| (b.0 * a.1).cmp(&(a.0 * b.1)));
    let mut left = Parts::from((minutes - off - back).max(0)) * Parts::try_from(ways).unwrap_or(0);
    let mut saved = 0;
    for (gain, longest) in gains {
        let taken = left.min(longest);
        left -= taken;
        // Rounded up: it is taken off the bound.
        saved += (gain * taken + longest - 1) / longest;
    }
    saved
}

/// The most that is saved in each minute if carrying cost nothing: the best `ways` circuits.
pub fn most_a_minute(members: &[Member], ways: usize) -> Parts {
    let mut rates: Vec<Parts> = members.iter().filter(|m| m.rides).map(|m| m.rate).collect();
    rates.sort_unstable_by(|a, b| b.cmp(a));
    rates.into_iter().take(ways).sum()
}

/// The most that riders save by waiting on their supply while others are tested live: no more than
/// the best in each minute of all tests, and nobody rides during its own.
pub fn most_saved_later(members: &[Member], ways: usize, machines: i64) -> Parts {
    let tests: i64 = members.iter().map(|m| m.live_test.minutes).sum();
    let own: Parts = members.iter().map(|m| m.rate * Parts::from(m.live_test.minutes)).sum();
    let waiting = (queue::waiting(members, machines) - own).max(0);
    (most_a_minute(members, ways) * Parts::from(tests)).min(waiting)
}
