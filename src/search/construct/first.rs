//! Whole decisions to start from: windows, units dealt out to them, who rides meanwhile.

use super::before::{early, through};
use super::link::link_carries;
use super::units::{minutes_of, pinned, ready_at, room};
use super::{Decision, Late, lead_first, needs_place};
use crate::model::*;
use crate::network::State;
use crate::search::acts;
use crate::search::ground::Ground;
use crate::search::pins;
use crate::search::riders::{self, Riding};
use crate::search::timing::Timed;
use crate::units::Minutes;
use crate::work::Project;

/// How often a board may be dead in one window.
const MOST_A_WINDOW: usize = 4;

/// A spread of whole decisions to start from.
///
/// No session lies in a window that ends after `until`.
pub(super) fn first_decisions(
    g: &Ground,
    before: &[Timed],
    project: &Project,
    until: Minutes,
) -> Vec<Decision> {
    let mut all = Vec::new();
    let unused = |w: &WindowId| g.labour.pins.iter().any(|p| p.what == PinKind::WindowUnused(*w));
    let busy = before.iter().filter(|t| t.session.window.is_some()).map(Timed::finish).max();
    let mut windows: Vec<WindowId> = g.job.windows.ids().filter(|w| !unused(w)).collect();
    windows.sort_by_key(|w| g.job.windows[*w].period);
    let state = acts::script(g, before).state;
    let circuits: Vec<CircuitId> = project.units.iter().flatten().copied().collect();
    windows.retain(|w| {
        let period = g.job.windows[*w].period;
        let from = busy.unwrap_or(g.job.span.from);
        from < period.to && period.to <= until && g.window_open(*w, &circuits)
    });
    let needs_one = needs_place(g, project);
    let has = |stage| project.tails.iter().any(|t| g.labour.tails[*t].stage == stage);
    let only_one = needs_one || (has(TailsStage::CutIn) && !has(TailsStage::LinkOn));
    let beside =
        project.new.iter().all(|b| g.labour.boards[b.index()].role == BoardRole::NewBeside);
    let cut_in_waits = beside && has(TailsStage::CutIn);
    let most_visits = g.labour.pins.iter().find_map(|p| match p.what {
        PinKind::AtMostVisits(n) => Some(n as usize),
        _ => None,
    });
    let late = if only_one { late_riders(g, project, &windows, &state) } else { Vec::new() };
    let most = if only_one { 1 } else { 6 }.min(windows.len()).min(most_visits.unwrap_or(6));
    let orders = orders(g, project);
    let locks: Vec<DeviceId> = Vec::new();
    let enough = if g.job.policy.alone.is_some() { 1 } else { 2 };
    let longest = windows.iter().map(|w| g.job.windows[*w].period.length()).max();
    let long =
        |w: &WindowId| longest.is_some_and(|l| g.job.windows[*w].period.length().0 * 4 >= l.0 * 3);
    let mut lists = vec![windows.clone()];
    let long: Vec<WindowId> = windows.iter().copied().filter(long).collect();
    if long.len() < windows.len() {
        lists.insert(0, long);
    }
    let team = pins::team(g, project, lead_first(g)).len();
    for people in (enough..=team).rev() {
        for (k, windows) in (1..=most).flat_map(|k| lists.iter().map(move |l| (k, l))) {
            for s in 0..(windows.len() + 1).saturating_sub(k).min(4) {
                let mut chosen: Vec<WindowId> = windows[s..s + k].to_vec();
                let prompt = |u: &usize| !late.iter().any(|(l, _)| l == u);
                let latest =
                    (0..project.units.len()).filter(prompt).map(|u| ready_at(g, project, u)).max();
                let last_ok = |w: &WindowId| {
                    latest.is_none_or(|l| g.job.windows[*w].period.to > l + Minutes(60))
                };
                if !last_ok(&chosen[k - 1]) {
                    let Some(later) = windows[s + k..].iter().find(|w| last_ok(w)) else {
                        continue;
                    };
                    chosen[k - 1] = *later;
                }
                let most_often = if only_one { 1 } else { MOST_A_WINDOW };
                let repeated = (1..=most_often).map(|often| {
                    let again = chosen.iter().flat_map(|w| std::iter::repeat_n(*w, often));
                    again.collect::<Vec<WindowId>>()
                });
                for chosen in repeated {
                    let k = chosen.len();
                    if k == 1 && cut_in_waits && late.is_empty() {
                        all.extend(early(g, project, &orders[0], chosen[0], people, &state));
                    }
                    if k == 1 && (needs_one || cut_in_waits) && late.is_empty() {
                        all.extend(through(g, project, &orders[0], chosen[0], people, &state));
                    }
                    for (n, order) in orders.iter().enumerate() {
                        if k == 1 && n > 0 {
                            break;
                        }
                        let order: Vec<usize> = order.iter().copied().filter(prompt).collect();
                        let Some(mut split) = split(g, project, &order, &chosen) else { continue };
                        let mut chosen = chosen.clone();
                        let Some(late) = wait(g, project, &late, windows, &mut chosen, &mut split)
                        else {
                            continue;
                        };
                        if k > 1 && !only_one {
                            all.extend(across(g, project, &order, &chosen, people, &state));
                        }
                        for all_ride in [false, true] {
                            let riding: Vec<Riding> = split
                                .iter()
                                .map(|units| {
                                    riders::choose(g, project, units, &state, &locks, all_ride)
                                })
                                .collect();
                            if all_ride && riding.iter().all(Riding::is_empty) {
                                continue;
                            }
                            all.push(Decision {
                                early: 0,
                                windows: chosen.clone(),
                                split: split.clone(),
                                riding,
                                late: late.clone(),
                                people,
                                offset: Minutes::ZERO,
                                gate: 8,
                                strip_after: false,
                            });
                        }
                    }
                }
            }
        }
    }
    all.dedup();
    all
}

