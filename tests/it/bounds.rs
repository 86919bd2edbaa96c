//! The lower bound: never above the cost of a sound plan, and each relaxation tried alone.

use crate::generator::{Family, Recipe, job};
use crate::records;
use crate::support::labour_of;
use std::path::PathBuf;
use wayover::model::*;
use wayover::search::bound;
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
            }
        }
    }
}
