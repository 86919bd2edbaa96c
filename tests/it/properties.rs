//! What must not change a plan, and what must not harm one.

use crate::generator::{Dice, Family, Recipe, job};
use std::path::Path;
use wayover::jobfile;
use wayover::model::*;
use wayover::plan::{Act, Plan};
use wayover::search::{self, Options, Outcome};
use wayover::units::Minutes;

const OPTIONS: Options = Options { moves: 300, tries: 20, seed: 1 };

fn planned(job: &Job, labour: &Labour) -> Option<Box<Plan>> {
    match search::plan(job, labour, OPTIONS) {
        Outcome::Plan(plan) => Some(plan),
        Outcome::None { .. } => None,
    }
}

/// What a plan comes to, by names: cost, outages, tasks with their times and people.
fn told(job: &Job, plan: &Plan) -> Vec<String> {
    let mut lines = vec![format!("J {}, bound {}", plan.claims.j, plan.claims.lower_bound)];
    for (load, spans) in &plan.claims.outages {
        lines.push(format!("{} {spans:?}", job.loads.name(*load)));
    }
    for event in &plan.events {
        if let Act::Start { task, who, .. } = &event.act {
            let who: Vec<&str> = who.iter().map(|p| job.people.name(*p)).collect();
            lines.push(format!("{} {} {who:?}", event.at, plan.tasks.name(*task)));
        }
    }
    lines.sort();
    lines
}

fn shuffle<T>(rows: &mut [T], dice: &mut Dice) {
    for i in (1..rows.len()).rev() {
        rows.swap(i, dice.below(i as u64 + 1) as usize);
    }
}

/// A copy of the boathouse job with the rows of its schedule, and its tables, in another order.
fn boathouse(seed: u64) -> (Job, Labour) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/a-boathouse");
    let read = |name: &str| std::fs::read_to_string(folder.join(name)).expect("a file");
    let (toml, csv) = (read("job.toml"), read("circuits.csv"));
    let mut dice = Dice::new(seed);
    let (head, rest) = csv.trim_end().split_once('\n').expect("a heading");
    let mut rows: Vec<&str> = rest.lines().collect();
    let (top, tables) = toml.split_once("\n[").expect("a table");
    let mut tables: Vec<&str> = tables.trim_end().split("\n[").collect();
    if seed > 0 {
        shuffle(&mut rows, &mut dice);
        shuffle(&mut tables, &mut dice);
    }
    let copy = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("order-{seed}"));
    std::fs::create_dir_all(&copy).expect("a folder");
    let write = |name: &str, text: String| {
        std::fs::write(copy.join(name), text).expect("a writable folder");
    };
    write("circuits.csv", format!("{head}\n{}\n", rows.join("\n")));
    write("job.toml", format!("{top}\n[{}\n", tables.join("\n[")));
    let resolved = jobfile::resolve(jobfile::read(&copy).expect("a job")).expect("a job");
    (resolved.job, resolved.labour)
}

#[test]
fn the_order_of_rows_and_tables_changes_nothing() {
    let (job, labour) = boathouse(0);
    let first = told(&job, &planned(&job, &labour).expect("a plan"));
    for seed in 1..5 {
        let (job, labour) = boathouse(seed);
        let other = told(&job, &planned(&job, &labour).expect("a plan"));
        pretty_assertions::assert_eq!(first, other, "order {seed}");
    }
}

/// What is added to a job.
const EXTRAS: [&str; 5] = ["person", "instrument", "hour", "night", "supply"];

fn with(recipe: Recipe, extra: &str) -> (Job, Labour) {
    let more = |yes: bool| usize::from(yes);
    let (mut job, labour) = job(Recipe {
        people: recipe.people + more(extra == "person"),
        testers: recipe.testers + more(extra == "instrument"),
        supplies: recipe.supplies + more(extra == "supply"),
        ..recipe
    });
    let windows: Vec<WindowId> = job.windows.ids().collect();
    if extra == "hour" {
        for w in &windows {
            job.windows[*w].period.to += Minutes(60);
        }
    }
    if extra != "night" {
        job.windows = windows[..windows.len() - 1].iter().fold(Table::new(), |mut t, w| {
            t.add(job.windows.name(*w).to_owned(), job.windows[*w].clone());
            t
        });
    }
    (job, labour)
}

#[test]
fn more_of_anything_never_takes_a_plan_away_nor_makes_it_dearer() {
    let mut worse = Vec::new();
    let mut plans = 0;
    for family in [Family::SamePlace, Family::TailsOver] {
        for seed in 0..4 {
            let recipe =
                Recipe { nights: 2, groups: 1, ..Recipe::new(family, 2 + seed as usize, seed) };
            let (job, labour) = with(recipe, "");
            let Some(plain) = planned(&job, &labour) else { continue };
            for extra in EXTRAS {
                let (job, labour) = with(recipe, extra);
                let more = planned(&job, &labour)
                    .unwrap_or_else(|| panic!("{family:?} {seed}: no plan with one more {extra}"));
                plans += 1;
                if more.claims.j > plain.claims.j {
                    worse.push(format!(
                        "{family:?} {seed}, one more {extra}: {} and {}",
                        plain.claims.j, more.claims.j
                    ));
                }
            }
        }
    }
    assert!(plans >= 30, "{plans} plans");
    assert!(worse.is_empty(), "{}", worse.join("\n"));
}
