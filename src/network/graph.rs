//! The graph itself, and the facts of the job that its queries need, copied out once.

use super::bits::IdSet;
use super::state::State;
use crate::model::{
    CircuitId, DeviceId, Id, Job, JointId, Lanes, NodeId, PositionId, SelfActing, Wire, WireSet,
};
use petgraph::graph::{EdgeIndex, NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;
use std::collections::VecDeque;

/// One conductor at one node.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Spot {
    /// Where.
    pub node: NodeId,
    /// Which conductor, named for what it carries there.
    pub wire: Wire,
}

/// What joins two nodes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Link {
    /// A device.
    Device(DeviceId),
    /// A joint.
    Joint(JointId),
}

/// One conductor's way through a device or a joint: an edge of the graph.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lane {
    /// Through what.
    pub link: Link,
    /// A device opens this conductor.
    pub breaks: bool,
    /// A lock on the device isolates this conductor: it opens it and is suitable for isolation.
    pub isolates: bool,
}

pub(super) type Vertex = NodeIndex<u32>;

/// Distance of vertices from which no source can be reached, whatever is closed or made.
pub(super) const FAR: u32 = u32::MAX;

/// A source, as far as the network is concerned.
#[derive(Clone, Debug)]
pub(super) struct Feed {
    pub(super) node: NodeId,
    pub(super) watches: Option<NodeId>,
    /// Its lines and its neutral.
    pub(super) vertices: Vec<Vertex>,
    /// Those of them that are a danger: all lines, and N unless it is declared earthed.
    pub(super) threats: Vec<Vertex>,
}

#[derive(Clone, Debug)]
pub(super) struct Own {
    pub(super) nodes: Vec<NodeId>,
    pub(super) joints: Vec<JointId>,
    pub(super) group: Vec<CircuitId>,
}

/// The undirected multigraph of conductors of a job.
#[derive(Clone, Debug)]
pub struct Network {
    pub(super) graph: UnGraph<Spot, Lane>,
    /// By node, then by wire.
    spots: Vec<[Option<Vertex>; 5]>,
    pub(super) feeds: Vec<Feed>,
    /// By vertex: a source's danger stands here.
    pub(super) threat: Vec<bool>,
    /// By vertex: N of a source declared earthed, where every path along N ends.
    pub(super) ends: Vec<bool>,
    /// By vertex: links to the nearest danger with everything closed and made, or [`FAR`].
    pub(super) far: Vec<u32>,
    /// The same to the nearest conductor of any source, an earthed N included.
    pub(super) far_from_supply: Vec<u32>,
    /// By device.
    pub(super) lanes_of: Vec<Vec<EdgeIndex>>,
    pub(super) acting: Vec<(DeviceId, SelfActing)>,
    pub(super) acts: IdSet<DeviceId>,
    pub(super) overcurrent: IdSet<DeviceId>,
    pub(super) lockable: IdSet<DeviceId>,
    pub(super) joint_ends: Vec<(NodeId, NodeId)>,
    pub(super) own: Vec<Own>,
    /// By node: the circuits whose own conductors beyond joints it holds.
    pub(super) circuits_at: Vec<Vec<CircuitId>>,
    pub(super) bare: Vec<Vec<NodeId>>,
    pub(super) exposes: Vec<Vec<PositionId>>,
    pub(super) earth: NodeId,
    pub(super) bars: IdSet<NodeId>,
    pub(super) old: State,
}

impl Network {
    /// Builds the network of a job. Linear in its size.
    pub fn build(job: &Job) -> Network {
        let mut network = Network {
            graph: UnGraph::default(),
            spots: vec![[None; 5]; job.nodes.len()],
            feeds: Vec::new(),
            threat: Vec::new(),
            ends: Vec::new(),
            far: Vec::new(),
            far_from_supply: Vec::new(),
            lanes_of: vec![Vec::new(); job.devices.len()],
            acting: Vec::new(),
            acts: IdSet::new(job.devices.len()),
            overcurrent: IdSet::new(job.devices.len()),
            lockable: IdSet::new(job.devices.len()),
            joint_ends: job.joints.rows().iter().map(|j| (j.a, j.b)).collect(),
            own: Vec::new(),
            circuits_at: vec![Vec::new(); job.nodes.len()],
            bare: Vec::new(),
            exposes: Vec::new(),
            earth: job.earth,
            bars: job.nodes.iter().filter(|(_, n)| n.neutral_bar).map(|(id, _)| id).collect(),
            old: State::old(job),
        };
        for (id, node) in job.nodes.iter() {
            for wire in node.wires.iter() {
                network.grow(Spot { node: id, wire });
            }
        }
        for (id, d) in job.devices.iter() {
            network.join(Link::Device(id), d.a, d.b, d.wires, d.breaks, d.isolates);
            if let Some(acting) = d.self_acting {
                network.acting.push((id, acting));
                network.acts.insert(id);
            }
            network.overcurrent.set(id, d.overcurrent);
            network.lockable.set(id, d.lockable && d.isolates);
        }
        for (id, j) in job.joints.iter() {
            network.join(Link::Joint(id), j.a, j.b, j.wires, WireSet::EMPTY, false);
        }
        network.find_sources(job);
        network.find_owners(job);
        network.measure();
        network
    }

