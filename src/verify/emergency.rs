//! Emergency lighting: same circuit (E1), rest mode (E2), function tests and hand-back (E4).

use super::breach::{Kind, Report, facts};
use super::charge::{Charging, Ledger};
use super::first_met::{Met, overcurrent};
use super::now::Now;
use super::track::Track;
use super::wiring::of;
use crate::model::*;
use crate::plan::Act;
use crate::units::Minutes;
use std::collections::{BTreeMap, BTreeSet};

/// A function test that opened and closed the right device, and passed.
#[derive(Clone, Copy, Debug)]
struct Tested {
    start_event: usize,
    end_event: usize,
    end: Minutes,
}

/// What the rules of emergency lighting remember.
#[derive(Debug)]
pub(super) struct Emergency {
    pub charging: Vec<Track<Charging>>,
    fed: Vec<Track<bool>>,
    /// Overcurrent devices opened by a running function test, and whether closed again.
    opened: BTreeMap<TaskId, BTreeMap<DeviceId, bool>>,
    tests: Vec<Vec<Tested>>,
    /// Last hand-back of each area.
    handed_back: Vec<Option<(usize, Minutes)>>,
    /// Tasks by area, with the event of their end (none: still running).
    work: Vec<BTreeMap<TaskId, Option<usize>>>,
}

impl Emergency {
    pub fn new(now: &Now) -> Emergency {
        let job = now.site.job;
        let from = job.span.from;
        Emergency {
            charging: job.groups.iter().map(|(g, _)| Track::new(from, mode(now, g))).collect(),
            fed: job
                .groups
                .rows()
                .iter()
                .map(|g| Track::new(from, now.circuit_live(g.feed)))
                .collect(),
            opened: BTreeMap::new(),
            tests: vec![Vec::new(); job.groups.len()],
            handed_back: vec![None; job.areas.len()],
            work: vec![BTreeMap::new(); job.areas.len()],
        }
    }

    pub fn before(&mut self, now: &Now, act: &Act, out: &mut Report) {
        match act {
            Act::Rest(_, group, true) if now.circuit_live(now.site.job.groups[*group].feed) => {
                out.add(Kind::RestWhileFed, now, facts![*group]);
            }
            Act::Open(by, device) => {
                let Some(task) = by.task else { return };
                let row = now.site.task(task);
                let Some(group) = row.group.filter(|_| row.kind == TaskKind::FunctionTest) else {
                    return;
                };
                let feed = now.site.job.groups[group].feed;
                let met = overcurrent(now, &now.site.own[feed.index()].lines);
                if now.circuit_live(feed) && met.devices.contains(device) {
                    self.opened.entry(task).or_default().insert(*device, false);
                }
            }
            _ => {}
        }
    }

    pub fn after(&mut self, now: &Now, act: &Act, out: &mut Report) {
        match act {
            Act::Open(by, device) if now.devices[device.index()].closed => {
                // It could not be opened after all.
                if let Some(opened) = by.task.and_then(|t| self.opened.get_mut(&t)) {
                    opened.remove(device);
                }
            }
            Act::Close(by, device) => {
                if let Some(closed) =
                    by.task.and_then(|t| self.opened.get_mut(&t)).and_then(|o| o.get_mut(device))
                {
                    *closed = true;
                }
            }
            Act::Start { task, .. }
                if now.run(*task).is_some_and(|r| r.start_event == now.event) =>
            {
                if let Some(area) = now.site.task(*task).area {
                    self.work[area.index()].insert(*task, None);
                }
            }
            Act::Finish { task, pass } => self.finish(now, *task, *pass),
            Act::HandBack(_, area) => {
                self.handed_back[area.index()] = Some((now.event, now.t));
            }
            _ => {}
        }
        for (g, group) in now.site.job.groups.iter() {
            self.charging[g.index()].set(now.t, now.event, mode(now, g));
            self.fed[g.index()].set(now.t, now.event, now.circuit_live(group.feed));
        }
        if now.rewired {
            e1_after(now, out);
        }
    }

