//! The scheduling core against classical instances, brute force, and its own slow checker.

mod instances;
mod random;

use instances::{FT06, LA01, THREE, crew3, j301_1, job_shop, mini, project, two8, with_workers};
use pretty_assertions::assert_eq;
use random::{Dice, problem};
use wayover::schedule::{
    Fault, Generation, Piece, Problem, Schedule, Scratch, Stuck, Task, Time, Why, Worker,
    WorkerSet, check, decode, improve, lower_bound, right_shift, smith,
};

const BOTH: [Generation; 2] = [Generation::Parallel, Generation::Serial];

fn as_given(p: &Problem) -> Vec<usize> {
    (0..p.tasks.len()).collect()
}

fn decode_new(p: &Problem, order: &[usize]) -> Result<Schedule, Stuck> {
    decode(p, order, &mut Scratch::default())
}

#[test]
fn optima_from_outside_are_reached_and_not_passed() {
    #[track_caller]
    fn case(p: &Problem, optimum: Time, moves: u64) {
        let best = improve(p, as_given(p), |s| s.makespan(p).unwrap(), moves, 1).unwrap();
        assert_eq!(check(p, &best.schedule), []);
        assert_eq!(best.cost, optimum);
        let bound = lower_bound(p);
        assert!(bound <= optimum, "bound {bound} is over the optimum {optimum}");
    }
    // The sources stand with the instances.
    case(&job_shop(FT06), 55, 20_000);
    case(&job_shop(LA01), 666, 40_000);
    case(&job_shop(THREE), 11, 100);
    for generation in BOTH {
        let case = |p: Problem, optimum, moves| case(&Problem { generation, ..p }, optimum, moves);
        case(crew3(), 8, 100);
        case(two8(), 17, 1_000);
        case(j301_1(), 43, 6_000);
        for ((people, testers, hands), optimum) in [
            ((2, 1, 2), 179),
            ((2, 1, 3), 179),
            ((2, 2, 2), 166),
            ((2, 1, 1), 206),
            ((3, 1, 2), 178),
            ((3, 2, 3), 149),
        ] {
            case(mini(people, testers, hands), optimum, 4_000);
            case(with_workers(mini(people, testers, hands)), optimum, 8_000);
        }
    }
}

#[test]
fn bounds_are_as_worked_by_hand() {
    // The longest path is 11, the pools give 42 / 3 = 14 and 30 / 2 = 15 (sheet of figures: two8).
    assert_eq!(lower_bound(&two8()), 15);
    // The sheet's bound for two people is 147; heads and tails of the tests make it no worse.
    assert!(lower_bound(&mini(2, 1, 2)) >= 147);
    assert!(lower_bound(&mini(3, 2, 3)) >= 144);
    // Lawrence's first instance is proved optimal by its machines alone.
    assert_eq!(lower_bound(&job_shop(LA01)), 666);

    // One worker, there from 0 to 100 and from 200 on, 150 minutes of work: done at 250.
    let mut p = two_for_one(75, 75);
    p.workers[0].present = vec![(200, 400), (0, 100)];
    assert_eq!(lower_bound(&p), 250); // the truth is 275, as no second task fits the first 100 minutes
    // A thing that only somebody present can use, who is there from 0 to 100 and from 200 on.
    p.tasks
        .iter_mut()
        .for_each(|task| (task.able, task.uses) = (WorkerSet::first(2), vec![(0, 1)]));
    (p.workers, p.pools) = (vec![p.workers[0].clone(); 2], vec![1]);
    assert_eq!(lower_bound(&p), 250);
    // Stretches of 80 with breaks of 30: the second task waits for a break.
    let p = Problem { longest_stretch: 80, break_len: 30, ..two_for_one(75, 75) };
    assert_eq!(lower_bound(&p), 180); // 80 of work, 30 of rest, 70 of work
}

