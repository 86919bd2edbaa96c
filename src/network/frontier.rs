//! The devices first met from a place on the way to a source.

use super::graph::{FAR, Lane, Link, Network, Spot, Vertex};
use super::live::LiveSet;
use super::state::State;
use crate::model::{CircuitId, DeviceId, Id, Wire};
use std::collections::BTreeMap;

/// What is first met from a place towards supply.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct FirstOvercurrent {
    /// The overcurrent devices, in order.
    pub devices: Vec<DeviceId>,
    /// A running source is reached without meeting one.
    pub unprotected: bool,
}

impl Network {
    /// The overcurrent devices first met from a circuit's lines towards running sources, along
    /// what conducts in `state` (E1). Everything else is passed over. Empty while it is dead.
    pub fn first_overcurrent(
        &self,
        state: &State,
        live: &LiveSet,
        circuit: CircuitId,
    ) -> FirstOvercurrent {
        let nodes = &self.own[circuit.index()].nodes;
        self.first_overcurrent_from(state, live, &self.spots(nodes))
    }

    /// The same from any conductors; all but lines are ignored.
    pub fn first_overcurrent_from(
        &self,
        state: &State,
        live: &LiveSet,
        spots: &[Spot],
    ) -> FirstOvercurrent {
        let lines = spots.iter().filter(|s| s.wire.is_line());
        let starts: Vec<Vertex> = lines.filter_map(|s| self.vertex(*s)).collect();
        let conducts = |lane: &Lane| self.conducts(state, &live.acted, lane);
        let protects = |lane: &Lane| match lane.link {
            Link::Device(device) => self.overcurrent.has(device),
            Link::Joint(_) => false,
        };
        let runs = |v: Vertex| {
            self.threat[v.index()]
                && self.graph[v].wire != Wire::N
                && live.running.contains(&self.graph[v].node)
        };
        self.frontier(
            &starts,
            |lane| conducts(lane) && !protects(lane),
            |lane| conducts(lane) && protects(lane),
            conducts,
            runs,
        )
    }

    /// Spreads from `starts` through lanes that `pass`. Of the devices where it stops, those are
    /// returned from whose far side a `goal` is reached through lanes that go `beyond`, not
    /// coming back. `unprotected` tells whether the spread itself holds a goal.
    pub(super) fn frontier(
        &self,
        starts: &[Vertex],
        pass: impl Fn(&Lane) -> bool,
        stop: impl Fn(&Lane) -> bool,
        beyond: impl Fn(&Lane) -> bool,
        goal: impl Fn(Vertex) -> bool,
    ) -> FirstOvercurrent {
        let mut near = vec![false; self.graph.node_count()];
        let mut stack: Vec<Vertex> = Vec::new();
        for start in starts.iter().filter(|v| self.far[v.index()] != FAR) {
            if !std::mem::replace(&mut near[start.index()], true) {
                stack.push(*start);
            }
        }
        let mut edge_of: BTreeMap<DeviceId, Vec<Vertex>> = BTreeMap::new();
        let mut unprotected = false;
        while let Some(vertex) = stack.pop() {
            unprotected |= goal(vertex);
            for (lane, _, next) in self.lanes(vertex) {
                if self.far[next.index()] == FAR || self.ends[next.index()] {
                    continue;
                }
                if pass(lane) {
                    if !std::mem::replace(&mut near[next.index()], true) {
                        stack.push(next);
                    }
                } else if let (Link::Device(device), true) = (lane.link, stop(lane)) {
                    edge_of.entry(device).or_default().push(next);
                }
            }
        }
        let leads_on = |ends: &Vec<Vertex>| {
            let outside = ends.iter().copied().filter(|v| !near[v.index()]);
            let avoid = |v: Vertex| near[v.index()] || self.ends[v.index()];
            self.seek(outside, &beyond, avoid, &goal).is_some()
        };
        let devices =
            edge_of.into_iter().filter(|(_, ends)| leads_on(ends)).map(|(d, _)| d).collect();
        FirstOvercurrent { devices, unprotected }
    }
}