    fn finish(&mut self, now: &Now, task: TaskId, pass: bool) {
        let row = now.site.task(task);
        if let Some(area) = row.area
            && let Some(end) = self.work[area.index()].get_mut(&task)
        {
            *end = Some(now.event);
        }
        let opened = self.opened.remove(&task).unwrap_or_default();
        let whole = !opened.is_empty() && opened.values().all(|closed| *closed);
        if let (true, Some(group), Some(run)) = (pass && whole, row.group, now.run(task)) {
            self.tests[group.index()].push(Tested {
                start_event: run.start_event,
                end_event: now.event,
                end: now.t,
            });
        }
    }

    /// E4, and E3 over the whole time, when all events are done.
    pub fn end(&self, now: &Now, ledger: &Ledger, out: &mut Report) {
        let job = now.site.job;
        for (a, _) in job.areas.iter() {
            match self.handed_back[a.index()] {
                None => out.add_at(Kind::NotHandedBack, None, None, facts![a]),
                Some((event, t)) => {
                    for (task, end) in &self.work[a.index()] {
                        if end.is_none_or(|e| e > event) {
                            out.add_at(Kind::WorkAfterHandBack, Some(t), None, facts![a, *task]);
                        }
                    }
                }
            }
        }
        for (g, group) in job.groups.iter() {
            let moved = [group.feed, group.watches]
                .into_iter()
                .filter_map(|c| now.circuits[c.index()].last_joint)
                .max()
                .unwrap_or(0);
            let good: Vec<&Tested> =
                self.tests[g.index()].iter().filter(|t| t.start_event > moved).collect();
            for a in &group.areas {
                let Some((back, t)) = self.handed_back[a.index()] else { continue };
                if !good.iter().any(|test| test.end_event < back) {
                    out.add_at(Kind::NoFunctionTest, Some(t), None, facts![g, *a]);
                }
            }
            self.e4_full_test(now, g, good.last().map(|t| t.end), ledger, out);
        }
    }

    fn e4_full_test(
        &self,
        now: &Now,
        g: GroupId,
        tested: Option<Minutes>,
        ledger: &Ledger,
        out: &mut Report,
    ) {
        let job = now.site.job;
        let Some(&at) = now.site.plan.claims.full_duration_tests.get(&g) else {
            out.add_at(Kind::NoFullTest, None, None, facts![g]);
            return;
        };
        let returned =
            self.fed[g.index()].changes().skip(1).filter(|(_, fed)| **fed).map(|(t, _)| t).last();
        let ready = returned.max(tested).unwrap_or(job.span.from) + job.groups[g].recharge;
        let fed = *self.fed[g.index()].last();
        if at < ready || at > job.span.to || !fed {
            out.add_at(Kind::FullTestTooSoon, Some(at), None, facts![g, at, ready]);
        }
        if let Some((area, t)) = ledger.short_after_full_test(job, g, at) {
            out.add_at(Kind::FullTestLeavesShort, Some(t), None, facts![g, area, at]);
        }
    }
}

fn mode(now: &Now, g: GroupId) -> Charging {
    let testing = now.running.iter().any(|t| {
        let row = now.site.task(*t);
        row.kind == TaskKind::FunctionTest && row.group == Some(g)
    });
    if now.rest[g.index()] {
        Charging::AtRest
    } else if testing {
        Charging::Tested
    } else if now.circuit_live(now.site.job.groups[g].feed) {
        Charging::Fed
    } else {
        Charging::Lit
    }
}

