//! Papers of the building's people and of the tests: facts equal to the replay's, limits equal to
//! published tables, calendars that a strict reader takes.

mod calendar;
mod papers;
mod timeline;

use crate::support::unmarked;
use std::path::Path;
use std::sync::OnceLock;
use wayover::document::{self, Input, Pack};
use wayover::jobfile::{self, Resolved};
use wayover::search::{self, Options, Outcome};
use wayover::verify::{self, SoundPlan};

const FINGERPRINT: &str = "12ab-34cd-56ef";

/// A demo with a sound plan, searched for as hard as the program does.
fn planned(folder: &str) -> (Resolved, SoundPlan) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo").join(folder);
    let job = jobfile::resolve(jobfile::read(&folder).expect("a job")).expect("a resolved job");
    let options = Options { moves: 3_000, tries: 30, seed: 1 };
    let Outcome::Plan(plan) = search::plan(&job.job, &job.labour, options) else {
        panic!("no plan for {}", folder.display());
    };
    let record = wayover::record::write(&job.job, &plan);
    let (read_job, read_plan) = wayover::record::read(&record).expect("a good record");
    let sound = verify::check(&read_job, &read_plan).expect("a sound plan");
    (job, sound)
}

/// The boathouse, planned once.
fn boathouse() -> &'static (Resolved, SoundPlan) {
    static DONE: OnceLock<(Resolved, SoundPlan)> = OnceLock::new();
    DONE.get_or_init(|| planned("a-boathouse"))
}

/// The music school, planned once.
fn school() -> &'static (Resolved, SoundPlan) {
    static DONE: OnceLock<(Resolved, SoundPlan)> = OnceLock::new();
    DONE.get_or_init(|| planned("c-music-school"))
}

fn pack(job: &Resolved, sound: &SoundPlan) -> Pack {
    let input = Input { sound, site: &job.site, labour: &job.labour, fingerprint: FINGERPRINT };
    document::pack(&input).expect("a pack")
}

/// The text of a paper: tags out, entities back, white space as one blank.
fn text(pack: &Pack, file: &str) -> String {
    let html = unmarked(html(pack, file));
    let body = html.split_once("<body").map_or(html.as_str(), |(_, b)| b);
    let mut out = String::new();
    let mut inside = true;
    for c in body.chars() {
        match c {
            '<' => inside = true,
            '>' if inside => {
                inside = false;
                out.push(' ');
            }
            c if !inside => out.push(c),
            _ => {}
        }
    }
    for (from, to) in [
        ("&#160;", " "),
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&#x27;", "'"),
        ("&#39;", "'"),
        ("&#x2F;", "/"),
        ("&amp;", "&"),
    ] {
        out = out.replace(from, to);
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn html<'a>(pack: &'a Pack, file: &str) -> &'a str {
    let found = pack.papers.iter().find(|p| p.file == file);
    &found.unwrap_or_else(|| panic!("no paper {file}")).content
}
