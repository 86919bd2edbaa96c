//! Whether a schedule keeps the rules, read off them one by one without a thought for speed. It
//! shares no code with the decoders.

use super::problem::{Problem, Schedule, Time, WorkerSet};

/// A rule of [`Problem`] that a schedule breaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Not a start and a crew for each task; nothing else was looked at.
    Shape,
    /// The task starts before its release.
    Early {
        /// The task.
        task: usize,
    },
    /// The task ends after it is due.
    Late {
        /// The task.
        task: usize,
    },
    /// The second task starts before the end of the first plus the lag.
    Order {
        /// The first task.
        first: usize,
        /// The second.
        second: usize,
    },
    /// More of the pool is used than there is, from this time.
    Pool {
        /// The pool.
        pool: usize,
        /// The time, a start of a task.
        at: Time,
    },
    /// Two tasks of a group apart overlap.
    Apart {
        /// The earlier in the group.
        first: usize,
        /// The later in the group.
        second: usize,
    },
    /// A task runs while one that blocks it does.
    Blocked {
        /// The task that blocks.
        by: usize,
        /// The task blocked.
        task: usize,
    },
    /// The crew is not of the right number, not able, or not the one that is fixed.
    Crew {
        /// The task.
        task: usize,
    },
    /// A worker of the crew is not present for the whole task.
    Absent {
        /// The task.
        task: usize,
        /// The worker.
        worker: usize,
    },
    /// A worker does two tasks at once.
    Busy {
        /// The worker.
        worker: usize,
        /// The earlier task.
        first: usize,
        /// The later task.
        second: usize,
    },
    /// A worker cannot be at the second place in time.
    Travel {
        /// The worker.
        worker: usize,
        /// The task at the first place.
        first: usize,
        /// The task at the second.
        second: usize,
    },
    /// A worker goes on for too long without a break.
    Stretch {
        /// The worker.
        worker: usize,
        /// The first task since the last break.
        first: usize,
        /// The first task that ends too late.
        last: usize,
    },
}

/// Every breach of the rules, rule by rule in the order of [`Fault`], tasks and workers by index.
pub fn check(p: &Problem, s: &Schedule) -> Vec<Fault> {
    let n = p.tasks.len();
    let known = |crew: &WorkerSet| crew.iter().all(|worker| worker < p.workers.len());
    if s.start.len() != n || s.crew.len() != n || !s.crew.iter().all(known) {
        return vec![Fault::Shape];
    }
    let mut faults = Vec::new();
    check_times(p, s, &mut faults);
    check_pools(p, s, &mut faults);
    check_overlaps(p, s, &mut faults);
    check_crews(p, s, &mut faults);
    for worker in 0..p.workers.len() {
        check_day(p, s, worker, &mut faults);
    }
    faults
}

fn check_times(p: &Problem, s: &Schedule, faults: &mut Vec<Fault>) {
    for (task, t) in p.tasks.iter().enumerate() {
        if s.start[task] < t.release {
            faults.push(Fault::Early { task });
        }
    }
    for (task, t) in p.tasks.iter().enumerate() {
        if t.due.is_some_and(|due| s.end(p, task) > due) {
            faults.push(Fault::Late { task });
        }
    }
    for &(first, second, lag) in &p.after {
        if s.start[second] < s.end(p, first) + lag {
            faults.push(Fault::Order { first, second });
        }
    }
}

fn check_pools(p: &Problem, s: &Schedule, faults: &mut Vec<Fault>) {
    for (pool, &capacity) in p.pools.iter().enumerate() {
        // What is in use only rises when a task starts.
        for &at in &s.start {
            let mut in_use = 0;
            for (task, t) in p.tasks.iter().enumerate() {
                if s.start[task] <= at && at < s.end(p, task) {
                    in_use +=
                        t.uses.iter().filter(|u| u.0 == pool).map(|u| u64::from(u.1)).sum::<u64>();
                }
            }
            if in_use > u64::from(capacity) && !faults.contains(&Fault::Pool { pool, at }) {
                faults.push(Fault::Pool { pool, at });
            }
        }
    }
}

fn check_overlaps(p: &Problem, s: &Schedule, faults: &mut Vec<Fault>) {
    let overlap = |a: usize, b: usize| {
        let last = p.tasks[a].duration > 0 && p.tasks[b].duration > 0;
        a != b && last && s.start[a] < s.end(p, b) && s.start[b] < s.end(p, a)
    };
    for group in &p.apart {
        for (at, &first) in group.iter().enumerate() {
            for &second in &group[at + 1..] {
                if overlap(first, second) {
                    faults.push(Fault::Apart { first, second });
                }
            }
        }
    }
    for (by, others) in &p.blocks {
        for &task in others {
            if overlap(*by, task) {
                faults.push(Fault::Blocked { by: *by, task });
            }
        }
    }
}

fn check_crews(p: &Problem, s: &Schedule, faults: &mut Vec<Fault>) {
    for (task, t) in p.tasks.iter().enumerate() {
        let crew = s.crew[task];
        let right = match t.crew_fixed {
            Some(fixed) => crew == fixed,
            None => crew.len() == t.crew && crew.iter().all(|worker| t.able.contains(worker)),
        };
        if !right {
            faults.push(Fault::Crew { task });
        }
    }
    for task in 0..p.tasks.len() {
        for worker in s.crew[task].iter() {
            let within = |&(from, to): &(Time, Time)| from <= s.start[task] && s.end(p, task) <= to;
            if !p.workers[worker].present.iter().any(within) {
                faults.push(Fault::Absent { task, worker });
            }
        }
    }
}

fn check_day(p: &Problem, s: &Schedule, worker: usize, faults: &mut Vec<Fault>) {
    let mut day: Vec<usize> =
        (0..p.tasks.len()).filter(|&task| s.crew[task].contains(worker)).collect();
    day.sort_by_key(|&task| (s.start[task], s.end(p, task), task));
    for pair in day.windows(2) {
        if s.start[pair[1]] < s.end(p, pair[0]) {
            faults.push(Fault::Busy { worker, first: pair[0], second: pair[1] });
        }
    }
    let placed = day.iter().filter_map(|&task| p.tasks[task].place.map(|place| (task, place)));
    let placed: Vec<(usize, usize)> = placed.collect();
    for pair in placed.windows(2) {
        let ((first, from), (second, to)) = (pair[0], pair[1]);
        if s.start[second] < s.end(p, first) + p.travel[from][to] {
            faults.push(Fault::Travel { worker, first, second });
        }
    }
    let mut first = None;
    let mut previous: Option<usize> = None;
    let mut told = false;
    for &task in &day {
        if previous.is_none_or(|previous| s.start[task] - s.end(p, previous) >= p.break_len) {
            (first, told) = (Some(task), false);
        }
        previous = Some(task);
        if let Some(first) = first
            && s.end(p, task) - s.start[first] > p.longest_stretch
            && !told
        {
            faults.push(Fault::Stretch { worker, first, last: task });
            told = true;
        }
    }
}
