//! Better orders by simulated annealing.
//!
//! A move swaps two tasks of the order or puts one elsewhere; the new order is decoded and its
//! cost compared. Uphill moves of d are taken with probability `exp(-d / temperature)`. The first
//! temperature is what the first moves cost on average; it falls geometrically, and starts again
//! from half of the last one's height, from the best order known, a few times. While the order
//! gives no schedule, half of the moves bring forward the task that found no time.

use super::decode::{Scratch, Stuck, decode_prepared};
use super::problem::{Problem, Schedule};
use super::random::Random;
use super::tables::Flow;

/// How often the temperature starts from above.
const ROUNDS: u64 = 3;
/// Steps of temperature in a round, and what each leaves of it: 1/200 at the end.
const STEPS: u64 = 64;
const COOLING: f64 = 0.92;
/// The brake is looked at once in so many moves.
const ASKED: u64 = 16;

/// The best that [`improve`] met.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Improved {
    /// The order; decoded, it gives the schedule.
    pub order: Vec<usize>,
    /// Its schedule.
    pub schedule: Schedule,
    /// What the objective says of it.
    pub cost: i64,
}

/// Tries `effort_moves` changes of the order, and returns the best schedule met, by the least
/// `objective`; never worse than that of `start_order`. As long as no order gives a schedule, the
/// one that places most tasks counts as best.
///
/// The same input and seed give the same result on every machine, if the objective does so too.
///
/// # Errors
/// [`Stuck`] if no order that was tried gives a schedule: that of the best.
pub fn improve(
    p: &Problem,
    start_order: Vec<usize>,
    objective: impl FnMut(&Schedule) -> i64,
    effort_moves: u64,
    seed: u64,
) -> Result<Improved, Stuck> {
    improve_until(p, start_order, objective, effort_moves, seed, |_| false)
}

/// [`improve`] with a brake: it ends as soon as `enough` says so, which is asked every few moves
/// and is told whether there is a schedule yet.
///
/// # Errors
/// As [`improve`].
pub fn improve_until(
    p: &Problem,
    start_order: Vec<usize>,
    objective: impl FnMut(&Schedule) -> i64,
    effort_moves: u64,
    seed: u64,
    mut enough: impl FnMut(bool) -> bool,
) -> Result<Improved, Stuck> {
    let mut scratch = Scratch::default();
    scratch.tables.prepare(p, Flow::Forward)?;
    let mut search = Search { p, objective, scratch, schedule: Schedule::default() };
    let mut random = Random::new(seed);
    let mut order = start_order;
    let mut outcome = search.decode(&order);
    let mut best = Best { order: order.clone(), schedule: search.schedule.clone(), outcome };
    let sample = effort_moves.div_ceil(50).min(200);
    let round = (effort_moves / ROUNDS).max(1);
    let (mut climbed, mut climbs) = (0.0, 0.0);
    let (mut hottest, mut temperature) = (0.0, 0.0);
    for step in 0..effort_moves {
        if step % ASKED == 0 && enough(matches!(best.outcome, Outcome::Cost(_))) {
            break;
        }
        if step == sample {
            hottest = if climbs > 0.0 { climbed / climbs } else { 1.0 };
            temperature = hottest;
        } else if step > sample && step % round == 0 {
            hottest *= 0.5;
            temperature = hottest;
            order.clone_from(&best.order);
            outcome = best.outcome;
        } else if step % round * STEPS % round < STEPS {
            temperature *= COOLING;
        }
        let change = match outcome {
            Outcome::Stuck(stuck) if random.below(2) == 0 => {
                Change::advance(stuck.task, &order, &mut random)
            }
            _ => Change::random(order.len(), &mut random),
        };
        change.make(&mut order);
        let new = search.decode(&order);
        let uphill = new.above(&outcome);
        if step < sample && uphill > 0.0 && uphill < f64::INFINITY {
            climbed += uphill;
            climbs += 1.0;
        }
        if uphill <= temperature * random.exponential() {
            outcome = new;
            if new.is_better_than(&best.outcome) {
                best.order.clone_from(&order);
                best.schedule.clone_from(&search.schedule);
                best.outcome = new;
            }
        } else {
            change.unmake(&mut order);
        }
    }
    let Best { order, schedule, outcome } = best;
    match outcome {
        Outcome::Cost(cost) => Ok(Improved { order, schedule, cost }),
        Outcome::Stuck(stuck) => Err(stuck),
    }
}

