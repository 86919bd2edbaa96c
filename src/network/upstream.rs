//! All places at once: which conductors can be reached from a source, and which lanes lie on the
//! simple paths between.
//!
//! A virtual vertex stands behind all dangers. The lanes on the simple paths from a conductor to
//! it are those of the biconnected blocks that are met climbing the block tree (Hopcroft and
//! Tarjan, 1973). One depth-first walk finds the blocks of the whole network; after that a place
//! costs no more than what lies between it and its sources, which in a network that is nearly a
//! tree is a few lanes. So all places together take time about linear in the network.

use super::graph::{Lane, Link, Network, Spot, Vertex};
use super::state::State;
use petgraph::graph::EdgeIndex;
use petgraph::visit::EdgeRef;
use std::collections::{BTreeMap, BTreeSet};

/// The way up from every conductor in one state. It holds for that state only.
#[derive(Clone, Debug)]
pub struct Upstream {
    /// By vertex: 0 where no source is reached, else one more than the block towards it.
    block: Vec<u32>,
    /// By block: its vertex nearest to the sources; `None` for the virtual one.
    top: Vec<Option<Vertex>>,
    lanes: Vec<Vec<EdgeIndex>>,
}

/// The part of the network between some places and their sources.
#[derive(Clone, Debug, Default)]
pub(super) struct Section {
    /// In order of first use.
    pub(super) vertices: Vec<Vertex>,
    pub(super) index: BTreeMap<Vertex, usize>,
    /// Edge of the network and its two ends, as indices into `vertices`.
    pub(super) edges: Vec<(EdgeIndex, usize, usize)>,
    /// By vertex: edge and far end.
    pub(super) next: Vec<Vec<(usize, usize)>>,
    /// Where it starts.
    pub(super) starts: Vec<usize>,
}

impl Upstream {
    /// The way up for *secured*: locks and removed joints break it. Linear in the network.
    pub fn new(network: &Network, state: &State) -> Upstream {
        Blocks::find(network, |lane| network.threatens(state, lane))
    }

    /// The way up with every device closed, locks or not, and every joint there that is made now
    /// or was before the work.
    pub fn unlocked(network: &Network, state: &State) -> Upstream {
        Blocks::find(network, |lane| match lane.link {
            Link::Device(_) => true,
            Link::Joint(joint) => network.joined(state, joint) || network.old.made.has(joint),
        })
    }

    /// The way up with every device closed, locks or not, and the joints of the state.
    pub fn joined(network: &Network, state: &State) -> Upstream {
        Blocks::find(network, |lane| match lane.link {
            Link::Device(_) => true,
            Link::Joint(joint) => network.joined(state, joint),
        })
    }

    /// Whether a path leads from this conductor to some source.
    pub fn reaches(&self, network: &Network, spot: Spot) -> bool {
        network.vertex(spot).is_some_and(|v| self.block[v.index()] != 0)
    }

    /// The lanes on all simple paths from these vertices to any source.
    pub(super) fn section(&self, network: &Network, starts: &[Vertex]) -> Section {
        let mut blocks = BTreeSet::new();
        let mut section = Section::default();
        for start in starts.iter().filter(|v| self.block[v.index()] != 0) {
            let at = section.place(*start);
            if !section.starts.contains(&at) {
                section.starts.push(at);
            }
            let mut block = self.block[start.index()];
            while block != 0 && blocks.insert(block) {
                block = match self.top[block as usize - 1] {
                    Some(top) => self.block[top.index()],
                    None => 0,
                };
            }
        }
        for block in blocks {
            for edge in &self.lanes[block as usize - 1] {
                if let Some((a, b)) = network.graph.edge_endpoints(*edge) {
                    section.join(*edge, a, b);
                }
            }
        }
        section
    }
}

impl Section {
    fn place(&mut self, vertex: Vertex) -> usize {
        let fresh = self.vertices.len();
        let at = *self.index.entry(vertex).or_insert(fresh);
        if at == fresh {
            self.vertices.push(vertex);
            self.next.push(Vec::new());
        }
        at
    }

