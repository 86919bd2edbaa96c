//! Decisions in which circuits come off before the cut-in, in the same window: they wait on the new
//! board, or on a temporary supply, while the old board serves the others again.

use super::units::{allowed, minutes_of};
use super::{Decision, Late, needs_place};
use crate::model::*;
use crate::network::State;
use crate::search::ground::Ground;
use crate::search::riders::{self, Riding};
use crate::units::Minutes;
use crate::work::Project;

/// How much of the work comes before the cut-in, in twelfths, by the end of each session before it.
const EARLY_SHARES: [&[i64]; 7] = [&[6], &[8], &[4], &[9], &[10], &[4, 8], &[6, 9]];

/// No more than so many ride through a cut-in at first.
const MOST_THROUGH: usize = 4;

/// The light units come off before the cut-in, in one session or two of the same window: the old board
/// serves the others while those are connected and tested.
pub(super) fn early(
    g: &Ground,
    project: &Project,
    light_first: &[usize],
    window: WindowId,
    people: usize,
    state: &State,
) -> Vec<Decision> {
    let total: i64 = light_first.iter().map(|u| minutes_of(g, project, *u)).sum();
    let mut all = Vec::new();
    for shares in EARLY_SHARES {
        let early = shares.len();
        let mut split: Vec<Vec<usize>> = vec![Vec::new(); early + 1];
        let (mut at, mut used) = (0, 0);
        for unit in light_first {
            while at < early && used * 12 >= total * shares[at] {
                at += 1;
            }
            used += minutes_of(g, project, *unit);
            split[at].push(*unit);
        }
        if split.iter().any(Vec::is_empty) {
            continue;
        }
        for all_ride in [false, true] {
            let last = riders::choose(g, project, &split[early], state, &[], all_ride);
            if all_ride && last.is_empty() {
                continue;
            }
            let mut riding = vec![Riding::new(); early];
            riding.push(last);
            all.push(Decision {
                early,
                windows: vec![window; early + 1],
                split: split.clone(),
                riding,
                late: Vec::new(),
                people,
                offset: Minutes::ZERO,
                gate: 8,
                strip_after: false,
            });
        }
    }
    all.retain(|d| allowed(g, project, d));
    all
}

/// The most important units come off before the cut-in and ride through it: they are put on their
/// supply while the old board serves the others again. Where the new board stands beside it, light
/// ones may come off with them.
pub(super) fn through(
    g: &Ground,
    project: &Project,
    light_first: &[usize],
    window: WindowId,
    people: usize,
    state: &State,
) -> Vec<Decision> {
    let most: Vec<(usize, SupplyId)> =
        riders::choose(g, project, light_first, state, &[], true).into_iter().collect();
    let mut all = Vec::new();
    let shares: &[i64] = if needs_place(g, project) { &[0] } else { &[0, 6, 4, 8] };
    for count in (1..=most.len().min(MOST_THROUGH)).rev() {
        let mut carried = most.clone();
        carried.sort_by_key(|(u, _)| (-(riders::weight(g, project, *u) * 1000.0) as i64, *u));
        carried.truncate(count);
        let late: Vec<Late> = (carried.into_iter())
            .map(|(unit, supply)| Late { unit, supply, on: 0, off: 1 })
            .collect();
        let rides = |u: &&usize| !late.iter().any(|l| l.unit == **u);
        let others: Vec<usize> = light_first.iter().filter(rides).copied().collect();
        let total: i64 = others.iter().map(|u| minutes_of(g, project, *u)).sum();
        for share in shares {
            let mut used = 0;
            let (before, after): (Vec<usize>, Vec<usize>) = others.iter().partition(|u| {
                let here = used * 12 < total * share;
                used += minutes_of(g, project, **u);
                here
            });
            let d = Decision {
                early: 1,
                windows: vec![window; 2],
                split: vec![before, after],
                riding: vec![Riding::new(); 2],
                late: late.clone(),
                people,
                offset: Minutes::ZERO,
                gate: 8,
                strip_after: false,
            };
            if allowed(g, project, &d) {
                all.push(d);
            }
        }
    }
    all
}
