//! Parallel schedule generation: time steps from event to event, and at each, whatever may start
//! starts, in the order of priority.
//!
//! An event is the end of a task, the time a task's predecessors let it begin, or the time when a
//! worker now walking, at rest or away could begin a task that waits for them.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::decode::{Candidate, RankSet, Stuck, Why, pick};
use super::problem::{Schedule, Time, WorkerSet};
use super::tables::{NEVER, NOWHERE, Tables};

/// What a worker has done so far.
#[derive(Clone, Copy, Debug)]
struct State {
    /// End of the last task.
    end: Time,
    /// Start of the first task since the last break.
    stretch_start: Time,
    /// Last place, and the end of the task there.
    place: u32,
    left: Time,
    /// The first span of presence that is not over.
    span: usize,
}

/// Memory of the decoder.
#[derive(Clone, Debug, Default)]
pub(super) struct Parallel {
    eligible: RankSet,
    /// Predecessors not begun, and the earliest start that those begun allow, for each task.
    waiting: Vec<u32>,
    earliest: Vec<Time>,
    in_use: Vec<u32>,
    /// The pools of which nothing is left.
    full: Vec<u32>,
    /// For each pool, the tasks that use it; then for each kind of crew, those that take it.
    users: Vec<RankSet>,
    /// Tasks that cannot start because a pool is full or a kind of crew is not to be had. Looking
    /// at each of them again at each event would take most of the time.
    shut: RankSet,
    /// Tasks that nothing after them in the order starts before, once they may begin.
    insisting: RankSet,
    any_insists: bool,
    workers: Vec<State>,
    idle: WorkerSet,
    /// Time and what happens: `2 t` is the end of task t, `2 t + 1` that it may begin.
    events: BinaryHeap<Reverse<(Time, u32)>>,
    candidates: Vec<Candidate>,
    /// The earliest start of those who cannot start now.
    later: Vec<Time>,
}

impl Parallel {
    pub(super) fn run(
        &mut self,
        t: &Tables,
        order: &[usize],
        rank: &[u32],
        into: &mut Schedule,
    ) -> Result<(), Stuck> {
        self.reset(t, rank);
        let mut placed = 0;
        while placed < t.tasks() {
            // The first event of all is a task's release, so there is one as long as work is left:
            // what waits for a pool or a worker waits for an end, and nobody comes back from
            // nowhere. Should that ever fail, the tasks left are named as absent, not waited for.
            let Some(&Reverse((now, _))) = self.events.peek() else {
                let task = self.eligible.first().map_or(0, |rank| order[rank]);
                return Err(Stuck { task, why: Why::Absent, placed });
            };
            self.pop_events(now, t, rank, into);
            let wake = self.start_all(now, t, order, rank, into, &mut placed)?;
            if wake < NEVER {
                self.events.push(Reverse((wake, u32::MAX)));
            }
        }
        Ok(())
    }

    fn reset(&mut self, t: &Tables, rank: &[u32]) {
        self.eligible.clear(t.tasks());
        self.waiting.clone_from(&t.predecessors);
        self.earliest.clone_from(&t.release);
        self.in_use.clear();
        self.in_use.resize(t.capacity.len(), 0);
        self.full.clear();
        self.full.extend((0..t.capacity.len() as u32).filter(|p| t.capacity[*p as usize] == 0));
        self.workers.clear();
        let fresh =
            State { end: -NEVER, stretch_start: -NEVER, place: NOWHERE, left: -NEVER, span: 0 };
        self.workers.resize(t.workers(), fresh);
        self.idle = WorkerSet::first(t.workers());
        let pools = t.capacity.len();
        let sets = self.users.len().max(pools + t.crews.len());
        self.users.resize_with(sets, RankSet::default);
        self.users.iter_mut().for_each(|set| set.clear(t.tasks()));
        for (task, &rank) in rank.iter().enumerate() {
            for &(pool, amount) in t.uses.row(task) {
                if amount > 0 && t.duration[task] > 0 {
                    self.users[pool as usize].insert(rank);
                }
            }
            if t.crew[task] > 0 {
                self.users[pools + t.crew_kind[task] as usize].insert(rank);
            }
        }
        self.shut_anew(t);
        self.insisting.clear(t.tasks());
        self.any_insists = false;
        for (task, _) in t.insists.iter().enumerate().filter(|(_, insists)| **insists) {
            self.insisting.insert(rank[task]);
            self.any_insists = true;
        }
        self.events.clear();
        for (task, &waiting) in self.waiting.iter().enumerate() {
            if waiting == 0 {
                self.events.push(Reverse((t.release[task], task as u32 * 2 + 1)));
            }
        }
    }

