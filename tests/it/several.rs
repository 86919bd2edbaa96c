//! Several boards in one job, planned one after the other.

use crate::generator::{Family, Recipe, job};
use wayover::search::watch::{Brake, Watch};
use wayover::search::{self, Options, Outcome};
use wayover::units::Exact;
use wayover::{record, verify};

/// Two boards with supplies of their own, three nights for each.
fn two_boards(circuits: usize) -> Recipe {
    Recipe { boards: 2, nights: 6, ..Recipe::new(Family::OwnSupply, circuits, 7) }
}

/// What a plan costs that breaks no rule.
fn cost(recipe: Recipe, options: Options, watch: &Watch) -> Exact {
    let (job, labour) = job(recipe);
    let Outcome::Plan(plan) = search::plan_watched(&job, &labour, options, watch) else {
        panic!("no plan for {recipe:?}")
    };
    let (job, judged) = record::read(&record::write(&job, &plan)).expect("what was written");
    assert!(verify::check(&job, &judged).is_ok(), "a breach in the plan for {recipe:?}");
    plan.claims.j.clone()
}

#[test]
fn all_the_usual_effort_gives_no_dearer_plan_than_a_hundredth_of_it() {
    let all = Options::LARGE;
    let little = Options { moves: all.moves / 100, tries: 1, ..all };
    for circuits in [14, 30] {
        let recipe = two_boards(circuits);
        let nobody = &search::watch::NOBODY;
        let (early, late) = (cost(recipe, little, nobody), cost(recipe, all, nobody));
        assert!(
            late <= early,
            "2 boards of {circuits}: {early} with little effort, {late} with all"
        );
    }
}

/// Whoever stops at once gets the first plan that was tried with nothing wrong in it, or nearly so: a
/// night is found that is long enough without trying those that are not.
#[test]
fn the_first_plan_of_two_boards_takes_a_few_tries() {
    let tried = std::sync::atomic::AtomicU64::new(0);
    let tell = |p: &search::watch::Progress| {
        tried.store(p.tried, std::sync::atomic::Ordering::Relaxed);
    };
    cost(two_boards(30), Options::LARGE, &Watch::new(&|| Brake::FirstPlan, Some(&tell)));
    let tried = tried.into_inner();
    assert!((2..=20).contains(&tried), "{tried} tries");
}
