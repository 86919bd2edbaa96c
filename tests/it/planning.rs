//! Plans made for real jobs.

use crate::generator::{Family, Recipe, job};
use crate::records;
use crate::support::labour_of;
use wayover::search::construct::Miss;
use wayover::search::{self, Options, Outcome};

/// Where to write plans for other checkers to read, if anywhere.
fn write(name: &str, text: &str) {
    if let Ok(dir) = std::env::var("WAYOVER_PLANS") {
        std::fs::write(format!("{dir}/{name}"), text).expect("a writable folder");
    }
}

#[test]
fn the_jobs_of_sound_records_get_plans_that_cost_no_more() {
    for name in ["01-sound-same-place", "02-sound-side-by-side", "07-sound-covers-first"] {
        let file = format!("{name}.json");
        let text = records::all().into_iter().find(|(n, _)| *n == file).expect("a record").1;
        let (job, given) = wayover::record::read(&text).expect("a good record");
        let labour = labour_of(&job, &given);
        match search::plan(&job, &labour, Options::default()) {
            Outcome::Plan(plan) => {
                assert!(plan.claims.j <= given.claims.j, "{name}: {}", plan.claims.j);
                write(&file, &wayover::record::write(&job, &plan));
            }
            Outcome::None { misses, troubles } => panic!("{name}: {misses:?} {troubles:?}"),
        }
    }
}

#[test]
fn generated_jobs_of_all_families_get_plans() {
    for family in [Family::SamePlace, Family::TailsOver, Family::OwnSupply] {
        for n in [6, 12, 24, 48] {
            let recipe = Recipe { supplies: 1, groups: 2, ..Recipe::new(family, n, 7) };
            let (job, labour) = job(recipe);
            assert!(labour.fits(&job));
            let t = std::time::Instant::now();
            match search::plan(&job, &labour, Options { moves: 300, tries: 20, seed: 1 }) {
                Outcome::Plan(plan) => {
                    println!(
                        "{family:?} {n}: J {} bound {} {:?}",
                        plan.claims.j,
                        plan.claims.lower_bound,
                        t.elapsed()
                    );
                    write(
                        &format!("gen-{family:?}-{n}.json"),
                        &wayover::record::write(&job, &plan),
                    );
                }
                Outcome::None { misses, troubles } => {
                    println!("{family:?} {n}: NONE {:?}", t.elapsed());
                    for m in misses.iter().take(3) {
                        match m {
                            Miss::NoFit(n, w) => println!(
                                "   {:?} {:?} {w:?}",
                                n.piece.as_ref().map(|p| &p.name),
                                n.stuck
                            ),
                            m => println!("   {m:?}"),
                        }
                    }
                    println!("   {troubles:?}");
                    let r = search::refusal(&job, &labour, &misses, &troubles);
                    println!("   {:?} {:?} {:?}", r.facts, r.met, r.mends);
                }
            }
        }
    }
}
