//! How the planner grows: rows of generated jobs, each planned until there is a plan at all, with a
//! hundredth of the effort and with all of it, checked, and told with both bounds and as ratios to the
//! row above, since two machines agree on nothing else.
//!
//! `cargo bench --bench plan` prints the whole table, `-- small` the rows up to 48 circuits, and
//! `-- WORD` those whose name holds WORD. DEVELOPERS.md keeps the last table.

#[path = "../it/generator.rs"]
#[allow(dead_code)]
mod generator;

use generator::{Family, Recipe, job};
use num_traits::ToPrimitive;
use std::time::Instant;
use wayover::model::{Job, Labour};
use wayover::plan::Plan;
use wayover::search::bound::lower_bound_in_own_tasks;
use wayover::search::ground::Ground;
use wayover::search::watch::{Brake, Watch};
use wayover::search::{self, Options, Outcome};
use wayover::units::Exact;
use wayover::{record, verify};

/// A row of the table.
struct Row {
    family: &'static str,
    recipe: Recipe,
}

impl Row {
    fn circuits(&self) -> usize {
        self.recipe.boards * self.recipe.circuits
    }

    fn name(&self) -> String {
        let r = &self.recipe;
        let extras = match (r.supplies, r.groups) {
            (0, 0) => String::new(),
            (s, g) => format!(" +{s}ts{g}eg"),
        };
        format!("{} {:4} on {:2}, {}p{extras}", self.family, self.circuits(), r.boards, r.people)
    }
}

fn rows() -> Vec<Row> {
    let families =
        [("place", Family::SamePlace), ("tails", Family::TailsOver), ("side", Family::OwnSupply)];
    let sizes = [(1, 6), (1, 12), (1, 24), (1, 48), (2, 48), (4, 48), (8, 48), (50, 40)];
    let mut all = Vec::new();
    for (word, family) in families {
        for (boards, circuits) in sizes {
            // A board changed in its place takes one night, and a large one more than a night.
            let (nights, hours) = match family {
                Family::OwnSupply => (3 * boards, 10),
                _ => (3.max(boards), 10 + circuits as i64 / 24 * 12),
            };
            let plain = Recipe { boards, nights, hours, ..Recipe::new(family, circuits, 7) };
            all.push(Row { family: word, recipe: plain });
            if boards * circuits == 24 {
                for people in [1_usize, 3, 4] {
                    let testers = people.div_ceil(2);
                    all.push(Row { family: word, recipe: Recipe { people, testers, ..plain } });
                }
            }
            if circuits <= 48 && boards <= 8 {
                let full = Recipe { supplies: 1, groups: 2, ..plain };
                all.push(Row { family: word, recipe: full });
            }
        }
    }
    all
}

/// How much of the usual effort is spent.
#[derive(Clone, Copy)]
enum Spent {
    /// As little as gives a plan: what somebody gets who stops the search at once.
    FirstPlan,
    /// One part in so many.
    Share(u64),
}

/// The job of a row; one person does alone what takes two elsewhere.
fn made(row: &Row) -> (Job, Labour) {
    let (mut job, mut labour) = job(row.recipe);
    if row.recipe.people == 1 {
        job.policy.alone = Some("a porter is in the building".to_owned());
        for b in &mut labour.boards {
            for effort in [&mut b.isolate, &mut b.energise, &mut b.strip_out, &mut b.mount] {
                effort.people = 1;
            }
        }
        labour.tails.iter_mut().for_each(|t| t.effort.people = 1);
    }
    (job, labour)
}

/// A plan, or how it was refused, and the seconds that it took.
fn planned(row: &Row, spent: Spent) -> (Result<Box<Plan>, String>, f64) {
    let (job, labour) = made(row);
    let full = Options::usual(&job);
    let (share, brake) = match spent {
        Spent::FirstPlan => (1, Brake::FirstPlan),
        Spent::Share(share) => (share, Brake::Off),
    };
    let tries = (full.tries as u64 / share).max(1) as usize;
    let options = Options { moves: full.moves / share, tries, ..full };
    let begun = Instant::now();
    let brake = || brake;
    let outcome = search::plan_watched(&job, &labour, options, &Watch::new(&brake, None));
    let took = begun.elapsed().as_secs_f64();
    let Outcome::Plan(plan) = outcome else { return (Err("no plan".into()), took) };
    let (job, judged) = record::read(&record::write(&job, &plan)).expect("what was written");
    match verify::check(&job, &judged) {
        Ok(_) => (Ok(plan), took),
        Err(breaches) => {
            for breach in breaches.iter().take(3) {
                eprintln!("{}: {} {}", row.name(), breach.rule, breach.words(&job, &judged));
            }
            (Err(format!("breach of {}", breaches[0].rule)), took)
        }
    }
}

/// The most memory that this process has held since the last call, in MB; nothing where the
/// system does not tell.
fn most_memory() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    let kilobytes: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    std::fs::write("/proc/self/clear_refs", "5").ok()?;
    Some(kilobytes / 1024)
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    let wanted = |row: &Row| {
        words.iter().all(|w| {
            if w == "small" { row.circuits() <= 48 } else { row.name().contains(w.as_str()) }
        })
    };
    println!(
        "| job | first sound plan, ms | its J | s at 1 % | J at 1 % | s | J | bound | gap % | in own tasks | gap % | J at 1 % / J | s / row above | MB |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|---|---|---|");
    let number = |x: &Exact| x.to_f64().unwrap_or(f64::NAN);
    let j_of = |plan: &Result<Box<Plan>, String>| match plan {
        Ok(plan) => format!("{:.1}", number(&plan.claims.j)),
        Err(why) => why.clone(),
    };
    let mut above = None;
    for row in rows().iter().filter(|r| wanted(r)) {
        let (first, first_took) = planned(row, Spent::FirstPlan);
        let (early, early_took) = planned(row, Spent::Share(100));
        most_memory();
        let (late, took) = planned(row, Spent::Share(1));
        let memory = most_memory().map_or("-".into(), |m| m.to_string());
        let cells = match &late {
            Ok(plan) => {
                let c = &plan.claims;
                let ratio = early.as_ref().map_or("-".into(), |early| {
                    format!("{:.3}", number(&early.claims.j) / number(&c.j))
                });
                let gap = 100.0 * number(&c.gap);
                let (job, labour) = made(row);
                let own = number(&lower_bound_in_own_tasks(&Ground::new(&job, &labour)));
                let j = number(&c.j);
                let own_gap = 100.0 * (j - own) / j;
                let bound = &c.lower_bound;
                format!("{j:.1} | {bound} | {gap:.1} | {own:.0} | {own_gap:.1} | {ratio}")
            }
            Err(why) => format!("{why} | - | - | - | - | -"),
        };
        let growth = above.map_or("-".into(), |a: f64| format!("{:.2}", took / a));
        println!(
            "| {} | {:.0} | {} | {early_took:.3} | {} | {took:.2} | {cells} | {growth} | {memory} |",
            row.name(),
            1000.0 * first_took,
            j_of(&first),
            j_of(&early),
        );
        above = Some(took);
    }
}
