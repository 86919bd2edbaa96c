//! Every schedule of a list of tasks worth trying, by plain recursion with a memory.
//!
//! Decisions fall at moments. At each, every choice of tasks that may start now is tried, the
//! empty one too, so that people may wait on purpose. A task starts at a moment at which another
//! has just ended: the cost never falls when such a task ends earlier and the others stay, so
//! that an optimum exists in which nothing can be moved to the left alone (*semi-active*). Not so
//! for what takes a load out of service or puts it on a price: switching a temporary supply off,
//! and putting a circuit on it. These may start at any minute.
//!
//! What is left to pay hangs only on what is done, what runs, and for how long still: in the
//! class all minutes cost the same. So each such state is worked out once.

use super::work::{Crew, What, Work};
use std::collections::HashMap;

/// What a minute costs, from what is done.
pub trait Rate {
    fn rate(&self, done: u64) -> i64;
}

#[derive(Clone, PartialEq, Eq, Hash)]
struct Moment {
    done: u64,
    /// Task, minutes left, people as bits.
    running: Vec<(u8, u8, u8)>,
    /// Something has just ended (or nothing has begun yet).
    fresh: bool,
}

/// All schedules of `works` by `people`.
pub struct Schedules<'a, R> {
    works: &'a [Work],
    people: usize,
    rate: &'a R,
    /// Everything is over when these are done.
    goal: u64,
    /// Whether it matters who does what.
    named: bool,
    seen: HashMap<Moment, (i64, Vec<(u8, u8)>)>,
}

impl<'a, R: Rate> Schedules<'a, R> {
    pub fn new(works: &'a [Work], people: usize, rate: &'a R, goal: u64) -> Schedules<'a, R> {
        let named = works.iter().any(|w| matches!(w.crew, Crew::Keeper(_)));
        Schedules { works, people, rate, goal, named, seen: HashMap::new() }
    }

    /// The least cost, and the start of each task in a schedule that has it.
    pub fn best(&mut self) -> (i64, Vec<i64>) {
        let mut at = Moment { done: 0, running: Vec::new(), fresh: true };
        let cost = self.cost(&at);
        let mut starts = vec![-1; self.works.len()];
        let mut now = 0;
        while at.done & self.goal != self.goal {
            let chosen = self.seen[&at].1.clone();
            for (task, _) in &chosen {
                starts[*task as usize] = now;
            }
            let (next, minutes) = self.next(&at, &chosen);
            now += minutes;
            at = next;
        }
        (cost, starts)
    }

    fn cost(&mut self, at: &Moment) -> i64 {
        if at.done & self.goal == self.goal {
            return 0;
        }
        if let Some((cost, _)) = self.seen.get(at) {
            return *cost;
        }
        let mut choices = Vec::new();
        self.choices(at, 0, &mut Vec::new(), &mut choices);
        let mut best = (i64::MAX / 2, Vec::new());
        for chosen in choices {
            if chosen.is_empty() && at.running.is_empty() {
                continue;
            }
            let (next, minutes) = self.next(at, &chosen);
            let cost = minutes * self.rate.rate(at.done) + self.cost(&next);
            if cost < best.0 {
                best = (cost, chosen);
            }
        }
        self.seen.insert(at.clone(), best.clone());
        best.0
    }

    /// Everything that may be started now, on top of `chosen`, from task `from` on.
    fn choices(
        &self,
        at: &Moment,
        from: usize,
        chosen: &mut Vec<(u8, u8)>,
        all: &mut Vec<Vec<(u8, u8)>>,
    ) {
        all.push(chosen.clone());
        for i in from..self.works.len() {
            if !at.fresh && !any_minute(self.works[i].what) {
                continue;
            }
            for who in self.crews(at, chosen, i) {
                chosen.push((i as u8, who));
                self.choices(at, i + 1, chosen, all);
                chosen.pop();
            }
        }
    }

    /// The crews with which task `i` may start now; none if it may not.
    fn crews(&self, at: &Moment, chosen: &[(u8, u8)], i: usize) -> Vec<u8> {
        let work = &self.works[i];
        let busy: Vec<(u8, u8)> =
            at.running.iter().map(|(t, _, who)| (*t, *who)).chain(chosen.iter().copied()).collect();
        let started = at.done & (1 << i) != 0 || busy.iter().any(|(t, _)| *t as usize == i);
        if started || work.after & !at.done != 0 {
            return Vec::new();
        }
        let apart = |other: &Work| {
            (work.instrument && other.instrument)
                || (work.at_box && other.at_box)
                || (work.what == What::TestBoard && other.at_new)
                || (other.what == What::TestBoard && work.at_new)
        };
        if busy.iter().any(|(t, _)| apart(&self.works[*t as usize])) {
            return Vec::new();
        }
        let taken = busy.iter().fold(0u8, |x, (_, who)| x | who);
        let free: Vec<u8> =
            (0..self.people as u8).map(|p| 1 << p).filter(|p| taken & p == 0).collect();
        match work.crew {
            Crew::Keeper(p) if taken & (1 << p) == 0 => vec![1 << p],
            Crew::Keeper(_) => Vec::new(),
            Crew::Any(n) if free.len() < n => Vec::new(),
            Crew::Any(1) if self.named => free,
            Crew::Any(n) => vec![free[..n].iter().fold(0, |x, y| x | y)],
        }
    }

    /// The next moment, and how many minutes away it is.
    fn next(&self, at: &Moment, chosen: &[(u8, u8)]) -> (Moment, i64) {
        let mut running = at.running.clone();
        running.extend(
            chosen.iter().map(|(t, who)| (*t, self.works[*t as usize].minutes as u8, *who)),
        );
        let soonest = running.iter().map(|r| r.1).min().unwrap_or(1);
        // Where something may start at any minute, every minute is a moment.
        let open = |i: usize| {
            let w = &self.works[i];
            any_minute(w.what)
                && at.done & (1 << i) == 0
                && w.after & !at.done == 0
                && !running.iter().any(|r| r.0 as usize == i)
        };
        let step = if (0..self.works.len()).any(open) { 1 } else { soonest };
        let mut done = at.done;
        running.retain_mut(|r| {
            r.1 -= step;
            if r.1 == 0 {
                done |= 1 << r.0;
            }
            r.1 > 0
        });
        running.sort_unstable();
        let fresh = done != at.done;
        (Moment { done, running, fresh }, i64::from(step))
    }
}

fn any_minute(what: What) -> bool {
    matches!(what, What::SupplyOff | What::HookUp(_))
}
