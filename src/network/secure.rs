//! What is secured (planning model, section 2): every path to every source, taking every device
//! that carries no lock as closed, is broken by a locked device that isolates that conductor, or
//! by a joint that is not there.

use super::graph::{Lane, Link, Network, Spot, Vertex};
use super::state::State;
use super::upstream::Upstream;
use super::walk::Hop;
use crate::model::{DeviceId, Id, NodeId, PositionId};
use std::collections::BTreeSet;

impl Network {
    /// Whether a lane joins its ends for *secured*: no lock isolates it, or the joint is there
    /// or only just taken off.
    #[inline]
    pub(super) fn threatens(&self, state: &State, lane: &Lane) -> bool {
        match lane.link {
            Link::Device(device) => !(lane.isolates && state.locked.has(device)),
            Link::Joint(joint) => self.joined(state, joint),
        }
    }

    #[inline]
    pub(super) fn joined(&self, state: &State, joint: crate::model::JointId) -> bool {
        state.made.has(joint) || state.loose.has(joint)
    }

    /// Whether every conductor of these nodes is secured. PE is earthed and never asked.
    pub fn secured(&self, state: &State, nodes: &[NodeId]) -> bool {
        self.escape(state, &self.spots(nodes)).is_none()
    }

    /// A path to a source that no lock and no removed joint breaks, from one of these
    /// conductors; `None` if all are secured.
    pub fn escape(&self, state: &State, spots: &[Spot]) -> Option<(Spot, Vec<Hop>)> {
        self.seek(
            spots.iter().filter_map(|s| self.vertex(*s)),
            |lane| self.threatens(state, lane),
            |v| self.ends[v.index()],
            |v| self.threat[v.index()],
        )
    }

    /// The nodes bare at a position, fed from elsewhere or not.
    pub fn bare(&self, position: PositionId) -> &[NodeId] {
        &self.bare[position.index()]
    }

    /// The positions that dead work at this one lays open: itself, the ways with the incoming
    /// terminals, and these with the ways unless they stay shrouded.
    pub fn exposes(&self, position: PositionId) -> &[PositionId] {
        &self.exposes[position.index()]
    }

    /// All nodes that dead work at a position lays open, in order.
    pub fn laid_open(&self, position: PositionId) -> Vec<NodeId> {
        let mut nodes: Vec<NodeId> =
            self.exposes(position).iter().flat_map(|p| self.bare(*p)).copied().collect();
        nodes.sort();
        nodes.dedup();
        nodes
    }

    /// The locked devices first met on every path from a position towards a source, in order:
    /// from each of its conductors for itself, so that a lock between two of them counts. Where
    /// loops come back to the place a lock more may be told than a walk along every path would
    /// find, never one less.
    pub fn securing_devices(&self, state: &State, position: PositionId) -> Vec<DeviceId> {
        if state.locked.is_empty() {
            return Vec::new();
        }
        let spots = self.spots(self.bare(position));
        Upstream::joined(self, state).securing_devices(self, state, &spots)
    }
}

impl Upstream {
    /// [`Network::securing_devices`] for any conductors, where [`Upstream::joined`] of the state
    /// is known: it holds as long as no joint is made or removed, whatever is switched or locked.
    pub fn securing_devices(
        &self,
        network: &Network,
        state: &State,
        spots: &[Spot],
    ) -> Vec<DeviceId> {
        let mut devices = BTreeSet::new();
        if state.locked.is_empty() {
            return Vec::new();
        }
        let starts: Vec<Vertex> = spots.iter().filter_map(|s| network.vertex(*s)).collect();
        let whole = self.section(network, &starts);
        let mut done = vec![false; whole.vertices.len()];
        for &start in &whole.starts {
            if done[start] {
                continue;
            }
            // Conductors with no lock between them have the same locks around them.
            let near = whole.spread([start].into_iter(), &|edge, _| {
                network.threatens(state, &network.graph[whole.edges[edge].0])
            });
            let alike: Vec<usize> = whole.starts.iter().copied().filter(|s| near[*s]).collect();
            for start in &alike {
                done[*start] = true;
            }
            let vertices: Vec<Vertex> = alike.iter().map(|s| whole.vertices[*s]).collect();
            let section = self.section(network, &vertices);
            for (edge, a, b) in &section.edges {
                let touches = |at: usize| near[whole.index[&section.vertices[at]]];
                let lane = &network.graph[*edge];
                if let Link::Device(device) = lane.link
                    && !network.threatens(state, lane)
                    && (touches(*a) || touches(*b))
                {
                    devices.insert(device);
                }
            }
        }
        devices.into_iter().collect()
    }
}
