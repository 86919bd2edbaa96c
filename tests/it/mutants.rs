//! Mutants of the checker: a sound plan, one fact of job or plan spoilt a row, exactly the
//! rules that this breaks.

mod claims;
mod dead;
mod emergency;
mod energise;
mod limits;
mod standing;
mod tasks;
mod temporary;

use std::collections::BTreeSet;
use wayover::model::*;
use wayover::plan::*;
use wayover::units::{Exact, Minutes, Period, Volts, whole};
use wayover::verify::{self, Rule, Rule::*};

/// A sound record, to be spoilt.
struct Spoil {
    job: Job,
    plan: Plan,
}

impl Spoil {
    fn of(name: &str) -> Spoil {
        let all = crate::records::all();
        let (_, text) =
            all.iter().find(|(n, _)| n.starts_with(name)).expect("one of the given records");
        let (job, plan) = wayover::record::read(text).expect("a record that can be read");
        Spoil { job, plan }
    }

    /// An event in words, as rows name it: minute, act, and what it is done to.
    fn label(&self, e: &Event) -> String {
        let (job, plan) = (&self.job, &self.plan);
        let who = |by: &By| match by.who {
            Who::Person(p) => job.people.name(p),
            Who::Outsider(o) => job.outsiders.name(o),
        };
        let words = match &e.act {
            Act::Start { task, .. } => format!("start {}", plan.tasks.name(*task)),
            Act::Finish { task, .. } => format!("finish {}", plan.tasks.name(*task)),
            Act::Open(_, d) => format!("open {}", job.devices.name(*d)),
            Act::Close(_, d) => format!("close {}", job.devices.name(*d)),
            Act::Lock(_, _, l, _) => format!("lock {}", plan.locks.name(*l)),
            Act::Unlock(_, _, l) => format!("unlock {}", plan.locks.name(*l)),
            Act::BoxLock(by, b) => format!("box_lock {} {}", plan.boxes.name(*b), who(by)),
            Act::BoxUnlock(by, b) => format!("box_unlock {} {}", plan.boxes.name(*b), who(by)),
            Act::Make(_, j) => format!("make {}", job.joints.name(*j)),
            Act::Break(_, j) => format!("break {}", job.joints.name(*j)),
            Act::Prove(_, p) => format!("prove {}", job.positions.name(p.position)),
            Act::Surge(_, s, on) => format!("surge {} {on}", job.surges.name(*s)),
            Act::Rest(_, g, on) => format!("rest {} {on}", job.groups.name(*g)),
            Act::HandBack(_, a) => format!("hand_back {}", job.areas.name(*a)),
        };
        format!("{} {words}", e.at.0)
    }

    #[track_caller]
    fn find(&self, label: &str) -> usize {
        let found: Vec<usize> = (0..self.plan.events.len())
            .filter(|i| self.label(&self.plan.events[*i]) == label)
            .collect();
        assert_eq!(found.len(), 1, "events called `{label}`");
        found[0]
    }

    #[track_caller]
    fn act(&mut self, label: &str) -> &mut Act {
        let i = self.find(label);
        &mut self.plan.events[i].act
    }

    #[track_caller]
    fn drop(&mut self, label: &str) -> Event {
        let i = self.find(label);
        self.plan.events.remove(i)
    }

    /// Moves an event to just before another, at its minute.
    #[track_caller]
    fn before(&mut self, label: &str, other: &str) {
        let mut event = self.drop(label);
        let i = self.find(other);
        event.at = self.plan.events[i].at;
        self.plan.events.insert(i, event);
    }

    /// Adds an act just before another event, at its minute.
    #[track_caller]
    fn insert(&mut self, act: Act, other: &str) {
        let i = self.find(other);
        let at = self.plan.events[i].at;
        self.plan.events.insert(i, Event { at, act });
    }

    fn by(&self, task: &str, who: &str) -> By {
        By { task: Some(self.task_id(task)), who: Who::Person(self.person(who)) }
    }

    fn task_id(&self, name: &str) -> TaskId {
        self.plan.tasks.find(name).expect("a task")
    }

    fn person(&self, name: &str) -> PersonId {
        self.job.people.find(name).expect("a person")
    }

    fn device_id(&self, name: &str) -> DeviceId {
        self.job.devices.find(name).expect("a device")
    }

    fn joint_id(&self, name: &str) -> JointId {
        self.job.joints.find(name).expect("a joint")
    }

    fn node_id(&self, name: &str) -> NodeId {
        self.job.nodes.find(name).expect("a node")
    }

    fn circuit_id(&self, name: &str) -> CircuitId {
        self.job.circuits.find(name).expect("a circuit")
    }

    fn device(&mut self, name: &str) -> &mut Device {
        let id = self.device_id(name);
        &mut self.job.devices[id]
    }

    fn task(&mut self, name: &str) -> &mut Task {
        let id = self.task_id(name);
        &mut self.plan.tasks[id]
    }

    fn position(&mut self, name: &str) -> &mut Position {
        let id = self.job.positions.find(name).expect("a position");
        &mut self.job.positions[id]
    }

