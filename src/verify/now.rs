//! The state at one moment of the replay, and how an event changes it.
//!
//! Three ways of looking at the wiring are kept: *live* (what is closed is connected), *sure*
//! (what carries no lock is connected, section 2 "secured"), and one for each person (what
//! carries no lock held by them is connected, W3).

use super::reach::Reach;
use super::site::Site;
use super::wiring::{Conductor, Part};
use crate::model::*;
use crate::plan::Key;
use crate::units::Minutes;
use std::collections::{BTreeMap, BTreeSet};

/// A padlock on a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Padlock {
    /// The name stamped on it.
    pub lock: LockId,
    /// Who put it on.
    pub owner: Who,
    /// Where its key is.
    pub key: Key,
}

/// How a device stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DeviceState {
    /// Closed.
    pub closed: bool,
    /// Padlocks that hold it open.
    pub locks: Vec<Padlock>,
}

/// A task that has been begun.
#[derive(Clone, Debug)]
pub(super) struct Run {
    pub start: Minutes,
    pub start_event: usize,
    pub who: Vec<PersonId>,
    pub instrument: Option<InstrumentId>,
    /// When it ended, at which event, and whether passed.
    pub end: Option<(Minutes, usize, bool)>,
}

/// How far a circuit's work has come.
#[derive(Clone, Debug, Default)]
pub(super) struct CircuitState {
    /// Event of the last joint made or removed.
    pub last_joint: Option<usize>,
    /// End of the last connect passed.
    pub connected: Option<usize>,
    /// Start of the last dead test passed.
    pub tested: Option<usize>,
    /// End of the last hook up passed.
    pub hooked: Option<usize>,
    /// Its disconnection has been finished.
    pub disconnected: bool,
    /// Out of service, live or not, since a disconnect, unhook or connect began.
    pub out: bool,
    /// Joints made at each temporary supply.
    pub on: BTreeMap<SupplyId, usize>,
}

/// Everything that an event can change.
#[derive(Debug)]
pub(super) struct Now<'a> {
    pub site: &'a Site<'a>,
    pub t: Minutes,
    /// Events so far: the event being applied has this number minus one as index.
    pub event: usize,
    pub devices: Vec<DeviceState>,
    /// When a device was last opened, if it was.
    pub opened: Vec<Option<Minutes>>,
    /// When the first of the locks now on a device went on.
    pub locked_at: Vec<Option<usize>>,
    pub joints: Vec<bool>,
    /// Joints taken off, by the task that has not ended since: not yet insulated and apart.
    pub loose: BTreeMap<JointId, Option<TaskId>>,
    pub runs: Vec<Option<Run>>,
    pub running: Vec<TaskId>,
    pub boxes: Vec<BTreeSet<Who>>,
    pub surges: Vec<bool>,
    pub rest: Vec<bool>,
    pub covers: Vec<bool>,
    /// A prove at a position during a task that still runs.
    pub proving: Vec<(PositionId, TaskId)>,
    pub mounted: Vec<bool>,
    pub stripped: Vec<bool>,
    pub circuits: Vec<CircuitState>,
    pub sources: Vec<bool>,
    pub live: Reach,
    pub sure: Reach,
    pub held: BTreeMap<PersonId, Reach>,
    pub lit: Vec<bool>,
    /// Conductors whose voltage this event changed, with what it was before.
    pub relit: BTreeMap<Conductor, bool>,
    /// This event changed what is connected in `live`, in `sure`, or in somebody's `held`.
    pub rewired: bool,
    /// This event made or removed a joint.
    pub joined: bool,
    pub resecured: bool,
    pub regrasped: bool,
}

