//! Surge protection and listed electronics (W8), protective conductors (W10).

use super::breach::{Kind, Report, facts};
use super::now::Now;
use super::site::Site;
use super::wiring::{Conductor, of};
use crate::model::*;
use crate::plan::Act;
use std::collections::BTreeSet;

/// What the two rules remember.
#[derive(Debug)]
pub(super) struct Surges {
    /// Cartridges whose node has been made live by a closing.
    energised: BTreeSet<SurgeId>,
}

impl Surges {
    pub fn new() -> Surges {
        Surges { energised: BTreeSet::new() }
    }

    pub fn before(&mut self, now: &Now, act: &Act, out: &mut Report) {
        if let Act::Break(_, joint) = act
            && now.joints[joint.index()]
        {
            w10_taken_off(now, *joint, out);
        }
    }

    pub fn after(&mut self, now: &Now, act: &Act, out: &mut Report) {
        let site = now.site;
        if now.rewired || matches!(act, Act::Start { .. } | Act::Surge(..)) {
            for task in &now.running {
                self.w8_tested(now, *task, out);
            }
        }
        if !now.rewired {
            return;
        }
        for (id, surge) in site.job.surges.iter() {
            let node = surge.node;
            let fresh = site.job.nodes[node].wires.iter().any(|w| {
                let c = of(node, w);
                w.is_line() && now.lit[c] && now.relit.get(&c) == Some(&false)
            });
            if surge.kind == SurgeKind::Cartridge
                && fresh
                && self.energised.insert(id)
                && !now.surges[id.index()]
            {
                out.add(Kind::EnergisedWithoutCartridge, now, facts![id]);
            }
        }
        w10_whole(now, out);
    }

    /// What is reached from the conductors under an insulation test is out.
    fn w8_tested(&self, now: &Now, task: TaskId, out: &mut Report) {
        let site = now.site;
        let fitted: Vec<SurgeId> =
            site.job.surges.ids().filter(|s| now.surges[s.index()]).collect();
        if fitted.is_empty() {
            return;
        }
        let tested = tested(site, task);
        if tested.is_empty() {
            return;
        }
        let pieces: BTreeSet<usize> = tested.iter().map(|c| now.live.piece(*c)).collect();
        for s in fitted {
            let node = site.job.surges[s].node;
            let wires = site.job.nodes[node].wires;
            let reached = wires
                .iter()
                .filter(|w| *w != Wire::PE)
                .any(|w| pieces.contains(&now.live.piece(of(node, w))));
            if reached {
                out.add(Kind::FittedDuringTest, now, facts![s, task]);
            }
        }
    }
}

/// Lines and neutrals under an insulation test.
fn tested(site: &Site, task: TaskId) -> Vec<Conductor> {
    let row = site.task(task);
    let nodes: Vec<NodeId> = match (row.kind, row.circuit, site.board_of(row)) {
        (TaskKind::DeadTest | TaskKind::HookUp, Some(c), _) => site.own[c.index()].nodes.clone(),
        (TaskKind::TestBoard, _, Some(b)) => site.board_nodes(b),
        _ => return Vec::new(),
    };
    nodes
        .into_iter()
        .flat_map(|n| site.job.nodes[n].wires.iter().map(move |w| (n, w)))
        .filter(|(_, w)| *w != Wire::PE)
        .map(|(n, w)| of(n, w))
        .collect()
}

fn w10_whole(now: &Now, out: &mut Report) {
    for c in now.site.job.circuits.ids() {
        let own = &now.site.own[c.index()];
        if now.circuit_live(c) && own.earth.iter().any(|e| !now.earthed(*e)) {
            out.add(Kind::LiveWithoutEarth, now, facts![c]);
        }
    }
}

/// A protective conductor comes off only when every circuit that relies on it is isolated.
fn w10_taken_off(now: &Now, joint: JointId, out: &mut Report) {
    let w = &now.site.wiring;
    let lanes: Vec<usize> = w.of_joint[joint.index()]
        .iter()
        .copied()
        .filter(|l| w.lanes[*l].wire == Wire::PE)
        .collect();
    if lanes.is_empty() {
        return;
    }
    let mut live = now.live.clone();
    for lane in lanes {
        live.set(w, lane, false);
    }
    let terminal = of(now.site.job.earth, Wire::PE);
    for c in now.site.job.circuits.ids() {
        let own = &now.site.own[c.index()];
        let relies = own.earth.iter().any(|e| now.earthed(*e) && !live.same(*e, terminal));
        if relies && super::dead::own(now, c).iter().any(|x| now.unsure(*x)) {
            out.add(Kind::EarthTakenOff, now, facts![joint, c]);
        }
    }
}
