//! The lower bound: never above the cost of a sound plan, and each relaxation tried alone.

use crate::generator::{Family, Recipe, job};
use crate::records;
use crate::support::labour_of;
use std::path::PathBuf;
use wayover::model::*;
use wayover::search::bound;
use wayover::search::bound::facts::{Member, Parts, Work};
use wayover::search::ground::Ground;
use wayover::search::{self, Options, Outcome};
use wayover::units::{Exact, fixed, whole};

const FAMILIES: [Family; 3] = [Family::SamePlace, Family::TailsOver, Family::OwnSupply];

fn bound_of(job: &Job, labour: &Labour) -> Exact {
    bound::lower_bound(&Ground::new(job, labour))
}

/// The cost of the plan that is found with little effort, if one is.
fn found(job: &Job, labour: &Labour, seed: u64) -> Option<Exact> {
    match search::plan(job, labour, Options { moves: 100, tries: 10, seed }) {
        Outcome::Plan(plan) => Some(plan.claims.j),
        Outcome::None { .. } => None,
    }
}

#[track_caller]
fn holds(what: &str, bound: &Exact, j: &Exact) {
    let gap = (j - bound) * whole(100) / j;
    println!("{what}: J {} bound {} gap {} %", fixed(j, 1), fixed(bound, 1), fixed(&gap, 1));
    assert!(bound <= j, "{what}: bound {} above J {}", fixed(bound, 2), fixed(j, 1));
}

#[test]
fn bound_is_never_above_the_cost_of_a_demo() {
    for (name, tries) in [("a-boathouse", 10), ("c-music-school", 50)] {
        let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("demo").join(name);
        let files = wayover::jobfile::read(&folder).expect("a good demo");
        let resolved = wayover::jobfile::resolve(files).expect("a good demo");
        let (job, labour) = (&resolved.job, &resolved.labour);
        let j = match search::plan(job, labour, Options { moves: 100, tries, seed: 1 }) {
            Outcome::Plan(plan) => plan.claims.j,
            Outcome::None { misses, troubles } => panic!("{name}: {misses:?} {troubles:?}"),
        };
        holds(name, &bound_of(job, labour), &j);
    }
}

#[test]
fn bound_is_never_above_the_cost_of_a_given_sound_record() {
    let mut seen = 0;
    for (name, text) in records::all().into_iter().filter(|(n, _)| n.contains("-sound-")) {
        let (job, given) = wayover::record::read(&text).expect("a good record");
        let labour = labour_of(&job, &given);
        holds(&name, &bound_of(&job, &labour), &given.claims.j);
        seen += 1;
    }
    assert!(seen >= 4, "only {seen} sound records");
}

#[test]
fn bound_is_never_above_the_cost_of_a_generated_job() {
    for family in FAMILIES {
        for (n, supplies, people) in
            [(3, 0, 2), (4, 1, 2), (6, 0, 3), (8, 1, 2), (12, 1, 2), (24, 0, 2)]
        {
            let recipe = Recipe { supplies, people, ..Recipe::new(family, n, 40 + n as u64) };
            let (job, labour) = job(recipe);
            if let Some(j) = found(&job, &labour, 1) {
                let what = format!("{family:?} {n} circuits, {supplies} supplies, {people} people");
                holds(&what, &bound_of(&job, &labour), &j);
                let own = bound::lower_bound_in_own_tasks(&Ground::new(&job, &labour));
                holds(&format!("{what}, switching in own tasks"), &own, &j);
            }
        }
    }
}

