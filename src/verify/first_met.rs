//! Devices first met on every path towards a source.

use super::now::Now;
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
}

/// The locked devices first met on every path from `seeds` towards a source, every other
/// device being taken as closed (section 2, "securing devices").
pub(super) fn securing(now: &Now, seeds: &[Conductor]) -> BTreeSet<DeviceId> {
    let stop = |lane: usize| !now.sure.on(lane);
    // Beyond the first lock any further one counts as closed, but a joint taken off is no path.
    let beyond = |lane: usize| {
        !matches!(now.site.wiring.lanes[lane].part, Part::Joint(_)) || now.sure.on(lane)
    };
    search(now, seeds, stop, beyond, |c| now.site.wiring.hot(c)).devices
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
    let mut met = Met { devices: BTreeSet::new(), open: false, passed: BTreeSet::new() };
    let mut region: BTreeSet<Conductor> = seeds.iter().copied().collect();
    let mut queue: Vec<Conductor> = region.iter().copied().collect();
    let mut edge: Vec<(DeviceId, Conductor)> = Vec::new();
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
                    edge.push((d, other));
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
    for (device, far) in edge {
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
        }
    }
    // A device between two of the conductors asked about lies on a path from the one of them.
    if !met.devices.is_empty() || met.open {
        met.devices.extend(between);
    }
    met.passed = within.into_iter().map(|(d, _, _)| d).collect();
    met
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
