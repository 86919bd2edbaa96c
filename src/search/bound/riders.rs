//! Theorem: let every circuit of a set be out for `d` minutes of dead work with `w` minutes times
//! people of work in them, and then until its live test, but for those minutes in which it is on
//! a temporary supply, of which no more than `ways` carry one at a time. Then what all cost together
//! is the least, over the number `k` of circuits that ride and the number `j` of pauses, of
//!
//! `rates x d(j, k) + each one's first outage + waiting for live tests - saved(k, d(j, k)) - later(j)`.
//!
//! A *pause* is a span between dead work in which somebody who does not ride is in service or is being
//! tested live; all other minutes from the first dead work to the last are dead minutes. To hook up
//! and to unhook is work. A circuit is off its old way before it is hooked up, and not yet on its new
//! one when it is unhooked; if it rides in dead minutes, both lie outside them only if a pause comes
//! before and one after. So with no pause `d(0, k) >= (w + hook up + unhook) / people`, with one still
//! the lesser of the two counts for each, and with more none. In a plan that gives switching its own
//! time (see `own_tasks`) each pause adds what an isolation and a proof more take while all are out,
//! and switching the supply on and off and proving its box again are work like hooking up.
//!
//! `saved` is the value of a linear programme: circuit i rides for at most `d - own_i` of the dead
//! minutes, all of them together for `ways x (d - least off - least back)`, no more than `k` of them,
//! each minute saves its price out less what carrying it costs, and its second outage costs in
//! proportion. `own_i` is its disconnection, hook up, unhook, connection and dead test: of these,
//! hook up and unhook may lie outside the dead minutes, but then it is out in these others. Nobody
//! rides before the first disconnection ends, nor from the start of the last connection, which may be
//! another circuit's. Where all ride on one supply whose box is laid open by the work at it, none is
//! live while another is hooked up or unhooked (W1): with no pause these minutes are off for all.
//!
//! `later` is what riders save while others are tested live: no more than the best in each minute of
//! all tests, and nobody during its own. They are connected after that, in a new dead time: without a
//! pause there is none of it.
//!
//! The programme is a fractional knapsack, solved by the best ratio first. If all are out for longer,
//! by x minutes, each rides for at most x more, which saves no more than the x minutes cost: the bound
//! holds for the least `d` if it holds for one.
//!
//! Dropped: amperes, drop and loop impedance of the supplies, which circuit reaches which supply,
//! testers that hook-ups take, order among them, and who may do them. Without them a plan could only
//! save more. Tried by `riders_save_no_more_than_worked_by_hand` and, with the others, by
//! `bound_is_never_above_the_best_of_many_tiny_jobs`.

use super::facts::{Member, Parts, up};
use super::own_tasks::OwnTasks;
use super::pair::Pair;
use super::queue;

/// The dead time of some circuits.
#[derive(Clone, Copy, Debug)]
pub struct Dead {
    /// How long at least.
    pub minutes: i64,
    /// Minutes times people of the work in it.
    pub work: i64,
    /// How many pauses may be, 2 for more.
    pub pauses: i64,
    /// What a pause adds at least.
    pub again: i64,
    /// How many can be at work.
    pub people: i64,
}

/// What the circuits of a pair cost at least that are all out for a dead time and until their live
/// tests.
pub fn least(pair: &Pair, own: &OwnTasks, dead: Dead, machines: i64) -> Parts {
    let members = &pair.members;
    let waiting = queue::waiting(members, machines);
    let once: Parts = members.iter().map(|m| m.once).sum();
    let rate: Parts = members.iter().map(|m| m.rate).sum();
    let alone = rate * Parts::from(dead.minutes) + once + waiting;
    let later = most_saved_later(members, pair.ways, machines);
    let riders = members.iter().filter(|m| m.saved > 0).count();
    let with = |k: usize, pauses: i64| -> Parts {
        let (box_work, closed) = box_work(pair, own, k, pauses);
        let more = pauses * dead.again;
        let minutes = up(dead.work + box_work + more, dead.people).max(dead.minutes + more);
        let saved = most_saved(members, pair.ways, k, minutes, closed);
        let later = if pauses == 0 { 0 } else { later };
        rate * Parts::from(minutes) + once + waiting - saved - later
    };
    let all = (1..=riders).flat_map(|k| (0..=dead.pauses).map(move |j| (k, j)));
    let all = all.map(|(k, j)| with(k, j));
    if pair.ways == 0 { alone } else { all.chain([alone]).min().unwrap_or(alone).max(0) }
}

/// The least work in the dead minutes of hooking `k` circuits up and off again, with so many pauses,
/// and for how many of these minutes no supply is live.
fn box_work(pair: &Pair, own: &OwnTasks, k: usize, pauses: i64) -> (i64, i64) {
    let least = |on: i64, off: i64| match pauses {
        0 => on + off,
        1 => on.min(off),
        _ => 0,
    };
    let riders = pair.members.iter().filter(|m| m.saved > 0);
    let mut each: Vec<i64> = riders.map(|m| least(m.hook_up, m.unhook)).collect();
    each.sort_unstable();
    let joints: i64 = each.iter().take(k).sum();
    if !own.given {
        return (joints, if pauses == 0 && pair.one_box { joints } else { 0 });
    }
    let s = &pair.switching_supplies;
    let work = joints + least(s.on, s.off + s.prove);
    let closed = joints + own.switching + s.prove;
    (work, if pauses == 0 && pair.one_box { closed } else { 0 })
}

/// The most that `most` circuits save by riding while all are out for `minutes`, in `closed` of
/// which no supply is live.
pub fn most_saved(
    members: &[Member],
    ways: usize,
    most: usize,
    minutes: i64,
    closed: i64,
) -> Parts {
    let riders = || members.iter().filter(|m| m.saved > 0);
    let Some(off) = riders().map(|m| m.off.minutes).min() else { return 0 };
    let back = riders().map(|m| m.back().minutes).min().unwrap_or(0);
    let open = (minutes - off - back - closed).max(0);
    let mut gains: Vec<(Parts, Parts)> = riders()
        .map(|m| {
            let own = m.off.minutes + m.hook_up + m.unhook + m.back().minutes;
            let longest = Parts::from((minutes - own).min(open).max(0));
            (m.saved * longest - m.once, longest)
        })
        .filter(|(gain, _)| *gain > 0)
        .collect();
    let mut whole: Vec<Parts> = gains.iter().map(|(gain, _)| *gain).collect();
    whole.sort_unstable_by(|a, b| b.cmp(a));
    let whole: Parts = whole.into_iter().take(most).sum();
    gains.sort_by(|a, b| (b.0 * a.1).cmp(&(a.0 * b.1)));
    let mut left = Parts::from(open) * Parts::try_from(ways).unwrap_or(0);
    let mut saved = 0;
    for (gain, longest) in gains {
        let taken = left.min(longest);
        left -= taken;
        // Rounded up: it is taken off the bound.
        saved += (gain * taken + longest - 1) / longest;
    }
    saved.min(whole)
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
