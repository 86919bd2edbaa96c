//! Why a plan is as it is: the chain of an outage, what helps, and the smallest set of reasons
//! where there is none.

use crate::bad_input::wayover;
use crate::generator::{Family, Recipe, job};
use std::path::Path;
use wayover::model::*;
use wayover::search::changes::{self, Change};
use wayover::search::minimal::{Minimal, Reason, minimal, planned_without, reasons};
use wayover::search::why::{Waited, chain, dearest};
use wayover::search::{self, Options, Outcome};
use wayover::units::{Exact, Minutes};

const OPTIONS: Options = Options { moves: 40, tries: 6, seed: 1 };

fn planned(job: &Job, labour: &Labour) -> wayover::plan::Plan {
    match search::plan(job, labour, OPTIONS) {
        Outcome::Plan(plan) => *plan,
        Outcome::None { misses, troubles } => panic!("{misses:?} {troubles:?}"),
    }
}

/// From its first task, in which the outage begins, to its last, in which it ends; none starts
/// before what it waits for is over.
#[test]
fn a_chain_reaches_from_the_end_of_an_outage_to_its_start() {
    for family in [Family::SamePlace, Family::TailsOver, Family::OwnSupply] {
        let (job, labour) = job(Recipe { supplies: 1, ..Recipe::new(family, 4, 3) });
        let plan = planned(&job, &labour);
        for (load, outages) in &plan.claims.outages {
            for outage in outages {
                let links = chain(&plan, &job.loads[*load].circuits, *outage);
                let (first, last) = (&links[0], &links[links.len() - 1]);
                assert_eq!(first.waited, Waited::Begins);
                assert!(first.span.period.from <= outage.from, "{family:?}: {links:?}");
                assert!(last.span.period.to >= outage.to, "{family:?}");
                for pair in links.windows(2) {
                    assert!(pair[0].span.period.to <= pair[1].span.period.from);
                    assert_ne!(pair[1].waited, Waited::Begins, "{family:?}");
                }
            }
        }
        // The outages together cost what the plan says of its minutes.
        let all: Exact = dearest(&job, &plan, usize::MAX).iter().map(|d| d.costs.clone()).sum();
        let said = &plan.claims.parts[0] + &plan.claims.parts[1];
        assert!(
            all.clone() - &said < Exact::new(1.into(), 5.into())
                && said - all < Exact::new(1.into(), 5.into())
        );
    }
}

/// What is told as help costs less than before in a plan that passes every rule, with the change
/// made in the job; and nothing that does not is told.
#[test]
fn what_is_told_as_help_is_a_sound_and_cheaper_plan() {
    let (job, labour) = job(Recipe { supplies: 1, ..Recipe::new(Family::TailsOver, 4, 3) });
    let before = planned(&job, &labour).claims.j;
    let all = changes::resources(&job);
    assert!(all.iter().any(|c| matches!(c, Change::Supply(_))), "{all:?}");
    let helps = changes::helps(&job, &labour, &all, &before, OPTIONS);
    for help in &helps {
        assert!(help.after < before, "{:?}", help.change);
        let (changed, _) = changes::made(&job, &labour, help.change);
        let judged = wayover::verify::check(&changed, &help.plan);
        assert!(judged.is_ok(), "{:?}: {:?}", help.change, judged.err());
    }
    for change in all {
        let (changed, work) = changes::made(&job, &labour, change);
        assert!(work.fits(&changed), "{change:?}");
        let told = helps.iter().any(|h| h.change == change);
        match search::plan(&changed, &work, OPTIONS) {
            Outcome::Plan(plan) => assert_eq!(told, plan.claims.j < before, "{change:?}"),
            Outcome::None { .. } => assert!(!told, "{change:?}"),
        }
    }
}

/// No plan with all of them; a plan without any one of them.
fn holds(job: &Job, labour: &Labour, found: &Minimal) {
    assert!(!found.needed.is_empty());
    assert!(!planned_without(job, labour, &found.spare));
    for one in &found.needed {
        let dropped = [&found.spare[..], std::slice::from_ref(one)].concat();
        assert!(planned_without(job, labour, &dropped), "{one:?} of {:?}", found.needed);
        let alone = planned_without(job, labour, std::slice::from_ref(one));
        assert_eq!(found.enough.contains(one), alone, "{one:?} of {:?}", found.needed);
    }
    assert_eq!(found.needed.len() + found.spare.len(), reasons(job, labour).len());
}

#[test]
fn a_refusal_is_told_by_reasons_of_which_each_is_needed() {
    let recipe = Recipe { nights: 1, ..Recipe::new(Family::OwnSupply, 3, 7) };
    // A load that may be out for a minute only.
    let (mut one, labour) = job(recipe);
    let load = LoadId::new(0);
    one.loads[load].max_single = Some(Minutes(1));
    let found = minimal(&one, &labour).expect("reasons");
    assert_eq!(found.needed, [Reason::Single(load)]);
    holds(&one, &labour, &found);

    // Two decisions that rule each other out.
    let (two, mut labour) = job(recipe);
    let pin = |decision, what| Pin { what, reason: "a reason".to_owned(), decision };
    let [c, w] = [CircuitId::new(0), CircuitId::new(1)];
    let night = WindowId::new(0);
    labour.pins = vec![
        pin(0, PinKind::CircuitIn(c, night)),
        pin(1, PinKind::AtMostVisits(1)),
        pin(2, PinKind::CircuitIn(w, night)),
        pin(3, PinKind::WindowUnused(night)),
    ];
    let found = minimal(&two, &labour).expect("reasons");
    assert_eq!(found.needed, [Reason::Fixed(3)]);
    assert_eq!(found.give_up, [Reason::Fixed(3)]);
    holds(&two, &labour, &found);

    // A night of an hour.
    let (mut three, labour) = job(recipe);
    let period = &mut three.windows[night].period;
    period.to = period.from + Minutes(60);
    let found = minimal(&three, &labour).expect("reasons");
    assert!(found.needed.contains(&Reason::Windows), "{found:?}");
    holds(&three, &labour, &found);
}

#[test]
fn why_tells_of_a_circuit_and_of_the_whole_plan_within_80_columns() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    for (args, wanted) in [
        (&["why", "a-boathouse", "C1", "--effort", "quick"][..], "the outage begins here"),
        (&["why", "a-boathouse", "--effort", "quick"], "THE DEAREST OUTAGES"),
    ] {
        let (code, out, told) = wayover(args, &demo);
        assert_eq!(code, 0, "{told}");
        assert!(out.contains(wanted), "{out}");
        let longest = out.lines().map(|l| l.chars().count()).max();
        assert!(longest.is_some_and(|n| n <= 80), "{out}");
    }
    let (code, _, told) = wayover(&["why", "a-boathouse", "C99"], &demo);
    assert_eq!(code, 2);
    assert!(told.contains("is no circuit and no load"), "{told}");
}
