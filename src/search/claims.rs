//! What a plan says of itself, worked out by replaying its events over the network.

mod walking;

use self::walking::{person_visits, walking};
use super::ground::Ground;
use super::parted;
use super::price::{self, Cost};
use crate::model::*;
use crate::network::{IdSet, LiveSet, State};
use crate::plan::{Act, Event};
use crate::units::{Exact, Minutes, Period, whole};
use std::collections::{BTreeMap, BTreeSet};

/// What happens to circuits, loads and groups over the whole plan.
pub struct History {
    /// By circuit: when it is not live for service.
    pub out: Vec<Vec<Period>>,
    /// By load: its whole outages.
    pub outages: BTreeMap<LoadId, Vec<Period>>,
    /// By group: when its feed is dead.
    pub feed_dead: Vec<Vec<Period>>,
    /// By group: when it is at rest.
    pub resting: Vec<Vec<Period>>,
    /// By group: when its last function test ends, and all of them.
    pub function_tests: Vec<Vec<Period>>,
    /// By dead task: enclosed nodes with a live line at some minute.
    pub still_live: BTreeMap<TaskId, Vec<NodeId>>,
    /// By group: when its feed was first parted from its lighting, if it was (E1).
    pub parted: Vec<Option<Minutes>>,
    /// The cost.
    pub cost: Cost,
    /// Locks put on or taken off.
    pub lock_operations: i64,
    /// The walking figure.
    pub walking: i64,
    /// Time of the last event.
    pub finish: Minutes,
}

/// Replays events.
pub fn history(g: &Ground, tasks: &Table<TaskId, Task>, events: &[Event]) -> History {
    let mut r = Replay::new(g, tasks);
    let mut i = 0;
    while i < events.len() {
        let at = events[i].at;
        while i < events.len() && events[i].at == at {
            r.apply(&events[i].act, at);
            i += 1;
            r.note_circuits(at);
        }
        r.settle(at);
    }
    r.close(events)
}

struct Replay<'a> {
    g: &'a Ground<'a>,
    tasks: &'a Table<TaskId, Task>,
    state: State,
    live: LiveSet,
    earthed: IdSet<NodeId>,
    /// The switching state differs from what `live` and `earthed` were worked out from.
    stale: bool,
    /// A circuit was taken out of service or given back.
    changed: bool,
    /// By circuit: taken out of service by work until its next test is passed.
    untested: Vec<bool>,
    in_service: Vec<bool>,
    out: Spans,
    /// Out at some moment of the running minute, though perhaps in at its end.
    blinked: BTreeSet<usize>,
    feed_dead: Spans,
    resting: Spans,
    running: BTreeMap<TaskId, (Minutes, Vec<PersonId>)>,
    work: Vec<(PersonId, TaskId, Period)>,
    function_tests: Vec<Vec<Period>>,
    still_live: BTreeMap<TaskId, BTreeSet<NodeId>>,
    /// By circuit: a joint of it was made or removed.
    moved: Vec<bool>,
    parted: Vec<Option<Minutes>>,
    riding: BTreeMap<CircuitId, (usize, Minutes)>,
    ridden: Minutes,
    locks: i64,
}

/// Open and closed spans by index.
#[derive(Default)]
struct Spans {
    open: Vec<Option<Minutes>>,
    done: Vec<Vec<Period>>,
}

impl Spans {
    fn new(n: usize) -> Spans {
        Spans { open: vec![None; n], done: vec![Vec::new(); n] }
    }

    fn set(&mut self, i: usize, on: bool, at: Minutes) {
        match (on, self.open[i]) {
            (true, None) => self.open[i] = Some(at),
            (false, Some(from)) => {
                self.open[i] = None;
                self.add(i, Period { from, to: at });
            }
            _ => {}
        }
    }

    fn add(&mut self, i: usize, span: Period) {
        if span.from == span.to {
            return;
        }
        match self.done[i].last_mut() {
            Some(last) if span.from <= last.to => last.to = last.to.max(span.to),
            _ => self.done[i].push(span),
        }
    }

    fn finish(mut self, at: Minutes) -> Vec<Vec<Period>> {
        for i in 0..self.open.len() {
            self.set(i, false, at);
        }
        self.done
    }
}

