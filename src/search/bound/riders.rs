//! Theorem: let every circuit of a set be out for `d` minutes but for those in which it is on a
//! temporary supply, of which no more than `ways` carry one at a time. Then temporary supplies
//! save at most the value of a linear programme: circuit i rides for at most `d - own_i` minutes,
//! all of them together for `ways x (d - least own)`, each minute saves its price out less what
//! carrying it costs, and its second outage costs in proportion.
//!
//! `own_i` is what it is out for itself: the proof before its first work, disconnect, hook up,
//! unhook, connect and dead test. A circuit that rides at all comes back and goes out once more.
//! The programme is a fractional knapsack, solved by the best ratio first.
//!
//! Dropped: amperes, drop and loop impedance of the supplies, which circuit reaches which supply,
//! the people and the tester that hook-ups take, and that they are whole. Without them a plan could
//! only save more. Tried, with the others, by `bound_is_never_above_the_cost_of_a_generated_job`.

use super::facts::{Member, Parts};

/// The most that riding saves while all are out for `minutes`; nobody rides in the first `before`
/// minutes of its own outage.
pub fn most_saved(members: &[Member], ways: usize, minutes: i64, before: i64) -> Parts {
    let own = |m: &Member| before + m.off.minutes + m.ride_work + m.back().minutes;
    let riders = || members.iter().filter(|m| m.saved > 0);
    let Some(least) = riders().map(own).min() else { return 0 };
    let mut gains: Vec<(Parts, Parts)> = riders()
        .map(|m| {
            let longest = Parts::from((minutes - own(m)).max(0));
            (m.saved * longest - m.once, longest)
        })
        .filter(|(gain, _)| *gain > 0)
        .collect();
    gains.sort_by(|a, b| (b.0 * a.1).cmp(&(a.0 * b.1)));
    let mut left = Parts::from((minutes - least).max(0)) * Parts::try_from(ways).unwrap_or(0);
    let mut saved = 0;
    for (gain, longest) in gains {
        let taken = left.min(longest);
        left -= taken;
        // Rounded up: it is taken off the bound.
        saved += (gain * taken + longest - 1) / longest;
    }
    saved
}

/// The most that is saved in each minute: the best `ways` circuits.
pub fn most_a_minute(members: &[Member], ways: usize) -> Parts {
    let mut saved: Vec<Parts> = members.iter().map(|m| m.saved).collect();
    saved.sort_unstable_by(|a, b| b.cmp(a));
    saved.into_iter().take(ways).sum()
}

/// The most that riders save by waiting on their supply while others are tested live, for which
/// the new board is laid open once more afterwards.
///
/// Each circuit tested meanwhile is then out again, but for those whose tests end as the board is
/// opened, at most `machines` of them; and all that do not ride wait for another proof.
pub fn most_saved_later(
    members: &[Member],
    ways: usize,
    machines: i64,
    closing: i64,
    proof: i64,
) -> Parts {
    let a_minute = most_a_minute(members, ways);
    let all: Parts = members.iter().map(|m| m.rate).sum();
    let tests =
        members.iter().map(|m| (a_minute * Parts::from(m.live_test.minutes) - m.once).max(0));
    let spared = members.iter().map(|m| m.once).max().unwrap_or(0) * Parts::from(machines);
    let saved = tests.sum::<Parts>() + spared + a_minute * Parts::from(closing);
    let lost = (all - a_minute).max(0) * Parts::from(proof);
    if a_minute == 0 { 0 } else { (saved - lost).max(0) }
}
