//! Proofs (W2): every position is proved dead by the people at work there, and the proof holds.

use super::breach::{Kind, Report, facts};
use super::dead::{self, Cover};
use super::first_met::securing;
use super::now::Now;
use super::route;
use super::site::Site;
use super::wiring::{Conductor, of};
use crate::model::*;
use crate::plan::{Act, Proof};
use crate::units::Minutes;
use std::collections::{BTreeMap, BTreeSet};

/// What was proved: a position, or one circuit's way there.
type Place = (PositionId, Option<CircuitId>);

#[derive(Debug)]
struct Held {
    at: Minutes,
    people: Vec<PersonId>,
}

/// What is known of proofs so far.
#[derive(Debug)]
pub(super) struct Proofs {
    /// Proofs that are not void.
    valid: BTreeMap<Place, Vec<Held>>,
    /// Devices that some proof made since they were locked has relied on.
    relied: BTreeSet<DeviceId>,
    /// When the last task at a position ended, if none is there now.
    idle_since: Vec<Option<Minutes>>,
    /// A conductor bare at the position has been live since the survey.
    was_live: Vec<bool>,
    /// The locked devices around each place with a proof, as they now are.
    around: BTreeMap<Place, BTreeSet<DeviceId>>,
    at_conductor: BTreeMap<Conductor, Vec<PositionId>>,
}

impl Proofs {
    pub fn new(now: &Now) -> Proofs {
        let site = now.site;
        let mut at_conductor: BTreeMap<Conductor, Vec<PositionId>> = BTreeMap::new();
        for position in site.job.positions.ids() {
            for c in &site.bare[position.index()] {
                at_conductor.entry(*c).or_default().push(position);
            }
        }
        let was_live = site
            .job
            .positions
            .iter()
            .map(|(id, p)| p.live_before || site.bare[id.index()].iter().any(|c| now.lit[*c]))
            .collect();
        Proofs {
            valid: BTreeMap::new(),
            relied: BTreeSet::new(),
            idle_since: vec![None; site.job.positions.len()],
            was_live,
            around: BTreeMap::new(),
            at_conductor,
        }
    }

    /// Whether the whole position is proved and the proof not void.
    pub fn holds(&self, position: PositionId) -> bool {
        self.valid.get(&(position, None)).is_some_and(|v| !v.is_empty())
    }

    fn seeds(now: &Now, place: Place) -> Vec<Conductor> {
        match place {
            (p, None) => now.site.bare[p.index()].clone(),
            (p, Some(c)) => {
                let mut all = dead::way(now.site, c, Some(p));
                for member in &now.site.own[c.index()].group {
                    all.extend(dead::own(now, *member));
                }
                all
            }
        }
    }

    /// Proofs that the passing of time has made void by now: nobody was there for too long, or
    /// a visit has ended.
    pub fn pass(&mut self, now: &Now, t: Minutes) {
        let life = now.site.job.policy.proof_life;
        let ends: Vec<Minutes> = now.site.visits.iter().map(|v| v.to).collect();
        let idle = &self.idle_since;
        for (place, proofs) in &mut self.valid {
            let stale = idle[place.0.index()].is_some_and(|since| t - since > life);
            proofs.retain(|p| !stale && !ends.iter().any(|e| p.at < *e && *e <= t));
        }
    }

    pub fn before(&mut self, now: &Now, act: &Act) {
        if let Act::Unlock(_, device, lock) = act {
            let locks = &now.devices[device.index()].locks;
            if locks.len() == 1 && locks[0].lock == *lock {
                self.relied.remove(device);
                for (place, proofs) in &mut self.valid {
                    if self.around.get(place).is_some_and(|s| s.contains(device)) {
                        proofs.clear();
                    }
                }
            }
        }
    }

    pub fn after(&mut self, now: &Now, act: &Act, out: &mut Report) {
        for (c, was) in &now.relit {
            if *was || now.lit[*c] {
                for p in self.at_conductor.get(c).into_iter().flatten() {
                    self.was_live[p.index()] = true;
                }
            }
        }
        if now.resecured {
            self.look_around(now);
        }
        match act {
            Act::Prove(by, proof) => self.prove(now, by.task, proof, out),
            Act::Start { task, .. } => {
                for p in there(now.site, *task) {
                    self.idle_since[p.index()] = None;
                }
            }
            Act::Finish { task, .. } => self.leave(now, *task),
            _ => {}
        }
        if now.resecured || now.rewired || matches!(act, Act::Start { .. } | Act::Prove(..)) {
            self.ask(now, out);
        }
    }

    /// A proof is void when the devices around its place gain one that no proof made since it
    /// was locked has relied on.
    fn look_around(&mut self, now: &Now) {
        for (place, proofs) in &mut self.valid {
            if proofs.is_empty() {
                continue;
            }
            let around = securing(now, &Proofs::seeds(now, *place));
            if around.iter().any(|d| !self.relied.contains(d)) {
                proofs.clear();
            }
            self.around.insert(*place, around);
        }
    }

    fn leave(&mut self, now: &Now, task: TaskId) {
        let site = now.site;
        for p in there(site, task) {
            let others = now.running.iter().any(|other| there(site, *other).any(|q| q == p));
            if !others {
                self.idle_since[p.index()] = Some(now.t);
            }
        }
    }

