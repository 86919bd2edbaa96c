//! A job cut down to one project: every row that is kept names rows of the part, not of the whole.

use crate::generator::{Family, Recipe, job};
use std::collections::BTreeMap;
use wayover::model::{Job, Labour};
use wayover::search::ground::Ground;
use wayover::search::part::Part;

/// The largest index of each kind of id that a job and its task templates name anywhere, read from
/// what their rows show of themselves, so that no row and no field can be forgotten.
fn named(job: &Job, labour: &Labour) -> BTreeMap<String, usize> {
    let mut all: BTreeMap<String, usize> = BTreeMap::new();
    let text = format!("{job:?} {labour:?}");
    for (at, _) in text.match_indices("Id(") {
        let word = text[..at].rfind(|c: char| !c.is_ascii_alphabetic()).map_or(0, |i| i + 1);
        let number: Option<usize> = text[at + 3..].split(')').next().and_then(|n| n.parse().ok());
        let Some(number) = number else { continue };
        let most = all.entry(text[word..at].to_owned()).or_insert(0);
        *most = number.max(*most);
    }
    all
}

fn rows(job: &Job) -> [(&'static str, usize); 8] {
    [
        ("Node", job.nodes.len()),
        ("Device", job.devices.len()),
        ("Joint", job.joints.len()),
        ("Board", job.boards.len()),
        ("Position", job.positions.len()),
        ("Circuit", job.circuits.len()),
        ("Supply", job.supplies.len()),
        ("Group", job.groups.len()),
    ]
}

#[test]
fn no_row_of_a_part_names_a_row_of_the_whole() {
    for family in [Family::SamePlace, Family::TailsOver, Family::OwnSupply] {
        let recipe =
            Recipe { boards: 3, nights: 9, supplies: 1, groups: 1, ..Recipe::new(family, 4, 3) };
        let (job, labour) = job(recipe);
        let ground = Ground::new(&job, &labour);
        let last = ground.projects.len() - 1;
        assert_eq!(last, 2, "{family:?}");
        let part = Part::of(&ground, last).expect("a part");
        let (in_whole, in_part) = (named(&job, &labour), named(&part.job, &part.labour));
        // Of the last project nearly every index in the whole is out of the part's tables.
        for ((kind, whole), (_, kept)) in rows(&job).into_iter().zip(rows(&part.job)) {
            assert!(kept < whole, "{family:?}: nothing of {kind} is left out");
            let Some(most) = in_part.get(kind) else {
                assert!(!in_whole.contains_key(kind), "{family:?}: no {kind} in the part");
                continue;
            };
            assert!(*most < kept, "{family:?}: {kind} {most} of {kept}, {whole} in the whole");
        }
    }
}
