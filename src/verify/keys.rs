//! Keys (W3): each person at dead work is protected by locks that they hold themselves.

use super::breach::{Kind, Report, facts};
use super::dead::{ends, exposed};
use super::now::Now;
use super::route;
use crate::model::*;
use crate::plan::{Act, Key};

/// What W3 asks of an event before it happens.
pub(super) fn before(now: &Now, act: &Act, out: &mut Report) {
    match act {
        Act::Lock(_, device, lock, Key::Boxed(b)) if !now.boxes[b.index()].is_empty() => {
            out.add(Kind::KeyIntoLockedBox, now, facts![*device, *lock, *b]);
        }
        Act::Unlock(by, device, lock) => {
            let locks = &now.devices[device.index()].locks;
            let Some(padlock) = locks.iter().find(|l| l.lock == *lock) else { return };
            if by.who != padlock.owner {
                out.add(Kind::NotTheOwner, now, facts![*device, *lock, by.who]);
            }
            if let Key::Boxed(b) = padlock.key
                && !now.boxes[b.index()].is_empty()
            {
                out.add(Kind::KeyFromLockedBox, now, facts![*device, *lock, b]);
            }
            relied_on(now, *device, *lock, padlock.owner, out);
        }
        _ => {}
    }
}

/// A lock comes off only when no dead task of its owner relies on it.
fn relied_on(now: &Now, device: DeviceId, lock: LockId, owner: Who, out: &mut Report) {
    let Who::Person(person) = owner else { return };
    let locks = &now.devices[device.index()].locks;
    let another = locks.iter().any(|l| l.lock != lock && now.holds_lock(owner, l));
    if another || !now.site.job.devices[device].isolates {
        return;
    }
    let mine: Vec<TaskId> = now.dead_tasks().filter(|t| now.people(*t).contains(&person)).collect();
    for task in mine {
        let around = super::first_met::securing(now, &exposed(now, task));
        if around.contains(&device) {
            out.add(Kind::LockReliedOn, now, facts![device, lock, task]);
        }
    }
}

/// What W3 asks of the state after an event.
pub(super) fn after(now: &Now, act: &Act, out: &mut Report) {
    let site = now.site;
    if let Act::Make(by, joint) | Act::Break(by, joint) = act
        && now.joined
        && let Who::Person(person) = by.who
        && let Some(held) = now.held.get(&person)
        && by.task.is_some_and(|t| now.is_running(t))
    {
        for c in ends(site, *joint) {
            if held.fed(c) && !now.unsure(c) {
                let route = route::not_held(now, person, c);
                out.add(Kind::EndNotHeld, now, facts![*joint, person, site.wiring.at[c].0, route]);
            }
        }
    }
    if !(now.regrasped || now.resecured || matches!(act, Act::Start { .. })) {
        return;
    }
    let dead: Vec<TaskId> = now.dead_tasks().collect();
    for task in dead {
        let exposed = exposed(now, task);
        for person in now.people(task) {
            let Some(held) = now.held.get(person) else { continue };
            // What nobody has locked off is W1's to tell.
            if let Some(c) = exposed.iter().find(|c| held.fed(**c) && !now.unsure(**c)) {
                let route = route::not_held(now, *person, *c);
                let facts = facts![task, *person, site.wiring.at[*c].0, route];
                out.once(Kind::NotHeld, now, task.into(), facts);
            }
        }
    }
}
