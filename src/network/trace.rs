//! Everything that there is to say about one place: plain data with ids, to be put in words
//! elsewhere.

use super::graph::{Network, Spot};
use super::live::LiveSet;
use super::locks::{Cost, Unbreakable};
use super::outage::{Loss, Outages};
use super::paths::Path;
use super::state::State;
use super::upstream::Upstream;
use super::walk::Hop;
use crate::model::{CircuitId, DeviceId, Id, Job, NodeId, PositionId, Wire};
use std::collections::BTreeSet;
use std::sync::Arc;

/// What is asked about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// A position, with all that dead work there lays open.
    Position(PositionId),
    /// A circuit, with its whole neutral group.
    Circuit(CircuitId),
    /// A node, such as a way.
    Node(NodeId),
}

/// What can reach a place in one state, and which locks would keep it away.
#[derive(Clone, Debug)]
pub struct Trace {
    /// What was asked about.
    pub place: Place,
    /// Its lines and neutrals, in order.
    pub conductors: Vec<Conductor>,
    /// Every source that can reach it, with its paths, in the order of the conductors. What is
    /// reached only through another conductor of the place has its path there.
    pub paths: Vec<Path>,
    /// All its conductors are secured.
    pub secured: bool,
    /// The locked devices first met on every path from it towards a source, in order.
    pub relies_on: Vec<DeviceId>,
    /// What is live in its enclosure, shrouded or not, and from where: of a board, at both
    /// positions and whatever passes through.
    pub still_live: Vec<(Spot, Vec<Spot>)>,
    /// The cheapest locks for it and the next best, were none on and what is locked as it was
    /// before the work; or why there are none.
    pub locks: Result<Vec<Alternative>, Unbreakable>,
    /// No cheaper set than the first exists (see [`super::LockSets::exact`]).
    pub exact: bool,
}

/// A conductor of a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conductor {
    /// Which.
    pub spot: Spot,
    /// Conductors of sources that make it live now. Empty: it is dead.
    pub live_from: Vec<Spot>,
    /// No unlocked path leads to a source.
    pub secured: bool,
    /// Some path leads to a source with no lock on, all joints of now and of before made.
    pub reached: bool,
}

/// A set of locks that secures a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alternative {
    /// The devices to be locked, in order.
    pub devices: Vec<DeviceId>,
    /// What that costs.
    pub cost: Cost,
    /// The circuits that go down with it, the place's own included, in order.
    pub takes_down: Arc<[CircuitId]>,
    /// Those of them that neither belong to the place nor have their way at its board, in order.
    pub also: Vec<CircuitId>,
}

/// A place that a missing lock lays open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsafe {
    /// The place.
    pub place: Place,
    /// The conductor of it from which a path leads to a source.
    pub from: Spot,
    /// That path.
    pub hops: Vec<Hop>,
}

/// Answers for all places in one state. Making one is linear in the network; a place then costs
/// about what lies between it and its sources.
#[derive(Debug)]
pub struct Tracer<'a> {
    job: &'a Job,
    network: &'a Network,
    state: State,
    live: LiveSet,
    threats: Upstream,
    /// Where every device is closed, with the joints of old too, and without.
    unlocked: Upstream,
    joined: Upstream,
    /// With no lock on and what is locked as it was before the work, for the choice of locks.
    choice: Upstream,
    outages: Outages<'a>,
}

/// Paths told for each conductor and source.
const PATHS: usize = 3;
/// The best set of locks, and two alternatives.
const SETS: usize = 3;