#[test]
fn extremes_are_refused_or_scheduled_but_never_panic() {
    let far = 1 << 40;
    let times = [Time::MIN, -far - 1, -far, -1, 0, 1, far, far + 1, Time::MAX];
    let mut scratch = Scratch::default();
    let mut scheduled = 0;
    for seed in 0..3000 {
        let mut dice = Dice::new(seed);
        let mut p = problem(seed, 5);
        let mut any = || times[dice.between(0, times.len() as Time - 1) as usize];
        match seed % 9 {
            0 => p.tasks[0].release = any(),
            1 => p.tasks[1].duration = any(),
            2 => p.tasks[0].due = Some(any()),
            3 => p.workers[0].present = vec![(any(), any()), (any(), any())],
            4 => p.longest_stretch = any(),
            5 => p.break_len = any(),
            6 => p.after.push((0, 1, any())),
            7 => p.travel[0][0] = any(),
            _ => {
                p.pools = vec![u32::MAX; 2];
                p.tasks
                    .iter_mut()
                    .for_each(|task| task.uses = vec![(0, u32::MAX), (1, 1 << 31), (1, 1)]);
                p.tasks[0].duration = any();
            }
        }
        let bound = lower_bound(&p);
        for generation in BOTH {
            p.generation = generation;
            let order = as_given(&p);
            if let Ok(schedule) = decode(&p, &order, &mut scratch) {
                assert!(bound <= schedule.makespan(&p).unwrap(), "seed {seed}");
                let shifted = right_shift(&p, &schedule, &vec![true; order.len()], &mut scratch);
                assert!(shifted.is_ok());
                scheduled += 1;
            }
        }
    }
    assert!(scheduled > 1000);
}

fn two_for_one(first: Time, second: Time) -> Problem {
    let task = |duration| Task { duration, crew: 1, able: WorkerSet::only(0), ..Task::default() };
    Problem {
        tasks: vec![task(first), task(second)],
        workers: vec![Worker::always()],
        ..Problem::default()
    }
}

#[test]
fn bounds_never_pass_a_schedule() {
    let mut tight = 0;
    for seed in 0..300 {
        let p = problem(seed, 8);
        let Ok(best) = improve(&p, as_given(&p), |s| s.makespan(&p).unwrap(), 150, seed) else {
            continue;
        };
        let bound = lower_bound(&p);
        assert!(
            bound <= best.cost,
            "seed {seed}: bound {bound}, but a schedule ends at {}",
            best.cost
        );
        tight += u32::from(bound == best.cost);
    }
    assert!(tight > 50, "only {tight} bounds were met: they have become weak");
}

#[test]
fn decoded_schedules_keep_every_rule() {
    let mut scratch = Scratch::default();
    let (mut decoded, mut stuck) = (0, 0);
    for seed in 0..600 {
        let mut p = problem(seed, 24);
        let mut dice = Dice::new(seed);
        for generation in BOTH {
            p.generation = generation;
            let order = dice.shuffled(p.tasks.len());
            match decode(&p, &order, &mut scratch) {
                Ok(schedule) => {
                    assert_eq!(check(&p, &schedule), [], "seed {seed}, {generation:?}");
                    assert_eq!(
                        Ok(schedule),
                        decode_new(&p, &order),
                        "seed {seed}: a used scratch matters"
                    );
                    decoded += 1;
                }
                Err(Stuck { why: Why::Absent | Why::Late { .. }, placed, .. }) => {
                    assert!(placed < p.tasks.len());
                    stuck += 1;
                }
                Err(other) => panic!("seed {seed}: a sound problem is refused: {other:?}"),
            }
        }
    }
    assert!(
        decoded >= 500 && stuck >= 50,
        "{decoded} decoded, {stuck} stuck: the problems have become one-sided"
    );
}

/// No task of a serial schedule could be earlier if the others stayed as they are.
#[test]
fn serial_schedules_are_active() {
    for seed in 0..150 {
        let p = Problem { generation: Generation::Serial, ..problem(seed, 10) };
        let Ok(schedule) = decode_new(&p, &Dice::new(seed).shuffled(p.tasks.len())) else {
            continue;
        };
        for task in 0..p.tasks.len() {
            let mut other = schedule.clone();
            for start in p.tasks[task].release..schedule.start[task] {
                other.start[task] = start;
                assert!(
                    !check(&p, &other).is_empty(),
                    "seed {seed}: task {task} could start at {start}"
                );
            }
        }
    }
}

