//! Theorem: that of `often`, of a few circuits, with whole circuits and every course of events tried.
//!
//! A plan whose boards are each dead only once with something in service is `once`'s. Any other is a
//! row of events: circuits come off the old board, in a span in which it is dead that is new or goes
//! on; and circuits get their live tests, after the new board's next energising. Each is charged
//! with what it surely keeps out, by the reasons told in `often`:
//!
//! - the connections and dead tests of those that come off: all that are off by then, and all that
//!   come off in the same span;
//! - their disconnections: all that are not in service from the new board, or all, where work at the
//!   old board's ways lays open what both are fed through (that part is in the flat one);
//! - a new span of the old board: all that are still on it, for `G`; those off it and not in service
//!   are out as well, beside what else they wait for, so that they pay one person's share; those in service
//!   from the new board pay `G` where both go dead;
//! - live tests: those tested, by Smith's rule; those off and not yet tested wait beside what else goes
//!   on, so that they pay one person's share;
//! - a new span of the new board: `H`, for those in service from it; one person's share for those off.
//!
//! The least over all rows of events is found by recursion over who is off, who was off before the
//! span, and who is in service.
//!
//! *Riders.* This is done for each set of circuits that ride at some time, which costs each of them one
//! outage more, and the time to hook it up and to unhook it (see `often`). A circuit rides only between
//! its disconnection and its connection. So of those off and not in service no more than `ways` of the
//! set escape a charge, none while it is itself worked on; whoever is on the old board, connected or in
//! service from the new one escapes nothing: not the interruptions, nor the waiting for live tests of those
//! that are tested together, since all of them are connected by then.
//!
//! *The cut-in.* Where the first work on tails leaves the old board without a supply, and no temporary
//! link is used, no span of the old board begins after the cut-in, and no live test comes before its end
//! (see `own_tasks`). Whoever rides through it came off in an earlier span than the last of those before
//! the first live tests, or was hooked up in this last one, while nothing was in service: that is work
//! for which all wait. So is unhooking it, and switching the supply off, if it is tested with the first.
//! Those from earlier spans are on the supply together when the last one begins; on one box, the
//! earlier of two is out while the later is hooked up, and the later unhooked while the earlier is.
//!
//! One circuit alone is out during all that `once` counts however often the boards are dead. Only if the
//! tails are moved in a later span may the new board's proof be a shorter one; but then the old one was
//! opened and proved once more, which has to take no less than what that saves.
//!
//! Dropped: as in `often`, but for whole circuits and for one plan behind `A` and `B`. Tried by
//! `few_cost_no_less_than_levels_tell` and, with the others, by
//! `bound_is_never_above_the_best_of_many_tiny_jobs` and `oracle`.

use super::facts::{Member, Parts, Work};
use super::often::Ways;
use super::own_tasks::OwnTasks;
use super::pair::Pair;
use super::queue;

/// Of how many circuits every course of events is tried.
pub const MOST: usize = 6;

/// The price of the circuits of a pair whose boards are dead more often than once each; `None` if
/// they are too many.
pub fn lower_bound(pair: &Pair, own: &OwnTasks, w: &Ways) -> Option<Parts> {
    let n = pair.members.len();
    if n > MOST || n == 0 {
        return None;
    }
    if n == 1 {
        let saved = own.prove_new[0] - own.prove_new[1];
        return (saved <= own.switching + own.prove_old[1]).then_some(ENDLESS);
    }
    let riders: usize = (0..n).filter(|i| pair.members[*i].saved > 0).map(|i| 1 << i).sum();
    let ride = |set: usize| -> Parts {
        (0..n).filter(|i| set & (1 << i) != 0).map(|i| w.ride(&pair.members[i])).sum()
    };
    // Whatever rides, no fewer minutes are paid than if all may; so most sets need no search.
    let may_all = Sets::of(pair, w, riders).least();
    let mut least = ENDLESS;
    let mut sets: Vec<usize> = subsets(if pair.ways > 0 { riders } else { 0 }).collect();
    sets.sort_by_key(|set| (ride(*set), *set));
    for set in sets {
        if may_all + ride(set) >= least {
            break;
        }
        least = least.min(Sets::of(pair, w, set).least() + ride(set));
    }
    Some(w.sure + least / w.people)
}

/// Work on the circuits of each set.
struct Worked {
    /// In minutes times people.
    minutes: Vec<Parts>,
    /// What is spared of it, by those that may ride and the set: no circuit rides while it is itself
    /// worked on.
    spared: Vec<Parts>,
}

impl Worked {
    fn of(each: &[Parts], spared: &[Parts]) -> Worked {
        let all = spared.len();
        let sum = |set: usize, of: &dyn Fn(usize) -> Parts| -> Parts {
            (0..each.len()).filter(|i| set & (1 << i) != 0).map(of).sum()
        };
        let of =
            |may_ride: usize, set: usize| sum(set, &|i| each[i] * spared[may_ride & !(1 << i)]);
        Worked {
            minutes: (0..all).map(|set| sum(set, &|i| each[i])).collect(),
            spared: (0..all * all).map(|at| of(at / all, at % all)).collect(),
        }
    }

