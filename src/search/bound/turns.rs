//! Theorem: where a new board stands beside an old one, call *turn* a longest run of disconnections
//! with no minute between them in which the old board serves. For two circuits c, before, and d,
//! after, of different turns, c may escape the disconnection of d, and d the connection and dead
//! test of c, and nothing else; of one turn c alone may escape, the disconnection of d, and then
//! only if c was tested live before it.
//!
//! For a circuit on the old board is out while anybody works at its ways, one on the new board
//! while anybody works there (W1), and one between them is out unless it rides. So with all work
//! `T` in minutes times people, `p` people, and `R` the price of a minute out of all,
//! `k` turns cost at least
//! `(R x T - E(k)) / p + R x proof + own live tests + (k - 1) x once more`, where E(k) is what is
//! escaped. Over all pairs it is at most the dearer way round; of the pairs in one turn the
//! difference to the mean of both ways is not escaped, and by Cauchy's inequality these come to at
//! least `(sum of sqrt(price x work))^2 / k`, less each with itself. In each other turn a circuit is
//! either out once more or waits through another proof.
//!
//! With one turn nothing but what was said of it is escaped, and the phases are bounded by places to
//! stand, testers and live tests as in `cut`. Where the incoming cable moves over, everything is
//! out while it does: old tails off, new tails on, test of the new board.
//!
//! Dropped as in `cut`, and beyond it, for more turns than one: testers, places to stand, the wait
//! for other live tests, switching, and that a circuit that rides pays for its own work.
//! Tried, with the others, by `bound_is_never_above_the_cost_of_a_generated_job`.

use super::facts::{Member, Parts, Work, up};
use super::pair::Pair;
use super::{changeover, queue, riders};
use crate::search::ground::Ground;

/// The price of the circuits of a pair whose boards stand side by side, with so many people.
pub fn lower_bound(g: &Ground, pair: &Pair, people: i64) -> Parts {
    let over = changeover::tails_over(g, pair);
    let single = one_turn(pair, people, &over);
    let turns = 2..=pair.members.len();
    let several = Several::new(pair, people, &over);
    turns.map(|k| several.cost(k)).fold(single, Parts::min)
}

fn one_turn(pair: &Pair, people: i64, over: &changeover::Over) -> Parts {
    let members = &pair.members;
    let off = members.iter().map(|m| m.off);
    let back = members.iter().map(Member::back);
    let tests: i64 = members.iter().map(|m| m.dead_test.minutes).sum();
    let before = |m: &Member| m.off.minutes + m.connect.minutes;
    let first = members.iter().map(before).min().unwrap_or(0);
    let crew = |works: &mut dyn Iterator<Item = Work>| works.map(|w| w.crew_minutes).sum::<i64>();
    let all = crew(&mut off.clone()) + crew(&mut back.clone()) + over.crew_minutes;
    let at_new = Pair::at_hands(back, pair.hands_new, people);
    let dead = pair.proof_old
        + up(all, people)
            .max(over.minutes)
            .max(Pair::at_hands(off, pair.hands_old, people))
            .max(over.test + at_new)
            .max(over.test + first + up(tests, pair.testers));
    let rate: Parts = members.iter().map(|m| m.rate).sum();
    let once: Parts = members.iter().map(|m| m.once).sum();
    let again = Parts::from(pair.alone(pair.again, people));
    // The changeover of the tails in a session of its own costs everything another outage.
    let closing = if over.minutes > 0 {
        let first = rate * Parts::from(pair.alone(pair.first, people));
        first.min(once + rate * (Parts::from(pair.proof_old) + again))
    } else {
        rate * again
    };
    let machines = pair.machines(people);
    let total = rate * Parts::from(dead) + closing + once + queue::waiting(members, machines);
    let longest = pair.alone(pair.first, people).max(pair.alone(pair.again, people));
    let saved = riders::most_saved(members, pair.ways, dead, pair.proof_old)
        + riders::most_saved_later(members, pair.ways, machines, longest, pair.proof_new)
        + back_early(pair, people);
    (total - saved).max(0)
}

/// What is saved at most by testing circuits live while others still wait on the old board, dead.
fn back_early(pair: &Pair, people: i64) -> Parts {
    let off: i64 = pair.members.iter().map(|m| m.off.crew_minutes).sum();
    let pairs = over_pairs(&pair.members, |c, d| c.rate * Parts::from(d.off.crew_minutes));
    let each: Parts = (pair.members.iter())
        .map(|m| {
            let others = Parts::from(up(off - m.off.crew_minutes, people));
            (m.rate * (others - Parts::from(pair.proof_new)) - m.once).max(0)
        })
        .sum();
    each.min(pairs / Parts::from(people) + 1)
}

/// The sum over all pairs of the larger of `gain` of one and the other, and the other and the one.
fn over_pairs(members: &[Member], gain: impl Fn(&Member, &Member) -> Parts) -> Parts {
    let mut sum = 0;
    for (i, c) in members.iter().enumerate() {
        for d in &members[..i] {
            sum += gain(c, d).max(gain(d, c));
        }
    }
    sum
}

/// Two turns or more.
struct Several {
    people: Parts,
    /// What all cost if nothing were escaped, in times `people`.
    full: Parts,
    /// What is escaped at most if no two circuits share a turn, in times `people`.
    escaped: Parts,
    /// Square of the sum of roots, and the sum that it is compared with.
    square: Parts,
    alone: Parts,
    /// What does not depend on the number of turns.
    fixed: Parts,
    /// For each turn more.
    more: Parts,
}

impl Several {
    fn new(pair: &Pair, people: i64, over: &changeover::Over) -> Several {
        let members = &pair.members;
        let rate: Parts = members.iter().map(|m| m.rate).sum();
        let work = |m: &Member| Parts::from(m.off.crew_minutes + m.back().crew_minutes);
        let all: Parts = members.iter().map(work).sum::<Parts>() + Parts::from(over.crew_minutes);
        let escaped = over_pairs(members, |c, d| {
            c.rate * Parts::from(d.off.crew_minutes) + d.rate * Parts::from(c.back().crew_minutes)
        });
        let kept =
            |m: &Member| m.rate * Parts::from((m.back().crew_minutes - m.off.crew_minutes).max(0));
        let root: Parts = members.iter().map(|m| root(kept(m))).sum();
        let a_minute = riders::most_a_minute(members, pair.ways);
        let once = members.iter().map(|m| m.once + m.rate * Parts::from(m.live_test.minutes));
        let mut more: Vec<Parts> =
            members.iter().map(|m| m.once.min(m.rate * Parts::from(pair.proof_old))).collect();
        more.sort_unstable();
        more.truncate(members.len().saturating_sub(pair.ways));
        Several {
            people: Parts::from(people),
            full: (rate - a_minute).max(0) * all,
            escaped,
            square: root * root,
            alone: members.iter().map(kept).sum(),
            fixed: rate * Parts::from(pair.proof_old) + once.sum::<Parts>(),
            more: more.into_iter().sum(),
        }
    }

    fn cost(&self, turns: usize) -> Parts {
        let turns = Parts::try_from(turns).unwrap_or(Parts::MAX).max(1);
        let not_escaped = (self.square / turns - self.alone).max(0) / 2;
        let escaped = (self.escaped - not_escaped).max(0);
        let work = (self.full - escaped).max(0) / self.people;
        work + self.fixed + (turns - 1) * self.more
    }
}

/// The integer square root, rounded down.
fn root(n: Parts) -> Parts {
    n.max(0).isqrt()
}
