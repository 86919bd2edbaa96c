//! What a replay found, kept for the pages that are drawn from it.

use super::charge::{ChargeStep, Charging};
use super::cost::Cost;
use super::now::{DeviceState, Now};
use super::outages::Outage;
use super::proof::Proofs;
use super::track::Track;
use super::wiring::of;
use crate::model::*;
use crate::units::{Exact, Minutes, Period};
use std::collections::{BTreeMap, BTreeSet};

/// A task as it was carried out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TaskRun {
    /// Its people.
    pub who: Vec<PersonId>,
    /// Its instrument.
    pub instrument: Option<InstrumentId>,
    /// When it started.
    pub start: Minutes,
    /// When it ended, and whether passed; none if it never did.
    pub end: Option<(Minutes, bool)>,
}

/// Everything that changed, over time.
///
/// Each [`Track`] can be asked for its value at a minute (after all events of that minute), after
/// an event, or for all its changes.
#[derive(Clone, Debug)]
pub struct Replay {
    devices: Vec<Track<DeviceState>>,
    joints: Vec<Track<bool>>,
    surges: Vec<Track<bool>>,
    resting: Vec<Track<bool>>,
    covers: Vec<Track<bool>>,
    boxes: Vec<Track<BTreeSet<Who>>>,
    live: Vec<Track<Vec<(Wire, NodeId)>>>,
    secured: Vec<Track<bool>>,
    proved: Vec<Track<bool>>,
    pub(super) in_service: Vec<Track<bool>>,
    pub(super) riding: Vec<Track<Option<SupplyId>>>,
    pub(super) charge: Vec<Vec<ChargeStep>>,
    pub(super) occupied: Vec<Vec<Period>>,
    pub(super) tasks: Vec<Option<TaskRun>>,
    pub(super) outages: Vec<Vec<Outage>>,
    pub(super) still_live: BTreeMap<TaskId, BTreeSet<NodeId>>,
    pub(super) cost: Cost,
    pub(super) walking: i64,
    pub(super) lock_operations: i64,
    pub(super) finish: Minutes,
    pub(super) visits: Vec<Period>,
}

impl Replay {
    pub(super) fn new(now: &Now, proofs: &Proofs, cost: Cost) -> Replay {
        let job = now.site.job;
        let from = job.span.from;
        Replay {
            devices: now.devices.iter().map(|d| Track::new(from, d.clone())).collect(),
            joints: now.joints.iter().map(|j| Track::new(from, *j)).collect(),
            surges: now.surges.iter().map(|s| Track::new(from, *s)).collect(),
            resting: now.rest.iter().map(|r| Track::new(from, *r)).collect(),
            covers: now.covers.iter().map(|c| Track::new(from, *c)).collect(),
            boxes: now.boxes.iter().map(|b| Track::new(from, b.clone())).collect(),
            live: job.nodes.ids().map(|n| Track::new(from, live_at(now, n))).collect(),
            secured: job.positions.ids().map(|p| Track::new(from, secured(now, p))).collect(),
            proved: job.positions.ids().map(|p| Track::new(from, proofs.holds(p))).collect(),
            in_service: Vec::new(),
            riding: Vec::new(),
            charge: Vec::new(),
            occupied: Vec::new(),
            tasks: Vec::new(),
            outages: Vec::new(),
            still_live: BTreeMap::new(),
            cost,
            walking: 0,
            lock_operations: 0,
            finish: from,
            visits: now.site.visits.clone(),
        }
    }

    /// Notes what the event just applied has changed.
    pub(super) fn note(&mut self, now: &Now, proofs: &Proofs) {
        fn all<T: PartialEq + Clone>(tracks: &mut [Track<T>], values: &[T], now: &Now) {
            for (track, value) in tracks.iter_mut().zip(values) {
                if track.last() != value {
                    track.set(now.t, now.event, value.clone());
                }
            }
        }
        let job = now.site.job;
        all(&mut self.devices, &now.devices, now);
        all(&mut self.joints, &now.joints, now);
        all(&mut self.surges, &now.surges, now);
        all(&mut self.resting, &now.rest, now);
        all(&mut self.covers, &now.covers, now);
        all(&mut self.boxes, &now.boxes, now);
        let nodes: BTreeSet<NodeId> = now.relit.keys().map(|c| now.site.wiring.at[*c].0).collect();
        for n in nodes {
            self.live[n.index()].set(now.t, now.event, live_at(now, n));
        }
        for p in job.positions.ids() {
            if now.resecured {
                self.secured[p.index()].set(now.t, now.event, secured(now, p));
            }
            self.proved[p.index()].set(now.t, now.event, proofs.holds(p));
        }
    }

    /// How a device stands: closed, open, or locked, with its locks.
    pub fn device(&self, id: DeviceId) -> &Track<DeviceState> {
        &self.devices[id.index()]
    }

    /// Whether a joint is made.
    pub fn joint(&self, id: JointId) -> &Track<bool> {
        &self.joints[id.index()]
    }

