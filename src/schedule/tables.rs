//! A problem laid out flat for the decoders, checked on the way so that they need not.
//!
//! Groups that must be apart become pools of one, and a task that blocks others a pool as large
//! as their number, of which it takes all and each of them one. So one rule, of pools, serves
//! three. Crews that are fixed become crews of all who are able.

use super::decode::{Stuck, Why};
use super::problem::{Problem, Time, WorkerSet};

/// No time in a problem lies further from 0, in minutes: two million years. Sums of the durations
/// of a million tasks still fit a [`Time`].
const FARTHEST: Time = 1 << 40;
/// Later than all sums of times, earlier than overflow.
pub(super) const NEVER: Time = 1 << 61;
/// Stands for no place.
pub(super) const NOWHERE: u32 = u32::MAX;

/// Which way time runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Flow {
    /// As it does.
    Forward,
    /// Mirrored at 0: a span from 3 to 5 becomes one from -5 to -3, and the way from A to B the
    /// way from B to A. Earliest then means latest.
    Backward,
}

/// Rows of items of different lengths, one after the other.
#[derive(Clone, Debug)]
pub(super) struct Rows<T> {
    from: Vec<u32>,
    items: Vec<T>,
}

impl<T> Default for Rows<T> {
    fn default() -> Rows<T> {
        Rows { from: Vec::new(), items: Vec::new() }
    }
}

impl<T: Copy> Rows<T> {
    pub(super) fn row(&self, row: usize) -> &[T] {
        &self.items[self.from[row] as usize..self.from[row + 1] as usize]
    }

    fn row_mut(&mut self, row: usize) -> &mut [T] {
        &mut self.items[self.from[row] as usize..self.from[row + 1] as usize]
    }

    /// Sorts the pairs of row and item by row, keeping their order within each.
    fn fill(&mut self, rows: usize, blank: T, pairs: impl Iterator<Item = (usize, T)> + Clone) {
        self.from.clear();
        self.from.resize(rows + 1, 0);
        for (row, _) in pairs.clone() {
            self.from[row + 1] += 1;
        }
        for row in 0..rows {
            self.from[row + 1] += self.from[row];
        }
        self.items.clear();
        self.items.resize(self.from[rows] as usize, blank);
        // Each row's start serves as its cursor, which leaves it at the next row's start.
        for (row, item) in pairs {
            self.items[self.from[row] as usize] = item;
            self.from[row] += 1;
        }
        self.from.copy_within(0..rows, 1);
        self.from[0] = 0;
    }
}

/// See the module.
#[derive(Clone, Debug, Default)]
pub(super) struct Tables {
    pub(super) duration: Vec<Time>,
    pub(super) release: Vec<Time>,
    /// [`NEVER`] where there is none.
    pub(super) due: Vec<Time>,
    pub(super) crew: Vec<u32>,
    /// Once the task may begin, nothing after it in the order starts before it does.
    pub(super) insists: Vec<bool>,
    /// Of those who could start the task, whoever has worked last does it, so that others rest.
    pub(super) goes_on: Vec<bool>,
    pub(super) able: Vec<WorkerSet>,
    /// [`NOWHERE`] where there is none.
    pub(super) place: Vec<u32>,
    /// Successor and lag, a row for each task.
    pub(super) successors: Rows<(u32, Time)>,
    /// How many predecessors, counted with repeats.
    pub(super) predecessors: Vec<u32>,
    /// Every task after its predecessors.
    pub(super) topological: Vec<u32>,
    /// Pool and amount, a row for each task, a pool once a row (or again with amount 0).
    pub(super) uses: Rows<(u32, u32)>,
    /// The problem's pools, then one for each group apart, then one for each blocker.
    pub(super) capacity: Vec<u32>,
    /// Spans of presence in order of start, a row for each worker.
    pub(super) spans: Rows<(Time, Time)>,
    /// Kinds of crew, each once: out of whom, and how many, more than 0.
    pub(super) crews: Vec<(WorkerSet, u32)>,
    /// Which kind a task takes; nothing that means anything if it takes none.
    pub(super) crew_kind: Vec<u32>,
    /// How many tasks each worker is able to do.
    pub(super) versatility: Vec<u32>,
    pub(super) longest_stretch: Time,
    pub(super) break_len: Time,
    backward: bool,
    travel: Vec<Time>,
    places: usize,
    waiting: Vec<u32>,
}

impl Tables {
    pub(super) fn tasks(&self) -> usize {
        self.duration.len()
    }