#[test]
fn improving_never_ends_worse_and_repeats_itself() {
    for seed in 0..40 {
        let p = problem(seed, 16);
        let order = Dice::new(seed).shuffled(p.tasks.len());
        let objective = |s: &Schedule| s.start.iter().sum::<Time>();
        let best = improve(&p, order.clone(), objective, 200, seed);
        assert_eq!(best, improve(&p, order.clone(), objective, 200, seed));
        if let Ok(start) = decode_new(&p, &order) {
            let best = best.clone().unwrap();
            assert!(best.cost <= objective(&start));
        }
        if let Ok(best) = best {
            assert_eq!(decode_new(&p, &best.order), Ok(best.schedule.clone()));
            assert_eq!(objective(&best.schedule), best.cost);
        }
    }
}

#[test]
fn a_due_date_missed_at_first_is_met_by_trying() {
    // Each task is due when it ends if all are done in falling order of index.
    let mut p = two_for_one(1, 1);
    p.tasks = (0..12)
        .map(|index| Task { due: Some((12 - index) * 5), duration: 5, ..p.tasks[0].clone() })
        .collect();
    let stuck = decode_new(&p, &as_given(&p)).unwrap_err();
    assert_eq!(stuck, Stuck { task: 6, why: Why::Late { by: 5 }, placed: 6 });
    let best = improve(&p, as_given(&p), |s| s.makespan(&p).unwrap(), 4_000, 1).unwrap();
    assert_eq!(best.cost, 60);
}

/// R. L. Graham, "Bounds on multiprocessing timing anomalies", SIAM Journal on Applied
/// Mathematics 17, 1969: any list on m machines is at most (2 - 1/m) times the optimum.
#[test]
fn lists_keep_to_graham() {
    let on = |machines: usize, order: &[usize]| {
        let able = WorkerSet::first(machines);
        let task = |duration| Task { duration, crew: 1, able, ..Task::default() };
        let p = Problem {
            tasks: [4, 5, 6, 7, 8].map(task).to_vec(),
            workers: vec![Worker::always(); machines],
            ..Problem::default()
        };
        decode_new(&p, order).unwrap().makespan(&p).unwrap()
    };
    // Lecture notes of the sheet of figures: lists 18 and 13, longest first 17, optimum 15.
    assert_eq!(on(2, &[0, 1, 2, 3, 4]), 18);
    assert_eq!(on(3, &[0, 1, 2, 3, 4]), 13);
    assert_eq!(on(2, &[4, 3, 2, 1, 0]), 17);
    assert_eq!(on(2, &[4, 0, 1, 3, 2]), 15);

    // With precedence the proof says: m times the list's length is at most all the work and
    // m - 1 times the longest path. The path is what the bound says when there is no work to share.
    for seed in 0..200 {
        let mut dice = Dice::new(seed);
        let machines = dice.between(1, 4) as usize;
        let tasks: Vec<(Time, &[u32])> = (0..12).map(|_| (dice.between(1, 9), &[1][..])).collect();
        let mut after = Vec::new();
        for second in 1..12 {
            if dice.one_in(2) {
                after.push((dice.between(0, second - 1) as usize, second as usize));
            }
        }
        let mut p = project(&[machines as u32], &tasks, &after);
        let list = decode_new(&p, &dice.shuffled(12)).unwrap().makespan(&p).unwrap();
        let work: Time = p.tasks.iter().map(|task| task.duration).sum();
        p.tasks.iter_mut().for_each(|task| task.uses.clear());
        let path = lower_bound(&p);
        let m = machines as Time;
        assert!(
            m * list <= work + (m - 1) * path,
            "seed {seed}: {m} machines, {list}, {work}, {path}"
        );
    }
}

/// W. E. Smith, Naval Research Logistics Quarterly 3, 1956; the figures, all orders tried.
#[test]
fn smith_orders_the_sheets_example() {
    let pieces = [(3, 1), (1, 2), (4, 3), (2, 2), (6, 1)]
        .map(|(duration, weight)| Piece { duration, weight });
    let best = smith(&pieces, &[]);
    assert_eq!((best.order, best.cost), (vec![1, 3, 2, 0, 4], 55));
    // Tied to the longest, the most urgent waits for it: 1 and 4 come last, 7 long and 3 heavy.
    let tied = smith(&pieces, &[vec![1, 4]]);
    assert_eq!((tied.order, tied.cost), (vec![3, 2, 1, 4, 0], 2 * 2 + 3 * 6 + 3 * 13 + 16));
}

