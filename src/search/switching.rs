//! In which order devices are opened, locked and closed.

mod aside;

pub use aside::aside;

use super::ground::{Edge, Ground};
use crate::model::*;
use crate::network::State;
use std::collections::{BTreeMap, BinaryHeap};

/// One act of making dead.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flick {
    /// Open it.
    Open(DeviceId),
    /// Lock it open.
    Lock(DeviceId),
}

/// The acts that lock `locks`, first things first, and the state after them.
///
/// What is open already is locked first, so that nothing that starts by itself can come in (W7);
/// then what cuts least, so that watched nodes go dead last. A device that must not be operated on
/// load waits until others have taken the load off (W6).
pub fn make_dead(g: &Ground, state: &State, locks: &[DeviceId]) -> (Vec<Flick>, State) {
    let mut acts = Vec::new();
    let mut state = state.clone();
    let mut rest: Vec<DeviceId> = locks.to_vec();
    while !rest.is_empty() {
        let live = g.net.live(&state);
        let harm = |d: DeviceId| {
            if !state.closed.has(d) && g.job.devices[d].self_acting.is_none() {
                return (0, 0, d);
            }
            let lost = g.net.goes_dead(&state, &live, &[d]).len();
            let starts = usize::from(wakes(g, &state, d));
            (1 + starts, lost, d)
        };
        let Some(&device) = rest.iter().min_by_key(|d| harm(**d)) else { break };
        rest.retain(|d| *d != device);
        if state.closed.has(device) {
            if !g.job.devices[device].on_load {
                for shed in unload(g, &state, device) {
                    acts.push(Flick::Open(shed));
                    state.closed.remove(shed);
                }
            }
            acts.push(Flick::Open(device));
        }
        state.lock(device);
        acts.push(Flick::Lock(device));
    }
    (acts, state)
}

/// Whether opening the device makes a watched node dead.
fn wakes(g: &Ground, state: &State, device: DeviceId) -> bool {
    let live = g.net.live(state);
    let after = g.net.live(&state.with_locks(&[device]));
    let watched = g.job.nodes.rows().iter().filter_map(|n| n.source().and_then(|s| s.watches));
    watched.into_iter().any(|n| g.net.live_node(&live, n) && !g.net.live_node(&after, n))
}

/// What is opened on load before a device that must not be: one switch that takes everything
/// off it if there is one, else the ways of all that it feeds.
fn unload(g: &Ground, state: &State, device: DeviceId) -> Vec<DeviceId> {
    let live = g.net.live(state);
    let fed = g.net.goes_dead(state, &live, &[device]);
    if fed.is_empty() {
        return Vec::new();
    }
    let by_hand = |d: DeviceId| {
        let x = &g.job.devices[d];
        state.closed.has(d) && x.on_load && x.self_acting.is_none() && x.third_party.is_none()
    };
    let depth = depths(g, state);
    let single = (g.job.devices.ids())
        .filter(|d| *d != device && by_hand(*d))
        .filter_map(|d| {
            let lost = g.net.goes_dead(state, &live, &[d]);
            let far = depth[g.job.devices[d].a.index()].max(depth[g.job.devices[d].b.index()]);
            let takes_all = fed.iter().all(|c| lost.contains(c));
            takes_all.then_some((lost.len(), std::cmp::Reverse(far), d))
        })
        .min();
    if let Some((_, _, d)) = single {
        return vec![d];
    }
    let mut ways: Vec<DeviceId> = fed
        .iter()
        .flat_map(|c| g.net.first_overcurrent(state, &live, *c).devices)
        .filter(|d| by_hand(*d))
        .collect();
    ways.sort_unstable();
    ways.dedup();
    ways
}

/// The order in which devices are closed.
///
/// A neutral before its lines (W4); what must not be closed on load while what lies beyond it is
/// still open (W6); sources that start by themselves last; else from the supply outwards.
pub fn closing_order(g: &Ground, state: &State, devices: &[DeviceId]) -> Vec<DeviceId> {
    if devices.len() < 2 {
        return devices.iter().copied().filter(|d| !state.closed.has(*d)).collect();
    }
    let depth = depths(g, state);
    let mut order: Vec<DeviceId> = devices.to_vec();
    let standby = |d: DeviceId| {
        let x = &g.job.devices[d];
        [x.a, x.b].iter().any(|n| g.job.nodes[*n].source().is_some_and(|s| s.watches.is_some()))
    };
    let key = |d: DeviceId| {
        let x = &g.job.devices[d];
        let neutral_only = x.breaks.iter().all(|w| w == Wire::N);
        let far = depth[x.a.index()].max(depth[x.b.index()]);
        (standby(d), !neutral_only, x.on_load, far, d)
    };
    order.sort_by_key(|d| key(*d));
    order.retain(|d| !state.closed.has(*d));
    order
}

/// How many devices lie between each node and the nearest source that always runs.
fn depths(g: &Ground, state: &State) -> Vec<u32> {
    let mut depth = vec![u32::MAX; g.job.nodes.len()];
    let mut queue = std::collections::VecDeque::new();
    for (id, node) in g.job.nodes.iter() {
        if node.source().is_some_and(|s| s.watches.is_none()) {
            depth[id.index()] = 0;
            queue.push_back(id);
        }
    }
    while let Some(node) = queue.pop_front() {
        let next = depth[node.index()].saturating_add(1);
        for &(far, edge) in &g.edges[node.index()] {
            if matches!(edge, Edge::Joint(j) if !state.made.has(j)) {
                continue;
            }
            if depth[far.index()] == u32::MAX {
                depth[far.index()] = next;
                queue.push_back(far);
            }
        }
    }
    depth
}

