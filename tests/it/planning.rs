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
