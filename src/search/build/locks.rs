//! Which locks make boards safe at the least harm to others.

use super::{Build, Unsafe};
use crate::model::*;
use crate::network::{Price, State, lock_sets};
use crate::search::ground::Ground;
use crate::search::switching;

/// The weight of what else goes dead with a set of locks.
struct Outage<'a> {
    g: &'a Ground<'a>,
    state: &'a State,
    /// Goes dead whatever is locked.
    anyway: Vec<CircuitId>,
    /// Devices that other boards of the job are fed through: locked, they hold those up too.
    shared: Vec<DeviceId>,
    /// Nodes that have to stay live for temporary supplies in use.
    feeds: Vec<NodeId>,
}

impl Price for Outage<'_> {
    fn whole(&self, devices: &[DeviceId]) -> u64 {
        let lost = self.g.lost(self.state, devices);
        let else_lost = lost.iter().filter(|c| !self.anyway.contains(c));
        let weight = |c: &CircuitId| -> f64 {
            let loads = &self.g.loads_of[c.index()];
            loads.iter().map(|l| crate::search::price::approx(&self.g.job.loads[*l].weight)).sum()
        };
        let others: u64 = else_lost.map(|c| 10 + (10_000.0 * weight(c)) as u64).sum();
        let shared = devices.iter().filter(|d| self.shared.contains(d)).count() as u64;
        let feeds = if self.feeds.is_empty() {
            0
        } else {
            let live = self.g.net.live(&self.state.with_locks(devices));
            self.feeds.iter().filter(|n| !self.g.net.live_node(&live, **n)).count() as u64
        };
        others + shared + 1_000_000_000 * feeds
    }
}

impl Build<'_> {
    pub(super) fn locks(
        &self,
        boards: &[BoardId],
        off: &[CircuitId],
        on: &[CircuitId],
        tails: &[usize],
        joined: &State,
    ) -> Result<Vec<DeviceId>, Unsafe> {
        let g = self.g;
        let job = g.job;
        let mut targets: Vec<NodeId> = Vec::new();
        for &board in boards {
            for p in self.laid_open(board, tails) {
                targets.extend(job.positions[p].bare.iter().chain(&job.positions[p].other_fed));
            }
        }
        let here = |t: &&Tails| self.board_worked(t).is_some_and(|b| boards.contains(&b));
        for t in tails.iter().map(|t| &g.labour.tails[*t]).filter(here) {
            for joint in t.breaks.iter().chain(&t.makes) {
                targets.extend([job.joints[*joint].a, job.joints[*joint].b]);
            }
        }
        let riding = |c: &CircuitId| self.spec.riders.iter().any(|r| r.circuit == *c && !r.goes_on);
        for c in off.iter().chain(on).filter(|c| !riding(c)) {
            targets.extend(&job.circuits[*c].nodes);
        }
        targets.sort_unstable();
        targets.dedup();
        let (mut forbidden, mut forced) = (Vec::new(), Vec::new());
        for pin in &g.labour.pins {
            match pin.what {
                PinKind::NoLockAt(d) => forbidden.push(d),
                PinKind::LockAt(d) => forced.push(d),
                _ => {}
            }
        }
        forbidden
            .extend(job.devices.iter().filter(|(_, d)| d.self_acting.is_some()).map(|(i, _)| i));
        // A way of its own is no place to make a board dead from.
        let routes = g.routes.iter().flat_map(|r| &r.ways);
        let ways: Vec<NodeId> = routes.copied().collect();
        let on_way = |d: &Device| ways.contains(&d.a) || ways.contains(&d.b);
        let own = |d: &Device| d.enclosure.is_some_and(|e| boards.contains(&e));
        forbidden.extend(job.devices.iter().filter(|(_, d)| on_way(d) && own(d)).map(|(i, _)| i));
        let anyway = self.on_boards(boards);
        let apart = self.project.boards().filter(|b| !boards.contains(b));
        let everything: Vec<BoardId> = job.boards.ids().collect();
        let shared: Vec<DeviceId> =
            apart.flat_map(|b| switching::feed_path(g, joined, b, &everything)).collect();
        let feeds = self.spec.riders.iter().map(|r| job.supplies[r.supply].feed).collect();
        let price = Outage { g, state: self.state, anyway, shared, feeds };
        let parted = self.parted(joined, boards, off);
        let sets = lock_sets(&g.net, &parted, &targets, &price, &forbidden, &forced, 1)
            .map_err(|path| Unsafe { board: boards[0], path })?;
        let mut locks = sets.sets.into_iter().next().map(|s| s.devices).unwrap_or_default();
        locks.extend(self.links_coming_off(tails));
        locks.sort_unstable();
        locks.dedup();
        Ok(locks)
    }

    /// The state in which work at these boards finds the circuits that come off other boards: its
    /// first task on such a circuit waits until that is disconnected.
    fn parted(&self, joined: &State, boards: &[BoardId], off: &[CircuitId]) -> State {
        let mut state = joined.clone();
        for c in off {
            let route = &self.g.routes[c.index()];
            if route.from.is_some_and(|b| !boards.contains(&b)) {
                for joint in &route.old {
                    state.insulate(*joint);
                }
            }
        }
        state
    }

    /// A link that comes off is locked off at its own device, which then stays open.
    fn links_coming_off(&self, tails: &[usize]) -> Vec<DeviceId> {
        let job = self.g.job;
        let off = tails.iter().map(|t| &self.g.labour.tails[*t]);
        let ends: Vec<NodeId> = off
            .filter(|t| t.stage == TailsStage::LinkOff)
            .flat_map(|t| &t.breaks)
            .flat_map(|j| [job.joints[*j].a, job.joints[*j].b])
            .collect();
        let at = |d: &Device| d.temporary && (ends.contains(&d.a) || ends.contains(&d.b));
        job.devices.iter().filter(|(_, d)| at(d)).map(|(id, _)| id).collect()
    }

    /// The circuits that these boards feed in the state.
    fn on_boards(&self, boards: &[BoardId]) -> Vec<CircuitId> {
        let made = |j: &&JointId| self.state.made.has(**j);
        self.g
            .job
            .circuits
            .ids()
            .filter(|c| {
                let r = &self.g.routes[c.index()];
                let at = |joints: &[JointId], b: Option<BoardId>| {
                    joints.iter().find(made).is_some() && b.is_some_and(|b| boards.contains(&b))
                };
                at(&r.old, r.from) || at(&r.new, r.to)
            })
            .collect()
    }
}
