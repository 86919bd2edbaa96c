//! Plans made for real jobs.

use crate::records;
use crate::support::labour_of;
use std::path::Path;
use wayover::jobfile;
use wayover::search::ground::Ground;
use wayover::search::refuse::{self, Fact};
use wayover::search::{self, Options, Outcome};
use wayover::units::Minutes;

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
        match search::plan(&job, &labour, Options::usual(&job)) {
            Outcome::Plan(plan) => {
                assert!(plan.claims.j <= given.claims.j, "{name}: {}", plan.claims.j);
                write(&file, &wayover::record::write(&job, &plan));
            }
            Outcome::None { misses, troubles } => panic!("{name}: {misses:?} {troubles:?}"),
        }
    }
}

/// Two hours are too short for the tails of demo (d). By hand, in minutes: discharge 5, tails
/// off 57, tails on 57, board test 19, together 138; a window of 120 less its margin of 30 leaves 90.
#[test]
fn demo_d_is_refused_with_the_figure_worked_by_hand() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/d-library-refused");
    let r = jobfile::resolve(jobfile::read(&folder).expect("a job")).expect("a resolved job");
    let facts = refuse::facts(&Ground::new(&r.job, &r.labour), &[]);
    let [Fact::TailsChangeover { least, room, .. }] = facts[..] else { panic!("{facts:?}") };
    assert_eq!((least, room), (Minutes(138), Minutes(90)));
}

/// What is proved impossible has no plan, so nothing may be proved against jobs that have one.
#[test]
fn no_fact_is_held_against_a_job_that_has_a_plan() {
    for name in ["a-boathouse", "b-library", "c-music-school"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo").join(name);
        let r = jobfile::resolve(jobfile::read(&folder).expect("a job")).expect("a resolved job");
        let facts = refuse::facts(&Ground::new(&r.job, &r.labour), &[]);
        assert!(facts.is_empty(), "{name}: {facts:?}");
    }
}