    /// By vertex: whether it is reached from `starts` over edges that pass, each asked with the
    /// vertex to which it leads.
    pub(super) fn spread(
        &self,
        starts: impl Iterator<Item = usize>,
        pass: &dyn Fn(usize, usize) -> bool,
    ) -> Vec<bool> {
        let mut met = vec![false; self.vertices.len()];
        let mut stack: Vec<usize> = starts.collect();
        for start in &stack {
            met[*start] = true;
        }
        while let Some(v) = stack.pop() {
            for &(edge, next) in &self.next[v] {
                if !met[next] && pass(edge, next) {
                    met[next] = true;
                    stack.push(next);
                }
            }
        }
        met
    }

    fn join(&mut self, edge: EdgeIndex, a: Vertex, b: Vertex) {
        let (a, b) = (self.place(a), self.place(b));
        self.next[a].push((self.edges.len(), b));
        self.next[b].push((self.edges.len(), a));
        self.edges.push((edge, a, b));
    }
}

/// The walk that finds the blocks.
struct Blocks {
    /// Order of discovery from 2; 1 is the virtual vertex, 0 not met.
    found: Vec<u32>,
    low: Vec<u32>,
    clock: u32,
    open_lanes: Vec<EdgeIndex>,
    open_vertices: Vec<Vertex>,
    result: Upstream,
}

impl Blocks {
    fn find(network: &Network, pass: impl Fn(&Lane) -> bool) -> Upstream {
        let n = network.graph.node_count();
        let mut walk = Blocks {
            found: vec![0; n],
            low: vec![0; n],
            clock: 1,
            open_lanes: Vec::new(),
            open_vertices: Vec::new(),
            result: Upstream { block: vec![0; n], top: Vec::new(), lanes: Vec::new() },
        };
        for root in network.feeds.iter().flat_map(|f| &f.threats) {
            if walk.found[root.index()] == 0 {
                walk.climb_down(network, *root, &pass);
            }
        }
        walk.result
    }

    fn enter(&mut self, vertex: Vertex, low: Option<u32>) {
        self.clock += 1;
        self.found[vertex.index()] = self.clock;
        self.low[vertex.index()] = low.unwrap_or(self.clock);
        self.open_vertices.push(vertex);
    }

    /// Depth first from one danger, which hangs on the virtual vertex.
    fn climb_down(&mut self, network: &Network, root: Vertex, pass: &impl Fn(&Lane) -> bool) {
        let no_edge = EdgeIndex::end();
        self.enter(root, None);
        let mut stack = vec![(root, no_edge, network.graph.edges(root), 0, 0)];
        while let Some((vertex, came_by, edges, lane_mark, vertex_mark)) = stack.last_mut() {
            let vertex = *vertex;
            let Some(edge) = edges.next() else {
                let marks = (*lane_mark, *vertex_mark);
                stack.pop();
                let parent = stack.last().map(|frame| frame.0);
                let low = self.low[vertex.index()];
                match parent {
                    Some(p) if low < self.found[p.index()] => {
                        self.low[p.index()] = self.low[p.index()].min(low);
                    }
                    _ => self.close(parent, marks),
                }
                continue;
            };
            let next = edge.target();
            if edge.id() == *came_by || network.ends[next.index()] || !pass(edge.weight()) {
                continue;
            }
            let marks = (self.open_lanes.len(), self.open_vertices.len());
            let found = self.found[next.index()];
            if found == 0 {
                self.open_lanes.push(edge.id());
                // A danger met on the way is joined to the virtual vertex as well.
                self.enter(next, network.threat[next.index()].then_some(1));
                let edges = network.graph.edges(next);
                stack.push((next, edge.id(), edges, marks.0, marks.1));
            } else if found < self.found[vertex.index()] {
                self.open_lanes.push(edge.id());
                self.low[vertex.index()] = self.low[vertex.index()].min(found);
            }
        }
    }

    fn close(&mut self, top: Option<Vertex>, (lane_mark, vertex_mark): (usize, usize)) {
        self.result.lanes.push(self.open_lanes.split_off(lane_mark));
        self.result.top.push(top);
        for vertex in self.open_vertices.drain(vertex_mark..) {
            self.result.block[vertex.index()] = self.result.top.len() as u32;
        }
    }
}
