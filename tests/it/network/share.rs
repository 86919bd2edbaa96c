//! Tracing one place is a small part of planning: both measured in one run, and told as a ratio.
//!
//! For 2,000 circuits on 50 boards: `cargo test --release --test it network::share -- --ignored
//! --nocapture`, with `TRIES=<number>` for less than all of the planner's effort.

use super::scale::each;
use crate::generator::{Family, Recipe, job};
use std::time::{Duration, Instant};
use wayover::model::{BoardId, BoardRole, Id};
use wayover::network::{Network, Place, State, Tracer};
use wayover::search::{self, Options, Outcome};

/// How long planning took, tracing one place with all that it needs from nothing, and all places.
struct Times {
    plan: Duration,
    one: Duration,
    all: Duration,
}

fn times(recipe: Recipe, options: Options) -> Times {
    let (job, labour) = job(recipe);
    let begun = Instant::now();
    let outcome = search::plan(&job, &labour, options);
    let plan = begun.elapsed();
    assert!(matches!(outcome, Outcome::Plan(_)), "no plan");
    let is_old = |b: &BoardId| labour.boards[b.index()].role == BoardRole::Old;
    let old: Vec<BoardId> = job.boards.ids().filter(is_old).collect();
    let ways = |b: usize| Place::Position(job.boards[old[b]].ways);
    // The longest of three places, each with the network built for it.
    let one = [0, old.len() / 2, old.len() - 1].map(|b| {
        let begun = Instant::now();
        let net = Network::build(&job);
        let tracer = Tracer::new(&job, &net, &State::old(&job), each(&job));
        let trace = tracer.trace(ways(b), &[], &[]);
        assert!(trace.locks.is_ok() && !trace.paths.is_empty());
        begun.elapsed()
    });
    let begun = Instant::now();
    let net = Network::build(&job);
    let tracer = Tracer::new(&job, &net, &State::old(&job), each(&job));
    let places = job.positions.ids().map(Place::Position);
    for place in places.chain(job.circuits.ids().map(Place::Circuit)) {
        assert!(tracer.trace(place, &[], &[]).locks.is_ok());
    }
    let all = begun.elapsed();
    let one = one.into_iter().max().expect("three places");
    println!(
        "{} circuits on {} boards: planned in {plan:.2?}, one place traced in {one:.2?} \
         (1 to {:.0}), all places in {all:.2?} (1 to {:.1})",
        job.circuits.len(),
        recipe.boards,
        plan.as_secs_f64() / one.as_secs_f64(),
        plan.as_secs_f64() / all.as_secs_f64(),
    );
    Times { plan, one, all }
}

#[test]
fn tracing_one_place_takes_a_fiftieth_of_the_first_plan_at_most() {
    // A hundredth of the planner's effort; with all of it the ratio is larger yet.
    let recipe =
        Recipe { boards: 4, nights: 4, hours: 22, ..Recipe::new(Family::SamePlace, 24, 7) };
    let least = Options { moves: 10, tries: 1, seed: 1 };
    // Other work shares the machine: what is slow by itself is slow each time.
    let small = (0..3).any(|_| {
        let times = times(recipe, least);
        times.one * 50 < times.plan && times.all < times.plan * 2
    });
    assert!(small, "a larger part each time");
}

#[test]
#[ignore = "minutes, and figures for a person to read"]
fn two_thousand_circuits_on_fifty_boards() {
    let recipe =
        Recipe { boards: 50, nights: 50, hours: 22, ..Recipe::new(Family::SamePlace, 40, 7) };
    let full = Options::LARGE;
    let tries = std::env::var("TRIES").map_or(full.tries, |t| t.parse().expect("a number"));
    let share = (full.tries / tries.max(1)).max(1) as u64;
    let times = times(recipe, Options { moves: full.moves / share, tries, ..full });
    assert!(times.one * 50 < times.plan);
}
