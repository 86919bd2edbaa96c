//! One search towards the sources that all questions about paths share.
//!
//! It takes the vertex nearest to a source first, so that in a network that is nearly a tree it
//! climbs straight up, and explores no more than the cut-off part where there is no way out.

use super::graph::{FAR, Lane, Link, Network, Spot, Vertex};
use petgraph::graph::EdgeIndex;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// A step of a path: through `link`, to a conductor at its far end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Hop {
    /// The device or joint.
    pub link: Link,
    /// Where it leads.
    pub to: Spot,
}

impl Network {
    /// Some simple path from one of `starts` to a vertex that is a `goal`, through lanes that
    /// `pass` and vertices that are not to be avoided: its first vertex and its hops.
    pub(super) fn seek(
        &self,
        starts: impl IntoIterator<Item = Vertex>,
        pass: impl Fn(&Lane) -> bool,
        avoid: impl Fn(Vertex) -> bool,
        goal: impl Fn(Vertex) -> bool,
    ) -> Option<(Spot, Vec<Hop>)> {
        // 0: not met; 1: a start; else two more than the edge by which it was met.
        let mut met = vec![0u32; self.graph.node_count()];
        let mut heap = BinaryHeap::new();
        for start in starts {
            let far = self.far[start.index()];
            if far != FAR && met[start.index()] == 0 {
                met[start.index()] = 1;
                heap.push(Reverse((far, start)));
            }
        }
        while let Some(Reverse((_, vertex))) = heap.pop() {
            if goal(vertex) {
                return Some(self.retrace(vertex, &met));
            }
            for (lane, edge, next) in self.lanes(vertex) {
                if met[next.index()] == 0
                    && self.far[next.index()] != FAR
                    && pass(lane)
                    && !avoid(next)
                {
                    met[next.index()] = edge as u32 + 2;
                    heap.push(Reverse((self.far[next.index()], next)));
                }
            }
        }
        None
    }

    fn retrace(&self, goal: Vertex, met: &[u32]) -> (Spot, Vec<Hop>) {
        let (mut at, mut hops) = (goal, Vec::new());
        while met[at.index()] > 1 {
            let edge = EdgeIndex::new(met[at.index()] as usize - 2);
            let Some((a, b)) = self.graph.edge_endpoints(edge) else { break };
            hops.push(Hop { link: self.graph[edge].link, to: self.graph[at] });
            at = if a == at { b } else { a };
        }
        hops.reverse();
        (self.graph[at], hops)
    }
}
