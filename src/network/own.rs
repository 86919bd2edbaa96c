//! What belongs to a circuit, and what goes dead with a device.

use super::graph::{Lane, Link, Network, Spot, Vertex};
use super::live::LiveSet;
use super::state::State;
use super::walk::Hop;
use crate::model::{CircuitId, DeviceId, Id, JointId, NodeId, Wire};

impl Network {
    /// The neutral group of a circuit, itself included.
    pub fn neutral_group(&self, circuit: CircuitId) -> &[CircuitId] {
        &self.own[circuit.index()].group
    }

    /// Both ends of a joint: whoever makes or removes it has them secured.
    pub fn joint_ends(&self, joint: JointId) -> (NodeId, NodeId) {
        self.joint_ends[joint.index()]
    }

    /// The nodes from which a circuit's own conductors are reached: its own, and both ends of
    /// those of its joints that are there. They are secured exactly when all its own conductors
    /// are, since nothing between them can be opened.
    pub fn own_nodes(&self, state: &State, circuit: CircuitId) -> Vec<NodeId> {
        let own = &self.own[circuit.index()];
        let joints = own.joints.iter().filter(|j| self.joined(state, **j));
        let ends = joints.map(|j| self.joint_ends(*j)).flat_map(|(a, b)| [a, b]);
        let mut nodes: Vec<NodeId> = own.nodes.iter().copied().chain(ends).collect();
        nodes.sort();
        nodes.dedup();
        nodes
    }

    /// A circuit's own lines and neutral: everything reached through joints and unbroken
    /// connections, in order. N is followed onto a neutral bar but not off it again.
    pub fn own_conductors(&self, state: &State, circuit: CircuitId) -> Vec<Spot> {
        let mut stack: Vec<Vertex> = self
            .own_nodes(state, circuit)
            .into_iter()
            .flat_map(|n| self.vertices(n))
            .filter(|v| self.graph[*v].wire != Wire::PE)
            .collect();
        let mut met = vec![false; self.graph.node_count()];
        let mut spots = Vec::new();
        while let Some(vertex) = stack.pop() {
            if std::mem::replace(&mut met[vertex.index()], true) {
                continue;
            }
            let spot = self.graph[vertex];
            spots.push(spot);
            let bar = spot.wire == Wire::N && self.bars.has(spot.node);
            if !bar {
                let whole = |lane: &Lane| match lane.link {
                    Link::Device(_) => !lane.breaks,
                    Link::Joint(joint) => self.joined(state, joint),
                };
                stack.extend(self.lanes(vertex).filter(|(l, _, _)| whole(l)).map(|(_, _, v)| v));
            }
        }
        spots.sort();
        spots
    }

    /// Whether the own conductors of a circuit and of its whole neutral group are secured (W1);
    /// if not, an unbroken path.
    pub fn circuit_escape(&self, state: &State, circuit: CircuitId) -> Option<(Spot, Vec<Hop>)> {
        let group = self.neutral_group(circuit);
        let nodes: Vec<NodeId> = group.iter().flat_map(|c| self.own_nodes(state, *c)).collect();
        self.escape(state, &self.spots(&nodes))
    }

    /// The circuits in `live` that lose a line or N when these devices are opened and locked as
    /// well, in order; sources and devices that act by themselves have acted.
    pub fn goes_dead(&self, state: &State, live: &LiveSet, opened: &[DeviceId]) -> Vec<CircuitId> {
        let after = self.live(&state.with_locks(opened));
        (0..self.own.len())
            .map(CircuitId::new)
            .filter(|c| self.circuit_fed(live, *c) && !self.circuit_fed(&after, *c))
            .collect()
    }
}
