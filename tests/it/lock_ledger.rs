//! The lock ledger, and locks handed over from one person to another.

use std::collections::BTreeSet;
use wayover::model::*;
use wayover::plan::*;
use wayover::search::{self, Options, Outcome};
use wayover::units::Minutes;
use wayover::verify::{self, LockSpan, Rule, Rule::*, SoundPlan};

use crate::generator::{Family, Recipe, job};

/// The record of two boards side by side, in which nobody is on a task from 895 to 900.
fn given() -> (Job, Plan) {
    let all = crate::records::all();
    let (_, text) = all.iter().find(|(n, _)| n.starts_with("02")).expect("a given record");
    wayover::record::read(text).expect("a record that can be read")
}

fn handover(job: &Job, plan: &mut Plan, order: &[Change]) {
    let five = [Minutes(2), Minutes(4), Minutes(9)];
    let task = Task {
        kind: TaskKind::Isolate,
        duration: five,
        planned: Minutes(4),
        people: 2,
        after: vec![],
        position: None,
        area: plan.tasks.rows()[0].area,
        circuit: None,
        board: None,
        group: None,
        instrument: None,
        delivery: None,
    };
    let task = plan.tasks.add("handover", task).expect("a new name");
    let device = job.devices.find("ISO-B").expect("the device");
    let [p1, p2] = ["p1", "p2"].map(|p| job.people.find(p).expect("a person"));
    let by = |p| By { task: Some(task), who: Who::Person(p) };
    let lock_box = plan.boxes.find("box-b").expect("the box");
    let old = plan.locks.find("kb").expect("the lock");
    let new = plan.locks.add("kh", ()).expect("a new name");
    let mut acts = vec![(896, Act::Start { task, who: vec![p1, p2], instrument: None })];
    for change in order {
        let act = match change {
            Change::BoxOpened => {
                acts.push((897, Act::BoxUnlock(by(p1), lock_box)));
                Act::BoxUnlock(by(p2), lock_box)
            }
            Change::NewOn => Act::Lock(by(p2), device, new, Key::Boxed(lock_box)),
            Change::OldOff => Act::Unlock(by(p1), device, old),
            Change::BoxLocked => {
                acts.push((899, Act::BoxLock(by(p1), lock_box)));
                Act::BoxLock(by(p2), lock_box)
            }
        };
        acts.push((if *change == Change::BoxLocked { 899 } else { 898 }, act));
    }
    acts.push((900, Act::Finish { task, pass: true }));
    let at = plan.events.iter().position(|e| e.at >= Minutes(900)).expect("later events");
    let acts = acts.into_iter().map(|(t, act)| Event { at: Minutes(t), act });
    plan.events.splice(at..at, acts);
    // What p1 took off at the end is p2's now.
    for event in &mut plan.events {
        if let Act::Unlock(by, d, lock) = &mut event.act
            && *lock == old
            && *d == device
            && event.at > Minutes(900)
        {
            (by.who, *lock) = (Who::Person(p2), new);
        }
    }
    let (replay, _) = verify::replay(job, plan);
    plan.claims.lock_operations = replay.lock_operations();
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Change {
    BoxOpened,
    NewOn,
    OldOff,
    BoxLocked,
}

use Change::*;

#[track_caller]
fn case(order: &[Change], expect: &[Rule]) -> Option<(SoundPlan, Job)> {
    let (job, mut plan) = given();
    handover(&job, &mut plan, order);
    let judged = verify::check(&job, &plan);
    let rules: BTreeSet<Rule> = match &judged {
        Ok(_) => BTreeSet::new(),
        Err(breaches) => breaches.iter().map(|b| b.rule).collect(),
    };
    let words: Vec<String> = judged.as_ref().err().map_or(vec![], |all| {
        all.iter().map(|b| format!("{} {}", b.rule, b.words(&job, &plan))).collect()
    });
    assert_eq!(rules, expect.iter().copied().collect(), "{words:#?}");
    judged.ok().map(|sound| (sound, job))
}

#[test]
fn a_lock_is_handed_over_with_the_new_one_on_first() {
    let (sound, job) = case(&[BoxOpened, NewOn, OldOff, BoxLocked], &[]).expect("a sound plan");
    let device = job.devices.find("ISO-B").expect("the device");
    let spans: Vec<LockSpan> =
        sound.lock_ledger().into_iter().filter(|s| s.device == device).collect();
    let name = |l: LockId| sound.plan().locks.name(l).to_owned();
    assert_eq!(spans.len(), 2);
    assert_eq!((name(spans[0].lock).as_str(), spans[0].on.0), ("kb", Minutes(882)));
    assert_eq!(spans[0].off.map(|(t, _)| t), Some(Minutes(898)));
    assert!(spans[0].relied.is_empty(), "no dead work before the handover");
    assert_eq!((name(spans[1].lock).as_str(), spans[1].on.0), ("kh", Minutes(898)));
    assert_eq!(spans[1].off.map(|(t, _)| t), Some(Minutes(1449)));
    assert_eq!(spans[1].takes_over.map(name).as_deref(), Some("kb"));
    let relied: Vec<&str> =
        spans[1].relied.iter().map(|(t, _)| sound.plan().tasks.name(*t)).collect();
    assert_eq!(relied[..3], ["tails", "dress", "surge"]);
}

#[test]
fn a_lock_that_comes_off_before_the_next_is_on_is_no_handover() {
    // For an instant nothing holds the device, so the place has to be proved again.
    assert!(case(&[BoxOpened, OldOff, NewOn, BoxLocked], &[W2]).is_none());
    // The keys come out while the box is locked.
    assert!(case(&[NewOn, OldOff], &[W3]).is_none());
    // Nobody puts their own lock on the box again: the key is nobody's.
    assert!(case(&[BoxOpened, NewOn, OldOff], &[S2, W3]).is_none());
}

#[test]
fn the_paper_has_every_lock_change_and_hold() {
    let (_, sound) = crate::demos::boathouse();
    let plan = sound.plan();
    let papers = &crate::demos::boathouse_pack().papers;
    let paper = papers.iter().find(|p| p.file == "lock-ledger.html").expect("the ledger");
    for lock in plan.locks.names() {
        assert!(paper.content.contains(&format!("{lock}</th>")), "{lock}");
    }
    let (_, changes) = paper.content.split_once("Every change, in order").expect("a section");
    let (changes, at_holds) = changes.split_once("At each hold point").expect("a section");
    let operations = sound.replay().lock_operations();
    assert_eq!(changes.matches("<tr><td").count() as i64, operations, "a row each");
    let holds = plan.tasks.rows().iter().filter(|t| t.kind == TaskKind::Hold).count();
    assert_eq!(at_holds.matches("<h3>").count(), holds);
}

#[test]
fn the_ledger_holds_for_one_to_eight_people_and_a_box() {
    for people in 1..=8 {
        let recipe = Recipe { people, testers: 2, ..Recipe::new(Family::OwnSupply, 6, 3) };
        let (mut job, mut labour) = job(recipe);
        if people == 1 {
            job.policy.alone = Some("the employer allows it".to_owned());
            for b in &mut labour.boards {
                let all = [&mut b.isolate, &mut b.energise, &mut b.strip_out, &mut b.mount];
                all.into_iter().for_each(|e| e.people = 1);
            }
            labour.tails.iter_mut().for_each(|t| t.effort.people = 1);
        }
        let options = Options { moves: 50, tries: 20, seed: 1 };
        let Outcome::Plan(plan) = search::plan(&job, &labour, options) else {
            panic!("no plan for {people}")
        };
        let text = wayover::record::write(&job, &plan);
        let (job, plan) = wayover::record::read(&text).expect("a record just written");
        let sound = verify::check(&job, &plan).expect("a sound plan");
        holds(&sound, people);
    }
}

/// What the ledger says, against the events and the tracks of the replay.
fn holds(sound: &SoundPlan, people: usize) {
    let (plan, replay) = (sound.plan(), sound.replay());
    let spans = sound.lock_ledger();
    let locked = plan.events.iter().filter(|e| matches!(e.act, Act::Lock(..))).count();
    assert!(locked > 0);
    assert_eq!(spans.len(), locked, "{people} people: every lock once");
    let mut relying: BTreeSet<TaskId> = BTreeSet::new();
    for span in &spans {
        let off = span.off.map_or(replay.finish(), |(t, _)| t);
        for (task, period) in &span.relied {
            relying.insert(*task);
            assert!(span.on.0 <= period.from && period.to <= off);
            let run = replay.task(*task).expect("a task carried out");
            // One of its people keeps the key, or has a lock on the box that it is in.
            let at = replay.device(span.device).at(period.from);
            assert!(at.locks.iter().any(|l| l.lock == span.lock));
            let held = run.who.iter().any(|p| match span.key {
                Key::Kept => span.owner == Who::Person(*p),
                Key::Boxed(b) => replay.lock_box(b).at(period.from).contains(&Who::Person(*p)),
            });
            assert!(held);
        }
    }
    // Whoever disconnects a circuit relies on a lock.
    for (id, task) in plan.tasks.iter() {
        if task.kind == TaskKind::Disconnect {
            assert!(relying.contains(&id), "{people} people: {}", plan.tasks.name(id));
        }
    }
}
