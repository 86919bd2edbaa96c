//! What is placed already: how much of each pool is used when, and what each worker does. Tasks
//! can be put into gaps and taken out again.

use super::decode::{Candidate, pick};
use super::problem::{Time, WorkerSet};
use super::tables::{NEVER, NOWHERE, Tables};

/// A task in a worker's day. Ordered by time; of two that start together the shorter comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Slot {
    start: Time,
    end: Time,
    /// [`Tables::label`] of the task.
    label: u32,
    place: u32,
}

/// See the module.
#[derive(Clone, Debug, Default)]
pub(super) struct Timeline {
    /// For each pool, times in order and what is in use from each to the next; nothing before the
    /// first, and 0 at the last.
    pools: Vec<Vec<(Time, i64)>>,
    days: Vec<Vec<Slot>>,
    candidates: Vec<Candidate>,
    starts: Vec<Time>,
}

impl Timeline {
    pub(super) fn clear(&mut self, t: &Tables) {
        self.pools.resize_with(t.capacity.len().max(self.pools.len()), Vec::new);
        self.pools.iter_mut().for_each(Vec::clear);
        self.days.resize_with(t.workers().max(self.days.len()), Vec::new);
        self.days.iter_mut().for_each(Vec::clear);
    }

    /// The earliest time from `from` on at which the task fits, and with whom; `None` if too few
    /// able workers ever have time.
    ///
    /// Each test below gives the first time at which it alone is content, so none steps over a
    /// time that suits all, and the first time nobody objects to is the earliest.
    pub(super) fn earliest(
        &mut self,
        task: usize,
        from: Time,
        t: &Tables,
    ) -> Option<(Time, WorkerSet)> {
        let duration = t.duration[task];
        let mut start = from;
        loop {
            let asked = start;
            if duration > 0 {
                for &(pool, amount) in t.uses.row(task) {
                    let free = i64::from(t.capacity[pool as usize]) - i64::from(amount);
                    start = earliest_in_pool(&self.pools[pool as usize], start, duration, free);
                }
            }
            if start == asked && t.crew[task] == 0 {
                return Some((start, WorkerSet::EMPTY));
            }
            if t.crew[task] > 0 {
                let wanted = t.crew[task] as usize;
                self.ask_workers(task, start, t);
                if self.starts.len() < wanted {
                    return None;
                }
                if start == asked && self.candidates.len() >= wanted {
                    return Some((start, pick(&mut self.candidates, wanted)));
                }
                start = *self.starts.select_nth_unstable(wanted - 1).1;
            }
        }
    }

    /// Books the task; the caller knows that it fits.
    pub(super) fn insert(&mut self, task: usize, start: Time, crew: WorkerSet, t: &Tables) {
        self.use_pools(task, start, 1, t);
        let slot = Slot {
            start,
            end: start + t.duration[task],
            label: t.label(task),
            place: t.place[task],
        };
        for worker in crew.iter() {
            let day = &mut self.days[worker];
            let at = day.partition_point(|other| *other < slot);
            day.insert(at, slot);
        }
    }

    /// Takes out a task that was put in at that time with that crew.
    pub(super) fn remove(&mut self, task: usize, start: Time, crew: WorkerSet, t: &Tables) {
        self.use_pools(task, start, -1, t);
        for worker in crew.iter() {
            self.days[worker].retain(|slot| slot.label != t.label(task));
        }
    }

    /// When the last of the crew is done with what each does before this task; long ago if with
    /// nothing.
    pub(super) fn end_of_previous(&self, task: usize, crew: WorkerSet, t: &Tables) -> Time {
        let ends = crew.iter().filter_map(|worker| {
            let day = &self.days[worker];
            let at = day.iter().position(|slot| slot.label == t.label(task))?;
            day.get(at.checked_sub(1)?).map(|slot| slot.end)
        });
        ends.max().unwrap_or(-NEVER)
    }

    fn use_pools(&mut self, task: usize, start: Time, sign: i64, t: &Tables) {
        let end = start + t.duration[task];
        if end > start {
            for &(pool, amount) in t.uses.row(task) {
                add(&mut self.pools[pool as usize], start, end, sign * i64::from(amount));
            }
        }
    }

