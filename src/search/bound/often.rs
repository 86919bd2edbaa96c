//! Theorem: let a new board stand beside the old one, and let boards be dead as often as one likes.
//! Then the circuits that go from the one to the other cost at least
//!
//! `rates x flat + A + B + each one's own live test + each one's first outage`
//!
//! (*flat* below), where `A` and `B` are the least of these over all orders and all ways to part the
//! circuits into batches, with `p` the people who can be at work at once, `m` testers among them,
//! `G` and `H` the minutes that one outage more costs:
//!
//! - `A`: each circuit waits for the connections and dead tests of its own batch and of all later
//!   ones, and for the disconnections of all earlier ones, over `p`, and pays `G` for each batch
//!   before its own;
//! - `B`: each circuit waits for the live tests before it in its own batch, and pays `H` for each batch
//!   after its own.
//!
//! Batches of `A` are the spans in which the old board is dead, by the disconnections that fall in
//! them; of `B`, the spans in which the new board is, by the live tests after them. A circuit is out
//! while the old board is dead, until it is off it; from then on until its live test is passed; and
//! then while the new board is dead. So it escapes the connection of another only where that goes on
//! while it is in service from the old board, hence in a later batch of `A` than the other; the
//! disconnection of another only in service from the new board, hence in no later batch of `A`; and its
//! live test, if that comes first, only in another batch of `B`. Each batch before its own on the
//! old board, or after its own on the new, interrupts it once more, for `q`, and in a plan that gives
//! switching its own time (see `own_tasks`) for the opening, the proof and the closing at least. If it stays
//! off on purpose in between, it waits for what is done then instead: so would all if the two batches were
//! one, and that is one of the ways to part them. What it waits for is never done in one minute by
//! more than `p` people; a live test at a board and dead work there never meet (W5), and the
//! disconnections that count for a circuit come before it is connected.
//!
//! *Flat*: a circuit is out during its own disconnection; nothing on either board is in service during the work on a joint through which both are fed
//! (see `pair`); in a plan that gives switching its own time, nor during the opening and proof of the old board
//! before its own disconnection or an earlier one, nor during the energising before its live test, nor, where tails move
//! over, during the new board's proof and test. Where work at the old board's ways lays open what both are fed
//! through, nobody is in service during any disconnection there or during its strip-out, and each batch of
//! `A` keeps all out for the opening and the proof, those of other batches beside what else they wait for.
//!
//! The least is bounded level by level. With prices per minute of work in order, each circuit's price
//! is the sum of the steps up to its own, so that what all cost is the sum over the steps of what those
//! above it cost with prices that are equal to their work. Of these, with `X` minutes of work in all
//! and `Y` of all others, and disconnections no less than the share `s` of it, batches `X_k` cost
//!
//! `((1 + s) X^2 + (1 - s) sum of X_k^2) / 2p + s X Y / p + (1 - s) X_1 Y / p + sum of G (k - 1) X_k`,
//!
//! with `s` no more than 1, for the others are best in the first batch: a convex function of amounts with a given sum, whose least
//! is where all amounts above nothing have one slope. For `B` alike, with live tests as the work.
//!
//! *Riders.* A circuit rides only between its disconnection and its connection: it escapes nothing
//! of `B`, nor the disconnections and interruptions of `A`, nor the first opening and proof. Of what is left, the
//! connections and dead tests of all and what else holds up all (`beside`), no more than `ways` of them escape
//! each minute, none its own connection. Each that rides has one outage more, and is out while it is
//! hooked up and unhooked: for all of that time, and for the switching of the supply, where all ride on
//! one box, since then none rides while another is hooked up, so that no more than `ways` escape with
//! whoever is; else for one person's share, if whoever does it is one of `p`. What all save is no more
//! than the value of the fractional knapsack of this. Of the openings that keep all out, the largest `ways` at
//! each level are left out.
//!
//! *A link.* Plans that put a temporary link on are told apart from those that do not, where they do the work
//! listed for it (see `own_tasks`): it is work for which all wait where it lays the shared feed open.
//!
//! Dropped: that `A` and `B` are of one plan, that circuits are whole, tails but for these, hook-ups, and
//! all that `cut` drops. Tried by `batches_are_worked_by_hand`,
//! `batches_cost_no_less_than_levels_tell` and, with the others, by
//! `bound_is_never_above_the_best_of_many_tiny_jobs`.

use super::facts::{Member, Parts};
use super::own_tasks::OwnTasks;
use super::pair::Pair;

/// Prices per minute of work are counted in parts of this.
const STEP: Parts = 1 << 20;
/// So are the shares of disconnections in connections.
const SHARE: Parts = 1 << 10;