struct Search<'p, F> {
    p: &'p Problem,
    objective: F,
    scratch: Scratch,
    schedule: Schedule,
}

impl<F: FnMut(&Schedule) -> i64> Search<'_, F> {
    fn decode(&mut self, order: &[usize]) -> Outcome {
        match decode_prepared(self.p.generation, order, &mut self.scratch, &mut self.schedule) {
            Ok(()) => Outcome::Cost((self.objective)(&self.schedule)),
            Err(stuck) => Outcome::Stuck(stuck),
        }
    }
}

struct Best {
    order: Vec<usize>,
    schedule: Schedule,
    outcome: Outcome,
}

#[derive(Clone, Copy)]
enum Outcome {
    Cost(i64),
    Stuck(Stuck),
}

impl Outcome {
    fn is_better_than(&self, other: &Outcome) -> bool {
        match (self, other) {
            (Outcome::Cost(new), Outcome::Cost(old)) => new < old,
            (Outcome::Stuck(new), Outcome::Stuck(old)) => new.placed > old.placed,
            (new, _) => matches!(new, Outcome::Cost(_)),
        }
    }

    /// How far up from the other. A schedule is never given up for none, nor a task placed.
    fn above(&self, other: &Outcome) -> f64 {
        match (self, other) {
            (Outcome::Cost(new), Outcome::Cost(old)) => new.saturating_sub(*old) as f64,
            (Outcome::Stuck(new), Outcome::Stuck(old)) if new.placed >= old.placed => 0.0,
            (Outcome::Cost(_), _) => f64::NEG_INFINITY,
            (Outcome::Stuck(_), _) => f64::INFINITY,
        }
    }
}

/// A change of an order that can be undone.
#[derive(Clone, Copy)]
enum Change {
    Swap(usize, usize),
    /// Takes the task out at the first place and puts it in at the second.
    Move(usize, usize),
}

impl Change {
    /// Half swaps, half moves; half of either within a few places, as near changes are more often
    /// for the better.
    fn random(n: usize, random: &mut Random) -> Change {
        if n < 2 {
            return Change::Swap(0, 0);
        }
        let kind = random.below(4);
        let from = random.below(n);
        let reach = if kind < 2 { n - 1 } else { (n - 1).min(8) };
        let away = 1 + random.below(reach);
        let to = if random.below(2) == 0 { from + away } else { from + n - away } % n;
        if kind.is_multiple_of(2) { Change::Swap(from, to) } else { Change::Move(from, to) }
    }

    /// Puts a task that found no time somewhere before.
    fn advance(task: usize, order: &[usize], random: &mut Random) -> Change {
        let from = order.iter().position(|&other| other == task).unwrap_or(0);
        Change::Move(from, random.below(from))
    }

    fn make(self, order: &mut [usize]) {
        match self {
            Change::Swap(a, b) if a == b => {}
            Change::Swap(a, b) => order.swap(a, b),
            Change::Move(from, to) if from < to => order[from..=to].rotate_left(1),
            Change::Move(from, to) => order.get_mut(to..=from).unwrap_or_default().rotate_right(1),
        }
    }

    fn unmake(self, order: &mut [usize]) {
        match self {
            Change::Swap(..) => self.make(order),
            Change::Move(from, to) => Change::Move(to, from).make(order),
        }
    }
}
