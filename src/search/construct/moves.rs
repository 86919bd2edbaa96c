//! Small changes of a decision, and the search among them.

use super::after::may_strip_after;
use super::first::overhead;
use super::units::{allowed, minutes_of, ready_at};
use super::{Candidate, Consider, Decision, Late, Tried};
use crate::model::*;
use crate::network::State;
use crate::search::fit::Effort;
use crate::search::ground::Ground;
use crate::search::riders::{self, Riding};
use crate::work::Project;

/// The decision with some units moved out of a session that is too full, to the one that has
/// least to do, a later one if there is one.
pub(super) fn lighten(
    g: &Ground,
    project: &Project,
    d: &Decision,
    window: WindowId,
) -> Option<Decision> {
    let i = d.windows.iter().position(|w| *w == window)?;
    let work = |n: usize| -> i64 {
        let room = g.job.windows[d.windows[n]].period.length().0 - overhead(g, project, n == 0);
        let used: i64 = d.split[n].iter().map(|u| minutes_of(g, project, *u)).sum();
        used * 1000 / room.max(1)
    };
    let to = (0..d.windows.len()).filter(|n| *n != i).min_by_key(|n| (work(*n), *n))?;
    let mut e = d.clone();
    let mut movable: Vec<usize> = e.split[i].clone();
    movable.sort_by_key(|u| (riders::weight(g, project, *u) * 1000.0) as i64);
    let some = movable.len().div_ceil(6);
    for unit in movable.into_iter().take(some) {
        let mut f = e.clone();
        f.split[i].retain(|u| *u != unit);
        f.split[to].push(unit);
        if let Some(supply) = f.riding[i].remove(&unit) {
            f.riding[to].insert(unit, supply);
        }
        if !f.split[i].is_empty() && allowed(g, project, &f) {
            e = f;
        }
    }
    (e != *d).then_some(e)
}

/// Small changes of the best decision, as long as they help. `found`: there is a plan with nothing
/// wrong in it already, so that the brake may end this at any time.
pub(super) fn refine(
    g: &Ground,
    project: &Project,
    start: Decision,
    effort: Effort,
    found: bool,
    best: &mut Option<(Candidate, Decision)>,
    consider: &mut Consider,
) {
    let mut d = start;
    let mut tries = 0;
    // What has just been tried in vain is tried again last.
    let mut from = 0;
    loop {
        let mut better = false;
        let all = changes(g, project, &d, effort.waits);
        for nth in 0..all.len() {
            let at = (from + nth) % all.len();
            let change = all[at].clone();
            let good = best.as_ref().is_some_and(|(c, _)| c.troubles.is_empty());
            if g.watch.enough(found || good) {
                return;
            }
            tries += 1;
            if consider(change, effort, best) == (Tried::Built { better: true }) {
                better = true;
                from = if effort.waits && g.job.groups.is_empty() { at } else { 0 };
                break;
            }
            if tries >= effort.tries {
                return;
            }
        }
        match best.as_ref() {
            Some((_, next)) if better => d = next.clone(),
            _ => return,
        }
    }
}

/// The decision with none on temporary supplies, with the most important unit of each session, with
/// the two most important, and so on, as far as the supplies carry them; nothing where a unit is
/// fixed to a supply or rides to a later session.
pub(super) fn fuller(g: &Ground, project: &Project, d: &Decision) -> Vec<Decision> {
    let fixed = |p: &Pin| matches!(p.what, PinKind::RidesOn(..));
    if g.job.supplies.is_empty() || !d.late.is_empty() || g.labour.pins.iter().any(fixed) {
        return Vec::new();
    }
    let state = State::old(g.job);
    let whole: Vec<Riding> = (d.split.iter().enumerate())
        .map(|(i, units)| match i < d.early {
            true => Riding::new(),
            false => riders::choose(g, project, units, &state, &[], true),
        })
        .collect();
    let most = whole.iter().map(Riding::len).max().unwrap_or(0);
    let first = |riding: &Riding, count: usize| -> Riding {
        let mut units: Vec<(usize, SupplyId)> = riding.iter().map(|(u, s)| (*u, *s)).collect();
        let important = |u: usize| -(riders::weight(g, project, u) * 1000.0) as i64;
        units.sort_by_key(|(u, _)| (!riders::pressing(g, project, *u), important(*u), *u));
        units.into_iter().take(count).collect()
    };
    let with = |count| Decision {
        riding: whole.iter().map(|riding| first(riding, count)).collect(),
        ..d.clone()
    };
    (0..=most.min(MOST_RIDERS)).map(with).collect()
}

/// The decision with one unit less on temporary supplies, one more, or another one instead, the most
/// important first.
pub(super) fn other_riders(g: &Ground, project: &Project, d: &Decision) -> Vec<Decision> {
    let state = State::old(g.job);
    let fixed = |p: &Pin| matches!(p.what, PinKind::RidesOn(..));
    let mut all = Vec::new();
    if g.labour.pins.iter().any(fixed) {
        return all;
    }
    all.extend(others_through(g, project, d));
    for (i, riding) in d.riding.iter().enumerate() {
        let with = |change: &dyn Fn(&mut Riding)| {
            let mut e = d.clone();
            change(&mut e.riding[i]);
            e
        };
        let holds = |riding: &Riding, supply: SupplyId| {
            let on: Vec<usize> =
                riding.iter().filter(|(_, s)| **s == supply).map(|(u, _)| *u).collect();
            riders::carries(g, project, &on, supply, &state, &[])
        };
        all.extend(riding.keys().map(|unit| with(&|r: &mut Riding| _ = r.remove(unit))));
        let mut others: Vec<usize> =
            d.split[i].iter().copied().filter(|u| !riding.contains_key(u)).collect();
        others.sort_by_key(|u| (-(riders::weight(g, project, *u) * 1000.0) as i64, *u));
        for unit in others.into_iter().take(MOST_OTHERS) {
            for supply in g.job.supplies.ids().filter(|s| riders::can_ride(g, project, unit, *s)) {
                let more = with(&|r: &mut Riding| _ = r.insert(unit, supply));
                if holds(&more.riding[i], supply) {
                    all.push(more);
                }
                for (old, _) in riding.iter().filter(|(_, s)| **s == supply) {
                    let instead = with(&|r: &mut Riding| {
                        r.remove(old);
                        r.insert(unit, supply);
                    });
                    if holds(&instead.riding[i], supply) {
                        all.push(instead);
                    }
                }
            }
        }
    }
    all
}