#[test]
fn smith_agrees_with_trying_all_orders() {
    for seed in 0..40 {
        let mut dice = Dice::new(seed);
        let n = if seed == 0 { 8 } else { dice.between(1, 6) as usize };
        let pieces: Vec<Piece> = (0..n)
            .map(|_| Piece { duration: dice.between(0, 6), weight: dice.between(0, 5) })
            .collect();
        let tied: Vec<Vec<usize>> = match n {
            6.. => vec![vec![4, 0], vec![1, 5, 3]],
            3.. if dice.one_in(2) => vec![vec![2, 0]],
            _ => Vec::new(),
        };
        let group = |piece: usize| tied.iter().position(|group| group.contains(&piece));
        let cost = |order: &[usize]| {
            let (mut now, mut cost) = (0, 0);
            for (at, &piece) in order.iter().enumerate() {
                now += pieces[piece].duration;
                // Whoever is tied and still to come makes this one wait for the last of them.
                let waits =
                    |other: &&usize| group(**other).is_some() && group(**other) == group(piece);
                let last = order[at..].iter().rposition(|other| waits(&other)).unwrap_or(0);
                let until: Time =
                    order[at + 1..=at + last].iter().map(|&other| pieces[other].duration).sum();
                cost += pieces[piece].weight * (now + until);
            }
            cost
        };
        let mut least = i64::MAX;
        permute(&mut (0..n).collect::<Vec<_>>(), 0, &mut |order| least = least.min(cost(order)));
        let best = smith(&pieces, &tied);
        assert_eq!((best.cost, cost(&best.order)), (least, least), "seed {seed}");
    }
}

fn permute(order: &mut Vec<usize>, fixed: usize, visit: &mut impl FnMut(&[usize])) {
    if fixed + 1 >= order.len() {
        return visit(order);
    }
    for at in fixed..order.len() {
        order.swap(fixed, at);
        permute(order, fixed + 1, visit);
        order.swap(fixed, at);
    }
}

#[test]
fn a_worker_walks_and_rests_in_time() {
    #[track_caller]
    fn case(p: &Problem, starts: &[Time]) {
        for generation in BOTH {
            let p = Problem { generation, ..p.clone() };
            let schedule = decode_new(&p, &as_given(&p)).unwrap();
            assert_eq!(
                (schedule.start.as_slice(), check(&p, &schedule)),
                (starts, vec![]),
                "{generation:?}"
            );
        }
    }
    let mut p = two_for_one(50, 20);
    p.travel = vec![vec![0, 7], vec![9, 0]];
    case(&p, &[0, 50]);
    p.tasks[0].place = Some(0);
    case(&p, &[0, 50]); // a task without a place needs no walk
    p.tasks[1].place = Some(1);
    case(&p, &[0, 57]);
    p.tasks[0].place = Some(1);
    p.tasks[1].place = Some(0);
    case(&p, &[0, 59]); // and back it is farther
    p.longest_stretch = 79;
    p.break_len = 30;
    case(&p, &[0, 59]); // 79 minutes from first to last, the walk included
    p.longest_stretch = 78;
    case(&p, &[0, 80]); // the walk is part of the break
    p.workers[0].present = vec![(0, 99), (120, 140)];
    case(&p, &[0, 120]);
    p.tasks[1].release = 81;
    p.workers[0].present = vec![(0, 200)];
    case(&p, &[0, 81]); // waiting for the release was a break
}

