//! Whether the job can be planned at all (S1).

use super::breach::{Kind, Report, facts};
use super::now::Now;
use super::site::{Site, stated};
use super::wiring::{Conductor, Part, of};
use crate::model::*;
use std::collections::BTreeSet;

/// S1 of the whole job. `now` is the old state.
pub(super) fn s1_complete(now: &Now, out: &mut Report) {
    let site = now.site;
    let job = site.job;
    for (id, p) in job.positions.iter() {
        let none_found = p
            .none_found
            .as_ref()
            .is_some_and(|n| !n.by.trim().is_empty() && !n.when.trim().is_empty());
        if p.other_fed.is_empty() && p.enclosed.is_empty() && !none_found {
            out.add_at(Kind::FedFromElsewhereUnknown, None, None, facts![id]);
        }
        for node in &p.other_fed {
            if !has_source(site, *node) {
                out.add_at(Kind::OtherFedWithoutSource, None, None, facts![id, *node]);
            }
        }
    }
    for (id, d) in job.devices.iter() {
        if d.breaks.has(Wire::PE) {
            out.add_at(Kind::BreaksEarth, None, None, facts![id]);
        }
    }
    for c in job.circuits.ids() {
        circuit(now, c, out);
    }
    for (task, row) in site.plan.tasks.iter() {
        let board = site.board_of(row);
        let tested = site
            .plan
            .tasks
            .rows()
            .iter()
            .any(|t| t.kind == TaskKind::TestBoard && site.board_of(t) == board);
        if row.kind == TaskKind::Mount && !tested {
            out.add_at(Kind::MountWithoutTest, None, None, facts![task]);
        }
    }
    cut_ins(site, out);
    unwatched(job, out);
}

fn circuit(now: &Now, c: CircuitId, out: &mut Report) {
    let site = now.site;
    let job = site.job;
    let own = &site.own[c.index()];
    let no_earth = !own.nodes.iter().any(|n| job.nodes[*n].wires.has(Wire::PE));
    if no_earth && !stated(&job.circuits[c].no_earth) {
        out.add_at(Kind::NoEarthNoReason, None, None, facts![c]);
    }
    let has = |kind| site.tasks_of(c, kind).next().is_some();
    if has(TaskKind::Connect) && !(has(TaskKind::DeadTest) && has(TaskKind::LiveTest)) {
        out.add_at(Kind::ConnectWithoutTests, None, None, facts![c]);
    }
    if has(TaskKind::HookUp) && !has(TaskKind::Unhook) {
        out.add_at(Kind::HookUpWithoutUnhook, None, None, facts![c]);
    }
    let served: Vec<&Load> = job.loads.rows().iter().filter(|l| l.circuits.contains(&c)).collect();
    if served.iter().all(|l| l.any_order) && !served.is_empty() {
        return;
    }
    let old = own.joints.iter().find(|j| matches!(job.joints[**j].of, Some((_, Place::Old))));
    let before = old.map(|j| order(site, c, *j));
    for joint in &own.joints {
        let changed = match &before {
            Some(before) => {
                let after = order(site, c, *joint);
                before.iter().any(|(l, b)| after.iter().any(|(m, a)| l == m && a != b))
            }
            None => job.joints[*joint].wires.changes_lines(),
        };
        if own_lines(site, c) == 3 && changed {
            out.add_at(Kind::LinesChanged, None, None, facts![c, *joint]);
        }
    }
}

fn own_lines(site: &Site, c: CircuitId) -> usize {
    let lines: BTreeSet<Wire> =
        site.own[c.index()].lines.iter().map(|l| site.wiring.at[*l].1).collect();
    lines.len()
}

/// For each of a circuit's lines, the name that it has beyond the device of its way.
fn order(site: &Site, c: CircuitId, joint: JointId) -> Vec<(Wire, BTreeSet<Wire>)> {
    let job = site.job;
    let j = &job.joints[joint];
    let far_is_b = site.own[c.index()].nodes.contains(&j.b);
    let way = if far_is_b { j.a } else { j.b };
    Wire::LINES
        .into_iter()
        .filter_map(|line| {
            let at_way = if far_is_b { j.wires.back(line) } else { j.wires.across(line) }?;
            let beyond: BTreeSet<Wire> = job
                .devices
                .rows()
                .iter()
                .filter_map(|d| {
                    if d.a == way {
                        d.wires.across(at_way)
                    } else if d.b == way {
                        d.wires.back(at_way)
                    } else {
                        None
                    }
                })
                .collect();
            let beyond = if beyond.is_empty() { BTreeSet::from([at_way]) } else { beyond };
            Some((line, beyond))
        })
        .collect()
}

/// Whether a node is joined with a source, every device being closed.
fn has_source(site: &Site, node: NodeId) -> bool {
    let seeds = site.job.nodes[node].wires.iter().map(|w| of(node, w)).collect();
    walk(site, seeds, |_| true).into_iter().any(|c| site.wiring.feed[c].is_some())
}

/// All that is joined with `seeds` through joints there at the start and lanes that pass.
fn walk(
    site: &Site,
    seeds: Vec<Conductor>,
    pass: impl Fn(DeviceId) -> bool,
) -> BTreeSet<Conductor> {
    let mut seen: BTreeSet<Conductor> = seeds.iter().copied().collect();
    let mut queue = seeds;
    while let Some(c) = queue.pop() {
        for &(lane, other) in &site.wiring.next[c] {
            let open = match site.wiring.lanes[lane].part {
                Part::Switched(d) => pass(d),
                Part::Through(_) => true,
                Part::Joint(j) => site.job.joints[j].made,
            };
            if open && seen.insert(other) {
                queue.push(other);
            }
        }
    }
    seen
}

/// Work at a board's incoming terminals needs a lockable isolating device between them and
/// every source.
fn cut_ins(site: &Site, out: &mut Report) {
    let job = site.job;
    for (b, board) in job.boards.iter() {
        let cut_in = site.plan.tasks.rows().iter().any(|t| {
            matches!(t.kind, TaskKind::ConnectTails | TaskKind::StripOut)
                && site.board_of(t).or(t.board) == Some(b)
        });
        if !cut_in {
            continue;
        }
        let seeds = site.bare[board.incoming.index()].clone();
        let reached = walk(site, seeds, |d| {
            let device = &job.devices[d];
            !(device.lockable && device.isolates)
        });
        let feeds: BTreeSet<NodeId> = reached
            .into_iter()
            .filter_map(|c| site.wiring.feed[c].filter(|f| f.hot).map(|f| f.source))
            .collect();
        for source in feeds {
            out.add_at(Kind::NoIsolatorAbove, None, None, facts![b, source]);
        }
    }
}

fn unwatched(job: &Job, out: &mut Report) {
    for (a, area) in job.areas.iter() {
        let groups: Vec<&Group> =
            job.groups.rows().iter().filter(|g| g.areas.contains(&a)).collect();
        if groups.is_empty() {
            continue;
        }
        for c in &area.lighting {
            if !groups.iter().any(|g| g.watches == *c || g.relays.contains(c)) {
                out.add_at(Kind::LightingUnwatched, None, None, facts![a, *c]);
            }
        }
    }
}
