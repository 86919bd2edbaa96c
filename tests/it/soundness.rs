//! Whatever the effort and the seed: what the planner makes, the checker accepts.

use crate::generator::{Family, Recipe, job};
use std::path::Path;
use wayover::jobfile::{self, Resolved};
use wayover::model::{CircuitId, Job, Labour, TaskId, TaskKind};
use wayover::plan::Act;
use wayover::search::ground::Ground;
use wayover::search::{self, Options, Outcome, bound};
use wayover::units::{Exact, Minutes, fixed, whole};
use wayover::verify;

fn demo(name: &str) -> Resolved {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo").join(name);
    jobfile::resolve(jobfile::read(&folder).expect("a job")).expect("a resolved job")
}

/// Whether a plan was found; one that is found has to be sound.
#[track_caller]
fn sound(what: &str, job: &Job, labour: &Labour, options: Options) -> bool {
    let Outcome::Plan(plan) = search::plan(job, labour, options) else { return false };
    let text = wayover::record::write(job, &plan);
    let name = format!("{what}-{}-{}-{}.json", options.moves, options.tries, options.seed);
    crate::planning::write(&name.replace(' ', "-"), &text);
    let (job, plan) = wayover::record::read(&text).expect("what was written can be read");
    if let Err(breaches) = verify::check(&job, &plan) {
        let words: Vec<String> =
            breaches.iter().map(|b| format!("{} {}", b.rule, b.words(&job, &plan))).collect();
        panic!("{what}, {options:?}:\n  {}", words.join("\n  "));
    }
    true
}

#[test]
fn the_demos_get_sound_plans_at_every_effort() {
    let (a, c) = (demo("a-boathouse"), demo("c-music-school"));
    for (moves, tries) in [(300, 6), (3000, 50)] {
        for seed in [1, 2] {
            let options = Options { moves, tries, seed };
            assert!(sound("a", &a.job, &a.labour, options), "a: {options:?}");
            assert!(sound("c", &c.job, &c.labour, options), "c: {options:?}");
        }
    }
}

#[test]
fn generated_jobs_of_all_families_get_sound_plans() {
    let mut planned = 0;
    for family in [Family::SamePlace, Family::TailsOver, Family::OwnSupply] {
        for n in [6, 12, 24] {
            let recipe = Recipe { supplies: 1, groups: 2, ..Recipe::new(family, n, 7) };
            let (job, labour) = job(recipe);
            let options = Options { moves: 300, tries: 10, seed: 1 };
            planned += usize::from(sound(&format!("{family:?} {n}"), &job, &labour, options));
        }
    }
    assert!(planned >= 8, "{planned} of 9 jobs got a plan");
}

/// Locks on and off the box are put on and taken off where no break is interrupted (S3).
#[test]
fn four_people_get_their_breaks() {
    let recipe = Recipe { people: 4, testers: 2, ..Recipe::new(Family::SamePlace, 24, 11) };
    let (job, labour) = job(recipe);
    let options = Options { moves: 20, tries: 30, seed: 1 };
    assert!(sound("four people", &job, &labour, options));
}

/// Sessions of several boards share windows and people: a break lies between them, and work ahead
/// goes over no window's end.
#[test]
fn several_boards_get_sound_plans() {
    for (seed, family) in (3..).zip([Family::SamePlace, Family::TailsOver, Family::OwnSupply]) {
        for (boards, circuits) in [(2, 6), (3, 5), (4, 4)] {
            let one = Recipe { people: 3, ..Recipe::new(family, circuits, seed) };
            let recipe = Recipe { boards, nights: 6, supplies: 1, groups: 1, ..one };
            let (job, labour) = job(recipe);
            let options = Options { moves: 20, tries: 5, seed: 1 };
            let what = format!("{family:?} {boards} x {circuits}");
            assert!(sound(&what, &job, &labour, options), "{what}");
        }
    }
}

/// Circuits that come off first and ride through the cut-in are hooked up while the others are served
/// from the old board again; on these jobs that is cheaper than any other plan that was found.
#[test]
fn who_matters_most_rides_through_the_cut_in() {
    for family in [Family::SamePlace, Family::TailsOver] {
        let (job, labour) = job(Recipe { supplies: 1, ..Recipe::new(family, 12, 7) });
        let Outcome::Plan(plan) = search::plan(&job, &labour, Options::LARGE) else {
            panic!("{family:?}: no plan");
        };
        assert!(sound(&format!("{family:?} through"), &job, &labour, Options::LARGE));
        let times = |kind: TaskKind| -> Vec<Minutes> {
            let of_kind = |e: &&wayover::plan::Event| matches!(e.act, Act::Start { task, .. } if plan.tasks[task].kind == kind);
            plan.events.iter().filter(of_kind).map(|e| e.at).collect()
        };
        let isolated = |e: &&wayover::plan::Event| {
            let Act::Start { task, .. } = e.act else { return false };
            let task = &plan.tasks[task];
            task.kind == TaskKind::Isolate && task.board.is_some()
        };
        let isolations: Vec<Minutes> = plan.events.iter().filter(isolated).map(|e| e.at).collect();
        let (hooked, unhooked) = (times(TaskKind::HookUp), times(TaskKind::Unhook));
        assert!(!hooked.is_empty() && isolations.len() >= 2, "{family:?}: {isolations:?}");
        assert!(hooked.iter().all(|t| *t < isolations[1]), "{family:?}: {hooked:?}");
        assert!(unhooked.iter().all(|t| *t > isolations[1]), "{family:?}: {unhooked:?}");
        // Every load that does not ride is served between the two isolations.
        let served = |spans: &Vec<wayover::units::Period>| {
            spans.iter().all(|s| s.to <= isolations[1] || s.from >= isolations[1])
        };
        let kept = plan.claims.outages.values().filter(|spans| served(spans)).count();
        assert!(kept > hooked.len(), "{family:?}: {kept} served in between");
    }
}