/// A task may let those before it in the order begin at the same time: behind one of 0 minutes,
/// or by a lag below 0.
#[test]
fn what_a_start_sets_free_starts_at_once() {
    for generation in BOTH {
        let task = |duration| Task { duration, ..Task::default() };
        let mut p = Problem {
            tasks: vec![task(0), task(5), task(5)],
            after: vec![(0, 1, 0), (1, 2, -5)],
            generation,
            ..Problem::default()
        };
        assert_eq!(decode_new(&p, &[2, 1, 0]).unwrap().start, [0, 0, 0], "{generation:?}");
        p.after[1].2 = -3;
        assert_eq!(decode_new(&p, &[2, 1, 0]).unwrap().start, [0, 0, 2], "{generation:?}");
    }
}

#[test]
fn crews_are_chosen_by_skill_then_rest_then_way() {
    #[track_caller]
    fn case(spoil: impl Fn(&mut Problem), crew: WorkerSet) {
        for generation in BOTH {
            let task = |duration, able| Task { duration, crew: 1, able, ..Task::default() };
            let three = WorkerSet::first(3);
            let mut p = Problem {
                tasks: [0, 1, 2].map(|worker| task(5, WorkerSet::only(worker))).to_vec(),
                workers: vec![Worker::always(); 3],
                travel: vec![vec![0, 3], vec![3, 0]],
                generation,
                ..Problem::default()
            };
            p.tasks.push(Task { release: 10, place: Some(0), ..task(5, three) });
            spoil(&mut p);
            assert_eq!(decode_new(&p, &as_given(&p)).unwrap().crew[3], crew, "{generation:?}");
        }
    }
    let only = WorkerSet::only;
    case(|_| (), only(0));
    case(|p| p.tasks[3].crew = 2, only(0).with(1));
    case(|p| p.tasks[0].place = Some(1), only(1)); // the shorter way
    case(|p| (p.tasks[0].place, p.tasks[1].duration) = (Some(1), 6), only(2));
    case(|p| (p.tasks[1].place, p.tasks[1].duration) = (Some(1), 4), only(1)); // free for longer
    case(
        |p| {
            p.tasks[1].duration = 4;
            p.tasks.push(Task {
                duration: 1,
                release: 50,
                able: only(0).with(1),
                crew: 1,
                ..Task::default()
            });
        },
        only(2), // who can do less
    );
    case(|p| p.tasks[2].duration = 11, only(0));
    case(|p| p.tasks[3].crew_fixed = Some(only(2)), only(2));
}

#[test]
fn right_shift_moves_only_what_it_may() {
    // 0 then 1 then 3 for the first worker; 2 before 3 for the second, who is needed long before.
    let task = |duration, worker| Task {
        duration,
        crew: 1,
        able: WorkerSet::only(worker),
        ..Task::default()
    };
    let p = Problem {
        tasks: vec![task(5, 0), task(5, 0), task(40, 1), task(10, 0)],
        workers: vec![Worker::always(); 2],
        after: vec![(0, 1, 3), (1, 3, 2), (2, 3, 0)],
        ..Problem::default()
    };
    let schedule = decode_new(&p, &[0, 1, 2, 3]).unwrap();
    assert_eq!(schedule.start, [0, 8, 0, 40]);
    let shift = |movable: &[bool]| {
        right_shift(&p, &schedule, movable, &mut Scratch::default()).unwrap().start
    };
    assert_eq!(shift(&[]), [0, 8, 0, 40]);
    assert_eq!(shift(&[true]), [0, 8, 0, 40]); // held by its successor
    assert_eq!(shift(&[false, true]), [0, 33, 0, 40]);
    assert_eq!(shift(&[true, true, true, true]), [25, 33, 0, 40]);
}

#[test]
fn right_shift_uses_room_made_later_on() {
    // Until the long task has moved, the short one finds the pool full from 8 to 10.
    let at = |release| Task { release, ..Task::default() };
    let p = Problem {
        tasks: vec![
            Task { duration: 10, uses: vec![(0, 1)], ..at(0) },
            Task { duration: 3, uses: vec![(0, 1)], ..at(5) },
            Task { duration: 2, uses: vec![(0, 1)], ..at(8) },
            Task { duration: 20, ..at(10) },
        ],
        pools: vec![2],
        after: vec![(1, 3, 0)],
        ..Problem::default()
    };
    let schedule = decode_new(&p, &[0, 1, 2, 3]).unwrap();
    assert_eq!(schedule.start, [0, 5, 8, 10]);
    let movable = [true, true, false, false];
    let shifted = right_shift(&p, &schedule, &movable, &mut Scratch::default()).unwrap();
    assert_eq!(shifted.start, [20, 7, 8, 10]);
}

