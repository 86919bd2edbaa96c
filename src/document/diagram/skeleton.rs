//! What of the network is drawn: nets, the connections between them, and ways with circuits.
//!
//! A net is one or more nodes that stay joined through the whole plan. A circuit's own conductors
//! are not drawn; its ways are folded into groups at the net that feeds them.

use super::super::Input;
use crate::model::*;
use std::collections::{BTreeMap, BTreeSet};

/// Nodes that stay joined through the whole plan.
#[derive(Clone, Debug, Default)]
pub struct Net {
    /// Its nodes; never empty.
    pub nodes: Vec<NodeId>,
    /// The source among them.
    pub source: Option<NodeId>,
    /// The board whose busbars it is.
    pub bus_of: Option<BoardId>,
    /// The temporary supply whose box it is.
    pub supply: Option<SupplyId>,
    /// Fed from elsewhere, or passing through, at these positions.
    pub elsewhere: Vec<PositionId>,
}

/// What connects two nets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Link {
    /// A switchable connection.
    Device(DeviceId),
    /// One made or removed by hand.
    Joint(JointId),
}

/// A connection between two nets.
#[derive(Clone, Copy, Debug)]
pub struct Edge {
    /// What it is.
    pub link: Link,
    /// Nearer to the sources, once ranked.
    pub up: usize,
    /// Farther from them.
    pub down: usize,
}

/// A place at which a circuit can be connected.
#[derive(Clone, Copy, Debug)]
pub struct Way {
    /// The circuit.
    pub circuit: CircuitId,
    /// Its joint there.
    pub joint: JointId,
    /// Which of its places.
    pub place: Place,
    /// The node of the way.
    pub node: NodeId,
    /// The device of the way; none at the box of a temporary supply.
    pub device: Option<DeviceId>,
    /// The net that feeds it.
    pub net: usize,
}

/// The network as drawn.
#[derive(Clone, Debug, Default)]
pub struct Skeleton {
    /// Nets, those of the earliest nodes first.
    pub nets: Vec<Net>,
    /// Connections between different nets, devices first.
    pub edges: Vec<Edge>,
    /// Ways of circuits, in order of the circuits.
    pub ways: Vec<Way>,
}

impl Skeleton {
    /// The devices drawn on their own, not folded into a group of ways.
    pub fn devices(&self) -> BTreeSet<DeviceId> {
        let device = |e: &Edge| match e.link {
            Link::Device(d) => Some(d),
            Link::Joint(_) => None,
        };
        self.edges.iter().filter_map(device).collect()
    }

    /// The net that is the busbars of a board.
    pub fn bus(&self, board: BoardId) -> Option<usize> {
        self.nets.iter().position(|n| n.bus_of == Some(board))
    }
}

/// The skeleton of a plan's network.
pub fn skeleton(input: &Input) -> Skeleton {
    let job = input.sound.job();
    let replay = input.sound.replay();
    let own: BTreeSet<NodeId> =
        job.circuits.rows().iter().flat_map(|c| c.nodes.iter().copied()).collect();
    let boxes: BTreeSet<NodeId> = job.supplies.rows().iter().map(|s| s.node).collect();
    let folded = folded(job, &own, &boxes);
    let drawn = |n: NodeId| {
        let wires = job.nodes[n].wires;
        let carries = wires.iter().any(|w| w != Wire::PE);
        carries && !own.contains(&n) && !folded.contains_key(&n)
    };
    let mut parent: Vec<usize> = (0..job.nodes.len()).collect();
    let fixed = |j: JointId| replay.joint(j).changes().all(|(_, made)| *made);
    for (id, j) in job.joints.iter() {
        if j.of.is_none() && fixed(id) && drawn(j.a) && drawn(j.b) && carries_current(j.wires) {
            let (a, b) = (root(&parent, j.a.index()), root(&parent, j.b.index()));
            let sources = |r: usize| {
                let mut of = job.nodes.ids().filter(|n| root(&parent, n.index()) == r);
                of.any(|n| job.nodes[n].source().is_some())
            };
            if a != b && !(sources(a) && sources(b)) {
                parent[a.max(b)] = a.min(b);
            }
        }
    }
    let mut out = Skeleton::default();
    let mut at: BTreeMap<usize, usize> = BTreeMap::new();
    for n in job.nodes.ids().filter(|n| drawn(*n)) {
        let index = *at.entry(root(&parent, n.index())).or_insert_with(|| {
            out.nets.push(Net::default());
            out.nets.len() - 1
        });
        let net = &mut out.nets[index];
        net.nodes.push(n);
        if job.nodes[n].source().is_some() {
            net.source = Some(n);
        }
    }
    let net_of = |n: NodeId| at.get(&root(&parent, n.index())).copied().filter(|_| drawn(n));
    let devices = job.devices.iter().map(|(id, d)| (Link::Device(id), d.a, d.b, d.wires));
    let joints = job.joints.iter().filter(|(_, j)| j.of.is_none());
    let joints = joints.map(|(id, j)| (Link::Joint(id), j.a, j.b, j.wires));
    for (link, a, b, wires) in devices.chain(joints) {
        if let (Some(up), Some(down)) = (net_of(a), net_of(b))
            && up != down
            && carries_current(wires)
        {
            out.edges.push(Edge { link, up, down });
        }
    }
    for (id, joint) in job.joints.iter() {
        let Some((circuit, place)) = joint.of else { continue };
        let ends = [joint.a, joint.b].into_iter();
        let Some(node) = ends.clone().find(|n| folded.contains_key(n) || drawn(*n)) else {
            continue;
        };
        let (device, feeds) = match folded.get(&node) {
            Some((device, feeds)) => (Some(*device), *feeds),
            None => (None, node),
        };
        if let Some(net) = net_of(feeds) {
            out.ways.push(Way { circuit, joint: id, place, node, device, net });
        }
    }
    out.ways.sort_by_key(|w| (w.circuit, w.place));
    mark(input, &mut out, net_of);
    drop_bare(&mut out);
    out
}