    /// Fills `starts` with each able worker's earliest start, and `candidates` with those who can
    /// start at `from` itself.
    fn ask_workers(&mut self, task: usize, from: Time, t: &Tables) {
        self.starts.clear();
        self.candidates.clear();
        for worker in t.able[task].iter() {
            let day = &self.days[worker];
            let Some(start) = earliest_in_day(day, worker, task, from, t) else { continue };
            self.starts.push(start);
            if start == from {
                let before = &day[..day.partition_point(|slot| slot.end <= from)];
                let free_since = before.last().map_or(Time::MIN, |slot| slot.end);
                let last_place = before.iter().rfind(|slot| slot.place != NOWHERE);
                let way = last_place.map_or(0, |slot| way(slot.place, t.place[task], t));
                self.candidates.push((t.versatility[worker], free_since, way, worker));
            }
        }
    }
}

/// The first time from `from` on with no more than `free` in use for `duration` minutes.
fn earliest_in_pool(profile: &[(Time, i64)], from: Time, duration: Time, free: i64) -> Time {
    let mut start = from;
    let first = profile.partition_point(|step| step.0 <= from).saturating_sub(1);
    for pair in profile[first..].windows(2) {
        if pair[0].0 >= start + duration {
            break;
        }
        if pair[0].1 > free && pair[1].0 > start {
            start = pair[1].0;
        }
    }
    start
}

/// Adds to what is in use from `start` to `end`.
fn add(profile: &mut Vec<(Time, i64)>, start: Time, end: Time, amount: i64) {
    let from = cut(profile, start);
    let to = cut(profile, end);
    profile[from..to].iter_mut().for_each(|step| step.1 += amount);
}

/// The step that begins at that time, made if need be.
fn cut(profile: &mut Vec<(Time, i64)>, time: Time) -> usize {
    let at = profile.partition_point(|step| step.0 < time);
    if profile.get(at).is_none_or(|step| step.0 != time) {
        let in_use = if at == 0 { 0 } else { profile[at - 1].1 };
        profile.insert(at, (time, in_use));
    }
    at
}

/// The first time from `from` on at which the worker is there, free, arrived, in time for what
/// follows, and not too long without a break.
fn earliest_in_day(
    day: &[Slot],
    worker: usize,
    task: usize,
    from: Time,
    t: &Tables,
) -> Option<Time> {
    let duration = t.duration[task];
    let place = t.place[task];
    let spans = t.spans.row(worker);
    let mut start = from;
    loop {
        let span = spans.iter().find(|span| start.max(span.0) + duration <= span.1)?;
        start = start.max(span.0);
        let new = Slot { start, end: start + duration, label: t.label(task), place };
        // Tasks of the worker do not overlap, so the ends are in order as the starts are.
        let first = day.partition_point(|slot| slot.end <= start);
        if let Some(slot) = day.get(first).filter(|slot| slot.start < new.end) {
            start = slot.end;
            continue;
        }
        let next = day.partition_point(|slot| *slot < new);
        if place != NOWHERE {
            let before = day[..next].iter().rfind(|slot| slot.place != NOWHERE);
            let arrival = before.map_or(start, |slot| slot.end + way(slot.place, place, t));
            if arrival > start {
                start = arrival;
                continue;
            }
            let after = day[next..].iter().find(|slot| slot.place != NOWHERE);
            if let Some(slot) =
                after.filter(|slot| new.end + way(place, slot.place, t) > slot.start)
            {
                // Nothing before that task is late enough or early enough. One of 0 minutes at
                // this very time gives no later time of itself.
                start = slot.end.max(start + 1);
                continue;
            }
        }
        match past_stretch(&day[..next], new, &day[next..], t) {
            Some(later) => start = later,
            None => return Some(start),
        }
    }
}

/// `None` if the stretch around the new task is short enough, or the next start worth trying.
fn past_stretch(before: &[Slot], new: Slot, after: &[Slot], t: &Tables) -> Option<Time> {
    let (mut first, mut last) = (new.start, new.end);
    for slot in before.iter().rev() {
        if first - slot.end >= t.break_len {
            break;
        }
        first = slot.start;
    }
    for slot in after {
        if slot.start - last >= t.break_len {
            break;
        }
        last = slot.end;
    }
    if last - first <= t.longest_stretch {
        None
    } else if first < new.start {
        // Moving on only adds to what follows without a break, until one opens before.
        before.last().map(|slot| slot.end + t.break_len)
    } else {
        Some(last - t.longest_stretch)
    }
}

fn way(from: u32, to: u32, t: &Tables) -> Time {
    if from == NOWHERE || to == NOWHERE { 0 } else { t.travel(from, to) }
}
