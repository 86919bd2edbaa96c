//! A makespan that no schedule can beat.
//!
//! Theorem. Let a set of tasks share something of which `capacity` is there at a time, task j
//! using `amount_j` for `duration_j`. Let no task of the set start before `r`, and let at least `q`
//! minutes follow the end of each until the end of all. Then all ends no earlier than
//! `r + ceil(sum of duration times amount / capacity) + q`: from `r` to `q` before the end the
//! whole sum must fit under the capacity. This holds for each subset, and those that matter are
//! all tasks with a head of `r` or more and a tail of `q` or more. At capacity 1 the largest of
//! these bounds is the length of Jackson's preemptive schedule with heads and tails (J. Carlier,
//! "The one-machine sequencing problem", European Journal of Operational Research 11, 1982).
//!
//! What is dropped: that tasks run through and in one piece, most of precedence (kept in heads and
//! tails), travel, due dates, presence but of all who might do a task, and which of the able workers does what. Dropping a rule only adds
//! schedules. Tried by `bounds_never_pass_a_schedule` and the optima of `tests/it/schedule.rs`.

use super::problem::{Problem, Time, WorkerSet};
use super::tables::{Flow, NEVER, Tables};

/// So many sets of workers are looked at, at most.
const MOST_SETS: usize = 48;

/// A lower bound on the latest end of any task, at least the longest path through the problem.
///
/// A problem that is unsound in itself, so that [`decode`](super::decode()) fails whatever the
/// order, has no schedules, and the bound is `Time::MAX`; as it is if a task that needs
/// workers finds too few present, ever. Without tasks it is `Time::MIN`.
pub fn lower_bound(p: &Problem) -> Time {
    let mut tables = Tables::default();
    if tables.prepare(p, Flow::Forward).is_err() {
        return Time::MAX;
    }
    let t = &tables;
    let Some(heads) = heads(t) else { return Time::MAX };
    let tails = tails(t);
    let n = t.tasks();
    let path = (0..n).map(|task| heads[task] + t.duration[task] + tails[task]).max();
    let mut bound = path.unwrap_or(Time::MIN);
    let loads = |amount: &dyn Fn(usize) -> Time| -> Vec<Load> {
        let load = |task: usize| Load {
            head: heads[task],
            energy: t.duration[task].saturating_mul(amount(task)),
            tail: tails[task],
        };
        (0..n).map(load).filter(|load| load.energy > 0).collect()
    };
    for (pool, &capacity) in t.capacity.iter().enumerate() {
        let used = |task| amount_used(t, task, pool);
        let spans = staffed(t, (0..n).filter(|&task| used(task) > 0));
        let mut supply =
            Supply { each: Time::from(capacity), most: Time::from(capacity), spans, rests: None };
        bound = bound.max(energy_bound(&mut loads(&used), &supply));
        // Of tasks that each take more than half no two run at once.
        let mut alone = loads(&|task| Time::from(used(task) * 2 > Time::from(capacity)));
        (supply.each, supply.most) = (1, 1);
        bound = bound.max(energy_bound(&mut alone, &supply));
    }
    for set in worker_sets(t) {
        // Whoever is not in the set may help, and the rest must come from it.
        let needed =
            |task: usize| Time::from(t.crew[task].saturating_sub(t.able[task].minus(set).len()));
        let spans = set.iter().flat_map(|worker| t.spans.row(worker)).copied().collect();
        let supply =
            Supply { each: 1, most: Time::from(set.len()), spans: Some(spans), rests: Some(t) };
        bound = bound.max(energy_bound(&mut loads(&needed), &supply));
    }
    bound
}

/// The earliest start of each task: after its predecessors, and not before as many able workers
/// as it needs are present. `None` if they never are.
fn heads(t: &Tables) -> Option<Vec<Time>> {
    let mut heads = t.release.clone();
    let mut presences = Vec::new();
    for &task in &t.topological {
        let task = task as usize;
        if t.crew[task] > 0 {
            presences.clear();
            for worker in t.able[task].iter() {
                let fits =
                    |span: &&(Time, Time)| heads[task].max(span.0) + t.duration[task] <= span.1;
                presences.extend(
                    t.spans.row(worker).iter().find(fits).map(|span| heads[task].max(span.0)),
                );
            }
            presences.sort_unstable();
            heads[task] = *presences.get(t.crew[task] as usize - 1)?;
        }
        for &(successor, lag) in t.successors.row(task) {
            let head = heads[task] + t.duration[task] + lag;
            heads[successor as usize] = heads[successor as usize].max(head);
        }
    }
    Some(heads)
}

/// The least time from each task's end to the end of all.
fn tails(t: &Tables) -> Vec<Time> {
    let mut tails = vec![0; t.tasks()];
    for &task in t.topological.iter().rev() {
        for &(successor, lag) in t.successors.row(task as usize) {
            let next = successor as usize;
            tails[task as usize] = tails[task as usize].max(lag + t.duration[next] + tails[next]);
        }
    }
    tails
}

