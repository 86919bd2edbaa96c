//! Switching: what may become live (W4), off-load devices (W6), sources that start by
//! themselves (W7), two sources (W11).

use super::breach::{Kind, Report, facts};
use super::now::Now;
use super::route;
use super::wiring::{Conductor, of};
use crate::model::*;
use crate::plan::Act;
use std::collections::{BTreeMap, BTreeSet};

/// A line of a source, or its neutral where that can put voltage on what it reaches.
type Pole = (NodeId, Wire);

/// What the rules of switching remember.
#[derive(Debug)]
pub(super) struct Switching {
    /// Circuits at each conductor.
    circuits_at: BTreeMap<Conductor, Vec<CircuitId>>,
    positions_at: BTreeMap<Conductor, Vec<PositionId>>,
    /// New boards at each conductor of their own.
    new_boards_at: BTreeMap<Conductor, Vec<BoardId>>,
    /// By self-starting source: since the node that it watches went dead, the positions from
    /// which it was not locked off at that moment.
    caught: BTreeMap<NodeId, BTreeSet<PositionId>>,
    watched_live: BTreeMap<NodeId, bool>,
    /// Poles that are joined though they may not be.
    joined: BTreeSet<(Pole, Pole)>,
    tested: BTreeSet<BoardId>,
}

impl Switching {
    pub fn new(now: &Now) -> Switching {
        let site = now.site;
        let mut circuits_at: BTreeMap<Conductor, Vec<CircuitId>> = BTreeMap::new();
        for c in site.job.circuits.ids() {
            for line in &site.own[c.index()].lines {
                circuits_at.entry(*line).or_default().push(c);
            }
        }
        let mut positions_at: BTreeMap<Conductor, Vec<PositionId>> = BTreeMap::new();
        for p in site.job.positions.ids() {
            for c in &site.bare[p.index()] {
                positions_at.entry(*c).or_default().push(p);
            }
        }
        let mut new_boards_at: BTreeMap<Conductor, Vec<BoardId>> = BTreeMap::new();
        for (b, board) in site.job.boards.iter() {
            let to_be_tested = site
                .plan
                .tasks
                .rows()
                .iter()
                .any(|t| t.kind == TaskKind::TestBoard && site.board_of(t) == Some(b));
            if !site.mounted_by_plan[b.index()] && board.replaces.is_none() && !to_be_tested {
                continue;
            }
            for node in site.board_own_nodes(b) {
                for wire in site.job.nodes[node].wires.iter().filter(|w| w.is_line()) {
                    new_boards_at.entry(of(node, wire)).or_default().push(b);
                }
            }
        }
        let watched_live = site
            .job
            .nodes
            .iter()
            .filter_map(|(id, n)| Some((id, n.source()?.watches?)))
            .map(|(id, watched)| (id, now.watched_live(watched)))
            .collect();
        let mut switching = Switching {
            circuits_at,
            positions_at,
            new_boards_at,
            caught: BTreeMap::new(),
            watched_live,
            joined: BTreeSet::new(),
            tested: BTreeSet::new(),
        };
        switching.joined = switching.ill_joined(now);
        switching
    }

    pub fn before(&mut self, now: &Now, act: &Act, out: &mut Report) {
        let (device, close) = match act {
            Act::Open(_, d) => (*d, false),
            Act::Close(_, d) => (*d, true),
            _ => return,
        };
        let state = &now.devices[device.index()];
        let possible = state.closed != close && (!close || state.locks.is_empty());
        if possible && !now.site.job.devices[device].on_load {
            self.w6_off_load(now, device, close, out);
        }
    }

    pub fn after(&mut self, now: &Now, act: &Act, out: &mut Report) {
        if let Act::Finish { task, .. } = act {
            let row = now.site.task(*task);
            if row.kind == TaskKind::TestBoard && now.passed(*task) {
                self.tested.extend(now.site.board_of(row));
            }
        }
        if let Act::Start { task, .. } = act {
            for (source, positions) in &self.caught {
                for p in now.site.open[task.index()].iter().filter(|p| positions.contains(p)) {
                    let reached = now.site.bare[p.index()]
                        .iter()
                        .map(|c| route::from_source(now, *source, *c))
                        .find(|r| r.from.is_some());
                    out.add(Kind::SourceNotLockedBefore, now, facts![*source, *task, *p; reached]);
                }
            }
        }
        if now.rewired {
            if !matches!(act, Act::Make(..) | Act::Break(..)) {
                self.w4_energised(now, out);
            }
            self.w7_watched(now);
            let joined = self.ill_joined(now);
            for (a, b) in joined.difference(&self.joined) {
                out.add(Kind::Joined, now, facts![a.0, a.1, b.0, b.1]);
            }
            self.joined = joined;
        }
    }