/// What every way to move the circuits of a pair costs, and what one outage more does.
#[derive(Clone, Debug, Default)]
pub struct Ways {
    /// Price of a minute out of all.
    pub rate: Parts,
    /// Flat part that nobody escapes, but for own disconnections.
    pub sure: Parts,
    /// The rest of the flat part, in minutes times `people`: who rides escapes it.
    pub beside: Parts,
    /// So much of `beside` is the cut-in, after which the old board is never live again and before which
    /// the new one is not live; 0 where that need not be so.
    pub cut_in: Parts,
    /// Own disconnections, where not all wait for all.
    pub own_off: Parts,
    /// People who can be at work at once.
    pub people: Parts,
    /// Whoever hooks up or unhooks is one of them.
    pub hooks_up: bool,
    /// Minutes for which a circuit is out besides while it is hooked up and unhooked, where all that ride
    /// do so on one supply; nothing is known where they do not.
    pub at_box: Option<i64>,
    /// So much of `beside` are the disconnections of the pair's circuits.
    pub off: Parts,
    /// Testers among them.
    pub machines: Parts,
    /// `G` without the price of the interruption.
    pub again_old: Parts,
    /// `H` without it.
    pub again_new: Parts,
    /// The interruption in minutes.
    pub q: Parts,
}

impl Ways {
    /// Of a pair, with so many people and `q` minutes for an outage more, of plans that put its
    /// temporary link on or do not.
    pub fn of(pair: &Pair, own: &OwnTasks, people: i64, q: i64, linked: bool) -> Ways {
        let members = &pair.members;
        let shared = !pair.tails.is_empty();
        let hands = pair.hands_old + pair.hands_new;
        let p = Parts::from(if shared { people } else { people.min(hands) }.max(1));
        let rate: Parts = members.iter().map(|m| m.rate).sum();
        let mut work: i64 = pair.tails.iter().map(|w| w.crew_minutes).sum();
        let (mut before, mut cut_in) = (0, 0);
        if own.given {
            // The first time that the old board is dead holds up all.
            before = own.switching + own.prove_old[0];
            if shared && pair.old_tails_first {
                work += pair.test.crew_minutes + own.energise.crew_minutes;
                cut_in = Parts::from(work) + p * Parts::from(own.prove_new[1]);
            } else {
                before += own.energise_again.minutes;
            }
        }
        let own_test = members.iter().map(|m| m.rate * Parts::from(m.live_test.minutes) + m.once);
        // Each waits for its own disconnection, or for all of them and the strip-out.
        let mut beside = if cut_in > 0 { cut_in } else { Parts::from(work) };
        let (mut off, mut off_beside): (Parts, Parts) = (0, 0);
        if let Some(strip) = pair.strip {
            let all: i64 = pair.off.iter().map(|w| w.crew_minutes).sum();
            beside += Parts::from(strip.crew_minutes + all);
            off_beside = members.iter().map(|m| Parts::from(m.off.crew_minutes)).sum();
        } else {
            off = members.iter().map(|m| m.rate * Parts::from(m.off.crew_minutes)).sum();
        }
        if let Some(link) = pair.link.filter(|_| linked) {
            beside += Parts::from(link.crew_minutes);
        }
        let again = |minutes: i64| Parts::from(if own.given { minutes } else { 0 });
        Ways {
            rate,
            sure: rate * Parts::from(before) + own_test.sum::<Parts>(),
            beside,
            cut_in: if linked { 0 } else { cut_in },
            own_off: off / p,
            people: p,
            at_box: pair.one_box.then(|| match own.given {
                true => 2 * own.switching + pair.switching_supplies.prove,
                false => 0,
            }),
            off: off_beside,
            hooks_up: p == Parts::from(people),
            machines: Parts::from(pair.machines(people)),
            again_old: again(own.old_again()),
            again_new: again(own.new_again()),
            q: Parts::from(q),
        }
    }

    /// What it costs a circuit to ride at all, in parts of 1 / `people`.
    pub fn ride(&self, m: &Member) -> Parts {
        let hooked = Parts::from(m.hook_up + m.unhook);
        let minutes = match self.at_box {
            Some(more) => self.people * (hooked + Parts::from(more)),
            None if self.hooks_up => hooked,
            None => 0,
        };
        self.people * m.once + m.rate * minutes
    }
}

/// The price of the circuits of a pair, whatever the order and the batches.
pub fn lower_bound(pair: &Pair, w: &Ways) -> Parts {
    let members = &pair.members;
    w.sure
        + w.own_off
        + w.rate * w.beside / w.people
        + connections(members, pair.ways, w, pair.strip.is_some())
        + tests(members, w.machines, w.again_new + w.q)
        - saved(members, pair.ways, w)
}

/// The most that riders save, as told in the theorem.
pub fn saved(members: &[Member], ways: usize, w: &Ways) -> Parts {
    let back = |m: &Member| Parts::from(m.back().crew_minutes);
    let all = w.beside + members.iter().map(back).sum::<Parts>();
    let mut gains: Vec<(Parts, Parts)> = (members.iter().filter(|m| m.saved > 0))
        .map(|m| (m, (all - back(m)).max(0)))
        .map(|(m, longest)| (m.saved * longest - w.ride(m), longest))
        .filter(|(gain, _)| *gain > 0)
        .collect();
    gains.sort_by(|a, b| (b.0 * a.1).cmp(&(a.0 * b.1)));
    let mut left = all * Parts::try_from(ways).unwrap_or(0);
    let mut saved = 0;
    for (gain, longest) in gains {
        let taken = left.min(longest);
        left -= taken;
        // Rounded up: it is taken off the bound.
        saved += (gain * taken + longest - 1) / longest;
    }
    (saved + w.people - 1) / w.people
}