    fn pop_events(&mut self, now: Time, t: &Tables, rank: &[u32], into: &Schedule) {
        let mut ended = false;
        while let Some(&Reverse((time, what))) = self.events.peek() {
            if time > now {
                break;
            }
            self.events.pop();
            let task = (what / 2) as usize;
            if what == u32::MAX {
                continue;
            }
            if what % 2 == 1 {
                self.eligible.insert(rank[task]);
                continue;
            }
            ended = true;
            self.idle = self.idle.union(into.crew[task]);
            for &(pool, amount) in t.uses.row(task) {
                self.in_use[pool as usize] -= amount;
                if amount > 0 {
                    self.full.retain(|full| *full != pool);
                }
            }
        }
        if ended {
            self.shut_anew(t);
        }
    }

    fn shut_anew(&mut self, t: &Tables) {
        self.shut.clear(t.tasks());
        for &pool in &self.full {
            self.shut.insert_all(&self.users[pool as usize]);
        }
        self.shut_without_crew(t);
    }

    fn shut_if_full(&mut self, pool: u32, t: &Tables) {
        if self.in_use[pool as usize] == t.capacity[pool as usize] && !self.full.contains(&pool) {
            self.full.push(pool);
            self.shut.insert_all(&self.users[pool as usize]);
        }
    }

    fn shut_without_crew(&mut self, t: &Tables) {
        for (kind, &(able, crew)) in t.crews.iter().enumerate() {
            if able.common(self.idle).len() < crew {
                self.shut.insert_all(&self.users[t.capacity.len() + kind]);
            }
        }
    }

    /// Starts all that may start now. Returns the next time to look again on a worker's account.
    fn start_all(
        &mut self,
        now: Time,
        t: &Tables,
        order: &[usize],
        rank: &[u32],
        into: &mut Schedule,
        placed: &mut usize,
    ) -> Result<Time, Stuck> {
        let mut wake = NEVER;
        let mut at = 0;
        while let Some(next) = self.eligible.next_but(at, &self.shut) {
            if self.any_insists
                && self.eligible.first_of(&self.insisting).is_some_and(|first| first < next)
            {
                break;
            }
            let task = order[next];
            at = next + 1;
            let end = now + t.duration[task];
            if end > t.due[task] {
                return Err(Stuck {
                    task,
                    why: Why::Late { by: end - t.due[task] },
                    placed: *placed,
                });
            }
            let full = |&(pool, amount): &(u32, u32)| {
                t.capacity[pool as usize] - self.in_use[pool as usize] < amount
            };
            if end > now && t.uses.row(task).iter().any(full) {
                continue;
            }
            if t.crew[task] > 0 {
                match self.find_crew(task, now, t) {
                    Crew::Now(crew) => into.crew[task] = crew,
                    Crew::At(time) => {
                        wake = wake.min(time);
                        continue;
                    }
                    Crew::Never => return Err(Stuck { task, why: Why::Absent, placed: *placed }),
                }
            }
            into.start[task] = now;
            *placed += 1;
            self.eligible.remove(next as u32);
            if let Some(lowest) = self.start(task, now, t, rank, into.crew[task]) {
                at = at.min(lowest);
            }
        }
        Ok(wake)
    }

