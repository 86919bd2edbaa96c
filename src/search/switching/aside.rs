//! Boards set aside from what else a lock further up takes down.
//!
//! Where a board's own isolator is not to be locked, a lock above it takes others down too, and
//! they come back before the board does, or never with it. Its isolator is opened all the same,
//! without a lock and without anybody relying on it: then tests at the board do not reach what
//! hangs beside it (W8), and a board that is stripped out stays dead when the others come back
//! (W13).

use super::depths;
use crate::model::*;
use crate::network::State;
use crate::search::ground::Ground;

/// The devices to be opened besides `locks`, for boards that stand as in `state` before that.
pub fn aside(g: &Ground, state: &State, boards: &[BoardId], locks: &[DeviceId]) -> Vec<DeviceId> {
    let job = g.job;
    let live = g.net.live(state);
    let whole = g.net.goes_dead(state, &live, locks).len();
    let depth = depths(g, state);
    let mut out: Vec<DeviceId> = Vec::new();
    for &board in boards {
        let b = &job.boards[board];
        let bare = [b.incoming, b.ways].into_iter().flat_map(|p| &job.positions[p].bare);
        let fed: Vec<NodeId> = bare.copied().filter(|n| g.net.live_node(&live, *n)).collect();
        // Opening it alone makes the board dead, and takes down less than the locks do.
        let parts = |d: DeviceId| {
            let mut open = state.clone();
            open.closed.remove(d);
            let after = g.net.live(&open);
            fed.iter().all(|n| !g.net.live_node(&after, *n))
                && g.net.goes_dead(state, &live, &[d]).len() < whole
        };
        if fed.is_empty() || locks.iter().any(|d| parts(*d)) {
            continue;
        }
        let by_hand = |d: &DeviceId| {
            let x = &job.devices[*d];
            let own = x.enclosure.is_some_and(|e| boards.contains(&e));
            let closed = state.closed.has(*d) && !locks.contains(d);
            closed && !own && x.self_acting.is_none() && x.third_party.is_none()
        };
        let far =
            |d: DeviceId| depth[job.devices[d].a.index()].max(depth[job.devices[d].b.index()]);
        // Nothing off a way that feeds it makes it dead, and to ask that of every device is long.
        let way = g.net.way_to(state, fed[0]);
        let may = |d: &DeviceId| way.as_ref().is_none_or(|way| way.contains(d));
        let nearest = job.devices.ids().filter(may).filter(by_hand).filter(|d| parts(*d));
        out.extend(nearest.max_by_key(|d| (far(*d), std::cmp::Reverse(*d))));
    }
    out.sort_unstable();
    out.dedup();
    out
}