/// With more moves waiting is searched, one person may attend, and the old board may be stripped
/// out later; what comes of it is sound, and cheaper somewhere.
#[test]
fn the_wider_search_gets_sound_plans_and_some_that_are_cheaper() {
    let (usual, most) = (Options::LARGE, Options { moves: 10_000, tries: 40, seed: 1 });
    assert!(most.waits() && !usual.waits());
    let mut cheaper = 0;
    for family in [Family::SamePlace, Family::TailsOver, Family::OwnSupply] {
        for (supplies, seed) in [(0, 3), (1, 3), (0, 4), (1, 5)] {
            let (job, labour) = job(Recipe { supplies, ..Recipe::new(family, 4, seed) });
            let what = format!("{family:?} 4 with {supplies}, seed {seed}");
            assert!(sound(&what, &job, &labour, most), "{what}");
            let j = |options| match search::plan(&job, &labour, options) {
                Outcome::Plan(plan) => plan.claims.j,
                Outcome::None { .. } => panic!("{what}: no plan"),
            };
            cheaper += usize::from(j(most) < j(usual));
        }
    }
    assert!(cheaper >= 1, "never cheaper");
}

/// Isolating takes two here, and who attends alone does not do it.
#[test]
fn nobody_attends_alone_where_work_takes_two() {
    let mut seen = 0;
    for seed in 1..4 {
        let (job, mut labour) =
            job(Recipe { people: 2, ..Recipe::new(Family::OwnSupply, 3, seed) });
        for board in &mut labour.boards {
            (board.isolate.people, board.isolate_again.people) = (2, 2);
        }
        let options = Options { moves: 10_000, tries: 20, seed: 1 };
        let Outcome::Plan(plan) = search::plan(&job, &labour, options) else { continue };
        for event in &plan.events {
            if let Act::Start { task, who, .. } = &event.act
                && plan.tasks[*task].kind == TaskKind::Isolate
                && plan.tasks.name(*task).contains("isolate")
            {
                assert_eq!(who.len(), 2, "seed {seed}, {}", plan.tasks.name(*task));
                seen += 1;
            }
        }
    }
    assert!(seen >= 3, "{seen} times seen");
}

/// Where tails move over, what is light comes off first, and the old board serves the rest again while
/// it is put on the new one: cheaper than any plan whose boards are dead once can be.
#[test]
fn light_circuits_come_off_before_the_cut_in() {
    for (supplies, groups) in [(0, 0), (0, 2), (1, 2)] {
        let recipe =
            Recipe { hours: 22, supplies, groups, ..Recipe::new(Family::TailsOver, 24, 7) };
        let (job, labour) = job(recipe);
        let what = format!("24 with {supplies} supplies, {groups} groups");
        let options = Options { moves: 100, tries: 12, seed: 1 };
        let Outcome::Plan(plan) = search::plan(&job, &labour, options) else { panic!("{what}") };
        assert!(sound(&what, &job, &labour, options), "{what}");
        let start = |kind: TaskKind, circuit: Option<CircuitId>| {
            let of = |t: &TaskId| plan.tasks[*t].kind == kind && plan.tasks[*t].circuit == circuit;
            let mut starts = plan.events.iter().filter_map(|e| match &e.act {
                Act::Start { task, .. } if of(task) => Some(e.at),
                _ => None,
            });
            starts.next().expect("a task")
        };
        let cut_in = start(TaskKind::ConnectTails, None);
        let ahead = |c: &CircuitId| start(TaskKind::Connect, Some(*c)) < cut_in;
        let early = job.circuits.ids().filter(ahead).count();
        assert!((4..=20).contains(&early), "{what}: {early} ahead");
        assert!(job.circuits.ids().all(|c| start(TaskKind::LiveTest, Some(c)) > cut_in), "{what}");
        if supplies > 0 {
            continue;
        }
        let g = Ground::new(&job, &labour);
        let pair = &bound::pair::pairs(&g)[0];
        let own = bound::own_tasks::OwnTasks::of(&g, pair.old, pair.new);
        let people = job.people.len() as i64;
        let once = bound::once::lower_bound(&job.policy, pair, &own, people);
        let once = Exact::from_integer(once.into()) / whole(bound::facts::SCALE);
        let work = &plan.claims.j - &plan.claims.parts[3];
        assert!(work < once, "{what}: {} for {}", fixed(&work, 1), fixed(&once, 1));
    }
}
