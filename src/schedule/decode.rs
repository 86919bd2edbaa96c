//! From an order of tasks to a schedule.

use super::parallel::Parallel;
use super::problem::{Generation, Problem, Schedule, WorkerSet};
use super::serial::Serial;
use super::tables::{Flow, Tables};
use super::timeline::Timeline;

/// Why no schedule came out, and at which task.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stuck {
    /// The task that could not be placed.
    pub task: usize,
    /// Why not.
    pub why: Why,
    /// How many tasks were placed before; a search may take more for better.
    pub placed: usize,
}

impl Stuck {
    pub(super) fn new(task: usize, why: Why) -> Stuck {
        Stuck { task, why, placed: 0 }
    }
}

/// Why a task has no time. All but `Absent` and `Late` hold whatever the order; these two are what
/// this order came to, and another may do better.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// An index out of range, a negative duration, more than 64 workers or a million tasks, or a
    /// time more than 2^40 minutes from 0. Where no task is at fault, the task named is 0.
    BadInput,
    /// The order does not name each task once; the task is the first missed.
    BadOrder,
    /// The task must come after itself.
    Cycle,
    /// Fewer workers are able than are wanted.
    TooFewAble {
        /// So many are able.
        able: u32,
        /// So many are wanted.
        crew: u32,
    },
    /// It needs more of the pool than there is.
    OverCapacity {
        /// The pool.
        pool: usize,
    },
    /// It takes longer than anybody may work without a break.
    LongerThanStretch,
    /// Not enough able workers are present for long enough, any time from when it could start.
    Absent,
    /// It would end this many minutes after it is due, at the earliest.
    Late {
        /// Minutes over, more than 0.
        by: i64,
    },
}

/// Memory for [`decode`], to be used again and again, for any problem.
#[derive(Clone, Debug, Default)]
pub struct Scratch {
    pub(super) tables: Tables,
    pub(super) rank: Vec<u32>,
    parallel: Parallel,
    serial: Serial,
    pub(super) timeline: Timeline,
}

/// Makes a schedule from an order of all tasks, first things first, by the problem's
/// [`Generation`]. Any order will do: a task waits for its predecessors wherever they stand.
///
/// A crew is chosen from the able workers who can start at that time; first those who are able to
/// do fewer tasks, then those free for longer, then those with the shorter way, then by index.
///
/// # Errors
/// [`Stuck`] names the first task without a time; never panics.
pub fn decode(
    problem: &Problem,
    order: &[usize],
    scratch: &mut Scratch,
) -> Result<Schedule, Stuck> {
    let mut schedule = Schedule::default();
    decode_into(problem, order, scratch, &mut schedule)?;
    Ok(schedule)
}

/// [`decode`], but into a schedule that is there already; no memory is taken once it and the
/// scratch have grown to size. After an error the schedule's content means nothing.
///
/// # Errors
/// As for [`decode`].
pub fn decode_into(
    p: &Problem,
    order: &[usize],
    scratch: &mut Scratch,
    into: &mut Schedule,
) -> Result<(), Stuck> {
    scratch.tables.prepare(p, Flow::Forward)?;
    decode_prepared(p.generation, order, scratch, into)
}

/// [`decode_into`] for the problem that the scratch was prepared for last.
pub(super) fn decode_prepared(
    generation: Generation,
    order: &[usize],
    scratch: &mut Scratch,
    into: &mut Schedule,
) -> Result<(), Stuck> {
    let n = scratch.tables.tasks();
    scratch.rank.clear();
    scratch.rank.resize(n, u32::MAX);
    for (place, &task) in order.iter().enumerate() {
        if let Some(rank) = scratch.rank.get_mut(task) {
            *rank = place as u32;
        }
    }
    let missed = scratch.rank.iter().position(|&rank| rank == u32::MAX);
    if order.len() != n || missed.is_some() {
        return Err(Stuck::new(missed.unwrap_or(0), Why::BadOrder));
    }
    into.start.clear();
    into.start.resize(n, 0);
    into.crew.clear();
    into.crew.resize(n, WorkerSet::EMPTY);
    match generation {
        Generation::Parallel => scratch.parallel.run(&scratch.tables, order, &scratch.rank, into),
        Generation::Serial => {
            scratch.serial.run(&scratch.tables, order, &scratch.rank, &mut scratch.timeline, into)
        }
    }
}

/// A set of tasks, as bits by rank, so that the first in the order is the lowest bit.
#[derive(Clone, Debug, Default)]
pub(super) struct RankSet {
    words: Vec<u64>,
}

impl RankSet {
    pub(super) fn clear(&mut self, tasks: usize) {
        self.words.clear();
        self.words.resize(tasks.div_ceil(64), 0);
    }

    pub(super) fn insert(&mut self, rank: u32) {
        self.words[rank as usize / 64] |= 1 << (rank % 64);
    }

    pub(super) fn remove(&mut self, rank: u32) {
        self.words[rank as usize / 64] &= !(1 << (rank % 64));
    }

    /// The lowest rank in the set that is `from` or more and not in the other, which may be short.
    pub(super) fn next_but(&self, from: usize, other: &RankSet) -> Option<usize> {
        let mut word = from / 64;
        let mut within = u64::MAX << (from % 64);
        loop {
            let other = other.words.get(word).unwrap_or(&0);
            let bits = self.words.get(word)? & within & !other;
            if bits != 0 {
                return Some(word * 64 + bits.trailing_zeros() as usize);
            }
            (word, within) = (word + 1, u64::MAX);
        }
    }

    /// The lowest rank that is in both sets.
    pub(super) fn first_of(&self, other: &RankSet) -> Option<usize> {
        let both = self.words.iter().zip(&other.words).map(|(a, b)| a & b);
        let (word, bits) = both.enumerate().find(|(_, bits)| *bits != 0)?;
        Some(word * 64 + bits.trailing_zeros() as usize)
    }

    /// The lowest rank in the set.
    pub(super) fn first(&self) -> Option<usize> {
        self.next_but(0, &RankSet::default())
    }

    /// Puts in all of another set for as many tasks.
    pub(super) fn insert_all(&mut self, other: &RankSet) {
        self.words.iter_mut().zip(&other.words).for_each(|(word, other)| *word |= other);
    }
}

/// A worker who could take the task: how many tasks they can do, since when they are free, how
/// far they have to come, and who they are. The least goes first.
pub(super) type Candidate = (u32, i64, i64, usize);

/// The `crew` least candidates, which must be there.
pub(super) fn pick(candidates: &mut [Candidate], crew: usize) -> WorkerSet {
    if crew < candidates.len() {
        candidates.select_nth_unstable(crew);
    }
    candidates.iter().take(crew).map(|candidate| candidate.3).collect()
}
