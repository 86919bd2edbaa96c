//! The demos, each planned and printed once in a run of the tests, by whoever needs it first.

use std::path::Path;
use std::sync::OnceLock;
use wayover::document::{self, Input, Pack};
use wayover::jobfile::{self, Resolved};
use wayover::search::{self, Options, Outcome};
use wayover::verify::{self, SoundPlan};

/// What every page of a pack printed here has to bear.
pub const FINGERPRINT: &str = "12ab-34cd-56ef";

/// A job with a plan that was found sound.
pub type Planned = (Resolved, SoundPlan);

/// The boathouse: small, one night, the new board in the old one's place.
pub fn boathouse() -> &'static Planned {
    static DONE: OnceLock<Planned> = OnceLock::new();
    DONE.get_or_init(|| demo("a-boathouse"))
}

/// The library: the main demo, four boards.
pub fn library() -> &'static Planned {
    static DONE: OnceLock<Planned> = OnceLock::new();
    DONE.get_or_init(|| demo("b-library"))
}

/// The music school: the new board beside the old one, several visits.
pub fn school() -> &'static Planned {
    static DONE: OnceLock<Planned> = OnceLock::new();
    DONE.get_or_init(|| demo("c-music-school"))
}

/// The boathouse's papers.
pub fn boathouse_pack() -> &'static Pack {
    static DONE: OnceLock<Pack> = OnceLock::new();
    DONE.get_or_init(|| {
        let (job, sound) = boathouse();
        pack(job, sound)
    })
}

/// The library's papers.
pub fn library_pack() -> &'static Pack {
    static DONE: OnceLock<Pack> = OnceLock::new();
    DONE.get_or_init(|| {
        let (job, sound) = library();
        pack(job, sound)
    })
}

/// The music school's papers.
pub fn school_pack() -> &'static Pack {
    static DONE: OnceLock<Pack> = OnceLock::new();
    DONE.get_or_init(|| {
        let (job, sound) = school();
        pack(job, sound)
    })
}

fn demo(name: &str) -> Planned {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo").join(name);
    let job = resolved(&folder);
    let usual = Options::usual(&job.job);
    planned(job, usual)
}

/// A job as its folder has it.
#[track_caller]
pub fn resolved(folder: &Path) -> Resolved {
    let read = jobfile::read(folder).and_then(jobfile::resolve);
    read.unwrap_or_else(|f| panic!("{}:\n{}", folder.display(), wayover::diag::render(&f)))
}

/// The plan of a job, judged as its record is read back.
#[track_caller]
pub fn planned(job: Resolved, options: Options) -> Planned {
    let Outcome::Plan(plan) = search::plan(&job.job, &job.labour, options) else {
        panic!("no plan for {}", job.job.name);
    };
    let record = wayover::record::write(&job.job, &plan);
    let (read_job, read_plan) = wayover::record::read(&record).expect("a good record");
    let sound = verify::check(&read_job, &read_plan).expect("a sound plan");
    (job, sound)
}

/// All papers of a plan, as we dress them.
pub fn pack(job: &Resolved, sound: &SoundPlan) -> Pack {
    document::pack(&input(job, sound)).expect("a pack")
}

/// What the papers are made of.
pub fn input<'a>(job: &'a Resolved, sound: &'a SoundPlan) -> Input<'a> {
    Input { sound, site: &job.site, labour: &job.labour, fingerprint: FINGERPRINT, costs: &[] }
}
