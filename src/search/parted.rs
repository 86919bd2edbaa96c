//! The planner's own watch over rule E1: a group's feed and the lighting that it watches are live
//! together, behind the same overcurrent devices, after every act.

use super::ground::Ground;
use crate::model::*;
use crate::network::{LiveSet, State};

/// Whether the group's feed is parted from its lighting, or from a coil in front of the lamps.
/// An old state that the job exempts counts as whole until one of the two is `moved`.
pub fn parted(
    g: &Ground,
    group: &Group,
    state: &State,
    live: &LiveSet,
    moved: &dyn Fn(CircuitId) -> bool,
) -> bool {
    let pair = [group.feed, group.watches];
    if !pair.iter().any(|c| g.net.circuit_live(live, *c)) {
        return false;
    }
    if group.old_state_exempt.is_some() && !pair.iter().any(|c| moved(*c)) {
        return false;
    }
    if !pair.iter().all(|c| g.net.circuit_fed(live, *c)) {
        return true;
    }
    let of_feed = g.net.first_overcurrent(state, live, group.feed);
    if of_feed.unprotected || of_feed.devices.is_empty() {
        return true;
    }
    let coils = g.job.watched_coils(group).into_iter().map(|(_, coil)| coil);
    std::iter::once(group.watches).chain(coils).any(|c| {
        let met = g.net.first_overcurrent(state, live, c);
        met.unprotected || met.devices != of_feed.devices
    })
}