    fn w4_energised(&self, now: &Now, out: &mut Report) {
        let site = now.site;
        let fresh: Vec<Conductor> =
            now.relit.iter().filter(|(c, was)| !**was && now.lit[**c]).map(|(c, _)| *c).collect();
        let mut circuits: BTreeSet<CircuitId> = BTreeSet::new();
        let mut positions: BTreeSet<PositionId> = BTreeSet::new();
        for c in &fresh {
            circuits.extend(self.circuits_at.get(c).into_iter().flatten());
            positions.extend(self.positions_at.get(c).into_iter().flatten());
            for b in self.new_boards_at.get(c).into_iter().flatten() {
                if now.mounted[b.index()] && !self.tested.contains(b) {
                    out.add(Kind::BoardUntested, now, facts![*b]);
                }
            }
            let (node, wire) = site.wiring.at[*c];
            if wire.is_line()
                && site.job.nodes[node].wires.has(Wire::N)
                && !self.neutral_first(now, node, *c)
            {
                out.add(Kind::LineBeforeNeutral, now, facts![node]);
            }
        }
        for c in circuits {
            if !now.complete(c) {
                out.add(Kind::Incomplete, now, facts![c]);
            }
        }
        for task in now.dead_tasks() {
            for p in &site.open[task.index()] {
                if positions.contains(p) {
                    out.add(Kind::EnergisedAtWork, now, facts![task, *p]);
                }
            }
        }
    }

    /// Whether the neutral of a node leads back to every source that makes its line live.
    fn neutral_first(&self, now: &Now, node: NodeId, line: Conductor) -> bool {
        let site = now.site;
        let sources = now.live.feeds(line).iter();
        sources.filter(|f| f.hot && now.sources[f.source.index()]).all(|f| {
            f.source == node
                || !site.job.nodes[f.source].wires.has(Wire::N)
                || now.neutral_to(of(node, Wire::N), f.source)
        })
    }

    /// An off-load device must not make or break the current of a circuit, nor of a parallel path.
    fn w6_off_load(&self, now: &Now, device: DeviceId, close: bool, out: &mut Report) {
        let w = &now.site.wiring;
        // As the contacts move, before anything that acts by itself has followed.
        let mut live = now.live.clone();
        let mut parallel = false;
        for &lane in &w.of_device[device.index()] {
            if Now::switched(w.lanes[lane].part).is_none() {
                continue;
            }
            let (a, b) = (w.lanes[lane].a, w.lanes[lane].b);
            let carries = w.at[a].1 != Wire::PE;
            if close {
                parallel |= carries && live.same(a, b);
            }
            live.set(w, lane, close);
            if !close {
                parallel |= carries && live.same(a, b);
            }
        }
        if parallel {
            out.add(Kind::OffLoadParallel, now, facts![device]);
        }
        let lit =
            |c: Conductor| live.feeds(c).iter().any(|f| f.hot && now.sources[f.source.index()]);
        for c in now.site.job.circuits.ids() {
            let lines = &now.site.own[c.index()].lines;
            if lines.iter().any(|l| lit(*l) != now.lit[*l]) {
                out.add(Kind::OffLoad, now, facts![device, c]);
                break;
            }
        }
    }

    fn w7_watched(&mut self, now: &Now) {
        let site = now.site;
        for (source, was) in &mut self.watched_live {
            let watched = site.job.nodes[*source].source().and_then(|s| s.watches);
            let live = watched.is_some_and(|n| now.watched_live(n));
            if *was && !live {
                let open = site
                    .job
                    .positions
                    .ids()
                    .filter(|p| {
                        site.bare[p.index()].iter().any(|c| {
                            now.sure.feeds(*c).iter().any(|f| f.hot && f.source == *source)
                        })
                    })
                    .collect();
                self.caught.insert(*source, open);
            } else if live {
                self.caught.remove(source);
            }
            *was = live;
        }
    }

    /// Pairs of live poles that are connected though they are of different lines, or of sources
    /// that may not run in parallel.
    fn ill_joined(&self, now: &Now) -> BTreeSet<(Pole, Pole)> {
        let site = now.site;
        let mut found = BTreeSet::new();
        let mut seen: BTreeMap<usize, Vec<Pole>> = BTreeMap::new();
        for c in 0..site.wiring.at.len() {
            let Some(feed) = site.wiring.feed[c] else { continue };
            if !feed.hot || !now.sources[feed.source.index()] {
                continue;
            }
            let here = seen.entry(now.live.piece(c)).or_default();
            let pole = (feed.source, feed.wire);
            for other in here.iter().filter(|o| **o != pole) {
                let allowed = other.1 == pole.1
                    && site
                        .job
                        .parallel
                        .iter()
                        .any(|set| set.contains(&other.0) && set.contains(&pole.0));
                if !allowed {
                    found.insert((*other.min(&pole), *other.max(&pole)));
                }
            }
            here.push(pole);
        }
        found
    }
}