    pub(super) fn workers(&self) -> usize {
        self.versatility.len()
    }

    /// Orders tasks of 0 minutes at the same time: by index, and mirrored in mirrored time.
    pub(super) fn label(&self, task: usize) -> u32 {
        if self.backward { u32::MAX - task as u32 } else { task as u32 }
    }

    /// Minutes between two places, neither of them [`NOWHERE`].
    pub(super) fn travel(&self, from: u32, to: u32) -> Time {
        self.travel[from as usize * self.places + to as usize]
    }

    /// Lays the problem out, or names the first task that can be in no schedule.
    pub(super) fn prepare(&mut self, p: &Problem, flow: Flow) -> Result<(), Stuck> {
        self.check_input(p)?;
        self.lay_tasks(p)?;
        self.lay_uses(p)?;
        self.lay_workers(p, flow);
        self.sort_topologically(p)
    }

    fn check_input(&self, p: &Problem) -> Result<(), Stuck> {
        let n = p.tasks.len();
        let all = WorkerSet::first(p.workers.len());
        let near = |time: Time| (-FARTHEST..=FARTHEST).contains(&time);
        if p.workers.len() > 64 || n >= 1 << 20 {
            return Err(Stuck::new(0, Why::BadInput));
        }
        for (index, task) in p.tasks.iter().enumerate() {
            let sound = near(task.duration)
                && task.duration >= 0
                && near(task.release)
                && all.contains_all(task.able)
                && all.contains_all(task.crew_fixed.unwrap_or_default())
                && task.uses.iter().all(|&(pool, _)| pool < p.pools.len())
                && task.place.is_none_or(|place| place < p.travel.len());
            if !sound {
                return Err(Stuck::new(index, Why::BadInput));
            }
        }
        let named = |task: &usize| *task < n;
        let sound = p.after.iter().all(|(a, b, lag)| named(a) && named(b) && near(*lag))
            && p.apart.iter().all(|group| group.iter().all(named))
            && p.blocks.iter().all(|(t, others)| named(t) && others.iter().all(named))
            && p.travel
                .iter()
                .all(|row| row.len() == p.travel.len() && row.iter().all(|&t| near(t) && t >= 0))
            && near(p.break_len);
        if sound { Ok(()) } else { Err(Stuck::new(0, Why::BadInput)) }
    }

    fn lay_tasks(&mut self, p: &Problem) -> Result<(), Stuck> {
        let tasks = &p.tasks;
        refill(&mut self.duration, tasks.iter().map(|t| t.duration));
        refill(&mut self.release, tasks.iter().map(|t| t.release));
        refill(
            &mut self.due,
            tasks.iter().map(|t| t.due.map_or(NEVER, |due| due.clamp(-NEVER, NEVER))),
        );
        refill(&mut self.insists, tasks.iter().map(|_| false));
        refill(&mut self.goes_on, tasks.iter().map(|_| false));
        refill(&mut self.able, tasks.iter().map(|t| t.crew_fixed.unwrap_or(t.able)));
        refill(&mut self.crew, tasks.iter().map(|t| t.crew_fixed.map_or(t.crew, WorkerSet::len)));
        refill(
            &mut self.place,
            tasks.iter().map(|t| t.place.map_or(NOWHERE, |place| place as u32)),
        );
        self.longest_stretch = p.longest_stretch.clamp(0, NEVER);
        self.break_len = p.break_len;
        for task in 0..tasks.len() {
            let able = self.able[task].len();
            if able < self.crew[task] {
                return Err(Stuck::new(task, Why::TooFewAble { able, crew: self.crew[task] }));
            }
            if self.crew[task] > 0 && self.duration[task] > self.longest_stretch {
                return Err(Stuck::new(task, Why::LongerThanStretch));
            }
        }
        Ok(())
    }