impl<'a> Replay<'a> {
    fn new(g: &'a Ground<'a>, tasks: &'a Table<TaskId, Task>) -> Replay<'a> {
        let state = State::old(g.job);
        let live = g.net.live(&state);
        let circuits = g.job.circuits.len();
        let mut replay = Replay {
            g,
            tasks,
            live,
            earthed: g.net.earthed(&state),
            stale: false,
            changed: false,
            untested: vec![false; circuits],
            in_service: vec![true; circuits],
            out: Spans::new(circuits),
            blinked: BTreeSet::new(),
            feed_dead: Spans::new(g.job.groups.len()),
            resting: Spans::new(g.job.groups.len()),
            running: BTreeMap::new(),
            work: Vec::new(),
            function_tests: vec![Vec::new(); g.job.groups.len()],
            still_live: BTreeMap::new(),
            moved: vec![false; circuits],
            parted: vec![None; g.job.groups.len()],
            riding: BTreeMap::new(),
            ridden: Minutes::ZERO,
            locks: 0,
            state,
        };
        replay.in_service = replay.serving();
        let from = g.job.span.from;
        for (i, serving) in replay.in_service.clone().into_iter().enumerate() {
            replay.out.set(i, !serving, from);
        }
        replay.note_parted(from);
        replay.settle(from);
        replay
    }

    fn serving(&self) -> Vec<bool> {
        let earthed = &self.earthed;
        self.g
            .job
            .circuits
            .iter()
            .map(|(id, c)| {
                let earth = c.no_earth.is_some()
                    || c.nodes
                        .iter()
                        .all(|n| !self.g.job.nodes[*n].wires.has(Wire::PE) || earthed.has(*n));
                !self.untested[id.index()] && self.g.net.circuit_fed(&self.live, id) && earth
            })
            .collect()
    }

    fn apply(&mut self, act: &Act, at: Minutes) {
        let takes_off =
            |k| matches!(k, TaskKind::Disconnect | TaskKind::Unhook | TaskKind::Connect);
        let gives_back = |k| matches!(k, TaskKind::HookUp | TaskKind::LiveTest);
        match act {
            Act::Start { task, who, .. } => {
                self.running.insert(*task, (at, who.clone()));
                let t = &self.tasks[*task];
                if let Some(c) = t.circuit.filter(|_| takes_off(t.kind)) {
                    self.untested[c.index()] = true;
                    self.changed = true;
                }
            }
            Act::Finish { task, pass } => {
                let t = &self.tasks[*task];
                if let Some(c) = t.circuit.filter(|_| gives_back(t.kind) && *pass) {
                    self.untested[c.index()] = false;
                    self.changed = true;
                }
                if let Some((from, who)) = self.running.remove(task) {
                    let period = Period { from, to: at };
                    self.work.extend(who.into_iter().map(|p| (p, *task, period)));
                    if let Some(group) = t.group.filter(|_| t.kind == TaskKind::FunctionTest) {
                        self.function_tests[group.index()].push(period);
                    }
                }
            }
            Act::Open(_, d) => {
                self.state.closed.remove(*d);
                self.stale = true;
            }
            Act::Close(_, d) => {
                self.state.closed.insert(*d);
                self.stale = true;
            }
            Act::Lock(_, d, ..) => {
                self.locks += 1;
                self.state.locked.insert(*d);
                self.stale = true;
            }
            Act::Unlock(_, d, _) => {
                // Only closing asks whether a lock is left, and a plan of ours never closes then.
                self.locks += 1;
                self.state.locked.remove(*d);
                self.stale = true;
            }
            Act::BoxLock(..) | Act::BoxUnlock(..) => self.locks += 1,
            Act::Make(_, j) => {
                self.state.make(*j);
                self.note_moved(*j);
                self.ride(*j, at, 1);
                self.stale = true;
            }
            Act::Break(_, j) => {
                self.state.insulate(*j);
                self.note_moved(*j);
                self.ride(*j, at, -1);
                self.stale = true;
            }
            Act::Rest(_, group, on) => self.resting.set(group.index(), *on, at),
            Act::Prove(..) | Act::Surge(..) | Act::HandBack(..) => {}
        }
    }

    fn ride(&mut self, joint: JointId, at: Minutes, change: i64) {
        let Some((c, Place::On(_))) = self.g.job.joints[joint].of else { return };
        let (count, since) = self.riding.get(&c).copied().unwrap_or((0, at));
        let since = if count == 0 { at } else { since };
        let count = count.saturating_add_signed(change as isize);
        if count == 0 && change < 0 {
            self.ridden += at - since;
        }
        self.riding.insert(c, (count, since));
    }

    fn note_moved(&mut self, joint: JointId) {
        if let Some((c, _)) = self.g.job.joints[joint].of {
            self.moved[c.index()] = true;
        }
    }

    /// E1 after every act, not only of what lasts beyond its minute.
    fn note_parted(&mut self, at: Minutes) {
        for (id, group) in self.g.job.groups.iter() {
            let moved = |c: CircuitId| self.moved[c.index()];
            if self.parted[id.index()].is_none()
                && parted::parted(self.g, group, &self.state, &self.live, &moved)
            {
                self.parted[id.index()] = Some(at);
            }
        }
    }

    fn note_circuits(&mut self, at: Minutes) {
        if self.stale {
            self.live = self.g.net.live(&self.state);
            self.earthed = self.g.net.earthed(&self.state);
            self.note_parted(at);
        } else if !self.changed {
            return;
        }
        self.stale = false;
        self.changed = false;
        let now = self.serving();
        for (i, serving) in now.iter().enumerate() {
            if !serving {
                self.blinked.insert(i);
                self.out.set(i, true, at);
            }
        }
        self.in_service = now;
    }

    /// The state that lasts beyond the minute.
    fn settle(&mut self, at: Minutes) {
        for i in std::mem::take(&mut self.blinked) {
            if !self.in_service[i] {
                continue;
            }
            // Out and in again within the minute is one minute out.
            let from = self.out.open[i].take().unwrap_or(at);
            let to = if from == at { at + Minutes(1) } else { at };
            self.out.add(i, Period { from, to });
        }
        for i in 0..self.in_service.len() {
            self.out.set(i, !self.in_service[i], at);
        }
        for (id, group) in self.g.job.groups.iter() {
            let live = self.g.net.circuit_live(&self.live, group.feed);
            self.feed_dead.set(id.index(), !live, at);
            if live {
                self.resting.set(id.index(), false, at);
            }
        }
        self.note_still_live();
    }

    fn note_still_live(&mut self) {
        let job = self.g.job;
        for task in self.running.keys() {
            let t = &self.tasks[*task];
            if t.kind.mode() != Mode::Dead {
                continue;
            }
            let board = t.position.and_then(|p| job.positions[p].board).or(t.board);
            let mut at: Vec<PositionId> = t.position.into_iter().collect();
            if let Some(b) = board {
                at.extend([job.boards[b].incoming, job.boards[b].ways]);
                at.extend(job.positions.iter().filter(|(_, p)| p.board == Some(b)).map(|(i, _)| i));
            }
            for node in at.iter().flat_map(|p| &job.positions[*p].enclosed) {
                if self.g.net.live_node(&self.live, *node) {
                    self.still_live.entry(*task).or_default().insert(*node);
                }
            }
        }
    }

    fn close(self, events: &[Event]) -> History {
        let job = self.g.job;
        let end = job.span.to;
        let walking = walking(self.g, self.tasks, &self.work);
        let visits = person_visits(self.g, &self.work);
        let mut ridden = self.ridden;
        for (count, since) in self.riding.values().filter(|(count, _)| *count > 0) {
            let _ = count;
            ridden += end - *since;
        }
        let out = self.out.finish(end);
        let mut outages = BTreeMap::new();
        for (id, load) in job.loads.iter() {
            outages.insert(id, price::load_outages(load, &|c| out[c.index()].clone()));
        }
        let mut cost = price::all_outages(self.g, &outages);
        cost.visits = &job.policy.v * whole(visits);
        cost.riding = &job.policy.h * ridden.exact() / whole(60);
        History {
            out,
            outages,
            feed_dead: self.feed_dead.finish(end),
            resting: self.resting.finish(end),
            function_tests: self.function_tests,
            still_live: (self.still_live.into_iter())
                .map(|(t, nodes)| (t, nodes.into_iter().collect()))
                .collect(),
            parted: self.parted,
            cost,
            lock_operations: self.locks,
            walking,
            finish: events.last().map_or(job.span.from, |e| e.at),
        }
    }
}

/// (J − bound) / J, to four places; 0 when J is 0.
pub fn gap(j: &Exact, bound: &Exact) -> Exact {
    use num_traits::Zero;
    if j.is_zero() {
        return Exact::zero();
    }
    let scale = whole(10_000);
    ((j - bound) / j * &scale).round() / scale
}