    /// Books the task, and returns the lowest rank of the successors that may start at once.
    fn start(
        &mut self,
        task: usize,
        now: Time,
        t: &Tables,
        rank: &[u32],
        crew: WorkerSet,
    ) -> Option<usize> {
        let end = now + t.duration[task];
        if end > now {
            self.events.push(Reverse((end, task as u32 * 2)));
            for &(pool, amount) in t.uses.row(task) {
                self.in_use[pool as usize] += amount;
                self.shut_if_full(pool, t);
            }
            if !crew.is_empty() {
                self.idle = self.idle.minus(crew);
                self.shut_without_crew(t);
            }
        }
        for worker in crew.iter() {
            let state = &mut self.workers[worker];
            if now - state.end >= t.break_len {
                state.stretch_start = now;
            }
            state.end = end;
            if t.place[task] != NOWHERE {
                (state.place, state.left) = (t.place[task], end);
            }
        }
        let mut lowest = None;
        for &(successor, lag) in t.successors.row(task) {
            let next = successor as usize;
            self.earliest[next] = self.earliest[next].max(end + lag);
            self.waiting[next] -= 1;
            if self.waiting[next] > 0 {
                continue;
            }
            if self.earliest[next] > now {
                self.events.push(Reverse((self.earliest[next], successor * 2 + 1)));
            } else {
                self.eligible.insert(rank[next]);
                lowest = Some(
                    lowest.map_or(rank[next] as usize, |low: usize| low.min(rank[next] as usize)),
                );
            }
        }
        lowest
    }

    /// Finds a crew among those idle, of whom there are enough.
    fn find_crew(&mut self, task: usize, now: Time, t: &Tables) -> Crew {
        let wanted = t.crew[task] as usize;
        let idle = t.able[task].common(self.idle);
        self.candidates.clear();
        for worker in idle.iter() {
            if self.earliest_start(worker, task, now, t) == Some(now) {
                let state = &self.workers[worker];
                let way = way(state, t.place[task], t);
                let end = if t.goes_on[task] { -state.end } else { state.end };
                self.candidates.push((t.versatility[worker], end, way, worker));
            }
        }
        if self.candidates.len() >= wanted {
            return Crew::Now(pick(&mut self.candidates, wanted));
        }
        // Some of those who could start now may no longer be able to by then: it is only a time
        // to look again, and the first at which there can be enough.
        self.later.clear();
        for worker in t.able[task].iter() {
            let start = self.earliest_start(worker, task, now, t);
            self.later.extend(start);
        }
        if self.later.len() < wanted {
            return Crew::Never;
        }
        Crew::At(*self.later.select_nth_unstable(wanted - 1).1)
    }

    /// When the worker could begin the task, at `now` or later, if nothing else came first.
    fn earliest_start(
        &mut self,
        worker: usize,
        task: usize,
        now: Time,
        t: &Tables,
    ) -> Option<Time> {
        let duration = t.duration[task];
        let spans = t.spans.row(worker);
        let state = &mut self.workers[worker];
        while spans.get(state.span).is_some_and(|span| span.1 < now) {
            state.span += 1;
        }
        let mut start = now.max(state.end).max(state.left + way(state, t.place[task], t));
        loop {
            if start - state.end < t.break_len
                && start + duration - state.stretch_start > t.longest_stretch
            {
                start = state.end + t.break_len;
            }
            let fits = |span: &&(Time, Time)| start.max(span.0) + duration <= span.1;
            let span = spans[state.span..].iter().find(fits)?;
            if start >= span.0 {
                return Some(start);
            }
            start = span.0;
        }
    }
}

/// Minutes from a worker's last place to this one.
fn way(state: &State, place: u32, t: &Tables) -> Time {
    if place == NOWHERE || state.place == NOWHERE { 0 } else { t.travel(state.place, place) }
}

enum Crew {
    Now(WorkerSet),
    /// Not before this time.
    At(Time),
    Never,
}
