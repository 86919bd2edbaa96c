//! The lock ledger: every lock with its device, its owner, its key, and the dead tasks that rely
//! on it, from a replay of its own.
//!
//! A task relies on a lock when the lock is on one of the devices first met on the ways to the
//! sources from all that the task lays open (section 2), and somebody on the task holds it (W3).
//! Made only when it is asked for: the judging needs no such list.

use super::SoundPlan;
use super::breach::Report;
use super::dead::exposed;
use super::first_met::securing;
use super::now::Now;
use super::site::Site;
use crate::model::*;
use crate::plan::{Act, Key};
use crate::units::{Minutes, Period};
use std::collections::{BTreeMap, BTreeSet};

/// A lock on a device, from the event that puts it on to the one that takes it off.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LockSpan {
    /// The name stamped on it.
    pub lock: LockId,
    /// Where it hangs.
    pub device: DeviceId,
    /// Who put it on.
    pub owner: Who,
    /// Where its key is.
    pub key: Key,
    /// When it goes on, with the index of the event.
    pub on: (Minutes, usize),
    /// When it comes off; none if it stays.
    pub off: Option<(Minutes, usize)>,
    /// The dead tasks that rely on it, each from when to when, in order of their start.
    pub relied: Vec<(TaskId, Period)>,
    /// The lock of somebody else on that device that this one takes over from: it comes off
    /// while this one is on.
    pub takes_over: Option<LockId>,
}

impl SoundPlan {
    /// Every lock of the plan, in the order in which they go on.
    pub fn lock_ledger(&self) -> Vec<LockSpan> {
        let site = Site::new(&self.job, &self.plan);
        let mut now = Now::new(&site);
        // A sound plan has nothing to report.
        let mut unused = Report::default();
        let mut spans: Vec<LockSpan> = Vec::new();
        let mut on: BTreeMap<LockId, usize> = BTreeMap::new();
        let mut relied: BTreeMap<(usize, TaskId), Minutes> = BTreeMap::new();
        for (i, event) in self.plan.events.iter().enumerate() {
            now.event = i + 1;
            now.t = event.at;
            now.begin();
            now.apply(event, &mut unused);
            match &event.act {
                Act::Lock(by, device, lock, key) => {
                    on.insert(*lock, spans.len());
                    spans.push(LockSpan {
                        lock: *lock,
                        device: *device,
                        owner: by.who,
                        key: *key,
                        on: (event.at, i),
                        off: None,
                        relied: Vec::new(),
                        takes_over: None,
                    });
                }
                Act::Unlock(_, _, lock) => {
                    if let Some(span) = on.remove(lock) {
                        spans[span].off = Some((event.at, i));
                        hand_over(&mut spans, span, &on);
                    }
                }
                _ => {}
            }
            let moved = matches!(event.act, Act::Start { .. } | Act::Finish { .. });
            if moved || now.joined || now.resecured || now.regrasped {
                let holds = reliance(&now, &on);
                relied.retain(|(span, task), since| {
                    let still = holds.contains(&(*span, *task));
                    if !still {
                        let period = Period { from: *since, to: event.at };
                        spans[*span].relied.push((*task, period));
                    }
                    still
                });
                for pair in holds {
                    relied.entry(pair).or_insert(event.at);
                }
            }
        }
        for ((span, task), since) in relied {
            spans[span].relied.push((task, Period { from: since, to: now.t }));
        }
        for span in &mut spans {
            span.relied.sort_by_key(|(task, period)| (period.from, *task));
        }
        spans
    }
}

/// The locks, by their spans, on which running dead tasks rely.
fn reliance(now: &Now, on: &BTreeMap<LockId, usize>) -> BTreeSet<(usize, TaskId)> {
    let mut all = BTreeSet::new();
    for task in now.dead_tasks() {
        for device in securing(now, &exposed(now, task)) {
            for padlock in &now.devices[device.index()].locks {
                let people = now.people(task).iter();
                let held = people.into_iter().any(|p| now.holds_lock(Who::Person(*p), padlock));
                if held && let Some(span) = on.get(&padlock.lock) {
                    all.insert((*span, task));
                }
            }
        }
    }
    all
}

/// A lock that comes off while a later one of somebody else holds the device was handed over.
fn hand_over(spans: &mut [LockSpan], gone: usize, on: &BTreeMap<LockId, usize>) {
    let (device, owner, lock) = (spans[gone].device, spans[gone].owner, spans[gone].lock);
    let key = spans[gone].key;
    let next = on.values().copied().find(|i| {
        let span = &spans[*i];
        span.device == device && span.owner != owner && *i > gone && span.takes_over.is_none()
            // Two teams, each with a box of its own, lock the same device side by side.
            && (span.key == Key::Kept || key == Key::Kept || span.key == key)
    });
    if let Some(next) = next {
        spans[next].takes_over = Some(lock);
    }
}
