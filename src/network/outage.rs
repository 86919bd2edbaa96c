//! What goes down with a set of locks, and the price that follows from it.

use super::graph::{FAR, Lane, Link, Network, Vertex};
use super::live::LiveSet;
use super::locks::Price;
use super::state::State;
use crate::model::{CircuitId, DeviceId, Id, NodeId};
use std::cell::RefCell;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};
use std::sync::Arc;

impl Network {
    /// The circuits in service now that lose a line or N when these devices are locked and
    /// nothing starts or changes over by itself to help, in order. That is how locks are priced:
    /// where a generator would take over, the work needs it locked off as well (W7).
    ///
    /// Time goes with what goes down, not with the network.
    pub fn takes_down(&self, state: &State, live: &LiveSet, locks: &[DeviceId]) -> Vec<CircuitId> {
        let mut down = BTreeSet::new();
        for vertex in self.darkened(state, live, locks) {
            let circuits = &self.circuits_at[self.graph[vertex].node.index()];
            down.extend(circuits.iter().filter(|c| self.circuit_fed(live, **c)));
        }
        down.into_iter().collect()
    }

    /// The devices on one way by which a source that always runs feeds a line of the node, whatever
    /// acts by itself: opening any other leaves the node live. `None` if there is no such way.
    pub fn way_to(&self, state: &State, node: NodeId) -> Option<Vec<DeviceId>> {
        let far = |v: Vertex| self.far_from_supply[v.index()];
        let on = |lane: &Lane| match lane.link {
            Link::Joint(joint) => state.made.has(joint),
            Link::Device(_) if !lane.breaks => true,
            Link::Device(d) => !self.acts.has(d) && state.closed.has(d) && !state.locked.has(d),
        };
        let always = |v: &Vertex| {
            self.feeds.iter().any(|feed| feed.watches.is_none() && feed.vertices.contains(v))
        };
        let lines = self.vertices(node).filter(|v| self.graph[*v].wire.is_line());
        let mut came: BTreeMap<Vertex, Option<(Vertex, Link)>> = lines.map(|v| (v, None)).collect();
        let mut heap: BinaryHeap<_> = came.keys().map(|v| Reverse((far(*v), *v))).collect();
        while let Some(Reverse((distance, vertex))) = heap.pop() {
            if distance == 0 && always(&vertex) {
                let mut devices = Vec::new();
                let mut at = vertex;
                while let Some((before, link)) = came[&at] {
                    devices.extend(match link {
                        Link::Device(d) => Some(d),
                        Link::Joint(_) => None,
                    });
                    at = before;
                }
                return Some(devices);
            }
            for (lane, _, next) in self.lanes(vertex) {
                if on(lane) && far(next) != FAR && !came.contains_key(&next) {
                    came.insert(next, Some((vertex, lane.link)));
                    heap.push(Reverse((far(next), next)));
                }
            }
        }
        None
    }

    /// Conductors that are cut off from every running source.
    fn darkened(&self, state: &State, live: &LiveSet, locks: &[DeviceId]) -> BTreeSet<Vertex> {
        let now = |lane: &Lane| self.conducts(state, &live.acted, lane);
        let then = |lane: &Lane| {
            let opened = |d: DeviceId| lane.breaks && locks.contains(&d);
            now(lane) && !matches!(lane.link, Link::Device(d) if opened(d))
        };
        let mut dark = BTreeSet::new();
        let lanes = locks.iter().flat_map(|d| &self.lanes_of[d.index()]);
        for edge in lanes {
            let lane = &self.graph[*edge];
            let Some((a, b)) = self.graph.edge_endpoints(*edge) else { continue };
            if lane.breaks && now(lane) && live.feed[a.index()] != 0 {
                for end in [a, b] {
                    if !dark.contains(&end) {
                        dark.extend(self.cut_off(end, live, then));
                    }
                }
            }
        }
        dark
    }

