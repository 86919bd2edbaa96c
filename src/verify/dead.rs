//! Dead work (W1, W9): everything bare or of the circuit at hand is isolated and locked off.

use super::breach::{Kind, Report, facts};
use super::now::Now;
use super::route;
use super::site::{Site, stated};
use super::wiring::{Conductor, of};
use crate::model::*;
use crate::plan::Act;

/// How a dead task protects its people at this moment.
pub(super) enum Cover {
    /// All that is bare at its positions is isolated.
    Whole,
    /// The board stays live, and only the circuit's own way is isolated (W9).
    OneWay(BoardId),
}

/// Which of the two holds for a running dead task.
pub(super) fn cover(now: &Now, task: TaskId) -> Cover {
    let site = now.site;
    let row = site.task(task);
    let Some(board) = row.position.and_then(|p| site.job.positions[p].board) else {
        return Cover::Whole;
    };
    let b = &site.job.boards[board];
    let allowed = b.one_way.is_some() && row.circuit.is_some() && row.position == Some(b.ways);
    if allowed && site.bare[b.ways.index()].iter().any(|c| now.lit[*c]) {
        Cover::OneWay(board)
    } else {
        Cover::Whole
    }
}

/// The conductors that have to be isolated for a running dead task, as things stand.
pub(super) fn exposed(now: &Now, task: TaskId) -> Vec<Conductor> {
    let site = now.site;
    let row = site.task(task);
    let mut all = Vec::new();
    let spared = match cover(now, task) {
        Cover::Whole => None,
        Cover::OneWay(b) => Some(site.job.boards[b].ways),
    };
    for position in &site.open[task.index()] {
        if Some(*position) != spared {
            all.extend(&site.bare[position.index()]);
        }
    }
    if let (Some(_), Some(c)) = (spared, row.circuit) {
        for member in &site.own[c.index()].group {
            all.extend(way(site, *member, row.position));
        }
    }
    if let Some(c) = row.circuit {
        for member in &site.own[c.index()].group {
            all.extend(own(now, *member));
        }
    }
    for joint in &site.works[task.index()] {
        all.extend(ends(site, *joint));
    }
    all.sort_unstable();
    all.dedup();
    all
}

/// A circuit's own conductors that can carry voltage. What is reached from them through joints
/// and unbroken connections is isolated when they are, so the search needs no walk.
pub(super) fn own(now: &Now, circuit: CircuitId) -> Vec<Conductor> {
    let site = now.site;
    let o = &site.own[circuit.index()];
    let mut all = o.lines.clone();
    if site.wiring.hot_neutral {
        all.extend(&o.neutral);
    }
    for joint in o.joints.iter().filter(|j| now.joints[j.index()] || now.loose.contains_key(j)) {
        all.extend(ends(site, *joint));
    }
    all
}

/// Conductors at a circuit's way at a position: the end of each of its joints that is bare there.
pub(super) fn way(site: &Site, circuit: CircuitId, position: Option<PositionId>) -> Vec<Conductor> {
    way_nodes(site, circuit, position)
        .into_iter()
        .flat_map(|n| site.job.nodes[n].wires.iter().map(move |w| (n, w)))
        .filter(|(_, w)| site.wiring.carries(*w))
        .map(|(n, w)| of(n, w))
        .collect()
}

/// Nodes bare at a position at which a circuit's joints end.
pub(super) fn way_nodes(
    site: &Site,
    circuit: CircuitId,
    position: Option<PositionId>,
) -> Vec<NodeId> {
    let Some(position) = position else { return Vec::new() };
    let p = &site.job.positions[position];
    let mut nodes: Vec<NodeId> = site.own[circuit.index()]
        .joints
        .iter()
        .flat_map(|j| [site.job.joints[*j].a, site.job.joints[*j].b])
        .filter(|n| p.bare.contains(n) || p.row.contains(n))
        .collect();
    nodes.sort_unstable();
    nodes.dedup();
    nodes
}

/// Both ends of a joint, as far as they can carry voltage.
pub(super) fn ends(site: &Site, joint: JointId) -> Vec<Conductor> {
    site.wiring.of_joint[joint.index()]
        .iter()
        .flat_map(|l| [site.wiring.lanes[*l].a, site.wiring.lanes[*l].b])
        .filter(|c| site.wiring.carries(site.wiring.at[*c].1))
        .collect()
}

/// W1 and W9, asked after every event that could change the answer.
pub(super) fn after(now: &Now, act: &Act, out: &mut Report) {
    let site = now.site;
    if let Act::Make(_, joint) | Act::Break(_, joint) = act
        && now.joined
        && let Some(c) = ends(site, *joint).into_iter().find(|c| now.unsure(*c))
    {
        out.add(
            Kind::EndNotSecured,
            now,
            facts![*joint, site.wiring.at[c].0, route::unlocked(now, c)],
        );
    }
    let started = matches!(act, Act::Start { .. });
    if !now.resecured && !started {
        return;
    }
    let dead: Vec<TaskId> = now.dead_tasks().collect();
    for task in dead {
        // One conductor tells it; which others are not safe either is seen when this is mended.
        if let Some(c) = exposed(now, task).into_iter().find(|c| now.unsure(*c)) {
            let facts = facts![task, site.wiring.at[c].0, route::unlocked(now, c)];
            out.once(Kind::NotSecured, now, task.into(), facts);
        }
    }
    one_way(now, out);
}

fn one_way(now: &Now, out: &mut Report) {
    let site = now.site;
    let dead: Vec<TaskId> = now.dead_tasks().collect();
    for task in dead {
        let Cover::OneWay(b) = cover(now, task) else { continue };
        let board = &site.job.boards[b];
        if !stated(&board.one_way) {
            out.add(Kind::OneWayUnjustified, now, facts![task, b]);
        }
        if !board.ways_shrouded {
            out.add(Kind::OneWayUnshrouded, now, facts![task, b]);
        }
        let Some(circuit) = site.task(task).circuit else { continue };
        for other in &now.running {
            let row = site.task(*other);
            let there = row.position == Some(board.ways)
                || site.open[other.index()].contains(&board.ways)
                || now.proving.iter().any(|(p, t)| *p == board.ways && t == other);
            if *other != task && there {
                out.add(Kind::OneWayNotAlone, now, facts![task, *other, b]);
            }
        }
        let around = super::first_met::securing(now, &way(site, circuit, Some(board.ways)));
        for person in now.people(task) {
            let who = Who::Person(*person);
            for device in &around {
                if site.job.devices[*device].enclosure == Some(b)
                    && !now.devices[device.index()].locks.iter().any(|l| l.owner == who)
                {
                    out.add(Kind::OneWayNotLocked, now, facts![task, *person, *device]);
                }
            }
        }
    }
}
