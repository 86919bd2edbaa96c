//! The lock ledger: where every padlock hangs, whose it is, where its key is, and what work
//! relies on it; every change in order; and how things stand at each hold.

use super::Input;
use super::name;
use super::steps::{self, Step};
use crate::model::*;
use crate::plan::{Act, Key};
use crate::units::{Minutes, Period};
use crate::verify::{LockSpan, Padlock};
use serde::Serialize;
use std::collections::BTreeSet;

#[derive(Serialize)]
pub struct View {
    devices: Vec<Device>,
    boxes: Vec<LockBox>,
    changes: Vec<Change>,
    holds: Vec<Hold>,
}

/// A device with every lock that hangs on it, in the order in which they go on.
#[derive(Serialize)]
struct Device {
    name: String,
    locks: Vec<Lock>,
}

#[derive(Serialize)]
struct Lock {
    name: String,
    owner: String,
    on: String,
    off: String,
    key: String,
    /// The lock that this one takes over from.
    takes_over: String,
    /// From when to when, and which step.
    work: Vec<[String; 2]>,
}

#[derive(Serialize)]
struct LockBox {
    name: String,
    /// Which key, of what, in the box from when to when.
    keys: Vec<[String; 3]>,
    people: Vec<Stay>,
}

/// Somebody's own lock on a box.
#[derive(Serialize)]
struct Stay {
    who: String,
    spans: Vec<String>,
}

/// One lock put on or taken off.
#[derive(Serialize)]
struct Change {
    /// The day, where another begins.
    day: String,
    time: String,
    step: String,
    who: String,
    what: String,
    /// How the device or the box stands then.
    then: String,
    handover: bool,
}

/// How the locks stand where everybody waits: holds in a row at which they stand alike.
#[derive(Serialize)]
struct Hold {
    steps: Vec<Wait>,
    locks: Vec<Hanging>,
    boxes: Vec<String>,
    dead: String,
}

/// A step that is a hold.
#[derive(Serialize)]
struct Wait {
    number: usize,
    time: String,
    what: String,
}

#[derive(PartialEq, Serialize)]
struct Hanging {
    device: String,
    lock: String,
    owner: String,
    key: String,
}

/// The ledger's view.
pub fn view(input: &Input, all: &[Step]) -> View {
    let spans = input.sound.lock_ledger();
    View {
        devices: devices(input, all, &spans),
        boxes: boxes(input, &spans),
        changes: changes(input, all, &spans),
        holds: holds(input, all),
    }
}

fn lock<'a>(input: &'a Input, id: LockId) -> &'a str {
    input.sound.plan().locks.name(id)
}

fn devices(input: &Input, all: &[Step], spans: &[LockSpan]) -> Vec<Device> {
    let ids: BTreeSet<DeviceId> = spans.iter().map(|s| s.device).collect();
    let row = |span: &LockSpan| Lock {
        name: lock(input, span.lock).to_owned(),
        owner: name::who(input, span.owner),
        on: name::dated(input, span.on.0),
        off: span.off.map_or_else(|| "STAYS ON".to_owned(), |(t, _)| name::dated(input, t)),
        key: steps::key_text(input, span.key, span.owner),
        takes_over: span.takes_over.map(|l| lock(input, l).to_owned()).unwrap_or_default(),
        work: work(input, all, span),
    };
    let device = |id: DeviceId| Device {
        name: name::device(input, id),
        locks: spans.iter().filter(|s| s.device == id).map(row).collect(),
    };
    ids.into_iter().map(device).collect()
}

/// The steps that rely on a lock, each with the time from the first task to the last.
fn work(input: &Input, all: &[Step], span: &LockSpan) -> Vec<[String; 2]> {
    let clock = &input.site.clock;
    let of = |step: &Step| -> Option<Period> {
        let mine = span.relied.iter().filter(|(task, _)| step.tasks.contains(task));
        mine.map(|(_, p)| *p).reduce(|a, b| Period { from: a.from.min(b.from), to: a.to.max(b.to) })
    };
    let told = |step: &Step| {
        let period = of(step)?;
        let title = steps::title(input, step);
        let (from, to) = (clock.time(period.from), clock.time(period.to));
        Some([format!("{from} to {to}"), format!("step {}: {title}", step.number)])
    };
    all.iter().filter_map(told).collect()
}

fn boxes(input: &Input, spans: &[LockSpan]) -> Vec<LockBox> {
    let plan = input.sound.plan();
    let one = |id: BoxId| {
        let inside = |s: &&LockSpan| s.key == Key::Boxed(id);
        let key = |s: &LockSpan| {
            let off = s.off.map_or_else(|| "the end".to_owned(), |(t, _)| name::dated(input, t));
            let device = name::device(input, s.device);
            let span = format!("{} to {off}", name::dated(input, s.on.0));
            [lock(input, s.lock).to_owned(), device, span]
        };
        LockBox {
            name: plan.boxes.name(id).to_owned(),
            keys: spans.iter().filter(inside).map(key).collect(),
            people: stays(input, id),
        }
    };
    plan.boxes.ids().map(one).filter(|b| !b.keys.is_empty() || !b.people.is_empty()).collect()
}