    fn prove(&mut self, now: &Now, task: Option<TaskId>, proof: &Proof, out: &mut Report) {
        let site = now.site;
        let place = (proof.position, proof.circuit);
        let mut good = true;
        let mut live: Vec<(NodeId, route::Route)> = Vec::new();
        let mut fault = |kind: Kind, node: Option<NodeId>| {
            out.add(kind, now, facts![proof.position; node]);
            good = false;
        };
        if !proof.tester_before || !proof.tester_after {
            fault(Kind::TesterNotProved, None);
        }
        let position = &site.job.positions[proof.position];
        let points: Vec<NodeId> = match proof.circuit {
            None => position.points.iter().chain(&position.other_fed).copied().collect(),
            Some(c) => site.own[c.index()]
                .group
                .iter()
                .filter(|m| **m == c)
                .flat_map(|m| dead::way_nodes(site, *m, Some(proof.position)))
                .collect(),
        };
        if points.is_empty()
            && (proof.circuit.is_some() || !site.bare[proof.position.index()].is_empty())
        {
            fault(Kind::NothingProved, None);
        }
        for point in points {
            match proof.readings.get(&point) {
                None => fault(Kind::PointNotRead, Some(point)),
                Some(readings) => {
                    let wanted = pairs(site.job.nodes[point].wires);
                    if wanted
                        .iter()
                        .any(|[a, b]| !readings.contains_key(a) && !readings.contains_key(b))
                    {
                        fault(Kind::PairNotRead, Some(point));
                    }
                }
            }
            let wires = site.job.nodes[point].wires;
            let lit = |w: &Wire| site.wiring.carries(*w) && now.lit[of(point, *w)];
            if let Some(wire) = wires.iter().find(lit) {
                live.push((point, route::live(now, of(point, wire))));
            }
        }
        let limit = &site.job.policy.dead_volts;
        for (point, readings) in &proof.readings {
            for volts in readings.values().flatten() {
                let size = if volts.0 < crate::units::whole(0) {
                    -volts.0.clone()
                } else {
                    volts.0.clone()
                };
                if size > limit.0 {
                    fault(Kind::ReadingNotDead, Some(*point));
                }
            }
        }
        let around = securing(now, &Proofs::seeds(now, place));
        let begun = task.and_then(|t| now.run(t)).map_or(now.t, |r| r.start);
        let last = around.iter().filter_map(|d| now.opened[d.index()]).max();
        if last.is_some_and(|opened| begun - opened < position.discharge) {
            fault(Kind::NotDischarged, None);
        }
        good &= live.is_empty();
        for (point, route) in live {
            out.add(Kind::ProvedLive, now, facts![proof.position, point, route]);
        }
        if !good {
            return;
        }
        self.relied.extend(&around);
        self.around.insert(place, around);
        let people =
            task.filter(|t| now.is_running(*t)).map_or(Vec::new(), |t| now.people(t).to_vec());
        self.valid.entry(place).or_default().push(Held { at: now.t, people });
        self.idle_since[proof.position.index()] = None;
    }

    /// Asks of every dead task now running whether all its people have a proof that holds.
    pub fn ask(&self, now: &Now, out: &mut Report) {
        let site = now.site;
        let tasks: Vec<TaskId> = now.dead_tasks().collect();
        for task in tasks {
            let one_way = match dead::cover(now, task) {
                Cover::Whole => None,
                Cover::OneWay(b) => Some(site.job.boards[b].ways),
            };
            for position in &site.open[task.index()] {
                let bare = &site.bare[position.index()];
                let needed = self.was_live[position.index()]
                    || one_way == Some(*position)
                    || !securing(now, bare).is_empty();
                if !needed {
                    continue;
                }
                for person in now.people(task) {
                    if !self.proved_for(now, *position, *person, task, one_way) {
                        out.add(Kind::NotProved, now, facts![task, *position, *person]);
                    }
                }
            }
        }
    }

    fn proved_for(
        &self,
        now: &Now,
        position: PositionId,
        person: PersonId,
        task: TaskId,
        one_way: Option<PositionId>,
    ) -> bool {
        let covers = |place: Place| {
            self.valid.get(&place).is_some_and(|v| v.iter().any(|p| p.people.contains(&person)))
        };
        if one_way != Some(position) {
            return covers((position, None));
        }
        let circuit = now.site.task(task).circuit;
        circuit.is_some_and(|c| covers((position, Some(c)))) || covers((position, None))
    }
}

/// Where a task is, for the idle time of proofs: what it lays open, and what it proves.
fn there(site: &Site, task: TaskId) -> impl Iterator<Item = PositionId> {
    site.open[task.index()].iter().chain(&site.proves[task.index()]).copied()
}

/// Every pair out of a point's conductors and earth, written either way round.
fn pairs(wires: WireSet) -> Vec<[String; 2]> {
    let mut names: Vec<&str> = wires.iter().filter(|w| *w != Wire::PE).map(Wire::name).collect();
    names.push("E");
    let mut all = Vec::new();
    for (i, a) in names.iter().enumerate() {
        for b in &names[i + 1..] {
            all.push([format!("{a}-{b}"), format!("{b}-{a}")]);
        }
    }
    all
}
