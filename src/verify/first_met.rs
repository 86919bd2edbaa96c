//! Devices first met on every path towards a source.

use super::now::Now;
use super::simple_path::on_a_path;
use super::wiring::{Conductor, Part};
use crate::model::{DeviceId, Id};
use std::collections::BTreeSet;

/// What lies around some conductors, up to the first devices of a kind.
pub(super) struct Met {
    /// The devices, each on some path to a source.
    pub devices: BTreeSet<DeviceId>,
    /// Some path meets none before its source.
    pub open: bool,
    /// Self-acting devices passed over.
    pub passed: BTreeSet<DeviceId>,
    /// Devices at the edge whose far side leads on to a source only back through the region, if at
    /// all: the device, its lane, the conductors on the near and the far side.
    back: Vec<(DeviceId, usize, [Conductor; 2])>,
    /// What lies around the conductors, up to those devices.
    region: BTreeSet<Conductor>,
}

/// The locked devices first met on every path from `seeds` towards a source, every other
/// device being taken as closed (section 2, "securing devices").
///
/// Each conductor is asked for itself. Of two conductors of one position, a path from the one may
/// go over a lock, come back to the other and leave from there: the lock is the first that it
/// meets, and counts, though none of it is needed to keep the position as a whole dead. That is
/// the stricter reading: a proof is void when such a lock comes off, or is new.
pub(super) fn securing(now: &Now, seeds: &[Conductor]) -> BTreeSet<DeviceId> {
    let w = &now.site.wiring;
    let stop = |lane: usize| !now.sure.on(lane);
    // Beyond the first lock any further one counts as closed, but a joint taken off is no path.
    let beyond = |lane: usize| !matches!(w.lanes[lane].part, Part::Joint(_)) || now.sure.on(lane);
    let Met { mut devices, back, region, .. } = search(now, seeds, stop, beyond, |c| w.hot(c));
    for (device, lane, [near, far]) in back {
        if devices.contains(&device) || !back_from(now, lane, far, &beyond, &region) {
            continue;
        }
        let around = spread(now, near, |l| now.sure.on(l));
        let mut starts = seeds.iter().filter(|s| around.contains(s));
        if starts.any(|s| on_a_path(w, *s, lane, &beyond)) {
            devices.insert(device);
        }
    }
    devices
}

/// What is joined to a conductor by lanes that pass.
fn spread(now: &Now, from: Conductor, passes: impl Fn(usize) -> bool) -> BTreeSet<Conductor> {
    let mut seen = BTreeSet::from([from]);
    let mut queue = vec![from];
    while let Some(c) = queue.pop() {
        for &(lane, other) in &now.site.wiring.next[c] {
            if passes(lane) && seen.insert(other) {
                queue.push(other);
            }
        }
    }
    seen
}

/// The overcurrent devices first met from `seeds` towards a running source, as things stand.
pub(super) fn overcurrent(now: &Now, seeds: &[Conductor]) -> Met {
    let w = &now.site.wiring;
    let stop = |lane: usize| {
        !now.live.on(lane)
            || matches!(w.lanes[lane].part, Part::Switched(d) | Part::Through(d)
                if now.site.job.devices[d].overcurrent)
    };
    search(
        now,
        seeds,
        stop,
        |lane| now.live.on(lane),
        |c| w.feed[c].is_some_and(|f| f.hot && now.sources[f.source.index()]),
    )
}

fn search(
    now: &Now,
    seeds: &[Conductor],
    stop: impl Fn(usize) -> bool,
    beyond: impl Fn(usize) -> bool,
    source: impl Fn(Conductor) -> bool,
) -> Met {
    let w = &now.site.wiring;
    let mut met = Met {
        devices: BTreeSet::new(),
        open: false,
        passed: BTreeSet::new(),
        back: Vec::new(),
        region: BTreeSet::new(),
    };
    let mut region: BTreeSet<Conductor> = seeds.iter().copied().collect();
    let mut queue: Vec<Conductor> = region.iter().copied().collect();
    let mut edge: Vec<(DeviceId, usize, Conductor, Conductor)> = Vec::new();
    let mut within: Vec<(DeviceId, Conductor, Conductor)> = Vec::new();
    while let Some(c) = queue.pop() {
        met.open |= source(c);
        for &(lane, other) in &w.next[c] {
            let device = match w.lanes[lane].part {
                Part::Switched(d) | Part::Through(d) => Some(d),
                Part::Joint(_) => None,
            };
            if stop(lane) {
                if let Some(d) = device.filter(|_| beyond(lane)) {
                    edge.push((d, lane, c, other));
                }
                continue;
            }
            if let Some(d) = device.filter(|d| now.site.job.devices[*d].self_acting.is_some()) {
                within.push((d, c, other));
            }
            if region.insert(other) {
                queue.push(other);
            }
        }
    }
    let mut between: BTreeSet<DeviceId> = BTreeSet::new();
    let mut known: Vec<(BTreeSet<Conductor>, bool)> = Vec::new();
    for (device, lane, near, far) in edge {
        if met.devices.contains(&device) {
            continue;
        }
        if region.contains(&far) {
            between.insert(device);
            continue;
        }
        let leads = match known.iter().find(|(seen, _)| seen.contains(&far)) {
            Some((_, leads)) => *leads,
            None => {
                let (seen, leads) = leads_to(now, far, &region, &beyond, &source);
                if !leads {
                    known.push((seen, leads));
                }
                leads
            }
        };
        if leads {
            met.devices.insert(device);
        } else {
            met.back.push((device, lane, [near, far]));
        }
    }
    // A device between two of the conductors asked about lies on a path from the one of them.
    if !met.devices.is_empty() || met.open {
        met.devices.extend(between);
    }
    met.passed = within.into_iter().map(|(d, _, _)| d).collect();
    met.region = region;
    met
}

/// Whether a path from `far` that does not go over `lane` comes back to `region`. The ways of
/// most boards lead nowhere, which is soon seen.
fn back_from(
    now: &Now,
    lane: usize,
    far: Conductor,
    beyond: &impl Fn(usize) -> bool,
    region: &BTreeSet<Conductor>,
) -> bool {
    let mut seen = BTreeSet::from([far]);
    let mut queue = vec![far];
    while let Some(c) = queue.pop() {
        for &(other_lane, other) in &now.site.wiring.next[c] {
            if other_lane == lane || !beyond(other_lane) {
                continue;
            }
            if region.contains(&other) {
                return true;
            }
            if seen.insert(other) {
                queue.push(other);
            }
        }
    }
    false
}

/// Whether a path from `far` that stays out of `region` ends at a source; with all that the
/// search has seen.
fn leads_to(
    now: &Now,
    far: Conductor,
    region: &BTreeSet<Conductor>,
    beyond: &impl Fn(usize) -> bool,
    source: &impl Fn(Conductor) -> bool,
) -> (BTreeSet<Conductor>, bool) {
    let mut seen = BTreeSet::from([far]);
    let mut queue = std::collections::VecDeque::from([far]);
    while let Some(c) = queue.pop_front() {
        if source(c) {
            return (seen, true);
        }
        for &(lane, other) in &now.site.wiring.next[c] {
            if beyond(lane) && !region.contains(&other) && seen.insert(other) {
                queue.push_back(other);
            }
        }
    }
    (seen, false)
}
