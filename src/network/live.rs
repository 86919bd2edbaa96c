//! What is live, and from which sources (planning model, section 2).
//!
//! A source that starts by itself, and a device that acts by itself, follow a node that is judged
//! by what the always-running sources alone make live; a node is live when one of its lines is.
//! Devices start as `closed` says and follow one after the other, in the order of their table,
//! until all are at rest. Where they never come to rest (a device whose closing ends its own
//! reason), the stricter reading holds: whatever closes in the last round counts as closed.
//! A device that holds itself in keeps its past only if [`Network::settle`] is called after each
//! change of the state.

use super::bits::IdSet;
use super::graph::{Lane, Link, Network, Spot, Vertex};
use super::state::State;
use crate::model::{CircuitId, DeviceId, Id, NodeId, SelfActing, Wire};

/// The live conductors of one state. Conductors joined to each other share their origins.
#[derive(Clone, Debug)]
pub struct LiveSet {
    /// By vertex: 0, or one more than the index of its origins. N of an earthed source counts.
    pub(super) feed: Vec<u32>,
    /// The same for N without the paths that are none (section 1, "Neutral"), where any is hot.
    hot: Option<Vec<u32>>,
    origins: Vec<Vec<Spot>>,
    /// The sources that run.
    pub running: Vec<NodeId>,
    /// The devices that act by themselves and are closed.
    pub acted: IdSet<DeviceId>,
}

impl Network {
    /// What is live in `state`. Linear in the network.
    pub fn live(&self, state: &State) -> LiveSet {
        let always = |i: &usize| self.feeds[*i].watches.is_none();
        let steady: Vec<usize> = (0..self.feeds.len()).filter(always).collect();
        let mut live = self.at_rest(state, &steady);
        let started =
            |i: &usize| self.feeds[*i].watches.is_none_or(|node| !self.live_node(&live, node));
        let running: Vec<usize> = (0..self.feeds.len()).filter(started).collect();
        if running.len() > steady.len() {
            live = self.spread(state, &running, live.acted);
        }
        live
    }

    /// What the sources `steady` make live when every device that acts by itself has acted.
    fn at_rest(&self, state: &State, steady: &[usize]) -> LiveSet {
        let wants = |live: &LiveSet, device: DeviceId, acting: &SelfActing| {
            !state.locked.has(device)
                && self.live_node(live, acting.node) == acting.closed_while_live
        };
        let closed = |d: &DeviceId| state.closed.has(*d) && !state.locked.has(*d);
        let acted = self.acting.iter().map(|(device, _)| *device).filter(closed).collect();
        let mut live = self.spread(state, steady, acted);
        let mut ever = IdSet::default();
        for _ in 0..2 * self.acting.len() + 2 {
            let mut rest = true;
            ever = live.acted.clone();
            for (device, acting) in &self.acting {
                let want = wants(&live, *device, acting);
                if want != live.acted.has(*device) {
                    rest = false;
                    let mut acted = live.acted.clone();
                    acted.set(*device, want);
                    live = self.spread(state, steady, acted);
                }
                if want {
                    ever.insert(*device);
                }
            }
            if rest {
                return live;
            }
        }
        self.spread(state, steady, ever)
    }

    /// Writes into a state which devices have acted by themselves in it.
    pub fn settle(&self, state: &mut State, live: &LiveSet) {
        for (device, _) in &self.acting {
            state.closed.set(*device, live.acted.has(*device));
        }
    }

    /// Whether a lane conducts: for *live*, not for *secured*.
    #[inline]
    pub(super) fn conducts(&self, state: &State, acted: &IdSet<DeviceId>, lane: &Lane) -> bool {
        match lane.link {
            Link::Joint(joint) => state.made.has(joint),
            Link::Device(_) if !lane.breaks => true,
            Link::Device(d) if self.acts.has(d) => acted.has(d) && !state.locked.has(d),
            Link::Device(d) => state.closed.has(d) && !state.locked.has(d),
        }
    }

