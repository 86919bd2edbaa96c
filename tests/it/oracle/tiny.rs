//! Tiny jobs from a seed, within the class for which the oracle is exhaustive.

use crate::generator::{Dice, Family, Recipe, job};
use wayover::model::*;
use wayover::units::{Minutes, whole};

/// A job of the class, with what it was made from.
pub struct Tiny {
    pub family: Family,
    pub seed: u64,
    pub job: Job,
    pub labour: Labour,
}

/// A job whose boards are fed apart, of a seed.
pub fn apart(seed: u64) -> Tiny {
    let mut d = Dice::new(seed.wrapping_mul(6151).wrapping_add(29));
    let people = 1 + d.below(2) as usize;
    let circuits = 1 + d.below(4 - people as u64) as usize;
    let nights = 1 + d.below(2) as usize;
    made(Recipe { people, nights, ..Recipe::new(Family::OwnSupply, circuits, seed) }, d)
}

/// The job of a seed, its new board in the place of the old one or taking its tails over.
pub fn tiny(seed: u64) -> Tiny {
    let mut d = Dice::new(seed.wrapping_mul(7919).wrapping_add(17));
    let family = if d.below(2) == 0 { Family::SamePlace } else { Family::TailsOver };
    let supplies = usize::from(d.below(3) == 0);
    let circuits = 1 + d.below(if supplies == 0 { 4 } else { 2 }) as usize;
    let recipe = Recipe {
        people: 1 + d.below(2) as usize,
        supplies,
        groups: usize::from(d.below(3) == 0),
        nights: 1 + d.below(2) as usize,
        ..Recipe::new(family, circuits, seed)
    };
    made(recipe, d)
}

fn made(recipe: Recipe, mut d: Dice) -> Tiny {
    let (mut job, mut labour) = job(recipe);
    job.policy.alone = (recipe.people == 1).then(|| "a quiet building with a porter".to_owned());
    job.policy.v = whole([5, 40, 200][d.below(3) as usize]);
    job.policy.proof_life = Minutes(240);
    shorten(&mut d, &mut labour, recipe.people);
    Tiny { family: recipe.family, seed: recipe.seed, job, labour }
}

/// The same job in windows so long, all within hours in which nothing is needed.
pub fn in_windows(mut t: Tiny, minutes: i64) -> Tiny {
    let windows: Vec<WindowId> = t.job.windows.ids().collect();
    for w in windows {
        let period = &mut t.job.windows[w].period;
        period.to = period.from + Minutes(minutes);
    }
    t
}

/// Short durations, so that no break falls due and every proof lasts.
fn shorten(d: &mut Dice, labour: &mut Labour, people: usize) {
    let mut set = |e: &mut Effort, from: u64, spread: u64, most: usize| {
        let m = Minutes((from + d.below(spread)) as i64);
        *e = Effort { duration: [m; 3], planned: m, people: e.people.min(most).min(people) };
    };
    for b in &mut labour.boards {
        set(&mut b.isolate, 3, 4, 1);
        set(&mut b.isolate_again, 2, 3, 1);
        set(&mut b.energise, 5, 4, 2);
        set(&mut b.energise_again, 3, 3, 1);
        set(&mut b.strip_out, 6, 8, 2);
        set(&mut b.mount, 6, 8, 2);
        set(&mut b.fit_surge, 3, 6, 1);
        set(&mut b.test_board, 3, 5, 1);
        set(&mut b.fit_covers, 2, 4, 1);
        set(&mut b.covers_again, 1, 3, 1);
    }
    for p in &mut labour.positions {
        set(&mut p.prove, 2, 3, 1);
        set(&mut p.prove_again, 1, 2, 1);
    }
    for c in &mut labour.circuits {
        for v in [&mut c.disconnect, &mut c.connect, &mut c.dead_test, &mut c.live_test] {
            set(&mut v.prepared, 2, 5, 1);
            v.fresh = v.prepared.clone();
        }
        set(&mut c.hook_up, 2, 4, 1);
        set(&mut c.unhook, 2, 3, 1);
    }
    for g in &mut labour.groups {
        set(&mut g.function_test, 3, 4, 1);
    }
    for s in &mut labour.supplies {
        set(&mut s.isolate, 2, 3, 1);
        set(&mut s.energise, 2, 3, 1);
    }
    for t in &mut labour.tails {
        set(&mut t.effort, 4, 6, 2);
    }
}
