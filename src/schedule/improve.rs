//! Better orders by simulated annealing.
//!
//! A move swaps two tasks of the order or puts one elsewhere; the new order is decoded and its
//! cost compared. Uphill moves of d are taken with probability `exp(-d / temperature)`. The first
//! temperature is what the first moves cost on average; it falls geometrically, and starts again
//! from half of the last one's height, from the best order known, a few times; at the end only what
//! costs less is taken. While the order
//! gives no schedule, half of the moves bring forward the task that found no time.
//!
//! Two kinds of waiting on purpose are searched besides. Some tasks have a time before which they do
//! not start, and one move in four changes such a time. Any task may insist: nothing after it in the
//! order starts before it, once it may begin, so that people wait for each other or for a tool. And
//! any task may go to whoever has worked last rather than to whoever has rested longest, which is
//! how breaks are found. One move in eight changes either of a task. Where no waiting is asked for,
//! only orders are searched.

use super::decode::{Scratch, Stuck, Why, decode_prepared};
use super::problem::{Problem, Schedule, Time};
use super::random::Random;
use super::tables::Flow;

/// How often the temperature starts from above.
const ROUNDS: u64 = 3;
/// Steps of temperature in a round, and what each leaves of it: 1/200 at the end.
const STEPS: u64 = 64;
const COOLING: f64 = 0.92;
/// The share of the moves at the end that only ever go down, from the best that is known.
const DESCENT: u64 = 10;
/// What the first temperature is multiplied by where waiting is searched.
const COOLER: f64 = 0.25;
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
    /// The waiting that goes with the order.
    pub waits: Waits,
}

/// Waiting on purpose.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Waits {
    /// Tasks that may be kept back though they could start, each with the time until which it is.
    pub held: Vec<(usize, Time)>,
    /// By task: nothing after it in the order starts before it, once it may begin. May be short; none
    /// at all says that no waiting is to be searched.
    pub insists: Vec<bool>,
    /// By task: of those who could start it, whoever has worked last does it. May be short.
    pub goes_on: Vec<bool>,
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
    improve_until(p, start_order, Waits::default(), objective, effort_moves, seed, |_| false)
}

/// [`improve`] with tasks that may be kept back, and a brake: it ends as soon as `enough` says so,
/// which is asked every few moves and is told whether there is a schedule yet.
///
/// # Errors
/// As [`improve`].
pub fn improve_until(
    p: &Problem,
    start_order: Vec<usize>,
    waits: Waits,
    objective: impl FnMut(&Schedule) -> i64,
    effort_moves: u64,
    seed: u64,
    mut enough: impl FnMut(bool) -> bool,
) -> Result<Improved, Stuck> {
    let mut scratch = Scratch::default();
    scratch.tables.prepare(p, Flow::Forward)?;
    waits.put_on(p, &mut scratch)?;
    let waiting = !waits.insists.is_empty();
    let told = vec![(0, 0); p.tasks.len()];
    let (schedule, starts, by_start) = (Schedule::default(), Vec::new(), Vec::new());
    let mut search = Search { p, objective, scratch, schedule, starts, by_start, waiting, told };
    let mut random = Random::new(seed);
    let mut state = State { order: start_order, waits };
    state.waits.insists.resize(p.tasks.len(), false);
    state.waits.goes_on.resize(p.tasks.len(), false);
    let mut outcome = search.decode(&state.order);
    if matches!(outcome, Outcome::Cost(_)) {
        search.note_starts();
    }
    let mut best = Best { state: state.clone(), schedule: search.schedule.clone(), outcome };
    let sample = effort_moves.div_ceil(50).min(200);
    let round = (effort_moves / ROUNDS).max(1);
    let descent = effort_moves - effort_moves / DESCENT;
    let (mut climbed, mut climbs) = (0.0, 0.0);
    let (mut hottest, mut temperature) = (0.0, 0.0);
    for step in 0..effort_moves {
        if step % ASKED == 0 && enough(matches!(best.outcome, Outcome::Cost(_))) {
            break;
        }
        if step == sample {
            hottest = if climbs > 0.0 { climbed / climbs } else { 1.0 };
            // Waiting makes many changes that cost very much, and say little of the others.
            hottest *= if waiting { COOLER } else { 1.0 };
            temperature = hottest;
        } else if step > sample && (step % round == 0 || (waiting && step == descent)) {
            hottest *= 0.5;
            temperature = if waiting && step >= descent { 0.0 } else { hottest };
            state.clone_from(&best.state);
            search.hold(&state);
            outcome = best.outcome;
        } else if step > sample && step % round * STEPS % round < STEPS {
            temperature *= COOLING;
        }
        let change = match outcome {
            Outcome::Stuck(stuck) if random.below(2) == 0 => {
                Change::advance(stuck.task, &state.order, &mut random)
            }
            _ => search.change(&state, &mut random),
        };
        search.make(change, &mut state);
        let new = search.decode(&state.order);
        let uphill = new.above(&outcome);
        if waiting {
            search.learn(change, &state.order, uphill != 0.0);
        }
        if step < sample && uphill > 0.0 && uphill < f64::INFINITY {
            climbed += uphill;
            climbs += 1.0;
        }
        if uphill <= temperature * random.exponential() {
            outcome = new;
            if matches!(new, Outcome::Cost(_)) {
                search.note_starts();
            }
            if new.is_better_than(&best.outcome) {
                best.state.clone_from(&state);
                best.schedule.clone_from(&search.schedule);
                best.outcome = new;
            }
        } else {
            search.unmake(change, &mut state);
        }
    }
    let Best { state: State { order, waits }, schedule, outcome } = best;
    match outcome {
        Outcome::Cost(cost) => Ok(Improved { order, schedule, cost, waits }),
        Outcome::Stuck(stuck) => Err(stuck),
    }
}

