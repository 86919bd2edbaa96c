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
//! span, and who is in service. In each minute the dearest `ways` of those that can ride are spared.
//!
//! One circuit alone is out during all that `once` counts however often the boards are dead. Only if the
//! tails are moved in a later span may the new board's proof be a shorter one; but then the old one was
//! opened and proved once more, which has to take no less than what that saves.
//!
//! Dropped: as in `often`, but for whole circuits and for one plan behind `A` and `B`. Tried by
//! `few_cost_no_less_than_levels_tell` and, with the others, by
//! `bound_is_never_above_the_best_of_many_tiny_jobs` and `oracle`.

use super::facts::{Member, Parts};
use super::often::Ways;
use super::own_tasks::OwnTasks;
use super::pair::Pair;
use super::{queue, riders};

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
    let sets = Sets::of(pair, w);
    Some(w.sure + sets.least() / w.people)
}

/// What hangs on each set of circuits, by its number.
struct Sets<'a> {
    w: &'a Ways,
    /// How many circuits.
    n: usize,
    /// Both boards are dead while anybody works at the old one's ways.
    both: bool,
    /// Price of a minute in which they are out and the dearest ride.
    rate: Vec<Parts>,
    /// Work in minutes times people.
    off: Vec<Parts>,
    back: Vec<Parts>,
    live: Vec<Parts>,
    /// Price of waiting for live tests, own tests not counted.
    waiting: Vec<Parts>,
}

impl<'a> Sets<'a> {
    fn of(pair: &Pair, w: &'a Ways) -> Sets<'a> {
        let n = pair.members.len();
        let both = pair.strip.is_some();
        let (rate, off, back, live, waiting) = (vec![], vec![], vec![], vec![], vec![]);
        let mut sets = Sets { w, n, both, rate, off, back, live, waiting };
        for set in 0..1_usize << n {
            let these = (0..n).filter(|i| set & (1 << i) != 0);
            let these: Vec<Member> = these.map(|i| pair.members[i].clone()).collect();
            let rate: Parts = these.iter().map(|m| m.rate).sum();
            sets.rate.push(rate - riders::most_a_minute(&these, pair.ways));
            let off: Parts = these.iter().map(|m| Parts::from(m.off.crew_minutes)).sum();
            sets.off.push(if both { 0 } else { off });
            sets.back.push(these.iter().map(|m| Parts::from(m.back().crew_minutes)).sum());
            sets.live.push(these.iter().map(|m| Parts::from(m.live_test.minutes)).sum());
            let machines = i64::try_from(w.machines).unwrap_or(i64::MAX);
            let own: Parts = these.iter().map(|m| m.rate * Parts::from(m.live_test.minutes)).sum();
            let all = queue::waiting(&these, machines) - own;
            let later = riders::most_saved_later(&these, pair.ways, machines);
            sets.waiting.push((all - later).max(0));
        }
        sets
    }

    /// The least price of a row of events, in parts of 1 / people.
    fn least(&self) -> Parts {
        let all = (1_usize << self.n) - 1;
        let at = |off: usize, before: usize, back: usize| {
            (off << (2 * self.n)) | (before << self.n) | back
        };
        let mut least = vec![ENDLESS; 1 << (3 * self.n)];
        least[0] = 0;
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
                        let new = so_far + self.come_off(off, back, more, None);
                        lower(&mut least, at(next, off, back), new);
                        if off & !before != 0 {
                            let on = so_far + self.come_off(off, back, more, Some(off & !before));
                            lower(&mut least, at(next, before, back), on);
                        }
                    }
                    for tested in subsets(off & !back).filter(|s| *s != 0) {
                        // Each board dead once: that is `once`.
                        if before == 0 && back == 0 && tested == all {
                            continue;
                        }
                        let cost = so_far + self.come_back(off, back, tested);
                        lower(&mut least, at(off, before, back | tested), cost);
                    }
                }
            }
        }
        subsets(all).map(|before| least[at(all, before, all)]).min().unwrap_or(ENDLESS)
    }

    /// The price of `more` coming off, after `off`, of which `back` are in service again: in a new
    /// span, or in the one in which `span` came off.
    fn come_off(&self, off: usize, back: usize, more: usize, span: Option<usize>) -> Parts {
        let all = self.rate.len() - 1;
        let (w, rate) = (self.w, |set: usize| self.rate[set]);
        let work = rate(off | more) * self.back[more] + rate(all & !back) * self.off[more];
        match span {
            Some(span) => work + (rate(off | more) - rate(off)) * self.back[span],
            None if off == 0 => work,
            None => {
                let cut = (all & !off) | if self.both { back } else { 0 };
                work + w.again(rate(cut | (off & !back)), rate(cut), w.again_old)
            }
        }
    }

    /// The price of `tested` getting their live tests.
    fn come_back(&self, off: usize, back: usize, tested: usize) -> Parts {
        let (w, rate) = (self.w, |set: usize| self.rate[set]);
        let others = off & !back & !tested;
        let tests = w.people * self.waiting[tested] + rate(others) * self.live[tested];
        let again = w.again(rate(off), rate(back), w.again_new);
        tests + if back == 0 { 0 } else { again }
    }
}

impl Ways {
    /// What one isolation more costs, in parts of 1 / people: those that it interrupts are out for
    /// all of it, others that are out wait beside what else is done.
    fn again(&self, out: Parts, cut: Parts, minutes: Parts) -> Parts {
        (out + (self.people - 1) * cut) * minutes + cut * self.q * self.people
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
