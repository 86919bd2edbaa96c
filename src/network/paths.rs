//! Paths from a place to the sources that can reach it, and what cuts them.
//!
//! Shortest first, by number of links (Yen 1971), at most so many for each conductor and source.
//! A path starts where it last leaves the place: what is joined to a source only through other
//! conductors of the place has no path of its own. Where an uncut path to a source exists, one to
//! that source is among those returned.

use super::graph::{Link, Network, Spot, Vertex};
use super::state::State;
use super::upstream::{Section, Upstream};
use super::walk::Hop;
use crate::model::{DeviceId, JointId, NodeId};
use std::collections::{BTreeSet, VecDeque};

/// A simple path from a conductor of a place to a source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Path {
    /// Where it starts.
    pub from: Spot,
    /// The source where it ends.
    pub source: NodeId,
    /// Its steps, from the place.
    pub hops: Vec<Hop>,
    /// What breaks it for *secured*, from the place. Empty: the source threatens the place.
    pub cuts: Vec<Cut>,
    /// Devices on it that are open, or can open by themselves, with nothing to keep them so.
    pub not_held: Vec<DeviceId>,
}

/// What breaks a path.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cut {
    /// A locked device that isolates that conductor.
    Lock(DeviceId),
    /// A joint that was there before the work and is taken off.
    Joint(JointId),
}

/// Edges of a section, from the place.
type Way = Vec<usize>;

impl Network {
    /// The paths from these conductors, in their order; `up` is [`Upstream::unlocked`] of the
    /// same state, `each` the most paths for a conductor and a source.
    pub fn paths(&self, up: &Upstream, state: &State, spots: &[Spot], each: usize) -> Vec<Path> {
        let starts: Vec<Vertex> = spots.iter().filter_map(|s| self.vertex(*s)).collect();
        let section = up.section(self, &starts);
        let finder = Finder { network: self, section: &section, state };
        let mut place = vec![false; section.vertices.len()];
        for start in &section.starts {
            place[*start] = true;
        }
        let mut paths = Vec::new();
        for &start in &section.starts {
            place[start] = false;
            for goal in finder.goals(start, &place) {
                let ways = finder.ways(start, goal, &place, each.max(1));
                paths.extend(ways.into_iter().map(|way| finder.tell(start, &way)));
            }
            place[start] = true;
        }
        paths
    }
}

struct Finder<'a> {
    network: &'a Network,
    section: &'a Section,
    state: &'a State,
}

impl Finder<'_> {
    fn threat(&self, at: usize) -> bool {
        self.network.threat[self.section.vertices[at].index()]
    }

    fn uncut(&self, edge: usize) -> bool {
        let lane = &self.network.graph[self.section.edges[edge].0];
        self.network.threatens(self.state, lane)
    }

    /// The sources met from `start`, avoiding the rest of the place.
    fn goals(&self, start: usize, place: &[bool]) -> Vec<usize> {
        let mut met = place.to_vec();
        met[start] = true;
        let (mut stack, mut goals) = (vec![start], BTreeSet::new());
        while let Some(v) = stack.pop() {
            if self.threat(v) {
                goals.insert(v);
            }
            for &(_, next) in &self.section.next[v] {
                if !std::mem::replace(&mut met[next], true) {
                    stack.push(next);
                }
            }
        }
        goals.into_iter().collect()
    }

    fn ways(&self, start: usize, goal: usize, place: &[bool], each: usize) -> Vec<Way> {
        let mut ways: Vec<Way> = Vec::new();
        // An uncut path comes first: it is the one that matters.
        ways.extend(self.shortest(start, goal, place, |e| self.uncut(e)));
        let mut waiting: BTreeSet<(usize, Way)> = BTreeSet::new();
        let mut told: Vec<Way> = Vec::new();
        if let Some(way) = self.shortest(start, goal, place, |_| true) {
            waiting.insert((way.len(), way));
        }
        while ways.len() < each {
            let Some((_, way)) = waiting.pop_first() else { break };
            told.push(way.clone());
            self.branch(start, goal, place, &way, &told, &mut waiting);
            if !ways.contains(&way) {
                ways.push(way);
            }
        }
        ways
    }

    /// The shortest paths that leave `way` at each of its vertices, and none told yet.
    fn branch(
        &self,
        start: usize,
        goal: usize,
        place: &[bool],
        way: &Way,
        told: &[Way],
        waiting: &mut BTreeSet<(usize, Way)>,
    ) {
        let mut taken = place.to_vec();
        let mut at = start;
        for i in 0..way.len() {
            let barred =
                |edge: usize| told.iter().any(|t| t.get(i) == Some(&edge) && t[..i] == way[..i]);
            if let Some(rest) = self.shortest(at, goal, &taken, |e| !barred(e)) {
                let whole = [&way[..i], &rest[..]].concat();
                waiting.insert((whole.len(), whole));
            }
            taken[at] = true;
            at = self.other_end(way[i], at);
        }
    }

    fn other_end(&self, edge: usize, at: usize) -> usize {
        let (_, a, b) = self.section.edges[edge];
        if a == at { b } else { a }
    }

    /// Breadth first; nothing of `taken` lies on the path.
    fn shortest(
        &self,
        start: usize,
        goal: usize,
        taken: &[bool],
        pass: impl Fn(usize) -> bool,
    ) -> Option<Way> {
        let mut by: Vec<Option<usize>> = vec![None; taken.len()];
        let mut queue = VecDeque::from([start]);
        while let Some(v) = queue.pop_front() {
            if v == goal {
                let (mut way, mut at) = (Vec::new(), goal);
                while at != start {
                    let edge = by[at]?;
                    way.push(edge);
                    at = self.other_end(edge, at);
                }
                way.reverse();
                return Some(way);
            }
            for &(edge, next) in &self.section.next[v] {
                if next != start && !taken[next] && by[next].is_none() && pass(edge) {
                    by[next] = Some(edge);
                    queue.push_back(next);
                }
            }
        }
        None
    }

    fn tell(&self, start: usize, way: &Way) -> Path {
        let spot = |at: usize| self.network.graph[self.section.vertices[at]];
        let mut path = Path {
            from: spot(start),
            source: spot(start).node,
            hops: Vec::new(),
            cuts: Vec::new(),
            not_held: Vec::new(),
        };
        let mut at = start;
        for &edge in way {
            let lane = &self.network.graph[self.section.edges[edge].0];
            at = self.other_end(edge, at);
            path.source = spot(at).node;
            path.hops.push(Hop { link: lane.link, to: spot(at) });
            match lane.link {
                Link::Device(d) if !self.uncut(edge) => path.cuts.push(Cut::Lock(d)),
                Link::Joint(j) if !self.uncut(edge) => path.cuts.push(Cut::Joint(j)),
                Link::Device(d)
                    if lane.breaks && (self.network.acts.has(d) || !self.state.closed.has(d)) =>
                {
                    path.not_held.push(d);
                }
                _ => (),
            }
        }
        path
    }
}
