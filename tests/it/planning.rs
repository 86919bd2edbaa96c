//! Plans made for real jobs.

use crate::records;
use crate::support::labour_of;
use wayover::search::{self, Options, Outcome};

#[test]
fn plans_are_found_for_the_jobs_of_sound_records() {
    for name in [
        "01-sound-same-place.json",
        "02-sound-side-by-side.json",
        "07-sound-covers-first.json",
        "80-sound-two-sessions.json",
    ] {
        let text = records::all().into_iter().find(|(n, _)| n == name).expect("a record").1;
        let (job, given) = wayover::record::read(&text).expect("a good record");
        let labour = labour_of(&job, &given);
        let t = std::time::Instant::now();
        match search::plan(&job, &labour, Options::default()) {
            Outcome::Plan(plan) => {
                println!(
                    "{name}: J {} against {}, {:?}",
                    plan.claims.j,
                    given.claims.j,
                    t.elapsed()
                );
                std::fs::write(format!("/tmp/{name}"), wayover::record::write(&job, &plan))
                    .expect("");
            }
            Outcome::None { misses, nearest } => {
                for m in misses.iter().take(3) {
                    println!("{m:?}");
                }
                if let Some(n) = nearest {
                    println!("{:?}", n.troubles);
                    for t in &n.sessions {
                        for i in 0..t.pieces.len() {
                            println!(
                                "{:?} {:?} {} {:?}",
                                t.start[i],
                                t.end(i),
                                t.pieces[i].name,
                                t.crew[i]
                            );
                        }
                    }
                }
                panic!("{name}: none");
            }
        }
    }
}

#[test]
fn generated_jobs_of_all_families_get_plans() {
    use crate::generator::{Family, Recipe, job};
    for family in [Family::SamePlace, Family::TailsOver, Family::OwnSupply] {
        for n in [6, 12, 24, 48] {
            let recipe = Recipe { supplies: 1, groups: 2, ..Recipe::new(family, n, 7) };
            let (job, labour) = job(recipe);
            assert!(labour.fits(&job));
            let t = std::time::Instant::now();
            match search::plan(&job, &labour, Options { moves: 300, tries: 50, seed: 1 }) {
                Outcome::Plan(plan) => {
                    println!(
                        "{family:?} {n}: J {} bound {} {:?}",
                        plan.claims.j,
                        plan.claims.lower_bound,
                        t.elapsed()
                    );
                    std::fs::write(
                        format!("/tmp/gen-{family:?}-{n}.json"),
                        wayover::record::write(&job, &plan),
                    )
                    .expect("");
                }
                Outcome::None { misses, nearest } => {
                    println!("{family:?} {n}: NONE {:?}", t.elapsed());
                    for m in misses.iter().take(3) {
                        match m {
                            search::construct::Miss::NoFit(n, w) => println!(
                                "   {:?} {:?} {w:?}",
                                n.piece.as_ref().map(|p| &p.name),
                                n.stuck
                            ),
                            m => println!("   {m:?}"),
                        }
                    }
                    if let Some(n) = nearest {
                        println!("   {:?}", n.troubles);
                    }
                }
            }
        }
    }
}
