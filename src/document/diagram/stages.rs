//! Stretches between changes of isolation.

use super::super::Input;
use super::skeleton::Skeleton;
use crate::model::*;
use crate::plan::{Act, By, Event};
use crate::units::{Minutes, Period};
use std::collections::BTreeSet;

/// A stretch in which no isolating device is switched, locked or unlocked.
pub struct Stage<'a> {
    /// From the last change before it to the first change after it.
    pub period: Period,
    /// The switching and locking that leads into it, in order; none before the first.
    pub changes: Vec<&'a Event>,
}

/// All stages of a plan. Changes of one task are one change, drawn when its last is done; devices
/// of single ways count only where a padlock goes on them at some time.
pub fn stages<'a>(input: &Input<'a>, skeleton: &Skeleton) -> Vec<Stage<'a>> {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let mut isolating = skeleton.devices();
    isolating.extend(locked(&plan.events));
    let mut changes: Vec<Vec<&Event>> = Vec::new();
    for event in &plan.events {
        let Some((by, device)) = switched(&event.act) else { continue };
        if !isolating.contains(&device) {
            continue;
        }
        let joins = changes.last().is_some_and(|c| {
            let last = c[c.len() - 1];
            let before = super::super::steps::by(&last.act);
            last.at == event.at || before.is_some_and(|b| b.task == by.task && by.task.is_some())
        });
        match changes.last_mut().filter(|_| joins) {
            Some(change) => change.push(event),
            None => changes.push(vec![event]),
        }
    }
    let span = job.span;
    let first = changes.first().map_or(span.to, |c| c[0].at);
    let mut out = vec![Stage { period: Period { from: span.from, to: first }, changes: vec![] }];
    for (i, change) in changes.iter().enumerate() {
        let from = change[change.len() - 1].at;
        let to = changes.get(i + 1).map_or(span.to, |c| c[0].at);
        out.push(Stage { period: Period { from, to }, changes: change.clone() });
    }
    out.retain(|s| s.period.length() > Minutes::ZERO || s.changes.is_empty());
    as_left(&mut out, plan.events.last().map_or(first, |e| e.at));
    out
}

/// A stage of its own for what stands when all is done, where ways are still closed and emergency
/// lighting comes back after the last change of isolation.
fn as_left(stages: &mut Vec<Stage>, end: Minutes) {
    let Some(last) = stages.last_mut().filter(|s| !s.changes.is_empty()) else { return };
    let to = last.period.to;
    if last.period.from < end && end < to {
        last.period.to = end;
        stages.push(Stage { period: Period { from: end, to }, changes: Vec::new() });
    }
}

/// The minute at which a stage is drawn: its first, or, where a visit ends in it, the last at which
/// anything is done in that visit, since so it stays until the next.
pub fn drawn_at(input: &Input, stage: &Stage) -> Minutes {
    let Period { from, to } = stage.period;
    let ends = input.sound.replay().visits().iter().map(|v| v.to);
    let end = ends.filter(|t| from < *t && *t < to).min().filter(|_| !stage.changes.is_empty());
    let done = |end: Minutes| {
        let events = input.sound.plan().events.iter().map(|e| e.at);
        events.filter(|t| from < *t && *t <= end).max()
    };
    end.and_then(done).unwrap_or(from)
}

/// The device that an act switches, locks or unlocks.
pub fn device(act: &Act) -> Option<DeviceId> {
    switched(act).map(|(_, d)| d)
}

fn switched(act: &Act) -> Option<(&By, DeviceId)> {
    match act {
        Act::Open(by, d) | Act::Close(by, d) => Some((by, *d)),
        Act::Lock(by, d, ..) | Act::Unlock(by, d, _) => Some((by, *d)),
        _ => None,
    }
}

fn locked(events: &[Event]) -> BTreeSet<DeviceId> {
    let mut out = BTreeSet::new();
    for event in events {
        if let Act::Lock(_, device, ..) = &event.act {
            out.insert(*device);
        }
    }
    out
}