    /// The price of the work on a set for those that are out at this rate, of whom some may ride.
    fn price(&self, rate: Parts, may_ride: usize, set: usize) -> Parts {
        rate * self.minutes[set] - self.spared[may_ride * self.minutes.len() + set]
    }
}

/// What hangs on each set of circuits, by its number.
struct Sets<'a> {
    pair: &'a Pair,
    w: &'a Ways,
    /// Those that ride at some time.
    ride: usize,
    /// How many circuits.
    n: usize,
    /// Both boards are dead while anybody works at the old one's ways.
    both: bool,
    /// Price of a minute out.
    rate: Vec<Parts>,
    /// What the dearest of them save in a minute if those that ride may be on a supply in it.
    spared: Vec<Parts>,
    off: Worked,
    back: Worked,
    live: Vec<Parts>,
    /// Price of waiting for live tests, own tests not counted.
    waiting: Vec<Parts>,
}

impl<'a> Sets<'a> {
    /// With the circuits that ride at some time.
    fn of(pair: &'a Pair, w: &'a Ways, ride: usize) -> Sets<'a> {
        let members = &pair.members;
        let n = members.len();
        let both = pair.strip.is_some();
        let (mut rate, mut spared, mut live, mut waiting) = (vec![], vec![], vec![], vec![]);
        let machines = i64::try_from(w.machines).unwrap_or(i64::MAX);
        for set in 0..1_usize << n {
            let of = |set: usize| (0..n).filter(move |i| set & (1 << i) != 0);
            let these: Vec<Member> = of(set).map(|i| members[i].clone()).collect();
            rate.push(these.iter().map(|m| m.rate).sum());
            let mut riding: Vec<Parts> = of(set & ride).map(|i| members[i].saved).collect();
            riding.sort_unstable_by(|a, b| b.cmp(a));
            spared.push(riding.into_iter().take(pair.ways).sum());
            live.push(these.iter().map(|m| Parts::from(m.live_test.minutes)).sum());
            let own: Parts = these.iter().map(|m| m.rate * Parts::from(m.live_test.minutes)).sum();
            waiting.push(queue::waiting(&these, machines) - own);
        }
        let work = |of: fn(&Member) -> Work| -> Worked {
            let minutes: Vec<Parts> = members.iter().map(|m| of(m).crew_minutes.into()).collect();
            Worked::of(&minutes, &spared)
        };
        let (off, back) = (work(|m| m.off), work(Member::back));
        Sets { pair, w, ride, n, both, rate, spared, off, back, live, waiting }
    }

    /// The least price of a row of events, in parts of 1 / people.
    fn least(&self) -> Parts {
        let all = (1_usize << self.n) - 1;
        // A circuit is on the old board, or off it in one of four ways.
        let place = |set: usize| -> usize {
            (0..self.n).filter(|i| set & (1 << i) != 0).map(|i| 5_usize.pow(i as u32)).sum()
        };
        let places: Vec<usize> = (0..=all).map(place).collect();
        let at = |off: usize, before: usize, back: usize| {
            places[off] + places[before] + 2 * places[back]
        };
        let mut least = vec![ENDLESS; 5_usize.pow(self.n as u32)];
        let flat = self.w.beside - self.w.cut_in - self.w.off;
        least[0] = (self.rate[all] - self.spared[all]) * flat;
        let lower = |least: &mut Vec<Parts>, to: usize, cost: Parts| {
            least[to] = least[to].min(cost);
        };
        // Each event adds to those off, or to those in service: both only grow by it.
        for off in 0..=all {
            for before in subsets(off) {
                // In ascending order, so that none is looked at before all that lead to it.
                for back in (0..=off).filter(|b| b & !off == 0) {
                    let so_far = least[at(off, before, back)];
                    if so_far == ENDLESS {
                        continue;
                    }
                    for more in subsets(all & !off).filter(|s| *s != 0) {
                        let next = off | more;
                        let work = so_far + self.work(off, back, more);
                        // After the cut-in the old board is never live again.
                        if back == 0 || self.w.cut_in == 0 {
                            let new = work + self.new_span(off, back);
                            lower(&mut least, at(next, off, back), new);
                        }
                        let span = off & !before;
                        if span != 0 {
                            let on = work + self.same_span(off, back, more, span);
                            lower(&mut least, at(next, before, back), on);
                        }
                    }
                    for tested in subsets(off & !back).filter(|s| *s != 0) {
                        // Each board dead once: that is `once`.
                        if before == 0 && back == 0 && tested == all {
                            continue;
                        }
                        let cut_in = if back == 0 { self.cut_in(off, before, tested) } else { 0 };
                        let cost = so_far + cut_in + self.come_back(off, back, tested);
                        lower(&mut least, at(off, before, back | tested), cost);
                    }
                }
            }
        }
        subsets(all).map(|before| least[at(all, before, all)]).min().unwrap_or(ENDLESS)
    }

    /// The price of the work on `more` that come off after `off`, of which `back` are in service again.
    fn work(&self, off: usize, back: usize, more: usize) -> Parts {
        let all = self.rate.len() - 1;
        let may_ride = (off | more) & !back;
        let cut = if self.both { all } else { all & !back };
        self.back.price(self.rate[off | more], may_ride, more)
            + self.off.price(self.rate[cut], may_ride, more)
    }

    /// What it costs besides if they come off in a new span.
    fn new_span(&self, off: usize, back: usize) -> Parts {
        if off == 0 {
            return 0;
        }
        let all = self.rate.len() - 1;
        let cut = (all & !off) | if self.both { back } else { 0 };
        self.again(cut, off & !back, off & !back, self.w.again_old)
    }

    /// The same in the one in which `span` came off.
    fn same_span(&self, off: usize, back: usize, more: usize, span: usize) -> Parts {
        let may_ride = off & !back;
        let before = self.back.price(0, may_ride, span);
        self.back.price(self.rate[more], may_ride | more, span) - before
    }

    /// The price of the cut-in, before the first live tests: of `off`, those `before` came off in
    /// earlier spans, so that they may have been hooked up while the old board was live; whoever else
    /// rides through the cut-in was hooked up while nothing was in service, and whoever is `tested`
    /// now was unhooked then.
    fn cut_in(&self, off: usize, before: usize, tested: usize) -> Parts {
        if self.w.cut_in == 0 {
            return 0;
        }
        let all = self.rate.len() - 1;
        let switching = &self.pair.switching_supplies;
        // On one box none rides while another is hooked up.
        let riding = if self.pair.one_box { 0 } else { self.spared[self.ride] };
        let boxed = |set: usize, minutes: fn(&Member) -> i64, switching: i64| -> Parts {
            if set == 0 || !self.w.hooks_up {
                return 0;
            }
            // What a circuit's own hooking up costs it is counted with its ride.
            let others = |m: &Member| (self.rate[all] - m.rate - riding).max(0);
            let each = self.members(set).map(|m| others(m) * Parts::from(minutes(m)));
            each.sum::<Parts>() + self.rate[all & !self.ride] * Parts::from(switching)
        };
        let through = |ride: usize| {
            (self.rate[all] - self.spared[ride]) * self.w.cut_in
                + boxed(ride & !before, |m| m.hook_up, switching.on)
                + boxed(ride & tested, |m| m.unhook, switching.off + switching.prove)
                + self.together(ride & before, |m| m.hook_up)
                + self.together(ride & before & !tested, |m| m.unhook)
        };
        // No more ride at once than there are ways, and no more are needed to spare the dearest.
        let few = |set: &usize| set.count_ones() as usize <= self.pair.ways;
        subsets(off & self.ride).filter(few).map(through).min().unwrap_or(0)
    }

    fn members(&self, set: usize) -> impl Iterator<Item = &Member> {
        (0..self.n).filter(move |i| set & (1 << i) != 0).map(|i| &self.pair.members[i])
    }

    /// What circuits cost each other that are on one box at one time: while the later of two is
    /// hooked up, the earlier is out, and the other way round while the first is unhooked.
    fn together(&self, ride: usize, minutes: fn(&Member) -> i64) -> Parts {
        if !self.pair.one_box {
            return 0;
        }
        let least = |a: &Member, b: &Member| {
            (a.rate * Parts::from(minutes(b))).min(b.rate * Parts::from(minutes(a)))
        };
        let before = |nth: usize| self.members(ride).take(nth);
        let pairs = self.members(ride).enumerate();
        let each = pairs.flat_map(|(nth, a)| before(nth).map(move |b| least(a, b)));
        self.w.people * each.sum::<Parts>()
    }

    /// The price of `tested` getting their live tests.
    fn come_back(&self, off: usize, back: usize, tested: usize) -> Parts {
        let others = off & !back & !tested;
        let waiting = self.rate[others] - self.spared[others];
        let tests = self.w.people * self.waiting[tested] + waiting * self.live[tested];
        let waits = off & !back;
        tests + if back == 0 { 0 } else { self.again(back, waits, waits, self.w.again_new) }
    }

    /// What one isolation more costs, in parts of 1 / people: those that it interrupts are out for
    /// all of it, others that are out wait beside what else is done, unless they ride.
    fn again(&self, cut: usize, waits: usize, may_ride: usize, minutes: Parts) -> Parts {
        let p = self.w.people;
        let paid = p * self.rate[cut] + self.rate[waits] - self.spared[may_ride];
        paid * minutes + self.rate[cut] * self.w.q * p
    }
}

/// All subsets of a set, itself and the empty one too.
fn subsets(set: usize) -> impl Iterator<Item = usize> {
    let mut next = Some(set);
    std::iter::from_fn(move || {
        let this = next?;
        next = if this == 0 { None } else { Some((this - 1) & set) };
        Some(this)
    })
}

/// What cannot be costs this.
const ENDLESS: Parts = Parts::MAX / 4;