/// Units that an only session cannot wait for, each with a supply that may carry it meanwhile.
pub(super) fn late_riders(
    g: &Ground,
    project: &Project,
    windows: &[WindowId],
    state: &State,
) -> Vec<(usize, SupplyId)> {
    let Some(first) = windows.first().map(|w| g.job.windows[*w].period) else { return Vec::new() };
    let mut all: Vec<(usize, SupplyId)> = Vec::new();
    for unit in 0..project.units.len() {
        if ready_at(g, project, unit) < first.to {
            continue;
        }
        let fits = |s: &SupplyId| {
            let mut on: Vec<usize> = all.iter().filter(|(_, x)| x == s).map(|(u, _)| *u).collect();
            on.push(unit);
            riders::can_ride(g, project, unit, *s)
                && riders::carries(g, project, &on, *s, state, &[])
        };
        if let Some(supply) = g.job.supplies.ids().find(fits) {
            all.push((unit, supply));
        }
    }
    all
}

/// What must not be out for as long as a session takes rides from the first session to the last.
pub(super) fn across(
    g: &Ground,
    project: &Project,
    order: &[usize],
    windows: &[WindowId],
    people: usize,
    state: &State,
) -> Option<Decision> {
    let pressing = riders::choose(g, project, order, state, &[], false);
    if pressing.is_empty() {
        return None;
    }
    let rest: Vec<usize> = order.iter().copied().filter(|u| !pressing.contains_key(u)).collect();
    let split = split(g, project, &rest, windows)?;
    let off = windows.len() - 1;
    let late = pressing.into_iter().map(|(unit, supply)| Late { unit, supply, on: 0, off });
    Some(Decision {
        early: 0,
        windows: windows.to_vec(),
        riding: vec![Riding::new(); split.len()],
        split,
        late: late.collect(),
        people,
        offset: Minutes::ZERO,
        gate: 8,
        strip_after: false,
    })
}