    fn grow(&mut self, spot: Spot) -> Vertex {
        let slot = &mut self.spots[spot.node.index()][spot.wire.index()];
        *slot.get_or_insert_with(|| self.graph.add_node(spot))
    }

    fn join(&mut self, link: Link, a: NodeId, b: NodeId, lanes: Lanes, breaks: WireSet, fit: bool) {
        for (at_a, at_b) in lanes.iter() {
            // PE and PEN are never broken by a device, whatever the job says of it.
            let breaks = breaks.has(at_a) && at_a != Wire::PE;
            let lane = Lane { link, breaks, isolates: breaks && fit };
            let from = self.grow(Spot { node: a, wire: at_a });
            let to = self.grow(Spot { node: b, wire: at_b });
            let edge = self.graph.add_edge(from, to, lane);
            if let Link::Device(device) = link {
                self.lanes_of[device.index()].push(edge);
            }
        }
    }

    fn find_sources(&mut self, job: &Job) {
        self.threat = vec![false; self.graph.node_count()];
        self.ends = vec![false; self.graph.node_count()];
        for (id, node) in job.nodes.iter() {
            let Some(source) = node.source() else { continue };
            let mut feed =
                Feed { node: id, watches: source.watches, vertices: vec![], threats: vec![] };
            for wire in node.wires.iter().filter(|w| *w != Wire::PE) {
                let Some(vertex) = self.vertex(Spot { node: id, wire }) else { continue };
                feed.vertices.push(vertex);
                if wire == Wire::N && source.earthed_neutral() {
                    self.ends[vertex.index()] = true;
                } else {
                    self.threat[vertex.index()] = true;
                    feed.threats.push(vertex);
                }
            }
            self.feeds.push(feed);
        }
    }

    fn find_owners(&mut self, job: &Job) {
        for (id, circuit) in job.circuits.iter() {
            self.own.push(Own { nodes: circuit.nodes.clone(), joints: vec![], group: vec![id] });
            for node in &circuit.nodes {
                self.circuits_at[node.index()].push(id);
            }
        }
        for (id, joint) in job.joints.iter() {
            if let Some((circuit, _)) = joint.of {
                self.own[circuit.index()].joints.push(id);
            }
        }
        for group in &job.neutral_groups {
            for circuit in group {
                self.own[circuit.index()].group = group.clone();
            }
        }
        for (id, position) in job.positions.iter() {
            let mut bare = [&position.bare[..], &position.other_fed[..]].concat();
            bare.sort();
            bare.dedup();
            self.bare.push(bare);
            self.exposes.push(match position.board.map(|b| &job.boards[b]) {
                Some(board) if id == board.incoming => vec![id, board.ways],
                Some(board) if id == board.ways && !board.incoming_shrouded => {
                    vec![id, board.incoming]
                }
                _ => vec![id],
            });
        }
    }

    fn measure(&mut self) {
        let threats = self.feeds.iter().flat_map(|f| &f.threats);
        self.far = self.distances(threats, |v| !self.ends[v.index()]);
        let supplies = self.feeds.iter().flat_map(|f| &f.vertices);
        self.far_from_supply = self.distances(supplies, |_| true);
    }

    /// Breadth first, with everything closed and made.
    fn distances<'a>(
        &self,
        starts: impl Iterator<Item = &'a Vertex>,
        enter: impl Fn(Vertex) -> bool,
    ) -> Vec<u32> {
        let mut far = vec![FAR; self.graph.node_count()];
        let mut queue: VecDeque<Vertex> = starts.copied().collect();
        for vertex in &queue {
            far[vertex.index()] = 0;
        }
        while let Some(vertex) = queue.pop_front() {
            for next in self.graph.neighbors(vertex) {
                if far[next.index()] == FAR && enter(next) {
                    far[next.index()] = far[vertex.index()] + 1;
                    queue.push_back(next);
                }
            }
        }
        far
    }

    /// The vertex of a conductor, if the job has it.
    pub(super) fn vertex(&self, spot: Spot) -> Option<Vertex> {
        self.spots.get(spot.node.index())?[spot.wire.index()]
    }

    /// The vertices of a node, lines first.
    pub(super) fn vertices(&self, node: NodeId) -> impl Iterator<Item = Vertex> + '_ {
        self.spots.get(node.index()).into_iter().flatten().flatten().copied()
    }

    /// The conductors of these nodes, in order, once each.
    pub fn spots(&self, nodes: &[NodeId]) -> Vec<Spot> {
        let mut spots: Vec<Spot> =
            nodes.iter().flat_map(|n| self.vertices(*n)).map(|v| self.graph[v]).collect();
        spots.sort();
        spots.dedup();
        spots
    }

    /// The edges at a vertex: lane, edge number, far end.
    pub(super) fn lanes(&self, at: Vertex) -> impl Iterator<Item = (&Lane, usize, Vertex)> + '_ {
        self.graph.edges(at).map(|e| (e.weight(), e.id().index(), e.target()))
    }

    /// How many conductors and how many lanes there are.
    pub fn size(&self) -> (usize, usize) {
        (self.graph.node_count(), self.graph.edge_count())
    }
}
