//! Temporary supplies (T1 to T4).

use super::breach::{Kind, Report, facts};
use super::now::Now;
use super::site::Site;
use super::ways::Ways;
use super::wiring::{Conductor, Part};
use crate::model::*;
use crate::units::{Amperes, Exact, whole};
use num_traits::Zero;
use std::collections::{BTreeMap, BTreeSet};

/// What the rules of temporary supplies remember of the old state.
#[derive(Debug)]
pub(super) struct Temporary {
    /// Devices and sources through which each circuit ran.
    old: Vec<BTreeSet<DeviceId>>,
    old_sources: Vec<BTreeSet<NodeId>>,
    /// What a circuit of unknown current counts.
    unknown: Vec<Amperes>,
    pub links: bool,
}

impl Temporary {
    pub fn new(now: &Now, ways: &Ways) -> Temporary {
        let job = now.site.job;
        let mut t = Temporary {
            old: Vec::new(),
            old_sources: Vec::new(),
            unknown: Vec::new(),
            links: job.devices.rows().iter().any(|d| d.temporary),
        };
        for c in job.circuits.ids() {
            let lines = &now.site.own[c.index()].lines;
            t.old.push(lines.iter().flat_map(|l| devices(now.site, ways, *l)).collect());
            t.old_sources.push(lines.iter().flat_map(|l| running(now, *l)).collect());
            t.unknown.push(largest_first(now, c));
        }
        t
    }

    /// T1, T2, T3 and T4 of the state after an event.
    pub fn after(&mut self, now: &Now, ways: Option<&Ways>, out: &mut Report) {
        let job = now.site.job;
        let mut carried: BTreeMap<SupplyId, Vec<CircuitId>> = BTreeMap::new();
        for c in job.circuits.ids() {
            for (s, n) in &now.circuits[c.index()].on {
                if *n > 0 {
                    carried.entry(*s).or_default().push(c);
                }
            }
        }
        for (s, circuits) in &carried {
            let supply = &job.supplies[*s];
            let wires = job.nodes[supply.feed].wires;
            let dead = wires
                .iter()
                .filter(|w| w.is_line())
                .any(|w| !now.lit[super::wiring::of(supply.feed, w)]);
            if dead || !wires.iter().any(Wire::is_line) {
                out.add(Kind::FeedDead, now, facts![*s, supply.feed]);
            }
            if circuits.len() as i64 > supply.ways {
                out.add(Kind::TooFewWays, now, facts![*s, circuits.len() as i64]);
            }
            self.t3_lead(now, *s, circuits, out);
        }
        t4_together(now, out);
        if let Some(ways) = ways
            && (!carried.is_empty() || self.links)
        {
            self.t2_ratings(now, ways, &carried, out);
        }
    }

    /// Whether the state needs [`Ways`] for T2.
    pub fn wants_ways(&self, now: &Now) -> bool {
        self.links || now.circuits.iter().any(|c| c.on.values().any(|n| *n > 0))
    }

    fn amps(&self, now: &Now, c: CircuitId, wire: Wire) -> Amperes {
        let row = &now.site.job.circuits[c];
        match row.amps.iter().find(|(w, _)| *w == wire) {
            Some((_, a)) => a.clone(),
            None => self.unknown[c.index()].clone().max(largest_first(now, c)),
        }
    }

    fn t2_ratings(
        &self,
        now: &Now,
        ways: &Ways,
        carried: &BTreeMap<SupplyId, Vec<CircuitId>>,
        out: &mut Report,
    ) {
        let site = now.site;
        let job = site.job;
        // What each lane carries, and each line of each source and lead.
        let mut load: BTreeMap<usize, Exact> = BTreeMap::new();
        let mut source_load: BTreeMap<(NodeId, Wire), Exact> = BTreeMap::new();
        let mut lead_load: BTreeMap<(SupplyId, Wire), Exact> = BTreeMap::new();
        let mut added: BTreeMap<DeviceId, SupplyId> = BTreeMap::new();
        let mut added_sources: BTreeMap<NodeId, SupplyId> = BTreeMap::new();
        for c in job.circuits.ids().filter(|c| now.circuit_live(*c)) {
            let rides = now.rides(c).filter(|s| carried.contains_key(s));
            let mut seen: BTreeSet<(usize, Conductor)> = BTreeSet::new();
            for line in site.own[c.index()].lines.iter().filter(|l| now.lit[**l]) {
                let wire = site.wiring.at[*line].1;
                let amps = self.amps(now, c, wire).0;
                // A circuit with several nodes has its current once.
                if !seen.insert((now.live.piece(*line), wire.index())) {
                    continue;
                }
                for lane in ways.of(*line) {
                    *load.entry(lane).or_insert_with(Exact::zero) += &amps;
                    if let (Some(s), Part::Switched(d) | Part::Through(d)) =
                        (rides, site.wiring.lanes[lane].part)
                        && !self.old[c.index()].contains(&d)
                    {
                        added.entry(d).or_insert(s);
                    }
                }
                for pole in poles(now, *line) {
                    *source_load.entry(pole).or_insert_with(Exact::zero) += &amps;
                    if let Some(s) = rides
                        && !self.old_sources[c.index()].contains(&pole.0)
                    {
                        added_sources.entry(pole.0).or_insert(s);
                    }
                }
                if let Some(s) = rides {
                    let at = lead_wire(site, s, c, wire);
                    *lead_load.entry((s, at)).or_insert_with(Exact::zero) += &amps;
                }
            }
        }
        for (lane, amps) in &load {
            let (Part::Switched(d) | Part::Through(d)) = site.wiring.lanes[*lane].part else {
                continue;
            };
            let device = &job.devices[d];
            let asked = added.contains_key(&d) || device.temporary;
            if asked && amps * &device.diversity > device.rating.0 {
                let total = Amperes(amps * &device.diversity);
                out.add(Kind::DeviceOverloaded, now, facts![d, total, device.rating.clone()]);
            }
        }
        for ((s, wire), amps) in &lead_load {
            let supply = &job.supplies[*s];
            if amps * &supply.diversity > supply.rating.0 {
                let total = Amperes(amps * &supply.diversity);
                out.add(Kind::LeadOverloaded, now, facts![*s, *wire, total, supply.rating.clone()]);
            }
        }
        for ((node, wire), amps) in &source_load {
            let Some(source) = job.nodes[*node].source() else { continue };
            if added_sources.contains_key(node) && amps * &source.diversity > source.rating.0 {
                let total = Amperes(amps * &source.diversity);
                out.add(
                    Kind::SourceOverloaded,
                    now,
                    facts![*node, *wire, total, source.rating.clone()],
                );
            }
        }
    }