/// What CP-SAT found with the model of `tests/outside/best_plan.py` (table in DEVELOPERS.md): plans that
/// give switching its own time, so that neither bound may be above them. Most are proved the best of
/// that model.
#[test]
fn neither_bound_is_above_what_a_general_solver_found() {
    let [place, tails, side] = FAMILIES;
    let found = [
        (place, 3, 0, "828.1"),
        (place, 5, 0, "943.7"),
        (place, 6, 0, "1230.4"),
        (place, 12, 0, "2558.3"),
        (place, 12, 1, "2294.1"),
        (place, 24, 0, "5991.2"),
        (tails, 3, 0, "772.3"),
        (tails, 5, 0, "866.0"),
        (tails, 6, 0, "1118.8"),
        (tails, 12, 0, "2324.3"),
        (tails, 12, 1, "2281.3"),
        (tails, 24, 0, "5547.2"),
        (side, 3, 0, "507.7"),
        (side, 5, 0, "567.8"),
        (side, 6, 0, "678.6"),
        (side, 12, 0, "1407.8"),
    ];
    for (family, n, supplies, j) in found {
        let hours = 10 + n as i64 / 24 * 12;
        let recipe = Recipe { supplies, hours, ..Recipe::new(family, n, n as u64) };
        let (job, labour) = job(recipe);
        let j = wayover::units::decimal(j).expect("a decimal") + Exact::new(1.into(), 20.into());
        let g = Ground::new(&job, &labour);
        let what = format!("{family:?} {n} circuits, {supplies} supplies");
        holds(&what, &bound::lower_bound(&g), &j);
        // The solver's plans have no breaks, which this bound counts from 24 circuits on.
        if n < 24 {
            holds(&format!("{what}, own tasks"), &bound::lower_bound_in_own_tasks(&g), &j);
        }
    }
}

/// A circuit that one person works on, for whole units of price.
fn member(off: i64, connect: i64, live: i64, rate: Parts, rides: bool) -> Member {
    let one = |minutes| Work { minutes, crew_minutes: minutes, people: 1 };
    Member {
        circuit: CircuitId::new(0),
        off: one(off),
        connect: one(connect),
        dead_test: one(10),
        live_test: one(live),
        hook_up: 0,
        unhook: 0,
        rate,
        once: 5 * rate,
        opened: [0, 0],
        saved: if rides { rate } else { 0 },
        rides,
        tight: true,
    }
}

#[test]
fn bound_of_two_circuits_side_by_side_is_worked_by_hand() {
    // One person, work 30 and 40. Nothing escaped: both out for 70 each, 140. The first moved first:
    // it escapes the 15 that the second is taken off for, the second its 20 of connection and test;
    // the other way round 10 and 25. So 35 either way, 105 left; own tests 5 + 5, outages 5 + 5.
    let two = [member(10, 10, 5, 1, false), member(15, 15, 5, 1, false)];
    assert_eq!(bound::beside::of(&two, 0, 1), 105 + 10 + 10);
    // Two people take half as long, rounded down.
    assert_eq!(bound::beside::of(&two, 0, 2), 52 + 20);
    // On one lead the one always rides, which leaves 70 of 140.
    let riders = [member(10, 10, 5, 1, true), member(15, 15, 5, 1, true)];
    assert_eq!(bound::beside::of(&riders, 1, 1), 35 + 20);
}

#[test]
fn queue_is_worked_by_hand() {
    // Prices 1 and 3, tests 10 and 10: the dear one first, 30 + 20.
    let two = [member(1, 1, 10, 1, false), member(1, 1, 10, 3, false)];
    assert_eq!(bound::queue::waiting(&two, 1), 50);
    // By two testers at once each waits for its own alone, 10 + 30; the theorem tells 25 + 10.
    assert_eq!(bound::queue::waiting(&two, 2), 35);
}

#[test]
fn riders_save_no_more_than_worked_by_hand() {
    // 100 minutes, own work 10 + 20: it rides for 70, and its second outage costs 5.
    let rider = member(10, 10, 5, 1, true);
    assert_eq!(bound::riders::most_saved(std::slice::from_ref(&rider), 1, 1, 100, [0, 0], 0), 65);
    // Two on one lead take turns in the same 70 minutes: 65 between them, not 130.
    let two = [rider.clone(), rider.clone()];
    assert_eq!(bound::riders::most_saved(&two, 1, 2, 100, [0, 0], 0), 65);
    assert_eq!(bound::riders::most_saved(&two, 2, 2, 100, [0, 0], 0), 130);
    assert_eq!(bound::riders::most_saved(&two, 0, 2, 100, [0, 0], 0), 0);
    // Two tests of 5: the second waits 5 for the first, which a lead spares.
    assert_eq!(bound::riders::most_saved_later(&two, 1, 1), 5);
}