/// On problems with every feature: nothing that must stay is moved, no rule is broken, and each
/// task that may move is as late as it can be with the rest as it is.
#[test]
fn right_shift_leaves_no_minute() {
    let mut scratch = Scratch::default();
    let mut moved = 0;
    for seed in 0..300 {
        let p = problem(seed, 10);
        let mut dice = Dice::new(seed);
        let Ok(before) = decode_new(&p, &dice.shuffled(p.tasks.len())) else { continue };
        let movable: Vec<bool> = p.tasks.iter().map(|_| dice.one_in(2)).collect();
        let after = right_shift(&p, &before, &movable, &mut scratch).unwrap();
        assert_eq!(check(&p, &after), [], "seed {seed}");
        assert_eq!(before.crew, after.crew);
        assert_eq!(days(&p, &before), days(&p, &after), "seed {seed}");
        assert_eq!(before.makespan(&p), after.makespan(&p));
        for (task, &may_move) in movable.iter().enumerate() {
            let (old, new) = (before.start[task], after.start[task]);
            assert!(
                new == old || (new > old && may_move),
                "seed {seed}, task {task}: {old} to {new}"
            );
            moved += u32::from(new > old);
            let latest = before.makespan(&p).unwrap() - p.tasks[task].duration;
            for start in (new + 1..=latest).filter(|_| may_move) {
                let mut other = after.clone();
                other.start[task] = start;
                let keeps = check(&p, &other).is_empty() && days(&p, &other) == days(&p, &after);
                assert!(!keeps, "seed {seed}: task {task} could go on from {new} to {start}");
            }
        }
    }
    assert!(moved > 100, "only {moved} tasks were moved");
}

/// The tasks of each worker in order.
fn days(p: &Problem, s: &Schedule) -> Vec<Vec<usize>> {
    let day = |worker| {
        let mut day: Vec<usize> =
            (0..p.tasks.len()).filter(|&task| s.crew[task].contains(worker)).collect();
        day.sort_by_key(|&task| (s.start[task], s.end(p, task), task));
        day
    };
    (0..p.workers.len()).map(day).collect()
}

#[test]
fn whoever_is_stuck_is_told_where_and_why() {
    #[track_caller]
    fn case(spoil: impl Fn(&mut Problem), task: usize, why: Why) {
        for generation in BOTH {
            let mut p = two_for_one(50, 20);
            p.generation = generation;
            p.pools = vec![2];
            assert!(decode_new(&p, &[0, 1]).is_ok());
            spoil(&mut p);
            let stuck = decode_new(&p, &[0, 1]).unwrap_err();
            assert_eq!((stuck.task, stuck.why), (task, why), "{generation:?}");
        }
    }
    case(|p| p.tasks[1].able = WorkerSet::EMPTY, 1, Why::TooFewAble { able: 0, crew: 1 });
    case(|p| p.tasks[1].crew = 2, 1, Why::TooFewAble { able: 1, crew: 2 });
    case(|p| p.tasks[1].uses = vec![(0, 2), (0, 1)], 1, Why::OverCapacity { pool: 0 });
    case(|p| p.longest_stretch = 40, 0, Why::LongerThanStretch);
    case(|p| p.workers[0].present = vec![(0, 60), (80, 99)], 1, Why::Absent);
    case(|p| p.tasks[1].due = Some(69), 1, Why::Late { by: 1 });
    case(|p| p.after = vec![(1, 1, 0)], 1, Why::Cycle);
    case(|p| p.after = vec![(0, 1, 0), (1, 0, -100)], 0, Why::Cycle);
    case(|p| p.tasks[1].uses = vec![(1, 1)], 1, Why::BadInput);
    case(|p| p.tasks[1].duration = -1, 1, Why::BadInput);
    case(|p| p.tasks[1].place = Some(0), 1, Why::BadInput);
    case(|p| p.tasks[1].crew_fixed = Some(WorkerSet::only(1)), 1, Why::BadInput);
    case(|p| p.after = vec![(0, 2, 0)], 0, Why::BadInput);
    case(|p| p.tasks.push(Task::default()), 2, Why::BadOrder);

    let p = two_for_one(1, 1);
    let why = |order: &[usize]| decode_new(&p, order).unwrap_err().why;
    assert_eq!([why(&[0, 0]), why(&[0]), why(&[0, 1, 1]), why(&[1, 2])], [Why::BadOrder; 4]);
    assert_eq!(decode_new(&Problem::default(), &[]), Ok(Schedule::default()));
}

