//! Plans made for real jobs.

use crate::records;
use crate::support::labour_of;
use wayover::search::{self, Options, Outcome};

/// Where to write plans for other checkers to read, if anywhere.
pub fn write(name: &str, text: &str) {
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