/// E1 of the state as it stands.
pub(super) fn e1_after(now: &Now, out: &mut Report) {
    for (g, group) in now.site.job.groups.iter() {
        let (feed, watched) = (group.feed, group.watches);
        if !now.circuit_live(feed) && !now.circuit_live(watched) {
            continue;
        }
        let untouched =
            [feed, watched].iter().all(|c| now.circuits[c.index()].last_joint.is_none());
        if untouched && super::site::stated(&group.old_state_exempt) {
            continue;
        }
        if carried_alone(now, feed, watched) || carried_alone(now, watched, feed) {
            continue;
        }
        if !now.fully_live(feed) || !now.fully_live(watched) {
            let off = if now.fully_live(feed) { watched } else { feed };
            out.add(Kind::LivesAlone, now, facts![g, off]);
            continue;
        }
        let of_feed = overcurrent(now, &now.site.own[feed.index()].lines);
        let of_watched = overcurrent(now, &now.site.own[watched.index()].lines);
        if none(&of_feed) || none(&of_watched) {
            out.add(Kind::NoOvercurrent, now, facts![g]);
        } else if of_feed.devices != of_watched.devices {
            out.add(Kind::OtherOvercurrent, now, facts![g, feed, watched]);
        }
        e1_contactors(now, g, &of_watched, out);
    }
}

/// One of the two is live on a lead while the other, dead, is not on it: T4 alone tells of that.
fn carried_alone(now: &Now, on: CircuitId, off: CircuitId) -> bool {
    let supply = now.rides(on).filter(|_| now.circuit_live(on));
    supply.is_some() && now.rides(off) != supply && !now.circuit_live(off)
}

fn none(met: &Met) -> bool {
    met.devices.is_empty() || met.open
}

/// Contactors passed over on the watched circuit's way have their control circuit behind the
/// same overcurrent device.
fn e1_contactors(now: &Now, g: GroupId, met: &Met, out: &mut Report) {
    let site = now.site;
    let group = &site.job.groups[g];
    let lines = &site.own[group.watches.index()].lines;
    for contactor in &met.passed {
        // Asked of each line for itself: the circuit's cable end is on the near side.
        let behind = |line: &usize| {
            let line = std::slice::from_ref(line);
            on_the_way(now, line, *contactor, &overcurrent(now, line))
        };
        if !lines.iter().any(behind) {
            continue;
        }
        let Some(act) = site.job.devices[*contactor].self_acting else { continue };
        let covered =
            group.relays.iter().any(|r| *r == group.watches || belongs(now, *r, act.node));
        if covered {
            continue;
        }
        let control: Vec<usize> = site.job.nodes[act.node]
            .wires
            .iter()
            .filter(|w| w.is_line())
            .map(|w| of(act.node, w))
            .collect();
        let of_control = overcurrent(now, &control);
        if none(&of_control) || of_control.devices != met.devices {
            out.add(Kind::OtherControl, now, facts![g, *contactor]);
        }
    }
}

/// Whether a node is one of a circuit's own, or an end of one of its joints now made.
fn belongs(now: &Now, c: CircuitId, node: NodeId) -> bool {
    let own = &now.site.own[c.index()];
    own.nodes.contains(&node)
        || own.joints.iter().any(|j| {
            let joint = &now.site.job.joints[*j];
            now.joints[j.index()] && (joint.a == node || joint.b == node)
        })
}

/// Whether the way from `lines` to the overcurrent devices leads through a contactor.
fn on_the_way(now: &Now, lines: &[usize], contactor: DeviceId, met: &Met) -> bool {
    let w = &now.site.wiring;
    let mut seen: BTreeSet<usize> = lines.iter().copied().collect();
    let mut queue: Vec<usize> = lines.to_vec();
    let mut found = BTreeSet::new();
    while let Some(c) = queue.pop() {
        for &(lane, other) in &w.next[c] {
            let device = match w.lanes[lane].part {
                super::wiring::Part::Switched(d) | super::wiring::Part::Through(d) => Some(d),
                super::wiring::Part::Joint(_) => None,
            };
            if !now.live.on(lane) || device == Some(contactor) {
                continue;
            }
            if let Some(d) = device.filter(|d| now.site.job.devices[*d].overcurrent) {
                if met.devices.contains(&d) {
                    found.insert(d);
                }
                continue;
            }
            if seen.insert(other) {
                queue.push(other);
            }
        }
    }
    found != met.devices
}
