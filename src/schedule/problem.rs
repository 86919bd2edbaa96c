//! What is to be scheduled, and what a schedule is.

/// A point in time or a length of time, in whole minutes. The origin is the caller's.
pub type Time = i64;

/// A set of workers, as a bit for each of the first 64.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WorkerSet(pub u64);

impl WorkerSet {
    /// The set without workers.
    pub const EMPTY: WorkerSet = WorkerSet(0);

    /// The first `count` workers; all 64 if `count` is more.
    pub fn first(count: usize) -> WorkerSet {
        if count >= 64 { WorkerSet(u64::MAX) } else { WorkerSet((1 << count) - 1) }
    }

    /// One worker alone; the empty set for a worker beyond the 64th.
    pub fn only(worker: usize) -> WorkerSet {
        if worker < 64 { WorkerSet(1 << worker) } else { WorkerSet::EMPTY }
    }

    /// This set and that worker.
    pub fn with(self, worker: usize) -> WorkerSet {
        WorkerSet(self.0 | WorkerSet::only(worker).0)
    }

    /// This set but that worker.
    pub fn without(self, worker: usize) -> WorkerSet {
        WorkerSet(self.0 & !WorkerSet::only(worker).0)
    }

    /// Workers in either set.
    pub fn union(self, other: WorkerSet) -> WorkerSet {
        WorkerSet(self.0 | other.0)
    }

    /// Workers in both sets.
    pub fn common(self, other: WorkerSet) -> WorkerSet {
        WorkerSet(self.0 & other.0)
    }

    /// Workers in this set but not in the other.
    pub fn minus(self, other: WorkerSet) -> WorkerSet {
        WorkerSet(self.0 & !other.0)
    }

    /// Whether the worker is in the set.
    pub fn contains(self, worker: usize) -> bool {
        self.0 & WorkerSet::only(worker).0 != 0
    }

    /// Whether all of the other set are in this one.
    pub fn contains_all(self, other: WorkerSet) -> bool {
        other.minus(self).is_empty()
    }

    /// How many workers.
    pub fn len(self) -> u32 {
        self.0.count_ones()
    }

    /// Whether there is no worker.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The workers, lowest index first.
    pub fn iter(self) -> impl Iterator<Item = usize> {
        let mut rest = self.0;
        std::iter::from_fn(move || {
            let worker = rest.trailing_zeros() as usize;
            (rest != 0).then(|| {
                rest &= rest - 1;
                worker
            })
        })
    }
}

impl FromIterator<usize> for WorkerSet {
    fn from_iter<I: IntoIterator<Item = usize>>(workers: I) -> WorkerSet {
        workers.into_iter().fold(WorkerSet::EMPTY, WorkerSet::with)
    }
}

/// How [`decode`](super::decode) turns an order into a schedule.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Generation {
    /// Time steps forward, and whatever may start does, the first in the order first. No gap is
    /// ever filled behind the clock, so this is quick, and good where many hands share much work;
    /// but nothing waits on purpose, and the best schedule may be out of reach.
    #[default]
    Parallel,
    /// Task after task, in the order and after its predecessors, each at the earliest time that
    /// the tasks placed before leave it, gaps included. Slower. Without workers, some order
    /// always gives a schedule of the least makespan.
    Serial,
}

