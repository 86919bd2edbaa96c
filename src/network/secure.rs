//! What is secured (planning model, section 2): every path to every source, taking every device
//! that carries no lock as closed, is broken by a locked device that isolates that conductor, or
//! by a joint that is not there.

use super::graph::{Lane, Link, Network, Spot, Vertex};
use super::state::State;
use super::walk::Hop;
use crate::model::{DeviceId, Id, NodeId, PositionId};

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

    /// The locked devices first met on every path from a position towards a source, in order.
    /// Paths that come back to what is joined to the position count from where they last leave.
    pub fn securing_devices(&self, state: &State, position: PositionId) -> Vec<DeviceId> {
        let starts: Vec<Vertex> =
            self.bare(position).iter().flat_map(|n| self.vertices(*n)).collect();
        let frontier = self.frontier(
            &starts,
            |lane| self.threatens(state, lane),
            |lane| matches!(lane.link, Link::Device(_)),
            |lane| match lane.link {
                Link::Device(_) => true,
                Link::Joint(joint) => self.joined(state, joint),
            },
            |v| self.threat[v.index()],
        );
        frontier.devices
    }
}
