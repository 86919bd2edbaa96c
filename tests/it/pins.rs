//! What the user fixes: each kind is kept, the check after planning sees when it is not, and
//! decisions that cannot all be kept are named.

mod never_locked;

use crate::bad_input::{Scratch, wayover};
use crate::generator::{Family, Recipe, job};
use std::path::Path;
use wayover::model::*;
use wayover::plan::{Act, Plan};
use wayover::search::claims;
use wayover::search::ground::Ground;
use wayover::search::pins::not_kept;
use wayover::search::refuse::{self, Fact};
use wayover::search::{self, Options, Outcome};
use wayover::units::Minutes;
use wayover::verify;

fn pinned(labour: &Labour, pins: &[PinKind]) -> Labour {
    let pin = |(decision, what): (usize, &PinKind)| Pin {
        what: what.clone(),
        reason: "the user says so".to_owned(),
        decision,
    };
    Labour { pins: pins.iter().enumerate().map(pin).collect(), ..labour.clone() }
}

fn planned(job: &Job, labour: &Labour) -> Option<Plan> {
    let options = Options { moves: 40, tries: 6, seed: 1 };
    match search::plan(job, labour, options) {
        Outcome::Plan(plan) => Some(*plan),
        Outcome::None { .. } => None,
    }
}

/// Two new boards beside the old ones, six circuits, three people, two nights, a supply for each.
fn made() -> (Job, Labour) {
    job(Recipe { boards: 2, people: 3, supplies: 1, ..Recipe::new(Family::OwnSupply, 3, 5) })
}

fn works_in(job: &Job, plan: &Plan, circuit: CircuitId) -> WindowId {
    let at = plan.events.iter().find_map(|e| match e.act {
        Act::Start { task, .. } => {
            let t = &plan.tasks[task];
            (t.circuit == Some(circuit) && t.kind == TaskKind::Connect).then_some(e.at)
        }
        _ => None,
    });
    let at = at.expect("it is connected");
    let inside = |w: &WindowId| job.windows[*w].period.from <= at && at < job.windows[*w].period.to;
    job.windows.ids().find(inside).expect("in a window")
}

/// Each decision is one that the plan made without it does not keep, so that the check is seen to
/// fail, and the plan made with it does.
#[test]
fn every_kind_of_decision_is_kept_and_seen_where_it_is_not() {
    let (job, labour) = made();
    let free = planned(&job, &labour).expect("a plan");
    let circuits: Vec<CircuitId> = job.circuits.ids().collect();
    let first = circuits[0];
    let used = works_in(&job, &free, first);
    let other = job.windows.ids().find(|w| *w != used).expect("another night");
    let lead = free.events.iter().find_map(|e| match &e.act {
        Act::Start { task, who, .. } if free.tasks[*task].kind == TaskKind::Isolate => who.first(),
        _ => None,
    });
    let lead = *lead.expect("somebody isolates");
    let on_supply = job.joints.rows().iter().find_map(|j| match j.of {
        Some((c, Place::On(s))) => Some((c, s)),
        _ => None,
    });
    let (rider, supply) = on_supply.expect("a circuit that a supply can carry");
    let boards: Vec<BoardId> = job.boards.ids().collect();
    // Where the isolator of the new board is not locked, its main switch can be.
    let locked = job.devices.find("ISOB1").expect("the new board's isolator");
    let rides = |plan: &Plan| {
        plan.events.iter().any(|e| match e.act {
            Act::Make(_, j) => job.joints[j].of == Some((rider, Place::On(supply))),
            _ => false,
        })
    };
    let mut kinds = vec![
        PinKind::CircuitIn(first, other),
        PinKind::CircuitNotIn(first, used),
        PinKind::NotBefore(first, job.windows[used].period.to + Minutes(1)),
        PinKind::WindowUnused(used),
    ];
    kinds.push(if rides(&free) {
        PinKind::RidesNotOn(rider, supply)
    } else {
        PinKind::RidesOn(rider, supply)
    });
    for board in &boards {
        kinds.push(PinKind::PersonNotOn(lead, *board));
        kinds.push(PinKind::PersonOn(lead, *board));
    }
    kinds.push(PinKind::NoLockAt(locked));
    kinds.push(PinKind::LockAt(locked));
    let mut tried = 0;
    for kind in kinds {
        let with = pinned(&labour, std::slice::from_ref(&kind));
        let seen = not_kept(&job, &with, &free);
        if let Some(plan) = planned(&job, &with) {
            assert!(not_kept(&job, &with, &plan).is_empty(), "{kind:?}");
            let judged = verify::check(&job, &plan);
            assert!(judged.is_ok(), "{kind:?}: {:?}", judged.err());
            tried += usize::from(!seen.is_empty());
        } else {
            let lock = matches!(kind, PinKind::NoLockAt(_));
            assert!(lock, "no plan with {kind:?}");
        }
    }
    assert!(tried >= 7, "only {tried} of them differ from the free plan");
}