/// Tasks, and all that keeps them apart.
///
/// A [`Schedule`] keeps these rules:
/// - A task, once begun, runs through; it ends `duration` after its start.
/// - It starts no earlier than `release`, ends no later than `due`, and for `(a, b, lag)` in
///   `after`: `start(b) >= end(a) + lag`. A lag may be negative.
/// - At no time do the tasks that run use more of a pool than its capacity.
/// - Of each group in `apart` no two run at once, and for `(t, others)` in `blocks` none of
///   `others` runs while `t` does.
/// - A task of 0 minutes occupies no pool, and neither runs beside nor blocks anything.
/// - The crew is `crew` different workers out of `able`, or exactly `crew_fixed` if that is given
///   (`crew` and `able` then mean nothing). Each is busy for the whole task, and for nothing else
///   meanwhile, not even for a task of 0 minutes.
/// - A task lies within one span of presence of each of its crew.
/// - Between the end of a worker's task with a place and the start of the next one with a place
///   lie at least `travel[from][to]` minutes. Tasks without a place need no travel, and those
///   between two that have one do not count.
/// - A break of a worker is a time of at least `break_len` minutes between two tasks; walking in
///   it is allowed. Between the start of the first task after a break and the end of the last
///   before the next lie at most `longest_stretch` minutes, waiting included.
#[derive(Clone, Debug)]
pub struct Problem {
    /// The tasks; everything else names them by index.
    pub tasks: Vec<Task>,
    /// The workers, 64 at most.
    pub workers: Vec<Worker>,
    /// What each pool holds: so many of a thing that is taken at a task's start and given back at
    /// its end.
    pub pools: Vec<u32>,
    /// `(a, b, lag)`: b starts at the end of a plus the lag, or later.
    pub after: Vec<(usize, usize, Time)>,
    /// Groups of tasks, no two of which may overlap.
    pub apart: Vec<Vec<usize>>,
    /// `(t, others)`: while t runs none of the others runs. They may run beside each other.
    pub blocks: Vec<(usize, Vec<usize>)>,
    /// Minutes from place to place, row by row. Empty when no task has a place.
    pub travel: Vec<Vec<Time>>,
    /// The most minutes from first to last task without a break.
    pub longest_stretch: Time,
    /// The least minutes without a task that make a break.
    pub break_len: Time,
    /// How orders become schedules.
    pub generation: Generation,
}

impl Default for Problem {
    /// Nothing to do and nobody to do it; stretches without limit.
    fn default() -> Problem {
        Problem {
            tasks: Vec::new(),
            workers: Vec::new(),
            pools: Vec::new(),
            after: Vec::new(),
            apart: Vec::new(),
            blocks: Vec::new(),
            travel: Vec::new(),
            longest_stretch: Time::MAX,
            break_len: 0,
            generation: Generation::Parallel,
        }
    }
}

/// A piece of work that runs through once begun.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Task {
    /// Minutes from start to end, 0 or more.
    pub duration: Time,
    /// Earliest start.
    pub release: Time,
    /// Latest end, if there is one.
    pub due: Option<Time>,
    /// How many workers it takes; 0 is allowed.
    pub crew: u32,
    /// Who may be among them.
    pub able: WorkerSet,
    /// Exactly these workers, whatever `crew` and `able` say.
    pub crew_fixed: Option<WorkerSet>,
    /// Pool and amount; a pool named twice is used twice.
    pub uses: Vec<(usize, u32)>,
    /// Where it is done; `None` if that does not matter.
    pub place: Option<usize>,
}

/// Somebody who does tasks, one at a time.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Worker {
    /// From and to, for each span of presence, in any order. Two spans that touch stay two.
    pub present: Vec<(Time, Time)>,
}

impl Worker {
    /// A worker who is always there.
    pub fn always() -> Worker {
        Worker { present: vec![(Time::MIN, Time::MAX)] }
    }
}

/// When each task starts, and who does it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Schedule {
    /// Start of each task.
    pub start: Vec<Time>,
    /// Crew of each task.
    pub crew: Vec<WorkerSet>,
}

impl Schedule {
    /// When the task ends, in a schedule of that problem.
    pub fn end(&self, problem: &Problem, task: usize) -> Time {
        self.start[task] + problem.tasks[task].duration
    }

    /// The latest end of any task; `None` without tasks.
    pub fn makespan(&self, problem: &Problem) -> Option<Time> {
        let ends = self.start.iter().zip(&problem.tasks).map(|(start, task)| start + task.duration);
        ends.max()
    }
}