/// The families in turn, 2 to 5 circuits, 1 to 3 people, 0 or 1 supply.
fn tiny(nth: u64) -> Recipe {
    let (family, circuits) = (FAMILIES[(nth % 3) as usize], 2 + (nth / 3 % 4) as usize);
    let (people, supplies) = (1 + (nth / 12 % 3) as usize, (nth / 36 % 2) as usize);
    Recipe { people, supplies, ..Recipe::new(family, circuits, 1000 + nth) }
}

/// Holds the bound of a tiny job against the best of some plans; 1 if there was one.
fn tried(nth: u64, change: fn(&mut Policy), efforts: &[(u64, usize, u64)]) -> usize {
    let recipe = tiny(nth);
    let (mut job, labour) = job(recipe);
    change(&mut job.policy);
    let bound = bound_of(&job, &labour);
    let plan = |&(moves, tries, seed): &(u64, usize, u64)| match search::plan(
        &job,
        &labour,
        Options { moves, tries, seed },
    ) {
        Outcome::Plan(plan) => Some(plan.claims.j),
        Outcome::None { .. } => None,
    };
    let best = efforts.iter().filter_map(plan).min();
    if let Some(j) = &best {
        assert!(bound <= *j, "{recipe:?}: bound {} above J {}", fixed(&bound, 2), fixed(j, 1));
    }
    usize::from(best.is_some())
}

const CHANGES: [fn(&mut Policy); 5] =
    [|_| (), |p| p.f = whole(0), |p| p.q = whole(0), |p| p.v = whole(0), |p| p.h = whole(0)];

#[test]
fn bound_is_never_above_the_best_of_a_few_tiny_jobs() {
    let change = |nth: u64| CHANGES[(nth % 5) as usize];
    let seen: usize = (0..72).step_by(5).map(|n| tried(n, change(n / 5), &[(50, 5, n)])).sum();
    assert!(seen >= 8, "only {seen} planned");
}

#[test]
#[ignore = "minutes long: hundreds of searches"]
fn bound_is_never_above_the_best_of_many_tiny_jobs() {
    let efforts = [(50, 5, 1), (200, 15, 2)];
    let seen: usize = (0..324).map(|n| tried(n, CHANGES[(n / 3 % 5) as usize], &efforts)).sum();
    // A third has one person, who cannot do what takes two.
    println!("{seen} of 324 planned");
    assert!(seen >= 200, "only {seen} planned");
}

#[test]
fn bound_is_not_raised_by_one_more_person() {
    for nth in (0..216).filter(|n| n / 12 % 3 < 2) {
        let fewer = tiny(nth);
        let bound = |recipe| {
            let (job, labour) = job(recipe);
            bound_of(&job, &labour)
        };
        let more = Recipe { people: fewer.people + 1, ..fewer };
        assert!(bound(more) <= bound(fewer), "{more:?}");
    }
}

#[test]
fn bound_of_one_circuit_is_worked_by_hand() {
    // Two people. Off 3, strip out 40, mount 52; then tails 2 x 34, surge protection 23, connection
    // and dead test 7 + 5, shared by two: 103 / 2, so 52; board test 19, live test 6: 172 minutes.
    // Weight 8 at night, f = 0.1: 0.8 x (172 + q) with q = 5, and two people for the mounting.
    let (job, labour) = job(Recipe::new(Family::SamePlace, 1, 7));
    assert_eq!(fixed(&bound_of(&job, &labour), 1), "541.6");
    // The load for itself: 3 + 7 + 5 + 6 and one outage.
    let g = Ground::new(&job, &labour);
    let load = &job.loads.rows()[0];
    assert_eq!(bound::shortest::lower_bound(&g, load), 800_000 * (21 + 5));
    let none = [bound::own_tasks::OwnTasks::default()];
    assert_eq!(bound::attendance::least(&g, &bound::pair::pairs(&g), &none), 2);
}
