//! The replay from the first event to the last, with every rule asked where it applies.

use super::breach::{Breach, Kind, Report, facts};
use super::charge::Ledger;
use super::cost::{Found, Worked};
use super::emergency::{self, Emergency};
use super::energise::Switching;
use super::now::Now;
use super::outages::{Service, hold_up, riding_minutes};
use super::proof::Proofs;
use super::replay::{Replay, TaskRun};
use super::site::Site;
use super::surges::Surges;
use super::temporary::Temporary;
use super::ways::Ways;
use super::{backout, cost, dead, keys, labour, leave, limits, live_work, neutral, order, survey};
use crate::model::*;
use crate::plan::{Act, Plan};
use crate::units::{Minutes, Period};
use std::collections::{BTreeMap, BTreeSet};

/// The rules that remember, and what they have found.
struct Judges {
    proofs: Proofs,
    switching: Switching,
    surges: Surges,
    temporary: Temporary,
    emergency: Emergency,
    service: Service,
    old_reach: BTreeSet<(NodeId, CircuitId)>,
    still_live: BTreeMap<TaskId, BTreeSet<NodeId>>,
    /// Visit ends not yet reached, the next one last.
    ends: Vec<Minutes>,
    out: Report,
    replay: Replay,
}

pub(super) fn run(job: &Job, plan: &Plan) -> (Replay, Vec<Breach>) {
    let site = Site::new(job, plan);
    let mut now = Now::new(&site);
    let mut judges = Judges::new(&now);
    survey::s1_complete(&now, &mut judges.out);
    judges.state_after(&now, None);
    for (i, event) in plan.events.iter().enumerate() {
        now.event = i + 1;
        if event.at < now.t && i > 0 {
            judges.out.add(Kind::TimeGoesBack, &now, facts![event.at]);
        } else if event.at < job.span.from || job.span.to < event.at {
            judges.out.add(Kind::OutsideTime, &now, facts![event.at]);
        }
        let t = event.at.max(now.t);
        judges.lasts_until(&now, t);
        now.t = t;
        judges.proofs.pass(&now, t);
        judges.before(&now, &event.act);
        now.begin();
        now.apply(event, &mut judges.out);
        judges.after(&now, &event.act);
    }
    let end = job.span.to.max(now.t);
    judges.lasts_until(&now, end);
    for at in std::mem::take(&mut judges.ends).into_iter().rev() {
        judges.visit_ends(&now, at);
    }
    judges.finish(&now)
}

impl Judges {
    fn new(now: &Now) -> Judges {
        let proofs = Proofs::new(now);
        let ways = Ways::new(now);
        let zero =
            cost::cost(now.site, &vec![Vec::new(); now.site.job.loads.len()], &Vec::new(), 0);
        let mut ends: Vec<Minutes> = now.site.visits.iter().map(|v| v.to).collect();
        ends.reverse();
        Judges {
            switching: Switching::new(now),
            surges: Surges::new(),
            temporary: Temporary::new(now, &ways),
            emergency: Emergency::new(now),
            service: Service::new(now),
            old_reach: leave::reached(now),
            still_live: BTreeMap::new(),
            ends,
            out: Report::default(),
            replay: Replay::new(now, &proofs, zero),
            proofs,
        }
    }

    fn before(&mut self, now: &Now, act: &Act) {
        let out = &mut self.out;
        order::before(now, act, out);
        keys::before(now, act, out);
        self.proofs.before(now, act);
        self.switching.before(now, act, out);
        self.surges.before(now, act, out);
        self.emergency.before(now, act, out);
    }

    fn after(&mut self, now: &Now, act: &Act) {
        let out = &mut self.out;
        dead::after(now, act, out);
        keys::after(now, act, out);
        self.proofs.after(now, act, out);
        self.switching.after(now, act, out);
        live_work::w5_after(now, act, out);
        live_work::w14_after(now, act, out);
        self.surges.after(now, act, out);
        self.emergency.after(now, act, out);
        self.service.after(now);
        self.state_after(now, Some(act));
        self.replay.note(now, &self.proofs);
    }

    /// What is asked of every state, the old one included.
    fn state_after(&mut self, now: &Now, act: Option<&Act>) {
        if !now.rewired && act.is_some() {
            return;
        }
        let groups = !now.site.job.neutral_groups.is_empty();
        let ways = (groups || self.temporary.wants_ways(now)).then(|| Ways::new(now));
        if let Some(ways) = ways.as_ref().filter(|_| groups) {
            neutral::w12_after(now, ways, &mut self.out);
        }
        self.temporary.after(now, ways.as_ref(), &mut self.out);
        if act.is_none() {
            emergency::e1_after(now, &mut self.out);
        }
    }