/// The decision with one unit less that rides through the cut-in, one more, or another one instead, the
/// most important first.
fn others_through(g: &Ground, project: &Project, d: &Decision) -> Vec<Decision> {
    let mut all: Vec<Decision> = Vec::new();
    if d.early == 0 || d.late.is_empty() {
        return all;
    }
    let state = State::old(g.job);
    let less = |unit: usize| {
        let mut e = d.clone();
        e.late.retain(|l| l.unit != unit);
        e.split[d.early].push(unit);
        e
    };
    let more = |mut e: Decision, unit: usize, supply: SupplyId| {
        e.split.iter_mut().for_each(|units| units.retain(|u| *u != unit));
        e.late.push(Late { unit, supply, on: 0, off: d.early });
        let on = e.late.iter().filter(|l| l.supply == supply).map(|l| l.unit);
        let on: Vec<usize> = on.collect();
        riders::carries(g, project, &on, supply, &state, &[]).then_some(e)
    };
    all.extend(d.late.iter().map(|l| less(l.unit)));
    let mut others: Vec<usize> = d.split.iter().flatten().copied().collect();
    others.sort_by_key(|u| (-(riders::weight(g, project, *u) * 1000.0) as i64, *u));
    for unit in others.into_iter().take(MOST_OTHERS) {
        for supply in g.job.supplies.ids().filter(|s| riders::can_ride(g, project, unit, *s)) {
            all.extend(more(d.clone(), unit, supply));
            let here = d.late.iter().filter(|l| l.supply == supply);
            all.extend(here.filter_map(|l| more(less(l.unit), unit, supply)));
        }
    }
    all.retain(|e| allowed(g, project, e));
    all
}

/// No more than so many units are tried in the place of others.
const MOST_OTHERS: usize = 3;

/// With more riders than this in a session, only some of the numbers are tried.
const MOST_RIDERS: usize = 6;

/// Neighbours of a decision, the most promising first; with `waits` also those in which one person
/// attends, or the old boards are stripped out later.
pub(super) fn changes(g: &Ground, project: &Project, d: &Decision, waits: bool) -> Vec<Decision> {
    let mut all = Vec::new();
    if waits && may_strip_after(g, project) {
        if d.people > 1 {
            all.push(Decision { people: d.people - 1, strip_after: true, ..d.clone() });
        }
        all.push(Decision { strip_after: !d.strip_after, ..d.clone() });
    }
    for people in [d.people.saturating_sub(1), d.people + 1] {
        let enough = if waits && g.job.groups.is_empty() { 1 } else { 2 };
        if people >= enough && people <= g.job.people.len() {
            all.push(Decision { people, ..d.clone() });
        }
    }
    for gate in [10usize, 8, 5, 0] {
        if gate != d.gate && d.riding.iter().any(|r| !r.is_empty()) {
            all.push(Decision { gate, ..d.clone() });
        }
    }
    for (i, riding) in d.riding.iter().enumerate() {
        for unit in riding.keys() {
            let mut e = d.clone();
            e.riding[i].remove(unit);
            all.push(e);
        }
    }
    all.extend(others_through(g, project, d));
    let mut units: Vec<(usize, usize)> = Vec::new();
    for (i, split) in d.split.iter().enumerate() {
        units.extend(split.iter().map(|u| (i, *u)));
    }
    units.sort_by_key(|(_, u)| -(riders::weight(g, project, *u) * 1000.0) as i64);
    for (i, unit) in units {
        for j in 0..d.split.len() {
            let window = g.job.windows[d.windows[j]].period;
            if j == i || ready_at(g, project, unit) > window.to {
                continue;
            }
            let mut e = d.clone();
            e.split[i].retain(|u| *u != unit);
            e.split[j].push(unit);
            if let Some(supply) = e.riding[i].remove(&unit).filter(|_| j >= e.early) {
                e.riding[j].insert(unit, supply);
            }
            // A session without work is none.
            if e.split[i].is_empty() && e.late.is_empty() {
                e.split.remove(i);
                e.riding.remove(i);
                e.windows.remove(i);
                e.early -= usize::from(i < e.early);
            }
            all.push(e);
        }
    }
    for i in 0..d.windows.len() {
        for w in g.job.windows.ids() {
            let order = |x: WindowId| g.job.windows[x].period;
            let after = i == 0 || order(d.windows[i - 1]) <= order(w);
            let before = d.windows.get(i + 1).is_none_or(|n| order(w) <= order(*n));
            if w != d.windows[i] && after && before {
                let mut e = d.clone();
                e.windows[i] = w;
                all.push(e);
            }
        }
    }
    all.retain(|e| allowed(g, project, e));
    all
}
