//! The way by which voltage can come to a conductor: what the words of a breach name.
//!
//! A walk of its own over the wiring, shortest first, so that the way told is a real one and no
//! longer than it has to be.

use super::now::Now;
use super::reach::Reach;
use super::wiring::{Conductor, Part};
use crate::model::*;
use std::collections::{BTreeMap, VecDeque};

/// One part of a way.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Leg {
    /// Through a device.
    Through(DeviceId, Gap),
    /// Over a joint.
    Over(JointId),
}

/// Why a device on the way does not break it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Gap {
    /// It is closed, or only open: nothing keeps it open.
    Unlocked,
    /// It carries a lock, but leaves this conductor connected.
    NotBroken(Wire),
    /// It carries a lock, but is not suitable for isolation.
    NotSuitable,
    /// It carries a lock, but none that the person at work holds.
    NotTheirs,
}

/// A way from a source to a conductor.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Route {
    /// The conductor of the source; none if no way leads to one.
    pub from: Option<(Wire, NodeId)>,
    /// What it goes through, from the source on.
    pub legs: Vec<Leg>,
    /// The conductor reached.
    pub to: (Wire, NodeId),
}

impl Route {
    /// The way in words, to follow a sentence.
    pub(super) fn words(&self, job: &Job) -> String {
        let Some((wire, source)) = self.from else { return String::new() };
        let legs: Vec<String> = self.legs.iter().map(|leg| leg.words(job)).collect();
        let through =
            if legs.is_empty() { String::new() } else { format!(" through {}", legs.join(", ")) };
        let (end, to) = (self.to.0, job.nodes.name(self.to.1));
        format!(": {wire} of `{}` reaches {end} of `{to}`{through}", job.nodes.name(source))
    }
}

impl Leg {
    fn words(self, job: &Job) -> String {
        match self {
            Leg::Over(joint) => format!("termination `{}`", job.joints.name(joint)),
            Leg::Through(device, gap) => {
                let why = match gap {
                    Gap::Unlocked => String::new(),
                    Gap::NotBroken(wire) => format!(" (locked, but does not break {wire})"),
                    Gap::NotSuitable => " (locked, but not suitable for isolation)".to_owned(),
                    Gap::NotTheirs => " (locked, but not by them)".to_owned(),
                };
                format!("`{}`{why}", job.devices.name(device))
            }
        }
    }
}

/// How a conductor is reached past all that is locked.
pub(super) fn unlocked(now: &Now, to: Conductor) -> Route {
    shortest(now, &now.sure, to, |_| true)
}

/// How a conductor is reached past all that one person holds locked.
pub(super) fn not_held(now: &Now, person: PersonId, to: Conductor) -> Route {
    shortest(now, now.held.get(&person).unwrap_or(&now.sure), to, |_| true)
}

/// How a conductor is reached, past all that is locked, from one source.
pub(super) fn from_source(now: &Now, source: NodeId, to: Conductor) -> Route {
    shortest(now, &now.sure, to, |s| s == source)
}

/// How a conductor has its voltage.
pub(super) fn live(now: &Now, to: Conductor) -> Route {
    shortest(now, &now.live, to, |s| now.sources[s.index()])
}

fn shortest(now: &Now, reach: &Reach, to: Conductor, counts: impl Fn(NodeId) -> bool) -> Route {
    let w = &now.site.wiring;
    let mut came: BTreeMap<Conductor, Option<(usize, Conductor)>> = BTreeMap::from([(to, None)]);
    let mut queue = VecDeque::from([to]);
    let (node, wire) = w.at[to];
    let mut route = Route { from: None, legs: Vec::new(), to: (wire, node) };
    while let Some(c) = queue.pop_front() {
        if let Some(feed) = w.feed[c].filter(|f| f.hot && counts(f.source)) {
            route.from = Some((feed.wire, feed.source));
            let mut at = c;
            while let Some(Some((lane, next))) = came.get(&at).copied() {
                route.legs.push(leg(now, lane));
                at = next;
            }
            break;
        }
        for &(lane, other) in &w.next[c] {
            if reach.on(lane) && !came.contains_key(&other) {
                came.insert(other, Some((lane, c)));
                queue.push_back(other);
            }
        }
    }
    route
}

fn leg(now: &Now, lane: usize) -> Leg {
    let lane = &now.site.wiring.lanes[lane];
    let locked = |d: DeviceId| !now.devices[d.index()].locks.is_empty();
    match lane.part {
        Part::Joint(joint) => Leg::Over(joint),
        Part::Through(d) if locked(d) => Leg::Through(d, Gap::NotBroken(lane.wire)),
        Part::Through(d) => Leg::Through(d, Gap::Unlocked),
        Part::Switched(d) if !locked(d) => Leg::Through(d, Gap::Unlocked),
        Part::Switched(d) if !now.site.job.devices[d].isolates => Leg::Through(d, Gap::NotSuitable),
        Part::Switched(d) => Leg::Through(d, Gap::NotTheirs),
    }
}