    /// Drop and loop impedance at the end of the lead.
    fn t3_lead(&self, now: &Now, s: SupplyId, circuits: &[CircuitId], out: &mut Report) {
        let site = now.site;
        let supply = &site.job.supplies[s];
        let mut per_line: BTreeMap<Wire, Exact> = BTreeMap::new();
        for c in circuits {
            let mut wires = BTreeSet::new();
            for line in &site.own[c.index()].lines {
                let wire = site.wiring.at[*line].1;
                if wires.insert(wire) {
                    let at = lead_wire(site, s, *c, wire);
                    *per_line.entry(at).or_insert_with(Exact::zero) += self.amps(now, *c, wire).0;
                }
            }
        }
        let fullest = per_line.into_values().max().unwrap_or_else(Exact::zero);
        let drop = &supply.mv_per_a_m * &supply.length.0 * fullest / whole(1000);
        if drop > supply.drop_limit.0 {
            let drop = crate::units::Volts(drop);
            out.add(Kind::Drop, now, facts![s, drop, supply.drop_limit.clone()]);
        }
        let at_end = |feed: &crate::units::Ohms, per_m: &Exact| &feed.0 + per_m * &supply.length.0;
        let neutral = at_end(&supply.feed_loop.neutral, &supply.lead_per_m.neutral);
        let earth = at_end(&supply.feed_loop.earth, &supply.lead_per_m.earth);
        let limit = &supply.loop_limit;
        if neutral > limit.0 {
            out.add(Kind::LoopNeutral, now, facts![s, crate::units::Ohms(neutral), limit.clone()]);
        }
        let guarded = supply.rcd_ma.as_ref().is_some_and(|ma| *ma <= whole(30));
        if earth > limit.0 && !guarded {
            out.add(Kind::LoopEarth, now, facts![s, crate::units::Ohms(earth), limit.clone()]);
        }
    }
}

/// The name that a circuit's line has at the end of the lead.
fn lead_wire(site: &Site, s: SupplyId, c: CircuitId, wire: Wire) -> Wire {
    site.own[c.index()]
        .joints
        .iter()
        .map(|j| &site.job.joints[*j])
        .filter(|j| j.of == Some((c, Place::On(s))))
        .find_map(|j| {
            let far = &site.own[c.index()].nodes;
            if far.contains(&j.b) { j.wires.back(wire) } else { j.wires.across(wire) }
        })
        .unwrap_or(wire)
}

/// T4: what E1 ties, and neutral groups, ride together. Asked of what is live on a lead: while
/// the one is put on after the other neither is.
fn t4_together(now: &Now, out: &mut Report) {
    let job = now.site.job;
    let mut tied: Vec<Vec<CircuitId>> =
        job.groups.rows().iter().map(|g| vec![g.watches, g.feed]).collect();
    tied.extend(job.neutral_groups.iter().cloned());
    for set in tied {
        for a in &set {
            let Some(s) = now.rides(*a).filter(|_| now.circuit_live(*a)) else { continue };
            for b in set.iter().filter(|b| *b != a) {
                if now.rides(*b) != Some(s) {
                    out.add(Kind::RidesAlone, now, facts![s, *a, *b]);
                }
            }
        }
    }
}

/// The largest rating among the overcurrent devices first met from a circuit.
fn largest_first(now: &Now, c: CircuitId) -> Amperes {
    let met = super::first_met::overcurrent(now, &now.site.own[c.index()].lines);
    met.devices
        .iter()
        .map(|d| now.site.job.devices[*d].rating.clone())
        .max()
        .unwrap_or_else(Amperes::zero)
}

fn devices<'s>(
    site: &'s Site,
    ways: &'s Ways,
    line: Conductor,
) -> impl Iterator<Item = DeviceId> + 's {
    ways.of(line).filter_map(|lane| match site.wiring.lanes[lane].part {
        Part::Switched(d) | Part::Through(d) => Some(d),
        Part::Joint(_) => None,
    })
}

fn poles(now: &Now, line: Conductor) -> Vec<(NodeId, Wire)> {
    let feeds = now.live.feeds(line).iter();
    feeds.filter(|f| f.hot && now.sources[f.source.index()]).map(|f| (f.source, f.wire)).collect()
}

fn running(now: &Now, line: Conductor) -> Vec<NodeId> {
    poles(now, line).into_iter().map(|(node, _)| node).collect()
}