#[test]
fn the_checker_finds_each_fault_and_no_other() {
    let task = |duration| Task {
        duration,
        crew: 1,
        able: WorkerSet::first(2),
        place: Some(0),
        ..Task::default()
    };
    let alone = |duration| Task { duration, ..Task::default() };
    let p = Problem {
        tasks: vec![
            Task { release: 5, due: Some(20), ..task(10) },
            Task { place: Some(1), ..task(10) },
            Task { crew_fixed: Some(WorkerSet::only(1)), ..task(10) },
            Task { uses: vec![(0, 1)], ..alone(10) },
            Task { uses: vec![(0, 2)], ..alone(10) },
            alone(10),
        ],
        workers: vec![Worker { present: vec![(0, 60), (60, 100)] }, Worker::always()],
        pools: vec![2],
        after: vec![(0, 3, 5)],
        apart: vec![vec![3, 5]],
        blocks: vec![(5, vec![4, 1])],
        travel: vec![vec![0, 4], vec![4, 0]],
        longest_stretch: 30,
        break_len: 15,
        ..Problem::default()
    };
    let good = Schedule {
        start: vec![5, 19, 0, 20, 30, 40],
        crew: vec![WorkerSet::only(0), WorkerSet::only(0), WorkerSet::only(1)]
            .into_iter()
            .chain([WorkerSet::EMPTY; 3])
            .collect(),
    };
    let spoilt = |spoil: &dyn Fn(&mut Schedule), faults: &[Fault]| {
        let mut schedule = good.clone();
        spoil(&mut schedule);
        assert_eq!(check(&p, &schedule), faults);
    };
    spoilt(&|_| (), &[]);
    spoilt(&|s| s.start.truncate(5), &[Fault::Shape]);
    spoilt(&|s| s.crew[0] = WorkerSet::only(7), &[Fault::Shape]);
    spoilt(&|s| s.start[0] = 4, &[Fault::Early { task: 0 }]);
    spoilt(&|s| (s.start[0], s.start[3]) = (45, 60), &[Fault::Late { task: 0 }]);
    spoilt(&|s| s.start[3] = 19, &[Fault::Order { first: 0, second: 3 }]);
    spoilt(&|s| s.start[4] = 29, &[Fault::Pool { pool: 0, at: 29 }]);
    spoilt(&|s| s.start[3] = 49, &[Fault::Apart { first: 3, second: 5 }]);
    spoilt(&|s| s.start[4] = 49, &[Fault::Blocked { by: 5, task: 4 }]);
    spoilt(&|s| s.crew[0] = WorkerSet::EMPTY, &[Fault::Crew { task: 0 }]);
    spoilt(
        &|s| s.crew[2] = WorkerSet::only(0),
        &[
            Fault::Crew { task: 2 },
            Fault::Busy { worker: 0, first: 2, second: 0 },
            Fault::Travel { worker: 0, first: 2, second: 0 },
        ],
    );
    spoilt(&|s| s.start[1] = 52, &[Fault::Absent { task: 1, worker: 0 }]);
    spoilt(
        &|s| s.start[1] = 14,
        &[
            Fault::Busy { worker: 0, first: 0, second: 1 },
            Fault::Travel { worker: 0, first: 0, second: 1 },
        ],
    );
    spoilt(&|s| s.start[1] = 18, &[Fault::Travel { worker: 0, first: 0, second: 1 }]);
    spoilt(&|s| s.start[1] = 26, &[Fault::Stretch { worker: 0, first: 0, last: 1 }]);
    spoilt(&|s| s.start[1] = 30, &[]); // a break after all
}
