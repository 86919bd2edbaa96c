//! Which circuits may ride on a temporary supply, and which had better.

use super::ground::Ground;
use super::price::approx;
use super::switching;
use crate::model::*;
use crate::network::State;
use crate::units::{Exact, whole};
use crate::work::{Project, Ride};
use num_traits::Zero;
use std::collections::BTreeMap;

/// Units that ride, each on a supply: the decision of one session.
pub type Riding = BTreeMap<usize, SupplyId>;

/// Whether every circuit of the unit can be put on the supply.
pub fn can_ride(g: &Ground, project: &Project, unit: usize, supply: SupplyId) -> bool {
    let joined = |c: &CircuitId| {
        let wanted = Some((*c, Place::On(supply)));
        g.job.joints.rows().iter().any(|j| j.of == wanted)
    };
    let forbidden = |c: &CircuitId| {
        (g.labour.pins.iter()).any(|p| match p.what {
            PinKind::RidesOnNone(x) => x == *c,
            PinKind::RidesNotOn(x, s) => x == *c && s == supply,
            _ => false,
        })
    };
    let units = &project.units[unit];
    units.iter().all(joined) && !units.iter().any(forbidden)
}

/// Whether the supply carries all these units at once: ways, amperes on each line, drop and loop
/// impedance (T2, T3), and its feed stays live while `locks` are on (T1).
pub fn carries(
    g: &Ground,
    project: &Project,
    units: &[usize],
    supply: SupplyId,
    state: &State,
    locks: &[DeviceId],
) -> bool {
    let s = &g.job.supplies[supply];
    let circuits: Vec<CircuitId> =
        units.iter().flat_map(|u| project.units[*u].iter().copied()).collect();
    let mut lines: BTreeMap<Wire, Exact> = BTreeMap::new();
    for c in &circuits {
        for (line, amps) in amps_on(g, *c, supply) {
            *lines.entry(line).or_insert_with(Exact::zero) += amps;
        }
    }
    let most = lines.values().max().cloned().unwrap_or_else(Exact::zero);
    let sum = &most * &s.diversity;
    let devices = switching::supply_devices(g, supply);
    let rated = devices.iter().all(|d| {
        let device = &g.job.devices[*d];
        &most * &device.diversity <= device.rating.0
    });
    let drop = &s.mv_per_a_m * &s.length.0 * &sum / whole(1000);
    let neutral = &s.feed_loop.neutral.0 + &s.lead_per_m.neutral * &s.length.0;
    let earth = &s.feed_loop.earth.0 + &s.lead_per_m.earth * &s.length.0;
    let rcd = s.rcd_ma.as_ref().is_some_and(|ma| *ma <= whole(30));
    let live = g.net.live(&state.with_locks(locks));
    circuits.len() as i64 <= s.ways
        && sum <= s.rating.0
        && rated
        && drop <= s.drop_limit.0
        && neutral <= s.loop_limit.0
        && (earth <= s.loop_limit.0 || rcd)
        && g.net.live_node(&live, s.feed)
}

/// A circuit's design current by line of the supply; the supply's whole rating where unknown.
fn amps_on(g: &Ground, circuit: CircuitId, supply: SupplyId) -> Vec<(Wire, Exact)> {
    let it = &g.job.circuits[circuit];
    let joint = (g.job.joints.rows().iter()).find(|j| j.of == Some((circuit, Place::On(supply))));
    let Some(joint) = joint else { return Vec::new() };
    let own_is_b = it.nodes.contains(&joint.b);
    let lanes = joint.wires.iter().filter(|(a, _)| a.is_line());
    lanes
        .map(|(a, b)| {
            let (there, own) = if own_is_b { (a, b) } else { (b, a) };
            let known = it.amps.iter().find(|(w, _)| *w == own).map(|(_, x)| x.0.clone());
            (there, known.unwrap_or_else(|| g.job.supplies[supply].rating.0.clone()))
        })
        .collect()
}

/// The weight of what a unit serves, for each minute.
pub fn weight(g: &Ground, project: &Project, unit: usize) -> f64 {
    let mut loads: Vec<LoadId> =
        project.units[unit].iter().flat_map(|c| &g.loads_of[c.index()]).copied().collect();
    loads.sort_unstable();
    loads.dedup();
    loads.iter().map(|l| approx(&g.job.loads[*l].weight)).sum()
}

/// Whether a unit serves something that must not be out for long.
pub fn pressing(g: &Ground, project: &Project, unit: usize) -> bool {
    let longest = g.job.windows.rows().iter().map(|w| w.period.length().0).max().unwrap_or(0);
    let loads = project.units[unit].iter().flat_map(|c| &g.loads_of[c.index()]);
    let mut limits = loads.map(|l| {
        let load = &g.job.loads[*l];
        (load.life_safety && load.measure.is_none())
            || load.max_single.is_some_and(|m| m.0 < longest)
            || load.max_total.is_some_and(|m| m.0 < longest)
    });
    limits.any(|x| x)
}

/// Chooses riders among `units`: those that are pinned, then those that must not be out for
/// long, then, if `all`, whatever is important, as long as the supplies carry them.
pub fn choose(
    g: &Ground,
    project: &Project,
    units: &[usize],
    state: &State,
    locks: &[DeviceId],
    all: bool,
) -> Riding {
    let mut wanted: Vec<usize> = units.to_vec();
    let pinned = |u: usize| -> Option<SupplyId> {
        g.labour.pins.iter().find_map(|p| match p.what {
            PinKind::RidesOn(c, s) if project.units[u].contains(&c) => Some(s),
            _ => None,
        })
    };
    let key = |u: usize| {
        (pinned(u).is_none(), !pressing(g, project, u), -(weight(g, project, u) * 1000.0) as i64, u)
    };
    wanted.sort_by_key(|u| key(*u));
    let mut riding = Riding::new();
    for unit in wanted {
        if pinned(unit).is_none() && !pressing(g, project, unit) && !all {
            continue;
        }
        let candidates = g.job.supplies.ids().filter(|s| pinned(unit).is_none_or(|p| p == *s));
        let fits = |s: &SupplyId| {
            let mut on: Vec<usize> =
                riding.iter().filter(|(_, x)| *x == s).map(|(u, _)| *u).collect();
            on.push(unit);
            can_ride(g, project, unit, *s) && carries(g, project, &on, *s, state, locks)
        };
        if let Some(supply) = candidates.into_iter().find(fits) {
            riding.insert(unit, supply);
        }
    }
    riding
}

/// The rides of units that go on and come off in one session.
pub fn rides(project: &Project, riding: &Riding) -> Vec<Ride> {
    let mut all = Vec::new();
    for (unit, supply) in riding {
        for circuit in &project.units[*unit] {
            let ride = Ride { circuit: *circuit, supply: *supply, goes_on: true, comes_off: true };
            all.push(ride);
        }
    }
    all
}