impl<'a> Now<'a> {
    pub fn new(site: &'a Site<'a>) -> Now<'a> {
        let job = site.job;
        let w = &site.wiring;
        let closed: Vec<bool> = job.devices.rows().iter().map(|d| d.closed).collect();
        let made: Vec<bool> = job.joints.rows().iter().map(|j| j.made).collect();
        let live = w
            .lanes
            .iter()
            .map(|l| match l.part {
                Part::Switched(d) => closed[d.index()],
                Part::Through(_) => true,
                Part::Joint(j) => made[j.index()],
            })
            .collect();
        let sure = Reach::new(
            w,
            w.lanes.iter().map(|l| !matches!(l.part, Part::Joint(j) if !made[j.index()])).collect(),
        );
        let mut hands: BTreeSet<PersonId> = BTreeSet::new();
        for event in &site.plan.events {
            if let crate::plan::Act::Start { task, who, .. } = &event.act
                && !site.open[task.index()].is_empty()
            {
                hands.extend(who);
            }
        }
        let mut now = Now {
            site,
            t: job.span.from,
            event: 0,
            devices: closed.iter().map(|c| DeviceState { closed: *c, locks: Vec::new() }).collect(),
            opened: vec![None; closed.len()],
            locked_at: vec![None; closed.len()],
            joints: made,
            loose: BTreeMap::new(),
            runs: vec![None; site.plan.tasks.len()],
            running: Vec::new(),
            boxes: vec![BTreeSet::new(); site.plan.boxes.len()],
            surges: job.surges.rows().iter().map(|s| s.fitted).collect(),
            rest: vec![false; job.groups.len()],
            covers: job.boards.rows().iter().map(|b| b.covers_on).collect(),
            proving: Vec::new(),
            mounted: site.mounted_by_plan.iter().map(|m| !m).collect(),
            stripped: vec![false; job.boards.len()],
            circuits: vec![CircuitState::default(); job.circuits.len()],
            sources: job
                .nodes
                .rows()
                .iter()
                .map(|n| n.source().is_some_and(|s| s.watches.is_none()))
                .collect(),
            live: Reach::new(w, live),
            held: hands.into_iter().map(|p| (p, sure.clone())).collect(),
            sure,
            lit: vec![false; w.at.len()],
            relit: BTreeMap::new(),
            rewired: true,
            joined: false,
            resecured: true,
            regrasped: true,
        };
        for (id, circuit) in job.joints.rows().iter().filter(|j| j.made).filter_map(|j| j.of) {
            if let Place::On(s) = circuit {
                *now.circuits[id.index()].on.entry(s).or_default() += 1;
            }
        }
        for c in 0..now.lit.len() {
            now.lit[c] = now.should_be_lit(c);
        }
        now.settle();
        now.relit.clear();
        now
    }

    /// Before each event.
    pub fn begin(&mut self) {
        self.relit.clear();
        self.rewired = false;
        self.joined = false;
        self.resecured = false;
        self.regrasped = false;
    }

    fn should_be_lit(&self, c: Conductor) -> bool {
        self.live.feeds(c).iter().any(|f| f.hot && self.sources[f.source.index()])
    }

    /// Whether a conductor has voltage from the sources that always run.
    fn always_lit(&self, c: Conductor) -> bool {
        let nodes = &self.site.job.nodes;
        self.live
            .feeds(c)
            .iter()
            .any(|f| f.hot && nodes[f.source].source().is_some_and(|s| s.watches.is_none()))
    }

    /// Whether a watched node is live, as what follows it sees it.
    pub fn watched_live(&self, node: NodeId) -> bool {
        let lines = self.site.job.nodes[node].wires;
        lines.iter().any(|w| w.is_line() && self.always_lit(super::wiring::of(node, w)))
    }

    /// Spreads what has changed at `from` over all that is connected with it.
    fn relight(&mut self, from: Conductor) {
        let lit = self.should_be_lit(from);
        if self.lit[from] == lit {
            return;
        }
        let w = &self.site.wiring;
        let mut queue = vec![from];
        self.lit[from] = lit;
        while let Some(c) = queue.pop() {
            self.relit.entry(c).or_insert(!lit);
            for &(lane, other) in &w.next[c] {
                if self.live.on(lane) && self.lit[other] != lit {
                    self.lit[other] = lit;
                    queue.push(other);
                }
            }
        }
    }

    fn wire(&mut self, lanes: &[usize], on: impl Fn(&Part) -> Option<bool>) {
        let w = &self.site.wiring;
        for &lane in lanes {
            let l = &w.lanes[lane];
            if let Some(on) = on(&l.part)
                && self.live.set(w, lane, on)
            {
                self.rewired = true;
                self.relight(l.a);
                self.relight(l.b);
            }
        }
    }

    /// Sets a device's contacts; what follows it comes with [`Now::settle`].
    pub fn set_closed(&mut self, device: DeviceId, closed: bool) {
        let site = self.site;
        if self.devices[device.index()].closed && !closed {
            self.opened[device.index()] = Some(self.t);
        }
        self.devices[device.index()].closed = closed;
        self.wire(&site.wiring.of_device[device.index()], |part| {
            matches!(part, Part::Switched(_)).then_some(closed)
        });
    }

    /// Lets sources and devices that act by themselves follow the node that they watch.
    pub fn settle(&mut self) {
        let job = self.site.job;
        let followers = job.nodes.len() + job.devices.len();
        // A pair that follows each other round in circles would never come to rest.
        for _ in 0..followers.min(50) + 2 {
            let mut moved = false;
            for (id, node) in job.nodes.iter() {
                let Some(watched) = node.source().and_then(|s| s.watches) else { continue };
                let runs = !self.watched_live(watched);
                if self.sources[id.index()] != runs {
                    self.sources[id.index()] = runs;
                    moved = true;
                    self.rewired = true;
                    let ends: Vec<Conductor> = (0..self.lit.len())
                        .filter(|c| self.site.wiring.feed[*c].is_some_and(|f| f.source == id))
                        .collect();
                    for c in ends {
                        self.relight(c);
                    }
                }
            }
            for (id, device) in job.devices.iter() {
                let Some(act) = device.self_acting else { continue };
                let state = &self.devices[id.index()];
                if !state.locks.is_empty() {
                    continue;
                }
                let closed = self.watched_live(act.node) == act.closed_while_live;
                if state.closed != closed {
                    self.set_closed(id, closed);
                    moved = true;
                }
            }
            if !moved {
                break;
            }
        }
    }

    /// Brings `sure` and every `held` in line with the locks now on a device.
    pub fn regrip(&mut self, device: DeviceId) {
        let site = self.site;
        let w = &site.wiring;
        let isolates = site.job.devices[device].isolates;
        let locked = isolates && !self.devices[device.index()].locks.is_empty();
        let held: Vec<(PersonId, bool)> = self
            .held
            .keys()
            .map(|p| (*p, isolates && self.holds(Who::Person(*p), device)))
            .collect();
        for &lane in &w.of_device[device.index()] {
            if !matches!(w.lanes[lane].part, Part::Switched(_)) {
                continue;
            }
            self.resecured |= self.sure.set(w, lane, !locked);
            for (person, holds) in &held {
                if let Some(reach) = self.held.get_mut(person) {
                    self.regrasped |= reach.set(w, lane, !holds);
                }
            }
        }
    }

    /// Whether somebody holds a lock on a device: theirs with the key kept, or one whose key
    /// is in a box that carries a lock of theirs.
    pub fn holds(&self, who: Who, device: DeviceId) -> bool {
        self.devices[device.index()].locks.iter().any(|l| self.holds_lock(who, l))
    }

    pub fn holds_lock(&self, who: Who, l: &Padlock) -> bool {
        match l.key {
            Key::Kept => l.owner == who,
            Key::Boxed(b) => self.boxes[b.index()].contains(&who),
        }
    }

    /// Whether two conductors are joined by joints and unbroken connections alone.
    pub fn solid(&self, a: Conductor, b: Conductor) -> bool {
        let w = &self.site.wiring;
        let mut seen = BTreeSet::from([a]);
        let mut queue = vec![a];
        while let Some(c) = queue.pop() {
            for &(lane, other) in &w.next[c] {
                let open = matches!(w.lanes[lane].part, Part::Switched(_));
                if !open && self.live.on(lane) && seen.insert(other) {
                    queue.push(other);
                }
            }
        }
        seen.contains(&b)
    }

    /// Joints that are made; `sure` also counts one that is not yet insulated and apart.
    pub fn rejoint(&mut self, joint: JointId) {
        let site = self.site;
        let w = &site.wiring;
        let made = self.joints[joint.index()];
        let lanes = &w.of_joint[joint.index()];
        self.wire(lanes, |_| Some(made));
        let there = made || self.loose.contains_key(&joint);
        for &lane in lanes {
            self.resecured |= self.sure.set(w, lane, there);
            for reach in self.held.values_mut() {
                self.regrasped |= reach.set(w, lane, there);
            }
        }
    }

    pub fn run(&self, task: TaskId) -> Option<&Run> {
        self.runs[task.index()].as_ref()
    }

    pub fn is_running(&self, task: TaskId) -> bool {
        self.run(task).is_some_and(|r| r.end.is_none())
    }

    /// People on a task that runs or ran.
    pub fn people(&self, task: TaskId) -> &[PersonId] {
        self.run(task).map_or(&[], |r| &r.who)
    }

    /// Whether a task has been finished, and passed.
    pub fn passed(&self, task: TaskId) -> bool {
        self.run(task).and_then(|r| r.end).is_some_and(|(_, _, pass)| pass)
    }

    /// The running task that somebody is on.
    pub fn task_of(&self, person: PersonId) -> Option<TaskId> {
        self.running.iter().copied().find(|t| self.people(*t).contains(&person))
    }

    /// Running dead tasks.
    pub fn dead_tasks(&self) -> impl Iterator<Item = TaskId> {
        self.running.iter().copied().filter(|t| self.site.dead(self.site.task(*t)))
    }

    /// Whether a conductor is not isolated and locked off.
    pub fn unsure(&self, c: Conductor) -> bool {
        self.sure.fed(c)
    }

    /// Whether any line of a circuit has voltage.
    pub fn circuit_live(&self, c: CircuitId) -> bool {
        self.site.own[c.index()].lines.iter().any(|l| self.lit[*l])
    }

    /// Whether any line of a node has voltage.
    pub fn node_live(&self, node: NodeId) -> bool {
        let wires = self.site.job.nodes[node].wires;
        wires.iter().any(|w| w.is_line() && self.lit[super::wiring::of(node, w)])
    }

    /// Whether a neutral has a path to the neutral of a running source.
    pub fn neutral_back(&self, c: Conductor) -> bool {
        let back = |c: Conductor| {
            let feeds = self.live.feeds(c).iter();
            feeds.filter(|f| f.wire == Wire::N).any(|f| self.sources[f.source.index()])
        };
        // A machine that feeds back has an earthed neutral of its own, where paths end.
        back(c)
            || self.site.wiring.ends_at.get(&c).is_some_and(|ends| ends.iter().any(|e| back(*e)))
    }

    /// Whether a neutral has a path to that of one source.
    pub fn neutral_to(&self, c: Conductor, source: NodeId) -> bool {
        let leads = |c: Conductor| {
            self.live.feeds(c).iter().any(|f| f.wire == Wire::N && f.source == source)
        };
        leads(c)
            || self.site.wiring.ends_at.get(&c).is_some_and(|ends| ends.iter().any(|e| leads(*e)))
    }

    /// Whether a protective conductor reaches the main earthing terminal.
    pub fn earthed(&self, c: Conductor) -> bool {
        self.live.same(c, super::wiring::of(self.site.job.earth, Wire::PE))
    }

    /// All lines live, and N with a way back (E1 "both live").
    pub fn fully_live(&self, c: CircuitId) -> bool {
        let own = &self.site.own[c.index()];
        !own.lines.is_empty()
            && own.lines.iter().all(|l| self.lit[*l])
            && own.neutral.iter().all(|n| self.neutral_back(*n))
    }

    /// Live for service: all its conductors whole, and nothing of it awaiting its live test.
    pub fn serves(&self, c: CircuitId) -> bool {
        !self.circuits[c.index()].out
            && self.fully_live(c)
            && self.site.own[c.index()].earth.iter().all(|e| self.earthed(*e))
    }

    /// The temporary supply that carries a circuit.
    pub fn rides(&self, c: CircuitId) -> Option<SupplyId> {
        self.circuits[c.index()].on.iter().find(|(_, n)| **n > 0).map(|(s, _)| *s)
    }

    /// Not yet disconnected, or connected and dead-tested since its last joint, or hooked up,
    /// or disconnected and made safe (W4).
    pub fn complete(&self, c: CircuitId) -> bool {
        let state = &self.circuits[c.index()];
        let Some(last) = state.last_joint else { return true };
        let none_made = self.site.own[c.index()].joints.iter().all(|j| !self.joints[j.index()]);
        let since = |e: Option<usize>| e.is_some_and(|e| e > last);
        (since(state.tested) && since(state.connected))
            || since(state.hooked)
            || (none_made && state.disconnected)
    }
}