impl<'a> Tracer<'a> {
    /// For one state of the network of `job`; `losses` price what goes down.
    pub fn new(job: &'a Job, network: &'a Network, state: &State, losses: Vec<Loss>) -> Tracer<'a> {
        let mut free = state.clone();
        for device in state.locked.iter() {
            free.unlock(device);
            free.closed.set(device, network.old.closed.has(device));
        }
        Tracer {
            job,
            network,
            live: network.live(state),
            threats: Upstream::new(network, state),
            unlocked: Upstream::unlocked(network, state),
            joined: Upstream::joined(network, state),
            choice: Upstream::new(network, &free),
            outages: Outages::new(network, &free, losses),
            state: state.clone(),
        }
    }

    /// What is live.
    pub fn live(&self) -> &LiveSet {
        &self.live
    }

    /// The nodes of a place.
    pub fn nodes(&self, place: Place) -> Vec<NodeId> {
        match place {
            Place::Position(position) => self.network.laid_open(position),
            Place::Node(node) => vec![node],
            Place::Circuit(circuit) => {
                let group = self.network.neutral_group(circuit).iter();
                let mut nodes: Vec<NodeId> =
                    group.flat_map(|c| self.network.own_nodes(&self.state, *c)).collect();
                nodes.sort();
                nodes.dedup();
                nodes
            }
        }
    }

    /// Traces one place. Its own circuits and those of its board, which are down for the work
    /// anyhow, are not counted in the cost of locks. `forbidden` and `forced` as in [`super::lock_sets`].
    pub fn trace(&self, place: Place, forbidden: &[DeviceId], forced: &[DeviceId]) -> Trace {
        let nodes = self.nodes(place);
        let spots = self.spots(&nodes);
        let conductors: Vec<Conductor> = spots.iter().map(|s| self.conductor(*s)).collect();
        let mut here: BTreeSet<CircuitId> = self.fed_here(place);
        here.extend(self.own_circuits(&nodes));
        let own: Vec<CircuitId> = here.iter().copied().collect();
        let price = self.outages.beyond(&own);
        let sets = self.choice.lock_sets(self.network, &nodes, &price, forbidden, forced, SETS);
        let exact = sets.as_ref().map_or(true, |s| s.exact);
        let tell = |set: super::LockSet| {
            let takes_down = self.outages.of(&set.devices).1;
            let also = takes_down.iter().copied().filter(|c| !here.contains(c)).collect();
            Alternative { takes_down, also, devices: set.devices, cost: set.cost }
        };
        Trace {
            place,
            secured: conductors.iter().all(|c| c.secured),
            conductors,
            paths: self.network.paths(&self.unlocked, &self.state, &spots, PATHS),
            relies_on: self.joined.securing_devices(self.network, &self.state, &spots),
            still_live: self.still_live(place),
            locks: sets.map(|s| s.sets.into_iter().map(tell).collect()),
            exact,
        }
    }

    /// Which of these places are secured now and would not be if the lock on `device` were
    /// missing, each with a path.
    pub fn without(&self, device: DeviceId, places: &[Place]) -> Vec<Unsafe> {
        let state = self.state.without_lock(device);
        let threats = Upstream::new(self.network, &state);
        let mut found = Vec::new();
        for &place in places {
            let spots = self.spots(&self.nodes(place));
            let open = |up: &Upstream| spots.iter().any(|s| up.reaches(self.network, *s));
            if open(&self.threats) || !open(&threats) {
                continue;
            }
            if let Some((from, hops)) = self.network.escape(&state, &spots) {
                found.push(Unsafe { place, from, hops });
            }
        }
        found
    }

    fn spots(&self, nodes: &[NodeId]) -> Vec<Spot> {
        let mut spots = self.network.spots(nodes);
        spots.retain(|s| s.wire != Wire::PE);
        spots
    }

    fn conductor(&self, spot: Spot) -> Conductor {
        Conductor {
            spot,
            live_from: self.network.live_from(&self.live, spot).to_vec(),
            secured: !self.threats.reaches(self.network, spot),
            reached: self.unlocked.reaches(self.network, spot),
        }
    }

    fn own_circuits(&self, nodes: &[NodeId]) -> Vec<CircuitId> {
        let mut own: Vec<CircuitId> =
            nodes.iter().flat_map(|n| &self.network.circuits_at[n.index()]).copied().collect();
        own.sort();
        own.dedup();
        own
    }

    /// The circuits that are connected to ways of the place's board.
    fn fed_here(&self, place: Place) -> BTreeSet<CircuitId> {
        let Place::Position(position) = place else { return BTreeSet::new() };
        let Some(board) = self.job.positions[position].board else { return BTreeSet::new() };
        let inside = self.job.devices.rows().iter().filter(|d| d.enclosure == Some(board));
        let ways: BTreeSet<NodeId> = inside.flat_map(|d| [d.a, d.b]).collect();
        let made = self.job.joints.iter().filter(|(id, _)| self.state.made.has(*id));
        let here = made.filter(|(_, j)| ways.contains(&j.a) || ways.contains(&j.b));
        here.filter_map(|(_, j)| j.of.map(|(c, _)| c)).collect()
    }

    fn still_live(&self, place: Place) -> Vec<(Spot, Vec<Spot>)> {
        let positions = match place {
            Place::Position(p) => match self.job.positions[p].board.map(|b| &self.job.boards[b]) {
                Some(board) => vec![board.incoming, board.ways],
                None => vec![p],
            },
            _ => vec![],
        };
        let inside = |p: &PositionId| {
            let enclosed = &self.job.positions[*p].enclosed;
            self.network.bare(*p).iter().chain(enclosed).copied().collect::<Vec<_>>()
        };
        let mut nodes: Vec<NodeId> = positions.iter().flat_map(inside).collect();
        if !matches!(place, Place::Position(_)) {
            nodes = self.nodes(place);
        }
        let live = |s: &Spot| self.network.live_from(&self.live, *s).to_vec();
        let spots = self.spots(&nodes).into_iter().map(|s| (s, live(&s)));
        spots.filter(|(_, from)| !from.is_empty()).collect()
    }
}
