//! Small random problems that use every feature, and the dice to make them.

use wayover::schedule::{Problem, Task, Time, Worker, WorkerSet};

/// Seeded random numbers.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        Dice(seed.wrapping_mul(2) + 1)
    }

    /// A number from `low` to `high`, both included.
    pub fn between(&mut self, low: Time, high: Time) -> Time {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let word = (self.0 ^ (self.0 >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9) >> 33;
        low + (word % (high - low + 1) as u64) as Time
    }

    pub fn one_in(&mut self, count: Time) -> bool {
        self.between(1, count) == 1
    }

    pub fn shuffled(&mut self, count: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..count).collect();
        for at in (1..count).rev() {
            order.swap(at, self.between(0, at as Time) as usize);
        }
        order
    }

    fn subset(&mut self, count: usize) -> Vec<usize> {
        (0..count).filter(|_| self.one_in(3)).collect()
    }
}

/// A problem of 2 to `most` tasks, sound in itself. One in three has due dates, one in two
/// absences; both may leave no schedule.
pub fn problem(seed: u64, most: Time) -> Problem {
    let mut dice = Dice::new(seed);
    let n = dice.between(2, most) as usize;
    let count = dice.between(1, 4) as usize;
    let all = WorkerSet::first(count);
    let places = dice.between(1, 4);
    let pools: Vec<u32> = (0..2).map(|_| dice.between(1, 3) as u32).collect();
    let (due, absent) = (dice.one_in(3), dice.one_in(2));
    let mut tasks = Vec::new();
    for _ in 0..n {
        let able: WorkerSet = (0..count).filter(|_| !dice.one_in(3)).collect();
        let able = if able.is_empty() { all } else { able };
        let duration = if dice.one_in(8) { 0 } else { dice.between(1, 12) };
        tasks.push(Task {
            duration,
            release: if dice.one_in(4) { dice.between(0, 30) } else { 0 },
            due: (due && dice.one_in(4)).then(|| dice.between(40, 150)),
            crew: dice.between(0, Time::from(able.len().min(2))) as u32,
            able,
            crew_fixed: dice
                .one_in(8)
                .then(|| WorkerSet::only(dice.between(0, count as Time - 1) as usize)),
            uses: (0..2).filter(|_| dice.one_in(2)).map(|pool| (pool, 1)).collect(),
            place: (!dice.one_in(3)).then(|| dice.between(0, places - 1) as usize),
        });
    }
    for task in &mut tasks {
        for used in &mut task.uses {
            used.1 = dice.between(1, Time::from(pools[used.0])) as u32;
        }
    }
    // Whoever comes after whom is drawn on shuffled indices, so that the order given is not sorted.
    let shuffled = dice.shuffled(n);
    let mut after = Vec::new();
    for second in 1..n {
        if dice.one_in(2) {
            let first = dice.between(0, second as Time - 1) as usize;
            after.push((shuffled[first], shuffled[second], dice.between(-3, 6).max(-3)));
        }
    }
    let workers = (0..count).map(|_| match absent {
        true => {
            let away = dice.between(20, 40);
            let back = away + dice.between(0, 30);
            Worker { present: vec![(back, back + 120), (dice.between(0, 5), away)] }
        }
        false => Worker::always(),
    });
    // Uphill takes longer, and no way round is shorter.
    let walk = |from: Time, to: Time| if to > from { (to - from) * 3 } else { from - to };
    Problem {
        workers: workers.collect(),
        pools,
        after,
        apart: vec![dice.subset(n), dice.subset(n)],
        blocks: vec![(dice.between(0, n as Time - 1) as usize, dice.subset(n))],
        travel: (0..places).map(|from| (0..places).map(|to| walk(from, to)).collect()).collect(),
        longest_stretch: if dice.one_in(3) { Time::MAX } else { dice.between(12, 40) },
        break_len: dice.between(0, 10),
        tasks,
        ..Problem::default()
    }
}
