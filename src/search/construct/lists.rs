//! Lists of windows: in which order decisions for them are tried.

use super::Decision;
use super::first::overhead;
use super::units::{minutes_of, room};
use crate::search::ground::Ground;
use crate::work::Project;
use std::collections::BTreeMap;

/// Lists of decisions, each for the same windows, in the order in which they are tried: those that the
/// figures give too little room last; of the others one of each shape first, then a second of each,
/// since two of the same shape differ in little but the day on which they begin.
pub(super) fn by_shape(
    g: &Ground,
    project: &Project,
    lists: Vec<Vec<Decision>>,
) -> Vec<Vec<Decision>> {
    let mut met: BTreeMap<(bool, Vec<usize>), usize> = BTreeMap::new();
    let mut keyed: Vec<((bool, usize), Vec<Decision>)> = (lists.into_iter())
        .map(|list| {
            let full = too_full(g, project, &list[0]);
            let nth = met.entry((full, shape(&list[0]))).or_insert(0);
            *nth += 1;
            ((full, *nth), list)
        })
        .collect();
    keyed.sort_by_key(|(key, _)| *key);
    keyed.into_iter().map(|(_, list)| list).collect()
}

/// How many sessions lie in each of the windows.
fn shape(d: &Decision) -> Vec<usize> {
    d.windows.chunk_by(|a, b| a == b).map(<[_]>::len).collect()
}

/// Whether some window is too short for what is to be done in it, all people at work from its
/// beginning to its end.
fn too_full(g: &Ground, project: &Project, d: &Decision) -> bool {
    let people = d.people.max(1) as i64;
    let mut sessions = 0..d.windows.len();
    d.windows.chunk_by(|a, b| a == b).any(|same| {
        let mine: Vec<usize> = sessions.by_ref().take(same.len()).collect();
        let work = |i: usize| -> i64 {
            let units = d.split[i].iter().map(|u| minutes_of(g, project, *u)).sum::<i64>();
            units / people + overhead(g, project, i == 0)
        };
        let breaks = g.job.policy.break_length.0 * (same.len() as i64 - 1);
        mine.into_iter().map(work).sum::<i64>() + breaks > room(g, same[0])
    })
}