/// `A` of the theorem; `all` where nobody is in service while anybody works on the old board's ways.
pub fn connections(members: &[Member], ways: usize, w: &Ways, all: bool) -> Parts {
    let work = |m: &Member| Parts::from(m.back().crew_minutes);
    let busy = members.iter().filter(|m| work(m) > 0);
    let share = busy.map(|m| Parts::from(m.off.crew_minutes) * SHARE / work(m));
    let share = if all { 0 } else { share.min().unwrap_or(0).min(SHARE - 1) };
    let p = w.people;
    // In parts of 1 / p: what a batch more costs those after it, and all.
    let (after, each) = if all {
        ((p - 1) * w.again_old + p * w.q, w.again_old)
    } else {
        (p * (w.again_old + w.q), 0)
    };
    let mut riding: Vec<Parts> = members.iter().filter(|m| m.rides).map(work).collect();
    riding.sort_unstable_by(|a, b| b.cmp(a));
    let riding: Parts = riding.into_iter().take(ways).sum();
    levels(members, work, |x, y, _| {
        let split = Split {
            e: SHARE - share,
            d: p * SHARE,
            first: y * (SHARE - share),
            gap: after * SHARE,
            each: each * SHARE * (x - riding).max(0),
        };
        let (num, den) = split.least(x);
        let more = (SHARE + share) * x * x + 2 * share * x * y;
        (num * 2 * p * SHARE + more * den, den * 2 * p * SHARE)
    })
}

/// `B` of the theorem, but for each one's own test.
pub fn tests(members: &[Member], machines: Parts, gap: Parts) -> Parts {
    let work = |m: &Member| Parts::from(m.live_test.minutes);
    levels(members, work, |x, _, squares| {
        let split = Split { e: 1, d: machines, first: 0, gap: gap * machines, each: 0 };
        let (num, den) = split.least(x);
        // Less half of each one's own test, which is counted for itself.
        (num * 2 * machines - squares * den, den * 2 * machines)
    })
}

/// The sum over all levels of what `cost` tells of the work above the step, of all other work, and
/// of the sum of squares above it, as a fraction.
fn levels(
    members: &[Member],
    work: impl Fn(&Member) -> Parts,
    cost: impl Fn(Parts, Parts, Parts) -> (Parts, Parts),
) -> Parts {
    let mut all: Vec<(Parts, Parts)> = (members.iter())
        .filter(|m| work(m) > 0)
        .map(|m| (m.rate * STEP / work(m), work(m)))
        .collect();
    all.sort_unstable();
    let total: Parts = all.iter().map(|(_, w)| w).sum();
    let mut above = total;
    let mut squares: Parts = all.iter().map(|(_, w)| w * w).sum();
    let (mut step, mut sum) = (0, 0);
    for (price, w) in all {
        if price > step {
            let (num, den) = cost(above, total - above, squares);
            sum += (num.max(0) * (price - step)).div_euclid(den);
            step = price;
        }
        above -= w;
        squares -= w * w;
    }
    sum / STEP
}

/// Amounts `X_k` that cost `sum of e X_k^2 / 2d + a_k X_k`, with `d a_k` = `first` and all multiples
/// of `gap`, and each amount but one `each / d` besides.
pub struct Split {
    /// See above.
    pub e: Parts,
    /// See above.
    pub d: Parts,
    /// See above.
    pub first: Parts,
    /// See above.
    pub gap: Parts,
    /// See above.
    pub each: Parts,
}

impl Split {
    /// The least cost of amounts with the sum `x`, as a fraction.
    pub fn least(&self, x: Parts) -> (Parts, Parts) {
        if self.gap <= 0 {
            // Ever more and ever smaller batches.
            return (0, 1);
        }
        let x = x * self.e;
        let mut later = (1..).map(|k: Parts| k * self.gap).peekable();
        let mut first = Some(self.first);
        let (mut n, mut sum, mut squares): (Parts, Parts, Parts) = (0, 0, 0);
        let mut least: Option<(Parts, Parts)> = None;
        loop {
            let next = match (first, later.peek()) {
                (Some(f), Some(l)) if f <= *l => first.take(),
                _ => later.next(),
            };
            // A further batch is used as long as it is cheaper than the slope of those before it.
            let Some(next) = next.filter(|a| n == 0 || a * n < x + sum) else { break };
            n += 1;
            sum += next;
            squares += next * next;
            // With one slope s for all of them: sum of (s^2 - a^2) / 2, where n s = x + sum of a.
            let s = x + sum;
            let den = 2 * n * self.e * self.d;
            let this = (s * s - n * squares + (n - 1) * self.each * 2 * n * self.e, den);
            least = Some(match least {
                Some(least) if least.0 * this.1 <= this.0 * least.1 => least,
                _ => this,
            });
        }
        least.unwrap_or((0, 1))
    }
}