    /// Whether a cartridge or listed electronics is in.
    pub fn fitted(&self, id: SurgeId) -> &Track<bool> {
        &self.surges[id.index()]
    }

    /// Whether a group is in rest mode.
    pub fn resting(&self, id: GroupId) -> &Track<bool> {
        &self.resting[id.index()]
    }

    /// Whether a board's cover is on and its unused ways blanked.
    pub fn cover_on(&self, id: BoardId) -> &Track<bool> {
        &self.covers[id.index()]
    }

    /// Whose locks are on a lock box.
    pub fn lock_box(&self, id: BoxId) -> &Track<BTreeSet<Who>> {
        &self.boxes[id.index()]
    }

    /// The live conductors of a node, each with the sources that make it live.
    pub fn live(&self, id: NodeId) -> &Track<Vec<(Wire, NodeId)>> {
        &self.live[id.index()]
    }

    /// Whether all that is bare at a position is isolated and locked off.
    pub fn secured(&self, id: PositionId) -> &Track<bool> {
        &self.secured[id.index()]
    }

    /// Whether a proof of the whole position holds.
    pub fn proved(&self, id: PositionId) -> &Track<bool> {
        &self.proved[id.index()]
    }

    /// Whether a circuit is live for service.
    pub fn in_service(&self, id: CircuitId) -> &Track<bool> {
        &self.in_service[id.index()]
    }

    /// Which temporary supply carries a circuit.
    pub fn riding(&self, id: CircuitId) -> &Track<Option<SupplyId>> {
        &self.riding[id.index()]
    }

    /// A group's charge ledger: what its battery does from when, and the charge at that instant.
    pub fn charge(&self, id: GroupId) -> &[ChargeStep] {
        &self.charge[id.index()]
    }

    /// When an area counts as occupied: by its users, and by people at work there whose task
    /// lighting the job does not name. Spans may overlap.
    pub fn occupied(&self, id: AreaId) -> &[Period] {
        &self.occupied[id.index()]
    }

    /// Minutes of autonomy that a group has at `t`.
    pub fn charge_at(&self, job: &Job, id: GroupId, t: Minutes) -> Exact {
        let steps = &self.charge[id.index()];
        let after = steps.partition_point(|s| s.from <= t);
        match steps.get(after.saturating_sub(1)) {
            Some(step) => super::charge::after(&job.groups[id], step, t - step.from),
            None => job.groups[id].charge.clone(),
        }
    }

    /// What a group's battery does at `t`.
    pub fn charging_at(&self, id: GroupId, t: Minutes) -> Option<Charging> {
        let steps = &self.charge[id.index()];
        steps[..steps.partition_point(|s| s.from <= t)].last().map(|s| s.does)
    }

    /// A task as carried out; none if it never began.
    pub fn task(&self, id: TaskId) -> Option<&TaskRun> {
        self.tasks[id.index()].as_ref()
    }

    /// The tasks that run at `t`, in order of their ids.
    pub fn running_at(&self, t: Minutes) -> Vec<TaskId> {
        self.tasks
            .iter()
            .enumerate()
            .filter(|(_, run)| {
                run.as_ref().is_some_and(|r| r.start <= t && r.end.is_none_or(|(e, _)| t < e))
            })
            .map(|(i, _)| TaskId::new(i))
            .collect()
    }

    /// A load's outages, with what its battery leaves of them.
    pub fn outages(&self, id: LoadId) -> &[Outage] {
        &self.outages[id.index()]
    }

    /// By dead task: the enclosed nodes that have a live line at some minute of it.
    pub fn still_live(&self) -> &BTreeMap<TaskId, BTreeSet<NodeId>> {
        &self.still_live
    }

    /// The downtime cost in its parts, exact.
    pub fn cost(&self) -> &Cost {
        &self.cost
    }

    /// The walking figure.
    pub fn walking(&self) -> i64 {
        self.walking
    }

    /// Locks put on or taken off.
    pub fn lock_operations(&self) -> i64 {
        self.lock_operations
    }

    /// Time of the last event.
    pub fn finish(&self) -> Minutes {
        self.finish
    }

    /// Windows that overlap or touch, as visits.
    pub fn visits(&self) -> &[Period] {
        &self.visits
    }
}

fn live_at(now: &Now, node: NodeId) -> Vec<(Wire, NodeId)> {
    let mut all = Vec::new();
    for wire in now.site.job.nodes[node].wires.iter() {
        let c = of(node, wire);
        if now.lit[c] {
            let feeds = now.live.feeds(c).iter();
            let mut sources: Vec<NodeId> = feeds
                .filter(|f| f.hot && now.sources[f.source.index()])
                .map(|f| f.source)
                .collect();
            sources.sort_unstable();
            sources.dedup();
            all.extend(sources.into_iter().map(|s| (wire, s)));
        }
    }
    all
}

fn secured(now: &Now, p: PositionId) -> bool {
    now.site.bare[p.index()].iter().all(|c| !now.unsure(*c))
}
