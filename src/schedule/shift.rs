//! Waiting on purpose: chosen tasks as late as they may be, and nothing else moved.

use super::decode::{Scratch, Stuck, Why};
use super::problem::{Problem, Schedule, Time};
use super::tables::{Flow, NEVER, Tables};
use super::timeline::Timeline;

/// Moves each task with `movable` true as late as it can go while all others stay where they are.
///
/// The crews stay, and so does each worker's order of tasks; no start becomes earlier, no task
/// ends after the last one did, and no rule that held is broken. Of tasks that depend on each
/// other the later one moves first, so that chains move as one. A task may pass another that it
/// must be apart from, if no worker does both. `movable` may be short: the rest stays.
///
/// The schedule must be of this problem and without faults; one with faults keeps them, and a
/// task at fault may stay where it could move.
///
/// # Errors
/// [`Stuck`] if the problem is unsound in itself, as from [`decode`](super::decode()), or if the
/// schedule is not one of so many tasks and workers.
pub fn right_shift(
    p: &Problem,
    s: &Schedule,
    movable: &[bool],
    scratch: &mut Scratch,
) -> Result<Schedule, Stuck> {
    // In mirrored time latest is earliest, and gaps are found as the serial decoder finds them.
    let tables = &mut scratch.tables;
    tables.prepare(p, Flow::Backward)?;
    fix_crews(tables, s)?;
    let n = tables.tasks();
    let line = &mut scratch.timeline;
    line.clear(tables);
    for task in 0..n {
        line.insert(task, -s.start[task] - tables.duration[task], s.crew[task], tables);
    }
    let mut shifted = s.clone();
    let last = s.makespan(p).unwrap_or(0);
    let mut position = vec![0; n];
    tables.topological.iter().enumerate().for_each(|(at, &task)| position[task as usize] = at);
    let mut latest_first: Vec<usize> =
        (0..n).filter(|&task| movable.get(task) == Some(&true)).collect();
    latest_first.sort_by_key(|&task| std::cmp::Reverse((s.start[task], position[task])));
    // A task that moves may make room for one that was tried before it.
    for _ in 0..n {
        let mut moved = false;
        for &task in &latest_first {
            moved |= shift_one(task, last, tables, line, &mut shifted);
        }
        if !moved {
            break;
        }
    }
    Ok(shifted)
}

fn fix_crews(tables: &mut Tables, s: &Schedule) -> Result<(), Stuck> {
    let (n, workers) = (tables.tasks(), tables.workers());
    if s.start.len() != n || s.crew.len() != n {
        return Err(Stuck::new(0, Why::BadInput));
    }
    for task in 0..n {
        let known = s.crew[task].iter().all(|worker| worker < workers);
        if !known || !(-NEVER / 2..=NEVER / 2).contains(&s.start[task]) {
            return Err(Stuck::new(task, Why::BadInput));
        }
        tables.able[task] = s.crew[task];
        tables.crew[task] = s.crew[task].len();
    }
    Ok(())
}

fn shift_one(
    task: usize,
    last: Time,
    t: &Tables,
    line: &mut Timeline,
    shifted: &mut Schedule,
) -> bool {
    let (old, crew, duration) = (shifted.start[task], shifted.crew[task], t.duration[task]);
    let mut end = last.min(t.due[task]).min(-line.end_of_previous(task, crew, t));
    for &(successor, lag) in t.successors.row(task) {
        end = end.min(shifted.start[successor as usize] - lag);
    }
    if end - duration <= old {
        return false;
    }
    line.remove(task, -old - duration, crew, t);
    let found = line.earliest(task, -end, t).map(|(mirrored, _)| -mirrored - duration);
    let start = found.unwrap_or(old).max(old);
    line.insert(task, -start - duration, crew, t);
    shifted.start[task] = start;
    start > old
}
