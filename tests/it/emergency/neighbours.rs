//! Full-duration tests of areas next to each other are never at one time.

use super::*;
use wayover::jobfile::{self, Resolved};
use wayover::search::{self, Options, Outcome};
use wayover::verify::{self, SoundPlan};

const TWO_GROUPS: &str = "emergency_group = [{ name = \"EM-1\", rated_min = 180, full_test = \
    2026-09-14, rest_mode = true }, { name = \"EM-2\", rated_min = 180, full_test = 2026-09-14, \
    rest_mode = true }]\n";

/// The boathouse with a second area and group; `next_to` is what the job says of the first area.
pub fn planned(label: &str, next_to: &str) -> (Resolved, SoundPlan) {
    let toml = demo("a-boathouse", "job.toml");
    let group = toml.lines().find(|l| l.starts_with("emergency_group")).expect("a group");
    let toml = with(&toml, &format!("{group}\n"), TWO_GROUPS);
    let area = toml.lines().find(|l| l.starts_with("area = ")).expect("an area").to_owned();
    let hall = area.trim_start_matches("area = [").trim_end_matches("}]").to_owned();
    let porch = hall.replace("boathouse", "porch");
    let toml = with(&toml, &area, &format!("area = [{hall}{next_to} }}, {porch} }}]"));
    let csv = demo("a-boathouse", "circuits.csv");
    let csv = csv.replacen("remarks\n", "remarks,area\n", 1);
    let rows: Vec<String> = csv
        .lines()
        .enumerate()
        .map(|(i, row)| match row.split(',').next() {
            _ if i == 0 => row.to_owned(),
            Some("C2") => format!("{},porch", row.replacen("normal,,", "normal,EM-2,", 1)),
            _ => format!("{row},boathouse"),
        })
        .collect();
    let job = Scratch::new(label, &toml, &rows.join("\n"));
    let read = jobfile::read(&job.0).and_then(jobfile::resolve);
    let job = read.unwrap_or_else(|f| panic!("{}", wayover::diag::render(&f)));
    let options = Options { moves: 300, tries: 6, seed: 1 };
    let Outcome::Plan(plan) = search::plan(&job.job, &job.labour, options) else {
        panic!("no plan");
    };
    let sound = verify::check(&job.job, &plan).expect("a sound plan");
    (job, sound)
}

fn dates(label: &str, next_to: &str) -> Vec<i64> {
    let (_, sound) = planned(label, next_to);
    sound.plan().claims.full_duration_tests.values().map(|t| t.0).collect()
}

#[test]
fn areas_next_to_each_other_are_tested_one_after_the_other() {
    let free = dates("free", "");
    assert!((free[0] - free[1]).abs() < 180, "at one time where nothing is said: {free:?}");
    let apart = dates("apart", ", next_to = [\"porch\"]");
    assert!((apart[0] - apart[1]).abs() >= 180, "{apart:?}");
    let first = free.iter().min();
    assert_eq!(apart.iter().min(), first, "the first is no later than without a neighbour");
}
