//! Sets of locks: what they cost, which are the cheapest, and why there may be none.

use super::graph::{Link, Network, Spot, Vertex};
use super::state::State;
use super::upstream::Upstream;
use super::walk::Hop;
use crate::model::{DeviceId, NodeId};

/// What a set of locks costs; compared in this order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cost {
    /// What else goes down, in the caller's unit; below 2^60.
    pub outage: u64,
    /// Number of devices locked.
    pub locks: u64,
    /// Sum over the devices of the links between device and place.
    pub distance: u64,
}

impl Cost {
    /// One number in the same order, of which sums and shares can be taken.
    pub(super) fn scalar(self) -> u128 {
        // Locks and distances are bounded by the size of the section, far below 2^32.
        (u128::from(self.outage.min(1 << 60)) << 62)
            + (u128::from(self.locks.min((1 << 31) - 1)) << 31)
            + u128::from(self.distance.min((1 << 31) - 1))
    }
}

/// What it costs to lock devices.
///
/// Contract: `whole` never falls when a device is added, and rises at least by its `share`.
pub trait Price {
    /// The outage of locking exactly these (in order, none twice).
    fn whole(&self, devices: &[DeviceId]) -> u64;
    /// What this device adds at least to any set.
    fn share(&self, _device: DeviceId) -> u64 {
        0
    }
}

/// A price of its own for each device; a set costs their sum.
pub struct Each<F>(pub F);

impl<F: Fn(DeviceId) -> u64> Price for Each<F> {
    fn whole(&self, devices: &[DeviceId]) -> u64 {
        devices.iter().map(|d| (self.0)(*d)).sum()
    }
    fn share(&self, device: DeviceId) -> u64 {
        (self.0)(device)
    }
}

/// Devices that secure the places asked for, with the locks that are on already.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LockSet {
    /// Further devices to be locked, in order. Empty if the places are secured as it is.
    pub devices: Vec<DeviceId>,
    /// What they cost.
    pub cost: Cost,
}

/// The best sets, cheapest first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LockSets {
    /// At least one; each minimal, but for what was forced.
    pub sets: Vec<LockSet>,
    /// The search ended by itself: no other minimal set is cheaper. False only where a densely
    /// meshed network used up the number of steps allowed.
    pub exact: bool,
}

/// No set of locks secures the places.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unbreakable {
    /// The conductor of a place where the path begins.
    pub from: Spot,
    /// The path to a source; none of its devices can be locked for it. Empty: it is the source.
    pub hops: Vec<Hop>,
    /// Links (those nearest to the place, out of the fewest) at which a lockable device that
    /// isolates would have to be added. Empty if none can help.
    pub add_at: Vec<Link>,
}

/// The cheapest sets of lockable, suitable devices that, with the locks of `state`, secure every
/// conductor of `targets`: at most `count` of them. `forced` devices are locked wherever they
/// can cut a path of the targets; `forbidden` ones never.
pub fn lock_sets(
    network: &Network,
    state: &State,
    targets: &[NodeId],
    price: &dyn Price,
    forbidden: &[DeviceId],
    forced: &[DeviceId],
    count: usize,
) -> Result<LockSets, Unbreakable> {
    Upstream::new(network, state).lock_sets(network, targets, price, forbidden, forced, count)
}

impl Upstream {
    /// [`lock_sets`], where the way up in the state is known already.
    pub fn lock_sets(
        &self,
        network: &Network,
        targets: &[NodeId],
        price: &dyn Price,
        forbidden: &[DeviceId],
        forced: &[DeviceId],
        count: usize,
    ) -> Result<LockSets, Unbreakable> {
        let starts: Vec<Vertex> = targets.iter().flat_map(|n| network.vertices(*n)).collect();
        let section = self.section(network, &starts);
        super::cut::search(network, &section, price, forbidden, forced, count)
    }
}
