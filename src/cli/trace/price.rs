//! What a choice of locks costs: which loads go down with it, for how long at least.

use crate::jobfile::Resolved;
use crate::model::*;
use crate::network::{Alternative, Place};
use crate::plan::{Act, Plan};
use crate::search::price::approx;
use crate::units::{Exact, Minutes, plain};
use std::collections::BTreeSet;

/// Loads told by name before the rest is counted.
const NAMED: usize = 6;

/// For how long locks take down what is behind them, and where that is known from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Span {
    /// The longest stretch of the plan in which all of them are on.
    Planned(Minutes),
    /// Isolating, proving dead and energising at their shortest, without the work itself.
    AtLeast(Minutes),
}

/// The rows that tell what a choice of locks takes down besides the place's own circuits.
pub fn told(job: &Resolved, span: Span, set: &Alternative) -> Vec<String> {
    let hit = |l: &Load| l.circuits.iter().any(|c| set.also.contains(c));
    let mut loads: Vec<LoadId> =
        job.job.loads.iter().filter(|(_, l)| hit(l)).map(|(id, _)| id).collect();
    if loads.is_empty() {
        return vec!["besides the place's own: nothing".to_owned()];
    }
    let weight = |l: &LoadId| approx(&job.job.loads[*l].weight);
    loads.sort_by(|a, b| weight(b).total_cmp(&weight(a)).then(a.cmp(b)));
    let sum =
        loads.iter().fold(Exact::from_integer(0.into()), |s, l| s + &job.job.loads[*l].weight);
    let named = loads.iter().take(NAMED).map(|l| job.job.loads.name(*l).to_owned());
    let mut names: Vec<String> = named.collect();
    if loads.len() > NAMED {
        names.push(format!("{} more", loads.len() - NAMED));
    }
    let (minutes, from) = match span {
        Span::Planned(m) => (m, "in the plan".to_owned()),
        Span::AtLeast(m) => {
            (m, "at least: isolate, prove dead and energise, without the work".to_owned())
        }
    };
    vec![
        format!("also takes {}", names.join(", ")),
        format!("{} min x importance {} ({from})", minutes.0, plain(&sum)),
    ]
}

/// For how long locks are on at a place: as long as the plan keeps one of the sets on, and the
/// same for all of them, so that they can be compared.
pub fn span(job: &Resolved, plan: Option<&Plan>, place: Place, sets: &[Alternative]) -> Span {
    let planned = plan.map(|p| sets.iter().map(|s| together(p, &s.devices)).max());
    match planned.flatten() {
        Some(found) if found > Minutes::ZERO => Span::Planned(found),
        _ => Span::AtLeast(least(job, place)),
    }
}

/// The longest stretch in which every one of the devices carries a lock.
fn together(plan: &Plan, devices: &[DeviceId]) -> Minutes {
    let mut on: BTreeSet<(DeviceId, LockId)> = BTreeSet::new();
    let (mut since, mut longest) = (None, Minutes::ZERO);
    for event in &plan.events {
        match &event.act {
            Act::Lock(_, d, lock, ..) => drop(on.insert((*d, *lock))),
            Act::Unlock(_, d, lock) => drop(on.remove(&(*d, *lock))),
            _ => continue,
        }
        let all = devices.iter().all(|d| on.iter().any(|(locked, _)| locked == d));
        match (all && !devices.is_empty(), since) {
            (true, None) => since = Some(event.at),
            (false, Some(from)) => {
                longest = longest.max(event.at - from);
                since = None;
            }
            _ => {}
        }
    }
    longest
}

/// Isolating, proving dead and energising a place at their shortest.
fn least(job: &Resolved, place: Place) -> Minutes {
    let (facts, labour) = (&job.job, &job.labour);
    let position = match place {
        Place::Position(p) => Some(p),
        Place::Node(n) => {
            facts.positions.iter().find(|(_, p)| p.bare.contains(&n)).map(|(id, _)| id)
        }
        Place::Circuit(c) => {
            let label = &job.site.circuits[c.index()];
            let way = label.old.as_ref().or(label.new.as_ref());
            way.map(|w| facts.boards[w.board].ways)
        }
    };
    let Some(position) = position else { return Minutes::ZERO };
    let shortest = |one: &Effort, again: &Effort| one.duration[0].min(again.duration[0]);
    let at = &labour.positions[position.index()];
    let mut sum = shortest(&at.prove, &at.prove_again);
    if let Some(board) = facts.positions[position].board {
        let b = &labour.boards[board.index()];
        sum += shortest(&b.isolate, &b.isolate_again);
        sum += shortest(&b.energise, &b.energise_again);
    } else if let Some(s) = labour.supplies.iter().find(|s| s.position == position) {
        sum += s.isolate.duration[0] + s.energise.duration[0];
    }
    sum
}