/// Whose own locks are on a box, from when to when.
fn stays(input: &Input, id: BoxId) -> Vec<Stay> {
    let mut on: Vec<(Who, Minutes)> = Vec::new();
    let mut out: Vec<(Who, Vec<String>)> = Vec::new();
    let mut told = |who: Who, text: String| match out.iter_mut().find(|(w, _)| *w == who) {
        Some((_, spans)) => spans.push(text),
        None => out.push((who, vec![text])),
    };
    for (t, owners) in input.sound.replay().lock_box(id).changes() {
        on.retain(|(who, from)| {
            let stays = owners.contains(who);
            if !stays {
                told(*who, format!("{} to {}", name::dated(input, *from), name::dated(input, t)));
            }
            stays
        });
        for who in owners {
            if on.iter().all(|(w, _)| w != who) {
                on.push((*who, t));
            }
        }
    }
    for (who, from) in on {
        told(who, format!("from {}, STAYS ON", name::dated(input, from)));
    }
    out.into_iter().map(|(who, spans)| Stay { who: name::who(input, who), spans }).collect()
}

/// Every lock put on or taken off, in order.
fn changes(input: &Input, all: &[Step], spans: &[LockSpan]) -> Vec<Change> {
    let plan = input.sound.plan();
    let replay = input.sound.replay();
    let mut out = Vec::new();
    let mut day = String::new();
    for (i, event) in plan.events.iter().enumerate() {
        let (by, then) = match &event.act {
            Act::Lock(by, d, ..) | Act::Unlock(by, d, _) => {
                (by, hanging(input, &replay.device(*d).after(Some(i)).locks))
            }
            Act::BoxLock(by, b) | Act::BoxUnlock(by, b) => {
                let on = replay.lock_box(*b).after(Some(i));
                let names: Vec<String> = on.iter().map(|w| name::who(input, *w)).collect();
                let then = match names.is_empty() {
                    true => format!("{} carries no lock", name::lock_box(input, *b)),
                    false => format!("locked by {}", name::list(&names)),
                };
                (by, then)
            }
            _ => continue,
        };
        let takes_over = spans.iter().find(|s| s.on.1 == i).and_then(|s| s.takes_over);
        let handed_on = spans.iter().find(|s| s.off.is_some_and(|(_, e)| e == i)).and_then(|off| {
            spans.iter().find(|s| s.takes_over == Some(off.lock) && s.device == off.device)
        });
        let mut what = steps::act_text(input, &event.act);
        if let Some(from) = takes_over {
            what.push_str(&format!(". HANDOVER: takes over from {}", lock(input, from)));
        }
        if let Some(to) = handed_on {
            what.push_str(&format!(". HANDOVER: {} holds it now", lock(input, to.lock)));
        }
        let step = all.iter().find(|s| s.acts.iter().any(|e| std::ptr::eq(*e, event)));
        let now = input.site.clock.day(event.at);
        out.push(Change {
            day: if day == now { String::new() } else { now.clone() },
            time: input.site.clock.time(event.at),
            step: step.map(|s| s.number.to_string()).unwrap_or_default(),
            who: name::who(input, by.who),
            what,
            then,
            handover: takes_over.is_some() || handed_on.is_some(),
        });
        day = now;
    }
    out
}

/// The locks on a device in words.
fn hanging(input: &Input, locks: &[Padlock]) -> String {
    let one = |l: &Padlock| format!("{} of {}", lock(input, l.lock), name::who(input, l.owner));
    match locks.iter().map(one).collect::<Vec<_>>() {
        all if all.is_empty() => "NO LOCK on it: isolates nothing".to_owned(),
        all => format!("held open by {}", name::list(&all)),
    }
}

/// How the locks stand when each hold begins.
fn holds(input: &Input, all: &[Step]) -> Vec<Hold> {
    let plan = input.sound.plan();
    let start = |step: &Step| {
        let task = *step.tasks.first().filter(|_| step.kind == Some(TaskKind::Hold))?;
        plan.events.iter().position(|e| matches!(e.act, Act::Start { task: t, .. } if t == task))
    };
    let mut out: Vec<Hold> = Vec::new();
    for (step, event) in all.iter().filter_map(|s| Some((s, start(s)?))) {
        let mut next = hold(input, step, event);
        let alike =
            |h: &&mut Hold| h.locks == next.locks && h.boxes == next.boxes && h.dead == next.dead;
        match out.last_mut().filter(alike) {
            Some(last) => last.steps.append(&mut next.steps),
            None => out.push(next),
        }
    }
    out
}

fn hold(input: &Input, step: &Step, event: usize) -> Hold {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let replay = input.sound.replay();
    let mut locks = Vec::new();
    for d in job.devices.ids() {
        for l in &replay.device(d).after(Some(event)).locks {
            locks.push(Hanging {
                device: name::device(input, d),
                lock: lock(input, l.lock).to_owned(),
                owner: name::who(input, l.owner),
                key: steps::key_text(input, l.key, l.owner),
            });
        }
    }
    let boxed = |id: BoxId| {
        let on = replay.lock_box(id).after(Some(event));
        let names: Vec<String> = on.iter().map(|w| name::who(input, *w)).collect();
        let name = plan.boxes.name(id);
        (!names.is_empty()).then(|| format!("{name}: locked by {}", name::list(&names)))
    };
    let dead = |id: &PositionId| {
        *replay.secured(*id).after(Some(event)) && *replay.proved(*id).after(Some(event))
    };
    Hold {
        steps: vec![Wait {
            number: step.number,
            time: name::dated(input, step.period.from),
            what: steps::title(input, step),
        }],
        locks,
        boxes: plan.boxes.ids().filter_map(boxed).collect(),
        dead: name::places(input, &job.positions.ids().filter(dead).collect::<Vec<_>>()),
    }
}
