//! The switching state that the network is asked about.

use super::bits::IdSet;
use crate::model::{DeviceId, Job, JointId};

/// Which devices are closed or locked, and which joints are there. Whose lock it is is not told:
/// for what one person holds (W3), ask with the others' locks taken out of `locked`.
///
/// Invariant kept by whoever changes it: a locked device is not closed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct State {
    /// Closed devices. One that acts by itself starts from here and then follows its node.
    pub closed: IdSet<DeviceId>,
    /// Devices open with at least one lock on.
    pub locked: IdSet<DeviceId>,
    /// Joints that are made.
    pub made: IdSet<JointId>,
    /// Joints taken off whose ends are not yet insulated and apart: they connect nothing for
    /// *live*, but secure nothing either.
    pub loose: IdSet<JointId>,
}

impl State {
    /// Everything as it is before the work: nothing locked.
    pub fn old(job: &Job) -> State {
        let mut state = State {
            closed: IdSet::new(job.devices.len()),
            locked: IdSet::new(job.devices.len()),
            made: IdSet::new(job.joints.len()),
            loose: IdSet::new(job.joints.len()),
        };
        for (id, device) in job.devices.iter() {
            state.closed.set(id, device.closed);
        }
        for (id, joint) in job.joints.iter() {
            state.made.set(id, joint.made);
        }
        state
    }

    /// Opens a device and puts a lock on.
    pub fn lock(&mut self, device: DeviceId) {
        self.closed.remove(device);
        self.locked.insert(device);
    }

    /// Takes the last lock off; the device stays open.
    pub fn unlock(&mut self, device: DeviceId) {
        self.locked.remove(device);
    }

    /// The same state with these devices open and locked.
    pub fn with_locks(&self, devices: &[DeviceId]) -> State {
        let mut state = self.clone();
        for device in devices {
            state.lock(*device);
        }
        state
    }

    /// The same state with the lock on `device` missing: open, but nothing keeps it so.
    pub fn without_lock(&self, device: DeviceId) -> State {
        let mut state = self.clone();
        state.unlock(device);
        state
    }

    /// Makes a joint.
    pub fn make(&mut self, joint: JointId) {
        self.made.insert(joint);
        self.loose.remove(joint);
    }

    /// Takes a joint off; its ends are not insulated yet.
    pub fn part(&mut self, joint: JointId) {
        self.made.remove(joint);
        self.loose.insert(joint);
    }

    /// The ends of a joint are insulated and apart.
    pub fn insulate(&mut self, joint: JointId) {
        self.made.remove(joint);
        self.loose.remove(joint);
    }
}