    fn board(&mut self, name: &str) -> &mut Board {
        let id = self.job.boards.find(name).expect("a board");
        &mut self.job.boards[id]
    }

    fn load(&mut self, name: &str) -> &mut Load {
        let id = self.job.loads.find(name).expect("a load");
        &mut self.job.loads[id]
    }

    fn area(&mut self, name: &str) -> &mut Area {
        let id = self.job.areas.find(name).expect("an area");
        &mut self.job.areas[id]
    }

    fn group(&mut self) -> &mut Group {
        &mut self.job.groups[GroupId::new(0)]
    }

    fn supply(&mut self) -> &mut Supply {
        &mut self.job.supplies[SupplyId::new(0)]
    }

    fn surge(&mut self, name: &str) -> &mut Surge {
        let id = self.job.surges.find(name).expect("surge protection");
        &mut self.job.surges[id]
    }

    fn node(&mut self, name: &str) -> &mut Node {
        let id = self.node_id(name);
        &mut self.job.nodes[id]
    }

    fn source(&mut self, name: &str) -> &mut Source {
        match &mut self.node(name).kind {
            NodeKind::Source(source) => source,
            _ => panic!("`{name}` is no source"),
        }
    }

    fn proof(&mut self, label: &str) -> &mut Proof {
        match self.act(label) {
            Act::Prove(_, proof) => proof,
            _ => panic!("`{label}` is no proof"),
        }
    }

    fn people(&mut self, label: &str) -> &mut Vec<PersonId> {
        match self.act(label) {
            Act::Start { who, .. } => who,
            _ => panic!("`{label}` starts nothing"),
        }
    }

    fn step(&mut self, task: &str) -> &mut BackOutStep {
        let id = self.task_id(task);
        self.plan.back_out.steps.iter_mut().find(|s| s.task == id).expect("a step")
    }

    /// Claims what the replay gives, so that a row shows its own rule and not C1; and gives every
    /// way forward time enough.
    fn honest(&mut self) {
        let (replay, _) = verify::replay(&self.job, &self.plan);
        let claims = &mut self.plan.claims;
        claims.outages = self
            .job
            .loads
            .ids()
            .map(|l| (l, replay.outages(l).iter().map(|o| o.whole).collect()))
            .collect();
        claims.j = wayover::units::tenths(&replay.cost().total());
        claims.parts = replay.cost().parts().map(|p| wayover::units::tenths(&p));
        claims.finish = replay.finish();
        claims.lock_operations = replay.lock_operations();
        claims.walking = replay.walking();
        claims.still_live = replay
            .still_live()
            .iter()
            .map(|(t, nodes)| (*t, nodes.iter().copied().collect()))
            .collect();
        for step in self.plan.back_out.steps.iter_mut().filter(|s| s.way == Way::Forward) {
            step.minutes = step.minutes.max(Minutes(600));
        }
    }
}

#[track_caller]
fn judge(s: &Spoil, expect: &[Rule]) {
    let (_, breaches) = verify::replay(&s.job, &s.plan);
    let got: BTreeSet<Rule> = breaches.iter().map(|b| b.rule).collect();
    let words: Vec<String> = breaches
        .iter()
        .map(|b| format!("{} at {:?}: {}", b.rule, b.at.map(|t| t.0), b.words(&s.job, &s.plan)))
        .collect();
    assert_eq!(got, expect.iter().copied().collect(), "\n{}", words.join("\n"));
    assert_eq!(verify::check(&s.job, &s.plan).is_ok(), expect.is_empty());
}

/// One fact spoilt; the claims are left as they were.
#[track_caller]
fn spoilt(name: &str, spoil: impl FnOnce(&mut Spoil), expect: &[Rule]) {
    let mut s = Spoil::of(name);
    spoil(&mut s);
    judge(&s, expect);
}

/// One fact spoilt, and the claims made honest again.
#[track_caller]
fn honest(name: &str, spoil: impl FnOnce(&mut Spoil), expect: &[Rule]) {
    let mut s = Spoil::of(name);
    spoil(&mut s);
    s.honest();
    judge(&s, expect);
}

fn text(t: &str) -> Option<String> {
    Some(t.to_owned())
}

fn s_board(index: usize) -> Option<BoardId> {
    Some(BoardId::new(index))
}

fn s_area(index: usize) -> Option<AreaId> {
    Some(AreaId::new(index))
}

fn s_person(index: usize) -> PersonId {
    PersonId::new(index)
}

const SAME: &str = "01"; // same place, one supply, temporary supply, emergency group
const BESIDE: &str = "02"; // side by side, generator, coupler, shared neutral
const UNSHROUDED: &str = "07"; // as SAME, without shrouds
const ONE_WAY: &str = "80"; // as BESIDE, one way at a time on the live new board

#[test]
fn untouched_plans_pass() {
    for name in [SAME, BESIDE, UNSHROUDED, "48", ONE_WAY] {
        spoilt(name, |_| (), &[]);
        honest(name, |_| (), &[]);
    }
}