/// A net with nothing on it is not worth a column.
fn drop_bare(out: &mut Skeleton) {
    let kept: Vec<usize> = (0..out.nets.len())
        .filter(|i| {
            let tied = out.edges.iter().any(|e| e.up == *i || e.down == *i);
            tied || out.ways.iter().any(|w| w.net == *i)
        })
        .collect();
    // Every net that an edge or a way names is kept.
    let number = |old: usize| kept.binary_search(&old).unwrap_or(0);
    for e in &mut out.edges {
        (e.up, e.down) = (number(e.up), number(e.down));
    }
    for w in &mut out.ways {
        w.net = number(w.net);
    }
    out.nets = kept.iter().map(|i| std::mem::take(&mut out.nets[*i])).collect();
}

/// Writes down what each net is for people.
fn mark(input: &Input, out: &mut Skeleton, net_of: impl Fn(NodeId) -> Option<usize>) {
    let job = input.sound.job();
    for (id, board) in job.boards.iter() {
        let bare = &job.positions[board.ways].bare;
        let bars = bare.iter().filter(|n| job.nodes[**n].neutral_bar);
        let first = bars.chain(bare).copied().find_map(&net_of);
        if let Some(net) = first {
            out.nets[net].bus_of = Some(id);
        }
    }
    for (id, supply) in job.supplies.iter() {
        if let Some(net) = net_of(supply.node) {
            out.nets[net].supply = Some(id);
        }
    }
    for (id, position) in job.positions.iter() {
        for n in position.other_fed.iter().chain(&position.enclosed) {
            if let Some(net) = net_of(*n) {
                let places = &mut out.nets[net].elsewhere;
                if !places.contains(&id) {
                    places.push(id);
                }
            }
        }
    }
}

/// Way nodes that are folded into groups: behind one device, with nothing but circuits on them.
/// By node: the device, and the node that feeds it.
fn folded(
    job: &Job,
    own: &BTreeSet<NodeId>,
    boxes: &BTreeSet<NodeId>,
) -> BTreeMap<NodeId, (DeviceId, NodeId)> {
    let mut behind: BTreeMap<NodeId, Vec<(DeviceId, NodeId)>> = BTreeMap::new();
    for (id, d) in job.devices.iter() {
        behind.entry(d.a).or_default().push((id, d.b));
        behind.entry(d.b).or_default().push((id, d.a));
    }
    let mut circuits: BTreeSet<NodeId> = BTreeSet::new();
    let mut others: BTreeSet<NodeId> = BTreeSet::new();
    for joint in job.joints.rows() {
        let set = if joint.of.is_some() { &mut circuits } else { &mut others };
        set.extend([joint.a, joint.b]);
    }
    let rows: BTreeSet<NodeId> =
        job.positions.rows().iter().flat_map(|p| p.row.iter().copied()).collect();
    let is_way = |n: &NodeId| {
        let plain = matches!(job.nodes[*n].kind, NodeKind::Bar);
        let way = circuits.contains(n) || rows.contains(n);
        plain && way && !others.contains(n) && !own.contains(n) && !boxes.contains(n)
    };
    job.nodes
        .ids()
        .filter(is_way)
        .filter_map(|n| match behind.get(&n).map(Vec::as_slice) {
            Some([one]) => Some((n, *one)),
            _ => None,
        })
        .collect()
}

fn carries_current(wires: Lanes) -> bool {
    wires.iter().any(|(w, _)| w != Wire::PE)
}

fn root(parent: &[usize], mut n: usize) -> usize {
    while parent[n] != n {
        n = parent[n];
    }
    n
}
