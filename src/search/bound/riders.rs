//! Theorem: let every circuit of a set be out for `d` minutes of dead work with `w` minutes times
//! people of work in them, and then until its live test, but for those minutes in which it is on
//! a temporary supply, of which no more than `ways` carry one at a time. Then what all cost together
//! is the least, over the number `k` of circuits that ride and over the pauses that there are, of
//!
//! `rates x d + each one's first outage + waiting for live tests - saved(k, d) - later`.
//!
//! A *pause* is a span between dead work in which somebody who does not ride is in service or is being
//! tested live: from the old board before it is stripped out, or from the new one after its first
//! energising. All other minutes from the first dead work to the last are dead minutes. To hook up
//! and to unhook is work. A circuit is off its old way before it is hooked up, and not yet on its new
//! one when it is unhooked; if it rides in dead minutes, both lie outside them only in pauses before and
//! after. So with no pause `d >= (w + hook up + unhook) / people`; with pauses on the old board only, the
//! unhooking counts, but for those that ride only before the strip-out; with pauses on the new board only,
//! the hooking up, but for those that ride only after its first energising; with both, nothing. In a
//! plan that gives switching its own time (see `own_tasks`) a pause adds what an isolation and a
//! proof more take while all are out, and switching the supply on and off and proving its box again are
//! work like hooking up. Without a pause all is done in one stretch, in which each has to have a break
//! once they have worked for so long (section 3). Alone on its boards, a circuit has no pause.
//!
//! `saved` is the value of a linear programme: circuit i rides for at most `d - own_i` of the dead
//! minutes, all of them together for `ways x (d - least off - least back)`, no more than `k` of them,
//! each minute saves its price out less what carrying it costs, and its second outage costs in
//! proportion. `own_i` is its disconnection, hook up, unhook, connection and dead test: of these,
//! hook up and unhook may lie outside the dead minutes, but then it is out in these others. Nobody
//! rides before the first disconnection ends, nor from the start of the last connection, which may be
//! another circuit's. So nobody rides while the old board is first opened and proved, nor, without a pause
//! on the new board, while that is energised after the last dead work. Where all ride on one supply whose
//! box is laid open by the work at it, none is live while another is hooked up or unhooked (W1): so far as
//! that is work in the dead minutes, they are off for all.
//!
//! `later` is what riders save while others are tested live: no more than the best in each minute of
//! all tests. Nor is the waiting that is left less than this: with prices parted in steps, of those above
//! a step all but one on test and `ways` that ride wait in each minute of tests; so in the order of their
//! lengths the j-th of n such tests keeps `n - j - ways` waiting. They are connected after that, in a new
//! dead time: without a pause on the new board there is none of it.
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
    /// How many can be at work.
    pub people: i64,
    /// Where there may be pauses, what they are like.
    pub pauses: Option<Pauses>,
    /// What people do in one stretch with it, if there is none.
    pub stretch: Stretch,
    /// Minutes at its start before anything is off its old way, and at its end when all that is not
    /// connected after a pause of the new board is on its new way.
    pub shut: [i64; 2],
}

/// What people do in one stretch with a dead time, and when they have to have a break.
#[derive(Clone, Copy, Debug, Default)]
pub struct Stretch {
    /// Minutes of work before it.
    pub before: i64,
    /// The same times people.
    pub work: i64,
    /// The longest time without a break.
    pub longest: i64,
    /// How long a break is.
    pub break_length: i64,
}

impl Stretch {
    /// The least dead time in which so many people do so much work with their breaks.
    fn least(&self, work: i64, people: i64) -> i64 {
        let longest = self.longest.max(1);
        // Each is at work for `longest` minutes at most between two breaks.
        let each = up(self.work + work, people);
        let breaks = (each - 1).max(0) / longest;
        each + breaks * self.break_length - self.before
    }
}

/// Pauses in a dead time.
#[derive(Clone, Copy, Debug)]
pub struct Pauses {
    /// What one adds at least, on the old board and on the new one.
    pub again: [i64; 2],
    /// What a pause of the new board costs besides whoever does not ride, in minutes: an interruption
    /// or, before its live test, a further energising.
    pub waits: i64,
    /// Dead minutes after the old board's last pause, and before the new one's first.
    pub apart: [i64; 2],
}

/// On which boards there are pauses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Pausing {
    Neither,
    Old,
    New,
    Both,
}