    fn spread(&self, state: &State, feeds: &[usize], acted: IdSet<DeviceId>) -> LiveSet {
        let mut live = LiveSet {
            feed: vec![0; self.graph.node_count()],
            hot: None,
            origins: Vec::new(),
            running: feeds.iter().map(|i| self.feeds[*i].node).collect(),
            acted,
        };
        let open = |lane: &Lane| self.conducts(state, &live.acted, lane);
        let (origins, mut feed) = (&mut live.origins, std::mem::take(&mut live.feed));
        for start in feeds.iter().flat_map(|i| &self.feeds[*i].vertices) {
            self.flood(*start, &mut feed, origins, open, |_| true);
        }
        let hot_neutral = |v: &&Vertex| self.graph[**v].wire == Wire::N;
        let neutrals: Vec<Vertex> = feeds
            .iter()
            .flat_map(|i| self.feeds[*i].threats.iter().filter(hot_neutral))
            .copied()
            .collect();
        if !neutrals.is_empty() {
            let mut hot = vec![0; self.graph.node_count()];
            for start in neutrals {
                self.flood(start, &mut hot, origins, open, |v| !self.ends[v.index()]);
            }
            live.hot = Some(hot);
        }
        live.feed = feed;
        live
    }

    fn flood(
        &self,
        start: Vertex,
        label: &mut [u32],
        origins: &mut Vec<Vec<Spot>>,
        open: impl Fn(&Lane) -> bool,
        enter: impl Fn(Vertex) -> bool,
    ) {
        let here = label[start.index()];
        if here != 0 {
            origins[here as usize - 1].push(self.graph[start]);
            return;
        }
        origins.push(vec![self.graph[start]]);
        let mark = origins.len() as u32;
        label[start.index()] = mark;
        let mut stack = vec![start];
        while let Some(vertex) = stack.pop() {
            for (lane, _, next) in self.lanes(vertex) {
                if label[next.index()] == 0 && open(lane) && enter(next) {
                    label[next.index()] = mark;
                    stack.push(next);
                }
            }
        }
    }

    /// Where the voltage on a conductor comes from: conductors of running sources, or none.
    pub fn live_from<'a>(&self, live: &'a LiveSet, spot: Spot) -> &'a [Spot] {
        let labels = match spot.wire {
            Wire::PE => return &[],
            Wire::N => match &live.hot {
                Some(hot) => hot,
                None => return &[],
            },
            _ => &live.feed,
        };
        self.look_up(live, labels, spot)
    }

    /// The running sources that a conductor is joined to, N of an earthed one included: what a
    /// circuit needs to be in service. PE is asked of [`Network::earthed`].
    pub fn fed_from<'a>(&self, live: &'a LiveSet, spot: Spot) -> &'a [Spot] {
        self.look_up(live, &live.feed, spot)
    }

    fn look_up<'a>(&self, live: &'a LiveSet, labels: &[u32], spot: Spot) -> &'a [Spot] {
        let label = self.vertex(spot).map_or(0, |v| labels[v.index()]);
        if label == 0 { &[] } else { &live.origins[label as usize - 1] }
    }

    /// Whether a conductor is live.
    pub fn is_live(&self, live: &LiveSet, spot: Spot) -> bool {
        !self.live_from(live, spot).is_empty()
    }

    /// Whether some line of a node is live.
    pub fn live_node(&self, live: &LiveSet, node: NodeId) -> bool {
        Wire::LINES
            .into_iter()
            .any(|wire| self.vertex(Spot { node, wire }).is_some_and(|v| live.feed[v.index()] != 0))
    }

    /// Whether every line and N of a circuit's own nodes is fed. PE is not looked at.
    pub fn circuit_fed(&self, live: &LiveSet, circuit: CircuitId) -> bool {
        self.own[circuit.index()].nodes.iter().all(|node| {
            self.vertices(*node)
                .all(|v| self.graph[v].wire == Wire::PE || live.feed[v.index()] != 0)
        })
    }

    /// Whether some line of a circuit's own nodes is live.
    pub fn circuit_live(&self, live: &LiveSet, circuit: CircuitId) -> bool {
        self.own[circuit.index()].nodes.iter().any(|node| self.live_node(live, *node))
    }

    /// The nodes whose PE has an unbroken path to the main earthing terminal.
    pub fn earthed(&self, state: &State) -> IdSet<NodeId> {
        let mut nodes = IdSet::default();
        let mut stack: Vec<Vertex> =
            self.vertex(Spot { node: self.earth, wire: Wire::PE }).into_iter().collect();
        while let Some(vertex) = stack.pop() {
            if nodes.insert(self.graph[vertex].node) {
                // A device never breaks PE, so only joints matter here.
                let on = |lane: &Lane| match lane.link {
                    Link::Joint(joint) => state.made.has(joint),
                    Link::Device(_) => true,
                };
                stack.extend(self.lanes(vertex).filter(|(l, _, _)| on(l)).map(|(_, _, v)| v));
            }
        }
        nodes
    }
}