    fn lay_uses(&mut self, p: &Problem) -> Result<(), Stuck> {
        let blocked = p.blocks.iter().map(|(_, others)| others.len() as u32);
        refill(&mut self.capacity, p.pools.iter().copied());
        self.capacity.extend(std::iter::repeat_n(1, p.apart.len()));
        self.capacity.extend(blocked);
        let own = p.tasks.iter().enumerate();
        let own = own.flat_map(|(task, t)| {
            t.uses.iter().map(move |&(pool, amount)| (task, (pool as u32, amount)))
        });
        let first = p.pools.len();
        let apart = p.apart.iter().enumerate();
        let apart = apart
            .flat_map(|(i, group)| group.iter().map(move |&task| (task, ((first + i) as u32, 1))));
        let first = first + p.apart.len();
        let blocks = p.blocks.iter().enumerate().flat_map(|(i, (task, others))| {
            let pool = (first + i) as u32;
            let blocker = std::iter::once((*task, (pool, others.len() as u32)));
            blocker.chain(others.iter().map(move |&other| (other, (pool, 1))))
        });
        self.uses.fill(p.tasks.len(), (0, 0), own.chain(apart).chain(blocks));
        for task in 0..p.tasks.len() {
            let row = self.uses.row_mut(task);
            for at in 1..row.len() {
                let (earlier, rest) = row.split_at_mut(at);
                if let Some(first) = earlier.iter_mut().find(|first| first.0 == rest[0].0) {
                    // Used twice is used twice, but in a group twice is in the group.
                    let real = (first.0 as usize) < p.pools.len();
                    first.1 = if real {
                        first.1.saturating_add(rest[0].1)
                    } else {
                        first.1.max(rest[0].1)
                    };
                    rest[0].1 = 0;
                }
            }
            let too_much =
                row.iter().find(|&&(pool, amount)| amount > self.capacity[pool as usize]);
            if let (Some(&(pool, _)), true) = (too_much, self.duration[task] > 0) {
                return Err(Stuck::new(task, Why::OverCapacity { pool: pool as usize }));
            }
        }
        Ok(())
    }

    fn lay_workers(&mut self, p: &Problem, flow: Flow) {
        let spans = p.workers.iter().enumerate().flat_map(|(worker, w)| {
            w.present.iter().map(move |&(from, to)| {
                let (from, to) = (from.clamp(-NEVER, NEVER), to.clamp(-NEVER, NEVER));
                (worker, if flow == Flow::Forward { (from, to) } else { (-to, -from) })
            })
        });
        self.spans.fill(p.workers.len(), (0, 0), spans);
        refill(&mut self.versatility, p.workers.iter().map(|_| 0));
        for worker in 0..p.workers.len() {
            self.spans.row_mut(worker).sort_unstable();
        }
        for (&able, &crew) in self.able.iter().zip(&self.crew) {
            if crew > 0 {
                able.iter().for_each(|worker| self.versatility[worker] += 1);
            }
        }
        self.crews.clear();
        self.crew_kind.clear();
        for (&able, &crew) in self.able.iter().zip(&self.crew) {
            let known = self.crews.iter().position(|&kind| kind == (able, crew));
            self.crew_kind.push(known.unwrap_or(self.crews.len()) as u32);
            if known.is_none() && crew > 0 {
                self.crews.push((able, crew));
            }
        }
        self.backward = flow == Flow::Backward;
        self.places = p.travel.len();
        self.travel.clear();
        for from in 0..self.places {
            for to in 0..self.places {
                self.travel.push(if flow == Flow::Forward {
                    p.travel[from][to]
                } else {
                    p.travel[to][from]
                });
            }
        }
    }

    fn sort_topologically(&mut self, p: &Problem) -> Result<(), Stuck> {
        let n = p.tasks.len();
        self.successors.fill(n, (0, 0), p.after.iter().map(|&(a, b, lag)| (a, (b as u32, lag))));
        self.predecessors.clear();
        self.predecessors.resize(n, 0);
        p.after.iter().for_each(|&(_, b, _)| self.predecessors[b] += 1);
        self.waiting.clone_from(&self.predecessors);
        self.topological.clear();
        self.topological.extend((0..n as u32).filter(|&task| self.waiting[task as usize] == 0));
        let mut next = 0;
        while next < self.topological.len() {
            for &(successor, _) in self.successors.row(self.topological[next] as usize) {
                self.waiting[successor as usize] -= 1;
                if self.waiting[successor as usize] == 0 {
                    self.topological.push(successor);
                }
            }
            next += 1;
        }
        let Some(mut task) = self.waiting.iter().position(|&waiting| waiting > 0) else {
            return Ok(());
        };
        // Every task left has a predecessor that is left: n steps back end on a cycle.
        for _ in 0..n {
            let before = p.after.iter().find(|&&(a, b, _)| b == task && self.waiting[a] > 0);
            task = before.map_or(task, |&(a, _, _)| a);
        }
        Err(Stuck::new(task, Why::Cycle))
    }
}

/// Replaces what is in a vector, in the memory it has.
fn refill<T>(old: &mut Vec<T>, new: impl Iterator<Item = T>) {
    old.clear();
    old.extend(new);
}
