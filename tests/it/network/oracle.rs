//! A naive walk over the job's own lists: slow, and with nothing in common with the network.

use std::collections::{BTreeMap, BTreeSet};
use wayover::model::*;
use wayover::network::{Hop, Link, Spot, State};

/// What one state joins: every conductor reached from `starts`.
pub fn spread(
    job: &Job,
    starts: &[Spot],
    device: &dyn Fn(DeviceId, Wire) -> bool,
    joint: &dyn Fn(JointId) -> bool,
    blocked: &dyn Fn(Spot) -> bool,
) -> BTreeSet<Spot> {
    let mut pairs = Vec::new();
    for (id, d) in job.devices.iter() {
        for (x, y) in d.wires.iter() {
            if device(id, x) {
                pairs.push((Spot { node: d.a, wire: x }, Spot { node: d.b, wire: y }));
            }
        }
    }
    for (id, j) in job.joints.iter() {
        if joint(id) {
            pairs.extend(
                j.wires
                    .iter()
                    .map(|(x, y)| (Spot { node: j.a, wire: x }, Spot { node: j.b, wire: y })),
            );
        }
    }
    let mut reached: BTreeSet<Spot> = starts.iter().copied().collect();
    loop {
        let before = reached.len();
        for (x, y) in &pairs {
            for (from, to) in [(x, y), (y, x)] {
                if reached.contains(from) && !blocked(*to) {
                    reached.insert(*to);
                }
            }
        }
        if reached.len() == before {
            return reached;
        }
    }
}

/// Every conductor of a source on which a path is a danger.
pub fn dangers(job: &Job) -> Vec<Spot> {
    let mut spots = Vec::new();
    for (node, n) in job.nodes.iter() {
        if let Some(s) = n.source() {
            let harmless = s.system == Some(Earthing::Tn) && s.neutral_earthed.is_some();
            for wire in n.wires.iter().filter(|w| w.is_line() || (*w == Wire::N && !harmless)) {
                spots.push(Spot { node, wire });
            }
        }
    }
    spots
}

pub fn ends(job: &Job, spot: Spot) -> bool {
    spot.wire == Wire::N
        && job.nodes[spot.node]
            .source()
            .is_some_and(|s| s.system == Some(Earthing::Tn) && s.neutral_earthed.is_some())
}

/// Whether a lock on a device holds this conductor open.
fn isolated(job: &Job, state: &State, id: DeviceId, wire: Wire) -> bool {
    let d = &job.devices[id];
    state.locked.has(id) && d.isolates && d.breaks.has(wire)
}

/// What can be live at all, by trying every state of every device that no lock isolates.
pub fn ever_live(job: &Job, state: &State) -> BTreeSet<Spot> {
    let free: Vec<DeviceId> = job
        .devices
        .iter()
        .filter(|(id, d)| !(state.locked.has(*id) && d.isolates))
        .map(|(id, _)| id)
        .collect();
    assert!(free.len() <= 12, "too many states");
    let mut live = BTreeSet::new();
    for bits in 0u32..1 << free.len() {
        let closed = |id: DeviceId, wire: Wire| {
            let at = free.iter().position(|f| *f == id);
            let shut = at.is_some_and(|i| bits >> i & 1 != 0);
            shut || !job.devices[id].breaks.has(wire)
        };
        let there = |j: JointId| state.made.has(j) || state.loose.has(j);
        live.extend(spread(job, &dangers(job), &closed, &there, &|s| ends(job, s)));
    }
    live
}

/// The same with everything closed that is not isolated: what the states above come to.
pub fn threatened(job: &Job, state: &State) -> BTreeSet<Spot> {
    let closed = |id: DeviceId, wire: Wire| !isolated(job, state, id, wire);
    let there = |j: JointId| state.made.has(j) || state.loose.has(j);
    spread(job, &dangers(job), &closed, &there, &|s| ends(job, s))
}

/// Fails unless a path is simple, made of the job's own connections, and ends on a danger;
/// `cut` tells which of its steps may not be on it.
#[track_caller]
pub fn assert_real(job: &Job, from: Spot, hops: &[Hop], cut: &dyn Fn(Link, Wire) -> bool) {
    let mut at = from;
    let mut met = BTreeSet::from([from]);
    for hop in hops {
        let (a, b, lanes) = match hop.link {
            Link::Device(d) => (job.devices[d].a, job.devices[d].b, job.devices[d].wires),
            Link::Joint(j) => (job.joints[j].a, job.joints[j].b, job.joints[j].wires),
        };
        let lane = lanes.iter().find(|(x, y)| {
            let (x, y) = (Spot { node: a, wire: *x }, Spot { node: b, wire: *y });
            (x, y) == (at, hop.to) || (y, x) == (at, hop.to)
        });
        let (wire, _) = lane.unwrap_or_else(|| panic!("no such connection: {hop:?} from {at:?}"));
        assert!(!cut(hop.link, wire), "{hop:?} is cut");
        assert!(!ends(job, hop.to), "a path along an earthed neutral");
        assert!(met.insert(hop.to), "the path crosses itself at {:?}", hop.to);
        at = hop.to;
    }
    assert!(dangers(job).contains(&at), "the path ends at {at:?}, no danger");
}

/// Whether a lane is cut for *secured*.
pub fn cut(job: &Job, state: &State, link: Link, wire: Wire) -> bool {
    match link {
        Link::Device(d) => isolated(job, state, d, wire),
        Link::Joint(j) => !state.made.has(j) && !state.loose.has(j),
    }
}

/// The locked devices first met on every simple path from one conductor to a danger, by walking
/// every such path, everything closed. `None` where there are too many paths to walk.
pub fn first_locked(job: &Job, state: &State, from: Spot) -> Option<BTreeSet<DeviceId>> {
    let mut next: BTreeMap<Spot, Vec<(Spot, Option<DeviceId>)>> = BTreeMap::new();
    let mut join = |x: Spot, y: Spot, lock| {
        next.entry(x).or_default().push((y, lock));
        next.entry(y).or_default().push((x, lock));
    };
    for (id, d) in job.devices.iter() {
        for (x, y) in d.wires.iter() {
            let lock = isolated(job, state, id, x).then_some(id);
            join(Spot { node: d.a, wire: x }, Spot { node: d.b, wire: y }, lock);
        }
    }
    for (_, j) in job.joints.iter().filter(|(id, _)| state.made.has(*id) || state.loose.has(*id)) {
        for (x, y) in j.wires.iter() {
            join(Spot { node: j.a, wire: x }, Spot { node: j.b, wire: y }, None);
        }
    }
    let mut walk = Walk { job, dangers: dangers(job), next, steps: 0, met: vec![from] };
    let mut found = BTreeSet::new();
    walk.on(from, None, &mut found);
    (walk.steps < STEPS).then_some(found)
}

const STEPS: usize = 3_000;

struct Walk<'a> {
    job: &'a Job,
    dangers: Vec<Spot>,
    next: BTreeMap<Spot, Vec<(Spot, Option<DeviceId>)>>,
    steps: usize,
    met: Vec<Spot>,
}

impl Walk<'_> {
    fn on(&mut self, at: Spot, first: Option<DeviceId>, found: &mut BTreeSet<DeviceId>) {
        self.steps += 1;
        if self.dangers.contains(&at) {
            found.extend(first);
        }
        if self.steps >= STEPS || ends(self.job, at) {
            return;
        }
        for (to, lock) in self.next.get(&at).cloned().unwrap_or_default() {
            if !self.met.contains(&to) {
                self.met.push(to);
                self.on(to, first.or(lock), found);
                self.met.pop();
            }
        }
    }
}
