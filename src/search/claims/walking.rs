//! Who walks where, and how often people attend.

use crate::model::*;
use crate::search::ground::Ground;
use crate::units::Period;
use std::collections::BTreeMap;

/// How many people have a task in how many visits; in a part of a job those who attend one anyway
/// are not counted again.
pub(super) fn person_visits(g: &Ground, work: &[(PersonId, TaskId, Period)]) -> i64 {
    let there = g.attended_by(work.iter().map(|(person, _, period)| (*person, *period)));
    there.difference(&g.attended).count() as i64
}

/// Over each person's tasks that have a position: 1 when it differs from the last; else 1 when
/// both are on circuits whose ways there are more than one place apart (section 8).
pub(super) fn walking(
    g: &Ground,
    tasks: &Table<TaskId, Task>,
    work: &[(PersonId, TaskId, Period)],
) -> i64 {
    let mut by_person: BTreeMap<PersonId, Vec<(Period, TaskId)>> = BTreeMap::new();
    for (person, task, period) in work {
        by_person.entry(*person).or_default().push((*period, *task));
    }
    let mut total = 0;
    for list in by_person.values_mut() {
        list.sort_unstable();
        let placed =
            list.iter().filter_map(|(_, t)| Some((tasks[*t].position?, tasks[*t].circuit)));
        let mut last: Option<(PositionId, Option<CircuitId>)> = None;
        for (position, circuit) in placed {
            if let Some((before, other)) = last {
                let apart = || {
                    let here = way_in_row(g, position, circuit)?;
                    let there = way_in_row(g, position, other)?;
                    Some(here.abs_diff(there) > 1)
                };
                total += i64::from(before != position || apart().unwrap_or(false));
            }
            last = Some((position, circuit));
        }
    }
    total
}

/// Where a circuit's first way stands in a position's row.
fn way_in_row(g: &Ground, position: PositionId, circuit: Option<CircuitId>) -> Option<usize> {
    let circuit = circuit?;
    let row = &g.job.positions[position].row;
    let joints = g.job.joints.rows().iter().filter(|j| j.of.is_some_and(|(c, _)| c == circuit));
    joints.flat_map(|j| [j.a, j.b]).filter_map(|n| row.iter().position(|r| *r == n)).min()
}
