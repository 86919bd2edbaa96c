//! Every conductor of the job as a number, and every connection between two conductors.
//!
//! One step below nodes: N and each line are walked on their own, because a device isolates
//! only the conductors that it breaks. A neutral that is reliably earthed at its source ends
//! every path along N there, so each connection at it gets an end of its own.

use super::site::stated;
use crate::model::*;
use std::collections::BTreeMap;

/// A conductor: a row of [`Wiring::at`].
pub(super) type Conductor = usize;

/// What a connection belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    /// A lane that the device opens.
    Switched(DeviceId),
    /// A lane that goes straight through the device.
    Through(DeviceId),
    /// A lane of a joint.
    Joint(JointId),
}

/// A connection between two conductors.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lane {
    pub a: Conductor,
    pub b: Conductor,
    pub part: Part,
    /// The conductor's name at end `a` of the device or joint.
    pub wire: Wire,
}

/// The end of a path to a source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Feed {
    pub source: NodeId,
    pub wire: Wire,
    /// It puts voltage on what it reaches: a line, or a neutral not reliably earthed.
    pub hot: bool,
}

/// The network of conductors.
#[derive(Debug)]
pub(super) struct Wiring {
    /// Node and name of each conductor.
    pub at: Vec<(NodeId, Wire)>,
    /// The source that each conductor is an end of.
    pub feed: Vec<Option<Feed>>,
    pub lanes: Vec<Lane>,
    /// Lanes at each conductor, with the conductor at the other end.
    pub next: Vec<Vec<(usize, Conductor)>>,
    pub of_device: Vec<Vec<usize>>,
    pub of_joint: Vec<Vec<usize>>,
    /// Ends of the lanes at a reliably earthed neutral.
    pub ends_at: BTreeMap<Conductor, Vec<Conductor>>,
    /// Whether some source can put voltage on a neutral.
    pub hot_neutral: bool,
}

impl Wiring {
    pub fn new(job: &Job) -> Wiring {
        let mut w = Wiring {
            at: Vec::new(),
            feed: Vec::new(),
            lanes: Vec::new(),
            next: Vec::new(),
            of_device: vec![Vec::new(); job.devices.len()],
            of_joint: vec![Vec::new(); job.joints.len()],
            ends_at: BTreeMap::new(),
            hot_neutral: false,
        };
        for (id, node) in job.nodes.iter() {
            for wire in Wire::ALL {
                let feed = node.source().filter(|_| node.wires.has(wire) && wire != Wire::PE);
                let earthed = feed
                    .is_some_and(|s| s.system == Some(Earthing::Tn) && stated(&s.neutral_earthed));
                let hot = wire.is_line() || !earthed;
                w.hot_neutral |= feed.is_some() && wire == Wire::N && hot;
                w.conductor(id, wire, feed.map(|_| Feed { source: id, wire, hot }));
            }
        }
        for (id, device) in job.devices.iter() {
            for (a, b) in device.wires.iter() {
                let part =
                    if device.breaks.has(a) { Part::Switched(id) } else { Part::Through(id) };
                if let Some(lane) = w.lane(job, (device.a, a), (device.b, b), part) {
                    w.of_device[id.index()].push(lane);
                }
            }
        }
        for (id, joint) in job.joints.iter() {
            for (a, b) in joint.wires.iter() {
                if let Some(lane) = w.lane(job, (joint.a, a), (joint.b, b), Part::Joint(id)) {
                    w.of_joint[id.index()].push(lane);
                }
            }
        }
        w
    }

    fn conductor(&mut self, node: NodeId, wire: Wire, feed: Option<Feed>) -> Conductor {
        self.at.push((node, wire));
        self.feed.push(feed);
        self.next.push(Vec::new());
        self.at.len() - 1
    }

    fn lane(
        &mut self,
        job: &Job,
        a: (NodeId, Wire),
        b: (NodeId, Wire),
        part: Part,
    ) -> Option<usize> {
        if !job.nodes[a.0].wires.has(a.1) || !job.nodes[b.0].wires.has(b.1) {
            return None;
        }
        let [ca, cb] = [a, b].map(|(node, wire)| match self.feed[of(node, wire)] {
            // Paths along an earthed neutral end at its source: an end for this lane alone.
            Some(feed) if !feed.hot => {
                let end = self.conductor(node, wire, Some(feed));
                self.ends_at.entry(of(node, wire)).or_default().push(end);
                end
            }
            _ => of(node, wire),
        });
        let lane = self.lanes.len();
        self.lanes.push(Lane { a: ca, b: cb, part, wire: a.1 });
        self.next[ca].push((lane, cb));
        self.next[cb].push((lane, ca));
        Some(lane)
    }

    /// Whether a path that ends here has reached a source that can put voltage on it.
    pub fn hot(&self, c: Conductor) -> bool {
        self.feed[c].is_some_and(|f| f.hot)
    }

    /// Whether voltage can come along this kind of conductor at all.
    pub fn carries(&self, wire: Wire) -> bool {
        wire.is_line() || (wire == Wire::N && self.hot_neutral)
    }
}

/// The conductor `wire` at `node`.
pub(super) fn of(node: NodeId, wire: Wire) -> Conductor {
    node.index() * 5 + wire.index()
}