/// What the circuits of a pair cost at least that are all out for a dead time and until their live
/// tests.
pub fn least(pair: &Pair, own: &OwnTasks, dead: Dead, machines: i64) -> Parts {
    use Pausing::*;
    let members = &pair.members;
    let waiting = queue::waiting(members, machines);
    let once: Parts = members.iter().map(|m| m.once).sum();
    let rate: Parts = members.iter().map(|m| m.rate).sum();
    let riders = members.iter().filter(|m| m.saved > 0).count();
    let alone = members.len().max(pair.off.len()).max(pair.back.len()) == 1;
    let pauses = dead.pauses.filter(|_| !alone);
    let kinds: &[Pausing] = if pauses.is_some() { &[Neither, Old, New, Both] } else { &[Neither] };
    let with = |k: usize, pausing: Pausing| -> Parts {
        let (box_work, closed) = box_work(pair, own, k, pausing);
        let shut = match pausing {
            Neither | Old => dead.shut[0] + dead.shut[1],
            New | Both => dead.shut[0],
        };
        let [old, new] = pauses.map_or([0, 0], |p| p.again);
        let [after, before] = pauses.map_or([0, 0], |p| p.apart);
        let more = match pausing {
            Neither => 0,
            Old => old,
            New => new,
            Both => old + new,
        };
        let mut minutes = up(dead.work + box_work + more, dead.people).max(dead.minutes + more);
        if pausing == Neither {
            minutes = minutes.max(dead.stretch.least(dead.work + box_work, dead.people));
        }
        // Those that ride only on one side of the pauses are hooked up or off for nothing.
        let beside = match pausing {
            Old => (minutes - after - dead.shut[0]).max(0),
            New => (minutes - before).max(0),
            _ => 0,
        };
        let saved = most_saved(members, pair.ways, k, minutes, [shut, closed], beside);
        let later = match pausing {
            Neither | Old => 0,
            New | Both => most_saved_later(members, pair.ways, machines),
        };
        let waits = match pausing {
            Neither | Old => 0,
            New | Both => pauses.map_or(0, |p| p.waits),
        };
        let more = (rate - most_a_minute(members, pair.ways)) * Parts::from(waits);
        rate * Parts::from(minutes) + more + once + waiting - saved - later
    };
    let all = (0..=riders).flat_map(|k| kinds.iter().map(move |p| (k, *p)));
    all.map(|(k, p)| with(k, p)).min().unwrap_or(0).max(0)
}

/// The least work in the dead minutes of hooking `k` circuits up and off again, and for how many of
/// these minutes no supply is live.
fn box_work(pair: &Pair, own: &OwnTasks, k: usize, pausing: Pausing) -> (i64, i64) {
    let least = |on: i64, off: i64| match pausing {
        Pausing::Neither => on + off,
        Pausing::Old => off,
        Pausing::New => on,
        Pausing::Both => 0,
    };
    if k == 0 {
        return (0, 0);
    }
    let riders = pair.members.iter().filter(|m| m.saved > 0);
    let mut each: Vec<i64> = riders.map(|m| least(m.hook_up, m.unhook)).collect();
    each.sort_unstable();
    let joints: i64 = each.iter().take(k).sum();
    let closed = |minutes: i64| {
        if pausing != Pausing::Both && pair.one_box { minutes } else { 0 }
    };
    if !own.given {
        return (joints, closed(joints));
    }
    let s = &pair.switching_supplies;
    let proved = least(own.switching, own.switching + s.prove) - own.switching;
    (joints + least(s.on, s.off + s.prove), closed(joints + proved))
}

/// The most that `most` circuits save by riding while all are out for `minutes`, in some of which
/// nobody rides yet or any more, in others no supply is live, and any by riding in `beside` of these.
pub fn most_saved(
    members: &[Member],
    ways: usize,
    most: usize,
    minutes: i64,
    [shut, closed]: [i64; 2],
    beside: i64,
) -> Parts {
    let minutes = minutes - shut;
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
    // In the minutes beside no more than the best; in all others no more than `most` of them.
    let beside = Parts::from(beside.min(open));
    let mut whole: Vec<Parts> = riders()
        .map(|m| {
            let own = m.off.minutes + m.hook_up + m.unhook + m.back().minutes;
            let longest = Parts::from((minutes - own).min(open));
            (m.saved * (longest - beside).max(0) - m.once).max(0)
        })
        .collect();
    whole.sort_unstable_by(|a, b| b.cmp(a));
    let best: Parts = most_a_minute(members, ways) * beside;
    let whole: Parts = whole.into_iter().take(most).sum::<Parts>() + best;
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

/// The most that riders save by waiting on their supply while others are tested live.
pub fn most_saved_later(members: &[Member], ways: usize, machines: i64) -> Parts {
    let tests: i64 = members.iter().map(|m| m.live_test.minutes).sum();
    let own: Parts = members.iter().map(|m| m.rate * Parts::from(m.live_test.minutes)).sum();
    let waiting = (queue::waiting(members, machines) - own).max(0);
    let left = (waiting - still_waiting(members, ways, machines)).max(0);
    (most_a_minute(members, ways) * Parts::from(tests)).min(left)
}

/// The least waiting for live tests, own tests not counted, of those that do not ride meanwhile.
fn still_waiting(members: &[Member], ways: usize, machines: i64) -> Parts {
    let machines = usize::try_from(machines.max(1)).unwrap_or(1);
    let mut rates: Vec<Parts> = members.iter().map(|m| m.rate).collect();
    rates.sort_unstable();
    rates.dedup();
    let (mut step, mut sum) = (0, 0);
    for rate in rates {
        let above = || members.iter().filter(|m| m.rate >= rate);
        let mut tests: Vec<i64> = above().map(|m| m.live_test.minutes).collect();
        tests.sort_unstable();
        let spared = machines - 1 + ways.min(above().filter(|m| m.rides).count());
        let n = tests.len();
        let wait = tests.iter().enumerate().map(|(j, minutes)| {
            Parts::from(*minutes) * Parts::try_from((n - j - 1).saturating_sub(spared)).unwrap_or(0)
        });
        sum += (rate - step) * wait.sum::<Parts>();
        step = rate;
    }
    sum / Parts::try_from(machines).unwrap_or(1)
}