/// A time within the window only delays the work: the circuit goes off then, or soon after.
#[test]
fn a_circuit_is_not_cut_before_a_time_within_its_window() {
    let (job, labour) = made();
    let free = planned(&job, &labour).expect("a plan");
    let first = Ground::new(&job, &labour).projects[0].units[0][0];
    let cut = |plan: &Plan| {
        let out = claims::history(&Ground::new(&job, &labour), &plan.tasks, &plan.events).out;
        out[first.index()].first().expect("it is out").from
    };
    let before = cut(&free);
    let window =
        job.windows.iter().find(|(_, w)| w.period.contains(before)).expect("in a window").0;
    for later in [1, 20, 90] {
        let time = before + Minutes(later);
        let pins = [PinKind::CircuitIn(first, window), PinKind::NotBefore(first, time)];
        let with = pinned(&labour, &pins);
        assert_eq!(not_kept(&job, &with, &free), [1]);
        let plan = planned(&job, &with).unwrap_or_else(|| panic!("no plan {later} min later"));
        assert!(not_kept(&job, &with, &plan).is_empty());
        let at = cut(&plan);
        assert!(time <= at && at < time + Minutes(30), "{later}: {at:?} for {time:?}");
        assert!(verify::check(&job, &plan).is_ok());
    }
}

/// Two boards in two nights by a decision for each; then at most one visit brings them together.
#[test]
fn at_most_so_many_visits_and_circuits_together_are_kept() {
    let (job, labour) = made();
    let [w, v, ..] = job.windows.ids().collect::<Vec<_>>()[..] else { panic!("two nights") };
    let units = Ground::new(&job, &labour).projects;
    let [one, two] = [&units[0], &units[1]].map(|p| p.units[0][0]);
    let apart = [PinKind::CircuitIn(one, w), PinKind::CircuitIn(two, v)];
    let spread = planned(&job, &pinned(&labour, &apart)).expect("a plan in two nights");
    for kind in [PinKind::AtMostVisits(1), PinKind::Together(vec![one, two])] {
        let with = pinned(&labour, std::slice::from_ref(&kind));
        assert_eq!(not_kept(&job, &with, &spread), [0], "{kind:?}");
        let plan = planned(&job, &with).expect("a plan in one night");
        assert!(not_kept(&job, &with, &plan).is_empty(), "{kind:?}");
        // With all three there is no plan, and that is proved.
        let all = [&apart[..], std::slice::from_ref(&kind)].concat();
        let with = pinned(&labour, &all);
        let facts = refuse::facts(&Ground::new(&job, &with), &[]);
        let named = |f: &Fact| matches!(f, Fact::Fixed(pins) if pins.len() >= 2);
        assert!(facts.iter().any(named), "{kind:?}: {facts:?}");
        assert!(planned(&job, &with).is_none(), "{kind:?}");
    }
}