/// [`decode`](super::decode()) with waiting on purpose.
///
/// # Errors
/// As from there; and if the waits name a task that is not there.
pub fn decode_waiting(
    p: &Problem,
    order: &[usize],
    waits: &Waits,
    scratch: &mut Scratch,
) -> Result<Schedule, Stuck> {
    scratch.tables.prepare(p, Flow::Forward)?;
    waits.put_on(p, scratch)?;
    let mut schedule = Schedule::default();
    decode_prepared(p.generation, order, scratch, &mut schedule)?;
    Ok(schedule)
}

impl Waits {
    /// Puts the waits into the tables of the problem for which they were prepared.
    fn put_on(&self, p: &Problem, scratch: &mut Scratch) -> Result<(), Stuck> {
        let tables = &mut scratch.tables;
        for &(task, until) in &self.held {
            let Some(named) = p.tasks.get(task) else {
                return Err(Stuck::new(task, Why::BadInput));
            };
            tables.release[task] = named.release.max(until);
        }
        tables.insists.clone_from(&self.insists);
        tables.insists.resize(p.tasks.len(), false);
        tables.goes_on.clone_from(&self.goes_on);
        tables.goes_on.resize(p.tasks.len(), false);
        Ok(())
    }
}

/// What is searched.
#[derive(Clone)]
struct State {
    order: Vec<usize>,
    waits: Waits,
}

struct Search<'p, F> {
    p: &'p Problem,
    objective: F,
    scratch: Scratch,
    schedule: Schedule,
    /// When each task starts in the schedule that the state gives.
    starts: Vec<Time>,
    /// All tasks in order of those.
    by_start: Vec<usize>,
    /// Waiting is searched too.
    waiting: bool,
    /// By task: how often a change of it made a difference, and how often it was changed.
    told: Vec<(u64, u64)>,
}