/// Gives late units a session of their own, after the first: the earliest window in which all
/// that they wait for is there. `None` if there is no such window.
pub(super) fn wait(
    g: &Ground,
    project: &Project,
    late: &[(usize, SupplyId)],
    windows: &[WindowId],
    chosen: &mut Vec<WindowId>,
    split: &mut Vec<Vec<usize>>,
) -> Option<Vec<Late>> {
    if late.is_empty() {
        return Some(Vec::new());
    }
    let ready = late.iter().map(|(u, _)| ready_at(g, project, *u)).max()?;
    let last = g.job.windows[*chosen.last()?].period.to;
    let window = windows.iter().find(|w| {
        let period = g.job.windows[**w].period;
        period.from >= last && period.from >= ready
    })?;
    chosen.push(*window);
    split.push(Vec::new());
    let off = chosen.len() - 1;
    Some(late.iter().map(|(u, s)| Late { unit: *u, supply: *s, on: 0, off }).collect())
}

/// Orders in which units may be dealt out to sessions: as they stand, light first, heavy first.
pub(super) fn orders(g: &Ground, project: &Project) -> Vec<Vec<usize>> {
    let plain: Vec<usize> = (0..project.units.len()).collect();
    let key = |u: &usize| {
        let weight = riders::weight(g, project, *u) * 1000.0;
        (weight / minutes_of(g, project, *u).max(1) as f64) as i64
    };
    let mut light = plain.clone();
    light.sort_by_key(|u| (key(u), *u));
    let mut heavy = plain.clone();
    heavy.sort_by_key(|u| (-key(u), *u));
    vec![light, plain, heavy]
}

/// Deals units out to sessions in proportion to the time that each has, none before what it waits
/// for is there. `None` if one never is.
pub(super) fn split(
    g: &Ground,
    project: &Project,
    order: &[usize],
    windows: &[WindowId],
) -> Option<Vec<Vec<usize>>> {
    let k = windows.len();
    let total: i64 = order.iter().map(|u| minutes_of(g, project, *u)).sum();
    let room: Vec<i64> = (windows.iter().enumerate())
        .map(|(i, w)| (room(g, *w) - overhead(g, project, i == 0)).max(1))
        .collect();
    let all: i64 = room.iter().sum();
    let share: Vec<i64> = room.iter().map(|r| total * r / all + 1).collect();
    let mut split: Vec<Vec<usize>> = vec![Vec::new(); k];
    let mut used = vec![0i64; k];
    // Those that have to wait are dealt first, so that the others fill what is left.
    let mut order = order.to_vec();
    order.sort_by_key(|u| ready_at(g, project, *u) < g.job.windows[windows[0]].period.from);
    for unit in order {
        let ready = ready_at(g, project, unit);
        let allowed: Vec<usize> = (0..k)
            .filter(|i| ready < g.job.windows[windows[*i]].period.to - Minutes(60))
            .filter(|i| pinned(g, project, unit, windows[*i]) != Some(false))
            .collect();
        let place =
            allowed.iter().copied().find(|i| used[*i] < share[*i]).or(allowed.last().copied())?;
        used[place] += minutes_of(g, project, unit);
        split[place].push(unit);
    }
    // Empty sessions but the last, which strips out, are no sessions.
    if split.iter().any(Vec::is_empty) && k > 1 {
        return None;
    }
    link_carries(g, project, &mut split, windows).then_some(split)
}

/// Minutes of a session in which no circuit is moved: isolation, proof, energising, and in the
/// first one the tails.
pub(super) fn overhead(g: &Ground, project: &Project, first: bool) -> i64 {
    let boards = project.boards().map(|b| &g.labour.boards[b.index()]);
    let each: i64 = boards.map(|b| (b.isolate.planned + b.energise_again.planned).0).sum();
    let stage = |t: &&usize| {
        matches!(
            g.labour.tails[**t].stage,
            TailsStage::CutIn | TailsStage::LinkOn | TailsStage::SupplyEnd
        )
    };
    let tails: i64 =
        project.tails.iter().filter(stage).map(|t| g.labour.tails[*t].effort.planned.0).sum();
    let tests: i64 =
        project.new.iter().map(|b| g.labour.boards[b.index()].test_board.planned.0).sum();
    30 + each + if first { tails + tests } else { 0 }
}
