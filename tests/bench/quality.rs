//! How near the usual effort comes to the best that long runs find: J of each row at normal effort
//! against the least J of runs with all the effort there is and other seeds.
//!
//! `cargo bench --bench quality -- runs=N WORD...` takes N long runs (20 unless told) for each row
//! whose name holds every WORD; `runs=0` prints the normal effort alone. Every plan is judged.
//! DEVELOPERS.md keeps the last table.

#[path = "../it/generator.rs"]
#[allow(dead_code)]
mod generator;

use generator::{Family, Recipe, job};
use num_traits::ToPrimitive;
use std::time::Instant;
use wayover::search::watch::NOBODY;
use wayover::search::{self, Options, Outcome};
use wayover::{record, verify};

/// The moves and tries of `--effort thorough`.
const LONG: (u64, usize) = (60_000, 400);

fn rows() -> Vec<(String, Recipe)> {
    let families =
        [("place", Family::SamePlace), ("tails", Family::TailsOver), ("side", Family::OwnSupply)];
    let sizes = [(1, 6), (1, 12), (1, 24), (1, 48), (2, 48), (8, 48)];
    let mut all = Vec::new();
    for (boards, circuits) in sizes {
        for (word, family) in families {
            let (nights, hours) = match family {
                Family::OwnSupply => (3 * boards, 10),
                _ => (3.max(boards), 10 + circuits as i64 / 24 * 12),
            };
            let plain = Recipe { boards, nights, hours, ..Recipe::new(family, circuits, 7) };
            let name = format!("{word} {:4} on {boards}", boards * circuits);
            all.push((name.clone(), plain));
            all.push((format!("{name} +1ts"), Recipe { supplies: 1, ..plain }));
        }
    }
    all
}

/// J of a plan that was judged, and the seconds that it took.
fn planned(name: &str, recipe: Recipe, options: Option<Options>) -> (Option<f64>, f64) {
    let (job, labour) = job(recipe);
    let begun = Instant::now();
    let options = options.unwrap_or(Options::usual(&job));
    let outcome = search::answer(&job, &labour, options, &NOBODY);
    let took = begun.elapsed().as_secs_f64();
    let Outcome::Plan(plan) = outcome else { return (None, took) };
    let (job, judged) = record::read(&record::write(&job, &plan)).expect("what was written");
    if let Err(breaches) = verify::check(&job, &judged) {
        panic!("{name}: {} {}", breaches[0].rule, breaches[0].words(&job, &judged));
    }
    (plan.claims.j.to_f64(), took)
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    let (numbers, words): (Vec<String>, Vec<String>) =
        words.into_iter().partition(|w| w.starts_with("runs="));
    let runs = numbers.first().and_then(|w| w[5..].parse().ok()).unwrap_or(20);
    println!("| job | J | s | best of {runs} long runs | a run, s | over % |");
    println!("|---|---|---|---|---|---|");
    for (name, recipe) in rows() {
        if !words.iter().all(|w| name.contains(w.as_str())) {
            continue;
        }
        let (usual, took) = planned(&name, recipe, None);
        let long = (2..2 + runs).map(|seed| {
            let options = Options { moves: LONG.0, tries: LONG.1, seed };
            planned(&name, recipe, Some(options))
        });
        let long: Vec<(Option<f64>, f64)> = long.collect();
        let best = long.iter().filter_map(|(j, _)| *j).fold(f64::INFINITY, f64::min);
        let each = long.iter().map(|(_, s)| s).sum::<f64>() / long.len().max(1) as f64;
        let Some(j) = usual else {
            println!("| {name} | no plan | {took:.2} | {best:.1} | {each:.1} | - |");
            continue;
        };
        let over = if long.is_empty() { 0.0 } else { 100.0 * (j - best) / best };
        println!("| {name} | {j:.1} | {took:.2} | {best:.1} | {each:.1} | {over:.2} |");
    }
}