impl<F: FnMut(&Schedule) -> i64> Search<'_, F> {
    fn decode(&mut self, order: &[usize]) -> Outcome {
        match decode_prepared(self.p.generation, order, &mut self.scratch, &mut self.schedule) {
            Ok(()) => Outcome::Cost((self.objective)(&self.schedule)),
            Err(stuck) => Outcome::Stuck(stuck),
        }
    }

    /// The waits of the state, whose tasks are all known.
    fn hold(&mut self, state: &State) {
        let _ = state.waits.put_on(self.p, &mut self.scratch);
    }

    fn make(&mut self, change: Change, state: &mut State) {
        match change {
            Change::Hold { which, to, .. } => {
                state.waits.held[which].1 = to;
                self.hold(state);
            }
            Change::Insist(task) => {
                state.waits.insists[task] ^= true;
                self.hold(state);
            }
            Change::GoOn(task) => {
                state.waits.goes_on[task] ^= true;
                self.hold(state);
            }
            _ => change.make(&mut state.order),
        }
    }

    fn unmake(&mut self, change: Change, state: &mut State) {
        match change {
            Change::Hold { which, from, .. } => {
                state.waits.held[which].1 = from;
                self.hold(state);
            }
            Change::Insist(_) | Change::GoOn(_) => self.make(change, state),
            _ => change.unmake(&mut state.order),
        }
    }

    /// A task whose changes have made a difference more often than not: of two the more telling one.
    fn telling(&self, random: &mut Random) -> usize {
        let n = self.told.len();
        let (a, b) = (random.below(n), random.below(n));
        let rate = |task: usize| {
            let (told, tried) = self.told[task];
            (told + 1) * 1000 / (tried + 2)
        };
        if rate(a) >= rate(b) { a } else { b }
    }

    /// Remembers whether the change made a difference.
    fn learn(&mut self, change: Change, order: &[usize], told: bool) {
        let mut note = |task: usize| {
            self.told[task].0 += u64::from(told);
            self.told[task].1 += 1;
        };
        match change {
            Change::Swap(a, b) => {
                note(order[a]);
                note(order[b]);
            }
            Change::Move(_, to) => note(order[to]),
            Change::Insist(task) | Change::GoOn(task) => note(task),
            Change::Hold { .. } => {}
        }
    }

    /// A swap or move of two tasks that start at about the same time: what else stands between them
    /// in the order seldom matters.
    fn near(&self, order: &[usize], random: &mut Random) -> Change {
        let n = self.by_start.len();
        let task = self.telling(random);
        let first = self.by_start.iter().position(|t| *t == task).unwrap_or(0);
        let away = 1 + random.below(6.min(n - 1));
        let second = if random.below(2) == 0 { first + away } else { first + n - away } % n;
        let place = |nth: usize| order.iter().position(|t| *t == self.by_start[nth]).unwrap_or(0);
        let (from, to) = (place(first), place(second));
        if random.below(2) == 0 { Change::Swap(from, to) } else { Change::Move(from, to) }
    }

    /// Takes over the schedule just decoded as that of the state.
    fn note_starts(&mut self) {
        self.starts.clone_from(&self.schedule.start);
        if self.by_start.len() != self.starts.len() {
            self.by_start = (0..self.starts.len()).collect();
        }
        let starts = &self.starts;
        self.by_start.sort_by_key(|task| (starts[*task], *task));
    }

    fn change(&self, state: &State, random: &mut Random) -> Change {
        if !self.waiting {
            return Change::random(state.order.len(), random);
        }
        let held = &state.waits.held;
        let kind = random.below(8);
        if kind == 0 && self.by_start.len() > 1 {
            let task = self.telling(random);
            let rest = random.below(3) == 0;
            return if rest { Change::GoOn(task) } else { Change::Insist(task) };
        }
        if held.is_empty() || self.starts.is_empty() || kind > 2 {
            if self.by_start.len() < 2 || random.below(3) == 0 {
                return Change::random(state.order.len(), random);
            }
            return self.near(&state.order, random);
        }
        let which = random.below(held.len());
        let (task, from) = held[which];
        let to = match random.below(4) {
            // When something else begins or ends.
            0 => self.starts[random.below(self.starts.len())],
            1 => {
                let other = random.below(self.starts.len());
                self.starts[other] + self.p.tasks[other].duration
            }
            kind => {
                let most = if kind == 2 { 4 } else { 40 };
                let by = 1 + random.below(most) as Time;
                self.starts[task] + if random.below(2) == 0 { by } else { -by }
            }
        };
        Change::Hold { which, from, to }
    }
}

struct Best {
    state: State,
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
    /// Keeps back what is there in the state's list until another time.
    Hold {
        which: usize,
        from: Time,
        to: Time,
    },
    /// Makes the task insist, or no longer.
    Insist(usize),
    /// Gives the task to whoever has worked last, or no longer.
    GoOn(usize),
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
            Change::Hold { .. } | Change::Insist(_) | Change::GoOn(_) => {}
        }
    }

    fn unmake(self, order: &mut [usize]) {
        match self {
            Change::Move(from, to) => Change::Move(to, from).make(order),
            _ => self.make(order),
        }
    }
}