fn amount_used(t: &Tables, task: usize, pool: usize) -> Time {
    let row = t.uses.row(task).iter();
    row.filter(|&&(used, _)| used as usize == pool).map(|&(_, amount)| Time::from(amount)).sum()
}

/// When anybody is present who is able to do any of these tasks; `None` if one needs nobody.
fn staffed(t: &Tables, tasks: impl Iterator<Item = usize>) -> Option<Vec<(Time, Time)>> {
    let mut able = WorkerSet::EMPTY;
    for task in tasks {
        if t.crew[task] == 0 && t.duration[task] > 0 {
            return None;
        }
        able = able.union(t.able[task]);
    }
    let mut spans: Vec<_> = able.iter().flat_map(|worker| t.spans.row(worker)).copied().collect();
    spans.sort_unstable();
    let mut merged: Vec<(Time, Time)> = Vec::new();
    for span in spans {
        match merged.last_mut() {
            Some(last) if span.0 <= last.1 => last.1 = last.1.max(span.1),
            _ => merged.push(span),
        }
    }
    Some(merged)
}

/// The sets of workers some task must be done by, and what they come to in pairs.
fn worker_sets(t: &Tables) -> Vec<WorkerSet> {
    let mut single: Vec<WorkerSet> = t.crews.iter().map(|kind| kind.0).collect();
    single.sort_unstable();
    single.dedup();
    let all = single.iter().fold(WorkerSet::EMPTY, |all, &set| all.union(set));
    let pairs = single.iter().flat_map(|&a| single.iter().map(move |&b| a.union(b)));
    let mut sets = single.clone();
    for set in std::iter::once(all).chain(pairs) {
        if sets.len() >= MOST_SETS {
            break;
        }
        if !sets.contains(&set) && !set.is_empty() {
            sets.push(set);
        }
    }
    sets
}

struct Load {
    head: Time,
    energy: Time,
    tail: Time,
}

/// What the loads share.
struct Supply<'t> {
    /// The most there ever is.
    most: Time,
    /// What each span gives; they may overlap. Without them, `most` is there at any time.
    each: Time,
    spans: Option<Vec<(Time, Time)>>,
    /// Where a span is a worker's, who rests as these tables say.
    rests: Option<&'t Tables>,
}

impl Supply<'_> {
    /// The most it can give from one time to the other.
    fn given(&self, spans: &[(Time, Time)], from: Time, to: Time) -> Time {
        let within = spans.iter().map(|span| (span.1.min(to) - span.0.max(from)).max(0));
        let given = within
            .map(|time| self.rests.map_or(time, |t| most_work(time, t)).saturating_mul(self.each));
        given.fold(0, Time::saturating_add)
    }

    /// The earliest time at which it can have given so much from `from` on; [`Time::MAX`] if it
    /// cannot.
    fn done(&self, from: Time, energy: Time) -> Time {
        let Some(spans) = &self.spans else { return Time::MIN };
        // Beyond this nothing may be counted on, and sums might not fit.
        let (mut too_early, mut enough) = (from - 1, NEVER / 2);
        if self.given(spans, from, enough) < energy {
            return Time::MAX;
        }
        while too_early + 1 < enough {
            let middle = too_early + (enough - too_early) / 2;
            if self.given(spans, from, middle) < energy {
                too_early = middle;
            } else {
                enough = middle;
            }
        }
        enough
    }
}

/// The theorem, for each head and, of the tails, the one that gives most.
fn energy_bound(loads: &mut [Load], supply: &Supply) -> Time {
    loads.sort_unstable_by_key(|load| std::cmp::Reverse(load.tail));
    let mut heads: Vec<Time> = loads.iter().map(|load| load.head).collect();
    heads.sort_unstable();
    heads.dedup();
    let most = supply.most;
    let mut bound = Time::MIN;
    for head in heads {
        let (mut energy, mut value, mut at) = (0, Time::MIN, (0, 0));
        for load in loads.iter().filter(|load| load.head >= head) {
            energy = load.energy.saturating_add(energy);
            let least = energy / most + Time::from(energy % most > 0);
            let new = head + least + load.tail;
            if new > value {
                (value, at) = (new, (energy, load.tail));
            }
        }
        bound = bound.max(value).max(supply.done(head, at.0).saturating_add(at.1));
    }
    bound
}

/// The most minutes a worker can be busy in so many of presence. In each piece of a stretch and a
/// break at least a break's length is idle: else the time from the break before to the break
/// after, of which the piece holds less than a break's length together, would be longer than a
/// stretch.
fn most_work(present: Time, t: &Tables) -> Time {
    if t.longest_stretch >= present {
        return present;
    }
    let piece = t.longest_stretch + t.break_len.max(0);
    if piece <= 0 {
        return present;
    }
    present / piece * t.longest_stretch + (present % piece).min(t.longest_stretch)
}