/// The devices that have to be closed for a board's busbars to be fed, through joints as they
/// stand in `state`: for each busbar the way to a source that needs least switching, and leads
/// through no board that is not `alive`. Devices that act by themselves are left out.
pub fn feed_path(g: &Ground, state: &State, board: BoardId, alive: &[BoardId]) -> Vec<DeviceId> {
    let mut all: Vec<DeviceId> = busbars(g.job, board)
        .into_iter()
        .filter_map(|bus| cheapest_path(g, state, bus, board, alive))
        .flatten()
        .filter(|d| g.job.devices[*d].self_acting.is_none())
        .collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// The nodes of a board from which its outgoing ways are taken.
pub fn busbars(job: &Job, board: BoardId) -> Vec<NodeId> {
    let ways = &job.positions[job.boards[board].ways];
    let is_way = |n: NodeId| ways.row.contains(&n);
    let mut bars: Vec<NodeId> = job
        .devices
        .rows()
        .iter()
        .filter_map(|d| match (is_way(d.a), is_way(d.b)) {
            (true, false) => Some(d.b),
            (false, true) => Some(d.a),
            _ => None,
        })
        .filter(|n| ways.bare.contains(n))
        .collect();
    bars.sort_unstable();
    bars.dedup();
    if bars.is_empty() { ways.points.clone() } else { bars }
}

fn cheapest_path(
    g: &Ground,
    state: &State,
    from: NodeId,
    board: BoardId,
    alive: &[BoardId],
) -> Option<Vec<DeviceId>> {
    let job = g.job;
    let cost = |id: DeviceId| -> u32 {
        let d = &job.devices[id];
        let open = if state.closed.has(id) || d.self_acting.is_some() { 1 } else { 2 };
        let elsewhere = match d.enclosure {
            Some(e) if e != board && !alive.contains(&e) => 1000,
            Some(e) if e != board => 20,
            _ => 0,
        };
        open + elsewhere + if d.temporary { 5 } else { 0 }
    };
    let source = |n: NodeId| job.nodes[n].source().is_some_and(|s| s.watches.is_none());
    let mut best: BTreeMap<NodeId, u32> = BTreeMap::from([(from, 0)]);
    let mut came: BTreeMap<NodeId, (NodeId, Option<DeviceId>)> = BTreeMap::new();
    let mut heap = BinaryHeap::from([(std::cmp::Reverse(0u32), from)]);
    while let Some((std::cmp::Reverse(so_far), node)) = heap.pop() {
        if best.get(&node).is_some_and(|b| *b < so_far) {
            continue;
        }
        if source(node) {
            let mut path = Vec::new();
            let mut at = node;
            while let Some((before, device)) = came.get(&at) {
                path.extend(*device);
                at = *before;
            }
            return Some(path);
        }
        for &(far, edge) in &g.edges[node.index()] {
            let (price, device) = match edge {
                Edge::Device(d) => (cost(d), Some(d)),
                Edge::Joint(j) => {
                    let lines = job.joints[j].wires.iter().any(|(a, _)| a.is_line());
                    if !(lines && state.made.has(j)) {
                        continue;
                    }
                    (0, None)
                }
            };
            let total = so_far + price;
            if total < 1000 && best.get(&far).is_none_or(|b| total < *b) {
                best.insert(far, total);
                came.insert(far, (node, device));
                heap.push((std::cmp::Reverse(total), far));
            }
        }
    }
    None
}

/// Whether closing the device could serve a circuit: some load point lies beyond it, on the side
/// away from the supplies, through what is closed or about to be.
pub fn serves_something(g: &Ground, state: &State, device: DeviceId, closing: &[DeviceId]) -> bool {
    let job = g.job;
    let d = &job.devices[device];
    let depth = depths(g, state);
    let start = if depth[d.a.index()] < depth[d.b.index()] { d.b } else { d.a };
    let mut met = vec![false; job.nodes.len()];
    let mut stack = vec![start];
    met[start.index()] = true;
    while let Some(node) = stack.pop() {
        if job.nodes[node].kind == NodeKind::Load {
            return true;
        }
        let shut = |id: DeviceId| {
            let by_itself = job.devices[id].self_acting.is_some() && !state.locked.has(id);
            id != device && (state.closed.has(id) || closing.contains(&id) || by_itself)
        };
        for &(far, edge) in &g.edges[node.index()] {
            let there = match edge {
                Edge::Device(d) => shut(d),
                Edge::Joint(j) => state.made.has(j),
            };
            if !there {
                continue;
            }
            // Back through the supply side is not beyond the device.
            if !met[far.index()] && depth[far.index()] > depth[start.index()].saturating_sub(1) {
                met[far.index()] = true;
                stack.push(far);
            }
        }
    }
    false
}

/// The devices between a temporary supply's feed and the end of its lead.
pub fn supply_devices(g: &Ground, supply: SupplyId) -> Vec<DeviceId> {
    let s = &g.job.supplies[supply];
    let direct: Vec<DeviceId> = (g.job.devices.iter())
        .filter(|(_, d)| (d.a, d.b) == (s.feed, s.node) || (d.b, d.a) == (s.feed, s.node))
        .map(|(id, _)| id)
        .collect();
    if !direct.is_empty() {
        return direct;
    }
    (g.job.devices.iter())
        .filter(|(_, d)| d.a == s.node || d.b == s.node)
        .map(|(id, _)| id)
        .collect()
}
