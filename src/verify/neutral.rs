//! Neutral groups (W12).

use super::breach::{Fact, Kind, Report, facts};
use super::now::Now;
use super::route;
use super::ways::Ways;
use super::wiring::{Conductor, Part};
use crate::model::*;
use std::collections::BTreeSet;

/// W12, after an event that changed what is connected.
pub(super) fn w12_after(now: &Now, ways: &Ways, out: &mut Report) {
    for group in &now.site.job.neutral_groups {
        let live: Vec<CircuitId> = group.iter().copied().filter(|c| now.circuit_live(*c)).collect();
        let mut first: Option<(BTreeSet<NodeId>, BTreeSet<DeviceId>)> = None;
        for c in &live {
            let (bars, rcds) = (bars(now, *c), rcds(now, ways, *c));
            if bars.len() != 1 {
                out.add(Kind::NoSingleBar, now, facts![*c]);
                continue;
            }
            match &first {
                None => first = Some((bars, rcds)),
                Some((b, r)) => {
                    if *b != bars {
                        let mut facts = facts![live[0], *c];
                        facts.extend(b.iter().chain(&bars).map(|n| Fact::from(*n)));
                        let lines = &now.site.own[c.index()].lines;
                        let lit = lines.iter().find(|l| now.lit[**l]);
                        facts.extend(lit.map(|l| Fact::from(route::live(now, *l))));
                        out.once(Kind::OtherBar, now, (*c).into(), facts);
                    }
                    if *r != rcds {
                        out.add(Kind::OtherRcd, now, facts![live[0], *c]);
                    }
                }
            }
        }
    }
}

/// Neutral bars first met from a circuit's neutral.
fn bars(now: &Now, circuit: CircuitId) -> BTreeSet<NodeId> {
    let w = &now.site.wiring;
    let mut seen: BTreeSet<Conductor> =
        now.site.own[circuit.index()].neutral.iter().copied().collect();
    let mut queue: Vec<Conductor> = seen.iter().copied().collect();
    let mut bars = BTreeSet::new();
    while let Some(c) = queue.pop() {
        let node = w.at[c].0;
        if now.site.job.nodes[node].neutral_bar {
            bars.insert(node);
            continue;
        }
        for &(lane, other) in &w.next[c] {
            if now.live.on(lane) && seen.insert(other) {
                queue.push(other);
            }
        }
    }
    bars
}

/// Residual-current devices on the way of a circuit's lines or neutral.
fn rcds(now: &Now, ways: &Ways, circuit: CircuitId) -> BTreeSet<DeviceId> {
    let own = &now.site.own[circuit.index()];
    own.lines
        .iter()
        .chain(&own.neutral)
        .flat_map(|c| ways.of(*c))
        .filter_map(|lane| match now.site.wiring.lanes[lane].part {
            Part::Switched(d) | Part::Through(d) => Some(d),
            Part::Joint(_) => None,
        })
        .filter(|d| now.site.job.devices[*d].rcd_ma.is_some())
        .collect()
}