#[test]
fn decisions_that_rule_each_other_out_are_named_and_nothing_else_is() {
    let (job, labour) = made();
    let c = CircuitId::new(0);
    let windows: Vec<WindowId> = job.windows.ids().collect();
    let device = DeviceId::new(0);
    let supply = SupplyId::new(0);
    let clash = |pins: &[PinKind]| {
        let with = pinned(&labour, pins);
        wayover::search::pins::contradictions(&Ground::new(&job, &with))
    };
    let pairs = [
        [PinKind::CircuitIn(c, windows[0]), PinKind::CircuitIn(c, windows[1])],
        [PinKind::CircuitIn(c, windows[0]), PinKind::CircuitNotIn(c, windows[0])],
        [PinKind::CircuitIn(c, windows[0]), PinKind::WindowUnused(windows[0])],
        [
            PinKind::CircuitIn(c, windows[0]),
            PinKind::NotBefore(c, job.windows[windows[0]].period.to),
        ],
        [PinKind::LockAt(device), PinKind::NoLockAt(device)],
    ];
    for pair in pairs {
        assert_eq!(clash(&pair), [[0, 1]], "{pair:?}");
        assert!(clash(&pair[..1]).is_empty() && clash(&pair[1..]).is_empty(), "{pair:?}");
    }
    assert!(clash(&[PinKind::RidesOn(c, supply), PinKind::RidesOnNone(c)]).contains(&vec![0, 1]));
    let none: Vec<PinKind> = windows.iter().map(|w| PinKind::CircuitNotIn(c, *w)).collect();
    assert_eq!(clash(&none).len(), 1);
    assert!(clash(&none[1..]).is_empty());
}

const HEAD: &str = "\n[[fixed]]\n";

fn school(label: &str, table: &str) -> Scratch {
    let s = Scratch::new(label);
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/a-boathouse/job.toml");
    let text = std::fs::read_to_string(demo).expect("a job");
    std::fs::write(s.path("job").join("job.toml"), format!("{text}{HEAD}{table}\n"))
        .expect("a file");
    s
}

#[test]
fn a_decision_needs_its_reason() {
    for (label, table) in
        [("no-why", "most_visits = 2"), ("blank-why", "most_visits = 2\nwhy = \"  \"")]
    {
        let s = school(label, table);
        let (code, _, told) = wayover(&["check", "job"], &s.path(""));
        assert_eq!(code, 2, "{told}");
        assert!(told.contains("--> job.toml:"), "{told}");
        assert!(told.contains("reason") || told.contains("1 to 2000 characters"), "{told}");
    }
}

#[test]
fn what_cannot_all_be_kept_is_a_refusal_that_names_the_decisions() {
    let s = school(
        "clash",
        "circuit = \"C1\"\nno_supply = true\nwhy = \"the cook says no leads\"\n\n[[fixed]]\ncircuit = \"C1\"\nsupply = \"lead TS-1\"\nwhy = \"the owner wants light\"",
    );
    let (code, _, told) = wayover(&["plan", "job"], &s.path(""));
    assert_eq!(code, 1, "{told}");
    let flat = told.split_whitespace().collect::<Vec<_>>().join(" ");
    for text in
        ["what you have fixed cannot all be", "the cook says no leads", "the owner wants light"]
    {
        assert!(flat.contains(text), "{told}");
    }
}

/// The cost of a decision is that of a run without it, told with both figures, and never negative.
#[test]
fn what_a_decision_costs_is_computed_by_a_run_without_it() {
    let (job, labour) = made();
    let free = planned(&job, &labour).expect("a plan");
    let first = CircuitId::new(0);
    let used = works_in(&job, &free, first);
    let pins = [
        PinKind::CircuitIn(first, used),
        PinKind::RidesOnNone(first),
        PinKind::CircuitNotIn(first, used),
    ];
    let options = Options { moves: 40, tries: 6, seed: 1 };
    for pin in pins {
        let with = pinned(&labour, std::slice::from_ref(&pin));
        let plan = planned(&job, &with).expect("a plan");
        let costs = wayover::search::pin_costs::costs(&job, &with, &plan, options);
        let [cost] = &costs[..] else { panic!("{costs:?}") };
        assert_eq!(cost.with, plan.claims.j, "{pin:?}");
        assert_eq!(cost.without, free.claims.j.clone().min(plan.claims.j.clone()), "{pin:?}");
        let told = cost.words();
        assert_eq!(cost.with == cost.without, told.contains("costs nothing"), "{told}");
    }
}