    /// The state stays as it is until `t`.
    fn lasts_until(&mut self, now: &Now, t: Minutes) {
        if now.t < t {
            let span = Period { from: now.t, to: t };
            live_work::w13_lasting(now, &mut self.out);
            live_work::w14_lasting(now, span, &mut self.out);
            for task in now.dead_tasks() {
                let nodes = enclosed(now, task);
                let live: BTreeSet<NodeId> =
                    nodes.into_iter().filter(|n| now.node_live(*n)).collect();
                if !live.is_empty() {
                    self.still_live.entry(task).or_default().extend(live);
                }
            }
        }
        while let Some(end) = self.ends.last().copied().filter(|e| *e < t) {
            self.ends.pop();
            self.visit_ends(now, end);
        }
    }

    fn visit_ends(&mut self, now: &Now, at: Minutes) {
        leave::f5_left(now, at, &mut self.out);
        // A window's end makes every proof void, and work that goes on has none.
        self.proofs.pass(now, at);
        self.proofs.ask(now, &mut self.out);
        if now.site.visits.last().is_some_and(|v| v.to == at) {
            labour::unfinished(now, at, &mut self.out);
        }
    }

    fn finish(mut self, now: &Now) -> (Replay, Vec<Breach>) {
        let site = now.site;
        let out = &mut self.out;
        if site.visits.is_empty() {
            labour::unfinished(now, now.t, out);
        }
        leave::f5_left(now, now.t, out);
        leave::f5_sources(now, &self.old_reach, out);
        labour::left_undone(now, out);

        let end = now.t.max(site.job.span.to);
        let worked = worked(now, end);
        labour::people(site, &worked, out);
        let ledger = Ledger::new(site, &self.emergency.charging, &work_by_area(site, &worked));
        ledger.e3_autonomy(site.job, out);
        self.emergency.end(now, &ledger, out);

        let spans = self.service.outages(site.job, end);
        let outages: Vec<_> =
            site.job.loads.iter().map(|(id, l)| hold_up(l, &spans[id.index()])).collect();
        limits::judge(site, &outages, out);
        let riding = riding_minutes(site, &self.service.riding, end);
        let replay = &mut self.replay;
        replay.cost = cost::cost(site, &outages, &worked, riding);
        replay.walking = cost::walking(site, &worked);
        replay.lock_operations = cost::lock_operations(site);
        replay.finish = site.plan.events.last().map_or(site.job.span.from, |e| e.at);
        let finished: BTreeMap<TaskId, Minutes> = now
            .runs
            .iter()
            .enumerate()
            .filter_map(|(i, r)| Some((TaskId::new(i), r.as_ref()?.end?.0)))
            .collect();
        backout::b1_back_out(site, &worked, &outages, &finished, out);
        let found = Found {
            outages: &outages,
            cost: &replay.cost,
            finish: replay.finish,
            lock_operations: replay.lock_operations,
            walking: replay.walking,
            still_live: &self.still_live,
        };
        cost::c1_claims(site, &found, out);

        replay.in_service = self.service.circuits;
        replay.riding = self.service.riding;
        replay.charge = ledger.groups;
        replay.occupied = ledger.occupied;
        replay.tasks = now
            .runs
            .iter()
            .map(|r| {
                r.as_ref().map(|r| TaskRun {
                    who: r.who.clone(),
                    instrument: r.instrument,
                    start: r.start,
                    end: r.end.map(|(t, _, pass)| (t, pass)),
                })
            })
            .collect();
        replay.outages = outages;
        replay.still_live = self.still_live;
        (self.replay, self.out.into_breaches())
    }
}

/// Tasks in the order in which they began.
fn worked(now: &Now, end: Minutes) -> Worked {
    let mut runs: Vec<_> = now
        .runs
        .iter()
        .enumerate()
        .filter_map(|(i, run)| Some((TaskId::new(i), run.as_ref()?)))
        .collect();
    runs.sort_by_key(|(_, run)| run.start_event);
    runs.into_iter()
        .map(|(id, run)| (id, run.who.clone(), run.start, run.end.map_or(end, |(t, _, _)| t)))
        .collect()
}

fn work_by_area(site: &Site, worked: &Worked) -> Vec<Vec<Period>> {
    let mut all = vec![Vec::new(); site.job.areas.len()];
    for (task, who, start, end) in worked {
        if let Some(area) = site.task(*task).area.filter(|_| !who.is_empty()) {
            all[area.index()].push(Period { from: *start, to: *end });
        }
    }
    all
}

/// Nodes enclosed at any position of a task's board, or at its own position.
fn enclosed(now: &Now, task: TaskId) -> Vec<NodeId> {
    let site = now.site;
    let row = site.task(task);
    let board = site.board_of(row);
    site.job
        .positions
        .iter()
        .filter(|(id, p)| row.position == Some(*id) || (board.is_some() && p.board == board))
        .flat_map(|(_, p)| p.enclosed.iter().copied())
        .collect()
}