    /// All that is joined to `start`, if no running source is.
    fn cut_off(&self, start: Vertex, live: &LiveSet, on: impl Fn(&Lane) -> bool) -> Vec<Vertex> {
        let far = |v: Vertex| self.far_from_supply[v.index()];
        let mut met = BTreeSet::from([start]);
        let mut heap = BinaryHeap::from([Reverse((far(start), start))]);
        while let Some(Reverse((distance, vertex))) = heap.pop() {
            if distance == 0 && live.running.contains(&self.graph[vertex].node) {
                return Vec::new();
            }
            for (lane, _, next) in self.lanes(vertex) {
                if on(lane) && far(next) != FAR && met.insert(next) {
                    heap.push(Reverse((far(next), next)));
                }
            }
        }
        met.into_iter().collect()
    }
}

/// What is lost, once, as soon as one of its circuits goes down.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Loss {
    /// How much that is, in the caller's unit.
    pub weight: u64,
    /// Its circuits, none twice.
    pub circuits: Vec<CircuitId>,
}

/// The total weight of what goes down, and its circuits, in order.
pub type Down = (u64, Arc<[CircuitId]>);

/// What goes down with which locks in one state, worked out once for each set that is asked for:
/// the locks near the supply are asked for at every place, and take down the whole site.
#[derive(Debug)]
pub struct Outages<'a> {
    network: &'a Network,
    state: State,
    live: LiveSet,
    losses: Vec<Loss>,
    /// By circuit: which losses it is part of.
    part_of: Vec<Vec<usize>>,
    known: RefCell<BTreeMap<Vec<DeviceId>, Down>>,
}

impl<'a> Outages<'a> {
    /// For locks put on in `state`.
    pub fn new(network: &'a Network, state: &State, losses: Vec<Loss>) -> Self {
        let mut part_of = vec![Vec::new(); network.own.len()];
        for (i, loss) in losses.iter().enumerate() {
            for circuit in &loss.circuits {
                part_of[circuit.index()].push(i);
            }
        }
        Outages {
            live: network.live(state),
            known: RefCell::default(),
            state: state.clone(),
            network,
            losses,
            part_of,
        }
    }

    /// The total weight and the circuits of [`Network::takes_down`].
    pub fn of(&self, locks: &[DeviceId]) -> Down {
        if let Some(known) = self.known.borrow().get(locks) {
            return known.clone();
        }
        let down = self.network.takes_down(&self.state, &self.live, locks);
        let weight = self.touched(&down).into_iter().map(|i| self.losses[i].weight).sum();
        let answer: Down = (weight, down.into());
        self.known.borrow_mut().insert(locks.to_vec(), answer.clone());
        answer
    }

    /// The losses that some of these circuits are part of.
    fn touched<'c>(&self, circuits: impl IntoIterator<Item = &'c CircuitId>) -> BTreeSet<usize> {
        circuits.into_iter().flat_map(|c| self.part_of[c.index()].iter().copied()).collect()
    }

    /// The price of locks for a place whose own circuits (in order) are out for the work anyhow.
    pub fn beyond<'b>(&'b self, own: &'b [CircuitId]) -> Outage<'b> {
        Outage { all: self, own }
    }
}

/// The price of locks by the weight of what they take down besides a place's own circuits.
#[derive(Clone, Copy, Debug)]
pub struct Outage<'b> {
    all: &'b Outages<'b>,
    own: &'b [CircuitId],
}

impl Price for Outage<'_> {
    fn whole(&self, devices: &[DeviceId]) -> u64 {
        let (weight, down) = self.all.of(devices);
        let is_down = |c: &CircuitId| down.binary_search(c).is_ok();
        let is_own = |c: &CircuitId| self.own.binary_search(c).is_ok();
        // Lost only for the sake of the place's own circuits: out anyhow.
        let anyhow = self.all.touched(self.own.iter().filter(|c| is_down(c)));
        let anyhow = anyhow.into_iter().map(|i| &self.all.losses[i]);
        let anyhow = anyhow.filter(|l| l.circuits.iter().all(|c| is_own(c) || !is_down(c)));
        weight - anyhow.map(|l| l.weight).sum::<u64>()
    }
}
